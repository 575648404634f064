//! The supervisor's desk as a state machine: keys and what was worked out go in, effects come out.

use super::engine::Looked;
use super::figures::{Figures, Tray};
use super::key::{Action, BINDINGS, OTHERS, action};
use super::links::Linked;
use super::pad::Pad;
use crate::desk::clerk::{Code, Key, PictureWishes};
use crate::job::{Draft, DraftFile};
use crate::rules::{Explanation, Fault, Group};
use std::sync::Arc;

/// What something outside has to do.
#[derive(Debug, Clone, PartialEq)]
pub enum Effect {
    /// The draft is another one now.
    Edited,
    Publish,
    Suspend,
    Repaint,
    Leave,
}

/// Where letters and arrows go.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Focus {
    Rules,
    Sheets,
}

/// What lies over the desk.
#[derive(Debug, Clone, PartialEq)]
pub enum Pane {
    None,
    /// All keys, from this line on.
    Help(usize),
    /// The sheet in hand explained by every rule, from this line on.
    Explained(usize),
    /// Sheets by rule, from this line on.
    ByRule(usize),
    /// Whether to put the draft to use.
    Publish,
    /// Whether to give the draft up.
    GiveUp,
}

/// What the rules say of the sheet in hand.
#[derive(Debug, Clone, Default)]
pub struct Inspected {
    /// Its place in the drawer.
    pub at: usize,
    /// The reading's lines.
    pub text: Vec<String>,
    /// The rule that fits first, then those that come nearest.
    pub explanations: Vec<Explanation>,
    pub looked: Option<Looked>,
}

/// Where the work on the sheets' proposals stands, in the background.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Background {
    pub linked: Option<Linked>,
    /// Proposals renewed of so many, after a publication.
    pub renewed: Option<(usize, usize)>,
}

#[derive(Debug)]
pub struct Supervisor {
    files: Vec<File>,
    file: usize,
    focus: Focus,
    pane: Pane,
    tray: Tray,
    /// Place in the drawer of the sheet in hand, and its place in the tray.
    in_hand: Option<u32>,
    row: usize,
    rule: usize,
    wishes: PictureWishes,
    message: Option<String>,
    faults: Vec<Fault>,
    /// Counts the edits, and the one that the figures are of.
    edit: u64,
    figures_of: u64,
    figures: Option<Arc<Figures>>,
    inspected: Option<Inspected>,
    pub background: Background,
}

#[derive(Debug)]
struct File {
    name: String,
    base: String,
    pad: Pad,
}

impl Supervisor {
    pub fn new(draft: Draft) -> Self {
        let draft_is_changed = draft.is_changed();
        let files = draft.files.into_iter().map(|file| File {
            pad: Pad::new(&file.text),
            name: file.name,
            base: file.base,
        });
        // A draft that was left is an edit that nobody has judged yet.
        let edit = u64::from(draft_is_changed);
        Self {
            files: files.collect(),
            file: 0,
            focus: Focus::Rules,
            pane: Pane::None,
            tray: Tray::Of(Group::FittedByNone),
            in_hand: None,
            row: 0,
            rule: 0,
            wishes: PictureWishes::default(),
            message: None,
            faults: Vec::new(),
            edit,
            figures_of: 0,
            figures: None,
            inspected: None,
            background: Background::default(),
        }
    }

    /// The rule files as they are written now.
    pub fn draft(&self) -> Draft {
        let files = self.files.iter().map(|file| DraftFile {
            name: file.name.clone(),
            base: file.base.clone(),
            text: file.pad.text(),
        });
        Draft {
            files: files.collect(),
        }
    }

    /// Counts the edits of this sitting.
    pub fn edit(&self) -> u64 {
        self.edit
    }

    /// Whether the figures are of the text as it is now, and complete.
    pub fn is_judged(&self) -> bool {
        self.figures_of == self.edit && self.figures().is_some_and(Figures::is_complete)
    }

    pub fn focus(&self) -> Focus {
        self.focus
    }

    pub fn pane(&self) -> &Pane {
        &self.pane
    }

    pub fn tray(&self) -> Tray {
        self.tray
    }

    pub fn wishes(&self) -> PictureWishes {
        self.wishes
    }

    pub fn message(&self) -> Option<&str> {
        self.message.as_deref()
    }

    pub fn say(&mut self, words: impl Into<String>) {
        self.message = Some(words.into());
    }

    /// The rule file in the editor, and which of how many it is, from 0.
    pub fn file(&self) -> (&str, usize, usize) {
        (&self.files[self.file].name, self.file, self.files.len())
    }

    pub fn pad(&self) -> &Pad {
        &self.files[self.file].pad
    }

    pub fn faults(&self) -> &[Fault] {
        &self.faults
    }

    /// The figures are of an earlier text, because this one has a fault.
    pub fn is_faulty(&self) -> bool {
        !self.faults.is_empty()
    }

    /// The faults of the file in the editor, where the draft has any.
    pub fn faults_here(&self) -> impl Iterator<Item = &Fault> {
        let name = &self.files[self.file].name;
        self.faults.iter().filter(move |fault| fault.file == *name)
    }

    /// The figures of the last text without fault; `None` until the readings are on the bench.
    pub fn figures(&self) -> Option<&Figures> {
        self.figures.as_deref()
    }

    /// Places of the sheets in the tray in hand.
    pub fn sheets(&self) -> &[u32] {
        let figures = self.figures.as_deref();
        figures.map_or(&[], |figures| figures.tray(self.tray))
    }

    /// The sheet in hand, as a place in the drawer.
    pub fn in_hand(&self) -> Option<usize> {
        self.in_hand.map(|at| at as usize)
    }

    /// Its place in the tray, if it still is in it.
    pub fn row(&self) -> Option<usize> {
        let sheets = self.sheets();
        (sheets.get(self.row).copied() == self.in_hand && self.in_hand.is_some())
            .then_some(self.row)
    }

    pub fn inspected(&self) -> Option<&Inspected> {
        let inspected = self.inspected.as_ref()?;
        (Some(inspected.at) == self.in_hand()).then_some(inspected)
    }

    /// The explanation in hand, and which of how many it is, from 0.
    pub fn explanation(&self) -> Option<(&Explanation, usize, usize)> {
        let all = &self.inspected()?.explanations;
        let at = self.rule.min(all.len().checked_sub(1)?);
        Some((&all[at], at, all.len()))
    }

    /// What was found out about the sheet in hand.
    pub fn inspect(&mut self, inspected: Inspected) {
        if self.inspected().is_none() {
            self.rule = 0;
        }
        self.inspected = Some(inspected);
    }

    pub fn looked(&mut self, looked: Looked) {
        if let Some(inspected) = &mut self.inspected
            && inspected.at == looked.at
        {
            inspected.looked = Some(looked);
        }
    }

    /// The draft has these faults; its figures stay those of the last text without.
    pub fn faulty(&mut self, faults: Vec<Fault>) {
        self.faults = faults;
    }

    pub fn faultless(&mut self) {
        self.faults.clear();
    }

    pub fn judged(&mut self, edit: u64, figures: Arc<Figures>) {
        if edit < self.figures_of {
            return;
        }
        self.figures_of = edit;
        let is_first = self.figures.is_none();
        self.figures = Some(figures);
        let sheets = self.sheets();
        // The sheet that somebody looks at stays in hand, also where the edit took it out of its tray.
        match self.in_hand.and_then(|at| sheets.binary_search(&at).ok()) {
            Some(row) if self.tray != Tray::Of(Group::Changed) => self.row = row,
            _ => {
                let at = sheets.iter().position(|&at| Some(at) == self.in_hand);
                self.row = at.unwrap_or(self.row.min(sheets.len().saturating_sub(1)));
            }
        }
        if self.in_hand.is_none() {
            if is_first && self.sheets().is_empty() {
                self.tray = Tray::All;
            }
            self.take(0);
        }
    }

    /// The draft is in use: it is what further edits are compared with.
    pub fn published(&mut self) {
        for file in &mut self.files {
            file.base = file.pad.text();
        }
    }

    pub fn paste(&mut self, text: &str) -> Option<Effect> {
        if self.focus != Focus::Rules || self.pane != Pane::None {
            return None;
        }
        self.message = None;
        let changed = self.files[self.file].pad.paste(text);
        self.edit += u64::from(changed);
        changed.then_some(Effect::Edited)
    }

    pub fn press(&mut self, key: Key) -> Option<Effect> {
        let effect = self.pressed(key);
        self.edit += u64::from(effect == Some(Effect::Edited));
        effect
    }

    fn pressed(&mut self, key: Key) -> Option<Effect> {
        // Terminals send Ctrl+J for the Enter of the number pad.
        let key = match key == Key::ctrl('j') {
            true => Key::plain(Code::Enter),
            false => key,
        };
        let asked = action(key);
        match asked {
            Some(Action::Suspend) => return Some(Effect::Suspend),
            Some(Action::Repaint) => return Some(Effect::Repaint),
            Some(Action::Leave) => return Some(Effect::Leave),
            _ => {}
        }
        self.message = None;
        match &mut self.pane {
            Pane::None => {}
            Pane::Help(top) => {
                let lines = BINDINGS.len() + OTHERS.len();
                return match scrolled(*top, lines, key) {
                    Some(moved) => {
                        *top = moved;
                        None
                    }
                    None => self.close(),
                };
            }
            Pane::ByRule(top) => {
                return match scrolled(*top, usize::MAX, key) {
                    Some(moved) => {
                        *top = moved;
                        None
                    }
                    None => self.close(),
                };
            }
            Pane::Explained(top) => {
                return match scrolled(*top, usize::MAX, key) {
                    Some(moved) => {
                        *top = moved;
                        None
                    }
                    None if matches!(asked, Some(Action::NextSheet | Action::PreviousSheet)) => {
                        *top = 0;
                        self.act(asked?)
                    }
                    None => self.close(),
                };
            }
            Pane::Publish | Pane::GiveUp => return self.answer(key),
        }
        match asked {
            Some(asked) => self.act(asked),
            None if self.focus == Focus::Rules => {
                let changed = self.files[self.file].pad.press(key);
                changed.then_some(Effect::Edited)
            }
            None => {
                self.move_among_sheets(key);
                None
            }
        }
    }

    fn close(&mut self) -> Option<Effect> {
        self.pane = Pane::None;
        None
    }

    /// Enter says yes, Esc no; any other key is neither.
    fn answer(&mut self, key: Key) -> Option<Effect> {
        match (key.code, &self.pane) {
            (Code::Enter, Pane::Publish) => {
                self.pane = Pane::None;
                return Some(Effect::Publish);
            }
            (Code::Enter, Pane::GiveUp) => {
                self.pane = Pane::None;
                return self.give_up();
            }
            (Code::Esc, _) => self.pane = Pane::None,
            _ => self.say("Enter does it, Esc goes back."),
        }
        None
    }

    /// Takes every file as it was when the draft was begun; what was written can be had back by undoing.
    fn give_up(&mut self) -> Option<Effect> {
        for file in &mut self.files {
            file.pad.replace(&file.base);
        }
        self.say("The draft is given up; Alt+U brings it back.");
        Some(Effect::Edited)
    }

    fn act(&mut self, asked: Action) -> Option<Effect> {
        let pad = &mut self.files[self.file].pad;
        match asked {
            Action::SwitchSides => {
                self.focus = match self.focus {
                    Focus::Rules => Focus::Sheets,
                    Focus::Sheets => Focus::Rules,
                };
            }
            Action::Tray(number) => self.open_tray(number),
            Action::NextSheet => self.take_next(1),
            Action::PreviousSheet => self.take_next(-1),
            Action::NextFault => self.go_to_next_fault(),
            Action::NextFile => match self.files.len() {
                1 => self.say("The job has one rule file only."),
                files => self.file = (self.file + 1) % files,
            },
            Action::Undo => match pad.undo() {
                true => return Some(Effect::Edited),
                false => self.say("Nothing is left to undo in this file."),
            },
            Action::Redo => match pad.redo() {
                true => return Some(Effect::Edited),
                false => self.say("Nothing was undone that could be done again."),
            },
            Action::Publish if !self.faults.is_empty() => {
                let fault = self.faults[0].to_string();
                self.say(format!("The draft has a fault and stays a draft: {fault}"));
            }
            Action::Publish if !self.draft().is_changed() => {
                self.say("The draft is what is in use already.");
            }
            Action::Publish if !self.is_judged() => {
                self.say("What the draft does is still being worked out; a moment, please.");
            }
            Action::Publish => self.pane = Pane::Publish,
            Action::GiveUp if !self.draft().is_changed() => {
                self.say("The draft is what is in use: there is nothing to give up.");
            }
            Action::GiveUp => self.pane = Pane::GiveUp,
            Action::ByRule => self.pane = Pane::ByRule(0),
            Action::Zoom => self.wishes.close = !self.wishes.close,
            Action::WholeSheet => {
                self.wishes.whole = !self.wishes.whole;
                self.wishes.pan = (0, 0);
            }
            Action::PanLeft => self.wishes.pan.0 -= 1,
            Action::PanRight => self.wishes.pan.0 += 1,
            Action::PanUp => self.wishes.pan.1 -= 1,
            Action::PanDown => self.wishes.pan.1 += 1,
            Action::Help => self.pane = Pane::Help(0),
            Action::Step => self.focus = Focus::Rules,
            Action::Example | Action::Templates => {}
            Action::Repaint | Action::Suspend | Action::Leave => {}
        }
        None
    }

    fn open_tray(&mut self, number: usize) {
        self.tray = Tray::ALL[number].0;
        match self.sheets().is_empty() {
            true => self.say(format!(
                "There is no sheet under `{}`.",
                Tray::ALL[number].1
            )),
            false => self.take(0),
        }
    }

    fn take_next(&mut self, by: isize) {
        let last = self.sheets().len().saturating_sub(1);
        // A sheet that the edit took out of the tray leaves its place to the one behind it.
        let row = match (self.row(), by) {
            (None, 1) => self.row,
            _ => self.row.saturating_add_signed(by),
        };
        if row > last || by < 0 && self.row == 0 {
            self.say("There is no further sheet in this tray.");
        }
        self.take(row.min(last));
    }

    fn take(&mut self, row: usize) {
        let Some(&at) = self.sheets().get(row) else {
            return;
        };
        self.row = row;
        if self.in_hand != Some(at) {
            self.in_hand = Some(at);
            self.rule = 0;
            self.wishes.pan = (0, 0);
        }
    }

    fn move_among_sheets(&mut self, key: Key) {
        const PAGE: usize = 10;
        let last = self.sheets().len().saturating_sub(1);
        match key.code {
            Code::Up => self.take(self.row.saturating_sub(1)),
            Code::Down if self.row().is_none() => self.take(self.row),
            Code::Down => self.take((self.row + 1).min(last)),
            Code::PageUp => self.take(self.row.saturating_sub(PAGE)),
            Code::PageDown => self.take((self.row + PAGE).min(last)),
            Code::Home => self.take(0),
            Code::End => self.take(last),
            Code::Left => self.rule = self.rule.saturating_sub(1),
            Code::Right => {
                if let Some((_, at, of)) = self.explanation() {
                    self.rule = (at + 1).min(of - 1);
                }
            }
            Code::Enter if self.in_hand.is_some() => self.pane = Pane::Explained(0),
            _ => self.say("Tab goes to the rules, where letters type."),
        }
    }

    /// Goes to the fault behind the cursor, in this file or the next that has one.
    fn go_to_next_fault(&mut self) {
        let (line, column) = self.pad().cursor();
        let name = &self.files[self.file].name;
        let here = |fault: &&Fault| fault.file == *name;
        let behind = |fault: &&Fault| (fault.line, fault.column) > (line + 1, column + 1);
        let next = self.faults_here().find(behind);
        let elsewhere = || self.faults.iter().find(|fault| !here(fault));
        let next = next.or_else(elsewhere).or(self.faults_here().next());
        let Some(fault) = next.cloned() else {
            return self.say("The rules have no fault.");
        };
        let file = self.files.iter().position(|file| file.name == fault.file);
        match file {
            Some(file) => {
                self.file = file;
                self.focus = Focus::Rules;
                let (line, column) = (fault.line - 1, fault.column - 1);
                self.files[file].pad.go_to(line, column);
            }
            None => self.say(fault.to_string()),
        }
    }
}

/// A pane's first line after a key that scrolls; `None` for any other key.
fn scrolled(top: usize, lines: usize, key: Key) -> Option<usize> {
    const PAGE: usize = 10;
    let moved = match key.code {
        Code::Up => top.saturating_sub(1),
        Code::Down => top + 1,
        Code::PageUp => top.saturating_sub(PAGE),
        Code::PageDown => top + PAGE,
        Code::Home => 0,
        _ => return None,
    };
    Some(moved.min(lines.saturating_sub(1)))
}
