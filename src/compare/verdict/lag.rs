//! Rates that change after the border of the map, or before it.

use super::samples::{SAME_KG_PER_HA, SETTLES_S, Sample, Samples, median};
use super::{Case, Told, Trouble};

/// So many steps are needed, in all; and some of them on either heading, for a map that lies aside is late one way and early
/// the other.
const STEPS: usize = 8;
const STEPS_EACH_WAY: usize = 3;
/// From here on it is a lag, s.
const LAG_S: f64 = 1.0;
/// Rates hold for so long before a step that counts, s.
const HOLDS_S: f64 = 5.0;

struct Step {
    heading: [f64; 2],
    late_s: f64,
    at: [f64; 2],
}

pub(super) fn judge(case: &Case, samples: &Samples) -> Vec<Told> {
    let products = 0..case.plan.products.len();
    products
        .filter_map(|product| of_product(case, samples, product))
        .collect()
}

fn of_product(case: &Case, samples: &Samples, product: usize) -> Option<Told> {
    let steps = steps(samples, product);
    let first = steps.first()?;
    let forth =
        |own: &&Step| own.heading[0] * first.heading[0] + own.heading[1] * first.heading[1] > 0.0;
    let late = |way: bool| -> Option<f64> {
        let own = steps.iter().filter(|own| forth(own) == way);
        let mut seconds: Vec<(f64, f64)> = own.map(|own| (own.late_s, 1.0)).collect();
        (seconds.len() >= STEPS_EACH_WAY)
            .then(|| median(&mut seconds))
            .flatten()
    };
    if steps.len() < STEPS {
        return None;
    }
    let (there, back) = (late(true)?, late(false)?);
    let mut all: Vec<(f64, f64)> = steps.iter().map(|own| (own.late_s, 1.0)).collect();
    let whole = median(&mut all)?;
    let same_sign = there.signum() == back.signum();
    if whole.abs() <= LAG_S || !same_sign || there.abs().min(back.abs()) <= LAG_S {
        return None;
    }
    let (trouble, when) = match whole > 0.0 {
        true => (Trouble::RatesLag, "after"),
        false => (Trouble::RatesEarly, "before"),
    };
    let found = format!(
        "Rates of '{}' change {:.0} s {when} the border of the map, on both headings (middle of {} steps).",
        case.id(product),
        whole.abs(),
        steps.len()
    );
    let told = Told::of(trouble, found)
        .product(case, product)
        .at(case, first.at);
    Some(Told {
        seconds: Some(whole),
        ..told
    })
}

/// Steps of the map between two rates that each hold long enough, with the time to half of the way between them.
fn steps(samples: &Samples, product: usize) -> Vec<Step> {
    let all = samples.all.as_slice();
    let wanted = |own: &Sample| own.rates(product).map_or(0.0, |(wanted, _)| wanted);
    let sown = |own: &Sample| own.rates(product).map_or(0.0, |(_, sown)| sown);
    let mut found = Vec::new();
    for (at, pair) in all.windows(2).enumerate() {
        let [before, after] = pair else { continue };
        let (from, to) = (wanted(before), wanted(after));
        let settled = before.settled_s.get(product).is_some_and(|s| *s >= HOLDS_S);
        if before.pass != after.pass
            || !settled
            || (to - from).abs() < 2.0 * SAME_KG_PER_HA
            || from == 0.0
            || to == 0.0
        {
            continue;
        }
        let half = (from + to) / 2.0;
        let is_over = |own: &Sample| (sown(own) - half) * (to - from) > 0.0;
        let in_pass = |own: &&Sample| own.pass == after.pass;
        let step_s = after.start_s;
        // The wanted rate holds for as long as the window after it.
        let ahead = all.get(at + 1..).unwrap_or_default();
        let ahead: Vec<&Sample> = ahead
            .iter()
            .take_while(in_pass)
            .take_while(|own| wanted(own) == to && own.start_s - step_s <= SETTLES_S)
            .collect();
        if ahead
            .last()
            .is_none_or(|last| last.start_s - step_s < SETTLES_S - 2.0)
        {
            continue;
        }
        let behind = all.get(..=at).unwrap_or_default().iter().rev();
        let early = behind
            .take_while(in_pass)
            .take_while(|own| {
                wanted(own) == from && step_s - own.start_s <= HOLDS_S && is_over(own)
            })
            .last();
        let late_s = match early {
            Some(first) => Some(first.start_s - step_s),
            None => {
                let first = ahead.iter().find(|own| is_over(own));
                first.map(|own| own.start_s - step_s)
            }
        };
        if let Some(late_s) = late_s {
            found.push(Step {
                heading: after.heading,
                late_s,
                at: after.at,
            });
        }
    }
    found
}
