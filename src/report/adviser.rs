//! The adviser's part: is the map right?

use super::canvas::Canvas;
use super::caps;
use super::number::Numbers;
use super::open_decisions;
use crate::agronomy;
use crate::drive::cut_map::{ProductReport, Report};
use crate::findings::{Finding, Severity};
use crate::plan::Plan;
use serde_json::{Value, json};

/// Findings of one code beyond this many are counted, not listed, if they are notes.
const MOST_NOTES: usize = 6;

/// The map with the zones' borders, the cut map, and what the drill lays by either, side by side.
fn cut_map(plan: &Plan, cut: &Report, numbers: &Numbers, canvas: &Canvas) -> Value {
    let row = |(nth, of): (usize, &ProductReport)| {
        let mut products = plan.job.products.iter();
        let place = products.clone().position(|product| product.id == of.id);
        // Land whose rate a piece has made lower, or higher.
        let changed = |lower: bool| {
            let rows = plan.rates.rows.iter().zip(&plan.maps.drawing.rows);
            let rows = rows.filter(|(row, _)| {
                let rate = place.and_then(|place| row.rates.get(place));
                let times = rate.map_or(1.0, agronomy::times_on_piece);
                if lower { times < 1.0 } else { times > 1.0 }
            });
            canvas.path(rows.flat_map(|(_, polygons)| polygons.iter()))
        };
        let from = |key: &str| format!("/cut_map/products/{nth}/{key}");
        let percent = |share: f64, key: &str| numbers.plain(share, 1, from(key));
        json!({
            "name": products.find(|product| product.id == of.id).map(|product| &product.name),
            "less": changed(true),
            "more": changed(false),
            "wanted": numbers.mass(of.wanted_kg, from("wanted_kg")),
            "cut": numbers.mass(of.cut_kg, from("cut_kg")),
            "lost": numbers.mass(of.lost_kg, from("lost_kg")),
            "gained": numbers.mass(of.gained_kg, from("gained_kg")),
            "free_driven": numbers.mass(of.free_driven_kg, from("free_driven_kg")),
            "cut_driven": numbers.mass(of.cut_driven_kg, from("cut_driven_kg")),
            "near": percent(of.cut_within_5_percent, "cut_within_5_percent"),
            "near_free_driven": percent(of.free_driven_within_5_percent, "free_driven_within_5_percent"),
            "near_cut_driven": percent(of.cut_driven_within_5_percent, "cut_driven_within_5_percent"),
            "near_map": percent(of.cut_driven_within_5_percent_of_map, "cut_driven_within_5_percent_of_map"),
        })
    };
    json!({
        "pieces": cut.pieces,
        "least": numbers.length(cut.least_m, "/cut_map/least_m"),
        "rows": cut.products.iter().enumerate().map(row).collect::<Vec<Value>>(),
    })
}

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
            "accepted": finding.accepted.as_ref().map(|own| open_decisions::signed(own, numbers.language())),
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
                "spreader": tally.spreader.as_ref().map(|own| json!({
                    "plan": own.plan,
                    "folder": own.folder,
                    "machine": own.machine,
                    "held": own.held_back,
                    "mass": numbers.mass(own.map_kg, from("spreader/map_kg")),
                    "area": numbers.area(own.spread_m2, from("spreader/spread_m2")),
                    "low": numbers.rate(own.lowest_kg_per_ha, from("spreader/lowest_kg_per_ha")),
                    "high": numbers.rate(own.highest_kg_per_ha, from("spreader/highest_kg_per_ha")),
                })),
                "nutrients": tally.nutrients.iter().map(|(symbol, kg)| json!({
                    "symbol": symbol, "mass": numbers.mass(*kg, ""),
                })).collect::<Vec<_>>(),
            })
        })
        .collect();
    json!({
        "moved": caps::by_product(plan, numbers),
        "balances": balances,
        "cut": plan.drive.cut_map.as_ref().map(|cut| cut_map(plan, cut, numbers, canvas)),
        "decisions": of(Severity::Decision),
        "warnings": of(Severity::Warning),
        "notes": of(Severity::Note),
    })
}
