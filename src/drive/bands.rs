//! Edges by their place across the heading, so that a lane looks at those it meets and at no others.

use super::frame::Edge;
use crate::geometry::Csr;

/// Edges in bands of one width across the heading.
pub(super) struct Bands {
    edges: Vec<Edge>,
    low_m: f64,
    width_m: f64,
    /// Per band the numbers of the edges that reach into it, ascending.
    bands: Csr<u32>,
}

impl Bands {
    /// About one band for four edges, so that long edges are not in too many; fewer where many edges run to and fro across, so that
    /// an edge is in two of them on average at most.
    pub(super) fn of(edges: Vec<Edge>) -> Self {
        let across = |edge: &Edge| [edge.from[1].min(edge.to[1]), edge.from[1].max(edge.to[1])];
        let all = edges.iter().map(across);
        let all = all.reduce(|[low, high], [a, b]| [low.min(a), high.max(b)]);
        let [low, high] = all.unwrap_or([0.0, 0.0]);
        let spans: f64 = edges.iter().map(across).map(|[a, b]| b - a).sum();
        let most = 2.0 * edges.len() as f64 * (high - low) / spans;
        let count = (edges.len() / 4).min(most as usize).max(1);
        let mut bands = Self {
            edges,
            low_m: low,
            width_m: (high - low) / count as f64,
            bands: Csr::new(),
        };
        let mut pairs = Vec::with_capacity(2 * bands.edges.len());
        for (number, edge) in (0u32..).zip(&bands.edges) {
            let [first, last] = across(edge).map(|v| bands.band(v, count));
            pairs.extend((first..=last).map(|band| (band as u32, number)));
        }
        bands.bands = Csr::from_pairs(count, &pairs);
        bands
    }

    /// The band of a place across, or the nearest one.
    fn band(&self, v: f64, count: usize) -> usize {
        // All edges may lie on one line along the heading.
        let nth = match self.width_m > 0.0 {
            true => ((v - self.low_m) / self.width_m).max(0.0) as usize,
            false => 0,
        };
        nth.min(count - 1)
    }

    /// The edges that reach into a lane, and some beside it, in the order in which they were given.
    pub(super) fn near(&self, [lo, hi]: [f64; 2]) -> Vec<Edge> {
        let count = self.bands.len();
        let bands = self.band(lo, count)..=self.band(hi, count);
        let mut numbers: Vec<u32> = bands
            .flat_map(|band| self.bands.list(band))
            .copied()
            .collect();
        numbers.sort_unstable();
        numbers.dedup();
        numbers
            .into_iter()
            .map(|number| self.edges[number as usize])
            .collect()
    }
}
