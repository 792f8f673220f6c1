//! Which CRSs would put the coordinates of a layer that names none where the field lies, or on land at all. Nothing is
//! guessed: they are told, and a person says which one it is.

use super::area::extremes;
use super::local::Extent;
use super::name;
use super::own::Own;
use super::plane::{Frame, from_meridian};
use super::proj::{Area, Context};
use crate::coordinates::{LonLat, PlaneXy};
use crate::findings::{Fault, Place};
use crate::job::Source;
use crate::read::{self, Layer, Raster, Xy};
use std::path::Path;
use std::rc::Rc;

/// Where a layer should lie: on the boundary of its field.
#[derive(Debug, Clone, PartialEq)]
pub struct Near {
    /// South-west and north-east corner, degrees.
    pub extent: [LonLat; 2],
    /// The boundary's CRS, as [`super::Crs::name`] calls it; empty where that is not known.
    pub crs: String,
}

impl Near {
    /// Where the field of a plane lies; of its CRS nothing is known then.
    pub fn of_frame(frame: &Frame) -> Self {
        let corners = frame.extent_m().map(|[low, high]| {
            let corners = [
                low,
                PlaneXy::new(high.x, low.y),
                high,
                PlaneXy::new(low.x, high.y),
            ];
            corners.map(|corner| frame.to_lon_lat(corner))
        });
        let corners = corners.unwrap_or([frame.origin(); 4]);
        let lon0 = frame.origin().lon;
        let lon = corners.map(|corner| lon0 + from_meridian(corner.lon, lon0));
        let lat = corners.map(|corner| corner.lat);
        let [low, high]: [fn(f64, f64) -> f64; 2] = [f64::min, f64::max];
        let of = |pick: fn(f64, f64) -> f64| {
            let most = |all: [f64; 4]| all.into_iter().reduce(pick).unwrap_or_default();
            LonLat::new(most(lon), most(lat))
        };
        Self {
            extent: [of(low), of(high)],
            crs: String::new(),
        }
    }
}

/// A CRS in which the coordinates would make sense.
#[derive(Debug, Clone, PartialEq)]
pub struct Fit {
    /// As a job names it: `EPSG:25832`.
    pub code: String,
    /// `ETRS89 / UTM zone 32N`.
    pub name: String,
    /// Only with x and y swapped: the file has north (latitude) first.
    pub swapped: bool,
    /// Where the coordinates lie in it.
    pub lies: Lies,
}

/// Where the coordinates would lie in a CRS.
#[derive(Debug, Clone, PartialEq)]
pub enum Lies {
    /// The same, and it is the boundary's CRS.
    OnBoundaryInItsCrs(f64),
    /// On the boundary, or as many metres beside it as datums differ by.
    OnBoundary(f64),
    /// So many metres from the boundary: nothing lies nearer.
    Beside(f64),
    /// No boundary is known: the middle of the layer, longitude and latitude in degrees.
    At([f64; 2]),
}

/// The CRSs that fit, best first.
#[derive(Debug, Clone, PartialEq)]
pub struct Fits {
    /// At most `MOST_TOLD`.
    pub all: Vec<Fit>,
    /// How many more do.
    pub more: usize,
    /// How many were tried.
    pub tried: usize,
}

/// So many are told: a longer list is not read.
pub const MOST_TOLD: usize = 3;
/// Codes of faults about a layer that does not say what its coordinates mean, or says what cannot be.
const NO_CRS: [&str; 2] = ["frame.crs_missing", "read.not_degrees"];
/// Places on two datums differ by up to so many metres (those of old surveys by some hundred): a layer so near lies on the boundary.
const DATUMS_M: f64 = 500.0;
/// What would lie farther from the boundary is not offered.
const BESIDE_M: f64 = 50_000.0;
/// A CRS whose area of use ends farther away, degrees, is made for another continent.
const ELSEWHERE_DEGREES: f64 = 8.0;
/// Metres in a degree of a great circle, roughly.
const M_PER_DEGREE: f64 = 111_195.0;

/// The fault, with the CRSs that would put the layer where it should lie; as it is where that is not what it is about.
///
/// `near` is the boundary, where it is known.
pub fn with_fits(mut fault: Box<Fault>, layer: &Layer, near: Option<&Near>) -> Box<Fault> {
    if NO_CRS.contains(&fault.code)
        && let Some(next) = fits(layer, near).next_step(near.is_some())
    {
        fault.next = next;
    }
    fault
}

/// As [`with_fits`], for a fault that came of reading a source below `folder`: it is read once more, as though it said nothing of
/// its coordinates.
pub fn fitted(
    fault: Box<Fault>,
    source: &Source,
    folder: &Path,
    near: Option<&Near>,
) -> Box<Fault> {
    if !is_about_crs(&fault) {
        return fault;
    }
    // With any CRS named, numbers that are no degrees are read as well.
    let any = Source {
        crs: Some(String::new()),
        ..source.clone()
    };
    let layer = match Raster::meant(source, folder) {
        true => Raster::open(&any, folder).map(|raster| raster.outline()),
        false => read::open(&any, folder),
    };
    match layer {
        Ok(layer) => with_fits(fault, &layer, near),
        Err(_) => fault,
    }
}

/// Whether a fault is one that [`with_fits`] adds to.
pub fn is_about_crs(fault: &Fault) -> bool {
    NO_CRS.contains(&fault.code)
}

/// The CRSs in which the coordinates of a layer lie on the boundary. Where no boundary is known, degrees if the numbers are
/// such: metres lie somewhere in hundreds of CRSs, and naming three of them would be guessing. What the layer itself declares is
/// left aside.
pub fn fits(layer: &Layer, near: Option<&Near>) -> Fits {
    let points = extremes(layer);
    let mut trial = Trial {
        found: Vec::new(),
        tried: Vec::new(),
        points,
    };
    match near {
        _ if trial.points.is_empty() => {}
        None => trial.degrees(),
        Some(near) => {
            if let Ok(context) = Context::open(None) {
                trial.about(&context, near);
            }
        }
    }
    trial.fits()
}

struct Trial {
    /// The points of the layer that lie farthest out.
    points: Vec<Xy>,
    tried: Vec<String>,
    /// With how badly each fits: less is better.
    found: Vec<(f64, Fit)>,
}

impl Trial {
    /// The boundary's own CRS, degrees, the UTM zones at and beside it, Web Mercator, and what the registry has for the place.
    fn about(&mut self, context: &Rc<Context>, near: &Near) {
        let [low, high] = near.extent;
        let middle = [
            low.lon + from_meridian(high.lon, low.lon) / 2.0,
            (low.lat + high.lat) / 2.0,
        ];
        let own = match name::code(&near.crs).unwrap_or_default() {
            // The same degrees under the name that jobs have for them.
            name::CRS84 => String::from("EPSG:4326"),
            own => own.to_owned(),
        };
        let first = [own.clone(), String::from("EPSG:4326")];
        let world = [String::from("EPSG:3857")];
        for code in first.into_iter().chain(utm(middle)).chain(world) {
            self.on_boundary(context, &code, near, code == own, middle);
        }
        let around = Area {
            west: low.lon,
            south: low.lat,
            east: high.lon,
            north: high.lat,
            name: String::new(),
        };
        // What is made for a smaller area is more likely meant.
        let mut listed = context.projected(&around);
        let size =
            |area: &Area| (area.east - area.west).rem_euclid(360.0) * (area.north - area.south);
        listed.sort_by(|a, b| size(&a.area).total_cmp(&size(&b.area)));
        for entry in listed {
            self.on_boundary(context, &entry.code, near, false, middle);
        }
        // What lies beside the boundary counts where nothing lies on it.
        let on = |fit: &Fit| !matches!(fit.lies, Lies::Beside(_));
        if self.found.iter().any(|(_, fit)| on(fit)) {
            self.found.retain(|(_, fit)| on(fit));
        }
    }

    fn on_boundary(
        &mut self,
        context: &Rc<Context>,
        code: &str,
        near: &Near,
        is_own: bool,
        middle: [f64; 2],
    ) {
        let Some((own, name)) = self.next(context, code) else {
            return;
        };
        let area = own.base.area_of_use();
        if area.is_some_and(|area| area.outside(middle) > ELSEWHERE_DEGREES) {
            return;
        }
        let gap = |swapped: bool| gap_m(&self.lon_lat(&own, swapped)?, near);
        let straight = gap(false);
        let turned = gap(true).filter(|turned| {
            // Swapping counts where it brings the layer onto the boundary, and nothing else does.
            *turned <= DATUMS_M && straight.is_none_or(|straight| straight > DATUMS_M)
        });
        let Some(gap) = turned.or(straight).filter(|gap| *gap <= BESIDE_M) else {
            return;
        };
        let lies = match (gap <= DATUMS_M, is_own) {
            (true, true) => Lies::OnBoundaryInItsCrs(gap),
            (true, false) => Lies::OnBoundary(gap),
            (false, _) => Lies::Beside(gap),
        };
        // What lies nearer first, of what lies alike in the order of what is tried; swapped axes come after, and then what lies
        // beside.
        let worse = match lies {
            Lies::Beside(gap) => 2.0 + gap,
            _ => gap / (2.0 * DATUMS_M) + f64::from(u8::from(turned.is_some())),
        };
        let fit = Fit {
            code: code.to_owned(),
            name,
            swapped: turned.is_some(),
            lies,
        };
        self.found.push((worse, fit));
    }

    /// Degrees in both orders, where the numbers are such.
    fn degrees(&mut self) {
        for swapped in [false, true] {
            let points = self.points.iter().map(|&[x, y]| match swapped {
                true => [y, x],
                false => [x, y],
            });
            let are_degrees = |[lon, lat]: [f64; 2]| lon.abs() <= 180.0 && lat.abs() <= 90.0;
            if !points.clone().all(are_degrees) {
                continue;
            }
            let Some(range) = Extent::of(points) else {
                continue;
            };
            let fit = Fit {
                code: String::from("EPSG:4326"),
                name: String::from("WGS 84"),
                swapped,
                lies: Lies::At(range.at([0.5, 0.5])),
            };
            self.found.push((f64::from(u8::from(swapped)), fit));
        }
    }

    /// A CRS that was not tried yet, and its name.
    fn next(&mut self, context: &Rc<Context>, code: &str) -> Option<(Own, String)> {
        if code.is_empty() || self.tried.iter().any(|tried| tried == code) {
            return None;
        }
        self.tried.push(code.to_owned());
        let crs = context.parse(code).ok()?;
        let name = crs.name();
        let own = Own::of(&crs, &Place::nowhere(), &name).ok()?;
        Some((own, name))
    }

    /// Where the points of the layer fall; `None` where one of them falls nowhere.
    fn lon_lat(&self, own: &Own, swapped: bool) -> Option<Vec<[f64; 2]>> {
        let mut points = self.points.clone();
        if swapped {
            points.iter_mut().for_each(|point| point.reverse());
        }
        let places = own.lon_lat(&points);
        let on_earth = |[lon, lat]: &[f64; 2]| lon.is_finite() && lat.abs() <= 90.0;
        places.iter().all(on_earth).then_some(places)
    }

    fn fits(mut self) -> Fits {
        // Stable: among equals the order in which they were tried.
        self.found.sort_by(|(a, _), (b, _)| a.total_cmp(b));
        let more = self.found.len().saturating_sub(MOST_TOLD);
        self.found.truncate(MOST_TOLD);
        Fits {
            all: self.found.into_iter().map(|(_, fit)| fit).collect(),
            more,
            tried: self.tried.len(),
        }
    }
}

/// Codes of the UTM zones at a place and beside it, first on ETRS89, then on WGS 84.
fn utm([lon, lat]: [f64; 2]) -> Vec<String> {
    let zone = (((lon + 180.0) / 6.0).floor() as i64).rem_euclid(60);
    // The one to the west or east of it, whichever border is nearer, before the other.
    let zones = [0, -1, 1].map(|beside| (zone + beside).rem_euclid(60) + 1);
    let on = |first: i64| zones.map(|zone| format!("EPSG:{}", first + zone));
    match lat < 0.0 {
        true => on(32_700).to_vec(),
        false => [on(25_800), on(32_600)].concat(),
    }
}

/// How far the box of these places (degrees) is from the boundary's, metres; 0 where they meet.
fn gap_m(places: &[[f64; 2]], near: &Near) -> Option<f64> {
    let [low, high] = near.extent;
    let lon0 = low.lon;
    let scale = ((low.lat + high.lat) / 2.0).to_radians().cos() * M_PER_DEGREE;
    let flat = |[lon, lat]: [f64; 2]| [from_meridian(lon, lon0) * scale, lat * M_PER_DEGREE];
    let layer = Extent::of(places.iter().copied().map(flat))?;
    let field = Extent::of([low.pair(), high.pair()].map(flat))?;
    Some(layer.gap(&field))
}

impl Fits {
    /// What a fault says to do next; `None` where nothing can be said. `near`: the boundary is known.
    fn next_step(&self, near: bool) -> Option<String> {
        let Some(best) = self.all.first() else {
            if !near {
                return Some(String::from(
                    "ask where it was exported for its CRS and add it to the layer in the job, as crs = \"EPSG:25832\"; beside a boundary that names its own, those that would put it there are named here",
                ));
            }
            return (self.tried > 0).then(|| {
                format!(
                    "check that the file belongs to this field: none of {} CRSs puts it on or beside the boundary (the boundary's own, WGS 84, UTM, Web Mercator and the grids that the EPSG registry has for the place); if it does, add crs = \"EPSG:...\" to the layer in the job",
                    self.tried
                )
            });
        };
        let told: Vec<String> = self.all.iter().map(Fit::said).collect();
        let more = match self.more {
            0 => String::new(),
            more => format!(" ({more} more do)"),
        };
        let listed = told.join("; ");
        let which = match best.lies {
            Lies::At(_) => {
                "; which one it is cannot be told without the boundary, and the people who made the file know it"
            }
            _ if self.all.len() > 1 => {
                "; they may put it some hundred metres apart: ask where it was exported, and do not guess"
            }
            _ => "",
        };
        Some(match best.swapped {
            true => format!(
                "these coordinates fit {listed}{more}{which}: export the file with x (east, longitude) first, or name its columns the other way round, and add crs = \"{}\" to the layer in the job",
                best.code
            ),
            false => format!(
                "these coordinates fit {listed}{more}{which}: add the one it was exported in to the layer in the job, as crs = \"{}\"",
                best.code
            ),
        })
    }
}

impl Fit {
    /// `EPSG:25832 (ETRS89 / UTM zone 32N), the boundary's`.
    fn said(&self) -> String {
        let swapped = match self.swapped {
            true => " with x and y swapped",
            false => "",
        };
        let where_ = match &self.lies {
            Lies::OnBoundaryInItsCrs(gap) => format!(", the boundary's{}", beside(*gap)),
            Lies::OnBoundary(gap) if *gap < 0.5 => String::from(", on the boundary"),
            Lies::OnBoundary(gap) => format!(", {gap:.0} m from the boundary"),
            Lies::Beside(metres) if *metres < 1000.0 => {
                format!(", {metres:.0} m from the boundary")
            }
            Lies::Beside(metres) => format!(", {:.0} km from the boundary", metres / 1000.0),
            Lies::At([lon, lat]) => format!(", at longitude {lon:.2}, latitude {lat:.2}"),
        };
        format!("{} ({}){swapped}{where_}", self.code, self.name)
    }
}

/// So many metres beside the boundary, if any.
fn beside(gap_m: f64) -> String {
    match gap_m < 0.5 {
        true => String::new(),
        false => format!(", {gap_m:.0} m from it"),
    }
}
