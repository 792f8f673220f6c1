//! What a job has to fulfil beyond its shape: references between parts, settings that belong
//! together or exclude each other.

use super::machine;
use super::machine_file::Joined;
use super::product::Product;
use super::refill;
use super::tramline;
use super::tree::Lines;
use super::types::{Drill, Job};
use super::{date, drive, placing, rates, terminal};
use crate::findings::{Fault, Place};
use std::collections::BTreeSet;
use std::path::Path;

/// Widths have to add up within this.
const WIDTH_TOLERANCE_M: f64 = 0.001;

/// A path of keys: list entries by number from 0.
macro_rules! at {
    ($($step:expr),+ $(,)?) => { &[$($step.to_string()),+][..] };
}
pub(super) use at;

/// Every fault, in no particular order.
///
/// Keys that only the machine file has are placed there.
pub(super) fn faults(
    job: &Job,
    lines: &Lines,
    machine: Option<&Joined>,
    file: &Path,
) -> Vec<Fault> {
    let mut check = Check {
        job,
        lines,
        machine,
        file,
        faults: Vec::new(),
    };
    check.sources();
    check.drill(&job.drill);
    machine::check(&mut check, job);
    tramline::check(&mut check, job);
    refill::check(&mut check, job);
    drive::check(&mut check, job);
    if let Some(date) = &job.sowing_date
        && date::day_number(date).is_none()
    {
        check.add(
            at!["sowing_date"],
            format!("'{date}' is no date"),
            "YYYY-MM-DD, such as 2026-03-20",
            "correct the date",
        );
    }
    if job.headland.bouts.is_some() && job.headland.width_m.is_some() {
        check.add(
            at!["headland", "width_m"],
            "both 'bouts' and 'width_m' are given",
            "one of them, or neither for a field without headland",
            "remove one of the two",
        );
    }
    check.layers();
    check.products();
    check.land();
    for (number, product) in job.products.iter().enumerate() {
        rates::check(&mut check, number, product);
        placing::product(&mut check, number, product);
        super::grades::check(&mut check, number, product);
        super::lot_settings::check(&mut check, number, product);
        super::seed_tag::check(&mut check, number, product);
        by_date(&mut check, number, product);
    }
    placing::seed_safe(&mut check);
    super::seedbed::check(&mut check);
    placing::own_limits(&mut check);
    super::mixture::check(&mut check);
    super::local_rules::check(&mut check);
    super::placed_needs::check(&mut check);
    super::spreader::check(&mut check);
    super::accepted::check(&mut check);
    super::trial::check(&mut check);
    terminal::check(&mut check, job);
    check.faults
}

/// The sowing date, and rates by it.
fn by_date(check: &mut Check<'_>, n: usize, product: &Product) {
    let job = check.job;
    let dates = &product.rate.by_date;
    if dates.is_empty() {
        return;
    }
    let path = at!["product", n, "rate", "by_date"];
    if product.rate.plants_per_m2.is_none() && product.rate.seeds_per_m2.is_none() {
        check.add(
            path,
            format!(
                "'by_date' of '{}' counts only with plants or seeds",
                product.id
            ),
            "by_date together with plants_per_m2 or seeds_per_m2",
            "remove it, or give a population",
        );
    }
    if job.sowing_date.is_none() {
        check.add(
            path,
            format!(
                "'{}' has a rate by sowing date, and the job has no date",
                product.id
            ),
            "sowing_date = \"YYYY-MM-DD\" at the top of the file",
            "add sowing_date; 'plan --sowing-date' changes it for one run",
        );
    }
    let mut last = None;
    for (m, entry) in dates.iter().enumerate() {
        let day = date::day_number(&entry.date);
        if day.is_none() || last.is_some_and(|last| day <= Some(last)) {
            check.add(
                at!["product", n, "rate", "by_date", m, "date"],
                format!(
                    "the date '{}' is none, or not after the one before it",
                    entry.date
                ),
                "dates as YYYY-MM-DD, one after the other",
                "correct the date",
            );
        }
        if entry.more_per_m2.is_none() {
            check.add(
                at!["product", n, "rate", "by_date", m],
                format!("nothing is said to change from {} on", entry.date),
                "'more_per_m2', or 'more_per_ft2'",
                "add more_per_m2: what plants or seeds go up by, 0 for nothing",
            );
        }
        last = day.or(last);
    }
}

/// Collects faults at lines.
pub(super) struct Check<'a> {
    pub job: &'a Job,
    lines: &'a Lines,
    machine: Option<&'a Joined>,
    file: &'a Path,
    faults: Vec<Fault>,
}

impl Check<'_> {
    pub(super) fn add(
        &mut self,
        path: &[String],
        found: impl Into<String>,
        allowed: impl Into<String>,
        next: impl Into<String>,
    ) {
        let setting = path.get(..2).unwrap_or(path);
        let in_machine = self
            .machine
            .filter(|machine| !self.lines.has(setting) && machine.lines.has(setting));
        let place = match in_machine {
            Some(machine) => Place::file(&machine.file).line(machine.lines.at(path)),
            None => Place::file(self.file).line(self.lines.at(path)),
        };
        self.faults
            .push(*Fault::input("job.rule", place, found, allowed, next));
    }

    fn sources(&mut self) {
        let job = self.job;
        let mut sources = vec![(at!["field", "boundary"].to_vec(), &job.field.boundary)];
        for (n, exclusion) in job.exclusions.iter().enumerate() {
            sources.push((at!["exclusion", n, "source"].to_vec(), &exclusion.source));
        }
        for (n, setback) in job.setbacks.iter().enumerate() {
            sources.push((at!["setback", n, "source"].to_vec(), &setback.source));
        }
        for (n, area) in job.special_areas.iter().enumerate() {
            sources.push((at!["special_area", n, "source"].to_vec(), &area.source));
        }
        for (n, layer) in job.layers.iter().enumerate() {
            // A layer without any source is told with its other settings.
            if !layer.source.is_none() {
                sources.push((at!["layer", n, "source"].to_vec(), &layer.source));
            }
            if let Some(zonal) = &layer.zonal {
                let path = at!["layer", n, "zonal", "source"].to_vec();
                sources.push((path, &zonal.source));
            }
        }
        for (n, trial) in job.trials.iter().enumerate() {
            if let Some(source) = &trial.here_source {
                sources.push((at!["trial", n, "here_source"].to_vec(), source));
            }
        }
        if let Some(line) = job.drive.as_ref().and_then(|drive| drive.along.as_ref()) {
            sources.push((at!["drive", "along"].to_vec(), line));
        }
        for (path, source) in sources {
            if source.file.as_os_str().is_empty() {
                let path = [path.as_slice(), at!["file"]].concat();
                self.add(
                    &path,
                    "'file' is empty",
                    "path of a vector file",
                    "write the path of the file",
                );
            }
        }
    }

    fn drill(&mut self, drill: &Drill) {
        let width = drill.working_width_m;
        let sum: f64 = drill.sections_m.iter().sum();
        if !drill.sections_m.is_empty() && (sum - width).abs() > WIDTH_TOLERANCE_M {
            self.add(
                at!["drill", "sections_m"],
                format!(
                    "the sections add up to {} m, the working width is {width} m",
                    rounded(sum)
                ),
                "sections that add up to the working width within 1 mm",
                "correct sections_m or working_width_m",
            );
        }
        if let (Some(rows), Some(spacing)) = (drill.rows, drill.row_spacing_m) {
            let sown = f64::from(rows) * spacing;
            if (sown - width).abs() > WIDTH_TOLERANCE_M {
                self.add(
                    at!["drill", "rows"],
                    format!(
                        "{rows} rows of {spacing} m make {} m, the working width is {width} m",
                        rounded(sown)
                    ),
                    "rows times row spacing equal to the working width within 1 mm",
                    "correct rows, row_spacing_m or working_width_m",
                );
            }
        }
        let mut names = BTreeSet::new();
        for (n, hopper) in drill.hoppers.iter().enumerate() {
            if !names.insert(&hopper.name) {
                self.add(
                    at!["drill", "hopper", n, "name"],
                    format!("a second hopper is called '{}'", hopper.name),
                    "a name of its own for each hopper",
                    "rename one of them",
                );
            }
        }
    }

    fn products(&mut self) {
        let job = self.job;
        let mut ids = BTreeSet::new();
        let mut filled: Vec<(&str, &Product)> = Vec::new();
        let mut air_stream = 0;
        for (n, product) in job.products.iter().enumerate() {
            let allowed =
                |c: char| c.is_ascii_lowercase() || c.is_ascii_digit() || c == '_' || c == '-';
            if !product.id.chars().all(allowed) {
                self.add(
                    at!["product", n, "id"],
                    format!("product id '{}'", product.id),
                    "small letters a-z, digits, _ and -, since it names columns and files",
                    format!("write, for example, '{}'", plain_id(&product.id)),
                );
            }
            if !ids.insert(&product.id) {
                self.add(
                    at!["product", n, "id"],
                    format!("a second product has the id '{}'", product.id),
                    "an id of its own for each product",
                    "change one of them",
                );
            }
            if !job
                .drill
                .hoppers
                .iter()
                .any(|hopper| hopper.name == product.hopper)
            {
                let names = job.drill.hoppers.iter().map(|hopper| hopper.name.as_str());
                let known = listed(names, "no hopper is described in [drill]");
                self.add(
                    at!["product", n, "hopper"],
                    format!("the drill has no hopper '{}'", product.hopper),
                    known,
                    "correct the name, or add a [[drill.hopper]] with 'name' and 'usable_l'",
                );
            }
            if let Some((_, other)) = filled.iter().find(|(hopper, _)| *hopper == product.hopper) {
                self.add(
                    at!["product", n, "hopper"],
                    format!(
                        "'{}' is in hopper '{}', and so is '{}'",
                        product.id, product.hopper, other.id
                    ),
                    "one product in each hopper",
                    "give it another hopper",
                );
            }
            filled.push((&product.hopper, product));
            air_stream += usize::from(!product.surface_applied);
            if air_stream > 2 && !product.surface_applied {
                self.add(
                    at!["product", n],
                    format!("'{}' is the third product in the air stream", product.id),
                    "two products in the air stream, one from each hopper half",
                    "set surface_applied = true for the product that its own unit spreads",
                );
            }
        }
        if air_stream == 0 {
            self.add(
                at!["product", 0, "surface_applied"],
                "no product goes through the air stream",
                "one or two products that the drill sows, and one that is spread on the surface",
                "set surface_applied = false for what the drill sows",
            );
        }
    }

    /// Products that setbacks and special areas name.
    fn land(&mut self) {
        let job = self.job;
        for (n, setback) in job.setbacks.iter().enumerate() {
            if setback.products.is_empty() {
                self.add(
                    at!["setback", n, "products"],
                    format!("setback '{}' names no product", setback.name),
                    self.product_ids(),
                    "name the products that must be off inside it",
                );
            }
            for (m, id) in setback.products.iter().enumerate() {
                self.known_product_or_spread(at!["setback", n, "products", m], id);
            }
        }
        for (n, area) in job.special_areas.iter().enumerate() {
            // An area that a trial lies in need not change anything.
            let mut trials = job.trials.iter();
            let of_trial = trials.any(|trial| trial.here.as_ref() == Some(&area.name));
            if area.percent.is_empty() && !of_trial {
                self.add(
                    at!["special_area", n, "percent"],
                    format!("special area '{}' changes no product", area.name),
                    format!("a percentage for one or more of {}", self.product_ids()),
                    "name a product, or remove the special area",
                );
            }
            for id in area.percent.keys() {
                self.known_product(at!["special_area", n, "percent", id], id);
            }
        }
    }

    /// The same where what the spreader broadcasts may be meant.
    pub(super) fn known_product_or_spread(&mut self, path: &[String], id: &str) {
        if !super::spreader::is_spread(self.job, id) {
            self.known_product(path, id);
        }
    }

    pub(super) fn known_product(&mut self, path: &[String], id: &str) {
        if !self.job.products.iter().any(|product| product.id == id) {
            let found = format!("no product has the id '{id}'");
            let known = self.product_ids();
            let names: Vec<&str> = self
                .job
                .products
                .iter()
                .map(|product| product.id.as_str())
                .collect();
            let next = match super::keys::meant(id, &names) {
                Some(meant) => format!("did you mean '{meant}'?"),
                None => "use the id of a product".to_owned(),
            };
            self.add(path, found, known, next);
        }
    }

    fn product_ids(&self) -> String {
        listed(
            self.job.products.iter().map(|product| product.id.as_str()),
            "no product",
        )
    }
}

/// `'a', 'b'`, or what to say if there is none.
pub(super) fn listed<'a>(names: impl Iterator<Item = &'a str>, none: &str) -> String {
    let names: Vec<String> = names.map(|name| format!("'{name}'")).collect();
    if names.is_empty() {
        none.to_owned()
    } else {
        names.join(", ")
    }
}

fn rounded(metres: f64) -> f64 {
    (metres * 1e6).round() / 1e6
}

/// An id that is allowed, made from one that is not.
fn plain_id(id: &str) -> String {
    let plain: String = id
        .to_lowercase()
        .chars()
        .map(|c| {
            if c.is_ascii_alphanumeric() || c == '_' || c == '-' {
                c
            } else {
                '_'
            }
        })
        .collect();
    plain
}
