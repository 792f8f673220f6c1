//! What is wrong with a table of the user's own, in plain words.

use crate::codec::toml_form::{Wanted, What};

/// The words, on one line.
pub(super) fn plain(what: &What) -> String {
    match what {
        What::MissingKey(key) => format!("the key '{key}' is missing"),
        What::UnknownKey { found, allowed } => {
            format!(
                "unknown key '{found}'; here may stand: {}",
                allowed.join(", ")
            )
        }
        What::UnknownWord { found, allowed } => {
            format!("'{found}' is none of: {}", allowed.join(", "))
        }
        What::Kind { found, wanted } => {
            let wanted = match wanted {
                Wanted::Number => "a number",
                Wanted::Text => "text in quotes",
                Wanted::List => "a list in brackets: [ ... ]",
                Wanted::Table => "a table: { ... }",
            };
            format!("{found} stands where {wanted} belongs")
        }
        What::Said(text) => text.replace('\n', " "),
    }
}

#[cfg(test)]
mod tests {
    use super::plain;
    use crate::codec::toml_form;
    use serde::Deserialize;
    use std::collections::BTreeMap;

    #[derive(Deserialize)]
    #[serde(deny_unknown_fields)]
    #[allow(dead_code)]
    struct Form {
        name: String,
        list: Vec<f64>,
        amounts: BTreeMap<String, f64>,
        kind: Kind,
    }

    #[derive(Deserialize)]
    #[serde(rename_all = "snake_case")]
    enum Kind {
        Up,
        Down,
    }

    #[test]
    fn what_is_wrong_is_told_in_plain_words() {
        let good = "name = \"a\"\nlist = [1]\namounts = { a = 1 }\nkind = \"up\"\n";
        let said = |wrong: String| match toml_form::read::<Form>(&wrong) {
            Ok(_) => panic!("{wrong}"),
            Err(wrong) => plain(&wrong.what),
        };
        for (part, by, words) in [
            ("name = \"a\"\n", "", "the key 'name' is missing"),
            (
                "name = ",
                "nam = ",
                "unknown key 'nam'; here may stand: name, list, amounts, kind",
            ),
            ("\"up\"", "\"left\"", "'left' is none of: up, down"),
            (
                "a = 1 }",
                "a = \"1\" }",
                "string \"1\" stands where a number belongs",
            ),
            (
                "\"a\"",
                "3",
                "integer `3` stands where text in quotes belongs",
            ),
            (
                "[1]",
                "1",
                "integer `1` stands where a list in brackets: [ ... ] belongs",
            ),
            (
                "{ a = 1 }",
                "1",
                "integer `1` stands where a table: { ... } belongs",
            ),
        ] {
            assert!(good.contains(part), "{part}");
            assert_eq!(said(good.replacen(part, by, 1)), words);
        }
    }
}
