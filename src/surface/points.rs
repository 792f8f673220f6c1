//! Zones from sample points: a surface through their values over the field, sorted into classes.

use super::classes::short;
use super::ground;
use super::kriging::Kriging;
use super::variogram::{Variogram, fit, lags};
use super::zones::{Grid, zones};
use crate::findings::{Fault, Finding, Outcome};
use crate::job::{SurfaceMethod, Values, VariogramModel, ZoneLayer};
use crate::read::{Geometry, Layer, Value, Xy};
use std::collections::BTreeMap;

/// Points beyond this many are too many for one kriging system.
const MOST_KRIGED: usize = 600;
/// Most points times cells.
const MOST_WORK: u64 = 20_000_000_000;
/// Points that inverse distance weighs at each place.
const NEIGHBOURS: usize = 12;
/// Cell of the surface where the job names none, metres.
const CELL_M: f64 = 10.0;
/// Points whose left-out error is looked at; of more, every so many.
const MOST_LEFT_OUT: usize = 2_000;

/// Values at places in the field's plane.
struct Samples {
    points: Vec<Xy>,
    values: Vec<f64>,
}

impl Samples {
    fn parts(&self) -> (&[Xy], &[f64]) {
        (&self.points, &self.values)
    }
}

/// Makes the polygon layer of a point layer (in the field's plane, like `boundary`): one feature for
/// each connected piece of a class, in the field's plane.
///
/// # Errors
/// No such column, values that are no numbers, fewer than three places with a value; more points
/// than a method takes; values that do not fit the classes asked for.
pub fn point_zones(
    points: &Layer,
    boundary: &Layer,
    layer: &ZoneLayer,
    job: &Values,
    method: SurfaceMethod,
) -> Outcome<Layer> {
    let what = format!("layer '{}'", layer.name);
    let mut findings = points.findings.clone();
    let samples = samples(points, job, &what, &mut findings)?;
    let cell = job.surface_cell_m.unwrap_or(CELL_M);
    let (ground, corner) = ground::on_plane(boundary, cell).ok_or_else(|| {
        Fault::input(
            "surface.too_many_cells",
            points.place(),
            format!("cells of {cell} m over the field are too many"),
            "up to 25 million cells over one field",
            "set a larger surface_cell_m",
        )
    })?;
    let cells = ground.near.iter().filter(|near| **near).count() as u64;
    if cells * samples.points.len() as u64 > MOST_WORK {
        return Err(Fault::input(
            "surface.too_much_work",
            points.place(),
            format!("{} points and {cells} cells", samples.points.len()),
            format!("points times cells up to {MOST_WORK}"),
            "set a larger surface_cell_m, or average the points in your GIS",
        ));
    }
    let surface = Surface::of(&samples, job, method, points)?;
    findings.push(surface.said(&samples, points, &what));
    let columns = ground.window.columns as usize;
    let values: Vec<f64> = ground
        .near
        .iter()
        .enumerate()
        .map(|(at, near)| {
            let (column, row) = ((at % columns) as f64 + 0.5, (at / columns) as f64 + 0.5);
            match near {
                true => surface.at(
                    &samples,
                    [corner[0] + column * cell, corner[1] - row * cell],
                ),
                false => f64::NAN,
            }
        })
        .collect();
    let grid = Grid {
        ground: &ground,
        values: &values,
        at: &|[column, row]| [corner[0] + column * cell, corner[1] - row * cell],
        place: points.place(),
        what: &what,
    };
    let (features, found) = zones(&grid, job)?;
    findings.extend(found);
    Ok(Layer {
        features,
        findings,
        attributes: vec![Values::CLASS_ATTRIBUTE.to_owned(), "pixels".to_owned()],
        ..points.clone()
    })
}

/// Reads the values, drops outliers by the job's rules and averages values at one place.
fn samples(
    layer: &Layer,
    job: &Values,
    what: &str,
    findings: &mut Vec<Finding>,
) -> Outcome<Samples> {
    let column = job.column.as_deref().unwrap_or("");
    let at = layer.attributes.iter().position(|name| name == column);
    let at = at.ok_or_else(|| {
        Fault::input(
            "surface.no_column",
            layer.place(),
            format!("{what} has no column '{column}'"),
            format!("one of: {}", layer.attributes.join(", ")),
            "set `column` in `values` to one of them",
        )
    })?;
    let mut all: Vec<(Xy, f64)> = Vec::new();
    let mut missing = 0_usize;
    for feature in &layer.features {
        let value = match feature.values.get(at) {
            Some(Value::Integer(whole)) => *whole as f64,
            Some(Value::Number(number)) if number.is_finite() => *number,
            Some(Value::Missing | Value::Number(_)) | None => {
                missing += 1;
                continue;
            }
            Some(other) => {
                return Err(Fault::input(
                    "surface.no_number",
                    layer.place().feature(&feature.name),
                    format!("the value '{other}' in '{column}' is no number"),
                    "numbers, or nothing where there is no value",
                    "correct it; write what is below a laboratory's limit as a number you agree with",
                ));
            }
        };
        if let Geometry::Points(points) = &feature.geometry {
            all.extend(points.iter().map(|&point| (point, value)));
        }
    }
    let read = all.len();
    let (low, high) = (
        job.lowest.unwrap_or(f64::NEG_INFINITY),
        job.highest.unwrap_or(f64::INFINITY),
    );
    all.retain(|(_, value)| (low..=high).contains(value));
    let out_of_range = read - all.len();
    let mut far_off = 0;
    if let Some(most) = job.most_deviations {
        let middle = median(all.iter().map(|(_, value)| *value));
        // 1.4826 makes the median deviation of a normal distribution its standard deviation.
        let deviation = 1.4826 * median(all.iter().map(|(_, value)| (value - middle).abs()));
        let before = all.len();
        if deviation > 0.0 {
            all.retain(|(_, value)| (value - middle).abs() <= most * deviation);
        }
        far_off = before - all.len();
    }
    // One place, to a centimetre, one value.
    let mut places: BTreeMap<[i64; 2], (Xy, f64, f64)> = BTreeMap::new();
    for ([x, y], value) in &all {
        let key = [(x * 100.0).round() as i64, (y * 100.0).round() as i64];
        let entry = places.entry(key).or_insert(([*x, *y], 0.0, 0.0));
        entry.1 += value;
        entry.2 += 1.0;
    }
    if places.len() < 3 {
        return Err(Fault::input(
            "surface.few_points",
            layer.place(),
            format!(
                "{what} has {} places with a value on or near the field",
                places.len()
            ),
            "at least 3 places within 50 m of the field",
            "check the CRS, `lowest` and `highest`, or use one rate for the field",
        ));
    }
    findings.push(Finding::note(
        "surface.points",
        layer.place(),
        format!(
            "{what}: {read} values of '{column}' on or near the field; left out: {out_of_range} outside of lowest and highest, {far_off} too far from the median; {missing} without a value; {} shared a place with another and were averaged; {} places remain",
            all.len() - places.len(),
            places.len()
        ),
    ));
    Ok(Samples {
        points: places.values().map(|(point, ..)| *point).collect(),
        values: places.values().map(|(_, sum, count)| sum / count).collect(),
    })
}

/// The middle value, or the mean of the two in the middle.
fn median(values: impl Iterator<Item = f64>) -> f64 {
    let mut all: Vec<f64> = values.collect();
    all.sort_unstable_by(f64::total_cmp);
    let half = all.len() / 2;
    match (all.len() % 2, all.get(half), all.get(half.wrapping_sub(1))) {
        (0, Some(above), Some(below)) => (above + below) / 2.0,
        (_, Some(middle), _) => *middle,
        _ => 0.0,
    }
}

/// A way to get a value anywhere.
enum Surface<'a> {
    Nearest,
    InverseDistance(f64),
    Kriging(Variogram, Kriging<'a>),
}

impl<'a> Surface<'a> {
    fn of(
        samples: &'a Samples,
        job: &Values,
        method: SurfaceMethod,
        layer: &Layer,
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
            SurfaceMethod::Nearest => Ok(Self::Nearest),
            SurfaceMethod::InverseDistance => Ok(Self::InverseDistance(job.power.unwrap_or(2.0))),
            SurfaceMethod::Kriging if samples.points.len() > MOST_KRIGED => Err(fault(
                format!(
                    "{} places are too many to be kriged at once",
                    samples.points.len()
                ),
                "use surface = \"inverse_distance\", which suits dense points, or average them first",
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

    fn at(&self, samples: &Samples, place: Xy) -> f64 {
        match self {
            Self::Nearest => weighed(samples.parts(), place, 1, 0.0, None),
            Self::InverseDistance(power) => {
                weighed(samples.parts(), place, NEIGHBOURS, *power, None)
            }
            Self::Kriging(_, kriging) => kriging.at(place),
        }
    }

    /// Differences of points from what the others give at their place.
    fn left_out(&self, samples: &Samples) -> Vec<(usize, f64)> {
        let step = samples.points.len().div_ceil(MOST_LEFT_OUT).max(1);
        (0..samples.points.len())
            .step_by(step)
            .map(|n| {
                let (place, value) = (samples.points[n], samples.values[n]);
                let error = match self {
                    Self::Nearest => value - weighed(samples.parts(), place, 1, 0.0, Some(n)),
                    Self::InverseDistance(power) => {
                        value - weighed(samples.parts(), place, NEIGHBOURS, *power, Some(n))
                    }
                    Self::Kriging(_, kriging) => kriging.left_out_error[n],
                };
                (n, error)
            })
            .collect()
    }

    /// How good it is, against the plain mean.
    fn said(&self, samples: &Samples, layer: &Layer, what: &str) -> Finding {
        let count = samples.values.len() as f64;
        let mean = samples.values.iter().sum::<f64>() / count;
        let (mut own, mut plain) = (0.0, 0.0);
        let errors = self.left_out(samples);
        for (n, error) in &errors {
            own += error * error;
            // The mean of all others differs from a value by this much.
            plain += ((samples.values[*n] - mean) * count / (count - 1.0)).powi(2);
        }
        let root = |sum: f64| (sum / errors.len() as f64).sqrt();
        let (own, plain) = (root(own), root(plain));
        let how = match self {
            Self::Nearest => "the nearest point".to_owned(),
            Self::InverseDistance(power) => {
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

/// The mean of the nearest points, weighed with distance to the power; a point at the place itself
/// decides alone. `but` is left out.
pub(super) fn weighed(
    (points, values): (&[Xy], &[f64]),
    [x, y]: Xy,
    nearest: usize,
    power: f64,
    but: Option<usize>,
) -> f64 {
    // The nearest so far, nearest first; of equals the one listed first.
    let mut near: Vec<(f64, usize)> = Vec::with_capacity(nearest + 1);
    for (n, [px, py]) in points.iter().enumerate() {
        let square = (px - x).powi(2) + (py - y).powi(2);
        let full = near.len() == nearest;
        if but == Some(n) || full && near.last().is_some_and(|(most, _)| square >= *most) {
            continue;
        }
        let at = near.partition_point(|(other, _)| *other <= square);
        near.insert(at, (square, n));
        near.truncate(nearest);
    }
    if let Some(&(square, n)) = near.first()
        && square == 0.0
    {
        return values[n];
    }
    let (mut sum, mut weights) = (0.0, 0.0);
    for (square, n) in near {
        let weight = square.powf(-power / 2.0);
        sum += weight * values[n];
        weights += weight;
    }
    sum / weights
}
