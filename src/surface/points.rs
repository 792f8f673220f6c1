//! Surfaces through values at places.

use super::classes::short;
use super::kriging::Kriging;
use super::samples::Samples;
use super::variogram::{Variogram, fit, lags};
use crate::coordinates::PlaneXy;
use crate::findings::{Fault, Finding, Outcome};
use crate::job::{SurfaceMethod, Values, VariogramModel};
use crate::read::Layer;
use rstar::RTree;
use rstar::primitives::GeomWithData;

/// Points beyond this many are too many for one kriging system.
const MOST_KRIGED: usize = 600;
/// Points that inverse distance weighs at each place.
const NEIGHBOURS: usize = 12;
/// Points whose left-out error is looked at; of more, every so many.
const MOST_LEFT_OUT: usize = 2_000;

/// A way to get a value anywhere.
pub(super) enum Surface<'a> {
    Nearest(Near<'a>),
    InverseDistance(Near<'a>, f64),
    Smoothed(Near<'a>, f64),
    Kriging(Variogram, Kriging<'a>),
}

impl<'a> Surface<'a> {
    /// # Errors
    /// More points than kriging takes; no variogram that fits.
    pub(super) fn of(
        samples: &'a Samples,
        job: &Values,
        method: SurfaceMethod,
        layer: &Layer<PlaneXy>,
    ) -> Outcome<Self> {
        let fault = |found: String, next: &str| {
            Fault::input(
                "surface.no_kriging",
                layer.place(),
                found,
                format!("3 to {MOST_KRIGED} places with values that differ"),
                next,
            )
        };
        match method {
            SurfaceMethod::Nearest => Ok(Self::Nearest(Near::of(samples))),
            SurfaceMethod::InverseDistance => Ok(Self::InverseDistance(
                Near::of(samples),
                job.power.unwrap_or(2.0),
            )),
            SurfaceMethod::Smoothed => Ok(Self::Smoothed(
                Near::of(samples),
                job.smoothing_m.unwrap_or(0.0),
            )),
            SurfaceMethod::Kriging if samples.points.len() > MOST_KRIGED => Err(fault(
                format!(
                    "{} places are too many to be kriged at once",
                    samples.points.len()
                ),
                "use surface = \"smoothed\" or \"inverse_distance\", which suit dense points",
            )),
            SurfaceMethod::Kriging => {
                let lags = lags(&samples.points, &samples.values);
                let models = match job.variogram {
                    Some(model) => vec![model],
                    None => vec![
                        VariogramModel::Spherical,
                        VariogramModel::Exponential,
                        VariogramModel::Gaussian,
                    ],
                };
                models
                    .into_iter()
                    .filter_map(|model| fit(&lags, model))
                    .reduce(|best, next| if next.1 < best.1 { next } else { best })
                    .and_then(|(variogram, _)| {
                        let kriging = Kriging::of(&samples.points, &samples.values, variogram)?;
                        Some(Self::Kriging(variogram, kriging))
                    })
                    .ok_or_else(|| {
                        fault(
                            "no variogram can be fitted to these points, or its system has no solution".to_owned(),
                            "use surface = \"inverse_distance\", or another `variogram`",
                        )
                    })
            }
        }
    }

    /// The value at a place; NaN where no point is near enough.
    pub(super) fn at(&self, place: [f64; 2]) -> f64 {
        match self {
            Self::Kriging(_, kriging) => kriging.at(place),
            other => other.without(place, None),
        }
    }

    /// The value at a place by all points but one.
    fn without(&self, place: [f64; 2], but: Option<usize>) -> f64 {
        match self {
            Self::Nearest(near) => near.weighed(place, 1, 0.0, but),
            Self::InverseDistance(near, power) => near.weighed(place, NEIGHBOURS, *power, but),
            Self::Smoothed(near, radius) => near.smoothed(place, *radius, but),
            Self::Kriging(_, kriging) => kriging.at(place),
        }
    }

    /// Differences of points from what the others give at their place. Points without others near
    /// enough have none.
    fn left_out(&self, samples: &Samples) -> Vec<(usize, f64)> {
        let step = samples.points.len().div_ceil(MOST_LEFT_OUT).max(1);
        (0..samples.points.len())
            .step_by(step)
            .map(|n| {
                let error = match self {
                    Self::Kriging(_, kriging) => kriging.left_out_error[n],
                    other => samples.values[n] - other.without(samples.points[n], Some(n)),
                };
                (n, error)
            })
            .filter(|(_, error)| error.is_finite())
            .collect()
    }

    /// How good it is, against the plain mean.
    pub(super) fn said(&self, samples: &Samples, layer: &Layer<PlaneXy>, what: &str) -> Finding {
        let count = samples.values.len() as f64;
        let mean = samples.values.iter().sum::<f64>() / count;
        let (mut own, mut plain) = (0.0, 0.0);
        let errors = self.left_out(samples);
        for (n, error) in &errors {
            own += error * error;
            // The mean of all others differs from a value by this much.
            plain += ((samples.values[*n] - mean) * count / (count - 1.0)).powi(2);
        }
        let root = |sum: f64| (sum / (errors.len() as f64).max(1.0)).sqrt();
        let (own, plain) = (root(own), root(plain));
        let how = match self {
            Self::Nearest(_) => "the nearest point".to_owned(),
            Self::Smoothed(_, radius) => format!("the mean of the points within {radius} m"),
            Self::InverseDistance(_, power) => {
                format!("inverse distance (power {power}, {NEIGHBOURS} points)")
            }
            Self::Kriging(v, _) => format!(
                "ordinary kriging ({} variogram: nugget {}, sill {}, range {} m)",
                v.model.word(),
                short(v.nugget),
                short(v.nugget + v.partial_sill),
                short(v.range_m)
            ),
        };
        let errors = format!(
            "each point predicted from the others is off by {} (root mean square), the plain mean by {}",
            short(own),
            short(plain)
        );
        if own < plain {
            let share = 100.0 * (1.0 - (own / plain).powi(2));
            Finding::note(
                "surface.fit",
                layer.place(),
                format!(
                    "surface of {what} by {how}: {errors}; it explains {share:.0} % of the variance between points"
                ),
            )
        } else {
            Finding::warning(
                "surface.explains_nothing",
                layer.place(),
                format!(
                    "surface of {what} by {how}: {errors}. It explains nothing: zones from it are no better than one rate for the whole field"
                ),
            )
        }
    }
}

/// Points that can be asked for their neighbours.
pub(super) struct Near<'a> {
    tree: RTree<GeomWithData<[f64; 2], usize>>,
    values: &'a [f64],
}

impl<'a> Near<'a> {
    pub(super) fn of(samples: &'a Samples) -> Self {
        let points = samples.points.iter().enumerate();
        Self {
            tree: RTree::bulk_load(points.map(|(n, &at)| GeomWithData::new(at, n)).collect()),
            values: &samples.values,
        }
    }

    /// The mean of the nearest points, weighed with distance to the power; a point at the place itself
    /// decides alone. `but` is left out; of points as far away the one listed first counts.
    pub(super) fn weighed(
        &self,
        place: [f64; 2],
        nearest: usize,
        power: f64,
        but: Option<usize>,
    ) -> f64 {
        let mut near: Vec<(f64, usize)> = Vec::with_capacity(nearest + 1);
        for (point, square) in self.tree.nearest_neighbor_iter_with_distance_2(&place) {
            let full = near.len() >= nearest;
            if full && near.last().is_some_and(|(farthest, _)| square > *farthest) {
                break;
            }
            if but != Some(point.data) {
                near.push((square, point.data));
            }
        }
        near.sort_unstable_by(|a, b| a.0.total_cmp(&b.0).then(a.1.cmp(&b.1)));
        near.truncate(nearest);
        if let Some(&(square, n)) = near.first()
            && square == 0.0
        {
            return self.values[n];
        }
        let (mut sum, mut weights) = (0.0, 0.0);
        for (square, n) in near {
            let weight = square.powf(-power / 2.0);
            sum += weight * self.values[n];
            weights += weight;
        }
        sum / weights
    }

    /// The mean of the points within `radius`, weighed with (1 - (distance / radius)^2)^2, the biweight
    /// of J. W. Tukey; NaN where there is none. `but` is left out.
    pub(super) fn smoothed(&self, place: [f64; 2], radius: f64, but: Option<usize>) -> f64 {
        let mut near: Vec<(usize, f64)> = self
            .tree
            .locate_within_distance(place, radius * radius)
            .filter(|point| but != Some(point.data))
            .map(|point| {
                let [x, y] = point.geom();
                let square = (x - place[0]).powi(2) + (y - place[1]).powi(2);
                (
                    point.data,
                    (1.0 - square / (radius * radius)).max(0.0).powi(2),
                )
            })
            .collect();
        // The order of a tree is its own affair; a sum's order is not.
        near.sort_unstable_by_key(|(n, _)| *n);
        let (mut sum, mut weights) = (0.0, 0.0);
        for (n, weight) in near {
            sum += weight * self.values[n];
            weights += weight;
        }
        sum / weights
    }
}
