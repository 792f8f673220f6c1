//! A polynomial in two variables that stands in for the series where many points lie close together.
//!
//! The series costs some forty transcendental functions a point; the polynomial some thirty products.
//! It is fitted to the series at Chebyshev nodes of the box, and then checked against the series at
//! points between the nodes: a fit that misses the tolerance is not used.

use std::f64::consts::PI;

/// Two numbers of any space: the polynomial and the boxes are the same sums in all of them.
type Pair = [f64; 2];

/// Highest total degree tried.
const MOST: usize = 9;
/// Coefficients of a polynomial of the highest degree, by rows of falling length.
const TERMS: usize = (MOST + 1) * (MOST + 2) / 2;

/// A box in the plane of the arguments.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Extent {
    pub min: Pair,
    pub max: Pair,
}

impl Extent {
    /// The box round these points; `None` without points.
    pub(super) fn of(points: impl IntoIterator<Item = Pair>) -> Option<Self> {
        let mut points = points.into_iter();
        let first = points.next()?;
        Some(points.fold(
            Self {
                min: first,
                max: first,
            },
            |e, p| Self {
                min: [e.min[0].min(p[0]), e.min[1].min(p[1])],
                max: [e.max[0].max(p[0]), e.max[1].max(p[1])],
            },
        ))
    }

    /// The box with this much more on every side.
    pub(super) fn grown(self, by: Pair) -> Self {
        Self {
            min: [self.min[0] - by[0], self.min[1] - by[1]],
            max: [self.max[0] + by[0], self.max[1] + by[1]],
        }
    }

    /// Shortest distance between two boxes; 0 where they meet.
    pub(super) fn gap(&self, other: &Self) -> f64 {
        let along = |i: usize| {
            (self.min[i] - other.max[i])
                .max(other.min[i] - self.max[i])
                .max(0.0)
        };
        along(0).hypot(along(1))
    }

    /// The point at these shares (0 to 1) of width and height.
    pub(super) fn at(&self, share: Pair) -> Pair {
        [
            self.min[0] + share[0] * (self.max[0] - self.min[0]),
            self.min[1] + share[1] * (self.max[1] - self.min[1]),
        ]
    }
}

/// Two polynomials in two variables over a box.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Local {
    middle: Pair,
    /// One over half the width and height.
    scale: Pair,
    degree: usize,
    /// Coefficients of both results: rows of falling length, row i holds u^i v^0 ... u^i v^(degree - i).
    terms: Box<[Pair; TERMS]>,
}

impl Local {
    /// Fits `exact` over `extent` with the lowest degree that stays within `tolerance` (in the unit
    /// of each result) at points between the nodes; `None` if no degree does.
    pub(super) fn fit(
        extent: Extent,
        tolerance: Pair,
        exact: impl Fn(Pair) -> Pair,
    ) -> Option<Self> {
        (3..=MOST).find_map(|degree| {
            let local = Self::fit_degree(extent, degree, &exact)?;
            local.holds(extent, tolerance, &exact).then_some(local)
        })
    }

    fn fit_degree(extent: Extent, degree: usize, exact: &impl Fn(Pair) -> Pair) -> Option<Self> {
        let middle = extent.at([0.5, 0.5]);
        let half = [
            (extent.max[0] - extent.min[0]) / 2.0,
            (extent.max[1] - extent.min[1]) / 2.0,
        ];
        if !(half[0] > 0.0 && half[1] > 0.0) {
            return None;
        }
        // More nodes than the degree needs: the surplus averages the rounding noise of the series.
        let nodes = degree + 6;
        let angle = |i: usize| PI * (i as f64 + 0.5) / nodes as f64;
        // The Chebyshev polynomials at each node.
        let cosines: Vec<[f64; MOST + 1]> = (0..nodes)
            .map(|node| std::array::from_fn(|i| (i as f64 * angle(node)).cos()))
            .collect();
        let mut chebyshev = vec![[0.0; 2]; (degree + 1) * (degree + 1)];
        for p in 0..nodes {
            for q in 0..nodes {
                let [a, b] = [p, q].map(|node| &cosines[node]);
                let value = exact([middle[0] + half[0] * a[1], middle[1] + half[1] * b[1]]);
                for i in 0..=degree {
                    for j in 0..=degree - i {
                        // Discrete orthogonality of the Chebyshev polynomials on their own nodes.
                        let weight = a[i] * b[j];
                        let norm = (if i == 0 { 1.0 } else { 2.0 })
                            * (if j == 0 { 1.0 } else { 2.0 })
                            / (nodes * nodes) as f64;
                        let sum = &mut chebyshev[i * (degree + 1) + j];
                        sum[0] += norm * weight * value[0];
                        sum[1] += norm * weight * value[1];
                    }
                }
            }
        }
        let powers = chebyshev_in_powers(degree);
        let mut terms = Box::new([[0.0; 2]; TERMS]);
        let mut at = 0;
        for i in 0..=degree {
            for j in 0..=degree - i {
                let mut sum = [0.0; 2];
                for k in i..=degree {
                    for l in j..=degree - k {
                        let weight = powers[k][i] * powers[l][j];
                        let c = chebyshev[k * (degree + 1) + l];
                        sum[0] += weight * c[0];
                        sum[1] += weight * c[1];
                    }
                }
                terms[at] = sum;
                at += 1;
            }
        }
        Some(Self {
            middle,
            scale: [1.0 / half[0], 1.0 / half[1]],
            degree,
            terms,
        })
    }

    /// Whether the fit stays within the tolerance at points which are no nodes, edges included.
    fn holds(&self, extent: Extent, tolerance: Pair, exact: &impl Fn(Pair) -> Pair) -> bool {
        const STEPS: usize = 17;
        (0..=STEPS).all(|i| {
            (0..=STEPS).all(|j| {
                let p = extent.at([i as f64 / STEPS as f64, j as f64 / STEPS as f64]);
                let right = exact(p);
                // The corners of the box may round to just outside: they belong to the series then.
                self.at(p).is_none_or(|found| {
                    (found[0] - right[0]).abs() <= tolerance[0]
                        && (found[1] - right[1]).abs() <= tolerance[1]
                })
            })
        })
    }

    /// The value at a point; `None` outside the box.
    ///
    /// Plain products and sums in a fixed order, so that the result is the same wherever the point
    /// stands among others.
    #[inline]
    pub(super) fn at(&self, p: Pair) -> Option<Pair> {
        let u = (p[0] - self.middle[0]) * self.scale[0];
        let v = (p[1] - self.middle[1]) * self.scale[1];
        if !(u.abs() <= 1.0 && v.abs() <= 1.0) {
            return None;
        }
        let (mut x, mut y) = (0.0, 0.0);
        let mut end = (self.degree + 1) * (self.degree + 2) / 2;
        for row in 1..=self.degree + 1 {
            let (mut row_x, mut row_y) = (0.0, 0.0);
            for term in self.terms[end - row..end].iter().rev() {
                row_x = row_x * v + term[0];
                row_y = row_y * v + term[1];
            }
            x = x * u + row_x;
            y = y * u + row_y;
            end -= row;
        }
        Some([x, y])
    }
}

/// Row k: the k-th Chebyshev polynomial in powers of its argument.
fn chebyshev_in_powers(degree: usize) -> Vec<Vec<f64>> {
    let mut rows = vec![vec![0.0; degree + 1]; degree + 1];
    rows[0][0] = 1.0;
    if degree > 0 {
        rows[1][1] = 1.0;
    }
    for k in 2..=degree {
        for i in 0..=degree {
            let twice = if i > 0 { 2.0 * rows[k - 1][i - 1] } else { 0.0 };
            rows[k][i] = twice - rows[k - 2][i];
        }
    }
    rows
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_cubic_is_met_and_a_kink_is_refused() {
        let extent = Extent {
            min: [-3.0, 10.0],
            max: [5.0, 11.0],
        };
        let cubic = |[x, y]: Pair| {
            [
                x * x * x - 2.0 * x * y + y * y * x,
                4.0 - y * y * y + 3.0 * x * x * y,
            ]
        };
        let local = Local::fit(extent, [1e-9, 1e-9], cubic).expect("a cubic is a cubic");
        assert_eq!(local.degree, 3);
        let p = [4.321, 10.987];
        let (found, right) = (local.at(p).expect("inside"), cubic(p));
        assert!((found[0] - right[0]).abs() < 1e-10 && (found[1] - right[1]).abs() < 1e-10);
        assert!(local.at([5.1, 10.5]).is_none());
        assert!(local.at([f64::NAN, 10.5]).is_none());
        assert!(Local::fit(extent, [1e-9, 1e-9], |[x, y]| [x.abs(), y]).is_none());
    }
}
