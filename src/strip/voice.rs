//! Which lines on a piece are its heading: those whose letters speak with one voice.

use super::facing::Say;
use super::lines::Line;

/// The lines that belong to the clearest one, and what their letters say together.
///
/// Grain, bars and frames say little, are of other heights, or lie far off; worn type right beside the clearest line
/// says little too, and belongs to it all the same.
pub fn of_one_voice(lines: Vec<Line>, says: &[Say]) -> Option<(Vec<Line>, Say)> {
    /// Least gain over chance of a line's letters, as a share of the clearest line's.
    const LEAST_GAIN: f64 = 0.3;
    /// Heights of two lines of one heading.
    const LIKE: std::ops::RangeInclusive<f64> = 0.7..=1.43;
    /// Blank between neighbouring lines, in their height: up to double spacing, and close enough to need no say.
    const FARTHEST: f64 = 2.5;
    const CLOSE: f64 = 1.4;
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
            && (say.gain(facing) >= LEAST_GAIN * clear || (line.expected && blank <= CLOSE))
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
    Some((lines[first..=last].to_vec(), telling.copied().sum()))
}
