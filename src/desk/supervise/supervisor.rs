//! The supervisor's desk as a state machine: keys and what was worked out go in, effects come out.

use super::engine::Looked;
use super::figures::{Figures, Tray};
use super::marking::Marking;
use super::pad::Pad;
use super::pane::{Background, Focus, Inspected, OPENED, Offers, Pane};
use crate::desk::clerk::PictureWishes;
use crate::job::{Draft, DraftFile};
use crate::rules::example::Candidate;
use crate::rules::{Explanation, Fault, Group};
use std::sync::Arc;

#[derive(Debug)]
pub struct Supervisor {
    pub(super) files: Vec<File>,
    pub(super) file: usize,
    pub(super) focus: Focus,
    pub(super) pane: Pane,
    pub(super) tray: Tray,
    /// Place in the drawer of the sheet in hand, and its place in the tray.
    pub(super) in_hand: Option<u32>,
    pub(super) row: usize,
    pub(super) rule: usize,
    pub(super) wishes: PictureWishes,
    pub(super) message: Option<String>,
    pub(super) faults: Vec<Fault>,
    /// Counts the edits, and the one that the figures are of.
    pub(super) edit: u64,
    pub(super) figures_of: u64,
    pub(super) figures: Option<Arc<Figures>>,
    pub(super) inspected: Option<Inspected>,
    pub(super) marking: Option<Marking>,
    /// Files whose draft was given up just now, and what those were begun from.
    pub(super) given_up: Vec<(usize, String)>,
    pub background: Background,
}

#[derive(Debug)]
pub(super) struct File {
    pub name: String,
    pub base: String,
    pub pad: Pad,
}

impl Supervisor {
    pub fn new(draft: Draft) -> Self {
        let files = draft.files.into_iter().map(|file| File {
            pad: Pad::new(&file.text),
            name: file.name,
            base: file.base,
        });
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
            edit: OPENED,
            figures_of: 0,
            figures: None,
            inspected: None,
            marking: None,
            given_up: Vec::new(),
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
            by: String::new(),
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
        self.message = Some(words.into().replace('\n', " "));
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

    /// The rules in use take the place of the draft; undoing next brings it back, in all files.
    pub fn given_up(&mut self, in_use: Draft) {
        self.given_up.clear();
        for (at, live) in in_use.files.into_iter().enumerate() {
            let Some(file) = self.files.get_mut(at) else {
                break;
            };
            let base = std::mem::replace(&mut file.base, live.text);
            if file.pad.replace(&file.base) {
                self.given_up.push((at, base));
            }
        }
        self.edit += 1;
        self.say("The draft is given up; Alt+U brings it back.");
    }

    /// Brings back what was given up last, with what it was begun from; whether there was anything.
    pub(super) fn take_back(&mut self) -> bool {
        let given_up = std::mem::take(&mut self.given_up);
        for (at, base) in &given_up {
            self.files[*at].pad.undo();
            self.files[*at].base.clone_from(base);
        }
        !given_up.is_empty()
    }

    /// Has a sheet marked as the example of a rule.
    pub fn begin_example(&mut self, marking: Marking) {
        if marking.is_empty() {
            return self.say("Nothing was read on this sheet that could be marked.");
        }
        self.marking = Some(marking);
        self.pane = Pane::Marking;
    }

    pub fn marking(&self) -> Option<&Marking> {
        self.marking.as_ref()
    }

    /// Rules to choose from, made for what is marked or else from keyed sheets; for the file and the edit at which they were
    /// asked for. They come when nobody does anything else, so that no key meant for that takes one.
    pub fn offer(&mut self, candidates: Vec<Candidate>, of_marks: bool, asked: (usize, u64)) {
        let expected = match of_marks {
            true => Pane::Marking,
            false => Pane::None,
        };
        let (key, none) = match of_marks {
            true => ("Alt+E and Enter", "No rule was found for these marks."),
            false => (
                "Alt+T",
                "No template was found: no keyed sheet without a rule shows its values on the strip.",
            ),
        };
        if candidates.is_empty() {
            return self.say(none);
        }
        if self.pane != expected || asked != (self.file, self.edit) {
            return self.say(format!(
                "Rules were made for an earlier text; {key} makes them anew."
            ));
        }
        self.message = None;
        self.pane = Pane::Offers(Offers {
            candidates,
            chosen: 0,
            of_marks,
            file: asked.0,
        });
    }

    /// Index of the file in the editor.
    pub fn file_in_hand(&self) -> usize {
        self.file
    }

    /// The draft is in use: it is what further edits are compared with.
    pub fn published(&mut self) {
        self.background.linked = None;
        for file in &mut self.files {
            file.base = file.pad.text();
        }
    }
}
