//! The machine of a data set: devices and their elements, as the machine itself has described them, and what the
//! terminal says that it controls.

use super::{number, text};
use crate::codec::taskdata::{Element, parse_ddi};
use std::collections::BTreeMap;

/// A machine.
#[derive(Debug, Clone, PartialEq)]
pub struct Device {
    pub id: String,
    pub name: String,
    /// Its whole description.
    pub description: Element,
}

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
    /// Data dictionary numbers of the values that can be set at it, in order of its description.
    pub settable: Vec<u16>,
}

/// Bit of a process data's properties: it can be set.
const SETTABLE: u8 = 2;

/// All devices, in document order.
pub(super) fn devices(root: &Element) -> Vec<Device> {
    let devices = root.children.iter().filter(|child| child.tag == "DVC");
    devices
        .map(|device| Device {
            id: text(device, "A"),
            name: text(device, "B"),
            description: device.clone(),
        })
        .collect()
}

/// All elements of all devices, in document order.
pub(super) fn elements(root: &Element) -> Vec<DeviceElement> {
    let devices = root.children.iter().filter(|child| child.tag == "DVC");
    devices
        .flat_map(|device| {
            let can = settable(device);
            let parts = device.children.iter().filter(|child| child.tag == "DET");
            let of_device = parts.map(move |part| {
                let references = part.children.iter().filter(|child| child.tag == "DOR");
                let objects = references.filter_map(|reference| number::<u32>(reference, "A"));
                DeviceElement {
                    id: text(part, "A"),
                    device: text(device, "A"),
                    kind: number(part, "C"),
                    name: text(part, "D"),
                    settable: objects.filter_map(|id| can.get(&id).copied()).collect(),
                }
            });
            of_device.collect::<Vec<_>>()
        })
        .collect()
}

/// The process data of a device that can be set: object id, and number in the data dictionary.
fn settable(device: &Element) -> BTreeMap<u32, u16> {
    let data = device.children.iter().filter(|child| child.tag == "DPD");
    let can = data.filter(|own| number::<u8>(own, "C").is_some_and(|bits| bits & SETTABLE != 0));
    can.filter_map(|own| Some((number(own, "A")?, own.get("B").and_then(parse_ddi)?)))
        .collect()
}

/// The largest number of control channels that a terminal (`TCC`) of the set states.
pub(super) fn channels(root: &Element) -> Option<u32> {
    let terminals = root.children.iter().filter(|child| child.tag == "TCC");
    terminals.filter_map(|own| number::<u32>(own, "G")).max()
}
