//! What the desk shows, and where the focus goes.

use super::desk::{Clerk, Done, PictureWishes};
use super::field::Field;
use super::pane::Pane;
use super::sheet::{DeskSheet, RosterRow};
use super::work::Work;
use crate::value::SheetKind;

impl Clerk {
    pub fn sheet(&self) -> &DeskSheet {
        &self.sheet
    }

    pub fn work(&self) -> &Work {
        &self.work
    }

    pub fn kind(&self) -> SheetKind {
        self.work.kind
    }

    pub fn pane(&self) -> &Pane {
        &self.pane
    }

    pub fn wishes(&self) -> PictureWishes {
        self.wishes
    }

    pub fn message(&self) -> Option<&str> {
        self.message.as_deref()
    }

    /// What was done in this sitting and shortly before, the last one at the end.
    pub fn done(&self) -> &[Done] {
        &self.done
    }

    /// The record in hand, from 0, and how many there are.
    pub fn record(&self) -> (usize, usize) {
        (self.work.record, self.work.records.len())
    }

    /// The fields of the record in hand.
    pub fn fields(&self) -> &[Field] {
        &self.work.in_record().fields
    }

    /// The roster row that the record in hand is linked to.
    pub fn row(&self) -> Option<&RosterRow> {
        self.work.in_record().row.as_ref()
    }

    /// Index of the field in hand.
    pub fn focus(&self) -> usize {
        self.work.focus
    }

    pub fn in_hand(&self) -> Option<&Field> {
        self.work.in_hand()
    }

    /// Whether the proposal was filled in for this sheet.
    pub fn shows_proposal(&self) -> bool {
        self.sheet.shown_proposal().is_some()
    }

    /// Whether the next Enter accepts the sheet.
    pub fn ready(&self) -> bool {
        self.work.is_ready()
    }

    pub(super) fn move_focus(&mut self, by: isize) {
        let count = self.fields().len().max(1) as isize;
        self.work.focus = (self.work.focus as isize + by).rem_euclid(count) as usize;
        self.wishes.pan = (0, 0);
    }

    pub(super) fn go_to_next_open_field(&mut self) {
        if self.work.go_to_next_open_field() {
            self.wishes.pan = (0, 0);
        }
    }
}
