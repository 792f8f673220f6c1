//! The machine of a data set: devices and their elements, as the machine itself has described them.

use super::{number, text};
use crate::codec::taskdata::Element;

/// A part of a machine.
#[derive(Debug, Clone, PartialEq)]
pub struct DeviceElement {
    /// Id in the set, such as `DET2`.
    pub id: String,
    /// Id of the device it belongs to.
    pub device: String,
    /// What it is, as the standard numbers it: 1 device, 2 function, 3 bin, 4 section, 5 unit, 6 connector, 7 navigation.
    pub kind: Option<u8>,
    pub name: String,
}

/// All elements of all devices, in document order.
pub(super) fn elements(root: &Element) -> Vec<DeviceElement> {
    let devices = root.children.iter().filter(|child| child.tag == "DVC");
    devices
        .flat_map(|device| {
            let parts = device.children.iter().filter(|child| child.tag == "DET");
            parts.map(|part| DeviceElement {
                id: text(part, "A"),
                device: text(device, "A"),
                kind: number(part, "C"),
                name: text(part, "D"),
            })
        })
        .collect()
}
