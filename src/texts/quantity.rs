//! Quantities as sentences say them: each knows its metric value and how it reads in both systems of units.

use crate::findings::without_zeros;
use crate::units::{
    M_PER_FOOT, M2_PER_FT2, OZ_PER_LB, UnitSystem, inches_from_m, lb_from_kg,
    lb_per_acre_from_kg_per_ha, seeds_per_lb_from_thousand_grain_weight_g,
};
use std::borrow::Cow;
use std::fmt;

/// What stands in a place of a sentence.
pub trait Spoken: fmt::Debug {
    /// Without its unit.
    fn number(&self, units: UnitSystem) -> Cow<'_, str>;

    /// Whether it is a number, with marks that go by the language.
    fn is_number(&self) -> bool {
        true
    }

    /// Its unit; empty where it has none.
    fn unit(&self, _units: UnitSystem) -> &'static str {
        ""
    }
}

/// A number with at most `decimals` decimals and no zeros at the end: 230.8, 48, 0.5.
pub fn number(value: f64, decimals: usize) -> String {
    let text = format!("{value:.decimals$}");
    let text = without_zeros(&text);
    if text == "-0" {
        "0".to_owned()
    } else {
        text.to_owned()
    }
}

/// A rate: one decimal, two where rates are small (rape and clover are sown at 3 kg/ha).
pub fn rate(per_area: f64) -> String {
    number(per_area, if per_area.abs() < 20.0 { 2 } else { 1 })
}

/// A number from the job as the user wrote it, as far as a float remembers.
pub fn given(value: f64) -> String {
    number(value, 6)
}

/// Declares quantities: their metric value, the number in both systems, and both units.
macro_rules! quantities {
    ($($(#[$about:meta])* $name:ident: $metric:expr, $metric_unit:literal; $us:expr, $us_unit:literal;)*) => {$(
        $(#[$about])*
        #[derive(Debug, Clone, Copy, PartialEq)]
        pub struct $name(
            /// The metric value.
            pub f64,
        );

        impl Spoken for $name {
            fn number(&self, units: UnitSystem) -> Cow<'_, str> {
                let said: fn(f64) -> String = match units {
                    UnitSystem::Metric => $metric,
                    UnitSystem::UsCustomary => $us,
                };
                Cow::Owned(said(self.0))
            }

            fn unit(&self, units: UnitSystem) -> &'static str {
                match units {
                    UnitSystem::Metric => $metric_unit,
                    UnitSystem::UsCustomary => $us_unit,
                }
            }
        }
    )*};
}

quantities! {
    /// A rate that was worked out, in kg/ha.
    Rate: rate, "kg/ha"; |of| rate(lb_per_acre_from_kg_per_ha(of)), "lb/ac";
    /// A rate as the job gives it, in kg/ha.
    GivenRate: given, "kg/ha"; |of| rate(lb_per_acre_from_kg_per_ha(of)), "lb/ac";
    /// A rate to a tenth, in kg/ha.
    TenthRate: |of| number(of, 1), "kg/ha"; |of| number(lb_per_acre_from_kg_per_ha(of), 1), "lb/ac";
    /// Plants or seeds as the job gives them, by their number on a square metre.
    GivenDensity: given, "m2"; |of| number(of * M2_PER_FT2, 1), "ft2";
    /// Plants or seeds that were worked out, by their number on a square metre.
    Density: |of| number(of, 0), "m2"; |of| number(of * M2_PER_FT2, 1), "ft2";
    /// The same to a tenth.
    TenthDensity: |of| number(of, 1), "m2"; |of| number(of * M2_PER_FT2, 1), "ft2";
    /// Weight of a thousand grains, in g; in US units the seeds of a pound.
    GrainWeight: given, "g"; |of| number(seeds_per_lb_from_thousand_grain_weight_g(of), 0), "seeds/lb";
    /// A mass as the job gives it, in kg.
    GivenMass: given, "kg"; |of| number(lb_from_kg(of), 1), "lb";
    /// A length as the job gives it, in m.
    GivenLength: given, "m"; |of| number(of / M_PER_FOOT, 2), "ft";
    /// What measures a row, as its spacing, in m; in US units inches.
    RowWidth: |of| number(of, 4), "m"; |of| number(inches_from_m(of), 2), "in";
    /// The same as the job gives it.
    GivenRowWidth: given, "m"; |of| number(inches_from_m(of), 2), "in";
    /// Fertiliser in a metre of row, in g; in US units ounces in 100 ft of it.
    RowLoad: |of| number(of, 2), "g per m"; |of| number(lb_from_kg(of / 1_000.0) * OZ_PER_LB * 100.0 * M_PER_FOOT, 1), "oz per 100 ft";
    /// A yield as the job gives it, in t/ha.
    Yield: given, "t/ha"; |of| number(lb_per_acre_from_kg_per_ha(of * 1_000.0), 0), "lb/ac";
    /// What a crop takes off with a tonne of yield, in kg; in US units lb with a thousand.
    Offtake: given, "kg/t"; given, "lb per 1000 lb";
    /// A number from the job, without unit or with one that the words name: percent, a count.
    Given: given, ""; given, "";
}

/// A number that was worked out, with at most so many decimals.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Number(
    /// The number.
    pub f64,
    /// Decimals.
    pub usize,
);

impl Spoken for Number {
    fn number(&self, _units: UnitSystem) -> Cow<'_, str> {
        Cow::Owned(number(self.0, self.1))
    }
}

impl Spoken for usize {
    fn number(&self, _units: UnitSystem) -> Cow<'_, str> {
        Cow::Owned(self.to_string())
    }
}

impl Spoken for String {
    fn number(&self, _units: UnitSystem) -> Cow<'_, str> {
        Cow::Borrowed(self)
    }

    fn is_number(&self) -> bool {
        false
    }
}

impl Spoken for &'static str {
    fn number(&self, _units: UnitSystem) -> Cow<'_, str> {
        Cow::Borrowed(self)
    }

    fn is_number(&self) -> bool {
        false
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// 1 kg/ha is 0.892179 lb/ac, 1 m2 10.7639 ft2, 1 kg 2.20462 lb, 1 m 3.28084 ft or 39.3701 in, 1 g 0.035274 oz
    /// (NIST Handbook 44, Appendix C). 45 g a thousand are 453592.37/45 seeds a pound.
    #[test]
    fn both_systems_say_the_same_amount() {
        let both = |of: &dyn Spoken| {
            let said = |units| {
                format!("{} {}", of.number(units), of.unit(units))
                    .trim_end()
                    .to_owned()
            };
            [said(UnitSystem::Metric), said(UnitSystem::UsCustomary)]
        };
        let quantities: [(&dyn Spoken, [&str; 2]); 13] = [
            (&Rate(160.0), ["160 kg/ha", "142.7 lb/ac"]),
            (&Rate(3.456), ["3.46 kg/ha", "3.08 lb/ac"]),
            (&GivenRate(37.125), ["37.125 kg/ha", "33.1 lb/ac"]),
            (&GivenDensity(301.4), ["301.4 m2", "28 ft2"]),
            (&Density(301.4), ["301 m2", "28 ft2"]),
            (&GrainWeight(45.0), ["45 g", "10080 seeds/lb"]),
            (&GivenMass(25.0), ["25 kg", "55.1 lb"]),
            (&GivenLength(6.0), ["6 m", "19.69 ft"]),
            (&RowWidth(0.1524), ["0.1524 m", "6 in"]),
            // 4 g/m are 121.92 g on 100 ft: 4.3006 oz.
            (&RowLoad(4.0), ["4 g per m", "4.3 oz per 100 ft"]),
            (&Yield(8.0), ["8 t/ha", "7137 lb/ac"]),
            (&Given(95.5), ["95.5", "95.5"]),
            (&Number(99.96, 1), ["100", "100"]),
        ];
        for (of, wanted) in quantities {
            assert_eq!(both(of), wanted, "{of:?}");
        }
    }
}
