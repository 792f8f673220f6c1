//! What lies with the seed, and in which case: crop, texture, moisture, rows.

use super::super::chain::{self, Draft};
use super::super::class::{class_key, look_up};
use super::super::crop_tolerance::{Crop, Group};
use super::super::{nutrient, text};
use crate::findings::{Fault, Outcome};
use crate::job::{
    FertiliserForm, Grade, Job, Kind, LandPart, Nutrient, Product, SeedSafe, row_spacing_m,
};
use crate::texts::Words;
use crate::zones::Facts;

/// One fertiliser that lies with the seed.
#[derive(Clone)]
pub(super) struct Part<'a> {
    pub product: &'a Product,
    pub grade: Grade,
    pub form: Option<FertiliserForm>,
    /// As it would be without a limit beside the seed.
    pub kg_per_ha: f64,
}

impl Part<'_> {
    /// What it brings of some nutrients, kg/ha.
    pub fn brings(&self, of: &[Nutrient]) -> f64 {
        of.iter()
            .map(|of| nutrient::supply_kg_per_ha(self.kg_per_ha, &self.grade, *of))
            .sum()
    }

    /// Whether its N comes with its phosphate as one salt, so that a limit on that salt's phosphate is one on its N.
    pub fn is_ammonium_phosphate(&self) -> bool {
        matches!(
            self.form,
            Some(FertiliserForm::MonoammoniumPhosphate | FertiliserForm::DiammoniumPhosphate)
        )
    }
}

/// The fertilisers that lie with the seed, in job order.
pub(super) fn parts<'a>(drafts: &[Draft<'a>]) -> Vec<Part<'a>> {
    drafts
        .iter()
        .filter(|draft| super::is_placed(draft.product) && draft.expected() > 0.0)
        .map(|draft| Part {
            product: draft.product,
            grade: draft.product.grade.unwrap_or_default(),
            form: draft.product.form,
            kg_per_ha: draft.expected(),
        })
        .collect()
}

/// Whether the job says that the land is sown twice.
pub(super) fn sown_twice(job: &Job, facts: &Facts) -> bool {
    job.headland.sown_twice && facts.part == LandPart::Headland
}

/// The case that a table is asked about.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Case {
    pub crop: String,
    pub texture: String,
    pub dry: bool,
    pub row_m: f64,
    pub spread_m: f64,
    /// The land is sown twice, so that twice as much lies there.
    pub twice: bool,
    /// How answers are said; none where only their numbers are wanted.
    pub words: Option<Words>,
}

impl Case {
    /// The case of one `[[seed_safe]]` on the land.
    ///
    /// # Errors
    /// A class without a texture.
    pub fn of(job: &Job, setting: &SeedSafe, facts: &Facts) -> Outcome<Self> {
        Ok(Self {
            crop: setting.crop.clone(),
            texture: texture(job, setting, facts)?,
            dry: job.is_dry(setting),
            // The job's rules ask for the row spacing.
            row_m: row_spacing_m(job).unwrap_or(0.0),
            spread_m: setting.at_opener_m(),
            twice: sown_twice(job, facts),
            words: Some(Words::of(job)),
        })
    }

    /// The stricter of two cases of one crop in every respect; a texture that only one of them says counts.
    fn and(mut self, other: Self) -> Self {
        self.dry |= other.dry;
        self.spread_m = self.spread_m.min(other.spread_m);
        if self.texture.is_empty() {
            self.texture = other.texture;
        }
        if let (Some(one), Some(another)) = (Crop::of(&self.crop), Crop::of(&other.crop))
            && another.bears_less_than(one)
        {
            self.crop = other.crop;
        }
        self
    }
}

/// All `[[seed_safe]]` of a job that are about one crop, with their cases.
pub(super) struct OfCrop<'a> {
    pub settings: Vec<(&'a SeedSafe, Case)>,
    /// The strictest of the cases in every respect.
    pub case: Case,
}

impl OfCrop<'_> {
    pub fn crop(&self) -> Option<Crop> {
        Crop::of(&self.case.crop)
    }
}

/// The limits of a job by crop, in job order; cereals are one crop here, as each table has its own word for them.
///
/// # Errors
/// A class without a texture.
pub(super) fn by_crop<'a>(job: &'a Job, facts: &Facts) -> Outcome<Vec<OfCrop<'a>>> {
    let mut all: Vec<OfCrop> = Vec::new();
    for setting in &job.seed_safe {
        let case = Case::of(job, setting, facts)?;
        let same = |known: &&mut OfCrop| match (known.crop(), Crop::of(&setting.crop)) {
            (Some(one), Some(other)) => {
                one == other || one.group() == Group::Cereals && other.group() == Group::Cereals
            }
            _ => class_key(&known.case.crop) == class_key(&setting.crop),
        };
        match all.iter_mut().find(same) {
            Some(known) => {
                known.case = known.case.clone().and(case.clone());
                known.settings.push((setting, case));
            }
            None => all.push(OfCrop {
                case: case.clone(),
                settings: vec![(setting, case)],
            }),
        }
    }
    Ok(all)
}

/// The crops of the seeds in the air stream that are named, or known by the id.
pub(super) fn sown_crops(job: &Job) -> impl Iterator<Item = &str> {
    let seeds = job.products.iter();
    let seeds = seeds.filter(|product| product.kind == Kind::Seed && !product.surface_applied);
    seeds.filter_map(|seed| match &seed.crop {
        Some(crop) => Some(crop.as_str()),
        None => Crop::of(&seed.id).map(|_| seed.id.as_str()),
    })
}

/// Soil pH on the land, the highest that the job says; none where it says none.
///
/// # Errors
/// A class without a number.
pub(super) fn soil_ph(job: &Job, facts: &Facts) -> Outcome<Option<f64>> {
    let mut highest: Option<f64> = None;
    for (n, setting) in job.seed_safe.iter().enumerate() {
        if let Some(ph) = &setting.soil_ph {
            let key = format!("seed_safe[{}].soil_ph", n + 1);
            let found = look_up(job, ph, &key, facts)?.value;
            highest = Some(highest.map_or(found, |known| known.max(found)));
        }
    }
    Ok(highest)
}

/// The texture that a table is asked about.
fn texture(job: &Job, setting: &SeedSafe, facts: &Facts) -> Outcome<String> {
    let Some(words) = &setting.texture_by_class else {
        return Ok(setting.texture.clone().unwrap_or_default());
    };
    let place = job
        .layers
        .iter()
        .position(|layer| layer.name == words.layer);
    let class = place.and_then(|place| facts.classes.get(place));
    let class = class.map_or(String::new(), |class| class_key(class));
    let found = words
        .by_class
        .iter()
        .find(|(known, _)| class_key(known) == class)
        .map(|(_, word)| word)
        .or(words.otherwise.as_ref());
    found.cloned().ok_or_else(|| {
        let known = words.by_class.keys().map(String::as_str);
        let meant = text::nearest(&class, known.clone())
            .map_or(String::new(), |near| format!("; did you mean '{near}'?"));
        Fault::input(
            "agronomy.class_without_value",
            chain::job_file(job),
            format!(
                "seed_safe.texture_by_class has no texture for class '{class}' of layer '{}'",
                words.layer
            ),
            format!("the classes it knows: {}{meant}", text::list(known)),
            "Add the class to 'by_class', or set 'otherwise' for all classes not named.",
        )
    })
}
