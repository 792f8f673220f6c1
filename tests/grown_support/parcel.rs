//! Real parcels as they lie in a folder, and what they grow to: scaled, turned, and cut along their border.

use super::cut::{Line, Point, Ring, Rings, area2, halves};
use crate::exact_support::draw::Dice;
use std::fs;
use std::path::{Path, PathBuf};
use twinsow::read::{self, Geometry};

/// A parcel in metres.
pub struct Parcel {
    /// File and row.
    pub name: String,
    pub parts: Vec<Rings>,
}

/// All parcels of the GeoPackages and zipped Shapefiles in a folder, in the order of names and rows.
pub fn parcels(folder: &Path) -> Vec<Parcel> {
    let entries = fs::read_dir(folder).expect("the folder of the parcels");
    let paths = entries.map(|entry| entry.expect("an entry").path());
    let is_one = |path: &PathBuf| {
        let name = path.to_string_lossy();
        name.ends_with(".gpkg") || name.ends_with(".shp.zip")
    };
    let mut paths: Vec<PathBuf> = paths.filter(is_one).collect();
    paths.sort();
    let mut parcels = Vec::new();
    for path in paths {
        let layer = read::read(&path, None).unwrap_or_else(|fault| panic!("{fault}"));
        let stem = path.file_name().expect("a name").to_string_lossy();
        for (row, feature) in layer.features.iter().enumerate() {
            let Geometry::Polygons(polygons) = &feature.geometry else {
                panic!("{stem}, row {row}: no polygons");
            };
            let part = |polygon: &read::Polygon| {
                let outer = wound(&polygon.exterior, true);
                let holes = polygon.holes.iter().map(|hole| wound(hole, false));
                std::iter::once(outer).chain(holes).collect()
            };
            parcels.push(Parcel {
                name: format!("{} {row}", &stem[..2]),
                parts: polygons.iter().map(part).collect(),
            });
        }
    }
    parcels
}

/// Without the last point that repeats the first; counter-clockwise or not.
fn wound(ring: &[Point], counter_clockwise: bool) -> Ring {
    let mut ring = ring.to_vec();
    if ring.len() > 1 && ring.first() == ring.last() {
        ring.pop();
    }
    if (area2(&ring) > 0.0) != counter_clockwise {
        ring.reverse();
    }
    ring
}

/// A field in metres around its middle.
pub struct Field {
    pub parts: Vec<Rings>,
    pub longest_m: f64,
    /// Of the box around it, the longer side.
    pub across_m: f64,
}

/// The widest box that a field may fill: sides up to 2 km, and those beyond.
const WIDEST_M: [f64; 2] = [5_000.0, 9_000.0];

impl Field {
    /// The parcel scaled so that its longest side has a drawn length, and turned.
    pub fn grown(parcel: &Parcel, dice: &mut Dice) -> Self {
        let beyond = dice.below(20) == 0;
        let [least, most] = if beyond {
            [2_000.0_f64, 5_000.0]
        } else {
            [50.0, 2_000.0]
        };
        let wanted = least * (most / least).powf(dice.share());
        let (sin, cos) = (dice.share() * std::f64::consts::TAU).sin_cos();
        let [low, high] = extent(&parcel.parts);
        let across = (high[0] - low[0]).max(high[1] - low[1]);
        let widest = WIDEST_M[usize::from(beyond)];
        let scale = (wanted / longest(&parcel.parts)).min(widest / across);
        let turned = |&[x, y]: &Point| {
            let x = (x - (low[0] + high[0]) / 2.0) * scale;
            let y = (y - (low[1] + high[1]) / 2.0) * scale;
            [x * cos - y * sin, x * sin + y * cos]
        };
        let ring = |ring: &Ring| ring.iter().map(turned).collect();
        let part = |rings: &Rings| rings.iter().map(ring).collect();
        let parts: Vec<Rings> = parcel.parts.iter().map(part).collect();
        let [low, high] = extent(&parts);
        Self {
            longest_m: longest(&parts),
            across_m: (high[0] - low[0]).max(high[1] - low[1]),
            parts,
        }
    }

    /// A line across the field, at a share of the way from its one end to the other in a drawn direction.
    pub fn line(&self, share: f64, dice: &mut Dice) -> Line {
        let (sin, cos) = (dice.share() * std::f64::consts::TAU).sin_cos();
        let points = self.parts.iter().flatten().flatten();
        let off = points.map(|[x, y]| x * cos + y * sin);
        let [low, high] = off.fold([f64::INFINITY, f64::NEG_INFINITY], |[low, high], off| {
            [low.min(off), high.max(off)]
        });
        let at = high - (high - low) * share;
        Line {
            through: [at * cos, at * sin],
            left: [cos, sin],
        }
    }

    /// Straight strips along a drawn stretch of the border, one for each side: inwards, or outwards.
    pub fn strips(&self, wide_m: f64, inwards: bool, dice: &mut Dice) -> Vec<Rings> {
        let stretch = self.stretch(dice);
        let strip = |pair: &[Point]| {
            let [a, b] = [pair[0], pair[1]];
            let long = (b[0] - a[0]).hypot(b[1] - a[1]);
            let off = if inwards { wide_m } else { -wide_m } / long;
            // The land lies left of every side.
            let off = [(a[1] - b[1]) * off, (b[0] - a[0]) * off];
            let ring = vec![
                a,
                b,
                [b[0] + off[0], b[1] + off[1]],
                [a[0] + off[0], a[1] + off[1]],
            ];
            vec![wound(&ring, true)]
        };
        let sides = stretch.windows(2);
        let long = sides.filter(|pair| pair[0] != pair[1]);
        long.map(strip).collect()
    }

    /// Corners of the border in a row: a third of a ring, at least two.
    pub fn stretch(&self, dice: &mut Dice) -> Ring {
        let rings: Vec<&Ring> = self.parts.iter().flatten().collect();
        let ring = rings[dice.below(rings.len() as i64) as usize];
        let from = dice.below(ring.len() as i64) as usize;
        let corners = ring.iter().cycle().skip(from);
        corners.take(2 + ring.len() / 3).copied().collect()
    }
}

/// All parts cut by a line: left and right of it. Uncut where the halves cannot be told.
pub fn cut_all(parts: &[Rings], line: Line) -> [Vec<Rings>; 2] {
    let mut sides = [Vec::new(), Vec::new()];
    for part in parts {
        match halves(part, line) {
            Some([left, right]) => {
                sides[0].extend(left);
                sides[1].extend(right);
            }
            None => sides[1].push(part.clone()),
        }
    }
    sides
}

pub fn extent(parts: &[Rings]) -> [Point; 2] {
    let points = parts.iter().flatten().flatten();
    let start = [[f64::INFINITY; 2], [f64::NEG_INFINITY; 2]];
    points.fold(start, |[low, high], [x, y]| {
        [
            [low[0].min(*x), low[1].min(*y)],
            [high[0].max(*x), high[1].max(*y)],
        ]
    })
}

fn longest(parts: &[Rings]) -> f64 {
    let rings = parts.iter().flatten();
    let side = |(a, b): (&Point, &Point)| (b[0] - a[0]).hypot(b[1] - a[1]);
    let sides = rings.flat_map(|ring| ring.iter().zip(ring.iter().skip(1).chain(ring.first())));
    sides.map(side).fold(0.0, f64::max)
}
