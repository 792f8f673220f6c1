//! The record as a page that prints: what is not known is a line to write on.

use super::FieldRecord;
use crate::findings::Outcome;
use crate::job::Language;
use crate::report::field_record;
use crate::report::number::Numbers;
use serde_json::json;

impl FieldRecord {
    /// The page in a language, HTML.
    ///
    /// # Errors
    /// None that a sound record can cause.
    pub fn page(&self, language: Language) -> Outcome<Vec<u8>> {
        let numbers = Numbers::METRIC.in_language(language);
        let with = |value: f64, decimals: usize, symbol: &'static str| {
            format!(
                "{} {}",
                numbers.grouped(value, decimals),
                language.unit(symbol)
            )
        };
        // The day is written as people write it, the clock stays.
        let moment = |text: &str| match text.split_once(' ') {
            Some((day, clock)) => format!("{} {clock}", language.date(day)),
            None => text.to_owned(),
        };
        let products = self.products.iter().map(|own| {
            let what = [
                own.crop.as_deref(),
                own.grade.as_deref(),
                own.dressing.as_deref(),
            ];
            let nutrients = [own.n_kg, own.p2o5_kg, own.k2o_kg].map(|kg| match kg {
                None => String::new(),
                Some(kg) if kg > 0.0 => with(kg, 1, "kg"),
                Some(_) => "–".to_owned(),
            });
            json!({
                "name": own.name,
                "what": what.into_iter().flatten().collect::<Vec<_>>().join(", "),
                "lot": own.lot,
                "tag": own.tag_seen.map(|_| "seen"),
                "photos": own.tag_photos,
                "kg": with(own.kg, 1, "kg"),
                "per_ha": own.mean_kg_per_ha.map(|rate| with(rate, 1, "kg/ha")),
                "ha": with(own.given_ha, 2, "ha"),
                "nutrients": nutrients,
            })
        });
        let near = self.near.iter().flat_map(|near| {
            near.nearest_m.iter().map(|own| {
                let mut names = self.products.iter().filter(|product| product.id == own.product);
                json!({
                    "name": near.name,
                    "from": near.from,
                    "product": names.next().map_or(own.product.as_str(), |product| product.name.as_str()),
                    "keep": with(near.to_keep_m, 1, "m"),
                    "nearest": own.metres.map(|metres| with(metres, 1, "m")),
                })
            })
        });
        let place = self
            .middle_lon_lat
            .map(|at| format!("{:.5}, {:.5}", at.lat, at.lon));
        let page = json!({
            "field": self.field,
            "plan": self.plan,
            "logs": [self.logs.join(", "), self.tasks.join(", ")],
            "facts": [
                self.customer.clone(),
                self.farm.clone(),
                place.unwrap_or_default(),
                with(self.drilled_ha, 2, "ha"),
                format!("{} – {}", moment(&self.from), moment(&self.to)),
                with(self.on_the_field_h, 1, "h"),
                self.operator.clone().unwrap_or_default(),
                self.weather.clone().unwrap_or_default(),
                self.soil.clone().unwrap_or_default(),
                self.moisture.clone().unwrap_or_default(),
            ],
            "products": products.collect::<Vec<_>>(),
            "near": near.collect::<Vec<_>>(),
            "told": self.told,
            "signed_by": self.signed_by,
            "signed_on": self.signed_on.as_deref().map(|day| language.date(day)),
        });
        field_record(page, language)
    }
}
