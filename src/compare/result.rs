//! The figures of a comparison.

use super::channels::Channels;
use super::entries::Source;
use super::land::{Ground, OUTSIDE};
use super::track::Track;
use super::verdict::{NOT_IN_ANY_LOG, Told, Work};
use super::{PlanMap, Settings};
use crate::findings::Finding;
use crate::job::date_of;
use crate::read::taskdata::Task;
use crate::units::{M2_PER_HA, UnitSystem};
use serde::Serialize;

/// What a log says of a plan.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Compared {
    pub plan: String,
    /// The units of the job's pages; all numbers here are metric.
    #[serde(skip)]
    pub units: UnitSystem,
    /// Ids of the tasks, and names of the logs.
    pub tasks: Vec<String>,
    pub logs: Vec<String>,
    /// What the logs are known by, wherever they are read: see `sign.rs`.
    #[serde(skip)]
    pub signs: Vec<String>,
    pub records: usize,
    /// First day of the logs, YYYY-MM-DD, by the terminal's clock.
    pub first_day: String,
    /// Time in work, h.
    pub working_h: f64,
    /// Edge of the squares that areas are counted in, m.
    pub square_m: f64,
    /// Land of the plan; drilled at least once, more than once, not at all; drilled beyond the plan's land. m2.
    pub planned_m2: f64,
    pub drilled_m2: f64,
    pub twice_m2: f64,
    pub missed_m2: f64,
    pub beyond_m2: f64,
    pub gaps: usize,
    pub gap_m: f64,
    pub position_lost_s: f64,
    pub products: Vec<SownProduct>,
    pub zones: Vec<SownZone>,
    /// How the work went.
    pub work: Work,
    /// Faults that the log shows, what explains others first.
    pub told: Vec<Told>,
    /// What no log shows.
    pub not_shown: &'static str,
    pub findings: Vec<Finding>,
}

impl Compared {
    /// Whether somebody has to decide something.
    pub fn asks(&self) -> bool {
        self.told.iter().any(|own| own.asks) || self.findings.iter().any(Finding::is_open)
    }
}

/// A product over the whole field.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct SownProduct {
    pub id: String,
    pub planned_kg: f64,
    /// Planned for the land that was drilled.
    pub planned_where_drilled_kg: f64,
    /// By the total that the log counts, where it has one, otherwise by rate times land.
    pub sown_kg: f64,
    pub by_total: bool,
    /// The total that stands in the task itself, where it has one.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub in_task_kg: Option<f64>,
    /// Where its rates came from, land in m2.
    pub rates_from: RatesFrom,
    /// Rate times land, on the plan's land and beyond it.
    pub on_land_kg: f64,
    pub beyond_kg: f64,
    /// The total less both: sown without a position, or what rates and total disagree about.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub not_placed_kg: Option<f64>,
    /// Share of the drilled land with a planned rate above 0 where the sown rate is within 5, 10 and 20 % of it.
    pub within_percent: [f64; 3],
    /// Sown on land where the plan has a rate of 0, kg/ha times its land.
    pub where_planned_zero_kg: f64,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub loaded_kg: Option<f64>,
    /// Loaded less sown.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub left_kg: Option<f64>,
    /// Loaded less what was weighed back, and that over what the log says.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub sown_by_weight_kg: Option<f64>,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub by_weight_factor: Option<f64>,
}

/// Land drilled with rates of each source, m2, as prescription mode or control in the log say it.
#[derive(Debug, Clone, Default, PartialEq, Serialize)]
pub struct RatesFrom {
    pub map_m2: f64,
    /// The rate for where the map has none, and those for a lost position and outside the field.
    pub default_m2: f64,
    pub position_lost_m2: f64,
    pub out_of_field_m2: f64,
    /// Set by hand.
    pub hand_m2: f64,
    /// The log does not say.
    pub not_said_m2: f64,
}

impl RatesFrom {
    fn of(track: &Track, product: usize) -> Self {
        let mut land = Self::default();
        for segment in &track.segments {
            let source = segment.sources.get(product).copied().flatten();
            let sum = match source {
                Some(Source::Map) => &mut land.map_m2,
                Some(Source::Default) => &mut land.default_m2,
                Some(Source::PositionLost) => &mut land.position_lost_m2,
                Some(Source::OutOfField) => &mut land.out_of_field_m2,
                Some(Source::Hand) => &mut land.hand_m2,
                None => &mut land.not_said_m2,
            };
            *sum += segment.area_m2(product);
        }
        land
    }
}

/// A map zone of the plan.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct SownZone {
    pub zone: i64,
    pub part: String,
    pub area_m2: f64,
    pub drilled_m2: f64,
    pub twice_m2: f64,
    pub planned_kg_per_ha: Vec<f64>,
    pub planned_kg: Vec<f64>,
    pub sown_kg: Vec<f64>,
}

/// Logs count days from 1 January 1980; so many days after 1 January 1970.
pub(super) const DAY_0: i64 = 3652;

fn first_day(tasks: &[&Task]) -> u16 {
    let logs = tasks.iter().flat_map(|task| &task.logs);
    let records = logs.flat_map(|(_, log)| &log.records);
    records.map(|record| record.day).min().unwrap_or(0)
}

/// First and last record, by the terminal's clock: YYYY-MM-DD HH:MM.
pub(super) fn times(tasks: &[&Task]) -> [String; 2] {
    let logs = tasks.iter().flat_map(|task| &task.logs);
    let records = logs.flat_map(|(_, log)| &log.records);
    let times = records.map(|record| (record.day, record.millisecond));
    let ends = [times.clone().min(), times.max()];
    ends.map(|end| {
        let (day, millisecond) = end.unwrap_or_default();
        let minutes = millisecond / 60_000;
        let date = date_of(i64::from(day) + DAY_0);
        format!("{date} {:02}:{:02}", minutes / 60, minutes % 60)
    })
}

const WITHIN: [f64; 3] = [0.05, 0.10, 0.20];

/// What the figures are made of.
pub(super) struct Parts<'a> {
    pub plan: &'a PlanMap,
    pub channels: &'a Channels,
    pub track: &'a Track,
    pub ground: &'a Ground,
    pub settings: &'a Settings,
}

pub(super) fn of(parts: &Parts, tasks: &[&Task], findings: Vec<Finding>) -> Compared {
    let Parts {
        plan,
        track,
        ground,
        ..
    } = parts;
    let squares = Squares::count(plan, ground);
    // Areas of zones are exact in the plan; squares say which share of them was drilled.
    let share = |part: usize, of: usize| {
        if of == 0 {
            0.0
        } else {
            part as f64 / of as f64
        }
    };
    let zones: Vec<SownZone> = plan
        .zones
        .iter()
        .enumerate()
        .map(|(at, zone)| {
            let [all, once, twice] = squares.of_zone.get(at).copied().unwrap_or([0; 3]);
            SownZone {
                zone: zone.number,
                part: zone.part.clone(),
                area_m2: zone.area_m2,
                drilled_m2: zone.area_m2 * share(once, all),
                twice_m2: zone.area_m2 * share(twice, all),
                planned_kg_per_ha: zone.kg_per_ha.clone(),
                planned_kg: zone
                    .kg_per_ha
                    .iter()
                    .map(|rate| rate * zone.area_m2 / M2_PER_HA)
                    .collect(),
                sown_kg: ground.zone_kg.get(at).cloned().unwrap_or_default(),
            }
        })
        .collect();
    let planned_m2: f64 = zones.iter().map(|zone| zone.area_m2).sum();
    let drilled_m2: f64 = zones.iter().map(|zone| zone.drilled_m2).sum();
    let twice_m2: f64 = zones.iter().map(|zone| zone.twice_m2).sum();
    let passes_m2 = drilled_m2 + twice_m2 + ground.outside_m2;
    let products = (0..plan.products.len())
        .map(|at| product(parts, &zones, &squares, at))
        .collect();
    Compared {
        units: plan.units,
        plan: plan.id.clone(),
        tasks: tasks.iter().map(|task| task.id.clone()).collect(),
        logs: tasks
            .iter()
            .flat_map(|task| task.logs.iter().map(|(name, _)| name.clone()))
            .collect(),
        signs: Vec::new(),
        records: track.records,
        first_day: date_of(i64::from(first_day(tasks)) + DAY_0),
        working_h: track.working_s / 3600.0,
        square_m: ground.edge_m,
        planned_m2,
        drilled_m2,
        twice_m2,
        missed_m2: planned_m2 - drilled_m2,
        beyond_m2: ground.outside_m2,
        gaps: track.gaps,
        gap_m: track.gap_m,
        position_lost_s: track.lost_s,
        products,
        zones,
        work: Work::of(plan, track, passes_m2),
        told: Vec::new(),
        not_shown: NOT_IN_ANY_LOG,
        findings,
    }
}

/// Counts of squares.
struct Squares {
    /// Per zone: all, drilled, drilled more than once.
    of_zone: Vec<[usize; 3]>,
    /// Per product: drilled with a planned rate above 0, and of these within each limit.
    within: Vec<(usize, [usize; 3])>,
    /// Per product, kg.
    where_zero_kg: Vec<f64>,
}

impl Squares {
    fn count(plan: &PlanMap, ground: &Ground) -> Self {
        let products = plan.products.len();
        let mut counts = Self {
            of_zone: vec![[0; 3]; plan.zones.len()],
            within: vec![(0, [0; 3]); products],
            where_zero_kg: vec![0.0; products],
        };
        for (square, (zone, passes)) in ground.zone.iter().zip(&ground.passes).enumerate() {
            let at = usize::from(*zone);
            let Some(planned) = plan.zones.get(at).filter(|_| *zone != OUTSIDE) else {
                continue;
            };
            if let Some([all, once, twice]) = counts.of_zone.get_mut(at) {
                *all += 1;
                *once += usize::from(*passes > 0);
                *twice += usize::from(*passes > 1);
            }
            if *passes == 0 {
                continue;
            }
            for (product, wanted) in planned.kg_per_ha.iter().enumerate() {
                let sown = ground
                    .kg_per_ha
                    .get(product)
                    .and_then(|rates| rates.get(square));
                let sown = f64::from(sown.copied().unwrap_or(0.0));
                if *wanted == 0.0 {
                    if let Some(kg) = counts.where_zero_kg.get_mut(product) {
                        *kg += sown * ground.square_m2() / M2_PER_HA;
                    }
                } else if let Some((all, within)) = counts.within.get_mut(product) {
                    *all += 1;
                    for (count, limit) in within.iter_mut().zip(WITHIN) {
                        // Rates are kept in single precision.
                        *count += usize::from((sown / wanted - 1.0).abs() <= limit + 1e-6);
                    }
                }
            }
        }
        counts
    }
}

fn product(parts: &Parts, zones: &[SownZone], squares: &Squares, at: usize) -> SownProduct {
    let Parts {
        plan,
        channels,
        track,
        ground,
        settings,
    } = parts;
    let pick = |list: &[f64]| list.get(at).copied().unwrap_or(0.0);
    let id = plan
        .products
        .get(at)
        .map_or(String::new(), |product| product.id.clone());
    let beyond_kg = pick(&ground.outside_kg);
    let placed_kg: f64 = track.segments.iter().map(|segment| segment.kg(at)).sum();
    let in_task_kg = channels.noted_kg.get(at).copied().flatten();
    let counted = channels.has_total.get(at) == Some(&true);
    let counted_kg = counted.then(|| pick(&track.counted_kg)).or(in_task_kg);
    let (by_total, sown_kg) = (counted_kg.is_some(), counted_kg.unwrap_or(placed_kg));
    let where_drilled =
        |zone: &SownZone| pick(&zone.planned_kg_per_ha) * zone.drilled_m2 / M2_PER_HA;
    let said = |list: &[(String, f64)]| {
        let own = list.iter().find(|(own, _)| *own == id);
        own.map(|(_, kg)| *kg)
    };
    let loaded_kg = said(&settings.loaded);
    let back_kg = said(&settings.weighed_back);
    let sown_by_weight_kg = loaded_kg.zip(back_kg).map(|(loaded, back)| loaded - back);
    let by_weight_factor = sown_by_weight_kg
        .filter(|_| sown_kg > 0.0)
        .map(|kg| kg / sown_kg);
    let (all, within) = squares.within.get(at).copied().unwrap_or((0, [0; 3]));
    SownProduct {
        planned_kg: zones.iter().map(|zone| pick(&zone.planned_kg)).sum(),
        planned_where_drilled_kg: zones.iter().map(where_drilled).sum(),
        sown_kg,
        by_total,
        in_task_kg,
        rates_from: RatesFrom::of(track, at),
        on_land_kg: placed_kg - beyond_kg,
        beyond_kg,
        not_placed_kg: by_total.then_some(sown_kg - placed_kg),
        within_percent: within.map(|count| 100.0 * count as f64 / all.max(1) as f64),
        where_planned_zero_kg: pick(&squares.where_zero_kg),
        loaded_kg,
        sown_by_weight_kg,
        by_weight_factor,
        left_kg: loaded_kg.map(|kg| kg - sown_kg),
        id,
    }
}
