//! Decisions of a plan: what is open, what somebody has signed for, and what files wait for it.
//! Method: docs/methods/decisions.md.

use super::Plan;
use crate::findings::{
    Concerns, Decision, Extent, Finding, Place, Settled, Severity, Signature, number,
};
use crate::job::{Accepted, Job, Kind, Moisture, SeedSafe, is_spread};
use crate::units::ha_from_m2;

/// A signature holds for so many more hectares than it says: borders that are drawn anew move by less. Of rates and
/// percents it holds for no more than it says.
const MORE_LAND: f64 = 1.05;

/// One decision of a plan: all its findings about the same thing.
#[derive(Debug, Clone, PartialEq)]
pub struct Case {
    /// What has to be decided.
    pub decision: Decision,
    /// The whole field, or some products of it.
    pub concerns: Concerns,
    /// Name of the layer or special area that it is about.
    pub about: Option<String>,
    /// Land of all its findings; none where they are about no land.
    pub area_m2: Option<f64>,
    /// The furthest of them.
    pub extent: Option<Extent>,
    /// Message of the first.
    pub message: String,
    /// Who has signed for it.
    pub accepted: Option<Signature>,
}

impl Case {
    fn is_of(&self, finding: &Finding) -> bool {
        self.decision.code() == finding.code
            && self.concerns == concerns(finding)
            && self.about == finding.about
    }

    /// Whether this is the same decision as another, on any land and to any extent.
    pub fn is_as(&self, other: &Self) -> bool {
        self.decision == other.decision
            && self.concerns == other.concerns
            && self.about == other.about
    }

    pub(super) fn is_of_entry(&self, entry: &Accepted) -> bool {
        let same_products = match &self.concerns {
            Concerns::Field => entry.products.is_empty(),
            Concerns::Products(ids) => {
                let named = |id: &String| entry.products.contains(id);
                ids.len() == entry.products.len() && ids.iter().all(named)
            }
        };
        entry.finding == self.decision && same_products && entry.place == self.about
    }

    /// Why an entry about the same does not hold for it, one line each; empty where it does.
    fn stricter_than(&self, entry: &Accepted, job: &Job) -> Vec<String> {
        let mut why = Vec::new();
        let mut held = |key: &str, is: f64, signed: Option<f64>, more: f64| match signed {
            Some(signed) if is <= signed * more => {}
            Some(signed) => why.push(format!(
                "{key} is {} now, and {} was signed for",
                number(up(is)),
                number(signed)
            )),
            None => why.push(format!("it names no {key}; now it is {}", number(up(is)))),
        };
        if let Some(m2) = self.area_m2 {
            held("hectares", ha_from_m2(m2), entry.hectares, MORE_LAND);
        }
        match self.extent {
            Some(Extent::Percent(percent)) => held("percent", percent, entry.percent, 1.0),
            Some(Extent::KgPerHa(kg_per_ha)) => held("kg_per_ha", kg_per_ha, entry.kg_per_ha, 1.0),
            None => {}
        }
        for (key, is, signed) in [
            ("sown", sown(job), &entry.sown),
            ("drill", drill(job), &entry.drill),
        ] {
            if is != *signed {
                why.push(format!(
                    "{key} is '{is}' now, and '{signed}' was signed for"
                ));
            }
        }
        if season(job).is_some_and(|season| entry.season != Some(season)) {
            why.push("it is for another season".to_owned());
        }
        why
    }

    /// The entry of the job that would settle it, for a person to fill in; none where only a change of the job does.
    pub fn entry(&self, job: &Job) -> Option<String> {
        if self.decision.settled() == Settled::ByChange {
            return None;
        }
        let quoted = |text: &str| toml::Value::from(text).to_string();
        let mut lines = vec![
            "[[accepted]]".to_owned(),
            format!("finding = {}", quoted(self.decision.code())),
        ];
        if let Concerns::Products(ids) = &self.concerns {
            let ids: Vec<String> = ids.iter().map(|id| quoted(id)).collect();
            lines.push(format!("products = [{}]", ids.join(", ")));
        }
        if let Some(name) = &self.about {
            lines.push(format!("place = {}", quoted(name)));
        }
        if let Some(m2) = self.area_m2 {
            lines.push(format!("hectares = {}", number(up(ha_from_m2(m2)))));
        }
        match self.extent {
            Some(Extent::Percent(percent)) => {
                lines.push(format!("percent = {}", number(up(percent))));
            }
            Some(Extent::KgPerHa(kg_per_ha)) => {
                lines.push(format!("kg_per_ha = {}", number(up(kg_per_ha))));
            }
            None => {}
        }
        lines.push(format!("sown = {}", quoted(&sown(job))));
        lines.push(format!("drill = {}", quoted(&drill(job))));
        if let Some(season) = season(job) {
            lines.push(format!("season = {season}"));
        }
        if let Some(value) = &job.split_value {
            lines.push(format!("fields = [{}]", quoted(value)));
        }
        let to_fill_in = [
            "why = \"\" # the reason why it is right all the same",
            "by = \"\" # your name",
            "on = \"\" # the day, YYYY-MM-DD",
        ];
        lines.extend(to_fill_in.map(str::to_owned));
        Some(lines.join("\n"))
    }
}

/// Whether two findings are about one decision.
pub(super) fn same_decision(one: &Finding, other: &Finding) -> bool {
    one.code == other.code && concerns(one) == concerns(other) && one.about == other.about
}

/// What a decision concerns; one that does not say so concerns all.
fn concerns(finding: &Finding) -> Concerns {
    finding.concerns.clone().unwrap_or(Concerns::Field)
}

/// Hundredths, never below the value.
fn up(value: f64) -> f64 {
    let hundredths = (value * 100.0).ceil() / 100.0;
    if hundredths > 0.0 { hundredths } else { 0.01 }
}

/// What is sown, in words that change with products, grades and crops.
fn sown(job: &Job) -> String {
    let products = job.products.iter().map(|product| match product.kind {
        Kind::Seed => match &product.crop {
            Some(crop) if !crop.eq_ignore_ascii_case(product.name.trim()) => {
                format!("{} ({crop})", product.name)
            }
            _ => product.name.clone(),
        },
        Kind::Fertiliser => {
            let grade = product.grade.unwrap_or_default();
            let percent = [grade.n_percent, grade.p2o5_percent, grade.k2o_percent];
            let form = product.form.and_then(|form| {
                let word = toml::Value::try_from(form).ok()?;
                Some(format!(", {}", word.as_str()?.replace('_', " ")))
            });
            let grade = percent.map(number).join("-");
            format!("{} ({grade}{})", product.name, form.unwrap_or_default())
        }
    });
    let mut words: Vec<String> = products.collect();
    words.extend(job.seed_safe.iter().map(|of| limit(job, of)));
    if job.seed_safe.is_empty() {
        let seedbed = job.stated_moisture().map(Moisture::word);
        words.extend(seedbed.map(|word| format!("{word} seedbed")));
    }
    words.join("; ")
}

/// A limit beside the seed, in words that change with its table and with the case that it is for.
fn limit(job: &Job, of: &SeedSafe) -> String {
    let file = of.file.as_ref().map(|file| file.display().to_string());
    let table = of.table.clone().or(file).unwrap_or_default();
    let seedbed = if job.is_dry(of) { "dry" } else { "moist" };
    let spread = number(of.at_opener_m());
    let mut words = format!("{table} for {}, {seedbed}, spread {spread} m", of.crop);
    if let Some(texture) = &of.texture {
        words.push_str(&format!(", {texture}"));
    }
    if let Some(textures) = &of.texture_by_class {
        words.push_str(&format!(", texture by {}", textures.layer));
        let classes = textures.by_class.iter();
        let classes = classes.map(|(class, texture)| format!(" {class} is {texture}"));
        let rest = textures.otherwise.iter();
        let rest = rest.map(|texture| format!(" otherwise {texture}"));
        words.push_str(&classes.chain(rest).collect::<Vec<_>>().join(","));
    }
    words
}

/// The drill, in words.
fn drill(job: &Job) -> String {
    let drill = &job.drill;
    let mut words = vec![format!("{} m", number(drill.working_width_m))];
    if !drill.name.trim().is_empty() {
        words.insert(0, drill.name.trim().to_owned());
    }
    words.extend(drill.rows.map(|rows| format!("{rows} rows")));
    let spacing = drill.row_spacing_m.map(number);
    words.extend(spacing.map(|metres| format!("{metres} m apart")));
    words.join(", ")
}

/// The year of sowing.
fn season(job: &Job) -> Option<u32> {
    job.sowing_date.as_ref()?.get(..4)?.parse().ok()
}

/// The decisions among findings, signed or not, in order of their first finding.
pub fn cases(findings: &[Finding]) -> Vec<Case> {
    let mut cases: Vec<Case> = Vec::new();
    for finding in findings {
        let of_plan = finding.severity == Severity::Decision;
        let Some(decision) = Decision::of_code(&finding.code).filter(|_| of_plan) else {
            continue;
        };
        match cases.iter_mut().find(|case| case.is_of(finding)) {
            Some(case) => {
                case.area_m2 = match (case.area_m2, finding.area_m2) {
                    (Some(a), Some(b)) => Some(a + b),
                    (a, b) => a.or(b),
                };
                // Open as long as one of them is.
                case.accepted = case.accepted.take().filter(|_| finding.accepted.is_some());
                let both = case.extent.zip(finding.extent);
                let further = both.map(|(a, b)| a.further(b));
                case.extent = further.or(case.extent).or(finding.extent);
            }
            None => cases.push(Case {
                decision,
                concerns: concerns(finding),
                about: finding.about.clone(),
                area_m2: finding.area_m2,
                extent: finding.extent,
                message: finding.message.clone(),
                accepted: finding.accepted.clone(),
            }),
        }
    }
    cases
}

/// Marks the findings that entries of the job sign for; adds a warning for an entry that holds for nothing.
pub(super) fn sign(findings: &mut Vec<Finding>, job: &Job) {
    let cases = cases(findings);
    let mut told = Vec::new();
    // Entries that are for the plan of the other seedbed say nothing here.
    let other = job.moisture().map(|of| sown(&job.in_seedbed(of.other())));
    let other = other.filter(|other| *other != sown(job));
    for (nth, entry) in job.accepted.iter().enumerate() {
        if other.as_ref() == Some(&entry.sown) {
            continue;
        }
        let place = place_of(job, nth);
        let code = entry.finding.code();
        let Some(case) = cases.iter().find(|case| case.is_of_entry(entry)) else {
            // One about what the spreader broadcasts is held against the spreader's plan.
            if let [id] = entry.products.as_slice()
                && is_spread(job, id)
            {
                continue;
            }
            told.push(Finding::warning(
                "accepted.nothing_to_sign",
                place,
                format!("there is no finding '{code}' about what this entry names: nothing to sign. Correct it, or take it out"),
            ));
            continue;
        };
        let why = case.stricter_than(entry, job);
        if !why.is_empty() {
            told.push(Finding::warning(
                "accepted.does_not_hold",
                place,
                format!(
                    "this entry for '{code}' does not hold for this plan: {}. Look at the finding again, and sign anew",
                    why.join("; ")
                ),
            ));
            continue;
        }
        for finding in findings.iter_mut().filter(|of| case.is_of(of)) {
            finding.accepted = Some(Signature {
                by: entry.by.clone(),
                on: entry.on.clone(),
                why: entry.why.clone(),
            });
        }
    }
    findings.extend(told);
}

fn place_of(job: &Job, nth: usize) -> Place {
    Place::file(&job.file).feature(format!("[[accepted]] number {}", nth + 1))
}

/// A warning for each entry about what a spreader broadcasts, where it broadcasts nothing of it. `spread`: whether it does, by id.
pub(super) fn for_nothing_spread(job: &Job, spread: &dyn Fn(&String) -> bool) -> Vec<Finding> {
    let mut told = Vec::new();
    for (nth, entry) in job.accepted.iter().enumerate() {
        let [id] = entry.products.as_slice() else {
            continue;
        };
        if is_spread(job, id) && !spread(id) {
            told.push(Finding::warning(
                "accepted.nothing_to_sign",
                place_of(job, nth),
                format!(
                    "nothing is spread as '{id}', so this entry for '{}' answers nothing. Take it out",
                    entry.finding.code()
                ),
            ));
        }
    }
    told
}

impl Plan {
    /// Decisions that are open, in order of their findings.
    pub fn open(&self) -> Vec<Case> {
        let cases = cases(&self.findings).into_iter();
        cases.filter(|case| case.accepted.is_none()).collect()
    }

    /// Decisions that somebody has signed for.
    pub fn signed(&self) -> Vec<Case> {
        let cases = cases(&self.findings).into_iter();
        cases.filter(|case| case.accepted.is_some()).collect()
    }

    /// Whether files of this product for terminals are held back, by its place in the job.
    pub fn holds_back(&self, product: usize) -> bool {
        let id = self.job.products.get(product).map(|own| own.id.as_str());
        self.findings
            .iter()
            .filter(|of| of.is_open())
            .any(|of| match &of.concerns {
                None | Some(Concerns::Field) => true,
                Some(Concerns::Products(ids)) => ids.iter().any(|one| Some(one.as_str()) == id),
            })
    }

    /// Ids of the products whose files for terminals are held back, in job order.
    pub fn held_back(&self) -> Vec<&str> {
        let products = self.job.products.iter().enumerate();
        let held = products.filter(|(nth, _)| self.holds_back(*nth));
        held.map(|(_, product)| product.id.as_str()).collect()
    }

    /// Whether files that hold several products are held back: one open product is enough.
    pub fn holds_any_back(&self) -> bool {
        self.findings.iter().any(Finding::is_open)
    }

    /// Whether this plan or that of a spreader asks for a decision: only then is something not ready for its terminal.
    pub fn waits(&self) -> bool {
        self.holds_any_back() || self.spreaders.iter().any(|own| own.plan.holds_any_back())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn case(extent: Extent, area_m2: f64) -> Case {
        Case {
            decision: Decision::SeedRowNotCovered,
            concerns: Concerns::Products(vec!["starter".to_owned()]),
            about: None,
            area_m2: Some(area_m2),
            extent: Some(extent),
            message: String::new(),
            accepted: None,
        }
    }

    fn job(accepted: &str) -> Job {
        let text = format!(
            r#"
name = "made"
[field]
name = "made"
boundary = {{ file = "b.geojson" }}
[drill]
working_width_m = 6.0
[[drill.hopper]]
name = "front"
usable_l = 1900.0
[[product]]
id = "starter"
name = "starter"
kind = "fertiliser"
hopper = "front"
rate = {{ kg_per_ha = 100.0 }}
[[accepted]]
finding = "seed_safe.not_covered"
sown = "starter (0-0-0)"
drill = "6 m"
why = "seen"
by = "R. Example"
on = "2031-02-03"
{accepted}
"#
        );
        Job::parse(&text, std::path::Path::new("job.toml")).expect("a job")
    }

    /// More land by up to 5 %, but not a kilogram more beside the seed.
    #[test]
    fn a_signature_holds_for_more_land_and_for_no_more_fertiliser() {
        let job = job("products = [\"starter\"]\nhectares = 1\nkg_per_ha = 100\n");
        let entry = &job.accepted[0];
        for (kg_per_ha, ha, why) in [
            (100.0, 1.0, 0),
            (60.0, 0.2, 0),
            (100.0, 1.049, 0),
            (100.0, 1.051, 1),
            (100.1, 1.0, 1),
            (101.0, 1.2, 2),
        ] {
            let case = case(Extent::KgPerHa(kg_per_ha), ha * 10_000.0);
            assert!(case.is_of_entry(entry));
            let told = case.stricter_than(entry, &job);
            assert_eq!(told.len(), why, "{kg_per_ha} kg/ha, {ha} ha: {told:?}");
        }
        // Another measure than the one that was signed for.
        let other = case(Extent::Percent(1.0), 10_000.0);
        assert_eq!(other.stricter_than(entry, &job).len(), 1);
    }

    #[test]
    fn an_entry_names_all_products_of_a_case_and_no_other() {
        let job = job("hectares = 1\nkg_per_ha = 100\n");
        assert!(!case(Extent::KgPerHa(1.0), 1.0).is_of_entry(&job.accepted[0]));
    }

    /// Two findings about the same are one decision, with their land together and the further of their extents.
    #[test]
    fn findings_about_the_same_are_one_case() {
        let finding = |kg_per_ha, m2| {
            let found = Finding::decision(Decision::SeedRowNotCovered, Place::nowhere(), "m");
            let found = found.of_products(["starter"]).area(m2);
            found.extent(Extent::KgPerHa(kg_per_ha))
        };
        let other = finding(1.0, 1.0).of_products(["seed"]);
        let found = cases(&[finding(80.0, 300.0), other, finding(90.0, 200.0)]);
        assert_eq!(found.len(), 2);
        assert_eq!(found[0].area_m2, Some(500.0));
        assert_eq!(found[0].extent, Some(Extent::KgPerHa(90.0)));
    }
}
