//! Which pixels of a raster lie on the field.

use super::spans::Spans;
use crate::coordinates::PlaneXy;
use crate::findings::{Fault, Outcome};
use crate::frame::{Crs, Frame};
use crate::read::{Geometry, Layer, Raster, Window};

/// Pixels beyond the field that are kept, so that pixels cut by the border are whole.
const MARGIN: f64 = 2.0;

/// The window of a raster over a field, and what of it is land.
pub(super) struct Ground {
    pub window: Window,
    /// Pixels of the window whose middle lies on the field.
    pub inside: Spans,
    /// Pixels that may touch the field.
    pub near: Spans,
    /// Area of a pixel in the middle of the field, m2.
    pub pixel_m2: f64,
    /// Width and height of a pixel in the middle of the field, metres.
    pub pixel_m: [f64; 2],
}

/// Lays the field (in its plane) over a raster.
///
/// # Errors
/// The raster does not reach the field.
pub(super) fn under(
    raster: &Raster,
    crs: &Crs,
    frame: &Frame,
    boundary: &Layer<PlaneXy>,
) -> Outcome<Ground> {
    let rings = rings(boundary);
    let polygons: Vec<Vec<Vec<[f64; 2]>>> = rings
        .iter()
        .map(|polygon| {
            polygon
                .iter()
                .map(|ring| in_pixels(ring, raster, crs, frame))
                .collect()
        })
        .collect();
    let window = window(raster, polygons.iter().flatten().flatten())?;
    let (inside, near) = covered(&polygons, window);
    let (pixel_m2, pixel_m) = pixel(raster, crs, frame, window)?;
    Ok(Ground {
        window,
        inside,
        near,
        pixel_m2,
        pixel_m,
    })
}

/// The window of a raster over a field, without looking at its pixels.
///
/// # Errors
/// The raster does not reach the field.
pub(super) fn window_under(
    raster: &Raster,
    crs: &Crs,
    frame: &Frame,
    boundary: &Layer<PlaneXy>,
) -> Outcome<Window> {
    let points: Vec<[f64; 2]> = rings(boundary)
        .iter()
        .flatten()
        .flat_map(|ring| in_pixels(ring, raster, crs, frame))
        .collect();
    window(raster, points.iter())
}

/// A grid of square cells over the field, in its plane, and the grid's top left corner. `None` where
/// there would be more than 25 million cells.
pub(super) fn on_plane(boundary: &Layer<PlaneXy>, cell_m: f64) -> Option<(Ground, [f64; 2])> {
    let (mut low, mut high) = ([f64::INFINITY; 2], [f64::NEG_INFINITY; 2]);
    let rings = rings(boundary);
    for point in rings.iter().flatten().flatten() {
        for axis in 0..2 {
            low[axis] = low[axis].min(point[axis]);
            high[axis] = high[axis].max(point[axis]);
        }
    }
    let cells = |axis: usize| ((high[axis] - low[axis]) / cell_m).ceil() + 2.0 * MARGIN;
    let count = cells(0) * cells(1);
    // A boundary without a point gives infinities.
    if !count.is_finite() || count > 25e6 {
        return None;
    }
    let corner = [low[0] - MARGIN * cell_m, high[1] + MARGIN * cell_m];
    let window = Window {
        column: 0,
        row: 0,
        columns: cells(0) as u32,
        rows: cells(1) as u32,
    };
    let in_cells = |[x, y]: &[f64; 2]| [(x - corner[0]) / cell_m, (corner[1] - y) / cell_m];
    let polygons: Vec<Vec<Vec<[f64; 2]>>> = rings
        .iter()
        .map(|polygon| {
            polygon
                .iter()
                .map(|ring| ring.iter().map(in_cells).collect())
                .collect()
        })
        .collect();
    let (inside, near) = covered(&polygons, window);
    let inside = match inside.is_empty() {
        false => inside,
        // A field smaller than a cell.
        true => near.clone(),
    };
    let ground = Ground {
        window,
        inside,
        near,
        pixel_m2: cell_m * cell_m,
        pixel_m: [cell_m, cell_m],
    };
    Some((ground, corner))
}

/// Which pixels of a window have their middle in one of the polygons, and which may touch one.
fn covered(polygons: &[Vec<Vec<[f64; 2]>>], window: Window) -> (Spans, Spans) {
    let (columns, rows) = (window.columns as usize, window.rows as usize);
    let mut inside = vec![Vec::new(); rows];
    let mut near = vec![Vec::new(); rows];
    for polygon in polygons {
        let local: Vec<Vec<[f64; 2]>> = polygon
            .iter()
            .map(|ring| {
                ring.iter()
                    .map(|[x, y]| [x - f64::from(window.column), y - f64::from(window.row)])
                    .collect()
            })
            .collect();
        fill(&local, columns, &mut inside);
        touch(&local, columns, &mut near);
    }
    for (near, inside) in near.iter_mut().zip(&inside) {
        near.extend(inside);
    }
    (
        Spans::of_rows(columns, inside),
        Spans::of_rows(columns, near),
    )
}

fn rings(boundary: &Layer<PlaneXy>) -> Vec<Vec<Vec<[f64; 2]>>> {
    let mut all = Vec::new();
    for feature in &boundary.features {
        if let Geometry::Polygons(polygons) = &feature.geometry {
            for polygon in polygons {
                let rings = std::iter::once(&polygon.exterior).chain(&polygon.holes);
                let pairs = |ring: &Vec<PlaneXy>| ring.iter().map(|place| place.pair()).collect();
                all.push(rings.map(pairs).collect());
            }
        }
    }
    all
}

/// Plane metres to columns and rows.
fn in_pixels(ring: &[[f64; 2]], raster: &Raster, crs: &Crs, frame: &Frame) -> Vec<[f64; 2]> {
    let places = ring
        .iter()
        .map(|&p| frame.to_lon_lat(PlaneXy::of_pair(p)))
        .collect();
    crs.from_wgs84(places)
        .into_iter()
        .map(|[x, y]| {
            [
                (x - raster.corner[0]) / raster.step[0],
                (y - raster.corner[1]) / raster.step[1],
            ]
        })
        .collect()
}

fn window<'a>(raster: &Raster, points: impl Iterator<Item = &'a [f64; 2]>) -> Outcome<Window> {
    let (mut low, mut high) = ([f64::INFINITY; 2], [f64::NEG_INFINITY; 2]);
    for point in points {
        for axis in 0..2 {
            low[axis] = low[axis].min(point[axis]);
            high[axis] = high[axis].max(point[axis]);
        }
    }
    let part = |axis: usize, all: u32| {
        let first = (low[axis] - MARGIN).floor().clamp(0.0, f64::from(all));
        let end = (high[axis] + MARGIN).ceil().clamp(0.0, f64::from(all));
        // Within the raster, so within 32 bits; NaN becomes 0.
        (first as u32, (end - first).max(0.0) as u32)
    };
    let (column, columns) = part(0, raster.columns);
    let (row, rows) = part(1, raster.rows);
    if columns == 0 || rows == 0 {
        return Err(off_field(raster));
    }
    Ok(Window {
        column,
        row,
        columns,
        rows,
    })
}

/// The fault for a raster without a pixel on the field.
pub(super) fn off_field(raster: &Raster) -> Box<Fault> {
    Fault::input(
        "surface.off_field",
        raster.place(),
        "no pixel of the raster lies on the field",
        "a raster that covers the field",
        "check the CRS of the raster and of the boundary, and name it in the job if the file is wrong",
    )
}

/// Per row of a grid: spans of columns.
type Rows = Vec<Vec<[u32; 2]>>;

/// Adds the pixels whose middle lies in a polygon: even-odd, row by row.
fn fill(rings: &[Vec<[f64; 2]>], columns: usize, inside: &mut Rows) {
    let rows = inside.len();
    let mut crossings: Vec<Vec<f64>> = vec![Vec::new(); rows];
    for ring in rings {
        for (n, &[x0, y0]) in ring.iter().enumerate() {
            let [x1, y1] = ring[(n + 1) % ring.len()];
            let (top, bottom) = (y0.min(y1), y0.max(y1));
            // Rows whose middle lies in [top, bottom).
            let first = (top - 0.5).ceil().clamp(0.0, rows as f64) as usize;
            let end = (bottom - 0.5).ceil().clamp(0.0, rows as f64) as usize;
            for (row, list) in crossings.iter_mut().enumerate().take(end).skip(first) {
                let middle = row as f64 + 0.5;
                list.push(x0 + (middle - y0) / (y1 - y0) * (x1 - x0));
            }
        }
    }
    for (list, inside) in crossings.iter_mut().zip(inside) {
        list.sort_by(f64::total_cmp);
        for pair in list.chunks_exact(2) {
            let column = |x: f64| (x - 0.5).ceil().clamp(0.0, columns as f64) as u32;
            inside.push([column(pair[0]), column(pair[1])]);
        }
    }
}

/// Adds the pixels along the rings, with one pixel around.
fn touch(rings: &[Vec<[f64; 2]>], columns: usize, near: &mut Rows) {
    let rows = near.len();
    // Within 32 bits, as far out as a point may lie.
    let low = |at: f64| (at.floor() - 1.0).max(0.0) as u32;
    let end = |at: f64, all: usize| (at.floor() + 2.0).clamp(0.0, all as f64) as u32;
    let mut mark = |[x, y]: [f64; 2]| {
        let (from, to) = (low(x), end(x, columns));
        let (first, end) = (low(y) as usize, end(y, rows) as usize);
        for near in near.iter_mut().take(end).skip(first) {
            match near.last_mut() {
                // Most marks lie over the one before.
                Some([start, stop]) if from <= *stop && *start <= to => {
                    (*start, *stop) = (from.min(*start), to.max(*stop));
                }
                _ => near.push([from, to]),
            }
        }
    };
    for ring in rings {
        for (n, &[x0, y0]) in ring.iter().enumerate() {
            let [x1, y1] = ring[(n + 1) % ring.len()];
            let length = (x1 - x0).abs().max((y1 - y0).abs());
            let steps = length.ceil().clamp(1.0, 1e6);
            for step in 0..=steps as u32 {
                let t = f64::from(step) / steps;
                mark([x0 + t * (x1 - x0), y0 + t * (y1 - y0)]);
            }
        }
    }
}

/// Area, width and height of the pixel in the middle of the window, by its corners in the plane.
fn pixel(raster: &Raster, crs: &Crs, frame: &Frame, window: Window) -> Outcome<(f64, [f64; 2])> {
    let column = f64::from(window.column + window.columns / 2);
    let row = f64::from(window.row + window.rows / 2);
    let corners = [
        [column, row],
        [column + 1.0, row],
        [column + 1.0, row + 1.0],
        [column, row + 1.0],
    ]
    .map(|corner| raster.at(corner));
    let places = crs.to_wgs84(&corners)?;
    let [a, b, c, d] = [0, 1, 2, 3].map(|nth: usize| frame.to_plane(places[nth]).pair());
    let cross = |p: [f64; 2], q: [f64; 2]| p[0] * q[1] - p[1] * q[0];
    let away = |p: [f64; 2], q: [f64; 2]| [p[0] - q[0], p[1] - q[1]];
    let area = cross(away(c, a), away(d, b)).abs() / 2.0;
    let length = |p: [f64; 2], q: [f64; 2]| (p[0] - q[0]).hypot(p[1] - q[1]);
    Ok((area, [length(a, b), length(a, d)]))
}
