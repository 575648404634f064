//! The pictures of the sheet in hand and of those that come next: ordered, kept, and painted ahead.

use super::clerk::{Clerk, DeskSheet, Field, Plan, Record};
use super::painter::{self, Commission};
use super::picture::{Canvas, Memo, Shape};
use super::session::Session;
use super::supply::{self, Supplied, Wanted};
use super::view::{Picture, Theme, canvas};
use crate::journal::{Result, Store};
use crate::reading::{Lying, Shown};
use crate::value::SheetId;
use image::GrayImage;
use std::collections::{HashMap, HashSet, VecDeque};
use std::path::PathBuf;
use std::sync::Arc;
use std::sync::mpsc::Sender;

/// Sheets whose pictures are made ahead.
const AHEAD: usize = 3;
/// Pictures that are kept.
const KEPT: usize = 12;
/// The longer side of a whole sheet's picture, in pixels: some six for each point of a large terminal's cells.
const WHOLE: u32 = 2_400;

/// A sheet, and whether all of it is meant or its strip.
type Key = (SheetId, bool);

pub struct Pictures {
    shape: Option<Shape>,
    folder: PathBuf,
    memo: Arc<Memo>,
    supply: Sender<Wanted>,
    painter: Sender<Commission>,
    kept: HashMap<Key, Option<Arc<GrayImage>>>,
    /// Keys of the pictures kept, in the order in which they came.
    order: VecDeque<Key>,
    asked: HashSet<Key>,
    painted: HashMap<SheetId, Canvas>,
}

impl Pictures {
    /// `done` is told of each picture that was made; hand it to [`Self::keep`].
    pub fn start(
        program: PathBuf,
        folder: PathBuf,
        shape: Option<Shape>,
        done: impl Fn(Supplied) + Send + 'static,
    ) -> Self {
        let memo = Arc::new(Memo::default());
        Self {
            shape,
            folder,
            supply: supply::start(program, done),
            painter: painter::start(memo.clone()),
            memo,
            kept: HashMap::new(),
            order: VecDeque::new(),
            asked: HashSet::new(),
            painted: HashMap::new(),
        }
    }

    pub fn shape(&self) -> Option<Shape> {
        self.shape
    }

    pub fn memo(&self) -> &Memo {
        &self.memo
    }

    /// What is to be shown of a sheet: all of it, or its strip.
    pub fn of(&self, sheet: &SheetId, whole: bool) -> Picture<'_> {
        match self.kept.get(&(sheet.clone(), whole)) {
            None => Picture::Coming,
            Some(None) => Picture::None,
            Some(Some(image)) => Picture::There(image),
        }
    }

    /// Whether there is nothing left to wait for before the sheet can be called seen.
    pub fn is_settled(&self, sheet: &SheetId, whole: bool) -> bool {
        self.shape.is_none() || self.kept.contains_key(&(sheet.clone(), whole))
    }

    /// Orders and paints what the sheet in hand and those behind it need on a screen of this size.
    pub fn prepare<S: Store>(
        &mut self,
        session: &Session<S>,
        plan: &Plan,
        desk: &Clerk,
        screen: (u16, u16),
        theme: Theme,
    ) -> Result<()> {
        let Some(shape) = self.shape else {
            return Ok(());
        };
        let canvas = canvas(screen, plan.fields.len(), shape, theme);
        self.order(session, &desk.sheet().sheet, desk.wishes().whole)?;
        self.paint(desk.sheet(), desk.fields(), canvas);
        for sheet in session.coming(AHEAD) {
            let strip = self.kept.get(&(sheet.clone(), false));
            if matches!(strip, Some(Some(_))) {
                if self.painted.get(&sheet) != Some(&canvas) {
                    let opened = session.look_up(&sheet)?;
                    let record = Record::new(plan, &opened, 0);
                    self.paint(&opened, &record.fields, canvas);
                }
                continue;
            }
            if !self.is_ordered(&sheet, false) && !self.is_ordered(&sheet, true) {
                let has_no_strip = session.lying(&sheet)?.is_none();
                self.order(session, &sheet, has_no_strip)?;
            }
        }
        Ok(())
    }

    fn order<S: Store>(
        &mut self,
        session: &Session<S>,
        sheet: &SheetId,
        whole: bool,
    ) -> Result<()> {
        if self.is_ordered(sheet, whole) {
            return Ok(());
        }
        let lying = session.lying(sheet)?.filter(|_| !whole);
        self.want(sheet, lying);
        Ok(())
    }

    pub fn is_ordered(&self, sheet: &SheetId, whole: bool) -> bool {
        let key = (sheet.clone(), whole);
        self.kept.contains_key(&key) || self.asked.contains(&key)
    }

    /// Has a picture made, of the strip as it lay or of the whole sheet, unless it is there or on its way.
    pub fn want(&mut self, sheet: &SheetId, lying: Option<Lying>) {
        let whole = lying.is_none();
        if self.shape.is_none() || self.is_ordered(sheet, whole) {
            return;
        }
        self.asked.insert((sheet.clone(), whole));
        let wanted = Wanted {
            path: self.folder.join(sheet.as_str()),
            sheet: sheet.clone(),
            shown: lying.map_or(Shown::Whole(WHOLE), Shown::Strip),
        };
        // The supply lives as long as this.
        let _ = self.supply.send(wanted);
    }

    /// Has a sheet's cells made, unless that was done for this canvas.
    fn paint(&mut self, sheet: &DeskSheet, fields: &[Field], canvas: Canvas) {
        let id = &sheet.sheet;
        let Some(Some(strip)) = self.kept.get(&(id.clone(), false)) else {
            return;
        };
        if self.painted.insert(id.clone(), canvas) == Some(canvas) {
            return;
        }
        let mut places: Vec<_> = fields.iter().map(Field::bounds).collect();
        // The field that the sheet opens at comes first.
        let opens_at = fields.iter().position(Field::needs_a_look).unwrap_or(0);
        places.rotate_left(opens_at);
        let _ = self.painter.send(Commission {
            sheet: id.clone(),
            strip: strip.clone(),
            reading: sheet.reading.clone(),
            fields: places,
            canvas,
        });
    }

    /// Keeps a picture that was made.
    pub fn keep(&mut self, picture: Supplied) {
        let key = (picture.sheet, matches!(picture.shown, Shown::Whole(_)));
        self.asked.remove(&key);
        self.order.push_back(key.clone());
        self.kept.insert(key, picture.picture.map(Arc::new));
        if self.order.len() > KEPT
            && let Some(oldest) = self.order.pop_front()
            && !self.order.contains(&oldest)
        {
            self.painted.remove(&oldest.0);
            self.kept.remove(&oldest);
        }
    }

    /// Forgets a sheet's strip: another one was cut.
    pub fn forget(&mut self, sheet: &SheetId) {
        self.kept.remove(&(sheet.clone(), false));
        self.painted.remove(sheet);
        self.memo.forget(sheet);
    }
}
