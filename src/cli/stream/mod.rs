//! `twinsow stream`: one request a line in, one answer a line out, for engines that drive many of us.

mod answer;
mod lines;
mod request;

use super::exit::Exit;
use super::ordered::in_order;
use super::screen::Screen;
use super::{guard, load};
use crate::findings::{Blame, Outcome};
use crate::job::Job;
use crate::plan::StreamInputs;
use clap::Args as ClapArgs;
use lines::Lines;
use request::{Request, Shared};
use std::io::{self, BufRead, BufReader};
use std::ops::ControlFlow;
use std::path::PathBuf;

/// Plans fields that come line by line, and answers line by line
///
/// Reads JSON lines from standard input, each with a field: its boundary and layers as GeoJSON, and settings
/// if they differ. Writes one line of JSON for every line, in order: totals, and rates and map where
/// they are asked for. A line that fails has its error in its place and stops no other. No answer depends
/// on another line, so that an engine can cut the stream anywhere. docs/formats/stream.md describes both.
#[derive(Debug, ClapArgs)]
#[command(after_help = "Examples:
  twinsow stream --job job.toml < requests.jsonl > answers.jsonl
  twinsow stream < requests-with-whole-jobs.jsonl")]
pub(super) struct Args {
    /// Job file that all lines start from; the files it names are read once, unless a line brings its own
    #[arg(long, value_name = "JOB.toml")]
    job: Option<PathBuf>,
    /// Longest line in megabytes
    #[arg(long, value_name = "MB", default_value = "64", value_parser = clap::value_parser!(u16).range(1..=4096))]
    most_mb: u16,
    /// Threads to use [default: one per processor]; the answers are the same for any number
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u16).range(1..=1024))]
    threads: Option<u16>,
}

pub(super) fn run(args: &Args, screen: &mut Screen) -> Exit {
    super::use_threads(args.threads);
    let shared = match guard::guarded(|| shared(args)) {
        Ok(shared) => shared,
        Err(fault) => {
            screen.fault(&fault);
            return Exit::of_fault(&fault);
        }
    };
    // Not locked: the lock would have to stay on this thread.
    let input = BufReader::with_capacity(1 << 16, io::stdin());
    let most_bytes = usize::from(args.most_mb) * 1_000_000;
    let work = |request: &Request| answer::planned(request, &request.plan(&shared)?);
    answer_all(input, most_bytes, work, |line| {
        screen.print(&line);
        screen.is_read()
    })
}

/// What all lines share.
fn shared(args: &Args) -> Outcome<Shared> {
    let Some(file) = &args.job else {
        return Ok(Shared {
            text: String::new(),
            file: PathBuf::from("job of the request"),
            job: None,
            inputs: StreamInputs::of(None)?,
        });
    };
    let job = Job::load(file)?;
    Ok(Shared {
        text: load::text(file)?,
        file: file.clone(),
        inputs: StreamInputs::of(Some(&job))?,
        job: Some(job),
    })
}

/// Answers every line of `input` in order with what `work` makes of it. `tell` says whether anybody
/// still listens.
fn answer_all(
    input: impl BufRead + Send,
    most_bytes: usize,
    work: impl Fn(&Request) -> Outcome<String> + Sync,
    mut tell: impl FnMut(String) -> bool,
) -> Exit {
    let mut exit = Exit::Done;
    let answered = |line: Outcome<String>| {
        let line = match line {
            Ok(line) => line,
            Err(fault) => {
                // A line at fault is answered like any other; where nothing can be read, all ends.
                let read = fault.blame == Blame::Input;
                return Ok((answer::failed(&serde_json::Value::Null, &fault), read));
            }
        };
        let made = guard::guarded(|| work(&Request::parse(&line)?));
        let text = made.unwrap_or_else(|fault| answer::failed(&Request::id_of(&line), &fault));
        Ok((text, true))
    };
    in_order(Lines::of(input, most_bytes), answered, |answer| {
        let (text, read) =
            answer.unwrap_or_else(|fault| (answer::failed(&serde_json::Value::Null, &fault), true));
        if !read {
            exit = Exit::Machine;
        }
        match tell(text) {
            true => ControlFlow::Continue(()),
            false => ControlFlow::Break(()),
        }
    });
    exit
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Answers with closures in the place of planning.
    fn answers(
        input: &str,
        most: usize,
        work: fn(&Request) -> Outcome<String>,
    ) -> Vec<serde_json::Value> {
        let mut told = Vec::new();
        let exit = answer_all(input.as_bytes(), most, work, |line| {
            assert!(line.ends_with('\n') && line.matches('\n').count() == 1);
            told.push(serde_json::from_str(&line).expect("JSON"));
            true
        });
        assert_eq!(exit, Exit::Done);
        told
    }

    #[test]
    fn a_panic_is_answered_in_its_place_and_the_stream_goes_on() {
        let input: String = (0..40).map(|n| format!("{{\"id\":{n}}}\n")).collect();
        let told = answers(&input, 100, |request| {
            let id = request.id.as_u64().unwrap_or_default();
            assert!(id % 7 != 3, "made up for {id}");
            Ok(format!("{{\"id\":{id},\"exit\":0}}\n"))
        });
        assert_eq!(told.len(), 40);
        for (n, answer) in told.iter().enumerate() {
            assert_eq!(answer["id"], n);
            let panicked = n % 7 == 3;
            assert_eq!(answer["exit"], if panicked { 3 } else { 0 });
            if panicked {
                assert_eq!(answer["fault"]["code"], "program.defect");
            }
        }
    }

    #[test]
    fn lines_that_are_no_requests_have_their_error_in_their_place() {
        let long = "x".repeat(50);
        let input = format!("\nno json\n{{\"id\":\"a\",\"unknown\":1}}\n{long}\n[]\n{{\"id\":7}}");
        let told = answers(&input, 40, |request| Ok(format!("{}\n", request.id)));
        let codes: Vec<_> = told
            .iter()
            .map(|answer| answer["fault"]["code"].clone())
            .collect();
        assert_eq!(codes[..3], ["stream.request"; 3]);
        assert_eq!(codes[3], "stream.long_line");
        assert_eq!(codes[4], "stream.request");
        assert_eq!(told[2]["id"], "a");
        assert!(
            told[0]["text"]
                .as_str()
                .is_some_and(|text| text.contains("empty"))
        );
        assert_eq!(told[5], 7);
    }

    #[test]
    fn when_nobody_listens_any_more_the_rest_is_not_begun() {
        let input = "{}\n".repeat(10_000);
        let begun = std::sync::atomic::AtomicUsize::new(0);
        let work = |_: &Request| {
            begun.fetch_add(1, std::sync::atomic::Ordering::SeqCst);
            Ok("1\n".to_owned())
        };
        let mut told = 0;
        let exit = answer_all(input.as_bytes(), 100, work, |_| {
            told += 1;
            told < 5
        });
        assert_eq!((exit, told), (Exit::Done, 5));
        assert!(begun.into_inner() < 1000);
    }
}
