//! The field record of a log by the simulator: amounts, times and the distance to water against how it was driven; what nobody
//! has said stays empty.

mod log_support;

use log_support::*;
use serde_json::Value as Json;
use std::fs;

#[test]
fn a_record_says_what_was_driven_and_leaves_empty_what_nobody_knows() {
    let folder = tempfile::tempdir().unwrap();
    let here = folder.path();
    plan(here);
    let moments = drive(&whole(), 0.0, &mut Noise(7), 0.0);
    let task = task(
        "as driven",
        vec![allocated("PDT1", "DET2"), allocated("PDT2", "DET3")],
    );
    write(here, Vec::new(), task, &[log(&common(), &moments)]);
    let made = |name: &str, more: &[&str]| {
        let mut args = vec!["compare", "plan", "TASKDATA", "--record", name];
        args.extend(more);
        let output = run(here, &args);
        assert!(output.status.success(), "{}", text(&output.stderr));
        let read = |ending: &str| fs::read_to_string(here.join(format!("{name}{ending}"))).unwrap();
        let record: Json = serde_json::from_str(&read(".json")).unwrap();
        (record, read(".csv"), read(".html"))
    };
    let (record, csv, page) = made("blank", &[]);

    // The driver begins at 06:00; 40 bouts of 81 seconds with 20 between them end 25 619 s after midnight.
    assert!(
        record["from"].as_str().unwrap().ends_with(" 06:00"),
        "{}",
        record["from"]
    );
    assert!(
        record["to"].as_str().unwrap().ends_with(" 07:06"),
        "{}",
        record["to"]
    );
    let driven = kilograms(&moments);
    for (own, kg) in record["products"].as_array().unwrap().iter().zip(driven) {
        let found = own["kg"].as_f64().unwrap();
        assert!((found / kg - 1.0).abs() < 1e-3, "{found} {kg}");
    }
    let starter = &record["products"][1];
    assert_eq!(starter["grade"], "18-46-0");
    assert!(
        (starter["p2o5_kg"].as_f64().unwrap() - 0.46 * starter["kg"].as_f64().unwrap()).abs()
            < 1e-6
    );
    // A seed has none, and that is known.
    assert_eq!(record["products"][0]["n_kg"], 0.0);
    // 37 bouts of 6 m have starter, on 200 m.
    assert!(
        (starter["given_ha"].as_f64().unwrap() - 37.0 * 6.0 * 200.0 / 1e4).abs() < 0.01,
        "{starter}"
    );
    // The last of them ends 37 x 6 m east of the border; the brook runs 240 m east of it.
    let near = &record["near"][0];
    assert_eq!(
        (near["name"].as_str(), near["to_keep_m"].as_f64()),
        (Some("brook"), Some(SETBACK_M))
    );
    let metres = near["nearest_m"][0]["metres"].as_f64().unwrap();
    assert!((metres - 18.0).abs() < 0.05, "{metres} m");

    // Nobody has named the lot, the driver, the weather: empty, in each form.
    for key in ["operator", "weather", "signed_by", "signed_on"] {
        assert_eq!(record[key], Json::Null, "{key}");
    }
    assert_eq!(record["products"][0]["lot"], Json::Null);
    assert!(
        page.contains("<th scope=\"row\">Operator</th><td></td>"),
        "{page}"
    );
    assert!(page.contains("<th scope=\"row\">Signed: name, date</th><td></td>"));
    let mut table = csv::Reader::from_reader(csv.as_bytes());
    let heads = table.headers().unwrap().clone();
    let rows: Vec<csv::StringRecord> = table.records().map(Result::unwrap).collect();
    assert_eq!(rows.len(), 2);
    let cell = |row: usize, name: &str| {
        let at = heads.iter().position(|head| head == name).unwrap();
        rows[row][at].to_owned()
    };
    assert_eq!(
        (cell(1, "nearest"), cell(1, "nearest_m")),
        ("brook".to_owned(), "18.0".to_owned())
    );
    assert_eq!(
        (cell(0, "nearest_m"), cell(0, "operator"), cell(0, "lot")),
        Default::default()
    );

    // What was noted and signed stands in all of them.
    let noted = [
        "--operator",
        "A. Example",
        "--weather",
        "dry, <2 m/s",
        "--signed-by",
        "B. Example",
    ];
    let (record, csv, page) = made("noted", &noted);
    assert_eq!(record["operator"], "A. Example");
    assert_eq!(record["signed_on"].as_str().map(str::len), Some(10));
    assert!(
        csv.contains("A. Example") && page.contains("dry, &lt;2 m"),
        "{page}"
    );
    assert!(page.contains("B. Example, 20"));

    // Fit to drill, and the tag: named in each form, and a product that is not there is refused.
    fs::write(here.join("tag.jpg"), b"a photo").unwrap();
    let seen = [
        "--soil",
        "friable",
        "--moisture",
        "moist ball",
        "--tag-seen",
        "barley",
        "--tag-photo",
        "barley=tag.jpg",
    ];
    let (record, csv, page) = made("seen", &seen);
    assert_eq!(
        (record["soil"].as_str(), record["moisture"].as_str()),
        (Some("friable"), Some("moist ball"))
    );
    assert_eq!(record["products"][0]["tag_seen"], true);
    assert_eq!(record["products"][0]["tag_photos"][0], "tag.jpg");
    assert_eq!(record["products"][1]["tag_seen"], Json::Null);
    assert!(csv.contains("friable") && page.contains("moist ball") && page.contains("tag.jpg"));
    for wrong in [["--tag-seen", "rye"], ["--tag-photo", "barley=none.jpg"]] {
        let mut args = vec!["compare", "plan", "TASKDATA", "--record", "wrong"];
        args.extend(wrong);
        assert_eq!(run(here, &args).status.code(), Some(2), "{wrong:?}");
        assert!(!here.join("wrong.html").exists());
    }

    // A job card of two records; the same work twice is refused.
    let mut other = record.clone();
    other["customer"] = Json::from("Another Estate");
    other["plan"] = Json::from("ZZ9999");
    other["field"] = Json::from("Far Field");
    fs::write(here.join("other.json"), other.to_string()).unwrap();
    let made_cards = run(here, &["card", "seen.json", "other.json", "--to", "cards"]);
    assert!(made_cards.status.success(), "{}", text(&made_cards.stderr));
    let theirs = fs::read_to_string(here.join("cards/Another_Estate.html"))
        .or_else(|_| fs::read_to_string(here.join("cards/Another-Estate.html")))
        .or_else(|_| fs::read_to_string(here.join("cards/Another Estate.html")))
        .unwrap();
    assert!(
        theirs.contains("Far Field") && theirs.contains("For the customer: name, date, signature")
    );
    let cards: Vec<String> = fs::read_dir(here.join("cards"))
        .unwrap()
        .map(|entry| entry.unwrap().path())
        .filter(|path| path.extension().is_some_and(|ending| ending == "csv"))
        .map(|path| fs::read_to_string(path).unwrap())
        .collect();
    assert_eq!(cards.len(), 2);
    assert_eq!(
        cards
            .iter()
            .filter(|table| table.contains("Far Field"))
            .count(),
        1
    );
    let kg = format!("{:.3}", record["products"][0]["kg"].as_f64().unwrap());
    assert!(cards.iter().all(|table| table.contains(&kg)));
    for wrong in [["seen.json", "seen.json"], ["seen.json", "plan/plan.json"]] {
        let refused = run(here, &["card", wrong[0], wrong[1], "--to", "wrong"]);
        assert_eq!(refused.status.code(), Some(2), "{wrong:?}");
    }

    // A card of one customer is in the units and the language of his records; an older record has neither.
    assert_eq!(
        (record["units"].as_str(), record["language"].as_str()),
        (Some("metric"), Some("en"))
    );
    other["units"] = Json::from("us_customary");
    other["language"] = Json::from("de");
    fs::write(here.join("other.json"), other.to_string()).unwrap();
    let card = || {
        assert!(
            run(here, &["card", "other.json", "--to", "us"])
                .status
                .success()
        );
        fs::read_to_string(here.join("us/Another_Estate.html")).unwrap()
    };
    let page = card();
    let acres = other["drilled_ha"].as_f64().unwrap() * 2.471_053_8;
    assert!(page.contains("Arbeitsnachweis"), "{page}");
    let shown = format!("{acres:.2} ac").replace('.', ",");
    assert!(page.contains(&shown), "{shown}: {page}");
    assert!(page.contains(" lb</td>") && !page.contains(" kg</td>"));
    let older = other.as_object_mut().unwrap();
    older.remove("units");
    older.remove("language");
    fs::write(here.join("other.json"), other.to_string()).unwrap();
    assert!(card().contains("Job card") && card().contains(" kg</td>"));

    // A brook that is not the one of the plan says nothing about the distance.
    let brook = fs::read_to_string(here.join("brook.geojson")).unwrap();
    fs::write(here.join("brook.geojson"), brook + " ").unwrap();
    let (record, csv, page) = made("brook-moved", &[]);
    assert_eq!(record["near"][0]["nearest_m"][0]["metres"], Json::Null);
    assert!(
        !csv.contains("brook") && page.contains("<td>10.0 m</td><td></td>"),
        "{page}"
    );

    // Who drove is nothing without a record.
    let output = run(
        here,
        &["compare", "plan", "TASKDATA", "--operator", "A. Example"],
    );
    assert_eq!(output.status.code(), Some(2));
}
