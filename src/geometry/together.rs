//! Borders that lie too near each other to be told apart in a file, brought together. Method:
//! docs/methods/near-borders.md
//!
//! What comes out keeps every point [`NEAREST_M`] or more away from every border that does not end in it. So no
//! piece is thinner, and none vanishes, turns over or falls apart when its degrees are rounded to nine decimals
//! (0.1 mm).

mod borders;
mod pieces;
#[cfg(test)]
mod tests;

pub(super) use borders::distance;

use super::arrangement::{Arrangement, OUTSIDE, Ways};
use super::coarse::coarse;
use super::point::{Pt, UNITS_PER_M, area2_to_m2, ring_area2};
use super::shape::{Ring, Shape};
use borders::Borders;
use pieces::{NearPiece, Pieces};

/// How near a point may lie to a border that does not end in it, metres.
pub const NEAREST_M: f64 = 0.0005;

/// The same in units of the grid.
pub(super) const NEAREST: f64 = NEAREST_M * UNITS_PER_M;

/// Rounds after which all points go onto a coarse grid, which ends it: of 304 made tangles four came so far.
const MOST_ROUNDS: usize = 12;

/// Bits of that grid: 2 mm, so that points keep 1 mm from borders.
const COARSE_BITS: u32 = 11;

/// Land that tiles, with its borders brought together.
pub struct Together {
    /// The land with its borders as they are now.
    pub arrangement: Arrangement,
    /// Per face its group; `None` where nothing is.
    pub group: Vec<Option<u32>>,
    /// Where borders were moved: land that changed sides there in m2, and a place on it.
    pub places: Vec<(f64, Pt)>,
    /// Land that changed sides, m2.
    pub area_m2: f64,
}

/// Brings together what lies too near in land that tiles; `None` where nothing does.
///
/// `group` has one entry per face, as for [`Arrangement::dissolve`]. Borders are looked at every `longest_m`: two long
/// ones from one point may lie too near for most of their way though their other ends do not. `rank` says for a
/// border between two groups how much it counts: of two borders the one with the lower number stays and the other
/// moves onto it.
pub fn bring_together(
    arrangement: &Arrangement,
    group: &[Option<u32>],
    longest_m: f64,
    rank: impl Fn([Option<u32>; 2]) -> u8,
) -> Option<Together> {
    let pieces = Pieces::of(arrangement, group, longest_m, &rank);
    let (crowds, near) = pieces.search();
    if crowds.is_empty() {
        return joined(arrangement, group, &rank, &pieces, &near);
    }
    let (arrangement, group) = without_crowds(arrangement, group, &rank, &pieces, crowds);
    let pieces = Pieces::of(&arrangement, &group, longest_m, &rank);
    let (_, near) = pieces.search();
    let rest = joined(&arrangement, &group, &rank, &pieces, &near);
    Some(rest.unwrap_or_else(|| Together {
        arrangement,
        group,
        places: Vec::new(),
        area_m2: 0.0,
    }))
}

/// Land that tiles with its crowds of points become one point each, for each of them is near all others.
fn without_crowds(
    arrangement: &Arrangement,
    group: &[Option<u32>],
    rank: &impl Fn([Option<u32>; 2]) -> u8,
    pieces: &Pieces,
    mut crowds: Vec<Pt>,
) -> (Arrangement, Vec<Option<u32>>) {
    let led = |arrangement: &Arrangement, group: &[Option<u32>], pieces: &Pieces, crowds: &[Pt]| {
        let (borders, targets) = Borders::crowds(pieces, crowds);
        let (tiles, _) = led(arrangement, group, &borders.ways(&targets, &[]));
        tiles
    };
    let mut tiles = led(arrangement, group, pieces, &crowds);
    for _ in 1..MOST_ROUNDS {
        let pieces = Pieces::of(&tiles.0, &tiles.1, f64::INFINITY, rank);
        (crowds, _) = pieces.search();
        if crowds.is_empty() {
            break;
        }
        tiles = led(&tiles.0, &tiles.1, &pieces, &crowds);
    }
    tiles
}

/// Brings together what `near` says of `pieces`, and what comes too near by that; `None` where nothing is too near.
fn joined(
    arrangement: &Arrangement,
    group: &[Option<u32>],
    rank: &impl Fn([Option<u32>; 2]) -> u8,
    pieces: &Pieces,
    near: &[NearPiece],
) -> Option<Together> {
    if near.is_empty() {
        return None;
    }
    let (mut tiles, mut fresh) = led(arrangement, group, &pieces.parted(near));
    // What is near already is near pieces that stay, too.
    fresh.extend(near.iter().map(|(_, piece)| pieces.ends(*piece)));
    let mut places: Option<Vec<(i128, Pt)>> = None;
    let mut area2 = 0;
    for round in 0.. {
        let pieces = Pieces::of(&tiles.0, &tiles.1, f64::INFINITY, rank);
        let near = pieces.near(&fresh);
        if near.is_empty() {
            break;
        }
        if round == MOST_ROUNDS {
            let shapes = coarse(tiles.0.dissolve(&tiles.1), COARSE_BITS);
            tiles = arranged(&shapes);
            break;
        }
        let (borders, near) = Borders::near(&pieces, &near);
        let ways = borders.ways(&borders.targets(&near), &near);
        let swept = ways.iter().map(|(ends, way)| swept2(*ends, way));
        area2 += swept.sum::<i128>();
        places.get_or_insert_with(|| borders.places(&ways, &near));
        (tiles, fresh) = led(&tiles.0, &tiles.1, &ways);
    }
    let mut places = places.unwrap_or_default();
    places.sort_by(|a, b| b.0.cmp(&a.0).then(a.1.cmp(&b.1)));
    let places = places.into_iter();
    let (arrangement, group) = tiles;
    Some(Together {
        arrangement,
        group,
        places: places
            .map(|(area2, place)| (area2_to_m2(area2), place))
            .collect(),
        area_m2: area2_to_m2(area2),
    })
}

/// Land that tiles: its faces, and the group of each.
type Tiles = (Arrangement, Vec<Option<u32>>);

/// Land with its borders led another way, and the pieces that have come of that.
fn led(arrangement: &Arrangement, group: &[Option<u32>], ways: &Ways) -> (Tiles, Vec<[Pt; 2]>) {
    let (arrangement, fresh) = arrangement.led(group, ways);
    let group = groups(&arrangement);
    ((arrangement, group), fresh)
}

/// Shapes that tile, arranged.
fn arranged(shapes: &[(u32, Shape)]) -> Tiles {
    let mut rings: Vec<(u32, &[Pt])> = Vec::new();
    for (group, shape) in shapes {
        rings.extend(shape.rings().map(|ring| (*group, &ring[..])));
    }
    let arrangement = Arrangement::new(rings);
    let group = groups(&arrangement);
    (arrangement, group)
}

fn groups(arrangement: &Arrangement) -> Vec<Option<u32>> {
    let faces = 0..arrangement.faces() as u32;
    faces.map(|face| group_of(arrangement, face)).collect()
}

/// Whose land a face is. Borders that tile have gone together, so the rings of all groups wind around it as often as
/// the outline does; where some have been folded, the group that winds around it most often has it, and of several
/// the first.
fn group_of(arrangement: &Arrangement, face: u32) -> Option<u32> {
    let windings = arrangement.windings(face);
    let outline: i32 = windings.iter().map(|winding| winding.count).sum();
    if face == OUTSIDE || outline <= 0 {
        return None;
    }
    let most = windings.iter().map(|winding| winding.count).max()?;
    let first = windings.iter().find(|winding| winding.count == most);
    first.map(|winding| winding.source)
}

/// Twice the land between a border and its new way, in units^2.
fn swept2(ends: [Pt; 2], way: &[Pt]) -> i128 {
    let mut ring: Ring = vec![ends[0]];
    ring.extend(way);
    ring.push(ends[1]);
    ring_area2(&ring).abs()
}
