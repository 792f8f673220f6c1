//! What holds at one moment of a log: rates and totals of each meter, states, and the strips of the drill that come of it.

use super::channels::{Channel, Channels, Growth, Meter};
use super::entries::Source;
use super::governing::Governing;

/// A strip of the drill that is on.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Strip {
    /// From and to, m to the right of the middle.
    pub across: [f64; 2],
    /// Per product; `None` where it is off.
    pub kg_per_ha: Vec<Option<f64>>,
}

impl Strip {
    pub(super) fn width_m(&self) -> f64 {
        self.across[1] - self.across[0]
    }
}

/// The moment.
pub(super) struct State<'a> {
    channels: &'a Channels,
    columns: &'a [Channel],
    governing: &'a Governing,
    /// Per meter: actual rate, flow in kg/s, and rate asked for.
    rates: Vec<Option<f64>>,
    flows: Vec<Option<f64>>,
    setpoints: Vec<Option<f64>>,
    totals: Vec<Growth>,
    /// Per column, raw.
    values: Vec<Option<i32>>,
}

impl<'a> State<'a> {
    pub(super) fn of(
        channels: &'a Channels,
        columns: &'a [Channel],
        governing: &'a Governing,
    ) -> Self {
        let meters = channels.meters.len();
        Self {
            channels,
            columns,
            governing,
            rates: vec![None; meters],
            flows: vec![None; meters],
            setpoints: vec![None; meters],
            totals: vec![Growth::from_its_first(); meters],
            values: vec![None; columns.len()],
        }
    }

    /// Takes a value of a column. Gives the product and the kilograms by which a total has grown.
    pub(super) fn take(&mut self, column: usize, raw: i32) -> Option<(usize, f64)> {
        let number = f64::from(raw);
        let put = |list: &mut Vec<Option<f64>>, meter: usize, value: f64| {
            if let Some(own) = list.get_mut(meter) {
                *own = Some(value.max(0.0));
            }
        };
        match self.columns.get(column)? {
            Channel::Rate(meter, kg_per_ha) => put(&mut self.rates, *meter, number * kg_per_ha),
            Channel::Flow(meter, kg_per_s) => put(&mut self.flows, *meter, number * kg_per_s),
            Channel::Setpoint(meter, kg_per_ha) => {
                put(&mut self.setpoints, *meter, number * kg_per_ha);
            }
            Channel::Total(meter, kg) => {
                let grown = self.totals.get_mut(*meter)?.to(number * kg);
                let meter = self.channels.meters.get(*meter)?;
                return meter.total.then_some((meter.product, grown));
            }
            Channel::State => {
                if let Some(own) = self.values.get_mut(column) {
                    *own = Some(raw);
                }
            }
            Channel::Other => {}
        }
        None
    }

    fn has(list: &[bool], product: usize) -> bool {
        list.get(product) == Some(&true)
    }

    /// What a meter lays on its strips now, kg/ha; `None` where its product is known otherwise.
    fn laid(&self, at: usize, meter: &Meter) -> Option<f64> {
        let value = |list: &[Option<f64>]| list.get(at).copied().flatten();
        if Self::has(&self.channels.has_rate, meter.product) {
            return meter
                .rate
                .then(|| value(&self.rates).unwrap_or(0.0) * meter.share);
        }
        match Self::has(&self.channels.has_total, meter.product) {
            true => Some(0.0),
            false => Some(value(&self.setpoints).unwrap_or(0.0) * meter.share),
        }
    }

    /// The strips that are on, from the left, and beside them no others. A product that flows by time has 0 kg/ha here.
    pub(super) fn strips(&self) -> Vec<Strip> {
        let products = self.channels.has_rate.len();
        // Per meter: product, rate, and where.
        let mut laid: Vec<(usize, f64, Vec<[f64; 2]>)> = Vec::new();
        let mut ends: Vec<f64> = Vec::new();
        for (at, meter) in self.channels.meters.iter().enumerate() {
            let Some(rate) = self.laid(at, meter) else {
                continue;
            };
            let by_total = !Self::has(&self.channels.has_rate, meter.product)
                && Self::has(&self.channels.has_total, meter.product);
            let flows = self.flows.get(at).copied().flatten().unwrap_or(0.0) > 0.0;
            let known = self.governing.knows(at, &self.values);
            // What stands at 0 lays nothing, whatever its state says; a total alone cannot say when.
            if rate == 0.0 && !flows && !(by_total && (meter.total || known)) {
                continue;
            }
            let strips = self.governing.strips(at, &self.values);
            ends.extend(strips.iter().flatten());
            laid.push((meter.product, rate, strips));
        }
        ends.sort_by(f64::total_cmp);
        ends.dedup();
        let mut strips: Vec<Strip> = Vec::new();
        for pair in ends.windows(2) {
            let &[left, right] = pair else { continue };
            let middle = (left + right) / 2.0;
            let mut kg_per_ha: Vec<Option<f64>> = vec![None; products];
            for (product, rate, own) in &laid {
                let here = own.iter().any(|[from, to]| *from < middle && middle < *to);
                if let Some(sum) = kg_per_ha.get_mut(*product).filter(|_| here) {
                    *sum = Some(sum.unwrap_or(0.0) + rate);
                }
            }
            if kg_per_ha.iter().all(Option::is_none) {
                continue;
            }
            match strips.last_mut() {
                Some(last) if last.across[1] == left && last.kg_per_ha == kg_per_ha => {
                    last.across[1] = right;
                }
                _ => strips.push(Strip {
                    across: [left, right],
                    kg_per_ha,
                }),
            }
        }
        strips
    }

    /// What flows by time, per product, kg/s.
    pub(super) fn flow(&self) -> Vec<f64> {
        let mut flow = vec![0.0; self.channels.has_rate.len()];
        for (at, meter) in self.channels.meters.iter().enumerate() {
            let own = self.flows.get(at).copied().flatten().unwrap_or(0.0);
            let counts = meter.rate && Self::has(&self.channels.has_rate, meter.product);
            if let Some(sum) = flow.get_mut(meter.product).filter(|_| counts) {
                *sum += own;
            }
        }
        flow
    }

    /// Where the rate of each product came from.
    pub(super) fn sources(&self) -> Vec<Option<Source>> {
        let mut sources = vec![None; self.channels.has_rate.len()];
        for (at, meter) in self.channels.meters.iter().enumerate() {
            if let Some(own) = sources.get_mut(meter.product) {
                *own = own.or(self.governing.source(at, &self.values));
            }
        }
        sources
    }
}
