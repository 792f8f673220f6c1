//! The grid along the bouts of a map that is cut to them. Method: docs/methods/cut-map.md.

use super::Options;
use super::rated_land::RatedLand;
use crate::drive::cut_map;
use crate::findings::{Finding, Place};
use crate::job::{Job, LandPart};
use crate::map::{Along, TurnedGrid, TurnedLayout};

/// The grid, where the map is cut to straight bouts and files ask for it; a finding says why such a map has none.
pub(super) fn grid(
    land: &RatedLand,
    options: &Options,
    job: &Job,
) -> (Option<TurnedGrid>, Vec<Finding>) {
    if !job.drive.as_ref().is_some_and(|drive| drive.cut_to_bouts) {
        return (None, Vec::new());
    }
    let prepared = land.prepared;
    let layout = along(land, job).and_then(|along| {
        let layout = TurnedLayout::of(&prepared.cells, &along, job);
        let (cells, most) = (layout.cells(), job.grid.most_cells);
        match cells <= most {
            true => Ok(layout),
            false => Err(format!(
                "it would have {cells} cells, and most_cells under [grid] allows {most}"
            )),
        }
    });
    match layout {
        Ok(layout) => {
            let grid = options.turned_grid.then(|| {
                let cells = &prepared.cells;
                layout.grid(land.units(), cells, &land.kg_per_ha, job, &prepared.frame)
            });
            (grid, Vec::new())
        }
        Err(why) => {
            let message = format!("there is no grid along the bouts (gis/rates-turned.tif): {why}");
            let finding = Finding::note("drive.no_turned_grid", Place::file(&job.file), message);
            (None, vec![finding])
        }
    }
}

/// The straight bouts, or why there are none, in words.
fn along(land: &RatedLand, job: &Job) -> Result<Along, String> {
    let prepared = land.prepared;
    let drive = prepared.drive.as_ref();
    let heading_deg = match drive {
        Some(drive) if drive.along_curve => {
            return Err("the bouts follow a curve, and a grid has one heading".to_string());
        }
        Some(drive) => drive.heading_deg,
        None => return Err("there is no drive".to_string()),
    };
    let mut bouts = prepared.bouts.iter();
    let interior = bouts.find(|bout| bout.part == LandPart::Interior);
    let way = interior.and_then(|bout| bout.path.points().first().copied());
    let Some([x, y]) = way else {
        return Err("no bout lies in the interior, and headland rings have no heading".to_string());
    };
    let width_m = job.drill.working_width_m;
    let (sine, cosine) = heading_deg.to_radians().sin_cos();
    Ok(Along {
        heading_deg,
        on_rim: [x + width_m / 2.0 * cosine, y - width_m / 2.0 * sine],
        across_m: width_m / job.drill.sections_m.len().max(1) as f64,
        along_m: cut_map::least_m(job.drill.speed_km_per_h, job),
    })
}
