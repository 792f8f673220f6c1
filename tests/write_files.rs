//! Everything that is delivered, read back with other code than wrote it.

mod write_support;

use serde_json::Value;
use std::collections::BTreeMap;
use std::fs;
use std::io::{Cursor, Read};
use std::path::{Path, PathBuf};
use tempfile::TempDir;
use tiff::decoder::{Decoder, DecodingResult};
use tiff::tags::Tag;
use twinsow::codec::taskdata::decode_cells;
use twinsow::findings::Blame;
use twinsow::map::{CellRates, Grid};
use twinsow::write::deliver;
use write_support::{DEGREES, METRIC, ORIGIN, TIMESTAMP, degrees_rate, metric_rate, plan};

/// The plan delivered to a folder that goes away with the returned guard.
fn delivered() -> (TempDir, PathBuf) {
    let home = TempDir::new().unwrap();
    let out = home.path().join("plan");
    deliver(&plan(), &out, TIMESTAMP).unwrap();
    (home, out)
}

fn all_files(folder: &Path) -> BTreeMap<PathBuf, Vec<u8>> {
    let mut files = BTreeMap::new();
    let mut open = vec![folder.to_path_buf()];
    while let Some(path) = open.pop() {
        for entry in fs::read_dir(path).unwrap() {
            let path = entry.unwrap().path();
            if path.is_dir() {
                open.push(path);
            } else {
                let name = path.strip_prefix(folder).unwrap().to_path_buf();
                files.insert(name, fs::read(path).unwrap());
            }
        }
    }
    files
}

/// Kept for the programs that check the files from outside.
#[test]
fn a_sample_is_left_for_other_programs() {
    let out = Path::new(env!("CARGO_TARGET_TMPDIR")).join("write-sample");
    deliver(&plan(), &out, TIMESTAMP).unwrap();
}

#[test]
fn the_list_is_what_is_there() {
    let home = TempDir::new().unwrap();
    let out = home.path().join("plan");
    let written = deliver(&plan(), &out, TIMESTAMP).unwrap();
    let mut files = all_files(&out);
    files.remove(Path::new(".twinsow-plan")).unwrap();
    let listed: BTreeMap<_, _> = written
        .iter()
        .map(|file| (file.path.clone(), file))
        .collect();
    assert_eq!(listed.len(), written.len());
    assert!(files.keys().eq(listed.keys()), "{:?}", files.keys());
    for (path, bytes) in &files {
        assert_eq!(listed[path].bytes, bytes.len() as u64);
        assert!(!listed[path].what.is_empty());
    }
    for path in [
        "plan.json",
        "order.csv",
        "rates.csv",
        "gis/rates.geojson",
        "gis/rates.gpkg",
        "gis/rates.tif",
        "gis/rates.shp.zip",
        "terminal/TASKDATA/TASKDATA.XML",
        "terminal/TASKDATA/GRD00001.bin",
        "terminal/fallback/README.txt",
        "terminal/fallback/shapefile-barley/barley_a1b2c3.shp",
        "terminal/fallback/shapefile-Barley-2/Barley-2_a1b2c3.dbf",
        "terminal/fallback/shapefile-all-products/all-products_a1b2c3.dbf",
        "terminal/fallback/task-data-4.3-polygons/TASKDATA/TASKDATA.XML",
        "gis/gate-check.geojson",
        "gis/rates-barley.tif",
        "gis/rates-Barley-2.qml",
        "gis/metadata.xml",
    ] {
        assert!(files.contains_key(Path::new(path)), "{path}");
    }
}

#[test]
fn the_same_plan_gives_the_same_bytes() {
    let (_one, first) = delivered();
    let (_two, second) = delivered();
    let (first, second) = (all_files(&first), all_files(&second));
    assert!(first.len() > 20);
    for (path, bytes) in &first {
        assert!(second.get(path) == Some(bytes), "{path:?}");
    }
}

/// The rates of a grid with other ones in one cell.
fn with_cell(grid: &Grid, cell: usize, rates: Option<&[f64]>) -> CellRates {
    let mut cells: Vec<Option<&[f64]>> = grid.kg_per_ha.cells().collect();
    cells[cell] = rates;
    CellRates::of_cells(grid.kg_per_ha.each(), cells.into_iter())
}

#[test]
fn a_plan_that_does_not_fit_together_is_refused() {
    let home = TempDir::new().unwrap();
    let out = home.path().join("plan");
    let mut cases = Vec::new();
    let mut broken = plan();
    broken.maps.rate.metric.kg_per_ha = with_cell(&broken.maps.rate.metric, 5, None);
    cases.push(("a covered cell without a rate", Blame::Program, broken));
    let mut broken = plan();
    broken.maps.rate.metric.kg_per_ha =
        with_cell(&broken.maps.rate.metric, 5, Some(&[1.0, f64::NAN, 1.0]));
    cases.push(("a rate that is no number", Blame::Program, broken));
    let mut broken = plan();
    broken.maps.rate.degrees.kg_per_ha =
        with_cell(&broken.maps.rate.degrees, 5, Some(&[1.0, 1.0, -1.0]));
    cases.push(("a negative rate", Blame::Program, broken));
    let mut broken = plan();
    broken.maps.rate.zones[0].kg_per_ha.pop();
    cases.push(("a zone without one of its rates", Blame::Program, broken));
    let mut broken = plan();
    std::sync::Arc::make_mut(&mut broken.maps.rate.degrees.covered_m2).pop();
    cases.push(("a grid with a cell missing", Blame::Program, broken));
    let mut broken = plan();
    broken.maps.rate.degrees.kg_per_ha = with_cell(
        &broken.maps.rate.degrees,
        5,
        Some(&[30_000_000.0, 1.0, 1.0]),
    );
    cases.push((
        "a rate beyond the integers of task data",
        Blame::Input,
        broken,
    ));
    let mut broken = plan();
    broken.maps.rate.degrees.origin[0] = 8.1234567891;
    cases.push(("an origin with ten decimals", Blame::Program, broken));
    let mut broken = plan();
    std::sync::Arc::make_mut(&mut broken.maps.rate.zones[0].polygons).clear();
    cases.push(("a zone without land", Blame::Program, broken));
    for (what, blame, plan) in cases {
        let fault = deliver(&plan, &out, TIMESTAMP).expect_err(what);
        assert!(fault.code.starts_with("write."), "{what}: {fault}");
        assert_eq!(fault.blame, blame, "{what}: {fault}");
        let asks = fault.next.contains("report it");
        assert_eq!(asks, blame == Blame::Program, "{what}: {fault}");
        assert!(
            fs::read_dir(home.path()).unwrap().next().is_none(),
            "{what}"
        );
    }
    let fault = deliver(&plan(), &out, "yesterday").unwrap_err();
    assert_eq!(fault.code, "write.timestamp");
}

#[test]
fn one_product_without_layers_or_exclusions_is_enough() {
    let mut plan = plan();
    plan.job.products.truncate(1);
    plan.tally.planned.products.truncate(1);
    plan.job.layers.clear();
    plan.job.field.customer.clear();
    plan.job.field.farm.clear();
    plan.land.exclusions.clear();
    plan.rates.default_kg_per_ha.truncate(1);
    plan.maps.rate.terminal = vec![plan.maps.rate.terminal[1].clone()];
    plan.rates.position_lost_kg_per_ha.truncate(1);
    plan.rates.out_of_field_kg_per_ha.truncate(1);
    for row in &mut plan.rates.rows {
        row.rates.truncate(1);
        row.facts.classes.clear();
    }
    for zone in &mut plan.maps.rate.zones {
        zone.kg_per_ha.truncate(1);
    }
    for grid in [&mut plan.maps.rate.metric, &mut plan.maps.rate.degrees] {
        let cells = grid.kg_per_ha.cells();
        grid.kg_per_ha = CellRates::of_cells(1, cells.map(|rates| rates.map(|of| &of[..1])));
    }
    let out = Path::new(env!("CARGO_TARGET_TMPDIR")).join("write-one-product");
    deliver(&plan, &out, TIMESTAMP).unwrap();
    let xml = fs::read_to_string(out.join("terminal/TASKDATA/TASKDATA.XML")).unwrap();
    assert!(
        xml.contains(" B=\"Otterbrook\"/>") && xml.contains("<CTR A=\"CTR"),
        "a name is filled in"
    );
    assert_eq!(xml.matches("<PDV ").count(), 4);
    let grid = fs::read(out.join("terminal/TASKDATA/GRD00001.bin")).unwrap();
    assert_eq!(grid.len(), DEGREES[0] * DEGREES[1] * 4);
}

#[test]
fn geojson_is_wound_closed_and_escaped() {
    let (_home, out) = delivered();
    let text = fs::read_to_string(out.join("gis/rates.geojson")).unwrap();
    let json: Value = serde_json::from_str(&text).unwrap();
    assert!(json.get("crs").is_none());
    assert_eq!(json["plan"], "a1b2c3");
    let features = json["features"].as_array().unwrap();
    assert_eq!(features.len(), 2);
    let properties = &features[1]["properties"];
    assert_eq!(properties["zone"], 2);
    assert_eq!(properties["part"], "headland");
    assert_eq!(properties["class_soil typo"], "+high");
    assert_eq!(properties["area_ha"], 6.2);
    assert_eq!(properties["barley_kg_ha"], 198.5);
    assert_eq!(properties["starter_kg_ha"], 0.0);
    // Names that differ only in case get a number, for not every program tells them apart; the unit stays last, where
    // readers look for it.
    assert_eq!(properties["Barley_2_kg_ha"], 4.0);
    assert_eq!(properties["barley_kg"], 198.5 * 6.2);
    assert_eq!(properties["plan"], "a1b2c3");
    assert!(
        text.contains("\"starter_kg_ha\":0.0"),
        "a whole rate is still no integer"
    );
    assert_eq!(features[0]["properties"]["class_soil type"], "Lehm ü; sand");
    for feature in features {
        for polygon in feature["geometry"]["coordinates"].as_array().unwrap() {
            for (at, ring) in polygon.as_array().unwrap().iter().enumerate() {
                let ring: Vec<[f64; 2]> = serde_json::from_value(ring.clone()).unwrap();
                assert_eq!(ring.first(), ring.last());
                let area: f64 = ring
                    .windows(2)
                    .map(|p| (p[1][0] - p[0][0]) * (p[1][1] + p[0][1]))
                    .sum();
                // The trapezium sum is negative for a ring that runs counter-clockwise.
                assert_eq!(area < 0.0, at == 0, "RFC 7946, section 3.1.6");
            }
        }
    }
    assert!(!text.contains("e-"), "no exponents in coordinates");
}

#[test]
fn the_geopackage_is_one_and_its_index_answers() {
    let (_home, out) = delivered();
    let database = rusqlite::Connection::open(out.join("gis/rates.gpkg")).unwrap();
    let number = |sql: &str| {
        database
            .query_row(sql, [], |row| row.get::<_, i64>(0))
            .unwrap()
    };
    assert_eq!(number("PRAGMA application_id"), 0x4750_4B47);
    assert_eq!(number("PRAGMA user_version"), 10_300);
    assert_eq!(number("SELECT count(*) FROM pragma_foreign_key_check"), 0);
    let check: String = database
        .query_row("PRAGMA integrity_check", [], |row| row.get(0))
        .unwrap();
    assert_eq!(check, "ok");
    assert_eq!(
        number("SELECT count(*) FROM gpkg_contents WHERE last_change = '2026-03-14T09:30:00.000Z'"),
        4
    );
    for (table, rows) in [("rates", 2), ("boundary", 2), ("exclusions", 2)] {
        assert_eq!(number(&format!("SELECT count(*) FROM {table}")), rows);
        assert_eq!(
            number(&format!("SELECT rtreecheck('rtree_{table}_geom') = 'ok'")),
            1
        );
        let triggers = format!(
            "SELECT count(*) FROM sqlite_master WHERE type = 'trigger' AND tbl_name = '{table}'"
        );
        assert_eq!(number(&triggers), 7);
    }
    // The small part of the field lies in zone 1 only, the north in zone 2.
    let at = |lon: f64, lat: f64| {
        let sql = format!(
            "SELECT group_concat(zone) FROM rates JOIN rtree_rates_geom r ON r.id = fid
             WHERE minx <= {lon} AND maxx >= {lon} AND miny <= {lat} AND maxy >= {lat}"
        );
        database
            .query_row(&sql, [], |row| row.get::<_, Option<String>>(0))
            .unwrap()
    };
    assert_eq!(at(8.253, 50.498).as_deref(), Some("1"));
    assert_eq!(at(8.247, 50.502).as_deref(), Some("2"));
    assert_eq!(at(8.260, 50.502), None);
    let extent: (f64, f64, f64, f64) = database
        .query_row(
            "SELECT min_x, min_y, max_x, max_y FROM gpkg_contents WHERE table_name = 'rates'",
            [],
            |row| Ok((row.get(0)?, row.get(1)?, row.get(2)?, row.get(3)?)),
        )
        .unwrap();
    let (west, south) = (8.25 - 0.004, 50.5 - 0.003);
    assert_eq!(
        extent,
        (west, south, west + 0.006 + 0.002, south + 0.004 + 0.002)
    );
}

#[test]
fn shapefiles_hold_every_zone_and_one_rate() {
    let (_home, out) = delivered();
    let zip = fs::read(out.join("gis/rates.shp.zip")).unwrap();
    let mut zip = zip::ZipArchive::new(Cursor::new(zip)).unwrap();
    let mut member = |name: &str| {
        let mut bytes = Vec::new();
        zip.by_name(name).unwrap().read_to_end(&mut bytes).unwrap();
        Cursor::new(bytes)
    };
    let dbf = member("rates.dbf");
    assert_eq!(
        dbf.get_ref()[1..4],
        [126, 3, 14],
        "year since 1900, month, day"
    );
    assert_eq!(member("rates.cpg").into_inner(), b"UTF-8");
    assert!(
        member("rates.prj")
            .into_inner()
            .starts_with(b"GEOGCS[\"GCS_WGS_1984\"")
    );
    let table = dbase::Reader::new(dbf).unwrap();
    let names: Vec<&str> = table.fields().iter().map(|field| field.name()).collect();
    assert_eq!(
        names,
        [
            "zone",
            "part",
            "c_soil_typ",
            "c_soil_ty2",
            "area_ha",
            "barl_kg_ha",
            "star_kg_ha",
            "Bar2_kg_ha",
            "barley_kg",
            "starter_kg",
            "Barley2_kg",
            "field",
            "farm",
            "plan"
        ]
    );
    // As wide as the longest text, in bytes of UTF-8.
    let width = |name: &str| {
        let mut fields = table.fields().iter();
        let found = fields.find(|field| field.name() == name);
        found.map(dbase::FieldInfo::length)
    };
    assert_eq!(width("c_soil_typ"), Some("Lehm ü; sand".len() as u8));
    assert_eq!(width("plan"), Some(6));
    let style = String::from_utf8(member("rates.qml").into_inner()).unwrap();
    assert!(style.contains("attr=\"barl_kg_ha\""), "{style}");
    let mut reader = shapefile::Reader::new(
        shapefile::ShapeReader::with_shx(member("rates.shp"), member("rates.shx")).unwrap(),
        table,
    );
    let read: Vec<_> = reader
        .iter_shapes_and_records()
        .map(Result::unwrap)
        .collect();
    assert_eq!(read.len(), 2);
    let shapefile::Shape::Polygon(polygon) = &read[0].0 else {
        panic!()
    };
    let outer = |ring: &shapefile::PolygonRing<_>| matches!(ring, shapefile::PolygonRing::Outer(_));
    // The reader tells exteriors from holes by their winding alone.
    assert_eq!(
        polygon.rings().iter().map(outer).collect::<Vec<_>>(),
        [true, false, true]
    );
    let class = dbase::FieldValue::Character(Some("Lehm ü; sand".to_string()));
    assert_eq!(read[0].1.get("c_soil_typ"), Some(&class));
    assert_eq!(
        read[1].1.get("barl_kg_ha"),
        Some(&dbase::FieldValue::Numeric(Some(198.5)))
    );

    let path = out.join("terminal/fallback/shapefile-starter/starter_a1b2c3.shp");
    let records = shapefile::read(&path).unwrap();
    let rates: Vec<_> = records
        .iter()
        .map(|(_, record)| record.get("rate_kg_ha").cloned())
        .collect();
    let number = |value| Some(dbase::FieldValue::Numeric(Some(value)));
    assert_eq!(
        rates,
        [number(90.0), number(90.0), number(0.0)],
        "one record per single polygon"
    );
    let fields: Vec<_> = records[0].1.clone().into_iter().collect();
    assert_eq!(fields.len(), 1, "exactly one column");
    for extension in ["shx", "prj", "cpg"] {
        assert!(path.with_extension(extension).exists());
    }
}

#[test]
fn the_geotiff_is_north_up_and_holds_every_cell() {
    let (_home, out) = delivered();
    let mut decoder =
        Decoder::new(Cursor::new(fs::read(out.join("gis/rates.tif")).unwrap())).unwrap();
    let [columns, rows] = METRIC;
    assert_eq!(decoder.dimensions().unwrap(), (columns as u32, rows as u32));
    assert_eq!(
        decoder.get_tag_f64_vec(Tag::ModelPixelScaleTag).unwrap(),
        [5.0, 4.0, 0.0]
    );
    let north = -668.0 + 270.0 * 4.0;
    let tiepoint = decoder.get_tag_f64_vec(Tag::ModelTiepointTag).unwrap();
    assert_eq!(tiepoint, [0.0, 0.0, 0.0, -742.5, north, 0.0]);
    // The CRS, by the numbers of OGC 19-008r4: projected, cells, WGS 84, transverse Mercator, metre.
    let keys = decoder.get_tag_u16_vec(Tag::GeoKeyDirectoryTag).unwrap();
    let key = |number: u16| {
        let (entries, _) = keys[4..].as_chunks::<4>();
        let entry = entries.iter().find(|entry| entry[0] == number).unwrap();
        (entry[1], entry[3])
    };
    assert_eq!(keys[3] as usize * 4 + 4, keys.len());
    for (number, value) in [
        (1024, 1),
        (1025, 1),
        (2048, 4326),
        (3072, 32767),
        (3075, 1),
        (3076, 9001),
    ] {
        assert_eq!(key(number), (0, value), "key {number}");
    }
    let doubles = decoder.get_tag_f64_vec(Tag::GeoDoubleParamsTag).unwrap();
    for (number, value) in [
        (3080, ORIGIN.lon),
        (3081, ORIGIN.lat),
        (3082, 0.0),
        (3083, 0.0),
        (3092, 1.0),
    ] {
        let (tag, at) = key(number);
        assert_eq!((tag, doubles[at as usize]), (34736, value), "key {number}");
    }
    assert_eq!(
        decoder.get_tag_ascii_string(Tag::GdalNodata).unwrap(),
        "nan"
    );
    let DecodingResult::F32(values) = decoder.read_image().unwrap() else {
        panic!()
    };
    assert_eq!(values.len(), columns * rows * 4);
    let grid = plan().maps.rate.metric;
    for (at, &value) in values.iter().enumerate() {
        let (band, column) = (at % 4, at / 4 % columns);
        let row = rows - 1 - at / 4 / columns;
        let cell = row * columns + column;
        let expected = match (band, cell) {
            (3, _) => grid.covered_m2[cell],
            (_, 0) => f64::NAN,
            _ => metric_rate(band, column, row),
        };
        let same = value == expected as f32 || (value.is_nan() && expected.is_nan());
        assert!(
            same,
            "band {band}, column {column}, row {row}: {value}, not {expected}"
        );
    }
}

#[test]
fn tables_are_quoted_and_hold_no_formulas() {
    let (_home, out) = delivered();
    let read = |name: &str| {
        let mut reader = csv::Reader::from_path(out.join(name)).unwrap();
        let rows: Vec<BTreeMap<String, String>> =
            reader.deserialize().collect::<Result<_, _>>().unwrap();
        rows
    };
    let rates = read("rates.csv");
    assert_eq!(rates.len(), 3);
    assert_eq!(rates[2]["setbacks"], "'-brook");
    assert_eq!(rates[2]["class_soil typo"], "'+high");
    assert_eq!(rates[2]["ha"], "6.200000");
    assert_eq!(rates[2]["barley_kg_ha"], "198.5");
    assert_eq!(rates[2]["barley_kg"], "1230.700");
    assert_eq!(rates[2]["starter_kg"], "0.000");
    let order = read("order.csv");
    assert_eq!(order[0]["lot"], "'=HYPERLINK(1)");
    assert_eq!(order[0]["name"], "Spring barley \"Anouk\" <C1>");
    assert_eq!(order[0]["map_kg"], "3264.700");
    assert_eq!(order[0]["reserve_kg"], "97.941");
    assert_eq!(order[0]["order_kg"], "3362.641");
    assert_eq!((&*order[0]["pack_kg"], &*order[0]["packs"]), ("25", "135"));
    assert_eq!(order[1]["packs"], "");
}

#[test]
fn plan_json_says_what_the_integers_cost() {
    let (_home, out) = delivered();
    let text = fs::read_to_string(out.join("plan.json")).unwrap();
    let json: Value = serde_json::from_str(&text).unwrap();
    assert_eq!(
        (&json["format"], &json["version"]),
        (&"twinsow-plan".into(), &1.into())
    );
    assert_eq!(json["id"], "a1b2c3");
    assert_eq!(json["job"]["product"][0]["id"], "barley");
    assert_eq!(
        json["rate_table"][2]["rates"][0]["reasons"][0]["rule"],
        "rate.direct"
    );
    assert_eq!(json["rate_table"][0]["classes"][0]["class"], "Lehm ü");
    assert_eq!(json["findings"][0]["code"], "zones.gap_filled");
    assert_eq!(json["grids"]["degrees"]["cell"][0], 0.001234567891234);
    assert!(!text.contains("NaN"));

    // Recomputed from the grid file alone, and the area that the plan gives each cell.
    let bytes = fs::read(out.join("terminal/TASKDATA/GRD00001.bin")).unwrap();
    let [columns, rows] = DEGREES;
    let values = decode_cells(&bytes, columns, rows, 3).unwrap();
    let covered = plan().maps.rate.degrees.covered_m2;
    for (product, sums) in json["terminal"]["products"]
        .as_array()
        .unwrap()
        .iter()
        .enumerate()
    {
        let kg = |cell: usize| f64::from(values[cell * 3 + product]) / 100.0 * covered[cell] / 1e4;
        let kg: f64 = (0..columns * rows).map(kg).sum();
        assert!((sums["kg_from_integers"].as_f64().unwrap() - kg).abs() < 1e-9);
        let difference = sums["integers_less_grid_kg"].as_f64().unwrap();
        // Half a step on all land is the most that rounding can cost.
        assert!(difference.abs() <= 0.005 * covered.iter().sum::<f64>() / 1e4);
        assert_ne!(difference, 0.0);
    }
}

#[test]
fn grid_records_run_from_the_south_west_with_products_side_by_side() {
    let (_home, out) = delivered();
    let bytes = fs::read(out.join("terminal/TASKDATA/GRD00001.bin")).unwrap();
    let [columns, rows] = DEGREES;
    assert_eq!(bytes.len(), columns * rows * 3 * 4);
    for row in 0..rows {
        for column in 0..columns {
            for product in 0..3 {
                let at = ((row * columns + column) * 3 + product) * 4;
                let raw = i32::from_le_bytes(bytes[at..at + 4].try_into().unwrap());
                let outside = (column, row) == (0, 0);
                let rate = if outside {
                    0.0
                } else {
                    degrees_rate(product, column, row)
                };
                assert_eq!(raw, (rate * 100.0).round() as i32);
            }
        }
    }
}

#[test]
fn task_data_says_what_the_schema_cannot_check() {
    let (_home, out) = delivered();
    let text = fs::read_to_string(out.join("terminal/TASKDATA/TASKDATA.XML")).unwrap();
    let head: String = text.chars().take(1024).collect();
    assert!(
        head.contains("VersionMajor=\"4\""),
        "readers look for it near the start"
    );
    assert!(!text.starts_with('\u{FEFF}'));
    assert!(
        text.contains("B=\"a1b2c3 Spring barley &amp; starter o\""),
        "32 characters, id first"
    );
    // Numbers as they are in the plan, not rounded again.
    assert!(text.contains("A=\"50.497123456\" B=\"8.245987654\" C=\"0.000987654321\" D=\"0.001234567891234\" E=\"7\" F=\"5\" G=\"GRD00001\" H=\"420\" I=\"2\" J=\"1\""));
    // The default is the base rate; outside the field nothing, as this job asks.
    for zone in [
        "<TZN A=\"2\" B=\"Default\">\n      <PDV A=\"0006\" B=\"18650\" C=\"PDT",
        "<TZN A=\"3\" B=\"Position lost\">\n      <PDV A=\"0006\" B=\"18650\"",
        "<TZN A=\"4\" B=\"Out of field\">\n      <PDV A=\"0006\" B=\"0\"",
    ] {
        assert!(text.contains(zone), "{zone}\n{text}");
    }
    assert_eq!(text.matches("<PDV ").count(), 12);
    // The pond is a hole of its part; what crosses the border is an obstacle.
    assert_eq!(text.matches("<PLN A=\"1\">").count(), 2);
    assert_eq!(text.matches("<PLN A=\"6\">").count(), 1);
    assert_eq!(text.matches("<LSG A=\"2\">").count(), 1);
}

#[test]
fn polygons_instead_of_a_grid_have_a_zone_each() {
    let (_home, out) = delivered();
    let folder = out.join("terminal/fallback/task-data-4.3-polygons/TASKDATA");
    assert_eq!(fs::read_dir(&folder).unwrap().count(), 1, "no binary");
    let text = fs::read_to_string(folder.join("TASKDATA.XML")).unwrap();
    assert!(!text.contains("<GRD "));
    // Three polygons of two sets of rates, beside default, lost position and outside.
    assert_eq!(text.matches("<TZN ").count(), 6);
    assert_eq!(text.matches("<PLN A=\"2\">").count(), 3);
    assert_eq!(text.matches("B=\"19850\"").count(), 1);
    assert_eq!(text.matches("B=\"18000\"").count(), 2);
}

#[test]
fn ids_stay_from_plan_to_plan_and_differ_between_fields() {
    let ids = |change: fn(&mut twinsow::plan::Plan)| {
        let home = TempDir::new().unwrap();
        let mut plan = plan();
        change(&mut plan);
        deliver(&plan, &home.path().join("plan"), TIMESTAMP).unwrap();
        let xml = home.path().join("plan/terminal/TASKDATA/TASKDATA.XML");
        let text = fs::read_to_string(xml).unwrap();
        ["PFD", "PDT", "TSK"].map(|tag| {
            let at = text.find(&format!("<{tag} A=\"")).unwrap() + 8;
            text[at..].split('"').next().unwrap().to_string()
        })
    };
    let first = ids(|_| {});
    let newer = ids(|plan| plan.id = "zzzzzz".to_string());
    assert_eq!(first[..2], newer[..2]);
    assert_ne!(first[2], newer[2], "a new plan is a task of its own");
    let other = ids(|plan| plan.job.field.name = "Nether".to_string());
    assert_ne!(first[0], other[0]);
    assert_eq!(first[1], other[1]);
}
