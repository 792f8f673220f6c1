//! Logs as machines write them: several elements, entries and states for one product. What the simulator sowed is what is
//! found, whatever the machine looks like.

mod log_support;

use log_support::*;
use std::sync::OnceLock;
use tempfile::TempDir;
use twinsow::codec::taskdata::{Element, LogColumn};
use twinsow::compare::{Compared, PlanMap, Settings, compare};
use twinsow::read::taskdata;

fn planned() -> &'static TempDir {
    static PLANNED: OnceLock<TempDir> = OnceLock::new();
    PLANNED.get_or_init(|| {
        let folder = tempfile::tempdir().unwrap();
        plan(folder.path());
        folder
    })
}

/// The figures of a set with these logs.
fn figures(
    parts: Vec<Element>,
    children: Vec<Element>,
    logs: &[(Element, Vec<u8>)],
    elements: &[(&str, &str)],
) -> Compared {
    let folder = tempfile::tempdir().unwrap();
    write(folder.path(), parts, task("as driven", children), logs);
    let plan = PlanMap::read(&planned().path().join("plan")).unwrap();
    let set = taskdata::read(&folder.path().join("TASKDATA")).unwrap();
    let settings = Settings {
        elements: elements
            .iter()
            .map(|(element, product)| (element.to_string(), product.to_string()))
            .collect(),
        ..Settings::default()
    };
    match compare(&plan, &set, &settings) {
        Ok(found) => found.figures,
        Err(fault) => panic!("{fault}"),
    }
}

fn near(value: f64, wanted: f64, share: f64) {
    assert!(
        (value - wanted).abs() <= share * wanted.abs() + 1e-9,
        "{value}, not {wanted}"
    );
}

/// Sown by the total, and placed on the land by the rates, of both products.
fn holds(found: &Compared, kg: [f64; 2]) {
    for (product, kg) in found.products.iter().zip(kg) {
        near(product.sown_kg, kg, 2e-3);
        near(product.on_land_kg + product.beyond_kg, kg, 5e-3);
    }
}

fn driven() -> Vec<Moment> {
    drive(&whole(), 0.0, &mut Noise(7), 0.0)
}

fn both() -> Vec<Element> {
    vec![allocated("PDT1", "DET2"), allocated("PDT2", "DET3")]
}

#[test]
fn totals_are_those_of_their_elements() {
    let moments = driven();
    let kg = kilograms(&moments);
    // Two elements of barley, each with a total of its own in kilograms: half the field's west, half its east.
    let half = |element: &str, first: bool| {
        column(81, element, move |own, kg| {
            // Barley of the western half is metered by the first, and then the other goes on.
            let west = own.bout < BOUTS / 2;
            let half_kg = 340.0;
            match first {
                true if west => kg[0].min(half_kg).round() as i32,
                true => half_kg as i32,
                false => (kg[0] - half_kg).max(0.0).round() as i32,
            }
        })
    };
    let mut columns = vec![
        down("DET1"),
        rate("DET2", 0),
        rate("DET3", 1),
        grams("DET3", 1),
    ];
    columns.extend([half("DET2", true), half("DET4", false)]);
    let parts = vec![machine(&[
        ("DET1", 1, 1, 0, None),
        ("DET5", 5, 2, 1, None),
        ("DET2", 2, 3, 5, None),
        ("DET4", 4, 3, 5, None),
        ("DET3", 3, 3, 1, None),
    ])];
    let mut children = both();
    children.push(allocated("PDT1", "DET4"));
    let found = figures(parts, children, &[log(&columns, &moments)], &[]);
    near(found.products[0].sown_kg, kg[0], 3e-3);
    near(found.products[1].sown_kg, kg[1], 2e-3);
}

#[test]
fn one_entry_counts_per_element_the_finest_mass_first() {
    let moments = driven();
    let kg = kilograms(&moments);
    let kilo =
        |ddi: u16, per_kg: f64| column(ddi, "DET2", move |_, kg| (kg[0] * per_kg).round() as i32);
    // Kilograms beside grams; litres beside kilograms; millilitres, seeds; an entry that stays at 0 counts last.
    for more in [
        vec![kilo(81, 1.0), kilo(352, 1000.0)],
        vec![kilo(352, 1000.0), kilo(81, 1.0)],
        vec![kilo(80, 1.0 / 0.7), kilo(81, 1.0)],
        vec![kilo(351, 1000.0 / 0.7), kilo(80, 1.0 / 0.7)],
        vec![kilo(82, 20_000.0), kilo(351, 1000.0 / 0.7)],
        vec![kilo(352, 0.0), kilo(81, 1.0)],
    ] {
        let mut columns = vec![
            down("DET1"),
            rate("DET2", 0),
            rate("DET3", 1),
            grams("DET3", 1),
        ];
        columns.extend(more);
        let found = figures(Vec::new(), both(), &[log(&columns, &moments)], &[]);
        holds(&found, kg);
    }
}

#[test]
fn a_total_above_counts_once_and_one_over_both_products_not_at_all() {
    let moments = driven();
    let kg = kilograms(&moments);
    let parts = || {
        vec![machine(&[
            ("DET1", 1, 1, 0, None),
            ("DET5", 5, 2, 1, None),
            ("DET2", 2, 3, 5, None),
            ("DET6", 6, 2, 1, None),
            ("DET3", 3, 3, 6, None),
        ])]
    };
    // The rate on the function above the bin, totals on both, and a total of everything on the device.
    let columns = vec![
        down("DET1"),
        rate("DET5", 0),
        rate("DET6", 1),
        grams("DET5", 0),
        grams("DET2", 0),
        grams("DET3", 1),
        column(81, "DET1", |_, kg| (kg[0] + kg[1]).round() as i32),
    ];
    let found = figures(parts(), both(), &[log(&columns, &moments)], &[]);
    holds(&found, kg);
    let said = format!("{:?}", found.findings);
    assert!(
        said.contains("elements of several products hang on it"),
        "{said}"
    );
    assert!(!said.contains("by its order"), "{said}");
}

#[test]
fn a_state_belongs_to_its_element() {
    // The starter is off in every second bout; both elements have condensed states of their one section.
    let mut moments = driven();
    for own in &mut moments {
        own.on[1] &= own.bout % 2 == 0;
    }
    let kg = kilograms(&moments);
    let state = |element: &'static str, product: usize| {
        column(161, element, move |own, _| {
            let on = own.down && own.on[product];
            // One section is installed; 3 says that the others are not.
            if on { -3_i32 } else { -4_i32 }
        })
    };
    let set = |element: &'static str, product: usize| {
        // The set rate stays while the state shuts the meter.
        column(7, element, move |own, _| {
            (own.rate[product] * 100.0).round() as i32
        })
    };
    let mut columns = vec![
        set("DET2", 0),
        set("DET3", 1),
        grams("DET2", 0),
        grams("DET3", 1),
    ];
    columns.extend([state("DET2", 0), state("DET3", 1)]);
    let found = figures(Vec::new(), both(), &[log(&columns, &moments)], &[]);
    holds(&found, kg);
    assert!(
        found.missed_m2 < 0.005 * found.planned_m2,
        "{}",
        found.missed_m2
    );
    // The same by single work states.
    let single = |element: &'static str, product: usize| {
        column(141, element, move |own, _| {
            i32::from(own.down && own.on[product])
        })
    };
    columns.truncate(4);
    columns.extend([single("DET2", 0), single("DET3", 1)]);
    let found = figures(Vec::new(), both(), &[log(&columns, &moments)], &[]);
    holds(&found, kg);
    assert!(
        found.missed_m2 < 0.005 * found.planned_m2,
        "{}",
        found.missed_m2
    );
}

#[test]
fn a_section_with_a_state_of_its_own_is_shut_by_it() {
    // Two sections of 3 m below the function; the right one is shut in the last bout.
    let mut moments = driven();
    for own in moments.iter_mut().filter(|own| own.bout == BOUTS - 1) {
        own.open = [match own.north {
            true => [0.0, 0.5],
            false => [0.5, 1.0],
        }; 2];
    }
    let kg = kilograms(&moments);
    let section = |element: &'static str, right: bool| {
        column(141, element, move |own, _| {
            let [from, to] = own.open[0];
            i32::from(own.down && if right { to > 0.75 } else { from < 0.25 })
        })
    };
    let mut columns = common();
    columns.extend([section("DET7", false), section("DET8", true)]);
    // Their description has the right one first: the places decide.
    let parts = vec![machine(&[
        ("DET1", 1, 1, 0, None),
        ("DET5", 5, 2, 1, None),
        ("DET2", 2, 3, 5, None),
        ("DET3", 3, 3, 5, None),
        ("DET8", 8, 4, 5, Some([3000, 1500])),
        ("DET7", 7, 4, 5, Some([3000, -1500])),
    ])];
    let found = figures(parts, both(), &[log(&columns, &moments)], &[]);
    holds(&found, kg);
    // Going north the left half is the western one: on both headings the west was sown and the east missed.
    near(found.missed_m2, HIGH_M * DRILL_M / 2.0, 0.02);
    assert!(found.twice_m2 < 0.003 * found.planned_m2);
}

#[test]
fn rates_of_several_elements_add_up_by_width() {
    let moments = driven();
    let kg = kilograms(&moments);
    let share = |element: &'static str, times: f64| {
        column(7, element, move |own, _| {
            (own.rate[0] * times * 100.0).round() as i32
        })
    };
    let columns = |times: [f64; 2]| {
        vec![
            down("DET1"),
            share("DET2", times[0]),
            share("DET4", times[1]),
            rate("DET3", 1),
        ]
    };
    let mut children = both();
    children.push(allocated("PDT1", "DET4"));
    // Side by side, 2 m and 4 m wide, 1.5 and 0.75 times the rate.
    let parts = |first: [i32; 2], second: [i32; 2]| {
        vec![machine(&[
            ("DET1", 1, 1, 0, None),
            ("DET2", 2, 2, 1, Some(first)),
            ("DET4", 4, 2, 1, Some(second)),
            ("DET3", 3, 2, 1, None),
        ])]
    };
    let beside = parts([2000, -2000], [4000, 1000]);
    let found = figures(
        beside,
        children.clone(),
        &[log(&columns([1.5, 0.75]), &moments)],
        &[],
    );
    holds(&found, kg);
    // One over the other, both as wide as the drill: their rates add up.
    let over = parts([6000, 0], [6000, 0]);
    let found = figures(
        over,
        children.clone(),
        &[log(&columns([0.25, 0.75]), &moments)],
        &[],
    );
    holds(&found, kg);
    // Nobody says how wide: equal parts, and that is said.
    let found = figures(
        Vec::new(),
        children,
        &[log(&columns([1.5, 0.5]), &moments)],
        &[],
    );
    holds(&found, kg);
    let said = format!("{:?}", found.findings);
    assert!(said.contains("equal parts"), "{said}");
}

#[test]
fn an_idle_third_meter_is_left_out() {
    let moments = driven();
    let kg = kilograms(&moments);
    let mut columns = common();
    columns.extend([
        column(7, "DET9", |_, _| 0),
        column(81, "DET9", |_, _| 12),
        column(141, "DET9", |_, _| 0),
    ]);
    let found = figures(Vec::new(), both(), &[log(&columns, &moments)], &[]);
    holds(&found, kg);
    // One that runs has to be said, and may be left out.
    columns.push(column(2, "DET10", |_, _| 1_000_000));
    let found = figures(
        Vec::new(),
        both(),
        &[log(&columns, &moments)],
        &[("DET10", "none")],
    );
    holds(&found, kg);
}

#[test]
fn rates_by_time_and_sources_are_read() {
    let mut moments = driven();
    for own in &mut moments {
        own.mode = match own.bout {
            0..10 => 5,
            10..15 => 2,
            15..20 => 3,
            _ => 1,
        };
    }
    let kg = kilograms(&moments);
    // mg/s, and mm3/s of the starter.
    let columns: Vec<(LogColumn, Value)> = vec![
        down("DET1"),
        column(42, "DET2", |own, _| (own.kg_per_s(0) * 1e6).round() as i32),
        column(37, "DET3", |own, _| {
            (own.kg_per_s(1) / 0.95 * 1e6).round() as i32
        }),
        mode("DET2"),
        column(158, "DET3", |own, _| i32::from(own.mode == 1)),
    ];
    let found = figures(Vec::new(), both(), &[log(&columns, &moments)], &[]);
    holds(&found, kg);
    let field = WIDE_M * HIGH_M;
    let from = &found.products[0].rates_from;
    near(from.hand_m2, field / 4.0, 1e-3);
    near(from.default_m2, field / 8.0, 1e-3);
    near(from.position_lost_m2, field / 8.0, 1e-3);
    near(from.map_m2, field / 2.0, 1e-3);
    near(found.products[1].rates_from.hand_m2, field / 2.0, 1e-3);
}

#[test]
fn the_totals_of_the_task_count_where_no_log_has_any() {
    let moments = driven();
    let kg = kilograms(&moments);
    let columns = vec![down("DET1"), rate("DET2", 0), rate("DET3", 1)];
    let noted = |start: &str, share: f64| {
        let value = |element: &str, kg: f64| {
            Element::new("DLV")
                .with("A", "0160")
                .with("B", (kg * share * 1000.0).round())
                .with("C", element)
        };
        Element::new("TIM")
            .with("A", start)
            .with("B", start)
            .with("D", 4)
            .child(value("DET2", kg[0]))
            .child(value("DET3", kg[1]))
    };
    // The total goes on from one time to the next; a fifth was sown while nothing was logged.
    let mut children = both();
    children.extend([
        noted("2026-10-02T12:00:00", 1.25),
        noted("2026-10-02T08:00:00", 0.5),
    ]);
    let found = figures(Vec::new(), children, &[log(&columns, &moments)], &[]);
    for (product, kg) in found.products.iter().zip(kg) {
        near(product.sown_kg, 1.25 * kg, 1e-4);
        near(product.on_land_kg + product.beyond_kg, kg, 5e-3);
        near(product.not_placed_kg.unwrap(), 0.25 * kg, 2e-2);
    }
}

/// Leaves a log with what is found in it for another reader of the standard: tests/interop/taskdata_js/logs.js.
#[test]
fn a_log_is_left_for_another_reader() {
    let folder = std::path::Path::new(env!("CARGO_TARGET_TMPDIR")).join("simulated-log");
    std::fs::create_dir_all(&folder).unwrap();
    let moments = drive(&whole(), 0.0, &mut Noise(11), 0.02);
    // Both logs count from 0: two halves of a day.
    let (west, east) = moments.split_at(moments.len() / 2);
    let logs = [log(&common(), west), log(&common(), east)];
    write(&folder, Vec::new(), task("as driven", both()), &logs);
    let plan = planned().path().join("plan");
    let out = run(
        &folder,
        &["compare", plan.to_str().unwrap(), "TASKDATA", "--json"],
    );
    assert_eq!(out.status.code(), Some(0), "{}", text(&out.stderr));
    let found: serde_json::Value = serde_json::from_slice(&out.stdout).unwrap();
    for (product, kg) in found["products"]
        .as_array()
        .unwrap()
        .iter()
        .zip(kilograms(&moments))
    {
        near(product["sown_kg"].as_f64().unwrap(), kg, 2e-3);
    }
    std::fs::write(folder.join("compared.json"), &out.stdout).unwrap();
}

/// One CSV a year: its kilograms are those of the log, a second comparison replaces its rows, and what is no ledger is left alone.
#[test]
fn the_ledger_adds_up_and_counts_nothing_twice() {
    let folder = tempfile::tempdir().unwrap();
    let moments = drive(&whole(), 0.0, &mut Noise(11), 0.02);
    write(
        folder.path(),
        Vec::new(),
        task("=as driven", both()),
        &[log(&common(), &moments)],
    );
    let plan = planned().path().join("plan");
    let compared = || {
        let arguments = [
            "compare",
            plan.to_str().unwrap(),
            "TASKDATA",
            "--ledger",
            "ledger",
        ];
        run(folder.path(), &arguments)
    };
    assert_eq!(compared().status.code(), Some(0));
    // Day 17000 from 1 January 1980 is 18 July 2026 (Python: date(1980, 1, 1) + timedelta(17000)).
    let file = folder.path().join("ledger/2026.csv");
    let once = std::fs::read_to_string(&file).unwrap();
    assert_eq!(compared().status.code(), Some(0));
    assert_eq!(std::fs::read_to_string(&file).unwrap(), once);
    let mut reader = csv::Reader::from_reader(once.as_bytes());
    let header = reader.headers().unwrap().clone();
    let column = |name: &str| header.iter().position(|own| own == name).unwrap();
    let (mut kg, mut phosphate_kg) = ([0.0; 2], 0.0);
    for row in reader.records().map(Result::unwrap) {
        assert_eq!(&row[column("date")], "2026-07-18");
        let number = |name: &str| row[column(name)].parse::<f64>().unwrap();
        kg[usize::from(&row[column("product")] == "starter")] += number("kg");
        // Nobody knows what seed brings: blank.
        if &row[column("product")] == "starter" {
            phosphate_kg += number("p2o5_kg");
        }
    }
    for (kg, wanted) in kg.into_iter().zip(kilograms(&moments)) {
        near(kg, wanted, 2e-3);
    }
    near(phosphate_kg, 0.46 * kg[1], 1e-4);
    std::fs::write(&file, "a,b\n1,2\n").unwrap();
    let refused = compared();
    assert_eq!(refused.status.code(), Some(2));
    assert!(
        text(&refused.stderr).contains("2026.csv:1"),
        "{}",
        text(&refused.stderr)
    );
    assert_eq!(std::fs::read_to_string(&file).unwrap(), "a,b\n1,2\n");
}
