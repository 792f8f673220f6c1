//! From what a file or a job calls a CRS to a horizontal CRS that PROJ knows.

use super::proj::{Context, Kind, Object};
use crate::findings::{Fault, Outcome, Place};
use crate::read::{DeclaredCrs, Layer, Xy};
use std::rc::Rc;

/// Longitude and latitude on WGS 84.
pub(super) const CRS84: &str = "OGC:CRS84";

/// How sure PROJ must be (percent) that a CRS written out in full is an EPSG entry. At 70 the two are
/// equivalent and differ in name only, which is the rule for .prj files.
const SURE: i32 = 70;

/// A horizontal CRS.
pub(super) struct Named {
    pub crs: Object,
    /// `EPSG:28992 Amersfoort / RD New`.
    pub name: String,
    pub deprecated: bool,
    /// Written out in full and unlike any EPSG entry.
    pub unlisted: bool,
}

/// The CRS this text names. `source` says whose text it is.
pub(super) fn resolve(
    context: &Rc<Context>,
    text: &str,
    source: &str,
    place: &Place,
) -> Outcome<Named> {
    let text = text.trim_start_matches('\u{feff}').trim();
    let unknown = |said: String| {
        let said = if said.is_empty() {
            String::new()
        } else {
            format!(" ({said})")
        };
        let mut next = String::from(
            "name the CRS of the coordinates in the job, as crs = \"EPSG:...\"; the people who made the file know it",
        );
        if !text.is_empty() && text.bytes().all(|b| b.is_ascii_digit()) {
            next = format!("write crs = \"EPSG:{text}\" if that is what is meant");
        }
        Fault::input(
            "frame.crs_unknown",
            place.clone(),
            format!(
                "{source} '{}' is no CRS that is known{said}",
                shortened(text)
            ),
            "an EPSG code (\"EPSG:25832\"), an OGC URN, WKT 1 (also that of .prj files) or WKT 2",
            next,
        )
    };
    if text.is_empty() || text.bytes().all(|b| b.is_ascii_digit()) {
        return Err(unknown(String::new()));
    }
    let definition = match text.to_ascii_uppercase().as_str() {
        "CRS84" | "WGS84" => String::from(CRS84),
        _ if text.starts_with('+') && !text.contains("+type=crs") => format!("{text} +type=crs"),
        _ => String::from(text),
    };
    let written = context.parse(&definition).map_err(&unknown)?;
    let deprecated = written.is_deprecated();
    let crs = horizontal(written, source, place)?;
    let (crs, unlisted) = match crs.id() {
        Some((authority, _)) if authority == "EPSG" || authority == "OGC" => (crs, false),
        _ => match entry_like(&crs) {
            Some(entry) => (entry, false),
            None => (crs, true),
        },
    };
    // A CRS bound to WGS 84 by parameters of its own, and not in the list, keeps these parameters.
    let name = match crs.id() {
        Some((authority, code)) => format!("{authority}:{code} {}", crs.name()),
        None => crs.name(),
    };
    Ok(Named {
        crs,
        name,
        deprecated,
        unlisted,
    })
}

/// The EPSG entry that a CRS written out in full is. None for a CRS on an unnamed datum: PROJ would take
/// any datum on the same ellipsoid for it.
fn entry_like(crs: &Object) -> Option<Object> {
    let datum = crs.geographic()?.datum_name()?.to_ascii_lowercase();
    if datum.contains("unknown") || datum.contains("unnamed") {
        return None;
    }
    crs.identify()
        .filter(|(_, sure)| *sure >= SURE)
        .map(|(entry, _)| entry)
}

/// The horizontal part of a CRS, or a fault for one that has none.
fn horizontal(crs: Object, source: &str, place: &Place) -> Outcome<Object> {
    let refused = |what: &str| {
        Fault::input(
            "frame.crs_not_horizontal",
            place.clone(),
            format!("{source} '{}' is {what}", crs.name()),
            "a CRS with positions on the map: geographic (degrees) or projected (metres, feet)",
            "name the CRS of the coordinates in the job, as crs = \"EPSG:...\", or export the layer in one",
        )
    };
    let broken = || refused("a CRS whose horizontal part PROJ cannot take out");
    match crs.kind() {
        Kind::Geographic | Kind::Projected => crs.without_height().ok_or_else(broken),
        Kind::Compound => {
            let part = crs.part(0).ok_or_else(broken)?;
            horizontal(part, source, place)
        }
        Kind::Bound => {
            let inner = crs.bound().ok_or_else(broken)?;
            // The parameters are dropped only where the list of operations for a known datum is better.
            let inner = horizontal(inner, source, place)?;
            Ok(entry_like(&inner).unwrap_or(crs))
        }
        Kind::Geocentric => Err(refused(
            "geocentric: x, y and z from the centre of the Earth",
        )),
        Kind::Vertical => Err(refused("a CRS of heights alone")),
        Kind::Engineering => Err(refused("a local CRS that is not tied to the Earth")),
        Kind::Other => Err(refused("a CRS of another kind (time or parameter)")),
        Kind::NoCrs => Err(refused("no CRS but another entry of the registry")),
    }
}

/// The fault for a layer that declares no CRS, when the job names none either.
pub(super) fn missing(layer: &Layer, extremes: &[Xy]) -> Box<Fault> {
    let within = |x: f64, y: f64| extremes.iter().all(|p| p[0].abs() <= x && p[1].abs() <= y);
    let range = |axis: usize| {
        let low = extremes
            .iter()
            .map(|p| p[axis])
            .fold(f64::INFINITY, f64::min);
        let high = extremes
            .iter()
            .map(|p| p[axis])
            .fold(f64::NEG_INFINITY, f64::max);
        format!("{low} to {high}")
    };
    let (found, next) = if extremes.is_empty() {
        (
            String::new(),
            String::from("add crs = \"EPSG:...\" to the layer in the job"),
        )
    } else if within(180.0, 90.0) {
        (
            format!("; x {}, y {} look like degrees", range(0), range(1)),
            String::from(
                "add crs = \"EPSG:4326\" to the layer in the job if they are GPS longitudes and latitudes, else the CRS they were exported in",
            ),
        )
    } else {
        (
            format!(
                "; x {}, y {} look like metres or feet of a projected CRS",
                range(0),
                range(1)
            ),
            String::from(
                "add crs = \"EPSG:...\" to the layer in the job: the code of the grid the file was exported in, such as EPSG:25832 for ETRS89 / UTM zone 32N",
            ),
        )
    };
    let how = match layer.format {
        "Shapefile" => " (there is no .prj file)",
        _ => "",
    };
    Fault::input(
        "frame.crs_missing",
        layer.place(),
        format!("the file does not say which CRS its coordinates are in{how}{found}"),
        "a layer that declares its CRS, or a CRS named in the job",
        next,
    )
}

/// The code at the head of a name that [`resolve`] gives: `EPSG:28992` of `EPSG:28992 Amersfoort / RD New`; `None` for a CRS that
/// has none.
pub(super) fn code(name: &str) -> Option<&str> {
    name.split(' ').next().filter(|first| first.contains(':'))
}

/// The text a file declares; `None` if it declares nothing.
pub(super) fn declared(crs: &DeclaredCrs) -> Option<&str> {
    match crs {
        DeclaredCrs::None => None,
        DeclaredCrs::Wgs84ByStandard => Some(CRS84),
        DeclaredCrs::Text(text)
            if text
                .trim_matches(['\0', '\u{feff}', ' ', '\n', '\r', '\t'])
                .is_empty() =>
        {
            None
        }
        DeclaredCrs::Text(text) => Some(text),
    }
}

/// At most 80 characters of a text, on one line.
fn shortened(text: &str) -> String {
    let clean: String = text
        .chars()
        .take(80)
        .map(|c| if c.is_control() { ' ' } else { c })
        .collect();
    if text.chars().count() > 80 {
        format!("{clean}...")
    } else {
        clean
    }
}
