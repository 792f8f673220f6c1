//! From the text of a GML file to features.

mod assembly;

use super::coordinates::{self, Marks, Places};
use super::dimension;
use super::names::{BENT, BESIDE, GEOMETRIES, ID, MEMBERS};
use super::srs;
use crate::codec::room::{PER_PIECE, Room};
use crate::codec::xml::{BadXml, Step, Walk};
use crate::read::{Path, Xy};
use quick_xml::events::BytesStart;
use std::collections::HashMap;
use std::rc::Rc;

/// What a file holds.
#[derive(Default)]
pub(super) struct Gml {
    pub(super) found: Vec<Found>,
    /// Names of the kinds of features, and of the attributes of all of them.
    pub(super) kinds: Vec<String>,
    pub(super) attributes: Vec<String>,
    places: HashMap<String, usize>,
    places_of_kinds: HashMap<String, usize>,
}

/// One feature. A geometry of several kinds fills several lists.
#[derive(Default)]
pub(super) struct Found {
    pub(super) kind: usize,
    id: String,
    /// Places of attributes, and their values as text; none where the file says that there is none.
    pub(super) values: Vec<(usize, Option<String>)>,
    pub(super) points: Vec<Xy>,
    pub(super) lines: Vec<Path>,
    /// Rings of each polygon, the exterior first; it is empty where the file has none.
    pub(super) polygons: Vec<Vec<Path>>,
    pub(super) has_heights: bool,
    /// The name of the CRS of its geometry, and whether that has north first.
    pub(super) srs: Option<Rc<str>>,
    pub(super) is_north_first: bool,
    has_places: bool,
}

impl Found {
    pub(super) fn name(&self) -> &str {
        &self.id
    }

    /// How many kinds of geometry it has.
    pub(super) fn kinds(&self) -> usize {
        let has = [
            self.points.is_empty(),
            self.lines.is_empty(),
            self.polygons.is_empty(),
        ];
        has.iter().filter(|is_empty| !**is_empty).count()
    }
}

impl Gml {
    /// The kinds of features of which any has a geometry.
    pub(super) fn with_geometry(&self) -> Vec<usize> {
        let mut has = vec![false; self.kinds.len()];
        for found in self.found.iter().filter(|found| found.kinds() > 0) {
            has[found.kind] = true;
        }
        (0..has.len()).filter(|kind| has[*kind]).collect()
    }

    fn attribute(&mut self, name: &str) -> usize {
        if let Some(at) = self.places.get(name) {
            return *at;
        }
        self.attributes.push(name.to_owned());
        self.places
            .insert(name.to_owned(), self.attributes.len() - 1);
        self.attributes.len() - 1
    }

    fn kind(&mut self, name: &str) -> usize {
        if let Some(at) = self.places_of_kinds.get(name) {
            return *at;
        }
        self.kinds.push(name.to_owned());
        self.places_of_kinds
            .insert(name.to_owned(), self.kinds.len() - 1);
        self.kinds.len() - 1
    }
}

/// Longest name of an attribute, bytes: those of all elements around a value, joined.
const LONGEST_NAME: usize = 500;
/// Reads the text of a file.
///
/// # Errors
/// What is no XML, or no geometry that is read; with its line.
pub(super) fn parse(text: &str) -> Result<Gml, BadXml> {
    let mut reading = Reading::of(text.len());
    let mut walk = Walk::over(text);
    while let Some(step) = walk.step()? {
        match step {
            Step::Opens(start) => reading.opens(&walk, &start)?,
            Step::Closes(heard) => reading.closes(&walk, &heard)?,
        }
    }
    Ok(reading.gml)
}

/// What is known of an open element.
#[derive(Default)]
struct Element {
    srs: Option<Rc<str>>,
    dimension: Option<usize>,
    marks: Marks,
    is_nil: bool,
    /// It holds other elements.
    has_parts: bool,
    /// It is a geometry, or lies in one.
    in_geometry: bool,
}

struct Reading {
    gml: Gml,
    /// What names of attributes may take.
    room: Room,
    elements: Vec<Element>,
    /// The feature that is open, and how deep its element lies.
    feature: Option<(usize, Found)>,
    /// CRSs of the boxes round all features and round the open one, which hold where a geometry names none.
    of_all: Option<Rc<str>>,
    of_feature: Option<Rc<str>>,
    /// Places of the open line, those of the open ring that is made of curves, rings of the open polygon.
    line: Path,
    ring: Path,
    /// The last line of the feature is the curve that is open.
    curve_is_open: bool,
    exterior: Option<Path>,
    holes: Vec<Path>,
    /// Numbers of a `coord`.
    coord: Vec<f64>,
}

impl Reading {
    /// Of a text of so many bytes.
    fn of(bytes: usize) -> Self {
        Self {
            gml: Gml::default(),
            room: Room::of(bytes),
            elements: Vec::new(),
            feature: None,
            of_all: None,
            of_feature: None,
            line: Path::new(),
            ring: Path::new(),
            curve_is_open: false,
            exterior: None,
            holes: Vec::new(),
            coord: Vec::new(),
        }
    }

    /// The place of an attribute by the names of its elements.
    fn attribute_of(&mut self, path: &[&str]) -> Result<usize, String> {
        // Before they are joined: deep in long names each value would have a name as long as the file.
        let bytes = path.iter().map(|name| name.len() + 1).sum::<usize>();
        if bytes > LONGEST_NAME + 1 {
            return Err(format!(
                "the names of the elements around a value have {} bytes together, and {LONGEST_NAME} are read",
                bytes - 1
            ));
        }
        let name = path.join(".");
        let is_new = !self.gml.places.contains_key(&name);
        // The name is kept twice.
        if is_new && !self.room.take(2 * (name.len() + PER_PIECE) + 64) {
            return Err(format!(
                "it has more than {} attributes with different names, which is more than is read from a file of its size",
                self.gml.attributes.len()
            ));
        }
        Ok(self.gml.attribute(&name))
    }

    fn opens(&mut self, walk: &Walk, start: &BytesStart) -> Result<(), BadXml> {
        let open = walk.open();
        let depth = open.len();
        let (parents, name) = of(open);
        let parent = parents.last().map_or("", String::as_str);
        let attribute = |key: &str| walk.attribute(start, key);
        let mut element = Element::default();
        if let Some(around) = self.elements.last_mut() {
            around.has_parts = true;
            element.in_geometry = around.in_geometry;
        }
        let begins = GEOMETRIES.contains(&name) || BENT.contains(&name);
        if !element.in_geometry && begins && (self.feature.is_some() || parent == "boundedBy") {
            element.in_geometry = true;
            self.line.clear();
        }
        if element.in_geometry {
            if BENT.contains(&name) {
                return Err(walk.bad(format!("it has a '{name}', which is not of straight lines")));
            }
            if !BESIDE.contains(&name) && attribute("href")?.is_some() {
                return Err(walk.bad(format!(
                    "a part of a geometry, '{name}', lies elsewhere (xlink:href), and is not looked for"
                )));
            }
            element.srs = attribute("srsName")?.map(Rc::from);
            element.dimension = match attribute("srsDimension")? {
                Some(text) => {
                    let known = text.parse().ok().filter(|number| (2..=3).contains(number));
                    let bad = || {
                        walk.bad(format!(
                            "'srsDimension' is '{}', and 2 or 3 is read",
                            text.escape_debug()
                        ))
                    };
                    Some(known.ok_or_else(bad)?)
                }
                None => None,
            };
            self.begins(walk, start, name, parent, &mut element)?;
        } else if self.feature.is_none()
            && MEMBERS.contains(&parent)
            && !name.ends_with("FeatureCollection")
        {
            let id = attribute("id")?.or(attribute("fid")?);
            let mut found = Found {
                kind: self.gml.kind(name),
                ..Found::default()
            };
            if let Some(id) = id.filter(|id| !id.is_empty()) {
                let at = self.gml.attribute(ID);
                found.values.push((at, Some(id.clone())));
                found.id = id;
            }
            self.feature = Some((depth, found));
            self.of_feature = None;
        } else {
            element.is_nil = attribute("nil")?.is_some_and(|nil| nil == "true" || nil == "1");
        }
        self.elements.push(element);
        Ok(())
    }

    /// What begins in a geometry.
    fn begins(
        &mut self,
        walk: &Walk,
        start: &BytesStart,
        name: &str,
        parent: &str,
        element: &mut Element,
    ) -> Result<(), BadXml> {
        match name {
            "Envelope" | "Box" => {
                // Of the features, or of one.
                let srs = element.srs.clone();
                match &self.feature {
                    None => self.of_all = srs.or(self.of_all.take()),
                    Some(_) if parent == "boundedBy" => self.of_feature = srs,
                    Some(_) => {}
                }
            }
            "coordinates" => {
                let mark = |key: &str| -> Result<Option<char>, BadXml> {
                    for found in start.attributes() {
                        let found = found.map_err(|error| walk.bad(error.to_string()))?;
                        if found.key.as_ref() == key {
                            return Ok(found.value.chars().next());
                        }
                    }
                    Ok(None)
                };
                let plain = Marks::default();
                element.marks = Marks {
                    decimal: mark("decimal")?.unwrap_or(plain.decimal),
                    between_numbers: mark("cs")?.unwrap_or(plain.between_numbers),
                    between_places: mark("ts")?.unwrap_or(plain.between_places),
                };
            }
            "coord" => self.coord.clear(),
            "Polygon" | "PolygonPatch" | "Rectangle" | "Triangle" => {
                self.exterior = None;
                self.holes.clear();
            }
            "Ring" => self.ring.clear(),
            "Curve" => self.curve_is_open = false,
            "Point" | "LineString" | "LinearRing" | "LineStringSegment" => self.line.clear(),
            _ => {}
        }
        Ok(())
    }

    fn closes(&mut self, walk: &Walk, heard: &str) -> Result<(), BadXml> {
        let Some(element) = self.elements.pop() else {
            return Ok(());
        };
        let open = walk.open();
        let (parents, name) = of(open);
        if element.in_geometry {
            return self.shape(walk, heard, &element);
        }
        let Some((depth, _)) = &self.feature else {
            return Ok(());
        };
        let depth = *depth;
        if open.len() == depth {
            if let Some((_, found)) = self.feature.take() {
                self.gml.found.push(found);
            }
        } else if !element.has_parts && name != "boundedBy" {
            // The path to a value inside others; the innermost element of a feature is its attribute.
            let path = parents.get(depth..).unwrap_or_default();
            let path: Vec<&str> = path.iter().map(String::as_str).chain([name]).collect();
            let at = self.attribute_of(&path).map_err(|what| walk.bad(what))?;
            let text =
                Some(heard.trim().to_owned()).filter(|text| !element.is_nil && !text.is_empty());
            if let Some((_, found)) = &mut self.feature {
                found.values.push((at, text));
            }
        }
        Ok(())
    }

    /// What ends in a geometry.
    fn shape(&mut self, walk: &Walk, heard: &str, element: &Element) -> Result<(), BadXml> {
        let (parents, name) = of(walk.open());
        let parent = parents.last().map_or("", String::as_str);
        // What bounds a feature is none of it.
        if parents.iter().any(|around| around == "boundedBy") {
            return Ok(());
        }
        let bad = |what: String| walk.bad(what);
        match name {
            "posList" => {
                let is_ring = parent == "LinearRing";
                let dimension = self.dimension(element, heard, is_ring).map_err(bad)?;
                let places = coordinates::list(heard, dimension).map_err(bad)?;
                self.places(element, places).map_err(bad)?;
            }
            "pos" => {
                // One place: it says itself how many numbers it has.
                let dimension = heard.split_ascii_whitespace().count();
                if dimension > 0 {
                    let places = match dimension {
                        2 | 3 => coordinates::list(heard, dimension).map_err(bad)?,
                        other => return Err(bad(format!("a place has {other} numbers"))),
                    };
                    self.places(element, places).map_err(bad)?;
                }
            }
            "coordinates" => {
                let places = coordinates::marked(heard, &element.marks).map_err(bad)?;
                self.places(element, places).map_err(bad)?;
            }
            "X" | "Y" | "Z" if parent == "coord" => {
                self.coord.push(coordinates::number(heard).map_err(bad)?);
            }
            "coord" => match *std::mem::take(&mut self.coord).as_slice() {
                [x, y] => self.places(element, (vec![[x, y]], false)).map_err(bad)?,
                [x, y, z] => self
                    .places(element, (vec![[x, y]], z != 0.0))
                    .map_err(bad)?,
                _ => return Err(bad("a 'coord' without X and Y".to_owned())),
            },
            _ => return self.part(parents, name).map_err(bad),
        }
        Ok(())
    }

    /// How many numbers a place of a list has, by the nearest element that says so, else by the list itself.
    fn dimension(&self, element: &Element, heard: &str, is_ring: bool) -> Result<usize, String> {
        let around = self.elements.iter().rev();
        let mut said = std::iter::once(element).chain(around);
        if let Some(dimension) = said.find_map(|element| element.dimension) {
            return Ok(dimension);
        }
        dimension::of_list(heard, is_ring, self.srs(element).as_deref())
    }

    /// The name of the CRS that holds in an element.
    fn srs(&self, element: &Element) -> Option<Rc<str>> {
        let around = self.elements.iter().rev();
        let mut named = std::iter::once(element).chain(around);
        named
            .find_map(|element| element.srs.as_ref())
            .or(self.of_feature.as_ref())
            .or(self.of_all.as_ref())
            .cloned()
    }

    /// Keeps places of the open line, x first.
    fn places(
        &mut self,
        element: &Element,
        (mut places, has_heights): Places,
    ) -> Result<(), String> {
        let srs = self.srs(element);
        let is_north_first = srs.as_deref().is_some_and(srs::is_swapped);
        if is_north_first {
            for place in &mut places {
                place.swap(0, 1);
            }
        }
        if let Some((_, found)) = &mut self.feature {
            if found.has_places && found.srs != srs {
                return Err("a feature has geometries in two CRSs".to_owned());
            }
            found.has_places = true;
            found.has_heights |= has_heights;
            found.is_north_first |= is_north_first;
            found.srs = srs;
        }
        self.line.extend(places);
        Ok(())
    }
}

/// The elements around the innermost one, and its name.
fn of(open: &[String]) -> (&[String], &str) {
    match open {
        [parents @ .., name] => (parents, name),
        [] => (&[], ""),
    }
}
