//! A page of `twinsow edit`, as a raw socket sees it.

// Not every test uses all of it.
#![allow(dead_code)]

use std::io::{Read, Write};
use std::net::TcpStream;
use std::path::PathBuf;
use std::thread;
use std::time::Duration;
use tempfile::TempDir;
use twinsow::cli::edit_commands;
use twinsow::edit::server::{Patience, Server};

/// A server with the demo, and what a browser would know of it.
pub struct Page {
    pub folder: TempDir,
    address: String,
    leave: Box<dyn Fn() + Send + Sync>,
    running: Option<thread::JoinHandle<()>>,
}

pub struct Answer {
    pub status: u16,
    pub head: String,
    pub body: Vec<u8>,
}

impl Answer {
    pub fn json(&self) -> serde_json::Value {
        serde_json::from_slice(&self.body).expect("JSON")
    }

    pub fn code(&self) -> String {
        self.json()["fault"]["code"]
            .as_str()
            .unwrap_or_default()
            .to_owned()
    }
}

impl Page {
    pub fn open() -> Self {
        Self::with(Patience::default(), false)
    }

    /// With the drive of the demo, which takes most of the time, or without.
    pub fn with(patience: Patience, drive: bool) -> Self {
        let folder = tempfile::tempdir().expect("a folder");
        let home = folder.path().join("farm");
        std::fs::create_dir(&home).expect("a folder");
        for entry in std::fs::read_dir("examples/demo").expect("the demo") {
            let entry = entry.expect("an entry");
            if entry.file_type().expect("a kind").is_file() {
                std::fs::copy(entry.path(), home.join(entry.file_name())).expect("copied");
            }
        }
        let job = home.join("job.toml");
        let text = std::fs::read_to_string(&job).expect("the job");
        if let (false, Some((before, rest))) = (drive, text.split_once("[drive]")) {
            let (_, after) = rest.split_once("# ---- the products").expect("products");
            std::fs::write(&job, format!("{before}# ---- the products{after}")).expect("written");
        }
        std::fs::write(folder.path().join("secret"), "a secret").expect("a file");
        let server =
            Server::open(&home.join("job.toml"), &edit_commands(), patience).expect("a server");
        let address = server.address();
        let leave = Box::new(server.leaver());
        let running = thread::spawn(move || server.run().expect("served"));
        Self {
            folder,
            address,
            leave,
            running: Some(running),
        }
    }

    /// Of a folder as it is, or of a job in it.
    pub fn of(folder: TempDir, job: &str) -> Self {
        let target = folder.path().join(job);
        let server =
            Server::open(&target, &edit_commands(), Patience::default()).expect("a server");
        let address = server.address();
        let leave = Box::new(server.leaver());
        let running = thread::spawn(move || server.run().expect("served"));
        Self {
            folder,
            address,
            leave,
            running: Some(running),
        }
    }

    pub fn home(&self) -> PathBuf {
        self.folder.path().join("farm")
    }

    pub fn job(&self) -> String {
        std::fs::read_to_string(self.home().join("job.toml")).expect("the job")
    }

    pub fn host(&self) -> &str {
        let rest = self.address.strip_prefix("http://").expect("an address");
        rest.split('/').next().expect("a host")
    }

    pub fn token_path(&self) -> &str {
        let at = self.address.find("/?").expect("a token");
        &self.address[at..]
    }

    pub fn send(&self, request: &[u8]) -> Answer {
        let mut stream = TcpStream::connect(self.host()).expect("connected");
        stream
            .set_read_timeout(Some(Duration::from_secs(60)))
            .expect("set");
        stream.write_all(request).expect("sent");
        answer(&mut stream)
    }

    /// The cookie, for the token.
    pub fn cookie(&self) -> String {
        let answer = self.send(self.get(self.token_path(), "").as_bytes());
        assert_eq!(answer.status, 303, "{}", answer.head);
        let line = answer
            .head
            .lines()
            .find(|line| line.starts_with("set-cookie: "));
        let line = line.expect("a cookie");
        assert!(
            line.contains("; HttpOnly; SameSite=Strict; Path=/"),
            "{line}"
        );
        line["set-cookie: ".len()..]
            .split(';')
            .next()
            .expect("it")
            .to_owned()
    }

    pub fn get(&self, path: &str, headers: &str) -> String {
        format!(
            "GET {path} HTTP/1.1\r\nHost: {}\r\nConnection: close\r\n{headers}\r\n",
            self.host()
        )
    }

    pub fn post(&self, path: &str, headers: &str, body: &str) -> String {
        let length = body.len();
        format!(
            "POST {path} HTTP/1.1\r\nHost: {}\r\nConnection: close\r\nContent-Length: {length}\r\n{headers}\r\n{body}",
            self.host()
        )
    }

    /// Headers that a change from the page has.
    pub fn own(&self, cookie: &str) -> String {
        format!(
            "Cookie: {cookie}\r\nOrigin: http://{}\r\nContent-Type: application/json\r\n",
            self.host()
        )
    }

    pub fn act(&self, cookie: &str, action: &str) -> Answer {
        self.send(self.post("/act", &self.own(cookie), action).as_bytes())
    }

    pub fn look(&self, cookie: &str, path: &str) -> Answer {
        self.send(self.get(path, &format!("Cookie: {cookie}\r\n")).as_bytes())
    }

    /// The state, once all is worked out.
    pub fn worked_out(&self, cookie: &str) -> serde_json::Value {
        let mut beat = 0;
        for _ in 0..200 {
            let state = self.look(cookie, &format!("/state?after={beat}")).json();
            beat = state["beat"].as_u64().expect("a beat");
            if state["plan"]["whole"] == true || !state["fault"].is_null() {
                return state;
            }
        }
        panic!("never worked out");
    }
}

impl Drop for Page {
    fn drop(&mut self) {
        (self.leave)();
        if let Some(running) = self.running.take() {
            let _ = running.join();
        }
    }
}

fn answer(stream: &mut TcpStream) -> Answer {
    let mut all = Vec::new();
    let _ = stream.read_to_end(&mut all);
    let end = all.windows(4).position(|four| four == b"\r\n\r\n");
    let Some(end) = end else {
        return Answer {
            status: 0,
            head: String::from_utf8_lossy(&all).into_owned(),
            body: Vec::new(),
        };
    };
    let head = String::from_utf8_lossy(&all[..end]).into_owned();
    let status = head
        .split(' ')
        .nth(1)
        .and_then(|status| status.parse().ok());
    Answer {
        status: status.expect("a status"),
        head,
        body: all[end + 4..].to_vec(),
    }
}
