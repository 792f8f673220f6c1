//! The colours of a map, rate by rate, for programs that take them from a file: the same as in the report.

use super::attributes::balance_columns;
use super::product_names::product_names;
use super::terminal_shapefiles::rate;
use crate::map::{Grid, MapZone, Scale};
use crate::plan::{BalanceMap, Plan};

/// Land that gets none of a product, `#rrggbb`, and how much of the picture below it covers, of 255: a grey that lets it through.
pub(super) const NOTHING: (&str, u8) = ("#808080", 96);
/// The same of land that gets some.
pub(super) const COVERS: u8 = 255;
/// Lines between zones.
pub(super) const LINE: &str = "#303030";

/// How one column, or band, is shown.
pub(super) struct Style {
    /// For people: what is shown.
    pub name: String,
    /// Column of the map zones.
    pub column: String,
    /// Each rate once, in ascending order.
    pub classes: Vec<Class>,
}

/// A rate with its colour.
pub(super) struct Class {
    /// In kg/ha, as the file holds it.
    pub value: f64,
    /// In the unit of the job's pages.
    pub label: String,
    /// `#rrggbb`.
    pub colour: String,
    /// How much of the picture below it covers, of 255.
    pub covers: u8,
}

/// Of each product on the map zones, in job order.
pub(super) fn of_products(plan: &Plan) -> Vec<Style> {
    let each = 0..plan.job.products.len();
    each.map(|nth| of_zones(plan, nth)).collect()
}

fn of_zones(plan: &Plan, nth: usize) -> Style {
    let rates = rates_of(&plan.maps.rate.zones, nth);
    of_product(plan, nth, rates.map(|rate| (rate, rate)))
}

/// Of a product on the metric grid, which holds rates as float32.
pub(super) fn of_cells(plan: &Plan, nth: usize) -> Style {
    let grid: &Grid = &plan.maps.rate.metric;
    let rates = grid.kg_per_ha.sets().iter();
    let rates = rates.filter_map(move |set| set.get(nth).copied());
    let rates = rates.filter(|rate| !rate.is_nan());
    of_product(plan, nth, rates.map(|rate| (rate, f64::from(rate as f32))))
}

/// `rates`: what is sown, and that as the file holds it.
fn of_product(plan: &Plan, nth: usize, rates: impl Iterator<Item = (f64, f64)>) -> Style {
    let names = product_names(&plan.job);
    let product = plan.job.products.get(nth);
    let totals = plan.tally.planned.products.get(nth);
    let [low, high] = totals.map_or([0.0; 2], |of| [of.lowest_kg_per_ha, of.highest_kg_per_ha]);
    Style {
        name: product.map_or(String::new(), |of| of.name.clone()),
        column: names.get(nth).map_or(String::new(), |of| of.column.clone()),
        classes: classes(plan, Scale::of_product(nth, low, high), rates),
    }
}

/// Of each balance on its map, in the order of the tally.
pub(super) fn of_balances(plan: &Plan, map: &BalanceMap) -> Vec<Style> {
    let balances = plan
        .tally
        .planned
        .balances
        .iter()
        .zip(balance_columns(plan));
    let balances = balances.enumerate().map(|(nth, (balance, column))| {
        let scale = Scale::of_balance(balance.lowest_kg_per_ha, balance.highest_kg_per_ha);
        let rates = rates_of(&map.zones, nth).map(|rate| (rate, rate));
        Style {
            name: balance.name.clone(),
            column,
            classes: classes(plan, scale, rates),
        }
    });
    balances.collect()
}

fn rates_of(zones: &[MapZone], nth: usize) -> impl Iterator<Item = f64> {
    let rates = zones.iter().map(move |zone| zone.kg_per_ha.get(nth));
    rates.flatten().copied()
}

fn classes(plan: &Plan, scale: Scale, rates: impl Iterator<Item = (f64, f64)>) -> Vec<Class> {
    let mut rates: Vec<(f64, f64)> = rates.collect();
    rates.sort_by(|a, b| a.1.total_cmp(&b.1));
    rates.dedup_by(|a, b| a.1.to_bits() == b.1.to_bits());
    let class = |(sown, value): (f64, f64)| {
        let (colour, covers) = match sown > 0.0 {
            true => (scale.colour(sown), COVERS),
            false => (NOTHING.0.to_owned(), NOTHING.1),
        };
        Class {
            value,
            label: rate(&plan.job, sown),
            colour,
            covers,
        }
    };
    rates.into_iter().map(class).collect()
}

/// A text as XML may hold it, between marks of quotation too.
pub(super) fn in_xml(text: &str) -> String {
    let legal: String = text.chars().filter(|c| !c.is_control()).collect();
    quick_xml::escape::escape(legal).into_owned()
}
