//! A reader copies the table of docs/methods/recommendation-tables.md, follows the page, and breaks the copy.

mod plan_support;

use plan_support::{Made, job, plain, planned, said};

const PAGE: &str = include_str!("../docs/methods/recommendation-tables.md");
const RATE: &str = "rate = { kg_per_ha";

/// The lines of the page that are to be copied.
fn table() -> String {
    let (_, after) = PAGE.split_once("```toml\n").expect("a table on the page");
    after.split_once("```").expect("its end").0.to_owned()
}

/// The plain field whose zones have soil values 4 and 7.5, with the table beside the job.
fn made(table: &str) -> Made {
    let made = plain("");
    let text = job("")
        .replace("class_attribute = \"soil\"", "class_attribute = \"p\"")
        .replace(
            "{ a = 150.0, b = 190.0 }",
            "{ \"4\" = 150.0, \"7.5\" = 190.0 }",
        );
    let (before, starter) = text.split_once("id = \"starter\"").expect("a starter");
    let rate = starter.find(RATE).expect("its rate");
    let end = rate + starter[rate..].find('\n').expect("its end");
    let own = "grade = { p2o5_percent = 46 }\nrate = { nutrient = \"p2o5\", need_from_table = { file = \"my-table.toml\", crop = \"spring barley\", straw = \"any\", yield_t_per_ha = 7, layer = \"soil\", laboratory_unit = \"mg/100 g\" } }";
    let text = format!(
        "{before}id = \"starter\"{}{own}{}",
        &starter[..rate],
        &starter[end..]
    );
    let text = text.replace(
        "row_spacing_m = 2.0\n",
        "row_spacing_m = 2.0\ngrade = { p2o5_percent = 46 }\n",
    );
    let zones = std::fs::read_to_string(made.path().join("soil.geojson")).expect("the zones");
    let zones = zones
        .replace("\"soil\":\"a\"", "\"soil\":\"a\",\"p\":4")
        .replace("\"soil\":\"b\"", "\"soil\":\"b\",\"p\":7.5");
    assert!(zones.contains("7.5"), "{zones}");
    made.write("soil.geojson", zones);
    made.write("job.toml", text);
    made.write("my-table.toml", table);
    made
}

#[test]
fn the_table_of_the_page_works_as_the_page_says() {
    let made = made(&table());
    let plan = planned(made.path()).unwrap_or_else(|fault| panic!("{fault}"));
    for row in &plan.rates.rows {
        let need = &row.rates[1].reasons[0];
        let wanted = if row.facts.classes[0] == "4" {
            68.0
        } else {
            0.0
        };
        let found = need.inputs.iter().find(|(name, _)| name == "need kg/ha");
        assert_eq!(found.map(|(_, need)| *need), Some(wanted), "{}", need.text);
        let source = need.source.as_deref().unwrap_or_default();
        assert!(
            source.contains("Doggerland") && source.contains("page 5"),
            "{source}"
        );
    }
    assert_eq!(plan.rates.rows.len(), 2);
    let input = plan
        .inputs
        .iter()
        .find(|input| input.file == "my-table.toml");
    assert_eq!(input.map(|input| input.sha256.len()), Some(64));
}

/// Every slip a copyist may make: the file, the line of the slip, and the cause in plain words.
#[test]
fn a_wrong_copy_is_refused_with_file_line_and_cause() {
    let good = table();
    for (part, by, cause) in [
        ("edition = \"2026\"\n", "", "the key 'edition' is missing"),
        (
            "edition = \"2026\"",
            "edition = 2026",
            "integer `2026` stands where text in quotes belongs",
        ),
        (
            "region = \"Doggerland\"",
            "region = \"\"",
            "'region' is empty",
        ),
        ("[[crop]]", "[[crops]]", "unknown key 'crops'"),
        (
            "between = \"lower\"",
            "between = \"down\"",
            "'down' is none of: nearest, lower",
        ),
        (
            "from = 6.1",
            "from = 3",
            "class 'C' begins at 3, and 'B' before it at 3.1",
        ),
        ("from = 6.1", "from = 6,1", ""),
        (
            "name = \"B\"",
            "name = \"A\"",
            "the class 'A' is there twice",
        ),
        (
            "straw = \"any\"",
            "straw = \"left\"",
            "'left' is none of: incorporated, removed, any",
        ),
        (
            "yield_t_per_ha = 6",
            "yield_t_per_ha = 0",
            "yield_t_per_ha is 0",
        ),
        (
            "index = \"phosphate\",",
            "index = \"phosphat\",",
            "there is no index 'phosphat'",
        ),
        (
            "unit = \"kg/ha\"",
            "unit = \"kg/acre\"",
            "the unit is 'kg/acre'",
        ),
        ("amounts =", "ammounts =", "unknown key 'ammounts'"),
        (
            "\"B\" = 60, ",
            "",
            "class 'B' of index 'phosphate' has no amount",
        ),
        (
            "\"B\" = 60",
            "\"B\" = \"60\"",
            "string \"60\" stands where a number belongs",
        ),
        ("\"B\" = 60", "\"B\" = -60", "-60"),
        (
            "offtake_source = \"page 6, table 3\"\n",
            "",
            "without 'yield_t_per_ha' or 'offtake_source'",
        ),
    ] {
        assert_eq!(good.matches(part).count(), 1, "{part}");
        let made = made(&good.replacen(part, by, 1));
        let output = made.run(&["plan", "job.toml"]);
        assert_eq!(output.status.code(), Some(2), "{by}");
        let text = said(&output);
        let line = 1 + good[..good.find(part).expect(part)].matches('\n').count();
        // A key that is missing is missed where its table begins, one that goes with another at that other.
        let at = match by.is_empty() {
            true => "my-table.toml:".to_owned(),
            false => format!("my-table.toml:{line}:"),
        };
        assert!(text.contains(&at), "{by}: wanted {at}\n{text}");
        assert!(text.contains(cause), "{by}: wanted {cause}\n{text}");
        assert!(text.contains("Next:"), "{text}");
    }
}
