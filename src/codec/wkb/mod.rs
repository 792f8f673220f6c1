//! Well-known binary, the geometry encoding of OGC 06-103r4 (Simple Feature Access, part 1,
//! section 8) and ISO 13249-3. [`write_multi_polygon`] writes it; [`read`] reads it.

mod read;
#[cfg(test)]
mod tests;

pub use read::{Decoded, Error, Shape, read};

/// Code of a point in the OGC table of types (06-103r4, table 7).
const POINT: u32 = 1;
/// Code of a line in the same table.
const LINE: u32 = 2;
/// Code of a polygon in the OGC table of types (06-103r4, table 7).
const POLYGON: u32 = 3;
/// Code of a multi-polygon in the same table.
const MULTI_POLYGON: u32 = 6;

/// Encodes polygons as one little-endian `MULTIPOLYGON`.
///
/// Each polygon is its rings, the exterior first; each ring is its points, `[x, y]`. Rings are
/// written as given: the caller closes them (the last point repeats the first). No polygon gives
/// `MULTIPOLYGON EMPTY`.
///
/// Source: OGC 06-103r4, section 8.2.
pub fn write_multi_polygon(polygons: &[Vec<&[[f64; 2]]>]) -> Vec<u8> {
    let points: usize = polygons.iter().flatten().map(|ring| ring.len()).sum();
    let rings: usize = polygons.iter().map(Vec::len).sum();
    let mut out = Vec::with_capacity(9 + polygons.len() * 9 + rings * 4 + points * 16);
    header(&mut out, MULTI_POLYGON, polygons.len());
    for polygon in polygons {
        header(&mut out, POLYGON, polygon.len());
        for ring in polygon {
            count(&mut out, ring.len());
            for [x, y] in *ring {
                out.extend_from_slice(&x.to_le_bytes());
                out.extend_from_slice(&y.to_le_bytes());
            }
        }
    }
    out
}

/// Encodes a line as one little-endian `LINESTRING` (OGC 06-103r4, section 8.2); no point gives an empty one.
pub fn write_line(points: &[[f64; 2]]) -> Vec<u8> {
    let mut out = Vec::with_capacity(9 + points.len() * 16);
    header(&mut out, LINE, points.len());
    for v in points.iter().flatten() {
        out.extend_from_slice(&v.to_le_bytes());
    }
    out
}

/// Encodes a point as little-endian `POINT` (OGC 06-103r4, section 8.2).
pub fn write_point(point: [f64; 2]) -> Vec<u8> {
    let mut out = vec![1];
    out.extend_from_slice(&POINT.to_le_bytes());
    for v in point {
        out.extend_from_slice(&v.to_le_bytes());
    }
    out
}

/// Byte order mark (1: little endian), type and number of parts.
fn header(out: &mut Vec<u8>, kind: u32, parts: usize) {
    out.push(1);
    out.extend_from_slice(&kind.to_le_bytes());
    count(out, parts);
}

/// A count as WKB has it. A slice of more than `u32::MAX` points would be 64 GiB, which no caller
/// can hold beside its encoding, so the cast loses nothing.
fn count(out: &mut Vec<u8>, number: usize) {
    out.extend_from_slice(&(number as u32).to_le_bytes());
}
