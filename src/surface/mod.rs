//! Values on land to classes, and classes to polygons.

mod breaks;
mod classes;
mod ground;
mod kriging;
mod points;
mod raster;
mod regions;
#[cfg(test)]
mod tests;
mod trace;
mod variogram;
mod zones;

pub use points::point_zones;
pub use raster::raster_zones;
