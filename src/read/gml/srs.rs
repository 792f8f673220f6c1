//! How a GML file names a CRS, and in which order its coordinates stand then.
//!
//! | name | order of axes |
//! |---|---|
//! | `urn:ogc:def:crs:EPSG::n`, `http://www.opengis.net/def/crs/EPSG/0/n`, and the like | that of the EPSG registry (OGC 07-092r1; GML 3.2.1, 9.9): often north or latitude first |
//! | `EPSG:n`, `http://www.opengis.net/gml/srs/epsg.xml#n` | x (east, longitude) first, as the programs that write these names do |
//! | `urn:ogc:def:crs:OGC:1.3:CRS84` and the like | longitude first |
//!
//! Any other URN or address is not handed on: PROJ may know it, with north first.
//!
//! Checked against what GDAL makes of files in `testdata/gml`.

use crate::codec::epsg_axes;

/// What a name of a CRS says.
enum Name {
    /// A code of the EPSG registry, in the registry's order of axes; whether a CRS of heights is named beside it.
    Registry { code: u32, is_compound: bool },
    /// A name whose coordinates have x first, as PROJ knows it.
    XFirst(String),
    /// A name of which the order of axes is not known.
    Unknown,
}

/// CRSs in degrees that the OGC itself defines, longitude first.
const OF_OGC: [&str; 3] = ["CRS84", "CRS83", "CRS27"];

fn meant(name: &str) -> Name {
    let lower = name.trim().to_ascii_lowercase();
    if let Some(parts) = lower.strip_prefix("urn:ogc:def:crs,") {
        let mut parts = parts.split(',');
        let first = parts.next().and_then(|first| first.strip_prefix("crs:"));
        // Of a CRS made of two (a map and heights) the first is meant. A coordinate system beside it (`cs:`) has an order of its
        // own.
        return match (first, parts.all(|part| part.starts_with("crs:"))) {
            (Some(first), true) => of_parts(first.split(':').collect(), true),
            _ => Name::Unknown,
        };
    }
    for start in [
        "urn:ogc:def:crs:",
        "urn:x-ogc:def:crs:",
        "urn:opengis:def:crs:",
        "urn:opengis:crs:",
    ] {
        if let Some(rest) = lower.strip_prefix(start) {
            return of_parts(rest.split(':').collect(), false);
        }
    }
    let address = address(&lower);
    if let Some(parts) = address.strip_prefix("opengis.net/def/crs-compound?") {
        let first = parts.split('&').find_map(|part| part.strip_prefix("1="));
        let first =
            first.and_then(|first| self::address(first).strip_prefix("opengis.net/def/crs/"));
        return first.map_or(Name::Unknown, |first| {
            of_parts(first.split('/').collect(), true)
        });
    }
    if let Some(rest) = address.strip_prefix("opengis.net/def/crs/") {
        return of_parts(rest.split('/').collect(), false);
    }
    if let Some(code) = address.strip_prefix("opengis.net/gml/srs/epsg.xml#") {
        return code
            .parse::<u32>()
            .map_or(Name::Unknown, |code| Name::XFirst(format!("EPSG:{code}")));
    }
    // PROJ knows more names than these, and takes them without a word on their axes.
    if lower.starts_with("urn:") || lower.contains("opengis") || lower.contains("://") {
        return Name::Unknown;
    }
    let mut of_ogc = OF_OGC.iter();
    let of_ogc = of_ogc.find(|of| lower.ends_with(&of.to_ascii_lowercase()));
    Name::XFirst(match of_ogc {
        Some(of) => format!("OGC:{of}"),
        None => name.to_owned(),
    })
}

/// An address without what may stand in front.
fn address(lower: &str) -> &str {
    let schemes = ["http://", "https://"];
    let rest = schemes.iter().find_map(|scheme| lower.strip_prefix(scheme));
    let rest = rest.unwrap_or(lower);
    rest.strip_prefix("www.").unwrap_or(rest)
}

/// By authority, version (which may be empty or left out) and code, in small letters.
fn of_parts(parts: Vec<&str>, is_compound: bool) -> Name {
    let (authority, code) = match parts.as_slice() {
        [authority, code] | [authority, _, code] => (*authority, *code),
        _ => return Name::Unknown,
    };
    let of_ogc = OF_OGC.iter().find(|of| of.eq_ignore_ascii_case(code));
    match (authority, code.parse::<u32>(), of_ogc) {
        ("epsg", Ok(code), _) => Name::Registry { code, is_compound },
        ("ogc", _, Some(of)) => Name::XFirst(format!("OGC:{of}")),
        _ => Name::Unknown,
    }
}

/// Whether coordinates stand with north (latitude) first by this name of their CRS.
pub(super) fn is_swapped(name: &str) -> bool {
    matches!(meant(name), Name::Registry { code, .. } if epsg_axes::is_north_first(code))
}

/// Whether places in the CRS of this name have a height.
pub(super) fn has_heights(name: &str) -> bool {
    match meant(name) {
        Name::Registry { code, is_compound } => is_compound || epsg_axes::has_heights(code),
        Name::XFirst(name) => {
            let lower = name.to_ascii_lowercase();
            let code = lower.strip_prefix("epsg:");
            code.is_some_and(|code| match code.parse() {
                Ok(code) => epsg_axes::has_heights(code),
                // `EPSG:25832+7837`.
                Err(_) => code.contains('+'),
            })
        }
        Name::Unknown => false,
    }
}

/// The name as PROJ knows it; none where nobody can say in which order its coordinates stand.
pub(super) fn declared(name: &str) -> Option<String> {
    match meant(name) {
        Name::Registry { code, .. } => Some(format!("EPSG:{code}")),
        Name::XFirst(name) => Some(name),
        Name::Unknown => None,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_name_says_the_order() {
        for (name, swapped, text) in [
            ("EPSG:4326", false, "EPSG:4326"),
            (
                "http://www.opengis.net/gml/srs/epsg.xml#4326",
                false,
                "EPSG:4326",
            ),
            ("urn:ogc:def:crs:EPSG::4326", true, "EPSG:4326"),
            ("urn:ogc:def:crs:EPSG:6.9:4258", true, "EPSG:4258"),
            ("urn:x-ogc:def:crs:EPSG:4326", true, "EPSG:4326"),
            (
                "http://www.opengis.net/def/crs/EPSG/0/31370",
                false,
                "EPSG:31370",
            ),
            (
                "https://www.opengis.net/def/crs/EPSG/0/31467",
                true,
                "EPSG:31467",
            ),
            ("urn:ogc:def:crs:EPSG::25832", false, "EPSG:25832"),
            ("urn:ogc:def:crs:EPSG::3035", true, "EPSG:3035"),
            (
                "urn:ogc:def:crs,crs:EPSG::25832,crs:EPSG::7837",
                false,
                "EPSG:25832",
            ),
            ("urn:ogc:def:crs:OGC:1.3:CRS84", false, "OGC:CRS84"),
            (
                "http://www.opengis.net/def/crs/OGC/1.3/CRS84",
                false,
                "OGC:CRS84",
            ),
            // Other ways that PROJ takes.
            ("http://opengis.net/def/crs/EPSG/0/4326", true, "EPSG:4326"),
            ("https://opengis.net/def/crs/EPSG/0/4326", true, "EPSG:4326"),
            ("www.opengis.net/def/crs/EPSG/0/4326", true, "EPSG:4326"),
            (
                "HTTP://WWW.OpenGIS.net/def/crs/EPSG/0/4326",
                true,
                "EPSG:4326",
            ),
            (
                "http://www.opengis.net/def/crs-compound?1=http://www.opengis.net/def/crs/EPSG/0/4326&2=http://www.opengis.net/def/crs/EPSG/0/5773",
                true,
                "EPSG:4326",
            ),
            (
                "http://www.opengis.net/def/crs-compound?2=http://opengis.net/def/crs/EPSG/0/5773&1=http://opengis.net/def/crs/EPSG/0/25832",
                false,
                "EPSG:25832",
            ),
            ("urn:opengis:crs:EPSG:0:4326", true, "EPSG:4326"),
            ("urn:opengis:def:crs:EPSG::4326", true, "EPSG:4326"),
            ("urn:ogc:def:crs:EPSG:4326", true, "EPSG:4326"),
            ("CRS84", false, "OGC:CRS84"),
            ("WGS 84", false, "WGS 84"),
        ] {
            assert_eq!(is_swapped(name), swapped, "{name}");
            assert_eq!(declared(name).as_deref(), Some(text), "{name}");
        }
    }

    #[test]
    fn a_name_that_is_not_understood_is_not_taken_as_it_stands() {
        for name in [
            "urn:adv:crs:ETRS89_UTM32",
            "urn:ogc:def:crs:ESRI::104199",
            "urn:ogc:def:crs:EPSG::4326:1",
            "urn:ogc:def:crs,crs:EPSG::4326,cs:EPSG::6422",
            "urn:ogc:def:coordinateReferenceSystem:EPSG::4326",
            "urn:EPSG:geographicCRS:4326",
            "http://www.opengis.net/def/crs/IAU/2015/30100",
            "http://www.opengis.net/def/crs-compound?2=http://www.opengis.net/def/crs/EPSG/0/4326",
            "http://www.opengis.net/gml/srs/other.xml#4326",
            "http://crs.example/epsg/4326",
        ] {
            assert_eq!(declared(name), None, "{name}");
            assert!(!is_swapped(name), "{name}");
        }
    }

    #[test]
    fn the_name_says_whether_there_are_heights() {
        for (name, heights) in [
            ("urn:ogc:def:crs:EPSG::4979", true),
            ("urn:ogc:def:crs:EPSG::7423", true),
            ("EPSG:4979", true),
            ("EPSG:25832+7837", true),
            ("urn:ogc:def:crs,crs:EPSG::25832,crs:EPSG::7837", true),
            (
                "http://www.opengis.net/def/crs-compound?1=http://www.opengis.net/def/crs/EPSG/0/4326&2=http://www.opengis.net/def/crs/EPSG/0/5773",
                true,
            ),
            ("urn:ogc:def:crs:EPSG::4326", false),
            ("EPSG:25832", false),
        ] {
            assert_eq!(has_heights(name), heights, "{name}");
        }
    }
}
