//! The calibration test: what to catch, how many revolutions, what a weighed catch says.

use super::flow;
use crate::job::UnitSystem;
use crate::units::M2_PER_ACRE;
use serde::Serialize;

/// How much a test runs.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Amount {
    /// As much as this area gets, m2.
    Area(f64),
    /// Revolutions of the rotor.
    Revolutions(f64),
}

/// A test at one rate.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Test {
    pub kg_per_ha: f64,
    /// Area that the catch stands for at this rate, m2.
    pub area_m2: f64,
    /// Revolutions of the rotor; `None` if it is not known.
    pub revolutions: Option<f64>,
    pub catch_kg: f64,
    /// Turns of the drive wheel at full width; `None` if the job does not say what one turn covers.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub wheel_turns: Option<f64>,
    /// A catch that weighs well, where this one does not.
    pub weighs_well: Option<WeighsWell>,
    /// What the weighed catch says.
    pub caught: Option<Caught>,
}

/// The smallest test whose catch the scale can weigh well.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct WeighsWell {
    pub catch_kg: f64,
    pub area_m2: f64,
    pub revolutions: Option<f64>,
}

/// A weighed catch.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Caught {
    pub kg: f64,
    /// Caught over expected: multiply kilograms per revolution with it.
    pub correction: f64,
    pub kg_per_rev: Option<f64>,
    /// Revolutions that deliver the expected catch.
    pub revolutions: Option<f64>,
    /// What the drill would have sown without the correction.
    pub kg_per_ha_without: f64,
}

impl Test {
    /// The same test with the turns of the drive wheel, where what one turn covers is known.
    pub fn with_wheel(mut self, width_m: f64, round_m: Option<f64>) -> Self {
        self.wheel_turns = round_m.map(|round_m| flow::turns(self.area_m2, width_m, round_m));
        self
    }
}

/// The area of a test where nobody asks for another, m2: a fortieth of a hectare, or a twentieth of an acre. Common
/// practice, no source.
pub fn usual_area_m2(units: UnitSystem) -> f64 {
    match units {
        UnitSystem::Metric => 250.0,
        UnitSystem::UsCustomary => M2_PER_ACRE / 20.0,
    }
}

/// A catch weighs well if half a step of the scale is at most this share of it. Common practice, no
/// source.
pub const WEIGHS_WELL: f64 = 0.005;

/// A test at one rate, kg/ha above zero. `kg_per_rev` of the rotor if it is known; `scale_kg` is the
/// step of the scale. `None` for revolutions of an unknown rotor.
pub fn test(
    kg_per_ha: f64,
    kg_per_rev: Option<f64>,
    amount: Amount,
    scale_kg: f64,
    caught_kg: Option<f64>,
) -> Option<Test> {
    let area_of = |kg: f64| kg / flow::catch_kg(kg_per_ha, 1.0);
    let turns = |kg: f64| kg_per_rev.map(|each| kg / each);
    let catch_kg = match amount {
        Amount::Area(m2) => flow::catch_kg(kg_per_ha, m2),
        Amount::Revolutions(count) => count * kg_per_rev?,
    };
    let least_kg = scale_kg / 2.0 / WEIGHS_WELL;
    let weighs_well = (catch_kg < least_kg).then(|| WeighsWell {
        catch_kg: least_kg,
        area_m2: area_of(least_kg),
        revolutions: turns(least_kg),
    });
    let caught = caught_kg.map(|kg| {
        let correction = flow::correction(kg, catch_kg);
        Caught {
            kg,
            correction,
            kg_per_rev: kg_per_rev.map(|each| each * correction),
            revolutions: turns(catch_kg).map(|count| count / correction),
            kg_per_ha_without: kg_per_ha * correction,
        }
    });
    Some(Test {
        kg_per_ha,
        area_m2: area_of(catch_kg),
        revolutions: turns(catch_kg),
        catch_kg,
        wheel_turns: None,
        weighs_well,
        caught,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn area_and_revolutions_say_the_same() {
        // 160 kg/ha on 250 m2 is 4 kg; 0.4 kg a revolution makes ten.
        let by_area = test(160.0, Some(0.4), Amount::Area(250.0), 0.01, None).unwrap();
        assert_eq!((by_area.catch_kg, by_area.revolutions), (4.0, Some(10.0)));
        let by_turns = test(160.0, Some(0.4), Amount::Revolutions(10.0), 0.01, None).unwrap();
        assert_eq!((by_turns.catch_kg, by_turns.area_m2), (4.0, 250.0));
        // 250 m2 at 4 m are 62.5 m: 25 turns of 2.5 m.
        assert_eq!(by_area.with_wheel(4.0, Some(2.5)).wheel_turns, Some(25.0));
        assert_eq!(
            test(160.0, None, Amount::Revolutions(10.0), 0.01, None),
            None
        );
    }

    #[test]
    fn a_catch_corrects_the_setting() {
        let test = test(160.0, Some(0.4), Amount::Area(250.0), 0.01, Some(3.2)).unwrap();
        let caught = test.caught.unwrap();
        assert!((caught.correction - 0.8).abs() < 1e-12);
        assert!((caught.kg_per_rev.unwrap() - 0.32).abs() < 1e-12);
        // 12.5 revolutions of the corrected 0.32 kg are the 4 kg that were wanted.
        assert!((caught.revolutions.unwrap() - 12.5).abs() < 1e-12);
        assert!((caught.kg_per_ha_without - 128.0).abs() < 1e-12);
    }

    #[test]
    fn a_catch_too_small_for_the_scale_is_told() {
        let small = test(3.0, Some(0.01), Amount::Area(250.0), 0.01, None).unwrap();
        let better = small.weighs_well.unwrap();
        assert!((better.catch_kg - 1.0).abs() < 1e-12);
        assert!((better.area_m2 - 10_000.0 / 3.0).abs() < 1e-9);
        let good = test(160.0, Some(0.4), Amount::Area(250.0), 0.01, None).unwrap();
        assert_eq!(good.weighs_well, None);
    }
}
