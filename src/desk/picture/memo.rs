//! Pictures that were made already, so that a key costs none: scaling a strip takes longer than all else that is drawn.
//!
//! One memo is shared by the thread that draws and the one that paints ahead.

use super::band::Window;
use super::compose::Canvas;
use crate::value::{Bounds, SheetId};
use std::collections::{HashMap, VecDeque};
use std::hash::Hash;
use std::sync::{Arc, Mutex};

/// Pictures kept of each sort; a sheet of seven fields takes eight, and five sheets are in hand or coming.
const KEPT: usize = 160;

/// What a picture is of and how it is drawn: all that it depends on.
#[derive(Debug, Clone, PartialEq, Eq, Hash)]
pub struct View {
    pub sheet: SheetId,
    /// The whole sheet, not its strip.
    pub whole: bool,
    pub reversal: Reversal,
    pub canvas: Canvas,
}

/// How a picture is turned against how it was read: by half, as in a mirror, dark for light.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
pub struct Reversal {
    pub turned: bool,
    pub mirrored: bool,
    pub inverted: bool,
}

/// Keeps the last pictures that were made.
#[derive(Debug, Default)]
pub struct Memo {
    bands: Made<View, Vec<Window>>,
    windows: Made<(View, Bounds), Window>,
}

impl Memo {
    /// The strip in bands, made by `make` where it is not there.
    pub fn bands(&self, view: &View, make: impl FnOnce() -> Vec<Window>) -> Arc<Vec<Window>> {
        self.bands.get(view.clone(), make)
    }

    /// A stretch of it close up, made by `make` where it is not there.
    pub fn window(&self, view: &View, shows: Bounds, make: impl FnOnce() -> Window) -> Arc<Window> {
        self.windows.get((view.clone(), shows), make)
    }

    /// Forgets a sheet: its strip is another one now.
    pub fn forget(&self, sheet: &SheetId) {
        self.bands.retain(|view| view.sheet != *sheet);
        self.windows.retain(|(view, _)| view.sheet != *sheet);
    }
}

/// The last so many results, the oldest going first.
#[derive(Debug)]
struct Made<K, V>(Mutex<Kept<K, V>>);

#[derive(Debug)]
struct Kept<K, V> {
    known: HashMap<K, Arc<V>>,
    /// Its keys, the oldest first.
    order: VecDeque<K>,
}

impl<K, V> Default for Made<K, V> {
    fn default() -> Self {
        Self(Mutex::new(Kept {
            known: HashMap::new(),
            order: VecDeque::new(),
        }))
    }
}

impl<K: Hash + Eq + Clone, V> Made<K, V> {
    fn get(&self, key: K, make: impl FnOnce() -> V) -> Arc<V> {
        let locked = || self.0.lock().expect("no picture is made under the lock");
        if let Some(known) = locked().known.get(&key) {
            return known.clone();
        }
        let made = Arc::new(make());
        let mut kept = locked();
        if kept.known.insert(key.clone(), made.clone()).is_none() {
            kept.order.push_back(key);
        }
        if kept.order.len() > KEPT
            && let Some(oldest) = kept.order.pop_front()
        {
            kept.known.remove(&oldest);
        }
        made
    }

    fn retain(&self, wanted: impl Fn(&K) -> bool) {
        let mut kept = self.0.lock().expect("no picture is made under the lock");
        kept.known.retain(|key, _| wanted(key));
        kept.order.retain(|key| wanted(key));
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::desk::picture::Shape;
    use std::cell::Cell;

    #[test]
    fn a_picture_is_made_once_and_another_for_another_view() {
        let memo = Memo::default();
        let made = Cell::new(0);
        let ask = |columns: u32, inverted: bool| {
            let view = View {
                sheet: SheetId::new("1.png"),
                whole: false,
                reversal: Reversal {
                    inverted,
                    ..Reversal::default()
                },
                canvas: Canvas {
                    columns,
                    rows: 6,
                    shape: Shape::Sextant,
                    greys: true,
                },
            };
            memo.bands(&view, || {
                made.set(made.get() + 1);
                Vec::new()
            });
            made.get()
        };
        assert_eq!(ask(80, false), 1);
        assert_eq!(ask(80, false), 1);
        assert_eq!(ask(80, true), 2);
        assert_eq!(ask(81, false), 3);
        memo.forget(&SheetId::new("1.png"));
        assert_eq!(ask(81, false), 4);
        // What is kept has an end, and the last are kept.
        (100..100 + 2 * KEPT as u32).for_each(|columns| {
            ask(columns, false);
        });
        let before = made.get();
        assert_eq!(memo.bands.0.lock().unwrap().known.len(), KEPT);
        assert_eq!(ask(99 + 2 * KEPT as u32, false), before);
        assert_eq!(ask(81, false), before + 1);
    }
}
