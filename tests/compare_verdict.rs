//! Faults sown into logs by the simulator: each is told by its name, and none is told where none is.

mod log_support;

use log_support::*;
use std::collections::BTreeSet;
use std::sync::OnceLock;
use tempfile::TempDir;
use twinsow::codec::taskdata::{Element, LogColumn};
use twinsow::compare::{Compared, PlanMap, Settings, Told, Trouble, compare};
use twinsow::read::taskdata;

fn planned() -> &'static TempDir {
    static PLANNED: OnceLock<TempDir> = OnceLock::new();
    PLANNED.get_or_init(|| {
        let folder = tempfile::tempdir().unwrap();
        plan(folder.path());
        folder
    })
}

fn judged(task: Element, logs: &[(Element, Vec<u8>)]) -> Compared {
    judged_with(&Settings::default(), task, logs)
}

fn judged_with(settings: &Settings, task: Element, logs: &[(Element, Vec<u8>)]) -> Compared {
    let folder = tempfile::tempdir().unwrap();
    write(folder.path(), Vec::new(), task, logs);
    thread_local! {
        static PLAN: PlanMap = PlanMap::read(&planned().path().join("plan")).unwrap();
    }
    let set = taskdata::read(&folder.path().join("TASKDATA")).unwrap();
    PLAN.with(|plan| match compare(plan, &set, settings) {
        Ok(found) => found.figures,
        Err(fault) => panic!("{fault}"),
    })
}

fn both() -> Vec<Element> {
    vec![allocated("PDT1", "DET2"), allocated("PDT2", "DET3")]
}

fn troubles(found: &Compared) -> BTreeSet<Trouble> {
    found.told.iter().map(|own| own.trouble).collect()
}

fn of(found: &Compared, trouble: Trouble) -> Option<&Told> {
    found.told.iter().find(|own| own.trouble == trouble)
}

/// What a terminal logs, with the source of rates.
fn columns() -> Vec<(LogColumn, Value)> {
    let mut columns = common();
    columns.push(mode("DET1"));
    columns
}

/// Noise of actual rates: up to 2 %.
fn driven(bouts: &[usize], late_s: f64) -> Vec<Moment> {
    drive(bouts, late_s, &mut Noise(0x5EED), 0.02)
}

/// Checks of many logs: all that fail are shown together.
#[derive(Default)]
struct Checked(Vec<String>);

impl Checked {
    fn told(&mut self, name: &str, moments: &[Moment], wanted: &[Trouble]) -> Compared {
        let found = judged(task("as driven", both()), &[log(&columns(), moments)]);
        self.is(name, &found, wanted);
        found
    }

    fn is(&mut self, name: &str, found: &Compared, wanted: &[Trouble]) {
        let wanted: BTreeSet<Trouble> = wanted.iter().copied().collect();
        let told = troubles(found);
        if told != wanted {
            let said: Vec<&str> = found.told.iter().map(|own| own.found.as_str()).collect();
            self.0.push(format!(
                "{name}: {told:?}, not {wanted:?}: {}",
                said.join(" ")
            ));
        }
        for own in &found.told {
            assert!(!own.found.is_empty() && !own.next.is_empty(), "{name}");
            assert_eq!(own.asks, own.trouble.asks());
        }
    }

    fn holds(&mut self, name: &str, holds: bool, what: impl std::fmt::Debug) {
        if !holds {
            self.0.push(format!("{name}: {what:?}"));
        }
    }

    fn done(self) {
        assert!(self.0.is_empty(), "{}", self.0.join("\n"));
    }
}

fn changed(change: impl Fn(&mut Moment)) -> Vec<Moment> {
    let mut moments = driven(&whole(), 0.0);
    moments.iter_mut().for_each(change);
    moments
}

/// The same with rates that another map gives.
fn mapped(rates: impl Fn(f64, f64) -> [f64; 2]) -> Vec<Moment> {
    changed(|own| {
        let middle = own.at[1] + if own.north { STEP_M } else { -STEP_M } / 2.0;
        own.rate = rates(own.at[0], middle);
        own.on = own.rate.map(|rate| rate > 0.0);
    })
}

#[test]
fn a_good_log_is_told_nothing() {
    let mut c = Checked::default();
    c.told("none", &driven(&whole(), 0.0), &[]);
    c.done();
}

#[test]
fn faults_of_the_map() {
    let mut c = Checked::default();
    use Trouble::*;
    let swapped = mapped(|x, y| {
        let [seed, starter] = wanted(x, y);
        [starter, seed]
    });
    // Seed goes without its rate along the brook, and the other product lies there.
    c.told("swap", &swapped, &[ProductsSwapped, InSetback]);
    let one = mapped(|x, y| wanted(x, y).map(|rate| if rate > 100.0 { 168.0 } else { rate }));
    let found = c.told("one rate", &one, &[MapNotFollowed]);
    c.holds(
        "one rate",
        of(&found, MapNotFollowed).is_some_and(|own| own.product.as_deref() == Some("barley")),
        &found.told,
    );
    let clamp = |y: f64| y.clamp(0.1, HIGH_M - 0.1);
    c.told(
        "shifted",
        &mapped(|x, y| wanted(x, clamp(y - 15.0))),
        &[MapShifted],
    );
    let turned = mapped(|x, y| wanted(x, HIGH_M - y));
    c.told("turned over", &turned, &[MapMirrored]);
    let by_hand = changed(|own| own.mode = if own.bout < 10 { 5 } else { 1 });
    let found = c.told("by hand", &by_hand, &[ByHand]);
    let m2 = of(&found, ByHand).and_then(|own| own.area_m2);
    c.holds(
        "by hand",
        m2.is_some_and(|m2| (m2 - 10.0 * DRILL_M * HIGH_M).abs() < 100.0),
        m2,
    );
    let fallback = changed(|own| own.mode = if own.bout < 10 { 2 } else { 1 });
    c.told("default", &fallback, &[FallbackRate]);
    c.done();
}

#[test]
fn faults_of_amounts() {
    let mut c = Checked::default();
    use Trouble::*;
    for (factor, trouble) in [
        (1.1209, OtherUnit),
        (0.8922, OtherUnit),
        (1.05, OverEverywhere),
        (0.95, ShortEverywhere),
    ] {
        for product in [0, 1] {
            let moments = changed(|own| own.rate[product] *= factor);
            let found = c.told("factor", &moments, &[trouble]);
            let right = of(&found, trouble).is_some_and(|own| {
                let id = Some(["barley", "starter"][product]);
                own.product.as_deref() == id && (own.factor.unwrap() - factor).abs() < 0.01
            });
            c.holds("factor", right, &found.told);
        }
    }
    for (share, trouble) in [(0.93, TotalBelowRates), (1.07, TotalAboveRates)] {
        let mut columns = vec![
            down("DET1"),
            rate("DET2", 0),
            rate("DET3", 1),
            grams("DET3", 1),
        ];
        columns.push(column(352, "DET2", move |_, kg| {
            (kg[0] * share * 1000.0) as i32
        }));
        let logs = [log(&columns, &driven(&whole(), 0.0))];
        c.is(
            "total",
            &judged(task("as driven", both()), &logs),
            &[trouble],
        );
    }
    // 16 kg more than the meter counted were gone from the hopper for every 200.
    let moments = driven(&whole(), 0.0);
    let [barley_kg, _] = kilograms(&moments);
    let weights = Settings {
        loaded: vec![("barley".to_owned(), 1000.0)],
        weighed_back: vec![("barley".to_owned(), 1000.0 - 1.08 * barley_kg)],
        ..Settings::default()
    };
    let found = judged_with(
        &weights,
        task("as driven", both()),
        &[log(&columns(), &moments)],
    );
    c.is("scales", &found, &[MeterOffScales]);
    let factor = of(&found, MeterOffScales).and_then(|own| own.factor);
    c.holds(
        "scales",
        factor.is_some_and(|f| (f - 1.08).abs() < 1e-3),
        factor,
    );
    let stopped = changed(|own| own.on[1] &= own.bout != 10 || !(60.0..150.0).contains(&own.at[1]));
    let found = c.told("stopped", &stopped, &[ProductStopped]);
    c.holds(
        "stopped",
        of(&found, ProductStopped).is_some_and(|own| own.product.as_deref() == Some("starter")),
        &found.told,
    );
    // A fifth was sown while nothing was logged.
    let moments = driven(&whole(), 0.0);
    let kg = kilograms(&moments);
    let mut children = both();
    let noted = |element: &str, kg: f64| {
        Element::new("DLV")
            .with("A", "0160")
            .with("B", (kg * 1250.0).round())
            .with("C", element)
    };
    children.push(
        Element::new("TIM")
            .with("A", "2026-10-02T08:00:00")
            .with("D", 4)
            .child(noted("DET2", kg[0]))
            .child(noted("DET3", kg[1])),
    );
    let found = judged(task("as driven", children), &[log(&columns(), &moments)]);
    c.is("not logged", &found, &[NotLogged]);
    c.done();
}

#[test]
fn faults_of_time() {
    let mut c = Checked::default();
    use Trouble::*;
    let found = c.told("late", &driven(&whole(), 4.0), &[RatesLag]);
    assert!(
        (found.told[0].seconds.unwrap() - 4.0).abs() <= 1.0,
        "{:?}",
        found.told
    );
    let found = c.told("early", &driven(&whole(), -3.0), &[RatesEarly]);
    assert!(
        (found.told[0].seconds.unwrap() + 3.0).abs() <= 1.0,
        "{:?}",
        found.told
    );
    c.done();
}

#[test]
fn faults_of_the_land() {
    let mut c = Checked::default();
    use Trouble::*;
    let without: Vec<usize> = whole().into_iter().filter(|bout| *bout != 20).collect();
    let found = c.told("missed", &driven(&without, 0.0), &[Missed]);
    let m2 = of(&found, Missed).and_then(|own| own.area_m2);
    c.holds(
        "missed",
        m2.is_some_and(|m2| (m2 / (DRILL_M * HIGH_M) - 1.0).abs() < 0.1),
        m2,
    );
    let with = |bout: usize| [whole(), vec![bout]].concat();
    c.told("doubled", &driven(&with(8), 0.0), &[Doubled]);
    let mut half = driven(&with(39), 0.0);
    let last = half.len() - 81;
    for own in &mut half[last..] {
        own.at[0] += DRILL_M / 2.0;
    }
    c.told("sections", &half, &[SectionsStayedOn]);
    let mut beyond = driven(&with(39), 0.0);
    for own in &mut beyond[last..] {
        own.at[0] += DRILL_M;
    }
    c.told("beyond", &beyond, &[BeyondTheLand]);
    let by_the_brook = changed(|own| {
        if own.bout == BOUTS - 1 {
            own.rate[1] = 75.0;
            own.on[1] = true;
        }
    });
    let found = c.told("setback", &by_the_brook, &[InSetback]);
    // 6 m x 200 m at 75 kg/ha.
    let kg = of(&found, InSetback).and_then(|own| own.kg);
    c.holds(
        "setback",
        kg.is_some_and(|kg| (kg / 9.0 - 1.0).abs() < 0.1),
        kg,
    );
    c.told(
        "not finished",
        &driven(&(0..25).collect::<Vec<_>>(), 0.0),
        &[NotFinished],
    );
    let lost = |own: &Moment| own.bout == 12 && (50.0..110.0).contains(&own.at[1]);
    let lost_there = changed(|own| own.status = if lost(own) { 0 } else { 4 });
    c.told("lost position", &lost_there, &[PositionLost, Missed]);
    let mut gap = driven(&whole(), 0.0);
    gap.retain(|own| !lost(own));
    c.told("gap", &gap, &[Gaps, Missed]);
    c.done();
}

#[test]
fn faults_of_the_log() {
    let mut c = Checked::default();
    use Trouble::*;
    let moments = driven(&whole(), 0.0);
    let own = log(&columns(), &moments);
    let found = judged(
        task("AB23CD old barley", both()),
        std::slice::from_ref(&own),
    );
    c.is("other plan", &found, &[OtherPlan]);
    // An id without a digit, before the name of this plan's job; the factor is that of the other plan, and no wrong unit.
    let more = changed(|own| own.rate[0] *= 1.1209);
    let more = [log(&columns(), &more)];
    for (name, told) in [
        ("TXNWJH log", OtherPlan),
        ("TXNWJH Barley", OtherPlan),
        ("BARREN north", OtherUnit),
    ] {
        c.is(name, &judged(task(name, both()), &more), &[told]);
    }
    let away = changed(|own| own.at[0] += 500.0);
    c.told("other field", &away, &[OtherField]);
    c.is(
        "copies",
        &judged(task("as driven", both()), &[own.clone(), own]),
        &[LogsBeside],
    );
    // In the afternoon the work goes on.
    let resumed = changed(|own| own.s += if own.bout >= 20 { 5.0 * 3600.0 } else { 0.0 });
    c.told("resumed", &resumed, &[Resumed]);
    let mut columns = vec![
        down("DET1"),
        rate("DET2", 0),
        rate("DET3", 1),
        grams("DET3", 1),
    ];
    columns.push(column(352, "DET2", |_, kg| {
        ((if kg[0] > 300.0 { kg[0] - 300.0 } else { kg[0] }) * 1000.0) as i32
    }));
    let found = judged(task("as driven", both()), &[log(&columns, &moments)]);
    c.is("reset", &found, &[TotalReset]);
    // Another drill sows the eastern half at the same time.
    let (west, mut east): (Vec<Moment>, Vec<Moment>) =
        moments.into_iter().partition(|own| own.bout < BOUTS / 2);
    let earlier_s = east[0].s - west[0].s;
    east.iter_mut().for_each(|own| own.s -= earlier_s);
    let other = vec![
        down("DET11"),
        rate("DET12", 0),
        rate("DET13", 1),
        grams("DET12", 0),
        grams("DET13", 1),
    ];
    let mut children = both();
    children.extend([allocated("PDT1", "DET12"), allocated("PDT2", "DET13")]);
    let found = judged(
        task("as driven", children),
        &[log(&common(), &west), log(&other, &east)],
    );
    c.is("two drills", &found, &[TwoDrills]);
    c.done();
}

/// Rates that go to and fro by up to 10 kg/ha, positions by 5 cm, a meter that takes up to a second, stops, parts of a field,
/// and logs of several kinds: nothing of it is a fault.
#[test]
fn noise_is_no_fault() {
    let mut c = Checked::default();
    // All of them take a minute and a half.
    let every = std::env::var_os("TWINSOW_EVERY_LOG").is_some();
    let logs = if every { 200 } else { 20 };
    for seed in 1..=logs {
        let mut noise = Noise(seed * 0x9E37_79B9);
        let late_s = (noise.next() + 1.0) / 2.0;
        let mut moments = drive(&whole(), late_s, &mut noise, 0.0);
        let mut stop_s = 0.0;
        for own in &mut moments {
            for rate in own.rate.iter_mut().filter(|rate| **rate > 0.0) {
                *rate += 10.0 * noise.next();
            }
            own.at = own.at.map(|m| m + 0.05 * noise.next());
            if !own.down && noise.next() > 0.9 {
                stop_s += 900.0 * (noise.next() + 1.0);
            }
            own.s += stop_s;
        }
        let columns = match seed % 3 {
            0 => columns(),
            1 => vec![down("DET1"), rate("DET2", 0), rate("DET3", 1)],
            _ => vec![
                down("DET1"),
                column(12, "DET2", |own, _| {
                    // Seeds of 50 mg a square metre, in thousandths.
                    (own.rate[0] / 10_000.0 / 50e-6 * 1000.0).round() as i32
                }),
                rate("DET3", 1),
                grams("DET3", 1),
            ],
        };
        let found = judged(task("as driven", both()), &[log(&columns, &moments)]);
        c.is(&format!("seed {seed}"), &found, &[]);
    }
    c.done();
}
