//! Follows the figures with the roster: proposes for the sheets that an edit changed, and, once rules are published, for
//! all that are not proposed by them. In a thread of its own; an edit ends what is left of the one before.

use crate::job::{Job, JobError, propose_again};
use crate::journal::Store;
use crate::rules::RuleBook;
use crate::value::SheetId;
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::sync::Arc;
use std::sync::atomic::{AtomicU64, Ordering};
use std::sync::mpsc::{self, Receiver, Sender};
use std::thread;
use std::time::{Duration, Instant};

/// How often the desk is told how far it is.
const PAUSE: Duration = Duration::from_millis(200);
/// Sheets before one that are looked at for what it may take from them.
const EARLIER: usize = 200;

/// What is to be followed up.
#[derive(Debug)]
enum Ask {
    Follow {
        edit: u64,
        rules: Arc<RuleBook>,
        /// Places of the sheets in the drawer.
        changed: Vec<u32>,
    },
    Renew {
        rules: Arc<RuleBook>,
    },
}

/// How many of the changed sheets a roster row was and is linked to.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Linked {
    pub before: usize,
    pub now: usize,
    pub done: usize,
    pub of: usize,
}

#[derive(Debug)]
pub enum Told {
    Linked {
        edit: u64,
        linked: Linked,
    },
    /// Proposals made anew by the published rules.
    Renewed {
        done: usize,
        of: usize,
    },
    Failed(String),
}

pub struct Links {
    asks: Sender<Ask>,
    newest: Arc<AtomicU64>,
}

impl Links {
    /// `drawer` holds the sheets that were read, in drawer order.
    pub fn start(
        job: Job,
        drawer: Vec<SheetId>,
        tell: impl Fn(Told) -> bool + Send + 'static,
    ) -> Self {
        let (asks, asked) = mpsc::channel();
        let newest = Arc::new(AtomicU64::new(0));
        let mut follower = Follower {
            job,
            drawer,
            newest: newest.clone(),
            tell,
        };
        thread::spawn(move || {
            if catch_unwind(AssertUnwindSafe(|| follower.work(&asked))).is_err() {
                let words = "a fault of headword: the roster is no longer followed; leave (Alt+Q) and run headword read";
                (follower.tell)(Told::Failed(words.to_owned()));
            }
        });
        Self { asks, newest }
    }

    /// Another edit: what was asked before no longer matters.
    pub fn drop_before(&self, edit: u64) {
        self.newest.store(edit, Ordering::SeqCst);
    }

    pub fn follow(&self, edit: u64, rules: Arc<RuleBook>, changed: Vec<u32>) {
        self.drop_before(edit);
        let _ = self.asks.send(Ask::Follow {
            edit,
            rules,
            changed,
        });
    }

    /// Has all proposals made anew that are not by these rules, before anything else.
    pub fn renew(&self, rules: Arc<RuleBook>) {
        self.drop_before(0);
        let _ = self.asks.send(Ask::Renew { rules });
    }
}

struct Follower<T> {
    job: Job,
    drawer: Vec<SheetId>,
    newest: Arc<AtomicU64>,
    tell: T,
}

impl<T: Fn(Told) -> bool> Follower<T> {
    fn work(&mut self, asked: &Receiver<Ask>) {
        for ask in asked {
            let done = match ask {
                Ask::Follow {
                    edit,
                    rules,
                    changed,
                } => self.follow(edit, rules, &changed),
                Ask::Renew { rules } => self.renew(rules),
            };
            // What failed once, by a locked journal say, may be done the next time.
            let goes_on = done.unwrap_or_else(|fault| (self.tell)(Told::Failed(fault.to_string())));
            if !goes_on {
                break;
            }
        }
    }

    fn follow(&self, edit: u64, rules: Arc<RuleBook>, changed: &[u32]) -> Result<bool, JobError> {
        let proposer = self.job.proposer.with_rules(&self.job.settings, rules)?;
        let mut linked = Linked {
            of: changed.len(),
            ..Linked::default()
        };
        let mut told = Instant::now();
        for &at in changed {
            if self.newest.load(Ordering::SeqCst) != edit {
                return Ok(true);
            }
            let at = at as usize;
            let store = &self.job.store;
            let Some(sheet) = self.drawer.get(at) else {
                continue;
            };
            if let Some(reading) = store.reading(sheet)? {
                let before = store.proposal(sheet)?;
                let was_linked = before.is_some_and(|kept| kept.proposal.link.is_some());
                linked.before += usize::from(was_linked);
                let earlier = &self.drawer[at.saturating_sub(EARLIER)..at];
                let now = propose_again(store, &proposer, earlier, &reading)?;
                linked.now += usize::from(now.proposal.link.is_some());
            }
            linked.done += 1;
            if told.elapsed() > PAUSE && linked.done < linked.of {
                told = Instant::now();
                if !(self.tell)(Told::Linked { edit, linked }) {
                    return Ok(false);
                }
            }
        }
        Ok((self.tell)(Told::Linked { edit, linked }))
    }

    fn renew(&mut self, rules: Arc<RuleBook>) -> Result<bool, JobError> {
        self.job.proposer = self.job.proposer.with_rules(&self.job.settings, rules)?;
        let tell = &self.tell;
        let mut told = Instant::now();
        let mut goes_on = true;
        let mut last = (0, 0);
        self.job.propose(|done, of| {
            last = (done, of);
            if told.elapsed() > PAUSE && done < of {
                told = Instant::now();
                goes_on &= tell(Told::Renewed { done, of });
            }
        })?;
        let (done, of) = last;
        Ok(goes_on && tell(Told::Renewed { done, of }))
    }
}
