//! Task data of ISO 11783-10: elements as XML text, and the records of a grid. Nothing in here knows
//! about plans; reading and writing share it.
//!
//! Sources: the public schema files of the standard, version 4.3, and the public export of the
//! ISO 11783-11 data dictionary. The text of the standard itself is not used.

mod device;
mod dictionary;
mod element;
mod grid;
mod log;
pub mod palette;
mod parse;
mod text;

pub use device::{device, is_id};
pub use dictionary::{Known, Logged, known, logged, rate_unit};
pub use element::{Element, Name};
pub use grid::{GridSize, decode_cells, encode_cells};
pub use log::{Log, LogColumn, LogRecord, MOST_RECORDS, decode_log, encode_log};
pub use parse::{DEEPEST, MOST_ATTRIBUTES, MOST_ELEMENTS, parse, parse_within};
pub use text::{MOST_CHARACTERS, decimal, designator};

/// Data dictionary entry 6: setpoint mass per area, 1 mg/m2 a step.
pub const SETPOINT_MASS_PER_AREA: u16 = 0x0006;
/// Data dictionary entry 75: mass in a container, grams; as a product's quantity it says that the
/// product is measured by mass.
pub const ACTUAL_MASS_CONTENT: u16 = 0x004B;
/// Data dictionary entry 178: which of several elements of one kind an element is, counted from 0.
pub const ELEMENT_INSTANCE: u16 = 0x00B2;
/// Data dictionary entry 57343: asks the terminal to log whatever the machine logs by default.
pub const REQUEST_DEFAULT_DATA: u16 = 0xDFFF;

/// A data dictionary number as attributes want it: four upper-case hexadecimal digits.
pub fn ddi(number: u16) -> String {
    format!("{number:04X}")
}

/// A data dictionary number from an attribute: four hexadecimal digits in any case; shorter ones are
/// taken as well.
pub fn parse_ddi(text: &str) -> Option<u16> {
    let text = text.trim();
    let digits = !text.is_empty() && text.chars().all(|c| c.is_ascii_hexdigit());
    u16::from_str_radix(text, 16).ok().filter(|_| digits)
}
