//! Whether the land of each set of rates lies where the plan has it. Areas and extent may be right all the same: a map
//! that is upside down keeps both.

use super::turned::metres;
use crate::read::Xy;

/// The middle of the land of a set of rates: rates, m2, longitude and latitude.
pub(super) type Middle = (Vec<f64>, f64, Xy);

/// Middles are weighted in two ways, which agree to centimetres; less than this is not told, m.
const MOST_OFF_M: f64 = 1.0;

/// One middle for each set of rates.
pub(super) fn merged(parts: &[Middle]) -> Vec<Middle> {
    let mut merged: Vec<Middle> = Vec::new();
    for (rates, m2, at) in parts {
        match merged.iter_mut().find(|own| own.0 == *rates) {
            Some((_, sum, middle)) => {
                let share = m2 / (*sum + m2).max(f64::MIN_POSITIVE);
                *sum += m2;
                for (own, at) in middle.iter_mut().zip(at) {
                    *own += (at - *own) * share;
                }
            }
            None => merged.push((rates.clone(), *m2, *at)),
        }
    }
    merged
}

/// In one line, what was done to a map whose land lies elsewhere; nothing where all of it lies where it should.
pub(super) fn elsewhere(
    file: &[Middle],
    plan: &[Middle],
    [west, south, east, north]: [f64; 4],
    named: impl Fn(&[f64]) -> String,
) -> Option<String> {
    let (file, plan) = (merged(file), merged(plan));
    let off = |turn: &dyn Fn(Xy) -> Xy| -> Vec<(&[f64], [f64; 2])> {
        let mut off = Vec::new();
        for (rates, _, at) in &plan {
            let Some((_, _, found)) = file.iter().find(|own| own.0 == *rates) else {
                continue;
            };
            let at = turn(*at);
            let by = metres([found[0] - at[0], found[1] - at[1]], at[1]);
            if by[0].hypot(by[1]) > MOST_OFF_M {
                off.push((rates.as_slice(), by));
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

    const EXTENT: [f64; 4] = [8.0, 50.0, 8.01, 50.01];

    fn plan() -> Vec<Middle> {
        vec![
            (vec![150.0], 300.0, [8.002, 50.003]),
            (vec![190.0], 100.0, [8.007, 50.004]),
            (vec![150.0], 100.0, [8.006, 50.003]),
        ]
    }

    fn told(change: impl Fn(Xy) -> Xy) -> Option<String> {
        let file: Vec<Middle> = plan()
            .into_iter()
            .map(|(rates, m2, at)| (rates, m2, change(at)))
            .collect();
        elsewhere(&file, &plan(), EXTENT, |rates| {
            format!("{} kg/ha", rates[0])
        })
    }

    #[test]
    fn land_of_the_same_rates_has_one_middle() {
        let found = merged(&plan());
        assert_eq!(found.len(), 2);
        assert!((found[0].2[0] - 8.003).abs() < 1e-12);
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
}
