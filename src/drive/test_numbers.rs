//! Numbers for tests that throw shapes at random: the same from run to run.

/// Numbers from 0 up to, not including, 1; the seed decides which (Knuth's 64-bit linear congruence).
pub(super) fn random_numbers(mut state: u64) -> impl FnMut() -> f64 {
    move || {
        state = state
            .wrapping_mul(6_364_136_223_846_793_005)
            .wrapping_add(1);
        (state >> 11) as f64 / (1u64 << 53) as f64
    }
}
