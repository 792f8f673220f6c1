//! How moist the seedbed is: said for the whole job, or not known before the day of sowing.

use super::placement::SeedSafe;
use super::product::Kind;
use super::rules::{Check, at};
use super::types::Job;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use std::borrow::Cow;

/// What a job says of the seedbed as a whole, instead of `dry` of each `[[seed_safe]]`.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum Seedbed {
    /// Known only when the field is sown: two plans are made, one for a moist and one for a dry seedbed.
    NotKnown,
    /// Moist.
    Moist,
    /// Dry.
    Dry,
}

/// How moist a seedbed is.
#[derive(
    Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize, JsonSchema,
)]
#[serde(rename_all = "snake_case")]
pub enum Moisture {
    /// The stricter of the two.
    Dry,
    /// The other.
    Moist,
}

impl Moisture {
    /// Both, the stricter first.
    pub const BOTH: [Self; 2] = [Self::Dry, Self::Moist];

    /// The word at the front of the plan's name, where a screen that cuts names still shows it.
    pub fn mark(self) -> &'static str {
        match self {
            Self::Dry => "DRY",
            Self::Moist => "MOIST",
        }
    }

    /// The word for folders and sentences.
    pub fn word(self) -> &'static str {
        match self {
            Self::Dry => "dry",
            Self::Moist => "moist",
        }
    }

    /// The other one.
    pub fn other(self) -> Self {
        match self {
            Self::Dry => Self::Moist,
            Self::Moist => Self::Dry,
        }
    }
}

impl From<Moisture> for Seedbed {
    fn from(moisture: Moisture) -> Self {
        match moisture {
            Moisture::Dry => Self::Dry,
            Moisture::Moist => Self::Moist,
        }
    }
}

impl Job {
    /// Whether two plans are to be made, for the moisture is known on the day of sowing only.
    pub fn is_for_two_seedbeds(&self) -> bool {
        self.seedbed == Some(Seedbed::NotKnown)
    }

    /// Whether the job says that its seedbed is dry as a whole. What is not known counts as dry, the stricter case.
    pub fn seedbed_is_dry(&self) -> bool {
        matches!(self.seedbed, Some(Seedbed::NotKnown | Seedbed::Dry))
    }

    /// Whether a limit is asked for a dry seedbed.
    pub fn is_dry(&self, limit: &SeedSafe) -> bool {
        limit.dry || self.seedbed_is_dry()
    }

    /// The job for one of the two seedbeds, named after it; it could be planned by itself.
    pub fn in_seedbed(&self, moisture: Moisture) -> Self {
        let mut job = self.clone();
        job.name = format!("{} {}", moisture.mark(), self.plain_name());
        job.seedbed = Some(moisture.into());
        job.of_two_seedbeds = true;
        job
    }

    /// The job that is planned where one plan is asked for: of two seedbeds the dry one, the stricter.
    pub fn as_one(&self) -> Cow<'_, Self> {
        match self.is_for_two_seedbeds() {
            true => Cow::Owned(self.in_seedbed(Moisture::Dry)),
            false => Cow::Borrowed(self),
        }
    }

    /// The moisture that the plan is for, where it is one of two.
    pub fn moisture(&self) -> Option<Moisture> {
        self.stated_moisture().filter(|_| self.of_two_seedbeds)
    }

    /// The moisture of the whole seedbed, where the job or the plan for one of two seedbeds says it.
    pub fn stated_moisture(&self) -> Option<Moisture> {
        match self.seedbed? {
            Seedbed::NotKnown => None,
            Seedbed::Moist => Some(Moisture::Moist),
            Seedbed::Dry => Some(Moisture::Dry),
        }
    }

    /// The name without the word for one of two seedbeds: what both plans of a field have in common.
    pub fn plain_name(&self) -> &str {
        let marked = self.moisture().and_then(|moisture| {
            let rest = self.name.strip_prefix(moisture.mark())?;
            rest.strip_prefix(' ')
        });
        marked.unwrap_or(&self.name)
    }
}

/// Checks that the seedbed is said once, and that something lies in it that it matters for.
pub(super) fn check(check: &mut Check<'_>) {
    let job = check.job;
    let Some(seedbed) = job.seedbed else { return };
    let placed =
        |product: &super::Product| product.kind == Kind::Fertiliser && !product.surface_applied;
    if !job.products.iter().any(placed) {
        check.add(
            at!["seedbed"],
            "'seedbed' is given, and no fertiliser goes through the air stream",
            "seedbed together with a fertiliser that is placed with the seed",
            "remove seedbed: no rate depends on it",
        );
    }
    if seedbed == Seedbed::NotKnown {
        one_seedbed(check);
    }
    if seedbed == Seedbed::Dry {
        return;
    }
    let said = match seedbed {
        Seedbed::NotKnown => "not known before sowing",
        Seedbed::Moist | Seedbed::Dry => "moist",
    };
    for (n, _) in job.seed_safe.iter().enumerate().filter(|(_, of)| of.dry) {
        check.add(
            at!["seed_safe", n, "dry"],
            format!("the job says that the seedbed is {said}, and this limit that it is dry"),
            "one word on the seedbed",
            "remove 'dry' here, or 'seedbed' at the top",
        );
    }
}

/// What takes one seedbed: rates of a spreader's map are what the sown map left, and a trial is laid out on one map.
fn one_seedbed(check: &mut Check<'_>) {
    let job = check.job;
    if job.spreader.is_some() {
        check.add(
            at!["spreader"],
            "the seedbed is not known before sowing, and what is left to broadcast is another amount after the moist map than after the dry one",
            "[spreader] with seedbed = \"moist\" or \"dry\"",
            "remove [spreader] for now; once it is known which map was sown, say that seedbed and plan the spreader then",
        );
    }
    for (n, trial) in job.trials.iter().enumerate() {
        check.add(
            at!["trial", n],
            format!("the seedbed is not known before sowing, and the trial '{}' is laid out for one seedbed", trial.name),
            "a [[trial]] with seedbed = \"moist\" or \"dry\"",
            "say moist or dry, or remove the [[trial]]",
        );
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::path::Path;

    fn job(seedbed: &str) -> Result<Job, String> {
        let text = format!(
            r#"
name = "Shoal"
{seedbed}
[field]
name = "Shoal"
boundary = {{ file = "b.geojson" }}
[drill]
working_width_m = 6.0
row_spacing_m = 0.125
[[drill.hopper]]
name = "front"
usable_l = 1900.0
[[product]]
id = "starter"
name = "starter"
kind = "fertiliser"
hopper = "front"
grade = {{ n_percent = 12.0, p2o5_percent = 52.0 }}
form = "monoammonium_phosphate"
rate = {{ kg_per_ha = 100.0 }}
[[seed_safe]]
crop = "wheat"
spread_m = 0.03
"#
        );
        Job::parse(&text, Path::new("job.toml")).map_err(|fault| fault.to_string())
    }

    #[test]
    fn each_of_two_seedbeds_is_a_job_by_itself() {
        let both = job("seedbed = \"not_known\"").expect("a job");
        assert!(both.is_for_two_seedbeds());
        // Nobody has said that it is moist.
        assert!(both.is_dry(&both.seed_safe[0]));
        for moisture in Moisture::BOTH {
            let one = both.in_seedbed(moisture);
            assert_eq!(one.name, format!("{} Shoal", moisture.mark()));
            assert_eq!(one.plain_name(), "Shoal");
            assert_eq!(one.is_dry(&one.seed_safe[0]), moisture == Moisture::Dry);
            assert_eq!(one.in_seedbed(moisture.other()).plain_name(), "Shoal");
            let again =
                Job::parse(&one.print().expect("printed"), Path::new("job.toml")).expect("a job");
            assert_eq!(
                again.print().expect("printed"),
                one.print().expect("printed")
            );
            assert!(!again.is_for_two_seedbeds());
        }
    }

    #[test]
    fn a_job_without_a_word_on_the_seedbed_stays_as_it_is() {
        let stated = job("").expect("a job");
        assert!(!stated.is_dry(&stated.seed_safe[0]));
        assert!(!stated.print().expect("printed").contains("seedbed"));
        assert_eq!(stated.plain_name(), "Shoal");
        let named = Job {
            name: "DRY Shoal".to_owned(),
            ..stated
        };
        assert_eq!(named.plain_name(), "DRY Shoal");
        // Nor is a name cut in a job that just says that it is dry.
        let dry = Job {
            name: "DRY Creek".to_owned(),
            ..job("seedbed = \"dry\"").expect("a job")
        };
        assert_eq!(dry.plain_name(), "DRY Creek");
        assert_eq!(dry.moisture(), None);
        assert_eq!(dry.in_seedbed(Moisture::Dry).plain_name(), "DRY Creek");
    }

    #[test]
    fn spreader_and_trials_take_one_seedbed() {
        let spreader = "[spreader]\nworking_width_m = 24.0\n";
        let trial =
            "[[trial]]\nname = \"pays\"\ndesign = \"map_against_flat\"\nheader_width_m = 9.0\n";
        for (part, what) in [
            (spreader, "the spreader then"),
            (trial, "laid out for one seedbed"),
        ] {
            let fault = job(&format!("seedbed = \"not_known\"\n{part}")).expect_err("refused");
            assert!(fault.contains(what), "{fault}");
            let stated = job(&format!("seedbed = \"dry\"\n{part}"));
            assert!(!stated.is_err_and(|fault| fault.contains(what)));
        }
    }
}
