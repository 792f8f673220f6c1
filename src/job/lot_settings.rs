//! Several lots or varieties of one product in one field.

use super::product::{Joined, Kind, Product};
use super::rules::{Check, at, listed};
use super::types::Job;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use std::collections::BTreeSet;

/// Which lot is sown where.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Lots {
    /// Name of the layer whose classes tell the lots apart.
    #[schemars(length(min = 1))]
    pub layer: String,
    /// The lots.
    #[serde(rename = "lot")]
    #[schemars(length(min = 1, max = 20))]
    pub each: Vec<Lot>,
}

/// One lot. What it leaves out is as the product has it.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Lot {
    /// Class of the layer on whose land it is sown.
    #[schemars(length(min = 1))]
    pub class: String,
    /// Lot or batch on the label; one lot may be sown on several classes.
    #[schemars(length(min = 1))]
    pub lot: String,
    /// Variety.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub variety: Option<String>,
    /// Seed dressing or coating of this lot.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub dressing: Option<String>,
    /// Grams per thousand seeds of this lot.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schemars(range(min = 0.1, max = 2000.0))]
    pub thousand_grain_weight_g: Option<f64>,
    /// Seeds in a pound of this lot, instead of thousand_grain_weight_g.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schemars(range(min = 200.0, max = 5_000_000.0))]
    pub seeds_per_lb: Option<f64>,
    /// Germination on this lot's label.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schemars(range(max = 100.0), extend("exclusiveMinimum" = 0.0))]
    pub germination_percent: Option<f64>,
    /// Kilograms per litre of this lot, as filled.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schemars(range(min = 0.1, max = 3.0))]
    pub bulk_density_kg_per_l: Option<f64>,
    /// Weight of one pack of this lot.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schemars(range(max = 5000.0), extend("exclusiveMinimum" = 0.0))]
    pub pack_kg: Option<f64>,
    /// Seeds in one pack of this lot, where it is sold by seeds.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schemars(range(min = 1.0, max = 1e10))]
    pub seeds_per_pack: Option<f64>,
    /// Price of 1000 kg of this lot.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schemars(range(min = 0.0, max = 1_000_000.0))]
    pub price_per_t: Option<f64>,
    /// Price of one pack of this lot, instead of `price_per_t`.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schemars(range(min = 0.0, max = 1_000_000.0))]
    pub price_per_pack: Option<f64>,
}

impl Lot {
    /// Whether both say the same but for the class.
    fn agrees(&self, other: &Lot) -> bool {
        let mut same = self.clone();
        same.class.clone_from(&other.class);
        same == *other
    }

    /// Variety and lot, such as `variety 'Fen', lot '2'`.
    pub fn title(&self) -> String {
        match &self.variety {
            Some(variety) => format!("variety '{variety}', lot '{}'", self.lot),
            None => format!("lot '{}'", self.lot),
        }
    }
}

impl Product {
    /// Its lots; none where the whole field has one.
    pub fn each_lot(&self) -> &[Lot] {
        self.lots.as_ref().map_or(&[], |lots| &lots.each)
    }

    /// The product as this lot: what the lot says, and the product's own for the rest.
    pub fn as_lot(&self, lot: &Lot) -> Product {
        let mut own = self.clone();
        own.lots = None;
        own.lot = Some(lot.lot.clone());
        own.dressing = lot.dressing.clone().or(own.dressing);
        own.thousand_grain_weight_g = lot.thousand_grain_weight_g.or(own.thousand_grain_weight_g);
        own.germination_percent = lot.germination_percent.or(own.germination_percent);
        own.bulk_density_kg_per_l = lot.bulk_density_kg_per_l.or(own.bulk_density_kg_per_l);
        // A price is by weight or by pack: what the lot says of either replaces both.
        if lot.price_per_t.is_some() || lot.price_per_pack.is_some() {
            own.price_per_t = lot.price_per_t;
            own.price_per_pack = lot.price_per_pack;
        }
        // A pack is by weight or by seeds: what the lot says of either replaces both.
        if lot.pack_kg.is_some() || lot.seeds_per_pack.is_some() {
            own.pack_kg = lot.pack_kg;
            own.seeds_per_pack = lot.seeds_per_pack;
        }
        own
    }

    /// The product as each of its lots, or as it is.
    pub(crate) fn every(&self) -> Vec<Product> {
        match self.each_lot() {
            [] => vec![self.clone()],
            lots => lots.iter().map(|lot| self.as_lot(lot)).collect(),
        }
    }
}

/// Lots that contradict themselves, the layers or the product.
pub(super) fn check(check: &mut Check<'_>, n: usize, product: &Product) {
    packs(check, n, product);
    prices(check, n, product);
    let Some(lots) = &product.lots else {
        return;
    };
    let job: &Job = check.job;
    let id = &product.id;
    if product.kind != Kind::Seed {
        check.add(
            at!["product", n, "lots"],
            format!("'lots' is given for the fertiliser '{id}'"),
            "lots of a seed",
            "remove it, or correct 'kind'",
        );
    }
    if !job.layers.iter().any(|layer| layer.name == lots.layer) {
        let names = job.layers.iter().map(|layer| layer.name.as_str());
        let known = listed(names, "a [[layer]] of that name; the job has none");
        check.add(
            at!["product", n, "lots", "layer"],
            format!(
                "the lots of '{id}' go by the layer '{}', which the job does not have",
                lots.layer
            ),
            known,
            "correct the name, or add the layer with a polygon for each lot",
        );
    }
    if product.lot.is_some() {
        check.add(
            at!["product", n, "lot"],
            format!("'{id}' has both 'lot' and 'lots'"),
            "'lot' for one lot, 'lots' for several",
            "remove 'lot'",
        );
    }
    let mut classes = BTreeSet::new();
    for (m, lot) in lots.each.iter().enumerate() {
        if !classes.insert(lot.class.trim()) {
            check.add(
                at!["product", n, "lots", "lot", m, "class"],
                format!("two lots of '{id}' are for class '{}'", lot.class),
                "one lot for each class",
                "correct the class, or remove one of the lots",
            );
        }
        let twin = lots.each.iter().take(m).find(|other| other.lot == lot.lot);
        if let Some(twin) = twin
            && !twin.agrees(lot)
        {
            check.add(
                at!["product", n, "lots", "lot", m, "lot"],
                format!(
                    "lot '{}' of '{id}' is given twice with different figures",
                    lot.lot
                ),
                "the same figures wherever one lot is sown",
                "correct the figures, or give the lots names of their own",
            );
        }
    }
}

/// A pack is by weight or by seeds.
fn packs(check: &mut Check<'_>, n: usize, product: &Product) {
    let mut places = vec![(
        vec!["product".to_owned(), n.to_string()],
        product.pack_kg,
        product.seeds_per_pack,
    )];
    for (m, lot) in product.each_lot().iter().enumerate() {
        places.push((
            at!["product", n, "lots", "lot", m].to_vec(),
            lot.pack_kg,
            lot.seeds_per_pack,
        ));
    }
    for (place, by_kg, by_seeds) in places {
        if by_seeds.is_none() {
            continue;
        }
        let path = [place.as_slice(), at!["seeds_per_pack"]].concat();
        if by_kg.is_some() {
            check.add(
                &path,
                format!("'{}' has packs both by weight and by seeds", product.id),
                "pack_kg or seeds_per_pack",
                "remove one of the two",
            );
        }
        if product.kind != Kind::Seed {
            check.add(
                &path,
                format!(
                    "'seeds_per_pack' is given for the fertiliser '{}'",
                    product.id
                ),
                "this key for seed only",
                "remove it, or correct 'kind'",
            );
        }
    }
    let by_seeds = product
        .every()
        .iter()
        .any(|own| own.seeds_per_pack.is_some());
    if by_seeds && product.kind == Kind::Seed {
        let heavy = product
            .every()
            .iter()
            .all(|own| own.thousand_grain_weight_g.is_some());
        if !heavy && !product.label_pending {
            check.add(
                at!["product", n],
                format!("the packs of '{}' hold seeds, and its thousand_grain_weight_g is not given", product.id),
                "thousand_grain_weight_g with seeds_per_pack, or label_pending = true until the label is there",
                "add thousand_grain_weight_g; before the label has it, set label_pending = true and use 'twinsow order'",
            );
        }
    }
    pending(check, n, product);
}

/// A price is by weight or by pack, and a price by pack needs packs.
fn prices(check: &mut Check<'_>, n: usize, product: &Product) {
    let has_pack = |own: &Product| own.pack_kg.is_some() || own.seeds_per_pack.is_some();
    let mut places = vec![(
        vec!["product".to_owned(), n.to_string()],
        (product.price_per_t, product.price_per_pack),
        // Each lot is asked below.
        has_pack(product) || !product.each_lot().is_empty(),
    )];
    for (m, lot) in product.each_lot().iter().enumerate() {
        let own = product.as_lot(lot);
        places.push((
            at!["product", n, "lots", "lot", m].to_vec(),
            (lot.price_per_t, lot.price_per_pack.or(own.price_per_pack)),
            has_pack(&own),
        ));
    }
    if let Some(balance) = &product.balance {
        places.push((
            at!["product", n, "balance"].to_vec(),
            (balance.price_per_t, balance.price_per_pack),
            balance.pack_kg.is_some(),
        ));
    }
    for (place, (per_t, per_pack), has_pack) in places {
        if per_pack.is_none() {
            continue;
        }
        let path = [place.as_slice(), at!["price_per_pack"]].concat();
        if per_t.is_some() {
            check.add(
                &path,
                format!("'{}' has a price per tonne and one per pack", product.id),
                "price_per_t or price_per_pack",
                "remove one of the two",
            );
        } else if !has_pack {
            check.add(
                &path,
                format!("'{}' has a price per pack, and no pack", product.id),
                "price_per_pack together with pack_kg or seeds_per_pack",
                "add the pack, or give price_per_t",
            );
        }
    }
}

/// What an order by seeds needs before the label is there.
fn pending(check: &mut Check<'_>, n: usize, product: &Product) {
    if !product.label_pending {
        return;
    }
    let by_seeds = product.rate.plants_per_m2.is_some() || product.rate.seeds_per_m2.is_some();
    if !by_seeds {
        check.add(
            at!["product", n, "label_pending"],
            format!(
                "'{}' waits for its label, and its rate is not in plants or seeds",
                product.id
            ),
            "label_pending together with plants_per_m2 or seeds_per_m2",
            "give a population, or remove label_pending",
        );
    }
    let counted = |own: &Product| {
        own.germination_percent.is_some() || own.rate.germination_joined == Joined::Included
    };
    if product.rate.plants_per_m2.is_some() && !product.every().iter().all(counted) {
        check.add(
            at!["product", n, "label_pending"],
            format!(
                "'{}' waits for its label, and no germination is given to count seeds with",
                product.id
            ),
            "the germination you expect, such as the least that certified seed must have",
            "add germination_percent; the label's own replaces it later",
        );
    }
}
