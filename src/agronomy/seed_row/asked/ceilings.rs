//! Bounds from beside the case: tenderer crops, hardier crops, and the strictest that is published at all.

use super::said::{Counted, Said, least_share};
use super::tables::of_ammonium_phosphate;
use super::{Ask, Asked, Reading, Source};
use crate::agronomy::crop_tolerance::{self, Crop, Group};
use crate::agronomy::seed_row::case::{Case, Part};
use crate::agronomy::seed_safe::strictness::{TEXTURES, Texture};
use crate::agronomy::seed_safe::{self, Answer, Limit, Table, lowest_kg_per_ha};
use crate::findings::{Fault, Outcome, Place};
use crate::job::AboveLimit;

impl<'a> Asked<'a> {
    /// What the tenderer crop that bears most may have, where its tables hold everything.
    pub(super) fn tenderer(&self) -> Outcome<Option<Vec<Said<'a>>>> {
        let Some(own) = self.crop else {
            return Ok(None);
        };
        let mut of_crops = Vec::new();
        let apart = self.crops_apart().into_iter();
        for crop in apart.filter(|crop| crop.bears_less_than(own)) {
            of_crops.push((crop, self.ask(Some(crop), Reading::AS_IT_IS, false)?));
        }
        let Some((crop, _)) = self.best_tenderer(own, &of_crops) else {
            return Ok(None);
        };
        let remark = format!(
            ", for {}, which bears less: a bound on the safe side",
            crop.name()
        );
        let said = self.say(Some(*crop), Reading::AS_IT_IS)?.into_iter();
        Ok(Some(said.map(|one| one.remarked(&remark)).collect()))
    }

    /// Of the crops that bear less than one, that which may have most, of those whose tables hold everything.
    fn best_tenderer<'s>(
        &self,
        than: Crop,
        of_crops: &'s [(Crop, Vec<Said<'a>>)],
    ) -> Option<&'s (Crop, Vec<Said<'a>>)> {
        let mut best: Option<&(Crop, Vec<Said>)> = None;
        for own in of_crops {
            let (crop, said) = own;
            let better = best.is_none_or(|(_, known)| least_share(known) < least_share(said));
            let holds = || !said.is_empty() && self.holds_all(said);
            if crop.bears_less_than(than) && better && holds() {
                best = Some(own);
            }
        }
        best
    }

    /// The strictest of what milder cases get by what a tenderer crop may have, for want of a table of their own: of this crop
    /// and of hardier ones, in this case and in milder ones. Nothing that somebody signs for this case is more than that.
    pub fn bounds_of_milder(&self) -> Outcome<Vec<Said<'a>>> {
        let Some(own) = self.crop.filter(|_| !self.parts.is_empty()) else {
            return Ok(Vec::new());
        };
        let crops = self.crops_apart();
        // Of each sum that tables count, the least.
        let mut least: Vec<Said> = Vec::new();
        for reading in self.milder_readings() {
            let mut of_crops = Vec::new();
            for crop in &crops {
                of_crops.push((*crop, self.ask(Some(*crop), reading, false)?));
            }
            // Alike for all crops of a group.
            let mut below: Vec<(Group, bool)> = Vec::new();
            let mut is_below = |group: Group| {
                let known = below.iter().find(|(known, _)| *known == group);
                let known = known.map(|(_, is_below)| *is_below);
                known.unwrap_or_else(|| {
                    let is_below = self.below_all(group, reading).is_some();
                    below.push((group, is_below));
                    is_below
                })
            };
            let milder = |crop: Crop| crop == own || own.may_bear_less_than(crop);
            for (crop, said) in of_crops.iter().filter(|(crop, _)| milder(*crop)) {
                if self.holds_all(said) || is_below(crop.group()) {
                    continue;
                }
                let Some((tenderer, holding)) = self.best_tenderer(*crop, &of_crops) else {
                    continue;
                };
                let mut in_words = None;
                for (nth, bound) in holding.iter().enumerate() {
                    let known = least
                        .iter_mut()
                        .find(|known| known.counted == bound.counted);
                    if known
                        .as_ref()
                        .is_some_and(|known| known.share() <= bound.share())
                    {
                        continue;
                    }
                    let remark = format!(
                        ", for {}, which is all that {} may have in {}: no more than that",
                        tenderer.name(),
                        crop.name(),
                        match reading == Reading::AS_IT_IS {
                            true => "this seedbed",
                            false => "a milder seedbed",
                        }
                    );
                    let said = match &mut in_words {
                        Some(said) => said,
                        none => none.insert(self.say(Some(*tenderer), reading)?),
                    };
                    // What is told in words has to be what was compared.
                    let alike = |said: &&Said| {
                        said.counted == bound.counted
                            && said.most_kg_per_ha() == bound.most_kg_per_ha()
                    };
                    let in_words = said.get(nth).filter(alike).ok_or_else(differs)?;
                    let bound = in_words.clone().remarked(&remark);
                    match known {
                        Some(known) => *known = bound,
                        None => least.push(bound),
                    }
                }
            }
        }
        Ok(least)
    }

    /// This case, and the milder ones in which some table begins to hold: in narrower rows, with a wider spread, on a heavier
    /// soil, in a moist seedbed.
    fn milder_readings(&self) -> Vec<Reading> {
        let Case {
            row_m, spread_m, ..
        } = self.case;
        let tables: Vec<&Table> = self.asks.iter().filter_map(Ask::table).collect();
        let mut rows: Vec<f64> = tables.iter().map(|table| table.widest_m()).collect();
        rows.retain(|edge_m| *edge_m > spread_m && *edge_m < row_m);
        rows.push(f64::INFINITY);
        let spreads_in = |row_m: f64| {
            let edges = tables
                .iter()
                .flat_map(|table| [table.least_spread_m, table.least_utilisation() * row_m]);
            let mut spreads: Vec<f64> = edges
                .filter(|edge_m| *edge_m > spread_m && *edge_m <= row_m)
                .collect();
            spreads.push(0.0);
            each_once(spreads)
        };
        let texture = Texture::of(&self.case.texture);
        let heavier = TEXTURES.into_iter().filter(|of| Some(*of) > texture);
        let textures: Vec<Option<Texture>> = match texture {
            Some(_) => std::iter::once(None).chain(heavier.map(Some)).collect(),
            None => vec![None],
        };
        let moist: &[bool] = if self.case.dry {
            &[false, true]
        } else {
            &[false]
        };
        let mut readings = Vec::new();
        for most_row_m in each_once(rows) {
            for least_spread_m in spreads_in(row_m.min(most_row_m)) {
                for &texture in &textures {
                    readings.extend(moist.iter().map(|&moist| Reading {
                        moist,
                        most_row_m,
                        least_spread_m,
                        texture,
                    }));
                }
            }
        }
        readings
    }

    /// The crops that the tables tell apart, each by one of those that bear alike.
    fn crops_apart(&self) -> Vec<Crop> {
        let standing = |crop: Crop| -> Vec<Option<usize>> {
            let asks = self.asks.iter();
            asks.map(|ask| match ask.source {
                Source::Table(table) => table.standing(crop),
                Source::Equation(..) => crop_tolerance::all().position(|known| known == crop),
            })
            .collect()
        };
        let mut apart: Vec<(Crop, Vec<Option<usize>>)> = Vec::new();
        for crop in crop_tolerance::all() {
            let own = standing(crop);
            let alike = |(known, of): &(Crop, Vec<Option<usize>>)| {
                *of == own && known.bears_like(crop) && Some(*known) != self.crop
            };
            if Some(crop) == self.crop || !apart.iter().any(alike) {
                apart.push((crop, own));
            }
        }
        apart.into_iter().map(|(crop, _)| crop).collect()
    }

    /// The strictest of what hardier crops may have.
    pub(super) fn hardier(&self) -> Outcome<Option<Said<'a>>> {
        let Some(own) = self.crop else {
            return Ok(None);
        };
        let mut least: Option<Said> = None;
        for crop in crop_tolerance::all().filter(|crop| own.may_bear_less_than(*crop)) {
            for said in self.say(Some(crop), Reading::AS_IT_IS)? {
                let lower = least
                    .as_ref()
                    .is_none_or(|known| said.share() < known.share());
                if said.most_kg_per_ha().is_some() && lower {
                    let remark =
                        format!(", for {}, which bears more: no more than that", crop.name());
                    least = Some(said.remarked(&remark));
                }
            }
        }
        Ok(least)
    }

    /// Whether less lies there than every published bound for such crops, in dry soil and in the wider rows.
    pub(super) fn below_all(&self, group: Group, reading: Reading) -> Option<Vec<Said<'a>>> {
        let own = self.asks.iter().filter_map(|ask| match ask.source {
            Source::Table(table) if ask.named => Some(table),
            _ => None,
        });
        let tables: Vec<&'a Table> = own
            .chain(seed_safe::all().iter().map(|(_, table)| table))
            .filter(|table| !table.ceiling_only)
            .collect();
        let mut found: Vec<Said> = Vec::new();
        for table in tables {
            let counted = Counted::Nutrients(table.counts.clone());
            let bound = |part: &Part| {
                let Case {
                    row_m, spread_m, ..
                } = self.case;
                let row_m = row_m.min(reading.most_row_m);
                let spread_m = spread_m.max(reading.least_spread_m);
                lowest_kg_per_ha(table, group, part.form?, row_m, spread_m)
            };
            let counting = self.parts.iter().filter(|part| counted.of(part) > 0.0);
            // A form that the table is not for leaves the whole row without its bound.
            let bounds: Option<Vec<f64>> = counting.map(bound).collect();
            let Some(bound) = bounds.and_then(|all| all.into_iter().reduce(f64::min)) else {
                continue;
            };
            let bound = if self.case.twice { bound / 2.0 } else { bound };
            let wanted: f64 = self.parts.iter().map(|part| counted.of(part)).sum();
            if wanted > bound {
                return None;
            }
            let of_ammonium_phosphate = of_ammonium_phosphate(table);
            let known = found.iter_mut().find(|known| {
                known.counted == counted && known.of_ammonium_phosphate == of_ammonium_phosphate
            });
            let lower = known
                .as_ref()
                .is_none_or(|known| known.most_kg_per_ha().is_some_and(|most| bound < most));
            if !lower {
                continue;
            }
            let said = Said {
                source: Source::Table(table),
                named: false,
                above: AboveLimit::Cap,
                counted,
                wanted_kg_per_ha: wanted,
                spread_m: self.case.spread_m,
                answer: Answer::Limit(Limit {
                    kg_per_ha: bound,
                    cell: format!(
                        "{}: not covered, but below the strictest bound that is published for such crops",
                        table.title
                    ),
                    conservative_bound: true,
                }),
                of_ammonium_phosphate,
            };
            match known {
                Some(known) => *known = said,
                None => found.push(said),
            }
        }
        self.holds_all(&found).then_some(found)
    }
}

fn differs() -> Box<Fault> {
    Fault::program(
        "agronomy.seed_row",
        Place::nowhere(),
        "a table says something else in words than when it is compared",
        "the same bound both times",
    )
}

/// Numbers in order, each once.
fn each_once(mut numbers: Vec<f64>) -> Vec<f64> {
    numbers.sort_by(f64::total_cmp);
    numbers.dedup();
    numbers
}
