//! Faults of the map: products swapped, one rate everywhere, a map beside its place or turned over.

use super::samples::{SAME_KG_PER_HA, Sample, Samples, median};
use super::{Case, Told, Trouble};

/// Another map has been followed if it fits better on this share of the land where both differ.
const FITS: f64 = 0.8;
/// Of the land that was drilled, this much has to differ, m2: five bouts' width of 20 m at 6 m.
const LEAST_M2: f64 = 600.0;
/// One rate over so many zones and so long a way is none of the map.
const ZONES: usize = 3;
const WAY_M: f64 = 200.0;
/// A stretch of a zone that counts, m, and how far a rate may go to and fro and still be one: as a share of what was wanted.
const ZONE_WAY_M: f64 = 20.0;
const ONE_RATE: f64 = 0.25;
/// Another place is looked for if rates are wrong on this share of the land, and with so many samples at most.
const OFF: f64 = 0.02;
const MOST_SAMPLES: usize = 20_000;
/// How far aside the map is looked for, m, and in how many directions.
const ASIDE_M: [f64; 8] = [6.0, 10.0, 15.0, 20.0, 30.0, 40.0, 50.0, 60.0];
const DIRECTIONS: usize = 16;

/// `even`: a product differs by the same factor everywhere, so that another place says nothing.
pub(super) fn judge(case: &Case, samples: &Samples, even: bool) -> Vec<Told> {
    if let Some(told) = swapped(case, samples) {
        return vec![told];
    }
    let products = 0..case.plan.products.len();
    let one_rate: Vec<Told> = products
        .clone()
        .filter_map(|product| one_rate(case, samples, product))
        .collect();
    if !one_rate.is_empty() {
        return one_rate;
    }
    let by_hand = |own: &Sample| {
        own.sources
            .iter()
            .flatten()
            .any(|s| *s != crate::compare::entries::Source::Map)
    };
    let by_map: Vec<&Sample> = samples.all.iter().filter(|own| !by_hand(own)).collect();
    let off = |own: &&&Sample| {
        let mut rates = products.clone().filter_map(|product| own.rates(product));
        own.on_land && rates.any(|(wanted, sown)| (wanted - sown).abs() > SAME_KG_PER_HA)
    };
    let m2 =
        |list: &mut dyn Iterator<Item = &&Sample>| -> f64 { list.map(|own| own.area_m2()).sum() };
    let (off_m2, all_m2) = (m2(&mut by_map.iter().filter(off)), m2(&mut by_map.iter()));
    if even || off_m2 < OFF * all_m2 {
        return Vec::new();
    }
    // Enough of a long log to see it.
    let step = by_map.len() / MOST_SAMPLES + 1;
    let some: Vec<&Sample> = by_map.into_iter().step_by(step).collect();
    elsewhere(case, &some, step as f64).into_iter().collect()
}

/// How a rate lies between the wanted one and another.
fn nearer_other(sown: f64, wanted: f64, other: f64) -> bool {
    (sown - other).abs() < (sown - wanted).abs()
}

fn swapped(case: &Case, samples: &Samples) -> Option<Told> {
    let products = case.plan.products.len();
    for one in 0..products {
        for other in one + 1..products {
            let (mut differ_m2, mut fits_m2) = (0.0, 0.0);
            for own in samples.all.iter().filter(|own| own.on_land) {
                let (Some((a, sown_a)), Some((b, sown_b))) = (own.rates(one), own.rates(other))
                else {
                    continue;
                };
                if (a - b).abs() <= SAME_KG_PER_HA {
                    continue;
                }
                differ_m2 += own.area_m2();
                let both = nearer_other(sown_a, a, b) && nearer_other(sown_b, b, a);
                if both {
                    fits_m2 += own.area_m2();
                }
            }
            if differ_m2 >= LEAST_M2 && fits_m2 >= FITS * differ_m2 {
                return Some(
                    Told::of(
                        Trouble::ProductsSwapped,
                        format!(
                            "'{}' has the rates of '{}', and that has its: so on {:.0} % of the land where their rates differ.",
                            case.id(one),
                            case.id(other),
                            100.0 * fits_m2 / differ_m2
                        ),
                    )
                    .area(fits_m2),
                );
            }
        }
    }
    None
}

/// A stretch of one zone in one pass: what was wanted there, the middle of what was sown, and how long it is.
struct Stretch<'a> {
    first: &'a Sample,
    wanted: f64,
    sown: f64,
    metres: f64,
    m2: f64,
}

fn stretches(samples: &Samples, product: usize) -> Vec<Stretch<'_>> {
    let mut found: Vec<(Stretch, Vec<(f64, f64)>)> = Vec::new();
    for own in samples.all.iter().filter(|own| own.on_land) {
        let Some((wanted, sown)) = own.rates(product) else {
            continue;
        };
        if sown == 0.0 || wanted == 0.0 {
            continue;
        }
        let value = (sown, own.length_m);
        match found.last_mut() {
            Some((last, values)) if last.first.pass == own.pass && last.wanted == wanted => {
                last.metres += own.length_m;
                last.m2 += own.area_m2();
                values.push(value);
            }
            _ => {
                let stretch = Stretch {
                    first: own,
                    wanted,
                    sown: 0.0,
                    metres: own.length_m,
                    m2: own.area_m2(),
                };
                found.push((stretch, vec![value]));
            }
        }
    }
    let long = found
        .into_iter()
        .filter(|(own, _)| own.metres >= ZONE_WAY_M);
    long.map(|(own, mut values)| Stretch {
        sown: median(&mut values).unwrap_or(0.0),
        ..own
    })
    .collect()
}

/// The longest way with one rate, and how many stretches of zones with other rates lie on it.
fn one_rate(case: &Case, samples: &Samples, product: usize) -> Option<Told> {
    let stretches = stretches(samples, product);
    let mut best: Option<(f64, Told)> = None;
    let mut start = 0;
    while start < stretches.len() {
        let run = one_rate_from(stretches.get(start..).unwrap_or_default());
        let own = stretches.get(start..start + run.len()).unwrap_or_default();
        start += run.len();
        let metres: f64 = own.iter().map(|own| own.metres).sum();
        let Some(first) = own
            .first()
            .filter(|_| run.zones >= ZONES && metres >= WAY_M)
        else {
            continue;
        };
        if best.as_ref().is_some_and(|(known, _)| *known >= metres) {
            continue;
        }
        let found = format!(
            "'{}' was sown at one rate, {}, over {} and {} stretches of zones with other rates.",
            case.id(product),
            case.rate(first.sown),
            case.way(metres, 0),
            run.zones
        );
        let told = Told::of(Trouble::MapNotFollowed, found);
        let m2 = own.iter().map(|own| own.m2).sum();
        best = Some((
            metres,
            told.product(case, product)
                .at(case, first.first.at)
                .area(m2),
        ));
    }
    best.map(|(_, told)| told)
}

/// How many stretches from the first on have one rate, and how many of them other rates were wanted on than just before.
struct OneRate {
    stretches: usize,
    zones: usize,
}

impl OneRate {
    fn len(&self) -> usize {
        self.stretches.max(1)
    }
}

fn one_rate_from(stretches: &[Stretch]) -> OneRate {
    let mut run = OneRate {
        stretches: 0,
        zones: 0,
    };
    let (mut sown, mut wanted) = (Span::new(), Span::new());
    let mut before: Option<f64> = None;
    for own in stretches {
        let (next_sown, next_wanted) = (sown.with(own.sown), wanted.with(own.wanted));
        let differs = next_wanted.width() > SAME_KG_PER_HA;
        let most = match differs {
            true => ONE_RATE * next_wanted.width(),
            false => SAME_KG_PER_HA / 2.0,
        };
        if next_sown.width() > most {
            break;
        }
        (sown, wanted) = (next_sown, next_wanted);
        run.stretches += 1;
        let other = before.is_none_or(|before| (own.wanted - before).abs() > SAME_KG_PER_HA);
        run.zones += usize::from(other);
        before = Some(own.wanted);
    }
    match wanted.width() > SAME_KG_PER_HA {
        true => run,
        false => OneRate { zones: 0, ..run },
    }
}

/// From the lowest to the highest of some numbers.
#[derive(Clone, Copy)]
struct Span([f64; 2]);

impl Span {
    fn new() -> Self {
        Self([f64::INFINITY, f64::NEG_INFINITY])
    }

    fn with(self, value: f64) -> Self {
        Self([self.0[0].min(value), self.0[1].max(value)])
    }

    fn width(self) -> f64 {
        (self.0[1] - self.0[0]).max(0.0)
    }
}

/// Whether the plan's map, moved or turned over, fits better.
fn elsewhere(case: &Case, samples: &[&Sample], each: f64) -> Option<Told> {
    let ground = case.ground;
    let size = [
        ground.columns as f64 * ground.edge_m,
        ground.rows as f64 * ground.edge_m,
    ];
    let end = [ground.origin[0] + size[0], ground.origin[1] + size[1]];
    let mut best: Option<(f64, Told)> = None;
    let mut look = |trouble: Trouble, what: &str, from: &dyn Fn([f64; 2]) -> [f64; 2]| {
        let Some((fits, m2, off)) = fit(case, samples, each, from) else {
            return;
        };
        if best.as_ref().is_none_or(|(known, _)| off < *known) {
            let found = format!(
                "The rates are those of the map {what}: that fits better on {:.0} % of the land where both differ ({}).",
                100.0 * fits,
                case.land(m2)
            );
            best = Some((off, Told::of(trouble, found).area(m2)));
        }
    };
    let [west, south] = ground.origin;
    look(
        Trouble::MapMirrored,
        "turned over from north to south",
        &|at| [at[0], south + end[1] - at[1]],
    );
    look(
        Trouble::MapMirrored,
        "turned over from west to east",
        &|at| [west + end[0] - at[0], at[1]],
    );
    for metres in ASIDE_M {
        for direction in 0..DIRECTIONS {
            let degrees = direction as f64 * 360.0 / DIRECTIONS as f64;
            let (east, north) = degrees.to_radians().sin_cos();
            // What lies here was meant for a place so far back.
            let what = format!("moved by some {metres:.0} m towards {degrees:.0} degrees");
            look(Trouble::MapShifted, &what, &|at| {
                [at[0] - metres * east, at[1] - metres * north]
            });
        }
    }
    best.map(|(_, told)| told)
}

/// On which share of the land where they differ another map fits better, how much land that is, and how far its rates are off in all; `None` where it does not.
/// It has to fit for each direction of travel, or it is a lag; and where it differs from the plan its rate has to have been sown.
fn fit(
    case: &Case,
    samples: &[&Sample],
    each: f64,
    from: &dyn Fn([f64; 2]) -> [f64; 2],
) -> Option<(f64, f64, f64)> {
    let heading = samples.first()?.heading;
    // To and fro: land that differs, and of it land that fits.
    let mut land = [[0.0; 2]; 2];
    let mut off = 0.0;
    for own in samples.iter().filter(|own| own.on_land) {
        let Some(other) = case.ground.zone_at(from(own.at)) else {
            continue;
        };
        let Some(other) = case.plan.zones.get(other) else {
            continue;
        };
        let (mut differs, mut fits) = (false, true);
        for (product, other) in other.kg_per_ha.iter().enumerate() {
            let Some((wanted, sown)) = own.rates(product) else {
                continue;
            };
            off += (sown - other).abs() * own.area_m2();
            if (wanted - other).abs() > SAME_KG_PER_HA {
                differs = true;
                fits &= nearer_other(sown, wanted, *other);
            }
        }
        let forth = own.heading[0] * heading[0] + own.heading[1] * heading[1] > 0.0;
        if differs && let Some([all, good]) = land.get_mut(usize::from(forth)) {
            *all += own.area_m2() * each;
            *good += if fits { own.area_m2() * each } else { 0.0 };
        }
    }
    let all: f64 = land.iter().map(|own| own[0]).sum();
    let good: f64 = land.iter().map(|own| own[1]).sum();
    let both_ways = land
        .iter()
        .all(|[all, good]| *good >= FITS * all && *all >= LEAST_M2 / 4.0);
    (all >= LEAST_M2 && both_ways).then_some((good / all, all, off))
}
