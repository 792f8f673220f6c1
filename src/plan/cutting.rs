//! The map cut to the bouts: `cut_to_bouts`. Method: docs/methods/cut-map.md.

use super::Drive;
use super::rated_land::RatedLand;
use super::rates::{Combination, add_area};
use crate::agronomy::{self, OnPiece};
use crate::drive::Delays;
use crate::drive::as_driven::{self, Carried, DrivenProduct, Ground};
use crate::drive::cut_map::{self, Piece, PieceRate, ProductReport, Report, Wanted};
use crate::findings::{Fault, Finding, Outcome, Place};
use crate::job::Job;
use crate::map;
use crate::units::M2_PER_HA;
use crate::zones;
use std::collections::BTreeMap;

/// Land as it was before it was cut.
pub(super) struct Uncut<'a> {
    land: RatedLand<'a>,
    pieces: Vec<Piece>,
    undriven_m2: f64,
    /// Per row of the cut land, per product: what is wanted there, kg/ha.
    pub(super) wanted: Vec<Vec<f64>>,
}

/// Land of one row on pieces with the same rates: the row, and per product the rate of the piece (its bits, and whether it is held)
/// where that is another than the row's own.
type Key = (u32, Vec<Option<(u64, bool)>>);

/// The land cut to the bouts where the job asks for it, and as it was before.
///
/// # Errors
/// No bout; a rate that cannot be made.
pub(super) fn cut<'a>(
    land: RatedLand<'a>,
    job: &Job,
) -> Outcome<(RatedLand<'a>, Option<Uncut<'a>>, Vec<Finding>)> {
    if !job.drive.as_ref().is_some_and(|drive| drive.cut_to_bouts) {
        return Ok((land, None, Vec::new()));
    }
    let prepared = land.prepared;
    if prepared.bouts.is_empty() {
        return Err(Fault::input(
            "drive.no_bouts",
            Place::file(&job.file),
            "the map is to be cut to the bouts, and by this switch_rule no bout sows anything on this field",
            "a field with at least one bout",
            "set switch_rule = \"any_part_in\" in [drive], or remove cut_to_bouts",
        ));
    }
    let rows = &land.rates.rows;
    let most = rows.iter().map(|row| {
        let each = row.rates.iter().enumerate();
        each.map(|(nth, rate)| agronomy::most_kg_per_ha(job, nth, rate))
            .collect()
    });
    let areas_m2: Vec<f64> = rows.iter().map(|row| row.area_m2).collect();
    let products = job.products.iter();
    let in_stream: Vec<bool> = products.map(|product| !product.surface_applied).collect();
    let wanted = Wanted::of(
        land.kg_per_ha.clone(),
        most.collect(),
        &areas_m2,
        &in_stream,
    );
    let cut = cut_map::cut(&prepared.bouts, land.units(), &wanted, job);
    let nothing: Vec<Option<PieceRate>> = vec![None; in_stream.len()];
    let mut numbers: BTreeMap<Key, u32> = BTreeMap::new();
    let key = |(row, piece): (u32, Option<u32>)| -> Key {
        let piece = piece.and_then(|piece| cut.pieces.get(piece as usize));
        let rates = piece
            .map_or(&nothing, |piece| &piece.rates)
            .iter()
            .enumerate();
        let of = |rates: &[Vec<f64>], nth: usize| rates[row as usize][nth];
        let rates = rates.map(|(nth, rate)| {
            let rate = (*rate)?;
            let own = of(&wanted.kg_per_ha, nth);
            // Land that the piece hardly touches keeps its rate where it bears less.
            let bears = rate.kg_per_ha <= of(&wanted.most_kg_per_ha, nth);
            (bears && rate.kg_per_ha != own).then(|| (rate.kg_per_ha.to_bits(), rate.held))
        });
        (row, rates.collect())
    };
    let mut undriven2 = 0_i128;
    let keys: Vec<Option<Key>> = (0..)
        .zip(&cut.of_face)
        .map(|(face, of)| {
            let of = (*of)?;
            if of.1.is_none() {
                undriven2 += cut.arrangement.area2(face);
            }
            let key = key(of);
            numbers.insert(key.clone(), 0);
            Some(key)
        })
        .collect();
    numbers
        .values_mut()
        .zip(0..)
        .for_each(|(number, nth)| *number = nth);
    let row_of_face = keys
        .iter()
        .map(|key| numbers.get(key.as_ref()?).copied())
        .collect();
    let facts = numbers
        .keys()
        .map(|(row, _)| rows[*row as usize].facts.clone());
    let undriven_m2 = crate::geometry::point::area2_to_m2(undriven2);
    let (units, kept, mut findings) = zones::cut(
        land.units(),
        cut.arrangement,
        row_of_face,
        facts.collect(),
        job,
        &prepared.frame,
    );
    let kept: Vec<Key> = numbers
        .into_keys()
        .zip(kept)
        .filter_map(|(key, kept)| kept.then_some(key))
        .collect();
    let mut combinations = Vec::with_capacity(kept.len());
    let mut of_rows: Vec<Finding> = Vec::new();
    for (nth, (row, pieces)) in kept.iter().enumerate() {
        let before = &rows[*row as usize];
        let pieces: Vec<Option<OnPiece>> = pieces
            .iter()
            .map(|piece| {
                piece.map(|(bits, held)| OnPiece {
                    kg_per_ha: f64::from_bits(bits),
                    held,
                })
            })
            .collect();
        let area_m2 = units.area_m2(nth);
        let (rates, found) =
            agronomy::on_piece(job, &prepared.tables, &before.facts, &before.rates, &pieces)?;
        let found = found.into_iter();
        found.for_each(|finding| add_area(&mut of_rows, finding, area_m2));
        combinations.push(Combination {
            facts: before.facts.clone(),
            area_m2,
            rates,
        });
    }
    findings.extend(of_rows);
    let wanted = kept
        .iter()
        .map(|(row, _)| land.kg_per_ha[*row as usize].clone())
        .collect();
    let cut_land = RatedLand::of(prepared, Some(units), combinations, job);
    let uncut = Uncut {
        land,
        pieces: cut.pieces,
        undriven_m2,
        wanted,
    };
    Ok((cut_land, Some(uncut), findings))
}

/// Puts what the cut changes into the drive, and says it. `by_wanted` is what the drive leaves, held against what is wanted.
pub(super) fn compared(
    uncut: &Uncut,
    land: &RatedLand,
    by_wanted: &[DrivenProduct],
    drive: &mut Drive,
    job: &Job,
) -> Vec<Finding> {
    let prepared = land.prepared;
    let free = &uncut.land;
    let degrees = map::degrees_grid(free.cells(), &free.kg_per_ha, job);
    let ground = Ground {
        units: free.units(),
        rates: &free.kg_per_ha,
        degrees: &degrees,
        outside: &free.rates.out_of_field_kg_per_ha,
        frame: &prepared.frame,
        delays: &Delays::of(job),
    };
    let in_stream = Carried::in_stream(job);
    let by_free = as_driven::products(&prepared.bouts, &ground, &in_stream, job);
    let least_m = cut_map::least_m(job.drill.speed_km_per_h, job);
    let laying = || uncut.pieces.iter().filter(|piece| !piece.land.is_empty());
    let short = |piece: &&Piece| {
        // Numbered from 1, in the order in which they are driven.
        let bout = prepared.bouts.get(piece.bout - 1);
        let least_m = bout.map_or(0.0, |bout| cut_map::least_m(bout.speed_km_per_h, job));
        piece.to_m - piece.from_m < least_m - 0.01
    };
    let products = job.products.iter().enumerate();
    let products = products.filter(|(_, product)| !product.surface_applied);
    let report = Report {
        pieces: laying().count(),
        least_m,
        shorter: laying().filter(short).count(),
        undriven_m2: uncut.undriven_m2,
        products: products
            .map(|(nth, product)| {
                let on_map = OnMap::of(uncut, land, nth);
                let [by_free, by_cut] = [&by_free, by_wanted].map(|driven| of(driven, &product.id));
                let of_map = drive
                    .as_driven
                    .as_ref()
                    .map(|driven| of(&driven.products, &product.id));
                ProductReport {
                    id: product.id.clone(),
                    wanted_kg: on_map.wanted_kg,
                    cut_kg: on_map.wanted_kg + on_map.gained_kg - on_map.lost_kg,
                    lost_kg: on_map.lost_kg,
                    gained_kg: on_map.gained_kg,
                    cut_within_5_percent: on_map.within_percent,
                    free_driven_kg: by_free.0,
                    free_driven_within_5_percent: by_free.1,
                    cut_driven_kg: by_cut.0,
                    cut_driven_within_5_percent: by_cut.1,
                    cut_driven_within_5_percent_of_map: of_map.map_or(100.0, |of_map| of_map.1),
                }
            })
            .collect(),
    };
    let finding = told(&report, job);
    drive.cut_map = Some(report);
    vec![finding]
}

/// Kilograms of a product, and the share of land within 5 % of its rate, percent.
fn of(driven: &[DrivenProduct], product: &str) -> (f64, f64) {
    let Some(product) = driven.iter().find(|of| of.id == product) else {
        return (0.0, 100.0);
    };
    let five = |within: &&as_driven::Within| within.percent == 5.0;
    let within = product.within.iter().find(five);
    (
        product.as_driven_kg,
        within.map_or(100.0, |within| within.share_percent),
    )
}

/// The cut map against what is wanted.
struct OnMap {
    wanted_kg: f64,
    lost_kg: f64,
    gained_kg: f64,
    within_percent: f64,
}

impl OnMap {
    fn of(uncut: &Uncut, land: &RatedLand, product: usize) -> Self {
        let (mut wanted_m2, mut within_m2) = (0.0, 0.0);
        let mut sums = Self {
            wanted_kg: 0.0,
            lost_kg: 0.0,
            gained_kg: 0.0,
            within_percent: 100.0,
        };
        let rates = uncut.wanted.iter().zip(&land.kg_per_ha);
        for (row, (wanted, cut)) in land.rates.rows.iter().zip(rates) {
            let (wanted, cut) = (wanted[product], cut[product]);
            let kg = |rate: f64| rate * row.area_m2 / M2_PER_HA;
            sums.wanted_kg += kg(wanted);
            sums.lost_kg += kg((wanted - cut).max(0.0));
            sums.gained_kg += kg((cut - wanted).max(0.0));
            if wanted > 0.0 {
                wanted_m2 += row.area_m2;
                // A billionth more, for sums of floating point.
                if (cut - wanted).abs() <= wanted * (0.05 + 1e-9) {
                    within_m2 += row.area_m2;
                }
            }
        }
        if wanted_m2 > 0.0 {
            sums.within_percent = within_m2 / wanted_m2 * 100.0;
        }
        sums
    }
}

fn told(report: &Report, job: &Job) -> Finding {
    let units = job.report.units;
    let products = report.products.iter().map(|of| {
        format!(
            "'{}' {} instead of {} ({} less, {} more), {:.1} % of its land within 5 % of what is wanted; driven {:.1} %, by the zones' own borders {:.1} %",
            of.id,
            units.mass(of.cut_kg, 1),
            units.mass(of.wanted_kg, 1),
            units.mass(of.lost_kg, 1),
            units.mass(of.gained_kg, 1),
            of.cut_within_5_percent,
            of.cut_driven_within_5_percent,
            of.free_driven_within_5_percent
        )
    });
    let products = products.collect::<Vec<_>>().join("; ");
    let undriven = match report.undriven_m2 >= 0.5 {
        true => format!(
            ". No bout drives {}, which lie in no piece and keep their rates",
            units.small_area(report.undriven_m2, 0)
        ),
        false => String::new(),
    };
    let message = format!(
        "the map is cut to the bouts: {} pieces of at least {}. {products}{undriven}",
        report.pieces,
        units.length(report.least_m, 1)
    );
    Finding::note("drive.cut_map", Place::file(&job.file), message).area(report.undriven_m2)
}
