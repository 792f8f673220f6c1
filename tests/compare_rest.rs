//! The job for the land that is left, after a drill has stopped in the middle of a bout.

mod log_support;

use log_support::*;
use std::fs;
use std::path::Path;

#[test]
fn the_rest_begins_before_the_place_where_the_drill_stopped_and_asks_again() {
    let folder = tempfile::tempdir().unwrap();
    let folder = folder.path();
    plan(folder);
    let bouts: Vec<usize> = (0..25).collect();
    let mut moments = drive(&bouts, 0.0, &mut Noise(3), 0.0);
    // The last bout ends in the middle of the field.
    moments.truncate(25 * 81 - 40);
    let children = vec![allocated("PDT1", "DET2"), allocated("PDT2", "DET3")];
    let logs = [log(&common(), &moments)];
    write(folder, Vec::new(), task("as driven", children), &logs);
    let job = fs::read_to_string(folder.join("job.toml")).unwrap();
    let date = "name = \"log\"\nsowing_date = \"2026-03-20\" # spring";
    let dated = job.replacen("name = \"log\"", date, 1);
    fs::write(folder.join("job.toml"), dated).unwrap();

    let left = |more: &[&str]| {
        let all = [
            "compare",
            "plan",
            "TASKDATA",
            "--rest",
            "job.toml",
            "--loaded",
            "barley=900",
        ];
        let compared = run(folder, &[&all[..], more].concat());
        assert_eq!(
            compared.status.code(),
            Some(0),
            "{}",
            text(&compared.stdout)
        );
        let rest = fs::read_to_string(folder.join("job-rest.toml")).unwrap();
        let answered = rest.replace("\"?\"", "\"2026-03-21\"");
        fs::write(folder.join("again.toml"), answered).unwrap();
        let planned = run(folder, &["plan", "again.toml", "--out", "again"]);
        assert!(planned.status.code().is_some_and(|code| code < 2));
        let plan = fs::read_to_string(folder.join("again/plan.json")).unwrap();
        let plan: serde_json::Value = serde_json::from_str(&plan).unwrap();
        (plan["tally"]["mapped_m2"].as_f64().unwrap(), rest)
    };
    let (there_m2, rest) = left(&[]);
    let (before_m2, _) = left(&["--behind", "5"]);
    let more_m2 = before_m2 - there_m2;
    assert!((more_m2 - 5.0 * DRILL_M).abs() < 2.0, "{more_m2}");
    assert!(rest.contains("sowing_date = \"?\" # Was: sowing_date = \"2026-03-20\" # spring"));
    assert!(rest.contains("# Left of 'barley' by the log: "), "{rest}");
    let open = run(folder, &["plan", "job-rest.toml"]);
    assert_eq!(open.status.code(), Some(2));
    let far = ["--rest", "job.toml", "--behind", "500"];
    let far = run(
        folder,
        &[&["compare", "plan", "TASKDATA"], &far[..]].concat(),
    );
    assert_eq!(far.status.code(), Some(2));
    assert!(text(&far.stderr).contains("50 m"), "{}", text(&far.stderr));
}

fn names(folder: &Path) -> Vec<String> {
    let entries = fs::read_dir(folder).unwrap();
    let mut names: Vec<String> = entries
        .map(|entry| entry.unwrap().file_name().into_string().unwrap())
        .collect();
    names.sort();
    names
}

/// A slip in the command is one error of the user's, and nothing is half written; what is missing is made.
#[test]
fn places_are_looked_at_before_anything_is_written() {
    let folder = tempfile::tempdir().unwrap();
    let folder = folder.path();
    plan(folder);
    let moments = drive(&[0, 1], 0.0, &mut Noise(3), 0.0);
    let children = vec![allocated("PDT1", "DET2"), allocated("PDT2", "DET3")];
    let logs = [log(&common(), &moments)];
    write(folder, Vec::new(), task("as driven", children), &logs);
    let job = fs::read_to_string(folder.join("job.toml")).unwrap();
    fs::create_dir_all(folder.join("other")).unwrap();
    let other = job.replacen("Long Furrow", "Short Furrow", 1);
    fs::write(folder.join("other/job.toml"), other).unwrap();
    fs::write(folder.join("file"), "a file").unwrap();
    fs::create_dir_all(folder.join("years/2031.csv")).unwrap();
    let before = names(folder);

    let compare = ["compare", "plan", "TASKDATA"];
    let whole = ["--ledger", "ledger", "--map", "map.gpkg", "--page"];
    for (more, part) in [
        (&["--rest", "other/job.toml"][..], "Short Furrow"),
        (&["--page", "plan"], "This is a folder"),
        (&["--ledger", "file"], "This is a file"),
        (&["--record", "file/x"], "This is a file"),
        (&["--record", "."], "no file in it"),
        (&["--record", "x", "--page", "x.html"], "one file"),
        (&["--map", "x.shp"], ".geojson"),
        (&["--element", "DET99=barley"], "DET99"),
        (&["--behind", "3"], "--rest"),
        (&["page.html", "--record", "file/x"], "This is a file"),
    ] {
        let front = match more[0].starts_with('-') {
            true => &compare[..],
            false => &[&compare[..], &whole].concat(),
        };
        let refused = run(folder, &[front, more].concat());
        let told = text(&refused.stderr);
        assert_eq!(refused.status.code(), Some(2), "{more:?}: {told}");
        assert!(told.contains(part), "{more:?}: {told}");
        assert_eq!(names(folder), before, "{more:?}");
        assert_eq!(names(&folder.join("other")), ["job.toml"]);
    }
    let boundary = ["--boundary", "boundary.geojson"];
    for arguments in [
        &["counting", "job.toml", "file/round"][..],
        &["man", "--to", "file"],
        &["new", "file", boundary[0], boundary[1]],
        &["ledger", "years"],
    ] {
        let refused = run(folder, arguments);
        let told = text(&refused.stderr);
        assert_eq!(refused.status.code(), Some(2), "{arguments:?}: {told}");
        assert!(told.contains("This is a f"), "{arguments:?}: {told}");
    }

    // On a new machine no folder is there.
    let places = ["--record", "records/long-shoal", "--map", "maps/a.geojson"];
    let made = run(folder, &[&compare[..], &places].concat());
    assert!(
        made.status.code().is_some_and(|code| code < 2),
        "{}",
        text(&made.stderr)
    );
    assert_eq!(names(&folder.join("records")).len(), 3);
    assert_eq!(names(&folder.join("maps")), ["a.geojson"]);
    let refused = run(folder, &["card", "records/long-shoal.json", "--to", "file"]);
    assert_eq!(refused.status.code(), Some(2), "{}", text(&refused.stderr));
    let round = run(folder, &["counting", "job.toml", "rounds/round"]);
    assert!(round.status.success(), "{}", text(&round.stderr));
    assert_eq!(names(&folder.join("rounds")).len(), 3);
}

/// What lies under the name of a result and is none is left alone, whoever has made it; the result itself is made anew.
#[test]
fn only_an_earlier_result_is_written_over() {
    let folder = tempfile::tempdir().unwrap();
    let folder = folder.path();
    plan(folder);
    let moments = drive(&[0, 1], 0.0, &mut Noise(3), 0.0);
    let children = vec![allocated("PDT1", "DET2"), allocated("PDT2", "DET3")];
    let logs = [log(&common(), &moments)];
    write(folder, Vec::new(), task("as driven", children), &logs);
    fs::create_dir(folder.join("mine")).unwrap();
    for name in [
        "a.csv",
        "no-customer.csv",
        "twinsow.1",
        "harvest.json",
        "a.html",
    ] {
        fs::write(folder.join("mine").join(name), "a,b\n1,2\n").unwrap();
    }
    fs::copy(folder.join("plan/report.html"), folder.join("mine/r.html")).unwrap();
    let compare = |more: &[&'static str]| -> Vec<&'static str> {
        [&["compare", "plan", "TASKDATA"][..], more].concat()
    };
    let all = compare(&[
        "--map", "a.gpkg", "--page", "a.html", "--record", "of/field", "--ledger", "ledger",
        "--rest", "job.toml",
    ]);
    let json = compare(&["--map", "a.geojson"]);
    let order = [
        "order",
        "plan",
        "--csv",
        "order.csv",
        "--page",
        "index.html",
    ];
    let card = ["card", "of/field.json", "--to", "cards"];
    let man = ["man", "--to", "man"];
    let stick = ["stick", "plan", "--to", "stick"];
    let yard = "--from 2026-03-20 --yard 9,50 --ha-per-h 3";
    let week: Vec<&str> = "week plan".split(' ').chain(yard.split(' ')).collect();
    let both = [&week[..], &["--csv", "week.csv", "--page", "week.html"]].concat();
    for arguments in [&all[..], &json, &order, &card, &man, &stick, &both].repeat(2) {
        // What the rest was made of may have changed since.
        let job = fs::read_to_string(folder.join("job.toml")).unwrap();
        fs::write(folder.join("job.toml"), job + "# looked at\n").unwrap();
        let made = run(folder, arguments);
        let code = made.status.code();
        assert!(
            code.is_some_and(|code| code < 2),
            "{arguments:?}: {}",
            text(&made.stderr)
        );
    }

    // A job that asks, and somebody has answered.
    let rest = fs::read_to_string(folder.join("job-rest.toml")).unwrap();
    fs::write(
        folder.join("job-rest.toml"),
        rest.replace("drilled already", "drilled"),
    )
    .unwrap();
    let week = |more: [&'static str; 2]| [&week[..], &more].concat();
    let before = fs::read(folder.join("plan/plan.json")).unwrap();
    let in_plan = names(&folder.join("plan"));
    let (inside, foreign) = ("replaced as a whole", "has not written");
    for (arguments, part) in [
        (compare(&["--record", "plan/plan"]), inside),
        (
            compare(&["--record", "mine/../plan/terminal/new/x"]),
            inside,
        ),
        (compare(&["--map", "plan/a.gpkg"]), inside),
        (compare(&["--ledger", "plan/ledger"]), inside),
        (compare(&["--page", "stick/a.html"]), inside),
        (vec!["order", "plan", "--csv", "plan/order.csv"], inside),
        (week(["--page", "plan/week.html"]), inside),
        (vec!["stick", "plan", "--to", "plan/stick"], inside),
        (vec!["counting", "job.toml", "plan/round"], inside),
        (vec!["zones", "job.toml", "--out", "plan/zones"], inside),
        (compare(&["--page", "job.toml"]), foreign),
        (compare(&["--page", "index.html"]), foreign),
        (compare(&["--page", "mine/r.html"]), foreign),
        (compare(&["--map", "boundary.geojson"]), foreign),
        (compare(&["--map", "job-drilled.geojson"]), foreign),
        (compare(&["--record", "mine/a"]), foreign),
        (compare(&["--rest", "job.toml"]), foreign),
        (vec!["order", "plan", "--csv", "mine/a.csv"], foreign),
        (vec!["order", "plan", "--page", "a.html"], foreign),
        (week(["--csv", "order.csv"]), foreign),
        (week(["--page", "index.html"]), foreign),
        (vec!["card", "of/field.json", "--to", "mine"], foreign),
        (vec!["man", "--to", "mine"], foreign),
    ] {
        let refused = run(folder, &arguments);
        let told = text(&refused.stderr);
        assert_eq!(refused.status.code(), Some(2), "{arguments:?}: {told}");
        assert!(told.contains(part), "{arguments:?}: {told}");
        assert!(
            told.contains("nothing was written"),
            "{arguments:?}: {told}"
        );
    }
    assert_eq!(fs::read(folder.join("plan/plan.json")).unwrap(), before);
    assert_eq!(names(&folder.join("plan")), in_plan);
    assert_eq!(names(&folder.join("mine")).len(), 6);
}
