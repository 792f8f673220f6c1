//! Every mistake of shape in a job file gets one fault that names its line, what was found, what is
//! allowed and what to do.

mod job_support;

use job_support::{WHOLE, broken, parse, refused};

#[test]
fn the_whole_job_is_accepted() {
    parse(WHOLE)
        .map_err(|fault| fault.to_string())
        .expect("the job is right");
}

#[test]
fn unknown_keys_name_the_nearest_known_one() {
    refused(
        "working_width_m = 6",
        "working_widht_m = 6",
        &[
            "unknown key 'working_widht_m' in [drill]",
            "Allowed: from, name, working_width_m",
            "did you mean 'working_width_m'?",
        ],
    );
    refused(
        "working_width_m = 6",
        "working_width = 6",
        &["did you mean 'working_width_m'?", "unit of measure"],
    );
    refused(
        "working_width_m = 6",
        "working_width_cm = 600",
        &["did you mean 'working_width_m'?"],
    );
    refused(
        "speed_km_per_h = 11",
        "speed_kmh = 11",
        &["did you mean 'speed_km_per_h'?"],
    );
    refused(
        "thousand_grain_weight_g = 48",
        "tgw_g = 48",
        &["unknown key 'tgw_g'", "[[product]] number 1"],
    );
    refused(
        "germination_percent = 96",
        "germination = 96",
        &["did you mean 'germination_percent'?"],
    );
    refused(
        "nutrient = \"p2o5\"",
        "nutrients = \"p2o5\"",
        &["[product.rate] of [[product]] number 2", "'nutrient'"],
    );
    refused(
        "usable_l = 1280",
        "usable_litres = 1280",
        &["did you mean 'usable_l'?"],
    );
    refused(
        "buffer_m = 2.5",
        "bufer = 2.5",
        &["did you mean 'buffer_m'?"],
    );
    refused("n_percent = 12,", "n = 12,", &["did you mean 'n_percent'?"]);
    refused(
        "otherwise = 75",
        "else = 75",
        &["Allowed: layer, by_class, curve, otherwise"],
    );
}

#[test]
fn keys_in_the_wrong_table_are_sent_to_theirs() {
    refused(
        "[order]\n",
        "[order]\n@cell_m = 5\n",
        &["unknown key 'cell_m' in [order]", "belongs to [grid]"],
    );
}

#[test]
fn missing_keys_are_named_with_their_table() {
    let (fault, _) = broken("working_width_m = 6\n", "");
    assert_eq!(fault.place.line, Some(46), "{fault}");
    assert!(
        fault
            .found
            .contains("'working_width_m' is missing in [drill]"),
        "{fault}"
    );
    let (fault, _) = broken("class_attribute = \"index\"\n", "");
    assert_eq!(fault.place.line, Some(37), "{fault}");
    assert!(
        fault
            .found
            .contains("'class_attribute' is missing in [[layer]] number 2"),
        "{fault}"
    );
}

#[test]
fn wrong_types_say_how_to_write_it() {
    refused(
        "working_width_m = 6",
        "working_width_m = \"6\"",
        &["the text \"6\"", "without quotes", "working_width_m = 6"],
    );
    refused(
        "working_width_m = 6",
        "working_width_m = \"6,5\"",
        &["with a point: working_width_m = 6.5"],
    );
    refused("bouts = 2", "bouts = 2.5", &["a whole number from 0 to 20"]);
    refused("water = true", "water = \"yes\"", &["true or false"]);
    refused("field_id = \"12\"", "field_id = 12", &["text in quotes"]);
    refused("sections_m = [3, 3]", "sections_m = 6", &["a list"]);
    refused(
        "plants_per_m2 = 280",
        "plants_per_m2 = \"280\"",
        &["a number from 0 to 5000", "by_class"],
    );
    refused(
        "source = { file = \"p.shp\" }",
        "source = \"p.shp\"",
        &["{ file = \"...\" }"],
    );
    refused(
        "[[exclusion]]",
        "[exclusion]",
        &["[[exclusion]] with double brackets"],
    );
    refused(
        "lot = \"L-1\"",
        "lot = 2031-03-01",
        &["the date 2031-03-01", "in quotes"],
    );
}

#[test]
fn words_outside_an_enum_name_the_allowed_ones() {
    refused(
        "kind = \"seed\"",
        "kind = \"sed\"",
        &["\"seed\", \"fertiliser\"", "did you mean \"seed\"?"],
    );
    refused(
        "overlaps = \"last\"",
        "overlaps = \"biggest\"",
        &["\"first\", \"last\""],
    );
    refused(
        "\"subtract\"",
        "\"add\"",
        &["\"multiply\", \"subtract\", \"included\""],
    );
    refused(
        "\"base_rate\"",
        "\"Base_Rate\"",
        &["did you mean \"base_rate\"?"],
    );
}

#[test]
fn text_that_is_not_toml_is_refused_at_its_line() {
    refused(
        "working_width_m = 6",
        "working_width_m = 6,5",
        &["not TOML", "6.5, not 6,5"],
    );
    refused(
        "name = \"divided 6 m\"",
        "name = divided",
        &["not TOML", "quotes"],
    );
    refused(
        "file = \"soil.shp\"",
        "file = \"data\\soil.shp\"",
        &["not TOML"],
    );
    refused(
        "bouts = 2",
        "bouts = 2\n@bouts = 3",
        &["duplicate key", "keep one of the two"],
    );
}

#[test]
fn numbers_that_are_none_or_negative_are_refused() {
    for (part, by) in [
        ("working_width_m = 6", "working_width_m = nan"),
        ("working_width_m = 6", "working_width_m = inf"),
        ("buffer_m = 2.5", "buffer_m = -2.5"),
        ("sand = 90", "sand = -90"),
        ("sand = 90", "sand = nan"),
        ("\"0\" = 60", "\"0\" = -60"),
        ("otherwise = 75", "otherwise = -1"),
        ("percent = 110", "percent = -110"),
        ("barley = 115", "barley = -115"),
        ("rows = 48", "rows = -48"),
        ("reserve_percent = 4", "reserve_percent = -4"),
        ("most_cells = 500000", "most_cells = 99999999999999999999"),
        ("usable_l = 1280", "usable_l = -inf"),
    ] {
        refused(part, by, &[]);
    }
}

#[test]
fn numbers_out_of_range_name_the_range() {
    refused(
        "working_width_m = 6",
        "working_width_m = 0.3",
        &["from 0.5 to 60"],
    );
    refused("sand = 90", "sand = 190", &["above 0 to 100"]);
    refused("sand = 90", "sand = 0", &["above 0 to 100"]);
    refused(
        "germination_percent = 96",
        "germination_percent = 196",
        &["above 0 to 100"],
    );
    refused("cell_m = 6", "cell_m = 0.2", &["from 0.5"]);
    refused("barley = 115", "barley = 1500", &["from 0 to 1000"]);
    refused(
        "speed_km_per_h = 11",
        "speed_km_per_h = 0",
        &["from 1 to 30"],
    );
    refused("step_kg_per_ha = 1", "step_kg_per_ha = 0", &["above 0"]);
    refused("\"0\" = 60", "\"0\" = 6000", &["from 0 to 2000"]);
}

#[test]
fn numbers_in_another_unit_of_measure_are_recognised() {
    refused(
        "working_width_m = 6",
        "working_width_m = 600",
        &["centimetres", "write 6 for working_width_m"],
    );
    refused(
        "working_width_m = 6",
        "working_width_m = 6000",
        &["millimetres", "write 6 "],
    );
    refused(
        "sections_m = [3, 3]",
        "sections_m = [300, 300]",
        &["centimetres", "write 3 "],
    );
    refused(
        "row_spacing_m = 0.125",
        "row_spacing_m = 12.5",
        &["centimetres", "write 0.125"],
    );
    refused(
        "row_spacing_m = 0.125",
        "row_spacing_m = 125",
        &["millimetres", "write 0.125"],
    );
    refused(
        "= 48\ngermination",
        "= 0.048\ngermination",
        &["kilograms", "write 48"],
    );
    refused(
        "= 48\ngermination",
        "= 48000\ngermination",
        &["milligrams", "write 48"],
    );
    refused(
        "germination_percent = 96",
        "germination_percent = 0.96",
        &["fraction", "write 96"],
    );
    refused("sand = 90", "sand = 0.9", &["fraction", "write 90"]);
    refused("percent = 110", "percent = 1.1", &["factor", "write 110"]);
    refused("barley = 115", "barley = 1.15", &["factor", "write 115"]);
    refused(
        "bulk_density_kg_per_l = 0.68",
        "bulk_density_kg_per_l = 680",
        &["cubic metre", "write 0.68"],
    );
    refused(
        "usable_l = 1920",
        "usable_l = 1.92",
        &["cubic metres", "write 1920"],
    );
    refused(
        "plants_per_m2 = 280",
        "plants_per_m2 = 2800000",
        &["per hectare", "write 280"],
    );
    refused(
        "reserve_percent = 4",
        "reserve_percent = 0.04",
        &["fraction", "write 4"],
    );
    let typed = "need_kg_per_ha = { layer = \"phosphate\", by_class = { \"0\" = 60, \"1\" = 40 }, otherwise = 0 }";
    let text = WHOLE.replace("nutrient = \"p2o5\"\n", "");
    let fault = parse(&text.replace(typed, "kg_per_ha = 2600")).expect_err("too much");
    assert!(
        fault.found.contains("2600") && fault.allowed.contains("2000"),
        "{fault}"
    );
    let fault = parse(&text.replace(typed, "kg_per_ha = 100000")).expect_err("grams");
    assert!(fault.to_string().contains("grams per hectare"), "{fault}");
}

#[test]
fn several_mistakes_are_counted() {
    let text = WHOLE
        .replace("rows = 48", "row = 48")
        .replace("cell_m = 6", "cell = 6");
    let fault = parse(&text).expect_err("two mistakes");
    let second = text
        .lines()
        .position(|line| line == "cell = 6")
        .map_or(0, |at| at + 1);
    assert!(
        fault
            .next
            .contains(&format!("more to correct in line {second}")),
        "{fault}"
    );
}

#[test]
fn an_empty_file_is_no_job() {
    for text in ["", "   \n\n", "\u{feff}"] {
        assert_eq!(parse(text).expect_err("empty").code, "job.empty_file");
    }
}

#[test]
fn windows_line_ends_and_a_byte_order_mark_are_fine() {
    let text = format!("\u{feff}{}", WHOLE.replace('\n', "\r\n"));
    parse(&text)
        .map_err(|fault| fault.to_string())
        .expect("the same job");
    let fault = parse(&text.replace("rows = 48", "row = 48")).expect_err("a mistake");
    let line = WHOLE
        .lines()
        .position(|line| line == "rows = 48")
        .map(|at| at + 1);
    assert_eq!(fault.place.line, line);
}
