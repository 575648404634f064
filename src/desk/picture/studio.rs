//! The pictures at hand: portraits of the last and the next sheets, and the cells that were made of them.

use super::band::{Banded, bands};
use super::mode::Mode;
use super::portrait::{Facing, Portrait};
use super::zoom::{Close, window};
use crate::value::{Bounds, SheetId};
use std::collections::{HashMap, VecDeque};

/// Portraits kept: the sheet in hand, a few behind it and those prepared ahead. One is about a megabyte.
const PORTRAITS: usize = 8;
/// Pictures in cells kept of one sheet and screen.
const PICTURES: usize = 16;

/// What there is to show of a sheet.
#[derive(Debug, Clone)]
pub enum Sitting {
    /// It is being made.
    Coming,
    Ready(Box<Portrait>),
    /// Why there is none, and what to do.
    Missing(String),
}

/// What is shown of the sheet in hand.
#[derive(Debug, Clone, PartialEq)]
struct Subject {
    sheet: SheetId,
    facing: Facing,
}

#[derive(Debug, Clone, PartialEq, Eq, Hash)]
struct BandKey(u16, u16);

#[derive(Debug, Clone, PartialEq, Eq, Hash)]
struct CloseKey((u16, u16), Bounds, Option<Bounds>, (i32, i32), u8);

/// Keeps pictures, so that nothing is made twice while somebody types.
#[derive(Debug)]
pub struct Studio {
    mode: Option<Mode>,
    sittings: HashMap<SheetId, Sitting>,
    /// The first came first.
    order: VecDeque<SheetId>,
    subject: Option<(Subject, Portrait)>,
    banded: HashMap<BandKey, Banded>,
    close: HashMap<CloseKey, Close>,
}

impl Studio {
    /// `mode`: none where no pictures are wanted.
    pub fn new(mode: Option<Mode>) -> Self {
        Self {
            mode,
            sittings: HashMap::new(),
            order: VecDeque::new(),
            subject: None,
            banded: HashMap::new(),
            close: HashMap::new(),
        }
    }

    pub fn mode(&self) -> Option<Mode> {
        self.mode
    }

    /// Takes a picture in, in place of what was there.
    pub fn take(&mut self, sheet: SheetId, sitting: Sitting) {
        if self
            .subject
            .as_ref()
            .is_some_and(|(subject, _)| subject.sheet == sheet)
        {
            self.subject = None;
        }
        self.order.retain(|known| *known != sheet);
        self.order.push_back(sheet.clone());
        self.sittings.insert(sheet, sitting);
        while self.order.len() > PORTRAITS {
            if let Some(oldest) = self.order.pop_front() {
                self.sittings.remove(&oldest);
            }
        }
    }

    pub fn sitting(&self, sheet: &SheetId) -> Option<&Sitting> {
        self.sittings.get(sheet)
    }

    /// Whether all that can be shown of a sheet is here.
    pub fn is_settled(&self, sheet: &SheetId) -> bool {
        let sitting = self.sittings.get(sheet);
        self.mode.is_none() || matches!(sitting, Some(Sitting::Ready(_) | Sitting::Missing(_)))
    }

    /// The whole strip in bands; none where there is no picture.
    pub fn bands(
        &mut self,
        sheet: &SheetId,
        facing: Facing,
        columns: u16,
        rows: u16,
    ) -> Option<&Banded> {
        let mode = self.mode?;
        self.turn_to(sheet, facing)?;
        let (_, portrait) = self.subject.as_ref()?;
        if self.banded.len() >= PICTURES {
            self.banded.clear();
        }
        let made = self.banded.entry(BandKey(columns, rows));
        Some(made.or_insert_with(|| bands(portrait, mode, columns, rows, true)))
    }

    /// A field close up; none where there is no picture, or nothing is known of where the field stands on it.
    #[allow(clippy::too_many_arguments)]
    pub fn close(
        &mut self,
        sheet: &SheetId,
        facing: Facing,
        size: (u16, u16),
        focus: Bounds,
        cursor: Option<Bounds>,
        pan: (i32, i32),
        zoom: u8,
    ) -> Option<&Close> {
        let mode = self.mode?;
        self.turn_to(sheet, facing)?;
        let (_, portrait) = self.subject.as_ref()?;
        let focus = portrait.place_of(focus, facing)?;
        let cursor = cursor.and_then(|cursor| portrait.place_of(cursor, facing));
        if self.close.len() >= PICTURES {
            self.close.clear();
        }
        let made = self.close.entry(CloseKey(size, focus, cursor, pan, zoom));
        Some(made.or_insert_with(|| window(portrait, mode, size, focus, cursor, pan, zoom)))
    }

    /// Makes a sheet's portrait the one at hand.
    fn turn_to(&mut self, sheet: &SheetId, facing: Facing) -> Option<()> {
        let Some(Sitting::Ready(portrait)) = self.sittings.get(sheet) else {
            return None;
        };
        let wanted = Subject {
            sheet: sheet.clone(),
            facing,
        };
        if self
            .subject
            .as_ref()
            .is_none_or(|(subject, _)| *subject != wanted)
        {
            self.subject = Some((wanted, portrait.faced(facing)));
            self.banded.clear();
            self.close.clear();
        }
        Some(())
    }
}
