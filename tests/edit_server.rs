//! The server of `twinsow edit`, asked by a raw socket, as a browser would and as nobody should.

#[path = "edit_support/page.rs"]
mod page;

use page::Page;
use std::io::{Read, Write};
use std::net::TcpStream;
use std::path::{Path, PathBuf};
use std::thread;
use std::time::Duration;
use twinsow::edit::server::Patience;

const RATE: &str = r#"{"do":"set","path":["product",0,"limits","max_kg_per_ha"],"value":190}"#;

#[test]
fn nobody_comes_in_without_the_cookie() {
    let page = Page::open();
    for path in ["/", "/state", "/style.css", "/texts", "/handed/plan.json"] {
        assert_eq!(
            page.send(page.get(path, "").as_bytes()).status,
            403,
            "{path}"
        );
    }
    let wrong = page.get("/", "Cookie: twinsow=0123\r\n");
    assert_eq!(page.send(wrong.as_bytes()).status, 403);
    assert_eq!(
        page.send(page.get("/?token=0123", "").as_bytes()).status,
        403
    );
    let cookie = page.cookie();
    // The token is spent.
    assert_eq!(
        page.send(page.get(page.token_path(), "").as_bytes()).status,
        403
    );
    assert_eq!(page.look(&cookie, "/state").status, 200);
    let form = page.post(
        "/act",
        &format!(
            "Origin: http://{}\r\nContent-Type: application/json\r\n",
            page.host()
        ),
        RATE,
    );
    assert_eq!(page.send(form.as_bytes()).status, 403);
}

#[test]
fn another_host_or_page_is_turned_away() {
    let page = Page::open();
    let cookie = page.cookie();
    let host = page.host().to_owned();
    for other in ["example.org", "localhost", "127.0.0.1", "127.0.0.1:1"] {
        let request = page
            .get("/state", &format!("Cookie: {cookie}\r\n"))
            .replace(&host, other);
        assert_eq!(page.send(request.as_bytes()).status, 403, "{other}");
    }
    let before = page.job();
    for origin in [
        "http://example.org",
        "null",
        "http://localhost:80",
        &format!("https://{host}"),
    ] {
        let headers = page.own(&cookie).replace(&format!("http://{host}"), origin);
        let answer = page.send(page.post("/act", &headers, RATE).as_bytes());
        assert_eq!(answer.status, 403, "{origin}");
    }
    // A change without Origin, and one in another form: a plain form of another page could send it.
    let headers = format!("Cookie: {cookie}\r\nContent-Type: application/json\r\n");
    assert_eq!(
        page.send(page.post("/act", &headers, RATE).as_bytes())
            .status,
        403
    );
    for kind in [
        "text/plain",
        "application/x-www-form-urlencoded",
        "application/octet-stream",
    ] {
        let headers = page.own(&cookie).replace("application/json", kind);
        assert_eq!(
            page.send(page.post("/act", &headers, RATE).as_bytes())
                .status,
            415,
            "{kind}"
        );
    }
    for method in ["PUT", "DELETE", "OPTIONS"] {
        let request = page
            .post("/act", &page.own(&cookie), RATE)
            .replacen("POST", method, 1);
        assert_eq!(page.send(request.as_bytes()).status, 403, "{method}");
    }
    assert_eq!(page.job(), before);
}

#[test]
fn answers_keep_the_page_closed() {
    let page = Page::open();
    let cookie = page.cookie();
    let wanted = "content-security-policy: default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data:; connect-src 'self'; frame-ancestors 'none'; base-uri 'none'; form-action 'none'";
    for path in ["/", "/state", "/texts", "/nothing"] {
        let answer = page.look(&cookie, path);
        assert!(
            answer.head.lines().any(|line| line == wanted),
            "{path}: {}",
            answer.head
        );
        assert!(!answer.head.contains("access-control"), "{path}");
        assert!(
            answer.head.contains("x-content-type-options: nosniff"),
            "{path}"
        );
    }
    assert_eq!(page.look(&cookie, "/nothing").status, 404);
}

#[test]
fn no_path_leads_out_of_the_folder() {
    let page = Page::open();
    let cookie = page.cookie();
    let plan = page.home().join("job-plan");
    std::fs::create_dir(&plan).expect("a folder");
    std::fs::write(plan.join("a.json"), "{}").expect("a file");
    assert_eq!(page.look(&cookie, "/handed/a.json").status, 200);
    let secret = page.folder.path().join("secret");
    let absolute = format!("/handed/{}", secret.display());
    for path in [
        "/handed/../../secret",
        "/handed/%2e%2e/%2e%2e/secret",
        "/handed/..%2F..%2Fsecret",
        "/handed/..%5c..%5csecret",
        absolute.as_str(),
        "/describe?file=../secret",
        "/describe?file=%2Fetc%2Fpasswd",
    ] {
        assert_eq!(page.look(&cookie, path).status, 403, "{path}");
    }
    #[cfg(unix)]
    {
        std::os::unix::fs::symlink(&secret, plan.join("link.json")).expect("a link");
        std::os::unix::fs::symlink(page.folder.path(), plan.join("up")).expect("a link");
        for path in ["/handed/link.json", "/handed/up/secret"] {
            let answer = page.look(&cookie, path);
            assert_eq!(answer.status, 403, "{path}");
            assert!(!answer.body.windows(8).any(|eight| eight == b"a secret"));
        }
    }
    let open = page.post("/open", &page.own(&cookie), r#"{"file":"../secret"}"#);
    assert_eq!(page.send(open.as_bytes()).status, 403);
    let drop = page
        .own(&cookie)
        .replace("application/json", "application/octet-stream");
    let dropped = page.send(
        page.post("/file?name=..%2F..%2Fsecret", &drop, "x")
            .as_bytes(),
    );
    assert_ne!(dropped.status, 500);
    assert_eq!(std::fs::read(&secret).expect("the secret"), b"a secret");
}

#[test]
fn a_body_beyond_all_measure_is_refused_at_once() {
    let page = Page::open();
    let cookie = page.cookie();
    let headers = page.own(&cookie);
    for (path, headers) in [
        ("/act", headers.clone()),
        (
            "/file?name=a.geojson",
            headers.replace("application/json", "application/octet-stream"),
        ),
    ] {
        let request = page.post(path, &headers, "{");
        let request = request.replace("Content-Length: 1\r\n", "Content-Length: 1000000000\r\n");
        let answer = page.send(request.as_bytes());
        assert_eq!(answer.status, 413, "{path}: {}", answer.head);
        assert_eq!(answer.code(), "edit.too_large");
    }
    // One that does not say how large it is.
    let request = page.post("/act", &headers, "");
    let request = request.replace("Content-Length: 0\r\n", "Transfer-Encoding: chunked\r\n");
    let mut stream = TcpStream::connect(page.host()).expect("connected");
    stream
        .set_read_timeout(Some(Duration::from_secs(20)))
        .expect("set");
    stream.write_all(request.as_bytes()).expect("sent");
    let piece = format!("10000\r\n{}\r\n", "x".repeat(0x10000));
    let mut sent = 0;
    while sent < 64 && stream.write_all(piece.as_bytes()).is_ok() {
        sent += 1;
    }
    let mut start = [0_u8; 12];
    // The connection may be reset under what is still being sent; what matters is that it is not swallowed.
    if stream.read_exact(&mut start).is_ok() {
        assert_eq!(&start, b"HTTP/1.1 413");
    }
    assert!(page.look(&cookie, "/state").status == 200);
}

#[test]
fn slow_clients_are_let_go_and_hold_nobody_up() {
    let page = Page::with(
        Patience {
            head: Duration::from_millis(300),
            body: Duration::from_millis(300),
            connection: Duration::from_secs(120),
        },
        false,
    );
    let cookie = page.cookie();
    // More than are served at once, none of which ends its head.
    let mut slow: Vec<TcpStream> = (0..80)
        .map(|_| {
            let mut stream = TcpStream::connect(page.host()).expect("connected");
            stream
                .write_all(b"GET /state HTTP/1.1\r\nHost: ")
                .expect("sent");
            stream
        })
        .collect();
    assert_eq!(page.look(&cookie, "/state").status, 200);
    for stream in &mut slow {
        stream
            .set_read_timeout(Some(Duration::from_secs(10)))
            .expect("set");
        let mut rest = Vec::new();
        // Ended by the server, with or without a word.
        assert!(stream.read_to_end(&mut rest).is_ok() || rest.is_empty());
    }
    // A body that never comes.
    let request = page
        .post("/act", &page.own(&cookie), "{")
        .replace("Content-Length: 1\r\n", "Content-Length: 100\r\n");
    assert_eq!(page.send(request.as_bytes()).status, 408);
}

#[test]
fn many_requests_are_answered() {
    let page = Page::open();
    let cookie = page.cookie();
    page.worked_out(&cookie);
    let mut stream = TcpStream::connect(page.host()).expect("connected");
    stream
        .set_read_timeout(Some(Duration::from_secs(30)))
        .expect("set");
    // Ten thousand on one connection, as fast as they go; those without a cookie cost nothing.
    let request = format!("GET /style.css HTTP/1.1\r\nHost: {}\r\n\r\n", page.host());
    let batch = request.repeat(100);
    let mut reader = stream.try_clone().expect("cloned");
    let counted = thread::spawn(move || {
        let (mut count, mut piece, mut kept) = (0, vec![0; 1 << 16], Vec::new());
        while count < 10_000 {
            let read = reader.read(&mut piece).expect("answers");
            assert!(read > 0, "ended after {count}");
            kept.extend_from_slice(&piece[..read]);
            let word = b"HTTP/1.1 403";
            let mut from = 0;
            while let Some(at) = kept[from..].windows(word.len()).position(|own| own == word) {
                count += 1;
                from += at + word.len();
            }
            kept.drain(
                ..from
                    .max(kept.len().saturating_sub(word.len() - 1))
                    .min(kept.len()),
            );
        }
        count
    });
    for _ in 0..100 {
        stream.write_all(batch.as_bytes()).expect("sent");
    }
    assert_eq!(counted.join().expect("counted"), 10_000);
    assert_eq!(page.look(&cookie, "/state").status, 200);
}

#[test]
fn two_pages_see_the_same_job_and_neither_loses_a_change() {
    let page = Page::open();
    let cookie = page.cookie();
    let state = page.worked_out(&cookie);
    let beat = state["beat"].as_u64().expect("a beat");
    let name =
        |nth: usize| format!(r#"{{"do":"set","path":["product",0,"lot"],"value":"lot {nth}"}}"#);
    thread::scope(|both| {
        // One waits for news while the others change the job.
        let waiting = both.spawn(|| page.look(&cookie, &format!("/state?after={beat}")).json());
        for own in 0..2 {
            let (page, cookie) = (&page, &cookie);
            both.spawn(move || {
                for nth in 0..3 {
                    let answer = page.act(cookie, &name(10 * own + nth));
                    assert_eq!(answer.status, 200, "{}", answer.head);
                }
            });
        }
        assert!(
            waiting.join().expect("news")["beat"]
                .as_u64()
                .expect("a beat")
                > beat
        );
    });
    let state = page.look(&cookie, "/state").json();
    assert_eq!(
        state["history"]["done"].as_array().expect("a list").len(),
        6
    );
}

#[test]
fn the_files_are_those_of_the_command() {
    let page = Page::open();
    let cookie = page.cookie();
    page.worked_out(&cookie);
    let state = page.act(&cookie, RATE).json();
    assert_eq!(state["plan"]["current"], true, "{}", state["fault"]);
    let handed = page.send(page.post("/handover", &page.own(&cookie), "{}").as_bytes());
    assert_eq!(handed.status, 200);
    let files = handed.json()["files"].as_array().expect("files").len();
    assert!(files > 5);
    let stamp = |plan: &Path| {
        let text = std::fs::read_to_string(plan.join("plan.json")).expect("plan.json");
        let plan: serde_json::Value = serde_json::from_str(&text).expect("JSON");
        plan["made_at"].as_str().expect("a time").to_owned()
    };
    let own = page.home().join("job-plan");
    let (job, out) = (
        page.home().join("job.toml"),
        page.folder.path().join("again"),
    );
    twinsow::cli::plan_one(&job, &out, &stamp(&own)).expect("planned");
    assert_eq!(content(&own), content(&out));
    let report = page.look(&cookie, "/handed/report.html");
    assert!(report.head.contains("sandbox"), "{}", report.head);
}

#[test]
fn nothing_goes_to_a_stick_while_a_decision_is_open() {
    let page = Page::open();
    let cookie = page.cookie();
    page.worked_out(&cookie);
    let heavy = r#"{"do":"set","path":["product",0,"thousand_grain_weight_g"],"value":75}"#;
    assert_eq!(page.act(&cookie, heavy).status, 200);
    let state = page.worked_out(&cookie);
    let decisions = state["plan"]["decisions"].as_array().expect("decisions");
    let weight = |of: &&serde_json::Value| of["code"] == "crops.thousand_grain_weight";
    let weight = decisions.iter().find(weight).expect("a decision");
    assert_eq!(weight["open"], true);
    assert_eq!(weight["path"][2], "thousand_grain_weight_g");
    let drive = format!(r#"{{"drive":"{}"}}"#, page.folder.path().display());
    let copied = page.send(page.post("/stick", &page.own(&cookie), &drive).as_bytes());
    assert_eq!(
        (copied.status, copied.code().as_str()),
        (409, "edit.held_back")
    );
    // For this reason, and not because no files are written yet.
    let found = copied.json()["fault"]["found"].to_string();
    assert!(found.contains("a decision is open"), "{found}");
    // Nor once nothing is open, before the files of this very plan are written, nor to what is no drive.
    let back = page.send(page.post("/undo", &page.own(&cookie), "{}").as_bytes());
    assert_eq!(back.status, 200);
    page.worked_out(&cookie);
    let copied = page.send(page.post("/stick", &page.own(&cookie), &drive).as_bytes());
    assert_eq!(
        (copied.status, copied.code().as_str()),
        (409, "edit.held_back")
    );
    assert_eq!(
        page.send(page.post("/handover", &page.own(&cookie), "{}").as_bytes())
            .status,
        200
    );
    let copied = page.send(page.post("/stick", &page.own(&cookie), &drive).as_bytes());
    assert_eq!(copied.code(), "edit.no_drive");
    assert!(!page.folder.path().join("TASKDATA").exists());
}

/// Every file below a folder.
fn content(folder: &Path) -> Vec<(PathBuf, Vec<u8>)> {
    let mut all = Vec::new();
    let mut open = vec![folder.to_path_buf()];
    while let Some(next) = open.pop() {
        for entry in std::fs::read_dir(next).expect("a folder") {
            let path = entry.expect("an entry").path();
            match path.is_dir() {
                true => open.push(path),
                false => {
                    let name = path.strip_prefix(folder).expect("below").to_path_buf();
                    all.push((name, std::fs::read(&path).expect("a file")));
                }
            }
        }
    }
    all.sort();
    all
}

#[test]
fn geometry_and_reasons_come_apart_from_rates() {
    let page = Page::with(Patience::default(), true);
    let cookie = page.cookie();
    let state = page.worked_out(&cookie);
    let plan = &state["plan"];
    let picture = page
        .look(&cookie, &format!("/picture/{}", plan["picture"]))
        .json();
    let rows = plan["rows"].as_array().expect("rows").len();
    assert_eq!(picture["land"].as_array().expect("land").len(), rows);
    // The land of all rows is the area that is sown.
    let mut m2 = 0.0;
    for row in picture["land"].as_array().expect("land") {
        for ring in row["rings"].as_array().expect("rings") {
            m2 += area(ring) / 10_000.0;
        }
    }
    let wanted = plan["area_m2"].as_f64().expect("an area");
    assert!((m2 - wanted).abs() < 0.001 * wanted, "{m2} {wanted}");
    let [x, y] = [0, 1].map(|nth| &picture["land"][0]["middles"][0][nth]);
    let told = page.look(&cookie, &format!("/explain?x={x}&y={y}")).json();
    assert_eq!(told["row"], 1, "{told}");
    assert!(told["products"][0]["reasons"][0]["text"].is_string());
    assert_eq!(
        page.look(&cookie, "/explain?x=90000000&y=0").code(),
        "explain.no_land"
    );
    let drive = page
        .look(&cookie, &format!("/drive/{}", plan["drive"]))
        .json();
    assert_eq!(
        drive["bouts"],
        drive["lines"].as_array().expect("lines").len()
    );
    assert!(page.look(&cookie, "/choices").json()["crops"][0]["usual"].is_object());
    assert!(
        page.look(&cookie, "/describe?file=soil.geojson").json()["layers"][0]["rings"][0]
            .is_array()
    );
}

/// Area of a ring that travels, exterior above 0, holes below.
fn area(ring: &serde_json::Value) -> f64 {
    let flat: Vec<f64> = ring
        .as_array()
        .expect("a ring")
        .iter()
        .filter_map(|n| n.as_f64())
        .collect();
    let mut places = Vec::new();
    let mut at = [0.0, 0.0];
    for step in flat.chunks(2) {
        at = [at[0] + step[0], at[1] + step[1]];
        places.push(at);
    }
    let ends = places.iter().cycle().skip(1);
    places
        .iter()
        .zip(ends)
        .map(|(a, b)| (a[0] * b[1] - b[0] * a[1]) / 2.0)
        .sum()
}
