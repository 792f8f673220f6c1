//! The order of the fields: the best for few, a good one for many.

use super::course::{Course, Sums};
use super::{Field, List, Rules};

/// So many fields are tried in every order.
pub const EXACT_UP_TO: usize = 9;
/// With more fields than this a field is moved only by so many places at a time.
const ANYWHERE_UP_TO: usize = 60;
const PLACES: usize = 12;

type Rank = (i64, usize, i64);

/// The list of one drill. Up to [`EXACT_UP_TO`] fields: of all orders the one that costs least; of equals that with fewer fills, then the
/// shorter way, then the first by the numbers of the fields. For more: the best of three orders (by date, by the nearest next field, by
/// product and date), each made better by moving single fields and turning stretches round until nothing helps.
pub fn list(fields: &[Field], rules: &Rules) -> List {
    let course = Course::of(fields, rules);
    let is_best = fields.len() <= EXACT_UP_TO;
    let order = match is_best {
        true => best(&course),
        false => good(&course),
    };
    let mut visits = Vec::new();
    let (sums, left) = course.drive(&order, Some(&mut visits));
    let Sums {
        road_h,
        home_km,
        clean_out_h,
        fill_h,
        late_ha_days,
        cost_h,
        ..
    } = sums;
    List {
        visits,
        is_best,
        home_km,
        road_h,
        clean_out_h,
        fill_h,
        late_ha_days,
        cost_h,
        left,
    }
}

fn rank(course: &Course, order: &[usize]) -> Rank {
    course.drive(order, None).0.rank()
}

/// Every order, in the order of the numbers.
pub(super) fn best(course: &Course) -> Vec<usize> {
    let mut order: Vec<usize> = (0..course.fields.len()).collect();
    let mut best = (rank(course, &order), order.clone());
    while next(&mut order) {
        let own = rank(course, &order);
        if own < best.0 {
            best = (own, order.clone());
        }
    }
    best.1
}

/// The next order by the numbers; `false` after the last.
fn next(order: &mut [usize]) -> bool {
    let Some(at) = order.windows(2).rposition(|pair| pair[0] < pair[1]) else {
        return false;
    };
    let larger = order.iter().rposition(|number| *number > order[at]);
    order.swap(at, larger.unwrap_or(at));
    order[at + 1..].reverse();
    true
}

/// The best of three starts, each made better.
pub(super) fn good(course: &Course) -> Vec<usize> {
    let fields = course.fields;
    let date = |number: &usize| fields.get(*number).and_then(|field| field.ripe_on);
    let products = |number: &usize| -> Vec<(usize, usize)> {
        let loads = fields.get(*number).map(|field| &field.loads);
        let loads = loads.into_iter().flatten();
        loads.map(|load| (load.hopper, load.article)).collect()
    };
    let numbers: Vec<usize> = (0..fields.len()).collect();
    let mut by_date = numbers.clone();
    by_date.sort_by_key(date);
    let mut by_product = by_date.clone();
    let first_date = |number: &usize| {
        let same = numbers
            .iter()
            .filter(|own| products(own) == products(number));
        same.map(date).min()
    };
    by_product.sort_by_cached_key(|number| (first_date(number), products(number)));
    let starts = [by_date, nearest(course), by_product];
    let better = starts.map(|order| better(course, order));
    let ranked = better
        .into_iter()
        .map(|order| (rank(course, &order), order));
    ranked.min().map(|(_, order)| order).unwrap_or_default()
}

/// Always the nearest field that is left, from the yard on.
fn nearest(course: &Course) -> Vec<usize> {
    let mut left: Vec<usize> = (0..course.fields.len()).collect();
    let (mut order, mut before) = (Vec::new(), None);
    while !left.is_empty() {
        let way = |number: &usize| course.way_km(before, Some(*number));
        let ways = left.iter().enumerate();
        let at = ways.min_by(|a, b| way(a.1).total_cmp(&way(b.1)));
        let number = left.remove(at.map_or(0, |(at, _)| at));
        order.push(number);
        before = Some(number);
    }
    order
}

/// Moves fields and turns stretches round as long as the order gets better.
fn better(course: &Course, mut order: Vec<usize>) -> Vec<usize> {
    let count = order.len();
    let reach = match count <= ANYWHERE_UP_TO {
        true => count,
        false => PLACES,
    };
    let mut known = rank(course, &order);
    loop {
        let before = known;
        for from in 0..count {
            for to in from.saturating_sub(reach)..(from + reach + 1).min(count) {
                for turned in [false, true] {
                    let mut other = order.clone();
                    match turned {
                        true => other[from.min(to)..=from.max(to)].reverse(),
                        false => {
                            let moved = other.remove(from);
                            other.insert(to, moved);
                        }
                    }
                    let own = rank(course, &other);
                    if own < known {
                        (known, order) = (own, other);
                    }
                }
            }
        }
        if known == before {
            return order;
        }
    }
}
