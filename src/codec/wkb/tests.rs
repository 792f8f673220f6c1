//! The bytes in these tests were written by Shapely 2.2.0 on GEOS 3.14.1, not by this crate.

use super::*;

fn bytes(hex: &str) -> Vec<u8> {
    (0..hex.len())
        .step_by(2)
        .map(|at| u8::from_str_radix(&hex[at..at + 2], 16).unwrap())
        .collect()
}

/// `MULTIPOLYGON (((0 0,4 0,4 4,0 4,0 0),(1 1,2 1,2 2,1 2,1 1)),((5 5,6 5,6 6,5 5)))`
const TWO_POLYGONS: &str = concat!(
    "010600000002000000010300000002000000050000000000000000000000000000000000000000000000000010",
    "400000000000000000000000000000104000000000000010400000000000000000000000000000104000000000",
    "000000000000000000000000",
    "05000000000000000000F03F000000000000F03F0000000000000040000000000000F03F0000000000000040",
    "0000000000000040000000000000F03F0000000000000040000000000000F03F000000000000F03F",
    "010300000001000000040000000000000000001440000000000000144000000000000018400000000000001440",
    "0000000000001840000000000000184000000000000014400000000000001440",
);

fn two_polygons() -> Vec<Vec<Vec<[f64; 2]>>> {
    vec![
        vec![
            vec![[0.0, 0.0], [4.0, 0.0], [4.0, 4.0], [0.0, 4.0], [0.0, 0.0]],
            vec![[1.0, 1.0], [2.0, 1.0], [2.0, 2.0], [1.0, 2.0], [1.0, 1.0]],
        ],
        vec![vec![[5.0, 5.0], [6.0, 5.0], [6.0, 6.0], [5.0, 5.0]]],
    ]
}

fn plain(shape: Shape) -> Result<Decoded, Error> {
    Ok(Decoded {
        shape,
        z: false,
        m: false,
    })
}

#[test]
fn polygons_are_written_as_another_program_writes_them() {
    let polygons = two_polygons();
    let slices: Vec<Vec<&[[f64; 2]]>> = polygons
        .iter()
        .map(|rings| rings.iter().map(Vec::as_slice).collect())
        .collect();
    assert_eq!(write_multi_polygon(&slices), bytes(TWO_POLYGONS));
}

#[test]
fn polygons_are_read_back() {
    assert_eq!(
        read(&bytes(TWO_POLYGONS)),
        plain(Shape::Polygons(two_polygons()))
    );
}

#[test]
fn z_and_m_are_dropped_and_said_in_both_spellings() {
    let triangle = Shape::Polygons(vec![vec![vec![
        [0.0, 0.0],
        [4.0, 0.0],
        [4.0, 4.0],
        [0.0, 0.0],
    ]]]);
    // POLYGON Z, big endian, ISO code 1003; then little endian with the flag bit.
    let iso = concat!(
        "00000003EB00000001000000040000000000000000000000000000000040220000000000004010000000000000",
        "000000000000000040220000000000004010000000000000401000000000000040220000000000000000000000",
        "00000000000000000000004022000000000000",
    );
    let flags = concat!(
        "010300008001000000040000000000000000000000000000000000000000000000000022400000000000001040",
        "000000000000000000000000000022400000000000001040000000000000104000000000000022400000000000",
        "00000000000000000000000000000000002240",
    );
    for hex in [iso, flags] {
        assert_eq!(
            read(&bytes(hex)),
            Ok(Decoded {
                shape: triangle.clone(),
                z: true,
                m: false
            })
        );
    }
    // LINESTRING M (1 2 7, 3 4 8); MULTILINESTRING ZM ((1 2 7 7, 3 4 8 8))
    let line = Shape::Lines(vec![vec![[1.0, 2.0], [3.0, 4.0]]]);
    let measured = concat!(
        "01D207000002000000000000000000F03F00000000000000400000000000001C40000000000000084000000000",
        "000010400000000000002040",
    );
    assert_eq!(
        read(&bytes(measured)),
        Ok(Decoded {
            shape: line.clone(),
            z: false,
            m: true
        })
    );
    let both = concat!(
        "01BD0B00000100000001BA0B000002000000000000000000F03F00000000000000400000000000001C40000000",
        "0000001C400000000000000840000000000000104000000000000020400000000000002040",
    );
    assert_eq!(
        read(&bytes(both)),
        Ok(Decoded {
            shape: line,
            z: true,
            m: true
        })
    );
}

#[test]
fn points_empty_points_and_a_stated_srid() {
    // MULTIPOINT (1 2, 3.5 -4), big endian
    let hex = concat!(
        "00000000040000000200000000013FF000000000000040000000000000000000000001400C000000000000C010",
        "000000000000",
    );
    assert_eq!(
        read(&bytes(hex)),
        plain(Shape::Points(vec![[1.0, 2.0], [3.5, -4.0]]))
    );
    assert_eq!(
        read(&bytes("0101000000000000000000F87F000000000000F87F")),
        plain(Shape::Empty)
    );
    // SRID=4326; POINT (1 2)
    let hex = "0101000020E6100000000000000000F03F0000000000000040";
    assert_eq!(read(&bytes(hex)), plain(Shape::Points(vec![[1.0, 2.0]])));
}

#[test]
fn collections_flatten_unless_they_mix() {
    // GEOMETRYCOLLECTION (POLYGON ((0 0,1 0,1 1,0 0)), MULTIPOLYGON (((2 2,3 2,3 3,2 2))))
    let hex = concat!(
        "0107000000020000000103000000010000000400000000000000000000000000000000000000000000000000F0",
        "3F0000000000000000000000000000F03F000000000000F03F0000000000000000000000000000000001060000",
        "000100000001030000000100000004000000000000000000004000000000000000400000000000000840000000",
        "00000000400000000000000840000000000000084000000000000000400000000000000040",
    );
    let triangle = |o: f64| vec![vec![[o, o], [o + 1.0, o], [o + 1.0, o + 1.0], [o, o]]];
    assert_eq!(
        read(&bytes(hex)),
        plain(Shape::Polygons(vec![triangle(0.0), triangle(2.0)]))
    );
    // GEOMETRYCOLLECTION (POLYGON ((0 0,1 0,1 1,0 0)), POINT (2 2))
    let hex = concat!(
        "0107000000020000000103000000010000000400000000000000000000000000000000000000000000000000F0",
        "3F0000000000000000000000000000F03F000000000000F03F0000000000000000000000000000000001010000",
        "0000000000000000400000000000000040",
    );
    assert_eq!(read(&bytes(hex)), Err(Error::Mixed));
}

#[test]
fn what_is_not_read_is_named() {
    let with = |code: u32| {
        let mut bytes = vec![1];
        bytes.extend(code.to_le_bytes());
        bytes.extend([0; 4]);
        read(&bytes)
    };
    assert_eq!(with(16), Err(Error::Unsupported("TIN")));
    assert_eq!(with(1008), Err(Error::Arc));
    assert_eq!(with(99), Err(Error::UnknownType(99)));
    assert_eq!(with(4003), Err(Error::UnknownType(4003)));
    assert_eq!(read(&[2, 1, 0, 0, 0]), Err(Error::ByteOrder(2)));
    assert_eq!(read(&[]), Err(Error::Truncated { at: 0 }));
    assert_eq!(
        read(&[1, 7, 0, 0, 0, 0, 0, 0, 0, 5]),
        Err(Error::Trailing(1))
    );
    // A multi-point that holds a line.
    let wrong = [1, 4, 0, 0, 0, 1, 0, 0, 0, 1, 2, 0, 0, 0, 0, 0, 0, 0];
    assert_eq!(read(&wrong), Err(Error::WrongPart(2)));
}

#[test]
fn a_huge_count_or_deep_nesting_ends_in_an_error() {
    let huge = [1, 3, 0, 0, 0, 0xFF, 0xFF, 0xFF, 0xFF];
    assert_eq!(read(&huge), Err(Error::Truncated { at: 9 }));
    let nest: Vec<u8> = [1, 7, 0, 0, 0, 1, 0, 0, 0].repeat(100_000);
    assert_eq!(read(&nest), Err(Error::TooDeep));
}

#[test]
fn every_cut_is_an_error() {
    let whole = bytes(TWO_POLYGONS);
    for length in 0..whole.len() {
        assert!(
            matches!(read(&whole[..length]), Err(Error::Truncated { .. })),
            "{length}"
        );
    }
}

/// One geometry: byte order, type, count, and what follows.
fn geometry(kind: u32, parts: &[Vec<u8>]) -> Vec<u8> {
    let mut bytes = vec![1];
    bytes.extend(kind.to_le_bytes());
    bytes.extend((parts.len() as u32).to_le_bytes());
    bytes.extend(parts.iter().flatten());
    bytes
}

fn points(places: &[[f64; 2]]) -> Vec<Vec<u8>> {
    let bytes = |place: &[f64; 2]| place.iter().flat_map(|v| v.to_le_bytes()).collect();
    places.iter().map(bytes).collect()
}

/// Type numbers of ISO/IEC 13249-3, as OGC 06-103r4 has them: 2 line, 3 polygon, 8 circular string, 9 compound curve,
/// 10 curve polygon, 11 multi-curve, 12 multi-surface.
#[test]
fn curves_without_an_arc_are_lines_and_polygons() {
    let ring = [[0.0, 0.0], [4.0, 0.0], [4.0, 4.0], [0.0, 0.0]];
    let line = geometry(2, &points(&ring));
    let two = [&ring[..3], &ring[2..]].map(|piece| geometry(2, &points(piece)));
    let compound = geometry(9, &two);
    let plain_polygon = {
        let mut body = (ring.len() as u32).to_le_bytes().to_vec();
        body.extend(points(&ring).concat());
        geometry(3, &[body])
    };
    let polygon = vec![ring.to_vec()];
    let holed = vec![ring.to_vec(), ring.to_vec()];
    for (bytes, wanted) in [
        (
            geometry(12, std::slice::from_ref(&plain_polygon)),
            Shape::Polygons(vec![polygon.clone()]),
        ),
        (
            geometry(10, std::slice::from_ref(&line)),
            Shape::Polygons(vec![polygon.clone()]),
        ),
        (
            geometry(10, &[compound.clone(), line.clone()]),
            Shape::Polygons(vec![holed.clone()]),
        ),
        (
            geometry(
                12,
                &[
                    plain_polygon.clone(),
                    geometry(10, &[compound.clone(), line.clone()]),
                ],
            ),
            Shape::Polygons(vec![polygon, holed]),
        ),
        (
            geometry(11, std::slice::from_ref(&compound)),
            Shape::Lines(vec![ring.to_vec()]),
        ),
        (compound.clone(), Shape::Lines(vec![ring.to_vec()])),
    ] {
        assert_eq!(read(&bytes), plain(wanted));
        for length in 0..bytes.len() {
            let cut = read(&bytes[..length]);
            assert!(matches!(cut, Err(Error::Truncated { .. })), "{length}");
        }
    }
    let arc = geometry(8, &points(&ring[..3]));
    let with_arc = geometry(9, &[arc.clone(), geometry(2, &points(&ring[2..]))]);
    for bytes in [
        &geometry(10, std::slice::from_ref(&arc)),
        &geometry(12, &[geometry(10, &[with_arc])]),
    ] {
        assert_eq!(read(bytes), Err(Error::Arc));
    }
    let apart = [two[0].clone(), geometry(2, &points(&ring[..2]))];
    assert_eq!(
        read(&geometry(10, &[geometry(9, &apart)])),
        Err(Error::Apart)
    );
    // A surface holds no lines, a compound curve none of its kind.
    assert_eq!(read(&geometry(12, &[line])), Err(Error::WrongPart(2)));
    assert_eq!(read(&geometry(9, &[compound])), Err(Error::WrongPart(9)));
}
