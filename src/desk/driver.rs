//! Drives the clerk's desk: the terminal's keys in, the journal's entries and the screen out.
//!
//! One thread waits for keys, one makes pictures, and this one alone owns the state, writes entries and draws, once for
//! all that came meanwhile. A sheet is on disk before the next one is shown.

use super::clerk::{Clerk, DeskSheet, Effect, Knowledge, Plan};
use super::knowledge::JobKnowledge;
use super::picture::{Memo, Shape};
use super::session::{Session, plan};
use super::supply::{self, Supplied, Wanted};
use super::terminal::{Guard, Input, give_back, next_input, probed_shape};
use super::view::{Scene, Theme, draw};
use crate::job::Job;
use crate::journal::{Act, Holder, JournalError, Store, Tally};
use crate::value::SheetId;
use image::GrayImage;
use ratatui::Terminal;
use ratatui::backend::CrosstermBackend;
use signal_hook::consts::{SIGCONT, SIGHUP, SIGINT, SIGTERM};
use signal_hook::iterator::Signals;
use std::collections::{HashMap, HashSet};
use std::io::{self, Stdout, stdout};
use std::path::PathBuf;
use std::sync::mpsc::{self, Receiver, Sender};
use std::thread;
use std::time::Instant;

/// Sheets whose pictures are made ahead.
const AHEAD: usize = 3;
/// Pictures that are kept.
const KEPT: usize = 12;

/// How the desk is opened.
#[derive(Debug, Clone)]
pub struct Options {
    pub person: String,
    pub pass: u8,
    /// Sheets that were put off, instead of those that wait.
    pub held: bool,
    /// None: what the terminal shows best.
    pub shape: Option<Shape>,
    pub theme: Theme,
    /// This program, which makes the pictures.
    pub program: PathBuf,
    /// Milliseconds since 1970-01-01 UTC.
    pub clock: fn() -> i64,
}

/// What came of a sitting.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Sitting {
    /// Sheets accepted, put off or set aside and not undone.
    pub done: usize,
    pub tally: Tally,
}

#[derive(Debug, thiserror::Error)]
pub enum DeskError {
    #[error("{0}")]
    Journal(#[from] JournalError),
    #[error("the terminal cannot be used ({0}); run this in a terminal, not through a pipe")]
    Terminal(#[from] io::Error),
}

enum Event {
    Input(Input),
    Picture(Supplied),
    /// The program goes on after a stop from outside.
    Continued,
    /// The terminal is lost, or somebody ends the program.
    Ended,
}

/// Lets a person key until there is nothing left or he or she stops.
pub fn key_sheets(job: &mut Job, options: &Options) -> Result<Sitting, DeskError> {
    let knowledge = JobKnowledge::new(&job.proposer);
    let plan = plan(&job.settings, &job.proposer);
    let holder = Holder::here(&options.person);
    let session = Session::new(&mut job.store, &job.settings, holder, options.pass)?;
    let folder = job.settings.sheets_folder();
    let mut driver = Driver::new(session, options, &knowledge, plan, folder);
    let Some(first) = driver.session.next((options.clock)(), options.held)? else {
        let tally = driver.session.tally()?;
        return Ok(Sitting { done: 0, tally });
    };
    let ended = driver.sit(first);
    // Even after a fault: what is claimed and not keyed goes back.
    let released = driver.session.end();
    let done = ended?;
    released?;
    let tally = driver.session.tally()?;
    Ok(Sitting { done, tally })
}

struct Driver<'a, S: Store> {
    session: Session<'a, S>,
    options: &'a Options,
    knowledge: &'a dyn Knowledge,
    plan: Plan,
    folder: PathBuf,
    tally: Tally,
    strips: HashMap<SheetId, Option<GrayImage>>,
    memo: Memo,
    /// Pictures in the order in which they came.
    order: Vec<SheetId>,
    asked: HashSet<SheetId>,
    begun: Instant,
}

impl<'a, S: Store> Driver<'a, S> {
    fn new(
        session: Session<'a, S>,
        options: &'a Options,
        knowledge: &'a dyn Knowledge,
        plan: Plan,
        folder: PathBuf,
    ) -> Self {
        Self {
            session,
            options,
            knowledge,
            plan,
            folder,
            tally: Tally::default(),
            strips: HashMap::new(),
            memo: Memo::default(),
            order: Vec::new(),
            asked: HashSet::new(),
            begun: Instant::now(),
        }
    }

    /// Milliseconds since the sitting began.
    fn now(&self) -> i64 {
        self.begun.elapsed().as_millis() as i64
    }

    fn sit(&mut self, first: DeskSheet) -> Result<usize, DeskError> {
        let guard = Guard::take()?;
        let shape = self.options.shape.unwrap_or_else(probed_shape);
        let mut screen = Terminal::new(CrosstermBackend::new(stdout()))?;
        let (send, events) = mpsc::channel();
        listen(send.clone())?;
        let pictures = supply::start(self.options.program.clone(), move |picture| {
            let _ = send.send(Event::Picture(picture));
        });
        self.tally = self.session.tally()?;
        let mut desk = Clerk::new(self.plan.clone(), first, self.knowledge);
        loop {
            self.want_pictures(&desk, &pictures)?;
            self.draw(&mut screen, &mut desk, shape)?;
            if self.wait(&mut desk, &events, &guard, &mut screen)? {
                return Ok(desk.done().len());
            }
        }
    }

    /// Asks for the pictures of the sheet in hand and those that come next.
    fn want_pictures(&mut self, desk: &Clerk, pictures: &Sender<Wanted>) -> Result<(), DeskError> {
        let in_hand = desk.sheet().sheet.clone();
        let coming = self.session.coming(AHEAD);
        for sheet in [in_hand].into_iter().chain(coming) {
            if self.strips.contains_key(&sheet) || !self.asked.insert(sheet.clone()) {
                continue;
            }
            let lay = self.session.store.reading(&sheet)?.and_then(|r| r.lay);
            let wanted = Wanted {
                path: self.folder.join(sheet.as_str()),
                lay: lay.map(|lay| (lay.turned, lay.mirrored)),
                sheet,
            };
            // The supply lives as long as this sitting.
            let _ = pictures.send(wanted);
        }
        Ok(())
    }

    fn draw(
        &self,
        screen: &mut Terminal<CrosstermBackend<Stdout>>,
        desk: &mut Clerk,
        shape: Shape,
    ) -> Result<(), DeskError> {
        let sheet = &desk.sheet().sheet;
        let strip = self.strips.get(sheet);
        let scene = Scene {
            desk,
            strip: strip.and_then(Option::as_ref),
            memo: &self.memo,
            strip_is_coming: strip.is_none(),
            shape,
            theme: self.options.theme,
            tally: self.tally,
            person: &self.options.person,
        };
        screen.draw(|frame| draw(frame, &scene))?;
        // Without its picture a sheet has not been seen yet.
        if strip.is_some() {
            desk.drawn(self.now());
        }
        Ok(())
    }

    /// Waits for something to happen and does it, and all that came meanwhile; `true` when the sitting is over.
    fn wait(
        &mut self,
        desk: &mut Clerk,
        events: &Receiver<Event>,
        guard: &Guard,
        screen: &mut Terminal<CrosstermBackend<Stdout>>,
    ) -> Result<bool, DeskError> {
        let Ok(first) = events.recv() else {
            return Ok(true);
        };
        let mut event = Some(first);
        while let Some(happened) = event {
            let effect = match happened {
                Event::Ended => return Ok(true),
                Event::Continued => {
                    guard.take_again()?;
                    repaint(screen)?;
                    None
                }
                Event::Picture(picture) => {
                    self.keep(picture);
                    None
                }
                Event::Input(Input::Resized) => {
                    screen.autoresize()?;
                    None
                }
                Event::Input(Input::Paste(text)) => {
                    desk.paste(&text, self.knowledge);
                    None
                }
                Event::Input(Input::Key(key)) => desk.press(key, self.now(), self.knowledge),
            };
            if let Some(effect) = effect {
                match effect {
                    Effect::Suspend => {
                        guard.suspend()?;
                        repaint(screen)?;
                    }
                    Effect::Repaint => repaint(screen)?,
                    effect => {
                        if self.carry_out(desk, effect)? {
                            return Ok(true);
                        }
                        // The next sheet is drawn before a key can mean it.
                        return Ok(false);
                    }
                }
            }
            event = events.try_recv().ok();
        }
        Ok(false)
    }

    fn keep(&mut self, picture: Supplied) {
        self.asked.remove(&picture.sheet);
        self.order.push(picture.sheet.clone());
        self.strips.insert(picture.sheet, picture.strip);
        if self.order.len() > KEPT {
            let oldest = self.order.remove(0);
            if !self.order.contains(&oldest) {
                self.strips.remove(&oldest);
            }
        }
    }

    /// Does what the desk asks for; `true` when the sitting is over.
    fn carry_out(&mut self, desk: &mut Clerk, effect: Effect) -> Result<bool, DeskError> {
        let now = (self.options.clock)();
        let next = match effect {
            Effect::Append(act) => match self.session.append(desk.sheet(), act.clone(), now) {
                Ok(number) => {
                    desk.written(number, &act);
                    match act {
                        Act::Noted { .. } => return Ok(false),
                        _ => self.session.next(now, self.options.held)?,
                    }
                }
                Err(fault) => {
                    desk.refused(fault.to_string());
                    return Ok(false);
                }
            },
            Effect::Undo(done) => match self.session.undo(&done, now) {
                Ok(sheet) => {
                    desk.undone();
                    Some(sheet)
                }
                Err(fault) => {
                    desk.refused(fault.to_string());
                    return Ok(false);
                }
            },
            Effect::NextSheet => match self.session.next(now, self.options.held)? {
                Some(next) => Some(next),
                None => {
                    desk.say("No other sheet waits for you.");
                    return Ok(false);
                }
            },
            Effect::PreviousSheet => match self.session.before() {
                Some(before) => return self.go_to(desk, &before, now),
                None => {
                    desk.say("This is the first sheet of the drawer.");
                    return Ok(false);
                }
            },
            Effect::Jump(text) => match self.session.meant(&text) {
                Some(sheet) => return self.go_to(desk, &sheet, now),
                None => {
                    desk.say(format!("No sheet has this number or name: {text}"));
                    return Ok(false);
                }
            },
            Effect::Leave => return Ok(true),
            Effect::Suspend | Effect::Repaint => return Ok(false),
        };
        self.tally = self.session.tally()?;
        match next {
            Some(sheet) => desk.open(sheet, self.knowledge),
            None => return Ok(true),
        }
        Ok(false)
    }

    fn go_to(&mut self, desk: &mut Clerk, sheet: &SheetId, now: i64) -> Result<bool, DeskError> {
        match self.session.claim(sheet, now)? {
            Some(mut opened) => {
                self.tally = self.session.tally()?;
                opened.again = self.session.keying(sheet, &opened.state)?;
                desk.open(opened, self.knowledge);
            }
            None => desk.say(format!("{sheet} is in somebody else's hands.")),
        }
        Ok(false)
    }
}

/// Has everything drawn anew. `Terminal::clear` would ask the terminal for its cursor, and the thread that waits for keys
/// would take the answer.
fn repaint(screen: &mut Terminal<CrosstermBackend<Stdout>>) -> io::Result<()> {
    let whole = screen.size()?;
    screen.resize(whole.into())
}

/// Starts the threads that wait for keys and for the end.
fn listen(send: Sender<Event>) -> io::Result<()> {
    let mut signals = Signals::new([SIGTERM, SIGHUP, SIGINT, SIGCONT])?;
    let keys = send.clone();
    thread::spawn(move || {
        loop {
            let event = match next_input() {
                Ok(input) => Event::Input(input),
                Err(_) => Event::Ended,
            };
            let is_over = matches!(event, Event::Ended);
            if keys.send(event).is_err() || is_over {
                return;
            }
        }
    });
    thread::spawn(move || {
        for signal in signals.forever() {
            let event = match signal {
                SIGCONT => Event::Continued,
                _ => {
                    // A lost terminal may never take what is drawn next.
                    give_back();
                    Event::Ended
                }
            };
            if send.send(event).is_err() {
                return;
            }
        }
    });
    Ok(())
}
