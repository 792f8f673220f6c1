//! Several lots in one field: rates, tally, order list, calibration; and orders by seeds.

mod plan_support;

use plan_support::{Made, job, plain, planned};
use std::process::Output;
use twinsow::agronomy::Rule;
use twinsow::report;

/// What a command prints.
fn printed(output: &Output) -> String {
    let text = String::from_utf8_lossy(&output.stdout);
    text.replace('\u{a0}', " ")
}

const RATE: &str = "kg_per_ha = { layer = \"soil\", by_class = { a = 150.0, b = 190.0 } }";
const LIMITS: &str =
    "limits = { min_kg_per_ha = 120.0, max_kg_per_ha = 185.0, step_kg_per_ha = 2.5 }\n";
const POPULATION: &str =
    "plants_per_m2 = 300, establishment_percent = 85, germination_joined = \"multiply\"";
const LOTS: &str = r#"
pack_kg = 500
bulk_density_kg_per_l = 0.7
germination_percent = 95
[product.lots]
layer = "soil"
[[product.lots.lot]]
class = "a"
lot = "west-1"
variety = "Fen"
dressing = "dressing one"
thousand_grain_weight_g = 40
[[product.lots.lot]]
class = "b"
lot = "east-2"
thousand_grain_weight_g = 50
germination_percent = 90
bulk_density_kg_per_l = 0.75
[[product]]
id = "starter""#;

/// The plain field with a lot on each of its zones of 80 x 150 m and 120 x 150 m.
fn two_lots() -> Made {
    let made = plain("");
    let text = job("").replace(RATE, POPULATION).replace(LIMITS, "");
    let text = text.replacen("[[product]]\nid = \"starter\"", LOTS.trim_start(), 1);
    made.write("job.toml", text);
    made
}

#[test]
fn each_lot_has_its_own_rate_reason_steps_and_packs() {
    let plan = planned(two_lots().path()).unwrap();
    // 300 x g / (germination x 85 %) / 100.
    let west = 300.0 * 40.0 / (0.95 * 0.85) / 100.0;
    let east = 300.0 * 50.0 / (0.90 * 0.85) / 100.0;
    let product = &plan.tally.planned.products[0];
    let [a, b] = product.lots.as_slice() else {
        panic!("two lots, not {}", product.lots.len());
    };
    for (lot, rate, ha) in [(a, west, 1.2), (b, east, 1.8)] {
        assert!((lot.lowest_kg_per_ha - rate).abs() < 1e-9);
        assert!(
            (lot.map_kg() - rate * ha).abs() < 0.01 * rate,
            "{}",
            lot.map_kg()
        );
        let sum: f64 = lot.steps.iter().map(|step| step.kg).sum();
        assert!((sum - lot.order_kg).abs() < 1e-9);
        assert_eq!(lot.packs, Some((rate * ha * 1.03 / 500.0).ceil() as u64));
    }
    // 0.35 and 0.73 packs: one pack each, though all of it would fit into two anyway; the sum is theirs.
    assert_eq!(product.packs, Some(2));
    assert!((product.order_kg - a.order_kg - b.order_kg).abs() < 1e-9);
    assert_eq!(a.dressing.as_deref(), Some("dressing one"));
    assert_eq!(a.variety.as_deref(), Some("Fen"));
    assert_eq!((&a.lot[..], &b.lot[..]), ("west-1", "east-2"));
    assert_eq!(
        (&a.classes[..], &b.classes[..]),
        (&["a".to_owned()][..], &["b".to_owned()][..])
    );
    assert_eq!((b.variety.as_deref(), b.dressing.as_deref()), (None, None));
    let reasons = &plan.rates.rows[0].rates[0].reasons;
    assert_eq!(reasons[0].rule, Rule::SeedLot);
    assert!(reasons[0].text.contains("'west-1'"), "{}", reasons[0].text);
    let made = two_lots();
    let calibrate = printed(&made.run(&["calibrate", "job.toml"]));
    for line in ["seed, lot west-1", "seed, lot east-2"] {
        assert!(calibrate.contains(line), "{calibrate}");
    }
    let order = printed(&made.run(&["order", "job.toml"]));
    assert!(
        order.contains("west-1") && order.contains("east-2"),
        "{order}"
    );
}

#[test]
fn a_lot_on_several_classes_is_one_and_a_lot_without_land_is_none() {
    let made = two_lots();
    let text = std::fs::read_to_string(made.path().join("job.toml")).unwrap();
    let third =
        "[[product.lots.lot]]\nclass = \"c\"\nlot = \"spare-3\"\nthousand_grain_weight_g = 45\n";
    let east = "[[product.lots.lot]]\nclass = \"b\"\nlot = \"east-2\"\nthousand_grain_weight_g = 50\ngermination_percent = 90\nbulk_density_kg_per_l = 0.75\n";
    let west = "[[product.lots.lot]]\nclass = \"b\"\nlot = \"west-1\"\nvariety = \"Fen\"\ndressing = \"dressing one\"\nthousand_grain_weight_g = 40\n";
    assert!(text.contains(east));
    made.write("job.toml", text.replace(east, &format!("{west}{third}")));
    let plan = planned(made.path()).unwrap();
    let [lot] = plan.tally.planned.products[0].lots.as_slice() else {
        panic!("{:?}", plan.tally.planned.products[0].lots);
    };
    assert_eq!(
        (&lot.lot[..], &lot.classes[..]),
        ("west-1", &["a".to_owned(), "b".to_owned()][..])
    );
    assert_eq!(lot.sown_m2, plan.tally.planned.products[0].sown_m2);
}

#[test]
fn lots_with_equal_rates_stay_apart_on_the_map() {
    let made = two_lots();
    let text = std::fs::read_to_string(made.path().join("job.toml")).unwrap();
    made.write("job.toml", text.replace(POPULATION, "kg_per_ha = 150"));
    let plan = planned(made.path()).unwrap();
    let zones = plan
        .maps
        .rate
        .zones
        .iter()
        .filter(|zone| zone.kg_per_ha[0] == 150.0);
    assert!(zones.count() >= 2);
}

#[test]
fn land_without_a_lot_is_refused_with_its_class() {
    let made = two_lots();
    let text = std::fs::read_to_string(made.path().join("job.toml")).unwrap();
    made.write(
        "job.toml",
        text.replace("class = \"b\"\nlot", "class = \"c\"\nlot"),
    );
    let fault = planned(made.path()).err().unwrap();
    assert_eq!(fault.code, "agronomy.class_without_lot");
    assert!(fault.found.contains("'b' (1.81 ha)"), "{}", fault.found);
}

#[test]
fn a_job_is_ordered_by_seeds_and_planned_when_the_label_is_there() {
    let made = plain("");
    let pending = "label_pending = true\ngermination_percent = 85\nseeds_per_pack = 1000000\n";
    let text = job("").replace(RATE, POPULATION);
    let product = "hopper = \"front\"\nrate";
    let with = |more: &str| text.replacen(product, &format!("hopper = \"front\"\n{more}rate"), 1);
    made.write("job.toml", with(pending));
    // 300 / (85 % x 85 %) seeds/m2 on 3 ha, and 3 % in reserve: 12.83 million, 13 packs.
    let order = printed(&made.run(&["order", "job.toml"]));
    assert!(order.contains("13 x 1000000 seeds"), "{order}");
    assert!(order.contains("12.8"), "{order}");
    assert_eq!(
        planned(made.path()).err().unwrap().code,
        "agronomy.no_grain_weight"
    );
    let known =
        "thousand_grain_weight_g = 40\ngermination_percent = 85\nseeds_per_pack = 1000000\n";
    made.write("job.toml", with(known).replace(LIMITS, ""));
    let plan = planned(made.path()).unwrap();
    assert_eq!(plan.tally.planned.products[0].packs, Some(13));
    assert!((plan.tally.planned.products[0].order_kg - 13.0 * 40.0).abs() < 1e-9);
}

/// Canola Council of Canada, canola-watch 2016/05/11: 5.5 lb/ac of 5 g seed are 11.5 seeds/ft2 and about
/// 7 plants/ft2 at 60 % survival; to the digits printed.
#[test]
fn a_fixed_rate_tells_the_plants_to_expect() {
    let made = plain("");
    let kg_per_ha = twinsow::units::kg_per_ha_from_lb_per_acre(5.5);
    let rate = format!(
        "kg_per_ha = {kg_per_ha}, establishment_percent = 60, germination_joined = \"included\""
    );
    let text = job("")
        .replace(RATE, &rate)
        .replace("crop = \"wheat\"", "crop = \"canola\"")
        .replace(LIMITS, "thousand_grain_weight_g = 5\n");
    made.write("job.toml", text);
    let plan = planned(made.path()).unwrap();
    let stand = plan.rates.rows[0].rates[0].stand.clone().unwrap();
    assert!((stand.seeds_per_ft2 - 11.5).abs() < 0.06);
    assert!((stand.plants_per_ft2.unwrap() - 7.0).abs() < 0.5);
    assert!((stand.lb_per_acre - 5.5).abs() < 1e-9);
    let explained = printed(&made.run(&["explain", "job.toml", "--unit", "1"]));
    assert!(explained.contains("plants/ft2)"), "{explained}");
}

/// The plain field with a lot on each side of a line that runs north, from two points in the job.
#[test]
fn a_line_divides_the_field_between_two_lots() {
    let made = two_lots();
    let text = std::fs::read_to_string(made.path().join("job.toml")).expect("the job");
    // Ends of a line from south to north through the middle of the field's box.
    let plan = planned(made.path()).unwrap();
    let points = || {
        plan.land
            .boundary
            .iter()
            .flat_map(|polygon| &polygon.exterior)
    };
    let least = |axis: usize| {
        points()
            .map(|at| at.pair()[axis])
            .fold(f64::INFINITY, f64::min)
    };
    let most = |axis: usize| {
        points()
            .map(|at| at.pair()[axis])
            .fold(f64::NEG_INFINITY, f64::max)
    };
    let middle = (least(0) + most(0)) / 2.0;
    let (south, north) = (least(1), (least(1) + most(1)) / 2.0);
    let layer = format!(
        "[[layer]]\nname = \"halves\"\nline = [{{ lon = {middle}, lat = {south} }}, {{ lon = {middle}, lat = {north} }}]\n"
    );
    let by_line = text
        .replacen(
            "[product.lots]\nlayer = \"soil\"",
            "[product.lots]\nlayer = \"halves\"",
            1,
        )
        .replacen("class = \"a\"\nlot", "class = \"left\"\nlot", 1)
        .replacen("class = \"b\"\nlot", "class = \"right\"\nlot", 1)
        .replacen("[drill]", &format!("{layer}[drill]"), 1);
    assert_ne!(by_line, text);
    made.write("job.toml", &by_line);
    let divided = planned(made.path()).unwrap();
    let [left, right] = divided.tally.planned.products[0].lots.as_slice() else {
        panic!("two lots");
    };
    // A rectangle: half of it each.
    assert!(
        (left.sown_m2 / right.sown_m2 - 1.0).abs() < 1e-4,
        "{}",
        left.sown_m2
    );
    let all = divided.tally.planned.products[0].sown_m2;
    assert!((left.sown_m2 + right.sown_m2 - all).abs() < 1e-6 * all);
    assert_eq!(
        (left.lot.as_str(), right.lot.as_str()),
        ("west-1", "east-2")
    );
    let ends = [[middle, south], [middle, north]];
    same_from_a_file(&made, &by_line, &layer, ends, left.sown_m2);
    let column = divided.job.layers.len() - 1;
    assert!(divided.rates.rows.iter().all(|row| {
        let side = row.facts.classes[column].as_str();
        // Soil 'a' is the western zone of 80 m: all of it lies to the left.
        row.facts.classes[0] != "a" || side == "left"
    }));
}

/// The same line from a file divides the land in the same way.
fn same_from_a_file(
    made: &plan_support::Made,
    by_points: &str,
    layer: &str,
    ends: [[f64; 2]; 2],
    left_m2: f64,
) {
    let line = serde_json::json!({
        "type": "FeatureCollection",
        "features": [{
            "type": "Feature",
            "properties": {},
            "geometry": { "type": "LineString", "coordinates": ends },
        }],
    });
    made.write("line.geojson", line.to_string());
    let from_file =
        "[[layer]]\nname = \"halves\"\nsource = { file = \"line.geojson\" }\ndivides = true\n";
    let text = by_points.replacen(layer, from_file, 1);
    assert_ne!(text, by_points);
    made.write("job.toml", text);
    let lots = planned(made.path()).unwrap().tally.planned.products[0]
        .lots
        .clone();
    assert!(
        (lots[0].sown_m2 - left_m2).abs() < 1e-3,
        "{}",
        lots[0].sown_m2
    );
}

/// The page's numbers that come from this place in `plan.json`, as shown.
fn shown_from(page: &str, from: &str) -> Vec<String> {
    let tag = format!("data-from=\"{}\">", from.replace('/', "&#x2f;"));
    let parts = page.split(&tag).skip(1);
    let shown = parts.filter_map(|part| Some(part.split_once("</data>")?.0));
    shown.map(|text| text.replace('\u{a0}', " ")).collect()
}

#[test]
fn each_lot_has_its_own_lines_in_the_report() {
    let plan = planned(two_lots().path()).unwrap();
    let page = report::page(&plan, "2026-03-01T06:00:00Z").unwrap();
    let page = String::from_utf8(page).unwrap();
    for lot in 0..2 {
        let order = format!("/tally/products/0/lots/{lot}/order_kg");
        assert_eq!(shown_from(&page, &order), ["500"], "{lot}");
        let packs = format!("/tally/products/0/lots/{lot}/packs");
        assert_eq!(shown_from(&page, &packs), ["1"]);
        let flat = format!("/tally/products/0/lots/{lot}/flat_kg_per_ha");
        assert_eq!(shown_from(&page, &flat).len(), 1);
    }
    // The sum of both is bought by nobody: it stands at a glance only.
    assert_eq!(shown_from(&page, "/tally/products/0/order_kg"), ["1 000"]);
    for sheet in ["id=\"operator\"", "id=\"buyer\""] {
        let sheet = page
            .split(sheet)
            .nth(1)
            .unwrap()
            .split("</section>")
            .next()
            .unwrap();
        assert!(sheet.contains("dressing one"), "{sheet}");
    }
    assert!(page.contains("Between lots: empty the hopper"));
}

#[test]
fn packs_of_seeds_are_told_in_seeds() {
    let made = plain("");
    let text = job("").replace(RATE, POPULATION).replace(LIMITS, "");
    let own = "seeds_per_pack = 500_000\nthousand_grain_weight_g = 42\ngermination_percent = 95\n";
    let text = text.replacen(
        "[[product]]\nid = \"starter\"",
        &format!("{own}[[product]]\nid = \"starter\""),
        1,
    );
    made.write("job.toml", text);
    let plan = planned(made.path()).unwrap();
    let page = String::from_utf8(report::page(&plan, "2026-03-01T06:00:00Z").unwrap()).unwrap();
    let page = page.replace('\u{a0}', " ");
    assert!(page.contains("packs of 500 000 seeds"), "no packs of seeds");
}
