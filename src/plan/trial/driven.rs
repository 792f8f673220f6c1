//! What the drive lays on each plot, between its ends.

use super::ground::{Bouts, Rectangle};
use super::land::WITHIN;
use crate::drive::as_driven::Patch;
use crate::geometry::Overlay;
use crate::geometry::point::area2_to_m2;

/// Least share of a plot that has to get its rate within 5 %: what is left is rounding of borders and cells at its rims. Common practice, no
/// source.
pub(super) const LEAST_SHARE: f64 = 0.95;

/// What a plot gets of a product, between its ends and beside closed rows.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub(super) struct OnPlot {
    /// Mean, kg/ha.
    pub sown_kg_per_ha: f64,
    /// Mean of what is asked for there, kg/ha.
    pub asked_kg_per_ha: f64,
    /// Share of its land that gets within 5 % of what is asked for there.
    pub within: f64,
    area_m2: f64,
}

impl OnPlot {
    /// Whether it is sown as asked: nearly all of it within 5 %, or, where the map changes within it, in the mean.
    pub fn as_asked(&self, one_rate: bool) -> bool {
        let apart = (self.sown_kg_per_ha - self.asked_kg_per_ha).abs();
        // Of nothing there are no 5 %; there the share says it all.
        let mean = apart <= WITHIN * self.asked_kg_per_ha || self.asked_kg_per_ha == 0.0;
        self.area_m2 > 0.0 && mean && (!one_rate || self.within >= LEAST_SHARE)
    }
}

/// Per plot, per product (job order). `asked`: the same, kg/ha, where it is not what the map has.
pub(super) fn on_plots(
    plots: &[Rectangle],
    asked: &[Vec<Option<f64>>],
    bouts: &Bouts,
    patches: &[Patch],
    products: usize,
) -> Vec<Vec<OnPlot>> {
    let mut sums = vec![vec![OnPlot::default(); products]; plots.len()];
    let mut overlay = Overlay::default();
    let mut plot_of = Vec::new();
    let mut boxes: Vec<[[f64; 2]; 2]> = Vec::new();
    for (nth, plot) in plots.iter().enumerate() {
        if let Some(shape) = plot.shape(bouts) {
            boxes.push(around(shape.exterior.iter().map(|point| point.metres())));
            overlay.add(shape);
            plot_of.push(nth);
        }
    }
    let mut patch_of = Vec::new();
    for (nth, patch) in patches
        .iter()
        .enumerate()
        .filter(|(_, patch)| patch.on_land && !patch.closed)
    {
        for shape in &patch.shapes {
            let own = around(shape.exterior.iter().map(|point| point.metres()));
            if boxes.iter().any(|plot| meet(plot, &own)) {
                overlay.add(shape.clone());
                patch_of.push(nth);
            }
        }
    }
    let arrangement = overlay.arrange();
    for face in 1..arrangement.faces() as u32 {
        let covering = overlay.covering(&arrangement, face);
        let (mut plot, mut patch) = (None, None);
        for polygon in covering.iter().map(|polygon| *polygon as usize) {
            match plot_of.get(polygon) {
                Some(of) => plot = plot.or(Some(*of)),
                None => patch = patch_of.get(polygon - plot_of.len()).or(patch),
            }
        }
        let (Some(plot), Some(patch)) = (plot, patch.and_then(|nth| patches.get(*nth))) else {
            continue;
        };
        let m2 = area2_to_m2(arrangement.area2(face));
        for (product, sum) in sums[plot].iter_mut().enumerate() {
            let of = |rates: &[f64]| rates.get(product).copied().unwrap_or(0.0);
            let own = asked
                .get(plot)
                .and_then(|of| of.get(product))
                .copied()
                .flatten();
            let (wanted, sown) = (own.unwrap_or_else(|| of(&patch.wanted)), of(&patch.sown));
            sum.area_m2 += m2;
            sum.sown_kg_per_ha += sown * m2;
            sum.asked_kg_per_ha += wanted * m2;
            // A billionth more, for sums of floating point.
            if (sown - wanted).abs() <= wanted * (WITHIN + 1e-9) {
                sum.within += m2;
            }
        }
    }
    for sum in sums.iter_mut().flatten().filter(|sum| sum.area_m2 > 0.0) {
        sum.sown_kg_per_ha /= sum.area_m2;
        sum.asked_kg_per_ha /= sum.area_m2;
        sum.within /= sum.area_m2;
    }
    sums
}

/// Lowest and highest places.
fn around(points: impl Iterator<Item = [f64; 2]>) -> [[f64; 2]; 2] {
    points.fold(
        [[f64::INFINITY; 2], [f64::NEG_INFINITY; 2]],
        |[low, high], at| {
            [
                [low[0].min(at[0]), low[1].min(at[1])],
                [high[0].max(at[0]), high[1].max(at[1])],
            ]
        },
    )
}

fn meet(a: &[[f64; 2]; 2], b: &[[f64; 2]; 2]) -> bool {
    (0..2).all(|axis| a[0][axis] <= b[1][axis] && b[0][axis] <= a[1][axis])
}
