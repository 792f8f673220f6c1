//! Values on land to classes, and classes to polygons.

mod breaks;
mod cells;
mod classes;
mod counted;
mod field_place;
mod fitting;
mod ground;
mod k_means;
mod kriging;
mod means;
mod narrow_zones;
mod nearest;
mod points;
mod raster;
mod regions;
mod samples;
#[cfg(test)]
mod test_grids;
mod smooth;
mod spans;
#[cfg(test)]
mod tests;
mod together;
mod trace;
mod track;
mod under;
mod variogram;
mod zonal;
mod zones;

pub use cells::{CellValues, PlaneCells, SurfaceGrid};
pub use field_place::FieldPlace;
pub use raster::raster_zones;
pub use together::cell_zones;
pub use zonal::{ZonalNumbers, ZonalRow, ZonalTable, zonal_layer};
pub use zones::Cleaned;
