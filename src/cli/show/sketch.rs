//! A layer as a small map of characters, north up: each class a letter, points as dots.

use crate::coordinates::LonLat;
use crate::geometry::row;
use crate::read::{Geometry, Layer, Path, Polygon};
use crate::units::M_PER_DEGREE;
use std::collections::BTreeMap;

/// Most characters across and lines down.
const WIDE: usize = 64;
const HIGH: usize = 20;
/// A character is about twice as high as wide.
const HIGH_TO_WIDE: f64 = 2.0;

/// Signs of the classes, the largest class first.
const LETTERS: &[u8] = b"abcdefghijklmnopqrstuvwxyz";
/// Land without a class, or of layers without classes.
const LAND: char = '#';
const POINT: char = '*';

/// A grid of characters over a layer.
struct Sketch {
    /// West and north edge, degrees.
    corner: [f64; 2],
    /// Of one character, degrees.
    step: [f64; 2],
    /// Width of one character, metres.
    letter_m: f64,
    lines: Vec<Vec<char>>,
}

/// The layer's polygons and points, in degrees on WGS 84 within `extent` (south-west and north-east). `classes` are
/// the values of the attribute at that place, in the order in which they get letters. `None` where there is nothing
/// to draw.
pub(in crate::cli) fn text(
    layer: &Layer<LonLat>,
    extent: [[f64; 2]; 2],
    classes: Option<(usize, &[String])>,
) -> Option<String> {
    let mut sketch = Sketch::over(extent)?;
    let letters: BTreeMap<&str, char> = classes
        .iter()
        .flat_map(|(_, classes)| classes.iter().zip(LETTERS))
        .map(|(class, letter)| (class.as_str(), char::from(*letter)))
        .collect();
    for feature in &layer.features {
        let class = classes.and_then(|(at, _)| feature.values.get(at));
        let class = class.map(ToString::to_string);
        let letter = class.and_then(|class| letters.get(class.as_str()).copied());
        match &feature.geometry {
            Geometry::Polygons(polygons) => {
                for polygon in polygons {
                    sketch.fill(polygon, letter.unwrap_or(LAND));
                }
            }
            Geometry::Points(points) => {
                for &point in points {
                    sketch.put(point, letter.unwrap_or(POINT));
                }
            }
            Geometry::Lines(_) | Geometry::Empty => {}
        }
    }
    sketch.told(&letters)
}

impl Sketch {
    fn over([low, high]: [[f64; 2]; 2]) -> Option<Self> {
        // A degree of longitude is shorter than one of latitude.
        let stretch = ((low[1] + high[1]) / 2.0).to_radians().cos().max(0.01);
        let [wide, tall] = [high[0] - low[0], high[1] - low[1]];
        if !(wide > 0.0 && tall > 0.0) {
            return None;
        }
        let step_y = f64::max(
            tall / HIGH as f64,
            wide * stretch / WIDE as f64 * HIGH_TO_WIDE,
        );
        let step = [step_y / HIGH_TO_WIDE / stretch, step_y];
        let count = |length: f64, step: f64, most: usize| {
            ((length / step - 1e-6).ceil().max(1.0) as usize).min(most)
        };
        let line = vec![' '; count(wide, step[0], WIDE)];
        Some(Self {
            corner: [low[0], high[1]],
            step,
            letter_m: step_y / HIGH_TO_WIDE * M_PER_DEGREE,
            lines: vec![line; count(tall, step_y, HIGH)],
        })
    }

    /// Longitude as the extent counts it, which goes on where it crosses 180 degrees.
    fn counted(&self, LonLat { lon: x, lat: y }: LonLat) -> [f64; 2] {
        match x < self.corner[0] - 1e-9 {
            true => [x + 360.0, y],
            false => [x, y],
        }
    }

    /// Characters whose middle lies in the polygon.
    fn fill(&mut self, polygon: &Polygon<LonLat>, sign: char) {
        let rings = std::iter::once(&polygon.exterior).chain(&polygon.holes);
        let counted = |ring: &Path<LonLat>| ring.iter().map(|&place| self.counted(place)).collect();
        let rings: Vec<Vec<[f64; 2]>> = rings.map(counted).collect();
        for (nth, line) in self.lines.iter_mut().enumerate() {
            let y = self.corner[1] - (nth as f64 + 0.5) * self.step[1];
            let inside = row::inside(rings.iter().flat_map(|ring| edges(ring)), y);
            for (at, here) in line.iter_mut().enumerate() {
                let x = self.corner[0] + (at as f64 + 0.5) * self.step[0];
                if inside.iter().any(|[from, to]| *from < x && x <= *to) {
                    *here = sign;
                }
            }
        }
    }

    fn put(&mut self, place: LonLat, sign: char) {
        let [x, y] = self.counted(place);
        let [column, line] = [
            (x - self.corner[0]) / self.step[0],
            (self.corner[1] - y) / self.step[1],
        ];
        let last = self.lines.len() - 1;
        if let Some(line) = self.lines.get_mut((line as usize).min(last)) {
            let last = line.len() - 1;
            if let Some(here) = line.get_mut((column as usize).min(last)) {
                *here = sign;
            }
        }
    }

    fn told(&self, letters: &BTreeMap<&str, char>) -> Option<String> {
        let mut text = String::new();
        for line in &self.lines {
            let line: String = line.iter().collect();
            text.push_str(format!("  {line}").trim_end());
            text.push('\n');
        }
        if text.trim().is_empty() {
            return None;
        }
        let mut key: Vec<(char, &str)> =
            letters.iter().map(|(name, sign)| (*sign, *name)).collect();
        key.sort_unstable();
        let key: Vec<String> = key
            .into_iter()
            .map(|(sign, name)| format!("{sign} {name}"))
            .collect();
        let between = if key.is_empty() { "" } else { "; " };
        text.push_str(&format!(
            "  {}{between}north up, a letter is {} m wide\n",
            key.join(", "),
            round(self.letter_m)
        ));
        Some(text)
    }
}

/// Two significant digits.
fn round(metres: f64) -> f64 {
    let ten = 10_f64.powf(metres.log10().floor() - 1.0);
    ((metres / ten).round() * ten * 1e6).round() / 1e6
}

/// The edges of a ring, closed or not.
fn edges(ring: &[[f64; 2]]) -> impl Iterator<Item = [[f64; 2]; 2]> {
    let next = ring.iter().cycle().skip(1);
    ring.iter().zip(next).map(|(a, b)| [*a, *b])
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::read::{DeclaredCrs, Feature, Value};

    /// A hundred-thousandth of a degree is 1.1 m at the equator.
    fn small([x, y]: [f64; 2]) -> LonLat {
        LonLat::new(x * 1e-5, y * 1e-5)
    }

    fn layer(features: Vec<Feature<LonLat>>) -> Layer<LonLat> {
        Layer {
            file: "soil.geojson".into(),
            format: "GeoJSON",
            table: None,
            crs: DeclaredCrs::Wgs84ByStandard,
            attributes: vec!["soil".to_owned()],
            features,
            findings: Vec::new(),
        }
    }

    fn square(west: f64, east: f64, class: &str) -> Feature<LonLat> {
        let exterior = vec![[west, 0.0], [east, 0.0], [east, 40.0], [west, 40.0]];
        let exterior = exterior.into_iter().map(small).collect();
        let hole = vec![[8.0, 10.0], [16.0, 10.0], [16.0, 30.0], [8.0, 30.0]];
        let holes = vec![hole.into_iter().map(small).collect()];
        let holes = if west == 0.0 { holes } else { Vec::new() };
        Feature {
            name: class.to_owned(),
            geometry: Geometry::Polygons(vec![Polygon { exterior, holes }]),
            values: vec![Value::Text(class.to_owned())],
        }
    }

    #[test]
    fn classes_stand_where_they_lie_and_holes_stay_empty() {
        let layer = layer(vec![square(0.0, 24.0, "sand"), square(24.0, 40.0, "clay")]);
        let classes = ["sand".to_owned(), "clay".to_owned()];
        let map = text(
            &layer,
            [[0.0, 0.0], [40.0, 40.0]].map(|corner| small(corner).pair()),
            Some((0, &classes)),
        )
        .unwrap();
        let lines: Vec<&str> = map.lines().collect();
        // 40 x 40: 20 lines of 2, 40 letters of 1.
        assert_eq!(lines.len(), 21);
        assert_eq!(lines[0], format!("  {}{}", "a".repeat(24), "b".repeat(16)));
        let middle = format!(
            "  {}{}{}{}",
            "a".repeat(8),
            " ".repeat(8),
            "a".repeat(8),
            "b".repeat(16)
        );
        assert_eq!(lines[10], middle);
        assert_eq!(
            lines[20],
            "  a sand, b clay; north up, a letter is 1.1 m wide"
        );
    }

    #[test]
    fn what_has_no_area_is_not_drawn() {
        assert_eq!(
            text(&layer(Vec::new()), [[0.0, 0.0], [0.0, 0.0]], None),
            None
        );
    }
}
