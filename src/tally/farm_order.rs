//! One order list over many fields: never pooled across product, lot, dressing or pack, rounded once.

use super::{OnePackLess, Price, packs};
use crate::findings::{Fault, Outcome, Place};
use serde::Serialize;

/// What one field needs of one product, before packs.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Need {
    pub field: String,
    pub kg: FieldKg,
    /// Seeds of all of it, where the grain weight is known.
    pub seeds: Option<f64>,
    /// True for the balance that is broadcast, not sown.
    pub broadcast: bool,
}

impl Need {
    /// The field, and whether it is for its balance.
    pub fn words(&self) -> String {
        match self.broadcast {
            true => format!("{} (balance to broadcast)", self.field),
            false => self.field.clone(),
        }
    }
}

/// Kilograms of one field.
#[derive(Debug, Clone, Copy, Default, PartialEq, Serialize)]
pub struct FieldKg {
    /// What the map and its corrections sow.
    pub sown: f64,
    pub reserve: f64,
    /// What stays in the hopper.
    pub residue: f64,
}

/// What must agree for needs to be pooled.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Article {
    pub product: String,
    pub kind: String,
    pub lot: Option<String>,
    pub dressing: Option<String>,
    pub pack_kg: Option<f64>,
    /// Seeds in a pack, where it is sold by seeds.
    pub seeds_per_pack: Option<f64>,
    /// True where only seeds are counted, because the label is not there yet: kilograms mean nothing.
    pub seeds_only: bool,
}

/// One line of the order list.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Line {
    pub article: Article,
    pub needs: Vec<Need>,
    /// Sums over the fields. The residue counts once, the largest: what stays in the hopper after one
    /// field is there for the next.
    pub sown_kg: f64,
    pub reserve_kg: f64,
    pub residue_kg: f64,
    pub order_kg: f64,
    /// Seeds needed before packs, with reserve and residue, where every grain weight is known.
    pub seeds: Option<f64>,
    pub packs: Option<u64>,
    /// What one pack less would leave of the reserve, where only the reserve asks for the last pack.
    pub one_pack_less: Option<OnePackLess>,
    pub price_per_t: Option<f64>,
    pub price_per_pack: Option<f64>,
    pub cost: Option<f64>,
}

/// An article that a field needs, with its price.
#[derive(Debug, Clone, PartialEq)]
pub struct Wanted {
    pub article: Article,
    pub need: Need,
    pub price: Option<Price>,
    /// Where it comes from, for messages.
    pub place: Place,
}

/// The list, in the order in which articles first appear.
///
/// # Errors
/// The same article at two prices.
pub fn list(wanted: &[Wanted]) -> Outcome<Vec<Line>> {
    let mut lines: Vec<Line> = Vec::new();
    for one in wanted {
        let known = lines.iter_mut().find(|line| line.article == one.article);
        let line = match known {
            Some(line) => line,
            None => {
                lines.push(Line {
                    article: one.article.clone(),
                    needs: Vec::new(),
                    sown_kg: 0.0,
                    reserve_kg: 0.0,
                    residue_kg: 0.0,
                    order_kg: 0.0,
                    seeds: None,
                    packs: None,
                    one_pack_less: None,
                    price_per_t: None,
                    price_per_pack: None,
                    cost: None,
                });
                let Some(line) = lines.last_mut() else {
                    continue;
                };
                line
            }
        };
        match (price_of(line), one.price) {
            (Some(a), Some(b)) if a != b => return Err(two_prices(one, a, b)),
            (None, price) => {
                line.price_per_t = price.and_then(Price::per_t);
                line.price_per_pack = price.and_then(Price::per_pack);
            }
            _ => {}
        }
        line.needs.push(one.need.clone());
    }
    lines.iter_mut().for_each(sum);
    Ok(lines)
}

impl Line {
    /// One pack less of packs that hold so much.
    fn less(&self, pack_kg: f64) -> Option<OnePackLess> {
        let wanted = self.sown_kg + self.reserve_kg + self.residue_kg;
        OnePackLess::of(self.sown_kg, self.residue_kg, wanted, pack_kg)
    }
}

fn sum(line: &mut Line) {
    let of = |kg: fn(&FieldKg) -> f64| line.needs.iter().map(move |need| kg(&need.kg));
    line.sown_kg = of(|kg| kg.sown).sum();
    line.reserve_kg = of(|kg| kg.reserve).sum();
    line.residue_kg = of(|kg| kg.residue).fold(0.0, f64::max);
    let kg = line.sown_kg + line.reserve_kg + line.residue_kg;
    line.order_kg = kg;
    // As for the kilograms, what stays in the hopper counts once.
    line.seeds = line.needs.iter().map(|need| need.seeds).sum();
    if let Some(seeds) = line.seeds.filter(|_| kg > 0.0) {
        let all: f64 = line.needs.iter().map(|need| need.kg.residue).sum();
        let mean = seeds / (line.sown_kg + line.reserve_kg + all);
        line.seeds = Some(mean * kg);
    }
    match (line.article.seeds_per_pack, line.seeds) {
        (Some(per_pack), Some(seeds)) => {
            let count = packs(seeds, per_pack);
            if seeds > 0.0 {
                line.order_kg = kg * count * per_pack / seeds;
                line.one_pack_less = line.less(kg * per_pack / seeds);
            }
            line.packs = Some(count as u64);
        }
        _ => {
            if let Some(pack_kg) = line.article.pack_kg {
                let count = packs(kg, pack_kg);
                line.order_kg = count * pack_kg;
                line.one_pack_less = line.less(pack_kg);
                line.packs = Some(count as u64);
            }
        }
    }
    if line.article.seeds_only {
        // The weights behind these kilograms are not the lot's.
        line.sown_kg = 0.0;
        line.reserve_kg = 0.0;
        line.residue_kg = 0.0;
        line.order_kg = 0.0;
        line.one_pack_less = None;
        line.needs
            .iter_mut()
            .for_each(|need| need.kg = FieldKg::default());
        return;
    }
    line.cost = price_of(line).and_then(|price| price.cost(line.order_kg, line.packs));
}

fn price_of(line: &Line) -> Option<Price> {
    Price::either(line.price_per_t, line.price_per_pack)
}

fn two_prices(one: &Wanted, a: Price, b: Price) -> Box<Fault> {
    Fault::input(
        "order.two_prices",
        one.place.clone(),
        format!(
            "'{}' costs {} in one job and {} in another",
            one.article.product,
            a.words(),
            b.words()
        ),
        "one price for the same product, lot, dressing and pack",
        "correct the price in one of the jobs, or give the lots different names",
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    fn wanted(product: &str, lot: &str, sown: f64, price: Option<f64>) -> Wanted {
        Wanted {
            article: Article {
                product: product.to_owned(),
                kind: "seed".to_owned(),
                lot: Some(lot.to_owned()),
                dressing: None,
                pack_kg: Some(500.0),
                seeds_per_pack: None,
                seeds_only: false,
            },
            need: Need {
                field: "a field".to_owned(),
                kg: FieldKg {
                    sown,
                    reserve: sown * 0.03,
                    residue: 8.0,
                },
                seeds: None,
                broadcast: false,
            },
            price: price.map(Price::PerT),
            place: Place::nowhere(),
        }
    }

    #[test]
    fn packs_are_rounded_once_for_all_fields_and_the_residue_counts_once() {
        let three = [
            wanted("barley", "1", 400.0, Some(420.0)),
            wanted("barley", "1", 400.0, None),
            wanted("barley", "1", 400.0, Some(420.0)),
        ];
        let lines = list(&three).unwrap();
        assert_eq!(lines.len(), 1);
        // 1200 + 36 + 8 = 1244 kg: three packs, not one for each field and a half.
        assert_eq!(lines[0].packs, Some(3));
        assert_eq!(lines[0].residue_kg, 8.0);
        // Two packs do not hold the 1200 kg that are sown.
        assert_eq!(lines[0].one_pack_less, None);
        assert_eq!(lines[0].cost, Some(630.0));
    }

    /// 985 kg are sown, 8 kg stay in the hopper and the reserve is 29.55 kg: three packs of 500 kg, of which 22.55 kg are
    /// asked for of the last. Two leave 7 kg, 0.71 %.
    #[test]
    fn a_pack_that_only_the_reserve_asks_for_is_told() {
        let lines = list(&[
            wanted("barley", "1", 500.0, None),
            wanted("barley", "1", 485.0, None),
        ])
        .unwrap();
        let less = lines[0].one_pack_less.expect("one pack less");
        assert_eq!((lines[0].packs, less.packs), (Some(3), 2));
        assert!((less.reserve_kg - 7.0).abs() < 1e-9, "{less:?}");
        assert!((less.reserve_percent - 0.7107).abs() < 1e-4, "{less:?}");
    }

    #[test]
    fn nothing_is_pooled_across_product_lot_dressing_or_pack() {
        let mut others = vec![
            wanted("barley", "1", 10.0, None),
            wanted("barley", "2", 10.0, None),
            wanted("wheat", "1", 10.0, None),
            wanted("barley", "1", 10.0, None),
            wanted("barley", "1", 10.0, None),
        ];
        others[3].article.dressing = Some("A".to_owned());
        others[4].article.pack_kg = Some(25.0);
        assert_eq!(list(&others).unwrap().len(), 5);
    }

    /// Iowa State University, Agronomy 212: 150 000 seeds per acre of 2 750 seeds per lb on 50 acres; a unit
    /// of soybeans has 140 000 seeds. 7 500 000 seeds are 53.6 units: 54.
    #[test]
    fn packs_of_seeds_hold_the_seeds_whatever_a_seed_weighs() {
        let weight = crate::units::thousand_grain_weight_g_from_seeds_per_lb(2750.0);
        for grams in [weight, weight * 1.2] {
            let mut soybean = wanted("soybean", "1", 7.5e6 * grams / 1e6, None);
            soybean.need.kg.reserve = 0.0;
            soybean.need.kg.residue = 0.0;
            soybean.need.seeds = Some(7.5e6);
            soybean.article.pack_kg = None;
            soybean.article.seeds_per_pack = Some(140_000.0);
            let lines = list(&[soybean]).unwrap();
            assert_eq!(lines[0].packs, Some(54));
            let kg = 54.0 * 140_000.0 * grams / 1e6;
            assert!(
                (lines[0].order_kg - kg).abs() < 1e-6,
                "{}",
                lines[0].order_kg
            );
        }
    }

    #[test]
    fn a_price_per_pack_is_paid_for_whole_packs() {
        let mut one = wanted("barley", "1", 1_000.0, None);
        one.price = Some(Price::PerPack(210.0));
        // 1000 + 30 + 8 kg: three packs of 500 kg.
        assert_eq!(list(&[one.clone()]).unwrap()[0].cost, Some(630.0));
        let per_t = wanted("barley", "1", 10.0, Some(420.0));
        assert_eq!(list(&[one, per_t]).unwrap_err().code, "order.two_prices");
    }

    #[test]
    fn two_prices_for_one_article_are_refused() {
        let both = [
            wanted("barley", "1", 10.0, Some(400.0)),
            wanted("barley", "1", 10.0, Some(410.0)),
        ];
        assert_eq!(list(&both).unwrap_err().code, "order.two_prices");
    }
}
