//! The geometry blob of a GeoPackage: a header, then well-known binary.
//!
//! Source: OGC 12-128r18 (GeoPackage 1.3.1), section 2.1.3, `GeoPackageBinaryHeader`.

use super::wkb;
use std::fmt;

/// What the header of a blob says, and where the well-known binary starts.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Header {
    /// The row of `gpkg_spatial_ref_sys` that the coordinates are in.
    pub srs_id: i32,
    /// The geometry has no points.
    pub empty: bool,
    /// Length of the header in bytes, envelope included.
    pub length: usize,
}

/// Why a blob cannot be read. Displays as a sentence without its full stop.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum HeaderError {
    /// It ends inside the header.
    Truncated,
    /// It does not start with `GP`.
    NotGeoPackage,
    /// A version other than 0, which is the only one the standard has.
    Version(u8),
    /// Envelope code 5 to 7, which the standard calls invalid.
    Envelope(u8),
    /// A vendor's own geometry type (`ExtendedGeoPackageBinary`).
    Extended,
}

impl fmt::Display for HeaderError {
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Truncated => out.write_str("the geometry ends inside its header"),
            Self::NotGeoPackage => out.write_str("the geometry does not start with 'GP'"),
            Self::Version(version) => {
                write!(out, "the geometry header has version {version}, not 0")
            }
            Self::Envelope(code) => write!(out, "the geometry header has the envelope code {code}"),
            Self::Extended => out.write_str("the geometry is of a vendor's own (extended) type"),
        }
    }
}

/// Encodes polygons (rings of `[x, y]`, exterior first, closed by the caller) as the blob of one
/// `MULTIPOLYGON`, little endian, with an XY envelope.
///
/// No point at all gives an empty geometry: the empty flag set and no envelope, as the standard asks.
pub fn blob(srs_id: i32, polygons: &[Vec<&[[f64; 2]]>]) -> Vec<u8> {
    let points = polygons.iter().flatten().flat_map(|ring| ring.iter());
    framed(srs_id, points, &wkb::write_multi_polygon(polygons))
}

/// The blob of one `LINESTRING`, as [`blob`].
pub fn line_blob(srs_id: i32, points: &[[f64; 2]]) -> Vec<u8> {
    framed(srs_id, points.iter(), &wkb::write_line(points))
}

/// The blob of one `POINT`, as [`blob`].
pub fn point_blob(srs_id: i32, point: [f64; 2]) -> Vec<u8> {
    framed(srs_id, std::iter::once(&point), &wkb::write_point(point))
}

/// Header, envelope of the points, and what follows.
fn framed<'a>(srs_id: i32, points: impl Iterator<Item = &'a [f64; 2]>, wkb: &[u8]) -> Vec<u8> {
    let envelope = envelope(points);
    let mut out = Vec::with_capacity(40);
    out.extend_from_slice(b"GP");
    out.push(0);
    // Bit 0: little endian. Bits 1-3: envelope code, 1 for XY. Bit 4: empty.
    out.push(if envelope.is_some() {
        0b0000_0011
    } else {
        0b0001_0001
    });
    out.extend_from_slice(&srs_id.to_le_bytes());
    for edge in envelope.into_iter().flatten() {
        out.extend_from_slice(&edge.to_le_bytes());
    }
    out.extend_from_slice(wkb);
    out
}

/// Smallest and largest x, then smallest and largest y, in the order of the header.
fn envelope<'a>(mut points: impl Iterator<Item = &'a [f64; 2]>) -> Option<[f64; 4]> {
    let &[x, y] = points.next()?;
    Some(
        points.fold([x, x, y, y], |[west, east, south, north], &[x, y]| {
            [west.min(x), east.max(x), south.min(y), north.max(y)]
        }),
    )
}

/// Reads the header of a blob.
///
/// # Errors
/// [`HeaderError`] says what the header has that the standard does not know.
pub fn header(blob: &[u8]) -> Result<Header, HeaderError> {
    let &[g, p, version, flags, a, b, c, d, ..] = blob else {
        return Err(if blob.starts_with(b"GP") || blob.len() < 2 {
            HeaderError::Truncated
        } else {
            HeaderError::NotGeoPackage
        });
    };
    if [g, p] != *b"GP" {
        return Err(HeaderError::NotGeoPackage);
    }
    if version != 0 {
        return Err(HeaderError::Version(version));
    }
    if flags & 0b0010_0000 != 0 {
        return Err(HeaderError::Extended);
    }
    let envelope = match (flags >> 1) & 0b111 {
        0 => 0,
        1 => 32,
        2 | 3 => 48,
        4 => 64,
        other => return Err(HeaderError::Envelope(other)),
    };
    let length = 8 + envelope;
    if blob.len() < length {
        return Err(HeaderError::Truncated);
    }
    let bytes = [a, b, c, d];
    let srs_id = if flags & 1 == 1 {
        i32::from_le_bytes(bytes)
    } else {
        i32::from_be_bytes(bytes)
    };
    Ok(Header {
        srs_id,
        empty: flags & 0b0001_0000 != 0,
        length,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    const SQUARE: [[f64; 2]; 5] = [[1.0, 2.0], [4.0, 2.0], [4.0, 6.0], [1.0, 6.0], [1.0, 2.0]];

    #[test]
    fn a_blob_has_the_header_of_the_standard() {
        let bytes = blob(4326, &[vec![&SQUARE[..]]]);
        assert_eq!(&bytes[..8], &[b'G', b'P', 0, 3, 0xE6, 0x10, 0, 0]);
        let edges: Vec<f64> = bytes[8..40]
            .chunks_exact(8)
            .map(|edge| f64::from_le_bytes(edge.try_into().unwrap()))
            .collect();
        assert_eq!(edges, [1.0, 4.0, 2.0, 6.0]);
        assert_eq!(&bytes[40..45], &[1, 6, 0, 0, 0]);
        assert_eq!(
            header(&bytes),
            Ok(Header {
                srs_id: 4326,
                empty: false,
                length: 40
            })
        );
    }

    #[test]
    fn nothing_is_an_empty_geometry_without_envelope() {
        let bytes = blob(4326, &[]);
        assert_eq!(
            header(&bytes),
            Ok(Header {
                srs_id: 4326,
                empty: true,
                length: 8
            })
        );
        assert_eq!(&bytes[8..], &[1, 6, 0, 0, 0, 0, 0, 0, 0]);
    }

    #[test]
    fn every_envelope_and_byte_order_is_known() {
        for (code, length) in [(0, 8), (1, 40), (2, 56), (3, 56), (4, 72)] {
            for (order, id) in [(1, [0xE9, 0x64, 0, 0]), (0, [0, 0, 0x64, 0xE9])] {
                let mut bytes = vec![b'G', b'P', 0, code << 1 | order];
                bytes.extend(id);
                bytes.resize(length, 0);
                assert_eq!(
                    header(&bytes),
                    Ok(Header {
                        srs_id: 25833,
                        empty: false,
                        length
                    })
                );
                bytes.pop();
                assert_eq!(header(&bytes), Err(HeaderError::Truncated));
            }
        }
    }

    #[test]
    fn a_header_that_is_none_says_why() {
        let with = |version, flags| header(&[b'G', b'P', version, flags, 0, 0, 0, 0]);
        assert_eq!(
            header(b"PK\x03\x04\0\0\0\0"),
            Err(HeaderError::NotGeoPackage)
        );
        assert_eq!(header(b""), Err(HeaderError::Truncated));
        assert_eq!(with(1, 1), Err(HeaderError::Version(1)));
        assert_eq!(with(0, 0b1011), Err(HeaderError::Envelope(5)));
        assert_eq!(with(0, 0b10_0001), Err(HeaderError::Extended));
    }
}
