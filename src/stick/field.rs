//! One field: the folder of its plan, with the task data in it held against its `plan.json`.

use super::record::known_as;
use crate::audit::{PlanFacts, audit};
use crate::document::{self, ToStick};
use crate::findings::{Fault, Outcome, Place};
use crate::job::Moisture;
use crate::plan;
use crate::read::taskdata::{self, AsWritten};
use crate::write::folder::is_of_plan;
use crate::write::{self, Form};
use std::collections::BTreeMap;
use std::fs;
use std::path::{Path, PathBuf};

/// A field with what its plan has delivered for terminals.
pub struct Field {
    /// The folder of the plan.
    pub folder: PathBuf,
    /// What `plan.json` says.
    pub plan: ToStick,
    /// The form that lies ready.
    pub ready: String,
    /// What its sets are held against.
    pub(super) facts: PlanFacts,
    /// The sets, by the name of their form.
    pub(super) sets: BTreeMap<String, AsWritten>,
}

/// The fields of a stick, each once.
pub struct Gathered {
    /// In order of customer, farm and field.
    pub fields: Vec<Field>,
}

impl Field {
    /// Customer, farm and field as the job names them.
    pub fn names(&self) -> [&str; 3] {
        let field = &self.plan.job.field;
        [&field.customer, &field.farm, &field.name].map(|name| name.trim())
    }

    /// What tells the field apart.
    pub fn known_as(&self) -> [String; 4] {
        known_as(self.names(), self.plan.job.plain_name())
    }

    /// The field in words, with the farm where there is one.
    pub fn words(&self) -> String {
        let [_, farm, field] = self.names();
        match (farm, field) {
            ("", "") => self.plan.job.plain_name().to_owned(),
            ("", field) => field.to_owned(),
            (farm, field) => format!("{field} ({farm})"),
        }
    }

    /// The field and, of two plans for its seedbeds, which this is.
    pub fn words_with_seedbed(&self) -> String {
        match self.moisture() {
            Some(moisture) => format!("{}, {} map", self.words(), moisture.mark()),
            None => self.words(),
        }
    }

    /// The seedbed that the plan is for, where it is one of two.
    pub fn moisture(&self) -> Option<Moisture> {
        self.plan.seedbed.as_ref().map(|own| own.moisture)
    }

    /// Whether this is the plan of the same field for the other seedbed: made with it, each naming the other.
    pub fn is_other_seedbed_of(&self, other: &Self) -> bool {
        match (&self.plan.seedbed, &other.plan.seedbed) {
            (Some(own), Some(theirs)) => {
                own.moisture != theirs.moisture
                    && own.other_plan == other.plan.id
                    && theirs.other_plan == self.plan.id
            }
            _ => false,
        }
    }

    /// Reads the folder of a plan, and holds its task data against its `plan.json`.
    ///
    /// # Errors
    /// No plan; a plan with an open decision; one without task data; task data that do not say what the plan says.
    pub fn read(folder: &Path) -> Outcome<Self> {
        let mut plan: ToStick = document::read(folder)?;
        plan.job.of_two_seedbeds = plan.seedbed.is_some();
        nothing_open(folder, &plan)?;
        let ready = write::form_that_is_ready(&plan.job);
        let mut places = vec![(ready.clone(), folder.join("terminal/TASKDATA"))];
        for form in write::forms_beside(&plan.job) {
            let set = folder
                .join("terminal/fallback")
                .join(&form)
                .join("TASKDATA");
            if set.is_dir() {
                places.push((form, set));
            }
        }
        if !places.first().is_some_and(|(_, set)| set.is_dir()) {
            return Err(without_task_data(folder, &plan));
        }
        let paths: Vec<PathBuf> = places.iter().map(|(_, path)| path.clone()).collect();
        let facts = PlanFacts::read(&document::file_of(folder))?;
        let held = audit(&paths, Some(&facts), None, folder)?;
        if let Some(first) = held.complaints().first() {
            return Err(not_as_planned(folder, &plan.id, first));
        }
        // A difference that has to be there is one of this plan's: a file of another says another id.
        if let Some(other) = held
            .files
            .iter()
            .find(|file| file.plan.as_deref() != Some(&plan.id))
        {
            let found = format!("{} is of another plan", other.file);
            return Err(not_as_planned(folder, &plan.id, &found));
        }
        let mut sets = BTreeMap::new();
        for (form, path) in places {
            sets.insert(form, taskdata::as_written(&path)?);
        }
        Ok(Self {
            folder: folder.to_path_buf(),
            plan,
            ready,
            facts,
            sets,
        })
    }
}

impl Gathered {
    /// Reads plans: each path is the folder of a plan, its `plan.json`, or a folder with folders of plans in it, as a job
    /// with `split_by` has.
    ///
    /// # Errors
    /// As [`Field::read`]; two plans of one field that are not for its two seedbeds.
    pub fn read(paths: &[PathBuf]) -> Outcome<Self> {
        let mut folders = Vec::new();
        for path in paths {
            folders.extend(plans_in(path)?);
        }
        let mut fields: Vec<Field> = Vec::new();
        for folder in folders {
            fields.push(Field::read(&folder)?);
        }
        super::spreaders::one_machine(&fields)?;
        let key = |field: &Field| field.names().map(str::to_lowercase);
        // The two plans of one field stand together, also where it has no name.
        let both = |field: &Field| {
            let seedbed = field.plan.seedbed.as_ref();
            seedbed.map(|own| field.plan.id.clone().min(own.other_plan.clone()))
        };
        fields.sort_by_cached_key(|field| (key(field), both(field), field.folder.clone()));
        // A field without a name is known by its plan, or by the terminal's id for it.
        let known_by = |field: &Field| {
            let name = Some(key(field)).filter(|names| names.iter().any(|name| !name.is_empty()));
            let id = field.plan.terminal.ids_of_terminal.last();
            let id = id.map(|id| [String::new(), String::new(), id.to_string()]);
            let plan = [field.plan.id.clone(), String::new(), String::new()];
            [(0, name), (1, id), (2, Some(plan))]
        };
        let mut known = BTreeMap::new();
        for field in &fields {
            for (what, name) in known_by(field) {
                let Some(name) = name else { continue };
                if let Some(first) = known.insert((what, name), field)
                    && !field.is_other_seedbed_of(first)
                {
                    return Err(two_plans(first, field));
                }
            }
        }
        Ok(Self { fields })
    }

    /// How many fields there are: two plans for the two seedbeds of one are one.
    pub fn count(&self) -> usize {
        count(&self.fields)
    }
}

/// How many fields these plans are of.
pub(super) fn count(fields: &[Field]) -> usize {
    let both = fields.windows(2).filter(|of| match of {
        [one, other] => other.is_other_seedbed_of(one),
        _ => false,
    });
    fields.len() - both.count()
}

/// The folders of plans that a path stands for, in order of their names: a plan's own folder, its `plan.json`, or a folder with
/// folders of plans in it; a field with a plan for each seedbed has them one level deeper. A plan that a reissue has kept beside
/// the new one counts only where it is named itself.
///
/// # Errors
/// A folder without plans, or one that cannot be read.
pub fn plans_in(path: &Path) -> Outcome<Vec<PathBuf>> {
    let is_plan = |folder: &Path| document::file_of(folder).is_file();
    if !path.is_dir() {
        // A plan.json stands for its folder; what is no such file is told when it is read.
        let named = path.file_name().is_some_and(|name| name == "plan.json");
        let folder = path.parent().filter(|_| named && path.is_file());
        let folder = folder.map(|folder| match folder == Path::new("") {
            true => Path::new("."),
            false => folder,
        });
        return Ok(vec![folder.unwrap_or(path).to_path_buf()]);
    }
    if is_plan(path) {
        return Ok(vec![path.to_path_buf()]);
    }
    let unreadable = |error: std::io::Error| {
        Fault::machine(
            "stick.unreadable",
            Place::file(path),
            format!("The folder cannot be read ({error})"),
            "a folder that may be read",
            "Give yourself the right to read it.",
        )
    };
    let mut found = Vec::new();
    for entry in fs::read_dir(path).map_err(unreadable)? {
        let folder = entry.map_err(unreadable)?.path();
        // What a stopped run has left beside a plan is no plan of its own.
        let name = folder.file_name().unwrap_or_default().to_string_lossy();
        let leftover = [".twinsow-new", ".twinsow-old"]
            .iter()
            .any(|end| name.ends_with(end));
        if !folder.is_dir() || leftover || is_kept(&folder) {
            continue;
        }
        match is_plan(&folder) {
            true => found.push(folder),
            false => {
                let both = Moisture::BOTH.map(|moisture| folder.join(moisture.word()));
                found.extend(both.into_iter().filter(|folder| is_plan(folder)));
            }
        }
    }
    found.sort();
    if found.is_empty() {
        return Err(Fault::input(
            "stick.no_plan",
            Place::file(path),
            "There is no plan here: neither a plan.json nor folders with one",
            "the folder of a plan, or a folder with folders of plans in it, as 'twinsow plan' writes for split_by",
            "Plan the job first, or name the folder that its plan was written to.",
        ));
    }
    Ok(found)
}

/// Whether a plan is one that a reissue has kept: it has the name of the folder beside it, and its own id behind that.
fn is_kept(folder: &Path) -> bool {
    let name = folder.file_name().unwrap_or_default().to_string_lossy();
    let parts = name.rsplit_once('-');
    parts.is_some_and(|(of, id)| folder.with_file_name(of).is_dir() && is_of_plan(folder, id))
}

fn nothing_open(folder: &Path, plan: &ToStick) -> Outcome<()> {
    let cases = plan::cases(&plan.findings);
    let open: Vec<&str> = cases
        .iter()
        .filter(|case| case.accepted.is_none())
        .map(|case| case.decision.code())
        .collect();
    if open.is_empty() && plan.terminal.held_back.is_empty() {
        return Ok(());
    }
    Err(Fault::input(
        "stick.open_decision",
        Place::file(folder),
        format!(
            "Plan {} of '{}' has something to decide: {}",
            plan.id,
            plan.job.name,
            open.join(", ")
        ),
        "plans without an open decision",
        "Settle it as NOT-READY.txt in the folder 'terminal' of the plan says and plan the job again, or leave this plan out.",
    ))
}

fn without_task_data(folder: &Path, plan: &ToStick) -> Box<Fault> {
    let written_without = plan.only.as_ref().is_some_and(|only| {
        !only
            .iter()
            .any(|word| Form::of_word(word) == Some(Form::TaskData))
    });
    let found = match written_without {
        true => format!("Plan {} was written without task data (--only)", plan.id),
        false => format!("The task data of plan {} are not there", plan.id),
    };
    Fault::input(
        "stick.no_task_data",
        Place::file(folder),
        found,
        "the folder of a plan with terminal/TASKDATA in it",
        "Plan the job again, with task-data among the forms.",
    )
}

fn not_as_planned(folder: &Path, id: &str, what: &str) -> Box<Fault> {
    Fault::input(
        "stick.not_as_planned",
        Place::file(folder),
        format!("The files here do not say what plan {id} says: {what}"),
        "the files of a plan as 'twinsow plan' has written them",
        "Plan the job again; 'twinsow audit FOLDER --plan FOLDER/plan.json' lists all that differs.",
    )
}

fn two_plans(first: &Field, second: &Field) -> Box<Fault> {
    let what = |field: &Field| {
        format!(
            "{} made {} in {}",
            field.plan.id,
            field.plan.made_at,
            field.folder.display()
        )
    };
    Fault::input(
        "stick.two_plans",
        Place::file(&second.folder),
        format!(
            "Two plans are of the field '{}': {}, and {}",
            first.words(),
            what(first),
            what(second)
        ),
        "one plan for each field, or the two that one run has made for its moist and its dry seedbed",
        "Leave one of them out. Two for its seedbeds are made in one run: plan the job again. If they are two fields, give them names of their own: name, farm or customer under [field].",
    )
}
