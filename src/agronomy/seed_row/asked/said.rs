//! What a table says about everything that lies with the seed.

use super::Source;
use crate::agronomy::nutrient;
use crate::agronomy::seed_row::case::Part;
use crate::agronomy::seed_safe::Answer;
use crate::job::{AboveLimit, Nutrient};

/// What a table adds up.
#[derive(Debug, Clone, PartialEq)]
pub enum Counted {
    Nutrients(Vec<Nutrient>),
    Product,
}

impl Counted {
    /// The key for all that is laid, whatever it brings.
    pub const PRODUCT: &str = "product";

    /// What a part brings of it, kg/ha.
    pub fn of(&self, part: &Part) -> f64 {
        match self {
            Self::Product => part.kg_per_ha,
            Self::Nutrients(nutrients) => part.brings(nutrients),
        }
    }

    pub fn words(&self) -> String {
        match self {
            Self::Product => Self::PRODUCT.to_owned(),
            Self::Nutrients(nutrients) => {
                let symbols: Vec<&str> = nutrients.iter().map(|of| nutrient::symbol(*of)).collect();
                symbols.join(" + ")
            }
        }
    }
}

/// What a table says about everything that lies with the seed.
#[derive(Clone)]
pub struct Said<'a> {
    pub(super) source: Source<'a>,
    /// The job names the table; else it is one of all that are built in.
    pub named: bool,
    pub above: AboveLimit,
    pub counted: Counted,
    /// Of that, what would lie with the seed, kg/ha.
    pub wanted_kg_per_ha: f64,
    pub spread_m: f64,
    pub answer: Answer,
    /// The table is made for an ammonium phosphate, whose N its limit holds as well.
    pub(super) of_ammonium_phosphate: bool,
}

impl Said<'_> {
    /// Title of the table.
    pub fn title(&self) -> &str {
        match self.source {
            Source::Table(table) => &table.title,
            Source::Equation(slopes, _) => &slopes.title,
        }
    }

    /// Who publishes it, in words.
    pub fn published(&self) -> String {
        match self.source {
            Source::Table(table) => {
                format!("{}, {}: {}", table.publisher, table.title, table.source)
            }
            Source::Equation(slopes, _) => format!("{}, {}", slopes.publisher, slopes.title),
        }
    }

    /// Conditions that the publisher states.
    pub fn note(&self) -> &str {
        match self.source {
            Source::Table(table) => &table.note,
            Source::Equation(slopes, _) => &slopes.note,
        }
    }

    /// The most of what is counted, kg/ha: the limit, or the ceiling of a milder case.
    pub fn most_kg_per_ha(&self) -> Option<f64> {
        match &self.answer {
            Answer::Limit(limit) => Some(limit.kg_per_ha),
            Answer::NotCovered(of) => of.ceiling_kg_per_ha,
        }
    }

    /// The part of what is wanted that this allows; infinite where it says nothing.
    pub(super) fn share(&self) -> f64 {
        match self.most_kg_per_ha() {
            Some(most) if self.wanted_kg_per_ha > 0.0 => most / self.wanted_kg_per_ha,
            _ => f64::INFINITY,
        }
    }

    pub(super) fn covers(&self) -> bool {
        matches!(self.answer, Answer::Limit(_))
    }

    /// Whether it holds what a part brings of a nutrient.
    pub(super) fn holds(&self, part: &Part, of: Nutrient) -> bool {
        match &self.counted {
            Counted::Product => true,
            Counted::Nutrients(counts) => {
                counts.contains(&of)
                    || of == Nutrient::N
                        && self.of_ammonium_phosphate
                        && part.is_ammonium_phosphate()
            }
        }
    }

    /// The same with a remark in the words of its cell.
    pub(super) fn remarked(mut self, remark: &str) -> Self {
        match &mut self.answer {
            Answer::Limit(limit) => limit.cell.push_str(remark),
            Answer::NotCovered(of) => of.why.push_str(remark),
        }
        self
    }
}

/// The strictest share of several.
pub fn least_share(all: &[Said]) -> f64 {
    all.iter().map(Said::share).fold(f64::INFINITY, f64::min)
}
