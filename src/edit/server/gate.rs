//! Who may come in: this machine's own browser, with the cookie that the printed address is traded for. Nobody else.

use crate::findings::{Fault, Outcome, Place};
use crate::read::sha256_of;
use hyper::header::{CONTENT_TYPE, COOKIE, HOST, HeaderMap, HeaderName, ORIGIN};
use hyper::{Method, Uri};
use std::fmt::Write as _;
use std::sync::atomic::{AtomicBool, Ordering};

/// Name of the cookie.
const NAME: &str = "twinsow";

/// Bytes of chance in the token and in the cookie.
const BYTES: usize = 32;

/// What lets a request in.
pub struct Gate {
    host: String,
    origin: String,
    token: String,
    cookie: String,
    spent: AtomicBool,
}

/// What is to be done with a request.
#[derive(Debug, PartialEq, Eq)]
pub enum Verdict {
    /// It is answered.
    Enter,
    /// The token was right: the cookie goes out, and the browser is sent to the page.
    Welcome,
    /// It is turned away, with this reason for people.
    Away(&'static str),
    /// It changes something and is not in the form that changes have.
    WrongForm,
}

impl Gate {
    /// A gate for this port of the loopback address.
    ///
    /// # Errors
    /// A system without a source of chance.
    pub fn new(port: u16) -> Outcome<Self> {
        Ok(Self {
            host: format!("127.0.0.1:{port}"),
            origin: format!("http://127.0.0.1:{port}"),
            token: chance()?,
            cookie: chance()?,
            spent: AtomicBool::new(false),
        })
    }

    /// The address to open; it opens the page once.
    pub fn address(&self) -> String {
        format!("{}/?token={}", self.origin, self.token)
    }

    /// The header that brings the cookie to the browser.
    pub fn set_cookie(&self) -> String {
        format!("{NAME}={}; HttpOnly; SameSite=Strict; Path=/", self.cookie)
    }

    /// Judges a request by its method, address and headers.
    pub fn judge(&self, method: &Method, uri: &Uri, headers: &HeaderMap) -> Verdict {
        // A name that leads here from another site (DNS rebinding) is another host.
        if only(headers, &HOST) != Some(self.host.as_str()) {
            return Verdict::Away("this address belongs to another host");
        }
        let origin = match headers.contains_key(ORIGIN) {
            true => Some(only(headers, &ORIGIN).unwrap_or_default()),
            false => None,
        };
        if origin.is_some_and(|origin| origin != self.origin) {
            return Verdict::Away("this request comes from another page");
        }
        if *method == Method::GET && uri.path() == "/" && uri.query().is_some() {
            return self.trade(uri.query().unwrap_or_default());
        }
        if !self.has_cookie(headers) {
            return Verdict::Away("open the address that 'twinsow edit' printed");
        }
        match *method {
            Method::GET => Verdict::Enter,
            Method::POST if origin.is_none() => Verdict::Away("a change has to come from the page"),
            Method::POST => match only(headers, &CONTENT_TYPE) {
                Some(kind) if kind == wanted(uri.path()) => Verdict::Enter,
                _ => Verdict::WrongForm,
            },
            _ => Verdict::Away("only GET and POST are answered"),
        }
    }

    /// The token counts once.
    fn trade(&self, query: &str) -> Verdict {
        let given = query.strip_prefix("token=").unwrap_or_default();
        if !same(given, &self.token) {
            return Verdict::Away("this address is not the one that 'twinsow edit' printed");
        }
        match self.spent.swap(true, Ordering::SeqCst) {
            false => Verdict::Welcome,
            true => Verdict::Away(
                "this address was opened before: use that page, or stop 'twinsow edit' and start it again",
            ),
        }
    }

    fn has_cookie(&self, headers: &HeaderMap) -> bool {
        let all = headers.get_all(COOKIE).iter();
        let mut pairs = all
            .filter_map(|value| value.to_str().ok())
            .flat_map(|value| value.split(';'));
        pairs.any(|pair| {
            let value = pair.trim().strip_prefix(NAME);
            let value = value.and_then(|rest| rest.strip_prefix('='));
            value.is_some_and(|value| same(value, &self.cookie))
        })
    }
}

/// The content type that a change has to have.
fn wanted(path: &str) -> &'static str {
    match path {
        "/file" => "application/octet-stream",
        _ => "application/json",
    }
}

/// The value of a header that is there once.
fn only<'a>(headers: &'a HeaderMap, name: &HeaderName) -> Option<&'a str> {
    let mut all = headers.get_all(name).iter();
    match (all.next(), all.next()) {
        (Some(value), None) => value.to_str().ok(),
        _ => None,
    }
}

/// Whether two secrets are the same; how long that takes tells nothing about them.
fn same(given: &str, secret: &str) -> bool {
    sha256_of(given) == sha256_of(secret)
}

fn chance() -> Outcome<String> {
    let mut bytes = [0_u8; BYTES];
    getrandom::fill(&mut bytes).map_err(|error| {
        Fault::machine(
            "edit.no_chance",
            Place::nowhere(),
            format!("the system gives no random numbers: {error}"),
            "a system with a source of random numbers",
            "without them nobody could be kept out; nothing was opened",
        )
    })?;
    let mut text = String::new();
    for byte in bytes {
        let _ = write!(text, "{byte:02x}");
    }
    Ok(text)
}

#[cfg(test)]
mod tests {
    use super::*;
    use hyper::header::HeaderValue;

    fn headers(pairs: &[(&'static str, &str)]) -> HeaderMap {
        let pair = |(name, value): &(&'static str, &str)| {
            let value = HeaderValue::from_str(value).expect("a header");
            (HeaderName::from_static(name), value)
        };
        pairs.iter().map(pair).collect()
    }

    #[test]
    fn the_token_counts_once_and_only_as_a_whole() {
        let gate = Gate::new(4000).expect("chance");
        let host = headers(&[("host", "127.0.0.1:4000")]);
        let ask = |path: &str| gate.judge(&Method::GET, &path.parse().expect("a path"), &host);
        assert!(matches!(ask("/?token="), Verdict::Away(_)));
        let token = gate.token.clone();
        let part = token.get(..63).expect("64 digits");
        assert!(matches!(ask(&format!("/?token={part}")), Verdict::Away(_)));
        assert_eq!(ask(&format!("/?token={token}")), Verdict::Welcome);
        assert!(matches!(ask(&format!("/?token={token}")), Verdict::Away(_)));
    }

    #[test]
    fn another_host_or_origin_stays_out() {
        let gate = Gate::new(4000).expect("chance");
        let cookie = format!("other=1; twinsow={}", gate.cookie);
        let get = |host: &str, origin: Option<&str>| {
            let mut all = headers(&[("host", host), ("cookie", &cookie)]);
            if let Some(origin) = origin {
                all.insert(ORIGIN, HeaderValue::from_str(origin).expect("a header"));
            }
            gate.judge(&Method::GET, &"/state".parse().expect("a path"), &all)
        };
        assert_eq!(get("127.0.0.1:4000", None), Verdict::Enter);
        let own = "http://127.0.0.1:4000";
        assert_eq!(get("127.0.0.1:4000", Some(own)), Verdict::Enter);
        for host in [
            "localhost:4000",
            "127.0.0.1",
            "127.0.0.1:4001",
            "example.org",
            "127.0.0.1:4000.",
        ] {
            assert!(matches!(get(host, None), Verdict::Away(_)), "{host}");
        }
        for origin in [
            "null",
            "https://127.0.0.1:4000",
            "http://127.0.0.1:4001",
            "http://example.org",
            "",
        ] {
            assert!(
                matches!(get("127.0.0.1:4000", Some(origin)), Verdict::Away(_)),
                "{origin}"
            );
        }
    }
}
