//! One Shapefile per product for terminals that take no task data, and a page on which to use when.

use super::attributes::{Kind, Value};
use super::open_decisions::{OpenLine, open_lines, signed_lines};
use super::product_names::{self, only_rate, product_names};
use super::shapefile::{self, Field};
use super::stamp::Stamp;
use super::taskdata::Variant;
use crate::agronomy::caution::{self, Caution};
use crate::coordinates::LonLat;
use crate::findings::Outcome;
use crate::job::{Job, UnitSystem};
use crate::map::TerminalMap;
use crate::plan::{GateCheck, Plan};
use crate::texts::Words;
use crate::units::{
    acres_from_ha, ha_from_m2, kg_per_ha_from_lb_per_acre, lb_from_kg, lb_per_acre_from_kg_per_ha,
};

/// A file below `terminal/fallback/`.
pub(super) struct File {
    /// Relative, with `/`.
    pub path: String,
    pub bytes: Vec<u8>,
    pub what: String,
}

/// The polygon maps of which no product is held back.
pub(super) fn ready(plan: &Plan) -> impl Iterator<Item = &TerminalMap> {
    let ready = |products: &[usize]| products.iter().all(|&nth| is_ready(plan, nth));
    let maps = plan.maps.rate.terminal.iter();
    maps.filter(move |map| ready(&map.products))
}

/// The five files of the Shapefile of a map: of one product with one number, the rate in the unit of the job's pages, for many
/// terminals take the first number they find; of several with a column for each. Each record is a single polygon.
///
/// # Errors
/// Names or sizes that a Shapefile cannot hold.
pub(super) fn files(plan: &Plan, map: &TerminalMap, stamp: &Stamp) -> Outcome<Vec<File>> {
    let (products, units) = (&plan.job.products, plan.job.report.units);
    let (kind, shown): (Kind, fn(f64) -> f64) = match units {
        UnitSystem::Metric => (Kind::Number, |kg_per_ha| kg_per_ha),
        UnitSystem::UsCustomary => (Kind::Converted, lb_per_acre_from_kg_per_ha),
    };
    let mut stems = product_names::file_stems(&plan.job);
    let stem_of_all = stems.pop().unwrap_or_default();
    let (stem, what, columns) = match map.products.as_slice() {
        [only] => {
            let stem = stems.get(*only).map_or("", String::as_str);
            let name = products.get(*only).map_or("", |of| of.name.as_str());
            let what = format!("{name} as a Shapefile with one rate column");
            (stem, what, vec![only_rate(units).to_string()])
        }
        _ => {
            let what = "all products as a Shapefile with a column for each".to_string();
            (stem_of_all.as_str(), what, columns(&plan.job))
        }
    };
    let fields: Vec<Field> = columns
        .into_iter()
        .map(|name| Field { name, kind })
        .collect();
    let rows: Vec<_> = map
        .zones
        .iter()
        .flat_map(|zone| {
            let rates = || {
                zone.kg_per_ha
                    .iter()
                    .map(|rate| Value::Number(shown(*rate)))
            };
            let parts = zone.polygons.iter().map(std::slice::from_ref);
            parts.map(move |part| (part, rates().collect()))
        })
        .collect();
    let files = shapefile::files(&fields, &rows, stamp)?;
    let file = |(extension, bytes)| File {
        path: format!("shapefile-{stem}/{stem}_{}.{extension}", plan.id),
        bytes,
        what: format!("{what} ({extension})"),
    };
    Ok(files.map(file).into())
}

/// A column name of at most ten characters per product.
fn columns(job: &Job) -> Vec<String> {
    let names = product_names(job).into_iter();
    names
        .map(|own| own.terminal_column.unwrap_or(own.short_column))
        .collect()
}

/// The page `README.txt`: which of the files to use when. `forms` are the forms of task data that lie beside it.
pub(super) fn page(plan: &Plan, forms: &[Variant], gate: &GateCheck) -> String {
    let mut stems = product_names::file_stems(&plan.job);
    let stem_of_all = stems.pop().unwrap_or_default();
    let mut page = format!("Plan {} - {}\r\n\r\n", plan.id, one_line(&plan.job.name));
    let held_back = plan.holds_any_back();
    let several = plan.job.products.len() > 1;
    let units = plan.job.report.units;
    let unit = match units {
        UnitSystem::Metric => "kg/ha",
        UnitSystem::UsCustomary => "lb/ac",
    };
    if plan.spreader_of.is_some() {
        page.push_str(&super::spreader::on_page(plan));
    }
    let open: Vec<String> = open_lines(plan).iter().map(OpenLine::to_string).collect();
    for lines in [open, signed_lines(plan), plan.seedbed_lines()] {
        for line in lines
            .iter()
            .map(String::as_str)
            .chain(lines.first().map(|_| ""))
        {
            page.push_str(&format!("{line}\r\n"));
        }
    }
    if (0..plan.job.products.len()).all(|nth| plan.holds_back(nth)) {
        return page;
    }
    if !held_back {
        page.push_str(&format!(
            "../TASKDATA/\r\n    First choice: copy the folder TASKDATA to the root of the stick. {}\r\n",
            Variant::ready(&plan.job).when(several)
        ));
    }
    if several && !held_back {
        page.push_str("    To run all maps at once, terminal and drill have to control one channel per product.\r\n");
    }
    for (product, own) in plan
        .job
        .products
        .iter()
        .zip(&plan.land.on_terminal.elements)
    {
        page.push_str(&format!(
            "    Hopper '{}' ({}) is {} '{}' of the machine, as the terminal's own task data describe it.\r\n",
            one_line(&product.hopper),
            one_line(&product.name),
            own.id,
            one_line(&own.name)
        ));
    }
    for form in forms {
        page.push_str(&format!(
            "{}/\r\n    {} Copy the folder TASKDATA in it.\r\n",
            form.folder(),
            form.when(several)
        ));
    }
    let products = plan.job.products.iter().zip(&stems).enumerate();
    for (_, (product, stem)) in products.filter(|(nth, _)| is_ready(plan, *nth)) {
        page.push_str(&format!(
            "shapefile-{stem}/\r\n    For a terminal that takes no task data: map of {} in {unit}, column {}.{}\r\n",
            one_line(&product.name),
            only_rate(units),
            match plan.spreader_of {
                None => format!(" Load it for hopper '{}'.", one_line(&product.hopper)),
                Some(_) => String::new(),
            }
        ));
    }
    if several && !held_back {
        page.push_str(&format!(
            "shapefile-{stem_of_all}/\r\n    For a terminal that takes several rates from one file: a column for each product ({}), in {unit}.\r\n",
            columns(&plan.job).join(", ")
        ));
    }
    if plan.spreader_of.is_none() {
        page.push_str(&super::spreader::on_page(plan));
    }
    page.push_str(&checks(plan, gate));
    page.push_str(&match plan.spreader_of {
        None => without_map(plan, unit),
        Some(_) => super::spreader::without_map(unit),
    });
    if plan.job.report.units == UnitSystem::UsCustomary {
        page.push_str(&format!(
            "A Shapefile does not say its unit: 1 lb/ac is {:.3} kg/ha, so a rate read in the wrong one is 12 % out.\r\n",
            kg_per_ha_from_lb_per_acre(1.0)
        ));
    }
    let words = Words::of(&plan.job);
    let first = words.text(&Caution::Defer);
    page.push_str(&format!("\r\nCautions\r\n    {first}\r\n"));
    for said in caution::by_text(&plan.job) {
        let mut names = said.names;
        // A product and what is broadcast for it may have one name.
        names.dedup();
        let names = one_line(&names.join(", "));
        page.push_str(&format!("    {names}: {}\r\n", said.text));
    }
    let at_the_machine = match plan.spreader_of {
        None => Caution::AtTheDrill,
        Some(_) => Caution::AtTheSpreader,
    };
    page.push_str(&format!("    {}\r\n", words.text(&at_the_machine)));
    page
}

/// What to do where no map loads, and before sowing.
fn without_map(plan: &Plan, unit: &str) -> String {
    let mut page = String::new();
    let sums = plan.tally.planned.products.iter().enumerate();
    let sums: Vec<_> = sums.filter(|(nth, _)| is_ready(plan, *nth)).collect();
    if !sums.is_empty() {
        page.push_str("\r\nIf no map loads, one flat rate sows the same total wherever no setback switches the product off:\r\n");
    }
    for (_, sum) in sums {
        page.push_str(&format!(
            "    {}: {}\r\n",
            one_line(&sum.name),
            rate(&plan.job, sum.flat_kg_per_ha)
        ));
    }
    page.push_str(&format!(
        "A flat rate knows no setback: switch a product off by hand where it must be off.\r\n\
         Before sowing, compare the plan id, product, hopper and unit ({unit}) on the screen with this\r\n\
         page, and do a calibration test with the product in the hopper.\r\n",
    ));
    page
}

/// Whether nothing is open about a product.
fn is_ready(plan: &Plan, nth: usize) -> bool {
    !plan.holds_back(nth)
}

/// Gate check, yard test, and where to shut by hand.
fn checks(plan: &Plan, gate: &GateCheck) -> String {
    let mut text = String::new();
    if !gate.places.is_empty() {
        let swapped = if plan.job.products.len() > 1 {
            "swapped products, "
        } else {
            ""
        };
        let shut = match plan.spreader_of {
            None => "with the drill raised",
            Some(_) => "with the spreader shut",
        };
        text.push_str(&format!("\r\nGate check, {shut}: go to each place; the screen has to show these rates. Other rates\r\nmean {swapped}a flipped or shifted map, a wrong unit or an old version: do not sow by it.\r\n"));
    }
    for (nth, place) in gate.places.iter().enumerate() {
        let LonLat { lon, lat } = place.lon_lat;
        text.push_str(&format!(
            "    {}. longitude {lon:.6}, latitude {lat:.6}:",
            nth + 1
        ));
        for (product, kg_per_ha) in plan.job.products.iter().zip(&place.kg_per_ha) {
            let shown = rate(&plan.job, *kg_per_ha);
            text.push_str(&format!(" {} {shown};", one_line(&product.name)));
        }
        text.push_str("\r\n");
    }
    if !gate.misses.is_empty() {
        text.push_str(&format!(
            "    These places do not show: {}. Compare the whole map.\r\n",
            one_line(&gate.misses.join("; "))
        ));
    }
    let yard = match plan.spreader_of {
        None => plan.yard_test(),
        Some(_) => super::spreader::yard_test(plan),
    };
    if !yard.is_empty() {
        text.push_str("\r\nYard test of rate 0:\r\n");
    }
    for line in yard {
        text.push_str(&format!("    {}\r\n", one_line(&line)));
    }
    for land in plan.shut_by_hand() {
        let name = plan
            .job
            .products
            .get(land.product)
            .map_or("", |of| of.name.as_str());
        text.push_str(&format!(
            "\r\nSHUT BY HAND: {} on {} where its rate is 0, see gis/shut-by-hand.geojson. The totals count\r\nnothing there; left open it would sow about {}.\r\n",
            one_line(name),
            area(&plan.job, land.area_m2),
            mass(&plan.job, land.at_stake_kg)
        ));
    }
    text
}

/// A rate in the unit of the job's pages, which is what the terminal shows; the unit of the files beside it.
pub fn rate(job: &Job, kg_per_ha: f64) -> String {
    let metric = format!("{kg_per_ha:.2} kg/ha");
    match job.report.units {
        UnitSystem::Metric => metric,
        UnitSystem::UsCustomary => {
            let shown = lb_per_acre_from_kg_per_ha(kg_per_ha);
            format!("{shown:.1} lb/ac ({metric})")
        }
    }
}

/// Land in the unit of the job's pages.
pub fn area(job: &Job, m2: f64) -> String {
    let ha = ha_from_m2(m2);
    match job.report.units {
        UnitSystem::Metric => format!("{ha:.2} ha"),
        UnitSystem::UsCustomary => format!("{:.2} ac", acres_from_ha(ha)),
    }
}

/// A mass in the unit of the job's pages.
pub fn mass(job: &Job, kg: f64) -> String {
    match job.report.units {
        UnitSystem::Metric => format!("{kg:.0} kg"),
        UnitSystem::UsCustomary => format!("{:.0} lb", lb_from_kg(kg)),
    }
}

/// A text without line breaks and runs of blanks.
pub fn one_line(text: &str) -> String {
    text.split_whitespace().collect::<Vec<_>>().join(" ")
}
