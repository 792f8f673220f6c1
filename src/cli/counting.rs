//! `twinsow counting`: a counting round after emergence, to walk with.

use super::establishment::{layer, product};
use super::exit::Exit;
use super::frame;
use super::one_field;
use super::screen::Screen;
use super::targets::{self, Known};
use crate::establishment::round::{Round, Spot, round};
use crate::establishment::{Asked, Per};
use crate::findings::Outcome;
use crate::plan::{self, Disk, Options};
use crate::write;
use clap::Args as ClapArgs;
use quick_xml::escape::escape;
use std::fmt::Write as _;
use std::path::PathBuf;

/// Lays out a counting round after emergence: places in each zone, as GPX, GeoJSON and CSV to walk with
///
/// So many places in each class of a layer, spread over it and away from its edges, chosen before anybody has seen the stand. The CSV has a column
/// for the counts; filled in, it goes to 'twinsow establishment'.
#[derive(Debug, ClapArgs)]
#[command(after_help = "Examples:
  twinsow counting job.toml round
  twinsow establishment job.toml round.csv --column plants --per metre")]
pub(super) struct Args {
    /// The job that was sown
    #[arg(value_name = "JOB.toml")]
    job: PathBuf,
    /// Name of the files: NAME.gpx, NAME.geojson and NAME.csv
    #[arg(value_name = "NAME")]
    name: PathBuf,
    /// Which field of a job with split_by: the value that tells it apart
    #[arg(long, value_name = "VALUE")]
    field: Option<String>,
    /// Id of the seed, where the job has several
    #[arg(long, value_name = "ID")]
    product: Option<String>,
    /// Layer whose classes are told apart [default: the one that the establishment or the rate goes by]
    #[arg(long, value_name = "NAME")]
    layer: Option<String>,
    /// Prints one JSON object and nothing else
    #[arg(long)]
    json: bool,
}

pub(super) fn run(args: &Args, screen: &mut Screen) -> Exit {
    frame::run(screen, || made(args))
}

fn made(args: &Args) -> Outcome<String> {
    let names = targets::named(&args.name, [".gpx", ".geojson", ".csv"])?;
    let never = Known::Never("a counting round");
    targets::check(names.iter().map(|file| (file.as_path(), never)))?;
    let job = one_field::load(&args.job, args.field.as_deref())?;
    let product = product(&job, args.product.as_deref())?;
    let asked = Asked {
        product,
        layer: layer(&job, product, args.layer.as_deref())?,
        column: "",
        per: Per::SquareMetre,
        redrill_per_ha: None,
    };
    let plan = plan::plan(&job, &Disk, &Options::default())?;
    let round = round(&plan, &asked)?;
    let [waypoints, features, table] = names;
    let files = [
        (waypoints, gpx(&round).into_bytes()),
        (features, geojson(&round).into_bytes()),
        (table, csv(&round)?.into_bytes()),
    ];
    targets::make_folders(files.iter().map(|(file, _)| file.as_path()))?;
    targets::put(&files)?;
    Ok(match args.json {
        true => frame::json(&round)?,
        false => shown(&round, &files.map(|(file, _)| file)),
    })
}

fn name(spot: &Spot) -> String {
    format!("{} {}", spot.number, spot.class).trim().to_owned()
}

/// GPX 1.1 with a waypoint for each place.
fn gpx(round: &Round) -> String {
    let mut text = String::from(
        "<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n<gpx version=\"1.1\" creator=\"twinsow\" xmlns=\"http://www.topografix.com/GPX/1/1\">\n",
    );
    for spot in &round.spots {
        let (lon, lat, name) = (spot.lon_lat.lon, spot.lon_lat.lat, name(spot));
        let _ = writeln!(
            text,
            "<wpt lat=\"{lat:.7}\" lon=\"{lon:.7}\"><name>{}</name></wpt>",
            escape(name.as_str())
        );
    }
    text.push_str("</gpx>\n");
    text
}

fn geojson(round: &Round) -> String {
    let features: Vec<serde_json::Value> = round
        .spots
        .iter()
        .map(|spot| {
            let rounded = spot
                .lon_lat
                .pair()
                .map(|degrees| (degrees * 1e7).round() / 1e7);
            serde_json::json!({
                "type": "Feature",
                "properties": { "number": spot.number, "class": spot.class },
                "geometry": { "type": "Point", "coordinates": rounded },
            })
        })
        .collect();
    let all = serde_json::json!({ "type": "FeatureCollection", "features": features });
    format!("{all}\n")
}

fn csv(round: &Round) -> Outcome<String> {
    let header = ["number", "lon", "lat", "class", "plants"].map(str::to_owned);
    let rows = round.spots.iter().map(|spot| {
        vec![
            spot.number.to_string(),
            format!("{:.7}", spot.lon_lat.lon),
            format!("{:.7}", spot.lon_lat.lat),
            write::cell(&spot.class),
            String::new(),
        ]
    });
    let bytes = write::csv(header.to_vec(), rows)?;
    Ok(String::from_utf8_lossy(&bytes).into_owned())
}

fn shown(round: &Round, files: &[PathBuf]) -> String {
    let mut text = format!(
        "{} places to count at, in the order to walk\n",
        round.spots.len()
    );
    let mut classes: Vec<&str> = round.spots.iter().map(|spot| spot.class.as_str()).collect();
    classes.sort_unstable();
    classes.dedup();
    for class in classes.iter().filter(|class| !class.is_empty()) {
        let count = round
            .spots
            .iter()
            .filter(|spot| spot.class == **class)
            .count();
        let _ = writeln!(text, "  {class}: {count}");
    }
    for class in &round.short {
        let of = if class.is_empty() { "the field" } else { class };
        let _ = writeln!(
            text,
            "note: {of} is too narrow or too small for as many places as wanted."
        );
    }
    text.push_str("Count when emergence is over, at the place itself, not where the stand looks best; step aside from wheelings.\n");
    for file in files {
        let _ = writeln!(text, "wrote {}", file.display());
    }
    text
}
