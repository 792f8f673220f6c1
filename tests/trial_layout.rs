//! Trials that are laid out in the map: made fields and real parcels. Method: docs/methods/trial-layout.md.

#[path = "trial_layout/area.rs"]
mod area;
#[path = "trial_layout/balance.rs"]
mod balance;
#[path = "trial_layout/chessboard.rs"]
mod chessboard;
mod plan_support;

use geo::{Area, BooleanOps, LineString, MultiPolygon, Polygon};
use plan_support::{Made, said};
use std::fs;
use std::path::{Path, PathBuf};
use twinsow::agronomy::Rule;
use twinsow::coordinates::{LonLat, PlaneXy};
use twinsow::findings::{Finding, Outcome, Severity};
use twinsow::frame::Frame;
use twinsow::job::{Job, LandPart};
use twinsow::plan::{Disk, LaidTrial, Options, Plan, Prepared, Wheelings, prepare, rate};

/// A field of 600 x 400 m in UTM zone 31, zones that meet at slants.
const FIELD: &str = r#"{"type":"Polygon","coordinates":[[[467000,6072000],[467600,6072000],[467600,6072400],[467000,6072400],[467000,6072000]]]}"#;
const ZONES: &str = r#"{"type":"FeatureCollection","features":[
{"type":"Feature","properties":{"z":"low"},"geometry":{"type":"Polygon","coordinates":[[[466900,6071900],[467210,6071900],[467190,6072500],[466900,6072500],[466900,6071900]]]}},
{"type":"Feature","properties":{"z":"mid"},"geometry":{"type":"Polygon","coordinates":[[[467210,6071900],[467400,6071900],[467420,6072500],[467190,6072500],[467210,6071900]]]}},
{"type":"Feature","properties":{"z":"high"},"geometry":{"type":"Polygon","coordinates":[[[467400,6071900],[467700,6071900],[467700,6072500],[467420,6072500],[467400,6071900]]]}}]}"#;

const JOB: &str = r#"
name = "laid out"
[field]
name = "Small Piece"
boundary = { file = "field.geojson", crs = "EPSG:32631" }
[headland]
bouts = 4
[[layer]]
name = "soil"
source = { file = "zones.geojson", crs = "EPSG:32631" }
class_attribute = "z"
[drill]
working_width_m = 6
rows = 40
row_spacing_m = 0.15
[[drill.hopper]]
name = "front"
usable_l = 1000
[[drill.hopper]]
name = "rear"
usable_l = 1000
[drive]
heading_deg = 20
[tramline]
sprayer_width_m = 24
track_width_m = 1.8
tyre_width_m = 0.4
[grid]
cell_m = 3
[[product]]
id = "barley"
name = "barley"
kind = "seed"
crop = "spring barley"
hopper = "front"
thousand_grain_weight_g = 48
germination_percent = 96
bulk_density_kg_per_l = 0.65
price_per_t = 400
rate.kg_per_ha = { layer = "soil", by_class = { low = 140.0, mid = 165.0, high = 195.0 } }
limits = { min_kg_per_ha = 80, max_kg_per_ha = 260, step_kg_per_ha = 1 }
[[product]]
id = "oats"
name = "oats"
kind = "seed"
crop = "spring oats"
hopper = "rear"
thousand_grain_weight_g = 38
germination_percent = 96
bulk_density_kg_per_l = 0.5
rate.kg_per_ha = 130
"#;

/// The made field with more of its job, and each change of a text in it.
fn made(more: &str, changes: &[(&str, &str)]) -> Made {
    let made = Made::new();
    made.write("field.geojson", FIELD);
    made.write("zones.geojson", ZONES);
    let mut job = JOB.to_owned();
    for (from, to) in changes {
        assert!(job.contains(from), "{from}");
        job = job.replace(from, to);
    }
    made.write("job.toml", job + more);
    made
}

fn trial(design: &str, more: &str) -> String {
    format!("[[trial]]\nname = \"tried\"\ndesign = \"{design}\"\nheader_width_m = 9\n{more}")
}

fn planned(path: &Path) -> Outcome<(Prepared, Plan)> {
    let job = Job::load(path)?;
    both(&job)
}

fn both(job: &Job) -> Outcome<(Prepared, Plan)> {
    let options = Options::default();
    let prepared = prepare(job, &Disk, &options)?;
    let plan = rate(&prepared, job, &options)?;
    Ok((prepared, plan))
}

fn laid(made: &Made) -> (Prepared, Plan) {
    planned(&made.path().join("job.toml")).unwrap_or_else(|fault| panic!("{fault}"))
}

fn in_plane(ring: &[LonLat], frame: &Frame) -> Polygon {
    let points = ring.iter().map(|at| frame.to_plane(*at).pair().into());
    Polygon::new(
        LineString::new(points.collect::<Vec<geo::Coord>>()),
        Vec::new(),
    )
}

/// What holds of every trial: plots are disjoint, in the interior, whole bouts wide along the bouts, and the map has on them what
/// they ask for. Areas by the crate geo.
fn sound(name: &str, prepared: &Prepared, plan: &Plan) {
    let frame = &plan.land.frame;
    let job = &plan.job;
    let interior: MultiPolygon = prepared
        .land
        .interior
        .iter()
        .map(|shape| {
            let ring = |ring: &Vec<twinsow::geometry::Pt>| -> LineString {
                ring.iter()
                    .map(|at| geo::Coord::from(at.metres()))
                    .collect::<Vec<_>>()
                    .into()
            };
            Polygon::new(
                ring(&shape.exterior),
                shape.holes.iter().map(ring).collect(),
            )
        })
        .collect();
    let plots: Vec<(&LaidTrial, &twinsow::plan::TrialPlot, Polygon)> = plan
        .trials
        .iter()
        .flat_map(|trial| trial.plots.iter().map(move |plot| (trial, plot)))
        .map(|(trial, plot)| (trial, plot, in_plane(&plot.outline_lon_lat, frame)))
        .collect();
    assert!(!plots.is_empty(), "{name}");
    for (nth, (trial, plot, ground)) in plots.iter().enumerate() {
        let name = format!("{name}, plot {}", plot.id);
        let area = ground.unsigned_area();
        // Rims touch borders within a centimetre.
        assert!(
            (area - plot.area_m2).abs() < 0.02 * plot.length_m + 0.5,
            "{name}: {area} {}",
            plot.area_m2
        );
        assert!(
            (area - trial.strip_width_m * plot.length_m).abs() < 0.5,
            "{name}"
        );
        for (_, other, there) in plots.iter().skip(nth + 1) {
            let shared = ground.intersection(there).unsigned_area();
            assert!(
                shared < 0.05,
                "{name} lies over {} by {shared} m2",
                other.id
            );
        }
        let outside = MultiPolygon::from(ground.clone())
            .difference(&interior)
            .unsigned_area();
        assert!(
            outside < 0.02 * plot.length_m + 0.05,
            "{name}: {outside} m2 outside the interior"
        );
        // The middles of so many bouts run through it from end to end, and its rims are those of bouts.
        let corners: Vec<[f64; 2]> = plot
            .outline_lon_lat
            .iter()
            .map(|at| frame.to_plane(*at).pair())
            .collect();
        let heading = plan
            .drive
            .report
            .as_ref()
            .expect("driven")
            .heading_deg
            .to_radians();
        let across = |[x, y]: [f64; 2]| -x * heading.cos() + y * heading.sin();
        let along = |[x, y]: [f64; 2]| x * heading.sin() + y * heading.cos();
        let range = |of: &dyn Fn([f64; 2]) -> f64| {
            let of = corners.iter().map(|at| of(*at));
            of.fold([f64::INFINITY, f64::NEG_INFINITY], |[a, b], v| {
                [a.min(v), b.max(v)]
            })
        };
        let [right, left] = range(&across);
        let [from, to] = range(&along);
        assert!(
            (to - from - plot.length_m).abs() < 0.01,
            "{name}: {from} to {to}"
        );
        let width_m = job.drill.working_width_m;
        let through = plan.drive.bouts.iter().filter(|bout| {
            let [a, b] = [bout.path.at(0.0), bout.path.at(bout.path.length_m())];
            let middle = across(a);
            let inside = middle > right && middle < left;
            let whole = along(a).min(along(b)) < from + 0.05 && along(a).max(along(b)) > to - 0.05;
            if inside && whole {
                let rim = (middle - width_m / 2.0 - right) / width_m;
                assert!(
                    (rim - rim.round()).abs() < 1e-4,
                    "{name}: rims of bouts {rim}"
                );
            }
            inside && whole && bout.part == LandPart::Interior
        });
        assert_eq!(through.count(), trial.strip_bouts, "{name}");
        // The map on it.
        for zone in &plan.maps.rate.zones {
            let polygons = zone.polygons.iter().map(|own| {
                let holes = own
                    .holes
                    .iter()
                    .map(|ring| in_plane(ring, frame).exterior().clone());
                Polygon::new(
                    in_plane(&own.exterior, frame).exterior().clone(),
                    holes.collect(),
                )
            });
            let shared = MultiPolygon::from_iter(polygons)
                .intersection(ground)
                .unsigned_area();
            if shared < 0.05 + 0.02 * plot.length_m {
                continue;
            }
            let by_map = trial
                .treatments
                .iter()
                .any(|of| of.name == plot.treatment && of.by_the_map);
            for (product, has) in zone.kg_per_ha.iter().enumerate() {
                let asked = plot.asked_kg_per_ha[product];
                let tried = trial.products.contains(&job.products[product].id);
                assert!(
                    by_map || !tried || (has - asked).abs() <= 0.05 * asked + 1e-6,
                    "{name}: {has} kg/ha on {shared} m2, {asked} asked"
                );
            }
        }
        // On paper it is sown so.
        for (product, asked) in plot.asked_kg_per_ha.iter().enumerate() {
            let sown = plot.sown_kg_per_ha[product];
            let tried = trial.products.contains(&job.products[product].id);
            assert!(
                !tried || (sown - asked).abs() <= 0.05 * asked + 0.2,
                "{name}: {sown} of {asked}"
            );
        }
    }
    for trial in &plan.trials {
        for plot in &trial.plots {
            let of_block = trial.plots.iter().filter(|own| own.block == plot.block);
            let mut names: Vec<&str> = of_block.map(|own| own.treatment.as_str()).collect();
            names.sort_unstable();
            let mut all: Vec<&str> = trial
                .treatments
                .iter()
                .map(|own| own.name.as_str())
                .collect();
            all.sort_unstable();
            assert_eq!(names, all, "{name}: block {}", plot.block);
        }
    }
}

#[test]
fn map_against_flat_is_in_every_output() {
    let made = made(&trial("map_against_flat", "product = \"barley\""), &[]);
    let (prepared, plan) = laid(&made);
    sound("pairs", &prepared, &plan);
    let [trial] = plan.trials.as_slice() else {
        panic!("one trial")
    };
    assert_eq!((trial.plots.len(), trial.strip_width_m), (12, 12.0));
    assert_eq!(trial.wheelings, Wheelings::OnSeam);
    // The worked example of the page: the flat rate is the mean, and strips of it cross the zones.
    for plot in trial.plots.iter().filter(|plot| plot.treatment == "flat") {
        assert_eq!(plot.kg_per_ha[0], 166.0);
    }
    // By lot, and not all pairs alike.
    let first: Vec<&str> = trial
        .plots
        .iter()
        .step_by(2)
        .map(|plot| plot.treatment.as_str())
        .collect();
    assert!(
        first.contains(&"map") && first.contains(&"flat"),
        "{first:?}"
    );
    // Its reasons say so, and the other product goes on.
    let of_strip = |row: &&twinsow::plan::Combination| {
        row.rates[0]
            .reasons
            .iter()
            .any(|of| of.rule == Rule::TrialStrip)
    };
    assert_eq!(plan.rates.rows.iter().filter(of_strip).count(), 6);
    assert!(
        plan.rates
            .rows
            .iter()
            .all(|row| row.rates[1].kg_per_ha == 130.0)
    );
    // What it costs is what the map of the same job without it has less.
    let bare = Job {
        trials: Vec::new(),
        ..plan.job.clone()
    };
    let bare = rate(&prepared, &bare, &Options::default()).expect("planned");
    let [with, without] = [&plan, &bare].map(|plan| plan.tally.planned.products[0].map_kg());
    let cost = &trial.costs[0];
    assert!(
        (with - without - cost.more_kg).abs() < 0.05,
        "{with} {without} {}",
        cost.more_kg
    );
    assert!((cost.more_money.expect("a price") - cost.more_kg * 0.4).abs() < 1e-9);
    // Files: the audit agrees, plots in the layers, the report and plan.json.
    let output = made.run(&["plan", "job.toml", "--out", "plan"]);
    assert!(
        output.status.code().is_some_and(|code| code < 2),
        "{}",
        said(&output)
    );
    let again = made.run(&["plan", "job.toml", "--out", "again"]);
    assert!(again.status.code().is_some_and(|code| code < 2));
    let file =
        |folder: &str, name: &str| fs::read(made.path().join(folder).join(name)).expect(name);
    for name in [
        "gis/trial-plots.geojson",
        "gis/rates.geojson",
        "terminal/TASKDATA/GRD00001.bin",
    ] {
        assert_eq!(file("plan", name), file("again", name), "{name}");
    }
    let layer: serde_json::Value =
        serde_json::from_slice(&file("plan", "gis/trial-plots.geojson")).expect("JSON");
    assert_eq!(layer["features"].as_array().map(Vec::len), Some(12));
    let report = String::from_utf8(file("plan", "report.html")).expect("text");
    for plot in &trial.plots {
        assert!(report.contains(&plot.id), "{}", plot.id);
    }
    assert!(report.contains("nothing to do but drive"));
    let audit = made.run(&["audit", "plan", "--plan", "plan/plan.json"]);
    assert!(audit.status.success(), "{}", said(&audit));
    // Another draw is another one.
    let other = made_again(&made, "draw = 5\n");
    assert_ne!(other.trials[0].plots, trial.plots);
}

/// The made field with one more line of its trial.
fn made_again(made: &Made, line: &str) -> Plan {
    let text = fs::read_to_string(made.path().join("job.toml")).expect("a job");
    made.write("job.toml", text + "\n" + line);
    laid(made).1
}

/// What is wrong with a plot is seen: each of these spoils one thing of a sound trial.
#[test]
fn the_check_sees_what_is_spoilt() {
    let made = made(&trial("map_against_flat", "product = \"barley\""), &[]);
    let (prepared, mut plan) = laid(&made);
    let right = plan.trials.clone();
    let frame = plan.land.frame.clone();
    let shifted = |ring: &mut Vec<LonLat>, by: [f64; 2]| {
        for at in ring.iter_mut() {
            let [x, y] = frame.to_plane(*at).pair();
            *at = frame.to_lon_lat(PlaneXy::new(x + by[0], y + by[1]));
        }
    };
    let flat = right[0]
        .plots
        .iter()
        .position(|plot| plot.treatment == "flat")
        .expect("one");
    type Spoil<'a> = Box<dyn Fn(&mut LaidTrial) + 'a>;
    let spoils: [Spoil; 6] = [
        // Half a bout to the side: its rims are no rims of bouts.
        Box::new(|trial| shifted(&mut trial.plots[flat].outline_lon_lat, [2.8, -1.0])),
        // Along the bouts over the headland.
        Box::new(|trial| shifted(&mut trial.plots[flat].outline_lon_lat, [34.2, 94.0])),
        Box::new(|trial| {
            trial.plots[flat].outline_lon_lat = trial.plots[flat ^ 1].outline_lon_lat.clone()
        }),
        Box::new(|trial| trial.plots[flat].asked_kg_per_ha[0] *= 1.2),
        Box::new(|trial| trial.plots[flat].sown_kg_per_ha[0] *= 0.9),
        Box::new(|trial| trial.plots[flat].treatment = "map".to_owned()),
    ];
    for (nth, spoil) in spoils.iter().enumerate() {
        plan.trials = right.clone();
        spoil(&mut plan.trials[0]);
        let seen = std::panic::catch_unwind(std::panic::AssertUnwindSafe(|| {
            sound("spoilt", &prepared, &plan)
        }));
        assert!(seen.is_err(), "spoilt thing {nth} was not seen");
    }
    plan.trials = right;
    sound("right", &prepared, &plan);
}

#[test]
fn all_designs_lie_right() {
    for (design, more, plots) in [
        ("flat_stamps", "product = \"barley\"", 16),
        ("with_and_without", "", 16),
        (
            "rates",
            "product = \"barley\"\nrates_kg_per_ha = [110, 150, 190]",
            12,
        ),
        (
            "map_against_flat",
            "order = \"systematic\"\nplace = \"least_cost\"",
            12,
        ),
        (
            "map_against_flat",
            "blocks = 3\nnear = { lon = 2.4940, lat = 54.7930 }",
            6,
        ),
    ] {
        let (prepared, plan) = laid(&made(&trial(design, more), &[]));
        sound(design, &prepared, &plan);
        assert_eq!(plan.trials[0].plots.len(), plots, "{design}");
    }
}

#[test]
fn a_trial_on_a_cut_map_and_a_second_one() {
    let more = trial("map_against_flat", "product = \"barley\"\nblocks = 4\n")
        + "[[trial]]\nname = \"another\"\ndesign = \"flat_stamps\"\nproduct = \"barley\"\nblocks = 2\nheader_width_m = 9\n";
    let (prepared, plan) = laid(&made(
        &more,
        &[("heading_deg = 20", "heading_deg = 20\ncut_to_bouts = true")],
    ));
    sound("cut", &prepared, &plan);
    assert_eq!(plan.trials.len(), 2);
}

#[test]
fn the_cheapest_place_costs_no_more() {
    let cost = |place: &str| {
        let more =
            format!("product = \"barley\"\nrates_kg_per_ha = [120, 140]\nplace = \"{place}\"");
        let (_, plan) = laid(&made(&trial("rates", &more), &[]));
        plan.trials[0].costs[0].more_kg.abs()
    };
    assert!(cost("least_cost") < cost("spread"));
}

#[test]
fn limits_hold_in_strips() {
    let flat = |most: &str| {
        let changes = [("max_kg_per_ha = 260", most)];
        let more = trial(
            "map_against_flat",
            "product = \"barley\"\nflat_kg_per_ha = 210",
        );
        planned(&made(&more, &changes).path().join("job.toml"))
    };
    // 205 are within 5 % of 210: said.
    let (prepared, plan) =
        flat("label_max_kg_per_ha = 205").unwrap_or_else(|fault| panic!("{fault}"));
    sound("held", &prepared, &plan);
    let held = plan.trials[0]
        .plots
        .iter()
        .filter(|plot| plot.treatment == "flat");
    assert!(held.clone().count() == 6 && held.clone().all(|plot| plot.kg_per_ha[0] == 205.0));
    assert!(
        plan.findings
            .iter()
            .any(|finding| finding.code == "trial.held")
    );
    // 195 are not: refused, with the reason.
    let fault = flat("label_max_kg_per_ha = 195").err().expect("refused");
    assert_eq!(fault.code, "trial.no_room");
    assert!(fault.found.contains("a limit"), "{fault}");
}

#[test]
fn plots_keep_clear_of_setbacks_and_special_areas() {
    let made = made(
        &(trial(
            "map_against_flat",
            "blocks = 4\nlength_m = 120\nproduct = \"barley\"\n",
        ) + "[[setback]]\nname = \"brook\"\nsource = { file = \"brook.geojson\", crs = \"EPSG:32631\" }\ndistance_m = 5\nproducts = [\"oats\"]\n"
            + "[[special_area]]\nname = \"wet\"\nsource = { file = \"wet.geojson\", crs = \"EPSG:32631\" }\npercent = { oats = 50 }\n"),
        &[],
    );
    made.write(
        "brook.geojson",
        r#"{"type":"LineString","coordinates":[[466990,6072200],[467610,6072210]]}"#,
    );
    made.write("wet.geojson", r#"{"type":"Polygon","coordinates":[[[467300,6072000],[467340,6072000],[467340,6072190],[467300,6072190],[467300,6072000]]]}"#);
    let (prepared, plan) = laid(&made);
    sound("clear", &prepared, &plan);
    // Nothing of a plot has another rate of oats than open land has.
    for plot in &plan.trials[0].plots {
        assert!((plot.kg_per_ha[1] - 130.0).abs() < 1e-9, "{plot:?}");
    }
}

#[test]
fn what_cannot_be_is_refused_with_the_reason() {
    let fault = |more: &str, changes: &[(&str, &str)]| {
        let found = planned(&made(more, changes).path().join("job.toml"));
        found.err().unwrap_or_else(|| panic!("planned: {more}"))
    };
    let pairs = trial("map_against_flat", "product = \"barley\"");
    for (code, more, changes) in [
        // Cells of 14 m across bouts of 6 m at a slant: no plot gets its rate.
        (
            "trial.not_driven",
            pairs.clone(),
            vec![("cell_m = 3", "cell_m = 14")],
        ),
        (
            "trial.no_room",
            trial("map_against_flat", "blocks = 60"),
            vec![],
        ),
        (
            "trial.no_room",
            trial("map_against_flat", "product = \"oats\""),
            vec![],
        ),
        (
            "trial.too_short",
            pairs.clone() + "\nlength_m = 100",
            vec![],
        ),
        (
            "job.rule",
            pairs.clone(),
            vec![
                ("[drive]\nheading_deg = 20\n", ""),
                (
                    "[tramline]\nsprayer_width_m = 24\ntrack_width_m = 1.8\ntyre_width_m = 0.4\n",
                    "",
                ),
            ],
        ),
        (
            "job.rule",
            trial("rates", "product = \"barley\"\nrates_kg_per_ha = [100]"),
            vec![],
        ),
        (
            "job.rule",
            trial("map_against_flat", "flat_kg_per_ha = 100"),
            vec![],
        ),
        (
            "job.rule",
            trial("flat_stamps", "seed = \"barley\""),
            vec![],
        ),
        (
            "job.rule",
            pairs.clone() + &pairs.replace("[[trial]]", "\n[[trial]]"),
            vec![],
        ),
        (
            "job.rule",
            trial("map_against_flat", "product = \"wheat\""),
            vec![],
        ),
    ] {
        let fault = fault(&more, &changes);
        if code != "job.rule" {
            assert_eq!(fault.code, code, "{fault}");
        }
        assert!(
            !fault.next.is_empty() && !fault.place.to_string().is_empty(),
            "{fault}"
        );
    }
}

#[test]
fn too_small_a_trial_is_told_so() {
    let warned = |more: &str| {
        let more = format!("product = \"barley\"\nplot_variation_kg_per_ha = 250\n{more}");
        let (_, plan) = laid(&made(&trial("map_against_flat", &more), &[]));
        let sight = plan.trials[0].sight.clone();
        (
            plan.findings.iter().any(|of| of.code == "trial.too_small"),
            sight,
        )
    };
    let (told, sight) = warned("");
    assert!(told && sight.blocks_needed.is_some_and(|needed| needed > 6));
    assert!(!warned("should_see_kg_per_ha = 600").0);
}

/// Parcels of testdata: whatever their shape, plots lie right or the trial is refused for want of room.
#[test]
fn plots_lie_right_on_real_parcels() {
    let fields = Path::new(env!("CARGO_MANIFEST_DIR")).join("testdata/fields");
    let parcels = [
        "nl-67", "nl-84", "nl-24", "nl-55", "nl-21", "nl-49", "dk-53", "dk-0", "dk-4", "dk-28",
    ];
    let designs = ["map_against_flat", "flat_stamps", "rates"];
    let mut laid_out = 0;
    for (nth, parcel) in parcels.into_iter().enumerate() {
        let design = designs[nth % designs.len()];
        let text = parcel_job(parcel, design);
        let job = Job::parse(&text, &fields.join("job.toml"))
            .unwrap_or_else(|fault| panic!("{parcel}: {fault}"));
        match both(&job) {
            Ok((prepared, plan)) => {
                sound(&format!("{parcel} {design}"), &prepared, &plan);
                laid_out += 1;
            }
            Err(fault) => assert!(
                ["trial.no_room", "trial.no_bouts"].contains(&fault.code),
                "{parcel}: {fault}"
            ),
        }
    }
    assert!(laid_out >= 5, "{laid_out}");
}

fn parcel_job(name: &str, design: &str) -> String {
    let file: PathBuf = match name.starts_with("nl") {
        true => "nl_epsg28992.gpkg".into(),
        false => "dk_epsg25832.shp.zip".into(),
    };
    let rates = match design {
        "rates" => "rates_kg_per_ha = [120, 170]\n",
        _ => "",
    };
    format!(
        r#"name = "{name}"
[field]
name = "{name}"
boundary = {{ file = "{}", only = {{ field_id = "{name}" }} }}
[headland]
bouts = 2
[[layer]]
name = "soil"
source = {{ file = "{name}_soil.geojson" }}
class_attribute = "soil"
[drill]
working_width_m = 3.0
[[drill.hopper]]
name = "front"
usable_l = 1200.0
[drive]
heading = "longest_edge"
[grid]
cell_m = 1.5
[[product]]
id = "seed"
crop = "wheat"
name = "seed"
kind = "seed"
hopper = "front"
rate.kg_per_ha = {{ layer = "soil", by_class = {{ light = 150.0, heavy = 195.0 }} }}
[[trial]]
name = "tried"
design = "{design}"
product = "seed"
blocks = 2
header_width_m = 4.0
{rates}"#,
        file.display()
    )
}

/// The rates of strips a week later are those of the day: only the map goes by the date.
#[test]
fn strips_ask_for_the_same_on_any_day() {
    let changes = [
        (
            "name = \"laid out\"",
            "name = \"laid out\"\nsowing_date = \"2026-03-20\"",
        ),
        (
            "rate.kg_per_ha = 130",
            "rate.seeds_per_m2 = 100\nrate.by_date = [{ date = \"2026-03-01\", more_per_m2 = 0 }, { date = \"2026-03-25\", more_per_m2 = 100 }]",
        ),
    ];
    let more = trial(
        "rates",
        "product = \"oats\"\nrates_kg_per_ha = [60, 90]\nblocks = 3",
    );
    let (_, plan) = laid(&made(&more, &changes));
    let later = plan.tally.later.as_ref().expect("by date");
    let oats = &later.products[0];
    let strips: f64 = plan.trials[0]
        .plots
        .iter()
        .map(|plot| plot.kg_per_ha[1] * plot.area_m2 / 1e4)
        .sum();
    let today = plan.tally.planned.products[1].map_kg();
    // Beside the strips 19 of 24 days' worth of the 100 seeds on the day, all of them a week later.
    let times = 200.0 / (100.0 + 100.0 * 19.0 / 24.0);
    assert!(
        (oats.map_kg - (times * (today - strips) + strips)).abs() < 1e-4 * today,
        "{} {today} {strips}",
        oats.map_kg
    );
}

/// The made job with a starter of which half is placed, and a spreader for the other half.
fn with_starter(rate: &str, more: &str) -> Made {
    let (before, _) = JOB.split_once("[[product]]\nid = \"oats\"").expect("oats");
    let made = made("", &[]);
    let starter = format!(
        "[[product]]\nid = \"starter\"\nname = \"starter\"\nkind = \"fertiliser\"\nhopper = \"rear\"\nbulk_density_kg_per_l = 0.95\ngrade = {{ n_percent = 12, p2o5_percent = 52 }}\nform = \"monoammonium_phosphate\"\nrate = {{ {rate} }}\n"
    );
    made.write("job.toml", format!("{before}{starter}{more}"));
    made
}

const SPREADER: &str = "[spreader]\nworking_width_m = 24\n";

/// A published limit beside the seed, far above what the trial of it asks for.
const PHOSPHATE: &str = "[[seed_safe]]\ntable = \"manitoba_phosphate\"\ncrop = \"barley\"\nspread_m = 0.03\ntexture = \"medium\"\n";

/// A spreader's map beside a trial; by hand, half of the whole is placed: strips of 20 and 40 kg/ha leave 20 and 40 kg/ha where
/// the map leaves 30, so on equal land nothing in sum; strips of 20 and 25 leave less.
#[test]
fn a_trial_beside_a_spreader_tells_what_is_left_to_broadcast() {
    let rate = "kg_per_ha = 60, placed_percent = 50";
    let tried = trial(
        "rates",
        "product = \"starter\"\nrates_kg_per_ha = [20, 25]\n",
    );
    for more in [
        tried.clone() + SPREADER,
        tried.clone() + SPREADER + "spreading_date = \"2031-03-01\"\n",
    ] {
        let (_, plan) = laid(&with_starter(rate, &(PHOSPHATE.to_owned() + &more)));
        assert_eq!(plan.spreaders.len(), 1);
        assert!(plan.spreaders[0].plan.trials.is_empty());
        let laid = &plan.trials[0];
        let cost = laid.costs.iter().find(|cost| cost.product == "starter");
        let cost = cost.expect("a cost");
        let of = |treatment: &str| -> f64 {
            let plots = laid.plots.iter();
            let own = plots.filter(|plot| plot.treatment == treatment);
            own.map(|plot| plot.area_m2 / 10_000.0).sum()
        };
        let by_hand = -10.0 * of("20") - 5.0 * of("25");
        assert!(
            (cost.more_balance_kg - by_hand).abs() < 1e-6 * by_hand.abs(),
            "{cost:?} {by_hand}"
        );
        assert!(plan.findings.iter().any(|of| of.code == "trial.balance"));
    }
}

#[test]
fn land_of_a_decision_is_counted_once_with_a_trial_on_it() {
    let limit = format!("{PHOSPHATE}above = \"warn\"\n");
    let tried = trial(
        "rates",
        "product = \"starter\"\nrates_kg_per_ha = [170, 200]\n",
    );
    let (_, plan) = laid(&with_starter("kg_per_ha = 150", &(tried + &limit)));
    let above = plan.open().into_iter();
    let above = above.filter(|case| case.decision.code() == "seed_safe.above");
    let above: Vec<f64> = above.filter_map(|case| case.area_m2).collect();
    let mapped_m2 = plan.tally.planned.mapped_m2;
    assert!(!above.is_empty());
    let sum: f64 = above.iter().sum();
    assert!(
        (sum / mapped_m2 - 1.0).abs() < 1e-6,
        "{above:?} of {mapped_m2}"
    );
}

/// Numbers of a trial against what is published of the crop: 1650 kg/ha is a slip of the decimal point of 165.
#[test]
fn numbers_of_a_trial_are_held_against_what_is_usual() {
    let check = |more: &str, changes: &[(&str, &str)]| {
        let made = made(more, changes);
        let job =
            Job::load(&made.path().join("job.toml")).unwrap_or_else(|fault| panic!("{fault}"));
        twinsow::agronomy::crops::check(&job)
    };
    let asked = |found: Outcome<Vec<Finding>>| -> Vec<String> {
        let found = found.unwrap_or_else(|fault| panic!("{fault}"));
        let own = found.into_iter().filter(|of| {
            of.severity == Severity::Decision && of.message.contains("in the trial 'tried'")
        });
        own.map(|of| of.code.into_owned()).collect()
    };
    let rates = |rates: &str| {
        trial(
            "rates",
            &format!("product = \"barley\"\nrates_kg_per_ha = {rates}"),
        )
    };
    let seeds = [(
        "rate.kg_per_ha = { layer = \"soil\", by_class = { low = 140.0, mid = 165.0, high = 195.0 } }",
        "rate.seeds_per_m2 = 330",
    )];
    let plants = [(
        seeds[0].0,
        "rate = { plants_per_m2 = 280, establishment_percent = 85 }",
    )];
    for changes in [&[][..], &seeds, &plants] {
        let fault = check(&rates("[165, 1650]"), changes).expect_err("a slip");
        assert_eq!(fault.code, "crops.impossible");
        assert!(fault.found.contains("in the trial 'tried'"), "{fault}");
        assert_eq!(
            asked(check(&rates("[150, 180]"), changes)),
            Vec::<String>::new()
        );
        assert_eq!(
            asked(check(&rates("[165, 400]"), changes)).len(),
            1,
            "{changes:?}"
        );
        assert_eq!(
            asked(check(&rates("[165, 0]"), changes)),
            Vec::<String>::new()
        );
    }
    let flat = trial(
        "map_against_flat",
        "product = \"barley\"\nflat_kg_per_ha = 400",
    );
    assert_eq!(asked(check(&flat, &[])), ["crops.rate"]);
    let apart = trial(
        "with_and_without",
        "seed_rates_apart_percent = 100\nproduct = \"oats\"",
    );
    assert_eq!(asked(check(&apart, &[])), ["crops.rate"]);
}
