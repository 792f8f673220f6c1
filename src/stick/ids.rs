//! Ids and numbers of grids on a stick: the same for the same thing whatever else lies on it, kept in the record.

use crate::findings::{Fault, Outcome, Place};
use serde::{Deserialize, Serialize};
use std::collections::{BTreeMap, BTreeSet};

/// An id that was given to something on the stick.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
pub struct GivenId {
    /// The form of task data.
    pub form: String,
    /// What it is, from the name of its kind to its own.
    pub of: Vec<String>,
    /// The id that its plan has for it; empty for the number of a grid.
    pub planned: String,
    /// The id on the stick.
    pub id: String,
}

/// The numbers that grids may have: five digits.
const MOST_GRIDS: u32 = 99_999;
/// Numbers of ids end here: readers keep them as 32-bit integers.
const MOST_ID: u64 = 999_999_999;

/// All ids that are given, in every form.
#[derive(Default)]
pub(super) struct Ids {
    known: BTreeMap<(String, String, Vec<String>), String>,
    /// Per form.
    taken: BTreeSet<(String, String)>,
    /// Per form: no grid below this number is free.
    next_grid: BTreeMap<String, u32>,
}

impl Ids {
    /// Those of an earlier stick in the same folder.
    pub fn of(given: &[GivenId]) -> Self {
        let mut ids = Self::default();
        for own in given {
            let key = (own.form.clone(), own.planned.clone(), own.of.clone());
            // Of two alike the first counts: the second was never written by this program.
            if ids.taken.insert((own.form.clone(), own.id.clone())) {
                ids.known.insert(key, own.id.clone());
            }
        }
        ids
    }

    /// The record of them, in order.
    pub fn given(self) -> Vec<GivenId> {
        let known = self.known.into_iter();
        let given = known.map(|((form, planned, of), id)| GivenId {
            form,
            of,
            planned,
            id,
        });
        given.collect()
    }

    /// The id of something: what its plan has for it, or the next that is free where something else has that. `theirs`:
    /// a terminal has given it, so that it cannot be another.
    ///
    /// # Errors
    /// An id of a terminal that something else has.
    pub fn id(&mut self, form: &str, planned: &str, of: &[&str], theirs: bool) -> Outcome<String> {
        let of: Vec<String> = of.iter().map(|word| (*word).to_owned()).collect();
        let key = (form.to_owned(), planned.to_owned(), of);
        if let Some(known) = self.known.get(&key) {
            return Ok(known.clone());
        }
        let free = |id: &str| !self.taken.contains(&(form.to_owned(), id.to_owned()));
        if theirs && !free(planned) {
            return Err(two_terminals(planned, &key.2));
        }
        let at = planned
            .find(|c: char| c.is_ascii_digit())
            .unwrap_or(planned.len());
        let (tag, number) = planned.split_at(at);
        let mut number: u64 = number.parse().unwrap_or(1);
        let mut id = planned.to_owned();
        while !free(&id) {
            number = number % MOST_ID + 1;
            id = format!("{tag}{number}");
        }
        self.taken.insert((form.to_owned(), id.clone()));
        self.known.insert(key, id.clone());
        Ok(id)
    }

    /// The name of a grid's file, without extension: its number, or the lowest that is free.
    ///
    /// # Errors
    /// More grids than there are names.
    pub fn grid(&mut self, form: &str, of: &[&str]) -> Outcome<String> {
        let of: Vec<String> = of.iter().map(|word| (*word).to_owned()).collect();
        let key = (form.to_owned(), String::new(), of);
        if let Some(known) = self.known.get(&key) {
            return Ok(known.clone());
        }
        let name = |number: u32| format!("GRD{number:05}");
        let next = self.next_grid.entry(form.to_owned()).or_insert(1);
        let taken = |number: u32| self.taken.contains(&(form.to_owned(), name(number)));
        while taken(*next) {
            *next += 1;
        }
        let Some(free) = Some(*next).filter(|next| *next <= MOST_GRIDS).map(name) else {
            return Err(Fault::input(
                "stick.grids",
                Place::nowhere(),
                format!("There are more than {MOST_GRIDS} grids"),
                format!("up to {MOST_GRIDS} grids, for their names have five digits"),
                "Make a stick for each farm or customer.",
            ));
        };
        self.taken.insert((form.to_owned(), free.clone()));
        self.known.insert(key, free.clone());
        Ok(free)
    }
}

fn two_terminals(id: &str, of: &[String]) -> Box<Fault> {
    Fault::input(
        "stick.two_terminals",
        Place::nowhere(),
        format!(
            "The terminal's id {id} stands for '{}' and for something else",
            of.join(", ")
        ),
        "plans whose [terminal] from is task data of one terminal",
        "Make a stick for each terminal; for a new start in the same place, name another folder.",
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_has_the_same_id_gets_the_next_and_keeps_it() {
        let mut ids = Ids::default();
        let mut id = |planned: &str, name: &str| ids.id("4.3", planned, &["field", name], false);
        assert_eq!(id("PFD7", "a").unwrap(), "PFD7");
        assert_eq!(id("PFD7", "b").unwrap(), "PFD8");
        assert_eq!(id("PFD8", "c").unwrap(), "PFD9");
        assert_eq!(id("PFD7", "a").unwrap(), "PFD7");
        assert_eq!(id("PFD999999999", "d").unwrap(), "PFD999999999");
        assert_eq!(id("PFD999999999", "e").unwrap(), "PFD1");
        // Whichever comes first when the stick is made again.
        let mut again = Ids::of(&ids.given());
        let mut id = |planned: &str, name: &str| again.id("4.3", planned, &["field", name], false);
        assert_eq!(id("PFD7", "b").unwrap(), "PFD8");
        assert_eq!(id("PFD7", "a").unwrap(), "PFD7");
        // Another form has numbers of its own.
        assert_eq!(
            again.id("3.3", "PFD7", &["field", "b"], false).unwrap(),
            "PFD7"
        );
    }

    #[test]
    fn a_grid_keeps_its_number_when_another_field_goes_or_comes() {
        let mut ids = Ids::default();
        for name in ["a", "b", "c"] {
            ids.grid("4.3", &[name, "1"]).unwrap();
        }
        let mut again = Ids::of(&ids.given());
        assert_eq!(again.grid("4.3", &["aa", "1"]).unwrap(), "GRD00004");
        assert_eq!(again.grid("4.3", &["c", "1"]).unwrap(), "GRD00003");
        assert_eq!(again.grid("3.3", &["c", "1"]).unwrap(), "GRD00001");
    }

    #[test]
    fn an_id_of_a_terminal_is_never_another() {
        let mut ids = Ids::default();
        ids.id("4.3", "PFD-2", &["field", "a"], true).unwrap();
        ids.id("4.3", "PFD-2", &["field", "a"], true).unwrap();
        let fault = ids.id("4.3", "PFD-2", &["field", "b"], true).unwrap_err();
        assert_eq!(fault.code, "stick.two_terminals");
    }
}
