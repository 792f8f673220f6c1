//! Which column of a yield file holds what, in which unit.

use crate::findings::{Fault, Outcome, Place};
use crate::units::{KG_PER_LB, M_PER_FOOT, M_PER_INCH, M_PER_MILE, M2_PER_ACRE, M2_PER_HA};

/// What a column can hold.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Role {
    /// Mass per area.
    Yield,
    /// Mass per second, as harvested.
    Flow,
    /// Per cent of the wet weight.
    Moisture,
    /// Travel since the reading before.
    Distance,
    /// Width that was cut.
    Width,
    /// Speed of the harvester.
    Speed,
    /// Time of the reading.
    Time,
    /// Time since the reading before.
    Interval,
    /// 1 or true while the header is down.
    Header,
    /// Name of the combine.
    Machine,
    /// Day or load that was weighed together.
    Load,
    /// What was tried: a rate or a name.
    Treatment,
    /// Block, replicate or pair.
    Block,
}

impl Role {
    /// All of them.
    pub const ALL: [Self; 13] = [
        Self::Yield,
        Self::Flow,
        Self::Moisture,
        Self::Distance,
        Self::Width,
        Self::Speed,
        Self::Time,
        Self::Interval,
        Self::Header,
        Self::Machine,
        Self::Load,
        Self::Treatment,
        Self::Block,
    ];

    /// The word for it on the command line.
    pub fn word(self) -> &'static str {
        match self {
            Self::Yield => "yield",
            Self::Flow => "flow",
            Self::Moisture => "moisture",
            Self::Distance => "distance",
            Self::Width => "width",
            Self::Speed => "speed",
            Self::Time => "time",
            Self::Interval => "interval",
            Self::Header => "header",
            Self::Machine => "machine",
            Self::Load => "load",
            Self::Treatment => "treatment",
            Self::Block => "block",
        }
    }

    /// The units it may have, with the factor to kg/ha, kg/s, m, m/s or s; none where it has no unit.
    fn units(self) -> &'static [(&'static str, Unit)] {
        match self {
            Self::Yield => &[
                ("kg/ha", Unit::Factor(1.0)),
                ("t/ha", Unit::Factor(1_000.0)),
                ("dt/ha", Unit::Factor(100.0)),
                ("lb/ac", Unit::Factor(KG_PER_LB * M2_PER_HA / M2_PER_ACRE)),
                ("bu/ac", Unit::Bushels(M2_PER_HA / M2_PER_ACRE)),
            ],
            Self::Flow => &[
                ("kg/s", Unit::Factor(1.0)),
                ("t/h", Unit::Factor(1.0 / 3.6)),
                ("lb/s", Unit::Factor(KG_PER_LB)),
                ("bu/h", Unit::Bushels(1.0 / 3_600.0)),
            ],
            Self::Distance | Self::Width => &[
                ("m", Unit::Factor(1.0)),
                ("cm", Unit::Factor(0.01)),
                ("ft", Unit::Factor(M_PER_FOOT)),
                ("in", Unit::Factor(M_PER_INCH)),
            ],
            Self::Speed => &[
                ("m/s", Unit::Factor(1.0)),
                ("km/h", Unit::Factor(1.0 / 3.6)),
                ("mph", Unit::Factor(M_PER_MILE / 3_600.0)),
            ],
            Self::Interval => &[("s", Unit::Factor(1.0)), ("ms", Unit::Factor(0.001))],
            _ => &[],
        }
    }
}

/// How a unit becomes ours.
#[derive(Debug, Clone, Copy, PartialEq)]
enum Unit {
    Factor(f64),
    /// Times the weight of a bushel.
    Bushels(f64),
}

/// The columns of the files, by role.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Columns {
    of: Vec<(Role, String, f64)>,
}

impl Columns {
    /// From texts `ROLE=COLUMN` or `ROLE=COLUMN:UNIT`, such as `flow=mass:lb/s`. A unit is never guessed.
    ///
    /// # Errors
    /// A role or unit that is not known, a missing unit, a role given twice, bushels without their weight.
    pub fn parse(texts: &[String], bushel_kg: Option<f64>) -> Outcome<Self> {
        let mut columns = Self::default();
        for text in texts {
            let (word, rest) = text.split_once('=').ok_or_else(|| {
                bad(
                    text,
                    "ROLE=COLUMN or ROLE=COLUMN:UNIT, such as --column flow=mass:lb/s",
                )
            })?;
            let role = Role::ALL
                .into_iter()
                .find(|role| role.word() == word.trim())
                .ok_or_else(|| {
                    let words: Vec<&str> = Role::ALL.iter().map(|role| role.word()).collect();
                    bad(
                        text,
                        &format!("one of these before the equals sign: {}", words.join(", ")),
                    )
                })?;
            let (column, unit) = match rest.rsplit_once(':') {
                Some((column, unit)) => (column.trim(), unit.trim()),
                None => (rest.trim(), ""),
            };
            let units = role.units();
            let named: Vec<&str> = units.iter().map(|(name, _)| *name).collect();
            let factor = match units.iter().find(|(name, _)| *name == unit) {
                Some((_, Unit::Factor(factor))) => *factor,
                Some((_, Unit::Bushels(factor))) => factor * bushel_kg.ok_or_else(|| {
                    bad(
                        text,
                        "bushels together with --bushel-lb, the pounds in a bushel of this crop",
                    )
                })?,
                None if units.is_empty() && unit.is_empty() => 1.0,
                None if units.is_empty() => return Err(bad(text, "no unit for this one")),
                None => {
                    return Err(bad(
                        text,
                        &format!("a unit after the column, one of: {}", named.join(", ")),
                    ));
                }
            };
            if column.is_empty() || columns.of.iter().any(|(own, ..)| *own == role) {
                return Err(bad(text, "each of them once, with the name of a column"));
            }
            columns.of.push((role, column.to_owned(), factor));
        }
        let has = |role| columns.named(role).is_some();
        if has(Role::Yield) == has(Role::Flow) {
            return Err(bad(
                &texts.join(" "),
                "either the yield or the flow of the files, such as --column yield=Yield:t/ha",
            ));
        }
        Ok(columns)
    }

    /// Entries of the data dictionary in place of columns, in our units already.
    pub(super) fn of(entries: impl Iterator<Item = (Role, u16)>) -> Self {
        let of = entries.map(|(role, entry)| (role, format!("entry {entry}"), 1.0));
        Self { of: of.collect() }
    }

    /// Name of the column with this role, and the factor to our unit.
    pub fn named(&self, role: Role) -> Option<(&str, f64)> {
        let found = self.of.iter().find(|(own, ..)| *own == role);
        found.map(|(_, name, factor)| (name.as_str(), *factor))
    }
}

fn bad(text: &str, allowed: &str) -> Box<Fault> {
    Fault::input(
        "harvest.column",
        Place::nowhere(),
        format!("--column is given as '{text}'"),
        allowed,
        "Correct the command; 'twinsow describe FILE' lists the columns of a file.",
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    fn of(texts: &[&str]) -> Outcome<Columns> {
        let texts: Vec<String> = texts.iter().map(|text| (*text).to_owned()).collect();
        Columns::parse(&texts, Some(56.0 * KG_PER_LB))
    }

    #[test]
    fn units_become_ours() {
        let columns = of(&["yield=Yld:bu/ac", "width=Swath:ft", "moisture=H2O"]).unwrap();
        // 100 bu/ac of maize are 6 277 kg/ha (56 lb, NIST Handbook 44 units; Iowa State University C6-80: 62.77 kg/ha per bu/ac).
        let (name, factor) = columns.named(Role::Yield).unwrap();
        assert_eq!(name, "Yld");
        assert!((factor - 62.77).abs() < 0.005, "{factor}");
        assert_eq!(columns.named(Role::Width).unwrap().1, 0.3048);
        assert_eq!(columns.named(Role::Moisture), Some(("H2O", 1.0)));
        assert_eq!(columns.named(Role::Time), None);
    }

    #[test]
    fn what_is_not_said_is_asked_for() {
        for (texts, allowed) in [
            (&["yield=Yld"][..], "t/ha"),
            (&["yields=Yld:t/ha"], "moisture"),
            (&["yield"], "ROLE=COLUMN"),
            (&["yield=a:t/ha", "yield=b:t/ha"], "once"),
            (&["yield=a:t/ha", "flow=b:kg/s"], "either"),
            (&["moisture=a"], "either"),
            (&["yield=a:t/ha", "moisture=a:g"], "no unit"),
        ] {
            let fault = of(texts).unwrap_err();
            assert!(fault.allowed.contains(allowed), "{texts:?}: {fault}");
        }
    }
}
