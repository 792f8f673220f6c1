//! From the text of a KML file to placemarks.

use super::coordinates;
use crate::codec::xml::{BadXml, Step, Walk};
use crate::read::{Path, Value, Xy};
use quick_xml::events::BytesStart;
use std::collections::HashMap;

/// Places of the attributes that every file has.
const NAME: usize = 0;
const FOLDER: usize = 1;
const DESCRIPTION: usize = 2;

/// What a file holds.
#[derive(Default)]
pub(super) struct Kml {
    pub(super) placemarks: Vec<Placemark>,
    pub(super) attributes: Attributes,
    /// Placemarks that say where nothing is.
    pub(super) without_geometry: usize,
    /// Where links to other files lead.
    pub(super) links: Vec<String>,
    /// Pictures laid on the ground or the screen, and models.
    pub(super) pictures: usize,
}

/// One thing on the ground. A geometry of several kinds fills several lists.
#[derive(Default)]
pub(super) struct Placemark {
    /// Places of attributes, and their values as text.
    pub(super) values: Vec<(usize, String)>,
    pub(super) points: Vec<Xy>,
    pub(super) lines: Vec<Path>,
    /// Rings of each polygon, the exterior first; it is empty where the file has none.
    pub(super) polygons: Vec<Vec<Path>>,
    pub(super) has_heights: bool,
}

impl Placemark {
    /// Its name; empty where it has none.
    pub(super) fn name(&self) -> &str {
        let named = self.values.iter().find(|(at, _)| *at == NAME);
        named.map_or("", |(_, name)| name)
    }

    fn has_geometry(&self) -> bool {
        !(self.points.is_empty() && self.lines.is_empty() && self.polygons.is_empty())
    }
}

/// The attributes of a file, in its order, and the types that it declares for them.
pub(super) struct Attributes {
    names: Vec<String>,
    places: HashMap<String, usize>,
    types: HashMap<String, String>,
}

impl Default for Attributes {
    fn default() -> Self {
        let names = ["name", "folder", "description"].map(str::to_owned);
        let places = names.iter().cloned().zip(0..);
        Self {
            places: places.collect(),
            names: names.to_vec(),
            types: HashMap::new(),
        }
    }
}

impl Attributes {
    pub(super) fn len(&self) -> usize {
        self.names.len()
    }

    pub(super) fn name(&self, at: usize) -> &str {
        &self.names[at]
    }

    /// A value by the type that the file declares; text without one, or where it is none of that type.
    pub(super) fn value(&self, at: usize, text: String) -> Value {
        let declared = self.types.get(&self.names[at]).map_or("", String::as_str);
        let typed = match declared {
            "int" | "uint" | "short" | "ushort" => text.trim().parse().ok().map(Value::Integer),
            "float" | "double" => {
                let number = text
                    .trim()
                    .parse()
                    .ok()
                    .filter(|number: &f64| number.is_finite());
                number.map(Value::Number)
            }
            "bool" => match text.trim() {
                "1" | "true" => Some(Value::Flag(true)),
                "0" | "false" => Some(Value::Flag(false)),
                _ => None,
            },
            _ => None,
        };
        match typed {
            Some(value) => value,
            None if text.is_empty() => Value::Missing,
            None => Value::Text(text),
        }
    }

    fn place(&mut self, name: &str) -> usize {
        if let Some(at) = self.places.get(name) {
            return *at;
        }
        let at = self.names.len();
        self.names.push(name.to_owned());
        self.places.insert(name.to_owned(), at);
        at
    }

    /// Declares a type. Schemas that differ about a name leave it text.
    fn declare(&mut self, name: String, declared: String) {
        let known = self.types.entry(name).or_insert_with(|| declared.clone());
        if *known != declared {
            known.clear();
        }
    }
}

/// Reads the text of a file, after what others of the same archive held.
///
/// # Errors
/// What is no XML, no KML, or no place; with its line.
pub(super) fn parse(text: &str, kml: &mut Kml) -> Result<(), BadXml> {
    let mut reading = Reading::of(kml);
    let mut walk = Walk::over(text);
    while let Some(step) = walk.step()? {
        match step {
            Step::Opens(start) => reading.opens(&walk, &start)?,
            Step::Closes(heard) => reading.closes(&walk, heard)?,
        }
    }
    Ok(())
}

struct Reading<'a> {
    kml: &'a mut Kml,
    /// The placemark that is open.
    placemark: Option<Placemark>,
    /// Names of the open folders.
    folders: Vec<Option<String>>,
    /// Name of the open piece of data.
    data: Option<String>,
    /// Rings of the open polygon: the exterior, then the holes.
    exterior: Path,
    holes: Vec<Path>,
    track: Path,
    /// Where the open element begins that holds coordinates, a byte of the text.
    opened: usize,
}

impl<'a> Reading<'a> {
    fn of(kml: &'a mut Kml) -> Self {
        Self {
            kml,
            placemark: None,
            folders: Vec::new(),
            data: None,
            exterior: Vec::new(),
            holes: Vec::new(),
            track: Vec::new(),
            opened: 0,
        }
    }

    fn opens(&mut self, walk: &Walk, start: &BytesStart) -> Result<(), BadXml> {
        let (parents, name) = of(walk.open());
        let attribute = |key: &str| walk.attribute(start, key);
        match name {
            "kml" if parents.is_empty() => {}
            other if parents.is_empty() => {
                let other = other.escape_debug();
                return Err(walk.bad(format!("its root element is '{other}', not 'kml'")));
            }
            "Placemark" => self.placemark = Some(Placemark::default()),
            "Folder" => self.folders.push(None),
            "SimpleField" => {
                if let (Some(name), Some(declared)) = (attribute("name")?, attribute("type")?) {
                    self.kml.attributes.declare(name, declared);
                }
            }
            "Data" | "SimpleData" => self.data = attribute("name")?,
            "Polygon" => {
                self.exterior.clear();
                self.holes.clear();
            }
            "Track" => self.track.clear(),
            "coordinates" => self.opened = walk.position(),
            "GroundOverlay" | "PhotoOverlay" | "ScreenOverlay" | "Model" => self.kml.pictures += 1,
            _ => {}
        }
        Ok(())
    }

    fn closes(&mut self, walk: &Walk, heard: String) -> Result<(), BadXml> {
        let (parents, name) = of(walk.open());
        let parent = parents.last().map_or("", String::as_str);
        match (parent, name) {
            ("Folder", "name") => {
                if let Some(folder) = self.folders.last_mut() {
                    *folder = Some(heard.trim().to_owned());
                }
            }
            (_, "Folder") => {
                self.folders.pop();
            }
            (_, "Placemark") => self.ends(),
            ("Placemark", "name") => self.keep(NAME, &heard),
            ("Placemark", "description") => self.keep(DESCRIPTION, &heard),
            ("Data", "value") | (_, "SimpleData") => {
                // Without a name there is nothing to call it by.
                if let Some(name) = self.data.take() {
                    let at = self.kml.attributes.place(&name);
                    self.keep(at, &heard);
                }
            }
            (_, "coordinates") => {
                let (places, has_heights) = coordinates::places(&heard)
                    .map_err(|(at, what)| walk.bad_at(self.opened.saturating_add(at), what))?;
                self.coordinates(parents, places, has_heights)
                    .map_err(|what| walk.bad(what))?;
            }
            ("Track", "coord") => {
                let place = coordinates::of_track(&heard).map_err(|what| walk.bad(what))?;
                self.track.push(place);
            }
            (_, "Track") => {
                let track = std::mem::take(&mut self.track);
                if let (Some(placemark), false) = (&mut self.placemark, track.is_empty()) {
                    placemark.lines.push(track);
                }
            }
            (_, "Polygon") => {
                let exterior = std::mem::take(&mut self.exterior);
                let holes = std::mem::take(&mut self.holes);
                if let Some(placemark) = &mut self.placemark {
                    placemark
                        .polygons
                        .push(std::iter::once(exterior).chain(holes).collect());
                }
            }
            ("Link" | "Url", "href") if parents.iter().any(|around| around == "NetworkLink") => {
                self.kml.links.push(heard.trim().to_owned());
            }
            _ => {}
        }
        Ok(())
    }

    /// Puts places where the element around them says. Those of a camera or a model belong to nothing on the ground.
    fn coordinates(
        &mut self,
        parents: &[String],
        places: Vec<Xy>,
        has_heights: bool,
    ) -> Result<(), String> {
        let (Some(placemark), [.., around, parent]) = (&mut self.placemark, parents) else {
            return Ok(());
        };
        match (around.as_str(), parent.as_str()) {
            (_, "Point") => placemark.points.extend(places),
            ("outerBoundaryIs", "LinearRing") if self.exterior.is_empty() => self.exterior = places,
            ("outerBoundaryIs", "LinearRing") => {
                return Err("a polygon has two outer rings".to_owned());
            }
            ("innerBoundaryIs", "LinearRing") => self.holes.push(places),
            (_, "LineString" | "LinearRing") => placemark.lines.push(places),
            _ => return Ok(()),
        }
        placemark.has_heights |= has_heights;
        Ok(())
    }

    fn keep(&mut self, at: usize, text: &str) {
        let Some(placemark) = &mut self.placemark else {
            return;
        };
        placemark.values.push((at, text.trim().to_owned()));
    }

    fn ends(&mut self) {
        let folder = self.folders.iter().rev().flatten().next().cloned();
        if let Some(folder) = folder {
            self.keep(FOLDER, &folder);
        }
        let Some(placemark) = self.placemark.take() else {
            return;
        };
        match placemark.has_geometry() {
            true => self.kml.placemarks.push(placemark),
            false => self.kml.without_geometry += 1,
        }
    }
}

/// The elements around the innermost one, and its name.
fn of(open: &[String]) -> (&[String], &str) {
    match open {
        [parents @ .., name] => (parents, name),
        [] => (&[], ""),
    }
}
