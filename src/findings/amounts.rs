//! Quantities in messages: in the units that the job's pages have.

use super::number;
use crate::units::{
    KG_PER_LB, M_PER_FOOT, M_PER_INCH, M_PER_MILE, M2_PER_ACRE, M2_PER_FT2, M2_PER_HA, UnitSystem,
    lb_per_acre_from_kg_per_ha,
};

/// To the whole number above and below. What arithmetic leaves beyond one is none of its own: 14 km/h stay 14.
const UP: fn(f64) -> f64 = |value| (value - 1e-9).ceil();
const DOWN: fn(f64) -> f64 = |value| (value + 1e-9).floor();

/// A quantity with its unit, from the metric one; with so many decimals where that is an argument.
impl UnitSystem {
    /// From kg/ha: `160.00 kg/ha`, `142.75 lb/ac`.
    pub fn rate(self, kg_per_ha: f64, decimals: usize) -> String {
        match self {
            Self::Metric => format!("{kg_per_ha:.decimals$} kg/ha"),
            Self::UsCustomary => {
                let shown = lb_per_acre_from_kg_per_ha(kg_per_ha);
                format!("{shown:.decimals$} lb/ac")
            }
        }
    }

    /// From kg: `27 kg`, `60 lb`.
    pub fn mass(self, kg: f64, decimals: usize) -> String {
        match self {
            Self::Metric => format!("{kg:.decimals$} kg"),
            Self::UsCustomary => format!("{:.decimals$} lb", kg / KG_PER_LB),
        }
    }

    /// From kg that are more, or with a minus less: `+0.4 kg`.
    pub fn more_mass(self, kg: f64, decimals: usize) -> String {
        match self {
            Self::Metric => format!("{kg:+.decimals$} kg"),
            Self::UsCustomary => format!("{:+.decimals$} lb", kg / KG_PER_LB),
        }
    }

    /// From m2: `1.25 ha`, `3.09 ac`.
    pub fn area(self, m2: f64, decimals: usize) -> String {
        match self {
            Self::Metric => format!("{:.decimals$} ha", m2 / M2_PER_HA),
            Self::UsCustomary => format!("{:.decimals$} ac", m2 / M2_PER_ACRE),
        }
    }

    /// A small area, from m2: `24.0 m2`, `258.3 ft2`.
    pub fn small_area(self, m2: f64, decimals: usize) -> String {
        match self {
            Self::Metric => format!("{m2:.decimals$} m2"),
            Self::UsCustomary => format!("{:.decimals$} ft2", m2 / M2_PER_FT2),
        }
    }

    /// A small area as the job gives it, in m2; in whole ft2.
    pub fn given_small_area(self, m2: f64) -> String {
        match self {
            Self::Metric => format!("{} m2", number(m2)),
            Self::UsCustomary => self.small_area(m2, 0),
        }
    }

    /// A width in the soil or between lines, from m: `25 mm`, in inches to a hundredth: `0.98 in`.
    pub fn small_length(self, m: f64) -> String {
        match self {
            Self::Metric => format!("{} mm", number(m * 1_000.0)),
            Self::UsCustomary => {
                format!("{} in", number((m / M_PER_INCH * 100.0).round() / 100.0))
            }
        }
    }

    /// From m that are more to one side, or with a minus to the other: `+0.52 m`.
    pub fn more_length(self, m: f64, decimals: usize) -> String {
        match self {
            Self::Metric => format!("{m:+.decimals$} m"),
            Self::UsCustomary => format!("{:+.decimals$} ft", m / M_PER_FOOT),
        }
    }

    /// The same for hardly anything: `+1.5 mm`, in inches to a hundredth: `+0.06 in`.
    pub fn more_small_length(self, m: f64) -> String {
        match self {
            Self::Metric => format!("{:+.1} mm", m * 1_000.0),
            Self::UsCustomary => format!("{:+.2} in", m / M_PER_INCH),
        }
    }

    /// From m: `8.0 m`, `26.2 ft`.
    pub fn length(self, m: f64, decimals: usize) -> String {
        match self {
            Self::Metric => format!("{m:.decimals$} m"),
            Self::UsCustomary => format!("{:.decimals$} ft", m / M_PER_FOOT),
        }
    }

    /// A length as the job gives it, in m: `7.2 m`, in feet to a hundredth: `23.62 ft`.
    pub fn given_length(self, m: f64) -> String {
        match self {
            Self::Metric => format!("{} m", number(m)),
            Self::UsCustomary => format!("{} ft", number((m / M_PER_FOOT * 100.0).round() / 100.0)),
        }
    }

    /// A rate as the job gives it, in kg/ha: `160 kg/ha`, in lb/ac to a tenth: `142.7 lb/ac`.
    pub fn given_rate(self, kg_per_ha: f64) -> String {
        match self {
            Self::Metric => format!("{} kg/ha", number(kg_per_ha)),
            Self::UsCustomary => {
                let shown = lb_per_acre_from_kg_per_ha(kg_per_ha);
                format!("{} lb/ac", number((shown * 10.0).round() / 10.0))
            }
        }
    }

    /// A least rate, from kg/ha, to the tenth above.
    pub fn rate_at_least(self, kg_per_ha: f64) -> String {
        self.rounded_rate(kg_per_ha, UP)
    }

    /// A highest rate, from kg/ha, to the tenth below.
    pub fn rate_at_most(self, kg_per_ha: f64) -> String {
        self.rounded_rate(kg_per_ha, DOWN)
    }

    fn rounded_rate(self, kg_per_ha: f64, tenths: fn(f64) -> f64) -> String {
        let (shown, unit) = match self {
            Self::Metric => (kg_per_ha, "kg/ha"),
            Self::UsCustomary => (lb_per_acre_from_kg_per_ha(kg_per_ha), "lb/ac"),
        };
        format!("{} {unit}", number(tenths(shown * 10.0) / 10.0))
    }

    /// A least speed, from km/h, to the tenth above: `2.9 km/h`.
    pub fn speed_at_least(self, km_per_h: f64) -> String {
        self.speed(km_per_h, UP)
    }

    /// A highest speed, from km/h, to the tenth below: `14 km/h`.
    pub fn speed_at_most(self, km_per_h: f64) -> String {
        self.speed(km_per_h, DOWN)
    }

    /// A speed as the job gives it, from km/h; in mph to a tenth.
    pub fn given_speed(self, km_per_h: f64) -> String {
        match self {
            Self::Metric => format!("{} km/h", number(km_per_h)),
            Self::UsCustomary => self.speed(km_per_h, f64::round),
        }
    }

    fn speed(self, km_per_h: f64, tenths: fn(f64) -> f64) -> String {
        let (shown, unit) = match self {
            Self::Metric => (km_per_h, "km/h"),
            Self::UsCustomary => (km_per_h * 1_000.0 / M_PER_MILE, "mph"),
        };
        format!("{} {unit}", number(tenths(shown * 10.0) / 10.0))
    }

    /// A flow as the job gives it, from kg/min; in lb/min to a tenth.
    pub fn given_flow(self, kg_per_min: f64) -> String {
        match self {
            Self::Metric => format!("{} kg/min", number(kg_per_min)),
            Self::UsCustomary => {
                let shown = kg_per_min / KG_PER_LB;
                format!("{} lb/min", number((shown * 10.0).round() / 10.0))
            }
        }
    }

    /// A range of flows, from kg/min: `3.10 to 12.40 kg/min`.
    pub fn flows(self, low: f64, high: f64, decimals: usize) -> String {
        let low = match self {
            Self::Metric => low,
            Self::UsCustomary => low / KG_PER_LB,
        };
        format!("{low:.decimals$} to {}", self.flow(high, decimals))
    }

    /// A flow, from kg/min: `12.4 kg/min`.
    pub fn flow(self, kg_per_min: f64, decimals: usize) -> String {
        match self {
            Self::Metric => format!("{kg_per_min:.decimals$} kg/min"),
            Self::UsCustomary => format!("{:.decimals$} lb/min", kg_per_min / KG_PER_LB),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// 1 kg/ha is 0.8922 lb/ac, 1 lb 0.45359 kg, 1 ac 0.40469 ha, 1 ft 0.3048 m, 1 mi 1.60934 km
    /// (NIST Handbook 44, Appendix C).
    #[test]
    fn quantities_are_those_of_the_published_factors() {
        let (metric, us) = (UnitSystem::Metric, UnitSystem::UsCustomary);
        assert_eq!(metric.rate(1_000.0, 2), "1000.00 kg/ha");
        assert_eq!(us.rate(1_000.0, 1), "892.2 lb/ac");
        assert_eq!(us.given_rate(1_000.0), "892.2 lb/ac");
        assert_eq!(metric.given_rate(37.5), "37.5 kg/ha");
        assert_eq!(us.mass(453.592_37, 0), "1000 lb");
        assert_eq!(us.more_mass(-4.535_923_7, 1), "-10.0 lb");
        assert_eq!(metric.more_mass(0.44, 1), "+0.4 kg");
        assert_eq!(us.area(4_046.856_422_4, 2), "1.00 ac");
        assert_eq!(us.small_area(0.092_903_04, 1), "1.0 ft2");
        assert_eq!(us.length(3.048, 1), "10.0 ft");
        assert_eq!(
            (metric.small_length(0.025), us.small_length(0.025)),
            ("25 mm".into(), "0.98 in".into())
        );
        assert_eq!(
            (metric.more_length(-0.5, 2), us.more_length(0.3048, 1)),
            ("-0.50 m".into(), "+1.0 ft".into())
        );
        assert_eq!(
            (
                metric.more_small_length(0.0015),
                us.more_small_length(-0.0254)
            ),
            ("+1.5 mm".into(), "-1.00 in".into())
        );
        assert_eq!(
            (metric.given_length(7.2), us.given_length(9.144)),
            ("7.2 m".into(), "30 ft".into())
        );
        // A least goes up, a most goes down.
        assert_eq!(metric.speed_at_least(2.84), "2.9 km/h");
        assert_eq!(metric.speed_at_most(14.06), "14 km/h");
        assert_eq!(metric.speed_at_most(14.0), "14 km/h");
        assert_eq!(us.speed_at_least(16.093_44), "10 mph");
        assert_eq!(us.speed_at_least(16.1), "10.1 mph");
        assert_eq!(us.given_speed(8.0), "5 mph");
        assert_eq!(us.rate_at_most(112.085), "99.9 lb/ac");
        assert_eq!(metric.rate_at_least(37.21), "37.3 kg/ha");
        assert_eq!(metric.given_flow(30.0), "30 kg/min");
        assert_eq!(metric.flows(3.1, 12.4, 2), "3.10 to 12.40 kg/min");
        assert_eq!(us.flow(0.453_592_37, 2), "1.00 lb/min");
    }
}
