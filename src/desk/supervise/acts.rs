//! Keys at the supervisor's desk, and what they do.

use super::figures::Tray;
use super::key::{Action, BINDINGS, OTHERS, action};
use super::marking::Step;
use super::pane::{Effect, Focus, Pane};
use super::supervisor::Supervisor;
use crate::desk::clerk::{Code, Key};
use crate::rules::Fault;
use crate::rules::example::add;

impl Supervisor {
    pub fn paste(&mut self, text: &str) -> Option<Effect> {
        if let (Pane::Marking, Some(marking)) = (&self.pane, &mut self.marking) {
            marking.paste(text);
            return None;
        }
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
        if effect == Some(Effect::Edited) {
            self.edit += 1;
            self.given_up.clear();
        }
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
                let rules = self.figures.as_ref().map_or(0, |f| f.effect.rules.len());
                return match scrolled(*top, rules + 1, key) {
                    Some(moved) => {
                        *top = moved;
                        None
                    }
                    None => self.close(),
                };
            }
            Pane::Explained(top) => {
                let explained = self.inspected.iter().flat_map(|known| &known.explanations);
                let lines = explained.map(|e| e.to_string().lines().count() + 1).sum();
                return match scrolled(*top, lines, key) {
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
            Pane::Marking => return self.mark(key, asked),
            Pane::Offers(offers) => {
                let last = offers.candidates.len() - 1;
                match key.code {
                    Code::Up => offers.chosen = offers.chosen.saturating_sub(1),
                    Code::Down => offers.chosen = (offers.chosen + 1).min(last),
                    Code::Enter => return self.take_offer(),
                    Code::Esc => {
                        self.pane = match offers.of_marks {
                            true => Pane::Marking,
                            false => Pane::None,
                        }
                    }
                    _ => {
                        self.say("Up and Down choose, Enter puts it into the draft, Esc goes back.")
                    }
                }
                return None;
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

    fn mark(&mut self, key: Key, asked: Option<Action>) -> Option<Effect> {
        if let Some(
            Action::Zoom
            | Action::PanLeft
            | Action::PanRight
            | Action::PanUp
            | Action::PanDown
            | Action::WholeSheet,
        ) = asked
        {
            return self.act(asked?);
        }
        let marking = self.marking.as_mut()?;
        let step = marking.press(key);
        let message = marking.message().map(str::to_owned);
        match step {
            Step::Stay => self.message = message,
            Step::Back => self.pane = Pane::None,
            Step::Done if marking.example.marks().is_empty() => self.say(
                "Nothing is marked yet: choose a piece with the arrows and type the name of its field.",
            ),
            Step::Done => {
                self.say("Rules for this strip are tried on the others; a moment, please.");
                return Some(Effect::Try);
            }
        }
        None
    }

    /// Puts the rule in hand into the draft, and the cursor there.
    fn take_offer(&mut self) -> Option<Effect> {
        let Pane::Offers(offers) = &self.pane else {
            return None;
        };
        let of_marks = offers.of_marks;
        let candidate = &offers.candidates[offers.chosen];
        self.file = offers.file;
        let pad = &mut self.files[self.file].pad;
        let text = add(&pad.text(), &candidate.fragment);
        let fits = format!(
            "`{}` is in the draft; Alt+U takes it out again.",
            candidate.name
        );
        pad.replace(&text);
        let rule = pad.lines().iter().rposition(|line| line == "[[rule]]");
        pad.go_to(rule.unwrap_or_default(), 0);
        if of_marks {
            self.marking = None;
        }
        self.pane = Pane::None;
        self.focus = Focus::Rules;
        self.say(fits);
        Some(Effect::Edited)
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
                return Some(Effect::GiveUp);
            }
            (Code::Esc, _) => self.pane = Pane::None,
            _ => self.say("Enter does it, Esc goes back."),
        }
        None
    }

    fn act(&mut self, asked: Action) -> Option<Effect> {
        if asked == Action::Undo && self.take_back() {
            self.say("The draft is back.");
            return Some(Effect::Edited);
        }
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
            Action::Example => match (&self.marking, self.in_hand()) {
                (Some(marking), Some(at)) if marking.at == at => self.pane = Pane::Marking,
                (_, Some(_)) => return Some(Effect::BeginExample),
                (_, None) => self.say("There is no sheet in hand."),
            },
            Action::Templates if self.figures.is_some() => {
                self.say(
                    "Templates are looked for in keyed sheets that no rule fits; a moment, please.",
                );
                return Some(Effect::Suggest);
            }
            Action::Templates => self.say("The readings are still being put on the bench."),
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

    pub(super) fn take(&mut self, row: usize) {
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
