//! One bout of the demo against its figures worked out by hand in docs/methods/as-driven.md.

use std::path::Path;
use twinsow::job::Job;
use twinsow::plan::{self, Disk, Options};

/// Metres and kilograms are to two decimals on the page.
const ROUNDED: f64 = 0.006;

#[test]
fn bout_64_of_the_demo_is_what_the_page_works_out_by_hand() {
    let job = Path::new(env!("CARGO_MANIFEST_DIR")).join("examples/demo/job.toml");
    let plan = plan::plan(
        &Job::load(&job).expect("the demo's job"),
        &Disk,
        &Options::default(),
    )
    .expect("a plan");
    let bout = &plan.drive.bouts[63];
    assert_eq!(bout.number, 64);
    let outlets: Vec<u32> = bout.closed.iter().map(|row| row.outlet).collect();
    assert_eq!(outlets, [18, 19, 30, 31]);
    // Where each of the two sections is on, and from where on the map says which rates.
    let on = [[0.0, 404.02], [2.01, 404.94]];
    for (section, [from, to]) in bout.sections.iter().zip(on) {
        assert_eq!(section.on_m.len(), 1);
        let found = section.on_m[0];
        assert!(
            (found[0] - from).abs() < ROUNDED && (found[1] - to).abs() < ROUNDED,
            "{found:?}"
        );
    }
    let barley = [
        (0.0, 2.82, 215.0),
        (2.82, 10.03, 205.0),
        (10.03, 204.76, 170.0),
        (204.76, 284.09, 205.0),
        (284.09, 341.78, 225.0),
        (341.78, 404.94, 205.0),
    ];
    let starter = [(0.0, 125.42, 105.0), (125.42, 284.09, 95.0)];
    // 3.6 m less two closed rows of 0.15 m in each section.
    let open_m = 3.6 - 2.0 * 0.15;
    let by_hand = |steps: &[(f64, f64, f64)]| -> f64 {
        let of_section = |[on, off]: [f64; 2]| -> f64 {
            let metres = |from: f64, to: f64| (to.min(off) - from.max(on)).max(0.0);
            steps
                .iter()
                .map(|(from, to, rate)| metres(*from, *to) * rate)
                .sum()
        };
        on.into_iter().map(of_section).sum::<f64>() * open_m / 10_000.0
    };
    let driven = plan.drive.as_driven.as_ref().expect("driven");
    let found = &driven.bouts[63].kg;
    for (kg, hand, page) in [
        (found[0], by_hand(&barley), 50.87),
        (found[1], by_hand(&starter), 18.57),
    ] {
        assert!((hand - page).abs() < ROUNDED, "{hand} {page}");
        assert!((kg - page).abs() < ROUNDED, "{kg} {page}");
    }
    let left = &plan.drive.refills.as_ref().expect("hoppers").left_kg;
    for (nth, taken) in [50.87, 18.57].into_iter().enumerate() {
        assert!((left[62][nth] - left[63][nth] - taken).abs() < ROUNDED);
    }
}
