//! How plots of a block lie beside and behind each other; of a chessboard all blocks in one piece.

use super::blocks::{Block, Search};
use crate::job::{Chessboard, TrialDesign};

impl Search<'_> {
    /// The chessboard of the trial, with how many cells of a block lie side by side: as the job says, or what is nearest to a square.
    pub fn board(&self) -> Option<(&Chessboard, usize)> {
        let trial = self.tried.trial;
        let board = trial.chessboard.as_ref()?;
        let given = board.cells_across.map(|across| across as usize);
        let plots = self.tried.treatments.len();
        let wide_m = self.strip.0 as f64 * self.bouts.width_m;
        let long_m = trial.length_m.unwrap_or(self.least_m());
        // Map and flat lie beside each other, so that each zone can answer.
        let least = match trial.design {
            TrialDesign::MapAgainstFlat => 2,
            _ => 1,
        };
        let shapes = (least..=plots).filter(|across| plots.is_multiple_of(*across));
        let off_square = |across: &usize| {
            let long_m = (plots / across) as f64 * long_m;
            (*across as f64 * wide_m / long_m).ln().abs()
        };
        let square = shapes.min_by(|a, b| off_square(a).total_cmp(&off_square(b)));
        Some((board, given.or(square).unwrap_or(plots).max(1)))
    }

    /// Whether plots have the least length, if none is given.
    pub(super) fn is_short(&self) -> bool {
        let trial = self.tried.trial;
        trial.design == TrialDesign::FlatStamps || trial.chessboard.is_some()
    }

    /// How many plots of a block lie side by side, and how many behind each other: all beside, or fewer and the others behind them. Of a
    /// chessboard those of all blocks together.
    pub(super) fn shapes(&self) -> Vec<[usize; 2]> {
        let plots = self.tried.treatments.len();
        if let Some((board, across)) = self.board() {
            return vec![[
                board.blocks_across as usize * across,
                board.blocks_along as usize * (plots / across),
            ]];
        }
        (1..=plots)
            .rev()
            .filter(|across| plots.is_multiple_of(*across))
            .map(|across| [across, plots / across])
            .collect()
    }

    /// A chessboard in its blocks, row by row; any other block as it is.
    pub(super) fn parted(&self, piece: Block) -> Vec<Block> {
        let Some((board, cells_across)) = self.board() else {
            return vec![piece];
        };
        let cells_along = self.tried.treatments.len() / cells_across;
        let in_row = board.blocks_across as usize * cells_across;
        let block = |row: usize, column: usize| {
            let cells = (0..cells_along).flat_map(|behind| {
                let first = (row * cells_along + behind) * in_row + column * cells_across;
                first..first + cells_across
            });
            Block {
                zone: piece.zone,
                plots: cells
                    .filter_map(|cell| piece.plots.get(cell).copied())
                    .collect(),
                turn: Some(row),
                cost: piece.cost,
            }
        };
        let rows = 0..board.blocks_along as usize;
        rows.flat_map(|row| (0..board.blocks_across as usize).map(move |column| (row, column)))
            .map(|(row, column)| block(row, column))
            .collect()
    }
}
