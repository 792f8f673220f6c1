//! The arguments of `twinsow compare`.

use crate::compare::{Noted, Settings};
use crate::findings::{Fault, Outcome, Place};
use clap::Args as ClapArgs;
use std::path::{Path, PathBuf};

/// Holds the log of a terminal against the plan
///
/// Reads the time logs in task data that came back from the terminal: kilograms by product and zone, land drilled,
/// missed and drilled twice, how much of it within 5, 10 and 20 % of the plan, and what is left of what was loaded.
/// Ends with a verdict: faults by name, each with its place and what to do about it. Exit code 1 if one asks for a decision.
#[derive(Debug, ClapArgs)]
#[command(after_help = "Examples:
  twinsow compare field-plan stick/TASKDATA
  twinsow compare field-plan stick/TASKDATA --loaded barley=2400 --loaded starter=1500
  twinsow compare field-plan stick/TASKDATA --loaded barley=2400 --left barley=310
  twinsow compare field-plan stick/TASKDATA --map difference.geojson
  twinsow compare field-plan stick/TASKDATA --map difference.gpkg --page verdict.html
  twinsow compare field-plan stick/TASKDATA --ledger farm/ledger
  twinsow compare field-plan stick/TASKDATA --record records/long-shoal --operator 'A. Example' --weather 'dry, wind 2 m/s'
  twinsow compare field-plan stick/TASKDATA --rest field.toml")]
pub(in crate::cli) struct Args {
    /// The plan: its folder, or the plan.json in it
    #[arg(value_name = "PLAN")]
    pub plan: PathBuf,
    /// Task data with time logs: folder, zip file or TASKDATA.XML
    #[arg(value_name = "TASKDATA")]
    pub task_data: PathBuf,
    /// Kilograms that were loaded of a product; gives what is left
    #[arg(long, value_name = "PRODUCT=KG")]
    pub loaded: Vec<String>,
    /// Kilograms of a product that were weighed back at the end; with --loaded it says what was sown by weight
    #[arg(long, value_name = "PRODUCT=KG")]
    pub left: Vec<String>,
    /// Which product a device element of the log sows, where the log does not say; 'none' if none of the plan
    #[arg(long = "element", value_name = "ELEMENT=PRODUCT")]
    pub elements: Vec<String>,
    /// Id of the task, where several have logs
    #[arg(long, value_name = "ID")]
    pub task: Option<String>,
    /// Writes the difference map: GeoPackage by a name that ends in .gpkg, GeoJSON by .geojson or .json; an older one is replaced
    #[arg(long, value_name = "FILE")]
    pub map: Option<PathBuf>,
    /// Writes the verdict as one page that prints (HTML); an older one is replaced
    #[arg(long, value_name = "FILE")]
    pub page: Option<PathBuf>,
    /// Writes what was sown into the ledger of the year in this folder, YEAR.csv, and its land, YEAR.geojson; what is there of the same logs gives way
    #[arg(long, value_name = "DIR")]
    pub ledger: Option<PathBuf>,
    /// Writes a field record for an inspector: NAME.html, NAME.csv and NAME.json; what is not known stays empty
    #[arg(long, value_name = "NAME")]
    pub record: Option<PathBuf>,
    /// With --record: who drove
    #[arg(long, value_name = "NAME", requires = "record")]
    pub operator: Option<String>,
    /// With --record: weather, wind and soil as they were noted
    #[arg(long, value_name = "TEXT", requires = "record")]
    pub weather: Option<String>,
    /// With --record: fit to drill, the soil as it was found
    #[arg(long, value_name = "TEXT", requires = "record")]
    pub soil: Option<String>,
    /// With --record: fit to drill, moisture at sowing depth
    #[arg(long, value_name = "TEXT", requires = "record")]
    pub moisture: Option<String>,
    /// With --record: a product whose seed tag and bag somebody has looked at
    #[arg(long, value_name = "PRODUCT", requires = "record")]
    pub tag_seen: Vec<String>,
    /// With --record: a photo of a product's tag; the record has its file name
    #[arg(long, value_name = "PRODUCT=FILE", requires = "record")]
    pub tag_photo: Vec<String>,
    /// With --record: who signs it by name, today; without it there is a line to sign by hand
    #[arg(long, value_name = "NAME", requires = "record")]
    pub signed_by: Option<String>,
    /// Writes the job for the land not drilled yet beside this job file: NAME-rest.toml
    #[arg(long, value_name = "JOB.toml")]
    pub rest: Option<PathBuf>,
    /// With --rest: by how many metres the outlets lie behind the place in the log; the rest goes back so far, and by the
    /// start delay of the job [default: reference_to_outlets_m of the job]
    #[arg(long, value_name = "M", requires = "rest")]
    pub behind: Option<f64>,
    /// Prints one JSON object and nothing else
    #[arg(long)]
    pub json: bool,
}

impl Args {
    /// What a comparison takes of them.
    ///
    /// # Errors
    /// A pair or a number that is none.
    pub fn settings(&self) -> Outcome<Settings> {
        Ok(Settings {
            task: self.task.clone(),
            page: self.page.is_some(),
            record: self.record.is_some(),
            ledger: self.ledger.is_some(),
            behind_m: self.behind.map(behind).transpose()?,
            loaded: kilograms(&self.loaded, "--loaded")?,
            weighed_back: kilograms(&self.left, "--left")?,
            elements: element_pairs(&self.elements)?,
        })
    }

    /// What only a person knows, for the record; who signs it signs today.
    ///
    /// # Errors
    /// A photo that is not there.
    pub fn noted(&self, today: String) -> Outcome<Noted> {
        let photos = self.tag_photo.iter().map(|text| photo(text));
        Ok(Noted {
            operator: self.operator.clone(),
            weather: self.weather.clone(),
            soil: self.soil.clone(),
            moisture: self.moisture.clone(),
            tags_seen: self.tag_seen.clone(),
            tag_photos: photos.collect::<Outcome<_>>()?,
            signed: self.signed_by.clone().map(|by| [by, today]),
        })
    }
}

/// Products with their kilograms.
fn kilograms(texts: &[String], option: &str) -> Outcome<Vec<(String, f64)>> {
    let weight = |text: &String| {
        let (id, kg) = pair(text, option)?;
        let kg = kg.parse::<f64>().ok();
        let kg = kg.filter(|kg| kg.is_finite() && *kg >= 0.0);
        Ok((id, kg.ok_or_else(|| bad_pair(text, option))?))
    };
    texts.iter().map(weight).collect()
}

/// A product, and the name of a file that is there.
fn photo(text: &str) -> Outcome<[String; 2]> {
    let (product, file) = pair(text, "--tag-photo")?;
    let path = Path::new(&file);
    match path.file_name().filter(|_| path.is_file()) {
        Some(name) => Ok([product, name.to_string_lossy().into_owned()]),
        None => Err(Fault::input(
            "compare.tag_photo",
            Place::file(path),
            "There is no such file",
            "a photo of the tag that is there",
            "Correct the path after --tag-photo.",
        )),
    }
}

/// Device elements with their products, as --element gives them.
pub(in crate::cli) fn element_pairs(texts: &[String]) -> Outcome<Vec<(String, String)>> {
    texts.iter().map(|text| pair(text, "--element")).collect()
}

fn pair(text: &str, option: &str) -> Outcome<(String, String)> {
    let parts = text.split_once('=').map(|(a, b)| (a.trim(), b.trim()));
    match parts.filter(|(a, b)| !a.is_empty() && !b.is_empty()) {
        Some((a, b)) => Ok((a.to_string(), b.to_string())),
        None => Err(bad_pair(text, option)),
    }
}

fn bad_pair(text: &str, option: &str) -> Box<Fault> {
    let allowed = match option {
        "--loaded" => "--loaded PRODUCT=KG with kilograms from 0 up, such as --loaded barley=2400",
        "--left" => "--left PRODUCT=KG with kilograms from 0 up, such as --left barley=310",
        "--tag-photo" => "--tag-photo PRODUCT=FILE, such as --tag-photo barley=tag.jpg",
        _ => "--element ELEMENT=PRODUCT, such as --element DET2=barley",
    };
    Fault::input(
        "compare.option",
        Place::nowhere(),
        format!("{option} is given as '{text}'"),
        allowed,
        "Correct the command.",
    )
}

/// No drill is longer than this, m.
const LONGEST_M: f64 = 50.0;

fn behind(metres: f64) -> Outcome<f64> {
    match (0.0..=LONGEST_M).contains(&metres) {
        true => Ok(metres),
        false => Err(Fault::input(
            "compare.option",
            Place::nowhere(),
            format!("--behind is given as {metres}"),
            format!("0 to {LONGEST_M} m"),
            "Correct the command.",
        )),
    }
}
