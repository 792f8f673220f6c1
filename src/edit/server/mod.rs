//! The server of the page: on the loopback address alone, for one browser.

mod answer;
mod files;
mod farm;
mod gate;
mod planner;
mod routes;
mod start;

pub(super) use files::put;

use super::Commands;
use super::desk::Desk;
use super::work::held;
use crate::findings::{Fault, Outcome, Place};
use crate::frame::Frame;
use crate::job::Language;
use gate::Gate;
use hyper::server::conn::http1;
use hyper::service::service_fn;
use hyper_util::rt::{TokioIo, TokioTimer};
use planner::Planner;
use std::convert::Infallible;
use std::net::{Ipv4Addr, TcpListener};
use std::path::{Path, PathBuf};
use std::sync::atomic::{AtomicU64, Ordering};
use std::sync::{Arc, Mutex};
use std::thread;
use std::time::Duration;
use tokio::sync::{Notify, Semaphore, watch};

/// Code of the fault about something that is not there.
pub const NOT_FOUND: &str = "edit.not_found";

/// So many connections are served at once; others wait. A browser opens six.
const MOST_CONNECTIONS: usize = 64;

/// So much is done at once that takes a thread.
const MOST_THREADS: usize = 8;

/// How long the server waits for slow clients.
#[derive(Debug, Clone, Copy)]
pub struct Patience {
    /// For the head of a request.
    pub head: Duration,
    /// For its body.
    pub body: Duration,
    /// For a whole connection, after which the browser opens another.
    pub connection: Duration,
}

impl Default for Patience {
    fn default() -> Self {
        Self {
            head: Duration::from_secs(10),
            body: Duration::from_secs(60),
            connection: Duration::from_secs(300),
        }
    }
}

/// A server that has its address.
pub struct Server {
    listener: TcpListener,
    room: Arc<Room>,
}

/// What all requests share.
pub struct Room {
    gate: Gate,
    desk: Mutex<Option<Arc<Desk>>>,
    /// The folder whose jobs can be opened.
    home: PathBuf,
    /// The plane in which files are shown before there is a job.
    plane: Mutex<Option<Frame>>,
    /// Borders of the jobs of the folder that were read.
    borders: Mutex<super::farm_map::Borders>,
    /// What planning has told of decisions.
    decided: Mutex<super::farm::ToDecide>,
    /// Plans the fields of the folder.
    planner: Planner,
    /// Grows with all that is known of the fields of the folder.
    of_farm: AtomicU64,
    /// Changes of many jobs at once, the latest last.
    many: Mutex<Vec<super::many::Done>>,
    /// The page was opened for a folder, not for one job.
    of_folder: bool,
    beats: watch::Sender<u64>,
    leave: Notify,
    commands: Commands,
    patience: Patience,
}

impl Server {
    /// A server for a job file, or for the jobs of a folder. It has a free port, and begins to work on the job; nobody is let
    /// in before [`Self::run`].
    ///
    /// # Errors
    /// A job file that cannot be read; no free port; no source of chance.
    pub fn open(target: &Path, commands: &Commands, patience: Patience) -> Outcome<Self> {
        let is_folder = target.is_dir();
        let home = match is_folder {
            true => target.to_path_buf(),
            false => folder_of(target),
        };
        let (beats, _) = watch::channel(1);
        let file = match is_folder {
            true => super::farm::first(target),
            false => Some(target.to_path_buf()),
        };
        let desk = file
            .map(|file| Desk::open(&file, commands, beats.clone()))
            .transpose()?;
        let listener = TcpListener::bind((Ipv4Addr::LOCALHOST, 0)).map_err(|e| no_port(&e))?;
        let port = listener.local_addr().map_err(|e| no_port(&e))?.port();
        listener.set_nonblocking(true).map_err(|e| no_port(&e))?;
        let room = Room {
            gate: Gate::new(port)?,
            desk: Mutex::new(desk),
            home,
            plane: Mutex::new(None),
            borders: Mutex::default(),
            decided: Mutex::default(),
            planner: Planner::default(),
            of_farm: AtomicU64::new(0),
            many: Mutex::default(),
            of_folder: is_folder,
            beats,
            leave: Notify::new(),
            commands: *commands,
            patience,
        };
        Ok(Self {
            listener,
            room: Arc::new(room),
        })
    }

    /// The address to open. It opens the page once.
    pub fn address(&self) -> String {
        self.room.gate.address()
    }

    /// What ends [`Self::run`] from outside.
    pub fn leaver(&self) -> impl Fn() + Send + Sync + 'static {
        let room = Arc::clone(&self.room);
        move || room.leave.notify_one()
    }

    /// Serves until somebody leaves, by the page, [`Self::leaver`] or Ctrl-C.
    ///
    /// # Errors
    /// A system that gives no runtime.
    pub fn run(self) -> Outcome<()> {
        let runtime = tokio::runtime::Builder::new_current_thread()
            .enable_all()
            .max_blocking_threads(MOST_THREADS)
            .build()
            .map_err(|error| no_port(&error))?;
        let room = Arc::clone(&self.room);
        let planning = Arc::clone(&room);
        thread::spawn(move || planner::run(&planning));
        let served: Outcome<()> = runtime.block_on(async move {
            let listener = tokio::net::TcpListener::from_std(self.listener);
            let listener = listener.map_err(|error| no_port(&error))?;
            tokio::select! {
                () = accept(listener, &room) => {}
                () = room.leave.notified() => {}
                _ = tokio::signal::ctrl_c() => {}
            }
            if let Some(desk) = held(&room.desk).as_ref() {
                desk.close();
            }
            room.planner.close();
            Ok(())
        });
        // What is on its way gets out; what still works on an answer is not waited for.
        runtime.shutdown_timeout(Duration::from_millis(500));
        served
    }
}

impl Room {
    fn desk(&self) -> Option<Arc<Desk>> {
        held(&self.desk).clone()
    }

    /// Something is known about the fields of the folder that was not.
    fn told_of_farm(&self) {
        self.of_farm.fetch_add(1, Ordering::Relaxed);
        self.beats.send_modify(|beat| *beat += 1);
    }

    /// The language of the page: that of the job on the desk; without a job that of the machine.
    fn language(&self) -> Language {
        match self.desk() {
            Some(desk) => desk.look(|inner| super::ground::numbers(inner.edit.text()).language()),
            None => self.commands.language,
        }
    }

    /// Puts another job on the desk.
    fn open(&self, file: &Path) -> Outcome<()> {
        let new = Desk::open(file, &self.commands, self.beats.clone())?;
        let old = held(&self.desk).replace(new);
        if let Some(old) = old {
            old.close();
        }
        self.beats.send_modify(|beat| *beat += 1);
        Ok(())
    }
}

async fn accept(listener: tokio::net::TcpListener, room: &Arc<Room>) {
    let free = Arc::new(Semaphore::new(MOST_CONNECTIONS));
    loop {
        let Ok(permit) = Arc::clone(&free).acquire_owned().await else {
            return;
        };
        let Ok((stream, from)) = listener.accept().await else {
            // Too many files open, for one: let others end first.
            tokio::time::sleep(Duration::from_millis(50)).await;
            continue;
        };
        if !from.ip().is_loopback() {
            continue;
        }
        let _ = stream.set_nodelay(true);
        let room = Arc::clone(room);
        tokio::spawn(async move {
            let _permit = permit;
            let patience = room.patience;
            let service = service_fn(|request| {
                let room = Arc::clone(&room);
                async move { Ok::<_, Infallible>(routes::answer(request, room).await) }
            });
            let connection = http1::Builder::new()
                .timer(TokioTimer::new())
                .header_read_timeout(patience.head)
                .max_buf_size(64 * 1024)
                .serve_connection(TokioIo::new(stream), service);
            let _ = tokio::time::timeout(patience.connection, connection).await;
        });
    }
}

/// The folder that a file lies in.
fn folder_of(file: &Path) -> PathBuf {
    match file.parent() {
        Some(folder) if !folder.as_os_str().is_empty() => folder.to_path_buf(),
        _ => PathBuf::from("."),
    }
}

fn no_port(error: &std::io::Error) -> Box<Fault> {
    Fault::machine(
        "edit.no_port",
        Place::nowhere(),
        format!("no page can be served on this machine: {error}"),
        "a free port on the loopback address",
        "look whether a firewall forbids it",
    )
}
