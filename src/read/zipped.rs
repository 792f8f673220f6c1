//! Zip files: what is inside, how much may come out, and what to do with one that holds none of what is read.

use super::file::{self, listed, size};
use crate::findings::{Fault, Outcome, Place};
use std::fs::File;
use std::io::{BufReader, Read};
use std::path::{Path, PathBuf};
use zip::ZipArchive;

/// Bytes that may come out of any zip file.
const ALWAYS: u64 = 100_000_000;
/// Bytes that may come out beyond those, for each byte of the zip file. Map files pack to a half or a
/// tenth; a table of blanks to a hundredth, but then it is small.
const TIMES: u64 = 20;

/// An open zip file.
pub(super) struct Zipped {
    path: PathBuf,
    archive: ZipArchive<BufReader<File>>,
    /// Names of all entries, by index, with `/` between folders.
    pub(super) names: Vec<String>,
    /// Bytes that may come out of it, all entries together, and those that still may.
    most: u64,
    left: u64,
}

impl Zipped {
    /// Opens a zip file and lists its entries.
    pub(super) fn open(path: &Path) -> Outcome<Self> {
        let file = file::opened(path)?;
        let length = file.metadata().map_or(0, |about| about.len());
        let broken = |error: zip::result::ZipError| damaged(path, &error);
        let mut archive = ZipArchive::new(BufReader::new(file)).map_err(broken)?;
        let names = (0..archive.len())
            .map(|at| {
                // Raw: names can be listed even where the packing method is not known.
                let entry = archive.by_index_raw(at).map_err(broken)?;
                let name = entry.name().map_err(|error| damaged(path, &error))?;
                Ok(name.replace('\\', "/"))
            })
            .collect::<Outcome<Vec<_>>>()?;
        let most = ALWAYS.saturating_add(length.saturating_mul(TIMES));
        Ok(Self {
            path: path.to_path_buf(),
            archive,
            names,
            most,
            left: most,
        })
    }

    /// The bytes of an entry, at most so many. The size that the zip file states is not believed: the buffer
    /// grows with what comes out.
    pub(super) fn unpack(&mut self, at: usize, largest: u64) -> Outcome<Vec<u8>> {
        let name = self.names.get(at).cloned().unwrap_or_default();
        let path = &self.path;
        let broken = |error: &dyn std::fmt::Display| {
            let mut fault = damaged(path, error);
            fault.place.layer = Some(name.clone());
            fault
        };
        let entry = self.archive.by_index(at).map_err(|error| broken(&error))?;
        let most = largest.min(self.left);
        // Reserved in one piece where the stated size is possible: a growing buffer is held twice.
        let stated = usize::try_from(entry.size().min(most)).unwrap_or(0);
        let mut bytes = Vec::with_capacity(stated.min(ALWAYS as usize));
        entry
            .take(most + 1)
            .read_to_end(&mut bytes)
            .map_err(|error| broken(&error))?;
        if bytes.len() as u64 <= most {
            self.left -= bytes.len() as u64;
            return Ok(bytes);
        }
        let allowed = match most == largest {
            true => format!("files of up to {} in it", size(largest)),
            false => format!(
                "up to {} out of this zip file, which is {} and {TIMES} times its size",
                size(self.most),
                size(ALWAYS)
            ),
        };
        Err(Fault::input(
            "read.zip_size",
            Place::file(&self.path).layer(name),
            format!("More than {} come out of this file", size(most)),
            allowed,
            "If you trust the file, unpack it and name what is inside; if not, ask for it again.",
        ))
    }
}

/// The fault for a zip file that holds nothing of what is wanted.
pub(super) fn nothing_to_read(path: &Path, names: &[String]) -> Box<Fault> {
    let (found, next) = told(names);
    Fault::input(
        "read.zip_without_shapefile",
        Place::file(path),
        found,
        "a zip file with the files of a shapefile, with a KML file, or with TASKDATA.XML and what belongs to it",
        next,
    )
}

/// Formats by the ending of their files: what they are called, and what to do with them.
const BY_ENDING: [(&[&str], &str, &str); 7] = [
    (
        &[
            "gpkg", "geojson", "json", "csv", "tsv", "xlsx", "ods", "tif", "tiff", "asc", "gpx",
            "gml",
        ],
        "a file that is read only outside of a zip file",
        "Unpack it and name the file inside.",
    ),
    (
        &["gdbtable", "gdbtablx"],
        "a file geodatabase (.gdb)",
        "Open it in a GIS and export the layer as GeoPackage.",
    ),
    (
        &["dxf", "dwg"],
        "a drawing (CAD)",
        "Open it in a GIS, say which CRS it is in, and export the polygons as GeoPackage.",
    ),
    (
        &["tab", "mif", "fgb", "parquet", "sqlite", "topojson"],
        "a map in a format that is not read here",
        "Open it in a GIS and export the layer as GeoPackage or GeoJSON.",
    ),
    (
        &["zip", "shz", "kmz", "7z", "rar", "tar", "gz"],
        "another archive",
        "Unpack it and name the archive or the map file inside.",
    ),
    (
        &["dbf", "shx", "prj", "cpg"],
        "side files of a shapefile without their .shp",
        "Get the .shp file that belongs to them.",
    ),
    (
        &["jp2", "ecw", "img", "png", "jpg", "pdf"],
        "a picture",
        "Export the map itself, as GeoPackage, shapefile or GeoTIFF.",
    ),
];

/// What a zip file holds, in words, and what to do.
fn told(names: &[String]) -> (String, String) {
    let has = |part: &str| names.iter().any(|name| name == part);
    let starts = |part: &str| names.iter().any(|name| name.starts_with(part));
    if names.is_empty() {
        return (
            "The zip file is empty".to_owned(),
            "Pack it again, or name the map file itself.".to_owned(),
        );
    }
    let sheet = "Save the sheet as CSV, with the names of the columns in the first line.";
    if has("[Content_Types].xml") {
        let what = match starts("xl/") {
            true => "a workbook of a spreadsheet program in its binary form (.xlsb)",
            false => "a document of an office program",
        };
        return (format!("This is {what}"), sheet.to_owned());
    }
    if has("mimetype") && has("encrypted-package") {
        return (
            "This is a workbook, or another document of an office program, with a password".to_owned(),
            "Save it in the spreadsheet program as .xlsx or .ods without a password, or the sheet as CSV."
                .to_owned(),
        );
    }
    if has("mimetype") && has("content.xml") {
        let what = "This is a document of an office program, and no workbook (.odt)";
        return (what.to_owned(), sheet.to_owned());
    }
    // Shadow files that one system packs beside the real ones are no content.
    let real = names.iter().filter(|name| {
        let own = name.rsplit('/').next().unwrap_or(name);
        !name.starts_with("__MACOSX/") && !own.is_empty() && !own.starts_with("._")
    });
    let real: Vec<&String> = real.collect();
    let ending = |name: &str| {
        let own = name.rsplit('/').next().unwrap_or(name);
        own.rsplit_once('.').map(|(_, end)| end.to_lowercase())
    };
    for (endings, what, next) in BY_ENDING {
        let found = real
            .iter()
            .find(|name| ending(name).is_some_and(|end| endings.contains(&end.as_str())));
        if let Some(name) = found {
            return (
                format!("The zip file holds no shapefile, but '{name}': {what}"),
                next.to_owned(),
            );
        }
    }
    (
        format!(
            "The zip file holds no shapefile, only {}",
            listed(real.iter().map(|name| name.as_str()))
        ),
        "Unpack it and name the map file inside.".to_owned(),
    )
}

/// The fault for what cannot be unpacked.
pub(super) fn damaged(path: &Path, error: &dyn std::fmt::Display) -> Box<Fault> {
    Fault::input(
        "read.zip",
        Place::file(path),
        format!("The zip file cannot be unpacked ({error})"),
        "a whole zip file without password, packed the common way (deflate)",
        "Copy it again, or unpack it and name what is inside.",
    )
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::io::Write;
    use zip::write::SimpleFileOptions;

    fn packed(files: &[(&str, &[u8])]) -> (tempfile::TempDir, PathBuf) {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("a.zip");
        let mut zip = zip::ZipWriter::new(File::create(&path).unwrap());
        for (name, bytes) in files {
            zip.start_file(*name, SimpleFileOptions::default()).unwrap();
            zip.write_all(bytes).unwrap();
        }
        zip.finish().unwrap();
        (folder, path)
    }

    #[test]
    fn more_than_the_bound_does_not_come_out() {
        let zeros = vec![0; 60_000_000];
        let (_folder, path) = packed(&[("a.shp", &zeros), ("a.dbf", &zeros)]);
        let mut zipped = Zipped::open(&path).unwrap();
        assert_eq!(zipped.unpack(0, 1 << 31).unwrap().len(), zeros.len());
        let fault = zipped.unpack(1, 1 << 31).unwrap_err();
        assert_eq!(fault.code, "read.zip_size");
        assert!(fault.allowed.contains("100 MB and 20 times"), "{fault}");
        let mut zipped = Zipped::open(&path).unwrap();
        assert_eq!(zipped.unpack(0, 1000).unwrap_err().code, "read.zip_size");
    }

    #[test]
    fn a_zip_file_of_another_format_is_called_by_its_name() {
        for (names, found, next) in [
            (
                &["[Content_Types].xml", "xl/workbook.bin"][..],
                ".xlsb",
                "CSV",
            ),
            (&["mimetype", "content.xml"], ".odt", "CSV"),
            (&["doc.kmz"], "another archive", "Unpack"),
            (
                &["farm.gdb/a00000001.gdbtable"],
                "geodatabase",
                "GeoPackage",
            ),
            (
                &["__MACOSX/._f.gpkg", "f/farm.gpkg"],
                "'f/farm.gpkg'",
                "Unpack",
            ),
            (&["inner.zip"], "another archive", "Unpack"),
            (&["a.dbf", "a.prj"], "without their .shp", ".shp"),
            (&["readme.txt"], "'readme.txt'", "Unpack"),
            (&[], "empty", "Pack"),
        ] {
            let names: Vec<String> = names.iter().map(|name| name.to_string()).collect();
            let fault = nothing_to_read(Path::new("a.zip"), &names);
            assert!(fault.found.contains(found), "{fault}");
            assert!(fault.next.contains(next), "{fault}");
        }
    }
}
