//! From values on a grid to the polygons of their classes.

use super::classes::Classes;
use super::fitting::{MOST_PIECES, MOST_ZONES};
use super::ground::Ground;
use super::means::named_by_mean;
use super::narrow_zones::without_narrow_parts;
use super::regions::{NO_CLASS, Regions, Rule, join_small};
use super::smooth::{Spot, smooth};
use super::trace::{Corner, Outline, at, traced};
use crate::findings::{Finding, Place};
use crate::job::{NamedBy, Values};
use crate::read::{Feature, Geometry, Layer, Polygon, Stored, Value};
use std::borrow::Cow;

/// Values over a field; its corners lie in the CRS of a raster, or in the field's plane.
pub(super) struct Grid<'a, P> {
    pub ground: &'a Ground,
    /// Per pixel of the ground's window; of those near the field.
    pub values: &'a Stored,
    /// The place of a corner between pixels, counted from the window's top left.
    pub at: &'a (dyn Fn([f64; 2]) -> P + Sync),
    /// Where the values are from, and which layer they are, for messages.
    pub place: Place,
    pub what: &'a str,
}

/// The zones of a layer that was made from values.
pub(super) struct Zones<P> {
    pub features: Vec<Feature<P>>,
    pub findings: Vec<Finding>,
    pub cleaned: Vec<Cleaned>,
}

impl<P> Zones<P> {
    /// As a layer, and what cleaning did. File, format and CRS are those of `like`.
    pub(super) fn into_layer(self, like: Layer<P>) -> (Layer<P>, Vec<Cleaned>) {
        let layer = Layer {
            features: self.features,
            findings: self.findings,
            attributes: vec![Values::CLASS_ATTRIBUTE.to_owned(), "pixels".to_owned()],
            ..like
        };
        (layer, self.cleaned)
    }
}

/// Pieces of one class that are too many.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct TooMany {
    pub found: usize,
    pub most: usize,
}

impl TooMany {
    fn of(found: usize, most: usize) -> Result<(), Self> {
        match found > most {
            true => Err(Self { found, most }),
            false => Ok(()),
        }
    }
}

/// What cleaning its zones gave to a class on the field, or took from it.
#[derive(Debug, Clone, PartialEq)]
pub struct Cleaned {
    pub class: String,
    pub gained_m2: f64,
}

/// Gives small and narrow zones to their neighbours and smooths borders, as the job asks, and gives
/// one feature for each connected piece: its class in [`Values::CLASS_ATTRIBUTE`], then the number of
/// its pixels.
///
/// # Errors
/// More pieces than any field can bear.
pub(super) fn zones<P: Copy + Send>(
    grid: &Grid<P>,
    classes: Classes,
    job: &Values,
) -> Result<Zones<P>, TooMany> {
    let ground = grid.ground;
    let mut regions = self::regions(&classes.of, ground);
    TooMany::of(regions.class.len(), MOST_PIECES)?;
    let mut findings: Vec<Finding> = classes.finding.into_iter().collect();
    let mut gained = vec![0.0; classes.names.len()];
    let mut now = Cow::Borrowed(classes.of.as_slice());
    if job.narrowest_zone_m > 0.0 || job.smallest_zone_m2 > 0.0 {
        let mut cleaned = classes.of.clone();
        if job.narrowest_zone_m > 0.0 {
            findings.extend(widened(grid, &mut cleaned, &regions, job.narrowest_zone_m));
        }
        if job.smallest_zone_m2 > 0.0 {
            findings.extend(joined(grid, &mut cleaned, job));
        }
        gain(&mut gained, &now, &cleaned, ground);
        now = Cow::Owned(cleaned);
        regions = self::regions(&now, ground);
    }
    let names = match job.named_by {
        NamedBy::Number => classes.names,
        NamedBy::Mean => {
            let means = named_by_mean(grid, &now, &classes.names);
            findings.push(said_means(grid, &classes.names, &means));
            means
        }
    };
    TooMany::of(regions.class.len(), MOST_ZONES)?;
    let (features, smoothed) = features(grid, &regions, &names, job.smooth_borders);
    if job.smooth_borders {
        let mut moved = 0.0;
        for (pixels, &class) in smoothed.iter().zip(&regions.class) {
            gained[class as usize] += pixels * ground.pixel_m2;
            moved += pixels.abs() * ground.pixel_m2 / 2.0;
        }
        findings.push(
            Finding::note(
                "surface.smoothed",
                grid.place.clone(),
                format!(
                    "borders of {} were smoothed, each by less than half a pixel; the zones' areas changed by this much in all",
                    grid.what
                ),
            )
            .area(moved),
        );
    }
    Ok(Zones {
        features,
        findings,
        cleaned: names
            .into_iter()
            .zip(gained)
            .map(|(class, gained_m2)| Cleaned { class, gained_m2 })
            .filter(|cleaned| cleaned.gained_m2 != 0.0)
            .collect(),
    })
}

/// Adds what each class gained on the field, m2.
fn gain(gained: &mut [f64], before: &[u8], after: &[u8], ground: &Ground) {
    for place in ground.inside.places() {
        for (class, sign) in [(before[place], -1.0), (after[place], 1.0)] {
            // What has no class has a number beyond all of them.
            if let Some(gained) = gained.get_mut(class as usize) {
                *gained += sign * ground.pixel_m2;
            }
        }
    }
}

fn said_means<P>(grid: &Grid<P>, names: &[String], means: &[String]) -> Finding {
    let pairs: Vec<String> = names
        .iter()
        .zip(means)
        .map(|(name, mean)| format!("'{name}' is '{mean}'"))
        .collect();
    Finding::note(
        "surface.means",
        grid.place.clone(),
        format!(
            "classes of {} are called by the mean of their values on the field: {}",
            grid.what,
            pairs.join(", ")
        ),
    )
}

/// Gives parts that are too narrow to their neighbours.
fn widened<P>(
    grid: &Grid<P>,
    classes: &mut Vec<u8>,
    regions: &Regions,
    width_m: f64,
) -> Option<Finding> {
    let Grid { ground, what, .. } = grid;
    let Some(wide) = without_narrow_parts(regions, width_m, ground.pixel_m) else {
        let pixel = ground.pixel_m[0].max(ground.pixel_m[1]);
        let why = match width_m <= 2.0 * pixel {
            true => format!(
                "its pixels are {pixel:.1} m wide, and only more than two of them can be told from fewer"
            ),
            false => "no part of any zone is that wide".to_owned(),
        };
        return Some(Finding::warning(
            "surface.not_widened",
            grid.place.clone(),
            format!("no part of {what} could be held against narrowest_zone_m = {width_m}: {why}"),
        ));
    };
    let moved = changed(classes, &wide, ground);
    *classes = wide;
    (moved > 0.0).then(|| {
        Finding::note(
            "surface.narrow_zones",
            grid.place.clone(),
            format!("parts of {what} narrower than {width_m} m (to a pixel) joined what lies beside them"),
        )
        .area(moved)
    })
}

/// Gives zones that are too small to their neighbours.
fn joined<P>(grid: &Grid<P>, classes: &mut Vec<u8>, job: &Values) -> Option<Finding> {
    let Grid { ground, what, .. } = grid;
    let regions = self::regions(classes, ground);
    let rule = Rule {
        least_pixels: job.smallest_zone_m2 / ground.pixel_m2,
        join: job.small_zones_join,
        inside: &ground.inside,
        values: grid.values,
        pixel_m: ground.pixel_m,
    };
    let joined = join_small(&regions, &rule);
    let moved = changed(classes, &joined, ground);
    let before = regions.class.len();
    *classes = joined;
    (moved > 0.0).then(|| {
        Finding::note(
            "surface.small_zones",
            grid.place.clone(),
            format!(
                "zones of {what} smaller than {} m2 joined a neighbour: {} zones became {}",
                job.smallest_zone_m2,
                before,
                self::regions(classes, ground).class.len()
            ),
        )
        .area(moved)
    })
}

/// Land of the field with another class than before, m2.
fn changed(before: &[u8], after: &[u8], ground: &Ground) -> f64 {
    let pixels = ground.inside.places();
    let pixels = pixels.filter(|&place| before[place] != after[place]);
    pixels.count() as f64 * ground.pixel_m2
}

fn regions<'a>(classes: &'a [u8], ground: &Ground) -> Regions<'a> {
    let (columns, rows) = (ground.window.columns as usize, ground.window.rows as usize);
    Regions::of(classes, columns, rows)
}

/// A feature for each region, and the pixels on the field that each region gained by smoothing.
fn features<P: Copy + Send>(
    grid: &Grid<P>,
    regions: &Regions,
    names: &[String],
    smoothly: bool,
) -> (Vec<Feature<P>>, Vec<f64>) {
    let ground = grid.ground;
    // A corner counts by how many of the pixels with a value around it lie on the field.
    let counts = |[column, row]: Corner| {
        let (mut inside, mut all) = (0.0, 0.0);
        for [column, row] in [[0, 0], [1, 0], [0, 1], [1, 1]].map(|[c, r]| [column - c, row - r]) {
            if at(regions, [column, row]) != NO_CLASS {
                let place = row as usize * regions.columns + column as usize;
                inside += f64::from(u8::from(ground.inside.contains(place)));
                all += 1.0;
            }
        }
        inside / f64::max(all, 1.0)
    };
    let sizes = regions.sizes();
    let place = |spots: &mut dyn ExactSizeIterator<Item = Spot>| {
        let mut ring: Vec<P> = Vec::with_capacity(spots.len() + 1);
        ring.extend(spots.map(|spot| (grid.at)(spot)));
        ring.extend(ring.first().copied());
        ring
    };
    let feature = |number: usize, outline: Outline| {
        let mut gained = 0.0;
        let mut ring = |ring: Vec<Corner>| match smoothly {
            true => {
                let smoothed = smooth(&ring, regions, &counts);
                gained += smoothed.gained;
                place(&mut smoothed.ring.into_iter())
            }
            false => place(&mut ring.iter().map(|[x, y]| [*x as f64, *y as f64])),
        };
        let polygon = Polygon {
            exterior: ring(outline.exterior),
            holes: outline.holes.into_iter().map(ring).collect(),
        };
        let class = usize::from(regions.class[number]);
        let feature = Feature {
            name: (number + 1).to_string(),
            geometry: Geometry::Polygons(vec![polygon]),
            values: vec![
                Value::Text(names.get(class).cloned().unwrap_or_default()),
                Value::Integer(sizes[number] as i64),
            ],
        };
        (feature, gained)
    };
    traced(regions, feature).into_iter().unzip()
}
