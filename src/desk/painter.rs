//! Paints ahead: the cells of the sheets that come next, so that they are there when the sheets are.

use super::picture::{Canvas, Memo, Subject, paint_ahead};
use crate::reading::Reading;
use crate::value::{Bounds, SheetId};
use image::GrayImage;
use std::sync::Arc;
use std::sync::mpsc::{self, Receiver, Sender};
use std::thread;

/// A sheet to be painted.
#[derive(Debug)]
pub struct Commission {
    pub sheet: SheetId,
    pub strip: Arc<GrayImage>,
    pub reading: Reading,
    /// Where its fields stand on the strip.
    pub fields: Vec<Option<Bounds>>,
    pub canvas: Canvas,
}

impl Commission {
    /// Makes all its pictures that the memo does not have.
    pub fn paint(&self, memo: &Memo) {
        let subject = Subject {
            sheet: &self.sheet,
            image: &self.strip,
            whole: false,
            reading: &self.reading,
        };
        paint_ahead(memo, subject, self.canvas, &self.fields);
    }
}

/// Starts a thread that paints into the memo as long as the sender lives.
pub fn start(memo: Arc<Memo>) -> Sender<Commission> {
    let (ask, asked): (Sender<Commission>, Receiver<Commission>) = mpsc::channel();
    thread::spawn(move || {
        for commission in asked {
            commission.paint(&memo);
        }
    });
    ask
}
