//! Numbers as people read them, metric or US customary, with the place in `plan.json` they come from.

use crate::findings::without_zeros;
use crate::job::{Language, ReportSettings, UnitSystem};
use crate::units::{self, M2_PER_HA};
use serde_json::{Value, json};

/// With a blank between groups of three digits: `12 345.6`. The blank does not break.
pub fn grouped(number: f64, decimals: usize) -> String {
    let plain = format!("{:.*}", decimals, number.abs());
    let (whole, fraction) = plain
        .split_once('.')
        .map_or((plain.as_str(), None), |(w, f)| (w, Some(f)));
    let mut text = String::new();
    for (n, digit) in whole.chars().enumerate() {
        if n > 0 && (whole.len() - n).is_multiple_of(3) {
            text.push('\u{a0}');
        }
        text.push(digit);
    }
    if let Some(fraction) = fraction {
        text.push('.');
        text.push_str(fraction);
    }
    let is_zero = plain.bytes().all(|byte| matches!(byte, b'0' | b'.'));
    if number < 0.0 && !is_zero {
        format!("-{text}")
    } else {
        text
    }
}

/// Square metres as hectares, to 0.01 ha; smaller land to the square metre.
pub fn hectares(m2: f64) -> String {
    area_text(m2, M2_PER_HA)
}

/// Kilograms: whole ones, below 10 kg to 0.1 kg.
pub fn kilograms(kg: f64) -> String {
    grouped(kg, usize::from(kg.abs() < 10.0 && kg != 0.0))
}

/// A rate with the decimals it has, at most two.
pub fn rate(kg_per_ha: f64) -> String {
    trimmed(kg_per_ha, 2)
}

fn area_text(m2: f64, each: f64) -> String {
    let decimals = if m2.abs() < 1000.0 && m2 != 0.0 { 4 } else { 2 };
    grouped(m2 / each, decimals)
}

/// Without zeros at the end.
fn trimmed(number: f64, decimals: usize) -> String {
    let text = grouped(number, decimals);
    without_zeros(&text).to_owned()
}

/// To which side the last digit of a number goes.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Rounded {
    /// To the nearer one.
    Nearest,
    /// For a least that has to be kept.
    Up,
    /// For a most that has to be kept.
    Down,
}

/// How the report and the screen write quantities, in the units and with the marks of a language. Each number of the report is `{ text, value, from }`: as shown, as in
/// the plan (metric), and its JSON pointer in `plan.json` (empty where it is worked out).
#[derive(Debug, Clone, Copy)]
pub struct Numbers {
    us: bool,
    language: Language,
}

impl Numbers {
    /// In metric units and English, where there is no job.
    pub const METRIC: Self = Self {
        us: false,
        language: Language::En,
    };

    /// In the units of a job, in English.
    pub fn of(units: UnitSystem) -> Self {
        Self {
            us: units == UnitSystem::UsCustomary,
            ..Self::METRIC
        }
    }

    /// As the pages of a job have them.
    pub fn of_pages(report: ReportSettings) -> Self {
        Self::of(report.units).in_language(report.language)
    }

    /// The same in a language.
    pub fn in_language(self, language: Language) -> Self {
        Self { language, ..self }
    }

    /// The language that they are written in.
    pub fn language(&self) -> Language {
        self.language
    }

    fn word(&self, metric: &'static str, us: &'static str) -> &'static str {
        if self.us {
            us
        } else {
            self.language.unit(metric)
        }
    }

    /// A number that has no unit system, with this many decimals: money, hours, pieces.
    pub fn grouped(&self, number: f64, decimals: usize) -> String {
        self.language.number(&grouped(number, decimals))
    }

    /// Without zeros at the end.
    fn trimmed(&self, number: f64, decimals: usize) -> String {
        self.language.number(&trimmed(number, decimals))
    }

    /// From one number to another, as texts.
    pub fn span(&self, low: &str, high: &str) -> String {
        match self.language {
            Language::En => format!("{low} to {high}"),
            _ => format!("{low}–{high}"),
        }
    }

    /// `kg/ha` or `lb/ac`.
    pub fn rate_unit(&self) -> &'static str {
        self.word("kg/ha", "lb/ac")
    }

    /// `kg` or `lb`.
    pub fn mass_unit(&self) -> &'static str {
        self.word("kg", "lb")
    }

    /// `ha` or `ac`.
    pub fn area_unit(&self) -> &'static str {
        self.word("ha", "ac")
    }

    /// `km/h` or `mph`.
    pub fn speed_unit(&self) -> &'static str {
        self.word("km/h", "mph")
    }

    /// `m` or `ft`.
    pub fn length_unit(&self) -> &'static str {
        self.word("m", "ft")
    }

    /// `km` or `mi`.
    pub fn way_unit(&self) -> &'static str {
        self.word("km", "mi")
    }

    /// `kg/min` or `lb/min`.
    pub fn flow_unit(&self) -> &'static str {
        self.word("kg/min", "lb/min")
    }

    /// `l` or `bu`.
    pub fn volume_unit(&self) -> &'static str {
        self.word("l", "bu")
    }

    /// `m2` or `ft2`: letters that every terminal has.
    pub fn spot_unit(&self) -> &'static str {
        self.word("m2", "ft2")
    }

    /// Names of the units.
    pub(super) fn words(&self) -> Value {
        let name = |metric, us| self.word(metric, us);
        json!({
            "rate": self.rate_unit(),
            "mass": self.mass_unit(),
            "area": self.area_unit(),
            "length": self.length_unit(),
            "speed": self.speed_unit(),
            "flow": self.flow_unit(),
            "volume": self.volume_unit(),
            "spot": name("m²", "ft²"),
            "depth": name("mm", "in"),
            "level": self.language.unit("cm"),
            "yield": self.language.unit("t/ha"),
            "hectare": self.language.unit("ha"),
        })
    }

    /// Whether in US customary units.
    pub fn is_us(&self) -> bool {
        self.us
    }

    fn number(&self, value: f64, from: impl Into<String>, text: String) -> Value {
        // As text: every bit of the number has to get through the template.
        json!({
            "value": value.to_string(),
            "from": from.into(),
            "text": text.replace('-', "\u{2212}"),
        })
    }

    /// A rate, from kg/ha.
    pub(super) fn rate(&self, kg_per_ha: f64, from: impl Into<String>) -> Value {
        self.number(kg_per_ha, from, self.rate_text(kg_per_ha))
    }

    /// A rate as text, from kg/ha, without its unit; so are the others.
    pub fn rate_text(&self, kg_per_ha: f64) -> String {
        match self.us {
            true => self.trimmed(units::lb_per_acre_from_kg_per_ha(kg_per_ha), 1),
            false => self.language.number(&rate(kg_per_ha)),
        }
    }

    /// A mass, from kg.
    pub(super) fn mass(&self, kg: f64, from: impl Into<String>) -> Value {
        self.number(kg, from, self.mass_text(kg))
    }

    /// From kg.
    pub fn mass_text(&self, kg: f64) -> String {
        self.language.number(&kilograms(self.mass_of(kg)))
    }

    /// From kg.
    fn mass_of(&self, kg: f64) -> f64 {
        if self.us { units::lb_from_kg(kg) } else { kg }
    }

    /// A small mass, from kg, to 0.01.
    pub(super) fn catch(&self, kg: f64) -> Value {
        self.number(kg, "", self.weighed_text(kg, 2))
    }

    /// An area, from m2.
    pub(super) fn area(&self, m2: f64, from: impl Into<String>) -> Value {
        self.number(m2, from, self.area_text(m2))
    }

    /// From m2.
    pub fn area_text(&self, m2: f64) -> String {
        let text = match self.us {
            true => area_text(m2, units::M2_PER_ACRE),
            false => hectares(m2),
        };
        self.language.number(&text)
    }

    /// Hectares of a fill.
    pub(super) fn hectares(&self, ha: f64, from: impl Into<String>) -> Value {
        self.number(ha, from, self.fill_area_text(ha))
    }

    /// Land that a fill lasts for, from ha, to a tenth.
    pub fn fill_area_text(&self, ha: f64) -> String {
        let shown = if self.us {
            units::acres_from_ha(ha)
        } else {
            ha
        };
        self.grouped(shown, 1)
    }

    /// A length, from m.
    pub(super) fn length(&self, m: f64, from: impl Into<String>) -> Value {
        self.number(m, from, self.length_text(m))
    }

    /// From m, to a tenth.
    pub fn length_text(&self, m: f64) -> String {
        self.trimmed(if self.us { m / units::M_PER_FOOT } else { m }, 1)
    }

    /// A way, from m: kilometres or miles, to a hundredth.
    pub fn way_text(&self, m: f64) -> String {
        let each = if self.us { units::M_PER_MILE } else { 1_000.0 };
        self.grouped(m / each, 2)
    }

    /// A depth in the soil, from mm.
    pub(super) fn depth(&self, mm: f64, from: impl Into<String>) -> Value {
        let text = match self.us {
            true => self.trimmed(units::inches_from_m(mm / 1_000.0), 2),
            false => self.trimmed(mm, 0),
        };
        self.number(mm, from, text)
    }

    /// A speed, from km/h.
    pub(super) fn speed(&self, km_per_h: f64, from: impl Into<String>) -> Value {
        self.bound_of_speed(km_per_h, Rounded::Nearest, from)
    }

    /// The same for a speed that must not be left to one side.
    pub(super) fn bound_of_speed(
        &self,
        km_per_h: f64,
        rounded: Rounded,
        from: impl Into<String>,
    ) -> Value {
        self.number(km_per_h, from, self.speed_text(km_per_h, rounded))
    }

    /// From km/h, to a tenth.
    pub fn speed_text(&self, km_per_h: f64, rounded: Rounded) -> String {
        let shown = match self.us {
            true => km_per_h * 1_000.0 / units::M_PER_MILE,
            false => km_per_h,
        };
        // What arithmetic leaves beyond a tenth is none of its own: 14 km/h stay 14.
        let tenths = shown * 10.0;
        let tenths = match rounded {
            Rounded::Nearest => tenths,
            Rounded::Up => (tenths - 1e-9).ceil(),
            Rounded::Down => (tenths + 1e-9).floor(),
        };
        self.trimmed(tenths / 10.0, 1)
    }

    /// A flow, from kg/min.
    pub(super) fn flow(&self, kg_per_min: f64, from: impl Into<String>) -> Value {
        self.number(kg_per_min, from, self.flow_text(kg_per_min, 1))
    }

    /// From kg/min.
    pub fn flow_text(&self, kg_per_min: f64, decimals: usize) -> String {
        self.grouped(self.mass_of(kg_per_min), decimals)
    }

    /// A small area, from m2.
    pub(super) fn spot(&self, m2: f64) -> Value {
        self.number(m2, "", self.spot_text(m2))
    }

    /// From m2, to the square metre or the square foot.
    pub fn spot_text(&self, m2: f64) -> String {
        self.grouped(if self.us { m2 / units::M2_PER_FT2 } else { m2 }, 0)
    }

    /// A small mass, from kg.
    pub fn weighed_text(&self, kg: f64, decimals: usize) -> String {
        self.grouped(self.mass_of(kg), decimals)
    }

    /// Plants or seeds on an area, from their number on a square metre: whole ones, on a square foot to a tenth.
    pub fn density_text(&self, per_m2: f64) -> String {
        match self.us {
            true => self.grouped(per_m2 * units::M2_PER_FT2, 1),
            false => self.grouped(per_m2, 0),
        }
    }

    /// A volume, from l: whole litres, bushels to a tenth.
    pub fn volume_text(&self, litres: f64) -> String {
        match self.us {
            true => self.grouped(litres / units::L_PER_US_BUSHEL, 1),
            false => self.grouped(litres, 0),
        }
    }

    /// Degrees of longitude or latitude: with a point in every language, as receivers show them, so that two stand beside
    /// each other with a comma between.
    pub(super) fn degrees(&self, degrees: f64, from: impl Into<String>) -> Value {
        self.number(degrees, from, trimmed(degrees, 6))
    }

    /// A number without unit.
    pub(super) fn plain(&self, number: f64, decimals: usize, from: impl Into<String>) -> Value {
        self.number(number, from, self.trimmed(number, decimals))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn digits_stand_in_groups() {
        assert_eq!(grouped(1_234_567.891, 1), "1\u{a0}234\u{a0}567.9");
        assert_eq!(grouped(-999.0, 0), "-999");
        assert_eq!(grouped(-0.0001, 1), "0.0");
        assert_eq!(hectares(324_100.0), "32.41");
        assert_eq!(hectares(123.0), "0.0123");
        assert_eq!(kilograms(9.96), "10.0");
        assert_eq!(kilograms(0.0), "0");
        assert_eq!(
            (rate(160.0), rate(57.5), rate(0.0)),
            ("160".into(), "57.5".into(), "0".into())
        );
        assert_eq!(rate(1200.0), "1\u{a0}200");
    }

    #[test]
    fn a_language_has_its_own_marks_and_the_value_stays_for_programs() {
        let german = Numbers::of(UnitSystem::Metric).in_language(Language::De);
        let rate = german.rate(1_257.5, "/a");
        assert_eq!(rate["text"], "1\u{202f}257,5");
        assert_eq!(rate["value"], "1257.5");
        assert_eq!(german.mass_text(9.96), "10,0");
        assert_eq!(german.area_text(324_100.0), "32,41");
        assert_eq!(german.degrees(-8.5, "")["text"], "\u{2212}8.5");
        let ukrainian = Numbers::METRIC.in_language(Language::Uk);
        assert_eq!(ukrainian.rate_unit(), "кг/га");
        assert_eq!(german.rate_unit(), "kg/ha");
    }

    #[test]
    fn customary_units_are_shown_and_metric_ones_kept() {
        let us = Numbers::of(UnitSystem::UsCustomary);
        // 56 kg/ha are 50 lb/ac, 100 kg are 220 lb, 1 ha is 2.47 ac, 16.09344 km/h are 10 mph.
        assert_eq!(us.rate(56.0425, "/a")["text"], "50");
        assert_eq!(us.mass(100.0, "")["text"], "220");
        assert_eq!(us.area(10_000.0, "")["text"], "2.47");
        assert_eq!(us.speed(16.093_44, "")["text"], "10");
        assert_eq!(us.rate(56.0425, "/a")["value"], "56.0425");
        let window = |numbers: Numbers, low: f64, high: f64| {
            let low = numbers.speed_text(low, Rounded::Up);
            (low, numbers.speed_text(high, Rounded::Down))
        };
        // A window is never shown wider than it is.
        let metric = Numbers::of(UnitSystem::Metric);
        assert_eq!(window(metric, 2.84, 14.06), ("2.9".into(), "14".into()));
        assert_eq!(window(metric, 8.0, 12.0), ("8".into(), "12".into()));
        assert_eq!(window(us, 16.093_44, 16.093_44), ("10".into(), "10".into()));
        assert_eq!(metric.rate(56.0425, "/a")["text"], "56.04");
        assert_eq!(metric.rate(100.0, "")["text"], "100");
    }
}
