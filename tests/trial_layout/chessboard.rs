//! Chessboards.

use super::*;

/// A chessboard: one piece without gaps, every block with all treatments, in every output, and answered by blocks.
#[test]
fn a_chessboard_lies_right() {
    let whole = |plan: &Plan, name: &str| {
        let laid = &plan.trials[0];
        let board = laid.chessboard.expect("a chessboard");
        let cells = |of: u32, in_block: usize| of as usize * in_block;
        let cells_across = board.cells_across.expect("told") as usize;
        let across = cells(board.blocks_across, cells_across);
        let along = cells(board.blocks_along, laid.treatments.len() / cells_across);
        assert_eq!(laid.plots.len(), across * along, "{name}");
        // In one piece: the hull of all has the area of all.
        let frame = &plan.land.frame;
        let all: Vec<Polygon> = laid
            .plots
            .iter()
            .map(|plot| in_plane(&plot.outline_lon_lat, frame))
            .collect();
        let points = all.iter().flat_map(|own| own.exterior().points());
        let hull = geo::ConvexHull::convex_hull(&geo::MultiPoint::new(points.collect()));
        let sum: f64 = all.iter().map(Area::unsigned_area).sum();
        assert!((hull.unsigned_area() - sum).abs() < 2.0, "{name}");
        let long = laid.plots[0].length_m;
        let wide = laid.strip_width_m;
        let by_hand = across as f64 * wide * along as f64 * long;
        assert!((sum - by_hand).abs() < 2.0, "{name}: {sum} {by_hand}");
    };
    let rates = "product = \"barley\"\nrates_kg_per_ha = [120, 150, 180, 210]\n";
    let board = |across: u32, along: u32, more: &str| {
        format!(
            "chessboard = {{ blocks_across = {across}, blocks_along = {along}{more} }}\nlength_m = 60\n"
        )
    };
    for more in [
        board(3, 2, ""),
        board(2, 1, ", cells_across = 2"),
        board(3, 2, "").replace("length_m = 60\n", "draw = 7\n"),
    ] {
        let (prepared, plan) = laid(&made(&trial("rates", &format!("{rates}{more}")), &[]));
        sound("rates in a chessboard", &prepared, &plan);
        whole(&plan, "rates");
        // Half of what a reading mixes at both ends, and one reading's worth between.
        assert_eq!(plan.trials[0].ends_m, 15.0);
        assert_eq!(plan.trials[0].plots[0].length_m, 60.0);
    }
    // In turns two treatments are the squares of a chessboard, by hand.
    let turns = board(3, 4, "") + "order = \"systematic\"\nproduct = \"barley\"\n";
    let (prepared, plan) = laid(&made(&trial("map_against_flat", &turns), &[]));
    sound("squares", &prepared, &plan);
    whole(&plan, "squares");
    let names: Vec<&str> = plan.trials[0]
        .plots
        .iter()
        .map(|plot| plot.treatment.as_str())
        .collect();
    let [a, b] = ["map", "flat"];
    let row = |first: &'static str, other: &'static str| [first, other].repeat(3);
    assert_eq!(names, [row(a, b), row(b, a), row(a, b), row(b, a)].concat());
    // Limits of the form, and what has no room.
    for (more, said) in [
        (board(2, 2, ", cells_across = 3") + rates, "divisor of 4"),
        (board(1, 1, "") + rates, "2 to 400"),
        (board(2, 2, "") + rates + "blocks = 4\n", "one of them"),
        (board(20, 2, "") + rates, "none in one piece"),
        (
            board(2, 2, "").replace("60", "50") + rates,
            "60.0 m or more",
        ),
    ] {
        let made = made(&trial("rates", &more), &[]);
        let fault = planned(&made.path().join("job.toml"));
        let fault = fault.err().unwrap_or_else(|| panic!("planned: {more}"));
        assert!(fault.to_string().contains(said), "{fault}");
    }
    // Four treatments by name, planned, harvested and read back: analysis of variance over four blocks.
    let made = made(&trial("with_and_without", &board(2, 2, "")), &[]);
    let (prepared, plan) = laid(&made);
    sound("crossed", &prepared, &plan);
    whole(&plan, "crossed");
    let output = made.run(&["plan", "job.toml", "--out", "plan"]);
    assert!(
        output.status.code().is_some_and(|code| code < 2),
        "{}",
        said(&output)
    );
    let report = fs::read_to_string(made.path().join("plan/report.html")).expect("a report");
    assert!(report.contains("2 side by side, 2 behind each other"));
    let frame = &plan.land.frame;
    let cells = &plan.trials[0].plots;
    let mut csv = String::from("lon,lat,yield\n");
    let heading = 20_f64.to_radians();
    let [mut number, mut nth] = [1_u64, 0];
    let mut noise = || {
        number = number
            .wrapping_mul(6_364_136_223_846_793_005)
            .wrapping_add(1_442_695_040_888_963_407);
        (number >> 33) as f64 / (1_u64 << 31) as f64 - 0.5
    };
    for (at, plot) in cells.iter().enumerate() {
        let corners = plot.harvest_lon_lat.iter().take(4);
        let corners: Vec<[f64; 2]> = corners.map(|at| frame.to_plane(*at).pair()).collect();
        let middle = [0, 1].map(|axis| corners.iter().map(|at| at[axis]).sum::<f64>() / 4.0);
        let more = if plot.treatment.starts_with("with oats") {
            0.5
        } else {
            0.0
        };
        let of_cell = 7.0 + 0.3 * (at / 4) as f64 + more + 0.1 * noise();
        for step in -14..=14 {
            let u = f64::from(step) * 2.0;
            let place = PlaneXy::new(middle[0] + u * heading.sin(), middle[1] + u * heading.cos());
            let [lon, lat] = frame.to_lon_lat(place).pair();
            csv += &format!("{lon:.9},{lat:.9},{:.3}\n", of_cell + 0.2 * noise());
            nth += 1;
        }
    }
    assert_eq!(nth, 16 * 29);
    made.write("yield.csv", csv);
    let output = made.run(&[
        "harvest",
        "plan",
        "yield.csv",
        "--column",
        "yield=yield:t/ha",
        "--yield-at",
        "15",
        "--moisture-basis",
        "15",
        "--base",
        "without oats, 15 % less barley",
        "--out",
        "harvest",
        "--json",
    ]);
    assert!(output.status.success(), "{}", said(&output));
    let found: serde_json::Value = serde_json::from_slice(&output.stdout).expect("JSON");
    let answer = &found["answer"];
    assert_eq!(
        (&answer["design"], &answer["blocks"]),
        (&"blocks".into(), &4.into())
    );
    assert_eq!(answer["shown"], true, "{answer}");
    // By hand: mean of plots less mean of plots, and the residual of blocks and treatments.
    let means = found["plots"].as_array().expect("plots");
    let of = |treatment: &str| -> Vec<(&str, f64)> {
        let own = means.iter().filter(|plot| plot["treatment"] == treatment);
        own.map(|plot| {
            (
                plot["block"].as_str().expect("a block"),
                plot["kg_per_ha"].as_f64().expect("a yield"),
            )
        })
        .collect()
    };
    let names: Vec<&str> = plan.trials[0]
        .treatments
        .iter()
        .map(|of| of.name.as_str())
        .collect();
    let mean = |of: &[f64]| of.iter().sum::<f64>() / of.len() as f64;
    let yields = |name: &str| of(name).into_iter().map(|(_, kg)| kg).collect::<Vec<f64>>();
    let all: Vec<f64> = names.iter().flat_map(|name| yields(name)).collect();
    assert_eq!(all.len(), 16);
    let best = names
        .iter()
        .map(|name| mean(&yields(name)))
        .fold(0.0, f64::max);
    let effect = answer["effect"]["kg_per_ha"].as_f64().expect("an effect");
    let base = mean(&yields("without oats, 15 % less barley"));
    assert!((effect - (best - base)).abs() < 1e-6, "{effect}");
    assert!((effect - 500.0).abs() < 100.0, "{effect}");
    let grand = mean(&all);
    let mut residual = 0.0;
    for name in &names {
        for (block, kg) in of(name) {
            let in_block: Vec<f64> = names
                .iter()
                .flat_map(|name| of(name))
                .filter(|(own, _)| *own == block)
                .map(|(_, kg)| kg)
                .collect();
            residual += (kg - mean(&yields(name)) - mean(&in_block) + grand).powi(2);
        }
    }
    // t(0.975, 9) = 2.262157 (Student's table).
    let by_hand = 2.262_157 * (2.0 * residual / 9.0 / 4.0_f64).sqrt();
    let told = answer["least_significant_difference"]
        .as_f64()
        .expect("a difference");
    assert!((told / by_hand - 1.0).abs() < 1e-5, "{told} {by_hand}");
}
