//! How far a file may differ from the plan it is held against: what rounding and drawing may move, and nothing else.
//! Derivation: docs/formats/audit.md, 'Bounds'.

use super::cells::Tile;
use super::outline::Outline;
use crate::coordinates::LonLat;
use crate::units::M_PER_DEGREE;

/// How far a line that a reader draws in degrees may lie beside an edge of the plan, metres (docs/methods/frame.md).
const DRAWN_M: f64 = 0.000_3;
/// Nine decimals move a point by half a step along each axis: sqrt(2) / 2 x 1e-9 degree x 111.2 km, metres.
const ROUNDED_M: f64 = 0.000_079;
/// Half a step of nine decimals, and what comparing such numbers adds, degrees.
pub(super) const EXTENT_DEGREES: f64 = 6e-10;
/// What an edge of the plan and the line that a file draws for it enclose, per metre of border, m2: at most two
/// thirds of how far they lie apart (a parabola), and what rounding moves.
pub(super) const MOVED_M: f64 = DRAWN_M * 2.0 / 3.0 + ROUNDED_M;
/// By how much land made anew from a job may differ, per metre of its border, m2: what files move; borders nearer to each
/// other than half a millimetre that planning brings together (docs/methods/near-borders.md); and points on edges that are
/// straight in another CRS (docs/methods/frame.md).
const ANEW_M: f64 = MOVED_M + 0.000_5 + 0.000_05;
/// How far the chord of an arc around a corner may lie from the arc in a plan, metres (docs/methods/land-and-zones.md), and
/// here, as a share of the radius: the cosine of 0.01 pi, less 1.
const ARC_M: f64 = 0.001;
const ARC_SHARE: f64 = 0.000_494;
/// The same as for land, for setback strips: here they are no wider than they should be, in a plan narrower by its arcs.
pub(super) const STRIP_M: f64 = ANEW_M + ARC_M;
/// Maps of the drive are drawn on a grid of 2^-10 m: half a step along each axis, metres.
pub(super) const DRIVE_GRID_M: f64 = 0.000_7;
/// Share by which sums of areas may differ through the arithmetic alone, that of the plane included (1e-8 m).
pub(super) const ARITHMETIC: f64 = 2e-9;
/// Share by which a number that is stored in 32 bits may differ: 2^-24.
pub(super) const SINGLE: f64 = 6e-8;
/// Half a step of the six decimals that tables hold, kg/ha.
pub(super) const TABLE_STEP_KG_PER_HA: f64 = 5e-7;
/// Semi-major axis of WGS 84 and its smallest radius of curvature, in the meridian at the equator, metres.
const SEMI_MAJOR_M: f64 = 6_378_137.0;
const RADIUS_M: f64 = 6_335_439.0;

/// What the plane of a plan and the ellipsoid may differ by.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Bounds {
    /// As a share of an area: the square of the scale at the place farthest east or west of the middle, less 1.
    plane: f64,
}

impl Bounds {
    /// For a plane about this place and an extent (west, south, east, north).
    pub(super) fn of(origin: LonLat, extent: Option<[f64; 4]>) -> Self {
        let away = |lon: f64| {
            let east = (lon - origin.lon).abs();
            east.min(360.0 - east)
        };
        let farthest = extent.map_or(0.0, |[west, _, east, _]| away(west).max(away(east)));
        // A degree of longitude is longest where the field comes nearest to the equator.
        let nearest = extent.map_or(origin.lat.abs(), |[_, south, _, north]| {
            south.abs().min(north.abs()).min(origin.lat.abs())
        });
        let x = farthest.to_radians() * nearest.to_radians().cos() * 1.004;
        Self {
            plane: (x * SEMI_MAJOR_M / RADIUS_M).powi(2),
        }
    }

    /// For land of this size with a border of this length, m2.
    pub(super) fn land_m2(&self, m2: f64, border_m: f64) -> f64 {
        border_m * MOVED_M + m2.abs() * (self.plane + ARITHMETIC)
    }
}

/// By how much land may differ whose exclusions have a buffer of this width, per metre of border, m2. A chord encloses two
/// thirds of how far it lies from its arc.
pub(super) fn anew_m(buffer_m: f64) -> f64 {
    let arc_m = match buffer_m > 0.0 {
        true => ARC_M.max(buffer_m * ARC_SHARE),
        false => 0.0,
    };
    ANEW_M + arc_m * 2.0 / 3.0
}

/// By how much the cells of a grid in degrees may differ from the outline whose shares they have, m2.
///
/// A cell counts by its share in degrees, as if land lay evenly in it; it lies more densely at the end nearer to the
/// equator, by the height of the cell times tan(latitude) / R, and the worst share of a cell is off by an eighth of that.
/// A border of length L meets at most 2 L / height + 4 cells. Outlines are measured in steps of cells.
pub(super) fn in_cells_m2(tile: &Tile, outline: &Outline) -> f64 {
    let latitude = tile.origin[1] + tile.cell[1] * tile.rows as f64 / 2.0;
    let height_m = tile.cell[1] * M_PER_DEGREE;
    let width_m = tile.cell[0] * M_PER_DEGREE * latitude.to_radians().cos();
    let uneven = height_m * latitude.to_radians().tan().abs() / RADIUS_M / 8.0;
    let cells = 2.0 * outline.border_m / height_m.min(width_m) + 4.0;
    let stepped_m = height_m.max(width_m) / tile.steps() as f64;
    cells * height_m * width_m * uneven
        + outline.border_m * stepped_m
        + outline.area_m2 * ARITHMETIC
}

/// The share of a cell that lies on the other side of a strip's border only because files move it and arcs are chords.
pub(super) fn share_of_cell(tile: &Tile) -> f64 {
    let latitude = tile.origin[1] + tile.cell[1] * tile.rows as f64 / 2.0;
    let height_m = tile.cell[1] * M_PER_DEGREE;
    let width_m = tile.cell[0] * M_PER_DEGREE * latitude.to_radians().cos();
    STRIP_M * 2.0 * (height_m + width_m) / (height_m * width_m)
}

/// How far the middle of land of this size may lie from where it should if its border moves by so much, metres:
/// moved land times its distance from the middle, by the land there is.
pub(super) fn middle_m(m2: f64, border_m: f64, across_m: f64) -> f64 {
    border_m * MOVED_M * across_m / m2.max(f64::MIN_POSITIVE)
}
