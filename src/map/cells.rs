//! The cells of one grid: which land lies in each, what each touches, where the rim takes its rate.

use super::layout::Layout;
use super::surroundings::Surroundings;
use crate::frame::Frame;
use crate::geometry::Arrangement;
use crate::geometry::coverage::{Border, Coverage};
use crate::job::Job;
use crate::zones::LandUnits;

/// A grid over the land, before rates.
pub struct Cells {
    pub layout: Layout,
    /// Shares of each cell by row of the rate table.
    pub(super) coverage: Coverage,
    /// Per cell: covered area, m2.
    pub(super) covered_m2: Vec<f64>,
    /// Per product (job order), per cell: whether a setback that switches it off touches the cell.
    pub(super) off: Vec<Vec<bool>>,
    /// Cells of the rim and the covered cell each takes its rates from.
    pub(super) rim: Vec<(u32, u32)>,
}

impl Cells {
    pub(super) fn of(
        layout: Layout,
        units: &LandUnits,
        around: &Surroundings,
        job: &Job,
        frame: &Frame,
    ) -> Self {
        let (coverage, touching) = rayon::join(
            || cover(&layout, &units.arrangement, &units.row_of_face, frame),
            || cover(&layout, &around.arrangement, &around.kind_of_face, frame),
        );
        let mut covered_m2 = vec![0.0; layout.columns * layout.rows];
        for (row, span) in coverage.spans() {
            let cell_m2 = layout.cell_m2(row);
            let first = row * layout.columns + span.column as usize;
            for covered in &mut covered_m2[first..first + span.length as usize] {
                *covered += span.share * cell_m2;
            }
        }
        let mut off = vec![vec![false; covered_m2.len()]; job.products.len()];
        let mut in_rim = vec![false; covered_m2.len()];
        let mut closed = vec![false; covered_m2.len()];
        for (row, span) in touching.spans() {
            let kind = &around.kinds[span.group as usize];
            let first = row * layout.columns + span.column as usize;
            let cells = first..first + span.length as usize;
            if kind.rim {
                in_rim[cells.clone()].fill(true);
            }
            if kind.exclusion {
                closed[cells.clone()].fill(true);
            }
            for (product, off) in job.products.iter().zip(&mut off) {
                let is_off = |&nth: &usize| job.setbacks[nth].products.contains(&product.id);
                if kind.setbacks.iter().any(is_off) {
                    off[cells.clone()].fill(true);
                }
            }
        }
        let rim = (0..covered_m2.len())
            .filter(|&cell| in_rim[cell] && !closed[cell] && covered_m2[cell] == 0.0)
            .filter_map(|cell| Some((cell as u32, nearest_covered(&layout, &covered_m2, cell)?)))
            .collect();
        Self {
            layout,
            coverage,
            covered_m2,
            off,
            rim,
        }
    }
}

/// Coverage of a grid by groups of faces.
fn cover(
    layout: &Layout,
    arrangement: &Arrangement,
    group_of_face: &[Option<u32>],
    frame: &Frame,
) -> Coverage {
    let group = |face: u32| group_of_face[face as usize];
    let parts = |[left, right]: [u32; 2]| group(left) != group(right);
    let edges = arrangement.edges_at(parts, |points| layout.place(points, frame));
    let border =
        |([from, to], sides): ([[i64; 2]; 2], [u32; 2])| -> Border { (from, to, sides.map(group)) };
    Coverage::new(layout.cell_grid(), edges.map(border))
}

/// The covered cell whose centre is nearest; the first in grid order of several.
fn nearest_covered(layout: &Layout, covered_m2: &[f64], cell: usize) -> Option<u32> {
    let [width, height] = layout.cell_in_metres();
    let [columns, rows] = [layout.columns as i64, layout.rows as i64];
    let [column, row] = [
        (cell % layout.columns) as i64,
        (cell / layout.columns) as i64,
    ];
    let mut best: Option<(f64, u32)> = None;
    // Square rings of cells around this one, until no farther one can be nearer.
    for ring in 1..columns.max(rows) {
        let nearest_possible = ring as f64 * width.min(height);
        if best.is_some_and(|(distance, _)| distance < nearest_possible) {
            break;
        }
        for r in (row - ring).max(0)..=(row + ring).min(rows - 1) {
            let edge_row = (r - row).abs() == ring;
            let step = if edge_row { 1 } else { 2 * ring };
            let mut c = column - ring;
            while c <= column + ring {
                let other = (r * columns + c) as usize;
                if (0..columns).contains(&c) && covered_m2[other] > 0.0 {
                    let [east, north] = [(c - column) as f64 * width, (r - row) as f64 * height];
                    // Squares tell what is farther without a root; what is near gets its exact length.
                    let farther = |(least, _): (f64, u32)| {
                        east * east + north * north > least * least * (1.0 + 1e-9)
                    };
                    let distance = || east.hypot(north);
                    let better = |(least, at): (f64, u32)| {
                        let distance = distance();
                        distance < least || (distance == least && (other as u32) < at)
                    };
                    if best.is_none_or(|best| !farther(best) && better(best)) {
                        best = Some((distance(), other as u32));
                    }
                }
                c += step;
            }
        }
    }
    best.map(|(_, other)| other)
}
