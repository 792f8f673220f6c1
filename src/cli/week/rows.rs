//! A list as rows with dates and times, for screen, page, CSV and JSON alike.

use super::gather::{Article, Drill};
use crate::job::date_of;
use crate::units::UnitSystem;
use crate::week::{Emptied, Field, List, Rules, Visit};
use serde::Serialize;
use std::collections::BTreeMap;

/// The list of a drill.
#[derive(Serialize)]
pub(super) struct OfDrill {
    pub drill: String,
    /// Whether no other order costs less.
    pub is_best: bool,
    pub fields: Vec<Row>,
    pub tender: Vec<Bring>,
    /// What stays in the hoppers at the end.
    pub left: Vec<Left>,
    pub hectares: f64,
    /// Hours from the first way to the last, without nights and days of waiting.
    pub hours: f64,
    pub road_h: f64,
    pub clean_out_h: f64,
    pub fill_h: f64,
    pub late_ha_days: f64,
    pub cost_h: f64,
    /// The day on which the last field is done.
    pub done_on: String,
    #[serde(skip)]
    pub units: UnitSystem,
    /// Products with a dressing that a hopper is cleaned of, or that is left at the end.
    pub treated_left: Vec<String>,
}

/// A field in its turn.
#[derive(Serialize)]
pub(super) struct Row {
    pub number: usize,
    pub begins: At,
    pub ends: At,
    pub customer: String,
    pub farm: String,
    pub field: String,
    pub plan: String,
    pub sowing_date: Option<String>,
    pub late_days: i64,
    pub hectares: f64,
    pub road_km: f64,
    pub products: Vec<Taken>,
    /// Emptied and cleaned before it.
    pub cleaned: Vec<Left>,
    pub fills: usize,
    pub to_decide: usize,
    /// Hoppers whose fills nobody can count.
    pub not_counted: Vec<String>,
}

/// A day and a time on it.
#[derive(Serialize, Clone, PartialEq)]
pub(super) struct At {
    pub date: String,
    pub time: String,
}

/// What a field takes of a product.
#[derive(Serialize)]
pub(super) struct Taken {
    pub hopper: String,
    pub product: String,
    pub lot: Option<String>,
    pub dressing: Option<String>,
    pub sown_kg: f64,
    /// Filled while it is sown; null where nobody can count it.
    pub filled_kg: Option<f64>,
}

/// What is left in a hopper.
#[derive(Serialize)]
pub(super) struct Left {
    pub hopper: String,
    pub product: String,
    pub lot: Option<String>,
    pub dressing: Option<String>,
    /// Null where nobody can count it.
    pub kg: Option<f64>,
    #[serde(skip)]
    pub treated: bool,
}

/// What the tender brings on a day.
#[derive(Serialize)]
pub(super) struct Bring {
    pub date: String,
    pub product: String,
    pub lot: Option<String>,
    pub kg: f64,
    pub fills: usize,
    /// Whole packs: what was opened the day before is used up first.
    pub packs: Option<u64>,
    pub pack_kg: Option<f64>,
}

/// A day that is over by less counts as that day, h.
const NO_TIME_H: f64 = 1e-9;
/// A pack of which less is missing counts as whole, packs.
const NO_PACK: f64 = 1e-9;

pub(super) fn of(drill: &Drill, list: List, rules: &Rules, begins_h: f64) -> OfDrill {
    let clock = Clock { rules, begins_h };
    let mut fields = Vec::new();
    for (nth, visit) in list.visits.iter().enumerate() {
        if let (Some(field), Some(about)) =
            (drill.fields.get(visit.field), drill.about.get(visit.field))
        {
            fields.push(Row {
                number: nth + 1,
                begins: clock.at(visit.begins_h),
                ends: clock.by(visit.ends_h),
                customer: about.customer.clone(),
                farm: about.farm.clone(),
                field: about.field.clone(),
                plan: about.plan.clone(),
                sowing_date: about.date.clone(),
                late_days: visit.late_days,
                hectares: field.hectares,
                road_km: visit.road_km,
                products: taken(drill, field, visit),
                cleaned: left(drill, &visit.emptied),
                fills: visit.fills.len(),
                to_decide: about.to_decide,
                not_counted: about.not_counted.clone(),
            });
        }
    }
    let left = left(drill, &list.left);
    let cleaned = fields.iter().flat_map(|row| &row.cleaned).chain(&left);
    let mut treated_left: Vec<String> = cleaned
        .filter(|own| own.treated)
        .map(|own| own.product.clone())
        .collect();
    treated_left.sort();
    treated_left.dedup();
    let sown_h: f64 = drill.fields.iter().map(|field| field.hours).sum();
    let ends_h = list.visits.iter().map(|visit| visit.ends_h);
    OfDrill {
        drill: drill.name.clone(),
        is_best: list.is_best,
        tender: tender(drill, &list, &clock),
        hectares: drill.fields.iter().map(|field| field.hectares).sum(),
        hours: sown_h + list.road_h + list.clean_out_h + list.fill_h,
        road_h: list.road_h,
        clean_out_h: list.clean_out_h,
        fill_h: list.fill_h,
        late_ha_days: list.late_ha_days,
        cost_h: list.cost_h,
        done_on: clock.by(ends_h.fold(0.0, f64::max)).date,
        units: drill.about.first().map(|own| own.units).unwrap_or_default(),
        fields,
        left,
        treated_left,
    }
}

/// Hours of work as days and times.
struct Clock<'a> {
    rules: &'a Rules,
    begins_h: f64,
}

impl Clock<'_> {
    /// When something begins: the end of a day's work is the beginning of the next.
    fn at(&self, hours: f64) -> At {
        self.shown(
            hours,
            ((hours + NO_TIME_H) / self.rules.hours_a_day).floor(),
        )
    }

    /// When something is done: on the day on which the last of it was.
    fn by(&self, hours: f64) -> At {
        let day = ((hours - NO_TIME_H).max(0.0) / self.rules.hours_a_day).floor();
        self.shown(hours, day)
    }

    fn shown(&self, hours: f64, day: f64) -> At {
        let of_day = (hours - day * self.rules.hours_a_day).max(0.0) + self.begins_h;
        let minutes = (of_day * 60.0).round() as i64;
        // Work that goes on past midnight is on the next day's date.
        let day = self.rules.from + day as i64 + minutes.div_euclid(24 * 60);
        let minutes = minutes.rem_euclid(24 * 60);
        At {
            date: date_of(day),
            time: format!("{:02}:{:02}", minutes / 60, minutes % 60),
        }
    }
}

fn taken(drill: &Drill, field: &Field, visit: &Visit) -> Vec<Taken> {
    let one = |load: &crate::week::Load| {
        let article = drill.articles.get(load.article)?;
        let of_hopper = visit.fills.iter().flat_map(|fill| &fill.kg);
        let of_hopper = of_hopper.filter(|(hopper, _)| *hopper == load.hopper);
        let kg: f64 = of_hopper.map(|(_, kg)| kg).sum();
        Some(Taken {
            hopper: drill.hoppers.get(load.hopper)?.clone(),
            product: article.product.clone(),
            lot: article.lot.clone(),
            dressing: article.dressing.clone(),
            sown_kg: load.kg,
            filled_kg: load.full_kg.map(|_| kg),
        })
    };
    field.loads.iter().filter_map(one).collect()
}

fn left(drill: &Drill, emptied: &[Emptied]) -> Vec<Left> {
    let loads = || drill.fields.iter().flat_map(|field| &field.loads);
    let one = |own: &Emptied| {
        let article: &Article = drill.articles.get(own.article)?;
        let known = loads()
            .filter(|load| (load.hopper, load.article) == (own.hopper, own.article))
            .all(|load| load.full_kg.is_some());
        Some(Left {
            hopper: drill.hoppers.get(own.hopper)?.clone(),
            product: article.product.clone(),
            lot: article.lot.clone(),
            dressing: article.dressing.clone(),
            kg: known.then_some(own.kg),
            treated: article.treated,
        })
    };
    emptied.iter().filter_map(one).collect()
}

/// What is filled on each day, by product; packs are counted over all days, so that an open one is used up first.
fn tender(drill: &Drill, list: &List, clock: &Clock) -> Vec<Bring> {
    let mut days: BTreeMap<(String, usize), (f64, usize)> = BTreeMap::new();
    for visit in &list.visits {
        let loads = drill.fields.get(visit.field).map(|field| &field.loads);
        for fill in &visit.fills {
            let date = clock.at(fill.at_h).date;
            for (hopper, kg) in &fill.kg {
                let load = loads.and_then(|all| all.iter().find(|own| own.hopper == *hopper));
                if let Some(load) = load {
                    let day = days.entry((date.clone(), load.article)).or_default();
                    day.0 += kg;
                    day.1 += 1;
                }
            }
        }
    }
    let mut before = vec![(0.0, 0_u64); drill.articles.len()];
    let mut rows = Vec::new();
    for ((date, number), (kg, fills)) in days {
        let (Some(article), Some(known)) = (drill.articles.get(number), before.get_mut(number))
        else {
            continue;
        };
        known.0 += kg;
        let packs = article.pack_kg.map(|pack| {
            let all = (known.0 / pack - NO_PACK).ceil().max(0.0) as u64;
            let more = all - known.1;
            known.1 = all;
            more
        });
        rows.push(Bring {
            date,
            product: article.product.clone(),
            lot: article.lot.clone(),
            kg,
            fills,
            packs,
            pack_kg: article.pack_kg,
        });
    }
    rows
}
