//! Pictures that were made already, so that a key costs none: scaling a strip takes longer than all else that is drawn.

use super::band::Window;
use super::cells::Cells;
use super::shape::Shape;
use crate::value::{Bounds, SheetId};
use std::cell::RefCell;
use std::collections::HashMap;
use std::hash::Hash;
use std::rc::Rc;

/// Pictures kept of each sort; a sheet of seven fields takes eight.
const KEPT: usize = 32;

/// What a picture is of and how it is drawn: all that it depends on.
#[derive(Debug, Clone, PartialEq, Eq, Hash)]
pub struct View {
    pub sheet: SheetId,
    /// Columns and rows.
    pub size: (u32, u32),
    pub shape: Shape,
    pub greys: bool,
    pub turned: bool,
    pub mirrored: bool,
    pub inverted: bool,
}

/// Keeps the last pictures that were made.
#[derive(Debug, Default)]
pub struct Memo {
    bands: Made<View, Vec<Cells>>,
    close_ups: Made<(View, Bounds, i32), Window>,
}

impl Memo {
    /// The strip in bands, made by `make` where it is not there.
    pub fn bands(&self, view: View, make: impl FnOnce() -> Vec<Cells>) -> Rc<Vec<Cells>> {
        self.bands.get(view, make)
    }

    /// A field close up, so many steps to the right, made by `make` where it is not there.
    pub fn close_up(
        &self,
        view: View,
        field: Bounds,
        pan: i32,
        make: impl FnOnce() -> Window,
    ) -> Rc<Window> {
        self.close_ups.get((view, field, pan), make)
    }
}

#[derive(Debug)]
struct Made<K, V>(RefCell<HashMap<K, Rc<V>>>);

impl<K, V> Default for Made<K, V> {
    fn default() -> Self {
        Self(RefCell::default())
    }
}

impl<K: Hash + Eq, V> Made<K, V> {
    fn get(&self, key: K, make: impl FnOnce() -> V) -> Rc<V> {
        let mut made = self.0.borrow_mut();
        if made.len() >= KEPT && !made.contains_key(&key) {
            made.clear();
        }
        made.entry(key).or_insert_with(|| Rc::new(make())).clone()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_picture_is_made_once_and_another_for_another_view() {
        let memo = Memo::default();
        let made = std::cell::Cell::new(0);
        let ask = |columns: u32, inverted: bool| {
            let view = View {
                sheet: SheetId::new("1.png"),
                size: (columns, 6),
                shape: Shape::Sextant,
                greys: true,
                turned: false,
                mirrored: false,
                inverted,
            };
            memo.bands(view, || {
                made.set(made.get() + 1);
                Vec::new()
            });
            made.get()
        };
        assert_eq!(ask(80, false), 1);
        assert_eq!(ask(80, false), 1);
        assert_eq!(ask(80, true), 2);
        assert_eq!(ask(81, false), 3);
        // What is kept has an end.
        (0..2 * KEPT as u32).for_each(|columns| {
            ask(columns, false);
        });
        assert!(memo.bands.0.borrow().len() <= KEPT);
    }
}
