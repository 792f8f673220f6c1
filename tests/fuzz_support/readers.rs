//! What each target does with some bytes: here for `tests/fuzz_readers.rs`, which replays and changes the kept
//! files, and for the targets in `tests/fuzz`, which learn. A fault is as good as a result where it is the
//! input's own and says where; a panic and a fault of our own are not.

use super::near;
use std::fs;
use std::io::{Cursor, Write};
use std::path::{Path, PathBuf};
use twinsow::audit;
use twinsow::cli::plan_one;
use twinsow::codec::taskdata::{decode_cells, decode_log, device, parse};
use twinsow::codec::wkb;
use twinsow::findings::{Blame, Outcome, Place};
use twinsow::job::{Job, Source};
use twinsow::read::{self, taskdata};
use zip::write::SimpleFileOptions;
use zip::{CompressionMethod, ZipWriter};

/// A result, or nothing after a fault as it should be.
fn allowed<T>(made: Outcome<T>) -> Option<T> {
    let fault = made.map_err(|fault| {
        assert!(fault.blame == Blame::Input, "our own fault: {fault}");
        assert!(fault.place != Place::nowhere(), "no place: {fault}");
    });
    fault.ok()
}

/// What is read, and then audited.
fn read_all(path: &Path) {
    for table in allowed(read::tables(path)).iter().flatten() {
        allowed(read::read(path, table.name.as_deref()));
    }
    allowed(read::read(path, None));
    allowed(audit::audit(
        &[path.to_path_buf()],
        None,
        None,
        Path::new(""),
    ));
}

/// A folder in memory where the machine has one.
fn folder() -> tempfile::TempDir {
    let in_memory = tempfile::tempdir_in("/dev/shm");
    in_memory.unwrap_or_else(|_| tempfile::tempdir().expect("a folder"))
}

/// A file with this name in a folder of its own.
fn as_file(name: &str, bytes: &[u8]) -> (tempfile::TempDir, PathBuf) {
    let folder = folder();
    let path = folder.path().join(name);
    fs::write(&path, bytes).expect("a file");
    (folder, path)
}

pub fn xml(bytes: &[u8]) {
    let Ok(root) = parse(bytes) else { return };
    for child in &root.children {
        let _ = (device(child, 3), device(child, 4));
    }
    let written = root.document().expect("text");
    parse(&written).expect("what was written reads back");
}

/// Columns, rows and values of a cell in six bytes, then the cells.
pub fn grid(bytes: &[u8]) {
    let Some((head, cells)) = bytes.split_first_chunk::<6>() else {
        return;
    };
    let number = |at: usize| usize::from(u16::from_le_bytes([head[at], head[at + 1]]));
    let [columns, rows, variables] = [number(0), number(2), number(4)];
    if let Ok(values) = decode_cells(cells, columns, rows, variables) {
        assert_eq!(values.len(), columns * rows * variables);
    }
}

/// The header, a byte of 0, then the records.
pub fn log(bytes: &[u8]) {
    let end = bytes.iter().position(|byte| *byte == 0);
    let (head, records) = bytes.split_at(end.unwrap_or(bytes.len()));
    if let Ok(header) = parse(head) {
        let log = decode_log(&header, records);
        assert!(log.left_bytes <= records.len());
    }
}

pub fn wkb(bytes: &[u8]) {
    let _ = wkb::read(bytes);
}

pub fn zip(bytes: &[u8]) {
    let (_folder, path) = as_file("x.zip", bytes);
    allowed(taskdata::read(&path));
    read_all(&path);
}

pub fn set(bytes: &[u8]) {
    read_all(unpacked(bytes).path());
}

pub fn geojson(bytes: &[u8]) {
    let (_folder, path) = as_file("x.geojson", bytes);
    read_all(&path);
}

pub fn gpx(bytes: &[u8]) {
    let (_folder, path) = as_file("x.gpx", bytes);
    read_all(&path);
}

pub fn kml(bytes: &[u8]) {
    let (_folder, path) = as_file("x.kml", bytes);
    read_all(&path);
}

pub fn shapefile(bytes: &[u8]) {
    let folder = unpacked(bytes);
    let path = folder.path().join("x.shp");
    if path.exists() {
        read_all(&path);
    }
}

pub fn geopackage(bytes: &[u8]) {
    let (_folder, path) = as_file("x.gpkg", bytes);
    read_all(&path);
}

pub fn geotiff(bytes: &[u8]) {
    raster("x.tif", bytes);
}

pub fn ascii(bytes: &[u8]) {
    raster("x.asc", bytes);
}

/// The raster as files are read and as layers are, with values where it has few.
fn raster(name: &str, bytes: &[u8]) {
    let (folder, path) = as_file(name, bytes);
    read_all(&path);
    let source = Source {
        file: path,
        ..Source::default()
    };
    let Some(raster) = allowed(read::Raster::open(&source, folder.path())) else {
        return;
    };
    let whole = read::Window {
        column: 0,
        row: 0,
        columns: raster.columns,
        rows: raster.rows,
    };
    if u64::from(raster.columns) * u64::from(raster.rows) <= 1 << 16 {
        allowed(raster.pixels(1, whole));
    }
}

pub fn csv(bytes: &[u8]) {
    let (_folder, path) = as_file("x.csv", bytes);
    read_all(&path);
}

/// A workbook: as it is, or packed from the files in it, so that what is changed is not caught by sums of the zip file.
pub fn sheet(bytes: &[u8]) {
    let (_folder, path) = match bytes.starts_with(b"==") {
        true => as_file("x.xlsx", &zipped(bytes)),
        false => as_file("x.xlsx", bytes),
    };
    read_all(&path);
}

pub fn gml(bytes: &[u8]) {
    let (_folder, path) = as_file("x.gml", bytes);
    read_all(&path);
}

/// A job file: refused with a place, or printed so that it reads back as the same job.
pub fn job(bytes: &[u8]) {
    let Ok(text) = std::str::from_utf8(bytes) else {
        return;
    };
    let file = Path::new("job.toml");
    let Some(job) = allowed(Job::parse(text, file)) else {
        return;
    };
    let printed = job.print().expect("printed");
    let again = Job::parse(&printed, file);
    let again = again.unwrap_or_else(|fault| panic!("{fault}\nin {printed}"));
    assert_eq!(again.print().expect("printed"), printed);
}

/// A field with layers, exclusions and areas made of its own border, as [`near`] draws them.
pub fn near(bytes: &[u8]) {
    let folder = folder();
    for (name, text) in near::drawn(bytes) {
        fs::write(folder.path().join(name), text).expect("a file");
    }
    let [job, out] = ["job.toml", "plan"].map(|name| folder.path().join(name));
    allowed(plan_one(&job, &out, "2026-03-20T06:00:00Z"));
}

/// A folder whose files are those of a packed one: `==NAME` in a line of its own before each.
fn unpacked(bytes: &[u8]) -> tempfile::TempDir {
    let folder = folder();
    let mut rest = bytes;
    while let Some((head, after)) = next(rest) {
        let end = (0..after.len())
            .find(|at| after[*at..].starts_with(b"\n=="))
            .unwrap_or(after.len());
        let plain = |byte: &&u8| byte.is_ascii_alphanumeric() || **byte == b'.';
        let name: Vec<u8> = head.iter().filter(plain).copied().collect();
        let name = String::from_utf8_lossy(&name).into_owned();
        if !name.trim_matches('.').is_empty() && name.len() < 40 {
            fs::write(folder.path().join(name), &after[..end]).expect("a file");
        }
        rest = after.get(end + 1..).unwrap_or_default();
    }
    folder
}

/// A zip file of the files in a packed one.
fn zipped(bytes: &[u8]) -> Vec<u8> {
    let mut zip = ZipWriter::new(Cursor::new(Vec::new()));
    let options = SimpleFileOptions::default().compression_method(CompressionMethod::Stored);
    let mut rest = bytes;
    while let Some((head, after)) = next(rest) {
        let end = (0..after.len())
            .find(|at| after[*at..].starts_with(b"\n=="))
            .unwrap_or(after.len());
        // The same name twice is none of what is tried here.
        if zip
            .start_file(String::from_utf8_lossy(head), options)
            .is_ok()
        {
            zip.write_all(&after[..end]).expect("memory");
        }
        rest = after.get(end + 1..).unwrap_or_default();
    }
    zip.finish().expect("memory").into_inner()
}

/// The name after the next mark, and what follows its line.
fn next(bytes: &[u8]) -> Option<(&[u8], &[u8])> {
    let rest = bytes.strip_prefix(b"==")?;
    let line = rest.iter().position(|byte| *byte == b'\n')?;
    Some((&rest[..line], &rest[line + 1..]))
}
