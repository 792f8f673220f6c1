//! Fewer points in a line (Ramer 1972; Douglas and Peucker 1973).

/// The line without points that lie within a distance of the straight way between the points kept around them. Both
/// ends stay.
pub fn thinned(line: &[[f64; 2]], within_m: f64) -> Vec<[f64; 2]> {
    let Some(last) = line.len().checked_sub(1).filter(|last| *last > 0) else {
        return line.to_vec();
    };
    let mut keep = vec![false; line.len()];
    let mut parts = vec![(0, last)];
    while let Some((from, to)) = parts.pop() {
        let (Some(&a), Some(&b)) = (line.get(from), line.get(to)) else {
            continue;
        };
        keep[from] = true;
        keep[to] = true;
        let between = line.iter().enumerate().take(to).skip(from + 1);
        let far = between.map(|(at, place)| (at, distance_m(*place, [a, b])));
        let farthest = far.fold(None, |best: Option<(usize, f64)>, one| match best {
            Some(best) if best.1 >= one.1 => Some(best),
            _ => Some(one),
        });
        if let Some((at, _)) = farthest.filter(|(_, metres)| *metres > within_m) {
            parts.push((from, at));
            parts.push((at, to));
        }
    }
    let kept = line.iter().zip(keep).filter(|(_, keep)| *keep);
    kept.map(|(place, _)| *place).collect()
}

/// Distance of a place from a straight piece, in the unit of both.
pub fn distance_m(place: [f64; 2], [a, b]: [[f64; 2]; 2]) -> f64 {
    let way = [b[0] - a[0], b[1] - a[1]];
    let to = [place[0] - a[0], place[1] - a[1]];
    let square = way[0] * way[0] + way[1] * way[1];
    let share = if square > 0.0 {
        ((to[0] * way[0] + to[1] * way[1]) / square).clamp(0.0, 1.0)
    } else {
        0.0
    };
    (to[0] - share * way[0]).hypot(to[1] - share * way[1])
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_taken_out_lies_near_what_is_left() {
        let arc: Vec<[f64; 2]> = (0..=90)
            .map(|degrees| {
                let (sine, cosine) = f64::from(degrees).to_radians().sin_cos();
                [100.0 * cosine, 100.0 * sine]
            })
            .collect();
        let thin = thinned(&arc, 0.05);
        assert!(thin.len() < 40 && thin.len() > 10, "{}", thin.len());
        assert_eq!((thin[0], thin[thin.len() - 1]), (arc[0], arc[90]));
        for place in &arc {
            let near = thin
                .windows(2)
                .map(|pair| distance_m(*place, [pair[0], pair[1]]));
            assert!(near.fold(f64::MAX, f64::min) <= 0.05);
        }
        assert_eq!(thinned(&arc[..1], 1.0), arc[..1]);
        assert!(thinned(&[], 1.0).is_empty());
    }
}
