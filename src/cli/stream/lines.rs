//! Lines of a stream, none of them longer than a limit.

use crate::findings::{Fault, Outcome, Place};
use std::io::{BufRead, ErrorKind};

/// Reads line after line. A line that is too long or no UTF-8 is a fault in its place; what is left of it is passed over.
pub(super) struct Lines<R> {
    input: R,
    most_bytes: usize,
    ended: bool,
}

impl<R: BufRead> Lines<R> {
    pub(super) fn of(input: R, most_bytes: usize) -> Self {
        Self {
            input,
            most_bytes,
            ended: false,
        }
    }

    /// The next line without its end; `None` at the end of the stream.
    fn line(&mut self) -> std::io::Result<Option<Line>> {
        let mut line = Vec::new();
        let mut length = 0;
        loop {
            let piece = match self.input.fill_buf() {
                Ok(piece) => piece,
                Err(error) if error.kind() == ErrorKind::Interrupted => continue,
                Err(error) => return Err(error),
            };
            if piece.is_empty() {
                let end = (length == 0).then_some(None);
                return Ok(end.unwrap_or(Some(Line {
                    bytes: line,
                    length,
                })));
            }
            let end = piece.iter().position(|byte| *byte == b'\n');
            let part = piece.split_at(end.unwrap_or(piece.len())).0;
            length += part.len();
            if length <= self.most_bytes {
                line.extend_from_slice(part);
            } else {
                line = Vec::new();
            }
            let used = part.len() + usize::from(end.is_some());
            self.input.consume(used);
            if end.is_some() {
                return Ok(Some(Line {
                    bytes: line,
                    length,
                }));
            }
        }
    }
}

struct Line {
    /// Nothing of a line that is too long.
    bytes: Vec<u8>,
    length: usize,
}

impl<R: BufRead> Iterator for Lines<R> {
    type Item = Outcome<String>;

    fn next(&mut self) -> Option<Self::Item> {
        if self.ended {
            return None;
        }
        match self.line() {
            Ok(None) => None,
            Ok(Some(line)) if line.length > self.most_bytes => Some(Err(Fault::input(
                "stream.long_line",
                Place::nowhere(),
                format!("the line has {} bytes", line.length),
                format!("lines of up to {} bytes", self.most_bytes),
                "Send less land in a line, or allow more with --most-mb.",
            ))),
            Ok(Some(line)) => Some(String::from_utf8(line.bytes).map_err(|error| {
                let good = error.utf8_error().valid_up_to();
                Fault::input(
                    "stream.not_utf8",
                    Place::nowhere(),
                    format!("the line is not UTF-8 from byte {} on", good + 1),
                    "JSON in UTF-8",
                    "Write the line in UTF-8.",
                )
            })),
            Err(error) => {
                self.ended = true;
                Some(Err(Fault::machine(
                    "stream.unreadable",
                    Place::nowhere(),
                    format!("standard input cannot be read: {error}"),
                    "a stream of lines",
                    "Start the stream again after the last answer.",
                )))
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::Lines;
    use std::io::BufReader;

    fn lines(text: &[u8], most: usize) -> Vec<Result<String, &'static str>> {
        // A small buffer, so that lines come in pieces.
        let lines = Lines::of(BufReader::with_capacity(3, text), most);
        lines.map(|line| line.map_err(|fault| fault.code)).collect()
    }

    #[test]
    fn every_line_is_one_item_and_the_last_needs_no_end() {
        let of = |text: &str| Ok(text.to_owned());
        assert_eq!(lines(b"", 9), []);
        assert_eq!(
            lines(b"one\n\ntwo\r\nlast", 9),
            [of("one"), of(""), of("two\r"), of("last")]
        );
        assert_eq!(lines(b"one\n", 9), [of("one")]);
    }

    #[test]
    fn a_line_too_long_or_no_text_is_a_fault_in_its_place() {
        let of = |text: &str| Ok(text.to_owned());
        let text = b"12345678\n1234567890\nshort\n\xff\xfe\n1234567890123";
        let long = Err("stream.long_line");
        assert_eq!(
            lines(text, 8),
            [
                of("12345678"),
                long.clone(),
                of("short"),
                Err("stream.not_utf8"),
                long
            ]
        );
    }
}
