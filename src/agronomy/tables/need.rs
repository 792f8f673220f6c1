//! What a table recommends: the class of a laboratory value, and the need of a crop.

use super::{Amounts, Between, Crop, Index, Recommendations, Straw};
use crate::agronomy::{Why, nutrient, text};
use crate::findings::{Fault, Outcome, Place};
use crate::job::Nutrient;
use crate::texts::quantity::{Offtake, Rate, Yield};

/// A recommended amount of a nutrient and where it is from.
#[derive(Debug, Clone, PartialEq)]
pub struct Need {
    /// kg/ha of the nutrient.
    pub kg_per_ha: f64,
    /// The amount the table prints for this class, in kg/ha, before the yield counts.
    pub table_kg_per_ha: f64,
    /// Class of the index.
    pub class: String,
    /// One sentence with the numbers.
    pub(crate) said: Why,
    /// Publisher, title, edition, table.
    pub source: String,
}

impl Index {
    /// The class of a laboratory value in this index's unit.
    ///
    /// # Errors
    /// A value that is negative or not finite.
    pub fn class_of(&self, value: f64) -> Outcome<&str> {
        let rounded = match self.between {
            Between::Nearest => value.round(),
            Between::Lower => value,
        };
        let class = self.classes.iter().rev().find(|(_, from)| rounded >= *from);
        match class {
            Some((name, _)) if value.is_finite() && value >= 0.0 => Ok(name),
            _ => Err(Fault::input(
                "tables.value",
                Place::nowhere(),
                format!("{} is {value} {}", self.quantity, self.unit),
                "a number of 0 or more",
                "Correct the laboratory's value, or leave the sample out.",
            )),
        }
    }
}

impl Recommendations {
    /// The row of a crop. A table that makes no difference by straw answers for any.
    ///
    /// # Errors
    /// No such crop (with the nearest spelling), or not with this straw.
    pub fn crop(&self, name: &str, straw: Straw) -> Outcome<&Crop> {
        let row = self
            .crops
            .iter()
            .find(|crop| crop.name == name && (crop.straw == straw || crop.straw == Straw::Any));
        row.ok_or_else(|| {
            let names = || self.crops.iter().map(|crop| crop.name.as_str());
            let mut known: Vec<&str> = Vec::new();
            names().for_each(|name| {
                if !known.contains(&name) {
                    known.push(name)
                }
            });
            let meant = match names().any(|known| known == name) {
                true => "; it has this crop, but not for this fate of the straw".to_owned(),
                false => text::nearest(name, names())
                    .map(|near| format!("; did you mean '{near}'?"))
                    .unwrap_or_default(),
            };
            Fault::input(
                "tables.no_crop",
                Place::nowhere(),
                format!("{} has no amounts for the crop '{name}'", self.title),
                format!("{}{meant}", text::list(known)),
                "Name one of these crops, or another table.",
            )
        })
    }

    /// The need of a crop on land of a class, for its expected yield in t/ha (`None`: the table's yield).
    ///
    /// need = table amount + (yield - table's yield) x offtake per tonne, never below 0. An amount of 0 in the
    /// table stays 0: the soil has enough. Source: AHDB RB209 section 4 (June 2023), pages 21 and 35.
    ///
    /// # Errors
    /// A nutrient or class the table does not have; a yield where the table gives no offtake for it.
    pub fn need(
        &self,
        crop: &Crop,
        nutrient: Nutrient,
        class: &str,
        yield_t_per_ha: Option<f64>,
    ) -> Outcome<Need> {
        let symbol = nutrient::symbol(nutrient);
        let missing = |found: String, allowed: String| {
            Fault::input(
                "tables.no_amount",
                Place::nowhere(),
                found,
                allowed,
                "Correct the job, or name another table.",
            )
        };
        let amounts = crop
            .amounts
            .iter()
            .find(|(other, _)| *other == nutrient)
            .map(|(_, amounts)| amounts);
        let amounts: &Amounts = amounts.ok_or_else(|| {
            let known = crop
                .amounts
                .iter()
                .map(|(other, _)| nutrient::symbol(*other));
            missing(
                format!("{} has no {symbol} for {}", self.title, crop.name),
                text::list(known),
            )
        })?;
        let classes = self
            .indices
            .get(amounts.index)
            .map_or(&[][..], |index| &index.classes);
        let table = classes
            .iter()
            .zip(&amounts.kg_per_ha)
            .find(|((name, _), _)| name == class)
            .map(|(_, amount)| *amount);
        let table = table.ok_or_else(|| {
            let known = classes.iter().map(|(name, _)| name);
            missing(
                format!("{} has no class '{class}' for {symbol}", self.title),
                text::list(known),
            )
        })?;
        let (of, at) = (|| crop.name.clone(), || class.to_owned());
        let amount = || Why::Need {
            table: Rate(table),
            symbol,
            crop: of(),
            class: at(),
        };
        let (kg_per_ha, said) = match (
            yield_t_per_ha,
            crop.yield_t_per_ha,
            amounts.offtake_kg_per_t,
        ) {
            (None, ..) => (table, amount()),
            (Some(_), ..) if table == 0.0 => (
                0.0,
                Why::NeedAtAnyYield {
                    table: Rate(table),
                    symbol,
                    crop: of(),
                    class: at(),
                },
            ),
            (Some(wanted), Some(printed), _) if wanted == printed => (table, amount()),
            (Some(wanted), Some(printed), Some(offtake)) if wanted.is_finite() && wanted >= 0.0 => {
                let need = (table + (wanted - printed) * offtake).max(0.0);
                let said = Why::NeedForYield {
                    table: Rate(table),
                    symbol,
                    crop: of(),
                    class: at(),
                    sign: if wanted > printed { "+" } else { "-" },
                    yields: Yield((wanted - printed).abs()),
                    offtake: Offtake(offtake),
                    need: Rate(need),
                };
                (need, said)
            }
            (Some(wanted), ..) => {
                return Err(missing(
                    format!(
                        "a yield of {wanted} t/ha is set, and {} cannot adjust {} for it",
                        self.title, crop.name
                    ),
                    "a table with yield and offtake for the crop, and a yield of 0 or more"
                        .to_owned(),
                ));
            }
        };
        let source = format!(
            "{}, {}, {}, {}",
            self.publisher, self.title, self.edition, crop.source
        );
        Ok(Need {
            kg_per_ha,
            table_kg_per_ha: table,
            class: class.to_owned(),
            said,
            source,
        })
    }
}
