//! Works every edit out over all readings, in a thread of its own, so that typing never waits.

use super::figures::Figures;
use super::pane::OPENED;
use crate::job::{Draft, Job, JobError};
use crate::rules::example::{Candidate, Example, RuleFiles, Suggestion, candidates, suggest};
use crate::rules::{Bench, Difference, Fault, RuleBook};
use crate::value::SheetId;
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::sync::Arc;
use std::sync::atomic::{AtomicU64, Ordering};
use std::sync::mpsc::{self, Receiver, Sender, TryRecvError};
use std::thread;
use std::time::{Duration, Instant};

/// How long sheets are worked through before an edit's first figures are told, and before further ones: counting and drawing
/// them costs some tens of milliseconds at 20,000 sheets.
const FIRST_SLICE: Duration = Duration::from_millis(60);
const SLICE: Duration = Duration::from_millis(400);

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
        edit: u64,
    },
    /// Rules made from keyed sheets that no rule fits, to be added to this file of the draft.
    Suggest {
        draft: Draft,
        file: usize,
        edit: u64,
    },
    /// The rules now are what further edits are compared with.
    Keep,
}

/// What the desk is told.
#[derive(Debug)]
pub enum Told {
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
        /// The file and the edit that they were asked for at.
        file: usize,
        edit: u64,
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
    /// Puts the readings of these sheets on a bench, in the background; `tell` says whether anybody still listens.
    pub fn start(
        job: Job,
        drawer: Vec<SheetId>,
        tell: impl Fn(Told) -> bool + Send + 'static,
    ) -> Self {
        let (asks, asked) = mpsc::channel();
        let newest = Arc::new(AtomicU64::new(0));
        let latest = newest.clone();
        thread::spawn(move || {
            let work = || Workshop::new(job, &drawer, latest, &tell)?.work(&asked);
            let outcome = catch_unwind(AssertUnwindSafe(work));
            let fault = match outcome {
                Ok(Ok(())) => return,
                Ok(Err(fault)) => fault.to_string(),
                Err(_) => "a fault of headword: what the draft does can no longer be worked out; leave (Alt+Q, the draft is \
                           kept) and open the desk again"
                    .to_owned(),
            };
            tell(Told::Failed(fault));
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
    /// No sheet was worked out for that edit yet.
    is_new: bool,
    /// The edit that was asked for last; one with a fault leaves the bench to the edit before it.
    asked: u64,
    /// What waits until all sheets are worked out.
    waiting: Vec<Ask>,
}

impl<'a, T: Fn(Told) -> bool> Workshop<'a, T> {
    fn new(
        job: Job,
        drawer: &[SheetId],
        newest: Arc<AtomicU64>,
        tell: &'a T,
    ) -> Result<Self, JobError> {
        let since = Instant::now();
        let mut bench = job.bench_of(drawer)?;
        let threads = thread::available_parallelism().map_or(1, usize::from);
        bench.put(job.proposer.shared_rules());
        bench.step(threads, &|| true);
        bench.keep();
        let shop = Self {
            job,
            bench,
            newest,
            tell,
            threads,
            edit: 0,
            since,
            is_new: false,
            asked: 0,
            waiting: Vec::new(),
        };
        shop.tell_figures();
        Ok(shop)
    }

    /// Answers until nobody listens any more.
    fn work(&mut self, asked: &Receiver<Ask>) -> Result<(), JobError> {
        let mut is_done = true;
        loop {
            let ask = match is_done {
                true if !self.waiting.is_empty() => Ok(self.waiting.remove(0)),
                true => asked.recv().map_err(|_| TryRecvError::Disconnected),
                false => asked.try_recv(),
            };
            let goes_on = match ask {
                Err(TryRecvError::Disconnected) => return Ok(()),
                Err(TryRecvError::Empty) => {
                    is_done = self.step();
                    self.tell_figures()
                }
                // Rules are made from what no rule fits, which has to be known.
                Ok(ask @ (Ask::Try { .. } | Ask::Suggest { .. })) if !is_done => {
                    self.waiting.push(ask);
                    true
                }
                // Somebody typed on meanwhile.
                Ok(Ask::Judge { edit, .. }) if edit != self.newest.load(Ordering::SeqCst) => true,
                Ok(Ask::Judge { edit, draft, since }) => {
                    let goes_on = self.put(edit, &draft, since);
                    is_done &= self.edit != edit;
                    goes_on
                }
                Ok(ask) => self.answer(ask),
            };
            if !goes_on {
                return Ok(());
            }
        }
    }

    fn answer(&mut self, ask: Ask) -> bool {
        let told = match ask {
            Ask::Look(at) => Told::Looked(Looked {
                at,
                difference: self.bench.difference(at),
                unlike_keyed: self.bench.unlike_keyed(at),
            }),
            Ask::Try {
                example,
                draft,
                file,
                edit,
            } => {
                let made = self.with_files(&draft, file, |files, bench| {
                    candidates(&example, files, bench)
                });
                Told::Offered {
                    candidates: made.map_err(|fault| fault.to_string()),
                    file,
                    edit,
                    of_marks: true,
                }
            }
            Ask::Suggest { draft, file, edit } => {
                let made = self.with_files(&draft, file, suggest);
                let made = made.map(|all| all.into_iter().map(in_words).collect());
                Told::Offered {
                    candidates: made.map_err(|fault| fault.to_string()),
                    file,
                    edit,
                    of_marks: false,
                }
            }
            Ask::Keep => {
                self.bench.keep();
                Told::Judged {
                    edit: self.edit,
                    figures: Arc::new(Figures::of(&self.bench, Duration::ZERO, false)),
                }
            }
            Ask::Judge { .. } => return true,
        };
        (self.tell)(told)
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
        self.asked = edit;
        match self.job.draft_rules(draft) {
            Ok(rules) => {
                let rules = Arc::new(rules);
                self.bench.put(rules.clone());
                (self.edit, self.since, self.is_new) = (edit, since, true);
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
        let slice = match std::mem::replace(&mut self.is_new, false) {
            true => FIRST_SLICE,
            false => SLICE,
        };
        let newest = &self.newest;
        let asked = self.asked;
        let go_on = || begun.elapsed() < slice && newest.load(Ordering::SeqCst) == asked;
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

#[cfg(test)]
mod tests {
    use super::*;
    use crate::journal::{ReadingRecord, SheetRecord, Store};
    use crate::reading::{Line, Reading};

    const RULES: &str = "[[field]]\nname = \"number\"\nkind = \"code\"\npattern = '\\d{4}'\n[[rule]]\nname = \"a\"\n\
                         line = \"NO. {number}\"\n";
    const JOB: &str = "title = \"T\"\nsheets = { folder = \"s\" }\nrules = { files = [\"a.toml\"] }\n\
                       naming = { pattern = \"{number}\" }\n";
    const SHEETS: usize = 400;

    fn draft(job: &Job, text: &str) -> Draft {
        let mut draft = job.rules_in_use().unwrap();
        text.clone_into(&mut draft.files[0].text);
        draft
    }

    /// Waits for what is told of an edit; what is told before it is dropped.
    fn until<R>(told: &Receiver<Told>, wanted: impl Fn(&Told) -> Option<R>) -> R {
        const PATIENCE: Duration = Duration::from_secs(60);
        loop {
            let told = told.recv_timeout(PATIENCE).expect("it answers");
            if let Some(found) = wanted(&told) {
                return found;
            }
        }
    }

    #[test]
    fn a_fault_leaves_the_text_before_it_to_be_finished_and_a_gone_reading_its_place() {
        let folder = tempfile::tempdir().unwrap();
        std::fs::write(folder.path().join("job.toml"), JOB).unwrap();
        std::fs::write(folder.path().join("a.toml"), RULES).unwrap();
        let mut job = Job::open(folder.path()).unwrap();
        let mut drawer = Vec::new();
        for number in 0..SHEETS {
            let sheet = SheetId::new(format!("{number:04}.png"));
            let record = SheetRecord::new(sheet.clone(), number.to_string(), 1, 1);
            job.store.put_sheets(&[record]).unwrap();
            let line = Line::certain(&format!("NUMBER {number:04}"), 0.97);
            let reading = Reading { lines: vec![line] };
            let record = ReadingRecord::new(sheet.clone(), number.to_string(), None, reading);
            job.store.put_readings(&[record]).unwrap();
            drawer.push(sheet);
        }
        // One that nobody read, among the others.
        drawer.insert(7, SheetId::new("0006b.png"));
        let newest = Arc::new(AtomicU64::new(0));
        let alongside = job.alongside().unwrap();
        let mut shop = Workshop::new(alongside, &drawer, newest.clone(), &|_| true).unwrap();
        let better = RULES.replace("NO. ", "NUMBER ");
        newest.store(2, Ordering::SeqCst);
        shop.put(2, &draft(&job, &better), Instant::now());
        newest.store(3, Ordering::SeqCst);
        let faulty = better.replace("[[rule]]", "[[rule]");
        shop.put(3, &draft(&job, &faulty), Instant::now());
        assert!(
            (0..100).any(|_| shop.step()),
            "the text before it is finished"
        );

        let (tell, told) = mpsc::channel();
        let engine = Engine::start(job.alongside().unwrap(), drawer, move |t| {
            tell.send(t).is_ok()
        });
        engine.judge(2, draft(&job, &better));
        engine.judge(3, draft(&job, &better.replace("[[rule]]", "[[rule]")));
        let faults = until(&told, |told| match told {
            Told::Faulty { edit: 3, faults } => Some(faults.len()),
            _ => None,
        });
        assert!(faults > 0);
        // Told again without a fault: complete, and the sheet without a reading is the eighth.
        engine.judge(4, draft(&job, &better));
        let figures = until(&told, |told| match told {
            Told::Judged { edit: 4, figures } if figures.is_complete() => Some(figures.clone()),
            _ => None,
        });
        assert_eq!(figures.tray(crate::desk::supervise::Tray::ALL[0].0), [7]);
        // Nothing more comes of itself.
        assert!(told.recv_timeout(Duration::from_millis(300)).is_err());
        engine.judge(5, draft(&job, &better.replace("[[rule]]", "[[rule]")));
        until(&told, |told| {
            matches!(told, Told::Faulty { edit: 5, .. }).then_some(())
        });
        assert!(told.recv_timeout(Duration::from_millis(300)).is_err());
    }
}
