//! An order for two plans of one field, of which one is sown: it covers the greater need of each product.

use super::lot_totals::steps_of_all;
use super::order::{OnePackLess, Pack, packs};
use super::words::Line;
use super::{BalanceTally, LotTally, ProductTally, Step, StepName, Tally};
use crate::job::{Job, Product};
use crate::texts::Words;

/// Less than this is no need, kg.
const NOTHING_KG: f64 = 1e-6;

/// One order on its way: of a product, a lot or a balance.
struct Order<'a> {
    steps: &'a mut Vec<Step>,
    kg: &'a mut f64,
    packs: &'a mut Option<u64>,
    one_pack_less: &'a mut Option<OnePackLess>,
    pack: Option<Pack>,
    words: Words,
}

/// Adds to each of two tallies of one field what the other needs more, product by product, lot by lot, as a step of its own
/// before the packs are rounded up. Both tallies are of `job`, but for the seedbed.
///
/// What is broadcast of the very product that is placed counts together with it: what one plan does not place, it broadcasts.
pub fn cover_both(one: &mut Tally, other: &mut Tally, job: &Job) {
    let before = one.clone();
    cover(one, other, job);
    cover(other, &before, job);
}

/// Adds what `other` needs more than `tally`.
fn cover(tally: &mut Tally, other: &Tally, job: &Job) {
    let words = Words::of(job);
    for of in &mut tally.products {
        let product = job.products.iter().find(|known| known.id == of.id);
        let theirs = other.products.iter().find(|known| known.id == of.id);
        let (Some(product), Some(theirs)) = (product, theirs) else {
            continue;
        };
        if of.lots.is_empty() {
            let together = |tally: &[BalanceTally]| match product.balance {
                Some(_) => 0.0,
                None => broadcast_kg(tally, &of.id),
            };
            let need = wanted_kg(&of.steps) + together(&tally.balances);
            let greater = wanted_kg(&theirs.steps) + together(&other.balances);
            product_order(of, product, words).add(greater - need);
        } else {
            lots(of, theirs, product, words);
        }
    }
    for of in &mut tally.balances {
        let product = job.products.iter().find(|known| known.id == of.of);
        let theirs = other.balances.iter().find(|known| known.of == of.of);
        // Which lot is broadcast nobody says: where there are several, what is broadcast is covered by itself.
        let mut products = tally.products.iter();
        let in_lots = products.any(|known| known.id == of.of && !known.lots.is_empty());
        let own = product.filter(|product| in_lots || product.balance.is_some());
        if let (Some(own), Some(theirs)) = (own, theirs) {
            let pack_kg = own.balance.as_ref().map_or(own.pack_kg, |own| own.pack_kg);
            let more = wanted_kg(&theirs.steps) - wanted_kg(&of.steps);
            let order = Order {
                steps: &mut of.steps,
                kg: &mut of.order_kg,
                packs: &mut of.packs,
                one_pack_less: &mut of.one_pack_less,
                pack: pack_kg.map(Pack::Kg),
                words,
            };
            order.add(more);
        }
    }
}

fn product_order<'a>(of: &'a mut ProductTally, product: &Product, words: Words) -> Order<'a> {
    Order {
        steps: &mut of.steps,
        kg: &mut of.order_kg,
        packs: &mut of.packs,
        one_pack_less: &mut of.one_pack_less,
        pack: Pack::of(product),
        words,
    }
}

/// Each lot has its own order; the whole is their sum.
fn lots(of: &mut ProductTally, theirs: &ProductTally, product: &Product, words: Words) {
    let mut grown = false;
    for lot in &mut of.lots {
        let mut each = product.each_lot().iter();
        let known = each.find(|known| known.lot == lot.lot);
        let theirs = theirs.lots.iter().find(|known| known.lot == lot.lot);
        if let (Some(known), Some(theirs)) = (known, theirs) {
            let more = wanted_kg(&theirs.steps) - wanted_kg(&lot.steps);
            grown |= lot_order(lot, &product.as_lot(known), words).add(more);
        }
    }
    if grown {
        of.steps = steps_of_all(&of.lots, words);
        of.order_kg = of.lots.iter().map(|lot| lot.order_kg).sum();
        of.packs = of.lots.iter().map(|lot| lot.packs).sum();
    }
}

fn lot_order<'a>(lot: &'a mut LotTally, product: &Product, words: Words) -> Order<'a> {
    Order {
        steps: &mut lot.steps,
        kg: &mut lot.order_kg,
        packs: &mut lot.packs,
        one_pack_less: &mut lot.one_pack_less,
        pack: Pack::of(product),
        words,
    }
}

/// What is broadcast of a product for its balance, kg.
fn broadcast_kg(balances: &[BalanceTally], id: &str) -> f64 {
    let own = balances.iter().filter(|balance| balance.of == id);
    own.map(|balance| wanted_kg(&balance.steps)).sum()
}

/// What an order has to hold before packs are rounded up, kg.
fn wanted_kg(steps: &[Step]) -> f64 {
    let wanted = steps.iter().filter(|step| step.step != StepName::Packs);
    wanted.map(|step| step.kg).sum()
}

impl Order<'_> {
    /// Orders more; gives whether there was anything to add.
    fn add(self, more_kg: f64) -> bool {
        if more_kg <= NOTHING_KG {
            return false;
        }
        self.steps.retain(|step| step.step != StepName::Packs);
        self.steps.push(Step {
            step: StepName::OtherSeedbed,
            text: self.words.say(&Line::OtherSeedbed),
            kg: more_kg,
        });
        let wanted = wanted_kg(self.steps);
        *self.kg = wanted;
        *self.one_pack_less = None;
        if let Some(pack) = self.pack {
            let count = packs(wanted, pack.kg());
            let of = |test: fn(StepName) -> bool| -> f64 {
                let steps = self.steps.iter().filter(|step| test(step.step));
                steps.map(|step| step.kg).sum()
            };
            let sown = of(|step| step.is_sown() || step == StepName::OtherSeedbed);
            let residue = of(|step| step == StepName::Residue);
            *self.one_pack_less = OnePackLess::of(sown, residue, wanted, pack.kg());
            *self.packs = Some(count as u64);
            *self.kg = count * pack.kg();
            self.steps.push(pack.rounded_up(count, wanted, self.words));
        }
        true
    }
}
