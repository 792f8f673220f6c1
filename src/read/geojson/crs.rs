//! The `crs` member of the GeoJSON specification of 2008, section 3. RFC 7946 dropped it, but
//! files in projected coordinates still carry it.

use super::super::DeclaredCrs;
use serde_json::Value as Json;

/// What a `crs` member declares.
///
/// # Errors
/// A sentence saying what is wrong with it.
pub(super) fn declared(member: &Json) -> Result<DeclaredCrs, String> {
    if member.is_null() {
        // Section 3: with null, no CRS may be assumed.
        return Ok(DeclaredCrs::None);
    }
    match member.get("type").and_then(Json::as_str) {
        Some("name") => {}
        // Seen in files older than the specification: {"type": "EPSG", "properties": {"code": 28992}}.
        Some("EPSG") => return epsg(member),
        Some("link") => return Err("Its CRS is only a link to somewhere else".to_string()),
        _ => return Err(format!("Its `crs` member is not understood: {member}")),
    }
    match member.pointer("/properties/name").and_then(Json::as_str) {
        Some(name) => Ok(named(name.trim())),
        None => Err(format!("Its `crs` member has no name: {member}")),
    }
}

fn epsg(member: &Json) -> Result<DeclaredCrs, String> {
    match member.pointer("/properties/code") {
        Some(Json::Number(code)) => Ok(DeclaredCrs::Text(format!("EPSG:{code}"))),
        Some(Json::String(code)) => Ok(DeclaredCrs::Text(format!("EPSG:{code}"))),
        _ => Err(format!("Its `crs` member has no code: {member}")),
    }
}

/// An authority code for the URN and URI forms of OGC 09-048r3; any other name as it stands.
///
/// Whatever the authority's axis order, GeoJSON has x (east) first.
fn named(name: &str) -> DeclaredCrs {
    let parts: Vec<&str> = match name.split_once("/def/crs/") {
        Some((_, rest)) => rest.split('/').collect(),
        None => match name.to_ascii_lowercase().starts_with("urn:ogc:def:crs:") {
            true => name.split(':').skip(4).collect(),
            false => name.split(':').collect(),
        },
    };
    match (parts.first(), parts.last()) {
        (Some(&authority), Some(&code))
            if (2..=3).contains(&parts.len()) && is_word(authority) && is_word(code) =>
        {
            let authority = authority.to_ascii_uppercase();
            match (authority.as_str(), code) {
                ("OGC", "CRS84" | "84") => DeclaredCrs::Wgs84ByStandard,
                _ => DeclaredCrs::Text(format!("{authority}:{code}")),
            }
        }
        _ => DeclaredCrs::Text(name.to_string()),
    }
}

fn is_word(text: &str) -> bool {
    !text.is_empty()
        && text
            .chars()
            .all(|letter| letter.is_ascii_alphanumeric() || letter == '_')
}

#[cfg(test)]
mod tests {
    use super::*;
    use serde_json::json;

    fn name(name: &str) -> DeclaredCrs {
        declared(&json!({"type": "name", "properties": {"name": name}})).unwrap()
    }

    #[test]
    fn names_in_all_spellings() {
        let text = |text: &str| DeclaredCrs::Text(text.to_string());
        assert_eq!(
            name("urn:ogc:def:crs:OGC:1.3:CRS84"),
            DeclaredCrs::Wgs84ByStandard
        );
        assert_eq!(
            name("urn:ogc:def:crs:OGC::CRS84"),
            DeclaredCrs::Wgs84ByStandard
        );
        assert_eq!(name("OGC:CRS84"), DeclaredCrs::Wgs84ByStandard);
        assert_eq!(name("urn:ogc:def:crs:EPSG::25832"), text("EPSG:25832"));
        assert_eq!(name("urn:ogc:def:crs:EPSG:9.1:28992"), text("EPSG:28992"));
        assert_eq!(name("EPSG:3067"), text("EPSG:3067"));
        assert_eq!(name("epsg:3067"), text("EPSG:3067"));
        assert_eq!(
            name("http://example.org/def/crs/EPSG/0/2193"),
            text("EPSG:2193")
        );
        assert_eq!(
            name("PROJCS[\"a\",GEOGCS[\"b:c\"]]"),
            text("PROJCS[\"a\",GEOGCS[\"b:c\"]]")
        );
    }

    #[test]
    fn null_a_link_and_nonsense() {
        assert_eq!(declared(&Json::Null), Ok(DeclaredCrs::None));
        let old = json!({"type": "EPSG", "properties": {"code": 28992}});
        assert_eq!(declared(&old), Ok(DeclaredCrs::Text("EPSG:28992".into())));
        assert!(declared(&json!({"type": "link", "properties": {"href": "x"}})).is_err());
        assert!(declared(&json!({"type": "name"})).is_err());
        assert!(declared(&json!(7)).is_err());
    }
}
