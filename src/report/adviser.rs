//! The adviser's part: is the map right?

use super::canvas::Canvas;
use super::caps;
use super::number::Numbers;
use crate::findings::{Finding, Severity};
use crate::plan::Plan;
use serde_json::{Value, json};

/// Findings of one code beyond this many are counted, not listed, if they are notes.
const MOST_NOTES: usize = 6;

pub(super) fn sheet(plan: &Plan, numbers: &Numbers, canvas: &Canvas) -> Value {
    let place = |number: usize, finding: &Finding| {
        let at = finding.place.lon_lat.map(|lon_lat| canvas.place(lon_lat));
        let inside = |&[x, y]: &[f64; 2]| {
            (0.0..=canvas.width).contains(&x) && (0.0..=canvas.height).contains(&y)
        };
        let at = at.filter(inside);
        json!({
            "number": number,
            "code": finding.code,
            "message": finding.message,
            "accepted": finding.accepted,
            "place": finding.place.to_string(),
            "area": finding.area_m2.map(|m2| numbers.area(m2, format!("/findings/{}/area_m2", number - 1))),
            "x": at.map(|[x, _]| x.round()),
            "y": at.map(|[_, y]| y.round()),
        })
    };
    let of = |severity: Severity| {
        let own = plan.findings.iter().enumerate();
        let own = own.filter(move |(_, finding)| finding.severity == severity);
        let mut listed: Vec<Value> = Vec::new();
        let mut more: Vec<(&str, usize)> = Vec::new();
        for (nth, finding) in own {
            let same = listed
                .iter()
                .filter(|known| known["code"] == *finding.code)
                .count();
            if severity == Severity::Note && same >= MOST_NOTES {
                match more.iter_mut().find(|(code, _)| *code == finding.code) {
                    Some((_, count)) => *count += 1,
                    None => more.push((&finding.code, 1)),
                }
                continue;
            }
            listed.push(place(nth + 1, finding));
        }
        json!({ "listed": listed, "more": more, "count": listed.len() + more.iter().map(|(_, n)| n).sum::<usize>() })
    };
    let balances: Vec<Value> = plan
        .tally.planned
        .balances
        .iter()
        .enumerate()
        .map(|(nth, tally)| {
            let from = |key: &str| format!("/tally/balances/{nth}/{key}");
            json!({
                "name": tally.name,
                "of": plan.job.products.iter().find(|product| product.id == tally.of).map(|product| &product.name),
                "mass": numbers.mass(tally.map_kg(), from("steps/0/kg")),
                "area": numbers.area(tally.spread_m2, from("spread_m2")),
                "low": numbers.rate(tally.lowest_kg_per_ha, from("lowest_kg_per_ha")),
                "high": numbers.rate(tally.highest_kg_per_ha, from("highest_kg_per_ha")),
                "nutrients": tally.nutrients.iter().map(|(symbol, kg)| json!({
                    "symbol": symbol, "mass": numbers.mass(*kg, ""),
                })).collect::<Vec<_>>(),
            })
        })
        .collect();
    json!({
        "moved": caps::by_product(plan, numbers),
        "balances": balances,
        "decisions": of(Severity::Decision),
        "warnings": of(Severity::Warning),
        "notes": of(Severity::Note),
    })
}
