//! The record as CSV: a row for each product.

use super::FieldRecord;
use crate::findings::Outcome;
use crate::job::Kind;
use crate::write;

impl FieldRecord {
    /// The table: ha and kg with 3 decimals, m with 1; empty where nothing is known.
    ///
    /// # Errors
    /// None that a sound record can cause.
    pub fn csv(&self) -> Outcome<Vec<u8>> {
        let header = [
            "plan",
            "tasks",
            "customer",
            "farm",
            "field",
            "longitude",
            "latitude",
            "from",
            "to",
            "hours",
            "drilled_ha",
            "product",
            "name",
            "kind",
            "crop",
            "grade",
            "dressing",
            "lot",
            "kg",
            "by",
            "given_ha",
            "mean_kg_per_ha",
            "n_kg",
            "p2o5_kg",
            "k2o_kg",
            "nearest",
            "nearest_m",
            "operator",
            "weather",
            "soil",
            "moisture",
            "tag_seen",
            "tag_photos",
            "signed_by",
            "signed_on",
        ];
        let text = |text: &str| write::cell(text);
        let maybe = |own: &Option<String>| own.as_deref().map_or(String::new(), write::cell);
        let number = |value: f64| format!("{value:.3}");
        let rows = self.products.iter().map(|own| {
            let [lon, lat] = self
                .middle_lon_lat
                .map_or([String::new(), String::new()], |at| {
                    at.pair().map(|degrees| format!("{degrees:.6}"))
                });
            let nearest = self.nearest(&own.id);
            vec![
                text(&self.plan),
                text(&self.tasks.join(" ")),
                text(&self.customer),
                text(&self.farm),
                text(&self.field),
                lon,
                lat,
                self.from.clone(),
                self.to.clone(),
                format!("{:.1}", self.on_the_field_h),
                number(self.drilled_ha),
                text(&own.id),
                text(&own.name),
                match own.kind {
                    Kind::Seed => "seed",
                    Kind::Fertiliser => "fertiliser",
                }
                .to_owned(),
                maybe(&own.crop),
                maybe(&own.grade),
                maybe(&own.dressing),
                maybe(&own.lot),
                number(own.kg),
                if own.by_total { "total" } else { "rate" }.to_owned(),
                number(own.given_ha),
                own.mean_kg_per_ha.map_or(String::new(), number),
                own.n_kg.map_or(String::new(), number),
                own.p2o5_kg.map_or(String::new(), number),
                own.k2o_kg.map_or(String::new(), number),
                nearest.map_or(String::new(), |(name, _)| write::cell(name)),
                nearest.map_or(String::new(), |(_, metres)| format!("{metres:.1}")),
                maybe(&self.operator),
                maybe(&self.weather),
                maybe(&self.soil),
                maybe(&self.moisture),
                own.tag_seen.map_or("", |_| "yes").to_owned(),
                text(&own.tag_photos.join("; ")),
                maybe(&self.signed_by),
                maybe(&self.signed_on),
            ]
        });
        write::csv(header.map(str::to_owned).to_vec(), rows)
    }
}
