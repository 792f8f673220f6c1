//! The walk along borders: what each leaves in the cells it passes.
//!
//! Borders mostly follow each other within one cell. The cell where the last one ended is known with
//! its sides, so a border that stays there costs no division, and what neighbouring pieces of a line
//! leave in the same cell is one mark.

use super::CellGrid;
use crate::units::nearest_whole;

/// What a piece of a line leaves in a cell. Going up counts for the group on the right, down for the
/// one on the left; the other loses as much.
#[derive(Clone, Copy)]
pub(super) struct Mark {
    pub column: u32,
    pub row: u32,
    /// The groups left and right of it, or [`NOBODY`].
    pub groups: [u32; 2],
    /// Height it climbs in the cell.
    pub climb: i64,
    /// Twice the area between it and the cell's east side, negative where it falls.
    pub area2: i128,
}

/// Stands for no group.
pub(super) const NOBODY: u32 = u32::MAX;

/// Marks that are kept in one piece of memory.
const MARKS_AT_ONCE: usize = 1 << 12;

/// Marks by number. In pieces, so that what is there is never copied to grow and no more is taken than is filled.
#[derive(Default)]
pub(super) struct Marks(Vec<Vec<Mark>>);

impl Marks {
    #[inline]
    fn push(&mut self, mark: Mark) {
        match self.0.last_mut().filter(|last| last.len() < MARKS_AT_ONCE) {
            Some(last) => last.push(mark),
            None => {
                let mut next = Vec::with_capacity(MARKS_AT_ONCE);
                next.push(mark);
                self.0.push(next);
            }
        }
    }

    #[inline]
    fn last_mut(&mut self) -> Option<&mut Mark> {
        self.0.last_mut()?.last_mut()
    }

    #[inline]
    pub fn get(&self, number: u32) -> &Mark {
        let number = number as usize;
        &self.0[number / MARKS_AT_ONCE][number % MARKS_AT_ONCE]
    }

    pub fn iter(&self) -> impl Iterator<Item = &Mark> {
        self.0.iter().flatten()
    }
}

/// One direction of a grid.
struct Axis {
    origin: i64,
    cell: i64,
    count: i64,
    /// Cells per unit, nearly.
    per_unit: f64,
}

impl Axis {
    /// The cell that begins at or before a place, as a division would find it; the first or last beyond the grid.
    #[inline]
    fn cell_of(&self, place: i64) -> i64 {
        let from_origin = place - self.origin;
        // Exact but for the last cell or so, as the two steps below make sure.
        let mut cell =
            ((from_origin as f64 * self.per_unit) as i64).clamp(0, (self.count - 1).max(0));
        while cell > 0 && from_origin < cell * self.cell {
            cell -= 1;
        }
        while cell + 1 < self.count && from_origin >= (cell + 1) * self.cell {
            cell += 1;
        }
        cell
    }

    #[inline]
    fn start_of(&self, cell: i64) -> i64 {
        self.origin + cell * self.cell
    }
}

/// Part of a border within one cell, going up.
struct Piece {
    cell: [i64; 2],
    climb: i64,
    /// Twice its mean distance from the cell's east side.
    to_east2: i64,
}

/// Where the last border ended.
struct Here {
    point: [i64; 2],
    cell: [i64; 2],
    /// South-west and north-east corner of the cell.
    low: [i64; 2],
    high: [i64; 2],
}

pub(super) struct Walk {
    axes: [Axis; 2],
    here: Here,
    marks: Marks,
    /// Of a border that leaves its cell.
    pieces: Vec<Piece>,
}

impl Walk {
    pub fn on(grid: CellGrid) -> Self {
        let counts = [grid.columns, grid.rows];
        let axes = [0, 1].map(|k| Axis {
            origin: grid.origin[k],
            cell: grid.cell[k],
            count: counts[k] as i64,
            per_unit: 1.0 / grid.cell[k] as f64,
        });
        let here = cell_at(&axes, grid.origin);
        Self {
            axes,
            here,
            marks: Marks::default(),
            pieces: Vec::new(),
        }
    }

    /// Walks a border through the cells it passes.
    #[inline]
    pub fn along(&mut self, from: [i64; 2], to: [i64; 2], groups: [Option<u32>; 2]) {
        if self.here.point != from {
            self.here = cell_at(&self.axes, from);
        }
        let groups = [groups[0].unwrap_or(NOBODY), groups[1].unwrap_or(NOBODY)];
        let Here {
            cell, low, high, ..
        } = self.here;
        let within = |x: i64| low[0] <= x && x < high[0];
        let stays = within(from[0]) && within(to[0]) && low[1] <= to[1] && to[1] <= high[1];
        if from[1] == to[1] {
            // A level border leaves nothing.
        } else if stays {
            let to_east2 = 2 * high[0] - from[0] - to[0];
            self.leave(cell, groups, to[1] - from[1], to_east2);
        } else {
            self.through_cells(from, to, groups);
        }
        if stays && to[1] < high[1] {
            self.here.point = to;
        } else {
            self.here = cell_at(&self.axes, to);
        }
    }

    pub fn into_marks(self) -> Marks {
        self.marks
    }

    #[inline]
    fn leave(&mut self, cell: [i64; 2], groups: [u32; 2], climb: i64, to_east2: i64) {
        let [column, row] = [cell[0] as u32, cell[1] as u32];
        let area2 = i128::from(climb) * i128::from(to_east2);
        if let Some(last) = self.marks.last_mut()
            && (last.column, last.row, last.groups) == (column, row, groups)
        {
            last.climb += climb;
            last.area2 += area2;
            return;
        }
        self.marks.push(Mark {
            column,
            row,
            groups,
            climb,
            area2,
        });
    }

    /// A border that leaves the cell it starts in. It is cut going up, whichever way it runs, so that
    /// what lies on either side of it rounds alike.
    fn through_cells(&mut self, from: [i64; 2], to: [i64; 2], groups: [u32; 2]) {
        let mut pieces = std::mem::take(&mut self.pieces);
        if from[1] < to[1] {
            cut(&self.axes, from, to, &mut pieces);
            for piece in pieces.drain(..) {
                self.leave(piece.cell, groups, piece.climb, piece.to_east2);
            }
        } else {
            cut(&self.axes, to, from, &mut pieces);
            for piece in pieces.drain(..).rev() {
                self.leave(piece.cell, groups, -piece.climb, piece.to_east2);
            }
        }
        self.pieces = pieces;
    }
}

/// The cell of a place; the first or last of those beyond the grid.
#[inline]
fn cell_at([across, up]: &[Axis; 2], point: [i64; 2]) -> Here {
    let cell = [across.cell_of(point[0]), up.cell_of(point[1])];
    let low = [across.start_of(cell[0]), up.start_of(cell[1])];
    Here {
        point,
        cell,
        low,
        high: [low[0] + across.cell, low[1] + up.cell],
    }
}

/// Cuts a border at the sides of cells.
fn cut([across, up]: &[Axis; 2], low: [i64; 2], high: [i64; 2], pieces: &mut Vec<Piece>) {
    let [run, rise] = [(high[0] - low[0]) as f64, (high[1] - low[1]) as f64];
    let [x_min, x_max] = [low[0].min(high[0]), low[0].max(high[0])];
    let x_at = |y: i64| {
        let x = low[0] + nearest_whole((y - low[1]) as f64 / rise * run);
        x.clamp(x_min, x_max)
    };
    let [mut x, mut y] = low;
    let mut column = across.cell_of(x);
    let mut row = up.cell_of(y);
    loop {
        let top = up.start_of(row + 1);
        let last = top >= high[1] || row + 1 == up.count;
        let [x_end, y_end] = if last { high } else { [x_at(top), top] };
        let step = if x_end >= x { 1 } else { -1 };
        let column_end = across.cell_of(x_end);
        loop {
            let east_side = across.start_of(column + 1);
            let [x_next, y_next] = if column == column_end {
                [x_end, y_end]
            } else {
                let side = if step > 0 {
                    east_side
                } else {
                    east_side - across.cell
                };
                let y_side = low[1] + nearest_whole((side - low[0]) as f64 / run * rise);
                [side, y_side.clamp(y, y_end)]
            };
            let climb = y_next - y;
            if climb != 0 {
                pieces.push(Piece {
                    cell: [column, row],
                    climb,
                    to_east2: 2 * east_side - x - x_next,
                });
            }
            [x, y] = [x_next, y_next];
            if column == column_end {
                break;
            }
            column += step;
        }
        if last {
            return;
        }
        row += 1;
    }
}
