//! GPX 1.0 and 1.1: what a handheld receiver or a phone has recorded. Waypoints are points, routes and tracks are lines;
//! coordinates are longitude and latitude on WGS 84 by the format's definition (GPX 1.1 schema, 2004).

use super::asked_table::{self, Words};
use super::file;
use super::{DeclaredCrs, Feature, Geometry, Layer, Path as Line, TableSummary, Value};
use crate::codec::xml::{BadXml, Step, Walk, decoded, local};
use crate::findings::{Fault, Finding, Outcome, Place};
use quick_xml::events::BytesStart;
use std::path::Path;

/// Format in words.
pub(super) const FORMAT: &str = "GPX";

/// The attributes that are read, in the order of a layer: names of elements of the format.
const ATTRIBUTES: [&str; 3] = ["name", "desc", "ele"];
/// Place of the height, a number in metres.
const HEIGHT: usize = 2;

/// One of the three kinds of things in such a file.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Kind {
    Waypoint,
    Route,
    Track,
}

impl Kind {
    /// All, each with the name of its table and its element.
    const ALL: [(Self, &'static str, &'static str); 3] = [
        (Self::Waypoint, "waypoints", "wpt"),
        (Self::Route, "routes", "rte"),
        (Self::Track, "tracks", "trk"),
    ];

    fn of_element(name: &str) -> Option<Self> {
        let known = Self::ALL.iter().find(|(_, _, element)| *element == name);
        known.map(|(kind, ..)| *kind)
    }

    fn table(self) -> &'static str {
        match self {
            Self::Waypoint => "waypoints",
            Self::Route => "routes",
            Self::Track => "tracks",
        }
    }
}

/// Something in the file while it is read.
struct Thing {
    kind: Kind,
    lines: Vec<Line>,
    values: [Option<String>; 3],
}

/// The tables of a file that hold something.
pub(super) fn tables(path: &Path) -> Outcome<Vec<TableSummary>> {
    let (things, _) = things(path)?;
    let tables = Kind::ALL.iter().filter_map(|(kind, table, _)| {
        let features = things.iter().filter(|thing| thing.kind == *kind).count() as u64;
        (features > 0).then(|| TableSummary {
            name: Some((*table).to_owned()),
            geometry: match kind {
                Kind::Waypoint => "points".to_owned(),
                Kind::Route | Kind::Track => "lines".to_owned(),
            },
            features,
        })
    });
    Ok(tables.collect())
}

/// Reads the one kind of things that the file holds, or the one that `table` names.
pub(super) fn read(path: &Path, table: Option<&str>) -> Outcome<Layer> {
    let (things, lone_points) = things(path)?;
    let kind = asked_for(path, table, &things)?;
    let mut number = 0;
    let mut features = Vec::new();
    let mut attributes: Vec<usize> = (0..ATTRIBUTES.len()).collect();
    let of_kind = || things.iter().filter(|thing| thing.kind == kind);
    attributes.retain(|at| of_kind().any(|thing| thing.values[*at].is_some()));
    for thing in of_kind() {
        number += 1;
        let values = attributes.iter().map(|at| value(&thing.values[*at], *at));
        features.push(Feature {
            name: match &thing.values[0] {
                Some(name) if !name.is_empty() => name.clone(),
                _ => number.to_string(),
            },
            geometry: geometry(thing),
            values: values.collect(),
        });
    }
    let mut findings = Vec::new();
    if lone_points > 0 && kind != Kind::Waypoint {
        findings.push(Finding::note(
            "read.lone_points",
            Place::file(path).layer(kind.table()),
            format!(
                "{lone_points} pieces of routes or tracks have a single point; they make no line and were left out."
            ),
        ));
    }
    Ok(Layer {
        file: path.to_path_buf(),
        format: FORMAT,
        table: Some(kind.table().to_owned()),
        crs: DeclaredCrs::Wgs84ByStandard,
        attributes: attributes
            .iter()
            .map(|at| ATTRIBUTES[*at].to_owned())
            .collect(),
        features,
        findings,
    })
}

fn value(text: &Option<String>, at: usize) -> Value {
    let Some(text) = text else {
        return Value::Missing;
    };
    let number = text.parse().ok().filter(|number: &f64| number.is_finite());
    match number {
        Some(number) if at == HEIGHT => Value::Number(number),
        _ => Value::Text(text.clone()),
    }
}

fn geometry(thing: &Thing) -> Geometry {
    match (thing.kind, thing.lines.is_empty()) {
        (_, true) => Geometry::Empty,
        (Kind::Waypoint, _) => Geometry::Points(thing.lines.concat()),
        (Kind::Route | Kind::Track, _) => Geometry::Lines(thing.lines.clone()),
    }
}

fn asked_for(path: &Path, table: Option<&str>, things: &[Thing]) -> Outcome<Kind> {
    let there: Vec<Kind> = Kind::ALL
        .iter()
        .map(|(kind, ..)| *kind)
        .filter(|kind| things.iter().any(|thing| thing.kind == *kind))
        .collect();
    let words = Words {
        format: FORMAT,
        tables: "waypoints, routes or tracks",
        kinds: "kinds of things",
        hint: "",
        nothing: [
            "no waypoint, no route and no track",
            "at least one of them",
            "Check that it is the right file, and that the device has saved what it recorded.",
        ],
    };
    asked_table::asked_for(path, table, &there, Kind::table, &words)
}

/// All waypoints, routes and tracks, in the order of the file; and how many pieces of lines had a single point.
fn things(path: &Path) -> Outcome<(Vec<Thing>, usize)> {
    let bytes = file::bytes(path)?;
    let text = decoded(&bytes).map_err(|bad| no_gpx(path, &bad))?;
    parsed(&text).map_err(|bad| no_gpx(path, &bad))
}

fn no_gpx(path: &Path, bad: &BadXml) -> Box<Fault> {
    Fault::input(
        "read.not_gpx",
        Place::file(path).line(bad.line),
        format!("This is no GPX that can be read: {}", bad.what),
        "GPX 1.0 or 1.1, whole",
        "Copy it from the device again, or export it again; a copy that was cut short ends like this.",
    )
}

fn parsed(text: &str) -> Result<(Vec<Thing>, usize), BadXml> {
    let mut walk = Walk::over(text);
    let mut things: Vec<Thing> = Vec::new();
    let mut lone_points = 0;
    let mut line: Line = Vec::new();
    while let Some(step) = walk.step()? {
        let open = walk.open();
        let inside = open.len();
        let Some(name) = open.last() else { continue };
        match step {
            Step::Opens(start) => {
                if inside == 1 && name != "gpx" {
                    let name = name.escape_debug();
                    return Err(walk.bad(format!("its root element is '{name}', not 'gpx'")));
                }
                // Things of the format lie right inside the root; what extensions hold is theirs.
                let kind = Kind::of_element(name).filter(|_| inside == 2);
                if let Some(kind) = kind {
                    things.push(Thing {
                        kind,
                        lines: Vec::new(),
                        values: [const { None }; 3],
                    });
                    line.clear();
                }
                if kind == Some(Kind::Waypoint) || is_point_of_line(open) {
                    line.push(place(&start).map_err(|what| walk.bad(what))?);
                }
            }
            Step::Closes(heard) => {
                let Some(thing) = things.last_mut() else {
                    continue;
                };
                let closes = inside == 2 && Kind::of_element(name) == Some(thing.kind);
                let is_piece = name == "trkseg" && inside == 3 && thing.kind == Kind::Track;
                if closes || is_piece {
                    let piece = std::mem::take(&mut line);
                    let least = if thing.kind == Kind::Waypoint { 1 } else { 2 };
                    match piece.len() {
                        0 => {}
                        few if few < least => lone_points += 1,
                        _ => thing.lines.push(piece),
                    }
                } else if inside == 3 && Kind::of_element(&open[1]).is_some() {
                    let known = ATTRIBUTES.iter().position(|known| known == name);
                    if let Some(at) = known {
                        thing.values[at] = Some(heard.trim().to_owned());
                    }
                }
            }
        }
    }
    Ok((things, lone_points))
}

/// Whether the innermost of the open elements is a point of a route or of a piece of a track.
fn is_point_of_line(open: &[String]) -> bool {
    let names: Vec<&str> = open.iter().map(String::as_str).collect();
    matches!(
        names.as_slice(),
        [_, "rte", "rtept"] | [_, "trk", "trkseg", "trkpt"]
    )
}

/// Longitude and latitude of a point.
fn place(start: &BytesStart) -> Result<[f64; 2], String> {
    let name = local(start.name().as_ref()).to_owned();
    let degrees = |key: &str, most: f64| {
        let found = start
            .try_get_attribute(key)
            .map_err(|error| error.to_string())?;
        let found = found.ok_or_else(|| format!("a '{name}' has no '{key}'"))?;
        let text = found.value.trim().to_owned();
        let number = text.parse().ok().filter(|value: &f64| value.abs() <= most);
        number.ok_or_else(|| {
            let text = text.escape_debug();
            format!(
                "'{key}' of a '{name}' is '{text}', and degrees from -{most} to {most} are wanted"
            )
        })
    };
    Ok([degrees("lon", 180.0)?, degrees("lat", 90.0)?])
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::fs;

    const FILE: &str = r#"<?xml version="1.0" encoding="UTF-8"?>
<gpx version="1.1" creator="a test" xmlns="http://www.topografix.com/GPX/1/1">
  <metadata><name>not a thing</name></metadata>
  <wpt lat="54.8" lon="2.5"><ele>12.5</ele><name>A &amp; B</name></wpt>
  <wpt lat="54.81" lon="2.51"/>
  <rte><name>to the gate</name><rtept lat="1" lon="2"/><rtept lat="3" lon="4"><name>inner</name></rtept></rte>
  <trk><name>brook</name><trkseg><trkpt lat="1" lon="2"><ele>1</ele></trkpt><trkpt lat="1.5" lon="2"/></trkseg>
    <trkseg><trkpt lat="9" lon="9"/></trkseg><trkseg><trkpt lat="5" lon="6"/><trkpt lat="7" lon="8"/></trkseg>
    <extensions><wpt>of somebody else</wpt></extensions></trk>
</gpx>"#;

    fn written(text: &str) -> (tempfile::TempDir, std::path::PathBuf) {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("walk.gpx");
        fs::write(&path, text).unwrap();
        (folder, path)
    }

    #[test]
    fn waypoints_are_points_routes_and_tracks_lines() {
        let (_folder, path) = written(FILE);
        let listed = tables(&path).unwrap();
        let listed = listed
            .iter()
            .map(|of| (of.name.as_deref().unwrap(), of.features));
        let wanted = [("waypoints", 2), ("routes", 1), ("tracks", 1)];
        assert_eq!(listed.collect::<Vec<_>>(), wanted);
        let points = read(&path, Some("waypoints")).unwrap();
        assert_eq!(points.attributes, ["name", "ele"]);
        assert_eq!(
            points.features[0].geometry,
            Geometry::Points(vec![[2.5, 54.8]])
        );
        assert_eq!(
            points.features[0].values,
            [Value::Text("A & B".into()), Value::Number(12.5)]
        );
        assert_eq!(points.features[1].name, "2");
        let routes = read(&path, Some("routes")).unwrap();
        assert_eq!(routes.features[0].name, "to the gate");
        let line = vec![[2.0, 1.0], [4.0, 3.0]];
        assert_eq!(routes.features[0].geometry, Geometry::Lines(vec![line]));
        let tracks = read(&path, Some("tracks")).unwrap();
        let pieces = vec![vec![[2.0, 1.0], [2.0, 1.5]], vec![[6.0, 5.0], [8.0, 7.0]]];
        assert_eq!(tracks.features[0].geometry, Geometry::Lines(pieces));
        assert_eq!(tracks.attributes, ["name"]);
        assert_eq!(tracks.findings[0].code, "read.lone_points");
    }

    #[test]
    fn what_is_not_plain_is_asked_or_refused_with_its_line() {
        let (_folder, path) = written(FILE);
        assert_eq!(read(&path, None).unwrap_err().code, "read.several_tables");
        let fault = read(&path, Some("track")).unwrap_err();
        assert!(fault.next.contains("'tracks'"), "{fault}");
        for (text, line, said) in [
            (FILE.replace("lat=\"3\" ", ""), 6, "no 'lat'"),
            (FILE.replace("lat=\"3\"", "lat=\"93\""), 6, "'93'"),
            (FILE.replace("lat=\"3\"", "lat=\"nan\""), 6, "'nan'"),
            (FILE.replace("&amp;", "&nbsp;"), 4, "nbsp"),
            (FILE.replace("</gpx>", ""), 10, "inside the element 'gpx'"),
            (
                FILE.replace("<gpx", "<kml").replace("</gpx", "</kml"),
                2,
                "'kml'",
            ),
        ] {
            let (_folder, path) = written(&text);
            let fault = read(&path, Some("tracks")).unwrap_err();
            assert_eq!(fault.place.line, Some(line), "{fault}");
            assert!(fault.found.contains(said), "{said}: {fault}");
        }
        let (_folder, path) = written("<gpx/>");
        assert_eq!(read(&path, None).unwrap_err().code, "read.nothing_inside");
    }
}
