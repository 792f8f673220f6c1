//! One order driven: times, ways, fills and clean-outs.

use super::{Field, Load, Rules};
use crate::coordinates::LonLat;
use serde::Serialize;

/// A field in its turn.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Visit {
    /// Number of the field as it was given, from 0.
    pub field: usize,
    /// Way to it on the road, km.
    pub road_km: f64,
    /// When the drill begins to sow, hours of work since the first day began.
    pub begins_h: f64,
    /// When it is done.
    pub ends_h: f64,
    /// Days from its own day to the day on which it is done; 0 where it is done in time.
    pub late_days: i64,
    /// What is emptied before it, because something else goes into the hopper.
    pub emptied: Vec<Emptied>,
    /// The fills, the one before it begins among them.
    pub fills: Vec<Filled>,
}

/// A hopper that is cleaned out, or what is in it at the end.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Emptied {
    /// Number of the hopper.
    pub hopper: usize,
    /// What was in it.
    pub article: usize,
    /// What is left of it, kg.
    pub kg: f64,
}

/// A stop at which hoppers are filled.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Filled {
    /// When, hours of work since the first day began.
    pub at_h: f64,
    /// Hopper and kg, for each that takes some.
    pub kg: Vec<(usize, f64)>,
}

/// What is less counts as nothing, kg: sums of many fills.
const NOTHING_KG: f64 = 1e-6;
/// A field that takes more fills has a hopper that holds next to nothing.
const MOST_FILLS: usize = 1000;
/// A day that is over by less counts as that day, h.
const NO_TIME_H: f64 = 1e-9;

/// Sums of an order.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub(super) struct Sums {
    pub road_h: f64,
    pub road_km: f64,
    pub home_km: f64,
    pub clean_out_h: f64,
    pub fill_h: f64,
    pub fills: usize,
    pub late_ha_days: f64,
    pub cost_h: f64,
}

impl Sums {
    /// What orders are compared by: cost to the second, then fills, then metres on the road.
    pub fn rank(&self) -> (i64, usize, i64) {
        let whole = |value: f64| value.round() as i64;
        (
            whole(self.cost_h * 3600.0),
            self.fills,
            whole(self.road_km * 1000.0),
        )
    }
}

/// Fields and ways between them, worked out once.
pub(super) struct Course<'a> {
    pub fields: &'a [Field],
    pub rules: &'a Rules,
    /// Way on the road between two fields, km; the yard is the last.
    ways_km: Vec<Vec<f64>>,
    hoppers: usize,
}

/// Mean radius of the earth, km: IUGG 1980.
const EARTH_KM: f64 = 6371.0088;

/// Straight line between two places on a sphere, km: within 0.6 % of the ellipsoid (haversine formula).
fn line_km(a: LonLat, b: LonLat) -> f64 {
    let [lat_a, lat_b] = [a.lat, b.lat].map(f64::to_radians);
    let half = |from: f64, to: f64| ((to - from) / 2.0).sin().powi(2);
    let east = half(a.lon.to_radians(), b.lon.to_radians());
    let h = half(lat_a, lat_b) + lat_a.cos() * lat_b.cos() * east;
    2.0 * EARTH_KM * h.clamp(0.0, 1.0).sqrt().asin()
}

/// What is in a hopper.
#[derive(Clone, Copy)]
struct Inside {
    article: usize,
    kg: f64,
}

impl<'a> Course<'a> {
    pub fn of(fields: &'a [Field], rules: &'a Rules) -> Self {
        let places = fields.iter().map(|field| field.place);
        let places: Vec<LonLat> = places.chain([rules.yard]).collect();
        let from = |a: &LonLat| {
            let all = places.iter().map(|b| line_km(*a, *b) * rules.way_per_line);
            all.collect()
        };
        let loads = fields.iter().flat_map(|field| &field.loads);
        Self {
            fields,
            rules,
            ways_km: places.iter().map(from).collect(),
            hoppers: loads.map(|load| load.hopper + 1).max().unwrap_or(0),
        }
    }

    pub fn way_km(&self, from: Option<usize>, to: Option<usize>) -> f64 {
        let yard = self.fields.len();
        let row = self.ways_km.get(from.unwrap_or(yard));
        let way = row.and_then(|row| row.get(to.unwrap_or(yard)));
        way.copied().unwrap_or(0.0)
    }

    /// The sums of an order, and each visit of it where `see` wants them.
    pub fn drive(&self, order: &[usize], see: Option<&mut Vec<Visit>>) -> (Sums, Vec<Emptied>) {
        let rules = self.rules;
        let mut see = see;
        let mut sums = Sums::default();
        let mut inside: Vec<Option<Inside>> = vec![None; self.hoppers];
        let (mut at_h, mut before) = (0.0_f64, None);
        for (turn, &number) in order.iter().enumerate() {
            let Some(field) = self.fields.get(number) else {
                continue;
            };
            let road_km = self.way_km(before, Some(number));
            at_h += road_km / rules.road_km_per_h;
            sums.road_km += road_km;
            let emptied = emptied(field, &mut inside);
            if !emptied.is_empty() {
                at_h += rules.clean_out_h;
                sums.clean_out_h += rules.clean_out_h;
            }
            // Not before its day: the drill waits at the field.
            let ripe = field.ripe_on.map(|day| day - rules.from);
            at_h = at_h.max(ripe.unwrap_or(0).max(0) as f64 * rules.hours_a_day);
            let begins_h = at_h;
            let later = order.get(turn + 1..).unwrap_or_default();
            let mut fills = see.is_some().then(Vec::new);
            let (count, ends_h) = self.sow(field, later, at_h, &mut inside, fills.as_mut());
            sums.fills += count;
            sums.fill_h += count as f64 * rules.fill_h;
            at_h = ends_h;
            let day = ((at_h - NO_TIME_H).max(0.0) / rules.hours_a_day).floor() as i64;
            let late_days = ripe.map_or(0, |ripe| (day - ripe).max(0));
            sums.late_ha_days += late_days as f64 * field.hectares;
            before = Some(number);
            if let Some(visits) = see.as_deref_mut() {
                visits.push(Visit {
                    field: number,
                    road_km,
                    begins_h,
                    ends_h,
                    late_days,
                    emptied,
                    fills: fills.unwrap_or_default(),
                });
            }
        }
        sums.home_km = self.way_km(before, None);
        sums.road_km += sums.home_km;
        sums.road_h = sums.road_km / rules.road_km_per_h;
        let late_h = sums.late_ha_days * rules.late_h_per_ha_day;
        sums.cost_h = sums.road_h + sums.clean_out_h + sums.fill_h + late_h;
        let left = inside.iter().enumerate().filter_map(|(hopper, own)| {
            own.map(|Inside { article, kg }| Emptied {
                hopper,
                article,
                kg,
            })
        });
        (sums, left.collect())
    }

    /// Sows a field: how many fills that takes, each of them where `see` wants them, and when it is done. All hoppers run down together, each by its share of the field; one that
    /// reaches what has to stay stops the drill, and all are topped up: full, but never more than this field and those after it take
    /// until something else goes into the hopper.
    fn sow(
        &self,
        field: &Field,
        later: &[usize],
        begins_h: f64,
        inside: &mut [Option<Inside>],
        mut see: Option<&mut Vec<Filled>>,
    ) -> (usize, f64) {
        let known = || field.loads.iter().filter(|load| load.full_kg.is_some());
        let mut fills = 0;
        let (mut done, mut at_h) = (0.0_f64, begins_h);
        loop {
            // How far what is in the hoppers lasts, as a share of the field.
            let lasts = known().filter(|load| load.kg > NOTHING_KG).map(|load| {
                let kg = inside.get(load.hopper).copied().flatten();
                let usable = kg.map_or(0.0, |own| own.kg) - load.stays_kg;
                usable.max(0.0) / load.kg
            });
            let lasts = lasts.fold(f64::INFINITY, f64::min);
            let sown = lasts.min(1.0 - done);
            for load in known() {
                if let Some(Some(own)) = inside.get_mut(load.hopper) {
                    own.kg -= load.kg * sown;
                }
            }
            done += sown;
            at_h += field.hours * sown;
            if done >= 1.0 - 1e-12 {
                return (fills, at_h);
            }
            let (mut kg, mut filled) = (Vec::new(), false);
            for load in known() {
                let missing = self.room_kg(load, 1.0 - done, later, inside);
                if missing > NOTHING_KG
                    && let Some(place) = inside.get_mut(load.hopper)
                {
                    let own = place.get_or_insert(Inside {
                        article: load.article,
                        kg: 0.0,
                    });
                    own.kg += missing;
                    filled = true;
                    if see.is_some() {
                        kg.push((load.hopper, missing));
                    }
                }
            }
            if !filled || fills >= MOST_FILLS {
                // What has to stay is as much as the hopper holds, or nearly. The rest is sown without a count.
                return (fills, at_h + field.hours * (1.0 - done));
            }
            fills += 1;
            if let Some(see) = see.as_deref_mut() {
                see.push(Filled { at_h, kg });
            }
            at_h += self.rules.fill_h;
        }
    }

    /// What goes into a hopper now, kg.
    fn room_kg(&self, load: &Load, rest: f64, later: &[usize], inside: &[Option<Inside>]) -> f64 {
        let has = inside.get(load.hopper).copied().flatten();
        let has = has.map_or(0.0, |own| own.kg);
        let fits = load.full_kg.unwrap_or(0.0) - has;
        let mut needed = load.kg * rest + load.stays_kg - has;
        for number in later {
            if needed >= fits {
                break;
            }
            let loads = self.fields.get(*number).map(|field| &field.loads);
            let next = loads.and_then(|own| own.iter().find(|own| own.hopper == load.hopper));
            match next {
                Some(next) if next.article == load.article => needed += next.kg,
                Some(_) => break,
                // A field that takes nothing from this hopper leaves it as it is.
                None => {}
            }
        }
        needed.min(fits).max(0.0)
    }
}

/// Empties the hoppers in which something else is than the field takes.
fn emptied(field: &Field, inside: &mut [Option<Inside>]) -> Vec<Emptied> {
    let mut emptied = Vec::new();
    for load in &field.loads {
        let Some(place) = inside.get_mut(load.hopper) else {
            continue;
        };
        if let Some(own) = place.filter(|own| own.article != load.article) {
            emptied.push(Emptied {
                hopper: load.hopper,
                article: own.article,
                kg: own.kg,
            });
            *place = None;
        }
        // What was in it counts from now on, also where no fills are counted.
        place.get_or_insert(Inside {
            article: load.article,
            kg: 0.0,
        });
    }
    emptied
}

#[cfg(test)]
mod tests {
    use super::*;
    use geographiclib_rs::{Geodesic, InverseGeodesic};

    /// Oracle: GeographicLib's algorithm (C. F. F. Karney, J. Geodesy 87, 2013).
    #[test]
    fn a_line_is_as_long_as_on_the_ellipsoid_within_six_thousandths() {
        for (a, b) in [
            ([8.0, 50.0], [8.1, 50.05]),
            ([-95.0, 38.0], [-95.0, 38.4]),
            ([151.0, -33.0], [150.7, -33.1]),
            ([179.95, 10.0], [-179.95, 10.02]),
        ] {
            let metres: f64 = Geodesic::wgs84().inverse(a[1], a[0], b[1], b[0]);
            let found = line_km(LonLat::new(a[0], a[1]), LonLat::new(b[0], b[1]));
            assert!(
                (found / (metres / 1000.0) - 1.0).abs() < 0.006,
                "{found} {metres}"
            );
        }
    }
}
