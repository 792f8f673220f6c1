//! Yields of several years on one map: where the field gives more than its mean, and where that is so every year. Method:
//! docs/methods/harvest.md.

use super::surface::Cell;
use super::zones::Zones;
use crate::coordinates::PlaneXy;
use crate::findings::{Fault, Outcome};
use crate::read::{Geometry, Layer, Polygon, Value};
use serde::Serialize;

/// Above this coefficient of variation between years land counts as unstable, % (S. Blackmore, "The interpretation of trends from
/// multiple yield maps", Computers and Electronics in Agriculture 26:37, 2000; the number from memory).
const UNSTABLE_PERCENT: f64 = 30.0;
/// Places along a square's edge at which an earlier map is looked up.
const PLACES: usize = 4;

/// What a square is over the years.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Trend {
    /// At or above the mean of the field, and alike from year to year.
    HighStable,
    /// Below it, and alike from year to year.
    LowStable,
    /// Not alike from year to year.
    Unstable,
}

impl Trend {
    /// Its class in the layer.
    pub fn word(self) -> &'static str {
        match self {
            Self::HighStable => "high_stable",
            Self::LowStable => "low_stable",
            Self::Unstable => "unstable",
        }
    }
}

/// A square over the years.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Stacked {
    /// South-west corner in the field's plane, m.
    #[serde(skip)]
    pub corner: [f64; 2],
    /// Mean over the years of its yield in per cent of the year's mean.
    pub percent: f64,
    /// Coefficient of variation of that between the years, %.
    pub variation_percent: f64,
    /// Years.
    pub years: usize,
    /// What that makes it.
    pub class: Trend,
}

/// A map of an earlier year: polygons with a yield each, in any unit.
pub struct Earlier {
    polygons: Vec<Polygon<PlaneXy>>,
    values: Vec<f64>,
}

impl Earlier {
    /// From a layer in the field's plane.
    ///
    /// # Errors
    /// No such attribute; a shape that is no polygon; a yield that is no number from 0.
    pub fn of(layer: &Layer<PlaneXy>, attribute: &str) -> Outcome<Self> {
        let at = layer.attributes.iter().position(|own| own == attribute);
        let at = at.ok_or_else(|| {
            Fault::input(
                "harvest.year",
                layer.place(),
                format!("The attribute '{attribute}' is not there"),
                format!("one of: {}", layer.attributes.join(", ")),
                "Name it with --year-attribute.",
            )
        })?;
        let mut found = Self {
            polygons: Vec::new(),
            values: Vec::new(),
        };
        for feature in &layer.features {
            let bad = |what: String| {
                Fault::input(
                    "harvest.year",
                    layer.place().feature(&feature.name),
                    what,
                    "polygons with a yield each, as yield.geojson of an earlier harvest has them",
                    "Name such a file with --year, or correct it in a GIS.",
                )
            };
            let value = match feature.values.get(at) {
                None | Some(Value::Missing) => continue,
                Some(Value::Integer(number)) => *number as f64,
                Some(Value::Number(number)) => *number,
                Some(other) => return Err(bad(format!("'{attribute}' is '{other}'"))),
            };
            if !(value.is_finite() && value >= 0.0) {
                return Err(bad(format!("'{attribute}' is {value}")));
            }
            let Geometry::Polygons(polygons) = &feature.geometry else {
                return Err(bad("A feature is no polygon".to_owned()));
            };
            for polygon in polygons {
                found.polygons.push(polygon.clone());
                found.values.push(value);
            }
        }
        Ok(found)
    }
}

/// The squares of this year that another year knows too. Each year is set against its own mean over the squares that all years know.
///
/// # Errors
/// No square that all years know.
pub fn stacked(cells: &[Cell], edge_m: f64, earlier: &[Earlier]) -> Outcome<Vec<Stacked>> {
    let zones: Vec<Zones> = earlier
        .iter()
        .map(|year| Zones::of((0..).zip(&year.polygons).collect()))
        .collect();
    let looked_up = |cell: &Cell, year: usize| {
        let places = (0..PLACES * PLACES).filter_map(|nth| {
            let part = |at: usize| edge_m * (at as f64 + 0.5) / PLACES as f64;
            let [x, y] = cell.corner;
            let at = zones[year].at([x + part(nth % PLACES), y + part(nth / PLACES)])?;
            earlier[year].values.get(at).copied()
        });
        let found: Vec<f64> = places.collect();
        // A square that lies beside the other year's land for the most part is not known there.
        (2 * found.len() >= PLACES * PLACES).then(|| found.iter().sum::<f64>() / found.len() as f64)
    };
    let rows: Vec<Vec<Option<f64>>> = cells
        .iter()
        .map(|cell| {
            let others = (0..earlier.len()).map(|year| looked_up(cell, year));
            std::iter::once(Some(cell.kg_per_ha))
                .chain(others)
                .collect()
        })
        .collect();
    let common: Vec<&Vec<Option<f64>>> = rows
        .iter()
        .filter(|row| row.iter().all(Option::is_some))
        .collect();
    let mean = |year: usize| {
        let own = common.iter().filter_map(|row| row[year]);
        own.sum::<f64>() / common.len() as f64
    };
    let means: Vec<f64> = (0..=earlier.len()).map(mean).collect();
    if common.is_empty() || means.iter().any(|mean| *mean <= 0.0) {
        return Err(Fault::input(
            "harvest.years",
            crate::findings::Place::nowhere(),
            "No square of the yield map has a yield in all years",
            "yield maps of the same field",
            "Check that the files of --year are of this field.",
        ));
    }
    let one = |(cell, row): (&Cell, &Vec<Option<f64>>)| {
        let percents: Vec<f64> = row
            .iter()
            .zip(&means)
            .filter_map(|(value, mean)| value.map(|value| 100.0 * value / mean))
            .collect();
        let n = percents.len() as f64;
        if percents.len() < 2 {
            return None;
        }
        let percent = percents.iter().sum::<f64>() / n;
        let squares: f64 = percents.iter().map(|own| (own - percent).powi(2)).sum();
        let variation_percent = 100.0 * (squares / (n - 1.0)).sqrt() / percent.max(1e-9);
        let class = match (variation_percent > UNSTABLE_PERCENT, percent >= 100.0) {
            (true, _) => Trend::Unstable,
            (false, true) => Trend::HighStable,
            (false, false) => Trend::LowStable,
        };
        Some(Stacked {
            corner: cell.corner,
            percent,
            variation_percent,
            years: percents.len(),
            class,
        })
    };
    Ok(cells.iter().zip(&rows).filter_map(one).collect())
}

/// Land of each class: its word, squares.
pub fn shares(stacked: &[Stacked]) -> Vec<(Trend, usize)> {
    let all = [Trend::HighStable, Trend::LowStable, Trend::Unstable];
    let count = |class: Trend| stacked.iter().filter(|own| own.class == class).count();
    all.map(|class| (class, count(class))).to_vec()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn cell(x: f64, kg_per_ha: f64) -> Cell {
        Cell {
            corner: [x, 0.0],
            kg_per_ha,
            plus_minus_kg_per_ha: None,
            readings: 9,
        }
    }

    /// Squares beside each other as another year's map has them, moved by some metres: each year has its own plane.
    fn earlier(values: &[f64], moved_m: f64) -> Earlier {
        let square = |nth: usize| {
            let [west, east] = [nth, nth + 1].map(|at| 20.0 * at as f64 + moved_m);
            let ring = [
                [west, 0.0],
                [east, 0.0],
                [east, 20.0],
                [west, 20.0],
                [west, 0.0],
            ];
            Polygon {
                exterior: ring.map(PlaneXy::of_pair).to_vec(),
                holes: Vec::new(),
            }
        };
        Earlier {
            polygons: (0..values.len()).map(square).collect(),
            values: values.to_vec(),
        }
    }

    #[test]
    fn each_year_counts_against_its_own_mean() {
        // Means 8 t/ha this year, 4 t/ha of rape the year before: 125 and 75 % in both years.
        let cells = [cell(0.0, 10_000.0), cell(20.0, 6_000.0)];
        let found = stacked(&cells, 20.0, &[earlier(&[5_000.0, 3_000.0], 0.0)]).unwrap();
        assert_eq!(found.len(), 2);
        assert!((found[0].percent - 125.0).abs() < 1e-9, "{found:?}");
        assert!(found[0].variation_percent.abs() < 1e-9, "{found:?}");
        let classes: Vec<Trend> = found.iter().map(|own| own.class).collect();
        assert_eq!(classes, [Trend::HighStable, Trend::LowStable]);
        // Changed round: 125 and 75 % have a mean of 100 and a deviation of 35.36.
        let found = stacked(&cells, 20.0, &[earlier(&[3_000.0, 5_000.0], 0.0)]).unwrap();
        assert!(
            (found[0].variation_percent - 35.355).abs() < 0.001,
            "{found:?}"
        );
        assert!(found.iter().all(|own| own.class == Trend::Unstable));
    }

    #[test]
    fn squares_of_another_plane_are_looked_up_by_place() {
        let cells = [cell(0.0, 8_000.0), cell(20.0, 8_000.0), cell(60.0, 8_000.0)];
        let found = stacked(&cells, 20.0, &[earlier(&[4_000.0, 4_000.0], 5.0)]).unwrap();
        // The third square lies beyond the other year's land.
        assert_eq!(found.len(), 2);
        assert!(found.iter().all(|own| (own.percent - 100.0).abs() < 1e-9));
        assert!(stacked(&cells[2..], 20.0, &[earlier(&[4_000.0], 0.0)]).is_err());
    }
}
