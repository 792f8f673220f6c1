//! GeoTIFF (OGC 19-008r4) of a metric grid: a float32 band per rate and one of covered m2.

mod container;
mod tiles;

use super::attributes::balance_columns;
use super::product_names::product_names;
use super::stamp::Stamp;
use crate::codec::geokeys::{self as keys, KeyValue};
use crate::coordinates::LonLat;
use crate::findings::{Fault, Outcome, Place};
use crate::map::{Grid, TurnedGrid};
use crate::plan::Plan;
use container::{Container, Entry};
use tiles::Band;

/// Deflate as Adobe registered it.
const DEFLATE: u16 = 8;
/// Predictor for floating-point samples.
const FLOAT_PREDICTOR: u16 = 3;

/// The rates of all products.
///
/// # Errors
/// A grid that the format cannot hold.
pub(super) fn bytes(plan: &Plan, stamp: &Stamp) -> Outcome<Vec<u8>> {
    let names = product_names(&plan.job).into_iter();
    let names: Vec<String> = names.map(|own| own.column).collect();
    of_grid(
        plan,
        &plan.maps.rate.metric,
        None,
        &names,
        0,
        "Rates",
        stamp,
    )
}

/// The rates of one product, the `nth`; `name` is that of its band.
///
/// # Errors
/// A grid that the format cannot hold.
pub(super) fn of_product(plan: &Plan, nth: usize, name: &str, stamp: &Stamp) -> Outcome<Vec<u8>> {
    let names = [name.to_owned()];
    of_grid(
        plan,
        &plan.maps.rate.metric,
        None,
        &names,
        nth,
        "Rates",
        stamp,
    )
}

/// The rates along the bouts of a cut map; `None` where it has no such grid.
///
/// # Errors
/// A grid that the format cannot hold.
pub(super) fn turned(plan: &Plan, stamp: &Stamp) -> Outcome<Option<Vec<u8>>> {
    let Some(TurnedGrid { heading_deg, grid }) = &plan.maps.rate.turned else {
        return Ok(None);
    };
    let names = product_names(&plan.job).into_iter();
    let names: Vec<String> = names.map(|own| own.column).collect();
    of_grid(plan, grid, Some(*heading_deg), &names, 0, "Rates", stamp).map(Some)
}

/// What is left to broadcast; `None` where nothing can be.
///
/// # Errors
/// A grid that the format cannot hold.
pub(super) fn balance(plan: &Plan, stamp: &Stamp) -> Outcome<Option<Vec<u8>>> {
    let Some(map) = &plan.maps.balance else {
        return Ok(None);
    };
    let names = balance_columns(plan);
    of_grid(plan, &map.grid, None, &names, 0, "Balance", stamp).map(Some)
}

/// A grid as a file: of its rates those that `names` names, from number `first` on.
///
/// Shape: tiles of up to 256 x 256 cells, the bands of a cell side by side; row 0 is the northernmost, column 0 the westernmost. With a
/// heading (degrees, clockwise from north) row 0 is the one farthest along it, column 0 the leftmost.
/// Units: kg/ha as float32, NaN where a cell carries no rate; m2 in the last band; metres of the
/// field's own plane, a transverse Mercator on WGS 84 that the GeoKeys spell out.
///
/// # Errors
/// A grid that the format cannot hold.
fn of_grid(
    plan: &Plan,
    grid: &Grid,
    heading_deg: Option<f64>,
    names: &[String],
    first: usize,
    what: &str,
    stamp: &Stamp,
) -> Outcome<Vec<u8>> {
    let too_large = || {
        Fault::input(
            "write.geotiff",
            Place::nowhere().layer("metric grid"),
            format!(
                "{} columns and {} rows do not fit a GeoTIFF",
                grid.columns, grid.rows
            ),
            "counts below 2^32",
            "Take larger cells: cell_m under [grid].",
        )
    };
    let count = |count: usize| u32::try_from(count).map_err(|_| too_large());
    let rates = &grid.kg_per_ha;
    let of_rate = |nth: usize| Band::OfSets {
        numbers: rates.numbers(),
        values: rates.sets().iter().map(|set| set[nth] as f32).collect(),
    };
    let bands: Vec<Band> = (first..first + names.len())
        .map(of_rate)
        .chain([Band::Values(&grid.covered_m2)])
        .collect();
    let samples = u16::try_from(bands.len()).map_err(|_| too_large())?;
    let per_sample = |value: u16| Entry::shorts(vec![value; bands.len()]);
    let tile =
        [grid.columns, grid.rows].map(|cells| Entry::shorts(vec![tiles::edge(cells) as u16]));
    let [tile_width, tile_height] = tile;
    let geo = geo_keys(plan);
    let mut entries = vec![
        (256, Entry::long(count(grid.columns)?)),
        (257, Entry::long(count(grid.rows)?)),
        (258, per_sample(32)),
        (259, Entry::shorts(vec![DEFLATE])),
        (262, Entry::shorts(vec![1])),
        (270, Entry::ascii(&format!("{what} of plan {}", plan.id))),
        (277, Entry::shorts(vec![samples])),
        (284, Entry::shorts(vec![1])),
        (
            305,
            Entry::ascii(concat!("twinsow ", env!("CARGO_PKG_VERSION"))),
        ),
        (306, Entry::ascii(&stamp.tiff())),
        (317, Entry::shorts(vec![FLOAT_PREDICTOR])),
        (322, tile_width),
        (323, tile_height),
        (338, Entry::shorts(vec![0; bands.len().saturating_sub(1)])),
        (339, per_sample(3)),
        (keys::TAG_DIRECTORY, Entry::shorts(geo.shorts)),
        (keys::TAG_DOUBLES, Entry::doubles(geo.doubles)),
        (keys::TAG_ASCII, Entry::ascii(&geo.ascii)),
        (
            keys::TAG_GDAL_METADATA,
            Entry::ascii(&band_names(plan, names)),
        ),
        (keys::TAG_GDAL_NODATA, Entry::ascii("nan")),
    ];
    entries.extend(place(grid, heading_deg));
    entries.sort_by_key(|(tag, _)| *tag);
    let tiles = tiles::of_bands(grid.columns, grid.rows, &bands).map_err(|error| {
        let found = format!("The tiles could not be compressed: {error}");
        let place = Place::nowhere().layer("metric grid");
        Fault::program("write.geotiff", place, found, "tiles of cells")
    })?;
    let container = Container { entries, tiles };
    container.bytes(false).ok_or_else(too_large)
}

/// Where the pixels lie: a corner and a scale; for a grid turned to a heading the transformation (OGC 19-008r4, 7.1), for the two others
/// have no turn.
fn place(grid: &Grid, heading_deg: Option<f64>) -> Vec<(u16, Entry)> {
    let ([x, y], [across, along]) = (grid.origin, grid.cell);
    let length = grid.rows as f64 * along;
    let Some(heading_deg) = heading_deg else {
        let tie = vec![0.0, 0.0, 0.0, x, y + length, 0.0];
        return vec![
            (
                keys::TAG_MODEL_PIXEL_SCALE,
                Entry::doubles(vec![across, along, 0.0]),
            ),
            (keys::TAG_MODEL_TIEPOINT, Entry::doubles(tie)),
        ];
    };
    let (sine, cosine) = heading_deg.to_radians().sin_cos();
    let [left, top] = [x + length * sine, y + length * cosine];
    let matrix = [
        [across * cosine, -along * sine, 0.0, left],
        [-across * sine, -along * cosine, 0.0, top],
        [0.0; 4],
        [0.0, 0.0, 0.0, 1.0],
    ];
    let matrix = Entry::doubles(matrix.concat());
    vec![(keys::TAG_MODEL_TRANSFORMATION, matrix)]
}

fn geo_keys(plan: &Plan) -> keys::Directory {
    let LonLat { lon, lat } = plan.land.frame.origin();
    let name = format!("Plane of plan {} (transverse Mercator on WGS 84)", plan.id);
    keys::directory(&[
        (keys::GT_MODEL_TYPE, KeyValue::Short(keys::MODEL_PROJECTED)),
        (keys::GT_RASTER_TYPE, KeyValue::Short(keys::PIXEL_IS_AREA)),
        (keys::GT_CITATION, KeyValue::Ascii(name.clone())),
        (keys::GEODETIC_CRS, KeyValue::Short(keys::WGS_84)),
        (
            keys::GEODETIC_CITATION,
            KeyValue::Ascii("WGS 84".to_string()),
        ),
        (keys::GEOG_ANGULAR_UNITS, KeyValue::Short(keys::DEGREE)),
        (keys::PROJECTED_CRS, KeyValue::Short(keys::USER_DEFINED)),
        (keys::PROJECTED_CITATION, KeyValue::Ascii(name)),
        (keys::PROJECTION, KeyValue::Short(keys::USER_DEFINED)),
        (
            keys::PROJ_METHOD,
            KeyValue::Short(keys::TRANSVERSE_MERCATOR),
        ),
        (keys::PROJ_LINEAR_UNITS, KeyValue::Short(keys::METRE)),
        (keys::PROJ_NAT_ORIGIN_LONG, KeyValue::Double(lon)),
        (keys::PROJ_NAT_ORIGIN_LAT, KeyValue::Double(lat)),
        (keys::PROJ_FALSE_EASTING, KeyValue::Double(0.0)),
        (keys::PROJ_FALSE_NORTHING, KeyValue::Double(0.0)),
        (keys::PROJ_SCALE_AT_NAT_ORIGIN, KeyValue::Double(1.0)),
    ])
}

/// Names and units of the bands as GDAL keeps them.
fn band_names(plan: &Plan, names: &[String]) -> String {
    let mut xml = String::from("<GDALMetadata>\n");
    let mut item = |band: Option<usize>, name: &str, role: &str, text: &str| {
        let band = band.map_or(String::new(), |band| format!(" sample=\"{band}\""));
        let role = if role.is_empty() {
            String::new()
        } else {
            format!(" role=\"{role}\"")
        };
        let text: String = text.chars().filter(|c| !c.is_control()).collect();
        let text = quick_xml::escape::escape(&text);
        xml.push_str(&format!(
            "  <Item name=\"{name}\"{band}{role}>{text}</Item>\n"
        ));
    };
    item(None, "PLAN", "", &plan.id);
    for (band, name) in names
        .iter()
        .map(String::as_str)
        .chain(["covered_m2"])
        .enumerate()
    {
        item(Some(band), "DESCRIPTION", "description", name);
        let unit = match band < names.len() {
            true => "kg/ha",
            false => "m2",
        };
        item(Some(band), "UNITTYPE", "unittype", unit);
    }
    xml.push_str("</GDALMetadata>\n");
    xml
}
