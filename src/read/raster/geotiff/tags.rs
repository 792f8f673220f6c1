//! Tags of a GeoTIFF claim no more than their file holds. Looked at before the decoder makes room for them, which it does
//! by what they claim.
//!
//! Layout: TIFF 6.0 (Adobe, 1992), section 2, pages 13 to 16; BigTIFF has the same with numbers of 8 bytes.

use super::{FORMAT, damaged};
use crate::findings::Outcome;
use std::fs::File;
use std::io::{self, BufReader, Read, Seek, SeekFrom};
use std::path::Path;

/// So many images of a file are looked at; the decoder's own limits hold for more.
const MOST_IMAGES: usize = 1000;

/// Numbers as the file writes them.
struct Numbers<'a, R> {
    from: &'a mut R,
    little: bool,
    big_tiff: bool,
}

impl<R: Read> Numbers<'_, R> {
    fn number(&mut self, bytes: usize) -> io::Result<u64> {
        let mut raw = [0_u8; 8];
        let read = &mut raw[..bytes.min(8)];
        self.from.read_exact(read)?;
        if !self.little {
            read.reverse();
        }
        Ok(u64::from_le_bytes(raw))
    }

    /// An offset, or how many values a tag has.
    fn wide(&mut self) -> io::Result<u64> {
        self.number(if self.big_tiff { 8 } else { 4 })
    }
}

/// Bytes of a value by the number of its type; none for a type that the decoder does not know.
fn bytes_of(kind: u64) -> Option<u64> {
    match kind {
        1 | 2 | 6 | 7 => Some(1),
        3 | 8 => Some(2),
        4 | 9 | 11 | 13 => Some(4),
        5 | 10 | 12 | 16..=18 => Some(8),
        _ => None,
    }
}

/// Holds every tag against the length of the file.
///
/// # Errors
/// A tag that claims more than the file has. A file that is no TIFF, or ends in the middle of its tags, passes: the
/// decoder says what is wrong with it.
fn held(from: &mut (impl Read + Seek), length: u64, path: &Path) -> Outcome<()> {
    match beyond(from, length) {
        Ok(Some((tag, claimed))) => Err(damaged(
            path,
            FORMAT,
            format!("its tag {tag} claims {claimed} bytes, and the file has {length} in all"),
        )),
        Ok(None) | Err(_) => Ok(()),
    }
}

/// The file at its start, once its tags are held.
///
/// # Errors
/// A tag that claims more than the file has; the disk.
pub fn opened_within(file: File, path: &Path) -> Outcome<BufReader<File>> {
    let length = file.metadata().map_or(0, |about| about.len());
    let mut file = BufReader::new(file);
    held(&mut file, length, path)?;
    file.rewind()
        .map_err(|error| damaged(path, FORMAT, error))?;
    Ok(file)
}

/// The first tag that claims more than there is, and how many bytes.
fn beyond<R: Read + Seek>(from: &mut R, length: u64) -> io::Result<Option<(u64, u64)>> {
    from.seek(SeekFrom::Start(0))?;
    let mut order = [0_u8; 2];
    from.read_exact(&mut order)?;
    let mut file = Numbers {
        little: order == *b"II",
        big_tiff: false,
        from,
    };
    file.big_tiff = file.number(2)? == 43;
    if file.big_tiff {
        file.number(4)?;
    }
    let mut next = file.wide()?;
    for _ in 0..MOST_IMAGES {
        if next == 0 {
            break;
        }
        file.from.seek(SeekFrom::Start(next))?;
        let tags = file.number(if file.big_tiff { 8 } else { 2 })?;
        for _ in 0..tags {
            let [tag, kind] = [file.number(2)?, file.number(2)?];
            let count = file.wide()?;
            let at = file.wide()?;
            let Some(each) = bytes_of(kind) else {
                continue;
            };
            let claimed = count.saturating_mul(each);
            let inside = claimed <= if file.big_tiff { 8 } else { 4 };
            if !inside && at.saturating_add(claimed) > length {
                return Ok(Some((tag, claimed)));
            }
        }
        next = file.wide()?;
    }
    Ok(None)
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::io::Cursor;

    /// A little-endian file with one image of one tag, and so many bytes after it.
    fn file(big_tiff: bool, tag: u64, kind: u64, count: u64, at: u64, after: usize) -> Vec<u8> {
        let mut bytes = b"II".to_vec();
        let mut add = |number: u64, size: usize| bytes.extend(&number.to_le_bytes()[..size]);
        let wide = if big_tiff { 8 } else { 4 };
        add(if big_tiff { 43 } else { 42 }, 2);
        if big_tiff {
            add(8, 2);
            add(0, 2);
        }
        add(if big_tiff { 16 } else { 8 }, wide);
        add(1, if big_tiff { 8 } else { 2 });
        add(tag, 2);
        add(kind, 2);
        add(count, wide);
        add(at, wide);
        add(0, wide);
        bytes.resize(bytes.len() + after, 0);
        bytes
    }

    fn found(bytes: &[u8]) -> Option<(u64, u64)> {
        beyond(&mut Cursor::new(bytes), bytes.len() as u64).ok()?
    }

    #[test]
    fn a_tag_may_not_claim_more_than_its_file() {
        for big_tiff in [false, true] {
            // Offsets of strips (tag 273) as 4-byte numbers.
            assert_eq!(found(&file(big_tiff, 273, 4, 1, 99_999, 0)), None);
            assert_eq!(found(&file(big_tiff, 273, 4, 10, 24, 100)), None);
            let claims = found(&file(big_tiff, 273, 4, 60_000_000, 24, 100));
            assert_eq!(claims, Some((273, 240_000_000)));
            assert_eq!(
                found(&file(big_tiff, 273, 4, 10, 200, 100)),
                Some((273, 40))
            );
            // An unknown type has no size.
            assert_eq!(found(&file(big_tiff, 273, 99, 60_000_000, 24, 0)), None);
        }
        let most = found(&file(true, 273, 16, u64::MAX, u64::MAX, 0));
        assert_eq!(most, Some((273, u64::MAX)));
    }

    #[test]
    fn what_is_no_file_of_tags_is_left_to_the_decoder() {
        for bytes in [&b""[..], b"II", b"MM\0*\0\0\0", b"II*\0\xff\xff\xff\xff"] {
            assert!(held(&mut Cursor::new(bytes), 8, Path::new("a.tif")).is_ok());
        }
        // Two images, each the other's next.
        let mut round = file(false, 273, 4, 1, 0, 0);
        let end = round.len();
        round[end - 4..].copy_from_slice(&8_u32.to_le_bytes());
        assert_eq!(found(&round), None);
    }
}
