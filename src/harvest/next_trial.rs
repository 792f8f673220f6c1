//! What to try next year, as part of a job. Method: docs/methods/trials.md.

use super::answer::{Answer, Response};
use super::by_zone::ZoneGain;
use crate::findings::number;
use std::fmt::Write as _;

/// How many rates are tried: a curve that bends needs three, and one more to be held against it.
const RATES: usize = 4;
/// The least that two rates of a block differ by, as the layout asks; common practice, no source.
const LEAST_APART: f64 = 0.05;
/// How far apart rates round the best one are put, of it.
const APART: f64 = 0.06;

/// How the text for next year's job begins, by which an older one is known.
pub const NEXT_TRIAL: &str = "# What 'twinsow harvest' proposes";

/// What of the trial that was answered goes on.
pub struct Before<'a> {
    /// Its name.
    pub name: &'a str,
    /// Ids of the products that it tried.
    pub products: &'a [String],
    /// Width of the header, m.
    pub header_width_m: f64,
}

/// Rates of a product for next year's trial.
#[derive(Debug, Clone, PartialEq)]
struct Rates {
    product: usize,
    kg_per_ha: Vec<f64>,
    why: String,
}

/// The table `[[trial]]` for next year's job, with the reasons as comments; none where nothing is to be tried.
pub fn next_trial(before: &Before, answer: &Answer, zones: &[ZoneGain]) -> Option<String> {
    let rates = match &answer.response {
        Some(response) => of_curve(answer, response)?,
        None => of_zones(zones)?,
    };
    let product = before.products.get(rates.product)?;
    let text = |text: &str| toml::Value::String(text.to_owned()).to_string();
    let numbers: Vec<String> = rates.kg_per_ha.iter().map(|own| number(*own)).collect();
    let mut toml = format!(
        "{NEXT_TRIAL} to try next year. Put it into next year's job beside [drive], and plan it: limits of the\n# job and the label hold in strips too. A proposal, not advice.\n",
    );
    for line in reasons(zones) {
        let _ = writeln!(toml, "# {line}");
    }
    let _ = writeln!(toml, "# {}", rates.why);
    let _ = write!(
        toml,
        "[[trial]]\nname = {}\ndesign = \"rates\"\nproduct = {}\nrates_kg_per_ha = [{}]\nheader_width_m = {}\n",
        text(&format!("rates after {}", before.name)),
        text(product),
        numbers.join(", "),
        number(before.header_width_m)
    );
    Some(toml)
}

/// What was shown in each zone, and which may be one, in a sentence each.
pub fn reasons(zones: &[ZoneGain]) -> Vec<String> {
    let name = |zone: &ZoneGain| {
        let rates: Vec<String> = zone.map_kg_per_ha.iter().map(|own| number(*own)).collect();
        format!("{} kg/ha", rates.join(" and "))
    };
    let mut told = Vec::new();
    for zone in zones {
        let said = match (zone.effect, zone.shown) {
            (None, _) => "fewer than two pairs ran through it: nothing is known.".to_owned(),
            (Some(effect), true) if effect.kg_per_ha > 0.0 => {
                "the map gained there: keep its rate.".to_owned()
            }
            (Some(_), true) => "the map lost there: take the flat rate.".to_owned(),
            (Some(_), false) => "not shown.".to_owned(),
        };
        told.push(format!("Where the map has {}: {said}", name(zone)));
    }
    // Runs of zones that join.
    let mut nth = 0;
    while nth < zones.len() {
        let run = zones[nth..]
            .iter()
            .take_while(|zone| zone.joins_next)
            .count();
        if run > 0 {
            let names: Vec<String> = zones[nth..=nth + run].iter().map(name).collect();
            told.push(format!(
                "Make one zone of {}: of none of them a gain was shown, and neighbours were not shown to differ.",
                names.join(", ")
            ));
        }
        nth += run + 1;
    }
    told
}

/// From half the span below the lowest rate of map and flat to half of it above the highest, of the product whose rates differ most.
fn of_zones(zones: &[ZoneGain]) -> Option<Rates> {
    let first = zones.first()?;
    let span = |product: usize| {
        let own = zones.iter().flat_map(|zone| {
            [&zone.map_kg_per_ha, &zone.flat_kg_per_ha].map(|rates| rates.get(product).copied())
        });
        let own: Vec<f64> = own.flatten().collect();
        let low = own.iter().copied().fold(f64::INFINITY, f64::min);
        let high = own.iter().copied().fold(0.0, f64::max);
        [low, high]
    };
    let products = 0..first.map_kg_per_ha.len();
    let wide = |[low, high]: [f64; 2]| (high - low) / high.max(1e-9);
    let product = products.max_by(|a, b| wide(span(*a)).total_cmp(&wide(span(*b))))?;
    let [low, high] = span(product);
    let half = (high - low) / 2.0;
    let rates = evenly((low - half).max(low / 2.0), high + half)?;
    Some(Rates {
        product,
        kg_per_ha: rates,
        why: format!(
            "The map and the flat rate went from {} to {} kg/ha: half as far again on both sides bounds what is best (common practice, no source).",
            number(low),
            number(high)
        ),
    })
}

/// Within what may have been best; beyond the end where the best lay there.
fn of_curve(answer: &Answer, response: &Response) -> Option<Rates> {
    let tried = answer.means.iter();
    let tried: Vec<f64> = tried.filter_map(|(name, ..)| name.parse().ok()).collect();
    let low = tried.iter().copied().fold(f64::INFINITY, f64::min);
    let high = tried.iter().copied().fold(0.0, f64::max);
    let half = (high - low) / 2.0;
    let best = response.best_rate;
    let (from, to, why) = match (response.at_end, response.set) {
        (true, _) if best >= high => (
            high - half,
            high + half,
            "The best rate lay at the upper end: half the span on both sides of it.",
        ),
        (true, _) => (
            (low - half).max(0.0),
            low + half,
            "The best rate lay at the lower end: half the span on both sides of it.",
        ),
        (false, Some([from, to])) => (
            from.max(low),
            to.min(high),
            "Every rate that may have been best (95 %).",
        ),
        (false, None) => (
            (low - half).max(0.0),
            high + half,
            "The plots did not bound the best rate: half the span more on both sides.",
        ),
    };
    // Rates of a block have to differ: a narrow set is widened round the best rate.
    let least = APART * best * (RATES - 1) as f64;
    let (from, to) = match to - from < least {
        true => ((best - least / 2.0).max(0.0), best + least / 2.0),
        false => (from, to),
    };
    Some(Rates {
        product: 0,
        kg_per_ha: evenly(from, to)?,
        why: why.to_owned(),
    })
}

/// Rates from the one to the other, in whole kilograms where they are far enough apart; none where they are one rate.
fn evenly(from: f64, to: f64) -> Option<Vec<f64>> {
    let step = (to - from) / (RATES - 1) as f64;
    if !(step > 0.0 && step >= LEAST_APART * to) {
        return None;
    }
    let rounded = |rate: f64| match step >= 4.0 {
        true => rate.round(),
        false => (rate * 10.0).round() / 10.0,
    };
    Some(
        (0..RATES)
            .map(|nth| rounded(from + step * nth as f64))
            .collect(),
    )
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::harvest::Effect;

    fn zone(map: f64, effect: Option<[f64; 3]>, joins_next: bool) -> ZoneGain {
        ZoneGain {
            map_kg_per_ha: vec![map],
            flat_kg_per_ha: vec![166.0],
            pairs: 6,
            readings: 100,
            effect: effect.map(|[kg_per_ha, from, to]| Effect {
                kg_per_ha,
                from,
                to,
                p: 0.5,
                degrees_of_freedom: 5.0,
            }),
            shown: effect.is_some_and(|[_, from, to]| from > 0.0 || to < 0.0),
            worth: None,
            joins_next,
        }
    }

    #[test]
    fn rates_reach_half_as_far_again() {
        let zones = [
            zone(140.0, Some([10.0, -50.0, 70.0]), true),
            zone(165.0, Some([20.0, -40.0, 80.0]), false),
            zone(195.0, Some([300.0, 200.0, 400.0]), false),
        ];
        let rates = of_zones(&zones).expect("rates");
        // 140 to 195: 27.5 more on both sides, three steps of 36.7.
        assert_eq!(rates.kg_per_ha, [113.0, 149.0, 186.0, 223.0]);
        let told = reasons(&zones);
        assert_eq!(told.len(), 4, "{told:?}");
        assert!(told[3].contains("140 kg/ha, 165 kg/ha"), "{told:?}");
        assert!(told[2].contains("keep"), "{told:?}");
    }

    #[test]
    fn one_rate_is_no_trial() {
        assert_eq!(of_zones(&[zone(166.0, None, false)]), None);
        assert_eq!(of_zones(&[]), None);
    }
}
