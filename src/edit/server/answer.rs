//! Answers: bytes with the headers that keep the page closed.

use super::super::view;
use crate::findings::{Blame, Fault};
use http_body_util::Full;
use hyper::body::Bytes;
use hyper::header::{
    CACHE_CONTROL, CONTENT_SECURITY_POLICY, CONTENT_TYPE, HeaderValue, LOCATION, REFERRER_POLICY,
    SET_COOKIE, X_CONTENT_TYPE_OPTIONS,
};
use hyper::{Response, StatusCode};
use serde_json::{Value, json};

/// An answer.
pub type Answer = Response<Full<Bytes>>;

/// The page loads from here alone, and talks to nobody else.
const CLOSED: &str = "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data:; connect-src 'self'; frame-ancestors 'none'; base-uri 'none'; form-action 'none'";

/// A file of a plan is shown for what it is: its own styles and scripts, in a room from which nothing of the page can be reached.
const SHUT_IN: &str = "default-src 'none'; script-src 'unsafe-inline'; style-src 'unsafe-inline'; img-src data:; font-src data:; frame-ancestors 'none'; base-uri 'none'; form-action 'none'; sandbox allow-scripts allow-popups allow-modals";

/// An answer of this kind.
pub fn bytes(status: StatusCode, media_type: &str, bytes: impl Into<Bytes>) -> Answer {
    let mut answer = Response::new(Full::new(bytes.into()));
    *answer.status_mut() = status;
    let headers = answer.headers_mut();
    if let Ok(kind) = HeaderValue::from_str(media_type) {
        headers.insert(CONTENT_TYPE, kind);
    }
    for (name, value) in [
        (CONTENT_SECURITY_POLICY, CLOSED),
        (X_CONTENT_TYPE_OPTIONS, "nosniff"),
        (REFERRER_POLICY, "no-referrer"),
        (CACHE_CONTROL, "no-store"),
    ] {
        headers.insert(name, HeaderValue::from_static(value));
    }
    headers.insert(
        "cross-origin-resource-policy",
        HeaderValue::from_static("same-origin"),
    );
    answer
}

/// Values.
pub fn json(value: &Value) -> Answer {
    bytes(StatusCode::OK, JSON, value.to_string())
}

const JSON: &str = "application/json";

/// A fault with the status that goes with it.
pub fn fault(fault: &Fault) -> Answer {
    let status = match (fault.code, fault.blame) {
        (super::super::desk::CHANGED_OUTSIDE, _) => StatusCode::CONFLICT,
        (super::NOT_FOUND | "explain.no_land", _) => StatusCode::NOT_FOUND,
        (super::files::NOT_BELOW, _) => StatusCode::FORBIDDEN,
        (super::super::stick::HELD_BACK, _) => StatusCode::CONFLICT,
        (_, Blame::Input) => StatusCode::BAD_REQUEST,
        (_, Blame::Machine | Blame::Program) => StatusCode::INTERNAL_SERVER_ERROR,
    };
    with_status(status, fault)
}

/// A fault with this status.
pub fn with_status(status: StatusCode, fault: &Fault) -> Answer {
    let value = json!({ "fault": view::fault(fault) });
    bytes(status, JSON, value.to_string())
}

/// A few words for people, where there is no page that could show a fault.
pub fn words(status: StatusCode, words: &str) -> Answer {
    bytes(status, "text/plain; charset=utf-8", format!("{words}\n"))
}

/// Sends the browser to the page, with the cookie.
pub fn welcome(cookie: &str) -> Answer {
    let mut answer = bytes(StatusCode::SEE_OTHER, "text/plain; charset=utf-8", "");
    let headers = answer.headers_mut();
    headers.insert(LOCATION, HeaderValue::from_static("/"));
    if let Ok(cookie) = HeaderValue::from_str(cookie) {
        headers.insert(SET_COOKIE, cookie);
    }
    answer
}

/// A file of a plan.
pub fn of_plan(media_type: &str, content: Vec<u8>) -> Answer {
    let mut answer = bytes(StatusCode::OK, media_type, content);
    answer
        .headers_mut()
        .insert(CONTENT_SECURITY_POLICY, HeaderValue::from_static(SHUT_IN));
    answer
}
