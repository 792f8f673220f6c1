//! What a set of task data holds, as it is read.

use super::{Device, DeviceElement, Guidance, Noted};
use crate::codec::taskdata::Log;
use crate::coordinates::LonLat;
use crate::findings::Finding;
use crate::read::Polygon;
use std::path::PathBuf;

/// A data set.
#[derive(Debug, Clone, PartialEq)]
pub struct TaskSet {
    /// What the user named.
    pub file: PathBuf,
    /// Version as the file states it, such as `4.3`.
    pub version: String,
    /// 1: made in the office, 2: made on the machine.
    pub origin: Option<u8>,
    pub partfields: Vec<Partfield>,
    /// Id and name, in document order.
    pub products: Vec<(String, String)>,
    /// The machine's parts, where the set names them.
    pub elements: Vec<DeviceElement>,
    /// The machines themselves, as the set describes them.
    pub devices: Vec<Device>,
    /// Most channels that a terminal of the set says it controls at once; `None` where none says so.
    pub channels: Option<u32>,
    pub tasks: Vec<Task>,
    pub findings: Vec<Finding>,
    /// Bytes of all its files that were read.
    pub bytes: usize,
}

/// A field as the terminal knows it.
#[derive(Debug, Clone, PartialEq)]
pub struct Partfield {
    pub id: String,
    pub name: String,
    /// Area as stated, m2.
    pub area_m2: Option<f64>,
    /// Lon/lat, as drawn.
    pub boundary: Vec<Polygon<LonLat>>,
    /// Water, buildings, roads, obstacles and windbreaks inside it.
    pub obstacles: Vec<Polygon<LonLat>>,
    /// What each obstacle is, and its name.
    pub obstacle_kinds: Vec<(&'static str, String)>,
    /// Other land that is drawn: headlands, buffer zones and such; what it is, and its name.
    pub areas: Vec<(&'static str, String, Polygon<LonLat>)>,
    pub guidance: Vec<Guidance>,
    /// Names of the farm and the customer; empty where the set names none.
    pub farm: String,
    pub customer: String,
    /// Their ids, where the set has them.
    pub farm_id: Option<String>,
    pub customer_id: Option<String>,
}

/// A task.
#[derive(Debug, Clone, PartialEq)]
pub struct Task {
    pub id: String,
    pub name: String,
    /// Id of the partfield.
    pub partfield: Option<String>,
    /// Codes of the zones for the default, a lost position and outside the field.
    pub default: Option<u8>,
    pub position_lost: Option<u8>,
    pub out_of_field: Option<u8>,
    pub zones: Vec<TreatmentZone>,
    pub grid: Option<TaskGrid>,
    /// Ids of a product and of the device element it is in.
    pub allocations: Vec<(String, String)>,
    /// File names and content of the time logs.
    pub logs: Vec<(String, Log)>,
    /// Values that the terminal has noted at the ends of times of effective work, in order of time.
    pub noted: Vec<Noted>,
}

/// A treatment zone.
#[derive(Debug, Clone, PartialEq)]
pub struct TreatmentZone {
    pub code: u8,
    pub name: String,
    pub variables: Vec<Variable>,
    pub polygons: Vec<Polygon<LonLat>>,
}

/// A process data variable.
#[derive(Debug, Clone, PartialEq)]
pub struct Variable {
    /// Data dictionary number.
    pub ddi: u16,
    /// Raw value.
    pub value: i32,
    /// Ids of the product and of the device element.
    pub product: Option<String>,
    pub element: Option<String>,
}

/// A grid of a task. Cell (column 0, row 0) is the south-west one; columns run fastest.
#[derive(Debug, Clone, PartialEq)]
pub struct TaskGrid {
    /// Name of its file, as the main file gives it.
    pub name: String,
    /// Outer south-west corner, lon/lat in degrees.
    pub origin: [f64; 2],
    /// Width (east) and height (north) of a cell, degrees.
    pub cell: [f64; 2],
    pub columns: usize,
    pub rows: usize,
    /// 1: codes of zones; 2: values.
    pub kind: u8,
    /// The variables, in the order of [`TaskGrid::raw`].
    pub variables: Vec<Variable>,
    /// Per variable, per cell: raw value. A cell that the file lacks is `None`.
    pub raw: Vec<Vec<Option<i32>>>,
    /// Set if the binary does not fit: a plain line on how.
    pub broken: Option<String>,
}
