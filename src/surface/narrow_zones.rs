//! Parts of zones that are too narrow to follow go to the zone beside them.

use super::nearest::nearest;
use super::regions::{NO_CLASS, NONE, Regions};

/// Gives each pixel in a part of its region that is narrower than `width_m` the class of the nearest
/// part that is wide enough. `None` where no part is, or where the width is no more than two pixels, so
/// that nothing narrower can be told.
///
/// A part is wide enough if a circle of that width, less one pixel, fits into it: what is left of a
/// region once it is worn off by half of that from its border and grown again by as much. Widths are
/// so measured to a pixel; sharp corners go to the region they belong to anyway.
pub(super) fn without_narrow_parts(
    regions: &Regions,
    width_m: f64,
    pixel_m: [f64; 2],
) -> Option<Vec<u8>> {
    let reach = width_m / 2.0 - pixel_m[0].max(pixel_m[1]);
    if reach <= 0.0 {
        return None;
    }
    let columns = regions.columns;
    let grid = regions.grid();
    let along_border = border(&grid, columns);
    let to_border = nearest(&along_border, columns, pixel_m);
    let away = |a: usize, b: u32| {
        let b = b as usize;
        let across = (a % columns).abs_diff(b % columns) as f64 * pixel_m[0];
        let down = (a / columns).abs_diff(b / columns) as f64 * pixel_m[1];
        across.hypot(down)
    };
    let core: Vec<bool> = (0..grid.len())
        .map(|at| grid[at] != NONE && (to_border[at] == NONE || away(at, to_border[at]) >= reach))
        .collect();
    if !core.contains(&true) {
        return None;
    }
    let to_core = nearest(&core, columns, pixel_m);
    let grown = reach + 0.5 * pixel_m[0].min(pixel_m[1]);
    let class = |region: u32| regions.class[region as usize];
    let widened = grid.iter().enumerate().map(|(at, &region)| {
        let core = to_core[at];
        match region {
            NONE => NO_CLASS,
            own => {
                let other = grid[core as usize];
                let stays = own == other && away(at, core) <= grown;
                class(if stays { own } else { other })
            }
        }
    });
    Some(widened.collect())
}

/// The pixels that have another region, or none, or the end of the grid beside them or at a corner.
fn border(grid: &[u32], columns: usize) -> Vec<bool> {
    let (columns, rows) = (columns as i64, (grid.len() / columns.max(1)) as i64);
    let region = |column: i64, row: i64| {
        let on_grid = (0..columns).contains(&column) && (0..rows).contains(&row);
        on_grid.then(|| grid[(row * columns + column) as usize])
    };
    let mut border = Vec::with_capacity(grid.len());
    for row in 0..rows {
        for column in 0..columns {
            let own = region(column, row);
            let differs = || {
                (row - 1..=row + 1)
                    .flat_map(|row| (column - 1..=column + 1).map(move |column| (column, row)))
                    .any(|(column, row)| region(column, row) != own)
            };
            border.push(own != Some(NONE) && differs());
        }
    }
    border
}

#[cfg(test)]
mod tests {
    use super::*;

    fn widened(rows: &[&str], width: f64) -> Option<Vec<String>> {
        let columns = rows[0].len();
        let classes: Vec<u8> = rows
            .iter()
            .flat_map(|row| row.bytes())
            .map(|byte| match byte {
                b'.' => NO_CLASS,
                byte => byte - b'0',
            })
            .collect();
        let regions = Regions::of(&classes, columns, rows.len());
        let text = |line: &[u8]| {
            line.iter()
                .map(|class| match *class {
                    NO_CLASS => '.',
                    class => (b'0' + class) as char,
                })
                .collect()
        };
        Some(
            without_narrow_parts(&regions, width, [1.0, 1.0])?
                .chunks(columns)
                .map(text)
                .collect(),
        )
    }

    #[test]
    fn a_strip_and_a_neck_go_to_what_is_beside_them() {
        #[rustfmt::skip]
        let strip = ["1111111", "1111111", "1111111", "2222222", "3333333", "3333333", "3333333"];
        let now = widened(&strip, 4.0).unwrap();
        assert!(now[3].chars().all(|c| c != '2'), "{now:?}");
        assert_eq!((now[2].as_str(), now[4].as_str()), ("1111111", "3333333"));
        // Two blocks joined by a neck of one pixel: the neck goes, the blocks stay.
        let wall = "1111111111111111111";
        let (two, neck) = ("1111222211122221111", "1111222222222221111");
        let rows = [
            wall, wall, wall, wall, two, two, neck, two, wall, wall, wall, wall,
        ];
        // A stub as long as half a pixel and a bit may stay at either end.
        let mut wanted = rows;
        wanted[6] = "1111222221222221111";
        assert_eq!(widened(&rows, 4.0).unwrap(), wanted);
    }

    #[test]
    fn land_without_a_value_stays_so_and_wide_land_stays_as_it_is() {
        let field = [
            ".11111", "111111", "111111", "111111", "222222", "222222", "222222",
        ];
        assert_eq!(widened(&field, 4.0).unwrap(), field);
        // Narrower than two pixels: not told; nothing wide enough anywhere: left alone.
        assert_eq!(widened(&field, 2.0), None);
        assert_eq!(widened(&["12", "12"], 50.0), None);
    }
}
