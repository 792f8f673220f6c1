//! Zones changed by hand: the land by the classes of a layer, with one piece of it given another class. What comes of it is
//! written as a GeoJSON file beside the job, its places rounded, and planned from there.

use super::border::{self, BorderChange};
use super::key::{self, KeyPath};
use super::view::PER_M;
use super::view::picture::whole;
use super::work::Shown;
use crate::coordinates::PlaneXy;
use crate::findings::{Fault, Outcome, Place};
use crate::geometry::{Arrangement, Pt, Shape};
use crate::job::{Values, ZoneLayer};
use crate::map::{ClassZone, lon_lat};
use crate::plan::left_of_line;
use crate::report::number::Numbers;
use crate::write::class_zones_geojson;
use serde::{Deserialize, Serialize};
use serde_json::Value as Json;
use std::collections::BTreeMap;
use toml_edit::DocumentMut;

/// A piece of land with one class of a layer.
pub struct Zone {
    /// The class.
    pub class: String,
    /// Its land, connected.
    pub shape: Shape,
}

/// A side of a line, seen along it.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Side {
    /// On the left.
    Left,
    /// On the right.
    Right,
}

/// What is done to a zone; zones are numbered from 0, as [`zones`] lists them.
pub enum Change<'a> {
    /// It gets another class.
    Class {
        /// Which zone.
        zone: usize,
        /// The class.
        class: &'a str,
    },
    /// It gets the class of another.
    Join {
        /// Which zone.
        zone: usize,
        /// The other.
        to: usize,
    },
    /// What of it lies on one side of a line gets another class.
    Cut {
        /// Which zone.
        zone: usize,
        /// Places as they travel: the first, then steps.
        line: &'a [i64],
        /// The side that gets the class.
        side: Side,
        /// The class.
        class: &'a str,
    },
    /// Borders change.
    Borders(&'a BorderChange),
}

/// Why the zones of a layer cannot be changed by hand; none where they can.
pub fn why_not(layer: &ZoneLayer) -> Option<&'static str> {
    layer
        .zonal
        .is_some()
        .then_some("its zones carry numbers from a raster, which a class by hand would not have")
}

/// The zones of a layer on the land, by class and then from west to east.
pub fn zones(shown: &Shown, layer: usize) -> Vec<Zone> {
    let units = shown.units();
    let class_of = |row: u32| {
        let row = shown.rows.get(row as usize)?;
        row.facts.classes.get(layer)
    };
    let mut classes: Vec<&String> = units
        .row_of_face
        .iter()
        .filter_map(|row| class_of((*row)?))
        .collect();
    classes.sort();
    classes.dedup();
    let group: Vec<Option<u32>> = units
        .row_of_face
        .iter()
        .map(|row| {
            let at = classes.binary_search(&class_of((*row)?)?);
            at.ok().and_then(|at| u32::try_from(at).ok())
        })
        .collect();
    let shapes = units.arrangement.dissolve(&group).into_iter();
    let zone = |(class, shape): (u32, Shape)| {
        let class = classes.get(class as usize)?;
        Some(Zone {
            class: (*class).clone(),
            shape,
        })
    };
    shapes.filter_map(zone).collect()
}

/// The text of a GeoJSON file with the zones as they are after a change. They tile the land as before: all zones and the line
/// go into one arrangement, so that neighbours keep the same points.
///
/// # Errors
/// A zone that does not exist; a line that cuts nothing off; a change that changes nothing.
pub fn changed(shown: &Shown, layer: usize, change: &Change) -> Outcome<String> {
    let zones = zones(shown, layer);
    let exists = |nth: usize| zones.get(nth).ok_or_else(|| no_zone(nth, zones.len()));
    let (nth, class, cut) = match *change {
        Change::Class { zone, class } => (zone, class, None),
        Change::Join { zone, to } => (zone, exists(to)?.class.as_str(), None),
        Change::Cut {
            zone,
            line,
            side,
            class,
        } => (zone, class, Some((line, side))),
        Change::Borders(change) => {
            let (arrangement, group, classes) = border::changed(shown, layer, change)?;
            return Ok(of_zones(&arrangement, &group, &classes, shown));
        }
    };
    let class = class.trim();
    if class.is_empty() || exists(nth)?.class == class {
        return Err(no_change());
    }
    let cut = cut
        .map(|(line, side)| Ok::<_, Box<Fault>>((left_of(shown, line)?, side)))
        .transpose()?;
    let line_source = u32::try_from(zones.len()).unwrap_or(u32::MAX);
    let rings = (0..).zip(&zones).flat_map(|(source, zone)| {
        let rings = zone.shape.rings();
        rings.map(move |ring| (source, ring.as_slice()))
    });
    let of_line = cut.iter().map(|(ring, _)| (line_source, ring.as_slice()));
    let all: Vec<(u32, &[Pt])> = rings.chain(of_line).collect();
    let arrangement = Arrangement::new(all);
    let mut classes: Vec<&str> = zones.iter().map(|zone| zone.class.as_str()).collect();
    classes.push(class);
    classes.sort_unstable();
    classes.dedup();
    let (mut moved, mut left) = (0_i128, 0_i128);
    let mut group = vec![None; arrangement.faces()];
    for (face, group) in (0..).zip(&mut group) {
        let Some(own) = arrangement
            .windings(face)
            .iter()
            .find(|of| of.source < line_source)
        else {
            continue;
        };
        let source = own.source as usize;
        let is_left = arrangement.winding(face, line_source) != 0;
        let takes = source == nth
            && cut
                .as_ref()
                .is_none_or(|(_, side)| is_left == (*side == Side::Left));
        if source == nth {
            match takes {
                true => moved += arrangement.area2(face),
                false => left += arrangement.area2(face),
            }
        }
        let class = match takes {
            true => class,
            false => zones.get(source).map_or("", |zone| &zone.class),
        };
        *group = classes
            .binary_search(&class)
            .ok()
            .and_then(|at| u32::try_from(at).ok());
    }
    if cut.is_some() && (moved == 0 || left == 0) {
        return Err(cuts_nothing());
    }
    Ok(text(&arrangement, &group, &classes, shown))
}

/// The same for faces that go by zones, of which several may have one class.
fn of_zones(
    arrangement: &Arrangement,
    group: &[Option<u32>],
    of_zone: &[String],
    shown: &Shown,
) -> String {
    let mut classes: Vec<&str> = of_zone.iter().map(String::as_str).collect();
    classes.sort_unstable();
    classes.dedup();
    let class = |zone: &Option<u32>| {
        let class = of_zone.get((*zone)? as usize)?;
        let at = classes.binary_search(&class.as_str()).ok()?;
        u32::try_from(at).ok()
    };
    let group: Vec<Option<u32>> = group.iter().map(class).collect();
    text(arrangement, &group, &classes, shown)
}

fn text(
    arrangement: &Arrangement,
    group: &[Option<u32>],
    classes: &[&str],
    shown: &Shown,
) -> String {
    let frame = &shown.prepared.frame;
    let mut zones: Vec<ClassZone> = classes
        .iter()
        .map(|class| ClassZone {
            class: (*class).to_owned(),
            area_m2: 0.0,
            polygons: Vec::new(),
        })
        .collect();
    for (class, shape) in arrangement.dissolve(group) {
        if let Some(zone) = zones.get_mut(class as usize) {
            zone.area_m2 += shape.area_m2();
            zone.polygons.push(lon_lat(&shape, frame));
        }
    }
    zones.retain(|zone| !zone.polygons.is_empty());
    class_zones_geojson(&zones)
}

/// The land to the left of a line, as a ring far around the field.
fn left_of(shown: &Shown, line: &[i64]) -> Outcome<Vec<Pt>> {
    let mut at = [0_i64, 0];
    let mut places = Vec::new();
    for step in line.chunks_exact(2) {
        let [dx, dy] = [0, 1].map(|axis: usize| step.get(axis).copied().unwrap_or(0));
        at = [at[0].saturating_add(dx), at[1].saturating_add(dy)];
        places.push(PlaneXy::of_pair(at.map(|travels| travels as f64 / PER_M)));
    }
    let field = shown.prepared.land.field.iter();
    let field: Vec<PlaneXy> = field
        .flat_map(|shape| shape.exterior.iter().map(|point| point.place()))
        .collect();
    let mut ring = left_of_line(&places, &field)?;
    ring.pop();
    let points = ring.iter().map(|place| Pt::from_metres(place.pair()));
    points.collect::<Option<Vec<Pt>>>().ok_or_else(cuts_nothing)
}

/// Puts zones drawn by hand in the place of what a layer was made from.
pub(super) fn redrawn(job: &mut DocumentMut, layer: &str, file: &str) -> Outcome<()> {
    let all = KeyPath::of(&["layer"]);
    let name =
        |nth: &usize| key::at(job, &all.nth(*nth).key("name")).and_then(toml_edit::Item::as_str);
    let there = |nth: &usize| key::at(job, &all.nth(*nth)).is_some();
    let nth = (0..).take_while(there).find(|nth| name(nth) == Some(layer));
    let path = all.nth(nth.ok_or_else(|| {
        Fault::input(
            "edit.no_layer",
            Place::nowhere(),
            format!("the job has no zone layer '{layer}'"),
            "the name of a zone layer of the job",
            "look at the layers of the job",
        )
    })?);
    for gone in ["values", "divides", "line", "source"] {
        let path = path.key(gone);
        if key::at(job, &path).is_some() {
            key::remove(job, &path)?;
        }
    }
    key::set(
        job,
        &path.key("source"),
        &serde_json::json!({ "file": file }),
    )?;
    let attribute = Json::from(Values::CLASS_ATTRIBUTE);
    key::set(job, &path.key("class_attribute"), &attribute)
}

/// The zones of a layer as they travel.
pub fn view(shown: &Shown, layer: usize) -> serde_json::Value {
    let numbers = Numbers::of_pages(shown.job.report);
    let of_layer = shown.job.layers.get(layer);
    let zones = zones(shown, layer);
    let mut classes: Vec<&str> = zones.iter().map(|zone| zone.class.as_str()).collect();
    classes.dedup();
    let told = zones.iter().enumerate().map(|(nth, zone)| {
        let rings = zone.shape.rings();
        let rings: Vec<Vec<i64>> = rings
            .map(|ring| super::view::picture::steps(ring.iter().map(whole)))
            .collect();
        serde_json::json!({
            "nth": nth,
            "class": zone.class,
            "rings": rings,
            "area_text": super::view::area(&numbers, zone.shape.area_m2()),
        })
    });
    let why_not = of_layer.and_then(why_not);
    serde_json::json!({
        "name": of_layer.map(|of| &of.name),
        "file": of_layer.map(|of| &of.source.file),
        "editable": why_not.is_none(),
        "why_not": why_not,
        "per_m": PER_M,
        "classes": classes,
        "totals": totals(&zones, &numbers),
        "zones": told.collect::<Vec<_>>(),
    })
}

/// The land of each class.
fn totals(zones: &[Zone], numbers: &Numbers) -> Vec<Json> {
    let mut m2: BTreeMap<&str, f64> = BTreeMap::new();
    for zone in zones {
        *m2.entry(&zone.class).or_default() += zone.shape.area_m2();
    }
    let told = m2.into_iter().map(|(class, m2)| {
        serde_json::json!({ "class": class, "area_text": super::view::area(numbers, m2) })
    });
    told.collect()
}

fn refused(code: &'static str, found: String, allowed: &str, next: &str) -> Box<Fault> {
    Fault::input(code, Place::nowhere(), found, allowed, next)
}

fn no_zone(nth: usize, zones: usize) -> Box<Fault> {
    refused(
        "edit.no_zone",
        format!("the layer has no zone {nth}"),
        &format!("0 to {}", zones.saturating_sub(1)),
        "look at the zones again; they may have changed meanwhile",
    )
}

fn no_change() -> Box<Fault> {
    refused(
        "edit.no_change",
        "the zone has this class already, or no class is named".to_owned(),
        "a class that the zone does not have",
        "name another class",
    )
}

fn cuts_nothing() -> Box<Fault> {
    refused(
        "edit.cuts_nothing",
        "the line leaves nothing of the zone on one of its sides".to_owned(),
        "a line across the zone; beyond its ends it goes on straight",
        "draw the line right across the zone",
    )
}
