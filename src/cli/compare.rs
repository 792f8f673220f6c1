//! `twinsow compare`: a terminal's log against the plan.

use super::clock;
use super::exit::Exit;
use super::guard;
use super::ledger;
use super::load;
use super::screen::Screen;
use super::show::findings;
use super::show::number::{Numbers, grouped};
use super::show::table::{Column, Table};
use super::targets::{self, Known};
use crate::compare::{self, Compared, Differences, FieldRecord, Noted, PlanMap, Settings};
use crate::findings::{Fault, Outcome, Place};
use crate::job::Job;
use crate::ledger::What;
use crate::read::taskdata;
use crate::write;
use clap::Args as ClapArgs;
use std::fmt::Write as _;
use std::fs;
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
pub(super) struct Args {
    /// The plan: its folder, or the plan.json in it
    #[arg(value_name = "PLAN")]
    plan: PathBuf,
    /// Task data with time logs: folder, zip file or TASKDATA.XML
    #[arg(value_name = "TASKDATA")]
    task_data: PathBuf,
    /// Kilograms that were loaded of a product; gives what is left
    #[arg(long, value_name = "PRODUCT=KG")]
    loaded: Vec<String>,
    /// Kilograms of a product that were weighed back at the end; with --loaded it says what was sown by weight
    #[arg(long, value_name = "PRODUCT=KG")]
    left: Vec<String>,
    /// Which product a device element of the log sows, where the log does not say; 'none' if none of the plan
    #[arg(long = "element", value_name = "ELEMENT=PRODUCT")]
    elements: Vec<String>,
    /// Id of the task, where several have logs
    #[arg(long, value_name = "ID")]
    task: Option<String>,
    /// Writes the difference map: GeoPackage by a name that ends in .gpkg, GeoJSON by .geojson or .json; an older one is replaced
    #[arg(long, value_name = "FILE")]
    map: Option<PathBuf>,
    /// Writes the verdict as one page that prints (HTML); an older one is replaced
    #[arg(long, value_name = "FILE")]
    page: Option<PathBuf>,
    /// Writes what was sown into the ledger of the year in this folder, YEAR.csv, and its land, YEAR.geojson; what is there of the same logs gives way
    #[arg(long, value_name = "DIR")]
    ledger: Option<PathBuf>,
    /// Writes a field record for an inspector: NAME.html, NAME.csv and NAME.json; what is not known stays empty
    #[arg(long, value_name = "NAME")]
    record: Option<PathBuf>,
    /// With --record: who drove
    #[arg(long, value_name = "NAME", requires = "record")]
    operator: Option<String>,
    /// With --record: weather, wind and soil as they were noted
    #[arg(long, value_name = "TEXT", requires = "record")]
    weather: Option<String>,
    /// With --record: fit to drill, the soil as it was found
    #[arg(long, value_name = "TEXT", requires = "record")]
    soil: Option<String>,
    /// With --record: fit to drill, moisture at sowing depth
    #[arg(long, value_name = "TEXT", requires = "record")]
    moisture: Option<String>,
    /// With --record: a product whose seed tag and bag somebody has looked at
    #[arg(long, value_name = "PRODUCT", requires = "record")]
    tag_seen: Vec<String>,
    /// With --record: a photo of a product's tag; the record has its file name
    #[arg(long, value_name = "PRODUCT=FILE", requires = "record")]
    tag_photo: Vec<String>,
    /// With --record: who signs it by name, today; without it there is a line to sign by hand
    #[arg(long, value_name = "NAME", requires = "record")]
    signed_by: Option<String>,
    /// Writes the job for the land not drilled yet beside this job file: NAME-rest.toml
    #[arg(long, value_name = "JOB.toml")]
    rest: Option<PathBuf>,
    /// With --rest: by how many metres the outlets lie behind the place in the log; the rest goes back so far, and by the
    /// start delay of the job [default: reference_to_outlets_m of the job]
    #[arg(long, value_name = "M", requires = "rest")]
    behind: Option<f64>,
    /// Prints one JSON object and nothing else
    #[arg(long)]
    json: bool,
}

/// What earlier results are known by.
const MAP: Known<'_> = Known::Seen(&is_map);
const PAGE: Known<'_> = Known::Page("told-title");
/// Page, table and JSON of the record.
const RECORD: [Known<'_>; 3] = [
    Known::Page("what-title"),
    Known::Text(
        "plan,tasks,customer,farm,field,longitude,latitude,from,to,hours,drilled_ha,product,",
        ",signed_by,signed_on",
    ),
    Known::Text("{\n  \"format\": \"twinsow-field-record\",", ""),
];
const DRILLED: Known<'_> = Known::Text(
    "{\"type\":\"FeatureCollection\",\"plan\":",
    "\"properties\":{\"name\":\"drilled already\"},",
);

/// Whether a file is an earlier difference map, of the form that its name says.
fn is_map(file: &Path) -> bool {
    let ending = file.extension().unwrap_or_default();
    match ending.eq_ignore_ascii_case("gpkg") {
        true => write::is_difference_map(file),
        false => Known::Text(
            "{\"type\":\"FeatureCollection\",\"plan\":",
            "\"drilled_percent\":",
        )
        .is_own(file),
    }
}

pub(super) fn run(args: &Args, screen: &mut Screen) -> Exit {
    match guard::guarded(|| compared(args)) {
        Ok((figures, written)) => {
            if args.json {
                match serde_json::to_string_pretty(&figures) {
                    Ok(text) => screen.print(&format!("{text}\n")),
                    Err(error) => {
                        let fault =
                            targets::unwritable(Path::new("-"), &std::io::Error::other(error));
                        screen.fault(&fault);
                        return Exit::of_fault(&fault);
                    }
                }
            } else {
                screen.print(&shown(&figures, &written));
            }
            match figures.asks() {
                true => Exit::Decide,
                false => Exit::Done,
            }
        }
        Err(fault) => {
            screen.fault(&fault);
            Exit::of_fault(&fault)
        }
    }
}

/// The figures, and the files that were written.
fn compared(args: &Args) -> Outcome<(Compared, Vec<PathBuf>)> {
    let mut settings = Settings {
        task: args.task.clone(),
        page: args.page.is_some(),
        record: args.record.is_some(),
        ledger: args.ledger.is_some(),
        behind_m: args.behind.map(behind).transpose()?,
        ..Settings::default()
    };
    let kilograms = |texts: &[String], option: &str| -> Outcome<Vec<(String, f64)>> {
        let weight = |text: &String| {
            let (id, kg) = pair(text, option)?;
            let kg = kg.parse::<f64>().ok();
            let kg = kg.filter(|kg| kg.is_finite() && *kg >= 0.0);
            Ok((id, kg.ok_or_else(|| bad_pair(text, option))?))
        };
        texts.iter().map(weight).collect()
    };
    settings.loaded = kilograms(&args.loaded, "--loaded")?;
    settings.weighed_back = kilograms(&args.left, "--left")?;
    settings.elements = element_pairs(&args.elements)?;
    if let Some(file) = &args.map {
        check_map(file)?;
    }
    let names = args.record.as_deref();
    let names = names.map(|name| targets::named(name, [".html", ".csv", ".json"]));
    let names = names.transpose()?;
    let plan = PlanMap::read(&args.plan)?;
    let rest = args.rest.as_deref().map(|job| rest_of(job, &plan));
    let rest = rest.transpose()?;
    let is_rest = |file: &Path| rest.as_ref().is_some_and(|own| own.is_as_written(file));
    let mut all: Vec<(PathBuf, Known<'_>)> = Vec::new();
    all.extend(args.map.iter().map(|file| (file.clone(), MAP)));
    all.extend(args.page.iter().map(|file| (file.clone(), PAGE)));
    all.extend(names.iter().flat_map(|own| own.clone().into_iter().zip(RECORD)));
    all.extend(rest.iter().flat_map(|own| {
        [
            (own.drilled.clone(), DRILLED),
            (own.job.clone(), Known::Seen(&is_rest)),
        ]
    }));
    let check = |all: &[(PathBuf, Known<'_>)]| {
        targets::check(all.iter().map(|(file, known)| (file.as_path(), *known)))
    };
    check(&all)?;
    let set = taskdata::read_parts(
        &args.task_data,
        taskdata::Parts {
            grids: false,
            logs: true,
        },
    )?;
    let comparison = compare::compare(&plan, &set, &settings)?;
    if rest.is_some() && comparison.also_by_other {
        return Err(Fault::input(
            "compare.rest_of_two",
            Place::file(&args.task_data),
            "The field was sown by two plans, for a moist and for a dry seedbed, so the land that is left is not known from one of them",
            "--rest for a field that was sown by one plan",
            "Draw what is drilled as an exclusion of the job; nothing was written.",
        ));
    }
    let record = match names {
        Some(names) => record(names, args, &plan, &comparison)?,
        None => Vec::new(),
    };
    let in_ledger = args.ledger.as_ref().map(|folder| ledger::Entry {
        folder: folder.clone(),
        date: comparison.figures.first_day.clone(),
        sowing_date: plan.sowing_date.clone(),
        rows: compare::ledger_rows(&plan, &comparison.figures),
        pieces: comparison.pieces,
    });
    // With the ledger, whose year only the log says. From here on nothing but the disk can fail.
    if let Some(entry) = &in_ledger {
        entry.check_day(What::Placed)?;
        let files = entry.files()?.into_iter();
        all.extend(files.map(|(file, _)| (file, Known::Read)));
    }
    check(&all)?;
    let all: Vec<PathBuf> = all.into_iter().map(|(file, _)| file).collect();
    targets::make_folders(all.iter().map(PathBuf::as_path))?;
    if let Some(file) = &args.map {
        put_map(file, &comparison.differences)?;
    }
    if let (Some(file), Some(page)) = (&args.page, comparison.page) {
        targets::put(&[(file.clone(), page)])?;
    }
    targets::put(&record)?;
    if let Some(rest) = rest {
        let job = rest.text + &goes_on(&comparison.figures, comparison.back_m);
        // The job last: it names the other.
        targets::put(&[
            (rest.drilled, comparison.drilled.into_bytes()),
            (rest.job, job.into_bytes()),
        ])?;
    }
    // The ledger last: what it says stands in the others.
    if let Some(entry) = in_ledger {
        entry.put()?;
    }
    Ok((comparison.figures, all))
}

/// The field record as a page, a table and JSON.
fn record(
    [page, table, json]: [PathBuf; 3],
    args: &Args,
    plan: &PlanMap,
    comparison: &compare::Comparison,
) -> Outcome<Vec<(PathBuf, Vec<u8>)>> {
    let today = || clock::timestamp().chars().take(10).collect();
    let noted = Noted {
        operator: args.operator.clone(),
        weather: args.weather.clone(),
        soil: args.soil.clone(),
        moisture: args.moisture.clone(),
        tags_seen: args.tag_seen.clone(),
        tag_photos: args
            .tag_photo
            .iter()
            .map(|text| photo(text))
            .collect::<Outcome<_>>()?,
        signed: args.signed_by.clone().map(|by| [by, today()]),
    };
    let record = FieldRecord::of(&args.plan, plan, comparison, &noted)?;
    let text = serde_json::to_string_pretty(&record)
        .map_err(|error| targets::unwritable(&json, &std::io::Error::other(error)))?;
    Ok(vec![
        (page, record.page(plan.language)?),
        (table, record.csv()?),
        (json, (text + "\n").into_bytes()),
    ])
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
pub(super) fn element_pairs(texts: &[String]) -> Outcome<Vec<(String, String)>> {
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

/// The files for the land not drilled yet.
struct Rest {
    job: PathBuf,
    text: String,
    drilled: PathBuf,
}

impl Rest {
    /// Whether a job file is as an earlier run has left it: nobody has answered what it asks, or worked on it in another way.
    fn is_as_written(&self, file: &Path) -> bool {
        let there = fs::read_to_string(file).unwrap_or_default();
        let more = there.strip_prefix(&self.text);
        more.is_some_and(|more| more.lines().all(|line| line.starts_with('#')))
    }
}

/// The job with one more exclusion. It lies beside the old one, so that all its paths still hold.
fn rest_of(job: &Path, plan: &PlanMap) -> Outcome<Rest> {
    crate::read::no_endless(job)?;
    let text = fs::read_to_string(job).map_err(|error| {
        Fault::input(
            "compare.job",
            Place::file(job),
            format!("The job file cannot be read ({error})"),
            "the job file that the plan was made from",
            "Correct the path after --rest.",
        )
    })?;
    let own = Job::parse_with(&text, job, &load::text)?;
    if !plan.is_of(&own) {
        return Err(Fault::input(
            "compare.other_job",
            Place::file(job),
            format!(
                "This job is not that of plan {}, which is for the field '{}'; it is '{}' for the field '{}'",
                plan.id, plan.field, own.name, own.field.name
            ),
            "the job file that the plan was made from",
            "Correct the path after --rest; nothing was written.",
        ));
    }
    let stem = job
        .file_stem()
        .unwrap_or_default()
        .to_string_lossy()
        .into_owned();
    let drilled = job.with_file_name(format!("{stem}-drilled.geojson"));
    let name = drilled
        .file_name()
        .unwrap_or_default()
        .to_string_lossy()
        .into_owned();
    let end = if text.ends_with('\n') { "" } else { "\n" };
    let text = format!(
        "{text}{end}\n# Added by 'twinsow compare --rest': land that the log shows as drilled.\n[[exclusion]]\nname = \"drilled already\"\nsource = {{ file = {} }}\n",
        toml::Value::String(name)
    );
    let target = job.with_file_name(format!("{stem}-rest.toml"));
    Job::parse_with(&text, &target, &load::text)?;
    let text = asks_again(&text);
    Ok(Rest {
        job: target,
        text,
        drilled,
    })
}

/// What the driver of the rest has to know, as comments in its job.
fn goes_on(figures: &Compared, back_m: f64) -> String {
    let mut text =
        format!("# The rest begins {back_m:.1} m before the place where the drill stopped.\n");
    let left = figures.products.iter();
    for (id, kg) in left.filter_map(|own| Some((&own.id, own.left_kg?))) {
        let _ = writeln!(text, "# Left of '{id}' by the log: {kg:.0} kg.");
    }
    text
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

/// Settings that a later day asks for again, where the job has them.
const ASKED_AGAIN: [&str; 2] = ["sowing_date", "lot"];

/// The job with date and lot open, so that it does not plan until somebody has looked; line by line, so that comments stay.
fn asks_again(text: &str) -> String {
    let lines = text.split_inclusive('\n').map(|line| {
        let key = line.split('=').next().unwrap_or_default().trim();
        let end = if line.ends_with('\n') { "\n" } else { "" };
        match ASKED_AGAIN.contains(&key) && line.contains('=') {
            true => format!("{key} = \"?\" # Was: {}{end}", line.trim()),
            false => line.to_owned(),
        }
    });
    lines.collect()
}

/// The form of the map goes by its name.
fn check_map(file: &Path) -> Outcome<()> {
    let ending = file.extension().unwrap_or_default();
    let known = ["gpkg", "geojson", "json"];
    match known.iter().any(|own| ending.eq_ignore_ascii_case(own)) {
        true => Ok(()),
        false => Err(Fault::input(
            "compare.option",
            Place::file(file),
            "The difference map is in no form of this name",
            "--map with a name that ends in .gpkg, .geojson or .json",
            "Correct the command; nothing was written.",
        )),
    }
}

fn put_map(file: &Path, map: &Differences) -> Outcome<()> {
    let ending = file.extension().unwrap_or_default();
    if !ending.eq_ignore_ascii_case("gpkg") {
        return targets::put(&[(file.to_path_buf(), map.geojson().into_bytes())]);
    }
    let squares = map.squares.iter();
    let rows = squares.map(|square| (&square.polygon, square.values.as_slice()));
    let now = clock::timestamp();
    write::difference_map(&map.plan, &map.columns, rows, file, &now)
}

fn percent(part: f64, of: f64) -> String {
    match of > 0.0 {
        true => format!("{:.1} %", 100.0 * part / of),
        false => "-".to_string(),
    }
}

fn shown(figures: &Compared, written: &[PathBuf]) -> String {
    let numbers = Numbers::of(figures.units);
    let in_mass = |words: &str| format!("{words} {}", numbers.mass_unit());
    let mass = |kg: f64| numbers.weighed_text(kg, 1);
    let mut text = String::new();
    let _ = writeln!(
        text,
        "Plan {}, logs {} of {}: {} records, {:.1} h in work",
        figures.plan,
        figures.logs.join(", "),
        figures.tasks.join(", "),
        grouped(figures.records as f64, 0),
        figures.working_h
    );
    text.push_str(&verdict(figures));
    let mut land = Table::new([
        Column::Left("land".to_owned()),
        Column::Right(numbers.area_unit().to_owned()),
        Column::Right("of the plan".to_owned()),
    ]);
    for (name, m2) in [
        ("in the plan", figures.planned_m2),
        ("drilled", figures.drilled_m2),
        ("of it twice or more", figures.twice_m2),
        ("missed", figures.missed_m2),
        ("drilled beyond the plan's land", figures.beyond_m2),
    ] {
        land.row([
            name.to_string(),
            numbers.area_text(m2),
            percent(m2, figures.planned_m2),
        ]);
    }
    text.push_str(&land.text());
    let mut table = Table::new([
        Column::Left("product".to_owned()),
        Column::Right(in_mass("planned")),
        Column::Right("where drilled".to_owned()),
        Column::Right(in_mass("sown")),
        Column::Right("by".to_owned()),
        Column::Right("beyond".to_owned()),
        Column::Right("without position".to_owned()),
    ]);
    for product in &figures.products {
        table.row([
            product.id.clone(),
            mass(product.planned_kg),
            mass(product.planned_where_drilled_kg),
            mass(product.sown_kg),
            if product.by_total { "total" } else { "rate" }.to_string(),
            mass(product.beyond_kg),
            product.not_placed_kg.map_or("-".to_string(), mass),
        ]);
    }
    text.push_str(&table.text());
    let mut table = Table::new([
        Column::Left("share of drilled land".to_owned()),
        Column::Right("within 5 %".to_owned()),
        Column::Right("10 %".to_owned()),
        Column::Right("20 %".to_owned()),
        Column::Right(format!("{} where 0 was planned", numbers.mass_unit())),
        Column::Right(in_mass("loaded")),
        Column::Right(in_mass("left")),
    ]);
    for product in &figures.products {
        let [five, ten, twenty] = product.within_percent.map(|share| format!("{share:.1} %"));
        let kg = |kg: Option<f64>| kg.map_or("-".to_string(), mass);
        table.row([
            product.id.clone(),
            five,
            ten,
            twenty,
            mass(product.where_planned_zero_kg),
            kg(product.loaded_kg),
            kg(product.left_kg),
        ]);
    }
    text.push_str(&table.text());
    text.push_str(&zones(figures));
    if !figures.findings.is_empty() {
        text.push_str(&findings::grouped(&figures.findings, numbers));
    }
    for file in written {
        let _ = writeln!(text, "Wrote {}", file.display());
    }
    text
}

/// What is told, each with what to do about it; and how the work went.
fn verdict(figures: &Compared) -> String {
    let numbers = Numbers::of(figures.units);
    let mut text = String::new();
    let work = &figures.work;
    let _ = write!(
        text,
        "{:.1} h on the field, {} {} an hour",
        work.on_the_field_h,
        numbers.fill_area_text(work.ha_per_h),
        numbers.area_unit()
    );
    let _ = match work.stops.first() {
        None => writeln!(text, ", no stop of more than 2 minutes"),
        Some(longest) => writeln!(
            text,
            ", {} stops of more than 2 minutes, {:.1} h in all, the longest {:.0} minutes {}",
            work.stops.len(),
            work.stopped_h,
            longest.minutes,
            Place::nowhere().at(longest.lon_lat)
        ),
    };
    if !figures.told.iter().any(|own| own.asks) {
        text.push_str("Nothing in the log asks for a decision.\n");
    }
    for (nth, own) in figures.told.iter().enumerate() {
        let place = own
            .lon_lat
            .map(|at| format!(" ({})", Place::nowhere().at(at)));
        let mark = if own.asks { "Decide" } else { "Note" };
        let _ = writeln!(
            text,
            "{}. {mark}: {}{}\n   {}",
            nth + 1,
            own.found,
            place.unwrap_or_default(),
            own.next
        );
    }
    let _ = writeln!(text, "{}", figures.not_shown);
    text
}

fn zones(figures: &Compared) -> String {
    let numbers = Numbers::of(figures.units);
    let mut columns = vec![
        Column::Left("zone".to_string()),
        Column::Left("part".to_string()),
        Column::Right(numbers.area_unit().to_string()),
        Column::Right("drilled".to_string()),
    ];
    for product in &figures.products {
        columns.push(Column::Right(format!(
            "{} planned {}",
            product.id,
            numbers.mass_unit()
        )));
        columns.push(Column::Right("sown".to_string()));
    }
    let mut table = Table::new(columns);
    for zone in &figures.zones {
        let mut row = vec![
            zone.zone.to_string(),
            zone.part.clone(),
            numbers.area_text(zone.area_m2),
            percent(zone.drilled_m2, zone.area_m2),
        ];
        for (planned, sown) in zone.planned_kg.iter().zip(&zone.sown_kg) {
            row.push(numbers.weighed_text(*planned, 1));
            row.push(numbers.weighed_text(*sown, 1));
        }
        table.row(row);
    }
    table.text()
}
