//! Settings that are still open: "?" in the place of a value, as a new job has it where nobody but the user knows.

use super::parse::{Refused, not_toml};
use super::tree::{self, Node, Value};
use super::{schema, shape};
use crate::findings::{Fault, Outcome, Place};
use std::path::Path;

/// What stands in the place of a value that is not known yet.
pub const OPEN: &str = "?";

/// A setting that is open: "?" stands in the place of its value.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct OpenSetting {
    /// Its keys from the top of the file; entries of lists by number, from 1.
    pub path: Vec<String>,
    /// The line it stands on, from 1.
    pub line: usize,
}

impl OpenSetting {
    /// What to look for, and on which paper.
    pub fn paper(&self) -> &'static str {
        paper(&self.path)
    }
}

/// The open settings of the text of a job file, by their lines.
///
/// # Errors
/// A text that is not TOML; what is wrong with the shape of the other settings: a key that does not exist, a value of the wrong
/// type or out of its range.
pub fn open_settings(text: &str, file: &Path) -> Outcome<Vec<OpenSetting>> {
    let text = text.strip_prefix('\u{feff}').unwrap_or(text);
    let root = tree::read(text).map_err(|places| not_toml(text, file, &places))?;
    let open = all(&root);
    let mut faults = shape::faults(&root, schema::shared(), file);
    faults.retain(|fault| !open.iter().any(|of| fault.place.line == Some(of.line)));
    Refused::any(faults).map_err(Refused::told)?;
    Ok(open)
}

fn all(root: &Node) -> Vec<OpenSetting> {
    let mut open = Vec::new();
    gather(root, &mut Vec::new(), &mut open);
    open.sort_by_key(|setting| setting.line);
    open
}

/// One fault that lists every open setting with what to look for on which paper; `None` if there is none.
pub(super) fn fault(root: &Node, file: &Path) -> Option<Box<Fault>> {
    let open = all(root);
    let first = open.first()?;
    let listed: Vec<String> = open.iter().map(told).collect();
    Some(Fault::input(
        "job.open_settings",
        Place::file(file).line(first.line),
        format!(
            "{} still \"{OPEN}\":\n    {}",
            match open.len() {
                1 => "one setting is".to_owned(),
                several => format!("{several} settings are"),
            },
            listed.join("\n    ")
        ),
        format!("a value in the place of every \"{OPEN}\""),
        "Look on the papers that are named, and write the values into the job file.",
    ))
}

fn gather(node: &Node, path: &mut Vec<String>, open: &mut Vec<OpenSetting>) {
    match &node.value {
        Value::Text(text) if text.trim() == OPEN => open.push(OpenSetting {
            path: path.clone(),
            line: node.line,
        }),
        Value::List(items) => {
            for (nth, item) in items.iter().enumerate() {
                path.push((nth + 1).to_string());
                gather(item, path, open);
                path.pop();
            }
        }
        Value::Table(entries) => {
            for entry in entries {
                path.push(entry.key.clone());
                gather(&entry.node, path, open);
                path.pop();
            }
        }
        _ => {}
    }
}

fn told(setting: &OpenSetting) -> String {
    format!(
        "line {}: {} - {}",
        setting.line,
        setting.path.join("."),
        setting.paper()
    )
}

/// What to look for, and on which paper. A number by class stands below the key it is for.
fn paper(path: &[String]) -> &'static str {
    let known = path.iter().rev().find_map(|key| {
        Some(match key.as_str() {
            "crop" => "the species on the seed tag",
            "lot" | "dressing" => "the seed tag, or the bag",
            "thousand_grain_weight_g" | "seeds_per_lb" | "germination_percent" => {
                "the seed tag, or the certificate of the lot"
            }
            "kg_per_ha" | "lb_per_acre" | "seeds_per_m2" | "seeds_per_ft2" | "plants_per_m2"
            | "plants_per_ft2" => {
                "your own rate or that of your adviser; of seed, held against the seed tag, of fertiliser against the label on the bag"
            }
            "need_kg_per_ha" | "need_lb_per_acre" => "the soil analysis and the recommendation",
            "establishment_percent" => "your own plant counts",
            "grade" | "n_percent" | "p2o5_percent" | "k2o_percent" | "form" => {
                "the analysis on the bag or the delivery note"
            }
            "bulk_density_kg_per_l" => "weigh a litre of it",
            "pack_kg" | "seeds_per_pack" => "the bag",
            "working_width_m" | "rows" | "row_spacing_m" | "sections_m" => {
                "the drill's manual, or a tape: rows times the distance between them"
            }
            "usable_l" | "residue_l" | "min_level_l" => {
                "the drill's manual: litres of this part of the hopper"
            }
            "in_parts" => {
                "the boundary file: true if its features are parts of one field; if they are fields, take this line out, and name one with 'only' or all with 'split_by'"
            }
            "column" => "the first line of the file with the samples: the name of the column with the values",
            "band" => "what the maker of the raster says of its bands",
            "rotor" => "the drill's manual: the table of rotors",
            "fan_rpm" => "the drill's manual: fan speed for these products",
            _ => return None,
        })
    });
    known.unwrap_or("your own papers")
}
