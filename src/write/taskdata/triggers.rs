//! What the terminal is asked to log, so that the log can be held against the plan: rates, totals, what is on, and where the rate comes from.

use crate::codec::taskdata::{self, Element, Logged, ddi, logged, parse_ddi};

/// Ways of logging, by the bits of the standard.
const BY_TIME: u8 = 1;
const BY_DISTANCE: u8 = 2;
const ON_CHANGE: u8 = 8;
const TOTAL: u8 = 16;
const ALL: u8 = 31;

/// Once a second, as positions usually come.
const INTERVAL_MS: u32 = 1000;
/// The same at 7 km/h, for what a machine gives by distance only.
const INTERVAL_MM: u32 = 2000;
/// Sections whose states one entry holds.
const SECTIONS_OF_ENTRY: usize = 16;
/// The first entry of condensed states, the last, and the state of an element.
const CONDENSED: u16 = 161;
const LAST_CONDENSED: u16 = 176;
const WORK_STATE: u16 = 141;

/// The triggers of a task: the machine's own default set, and beside it what a log is read for. Where the machine is described, what its
/// elements offer, each with its element and only in the ways that it offers; else the entries of a drill that meters by mass, with so
/// many sections.
pub(super) fn of(machine: Option<&[Element]>, sections: usize) -> Vec<Element> {
    let mut triggers = vec![
        Element::new("DLT")
            .with("A", ddi(taskdata::REQUEST_DEFAULT_DATA))
            .with("B", ALL),
    ];
    // A job that names no task data of its terminal has no device.
    match machine.filter(|devices| !devices.is_empty()) {
        Some(devices) => triggers.extend(devices.iter().flat_map(of_device)),
        None => triggers.extend(usual(sections).filter_map(|entry| trigger(entry, ALL))),
    }
    triggers
}

/// The entries of a machine that nobody has described: actual mass per area, total mass in kg and in g, work state, condensed states,
/// prescription control and mode.
fn usual(sections: usize) -> impl Iterator<Item = u16> {
    let entries = sections.div_ceil(SECTIONS_OF_ENTRY).max(1);
    let last = u16::try_from(entries).map_or(LAST_CONDENSED, |count| CONDENSED + count - 1);
    let states = CONDENSED..=last.min(LAST_CONDENSED);
    [7, 81, 352, WORK_STATE]
        .into_iter()
        .chain(states)
        .chain([158, 288])
}

/// What the elements of a device offer of it, in document order.
fn of_device(device: &Element) -> Vec<Element> {
    let children = |tag: &'static str| device.children.iter().filter(move |own| own.tag == tag);
    let mut triggers = Vec::new();
    for part in children("DET") {
        let Some(id) = part.get("A") else { continue };
        for reference in part.children.iter().filter(|own| own.tag == "DOR") {
            let object = reference.get("A");
            let Some(data) = children("DPD").find(|own| own.get("A") == object) else {
                continue;
            };
            let offered = data
                .get("D")
                .and_then(|bits| bits.parse().ok())
                .unwrap_or(0);
            let entry = data.get("B").and_then(parse_ddi);
            let asked = entry.and_then(|entry| trigger(entry, offered));
            triggers.extend(asked.map(|own| own.with("H", id)));
        }
    }
    triggers
}

/// The trigger for an entry that is offered in these ways; `None` for an entry that no log is read for, or one that is not offered.
fn trigger(entry: u16, offered: u8) -> Option<Element> {
    let again = match offered {
        bits if bits & BY_TIME != 0 => BY_TIME,
        bits => bits & BY_DISTANCE,
    };
    let more = match logged(entry)? {
        Logged::Rate => 0,
        Logged::Total => TOTAL,
        Logged::State | Logged::Source => ON_CHANGE,
    };
    let methods = again | more & offered;
    let mut element = Element::new("DLT").with("A", ddi(entry)).with("B", methods);
    if methods & BY_DISTANCE != 0 {
        element = element.with("C", INTERVAL_MM);
    }
    if methods & BY_TIME != 0 {
        element = element.with("D", INTERVAL_MS);
    }
    if methods & ON_CHANGE != 0 {
        // Every change of one step.
        element = element.with("G", 1);
    }
    (methods != 0).then_some(element)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn said(triggers: &[Element]) -> Vec<String> {
        let one = |own: &Element| {
            let texts = own
                .attributes
                .iter()
                .map(|(name, value)| format!("{name}={value}"));
            texts.collect::<Vec<_>>().join(" ")
        };
        triggers.iter().map(one).collect()
    }

    #[test]
    fn a_machine_that_nobody_has_described_is_asked_for_what_a_drill_by_mass_has() {
        let asked = said(&of(None, 17));
        let wanted = [
            "A=DFFF B=31",
            "A=0007 B=1 D=1000",
            "A=0051 B=17 D=1000",
            "A=0160 B=17 D=1000",
            "A=008D B=9 D=1000 G=1",
            "A=00A1 B=9 D=1000 G=1",
            "A=00A2 B=9 D=1000 G=1",
            "A=009E B=9 D=1000 G=1",
            "A=0120 B=9 D=1000 G=1",
        ];
        assert_eq!(asked, wanted);
        assert_eq!(of(None, 1).len(), wanted.len() - 1);
        // Entries end at 256 sections.
        assert_eq!(of(None, 10_000).len(), 7 + 16);
    }

    #[test]
    fn a_machine_is_asked_for_what_it_offers_in_the_ways_it_offers() {
        let data = |object: u16, entry: &str, ways: u8| {
            let data = Element::new("DPD").with("A", object).with("B", entry);
            data.with("C", 1).with("D", ways)
        };
        let part = |id: &str, objects: &[u16]| {
            let refer = |object: &u16| Element::new("DOR").with("A", object);
            Element::new("DET")
                .with("A", id)
                .children(objects.iter().map(refer))
        };
        let device = Element::new("DVC")
            .child(part("DET-1", &[1, 9]))
            .child(part("DET-2", &[2, 3, 4, 5]))
            .child(data(1, "0120", 8))
            .child(data(2, "0007", 31))
            .child(data(3, "0050", 2))
            .child(data(4, "0051", 0))
            .child(data(5, "0006", 31));
        let asked = said(&of(Some(&[device]), 6));
        let wanted = [
            "A=DFFF B=31",
            "A=0120 B=8 G=1 H=DET-1",
            "A=0007 B=1 D=1000 H=DET-2",
            "A=0050 B=2 C=2000 H=DET-2",
        ];
        assert_eq!(asked, wanted);
    }
}
