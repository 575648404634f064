//! Works every edit out over all readings, in a thread of its own, so that typing never waits.

use super::figures::Figures;
use super::pane::OPENED;
use crate::job::{Draft, Job, JobError};
use crate::rules::example::{Candidate, Example, RuleFiles, Suggestion, candidates, suggest};
use crate::rules::{Bench, Difference, Fault, RuleBook};
use std::sync::Arc;
use std::sync::atomic::{AtomicU64, Ordering};
use std::sync::mpsc::{self, Receiver, Sender, TryRecvError};
use std::thread;
use std::time::{Duration, Instant};

/// How long sheets are worked through before figures are told.
const SLICE: Duration = Duration::from_millis(100);

/// What the desk asks for.
#[derive(Debug)]
pub enum Ask {
    /// The figures of this draft, from now on.
    Judge {
        edit: u64,
        draft: Draft,
        since: Instant,
    },
    /// What the edit does to the sheet at this place of the drawer.
    Look(usize),
    /// Rules for what is marked in a strip, to be added to this file of the draft.
    Try {
        example: Example,
        draft: Draft,
        file: usize,
    },
    /// Rules made from keyed sheets that no rule fits, to be added to this file of the draft.
    Suggest { draft: Draft, file: usize },
    /// The rules now are what further edits are compared with.
    Keep,
}

/// What the desk is told.
#[derive(Debug)]
pub enum Told {
    /// All readings are on the bench.
    Ready,
    /// The draft cannot be used: all that is wrong with it.
    Faulty {
        edit: u64,
        faults: Vec<Fault>,
    },
    /// The draft's rules; their figures follow.
    Rules {
        edit: u64,
        rules: Arc<RuleBook>,
    },
    Judged {
        edit: u64,
        figures: Arc<Figures>,
    },
    Looked(Looked),
    /// Rules to choose from, or why there are none.
    Offered {
        candidates: Result<Vec<Candidate>, String>,
        of_marks: bool,
    },
    /// The bench could not be made, or is broken.
    Failed(String),
}

/// What the edit does to one sheet.
#[derive(Debug, Clone)]
pub struct Looked {
    pub at: usize,
    pub difference: Difference,
    /// Values that are not as keyed: field, keyed, taken.
    pub unlike_keyed: Vec<(String, String, String)>,
}

/// The desk's end.
pub struct Engine {
    asks: Sender<Ask>,
    /// The edit that is worked out, or is to be next.
    newest: Arc<AtomicU64>,
}

impl Engine {
    /// Puts the readings of the job on a bench, in the background; `tell` says whether anybody still listens.
    pub fn start(job: Job, tell: impl Fn(Told) -> bool + Send + 'static) -> Self {
        let (asks, asked) = mpsc::channel();
        let newest = Arc::new(AtomicU64::new(0));
        let latest = newest.clone();
        thread::spawn(move || {
            let outcome = Workshop::new(job, latest, &tell).and_then(|mut shop| shop.work(&asked));
            if let Err(fault) = outcome {
                tell(Told::Failed(fault.to_string()));
            }
        });
        Self { asks, newest }
    }

    pub fn judge(&self, edit: u64, draft: Draft) {
        self.newest.store(edit, Ordering::SeqCst);
        let since = Instant::now();
        let _ = self.asks.send(Ask::Judge { edit, draft, since });
    }

    pub fn ask(&self, ask: Ask) {
        let _ = self.asks.send(ask);
    }
}

struct Workshop<'a, T> {
    job: Job,
    bench: Bench,
    newest: Arc<AtomicU64>,
    tell: &'a T,
    threads: usize,
    /// The edit whose rules are on the bench, and when it was made.
    edit: u64,
    since: Instant,
}

impl<'a, T: Fn(Told) -> bool> Workshop<'a, T> {
    fn new(job: Job, newest: Arc<AtomicU64>, tell: &'a T) -> Result<Self, JobError> {
        let since = Instant::now();
        let mut bench = job.bench()?;
        let threads = thread::available_parallelism().map_or(1, usize::from);
        bench.put(job.proposer.shared_rules());
        bench.step(threads, &|| true);
        bench.keep();
        tell(Told::Ready);
        let shop = Self {
            job,
            bench,
            newest,
            tell,
            threads,
            edit: 0,
            since,
        };
        shop.tell_figures();
        Ok(shop)
    }

    /// Answers until nobody listens any more.
    fn work(&mut self, asked: &Receiver<Ask>) -> Result<(), JobError> {
        let mut is_done = true;
        loop {
            let ask = match is_done {
                true => asked.recv().map_err(|_| TryRecvError::Disconnected),
                false => asked.try_recv(),
            };
            let goes_on = match ask {
                Err(TryRecvError::Disconnected) => return Ok(()),
                Err(TryRecvError::Empty) => {
                    is_done = self.step();
                    self.tell_figures()
                }
                Ok(Ask::Look(at)) => (self.tell)(Told::Looked(Looked {
                    at,
                    difference: self.bench.difference(at),
                    unlike_keyed: self.bench.unlike_keyed(at),
                })),
                Ok(Ask::Try {
                    example,
                    draft,
                    file,
                }) => {
                    let made = self.with_files(&draft, file, |files, bench| {
                        candidates(&example, files, bench)
                    });
                    (self.tell)(Told::Offered {
                        candidates: made.map_err(|fault| fault.to_string()),
                        of_marks: true,
                    })
                }
                Ok(Ask::Suggest { draft, file }) => {
                    let made = self.with_files(&draft, file, suggest);
                    let made = made.map(|all| all.into_iter().map(in_words).collect());
                    (self.tell)(Told::Offered {
                        candidates: made.map_err(|fault| fault.to_string()),
                        of_marks: false,
                    })
                }
                Ok(Ask::Keep) => {
                    self.bench.keep();
                    let figures = Figures::of(&self.bench, Duration::ZERO, false);
                    (self.tell)(Told::Judged {
                        edit: self.edit,
                        figures: Arc::new(figures),
                    })
                }
                // Somebody typed on meanwhile.
                Ok(Ask::Judge { edit, .. }) if edit != self.newest.load(Ordering::SeqCst) => true,
                Ok(Ask::Judge { edit, draft, since }) => {
                    let goes_on = self.put(edit, &draft, since);
                    is_done &= self.edit != edit;
                    goes_on
                }
            };
            if !goes_on {
                return Ok(());
            }
        }
    }

    fn with_files<R>(
        &self,
        draft: &Draft,
        edited: usize,
        work: impl FnOnce(&RuleFiles, &Bench) -> R,
    ) -> R {
        let files = draft.files.iter();
        let files: Vec<(&str, &str)> = files
            .map(|file| (file.name.as_str(), file.text.as_str()))
            .collect();
        let files = RuleFiles {
            files: &files,
            edited,
            styles: &self.job.settings.styles,
        };
        work(&files, &self.bench)
    }

    /// Puts a draft's rules on the bench, if they have no fault.
    fn put(&mut self, edit: u64, draft: &Draft, since: Instant) -> bool {
        match self.job.draft_rules(draft) {
            Ok(rules) => {
                let rules = Arc::new(rules);
                self.bench.put(rules.clone());
                (self.edit, self.since) = (edit, since);
                (self.tell)(Told::Rules { edit, rules })
            }
            Err(JobError::Faults(faults)) => (self.tell)(Told::Faulty {
                edit,
                faults: faults.faults,
            }),
            Err(fault) => (self.tell)(Told::Failed(fault.to_string())),
        }
    }

    /// Works for a while; whether all is done.
    fn step(&mut self) -> bool {
        let begun = Instant::now();
        let newest = &self.newest;
        let edit = self.edit;
        let go_on = || begun.elapsed() < SLICE && newest.load(Ordering::SeqCst) == edit;
        self.bench.step(self.threads, &go_on).is_complete()
    }

    fn tell_figures(&self) -> bool {
        (self.tell)(Told::Judged {
            edit: self.edit,
            figures: Arc::new(Figures::of(
                &self.bench,
                self.since.elapsed(),
                self.edit > OPENED,
            )),
        })
    }
}

/// A suggested rule, with where it comes from among what was considered.
fn in_words(suggestion: Suggestion) -> Candidate {
    let Suggestion {
        sheet,
        like,
        missing,
        mut candidate,
    } = suggestion;
    let mut words =
        format!("made from {sheet}, one of {like} keyed sheets of its layout that were looked at");
    if !missing.is_empty() {
        words += &format!("; not found on its strip: {}", missing.join(", "));
    }
    candidate.considered.insert(0, words);
    candidate
}
