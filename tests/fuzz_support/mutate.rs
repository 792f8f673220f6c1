//! Seeded changes to the bytes of a file: those that break readers most often.

/// SplitMix64 (Steele, Lea, Flood 2014): the same seed gives the same files on every machine.
pub struct Dice(pub u64);

impl Dice {
    pub fn roll(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9E37_79B9_7F4A_7C15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
        z ^ (z >> 31)
    }

    /// A number below `end`; 0 where that is 0.
    pub fn below(&mut self, end: usize) -> usize {
        match end {
            0 => 0,
            end => (self.roll() % end as u64) as usize,
        }
    }
}

/// Numbers that readers stumble over, as texts.
const NUMBERS: [&str; 16] = [
    "0",
    "-1",
    "1",
    "255",
    "65535",
    "2147483647",
    "-2147483648",
    "4294967295",
    "18446744073709551615",
    "1e308",
    "-1e-308",
    "NaN",
    "inf",
    "",
    "0.000000001",
    "180.0000001",
];

/// Numbers that readers stumble over, as little-endian bytes.
const WORDS: [u32; 10] = [
    0,
    1,
    0x7F,
    0xFF,
    0x7FFF,
    0xFFFF,
    0x7FFF_FFFF,
    0x8000_0000,
    0xFFFF_FFFF,
    0x0001_0000,
];

/// One to six changes to a file, some of them with pieces of another one.
pub fn mutated(file: &[u8], other: &[u8], dice: &mut Dice) -> Vec<u8> {
    let mut bytes = file.to_vec();
    for _ in 0..=dice.below(6) {
        change(&mut bytes, other, dice);
    }
    bytes.truncate(1 << 17);
    bytes
}

fn change(bytes: &mut Vec<u8>, other: &[u8], dice: &mut Dice) {
    let at = dice.below(bytes.len());
    let span = |dice: &mut Dice, from: usize, all: usize| {
        let most = if dice.below(4) == 0 { all } else { 24 };
        (from + 1 + dice.below(most)).min(all)
    };
    let end = span(dice, at, bytes.len());
    match dice.below(10) {
        0 => bytes.truncate(at),
        1 => {
            if let Some(byte) = bytes.get_mut(at) {
                *byte ^= 1 << dice.below(8);
            }
        }
        2 => {
            if let Some(byte) = bytes.get_mut(at) {
                *byte = dice.roll() as u8;
            }
        }
        3 => drop(bytes.drain(at.min(end)..end)),
        4 => {
            let piece = bytes.get(at..end).unwrap_or_default().to_vec();
            let to = dice.below(bytes.len());
            let times = 1 + dice.below(8);
            bytes.splice(to..to, piece.repeat(times));
        }
        5 => {
            let word = WORDS[dice.below(WORDS.len())];
            let word = match dice.below(2) {
                0 => word.to_le_bytes(),
                _ => word.to_be_bytes(),
            };
            let to = (at + 4).min(bytes.len());
            bytes.splice(at.min(to)..to, word);
        }
        6 => {
            let from = dice.below(other.len());
            let until = span(dice, from, other.len());
            let piece = other.get(from..until).unwrap_or_default().to_vec();
            bytes.splice(at.min(end)..end, piece);
        }
        // Texts: a number, a quoted value, or a tag for another one.
        7 | 8 => replace_number(bytes, at, dice),
        _ => swap_quoted(bytes, at, dice),
    }
}

/// Puts another number in the place of the first one after `from`.
fn replace_number(bytes: &mut Vec<u8>, from: usize, dice: &mut Dice) {
    let digit = |byte: &u8| byte.is_ascii_digit() || *byte == b'.';
    let Some(start) = (from..bytes.len()).find(|at| bytes.get(*at).is_some_and(digit)) else {
        return;
    };
    let len = bytes
        .iter()
        .skip(start)
        .take_while(|byte| digit(byte))
        .count();
    let number = NUMBERS[dice.below(NUMBERS.len())];
    bytes.splice(start..start + len, number.bytes());
}

/// Exchanges two quoted texts.
fn swap_quoted(bytes: &mut Vec<u8>, from: usize, dice: &mut Dice) {
    let quoted = |bytes: &[u8], from: usize| {
        let start = from + bytes.get(from..)?.iter().position(|byte| *byte == b'"')? + 1;
        let end = start + bytes.get(start..)?.iter().position(|byte| *byte == b'"')?;
        Some(start..end)
    };
    let to = dice.below(bytes.len());
    let (Some(a), Some(b)) = (quoted(bytes, from), quoted(bytes, to)) else {
        return;
    };
    if let Some(text) = bytes.get(b).map(<[u8]>::to_vec) {
        bytes.splice(a, text);
    }
}
