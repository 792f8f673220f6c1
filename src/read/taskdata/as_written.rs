//! A data set as its files have it: the tree of the main file and the bytes of its grids, for whoever puts several sets
//! into one.

use super::container::{Container, MAIN};
use super::{is_stem, no_root, text};
use crate::codec::room::Room;
use crate::codec::taskdata::{Element, parse_within};
use crate::findings::{Fault, Outcome, Place};
use std::path::Path;

/// The tree of a main file, and the files that its grids name.
#[derive(Debug, Clone, PartialEq)]
pub struct AsWritten {
    /// The root element.
    pub root: Element,
    /// Name without extension, as the grid has it, and bytes.
    pub grids: Vec<(String, Vec<u8>)>,
}

/// Reads a data set without looking at what it means.
///
/// # Errors
/// As [`super::read`]; a grid whose file is not there.
pub fn as_written(path: &Path) -> Outcome<AsWritten> {
    let mut container = Container::open(path)?;
    let place = Place::file(path);
    let Some((real, bytes)) = container.get(MAIN)? else {
        return Err(no_root(path, "The main file is gone"));
    };
    let mut room = Room::of(bytes.len());
    let root = parse_within(&bytes, &mut room).map_err(|bad| {
        Fault::input(
            "read.task_data_xml",
            place.clone().layer(real).line(bad.line),
            format!("The text is no XML that can be read: {}", bad.what),
            "well-formed XML",
            "Plan the job again.",
        )
    })?;
    if root.tag != "ISO11783_TaskData" {
        return Err(no_root(
            path,
            &format!("The root element is '{}'", root.tag),
        ));
    }
    let mut grids: Vec<(String, Vec<u8>)> = Vec::new();
    let tasks = root.children.iter().filter(|child| child.tag == "TSK");
    for grid in tasks.flat_map(|task| task.children.iter().filter(|child| child.tag == "GRD")) {
        let name = text(grid, "G");
        if grids.iter().any(|(known, _)| *known == name) {
            continue;
        }
        let found = match is_stem(&name) {
            true => container.get(&format!("{name}.bin"))?,
            false => None,
        };
        let Some((_, bytes)) = found else {
            return Err(Fault::input(
                "read.task_data_grid",
                place.feature(name.clone()),
                format!("The file of the grid '{name}' is not there"),
                "all files of the task data, as they were written",
                "Plan the job again.",
            ));
        };
        grids.push((name, bytes));
    }
    Ok(AsWritten { root, grids })
}
