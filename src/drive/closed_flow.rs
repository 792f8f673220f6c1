//! What the meters do while sections are off or rows are closed: the open outlets get more, or the flow
//! returns to the hopper, or the meter slows. Method: docs/methods/as-driven.md.

use super::bout::{Bout, Section};
use super::flow::Stretch;
use crate::job::{ClosedFlow, ShutFlows};
use crate::units::M2_PER_HA;

/// A stretch of a section with constant rates, and what its outlets get beyond them.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct SownStretch {
    pub stretch: Stretch,
    /// Per product: shares of the rate that come from closed rows and from shut sections.
    pub more: Vec<ExtraFlow>,
}

/// What open outlets get beyond the rate, as shares of it.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub(super) struct ExtraFlow {
    pub rows: f64,
    pub sections: f64,
}

impl ExtraFlow {
    /// What the rate is multiplied with.
    pub fn factor(self) -> f64 {
        1.0 + self.rows + self.sections
    }
}

/// A section's width and the width of the closed rows in it, m.
struct Widths {
    whole_m: f64,
    closed_m: f64,
}

impl Widths {
    fn of(section: &Section, bout: &Bout) -> Self {
        let [right, left] = section.left_m;
        let shared = bout.closed.iter().map(|row| {
            let width = row.left_m[1].min(left) - row.left_m[0].max(right);
            width.max(0.0)
        });
        Self {
            whole_m: left - right,
            closed_m: shared.sum(),
        }
    }
}

/// What happens at one station to one product.
#[derive(Default)]
struct AtStation {
    open_m: f64,
    more_rows_m: f64,
    more_sections_m: f64,
    returned_m: f64,
}

/// The stretches cut wherever another section goes on or off, if that changes their flow; and per product what
/// returns to the hopper, kg.
pub(super) fn flows(
    bout: &Bout,
    stretches: Vec<Stretch>,
    products: usize,
    flows: ShutFlows,
) -> (Vec<SownStretch>, Vec<f64>) {
    let widths: Vec<Widths> = bout
        .sections
        .iter()
        .map(|section| Widths::of(section, bout))
        .collect();
    let open = |width: &Widths| Widths {
        whole_m: width.whole_m,
        closed_m: 0.0,
    };
    let all_open: Vec<Widths> = widths.iter().map(open).collect();
    let mut returned_kg = vec![0.0; products];
    let mut of_section: Vec<Vec<&Stretch>> = vec![Vec::new(); widths.len()];
    for stretch in &stretches {
        of_section[stretch.section].push(stretch);
    }
    let ends = stretches.iter().map(|s| [s.from_m, s.to_m]);
    let changes = bout.closed_along.changes().iter().copied();
    let mut cuts: Vec<f64> = ends.chain(changes).flatten().collect();
    cuts.sort_by(f64::total_cmp);
    cuts.dedup();
    // Per piece of the way, per product: what its open outlets get beyond the rate.
    let mut shares: Vec<Vec<ExtraFlow>> = Vec::new();
    for pair in cuts.windows(2) {
        let &[from_m, to_m] = pair else { continue };
        let middle = (from_m + to_m) / 2.0;
        let running: Vec<Option<&Stretch>> = of_section
            .iter()
            .map(|list| {
                let next = list.partition_point(|s| s.from_m <= middle);
                let last = list.get(next.checked_sub(1)?).copied()?;
                (last.to_m >= middle).then_some(last)
            })
            .collect();
        let mut of_piece = vec![ExtraFlow::default(); products];
        for (product, more) in of_piece.iter_mut().enumerate() {
            let rate = |s: &Option<&Stretch>| s.and_then(|s| s.kg_per_ha.get(product).copied());
            let rates: Vec<f64> = running.iter().map(|s| rate(s).unwrap_or(0.0)).collect();
            let meter = rates.iter().copied().fold(0.0, f64::max);
            let at = match bout.closed_along.at(middle) {
                true => at_station(&widths, &rates, flows),
                false => at_station(&all_open, &rates, flows),
            };
            if at.open_m > 0.0 {
                more.rows = at.more_rows_m / at.open_m;
                more.sections = at.more_sections_m / at.open_m;
            }
            returned_kg[product] += meter * at.returned_m * (to_m - from_m) / M2_PER_HA;
        }
        shares.push(of_piece);
    }
    let mut sown: Vec<SownStretch> = Vec::new();
    for stretch in stretches {
        let first = cuts.partition_point(|cut| *cut < stretch.from_m);
        let own = sown.len();
        for (pair, more) in cuts.windows(2).zip(&shares).skip(first) {
            let &[from_m, to_m] = pair else { continue };
            if from_m >= stretch.to_m {
                break;
            }
            match sown.get_mut(own..).and_then(<[_]>::last_mut) {
                Some(last) if last.more == *more => last.stretch.to_m = to_m,
                _ => sown.push(SownStretch {
                    stretch: Stretch {
                        from_m,
                        to_m,
                        ..stretch.clone()
                    },
                    more: more.clone(),
                }),
            }
        }
    }
    (sown, returned_kg)
}

/// Widths at one station for one product, by the rates of the sections: 0 where a section is shut. While all
/// are shut the meter stands.
fn at_station(widths: &[Widths], rates: &[f64], flows: ShutFlows) -> AtStation {
    let mut at = AtStation::default();
    let closed = widths.iter().zip(rates);
    for (width, _) in closed.clone().filter(|(_, rate)| **rate > 0.0) {
        at.open_m += width.whole_m - width.closed_m;
        match flows.rows {
            ClosedFlow::MeterSlows => {}
            ClosedFlow::Returned => at.returned_m += width.closed_m,
            ClosedFlow::Redistributed => at.more_rows_m += width.closed_m,
        }
    }
    if at.open_m <= 0.0 {
        return at;
    }
    for (width, _) in closed.filter(|(_, rate)| **rate == 0.0) {
        // Its closed rows keep their own rule, unless their share goes to the others of the section anyway.
        let own_m = match flows.rows {
            ClosedFlow::Redistributed => 0.0,
            _ => width.closed_m,
        };
        match flows.sections {
            ClosedFlow::MeterSlows => continue,
            ClosedFlow::Returned => at.returned_m += width.whole_m - own_m,
            ClosedFlow::Redistributed => at.more_sections_m += width.whole_m - own_m,
        }
        if flows.rows == ClosedFlow::Returned {
            at.returned_m += own_m;
        }
    }
    at
}
