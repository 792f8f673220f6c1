//! Pure codecs shared by reading and writing. No files, no domain.

pub mod bytes;
pub mod code_page;
pub mod decimal;
pub mod epsg_axes;
pub mod geokeys;
pub mod geopackage;
pub mod room;
pub mod taskdata;
pub mod toml_form;
pub mod wkb;
pub mod wkt;
pub mod xml;
