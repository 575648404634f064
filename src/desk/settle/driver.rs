//! Drives the reviewer's desk: the terminal's keys in, settlements and the screen out.

use super::docket::Docket;
use super::reviewer::{Done, Effect, Reviewer};
use super::view::{Scene, draw};
use crate::desk::driver::DeskError;
use crate::desk::knowledge::JobKnowledge;
use crate::desk::screen::Pictures;
use crate::desk::supply::Supplied;
use crate::desk::terminal::{Guard, Input, Outside, PictureWish, listen, repaint};
use crate::desk::view::Theme;
use crate::job::Job;
use crate::journal::{Act, Holder, JournalError, Store};
use crate::review::Comparer;
use crate::value::SheetId;
use ratatui::Terminal;
use ratatui::backend::CrosstermBackend;
use std::io::{Stdout, stdout};
use std::path::PathBuf;
use std::sync::mpsc::{self, Receiver};
use std::time::Instant;

/// Sheets whose pictures are made ahead.
const AHEAD: usize = 3;

/// How the desk is opened.
#[derive(Debug, Clone)]
pub struct Options {
    pub person: String,
    /// Sheets that were put off, instead of those in dispute.
    pub held: bool,
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
    pub done: usize,
    /// In dispute and open to this person; in dispute and keyed by this person; settled.
    pub open: usize,
    pub own: usize,
    pub settled: usize,
    pub sheets: usize,
}

enum Event {
    Outside(Outside),
    Picture(Supplied),
}

/// Lets a person settle until nothing is left in dispute or he or she stops.
pub fn settle_sheets(job: &mut Job, options: &Options) -> Result<Sitting, DeskError> {
    let knowledge = JobKnowledge::new(&job.proposer);
    let comparer = Comparer::new(&job.settings.quality, job.proposer.rules().fields());
    let holder = Holder::here(&options.person);
    let settings = &job.settings;
    let docket = Docket::new(&mut job.store, settings, comparer, holder, options.held)?;
    let mut driver = Driver {
        docket,
        options,
        knowledge,
        folder: settings.sheets_folder(),
        begun: Instant::now(),
    };
    let ended = driver.sit();
    // Even after a fault: what is claimed and not settled goes back.
    let released = driver.docket.end();
    let done = ended?;
    released?;
    let [open, own, settled] = driver.docket.counts();
    Ok(Sitting {
        done,
        open,
        own,
        settled,
        sheets: driver.docket.sheets(),
    })
}

struct Driver<'a, S: Store> {
    docket: Docket<'a, S>,
    options: &'a Options,
    knowledge: JobKnowledge<'a>,
    folder: PathBuf,
    begun: Instant,
}

type Screen = Terminal<CrosstermBackend<Stdout>>;

impl<S: Store> Driver<'_, S> {
    /// Milliseconds since the sitting began.
    fn now(&self) -> i64 {
        self.begun.elapsed().as_millis() as i64
    }

    fn sit(&mut self) -> Result<usize, DeskError> {
        let Some(first) = self.docket.next((self.options.clock)())? else {
            return Ok(0);
        };
        let guard = Guard::take()?;
        let shape = self.options.pictures.shape();
        let mut screen = Terminal::new(CrosstermBackend::new(stdout()))?;
        let (send, events) = mpsc::channel();
        let heard = send.clone();
        listen(move |outside| heard.send(Event::Outside(outside)).is_ok())?;
        let (program, folder) = (self.options.program.clone(), self.folder.clone());
        let mut pictures = Pictures::start(program, folder, shape, move |picture| {
            let _ = send.send(Event::Picture(picture));
        });
        let mut desk = Reviewer::new(first);
        loop {
            self.prepare(&desk, &mut pictures)?;
            self.draw(&mut screen, &mut desk, &pictures)?;
            if self.wait(&mut desk, &events, &guard, &mut screen, &mut pictures)? {
                let done = desk.done().iter();
                return Ok(done.map(|done| done.entries.len()).sum());
            }
        }
    }

    fn prepare(&self, desk: &Reviewer, pictures: &mut Pictures) -> Result<(), DeskError> {
        let in_hand = desk.case().sheet.clone();
        if desk.wishes().whole {
            pictures.want(&in_hand, None);
        }
        let coming = self.docket.coming(AHEAD).into_iter();
        for sheet in [in_hand].into_iter().chain(coming) {
            if !pictures.is_ordered(&sheet, false) && !pictures.is_ordered(&sheet, true) {
                let lay = self.docket.store.reading(&sheet)?.and_then(|r| r.lay);
                pictures.want(&sheet, lay.as_ref().map(Into::into));
            }
        }
        Ok(())
    }

    fn draw(
        &self,
        screen: &mut Screen,
        desk: &mut Reviewer,
        pictures: &Pictures,
    ) -> Result<(), DeskError> {
        let (sheet, whole): (SheetId, bool) = (desk.case().sheet.clone(), desk.wishes().whole);
        let scene = Scene {
            desk,
            picture: pictures.of(&sheet, whole),
            shape: pictures.shape(),
            memo: pictures.memo(),
            theme: self.options.theme,
            knowledge: &self.knowledge,
            settled: self.docket.counts()[2],
            person: &self.options.person,
        };
        screen.draw(|frame| draw(frame, &scene))?;
        if pictures.is_settled(&sheet, whole) {
            desk.drawn(self.now());
        }
        Ok(())
    }

    /// Waits for something to happen and does it, and all that came meanwhile; `true` when the sitting is over.
    fn wait(
        &mut self,
        desk: &mut Reviewer,
        events: &Receiver<Event>,
        guard: &Guard,
        screen: &mut Screen,
        pictures: &mut Pictures,
    ) -> Result<bool, DeskError> {
        let Ok(first) = events.recv() else {
            return Ok(true);
        };
        let mut event = Some(first);
        while let Some(happened) = event {
            let effect = match happened {
                Event::Outside(Outside::Ended) => return Ok(true),
                Event::Outside(Outside::Continued) => {
                    guard.take_again()?;
                    repaint(screen)?;
                    None
                }
                Event::Picture(picture) => {
                    pictures.keep(picture);
                    None
                }
                Event::Outside(Outside::Input(Input::Resized)) => {
                    screen.autoresize()?;
                    None
                }
                Event::Outside(Outside::Input(Input::Paste(text))) => {
                    desk.paste(&text);
                    None
                }
                Event::Outside(Outside::Input(Input::Key(key))) => {
                    desk.press(key, self.now(), &self.knowledge)
                }
            };
            match effect {
                None => {}
                Some(Effect::Suspend) => {
                    guard.suspend()?;
                    repaint(screen)?;
                }
                Some(Effect::Repaint) => repaint(screen)?,
                // The next sheet is drawn before a key can mean it.
                Some(effect) => return self.carry_out(desk, effect),
            }
            event = events.try_recv().ok();
        }
        Ok(false)
    }

    /// Does what the desk asks for; `true` when the sitting is over.
    fn carry_out(&mut self, desk: &mut Reviewer, effect: Effect) -> Result<bool, DeskError> {
        let now = (self.options.clock)();
        let outcome = match effect {
            Effect::Settle(settlement) => {
                self.append(desk, Act::Settled(*settlement), "settled", now)
            }
            Effect::PutOff { reason, set_aside } => match set_aside {
                true => self.append(desk, Act::SetAside { reason }, "set aside", now),
                false => self.append(desk, Act::Held { reason }, "put off", now),
            },
            Effect::SettleGroup {
                group,
                form,
                sheets,
            } => {
                let knowledge = self.knowledge;
                let settled = self
                    .docket
                    .settle_group(&group, form, &sheets, &knowledge, now);
                settled.map(|(done, left)| {
                    let words = match left {
                        0 => format!("{}.", done.words),
                        left => format!(
                            "{}; {left} stay in dispute about something else.",
                            done.words
                        ),
                    };
                    desk.written(done);
                    desk.say(words);
                })
            }
            Effect::Undo(done) => match self.docket.undo(&done, now) {
                Ok(case) => {
                    desk.undone();
                    if let Some(case) = case {
                        desk.open(case);
                    }
                    desk.say("Undone.");
                    return Ok(false);
                }
                Err(fault) => Err(fault),
            },
            Effect::GatherHarmless => {
                let groups = self.docket.harmless()?;
                desk.open_bulk(groups);
                return Ok(false);
            }
            Effect::NextSheet => Ok(()),
            Effect::PreviousSheet => {
                match self.docket.before(now)? {
                    Some(case) => desk.open(case),
                    None => desk.say("No sheet in dispute comes before this one."),
                }
                return Ok(false);
            }
            Effect::Leave => return Ok(true),
            Effect::Suspend | Effect::Repaint => return Ok(false),
        };
        if let Err(fault) = outcome {
            desk.refused(fault.to_string());
            return Ok(false);
        }
        let message = desk.message().map(str::to_owned);
        match self.docket.next(now)? {
            Some(case) => desk.open(case),
            None => return Ok(true),
        }
        if let Some(message) = message {
            desk.say(message);
        }
        Ok(false)
    }

    fn append(
        &mut self,
        desk: &mut Reviewer,
        act: Act,
        words: &str,
        now: i64,
    ) -> Result<(), JournalError> {
        let (sheet, last) = (desk.case().sheet.clone(), desk.case().last);
        let number = self.docket.append(&sheet, act, last, now)?;
        desk.written(Done {
            words: format!("{sheet} {words}"),
            entries: vec![(sheet, number)],
        });
        Ok(())
    }
}
