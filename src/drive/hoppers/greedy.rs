//! When to stop and what to fill.
//!
//! At every stop both halves are topped up, and the next stop is the last one that both reach. That is
//! never more stops than any other plan needs: after a stop at a later place at least as much has been
//! filled in all (also in whole packs, for what fits depends only on what has been used by then), so
//! whatever an earlier stop reaches, a later one reaches too.

/// Sums of kilograms that differ by less are equal, kg.
const SAME_KG: f64 = 1e-6;

/// One half of the hopper.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Tank {
    /// Most that it holds, kg.
    pub full_kg: f64,
    /// What must stay in it, kg.
    pub least_kg: f64,
    /// Filled only in whole packs of this weight, kg.
    pub pack_kg: Option<f64>,
    /// What each bout takes, kg.
    pub takes_kg: Vec<f64>,
}

/// A stop.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Stop {
    /// Bouts that have been driven by then.
    pub after: usize,
    /// Not where the tender stands: no place of its was within reach.
    pub away: bool,
    /// Per tank: what is in it when the drill stops, and what is filled, kg.
    pub left_kg: Vec<f64>,
    pub fill_kg: Vec<f64>,
    /// The tank that would not have lasted to a later stop; none at the start.
    pub governs: Option<usize>,
}

/// A bout that no fill lasts for.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct TooLong {
    /// Bout (from 0) and tank.
    pub bout: usize,
    pub tank: usize,
    /// What is in it after filling, kg.
    pub filled_kg: f64,
}

impl Tank {
    /// What the bouts from one to before another take, kg.
    fn takes(&self, from: usize, to: usize) -> f64 {
        self.takes_kg.get(from..to).unwrap_or_default().iter().sum()
    }

    /// What is filled at a stop: as much as fits, and no more than the rest of the field needs.
    fn fill(&self, content_kg: f64, after: usize) -> f64 {
        let needed = self.takes(after, self.takes_kg.len()) + self.least_kg - content_kg;
        let fits = self.full_kg - content_kg;
        match self.pack_kg {
            None => not_below_zero(needed.min(fits)),
            Some(pack) => {
                let fitting = (fits / pack + SAME_KG / pack).floor();
                let wanted = (needed / pack - SAME_KG / pack).ceil();
                not_below_zero(wanted.min(fitting)) * pack
            }
        }
    }

    /// How many bouts can have been driven when it is down to its least.
    fn reaches(&self, content_kg: f64, after: usize) -> usize {
        let mut left = content_kg - self.least_kg;
        let mut reached = after;
        for takes in self.takes_kg.iter().skip(after) {
            left -= takes;
            if left < -SAME_KG {
                break;
            }
            reached += 1;
        }
        reached
    }
}

/// The stops, the first before the first bout. `at_tender` says for each bout whether its end is where
/// the tender stands.
///
/// # Errors
/// The first bout that no fill lasts for.
pub(super) fn stops(tanks: &[Tank], at_tender: &[bool]) -> Result<Vec<Stop>, TooLong> {
    let bouts = at_tender.len();
    let mut stops: Vec<Stop> = Vec::new();
    let mut content = vec![0.0; tanks.len()];
    let (mut after, mut away, mut governs) = (0, false, None);
    loop {
        let fill_kg: Vec<f64> = tanks
            .iter()
            .zip(&content)
            .map(|(tank, content)| tank.fill(*content, after))
            .collect();
        stops.push(Stop {
            after,
            away,
            left_kg: content.clone(),
            fill_kg: fill_kg.clone(),
            governs,
        });
        for (content, fill) in content.iter_mut().zip(fill_kg) {
            *content += fill;
        }
        let reach = tanks
            .iter()
            .zip(&content)
            .map(|(tank, content)| tank.reaches(*content, after));
        let first_empty = reach.enumerate().min_by_key(|(_, reached)| *reached);
        let Some((tank, reached)) = first_empty.filter(|(_, reached)| *reached < bouts) else {
            return Ok(stops);
        };
        if reached == after {
            return Err(TooLong {
                bout: after,
                tank,
                filled_kg: content[tank],
            });
        }
        let ends = at_tender.get(after..reached).unwrap_or_default();
        let at = ends.iter().rposition(|here| *here);
        let next = at.map_or(reached, |at| after + at + 1);
        for (content, tank) in content.iter_mut().zip(tanks) {
            *content -= tank.takes(after, next);
        }
        (after, away, governs) = (next, at.is_none(), Some(tank));
    }
}

/// 0 for all that is below it. `max` may give a 0 with a minus, in one build and not in another.
fn not_below_zero(kg: f64) -> f64 {
    match kg > 0.0 {
        true => kg,
        false => 0.0,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::collections::{BTreeSet, VecDeque};

    fn tank(full: f64, least: f64, pack: Option<f64>, takes: &[f64]) -> Tank {
        Tank {
            full_kg: full,
            least_kg: least,
            pack_kg: pack,
            takes_kg: takes.to_vec(),
        }
    }

    /// Fewest stops after the start by trying every amount at every place; whole kilograms only.
    fn fewest(tanks: &[Tank], at_tender: &[bool]) -> Option<usize> {
        let step = |tank: &Tank| tank.pack_kg.unwrap_or(1.0) as i64;
        // Per tank: every content that some fill can lead to.
        let fills = |contents: &[i64]| -> Vec<Vec<i64>> {
            let mut all: Vec<Vec<i64>> = vec![Vec::new()];
            for (tank, content) in tanks.iter().zip(contents) {
                let options: Vec<i64> = (0..)
                    .map(|n| content + n * step(tank))
                    .take_while(|c| *c <= tank.full_kg as i64)
                    .collect();
                all = all
                    .iter()
                    .flat_map(|known| {
                        options
                            .iter()
                            .map(move |c| [known.as_slice(), &[*c]].concat())
                    })
                    .collect();
            }
            all
        };
        let mut queue: VecDeque<(usize, usize, Vec<i64>)> = VecDeque::new();
        let mut seen = BTreeSet::new();
        for contents in fills(&vec![0; tanks.len()]) {
            queue.push_back((0, 0, contents));
        }
        while let Some((stops, after, contents)) = queue.pop_front() {
            if !seen.insert((after, contents.clone())) {
                continue;
            }
            // Drive on as far as it goes, and try a stop at each end.
            let mut left = contents;
            for bout in after..at_tender.len() {
                for (left, tank) in left.iter_mut().zip(tanks) {
                    *left -= tank.takes_kg[bout] as i64;
                }
                let enough = left.iter().zip(tanks);
                if !enough.clone().all(|(l, tank)| *l >= tank.least_kg as i64) {
                    break;
                }
                if bout + 1 == at_tender.len() {
                    return Some(stops);
                }
                if at_tender[bout] {
                    for filled in fills(&left) {
                        queue.push_back((stops + 1, bout + 1, filled));
                    }
                }
            }
        }
        None
    }

    #[test]
    fn never_more_stops_than_an_exhaustive_search() {
        let mut state = 3u64;
        let mut random = |below: u64| {
            state = state
                .wrapping_mul(6_364_136_223_846_793_005)
                .wrapping_add(1);
            (state >> 33) % below
        };
        let (mut solved, mut several) = (0, 0);
        for _ in 0..600 {
            let bouts = 3 + random(5) as usize;
            let tanks: Vec<Tank> = (0..2)
                .map(|_| {
                    let takes: Vec<f64> = (0..bouts).map(|_| random(5) as f64).collect();
                    let pack = (random(2) == 0).then(|| 2.0 + random(3) as f64);
                    tank(6.0 + random(6) as f64, random(3) as f64, pack, &takes)
                })
                .collect();
            let at_tender: Vec<bool> = (0..bouts).map(|_| random(3) > 0).collect();
            let found = stops(&tanks, &at_tender);
            let best = fewest(&tanks, &at_tender);
            match (&found, best) {
                (Ok(found), Some(best)) if found.iter().all(|stop| !stop.away) => {
                    assert_eq!(found.len() - 1, best, "{tanks:?} {at_tender:?}");
                    solved += 1;
                    several += usize::from(best > 1);
                }
                // Stops away from the tender, or none at all: then no plan keeps to the tender.
                (Ok(_) | Err(_), None) => {}
                (found, best) => panic!("{found:?} {best:?} {tanks:?} {at_tender:?}"),
            }
            let Ok(found) = found else { continue };
            // What was filled lasts, and no level is ever too low or too high.
            for (nth, tank) in tanks.iter().enumerate() {
                let mut content = 0.0;
                let mut next = found.iter().peekable();
                for bout in 0..bouts {
                    while let Some(stop) = next.next_if(|stop| stop.after == bout) {
                        content += stop.fill_kg[nth];
                        assert!(content <= tank.full_kg + 1e-9);
                    }
                    content -= tank.takes_kg[bout];
                    assert!(content >= tank.least_kg - 1e-9);
                }
                // Near empty at the end: what is left is what must stay, and less than a pack more.
                assert!(content - tank.least_kg < tank.pack_kg.unwrap_or(1e-9));
            }
        }
        assert!(solved > 200 && several > 50, "{solved} {several}");
    }

    #[test]
    fn a_bout_that_no_fill_lasts_for_is_told() {
        let long = [tank(10.0, 1.0, None, &[5.0, 9.5, 1.0])];
        let told = stops(&long, &[true, true, true]).unwrap_err();
        assert_eq!((told.bout, told.tank, told.filled_kg), (1, 0, 10.0));
        // A pack that is larger than the tank is never filled.
        let pack = [tank(10.0, 0.0, Some(12.0), &[1.0])];
        assert_eq!(stops(&pack, &[true]).unwrap_err().filled_kg, 0.0);
    }

    #[test]
    fn both_halves_are_topped_and_the_last_fill_ends_near_empty() {
        let tanks = [
            tank(100.0, 10.0, None, &[40.0; 5]),
            tank(60.0, 5.0, Some(25.0), &[10.0; 5]),
        ];
        let stops = stops(&tanks, &[true; 5]).unwrap();
        let of = |nth: usize| -> Vec<f64> { stops.iter().map(|stop| stop.fill_kg[nth]).collect() };
        let after: Vec<usize> = stops.iter().map(|stop| stop.after).collect();
        assert_eq!(after, [0, 2, 4]);
        // 200 kg and 10 that stay; 50 kg and 5 that stay, in packs of 25.
        assert_eq!(of(0), [100.0, 80.0, 30.0]);
        assert_eq!(of(1), [50.0, 25.0, 0.0]);
        assert_eq!(stops[1].governs, Some(0));
    }

    #[test]
    fn where_the_tender_is_out_of_reach_the_stop_is_said_to_be_away() {
        let tanks = [tank(100.0, 0.0, None, &[40.0; 4])];
        let stops = stops(&tanks, &[false, false, false, true]).unwrap();
        let told: Vec<(usize, bool)> = stops.iter().map(|stop| (stop.after, stop.away)).collect();
        assert_eq!(told, [(0, false), (2, true)]);
    }

    #[test]
    fn nothing_to_fill_is_a_plain_zero() {
        for kg in [-0.0, 0.0, -3.0] {
            assert_eq!(not_below_zero(kg).to_bits(), 0.0_f64.to_bits());
        }
        assert_eq!(not_below_zero(2.5), 2.5);
    }
}
