//! Figures published with open trial data, met by our own arithmetic. The data are not kept here: `tests/interop/trial_data.py` lays them into
//! the folder that `TWINSOW_TRIAL_DATA` names (CI does); without it nothing is checked, and the test says so.

use std::path::PathBuf;
use twinsow::trial::{
    Data, Family, Given, Neighbours, OptimumSet, Shape, curve, lattice, plot_model,
};

/// The rows of a file with these columns; `None` where the data are not there.
fn rows(file: &str, columns: &[&str]) -> Option<Vec<Vec<String>>> {
    let Some(folder) = std::env::var_os("TWINSOW_TRIAL_DATA") else {
        println!("NOT THERE: TWINSOW_TRIAL_DATA names no folder, {file} is not checked");
        return None;
    };
    let path = PathBuf::from(folder).join(file);
    let text = std::fs::read_to_string(&path)
        .unwrap_or_else(|error| panic!("{}: {error}", path.display()));
    let cells = |line: &str| -> Vec<String> {
        let cells = line.split(['\t', ',']);
        cells
            .map(|cell| cell.trim_matches('"').to_owned())
            .collect()
    };
    let mut lines = text.lines();
    let names = cells(lines.next().unwrap());
    let at: Vec<usize> = columns
        .iter()
        .map(|own| names.iter().position(|name| name == own).unwrap())
        .collect();
    Some(
        lines
            .map(|line| {
                let all = cells(line);
                at.iter().map(|&at| all[at].clone()).collect()
            })
            .collect(),
    )
}

fn numbers(rows: &[Vec<String>], column: usize) -> Vec<f64> {
    rows.iter()
        .map(|row| row[column].parse().unwrap())
        .collect()
}

fn near(found: f64, published: f64, tolerance: f64) {
    assert!(
        (found - published).abs() <= tolerance,
        "{found} instead of {published}"
    );
}

fn unfiltered(values: &[f64]) -> Vec<f64> {
    values.to_vec()
}

#[test]
fn set_of_optima_of_bachmaier() {
    let Some(mut rows) = rows("bachmaier.nitrogen.txt", &["nitro", "yield", "zone"]) else {
        return;
    };
    rows.retain(|row| row[2] == "low");
    let data = Data {
        rates: &numbers(&rows, 0),
        yields: &numbers(&rows, 1),
        further: &[],
        filter: &unfiltered,
    };
    let found = curve(Shape::Quadratic, &data).unwrap();
    // M. Bachmaier, Statistical Papers 50:649, 2009: 199 kg/ha, 173 to 260, at a gradient of 0.005454 t/kg.
    near(found.optimum(&data, 0.005_454).rate, 199.0, 0.5);
    let Some(OptimumSet::Between([from, to])) = found.optimum_set(&data, 0.005_454) else {
        panic!()
    };
    near(from, 173.0, 0.5);
    near(to, 260.0, 0.5);
}

#[test]
fn curve_and_lattice_of_las_rosas() {
    let Some(mut rows) = rows(
        "lasrosas.corn.txt",
        &["year", "nitro", "yield", "lat", "long"],
    ) else {
        return;
    };
    rows.retain(|row| row[0] == "1999");
    let [rates, yields, lat, lon] = [1, 2, 3, 4].map(|column| numbers(&rows, column));
    assert_eq!(yields.len(), 1738);
    let data = Data {
        rates: &rates,
        yields: &yields,
        further: &[],
        filter: &unfiltered,
    };
    let found = curve(Shape::Quadratic, &data).unwrap();
    // Ordinary least squares of R on agridat lasrosas.corn, 1999 (project's reference, trials.md).
    near(found.curve.constant, 59.2533, 5e-5);
    near(found.curve.slope, 0.113_007, 5e-7);
    near(found.curve.bend, -0.000_320_414, 5e-10);
    near(found.optimum(&data, 0.4348 / 6.85).rate, 77.3, 0.05);
    // Errors on a lattice: neighbours within 15 m. Published (Anselin and others, 2004): errors are strongly alike.
    let mut pairs = Vec::new();
    for a in 0..yields.len() {
        for b in 0..a {
            let north = (lat[a] - lat[b]) * 110_900.0;
            let east = (lon[a] - lon[b]) * 111_300.0 * (33.05_f64).to_radians().cos();
            if north.hypot(east) < 15.0 {
                pairs.push([a, b]);
            }
        }
    }
    let neighbours = Neighbours::of(yields.len(), &pairs).unwrap();
    let squares: Vec<f64> = rates.iter().map(|rate| rate * rate).collect();
    let columns = [vec![1.0; yields.len()], rates.clone(), squares];
    let found = lattice(&columns, &yields, &neighbours).unwrap();
    println!("share {} {:?}", found.share, found.fit.coefficients);
    assert!(found.share > 0.8, "{}", found.share);
    let given = Given {
        columns: &columns,
        values: &yields,
        neighbours: &neighbours,
    };
    assert!(found.estimate(&[0.0, 1.0, 0.0]).is_some());
    let of: Vec<usize> = (0..yields.len()).map(|n| n * 18 / yields.len()).collect();
    assert!(
        found
            .estimate_by(&[0.0, 1.0, 0.0], &of, false, &given)
            .is_some()
    );
}

#[test]
fn wheat_of_stroup() {
    let Some(rows) = rows("Wheat2.csv", &["variety", "yield", "latitude", "longitude"]) else {
        return;
    };
    let [yields, lat, lon] = [1, 2, 3].map(|column| numbers(&rows, column));
    let mut varieties: Vec<&str> = rows.iter().map(|row| row[0].as_str()).collect();
    varieties.sort_unstable();
    varieties.dedup();
    assert_eq!(varieties.len(), 56);
    let column = |variety: &&str| {
        rows.iter()
            .map(|row| f64::from(u8::from(row[0] == **variety)))
            .collect()
    };
    let columns: Vec<Vec<f64>> = varieties.iter().map(column).collect();
    let places: Vec<[f64; 2]> = lat
        .iter()
        .zip(&lon)
        .map(|(lat, lon)| [*lat, *lon])
        .collect();
    // R package nlme on its own Wheat2 (J. Pinheiro and D. Bates, "Mixed-Effects Models in S and S-PLUS", 2000, section 5.4).
    let found = plot_model(Family::RationalQuadratic, &columns, &yields, &places).unwrap();
    near(found.range, 13.4613, 5e-4);
    near(found.nugget, 0.193_58, 5e-5);
    near(found.log_likelihood, -532.639, 5e-4);
    near(found.criterion(), 1183.278, 1e-3);
    let found = plot_model(Family::Independent, &columns, &yields, &places).unwrap();
    near(found.log_likelihood, -620.371, 5e-4);
}
