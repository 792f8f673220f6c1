//! What zone layers have to fulfil beyond their shape: one source, one way to classes, and land of a ledger of the season that the job is for.

use super::date;
use super::layer::ZoneLayer;
use super::rules::{Check, at};
use std::collections::BTreeSet;

impl Check<'_> {
    /// All of them.
    pub(super) fn layers(&mut self) {
        let mut names = BTreeSet::new();
        for (n, layer) in self.job.layers.iter().enumerate() {
            if !names.insert(&layer.name) {
                self.add(
                    at!["layer", n, "name"],
                    format!("a second layer is called '{}'", layer.name),
                    "a name of its own for each layer",
                    "rename one of them",
                );
            }
            self.source_of_layer(n, layer);
            self.ledger_layer(n, layer);
            if layer.class_attribute.is_empty() && !layer.makes_classes() {
                self.add(
                    at!["layer", n],
                    format!(
                        "key 'class_attribute' is missing in [[layer]] number {}",
                        n + 1
                    ),
                    "'class_attribute' for polygons: the attribute whose values are the classes; 'values' for a raster or points; 'zonal' for numbers from a raster under polygons",
                    format!("add 'class_attribute' (or 'values', or 'zonal') to [[layer]] number {}", n + 1),
                );
            }
            if let Some(values) = &layer.values {
                if !layer.class_attribute.is_empty() {
                    self.add(
                        at!["layer", n, "class_attribute"],
                        "both 'class_attribute' and 'values' are given",
                        "'class_attribute' for polygons, 'values' for a raster or points",
                        "remove one of the two",
                    );
                }
                for fault in values.faults() {
                    let path = at!["layer", n, "values", fault.key];
                    self.add(path, fault.found, fault.allowed, fault.next);
                }
            }
            if let Some(zonal) = &layer.zonal {
                let other = match layer.values {
                    Some(_) => "values",
                    None => "class_attribute",
                };
                if layer.values.is_some() || !layer.class_attribute.is_empty() {
                    self.add(
                        at!["layer", n, "zonal"],
                        format!("both 'zonal' and '{other}' are given"),
                        "one of them: with 'zonal' the number is the class",
                        "remove one of the two, or make a second [[layer]] of the same polygons",
                    );
                }
                for (key, found, allowed, next) in zonal.faults() {
                    self.add(at!["layer", n, "zonal", key], found, allowed, next);
                }
            }
        }
    }

    /// Land of a ledger: polygons alone, of the season that the job is for.
    fn ledger_layer(&mut self, n: usize, layer: &ZoneLayer) {
        let Some(since) = &layer.placed_since else {
            return;
        };
        let others = [
            ("class_attribute", !layer.class_attribute.is_empty()),
            ("values", layer.values.is_some()),
            ("zonal", layer.zonal.is_some()),
            ("divides", layer.divides),
            ("line", !layer.line.is_empty()),
            ("overlaps", layer.overlaps.is_some()),
            ("class_of_gaps", layer.class_of_gaps.is_some()),
        ];
        for (key, _) in others.into_iter().filter(|(_, given)| *given) {
            self.add(
                at!["layer", n, key],
                format!("both 'placed_since' and '{key}' are given"),
                "'placed_since' beside the source of a ledger's land: what was placed is the class, and land that the ledger does not know got nothing",
                "remove one of the two",
            );
        }
        let first = date::day_number(since);
        let sown = self.job.sowing_date.as_deref().and_then(date::day_number);
        if first.is_none() {
            self.add(
                at!["layer", n, "placed_since"],
                format!("'{since}' is no date"),
                "YYYY-MM-DD, such as 2026-09-15",
                "correct the date",
            );
        }
        if let (Some(first), Some(sown)) = (first, sown)
            && !(0..=date::SEASON_DAYS).contains(&(sown - first))
        {
            self.add(
                at!["layer", n, "placed_since"],
                format!("the season would have begun {} days before the sowing date", sown - first),
                "the first day of the season of this job, at most 366 days before 'sowing_date' and not after it",
                "correct the date: what an earlier crop got is in the soil index already and is not taken off again",
            );
        }
    }

    /// A layer is a file or a line of points; a line has classes of its own.
    fn source_of_layer(&mut self, n: usize, layer: &ZoneLayer) {
        if layer.source.is_none() && layer.line.is_empty() {
            self.add(
                at!["layer", n],
                format!("key 'source' is missing in [[layer]] number {}", n + 1),
                "'source' must be given, such as { file = \"soil.geojson\" }; or the points of a 'line'",
                format!("add 'source' to [[layer]] number {}", n + 1),
            );
        }
        if !layer.line.is_empty() && (!layer.source.is_none() || layer.line.len() < 2) {
            self.add(
                at!["layer", n, "line"],
                "a line of points stands beside a source, or has one point only",
                "two or more points { lon = ..., lat = ... } in place of a source",
                "remove 'source', or add points; for a line in a file: divides = true",
            );
        }
        if layer.is_line()
            && (layer.values.is_some()
                || layer.zonal.is_some()
                || !layer.class_attribute.is_empty())
        {
            self.add(
                at!["layer", n],
                "a line that divides the field has 'values' or 'class_attribute'",
                "a line alone: its classes are \"left\" and \"right\"",
                "remove them",
            );
        }
    }
}
