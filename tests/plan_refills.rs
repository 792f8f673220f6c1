//! Refills of a planned field: where the stops lie, what they fill, and what is said if a fill cannot last.

mod plan_support;

use plan_support::{PLACE, collection, degrees, line, plain, planned};
use twinsow::plan::Plan;

/// The plain field with hoppers of these litres (front, rear), driven; `refill` is the table of that name.
fn driven(litres: [u32; 2], refill: &str, files: &[(&str, String)]) -> Plan {
    let made = plain("[headland]\nbouts = 1\n");
    let text = plan_support::job("[headland]\nbouts = 1\n")
        .replace("1900.0", &format!("{}\nmin_level_l = 20.0\nresidue_l = 5.0\nlevel = [{{ cm = 0, l = 0 }}, {{ cm = 100, l = 2000 }}]", litres[0]))
        .replace("1300.0", &litres[1].to_string())
        .replace("hopper = \"front\"\n", "hopper = \"front\"\nbulk_density_kg_per_l = 0.75\n")
        .replace("hopper = \"rear\"\n", "hopper = \"rear\"\nbulk_density_kg_per_l = 1.0\npack_kg = 25.0\n");
    let text = format!("{text}\n[drive]\nheading_deg = 90\n[refill]\n{refill}");
    made.write("job.toml", text);
    for (name, content) in files {
        made.write(name, content);
    }
    planned(made.path()).expect("planned")
}

fn codes(plan: &Plan) -> Vec<&str> {
    plan.findings
        .iter()
        .map(|finding| finding.code.as_ref())
        .collect()
}

#[test]
fn stops_lie_within_reach_of_the_tender_and_what_is_filled_is_sown() {
    // The tender stands along the western edge.
    let edge = collection(&[line(PLACE, &[[0.0, 0.0], [0.0, 150.0]])]);
    let refill =
        "tender = { file = \"edge.geojson\" }\nreach_m = 20\nwhole_packs_of = [\"starter\"]\n";
    let plan = driven([200, 80], refill, &[("edge.geojson", edge)]);
    let refills = plan.drive.refills.as_ref().expect("hoppers are followed");
    assert!(refills.cannot_last.is_none());
    assert!(refills.stops.len() > 3, "{}", refills.stops.len());
    let west = degrees(PLACE, [20.0, 0.0])[0];
    for stop in &refills.stops {
        assert!(stop.lon_lat.lon < west && !stop.away, "{stop:?}");
        let starter = &stop.fills[1];
        assert_eq!(
            starter.packs.map(|packs| packs as f64 * 25.0),
            Some(starter.fill_kg)
        );
        // 5 l that the meter cannot empty lie below what is sown; 20 l are a centimetre.
        let seed = &stop.fills[0];
        let [before, after] = seed.level_cm.expect("a table");
        assert!((before - (seed.left_kg / 0.75 + 5.0) / 20.0).abs() < 1e-6);
        assert!((after - before - seed.fill_kg / 0.75 / 20.0).abs() < 1e-6);
    }
    let driven = plan.drive.as_driven.as_ref().expect("driven");
    for (half, product) in refills.halves.iter().zip(&driven.products) {
        assert!((half.sown_kg - product.as_driven_kg).abs() < 1e-3);
        assert!((half.filled_kg - half.sown_kg - half.left_kg).abs() < 1e-9);
    }
    let [seed, starter] = [&refills.halves[0], &refills.halves[1]];
    assert!((seed.left_kg - 15.0).abs() < 1e-6, "what must stay, 20 l");
    assert!((0.0..25.0).contains(&starter.left_kg));
    let last = refills.left_kg.last().expect("bouts");
    assert!((last[0] - seed.left_kg).abs() < 1e-6 && (last[1] - starter.left_kg).abs() < 1e-6);
    assert!(refills.left_kg.iter().all(|kg| kg[0] > 15.0 - 1e-6));
}

#[test]
fn of_a_named_side_the_ends_of_every_second_bout_count() {
    let plan = driven([150, 100], "side_deg = 270\n", &[]);
    let refills = plan.drive.refills.as_ref().expect("hoppers are followed");
    assert!(refills.stops.len() > 3);
    let middle = degrees(PLACE, [100.0, 0.0])[0];
    assert!(refills.stops.iter().all(|stop| stop.lon_lat.lon < middle));
    // On both sides there is more choice, and never more stops.
    let any = driven([150, 100], "", &[]);
    assert!(any.drive.refills.as_ref().expect("hoppers").stops.len() <= refills.stops.len());
}

#[test]
fn a_fill_that_cannot_last_and_a_tender_out_of_reach_are_findings() {
    let plan = driven([40, 1300], "", &[]);
    assert!(codes(&plan).contains(&"refill.cannot_last"));
    assert!(plan.drive.refills.expect("hoppers").stops.is_empty());
    let far = collection(&[line(PLACE, &[[-400.0, 0.0], [-400.0, 150.0]])]);
    let plan = driven(
        [200, 100],
        "tender = { file = \"far.geojson\" }\n",
        &[("far.geojson", far)],
    );
    assert!(codes(&plan).contains(&"refill.away"));
}

#[test]
fn a_divider_that_moves_is_put_where_the_stops_are_fewest() {
    let plan = driven([150, 450], "movable_divider = true\n", &[]);
    let refills = plan.drive.refills.expect("hoppers are followed");
    let best = refills.best_split.expect("two halves");
    assert_eq!(best.refills_now, Some(refills.stops.len() - 1));
    assert!(best.refills < refills.stops.len() - 1, "{best:?}");
    assert!((best.usable_l.iter().sum::<f64>() - 600.0).abs() < 1e-9);
    assert!(best.usable_l[0] > 250.0, "{best:?}");
}
