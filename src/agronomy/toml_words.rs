//! What the reader of a table says about a wrong file, in the words of the table's form.

/// The message in plain words. One that is not known stays as it is, on one line.
pub(super) fn plain(message: &str) -> String {
    let message = message.replace('\n', " ");
    // The names in back quotes: first what was found, then what is allowed.
    let names: Vec<&str> = message.split('`').skip(1).step_by(2).collect();
    let allowed = || names.get(1..).unwrap_or_default().join(", ");
    let first = names.first().copied().unwrap_or_default();
    if message.starts_with("missing field") {
        return format!("the key '{first}' is missing");
    }
    if message.starts_with("unknown field") {
        return format!("unknown key '{first}'; here may stand: {}", allowed());
    }
    if message.starts_with("unknown variant") {
        return format!("'{first}' is none of: {}", allowed());
    }
    let wanted = |kind: &str| match kind {
        "f64" => "a number".to_owned(),
        "a string" => "text in quotes".to_owned(),
        "a sequence" => "a list in brackets: [ ... ]".to_owned(),
        "a map" => "a table: { ... }".to_owned(),
        other => other.to_owned(),
    };
    let types = message.strip_prefix("invalid type: ");
    match types.and_then(|types| types.split_once(", expected ")) {
        Some((found, kind)) => format!("{found} stands where {} belongs", wanted(kind)),
        None => message,
    }
}

#[cfg(test)]
mod tests {
    use super::plain;
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

    /// Messages of the library that reads the files, not of our own making.
    #[test]
    fn messages_of_the_reader_become_plain_words() {
        let good = "name = \"a\"\nlist = [1]\namounts = { a = 1 }\nkind = \"up\"\n";
        let said = |wrong: String| match toml::from_str::<Form>(&wrong) {
            Ok(_) => panic!("{wrong}"),
            Err(error) => plain(error.message()),
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
