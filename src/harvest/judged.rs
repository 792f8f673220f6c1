//! Plots held against each other, one way for each design.

use super::answer::{Answer, Design, Money, Response, Worth, block_numbers, mean_of};
use super::plots::Plots;
use crate::trial::{
    Data, Estimate, Factor, Family, Fitted, Lies, OptimumSet, Shape, analysis, curve, paired,
    pairs_needed, plot_model,
};

fn start(
    design: Design,
    treatment: &str,
    base: &str,
    plots: &Plots,
    blocks: usize,
    effect: Estimate,
) -> Answer {
    Answer {
        design,
        treatment: treatment.to_owned(),
        base: base.to_owned(),
        plots: plots.of.len(),
        blocks,
        effect: effect.into(),
        shown: effect.is_shown(),
        base_kg_per_ha: 0.0,
        means: Vec::new(),
        least_significant_difference: None,
        p_of_all: None,
        response: None,
        worth: Vec::new(),
        break_even_per_t: None,
        to_see: None,
        second: None,
    }
}

pub(super) fn pairs(plots: &Plots, names: &[String], base: &str) -> Option<Answer> {
    let other = names.iter().find(|name| *name != base)?;
    let (numbers, count) = block_numbers(plots);
    let mean = |block: usize, name: &str| {
        let own = plots
            .of
            .iter()
            .zip(&numbers)
            .filter(|(plot, of)| **of == block && plot.treatment == name);
        let own: Vec<f64> = own.map(|(plot, _)| plot.kg_per_ha).collect();
        (!own.is_empty()).then(|| own.iter().sum::<f64>() / own.len() as f64)
    };
    let differences: Vec<f64> = (0..count)
        .filter_map(|block| Some(mean(block, other)? - mean(block, base)?))
        .collect();
    let found = paired(&differences)?;
    let mut answer = start(
        Design::Pairs,
        other,
        base,
        plots,
        found.pairs,
        found.difference,
    );
    // What would matter: 2 % of the yield (common practice, no source).
    let matters = 0.02 * mean_of(plots, base).1;
    answer.to_see = Some((matters, pairs_needed(matters, found.deviation, 0.8)));
    Some(answer)
}

pub(super) fn blocks(plots: &Plots, names: &[String], base: &str) -> Option<Answer> {
    let (numbers, count) = block_numbers(plots);
    // The base is level 0, so that each column is a difference to it.
    let others: Vec<&String> = names.iter().filter(|name| *name != base).collect();
    let level = |name: &String| {
        others
            .iter()
            .position(|other| *other == name)
            .map_or(0, |at| at + 1)
    };
    let levels: Vec<usize> = plots.of.iter().map(|plot| level(&plot.treatment)).collect();
    let yields: Vec<f64> = plots.of.iter().map(|plot| plot.kg_per_ha).collect();
    let factors = [
        Factor {
            name: "block",
            levels: numbers,
        },
        Factor {
            name: "treatment",
            levels,
        },
    ];
    let found = analysis(&yields, &factors, &[&[0], &[1]])?;
    let p_of_all = found.rows.last()?.p;
    let estimate = |nth: usize| {
        let mut weights = vec![0.0; found.fit.coefficients.len()];
        *weights.get_mut(count + nth)? = 1.0;
        let (value, variance) = found.fit.combined(&weights);
        Estimate::of(
            value,
            (variance * found.error_mean_square).sqrt(),
            found.error_degrees_of_freedom as f64,
        )
    };
    let estimates: Vec<(usize, Estimate)> = (0..others.len())
        .filter_map(|nth| Some((nth, estimate(nth)?)))
        .collect();
    let (nth, best) = estimates
        .into_iter()
        .max_by(|a, b| a.1.value.total_cmp(&b.1.value))?;
    let mut answer = start(Design::Blocks, others.get(nth)?, base, plots, count, best);
    // The best of several was picked: it counts only where the whole differs (Fisher's protected difference).
    answer.shown &= p_of_all < 0.05;
    answer.p_of_all = Some(p_of_all);
    answer.least_significant_difference =
        found.least_significant_difference(plots.of.len() as f64 / names.len() as f64, 0.05);
    Some(answer)
}

pub(super) fn alone(plots: &Plots, names: &[String], base: &str) -> Option<Answer> {
    let others: Vec<&String> = names.iter().filter(|name| *name != base).collect();
    if names.iter().any(|name| mean_of(plots, name).2 < 3) {
        return None;
    }
    let mut columns = vec![vec![1.0; plots.of.len()]];
    columns.extend(others.iter().map(|name| {
        plots
            .of
            .iter()
            .map(|plot| f64::from(u8::from(plot.treatment == **name)))
            .collect()
    }));
    let yields: Vec<f64> = plots.of.iter().map(|plot| plot.kg_per_ha).collect();
    let places: Vec<[f64; 2]> = plots.of.iter().map(|plot| plot.middle).collect();
    let found = plot_model(Family::Exponential, &columns, &yields, &places)?;
    let estimate = |nth: usize| {
        let mut weights = vec![0.0; columns.len()];
        weights[nth + 1] = 1.0;
        found.estimate(&weights)
    };
    let estimates: Vec<(usize, Estimate)> = (0..others.len())
        .filter_map(|nth| Some((nth, estimate(nth)?)))
        .collect();
    let (nth, best) = estimates
        .into_iter()
        .max_by(|a, b| a.1.value.total_cmp(&b.1.value))?;
    let mut answer = start(Design::Plots, others[nth], base, plots, 0, best);
    // Of several the best was picked: each difference has to pass at 5 % over their number (Bonferroni).
    answer.shown &= best.p * (others.len() as f64) < 0.05;
    Some(answer)
}

fn same(values: &[f64]) -> Vec<f64> {
    values.to_vec()
}

pub(super) fn rates(plots: &Plots, base: &str, money: &Money, has_blocks: bool) -> Option<Answer> {
    let of_plots: Vec<f64> = plots
        .of
        .iter()
        .map(|plot| plot.rate.or_else(|| plot.treatment.parse().ok()))
        .collect::<Option<_>>()?;
    let yields: Vec<f64> = plots.of.iter().map(|plot| plot.kg_per_ha).collect();
    let (numbers, count) = block_numbers(plots);
    // Around their mean, so that the curve stands at the mean of all blocks.
    let own = |block: usize| -> Vec<f64> {
        let column: Vec<f64> = numbers
            .iter()
            .map(|of| f64::from(u8::from(*of == block)))
            .collect();
        let mean = column.iter().sum::<f64>() / column.len() as f64;
        column.iter().map(|v| v - mean).collect()
    };
    let further: Vec<Vec<f64>> = if has_blocks {
        (1..count).map(own).collect()
    } else {
        Vec::new()
    };
    let data = Data {
        rates: &of_plots,
        yields: &yields,
        further: &further,
        filter: &same,
    };
    let fitted = bent(&data)?;
    let price = money.per_t.map(|of| (of[1] - money.drying_per_t) / 1_000.0);
    let ratio = |per_kg: f64| {
        if per_kg > 0.0 {
            money.per_unit / per_kg
        } else {
            0.0
        }
    };
    let best = fitted.optimum(&data, price.map_or(0.0, ratio));
    let base_rate: f64 = base.parse().ok()?;
    let set = fitted.optimum_set(&data, price.map_or(0.0, ratio));
    // Where nothing pays better than the base, the highest rate says what more would have brought.
    let highest = of_plots.iter().copied().fold(base_rate, f64::max);
    let held = if best.rate == base_rate {
        highest
    } else {
        best.rate
    };
    let effect = gain(&fitted, held, base_rate)?;
    let mut answer = start(
        Design::Rates,
        &number(held),
        base,
        plots,
        if has_blocks { count } else { 0 },
        effect,
    );
    // Where the curve itself is not shown, neither is its best rate.
    let flat = curve(Shape::Linear, &data)?;
    answer.p_of_all = Some(any_response(&data, &fitted, &flat)?);
    answer.shown &= answer.p_of_all.is_some_and(|p| p < 0.05);
    answer.response = Some(Response {
        shape: fitted.curve.shape.word(),
        constant: fitted.curve.constant,
        slope: fitted.curve.slope,
        bend: fitted.curve.bend,
        join: fitted.curve.join.is_finite().then_some(fitted.curve.join),
        best_rate: best.rate,
        at_end: best.lies != Lies::Inside,
        set: match set {
            Some(OptimumSet::Between(set)) => Some(set),
            _ => None,
        },
    });
    if let Some(prices) = money.per_t {
        for per_t in prices {
            let net = (per_t - money.drying_per_t) / 1_000.0;
            let own = fitted.optimum(&data, ratio(net));
            let [value, from, to] = [
                answer.effect.kg_per_ha,
                answer.effect.from,
                answer.effect.to,
            ]
            .map(|kg| kg * net - money.per_unit * (held - base_rate));
            answer.worth.push(Worth {
                price_per_t: per_t,
                per_ha: value,
                from,
                to,
                best_rate: Some(own.rate),
            });
        }
    }
    Some(answer)
}

/// A number without zeros at its end.
fn number(value: f64) -> String {
    crate::findings::number((value * 10.0).round() / 10.0)
}

/// What one rate gives more than another, the join of a plateau being held.
fn gain(fitted: &Fitted, rate: f64, base: f64) -> Option<Estimate> {
    let curve = &fitted.curve;
    let mut weights = vec![0.0; fitted.fit.coefficients.len()];
    let missing = |rate: f64| {
        let below = (curve.join - rate).max(0.0);
        if curve.shape == Shape::QuadraticPlateau {
            below * below
        } else {
            below
        }
    };
    match curve.shape {
        Shape::Linear => weights[1] = rate - base,
        Shape::Quadratic => {
            weights[1] = rate - base;
            weights[2] = rate * rate - base * base;
        }
        Shape::QuadraticPlateau | Shape::LinearPlateau => {
            weights[1] = missing(base) - missing(rate)
        }
    }
    let (value, variance) = fitted.fit.combined(&weights);
    let left = fitted.degrees_of_freedom as f64;
    Estimate::of(
        value,
        (variance * fitted.fit.residual_squares / left).sqrt(),
        left,
    )
}

/// The curve that bends down with the least criterion; a straight line, which has no best rate within, only where none does.
fn bent(data: &Data) -> Option<Fitted> {
    let bends = |of: &Fitted| {
        of.curve.bend < 0.0 || of.curve.shape == Shape::LinearPlateau && of.curve.slope > 0.0
    };
    let shapes = [
        Shape::Quadratic,
        Shape::QuadraticPlateau,
        Shape::LinearPlateau,
    ];
    let fitted = shapes
        .into_iter()
        .filter_map(|shape| curve(shape, data))
        .filter(bends);
    let best = fitted.min_by(|a, b| a.criterion.total_cmp(&b.criterion));
    best.or_else(|| curve(Shape::Linear, data))
}

/// Probability of so good a curve where the rate does nothing: F against blocks alone.
fn any_response(data: &Data, fitted: &Fitted, line: &Fitted) -> Option<f64> {
    let mut columns = vec![vec![1.0; data.rates.len()]];
    columns.extend(data.further.iter().cloned());
    let without = crate::trial::least_squares(&columns, data.yields)?;
    let one = |of: &Fitted| {
        let more = (without.degrees_of_freedom - of.degrees_of_freedom) as f64;
        let left = of.degrees_of_freedom as f64;
        let f = (without.residual_squares - of.fit.residual_squares)
            / more
            / (of.fit.residual_squares / left);
        crate::trial::f_upper_tail(f, more, left)
    };
    // Four shapes were looked at, two of them alike: twice the smaller probability.
    Some((2.0 * one(fitted)?.min(one(line)?)).min(1.0))
}
