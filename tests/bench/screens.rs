//! The clerk's desk as pictures: how legible its strips are, and screens to look at.
//!
//! `cargo bench --profile dev --bench screens -- --job DIR [--sheets 24]`, DIR being a folder of `headword demo DIR
//! --headless`, draws the desk of each sheet at 80 x 24 and 120 x 40 cells, turns the cells into pixels (8 x 16 a cell, blurred
//! by .55 of a sextant's width, which stands for the eye) and has them read, beside the same places of the strip itself.
//! With `--pictures FOLDER` it writes screens of one sheet (`--sheet NAME`) at three sizes instead, or, with `--settle`, those
//! of the reviewer's desk with the first sheet in dispute.

#[path = "arguments.rs"]
mod arguments;
#[path = "raster.rs"]
mod raster;

use headword::desk::clerk::{Clerk, Field};
use headword::desk::knowledge::JobKnowledge;
use headword::desk::picture::{Canvas, Gaze, Memo, Shape, Subject, Window, compose, even_light};
use headword::desk::session::{plan, seen};
use headword::desk::settle::docket::Docket;
use headword::desk::settle::{self, Reviewer};
use headword::desk::view::{Picture, Scene, Theme, canvas, draw};
use headword::job::Job;
use headword::journal::{Holder, Store, Tally};
use headword::reading::{Line, Lying, NetReader, Reader};
use headword::review::Comparer;
use headword::strip;
use headword::value::{Bounds, SheetId};
use image::imageops;
use image::{DynamicImage, GrayImage};
use ratatui::Terminal;
use ratatui::backend::TestBackend;
use ratatui::layout::Rect;
use std::collections::{BTreeMap, HashMap};
use std::path::Path;

/// Pixels of a cell, and the blur: .55 of a sextant's width.
const CELL: (u32, u32) = (8, 16);
const BLUR: f32 = 0.55 * 4.0;
/// Screens that people look at, in cells.
const SIZES: [(u16, u16); 3] = [(80, 24), (120, 40), (200, 50)];
/// Pixels of a cell in them.
const SHOWN_CELL: (u32, u32) = (9, 18);

fn main() {
    let Some(folder) = arguments::value("--job") else {
        println!(
            "nothing measured: name a job made by `headword demo DIR --headless` with --job DIR"
        );
        return;
    };
    let job = Job::open(Path::new(&folder)).expect("a job");
    let settles = std::env::args().any(|argument| argument == "--settle");
    match arguments::value("--pictures") {
        Some(out) if settles => write_settling(job, Path::new(&out)),
        Some(out) => write_screens(&job, Path::new(&out)),
        None => measure(&job, arguments::number("--sheets", 24)),
    }
}

/// A sheet's desk and its strip.
fn opened(job: &Job, sheet: &SheetId) -> Option<(Clerk, GrayImage)> {
    let store = &job.store;
    let record = store.sheet(sheet).expect("a journal")?;
    let reading = store.reading(sheet).expect("a journal")?;
    let lying = Lying::from(reading.lay.as_ref()?);
    let proposal = store.proposal(sheet).expect("a journal");
    let mut desk_sheet = seen(&job.settings, &record, 1, Some(reading), proposal);
    desk_sheet.unfilled = false;
    let places = store.overview().expect("a journal");
    desk_sheet.of = places.len();
    let at = places
        .iter()
        .position(|status| status.record.sheet == *sheet);
    desk_sheet.place = at? + 1;
    let path = job.settings.sheets_folder().join(sheet.as_str());
    let image = strip::open(&path).ok()?.image;
    let strip = lying.put(&strip::find(&image).strip?);
    let knowledge = JobKnowledge::new(&job.proposer);
    let plan = plan(&job.settings, &job.proposer, 1);
    let mut desk = Clerk::new(plan, desk_sheet, &knowledge);
    desk.settle(&knowledge);
    Some((desk, strip.image))
}

fn write_screens(job: &Job, out: &Path) {
    let sheet = arguments::value("--sheet").expect("--sheet NAME");
    let (desk, strip) = opened(job, &SheetId::new(sheet)).expect("a sheet with a strip");
    let strip = even_light(&strip);
    for size in SIZES {
        let mut terminal = Terminal::new(TestBackend::new(size.0, size.1)).expect("a screen");
        let scene = Scene {
            desk: &desk,
            picture: Picture::There(&strip),
            shape: Some(Shape::Sextant),
            memo: &Memo::default(),
            theme: Theme::Greys,
            tally: Tally {
                sheets: desk.sheet().of,
                keyed: desk.sheet().place - 1,
                ..Tally::default()
            },
            person: "mia",
        };
        terminal
            .draw(|frame| draw(frame, &scene))
            .expect("a screen");
        write(&terminal, out, "desk", size);
    }
}

/// The reviewer's desk with the first sheet in dispute.
fn write_settling(mut job: Job, out: &Path) {
    let knowledge = JobKnowledge::new(&job.proposer);
    let comparer = Comparer::new(&job.settings.quality, job.proposer.rules().fields());
    let holder = Holder::here("rio");
    let mut docket =
        Docket::new(&mut job.store, &job.settings, comparer, holder, false).expect("a docket");
    let case = docket.next(0).expect("a journal").expect("a dispute");
    docket.end().expect("the claim goes back");
    let path = job.settings.sheets_folder().join(case.sheet.as_str());
    let image = strip::open(&path).expect("an image").image;
    let strip = even_light(&strip::find(&image).strip.expect("a strip").image);
    let desk = Reviewer::new(case);
    for size in SIZES {
        let mut terminal = Terminal::new(TestBackend::new(size.0, size.1)).expect("a screen");
        let scene = settle::Scene {
            desk: &desk,
            picture: Picture::There(&strip),
            shape: Some(Shape::Sextant),
            memo: &Memo::default(),
            theme: Theme::Greys,
            knowledge: &knowledge,
            settled: 0,
            person: "rio",
        };
        terminal
            .draw(|frame| settle::draw(frame, &scene))
            .expect("a screen");
        write(&terminal, out, "settle", size);
    }
}

fn write(terminal: &Terminal<TestBackend>, out: &Path, name: &str, size: (u16, u16)) {
    std::fs::create_dir_all(out).expect("a folder");
    let picture = raster::raster(terminal.backend().buffer(), SHOWN_CELL);
    let picture = DynamicImage::ImageRgb8(picture).to_luma8();
    let path = out.join(format!("{name}-{}x{}.png", size.0, size.1));
    picture.save(&path).expect("a file");
    println!("{}", path.display());
}

/// Errors and characters, of the strip itself and of its cells.
#[derive(Default)]
struct Errors {
    characters: usize,
    strip: usize,
    cells: usize,
}

fn measure(job: &Job, most: usize) {
    let truth = read_truth(&job.settings.folder.join("truth.csv"));
    let mut readers: Vec<Box<dyn Reader>> = vec![Box::new(
        NetReader::start().expect("the net is part of the program"),
    )];
    #[cfg(feature = "tesseract")]
    readers.insert(
        0,
        Box::new(headword::reading::TesseractReader::start().expect("Tesseract is installed")),
    );
    let mut totals: BTreeMap<(String, &str, String), Errors> = BTreeMap::new();
    let mut sheets = 0;
    for status in job.store.overview().expect("a journal") {
        let sheet = &status.record.sheet;
        let (Some((desk, strip)), Some(text)) = (opened(job, sheet), truth.get(sheet.as_str()))
        else {
            continue;
        };
        if sheets == most {
            break;
        }
        sheets += 1;
        for size in [(80, 24), (120, 40)] {
            for (part, window, line, range) in windows(&desk, &strip, size) {
                let positions = &line.positions[range.clone()];
                let from = positions[0].bounds.left;
                let to = positions[positions.len() - 1].bounds.right;
                let place = Bounds::new(from, line.bounds.top, to, line.bounds.bottom);
                let true_text = segment(&desk.sheet().reading.lines, &line, range, text);
                let own =
                    imageops::crop_imm(&strip, from, place.top, place.width(), place.height());
                let Some(cells) = seen_in(&window, place) else {
                    continue;
                };
                for reader in &mut readers {
                    let key = (
                        format!("{} x {}", size.0, size.1),
                        part,
                        reader.name().to_owned(),
                    );
                    let errors = totals.entry(key).or_default();
                    let mut wrong = |picture: &GrayImage| {
                        let read = reader.read_line(picture).expect("a line").text();
                        let read = plain(&read);
                        strsim::levenshtein(&read, &true_text).min(true_text.chars().count())
                    };
                    errors.characters += true_text.chars().count();
                    errors.strip += wrong(&own.to_image());
                    errors.cells += wrong(&cells);
                }
            }
        }
    }
    println!("{sheets} sheets; character error rates, letters' case and blanks left out");
    println!("screen    part      reader                  characters  strip  cells");
    for ((size, part, reader), errors) in totals {
        let rate = |wrong: usize| wrong as f64 / errors.characters.max(1) as f64;
        println!(
            "{size:9} {part:9} {reader:22} {:11} {:6.3} {:6.3}",
            errors.characters,
            rate(errors.strip),
            rate(errors.cells)
        );
    }
}

/// A part of the desk, the window that shows it, the line and which of its characters.
type Seen = (&'static str, Window, Line, std::ops::Range<usize>);

/// What is to be read on a desk: each line in each band, and each field close up.
fn windows(desk: &Clerk, strip: &GrayImage, size: (u16, u16)) -> Vec<Seen> {
    let strip = even_light(strip);
    let fields = desk.fields();
    let canvas: Canvas = canvas(size, fields.len(), Shape::Sextant, Theme::Greys);
    let subject = Subject {
        sheet: &desk.sheet().sheet,
        image: &strip,
        whole: false,
        reading: &desk.sheet().reading,
    };
    let memo = Memo::default();
    let mut seen = Vec::new();
    let lines = &desk.sheet().reading.lines;
    let inside = |line: &Line, from: u32, to: u32| {
        let is_inside = |at: &usize| {
            let bounds = line.positions[*at].bounds;
            bounds.left >= from && bounds.right <= to
        };
        let all = 0..line.positions.len();
        let first = all.clone().find(is_inside)?;
        let last = all.rev().find(is_inside)?;
        (first <= last).then_some(first..last + 1)
    };
    let composed = |field: Option<Bounds>| {
        let gaze = Gaze {
            field,
            ..Gaze::default()
        };
        compose(&memo, subject, canvas, gaze)
    };
    let first = fields.iter().find_map(Field::bounds);
    for band in composed(first).bands.iter() {
        for line in lines {
            if let Some(range) = inside(line, band.shows.left, band.shows.right) {
                seen.push(("bands", band.clone(), line.clone(), range));
            }
        }
    }
    for bounds in fields.iter().filter_map(Field::bounds) {
        let Some(window) = composed(Some(bounds)).window else {
            continue;
        };
        let line = lines
            .iter()
            .find(|line| line.bounds.top <= bounds.top && line.bounds.bottom >= bounds.bottom);
        let shown = window.shows;
        let (from, to) = (bounds.left.max(shown.left), bounds.right.min(shown.right));
        if let Some(line) = line
            && let Some(range) = inside(line, from, to)
        {
            seen.push(("close-up", (*window).clone(), line.clone(), range));
        }
    }
    seen
}

/// The pixels of a place of the strip in a window's cells.
fn seen_in(window: &Window, place: Bounds) -> Option<GrayImage> {
    let rows = window.cells.len() as u16;
    let columns = window.cells.first()?.len() as u16;
    let mut buffer = ratatui::buffer::Buffer::empty(Rect::new(0, 0, columns, rows));
    headword::desk::view::put_cells(&mut buffer, &window.cells, Theme::Greys);
    let picture = DynamicImage::ImageRgb8(raster::raster(&buffer, CELL)).to_luma8();
    let picture = imageops::blur(&picture, BLUR);
    let shows = window.shows;
    let scale = |at: u32, from: u32, length: u32, pixels: u32| {
        let share = f64::from(at.saturating_sub(from)) / f64::from(length.max(1));
        (share * f64::from(pixels)).round() as u32
    };
    let (width, height) = picture.dimensions();
    let left = scale(place.left, shows.left, shows.width(), width);
    let right = scale(place.right, shows.left, shows.width(), width).min(width);
    let top = scale(place.top, shows.top, shows.height(), height);
    let bottom = scale(place.bottom, shows.top, shows.height(), height).min(height);
    (right > left && bottom > top)
        .then(|| imageops::crop_imm(&picture, left, top, right - left, bottom - top).to_image())
}

/// What really stands at some positions of a line: the true text laid along the reading by the fewest changes.
fn segment(lines: &[Line], line: &Line, range: std::ops::Range<usize>, text: &str) -> String {
    let mut read: Vec<char> = Vec::new();
    let (mut from, mut to) = (0, 0);
    for other in lines {
        for (at, position) in other.positions.iter().enumerate() {
            if other.bounds == line.bounds && at == range.start {
                from = read.len();
            }
            read.extend(plain(position.best()).chars());
            if other.bounds == line.bounds && at + 1 == range.end {
                to = read.len();
            }
        }
    }
    let text: Vec<char> = plain(text).chars().collect();
    let at = laid_along(&read, &text);
    text[at[from]..at[to]].iter().collect()
}

/// For each place between the characters of `read` the place in `text` that belongs to it.
fn laid_along(read: &[char], text: &[char]) -> Vec<usize> {
    let width = text.len() + 1;
    let mut cost = vec![0usize; (read.len() + 1) * width];
    for row in 0..=read.len() {
        for column in 0..width {
            cost[row * width + column] = match (row, column) {
                (0, n) | (n, 0) => n,
                _ => {
                    let other = usize::from(read[row - 1] != text[column - 1]);
                    (cost[(row - 1) * width + column - 1] + other)
                        .min(cost[(row - 1) * width + column] + 1)
                        .min(cost[row * width + column - 1] + 1)
                }
            };
        }
    }
    let mut places = vec![0; read.len() + 1];
    let (mut row, mut column) = (read.len(), text.len());
    places[row] = column;
    while row > 0 {
        let here = cost[row * width + column];
        if column > 0 {
            let other = usize::from(read[row - 1] != text[column - 1]);
            if here == cost[(row - 1) * width + column - 1] + other {
                (row, column) = (row - 1, column - 1);
                places[row] = column;
                continue;
            }
            if here == cost[row * width + column - 1] + 1 {
                column -= 1;
                continue;
            }
        }
        row -= 1;
        places[row] = column;
    }
    places
}

/// Capitals without blanks.
fn plain(text: &str) -> String {
    let kept = text.chars().filter(|c| !c.is_whitespace());
    kept.flat_map(char::to_uppercase).collect()
}

/// The text of each sheet's strip.
fn read_truth(path: &Path) -> HashMap<String, String> {
    let mut rows = csv::Reader::from_path(path).expect("the job's truth.csv");
    let header = rows.headers().expect("a header").clone();
    let column = |name: &str| header.iter().position(|c| c == name).expect("a column");
    let (sheet, text) = (column("sheet"), column("text"));
    let rows = rows.records().map(|row| row.expect("a row"));
    rows.map(|row| (row[sheet].to_owned(), row[text].to_owned()))
        .collect()
}
