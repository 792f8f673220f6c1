use super::*;

fn table(bytes: &[u8], source: &Source) -> Outcome<Layer> {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("samples.csv");
    std::fs::write(&path, bytes).unwrap();
    read(&path, source)
}

fn read_plain(text: &str) -> Outcome<Layer> {
    table(text.as_bytes(), &Source::default())
}

#[test]
fn separators_commas_and_encodings_are_recognised() {
    let wanted = vec![
        Value::Number(5.5),
        Value::Number(52.25),
        Value::Number(12.5),
    ];
    for text in [
        "lon,lat,P\n5.5,52.25,12.5\n",
        "Lon;Lat;P\n5,5;52,25;12,5\n",
        "lon\tlat\tP\n5.5\t52.25\t12.5\n\n",
    ] {
        let layer = read_plain(text).unwrap_or_else(|fault| panic!("{fault}"));
        assert_eq!(layer.features[0].values, wanted, "{text}");
        assert_eq!(
            layer.features[0].geometry,
            Geometry::Points(vec![[5.5, 52.25]])
        );
        assert_eq!(layer.crs, DeclaredCrs::Text("OGC:CRS84".into()));
    }
    let latin = table(b"x;y;K\xE4lium\n1;2;3\n", &Source::default()).unwrap();
    assert_eq!(latin.attributes[2], "Kälium");
    assert_eq!(latin.crs, DeclaredCrs::None);
    let utf16: Vec<u8> = "\u{feff}x;y\n1;2\n"
        .encode_utf16()
        .flat_map(u16::to_le_bytes)
        .collect();
    assert_eq!(table(&utf16, &Source::default()).unwrap().features.len(), 1);
}

#[test]
fn what_can_be_read_in_two_ways_is_asked_about() {
    let text = "x;y;v\n467,120;6071,905;1,234\n";
    let fault = read_plain("x;y;v\n467120;6071905;1,234\n").unwrap_err();
    assert!(fault.found.contains("1.234 or 1234"), "{fault}");
    assert_eq!(fault.place.line, Some(2));
    for (decimal, wanted) in [(true, Value::Number(1.234)), (false, Value::Integer(1234))] {
        let source = Source {
            decimal_comma: Some(decimal),
            ..Source::default()
        };
        let layer = table(text.as_bytes(), &source).unwrap();
        assert_eq!(layer.features[0].values[2], wanted);
    }
    // One number that is no thousands settles it for all.
    let layer = read_plain("x;y;v\n1;2;1,234\n3;4;0,5\n").unwrap();
    assert_eq!(layer.features[0].values[2], Value::Number(1.234));
}

#[test]
fn faults_name_the_line() {
    assert_eq!(read_plain("x;y\n1;2\n3\n").unwrap_err().place.line, Some(3));
    assert_eq!(
        read_plain("x;y\n1;2\nthere;4\n").unwrap_err().place.line,
        Some(3)
    );
    assert!(
        read_plain("a;b\n1;2\n")
            .unwrap_err()
            .next
            .contains("x_column")
    );
    assert!(read_plain("just words\n").is_err());
}

#[test]
fn a_spare_separator_at_the_end_of_lines_is_no_column() {
    for text in ["x;y;P;\n1;2;3;\n", "x;y;P;\n1;2;3\n", "x;y;P\n1;2;3;\n"] {
        let layer = read_plain(text).unwrap_or_else(|fault| panic!("{fault}"));
        assert_eq!(layer.attributes, ["x", "y", "P"], "{text}");
        assert_eq!(layer.features[0].values.len(), 3, "{text}");
    }
    assert!(read_plain("x;y;P\n1;2;3;4\n").is_err());
    assert!(read_plain("x;y;P\n1;2;3;;\n").is_err());
}

#[test]
fn polygons_in_words_are_read() {
    let text = "WKT,soil\n\"POLYGON ((5 52, 5.1 52, 5.1 52.1, 5 52))\",loam\n\"MULTIPOLYGON (((5 52, 5.1 52, 5 52.1, 5 52)))\",\n";
    let layer = read_plain(text).unwrap_or_else(|fault| panic!("{fault}"));
    assert_eq!(layer.attributes, ["soil"]);
    assert_eq!(layer.features[0].values, [Value::Text("loam".into())]);
    assert_eq!(layer.features[1].values, [Value::Missing]);
    let Geometry::Polygons(polygons) = &layer.features[0].geometry else {
        panic!("{layer:?}");
    };
    assert_eq!(polygons[0].exterior.len(), 4);
    assert_eq!(layer.crs, DeclaredCrs::None);
    let with_crs = "id;geom\n1;SRID=25832;POINT (1 2)\n";
    assert!(read_plain(with_crs).is_err());
    let with_crs = "id;geom\n1;\"SRID=25832;POINT (1 2)\"\n";
    let layer = read_plain(with_crs).unwrap();
    assert_eq!(layer.crs, DeclaredCrs::Text("EPSG:25832".into()));
    let two = "id;geom\n1;\"SRID=25832;POINT (1 2)\"\n2;POINT (1 2)\n";
    assert_eq!(read_plain(two).unwrap_err().place.line, Some(3));
    let cut = "id;geom\n1;POLYGON ((1 2, 3 4\n";
    assert!(read_plain(cut).unwrap_err().found.contains("missing"));
}

#[test]
fn a_table_of_nothing_but_separators_is_refused_before_it_fills_the_memory() {
    let columns = 2_000;
    let mut text = "x;y".to_owned() + &";c".repeat(columns) + "\n";
    for _ in 0..10_000 {
        text.push_str("1;2");
        text.push_str(&";".repeat(columns));
        text.push('\n');
    }
    let fault = read_plain(&text).unwrap_err();
    assert!(fault.allowed.contains("values"), "{fault}");
}
