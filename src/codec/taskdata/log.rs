//! The records of a time log: a header (an element tree) says which fields each record has.
//!
//! Layout from the public schema of time logs, version 4.3, and from what independent libraries agree
//! on: little-endian, packed, only fields whose attribute in the header is empty.

use super::Element;
use crate::codec::room;
use crate::coordinates::LonLat;

/// Most records of one log: at ten a second, four days and nights. What follows is left.
pub const MOST_RECORDS: usize = 4_000_000;

/// A record names its columns in one byte; further ones cannot have a value in any.
const MOST_COLUMNS: usize = 256;

/// Records that a log may have, however short they are.
const SHORT: usize = 1000;

/// Most records that are read of so many bytes. A record with a time or a position has more bytes than the bound
/// asks for; of those without either, which say nothing, not all are held.
fn most_records(bytes: usize) -> usize {
    (SHORT + bytes.saturating_mul(room::TIMES) / size_of::<LogRecord>()).min(MOST_RECORDS)
}

/// What a value of a log is.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct LogColumn {
    /// Data dictionary number; `None` if the header's text is none.
    pub ddi: Option<u16>,
    /// Id of the device element.
    pub element: Option<String>,
    /// The value of all records, where the header gives one.
    pub constant: Option<i32>,
}

/// One record.
#[derive(Debug, Clone, PartialEq)]
pub struct LogRecord {
    /// Days since 1 January 1980 and milliseconds since midnight, in the terminal's own time.
    pub day: u16,
    pub millisecond: u32,
    /// Longitude and latitude in degrees; `None` where the log has none, or says 0, 0.
    pub lon_lat: Option<LonLat>,
    /// Position status as the standard numbers it (0: none, 4: fixed to the centimetre, ...).
    pub status: Option<u8>,
    /// Index of the column, raw value.
    pub values: Vec<(u8, i32)>,
}

/// A log, as far as it can be read.
#[derive(Debug, Clone, PartialEq)]
pub struct Log {
    pub columns: Vec<LogColumn>,
    pub records: Vec<LogRecord>,
    /// Bytes at the end that make no whole record, or lie beyond the last one that is read.
    pub left_bytes: usize,
}

/// Reads the records of a log. A record that is cut off ends it: terminals that lose power leave such.
pub fn decode_log(header: &Element, bytes: &[u8]) -> Log {
    let columns = header
        .children
        .iter()
        .filter(|child| child.tag == "DLV")
        .take(MOST_COLUMNS)
        .map(|child| LogColumn {
            ddi: child.get("A").and_then(super::parse_ddi),
            element: child.get("C").map(str::to_string),
            constant: child.get("B").and_then(|value| value.trim().parse().ok()),
        })
        .collect();
    let position = header.children.iter().find(|child| child.tag == "PTN");
    let mut rest = bytes;
    let mut records = Vec::new();
    let most = most_records(bytes.len());
    while let Some((record, after)) = record(header, position, rest) {
        if records.len() == most {
            break;
        }
        records.push(record);
        rest = after;
    }
    Log {
        columns,
        records,
        left_bytes: rest.len(),
    }
}

/// The header and the records of a log, as a terminal writes them: time, position and status in each record,
/// and of the values those that the record has. Positions are rounded to 1e-7 degrees; a record without one
/// says 0, 0. Of a record's values the first 255 are written.
pub fn encode_log(columns: &[LogColumn], records: &[LogRecord]) -> (Element, Vec<u8>) {
    let position = Element::new("PTN")
        .with("A", "")
        .with("B", "")
        .with("D", "");
    let value = |column: &LogColumn| {
        let value = Element::new("DLV")
            .with("A", super::ddi(column.ddi.unwrap_or(0)))
            .with(
                "B",
                column
                    .constant
                    .map_or(String::new(), |value| value.to_string()),
            );
        match &column.element {
            Some(element) => value.with("C", element),
            None => value,
        }
    };
    let header = Element::new("TIM")
        .with("A", "")
        .with("D", 4)
        .child(position)
        .children(columns.iter().map(value));
    let mut bytes = Vec::new();
    for record in records {
        bytes.extend(record.millisecond.to_le_bytes());
        bytes.extend(record.day.to_le_bytes());
        let LonLat { lon, lat } = record.lon_lat.unwrap_or_default();
        for degrees in [lat, lon] {
            bytes.extend(((degrees * 1e7).round() as i32).to_le_bytes());
        }
        bytes.push(record.status.unwrap_or(0));
        let values = record.values.get(..255).unwrap_or(&record.values);
        bytes.push(values.len() as u8);
        for (column, value) in values {
            bytes.push(*column);
            bytes.extend(value.to_le_bytes());
        }
    }
    (header, bytes)
}

/// One record and what follows it; `None` if no whole one is left.
fn record<'a>(
    header: &Element,
    position: Option<&Element>,
    bytes: &'a [u8],
) -> Option<(LogRecord, &'a [u8])> {
    let mut rest = bytes;
    let mut millisecond = 0;
    let mut day = 0;
    if header.get("A").is_none_or(str::is_empty) {
        millisecond = u32::from_le_bytes(take(&mut rest)?);
        day = u16::from_le_bytes(take(&mut rest)?);
    }
    let empty = |name: &str| {
        position
            .and_then(|p| p.get(name))
            .is_some_and(str::is_empty)
    };
    let fixed = |name: &str| position.and_then(|p| p.get(name)?.trim().parse::<f64>().ok());
    let mut degrees = |name: &str| -> Option<Option<f64>> {
        if empty(name) {
            return Some(Some(f64::from(i32::from_le_bytes(take(&mut rest)?)) * 1e-7));
        }
        Some(fixed(name))
    };
    let (north, east) = (degrees("A")?, degrees("B")?);
    let skip = |rest: &mut &'a [u8], name: &str, bytes: usize| -> Option<()> {
        if empty(name) {
            *rest = rest.get(bytes..)?;
        }
        Some(())
    };
    skip(&mut rest, "C", 4)?;
    let mut status = fixed("D").map(|value| value as u8);
    if empty("D") {
        let [byte] = take(&mut rest)?;
        status = Some(byte);
    }
    for (name, bytes) in [("E", 2), ("F", 2), ("G", 1), ("H", 4), ("I", 2)] {
        skip(&mut rest, name, bytes)?;
    }
    let [count] = take(&mut rest)?;
    let mut values = Vec::with_capacity(usize::from(count));
    for _ in 0..count {
        let [column] = take(&mut rest)?;
        values.push((column, i32::from_le_bytes(take(&mut rest)?)));
    }
    let lon_lat = east.zip(north).map(|(lon, lat)| LonLat::new(lon, lat));
    let usable = |LonLat { lon, lat }: &LonLat| {
        (*lon != 0.0 || *lat != 0.0) && lon.abs() <= 180.0 && lat.abs() <= 90.0
    };
    let record = LogRecord {
        day,
        millisecond,
        lon_lat: lon_lat.filter(usable),
        status,
        values,
    };
    Some((record, rest))
}

fn take<const N: usize>(rest: &mut &[u8]) -> Option<[u8; N]> {
    let (head, tail) = rest.split_first_chunk::<N>()?;
    *rest = tail;
    Some(*head)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn header() -> Element {
        let position = ["A", "B", "C", "D", "E", "F", "G", "H", "I"]
            .iter()
            .fold(Element::new("PTN"), |ptn, name| ptn.with(*name, ""));
        let value = |ddi: &str, element: &str| {
            Element::new("DLV")
                .with("A", ddi)
                .with("B", "")
                .with("C", element)
        };
        Element::new("TIM")
            .with("A", "")
            .with("D", 4)
            .child(position)
            .child(value("0007", "DET2"))
            .child(value("000C", "DET3"))
    }

    /// A record of 41 bytes as an independent library reads it: noon, 16801 days after 1 January
    /// 1980, 50.0005 north, 8.0010 east, fixed, 90 kg/ha and 300 grains/m2.
    fn bytes() -> Vec<u8> {
        let mut bytes = 43_200_000_u32.to_le_bytes().to_vec();
        bytes.extend(16_801_u16.to_le_bytes());
        bytes.extend(500_005_000_i32.to_le_bytes());
        bytes.extend(80_010_000_i32.to_le_bytes());
        bytes.extend(123_456_i32.to_le_bytes());
        bytes.push(4);
        bytes.extend(15_u16.to_le_bytes());
        bytes.extend(9_u16.to_le_bytes());
        bytes.push(12);
        bytes.extend(43_200_000_u32.to_le_bytes());
        bytes.extend(16_801_u16.to_le_bytes());
        bytes.push(2);
        bytes.push(0);
        bytes.extend(9_000_i32.to_le_bytes());
        bytes.push(1);
        bytes.extend(300_000_i32.to_le_bytes());
        bytes
    }

    #[test]
    fn a_record_is_read_as_the_standard_lays_it_out() {
        let bytes = bytes();
        assert_eq!(bytes.len(), 41);
        let log = decode_log(&header(), &bytes.repeat(2));
        assert_eq!((log.records.len(), log.left_bytes), (2, 0));
        let record = &log.records[1];
        assert_eq!((record.day, record.millisecond), (16_801, 43_200_000));
        let LonLat { lon, lat } = record.lon_lat.unwrap();
        assert!((lon - 8.001).abs() < 1e-12 && (lat - 50.0005).abs() < 1e-12);
        assert_eq!(record.status, Some(4));
        assert_eq!(record.values, [(0, 9_000), (1, 300_000)]);
        assert_eq!(log.columns[1].ddi, Some(12));
        assert_eq!(log.columns[0].element.as_deref(), Some("DET2"));
    }

    #[test]
    fn fields_that_the_header_leaves_out_are_not_there() {
        let header = Element::new("TIM").with("A", "").child(
            Element::new("PTN")
                .with("A", "")
                .with("B", "")
                .with("D", "1"),
        );
        let mut bytes = vec![0; 6];
        bytes.extend([0; 8]);
        bytes.push(0);
        let log = decode_log(&header, &bytes);
        assert_eq!((log.records.len(), log.left_bytes), (1, 0));
        // 0, 0 means that there was no position.
        assert_eq!(log.records[0].lon_lat, None);
        assert_eq!(log.records[0].status, Some(1));
    }

    #[test]
    fn what_is_written_reads_back() {
        let columns = vec![
            LogColumn {
                ddi: Some(7),
                element: Some("DET2".to_string()),
                constant: None,
            },
            LogColumn {
                ddi: Some(141),
                element: None,
                constant: Some(1),
            },
        ];
        let record = |millisecond, lon_lat, values: &[(u8, i32)]| LogRecord {
            day: 17_000,
            millisecond,
            lon_lat,
            status: Some(4),
            values: values.to_vec(),
        };
        let records = vec![
            record(
                0,
                Some(LonLat::new(-8.123_456_7, 50.5)),
                &[(0, 9_000), (1, 1)],
            ),
            record(1_000, None, &[]),
            record(2_000, Some(LonLat::new(-8.1, -50.5)), &[(0, -1)]),
        ];
        let (header, bytes) = encode_log(&columns, &records);
        let log = decode_log(&header, &bytes);
        assert_eq!((log.columns, log.left_bytes), (columns, 0));
        for (read, written) in log.records.iter().zip(&records) {
            assert_eq!(
                (read.millisecond, &read.values),
                (written.millisecond, &written.values)
            );
            assert_eq!(read.lon_lat.is_some(), written.lon_lat.is_some());
            let pair = |of: &LogRecord| of.lon_lat.map(LonLat::pair).into_iter().flatten();
            for (a, b) in pair(read).zip(pair(written)) {
                assert!((a - b).abs() < 1e-9);
            }
        }
        assert_eq!(log.records.len(), 3);
    }

    #[test]
    fn a_cut_ends_the_log_quietly() {
        let bytes = bytes().repeat(2);
        for cut in 0..bytes.len() {
            let log = decode_log(&header(), &bytes[..cut]);
            assert_eq!(log.records.len(), cut / 41);
            assert_eq!(log.left_bytes, cut % 41);
        }
        // A header without any field must not make it turn on the spot.
        let log = decode_log(&Element::new("TIM").with("A", "2020"), &[0; 9]);
        assert_eq!(log.records.len(), 9);
    }
}
