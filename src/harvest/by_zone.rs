//! Map against flat in each zone: what going by the map gained there. Method: docs/methods/trials.md.

use super::answer::{Effect, Money, Worth};
use super::clean::Cleaned;
use super::plots::{Plots, holds};
use crate::coordinates::PlaneXy;
use crate::findings::number;
use crate::read::Polygon;
use crate::trial::paired;
use serde::Serialize;
use std::collections::BTreeMap;

/// Half of what one reading mixes (30 m: Knight and Pettitt 2003): so near to a border a reading is not of one zone, m.
const FROM_BORDER_M: f64 = 15.0;

/// A pair of plots as it was laid out, outlines in the field's plane.
pub struct LaidPair {
    /// Its block.
    pub block: String,
    /// The plot by the map.
    pub map: Vec<PlaneXy>,
    /// The flat one beside it.
    pub flat: Vec<PlaneXy>,
}

/// What the map gained in a zone: land where it has the same rates.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct ZoneGain {
    /// What the map has there of each product that is tried, kg/ha.
    pub map_kg_per_ha: Vec<f64>,
    /// The flat rates.
    pub flat_kg_per_ha: Vec<f64>,
    /// Pairs with readings in it on both sides.
    pub pairs: usize,
    /// Readings.
    pub readings: usize,
    /// Gain of the map over the flat rate; none with fewer than two pairs.
    pub effect: Option<Effect>,
    /// Whether its interval leaves 0 out.
    pub shown: bool,
    /// What it is worth at the expected price, costs taken off; none without a price.
    pub worth: Option<Worth>,
    /// Whether it can be one zone with the next in this list: of neither a gain is shown, and their gains are not shown to differ.
    pub joins_next: bool,
}

/// Gains by zone, from the lowest rate of the map to the highest. `rates` gives what the map has at a place of the products that are
/// tried; `names` are the treatments by the map and flat, `flat` its rates.
pub fn by_zone(
    cleaned: &Cleaned,
    plots: &Plots,
    pairs: &[LaidPair],
    names: [&str; 2],
    flat: &[f64],
    rates: &dyn Fn([f64; 2]) -> Option<Vec<f64>>,
    money: &Money,
) -> Vec<ZoneGain> {
    let places: Vec<Sides> = pairs.iter().map(Sides::of).collect();
    // Per zone, by the text of its rates, and block: readings by the map and flat.
    let mut zones: BTreeMap<Vec<String>, Zone> = BTreeMap::new();
    for (plot, members) in plots.of.iter().zip(&plots.readings) {
        let side = names.iter().position(|name| *name == plot.treatment);
        let sides = places.iter().find(|own| own.block == plot.block);
        let (Some(side), Some(sides)) = (side, sides) else {
            continue;
        };
        for &at in members {
            let Some(own) = sides.zone(cleaned.readings[at].xy, rates) else {
                continue;
            };
            let key = own.iter().map(|rate| number(*rate)).collect();
            let zone = zones.entry(key).or_default();
            zone.rates = own;
            zone.blocks.entry(&plot.block).or_default()[side].push(at);
        }
    }
    let mut found: Vec<(ZoneGain, BTreeMap<&str, f64>)> = zones
        .into_values()
        .map(|zone| zone.gain(cleaned, names, flat, money))
        .collect();
    found.sort_by(|(a, _), (b, _)| {
        let rates = a.map_kg_per_ha.iter().zip(&b.map_kg_per_ha);
        let unlike = rates
            .map(|(a, b)| a.total_cmp(b))
            .find(|order| order.is_ne());
        unlike.unwrap_or(std::cmp::Ordering::Equal)
    });
    for nth in 1..found.len() {
        let joins = {
            let [(low, of_low), (high, of_high)] = [&found[nth - 1], &found[nth]];
            // Both were seen, nothing was shown of either, and they do not differ.
            low.effect.is_some()
                && high.effect.is_some()
                && !low.shown
                && !high.shown
                && differ(of_low, of_high) == Some(false)
        };
        found[nth - 1].0.joins_next = joins;
    }
    found.into_iter().map(|(gain, _)| gain).collect()
}

/// Whether gains of two zones are shown to differ, by the pairs that run through both; none with fewer than two.
fn differ(of_low: &BTreeMap<&str, f64>, of_high: &BTreeMap<&str, f64>) -> Option<bool> {
    let both = of_low
        .iter()
        .filter_map(|(block, low)| Some(of_high.get(block)? - low));
    let differences: Vec<f64> = both.collect();
    paired(&differences).map(|own| own.difference.is_shown())
}

/// Readings of a zone.
#[derive(Default)]
struct Zone<'a> {
    rates: Vec<f64>,
    blocks: BTreeMap<&'a str, [Vec<usize>; 2]>,
}

impl<'a> Zone<'a> {
    /// The gain, and that of each pair.
    fn gain(
        self,
        cleaned: &Cleaned,
        names: [&str; 2],
        flat: &[f64],
        money: &Money,
    ) -> (ZoneGain, BTreeMap<&'a str, f64>) {
        let mut readings = 0;
        let mut differences = BTreeMap::new();
        for (block, sides) in self.blocks {
            let [map, flat] = [0, 1].map(|side: usize| cleaned.mean(sides[side].iter().copied()));
            if let (Some(map), Some(flat)) = (map, flat) {
                readings += sides[0].len() + sides[1].len();
                differences.insert(block, map - flat);
            }
        }
        let all: Vec<f64> = differences.values().copied().collect();
        let found = paired(&all).map(|own| own.difference);
        let effect = found.map(Effect::from);
        let cost = money.cost(names[0]) - money.cost(names[1]);
        let worth = effect.zip(money.per_t).map(|(effect, [_, expected, _])| {
            let net = (expected - money.drying_per_t) / 1_000.0;
            let [per_ha, from, to] =
                [effect.kg_per_ha, effect.from, effect.to].map(|kg| kg * net - cost);
            Worth {
                price_per_t: expected,
                per_ha,
                from,
                to,
                best_rate: None,
            }
        });
        let gain = ZoneGain {
            map_kg_per_ha: self.rates,
            flat_kg_per_ha: flat.to_vec(),
            pairs: all.len(),
            readings,
            effect,
            shown: found.is_some_and(|own| own.is_shown()),
            worth,
            joins_next: false,
        };
        (gain, differences)
    }
}

/// Two plots beside each other: the zone of a place in the flat one is that of the map beside it.
struct Sides {
    block: String,
    flat: Polygon<PlaneXy>,
    /// From the flat plot to the one by the map, across the bouts, m.
    across: [f64; 2],
    along: [f64; 2],
}

impl Sides {
    fn of(pair: &LaidPair) -> Self {
        let edges = pair.map.iter().zip(pair.map.iter().skip(1));
        let longest = edges
            .map(|(a, b)| [b.x - a.x, b.y - a.y])
            .max_by(|a, b| a[0].hypot(a[1]).total_cmp(&b[0].hypot(b[1])))
            .unwrap_or([0.0, 1.0]);
        let length = longest[0].hypot(longest[1]).max(1e-9);
        let along = longest.map(|part| part / length);
        let middle = |ring: &[PlaneXy]| {
            let [low, high] = ring
                .iter()
                .fold([[f64::MAX; 2], [f64::MIN; 2]], |[low, high], p| {
                    [
                        [low[0].min(p.x), low[1].min(p.y)],
                        [high[0].max(p.x), high[1].max(p.y)],
                    ]
                });
            [(low[0] + high[0]) / 2.0, (low[1] + high[1]) / 2.0]
        };
        let [of_map, of_flat] = [middle(&pair.map), middle(&pair.flat)];
        let way = [of_map[0] - of_flat[0], of_map[1] - of_flat[1]];
        let forth = way[0] * along[0] + way[1] * along[1];
        Self {
            block: pair.block.clone(),
            flat: Polygon {
                exterior: pair.flat.clone(),
                holes: Vec::new(),
            },
            across: [way[0] - forth * along[0], way[1] - forth * along[1]],
            along,
        }
    }

    /// What the map has at a place or beside it, if the same before and behind it.
    fn zone(&self, xy: [f64; 2], rates: &dyn Fn([f64; 2]) -> Option<Vec<f64>>) -> Option<Vec<f64>> {
        let here = match holds(&self.flat, xy) {
            true => [xy[0] + self.across[0], xy[1] + self.across[1]],
            false => xy,
        };
        let own = rates(here)?;
        let same = |forth: f64| {
            let at = [
                here[0] + forth * self.along[0],
                here[1] + forth * self.along[1],
            ];
            // Beyond the end of the land is no other zone.
            rates(at).is_none_or(|other| other == own)
        };
        (same(FROM_BORDER_M) && same(-FROM_BORDER_M)).then_some(own)
    }
}
