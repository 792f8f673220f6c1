//! Plain tables. One that is wider than the terminal becomes a list, so that no number breaks.

use comfy_table::presets::NOTHING;
use comfy_table::{Cell, CellAlignment, ContentArrangement};

/// Columns of the terminal; none where nobody looks at one.
pub(in crate::cli) fn screen_columns() -> Option<usize> {
    comfy_table::Table::new().width().map(usize::from)
}

/// A column: its title, and the side its content stands on.
#[derive(Clone, Debug)]
pub(in crate::cli) enum Column<T = &'static str> {
    Left(T),
    Right(T),
}

/// A table without lines, two blanks from the left.
pub(in crate::cli) struct Table {
    table: comfy_table::Table,
    titles: Vec<String>,
    rows: Vec<Vec<String>>,
}

impl Table {
    pub(in crate::cli) fn new<T: Into<String>>(
        columns: impl IntoIterator<Item = Column<T>>,
    ) -> Self {
        let mut table = comfy_table::Table::new();
        table
            .load_style(NOTHING)
            .set_content_arrangement(ContentArrangement::Disabled);
        let (titles, sides): (Vec<String>, Vec<CellAlignment>) = columns
            .into_iter()
            .map(|column| match column {
                Column::Left(title) => (title.into(), CellAlignment::Left),
                Column::Right(title) => (title.into(), CellAlignment::Right),
            })
            .unzip();
        table.set_header(&titles);
        for (column, side) in table.column_iter_mut().zip(sides) {
            column.set_padding((1, 1)).set_cell_alignment(side);
        }
        Self {
            table,
            titles,
            rows: Vec::new(),
        }
    }

    pub(in crate::cli) fn row(&mut self, cells: impl IntoIterator<Item = String>) {
        let cells: Vec<String> = cells.into_iter().collect();
        self.table.add_row(cells.iter().map(Cell::new));
        self.rows.push(cells);
    }

    /// The table with a line end after each row.
    pub(in crate::cli) fn text(&self) -> String {
        self.text_within(screen_columns())
    }

    /// The same for a terminal of so many columns.
    fn text_within(&self, columns: Option<usize>) -> String {
        let lines = self
            .table
            .lines()
            .map(|line| format!(" {}", line.trim_end()));
        let lines: Vec<String> = lines.collect();
        let fits = |columns| lines.iter().all(|line| line.chars().count() <= columns);
        match columns {
            Some(columns) if !fits(columns) => self.list(columns),
            _ => lines.iter().map(|line| format!("{line}\n")).collect(),
        }
    }

    /// A paragraph for each row: what stands in a column, after its title. Lines end between cells.
    fn list(&self, columns: usize) -> String {
        let mut text = String::new();
        for row in &self.rows {
            let cells = self.titles.iter().zip(row);
            let cells = cells.filter(|(_, cell)| !cell.is_empty());
            let mut line = String::new();
            for (title, cell) in cells {
                let cell = match title.is_empty() {
                    true => cell.clone(),
                    false => format!("{title}: {cell}"),
                };
                let indent = if line.is_empty() { "  " } else { "    " };
                let more = line.chars().count() + 2 + cell.chars().count();
                if line.is_empty() {
                    line = format!("{indent}{cell}");
                } else if more <= columns {
                    line = format!("{line}, {cell}");
                } else {
                    text.push_str(&format!("{line},\n"));
                    line = format!("{indent}{cell}");
                }
            }
            text.push_str(&format!("{line}\n"));
        }
        text
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_table_wider_than_the_terminal_becomes_a_list_in_which_no_number_breaks() {
        let titles = [
            "land part",
            "soil",
            "barley kg/ha",
            "starter kg/ha",
            "phosphate",
        ];
        let mut table = Table::new(titles.map(Column::Right));
        table.row(["headland", "clay", "118.26", "1\u{a0}104", ""].map(str::to_owned));
        let wide = table.text_within(None);
        assert_eq!(wide.lines().count(), 2, "{wide}");
        assert_eq!(table.text_within(Some(200)), wide);
        let list = table.text_within(Some(50));
        let wanted = "  land part: headland, soil: clay,\n    barley kg/ha: 118.26, starter kg/ha: 1\u{a0}104\n";
        assert_eq!(list, wanted);
    }
}
