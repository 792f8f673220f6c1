//! What each plot of a trial got by the log of the drill: that decides, not the plan. Method: docs/methods/harvest.md.

use super::plots::holds;
use crate::coordinates::PlaneXy;
use crate::job::TrialDesign;
use crate::plan::{LaidTrial, TrialPlot};
use crate::read::Polygon;
use serde::Serialize;

/// A rate counts as asked for within this share of it: twice what the layout asks of the drive on paper. Common practice, no source.
const WITHIN: f64 = 0.10;
/// So near to a rate of 0, kg/ha. Common practice, no source.
const NEAR_ZERO_KG_PER_HA: f64 = 2.0;
/// The least share of a plot's land between its ends that must have been drilled, and that must have got a rate. Common practice, no source.
const MOST_LAND: f64 = 0.8;

/// A stretch of land with what a log says was laid on it.
pub struct Stretch {
    /// Its middle in the field's plane, m.
    pub middle: [f64; 2],
    /// Land, m2.
    pub area_m2: f64,
    /// Per product of the plan.
    pub kg_per_ha: Vec<f64>,
}

/// A plot by plan and by log.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Applied {
    /// Its name in the plan.
    pub id: String,
    /// Its block.
    pub block: String,
    /// What the plan has on it.
    pub planned: String,
    /// What it got, by name; none where it got nothing that the trial tries, and the plot is left out.
    pub got: Option<String>,
    /// Of a trial of rates: the mean that it got, kg/ha.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub rate_kg_per_ha: Option<f64>,
    /// Share of its land between its ends that was drilled, %.
    pub drilled_percent: f64,
    /// Share of that which got within 10 % of what the plan has there, %.
    pub as_planned_percent: f64,
}

/// Holds the plots of a trial against the log. `outlines` are those of its plots in the field's plane; `wanted` gives what the plan's map has
/// at a place, per product.
pub fn applied(
    trial: &LaidTrial,
    outlines: &[Vec<PlaneXy>],
    tried: &[usize],
    stretches: &[Stretch],
    wanted: &dyn Fn([f64; 2]) -> Option<Vec<f64>>,
) -> Vec<Applied> {
    let plots = trial.plots.iter().zip(outlines);
    plots
        .map(|(plot, outline)| {
            let land = between_ends(plot, outline, trial.ends_m);
            let own: Vec<&Stretch> = stretches
                .iter()
                .filter(|stretch| holds(&land.ground, stretch.middle))
                .collect();
            one(trial, plot, tried, land.area_m2, &own, wanted)
        })
        .collect()
}

fn one(
    trial: &LaidTrial,
    plot: &TrialPlot,
    tried: &[usize],
    land_m2: f64,
    own: &[&Stretch],
    wanted: &dyn Fn([f64; 2]) -> Option<Vec<f64>>,
) -> Applied {
    let drilled_m2: f64 = own.iter().map(|stretch| stretch.area_m2).sum();
    // Of the drilled land the share on which every product that is tried has a rate.
    let share = |rate: &dyn Fn(&Stretch, usize) -> Option<f64>| {
        let fits = |stretch: &&&Stretch| {
            tried.iter().all(|&product| {
                let laid = stretch.kg_per_ha.get(product).copied().unwrap_or(0.0);
                rate(stretch, product).is_some_and(|asked| near(laid, asked))
            })
        };
        let m2: f64 = own.iter().filter(fits).map(|stretch| stretch.area_m2).sum();
        m2 / drilled_m2.max(1e-9)
    };
    let by_map = |stretch: &Stretch, product: usize| {
        wanted(stretch.middle).and_then(|rates| rates.get(product).copied())
    };
    let as_planned = share(&by_map);
    let mean = |product: usize| {
        let kg = own
            .iter()
            .map(|stretch| stretch.area_m2 * stretch.kg_per_ha.get(product).unwrap_or(&0.0));
        kg.sum::<f64>() / drilled_m2.max(1e-9)
    };
    let drilled = drilled_m2 / land_m2.max(1e-9);
    let mut found = Applied {
        id: plot.id.clone(),
        block: plot.block.clone(),
        planned: plot.treatment.clone(),
        got: None,
        rate_kg_per_ha: None,
        drilled_percent: 100.0 * drilled,
        as_planned_percent: 100.0 * as_planned,
    };
    if drilled < MOST_LAND {
        return found;
    }
    if let (TrialDesign::Rates, [product]) = (trial.design, tried) {
        // Any rate is an answer to how much, as long as it is one rate.
        let rate = mean(*product);
        if share(&|_, _| Some(rate)) >= MOST_LAND {
            found.got = Some(plot.treatment.clone());
            found.rate_kg_per_ha = Some(rate);
        }
        return found;
    }
    if as_planned >= MOST_LAND {
        found.got = Some(plot.treatment.clone());
        return found;
    }
    // Treatments that ask for one rate in this block: their own plots say which.
    let fixed = trial.plots.iter().filter(|other| {
        let by_map = trial
            .treatments
            .iter()
            .find(|of| of.name == other.treatment);
        other.block == plot.block
            && other.treatment != plot.treatment
            && by_map.is_some_and(|of| !of.by_the_map)
    });
    let mut others = fixed
        .filter(|other| share(&|_, product| other.kg_per_ha.get(product).copied()) >= MOST_LAND);
    if let (Some(other), None) = (others.next(), others.next()) {
        found.got = Some(other.treatment.clone());
    }
    found
}

fn near(laid: f64, asked: f64) -> bool {
    (laid - asked).abs() <= (WITHIN * asked).max(NEAR_ZERO_KG_PER_HA)
}

/// A plot without its ends.
struct Land {
    ground: Polygon<PlaneXy>,
    area_m2: f64,
}

/// The middle part of a plot along its longest edge.
fn between_ends(plot: &TrialPlot, outline: &[PlaneXy], ends_m: f64) -> Land {
    let edges = outline.iter().zip(outline.iter().skip(1));
    let longest = edges
        .map(|(a, b)| [b.x - a.x, b.y - a.y])
        .max_by(|a, b| a[0].hypot(a[1]).total_cmp(&b[0].hypot(b[1])))
        .unwrap_or([1.0, 0.0]);
    let length = longest[0].hypot(longest[1]).max(1e-9);
    let along = longest.map(|part| part / length);
    let place = |at: &PlaneXy| at.x * along[0] + at.y * along[1];
    let low = outline.iter().map(place).fold(f64::INFINITY, f64::min) + ends_m;
    let high = outline.iter().map(place).fold(f64::NEG_INFINITY, f64::max) - ends_m;
    // Cut off what lies before the one and behind the other.
    let cut = |ring: Vec<PlaneXy>, inside: &dyn Fn(f64) -> f64| {
        let mut kept = Vec::new();
        for (a, b) in ring.iter().zip(ring.iter().cycle().skip(1)) {
            let [of_a, of_b] = [inside(place(a)), inside(place(b))];
            if of_a >= 0.0 {
                kept.push(*a);
            }
            if (of_a > 0.0 && of_b < 0.0) || (of_a < 0.0 && of_b > 0.0) {
                let share = of_a / (of_a - of_b);
                kept.push(PlaneXy::of_pair([
                    a.x + share * (b.x - a.x),
                    a.y + share * (b.y - a.y),
                ]));
            }
        }
        kept
    };
    let ring = cut(outline.to_vec(), &|at| at - low);
    let exterior = cut(ring, &|at| high - at);
    let inner_m = (plot.length_m - 2.0 * ends_m).max(0.0);
    Land {
        ground: Polygon {
            exterior,
            holes: Vec::new(),
        },
        area_m2: plot.area_m2 * inner_m / plot.length_m.max(1e-9),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::coordinates::LonLat;
    use crate::plan::{Sight, TrialTreatment, Wheelings};

    /// A block of two plots of 12 m x 120 m side by side, 'map' in the west.
    fn trial(design: TrialDesign, names: [&str; 2], rates: [f64; 2]) -> LaidTrial {
        let plot = |nth: usize| TrialPlot {
            id: format!("1-{nth}"),
            treatment: names[nth].to_owned(),
            block: "1".to_owned(),
            length_m: 120.0,
            area_m2: 1440.0,
            outline_lon_lat: Vec::<LonLat>::new(),
            harvest_lon_lat: Vec::new(),
            asked_kg_per_ha: vec![rates[nth]],
            kg_per_ha: vec![rates[nth]],
            sown_kg_per_ha: vec![rates[nth]],
            within_5_percent: vec![100.0],
        };
        let sight = Sight {
            plot_variation_kg_per_ha: 191.0,
            variation_from: None,
            sees_kg_per_ha: 300.0,
            should_see_kg_per_ha: 300.0,
            blocks: 1,
            blocks_needed: None,
        };
        LaidTrial {
            name: "t".to_owned(),
            design,
            products: vec!["barley".to_owned()],
            treatments: names
                .iter()
                .map(|name| TrialTreatment {
                    name: (*name).to_owned(),
                    by_the_map: *name == "map",
                })
                .collect(),
            strip_width_m: 12.0,
            strip_bouts: 2,
            wheelings: Wheelings::None,
            header_width_m: 9.0,
            ends_m: 30.0,
            plots: vec![plot(0), plot(1)],
            sight,
            costs: Vec::new(),
            flat_in_all: Vec::new(),
            chessboard: None,
        }
    }

    /// The log: stretches of 2.5 m x 12 m over both plots; `laid` gives the rate by plot and place along it.
    fn log(laid: impl Fn(usize, f64) -> f64) -> Vec<Stretch> {
        let places =
            (0..48).flat_map(|step| [0, 1].map(|plot| (plot, 1.25 + 2.5 * f64::from(step))));
        places
            .map(|(plot, along)| Stretch {
                middle: [6.0 + 12.0 * plot as f64, along],
                area_m2: 30.0,
                kg_per_ha: vec![laid(plot, along)],
            })
            .collect()
    }

    /// The plan's map: 140 and 180 kg/ha by halves in the western plot, 160 in the eastern.
    fn map([x, y]: [f64; 2]) -> f64 {
        match (x < 12.0, y < 60.0) {
            (true, true) => 140.0,
            (true, false) => 180.0,
            (false, _) => 160.0,
        }
    }

    fn found(trial: &LaidTrial, log: &[Stretch]) -> Vec<Applied> {
        let outline = |west: f64| {
            [
                [west, 0.0],
                [west + 12.0, 0.0],
                [west + 12.0, 120.0],
                [west, 120.0],
                [west, 0.0],
            ]
            .map(PlaneXy::of_pair)
            .to_vec()
        };
        let outlines = [outline(0.0), outline(12.0)];
        applied(trial, &outlines, &[0], log, &|at| Some(vec![map(at)]))
    }

    fn got(found: &[Applied]) -> Vec<Option<&str>> {
        found.iter().map(|plot| plot.got.as_deref()).collect()
    }

    #[test]
    fn the_log_decides_what_a_plot_got() {
        let trial = trial(TrialDesign::MapAgainstFlat, ["map", "flat"], [160.0, 160.0]);
        let as_planned = found(&trial, &log(|plot, y| map([12.0 * plot as f64, y])));
        assert_eq!(got(&as_planned), [Some("map"), Some("flat")]);
        assert!((as_planned[0].drilled_percent - 100.0).abs() < 1e-9);
        // The map was off: the means are those of the plan, and yet both plots are flat.
        let flat = found(&trial, &log(|_, _| 160.0));
        assert_eq!(got(&flat), [Some("flat"), Some("flat")]);
        // Changed round: the eastern plot got a map that no plot asks for there.
        let round = found(&trial, &log(|plot, y| map([12.0 - 12.0 * plot as f64, y])));
        assert_eq!(got(&round), [Some("flat"), None]);
        // Not drilled: left out. Ends do not count.
        let half: Vec<Stretch> = log(|plot, y| map([12.0 * plot as f64, y]))
            .into_iter()
            .filter(|own| own.middle[0] > 12.0 || own.middle[1] > 70.0)
            .collect();
        let half = found(&trial, &half);
        assert_eq!(got(&half), [None, Some("flat")]);
        assert!((half[0].drilled_percent - 100.0 * 20.0 / 60.0).abs() < 1.0);
        let ends = found(
            &trial,
            &log(|plot, y| {
                if (30.0..90.0).contains(&y) {
                    map([12.0 * plot as f64, y])
                } else {
                    0.0
                }
            }),
        );
        assert_eq!(got(&ends), [Some("map"), Some("flat")]);
    }

    #[test]
    fn a_trial_of_rates_takes_the_rates_that_were_laid() {
        let trial = trial(TrialDesign::Rates, ["120", "160"], [120.0, 160.0]);
        let low = found(
            &trial,
            &log(|plot, _| if plot == 0 { 131.0 } else { 160.0 }),
        );
        assert_eq!(got(&low), [Some("120"), Some("160")]);
        assert!(
            low[0]
                .rate_kg_per_ha
                .is_some_and(|rate| (rate - 131.0).abs() < 1e-9)
        );
        // Two rates in one plot are no rate.
        let two = found(&trial, &log(|_, y| if y < 60.0 { 120.0 } else { 160.0 }));
        assert_eq!(got(&two), [None, None]);
    }
}
