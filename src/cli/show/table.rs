//! Plain tables that fit the terminal.

use comfy_table::presets::NOTHING;
use comfy_table::{Cell, CellAlignment, ContentArrangement};

/// A column: its title, and the side its content stands on.
#[derive(Clone, Debug)]
pub(in crate::cli) enum Column<T = &'static str> {
    Left(T),
    Right(T),
}

/// A table without lines, two blanks from the left.
pub(in crate::cli) struct Table {
    table: comfy_table::Table,
}

impl Table {
    pub(in crate::cli) fn new<T: Into<String>>(
        columns: impl IntoIterator<Item = Column<T>>,
    ) -> Self {
        let mut table = comfy_table::Table::new();
        table
            .load_style(NOTHING)
            .set_content_arrangement(ContentArrangement::Dynamic);
        let (titles, sides): (Vec<String>, Vec<CellAlignment>) = columns
            .into_iter()
            .map(|column| match column {
                Column::Left(title) => (title.into(), CellAlignment::Left),
                Column::Right(title) => (title.into(), CellAlignment::Right),
            })
            .unzip();
        table.set_header(titles);
        for (column, side) in table.column_iter_mut().zip(sides) {
            column.set_padding((1, 1)).set_cell_alignment(side);
        }
        Self { table }
    }

    pub(in crate::cli) fn row(&mut self, cells: impl IntoIterator<Item = String>) {
        self.table
            .add_row(cells.into_iter().map(Cell::new).collect::<Vec<_>>());
    }

    /// The table with a line end after each row.
    pub(in crate::cli) fn text(&self) -> String {
        self.table
            .lines()
            .map(|line| format!(" {}\n", line.trim_end()))
            .collect()
    }
}
