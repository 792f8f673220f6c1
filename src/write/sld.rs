//! Styles as SLD (OGC 02-070, version 1.0.0), which map servers read: a rule per rate.

use super::style::{LINE, Style, in_xml};
use std::fmt::Write;

/// Of the map zones of the layer `layer`.
pub(super) fn text(style: &Style, layer: &str) -> String {
    let mut out = format!(
        concat!(
            "<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n",
            "<StyledLayerDescriptor version=\"1.0.0\" xmlns=\"http://www.opengis.net/sld\" xmlns:ogc=\"http://www.opengis.net/ogc\">\n",
            "<NamedLayer><Name>{}</Name><UserStyle><Name>{}</Name><Title>{}</Title><FeatureTypeStyle>\n",
        ),
        in_xml(layer),
        in_xml(&style.column),
        in_xml(&style.name)
    );
    for class in &style.classes {
        let _ = writeln!(
            out,
            concat!(
                "<Rule><Name>{label}</Name><Title>{label}</Title>",
                "<ogc:Filter><ogc:PropertyIsEqualTo><ogc:PropertyName>{column}</ogc:PropertyName><ogc:Literal>{value}</ogc:Literal></ogc:PropertyIsEqualTo></ogc:Filter>",
                "<PolygonSymbolizer><Fill><CssParameter name=\"fill\">{colour}</CssParameter><CssParameter name=\"fill-opacity\">{opacity}</CssParameter></Fill>",
                "<Stroke><CssParameter name=\"stroke\">{line}</CssParameter><CssParameter name=\"stroke-width\">0.5</CssParameter></Stroke></PolygonSymbolizer></Rule>",
            ),
            label = in_xml(&class.label),
            column = in_xml(&style.column),
            value = class.value,
            colour = class.colour,
            opacity = format_args!("{:.2}", f64::from(class.covers) / 255.0),
            line = LINE,
        );
    }
    out.push_str("</FeatureTypeStyle></UserStyle></NamedLayer></StyledLayerDescriptor>\n");
    out
}
