//! What a harvest brings to the ledger.

use super::{Args, Straw};
use crate::agronomy::crop_list::{self, Crop};
use crate::agronomy::offtake;
use crate::cli::ledger::{self, Entry};
use crate::compare::PlanMap;
use crate::findings::{Fault, Outcome, Place};
use crate::harvest::{Settings, ZoneYield, at_moisture};
use crate::ledger::{Column, Piece, What};
use crate::units::M2_PER_HA;
use std::path::Path;

/// What the command asks for.
pub(super) struct Asked<'a> {
    folder: &'a Path,
    day: String,
    straw: Straw,
    crop: String,
}

/// What is asked for, if anything.
///
/// # Errors
/// A day that is none; a plan that sows several crops, or none; a crop that neither the crop list nor the plan has.
pub(super) fn asked<'a>(args: &'a Args, plan: &PlanMap) -> Outcome<Option<Asked<'a>>> {
    let (Some(folder), Some(day), Some(straw)) = (&args.ledger, &args.harvested_on, args.straw)
    else {
        return Ok(None);
    };
    let crops = plan.crops();
    let crop = match (&args.crop, crops.as_slice()) {
        // A slip of the pen would leave the removal blank, and nobody would see it.
        (Some(crop), sown) if Crop::of(crop).is_none() && !sown.contains(&crop.as_str()) => {
            return Err(no_crop(crop));
        }
        (Some(crop), _) => crop.clone(),
        (None, [one]) => (*one).to_owned(),
        (None, several) => {
            return Err(Fault::input(
                "harvest.crop",
                Place::nowhere(),
                format!("The plan sows {} crops", several.len()),
                "--crop with the one that was harvested",
                "Name it, as a word of the crop list (docs/methods/crops.md).",
            ));
        }
    };
    Ok(Some(Asked {
        folder,
        day: ledger::day(day, "--harvested-on")?,
        straw,
        crop,
    }))
}

fn no_crop(crop: &str) -> Box<Fault> {
    let next = match crop_list::nearest(crop) {
        Some(word) => format!("The nearest word of the list is '{word}'."),
        None => "Look it up in the list; nothing was written.".to_owned(),
    };
    Fault::input(
        "harvest.no_crop",
        Place::nowhere(),
        format!("--crop is '{crop}', which the crop list does not have"),
        "a word of the crop list (docs/methods/crops.md), or the crop as the plan has it",
        next,
    )
}

impl Asked<'_> {
    /// Yield and removal of each zone, for the ledger.
    pub fn entry(&self, plan: &PlanMap, yields: &[ZoneYield], settings: &Settings) -> Entry {
        let removed = self.straw == Straw::Removed;
        let [p2o5, k2o] = offtake::per_tonne(&self.crop, removed);
        let mut rows = Vec::new();
        let mut pieces = Vec::new();
        for (zone, part, area_m2, polygons) in plan.zones_in_degrees() {
            let Some(own) = yields.iter().find(|own| own.zone == zone) else {
                continue;
            };
            let fresh_t_per_ha = at_moisture(
                own.kg_per_ha,
                settings.basis_percent,
                offtake::FRESH_MOISTURE_PERCENT,
            ) / 1_000.0;
            let left = |per_t: Option<f64>| per_t.map(|kg| -kg * fresh_t_per_ha);
            let zone_ha = area_m2 / M2_PER_HA;
            let yield_t_per_ha = own.kg_per_ha / 1_000.0;
            let mut row = plan.ledger_row(What::Harvested, &self.day);
            row.put(Column::Crop, &self.crop);
            row.put(Column::Zone, &zone.to_string());
            row.put(Column::Part, part);
            row.put_number(Column::ZoneHa, Some(zone_ha), 4);
            row.put_number(Column::YieldTPerHa, Some(yield_t_per_ha), 3);
            row.put_number(Column::MoisturePercent, Some(settings.basis_percent), 1);
            for (each, in_all, per_t) in [
                (Column::P2o5KgPerHa, Column::P2o5Kg, p2o5),
                (Column::K2oKgPerHa, Column::K2oKg, k2o),
            ] {
                row.put_number(each, left(per_t), 3);
                row.put_number(in_all, left(per_t).map(|kg| kg * zone_ha), 3);
            }
            row.put(Column::By, &format!("{} readings", own.readings));
            row.put(Column::Note, &self.note([p2o5, k2o]));
            rows.push(row);
            let [customer, farm] = plan.owner_names();
            pieces.push(Piece {
                what: What::Harvested.word(),
                date: self.day.clone(),
                customer,
                farm,
                field: plan.field.clone(),
                plan: plan.id.clone(),
                tasks: String::new(),
                logs: String::new(),
                zone,
                kg_per_ha: [None, left(p2o5), left(k2o), None],
                yield_t_per_ha: Some(yield_t_per_ha),
                polygons,
            });
        }
        Entry {
            folder: self.folder.to_path_buf(),
            date: self.day.clone(),
            sowing_date: plan.sowing_date.clone(),
            rows,
            pieces,
        }
    }

    /// What the removal was reckoned with.
    fn note(&self, per_t: [Option<f64>; 2]) -> String {
        let straw = match self.straw {
            Straw::Left => "straw left",
            Straw::Removed => "straw removed",
        };
        let number = |kg: Option<f64>| kg.map_or("not published".to_owned(), |kg| format!("{kg}"));
        format!(
            "{straw}; kg per t at {} % moisture: P2O5 {}, K2O {} ({})",
            offtake::FRESH_MOISTURE_PERCENT,
            number(per_t[0]),
            number(per_t[1]),
            offtake::SOURCE
        )
    }
}
