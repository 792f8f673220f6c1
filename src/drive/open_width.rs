//! How much of a convex piece of ground is still to be drilled, place by place along it, exactly.
//!
//! In coordinates u along and v across the piece, every edge that counts (of the piece, of the land to drill, of
//! ground drilled before) is a straight line v(u). Between the places where one begins, ends or crosses another,
//! their order is the same, so the open width is a straight line too. It is solved, not sampled.

use super::frame::Edge;

/// Places along the piece that differ by less are the same, m.
const SAME_M: f64 = 1e-9;

/// A stretch on which both widths are straight lines.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Stretch {
    pub along_m: [f64; 2],
    /// Width of the piece at both ends.
    pub own_m: [f64; 2],
    /// What of it is still to be drilled.
    pub open_m: [f64; 2],
}

impl Stretch {
    pub fn own_m2(&self) -> f64 {
        self.area(self.own_m)
    }

    pub fn open_m2(&self) -> f64 {
        self.area(self.open_m)
    }

    /// Whether both widths go on in the next stretch as they are: what begins or ends beside the piece breaks nothing.
    fn goes_on(&self, next: &Self) -> bool {
        let [[begin, joint], [_, end]] = [self.along_m, next.along_m];
        let share = (joint - begin) / (end - begin);
        let straight = |[from, to]: [f64; 2], [again, last]: [f64; 2]| {
            let there = from + share * (last - from);
            (to - again).abs() < SAME_M && (there - to).abs() < SAME_M
        };
        straight(self.own_m, next.own_m) && straight(self.open_m, next.open_m)
    }

    fn extend(&mut self, next: &Self) {
        self.along_m[1] = next.along_m[1];
        self.own_m[1] = next.own_m[1];
        self.open_m[1] = next.open_m[1];
    }

    fn area(&self, [a, b]: [f64; 2]) -> f64 {
        (self.along_m[1] - self.along_m[0]) * (a + b) / 2.0
    }

    /// The part between two places.
    pub fn part(&self, [from, to]: [f64; 2]) -> Self {
        let at = |[a, b]: [f64; 2], u: f64| {
            let share = (u - self.along_m[0]) / (self.along_m[1] - self.along_m[0]);
            a + share * (b - a)
        };
        Self {
            along_m: [from, to],
            own_m: [from, to].map(|u| at(self.own_m, u)),
            open_m: [from, to].map(|u| at(self.open_m, u)),
        }
    }
}

/// Whose edge it is.
#[derive(Clone, Copy, PartialEq)]
enum Whose {
    Piece,
    Land,
    Drilled,
}

/// An edge by rising u.
struct Line {
    from: [f64; 2],
    to: [f64; 2],
    whose: Whose,
    /// What lies below it counts one more (1) or one less (-1) than what lies above.
    below: i32,
}

impl Line {
    /// `None` for an edge square to the way: it spans nothing.
    fn of(edge: Edge, whose: Whose) -> Option<Self> {
        let [a, b] = [edge.from, edge.to];
        let forwards = b[0] > a[0];
        // With the inside on its left, an edge that runs forwards has it above.
        let (from, to, below) = if forwards { (a, b, -1) } else { (b, a, 1) };
        (to[0] > from[0]).then_some(Self {
            from,
            to,
            whose,
            below,
        })
    }

    fn at(&self, u: f64) -> f64 {
        let share = ((u - self.from[0]) / (self.to[0] - self.from[0])).clamp(0.0, 1.0);
        self.from[1] + share * (self.to[1] - self.from[1])
    }

    /// Where it crosses another within both.
    fn crosses(&self, other: &Line) -> Option<f64> {
        let [low, high] = [self.from[0].max(other.from[0]), self.to[0].min(other.to[0])];
        if low >= high {
            return None;
        }
        let [a, b] = [low, high].map(|u| self.at(u) - other.at(u));
        ((a < 0.0) != (b < 0.0)).then(|| low + a / (a - b) * (high - low))
    }
}

/// The edges of a ring, the first point last again.
fn edges(ring: &[[f64; 2]]) -> impl Iterator<Item = Edge> {
    let ends = ring.iter().skip(1).chain(ring.first());
    ring.iter().zip(ends).map(|(from, to)| Edge {
        from: *from,
        to: *to,
    })
}

/// Where in a piece the land is asked for: no border is likely to run just there.
const ASKED_AT: [f64; 2] = [0.367_9, 0.414_2];

/// The land around a piece.
pub(super) struct LandHere<'a, W> {
    /// Edges with land on their left: those that meet the box of the piece, or more.
    pub edges: &'a [Edge],
    /// How many times a place is on the land.
    pub at: W,
}

/// The widths along a piece, by rising u. `drilled` are rings with their inside on the left, which may overlap; `breaks`
/// are further places to break at. All in the piece's own coordinates.
pub(super) fn widths(
    piece: &[[f64; 2]],
    land: LandHere<'_, impl Fn([f64; 2]) -> i32>,
    drilled: &[Vec<[f64; 2]>],
    breaks: [f64; 2],
) -> Vec<Stretch> {
    let of = |axis: usize| {
        let places = piece.iter().map(move |place| place[axis]);
        places.fold([f64::MAX, f64::MIN], |[a, b], x| [a.min(x), b.max(x)])
    };
    let ([begin, end], [right, left]) = (of(0), of(1));
    let asked = [
        begin + ASKED_AT[0] * (end - begin),
        right + ASKED_AT[1] * (left - right),
    ];
    // The land along the line v = asked[1]: at the asked place, and where edges cross it.
    let at_asked = (land.at)(asked);
    let crossing = |edge: &Edge| {
        let [a, b] = [edge.from, edge.to];
        let up = b[1] > asked[1];
        (up != (a[1] > asked[1])).then(|| {
            let share = (asked[1] - a[1]) / (b[1] - a[1]);
            // An edge that runs to the left has land before it, one that runs to the right behind it.
            (a[0] + share * (b[0] - a[0]), if up { -1 } else { 1 })
        })
    };
    let crossings: Vec<(f64, i32)> = land.edges.iter().filter_map(crossing).collect();
    let land_at = |u: f64| {
        let change = |(at, change): &(f64, i32)| {
            if *at > asked[0] && *at < u {
                *change
            } else if *at < asked[0] && *at > u {
                -change
            } else {
                0
            }
        };
        at_asked + crossings.iter().map(change).sum::<i32>()
    };

    let lowest = |line: &Line| line.from[1].min(line.to[1]);
    let highest = |line: &Line| line.from[1].max(line.to[1]);
    let meets = |line: &Line| line.to[0] > begin && line.from[0] < end && highest(line) > right;
    let mut lines: Vec<Line> = edges(piece)
        .filter_map(|edge| Line::of(edge, Whose::Piece))
        .collect();
    let of_land = land.edges.iter();
    let of_land = of_land.filter_map(|edge| Line::of(*edge, Whose::Land));
    lines.extend(of_land.filter(meets));
    let drilled = drilled.iter().flat_map(|ring| edges(ring));
    let drilled = drilled.filter_map(|edge| Line::of(edge, Whose::Drilled));
    lines.extend(drilled.filter(meets));
    lines.sort_by(|a, b| a.from[0].total_cmp(&b.from[0]));

    let mut places: Vec<f64> = breaks.to_vec();
    places.extend(crossings.iter().map(|(at, _)| *at));
    let mut active: Vec<&Line> = Vec::new();
    for line in &lines {
        active.retain(|other| other.to[0] > line.from[0]);
        // What lies wholly beyond the piece has no place of its own.
        if lowest(line) <= left {
            places.extend([line.from[0], line.to[0]]);
            let met = active.iter().filter(|other| lowest(other) <= left);
            places.extend(met.filter_map(|other| line.crosses(other)));
        }
        active.push(line);
    }
    places.retain(|u| (begin..=end).contains(u));
    places.extend([begin, end]);
    places.sort_by(f64::total_cmp);
    places.dedup_by(|b, a| *b - *a < SAME_M);

    let mut stretches: Vec<Stretch> = Vec::new();
    let mut active: Vec<&Line> = Vec::new();
    let mut next = lines.iter().peekable();
    for pair in places.windows(2) {
        let &[from, to] = pair else { continue };
        let middle = (from + to) / 2.0;
        while let Some(line) = next.next_if(|line| line.from[0] < middle) {
            active.push(line);
        }
        active.retain(|line| line.to[0] > middle);
        let mut order: Vec<(f64, &Line)> =
            active.iter().map(|line| (line.at(middle), *line)).collect();
        order.sort_by(|a, b| b.0.total_cmp(&a.0));
        let mut stretch = Stretch {
            along_m: [from, to],
            own_m: [0.0; 2],
            open_m: [0.0; 2],
        };
        let above = order
            .iter()
            .filter(|(at, line)| line.whose == Whose::Land && *at > asked[1]);
        let mut on_land = land_at(middle) - above.map(|(_, line)| line.below).sum::<i32>();
        let (mut in_piece, mut passes) = (0, 0);
        for pair in order.windows(2) {
            let &[(_, upper), (_, lower)] = pair else {
                continue;
            };
            match upper.whose {
                Whose::Piece => in_piece += upper.below,
                Whose::Land => on_land += upper.below,
                Whose::Drilled => passes += upper.below,
            }
            if in_piece <= 0 {
                continue;
            }
            let widths = [from, to].map(|u| (upper.at(u) - lower.at(u)).max(0.0));
            for (sum, width) in stretch.own_m.iter_mut().zip(widths) {
                *sum += width;
            }
            if on_land > 0 && passes == 0 {
                for (sum, width) in stretch.open_m.iter_mut().zip(widths) {
                    *sum += width;
                }
            }
        }
        match stretches.last_mut() {
            Some(last) if !breaks.contains(&from) && last.goes_on(&stretch) => {
                last.extend(&stretch)
            }
            _ => stretches.push(stretch),
        }
    }
    stretches
}

#[cfg(test)]
mod tests {
    use super::*;

    const PIECE: [[f64; 2]; 4] = [[0.0, -3.0], [100.0, -3.0], [100.0, 3.0], [0.0, 3.0]];

    fn box_of(u: [f64; 2], v: [f64; 2]) -> Vec<[f64; 2]> {
        vec![[u[0], v[0]], [u[1], v[0]], [u[1], v[1]], [u[0], v[1]]]
    }

    fn open_m2(land: &[[f64; 2]], drilled: &[Vec<[f64; 2]>]) -> f64 {
        // Convex, its inside on the left.
        let inside = |[x, y]: [f64; 2]| {
            let left_of = |edge: Edge| {
                let [a, b] = [edge.from, edge.to];
                (b[0] - a[0]) * (y - a[1]) > (b[1] - a[1]) * (x - a[0])
            };
            i32::from(edges(land).all(left_of))
        };
        let edges: Vec<Edge> = edges(land).collect();
        let here = LandHere {
            edges: &edges,
            at: inside,
        };
        let got = widths(&PIECE, here, drilled, [0.0, 100.0]);
        let own: f64 = got.iter().map(Stretch::own_m2).sum();
        assert!((own - 600.0).abs() < 1e-9, "{own}");
        got.iter().map(Stretch::open_m2).sum()
    }

    #[test]
    fn what_is_drilled_before_is_taken_off_once() {
        let land = box_of([-50.0, 150.0], [-2.0, 50.0]);
        assert!((open_m2(&land, &[]) - 500.0).abs() < 1e-9);
        // Two that overlap: 10 to 30 m and 20 to 60 m, up to 1 m to the left of the way.
        let drilled = [
            box_of([10.0, 30.0], [-9.0, 1.0]),
            box_of([20.0, 60.0], [-9.0, 1.0]),
        ];
        assert!((open_m2(&land, &drilled) - (500.0 - 50.0 * 3.0)).abs() < 1e-9);
        // A diamond of 4 m to each side in the middle of the land, the way through its middle: cut off at 2 and 3 m.
        let diamond = vec![[46.0, 0.0], [50.0, -4.0], [54.0, 0.0], [50.0, 4.0]];
        let cut = 32.0 - 2.0 * 2.0 - 1.0;
        assert!((open_m2(&land, &[diamond]) - (500.0 - cut)).abs() < 1e-9);
    }

    #[test]
    fn land_far_to_the_left_counts_and_land_wholly_beyond_does_not() {
        let all = box_of([-500.0, 500.0], [-500.0, 500.0]);
        assert!((open_m2(&all, &[]) - 600.0).abs() < 1e-9);
        let beyond = box_of([-500.0, 500.0], [3.5, 500.0]);
        assert_eq!(open_m2(&beyond, &[]), 0.0);
    }

    /// Against the arrangement of the same shapes, for triangles thrown at random.
    #[test]
    fn it_agrees_with_the_exact_arrangement() {
        use crate::geometry::{Overlay, Pt, Shape};
        let mut random = crate::drive::test_numbers::random_numbers(5);
        let shape = |ring: &[[f64; 2]]| Shape {
            exterior: ring
                .iter()
                .map(|&at| Pt::from_metres(at).unwrap())
                .collect(),
            holes: Vec::new(),
        };
        for _ in 0..20 {
            let mut triangle = || {
                let [a, mut b, mut c] =
                    [0, 1, 2].map(|_| [110.0 * random() - 5.0, 10.0 * random() - 5.0]);
                if (b[0] - a[0]) * (c[1] - a[1]) < (b[1] - a[1]) * (c[0] - a[0]) {
                    (b, c) = (c, b);
                }
                vec![a, b, c]
            };
            let land = triangle();
            let drilled: Vec<_> = (0..4).map(|_| triangle()).collect();
            let mut overlay = Overlay::default();
            overlay.add(shape(&PIECE));
            overlay.add(shape(&land));
            drilled.iter().for_each(|ring| {
                overlay.add(shape(ring));
            });
            let arrangement = overlay.arrange();
            let open = (1..arrangement.faces() as u32)
                .filter(|face| overlay.covering(&arrangement, *face) == [0, 1]);
            let expected: f64 = open.map(|face| arrangement.area_m2(face)).sum();
            let got = open_m2(&land, &drilled);
            assert!((got - expected).abs() < 1e-3, "{got} {expected}");
        }
    }
}
