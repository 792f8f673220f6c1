//! From regions of pixels to polygons along the sides of the pixels.

use super::regions::{NO_CLASS, Regions};
use rayon::prelude::*;

/// A corner between pixels: column and row from the top left.
pub(super) type Corner = [i64; 2];

/// A region's outline: the exterior, and the holes.
#[derive(Debug, Clone, Default, PartialEq)]
pub(super) struct Outline {
    pub exterior: Vec<Corner>,
    pub holes: Vec<Vec<Corner>>,
}

/// Traces every region and makes something of it, in the order of their numbers.
///
/// Corners in a straight run are left out, except where three or more borders meet: so two
/// neighbours have the same corners along their common border, and no crack can open between them
/// when the corners are moved into another CRS. The rule looks at the four pixels around a corner
/// and nothing else, so both neighbours follow it alike.
pub(super) fn traced<T: Send>(
    regions: &Regions,
    make: impl Fn(usize, Outline) -> T + Sync,
) -> Vec<T> {
    let tops = regions.tops();
    let numbers = (0..regions.class.len()).into_par_iter();
    let outline = |number| outline(regions, number as u32, tops.list(number));
    numbers
        .map(|number| make(number, outline(number)))
        .collect()
}

/// Outlines of every region.
#[cfg(test)]
pub(super) fn outlines(regions: &Regions) -> Vec<Outline> {
    traced(regions, |_, outline| outline)
}

/// Traces one region. Every ring has a top side, so stretches of these are enough to find and mark rings by.
fn outline(regions: &Regions, region: u32, tops: &[u32]) -> Outline {
    let mut outline = Outline::default();
    let mut traced = vec![false; tops.len()];
    for (nth, &start) in tops.iter().enumerate() {
        if traced[nth] {
            continue;
        }
        let start = start as usize;
        let here = [
            (start % regions.columns) as i64,
            (start / regions.columns) as i64,
        ];
        let ring = ring(regions, region, here, |[column, row]| {
            let place = row as usize * regions.columns + column as usize;
            if let Ok(nth) = tops.binary_search(&(place as u32)) {
                traced[nth] = true;
            }
        });
        // Clockwise on the screen is an exterior; there is one, for a region hangs together.
        match area2(&ring) > 0 {
            true => outline.exterior = ring,
            false => outline.holes.push(ring),
        }
    }
    outline
}

/// The class at a pixel; [`NO_CLASS`] outside of the grid.
#[inline]
pub(super) fn at(regions: &Regions, [column, row]: Corner) -> u8 {
    // Below zero becomes a large number, which lies outside as well.
    let (column, row) = (
        column.cast_unsigned() as usize,
        row.cast_unsigned() as usize,
    );
    match column < regions.columns && row < regions.rows {
        true => regions.classes[row * regions.columns + column],
        false => NO_CLASS,
    }
}

/// Walks along a ring with the region on the right, from the top side of a pixel. Says where it comes upon a
/// stretch of top sides.
fn ring(
    regions: &Regions,
    region: u32,
    start: Corner,
    mut comes_upon: impl FnMut(Corner),
) -> Vec<Corner> {
    // Directions clockwise from east, and with each the side of the pixel that is walked: top,
    // right, bottom, left.
    const STEP: [Corner; 4] = [[1, 0], [0, 1], [-1, 0], [0, -1]];
    // Where the walk along a side ends, from the pixel's top left corner.
    const END: [Corner; 4] = [[1, 0], [1, 1], [0, 1], [0, 0]];
    let own = regions.class[region as usize];
    let same = |[column, row]: Corner| {
        regions.region_at(row as usize * regions.columns + column as usize) == region
    };
    let (mut pixel, mut side) = (start, 0);
    // The class across the side that is walked.
    let mut across = at(regions, [start[0], start[1] - 1]);
    let mut ring = Vec::new();
    comes_upon(start);
    loop {
        let step = STEP[side];
        let left = STEP[(side + 3) % 4];
        let ahead = [pixel[0] + step[0], pixel[1] + step[1]];
        let diagonal = [ahead[0] + left[0], ahead[1] + left[1]];
        let corner = [pixel[0] + END[side][0], pixel[1] + END[side][1]];
        let (of_ahead, of_diagonal) = (at(regions, ahead), at(regions, diagonal));
        let meet = [own, of_ahead, of_diagonal, across];
        let before = side;
        // Where the region touches itself at a corner, turning left parts the ring around the one
        // side from the ring around the other. Pixels of one class that share a side are of one region;
        // those that share a corner may be or not.
        if of_diagonal == own && (of_ahead == own || same(diagonal)) {
            (pixel, side) = (diagonal, (side + 3) % 4);
        } else if of_ahead == own {
            (pixel, across) = (ahead, of_diagonal);
        } else {
            (side, across) = ((side + 1) % 4, of_ahead);
        }
        if side != before || borders(meet) > 2 {
            ring.push(corner);
        }
        if side == 0 && before != 0 {
            if pixel == start {
                return ring;
            }
            comes_upon(pixel);
        }
    }
}

/// How many sides between two regions end at a corner.
pub(super) fn borders_at(regions: &Regions, [column, row]: Corner) -> usize {
    let around = [
        at(regions, [column - 1, row - 1]),
        at(regions, [column, row - 1]),
        at(regions, [column, row]),
        at(regions, [column - 1, row]),
    ];
    borders(around)
}

/// The same by the classes of the four pixels around it: those that share a side are of one region if they are
/// of one class.
fn borders([a, b, c, d]: [u8; 4]) -> usize {
    usize::from(a != b) + usize::from(b != c) + usize::from(c != d) + usize::from(d != a)
}

/// Twice the area in pixels; positive where the ring runs clockwise on the screen.
pub(super) fn area2(ring: &[Corner]) -> i64 {
    (0..ring.len())
        .map(|n| {
            let ([x0, y0], [x1, y1]) = (ring[n], ring[(n + 1) % ring.len()]);
            x0 * y1 - x1 * y0
        })
        .sum()
}

#[cfg(test)]
mod tests {
    use super::super::test_grids::grids;
    use super::*;
    use std::collections::BTreeMap;

    fn check(classes: &[u8], columns: usize) {
        let regions = Regions::of(classes, columns, classes.len() / columns);
        let outlines = outlines(&regions);
        let mut sides: BTreeMap<(Corner, Corner), i64> = BTreeMap::new();
        for (number, outline) in outlines.iter().enumerate() {
            let pixels = regions.sizes()[number];
            let rings = std::iter::once(&outline.exterior).chain(&outline.holes);
            let area: i64 = rings.clone().map(|ring| area2(ring)).sum();
            assert_eq!(area, 2 * pixels as i64, "region {number} of {classes:?}");
            for ring in rings {
                let mut corners = ring.clone();
                corners.sort();
                corners.dedup();
                assert_eq!(corners.len(), ring.len(), "a ring touches itself");
                for n in 0..ring.len() {
                    let (a, b) = (ring[n], ring[(n + 1) % ring.len()]);
                    *sides.entry((a.min(b), a.max(b))).or_default() += if a < b { 1 } else { -1 };
                }
            }
        }
        // A border between two regions is the same pieces on both sides; what is left over borders on nothing.
        for (([ax, ay], [bx, by]), count) in sides {
            if count == 0 {
                continue;
            }
            let (dx, dy) = ((bx - ax).signum(), (by - ay).signum());
            let beside = if dx != 0 {
                [at(&regions, [ax, ay - 1]), at(&regions, [ax, ay])]
            } else {
                [at(&regions, [ax - 1, ay]), at(&regions, [ax, ay])]
            };
            assert!(beside.contains(&NO_CLASS), "{dx} {dy} {beside:?}");
        }
    }

    #[test]
    fn areas_are_pixel_counts_and_borders_are_shared() {
        for (classes, columns) in grids() {
            check(&classes, columns);
        }
    }
}
