//! What `new` asks in a terminal: whatever the command line left out.

use super::Args;
use super::fields::Fields;
use super::inputs::{self, Input, SEVERAL_FIELDS};
use super::values::{Of, Values};
use super::zones::{Columns, Kind, Zones, zones};
use crate::edit::WhichField;
use crate::findings::{Fault, Outcome, Place};
use crate::frame::Near;
use std::io::{self, BufRead, Write};
use std::path::{Path, PathBuf};

/// A fault that another answer about the same file mends, as [`SEVERAL_FIELDS`] is.
const NO_CRS: &str = "frame.crs_missing";

/// Fills in boundary, layers and folder by questions on `out`, answered on `input`, one line each. What the command
/// line gave is not asked.
///
/// # Errors
/// The answers end before all is known; `out` cannot be written.
pub(super) fn ask(args: &mut Args, input: &mut dyn BufRead, out: &mut dyn Write) -> Outcome<()> {
    let mut talk = Talk {
        near: None,
        input,
        out,
    };
    if args.boundary.is_none() {
        talk.say(
            "A job for one field. Enter alone takes what stands in brackets; Ctrl-C stops.\n",
        )?;
        talk.boundary(args)?;
        if args.layers.is_empty() {
            talk.layers(args)?;
        }
    }
    if args.folder.is_none() {
        talk.folder(args)?;
    }
    Ok(())
}

struct Talk<'a> {
    /// Where the field lies, once its boundary is known.
    near: Option<Near>,
    input: &'a mut dyn BufRead,
    out: &'a mut dyn Write,
}

impl Talk<'_> {
    /// Asks until the file can be used as a boundary; what is missing to use it is asked as well.
    fn boundary(&mut self, args: &mut Args) -> Outcome<()> {
        loop {
            let answer = self.answer("Boundary: a file with the field's polygons, or task data")?;
            if answer.is_empty() {
                continue;
            }
            let path = path_of(&answer);
            loop {
                match Input::boundary(&args.boundary_source(&path), &args.which()) {
                    Ok(found) => {
                        args.boundary = Some(path);
                        self.near = found.survey.near();
                        return self.field(args, &found);
                    }
                    Err(fault) => {
                        self.say(&format!("  {fault}\n"))?;
                        match fault.code {
                            SEVERAL_FIELDS => args.field = self.optional("Which field")?,
                            NO_CRS => args.crs = self.optional("CRS, such as EPSG:25832")?,
                            _ => break,
                        }
                        if args.field.is_none() && args.crs.is_none() {
                            break;
                        }
                    }
                }
            }
        }
    }

    /// Asks which of several fields is meant, where that is not said yet.
    fn field(&mut self, args: &mut Args, found: &Input) -> Outcome<()> {
        if args.which() != WhichField::Unsaid {
            return Ok(());
        }
        let Some(fields) = Fields::of(&found.survey) else {
            return Ok(());
        };
        self.say(&format!(
            "  It holds {} features, told apart by {}: {}.\n",
            found.survey.layer.features.len(),
            fields.attributes.join(" and "),
            inputs::listed(&fields)
        ))?;
        loop {
            let answer = self.answer(
                "  Which field: its name; 'each' for a field of its own for each; 'parts' for parts of one field [not known yet]",
            )?;
            match answer.as_str() {
                "" => return Ok(()),
                "each" => args.split_by = fields.attributes.first().cloned(),
                "parts" => args.in_parts = true,
                name if fields
                    .all
                    .iter()
                    .any(|field| field.values.iter().any(|own| own == name)) =>
                {
                    args.field = Some(answer.clone());
                }
                name => {
                    self.say(&format!("  No field is called '{name}'.\n"))?;
                    continue;
                }
            }
            return Ok(());
        }
    }

    fn layers(&mut self, args: &mut Args) -> Outcome<()> {
        loop {
            let answer =
                self.answer("Zone layer: a soil map or other zones, samples, a raster [no more]")?;
            if answer.is_empty() {
                return Ok(());
            }
            let path = path_of(&answer);
            loop {
                match zones(
                    &[args.layer(&path)],
                    &Columns::default(),
                    self.near.as_ref(),
                ) {
                    Ok(zones) => {
                        args.layers.push(path);
                        for zone in zones {
                            self.column(args, &zone)?;
                        }
                        break;
                    }
                    Err(fault) => {
                        self.say(&format!("  {fault}\n"))?;
                        if fault.code != NO_CRS || args.crs.is_some() {
                            break;
                        }
                        args.crs = self.optional("CRS, such as EPSG:25832")?;
                        if args.crs.is_none() {
                            break;
                        }
                    }
                }
            }
        }
    }

    /// Asks for the attribute with the classes of a layer, or the column with its values.
    fn column(&mut self, args: &mut Args, zone: &Zones) -> Outcome<()> {
        match &zone.kind {
            Kind::Polygons(survey, _) => {
                let guess = zone.attribute().map(|attribute| attribute.name.as_str());
                let known = &survey.layer.attributes;
                let chosen = self.one_of("  Attribute with the classes", guess, known)?;
                args.class_attributes.extend(chosen);
            }
            Kind::Values(Values {
                of: Of::Points {
                    columns, column, ..
                },
                ..
            }) => {
                let guess = column.as_deref();
                let chosen = self.one_of("  Column with the values", guess, columns)?;
                args.value_columns.extend(chosen);
            }
            Kind::Values(_) => {}
        }
        Ok(())
    }

    /// One of these names; none where the guess is right, or where it is not known yet.
    fn one_of(
        &mut self,
        what: &str,
        guess: Option<&str>,
        known: &[String],
    ) -> Outcome<Option<String>> {
        if guess.is_none() {
            self.say(&format!("  It has: {}.\n", known.join(", ")))?;
        }
        loop {
            let answer = self.answer(&format!("{what} [{}]", guess.unwrap_or("not known yet")))?;
            if answer.is_empty() {
                return Ok(None);
            }
            if known.contains(&answer) {
                return Ok(Some(answer));
            }
            self.say(&format!("  It has: {}.\n", known.join(", ")))?;
        }
    }

    fn folder(&mut self, args: &mut Args) -> Outcome<()> {
        let stem = args.boundary.as_deref().and_then(Path::file_stem);
        let stem = stem.map_or_else(String::new, |stem| stem.to_string_lossy().into_owned());
        let proposed = format!("{stem}-job");
        loop {
            let answer = self.answer(&format!("Folder for the job [{proposed}]"))?;
            let folder = match answer.is_empty() {
                true => PathBuf::from(&proposed),
                false => path_of(&answer),
            };
            if folder.join("job.toml").symlink_metadata().is_err() {
                args.folder = Some(folder);
                return Ok(());
            }
            self.say("  There is a job file in that folder already.\n")?;
        }
    }

    fn optional(&mut self, question: &str) -> Outcome<Option<String>> {
        let answer = self.answer(&format!("  {question}"))?;
        Ok(Some(answer).filter(|answer| !answer.is_empty()))
    }

    /// One line, without the blanks around it.
    fn answer(&mut self, question: &str) -> Outcome<String> {
        self.say(&format!("{question}: "))?;
        let mut line = String::new();
        match self.input.read_line(&mut line) {
            Ok(0) => Err(stopped("the answers ended")),
            Ok(_) => Ok(line.trim().to_owned()),
            Err(error) => Err(stopped(&format!("no answer could be read: {error}"))),
        }
    }

    fn say(&mut self, text: &str) -> Outcome<()> {
        let said = self.out.write_all(text.as_bytes());
        said.and_then(|()| self.out.flush())
            .map_err(|error: io::Error| stopped(&format!("nothing could be asked: {error}")))
    }
}

/// A path as people paste it: without the quotes around it.
fn path_of(answer: &str) -> PathBuf {
    let quoted = |quote: char| answer.strip_prefix(quote)?.strip_suffix(quote);
    PathBuf::from(quoted('"').or_else(|| quoted('\'')).unwrap_or(answer))
}

fn stopped(found: &str) -> Box<Fault> {
    Fault::input(
        "new.stopped",
        Place::nowhere(),
        format!("{found} before the job was known"),
        "an answer to each question, or the same as options",
        "run it again, or give --boundary FILE and --layer FILE; nothing was written",
    )
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::io::Cursor;

    const DEMO: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/examples/demo");

    fn asked(args: &mut Args, answers: &str) -> (Outcome<()>, String) {
        let mut out = Vec::new();
        let done = ask(args, &mut Cursor::new(answers.to_owned()), &mut out);
        (done, String::from_utf8(out).unwrap())
    }

    #[test]
    fn questions_go_on_until_the_files_can_be_used() {
        let mut args = Args::default();
        let answers = format!(
            "nowhere.geojson\n\"{DEMO}/boundary.geojson\"\n{DEMO}/soil.geojson\nno such\n\n\nmy field\n"
        );
        let (done, said) = asked(&mut args, &answers);
        done.unwrap();
        assert_eq!(
            args.boundary.unwrap(),
            Path::new(DEMO).join("boundary.geojson")
        );
        assert_eq!(args.layers, [Path::new(DEMO).join("soil.geojson")]);
        assert!(args.class_attributes.is_empty());
        assert_eq!(args.folder.unwrap(), Path::new("my field"));
        assert!(said.contains("nowhere.geojson"), "{said}");
        assert!(said.contains("It has: "), "{said}");
        assert!(said.contains("[boundary-job]"), "{said}");
    }

    #[test]
    fn one_of_several_fields_and_of_several_columns_is_asked_for() {
        let folder = tempfile::tempdir().unwrap();
        let samples = folder.path().join("samples.csv");
        std::fs::write(&samples, "lon,lat,P,K\n9.1,55.1,5,9\n9.2,55.2,6,8\n").unwrap();
        let fields = concat!(
            env!("CARGO_MANIFEST_DIR"),
            "/testdata/fields/dk_epsg25832.shp.zip"
        );
        let answers = format!(
            "{fields}\nno such\ndk-4\n{}\nQ\nK\n\njob\n",
            samples.display()
        );
        let mut args = Args::default();
        let (done, said) = asked(&mut args, &answers);
        done.unwrap();
        assert_eq!(args.field.as_deref(), Some("dk-4"));
        assert_eq!(args.value_columns, ["K"]);
        assert!(said.contains("'dk-53' ("), "fields with their land: {said}");
        assert!(said.contains("No field is called 'no such'"), "{said}");
        assert!(said.contains("It has: P, K"), "{said}");
    }

    #[test]
    fn what_is_known_is_not_asked() {
        let mut args = Args {
            boundary: Some("field.gpkg".into()),
            folder: Some("job".into()),
            ..Args::default()
        };
        let (done, said) = asked(&mut args, "");
        done.unwrap();
        assert_eq!(said, "");
    }

    #[test]
    fn answers_that_end_stop_it() {
        let (done, _) = asked(&mut Args::default(), "");
        assert_eq!(done.unwrap_err().code, "new.stopped");
    }
}
