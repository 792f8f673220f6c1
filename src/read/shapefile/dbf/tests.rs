use super::*;

/// A table of text fields and numbers: fields as (name, type, length), rows with their mark.
fn table(fields: &[(&str, u8, u8)], rows: &[&[u8]]) -> Vec<u8> {
    let record: usize = 1 + fields
        .iter()
        .map(|field| usize::from(field.2))
        .sum::<usize>();
    let length = BLOCK * (fields.len() + 1) + 1;
    let mut dbf = vec![3, 126, 1, 1];
    dbf.extend((rows.len() as u32).to_le_bytes());
    dbf.extend((length as u16).to_le_bytes());
    dbf.extend((record as u16).to_le_bytes());
    dbf.resize(BLOCK, 0);
    for (name, kind, length) in fields {
        let start = dbf.len();
        dbf.extend(name.as_bytes());
        dbf.resize(start + 11, 0);
        dbf.extend([*kind, 0, 0, 0, 0, *length]);
        dbf.resize(start + BLOCK, 0);
    }
    dbf.push(0x0D);
    for row in rows {
        assert_eq!(row.len(), record);
        dbf.extend(*row);
    }
    dbf
}

fn parse(dbf: &[u8], cpg: Option<&[u8]>) -> (Outcome<Table>, Vec<Finding>) {
    let mut findings = Vec::new();
    let table = read(dbf, cpg, &Place::file("a.dbf"), &mut findings);
    (table, findings)
}

fn codes(findings: &[Finding]) -> Vec<&str> {
    findings
        .iter()
        .map(|finding| finding.code.as_ref())
        .collect()
}

#[test]
fn cells_become_values_or_are_kept_as_text() {
    let dbf = table(
        &[
            ("n", b'N', 6),
            ("f", b'F', 6),
            ("l", b'L', 1),
            ("d", b'D', 8),
        ],
        &[
            b"     12  6.50T20260315",
            b" ****** 1e2  ?        ",
            b"*     1     2F20260101",
            b" 1.#IND   nanX2026-3-1",
            b"    2,5-1e999n00000000",
        ],
    );
    let (table, findings) = parse(&dbf, None);
    let rows = table.unwrap().rows;
    let text = |text: &str| Value::Text(text.into());
    let (number, missing) = (Value::Number, Value::Missing);
    assert_eq!(
        rows[0],
        Some(vec![
            Value::Integer(12),
            number(6.5),
            Value::Flag(true),
            text("2026-03-15")
        ])
    );
    assert_eq!(
        rows[1],
        Some(vec![
            missing.clone(),
            number(100.0),
            missing.clone(),
            missing.clone()
        ])
    );
    assert_eq!(rows[2], None);
    assert_eq!(
        rows[3],
        Some(vec![
            text("1.#IND"),
            text("nan"),
            text("X"),
            text("2026-3-1")
        ])
    );
    assert_eq!(
        rows[4],
        Some(vec![
            number(2.5),
            text("-1e999"),
            Value::Flag(false),
            missing
        ])
    );
    assert_eq!(codes(&findings), ["read.odd_value"]);
    assert!(
        findings[0].message.starts_with("5 cells"),
        "{}",
        findings[0].message
    );
}

#[test]
fn the_code_page_is_said_guessed_or_doubted() {
    let dbf = table(&[("t", b'C', 4)], &[b" \xe5   ".as_slice()]);
    let text = |cpg: Option<&[u8]>| {
        let (table, findings) = parse(&dbf, cpg);
        let row = table.unwrap().rows.remove(0).unwrap();
        (row[0].to_string(), codes(&findings).join(" "))
    };
    assert_eq!(text(Some(b"1252")), ("å".into(), String::new()));
    assert_eq!(text(None), ("å".into(), "read.code_page".into()));
    assert_eq!(text(Some(b"strange")).1, "read.code_page read.code_page");
    assert_eq!(
        text(Some(b"UTF-8")),
        ("\u{fffd}".into(), "read.text".into())
    );
}

#[test]
fn a_memo_is_left_out_and_the_next_field_is_still_right() {
    let fields = [("m", b'M', 10), ("n", b'N', 3)];
    let (read, findings) = parse(&table(&fields, &[b" memo 1234   7".as_slice()]), None);
    let read = read.unwrap();
    assert_eq!(read.names, ["n"]);
    assert_eq!(read.rows, [Some(vec![Value::Integer(7)])]);
    assert_eq!(codes(&findings), ["read.attribute_type"]);
}

/// What has no width takes no byte of a row: two thousand of them would make any number of values of nothing.
#[test]
fn attributes_without_width_are_left_out_and_told_once() {
    let dbf = table(
        &[("a", b'C', 0), ("b", b'N', 2), ("c", b'N', 0)],
        &[b" 12", b" 34"],
    );
    let (table, findings) = parse(&dbf, None);
    let table = table.unwrap();
    assert_eq!(table.names, ["b"]);
    assert_eq!(table.rows[1], Some(vec![Value::Integer(34)]));
    assert_eq!(codes(&findings), ["read.attribute_type"]);
    assert!(findings[0].message.contains("2 attributes have no width"));
}

/// A row of one-letter texts takes many times its bytes.
#[test]
fn a_table_that_takes_far_more_than_its_file_is_refused() {
    let names: Vec<String> = (0..250).map(|nth| format!("f{nth}")).collect();
    let fields: Vec<(&str, u8, u8)> = names.iter().map(|name| (&name[..], b'C', 1)).collect();
    let row = [&b" "[..], &[b'x'; 250]].concat();
    let few = vec![&row[..]; 10];
    assert!(parse(&table(&fields, &few), None).0.is_ok());
    let many = vec![&row[..]; 20_000];
    let fault = parse(&table(&fields, &many), None).0.unwrap_err();
    assert_eq!(fault.code, "read.wide_table");
    assert!(fault.found.contains("20000 rows of 250"), "{fault}");
}
