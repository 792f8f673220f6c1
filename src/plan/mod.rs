//! The plan: everything that is known once a job has been planned.
//!
//! [`gather`] reads; [`prepare`] does all geometry; [`rate`] puts rates on it. The last two are pure,
//! and changing a rate needs only the last.

mod balance;
mod cleaning;
mod derived_layers;
mod divide;
mod drawing;
mod drill_by_lot;
mod extras;
mod fallback;
mod flat;
mod gate;
mod gate_cells;
mod gather;
mod identity;
mod joining;
mod later;
mod library;
mod loaded_source;
mod mistakes;
mod names;
mod on_terminal;
mod place;
mod progress;
mod run;
mod shared_inputs;
mod shut_off;
mod terminal;

pub use drawing::Drawing;
pub use extras::Extras;
pub use flat::FlatLimit;
pub use gate::{GateCheck, GatePlace};
pub use gather::{Inputs, for_one_field, gather, gather_told};
pub use later::{Later, LaterMeter, LaterProduct};
pub use library::Library;
pub use on_terminal::{KnownField, MeteredBy, OnTerminal};
pub use place::{row_at, rows_at};
pub use progress::{Step, Tell};
pub use run::{run, run_field, run_field_with, run_told, run_with};
pub use shared_inputs::SharedInputs;
pub use shut_off::ShutByHand;
pub use terminal::{obstacles, one_field};

use crate::agronomy::{self, Rate};
use crate::drill;
use crate::drive;
use crate::drive::as_driven::{self, AsDriven, Carried};
use crate::drive::hoppers::{self, Refills};
use crate::drive::setback::{self, InSetback};
use crate::drive::spread::{self, Spread};
use crate::drive::tender::{self, Tender};
use crate::drive::tramline::{self, Rhythm};
use crate::drive::{Bout, Delays, Sections, Ways, response};
use crate::findings::{Finding, Outcome};
use crate::frame::Frame;
use crate::geometry::Shape;
use crate::job::Job;
use crate::land::{self, Land, LandLayers};
use crate::map::{self, Grid, GridCells, MapZone, RateMap, lon_lat};
use crate::read::{Layer, Path, Polygon};
use crate::surface::{Cleaned, SurfaceGrid, ZonalTable};
use crate::tally::{self, Counted, Tally};
use crate::zones::{self, Facts, LandUnits, ZoneLayers};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use std::sync::OnceLock;

/// A planned field.
pub struct Plan {
    /// Short id of the plan: six characters from the hash of inputs and resolved job. On every output.
    pub id: String,
    pub job: Job,
    pub inputs: Vec<Input>,
    pub frame: Frame,
    /// Boundary less nothing: as read, repaired, lon/lat.
    pub boundary: Vec<Polygon>,
    /// Exclusions with their buffers, lon/lat.
    pub exclusions: Vec<Polygon>,
    /// Rows of the rate table: land with the same facts, its area and its rates.
    pub combinations: Vec<Combination>,
    pub map: RateMap,
    /// The map of the balance to broadcast, with a rate per entry of `tally.balances`; empty without one.
    pub balance: Vec<MapZone>,
    /// Per product: rate that a terminal may send when a task is started, kg/ha.
    pub default_kg_per_ha: Vec<f64>,
    /// The same as a grid on the cells of the metric one.
    pub balance_grid: Option<Grid>,
    /// Per product: rate for a lost position and outside the field, kg/ha.
    pub position_lost_kg_per_ha: Vec<f64>,
    pub out_of_field_kg_per_ha: Vec<f64>,
    /// Field and machine as the terminal knows them.
    pub on_terminal: OnTerminal,
    /// The guide line of the job, from A to B, lon/lat.
    pub guide: Option<Path>,
    pub tally: Tally,
    /// The field driven on paper; `None` where the job does not ask for it.
    pub drive: Option<drive::Report>,
    /// The bouts of that drive, in order, and what they leave on the land.
    pub bouts: Vec<Bout>,
    pub as_driven: Option<AsDriven>,
    /// What units of their own spread on the surface along them.
    pub spread: Vec<Spread>,
    /// The hoppers along it; `None` where a bulk density is not known.
    pub refills: Option<Refills>,
    /// What the bouts lay in the strips of the setbacks.
    pub in_setbacks: Vec<InSetback>,
    /// What sowing a week later would need, where a rate goes by date.
    pub later: Option<Later>,
    pub drawing: Drawing,
    pub findings: Vec<Finding>,
    /// The gate check, once something has asked for it ([`Plan::gate`]): finding it takes a walk over the map.
    pub known_gate: OnceLock<GateCheck>,
}

/// A row of the rate table.
#[derive(Debug, Clone, PartialEq)]
pub struct Combination {
    pub facts: Facts,
    pub area_m2: f64,
    /// Per product, in job order.
    pub rates: Vec<Rate>,
}

/// An input file, for provenance.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Input {
    /// What the job reads it as.
    pub role: String,
    /// Path, as the job names it.
    pub file: String,
    /// SHA-256 of its bytes, hexadecimal.
    pub sha256: String,
    /// CRS it was read in.
    pub crs: String,
    /// Accuracy of the way to WGS 84 that PROJ states, m; none where it states none.
    pub accuracy_m: Option<f64>,
}

/// All geometry of a job: nothing here depends on a rate.
pub struct Prepared {
    pub frame: Frame,
    pub land: Land,
    pub units: LandUnits,
    pub cells: GridCells,
    /// The drive without kilograms.
    pub drive: Option<drive::Report>,
    /// What cleaning zones that were made from values moved, by layer.
    pub cleaned: Vec<Vec<Cleaned>>,
    /// What lies under the polygons of layers with `zonal`, in job order.
    pub zonal: Vec<ZonalTable>,
    /// Surfaces through points, in job order.
    pub surfaces: Vec<SurfaceGrid>,
    /// The bouts of that drive; empty without one.
    pub bouts: Vec<Bout>,
    /// What units of their own spread along them, without rates.
    pub spread_ways: Vec<spread::Way>,
    /// Per bout: whether its end is where the tender stands.
    pub at_tender: Vec<bool>,
    /// Published tables that the job named when it was read.
    pub tables: agronomy::Tables,
    /// Field and machine as the terminal knows them.
    pub on_terminal: OnTerminal,
    pub inputs: Vec<Input>,
    pub findings: Vec<Finding>,
}

/// Does all geometry of a job.
///
/// # Errors
/// Land that cannot be made, layers that do not fit it, grids with too many cells.
pub fn prepare(inputs: Inputs, job: &Job) -> Outcome<Prepared> {
    prepare_told(inputs, job, &progress::quiet)
}

/// The same, telling of each step as it begins.
///
/// # Errors
/// As [`prepare`].
pub fn prepare_told(inputs: Inputs, job: &Job, tell: Tell) -> Outcome<Prepared> {
    progress::after(job, 0, tell);
    let mut findings = inputs.findings;
    let layers = LandLayers {
        boundary: &inputs.boundary,
        exclusions: &inputs.exclusions,
        setbacks: &inputs.setbacks,
        guide: inputs.guide.as_ref(),
    };
    let (land, found) = land::build(&layers, job, &inputs.frame)?;
    findings.extend(found);
    let layers = ZoneLayers {
        zones: &inputs.zones,
        special_areas: &inputs.special_areas,
    };
    let (units, found) = zones::overlay(&land, &layers, job, &inputs.frame)?;
    findings.extend(found);
    progress::after(job, 1, tell);
    // From here on land is known by its units; the points of the layers make room for cells.
    drop((inputs.zones, inputs.special_areas, inputs.boundary));
    drop((inputs.exclusions, inputs.setbacks, inputs.guide));
    let cells = map::cells(&units, &land, job, &inputs.frame)?;
    let tender = tender_of(&inputs.tender, &inputs.frame, &mut findings)?;
    let ways = Ways::of(&land, job, |corners| {
        tender::nearest_corner(corners, &tender, job)
    });
    let rhythm = tramline::rhythm(job)?;
    let ways = ways.as_ref();
    let bouts = ways
        .zip(Sections::of_drill(job))
        .map(|(ways, sections)| drive::bouts(&land, job, rhythm.as_ref(), &sections, ways))
        .unwrap_or_default();
    let at_tender = tender::ends(&bouts, &tender, job);
    Ok(Prepared {
        drive: ways.and_then(|ways| drive::report(&land, job, ways)),
        spread_ways: ways.map_or_else(Vec::new, |ways| spread::ways(&land, job, ways)),
        bouts,
        at_tender,
        frame: inputs.frame,
        land,
        units,
        cells,
        cleaned: inputs.cleaned,
        zonal: inputs.zonal,
        surfaces: inputs.surfaces,
        tables: inputs.tables,
        on_terminal: inputs.on_terminal,
        inputs: inputs.provenance,
        findings,
    })
}

/// Puts rates on the land.
///
/// # Errors
/// A class without a rate; a rate that cannot be made.
pub fn rate(prepared: &Prepared, job: &Job) -> Outcome<Plan> {
    rate_with(prepared, job, Extras::all())
}

/// Puts rates on the land, with the extras that are wanted.
///
/// # Errors
/// As [`rate`].
pub fn rate_with(prepared: &Prepared, job: &Job, extras: Extras) -> Outcome<Plan> {
    let Prepared {
        frame,
        land,
        units,
        cells,
        drive,
        cleaned,
        bouts,
        spread_ways,
        at_tender,
        tables,
        on_terminal,
        inputs,
        findings,
        zonal: _,
        surfaces: _,
    } = prepared;
    let mut findings = findings.clone();
    findings.extend(agronomy::crops::check(job)?);
    findings.extend(agronomy::check_dates(job));
    findings.extend(agronomy::check_classes(job, &units.classes)?);
    let areas = units.rows.iter().enumerate();
    let areas: Vec<(&Facts, f64)> = areas
        .map(|(row, (facts, _))| (facts, units.area_m2(row)))
        .collect();
    findings.extend(agronomy::check_rules(job, &areas)?);
    let mut combinations = Vec::new();
    let mut of_rates: Vec<Finding> = Vec::new();
    for (row, (facts, _)) in units.rows.iter().enumerate() {
        let (rates, found) = agronomy::rates(job, tables, facts)?;
        let area_m2 = units.area_m2(row);
        found
            .into_iter()
            .for_each(|finding| add_area(&mut of_rates, finding, area_m2));
        combinations.push(Combination {
            facts: facts.clone(),
            area_m2,
            rates,
        });
    }
    findings.extend(of_rates);
    findings.extend(joining::one_rate(&mut combinations, job));
    let joined = joining::join(prepared, &mut combinations, job);
    findings.extend(joined.iter().map(|(_, finding)| finding.clone()));
    let units = joined.as_ref().map_or(units, |(units, _)| units);
    let own_cells = joined
        .as_ref()
        .map(|(units, _)| map::cells(units, land, job, frame))
        .transpose()?;
    let cells = own_cells.as_ref().unwrap_or(cells);
    findings.extend(cleaning::kilograms(cleaned, &combinations, job));
    let rates = rates_of(&combinations);
    let for_drill = drill_rows(&combinations, &rates);
    findings.extend(drill::findings(
        job,
        &for_drill,
        &drill::report(job, &for_drill),
    ));
    findings.extend(drill_by_lot::findings(&combinations, job));
    findings.extend(names::findings(job));
    let mut map = map::rate_map(units, cells, &rates, job, frame);
    if extras.terminal_polygons {
        map.terminal = map::terminal_maps(units, &rates, job, frame);
    }
    let rhythm = tramline::rhythm(job)?;
    let fallback = fallback::rates(&combinations, &units.setback_at_border, job);
    let ground = as_driven::Ground {
        units,
        rates: &rates,
        map: &map,
        outside: &fallback.out_of_field,
        frame,
        delays: &Delays::of(job),
    };
    let stream = Carried::in_stream(job);
    let as_driven = (!bouts.is_empty()).then(|| as_driven::drive(bouts, &ground, &stream, job));
    let spread = spread::drive(spread_ways, &ground, job);
    let refills = as_driven
        .as_ref()
        .and_then(|driven| hoppers::refills(bouts, driven, &spread, at_tender, job, frame));
    let told = refills.iter().flat_map(|of| hoppers::findings(of, job));
    findings.extend(told);
    let mut in_setbacks = Vec::new();
    if let Some(stream) = &as_driven {
        in_setbacks = setback::audit(land, stream, &spread, job);
        findings.extend(setback::findings(&in_setbacks, job));
        findings.extend(response::findings(bouts, &ground, job));
    }
    let rows: Vec<(f64, &[Rate])> = combinations
        .iter()
        .map(|row| (row.area_m2, row.rates.as_slice()))
        .collect();
    let tally = tally::count(
        &Counted {
            land,
            units,
            rates: &rates,
            map: &map,
            rows: &rows,
            tramline: rhythm.as_ref(),
            driven: as_driven
                .iter()
                .chain(spread.iter().map(|of| &of.as_driven))
                .flat_map(|driven| &driven.products)
                .collect(),
        },
        job,
    );
    findings.extend(flat::findings(&combinations, &tally.products, job));
    let drive = drive
        .as_ref()
        .map(|drive| drive.with_rates(&drill_rows(&combinations, &rates), job));
    let later = later::week(units, &prepared.tables, job, &tally, &combinations)?;
    let (balance, balance_grid) = balance::maps(&combinations, units, cells, job, frame);
    let outline = |shapes: &[Shape]| shapes.iter().map(|shape| lon_lat(shape, frame)).collect();
    let excluded: Vec<Shape> = land.exclusions.iter().flatten().cloned().collect();
    let mut plan = Plan {
        id: identity::short_id(inputs, job),
        job: job.clone(),
        inputs: inputs.clone(),
        frame: frame.clone(),
        boundary: outline(&land.field),
        exclusions: outline(&excluded),
        combinations,
        map,
        balance,
        default_kg_per_ha: fallback.default,
        balance_grid,
        position_lost_kg_per_ha: fallback.position_lost,
        out_of_field_kg_per_ha: fallback.out_of_field,
        on_terminal: on_terminal.clone(),
        guide: land.guide.as_deref().map(|line| match line {
            // A straight line is A and B and nothing between: that is how terminals tell it from a curve.
            [a, b] => vec![frame.to_lon_lat(*a), frame.to_lon_lat(*b)],
            curve => frame.line_in_degrees(curve.iter().copied()),
        }),
        tally,
        drive,
        bouts: bouts.clone(),
        as_driven,
        spread,
        refills,
        in_setbacks,
        later,
        drawing: match extras.drawing {
            true => Drawing::of(units, &rates, frame),
            false => Drawing::default(),
        },
        findings,
        known_gate: OnceLock::new(),
    };
    let found = plan.shut_off_findings();
    plan.findings.extend(found);
    Ok(plan)
}

impl Plan {
    /// What the drill makes of the rates: rotors, flows, speeds.
    pub fn drill(&self) -> drill::Report {
        let rates = rates_of(&self.combinations);
        drill::report(&self.job, &drill_rows(&self.combinations, &rates))
    }

    /// What the drill makes of one lot of product `nth` alone.
    pub fn drill_of_lot(&self, nth: usize, lot: &str) -> drill::Report {
        drill_by_lot::report(&self.combinations, &self.job, nth, lot)
    }

    /// The tramlines; `None` where the job asks for none.
    pub fn tramlines(&self) -> Option<Rhythm> {
        // A rhythm that cannot be closed has stopped the plan.
        tramline::rhythm(&self.job).ok().flatten()
    }
}

/// Where the tender stands, by its layer: points, lines, or the borders of polygons.
fn tender_of(layer: &Option<Layer>, frame: &Frame, findings: &mut Vec<Finding>) -> Outcome<Tender> {
    let Some(layer) = layer else {
        return Ok(Tender::default());
    };
    let outlines = land::outlines(layer, frame)?;
    findings.extend(outlines.findings);
    let mut lines = outlines.lines;
    for (_, shape) in &outlines.polygons {
        for ring in shape.rings() {
            lines.push(ring.iter().chain(ring.first()).copied().collect());
        }
    }
    Ok(Tender {
        points: outlines.points,
        lines,
    })
}

/// Per row of the rate table, per product, kg/ha.
fn rates_of(combinations: &[Combination]) -> Vec<Vec<f64>> {
    let rates = |row: &Combination| row.rates.iter().map(|rate| rate.kg_per_ha).collect();
    combinations.iter().map(rates).collect()
}

fn drill_rows<'a>(combinations: &[Combination], rates: &'a [Vec<f64>]) -> Vec<drill::Row<'a>> {
    let rows = combinations.iter().zip(rates);
    rows.map(|(row, kg_per_ha)| drill::Row {
        part: row.facts.part,
        area_m2: row.area_m2,
        kg_per_ha,
    })
    .collect()
}

/// Adds a finding about some land, or its area to the same finding about other land.
fn add_area(findings: &mut Vec<Finding>, finding: Finding, area_m2: f64) {
    let same = findings.iter_mut().find(|known| {
        known.code == finding.code
            && known.message == finding.message
            && known.place == finding.place
    });
    match same {
        Some(known) => known.area_m2 = Some(known.area_m2.unwrap_or(0.0) + area_m2),
        None => findings.push(finding.area(area_m2)),
    }
}
