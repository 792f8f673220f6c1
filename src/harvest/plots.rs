//! Plots of a trial: which readings lie in each, and what each gave.

use super::clean::Cleaned;
use super::covered::{Common, CutShort, Place, Run, runs};
use super::readings::Readings;
use super::zones::Zones;
use crate::coordinates::PlaneXy;
use crate::findings::{Fault, Outcome};
use crate::read::{Geometry, Layer, Polygon};
use serde::Serialize;
use std::collections::BTreeMap;

/// One plot.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Plot {
    /// What was tried on it.
    pub treatment: String,
    /// Its block, replicate or pair; empty without.
    pub block: String,
    /// Of a trial of rates with a log of the drill: the mean rate that it got.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub rate: Option<f64>,
    /// Mean yield at the basis, kg/ha.
    pub kg_per_ha: f64,
    /// Readings that count, without both ends.
    pub readings: usize,
    /// Middle of those readings in the field's plane, m.
    #[serde(skip)]
    pub middle: [f64; 2],
}

/// The plots with their readings.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Plots {
    /// Plots that have readings, in the order of treatment and block.
    pub of: Vec<Plot>,
    /// Numbers of the readings of each.
    pub readings: Vec<Vec<usize>>,
    /// Plots without a reading that counts, by treatment and block.
    pub empty: Vec<[String; 2]>,
    /// Plots of the plan that were cut over a part of their length only.
    pub short: Vec<CutShort>,
    /// Outlines of plots that were drawn, in the field's plane.
    pub outlines: Vec<Vec<PlaneXy>>,
}

/// Plots by the treatment and block that the readings themselves carry.
pub fn from_columns(cleaned: &Cleaned, readings: &Readings, ends_m: f64) -> Plots {
    let name = |names: &[String], at: u16| names.get(usize::from(at)).cloned();
    let of = |at: usize| {
        let reading = &cleaned.readings[at];
        let treatment = name(&readings.treatments, reading.treatment)?;
        Some((
            treatment,
            name(&readings.blocks, reading.block).unwrap_or_default(),
            0,
        ))
    };
    let runs = runs(cleaned, &of, ends_m);
    collected(cleaned, &runs, Vec::new(), ends_m, &|_, _| true)
}

/// Plots by polygons in the field's plane, with the attributes that say treatment and block. A reading in two plots lies in the first.
///
/// # Errors
/// An attribute that is not there; a shape that is no polygon; a plot without a treatment.
pub fn from_polygons(
    cleaned: &Cleaned,
    layer: &Layer<PlaneXy>,
    treatment: &str,
    block: Option<&str>,
    ends_m: f64,
) -> Outcome<Plots> {
    let column = |name: &str| {
        layer
            .attributes
            .iter()
            .position(|own| own == name)
            .ok_or_else(|| {
                let allowed = format!("one of: {}", layer.attributes.join(", "));
                bad(
                    layer,
                    None,
                    format!("The attribute '{name}' is not there"),
                    &allowed,
                )
            })
    };
    let treatment_at = column(treatment)?;
    let block_at = block.map(column).transpose()?;
    let mut drawn: Vec<(Place, Polygon<PlaneXy>)> = Vec::new();
    for (nth, feature) in layer.features.iter().enumerate() {
        let Geometry::Polygons(polygons) = &feature.geometry else {
            return Err(bad(
                layer,
                Some(&feature.name),
                "A plot is no polygon".to_owned(),
                "polygons, one or more per plot",
            ));
        };
        let text = |at: usize| {
            feature
                .values
                .get(at)
                .map(|value| value.to_string().trim().to_owned())
                .unwrap_or_default()
        };
        let own = (
            text(treatment_at),
            block_at.map(text).unwrap_or_default(),
            nth,
        );
        if own.0.is_empty() {
            let found = format!("The attribute '{treatment}' of a plot is empty");
            return Err(bad(
                layer,
                Some(&feature.name),
                found,
                "what was tried on the plot: a rate or a name",
            ));
        }
        drawn.extend(
            polygons
                .iter()
                .map(|polygon| (own.clone(), polygon.clone())),
        );
    }
    Ok(of_drawn(cleaned, drawn, ends_m, false))
}

/// A plot that was laid out: what is tried on it, its block, and where the middle of the header may go, in the field's plane.
pub struct LaidPlot {
    /// What is tried on it.
    pub treatment: String,
    /// Its block.
    pub block: String,
    /// The rate that it got by a log of the drill, where one is known.
    pub rate: Option<f64>,
    /// Where the middle of a swath that lies in it may be.
    pub ground: Polygon<PlaneXy>,
}

/// Plots that were laid out in the map.
pub fn from_plan(cleaned: &Cleaned, plots: Vec<LaidPlot>, ends_m: f64) -> Plots {
    let rates: BTreeMap<[String; 2], f64> = plots
        .iter()
        .filter_map(|plot| Some(([plot.treatment.clone(), plot.block.clone()], plot.rate?)))
        .collect();
    let drawn = plots.into_iter().enumerate();
    let drawn = drawn.map(|(nth, plot)| ((plot.treatment, plot.block, nth), plot.ground));
    let mut plots = of_drawn(cleaned, drawn.collect(), ends_m, true);
    for plot in &mut plots.of {
        let key = [plot.treatment.clone(), plot.block.clone()];
        plot.rate = rates.get(&key).copied();
    }
    plots
}

/// Plots by their outlines; if they were laid out along the bouts, those of a block count over the stretch that all of them were cut on.
fn of_drawn(
    cleaned: &Cleaned,
    drawn: Vec<(Place, Polygon<PlaneXy>)>,
    ends_m: f64,
    laid_out: bool,
) -> Plots {
    let polygons = drawn.iter().map(|(_, polygon)| (0, polygon));
    let tree = Zones::of(polygons.collect());
    let of = |at: usize| {
        tree.at(cleaned.readings[at].xy)
            .map(|at| drawn[at].0.clone())
    };
    let all = drawn
        .iter()
        .map(|((treatment, block, _), _)| [treatment.clone(), block.clone()]);
    let runs = runs(cleaned, &of, ends_m);
    let common = laid_out.then(|| Common::of(cleaned, &runs, &drawn, ends_m));
    let keeps = |nth: usize, at: [f64; 2]| match &common {
        Some(common) => common.holds(nth, at),
        None => true,
    };
    let mut plots = collected(cleaned, &runs, all.collect(), ends_m, &keeps);
    plots.short = common.map(|common| common.short).unwrap_or_default();
    plots.outlines = drawn
        .into_iter()
        .map(|(_, polygon)| polygon.exterior)
        .collect();
    plots
}

/// Whether a point lies in a polygon (crossings of a line to the east).
pub(super) fn holds(polygon: &Polygon<PlaneXy>, [x, y]: [f64; 2]) -> bool {
    let crossings = |ring: &[PlaneXy]| {
        let edges = ring.iter().zip(ring.iter().cycle().skip(1));
        edges
            .filter(|(a, b)| {
                (a.y > y) != (b.y > y) && x < a.x + (y - a.y) / (b.y - a.y) * (b.x - a.x)
            })
            .count()
    };
    let rings = std::iter::once(&polygon.exterior).chain(&polygon.holes);
    rings.map(|ring| crossings(ring)).sum::<usize>() % 2 == 1
}

/// Readings by plot. Of each swath through a plot so many metres at both ends are left out (what a reading mixes), and what `keeps` does not
/// keep.
fn collected(
    cleaned: &Cleaned,
    runs: &[Run],
    all: Vec<[String; 2]>,
    ends_m: f64,
    keeps: &dyn Fn(usize, [f64; 2]) -> bool,
) -> Plots {
    let mut by_plot: BTreeMap<[String; 2], Vec<usize>> =
        all.into_iter().map(|own| (own, Vec::new())).collect();
    for run in runs {
        let (treatment, block, nth) = &run.place;
        let plot = by_plot
            .entry([treatment.clone(), block.clone()])
            .or_default();
        let counts =
            |at: &usize| cleaned.taken[*at].is_none() && keeps(*nth, cleaned.readings[*at].xy);
        plot.extend(run.inner(ends_m).filter(counts));
    }
    let mut plots = Plots::default();
    for ([treatment, block], members) in by_plot {
        let Some(kg_per_ha) = cleaned.mean(members.iter().copied()) else {
            plots.empty.push([treatment, block]);
            continue;
        };
        let n = members.len() as f64;
        let middle = [0, 1].map(|axis| {
            members
                .iter()
                .map(|&at| cleaned.readings[at].xy[axis])
                .sum::<f64>()
                / n
        });
        plots.of.push(Plot {
            treatment,
            block,
            rate: None,
            kg_per_ha,
            readings: members.len(),
            middle,
        });
        plots.readings.push(members);
    }
    plots
}

fn bad(layer: &Layer<PlaneXy>, feature: Option<&str>, found: String, allowed: &str) -> Box<Fault> {
    let place = match feature {
        Some(feature) => layer.place().feature(feature),
        None => layer.place(),
    };
    Fault::input(
        "harvest.plots",
        place,
        found,
        allowed,
        "Correct the plots in a GIS, or the options that name their attributes.",
    )
}
