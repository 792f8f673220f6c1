//! One image with its tags as TIFF 6.0, or as BigTIFF where 32-bit offsets do not reach.

/// Tag of the offsets of the tiles.
const TILE_OFFSETS: u16 = 324;
/// Tag of their lengths.
const TILE_LENGTHS: u16 = 325;

/// The values of a tag.
pub(super) struct Entry {
    kind: u16,
    count: usize,
    bytes: Vec<u8>,
}

impl Entry {
    pub fn shorts(values: Vec<u16>) -> Self {
        let bytes = values
            .iter()
            .flat_map(|value| value.to_le_bytes())
            .collect();
        Self {
            kind: 3,
            count: values.len(),
            bytes,
        }
    }

    pub fn long(value: u32) -> Self {
        Self::longs(&[value])
    }

    pub fn doubles(values: Vec<f64>) -> Self {
        let bytes = values
            .iter()
            .flat_map(|value| value.to_le_bytes())
            .collect();
        Self {
            kind: 12,
            count: values.len(),
            bytes,
        }
    }

    /// A text and its closing NUL.
    pub fn ascii(text: &str) -> Self {
        let mut bytes = text.as_bytes().to_vec();
        bytes.push(0);
        Self {
            kind: 2,
            count: bytes.len(),
            bytes,
        }
    }

    fn longs(values: &[u32]) -> Self {
        let bytes = values
            .iter()
            .flat_map(|value| value.to_le_bytes())
            .collect();
        Self {
            kind: 4,
            count: values.len(),
            bytes,
        }
    }

    fn long8s(values: &[u64]) -> Self {
        let bytes = values
            .iter()
            .flat_map(|value| value.to_le_bytes())
            .collect();
        Self {
            kind: 16,
            count: values.len(),
            bytes,
        }
    }
}

/// What goes into the file: tags in ascending order without the two about tiles, and the tiles.
pub(super) struct Container {
    pub entries: Vec<(u16, Entry)>,
    pub tiles: Vec<Vec<u8>>,
}

impl Container {
    /// The file, little-endian; `None` if a count does not fit the format.
    pub fn bytes(mut self, always_big: bool) -> Option<Vec<u8>> {
        let lengths: Vec<u64> = self.tiles.iter().map(|tile| tile.len() as u64).collect();
        let values: u64 = self
            .entries
            .iter()
            .map(|(_, entry)| entry.bytes.len() as u64 + 40)
            .sum();
        // An upper bound of the whole file decides; both layouts are right at the border.
        let total = lengths.iter().sum::<u64>() + 17 * lengths.len() as u64 + values + 1024;
        let big = always_big || total > u64::from(u32::MAX);

        // Tag values have to stand still while offsets are computed: first with the right size.
        let offsets = vec![0; lengths.len()];
        self.put(TILE_OFFSETS, numbers(&offsets, big)?);
        self.put(TILE_LENGTHS, numbers(&lengths, big)?);
        let mut at = self.head(big)?.len() as u64;
        let mut offsets = Vec::with_capacity(lengths.len());
        for length in &lengths {
            offsets.push(at);
            at += length + length % 2;
        }
        self.put(TILE_OFFSETS, numbers(&offsets, big)?);
        let mut out = self.head(big)?;
        for tile in &self.tiles {
            out.extend(tile);
            // Values start on even bytes.
            out.resize(out.len() + tile.len() % 2, 0);
        }
        Some(out)
    }

    fn put(&mut self, tag: u16, entry: Entry) {
        self.entries.retain(|(known, _)| *known != tag);
        let at = self.entries.partition_point(|(known, _)| *known < tag);
        self.entries.insert(at, (tag, entry));
    }

    /// Everything before the tiles: header, directory, and the values that do not fit into it.
    fn head(&self, big: bool) -> Option<Vec<u8>> {
        let inline = if big { 8 } else { 4 };
        let mut out = Vec::new();
        if big {
            out.extend([b'I', b'I', 43, 0, 8, 0, 0, 0]);
            out.extend(16u64.to_le_bytes());
            out.extend((self.entries.len() as u64).to_le_bytes());
        } else {
            out.extend([b'I', b'I', 42, 0, 8, 0, 0, 0]);
            out.extend(u16::try_from(self.entries.len()).ok()?.to_le_bytes());
        }
        let directory = self.entries.len() * (4 + 2 * inline) + inline;
        let mut outside = Vec::new();
        let start = out.len() + directory;
        for (tag, entry) in &self.entries {
            out.extend(tag.to_le_bytes());
            out.extend(entry.kind.to_le_bytes());
            number(&mut out, entry.count, big)?;
            if entry.bytes.len() <= inline {
                out.extend(&entry.bytes);
                out.resize(out.len() + inline - entry.bytes.len(), 0);
            } else {
                outside.resize(outside.len() + (start + outside.len()) % 2, 0);
                number(&mut out, start + outside.len(), big)?;
                outside.extend(&entry.bytes);
            }
        }
        // No further directory.
        out.resize(out.len() + inline, 0);
        out.extend(outside);
        out.resize(out.len() + out.len() % 2, 0);
        Some(out)
    }
}

fn numbers(values: &[u64], big: bool) -> Option<Entry> {
    if big {
        return Some(Entry::long8s(values));
    }
    let values: Result<Vec<u32>, _> = values.iter().map(|&value| u32::try_from(value)).collect();
    Some(Entry::longs(&values.ok()?))
}

fn number(out: &mut Vec<u8>, value: usize, big: bool) -> Option<()> {
    if big {
        out.extend((value as u64).to_le_bytes());
    } else {
        out.extend(u32::try_from(value).ok()?.to_le_bytes());
    }
    Some(())
}

#[cfg(test)]
mod tests {
    use super::super::tiles;
    use super::*;
    use std::io::Cursor;
    use tiff::decoder::{Decoder, DecodingResult};

    /// The same image as TIFF and as BigTIFF, read back with another library (`tiff`).
    #[test]
    fn both_layouts_are_read_back() {
        let (columns, rows) = (300, 2);
        let values: Vec<f64> = (0..columns * rows).map(|at| at as f64 * 0.25).collect();
        for big in [false, true] {
            let short = |value| Entry::shorts(vec![value]);
            let entries = vec![
                (256, Entry::long(columns as u32)),
                (257, Entry::long(rows as u32)),
                (258, short(32)),
                (259, short(8)),
                (262, short(1)),
                (277, short(1)),
                (317, short(3)),
                (322, short(tiles::edge(columns) as u16)),
                (323, short(tiles::edge(rows) as u16)),
                (339, short(3)),
            ];
            let tiles = tiles::of_bands(columns, rows, &[tiles::Band::Values(&values)]).unwrap();
            let bytes = Container { entries, tiles }.bytes(big).unwrap();
            assert_eq!(bytes[2], if big { 43 } else { 42 });
            let mut decoder = Decoder::new(Cursor::new(bytes)).unwrap();
            let DecodingResult::F32(read) = decoder.read_image().unwrap() else {
                panic!()
            };
            let north_first: Vec<f32> = values[columns..]
                .iter()
                .chain(&values[..columns])
                .map(|&v| v as f32)
                .collect();
            assert_eq!(read, north_first);
        }
    }
}
