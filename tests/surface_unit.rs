//! A third product that a unit of its own spreads on the surface along the bouts: whole plans of a made field.

mod plan_support;

use plan_support::{Made, plain, planned};
use twinsow::plan::Plan;
use twinsow::tally::StepName;
use twinsow::write;

const DRIVE: &str = "[headland]\nbouts = 1\n[drive]\nheading_deg = 83\n";

/// The plain field with a third product; `width` is the line of what its unit spreads. Its rates are a tenth of the starter's.
fn made(width: &str) -> Made {
    let made = plain(DRIVE);
    let container =
        format!("usable_l = 1300.0\n[[drill.hopper]]\nname = \"box\"\nusable_l = 120.0\n{width}");
    let third = r#"
[[product]]
id = "granules"
name = "granules"
kind = "fertiliser"
hopper = "box"
surface_applied = true
bulk_density_kg_per_l = 0.8
pack_kg = 20.0
rate = { kg_per_ha = { layer = "soil", by_class = { a = 10.0, b = 0.0 } } }
"#;
    let dense = |name: &str| format!("hopper = \"{name}\"\nbulk_density_kg_per_l = 0.9");
    let job = plan_support::job(DRIVE)
        .replace("usable_l = 1300.0\n", &container)
        .replace("hopper = \"front\"", &dense("front"))
        .replace("hopper = \"rear\"", &dense("rear"));
    made.write("job.toml", job + third);
    made
}

fn plan(made: &Made) -> Plan {
    planned(made.path()).unwrap_or_else(|fault| panic!("{fault}"))
}

fn near(found: f64, wanted: f64) {
    assert!((found - wanted).abs() < 1e-6, "{found}, not {wanted}");
}

/// As wide as the drill, which has one section: all that the drive says of the starter, by tenths. Without a width of
/// its own, the unit has the drill's.
#[test]
fn as_wide_as_the_drill_it_does_what_the_drill_does() {
    for width in ["spreads_width_m = 6.0\n", ""] {
        let plan = plan(&made(width));
        let drill = plan.drive.as_driven.as_ref().expect("a drive");
        let [unit] = plan.drive.spread.as_slice() else {
            panic!("{:?}", plan.drive.spread);
        };
        assert_eq!(unit.as_driven.areas, drill.areas);
        let (own, starter) = (&unit.as_driven.products[0], &drill.products[1]);
        assert!(drill.areas.twice_m2 > 100.0 && starter.following_kg.abs() > 0.01);
        for (own, starter) in [
            (own.map_kg, starter.map_kg),
            (own.overlap_kg, starter.overlap_kg),
            (own.following_kg, starter.following_kg),
            (own.as_driven_kg, starter.as_driven_kg),
        ] {
            near(own, starter / 10.0);
        }
        for (own, starter) in own.within.iter().zip(&starter.within) {
            near(own.share_percent, starter.share_percent);
        }
    }
}

/// What its unit spreads is in areas, order, refills and layers.
#[test]
fn another_width_is_in_areas_order_refills_and_layers() {
    for (width, wider) in [(4.0, false), (7.5, true)] {
        // It runs on; what the container loses counts that in.
        let late = "delays = { stop_s = 2.0 }";
        let made = made(&format!("spreads_width_m = {width}\n{late}\n"));
        let plan = plan(&made);
        let unit = &plan.drive.spread[0];
        let areas = unit.as_driven.areas;
        near(
            areas.once_m2 + areas.twice_m2 + areas.missed_m2,
            areas.land_m2,
        );
        near(
            areas.once_m2 + areas.twice_m2 + areas.again_m2 + areas.beyond_m2,
            areas.driven_m2,
        );
        assert_eq!(wider, areas.missed_m2 < 1.0, "{areas:?}");
        let product = &unit.as_driven.products[0];
        assert!((product.metered_kg - product.as_driven_kg).abs() < 1e-4);
        let tally = &plan.tally.planned.products[2];
        near(tally.as_driven_kg, product.as_driven_kg);
        let mut steps = tally.steps.iter();
        let missed = steps.find(|step| step.step == StepName::Missed);
        assert_eq!(missed.is_some_and(|step| step.kg < -1.0), !wider);
        let refills = plan.drive.refills.as_ref().expect("hoppers");
        assert_eq!(refills.halves[2].product, "granules");
        near(refills.halves[2].sown_kg, product.as_driven_kg);
        let told = |code: &str| plan.findings.iter().any(|finding| finding.code == code);
        assert!(told("drill.spreads_other_width"));

        let out = made.path().join("out");
        write::deliver(&plan, &out, "2026-03-20T06:00:00Z").expect("files");
        let layer = |table: &str| {
            twinsow::read::read(&out.join("gis/rates.gpkg"), Some(table))
                .unwrap_or_else(|fault| panic!("{fault}"))
        };
        let names = layer("bouts").attributes;
        assert!(names.iter().any(|name| name == "granules_kg"), "{names:?}");
        let names = layer("difference_surface").attributes;
        for wanted in ["granules_wanted_kg_ha", "granules_sown_kg_ha"] {
            assert!(names.iter().any(|name| name == wanted), "{names:?}");
        }
        assert!(!names.iter().any(|name| name.starts_with("seed")));
    }
}
