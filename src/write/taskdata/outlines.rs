//! The boundary of the field with its exclusions, as the partfield's polygons.

use crate::codec::taskdata::{Element, decimal};
use crate::coordinates::LonLat;
use crate::findings::{Fault, Outcome, Place};
use crate::job::TaskDataVersion;
use crate::plan::PlannedLand;
use crate::read::Polygon;
use crate::write::holes;
use crate::write::rings::{self, Rings, Winding};

/// Decimals that the schema allows in degrees.
const DECIMALS: usize = 9;

/// One boundary polygon per part with exclusions as interior rings; exclusions that are no clean hole
/// are obstacles of their own.
///
/// Version 4 has a polygon per part. Version 3 has one polygon for the boundary, with the exteriors of
/// all parts in it, each followed by its holes: readers of that version may look at the first only.
pub(super) fn outlines(land: &PlannedLand, version: TaskDataVersion) -> Outcome<Vec<Element>> {
    let land = holes::take_out(&land.boundary, &land.exclusions);
    let (boundary, obstacle) = (1, 6);
    let mut elements: Vec<Element> = Vec::new();
    for (kind, polygons) in [(boundary, &land.parts), (obstacle, &land.left_over)] {
        for element in self::polygons(polygons, kind)? {
            match elements.last_mut() {
                Some(first) if kind == boundary && version == TaskDataVersion::V3_3 => {
                    first.children.extend(element.children);
                }
                _ => elements.push(element),
            }
        }
    }
    Ok(elements)
}

/// An element of a kind per polygon, holes as interior rings.
pub(super) fn polygons(polygons: &[Polygon<LonLat>], kind: u8) -> Outcome<Vec<Element>> {
    let mut elements = Vec::new();
    let decimals = Some(DECIMALS as i32);
    for Rings(rings) in rings::of(polygons, Winding::ExteriorCounterClockwise, decimals) {
        let mut element = Element::new("PLN").with("A", kind);
        for (at, ring) in rings.iter().enumerate() {
            let (exterior, interior) = (1, 2);
            let line = Element::new("LSG").with("A", if at == 0 { exterior } else { interior });
            let points: Outcome<Vec<Element>> = ring.iter().map(point).collect();
            element = element.child(line.children(points?));
        }
        elements.push(element);
    }
    Ok(elements)
}

fn point(&[lon, lat]: &[f64; 2]) -> Outcome<Element> {
    Ok(Element::new("PNT")
        .with("A", 2)
        .with("C", degrees(lat, 90.0)?)
        .with("D", degrees(lon, 180.0)?))
}

pub(super) fn degrees(value: f64, most: f64) -> Outcome<String> {
    let text = decimal(value, DECIMALS).filter(|_| value.abs() <= most);
    text.ok_or_else(|| {
        let found = format!("{value} degrees cannot be written as it is");
        Fault::program(
            "write.task_data",
            Place::nowhere(),
            found,
            "up to 9 decimals, within 90 degrees north and 180 east",
        )
    })
}
