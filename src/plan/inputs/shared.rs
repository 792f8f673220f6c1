//! Inputs read once for many fields: where the fields of a job with `split_by` come from.

use super::loaded::{IndexedLayer, LoadedSource};
use super::{AtHand, Settings};
use crate::findings::{Fault, Outcome};
use crate::frame;
use crate::job::{Job, Source};
use crate::plan::terminal;
use crate::read::{self, Layer};
use std::collections::BTreeMap;
use std::sync::Arc;

/// All inputs of a job in degrees, and the fields that its boundary holds.
pub struct SharedInputs {
    job: Job,
    boundary: Arc<IndexedLayer>,
    sources: Arc<Vec<LoadedSource>>,
    settings: Arc<Settings>,
    /// Name and boundary features of each field, in the order of the file.
    fields: Vec<(String, Vec<u32>)>,
}

impl SharedInputs {
    /// Reads everything that a job with `split_by` names, each file once.
    ///
    /// # Errors
    /// A file that cannot be read or understood, a CRS that is missing or unknown, a boundary without
    /// the attribute.
    pub fn of(job: &Job, attribute: &str) -> Outcome<Self> {
        let settings = Arc::new(Settings::read(job)?);
        let boundary = LoadedSource::open(&job.field.boundary, false, job);
        let boundary = boundary
            .map_err(|fault| frame::fitted(fault, &job.field.boundary, &job.folder, None))?
            .into_layer(job)?;
        let open = |source: &Source, has_values| {
            let loaded = LoadedSource::open(source, has_values, job);
            let near = || boundary.near();
            loaded.map_err(|fault| frame::fitted(fault, source, &job.folder, near().as_ref()))
        };
        Ok(Self {
            fields: fields(&boundary.layer, attribute)?,
            sources: Arc::new(loaded(job, &open)?),
            job: job.clone(),
            boundary,
            settings,
        })
    }

    /// The inputs of one field.
    pub fn field(&self, nth: usize) -> AtHand {
        let members = self.fields.get(nth).map(|(_, members)| members.clone());
        AtHand {
            boundary: Arc::clone(&self.boundary),
            members: members.unwrap_or_default(),
            sources: Arc::clone(&self.sources),
            settings: Arc::clone(&self.settings),
        }
    }

    /// What tells each field apart, in the order of the boundary file.
    pub fn fields(&self) -> impl ExactSizeIterator<Item = &str> {
        self.fields.iter().map(|(value, _)| value.as_str())
    }

    /// The job of one field: it could be planned by itself.
    pub fn job(&self, nth: usize) -> Job {
        let value = self.fields.get(nth).map_or("", |(value, _)| value.as_str());
        self.job.one_field(value)
    }

    /// The boundary of a job as its file has it.
    ///
    /// # Errors
    /// A file that cannot be read or understood.
    pub fn boundary_of(job: &Job) -> Outcome<Layer> {
        read::open(&job.field.boundary, &job.folder)
    }

    /// What tells the fields of a boundary apart, in the order of the file.
    ///
    /// # Errors
    /// The attribute is not there, or a feature has no value.
    pub fn fields_of<P>(boundary: &Layer<P>, attribute: &str) -> Outcome<Vec<String>> {
        let fields = fields(boundary, attribute)?;
        Ok(fields.into_iter().map(|(value, _)| value).collect())
    }
}

/// What `open` gives for each source of a job beside its boundary, each asked for once.
pub(super) fn loaded(
    job: &Job,
    open: &dyn Fn(&Source, bool) -> Outcome<LoadedSource>,
) -> Outcome<Vec<LoadedSource>> {
    let mut different: Vec<(Source, bool)> = Vec::new();
    for source in sources(job) {
        if !different.contains(&source) {
            different.push(source);
        }
    }
    let all = different.iter();
    all.map(|(source, has_values)| open(source, *has_values))
        .collect()
}

/// All sources of a job beside its boundary, and whether they are there for their values.
pub(super) fn sources(job: &Job) -> Vec<(Source, bool)> {
    let exclusions = job.exclusions.iter();
    let exclusions =
        exclusions.map(|exclusion| terminal::obstacles(&exclusion.source, &job.folder));
    let setbacks = job.setbacks.iter().map(|setback| setback.source.clone());
    let special_areas = job.special_areas.iter().map(|area| area.source.clone());
    let trials = job.trials.iter();
    let trials = trials.filter_map(|trial| trial.here_source.clone());
    // A line may be points of the job.
    let layers = job.layers.iter().filter(|layer| layer.line.is_empty());
    let layers = layers.flat_map(|layer| {
        let also = layer.values.iter().flat_map(|values| &values.also);
        let zonal = layer.zonal.iter().map(|zonal| (zonal.source.clone(), true));
        std::iter::once((layer.source.clone(), layer.values.is_some()))
            .chain(also.map(|also| (also.source.clone(), true)))
            .chain(zonal)
    });
    let along = job.drive.as_ref().and_then(|drive| drive.along.clone());
    exclusions
        .chain(setbacks)
        .chain(special_areas)
        .chain(trials)
        .chain(along)
        .chain(job.refill.tender.clone())
        .map(|source| (source, false))
        .chain(layers)
        .collect()
}

/// The fields of a boundary by the values of an attribute.
fn fields<P>(boundary: &Layer<P>, attribute: &str) -> Outcome<Vec<(String, Vec<u32>)>> {
    let refused = |found: String, allowed: String, next: &str| {
        Fault::input("plan.split_by", boundary.place(), found, allowed, next)
    };
    let Some(column) = boundary
        .attributes
        .iter()
        .position(|name| name == attribute)
    else {
        let names = boundary.attributes.join(", ");
        return Err(refused(
            format!("there is no attribute '{attribute}', which split_by names"),
            format!("one of: {names}"),
            "correct split_by under [field]; for one field in several parts in_parts = true instead of it",
        ));
    };
    let mut fields: Vec<(String, Vec<u32>)> = Vec::new();
    let mut known: BTreeMap<String, usize> = BTreeMap::new();
    for (feature, number) in boundary.features.iter().zip(0..) {
        let value = feature
            .values
            .get(column)
            .map(ToString::to_string)
            .unwrap_or_default();
        if value.is_empty() {
            return Err(refused(
                format!(
                    "feature {} has no '{attribute}', which split_by names",
                    feature.name
                ),
                "a value for every feature of the boundary".to_owned(),
                "fill it in, or leave the feature out with `only`",
            ));
        }
        let field = *known.entry(value.clone()).or_insert_with(|| {
            fields.push((value, Vec::new()));
            fields.len() - 1
        });
        fields[field].1.push(number);
    }
    Ok(fields)
}
