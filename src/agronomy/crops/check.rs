//! Holds the numbers of a job against what is published about its crops.

use super::given::{self, Given};
use super::published::{Published, Quantity, Range, Source, Usual, published};
use super::slips::{self, Slip};
use crate::agronomy::{crop_list, seed, text};
use crate::findings::{Decision, Extent, Fault, Finding, Outcome, Place, Severity};
use crate::job::{Country, Job, Kind, Product};

/// Outside the widest range by this factor, a number that another reading brings inside is refused: it is that slip.
/// Our own choice, no source.
const SURELY: f64 = 2.5;
/// Outside by this factor it is refused in any case.
const IMPOSSIBLE: f64 = 10.0;
/// Where only single numbers are published, half of the least to double of the most is let pass. Common practice, no
/// source.
const AROUND_A_FIGURE: f64 = 2.0;
/// What plants, germination and establishment come to may lie outside the printed rates by this factor: late sowing on
/// poor ground takes more seed than tables of rates print. Our own choice, no source.
const AROUND_A_SUM: f64 = 1.5;
/// So many sources have to speak before one of them is said to go further than the others.
const SEVERAL: usize = 3;

/// Holds grain weight, germination, population or rate, and depth of every seed against the published ranges.
///
/// # Errors
/// A number that cannot be, with what it was probably meant as.
pub fn check(job: &Job) -> Outcome<Vec<Finding>> {
    let all = published()?;
    let mut findings = Vec::new();
    for product in job.products.iter().filter(|own| own.kind == Kind::Seed) {
        match crop_of(product, all) {
            Some(crop) => {
                let before = findings.len();
                of_crop(job, product, crop, all, &mut findings)?;
                let asked = |of: &Finding| of.severity == Severity::Decision;
                // One slip is asked about once.
                if !findings[before..].iter().any(asked) {
                    findings.extend(of_plants(job, product, crop, all));
                }
            }
            None => findings.push(unknown(job, product)),
        }
    }
    findings.extend(depths_apart(job, all));
    Ok(findings)
}

/// The crop that a product says it is, or whose name is its id.
fn crop_of<'a>(product: &Product, all: &'a Published) -> Option<&'a Usual> {
    all.crop(product.crop.as_ref().unwrap_or(&product.id))
}

fn place(job: &Job, product: &Product) -> Place {
    Place::file(&job.file).feature(format!("product '{}'", product.id))
}

fn unknown(job: &Job, product: &Product) -> Finding {
    let Some(named) = &product.crop else {
        let message = format!(
            "The crop of '{}' is not named, so that none of its numbers was held against what is usual. Name it: crop = \"wheat\", for one.",
            product.id
        );
        return Finding::decision(Decision::CropNotNamed, place(job, product), message)
            .of_products([product.id.as_str()]);
    };
    let near = text::nearest(named, crop_list::words());
    let meant = near
        .map(|near| format!(" Is '{near}' meant?"))
        .unwrap_or_default();
    let message = format!(
        "The list of crops does not have '{named}', so that none of the numbers of '{}' was held against what is usual.{meant} If not, somebody who knows the crop has to look at grain weight, rate and depth.",
        product.id
    );
    Finding::decision(Decision::CropWithoutRange, place(job, product), message)
        .of_products([product.id.as_str()])
}

fn of_crop(
    job: &Job,
    product: &Product,
    crop: &Usual,
    all: &Published,
    findings: &mut Vec<Finding>,
) -> Outcome<()> {
    let mut hold = |quantity: Quantity, given: &[Given]| {
        let held = Held {
            job,
            product,
            crop,
            all,
            quantity,
        };
        held.against(given, findings)
    };
    hold(
        Quantity::ThousandGrainWeight,
        &given::of_lots(product, |lot| lot.thousand_grain_weight_g),
    )?;
    hold(
        Quantity::Germination,
        &given::of_lots(product, |lot| lot.germination_percent),
    )?;
    hold(Quantity::Depth, &given::depth(job, product))?;
    let (quantity, given) = given::rate(job, product);
    if crop.of(quantity).next().is_some() {
        return hold(quantity, &given);
    }
    // What is not published per m2 may be by weight, and the other way round.
    let weight = product.thousand_grain_weight_g;
    let other = match (quantity, weight) {
        (Quantity::Seeds, Some(weight)) => {
            let turned = |seeds| seed::kg_per_ha_of_seeds(seeds, weight);
            Some((Quantity::Rate, given::converted(given, turned)))
        }
        (Quantity::Rate, Some(weight)) => {
            let turned = |rate| seed::seeds_per_m2_of_kg(rate, weight);
            Some((Quantity::Seeds, given::converted(given, turned)))
        }
        _ => None,
    };
    match other {
        Some((other, given)) if crop.of(other).next().is_some() => hold(other, &given),
        _ => {
            let message = format!(
                "Nothing is published here about the {} of {}: somebody who knows the crop has to look at the rate of '{}'.",
                quantity.words().0,
                crop.name(),
                product.id
            );
            let found = Finding::decision(Decision::CropWithoutRange, place(job, product), message);
            findings.push(found.of_products([product.id.as_str()]));
            Ok(())
        }
    }
}

/// The kilograms that plants, germination and establishment come to, against the printed rates: a slip in one of the three
/// shows in no other number.
fn of_plants(job: &Job, product: &Product, crop: &Usual, all: &Published) -> Option<Finding> {
    let quantity = Quantity::Rate;
    let held = Held {
        job,
        product,
        crop,
        all,
        quantity,
    };
    let widest = held.widest()?;
    let given = given::of_plants(job, product);
    let outside = given
        .iter()
        .map(|own| (factor_outside(own.value, widest), own));
    let (factor, worst) = outside.max_by(|a, b| a.0.total_cmp(&b.0))?;
    if factor <= AROUND_A_SUM {
        return None;
    }
    let message = format!(
        "Plants, germination and establishment of '{}' ({}) come to {}{}: far outside all that is published, {}. Look at the three again, or let somebody who knows the crop stand for it. Published: {}.",
        product.id,
        crop.name(),
        held.shown(worst.value),
        worst.of,
        held.allowed(widest),
        held.sources()
    );
    let found = Finding::decision(quantity.decision(), place(job, product), message);
    let found = found.of_products([product.id.as_str()]);
    Some(found.extent(Extent::Percent(100.0 * (factor - 1.0))))
}

/// One quantity of one seed against what is printed about its crop.
struct Held<'a> {
    job: &'a Job,
    product: &'a Product,
    crop: &'a Usual,
    all: &'a Published,
    quantity: Quantity,
}

impl Held<'_> {
    fn against(&self, given: &[Given], findings: &mut Vec<Finding>) -> Outcome<()> {
        let Some(widest) = self.widest() else {
            return Ok(());
        };
        let mut outside = Vec::new();
        let mut furthest = Vec::new();
        let mut furthest_outside = 1.0_f64;
        let country = self.of_country();
        let mut beyond_country = Vec::new();
        for own in given {
            let factor = factor_outside(own.value, widest);
            let slips = self.slips(own.value, widest);
            if factor >= IMPOSSIBLE || factor >= SURELY && !slips.is_empty() {
                return Err(self.impossible(own, &slips, widest));
            }
            furthest_outside = furthest_outside.max(factor);
            if factor > 1.0 {
                outside.push((own, slips));
            } else if let Some(range) = self.alone(own.value) {
                furthest.push((own, range));
            } else if country.is_some_and(|(_, span)| factor_outside(own.value, span) > 1.0) {
                beyond_country.push(own);
            }
        }
        let what = self.quantity.words().0;
        let unit = self.quantity.unit(self.job.report.units);
        let listed = |given: Vec<&Given>| {
            let each = given.iter();
            let each = each.map(|own| format!("{}{}", self.number(own.value), own.of));
            each.collect::<Vec<_>>().join(", ")
        };
        let whose = format!(
            "{what} of '{}' ({}), in {unit}",
            self.product.id,
            self.crop.name()
        );
        if !outside.is_empty() {
            let read: Vec<String> = outside
                .iter()
                .flat_map(|(own, slips)| slips.iter().map(move |slip| self.reading(own, slip)))
                .collect();
            let read = match read.is_empty() {
                true => String::new(),
                false => format!(" It would fit: {}.", read.join("; ")),
            };
            let message = format!(
                "The {whose}, is {}: outside all that is published, {}.{read} Published: {}. Look at the paper again, or let somebody who knows the crop stand for it.",
                listed(outside.iter().map(|(own, _)| *own).collect()),
                self.allowed(widest),
                self.sources(),
            );
            let at = place(self.job, self.product);
            let found = Finding::decision(self.quantity.decision(), at, message);
            let found = found.of_products([self.product.id.as_str()]);
            findings.push(found.extent(Extent::Percent(100.0 * (furthest_outside - 1.0))));
        }
        if let (Some((country, span)), false) = (country, beyond_country.is_empty()) {
            let message = format!(
                "The {whose}, is {}: published elsewhere, and outside what publishers of your country ({}) print, {}.",
                listed(beyond_country),
                country.name(),
                self.allowed(span),
            );
            let at = place(self.job, self.product);
            findings.push(Finding::note("crops.outside_country", at, message));
        }
        if let Some((_, range)) = furthest.first() {
            let message = format!(
                "The {whose}, is {}: only one publisher goes so far, {}.",
                listed(furthest.iter().map(|(own, _)| *own).collect()),
                self.said(range),
            );
            findings.push(Finding::note(
                "crops.far",
                place(self.job, self.product),
                message,
            ));
        }
        Ok(())
    }

    /// What is let pass: all that is printed, or half to double of single figures.
    fn widest(&self) -> Option<[f64; 2]> {
        around(&self.crop.of(self.quantity).collect::<Vec<_>>())
    }

    /// The same of the publishers of the job's country; none where it names none, or nothing of it is printed there.
    fn of_country(&self) -> Option<(Country, [f64; 2])> {
        let country = self.job.field.country?;
        let of_it = |range: &&Range| {
            let source = self.all.source(range);
            source.and_then(Source::country) == Some(country)
        };
        let ranges: Vec<&Range> = self.crop.of(self.quantity).filter(of_it).collect();
        Some((country, around(&ranges)?))
    }

    /// The one source that goes as far as this number, where several others stop before.
    fn alone(&self, value: f64) -> Option<&Range> {
        let ranges: Vec<&Range> = self.crop.of(self.quantity).collect();
        let reaching = |reaches: fn([f64; 2], f64) -> bool| {
            let mut those = ranges.iter().filter(|range| reaches(range.span(), value));
            those.next().filter(|_| those.next().is_none()).copied()
        };
        let low = reaching(|span, value| span[0] <= value);
        let high = reaching(|span, value| span[1] >= value);
        low.or(high).filter(|_| ranges.len() >= SEVERAL)
    }

    /// Other readings of a number outside that bring it inside.
    fn slips(&self, value: f64, widest: [f64; 2]) -> Vec<Slip> {
        if factor_outside(value, widest) <= 1.0 {
            return Vec::new();
        }
        let row_m = crate::job::row_spacing_m(self.job);
        let mut slips = slips::of(self.quantity, value, row_m);
        slips.retain(|slip| factor_outside(slip.meant, widest) <= 1.0);
        slips
    }

    fn reading(&self, own: &Given, slip: &Slip) -> String {
        format!(
            "{}{} read as {}, which is {}",
            self.number(own.value),
            own.of,
            slip.read_as,
            self.shown(slip.meant)
        )
    }

    fn impossible(&self, own: &Given, slips: &[Slip], widest: [f64; 2]) -> Box<Fault> {
        let what = self.quantity.words().0;
        let readings: Vec<String> = slips.iter().map(|slip| self.reading(own, slip)).collect();
        let next = match readings.is_empty() {
            true => "Look at the seed tag, and at the unit of measure of the key.".to_owned(),
            false => format!(
                "It would fit: {}. Correct the number or its key.",
                readings.join("; ")
            ),
        };
        Fault::input(
            "crops.impossible",
            place(self.job, self.product),
            format!(
                "the {what} of '{}' ({}) is {}{}",
                self.product.id,
                self.crop.name(),
                self.shown(own.value),
                own.of
            ),
            format!("{}; published: {}", self.allowed(widest), self.sources()),
            next,
        )
    }

    /// A number of the quantity as the job's pages show it.
    fn number(&self, value: f64) -> String {
        number(self.quantity.shown(value, self.job.report.units))
    }

    /// The same with its unit.
    fn shown(&self, value: f64) -> String {
        let unit = self.quantity.unit(self.job.report.units);
        format!("{} {unit}", self.number(value))
    }

    fn allowed(&self, [least, most]: [f64; 2]) -> String {
        let units = self.job.report.units;
        let of = |value| self.quantity.shown(value, units);
        // The heavier the grain, the fewer there are in a pound.
        let (low, high) = (of(least).min(of(most)), of(least).max(of(most)));
        let unit = self.quantity.unit(units);
        format!("{} to {} {unit}", number(low), number(high))
    }

    fn said(&self, range: &Range) -> String {
        let source = self.all.source(range);
        let source =
            source.map(|own| format!(" ({}, {}, {})", own.publisher, own.year, own.country));
        format!("{}{}", range.as_printed(), source.unwrap_or_default())
    }

    fn sources(&self) -> String {
        let said: Vec<String> = self
            .crop
            .of(self.quantity)
            .map(|range| self.said(range))
            .collect();
        said.join("; ")
    }
}

/// From the least to the most that is printed, or from half to double of single figures.
fn around(ranges: &[&Range]) -> Option<[f64; 2]> {
    let spans = ranges.iter().map(|range| range.span());
    let least = spans.clone().map(|span| span[0]).reduce(f64::min)?;
    let most = spans.map(|span| span[1]).reduce(f64::max)?;
    match ranges.iter().all(|range| range.is_figure()) {
        true => Some([least / AROUND_A_FIGURE, most * AROUND_A_FIGURE]),
        false => Some([least, most]),
    }
}

/// How many times a number lies outside a range; 1 or less inside.
fn factor_outside(value: f64, [least, most]: [f64; 2]) -> f64 {
    // Binary dust of a conversion is not outside.
    let factor = (value / most).max(least / value);
    if factor < 1.0 + 1e-9 { 1.0 } else { factor }
}

/// Three figures, as a person reads them.
fn number(value: f64) -> String {
    let decimals = match value.abs() {
        size if size < 1.0 => 3,
        size if size < 10.0 => 2,
        size if size < 100.0 => 1,
        _ => 0,
    };
    text::number(value, decimals)
}

/// Two seeds from the same outlets that want depths which do not meet.
fn depths_apart(job: &Job, all: &Published) -> Vec<Finding> {
    let seeds: Vec<&Product> = job
        .products
        .iter()
        .filter(|own| own.kind == Kind::Seed && !own.surface_applied)
        .collect();
    let mut findings = Vec::new();
    for (nth, one) in seeds.iter().enumerate() {
        for other in &seeds[nth + 1..] {
            let depths = |own: &Product| match own.depth_mm {
                Some(depth) => Some([depth, depth]),
                None => {
                    let spans = crop_of(own, all)?.of(Quantity::Depth).map(Range::span);
                    spans.reduce(|a, b| [a[0].min(b[0]), a[1].max(b[1])])
                }
            };
            let (Some(a), Some(b)) = (depths(one), depths(other)) else {
                continue;
            };
            if a[0] <= b[1] && b[0] <= a[1] {
                continue;
            }
            let units = job.report.units;
            let of = |mm| number(Quantity::Depth.shown(mm, units));
            let unit = Quantity::Depth.unit(units);
            let said = |[least, most]: [f64; 2]| match least == most {
                true => format!("{} {unit}", of(least)),
                false => format!("{} to {} {unit}", of(least), of(most)),
            };
            let message = format!(
                "'{}' and '{}' fall from the same outlets to one depth, and theirs do not meet: {} and {}. The one that wants to lie shallow comes up badly from the other's depth.",
                one.id,
                other.id,
                said(a),
                said(b)
            );
            findings.push(Finding::warning(
                "crops.depths_apart",
                place(job, other),
                message,
            ));
        }
    }
    findings
}
