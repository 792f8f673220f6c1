//! Bouts along a curve that bend tighter than a drill can follow.
//!
//! On a bend of less than half the working width the inner end of the drill would run backwards (geometry). A way is a line of straight
//! pieces, so the bend is judged by how far it turns: more than an angle of 1 (57 degrees) within half the width.

use super::bout::Bout;
use crate::coordinates::PlaneXy;
use crate::findings::{Finding, Place};
use crate::frame::Frame;
use crate::geometry::thin::distance_m;
use crate::job::{Job, LandPart};
use crate::land::Land;

/// What no drill follows of the bouts along a curve, with the place nearest to the line that they run along.
pub fn finding(bouts: &[Bout], land: &Land, frame: &Frame, job: &Job) -> Option<Finding> {
    let guide = land.guide.as_ref().filter(|_| land.is_curved())?;
    let half_m = job.drill.working_width_m / 2.0;
    let interior = || bouts.iter().filter(|bout| bout.part == LandPart::Interior);
    let of_bouts: Vec<Vec<[f64; 2]>> = interior()
        .map(|bout| places(&bout.path.points(), half_m))
        .filter(|places| !places.is_empty())
        .collect();
    let beside = |place: &[f64; 2]| {
        let pieces = guide.windows(2);
        let away = pieces.map(|pair| distance_m(*place, [pair[0], pair[1]]));
        away.fold(f64::MAX, f64::min)
    };
    let all = of_bouts.iter().flatten();
    let all = all.map(|place| (beside(place), *place));
    let (beside_m, place) = all.min_by(|a, b| a.0.total_cmp(&b.0))?;
    let units = job.report.units;
    let message = format!(
        "{} of the {} bouts along the line bend tighter than half the drill is wide ({}), in {} places; the one nearest to the line is here, {} beside it. There the inner end of the drill would run backwards: no drill follows, and what it leaves unsown or sows twice is more than the figures of the drive say. Towards the inside of a bend each bout bends tighter by a working width than the one before: draw the line with wider bends, or let the bouts run straight",
        of_bouts.len(),
        interior().count(),
        units.length(half_m, 1),
        of_bouts.iter().flatten().count(),
        units.length(beside_m, 1),
    );
    let place = Place::file(&job.file).at(frame.to_lon_lat(PlaneXy::of_pair(place)));
    Some(Finding::warning("drive.too_tight", place, message))
}

/// Where a way turns by more than an angle of 1 within so many metres; bends that follow each other closer than that are one.
fn places(points: &[[f64; 2]], within_m: f64) -> Vec<[f64; 2]> {
    let mut station = 0.0;
    let corners: Vec<(f64, f64, [f64; 2])> = points
        .windows(3)
        .map(|three| {
            let [a, b, c] = [three[0], three[1], three[2]];
            let ([ux, uy], [vx, vy]) = ([b[0] - a[0], b[1] - a[1]], [c[0] - b[0], c[1] - b[1]]);
            station += ux.hypot(uy);
            let turn = (ux * vy - uy * vx).atan2(ux * vx + uy * vy);
            (station, turn, b)
        })
        .collect();
    let mut found: Vec<[f64; 2]> = Vec::new();
    let mut seen_to_m = f64::MIN;
    let (mut first, mut turned) = (0, 0.0);
    for &(station, turn, place) in &corners {
        turned += turn;
        while corners[first].0 < station - within_m {
            turned -= corners[first].1;
            first += 1;
        }
        if turned.abs() <= 1.0 {
            continue;
        }
        if station - seen_to_m > within_m {
            found.push(place);
        }
        seen_to_m = station;
    }
    found
}

#[cfg(test)]
mod tests {
    use super::*;

    fn arc(radius: f64, degrees: u32) -> Vec<[f64; 2]> {
        (0..=degrees)
            .map(|degree| {
                let (sine, cosine) = f64::from(degree).to_radians().sin_cos();
                [radius * cosine, radius * sine]
            })
            .collect()
    }

    #[test]
    fn a_bend_counts_where_it_is_tighter_than_half_the_width() {
        assert!(places(&arc(3.1, 180), 3.0).is_empty());
        assert_eq!(places(&arc(2.9, 180), 3.0).len(), 1);
        // Too short to be a bend of that radius.
        assert!(places(&arc(2.9, 40), 3.0).is_empty());
        let corner = [[0.0, 0.0], [50.0, 0.0], [50.0, 50.0], [70.0, 90.0]];
        assert_eq!(places(&corner, 3.0), [[50.0, 0.0]]);
        // There and back again is no bend.
        let jitter = [
            [0.0, 0.0],
            [10.0, 0.0],
            [10.2, 0.3],
            [11.0, 0.3],
            [30.0, 0.3],
        ];
        assert!(places(&jitter, 3.0).is_empty());
    }
}
