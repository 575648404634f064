//! Drives the supervisor's desk: keys and figures in, the draft, publications and the screen out.

mod look;

use super::engine::{self, Ask, Engine};
use super::links::{self, Links};
use super::marking::Marking;
use super::pane::{Effect, Inspected};
use super::supervisor::Supervisor;
use super::view::{Scene, draw};
use crate::desk::driver::DeskError;
use crate::desk::screen::Pictures;
use crate::desk::supply::Supplied;
use crate::desk::terminal::{Guard, Input, Outside, PictureWish, listen, repaint};
use crate::desk::view::Theme;
use crate::job::{Draft, Job};
use crate::journal::Publication;
use crate::rules::example::Example;
use crate::rules::{Group, RuleBook};
use crate::value::SheetId;
use look::Seen;
use ratatui::Terminal;
use ratatui::backend::CrosstermBackend;
use std::collections::{HashMap, HashSet};
use std::io::{Stdout, stdout};
use std::path::PathBuf;
use std::sync::Arc;
use std::sync::mpsc::{self, Receiver, RecvTimeoutError};
use std::time::{Duration, Instant};

/// How long nobody types before the draft goes to disk.
const KEPT_AFTER: Duration = Duration::from_millis(400);
/// How the desk is opened.
#[derive(Debug, Clone)]
pub struct Options {
    pub person: String,
    pub pictures: PictureWish,
    pub theme: Theme,
    /// This program, which makes the pictures.
    pub program: PathBuf,
    /// Milliseconds since 1970-01-01 UTC.
    pub clock: fn() -> i64,
}

/// What came of a sitting.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Sitting {
    /// Versions published.
    pub published: Vec<u32>,
    /// A draft is kept that is not in use.
    pub draft: bool,
    /// Why the draft could not be kept, where it could not.
    pub lost: Option<String>,
    /// Proposals that are still to be made anew, of so many.
    pub unrenewed: Option<(usize, usize)>,
}

enum Event {
    Outside(Outside),
    Picture(Supplied),
    Engine(engine::Told),
    Links(links::Told),
}

/// Lets a person work on the rules of a job until he or she stops.
pub fn supervise(job: &mut Job, options: &Options) -> Result<Sitting, DeskError> {
    let _seat = job.take_seat(&options.person)?;
    job.take_rules_in_use()?;
    let draft = job.draft()?;
    let drawer = job.drawer_read()?;
    let guard = Guard::take()?;
    let shape = options.pictures.shape();
    let screen = Terminal::new(CrosstermBackend::new(stdout()))?;
    let (send, events) = mpsc::channel();
    let heard = send.clone();
    listen(move |outside| heard.send(Event::Outside(outside)).is_ok())?;
    let worked = send.clone();
    let engine = Engine::start(job.alongside()?, drawer.clone(), move |told| {
        worked.send(Event::Engine(told)).is_ok()
    });
    let followed = send.clone();
    let links = Links::start(job.alongside()?, drawer.clone(), move |told| {
        followed.send(Event::Links(told)).is_ok()
    });
    let folder = job.settings.sheets_folder();
    let pictures = Pictures::start(options.program.clone(), folder, shape, move |picture| {
        let _ = send.send(Event::Picture(picture));
    });
    let mut driver = Driver {
        rules: job.proposer.shared_rules(),
        draft_rules: None,
        job,
        options,
        drawer,
        engine,
        links,
        pictures,
        readings: HashMap::new(),
        unkept_since: None,
        keep_after: None,
        is_leaving: false,
        is_stale: false,
        sitting: Sitting::default(),
    };
    let by = draft.by.clone();
    let mut desk = Supervisor::new(draft);
    if desk.draft().is_changed() {
        desk.say(left_by(&by, &options.person));
    }
    driver.edited(&desk);
    driver.unkept_since = None;
    let ended = driver.sit(&mut desk, screen, &events, &guard);
    // Even after a fault: what was written is kept.
    let kept = driver.keep(&desk);
    drop(guard);
    ended?;
    let mut sitting = driver.sitting;
    let is_changed = desk.draft().is_changed();
    sitting.draft = is_changed && kept.is_ok();
    sitting.lost = kept.err().filter(|_| is_changed);
    sitting.unrenewed = desk.background.renewed.filter(|(done, of)| done < of);
    Ok(sitting)
}

struct Driver<'a> {
    job: &'a mut Job,
    options: &'a Options,
    /// Sheets that were read, in drawer order: the engine's places.
    drawer: Vec<SheetId>,
    engine: Engine,
    links: Links,
    pictures: Pictures,
    /// The rules that the figures are of, and those of the newest text where it has no fault.
    rules: Arc<RuleBook>,
    draft_rules: Option<(u64, Arc<RuleBook>)>,
    readings: HashMap<usize, Seen>,
    /// When the draft began to be another one than that on disk.
    unkept_since: Option<Instant>,
    /// The edit whose rules are in use already: what further edits are compared with, once it is worked out.
    keep_after: Option<u64>,
    /// Leaving was refused once, because the draft could not be kept.
    is_leaving: bool,
    /// What is known of the sheet in hand is of earlier rules.
    is_stale: bool,
    sitting: Sitting,
}

type Screen = Terminal<CrosstermBackend<Stdout>>;

impl Driver<'_> {
    fn sit(
        &mut self,
        desk: &mut Supervisor,
        mut screen: Screen,
        events: &Receiver<Event>,
        guard: &Guard,
    ) -> Result<(), DeskError> {
        loop {
            self.prepare(desk)?;
            self.draw(&mut screen, desk)?;
            let left = self
                .unkept_since
                .map(|since| KEPT_AFTER.saturating_sub(since.elapsed()));
            let next = match left {
                None => events.recv().map_err(|_| RecvTimeoutError::Disconnected),
                Some(left) => events.recv_timeout(left),
            };
            let mut event = match next {
                Ok(event) => Some(event),
                Err(RecvTimeoutError::Timeout) => None,
                Err(RecvTimeoutError::Disconnected) => return Ok(()),
            };
            while let Some(happened) = event {
                if self.take(happened, desk, &mut screen, guard)? {
                    return Ok(());
                }
                event = events.try_recv().ok();
            }
            if self
                .unkept_since
                .is_some_and(|since| since.elapsed() >= KEPT_AFTER)
                && let Err(fault) = self.keep(desk)
            {
                desk.say(fault);
            }
        }
    }

    /// Does what an event asks for; `true` when the sitting is over.
    fn take(
        &mut self,
        event: Event,
        desk: &mut Supervisor,
        screen: &mut Screen,
        guard: &Guard,
    ) -> Result<bool, DeskError> {
        let effect = match event {
            Event::Outside(Outside::Ended) => return Ok(true),
            Event::Outside(Outside::Continued) => {
                guard.take_again()?;
                repaint(screen)?;
                None
            }
            Event::Outside(Outside::Input(Input::Resized)) => {
                screen.autoresize()?;
                None
            }
            Event::Outside(Outside::Input(Input::Paste(text))) => desk.paste(&text),
            Event::Outside(Outside::Input(Input::Key(key))) => desk.press(key),
            Event::Picture(picture) => {
                self.pictures.keep(picture);
                None
            }
            Event::Engine(told) => {
                if matches!(told, engine::Told::Failed(_)) {
                    // A thread that ended by a fault of ours gave the terminal back.
                    guard.take_again()?;
                    repaint(screen)?;
                }
                self.take_figures(told, desk);
                None
            }
            Event::Links(told) => {
                if matches!(told, links::Told::Failed(_)) {
                    guard.take_again()?;
                    repaint(screen)?;
                }
                take_links(told, desk);
                None
            }
        };
        match effect {
            None => {}
            Some(Effect::Edited) => self.edited(desk),
            Some(Effect::Publish) => self.publish(desk),
            Some(Effect::GiveUp) => match self.job.rules_in_use() {
                Ok(in_use) => {
                    desk.given_up(in_use);
                    self.keep_after = Some(desk.edit());
                    self.edited(desk);
                }
                Err(fault) => desk.say(fault.to_string()),
            },
            Some(Effect::BeginExample) => self.begin_example(desk),
            Some(Effect::Try) => {
                if let Some(marking) = desk.marking() {
                    self.engine.ask(Ask::Try {
                        example: marking.example.clone(),
                        draft: desk.draft(),
                        file: desk.file_in_hand(),
                        edit: desk.edit(),
                    });
                }
            }
            Some(Effect::Suggest) => self.engine.ask(Ask::Suggest {
                draft: desk.draft(),
                file: desk.file_in_hand(),
                edit: desk.edit(),
            }),
            Some(Effect::Suspend) => {
                if let Err(fault) = self.keep(desk) {
                    desk.say(fault);
                }
                guard.suspend()?;
                repaint(screen)?;
            }
            Some(Effect::Repaint) => repaint(screen)?,
            Some(Effect::Leave) => match self.keep(desk) {
                Err(fault) if !self.is_leaving => {
                    self.is_leaving = true;
                    desk.say(format!("{fault}; Alt+Q once more leaves without the draft"));
                }
                _ => return Ok(true),
            },
        }
        Ok(false)
    }

    fn edited(&mut self, desk: &Supervisor) {
        self.unkept_since.get_or_insert_with(Instant::now);
        self.is_leaving = false;
        self.links.drop_before(desk.edit());
        self.engine.judge(desk.edit(), desk.draft());
    }

    fn take_figures(&mut self, told: engine::Told, desk: &mut Supervisor) {
        match told {
            engine::Told::Faulty { edit, faults } if edit == desk.edit() => desk.faulty(faults),
            engine::Told::Faulty { .. } => {}
            engine::Told::Rules { edit, rules } => {
                if edit == desk.edit() {
                    desk.faultless();
                }
                self.draft_rules = Some((edit, rules));
            }
            engine::Told::Judged { edit, figures } => {
                let known = self.draft_rules.take_if(|(known, _)| *known == edit);
                if let Some((_, rules)) = known {
                    self.rules = rules;
                    desk.background.linked = None;
                }
                let is_complete = figures.is_complete();
                desk.judged(edit, figures.clone());
                if is_complete && edit == desk.edit() && self.job.proposer.roster().is_some() {
                    let changed = figures.tray(super::Tray::Of(Group::Changed)).to_vec();
                    self.links.follow(edit, self.rules.clone(), changed);
                }
                if is_complete && self.keep_after.take_if(|kept| *kept == edit).is_some() {
                    self.engine.ask(Ask::Keep);
                }
                self.is_stale = true;
            }
            engine::Told::Looked(looked) => desk.looked(looked),
            engine::Told::Offered {
                candidates,
                file,
                edit,
                of_marks,
            } => match candidates {
                Ok(candidates) => desk.offer(candidates, of_marks, (file, edit)),
                Err(fault) => desk.say(fault),
            },
            engine::Told::Failed(words) => desk.say(words),
        }
    }

    fn begin_example(&mut self, desk: &mut Supervisor) {
        let Some(at) = desk.in_hand() else {
            return;
        };
        // The key may have come before anything was drawn.
        if let Err(fault) = self.read(at) {
            return desk.say(fault.to_string());
        }
        let Some(seen) = self.readings.get(&at) else {
            return desk.say("Nothing was read on this sheet that could be marked.");
        };
        let fields = self.rules.fields().iter();
        let known = fields.map(|field| field.name.clone()).collect();
        let styles = self.job.settings.styles.clone();
        desk.begin_example(Marking::new(at, Example::new(&seen.reading), known, styles));
    }

    /// Keeps the draft on disk where it is not there yet.
    ///
    /// # Errors
    /// It cannot be kept, in words.
    fn keep(&mut self, desk: &Supervisor) -> Result<(), String> {
        if self.unkept_since.is_none() {
            return Ok(());
        }
        let draft = Draft {
            by: self.options.person.clone(),
            ..desk.draft()
        };
        let kept = self.job.keep_draft(&draft);
        // Tried again after a while, whether it could be kept or not.
        self.unkept_since = kept.is_err().then(Instant::now);
        kept.map_err(|fault| fault.to_string())
    }

    fn publish(&mut self, desk: &mut Supervisor) {
        let Some(figures) = desk.figures().filter(|_| desk.is_judged()) else {
            return desk.say("What the draft does is still being worked out; a moment, please.");
        };
        let unlike = figures.tray(super::Tray::Of(Group::DisagreeingWithKeyed));
        let newly = figures.newly_unlike_keyed.iter();
        let mut disagreeing: Vec<SheetId> =
            newly.map(|at| self.drawer[*at as usize].clone()).collect();
        match self.job.keyed_unlike_rules() {
            Ok(known) => {
                let unlike = unlike.iter().map(|at| &self.drawer[*at as usize]);
                let unlike: HashSet<&SheetId> = unlike.collect();
                let known = known.map_or(Vec::new(), |(_, sheets)| sheets);
                let known = known.into_iter().filter(|sheet| unlike.contains(sheet));
                disagreeing.extend(known.collect::<Vec<_>>());
            }
            Err(fault) => return desk.say(fault.to_string()),
        }
        disagreeing.sort();
        disagreeing.dedup();
        let publication = Publication {
            effect: figures.in_words(),
            disagreeing,
            ..Publication::default()
        };
        let flagged = publication.disagreeing.len();
        let now = (self.options.clock)();
        let person = &self.options.person;
        match self.job.publish(&desk.draft(), person, now, publication) {
            Ok(version) => {
                desk.published();
                desk.background.renewed = Some((0, self.drawer.len()));
                self.unkept_since = None;
                self.sitting.published.push(version);
                self.engine.ask(Ask::Keep);
                self.links.renew(self.job.proposer.shared_rules());
                let flagged = match flagged {
                    0 => String::new(),
                    sheets => format!(
                        "; on {sheets} keyed sheets it disagrees with what was keyed: they stay as they are, and \
                         `headword check` lists them"
                    ),
                };
                desk.say(format!(
                    "Version {version} of the rules is in use{flagged}."
                ));
            }
            Err(fault) => desk.say(fault.to_string()),
        }
    }

    fn draw(&self, screen: &mut Screen, desk: &Supervisor) -> Result<(), DeskError> {
        let in_hand = desk.in_hand().map(|at| &self.drawer[at]);
        let reading = desk.in_hand().and_then(|at| self.readings.get(&at));
        let has_strip = reading.is_some_and(|seen| seen.lay.is_some());
        let whole = desk.wishes().whole || !has_strip;
        let picture = in_hand.map(|sheet| self.pictures.of(sheet, whole));
        let text_of = |at: usize| {
            let text = self.readings.get(&at).map(|seen| seen.text.as_str());
            (self.drawer[at].as_str(), text.unwrap_or_default())
        };
        let scene = Scene {
            desk,
            title: &self.job.settings.title,
            person: &self.options.person,
            picture,
            reading: reading.map(|seen| &seen.reading),
            sheet: in_hand,
            text_of: &text_of,
            shape: self.pictures.shape(),
            memo: self.pictures.memo(),
            theme: self.options.theme,
            whole,
        };
        screen.draw(|frame| draw(frame, &scene))?;
        Ok(())
    }
}

/// Whose draft is opened.
fn left_by(by: &str, person: &str) -> String {
    match by {
        "" => "Here is the draft as it was left; it is not in use.".to_owned(),
        by if by == person => "Here is your draft as you left it; it is not in use.".to_owned(),
        by => format!("Here is {by}'s draft as it was left; it is not in use. Alt+D gives it up."),
    }
}

fn take_links(told: links::Told, desk: &mut Supervisor) {
    match told {
        links::Told::Linked { edit, linked } if edit == desk.edit() => {
            desk.background.linked = Some(linked);
        }
        links::Told::Linked { .. } => {}
        links::Told::Renewed { done, of } => desk.background.renewed = Some((done, of)),
        links::Told::Failed(words) => desk.say(words),
    }
}
