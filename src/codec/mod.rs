//! Pure codecs shared by reading and writing. No files, no domain.

pub mod geokeys;
pub mod geopackage;
pub mod taskdata;
