//! The reader over the system's Tesseract library. Traps that shaped it: one engine a process (its threads quarrel),
//! engine and iterators kept in one function (iterators outlive their engine unchecked), sizes bounded before they
//! reach it (it multiplies them in 32 bits), no text with NUL bytes handed in.

use super::{Alternative, Line, Position, Reader, ReaderError};
use crate::value::Bounds;
use image::imageops::{self, FilterType};
use image::{GrayImage, Luma};
use tesseract_rs::{
    ResultIterator, TessPageIteratorLevel, TessPageSegMode, TesseractAPI, TesseractError,
};

/// Height in pixels to which a line is brought before it is read; the line's box holds ascenders and descenders.
/// Tesseract's own advice is an x-height near 20 pixels and not above 30 (its FAQ); this gives about that.
/// Chosen with `SMOOTHING` on tuning seeds 103 to 105: 36 to 56 differ by less than a tenth of the character errors.
const LINE_HEIGHT: f64 = 42.0;

/// Gaussian blur before scaling, as a share of the line's height: takes film grain and broken strokes' gaps away.
/// On tuning seed 104 (240 sheets) it took the character error rate from .031 to .021 at default noise and from .121 to
/// .107 at heavy noise; a third more or less of it changes little.
const SMOOTHING: f32 = 0.0375;

/// What a typist's keyboard has and strips use. Without a bound the engine reads dirt as typographer's marks; with it
/// the character error rate fell by a fifth (tuning seed 103). Letters with diacritics are
/// not in the `eng` data's reach. Without the blank among them the engine loses blanks and doubts every word's start.
const KEYBOARD: &str =
    "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789-,./'&()?:#+ ";

/// White border in pixels round the line; Tesseract's advice for tight crops is 10.
const BORDER: u32 = 12;

/// Longest line in pixels that is handed over, after scaling; longer ones are squeezed.
const MAX_WIDTH: u32 = 16_000;

/// A gap this many pitches wide between two characters that Tesseract put into one word is a blank that may be there.
const DOUBTFUL_GAP: f64 = 0.75;

/// Tesseract's LSTM engine, with the `eng` data of the system.
pub struct TesseractReader {
    engine: TesseractAPI,
    name: String,
}

impl TesseractReader {
    /// Loads the engine; about 50 ms.
    pub fn start() -> Result<Self, ReaderError> {
        let engine = TesseractAPI::new();
        let start = || -> Result<(), TesseractError> {
            // An empty folder lets the library look where TESSDATA_PREFIX says, or where it was built to look.
            engine.init("", "eng")?;
            engine.set_variable("debug_file", "/dev/null")?;
            engine.set_variable("tessedit_char_whitelist", KEYBOARD)?;
            // Alternatives for each symbol, taken from the CTC output.
            engine.set_variable("lstm_choice_mode", "2")?;
            engine.set_page_seg_mode(TessPageSegMode::PSM_SINGLE_LINE)
        };
        start().map_err(|fault| ReaderError::Start {
            folder: std::env::var("TESSDATA_PREFIX")
                .unwrap_or_else(|_| "the system's folder".into()),
            cause: fault.to_string(),
        })?;
        let name = format!("tesseract {} eng", TesseractAPI::version());
        Ok(Self { engine, name })
    }

    /// Scales to `LINE_HEIGHT`, with a border; returns the picture and pixels of the line per pixel of the picture.
    fn prepare(line: &GrayImage) -> (GrayImage, f64, f64) {
        let height = LINE_HEIGHT as u32;
        let width = (f64::from(line.width()) * LINE_HEIGHT / f64::from(line.height())).round();
        let width = (width as u32).clamp(1, MAX_WIDTH);
        let smooth = imageops::fast_blur(line, SMOOTHING * line.height() as f32);
        let scaled = imageops::resize(&smooth, width, height, FilterType::CatmullRom);
        let mut picture =
            GrayImage::from_pixel(width + 2 * BORDER, height + 2 * BORDER, Luma([255]));
        imageops::replace(&mut picture, &scaled, i64::from(BORDER), i64::from(BORDER));
        let per_x = f64::from(line.width()) / f64::from(width);
        let per_y = f64::from(line.height()) / f64::from(height);
        (picture, per_x, per_y)
    }
}

impl Reader for TesseractReader {
    fn name(&self) -> &str {
        &self.name
    }

    fn read_line(&mut self, line: &GrayImage) -> Result<Line, ReaderError> {
        let (width, height) = line.dimensions();
        if width == 0 || height == 0 {
            return Ok(Line::default());
        }
        let (picture, per_x, per_y) = Self::prepare(line);
        let symbols = recognise(&self.engine, &picture).map_err(|fault| ReaderError::Line {
            width,
            height,
            cause: fault.to_string(),
        })?;
        let back = |(left, top, right, bottom): (i32, i32, i32, i32)| {
            let x = |v: i32| {
                (f64::from(v - BORDER as i32) * per_x)
                    .round()
                    .clamp(0.0, width.into())
            };
            let y = |v: i32| {
                (f64::from(v - BORDER as i32) * per_y)
                    .round()
                    .clamp(0.0, height.into())
            };
            Bounds::new(
                x(left) as u32,
                y(top) as u32,
                x(right) as u32,
                y(bottom) as u32,
            )
        };
        let symbols: Vec<Symbol> = symbols
            .into_iter()
            .map(|raw| Symbol {
                bounds: back(raw.bounds),
                alternatives: alternatives(raw.choices),
                starts_word: raw.starts_word,
            })
            .collect();
        let mut line = Line {
            bounds: Bounds::new(0, 0, width, height),
            positions: with_blanks(symbols),
            posterior: None,
        };
        line.settle_case();
        Ok(line)
    }
}

/// A symbol as Tesseract gives it: box in pixels of its picture, choices with confidences of 0 to 100.
struct RawSymbol {
    bounds: (i32, i32, i32, i32),
    choices: Vec<(String, f32)>,
    starts_word: bool,
}

struct Symbol {
    bounds: Bounds,
    alternatives: Vec<Alternative>,
    starts_word: bool,
}

/// Runs the engine and takes everything out of its iterators before they go.
fn recognise(engine: &TesseractAPI, picture: &GrayImage) -> Result<Vec<RawSymbol>, TesseractError> {
    let (width, height) = (picture.width() as i32, picture.height() as i32);
    engine.set_image(picture.as_raw(), width, height, 1, width)?;
    // Keeps it from guessing (and complaining); 300 dpi is what the line height was chosen for.
    engine.set_source_resolution(300)?;
    engine.recognize()?;
    let mut symbols = Vec::new();
    // No iterator: nothing was recognised.
    let Ok(iterator) = engine.get_iterator() else {
        return Ok(symbols);
    };
    let mut word_at = None;
    loop {
        let level = TessPageIteratorLevel::RIL_SYMBOL;
        if let (Ok(text), Ok(bounds)) = (
            iterator.get_utf8_text(level),
            iterator.get_bounding_box(level),
        ) {
            let word = iterator
                .get_bounding_box(TessPageIteratorLevel::RIL_WORD)
                .ok();
            let confidence = iterator.confidence(level)?;
            symbols.push(RawSymbol {
                bounds,
                choices: choices(&iterator, text, confidence),
                starts_word: word != word_at,
            });
            word_at = word;
        }
        if !iterator.next(level)? {
            break;
        }
    }
    engine.clear()?;
    Ok(symbols)
}

/// The chosen text first, then the others. The choice iterator starts on its first choice; the chosen one may be
/// missing from it or stand anywhere in it.
fn choices(iterator: &ResultIterator, text: String, confidence: f32) -> Vec<(String, f32)> {
    let mut choices = vec![(text, confidence)];
    if let Ok(others) = iterator.get_choice_iterator() {
        loop {
            if let (Ok(text), Ok(confidence)) = (others.get_utf8_text(), others.confidence()) {
                match choices.iter_mut().find(|(known, _)| *known == text) {
                    Some(known) => known.1 = known.1.max(confidence),
                    None => choices.push((text, confidence)),
                }
            }
            if !others.next().unwrap_or(false) {
                break;
            }
        }
    }
    choices
}

/// Confidences to probabilities that leave room for what Tesseract did not think of.
fn alternatives(choices: Vec<(String, f32)>) -> Vec<Alternative> {
    let weight = |confidence: f32| f64::from(confidence.clamp(0.0, 100.0)) / 100.0;
    let total: f64 = choices
        .iter()
        .map(|(_, confidence)| weight(*confidence))
        .sum();
    let scale = 1.0 / total.max(1.0);
    let mut alternatives: Vec<_> = choices
        .into_iter()
        .filter(|(text, _)| !text.trim().is_empty())
        .map(|(text, confidence)| Alternative::new(text, weight(confidence) * scale))
        .collect();
    alternatives.sort_by(|a, b| b.probability.get().total_cmp(&a.probability.get()));
    alternatives
}

/// Puts blanks between words, and doubtful ones into gaps that look like one.
fn with_blanks(symbols: Vec<Symbol>) -> Vec<Position> {
    let pitch = pitch(&symbols);
    let mut positions: Vec<Position> = Vec::with_capacity(symbols.len() * 2);
    for symbol in symbols {
        if symbol.alternatives.is_empty() {
            continue;
        }
        if let Some(before) = positions.last() {
            let gap = f64::from(symbol.bounds.left.saturating_sub(before.bounds.right)) / pitch;
            let blank = if symbol.starts_word {
                Some(0.97)
            } else {
                (gap > DOUBTFUL_GAP).then_some(0.5)
            };
            if let Some(probability) = blank {
                let (left, right) = (before.bounds.right, symbol.bounds.left);
                positions.push(Position {
                    bounds: Bounds {
                        left: left.min(right),
                        right: left.max(right),
                        ..symbol.bounds
                    },
                    alternatives: vec![
                        Alternative::new(" ", probability),
                        Alternative::new("", 1.0 - probability),
                    ],
                });
            }
        }
        positions.push(Position {
            bounds: symbol.bounds,
            alternatives: symbol.alternatives,
        });
    }
    positions
}

/// Median distance between the middles of neighbouring characters of one word, in pixels; at least 1.
fn pitch(symbols: &[Symbol]) -> f64 {
    let middle = |symbol: &Symbol| f64::from(symbol.bounds.left + symbol.bounds.right) / 2.0;
    let mut steps: Vec<f64> = symbols
        .windows(2)
        .filter(|pair| !pair[1].starts_word)
        .map(|pair| middle(&pair[1]) - middle(&pair[0]))
        .collect();
    steps.sort_by(f64::total_cmp);
    steps.get(steps.len() / 2).copied().unwrap_or(1.0).max(1.0)
}
