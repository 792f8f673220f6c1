//! The list of CRSs with north first, against PROJ's database.

use super::proj::Context;
use crate::codec::epsg_axes::{NORTH_FIRST, WITH_HEIGHTS, has_heights, is_north_first};

/// If this fails, PROJ has come with another database: write the list that it prints into `codec::epsg_axes`.
#[test]
fn axes_are_those_of_the_database() {
    let context = Context::open(None).expect("a database");
    let codes = context.all_codes();
    assert!(codes.len() > 6000, "{}", codes.len());
    let mut runs: Vec<(u32, u32)> = Vec::new();
    let mut goes_on = false;
    for code in codes {
        let crs = context.parse(&format!("EPSG:{code}")).expect("a CRS");
        let axes = crs.axes().expect("axes");
        let north = axes == ["north", "east"];
        match runs.last_mut() {
            Some(run) if north && goes_on => run.1 = code,
            _ if north => runs.push((code, code)),
            _ => {}
        }
        goes_on = north;
    }
    assert!(runs == NORTH_FIRST, "the list has to be:\n{runs:?}");
    assert!(is_north_first(4326) && !is_north_first(25832) && !is_north_first(1));
}

/// As [`axes_are_those_of_the_database`], of the CRSs that have a third number.
#[test]
fn heights_are_those_of_the_database() {
    let context = Context::open(None).expect("a database");
    let mut runs: Vec<(u32, u32)> = Vec::new();
    let mut goes_on = false;
    for code in context.all_codes() {
        let crs = context.parse(&format!("EPSG:{code}")).expect("a CRS");
        let high = crs.has_heights();
        match runs.last_mut() {
            Some(run) if high && goes_on => run.1 = code,
            _ if high => runs.push((code, code)),
            _ => {}
        }
        goes_on = high;
    }
    assert!(runs == WITH_HEIGHTS, "the list has to be:\n{runs:?}");
    assert!(has_heights(4979) && has_heights(7423) && !has_heights(4326));
}
