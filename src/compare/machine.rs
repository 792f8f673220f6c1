//! The machine that a set describes, as a tree: which element hangs on which, how wide each is and where it lies.

use crate::read::taskdata::{DeviceElement, TaskSet};
use std::collections::BTreeMap;

/// More levels than this no machine has: device, function, bin or section, unit. A broken file may have a loop.
const DEEPEST: usize = 16;
/// Number of the standard for an element that is a section.
const SECTION: u8 = 4;
/// Entries for the width of an element, in the order in which they are asked: actual, largest, default; mm.
const WIDTHS: [u16; 3] = [67, 70, 68];
/// Entry for how far to the right of the middle an element lies, mm.
const TO_THE_RIGHT: u16 = 135;

pub(super) struct Machine<'a> {
    elements: &'a [DeviceElement],
    parent: Vec<Option<usize>>,
    children: Vec<Vec<usize>>,
    by_id: BTreeMap<&'a str, usize>,
}

impl<'a> Machine<'a> {
    pub(super) fn of(set: &'a TaskSet) -> Self {
        let elements = set.elements.as_slice();
        let mut by_object = BTreeMap::new();
        let mut by_id = BTreeMap::new();
        for (at, element) in elements.iter().enumerate() {
            by_id.entry(element.id.as_str()).or_insert(at);
            if let Some(object) = element.object {
                by_object
                    .entry((element.device.as_str(), object))
                    .or_insert(at);
            }
        }
        let mut children = vec![Vec::new(); elements.len()];
        let parent = elements.iter().enumerate().map(|(at, element)| {
            let above = by_object.get(&(element.device.as_str(), element.parent?));
            let above = above.copied().filter(|above| *above != at)?;
            if let Some(own) = children.get_mut(above) {
                own.push(at);
            }
            Some(above)
        });
        let parent = parent.collect();
        Self {
            elements,
            parent,
            children,
            by_id,
        }
    }

    /// The elements that this one hangs on, the nearest first.
    pub(super) fn above(&self, id: &str) -> Vec<&'a str> {
        let mut found = Vec::new();
        let mut at = self.by_id.get(id).copied();
        for _ in 0..DEEPEST {
            at = at.and_then(|at| self.parent.get(at).copied().flatten());
            match at.and_then(|at| self.elements.get(at)) {
                Some(element) => found.push(element.id.as_str()),
                None => break,
            }
        }
        found
    }

    /// All elements that hang on this one, in the order of the description, level by level.
    pub(super) fn below(&self, id: &str) -> Vec<&'a DeviceElement> {
        let mut found = Vec::new();
        let mut level: Vec<usize> = self.by_id.get(id).copied().into_iter().collect();
        for _ in 0..DEEPEST {
            let next = level.iter().filter_map(|at| self.children.get(*at));
            level = next.flatten().copied().collect();
            found.extend(level.iter().filter_map(|at| self.elements.get(*at)));
        }
        found
    }

    /// Whether one of two hangs on the other.
    pub(super) fn related(&self, one: &str, other: &str) -> bool {
        self.above(one).contains(&other) || self.above(other).contains(&one)
    }

    /// Whether the set says anything about what this element hangs on.
    pub(super) fn knows(&self, id: &str) -> bool {
        let at = self.by_id.get(id);
        at.is_some_and(|at| {
            let hangs = self.parent.get(*at).is_some_and(Option::is_some);
            hangs || self.children.get(*at).is_some_and(|own| !own.is_empty())
        })
    }

    pub(super) fn is_section(&self, id: &str) -> bool {
        let at = self.by_id.get(id).and_then(|at| self.elements.get(*at));
        at.is_some_and(|element| element.kind == Some(SECTION))
    }

    /// The sections that serve an element: those below it, or else below the nearest element above it that has some.
    /// From the left to the right: by how far they lie to the right, where all say so, else by their numbers.
    pub(super) fn sections(&self, id: &str) -> Vec<&'a DeviceElement> {
        let own = self.by_id.get_key_value(id).map(|(id, _)| *id);
        for level in own.into_iter().chain(self.above(id)) {
            let mut found = self.below(level);
            found.retain(|element| element.kind == Some(SECTION));
            if !found.is_empty() {
                in_order(&mut found);
                return found;
            }
        }
        Vec::new()
    }

    /// Width of an element by its description, m: its own, or that of all sections below it.
    pub(super) fn width_m(&self, id: &str) -> Option<f64> {
        let own = self.by_id.get(id).and_then(|at| self.elements.get(*at));
        own.and_then(width_m).or_else(|| {
            let mut sections = self.below(id);
            sections.retain(|element| element.kind == Some(SECTION));
            let widths: Option<Vec<f64>> = sections.into_iter().map(width_m).collect();
            widths
                .map(|widths| widths.iter().sum())
                .filter(|sum| *sum > 0.0)
        })
    }

    /// From where to where an element reaches across, m to the right of the middle, where its description says it.
    pub(super) fn reach_m(&self, id: &str) -> Option<[f64; 2]> {
        let own = self.by_id.get(id).and_then(|at| self.elements.get(*at))?;
        if let (Some(width), Some(middle)) = (width_m(own), middle_m(own)) {
            return Some([middle - width / 2.0, middle + width / 2.0]);
        }
        let mut sections = self.below(id);
        sections.retain(|element| element.kind == Some(SECTION));
        let mut reach: Option<[f64; 2]> = None;
        for section in sections {
            let (width, middle) = (width_m(section)?, middle_m(section)?);
            let [left, right] = [middle - width / 2.0, middle + width / 2.0];
            reach = Some(reach.map_or([left, right], |own| [own[0].min(left), own[1].max(right)]));
        }
        reach
    }
}

/// Width by an element's own description, m.
pub(super) fn width_m(element: &DeviceElement) -> Option<f64> {
    let value = |ddi: &u16| element.fixed.iter().find(|(own, _)| own == ddi);
    let millimetres = WIDTHS
        .iter()
        .find_map(value)
        .map(|(_, raw)| f64::from(*raw));
    millimetres.map(|mm| mm / 1000.0).filter(|m| *m > 0.0)
}

fn middle_m(element: &DeviceElement) -> Option<f64> {
    let value = element.fixed.iter().find(|(own, _)| *own == TO_THE_RIGHT);
    value.map(|(_, raw)| f64::from(*raw) / 1000.0)
}

fn in_order(sections: &mut [&DeviceElement]) {
    let all_say = sections.iter().all(|own| middle_m(own).is_some());
    match all_say {
        true => sections.sort_by(|a, b| {
            let middle = |own: &DeviceElement| middle_m(own).unwrap_or(0.0);
            middle(a).total_cmp(&middle(b))
        }),
        false => sections.sort_by_key(|own| own.number),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::path::PathBuf;

    fn element(
        id: &str,
        object: u32,
        kind: u8,
        parent: u32,
        fixed: &[(u16, i32)],
    ) -> DeviceElement {
        DeviceElement {
            id: id.to_owned(),
            device: "DVC1".to_owned(),
            kind: Some(kind),
            name: String::new(),
            settable: Vec::new(),
            object: Some(object),
            parent: Some(parent),
            number: u16::try_from(object).ok(),
            fixed: fixed.to_vec(),
        }
    }

    fn set(elements: Vec<DeviceElement>) -> TaskSet {
        TaskSet {
            file: PathBuf::new(),
            version: String::new(),
            origin: None,
            partfields: Vec::new(),
            products: Vec::new(),
            elements,
            devices: Vec::new(),
            channels: None,
            tasks: Vec::new(),
            findings: Vec::new(),
            bytes: 0,
        }
    }

    #[test]
    fn the_tree_is_walked_up_and_down() {
        let set = set(vec![
            element("DET1", 1, 1, 0, &[]),
            element("DET2", 2, 2, 1, &[]),
            element("DET3", 3, 3, 2, &[]),
            element("DET5", 5, 4, 2, &[(67, 2000), (135, 1000)]),
            element("DET4", 4, 4, 2, &[(70, 2000), (135, -1000)]),
        ]);
        let machine = Machine::of(&set);
        assert_eq!(machine.above("DET3"), ["DET2", "DET1"]);
        assert!(machine.related("DET1", "DET4") && !machine.related("DET3", "DET4"));
        let sections: Vec<&str> = machine
            .sections("DET3")
            .iter()
            .map(|own| own.id.as_str())
            .collect();
        assert_eq!(sections, ["DET4", "DET5"]);
        assert_eq!(machine.width_m("DET2"), Some(4.0));
        assert_eq!(machine.reach_m("DET2"), Some([-2.0, 2.0]));
        assert_eq!(machine.width_m("DET3"), None);
        assert!(machine.knows("DET3") && !machine.knows("DET9"));
    }

    /// A broken file: elements that hang on each other, and on themselves.
    #[test]
    fn a_loop_ends() {
        let set = set(vec![
            element("DET1", 1, 1, 2, &[]),
            element("DET2", 2, 2, 1, &[]),
            element("DET3", 3, 3, 3, &[]),
        ]);
        let machine = Machine::of(&set);
        assert!(machine.above("DET1").len() <= DEEPEST);
        assert!(machine.below("DET1").len() <= DEEPEST);
        assert!(machine.above("DET3").is_empty() && machine.below("DET3").is_empty());
    }
}
