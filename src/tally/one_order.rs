//! One order for a product and for what is broadcast of it: where both are one article, packs are rounded up once for both.

use super::order::{OnePackLess, Pack, packs};
use super::words::Line;
use super::{Step, StepName, Tally};
use crate::job::{Job, Product};
use crate::texts::Words;

/// Moves what is broadcast of the very product that is placed into the order of that product, as a step of its own before the
/// packs are rounded up; the balance then orders nothing by itself. Only where there are packs: without them the sum of both
/// orders is the same.
///
/// What is broadcast under a name of its own is another article, and which of several lots is broadcast nobody says: both stay
/// by themselves.
pub fn in_one_order(tally: &mut Tally, job: &Job) {
    let words = Words::of(job);
    for balance in &mut tally.balances {
        let Some((product, pack)) = job
            .products
            .iter()
            .find(|known| known.id == balance.of)
            .and_then(same_article)
        else {
            continue;
        };
        let mut products = tally.products.iter_mut();
        let placed = products.find(|known| known.id == product.id && known.lots.is_empty());
        let broadcast_kg = before_packs(&balance.steps);
        let Some(placed) =
            placed.filter(|own| broadcast_kg > 0.0 && before_packs(&own.steps) > 0.0)
        else {
            continue;
        };
        let sown_kg = sown(&placed.steps) + sown(&balance.steps);
        let moved = |text: Line, kg: f64| Step {
            step: StepName::OneOrder,
            text: words.say(&text),
            kg,
        };
        for steps in [&mut placed.steps, &mut balance.steps] {
            steps.retain(|step| step.step != StepName::Packs);
        }
        placed
            .steps
            .push(moved(Line::WithWhatIsBroadcast, broadcast_kg));
        balance
            .steps
            .push(moved(Line::OrderedWithTheProduct, -broadcast_kg));
        let wanted = before_packs(&placed.steps);
        let count = packs(wanted, pack.kg());
        let residue = placed.steps.iter();
        let residue = residue.filter(|step| step.step == StepName::Residue);
        let residue_kg: f64 = residue.map(|step| step.kg).sum();
        placed.one_pack_less = OnePackLess::of(sown_kg, residue_kg, wanted, pack.kg());
        placed.steps.push(pack.rounded_up(count, wanted, words));
        placed.order_kg = count * pack.kg();
        placed.packs = Some(count as u64);
        balance.order_kg = 0.0;
        balance.packs = None;
        balance.one_pack_less = None;
    }
}

/// The product with its pack, if what is broadcast for its balance is the product itself.
fn same_article(product: &Product) -> Option<(&Product, Pack)> {
    let pack = Pack::of(product).filter(|_| product.balance.is_none())?;
    matches!(pack, Pack::Kg(_)).then_some((product, pack))
}

/// What an order has to hold before packs are rounded up, kg.
fn before_packs(steps: &[Step]) -> f64 {
    let wanted = steps.iter().filter(|step| step.step != StepName::Packs);
    wanted.map(|step| step.kg).sum()
}

/// What leaves the outlets or the spreader by the greater of two maps, kg.
fn sown(steps: &[Step]) -> f64 {
    let sown = steps
        .iter()
        .filter(|step| step.step.is_sown() || step.step == StepName::OtherSeedbed);
    sown.map(|step| step.kg).sum()
}
