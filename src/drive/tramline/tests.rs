use super::*;
use std::path::Path;

/// A drill of this width with rows 12.5 cm apart.
pub(super) fn job(width_m: f64, sprayer_m: f64, more: &str) -> Job {
    rows_job(width_m, 0.125, sprayer_m, 1.8, 0.3, more)
}

fn rows_job(width_m: f64, spacing: f64, sprayer: f64, track: f64, tyre: f64, more: &str) -> Job {
    let rows = (width_m / spacing).round();
    let text = format!(
        "name = \"test\"\n[field]\nname = \"f\"\nboundary = {{ file = \"b.geojson\" }}\n\
         [drill]\nworking_width_m = {width_m}\nrows = {rows}\nrow_spacing_m = {spacing}\n\
         [[drill.hopper]]\nname = \"front\"\nusable_l = 1000\n\
         [[product]]\nid = \"a\"\nname = \"A\"\nkind = \"seed\"\nhopper = \"front\"\n\
         [product.rate]\nkg_per_ha = 100\n\
         [tramline]\nsprayer_width_m = {sprayer}\ntrack_width_m = {track}\ntyre_width_m = {tyre}\n{more}\n"
    );
    Job::parse(&text, Path::new("test.toml")).unwrap()
}

pub(super) fn made(job: &Job) -> Rhythm {
    rhythm(job).unwrap().unwrap()
}

fn bouts(rhythm: &Rhythm) -> Vec<u64> {
    rhythm.closed.iter().map(|closed| closed.bout).collect()
}

/// Field trial, sugar beet at 12 m tramlines: 2 of 24 rows at 0.5 m, 8.33 %, published as 8 % of the
/// seed saved (Farmers Weekly, "Tramlining benefits in between the row").
#[test]
fn sugar_beet_saves_two_rows_of_twenty_four() {
    let rhythm = made(&rows_job(12.0, 0.5, 12.0, 1.5, 0.3, ""));
    assert_eq!(rhythm.closed[0].rows, [11, 14]);
    assert!((rhythm.closed_percent - 100.0 / 12.0).abs() < 1e-9);
    assert!((rhythm.saved_percent - 8.33).abs() < 0.005);
}

/// Share of area 2 x gap / interval, with two rows at 12.5 cm for each wheel: 4.2, 2.1 and 1.4 % at 12,
/// 24 and 36 m. Geometry; the intervals are those that Perennia's Cereal Crops Production Guide names.
#[test]
fn the_share_is_two_gaps_in_the_interval() {
    for (sprayer, drill) in [
        (12.0, 4.0),
        (24.0, 4.0),
        (24.0, 3.0),
        (24.0, 8.0),
        (36.0, 6.0),
    ] {
        let job = rows_job(drill, 0.125, sprayer, 1.75, 0.2, "");
        let percent = made(&job).closed_percent;
        assert!(
            (percent - 2.0 * 0.25 / sprayer * 100.0).abs() < 1e-9,
            "{sprayer} {drill}: {percent}"
        );
    }
}

#[test]
fn an_odd_ratio_closes_both_tracks_in_the_middle_bout() {
    let rhythm = made(&job(4.0, 12.0, ""));
    assert_eq!((rhythm.sprayer_bouts, rhythm.drill_bouts), (1, 3));
    assert_eq!(bouts(&rhythm), [2]);
    // The middle is at 6 m, the wheels at 5.1 and 6.9 m: 1.1 and 2.9 m into bout 2.
    assert_eq!(rhythm.closed[0].rows, [9, 10, 23, 24]);
}

#[test]
fn an_even_ratio_closes_one_track_in_each_of_two_bouts_or_starts_with_half_a_bout() {
    let whole = made(&job(6.0, 12.0, ""));
    assert_eq!(bouts(&whole), [1, 2]);
    let half = made(&job(6.0, 12.0, "start = \"half\""));
    assert_eq!(bouts(&half), [2]);
    assert_eq!(whole.closed_percent, half.closed_percent);
    // Up and down: in both bouts the track lies on the same side of the drill.
    assert_eq!(whole.closed[0].outlets, whole.closed[1].outlets);
    assert_ne!(whole.closed[0].rows, whole.closed[1].rows);
}

#[test]
fn a_ratio_that_is_not_whole_runs_through_its_full_cycle() {
    let rhythm = made(&job(6.0, 20.0, ""));
    assert_eq!((rhythm.sprayer_bouts, rhythm.drill_bouts), (3, 10));
    assert_eq!(rhythm.cycle_m, 60.0);
    // Middles at 10, 30 and 50 m: bout 2, the seam of 5 and 6, bout 9.
    assert_eq!(bouts(&rhythm), [2, 5, 6, 9]);
}

/// Against the definition, row by row over several cycles, for many widths.
#[test]
fn the_cycle_repeats() {
    for (drill, sprayer) in [
        (5.0, 24.0),
        (4.5, 21.0),
        (3.0, 28.0),
        (6.0, 27.0),
        (8.0, 30.0),
    ] {
        for start in ["whole", "half"] {
            let job = job(drill, sprayer, &format!("start = \"{start}\""));
            let rhythm = made(&job);
            let rows = job.drill.rows.unwrap();
            let shift = if start == "half" { drill / 2.0 } else { 0.0 };
            for bout in 1..=3 * rhythm.drill_bouts {
                let in_cycle = (bout - 1) % rhythm.drill_bouts + 1;
                let known = rhythm.closed.iter().find(|closed| closed.bout == in_cycle);
                for row in 1..=rows {
                    let x = (bout - 1) as f64 * drill - shift + (f64::from(row) - 0.5) * 0.125;
                    // Distance to the middle of the nearest sprayer bout, also left of the edge.
                    let middle = ((x / sprayer).floor() + 0.5) * sprayer;
                    let to_wheel = ((x - middle).abs() - 0.9).abs();
                    if (to_wheel - 0.15).abs() < 1e-6 {
                        continue;
                    }
                    let got = known.is_some_and(|closed| closed.rows.contains(&row));
                    assert_eq!(
                        got,
                        to_wheel < 0.15,
                        "{drill} {sprayer} {start} {bout} {row}"
                    );
                }
            }
        }
    }
}

/// The case of the issue: six outlets a track, where a 5 m drill would carry both tracks in its middle.
const SIX_A_TRACK: &str = "closable_outlets = [11, 12, 13, 14, 15, 16, 25, 26, 27, 28, 29, 30]";

#[test]
fn a_24_m_sprayer_behind_a_5_m_drill_is_refused_with_reasons() {
    let fault = rhythm(&job(5.0, 24.0, SIX_A_TRACK)).unwrap_err();
    assert_eq!(fault.code, "tramline.cannot_close");
    for words in [
        "repeats after 24 drill bouts (120 m, 5 sprayer bouts)",
        "24 is no whole multiple of 5",
    ] {
        assert!(fault.found.contains(words), "{}", fault.found);
    }
    assert!(
        fault.allowed.contains("11, 12, 13, 14, 15, 16, 25"),
        "{}",
        fault.allowed
    );
    // 25 m is five bouts: odd, both tracks in one bout. 20 m is four: half a bout first.
    assert!(
        fault
            .next
            .contains("sprayer_width_m = 25 with start = \"whole\""),
        "{}",
        fault.next
    );
    assert!(
        fault
            .next
            .contains("sprayer_width_m = 20 with start = \"half\""),
        "{}",
        fault.next
    );
}

#[test]
fn what_a_refusal_offers_can_be_closed() {
    for (sprayer, start) in [(25.0, "whole"), (20.0, "half")] {
        let more = format!("start = \"{start}\"\n{SIX_A_TRACK}");
        assert_eq!(made(&job(5.0, sprayer, &more)).closed.len(), 1);
    }
}

#[test]
fn an_odd_cycle_comes_back_mirrored() {
    // Rows 9, 10, 23, 24 of 32 are their own mirror: outlets of one side alone do not do.
    let one_side = "closable_outlets = [9, 10, 23]";
    assert!(rhythm(&job(4.0, 12.0, one_side)).is_err());
    let both = "closable_outlets = [9, 10, 23, 24]";
    assert!(rhythm(&job(4.0, 12.0, both)).is_ok());
}

#[test]
fn nothing_is_saved_where_other_rows_get_it() {
    let rhythm = made(&job(4.0, 12.0, "closed_flow = \"redistributed\""));
    assert!(rhythm.closed_percent > 4.0);
    assert_eq!(rhythm.saved_percent, 0.0);
}
