//! Whether the land of each set of rates lies where the plan has it. Areas and extent may be right all the same: a map
//! that is upside down keeps both.

use super::bounds;
use super::orientation::metres;
use super::outline::Outline;
use super::rated_land::{RatedLand, with_rates};
use crate::coordinates::LonLat;
use crate::units::UnitSystem;

/// A map that was turned is told as such where its land lies within this of where turning would bring it, metres:
/// areas change a little with the latitude, and middles with them.
const TURNED_M: f64 = 1.0;

/// In one line, what was done to a map whose land lies elsewhere; nothing where all of it lies where it should.
pub(super) fn elsewhere(
    file: &[RatedLand],
    plan: &[RatedLand],
    extent: [f64; 4],
    named: impl Fn(&[f64]) -> String,
    units: UnitSystem,
) -> Option<String> {
    let [west, south, east, north] = extent;
    let [wide, high] = metres([east - west, north - south], south);
    let across = wide.hypot(high);
    let most = |own: &Outline| bounds::middle_m(own.area_m2, own.border_m, across);
    let moved = off(file, plan, &|at| at, &most);
    let (rates, [by_east, by_north]) = moved.first()?;
    Some(exchanged(file, plan, extent).map_or_else(
        || {
            format!(
                "the land of {} sets of rates does not lie where the plan has it; the first, {}, lies {} east and {} north of it",
                moved.len(),
                named(rates),
                units.more_length(*by_east, 2),
                units.more_length(*by_north, 2)
            )
        },
        str::to_string,
    ))
}

/// Which sides of a map were exchanged, if that and nothing else was done to it.
pub(super) fn exchanged(
    file: &[RatedLand],
    plan: &[RatedLand],
    [west, south, east, north]: [f64; 4],
) -> Option<&'static str> {
    let within = |turn: &dyn Fn(LonLat) -> LonLat| off(file, plan, turn, &|_| TURNED_M).is_empty();
    if within(&|at| at) {
        return None;
    }
    let turned: [(&dyn Fn(LonLat) -> LonLat, &str); 3] = [
        (
            &|at| LonLat::new(at.lon, south + north - at.lat),
            "the map is upside down: north and south are exchanged",
        ),
        (
            &|at| LonLat::new(west + east - at.lon, at.lat),
            "the map is mirrored: east and west are exchanged",
        ),
        (
            &|at| LonLat::new(west + east - at.lon, south + north - at.lat),
            "the map is turned by half a circle",
        ),
    ];
    let how = turned.into_iter().find(|(turn, _)| within(*turn));
    how.map(|(_, how)| how)
}

/// The rates whose land lies farther than it may from where the plan, turned, has it, and by how much east and north.
fn off<'a>(
    file: &[RatedLand],
    plan: &'a [RatedLand],
    turn: &dyn Fn(LonLat) -> LonLat,
    most_m: &dyn Fn(&Outline) -> f64,
) -> Vec<(&'a [f64], [f64; 2])> {
    let away = |own: &'a RatedLand| {
        let found = with_rates(file, &own.rates)?.outline.middle?;
        let at = turn(own.outline.middle?);
        let by = metres([found.lon - at.lon, found.lat - at.lat], at.lat);
        (by[0].hypot(by[1]) > most_m(&own.outline)).then_some((own.rates.as_slice(), by))
    };
    plan.iter().filter_map(away).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    const EXTENT: [f64; 4] = [8.0, 50.0, 8.01, 50.01];

    fn land(rate: f64, area_m2: f64, middle: LonLat) -> RatedLand {
        let outline = Outline {
            area_m2,
            middle: Some(middle),
            border_m: 4.0 * area_m2.sqrt(),
            ..Outline::default()
        };
        RatedLand {
            rates: vec![rate],
            outline,
        }
    }

    fn plan() -> Vec<RatedLand> {
        vec![
            land(150.0, 40_000.0, LonLat::new(8.003, 50.003)),
            land(190.0, 10_000.0, LonLat::new(8.007, 50.004)),
        ]
    }

    fn told(change: impl Fn(LonLat) -> LonLat) -> Option<String> {
        let mut file = plan();
        for own in &mut file {
            own.outline.middle = own.outline.middle.map(&change);
        }
        let named = |rates: &[f64]| format!("{} kg/ha", rates[0]);
        elsewhere(&file, &plan(), EXTENT, named, UnitSystem::Metric)
    }

    #[test]
    fn what_was_done_to_a_map_is_told() {
        assert_eq!(told(|at| at), None);
        let up = told(|at| LonLat::new(at.lon, 100.01 - at.lat)).unwrap();
        assert!(up.contains("north and south"), "{up}");
        let across = told(|at| LonLat::new(16.01 - at.lon, at.lat)).unwrap();
        assert!(across.contains("east and west"), "{across}");
        let around = told(|at| LonLat::new(16.01 - at.lon, 100.01 - at.lat)).unwrap();
        assert!(around.contains("half a circle"), "{around}");
        let moved = told(|at| LonLat::new(at.lon + 0.0005, at.lat)).unwrap();
        assert!(
            moved.contains("2 sets of rates") && moved.contains("150 kg/ha"),
            "{moved}"
        );
    }

    #[test]
    fn two_centimetres_are_told_and_a_tenth_of_a_millimetre_is_not() {
        let east = |m: f64| told(move |at| LonLat::new(at.lon + m / 71_500.0, at.lat));
        assert!(east(0.02).is_some());
        assert_eq!(east(0.000_1), None);
    }
}
