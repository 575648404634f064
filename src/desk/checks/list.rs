//! The findings, the one in hand, and the sheet of it that is meant.

use super::key::{Action, action};
use crate::delivery::Check;
use crate::desk::clerk::Key;
use crate::value::{Severity, SheetId};

/// Findings that a page goes on by.
const PAGE: usize = 10;

/// What has to be done outside.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Effect {
    /// The clerk's desk, at this sheet; then everything is checked again.
    Open(SheetId),
    CheckAgain,
    Repaint,
    Suspend,
    Leave,
}

/// Findings, the worst first.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct CheckList {
    checks: Vec<Check>,
    at: usize,
    /// Among the sheets of the finding in hand.
    sheet: usize,
    message: Option<String>,
}

impl CheckList {
    pub fn new(checks: Vec<Check>) -> Self {
        Self {
            checks,
            ..Self::default()
        }
    }

    pub fn checks(&self) -> &[Check] {
        &self.checks
    }

    /// The place of the finding in hand.
    pub fn at(&self) -> usize {
        self.at
    }

    pub fn in_hand(&self) -> Option<&Check> {
        self.checks.get(self.at)
    }

    /// The sheet that is meant, and its place among those of the finding.
    pub fn sheet(&self) -> Option<(usize, &SheetId)> {
        let sheet = self.in_hand()?.sheets.get(self.sheet)?;
        Some((self.sheet, sheet))
    }

    pub fn message(&self) -> Option<&str> {
        self.message.as_deref()
    }

    /// How many there are of a severity.
    pub fn count(&self, severity: Severity) -> usize {
        let of_it = self
            .checks
            .iter()
            .filter(|check| check.severity == severity);
        of_it.count()
    }

    pub fn say(&mut self, words: impl Into<String>) {
        self.message = Some(words.into());
    }

    /// Takes what was found anew, and says how many findings are gone. The finding in hand stays in hand where it is
    /// still there, and else the one that took its place.
    pub fn check_again(&mut self, checks: Vec<Check>) {
        let known = self
            .in_hand()
            .map(|check| (check.code, check.sheets.first().cloned()));
        let meant = self.sheet().map(|(_, sheet)| sheet.clone());
        let before = std::mem::replace(&mut self.checks, checks).len();
        let same = |check: &Check| Some((check.code, check.sheets.first().cloned())) == known;
        // Of a finding that lost its first sheet the code is left.
        let alike = |check: &Check| known.as_ref().is_some_and(|(code, _)| check.code == *code);
        let places = self.checks.iter();
        let found = places
            .clone()
            .position(same)
            .or(places.clone().position(alike));
        self.at = found
            .unwrap_or(self.at)
            .min(self.checks.len().saturating_sub(1));
        let sheets = self.in_hand().map_or(&[][..], |check| &check.sheets);
        self.sheet = sheets
            .iter()
            .position(|sheet| Some(sheet) == meant.as_ref())
            .unwrap_or_else(|| self.sheet.min(sheets.len().saturating_sub(1)));
        self.say(match (before, self.checks.len()) {
            (before, now) if now < before => format!("Checked again: {} fewer.", before - now),
            (before, now) if now > before => format!("Checked again: {} more.", now - before),
            _ => "Checked again: as many as before.".to_owned(),
        });
    }

    pub fn press(&mut self, key: Key) -> Option<Effect> {
        let action = action(key)?;
        self.message = None;
        let last = self.checks.len().saturating_sub(1);
        match action {
            Action::Next => self.go(self.at + 1),
            Action::Previous => self.go(self.at.saturating_sub(1)),
            Action::NextPage => self.go(self.at + PAGE),
            Action::PreviousPage => self.go(self.at.saturating_sub(PAGE)),
            Action::First => self.go(0),
            Action::Last => self.go(last),
            Action::NextSheet => {
                let sheets = self.in_hand().map_or(0, |check| check.sheets.len());
                self.sheet = (self.sheet + 1).min(sheets.saturating_sub(1));
            }
            Action::PreviousSheet => self.sheet = self.sheet.saturating_sub(1),
            Action::Open => match self.sheet() {
                Some((_, sheet)) => return Some(Effect::Open(sheet.clone())),
                None if self.checks.is_empty() => {}
                None => self.say("This concerns the whole batch; no sheet mends it."),
            },
            Action::CheckAgain => return Some(Effect::CheckAgain),
            Action::Repaint => return Some(Effect::Repaint),
            Action::Suspend => return Some(Effect::Suspend),
            Action::Leave => return Some(Effect::Leave),
        }
        None
    }

    fn go(&mut self, to: usize) {
        let to = to.min(self.checks.len().saturating_sub(1));
        if to != self.at {
            (self.at, self.sheet) = (to, 0);
        }
    }
}
