//! The drive of a plan.

use super::rated_land::RatedLand;
use crate::drive::as_driven::{self, AsDriven, Carried, DrivenProduct, Ground};
use crate::drive::hoppers::{self, Refills};
use crate::drive::setback::{self, InSetback};
use crate::drive::spread::{self, Spread};
use crate::drive::tramline::Rhythm;
use crate::drive::{Bout, Delays, Report, cut_map, response};
use crate::findings::Finding;
use crate::job::Job;
use crate::map::RateMap;

/// The field driven on paper; empty but for the tramlines where the job does not ask for it.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Drive {
    /// Heading, lengths, hours, and what overlaps.
    pub report: Option<Report>,
    /// Which rows close in which bout, and on the headland; `None` without tramlines.
    pub tramlines: Option<Rhythm>,
    /// The bouts, in the order in which they are driven.
    pub bouts: Vec<Bout>,
    /// What the bouts leave on the land.
    pub as_driven: Option<AsDriven>,
    /// What units of their own spread on the surface along them.
    pub spread: Vec<Spread>,
    /// The hoppers along them; `None` where a bulk density is not known.
    pub refills: Option<Refills>,
    /// What the bouts lay in the strips of the setbacks.
    pub in_setbacks: Vec<InSetback>,
    /// What cutting the map to the bouts changes; `None` where the job does not ask for it.
    pub cut_map: Option<cut_map::Report>,
}

/// Drives the rate map: what the bouts leave on the land, where the hoppers run dry, what lies in setbacks. With the drive come
/// its products by other rates of the land, where there are such (`wanted`: per row, per product, kg/ha).
pub(super) fn driven(
    land: &RatedLand,
    map: &RateMap,
    wanted: Option<&[Vec<f64>]>,
    job: &Job,
) -> (Drive, Vec<DrivenProduct>, Vec<Finding>) {
    let prepared = land.prepared;
    let bouts = &prepared.bouts;
    let ground = Ground {
        units: land.units(),
        rates: &land.kg_per_ha,
        degrees: &map.degrees,
        outside: &land.rates.out_of_field_kg_per_ha,
        frame: &prepared.frame,
        delays: &Delays::of(job),
    };
    let in_stream = Carried::in_stream(job);
    let mut by_wanted = Vec::new();
    let as_driven = (!bouts.is_empty()).then(|| match wanted {
        None => as_driven::drive(bouts, &ground, &in_stream, job),
        Some(wanted) => {
            let (driven, by) = as_driven::drive_against(bouts, &ground, &in_stream, job, wanted);
            by_wanted = by;
            driven
        }
    });
    let spread = spread::drive(&prepared.spread_ways, &ground, job);
    let refills = as_driven.as_ref().and_then(|driven| {
        let (at_tender, frame) = (&prepared.at_tender, &prepared.frame);
        hoppers::refills(bouts, driven, &spread, at_tender, job, frame)
    });
    let told = refills.iter().flat_map(|of| hoppers::findings(of, job));
    let mut findings: Vec<Finding> = told.collect();
    let mut in_setbacks = Vec::new();
    if let Some(stream) = &as_driven {
        in_setbacks = setback::audit(&prepared.land, stream, &spread, job);
        findings.extend(setback::findings(&in_setbacks, job));
        findings.extend(response::findings(bouts, &ground, job));
    }
    let report = prepared.drive.as_ref();
    let drive = Drive {
        report: report.map(|report| report.with_rates(&land.drill_rows(), job)),
        tramlines: prepared.tramlines.clone(),
        bouts: bouts.clone(),
        as_driven,
        spread,
        refills,
        in_setbacks,
        cut_map: None,
    };
    (drive, by_wanted, findings)
}
