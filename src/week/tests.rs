//! Lists worked by hand, and the search for many fields against every order.

use super::course::Course;
use super::order::{best, good};
use super::*;

/// One kilometre of latitude on the sphere, degrees.
const KM: f64 = 1.0 / 111.195_079_734;

fn rules() -> Rules {
    Rules {
        from: 100,
        hours_a_day: 10.0,
        yard: LonLat::new(0.0, 0.0),
        road_km_per_h: 20.0,
        way_per_line: 1.0,
        fill_h: 0.0,
        clean_out_h: 1.0,
        late_h_per_ha_day: 0.1,
    }
}

/// A field so many km north of the yard, with barley (0) or wheat (1) in the one hopper: it holds 1000 kg, of which 100 stay.
fn field(km: f64, hours: f64, ripe_on: i64, article: usize, kg: f64) -> Field {
    Field {
        place: LonLat::new(0.0, km * KM),
        hours,
        hectares: 10.0,
        ripe_on: Some(ripe_on),
        loads: vec![Load {
            hopper: 0,
            article,
            kg,
            full_kg: Some(1000.0),
            stays_kg: 100.0,
        }],
    }
}

fn close(found: f64, wanted: f64) {
    assert!((found - wanted).abs() < 1e-6, "{found}, not {wanted}");
}

/// The worked example of docs/methods/week.md.
#[test]
fn the_example_of_the_page() {
    let fields = [
        field(4.0, 4.0, 100, 0, 1200.0),
        field(2.0, 3.0, 100, 1, 600.0),
        field(6.0, 5.0, 101, 0, 1500.0),
    ];
    let list = list(&fields, &rules());
    let order: Vec<usize> = list.visits.iter().map(|own| own.field).collect();
    assert_eq!(order, [1, 0, 2]);
    assert!(list.is_best);
    let [wheat, first, second] = list.visits.as_slice() else {
        panic!("{list:?}");
    };
    close(wheat.road_km, 2.0);
    close(wheat.begins_h, 0.1);
    close(wheat.ends_h, 3.1);
    assert_eq!(wheat.fills.len(), 1);
    close(wheat.fills[0].kg[0].1, 700.0);
    // 2 km, an hour to clean out, in which 100 kg of wheat are left.
    close(first.emptied[0].kg, 100.0);
    close(first.begins_h, 4.2);
    close(first.ends_h, 8.2);
    let kg: Vec<f64> = first.fills.iter().map(|fill| fill.kg[0].1).collect();
    close(kg[0], 1000.0);
    // 900 kg are sown at three quarters of the field; then it is filled up again for what the next field takes as well.
    close(kg[1], 900.0);
    close(first.fills[1].at_h, 4.2 + 4.0 * 0.75);
    // 600 kg are left in use for the next: 1500 kg need one fill more, 900 kg.
    close(second.begins_h, 10.0);
    close(second.ends_h, 15.0);
    assert_eq!(second.fills.len(), 1);
    close(second.fills[0].kg[0].1, 900.0);
    close(second.fills[0].at_h, 10.0 + 5.0 * 600.0 / 1500.0);
    close(list.left[0].kg, 100.0);
    close(list.road_h, (2.0 + 2.0 + 2.0 + 6.0) / 20.0);
    close(list.clean_out_h, 1.0);
    close(list.late_ha_days, 0.0);
    close(list.cost_h, 1.6);
}

#[test]
fn what_is_ripe_first_goes_first_and_nothing_before_its_day() {
    let fields = [
        field(1.0, 5.0, 103, 0, 100.0),
        field(9.0, 5.0, 101, 0, 100.0),
    ];
    let list = list(&fields, &rules());
    let order: Vec<usize> = list.visits.iter().map(|own| own.field).collect();
    assert_eq!(order, [1, 0]);
    close(list.visits[0].begins_h, 10.0);
    close(list.visits[1].begins_h, 30.0);
}

#[test]
fn a_field_done_after_its_day_is_late_by_whole_days() {
    let fields = [
        field(1.0, 25.0, 100, 0, 100.0),
        field(1.0, 4.0, 98, 0, 100.0),
    ];
    let mut visits = Vec::new();
    let (sums, _) = Course::of(&fields, &rules()).drive(&[0, 1], Some(&mut visits));
    // 25 h end on the third day, two days late; the second ends on that day too, four days after its own.
    assert_eq!([visits[0].late_days, visits[1].late_days], [2, 4]);
    close(sums.late_ha_days, 60.0);
}

/// A hopper that holds no more than what has to stay, one without a density, and a field without hours do not stop the list.
#[test]
fn what_cannot_be_counted_is_left_uncounted() {
    let mut narrow = field(1.0, 2.0, 100, 0, 500.0);
    narrow.loads[0].stays_kg = 1000.0;
    let mut unknown = field(2.0, 0.0, 100, 0, 500.0);
    unknown.loads[0].full_kg = None;
    let list = list(&[narrow, unknown], &rules());
    assert_eq!(list.visits.len(), 2);
    assert!(list.visits.iter().map(|own| own.fills.len()).sum::<usize>() <= 1);
    assert!(list.visits.iter().all(|own| own.ends_h.is_finite()));
}

#[test]
fn no_field_is_an_empty_list() {
    assert!(list(&[], &rules()).visits.is_empty());
}

/// A simple stream of numbers from 0 to 1, from a seed.
struct Numbers(u64);

impl Numbers {
    fn next(&mut self) -> f64 {
        self.0 = self
            .0
            .wrapping_mul(6_364_136_223_846_793_005)
            .wrapping_add(1_442_695_040_888_963_407);
        (self.0 >> 11) as f64 / (1_u64 << 53) as f64
    }
}

fn invented(seed: u64, count: usize) -> Vec<Field> {
    let mut numbers = Numbers(seed.wrapping_mul(977).wrapping_add(13));
    let one = |_| {
        let mut own = field(
            12.0 * numbers.next(),
            1.0 + 6.0 * numbers.next(),
            100 + (numbers.next() * 4.0) as i64,
            (numbers.next() * 2.0) as usize,
            200.0 + 2000.0 * numbers.next(),
        );
        own.place.lon = 12.0 * KM * numbers.next();
        own
    };
    (0..count).map(one).collect()
}

/// The search for many fields, held against every order of six: how often it is the best, and how far off at most.
#[test]
fn the_search_for_many_fields_is_near_the_best_of_few() {
    let (mut same, mut worst) = (0, 1.0_f64);
    for seed in 0..60 {
        let (fields, rules) = (invented(seed, 6), rules());
        let course = Course::of(&fields, &rules);
        let [of_best, of_good] = [best(&course), good(&course)].map(|order| {
            let mut sorted = order.clone();
            sorted.sort_unstable();
            assert_eq!(sorted, [0, 1, 2, 3, 4, 5]);
            course.drive(&order, None).0
        });
        assert!(of_best.rank() <= of_good.rank(), "{seed}");
        same += usize::from(of_best.rank() == of_good.rank());
        worst = worst.max(of_good.cost_h / of_best.cost_h);
    }
    assert!(same >= 54, "the best in {same} of 60");
    assert!(worst < 1.05, "{worst}");
}

/// What comes out of the hoppers is what the fields take, whatever the order: filled less left is sown.
#[test]
fn kilograms_add_up() {
    for seed in 0..40 {
        let (fields, rules) = (invented(seed, 7), rules());
        let list = list(&fields, &rules);
        let filled: f64 = list
            .visits
            .iter()
            .flat_map(|own| &own.fills)
            .flat_map(|fill| fill.kg.iter().map(|(_, kg)| *kg))
            .sum();
        let emptied = list.visits.iter().flat_map(|own| &own.emptied);
        let left: f64 = emptied.chain(&list.left).map(|own| own.kg).sum();
        let sown: f64 = fields.iter().map(|own| own.loads[0].kg).sum();
        assert!(
            (filled - left - sown).abs() < 1e-6,
            "{seed}: {filled} {left} {sown}"
        );
        let changes = list.visits.iter().filter(|own| !own.emptied.is_empty());
        close(list.clean_out_h, changes.count() as f64);
    }
}

#[test]
fn many_fields_give_the_same_list_again_in_little_time() {
    let (fields, rules) = (invented(5, 30), rules());
    let once = list(&fields, &rules);
    assert!(!once.is_best);
    assert_eq!(once, list(&fields, &rules));
}
