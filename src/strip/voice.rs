//! Which lines on a piece are its heading: those whose letters speak with one voice.

use super::facing::{Say, Voice};
use super::ink::Component;
use super::lines::Line;
use crate::value::Bounds;

/// The lines that belong to the clearest one, and what their letters say together.
///
/// Grain, bars and frames say little, are of other heights, or lie far off; worn type right beside the clearest line
/// says little too, and belongs to it all the same.
pub fn of_one_voice(lines: Vec<Line>, voices: &[Vec<Voice>]) -> Option<(Vec<Line>, Say)> {
    /// Least gain over chance of a line's letters, as a share of the clearest line's.
    const LEAST_GAIN: f64 = 0.3;
    /// Heights of two lines of one heading.
    const LIKE: std::ops::RangeInclusive<f64> = 0.7..=1.43;
    /// Blank between neighbouring lines, in their height: up to double spacing, and close enough to need no say.
    const FARTHEST: f64 = 2.5;
    const CLOSE: f64 = 1.4;
    /// What must speak for a line that was not expected being type, in nats a letter: frames have less, and may face
    /// like type by chance.
    const LEAST_ODDS: f64 = 0.3;
    let says: Vec<Say> = voices.iter().map(|line| together(line)).collect();
    let weight = |say: &Say| say.gain(say.likeliest()) * say.letters as f64 + say.odds;
    let clearest =
        (0..says.len()).max_by(|&a, &b| weight(&says[a]).total_cmp(&weight(&says[b])))?;
    let facing = says[clearest].likeliest();
    let clear = says[clearest].gain(facing);
    let height = |line: &Line| line.core.1 - line.core.0;
    let belongs = |line: &Line, say: &Say, neighbour: &Line| {
        let blank = (line.core.0 - neighbour.core.1).max(neighbour.core.0 - line.core.1);
        let blank = blank / height(neighbour);
        LIKE.contains(&(height(line) / height(&lines[clearest])))
            && blank <= FARTHEST
            && if line.expected {
                blank <= CLOSE || say.gain(facing) >= LEAST_GAIN * clear
            } else {
                say.gain(facing) >= LEAST_GAIN * clear
                    && say.odds >= LEAST_ODDS * say.letters as f64
            }
    };
    let (mut first, mut last) = (clearest, clearest);
    while first > 0 && belongs(&lines[first - 1], &says[first - 1], &lines[first]) {
        first -= 1;
    }
    while last + 1 < lines.len() && belongs(&lines[last + 1], &says[last + 1], &lines[last]) {
        last += 1;
    }
    let telling = says[first..=last]
        .iter()
        .filter(|say| say.gain(facing) >= clear.min(LEAST_GAIN * clear));
    let own = lines[first..=last].iter().zip(&voices[first..=last]);
    let own = own.map(|(line, voices)| trimmed(line, voices, facing));
    Some((own.collect(), telling.copied().sum()))
}

fn together(voices: &[Voice]) -> Say {
    voices.iter().map(|voice| voice.say).sum()
}

/// A line less what stands by itself at its ends and is no type: the edge of a sheet or of a label, a scratch.
///
/// On tuning sheets this drops 38 of 44 such pieces, and of 1,856 stretches of type at the ends of lines 6 single
/// characters that are hardly to be read.
fn trimmed(line: &Line, voices: &[Voice], facing: usize) -> Line {
    /// Blank beside what stands by itself, in letter heights.
    const APART: f64 = 2.0;
    /// Most letters that are dropped together: fields have more.
    const MOST_DROPPED: usize = 2;
    /// What must speak for letters that stand by themselves, in nats a letter: for type, and twice for its facing.
    const LEAST: f64 = 0.8;
    let height = line.core.1 - line.core.0;
    let is_gap = |pair: &[Component]| {
        f64::from(pair[1].bounds.left) - f64::from(pair[0].bounds.right) > APART * height
    };
    let is_type = |letters: &[Component]| {
        let (Some(first), Some(last)) = (letters.first(), letters.last()) else {
            return true;
        };
        let within = f64::from(first.bounds.left)..=f64::from(last.bounds.right);
        let say: Say = voices
            .iter()
            .filter(|voice| within.contains(&voice.x))
            .map(|voice| voice.say)
            .sum();
        let each = say.odds / say.letters.max(1) as f64;
        letters.len() > MOST_DROPPED || say.letters == 0 || each + 2.0 * say.gain(facing) >= LEAST
    };
    let mut letters = &line.letters[..];
    while let Some(gap) = letters.windows(2).position(is_gap) {
        if is_type(&letters[..=gap]) {
            break;
        }
        letters = &letters[gap + 1..];
    }
    while let Some(gap) = letters.windows(2).rposition(is_gap) {
        if is_type(&letters[gap + 1..]) {
            break;
        }
        letters = &letters[..=gap];
    }
    if letters.len() == line.letters.len() {
        return line.clone();
    }
    let beside = height as u32;
    let (first, last) = (letters[0].bounds, letters[letters.len() - 1].bounds);
    Line {
        bounds: Bounds {
            left: line.bounds.left.max(first.left.saturating_sub(beside)),
            right: line.bounds.right.min(last.right + beside),
            ..line.bounds
        },
        letters: letters.to_vec(),
        ..line.clone()
    }
}
