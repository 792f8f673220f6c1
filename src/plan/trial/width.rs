//! How wide a strip is, and where the first begins: whole bouts that the header fits, by the wheels of the sprayer.

use crate::drive::tramline::Rhythm;
use crate::job::{Job, Start};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// What a strip is wider than the header, mm: room to steer on both sides.
const ROOM_MM: u64 = 2_000;

/// Where the wheels of the sprayer run.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum Wheelings {
    /// On the seam of two strips: strips are half a tramline interval wide, and the header cuts the middle of each.
    OnSeam,
    /// Within a strip, which is one or more tramline intervals wide: the header cuts beside the wheels.
    Within,
    /// The job has no tramlines: strips are the fewest bouts that the header fits.
    None,
}

/// Strips side by side.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct StripWidth {
    /// Bouts of a strip.
    pub bouts: u64,
    /// The bout (from 0) that a strip begins with.
    pub first: u64,
    pub wheelings: Wheelings,
}

/// The sprayer, as far as strips go by it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Sprayer {
    pub width_mm: u64,
    /// Middle between the wheels of its first bout, from the rim of the first bout of the drill.
    pub wheels_mm: u64,
}

impl Sprayer {
    /// That of a job, with the rhythm of its tramlines.
    pub fn of(job: &Job, rhythm: Option<&Rhythm>) -> Option<Self> {
        let (tramline, rhythm) = (job.tramline.as_ref()?, rhythm?);
        let mm = |metres: f64| (metres * 1000.0).round().max(0.0) as u64;
        let [left, right] = rhythm.first_wheels_m;
        let shift_m = match tramline.start {
            Start::Whole => 0.0,
            Start::Half => job.drill.working_width_m / 2.0,
        };
        Some(Self {
            width_mm: mm(tramline.sprayer_width_m),
            wheels_mm: mm((left + right) / 2.0 + shift_m),
        })
    }
}

/// The strips of a drill, a sprayer and a header: half a tramline interval where it is whole bouts, has the wheels on its seam and
/// holds the header and 2 m; else whole intervals.
pub fn strip_width(drill_mm: u64, sprayer: Option<Sprayer>, header_mm: u64) -> StripWidth {
    let drill_mm = drill_mm.max(1);
    let need_mm = header_mm + ROOM_MM;
    let Some(sprayer) = sprayer else {
        return StripWidth {
            bouts: need_mm.div_ceil(drill_mm),
            first: 0,
            wheelings: Wheelings::None,
        };
    };
    let whole_half = sprayer.width_mm.is_multiple_of(2 * drill_mm);
    let on_seam = sprayer.wheels_mm.is_multiple_of(drill_mm);
    if whole_half && on_seam && sprayer.width_mm / 2 >= need_mm {
        let bouts = sprayer.width_mm / 2 / drill_mm;
        return StripWidth {
            bouts,
            first: sprayer.wheels_mm / drill_mm % bouts.max(1),
            wheelings: Wheelings::OnSeam,
        };
    }
    let cycle_mm = common_multiple(sprayer.width_mm.max(1), drill_mm);
    let width_mm = cycle_mm * need_mm.div_ceil(cycle_mm);
    let bouts = width_mm / drill_mm;
    // The middle of the strip is as near to the middle of a pair of wheels as bouts allow; of two equal ones the first.
    let apart = |first: u64| {
        let middle = first * drill_mm + width_mm / 2;
        let beside = middle.abs_diff(sprayer.wheels_mm) % sprayer.width_mm.max(1);
        beside.min(sprayer.width_mm - beside)
    };
    StripWidth {
        bouts,
        first: (0..bouts).min_by_key(|first| apart(*first)).unwrap_or(0),
        wheelings: Wheelings::Within,
    }
}

fn common_multiple(a: u64, b: u64) -> u64 {
    let (mut x, mut y) = (a, b);
    while y > 0 {
        (x, y) = (y, x % y);
    }
    a / x * b
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Drill, sprayer and header in mm, bouts of the sprayer beginning at the rim of the first bout.
    fn width(drill_mm: u64, sprayer_mm: u64, header_mm: u64) -> (u64, Wheelings) {
        let sprayer = Sprayer {
            width_mm: sprayer_mm,
            wheels_mm: sprayer_mm / 2,
        };
        let found = strip_width(drill_mm, Some(sprayer), header_mm);
        (found.bouts * drill_mm, found.wheelings)
    }

    #[test]
    fn strips_are_those_of_the_check_values() {
        // The project's list of check values: drill, boom, header, strip. A foot is 304.8 mm (international foot, 1959).
        const FT: f64 = 304.8;
        let ft = |feet: f64| (feet * FT).round() as u64;
        use Wheelings::{OnSeam, Within};
        assert_eq!(width(6_000, 24_000, 9_000), (12_000, OnSeam));
        assert_eq!(width(6_000, 36_000, 12_000), (18_000, OnSeam));
        assert_eq!(width(8_000, 24_000, 9_000), (24_000, Within));
        assert_eq!(width(ft(60.0), ft(120.0), ft(40.0)), (ft(60.0), OnSeam));
        assert_eq!(width(ft(30.0), ft(90.0), ft(30.0)), (ft(90.0), Within));
    }

    #[test]
    fn a_start_with_half_a_bout_takes_a_whole_interval() {
        // 6 m and 24 m: the wheels are 12 m from the edge, 15 m from the rim of the first bout, in the middle of one.
        let sprayer = Sprayer {
            width_mm: 24_000,
            wheels_mm: 15_000,
        };
        let found = strip_width(6_000, Some(sprayer), 9_000);
        assert_eq!(
            (found.bouts * 6_000, found.wheelings),
            (24_000, Wheelings::Within)
        );
        // Its middle is 3 m beside the wheels, the nearest that bouts allow.
        let middle = found.first * 6_000 + 12_000;
        assert_eq!(middle.abs_diff(15_000) % 24_000 % 18_000, 3_000);
    }

    #[test]
    fn seams_lie_on_the_wheels() {
        // A sprayer whose bouts begin 6 m late: wheels at 18, 42 m; strips of 12 m from 6 m on.
        let sprayer = Sprayer {
            width_mm: 24_000,
            wheels_mm: 18_000,
        };
        let found = strip_width(6_000, Some(sprayer), 9_000);
        assert_eq!((found.bouts, found.first), (2, 1));
    }

    #[test]
    fn a_header_that_does_not_fit_takes_more() {
        // 11 m and 2 m are more than 12 m.
        assert_eq!(width(6_000, 24_000, 11_000), (24_000, Wheelings::Within));
        // 36 m of boom and 8 m of drill meet every 72 m.
        assert_eq!(width(8_000, 36_000, 9_000), (72_000, Wheelings::Within));
        // Without tramlines the fewest bouts.
        assert_eq!(strip_width(6_000, None, 9_000).bouts, 2);
        assert_eq!(strip_width(6_000, None, 10_001).bouts, 3);
    }
}
