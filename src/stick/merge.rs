//! What one field brings to the set of a form: its elements with the ids of the stick, and its grids.

use super::field::Field;
use super::ids::Ids;
use crate::codec::taskdata::Element;
use crate::findings::{Fault, Outcome, Place};
use crate::job::Moisture;
use crate::read::taskdata::AsWritten;
use std::collections::BTreeMap;

/// What stands before the tasks of a set, in this order; fields have it in common.
pub(super) const SHARED: [&str; 6] = ["CTP", "CTR", "FRM", "VPN", "PGP", "PDT"];
/// The machine, as the terminal has described it.
pub(super) const MACHINE: &str = "DVC";

/// Attributes that name something else in the set, by element.
const REFERENCES: [(&str, &[&str]); 8] = [
    ("FRM", &["I"]),
    ("PFD", &["E", "F", "G"]),
    ("PDT", &["C", "D"]),
    ("TSK", &["C", "D", "E"]),
    ("PDV", &["C", "E"]),
    ("PAN", &["A"]),
    ("GGP", &["A"]),
    ("GPN", &["A"]),
];

/// What a field brings.
pub(super) struct Share {
    /// Customer, farm, products and such, which other fields may bring as well.
    pub shared: Vec<Element>,
    /// Machines.
    pub machines: Vec<Element>,
    /// The field.
    pub partfields: Vec<Element>,
    /// Its tasks.
    pub tasks: Vec<Element>,
    /// Names of files, without extension, and bytes.
    pub grids: Vec<(String, Vec<u8>)>,
}

/// A field's share of a form; `None` where its plan has no such form.
///
/// # Errors
/// An id of a terminal that stands for two things; more grids than there are names; a set that this program would not
/// have written.
pub(super) fn share(field: &Field, form: &str, ids: &mut Ids) -> Outcome<Option<Share>> {
    let Some(set) = field.sets.get(form) else {
        return Ok(None);
    };
    let mut names = Names {
        field,
        form,
        ids,
        new: BTreeMap::new(),
    };
    names.share(set).map(Some)
}

struct Names<'a> {
    field: &'a Field,
    form: &'a str,
    ids: &'a mut Ids,
    /// Ids on the stick by those of the plan.
    new: BTreeMap<String, String>,
}

impl Names<'_> {
    fn share(&mut self, set: &AsWritten) -> Outcome<Share> {
        let of = |tag: &'static str| set.root.children.iter().filter(move |own| own.tag == tag);
        let mut shared = Vec::new();
        for tag in SHARED {
            for element in of(tag) {
                let mut element = element.clone();
                self.refer(&mut element);
                // Whatever says the same is the same thing: it stands once.
                let says = element.attributes.iter().filter(|(name, _)| name != "A");
                let says: Vec<String> = says
                    .map(|(name, value)| format!("{name}={value}"))
                    .collect();
                let says: Vec<&str> = [tag]
                    .into_iter()
                    .chain(says.iter().map(String::as_str))
                    .collect();
                self.name(&mut element, &says)?;
                shared.push(element);
            }
        }
        let known: Vec<String> = self.field.names().map(str::to_owned).to_vec();
        let known: Vec<&str> = known.iter().map(String::as_str).collect();
        let mut partfields = Vec::new();
        for element in of("PFD") {
            let mut element = element.clone();
            let name = element.get("C").unwrap_or_default().to_owned();
            self.name(
                &mut element,
                &[&["PFD"], known.as_slice(), &[name.as_str()]].concat(),
            )?;
            for group in element.children.iter().filter(|own| own.tag == "GGP") {
                self.also(group, &[&["GGP"], known.as_slice()].concat())?;
                for pattern in group.children.iter().filter(|own| own.tag == "GPN") {
                    self.also(pattern, &[&["GPN"], known.as_slice()].concat())?;
                }
            }
            self.refer(&mut element);
            partfields.push(element);
        }
        // Two plans of one field have a grid each.
        let seedbed = self.field.moisture().map(Moisture::word);
        let (mut tasks, mut grids) = (Vec::new(), Vec::new());
        for (nth, element) in of("TSK").enumerate() {
            let mut element = element.clone();
            let nth = (nth + 1).to_string();
            self.name(&mut element, &["TSK", &self.field.plan.id.clone(), &nth])?;
            self.refer(&mut element);
            for grid in element.children.iter_mut().filter(|own| own.tag == "GRD") {
                let mut of_task = [&["GRD"], known.as_slice(), &[nth.as_str()]].concat();
                of_task.extend(seedbed);
                grids.push(self.grid(grid, set, &of_task)?);
            }
            tasks.push(element);
        }
        Ok(Share {
            shared,
            machines: of(MACHINE).cloned().collect(),
            partfields,
            tasks,
            grids,
        })
    }

    /// Gives an element its id on the stick.
    fn name(&mut self, element: &mut Element, of: &[&str]) -> Outcome<()> {
        let id = self.also(element, of)?;
        set(element, "A", id);
        Ok(())
    }

    /// The id on the stick of what this element is.
    fn also(&mut self, element: &Element, of: &[&str]) -> Outcome<String> {
        let planned = element.get("A").unwrap_or_default().to_owned();
        let theirs = &self.field.plan.terminal.ids_of_terminal;
        let theirs = theirs.iter().any(|own| *own == planned);
        let id = self.ids.id(self.form, &planned, of, theirs);
        let id = id.map_err(|mut fault| {
            fault.place = Place::file(&self.field.folder);
            fault
        })?;
        self.new.insert(planned, id.clone());
        Ok(id)
    }

    /// Lets an element and all below it refer to the ids on the stick.
    fn refer(&self, element: &mut Element) {
        let known = REFERENCES.iter().find(|(tag, _)| *tag == element.tag);
        for name in known.map_or(&[][..], |(_, names)| *names) {
            let new = element.get(name).and_then(|old| self.new.get(old));
            if let Some(new) = new.cloned() {
                set(element, name, new);
            }
        }
        for child in &mut element.children {
            self.refer(child);
        }
    }

    /// Gives a grid its number on the stick.
    fn grid(
        &mut self,
        grid: &mut Element,
        from: &AsWritten,
        of: &[&str],
    ) -> Outcome<(String, Vec<u8>)> {
        let name = self.ids.grid(self.form, of)?;
        let old = grid.get("G").unwrap_or_default().trim();
        let bytes = from.grids.iter().find(|(known, _)| known == old);
        let Some((_, bytes)) = bytes else {
            return Err(Fault::program(
                "stick.grid",
                Place::file(&self.field.folder),
                format!("The grid '{old}' was read and is not there"),
                "the bytes of every grid",
            ));
        };
        set(grid, "G", name.clone());
        Ok((name, bytes.clone()))
    }
}

/// Changes the value of an attribute that is there.
fn set(element: &mut Element, name: &str, value: String) {
    let own = element
        .attributes
        .iter_mut()
        .find(|(known, _)| known == name);
    if let Some((_, own)) = own {
        *own = value;
    }
}
