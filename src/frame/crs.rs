//! A layer's CRS and its way to WGS 84.

use super::area::{extremes, points};
use super::name::{self, Named, resolve};
use super::operation::{Better, choose};
use super::own::{Own, check_area};
use super::proj::{Area, Context, Kind, Object, Operation};
use crate::coordinates::LonLat;
use crate::findings::{Fault, Finding, Outcome, Place, number};
use crate::read::{Layer, MOST_LONGITUDE, Xy};
use std::path::Path;

/// A layer's way to WGS 84: one operation, chosen for where the layer lies. It may move from thread to thread.
pub struct Crs {
    /// `EPSG:28992 Amersfoort / RD New`, for messages.
    pub name: String,
    /// Accuracy in metres that PROJ states for the datum shift; 0 where none is needed; `None` where it
    /// states none.
    pub accuracy_m: Option<f64>,
    /// Ballpark shifts and other doubts.
    pub findings: Vec<Finding>,
    /// The geographic CRS underneath, which stands for the datum: `ETRS89`, `Amersfoort`.
    datum: String,
    /// The datum is taken as equal to WGS 84 although it is another one.
    unmodelled: bool,
    /// x and y are longitude and latitude in some unit.
    geographic: bool,
    /// Units of x in a whole turn; 0 for a projected CRS.
    turn: f64,
    place: Place,
    /// `None`: the coordinates are WGS 84 degrees already.
    operation: Option<Operation>,
}

/// Texts for longitudes and latitudes on WGS 84, as GeoJSON, GeoPackages and .prj files have them, and the name that
/// PROJ gives to each.
const DEGREES: [(&str, &str); 3] = [
    (name::CRS84, "OGC:CRS84 WGS 84 (CRS84)"),
    ("EPSG:4326", "EPSG:4326 WGS 84"),
    (
        r#"GEOGCS["GCS_WGS_1984",DATUM["D_WGS_1984",SPHEROID["WGS_1984",6378137.0,298.257223563]],PRIMEM["Greenwich",0.0],UNIT["Degree",0.0174532925199433]]"#,
        "EPSG:4326 WGS 84",
    ),
];

/// What a layer's places stand on: its datum, and how well the way from there to WGS 84 is known.
#[derive(Debug, Clone, PartialEq)]
pub struct Footing {
    datum: String,
    accuracy_m: Option<f64>,
    unmodelled: bool,
}

impl Crs {
    /// The CRS a layer is in: what the job names, else what the file declares. No transformation grids.
    ///
    /// Refused: a layer without a CRS, a CRS that is unknown or not horizontal, coordinates far outside
    /// its area of use (with a word if the axes look swapped), a CRS with no way to WGS 84.
    pub fn of(layer: &Layer, named_in_job: Option<&str>) -> Outcome<Self> {
        Self::with_grids(layer, named_in_job, None)
    }

    /// The same, with a folder of transformation grids. Grids in the NTv2 form (.gsb) can be read;
    /// GeoTIFF grids cannot, since PROJ is built here without the TIFF library. The caller sees to it that the folder is
    /// there.
    pub fn with_grids(
        layer: &Layer,
        named_in_job: Option<&str>,
        grids: Option<&Path>,
    ) -> Outcome<Self> {
        match Self::of_degrees(layer, named_in_job) {
            Some(known) => Ok(known),
            None => Self::by_proj(layer, &extremes(layer), named_in_job, grids),
        }
    }

    /// Longitudes and latitudes on WGS 84, as most files name them: what PROJ says of them is known, and asking costs
    /// a small field more than all else. `None` for any other CRS, and for numbers that are no degrees.
    fn of_degrees(layer: &Layer, named_in_job: Option<&str>) -> Option<Self> {
        let meant = match (named_in_job, name::declared(&layer.crs)) {
            (Some(named), Some(declared)) if named != declared => return None,
            (Some(text), _) | (None, Some(text)) => text.trim(),
            (None, None) => return None,
        };
        let (_, name) = DEGREES.iter().find(|(text, _)| *text == meant)?;
        let on_earth = |[lon, lat]: Xy| lon.abs() <= 180.0 && lat.abs() <= 90.0;
        points(layer).all(on_earth).then(|| Self {
            name: (*name).to_owned(),
            accuracy_m: Some(0.0),
            findings: Vec::new(),
            datum: String::from("WGS 84"),
            unmodelled: false,
            geographic: true,
            turn: 360.0,
            place: layer.place(),
            operation: None,
        })
    }

    fn by_proj(
        layer: &Layer,
        far_out: &[Xy],
        named_in_job: Option<&str>,
        grids: Option<&Path>,
    ) -> Outcome<Self> {
        let context = Context::open(grids).map_err(|said| no_database(&said))?;
        let wgs84 = context
            .parse("EPSG:4326")
            .map_err(|said| no_database(&said))?;
        let place = layer.place();
        let mut findings = Vec::new();

        let declared = name::declared(&layer.crs);
        let named = match (named_in_job, declared) {
            (Some(text), declared) => {
                let named = resolve(&context, text, "the crs that the job names,", &place)?;
                if let Some(declared) = declared {
                    findings.extend(differing(
                        &named,
                        resolve(&context, declared, "", &place),
                        &place,
                    ));
                }
                named
            }
            (None, Some(text)) => {
                resolve(&context, text, "the CRS that the file declares,", &place)?
            }
            (None, None) => return Err(name::missing(layer, far_out)),
        };
        let Named {
            crs,
            name,
            deprecated,
            unlisted,
        } = named;
        if deprecated {
            findings.push(Finding::note(
                "frame.crs_deprecated",
                place.clone(),
                format!("{name} is withdrawn in the EPSG registry; it still works"),
            ));
        }
        if unlisted {
            findings.push(Finding::note(
                "frame.crs_unlisted",
                place.clone(),
                format!("the CRS '{name}' is like no EPSG entry and is used as it is written out"),
            ));
        }

        let own = Own::of(&crs, &place, &name)?;
        let lon_lat = own.lon_lat(far_out);
        if let Some(area) = own.base.area_of_use() {
            findings.extend(check_area(&area, &own, far_out, &lon_lat, &name, &place)?);
        }
        let on_wgs84 = own.geographic.is_same_as(&wgs84);
        let mut result = Self {
            accuracy_m: Some(0.0),
            findings,
            datum: if on_wgs84 {
                String::from("WGS 84")
            } else {
                own.geographic.name()
            },
            unmodelled: false,
            geographic: own.projection.is_none(),
            turn: if own.projection.is_none() {
                360.0 / own.unit
            } else {
                0.0
            },
            place,
            operation: None,
            name,
        };
        if on_wgs84 && crs.kind() == Kind::Geographic {
            return Ok(result);
        }
        let finite: Vec<Xy> = lon_lat
            .iter()
            .copied()
            .filter(|p| p[0].is_finite() && p[1].is_finite())
            .collect();
        let area = Area::round(&finite);
        let trial = far_out.first().copied();
        let Some(choice) = choose(&crs, &wgs84, area.as_ref(), trial) else {
            return Err(Fault::input(
                "frame.no_operation",
                result.place,
                format!(
                    "there is no way from {} to WGS 84 where the layer lies ({})",
                    result.name,
                    context.said()
                ),
                "a CRS that is tied to WGS 84 by the EPSG registry",
                "export the layer in WGS 84 or a national grid with a GIS, and name that CRS",
            ));
        };
        if !on_wgs84 {
            result.accuracy_m = choice.accuracy_m;
            result.unmodelled = choice.ballpark || stays(&choice.operation, trial, lon_lat.first());
        }
        result.tell_shift(choice.ballpark, choice.better);
        // All that shares the context of the operation goes.
        drop((crs, own, wgs84, context));
        let shared = || {
            Fault::program(
                "frame.shared_context",
                result.place.clone(),
                "the operation to WGS 84 shares its context with another object",
                "an operation on its own",
            )
        };
        result.operation = Some(Operation::alone(choice.operation).ok_or_else(shared)?);
        Ok(result)
    }

    /// The datum, named by the geographic CRS underneath.
    pub fn datum(&self) -> &str {
        &self.datum
    }

    /// What the layer's places stand on, apart from PROJ.
    pub fn footing(&self) -> Footing {
        Footing {
            datum: self.datum.clone(),
            accuracy_m: self.accuracy_m,
            unmodelled: self.unmodelled,
        }
    }

    /// Whether x and y are longitude and latitude, so that edges are straight in these.
    pub(super) fn turn(&self) -> Option<f64> {
        self.geographic.then_some(self.turn)
    }

    pub(super) fn place(&self) -> &Place {
        &self.place
    }

    /// From the CRS's own coordinates (x east, y north) to WGS 84 degrees; longitudes lie
    /// within -180 and 180. Refused: the first point that has no place on Earth.
    pub fn to_wgs84(&self, points: &[Xy]) -> Outcome<Vec<LonLat>> {
        self.try_wgs84(points.to_vec())
            .map_err(|at| self.no_place(points.get(at).copied().unwrap_or_default(), None))
    }

    /// From WGS 84 degrees to the CRS's own coordinates (x east, y north); the list keeps its room. What has no place
    /// in this CRS becomes infinite. In a geographic CRS longitudes lie within -180 and 180 or their
    /// like in its unit, whatever turn the file counts in.
    pub fn from_wgs84(&self, places: Vec<LonLat>) -> Vec<Xy> {
        let mut points: Vec<Xy> = places.into_iter().map(LonLat::pair).collect();
        if let Some(operation) = &self.operation {
            operation.transform_back(&mut points);
        }
        points
    }

    /// Whether coordinates are WGS 84 degrees already.
    pub(super) fn is_wgs84(&self) -> bool {
        self.operation.is_none()
    }

    /// As [`Self::to_wgs84`]; the list keeps its room, and the error is the index of the first point that has no place
    /// on Earth.
    pub(super) fn try_wgs84(&self, mut points: Vec<Xy>) -> Result<Vec<LonLat>, usize> {
        if let Some(operation) = &self.operation {
            operation.transform(&mut points);
        }
        if let Some(at) = points
            .iter()
            .position(|&point| half_a_turn(point).is_none())
        {
            return Err(at);
        }
        Ok(points.into_iter().filter_map(half_a_turn).collect())
    }

    /// The fault for a point that has no place on Earth.
    pub(super) fn no_place(&self, [x, y]: Xy, feature: Option<&str>) -> Box<Fault> {
        let place = match feature {
            Some(feature) => self.place.clone().feature(feature),
            None => self.place.clone(),
        };
        Fault::input(
            "frame.not_on_earth",
            place,
            format!(
                "the coordinates x = {}, y = {} are no place on Earth in {}",
                number(x),
                number(y),
                self.name
            ),
            "finite coordinates within the CRS's area of use",
            "mend or remove the point, or name the right CRS in the job, as crs = \"EPSG:...\"",
        )
    }

    fn tell_shift(&mut self, ballpark: bool, better: Option<Better>) {
        if ballpark {
            self.findings.push(Finding::warning(
                "frame.ballpark_shift",
                self.place.clone(),
                format!(
                    "no datum shift from {} to WGS 84 is known here; the two are taken as equal, which may displace the layer by tens to hundreds of metres",
                    self.datum
                ),
            ));
        }
        let Some(better) = better else { return };
        let metres =
            |a: Option<f64>| a.map_or(String::from("an accuracy not stated"), |a| format!("{a} m"));
        let (grids, now, then) = (
            better.grids.join(" and "),
            metres(self.accuracy_m),
            metres(better.accuracy_m),
        );
        self.findings.push(if better.there {
            Finding::warning(
                "frame.grid_unfit",
                self.place.clone(),
                format!(
                    "the transformation grid {grids} is there, but it cannot be read or does not reach the layer; the way from {} to WGS 84 is good to {now} instead of {then}",
                    self.name
                ),
            )
        } else {
            Finding::note(
                "frame.better_grid",
                self.place.clone(),
                format!(
                    "the way from {} to WGS 84 is good to {now}; with the transformation grid {grids} it would be good to {then}",
                    self.name
                ),
            )
        });
    }
}

/// The warning for a file that declares another CRS than the job names.
fn differing(named: &Named, declared: Outcome<Named>, place: &Place) -> Option<Finding> {
    let what = match declared {
        Ok(declared) if declared.crs.is_same_as(&named.crs) => return None,
        Ok(declared) => format!("the file declares {}", declared.name),
        Err(_) => String::from("the file declares a CRS that is not understood"),
    };
    Some(Finding::warning(
        "frame.crs_overruled",
        place.clone(),
        format!("{what}; the job names {}, and that is used", named.name),
    ))
}

/// Degrees on WGS 84 as a place, its longitude brought within half a turn; `None` for what is none on Earth.
pub(super) fn half_a_turn([lon, lat]: Xy) -> Option<LonLat> {
    if !(lon.abs() <= MOST_LONGITUDE && lat.abs() <= 90.0) {
        return None;
    }
    let lon = match lon {
        east if east > 180.0 => east - 360.0,
        west if west < -180.0 => west + 360.0,
        within => within,
    };
    Some(LonLat::new(lon, lat))
}

/// Whether an operation leaves a point at its own longitude and latitude: 1e-10 degree is 0.01 mm.
fn stays(operation: &Object, point: Option<Xy>, own: Option<&Xy>) -> bool {
    let (Some(point), Some(own)) = (point, own) else {
        return false;
    };
    let mut moved = [point];
    operation.transform(&mut moved);
    (moved[0][0] - own[0]).abs() < 1e-10 && (moved[0][1] - own[1]).abs() < 1e-10
}

/// A warning if layers are on different datums and the shift between them is not modelled: they may
/// lie beside each other by as much as the accuracies say.
pub fn mixed_datums(layers: &[Footing]) -> Option<Finding> {
    let mut datums: Vec<&str> = layers.iter().map(|of| of.datum.as_str()).collect();
    datums.sort_unstable();
    datums.dedup();
    let doubtful: Vec<&Footing> = layers.iter().filter(|of| of.unmodelled).collect();
    if datums.len() < 2 || doubtful.is_empty() {
        return None;
    }
    let mut said: Vec<String> = doubtful
        .iter()
        .map(|of| match of.accuracy_m {
            Some(metres) => format!("{} (to {metres} m)", of.datum),
            None => format!("{} (accuracy not stated)", of.datum),
        })
        .collect();
    said.sort_unstable();
    said.dedup();
    Some(Finding::warning(
        "frame.mixed_datums",
        Place::nowhere(),
        format!(
            "the layers are on different datums ({}), and these are taken as equal to WGS 84 without a shift: {}; layers may lie beside each other by that much",
            datums.join(", "),
            said.join(", ")
        ),
    ))
}

/// Version of the EPSG registry in the database inside the binary, such as `v12.013`. A test holds it against
/// the database, which is not opened for it.
pub fn epsg_version() -> &'static str {
    EPSG_VERSION
}

const EPSG_VERSION: &str = "v12.013";

fn no_database(said: &str) -> Box<Fault> {
    Fault::machine(
        "frame.no_database",
        Place::nowhere(),
        format!("the CRS database inside the program does not open ({said})"),
        "the program as it was built, without PROJ_AUX_DB in the environment",
        "unset PROJ_AUX_DB; if that does not help, install the program anew",
    )
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::read::{DeclaredCrs, Feature, Geometry};
    use std::path::PathBuf;

    /// If this fails, PROJ has come with another database: write its version into the constant.
    #[test]
    fn the_version_is_that_of_the_database() {
        let context = Context::open(None).expect("a database");
        assert_eq!(
            context.metadata(c"EPSG.VERSION").as_deref(),
            Some(epsg_version())
        );
    }

    #[test]
    fn what_is_known_of_degrees_is_what_proj_says() {
        let layer = |crs: &DeclaredCrs, points: &[Xy]| Layer {
            file: PathBuf::from("field.geojson"),
            format: "GeoJSON",
            table: None,
            crs: crs.clone(),
            attributes: vec![],
            features: vec![Feature {
                name: "1".into(),
                geometry: Geometry::Points(points.to_vec()),
                values: vec![],
            }],
            findings: vec![],
        };
        let texts = DEGREES.map(|(text, _)| DeclaredCrs::Text(text.to_owned()));
        let written = [DeclaredCrs::Wgs84ByStandard].into_iter().chain(texts);
        let places = [
            &[[9.0, 52.0], [9.1, 52.1]][..],
            &[[-180.0, -90.0], [180.0, 90.0]],
            &[],
        ];
        for (crs, points) in written.flat_map(|crs| places.map(|points| (crs.clone(), points))) {
            let layer = layer(&crs, points);
            let known = Crs::of_degrees(&layer, None).expect("degrees");
            let right = Crs::by_proj(&layer, &extremes(&layer), None, None).expect("known to PROJ");
            assert_eq!(known.name, right.name);
            assert_eq!(known.accuracy_m, right.accuracy_m);
            assert_eq!((known.findings, right.findings.len()), (vec![], 0));
            assert_eq!(known.datum, right.datum);
            assert_eq!(known.unmodelled, right.unmodelled);
            assert_eq!(known.geographic, right.geographic);
            assert_eq!(known.turn, right.turn);
            assert_eq!(known.place, right.place);
            assert!(right.operation.is_none());
        }
        // What is no place on Earth is left to those who say what is wrong.
        for point in [[180.1, 0.0], [500_000.0, 5_800_000.0], [0.0, -90.1]] {
            let layer = layer(&DeclaredCrs::Wgs84ByStandard, &[point]);
            assert!(Crs::of_degrees(&layer, None).is_none());
        }
        // A job that names another CRS than the file is told so.
        let differs = layer(&DeclaredCrs::Wgs84ByStandard, &[[9.0, 52.0]]);
        assert!(Crs::of_degrees(&differs, Some("EPSG:4326")).is_none());
        let other = DeclaredCrs::Text(DEGREES[2].0.replace("WGS_1984", "NAD_1983"));
        assert!(Crs::of_degrees(&layer(&other, &[[9.0, 52.0]]), None).is_none());
    }
}
