//! Built-in tables against the examples their publishers print, and wrong tables against their lines.

use super::*;

fn rb209() -> &'static Recommendations {
    built_in("uk_rb209_arable_2023").expect("the UK table")
}

fn need(
    name: &str,
    straw: Straw,
    nutrient: Nutrient,
    class: &str,
    yield_t_per_ha: Option<f64>,
) -> Need {
    let table = rb209();
    let crop = table.crop(name, straw).expect("a crop");
    table
        .need(crop, nutrient, class, yield_t_per_ha)
        .expect("a need")
}

#[test]
fn every_built_in_table_is_sound() {
    for name in names() {
        let table = built_in(name).expect(name);
        assert!(!table.crops.is_empty());
    }
    assert!(
        built_in("uk_rb209_arable_2022")
            .expect_err("no such")
            .to_string()
            .contains("uk_rb209_arable_2023")
    );
}

/// RB209 section 4 (June 2023), page 21, example 4.8: wheat, P index 1, 10 t/ha, straw incorporated: 93 kg/ha.
/// Page 35, example 4.9: rape, P index 1, 4.5 t/ha: 94 kg/ha.
#[test]
fn worked_examples_of_rb209_come_out() {
    let wheat = need(
        "winter wheat",
        Straw::Incorporated,
        Nutrient::P2o5,
        "1",
        Some(10.0),
    );
    assert_eq!(wheat.kg_per_ha, 93.0);
    assert_eq!(
        crate::texts::Words::default().say(&wheat.said),
        "80 kg/ha P2O5 for winter wheat at index 1 + 2 t/ha of yield x 6.5 kg/t = 93 kg/ha"
    );
    assert_eq!(
        wheat.source,
        "AHDB, Nutrient Management Guide (RB209), section 4: arable crops, updated June 2023, Table 4.13, page 22"
    );
    let rape = need(
        "winter oilseed rape",
        Straw::Removed,
        Nutrient::P2o5,
        "1",
        Some(4.5),
    );
    assert_eq!(rape.kg_per_ha, 94.0);
    // Example 4.6, page 19: 10 t/ha of wheat with the straw carry off 70 P2O5 and 105 K2O.
    let table = rb209();
    let crop = table.crop("winter wheat", Straw::Removed).expect("a crop");
    let offtake: Vec<f64> = crop
        .amounts
        .iter()
        .filter_map(|(_, amounts)| amounts.offtake_kg_per_t)
        .map(|kg| kg * 10.0)
        .collect();
    assert_eq!(offtake, [70.0, 105.0]);
}

/// RB209 section 1 (2023), table 1.7, page 28: +60 at index 0 and +30 at index 1, to raise it in 10 to 15 years.
/// Its arable tables hold that everywhere, so a slip of a digit in our copy would show.
#[test]
fn lower_indices_get_the_published_extra_over_the_next() {
    for crop in &rb209().crops {
        for (nutrient, amounts) in &crop.amounts {
            let [zero, one, two, ..] = amounts.kg_per_ha[..] else {
                panic!("{}", crop.name)
            };
            assert_eq!(
                (zero - two, one - two),
                (60.0, 30.0),
                "{} {nutrient:?}",
                crop.name
            );
        }
    }
}

/// RB209 section 4 (June 2023), table 4.11, page 17.
#[test]
fn index_edges_are_the_printed_ones() {
    let table = rb209();
    let [p, k] = &table.indices[..] else {
        panic!("two indices")
    };
    for (value, class) in [
        (0.0, "0"),
        (9.0, "0"),
        (10.0, "1"),
        (15.0, "1"),
        (16.0, "2"),
        (25.0, "2"),
        (26.0, "3"),
        (45.0, "3"),
        (46.0, "4"),
        (280.0, "8"),
        (281.0, "9"),
        // Between whole numbers, by the rule the file states.
        (9.4, "0"),
        (9.6, "1"),
        (15.5, "2"),
    ] {
        assert_eq!(p.class_of(value).expect("a class"), class, "{value}");
    }
    for (value, class) in [
        (60.0, "0"),
        (61.0, "1"),
        (120.0, "1"),
        (121.0, "2-"),
        (180.0, "2-"),
        (181.0, "2+"),
        (240.0, "2+"),
        (241.0, "3"),
        (3600.0, "8"),
        (3601.0, "9"),
    ] {
        assert_eq!(k.class_of(value).expect("a class"), class, "{value}");
    }
    assert!(
        p.class_of(-1.0).is_err() && p.class_of(-0.4).is_err() && p.class_of(f64::NAN).is_err()
    );
}

#[test]
fn north_dakota_amounts_are_kept_in_kg_per_ha() {
    // NDSU SF723 (July 2023); kg/ha by arithmetic: 78/60/52/26/0 lb/ac.
    let table = built_in("us_north_dakota_barley_2023").expect("the table");
    let crop = table.crop("barley", Straw::Removed).expect("barley");
    for (olsen_ppm, kg_per_ha) in [
        (2.0, 87.0),
        (4.0, 67.0),
        (11.0, 58.0),
        (15.0, 29.0),
        (16.0, 0.0),
    ] {
        let class = table.indices[0].class_of(olsen_ppm).expect("a class");
        let need = table
            .need(crop, Nutrient::P2o5, class, None)
            .expect("a need");
        assert!(
            (need.kg_per_ha - kg_per_ha).abs() <= 0.5,
            "{olsen_ppm}: {}",
            need.kg_per_ha
        );
    }
    assert!(
        table.need(crop, Nutrient::N, "0-3", None).is_err(),
        "no N in this table"
    );
    assert!(
        table.need(crop, Nutrient::P2o5, "0-3", Some(4.0)).is_err(),
        "no offtake in this table"
    );
}

#[test]
fn enough_is_enough_and_no_need_is_negative() {
    assert_eq!(
        need(
            "winter wheat",
            Straw::Removed,
            Nutrient::P2o5,
            "4",
            Some(12.0)
        )
        .kg_per_ha,
        0.0
    );
    assert_eq!(
        need(
            "winter wheat",
            Straw::Removed,
            Nutrient::K2o,
            "2+",
            Some(1.0)
        )
        .kg_per_ha,
        0.0
    );
    let fault = rb209()
        .crop("winter weat", Straw::Removed)
        .expect_err("a slip");
    assert!(
        fault.allowed.ends_with("did you mean 'winter wheat'?"),
        "{fault}"
    );
}

#[test]
fn a_wrong_table_is_refused_with_its_line() {
    let text = BUILT_IN[1].1;
    for (good, bad, words) in [
        (
            "publisher = \"NDSU Extension\"",
            "",
            "the key 'publisher' is missing",
        ),
        (
            "publisher = \"NDSU Extension\"",
            "publisher = \" \"",
            "'publisher' is empty",
        ),
        ("edition = ", "editon = ", "unknown key 'editon'"),
        (
            "{ name = \"8-11\", from = 8 }",
            "{ name = \"8-11\", from = 3 }",
            "begins at 3",
        ),
        (
            "{ name = \"8-11\", from = 8 }",
            "{ name = \"4-7\", from = 8 }",
            "'4-7' is there twice",
        ),
        ("from = 0 }", "from = 1 }", "does not begin at 0"),
        (
            "\"8-11\" = 52, ",
            "",
            "class '8-11' of index 'olsen_p' has no amount",
        ),
        ("\"8-11\" = 52", "\"8-12\" = 52", "no class '8-12'"),
        ("\"8-11\" = 52", "\"8-11\" = -52", "is -52"),
        (
            "index = \"olsen_p\"",
            "index = \"bray_p\"",
            "no index 'bray_p'",
        ),
        ("unit = \"lb/ac\"", "unit = \"lb\"", "the unit is 'lb'"),
        (
            "\"16+\" = 0 }",
            "\"16+\" = 0 }, offtake_kg_per_t = 7",
            "without 'yield_t_per_ha'",
        ),
        (
            "between = \"nearest\"",
            "between = \"up\"",
            "'up' is none of: nearest, lower",
        ),
    ] {
        let line = 1 + text
            .find(good)
            .map(|at| text[..at].matches('\n').count())
            .expect(good);
        let fault = Recommendations::parse(&text.replacen(good, bad, 1), Path::new("my.toml"))
            .expect_err(bad);
        assert!(fault.found.contains(words), "{bad}: {fault}");
        assert_eq!(fault.place.file.as_deref(), Some("my.toml"));
        let said = fault.place.line.expect("a line");
        // A whole file lacks a key on no line of its own, and a list is blamed where it begins.
        assert!(
            words.contains("missing")
                || said == line
                || (words.contains("at 0") && said + 1 == line),
            "{bad}: {said} {line}"
        );
    }
}
