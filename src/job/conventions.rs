//! How numbers, dates, units and counted things are written in each language.
//!
//! Sources: Unicode CLDR 46 (marks of numbers, order of dates, plural rules, <https://cldr.unicode.org>); DIN 5008 (German: groups
//! parted by a narrow blank); Real Academia Española, Ortografía de la lengua española, 2010 (Spanish: groups parted by a narrow
//! blank, none below 10 000); symbols of units as in ISO 80000-1, in Ukrainian as in ДСТУ 3651.

use super::Language;

/// Marks of a number: decimal, between groups of three digits, and whether four digits stand without it.
type Marks = (char, char, bool);

impl Language {
    /// Its tag, BCP 47, which is also the name of its files of texts.
    pub fn tag(self) -> &'static str {
        match self {
            Self::En => "en",
            Self::De => "de",
            Self::Fr => "fr",
            Self::Es => "es",
            Self::Pl => "pl",
            Self::Uk => "uk",
        }
    }

    /// The language of a locale as POSIX or BCP 47 writes it (`de_AT.UTF-8`, `pl-PL`); none where there are no texts in it.
    pub fn of_locale(locale: &str) -> Option<Self> {
        let primary = locale.split(['_', '-', '.', '@']).next()?;
        let tag = primary.to_ascii_lowercase();
        Self::ALL.into_iter().find(|known| known.tag() == tag)
    }

    /// A word of a job file, such as `de`; none where there are no texts in it.
    pub fn of_tag(tag: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|known| known.tag() == tag)
    }

    fn marks(self) -> Marks {
        match self {
            Self::En => ('.', '\u{a0}', false),
            Self::De | Self::Fr => (',', '\u{202f}', false),
            Self::Es => (',', '\u{202f}', true),
            Self::Pl => (',', '\u{a0}', true),
            Self::Uk => (',', '\u{a0}', false),
        }
    }

    /// What stands between the numbers of a list: no comma where that is the decimal mark.
    pub fn list_mark(self) -> &'static str {
        match self.marks().0 {
            ',' => "; ",
            _ => ", ",
        }
    }

    /// A number from its English form (`12 345.6`, the blank one that does not break).
    pub fn number(self, english: &str) -> String {
        let (decimal, group, four_alone) = self.marks();
        let whole = english.split('.').next().unwrap_or(english);
        let digits = whole.chars().filter(char::is_ascii_digit).count();
        let mark = |c: char| match c {
            '.' => Some(decimal),
            '\u{a0}' if four_alone && digits == 4 => None,
            '\u{a0}' => Some(group),
            other => Some(other),
        };
        english.chars().filter_map(mark).collect()
    }

    /// A day from its ISO 8601 form (`2027-03-20`); whatever else is given stays as it is, and so do all days in English.
    pub fn date(self, iso: &str) -> String {
        let mut parts = iso.splitn(3, '-');
        let (Some(year), Some(month), Some(day)) = (parts.next(), parts.next(), parts.next())
        else {
            return iso.to_owned();
        };
        let digits = |text: &str, many: usize| {
            text.len() == many && text.bytes().all(|byte| byte.is_ascii_digit())
        };
        if !(digits(year, 4) && digits(month, 2) && digits(day, 2)) {
            return iso.to_owned();
        }
        match self {
            Self::En => iso.to_owned(),
            Self::De | Self::Pl | Self::Uk => format!("{day}.{month}.{year}"),
            Self::Fr | Self::Es => format!("{day}/{month}/{year}"),
        }
    }

    /// A moment from its RFC 3339 form, such as `2027-03-20T08:15:00Z`; seconds are left out. English keeps it as it is.
    pub fn moment(self, rfc3339: &str) -> String {
        let (Some(day), Some('T'), Some(clock), Some(zone)) = (
            rfc3339.get(..10),
            rfc3339.get(10..11).and_then(|mark| mark.chars().next()),
            rfc3339.get(11..16),
            rfc3339.get(19..),
        ) else {
            return rfc3339.to_owned();
        };
        match (self, zone) {
            (Self::En, _) => rfc3339.to_owned(),
            (_, "Z") => format!("{} {clock} UTC", self.date(day)),
            _ => format!("{} {clock} {zone}", self.date(day)),
        }
    }

    /// The symbol of a unit as it is written.
    pub fn unit(self, symbol: &'static str) -> &'static str {
        if self != Self::Uk {
            return symbol;
        }
        match symbol {
            "kg/ha" => "кг/га",
            "t/ha" => "т/га",
            "kg" => "кг",
            "t" => "т",
            "g" => "г",
            "ha" => "га",
            "km/h" => "км/год",
            "m" => "м",
            "km" => "км",
            "cm" => "см",
            "mm" => "мм",
            "m²" => "м²",
            "l" => "л",
            "kg/min" => "кг/хв",
            "h" => "год",
            "s" => "с",
            other => other,
        }
    }

    /// So many forms has a thing that is counted: one and more, or one, few and many.
    pub fn forms(self) -> usize {
        match self {
            Self::En | Self::De | Self::Fr | Self::Es => 2,
            Self::Pl | Self::Uk => 3,
        }
    }

    /// Which of its forms a thing has beside a whole number, from 0. CLDR has a further form for whole millions in French and
    /// Spanish, which no count here reaches.
    pub fn form(self, count: u64) -> usize {
        let (last, two) = (count % 10, count % 100);
        let few = (2..=4).contains(&last) && !(12..=14).contains(&two);
        match self {
            Self::En | Self::De | Self::Es => usize::from(count != 1),
            Self::Fr => usize::from(count > 1),
            Self::Pl if count == 1 => 0,
            Self::Uk if last == 1 && two != 11 => 0,
            Self::Pl | Self::Uk if few => 1,
            Self::Pl | Self::Uk => 2,
        }
    }

    /// Words with forms for a count: `{n|piece|pieces}` becomes the one that goes with `n`. Other places stay.
    pub fn counted(self, text: &str, name: &str, count: u64) -> String {
        let start = format!("{{{name}|");
        let mut said = String::new();
        let mut rest = text;
        while let Some((before, after)) = rest.split_once(&start) {
            let Some((forms, behind)) = after.split_once('}') else {
                break;
            };
            said.push_str(before);
            said.push_str(forms.split('|').nth(self.form(count)).unwrap_or(forms));
            rest = behind;
        }
        said.push_str(rest);
        said
    }
}

#[cfg(test)]
mod tests {
    use super::Language::{De, En, Es, Fr, Pl, Uk};
    use super::*;

    /// CLDR 46, `main/*/numbers.json`: decimal, group, minimumGroupingDigits (2 for es and pl); for the narrow blank in German
    /// DIN 5008, in Spanish the Ortografía.
    #[test]
    fn numbers_have_the_marks_of_the_language() {
        let all = |english: &str| Language::ALL.map(|own| own.number(english));
        assert_eq!(
            all("12\u{a0}345.6"),
            [
                "12\u{a0}345.6",
                "12\u{202f}345,6",
                "12\u{202f}345,6",
                "12\u{202f}345,6",
                "12\u{a0}345,6",
                "12\u{a0}345,6"
            ]
        );
        assert_eq!(
            all("1\u{a0}200"),
            [
                "1\u{a0}200",
                "1\u{202f}200",
                "1\u{202f}200",
                "1200",
                "1200",
                "1\u{a0}200"
            ]
        );
        assert_eq!(De.number("-0.5"), "-0,5");
    }

    /// CLDR 46, `main/*/ca-gregorian.json`, dateFormats (short, with the year whole).
    #[test]
    fn days_have_the_order_of_the_language() {
        let all = |own: Language| [own.date("2027-03-20"), own.moment("2027-03-20T08:15:59Z")];
        assert_eq!(all(En), ["2027-03-20", "2027-03-20T08:15:59Z"]);
        for own in [De, Pl, Uk] {
            assert_eq!(all(own), ["20.03.2027", "20.03.2027 08:15 UTC"]);
        }
        for own in [Fr, Es] {
            assert_eq!(all(own), ["20/03/2027", "20/03/2027 08:15 UTC"]);
        }
        for other in [
            "",
            "soon",
            "2027-3-20",
            "20.03.2027",
            "2027-03-20 or later",
            "äöüß-ä-ö",
        ] {
            assert_eq!(De.date(other), other);
            assert_eq!(De.moment(other), other);
        }
    }

    /// CLDR 46, `supplemental/plurals.json`, whose own samples these are.
    #[test]
    fn counted_things_have_the_form_of_their_number() {
        let samples: [(Language, [&[u64]; 3]); 6] = [
            (En, [&[1], &[0, 2, 16, 100, 1000], &[]]),
            (De, [&[1], &[0, 2, 16, 100, 1000], &[]]),
            (Fr, [&[0, 1], &[2, 17, 100, 1000], &[]]),
            (Es, [&[1], &[0, 2, 16, 100, 1000], &[]]),
            (
                Pl,
                [
                    &[1],
                    &[2, 4, 22, 24, 32, 34, 102, 1002],
                    &[0, 5, 12, 14, 19, 21, 25, 100, 112, 1000],
                ],
            ),
            (
                Uk,
                [
                    &[1, 21, 31, 101, 1001],
                    &[2, 4, 22, 24, 102, 1002],
                    &[0, 5, 11, 12, 14, 19, 100, 111, 1000],
                ],
            ),
        ];
        for (own, forms) in samples {
            for (form, counts) in forms.into_iter().enumerate() {
                for &count in counts {
                    assert_eq!(own.form(count), form, "{own:?} {count}");
                    assert!(form < own.forms());
                }
            }
        }
        let text = "{n} {n|Stück|Stücke} von {m}";
        assert_eq!(De.counted(text, "n", 1), "{n} Stück von {m}");
        assert_eq!(De.counted(text, "n", 3), "{n} Stücke von {m}");
        assert_eq!(De.counted("{n|broken", "n", 3), "{n|broken");
    }

    #[test]
    fn a_locale_names_a_language() {
        for (locale, found) in [
            ("de_AT.UTF-8", Some(De)),
            ("pl-PL", Some(Pl)),
            ("uk", Some(Uk)),
            ("fr_CA@euro", Some(Fr)),
            ("C.UTF-8", None),
            ("POSIX", None),
            ("den", None),
            ("", None),
        ] {
            assert_eq!(Language::of_locale(locale), found, "{locale}");
        }
    }
}
