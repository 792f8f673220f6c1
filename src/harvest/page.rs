//! The values of the page: plain numbers and drawings; words and layout stand in its template (src/report/harvest.html).

use super::answer::Answer;
use super::as_applied::Applied;
use super::by_zone::ZoneGain;
use super::clean::Cleaned;
use super::next_trial::reasons;
use super::plots::Plots;
use super::readings::Readings;
use super::sentence::{money_sentence, sentence};
use super::surface::Cell;
use super::weighed::Scale;
use super::years::{Stacked, shares};
use super::zones::ZoneYield;
use crate::coordinates::PlaneXy;
use crate::job::Language;
use crate::read::Polygon;
use serde_json::{Value, json};
use std::fmt::Write as _;

/// What the page shows.
pub struct Facts<'a> {
    /// Name of the field.
    pub field: &'a str,
    /// Id of the plan.
    pub plan: &'a str,
    /// Moisture that yields stand at, %.
    pub basis_percent: f64,
    /// Currency, as the user calls it.
    pub currency: &'a str,
    /// The readings as read.
    pub readings: &'a Readings,
    /// The readings as cleaned.
    pub cleaned: &'a Cleaned,
    /// What was weighed.
    pub scale: &'a Scale,
    /// The yield map.
    pub cells: &'a [Cell],
    /// Edge of a square of it, m.
    pub edge_m: f64,
    /// Zones of the plan.
    pub zones: &'a [ZoneYield],
    /// Land of the plan, in its plane.
    pub land: &'a [&'a Polygon<PlaneXy>],
    /// Plots, where there is a trial.
    pub plots: Option<&'a Plots>,
    /// What they got by a log of the drill.
    pub by_log: Option<&'a [Applied]>,
    /// Gains of the map over the flat rate by zone.
    pub gains: &'a [ZoneGain],
    /// Squares over the years; empty for one year.
    pub years: &'a [Stacked],
    /// Ids of the products whose rates differ.
    pub tried: &'a [String],
    /// Whether a trial for next year is written beside the page.
    pub has_next_trial: bool,
    /// What it says.
    pub answer: Option<&'a Answer>,
    /// When the page was made.
    pub made_at: &'a str,
    /// Language of the page; sentences of the answer and names of the steps are English.
    pub language: Language,
}

/// t/ha for people.
fn tonnes(kg: f64) -> String {
    format!("{:.2}", kg / 1_000.0 + 0.0)
}

/// All values of the template.
pub fn page_values(of: &Facts) -> Value {
    let total = of.cleaned.readings.len();
    let counting = of.cleaned.counting().count();
    let said = |text: String| of.language.number(&text);
    let tonnes = |kg: f64| said(tonnes(kg));
    let percent = |n: usize| said(format!("{:.1}", 100.0 * n as f64 / total.max(1) as f64));
    let steps: Vec<Value> = of.cleaned.steps.iter().map(|step| {
        let limits = step.limits.map(|[least, most]| {
            let bound = |counts: bool, value: f64| counts.then(|| said(short(value)));
            [bound(least > 0.0, least), bound(most.is_finite(), most)]
        });
        json!({ "words": step.step.words(), "readings": step.readings, "percent": percent(step.readings), "limits": limits })
    }).collect();
    let groups: Vec<Value> = of.scale.groups.iter().map(|(machine, load, monitor, weighed, factor)| {
        json!({ "machine": machine, "load": load, "monitor": format!("{monitor:.0}"), "weighed": format!("{weighed:.0}"), "factor": said(format!("{factor:.3}")) })
    }).collect();
    let delay = of.cleaned.delay.map(|delay| {
        json!({ "seconds": said(format!("{:.1}", delay.seconds)), "pairs": delay.pairs, "found": delay.pairs > 0 && delay.seconds > 0.0,
            "given": delay.pairs == 0, "without": said(short(delay.disagreement_percent[0])), "with": said(short(delay.disagreement_percent[1])) })
    });
    let zones: Vec<Value> = of.zones.iter().map(|zone| json!({ "zone": zone.zone, "tonnes": tonnes(zone.kg_per_ha), "readings": zone.readings })).collect();
    let plots: Vec<Value> = of.plots.iter().flat_map(|plots| &plots.of).map(|plot| {
        json!({ "treatment": plot.treatment, "block": plot.block, "tonnes": tonnes(plot.kg_per_ha), "readings": plot.readings })
    }).collect();
    json!({
        "field": of.field,
        "plan": of.plan,
        "basis": said(short(of.basis_percent)),
        "made_at": of.language.moment(of.made_at),
        "indication": !of.scale.is_whole(),
        "mean": of.cleaned.mean(of.cleaned.counting()).map(tonnes),
        "readings": total,
        "counting": counting,
        "counting_percent": percent(counting),
        "without": of.readings.without,
        "overlap_ha": of.cleaned.has_land.then(|| said(format!("{:.2}", of.cleaned.overlap_m2 / 10_000.0))),
        "has_moisture": of.cleaned.has_moisture,
        "steps": steps,
        "groups": groups,
        "delay": delay,
        "zones": zones,
        "plots": plots,
        "gains": of.gains.iter().map(|zone| gain(zone, of.language)).collect::<Vec<_>>(),
        "tried": of.tried.join(", "),
        "years": years(of.years),
        "reasons": reasons(of.gains),
        "has_next_trial": of.has_next_trial,
        "by_log": of.by_log.map(|plots| plots.iter().map(|plot| by_log(plot, of.language)).collect::<Vec<_>>()),
        "answer": of.answer.map(|answer| told(answer, of)),
        "map": map(of),
    })
}

/// How much of the field is what over the years; nothing for one year.
fn years(stacked: &[Stacked]) -> Value {
    let most = stacked.iter().map(|own| own.years).max();
    let row = |(class, squares): (super::years::Trend, usize)| {
        let percent = 100.0 * squares as f64 / stacked.len().max(1) as f64;
        json!({ "class": class.word(), "percent": format!("{percent:.0}") })
    };
    match most {
        None => Value::Null,
        Some(most) => {
            let rows: Vec<Value> = shares(stacked).into_iter().map(row).collect();
            json!({ "years": most, "rows": rows })
        }
    }
}

/// The gain of a zone.
fn gain(zone: &ZoneGain, language: Language) -> Value {
    let rates = |rates: &[f64]| {
        let own: Vec<String> = rates
            .iter()
            .map(|rate| language.number(&short(*rate)))
            .collect();
        own.join(language.list_mark())
    };
    let signed = |kg: f64| language.number(&format!("{:+.2}", kg / 1_000.0 + 0.0));
    json!({ "map": rates(&zone.map_kg_per_ha), "flat": rates(&zone.flat_kg_per_ha), "pairs": zone.pairs,
        "value": zone.effect.map(|own| signed(own.kg_per_ha)), "from": zone.effect.map(|own| signed(own.from)),
        "to": zone.effect.map(|own| signed(own.to)), "shown": zone.shown,
        "worth": zone.worth.map(|own| [own.per_ha, own.from, own.to].map(|money| format!("{:+.0}", money + 0.0))) })
}

/// A plot by plan and log.
fn by_log(plot: &Applied, language: Language) -> Value {
    let got = plot
        .rate_kg_per_ha
        .map(|rate| language.number(&short(rate)))
        .or_else(|| plot.got.clone());
    json!({ "id": plot.id, "block": plot.block, "planned": plot.planned, "got": got,
        "drilled": format!("{:.0}", plot.drilled_percent), "as_planned": format!("{:.0}", plot.as_planned_percent) })
}

/// A probability with its sign: `= 0.012`, `< 0.001`.
fn probability(p: f64, language: Language) -> String {
    match p < 0.001 {
        true => format!("< {}", language.number("0.001")),
        false => format!("= {}", language.number(&format!("{p:.3}"))),
    }
}

/// A number to two decimals, a large one to whole units.
fn short(value: f64) -> String {
    if value.abs() >= 1_000.0 {
        return format!("{value:.0}");
    }
    crate::findings::number((value * 100.0).round() / 100.0)
}

fn told(answer: &Answer, of: &Facts) -> Value {
    let currency = of.currency;
    let said = |text: String| of.language.number(&text);
    let tonnes = |kg: f64| said(tonnes(kg));
    let means: Vec<Value> = answer
        .means
        .iter()
        .map(|(name, kg, plots)| json!({ "name": name, "tonnes": tonnes(*kg), "plots": plots }))
        .collect();
    let worth: Vec<Value> = answer.worth.iter().map(|worth| {
        json!({ "price": said(short(worth.price_per_t)), "per_ha": format!("{:+.0}", worth.per_ha), "from": format!("{:+.0}", worth.from),
            "to": format!("{:+.0}", worth.to), "best_rate": worth.best_rate.map(|rate| format!("{rate:.0}")) })
    }).collect();
    let second = answer.second.map(|second| {
        json!({ "value": said(format!("{:+.2}", second.effect.kg_per_ha / 1e3)), "from": said(format!("{:+.2}", second.effect.from / 1e3)), "to": said(format!("{:+.2}", second.effect.to / 1e3)),
            "share": said(format!("{:.2}", second.share_of_neighbours)), "pieces": second.pieces })
    });
    json!({
        "sentence": sentence(answer),
        "money": money_sentence(answer, currency),
        "currency": currency,
        "next": next(answer),
        "design": answer.design,
        "treatment": answer.treatment,
        "base": answer.base,
        "p": probability(answer.effect.p, of.language),
        "p_of_all": answer.p_of_all.map(|p| probability(p, of.language)),
        "degrees_of_freedom": said(short(answer.effect.degrees_of_freedom)),
        "least": answer.least_significant_difference.map(tonnes),
        "means": means,
        "worth": worth,
        "second": second,
        "shape": answer.response.map(|response| response.shape),
        "picture": answer.response.map_or_else(|| interval_picture(answer, of.language), |_| curve_picture(answer, of.language)),
    })
}

/// What to do next year, and why.
fn next(answer: &Answer) -> String {
    let pays = answer
        .worth
        .get(1)
        .map(|worth| (worth.from > 0.0, worth.to < 0.0));
    let lowest = answer
        .means
        .first()
        .and_then(|(name, ..)| name.parse::<f64>().ok());
    let what = match (&answer.response, answer.shown, pays) {
        (Some(response), true, _) if response.at_end && lowest.is_some_and(|lowest| response.best_rate <= lowest) => {
            "No more than the lowest rate paid at the expected price, though more gave more: keep the rate low, unless prices change.".to_owned()
        }
        (Some(response), true, _) if response.at_end => format!("The highest rate still paid: try rates beyond {} before you change the farm's rate.", short(response.best_rate)),
        (Some(response), true, _) => match response.set {
            Some([from, to]) => format!("Keep to rates from {from:.0} to {to:.0}; next year try a narrower span around {:.0}.", response.best_rate),
            None => format!("{:.0} looks best, but the plots do not bound it: repeat with more blocks, or a wider span of rates, before you change the farm's rate.", response.best_rate),
        },
        (Some(_), false, _) => "No response to the rate was shown: take the cheaper rate where nothing else speaks against it, and repeat with more blocks.".to_owned(),
        (None, true, Some((true, _))) => format!("Go on with {}: even the low end of the interval pays at the expected price. One year is one year's weather: leave a pair of strips again.", answer.treatment),
        (None, true, Some((_, true))) => format!("Leave {}: even the high end of the interval does not pay at the expected price.", answer.treatment),
        (None, true, Some(_)) => "The difference is there, but the interval does not say that it pays at the expected price: repeat the trial, or wait for another price.".to_owned(),
        (None, true, None) => format!("The difference is there. Give prices and costs (--price, --cost) to see whether {} pays.", answer.treatment),
        (None, false, _) => "Nothing was shown, so nothing speaks for the dearer way: keep what is cheaper, and repeat with more pairs if the difference would matter to you.".to_owned(),
    };
    format!(
        "{what} This is a trial's answer, not advice: label, local rules and licensed advice come first."
    )
}

/// Effect and interval on a line with 0.
fn interval_picture(answer: &Answer, language: Language) -> Value {
    let words = |kg: f64| language.number(&format!("{:+.2}", kg / 1e3));
    let effect = &answer.effect;
    let (low, high) = (effect.from.min(0.0), effect.to.max(0.0));
    let margin = 0.08 * (high - low).max(1.0);
    let x = |kg: f64| 20.0 + 560.0 * (kg - low + margin) / (high - low + 2.0 * margin);
    let at = |kg: f64| format!("{:.1}", x(kg));
    json!({ "kind": "interval", "zero": at(0.0), "from": at(effect.from), "to": at(effect.to), "value": at(effect.kg_per_ha),
        "from_words": words(effect.from), "to_words": words(effect.to), "value_words": words(effect.kg_per_ha) })
}

/// Means by rate with the curve.
fn curve_picture(answer: &Answer, language: Language) -> Value {
    let Some(response) = &answer.response else {
        return Value::Null;
    };
    let points: Vec<[f64; 2]> = answer
        .means
        .iter()
        .filter_map(|(name, kg, _)| Some([name.parse().ok()?, *kg]))
        .collect();
    let (least, most) = points
        .iter()
        .fold((f64::MAX, f64::MIN), |(a, b), p| (a.min(p[0]), b.max(p[0])));
    let at = |rate: f64| {
        let rate = rate.min(response.join.unwrap_or(f64::INFINITY));
        response.constant + rate * (response.slope + rate * response.bend)
    };
    let line: Vec<[f64; 2]> = (0..=60)
        .map(|n| least + (most - least) * f64::from(n) / 60.0)
        .map(|rate| [rate, at(rate)])
        .collect();
    let (low, high) = points
        .iter()
        .chain(&line)
        .fold((f64::MAX, f64::MIN), |(a, b), p| (a.min(p[1]), b.max(p[1])));
    let x = |rate: f64| 60.0 + 500.0 * (rate - least) / (most - least).max(1e-9);
    let y = |kg: f64| 200.0 - 170.0 * (kg - low) / (high - low).max(1e-9);
    let mut path = String::new();
    for (nth, [rate, kg]) in line.iter().enumerate() {
        let _ = write!(
            path,
            "{}{:.1} {:.1}",
            if nth == 0 { "M" } else { "L" },
            x(*rate),
            y(*kg)
        );
    }
    let dots: Vec<Value> = points.iter().map(|[rate, kg]| json!({ "x": format!("{:.1}", x(*rate)), "y": format!("{:.1}", y(*kg)), "rate": language.number(&short(*rate)) })).collect();
    let within = |rate: f64| rate.clamp(least, most);
    json!({ "kind": "curve", "path": path, "dots": dots, "best": format!("{:.1}", x(within(response.best_rate))), "best_words": format!("{:.0}", response.best_rate),
        "set": response.set.map(|[from, to]| json!({ "x": format!("{:.1}", x(within(from))), "wide": format!("{:.1}", (x(within(to)) - x(within(from))).max(1.0)) })),
        "low": language.number(&tonnes(low)), "high": language.number(&tonnes(high)) })
}

/// The yield map: squares in seven colours, land, plots.
fn map(of: &Facts) -> Value {
    const CLASSES: usize = 7;
    let mut yields: Vec<f64> = of.cells.iter().map(|cell| cell.kg_per_ha).collect();
    yields.sort_by(f64::total_cmp);
    // Classes of equal numbers of squares.
    let breaks: Vec<f64> = (1..CLASSES)
        .filter_map(|n| yields.get(n * yields.len() / CLASSES).copied())
        .collect();
    let outlines = of
        .land
        .iter()
        .flat_map(|polygon| std::iter::once(&polygon.exterior).chain(&polygon.holes));
    let outlines: Vec<&Vec<PlaneXy>> = outlines.collect();
    let corners = of
        .cells
        .iter()
        .flat_map(|cell| [cell.corner, cell.corner.map(|v| v + of.edge_m)]);
    let all = outlines
        .iter()
        .flat_map(|ring| ring.iter().map(|at| at.pair()))
        .chain(corners);
    let [low, high] = all.fold([[f64::MAX; 2], [f64::MIN; 2]], |[low, high], p| {
        [
            [low[0].min(p[0]), low[1].min(p[1])],
            [high[0].max(p[0]), high[1].max(p[1])],
        ]
    });
    let place = |p: [f64; 2]| [p[0] - low[0], high[1] - p[1]];
    let mut classes = vec![String::new(); CLASSES];
    for cell in of.cells {
        let class = breaks
            .iter()
            .filter(|edge| cell.kg_per_ha >= **edge)
            .count();
        let [x, y] = place([cell.corner[0], cell.corner[1] + of.edge_m]);
        let edge = of.edge_m;
        let _ = write!(
            classes[class],
            "M{x:.1} {y:.1}h{edge:.1}v{edge:.1}h-{edge:.1}z"
        );
    }
    let colour = |n: usize| {
        let of = colorous::VIRIDIS.eval_rational(n, CLASSES);
        format!("#{:02x}{:02x}{:02x}", of.r, of.g, of.b)
    };
    let words = |n: usize| {
        let bounds = [n.checked_sub(1).and_then(|n| breaks.get(n)), breaks.get(n)];
        bounds.map(|bound| bound.map(|kg| of.language.number(&tonnes(*kg))))
    };
    let classes: Vec<Value> = classes
        .iter()
        .enumerate()
        .filter(|(_, path)| !path.is_empty())
        .map(|(n, path)| json!({ "path": path, "colour": colour(n), "bounds": words(n) }))
        .collect();
    let mut land = String::new();
    for ring in outlines {
        draw(&mut land, ring, &place);
    }
    let size = [high[0] - low[0], high[1] - low[1]]
        .map(|v| if v > 0.0 && v.is_finite() { v } else { 1.0 });
    let long = size[0].max(size[1]);
    let font = long / 55.0;
    // A name is left out where it would lie on another.
    let mut named: Vec<[f64; 2]> = Vec::new();
    let mut labels = Vec::new();
    for plot in of.plots.iter().flat_map(|plots| &plots.of) {
        let [x, y] = place(plot.middle);
        let apart = |other: &[f64; 2]| {
            (other[0] - x).abs() > 3.0 * font || (other[1] - y).abs() > 1.2 * font
        };
        if named.iter().all(apart) {
            named.push([x, y]);
            labels.push(
                json!({ "x": format!("{x:.1}"), "y": format!("{y:.1}"), "name": plot.treatment }),
            );
        }
    }
    let mut plots = String::new();
    for ring in of.plots.iter().flat_map(|plots| &plots.outlines) {
        draw(&mut plots, ring, &place);
    }
    json!({
        "width": format!("{:.1}", size[0]),
        "height": format!("{:.1}", size[1]),
        "pixel": format!("{:.3}", long / 700.0),
        "font": format!("{font:.1}"),
        "classes": classes,
        "land": land,
        "plots": plots,
        "labels": labels,
        "edge": short(of.edge_m),
    })
}

/// Adds a ring to a path.
fn draw(path: &mut String, ring: &[PlaneXy], place: &dyn Fn([f64; 2]) -> [f64; 2]) {
    for (nth, p) in ring.iter().enumerate() {
        let [x, y] = place(p.pair());
        let _ = write!(path, "{}{x:.1} {y:.1}", if nth == 0 { "M" } else { "L" });
    }
    path.push('z');
}
