//! The field report: what it holds, that its numbers are those of `plan.json`, and that no name gets out of
//! its place.

use serde_json::Value;
use sha2::{Digest, Sha256};
use std::fs;
use std::path::Path;
use tempfile::TempDir;
use twinsow::job::{Job, UnitSystem};
use twinsow::plan::{self, Disk, Options, Plan};
use twinsow::{report, write};

const TIME: &str = "2026-03-01T06:00:00Z";

fn demo_job() -> String {
    let file = Path::new(env!("CARGO_MANIFEST_DIR")).join("examples/demo/job.toml");
    file.to_str().unwrap().to_owned()
}

/// The scenario as it is, planned once.
fn scenario() -> &'static Plan {
    static PLAN: std::sync::OnceLock<Plan> = std::sync::OnceLock::new();
    PLAN.get_or_init(demo)
}

fn demo() -> Plan {
    plan::plan(
        &Job::load(Path::new(&demo_job())).unwrap(),
        &Disk,
        &Options::default(),
    )
    .unwrap()
}

fn page(plan: &Plan) -> String {
    String::from_utf8(report::page(plan, TIME).unwrap()).unwrap()
}

/// What stands between two texts, at each place where both are.
fn between<'a>(text: &'a str, from: &str, to: &str) -> Vec<&'a str> {
    let parts = text.split(from).skip(1);
    parts
        .filter_map(|part| Some(part.split_once(to)?.0))
        .collect()
}

#[test]
fn the_numbers_on_the_page_are_those_of_the_plan() {
    let plan = scenario();
    let home = TempDir::new().unwrap();
    let out = home.path().join("plan");
    write::deliver(plan, &out, TIME).unwrap();
    let json: Value = serde_json::from_slice(&fs::read(out.join("plan.json")).unwrap()).unwrap();
    let page = page(plan);
    let mut held = 0;
    for tag in between(&page, "<data ", "</data>") {
        let value: f64 = between(tag, "value=\"", "\"")[0].parse().unwrap();
        let Some(from) = between(tag, "data-from=\"", "\"").first().copied() else {
            continue;
        };
        let from = from.replace("&#x2f;", "/");
        let planned = json
            .pointer(&from)
            .unwrap_or_else(|| panic!("plan.json has no {from}"));
        assert_eq!(Some(value), planned.as_f64(), "{from}");
        // As shown: in hectares, rounded to the decimals that stand there.
        let value = if from.ends_with("_m2") {
            value / 10_000.0
        } else {
            value
        };
        let shown = tag
            .split_once('>')
            .unwrap()
            .1
            .replace('\u{a0}', "")
            .replace('\u{2212}', "-");
        let decimals = shown
            .split_once('.')
            .map_or(0, |(_, decimals)| decimals.len());
        // The bounds of a speed window are rounded to its inside.
        let most = match from.starts_with("/drill/field_speed/") {
            true => 1.0001,
            false => 0.5001,
        };
        let off = (shown.parse::<f64>().unwrap() - value).abs();
        assert!(
            off <= most * 10_f64.powi(-(decimals as i32)),
            "{from}: {shown} for {value}"
        );
        held += 1;
    }
    // 37 rows with their land, two rates and what is broadcast, and the sheets.
    assert!(held > 37 * 4, "{held}");
}

#[test]
fn the_page_needs_nothing_and_runs_nothing_else() {
    let plan = scenario();
    let page = page(plan);
    assert_eq!(page, self::page(plan));
    assert!(page.len() < 2_000_000);
    for word in [
        "src=",
        " style=",
        "@import",
        "javascript:",
        "<iframe",
        "<link",
        "<form",
        "fetch(",
    ] {
        assert!(!page.contains(word), "{word}");
    }
    let urls = page.matches("://").count();
    assert_eq!(urls, page.matches("http://www.w3.org/2000/svg").count());
    // The policy lets exactly the page's own style and script pass.
    let policy = between(&page, "Content-Security-Policy\" content=\"", "\">")[0];
    assert!(policy.starts_with("default-src 'none'; "), "{policy}");
    for (tag, of) in [("style", "style-src"), ("script", "script-src")] {
        let texts = between(&page, &format!("<{tag}>"), &format!("</{tag}>"));
        assert_eq!(texts.len(), 1);
        assert_eq!(page.matches(&format!("<{tag}")).count(), 1);
        let hash = between(policy, &format!("{of} 'sha256-"), "'")[0];
        let hash = hash.replace("&#x2f;", "/");
        assert_eq!(hash, base64(&Sha256::digest(texts[0])));
    }
}

/// What the job says of depth and fan is on the operator's sheet.
#[test]
fn the_operator_reads_depth_and_fan_speed() {
    let page = page(scenario());
    let sheet = between(&page, "id=\"operator\"", "</section>")[0];
    let text: Vec<&str> = sheet.split(['<', '>']).map(str::trim).collect();
    let after = |word: &str, nth: usize| {
        let mut words = text.iter().filter(|part| !part.is_empty());
        words.find(|part| **part == word).expect(word);
        words.nth(nth).copied().unwrap_or_default()
    };
    // The tags of the number come between.
    assert!(sheet.contains("Depth"), "{sheet}");
    assert!((0..6).any(|nth| after("Depth", nth) == "40"), "{sheet}");
    let fan = between(sheet, "Fan speed", "turns a minute")[0];
    assert!(fan.replace('\u{a0}', "").contains("3400"), "{fan}");
}

/// RFC 4648, section 4; of whole 32 bytes.
fn base64(bytes: &[u8]) -> String {
    const LETTERS: &[u8] = b"ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789+/";
    let mut text = String::new();
    for part in bytes.chunks(3) {
        let bits = part
            .iter()
            .chain([0, 0].iter())
            .take(3)
            .fold(0, |bits, &byte| bits << 8 | u32::from(byte));
        for nth in 0..4 {
            match nth <= part.len() {
                true => text.push(char::from(LETTERS[(bits >> (18 - 6 * nth) & 63) as usize])),
                false => text.push('='),
            }
        }
    }
    text
}

#[test]
fn names_stay_text() {
    let long = "Ü".repeat(300);
    let names = [
        "<script>alert(1)</script>",
        "\" onload=\"alert(1)",
        "'><img src=x onerror=alert(1)>",
        "</style></svg><b>",
        "{{ t.page.plan }} {id} {% raw %}",
        "🌾 feld ☔",
        "שדה ארוך \u{202e}abc",
        &long,
    ];
    let mut plan = demo();
    let plain = page(scenario());
    for name in names {
        plan.job.name = name.to_owned();
        plan.job.field.name = name.to_owned();
        plan.job.field.farm = name.to_owned();
        plan.job.field.customer = name.to_owned();
        plan.job.drill.name = name.to_owned();
        for product in &mut plan.job.products {
            product.name = name.to_owned();
            product.dressing = Some(name.to_owned());
        }
        for product in &mut plan.tally.planned.products {
            product.name = name.to_owned();
            product.hopper = name.to_owned();
            product.lot = Some(name.to_owned());
        }
        for setback in &mut plan.job.setbacks {
            setback.name = name.to_owned();
        }
        for layer in &mut plan.job.layers {
            layer.name = name.to_owned();
        }
        for row in &mut plan.rates.rows {
            row.facts
                .classes
                .iter_mut()
                .for_each(|class| *class = name.to_owned());
        }
        for finding in &mut plan.findings {
            finding.message = name.to_owned();
        }
        let page = page(&plan);
        let tags = |page: &str, tag: &str| page.matches(tag).count();
        for tag in ["<script", "<style", "<img", "<b>", "</svg>", "<svg"] {
            assert_eq!(tags(&page, tag), tags(&plain, tag), "{tag} of {name}");
        }
        // Outside the one script no attribute runs anything.
        let html = page.replace(between(&page, "<script>", "</script>")[0], "");
        assert!(
            !html.contains(" onload=\"") && !html.contains("onerror=alert(1)>"),
            "{name}"
        );
        let escaped = name
            .replace('&', "&amp;")
            .replace('<', "&lt;")
            .replace('>', "&gt;")
            .replace('"', "&quot;")
            .replace('\'', "&#x27;")
            .replace('/', "&#x2f;");
        assert!(
            page.contains(&format!("<h1><bdi>{escaped}</bdi></h1>")),
            "{name}"
        );
    }
}

#[test]
fn customary_units_change_what_is_shown_and_not_what_is_meant() {
    let metric = page(scenario());
    let mut plan = demo();
    plan.job.report.units = UnitSystem::UsCustomary;
    let customary = page(&plan);
    assert!(metric.contains("kg&#x2f;ha") || metric.contains("kg/ha"));
    assert!(customary.contains("lb&#x2f;ac") || customary.contains("lb/ac"));
    let values = |page: &str| -> Vec<String> {
        between(page, "data-from=\"", "\"")
            .into_iter()
            .map(str::to_owned)
            .collect()
    };
    assert_eq!(values(&metric), values(&customary));
    // 34.63 ha are 85.57 acres of 4046.8564224 m2.
    let area =
        |page: &str| between(page, "data-from=\"&#x2f;tally&#x2f;mapped_m2\">", "<")[0].to_owned();
    assert_eq!(
        (area(&metric).as_str(), area(&customary).as_str()),
        ("34.63", "85.57")
    );
}

/// The texts of an XML document; fails on anything that is not well-formed.
fn texts_of_xml(bytes: &[u8]) -> Vec<String> {
    let mut reader = quick_xml::Reader::from_reader(bytes);
    let mut texts = Vec::new();
    loop {
        match reader.read_event().unwrap() {
            quick_xml::events::Event::Eof => return texts,
            quick_xml::events::Event::Text(text) => texts.push(text.to_string()),
            quick_xml::events::Event::Start(tag) | quick_xml::events::Event::Empty(tag) => {
                for attribute in tag.attributes() {
                    let attribute = attribute.unwrap();
                    let name = attribute.key.as_ref().to_owned();
                    assert!(!name.starts_with("on") && name != "href", "{name}");
                }
            }
            _ => {}
        }
    }
}

#[test]
fn pictures_stand_alone_and_those_of_the_readme_are_current() {
    let (pictures, pixels) = drawn(scenario());
    let names: Vec<&str> = pictures.iter().map(|(name, ..)| name.as_str()).collect();
    let wanted = ["map-barley", "map-starter", "balance-starter"];
    assert_eq!(names, wanted.map(|name| format!("pictures/{name}.svg")));
    for ((_, svg, _), (name, png, _)) in pictures.iter().zip(&pixels) {
        shows_the_same(name, svg, png);
    }
    for ((_, bytes, _), rates) in
        pictures
            .iter()
            .zip([["205", "150"], ["105", "95"], ["118.26", "53.04"]])
    {
        let texts = texts_of_xml(bytes);
        for rate in rates {
            // On the land and in the legend.
            assert!(
                texts.iter().filter(|text| *text == rate).count() > 1,
                "{rate}"
            );
        }
    }
    for (name, bytes, _) in &pictures[..2] {
        let kept = Path::new(env!("CARGO_MANIFEST_DIR"))
            .join("docs")
            .join(name);
        if std::env::var_os("TWINSOW_BLESS").is_some() {
            fs::create_dir_all(kept.parent().unwrap()).unwrap();
            fs::write(&kept, bytes).unwrap();
        }
        // The plan's id changes with every new setting; the picture need not.
        let without_id = |bytes: &[u8]| {
            let text = String::from_utf8(bytes.to_vec())
                .unwrap()
                .replace("\r\n", "\n");
            let id = between(&text, ", Plan ", "<")[0].to_owned();
            text.replace(&id, "")
        };
        let found = without_id(&fs::read(&kept).unwrap());
        assert!(
            found == without_id(bytes),
            "docs/{name} is not current: run this test with TWINSOW_BLESS=1 and look at the picture"
        );
    }
    let mut plan = demo();
    plan.job.field.name = "</text><script>&".to_owned();
    plan.job.products[0].name = "\" onload=\"alert(1)".to_owned();
    for (_, bytes, _) in drawn(&plan).0 {
        texts_of_xml(&bytes);
        assert!(!String::from_utf8(bytes).unwrap().contains("<script"));
    }
}

type Pictures = Vec<(String, Vec<u8>, String)>;

/// The pictures as SVG, and the same as PNG.
fn drawn(plan: &Plan) -> (Pictures, Pictures) {
    let all = report::pictures(plan).unwrap().into_iter();
    all.partition(|(name, ..)| name.ends_with(".svg"))
}

/// Twice as large as the SVG; the legend's first colour stands at its place, and the title is written.
fn shows_the_same(name: &str, svg: &[u8], png: &[u8]) {
    let svg = std::str::from_utf8(svg).unwrap();
    let pixels = resvg::tiny_skia::Pixmap::decode_png(png).unwrap();
    let of = |from: &str, to: &str| between(svg, from, to)[0].to_owned();
    let high: u32 = of("height=\"", "\"").parse().unwrap();
    assert_eq!(
        (pixels.width(), pixels.height()),
        (2 * 760, 2 * high),
        "{name}"
    );
    let fill = of(
        "x=\"574\" y=\"78\" width=\"24\" height=\"15\" fill=\"#",
        "\"",
    );
    let seen = pixels.pixel(2 * 586, 2 * 85).unwrap();
    let seen = format!("{:02x}{:02x}{:02x}", seen.red(), seen.green(), seen.blue());
    assert_eq!(seen, fill, "{name}");
    let title = (28..200).flat_map(|x| (24..52).map(move |y| (x, y)));
    let dark = title
        .filter(|&(x, y)| pixels.pixel(x, y).unwrap().red() < 64)
        .count();
    assert!(dark > 300, "{name}: {dark} dark pixels in the title");
}

#[test]
fn the_cover_leads_to_every_report() {
    let home = TempDir::new().unwrap();
    let twinsow = |arguments: &[&str]| {
        let mut command = std::process::Command::new(env!("CARGO_BIN_EXE_twinsow"));
        command
            .current_dir(home.path())
            .args(arguments)
            .output()
            .unwrap()
    };
    let made = twinsow(&["plan", "--pictures", "--out", "plans/a #1", &demo_job()]);
    assert!(made.status.code().unwrap() <= 1, "{made:?}");
    for name in ["map-barley.svg", "map-barley.png"] {
        assert!(home.path().join("plans/a #1/pictures").join(name).is_file());
    }
    let made = twinsow(&["order", "plans/a #1", "--page", "plans/index.html"]);
    assert!(made.status.code().unwrap() <= 1, "{made:?}");
    let cover = fs::read_to_string(home.path().join("plans/index.html")).unwrap();
    let link = between(&cover, "<a href=\"", "\"")[0].replace("&#x2f;", "/");
    assert_eq!(link, "./a%20%231/report.html");
    assert!(cover.contains("Long Shoal") && !cover.contains("<script"));
    for name in ["plans/a #1/report.html", "plans/list.txt"] {
        let refused = twinsow(&["order", "plans/a #1", "--page", name]);
        assert_eq!(refused.status.code(), Some(2));
        let said = String::from_utf8(refused.stderr).unwrap();
        assert!(said.contains("a file name that ends in .html"), "{said}");
    }
}
