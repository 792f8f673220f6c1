//! Surfaces against general-purpose libraries: figures by `tests/figures/kriging.py`.

use super::k_means::clusters;
use super::kriging::Kriging;
use super::points::Near;
use super::samples::Samples;
use super::variogram::{Variogram, fit, lags};
use crate::job::VariogramModel;
use serde_json::Value;

fn figures() -> Value {
    serde_json::from_str(include_str!("../../tests/figures/kriging.json")).unwrap()
}

fn numbers(value: &Value) -> Vec<f64> {
    serde_json::from_value(value.clone()).unwrap()
}

fn places(value: &Value) -> Vec<[f64; 2]> {
    serde_json::from_value(value.clone()).unwrap()
}

fn near(own: f64, wanted: f64, tolerance: f64, what: &str) {
    let scale = wanted.abs().max(1e-3);
    assert!(
        (own - wanted).abs() <= tolerance * scale,
        "{what}: {own} {wanted}"
    );
}

const MODELS: [(&str, VariogramModel); 3] = [
    ("spherical", VariogramModel::Spherical),
    ("exponential", VariogramModel::Exponential),
    ("gaussian", VariogramModel::Gaussian),
];

#[test]
fn lags_and_fits_agree_with_geostatistics_and_optimisation_libraries() {
    let figures = figures();
    let lags = lags(&places(&figures["points"]), &numbers(&figures["values"]));
    let pairs = numbers(&figures["lags"]["pairs"]);
    let squares = numbers(&figures["lags"]["half_square"]);
    assert_eq!(lags.len(), pairs.len());
    for (n, lag) in lags.iter().enumerate() {
        assert_eq!(lag.pairs, pairs[n], "lag {n}");
        near(lag.half_square, squares[n], 1e-9, "lag");
    }
    for (name, model) in MODELS {
        let (own, left) = fit(&lags, model).unwrap();
        let wanted = &figures["fits"][name];
        // At least as good a fit, and the same one.
        let wanted_left = wanted["left"].as_f64().unwrap();
        assert!(
            left <= wanted_left * 1.000_001,
            "{name}: {left} {wanted_left}"
        );
        near(own.range_m, wanted["range_m"].as_f64().unwrap(), 0.01, name);
        near(
            own.nugget + own.partial_sill,
            wanted["nugget"].as_f64().unwrap() + wanted["partial_sill"].as_f64().unwrap(),
            0.01,
            name,
        );
    }
}

#[test]
fn kriging_agrees_with_a_geostatistics_library() {
    let figures = figures();
    let (points, values) = (places(&figures["points"]), numbers(&figures["values"]));
    for (name, model) in &MODELS[..2] {
        let case = &figures["kriging"][name];
        let number = |key: &str| case[key].as_f64().unwrap();
        let variogram = Variogram {
            model: *model,
            nugget: number("nugget"),
            partial_sill: number("partial_sill"),
            range_m: number("range_m"),
        };
        let kriging = Kriging::of(&points, &values, variogram).unwrap();
        let targets = places(&figures["targets"]);
        for (place, wanted) in targets.iter().zip(numbers(&case["at_targets"])) {
            near(kriging.at(*place), wanted, 1e-8, name);
        }
        for (own, wanted) in kriging
            .left_out_error
            .iter()
            .zip(numbers(&case["left_out"]))
        {
            assert!((own - wanted).abs() < 1e-7, "{name}: {own} {wanted}");
        }
    }
    // Two points in one place have no solution, and that is no panic.
    let flat = Variogram {
        model: VariogramModel::Spherical,
        nugget: 0.0,
        partial_sill: 1.0,
        range_m: 10.0,
    };
    assert!(
        Kriging::of(
            &[[0.0, 0.0], [0.0, 0.0], [5.0, 0.0]],
            &[1.0, 2.0, 3.0],
            flat
        )
        .is_none()
    );
}

#[test]
fn inverse_distance_agrees_with_a_neighbours_library() {
    let figures = figures();
    let samples = Samples {
        points: places(&figures["points"]),
        values: numbers(&figures["values"]),
    };
    let all = Near::of(&samples);
    let targets = places(&figures["targets"]);
    for (place, wanted) in targets.iter().zip(numbers(&figures["inverse_distance"])) {
        near(
            all.weighed(*place, 12, 2.0, None),
            wanted,
            1e-12,
            "inverse distance",
        );
    }
    // At a point its own value; left out, the nearest other one.
    let seventh = samples.points[7];
    assert_eq!(all.weighed(seventh, 12, 2.0, None), samples.values[7]);
    assert_ne!(all.weighed(seventh, 1, 0.0, Some(7)), samples.values[7]);
}

#[test]
fn smoothing_agrees_with_a_neighbours_library() {
    let figures = figures();
    let samples = Samples {
        points: places(&figures["points"]),
        values: numbers(&figures["values"]),
    };
    let all = Near::of(&samples);
    let radius = figures["smoothing_m"].as_f64().unwrap();
    let targets = places(&figures["targets"]);
    for (place, wanted) in targets.iter().zip(numbers(&figures["smoothed"])) {
        near(
            all.smoothed(*place, radius, None),
            wanted,
            1e-12,
            "smoothed",
        );
    }
    assert!(all.smoothed([-500.0, 0.0], radius, None).is_nan());
}

#[test]
fn k_means_is_as_good_as_a_learning_library() {
    let figures = figures();
    let points: Vec<Vec<f64>> =
        serde_json::from_value(figures["k_means"]["points"].clone()).unwrap();
    for (count, wanted) in [2, 3, 4, 5]
        .iter()
        .zip(numbers(&figures["k_means"]["explained"]))
    {
        let own = clusters(&points, *count).unwrap().explained(&points);
        // The library had 200 starts; where there are no natural classes, 10 come as near as this.
        let tolerance = if *count <= 3 { 1e-9 } else { 1e-3 };
        assert!((own - wanted).abs() < tolerance, "{count}: {own} {wanted}");
    }
    assert!(clusters(&points[..3], 4).is_none());
}
