//! Rules for points that were recorded while driving: yield, conductivity.

use super::samples::Record;
use crate::job::Track;
use std::collections::BTreeMap;

/// A point this many overlap distances back along the track, or nearer, belongs to the same pass.
const SAME_PASS: f64 = 3.0;

/// Takes out points by the rules, in this order: speed, delay, overlap. Gives how many went, and why.
///
/// A value that was written outside of the speeds goes, and so does a place that was passed outside of
/// them, which with a delay are two different points.
pub(super) fn clean(records: &mut Vec<Record>, rules: &Track) -> Vec<(usize, &'static str)> {
    let slow = rules.slowest.unwrap_or(f64::NEG_INFINITY);
    let fast = rules.fastest.unwrap_or(f64::INFINITY);
    let in_speed: Vec<bool> = records
        .iter()
        .map(|record| {
            let speed = record.speed.filter(|speed| (slow..=fast).contains(speed));
            rules.speed_column.is_none() || speed.is_some()
        })
        .collect();
    let moved = moved(records, &in_speed, rules.delay_points as usize);
    let mut left_out = Vec::new();
    if rules.speed_column.is_some() {
        let out = in_speed.iter().filter(|in_speed| !**in_speed).count();
        left_out.push((out, "outside of slowest and fastest"));
    }
    if rules.delay_points > 0 {
        let gone = moved.iter().zip(&in_speed);
        let gone = gone.filter(|(moved, in_speed)| moved.is_none() && **in_speed);
        left_out.push((gone.count(), "that delay_points left without a value"));
    }
    let mut moved = moved.into_iter();
    records.retain_mut(|record| match moved.next().flatten() {
        Some(value) => {
            record.value = value;
            true
        }
        None => false,
    });
    if let Some(metres) = rules.overlap_m {
        let before = records.len();
        overlap(records, metres);
        left_out.push((before - records.len(), "on land driven before"));
    }
    left_out
}

/// Per record the value that belongs to its place: that of the record `points` later in the file. None
/// where that one is missing, or either was written outside of the speeds.
fn moved(records: &[Record], in_speed: &[bool], points: usize) -> Vec<Option<f64>> {
    let number = |record: &Record| record.name.parse::<u64>().ok();
    let value_of = |at: usize| {
        let (own, later) = (&records[at], records.get(at + points)?);
        let in_step = match (number(own), number(later)) {
            (Some(own), Some(later)) => own + points as u64 == later,
            _ => true,
        };
        (in_step && in_speed[at] && in_speed[at + points]).then_some(later.value)
    };
    (0..records.len()).map(value_of).collect()
}

/// Takes out a record nearer than `metres` to one that was kept on an earlier pass.
fn overlap(records: &mut Vec<Record>, metres: f64) {
    let key = |place: [f64; 2]| place.map(|at| (at / metres).floor() as i64);
    // Places that were kept, each with how far along the track it lies.
    let mut kept: BTreeMap<[i64; 2], Vec<([f64; 2], f64)>> = BTreeMap::new();
    let mut along = 0.0;
    let mut before: Option<[f64; 2]> = None;
    records.retain(|record| {
        let [x, y] = record.place;
        along += before.map_or(0.0, |[bx, by]| (x - bx).hypot(y - by));
        before = Some([x, y]);
        let [column, row] = key([x, y]);
        let driven = (column - 1..=column + 1)
            .flat_map(|column| (row - 1..=row + 1).map(move |row| [column, row]))
            .filter_map(|cell| kept.get(&cell))
            .flatten()
            .any(|([px, py], at)| {
                along - at > SAME_PASS * metres && (px - x).hypot(py - y) < metres
            });
        if !driven {
            kept.entry([column, row]).or_default().push(([x, y], along));
        }
        !driven
    });
}

#[cfg(test)]
mod tests {
    use super::*;

    fn record(number: usize, place: [f64; 2], value: f64) -> Record {
        Record {
            name: number.to_string(),
            place,
            value,
            speed: Some(value),
        }
    }

    fn rules() -> Track {
        Track::default()
    }

    #[test]
    fn a_delay_moves_values_back_and_does_not_reach_over_a_hole() {
        let mut records: Vec<Record> = [1, 2, 3, 5, 6, 7]
            .iter()
            .map(|&n| record(n, [n as f64, 0.0], n as f64))
            .collect();
        let rules = Track {
            delay_points: 1,
            ..rules()
        };
        let went = clean(&mut records, &rules);
        let now: Vec<(f64, f64)> = records.iter().map(|r| (r.place[0], r.value)).collect();
        assert_eq!(now, [(1.0, 2.0), (2.0, 3.0), (5.0, 6.0), (6.0, 7.0)]);
        assert_eq!(went[0].0, 2);
    }

    #[test]
    fn slow_and_fast_points_go() {
        let mut records: Vec<Record> = (0..6).map(|n| record(n, [0.0, 0.0], n as f64)).collect();
        records[3].speed = None;
        let rules = Track {
            speed_column: Some("v".to_owned()),
            slowest: Some(2.0),
            fastest: Some(4.0),
            ..rules()
        };
        clean(&mut records, &rules);
        let now: Vec<f64> = records.iter().map(|r| r.value).collect();
        assert_eq!(now, [2.0, 4.0]);
    }

    #[test]
    fn a_second_pass_over_the_same_land_goes_but_the_next_bout_stays() {
        // Out along y = 0, back along y = 6, then again along y = 1.
        let line = |y: f64, back: bool| {
            (0..50).map(move |n| [if back { 49 - n } else { n } as f64 * 2.0, y])
        };
        let places = line(0.0, false)
            .chain(line(6.0, true))
            .chain(line(1.0, false));
        let mut records: Vec<Record> = places.enumerate().map(|(n, p)| record(n, p, 1.0)).collect();
        let rules = Track {
            overlap_m: Some(4.0),
            ..rules()
        };
        assert_eq!(clean(&mut records, &rules), [(50, "on land driven before")]);
        assert!(records.iter().all(|record| record.place[1] != 1.0));
    }
}
