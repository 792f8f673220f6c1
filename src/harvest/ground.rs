//! Land that was cut already: the exact part of each reading's rectangle that is new.

use super::near::Near;
use super::passes::Pass;
use super::readings::Reading;
use rayon::prelude::*;

/// A convex piece of land, counter-clockwise.
type Piece = Vec<[f64; 2]>;

/// The rectangle that ends at a reading.
fn rectangle(reading: &Reading, heading: [f64; 2]) -> Piece {
    let [along, across] = [reading.distance_m, reading.width_m / 2.0];
    let [x, y] = reading.xy;
    let corner = |back: f64, side: f64| {
        [
            x - back * heading[0] - side * heading[1],
            y - back * heading[1] + side * heading[0],
        ]
    };
    vec![
        corner(along, -across),
        corner(0.0, -across),
        corner(0.0, across),
        corner(along, across),
    ]
}

fn area(piece: &[[f64; 2]]) -> f64 {
    let turns = piece.iter().zip(piece.iter().cycle().skip(1));
    turns.map(|(a, b)| a[0] * b[1] - b[0] * a[1]).sum::<f64>() / 2.0
}

/// A piece on both sides of the line from `a` to `b`: left, right.
fn split(piece: &[[f64; 2]], a: [f64; 2], b: [f64; 2]) -> [Piece; 2] {
    let side = |p: [f64; 2]| (b[0] - a[0]) * (p[1] - a[1]) - (b[1] - a[1]) * (p[0] - a[0]);
    let mut sides = [Vec::new(), Vec::new()];
    for (p, q) in piece.iter().zip(piece.iter().cycle().skip(1)) {
        let [of_p, of_q] = [side(*p), side(*q)];
        if of_p >= 0.0 {
            sides[0].push(*p);
        }
        if of_p <= 0.0 {
            sides[1].push(*p);
        }
        if (of_p > 0.0 && of_q < 0.0) || (of_p < 0.0 && of_q > 0.0) {
            let share = of_p / (of_p - of_q);
            let cut = [p[0] + share * (q[0] - p[0]), p[1] + share * (q[1] - p[1])];
            sides[0].push(cut);
            sides[1].push(cut);
        }
    }
    sides
}

/// What is left of pieces without a convex piece of land; each cut leaves convex pieces that do not overlap.
fn without(pieces: Vec<Piece>, taken: &[[f64; 2]]) -> Vec<Piece> {
    let mut left = Vec::new();
    for piece in pieces {
        let mut rest = piece;
        for (a, b) in taken.iter().zip(taken.iter().cycle().skip(1)) {
            let [inside, outside] = split(&rest, *a, *b);
            if area(&outside) > 1e-9 {
                left.push(outside);
            }
            rest = inside;
            if rest.len() < 3 {
                break;
            }
        }
    }
    left
}

/// Readings of the same pass that follow so close touch each other in bends; that is no overlap.
const SAME_PASS: usize = 6;

/// Per reading the share of its rectangle that no earlier one has cut, 0 to 1; 1 where width or way is not known.
pub(super) fn new_share(
    readings: &[Reading],
    passes: &[Pass],
    headings: &[[f64; 2]],
    counts: &[bool],
) -> Vec<f64> {
    let known = |at: usize| {
        let reading = &readings[at];
        counts[at] && headings[at] != [0.0; 2] && reading.distance_m > 0.0 && reading.width_m > 0.0
    };
    // The farthest that a middle of a rectangle can lie from another that it touches.
    let reach = readings
        .iter()
        .enumerate()
        .filter(|(at, _)| known(*at))
        .map(|(_, r)| r.distance_m.hypot(r.width_m))
        .fold(0.0, f64::max);
    if reach <= 0.0 {
        return vec![1.0; readings.len()];
    }
    let near = Near::of(
        (0..readings.len())
            .filter(|&at| known(at))
            .map(|at| (at as u32, readings[at].xy)),
    );
    let of_pass = super::delay::pass_of(readings.len(), passes);
    let share = |at: usize| {
        if !known(at) {
            return 1.0;
        }
        let whole = rectangle(&readings[at], headings[at]);
        let mut left = vec![whole.clone()];
        let own = &readings[at];
        let own_reach =
            own.distance_m.hypot(own.width_m).min(reach) / 2.0 + reach / 2.0 + own.distance_m;
        let mut earlier: Vec<usize> = near
            .within(own.xy, own_reach)
            .map(|other| other as usize)
            .filter(|&other| {
                other < at && !(of_pass[other] == of_pass[at] && at - other <= SAME_PASS)
            })
            .collect();
        earlier.sort_unstable();
        for other in earlier {
            left = without(left, &rectangle(&readings[other], headings[other]));
            if left.is_empty() {
                break;
            }
        }
        let new: f64 = left.iter().map(|piece| area(piece)).sum();
        (new / area(&whole)).clamp(0.0, 1.0)
    };
    (0..readings.len()).into_par_iter().map(share).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_left_of_squares_is_exact() {
        let square = |x: f64, y: f64, size: f64| {
            vec![[x, y], [x + size, y], [x + size, y + size], [x, y + size]]
        };
        let whole = vec![square(0.0, 0.0, 4.0)];
        let left: f64 = without(whole.clone(), &square(1.0, 1.0, 2.0))
            .iter()
            .map(|p| area(p))
            .sum();
        assert!((left - 12.0).abs() < 1e-12, "{left}");
        let left = without(
            without(whole.clone(), &square(-1.0, -1.0, 3.0)),
            &square(1.0, 1.0, 9.0),
        );
        // 16 less two squares of 4 and 9 that share 1.
        let left: f64 = left.iter().map(|p| area(p)).sum();
        assert!((left - 4.0).abs() < 1e-12, "{left}");
        assert!(without(whole.clone(), &square(-1.0, -1.0, 9.0)).is_empty());
        let left: f64 = without(whole, &square(10.0, 0.0, 2.0))
            .iter()
            .map(|p| area(p))
            .sum();
        assert!((left - 16.0).abs() < 1e-12, "{left}");
    }
}
