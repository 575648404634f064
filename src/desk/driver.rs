//! Drives the clerk's desk: the terminal's keys in, the journal's entries and the screen out.
//!
//! One thread waits for keys, others make pictures and ask the roster, and this one alone owns the state, writes entries
//! and draws, once for all that came meanwhile. A sheet is on disk before the next one is shown.

use super::clerk::{Clerk, DeskSheet, Effect, LikelyRows, Plan, Question};
use super::knowledge::JobKnowledge;
use super::rereading::{self, Reread};
use super::screen::Pictures;
use super::session::{Session, plan};
use super::supply::Supplied;
use super::terminal::{Guard, Input, Outside, PictureWish, listen, repaint};
use super::view::{Scene, Theme, draw};
use crate::job::{Job, JobError, Proposer};
use crate::journal::{Act, Holder, JournalError, Store, Tally};
use crate::value::SheetId;
use ratatui::Terminal;
use ratatui::backend::CrosstermBackend;
use std::io::{self, Stdout, stdout};
use std::path::PathBuf;
use std::sync::mpsc::{self, Receiver, Sender};
use std::thread;
use std::time::Instant;

/// Sheets of one's own that undo goes back to from the beginning.
const RECALLED: usize = 20;

/// How the desk is opened.
#[derive(Debug, Clone)]
pub struct Options {
    pub person: String,
    pub pass: u8,
    /// The proof's sample alone, blind.
    pub proof: bool,
    /// Sheets that were put off, instead of those that wait.
    pub held: bool,
    /// This sheet first, whatever its state: its place in the drawer, or a part of its name.
    pub sheet: Option<String>,
    pub pictures: PictureWish,
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
    #[error("{0}")]
    Job(#[from] JobError),
    #[error("the terminal cannot be used ({0}); run this in a terminal, not through a pipe")]
    Terminal(#[from] io::Error),
}

enum Event {
    Outside(Outside),
    Picture(Supplied),
    Rows(Question, LikelyRows),
    Reread(Reread),
}

/// Lets a person key until there is nothing left or he or she stops.
pub fn key_sheets(job: &mut Job, options: &Options) -> Result<Sitting, DeskError> {
    let knowledge = JobKnowledge::new(&job.proposer);
    let plan = plan(&job.settings, &job.proposer, options.pass);
    let holder = Holder::here(&options.person);
    let mut session = Session::new(&mut job.store, &job.settings, holder, options.pass)?;
    if options.proof {
        session = session.of_proof();
    }
    let mut driver = Driver {
        session,
        options,
        proposer: &job.proposer,
        knowledge,
        plan,
        folder: job.settings.sheets_folder(),
        tally: Tally::default(),
        is_behind: true,
        begun: Instant::now(),
    };
    let now = (options.clock)();
    let first = match &options.sheet {
        Some(text) => Some(driver.session.open_at(text, now)?),
        None => driver.session.next(now, options.held)?,
    };
    let Some(first) = first else {
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
    proposer: &'a Proposer,
    knowledge: JobKnowledge<'a>,
    plan: Plan,
    folder: PathBuf,
    tally: Tally,
    /// A sheet came, and what can wait was not done yet.
    is_behind: bool,
    begun: Instant,
}

/// What the driver's loop holds beside its state.
struct Room<'a> {
    screen: Terminal<CrosstermBackend<Stdout>>,
    guard: Guard,
    events: Receiver<Event>,
    send: Sender<Event>,
    pictures: Pictures,
    ask_roster: Sender<Question>,
    asked: Option<Question>,
    theme: Theme,
    person: &'a str,
}

impl<S: Store> Driver<'_, S> {
    /// Milliseconds since the sitting began.
    fn now(&self) -> i64 {
        self.begun.elapsed().as_millis() as i64
    }

    fn sit(&mut self, first: DeskSheet) -> Result<usize, DeskError> {
        let guard = Guard::take()?;
        let shape = self.options.pictures.shape();
        let screen = Terminal::new(CrosstermBackend::new(stdout()))?;
        let (send, events) = mpsc::channel();
        let heard = send.clone();
        listen(move |outside| heard.send(Event::Outside(outside)).is_ok())?;
        let ready = send.clone();
        let pictures = Pictures::start(
            self.options.program.clone(),
            self.folder.clone(),
            shape,
            move |picture| {
                let _ = ready.send(Event::Picture(picture));
            },
        );
        let recalled = self.session.recall(RECALLED)?;
        let before = recalled.len();
        let knowledge = self.knowledge;
        let mut desk = Clerk::new(self.plan.clone(), first, &knowledge);
        desk.recall(recalled);
        thread::scope(|scope| {
            let (ask_roster, questions) = mpsc::channel();
            let answers = send.clone();
            scope.spawn(move || answer_questions(&knowledge, &questions, &answers));
            let mut room = Room {
                screen,
                guard,
                events,
                send,
                pictures,
                ask_roster,
                asked: None,
                theme: self.options.theme,
                person: &self.options.person,
            };
            loop {
                self.prepare(&desk, &mut room)?;
                self.draw(&mut room, &mut desk)?;
                if self.catch_up()? {
                    self.prepare(&desk, &mut room)?;
                    self.draw(&mut room, &mut desk)?;
                }
                if self.wait(&mut desk, &mut room)? {
                    return Ok(desk.done().len().saturating_sub(before));
                }
            }
        })
    }

    /// What can wait until a sheet is drawn: counting, and claiming the sheets behind. `true` where it was due.
    fn catch_up(&mut self) -> Result<bool, DeskError> {
        if !std::mem::take(&mut self.is_behind) {
            return Ok(false);
        }
        self.tally = self.session.tally()?;
        let now = (self.options.clock)();
        self.session.refill(now, self.options.held)?;
        Ok(true)
    }

    /// Has everything made that the sheet in hand and those behind it will need.
    fn prepare(&mut self, desk: &Clerk, room: &mut Room) -> Result<(), DeskError> {
        let size = room.screen.size()?;
        let screen = (size.width, size.height);
        room.pictures
            .prepare(&self.session, &self.plan, desk, screen, room.theme)?;
        let question = desk.question();
        if question != room.asked
            && let Some(question) = &question
        {
            // The roster's thread lives as long as this sitting.
            let _ = room.ask_roster.send(question.clone());
        }
        room.asked = question;
        Ok(())
    }

    fn draw(&self, room: &mut Room, desk: &mut Clerk) -> Result<(), DeskError> {
        let (sheet, whole) = (desk.sheet().sheet.clone(), desk.wishes().whole);
        let picture = room.pictures.of(&sheet, whole);
        let is_seen = room.pictures.is_settled(&sheet, whole);
        let scene = Scene {
            desk,
            picture,
            memo: room.pictures.memo(),
            shape: room.pictures.shape(),
            theme: room.theme,
            tally: self.tally,
            person: room.person,
        };
        room.screen.draw(|frame| draw(frame, &scene))?;
        // Without its picture a sheet has not been seen yet.
        if is_seen {
            desk.drawn(self.now());
        }
        Ok(())
    }

    /// Waits for something to happen and does it, and all that came meanwhile; `true` when the sitting is over.
    fn wait(&mut self, desk: &mut Clerk, room: &mut Room) -> Result<bool, DeskError> {
        let Ok(first) = room.events.recv() else {
            return Ok(true);
        };
        let mut event = Some(first);
        while let Some(happened) = event {
            let effect = match happened {
                Event::Outside(Outside::Ended) => return Ok(true),
                Event::Outside(Outside::Continued) => {
                    room.guard.take_again()?;
                    repaint(&mut room.screen)?;
                    None
                }
                Event::Picture(picture) => {
                    room.pictures.keep(picture);
                    None
                }
                Event::Rows(question, rows) => {
                    desk.answer(&question, rows);
                    None
                }
                Event::Reread(reread) => {
                    self.take_reading(desk, room, reread)?;
                    None
                }
                Event::Outside(Outside::Input(Input::Resized)) => {
                    room.screen.autoresize()?;
                    None
                }
                Event::Outside(Outside::Input(Input::Paste(text))) => {
                    desk.paste(&text, &self.knowledge);
                    None
                }
                Event::Outside(Outside::Input(Input::Key(key))) => {
                    desk.press(key, self.now(), &self.knowledge)
                }
            };
            match effect {
                None => {}
                Some(Effect::Suspend) => {
                    room.guard.suspend()?;
                    repaint(&mut room.screen)?;
                }
                Some(Effect::Repaint) => repaint(&mut room.screen)?,
                Some(Effect::ReadAgain(reversal)) => {
                    let sheet = desk.sheet().sheet.clone();
                    let lay = self.session.store.reading(&sheet)?.and_then(|r| r.lay);
                    let path = self.folder.join(sheet.as_str());
                    let done = room.send.clone();
                    if let Some(lay) = lay {
                        let program = self.options.program.clone();
                        rereading::start(
                            program,
                            sheet,
                            path,
                            (&lay).into(),
                            reversal,
                            move |read| {
                                let _ = done.send(Event::Reread(read));
                            },
                        );
                    }
                }
                // The next sheet is drawn before a key can mean it.
                Some(effect) => return self.carry_out(desk, effect),
            }
            event = room.events.try_recv().ok();
        }
        Ok(false)
    }

    /// A sheet was read again.
    fn take_reading(
        &mut self,
        desk: &mut Clerk,
        room: &mut Room,
        reread: Reread,
    ) -> Result<(), DeskError> {
        let (sheet, read) = match reread {
            Ok(read) => read,
            Err(words) => {
                desk.say(words);
                return Ok(());
            }
        };
        let now = (self.options.clock)();
        let (reading, reader) = read;
        self.session
            .keep_reading(self.proposer, &sheet, reading, &reader, now)?;
        room.pictures.forget(&sheet);
        if desk.sheet().sheet == sheet {
            let opened = self.session.look_up(&sheet)?;
            desk.read_anew(opened, &self.knowledge);
        }
        Ok(())
    }

    /// Does what the desk asks for; `true` when the sitting is over.
    fn carry_out(&mut self, desk: &mut Clerk, effect: Effect) -> Result<bool, DeskError> {
        let now = (self.options.clock)();
        let undone = match &effect {
            Effect::Undo(done) => Some(done.sheet.clone()),
            _ => None,
        };
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
            Effect::Suspend | Effect::Repaint | Effect::ReadAgain(_) => return Ok(false),
        };
        self.is_behind = true;
        match next {
            Some(sheet) => desk.open(sheet, &self.knowledge),
            None => return Ok(true),
        }
        if let Some(undone) = undone {
            desk.say(format!(
                "{undone} is taken back; accept it again when it is right."
            ));
        }
        Ok(false)
    }

    fn go_to(&mut self, desk: &mut Clerk, sheet: &SheetId, now: i64) -> Result<bool, DeskError> {
        match self.session.claim_again(sheet, now)? {
            Some(opened) => {
                self.is_behind = true;
                desk.open(opened, &self.knowledge);
            }
            None => desk.say(format!("{sheet} is in somebody else's hands.")),
        }
        Ok(false)
    }
}

/// Asks the roster whose the values are; of questions that piled up only the last still matters.
fn answer_questions(
    knowledge: &JobKnowledge,
    questions: &Receiver<Question>,
    answers: &Sender<Event>,
) {
    knowledge.warm_up();
    while let Ok(first) = questions.recv() {
        let question = questions.try_iter().last().unwrap_or(first);
        let rows = question.ask(knowledge);
        if answers.send(Event::Rows(question, rows)).is_err() {
            return;
        }
    }
}
