//! What is counted, and the program run with a limit.

use std::ffi::OsStr;
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::process::{Command, Stdio};
use std::time::{Duration, Instant};

/// Seconds after which a run counts as one that hangs; the slowest here takes three on an idle machine.
const LIMIT: u64 = 120;
/// The same for what is done in this process, where only its end can be waited for.
const SLOW: Duration = Duration::from_secs(20);

/// What became of a case.
#[derive(Debug, Default)]
pub struct Tally {
    pub tried: usize,
    pub crashes: usize,
    pub hangs: usize,
    /// Values lost or changed, files touched that are nobody's, refusals that did not come.
    pub lost: usize,
    /// What should be known beside the counts.
    pub note: String,
    /// What went wrong, one line each.
    pub told: Vec<String>,
}

impl Tally {
    pub fn row(&self, name: &str) -> String {
        let Self {
            tried,
            crashes,
            hangs,
            lost,
            note,
            ..
        } = self;
        format!("{name:<42} {tried:>7} {crashes:>7} {hangs:>5} {lost:>6}  {note}")
    }

    pub fn is_clean(&self) -> bool {
        self.crashes + self.hangs + self.lost == 0
    }

    pub fn add(&mut self, other: &Self) {
        self.tried += other.tried;
        self.crashes += other.crashes;
        self.hangs += other.hangs;
        self.lost += other.lost;
    }

    pub fn left_out(why: &str) -> Self {
        Self {
            note: format!("left out: {why}"),
            ..Self::default()
        }
    }

    /// Counts something lost unless it holds.
    pub fn holds(&mut self, holds: bool, words: impl FnOnce() -> String) {
        if !holds {
            self.lost += 1;
            self.told.push(words());
        }
    }

    /// Tries something in this process; none where it panicked.
    pub fn tries<T>(&mut self, what: &str, act: impl FnOnce() -> T) -> Option<T> {
        self.tried += 1;
        let start = Instant::now();
        let done = catch_unwind(AssertUnwindSafe(act));
        if start.elapsed() > SLOW {
            self.hangs += 1;
            self.told.push(format!("slow: {what}"));
        }
        if done.is_err() {
            self.crashes += 1;
            self.told.push(format!("panicked: {what}"));
        }
        done.ok()
    }

    /// Runs the program; gives its exit code and what it said.
    pub fn runs<S: AsRef<OsStr>>(&mut self, arguments: &[S]) -> (i32, String) {
        let mut command = command();
        command.args(arguments);
        self.ends(command)
    }

    /// The same for a command that was made ready.
    pub fn ends(&mut self, mut command: Command) -> (i32, String) {
        self.tried += 1;
        let done = command.stdin(Stdio::null()).output().expect("it starts");
        let said = [done.stdout, done.stderr].concat();
        let said = String::from_utf8_lossy(&said).into_owned();
        // What a shell says of a program that was killed: 128 and the signal's number.
        let code = done.status.code().unwrap_or(255);
        if code == 137 {
            self.hangs += 1;
            self.told.push(format!("hangs: {command:?}"));
        } else if !(0..=2).contains(&code) || said.contains("panicked") {
            self.crashes += 1;
            self.told.push(format!(
                "code {code}: {}",
                said.lines().last().unwrap_or_default()
            ));
        }
        (code, said)
    }
}

/// The program, to be given its arguments, killed when it takes for ever.
pub fn command() -> Command {
    let mut command = Command::new("timeout");
    command.args(["-s", "KILL", &LIMIT.to_string()]);
    command.arg(env!("CARGO_BIN_EXE_headword"));
    command
}
