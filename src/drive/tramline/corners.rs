//! The corners of a headland ring, where no row closes. Method: docs/methods/tramlines.md.

use super::super::path::Path;

/// A ring that turns by more than this within a working width turns in a corner, degrees: a curve of 1.3 working
/// widths, tighter than a sprayer follows with its wheels in the row. Common practice, no source.
const CORNER_DEG: f64 = 45.0;

/// Shorter stretches are none, m: the plane's grid is a micrometre.
const LEAST_M: f64 = 1e-5;

/// Where a ring is at least a working width away from every corner, stations ascending; all of it where it has none.
pub(super) fn between_corners(ring: &Path, width_m: f64) -> Vec<[f64; 2]> {
    let length_m = ring.length_m();
    let corners = corners(ring, width_m);
    if corners.is_empty() {
        return vec![[0.0, length_m]];
    }
    // What stays sown, once around and once more, so that a corner at the start counts for the end.
    let sown = corners.iter().map(|[a, b]| [a - width_m, b + width_m]);
    let around =
        sown.flat_map(|[a, b]| [-1.0, 0.0, 1.0].map(|turn| [a, b].map(|s| s + turn * length_m)));
    let mut sown: Vec<[f64; 2]> = around.collect();
    sown.sort_by(|a, b| a[0].total_cmp(&b[0]));
    let mut closed = Vec::new();
    let mut from_m = 0.0;
    for [a, b] in sown {
        let to_m = a.min(length_m);
        if to_m - from_m > LEAST_M {
            closed.push([from_m, to_m]);
        }
        from_m = f64::max(from_m, b);
    }
    if length_m - from_m > LEAST_M {
        closed.push([from_m, length_m]);
    }
    closed
}

/// Stations from the first to the last bend of each corner; the last may lie past the end of the ring.
fn corners(ring: &Path, width_m: f64) -> Vec<[f64; 2]> {
    let length_m = ring.length_m();
    let legs: Vec<([f64; 2], f64)> = ring
        .straights()
        .map(|([ax, ay], [bx, by], station)| ([bx - ax, by - ay], station))
        .collect();
    // Per bend, at the start of each leg: its station and the turn, left positive.
    let before = legs.iter().cycle().skip(legs.len().saturating_sub(1));
    let bends: Vec<(f64, f64)> = legs
        .iter()
        .zip(before)
        .map(|(([bx, by], station), ([ax, ay], _))| {
            let turn = (ax * by - ay * bx).atan2(ax * bx + ay * by);
            (*station, turn.to_degrees())
        })
        .collect();
    let mut corners = Vec::new();
    for (nth, (first, _)) in bends.iter().enumerate() {
        let on = bends.iter().map(|(station, turn)| (*station, *turn));
        let again = bends
            .iter()
            .map(|(station, turn)| (station + length_m, *turn));
        let mut sum = 0.0;
        let mut last = None;
        for (station, turn) in on.chain(again).skip(nth).take(bends.len()) {
            if station - first > width_m {
                break;
            }
            sum += turn;
            if f64::abs(sum) > CORNER_DEG {
                last = Some(station);
            }
        }
        corners.extend(last.map(|last| [*first, last]));
    }
    corners
}

#[cfg(test)]
mod tests {
    use super::*;

    fn total(stretches: &[[f64; 2]]) -> f64 {
        stretches.iter().map(|[from, to]| to - from).sum()
    }

    /// 100 m x 60 m, two working widths of 6 m at each of four corners, wherever the ring begins.
    #[test]
    fn a_rectangle_stays_sown_a_width_from_each_corner() {
        let corners = [[0.0, 0.0], [100.0, 0.0], [100.0, 60.0], [0.0, 60.0]];
        for first in 0..4 {
            let mut points = corners.to_vec();
            points.rotate_left(first);
            let closed = between_corners(&Path::new(&points, true), 6.0);
            assert_eq!(closed.len(), 4);
            assert!((total(&closed) - (320.0 - 48.0)).abs() < 1e-9);
        }
        // Begun on a side, that side comes in two parts.
        let mut points = vec![[50.0, 0.0]];
        points.extend([1, 2, 3, 0].map(|nth| corners[nth]));
        let closed = between_corners(&Path::new(&points, true), 6.0);
        assert_eq!(closed.len(), 5);
        assert!((total(&closed) - 272.0).abs() < 1e-9);
    }

    fn round(radius_m: f64) -> Path {
        let corner = |k: u32| {
            let (sine, cosine) = (f64::from(k) / 360.0 * std::f64::consts::TAU).sin_cos();
            [radius_m * cosine, radius_m * sine]
        };
        Path::new(&(0..360).map(corner).collect::<Vec<_>>(), true)
    }

    /// 45 degrees in a working width of 6 m is a radius of 6 m / (pi / 4) = 7.64 m.
    #[test]
    fn a_bend_is_a_corner_from_its_radius_on() {
        let wide = round(8.0);
        assert_eq!(between_corners(&wide, 6.0), [[0.0, wide.length_m()]]);
        assert_eq!(between_corners(&round(7.3), 6.0), Vec::<[f64; 2]>::new());
    }

    /// Two bends of 40 degrees, 5 m apart, are one corner; 7 m apart they are none. To and fro they are none either.
    #[test]
    fn bends_count_together_within_a_width() {
        let ring = |apart: f64, second_deg: f64| {
            let (mut at, mut heading) = ([0.0, 0.0], 0.0_f64);
            let mut points = vec![at];
            for (length, turn) in [(100.0, 40.0), (apart, second_deg), (100.0, 0.0)] {
                let (sine, cosine) = heading.to_radians().sin_cos();
                at = [at[0] + length * cosine, at[1] + length * sine];
                points.push(at);
                heading += turn;
            }
            // Back far away: its own corners are four hundred metres off.
            points.extend([
                [at[0] + 400.0, at[1] + 400.0],
                [-400.0, at[1] + 400.0],
                [-400.0, 0.0],
            ]);
            Path::new(&points, true)
        };
        let open_near = |ring: &Path| {
            let closed = between_corners(ring, 6.0);
            !closed
                .iter()
                .any(|[from, to]| (*from..=*to).contains(&100.5))
        };
        assert!(open_near(&ring(5.0, 40.0)));
        assert!(!open_near(&ring(7.0, 40.0)));
        assert!(!open_near(&ring(5.0, -40.0)));
    }
}
