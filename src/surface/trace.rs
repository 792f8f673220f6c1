//! From regions of pixels to polygons along the sides of the pixels.

use super::regions::{NONE, Regions};

/// A corner between pixels: column and row from the top left.
pub(super) type Corner = [i64; 2];

/// A region's outline: the exterior, and the holes.
#[derive(Debug, Clone, Default, PartialEq)]
pub(super) struct Outline {
    pub exterior: Vec<Corner>,
    pub holes: Vec<Vec<Corner>>,
}

/// Traces every region, in the order of their numbers.
///
/// Corners in a straight run are left out, except where three or more borders meet: so two
/// neighbours have the same corners along their common border, and no crack can open between them
/// when the corners are moved into another CRS. The rule looks at the four pixels around a corner
/// and nothing else, so both neighbours follow it alike.
pub(super) fn outlines(regions: &Regions) -> Vec<Outline> {
    let mut outlines = vec![Outline::default(); regions.class.len()];
    // Every ring has a top side, so these are enough to find and mark rings by.
    let mut traced = vec![false; regions.region.len()];
    for start in 0..regions.region.len() {
        let region = regions.region[start];
        let above = start.checked_sub(regions.columns);
        if above.is_some_and(|above| regions.region[above] == region)
            || region == NONE
            || traced[start]
        {
            continue;
        }
        let here = [
            (start % regions.columns) as i64,
            (start / regions.columns) as i64,
        ];
        let ring = ring(regions, region, here, &mut traced);
        let outline = &mut outlines[region as usize];
        // Clockwise on the screen is an exterior; there is one, for a region hangs together.
        match area2(&ring) > 0 {
            true => outline.exterior = ring,
            false => outline.holes.push(ring),
        }
    }
    outlines
}

/// The region at a pixel; [`NONE`] outside of the grid.
pub(super) fn at(regions: &Regions, [column, row]: Corner) -> u32 {
    let inside = |at: i64, all: usize| usize::try_from(at).ok().filter(|&at| at < all);
    match (inside(column, regions.columns), inside(row, regions.rows)) {
        (Some(column), Some(row)) => regions.region[row * regions.columns + column],
        _ => NONE,
    }
}

/// Walks along a ring with the region on the right, from the top side of a pixel.
fn ring(regions: &Regions, region: u32, start: Corner, traced: &mut [bool]) -> Vec<Corner> {
    // Directions clockwise from east, and with each the side of the pixel that is walked: top,
    // right, bottom, left.
    const STEP: [Corner; 4] = [[1, 0], [0, 1], [-1, 0], [0, -1]];
    // Where the walk along a side ends, from the pixel's top left corner.
    const END: [Corner; 4] = [[1, 0], [1, 1], [0, 1], [0, 0]];
    let (mut pixel, mut side) = (start, 0);
    let mut ring = Vec::new();
    loop {
        if side == 0 {
            traced[pixel[1] as usize * regions.columns + pixel[0] as usize] = true;
        }
        let step = STEP[side];
        let left = STEP[(side + 3) % 4];
        let ahead = [pixel[0] + step[0], pixel[1] + step[1]];
        let diagonal = [ahead[0] + left[0], ahead[1] + left[1]];
        let corner = [pixel[0] + END[side][0], pixel[1] + END[side][1]];
        let before = side;
        // Where the region touches itself at a corner, turning left parts the ring around the one
        // side from the ring around the other.
        if at(regions, diagonal) == region {
            (pixel, side) = (diagonal, (side + 3) % 4);
        } else if at(regions, ahead) == region {
            pixel = ahead;
        } else {
            side = (side + 1) % 4;
        }
        if side != before || borders_at(regions, corner) > 2 {
            ring.push(corner);
        }
        if pixel == start && side == 0 {
            return ring;
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
    (0..4).filter(|&n| around[n] != around[(n + 1) % 4]).count()
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
    use super::super::seeded::grids;
    use super::*;
    use std::collections::BTreeMap;

    fn check(classes: &[u32], columns: usize) {
        let regions = Regions::of(classes, columns, classes.len() / columns);
        let outlines = outlines(&regions);
        let mut sides: BTreeMap<(Corner, Corner), i64> = BTreeMap::new();
        for (number, outline) in outlines.iter().enumerate() {
            let pixels = regions
                .region
                .iter()
                .filter(|&&r| r == number as u32)
                .count();
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
            assert!(beside.contains(&NONE), "{dx} {dy} {beside:?}");
        }
    }

    #[test]
    fn areas_are_pixel_counts_and_borders_are_shared() {
        for (classes, columns) in grids() {
            check(&classes, columns);
        }
    }
}
