//! A moist and a dry map of one field, where the seedbed is known on the day of sowing only: what is planned, ordered, held
//! back, put on a stick and compared.

mod plan_support;

use plan_support::{Made, PLACE, collection, feature, rectangle, said};
use proptest::prelude::*;
use proptest::test_runner::{RngSeed, TestRunner};
use std::cell::Cell;
use std::fs;
use std::path::Path;
use std::process::Output;
use twinsow::codec::taskdata::{Element, LogColumn, LogRecord, encode_log, parse};
use twinsow::job::{Job, Moisture};
use twinsow::plan::{self, Disk, Options, Plan};
use twinsow::read::taskdata;
use twinsow::tally::{Step, StepName};

/// What a job varies in.
#[derive(Debug, Clone)]
struct Case {
    kg_per_ha: [f64; 2],
    texture: [&'static str; 2],
    table: Option<&'static str>,
    crop: &'static str,
    rows: u32,
    spread_m: f64,
    twice: bool,
    own_kg_per_ha: Option<f64>,
    second_kg_per_ha: Option<f64>,
    reserve_percent: f64,
    pack_kg: Option<f64>,
    own_balance: bool,
}

const PLAIN: Case = Case {
    kg_per_ha: [150.0, 90.0],
    texture: ["medium", "medium"],
    table: Some("manitoba_phosphate"),
    crop: "barley",
    rows: 48,
    spread_m: 0.03,
    twice: false,
    own_kg_per_ha: Some(50.0),
    second_kg_per_ha: None,
    reserve_percent: 3.0,
    pack_kg: Some(25.0),
    own_balance: true,
};

fn text(of: &Case, seedbed: &str) -> String {
    let spacing = 6.0 / f64::from(of.rows);
    let table = of
        .table
        .map_or(String::new(), |name| format!("table = \"{name}\"\n"));
    let pack = of
        .pack_kg
        .map_or(String::new(), |kg| format!("pack_kg = {kg}\n"));
    let balance = match of.own_balance {
        true => "balance = { name = \"broadcast\", grade = { p2o5_percent = 46 }, pack_kg = 50 }\n",
        false => "",
    };
    let grade = "{ n_percent = 12, p2o5_percent = 52 }";
    let own = of.own_kg_per_ha.map_or(String::new(), |kg| {
        format!(
            "[[own_seed_limit]]\nproduct = \"starter\"\nmax_kg_per_ha = {kg}\ncrop = \"{}\"\nrow_spacing_m = 0.3\nspread_m = 0.01\ntexture = \"light\"\n\
             dry = true\nform = \"monoammonium_phosphate\"\ngrade = {grade}\nbecause = \"drawn\"\nby = \"nobody\"\non = \"2031-01-15\"\n",
            of.crop
        )
    });
    let (hopper, second) = match of.second_kg_per_ha {
        None => ("front\"", String::new()),
        Some(kg) => (
            "box\"\nsurface_applied = true",
            format!(
                "[[product]]\nid = \"second\"\nname = \"second\"\nkind = \"fertiliser\"\nhopper = \"front\"\nform = \"triple_superphosphate\"\n\
                 grade = {{ p2o5_percent = 46 }}\nrate = {{ kg_per_ha = {kg} }}\n"
            ),
        ),
    };
    let seed = if of.crop == "canola" { 5.0 } else { 150.0 };
    format!(
        "name = \"Shoal\"\n{seedbed}\n[field]\nname = \"Shoal\"\nfarm = \"Low Farm\"\nboundary = {{ file = \"boundary.geojson\" }}\n\
         [headland]\nbouts = 1\nsown_twice = {twice}\n\
         [[layer]]\nname = \"soil\"\nsource = {{ file = \"soil.geojson\" }}\nclass_attribute = \"soil\"\n\
         [drill]\nworking_width_m = 6\nrows = {rows}\nrow_spacing_m = {spacing}\n\
         [[drill.hopper]]\nname = \"front\"\nusable_l = 900\n[[drill.hopper]]\nname = \"rear\"\nusable_l = 900\n[[drill.hopper]]\nname = \"box\"\nusable_l = 100\n\
         [[product]]\nid = \"seed\"\ncrop = \"{crop}\"\nname = \"Seed\"\nkind = \"seed\"\nhopper = \"{hopper}\nrate = {{ kg_per_ha = {seed} }}\n\
         [[product]]\nid = \"starter\"\nname = \"Starter\"\nkind = \"fertiliser\"\nhopper = \"rear\"\nform = \"monoammonium_phosphate\"\ngrade = {grade}\n{pack}{balance}\
         rate = {{ kg_per_ha = {{ layer = \"soil\", by_class = {{ a = {a}, b = {b} }} }} }}\n{second}\
         [[seed_safe]]\n{table}crop = \"{crop}\"\nspread_m = {spread}\ntexture_by_class = {{ layer = \"soil\", by_class = {{ a = \"{ta}\", b = \"{tb}\" }} }}\n{own}\
         [order]\nreserve_percent = {reserve}\n",
        twice = of.twice,
        rows = of.rows,
        crop = of.crop,
        a = of.kg_per_ha[0],
        b = of.kg_per_ha[1],
        ta = of.texture[0],
        tb = of.texture[1],
        spread = of.spread_m,
        reserve = of.reserve_percent,
    )
}

const NOT_KNOWN: &str = "seedbed = \"not_known\"";

fn field() -> Made {
    let made = Made::new();
    let whole = feature(PLACE, "", &rectangle([0.0, 0.0], [120.0, 90.0]));
    made.write("boundary.geojson", collection(&[whole]));
    let zone = |class: &str, west: f64, east: f64| {
        let shape = rectangle([west, -10.0], [east, 100.0]);
        feature(PLACE, &format!(r#""soil":"{class}""#), &shape)
    };
    let zones = [zone("a", -10.0, 50.0), zone("b", 50.0, 130.0)];
    made.write("soil.geojson", collection(&zones));
    made
}

fn both(made: &Made, of: &Case) -> [Plan; 2] {
    let text = text(of, NOT_KNOWN);
    let job = Job::parse(&text, &made.path().join("job.toml"))
        .unwrap_or_else(|fault| panic!("{fault}\n{text}"));
    let plans = plan::plans(&job, &Disk, &Options::rates_only());
    let plans = plans.unwrap_or_else(|fault| panic!("{fault}\n{text}"));
    match plans.try_into() {
        Ok(both) => both,
        Err(other) => panic!("{} plans", Vec::len(&other)),
    }
}

fn before_packs(steps: &[Step], with_other: bool) -> f64 {
    let own = steps.iter().filter(|step| match step.step {
        StepName::Packs => false,
        StepName::OtherSeedbed => with_other,
        _ => true,
    });
    own.map(|step| step.kg).sum()
}

fn case() -> impl Strategy<Value = Case> {
    let table = prop_oneof![
        Just(None),
        Just(Some("manitoba_phosphate")),
        Just(Some("saskatchewan_phosphate")),
        Just(Some("montana_phosphate_canola_dry"))
    ];
    let texture = || prop_oneof![Just("light"), Just("medium"), Just("heavy")];
    (
        (0.0..250.0_f64, 0.0..250.0_f64, texture(), texture(), table),
        (
            prop_oneof![Just("barley"), Just("wheat"), Just("canola")],
            prop_oneof![Just(48_u32), Just(40), Just(32)],
            0.02..0.05_f64,
            any::<bool>(),
        ),
        (
            prop::option::of(20.0..200.0_f64),
            prop::option::of(5.0..80.0_f64),
            prop_oneof![Just(0.0), Just(3.0)],
            prop::option::of(Just(25.0)),
            any::<bool>(),
        ),
    )
        .prop_map(
            |(
                (a, b, ta, tb, table),
                (crop, rows, spread_m, twice),
                (own_kg_per_ha, second_kg_per_ha, reserve_percent, pack_kg, own_balance),
            )| Case {
                kg_per_ha: [a, b],
                texture: [ta, tb],
                table,
                crop,
                rows,
                spread_m,
                twice,
                own_kg_per_ha,
                second_kg_per_ha,
                reserve_percent,
                pack_kg,
                own_balance,
            },
        )
}

/// On every land unit, as the flat rate and where the position is lost; and the order of each holds what either needs.
#[test]
fn a_dry_seedbed_never_gets_more_and_either_order_covers_both() {
    let made = field();
    let config = ProptestConfig {
        cases: 150,
        failure_persistence: None,
        rng_seed: RngSeed::Fixed(20_261_130),
        ..ProptestConfig::default()
    };
    let (less, covered) = (Cell::new(0), Cell::new(0));
    let outcome = TestRunner::new(config).run(&case(), |of| {
        let [dry, moist] = both(&made, &of);
        prop_assert_eq!(dry.rates.rows.len(), moist.rates.rows.len());
        for (one, other) in dry.rates.rows.iter().zip(&moist.rates.rows) {
            prop_assert_eq!(&one.facts, &other.facts);
            for (nth, product) in dry.job.products.iter().enumerate() {
                let [one, other] = [one, other].map(|row| row.rates[nth].kg_per_ha);
                let placed = product.id != "seed";
                prop_assert!(
                    if placed {
                        one <= other + 1e-9
                    } else {
                        one == other
                    },
                    "{}: {one} dry, {other} moist: {of:?}",
                    product.id
                );
                less.set(less.get() + usize::from(one < other));
            }
        }
        for nth in 1..dry.job.products.len() {
            let flat = [&dry, &moist].map(|of| of.tally.planned.products[nth].flat_kg_per_ha);
            prop_assert!(flat[0] <= flat[1] + 1e-9, "{flat:?}: {of:?}");
            let lost = [&dry, &moist].map(|of| of.rates.position_lost_kg_per_ha[nth]);
            prop_assert!(lost[0] <= lost[1] + 1e-9, "{lost:?}: {of:?}");
        }
        for (own, other) in [(&dry, &moist), (&moist, &dry)] {
            let (own, other) = (&own.tally.planned, &other.tally.planned);
            // By name: what is broadcast of the placed product itself is one article with it.
            let article = |tally: &twinsow::tally::Tally, name: &str, ordered: bool| -> f64 {
                let products = tally.products.iter().filter(|of| of.name == name);
                let balances = tally.balances.iter().filter(|of| of.name == name);
                let of = |kg: f64, steps: &[Step]| match ordered {
                    true => kg,
                    false => before_packs(steps, false),
                };
                products
                    .map(|one| of(one.order_kg, &one.steps))
                    .sum::<f64>()
                    + balances
                        .map(|one| of(one.order_kg, &one.steps))
                        .sum::<f64>()
            };
            for name in ["Seed", "Starter", "second", "broadcast"] {
                let order = article(own, name, true);
                for need in [article(own, name, false), article(other, name, false)] {
                    prop_assert!(order >= need - 1e-6, "{name}: {order} for {need}: {of:?}");
                }
            }
            for one in &own.products {
                let sum: f64 = one.steps.iter().map(|step| step.kg).sum();
                prop_assert!((sum - one.order_kg).abs() < 1e-6, "{:?}", one.steps);
                let step = one
                    .steps
                    .iter()
                    .any(|step| step.step == StepName::OtherSeedbed);
                covered.set(covered.get() + usize::from(step));
            }
        }
        Ok(())
    });
    assert!(outcome.is_ok(), "{outcome:?}");
    assert!(
        less.get() > 100 && covered.get() > 12,
        "{less:?} {covered:?}"
    );
}

#[test]
fn two_plans_name_each_other_and_a_job_that_states_moisture_is_planned_as_it_was() {
    let made = field();
    let [dry, moist] = both(&made, &PLAIN);
    assert_eq!(
        (dry.job.name.as_str(), moist.job.name.as_str()),
        ("DRY Shoal", "MOIST Shoal")
    );
    let other = |plan: &Plan| {
        let other = plan.other_seedbed.clone().expect("two plans");
        (other.moisture, other.other_plan, other.other_is_held_back)
    };
    assert_eq!(other(&dry), (Moisture::Dry, moist.id.clone(), false));
    assert_eq!(other(&moist), (Moisture::Moist, dry.id.clone(), false));
    let stated = |dry: &str| {
        let text = text(&PLAIN, "").replace("[[seed_safe]]\n", &format!("[[seed_safe]]\n{dry}"));
        let job = Job::parse(&text, &made.path().join("job.toml")).expect("a job");
        let mut plans = plan::plans(&job, &Disk, &Options::rates_only()).expect("planned");
        assert_eq!(plans.len(), 1);
        plans.remove(0)
    };
    let rates = |plan: &Plan| {
        let rows = plan.rates.rows.iter();
        rows.map(|row| {
            row.rates
                .iter()
                .map(|rate| rate.kg_per_ha)
                .collect::<Vec<_>>()
        })
        .collect::<Vec<_>>()
    };
    for (line, of) in [("", &moist), ("dry = true\n", &dry)] {
        let one = stated(line);
        assert!(one.other_seedbed.is_none());
        assert_eq!(one.job.name, "Shoal");
        assert_eq!(rates(&one), rates(of), "{line}");
    }
}

fn planned(made: &Made, text: &str, code: i32) -> Output {
    made.write("job.toml", text);
    let arguments = [
        "plan",
        "job.toml",
        "--out",
        "plan",
        "--only",
        "task-data,tables,geopackage,fallback,report",
    ];
    let output = made.run(&arguments);
    assert_eq!(output.status.code(), Some(code), "{}", told(&output));
    output
}

fn told(output: &Output) -> String {
    String::from_utf8_lossy(&output.stdout).into_owned() + &said(output)
}

fn read(made: &Made, path: &str) -> String {
    fs::read_to_string(made.path().join(path)).unwrap_or_else(|error| panic!("{path}: {error}"))
}

fn id_of(made: &Made, plan: &str) -> String {
    let plan: serde_json::Value =
        serde_json::from_str(&read(made, &format!("{plan}/plan.json"))).expect("JSON");
    plan["id"].as_str().expect("an id").to_owned()
}

#[test]
fn what_is_open_for_one_seedbed_holds_back_that_map_alone() {
    let made = field();
    let open = Case {
        own_kg_per_ha: None,
        ..PLAIN
    };
    let output = planned(&made, &text(&open, NOT_KNOWN), 1);
    let shown = told(&output);
    let (dry, moist) = (id_of(&made, "plan/dry"), id_of(&made, "plan/moist"));
    // The order of a field is as open as that of either plan, whichever is named first.
    for paths in [["plan/dry", "plan/moist"], ["plan/moist", "plan/dry"]] {
        let order = made.run(&["order", "--json", paths[0], paths[1]]);
        assert_eq!(order.status.code(), Some(1), "{}", told(&order));
        let list: serde_json::Value = serde_json::from_slice(&order.stdout).expect("JSON");
        assert_eq!(list["plans"].as_array().map(Vec::len), Some(1));
        assert_eq!(list["plans"][0]["to_decide"], 1, "{paths:?}: {list}");
    }
    assert!(
        shown.contains(&format!("DRY: plan {dry}, NOT READY FOR THE TERMINAL")),
        "{shown}"
    );
    assert!(
        shown.contains(&format!("MOIST: plan {moist}, ready")),
        "{shown}"
    );
    let there = |path: &str| made.path().join(path).exists();
    assert!(!there("plan/dry/terminal/TASKDATA") && there("plan/moist/terminal/TASKDATA"));
    let note = read(&made, "plan/dry/terminal/NOT-READY.txt");
    assert!(
        note.contains(&format!("The MOIST map of the same field is plan {moist}")),
        "{note}"
    );
    // Whoever holds the moist map is told that there is no other.
    for file in ["terminal/fallback/README.txt", "report.html"] {
        let page = read(&made, &format!("plan/moist/{file}"));
        assert!(page.contains("The DRY map waits for a decision"), "{file}");
        assert!(
            page.contains("In a dry seedbed do not sow fertiliser by it"),
            "{file}"
        );
    }
    assert!(read(&made, "plan/moist/report.html").contains("order once"));
    let refused = made.run(&["stick", "plan", "--to", "stick"]);
    assert_eq!(refused.status.code(), Some(2));
    assert!(
        said(&refused).contains("has something to decide"),
        "{}",
        said(&refused)
    );
    assert!(!there("stick"));
    let alone = made.run(&["stick", "plan/moist", "--to", "stick"]);
    assert_eq!(alone.status.code(), Some(0), "{}", told(&alone));
    assert!(
        told(&alone).contains("Only the MOIST map is here"),
        "{}",
        told(&alone)
    );
    assert!(read(&made, "stick/README.txt").contains("Only the MOIST map is here"));
}

#[test]
fn a_signature_is_for_one_of_the_two() {
    let made = field();
    let open = Case {
        own_kg_per_ha: None,
        ..PLAIN
    };
    let text = text(&open, NOT_KNOWN);
    planned(&made, &text, 1);
    let note = read(&made, "plan/dry/terminal/NOT-READY.txt").replace("\r\n", "\n");
    let entry = note.split("\n   [[accepted]]\n").nth(1).expect("an entry");
    let entry = entry.split("\n\n").next().expect("an entry");
    let entry: String = entry
        .lines()
        .map(|line| format!("{}\n", line.trim()))
        .collect();
    let signed = entry
        .replace("why = \"\"", "why = \"none of it in a dry seedbed\"")
        .replace("by = \"\"", "by = \"the grower\"")
        .replace("on = \"\"", "on = \"2031-02-01\"");
    let output = planned(&made, &format!("{text}[[accepted]]\n{signed}"), 0);
    let shown = told(&output);
    assert!(!shown.contains("accepted."), "{shown}");
    // Signed for the moist one it is about nothing there, and the dry one stays open.
    let wrong = signed.replace(", dry,", ", moist,");
    let output = planned(&made, &format!("{text}[[accepted]]\n{wrong}"), 1);
    assert!(
        told(&output).contains("accepted.nothing_to_sign"),
        "{}",
        told(&output)
    );
}

#[test]
fn both_maps_lie_on_one_stick_as_two_tasks_of_one_field() {
    let made = field();
    planned(&made, &text(&PLAIN, NOT_KNOWN), 0);
    let (dry, moist) = (id_of(&made, "plan/dry"), id_of(&made, "plan/moist"));
    let output = made.run(&["stick", "plan", "--to", "stick", "--most-fields", "1"]);
    assert_eq!(output.status.code(), Some(0), "{}", told(&output));
    let shown = told(&output);
    assert!(
        shown.contains("1 field as") && !shown.contains("look alike"),
        "{shown}"
    );
    let set = taskdata::as_written(&made.path().join("stick/TASKDATA")).expect("a set");
    let of = |tag: &str| -> Vec<&Element> {
        let own = set.root.children.iter();
        own.filter(|element| element.tag == tag).collect()
    };
    let (fields, tasks) = (of("PFD"), of("TSK"));
    assert_eq!((fields.len(), tasks.len()), (1, 2));
    let names: Vec<&str> = tasks.iter().filter_map(|task| task.get("B")).collect();
    assert_eq!(
        names,
        [format!("{dry} DRY Shoal"), format!("{moist} MOIST Shoal")]
    );
    assert!(tasks.iter().all(|task| task.get("E") == fields[0].get("A")));
    let grids: Vec<&str> = tasks
        .iter()
        .flat_map(|task| task.children.iter().filter(|own| own.tag == "GRD"))
        .filter_map(|grid| grid.get("G"))
        .collect();
    assert!(grids.len() == 2 && grids[0] != grids[1], "{grids:?}");
    let ids: Vec<&str> = tasks.iter().filter_map(|task| task.get("A")).collect();
    assert_ne!(ids[0], ids[1]);
    let page = read(&made, "stick/README.txt");
    assert!(page.starts_with("1 field, "), "{page}");
    for words in [
        "Shoal (Low Farm), DRY map: plan ",
        "Shoal (Low Farm), MOIST map: plan ",
        "Choose by hand at the field",
        "if in doubt",
        "never change to MOIST in that field",
    ] {
        assert!(page.contains(words), "{words}: {page}");
    }
    let contents = made.run(&["contents", "stick", "--plans", "plan"]);
    assert_eq!(contents.status.code(), Some(0), "{}", told(&contents));
    // Two tasks in each form but one, which has a task for each product.
    let told_of = told(&contents);
    assert!(told_of.matches("the same").count() >= 12, "{told_of}");
    assert!(
        !["NEWER", "older", "another"]
            .iter()
            .any(|word| told_of.contains(word)),
        "{told_of}"
    );
    let split = "stick/fallback/task-data-3.3-task-per-product/TASKDATA";
    let split = taskdata::as_written(&made.path().join(split)).expect("a set");
    let names = split.root.children.iter().filter(|own| own.tag == "TSK");
    let names: Vec<&str> = names.filter_map(|task| task.get("B")).collect();
    assert!(
        names.contains(&format!("{dry} DRY Starter").as_str()),
        "{names:?}"
    );
    // Made again, ids and grids stay, whichever is named first.
    let again = made.run(&["stick", "plan/moist", "plan/dry", "--to", "stick"]);
    assert_eq!(again.status.code(), Some(0), "{}", told(&again));
    let second = taskdata::as_written(&made.path().join("stick/TASKDATA")).expect("a set");
    assert_eq!(second.root.children, set.root.children);
}

#[test]
fn plans_that_were_not_made_together_are_refused_and_the_order_counts_a_field_once() {
    let made = field();
    planned(&made, &text(&PLAIN, NOT_KNOWN), 0);
    let sum = |paths: &[&str]| {
        let mut arguments = vec!["order", "--json"];
        arguments.extend(paths);
        let output = made.run(&arguments);
        assert_eq!(output.status.code(), Some(0), "{}", told(&output));
        let list: serde_json::Value = serde_json::from_slice(&output.stdout).expect("JSON");
        list["order"].clone()
    };
    let lines = |list: &serde_json::Value| -> Vec<(String, f64)> {
        let lines = list.as_array().expect("lines").iter();
        let line = |line: &serde_json::Value| {
            let name = line["article"]["product"].as_str().expect("a name");
            (name.to_owned(), line["order_kg"].as_f64().expect("kg"))
        };
        let mut lines: Vec<_> = lines.map(line).collect();
        lines.sort_by(|a, b| a.0.cmp(&b.0));
        lines
    };
    let both = lines(&sum(&["plan/dry", "plan/moist"]));
    assert_eq!(both, lines(&sum(&["plan/moist"])));
    assert_eq!(both, lines(&sum(&["plan/dry"])));
    assert_eq!(both, lines(&sum(&["job.toml"])));
    fs::rename(made.path().join("plan"), made.path().join("old")).expect("moved");
    let other = Case {
        kg_per_ha: [140.0, 90.0],
        ..PLAIN
    };
    planned(&made, &text(&other, NOT_KNOWN), 0);
    let refused = made.run(&["stick", "old/moist", "plan/dry", "--to", "stick"]);
    assert_eq!(refused.status.code(), Some(2));
    assert!(
        said(&refused).contains("Two plans are of the field"),
        "{}",
        said(&refused)
    );
    // A folder with one plan in it is not mixed with two.
    made.write("job.toml", text(&PLAIN, ""));
    fs::remove_dir_all(made.path().join("plan")).expect("removed");
    planned(&made, &text(&PLAIN, ""), 0);
    let output = made.run(&["plan", "job.toml", "--out", "plan"]);
    assert_eq!(output.status.code(), Some(0), "{}", told(&output));
    made.write("job.toml", text(&PLAIN, NOT_KNOWN));
    let output = made.run(&["plan", "job.toml", "--out", "plan"]);
    assert_eq!(output.status.code(), Some(2));
    assert!(
        said(&output).contains("holds one plan of an earlier run"),
        "{}",
        said(&output)
    );
}

#[test]
fn a_farm_with_two_plans_for_each_field_is_one_stick_and_one_table() {
    let made = field();
    let fields = [("1", 0.0, 60.0), ("2", 70.0, 120.0)].map(|(number, west, east)| {
        let shape = rectangle([west, 0.0], [east, 90.0]);
        feature(PLACE, &format!(r#""number":"{number}""#), &shape)
    });
    made.write("boundary.geojson", collection(&fields));
    let text = text(&PLAIN, NOT_KNOWN).replace(
        "boundary = { file = \"boundary.geojson\" }",
        "split_by = \"number\"\nboundary = { file = \"boundary.geojson\" }",
    );
    made.write("job.toml", text);
    let output = made.run(&[
        "plan",
        "job.toml",
        "--out",
        "farm",
        "--together",
        "--only",
        "task-data",
    ]);
    assert_eq!(output.status.code(), Some(0), "{}", told(&output));
    let table = read(&made, "farm/all-fields.csv");
    let mut rows = table.lines();
    let header: Vec<&str> = rows.next().expect("a header").split(',').collect();
    let at = header
        .iter()
        .position(|name| *name == "starter_order_kg")
        .expect("a column");
    let orders: Vec<&str> = rows
        .map(|row| row.split(',').nth(at).expect("a cell"))
        .collect();
    assert_eq!(orders.len(), 4, "{table}");
    for (nth, order) in orders.iter().enumerate() {
        assert_eq!(order.is_empty(), nth % 2 == 1, "{table}");
    }
    let output = made.run(&["stick", "farm", "--to", "stick"]);
    assert_eq!(output.status.code(), Some(0), "{}", told(&output));
    assert!(told(&output).contains("2 fields as"), "{}", told(&output));
}

/// A log of one bout for a task of the stick, in the set that lies in `folder`.
fn logged(folder: &Path, task: &str, name: &str) {
    let main = folder.join("TASKDATA.XML");
    let mut root = parse(&fs::read(&main).expect("a set")).expect("XML");
    let column = |ddi: u16, element: &str| LogColumn {
        ddi: Some(ddi),
        element: Some(element.to_owned()),
        constant: None,
    };
    let columns = [column(141, "DET1"), column(7, "DET2"), column(7, "DET3")];
    let records: Vec<LogRecord> = (0..30)
        .map(|step| {
            let [lon, lat] = plan_support::degrees(PLACE, [3.0, 2.0 + 2.5 * f64::from(step)]);
            LogRecord {
                day: 17_000,
                millisecond: 21_600_000 + 1_000 * step,
                lon_lat: Some(twinsow::coordinates::LonLat::new(lon, lat)),
                status: Some(4),
                values: vec![(0, 1), (1, 15_000), (2, 5_000)],
            }
        })
        .collect();
    let (head, bytes) = encode_log(&columns, &records);
    let own = root
        .children
        .iter_mut()
        .find(|own| own.get("A") == Some(task));
    let own = own.expect("the task");
    own.children
        .push(Element::new("TLG").with("A", name).with("C", 1));
    fs::write(&main, root.document().expect("XML")).expect("written");
    fs::write(
        folder.join(format!("{name}.XML")),
        head.document().expect("XML"),
    )
    .expect("written");
    fs::write(folder.join(format!("{name}.BIN")), bytes).expect("written");
}

#[test]
fn a_log_is_compared_with_the_plan_that_it_was_sown_by() {
    let made = field();
    planned(&made, &text(&PLAIN, NOT_KNOWN), 0);
    let output = made.run(&["stick", "plan", "--to", "stick"]);
    assert_eq!(output.status.code(), Some(0), "{}", told(&output));
    let folder = made.path().join("stick/TASKDATA");
    let set = taskdata::as_written(&folder).expect("a set");
    let task = |mark: &str| {
        let mut tasks = set.root.children.iter().filter(|own| own.tag == "TSK");
        let own = tasks.find(|own| own.get("B").is_some_and(|name| name.contains(mark)));
        own.and_then(|own| own.get("A")).expect("a task").to_owned()
    };
    let compare = |plan: &str, more: &[&str]| {
        let all = [
            "compare",
            plan,
            "stick/TASKDATA",
            "--element",
            "DET2=seed",
            "--element",
            "DET3=starter",
        ];
        made.run(&[&all[..], more].concat())
    };
    logged(&folder, &task(" DRY "), "TLG00001");
    let own = compare("plan/dry", &[]);
    assert!(
        own.status.code().is_some_and(|code| code < 2),
        "{}",
        told(&own)
    );
    let other = compare("plan/moist", &[]);
    assert_eq!(other.status.code(), Some(2), "{}", told(&other));
    let dry = id_of(&made, "plan/dry");
    assert!(
        said(&other).contains(&format!(
            "The logs are of plan {dry}, which is for a dry seedbed"
        )),
        "{}",
        said(&other)
    );
    // Both were used: each is compared with its own log, and the rest is not known from one of them.
    logged(&folder, &task(" MOIST "), "TLG00002");
    let moist = compare("plan/moist", &[]);
    assert!(
        moist.status.code().is_some_and(|code| code < 2),
        "{}",
        told(&moist)
    );
    assert!(
        told(&moist).contains("compare.also_other_seedbed"),
        "{}",
        told(&moist)
    );
    let rest = compare("plan/moist", &["--rest", "job.toml"]);
    assert_eq!(rest.status.code(), Some(2), "{}", told(&rest));
    assert!(!made.path().join("job-rest.toml").exists());
}

#[test]
fn explain_and_calibrate_speak_of_both() {
    let made = field();
    made.write("job.toml", text(&PLAIN, NOT_KNOWN));
    let explained = told(&made.run(&["explain", "job.toml", "--unit", "1"]));
    assert!(
        explained.contains("In a dry seedbed") && explained.contains("In a moist seedbed"),
        "{explained}"
    );
    let tests = told(&made.run(&["calibrate", "job.toml"]));
    assert!(
        tests.contains("DRY Shoal") && tests.contains("MOIST Shoal"),
        "{tests}"
    );
}

/// The rows of an order: what each orders in kg and packs, and the columns.
fn ordered(made: &Made, path: &str) -> (Vec<(f64, String)>, Vec<String>) {
    let table = read(made, path);
    assert!(!table.contains("-0.0000"), "{table}");
    let mut reader = csv::Reader::from_reader(table.as_bytes());
    let columns: Vec<String> = reader
        .headers()
        .expect("a header")
        .iter()
        .map(String::from)
        .collect();
    let column = |name: &str| {
        let mut all = columns.iter();
        all.position(|own| own == name).expect("a column")
    };
    let [product, kg, packs] = ["product", "order_kg", "packs"].map(column);
    let rows = reader.records().map(|row| row.expect("a row"));
    let starter = rows.filter(|row| row[product].starts_with("starter"));
    let of = starter.map(|row| (row[kg].parse().expect("kg"), row[packs].to_owned()));
    (of.collect(), columns)
}

/// What is placed and what is broadcast of it are one article: packs are rounded up once, and page, table, screen and
/// `order` say the same.
#[test]
fn a_product_and_its_own_balance_are_one_order() {
    let made = field();
    let of = Case {
        own_balance: false,
        pack_kg: Some(600.0),
        ..PLAIN
    };
    let output = planned(&made, &text(&of, NOT_KNOWN), 0);
    let said = told(&output);
    assert!(said.contains("ordered with the product above"), "{said}");
    let (dry, in_dry) = ordered(&made, "plan/dry/order.csv");
    let (moist, in_moist) = ordered(&made, "plan/moist/order.csv");
    let sum = |rows: &[(f64, String)]| rows.iter().map(|(kg, _)| kg).sum::<f64>();
    assert_eq!(
        (sum(&dry), sum(&moist)),
        (600.0, 600.0),
        "{dry:?} {moist:?}"
    );
    assert_eq!((dry[0].1.as_str(), dry[1].1.as_str()), ("1", ""));
    assert_eq!(in_dry, in_moist);
    let output = made.run(&["order", "plan/dry", "--json"]);
    let list: serde_json::Value = serde_json::from_slice(&output.stdout).expect("JSON");
    let lines = list["order"].as_array().expect("lines").iter();
    let own = lines.filter(|line| line["article"]["product"] == "Starter");
    let kg: Vec<f64> = own
        .map(|line| line["order_kg"].as_f64().expect("kg"))
        .collect();
    assert_eq!(kg, [600.0]);
}
