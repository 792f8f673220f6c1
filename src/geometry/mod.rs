//! Plane geometry on an integer grid: arrangement, areas, offsets, coverage of cells. No policy.
//!
//! Coordinates are quantised once per field to 2^-20 m (about a micrometre) in 64 bits. Predicates
//! and areas are exact integers, so that pieces of land tile the field by construction.

pub mod arrangement;
pub mod coarse;
pub mod coverage;
pub(crate) mod csr;
mod grid_index;
mod noding;
pub mod offset;
pub mod overlay;
pub mod point;
mod point_grid;
pub mod row;
pub mod shape;
mod shared_lines;
pub mod simplify;
pub mod thin;
pub mod together;
pub mod union_find;

pub use arrangement::Arrangement;
pub(crate) use csr::Csr;
pub(crate) use noding::crowded;
pub use overlay::Overlay;
pub use point::{Pt, UNITS_PER_M, cross};
pub use shape::{Ring, Shape};
pub(crate) use shared_lines::SharedLines;
pub use union_find::UnionFind;
