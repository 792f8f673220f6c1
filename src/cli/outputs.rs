//! What `twinsow plan` writes: every form, read back, unless the user asks for less.

use crate::plan::Options;
use crate::write::{Form, Forms};
use clap::Args;
use clap::builder::{PossibleValuesParser, TypedValueParser};

#[derive(Debug, Args)]
pub(super) struct OutputArgs {
    /// Writes only these forms, separated by commas, beside plan.json [default: all]
    #[arg(long, value_name = "FORM", value_delimiter = ',', value_parser = form())]
    only: Vec<Form>,
    /// Does not read the written files back: faster, but nothing has checked them
    #[arg(long)]
    no_audit: bool,
    /// Writes a picture of each map as well, as SVG and PNG in the folder pictures
    #[arg(long)]
    pictures: bool,
}

fn form() -> impl TypedValueParser<Value = Form> {
    let words = Form::WORDS.map(|(_, word)| word);
    PossibleValuesParser::new(words)
        .try_map(|word| Form::of_word(&word).ok_or("no form has this name"))
}

impl OutputArgs {
    pub(super) fn outputs(&self) -> Outputs {
        let forms = Forms::only(self.only.iter().copied());
        Outputs {
            audit: !self.no_audit && forms.has_map(),
            forms,
            pictures: self.pictures,
            left_unread: self.no_audit,
        }
    }
}

/// What is written of a plan.
pub(super) struct Outputs {
    pub forms: Forms,
    pub audit: bool,
    pub pictures: bool,
    /// The user asked that nothing be read back.
    left_unread: bool,
}

impl Outputs {
    pub(super) fn all() -> Self {
        Self {
            forms: Forms::all(),
            audit: true,
            pictures: false,
            left_unread: false,
        }
    }

    /// What the plan has to hold for these.
    pub(super) fn options(&self) -> Options<'static> {
        Options {
            // Task data in the form of polygons hold them, whichever form lies ready.
            terminal_polygons: self.forms.has(Form::TaskData) || self.forms.has(Form::Fallback),
            turned_grid: self.forms.has(Form::Geotiff),
            drawing: self.pictures || self.forms.has(Form::Report),
            ..Options::default()
        }
    }

    /// What to say below the list of files.
    pub(super) fn said(&self) -> &'static str {
        match self.left_unread {
            true => {
                "\nThe files were not read back: 'twinsow audit' does that before you sow by them.\n"
            }
            false => "",
        }
    }
}
