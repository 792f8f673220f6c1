//! What the map files are, as metadata of ISO 19115 in the XML of ISO 19139: what, when, where, made of what, and what it is not for.

use super::rings;
use super::stamp::Stamp;
use super::style::in_xml;
use crate::plan::Plan;
use std::fmt::Write;

/// Name of the standard's XML, as a GeoPackage wants it.
pub(super) const STANDARD: &str = "http://www.isotc211.org/2005/gmd";

/// The metadata of a plan's map files.
///
/// Units: degrees on WGS 84 for the extent; the date is the time stamp's, in UTC.
pub(super) fn text(plan: &Plan, stamp: &Stamp) -> String {
    let job = &plan.job;
    let (year, month, day) = stamp.date;
    let date = format!("<gco:Date>{year:04}-{month:02}-{day:02}</gco:Date>");
    let farm = [&job.field.farm, &job.field.customer];
    let farm = farm.into_iter().find(|name| !name.is_empty());
    let contact = format!(
        "<gmd:CI_ResponsibleParty>{}<gmd:role>{}</gmd:role></gmd:CI_ResponsibleParty>",
        match farm {
            Some(name) => format!(
                "<gmd:organisationName>{}</gmd:organisationName>",
                words(name)
            ),
            None => "<gmd:organisationName gco:nilReason=\"unknown\"/>".to_owned(),
        },
        code("CI_RoleCode", "owner")
    );
    let products = job.products.iter().map(|product| product.name.as_str());
    let products: Vec<&str> = products.collect();
    let about = format!(
        "Rates in kg/ha of {} for the field {}: polygons of land with the same rates and land part, and the same as cells of a grid. Zone numbers are those of rates.csv and plan.json.",
        products.join(", "),
        job.field.name
    );
    let mut lineage = format!("Made by {} as plan {}.", crate::document::MADE_BY, plan.id);
    for input in &plan.inputs {
        let _ = write!(
            lineage,
            " {}: {} ({}, SHA-256 {}).",
            input.role, input.file, input.crs, input.sha256
        );
    }
    let limits = "Planning aid: label, seed tag, local rules and licensed advice come first. Terminals take the files below the folder terminal.";
    let zones = plan.maps.rate.zones.iter();
    let polygons = zones.flat_map(|zone| zone.polygons.iter());
    let points = polygons.flat_map(|polygon| polygon.exterior.iter().map(|place| place.pair()));
    let mut out = String::from(
        "<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n<gmd:MD_Metadata xmlns:gmd=\"http://www.isotc211.org/2005/gmd\" xmlns:gco=\"http://www.isotc211.org/2005/gco\">\n",
    );
    let mut line = |text: &str| {
        out.push_str(text);
        out.push('\n');
    };
    line(&format!(
        "<gmd:fileIdentifier>{}</gmd:fileIdentifier>",
        words(&format!("twinsow-{}", plan.id))
    ));
    line(&format!("<gmd:language>{}</gmd:language>", words("eng")));
    line(&format!(
        "<gmd:hierarchyLevel>{}</gmd:hierarchyLevel>",
        code("MD_ScopeCode", "dataset")
    ));
    line(&format!("<gmd:contact>{contact}</gmd:contact>"));
    line(&format!("<gmd:dateStamp>{date}</gmd:dateStamp>"));
    line(&format!(
        "<gmd:metadataStandardName>{}</gmd:metadataStandardName>",
        words("ISO 19115:2003/19139")
    ));
    line(&format!(
        "<gmd:referenceSystemInfo><gmd:MD_ReferenceSystem><gmd:referenceSystemIdentifier><gmd:RS_Identifier><gmd:code>{}</gmd:code><gmd:codeSpace>{}</gmd:codeSpace></gmd:RS_Identifier></gmd:referenceSystemIdentifier></gmd:MD_ReferenceSystem></gmd:referenceSystemInfo>",
        words("4326"),
        words("EPSG")
    ));
    line("<gmd:identificationInfo><gmd:MD_DataIdentification>");
    line(&format!(
        "<gmd:citation><gmd:CI_Citation><gmd:title>{}</gmd:title><gmd:date><gmd:CI_Date><gmd:date>{date}</gmd:date><gmd:dateType>{}</gmd:dateType></gmd:CI_Date></gmd:date></gmd:CI_Citation></gmd:citation>",
        words(&format!("Rate map of {}, plan {}", job.field.name, plan.id)),
        code("CI_DateTypeCode", "creation")
    ));
    line(&format!("<gmd:abstract>{}</gmd:abstract>", words(&about)));
    line(&format!(
        "<gmd:pointOfContact>{contact}</gmd:pointOfContact>"
    ));
    line(&format!(
        "<gmd:resourceConstraints><gmd:MD_Constraints><gmd:useLimitation>{}</gmd:useLimitation></gmd:MD_Constraints></gmd:resourceConstraints>",
        words(limits)
    ));
    line(&format!("<gmd:language>{}</gmd:language>", words("eng")));
    line(
        "<gmd:topicCategory><gmd:MD_TopicCategoryCode>farming</gmd:MD_TopicCategoryCode></gmd:topicCategory>",
    );
    if let Some(sides) = rings::extent(points) {
        let [west, south, east, north] =
            sides.map(|side| format!("<gco:Decimal>{side}</gco:Decimal>"));
        line(&format!(
            "<gmd:extent><gmd:EX_Extent><gmd:geographicElement><gmd:EX_GeographicBoundingBox><gmd:westBoundLongitude>{west}</gmd:westBoundLongitude><gmd:eastBoundLongitude>{east}</gmd:eastBoundLongitude><gmd:southBoundLatitude>{south}</gmd:southBoundLatitude><gmd:northBoundLatitude>{north}</gmd:northBoundLatitude></gmd:EX_GeographicBoundingBox></gmd:geographicElement></gmd:EX_Extent></gmd:extent>"
        ));
    }
    line("</gmd:MD_DataIdentification></gmd:identificationInfo>");
    line(&format!(
        "<gmd:dataQualityInfo><gmd:DQ_DataQuality><gmd:scope><gmd:DQ_Scope><gmd:level>{}</gmd:level></gmd:DQ_Scope></gmd:scope><gmd:lineage><gmd:LI_Lineage><gmd:statement>{}</gmd:statement></gmd:LI_Lineage></gmd:lineage></gmd:DQ_DataQuality></gmd:dataQualityInfo>",
        code("MD_ScopeCode", "dataset"),
        words(&lineage)
    ));
    line("</gmd:MD_Metadata>");
    out
}

fn words(text: &str) -> String {
    format!(
        "<gco:CharacterString>{}</gco:CharacterString>",
        in_xml(text)
    )
}

/// A value of one of the standard's lists.
fn code(list: &str, value: &str) -> String {
    format!("<gmd:{list} codeList=\"#{list}\" codeListValue=\"{value}\">{value}</gmd:{list}>")
}
