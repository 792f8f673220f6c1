//! Land of a ledger as a zone layer: the class of each piece is what it got this season.

use crate::agronomy::Placed;
use crate::agronomy::placed::{AMOUNTS, DATE, HARVESTED, LOGS, PLACED, PLAN, TASKS, WHAT};
use crate::coordinates::PlaneXy;
use crate::findings::{Fault, Finding, Outcome};
use crate::frame::Frame;
use crate::geometry::overlay::Overlay;
use crate::job::{SEASON_DAYS, Values, day_number};
use crate::land::outlines;
use crate::read::{Geometry, Layer, Value};

/// Less land than this in common is none: neighbours share a border, and rounding moves it. No source.
const CRUMBS_M2: f64 = 1.0;

/// The pieces that lie on the field: what happened on the land of a neighbour says nothing about it.
///
/// # Errors
/// A place too far from the field's centre for the plane; outlines that meet far too often.
pub(super) fn on_field(
    mut layer: Layer<PlaneXy>,
    boundary: &Layer<PlaneXy>,
    frame: &Frame,
) -> Outcome<Layer<PlaneXy>> {
    let mut overlay = Overlay::default();
    for (_, shape) in outlines(boundary, frame)?.polygons {
        overlay.add(shape);
    }
    let pieces = outlines(&layer, frame)?;
    let mut feature_of = std::collections::BTreeMap::new();
    for ((_, shape), feature) in pieces.polygons.into_iter().zip(pieces.feature_of) {
        feature_of.insert(overlay.add(shape), feature);
    }
    let arrangement = overlay.arrange();
    let mut on_field_m2 = vec![0.0; layer.features.len()];
    // Face 0 is what lies around everything.
    for face in 1..arrangement.faces() as u32 {
        let covering = overlay.covering(&arrangement, face);
        if covering.iter().all(|own| feature_of.contains_key(own)) {
            continue;
        }
        for feature in covering.iter().filter_map(|own| feature_of.get(own)) {
            if let Some(m2) = on_field_m2.get_mut(*feature) {
                *m2 += arrangement.area_m2(face);
            }
        }
    }
    let mut on_field_m2 = on_field_m2.into_iter();
    layer.features.retain(|feature| {
        let m2 = on_field_m2.next().unwrap_or(0.0);
        m2 > CRUMBS_M2 || !matches!(feature.geometry, Geometry::Polygons(_))
    });
    Ok(layer)
}

/// The layer with its classes, for what was placed from a day on; what is older is left out and said.
///
/// # Errors
/// Attributes that a ledger's land has are not there; a date or an amount that is none; a harvest since that day; a date more than a
/// season after it.
pub(super) fn classed(
    mut layer: Layer<PlaneXy>,
    since: &str,
    sowing_date: Option<&str>,
) -> Outcome<(Layer<PlaneXy>, Vec<Finding>)> {
    let sown = sowing_date.and_then(day_number);
    let column = |name: &str| {
        let at = layer.attributes.iter().position(|own| own == name);
        at.ok_or_else(|| {
            Fault::input(
                "plan.placed",
                layer.place(),
                format!("there is no attribute '{name}', which the land of a ledger has"),
                "land that 'twinsow compare --ledger' has written, YEAR.geojson",
                "name that file in `source`, or leave 'placed_since' out for other zones",
            )
        })
    };
    let [what, date, plan, tasks] = [column(WHAT)?, column(DATE)?, column(PLAN)?, column(TASKS)?];
    let logs = layer.attributes.iter().position(|own| own == LOGS);
    let amounts = [
        column(AMOUNTS[0])?,
        column(AMOUNTS[1])?,
        column(AMOUNTS[2])?,
    ];
    let (mut older, mut later) = (0, 0);
    let mut kept = Vec::new();
    for feature in std::mem::take(&mut layer.features) {
        let here = || layer.place().feature(&feature.name);
        let bad = |found: String, allowed: &str| {
            let next = format!(
                "{}correct it there, or delete the piece and run the command again that wrote it ('twinsow compare' or 'twinsow harvest' with --ledger)",
                line_of(&feature.name)
            );
            Fault::input("plan.placed", here(), found, allowed, next)
        };
        let text = |at: usize| {
            let value = feature.values.get(at);
            value
                .map(Value::to_string)
                .unwrap_or_default()
                .trim()
                .to_owned()
        };
        let day = text(date);
        let number = day_number(&day);
        let Some(number) = number else {
            return Err(bad(format!("'{day}' is no date"), "YYYY-MM-DD"));
        };
        let is_old = day_number(since).is_some_and(|since| number < since);
        if day_number(since).is_some_and(|since| number > since + SEASON_DAYS) {
            return Err(Fault::input(
                "plan.placed",
                here(),
                format!("its date is {day}, and the season began on {since} (placed_since)"),
                format!("a date in that season, at most {SEASON_DAYS} days later"),
                format!(
                    "{}if the date is a slip, correct it there and in the row of the CSV beside it; if it is right, the piece is of a later season: set placed_since to the first day of the season of this job",
                    line_of(&feature.name)
                ),
            ));
        }
        if sown.is_some_and(|sown| number > sown) && text(what) == PLACED {
            later += 1;
        }
        match text(what).as_str() {
            PLACED if is_old => older += 1,
            PLACED => {
                let mut placed = [None; 3];
                for ((slot, at), name) in placed.iter_mut().zip(amounts).zip(AMOUNTS) {
                    *slot = match feature.values.get(at) {
                        None | Some(Value::Missing) => None,
                        Some(Value::Integer(number)) => Some(*number as f64),
                        Some(Value::Number(number)) => Some(*number),
                        Some(other) => {
                            return Err(bad(
                                format!("'{name}' is '{other}'"),
                                "a number, or nothing",
                            ));
                        }
                    };
                    if slot.is_some_and(|amount| !(0.0..=MOST_KG_PER_HA).contains(&amount)) {
                        return Err(bad(
                            format!("'{name}' is {}", slot.unwrap_or_default()),
                            "0 to 2000 kg/ha, or nothing where nobody knows",
                        ));
                    }
                }
                // Of several logs the first: no other pass has it.
                let logs = logs.map(text).unwrap_or_default();
                let log = logs.split_whitespace().next().unwrap_or_default();
                let pass = [text(plan), text(tasks), log.to_owned()];
                let class = Placed(placed).class(pass.join(" ").trim_end());
                kept.push((feature, class));
            }
            HARVESTED if is_old => {}
            HARVESTED => {
                return Err(Fault::input(
                    "plan.placed",
                    layer.place().feature(&feature.name),
                    format!("a crop was harvested here on {day}, and placed_since is {since}"),
                    "a day after the last harvest: what the harvested crop got is in the soil index already and is not taken off again",
                    "set placed_since to the first day of the season of this job; if it is a neighbour's land drawn over this field's border, take the layer's source with only = { field = \"...\" }",
                ));
            }
            other => {
                return Err(bad(
                    format!("'{WHAT}' is '{other}'"),
                    "'placed' or 'harvested'",
                ));
            }
        }
    }
    if kept.is_empty() {
        return Err(Fault::input(
            "plan.nothing_placed",
            layer.place(),
            format!(
                "the ledger has no land of this field on which something was placed since {since}"
            ),
            "land with what was placed in the season of this job",
            "name the ledger of the year and the first day of the season; where nothing was placed, take the layer out",
        ));
    }
    layer.attributes = vec![Values::CLASS_ATTRIBUTE.to_owned()];
    layer.features = kept
        .into_iter()
        .map(|(mut feature, class)| {
            feature.values = vec![Value::Text(class)];
            feature
        })
        .collect();
    let mut findings = Vec::new();
    if later > 0 {
        findings.push(Finding::warning(
            "plan.placed_later",
            layer.place(),
            format!(
                "{later} pieces of the ledger's land have a date after the sowing date of this job, {}, and what was placed there comes off its needs all the same: look at both dates",
                sowing_date.unwrap_or_default()
            ),
        ));
    }
    if older > 0 {
        findings.push(Finding::note(
            "plan.placed_before",
            layer.place(),
            format!(
                "{older} pieces of the ledger's land were sown before {since}: an earlier season, which is not taken off",
            ),
        ));
    }
    Ok((layer, findings))
}

/// On which line a piece stands, where its name is its number: the ledger writes one on each line, below the first. In words, with a
/// space behind them; nothing for another name.
fn line_of(feature: &str) -> String {
    match feature
        .parse::<usize>()
        .ok()
        .and_then(|nth| nth.checked_add(1))
    {
        Some(line) => {
            format!("In the file as a ledger writes it, feature {feature} is line {line}: ")
        }
        None => String::new(),
    }
}

/// As much as a need may be in a job.
const MOST_KG_PER_HA: f64 = 2000.0;
