//! A job for many fields (`split_by`) as one job for each of them, so that each can be looked at and changed by itself.

use super::key::{self, KeyPath};
use super::state::{Checked, Reader};
use crate::findings::{Fault, Outcome, Place};
use serde_json::Value as Json;
use std::path::Path;
use toml_edit::{DocumentMut, Item};

/// The text of the job of each field, by the value that tells it apart; what `Job::one_field` makes of the job, as a file of its own.
///
/// # Errors
/// A job for one field; no field; a text that makes no job.
pub(super) fn texts(
    text: &str,
    file: &Path,
    values: &[String],
    reader: Reader,
) -> Outcome<Vec<(String, String)>> {
    let each = values.iter().map(|value| {
        let own = one(text, file, value)?;
        match Checked::of(&own, file, reader) {
            Checked::Faulty(fault) => Err(fault),
            Checked::Job(_) | Checked::Open(_) => Ok((value.clone(), own)),
        }
    });
    let each: Vec<(String, String)> = each.collect::<Outcome<_>>()?;
    match each.is_empty() {
        true => Err(one_field(file)),
        false => Ok(each),
    }
}

fn one(text: &str, file: &Path, value: &str) -> Outcome<String> {
    let mut job = key::document(text, file)?;
    let field = KeyPath::of(&["field"]);
    let split_by = field.key("split_by");
    let attribute = key::at(&job, &split_by).and_then(Item::as_str);
    let attribute = attribute.ok_or_else(|| one_field(file))?.to_owned();
    key::remove(&mut job, &split_by)?;
    let only = field.key("boundary").key("only").key(&attribute);
    key::set(&mut job, &only, &Json::from(value))?;
    for path in [KeyPath::of(&["name"]), field.key("name")] {
        let before = key::at(&job, &path)
            .and_then(Item::as_str)
            .unwrap_or_default();
        let name = format!("{before} {value}");
        key::set(&mut job, &path, &Json::from(name.trim_start()))?;
    }
    signatures(&mut job, value)?;
    Ok(job.to_string())
}

/// A signature is for the fields that it names.
fn signatures(job: &mut DocumentMut, value: &str) -> Outcome<()> {
    let all = KeyPath::of(&["accepted"]);
    let count = (0..)
        .take_while(|nth| key::at(job, &all.nth(*nth)).is_some())
        .count();
    for nth in (0..count).rev() {
        let fields = all.nth(nth).key("fields");
        let named = key::at(job, &fields).and_then(Item::as_array);
        let holds = named.is_some_and(|fields| fields.iter().any(|of| of.as_str() == Some(value)));
        match holds {
            true => key::remove(job, &fields)?,
            false => key::remove(job, &all.nth(nth))?,
        }
    }
    Ok(())
}

fn one_field(file: &Path) -> Box<Fault> {
    Fault::input(
        "edit.one_field",
        Place::file(file),
        "the job is for one field",
        "a job with split_by, whose boundary file holds several fields",
        "nothing is to be done",
    )
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::job::Job;

    const JOB: &str = r#"
name = "Farm" # all of it
[field]
name = "Home"
split_by = "block"
boundary = { file = "b.geojson" }
[drill]
working_width_m = 6.0
[[drill.hopper]]
name = "front"
usable_l = 1900.0
[[product]]
id = "seed"
name = "barley"
kind = "seed"
hopper = "front"
rate = { kg_per_ha = 100.0 }
[[accepted]]
finding = "crops.not_named"
products = ["seed"]
sown = "barley"
drill = "6 m"
why = "seen"
by = "R. Example"
on = "2031-02-03"
fields = ["North", "South"]
[[accepted]]
finding = "crops.no_range"
products = ["seed"]
sown = "barley"
drill = "6 m"
why = "seen"
by = "R. Example"
on = "2031-02-03"
fields = ["South"]
"#;

    #[test]
    fn each_field_has_the_job_that_it_is_planned_by() {
        let file = Path::new("farm.toml");
        let no_machine = |_: &Path| unreachable!("no machine file");
        let values = ["North".to_owned(), "South".to_owned()];
        let made = texts(JOB, file, &values, &no_machine).expect("two jobs");
        let whole = Job::parse(JOB, file).expect("a job");
        for (value, text) in &made {
            let own = Job::parse(text, file).expect("a job");
            let mut wanted = whole.one_field(value);
            // What tells that it came from many is no key of a file.
            wanted.split_value = None;
            assert_eq!(
                own.print().expect("printed"),
                wanted.print().expect("printed"),
                "{value}"
            );
            assert!(text.contains("# all of it"));
        }
        let signed = |nth: usize| made[nth].1.matches("[[accepted]]").count();
        assert_eq!([signed(0), signed(1)], [1, 2]);
        let again = texts(&made[0].1, file, &values, &no_machine).expect_err("one field");
        assert_eq!(again.code, "edit.one_field");
    }
}
