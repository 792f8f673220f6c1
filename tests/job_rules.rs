//! Settings that belong together, exclude each other or refer to each other.

mod job_support;

use job_support::{WHOLE, broken, parse, refused};

#[test]
fn exactly_one_source_of_a_rate() {
    let text = WHOLE.replace("germination_joined", "kg_per_ha = 150\ngermination_joined");
    let fault = parse(&text).expect_err("two rates");
    assert!(
        fault
            .found
            .contains("has 2 rates: 'kg_per_ha', 'plants_per_m2'"),
        "{fault}"
    );
    assert!(fault.place.line.is_some_and(|line| line > 70), "{fault}");
    let fault = parse(&WHOLE.replace("plants_per_m2 = 280\n", "")).expect_err("no rate");
    assert!(
        fault
            .to_string()
            .contains("exactly one of kg_per_ha, seeds_per_m2, plants_per_m2"),
        "{fault}"
    );
}

#[test]
fn a_rate_needs_what_turns_it_into_kilograms() {
    for (part, key) in [
        ("thousand_grain_weight_g = 48\n", "thousand_grain_weight_g"),
        ("germination_percent = 96\n", "germination_percent"),
        (
            "establishment_percent = { layer = \"soil\", by_class = { sand = 90, loam = 80 }, otherwise = 75 }\n",
            "establishment_percent",
        ),
    ] {
        let text = WHOLE.replace(part, "");
        let line = text
            .lines()
            .position(|line| line.starts_with("plants_per_m2"))
            .map(|at| at + 1);
        let fault = parse(&text).expect_err("something is missing");
        assert_eq!(fault.place.line, line, "{fault}");
        assert!(fault.found.contains(key), "{fault}");
    }
    let included = WHOLE
        .replace("germination_percent = 96\n", "")
        .replace("\"subtract\"", "\"included\"");
    parse(&included)
        .map_err(|fault| fault.to_string())
        .expect("germination is included");
    let (fault, _) = broken(", p2o5_percent = 52", "");
    assert!(
        fault.to_string().contains("p2o5_percent is 0 or not given"),
        "{fault}"
    );
    let fault = parse(&WHOLE.replace("nutrient = \"p2o5\"\n", "")).expect_err("which nutrient");
    assert!(
        fault.found.contains("does not say of which nutrient"),
        "{fault}"
    );
    refused("sand = 90", "sand = 3", &["nothing is left"]);
}

#[test]
fn settings_of_the_other_kind_are_refused() {
    refused(
        "lot = \"L-1\"",
        "grade = { n_percent = 12 }",
        &["'grade' is given for the seed 'barley'"],
    );
    refused(
        "fallback_kg_per_ha = 50",
        "germination_percent = 90",
        &["given for the fertiliser 'starter'"],
    );
    refused(
        "p2o5_percent = 52",
        "p2o5_percent = 92",
        &["adds up to 104 percent"],
    );
    refused(
        "n_percent = 12, p2o5_percent = 52",
        "n_percent = 0.12, p2o5_percent = 0.52",
        &["not fractions"],
    );
}

#[test]
fn limits_do_not_cross() {
    refused(
        "min_kg_per_ha = 100",
        "min_kg_per_ha = 300",
        &["300 kg/ha, is above the highest, 240 kg/ha"],
    );
    refused(
        "step_kg_per_ha = 1",
        "step_kg_per_ha = 250",
        &["above its highest rate"],
    );
}

#[test]
fn references_lead_somewhere() {
    refused(
        "hopper = \"rear\"",
        "hopper = \"back\"",
        &["no hopper 'back'", "'front', 'rear'"],
    );
    refused(
        "hopper = \"rear\"",
        "hopper = \"front\"",
        &["'starter' is in hopper 'front', and so is 'barley'"],
    );
    refused(
        "products = [\"starter\"]",
        "products = [\"startr\"]",
        &["no product has the id 'startr'", "did you mean 'starter'?"],
    );
    refused(
        "products = [\"starter\"]",
        "products = []",
        &["names no product"],
    );
    refused(
        "barley = 115",
        "barly = 115",
        &["'barly'", "did you mean 'barley'?"],
    );
    refused(
        "layer = \"soil\"",
        "layer = \"soils\"",
        &["no layer is called 'soils'", "did you mean 'soil'?"],
    );
    refused(
        "name = \"phosphate\"",
        "name = \"soil\"",
        &["a second layer is called 'soil'"],
    );
    refused(
        "name = \"rear\"",
        "name = \"front\"",
        &["a second hopper is called 'front'"],
    );
    let fault = parse(&WHOLE.replace("id = \"starter\"", "id = \"barley\"")).expect_err("same id");
    assert!(
        fault.next.contains("more to correct"),
        "the references to it fail as well: {fault}"
    );
    let fault = parse(
        &WHOLE
            .replace("barley\"", "Barley 1\"")
            .replace("{ barley", "{ \"Barley 1\""),
    );
    let fault = fault.expect_err("an id for columns");
    assert!(
        fault.found == "product id 'Barley 1'" && fault.next.contains("'barley_1'"),
        "{fault}"
    );
}

#[test]
fn widths_add_up() {
    refused(
        "sections_m = [3, 3]",
        "sections_m = [3, 2.5]",
        &["add up to 5.5 m, the working width is 6 m"],
    );
    refused("rows = 48", "rows = 40", &["40 rows of 0.125 m make 5 m"]);
    refused(
        "bouts = 2",
        "width_m = 12\nbouts = 2",
        &["both 'bouts' and 'width_m'"],
    );
}

#[test]
fn products_are_one_to_three_with_two_in_the_air_stream() {
    let third = "\n[[drill.hopper]]\nname = \"third\"\nusable_l = 200\n[[product]]\nid = \"clover\"\n\
        name = \"clover\"\nkind = \"seed\"\nhopper = \"third\"\nrate = { kg_per_ha = 5 }\n";
    let fault = parse(&format!("{WHOLE}{third}")).expect_err("three in the air stream");
    assert!(
        fault
            .found
            .contains("'clover' is the third product in the air stream"),
        "{fault}"
    );
    parse(&format!("{WHOLE}{third}surface_applied = true\n"))
        .map_err(|f| f.to_string())
        .expect("spread");
    let fourth = third
        .replace("third", "fourth")
        .replace("id = \"clover\"", "id = \"vetch\"");
    let fault =
        parse(&format!("{WHOLE}{third}surface_applied = true\n{fourth}")).expect_err("four");
    assert!(
        fault.to_string().contains("4 entries of 'product'"),
        "{fault}"
    );
    let none = WHOLE.split("[[product]]").next().unwrap_or("");
    assert!(
        parse(none)
            .expect_err("none")
            .found
            .contains("'product' is missing")
    );
}

#[test]
fn refilling_and_driving_settings_that_do_not_go_together_are_refused() {
    let with = |more: &str, found: &str| {
        let fault = parse(&format!("{WHOLE}\n{more}")).expect_err(more);
        assert!(fault.to_string().contains(found), "{fault}");
        assert!(fault.place.line.is_some(), "{fault}");
    };
    with(
        "[refill]\nside_deg = 90\ntender = { file = \"tender.geojson\" }\n",
        "both 'tender' and 'side_deg' are given",
    );
    with(
        "[refill]\nwhole_packs_of = [\"rye\"]\n",
        "'rye' is no product of this job",
    );
    with("[refill]\nside_deg = 400\n", "side_deg");
    with("[refill]\nreach_m = 0\n", "reach_m");
    with("[refill]\nreach = 20\n", "did you mean 'reach_m'?");
}

#[test]
fn hoppers_whose_levels_or_least_content_cannot_be_are_refused() {
    let with = |more: &str, found: &str| {
        let text = WHOLE.replace("usable_l = 1280", &format!("usable_l = 1280\n{more}"));
        assert_ne!(text, WHOLE);
        let fault = parse(&text).expect_err(more);
        assert!(fault.to_string().contains(found), "{fault}");
    };
    with("min_level_l = 1280", "1280 l must stay in hopper");
    with(
        "level = [{ cm = 0, l = 0 }, { cm = 20, l = 300 }, { cm = 10, l = 400 }]",
        "10 cm with 400 l comes after 20 cm with 300 l",
    );
}

#[test]
fn a_price_is_by_weight_or_by_pack_and_a_price_by_pack_needs_packs() {
    let price = |more: &str, found: &str| {
        let text = WHOLE.replace(
            "thousand_grain_weight_g = 48",
            &format!("thousand_grain_weight_g = 48\n{more}"),
        );
        let fault = parse(&text).expect_err(more);
        assert!(fault.to_string().contains(found), "{fault}");
    };
    price(
        "price_per_t = 400\nprice_per_pack = 200",
        "has a price per tonne and one per pack",
    );
    let fault = parse(&WHOLE.replace("fallback_kg_per_ha = 50", "price_per_pack = 200"));
    let fault = fault.expect_err("no pack");
    assert!(
        fault.found.contains("a price per pack, and no pack"),
        "{fault}"
    );
}

/// 3 000 000 seeds of 48 g per thousand are 144 kg.
#[test]
fn a_cap_in_seeds_becomes_the_labels_most() {
    let most = |limits: &str| {
        let text = WHOLE.replace(
            "[product.limits]\nmin",
            &format!("[product.limits]\n{limits}\nmin"),
        );
        let job = parse(&text).unwrap_or_else(|fault| panic!("{fault}"));
        let again = parse(&job.print().expect("printed")).unwrap_or_else(|fault| panic!("{fault}"));
        assert_eq!(job.products, again.products);
        job.products[0].limits.label_max_kg_per_ha
    };
    assert_eq!(most("label_max_seeds_per_ha = 3000000"), Some(144.0));
    let both = "label_max_seeds_per_ha = 3000000\nlabel_max_kg_per_ha = ";
    assert_eq!(most(&format!("{both}130")), Some(130.0));
    assert_eq!(most(&format!("{both}150")), Some(144.0));
    refused(
        "fallback_kg_per_ha = 50",
        "fallback_kg_per_ha = 50\nlimits = { @label_max_seeds_per_ha = 3000000 }",
        &["is no seed", "label_max_kg_per_ha"],
    );
    let weight = "thousand_grain_weight_g = 48\n";
    let text = WHOLE
        .replace(weight, "")
        .replace("plants_per_m2 = 280", "kg_per_ha = 160")
        .replace("germination_joined = \"subtract\"\n", "")
        .replace("establishment_percent = { layer = \"soil\", by_class = { sand = 90, loam = 80 }, otherwise = 75 }\n", "")
        .replace("min_kg_per_ha = 100", "label_max_seeds_per_ha = 3000000\nmin_kg_per_ha = 100");
    let fault = parse(&text).expect_err("no weight");
    assert!(
        fault.found.contains("without the thousand-grain weight"),
        "{fault}"
    );
}
