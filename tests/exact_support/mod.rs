//! Slow and exact: polygons in rational numbers, cut by half planes and laid over each other in slabs.
//! Shares no idea with the program's own geometry, which works with integers and walks borders.

// Each test file uses its share of this.
#![allow(dead_code)]

pub mod draw;
pub mod overlaid;

use num_bigint::BigInt;
use num_rational::BigRational;
use std::cmp::Ordering;

pub type Q = BigRational;

/// A ring in whole numbers, closed implicitly.
pub type Ring = Vec<[i64; 2]>;

/// A ring in rational numbers, closed implicitly.
pub type ExactRing = Vec<[Q; 2]>;

pub fn whole(value: i64) -> Q {
    Q::from_integer(BigInt::from(value))
}

pub fn exact(ring: &Ring) -> ExactRing {
    ring.iter().map(|point| point.map(whole)).collect()
}

/// What of a ring lies on one side of a line along an axis (Sutherland and Hodgman): the coordinate
/// `axis` at least `bound`, or at most if not `above`. Parts that fall apart stay joined along the line,
/// which adds no area.
pub fn cut(ring: &ExactRing, axis: usize, bound: &Q, above: bool) -> ExactRing {
    let side = |point: &[Q; 2]| {
        let order = point[axis].cmp(bound);
        if above { order } else { order.reverse() }
    };
    let mut kept = Vec::new();
    for (nth, to) in ring.iter().enumerate() {
        let from = &ring[(nth + ring.len() - 1) % ring.len()];
        let sides = [side(from), side(to)];
        if sides == [Ordering::Less, Ordering::Greater]
            || sides == [Ordering::Greater, Ordering::Less]
        {
            let along = (bound - &from[axis]) / (&to[axis] - &from[axis]);
            let other = 1 - axis;
            let mut point = [bound.clone(), bound.clone()];
            point[other] = &from[other] + along * (&to[other] - &from[other]);
            kept.push(point);
        }
        if sides[1] != Ordering::Less {
            kept.push(to.clone());
        }
    }
    kept
}

/// What of a ring lies between two lines along an axis.
pub fn between(ring: &ExactRing, axis: usize, low: i64, high: i64) -> ExactRing {
    let above = cut(ring, axis, &whole(low), true);
    cut(&above, axis, &whole(high), false)
}

/// Twice the signed area, counter-clockwise positive.
pub fn area2(ring: &ExactRing) -> Q {
    let mut sum = whole(0);
    let Some(first) = ring.first() else {
        return sum;
    };
    for pair in ring.windows(2) {
        let [u, v] = [&pair[0], &pair[1]].map(|p| [&p[0] - &first[0], &p[1] - &first[1]]);
        sum += &u[0] * &v[1] - &u[1] * &v[0];
    }
    sum
}

/// The nearest double.
pub fn near(value: &Q) -> f64 {
    let scaled: BigInt = (value * whole(1 << 62)).to_integer();
    let [high, low] = [&scaled >> 62, &scaled & BigInt::from((1i64 << 62) - 1)];
    let part = |part: BigInt| i64::try_from(part).expect("fits") as f64;
    part(high) + part(low) / (1u64 << 62) as f64
}
