//! Grids for tests.

use super::regions::NO_CLASS;

/// Whole numbers by the generator of D. H. Lehmer, the same in every run.
pub(super) fn numbers() -> impl FnMut() -> u64 {
    let mut state = 20_261_125_u64;
    move || {
        state = state * 48_271 % 2_147_483_647;
        state
    }
}

/// One region; a region within and beside others that touches one at a corner; then salt and pepper with 1
/// to 4 classes, with pixels of no class and without. Classes row by row, and columns.
pub(super) fn grids() -> Vec<(Vec<u8>, usize)> {
    #[rustfmt::skip]
    let corners = vec![
        1, 1, 1, 1,
        1, 2, 1, 3,
        1, 1, 2, 3,
        NO_CLASS, 1, 1, 1,
    ];
    let mut grids = vec![(vec![1], 1), (corners, 4)];
    let mut next = numbers();
    for columns in [2, 3, 7, 12, 20] {
        for classes in 1..5 {
            for none in [0, 1] {
                let class = |number: u64| match number % (classes + none) {
                    class if class == classes => NO_CLASS,
                    class => class as u8,
                };
                let grid = (0..columns * columns).map(|_| class(next())).collect();
                grids.push((grid, columns));
            }
        }
    }
    grids
}
