//! Deliberate mistakes, each made in a small job that is right: what it says, how it ends, and what a terminal then has to
//! load. The list is `mistakes/mistakes.toml`, the job `mistakes/sound.toml`; the files of the field are made here.
//!
//! `TWINSOW_SHOW=1 cargo test --test mistakes -- --nocapture` prints what each of them says.

mod plan_support;

use plan_support::{Made, PLACE, Rings, collection, feature, line, rectangle};
use rayon::prelude::*;
use serde::Deserialize;
use std::collections::BTreeSet;
use std::fmt::Write as _;
use std::fs;
use std::path::Path;
use twinsow::findings::{Blame, Fault, Severity};
use twinsow::job::Job;
use twinsow::plan::{self, Disk, Options, Plan, SharedInputs};
use twinsow::write::{self, Form, Forms};

const LIST: &str = include_str!("mistakes/mistakes.toml");
const SOUND: &str = include_str!("mistakes/sound.toml");
/// So many the list has at least.
const AT_LEAST: usize = 120;

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct List {
    mistake: Vec<Mistake>,
}

/// A row of the list; what each key means stands at its top.
#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Mistake {
    what: String,
    wrong: Wrong,
    change: Vec<[String; 2]>,
    gives: String,
    says: Vec<String>,
    exit: u8,
    #[serde(default)]
    held: Vec<String>,
}

/// What is wrong in the field if nobody notices.
#[derive(Deserialize, Clone, Copy, PartialEq, Debug)]
#[serde(rename_all = "snake_case")]
enum Wrong {
    Rate,
    Unit,
    Product,
    Place,
    Limit,
    /// Nothing that is sown: a sheet, an order, a name, or a setting that does nothing.
    Other,
}

/// How a job ended.
enum Ended {
    Refused(Box<Fault>),
    /// One, or two for a dry and a moist seedbed.
    Planned(Vec<Plan>),
}

impl Ended {
    fn exit(&self) -> u8 {
        match self {
            Self::Refused(fault) if fault.blame == Blame::Input => 2,
            Self::Refused(_) => 3,
            Self::Planned(plans) => u8::from(plans.iter().any(|plan| !plan.open().is_empty())),
        }
    }

    /// Code, weight and message of everything that was said.
    fn said(&self) -> Vec<(String, Option<Severity>, String)> {
        match self {
            Self::Refused(fault) => vec![(fault.code.to_string(), None, fault.to_string())],
            Self::Planned(plans) => {
                let findings = plans.iter().flat_map(|plan| &plan.findings);
                findings
                    .map(|of| (of.code.to_string(), Some(of.severity), of.message.clone()))
                    .collect()
            }
        }
    }
}

/// Plans the job as the command line does: one field, or with `split_by` the first of them.
fn planned(text: &str, folder: &Path) -> Ended {
    // What a terminal takes, and no drawings.
    let options = Options {
        drawing: false,
        ..Options::default()
    };
    let plan = || {
        let job = Job::parse(text, &folder.join("job.toml"))?;
        match &job.field.split_by {
            Some(attribute) => {
                let shared = SharedInputs::of(&job, attribute)?;
                plan::plans(&shared.job(0), &shared.field(0), &options)
            }
            None => plan::plans(&job, &Disk, &options),
        }
    };
    match plan() {
        Ok(plans) => Ended::Planned(plans),
        Err(fault) => Ended::Refused(fault),
    }
}

/// Files that a terminal could load, with `/` between folders.
fn loadable(folder: &Path) -> Vec<String> {
    let ends = [".XML", ".bin", ".shp", ".shp.zip", ".dbf", ".shx", ".prj"];
    let mut found = Vec::new();
    let mut open = vec![folder.to_path_buf()];
    while let Some(here) = open.pop() {
        for each in fs::read_dir(&here).expect("a folder").flatten() {
            let path = each.path();
            if path.is_dir() {
                open.push(path);
                continue;
            }
            let name = path.strip_prefix(folder).expect("inside").to_string_lossy();
            let name = name.replace('\\', "/");
            if ends.iter().any(|end| name.ends_with(end)) {
                found.push(name);
            }
        }
    }
    found.sort();
    found
}

const FIELD: [[f64; 2]; 2] = [[0.0, 0.0], [200.0, 150.0]];

/// All files that the sound job and the mistakes name.
fn field() -> Made {
    let made = Made::new();
    let polygon = |properties: &str, rings: &Rings| feature(PLACE, properties, rings);
    let whole = || rectangle(FIELD[0], FIELD[1]);
    let soil = |class: &str, west: f64, east: f64| {
        let shape = rectangle([west, -10.0], [east, 160.0]);
        polygon(&format!(r#""soil":"{class}","ph":7.9"#), &shape)
    };
    let index = |class: &str, south: f64, north: f64| {
        let shape = rectangle([-10.0, south], [210.0, north]);
        polygon(&format!(r#""index":"{class}""#), &shape)
    };
    let far = [PLACE[0], PLACE[1] + 0.5];
    let far_zone = |class: &str| {
        let shape = rectangle([-10.0, -10.0], [210.0, 160.0]);
        feature(far, &format!(r#""soil":"{class}""#), &shape)
    };
    let named = |name: &str, west: f64| {
        let shape = rectangle([west, 0.0], [west + 200.0, 150.0]);
        polygon(&format!(r#""name":"{name}""#), &shape)
    };
    let pond = rectangle([150.0, 90.0], [165.0, 105.0]);
    let brook: &[[f64; 2]] = &[[-20.0, 8.0], [220.0, 8.0]];
    let entrance = rectangle([0.0, 60.0], [30.0, 80.0]);
    for (name, features) in [
        ("boundary", vec![polygon(r#""name":"Shoal""#, &whole())]),
        (
            "many",
            vec![
                named("Shoal", 0.0),
                named("Hythe", 300.0),
                named("Ness", 600.0),
            ],
        ),
        (
            "parts",
            vec![
                polygon("", &rectangle([0.0, 0.0], [90.0, 150.0])),
                polygon("", &rectangle([110.0, 0.0], [200.0, 150.0])),
            ],
        ),
        (
            "line",
            vec![line(PLACE, &[[0.0, 0.0], [200.0, 0.0], [200.0, 150.0]])],
        ),
        ("nothing", Vec::new()),
        (
            "flat",
            vec![polygon(
                "",
                &vec![vec![[0.0, 0.0], [9.0, 0.0], [18.0, 0.0]]],
            )],
        ),
        (
            "soil",
            vec![soil("sand", -10.0, 80.0), soil("clay", 80.0, 210.0)],
        ),
        (
            "soil-gap",
            vec![soil("sand", -10.0, 80.0), soil("clay", 100.0, 210.0)],
        ),
        (
            "soil-overlap",
            vec![soil("sand", -10.0, 100.0), soil("clay", 80.0, 210.0)],
        ),
        (
            "soil-peat",
            vec![soil("sand", -10.0, 80.0), soil("peat", 80.0, 210.0)],
        ),
        ("soil-far", vec![far_zone("sand")]),
        (
            "soil-line",
            vec![line(PLACE, &[[0.0, 0.0], [200.0, 150.0]])],
        ),
        (
            "phosphate",
            vec![index("0", -10.0, 70.0), index("2", 70.0, 160.0)],
        ),
        ("pond", vec![polygon(r#""name":"pond""#, &pond)]),
        ("pond-far", vec![feature(far, "", &pond)]),
        (
            "pond-all",
            vec![polygon("", &rectangle([-50.0, -50.0], [300.0, 300.0]))],
        ),
        (
            "pond-line",
            vec![line(PLACE, &[[150.0, 90.0], [165.0, 105.0]])],
        ),
        ("brook", vec![line(PLACE, brook)]),
        ("brook-far", vec![line(far, brook)]),
        ("entrance", vec![polygon(r#""name":"entrance""#, &entrance)]),
        ("entrance-far", vec![feature(far, "", &entrance)]),
    ] {
        made.write(&format!("{name}.geojson"), collection(&features));
    }
    let ring: Vec<[f64; 2]> = [
        [0.0, 0.0],
        [200.0, 0.0],
        [200.0, 150.0],
        [0.0, 150.0],
        [0.0, 0.0],
    ]
    .map(|xy| plan_support::degrees(PLACE, xy))
    .to_vec();
    let points = |point: &dyn Fn(&[f64; 2]) -> [f64; 2]| {
        let all: Vec<String> = ring.iter().map(|of| format!("{:?}", point(of))).collect();
        format!(
            r#"{{"type":"FeatureCollection","features":[{{"type":"Feature","properties":{{}},"geometry":{{"type":"Polygon","coordinates":[[{}]]}}}}]}}"#,
            all.join(",")
        )
    };
    made.write("lat-lon.geojson", points(&|[lon, lat]| [*lat, *lon]));
    made.write(
        "metres.geojson",
        points(&|[lon, lat]| [lon * 111_000.0, lat * 111_000.0]),
    );
    made.write("not-json.geojson", "{\"type\": \"FeatureCollection\", ");
    made.write("empty.geojson", "");
    made
}

#[test]
fn no_mistake_leaves_the_desk() {
    let list: List = toml::from_str(LIST).expect("the list");
    let made = field();
    let sound = planned(SOUND, made.path());
    assert_eq!(sound.exit(), 0, "{:?}", sound.said());
    let wrong: Vec<String> = list
        .mistake
        .par_iter()
        .enumerate()
        .filter_map(|(nth, mistake)| held_to(mistake, nth, &made).err())
        .collect();
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

/// Holds one mistake to its row of the list.
fn held_to(mistake: &Mistake, nth: usize, made: &Made) -> Result<(), String> {
    let mut text = SOUND.to_owned();
    for [from, to] in &mistake.change {
        if text.matches(from.as_str()).count() == 0 {
            return Err(format!("{}: '{from}' is not in the job", mistake.what));
        }
        text = text.replacen(from.as_str(), to, 1);
    }
    let ended = planned(&text, made.path());
    let said = ended.said();
    if std::env::var_os("TWINSOW_SHOW").is_some() {
        let mut shown = format!("== {} | exit {}\n", mistake.what, ended.exit());
        for (code, weight, message) in &said {
            let _ = writeln!(shown, "   {code} {weight:?} {message}");
        }
        println!("{shown}");
    }
    let mut wrong = Vec::new();
    if ended.exit() != mistake.exit {
        wrong.push(format!("exit {}, not {}", ended.exit(), mistake.exit));
    }
    // What is sown wrongly never ends well.
    if mistake.wrong != Wrong::Other && ended.exit() == 0 {
        wrong.push("nothing stops it".to_owned());
    }
    let message = said.iter().find(|(code, ..)| *code == mistake.gives);
    match message {
        None => wrong.push(format!("no {}", mistake.gives)),
        Some((_, weight, message)) => {
            let stops = weight.is_none_or(|weight| weight == Severity::Decision);
            if stops != (mistake.exit > 0) {
                wrong.push(format!("{} weighs {weight:?}", mistake.gives));
            }
            for words in &mistake.says {
                if !message.contains(words.as_str()) {
                    wrong.push(format!("'{words}' is not in: {message}"));
                }
            }
        }
    }
    if let Ended::Planned(plans) = &ended {
        let mut held = Vec::new();
        for plan in plans {
            let of = plan.other_seedbed.as_ref();
            let of = of.map_or(String::new(), |own| format!("{}: ", own.moisture.word()));
            held.extend(plan.held_back().iter().map(|id| format!("{of}{id}")));
            let folder = made.path().join(format!("out-{nth}-{}", plan.id));
            wrong.extend(at_the_terminal(plan, &folder)?);
            // The list is long, and so are the files.
            fs::remove_dir_all(&folder).map_err(|it| it.to_string())?;
        }
        if held != mistake.held {
            wrong.push(format!("held back: {held:?}, not {:?}", mistake.held));
        }
    }
    match wrong.is_empty() {
        true => Ok(()),
        false => Err(format!(
            "{}:\n    {}\n    said: {:?}",
            mistake.what,
            wrong.join("\n    "),
            said.iter().map(|(code, ..)| code).collect::<Vec<_>>()
        )),
    }
}

/// Writes what a terminal is given of a plan into a new folder; gives what is wrong with it.
fn at_the_terminal(plan: &Plan, folder: &Path) -> Result<Option<String>, String> {
    let held: Vec<&str> = plan.held_back();
    fs::create_dir(folder).map_err(|it| it.to_string())?;
    let forms = Forms::only([Form::TaskData, Form::Fallback, Form::Shapefile]);
    let when = "2031-01-01T00:00:00Z";
    write::content(plan, folder, when, &forms).map_err(|it| it.to_string())?;
    let files = loadable(folder);
    // What holds one product alone lies in a folder of its name.
    let free = |name: &String| {
        let alone = name.strip_prefix("terminal/fallback/shapefile-");
        let of = alone.and_then(|rest| rest.split('/').next());
        of.is_some_and(|id| id != "all-products" && !held.contains(&id))
    };
    Ok(if !held.is_empty() && !files.iter().all(free) {
        Some(format!("a terminal could load {files:?}"))
    } else if held.is_empty() && files.is_empty() {
        Some("no file for a terminal".to_owned())
    } else {
        None
    })
}

#[test]
fn the_list_is_long_and_no_row_stands_twice() {
    let list: List = toml::from_str(LIST).expect("the list");
    assert!(list.mistake.len() >= AT_LEAST, "{}", list.mistake.len());
    let words: BTreeSet<&str> = list.mistake.iter().map(|of| of.what.as_str()).collect();
    assert_eq!(words.len(), list.mistake.len(), "words stand twice");
    let changes: BTreeSet<&Vec<[String; 2]>> = list.mistake.iter().map(|of| &of.change).collect();
    assert_eq!(changes.len(), list.mistake.len(), "a change stands twice");
    for of in &list.mistake {
        assert!(
            !of.what.trim().is_empty() && !of.change.is_empty(),
            "{}",
            of.what
        );
        assert!(of.exit > 0 || of.wrong == Wrong::Other, "{}", of.what);
    }
}
