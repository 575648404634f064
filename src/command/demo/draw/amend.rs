//! The typing with what was changed on it: struck out, pasted over, written on, whitened, or written by hand at all.

use super::canvas::{Area, Canvas};
use super::cover::{edges, fluid, paste, show_through, turned};
use super::hand::Hand;
use super::pen::{handwritten, note, pen_through, ring, tick};
use super::strike::{self, Typing, as_high, spread, strike_at};
use crate::command::demo::amendment::Amendment;
use crate::command::demo::collection::PlannedSheet;
use crate::command::demo::machine::Machine;
use crate::command::demo::{Stream, random, within};
use rand::{RngExt, seq::IndexedRandom};
use rand_chacha::ChaCha8Rng;
use std::ops::Range;

/// What stands in the heading, in sheet pixels.
pub struct Typed {
    /// The ink of each line of the plan.
    pub lines: Vec<Area>,
    /// The ink of everything that was typed or written there.
    pub typing: Area,
    pub x_height: f32,
    /// What was struck out, covered or written.
    pub changed: Area,
}

/// Types the plan's lines into the heading and changes them as the look says.
///
/// `random` is for the typing alone: a sheet looks the same but for its amendment.
pub fn typed(
    canvas: &mut Canvas,
    plan: &PlannedSheet,
    heading: Area,
    random: &mut ChaCha8Rng,
) -> Typed {
    let look = &plan.look;
    let amending = &mut self::random(plan.seed, Stream::Amending, plan.index);
    if look.shows_through {
        show_through(canvas, plan, heading, amending);
    }
    if look.amendment == Some(Amendment::Handwritten) {
        return handwritten(canvas, plan, heading, amending);
    }
    let change = look
        .amendment
        .and_then(|kind| Some((kind, Word::choose(&plan.lines, kind, amending)?)));
    let Some((kind, word)) = change else {
        let typing = strike::strike(canvas, look, heading, &plan.lines, random);
        return Typed::of(typing, 0..plan.lines.len());
    };
    let mut amended = Amended {
        machine: &look.machine,
        rows: plan.lines.clone(),
        word,
        own: 0..plan.lines.len(),
        extra: Area::NOTHING,
        changed: Area::NOTHING,
    };
    match kind {
        Amendment::StruckOut => {
            let correction = amended.correct(amending);
            let typing = strike::strike(canvas, look, heading, &amended.rows, random);
            amended.strike_out(canvas, &typing, correction, amending);
            amended.typed(typing)
        }
        Amendment::PastedOver => {
            amended.mistype(amending);
            let typing = strike::strike(canvas, look, heading, &amended.rows, random);
            amended.paste_over(canvas, &typing, plan, amending);
            amended.typed(typing)
        }
        Amendment::Whitened => {
            amended.mistype(amending);
            let typing = strike::strike(canvas, look, heading, &amended.rows, random);
            amended.whiten(canvas, &typing, amending);
            amended.typed(typing)
        }
        Amendment::WrittenOn => {
            let typing = strike::strike(canvas, look, heading, &amended.rows, random);
            amended.write_on(canvas, &typing, heading, amending);
            amended.typed(typing)
        }
        Amendment::Handwritten => unreachable!("written above"),
    }
}

impl Typed {
    /// The typing with half an x-height round it; on a blank strip the heading.
    pub fn strip(&self, heading: Area, canvas: &Canvas) -> Area {
        if self.typing.is_nothing() {
            return heading;
        }
        let (width, height) = (canvas.width as f32, canvas.height as f32);
        self.typing.grown(self.x_height / 2.0, width, height)
    }

    pub fn of(typing: Typing, own: Range<usize>) -> Self {
        let all = typing.areas.iter();
        Self {
            typing: all.fold(Area::NOTHING, |all, line| all.union(line)),
            lines: typing.areas[own].to_vec(),
            x_height: typing.setting.x_height,
            changed: Area::NOTHING,
        }
    }
}

/// A word of a line and where it stands, in characters.
#[derive(Debug, Clone)]
struct Word {
    row: usize,
    columns: Range<usize>,
    text: String,
}

impl Word {
    /// A word worth changing: a value or a part of one. Fluid covers a few letters of it only.
    fn choose(lines: &[String], kind: Amendment, random: &mut ChaCha8Rng) -> Option<Self> {
        /// Shorter ones are words between the values.
        const SHORTEST: usize = 3;
        let words: Vec<Self> = lines
            .iter()
            .enumerate()
            .flat_map(|(row, line)| {
                let mut from = 0;
                let pieces = line.split(' ').map(move |piece| {
                    let columns = from..from + piece.chars().count();
                    from = columns.end + 1;
                    (columns, piece)
                });
                pieces.map(move |(columns, text)| Self {
                    row,
                    columns,
                    text: text.to_owned(),
                })
            })
            .filter(|word| word.columns.len() >= SHORTEST)
            .collect();
        let mut word = words.choose(random)?.clone();
        if kind == Amendment::Whitened {
            let count = random.random_range(1..=word.columns.len().min(5));
            let from = random.random_range(0..=word.columns.len() - count);
            word.text = word.text.chars().skip(from).take(count).collect();
            word.columns = word.columns.start + from..word.columns.start + from + count;
        }
        Some(word)
    }

    /// What stood there before: as long, one to three characters others.
    fn mistaken(&self, random: &mut ChaCha8Rng) -> String {
        let mut letters: Vec<char> = self.text.chars().collect();
        for _ in 0..random.random_range(1..=3) {
            let at = random.random_range(0..letters.len());
            letters[at] = match letters[at] {
                '0'..='9' => char::from(b'0' + random.random_range(0..10)),
                'A'..='Z' => char::from(b'A' + random.random_range(0..26)),
                other => other,
            };
        }
        letters.into_iter().collect()
    }
}

/// Where the right value of a struck-out word stands.
enum Correction {
    /// Typed, after the word or on a row of its own.
    Typed,
    /// Written on this row.
    Written(usize),
}

/// Rows to be typed and the word of them that is changed.
struct Amended<'a> {
    machine: &'a Machine,
    rows: Vec<String>,
    word: Word,
    /// The rows of the plan's own lines.
    own: Range<usize>,
    /// Ink beyond the typing.
    extra: Area,
    changed: Area,
}

impl Amended<'_> {
    fn typed(self, typing: Typing) -> Typed {
        let mut typed = Typed::of(typing, self.own);
        typed.typing = typed.typing.union(&self.extra);
        typed.changed = self.changed;
        typed
    }

    /// Puts `text` in the word's place.
    fn replace(&mut self, text: &str) {
        let line: Vec<char> = self.rows[self.word.row].chars().collect();
        let (before, after) = (
            &line[..self.word.columns.start],
            &line[self.word.columns.end..],
        );
        let text = before.iter().copied().chain(text.chars());
        self.rows[self.word.row] = text.chain(after.iter().copied()).collect();
    }

    fn mistype(&mut self, random: &mut ChaCha8Rng) {
        let mistaken = self.word.mistaken(random);
        self.replace(&mistaken);
    }

    /// Types the wrong word and finds room for the right one.
    fn correct(&mut self, random: &mut ChaCha8Rng) -> Correction {
        let (right, wrong) = (self.word.text.clone(), self.word.mistaken(random));
        let choice = random.random_range(0..20);
        if choice < 9 {
            // Struck out at once, and typed on.
            self.replace(&format!("{wrong} {right}"));
            return Correction::Typed;
        }
        self.replace(&wrong);
        let is_written = choice >= 16;
        let row = " ".repeat(self.word.columns.start) + if is_written { "" } else { &right };
        let first = self.word.row == 0;
        let at = if first { 0 } else { self.rows.len() };
        self.rows.insert(at, row);
        if first {
            self.word.row += 1;
            self.own = 1..self.rows.len();
        }
        if is_written {
            Correction::Written(at)
        } else {
            Correction::Typed
        }
    }

    fn room(&self, typing: &Typing) -> Area {
        let Word { row, columns, .. } = &self.word;
        typing.room(self.machine, *row, &self.rows[*row], columns.clone())
    }

    /// Strikes the word out, and writes the right one where it is not typed.
    fn strike_out(
        &mut self,
        canvas: &mut Canvas,
        typing: &Typing,
        correction: Correction,
        random: &mut ChaCha8Rng,
    ) {
        let room = self.room(typing);
        let x_height = typing.setting.x_height;
        let hand = Hand::choose(self.machine.face.set, x_height, random);
        self.changed = room;
        if let Correction::Written(row) = correction {
            let pen = (room.left, typing.pens[row].1);
            let text = self.word.text.clone();
            self.extra = hand.write(canvas, &text, pen, 0.0, random);
        }
        if matches!(correction, Correction::Typed) && random.random_bool(0.7) {
            let over = *['X', 'X', 'X', 'X', '-', '-', '/', '=', 'M', 'H']
                .choose(random)
                .expect("letters");
            let times = if over == '-' { 2 } else { 1 } + usize::from(random.random_bool(0.3));
            let text = String::from(over).repeat(self.word.columns.len());
            for _ in 0..times {
                let shift = 0.1 * x_height * spread(random);
                let pen = (room.left + shift, room.bottom + 0.3 * shift);
                let struck = (text.as_str(), pen, 0.0);
                strike_at(canvas, self.machine, &typing.setting, struck, random);
            }
            return;
        }
        pen_through(canvas, &hand, room, random);
    }

    /// Pastes a slip over the word and types the right one on it.
    fn paste_over(
        &mut self,
        canvas: &mut Canvas,
        typing: &Typing,
        plan: &PlannedSheet,
        random: &mut ChaCha8Rng,
    ) {
        let (room, x_height) = (self.room(typing), typing.setting.x_height);
        let margin = |random: &mut ChaCha8Rng| within(random, 0.2..0.6) * x_height;
        // A slip cut too low lets the old letters peep out.
        let peeps = random.random_bool(0.3);
        let mut slip = Area {
            left: room.left - margin(random),
            top: room.top - margin(random),
            right: room.right + margin(random),
            bottom: room.bottom + margin(random),
        };
        if peeps {
            match random.random_range(0..3) {
                0 => slip.top = room.top + 0.15 * x_height,
                1 => slip.bottom = room.bottom - 0.12 * x_height,
                _ => slip.right = room.right - 0.4 * x_height,
            }
        }
        self.changed = slip;
        let lean = within(random, -1.5..1.5).to_radians();
        let tone = within(random, 4.0..40.0);
        let through = within(random, 0.0..0.12);
        paste(canvas, slip, lean, |bare| {
            let old = 1.0 - f32::from(bare) / 255.0;
            ((255.0 - tone) * (1.0 - through * old)) as u8
        });
        edges(canvas, slip, lean, random);
        let noise = plan.noise;
        let other = Machine::choose(random, noise, self.machine.face.set, plan.look.resolution);
        let machine = if random.random_bool(0.5) {
            &other
        } else {
            self.machine
        };
        let setting = as_high(machine, &typing.setting);
        let off = (
            0.2 * x_height * spread(random),
            0.12 * x_height * spread(random),
        );
        // The slip turns about its middle, and what is typed on it with it.
        let middle = (
            (slip.left + slip.right) / 2.0,
            (slip.top + slip.bottom) / 2.0,
        );
        let pen = turned((room.left + off.0, room.bottom + off.1), middle, lean);
        let struck = (self.word.text.as_str(), pen, lean);
        self.extra = strike_at(canvas, machine, &setting, struck, random);
    }

    /// Covers the letters with fluid and strikes the right ones on it.
    fn whiten(&mut self, canvas: &mut Canvas, typing: &Typing, random: &mut ChaCha8Rng) {
        let (room, x_height) = (self.room(typing), typing.setting.x_height);
        let blot = Area {
            left: room.left - within(random, 0.1..0.5) * x_height,
            top: room.top - within(random, 0.15..0.6) * x_height,
            right: room.right + within(random, 0.1..0.5) * x_height,
            bottom: room.bottom + within(random, 0.15..0.6) * x_height,
        };
        self.changed = blot;
        fluid(canvas, blot, x_height, random);
        let mut machine = self.machine.clone();
        machine.ribbon = (machine.ribbon * within(random, 0.7..1.3)).clamp(0.4, 1.0);
        let pen = (
            room.left + 0.15 * x_height * spread(random),
            room.bottom + 0.1 * x_height * spread(random),
        );
        let struck = (self.word.text.as_str(), pen, 0.0);
        self.extra = strike_at(canvas, &machine, &typing.setting, struck, random);
    }

    /// Adds something by hand: beside the typing, over it, or between its lines.
    fn write_on(
        &mut self,
        canvas: &mut Canvas,
        typing: &Typing,
        heading: Area,
        random: &mut ChaCha8Rng,
    ) {
        let x_height = typing.setting.x_height;
        let size = within(random, 0.9..1.6) * x_height;
        let hand = Hand::choose(self.machine.face.set, size, random);
        let note = note(random);
        let width = hand.width_of(&note);
        let line = typing.areas[self.word.row];
        let room = self.room(typing);
        let gap = within(random, 0.3..4.0) * x_height;
        let baseline = line.bottom + within(random, -0.5..0.5) * x_height;
        let right = heading.right - x_height;
        let pen = match random.random_range(0..4) {
            0 | 1 if line.right + gap + width < right => (line.right + gap, baseline),
            0 | 1 if line.left - gap - width > heading.left + x_height => {
                (line.left - gap - width, baseline)
            }
            // Over a word or under it.
            2 => (room.left, baseline),
            _ => {
                let off = within(random, 0.5..1.4) * typing.setting.cap_height;
                let above = self.word.row == 0 && room.top - off > heading.top;
                let baseline = if above {
                    room.top - 0.2 * off
                } else {
                    room.bottom + off
                };
                (room.left, baseline)
            }
        };
        let pen = (
            pen.0.clamp(
                heading.left + x_height,
                (right - width).max(heading.left + x_height),
            ),
            pen.1,
        );
        let lean = within(random, -8.0..8.0).to_radians();
        let area = match random.random_range(0..8) {
            0 => tick(canvas, &hand, pen, random),
            1 => ring(canvas, &hand, room, random),
            _ => hand.write(canvas, &note, pen, lean, random),
        };
        self.extra = area;
        self.changed = area;
    }
}
