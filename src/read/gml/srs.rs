//! How a GML file names a CRS, and in which order its coordinates stand then.
//!
//! | name | order of axes |
//! |---|---|
//! | `urn:ogc:def:crs:EPSG::n`, `http://www.opengis.net/def/crs/EPSG/0/n` | that of the EPSG registry (OGC 07-092r1; GML 3.2.1, 9.9): often north or latitude first |
//! | `EPSG:n`, `http://www.opengis.net/gml/srs/epsg.xml#n` | x (east, longitude) first, as the programs that write these names do |
//! | `urn:ogc:def:crs:OGC:1.3:CRS84` and the like | longitude first |
//!
//! Checked against what GDAL makes of files in `testdata/gml`.

use crate::codec::epsg_axes::is_north_first;

/// A CRS that is named by the registry's own names.
fn of_registry(name: &str) -> Option<u32> {
    let lower = name.to_ascii_lowercase();
    let code = |text: &str| text.parse::<u32>().ok();
    // Of a CRS made of two (a map and heights) the first is meant.
    let lower = match lower.strip_prefix("urn:ogc:def:crs,") {
        Some(parts) => {
            let first = parts.split(',').next().unwrap_or("");
            format!("urn:ogc:def:{first}")
        }
        None => lower,
    };
    for start in ["urn:ogc:def:crs:epsg:", "urn:x-ogc:def:crs:epsg:"] {
        if let Some(rest) = lower.strip_prefix(start) {
            // The version of the registry may stand before the code.
            return code(rest.rsplit(':').next().unwrap_or(""));
        }
    }
    for start in [
        "http://www.opengis.net/def/crs/epsg/",
        "https://www.opengis.net/def/crs/epsg/",
    ] {
        if let Some(rest) = lower.strip_prefix(start) {
            return code(rest.rsplit('/').next().unwrap_or(""));
        }
    }
    None
}

/// Whether coordinates stand with north (latitude) first by this name of their CRS.
pub(super) fn is_swapped(name: &str) -> bool {
    of_registry(name).is_some_and(is_north_first)
}

/// The name as PROJ knows it.
pub(super) fn declared(name: &str) -> String {
    if let Some(code) = of_registry(name) {
        return format!("EPSG:{code}");
    }
    let lower = name.to_ascii_lowercase();
    if let Some((_, code)) = lower.split_once("/gml/srs/epsg.xml#") {
        return format!("EPSG:{code}");
    }
    if lower.ends_with("crs84") {
        return "OGC:CRS84".to_owned();
    }
    name.to_owned()
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
            (
                "urn:adv:crs:ETRS89_UTM32",
                false,
                "urn:adv:crs:ETRS89_UTM32",
            ),
        ] {
            assert_eq!(is_swapped(name), swapped, "{name}");
            assert_eq!(declared(name), text, "{name}");
        }
    }
}
