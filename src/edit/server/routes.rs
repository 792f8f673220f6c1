//! From a request to an answer.

use super::super::action::Action;
use super::super::desk::Desk;
use super::super::{assets, by_hand, draw, stick, view};
use super::answer::{self, Answer};
use super::gate::Verdict;
use super::start::{self, Start};
use super::{NOT_FOUND, Room, farm, files};
use crate::edit::work::{Shown, held};
use crate::findings::{Fault, Outcome, Place};
use crate::frame::Near;
use crate::job::{Language, Moisture, Source};
use http_body_util::{BodyExt, Limited};
use hyper::body::{Body, Bytes, Incoming};
use hyper::{Method, Request, StatusCode};
use serde::Deserialize;
use serde::de::DeserializeOwned;
use serde_json::{Value, json};
use std::path::PathBuf;
use std::sync::Arc;
use std::sync::atomic::Ordering;
use std::time::Duration;

/// A change has so many bytes at most, a file so many.
const MOST_BYTES: usize = 1_000_000;
const MOST_FILE_BYTES: usize = 200_000_000;

/// So long a page waits for something new.
const LONGEST_WAIT: Duration = Duration::from_secs(20);

/// So long copying waits for the plan of the job as it is.
const LONGEST_PLAN: Duration = Duration::from_secs(120);

/// Answers a request.
pub(super) async fn answer(request: Request<Incoming>, room: Arc<Room>) -> Answer {
    match room
        .gate
        .judge(request.method(), request.uri(), request.headers())
    {
        Verdict::Enter => {}
        Verdict::Welcome => return answer::welcome(&room.gate.set_cookie()),
        Verdict::Away(why) => return answer::words(StatusCode::FORBIDDEN, why),
        Verdict::WrongForm => {
            let words = "this content type is not taken here";
            return answer::words(StatusCode::UNSUPPORTED_MEDIA_TYPE, words);
        }
    }
    let path = request.uri().path().to_owned();
    let query = Query::of(request.uri().query().unwrap_or_default());
    if *request.method() == Method::GET {
        if path == "/state" {
            wait_for_news(&room, &query).await;
        }
        return worked(move || get(&room, &path, &query)).await;
    }
    let most = match path.as_str() {
        "/file" => MOST_FILE_BYTES,
        _ => MOST_BYTES,
    };
    let body = match whole(request, most, room.patience.body).await {
        Ok(body) => body,
        Err(refused) => return *refused,
    };
    let leaving = path == "/leave";
    let own = Arc::clone(&room);
    let answer = worked(move || post(&own, &path, &query, &body)).await;
    if leaving {
        // The answer gets out first.
        tokio::spawn(async move {
            tokio::time::sleep(Duration::from_millis(200)).await;
            room.leave.notify_one();
        });
    }
    answer
}

/// Does what takes time on a thread of its own.
async fn worked(work: impl FnOnce() -> Outcome<Answer> + Send + 'static) -> Answer {
    match tokio::task::spawn_blocking(work).await {
        Ok(Ok(answer)) => answer,
        Ok(Err(fault)) => answer::fault(&fault),
        Err(_) => answer::fault(&Fault::program(
            "program.defect",
            Place::nowhere(),
            "the program itself failed while it answered the page",
            "an answer or a fault for every request",
        )),
    }
}

async fn wait_for_news(room: &Room, query: &Query) {
    let Some(after) = query.number::<u64>("after") else {
        return;
    };
    let mut news = room.beats.subscribe();
    let newer = news.wait_for(|beat| *beat > after);
    let _ = tokio::time::timeout(LONGEST_WAIT, newer).await;
}

/// The body of a request, if it is neither too large nor too slow.
async fn whole(
    request: Request<Incoming>,
    most: usize,
    patience: Duration,
) -> Result<Bytes, Box<Answer>> {
    let too_large = || {
        let fault = Fault::input(
            "edit.too_large",
            Place::nowhere(),
            "this is larger than what is taken here",
            format!("up to {most} bytes"),
            "put a larger file into the folder of the job by hand, and name it in the job",
        );
        Box::new(answer::with_status(StatusCode::PAYLOAD_TOO_LARGE, &fault))
    };
    // Refused before a byte of it is read.
    if request.body().size_hint().lower() > most as u64 {
        return Err(too_large());
    }
    let body = Limited::new(request.into_body(), most).collect();
    match tokio::time::timeout(patience, body).await {
        Ok(Ok(body)) => Ok(body.to_bytes()),
        Ok(Err(error)) if error.is::<http_body_util::LengthLimitError>() => Err(too_large()),
        Ok(Err(_)) | Err(_) => Err(Box::new(answer::words(
            StatusCode::REQUEST_TIMEOUT,
            "the request did not come to its end",
        ))),
    }
}

fn get(room: &Room, path: &str, query: &Query) -> Outcome<Answer> {
    if let Some(asset) = assets::ASSETS.iter().find(|asset| asset.path == path) {
        return Ok(answer::bytes(StatusCode::OK, asset.media_type, asset.bytes));
    }
    if let Some(file) = path.strip_prefix("/handed/") {
        let folder = (room.commands.plan_folder)(&desk(room)?.file());
        let file = files::below(&folder, &unescaped(file))?;
        let content = std::fs::read(&file).map_err(|_| not_found(path))?;
        return Ok(answer::of_plan(files::media_type(&file), content));
    }
    if let Some(nth) = path.strip_prefix("/picture/") {
        let nth: Option<u64> = nth.parse().ok();
        let shown = desk(room)?.look(|inner| {
            let spread = inner.whole.iter().flat_map(|whole| &whole.spread);
            let mut all = inner.land().into_iter().chain(spread);
            all.find(|shown| Some(shown.picture) == nth).cloned()
        });
        let shown = shown.ok_or_else(|| not_found(path))?;
        return Ok(answer::json(&view::picture::of(&shown)));
    }
    if let Some(nth) = path.strip_prefix("/drive/") {
        let whole = desk(room)?.look(|inner| inner.whole.clone());
        let whole = whole.filter(|whole| nth.parse() == Ok(whole.drive()));
        let whole = whole.ok_or_else(|| not_found(path))?;
        return Ok(answer::json(&view::drive::of(&whole.plan, whole.drive())));
    }
    Ok(answer::json(&match path {
        "/state" => state(room),
        "/texts" => {
            let asked = query.text("language").and_then(Language::of_tag);
            assets::texts(asked.unwrap_or_else(|| room.language()))?
        }
        "/choices" => view::choices::all()?,
        "/explain" => {
            let (shown, whole) =
                desk(room)?.look(|inner| (inner.shown.clone(), inner.whole.clone()));
            let shown = shown.ok_or_else(|| not_found(path))?;
            let row = query
                .number::<usize>("row")
                .and_then(|row| row.checked_sub(1));
            let place = query.number("x").zip(query.number("y"));
            view::explain::of(&shown, whole.as_ref(), row, place.map(|(x, y)| [x, y]))?
        }
        "/describe" => {
            let name = query.text("file").unwrap_or_default();
            described(room, name, query)?
        }
        "/samples" => samples(room, query.number("layer"))?,
        "/layer" => {
            let shown = desk(room)?.look(|inner| inner.shown.clone());
            let shown = shown.ok_or_else(|| not_found(path))?;
            let name = query.text("name").unwrap_or_default();
            let nth = layer(&shown, name).ok_or_else(|| not_found(path))?;
            by_hand::view(&shown, nth)
        }
        "/catch" => {
            let shown = desk(room)?.look(|inner| inner.shown.clone());
            let shown = shown.ok_or_else(|| not_found(path))?;
            let place = query.number("x").zip(query.number("y"));
            let (x, y) = place.ok_or_else(|| not_found(path))?;
            let within = query.number("within").unwrap_or(0.0);
            let layer = match query.text("layer") {
                Some(name) => Some(layer(&shown, name).ok_or_else(|| not_found(path))?),
                None => None,
            };
            draw::caught(&shown, layer, [x, y], within)
        }
        "/jobs" => {
            if query.text("plan").is_some() {
                room.planner.want();
            }
            farm::jobs(room)
        }
        "/drives" => stick::drives(),
        _ => return Err(not_found(path)),
    }))
}

fn layer(shown: &Shown, name: &str) -> Option<usize> {
    shown.job.layers.iter().position(|of| of.name == name)
}

fn post(room: &Room, path: &str, query: &Query, body: &[u8]) -> Outcome<Answer> {
    match path {
        "/act" => {
            let desk = desk(room)?;
            desk.act(read::<Action>(body)?)?;
            desk.settle();
        }
        "/undo" | "/redo" => {
            let desk = desk(room)?;
            match path {
                "/undo" => desk.undo()?,
                _ => desk.redo()?,
            }
            desk.settle();
        }
        "/reload" => {
            let desk = desk(room)?;
            desk.reload()?;
            desk.settle();
        }
        "/open" => {
            let wish: Open = read(body)?;
            files::below(&room.home, &wish.file)?;
            // By the name that the folder was opened by: places in files show it.
            room.open(&room.home.join(&wish.file))?;
            desk(room)?.settle();
        }
        "/file" => {
            let folder = room.desk().map_or(room.home.clone(), |desk| desk.folder());
            let name = query.text("name").unwrap_or_default();
            let name = files::put(&folder, name, body)?;
            return Ok(answer::json(&described(room, &name, query)?));
        }
        "/start" => {
            let jobs = read::<Start>(body)?.jobs(room)?;
            if let Some(file) = start::begun(&jobs, room.commands.new)?.first() {
                room.open(file)?;
                desk(room)?.settle();
            }
        }
        "/seedbed" => desk(room)?.see(read::<Seedbed>(body)?.seedbed),
        "/handover" => {
            let desk = desk(room)?;
            desk.unspoilt()?;
            let handed = (room.commands.plan)(&desk.file())?;
            return Ok(answer::json(&json!(handed)));
        }
        "/split" => return Ok(answer::json(&start::split(room, desk(room)?.as_ref())?)),
        "/order" => return Ok(answer::json(&farm::order(room, body)?)),
        "/many" => return Ok(answer::json(&farm::make(room, body)?)),
        "/many/look" => return Ok(answer::json(&farm::look(room, body)?)),
        "/many/undo" => return Ok(answer::json(&farm::undo(room)?)),
        "/stick" => {
            let desk = desk(room)?;
            desk.unspoilt()?;
            desk.settle_whole(LONGEST_PLAN);
            let wish: Stick = read(body)?;
            return Ok(answer::json(&stick::copy(&desk, &wish.drive)?));
        }
        "/leave" => return Ok(answer::json(&json!({ "left": true }))),
        _ => return Err(not_found(path)),
    }
    Ok(answer::json(&state(room)))
}

fn state(room: &Room) -> Value {
    // Read first: what changes while the rest is read has a beat of its own.
    let beat = *room.beats.borrow();
    let of_farm = room.of_farm.load(Ordering::Relaxed);
    let mut state = match room.desk() {
        Some(desk) => {
            desk.look_outside();
            view::state(&desk, beat)
        }
        None => view::no_job(beat, room.language()),
    };
    state["of_farm"] = json!(of_farm);
    state
}

/// What a file of the folder holds; what it does not say itself stands in the query.
fn described(room: &Room, name: &str, query: &Query) -> Outcome<Value> {
    let desk = room.desk();
    let folder = desk
        .as_ref()
        .map_or(room.home.clone(), |desk| desk.folder());
    let text = |key: &str| query.text(key).map(str::to_owned);
    let source = Source {
        file: files::below(&folder, name)?,
        crs: text("crs"),
        x_column: text("x_column"),
        y_column: text("y_column"),
        decimal_comma: query.number("decimal_comma"),
        ..Source::default()
    };
    let of_job = desk.and_then(|desk| {
        desk.look(|inner| {
            let prepared = &inner.land()?.prepared;
            Some((prepared.frame.clone(), prepared.near()))
        })
    });
    // Files that come before the job lie in one plane, that of the first of them.
    let near = match &of_job {
        Some((_, near)) => Some(near.clone()),
        None => held(&room.plane).as_ref().map(Near::of_frame),
    };
    let of_job = of_job.map(|(frame, _)| frame);
    // Nothing is held meanwhile: other questions do not wait for a large file.
    let mut value = (room.commands.describe)(&source, near.as_ref(), room.language())?;
    let mut plane = held(&room.plane);
    let found = view::described(&mut value, name, of_job.or_else(|| plane.clone()));
    if plane.is_none() {
        *plane = found;
    }
    Ok(value)
}

/// What a zone layer of values was made from, in colours: its points, or its raster.
fn samples(room: &Room, nth: Option<usize>) -> Outcome<Value> {
    let desk = desk(room)?;
    let known = desk.look(|inner| {
        let shown = inner.land()?;
        let layer = nth.and_then(|nth| shown.job.layers.get(nth))?;
        let values = layer.values.as_ref()?;
        let source = Source {
            file: shown.job.folder.join(&layer.source.file),
            ..layer.source.clone()
        };
        Some((source, values.column.clone(), shown.prepared.frame.clone()))
    });
    let (source, column, frame) = known.ok_or_else(|| not_found("/samples"))?;
    let mut value = (room.commands.describe)(&source, None, room.language())?;
    view::described(&mut value, "", Some(frame));
    Ok(view::samples(&value, column.as_deref()))
}

fn desk(room: &Room) -> Outcome<Arc<Desk>> {
    room.desk().ok_or_else(|| {
        Fault::input(
            NOT_FOUND,
            Place::nowhere(),
            "no job is open",
            "a job that is open, or a new one",
            "open a job of the folder, or start one",
        )
    })
}

fn not_found(path: &str) -> Box<Fault> {
    let path: String = path.chars().take(120).collect();
    Fault::input(
        NOT_FOUND,
        Place::nowhere(),
        format!("there is nothing at '{path}'"),
        "what the page asks for",
        "load the page again",
    )
}

/// Another job of the folder.
#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Open {
    file: String,
}

/// Which of two plans to look at.
#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Seedbed {
    seedbed: Moisture,
}

/// Where to copy to.
#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Stick {
    drive: PathBuf,
}

pub(super) fn read<T: DeserializeOwned>(body: &[u8]) -> Outcome<T> {
    serde_json::from_slice(body).map_err(|error| {
        Fault::input(
            "edit.request",
            Place::nowhere(),
            format!("this request cannot be read: {error}"),
            "what the page sends",
            "load the page again",
        )
    })
}

/// What stands behind the question mark.
struct Query(Vec<(String, String)>);

impl Query {
    fn of(text: &str) -> Self {
        let pairs = text.split('&').filter_map(|pair| pair.split_once('='));
        Self(
            pairs
                .map(|(key, value)| (key.to_owned(), unescaped(&value.replace('+', " "))))
                .collect(),
        )
    }

    fn text(&self, key: &str) -> Option<&str> {
        let found = self.0.iter().find(|(own, _)| own == key);
        found.map(|(_, value)| value.as_str())
    }

    fn number<T: std::str::FromStr>(&self, key: &str) -> Option<T> {
        self.text(key)?.parse().ok()
    }
}

/// Text in which `%41` stands for a byte (RFC 3986, section 2.1).
fn unescaped(text: &str) -> String {
    let mut bytes = Vec::with_capacity(text.len());
    let mut rest = text.as_bytes();
    while let Some((&first, after)) = rest.split_first() {
        let code = after
            .get(..2)
            .filter(|_| first == b'%')
            .and_then(|digits| std::str::from_utf8(digits).ok())
            .and_then(|digits| u8::from_str_radix(digits, 16).ok());
        match code {
            Some(byte) => {
                bytes.push(byte);
                rest = after.get(2..).unwrap_or_default();
            }
            None => {
                bytes.push(first);
                rest = after;
            }
        }
    }
    String::from_utf8_lossy(&bytes).into_owned()
}

#[cfg(test)]
mod tests {
    use super::unescaped;

    /// RFC 3986: section 2.1 (a space is %20) and 2.5 (katakana A in UTF-8).
    #[test]
    fn escapes_are_those_of_rfc_3986() {
        assert_eq!(unescaped("a%20b%2Fc"), "a b/c");
        assert_eq!(unescaped("%E3%82%A2"), "\u{30a2}");
        assert_eq!(unescaped("100%"), "100%");
        assert_eq!(unescaped("%zz%4"), "%zz%4");
    }
}
