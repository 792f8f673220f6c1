//! The rates of land that a piece of the cut map lies on: a piece has one rate per product, which need not be the one that its
//! land asks for. Method: docs/methods/cut-map.md.

use super::lot_by_class::lot_on;
use super::reasons::{RateSoFar, Step};
use super::{
    Balance, Rate, Rule, Tables, Verdict, Why, base, local_rules, nutrient, seed_row, stand,
};
use crate::findings::{Finding, Outcome};
use crate::job::{Job, Kind, Product};
use crate::texts::Words;
use crate::texts::quantity::GivenRate;
use crate::zones::Facts;
use std::borrow::Cow;

/// What a piece lays of a product on land that asks for something else.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct OnPiece {
    /// The rate of the piece, kg/ha.
    pub kg_per_ha: f64,
    /// Whether land that the piece touches bears no more, so that what is wanted here is not met.
    pub held: bool,
}

/// The most that a piece may lay of a product (by its place in the job) on land with this rate, kg/ha; infinite where nothing of
/// the land holds it.
///
/// Nothing where the rate is 0; the rate itself where a limit held it down, where nothing covers the fertiliser beside the seed, or where a rule
/// of the place counts the product; what the limits beside the seed leave, for fertiliser there. The product's own limits
/// hold on all land alike, and no piece has a rate that no land has.
pub fn most_kg_per_ha(job: &Job, product: usize, rate: &Rate) -> f64 {
    let Some(of) = job.products.get(product) else {
        return 0.0;
    };
    let own = rate.kg_per_ha;
    let counted = job.place_limits.iter().any(|limit| match &limit.product {
        Some(id) => *id == of.id,
        None => of.kind == Kind::Fertiliser,
    });
    if own == 0.0 || counted || rate.held_down() {
        return own;
    }
    let leaves = rate.seed_safe.iter().map(|check| match check.verdict {
        Verdict::NotUsed => f64::INFINITY,
        Verdict::Within => match check.limit_kg_per_ha {
            Some(limit) if check.placed_kg_per_ha > 0.0 => {
                (own * limit / check.placed_kg_per_ha).max(own)
            }
            // It counts something that this product does not bring.
            Some(_) => f64::INFINITY,
            None => own,
        },
        Verdict::Capped | Verdict::Above | Verdict::NotCovered => own,
    });
    leaves.fold(f64::INFINITY, f64::min)
}

/// How many times its land's own rate a piece lays; 1 for a rate that no piece has changed.
pub fn times_on_piece(rate: &Rate) -> f64 {
    let mut reasons = rate.reasons.iter().rev();
    let piece = reasons.find(|reason| reason.rule == Rule::DrillPiece);
    let before = piece.and_then(|reason| reason.inputs.first());
    match before {
        Some((_, before)) if *before > 0.0 => rate.kg_per_ha / before,
        _ => 1.0,
    }
}

/// The rates (job order) of land with these facts as its piece lays them; `None` for a product that keeps its rate. Stand, what lies
/// beside the seed and the balance follow; what rules of the place say of them is held against them again.
///
/// # Errors
/// A number that is missing or cannot be, as in [`super::rates`].
pub fn on_piece(
    job: &Job,
    tables: &Tables,
    facts: &Facts,
    rates: &[Rate],
    pieces: &[Option<OnPiece>],
) -> Outcome<(Vec<Rate>, Vec<Finding>)> {
    let each = job.products.iter().zip(rates).zip(pieces);
    let laid: Outcome<Vec<Rate>> = each
        .map(|((product, rate), piece)| match piece {
            Some(piece) if piece.kg_per_ha != rate.kg_per_ha => {
                one(job, tables, product, facts, rate, *piece)
            }
            _ => Ok(rate.clone()),
        })
        .collect();
    let laid = laid?;
    let mut findings = Vec::new();
    if laid != rates {
        local_rules::verify(job, facts, &laid, &mut findings)?;
    }
    Ok((laid, findings))
}

fn one(
    job: &Job,
    tables: &Tables,
    product: &Product,
    facts: &Facts,
    rate: &Rate,
    piece: OnPiece,
) -> Outcome<Rate> {
    let lot = lot_on(job, product, facts)?;
    let sown = match lot.and_then(|nth| product.each_lot().get(nth)) {
        Some(lot) => Cow::Owned(product.as_lot(lot)),
        None => Cow::Borrowed(product),
    };
    let why = match piece.held {
        true => Why::PieceHeld,
        false => Why::PieceNearest,
    };
    let words = Words::of(job);
    let mut so_far = RateSoFar::again(rate, Rule::SeedStand, words);
    so_far.take(Step {
        rule: Rule::DrillPiece,
        why: Why::Piece {
            rate: GivenRate(piece.kg_per_ha),
            before: GivenRate(rate.kg_per_ha),
            why: words.say(&why),
        },
        inputs: &[("kg/ha before", rate.kg_per_ha)],
        kg_per_ha: piece.kg_per_ha,
        source: Some("common practice, no source".into()),
    })?;
    let stand = stand::of(job, &sown, facts, piece.kg_per_ha)?;
    if let Some(stand) = &stand {
        stand::say(job, &sown, facts, stand, &mut so_far)?;
    }
    let mut laid = so_far.finish();
    laid.stand = stand;
    laid.lot = rate.lot;
    laid.asked = rate.asked;
    laid.share = rate.share.clone();
    laid.seed_safe = rate.seed_safe.clone();
    let of_before = piece.kg_per_ha / rate.kg_per_ha;
    if of_before.is_finite() {
        laid.seed_safe
            .iter_mut()
            .for_each(|check| check.scale(of_before));
    }
    laid.balance = match &rate.balance {
        Some(balance) if piece.held => Some(more(
            job,
            tables,
            product,
            facts,
            balance,
            rate.kg_per_ha - piece.kg_per_ha,
        )?),
        balance => balance.clone(),
    };
    Ok(laid)
}

/// A balance with what a piece leaves out, kg/ha of its product.
fn more(
    job: &Job,
    tables: &Tables,
    product: &Product,
    facts: &Facts,
    balance: &Balance,
    left_kg_per_ha: f64,
) -> Outcome<Balance> {
    let of = base::begin(job, tables, product, facts, &mut RateSoFar::default())?.deciding;
    let left = left_kg_per_ha.max(0.0);
    let need =
        of.map(|of| nutrient::supply_kg_per_ha(left, &product.grade.unwrap_or_default(), of));
    let other = product.balance.as_ref().and_then(|balance| balance.grade);
    let kg_per_ha = match (other, of, need) {
        (Some(other), Some(of), Some(need)) if need > 0.0 => {
            nutrient::product_kg_per_ha(need, &other, of)?
        }
        _ => left,
    };
    Ok(Balance {
        nutrient: balance.nutrient.clone(),
        nutrient_kg_per_ha: balance
            .nutrient_kg_per_ha
            .zip(need)
            .map(|(known, need)| known + need)
            .or(need),
        kg_per_ha: balance.kg_per_ha + kg_per_ha,
    })
}

impl seed_row::SeedSafeCheck {
    /// The same with so many times the fertiliser, the only one beside the seed.
    fn scale(&mut self, times: f64) {
        self.placed_kg_per_ha *= times;
        self.margin_kg_per_ha = self
            .limit_kg_per_ha
            .map(|limit| limit - self.placed_kg_per_ha);
        let laid = &mut self.laid;
        for of in [
            &mut laid.n,
            &mut laid.p2o5,
            &mut laid.k2o,
            &mut laid.n_and_k2o,
        ] {
            *of *= times;
        }
        self.row_load_g_per_m *= times;
    }
}
