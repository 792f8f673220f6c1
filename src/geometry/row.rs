//! Stretches of a row that lie inside rings.

/// From where to where a place on the line at height `y` lies inside these edges, by the even-odd rule; from west to
/// east. The edges close rings.
pub fn inside(edges: impl Iterator<Item = [[f64; 2]; 2]>, y: f64) -> Vec<[f64; 2]> {
    let crossing = |[a, b]: [[f64; 2]; 2]| {
        let crosses = (a[1] < y) != (b[1] < y);
        crosses.then(|| a[0] + (y - a[1]) / (b[1] - a[1]) * (b[0] - a[0]))
    };
    let mut crossings: Vec<f64> = edges.filter_map(crossing).collect();
    crossings.sort_by(f64::total_cmp);
    let pairs = crossings.chunks_exact(2);
    pairs.map(|pair| [pair[0], pair[1]]).collect()
}

#[cfg(test)]
mod tests {
    use super::inside;

    /// A square of 10 m with a hole of 2 m in its middle.
    #[test]
    fn a_hole_parts_a_row() {
        let ring = |low: f64, high: f64| {
            let corners = [[low, low], [high, low], [high, high], [low, high]];
            [0, 1, 2, 3].map(|n| [corners[n], corners[(n + 1) % 4]])
        };
        let edges = [ring(0.0, 10.0), ring(4.0, 6.0)].concat();
        assert_eq!(inside(edges.iter().copied(), 2.0), [[0.0, 10.0]]);
        assert_eq!(
            inside(edges.iter().copied(), 5.0),
            [[0.0, 4.0], [6.0, 10.0]]
        );
        assert!(inside(edges.iter().copied(), 11.0).is_empty());
    }
}
