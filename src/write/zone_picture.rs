//! A layer's zones as a picture (SVG 1.1): a quick look, and the pictures of the documentation.

use crate::coordinates::LonLat;
use crate::map::ClassZone;
use crate::units::M2_PER_HA;
use colorous::VIRIDIS;
use std::fmt::Write as _;

/// Width of the map, and height of a line of the legend, in the picture's units.
const WIDTH: f64 = 480.0;
const LINE: f64 = 22.0;
const MARGIN: f64 = 12.0;

/// The classes in their order, from dark to light, with their land in the legend. North is up.
pub(super) fn svg(layer: &str, zones: &[ClassZone]) -> String {
    let points = || {
        let polygons = zones.iter().flat_map(|zone| &zone.polygons);
        polygons.flat_map(|polygon| polygon.exterior.iter().copied())
    };
    let (mut low, mut high) = ([f64::INFINITY; 2], [f64::NEG_INFINITY; 2]);
    for point in points() {
        low = [low[0].min(point.lon), low[1].min(point.lat)];
        high = [high[0].max(point.lon), high[1].max(point.lat)];
    }
    // A degree of longitude is shorter than one of latitude.
    let narrow = ((low[1] + high[1]) / 2.0).to_radians().cos();
    let (wide, tall) = ((high[0] - low[0]) * narrow, high[1] - low[1]);
    let scale = match wide.max(tall) {
        size if size.is_finite() && size > 0.0 => WIDTH / size,
        _ => 1.0,
    };
    let place = |LonLat { lon, lat }: LonLat| {
        [
            MARGIN + (lon - low[0]) * narrow * scale,
            MARGIN + (high[1] - lat) * scale,
        ]
    };
    let bottom = match tall.is_finite() {
        true => 2.0 * MARGIN + tall * scale,
        false => MARGIN,
    };
    let height = bottom + LINE * (zones.len() as f64 + 1.0) + MARGIN;
    let mut text = format!(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" viewBox=\"0 0 {:.0} {height:.0}\" font-family=\"sans-serif\" font-size=\"14\">\n<title>Layer {}</title>\n<rect width=\"100%\" height=\"100%\" fill=\"#fff\"/>\n",
        WIDTH + 2.0 * MARGIN,
        escaped(layer)
    );
    for (nth, zone) in zones.iter().enumerate() {
        let mut path = String::new();
        for polygon in &zone.polygons {
            for ring in std::iter::once(&polygon.exterior).chain(&polygon.holes) {
                for (at, point) in ring.iter().enumerate() {
                    let [x, y] = place(*point);
                    let _ = write!(path, "{}{x:.1} {y:.1}", if at == 0 { 'M' } else { 'L' });
                }
                path.push('Z');
            }
        }
        let _ = writeln!(
            text,
            "<path d=\"{path}\" fill=\"{}\" fill-rule=\"evenodd\" stroke=\"#222\" stroke-width=\"1\"/>",
            colour(nth, zones.len())
        );
    }
    let _ = writeln!(
        text,
        "<text x=\"{MARGIN}\" y=\"{:.0}\" font-weight=\"bold\">{}</text>",
        bottom + LINE * 0.7,
        escaped(layer)
    );
    for (nth, zone) in zones.iter().enumerate() {
        let top = bottom + LINE * (nth as f64 + 1.0);
        let _ = writeln!(
            text,
            "<rect x=\"{MARGIN}\" y=\"{top:.0}\" width=\"24\" height=\"16\" fill=\"{}\" stroke=\"#222\"/><text x=\"{:.0}\" y=\"{:.0}\">{}: {:.2} ha</text>",
            colour(nth, zones.len()),
            MARGIN + 32.0,
            top + 13.0,
            escaped(&zone.class),
            zone.area_m2 / M2_PER_HA
        );
    }
    text.push_str("</svg>\n");
    text
}

/// Evenly spread over the scale, less its darkest end, on which borders do not show.
fn colour(nth: usize, of: usize) -> String {
    let at = 0.2 + 0.8 * (nth as f64 + 0.5) / of.max(1) as f64;
    let colour = VIRIDIS.eval_continuous(at);
    format!("#{colour:x}")
}

fn escaped(text: &str) -> String {
    text.replace('&', "&amp;")
        .replace('<', "&lt;")
        .replace('>', "&gt;")
        .chars()
        .filter(|c| !c.is_control())
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The scale of the published colour map at 0.28, 0.44 ... 0.92 of its length, by the crate that holds it.
    #[test]
    fn colours_are_spread_over_the_scale_but_for_its_darkest_end() {
        let five: Vec<String> = (0..5).map(|nth| colour(nth, 5)).collect();
        let wanted = [0.28, 0.44, 0.6, 0.76, 0.92].map(|at| {
            let colour = VIRIDIS.eval_continuous(at);
            format!("#{:02x}{:02x}{:02x}", colour.r, colour.g, colour.b)
        });
        assert_eq!(five, wanted);
    }
}
