//! Geometry cut along the 180th meridian, as RFC 7946 (section 3.1.9) asks for: no part of it jumps from 180 to -180.

use super::rings::{Rings, is_across, rounded, twice_area};
use crate::read::Xy;

/// The meridian, where longitudes count on to the east beyond it.
const MERIDIAN: f64 = 180.0;

/// A piece of a ring on one side of the meridian, from where it comes over it to where it goes back.
struct Chain {
    east: bool,
    points: Vec<Xy>,
}

impl Chain {
    fn latitude(&self, end: End) -> f64 {
        let point = match end {
            End::Start => self.points.first(),
            End::Finish => self.points.last(),
        };
        point.map_or(0.0, |point| point[1])
    }
}

#[derive(Clone, Copy, PartialEq)]
enum End {
    Start,
    Finish,
}

/// A polygon that may go across the 180th meridian, as polygons that do not. One that lies east of it and has places on it
/// has them at -180. Latitudes of the cut are rounded by `scale`.
pub(super) fn cut(polygon: Rings, scale: f64) -> Vec<Rings> {
    if !polygon.0.iter().any(|ring| is_across(ring)) {
        return vec![polygon];
    }
    let mut chains = Vec::new();
    let mut whole = Vec::new();
    for ring in &polygon.0 {
        match split(ring, scale) {
            Some(of_ring) => chains.extend(of_ring),
            None => whole.push(ring.iter().copied().map(counted_on).collect::<Vec<Xy>>()),
        }
    }
    // An exterior that only touches the meridian is not cut.
    let mut cut: Vec<Vec<Vec<Xy>>> = Vec::new();
    if chains.is_empty() && !whole.is_empty() {
        cut.push(vec![whole.remove(0)]);
    }
    for east in [false, true] {
        let side: Vec<&Chain> = chains.iter().filter(|chain| chain.east == east).collect();
        // Rings that cross themselves do not close along the meridian: they stay as they are.
        let Some(rings) = closed(&side) else {
            return vec![polygon];
        };
        let rings = rings
            .into_iter()
            .filter(|ring| ring.len() > 3 && twice_area(ring) != 0.0);
        cut.extend(rings.map(|exterior| vec![exterior]));
    }
    for hole in whole {
        let inside = |of: &&mut Vec<Vec<Xy>>| {
            let place = hole.first();
            of.first()
                .zip(place)
                .is_some_and(|(exterior, place)| is_in(exterior, *place))
        };
        match cut.iter_mut().find(inside) {
            Some(of) => of.push(hole),
            None => return vec![polygon],
        }
    }
    let back = |rings: Vec<Vec<Xy>>| Rings(rings.into_iter().map(within_half_a_turn).collect());
    cut.into_iter().map(back).collect()
}

/// A line that may go across the 180th meridian, as lines that do not.
pub(super) fn cut_line(points: &[Xy], scale: f64) -> Vec<Vec<Xy>> {
    if !is_across(points) {
        return vec![points.to_vec()];
    }
    let line: Vec<Xy> = points.iter().copied().map(counted_on).collect();
    let chains = chains(&line, scale).into_iter();
    let lines = chains.map(|chain| within_half_a_turn(chain.points));
    lines.filter(|line| line.len() > 1).collect()
}

/// The pieces of a closed ring; none where it stays on one side.
fn split(ring: &[Xy], scale: f64) -> Option<Vec<Chain>> {
    let line: Vec<Xy> = ring.iter().copied().map(counted_on).collect();
    let mut chains = chains(&line, scale);
    if chains.len() < 2 {
        return None;
    }
    // The ring may start in the middle of a piece: what it ends with goes before what it starts with.
    let same = |[a, b]: [Option<&Chain>; 2]| a.zip(b).is_some_and(|(a, b)| a.east == b.east);
    if same([chains.first(), chains.last()])
        && let Some(mut last) = chains.pop()
        && let Some(first) = chains.first_mut()
    {
        last.points.extend(first.points.iter().skip(1));
        first.points = last.points;
    }
    Some(chains)
}

/// The pieces of a line. A point on the meridian counts as east of it.
fn chains(line: &[Xy], scale: f64) -> Vec<Chain> {
    let mut chains: Vec<Chain> = Vec::new();
    let mut before: Option<Xy> = None;
    for &point in line {
        let east = point[0] >= MERIDIAN;
        let over = before.filter(|before| (before[0] >= MERIDIAN) != east);
        let crossing = over.map(|before| [MERIDIAN, rounded(crossing(before, point), scale)]);
        match (chains.last_mut(), crossing) {
            (Some(chain), None) => chain.points.push(point),
            (last, _) => {
                if let (Some(chain), Some(at)) = (last, crossing) {
                    chain.points.push(at);
                }
                chains.push(Chain {
                    east,
                    points: crossing.into_iter().chain([point]).collect(),
                });
            }
        }
        before = Some(point);
    }
    for chain in &mut chains {
        chain.points.dedup();
    }
    chains
}

/// Latitude where an edge crosses the meridian: the same from both ends.
fn crossing(a: Xy, b: Xy) -> f64 {
    let [west, east] = if a[0] < b[0] { [a, b] } else { [b, a] };
    let share = (MERIDIAN - west[0]) / (east[0] - west[0]);
    west[1] + share * (east[1] - west[1])
}

/// Pieces of one side, closed along the meridian to rings; none where they do not close.
fn closed(chains: &[&Chain]) -> Option<Vec<Vec<Xy>>> {
    // Along the meridian, what lies between the first and the second end is inside, and so on.
    let mut ends: Vec<(usize, End)> = (0..chains.len())
        .flat_map(|nth| [(nth, End::Start), (nth, End::Finish)])
        .collect();
    let latitude = |(nth, end): &(usize, End)| chains.get(*nth).map_or(0.0, |of| of.latitude(*end));
    ends.sort_by(|a, b| latitude(a).total_cmp(&latitude(b)));
    let mut next = vec![None; chains.len()];
    for pair in ends.chunks(2) {
        let (from, to) = match pair {
            [(from, End::Finish), (to, End::Start)] | [(to, End::Start), (from, End::Finish)] => {
                (*from, *to)
            }
            _ => return None,
        };
        *next.get_mut(from)? = Some(to);
    }
    let mut rings = Vec::new();
    for first in 0..chains.len() {
        let mut ring: Vec<Xy> = Vec::new();
        let mut at = first;
        // Each piece is taken out as it is used.
        while let Some(to) = next.get_mut(at)?.take() {
            ring.extend(&chains.get(at)?.points);
            at = to;
        }
        if ring.is_empty() {
            continue;
        }
        ring.dedup();
        ring.extend(
            ring.first()
                .copied()
                .filter(|first| ring.last() != Some(first)),
        );
        rings.push(ring);
    }
    Some(rings)
}

fn is_in(ring: &[Xy], [x, y]: Xy) -> bool {
    let crossings = ring.windows(2).filter(|pair| match pair {
        [a, b] => (a[1] > y) != (b[1] > y) && x < (b[0] - a[0]) * (y - a[1]) / (b[1] - a[1]) + a[0],
        _ => false,
    });
    crossings.count() % 2 == 1
}

fn counted_on([x, y]: Xy) -> Xy {
    match x < 0.0 {
        true => [x + 360.0, y],
        false => [x, y],
    }
}

/// Points of one side, with longitudes from -180 to 180 again.
fn within_half_a_turn(points: Vec<Xy>) -> Vec<Xy> {
    let east = points.iter().any(|[x, _]| *x > MERIDIAN);
    let back = |[x, y]: Xy| match east {
        true => [x - 360.0, y],
        false => [x, y],
    };
    points.into_iter().map(back).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    const SCALE: f64 = 1e9;

    /// A closed ring from longitudes that count on, as they are written.
    fn ring(points: &[[f64; 2]]) -> Vec<Xy> {
        let turned = |[x, y]: Xy| [if x > 180.0 { x - 360.0 } else { x }, y];
        let closed = points.iter().chain(points.first());
        closed.copied().map(turned).collect()
    }

    fn areas(polygons: &[Rings]) -> Vec<f64> {
        let of = |Rings(rings): &Rings| rings.iter().map(|ring| twice_area(ring) / 2.0).sum();
        polygons.iter().map(of).collect()
    }

    fn close(found: &[f64], wanted: &[f64]) {
        let near = |(a, b): (&f64, &f64)| (a - b).abs() < 1e-9;
        let same = found.len() == wanted.len() && found.iter().zip(wanted).all(near);
        assert!(same, "{found:?} {wanted:?}");
    }

    /// Every ring is closed, on one side, and runs the way it did.
    fn sound(polygons: &[Rings]) {
        for Rings(rings) in polygons {
            for (nth, ring) in rings.iter().enumerate() {
                assert_eq!(ring.first(), ring.last());
                assert!(!is_across(ring), "{ring:?}");
                assert!(ring.iter().all(|[x, _]| x.abs() <= 180.0), "{ring:?}");
                assert_eq!(twice_area(ring) > 0.0, nth == 0, "{ring:?}");
            }
        }
    }

    #[test]
    fn a_square_becomes_two_and_a_line_two_lines() {
        let square = ring(&[[179.0, 0.0], [182.0, 0.0], [182.0, 1.0], [179.0, 1.0]]);
        let two = cut(Rings(vec![square.clone()]), SCALE);
        sound(&two);
        close(&areas(&two), &[1.0, 2.0]);
        let one = ring(&[[178.0, 0.0], [179.0, 0.0], [179.0, 1.0]]);
        assert_eq!(cut(Rings(vec![one.clone()]), SCALE)[0].0, vec![one]);
        let lines = cut_line(&square[..3], SCALE);
        let wanted = vec![
            vec![[179.0, 0.0], [180.0, 0.0]],
            vec![[-180.0, 0.0], [-178.0, 0.0], [-178.0, 1.0]],
        ];
        assert_eq!(lines, wanted);
    }

    /// A comb whose teeth reach over the meridian, one hole in its back, one across the meridian, and one in a tooth.
    #[test]
    fn teeth_and_holes_stay_what_they_are() {
        let comb = ring(&[
            [178.0, 0.0],
            [183.0, 0.0],
            [183.0, 3.0],
            [179.0, 3.0],
            [179.0, 4.0],
            [181.0, 4.0],
            [181.0, 5.0],
            [178.0, 5.0],
        ]);
        let hole = |points: &[[f64; 2]]| ring(points).into_iter().rev().collect::<Vec<Xy>>();
        let back = hole(&[[178.2, 1.0], [178.4, 1.0], [178.4, 2.0], [178.2, 2.0]]);
        let over = hole(&[[179.5, 1.0], [180.5, 1.0], [180.5, 2.0], [179.5, 2.0]]);
        let tooth = hole(&[[182.0, 1.0], [182.5, 1.0], [182.5, 2.0], [182.0, 2.0]]);
        let all = cut(Rings(vec![comb, back, over, tooth]), SCALE);
        sound(&all);
        // West: 2 x 3, 1 x 1 and 2 x 1 less 0.2 and 0.5. East: 3 x 3 less 0.5 and 0.5; 1 x 1.
        close(&areas(&all), &[9.0 - 0.7, 8.0, 1.0]);
        assert_eq!(
            all.iter().map(|of| of.0.len()).collect::<Vec<_>>(),
            [2, 2, 1]
        );
    }

    #[test]
    fn what_touches_the_meridian_is_not_cut() {
        // From the west with an edge, with a point; from the east with an edge, with a point.
        for (points, west) in [
            (
                vec![[179.0, 0.0], [180.0, 0.0], [180.0, 1.0], [179.0, 1.0]],
                true,
            ),
            (vec![[179.0, 0.0], [180.0, 0.5], [179.0, 1.0]], true),
            (
                vec![[180.0, 0.0], [181.0, 0.0], [181.0, 1.0], [180.0, 1.0]],
                false,
            ),
            (vec![[181.0, 0.0], [181.0, 1.0], [180.0, 0.5]], false),
        ] {
            for on_it in [180.0, -180.0] {
                let own: Vec<Xy> = ring(&points)
                    .into_iter()
                    .map(|[x, y]| [if x == 180.0 { on_it } else { x }, y])
                    .collect();
                let one = cut(Rings(vec![own.clone()]), SCALE);
                sound(&one);
                assert_eq!(one.len(), 1, "{own:?}");
                assert_eq!(one[0].0[0].iter().all(|[x, _]| *x > 0.0), west, "{own:?}");
                assert_eq!(twice_area(&one[0].0[0]), twice_area(&own));
            }
        }
    }

    #[test]
    fn neighbours_are_cut_at_the_same_place() {
        let shared = [[179.3, 0.1], [181.9, 0.77]];
        let north = ring(&[shared[0], shared[1], [181.9, 2.0], [179.3, 2.0]]);
        let south = ring(&[shared[1], shared[0], [179.3, -1.0], [181.9, -1.0]]);
        let cut = |ring| cut(Rings(vec![ring]), SCALE);
        let on_it = |polygons: &[Rings]| -> Vec<f64> {
            let points = polygons.iter().flat_map(|of| of.0.iter().flatten());
            let mut on_it: Vec<f64> = points
                .filter(|p| p[0].abs() == 180.0)
                .map(|p| p[1])
                .collect();
            on_it.sort_by(f64::total_cmp);
            on_it.dedup();
            on_it
        };
        let [north, south] = [cut(north), cut(south)].map(|of| on_it(&of));
        assert_eq!((north.len(), south.len()), (2, 2));
        assert_eq!(north[0], south[1]);
    }
}
