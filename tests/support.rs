//! What the tests share: the binary run, and jobs of a few of the demo's sheets.

use std::collections::BTreeSet;
use std::ffi::OsStr;
use std::fs;
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Output, Stdio};
use tempfile::TempDir;

/// What a run of the binary came to.
#[derive(Debug)]
pub struct Run {
    pub code: Option<i32>,
    pub out: String,
    pub err: String,
}

impl Run {
    fn of(output: Output) -> Self {
        Self {
            code: output.status.code(),
            out: String::from_utf8(output.stdout).expect("stdout is UTF-8"),
            err: String::from_utf8(output.stderr).expect("stderr is UTF-8"),
        }
    }

    /// Asserts the exit code, and that nobody panicked.
    #[track_caller]
    pub fn exits(self, code: i32) -> Self {
        assert_eq!(self.code, Some(code), "{self:#?}");
        assert!(!self.err.contains("panicked"), "{self:#?}");
        self
    }

    /// Asserts what is said somewhere, on either stream.
    #[track_caller]
    pub fn says(self, words: &[&str]) -> Self {
        for word in words {
            let said = self.out.contains(word) || self.err.contains(word);
            assert!(said, "expected {word:?} in {self:#?}");
        }
        self
    }

    #[track_caller]
    pub fn json(&self) -> serde_json::Value {
        serde_json::from_str(&self.out).unwrap_or_else(|fault| panic!("{fault} in {self:#?}"))
    }
}

pub fn command<S: AsRef<OsStr>>(arguments: impl IntoIterator<Item = S>) -> Command {
    let mut command = Command::new(env!("CARGO_BIN_EXE_headword"));
    command.args(arguments).stdin(Stdio::null());
    command
}

pub fn headword<S: AsRef<OsStr>>(arguments: impl IntoIterator<Item = S>) -> Run {
    Run::of(command(arguments).output().expect("the binary runs"))
}

/// Starts the binary with its streams kept for [`wait`].
pub fn start<S: AsRef<OsStr>>(arguments: impl IntoIterator<Item = S>) -> Child {
    let mut command = command(arguments);
    let command = command.stdout(Stdio::piped()).stderr(Stdio::piped());
    command.spawn().expect("the binary starts")
}

pub fn wait(child: Child) -> Run {
    Run::of(child.wait_with_output().expect("the binary ends"))
}

pub fn repository(path: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join(path)
}

/// A job of a few sheets of seed 104, read and proposed; its folder goes with it. None comes with nothing filled in.
pub fn drawn_job(sheets: usize, noise: &str) -> (TempDir, PathBuf) {
    let folder = tempfile::tempdir().unwrap();
    let job = folder.path().join("job");
    let sheets = sheets.to_string();
    let path = job.to_str().unwrap();
    let run = headword([
        "demo",
        path,
        "--headless",
        "--sheets",
        &sheets,
        "--seed",
        "104",
        "--noise",
        noise,
    ]);
    assert!(matches!(run.code, Some(0 | 1)), "{run:#?}");
    let file = job.join("job.toml");
    let text = fs::read_to_string(&file).unwrap();
    fs::write(&file, format!("{text}\n[keying]\nunfilled = 0\n")).unwrap();
    (folder, job)
}

/// A job in a folder of its own that goes with it.
pub struct TestJob {
    folder: TempDir,
}

impl TestJob {
    /// A job of so many of the demo's sheets, with its roster and rules, made by `headword new`.
    pub fn of_sheets(count: usize) -> Self {
        let folder = tempfile::tempdir().expect("a folder for the job");
        let sheets = folder.path().join("sheets");
        fs::create_dir(&sheets).unwrap();
        for sheet in demo_sheets().iter().take(count) {
            fs::copy(sheet, sheets.join(sheet.file_name().unwrap())).unwrap();
        }
        // `new` wants one sheet at least.
        let placeholder = sheets.join("placeholder.png");
        if count == 0 {
            fs::write(&placeholder, "").unwrap();
        }
        let job = Self { folder };
        headword([
            OsStr::new("new"),
            job.path().as_os_str(),
            OsStr::new("--sheets"),
            sheets.as_os_str(),
            OsStr::new("--roster"),
            repository("demo-data/roster.csv").as_os_str(),
        ])
        .exits(0);
        if count == 0 {
            fs::remove_file(placeholder).unwrap();
        }
        job
    }

    pub fn path(&self) -> &Path {
        self.folder.path()
    }

    pub fn file(&self, name: &str) -> PathBuf {
        self.path().join(name)
    }

    /// Runs a command on the job: its name, the folder, what follows.
    pub fn run<S: AsRef<OsStr>>(&self, verb: &str, more: impl IntoIterator<Item = S>) -> Run {
        headword(self.arguments(verb, more))
    }

    pub fn start<S: AsRef<OsStr>>(&self, verb: &str, more: impl IntoIterator<Item = S>) -> Child {
        start(self.arguments(verb, more))
    }

    pub fn arguments<S: AsRef<OsStr>>(
        &self,
        verb: &str,
        more: impl IntoIterator<Item = S>,
    ) -> Vec<std::ffi::OsString> {
        let mut arguments = vec![verb.into(), self.path().into()];
        arguments.extend(more.into_iter().map(|one| one.as_ref().to_owned()));
        arguments
    }

    /// Writes the draft and returns its two lists of sheets, in the files' order.
    #[track_caller]
    pub fn draft(&self) -> Draft {
        let run = self.run("index", ["--draft"]);
        assert!(matches!(run.code, Some(0 | 1)), "{run:#?}");
        Draft::of(self.path())
    }

    /// Asserts that every file of the sheets folder is accounted for once, in the index or in the exceptions.
    #[track_caller]
    pub fn is_accounted_for(&self) -> Draft {
        let draft = self.draft();
        let listed = fs::read_dir(self.file("sheets")).unwrap();
        let there: Vec<String> = listed
            .map(|entry| entry.unwrap().file_name().into_string().unwrap())
            .collect::<BTreeSet<_>>()
            .into_iter()
            .collect();
        let mut said: Vec<String> = draft.index.clone();
        said.extend(draft.exceptions.iter().map(|(sheet, _)| sheet.clone()));
        said.sort();
        assert_eq!(said, there);
        draft
    }
}

/// The draft's sheets.
#[derive(Debug)]
pub struct Draft {
    pub index: Vec<String>,
    /// With the reason.
    pub exceptions: Vec<(String, String)>,
}

impl Draft {
    pub fn of(job: &Path) -> Self {
        let draft = job.join("out/draft");
        let index = rows(&draft.join("index.csv"));
        let exceptions = rows(&draft.join("exceptions.csv"));
        Self {
            index: index.iter().map(|row| row["sheet"].clone()).collect(),
            exceptions: exceptions
                .iter()
                .map(|row| (row["sheet"].clone(), row["reason"].clone()))
                .collect(),
        }
    }
}

/// A CSV file's rows, by the names of the columns.
pub fn rows(path: &Path) -> Vec<std::collections::HashMap<String, String>> {
    let mut reader = csv::Reader::from_path(path).unwrap_or_else(|f| panic!("{path:?}: {f}"));
    reader.deserialize().map(Result::unwrap).collect()
}

/// The demo's sheets, in their order.
pub fn demo_sheets() -> Vec<PathBuf> {
    let listed = fs::read_dir(repository("demo-data/sheets")).unwrap();
    let mut sheets: Vec<PathBuf> = listed.map(|entry| entry.unwrap().path()).collect();
    sheets.sort();
    sheets
}
