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
    /// Its own number among the objects of its device, and that of the element it hangs on.
    pub object: Option<u32>,
    pub parent: Option<u32>,
    /// Its number among the elements of its device.
    pub number: Option<u16>,
    /// What its description fixes: data dictionary number and raw value.
    pub fixed: Vec<(u16, i32)>,
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
            let fixed = fixed(device);
            let parts = device.children.iter().filter(|child| child.tag == "DET");
            let of_device = parts.map(move |part| {
                let references = part.children.iter().filter(|child| child.tag == "DOR");
                let objects = references.filter_map(|reference| number::<u32>(reference, "A"));
                let objects: Vec<u32> = objects.collect();
                DeviceElement {
                    id: text(part, "A"),
                    device: text(device, "A"),
                    kind: number(part, "C"),
                    name: text(part, "D"),
                    settable: of(&can, &objects),
                    object: number(part, "B"),
                    parent: number(part, "F"),
                    number: number(part, "E"),
                    fixed: of(&fixed, &objects),
                }
            });
            of_device.collect::<Vec<_>>()
        })
        .collect()
}

fn of<T: Copy>(known: &BTreeMap<u32, T>, objects: &[u32]) -> Vec<T> {
    objects
        .iter()
        .filter_map(|id| known.get(id).copied())
        .collect()
}

/// The properties of a device that its description fixes: object id; number in the data dictionary and value.
fn fixed(device: &Element) -> BTreeMap<u32, (u16, i32)> {
    let data = device.children.iter().filter(|child| child.tag == "DPT");
    data.filter_map(|own| {
        let ddi = own.get("B").and_then(parse_ddi)?;
        Some((number(own, "A")?, (ddi, number(own, "C")?)))
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
