//! The record as a page that prints: what is not known is a line to write on.

use super::FieldRecord;
use crate::findings::Outcome;
use crate::report::field_record;
use crate::report::number::grouped;
use serde_json::json;

impl FieldRecord {
    /// The page, HTML.
    ///
    /// # Errors
    /// None that a sound record can cause.
    pub fn page(&self) -> Outcome<Vec<u8>> {
        let products = self.products.iter().map(|own| {
            let what = [
                own.crop.as_deref(),
                own.grade.as_deref(),
                own.dressing.as_deref(),
            ];
            let nutrients = [own.n_kg, own.p2o5_kg, own.k2o_kg].map(|kg| match kg {
                None => String::new(),
                Some(kg) if kg > 0.0 => format!("{} kg", grouped(kg, 1)),
                Some(_) => "–".to_owned(),
            });
            json!({
                "name": own.name,
                "what": what.into_iter().flatten().collect::<Vec<_>>().join(", "),
                "lot": own.lot,
                "tag": own.tag_seen.map(|_| "seen"),
                "photos": own.tag_photos,
                "kg": format!("{} kg", grouped(own.kg, 1)),
                "per_ha": own.mean_kg_per_ha.map(|rate| format!("{rate:.1} kg/ha")),
                "ha": format!("{:.2} ha", own.given_ha),
                "nutrients": nutrients,
            })
        });
        let near = self.near.iter().flat_map(|near| {
            near.nearest_m.iter().map(|own| {
                let mut names = self.products.iter().filter(|product| product.id == own.product);
                json!({
                    "name": near.name,
                    "from": near.measured_from,
                    "product": names.next().map_or(own.product.as_str(), |product| product.name.as_str()),
                    "keep": format!("{:.1} m", near.to_keep_m),
                    "nearest": own.metres.map(|metres| format!("{metres:.1} m")),
                })
            })
        });
        let place = self
            .middle_lon_lat
            .map(|at| format!("{:.5}, {:.5}", at.lat, at.lon));
        field_record(json!({
            "field": self.field,
            "plan": self.plan,
            "logs": format!("{} of {}", self.logs.join(", "), self.tasks.join(", ")),
            "facts": [
                self.customer.clone(),
                self.farm.clone(),
                place.unwrap_or_default(),
                format!("{:.2} ha", self.drilled_ha),
                format!("{} – {}", self.from, self.to),
                format!("{:.1} h", self.on_the_field_h),
                self.operator.clone().unwrap_or_default(),
                self.weather.clone().unwrap_or_default(),
                self.soil.clone().unwrap_or_default(),
                self.moisture.clone().unwrap_or_default(),
            ],
            "products": products.collect::<Vec<_>>(),
            "near": near.collect::<Vec<_>>(),
            "told": self.told,
            "signed_by": self.signed_by,
            "signed_on": self.signed_on,
        }))
    }
}
