//! The log as samples along the way: what was wanted and what was sown at the middle of the drill.

use super::Case;
use crate::compare::entries::Source;

/// After a step of the map rates need not hold for so long, s: a meter and the way to the soil take that. From the first logs of
/// the issue; assumption, no source.
pub(super) const SETTLES_S: f64 = 9.0;
/// Rates closer than this are the same, kg/ha: noise of actual rates. Assumption, no source.
pub(super) const SAME_KG_PER_HA: f64 = 10.0;
/// A pass ends where the way does not go on, or turns by more than this, as the cosine.
const TURN: f64 = 0.5;

/// A stretch of the log.
#[derive(Debug, Clone)]
pub(super) struct Sample {
    pub at: [f64; 2],
    pub heading: [f64; 2],
    pub start_s: f64,
    pub length_m: f64,
    pub width_m: f64,
    /// Pass that it belongs to, from 0.
    pub pass: usize,
    /// Whether it lies on the plan's land.
    pub on_land: bool,
    /// Per product, kg/ha: the plan's rate, and the mean over the strips that are on; 0 where none is.
    pub wanted: Vec<f64>,
    pub sown: Vec<f64>,
    /// Per product: whether the log that it is from holds anything of it; each part of a drill may have a log of its own.
    known: Vec<bool>,
    pub sources: Vec<Option<Source>>,
    /// Per product: seconds since the wanted rate changed in this pass.
    pub settled_s: Vec<f64>,
    /// Share of the width that was drilled before, and that lies beyond the land.
    pub again: f64,
    pub beyond: f64,
}

impl Sample {
    /// The wanted and the sown rate of a product, if the log holds it.
    pub(super) fn rates(&self, product: usize) -> Option<(f64, f64)> {
        self.known.get(product).filter(|known| **known)?;
        Some((*self.wanted.get(product)?, *self.sown.get(product)?))
    }

    pub(super) fn area_m2(&self) -> f64 {
        self.length_m * self.width_m
    }
}

pub(super) struct Samples {
    pub all: Vec<Sample>,
}

impl Samples {
    pub(super) fn of(case: &Case) -> Self {
        let products = case.plan.products.len();
        let mut all: Vec<Sample> = Vec::new();
        for (segment, trod) in case.track.segments.iter().zip(&case.ground.trod) {
            let at = [
                (segment.from[0] + segment.to[0]) / 2.0,
                (segment.from[1] + segment.to[1]) / 2.0,
            ];
            let length_m = segment.length_m();
            if length_m <= 0.0 {
                continue;
            }
            let heading = [
                (segment.to[0] - segment.from[0]) / length_m,
                (segment.to[1] - segment.from[1]) / length_m,
            ];
            let zone = case.ground.zone_at(at);
            let rates = zone.and_then(|zone| case.plan.zones.get(zone));
            let wanted = rates.map_or(vec![0.0; products], |zone| zone.kg_per_ha.clone());
            let sown = (0..products).map(|product| {
                let m2 = segment.area_m2(product);
                match m2 > 0.0 {
                    true => segment.kg(product) / m2 * crate::units::M2_PER_HA,
                    false => 0.0,
                }
            });
            let goes_on = all.last().is_some_and(|before| {
                let cosine = before.heading[0] * heading[0] + before.heading[1] * heading[1];
                segment.joined && cosine > TURN
            });
            let pass = all
                .last()
                .map_or(0, |before| before.pass + usize::from(!goes_on));
            let settled_s = (0..products).map(|product| {
                let before = all.last().filter(|_| goes_on);
                let before =
                    before.map(|own| (own, own.wanted.get(product), own.settled_s.get(product)));
                match before {
                    Some((own, Some(was), Some(settled))) if wanted.get(product) == Some(was) => {
                        settled + segment.start_s - own.start_s
                    }
                    _ => 0.0,
                }
            });
            let sample = Sample {
                at,
                heading,
                start_s: segment.start_s,
                length_m,
                width_m: segment.strips.iter().map(|own| own.width_m()).sum(),
                pass,
                on_land: zone.is_some(),
                settled_s: settled_s.collect(),
                wanted,
                sown: sown.collect(),
                sources: segment.sources.clone(),
                known: case.track.holds(segment.log, products),
                again: trod.again,
                beyond: trod.beyond,
            };
            all.push(sample);
        }
        Self { all }
    }

    /// Samples of a product on the plan's land, where both rates are above 0 and the wanted one has held long enough.
    pub(super) fn settled(&self, product: usize) -> impl Iterator<Item = (&Sample, f64, f64)> {
        self.all.iter().filter_map(move |own| {
            let (wanted, sown) = own.rates(product)?;
            let settled = own.settled_s.get(product).is_some_and(|s| *s >= SETTLES_S);
            (settled && own.on_land && wanted > 0.0 && sown > 0.0).then_some((own, wanted, sown))
        })
    }
}

/// Runs of samples in which something holds, one after the other in one pass: their first sample, length and area.
pub(super) fn runs(
    samples: &[Sample],
    holds: impl Fn(&Sample) -> bool,
) -> Vec<(&Sample, f64, f64)> {
    let mut found: Vec<(&Sample, f64, f64)> = Vec::new();
    let mut open: Option<(&Sample, f64, f64)> = None;
    for sample in samples {
        let goes_on = open
            .as_ref()
            .is_some_and(|(first, _, _)| first.pass == sample.pass);
        if !holds(sample) {
            found.extend(open.take());
        } else if let Some((_, metres, m2)) = open.as_mut().filter(|_| goes_on) {
            *metres += sample.length_m;
            *m2 += sample.area_m2();
        } else {
            found.extend(open.take());
            open = Some((sample, sample.length_m, sample.area_m2()));
        }
    }
    found.extend(open);
    found
}

/// The value that half of the weight lies below.
pub(super) fn median(values: &mut [(f64, f64)]) -> Option<f64> {
    values.sort_by(|a, b| a.0.total_cmp(&b.0));
    let all: f64 = values.iter().map(|(_, weight)| weight).sum();
    let mut sum = 0.0;
    values.iter().find_map(|(value, weight)| {
        sum += weight;
        (sum >= all / 2.0).then_some(*value)
    })
}
