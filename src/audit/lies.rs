//! Whether the land of each set of rates lies where the plan has it. Areas and extent may be right all the same: a map
//! that is upside down keeps both.

use super::bounds;
use super::rated_land::{RatedLand, with_rates};
use super::turned::metres;
use crate::read::Xy;

/// In one line, what was done to a map whose land lies elsewhere; nothing where all of it lies where it should.
pub(super) fn elsewhere(
    file: &[RatedLand],
    plan: &[RatedLand],
    [west, south, east, north]: [f64; 4],
    named: impl Fn(&[f64]) -> String,
) -> Option<String> {
    let [wide, high] = metres([east - west, north - south], south);
    let off = |turn: &dyn Fn(Xy) -> Xy| -> Vec<(&[f64], [f64; 2])> {
        let mut off = Vec::new();
        for own in plan {
            let found = with_rates(file, &own.rates).and_then(|found| found.outline.middle);
            let Some((found, at)) = found.zip(own.outline.middle.map(turn)) else {
                continue;
            };
            let by = metres([found[0] - at[0], found[1] - at[1]], at[1]);
            let (m2, border_m) = (own.outline.area_m2, own.outline.border_m);
            if by[0].hypot(by[1]) > bounds::middle_m(m2, border_m, wide.hypot(high)) {
                off.push((own.rates.as_slice(), by));
            }
        }
        off
    };
    let moved = off(&|at| at);
    let (rates, [by_east, by_north]) = moved.first()?;
    let turned: [(&dyn Fn(Xy) -> Xy, &str); 3] = [
        (
            &|[lon, lat]| [lon, south + north - lat],
            "the map is upside down: north and south are exchanged",
        ),
        (
            &|[lon, lat]| [west + east - lon, lat],
            "the map is mirrored: east and west are exchanged",
        ),
        (
            &|[lon, lat]| [west + east - lon, south + north - lat],
            "the map is turned by half a circle",
        ),
    ];
    let how = turned.iter().find(|(turn, _)| off(*turn).is_empty());
    Some(match how {
        Some((_, how)) => (*how).to_string(),
        None => format!(
            "the land of {} sets of rates does not lie where the plan has it; the first, {}, lies {by_east:+.1} m east and {by_north:+.1} m north of it",
            moved.len(),
            named(rates)
        ),
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::map::Outline;

    const EXTENT: [f64; 4] = [8.0, 50.0, 8.01, 50.01];

    fn land(rate: f64, area_m2: f64, middle: Xy) -> RatedLand {
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
            land(150.0, 40_000.0, [8.003, 50.003]),
            land(190.0, 10_000.0, [8.007, 50.004]),
        ]
    }

    fn told(change: impl Fn(Xy) -> Xy) -> Option<String> {
        let mut file = plan();
        for own in &mut file {
            own.outline.middle = own.outline.middle.map(&change);
        }
        elsewhere(&file, &plan(), EXTENT, |rates| {
            format!("{} kg/ha", rates[0])
        })
    }

    #[test]
    fn what_was_done_to_a_map_is_told() {
        assert_eq!(told(|at| at), None);
        let up = told(|[lon, lat]| [lon, 100.01 - lat]).unwrap();
        assert!(up.contains("north and south"), "{up}");
        let across = told(|[lon, lat]| [16.01 - lon, lat]).unwrap();
        assert!(across.contains("east and west"), "{across}");
        let around = told(|[lon, lat]| [16.01 - lon, 100.01 - lat]).unwrap();
        assert!(around.contains("half a circle"), "{around}");
        let moved = told(|[lon, lat]| [lon + 0.0005, lat]).unwrap();
        assert!(
            moved.contains("2 sets of rates") && moved.contains("150 kg/ha"),
            "{moved}"
        );
    }

    #[test]
    fn two_centimetres_are_told_and_a_tenth_of_a_millimetre_is_not() {
        let east = |m: f64| told(move |[lon, lat]| [lon + m / 71_500.0, lat]);
        assert!(east(0.02).is_some());
        assert_eq!(east(0.000_1), None);
    }
}
