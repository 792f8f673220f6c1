//! Areas that a trial is to lie in.

use super::*;

/// An area of the user's: plots lie in it, a smaller one is refused with a size, and that size does.
#[test]
fn plots_lie_in_the_area_that_is_named() {
    let pairs = |more: &str| {
        let more = format!("product = \"barley\"\nblocks = 2\n{more}");
        trial("map_against_flat", &more)
    };
    let frame = laid(&made("", &[])).1.land.frame;
    // A rectangle along the bouts (20 degrees from north) around a place of the field's plane: metres across and along.
    let rectangle = |[x, y]: [f64; 2], across: f64, along: f64| {
        let (sine, cosine) = 20_f64.to_radians().sin_cos();
        let (u, v) = (along / 2.0, across / 2.0);
        let ring = [(-u, -v), (u, -v), (u, v), (-u, v), (-u, -v)];
        let ring = ring.map(|(u, v)| [x + u * sine - v * cosine, y + u * cosine + v * sine]);
        Polygon::new(
            LineString::new(ring.map(geo::Coord::from).to_vec()),
            Vec::new(),
        )
    };
    let written = |area: &Polygon| {
        let ring = area.exterior().coords();
        let ring: Vec<[f64; 2]> = ring
            .map(|at| frame.to_lon_lat(PlaneXy::new(at.x, at.y)).pair())
            .collect();
        serde_json::json!({"type": "Polygon", "coordinates": [ring]}).to_string()
    };
    let by_file = "here_source = { file = \"area.geojson\" }\n";
    let by_name = "here = \"corner\"\n[[special_area]]\nname = \"corner\"\nsource = { file = \"area.geojson\" }\npercent = {}\n";
    for more in [by_file, by_name] {
        let made = made(&pairs(more), &[]);
        let job = || made.path().join("job.toml");
        let middle = [-110.0, 10.0];
        made.write("area.geojson", written(&rectangle(middle, 60.0, 100.0)));
        let fault = planned(&job()).err().expect("too small");
        assert_eq!(fault.code, "trial.area_too_small", "{fault}");
        // Two pairs of 12 m beside each other, a strip more, and 120 m: what is said would do, wherever it lies.
        assert!(
            fault
                .allowed
                .contains("60 m across the bouts by 121 m along"),
            "{fault}"
        );
        for beside in [0.0, 2.9, 7.7] {
            let area = rectangle([middle[0] + beside, middle[1]], 60.0, 121.0);
            made.write("area.geojson", written(&area));
            let (prepared, plan) = planned(&job()).unwrap_or_else(|fault| panic!("{fault}"));
            sound("area", &prepared, &plan);
            assert_eq!(plan.trials[0].plots.len(), 4);
            for plot in &plan.trials[0].plots {
                let own = MultiPolygon::from(in_plane(&plot.outline_lon_lat, &frame));
                let outside = own
                    .difference(&MultiPolygon::from(area.clone()))
                    .unsigned_area();
                assert!(outside < 3.0, "plot {}: {outside} m2 outside", plot.id);
            }
        }
    }
    // Beside the field, and a name that nothing has.
    let made = made(&pairs(by_file), &[]);
    made.write(
        "area.geojson",
        written(&rectangle([2000.0, 0.0], 200.0, 200.0)),
    );
    let fault = planned(&made.path().join("job.toml"))
        .err()
        .expect("beside");
    assert_eq!(fault.code, "trial.area_elsewhere", "{fault}");
    // An area that no trial lies in has to change something.
    let idle = (JOB.to_owned() + &pairs(by_name)).replace("here = \"corner\"\n", "");
    made.write("job.toml", idle);
    let fault = planned(&made.path().join("job.toml"))
        .err()
        .expect("no change");
    assert!(fault.to_string().contains("changes no product"), "{fault}");
    made.write("job.toml", JOB.to_owned() + &pairs("here = \"nowhere\"\n"));
    let fault = planned(&made.path().join("job.toml"))
        .err()
        .expect("unknown");
    assert!(fault.to_string().contains("nowhere"), "{fault}");
}
