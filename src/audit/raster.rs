//! GeoTIFF: a band of kg/ha per product and, in ours, a band of covered m2 per cell.

use super::carried::Carrier;
use super::cells::{self, Tile};
use super::sums::{GridSums, hundredths};
use super::{Delivered, Shown, Sown};
use crate::codec::geokeys::{self as keys, TAG_GDAL_METADATA, TAG_GDAL_NODATA};
use crate::findings::{Fault, Outcome, Place};
use crate::read::{DeclaredCrs, geotiff_crs};
use std::fs::File;
use std::io::BufReader;
use std::path::Path;
use tiff::decoder::{Decoder, DecodingResult};
use tiff::tags::Tag;

type Tiff = Decoder<BufReader<File>>;

/// Largest image that is read: 64 million values.
const MOST_VALUES: u64 = 1 << 26;

pub(super) fn read(path: &Path) -> Outcome<Delivered> {
    crate::read::no_endless(path)?;
    let file = File::open(path).map_err(|error| bad(path, &error))?;
    let file = crate::read::opened_within(file, path)?;
    let mut tiff = Decoder::new(file).map_err(|error| bad(path, &error))?;
    let (width, height) = tiff.dimensions().map_err(|error| bad(path, &error))?;
    let (columns, rows) = (width as usize, height as usize);
    let count = tiff
        .find_tag_unsigned::<u16>(Tag::SamplesPerPixel)
        .map_err(|error| bad(path, &error))?
        .map_or(1, usize::from);
    if u64::from(width) * u64::from(height) * count as u64 > MOST_VALUES {
        return Err(bad(
            path,
            &format!("{width} x {height} cells of {count} bands are more than are read"),
        ));
    }
    let place = placed(&mut tiff, rows).ok_or_else(|| {
        bad(
            path,
            &"it has no corner and cell size, or is turned in degrees or sheared, so its areas are not known",
        )
    })?;
    let text = |tiff: &mut Tiff, tag: u16| tiff.get_tag_ascii_string(Tag::Unknown(tag)).ok();
    let names = band_names(
        &text(&mut tiff, TAG_GDAL_METADATA).unwrap_or_default(),
        count,
    );
    let no_data = text(&mut tiff, TAG_GDAL_NODATA)
        .and_then(|text| text.trim_matches(['\0', ' ']).parse::<f64>().ok());
    let about = tiff
        .get_tag_ascii_string(Tag::ImageDescription)
        .unwrap_or_default();
    let values = samples(path, &mut tiff)?;
    if values.len() < columns * rows * count {
        return Err(bad(
            path,
            &"its bands are not stored cell by cell, or some are missing",
        ));
    }
    // Files start in the north, grids in the south.
    let band = |nth: usize| -> Vec<f64> {
        let at = |row: usize, column: usize| {
            let value = values.get(((rows - 1 - row) * columns + column) * count + nth);
            value
                .copied()
                .filter(|value| Some(*value) != no_data)
                .unwrap_or(f64::NAN)
        };
        (0..rows * columns)
            .map(|cell| at(cell / columns, cell % columns))
            .collect()
    };
    let covered_band = names.iter().position(|name| name == "covered_m2");
    let mut notes = Vec::new();
    let covered: Vec<f64> = match covered_band {
        Some(nth) => band(nth)
            .into_iter()
            .map(|m2| if m2 > 0.0 { m2 } else { 0.0 })
            .collect(),
        None => {
            notes.push(
                "no band says how much land a cell covers, so whole cells are counted".to_string(),
            );
            let first = band(0);
            let m2 = |cell: usize| match place.degrees {
                true => cells::cell_m2(&place.tile, cell / columns),
                false => place.tile.cell[0] * place.tile.cell[1],
            };
            (0..rows * columns)
                .map(|cell| if first[cell].is_nan() { 0.0 } else { m2(cell) })
                .collect()
        }
    };
    let mut grid = GridSums {
        origin: place.tile.origin,
        cell: place.tile.cell,
        columns,
        rows,
        row_sums: Vec::new(),
        column_sums: Vec::new(),
        degrees: place.degrees,
        heading_deg: place.heading_deg(),
    };
    let mut faults = Vec::new();
    let mut products = Vec::new();
    let mut shown = Vec::new();
    let mut rated = vec![false; columns * rows];
    for (nth, name) in names
        .iter()
        .enumerate()
        .filter(|(nth, _)| Some(*nth) != covered_band)
    {
        let rates = band(nth);
        shown.push(rates.clone());
        grid.add(rates.iter().map(|rate| hundredths(*rate)));
        for (rated, rate) in rated.iter_mut().zip(&rates) {
            *rated |= *rate > 0.0;
        }
        let on_land = rates.iter().zip(&covered).filter(|(_, m2)| **m2 > 0.0);
        let missing = on_land.clone().filter(|(rate, _)| rate.is_nan()).count();
        if missing > 0 {
            faults.push(format!("{name}: {missing} cells with land have no rate"));
        }
        if on_land.clone().any(|(rate, _)| *rate < 0.0) {
            faults.push(format!("{name}: a rate is negative"));
        }
        let pieces = on_land
            .filter(|(rate, _)| !rate.is_nan())
            .map(|(rate, m2)| (*rate, *m2));
        products.push(Sown::of(name.clone(), pieces));
    }
    let in_rim = rated
        .iter()
        .zip(&covered)
        .filter(|(rated, m2)| **rated && **m2 == 0.0)
        .count();
    Ok(Delivered {
        file: path.display().to_string(),
        format: "GeoTIFF".to_string(),
        plan: about
            .split_once(" of plan ")
            .filter(|(what, _)| ["Rates", "Balance"].contains(what))
            .map(|(_, id)| id.trim_matches(['\0', ' ']).to_string()),
        area_m2: covered.iter().sum(),
        pieces: covered.iter().filter(|m2| **m2 > 0.0).count(),
        products,
        cells_in_rim: covered_band.map(|_| in_rim),
        grid: Some(grid),
        land: Vec::new(),
        outlined: None,
        carrier: Carrier::Whole,
        extent: None,
        faults,
        without_cell: None,
        notes,
        hundredths: false,
        set: Vec::new(),
        shown: squares(
            path,
            Tile {
                columns,
                rows,
                ..place.tile
            },
            place.north,
            shown,
        ),
    })
}

/// The cells with the CRS of the file; nothing where it says none.
fn squares(path: &Path, tile: Tile, north: [f64; 2], rates: Vec<Vec<f64>>) -> Shown {
    match geotiff_crs(path) {
        Ok(crs) if crs != DeclaredCrs::None => Shown::Squares {
            tile,
            north,
            rates,
            crs,
        },
        _ => Shown::Nothing,
    }
}

struct Placed {
    tile: Tile,
    /// The way its rows follow each other, from the south, of length 1.
    north: [f64; 2],
    /// Placed by a transformation: a grid along bouts is, also where these run north.
    transformed: bool,
    degrees: bool,
}

impl Placed {
    /// Of a grid that is placed by a transformation, degrees clockwise from north, from 0 below 360.
    fn heading_deg(&self) -> Option<f64> {
        let [x, y] = self.north;
        (self.transformed && !self.degrees).then(|| x.atan2(y).to_degrees().rem_euclid(360.0))
    }
}

/// How far two sides of a cell may be from a right angle: the cosine between them.
const SQUARE: f64 = 1e-9;

/// Corner and cell from the tags of GeoTIFF (OGC 19-008r4): a tie point and a scale, north up; or a transformation, which may turn the
/// grid.
fn placed(tiff: &mut Tiff, rows: usize) -> Option<Placed> {
    let shorts = tiff.get_tag_u16_vec(Tag::GeoKeyDirectoryTag).ok()?;
    let key = |wanted: u16| {
        let entries = shorts.chunks_exact(4).skip(1);
        entries
            .filter(|entry| entry[0] == wanted && entry[1] == 0)
            .map(|entry| entry[3])
            .next()
    };
    // A value that stands for a point lies in the middle of its cell.
    let half = if key(keys::GT_RASTER_TYPE) == Some(2) {
        0.5
    } else {
        0.0
    };
    let plain = plain_steps(tiff);
    let transformed = plain.is_none();
    let (corner, [column, row]) = plain.or_else(|| transformed_steps(tiff))?;
    let corner = [0, 1].map(|axis| corner[axis] - half * (column[axis] + row[axis]));
    let [dx, dy] = [column, row].map(|[x, y]| x.hypot(y));
    let north = row.map(|part| -part / dy);
    // Rows run down, a quarter turn to the right of the columns.
    let off = [0, 1].map(|axis| column[axis] / dx - [north[1], -north[0]][axis]);
    let model = key(keys::GT_MODEL_TYPE)?;
    let metres = key(keys::PROJ_LINEAR_UNITS).is_none_or(|unit| unit == keys::METRE);
    let usable = dx > 0.0
        && dy > 0.0
        && corner.iter().all(|part| part.is_finite())
        && off[0].hypot(off[1]) < SQUARE;
    let in_degrees = model == 2 && north == [0.0, 1.0];
    (usable && (in_degrees || model == keys::MODEL_PROJECTED && metres)).then_some(Placed {
        tile: Tile {
            origin: [0, 1].map(|axis| corner[axis] + rows as f64 * row[axis]),
            cell: [dx, dy],
            columns: 0,
            rows: 0,
        },
        north,
        transformed,
        degrees: model == 2,
    })
}

/// The place of the first cell's corner, and what a column and a row further are.
type Steps = ([f64; 2], [[f64; 2]; 2]);

/// By a tie point and a scale.
fn plain_steps(tiff: &mut Tiff) -> Option<Steps> {
    let scale = tiff.get_tag_f64_vec(Tag::ModelPixelScaleTag).ok()?;
    let tie = tiff.get_tag_f64_vec(Tag::ModelTiepointTag).ok()?;
    let (dx, dy) = (*scale.first()?, *scale.get(1)?);
    let [i, j, _, x, y, _] = *tie.first_chunk::<6>()?;
    // Scales below 0 would turn the picture over.
    let usable = dx > 0.0 && dy > 0.0;
    usable.then_some(([x - i * dx, y + j * dy], [[dx, 0.0], [0.0, -dy]]))
}

/// By a transformation.
fn transformed_steps(tiff: &mut Tiff) -> Option<Steps> {
    let matrix = tiff.get_tag_f64_vec(Tag::ModelTransformationTag).ok()?;
    let [a, b, _, x, d, e, _, y, ..] = *matrix.first_chunk::<16>()?;
    Some(([x, y], [[a, d], [b, e]]))
}

/// Names of the bands as GDAL keeps them; `band 1`, `band 2` and so on without.
fn band_names(xml: &str, count: usize) -> Vec<String> {
    let mut names: Vec<String> = (1..=count).map(|nth| format!("band {nth}")).collect();
    for item in xml.split("<Item ").skip(1) {
        let Some((head, rest)) = item.split_once('>') else {
            continue;
        };
        let value = |key: &str| Some(head.split_once(key)?.1.split('"').next()?.to_string());
        let sample = value("sample=\"").and_then(|text| text.parse::<usize>().ok());
        let is_name = value("role=\"").as_deref() == Some("description");
        let text = rest
            .split('<')
            .next()
            .and_then(|text| quick_xml::escape::unescape(text).ok());
        let name = sample
            .filter(|_| is_name)
            .and_then(|nth| names.get_mut(nth));
        if let Some((name, text)) = name.zip(text) {
            *name = text.into_owned();
        }
    }
    names
}

fn samples(path: &Path, tiff: &mut Tiff) -> Outcome<Vec<f64>> {
    let image = tiff.read_image().map_err(|error| bad(path, &error))?;
    Ok(match image {
        DecodingResult::U8(v) => v.into_iter().map(f64::from).collect(),
        DecodingResult::U16(v) => v.into_iter().map(f64::from).collect(),
        DecodingResult::U32(v) => v.into_iter().map(f64::from).collect(),
        DecodingResult::I8(v) => v.into_iter().map(f64::from).collect(),
        DecodingResult::I16(v) => v.into_iter().map(f64::from).collect(),
        DecodingResult::I32(v) => v.into_iter().map(f64::from).collect(),
        DecodingResult::F32(v) => v.into_iter().map(f64::from).collect(),
        DecodingResult::F64(v) => v,
        _ => return Err(bad(path, &"its values are of a kind that is not read")),
    })
}

fn bad(path: &Path, problem: &dyn std::fmt::Display) -> Box<Fault> {
    Fault::input(
        "audit.geotiff",
        Place::file(path),
        format!("The GeoTIFF cannot be audited: {problem}"),
        "a GeoTIFF with north up, a cell size in metres or degrees, and rates in kg/ha",
        "Export it again with all bands in one file, or audit the other formats.",
    )
}
