//! Code pages of dBase tables: what the `.cpg` file and the language byte of the header mean.

use encoding_rs::{Encoding, UTF_8, WINDOWS_1252};

/// How the bytes of a table become text.
#[derive(Debug, Clone, Copy)]
pub enum CodePage {
    /// An encoding that `encoding_rs` has.
    Known(&'static Encoding),
    /// A DOS code page: the characters of the bytes 0x80 to 0xFF.
    Dos(&'static str),
}

impl CodePage {
    /// UTF-8.
    pub const UTF_8: Self = Self::Known(UTF_8);
    /// Western European of old Windows, a superset of the printable part of ISO 8859-1.
    pub const WESTERN: Self = Self::Known(WINDOWS_1252);

    /// The code page that a `.cpg` file names, such as `UTF-8`, `1252`, `ANSI 1252`, `OEM 850`,
    /// `CP437`, `ISO-8859-15`, `88591` or `LDID/87`. `None` if the name is not known.
    pub fn from_label(label: &str) -> Option<Self> {
        let label = label
            .trim()
            .trim_start_matches('\u{feff}')
            .to_ascii_uppercase();
        if let Some(language) = label.strip_prefix("LDID/") {
            return Self::from_language_byte(language.parse().ok()?);
        }
        let bare = ["ANSI", "OEM", "CP", "IBM", "WINDOWS", "MS"]
            .iter()
            .find_map(|prefix| label.strip_prefix(prefix))
            .unwrap_or(&label)
            .trim_start_matches([' ', '-', '_']);
        match bare.parse() {
            Ok(number) => Self::from_number(number),
            Err(_) => Encoding::for_label(label.as_bytes()).map(Self::Known),
        }
    }

    /// The code page of the language byte (offset 29) of a dBase header. `None` for 0, for 0x57
    /// ("whatever the writing machine used") and for values that are not known.
    ///
    /// Source: the list of language driver ids that GDAL's shapefile driver documents.
    pub fn from_language_byte(byte: u8) -> Option<Self> {
        Self::from_number(match byte {
            0x01 | 0x09 | 0x0B | 0x0D | 0x0F | 0x11 | 0x15 | 0x18 | 0x19 | 0x1B => 437,
            0x02 | 0x0A | 0x0E | 0x10 | 0x12 | 0x14 | 0x16 | 0x1A | 0x1D | 0x25 | 0x37 => 850,
            0x03 | 0x58 | 0x59 => 1252,
            0x04 => 10000,
            0x08 | 0x17 | 0x66 => 865,
            0x13 | 0x7B => 932,
            0x1C | 0x6C => 863,
            0x1F | 0x22 | 0x23 | 0x40 | 0x64 | 0x87 => 852,
            0x24 => 860,
            0x26 | 0x65 => 866,
            0x4D | 0x7A => 936,
            0x4E | 0x79 => 949,
            0x4F | 0x78 => 950,
            0x50 | 0x7C => 874,
            0x67 => 861,
            0x6A | 0x86 => 737,
            0x6B | 0x88 => 857,
            0x7D => 1255,
            0x7E => 1256,
            0x96 => 10007,
            0xC8 => 1250,
            0xC9 => 1251,
            0xCA => 1254,
            0xCB => 1253,
            0xCC => 1257,
            _ => return None,
        })
    }

    fn from_number(number: u32) -> Option<Self> {
        let dos = match number {
            437 => CP437,
            737 => CP737,
            775 => CP775,
            850 => CP850,
            852 => CP852,
            857 => CP857,
            860 => CP860,
            861 => CP861,
            863 => CP863,
            865 => CP865,
            _ => return Self::from_known_number(number),
        };
        Some(Self::Dos(dos))
    }

    fn from_known_number(number: u32) -> Option<Self> {
        let label = match number {
            65001 => "utf-8".to_string(),
            866 => "ibm866".to_string(),
            874 => "windows-874".to_string(),
            932 => "shift_jis".to_string(),
            936 => "gbk".to_string(),
            949 => "euc-kr".to_string(),
            950 => "big5".to_string(),
            10000 => "macintosh".to_string(),
            10007 => "x-mac-cyrillic".to_string(),
            1250..=1258 => format!("windows-{number}"),
            // 88591 is ISO 8859-1, 885915 is ISO 8859-15.
            88591..=88599 => format!("iso-8859-{}", number - 88590),
            885_910..=885_916 => format!("iso-8859-{}", number - 885_900),
            _ => return None,
        };
        Encoding::for_label(label.as_bytes()).map(Self::Known)
    }

    /// The text of these bytes, and whether some of them mean nothing in this code page (they
    /// become U+FFFD).
    pub fn decode(self, bytes: &[u8]) -> (String, bool) {
        match self {
            Self::Known(encoding) => {
                let (text, faulty) = encoding.decode_without_bom_handling(bytes);
                (text.into_owned(), faulty)
            }
            Self::Dos(upper) => {
                let text: String = bytes.iter().map(|&byte| dos_char(upper, byte)).collect();
                let faulty = text.contains('\u{fffd}');
                (text, faulty)
            }
        }
    }
}

fn dos_char(upper: &str, byte: u8) -> char {
    match byte.checked_sub(0x80) {
        None => char::from(byte),
        Some(at) => upper.chars().nth(usize::from(at)).unwrap_or('\u{fffd}'),
    }
}

// The tables below are the Unicode consortium's mappings (VENDORS/MICSFT/PC), taken from the codecs
// of Python 3.11.

/// Code page 437, bytes 0x80 to 0xFF.
const CP437: &str = concat!(
    "ÇüéâäàåçêëèïîìÄÅÉæÆôöòûùÿÖÜ¢£¥₧ƒáíóúñÑªº¿⌐¬½¼¡«»░▒▓│┤╡╢╖╕╣║╗╝╜╛┐",
    "└┴┬├─┼╞╟╚╔╩╦╠═╬╧╨╤╥╙╘╒╓╫╪┘┌█▄▌▐▀αßΓπΣσµτΦΘΩδ∞φε∩≡±≥≤⌠⌡÷≈°∙·√ⁿ²■\u{a0}",
);

/// Code page 737, bytes 0x80 to 0xFF.
const CP737: &str = concat!(
    "ΑΒΓΔΕΖΗΘΙΚΛΜΝΞΟΠΡΣΤΥΦΧΨΩαβγδεζηθικλμνξοπρσςτυφχψ░▒▓│┤╡╢╖╕╣║╗╝╜╛┐",
    "└┴┬├─┼╞╟╚╔╩╦╠═╬╧╨╤╥╙╘╒╓╫╪┘┌█▄▌▐▀ωάέήϊίόύϋώΆΈΉΊΌΎΏ±≥≤ΪΫ÷≈°∙·√ⁿ²■\u{a0}",
);

/// Code page 775, bytes 0x80 to 0xFF.
const CP775: &str = concat!(
    "ĆüéāäģåćłēŖŗīŹÄÅÉæÆōöĢ¢ŚśÖÜø£Ø×¤ĀĪóŻżź”¦©®¬½¼Ł«»░▒▓│┤ĄČĘĖ╣║╗╝ĮŠ┐",
    "└┴┬├─┼ŲŪ╚╔╩╦╠═╬Žąčęėįšųūž┘┌█▄▌▐▀ÓßŌŃõÕµńĶķĻļņĒŅ’\u{ad}±“¾¶§÷„°∙·¹³²■\u{a0}",
);

/// Code page 850, bytes 0x80 to 0xFF.
const CP850: &str = concat!(
    "ÇüéâäàåçêëèïîìÄÅÉæÆôöòûùÿÖÜø£Ø×ƒáíóúñÑªº¿®¬½¼¡«»░▒▓│┤ÁÂÀ©╣║╗╝¢¥┐",
    "└┴┬├─┼ãÃ╚╔╩╦╠═╬¤ðÐÊËÈıÍÎÏ┘┌█▄¦Ì▀ÓßÔÒõÕµþÞÚÛÙýÝ¯´\u{ad}±‗¾¶§÷¸°¨·¹³²■\u{a0}",
);

/// Code page 852, bytes 0x80 to 0xFF.
const CP852: &str = concat!(
    "ÇüéâäůćçłëŐőîŹÄĆÉĹĺôöĽľŚśÖÜŤťŁ×čáíóúĄąŽžĘę¬źČş«»░▒▓│┤ÁÂĚŞ╣║╗╝Żż┐",
    "└┴┬├─┼Ăă╚╔╩╦╠═╬¤đĐĎËďŇÍÎě┘┌█▄ŢŮ▀ÓßÔŃńňŠšŔÚŕŰýÝţ´\u{ad}˝˛ˇ˘§÷¸°¨˙űŘř■\u{a0}",
);

/// Code page 857, bytes 0x80 to 0xFF.
const CP857: &str = concat!(
    "ÇüéâäàåçêëèïîıÄÅÉæÆôöòûùİÖÜø£ØŞşáíóúñÑĞğ¿®¬½¼¡«»░▒▓│┤ÁÂÀ©╣║╗╝¢¥┐",
    "└┴┬├─┼ãÃ╚╔╩╦╠═╬¤ºªÊËÈ�ÍÎÏ┘┌█▄¦Ì▀ÓßÔÒõÕµ�×ÚÛÙìÿ¯´\u{ad}±�¾¶§÷¸°¨·¹³²■\u{a0}",
);

/// Code page 860, bytes 0x80 to 0xFF.
const CP860: &str = concat!(
    "ÇüéâãàÁçêÊèÍÔìÃÂÉÀÈôõòÚùÌÕÜ¢£Ù₧ÓáíóúñÑªº¿Ò¬½¼¡«»░▒▓│┤╡╢╖╕╣║╗╝╜╛┐",
    "└┴┬├─┼╞╟╚╔╩╦╠═╬╧╨╤╥╙╘╒╓╫╪┘┌█▄▌▐▀αßΓπΣσµτΦΘΩδ∞φε∩≡±≥≤⌠⌡÷≈°∙·√ⁿ²■\u{a0}",
);

/// Code page 861, bytes 0x80 to 0xFF.
const CP861: &str = concat!(
    "ÇüéâäàåçêëèÐðÞÄÅÉæÆôöþûÝýÖÜø£Ø₧ƒáíóúÁÍÓÚ¿⌐¬½¼¡«»░▒▓│┤╡╢╖╕╣║╗╝╜╛┐",
    "└┴┬├─┼╞╟╚╔╩╦╠═╬╧╨╤╥╙╘╒╓╫╪┘┌█▄▌▐▀αßΓπΣσµτΦΘΩδ∞φε∩≡±≥≤⌠⌡÷≈°∙·√ⁿ²■\u{a0}",
);

/// Code page 863, bytes 0x80 to 0xFF.
const CP863: &str = concat!(
    "ÇüéâÂà¶çêëèïî‗À§ÉÈÊôËÏûù¤ÔÜ¢£ÙÛƒ¦´óú¨¸³¯Î⌐¬½¼¾«»░▒▓│┤╡╢╖╕╣║╗╝╜╛┐",
    "└┴┬├─┼╞╟╚╔╩╦╠═╬╧╨╤╥╙╘╒╓╫╪┘┌█▄▌▐▀αßΓπΣσµτΦΘΩδ∞φε∩≡±≥≤⌠⌡÷≈°∙·√ⁿ²■\u{a0}",
);

/// Code page 865, bytes 0x80 to 0xFF.
const CP865: &str = concat!(
    "ÇüéâäàåçêëèïîìÄÅÉæÆôöòûùÿÖÜø£Ø₧ƒáíóúñÑªº¿⌐¬½¼¡«¤░▒▓│┤╡╢╖╕╣║╗╝╜╛┐",
    "└┴┬├─┼╞╟╚╔╩╦╠═╬╧╨╤╥╙╘╒╓╫╪┘┌█▄▌▐▀αßΓπΣσµτΦΘΩδ∞φε∩≡±≥≤⌠⌡÷≈°∙·√ⁿ²■\u{a0}",
);

#[cfg(test)]
mod tests {
    use super::*;

    fn decode(label: &str, bytes: &[u8]) -> String {
        CodePage::from_label(label).unwrap().decode(bytes).0
    }

    /// Expected bytes: the codecs of Python 3.11 (`"Grødeå".encode("cp865")` and so on).
    #[test]
    fn labels_give_the_text_that_python_gives() {
        assert_eq!(decode("UTF-8\r\n", b"Gr\xc3\xb8de"), "Grøde");
        assert_eq!(decode("1252", b"Gr\xf8de"), "Grøde");
        assert_eq!(decode("ANSI 1252", b"Gr\xf8de"), "Grøde");
        assert_eq!(decode("ISO-8859-1", b"Gr\xf8de"), "Grøde");
        assert_eq!(decode("88591", b"Gr\xf8de"), "Grøde");
        assert_eq!(decode("885915", b"\xa4"), "€");
        assert_eq!(decode("OEM 865", b"Gr\x9bde"), "Grøde");
        assert_eq!(decode("cp437", b"M\x81hle"), "Mühle");
        assert_eq!(decode("850", b"M\x81hle \xb6"), "Mühle Â");
        assert_eq!(decode("852", b"\x88\xa2\xab"), "łóź");
        assert_eq!(decode("CP1251", b"\xcf\xee\xeb\xe5"), "Поле");
        assert_eq!(decode("866", b"\x8f\xae\xab\xa5"), "Поле");
        assert_eq!(decode("LDID/102", b"Gr\x9bde"), "Grøde");
        assert!(CodePage::from_label("no such page").is_none());
        assert!(CodePage::from_label("").is_none());
    }

    #[test]
    fn every_dos_table_has_128_characters() {
        for table in [
            CP437, CP737, CP775, CP850, CP852, CP857, CP860, CP861, CP863, CP865,
        ] {
            assert_eq!(table.chars().count(), 128);
        }
    }

    #[test]
    fn language_bytes_are_known_or_open() {
        let text = |byte, bytes| CodePage::from_language_byte(byte).unwrap().decode(bytes).0;
        assert_eq!(text(0x03, b"\xe4"), "ä");
        assert_eq!(text(0x02, b"\x84"), "ä");
        assert_eq!(text(0xC9, b"\xe4"), "д");
        assert!(CodePage::from_language_byte(0).is_none());
        assert!(CodePage::from_language_byte(0x57).is_none());
    }

    #[test]
    fn bytes_without_meaning_are_told() {
        assert!(CodePage::UTF_8.decode(b"\xf8").1);
        assert!(CodePage::from_label("857").unwrap().decode(b"\xd5").1);
        assert!(!CodePage::WESTERN.decode(b"\xf8").1);
    }
}
