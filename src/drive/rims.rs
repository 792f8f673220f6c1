//! The lines along which straight bouts lie side by side.

use super::bout::Bout;
use crate::geometry::SharedLines;

/// The outer rims of all straight bouts: they run in one direction, one way or the other.
pub(super) fn shared(bouts: &[Bout]) -> SharedLines {
    let straight = || bouts.iter().filter(|bout| bout.path.is_straight());
    let length = |bout: &Bout| bout.path.length_m();
    let longest = straight().max_by(|a, b| length(a).total_cmp(&length(b)));
    let rims = straight().flat_map(|bout| {
        let left = bout.sections.first().map(|section| section.left_m[1]);
        let right = bout.sections.last().map(|section| section.left_m[0]);
        let rims = left.into_iter().chain(right);
        rims.map(|left_m| bout.path.beside_start(0.0, left_m))
    });
    match longest.and_then(|bout| bout.path.straights().next()) {
        Some((start, end, _)) => {
            let [east, north] = [end[0] - start[0], end[1] - start[1]];
            let length_m = east.hypot(north);
            SharedLines::of([east / length_m, north / length_m], rims)
        }
        None => SharedLines::of([1.0, 0.0], std::iter::empty()),
    }
}
