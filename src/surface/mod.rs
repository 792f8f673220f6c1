//! Values on land to classes, and classes to polygons.

mod breaks;
mod classes;
mod ground;
mod raster;
mod regions;
mod trace;

pub use raster::raster_zones;
