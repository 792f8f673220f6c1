//! Reading well-known text: points, lines and polygons, alone or in multiples.
//!
//! Source: OGC 06-103r4, section 7.

use super::wkb::Shape;

/// A geometry, the number of its CRS where the text states one (`SRID=25832;`), and whether heights or measures
/// were dropped.
#[derive(Debug, Clone, PartialEq)]
pub struct Decoded {
    pub shape: Shape,
    pub srid: Option<u32>,
    pub more_than_two: bool,
}

/// Whether a text begins like one.
pub fn is(text: &str) -> bool {
    let text = text.trim_start();
    let word: String = text.chars().take_while(char::is_ascii_alphabetic).collect();
    let word = word.to_ascii_uppercase();
    let rest = text.get(word.len()..).unwrap_or_default().trim_start();
    let tail = rest.to_ascii_uppercase();
    match word.as_str() {
        "SRID" => rest.starts_with('='),
        _ => {
            KINDS.contains(&word.as_str())
                && ["(", "Z", "M", "EMPTY"]
                    .iter()
                    .any(|next| tail.starts_with(next))
        }
    }
}

const KINDS: [&str; 9] = [
    "POINT",
    "LINESTRING",
    "POLYGON",
    "MULTIPOINT",
    "MULTILINESTRING",
    "MULTIPOLYGON",
    "GEOMETRYCOLLECTION",
    "CURVEPOLYGON",
    "MULTISURFACE",
];

/// Decodes one geometry that fills the text.
///
/// # Errors
/// A sentence without its full stop: what is wrong, and where in the text.
pub fn read(text: &str) -> Result<Decoded, String> {
    let mut words = Words {
        text,
        at: 0,
        more_than_two: false,
    };
    let mut srid = None;
    let mut kind = words.word().to_ascii_uppercase();
    if kind == "SRID" {
        words.expect('=')?;
        let number = words.number()?;
        if !(0.0..=1e9).contains(&number) || number.fract() != 0.0 {
            return Err(format!("SRID={number} is the number of no CRS"));
        }
        srid = Some(number as u32);
        words.expect(';')?;
        kind = words.word().to_ascii_uppercase();
    }
    let mut tail = words.word().to_ascii_uppercase();
    if ["Z", "M", "ZM"].contains(&tail.as_str()) {
        tail = words.word().to_ascii_uppercase();
    }
    let shape = match (kind.as_str(), tail.as_str()) {
        (kind, "EMPTY") if KINDS.contains(&kind) => Shape::Empty,
        ("POINT", "") => Shape::Points(words.positions()?),
        ("MULTIPOINT", "") => Shape::Points(words.points()?),
        ("LINESTRING", "") => Shape::Lines(vec![words.positions()?]),
        ("MULTILINESTRING", "") => Shape::Lines(words.list(Words::positions)?),
        ("POLYGON", "") => Shape::Polygons(vec![words.list(Words::positions)?]),
        ("MULTIPOLYGON", "") => Shape::Polygons(words.list(|words| words.list(Words::positions))?),
        ("GEOMETRYCOLLECTION" | "CURVEPOLYGON" | "MULTISURFACE", "") => {
            return Err(format!("a {kind} is not read; turn it into plain polygons"));
        }
        _ => return Err(words.wrong("this is the beginning of no geometry")),
    };
    words.blanks();
    match words.at == text.len() {
        true => Ok(Decoded {
            shape,
            srid,
            more_than_two: words.more_than_two,
        }),
        false => Err(words.wrong("something follows the end of the geometry")),
    }
}

/// A text and how far it has been read.
struct Words<'a> {
    text: &'a str,
    at: usize,
    more_than_two: bool,
}

impl Words<'_> {
    fn rest(&self) -> &str {
        self.text.get(self.at..).unwrap_or_default()
    }

    fn wrong(&self, what: &str) -> String {
        let rest: String = self.rest().chars().take(20).collect();
        let letter = self.at + 1;
        format!("{what} (letter {letter}, before '{}')", rest.escape_debug())
    }

    fn blanks(&mut self) {
        let rest = self.rest();
        self.at += rest.len() - rest.trim_start().len();
    }

    /// Letters up to the next other sign; none at all is an empty word.
    fn word(&mut self) -> String {
        self.blanks();
        let letters = self.rest().chars().take_while(char::is_ascii_alphabetic);
        let word: String = letters.collect();
        self.at += word.len();
        word
    }

    fn sign(&mut self, sign: char) -> bool {
        self.blanks();
        let is = self.rest().starts_with(sign);
        self.at += usize::from(is);
        is
    }

    fn expect(&mut self, sign: char) -> Result<(), String> {
        match self.sign(sign) {
            true => Ok(()),
            false => Err(self.wrong(&format!("'{sign}' is missing"))),
        }
    }

    fn number(&mut self) -> Result<f64, String> {
        self.blanks();
        let of_number = |byte: &u8| byte.is_ascii_alphanumeric() || b"+-.".contains(byte);
        let rest = self.rest();
        let length = rest.bytes().take_while(|byte| of_number(byte)).count();
        match rest.get(..length).and_then(|word| word.parse::<f64>().ok()) {
            Some(number) => {
                self.at += length;
                Ok(number)
            }
            None => Err(self.wrong("a number is missing")),
        }
    }

    /// Two numbers; a third and fourth are passed over.
    fn position(&mut self) -> Result<[f64; 2], String> {
        let point = [self.number()?, self.number()?];
        for _ in 0..2 {
            self.blanks();
            if self.rest().starts_with([',', ')']) {
                return Ok(point);
            }
            self.number()?;
            self.more_than_two = true;
        }
        Ok(point)
    }

    /// What stands between brackets, with commas between.
    fn list<T>(&mut self, item: impl Fn(&mut Self) -> Result<T, String>) -> Result<Vec<T>, String> {
        self.expect('(')?;
        let mut all = vec![item(self)?];
        while self.sign(',') {
            all.push(item(self)?);
        }
        self.expect(')')?;
        Ok(all)
    }

    fn positions(&mut self) -> Result<Vec<[f64; 2]>, String> {
        self.list(Self::position)
    }

    /// Points of a multi-point, each in brackets or not.
    fn points(&mut self) -> Result<Vec<[f64; 2]>, String> {
        self.list(|words| match words.sign('(') {
            false => words.position(),
            true => {
                let point = words.position()?;
                words.expect(')')?;
                Ok(point)
            }
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The examples are those of the standard's section 7.2.6, and the forms that databases write.
    #[test]
    fn all_kinds_are_read() {
        let square = vec![
            [10.0, 10.0],
            [10.0, 20.0],
            [20.0, 20.0],
            [20.0, 15.0],
            [10.0, 10.0],
        ];
        for (text, wanted) in [
            ("Point (10 10)", Shape::Points(vec![[10.0, 10.0]])),
            (
                "LineString ( 10 10, 20 20, 30 40)",
                Shape::Lines(vec![vec![[10.0, 10.0], [20.0, 20.0], [30.0, 40.0]]]),
            ),
            (
                "Polygon ((10 10, 10 20, 20 20, 20 15, 10 10))",
                Shape::Polygons(vec![vec![square.clone()]]),
            ),
            (
                "MULTIPOLYGON(((10 10,10 20,20 20,20 15,10 10)),((10 10,10 20,20 20,20 15,10 10)))",
                Shape::Polygons(vec![vec![square.clone()], vec![square.clone()]]),
            ),
            (
                "MultiPoint ((10 10), (20 20))",
                Shape::Points(vec![[10.0, 10.0], [20.0, 20.0]]),
            ),
            (
                "MULTIPOINT(10 10, 20 20)",
                Shape::Points(vec![[10.0, 10.0], [20.0, 20.0]]),
            ),
            ("POLYGON EMPTY", Shape::Empty),
            ("POINT (-1.5e2 +.5)", Shape::Points(vec![[-150.0, 0.5]])),
        ] {
            assert!(is(text), "{text}");
            assert_eq!(read(text).map(|read| read.shape), Ok(wanted), "{text}");
        }
        let read = read("SRID=25832;POLYGON Z ((10 10 1, 10 20 2, 20 20 3, 20 15 4, 10 10 5))");
        let read = read.unwrap();
        assert_eq!(read.shape, Shape::Polygons(vec![vec![square]]));
        assert_eq!((read.srid, read.more_than_two), (Some(25832), true));
    }

    #[test]
    fn what_is_none_is_told_with_its_place() {
        for (text, what) in [
            ("POLYGON ((1 2, 3 x))", "letter 18"),
            ("POLYGON ((1 2, 3 4)", "')' is missing"),
            ("POLYGON ((1 2, 3 4)) z", "follows"),
            ("POLYGON ((1 2 3 4 5, 3 4))", "missing"),
            ("POLYGON (", "'(' is missing"),
            ("POLYGON (()", "number"),
            ("CIRCLE (1 2)", "no geometry"),
            ("MULTISURFACE (((1 2, 3 4)))", "plain polygons"),
            ("SRID=x;POINT (1 2)", "number"),
            ("", "no geometry"),
        ] {
            let error = read(text).unwrap_err();
            assert!(error.contains(what), "{text}: {error}");
        }
        for text in ["Polygon of the north", "point", "", "Pointe", "12"] {
            assert!(!is(text), "{text}");
        }
    }

    #[test]
    fn no_cut_and_no_other_letter_breaks_it() {
        let text = "SRID=4326;MULTIPOLYGON Z (((1 2 3, 4 5 6, 7 8 9)), ((1 2 3)))";
        for cut in 0..text.len() {
            assert!(read(&text[..cut]).is_err(), "{cut}");
            for other in ['(', ')', ',', 'e', '-', 'ü'] {
                let mut changed: String = text[..cut].to_owned();
                changed.push(other);
                changed.push_str(&text[cut..]);
                let _ = read(&changed);
            }
        }
    }
}
