//! The clerk's desk at speed: a key to the drawn screen, and a sheet accepted to the next one drawn; bytes sent.
//!
//! `cargo bench --profile dev --no-default-features --bench desk -- JOB [SHEETS]`, JOB being a folder of `headword demo JOB
//! --keep readings --sheets 20000`; it keys SHEETS of them, so use a copy. The strips are drawn bars.

use headword::desk::clerk::{Clerk, Code, Effect, Field, Key};
use headword::desk::knowledge::JobKnowledge;
use headword::desk::painter::Commission;
use headword::desk::picture::{Memo, Shape, even_light};
use headword::desk::session::{Session, plan};
use headword::desk::view::{Picture, Scene, Theme, canvas, draw};
use headword::job::Job;
use headword::journal::Holder;
use image::{GrayImage, Luma};
use ratatui::backend::CrosstermBackend;
use ratatui::layout::Rect;
use ratatui::{Terminal, TerminalOptions, Viewport};
use std::cell::RefCell;
use std::io::{self, Write};
use std::path::Path;
use std::rc::Rc;
use std::sync::Arc;
use std::time::Instant;

/// Counts what a terminal would get.
#[derive(Clone, Default)]
struct Counter(Rc<RefCell<usize>>);

impl Write for Counter {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        *self.0.borrow_mut() += bytes.len();
        Ok(bytes.len())
    }

    fn flush(&mut self) -> io::Result<()> {
        Ok(())
    }
}

#[derive(Default)]
struct Times {
    milliseconds: Vec<f64>,
    bytes: usize,
}

impl Times {
    fn print(mut self, what: &str) {
        self.milliseconds.sort_by(f64::total_cmp);
        let count = self.milliseconds.len();
        let at = |share: f64| self.milliseconds[((count - 1) as f64 * share) as usize];
        println!(
            "{what}: {count} times, p50 {:.2} ms, p99 {:.2} ms, slowest {:.1} ms; {} bytes on average",
            at(0.5),
            at(0.99),
            at(1.0),
            self.bytes / count
        );
    }
}

fn main() {
    let arguments: Vec<String> = std::env::args()
        .skip(1)
        .filter(|a| a != "--bench")
        .collect();
    let Some(folder) = arguments.first() else {
        println!(
            "nothing measured: name a job made by `headword demo JOB --keep readings --sheets 20000`"
        );
        return;
    };
    let sheets: usize = arguments
        .get(1)
        .map_or(500, |n| n.parse().expect("a number"));
    for (columns, rows) in [(80, 24), (120, 40), (200, 50)] {
        println!("{columns} x {rows}");
        measure(Path::new(folder), sheets, columns, rows);
    }
}

fn measure(folder: &Path, sheets: usize, columns: u16, rows: u16) {
    let mut job = Job::open(folder).expect("a job");
    let knowledge = JobKnowledge::new(&job.proposer);
    let plan = plan(&job.settings, &job.proposer, 1);
    let holder = Holder::here("bench");
    let mut session = Session::new(&mut job.store, &job.settings, holder, 1).expect("a session");
    let counter = Counter::default();
    let size = TerminalOptions {
        viewport: Viewport::Fixed(Rect::new(0, 0, columns, rows)),
    };
    let backend = CrosstermBackend::new(counter.clone());
    let mut terminal = Terminal::with_options(backend, size).expect("a terminal");
    let memo = Memo::default();
    let first = session.next(0, false).expect("a journal").expect("a sheet");
    let mut desk = Clerk::new(plan.clone(), first, &knowledge);
    desk.settle(&knowledge);
    let [mut keys, mut next, mut roster, mut after] = [(); 4].map(|()| Times::default());
    let mut now = 0;
    for number in 0..sheets {
        let strip = strip(number);
        paint(&desk, &strip, (columns, rows), &memo);
        let mut show = |desk: &Clerk, strip: &GrayImage, tally| {
            let scene = Scene {
                desk,
                picture: Picture::There(strip),
                shape: Some(Shape::Sextant),
                memo: &memo,
                theme: Theme::Greys,
                tally,
                person: "bench",
            };
            terminal
                .draw(|frame| draw(frame, &scene))
                .expect("a screen");
        };
        let tally = session.tally().expect("a tally");
        show(&desk, &strip, tally);
        desk.drawn(now);
        for key in [Code::Char('X'), Code::Backspace, Code::Tab, Code::Left].map(Key::plain) {
            now += 400;
            let (before, start) = (*counter.0.borrow(), Instant::now());
            desk.press(key, now, &knowledge);
            show(&desk, &strip, tally);
            keys.milliseconds.push(start.elapsed().as_secs_f64() * 1e3);
            keys.bytes += *counter.0.borrow() - before;
            // The roster answers beside the keys; how long that takes is told apart.
            let start = Instant::now();
            let had_question = desk.question().is_some();
            desk.settle(&knowledge);
            if had_question {
                roster
                    .milliseconds
                    .push(start.elapsed().as_secs_f64() * 1e3);
            }
        }
        now += 400;
        desk.press(Key::ctrl('o'), now, &knowledge);
        now += 400;
        // The next sheet is painted while the one before it is in hand.
        let next_strip = self::strip(number + 1);
        let coming = session.coming(1);
        if let Some(coming) = coming.first() {
            let sheet = session.look_up(coming).expect("a sheet");
            let coming = Clerk::new(plan.clone(), sheet, &knowledge);
            paint(&coming, &next_strip, (columns, rows), &memo);
        }
        let (before, start) = (*counter.0.borrow(), Instant::now());
        let Some(Effect::Append(act)) = desk.press(Key::plain(Code::Enter), now, &knowledge) else {
            panic!("a sheet is put off by its reason");
        };
        let entry = session
            .append(desk.sheet(), act.clone(), now)
            .expect("an entry");
        desk.written(entry, &act);
        let sheet = session
            .next(now, false)
            .expect("a journal")
            .expect("another sheet");
        desk.open(sheet, &knowledge);
        show(&desk, &next_strip, tally);
        next.milliseconds.push(start.elapsed().as_secs_f64() * 1e3);
        next.bytes += *counter.0.borrow() - before;
        let start = Instant::now();
        session.tally().expect("a tally");
        session.refill(now, false).expect("a claim");
        after.milliseconds.push(start.elapsed().as_secs_f64() * 1e3);
    }
    session.end().expect("the claims go back");
    keys.print("a key to the drawn screen");
    next.print("a sheet written down to the next one drawn");
    after.print("what follows once it is drawn: counting, claiming");
    roster.print("an answer of the roster, beside the keys");
}

/// Another picture for each sheet, made ahead as the supply does.
fn strip(number: usize) -> Arc<GrayImage> {
    Arc::new(even_light(&GrayImage::from_fn(2_000, 120, |x, y| {
        let is_bar = (x / 9 + y / 50 + number as u32).is_multiple_of(3);
        let is_ink = is_bar && y % 50 < 30;
        Luma([if is_ink { 30 } else { 230 }])
    })))
}

/// As the painter's thread does.
fn paint(desk: &Clerk, strip: &Arc<GrayImage>, screen: (u16, u16), memo: &Memo) {
    let fields = desk.fields();
    let commission = Commission {
        sheet: desk.sheet().sheet.clone(),
        strip: strip.clone(),
        reading: desk.sheet().reading.clone(),
        fields: fields.iter().map(Field::bounds).collect(),
        canvas: canvas(screen, fields.len(), Shape::Sextant, Theme::Greys),
    };
    commission.paint(memo);
}
