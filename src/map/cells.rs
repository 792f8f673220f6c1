//! The cells of one grid: which land lies in each, what each touches, where the rim takes its rate.

use super::layout::Layout;
use super::surroundings::Surroundings;
use crate::frame::Frame;
use crate::geometry::coverage::{Border, Coverage, Span};
use crate::geometry::{Arrangement, Pt};
use crate::job::Job;
use crate::zones::LandUnits;
use std::ops::Range;
use std::sync::Arc;

/// A grid over the land, before rates.
pub struct Cells {
    pub layout: Layout,
    /// Rows of the rate table that decide the rates of cells.
    pub(super) deciding: Deciding,
    /// Per cell: covered area, m2. Every grid of rates on these cells shares it.
    pub(super) covered_m2: Arc<Vec<f64>>,
    /// Per product (job order): the cells that a setback which switches it off touches, as runs in grid
    /// order; they may overlap.
    pub(super) off: Arc<Vec<Vec<Range<usize>>>>,
    /// Cells that the rim touches and no exclusion does, with land or without, as runs in grid order.
    in_reach: Arc<Vec<Range<u32>>>,
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
        let off = job.products.iter().map(|product| {
            let is_off = |&nth: &usize| job.setbacks[nth].products.contains(&product.id);
            let kinds = around.kinds.iter();
            let kinds: Vec<bool> = kinds.map(|kind| kind.setbacks.iter().any(is_off)).collect();
            if !kinds.contains(&true) {
                return Vec::new();
            }
            let spans = touching.spans();
            let spans = spans.filter(|(_, span)| kinds[span.group as usize]);
            spans
                .map(|(row, span)| {
                    let first = row * layout.columns + span.column as usize;
                    first..first + span.length as usize
                })
                .collect()
        });
        let off = Arc::new(off.collect());
        let in_reach = Arc::new(in_reach(&layout, &touching, around));
        Self::on(layout, &coverage, off, in_reach)
    }

    /// The same cells over other pieces of the same land: what lies around them has not changed.
    pub(super) fn over(&self, units: &LandUnits, frame: &Frame) -> Self {
        let layout = self.layout.clone();
        let coverage = cover(&layout, &units.arrangement, &units.row_of_face, frame);
        Self::on(
            layout,
            &coverage,
            Arc::clone(&self.off),
            Arc::clone(&self.in_reach),
        )
    }

    fn on(
        layout: Layout,
        coverage: &Coverage,
        off: Arc<Vec<Vec<Range<usize>>>>,
        in_reach: Arc<Vec<Range<u32>>>,
    ) -> Self {
        let covered_m2 = covered(&layout, coverage);
        let bare = in_reach.iter().cloned().flatten();
        let bare = bare.filter(|cell| covered_m2[*cell as usize] == 0.0);
        let rim = bare
            .filter_map(|cell| Some((cell, nearest_covered(&layout, &covered_m2, cell as usize)?)))
            .collect();
        Self {
            off,
            in_reach,
            deciding: Deciding::of(&layout, coverage),
            layout,
            covered_m2: Arc::new(covered_m2),
            rim,
        }
    }
}

/// Which rows of the rate table (the groups of the coverage) decide the rates of the cells with land: what is left of
/// the coverage once areas are known, and little.
#[derive(Default)]
pub(super) struct Deciding {
    /// Cells that follow each other in grid order, and the row that has more of each than all others together.
    pub(super) runs: Vec<([u32; 2], u32)>,
    /// Other cells in grid order, with the share of each row.
    pub(super) mixed: Vec<(u32, Vec<(u32, f64)>)>,
}

/// By how much a row must have more than all others together, so that rounding cannot make it less than their sum.
const CLEARLY: f64 = 1.0 + 1e-9;

impl Deciding {
    fn of(layout: &Layout, coverage: &Coverage) -> Self {
        let mut found = Self::default();
        for row in 0..layout.rows {
            let first = row * layout.columns;
            for spans in same_cells(coverage.row(row)) {
                let most = spans.iter().max_by(|a, b| a.share.total_cmp(&b.share));
                let Some(most) = most else { continue };
                let all: f64 = spans.iter().map(|span| span.share).sum();
                let from = first + most.column as usize;
                let to = from + most.length as usize;
                if most.share > (all - most.share) * CLEARLY {
                    found.add([from as u32, to as u32], most.group);
                } else {
                    let shares: Vec<(u32, f64)> =
                        spans.iter().map(|span| (span.group, span.share)).collect();
                    let cells = (from..to).map(|cell| (cell as u32, shares.clone()));
                    found.mixed.extend(cells);
                }
            }
        }
        found
    }

    fn add(&mut self, [from, to]: [u32; 2], row: u32) {
        match self.runs.last_mut() {
            Some(([_, end], known)) if *known == row && *end == from => *end = to,
            _ => self.runs.push(([from, to], row)),
        }
    }
}

/// Covered area of each cell, m2.
fn covered(layout: &Layout, coverage: &Coverage) -> Vec<f64> {
    let mut covered_m2 = vec![0.0; layout.columns * layout.rows];
    for (row, covered_m2) in covered_m2
        .chunks_exact_mut(layout.columns.max(1))
        .enumerate()
    {
        let cell_m2 = layout.cell_m2(row);
        for spans in same_cells(coverage.row(row)) {
            let Some(at) = spans.first() else {
                continue;
            };
            let area_m2 = spans
                .iter()
                .fold(0.0, |sum, span| sum + span.share * cell_m2);
            let from = at.column as usize;
            covered_m2[from..from + at.length as usize].fill(area_m2);
        }
    }
    covered_m2
}

/// The spans of a row by the cells they lie on: those of the same cells start at the same column.
fn same_cells(row: &[Span]) -> impl Iterator<Item = &[Span]> {
    row.chunk_by(|a, b| a.column == b.column)
}

/// Cells that the rim touches and no exclusion does.
fn in_reach(layout: &Layout, touching: &Coverage, around: &Surroundings) -> Vec<Range<u32>> {
    let mut found: Vec<Range<u32>> = Vec::new();
    let mut closed = vec![false; layout.columns];
    for row in 0..layout.rows {
        let first = row * layout.columns;
        let spans = touching.row(row).iter().map(|span| {
            let from = span.column as usize;
            let columns = from..from + span.length as usize;
            (columns, &around.kinds[span.group as usize])
        });
        closed.fill(false);
        let excluded = spans.clone().filter(|(_, kind)| kind.exclusion);
        excluded.for_each(|(columns, _)| closed[columns].fill(true));
        for (columns, _) in spans.filter(|(_, kind)| kind.rim) {
            for column in columns {
                let cell = (first + column) as u32;
                // Several kinds of the rim may touch one cell.
                if closed[column] || found.last().is_some_and(|run| cell < run.end) {
                    continue;
                }
                match found.last_mut() {
                    Some(run) if run.end == cell => run.end += 1,
                    _ => found.push(cell..cell + 1),
                }
            }
        }
    }
    found
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
    let place = |way: &[Pt], placed: &mut Vec<[i64; 2]>| layout.place(way, frame, placed);
    let edges = arrangement.edges_at(parts, place);
    let border = |([from, to], [left, right]): ([[i64; 2]; 2], [u32; 2])| -> Border {
        (from, to, [group(left), group(right)])
    };
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
