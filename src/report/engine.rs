//! Templates to bytes: everything is escaped, and a value that is missing is a fault.

use super::texts;
use crate::findings::{Fault, Outcome, Place};
use crate::job::Language;
use base64::Engine as _;
use base64::engine::general_purpose::STANDARD;
use minijinja::syntax::SyntaxConfig;
use minijinja::value::{Kwargs, Value};
use minijinja::{AutoEscape, Environment, Error, State, UndefinedBehavior, context};
use sha2::{Digest, Sha256};
use std::sync::OnceLock;

const TEMPLATES: [(&str, &str); 18] = [
    ("page.html", include_str!("page.html")),
    ("parts.html", include_str!("parts.html")),
    ("map.svg", include_str!("map.svg")),
    ("picture.svg", include_str!("picture.svg")),
    ("figure.html", include_str!("figure.html")),
    ("cover.html", include_str!("cover.html")),
    ("harvest.html", include_str!("harvest.html")),
    ("after.html", include_str!("after.html")),
    ("field-record.html", include_str!("field-record.html")),
    ("card.html", include_str!("card.html")),
    ("week.html", include_str!("week.html")),
    ("glance.html", include_str!("glance.html")),
    ("open.html", include_str!("open.html")),
    ("adviser.html", include_str!("adviser.html")),
    ("operator.html", include_str!("operator.html")),
    ("trial.html", include_str!("trial.html")),
    ("buyer.html", include_str!("buyer.html")),
    ("record.html", include_str!("record.html")),
];
/// The one style and the one script of the pages.
static STYLE: Own = Own::new(include_str!("style.css"));
static SCRIPT: Own = Own::new(include_str!("script.js"));

/// A text that every page carries as it is.
struct Own {
    text: &'static str,
    ready: OnceLock<[Value; 2]>,
}

impl Own {
    const fn new(text: &'static str) -> Self {
        let ready = OnceLock::new();
        Self { text, ready }
    }

    fn ready(&self) -> &[Value; 2] {
        self.ready.get_or_init(|| {
            let text = Value::from_safe_string(self.text.to_owned());
            let hash = format!("sha256-{}", STANDARD.encode(Sha256::digest(self.text)));
            [text, Value::from(hash)]
        })
    }

    fn text(&self) -> Value {
        self.ready()[0].clone()
    }

    /// The hash by which the policy of a page lets it pass.
    fn hash(&self) -> Value {
        self.ready()[1].clone()
    }
}

/// The page with these values, and with the words of a language.
pub(super) fn page(values: serde_json::Value, language: Language) -> Outcome<Vec<u8>> {
    let environment = environment()?;
    let page = environment
        .get_template("page.html")
        .map_err(|error| broken(&error))?;
    let values: Value = serde_json::from_value(values).map_err(|error| unfit(&error))?;
    let values = context! {
        t => texts::of(language)?,
        style => STYLE.text(),
        script => SCRIPT.text(),
        style_hash => STYLE.hash(),
        script_hash => SCRIPT.hash(),
        ..values
    };
    let page = page.render(values).map_err(|error| broken(&error))?;
    Ok(page.into_bytes())
}

/// The cover over many fields; it runs no script.
pub(super) fn cover(values: serde_json::Value, language: Language) -> Outcome<Vec<u8>> {
    still("cover.html", values, language)
}

/// The page about a log; it runs no script.
pub(super) fn after(values: serde_json::Value, language: Language) -> Outcome<Vec<u8>> {
    still("after.html", values, language)
}

/// A page that runs no script.
pub(super) fn still(
    template: &str,
    values: serde_json::Value,
    language: Language,
) -> Outcome<Vec<u8>> {
    let environment = environment()?;
    let page = environment
        .get_template(template)
        .map_err(|error| broken(&error))?;
    let values: Value = serde_json::from_value(values).map_err(|error| unfit(&error))?;
    let values = context! {
        t => texts::of(language)?,
        style => STYLE.text(),
        style_hash => STYLE.hash(),
        ..values
    };
    let page = page.render(values).map_err(|error| broken(&error))?;
    Ok(page.into_bytes())
}

/// A picture of each map in these values, as SVG that stands alone.
pub(super) fn pictures(
    values: serde_json::Value,
    language: Language,
    maps: usize,
) -> Outcome<Vec<Vec<u8>>> {
    let environment = environment()?;
    let picture = environment
        .get_template("picture.svg")
        .map_err(|error| broken(&error))?;
    let values: Value = serde_json::from_value(values).map_err(|error| unfit(&error))?;
    let texts = texts::of(language)?;
    let draw = |nth: usize| {
        let texts = texts.clone();
        let map = values.get_attr("maps")?.get_item(&Value::from(nth))?;
        let text = picture.render(context! { m => map, t => texts, ..values.clone() })?;
        Ok(text.into_bytes())
    };
    let pictures: Result<Vec<_>, Error> = (0..maps).map(draw).collect();
    pictures.map_err(|error| broken(&error))
}

/// The templates, read once: for a farm of small fields that is most of the work on a page.
fn environment() -> Outcome<&'static Environment<'static>> {
    static READ: OnceLock<Outcome<Environment<'static>>> = OnceLock::new();
    let read = READ.get_or_init(|| with_templates().map_err(|error| broken(&error)));
    read.as_ref().map_err(Clone::clone)
}

fn with_templates() -> Result<Environment<'static>, Error> {
    let mut environment = Environment::new();
    let mut syntax = SyntaxConfig::builder();
    syntax.trim_blocks(true).lstrip_blocks(true);
    environment.set_syntax(syntax.build()?);
    environment.set_undefined_behavior(UndefinedBehavior::Strict);
    environment.set_auto_escape_callback(|_| AutoEscape::Html);
    environment.add_filter("fill", fill);
    environment.add_filter("px", px);
    for (name, text) in TEMPLATES {
        environment.add_template(name, text)?;
    }
    Ok(environment)
}

/// Puts values where a text has `{name}`, and where it has `{name|piece|pieces}` the form that goes with the count `name` in
/// the language of the page. The result is escaped like any text.
fn fill(state: &State, text: &str, values: Kwargs) -> Result<String, Error> {
    let mut filled = text.to_owned();
    let names: Vec<String> = values.args().map(str::to_owned).collect();
    for name in names {
        let value: Value = values.get(&name)?;
        if let Ok(count) = value.to_string().parse() {
            filled = language(state).counted(&filled, &name, count);
        }
        filled = filled.replace(&format!("{{{name}}}"), &value.to_string());
    }
    Ok(filled)
}

/// The language of the page whose texts are `t`.
fn language(state: &State) -> Language {
    let texts = state.lookup("t").unwrap_or_default();
    let tag = texts
        .get_attr("page")
        .and_then(|page| page.get_attr("language"));
    let tag = tag.unwrap_or_default();
    tag.as_str().and_then(Language::of_tag).unwrap_or_default()
}

/// Screen pixels at full view as drawing units, to a hundredth.
fn px(pixels: f64, per_pixel: f64) -> f64 {
    (pixels * per_pixel * 100.0).round() / 100.0
}

fn broken(error: &Error) -> Box<Fault> {
    let mut told = error.to_string();
    let mut cause = std::error::Error::source(error);
    while let Some(error) = cause {
        told = format!("{told}: {error}");
        cause = error.source();
    }
    unfit(&told)
}

fn unfit(error: &dyn std::fmt::Display) -> Box<Fault> {
    Fault::program(
        "report.template",
        Place::nowhere(),
        format!("the report could not be made: {error}"),
        "templates that fit their values",
    )
}
