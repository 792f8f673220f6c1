//! KML 2.2 (OGC 07-147r2) of the map zones: both maps with their colours, to look at on a phone or a globe.

use super::attributes::{Kind, Table, Value};
use super::rings::{self, Winding};
use super::terminal_shapefiles::{area, rate};
use crate::codec::decimal;
use crate::map::{MapZone, Scale};
use crate::plan::Plan;
use crate::tally::ProductTally;
use quick_xml::escape::escape;
use std::fmt::Write;

/// Decimals of longitude and latitude: 1 cm on the ground.
const DECIMALS: i32 = 7;
/// Land that gets none of a product, `aabbggrr`: a grey that lets the picture through.
const NOTHING: &str = "60808080";
/// How much of the picture below a colour covers: 75 %.
const COVERS: &str = "bf";

/// A document with a folder for each product, in which every map zone has the colour of its rate. The first folder is
/// shown; the others are there to be switched on.
///
/// Shape: `table` has one row per zone of the rate map. Units: degrees on WGS 84, rates in those of the job's pages.
pub(super) fn text(plan: &Plan, table: &Table) -> String {
    let job = &plan.job;
    let mut out = String::from(concat!(
        "<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n",
        "<kml xmlns=\"http://www.opengis.net/kml/2.2\">\n<Document>\n"
    ));
    let title = format!("{}, plan {}", job.field.name, plan.id);
    named(&mut out, &title);
    out.push_str("<description>To look at. The terminal takes the files below the folder terminal.</description>\n");
    schema(&mut out, table);
    for (nth, totals) in plan.tally.planned.products.iter().enumerate() {
        styles(&mut out, plan, nth, totals);
    }
    for (nth, product) in job.products.iter().enumerate() {
        out.push_str("<Folder>\n");
        named(&mut out, &product.name);
        shown(&mut out, nth == 0);
        for (zone, row) in plan.maps.rate.zones.iter().zip(&table.rows) {
            placemark(&mut out, plan, (nth, zone), (table, row));
        }
        out.push_str("</Folder>\n");
    }
    out.push_str("</Document>\n</kml>\n");
    out
}

/// The columns of the map zones, so that programs read them with their types.
fn schema(out: &mut String, table: &Table) {
    out.push_str("<Schema name=\"zone\" id=\"zone\">");
    for column in &table.columns {
        let kind = match column.kind {
            Kind::Integer => "int",
            Kind::Number | Kind::Converted => "double",
            Kind::Text => "string",
        };
        let _ = write!(
            out,
            "<SimpleField type=\"{kind}\" name=\"{}\"/>",
            escape(column.name.as_str())
        );
    }
    out.push_str("</Schema>\n");
}

/// A style for each rate of a product.
fn styles(out: &mut String, plan: &Plan, nth: usize, totals: &ProductTally) {
    let scale = Scale::of_product(nth, totals.lowest_kg_per_ha, totals.highest_kg_per_ha);
    let mut done = Vec::new();
    for rate in plan.maps.rate.zones.iter().map(|zone| rate_of(zone, nth)) {
        if done.contains(&rate.to_bits()) {
            continue;
        }
        done.push(rate.to_bits());
        let fill = match rate > 0.0 {
            true => format!("{COVERS}{}", turned_round(&scale.colour(rate))),
            false => NOTHING.to_owned(),
        };
        let _ = writeln!(
            out,
            "<Style id=\"{}\"><LineStyle><color>ff303030</color><width>1</width></LineStyle><PolyStyle><color>{fill}</color></PolyStyle></Style>",
            style(nth, rate)
        );
    }
}

/// A map zone in the folder of a product.
fn placemark(
    out: &mut String,
    plan: &Plan,
    (nth, zone): (usize, &MapZone),
    (table, row): (&Table, &[Value]),
) {
    let job = &plan.job;
    let own = rate_of(zone, nth);
    out.push_str("<Placemark>");
    named(out, &rate(job, own));
    shown(out, nth == 0);
    let mut lines = vec![format!("{}, {}", zone.part.word(), area(job, zone.area_m2))];
    for (product, kg_per_ha) in job.products.iter().zip(&zone.kg_per_ha) {
        lines.push(format!("{}: {}", product.name, rate(job, *kg_per_ha)));
    }
    let _ = write!(
        out,
        "<description>{}</description><styleUrl>#{}</styleUrl>",
        escape(lines.join("\n").as_str()),
        style(nth, own)
    );
    out.push_str("<ExtendedData><SchemaData schemaUrl=\"#zone\">");
    for (column, value) in table.columns.iter().zip(row) {
        let text = match value {
            Value::Integer(value) => value.to_string(),
            Value::Number(value) => value.to_string(),
            Value::Text(text) => text.clone(),
        };
        let _ = write!(
            out,
            "<SimpleData name=\"{}\">{}</SimpleData>",
            escape(column.name.as_str()),
            escape(text.as_str())
        );
    }
    out.push_str("</SchemaData></ExtendedData><MultiGeometry>");
    let polygons = rings::of(
        &zone.polygons,
        Winding::ExteriorCounterClockwise,
        Some(DECIMALS),
    );
    for polygon in rings::counted_on(polygons) {
        out.push_str("<Polygon>");
        for (at, ring) in polygon.0.iter().enumerate() {
            let side = if at == 0 {
                "outerBoundaryIs"
            } else {
                "innerBoundaryIs"
            };
            let _ = write!(out, "<{side}><LinearRing><coordinates>");
            for (at, [lon, lat]) in ring.iter().enumerate() {
                if at > 0 {
                    out.push(' ');
                }
                decimal::push(out, *lon);
                out.push(',');
                decimal::push(out, *lat);
            }
            let _ = write!(out, "</coordinates></LinearRing></{side}>");
        }
        out.push_str("</Polygon>");
    }
    out.push_str("</MultiGeometry></Placemark>\n");
}

fn rate_of(zone: &MapZone, nth: usize) -> f64 {
    zone.kg_per_ha.get(nth).copied().unwrap_or(0.0)
}

/// The id of the style of a rate: of a product by its number, since ids of products may hold what ids of XML may not.
fn style(nth: usize, rate: f64) -> String {
    format!("product-{}-{rate}", nth + 1)
}

/// `#rrggbb` as KML has it, `bbggrr`.
fn turned_round(colour: &str) -> String {
    let digits = colour.trim_start_matches('#').as_bytes();
    let pairs = digits.chunks(2).rev();
    pairs.map(String::from_utf8_lossy).collect()
}

fn named(out: &mut String, name: &str) {
    let _ = writeln!(out, "<name>{}</name>", escape(name));
}

fn shown(out: &mut String, shown: bool) {
    let _ = write!(out, "<visibility>{}</visibility>", u8::from(shown));
}

#[cfg(test)]
mod tests {
    use super::*;

    /// OGC 07-147r2, 16.9: alpha, blue, green, red.
    #[test]
    fn colours_run_from_blue_to_red() {
        assert_eq!(turned_round("#ff8001"), "0180ff");
    }
}
