//! The pool's side: worker processes kept alive, each sheet handed to a free one, the dead and the late replaced.

use super::worker::{Answer, Request};
use super::{Lying, SheetReading};
use crate::value::{Finding, Severity, Station};
use std::io::{BufRead, BufReader, Read, Write};
use std::path::PathBuf;
use std::process::{Child, ChildStdin, Command, ExitStatus, Stdio};
use std::sync::mpsc::{self, Receiver, RecvTimeoutError};
use std::sync::{Arc, Mutex};
use std::thread;
use std::time::Duration;

/// How the pool works.
#[derive(Debug, Clone)]
pub struct PoolSettings {
    /// The program that is the worker, and its arguments.
    pub program: PathBuf,
    pub arguments: Vec<String>,
    /// Worker processes at a time.
    pub workers: usize,
    /// What a sheet may take before its worker is given up.
    pub deadline: Duration,
}

impl PoolSettings {
    /// A sheet takes about a tenth of a second; one that takes this long is not going to end.
    pub const DEADLINE: Duration = Duration::from_secs(30);
}

/// Workers could not be started at all: nothing was read.
#[derive(Debug, thiserror::Error)]
pub enum PoolError {
    #[error("cannot start a reading worker: {0}")]
    CannotStart(String),
    #[error(
        "reading workers end before they are ready, several times in a row: {0}; run the command again"
    )]
    Died(String),
}

/// Times in a row that a worker may end before it is ready; beyond that it never will be. About four seconds in all.
const STARTS: u32 = 40;

/// Rest before a worker is started again.
const REST: Duration = Duration::from_millis(20);

/// One sheet's end in the pool.
#[derive(Debug)]
pub struct Outcome<Job> {
    pub job: Job,
    pub sheet: SheetReading,
    /// The reader's name and version.
    pub reader: String,
}

/// Reads many sheets in worker processes.
#[derive(Debug)]
pub struct Pool {
    settings: PoolSettings,
}

impl Pool {
    pub fn new(settings: PoolSettings) -> Self {
        Self { settings }
    }

    /// The reader's name and version, asked of a worker.
    pub fn reader(&self) -> Result<String, PoolError> {
        Worker::start(&self.settings).map(|worker| worker.reader.clone())
    }

    /// Reads every job's sheet and hands the outcomes over as they come, in no fixed order. Every job has exactly
    /// one outcome. `path` tells where a job's image is; `take` runs on the calling thread and returns whether to
    /// go on. Jobs are drawn from the iterator as workers become free, on the workers' threads.
    pub fn read_all<Job: Send>(
        &self,
        jobs: impl Iterator<Item = Job> + Send,
        path: impl Fn(&Job) -> PathBuf + Sync,
        mut take: impl FnMut(Outcome<Job>) -> bool,
    ) -> Result<(), PoolError> {
        let jobs = Mutex::new(jobs);
        let (sender, outcomes) = mpsc::sync_channel(self.settings.workers * 4);
        let (jobs, path, settings) = (&jobs, &path, &self.settings);
        thread::scope(|scope| {
            let threads: Vec<_> = (0..settings.workers.max(1))
                .map(|_| {
                    let sender = sender.clone();
                    scope.spawn(move || -> Result<(), PoolError> {
                        let mut desk = Desk {
                            settings,
                            worker: None,
                        };
                        loop {
                            let next = jobs.lock().expect("a worker thread panicked").next();
                            let Some(job) = next else { return Ok(()) };
                            let (sheet, reader) = desk.read(path(&job), None)?;
                            if sender.send(Outcome { job, sheet, reader }).is_err() {
                                return Ok(());
                            }
                        }
                    })
                })
                .collect();
            drop(sender);
            for outcome in &outcomes {
                if !take(outcome) {
                    break;
                }
            }
            drop(outcomes);
            threads
                .into_iter()
                .try_for_each(|thread| thread.join().expect("a worker thread panicked"))
        })
    }
}

impl Pool {
    /// Reads one sheet again, its strip lying as somebody said; with the reader's name and version.
    pub fn read_again(
        &self,
        path: PathBuf,
        lying: Lying,
    ) -> Result<(SheetReading, String), PoolError> {
        let mut desk = Desk {
            settings: &self.settings,
            worker: None,
        };
        desk.read(path, Some(lying))
    }
}

/// A worker's place: the process that sits there may be replaced.
struct Desk<'a> {
    settings: &'a PoolSettings,
    worker: Option<Worker>,
}

/// How a worker failed at a sheet.
enum Failure {
    Died(String),
    Late,
}

impl Desk<'_> {
    /// Reads one sheet; a worker that died is tried once more with a fresh one, since a death may come from outside.
    fn read(
        &mut self,
        path: PathBuf,
        lying: Option<Lying>,
    ) -> Result<(SheetReading, String), PoolError> {
        let mut deaths = Vec::new();
        loop {
            let mut worker = match self.worker.take() {
                Some(worker) => worker,
                None => Worker::start(self.settings)?,
            };
            let reader = worker.reader.clone();
            match worker.read(&path, lying, self.settings.deadline) {
                Ok(mut sheet) => {
                    self.worker = Some(worker);
                    sheet.findings.extend(deaths.iter().map(|how| {
                        finding(
                            Severity::Note,
                            "read-at-second-try",
                            format!("a worker ended while it read this sheet ({how}); a fresh one read it"),
                        )
                    }));
                    return Ok((sheet, reader));
                }
                Err(Failure::Died(how)) if deaths.is_empty() => deaths.push(how),
                Err(Failure::Died(how)) => {
                    let message = format!(
                        "two workers ended while they read this sheet ({how}); run headword read again, and if it stays so, \
                         look at the image or scan it again"
                    );
                    return Ok((failed("worker-died", message), reader));
                }
                Err(Failure::Late) => {
                    let message = format!(
                        "not read within {} seconds, expected about a tenth of one; run headword read again, and if it stays \
                         so, look at the image or scan it again",
                        self.settings.deadline.as_secs_f64()
                    );
                    return Ok((failed("worker-late", message), reader));
                }
            }
        }
    }
}

fn failed(code: &str, message: String) -> SheetReading {
    SheetReading {
        findings: vec![finding(Severity::Fault, code, message)],
        ..Default::default()
    }
}

fn finding(severity: Severity, code: &str, message: String) -> Finding {
    Finding::new(severity, Station::Reading, code, message)
}

/// One worker process, and what it says. Dropping it ends the process.
struct Worker {
    process: Child,
    requests: ChildStdin,
    answers: Receiver<Answer>,
    complaints: Arc<Mutex<String>>,
    reader: String,
}

impl Worker {
    /// Starts a worker; one that died before it was ready is tried again, since a death may come from outside.
    fn start(settings: &PoolSettings) -> Result<Self, PoolError> {
        let mut tries = 0;
        loop {
            tries += 1;
            match Self::start_once(settings) {
                Err(PoolError::Died(_)) if tries < STARTS => thread::sleep(REST),
                outcome => return outcome,
            }
        }
    }

    fn start_once(settings: &PoolSettings) -> Result<Self, PoolError> {
        let cannot = |why: String| PoolError::CannotStart(why);
        let mut process = Command::new(&settings.program)
            .args(&settings.arguments)
            // Two engines' threads in each other's way take six times as long; read when the process starts.
            .env("OMP_THREAD_LIMIT", "1")
            .stdin(Stdio::piped())
            .stdout(Stdio::piped())
            .stderr(Stdio::piped())
            .spawn()
            .map_err(|fault| cannot(format!("{}: {fault}", settings.program.display())))?;
        let requests = process.stdin.take().expect("stdin is piped");
        let answers = listen(process.stdout.take().expect("stdout is piped"));
        let complaints = keep_last_words(process.stderr.take().expect("stderr is piped"));
        let mut worker = Self {
            process,
            requests,
            answers,
            complaints,
            reader: String::new(),
        };
        match worker.answers.recv_timeout(settings.deadline) {
            Ok(Answer::Ready { reader }) => worker.reader = reader,
            Ok(Answer::CannotStart { message }) => return Err(cannot(message)),
            Ok(Answer::Sheet(_)) => return Err(cannot("it answered before it was asked".into())),
            Err(RecvTimeoutError::Timeout) => {
                return Err(cannot(format!(
                    "it was not ready within {:?}",
                    settings.deadline
                )));
            }
            Err(RecvTimeoutError::Disconnected) => {
                return Err(PoolError::Died(worker.how_it_ended()));
            }
        }
        Ok(worker)
    }

    fn read(
        &mut self,
        path: &std::path::Path,
        lying: Option<Lying>,
        deadline: Duration,
    ) -> Result<SheetReading, Failure> {
        let mut request = serde_json::to_vec(&Request {
            path: path.to_owned(),
            lying,
        })
        .map_err(|fault| Failure::Died(fault.to_string()))?;
        request.push(b'\n');
        let sent = self
            .requests
            .write_all(&request)
            .and_then(|()| self.requests.flush());
        if sent.is_err() {
            return Err(Failure::Died(self.how_it_ended()));
        }
        match self.answers.recv_timeout(deadline) {
            Ok(Answer::Sheet(sheet)) => Ok(*sheet),
            Ok(_) | Err(RecvTimeoutError::Disconnected) => Err(Failure::Died(self.how_it_ended())),
            Err(RecvTimeoutError::Timeout) => Err(Failure::Late),
        }
    }

    /// The exit in words, with the last thing it said on stderr. A worker that only talks nonsense is ended here.
    fn how_it_ended(&mut self) -> String {
        for _ in 0..20 {
            if self.process.try_wait().is_ok_and(|status| status.is_some()) {
                break;
            }
            thread::sleep(Duration::from_millis(10));
        }
        let _ = self.process.kill();
        let exit = self
            .process
            .wait()
            .map_or_else(|fault| fault.to_string(), in_words);
        let complaints = self.complaints.lock().map(|text| text.trim().to_owned());
        match complaints
            .ok()
            .as_deref()
            .and_then(|text| text.lines().last())
        {
            Some(last) => format!("{exit}; its last words: {last}"),
            None => exit,
        }
    }
}

impl Drop for Worker {
    fn drop(&mut self) {
        let _ = self.process.kill();
        let _ = self.process.wait();
    }
}

fn in_words(status: ExitStatus) -> String {
    use std::os::unix::process::ExitStatusExt;
    match (status.code(), status.signal()) {
        (Some(code), _) => format!("exit {code}"),
        (None, Some(signal)) => format!("signal {signal}"),
        (None, None) => "unknown exit".into(),
    }
}

/// Turns the worker's lines into answers on a thread of its own, so that waiting for one can have a deadline.
fn listen(stdout: impl Read + Send + 'static) -> Receiver<Answer> {
    let (sender, answers) = mpsc::channel();
    thread::spawn(move || {
        for line in BufReader::new(stdout).lines().map_while(Result::ok) {
            // What is no answer ends the conversation: the worker counts as dead.
            let Ok(answer) = serde_json::from_str(&line) else {
                return;
            };
            if sender.send(answer).is_err() {
                return;
            }
        }
    });
    answers
}

/// Keeps the end of what the worker says on stderr, at most this many bytes.
const LAST_WORDS: usize = 2_000;

fn keep_last_words(stderr: impl Read + Send + 'static) -> Arc<Mutex<String>> {
    let kept = Arc::new(Mutex::new(String::new()));
    let words = Arc::clone(&kept);
    thread::spawn(move || {
        let mut stderr = BufReader::new(stderr);
        let mut line = Vec::new();
        while stderr
            .by_ref()
            .take(LAST_WORDS as u64)
            .read_until(b'\n', &mut line)
            .is_ok_and(|n| n > 0)
        {
            if let Ok(mut kept) = words.lock() {
                kept.clear();
                kept.push_str(&String::from_utf8_lossy(&line));
            }
            line.clear();
        }
    });
    kept
}
