//! Holds the source to the order of its modules.
//!
//! `src/lib.rs` lists the modules in the order in which data flows. A module may import only from
//! modules above it in that list; only a few may open files; only `cli` may print or read clock and
//! environment. The audit, which judges what planning has made, shares none of
//! its geometry. The check reads the source as words: comments and texts are left out, `use` trees are
//! resolved, `super::` is followed to where it leads.

use std::fs;
use std::path::{Path, PathBuf};

mod words;

use words::{Found, paths_and_calls};

/// Modules that may open files.
const MAY_TOUCH_FILES: [&str; 9] = [
    "read", "document", "write", "report", "audit", "stick", "compare", "edit", "cli",
];
/// Modules that may print, end the process, or read clock and environment.
const MAY_TOUCH_THE_WORLD: [&str; 1] = ["cli"];

/// What nobody else may name, as the beginning of a path.
const FILES: [&[&str]; 5] = [
    &["std", "fs"],
    &["File"],
    &["OpenOptions"],
    &["Connection", "open"],
    &["tempfile"],
];
/// Methods of a path, without arguments, that look at the disk.
const FILE_METHODS: [&str; 8] = [
    "exists",
    "try_exists",
    "is_file",
    "is_dir",
    "is_symlink",
    "canonicalize",
    "read_dir",
    "metadata",
];
const WORLD: [&[&str]; 7] = [
    &["std", "env"],
    &["std", "process"],
    &["std", "thread", "sleep"],
    &["std", "time", "SystemTime"],
    &["std", "time", "Instant"],
    &["SystemTime"],
    &["Instant"],
];
const WORLD_MACROS: [&str; 5] = ["println", "print", "eprintln", "eprint", "dbg"];

/// Modules that the audit may use: plain values, bytes, reading. No geometry of planning.
const AUDIT_MAY_USE: [&str; 8] = [
    "audit",
    "units",
    "coordinates",
    "findings",
    "codec",
    "job",
    "read",
    "document",
];
/// What it may use of other modules, each by its whole name: the ways to degrees, which are PROJ's; names that files carry;
/// whether a job is for one field.
const AUDIT_MAY_NAME: [&[&str]; 11] = [
    // As plan.json states it.
    &["drive", "as_driven", "AsDriven"],
    &["frame", "Crs"],
    &["frame", "as_drawn"],
    &["write", "CLASSES"],
    &["write", "only_rate"],
    &["write", "ProductNames"],
    &["write", "product_names"],
    &["write", "folder", "MARKER"],
    &["plan", "for_one_field"],
    &["plan", "obstacles"],
    &["plan", "one_field"],
];

/// Whether the audit may name this of the program.
fn audit_may(module: &str, item: &[String]) -> bool {
    let named = |whole: &&[&str]| {
        whole.first() == Some(&module)
            && item.iter().zip(&whole[1..]).all(|(a, b)| a == b)
            && item.len() >= whole.len() - 1
    };
    AUDIT_MAY_USE.contains(&module) || AUDIT_MAY_NAME.iter().any(named)
}

/// The modules of `lib.rs`, top to bottom.
fn modules_in_order(lib: &str) -> Vec<String> {
    let mut modules = Vec::new();
    for line in lib.lines() {
        let line = line.trim();
        let line = ["pub ", "pub(crate) "]
            .iter()
            .find_map(|before| line.strip_prefix(before))
            .unwrap_or(line);
        if let Some(name) = line
            .strip_prefix("mod ")
            .and_then(|rest| rest.strip_suffix(';'))
        {
            modules.push(name.to_owned());
        }
    }
    modules
}

/// What `source`, the file of module `path` (`["read", "geojson"]`), does against the order.
fn broken(source: &str, path: &[String], order: &[String]) -> Vec<String> {
    let own = &path[0];
    let Some(rank) = order.iter().position(|m| m == own) else {
        return vec![format!("module `{own}` is not in src/lib.rs")];
    };
    let mut faults = Vec::new();
    let mut fault = |line: usize, text: String| {
        let fault = format!("line {line}: {text}");
        if !faults.contains(&fault) {
            faults.push(fault);
        }
    };
    for found in paths_and_calls(source, path) {
        match found {
            Found::Own { line, module, item } if own == "audit" && !audit_may(&module, &item) => {
                fault(
                    line,
                    format!(
                        "`audit` shares `{module}::{}` with planning, whose results it judges",
                        item.join("::")
                    ),
                );
            }
            Found::Own { line, module, .. } => match order.iter().position(|m| *m == module) {
                Some(at) if at <= rank => {}
                Some(_) => fault(
                    line,
                    format!("`{own}` imports from `{module}`, which is below it in src/lib.rs"),
                ),
                None => fault(
                    line,
                    format!("`crate::{module}` is not a module of src/lib.rs"),
                ),
            },
            Found::Path {
                line,
                path,
                in_test: false,
            } => {
                let starts = |with: &&[&str]| {
                    path.len() >= with.len() && path.iter().zip(*with).all(|(a, b)| a == b)
                };
                if FILES.iter().any(starts) && !MAY_TOUCH_FILES.contains(&own.as_str()) {
                    fault(
                        line,
                        format!("`{own}` touches files: `{}`", path.join("::")),
                    );
                }
                if WORLD.iter().any(starts) && !MAY_TOUCH_THE_WORLD.contains(&own.as_str()) {
                    fault(
                        line,
                        format!(
                            "`{own}` reads clock, environment or process: `{}`",
                            path.join("::")
                        ),
                    );
                }
            }
            Found::Method {
                line,
                name,
                in_test: false,
            } => {
                if FILE_METHODS.contains(&name.as_str()) && !MAY_TOUCH_FILES.contains(&own.as_str())
                {
                    fault(line, format!("`{own}` looks at the disk: `.{name}()`"));
                }
            }
            Found::Macro {
                line,
                name,
                in_test: false,
            } => {
                if WORLD_MACROS.contains(&name.as_str())
                    && !MAY_TOUCH_THE_WORLD.contains(&own.as_str())
                {
                    fault(line, format!("`{own}` prints: `{name}!`"));
                }
            }
            Found::Path { .. } | Found::Method { .. } | Found::Macro { .. } => {}
        }
    }
    faults
}

fn rust_files(folder: &Path, files: &mut Vec<PathBuf>) {
    let mut entries: Vec<PathBuf> = fs::read_dir(folder)
        .unwrap()
        .map(|entry| entry.unwrap().path())
        .collect();
    entries.sort();
    for path in entries {
        if path.is_dir() {
            rust_files(&path, files);
        } else if path.extension().is_some_and(|extension| extension == "rs") {
            files.push(path);
        }
    }
}

/// `src/read/geojson.rs` is the file of module `["read", "geojson"]`.
fn module_path(file: &Path, src: &Path) -> Vec<String> {
    let inside = file.strip_prefix(src).unwrap().with_extension("");
    let mut path: Vec<String> = inside
        .iter()
        .map(|part| part.to_str().unwrap().to_owned())
        .collect();
    if path.last().is_some_and(|last| last == "mod") {
        path.pop();
    }
    path
}

#[test]
fn every_module_imports_only_from_above() {
    let src = Path::new(env!("CARGO_MANIFEST_DIR")).join("src");
    let order = modules_in_order(&fs::read_to_string(src.join("lib.rs")).unwrap());
    assert!(
        order.len() > 10,
        "src/lib.rs lists its modules one a line; found {order:?}"
    );
    let mut files = Vec::new();
    rust_files(&src, &mut files);
    let mut faults = Vec::new();
    for file in &files {
        let path = module_path(file, &src);
        if path == ["lib"] || path == ["main"] {
            continue;
        }
        let source = fs::read_to_string(file).unwrap();
        faults.extend(
            broken(&source, &path, &order)
                .into_iter()
                .map(|fault| format!("{}: {fault}", file.display())),
        );
    }
    assert!(faults.is_empty(), "\n{}", faults.join("\n"));
}

/// The check itself: each of these has to be refused, and for the stated reason.
#[test]
fn the_check_sees_what_it_should() {
    let order: Vec<String> = [
        "units", "geometry", "job", "read", "frame", "map", "write", "audit", "cli",
    ]
    .map(String::from)
    .to_vec();
    let refused = [
        ("geometry", "use crate::map::Grid;", "below"),
        (
            "geometry",
            "use crate::{units::Metre, map::{Grid, Cell}};",
            "below",
        ),
        (
            "geometry/clip",
            "fn f() { let x = crate::read::open(); }",
            "below",
        ),
        ("geometry/clip", "use super::super::read::Layer;", "below"),
        (
            "geometry/clip",
            "mod tests { use super::super::super::write::x; }",
            "below",
        ),
        ("geometry", "use super::map;", "below"),
        (
            "geometry",
            "#[cfg(test)] mod tests { use crate::map::Grid; }",
            "below",
        ),
        ("geometry", "pub(in crate::write) fn f() {}", "below"),
        ("geometry", "use crate::nowhere::X;", "not a module"),
        ("map", "use std::fs;", "touches files"),
        ("map", "use std::{io, fs::File};", "touches files"),
        ("map", "fn f() { std::fs::read(p); }", "touches files"),
        (
            "map",
            "fn f(p: &Path) -> bool { p.exists() }",
            "looks at the disk",
        ),
        ("map", "fn f() { println!(\"x\"); }", "prints"),
        ("read", "fn f() { eprintln!(\"x\"); }", "prints"),
        (
            "write",
            "fn f() { let t = std::time::Instant::now(); }",
            "clock",
        ),
        ("job", "use std::env;", "environment"),
        ("read", "fn f() { std::process::exit(1) }", "process"),
        (
            "audit/overlay",
            "use crate::geometry::{Overlay};",
            "shares `geometry::Overlay`",
        ),
        (
            "audit",
            "fn f() { crate::map::Outline::of(p); }",
            "shares `map::Outline::of`",
        ),
        ("audit", "use crate::frame::{Crs, Frame};", "shares"),
        ("audit", "use crate::frame::{self, Crs};", "shares"),
        ("audit", "use super::frame;", "shares"),
    ];
    for (module, source, reason) in refused {
        let path: Vec<String> = module.split('/').map(String::from).collect();
        let faults = broken(source, &path, &order);
        assert!(
            faults.len() == 1 && faults[0].contains(reason),
            "{module}: {source}\n{faults:?}"
        );
    }
    let allowed = [
        (
            "map",
            "use crate::{geometry::clip, job::Job}; use super::units; use crate::map::Grid;",
        ),
        (
            "map/grid",
            "use super::Cell; use self::x::Y; mod tests { use super::*; use super::super::Cell; }",
        ),
        (
            "map",
            "// use crate::write;\n/* std::fs /* println!() */ */ const X: &str = \"crate::write std::fs\";",
        ),
        (
            "map",
            "const X: &str = r#\"crate::write \"quoted\" std::fs\"#; const C: char = '\"'; fn f<'a>(x: &'a str) {}",
        ),
        (
            "map",
            "#[cfg(test)] mod tests { use std::fs; #[test] fn t() { println!(\"x\"); } }",
        ),
        (
            "map",
            "fn f() { env!(\"CARGO_PKG_VERSION\"); x.exists_in(y); z.metadata(\"EPSG\"); }",
        ),
        ("write", "use std::fs::File; fn f(p: &Path) { p.exists(); }"),
        (
            "audit/vector",
            "use crate::frame::{Crs, as_drawn}; use super::outline::Outline; use crate::write::{CLASSES, folder::MARKER};",
        ),
        (
            "cli",
            "fn f() { println!(\"{:?}\", std::env::args()); std::process::exit(0) }",
        ),
    ];
    for (module, source) in allowed {
        let path: Vec<String> = module.split('/').map(String::from).collect();
        assert_eq!(
            broken(source, &path, &order),
            Vec::<String>::new(),
            "{module}: {source}"
        );
    }
}
