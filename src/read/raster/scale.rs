//! Scale and offset of a band's values, as GDAL notes them in its metadata tag.

use quick_xml::Reader;
use quick_xml::events::{BytesStart, Event};

/// Per band: factor and summand. Empty where the notes name neither.
///
/// # Errors
/// In words: notes that are no XML, a factor of 0 or a number that is none.
pub(super) fn scales(notes: &str, bands: u32) -> Result<Vec<[f64; 2]>, String> {
    let mut reader = Reader::from_str(notes);
    let mut found = Vec::new();
    let mut meant: Option<(usize, usize)> = None;
    loop {
        match reader.read_event() {
            Ok(Event::Start(item)) => meant = place(&item),
            Ok(Event::Text(text)) => {
                let Some((band, at)) = meant.take() else {
                    continue;
                };
                let text = text.trim().to_owned();
                let number = text.parse().ok();
                let number = number.filter(|own: &f64| own.is_finite() && (at == 1 || *own != 0.0));
                let number = number.ok_or_else(|| {
                    let what = ["scale", "offset"][at];
                    format!(
                        "the {what} of band {} is '{}'",
                        band + 1,
                        text.escape_debug()
                    )
                })?;
                if found.is_empty() {
                    found = vec![[1.0, 0.0]; bands as usize];
                }
                // A note about a band that the file does not have changes no value.
                if let Some(own) = found.get_mut(band) {
                    own[at] = number;
                }
            }
            Ok(Event::Eof) => return Ok(found),
            Ok(_) => meant = None,
            Err(error) => return Err(format!("GDAL's notes in it are no XML ({error})")),
        }
    }
}

/// Band (from 0), and 0 for a scale or 1 for an offset; `None` for any other note.
fn place(item: &BytesStart) -> Option<(usize, usize)> {
    let value = |key: &str| {
        let found = item.try_get_attribute(key).ok().flatten()?;
        Some(found.value.into_owned())
    };
    let at = match value("role")?.as_str() {
        "scale" => 0,
        "offset" => 1,
        _ => return None,
    };
    Some((value("sample")?.parse().ok()?, at))
}

/// What was done, in words; `None` where nothing was.
pub(super) fn said_of_scales(scales: &[[f64; 2]]) -> Option<String> {
    let bands = scales.iter().zip(1..);
    let said: Vec<String> = bands
        .filter(|(own, _)| **own != [1.0, 0.0])
        .map(|([factor, summand], band)| {
            format!("band {band}: stored values x {factor} + {summand}")
        })
        .collect();
    (!said.is_empty()).then(|| {
        format!(
            "The file names a scale or an offset for its values, and they were applied: {}.",
            said.join("; ")
        )
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn scales_and_offsets_belong_to_their_bands() {
        let notes = "<GDALMetadata>\n  <Item name=\"SCALE\" sample=\"1\" role=\"scale\">0.01</Item>\n  <Item name=\"OFFSET\" sample=\"1\" role=\"offset\">-40</Item>\n  <Item name=\"where\">0.5</Item></GDALMetadata>";
        assert_eq!(scales(notes, 2), Ok(vec![[1.0, 0.0], [0.01, -40.0]]));
        assert_eq!(scales("<GDALMetadata/>", 2), Ok(vec![]));
    }

    #[test]
    fn a_scale_that_cannot_be_is_refused() {
        for (number, what) in [("0", "scale"), ("much", "scale"), ("nan", "scale")] {
            let notes = format!("<A><Item sample=\"0\" role=\"{what}\">{number}</Item></A>");
            let said = scales(&notes, 1).unwrap_err();
            assert!(said.contains(number), "{said}");
        }
        assert!(scales("<A><Item", 1).is_err());
    }
}
