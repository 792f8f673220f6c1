//! Geometries as a GeoPackage keeps them: a header (GP, flags, SRS, envelope) and ISO WKB.

/// A MultiPolygon with its envelope, little-endian (OGC GeoPackage 1.4, clause 2.1.3).
///
/// Shape: one entry per polygon, its exterior first, then its holes; rings closed.
pub fn blob(srs_id: i32, polygons: &[Vec<&[[f64; 2]]>]) -> Vec<u8> {
    let mut extent = [
        f64::INFINITY,
        f64::NEG_INFINITY,
        f64::INFINITY,
        f64::NEG_INFINITY,
    ];
    for [x, y] in polygons.iter().flatten().flat_map(|ring| ring.iter()) {
        extent = [
            extent[0].min(*x),
            extent[1].max(*x),
            extent[2].min(*y),
            extent[3].max(*y),
        ];
    }
    let empty = extent[0] > extent[1];
    let mut out = vec![b'G', b'P', 0];
    // Bit 0: little-endian; bits 1-3: envelope kind (1 is xy, 0 none); bit 4: empty.
    out.push(if empty { 0b1_0001 } else { 0b0_0011 });
    out.extend(srs_id.to_le_bytes());
    if !empty {
        out.extend(extent.iter().flat_map(|value| value.to_le_bytes()));
    }
    let count = |out: &mut Vec<u8>, count: usize| {
        out.extend(u32::try_from(count).unwrap_or(u32::MAX).to_le_bytes());
    };
    out.push(1);
    out.extend(6u32.to_le_bytes());
    count(&mut out, polygons.len());
    for polygon in polygons {
        out.push(1);
        out.extend(3u32.to_le_bytes());
        count(&mut out, polygon.len());
        for ring in polygon {
            count(&mut out, ring.len());
            out.extend(ring.iter().flatten().flat_map(|value| value.to_le_bytes()));
        }
    }
    out
}
