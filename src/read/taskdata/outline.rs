//! Polygons of task data. Version 3 puts several exteriors into one polygon element, each
//! followed by its holes; version 4 has one element per part. Both are read alike.

use super::{Reader, number};
use crate::codec::taskdata::Element;
use crate::coordinates::LonLat;
use crate::read::{Path as Line, Polygon};

/// The polygons of these elements. Interiors belong to the exterior before them.
pub(super) fn polygons<'a>(
    elements: impl Iterator<Item = &'a Element>,
    owner: &str,
    reader: &mut Reader,
) -> Vec<Polygon<LonLat>> {
    let mut found: Vec<Polygon<LonLat>> = Vec::new();
    for element in elements {
        let mut of_this: Vec<Polygon<LonLat>> = Vec::new();
        let mut early: Vec<Line<LonLat>> = Vec::new();
        for line in element.children.iter().filter(|child| child.tag == "LSG") {
            let ring = points(line, owner, reader);
            if ring.len() < 3 {
                reader.warn(
                    owner,
                    "A ring with fewer than three points was left out.".into(),
                );
                continue;
            }
            match (number::<u8>(line, "A"), of_this.last_mut()) {
                (Some(2), Some(polygon)) => polygon.holes.push(ring),
                // A hole before its exterior is kept for it.
                (Some(2), None) => early.push(ring),
                _ => of_this.push(Polygon {
                    exterior: ring,
                    holes: std::mem::take(&mut early),
                }),
            }
        }
        if !early.is_empty() {
            reader.warn(
                owner,
                "A polygon has holes and no exterior; it was left out.".into(),
            );
        }
        found.extend(of_this);
    }
    found
}

/// What a polygon is by its number, and whether it is an obstacle: land that is not driven on.
pub(super) fn kind(number: Option<u8>) -> (&'static str, bool) {
    match number {
        Some(2) => ("treatment zone", false),
        Some(3) => ("water", true),
        Some(4) => ("building", true),
        Some(5) => ("road", true),
        Some(6) => ("obstacle", true),
        Some(7) => ("flag", false),
        Some(9) => ("main field", false),
        Some(10) => ("headland", false),
        Some(11) => ("buffer zone", false),
        Some(12) => ("windbreak", true),
        _ => ("other", false),
    }
}

pub(super) fn points(line: &Element, owner: &str, reader: &mut Reader) -> Line<LonLat> {
    let mut found = Vec::new();
    let mut bad = 0_usize;
    let mut in_binary = 0_usize;
    for point in line.children.iter().filter(|child| child.tag == "PNT") {
        let lat = number::<f64>(point, "C").filter(|lat| lat.abs() <= 90.0);
        let lon = number::<f64>(point, "D").filter(|lon| lon.abs() <= 180.0);
        match lon.zip(lat) {
            Some((lon, lat)) => found.push(LonLat::new(lon, lat)),
            None if point.get("J").is_some() => in_binary += 1,
            None => bad += 1,
        }
    }
    if in_binary > 0 {
        reader.warn(
            owner,
            "Points in binary files (PNT) are not read; what is drawn with them is missing.".into(),
        );
    }
    if bad > 0 {
        reader.warn(
            owner,
            format!("{bad} points without usable degrees were left out."),
        );
    }
    found
}
