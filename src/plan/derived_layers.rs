//! Layers whose zones come from values: rasters, points, and numbers of a raster under polygons.

use super::Input;
use super::gather::Placer;
use super::inputs::FoundRaster;
use crate::coordinates::PlaneXy;
use crate::findings::{Fault, Outcome, Place};
use crate::frame::{self, Crs};
use crate::job::{ClassMethod, Source, Values, Zonal, ZoneLayer};
use crate::land::near;
use crate::read::Layer;
use crate::surface::{self, CellValues, Cleaned, FieldPlace, PlaneCells, ZonalTable};
use std::path::Path;

/// Points within this distance of the field's box still count for its surface.
const POINT_REACH_M: f64 = 50.0;

impl Placer<'_> {
    /// Makes polygons of rasters or of points, whichever the layer is.
    pub(super) fn values(
        &mut self,
        layer: &ZoneLayer,
        values: &Values,
        role: &str,
    ) -> Outcome<Zoned> {
        let values = &values.behind(self.job.drill.working_width_m);
        if values.method != ClassMethod::KMeans && values.surface.is_none() {
            return self.raster(layer, values, role);
        }
        let cells = PlaneCells::over(&self.boundary, values)?;
        let mut layers = vec![self.on_cells(&cells, &layer.source, values, role)?];
        if values.surface.is_some() {
            let surfaces = &mut self.surfaces;
            surfaces.push(cells.grid(layer.name.clone(), &layers[0]));
        }
        for (n, also) in values.also.iter().enumerate() {
            let role = format!("{role}, also {}", n + 1);
            let found = self.on_cells(&cells, &also.source, &also.values(), &role)?;
            if also.surface.is_some() {
                let name = format!("{} also {}", layer.name, n + 1);
                self.surfaces.push(cells.grid(name, &found));
            }
            layers.push(found);
        }
        let like = self.in_plane(&layer.source);
        let (zones, cleaned) = surface::cell_zones(&cells, &layers, &like, values)?;
        self.findings.extend(zones.findings.iter().cloned());
        Ok((zones, cleaned))
    }

    /// Gives the polygons of a layer numbers from a raster.
    pub(super) fn zonal(
        &mut self,
        layer: &ZoneLayer,
        zonal: &Zonal,
        role: &str,
    ) -> Outcome<(Layer<PlaneXy>, ZonalTable)> {
        let polygons = self.place(&layer.source, role, 0.0, true)?;
        // What reading had to say has been kept already.
        let polygons = Layer {
            findings: Vec::new(),
            ..polygons
        };
        let found = self.open_raster(
            &zonal.source,
            &format!("{role}, zonal"),
            "name a GeoTIFF or an ESRI ASCII grid in `source` of `zonal`",
        )?;
        let field = self.field();
        let (polygons, table) =
            surface::zonal_layer(&found.raster, &found.crs, field, polygons, layer, zonal)?;
        self.settle(&polygons, &found.crs);
        found.done();
        Ok((polygons, table))
    }

    fn field(&self) -> FieldPlace<'_> {
        FieldPlace {
            frame: &self.frame,
            boundary: &self.boundary,
        }
    }

    /// An empty layer in the field's plane that stands for a file in messages.
    fn in_plane(&self, source: &Source) -> Layer<PlaneXy> {
        Layer {
            file: self.job.folder.join(&source.file),
            features: Vec::new(),
            findings: Vec::new(),
            ..self.boundary.clone()
        }
    }

    /// The values of a raster or of points on cells.
    fn on_cells(
        &mut self,
        cells: &PlaneCells,
        source: &Source,
        values: &Values,
        role: &str,
    ) -> Outcome<CellValues> {
        match values.surface {
            None => {
                let found = self.open_raster(source, role, OTHERWISE)?;
                let FoundRaster { raster, crs, .. } = &found;
                let on_cells = cells.raster(raster, crs, self.field(), role, values)?;
                self.findings.extend(crs.findings.iter().cloned());
                self.footings.push(crs.footing());
                found.done();
                Ok(on_cells)
            }
            Some(surface) => {
                let file = self.job.folder.join(&source.file);
                if self.inputs.is_raster(self.job, source) {
                    return Err(no_match(
                        &file,
                        role,
                        "this is a raster, and `surface` is for points",
                        "remove `surface` and `column`, or name a file of points",
                    ));
                }
                let points = self.place(source, role, POINT_REACH_M, true)?;
                // What reading had to say has been kept already.
                let points = Layer {
                    findings: Vec::new(),
                    ..points
                };
                cells.points(&points, role, values, surface)
            }
        }
    }

    fn open_raster(&mut self, source: &Source, role: &str, next: &str) -> Outcome<FoundRaster> {
        let found = self.inputs.raster(self.job, source);
        let Some(found) = found.map_err(|fault| self.fitted(fault, source))? else {
            let file = self.job.folder.join(&source.file);
            return Err(no_match(&file, role, "this is no raster", next));
        };
        self.provenance.push(Input {
            role: role.to_owned(),
            ..found.input.clone()
        });
        frame::must_meet(&found.raster.outline(), &found.crs, &self.frame)?;
        Ok(found)
    }

    /// Keeps what reading a raster and making a layer of it had to say.
    fn settle(&mut self, layer: &Layer<PlaneXy>, crs: &Crs) {
        self.findings.extend(layer.findings.iter().cloned());
        self.findings.extend(crs.findings.iter().cloned());
        self.footings.push(crs.footing());
    }

    /// Reads a raster, makes polygons of its classes over the field and places them.
    fn raster(&mut self, layer: &ZoneLayer, values: &Values, role: &str) -> Outcome<Zoned> {
        let found = self.open_raster(&layer.source, role, OTHERWISE)?;
        let FoundRaster { raster, crs, .. } = &found;
        let (zones, cleaned) = surface::raster_zones(raster, crs, self.field(), layer, values)?;
        let zones = frame::place(zones, crs, &self.frame)?;
        self.settle(&zones, crs);
        found.done();
        Ok((near(zones, &self.boundary, 0.0), cleaned))
    }
}

/// What to do about a layer of `values` that is no raster.
const OTHERWISE: &str = "for points add surface = \"kriging\" and column = \"...\" to `values`; for polygons replace `values` by class_attribute";

/// A layer of zones, and what cleaning them moved.
type Zoned = (Layer<PlaneXy>, Vec<Cleaned>);

fn no_match(file: &Path, role: &str, found: &str, next: &str) -> Box<Fault> {
    Fault::input(
        "plan.values",
        Place::file(file),
        format!("{found} ({role})"),
        "`values` with `surface` and `column` for points, without them for a raster; a raster in `zonal`",
        next,
    )
}
