//! README.txt of a stick: which form to take, and what to look at on the screen, field by field.

use super::field::{Field, count};
use super::record::{OnStick, Record, Replaced};
use super::together::Made;
use crate::agronomy::caution::{self, Caution, Hazard};
use crate::agronomy::seedbed;
use crate::coordinates::LonLat;
use crate::document::MADE_BY;
use crate::tally::ProductTally;
use crate::texts::Words;
use crate::write::{NEVER_TOGETHER, area, mass, one_line, rate, when_to_use};
use std::collections::BTreeMap;

/// A form for the page.
pub(super) struct FormOnPage {
    pub form: String,
    pub parts: usize,
    pub fields: usize,
}

/// The page, lines ending as the simplest editors want them.
pub(super) fn text(fields: &[Field], made: &Made, forms: &[FormOnPage]) -> String {
    let several = fields.iter().any(|field| field.plan.job.products.len() > 1);
    let mut lines = vec![
        format!(
            "{}, made {} by {MADE_BY}",
            counted(count(fields), "field", "fields"),
            made.record.made_at
        ),
        String::new(),
        "Take one form only: each has ids of its own, so a second one lists every field again.".to_owned(),
        "If a folder TASKDATA lies on the stick, move it away first: it may hold what the terminal has logged.".to_owned(),
    ];
    if is_spreaders(fields) {
        lines.splice(
            0..0,
            [
                "FOR THE SPREADER ALONE. Never copy it to a stick with the drill's TASKDATA:"
                    .to_owned(),
                format!("{NEVER_TOGETHER}."),
                String::new(),
            ],
        );
    }
    for (nth, form) in forms.iter().enumerate() {
        lines.extend(of_form(form, nth == 0, several, fields.len()));
    }
    if several {
        lines.push(String::new());
        lines.push("To run all maps of a task at once, terminal and drill have to control one channel per product.".to_owned());
    }
    lines.extend(replaced(&made.record.replaced));
    lines.extend(seedbeds(fields));
    lines.extend(two_units(&made.record));
    lines.extend(on_screen(fields, &made.record.fields, made.parts));
    if !made.same_name.is_empty() {
        lines.push(String::new());
        lines.push(
            "One name, several products. The terminal lists each; the task names its own."
                .to_owned(),
        );
    }
    for same in &made.same_name {
        lines.push(format!(
            "    {}: {}; {}",
            one_line(&same.name),
            same.ids.join(", "),
            same.differs()
        ));
    }
    lines.extend(cautions(fields));
    let mut text = lines.join("\r\n");
    text.push_str("\r\n");
    text
}

/// Tasks that the terminal may still have of earlier plans.
fn replaced(all: &[Replaced]) -> Vec<String> {
    if all.is_empty() {
        return Vec::new();
    }
    let mut lines = vec![
        String::new(),
        "REPLACED: do not sow by a task that begins with one of these plan ids. If the terminal still lists it and nothing was sown by it, delete it there;".to_owned(),
        "if something was sown by it, keep it until its log is read, and plan the rest.".to_owned(),
    ];
    for own in all {
        let day = own.at.get(..10).unwrap_or(&own.at);
        lines.push(format!(
            "    {}, {}: by {} on {day}",
            own.plan,
            one_line(&own.field),
            own.by
        ));
    }
    lines
}

/// Which fields the screen shows in which unit, where their jobs have two.
fn two_units(record: &Record) -> Vec<String> {
    let all = record.by_units();
    if all.len() < 2 {
        return Vec::new();
    }
    let mut lines = vec![
        String::new(),
        "TWO UNITS: the screen shows some of these fields in one and some in the other. Look at the unit before the number.".to_owned(),
    ];
    for (units, fields) in all {
        lines.push(format!("    {units}: {}", one_line(&fields.join(", "))));
    }
    lines
}

/// How to choose where a field has two maps, and which field has only one of them here.
fn seedbeds(fields: &[Field]) -> Vec<String> {
    let one_of_two = |field: &Field| Some((field.plan.seedbed.clone()?, field.words()));
    let all: Vec<_> = fields.iter().filter_map(one_of_two).collect();
    if all.is_empty() {
        return Vec::new();
    }
    let mut lines = vec![
        String::new(),
        "MOIST or DRY: two maps of one field".to_owned(),
    ];
    lines.extend(seedbed::how_to_choose().map(|line| format!("    {line}")));
    for (own, words) in &all {
        if !fields.iter().any(|field| field.plan.id == own.other_plan) {
            let words = one_line(words);
            lines.push(format!("    {words}: {}", seedbed::only_one(own.moisture)));
        }
    }
    lines
}

/// Whether these are plans of a spreader: a stick holds those of one machine.
fn is_spreaders(fields: &[Field]) -> bool {
    fields.iter().any(|field| field.plan.spreader_of.is_some())
}

fn of_form(form: &FormOnPage, first: bool, several: bool, all: usize) -> Vec<String> {
    let top = match first {
        true => String::new(),
        false => format!("fallback/{}/", form.form),
    };
    let when = when_to_use(&form.form, several).unwrap_or_default();
    let lead = match (first, form.fields == all) {
        (true, _) => "First choice. ".to_owned(),
        (false, true) => String::new(),
        (false, false) => format!("{} of {all} fields only. ", form.fields),
    };
    let mut lines = vec![String::new()];
    match form.parts {
        1 => {
            lines.push(format!("{top}TASKDATA/"));
            lines.push(format!(
                "    {lead}{when} Copy the folder TASKDATA to the root of the stick."
            ));
        }
        parts => {
            lines.push(format!("{top}part-1/ to {top}part-{parts}/"));
            lines.push(format!(
                "    {lead}{when} The terminal does not hold all fields at once: copy the folder TASKDATA of one part, import it, then the next."
            ));
        }
    }
    lines
}

/// What the screen has to show for each field.
fn on_screen(fields: &[Field], on_stick: &[OnStick], parts: usize) -> Vec<String> {
    let spreader = is_spreaders(fields);
    let [first, second, last] = match spreader {
        false => [
            "What to look at on the screen, field by field, with the drill raised: the plan id at the front of the task's name, the",
            "products and their hoppers, the unit, and at the place named the rates. If one of them differs, do not sow by that map.",
            "Do a calibration test with the product in the hopper before sowing.",
        ],
        true => [
            "What to look at on the screen, field by field, with the spreader shut: the plan id at the front of the task's name, the",
            "product, the unit, and at the place named the rates. If one of them differs, do not spread by that map.",
            "Set the spreader by its table for the product, and test flow and spread across the width before spreading.",
        ],
    };
    let mut lines = vec![String::new(), first.to_owned(), second.to_owned()];
    let known: BTreeMap<&str, &OnStick> = on_stick
        .iter()
        .map(|own| (own.plan.as_str(), own))
        .collect();
    for field in fields {
        let job = &field.plan.job;
        let part = known.get(field.plan.id.as_str()).map_or(0, |own| own.part);
        let part = match parts > 1 {
            true => format!(", part {part}"),
            false => String::new(),
        };
        lines.push(String::new());
        lines.push(format!(
            "{}: plan {}, {}{part}",
            one_line(&field.words_with_seedbed()),
            field.plan.id,
            area(job, field.plan.tally.mapped_m2)
        ));
        let each = field
            .plan
            .tally
            .products
            .iter()
            .zip(&field.plan.terminal.products);
        for (of, on_terminal) in each {
            let meter = on_terminal.element.as_ref();
            let meter = meter.map_or(String::new(), |id| format!(", meter {id}"));
            let lot = of
                .lot
                .as_ref()
                .map_or(String::new(), |lot| format!(", lot {}", one_line(lot)));
            let hopper = match spreader {
                true => String::new(),
                false => format!(", hopper '{}'", one_line(&of.hopper)),
            };
            lines.push(format!(
                "    {}{lot}{hopper}{meter}: {} to {}, {} on the map{}",
                one_line(&of.name),
                rate(job, of.lowest_kg_per_ha),
                rate(job, of.highest_kg_per_ha),
                mass(job, of.map_kg()),
                match spreader {
                    true => String::new(),
                    false => format!("; flat rate without a map {}", rate(job, of.flat_kg_per_ha)),
                }
            ));
        }
        for place in &field.plan.gate_check {
            let LonLat { lon, lat } = place.lon_lat;
            let rates = job.products.iter().zip(&place.kg_per_ha);
            let rates = rates
                .map(|(product, kg)| format!("{} {}", one_line(&product.name), rate(job, *kg)));
            lines.push(format!(
                "    at longitude {lon:.6}, latitude {lat:.6}: {}",
                rates.collect::<Vec<_>>().join(", ")
            ));
        }
        lines.extend(one_map(field));
        for shut in &field.plan.shut_by_hand {
            let name = job
                .products
                .iter()
                .find(|product| product.id == shut.product);
            lines.push(format!(
                "    SHUT BY HAND: {} on {} where its rate is 0, see gis/shut-by-hand.geojson of the plan; left open it would sow about {}",
                one_line(name.map_or(&shut.product, |product| &product.name)),
                area(job, shut.area_m2),
                mass(job, shut.at_stake_kg)
            ));
        }
        if spreader {
            lines.push("    Without the map spread no flat rate: it would also spread where nothing is wanted.".to_owned());
        } else if !job.setbacks.is_empty() {
            lines.push("    A flat rate knows no setback: without the map, switch a product off by hand where it must be off.".to_owned());
        }
    }
    lines.push(String::new());
    lines.push(last.to_owned());
    lines
}

/// Which product to map where the terminal runs one map only: one that has to be off somewhere, else the one whose rates are
/// furthest apart for their height.
fn one_map(field: &Field) -> Option<String> {
    let (job, products) = (&field.plan.job, &field.plan.tally.products);
    if products.len() < 2 {
        return None;
    }
    let has_setback =
        |of: &ProductTally| job.setbacks.iter().any(|own| own.products.contains(&of.id));
    let apart = |of: &ProductTally| match of.flat_kg_per_ha > 0.0 {
        true => (of.highest_kg_per_ha - of.lowest_kg_per_ha) / of.flat_kg_per_ha,
        false => 0.0,
    };
    let first = |a: &&ProductTally, b: &&ProductTally| {
        let by_setback = has_setback(a).cmp(&has_setback(b));
        by_setback.then(apart(a).total_cmp(&apart(b)))
    };
    // Of equals the first in the job: the largest of the list read backwards.
    let mapped = products.iter().rev().max_by(first)?;
    let others = products.iter().filter(|of| of.id != mapped.id);
    let others: Vec<String> = others
        .map(|of| format!("{} {}", one_line(&of.name), rate(job, of.flat_kg_per_ha)))
        .collect();
    let why = match has_setback(mapped) {
        true => "it has to be off where a setback is",
        false => "its rates are furthest apart",
    };
    Some(format!(
        "    if the terminal runs one map only: map {}, for {why}; flat: {}",
        one_line(&mapped.name),
        others.join(", ")
    ))
}

/// Each caution once, with the products that it is about: in English as the rest of the page, whatever the languages of the jobs.
fn cautions(fields: &[Field]) -> Vec<String> {
    let words = Words::default();
    let mut by_hazard: Vec<(Hazard, Vec<String>)> = Vec::new();
    for of in fields
        .iter()
        .flat_map(|field| caution::cautions(&field.plan.job))
    {
        for hazard in of.hazards {
            let at = by_hazard.iter().position(|(known, _)| *known == hazard);
            let at = at.unwrap_or_else(|| {
                by_hazard.push((hazard, Vec::new()));
                by_hazard.len() - 1
            });
            if let Some((_, names)) = by_hazard
                .get_mut(at)
                .filter(|(_, names)| !names.contains(&of.name))
            {
                names.push(of.name.clone());
            }
        }
    }
    let first = words.text(&Caution::Defer);
    let mut lines = vec![String::new(), "Cautions".to_owned(), format!("    {first}")];
    for (hazard, names) in by_hazard {
        let text = hazard.text(words);
        lines.push(format!("    {}: {text}", one_line(&names.join(", "))));
    }
    let at_the_machine = match is_spreaders(fields) {
        true => Caution::AtTheSpreader,
        false => Caution::AtTheDrill,
    };
    lines.push(format!("    {}", words.text(&at_the_machine)));
    lines
}

/// A number with its word.
fn counted(count: usize, one: &str, several: &str) -> String {
    match count {
        1 => format!("1 {one}"),
        count => format!("{count} {several}"),
    }
}
