//! Where a lane is cut across: of all cuts at its places that leave no piece too short, those that cost least; exactly, by
//! dynamic programming (Bellman 1957).
//!
//! Where no border between wanted rates slants across the lane, its places hold the best of all cuts whatsoever. For between two
//! places of the land the touched rows stay the same, so what a piece costs is the least of functions, one for each allowed rate,
//! that are straight lines of where its ends lie: concave. The pieces' lengths are bounded below, so all sets of cuts between
//! the same places are a polytope, and a concave function is least in a corner of it: there each cut lies at a place of the land,
//! or a whole number of least lengths from one or from an end of the lane.

use super::growing::{Growing, LaneRows};
use super::rule::{TOUCHED_M2, Wanted};

/// Places nearer to each other count as one, m: files hold a millimetre.
const SAME_M: f64 = 1e-3;

/// A lane has no more places than this, or than its land has: those fewest least lengths away from a place of the land go first.
const MOST_PLACES: usize = 240;

/// Land that is touched, and so little of it that no mean changes, m2.
const JUST_TOUCHED_M2: f64 = 1.01 * TOUCHED_M2;

/// A cut has to be worth more than this share of what the lane costs uncut.
const WORTH: f64 = 1e-9;

/// Cuts that cost more than others by more than this share of what the lane costs uncut are no best ones: far more than differences
/// that do not count come to along a lane.
const SURE: f64 = 1e-6;

/// Land along a lane.
#[derive(Debug, Clone, PartialEq)]
pub struct Lane {
    /// Stations at which it may be cut, m, ascending; the first and the last are its ends.
    pub places_m: Vec<f64>,
    /// Between each two of them: rows with their area, m2.
    pub land: Vec<Vec<(u32, f64)>>,
    /// Per place: rows that a piece may touch if it ends there, for ground around a bend lies across the line that cuts the lane.
    pub around: Vec<Vec<u32>>,
}

/// Places for cuts: the ends, where the land changes, and whole least lengths from all of these.
pub fn places(length_m: f64, changes_m: &[f64], least_m: f64) -> Vec<f64> {
    let inside = |at: &f64| *at > SAME_M && *at < length_m - SAME_M;
    let mut own: Vec<f64> = changes_m.iter().copied().filter(inside).collect();
    own.extend([0.0, length_m]);
    tidy(&mut own);
    // Without a change there is nothing to cut.
    if own.len() <= 2 || least_m <= SAME_M {
        return own;
    }
    let mut places = own.clone();
    let steps = (length_m / least_m) as u32;
    for step in 1..=steps {
        let away = f64::from(step) * least_m;
        let mut more = places.clone();
        more.extend(
            own.iter()
                .flat_map(|at| [at - away, at + away])
                .filter(inside),
        );
        tidy(&mut more);
        if more.len() > MOST_PLACES.max(own.len()) {
            break;
        }
        places = more;
    }
    places
}

fn tidy(places: &mut Vec<f64>) {
    places.sort_by(f64::total_cmp);
    let end = places.last().copied();
    places.dedup_by(|later, kept| *later - *kept < SAME_M);
    // The end itself stays.
    if let (Some(last), Some(end)) = (places.last_mut(), end) {
        *last = end;
    }
}

impl Lane {
    /// The land between two of its places, and of what may be touched around its ends as much as counts.
    pub fn land(&self, from: usize, to: usize) -> Vec<(u32, f64)> {
        let mut sum = self.touched_around(from);
        sum.extend(self.touched_around(to));
        let parts = self.land.get(from..to).unwrap_or_default();
        parts.iter().for_each(|part| add(&mut sum, part));
        sum
    }

    /// What may be touched around a place.
    fn touched_around(&self, place: usize) -> Vec<(u32, f64)> {
        let rows = self.around.get(place).into_iter().flatten();
        rows.map(|row| (*row, JUST_TOUCHED_M2)).collect()
    }

    /// The numbers of the places at which the lane is cut, its ends among them. A lane shorter than the least length
    /// is one piece; of sets of cuts that cost the same, one with the fewest.
    pub fn cuts(&self, wanted: &Wanted, least_m: f64) -> Vec<usize> {
        let last = self.places_m.len().saturating_sub(1);
        let whole = wanted.cost_m2(&self.land(0, last));
        if last < 2 || whole == 0.0 {
            return if last == 0 { vec![0] } else { vec![0, last] };
        }
        let rows = self.land.iter().flatten().map(|(row, _)| *row);
        let rows = rows.chain(self.around.iter().flatten().copied());
        let rows = LaneRows::of(wanted, rows.collect());
        let around = |place| rows.numbered(&self.touched_around(place));
        let search = Search {
            places_m: &self.places_m,
            land: self.land.iter().map(|part| rows.numbered(part)).collect(),
            around: (0..=last).map(around).collect(),
            rows: &rows,
            least_m,
            slack: whole * WORTH,
        };
        // Short pieces alone cost little more than the best of all, and the best of all no more than these.
        let short = search.best(2.0 * least_m, f64::INFINITY);
        let short = short[last].map_or(whole, |(cost, _, _)| cost.min(whole));
        let best = search.best(f64::INFINITY, short + whole * SURE);
        let mut cuts = vec![last];
        let mut at = last;
        while at > 0 {
            at = best[at].map_or(0, |(_, _, from)| from);
            cuts.push(at);
        }
        cuts.reverse();
        cuts
    }
}

/// What the pieces of a lane up to a place cost, how many they are, and where the last of them begins.
type UpTo = Option<(f64, usize, usize)>;

/// The lane with its rows by their places among those in it.
struct Search<'a> {
    places_m: &'a [f64],
    land: Vec<Vec<(usize, f64)>>,
    around: Vec<Vec<(usize, f64)>>,
    rows: &'a LaneRows<'a>,
    least_m: f64,
    /// Costs that differ by less are the same, m2.
    slack: f64,
}

impl Search<'_> {
    /// Per place, what the lane from there on costs at least: no piece costs less than its parts do, each with the rate that suits
    /// it best.
    fn least_from(&self) -> Vec<f64> {
        let mut least = vec![0.0; self.land.len() + 1];
        let mut part = Growing::new(self.rows);
        for (nth, land) in self.land.iter().enumerate().rev() {
            part.clear();
            part.add(land);
            least[nth] = least[nth + 1] + part.cost_m2();
        }
        least
    }

    /// Per place, the best of all cuts up to there, with no piece longer than so much, and of such as cost no more than so much with
    /// the least that the rest of the lane costs. That never becomes less while a piece grows: so what costs more already is left.
    fn best(&self, longest_m: f64, most_m2: f64) -> Vec<UpTo> {
        let last = self.land.len();
        let rest = self.least_from();
        let mut best: Vec<UpTo> = vec![None; last + 1];
        let mut piece = Growing::new(self.rows);
        for from in 0..last {
            let (so_far, pieces) = match (from, best[from]) {
                (0, _) => (0.0, 0),
                (_, Some((cost, pieces, _))) => (cost, pieces),
                (_, None) => continue,
            };
            if so_far + rest[from] > most_m2 {
                continue;
            }
            piece.clear();
            piece.add(&self.around[from]);
            for (nth, part) in self.land.iter().enumerate().skip(from) {
                let to = nth + 1;
                piece.add(part);
                let length = self.places_m[to] - self.places_m[from];
                let is_whole = from == 0 && to == last;
                if length < self.least_m - SAME_M && !is_whole {
                    continue;
                }
                let mut cost = so_far + piece.cost_m2();
                if cost + rest[to] > most_m2 {
                    break;
                }
                if !self.around[to].is_empty() {
                    cost = so_far + piece.cost_with_m2(&self.around[to]);
                }
                let better = best[to].is_none_or(|(least, fewest, _)| {
                    cost < least - self.slack || (cost <= least + self.slack && pieces + 1 < fewest)
                });
                if better {
                    best[to] = Some((cost, pieces + 1, from));
                }
                if length > longest_m {
                    break;
                }
            }
        }
        best
    }
}

fn add(sum: &mut Vec<(u32, f64)>, part: &[(u32, f64)]) {
    for (row, m2) in part {
        match sum.iter_mut().find(|(known, _)| known == row) {
            Some((_, area)) => *area += m2,
            None => sum.push((*row, *m2)),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::super::super::test_numbers::random_numbers;
    use super::*;

    /// A lane 6 m wide with square borders: per stretch its end and its row.
    fn lane(places: &[f64], stretches: &[(f64, u32)]) -> Lane {
        let land = places.windows(2).map(|pair| {
            let mut from = 0.0f64;
            let mut land = Vec::new();
            for (to, row) in stretches {
                let shared = pair[1].min(*to) - pair[0].max(from);
                if shared > 0.0 {
                    add(&mut land, &[(*row, 6.0 * shared)]);
                }
                from = *to;
            }
            land
        });
        Lane {
            land: land.collect(),
            places_m: places.to_vec(),
            around: Vec::new(),
        }
    }

    fn wanted(rates: &[f64], most: &[f64]) -> Wanted {
        let column = |all: &[f64]| all.iter().map(|rate| vec![*rate]).collect::<Vec<_>>();
        Wanted::of(
            column(rates),
            column(most),
            &vec![1.0; rates.len()],
            &[true],
        )
    }

    fn cost(lane: &Lane, wanted: &Wanted, cuts: &[usize]) -> f64 {
        let pieces = cuts.windows(2);
        pieces
            .map(|pair| wanted.cost_m2(&lane.land(pair[0], pair[1])))
            .sum()
    }

    /// The least cost over every set of cuts, one by one.
    fn by_trying_all(lane: &Lane, wanted: &Wanted, least_m: f64) -> f64 {
        let inner = lane.places_m.len() - 2;
        let mut least = f64::INFINITY;
        for set in 0u32..1 << inner {
            let mut cuts = vec![0];
            cuts.extend(
                (0..inner)
                    .filter(|nth| set >> nth & 1 == 1)
                    .map(|nth| nth + 1),
            );
            cuts.push(inner + 1);
            let long =
                |pair: &[usize]| lane.places_m[pair[1]] - lane.places_m[pair[0]] >= least_m - 1e-6;
            if set == 0 || cuts.windows(2).all(long) {
                least = least.min(cost(lane, wanted, &cuts));
            }
        }
        least
    }

    /// Lanes with random stretches, limits and zeros among them.
    fn random_case(seed: u64) -> (Vec<(f64, u32)>, Wanted, f64) {
        let mut random = random_numbers(seed);
        let rows = 3 + (3.0 * random()) as u32;
        let rates: Vec<f64> = (0..rows)
            .map(|_| (100.0 + 20.0 * (6.0 * random()).floor()).floor())
            .collect();
        let mut rates = rates;
        if random() < 0.3 {
            rates[0] = 0.0;
        }
        let most = rates
            .iter()
            .map(|rate| match random() < 0.2 || *rate == 0.0 {
                true => *rate,
                false => f64::INFINITY,
            });
        let most: Vec<f64> = most.collect();
        let mut stretches = Vec::new();
        let mut at = 0.0;
        while at < 40.0 {
            at += 1.0 + (14.0 * random()).floor();
            stretches.push((at.min(40.0), (f64::from(rows) * random()) as u32));
        }
        (
            stretches,
            wanted(&rates, &most),
            4.0 + (8.0 * random()).floor(),
        )
    }

    #[test]
    fn the_cuts_are_the_best_of_all() {
        for seed in 0..60 {
            let (stretches, wanted, least_m) = random_case(seed);
            let changes: Vec<f64> = stretches.iter().map(|(to, _)| *to).collect();
            let mut at = places(40.0, &changes, least_m);
            // As many as can be tried one by one.
            while at.len() > 15 {
                at.remove(at.len() / 2);
            }
            let lane = lane(&at, &stretches);
            let cuts = lane.cuts(&wanted, least_m);
            let (got, expected) = (
                cost(&lane, &wanted, &cuts),
                by_trying_all(&lane, &wanted, least_m),
            );
            assert!((got - expected).abs() < 1e-9, "{seed}: {got} {expected}");
        }
    }

    /// The slow way: every piece between two places, its cost from nothing.
    fn by_all_pieces(lane: &Lane, wanted: &Wanted, least_m: f64) -> Vec<usize> {
        let last = lane.places_m.len() - 1;
        let slack = wanted.cost_m2(&lane.land(0, last)) * WORTH;
        let mut best: Vec<UpTo> = vec![None; last + 1];
        best[0] = Some((0.0, 0, 0));
        for from in 0..last {
            let Some((so_far, pieces, _)) = best[from] else {
                continue;
            };
            for (to, end_m) in lane.places_m.iter().enumerate().skip(from + 1) {
                let length = end_m - lane.places_m[from];
                if length < least_m - SAME_M && (from, to) != (0, last) {
                    continue;
                }
                let cost = so_far + wanted.cost_m2(&lane.land(from, to));
                let better = best[to].is_none_or(|(least, fewest, _)| {
                    cost < least - slack || (cost <= least + slack && pieces + 1 < fewest)
                });
                if better {
                    best[to] = Some((cost, pieces + 1, from));
                }
            }
        }
        let mut cuts = vec![last];
        while let Some(at) = cuts.last().copied().filter(|at| *at > 0) {
            cuts.push(best[at].map_or(0, |(_, _, from)| from));
        }
        cuts.reverse();
        cuts
    }

    #[test]
    fn what_is_left_out_of_the_search_is_no_best_cut() {
        let mut inner = 0;
        for seed in 0..300 {
            let (stretches, wanted, least_m) = random_case(seed);
            let changes: Vec<f64> = stretches.iter().map(|(to, _)| *to).collect();
            let mut lane = lane(&places(40.0, &changes, least_m), &stretches);
            if seed % 3 == 0 {
                let mut random = random_numbers(seed + 1_000);
                let rows = wanted.kg_per_ha.len() as f64;
                let mut some = |_: &f64| match random() < 0.2 {
                    true => vec![(rows * random()) as u32],
                    false => Vec::new(),
                };
                lane.around = lane.places_m.iter().map(&mut some).collect();
            }
            let cuts = lane.cuts(&wanted, least_m);
            assert_eq!(cuts, by_all_pieces(&lane, &wanted, least_m), "{seed}");
            inner += cuts.len() - 2;
        }
        assert!(inner > 300, "{inner}");
    }

    /// Square borders at whole metres: no cut at any half metre is better than those at the places of the lane.
    #[test]
    fn no_cut_between_the_places_is_better() {
        for seed in 0..200 {
            let (stretches, wanted, least_m) = random_case(seed);
            let changes: Vec<f64> = stretches.iter().map(|(to, _)| *to).collect();
            let own = lane(&places(40.0, &changes, least_m), &stretches);
            let fine: Vec<f64> = (0..=80).map(|nth| f64::from(nth) / 2.0).collect();
            let fine = lane(&fine, &stretches);
            let [got, expected] =
                [&own, &fine].map(|lane| cost(lane, &wanted, &lane.cuts(&wanted, least_m)));
            assert!(got <= expected + 1e-9, "{seed}: {got} {expected}");
            // Whole metres and whole least lengths: all of the lane's places are among the fine ones.
            assert!((got - expected).abs() < 1e-9, "{seed}: {got} {expected}");
        }
    }

    #[test]
    fn no_piece_is_shorter_than_it_may_be_and_nothing_is_cut_for_nothing() {
        for seed in 0..100 {
            let (stretches, wanted, least_m) = random_case(seed);
            let changes: Vec<f64> = stretches.iter().map(|(to, _)| *to).collect();
            let lane = lane(&places(40.0, &changes, least_m), &stretches);
            let cuts = lane.cuts(&wanted, least_m);
            for pair in cuts.windows(2).filter(|_| cuts.len() > 2) {
                assert!(lane.places_m[pair[1]] - lane.places_m[pair[0]] > least_m - 0.01);
            }
        }
        // All the same: one piece, although there are places.
        let same = lane(&[0.0, 10.0, 20.0, 30.0], &[(30.0, 0)]);
        assert_eq!(same.cuts(&wanted(&[120.0], &[f64::INFINITY]), 5.0), [0, 3]);
        // Shorter than the least length.
        let short = lane(&[0.0, 2.0, 4.0], &[(2.0, 0), (4.0, 1)]);
        assert_eq!(
            short.cuts(&wanted(&[120.0, 150.0], &[f64::INFINITY; 2]), 5.0),
            [0, 2]
        );
    }

    /// The worked example of docs/methods/cut-map.md.
    #[test]
    fn one_bout_by_hand() {
        // 100 m of a 6 m drill: 40 m at 150, 4 m at 200, 56 m at 200 of which the first 6 m are on a bank where it is 0.
        let rows = wanted(&[150.0, 200.0, 0.0], &[f64::INFINITY, f64::INFINITY, 0.0]);
        let stretches = [(40.0, 0), (44.0, 1), (50.0, 2), (100.0, 1)];
        let at = places(100.0, &[40.0, 44.0, 50.0], 10.0);
        let lane = lane(&at, &stretches);
        let cuts: Vec<f64> = lane.cuts(&rows, 10.0).iter().map(|nth| at[*nth]).collect();
        assert_eq!(cuts, [0.0, 40.0, 50.0, 100.0]);
        let at = |m: f64| at.iter().position(|place| *place == m).unwrap();
        let rate = |from: f64, to: f64| rows.rates(&lane.land(at(from), at(to)))[0].unwrap();
        assert_eq!(rate(0.0, 40.0).kg_per_ha, 150.0);
        // 4 m at 200 and 6 m at 0: the mean is 80, but nothing may lie on the bank.
        let bank = rate(40.0, 50.0);
        assert!((bank.mean_kg_per_ha - 80.0).abs() < 1e-9 && bank.kg_per_ha == 0.0 && bank.held);
        // What is lost: 4 m x 6 m x 200 kg/ha = 0.48 kg.
        assert_eq!(rate(50.0, 100.0).kg_per_ha, 200.0);
        // Along the border of 150 and 200 the nearest allowed rate to the mean counts, the lower of two.
        assert_eq!(
            rows.rates(&[(0, 100.0), (1, 100.0)])[0].unwrap().kg_per_ha,
            150.0
        );
        assert_eq!(
            rows.rates(&[(0, 90.0), (1, 110.0)])[0].unwrap().kg_per_ha,
            200.0
        );
    }
}
