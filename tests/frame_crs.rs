//! From a layer's CRS to WGS 84: which CRS it is, what is refused, and where the places end up.

use std::path::PathBuf;
use twinsow::coordinates::LonLat;
use twinsow::findings::{Blame, Severity, number};
use twinsow::frame::{
    Crs, Fit, Fits, Frame, Lies, Near, epsg_version, fits, mixed_datums, must_meet, to_wgs84,
    with_fits,
};
use twinsow::read::{DeclaredCrs, Feature, Geometry, Layer, Polygon, Xy};

fn layer(crs: DeclaredCrs, ring: &[Xy]) -> Layer {
    Layer {
        file: PathBuf::from("soil.shp"),
        format: "Shapefile",
        table: None,
        crs,
        attributes: vec![],
        features: vec![Feature {
            name: "7".into(),
            geometry: Geometry::Polygons(vec![Polygon {
                exterior: ring.to_vec(),
                holes: vec![],
            }]),
            values: vec![],
        }],
        findings: vec![],
    }
}

fn text(crs: &str) -> DeclaredCrs {
    DeclaredCrs::Text(crs.into())
}

/// A triangle of 100 units about a point.
fn about([x, y]: Xy) -> Vec<Xy> {
    vec![[x, y], [x + 100.0, y], [x, y + 100.0], [x, y]]
}

fn of(crs: &str, points: &[Xy]) -> Crs {
    Crs::of(&layer(text(crs), points), None).unwrap_or_else(|fault| panic!("{crs}: {fault}"))
}

fn fault_of(crs: DeclaredCrs, named: Option<&str>, points: &[Xy]) -> twinsow::findings::Fault {
    match Crs::of(&layer(crs, points), named) {
        Ok(crs) => panic!("accepted as {}", crs.name),
        Err(fault) => *fault,
    }
}

const PRJ_UTM: &str = r#"PROJCS["ETRS_1989_UTM_Zone_32N",GEOGCS["GCS_ETRS_1989",DATUM["D_ETRS_1989",SPHEROID["GRS_1980",6378137.0,298.257222101]],PRIMEM["Greenwich",0.0],UNIT["Degree",0.0174532925199433]],PROJECTION["Transverse_Mercator"],PARAMETER["False_Easting",500000.0],PARAMETER["False_Northing",0.0],PARAMETER["Central_Meridian",9.0],PARAMETER["Scale_Factor",0.9996],PARAMETER["Latitude_Of_Origin",0.0],UNIT["Meter",1.0]]"#;
const PRJ_RD: &str = r#"PROJCS["RD_New",GEOGCS["GCS_Amersfoort",DATUM["D_Amersfoort",SPHEROID["Bessel_1841",6377397.155,299.1528128]],PRIMEM["Greenwich",0.0],UNIT["Degree",0.0174532925199433]],PROJECTION["Double_Stereographic"],PARAMETER["False_Easting",155000.0],PARAMETER["False_Northing",463000.0],PARAMETER["Central_Meridian",5.38763888888889],PARAMETER["Scale_Factor",0.9999079],PARAMETER["Latitude_Of_Origin",52.15616055555555],UNIT["Meter",1.0]]"#;
const PRJ_WGS84: &str = r#"GEOGCS["GCS_WGS_1984",DATUM["D_WGS_1984",SPHEROID["WGS_1984",6378137.0,298.257223563]],PRIMEM["Greenwich",0.0],UNIT["Degree",0.0174532925199433]]"#;
const WKT1_RD: &str = r#"PROJCS["Amersfoort / RD New",GEOGCS["Amersfoort",DATUM["Amersfoort",SPHEROID["Bessel 1841",6377397.155,299.1528128,AUTHORITY["EPSG","7004"]],TOWGS84[565.2369,50.0087,465.658,-0.406857,0.350733,-1.87035,4.0812],AUTHORITY["EPSG","6289"]],PRIMEM["Greenwich",0,AUTHORITY["EPSG","8901"]],UNIT["degree",0.0174532925199433,AUTHORITY["EPSG","9122"]],AUTHORITY["EPSG","4289"]],PROJECTION["Oblique_Stereographic"],PARAMETER["latitude_of_origin",52.1561605555556],PARAMETER["central_meridian",5.38763888888889],PARAMETER["scale_factor",0.9999079],PARAMETER["false_easting",155000],PARAMETER["false_northing",463000],UNIT["metre",1,AUTHORITY["EPSG","9001"]],AXIS["Easting",EAST],AXIS["Northing",NORTH],AUTHORITY["EPSG","28992"]]"#;

/// Figures of another build of PROJ with another EPSG version: see `figures/frame_pyproj.py`.
#[test]
fn places_of_national_grids_are_those_of_pyproj() {
    let table = include_str!("figures/frame_pyproj.csv");
    let mut rows = 0;
    for line in table.lines().skip(1) {
        let cells: Vec<&str> = line.split(',').collect();
        let number = |i: usize| cells[i].parse::<f64>().expect("a number");
        let points = [[number(1), number(2)]];
        let points = of(cells[0], &points).to_wgs84(&points).expect("on Earth");
        let right = [number(3), number(4)];
        // 1e-9 degree is 0.1 mm.
        assert!(
            (points[0].lon - right[0]).abs() < 1e-9 && (points[0].lat - right[1]).abs() < 1e-9,
            "{line}: {points:?}"
        );
        rows += 1;
    }
    assert!(rows > 20);
}

#[test]
fn every_way_to_write_a_crs_leads_to_its_entry() {
    let rd = [155_000.0, 463_000.0];
    let utm = [600_000.0, 5_800_000.0];
    let degrees = [5.0, 52.0];
    for (crs, at, name) in [
        ("EPSG:28992", rd, "EPSG:28992 Amersfoort / RD New"),
        (" epsg:28992\n", rd, "EPSG:28992 Amersfoort / RD New"),
        (
            "urn:ogc:def:crs:EPSG::28992",
            rd,
            "EPSG:28992 Amersfoort / RD New",
        ),
        (
            "http://www.opengis.net/def/crs/EPSG/0/28992",
            rd,
            "EPSG:28992 Amersfoort / RD New",
        ),
        (PRJ_RD, rd, "EPSG:28992 Amersfoort / RD New"),
        (WKT1_RD, rd, "EPSG:28992 Amersfoort / RD New"),
        // Compound and three-dimensional: the horizontal part.
        ("EPSG:7415", rd, "EPSG:28992 Amersfoort / RD New"),
        ("EPSG:4979", degrees, "EPSG:4326 WGS 84"),
        (PRJ_UTM, utm, "EPSG:25832 ETRS89 / UTM zone 32N"),
        (PRJ_WGS84, degrees, "EPSG:4326 WGS 84"),
        ("CRS84", degrees, "OGC:CRS84 WGS 84 (CRS84)"),
        (
            "urn:ogc:def:crs:OGC:1.3:CRS84",
            degrees,
            "OGC:CRS84 WGS 84 (CRS84)",
        ),
        ("+proj=utm +zone=32 +ellps=GRS80 +units=m", utm, "unknown"),
        (
            "+proj=utm +zone=32 +datum=WGS84",
            utm,
            "EPSG:32632 WGS 84 / UTM zone 32N",
        ),
    ] {
        let found = of(crs, &[at, [at[0] + 0.01, at[1]], [at[0], at[1] + 0.01]]);
        assert_eq!(found.name, name, "{crs}");
        let moved = found.to_wgs84(&[at]).expect("on Earth");
        let right = if at == rd {
            [5.3872, 52.1552]
        } else if at == utm {
            [10.4679, 52.3412]
        } else {
            at
        };
        assert!(
            (moved[0].lon - right[0]).abs() < 2e-4 && (moved[0].lat - right[1]).abs() < 2e-4,
            "{crs}"
        );
    }
}

#[test]
fn wgs84_degrees_pass_unchanged_and_any_other_datum_says_how_good_it_is() {
    let points = [[5.123_456_789_012_3, 52.0], [-179.999, -43.0]];
    for crs in [
        DeclaredCrs::Wgs84ByStandard,
        text("EPSG:4326"),
        text(PRJ_WGS84),
    ] {
        let crs = Crs::of(&layer(crs, &points), None).expect("WGS 84");
        let moved = crs.to_wgs84(&points).expect("on Earth");
        let moved: Vec<[f64; 2]> = moved.iter().map(|at| at.pair()).collect();
        assert_eq!(moved, points);
        assert_eq!(crs.accuracy_m, Some(0.0));
        assert!(crs.findings.is_empty());
    }
    assert_eq!(
        of("EPSG:32631", &about([500_000.0, 5_800_000.0])).accuracy_m,
        Some(0.0)
    );
    // The accuracies EPSG states for Amersfoort to WGS 84 (4), ETRS89 to WGS 84 (1) and DHDN to WGS 84 (2).
    assert_eq!(
        of("EPSG:28992", &about([155_000.0, 463_000.0])).accuracy_m,
        Some(1.0)
    );
    assert_eq!(
        of("EPSG:25832", &about([600_000.0, 5_800_000.0])).accuracy_m,
        Some(1.0)
    );
    let dhdn = of("EPSG:31467", &about([3_500_000.0, 5_800_000.0]));
    assert_eq!(dhdn.accuracy_m, Some(3.0));
    let better = dhdn
        .findings
        .iter()
        .find(|f| f.code == "frame.better_grid")
        .expect("a better grid");
    assert!(
        better.message.contains("BETA2007") && better.message.contains("1 m"),
        "{}",
        better.message
    );
}

#[test]
fn a_datum_without_a_shift_is_a_warning() {
    let wkt = r#"PROJCS["Home grid",GEOGCS["Home",DATUM["Home_datum",SPHEROID["Bessel_1841",6377397.155,299.1528128]],PRIMEM["Greenwich",0.0],UNIT["Degree",0.0174532925199433]],PROJECTION["Transverse_Mercator"],PARAMETER["False_Easting",0.0],PARAMETER["False_Northing",0.0],PARAMETER["Central_Meridian",9.0],PARAMETER["Scale_Factor",1.0],PARAMETER["Latitude_Of_Origin",52.0],UNIT["Meter",1.0]]"#;
    let crs = of(wkt, &about([1000.0, 2000.0]));
    let codes: Vec<_> = crs
        .findings
        .iter()
        .map(|f| (f.code.as_ref(), f.severity))
        .collect();
    assert_eq!(
        codes,
        [
            ("frame.crs_unlisted", Severity::Note),
            ("frame.ballpark_shift", Severity::Warning)
        ]
    );
    assert_eq!(crs.accuracy_m, None);
}

#[test]
fn different_datums_taken_as_equal_are_a_warning() {
    let etrs = of("EPSG:25832", &about([600_000.0, 5_800_000.0]));
    let gps = of("EPSG:32632", &about([600_000.0, 5_800_000.0]));
    let old = of("EPSG:31467", &about([3_500_000.0, 5_800_000.0]));
    let crs84 = of("CRS84", &[[9.0, 52.0]]);
    let said = mixed_datums(&[etrs.footing(), gps.footing()]).expect("a warning");
    assert_eq!(said.severity, Severity::Warning);
    assert!(said.message.contains("ETRS89 (to 1 m)"), "{}", said.message);
    assert!(mixed_datums(&[etrs.footing(), etrs.footing()]).is_none());
    assert!(mixed_datums(&[gps.footing(), crs84.footing()]).is_none());
    // DHDN has a shift of its own.
    assert!(mixed_datums(&[old.footing(), gps.footing()]).is_none());
}

#[test]
fn a_layer_without_a_crs_is_refused_with_a_hint() {
    let fault = fault_of(DeclaredCrs::None, None, &about([600_000.0, 5_800_000.0]));
    assert_eq!(
        (fault.code, fault.blame),
        ("frame.crs_missing", Blame::Input)
    );
    assert_eq!(fault.place.file.as_deref(), Some("soil.shp"));
    assert!(
        fault.found.contains("look like metres") && fault.next.contains("crs = \"EPSG:"),
        "{fault}"
    );
    let fault = fault_of(
        DeclaredCrs::None,
        None,
        &[[9.0, 52.0], [9.1, 52.0], [9.0, 52.1]],
    );
    assert!(
        fault.found.contains("look like degrees") && fault.next.contains("EPSG:4326"),
        "{fault}"
    );
    assert_eq!(
        fault_of(text(" \0 "), None, &about([0.0, 0.0])).code,
        "frame.crs_missing"
    );
    assert_eq!(
        fault_of(DeclaredCrs::None, None, &[]).code,
        "frame.crs_missing"
    );
}

#[test]
fn the_job_overrules_the_file_and_says_so() {
    let at = about([600_000.0, 5_800_000.0]);
    let crs = Crs::of(&layer(text("EPSG:25833"), &at), Some("EPSG:25832")).expect("a CRS");
    assert_eq!(crs.name, "EPSG:25832 ETRS89 / UTM zone 32N");
    assert_eq!(crs.findings[0].code, "frame.crs_overruled");
    assert!(
        crs.findings[0].message.contains("EPSG:25833"),
        "{}",
        crs.findings[0].message
    );
    // The same CRS in other words is no contradiction, and neither is silence.
    for declared in [text(PRJ_UTM), DeclaredCrs::None] {
        let crs = Crs::of(&layer(declared, &at), Some("EPSG:25832")).expect("a CRS");
        assert!(crs.findings.is_empty(), "{:?}", crs.findings);
    }
    let crs = Crs::of(&layer(text("rubbish"), &at), Some("EPSG:25832")).expect("a CRS");
    assert!(crs.findings[0].message.contains("not understood"));
}

#[test]
fn what_is_no_horizontal_crs_is_refused() {
    let at = about([100.0, 100.0]);
    for (crs, code, word) in [
        ("EPSG:4978", "frame.crs_not_horizontal", "geocentric"),
        ("EPSG:5709", "frame.crs_not_horizontal", "heights"),
        ("EPSG:5800", "frame.crs_not_horizontal", "local CRS"),
        (
            r#"LOCAL_CS["barn",UNIT["metre",1]]"#,
            "frame.crs_not_horizontal",
            "local CRS",
        ),
        ("EPSG:999999", "frame.crs_unknown", "EPSG:999999"),
        ("EPSG:7030", "frame.crs_unknown", "EPSG:7030"),
        ("28992", "frame.crs_unknown", "28992"),
        ("Gauss-Krueger zone three", "frame.crs_unknown", "Gauss"),
    ] {
        let fault = fault_of(text(crs), None, &at);
        assert!(fault.code == code, "{crs}: {fault}");
        assert!(fault.found.contains(word), "{crs}: {fault}");
        assert!(!fault.next.is_empty());
    }
}

/// No text makes the program crash, and none is taken for a CRS by accident.
#[test]
fn corrupt_definitions_are_faults() {
    let at = about([155_000.0, 463_000.0]);
    let mut seed = 7u64;
    let mut next = |below: usize| {
        seed = seed
            .wrapping_mul(6_364_136_223_846_793_005)
            .wrapping_add(1_442_695_040_888_963_407);
        (seed >> 33) as usize % below
    };
    let mut faults = 0;
    for round in 0..150 {
        let whole = [PRJ_UTM, PRJ_RD, PRJ_WGS84, WKT1_RD][round % 4];
        let mut bytes = whole.as_bytes().to_vec();
        match round % 3 {
            0 => bytes.truncate(next(whole.len())),
            1 => {
                for _ in 0..1 + next(8) {
                    let at = next(bytes.len());
                    bytes[at] = b"[],\"0-.\0Ze("[next(11)];
                }
            }
            _ => {
                let from = next(bytes.len());
                let to = from + next(bytes.len() - from);
                bytes.drain(from..to);
            }
        }
        let corrupt = String::from_utf8(bytes).expect("ASCII");
        if let Err(fault) = Crs::of(&layer(text(&corrupt), &at), None) {
            assert!(fault.code.starts_with("frame."), "{fault}");
            faults += 1;
        }
    }
    assert!(faults > 60, "{faults}");
    for crs in [
        "[",
        "PROJCS",
        "\u{feff}",
        "+proj=",
        "+init=epsg:28992",
        "@file.wkt",
        "{\"type\":1}",
        "é",
    ] {
        assert!(Crs::of(&layer(text(crs), &at), None).is_err(), "{crs}");
    }
    let deep = "GEOGCS[".repeat(100_000);
    assert!(Crs::of(&layer(text(&deep), &at), None).is_err());
}

#[test]
fn coordinates_outside_the_area_of_use_are_refused_with_the_likely_cause() {
    for (crs, at, word) in [
        // RD coordinates said to be UTM, UTM said to be RD.
        ("EPSG:25832", [155_000.0, 463_000.0], "another one"),
        ("EPSG:28992", [600_000.0, 5_800_000.0], "another one"),
        // Degrees said to be metres, metres said to be degrees.
        ("EPSG:28992", [5.4, 52.2], "look like degrees"),
        ("EPSG:4326", [155_000.0, 463_000.0], "look like metres"),
        ("EPSG:4258", [600_000.0, 5_800_000.0], "look like metres"),
    ] {
        let fault = fault_of(text(crs), None, &[at, [at[0] + 1.0, at[1]]]);
        assert_eq!(fault.code, "frame.outside_area_of_use", "{fault}");
        assert!(fault.next.contains(word), "{fault}");
        assert!(
            fault.allowed.contains("longitude") || fault.allowed.contains("World"),
            "{fault}"
        );
    }
    let fault = fault_of(
        DeclaredCrs::Wgs84ByStandard,
        None,
        &about([155_000.0, 463_000.0]),
    );
    assert_eq!(fault.code, "frame.outside_area_of_use");
    // Fields on other continents: their coordinates in these CRSs by PROJ 9 (through GDAL 3.10.3), the areas of use as
    // the EPSG registry has them.
    for (crs, at, falls, area) in [
        (
            "EPSG:32632",
            [3_748_089.863, -125_299.016],
            "longitude 37.00, latitude -1.00",
            "longitude 6.00 to 12.00, latitude 0.00 to 84.00",
        ),
        (
            "EPSG:27700",
            [-6_238_212.169, 5_301_566.601],
            "longitude -98.00, latitude 38.50",
            "longitude -9.01 to 2.01, latitude 49.75 to 61.01",
        ),
        (
            "EPSG:2193",
            [563_016.001, 23_721_028.223],
            "longitude 9.50, latitude 55.50",
            "longitude 166.37 to 178.63, latitude -47.33 to -34.10",
        ),
        (
            "EPSG:25832",
            [-6_936_339.669, -8_182_444.897],
            "longitude -70.00, latitude -33.00",
            "longitude 6.00 to 12.01, latitude 36.53 to 84.01",
        ),
    ] {
        let fault = fault_of(text(crs), None, &[at, [at[0] + 1.0, at[1]]]);
        assert_eq!(fault.code, "frame.outside_area_of_use", "{fault}");
        assert!(
            fault.found.contains(falls) && fault.found.contains(crs),
            "{fault}"
        );
        assert!(
            fault.allowed.contains(area) && fault.allowed.contains(crs),
            "{fault}"
        );
        assert!(fault.next.contains("crs = \"EPSG:...\""), "{fault}");
    }
    // Copenhagen and Bornholm in zone 32, as Danish data are: a warning.
    for x in [723_000.0, 890_000.0] {
        let crs = of("EPSG:25832", &about([x, 6_130_000.0]));
        assert_eq!(crs.findings[0].code, "frame.outside_area_of_use");
        assert_eq!(crs.findings[0].severity, Severity::Warning);
    }
}

#[test]
fn swapped_axes_are_said_and_not_mended() {
    for (crs, at) in [
        ("EPSG:28992", [463_000.0, 155_000.0]),
        ("EPSG:25832", [5_800_000.0, 600_000.0]),
        ("EPSG:3067", [6_672_000.0, 385_000.0]),
        ("EPSG:2193", [5_180_000.0, 1_570_000.0]),
        ("EPSG:4258", [52.0, 5.0]),
        ("EPSG:4326", [-43.5, 172.6]),
    ] {
        let fault = fault_of(text(crs), None, &[at]);
        assert_eq!(fault.code, "frame.axes_swapped", "{crs}: {fault}");
        assert!(fault.next.contains("does not swap"), "{fault}");
    }
}

#[test]
fn a_layer_that_would_meet_the_field_with_its_axes_swapped_is_told_from_one_that_is_elsewhere() {
    let field = [LonLat::new(5.60, 52.30), LonLat::new(5.62, 52.31)];
    let frame = Frame::centred_on(&field).expect("a field");
    let check = |points: &[Xy]| {
        let layer = layer(text("EPSG:4326"), points);
        let crs = Crs::of(&layer, None).expect("a CRS");
        must_meet(&layer, &crs, &frame)
    };
    check(&[[5.61, 52.305], [5.7, 52.4], [5.7, 52.3]]).expect("it meets the field");
    // A layer of a whole country round the field has no vertex in it.
    check(&[[3.0, 50.0], [8.0, 50.0], [8.0, 54.0], [3.0, 54.0]]).expect("it lies round the field");
    let fault = check(&[[52.305, 5.61], [52.4, 5.7], [52.3, 5.7]]).expect_err("swapped");
    assert_eq!(fault.code, "frame.axes_swapped");
    assert!(
        fault.found.contains("EPSG:4326 WGS 84") && fault.found.contains("km"),
        "{fault}"
    );
    let fault = check(&[[5.61, 53.305], [5.7, 53.4], [5.7, 53.3]]).expect_err("elsewhere");
    assert_eq!(fault.code, "frame.misses_field");
    // 53.3 - 52.31 degrees of latitude.
    assert!(fault.found.contains("lies 110 km from"), "{fault}");
    assert!(
        fault
            .found
            .contains("longitude 5.61 to 5.70, latitude 53.30 to 53.40"),
        "{fault}"
    );
    assert!(
        fault.allowed.contains("longitude 5.61, latitude 52.3"),
        "{fault}"
    );
    let fault = check(&[[-175.0, -40.0]]).expect_err("the other side of the globe");
    assert_eq!(fault.code, "frame.misses_field");
}

#[test]
fn a_point_that_is_no_place_is_named() {
    let at = about([155_000.0, 463_000.0]);
    let crs = of("EPSG:28992", &at);
    for bad in [
        [f64::NAN, 1.0],
        [f64::INFINITY, 463_000.0],
        [463_000.0, f64::NEG_INFINITY],
    ] {
        let fault = crs.to_wgs84(&[at[0], bad, at[1]]).expect_err("no place");
        assert_eq!(fault.code, "frame.not_on_earth");
        assert!(
            fault.found.contains(&format!("x = {}", number(bad[0]))),
            "{fault}"
        );
        let mut ring = at.clone();
        ring.insert(2, bad);
        let fault = to_wgs84(layer(text("EPSG:28992"), &ring), &crs).expect_err("no place");
        assert_eq!(fault.place.feature.as_deref(), Some("7"));
    }
    // Finite and absurd: seen when the CRS is looked at with the layer.
    let fault = fault_of(text("EPSG:28992"), None, &[at[0], [1e300, 463_000.0]]);
    assert_eq!(fault.code, "frame.outside_area_of_use");
    // The CRS goes on working.
    crs.to_wgs84(&at[..1]).expect("on Earth");
}

#[test]
fn the_epsg_version_is_known() {
    let version = epsg_version();
    assert!(
        version.starts_with('v') && version[1..].parse::<f64>().is_ok(),
        "{version}"
    );
}

/// An NTv2 grid over Germany that shifts everything by the same seconds of arc.
fn ntv2(d_lat: f32, d_west: f32) -> Vec<u8> {
    let mut bytes = Vec::new();
    let mut record = |name: &str, value: &[u8]| {
        bytes.extend(format!("{name:<8}").bytes());
        bytes.extend(value);
        bytes.resize(bytes.len().next_multiple_of(16), 0);
    };
    let seconds = |degrees: f64| (degrees * 3600.0).to_le_bytes();
    for name in ["NUM_OREC", "NUM_SREC"] {
        record(name, &11i32.to_le_bytes());
    }
    record("NUM_FILE", &1i32.to_le_bytes());
    record("GS_TYPE", b"SECONDS ");
    record("VERSION", b"test    ");
    record("SYSTEM_F", b"DHDN    ");
    record("SYSTEM_T", b"ETRS89  ");
    for (name, value) in [
        ("MAJOR_F", 6377397.155),
        ("MINOR_F", 6356078.963),
        ("MAJOR_T", 6378137.0),
        ("MINOR_T", 6356752.314),
    ] {
        record(name, &f64::to_le_bytes(value));
    }
    record("SUB_NAME", b"all     ");
    record("PARENT", b"NONE    ");
    record("CREATED", b"        ");
    record("UPDATED", b"        ");
    // Longitudes count westwards.
    for (name, degrees) in [
        ("S_LAT", 47.0),
        ("N_LAT", 56.0),
        ("E_LONG", -16.0),
        ("W_LONG", -5.0),
        ("LAT_INC", 1.0),
        ("LONG_INC", 1.0),
    ] {
        record(name, &seconds(degrees));
    }
    record("GS_COUNT", &(10i32 * 12).to_le_bytes());
    for _ in 0..10 * 12 {
        for value in [d_lat, d_west, 0.0, 0.0] {
            bytes.extend(value.to_le_bytes());
        }
    }
    bytes.extend(b"END     \0\0\0\0\0\0\0\0");
    bytes
}

#[test]
fn a_folder_of_grids_is_used() {
    let folder = tempfile::tempdir().expect("a folder");
    // Named as the EPSG registry names the German grid (operation 15948, DHDN to ETRS89 (8)).
    std::fs::write(folder.path().join("BETA2007.gsb"), ntv2(-3.6, 7.2)).expect("a file");
    let at = [3_500_000.0, 5_800_000.0];
    let layer = layer(text("EPSG:31467"), &about(at));
    let with = Crs::with_grids(&layer, None, Some(folder.path()))
        .unwrap_or_else(|fault| panic!("{fault}"));
    let moved = with.to_wgs84(&[at]).expect("on Earth");
    // The central meridian of zone 3 is 9 degrees, 7.2 seconds east of what the grid makes of it.
    assert!((moved[0].lon - (9.0 - 0.002)).abs() < 1e-9, "{moved:?}");
    assert_eq!(with.accuracy_m, Some(1.0));
    assert!(with.findings.is_empty(), "{:?}", with.findings);

    // A grid that cannot be read is as good as none, and that is said.
    std::fs::write(folder.path().join("BETA2007.gsb"), b"rubbish").expect("a file");
    let without = Crs::with_grids(&layer, None, Some(folder.path()))
        .unwrap_or_else(|fault| panic!("{fault}"));
    assert_eq!(without.accuracy_m, Some(3.0));
    assert_eq!(without.findings[0].code, "frame.grid_unfit");
    assert_eq!(without.findings[0].severity, Severity::Warning);
}

/// WKT 1 may carry its own way to WGS 84; it is used where the registry does not know the CRS.
#[test]
fn parameters_bound_to_a_crs_of_ones_own_are_used() {
    let wkt = |shift: &str| {
        format!(
            r#"PROJCS["Home grid",GEOGCS["Home",DATUM["Home_datum",SPHEROID["WGS_1984",6378137.0,298.257223563]{shift}],PRIMEM["Greenwich",0.0],UNIT["Degree",0.0174532925199433]],PROJECTION["Transverse_Mercator"],PARAMETER["False_Easting",0.0],PARAMETER["False_Northing",0.0],PARAMETER["Central_Meridian",0.0],PARAMETER["Scale_Factor",1.0],PARAMETER["Latitude_Of_Origin",0.0],UNIT["Meter",1.0]]"#
        )
    };
    // 200 m along the y axis of the Earth, which is east at longitude 0.
    let crs = of(&wkt(",TOWGS84[0,200,0,0,0,0,0]"), &about([0.0, 0.0]));
    let moved = crs.to_wgs84(&[[0.0, 0.0]]).expect("on Earth");
    assert!(
        (moved[0].lon.to_radians() * 6_378_137.0 - 200.0).abs() < 0.01,
        "{moved:?}"
    );
    assert!(moved[0].lat.abs() < 1e-9);
    assert_eq!(crs.accuracy_m, None);
    assert!(
        crs.findings.iter().all(|f| f.code == "frame.crs_unlisted"),
        "{:?}",
        crs.findings
    );
}

/// A boundary of some hundred metres about a place, in a CRS.
fn near([lon, lat]: [f64; 2], crs: &str) -> Near {
    let corner = |by: f64| LonLat::new(lon + by, lat + by);
    Near {
        extent: [corner(-0.003), corner(0.003)],
        crs: crs.to_owned(),
    }
}

/// Codes of the CRSs that fit, a star behind those with swapped axes.
fn codes(fits: &Fits) -> Vec<String> {
    let code = |fit: &Fit| format!("{}{}", fit.code, if fit.swapped { "*" } else { "" });
    fits.all.iter().map(code).collect()
}

#[test]
fn what_would_put_a_layer_on_the_boundary_is_told() {
    let missing = |points: &[Xy]| layer(DeclaredCrs::None, points);
    // The places in degrees: pyproj 3.7.2 (PROJ) for the same coordinates.
    let brunswick = [10.467878, 52.341175];
    let utm = missing(&about([600_000.0, 5_800_000.0]));
    let found = fits(
        &utm,
        Some(&near(brunswick, "EPSG:25832 ETRS89 / UTM zone 32N")),
    );
    assert!(matches!(found.all[0].lies, Lies::OnBoundaryInItsCrs(gap) if gap == 0.0));
    assert_eq!(codes(&found)[..2], ["EPSG:25832", "EPSG:32632"]);
    assert!(matches!(found.all[1].lies, Lies::OnBoundary(gap) if gap == 0.0));
    assert!(found.all.len() <= 3, "{found:?}");
    // The boundary may be in another CRS.
    let found = fits(&utm, Some(&near(brunswick, "OGC:CRS84 WGS 84 (CRS84)")));
    assert_eq!(codes(&found)[..2], ["EPSG:25832", "EPSG:32632"]);
    // With a zone in front of the number, as German data have it, and a national grid.
    let prefixed = missing(&about([32_600_000.0, 5_800_000.0]));
    let found = fits(&prefixed, Some(&near(brunswick, "")));
    assert_eq!(codes(&found)[0], "EPSG:4647", "{found:?}");
    let dutch = missing(&about([155_000.0, 463_000.0]));
    let found = fits(
        &dutch,
        Some(&near([5.387204, 52.155172], "EPSG:4326 WGS 84")),
    );
    assert_eq!(codes(&found), ["EPSG:28992"], "{found:?}");
    // A zone that ends 3 degrees to the west.
    let beside = missing(&about([800_000.0, 5_806_000.0]));
    let found = fits(
        &beside,
        Some(&near(
            [13.402719, 52.322149],
            "EPSG:25833 ETRS89 / UTM zone 33N",
        )),
    );
    assert_eq!(
        codes(&found)[..2],
        ["EPSG:25832", "EPSG:32632"],
        "{found:?}"
    );
    // South of the equator, in New Zealand.
    let south = missing(&about([1_570_000.0, 5_180_000.0]));
    let found = fits(&south, Some(&near([172.628719, -43.532340], "")));
    assert_eq!(codes(&found)[0], "EPSG:2193", "{found:?}");
    let mercator = missing(&about([1_165_237.0, 6_862_000.0]));
    let found = fits(&mercator, Some(&near([10.467502, 52.340896], "")));
    assert!(codes(&found).contains(&"EPSG:3857".to_owned()), "{found:?}");
}

#[test]
fn what_lies_on_the_boundary_goes_before_what_lies_beside_it() {
    let utm = layer(DeclaredCrs::None, &about([600_000.0, 5_800_000.0]));
    // On ED50 (pyproj 3.7.2), some 120 m south of the place on ETRS89.
    let corner = |by: f64| LonLat::new(10.4682 + by, 52.3404 + by);
    let field = Near {
        extent: [corner(-0.0002), corner(0.0002)],
        crs: String::from("EPSG:25832 ETRS89 / UTM zone 32N"),
    };
    let found = fits(&utm, Some(&field));
    assert!(
        codes(&found).contains(&"EPSG:23032".to_owned()),
        "{found:?}"
    );
    assert!(
        matches!(found.all[0].lies, Lies::OnBoundary(gap) if gap == 0.0),
        "{found:?}"
    );
    let fault = Crs::of(&utm, None).map(|_| ()).unwrap_err();
    let fault = with_fits(fault, &utm, Some(&field));
    assert!(fault.next.contains("do not guess"), "{fault}");
}

#[test]
fn swapped_axes_and_other_land_are_told_too() {
    let degrees =
        |a: f64, b: f64| layer(DeclaredCrs::None, &[[a, b], [a + 0.001, b], [a, b + 0.001]]);
    let field = near([10.4675, 52.3407], "");
    assert_eq!(
        codes(&fits(&degrees(10.4675, 52.3407), Some(&field)))[0],
        "EPSG:4326"
    );
    let turned = fits(&degrees(52.3407, 10.4675), Some(&field));
    assert_eq!(codes(&turned)[0], "EPSG:4326*");
    let missing = |layer: &Layer| Crs::of(layer, None).map(|_| ()).unwrap_err();
    let turned = degrees(52.3407, 10.4675);
    let fault = with_fits(missing(&turned), &turned, Some(&field));
    assert!(fault.next.contains("x and y swapped"), "{fault}");
    let north_first = layer(DeclaredCrs::None, &about([5_800_000.0, 600_000.0]));
    assert_eq!(codes(&fits(&north_first, Some(&field)))[0], "EPSG:25832*");
    // The next village.
    let village = layer(DeclaredCrs::None, &about([612_000.0, 5_800_000.0]));
    let found = fits(&village, Some(&field));
    assert!(
        matches!(found.all[0].lies, Lies::Beside(m) if (11_000.0..13_000.0).contains(&m)),
        "{found:?}"
    );
    let fault = with_fits(missing(&village), &village, Some(&field));
    assert!(fault.next.contains("km from the boundary"), "{fault}");
    // Nothing near at all.
    let elsewhere = layer(DeclaredCrs::None, &about([155_000.0, 463_000.0]));
    let found = fits(&elsewhere, Some(&field));
    assert!(found.all.is_empty() && found.tried > 20, "{found:?}");
    let fault = with_fits(missing(&elsewhere), &elsewhere, Some(&field));
    assert!(fault.next.contains("belongs to this field"), "{fault}");
    // Other faults stay as they are.
    let other = fault_of(text("EPSG:999999"), None, &about([600_000.0, 5_800_000.0]));
    let same = with_fits(Box::new(other.clone()), &village, Some(&field));
    assert_eq!(other.next, same.next);
}

#[test]
fn without_a_boundary_only_degrees_are_told() {
    let degrees = layer(
        DeclaredCrs::None,
        &[[10.0, 52.0], [10.1, 52.0], [10.0, 52.1]],
    );
    let found = fits(&degrees, None);
    assert_eq!(codes(&found), ["EPSG:4326", "EPSG:4326*"]);
    let high = layer(
        DeclaredCrs::None,
        &[[100.0, 52.0], [100.1, 52.0], [100.0, 52.1]],
    );
    assert_eq!(codes(&fits(&high, None)), ["EPSG:4326"]);
    let metres = layer(DeclaredCrs::None, &about([155_000.0, 463_000.0]));
    // Metres lie somewhere in hundreds of grids: none is offered.
    assert!(fits(&metres, None).all.is_empty());
    let fault = Crs::of(&metres, None).map(|_| ()).unwrap_err();
    let fault = with_fits(fault, &metres, None);
    assert!(fault.next.contains("ask where it was exported"), "{fault}");
    assert!(fits(&layer(DeclaredCrs::None, &[]), None).all.is_empty());
}
