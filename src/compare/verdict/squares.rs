//! Squares of the ground as shapes: narrow parts taken off, edges taken off, parts that hang together.

use crate::compare::land::Ground;

/// What is left of some squares if every one has to lie in a window, so many squares wide and high, that is whole.
pub(super) fn opened(squares: &[bool], ground: &Ground, window: usize) -> Vec<bool> {
    let (columns, rows) = (ground.columns, ground.rows);
    let mut result = vec![false; squares.len()];
    if columns < window || rows < window {
        return result;
    }
    let sums = sums(squares, columns, rows);
    let mut edges = vec![0_i32; (columns + 1) * (rows + 1)];
    let mut add = |column: usize, row: usize, by: i32| {
        if let Some(own) = edges.get_mut(row * (columns + 1) + column) {
            *own += by;
        }
    };
    for row in 0..=rows - window {
        for column in 0..=columns - window {
            if count(
                &sums,
                columns,
                [column, row],
                [column + window, row + window],
            ) == window * window
            {
                add(column, row, 1);
                add(column + window, row, -1);
                add(column, row + window, -1);
                add(column + window, row + window, 1);
            }
        }
    }
    let covered = sums_of(&edges, columns + 1);
    for row in 0..rows {
        for column in 0..columns {
            let over = covered
                .get(row * (columns + 1) + column)
                .copied()
                .unwrap_or(0);
            if let Some(own) = result.get_mut(row * columns + column) {
                *own = over > 0;
            }
        }
    }
    result
}

/// Squares whose neighbours, so many to each side, are all such squares; beyond the grid counts as such.
pub(super) fn shrunk(squares: &[bool], ground: &Ground, margin: usize) -> Vec<bool> {
    let (columns, rows) = (ground.columns, ground.rows);
    let sums = sums(squares, columns, rows);
    let mut result = vec![false; squares.len()];
    for row in 0..rows {
        for column in 0..columns {
            let low = [column.saturating_sub(margin), row.saturating_sub(margin)];
            let high = [
                (column + margin + 1).min(columns),
                (row + margin + 1).min(rows),
            ];
            let all = (high[0] - low[0]) * (high[1] - low[1]);
            if let Some(own) = result.get_mut(row * columns + column) {
                *own = count(&sums, columns, low, high) == all;
            }
        }
    }
    result
}

/// Summed-area table, one row and column larger.
fn sums(squares: &[bool], columns: usize, rows: usize) -> Vec<i32> {
    let mut table = vec![0_i32; (columns + 1) * (rows + 1)];
    for (row, line) in squares.chunks(columns.max(1)).enumerate() {
        for (column, own) in line.iter().enumerate() {
            let at = (row + 1) * (columns + 1) + column + 1;
            if let Some(place) = table.get_mut(at) {
                *place = i32::from(*own);
            }
        }
    }
    sums_of(&table, columns + 1)
}

/// Sums of everything to the west and south, with the square itself.
fn sums_of(values: &[i32], columns: usize) -> Vec<i32> {
    let mut table = values.to_vec();
    for at in 0..table.len() {
        let value = |at: Option<usize>| at.and_then(|at| table.get(at)).copied().unwrap_or(0);
        let west = (at % columns > 0).then(|| at - 1);
        let south = at.checked_sub(columns);
        let both = west.and_then(|west| west.checked_sub(columns));
        let sum = value(Some(at)) + value(west) + value(south) - value(both);
        if let Some(own) = table.get_mut(at) {
            *own = sum;
        }
    }
    table
}

fn count(sums: &[i32], columns: usize, low: [usize; 2], high: [usize; 2]) -> usize {
    let at =
        |column: usize, row: usize| sums.get(row * (columns + 1) + column).copied().unwrap_or(0);
    let sum = at(high[0], high[1]) - at(low[0], high[1]) - at(high[0], low[1]) + at(low[0], low[1]);
    usize::try_from(sum).unwrap_or(0)
}

/// Squares that touch along an edge.
pub(super) struct Part {
    pub squares: Vec<usize>,
    /// The longer side of what it spans, m.
    pub longest_m: f64,
}

pub(super) fn parts(squares: &[bool], ground: &Ground) -> Vec<Part> {
    let columns = ground.columns;
    let mut seen = vec![false; squares.len()];
    let mut found = Vec::new();
    for start in 0..squares.len() {
        if squares.get(start) != Some(&true) || seen.get(start) == Some(&true) {
            continue;
        }
        let mut own = vec![start];
        if let Some(seen) = seen.get_mut(start) {
            *seen = true;
        }
        let mut next = 0;
        let (mut low, mut high) = ([usize::MAX; 2], [0; 2]);
        while let Some(at) = own.get(next).copied() {
            next += 1;
            let place = [at % columns, at / columns];
            low = [low[0].min(place[0]), low[1].min(place[1])];
            high = [high[0].max(place[0]), high[1].max(place[1])];
            let beside = [
                (place[0] > 0).then(|| at - 1),
                (place[0] + 1 < columns).then_some(at + 1),
                at.checked_sub(columns),
                Some(at + columns),
            ];
            for at in beside.into_iter().flatten() {
                if squares.get(at) == Some(&true)
                    && let Some(seen) = seen.get_mut(at).filter(|seen| !**seen)
                {
                    *seen = true;
                    own.push(at);
                }
            }
        }
        let wide = (high[0] + 1 - low[0]) as f64 * ground.edge_m;
        let tall = (high[1] + 1 - low[1]) as f64 * ground.edge_m;
        own.sort_unstable();
        found.push(Part {
            squares: own,
            longest_m: wide.hypot(tall),
        });
    }
    found
}
