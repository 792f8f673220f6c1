//! What a product costs.

use crate::job::Product;

/// A price, in any one currency.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Price {
    /// For 1000 kg.
    PerT(f64),
    /// For one pack.
    PerPack(f64),
}

impl Price {
    /// The price that a product has, if any.
    pub fn of(product: &Product) -> Option<Self> {
        Self::either(product.price_per_t, product.price_per_pack)
    }

    /// The price of what is broadcast for the balance of a product: its own, or that of the product.
    pub fn of_balance(product: &Product) -> Option<Self> {
        match &product.balance {
            Some(own) => Self::either(own.price_per_t, own.price_per_pack),
            None => Self::of(product),
        }
    }

    /// From both keys, of which a job gives at most one.
    pub fn either(per_t: Option<f64>, per_pack: Option<f64>) -> Option<Self> {
        per_pack.map(Self::PerPack).or(per_t.map(Self::PerT))
    }

    /// For 1000 kg.
    pub fn per_t(self) -> Option<f64> {
        match self {
            Self::PerT(price) => Some(price),
            Self::PerPack(_) => None,
        }
    }

    /// For one pack.
    pub fn per_pack(self) -> Option<f64> {
        match self {
            Self::PerPack(price) => Some(price),
            Self::PerT(_) => None,
        }
    }

    /// For a kilogram; `None` for a price per pack where nobody says what a pack weighs.
    pub fn per_kg(self, pack_kg: Option<f64>) -> Option<f64> {
        match self {
            Self::PerT(price) => Some(price / 1000.0),
            Self::PerPack(price) => pack_kg.filter(|kg| *kg > 0.0).map(|kg| price / kg),
        }
    }

    /// What an order costs; `None` for a price per pack where packs are not known.
    pub fn cost(self, order_kg: f64, packs: Option<u64>) -> Option<f64> {
        match self {
            Self::PerT(price) => Some(price * order_kg / 1000.0),
            Self::PerPack(price) => packs.map(|packs| price * packs as f64),
        }
    }

    /// Such as `420 per tonne`.
    pub fn words(self) -> String {
        match self {
            Self::PerT(price) => format!("{price} per tonne"),
            Self::PerPack(price) => format!("{price} per pack"),
        }
    }
}
