//! .xlsx: a zip file with a list of sheets, one file for each sheet, and the texts of all of them in another.

use super::dates::{self, Format};
use super::{At, Bad, Book, Cell, Cells, MOST_SHEETS, Sheet, takes, too_many_sheets};
use crate::codec::xml::{BadXml, Step, Walk};
use crate::findings::Outcome;
use quick_xml::events::BytesStart;
use std::collections::HashMap;
use std::rc::Rc;

/// The file that every such workbook has.
pub(super) const TYPES: &str = "[Content_Types].xml";
/// The file that the binary form of it (.xlsb) has.
pub(super) const BINARY: &str = "xl/workbook.bin";
/// Most columns by the format (ISO/IEC 29500-1, 18.3.1.13 with the limits of the programs that write it), and most rows.
const MOST: At = (1_048_576, 16_384);

pub(super) fn sheets(book: &mut Book) -> Outcome<Vec<Sheet>> {
    let root = links(book, "_rels/.rels", "")?;
    let main = root.of_kind("officeDocument");
    let main = main.unwrap_or_else(|| "xl/workbook.xml".to_owned());
    let (folder, own) = main.rsplit_once('/').unwrap_or(("", &main));
    let linked = links(book, &format!("{folder}/_rels/{own}.rels"), folder)?;
    let text = book.needed(&main)?;
    let list = listed(&text).map_err(|bad| book.no_sheet(&main, bad.into()))?;
    let texts = match linked.of_kind("sharedStrings") {
        Some(name) => read(book, &name, shared)?,
        None => Vec::new(),
    };
    let formats = match linked.of_kind("styles") {
        Some(name) => read(book, &name, |text, _| Ok(styles(text)?))?,
        None => Vec::new(),
    };
    let mut sheets = Vec::new();
    for (name, id, hidden) in list.sheets {
        // A sheet that is a chart has no cells.
        let Some((kind, target)) = linked.0.get(&id).cloned() else {
            continue;
        };
        if kind != "worksheet" {
            continue;
        }
        let known = Known {
            texts: &texts,
            formats: &formats,
            from_1904: list.from_1904,
        };
        sheets.push(read(book, &target, |text, book| {
            sheet(text, &known, Cells::of(name, hidden, &mut book.room))
        })?);
    }
    Ok(sheets)
}

/// Reads a file inside that has to be there.
fn read<T>(
    book: &mut Book,
    name: &str,
    of: impl FnOnce(&str, &mut Book) -> Result<T, Bad>,
) -> Outcome<T> {
    let text = book.needed(name)?;
    let made = of(&text, book);
    made.map_err(|bad| book.no_sheet(name, bad))
}

/// What a file links to: kind and path by id.
struct Links(HashMap<String, (String, String)>);

impl Links {
    fn of_kind(&self, kind: &str) -> Option<String> {
        let mut all = self.0.values().filter(|(own, _)| own == kind);
        // Of several (a program writes one) the first by name, whatever order a map has.
        let first = all.next()?.1.clone();
        Some(all.fold(first, |first, (_, next)| first.min(next.clone())))
    }
}

/// The links of a file in a folder; none where it has none.
fn links(book: &mut Book, name: &str, folder: &str) -> Outcome<Links> {
    let mut links = HashMap::new();
    if let Some(text) = book.text(name)? {
        let mut read = || -> Result<(), BadXml> {
            let mut walk = Walk::over(&text);
            while let Some(step) = walk.step()? {
                let Step::Opens(start) = step else { continue };
                let of = |key: &str| walk.attribute(&start, key);
                if let (Some(id), Some(kind), Some(target)) =
                    (of("Id")?, of("Type")?, of("Target")?)
                {
                    let kind = kind.rsplit('/').next().unwrap_or("").to_owned();
                    links.insert(id, (kind, path(folder, &target)));
                }
            }
            Ok(())
        };
        read().map_err(|bad| book.no_sheet(name, bad.into()))?;
    }
    Ok(Links(links))
}

/// Where a link leads, from a folder in the archive.
fn path(folder: &str, target: &str) -> String {
    if let Some(whole) = target.strip_prefix('/') {
        return whole.to_owned();
    }
    let mut parts: Vec<&str> = folder.split('/').filter(|part| !part.is_empty()).collect();
    for part in target.split('/') {
        match part {
            ".." => drop(parts.pop()),
            "." | "" => {}
            part => parts.push(part),
        }
    }
    parts.join("/")
}

/// The list of sheets.
#[derive(Default)]
struct List {
    /// Names, ids of their links, and whether they are hidden.
    sheets: Vec<(String, String, bool)>,
    from_1904: bool,
}

fn listed(text: &str) -> Result<List, BadXml> {
    let mut list = List::default();
    let mut walk = Walk::over(text);
    while let Some(step) = walk.step()? {
        let Step::Opens(start) = step else { continue };
        match walk.open().last().map(String::as_str) {
            Some("workbookPr") => {
                let from = walk.attribute(&start, "date1904")?;
                list.from_1904 = from.is_some_and(|from| from == "1" || from == "true");
            }
            Some("sheet") => {
                let name = walk.attribute(&start, "name")?.unwrap_or_default();
                // `sheetId` is another one; the link has a prefix.
                if let Some(id) = walk.attribute(&start, "id")? {
                    // `hidden`, or `veryHidden`, which only a program shows again.
                    let state = walk.attribute(&start, "state")?;
                    let hidden = state.is_some_and(|state| state != "visible");
                    if list.sheets.len() == MOST_SHEETS {
                        return Err(walk.bad(too_many_sheets()));
                    }
                    list.sheets.push((name, id, hidden));
                }
            }
            _ => {}
        }
    }
    Ok(list)
}

/// The texts that cells name by number: all pieces of each, without how it is pronounced.
fn shared(text: &str, book: &mut Book) -> Result<Vec<Rc<str>>, Bad> {
    let mut walk = Walk::over(text);
    let mut texts = Vec::new();
    let mut one = String::new();
    while let Some(step) = walk.step()? {
        let open = walk.open();
        match (step, open.last().map(String::as_str)) {
            (Step::Opens(_), Some("si")) => one.clear(),
            (Step::Closes(heard), Some("t")) if !is_spoken(open) => one.push_str(&heard),
            (Step::Closes(_), Some("si")) => {
                takes(&mut book.room, &walk, &one)?;
                texts.push(Rc::from(one.as_str()));
            }
            _ => {}
        }
    }
    Ok(texts)
}

/// Whether a piece of text says how another is pronounced.
fn is_spoken(open: &[String]) -> bool {
    open.iter().any(|name| name == "rPh")
}

/// What the styles that cells name make of numbers.
fn styles(text: &str) -> Result<Vec<Format>, BadXml> {
    let mut walk = Walk::over(text);
    let mut own: HashMap<u32, Format> = HashMap::new();
    let mut formats = Vec::new();
    while let Some(step) = walk.step()? {
        let Step::Opens(start) = step else { continue };
        let id = |walk: &Walk| -> Result<Option<u32>, BadXml> {
            let id = walk.attribute(&start, "numFmtId")?;
            Ok(id.and_then(|id| id.parse().ok()))
        };
        match walk.open() {
            [.., around, name] if around == "numFmts" && name == "numFmt" => {
                let code = walk.attribute(&start, "formatCode")?;
                if let (Some(id), Some(code)) = (id(&walk)?, code) {
                    own.insert(id, Format::written(&code));
                }
            }
            [.., around, name] if around == "cellXfs" && name == "xf" => {
                let id = id(&walk)?.unwrap_or(0);
                let format = own.get(&id).copied();
                formats.push(format.unwrap_or_else(|| Format::built_in(id)));
            }
            _ => {}
        }
    }
    Ok(formats)
}

/// What all sheets of a workbook share.
struct Known<'a> {
    texts: &'a [Rc<str>],
    formats: &'a [Format],
    from_1904: bool,
}

/// A cell while it is read.
#[derive(Default)]
struct Open {
    column: usize,
    kind: String,
    format: Option<Format>,
    value: Option<String>,
    inline: String,
    is_formula: bool,
}

fn sheet(text: &str, known: &Known, mut cells: Cells) -> Result<Sheet, Bad> {
    let mut walk = Walk::over(text);
    let mut row = (0, Vec::new());
    let mut cell = Open::default();
    let mut next_column = 0;
    while let Some(step) = walk.step()? {
        let open = walk.open();
        let Some(element) = open.last().map(String::as_str) else {
            continue;
        };
        match step {
            Step::Opens(start) => match element {
                "row" => {
                    let number = walk.attribute(&start, "r")?;
                    let number = match number {
                        Some(number) => number.parse().ok(),
                        None => Some(row.0 + 1),
                    };
                    // In order, each once: what a row says of itself decides where its cells lie.
                    let number = number.filter(|number| *number > row.0 && *number <= MOST.0);
                    let bad = "a row has no number, or not one after that of the row before";
                    let number = number.ok_or_else(|| Bad::at(&walk, bad.to_owned()))?;
                    row = (number, Vec::new());
                    next_column = 0;
                }
                "c" => {
                    cell = begun(&walk, &start, row.0, next_column, known)?;
                    next_column = cell.column + 1;
                }
                "f" => cell.is_formula = true,
                "mergeCell" => {
                    let range = walk.attribute(&start, "ref")?.unwrap_or_default();
                    let ends = range.split_once(':').map(|(a, b)| [a, b].map(place));
                    if let Some([Some(first), Some(last)]) = ends {
                        takes(cells.room, &walk, "")?;
                        cells.sheet.merged.push([first, last]);
                    }
                }
                _ => {}
            },
            Step::Closes(heard) => match element {
                "v" => cell.value = Some(heard),
                "t" if !is_spoken(open) => cell.inline.push_str(&heard),
                "c" => {
                    let cell = std::mem::take(&mut cell);
                    let column = cell.column;
                    let content = content(cell, known).map_err(|what| Bad::at(&walk, what))?;
                    row.1.extend(content.map(|content| (column, content)));
                }
                "row" => {
                    let full = std::mem::take(&mut row.1);
                    cells.row(&walk, row.0, full)?;
                }
                _ => {}
            },
        }
    }
    cells.uncover(&walk)?;
    Ok(cells.sheet)
}

fn begun(
    walk: &Walk,
    start: &BytesStart,
    row: usize,
    next_column: usize,
    known: &Known,
) -> Result<Open, BadXml> {
    let column = match walk.attribute(start, "r")? {
        None => next_column,
        Some(name) => match place(&name) {
            Some((own, column)) if own == row && column >= next_column => column,
            _ => {
                let name = name.escape_debug();
                return Err(walk.bad(format!(
                    "the cell '{name}' is not where it stands, in row {row}"
                )));
            }
        },
    };
    if column >= MOST.1 {
        return Err(walk.bad(format!("the row {row} has more than {} cells", MOST.1)));
    }
    let style = walk
        .attribute(start, "s")?
        .and_then(|style| style.parse::<usize>().ok());
    Ok(Open {
        column,
        kind: walk.attribute(start, "t")?.unwrap_or_default(),
        format: style.and_then(|style| known.formats.get(style)).copied(),
        ..Open::default()
    })
}

/// What a cell holds; `None` where it is empty.
fn content(cell: Open, known: &Known) -> Result<Option<Cell>, String> {
    let given = cell
        .value
        .as_deref()
        .map(str::trim)
        .filter(|value| !value.is_empty());
    let text = |text: &str| Some(Cell::Text(Rc::from(text))).filter(|_| !text.trim().is_empty());
    let value = match (cell.kind.as_str(), given) {
        ("inlineStr", _) => return Ok(text(&cell.inline)),
        // A formula may come to an empty text.
        ("str", _) => return Ok(cell.value.as_deref().and_then(text)),
        (_, None) => return Ok(cell.is_formula.then_some(Cell::NoResult)),
        (_, Some(value)) => value,
    };
    match cell.kind.as_str() {
        "s" => {
            let shared = value
                .parse::<usize>()
                .ok()
                .and_then(|at| known.texts.get(at));
            let shared = shared.ok_or_else(|| {
                format!(
                    "a cell has the text number '{}', which is not there",
                    value.escape_debug()
                )
            })?;
            Ok(Some(Cell::Text(Rc::clone(shared))).filter(|_| !shared.trim().is_empty()))
        }
        "b" => Ok(text(if value == "1" { "true" } else { "false" })),
        "e" => Ok(Some(Cell::Error(Rc::from(value)))),
        "d" => Ok(text(value)),
        "" | "n" => {
            let number = value
                .parse::<f64>()
                .ok()
                .filter(|number| number.is_finite());
            let number = number
                .ok_or_else(|| format!("a cell has the number '{}'", value.escape_debug()))?;
            let date = match cell.format {
                Some(Format::Percent) => return Ok(Some(Cell::Percent(Rc::from(value)))),
                Some(format @ (Format::Date | Format::Time | Format::Elapsed)) => {
                    dates::text(number, format, known.from_1904)
                }
                Some(Format::Number) | None => None,
            };
            Ok(text(date.as_deref().unwrap_or(value)))
        }
        other => Err(format!("a cell is of the kind '{}'", other.escape_debug())),
    }
}

/// `C7` as row 7 and column 2.
fn place(name: &str) -> Option<At> {
    let name = name.replace('$', "");
    let digits = name.find(|letter: char| letter.is_ascii_digit())?;
    let (letters, digits) = name.split_at(digits);
    if letters.is_empty() || letters.len() > 3 {
        return None;
    }
    let mut column = 0;
    for letter in letters.bytes() {
        let letter = letter.to_ascii_uppercase();
        if !letter.is_ascii_uppercase() {
            return None;
        }
        column = column * 26 + usize::from(letter - b'A') + 1;
    }
    let row = digits
        .parse()
        .ok()
        .filter(|row| (1..=MOST.0).contains(row))?;
    Some((row, column - 1))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::read::sheet::cell_name;

    #[test]
    fn cells_have_names() {
        for (name, at) in [
            ("A1", (1, 0)),
            ("Z9", (9, 25)),
            ("AA10", (10, 26)),
            ("XFD1048576", (1_048_576, 16_383)),
        ] {
            assert_eq!(place(name), Some(at));
            assert_eq!(cell_name(at), name);
        }
        for none in ["", "A", "7", "A0", "AAAA1", "A1048577", "A-1", "\u{c4}1"] {
            assert_eq!(place(none), None, "{none}");
        }
    }

    #[test]
    fn links_lead_from_a_folder() {
        assert_eq!(
            path("xl", "worksheets/sheet1.xml"),
            "xl/worksheets/sheet1.xml"
        );
        assert_eq!(path("xl", "/xl/styles.xml"), "xl/styles.xml");
        assert_eq!(path("xl/a", "../b.xml"), "xl/b.xml");
    }
}
