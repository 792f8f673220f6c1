//! Styles as QML, the XML in which QGIS keeps how a layer is shown: a colour per rate. It reads a `.qml` of the layer's own name
//! as it opens a file, and the table `layer_styles` of a GeoPackage.
//!
//! The older form of properties (`prop`) is written, which every version 3 reads.

use super::style::{LINE, Style, in_xml};
use std::fmt::Write;

const HEAD: &str = "<!DOCTYPE qgis PUBLIC 'http://mrcc.com/qgis.dtd' 'SYSTEM'>\n<qgis version=\"3.22.0\" styleCategories=\"Symbology\">\n";

/// Of map zones: a category for each rate in `column`.
///
/// `decimals`: how many the file keeps; `None` where it keeps every bit.
pub(super) fn zones(style: &Style, column: &str, decimals: Option<usize>) -> String {
    let value = |value: f64| match decimals {
        // As it comes back from the file: read as a number, without zeros at the end.
        Some(decimals) => format!("{value:.decimals$}").parse().unwrap_or(value),
        None => value,
    };
    let mut out = String::from(HEAD);
    let _ = write!(
        out,
        " <renderer-v2 type=\"categorizedSymbol\" attr=\"{}\" symbollevels=\"0\" enableorderby=\"0\" forceraster=\"0\">\n  <categories>\n",
        in_xml(column)
    );
    for (nth, class) in style.classes.iter().enumerate() {
        let _ = writeln!(
            out,
            "   <category symbol=\"{nth}\" value=\"{}\" label=\"{}\" render=\"true\"/>",
            value(class.value),
            in_xml(&class.label)
        );
    }
    out.push_str("  </categories>\n  <symbols>\n");
    for (nth, class) in style.classes.iter().enumerate() {
        let _ = writeln!(
            out,
            "   <symbol type=\"fill\" name=\"{nth}\" alpha=\"1\" clip_to_extent=\"1\" force_rhr=\"0\"><layer class=\"SimpleFill\" enabled=\"1\" locked=\"0\" pass=\"0\">"
        );
        for (key, value) in [
            ("color", rgba(&class.colour, class.covers)),
            ("style", "solid".to_owned()),
            ("outline_color", rgba(LINE, 255)),
            ("outline_style", "solid".to_owned()),
            ("outline_width", "0.2".to_owned()),
            ("outline_width_unit", "MM".to_owned()),
        ] {
            let _ = writeln!(out, "    <prop k=\"{key}\" v=\"{value}\"/>");
        }
        out.push_str("   </layer></symbol>\n");
    }
    out.push_str(
        "  </symbols>\n  <rotation/>\n  <sizescale/>\n </renderer-v2>\n <blendMode>0</blendMode>\n <featureBlendMode>0</featureBlendMode>\n <layerGeometryType>2</layerGeometryType>\n</qgis>\n",
    );
    out
}

/// Of a raster: its first band, a colour for each rate.
pub(super) fn cells(style: &Style) -> String {
    let ends = style.classes.first().zip(style.classes.last());
    let [low, high] = ends.map_or([0.0; 2], |(low, high)| [low.value, high.value]);
    let mut out = String::from(HEAD);
    let _ = write!(
        out,
        " <pipe>\n  <rasterrenderer type=\"singlebandpseudocolor\" band=\"1\" opacity=\"1\" alphaBand=\"-1\" classificationMin=\"{low}\" classificationMax=\"{high}\">\n   <rastershader><colorrampshader colorRampType=\"EXACT\" classificationMode=\"1\" clip=\"0\" minimumValue=\"{low}\" maximumValue=\"{high}\">\n"
    );
    for class in &style.classes {
        let _ = writeln!(
            out,
            "    <item value=\"{}\" label=\"{}\" color=\"{}\" alpha=\"{}\"/>",
            class.value,
            in_xml(&class.label),
            class.colour,
            class.covers
        );
    }
    out.push_str(
        "   </colorrampshader></rastershader>\n  </rasterrenderer>\n  <brightnesscontrast brightness=\"0\" contrast=\"0\"/>\n </pipe>\n <blendMode>0</blendMode>\n</qgis>\n",
    );
    out
}

/// `#rrggbb` as `r,g,b,a`.
fn rgba(colour: &str, alpha: u8) -> String {
    let digits = colour.trim_start_matches('#');
    let part = |from: usize| {
        let pair = digits.get(from..from + 2);
        pair.and_then(|pair| u8::from_str_radix(pair, 16).ok())
            .unwrap_or(0)
    };
    format!("{},{},{},{alpha}", part(0), part(2), part(4))
}

#[cfg(test)]
mod tests {
    use super::rgba;

    #[test]
    fn colours_are_numbers() {
        assert_eq!(rgba("#ff8001", 96), "255,128,1,96");
    }
}
