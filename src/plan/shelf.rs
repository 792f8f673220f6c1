//! Inputs read once for many fields: where the fields of a job with `split_by` come from.

use super::Input;
use super::gather::{Inputs, crs_of, framed, raster_of, surface_of, tables};
use super::wanted::{self, Wanted};
use crate::agronomy::Tables;
use crate::findings::{Fault, Finding, Outcome};
use crate::frame::{self, Crs, Frame};
use crate::job::{Job, Source, SurfaceMethod, Values, ZoneLayer};
use crate::land::near;
use crate::read::{self, Geometry, Layer, Raster, Xy};
use rstar::primitives::{GeomWithData, Rectangle};
use rstar::{AABB, RTree};
use std::collections::BTreeMap;

/// All inputs of a job in degrees, and the fields that its boundary holds.
pub struct Shelf {
    job: Job,
    attribute: String,
    boundary: Kept,
    exclusions: Vec<Kept>,
    setbacks: Vec<Kept>,
    special_areas: Vec<Kept>,
    zones: Vec<Zones>,
    tables: Tables,
    of_tables: Vec<Input>,
    mixed_datums: Vec<Finding>,
    /// Name and boundary features of each field, in the order of the file.
    fields: Vec<(String, Vec<u32>)>,
}

impl Shelf {
    /// Reads everything that a job with `split_by` names, each file once.
    ///
    /// # Errors
    /// A file that cannot be read or understood, a CRS that is missing or unknown, a boundary without
    /// the attribute.
    pub fn of(job: &Job, attribute: &str) -> Outcome<Self> {
        let mut crs = Vec::new();
        let wanted = Wanted {
            source: &job.field.boundary,
            role: "boundary".to_owned(),
            margin_m: 0.0,
        };
        let boundary = Kept::open(wanted, job, &mut crs)?;
        let mut keep = |all: Vec<Wanted>| -> Outcome<Vec<Kept>> {
            let all = all.into_iter();
            all.map(|one| Kept::open(one, job, &mut crs)).collect()
        };
        let exclusions = keep(wanted::exclusions(job))?;
        let setbacks = keep(wanted::setbacks(job))?;
        let special_areas = keep(wanted::special_areas(job))?;
        let mut zones = Vec::new();
        for (layer, wanted) in job.layers.iter().zip(wanted::layers(job)) {
            zones.push(Zones::open(layer, wanted, job, &mut crs)?);
        }
        let (tables, of_tables) = tables(job)?;
        let fields = fields(&boundary.layer, attribute)?;
        let crs: Vec<&Crs> = crs.iter().collect();
        Ok(Self {
            mixed_datums: frame::mixed_datums(&crs).into_iter().collect(),
            job: job.clone(),
            attribute: attribute.to_owned(),
            boundary,
            exclusions,
            setbacks,
            special_areas,
            zones,
            tables,
            of_tables,
            fields,
        })
    }

    /// What tells each field apart, in the order of the boundary file.
    pub fn fields(&self) -> impl ExactSizeIterator<Item = &str> {
        self.fields.iter().map(|(value, _)| value.as_str())
    }

    /// The job of one field: it could be planned by itself.
    pub fn job(&self, nth: usize) -> Job {
        let mut job = self.job.clone();
        let Some((value, _)) = self.fields.get(nth) else {
            return job;
        };
        job.field.split_by = None;
        let only = &mut job.field.boundary.only;
        only.insert(self.attribute.clone(), value.clone());
        for name in [&mut job.name, &mut job.field.name] {
            *name = format!("{name} {value}").trim_start().to_owned();
        }
        job
    }

    /// The inputs of one field, in its own plane.
    ///
    /// # Errors
    /// A boundary feature without polygons, or one that no plane can be centred on.
    pub fn inputs(&self, nth: usize) -> Outcome<Inputs> {
        let job = &self.job;
        let members = self.fields.get(nth).map_or(&[][..], |field| &field.1);
        let mut findings = Vec::new();
        let boundary = self.boundary.some(members);
        self.boundary.settle(&boundary, &mut findings);
        let Some(extent) = extent(points(&boundary.features)) else {
            return Err(crate::land::no_polygon(&boundary));
        };
        let (frame, boundary) = framed(boundary, &mut findings)?;
        let mut field = Field {
            job,
            extent,
            frame: &frame,
            boundary: &boundary,
            findings: &mut findings,
        };
        let mut place = |all: &[Kept]| all.iter().map(|kept| field.place(kept)).collect();
        let exclusions = place(&self.exclusions);
        let setbacks = place(&self.setbacks);
        let special_areas = place(&self.special_areas);
        let mut zones = Vec::new();
        for (kept, layer) in self.zones.iter().zip(&job.layers) {
            zones.push(match kept {
                Zones::Polygons(kept) => field.place(kept),
                Zones::Points(kept, of_points) => field.points(kept, layer, of_points)?,
                Zones::Raster(kept) => field.raster(kept, layer)?,
            });
        }
        findings.extend(self.mixed_datums.iter().cloned());
        let kept = std::iter::once(&self.boundary)
            .chain(&self.exclusions)
            .chain(&self.setbacks)
            .chain(&self.special_areas)
            .map(|kept| &kept.input);
        let inputs = kept
            .chain(self.zones.iter().map(Zones::input))
            .chain(&self.of_tables);
        Ok(Inputs {
            frame,
            exclusions,
            setbacks,
            special_areas,
            zones,
            tables: self.tables.clone(),
            provenance: inputs.cloned().collect(),
            boundary,
            findings,
        })
    }
}

/// A zone layer: its polygons, or what they are made of for each field.
enum Zones {
    Polygons(Kept),
    Points(Kept, (Values, SurfaceMethod)),
    Raster(KeptRaster),
}

/// A raster whose values are read where a field needs them.
struct KeptRaster {
    raster: Raster,
    source: Source,
    values: Values,
    input: Input,
}

impl Zones {
    fn open(layer: &ZoneLayer, wanted: Wanted, job: &Job, all: &mut Vec<Crs>) -> Outcome<Self> {
        let Some(values) = &layer.values else {
            return Ok(Self::Polygons(Kept::open(wanted, job, all)?));
        };
        if let Some(surface) = wanted::surface(job, layer, values)? {
            let kept = Kept::open(wanted, job, all)?;
            return Ok(Self::Points(kept, (values.clone(), surface)));
        }
        let raster = Raster::open(wanted.source, &job.folder)?;
        let crs = crs_of(job, &raster.outline(), wanted.source)?;
        let kept = KeptRaster {
            input: input(&wanted, job, &crs)?,
            source: wanted.source.clone(),
            values: values.clone(),
            raster,
        };
        all.push(crs);
        Ok(Self::Raster(kept))
    }

    fn input(&self) -> &Input {
        match self {
            Self::Polygons(kept) | Self::Points(kept, _) => &kept.input,
            Self::Raster(kept) => &kept.input,
        }
    }
}

/// A field in its plane, and what was said while its layers were placed there.
struct Field<'a> {
    job: &'a Job,
    /// Of its boundary, in degrees.
    extent: [Xy; 2],
    frame: &'a Frame,
    boundary: &'a Layer,
    findings: &'a mut Vec<Finding>,
}

impl Field<'_> {
    /// What of a layer lies near the field.
    fn place(&mut self, kept: &Kept) -> Layer {
        let layer = frame::to_plane(kept.around(self.extent, kept.margin_m), self.frame);
        kept.settle(&layer, self.findings);
        near(layer, self.boundary, kept.margin_m)
    }

    /// Polygons from the points of a layer.
    fn points(
        &mut self,
        kept: &Kept,
        layer: &ZoneLayer,
        (values, surface): &(Values, SurfaceMethod),
    ) -> Outcome<Layer> {
        let points = self.place(kept);
        let zones = surface_of(points, self.boundary, layer, values, *surface)?;
        self.findings.extend(zones.findings.iter().cloned());
        Ok(zones)
    }

    /// Polygons from the pixels of a raster.
    fn raster(&mut self, kept: &KeptRaster, layer: &ZoneLayer) -> Outcome<Layer> {
        // PROJ's objects stay on their thread, and fields are planned on many.
        let crs = crs_of(self.job, &kept.raster.outline(), &kept.source)?;
        let field = (self.frame, self.boundary);
        let zones = raster_of(&kept.raster, &crs, field, layer, &kept.values)?;
        self.findings.extend(zones.findings.iter().cloned());
        self.findings.extend(crs.findings.iter().cloned());
        Ok(near(zones, self.boundary, 0.0))
    }
}

fn input(wanted: &Wanted, job: &Job, crs: &Crs) -> Outcome<Input> {
    Ok(Input {
        role: wanted.role.clone(),
        file: wanted.source.file.display().to_string(),
        sha256: read::sha256(&job.folder.join(&wanted.source.file))?,
        crs: crs.name.clone(),
        accuracy_m: crs.accuracy_m,
    })
}

/// A layer in degrees with the boxes of its features.
struct Kept {
    layer: Layer,
    input: Input,
    margin_m: f64,
    of_crs: Vec<Finding>,
    boxes: RTree<GeomWithData<Rectangle<Xy>, u32>>,
}

impl Kept {
    fn open(wanted: Wanted, job: &Job, all: &mut Vec<Crs>) -> Outcome<Self> {
        let layer = read::open(wanted.source, &job.folder)?;
        let crs = crs_of(job, &layer, wanted.source)?;
        let input = input(&wanted, job, &crs)?;
        let layer = frame::to_wgs84(layer, &crs)?;
        let boxes = layer
            .features
            .iter()
            .zip(0..)
            .filter_map(|(feature, number)| {
                let [low, high] = extent(points(std::slice::from_ref(feature)))?;
                Some(GeomWithData::new(
                    Rectangle::from_corners(low, high),
                    number,
                ))
            });
        let kept = Self {
            boxes: RTree::bulk_load(boxes.collect()),
            of_crs: crs.findings.clone(),
            margin_m: wanted.margin_m,
            input,
            layer,
        };
        all.push(crs);
        Ok(kept)
    }

    /// The layer with these features only.
    fn some(&self, numbers: &[u32]) -> Layer {
        let features = numbers
            .iter()
            .filter_map(|&number| self.layer.features.get(number as usize).cloned())
            .collect();
        Layer {
            file: self.layer.file.clone(),
            format: self.layer.format,
            table: self.layer.table.clone(),
            crs: self.layer.crs.clone(),
            attributes: self.layer.attributes.clone(),
            features,
            findings: self.layer.findings.clone(),
        }
    }

    /// The layer with the features that may come within `margin_m` of a field, by their boxes.
    fn around(&self, [low, high]: [Xy; 2], margin_m: f64) -> Layer {
        // The plane is turned against the meridians by far less than a fiftieth, and boxes in it
        // differ from boxes in degrees accordingly.
        let size = |axis: usize| high[axis] - low[axis];
        let slack = 0.02 * (size(0) + size(1));
        let up = slack + (margin_m + 100.0) / METRES_PER_DEGREE;
        let farthest = low[1].abs().max(high[1].abs()) + up;
        let along = up / farthest.min(MOST_LATITUDE).to_radians().cos();
        let mut found = Vec::new();
        // Three times round: a field at the antimeridian has neighbours on the other side.
        for turn in [-360.0, 0.0, 360.0] {
            let corners = [
                [low[0] - along + turn, low[1] - up],
                [high[0] + along + turn, high[1] + up],
            ];
            let reach = AABB::from_corners(corners[0], corners[1]);
            let inside = self.boxes.locate_in_envelope_intersecting(reach);
            found.extend(inside.map(|feature| feature.data));
        }
        found.sort_unstable();
        found.dedup();
        self.some(&found)
    }

    /// Keeps what reading and placing had to say.
    fn settle(&self, layer: &Layer, findings: &mut Vec<Finding>) {
        findings.extend(layer.findings.iter().cloned());
        findings.extend(self.of_crs.iter().cloned());
    }
}

/// Length of a degree of latitude, metres: the shortest there is, so that margins come out wide.
const METRES_PER_DEGREE: f64 = 110_500.0;
/// Planes end at 84 degrees.
const MOST_LATITUDE: f64 = 85.0;

/// The fields of a boundary by the values of an attribute.
fn fields(boundary: &Layer, attribute: &str) -> Outcome<Vec<(String, Vec<u32>)>> {
    let refused = |found: String, allowed: String, next: &str| {
        Fault::input("plan.split_by", boundary.place(), found, allowed, next)
    };
    let Some(column) = boundary
        .attributes
        .iter()
        .position(|name| name == attribute)
    else {
        let names = boundary.attributes.join(", ");
        return Err(refused(
            format!("there is no attribute '{attribute}', which split_by names"),
            format!("one of: {names}"),
            "correct split_by under [field], or leave it out for one field in several parts",
        ));
    };
    let mut fields: Vec<(String, Vec<u32>)> = Vec::new();
    let mut known: BTreeMap<String, usize> = BTreeMap::new();
    for (feature, number) in boundary.features.iter().zip(0..) {
        let value = feature
            .values
            .get(column)
            .map(ToString::to_string)
            .unwrap_or_default();
        if value.is_empty() {
            return Err(refused(
                format!(
                    "feature {} has no '{attribute}', which split_by names",
                    feature.name
                ),
                "a value for every feature of the boundary".to_owned(),
                "fill it in, or leave the feature out with `only`",
            ));
        }
        let field = *known.entry(value.clone()).or_insert_with(|| {
            fields.push((value, Vec::new()));
            fields.len() - 1
        });
        if let Some((_, members)) = fields.get_mut(field) {
            members.push(number);
        }
    }
    Ok(fields)
}

fn points(features: &[read::Feature]) -> impl Iterator<Item = Xy> {
    features
        .iter()
        .flat_map(|feature| -> Box<dyn Iterator<Item = &Xy>> {
            match &feature.geometry {
                Geometry::Empty => Box::new(std::iter::empty()),
                Geometry::Points(points) => Box::new(points.iter()),
                Geometry::Lines(lines) => Box::new(lines.iter().flatten()),
                // Holes lie inside.
                Geometry::Polygons(polygons) => Box::new(polygons.iter().flat_map(|p| &p.exterior)),
            }
        })
        .copied()
}

/// South-west and north-east corner; `None` without points.
fn extent(mut points: impl Iterator<Item = Xy>) -> Option<[Xy; 2]> {
    let first = points.next()?;
    Some(points.fold([first; 2], |[low, high], [x, y]| {
        [
            [low[0].min(x), low[1].min(y)],
            [high[0].max(x), high[1].max(y)],
        ]
    }))
}
