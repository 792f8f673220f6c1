use super::super::tests::{job, made};
use super::*;
use crate::drive::test_land::land;
use crate::drive::tramline::{on_land, rhythm};

fn bouts(count: u32, more: &str) -> String {
    format!("{more}\n[headland]\nbouts = {count}")
}

/// The worked example of docs/methods/tramlines.md, by hand.
#[test]
fn the_round_of_a_24_m_sprayer_behind_a_6_m_drill() {
    let job = job(6.0, 24.0, &bouts(3, ""));
    let field = [[0.0, 0.0], [200.0, 0.0], [200.0, 100.0], [0.0, 100.0]];
    let (made, findings) = on_land(&land(&field, 18.0), &job).unwrap();
    assert_eq!(findings, []);
    let made = made.unwrap();
    // The round ends at 24 m, 6 m inside the interior; the next bout's middle lies 12 m further.
    let near = |got: [f64; 2], wanted: [f64; 2]| {
        assert!(
            (got[0] - wanted[0]).abs() < 1e-9 && (got[1] - wanted[1]).abs() < 1e-9,
            "{got:?}"
        );
    };
    near(made.first_wheels_m, [17.1, 18.9]);
    assert_eq!(
        made.closed.iter().map(|bout| bout.bout).collect::<Vec<_>>(),
        [3, 4]
    );
    let round = made.headland.unwrap();
    near(round.wheels_m, [11.1, 12.9]);
    assert!((round.least_headland_m - 13.05).abs() < 1e-9);
    assert_eq!((round.least_bouts, round.rows), (3, RoundRows::Close));
    let rings: Vec<(u64, &[u32])> = round
        .rings
        .iter()
        .map(|ring| (ring.ring, ring.outlets.as_slice()))
        .collect();
    assert_eq!(rings, [(2, [7, 8].as_slice()), (3, [41, 42].as_slice())]);
    let lengths: Vec<[f64; 2]> = round
        .rings
        .iter()
        .map(|ring| [ring.length_m, ring.closed_m])
        .collect();
    near(lengths[0], [528.0, 480.0]);
    near(lengths[1], [480.0, 432.0]);
    assert!((round.closed_m2 - 228.0).abs() < 1e-9);
    assert!((round.crossed_m - 4.95).abs() < 1e-9);
}

/// The inner wheel runs at 12.9 m: two bouts of 6 m do not hold it.
#[test]
fn a_headland_too_narrow_says_how_many_bouts_it_takes() {
    let job = job(6.0, 24.0, &bouts(2, ""));
    let field = [[0.0, 0.0], [200.0, 0.0], [200.0, 100.0], [0.0, 100.0]];
    let (made, findings) = on_land(&land(&field, 12.0), &job).unwrap();
    let round = made.unwrap().headland.unwrap();
    assert_eq!((round.rows, round.least_bouts), (RoundRows::TooNarrow, 3));
    assert!(round.rings.is_empty() && round.closed_m2 == 0.0);
    assert_eq!(findings.len(), 1);
    assert_eq!(findings[0].code, "tramline.headland_too_narrow");
    let message = &findings[0].message;
    assert!(message.contains("11.10 m and 12.90 m"), "{message}");
    assert!(message.contains("set bouts = 3 in [headland]"), "{message}");
}

/// From the border on: no strip is sprayed twice or left out by design, whatever the widths; and of the rows exactly those
/// under a wheel of a sprayer that covers S after S from the border close.
#[test]
fn sprayer_bouts_lie_side_by_side_from_the_border() {
    for (drill, sprayer, headland) in [
        (6.0, 24.0, 3),
        (6.0, 24.0, 2),
        (6.0, 24.0, 5),
        (7.0, 35.0, 3),
        (5.0, 24.0, 4),
        (4.5, 21.0, 3),
        (8.0, 30.0, 2),
    ] {
        for start in ["whole", "half"] {
            let job = job(
                drill,
                sprayer,
                &bouts(headland, &format!("start = \"{start}\"")),
            );
            let made = made(&job);
            let headland_m = f64::from(headland) * drill;
            let middle = (made.first_wheels_m[0] + made.first_wheels_m[1]) / 2.0 + headland_m;
            let before = (middle - sprayer / 2.0) / sprayer;
            assert!(
                (before - before.round()).abs() < 1e-9 && before > 0.5,
                "{before}"
            );
            let rows = job.drill.rows.unwrap();
            let shift = if start == "half" { drill / 2.0 } else { 0.0 };
            let under = |from_border: f64| {
                let middle = ((from_border / sprayer).floor() + 0.5) * sprayer;
                ((from_border - middle).abs() - 0.9).abs() - 0.15
            };
            for bout in 1..=3 * made.drill_bouts {
                let in_cycle = (bout - 1) % made.drill_bouts + 1;
                let known = made.closed.iter().find(|closed| closed.bout == in_cycle);
                for row in 1..=rows {
                    let x = (bout - 1) as f64 * drill - shift + (f64::from(row) - 0.5) * 0.125;
                    let beyond = under(headland_m + x);
                    if beyond.abs() > 1e-6 {
                        let got = known.is_some_and(|closed| closed.rows.contains(&row));
                        assert_eq!(
                            got,
                            beyond < 0.0,
                            "{drill} {sprayer} {headland} {bout} {row}"
                        );
                    }
                }
            }
            let round = made.headland.unwrap();
            if round.rows == RoundRows::TooNarrow {
                continue;
            }
            for ring in 1..=u64::from(headland) {
                let known = round.rings.iter().find(|known| known.ring == ring);
                for outlet in 1..=rows {
                    // The border on the right, outlet 1 farthest from it.
                    let x = ring as f64 * drill - (f64::from(outlet) - 0.5) * 0.125;
                    let beyond = under(x);
                    // Further rounds on a wide headland are not part of the first.
                    if beyond.abs() > 1e-6 && x < sprayer {
                        let got = known.is_some_and(|known| known.outlets.contains(&outlet));
                        assert_eq!(
                            got,
                            beyond < 0.0,
                            "{drill} {sprayer} {headland} {ring} {outlet}"
                        );
                    }
                }
            }
        }
    }
}

const MIDDLE: &str = "start = \"half\"\nclosable_outlets = [17, 18, 31, 32]";

#[test]
fn a_headland_that_the_drill_cannot_close_is_refused_with_the_nearest_that_it_can() {
    let asked = job(
        6.0,
        24.0,
        &bouts(3, &format!("{MIDDLE}\nheadland = \"closed\"")),
    );
    let fault = rhythm(&asked).unwrap_err();
    assert_eq!(fault.code, "tramline.headland_cannot_close");
    assert!(
        fault
            .found
            .contains("outlets 7, 8 of ring 2 and outlets 41, 42 of ring 3"),
        "{}",
        fault.found
    );
    // Rings are whole bouts, so a round has both wheels in one where the sprayer is an odd number of them.
    for near in [
        "sprayer_width_m = 18 with start = \"whole\"",
        "sprayer_width_m = 30 with start = \"whole\"",
    ] {
        assert!(fault.next.contains(near), "{}", fault.next);
    }
    for (sprayer, headland) in [(18.0, 3), (30.0, 3)] {
        let more = "closable_outlets = [17, 18, 31, 32]\nheadland = \"closed\"";
        let made = made(&job(6.0, sprayer, &bouts(headland, more)));
        assert_eq!(made.headland.unwrap().rows, RoundRows::Close);
    }
}

/// 2.5 bouts of headland move the interior's wheels by half a bout, off the outlets that close.
#[test]
fn a_headland_of_broken_bouts_is_named_where_the_interior_cannot_close() {
    let more = "closable_outlets = [17, 18, 31, 32]\n[headland]\nwidth_m = 15";
    let fault = rhythm(&job(6.0, 18.0, more)).unwrap_err();
    assert_eq!(fault.code, "tramline.cannot_close");
    assert!(
        fault.found.contains("begin 3.00 m from the edge"),
        "{}",
        fault.found
    );
    assert!(fault.next.contains("whole bouts wide"), "{}", fault.next);
    let whole = "closable_outlets = [17, 18, 31, 32]\n[headland]\nwidth_m = 12";
    assert!(rhythm(&job(6.0, 18.0, whole)).is_ok());
}

#[test]
fn without_the_key_what_cannot_close_stays_sown_and_is_said() {
    let field = [[0.0, 0.0], [200.0, 0.0], [200.0, 100.0], [0.0, 100.0]];
    let job = job(6.0, 24.0, &bouts(3, MIDDLE));
    let (made, findings) = on_land(&land(&field, 18.0), &job).unwrap();
    let round = made.unwrap().headland.unwrap();
    assert_eq!((round.rows, round.closed_m2), (RoundRows::SomeClose, 0.0));
    assert_eq!(round.rings[0].stay_sown, [7, 8]);
    assert_eq!(findings[0].code, "tramline.headland_stays_sown");
    assert!(
        findings[0].message.contains("sprayer_width_m = 18"),
        "{}",
        findings[0].message
    );
}

#[test]
fn a_job_can_leave_the_round_sown_or_make_none() {
    let sown = made(&job(6.0, 24.0, &bouts(3, "headland = \"sown\"")));
    assert_eq!(sown.headland.as_ref().unwrap().rows, RoundRows::Sown);
    assert!((sown.first_wheels_m[0] - 17.1).abs() < 1e-9);
    let none = made(&job(6.0, 24.0, &bouts(3, "headland = \"none\"")));
    assert_eq!(none.headland, None);
    assert!((none.first_wheels_m[0] - 11.1).abs() < 1e-9);
    // Without a headland the sprayer begins at the border.
    let bare = made(&job(6.0, 24.0, ""));
    assert_eq!(
        (bare.headland.clone(), bare.first_wheels_m),
        (None, none.first_wheels_m)
    );
}

#[test]
fn nothing_is_saved_on_the_headland_where_other_rows_get_it() {
    let field = [[0.0, 0.0], [200.0, 0.0], [200.0, 100.0], [0.0, 100.0]];
    let job = job(6.0, 24.0, &bouts(3, "closed_flow = \"redistributed\""));
    let (made, _) = on_land(&land(&field, 18.0), &job).unwrap();
    let round = made.unwrap().headland.unwrap();
    assert_eq!((round.closed_m2.round(), round.saved_m2), (228.0, 0.0));
}
