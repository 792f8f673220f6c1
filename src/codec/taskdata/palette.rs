//! Colours as task data know them: numbers of the colour table of ISO 11783-6. Its numbers 16 to 231 are six steps each of red, green
//! and blue, the blue changing fastest; 0 to 15 are 16 of these colours once more, and from 232 on each terminal has its own.
//!
//! Source: two general-purpose open-source libraries of the standard, AgIsoStack-plus-plus (`VTColourTable`) and isoxml_dart
//! (`Iso11783Colour`), which agree. The text of the standard was not used.

/// Between two steps of a colour, of 255.
const STEP: u16 = 51;

/// White.
pub const WHITE: u8 = 1;

/// The number of the nearest colour of the table to red, green and blue, each from 0 to 255.
pub fn nearest([red, green, blue]: [u8; 3]) -> u8 {
    let step = |part: u8| (u16::from(part) + STEP / 2) / STEP;
    let number = 16 + 36 * step(red) + 6 * step(green) + step(blue);
    u8::try_from(number).unwrap_or(WHITE)
}

#[cfg(test)]
mod tests {
    use super::nearest;

    /// Some colours of both libraries' tables, each by its number.
    #[test]
    fn a_colour_of_the_table_has_its_number() {
        for (number, colour) in [
            (16, [0, 0, 0]),
            (21, [0, 0, 255]),
            (22, [0, 51, 0]),
            (52, [51, 0, 0]),
            (123, [102, 255, 255]),
            (136, [153, 102, 0]),
            (231, [255, 255, 255]),
        ] {
            assert_eq!(nearest(colour), number, "{colour:?}");
        }
    }

    #[test]
    fn no_other_colour_of_the_table_is_nearer() {
        let table: Vec<[i32; 3]> = (0..216)
            .map(|at: i32| [at / 36 * 51, at / 6 % 6 * 51, at % 6 * 51])
            .collect();
        for seed in 0..2000_u32 {
            let hash = seed.wrapping_mul(2_654_435_761);
            let colour = [hash >> 24, hash >> 16, hash >> 8].map(|part| part as u8);
            let apart = |other: &[i32; 3]| -> i32 {
                let parts = other.iter().zip(colour);
                parts.map(|(a, b)| (a - i32::from(b)).pow(2)).sum()
            };
            let least = table.iter().map(apart).min();
            let found = table[usize::from(nearest(colour)) - 16];
            assert_eq!(Some(apart(&found)), least, "{colour:?}");
        }
    }
}
