//! One map and one table of totals for all fields of a job, written field by field.

use super::attributes::{self, Value};
use super::{Written, disk, geojson, tables};
use crate::findings::{Fault, Outcome, Place};
use crate::plan::Plan;
use crate::units::M2_PER_HA;
use std::fs::File;
use std::io::ErrorKind;
use std::io::{BufWriter, Read, Write};
use std::path::{Path, PathBuf};

/// Name of the map.
pub const MAP: &str = "all-fields.geojson";
/// Name of the table.
pub const TABLE: &str = "all-fields.csv";

/// What one field adds: texts, so that its plan need not be kept.
pub struct Share {
    features: Vec<String>,
    header: Vec<String>,
    row: Vec<String>,
}

impl Share {
    /// What a plan adds under the name that tells its field apart. Two plans of one field, for its two seedbeds, each hold the
    /// same order: `with_order` is for one of them alone, so that a column can be added up.
    pub fn of(plan: &Plan, field: &str, with_order: bool) -> Self {
        let mut table = attributes::of(plan);
        let names: Vec<&str> = table.columns.iter().map(|of| of.name.as_str()).collect();
        // What tells the field apart here takes the place of its name.
        let own = names.iter().position(|name| *name == "field");
        let mut features = Vec::new();
        for (zone, row) in plan.maps.rate.zones.iter().zip(&mut table.rows) {
            if let Some(value) = own.and_then(|at| row.get_mut(at)) {
                *value = Value::Text(field.to_owned());
            }
            let id = format!("{field}/{}", zone.id);
            features.push(geojson::feature(&id, &names, row, &zone.polygons));
        }
        let fixed = ["field", "plan", "mapped_ha"].map(str::to_owned);
        let of_products = plan.job.products.iter().flat_map(|product| {
            let columns = ["map_kg", "lowest_kg_ha", "highest_kg_ha", "order_kg"];
            columns.map(|column| format!("{}_{column}", product.id))
        });
        let mut row = vec![
            field.to_owned(),
            plan.id.clone(),
            format!("{:.6}", plan.tally.planned.mapped_m2 / M2_PER_HA),
        ];
        row.extend(plan.tally.planned.products.iter().flat_map(|product| {
            [
                product.map_kg(),
                product.lowest_kg_per_ha,
                product.highest_kg_per_ha,
            ]
            .map(|number| format!("{number:.3}"))
            .into_iter()
            .chain([match with_order {
                true => format!("{:.3}", product.order_kg),
                false => String::new(),
            }])
        }));
        Self {
            features,
            header: fixed.into_iter().chain(of_products).collect(),
            row,
        }
    }
}

/// Both files while fields are still being planned. They take their names at the end; until then older
/// ones stay as they are.
pub struct Together {
    folder: PathBuf,
    map: BufWriter<File>,
    table: csv::Writer<BufWriter<File>>,
    features: usize,
    rows: usize,
}

impl Together {
    /// Begins both files in a folder, which is made.
    ///
    /// # Errors
    /// A file of that name that this program has not written (input); the disk (machine).
    pub fn begin(folder: &Path) -> Outcome<Self> {
        disk::folder(folder)?;
        is_ours(&folder.join(MAP), geojson::head(None).as_bytes())?;
        is_ours(&folder.join(TABLE), b"field,plan,mapped_ha")?;
        let create = |name: &str| {
            let path = part(folder, name);
            let file = File::create(&path);
            file.map(BufWriter::new)
                .map_err(|error| disk::fault(&path, "made", &error))
        };
        let mut map = create(MAP)?;
        let head = map.write_all(geojson::head(None).as_bytes());
        head.map_err(|error| disk::fault(&part(folder, MAP), "written", &error))?;
        Ok(Self {
            map,
            table: csv::WriterBuilder::new()
                .flexible(true)
                .from_writer(create(TABLE)?),
            folder: folder.to_path_buf(),
            features: 0,
            rows: 0,
        })
    }

    /// Adds a field.
    ///
    /// # Errors
    /// The disk.
    pub fn add(&mut self, share: &Share) -> Outcome<()> {
        let unwritten =
            |error: std::io::Error| disk::fault(&part(&self.folder, MAP), "written", &error);
        for feature in &share.features {
            let comma = if self.features == 0 { "\n" } else { ",\n" };
            self.map.write_all(comma.as_bytes()).map_err(unwritten)?;
            self.map.write_all(feature.as_bytes()).map_err(unwritten)?;
            self.features += 1;
        }
        let first = self.rows == 0;
        let header = first.then_some(&share.header);
        for record in header.into_iter().chain([&share.row]) {
            let cells = record.iter().map(|cell| tables::cell(cell));
            self.table.write_record(cells).map_err(|error| {
                disk::fault(&part(&self.folder, TABLE), "written", &error.into())
            })?;
        }
        self.rows += 1;
        Ok(())
    }

    /// Gives both files their names, once both are on the disk.
    ///
    /// # Errors
    /// The disk.
    pub fn end(mut self) -> Outcome<Vec<Written>> {
        let folder = self.folder;
        let whole = |name: &str, file: std::io::Result<File>| -> Outcome<(u64, [PathBuf; 2])> {
            let part = part(&folder, name);
            let bytes = file.and_then(|file| {
                file.sync_all()?;
                file.metadata()
            });
            let bytes = bytes.map_err(|error| disk::fault(&part, "written", &error))?;
            Ok((bytes.len(), [part, folder.join(name)]))
        };
        let tail = self.map.write_all(b"\n]}\n");
        let map = tail.and_then(|()| self.map.into_inner().map_err(|error| error.into_error()));
        let table = self.table.into_inner().map_err(|error| error.into_error());
        let table = table.and_then(|file| file.into_inner().map_err(|error| error.into_error()));
        let (map_bytes, map) = whole(MAP, map)?;
        let (table_bytes, table) = whole(TABLE, table)?;
        for [part, path] in [map, table] {
            disk::named(&part, &path)?;
        }
        Ok(vec![
            written(MAP, map_bytes, "map zones of all fields"),
            written(TABLE, table_bytes, "totals of all fields, a row for each"),
        ])
    }
}

fn written(name: &str, bytes: u64, what: &str) -> Written {
    Written {
        path: PathBuf::from(name),
        bytes,
        what: what.to_owned(),
    }
}

fn part(folder: &Path, name: &str) -> PathBuf {
    folder.join(format!("{name}.part"))
}

/// Refuses to write over a file that does not begin as ours do.
fn is_ours(path: &Path, head: &[u8]) -> Outcome<()> {
    let mut found = Vec::new();
    let file = match File::open(path) {
        Ok(file) => file,
        Err(error) if error.kind() == ErrorKind::NotFound => return Ok(()),
        Err(error) => return Err(disk::fault(path, "read", &error)),
    };
    let read = file.take(head.len() as u64).read_to_end(&mut found);
    match read {
        Err(error) => Err(disk::fault(path, "read", &error)),
        Ok(0) => Ok(()),
        Ok(_) if found == head => Ok(()),
        Ok(_) => Err(Fault::input(
            "write.foreign_file",
            Place::file(path),
            "a file of this name is there, and twinsow has not written it",
            "no file of this name, or one that twinsow has written",
            "Move it away, or name another output folder.",
        )),
    }
}
