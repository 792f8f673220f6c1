//! What `[terminal]` and `at_zero` change, on the scenario's field: files, rates, words.

mod plan_support;

use serde_json::Value;
use std::fs;
use std::path::Path;
use std::process::Command;
use tempfile::TempDir;

fn twinsow(args: &[&str]) -> (i32, String) {
    let output = Command::new(env!("CARGO_BIN_EXE_twinsow"))
        .args(args)
        .env("NO_COLOR", "1")
        .env("SOURCE_DATE_EPOCH", "1790000000")
        .output()
        .expect("the program starts");
    let text = [output.stdout, output.stderr].concat();
    let text = String::from_utf8(text).expect("UTF-8");
    (output.status.code().expect("an exit code"), text)
}

/// The scenario's job with a line more under a heading, planned: summary, `plan.json`, folder.
fn planned(changes: &[(&str, &str)]) -> (String, Value, TempDir) {
    let folder = TempDir::new().expect("a folder");
    let examples = Path::new(env!("CARGO_MANIFEST_DIR")).join("examples/demo");
    for entry in fs::read_dir(examples).expect("the scenario") {
        let path = entry.expect("an entry").path();
        if path.is_file() {
            let name = path.file_name().expect("a name");
            fs::copy(&path, folder.path().join(name)).expect("a copy");
        }
    }
    let job = folder.path().join("job.toml");
    let mut text = fs::read_to_string(&job).expect("the job");
    for (after, line) in changes {
        assert!(text.contains(after), "{after}");
        text = text.replacen(after, &format!("{after}\n{line}"), 1);
    }
    fs::write(&job, text).expect("the job");
    let out = folder.path().join("out");
    let (exit, text) = twinsow(&[
        "plan",
        &job.display().to_string(),
        "--out",
        &out.display().to_string(),
    ]);
    assert!(exit <= 1, "{text}");
    let json = fs::read_to_string(out.join("plan.json")).expect("plan.json");
    (text, serde_json::from_str(&json).expect("JSON"), folder)
}

const STARTER: &str = "id = \"starter\"";

#[test]
fn what_is_shut_by_hand_is_listed_and_not_counted() {
    let (text, plan, folder) = planned(&[(STARTER, "at_zero = \"shut_by_hand\"")]);
    assert!(text.contains("SHUT BY HAND: Granular starter"), "{text}");
    let land = &plan["shut_by_hand"][0];
    let zero: f64 = plan["map"]["zones"]
        .as_array()
        .expect("zones")
        .iter()
        .filter(|zone| zone["kg_per_ha"][1] == 0.0)
        .map(|zone| zone["area_m2"].as_f64().expect("an area"))
        .sum();
    assert!(zero > 0.0);
    assert!((land["area_m2"].as_f64().expect("an area") - zero).abs() < 1e-6);
    let file = folder.path().join("out/gis/shut-by-hand.geojson");
    let layer = fs::read_to_string(file).expect("the layer");
    assert!(layer.contains("\"shut_by_hand\":\"Granular starter 12-52-0\""));
    let readme = folder.path().join("out/terminal/fallback/README.txt");
    let readme = fs::read_to_string(readme).expect("the page");
    for words in ["SHUT BY HAND", "Yard test", "Gate check"] {
        assert!(readme.contains(words), "{words}: {readme}");
    }
}

#[test]
fn the_least_rate_takes_the_place_of_zero_but_not_in_a_setback() {
    let (text, plan, _folder) = planned(&[(STARTER, "at_zero = \"least_rate\"")]);
    let (mut setbacks, mut raised) = (0, 0);
    for row in plan["rate_table"].as_array().expect("rows") {
        let rate = &row["rates"][1];
        let reasons = rate["reasons"].as_array().expect("reasons");
        let has = |rule: &str| reasons.iter().any(|reason| reason["rule"] == rule);
        if row["setbacks"] != Value::Array(Vec::new()) {
            assert_eq!(rate["kg_per_ha"], 0.0, "{row}");
            assert!(!has("zero.least_rate"), "{row}");
            setbacks += 1;
        } else if has("zero.least_rate") {
            assert_eq!(rate["kg_per_ha"], 40.0, "{row}");
            raised += 1;
        }
    }
    assert!(setbacks > 0 && raised > 0, "{setbacks} {raised}");
    assert!(
        text.contains("SHUT BY HAND"),
        "the setbacks are left: {text}"
    );
    let (exit, text) = {
        let folder = TempDir::new().expect("a folder");
        let job = folder.path().join("job.toml");
        let demo = Path::new(env!("CARGO_MANIFEST_DIR")).join("examples/demo/job.toml");
        let text = fs::read_to_string(demo).expect("the job");
        let text = text.replace("min_kg_per_ha = 40.0\n", "");
        let text = text.replace(STARTER, &format!("{STARTER}\nat_zero = \"least_rate\""));
        fs::write(&job, text).expect("the job");
        twinsow(&["plan", &job.display().to_string()])
    };
    assert_eq!(exit, 2, "{text}");
    assert!(text.contains("add min_kg_per_ha"), "{text}");
}

#[test]
fn polygons_can_be_ready_for_the_stick() {
    let (_, plan, folder) = planned(&[(
        "reserve_percent = 3.0",
        "\n[terminal]\nmap_as = \"polygons\"\ndefault_rate = \"zero\"",
    )]);
    let ready = folder.path().join("out/terminal/TASKDATA");
    assert_eq!(fs::read_dir(&ready).expect("a folder").count(), 1);
    let text = fs::read_to_string(ready.join("TASKDATA.XML")).expect("text");
    assert!(text.contains("<PLN A=\"2\">") && !text.contains("<GRD "));
    assert_eq!(plan["terminal"]["products"][0]["default_kg_per_ha"], 0.0);
    assert!(
        folder
            .path()
            .join("out/terminal/fallback/task-data-4.3")
            .exists()
    );
    // Fewer points cost little, and a border of land without starter did not move into it.
    for map in plan["terminal"]["polygons"].as_array().expect("maps") {
        let (before, after) = (&map["points_before"], &map["points"]);
        assert!(after.as_u64() < before.as_u64(), "{map}");
        let at = map["products"].as_array().expect("ids").iter();
        let Some(at) = at.clone().position(|id| id == "starter") else {
            continue;
        };
        for zone in map["zones"].as_array().expect("zones") {
            if zone["kg_per_ha"][at] == 0.0 && map["products"].as_array().map(Vec::len) == Some(1) {
                let change = zone["area_m2"].as_f64().expect("m2")
                    - zone["area_before_m2"].as_f64().expect("m2");
                // Only the outer border may take some of it.
                assert!(change > -100.0, "{zone}");
            }
        }
    }
}

#[test]
fn the_gate_check_lies_near_the_entrance_with_rates_of_the_grid() {
    let (_, plan, folder) = planned(&[(
        "name = \"Long Shoal\"",
        "entrance = { lon = 2.4995, lat = 54.7995 }",
    )]);
    let job = folder.path().join("job.toml").display().to_string();
    let (_, text) = twinsow(&["plan", &job, "--details"]);
    assert!(text.contains("Gate check"), "{text}");
    let places = plan["gate_check"].as_array().expect("places");
    assert_eq!(places.len(), 3, "{places:?}");
    let rates: Vec<&Value> = places.iter().map(|place| &place["kg_per_ha"]).collect();
    assert!(rates[0] != rates[1] && rates[1] != rates[2] && rates[0] != rates[2]);
    let far = plan["gate_check"][2]["distance_m"].as_f64().expect("m");
    assert!(far < 1000.0, "{far}");
}

#[test]
fn units_of_the_report_are_those_of_the_screen() {
    let report = "[report]\nunits = \"us_customary\"";
    let (_, plan, folder) = planned(&[("[order]\nreserve_percent = 3.0", report)]);
    let file = folder.path().join("out/terminal/TASKDATA/TASKDATA.XML");
    let text = fs::read_to_string(file).expect("task data");
    // 1 lb/ac is 1.1209 kg/ha (NIST Handbook 44, Appendix C); a step of the file is 0.01 kg/ha.
    let scale = text.split("<VPN A=\"VPN3\" B=\"0\" C=\"").nth(1);
    let scale = scale.and_then(|rest| rest.split('"').next());
    let scale: f64 = scale.expect("a scale").parse().expect("a number");
    assert!((scale * 1.1209 - 0.01).abs() < 1e-6, "{scale}");
    assert!(text.contains("E=\"lb/ac\"") && text.contains("E=\"lb\""));
    // The numbers of the file, and those that the plan holds, stay what they are.
    let rate = plan["gate_check"][0]["kg_per_ha"][0]
        .as_f64()
        .expect("a rate");
    assert_eq!(rate, 215.0);
    let readme = folder.path().join("out/terminal/fallback/README.txt");
    let readme = fs::read_to_string(readme).expect("the note");
    assert!(readme.contains("191.8 lb/ac (215.00 kg/ha)"), "{readme}");
    let flat = readme
        .lines()
        .skip_while(|line| !line.contains("one flat rate"));
    let flat: Vec<&str> = flat.skip(1).take(2).collect();
    assert!(
        flat.iter().all(|line| line.contains(" lb/ac (")),
        "{flat:?}"
    );
    assert!(readme.contains("1 lb/ac is 1.121 kg/ha"), "{readme}");
    assert!(!readme.contains("in kg/ha"), "{readme}");
    let job = folder.path().join("job.toml").display().to_string();
    let out = folder.path().join("out");
    // The Shapefiles for terminals: lb/ac as well, and the audit reads them as that.
    let (exit, text) = twinsow(&[
        "audit",
        &out.display().to_string(),
        "--plan",
        &out.join("plan.json").display().to_string(),
    ]);
    assert_eq!(exit, 0, "{text}");
    let id = plan["id"].as_str().expect("an id");
    let alone = out.join(format!(
        "terminal/fallback/shapefile-barley/barley_{id}.dbf"
    ));
    let mut rates: Vec<f64> = Vec::new();
    let table = dbase::read(alone).expect("a table");
    for record in table {
        match record.get("rate_lb_ac") {
            Some(dbase::FieldValue::Numeric(Some(rate))) => rates.push(*rate),
            other => panic!("{other:?}"),
        }
    }
    let highest = rates.iter().copied().fold(0.0, f64::max);
    let wanted = plan["tally"]["products"][0]["highest_kg_per_ha"].as_f64();
    assert!((highest * 1.120_851 - wanted.expect("a rate")).abs() < 1e-3);
    // All tables on the screen; what findings say of agronomy and of repairs of geometry stays metric.
    let (_, text) = twinsow(&["plan", &job, "--details"]);
    let (tables, _) = text
        .split_once("\nWorth a look (")
        .expect("findings at the end");
    // A pack is what stands on the bag.
    let of_packs = |line: &&str| !line.contains("packs of ");
    let tables: String = tables
        .lines()
        .filter(of_packs)
        .map(|line| format!("{line}\n"))
        .collect();
    for metric in ["kg/ha", " kg ", " ha ", " km/h", "kg/min", " m2 "] {
        assert!(!tables.contains(metric), "{metric}: {tables}");
    }
    // A twentieth of an acre, 2178 square feet; 0.05 ac of 209.65 lb/ac, the highest rate, are 10.48 lb.
    let (_, text) = twinsow(&["calibrate", &job, "--caught", "barley=10.48"]);
    let text = text.replace('\u{a0}', " ");
    assert!(
        text.contains("2 178") && text.contains("10.480 lb"),
        "{text}"
    );
    assert!(text.contains("correction 0.999"), "{text}");
    let (exit, text) = twinsow(&["calibrate", &job, "--caught", "barley=153"]);
    assert_eq!(exit, 2);
    assert!(text.contains("if 153 oz were weighed"), "{text}");
}

/// Nothing on the stick's page may speak of a second product where there is none.
#[test]
fn a_job_of_one_product_is_told_of_one() {
    let made = plan_support::plain("");
    let text = plan_support::job("");
    let (one, _) = text.rsplit_once("[[product]]").expect("two products");
    let one = one.replace("a = 150.0, b = 190.0", "a = 150.0, b = 0.0");
    made.write("job.toml", one);
    let output = made.run(&["plan", "job.toml", "--out", "out"]);
    assert!(
        matches!(output.status.code(), Some(0 | 1)),
        "{}",
        plan_support::said(&output)
    );
    let readme = made.path().join("out/terminal/fallback/README.txt");
    let readme = fs::read_to_string(readme).expect("the page");
    assert!(readme.contains("Yard test") && readme.contains("Gate check"));
    for words in ["one channel per product", "other turns", "swapped products"] {
        assert!(!readme.contains(words), "{words}: {readme}");
    }
}
