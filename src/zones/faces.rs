//! The faces of the arrangement and what is known of each.

use super::classes::Classes;
use super::{Facts, ZoneLayers};
use crate::coordinates::PlaneXy;
use crate::findings::{Decision, Fault, Finding, Outcome, Place};
use crate::frame::Frame;
use crate::geometry::{Arrangement, Overlay, Pt, Shape, UnionFind};
use crate::job::{Job, LandPart, OverlapRule};
use crate::land::{Land, crowded, odd_holes, outlines, uncounted_outlines};
use crate::read::Layer;
use std::collections::BTreeMap;

/// What a polygon of the overlay stands for.
#[derive(Clone, Copy, PartialEq)]
enum Meaning {
    Land,
    Interior,
    Setback(usize),
    SpecialArea(usize),
    /// A zone of a layer: its number among the zones of all layers.
    Zone(usize),
    /// A cut across a gap of a layer.
    Cut(usize),
}

/// A zone polygon.
struct Zone {
    layer: usize,
    feature: String,
    class: Option<u32>,
}

/// Facts that cleaning never changes.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub(super) struct Fixed {
    part: LandPart,
    special_areas: Vec<usize>,
    setbacks: Vec<usize>,
}

/// Faces with their facts.
pub(super) struct Faces {
    pub(super) arrangement: Arrangement,
    /// Per face: the number of its fixed facts; `None` where no land is.
    pub(super) fixed: Vec<Option<u32>>,
    /// Different fixed facts, and the number of each.
    fixed_facts: Vec<Fixed>,
    number_of_fixed: BTreeMap<Fixed, u32>,
    /// Per layer and face: the class; `None` in a gap and where no land is.
    pub(super) class: Vec<Vec<Option<u32>>>,
    /// Per layer and face: whether the face is a cut across a gap of the layer.
    pub(super) is_cut: Vec<Vec<bool>>,
    pub(super) classes: Vec<Classes>,
    pub(super) setback_at_border: Vec<bool>,
}

impl Faces {
    pub(super) fn of(
        land: &Land,
        layers: &ZoneLayers,
        cuts: &[Vec<Shape>],
        job: &Job,
        frame: &Frame,
        findings: &mut Vec<Finding>,
    ) -> Outcome<Self> {
        let mut overlay = Overlay::default();
        let mut meanings = Vec::new();
        let mut add = |shape, meaning| {
            overlay.add(shape);
            meanings.push(meaning);
        };
        land.land
            .iter()
            .for_each(|shape| add(shape.clone(), Meaning::Land));
        land.interior
            .iter()
            .for_each(|shape| add(shape.clone(), Meaning::Interior));
        for (nth, strip) in land.setbacks.iter().enumerate() {
            strip
                .iter()
                .for_each(|shape| add(shape.clone(), Meaning::Setback(nth)));
        }
        for (nth, layer) in layers.special_areas.iter().enumerate() {
            let outlines = polygons_of(layer, frame, findings)?;
            outlines
                .into_iter()
                .for_each(|(_, _, shape)| add(shape, Meaning::SpecialArea(nth)));
        }
        let mut zones = Vec::new();
        let mut classes = Vec::new();
        for (nth, (zone_layer, layer)) in job.layers.iter().zip(layers.zones).enumerate() {
            let (of_layer, missing) = Classes::of(layer, zone_layer)?;
            findings.extend(missing);
            for (number, feature, shape) in polygons_of(layer, frame, findings)? {
                add(shape, Meaning::Zone(zones.len()));
                zones.push(Zone {
                    layer: nth,
                    class: of_layer.of_feature(number),
                    feature,
                });
            }
            classes.push(of_layer);
        }
        for (nth, cuts) in cuts.iter().enumerate() {
            cuts.iter()
                .for_each(|cut| add(cut.clone(), Meaning::Cut(nth)));
        }
        let arrangement = match overlay.arrange_map() {
            Ok(arrangement) => arrangement,
            Err(crowd) => return Err(crowd_of(layers, frame, crowd)),
        };
        // What a polygon is, and its place; `None` for what we have made ourselves.
        let drawn = |polygon: u32| match meanings[polygon as usize] {
            Meaning::Zone(zone) => {
                let zone = &zones[zone];
                let layer = &layers.zones[zone.layer];
                Some(("zone", layer.place().feature(&zone.feature)))
            }
            Meaning::SpecialArea(nth) => Some(("special area", layers.special_areas[nth].place())),
            _ => None,
        };
        let odd = overlay.odd_holes(&arrangement);
        let odd: Vec<_> = odd
            .into_iter()
            .filter(|of| drawn(of.polygon).is_some())
            .collect();
        let place = |polygon| drawn(polygon).map_or_else(Place::nowhere, |(_, place)| place);
        findings.extend(odd_holes(&odd, place, frame, job.report.units));
        for crossing in overlay.self_crossings(&arrangement) {
            let Some((what, place)) = drawn(crossing.polygon) else {
                continue;
            };
            findings.push(
                Finding::warning(
                    "zones.self_crossing",
                    place.at(frame.to_lon_lat(crossing.place.place())),
                    format!(
                        "the {what}'s ring crosses itself; land it encloses an odd number of times counts, {} are in doubt",
                        job.report.units.small_area(crossing.area_m2, 1)
                    ),
                )
                .area(crossing.area_m2),
            );
        }
        let mut faces = Self {
            fixed: vec![None; arrangement.faces()],
            fixed_facts: Vec::new(),
            number_of_fixed: BTreeMap::new(),
            class: vec![vec![None; arrangement.faces()]; classes.len()],
            is_cut: vec![vec![false; arrangement.faces()]; classes.len()],
            classes,
            setback_at_border: vec![false; land.setbacks.len()],
            arrangement,
        };
        let mut overlaps = Overlaps::default();
        for face in 1..faces.arrangement.faces() as u32 {
            let covering = overlay.covering(&faces.arrangement, face);
            let covering: Vec<Meaning> = covering
                .into_iter()
                .map(|polygon| meanings[polygon as usize])
                .collect();
            faces.note(face, &covering, &zones, job, &mut overlaps);
        }
        let land = (0..).zip(&faces.fixed).filter(|(_, fixed)| fixed.is_some());
        let land_m2 = land.map(|(face, _)| faces.arrangement.area_m2(face)).sum();
        overlaps.report(&zones, layers.zones, land_m2, job, frame, findings);
        faces.special_areas_outside(layers.special_areas, job, findings);
        Ok(faces)
    }

    /// Notes what covers a face.
    fn note(
        &mut self,
        face: u32,
        covering: &[Meaning],
        zones: &[Zone],
        job: &Job,
        overlaps: &mut Overlaps,
    ) {
        let has = |meaning| covering.contains(&meaning);
        let numbers = |pick: fn(&Meaning) -> Option<usize>| {
            let mut numbers: Vec<usize> = covering.iter().filter_map(pick).collect();
            numbers.sort_unstable();
            numbers.dedup();
            numbers
        };
        let setbacks = numbers(|meaning| match meaning {
            Meaning::Setback(nth) => Some(*nth),
            _ => None,
        });
        if !has(Meaning::Land) {
            setbacks
                .into_iter()
                .for_each(|nth| self.setback_at_border[nth] = true);
            return;
        }
        let special_areas = numbers(|meaning| match meaning {
            Meaning::SpecialArea(nth) => Some(*nth),
            _ => None,
        });
        let part = if has(Meaning::Interior) {
            LandPart::Interior
        } else {
            LandPart::Headland
        };
        let fixed = Fixed {
            part,
            special_areas,
            setbacks,
        };
        self.fixed[face as usize] = Some(self.number_of(fixed));
        for (layer, zone_layer) in job.layers.iter().enumerate() {
            self.is_cut[layer][face as usize] = has(Meaning::Cut(layer));
            // A zone without a class claims nothing.
            let on_layer: Vec<usize> = covering
                .iter()
                .filter_map(|meaning| match meaning {
                    Meaning::Zone(nth) => Some(*nth),
                    _ => None,
                })
                .filter(|&nth| zones[nth].layer == layer && zones[nth].class.is_some())
                .collect();
            let counts = match zone_layer.overlaps.unwrap_or_default() {
                OverlapRule::First => on_layer.first(),
                OverlapRule::Last => on_layer.last(),
            }
            .copied();
            let differs =
                |nth: &&usize| counts.is_some_and(|c| zones[c].class != zones[**nth].class);
            if let (Some(counts), Some(&other)) = (counts, on_layer.iter().find(differs)) {
                let pair = [counts.min(other), counts.max(other)];
                overlaps.add(pair, face, &self.arrangement);
            }
            self.class[layer][face as usize] = counts.and_then(|nth| zones[nth].class);
        }
    }

    /// The number of fixed facts, a new one if they have none yet.
    fn number_of(&mut self, fixed: Fixed) -> u32 {
        if let Some(number) = self.number_of_fixed.get(&fixed) {
            return *number;
        }
        let number = self.fixed_facts.len() as u32;
        self.fixed_facts.push(fixed.clone());
        self.number_of_fixed.insert(fixed, number);
        number
    }

    /// Special areas that touch no land.
    fn special_areas_outside(
        &self,
        layers: &[Layer<PlaneXy>],
        job: &Job,
        findings: &mut Vec<Finding>,
    ) {
        for (nth, (area, layer)) in job.special_areas.iter().zip(layers).enumerate() {
            let mut known = self.fixed_facts.iter();
            if !known.any(|fixed| fixed.special_areas.contains(&nth)) {
                findings.push(Finding::decision(
                    Decision::SpecialAreaOutside,
                    layer.place(),
                    format!(
                        "special area '{}' does not touch the land and changes nothing; check its file and CRS, or take it out of the job",
                        area.name
                    ),
                )
                .about(&area.name));
            }
        }
    }

    /// Puts into `key` what tells the facts of a face from others: the numbers of its fixed ones and of its classes.
    /// False where no land is or a layer has no class.
    pub(super) fn key_of(&self, face: u32, key: &mut Vec<u32>) -> bool {
        key.clear();
        let classes = self.class.iter().map(|class| class[face as usize]);
        let numbers = [self.fixed[face as usize]].into_iter().chain(classes);
        key.extend(numbers.flatten());
        key.len() == 1 + self.class.len()
    }

    /// The facts behind a key.
    pub(super) fn facts(&self, key: &[u32]) -> Facts {
        let fixed = &self.fixed_facts[key[0] as usize];
        let classes = self.classes.iter().zip(&key[1..]);
        Facts {
            part: fixed.part,
            classes: classes
                .map(|(classes, number)| classes.names[*number as usize].clone())
                .collect(),
            special_areas: fixed.special_areas.clone(),
            setbacks: fixed.setbacks.clone(),
        }
    }

    /// Whether two faces have the same facts.
    pub(super) fn alike(&self, a: u32, b: u32) -> bool {
        self.fixed[a as usize] == self.fixed[b as usize]
            && self
                .class
                .iter()
                .all(|class| class[a as usize] == class[b as usize])
    }

    /// Connected pieces of land with the same facts: the lowest face of each, and per face the
    /// lowest face of its piece.
    pub(super) fn pieces(&self) -> (Vec<u32>, Vec<u32>) {
        let mut sets = UnionFind::new(self.arrangement.faces());
        for [left, right] in self.arrangement.neighbours() {
            if self.fixed[left as usize].is_some() && self.alike(left, right) {
                sets.unite(left, right);
            }
        }
        let piece_of: Vec<u32> = (0..self.arrangement.faces() as u32)
            .map(|face| sets.find(face))
            .collect();
        let is_piece =
            |face: &u32| piece_of[*face as usize] == *face && self.fixed[*face as usize].is_some();
        (
            (0..piece_of.len() as u32).filter(is_piece).collect(),
            piece_of,
        )
    }
}

/// The polygons of a layer that is all about areas: number and name of the feature, outline.
fn polygons_of(
    layer: &Layer<PlaneXy>,
    frame: &Frame,
    findings: &mut Vec<Finding>,
) -> Outcome<Vec<(usize, String, Shape)>> {
    let outlines = uncounted_outlines(layer, frame)?;
    findings.extend(outlines.findings);
    let others = outlines.lines.len() + outlines.points.len();
    if others > 0 {
        return Err(Fault::input(
            "zones.no_polygons",
            layer.place(),
            format!(
                "{} polygons and {others} lines or points",
                outlines.polygons.len()
            ),
            "a layer of polygons only",
            "choose another file or table; points with values become zones by [layer.values], and lines polygons in a GIS",
        ));
    }
    let numbers = outlines.feature_of.into_iter();
    Ok(numbers
        .zip(outlines.polygons)
        .map(|(number, (name, shape))| (number, name, shape))
        .collect())
}

/// The fault for layers that meet more often than any map does: of the first that does so alone, or of all.
fn crowd_of(layers: &ZoneLayers, frame: &Frame, crowd: (usize, Pt)) -> Box<Fault> {
    let all = layers.special_areas.iter().chain(layers.zones.iter());
    let alone = all.clone().find_map(|layer| outlines(layer, frame).err());
    alone.unwrap_or_else(|| {
        let place = layers.zones.first().map(|layer| layer.place());
        crowded(place.unwrap_or_else(Place::nowhere), frame, crowd)
    })
}

/// Land that several zones of one layer claim.
#[derive(Default)]
struct Overlaps {
    /// By pair of zones: area, and the first face.
    found: BTreeMap<[usize; 2], (f64, PlaneXy)>,
}

/// Overlaps of one layer that together are more than this share of the land ask for a decision.
const MOST_OVERLAP_PERCENT: f64 = 1.0;
/// Most overlaps of one layer that are told one by one, the largest first.
const MOST_TOLD: usize = 10;

impl Overlaps {
    fn add(&mut self, zones: [usize; 2], face: u32, arrangement: &Arrangement) {
        let place = arrangement.corner(face).place();
        self.found.entry(zones).or_insert((0.0, place)).0 += arrangement.area_m2(face);
    }

    fn report(
        self,
        zones: &[Zone],
        layers: &[Layer<PlaneXy>],
        land_m2: f64,
        job: &Job,
        frame: &Frame,
        findings: &mut Vec<Finding>,
    ) {
        let units = job.report.units;
        for (nth, (layer, zone_layer)) in layers.iter().zip(&job.layers).enumerate() {
            let mut pairs: Vec<_> = self
                .found
                .iter()
                .filter(|(pair, _)| zones[pair[0]].layer == nth)
                .collect();
            pairs.sort_by(|a, b| b.1.0.total_cmp(&a.1.0));
            let rule = match zone_layer.overlaps.unwrap_or_default() {
                OverlapRule::First => "first",
                OverlapRule::Last => "last",
            };
            for ([a, b], (area_m2, place)) in pairs.iter().take(MOST_TOLD) {
                let names = [&zones[*a].feature, &zones[*b].feature];
                findings.push(
                    Finding::note(
                        "zones.overlap",
                        layer.place().feature(names[0]).at(frame.to_lon_lat(*place)),
                        format!(
                            "{} of layer '{}' lie in features {} and {}; the one listed {rule} counts",
                            units.small_area(*area_m2, 1),
                            zone_layer.name,
                            names[0],
                            names[1]
                        ),
                    )
                    .area(*area_m2),
                );
            }
            let all_m2: f64 = pairs.iter().map(|(_, (area, _))| area).sum();
            let percent = 100.0 * all_m2 / land_m2;
            if percent > MOST_OVERLAP_PERCENT && zone_layer.overlaps.is_none() {
                findings.push(
                    Finding::decision(
                        Decision::OverlapsLarge,
                        layer.place(),
                        format!(
                            "zones of different classes overlap on {} of layer '{}', {percent:.2} % of the land (more than {MOST_OVERLAP_PERCENT} %); the one listed {rule} counts as noted: set overlaps = \"first\" or \"last\" as is meant, or redraw the layer",
                            units.area(all_m2, 2),
                            zone_layer.name
                        ),
                    )
                    .about(&zone_layer.name)
                    .area(all_m2),
                );
            }
            let rest = &pairs[pairs.len().min(MOST_TOLD)..];
            if !rest.is_empty() {
                let area_m2: f64 = rest.iter().map(|(_, (area, _))| area).sum();
                findings.push(
                    Finding::note(
                        "zones.overlap",
                        layer.place(),
                        format!(
                            "{} more overlaps of layer '{}', {} in all; the feature listed {rule} counts",
                            rest.len(),
                            zone_layer.name,
                            units.small_area(area_m2, 1)
                        ),
                    )
                    .area(area_m2),
                );
            }
        }
    }
}
