//! Drives the supervisor's desk: keys and figures in, the draft, publications and the screen out.

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
use crate::job::Job;
use crate::journal::{Publication, Store};
use crate::reading::Reading;
use crate::rules::example::Example;
use crate::rules::{Explanation, Group, RuleBook};
use crate::value::SheetId;
use ratatui::Terminal;
use ratatui::backend::CrosstermBackend;
use std::collections::{HashMap, HashSet};
use std::io::{Stdout, stdout};
use std::path::PathBuf;
use std::sync::Arc;
use std::sync::mpsc::{self, Receiver, RecvTimeoutError};
use std::time::Duration;

/// How long nobody types before the draft goes to disk.
const KEPT_AFTER: Duration = Duration::from_millis(400);
/// Strips' texts that are remembered for the list.
const TEXTS: usize = 4_096;
/// Rules that a sheet is explained by: the one that fits, and those that come nearest.
const EXPLAINED: usize = 4;

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
    let draft = job.draft()?;
    let overview = job.store.overview()?;
    let read = overview
        .into_iter()
        .filter(|status| status.reading_key.is_some());
    let drawer: Vec<SheetId> = read.map(|status| status.record.sheet).collect();
    let guard = Guard::take()?;
    let shape = options.pictures.shape();
    let screen = Terminal::new(CrosstermBackend::new(stdout()))?;
    let (send, events) = mpsc::channel();
    let heard = send.clone();
    listen(move |outside| heard.send(Event::Outside(outside)).is_ok())?;
    let worked = send.clone();
    let engine = Engine::start(job.alongside()?, move |told| {
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
        is_kept: true,
        sitting: Sitting::default(),
    };
    let mut desk = Supervisor::new(draft);
    if desk.draft().is_changed() {
        desk.say("Here is the draft as it was left; it is not in use.");
    }
    driver.edited(&desk);
    driver.sit(desk, screen, &events, &guard)
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
    /// The draft on disk is the one on the screen.
    is_kept: bool,
    sitting: Sitting,
}

/// What the desk shows of a sheet without opening its image.
struct Seen {
    reading: Reading,
    lay: Option<crate::strip::Lay>,
    text: String,
}

type Screen = Terminal<CrosstermBackend<Stdout>>;

impl Driver<'_> {
    fn sit(
        mut self,
        mut desk: Supervisor,
        mut screen: Screen,
        events: &Receiver<Event>,
        guard: &Guard,
    ) -> Result<Sitting, DeskError> {
        loop {
            self.prepare(&mut desk)?;
            self.draw(&mut screen, &desk)?;
            let next = match self.is_kept {
                true => events.recv().map_err(|_| RecvTimeoutError::Disconnected),
                false => events.recv_timeout(KEPT_AFTER),
            };
            let mut event = match next {
                Ok(event) => Some(event),
                Err(RecvTimeoutError::Timeout) => {
                    self.keep(&mut desk);
                    continue;
                }
                Err(RecvTimeoutError::Disconnected) => break,
            };
            let mut is_over = false;
            while let Some(happened) = event {
                is_over |= self.take(happened, &mut desk, &mut screen, guard)?;
                event = events.try_recv().ok();
            }
            if is_over {
                break;
            }
        }
        self.keep(&mut desk);
        self.sitting.draft = desk.draft().is_changed();
        self.sitting.unrenewed = desk.background.renewed.filter(|(done, of)| done < of);
        Ok(self.sitting)
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
                self.take_figures(told, desk);
                None
            }
            Event::Links(told) => {
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
                    });
                }
            }
            Some(Effect::Suggest) => self.engine.ask(Ask::Suggest {
                draft: desk.draft(),
                file: desk.file_in_hand(),
            }),
            Some(Effect::Suspend) => {
                self.keep(desk);
                guard.suspend()?;
                repaint(screen)?;
            }
            Some(Effect::Repaint) => repaint(screen)?,
            Some(Effect::Leave) => return Ok(true),
        }
        Ok(false)
    }

    fn edited(&mut self, desk: &Supervisor) {
        self.is_kept = false;
        self.links.drop_before(desk.edit());
        self.engine.judge(desk.edit(), desk.draft());
    }

    fn take_figures(&mut self, told: engine::Told, desk: &mut Supervisor) {
        match told {
            engine::Told::Ready => {}
            engine::Told::Faulty { edit, faults } if edit == desk.edit() => desk.faulty(faults),
            engine::Told::Rules { edit, rules } if edit == desk.edit() => {
                desk.faultless();
                self.draft_rules = Some((edit, rules));
            }
            engine::Told::Faulty { .. } | engine::Told::Rules { .. } => {}
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
                if let Some(at) = desk.in_hand() {
                    self.inspect(desk, at);
                }
            }
            engine::Told::Looked(looked) => desk.looked(looked),
            engine::Told::Offered {
                candidates,
                of_marks,
            } => match candidates {
                Ok(candidates) => desk.offer(candidates, of_marks),
                Err(fault) => desk.say(fault),
            },
            engine::Told::Failed(words) => desk.say(words),
        }
    }

    fn begin_example(&mut self, desk: &mut Supervisor) {
        let Some(at) = desk.in_hand() else {
            return;
        };
        let Some(seen) = self.readings.get(&at) else {
            return desk.say("Nothing was read on this sheet that could be marked.");
        };
        let fields = self.rules.fields().iter();
        let known = fields.map(|field| field.name.clone()).collect();
        let styles = self.job.settings.styles.clone();
        desk.begin_example(Marking::new(at, Example::new(&seen.reading), known, styles));
    }

    /// Keeps the draft on disk where it is not there yet.
    fn keep(&mut self, desk: &mut Supervisor) {
        if self.is_kept {
            return;
        }
        match self.job.keep_draft(&desk.draft()) {
            Ok(()) => self.is_kept = true,
            Err(fault) => desk.say(fault.to_string()),
        }
    }

    fn publish(&mut self, desk: &mut Supervisor) {
        let Some(figures) = desk.figures().filter(|_| desk.is_judged()) else {
            return desk.say("What the draft does is still being worked out; a moment, please.");
        };
        let changed = figures.tray(super::Tray::Of(Group::Changed)).iter();
        let unlike = figures.tray(super::Tray::Of(Group::DisagreeingWithKeyed));
        let mut disagreeing: Vec<SheetId> = changed
            .filter(|at| unlike.binary_search(at).is_ok())
            .map(|at| self.drawer[*at as usize].clone())
            .collect();
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
                self.is_kept = true;
                self.sitting.published.push(version);
                self.engine.ask(Ask::Keep);
                self.links.renew(self.rules.clone());
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

    /// Sees to it that everything is there, or ordered, that the screen will show.
    fn prepare(&mut self, desk: &mut Supervisor) -> Result<(), DeskError> {
        let Some(at) = desk.in_hand() else {
            return Ok(());
        };
        if desk.inspected().is_none() {
            self.inspect(desk, at);
        }
        let sheets = desk.sheets();
        let row = desk.row().unwrap_or_default();
        let near = sheets.iter().skip(row.saturating_sub(60)).take(120);
        let near: Vec<usize> = near.map(|at| *at as usize).collect();
        for at in near.into_iter().chain([at]) {
            self.read(at)?;
        }
        let lay = self.readings.get(&at).and_then(|seen| seen.lay.as_ref());
        let lying = lay.filter(|_| !desk.wishes().whole).map(Into::into);
        self.pictures.want(&self.drawer[at], lying);
        Ok(())
    }

    /// Remembers a sheet's reading.
    fn read(&mut self, at: usize) -> Result<(), DeskError> {
        if self.readings.contains_key(&at) {
            return Ok(());
        }
        if self.readings.len() > TEXTS {
            self.readings.clear();
        }
        if let Some(record) = self.job.store.reading(&self.drawer[at])? {
            let text = record.reading.text();
            let lines = text.lines().map(str::trim);
            let seen = Seen {
                text: lines.collect::<Vec<_>>().join(" / "),
                reading: record.reading,
                lay: record.lay,
            };
            self.readings.insert(at, seen);
        }
        Ok(())
    }

    /// Finds out what the rules make of a sheet.
    fn inspect(&mut self, desk: &mut Supervisor, at: usize) {
        if let Err(fault) = self.read(at) {
            return desk.say(fault.to_string());
        }
        let Some(seen) = self.readings.get(&at) else {
            return;
        };
        let around = self.job.proposer.around(seen.lay.as_ref());
        let of_rule = |rule| self.rules.explain(&seen.reading, &around, rule);
        let mut explanations: Vec<Explanation> = self.rules.rules().filter_map(of_rule).collect();
        let rank = |explanation: &Explanation| {
            let score = explanation.score.unwrap_or(f64::NEG_INFINITY);
            (explanation.chosen, score)
        };
        explanations.sort_by(|a, b| {
            let ((a_chosen, a_score), (b_chosen, b_score)) = (rank(a), rank(b));
            b_chosen.cmp(&a_chosen).then(b_score.total_cmp(&a_score))
        });
        explanations.truncate(EXPLAINED);
        let looked = desk.inspected().and_then(|known| known.looked.clone());
        desk.inspect(Inspected {
            at,
            text: seen.reading.text().lines().map(str::to_owned).collect(),
            explanations,
            looked,
        });
        self.engine.ask(Ask::Look(at));
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
