//! Bounds from beside the case: tenderer crops, hardier crops, and the strictest that is published at all.

use super::said::{Counted, Said, least_share};
use super::tables::of_ammonium_phosphate;
use super::{Asked, Source};
use crate::agronomy::crop_tolerance::{self, Crop, Group};
use crate::agronomy::seed_row::case::{Case, Part};
use crate::agronomy::seed_safe::{self, Answer, Limit, Table, lowest_kg_per_ha};
use crate::findings::Outcome;
use crate::job::AboveLimit;

impl Asked<'_> {
    /// What the tenderer crop that bears most may have, where its tables hold everything.
    pub(super) fn tenderer(&self) -> Outcome<Option<Vec<Said>>> {
        let Some(own) = self.crop else {
            return Ok(None);
        };
        let mut best: Option<Vec<Said>> = None;
        for crop in crop_tolerance::all().filter(|crop| crop.bears_less_than(own)) {
            let said = self.say(Some(crop))?;
            let better = best
                .as_deref()
                .is_none_or(|known| least_share(known) < least_share(&said));
            if !said.is_empty() && better && self.unheld(&said).is_empty() {
                let remark = format!(
                    ", for {}, which bears less: a bound on the safe side",
                    crop.name()
                );
                best = Some(said.into_iter().map(|one| one.remarked(&remark)).collect());
            }
        }
        Ok(best)
    }

    /// The strictest of what hardier crops may have.
    pub(super) fn hardier(&self) -> Outcome<Option<Said>> {
        let Some(own) = self.crop else {
            return Ok(None);
        };
        let mut least: Option<Said> = None;
        for crop in crop_tolerance::all().filter(|crop| own.bears_less_than(*crop)) {
            for said in self.say(Some(crop))? {
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
    pub(super) fn below_all(&self) -> Option<Vec<Said>> {
        let group = self.crop.map_or(Group::Tender, Crop::group);
        let own = self.asks.iter().filter_map(|ask| match ask.source {
            Source::Table(table) if ask.named => Some(table),
            _ => None,
        });
        let tables: Vec<&Table> = own
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
                title: table.title.clone(),
                source: format!("{}, {}: {}", table.publisher, table.title, table.source),
                note: table.note.clone(),
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
        self.unheld(&found).is_empty().then_some(found)
    }
}
