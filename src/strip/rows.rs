//! Pieces of ink joined into rows of type.

/// A piece of ink on a level working picture: its middle, size and ink pixels, in pixels.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Piece {
    pub x: f64,
    pub y: f64,
    pub width: f64,
    pub height: f64,
    pub area: f64,
}

impl Piece {
    pub fn left(&self) -> f64 {
        self.x - self.width / 2.0
    }

    pub fn right(&self) -> f64 {
        self.x + self.width / 2.0
    }
}

/// Heights of pieces that may be letters on the working image, in pixels.
const LETTER_HEIGHT: std::ops::RangeInclusive<f64> = 5.0..=64.0;

/// A row of type on the working image: the line `y = middle + slope * x`, and the pieces along it.
#[derive(Debug, Clone)]
pub struct Row {
    pub slope: f64,
    /// The height of the line at x = 0, in pixels.
    pub middle: f64,
    /// Median height of the letters, in pixels.
    pub letter: f64,
    pub left: f64,
    pub right: f64,
    /// The letters, by their place in the list of pieces.
    pub letters: Vec<usize>,
}

impl Row {
    pub fn y_at(&self, x: f64) -> f64 {
        self.middle + self.slope * x
    }

    pub fn centre_x(&self) -> f64 {
        (self.left + self.right) / 2.0
    }

    pub fn centre_y(&self) -> f64 {
        self.y_at(self.centre_x())
    }
}

/// Finds rows of type, the longest chains of letters first; a piece belongs to one row at most.
pub fn rows(pieces: &[Piece]) -> Vec<Row> {
    let chains = chains(pieces);
    let mut taken = vec![false; pieces.len()];
    let mut by_left: Vec<usize> = (0..pieces.len())
        .filter(|&i| could_be_letter(&pieces[i]))
        .collect();
    by_left.sort_by(|&a, &b| pieces[a].left().total_cmp(&pieces[b].left()));
    let mut rows = Vec::new();
    for chain in &chains {
        let free: Vec<usize> = chain.iter().copied().filter(|&i| !taken[i]).collect();
        if free.len() < 3 {
            continue;
        }
        let Some(row) = grow(pieces, free, &by_left, &taken) else {
            continue;
        };
        for &i in &row.letters {
            taken[i] = true;
        }
        rows.push(row);
    }
    rows
}

fn could_be_letter(piece: &Piece) -> bool {
    LETTER_HEIGHT.contains(&piece.height) && piece.width <= 5.0 * piece.height
}

/// Pieces of like height that follow each other from left to right, longest chains first.
fn chains(pieces: &[Piece]) -> Vec<Vec<usize>> {
    /// Gap between neighbours, in heights of the taller one.
    const GAP: f64 = 1.6;
    /// Height of one neighbour over the other's.
    const RATIO: f64 = 2.0;
    let mut order: Vec<usize> = (0..pieces.len())
        .filter(|&i| could_be_letter(&pieces[i]))
        .collect();
    order.sort_by(|&a, &b| pieces[a].left().total_cmp(&pieces[b].left()));
    let mut parents: Vec<usize> = (0..pieces.len()).collect();
    for (place, &i) in order.iter().enumerate() {
        let a = &pieces[i];
        for &j in &order[place + 1..] {
            let b = &pieces[j];
            let gap = b.left() - a.right();
            if gap > GAP * RATIO * a.height {
                break;
            }
            let (small, tall) = (a.height.min(b.height), a.height.max(b.height));
            if gap <= GAP * tall && tall <= RATIO * small && (a.y - b.y).abs() <= 0.5 * tall {
                let (ra, rb) = (root(&mut parents, i), root(&mut parents, j));
                parents[ra.max(rb)] = ra.min(rb);
            }
        }
    }
    let mut chains: std::collections::BTreeMap<usize, Vec<usize>> = Default::default();
    for &i in &order {
        chains.entry(root(&mut parents, i)).or_default().push(i);
    }
    let mut chains: Vec<_> = chains
        .into_values()
        .filter(|chain| chain.len() >= 3)
        .collect();
    chains.sort_by_key(|chain| std::cmp::Reverse(chain.len()));
    chains
}

fn root(parents: &mut [usize], mut i: usize) -> usize {
    while parents[i] != i {
        parents[i] = parents[parents[i]];
        i = parents[i];
    }
    i
}

/// Steepest slope of a row on a level picture, about a degree: the slip of paper may lie askew on its sheet.
const STEEPEST: f64 = 0.02;

/// Slope of the least squares line through the centres.
fn slope(pieces: &[Piece], members: &[usize]) -> f64 {
    let n = members.len() as f64;
    let mean_x = members.iter().map(|&i| pieces[i].x).sum::<f64>() / n;
    let mean_y = members.iter().map(|&i| pieces[i].y).sum::<f64>() / n;
    let (mut spread, mut joint) = (0.0, 0.0);
    for &i in members {
        let (dx, dy) = (pieces[i].x - mean_x, pieces[i].y - mean_y);
        spread += dx * dx;
        joint += dx * dy;
    }
    if spread > 0.0 { joint / spread } else { 0.0 }
}

/// Lets a chain gather the free pieces of like height along its line, and fits the line again.
fn grow(pieces: &[Piece], chain: Vec<usize>, by_left: &[usize], taken: &[bool]) -> Option<Row> {
    let mut row = along(pieces, chain);
    for _ in 0..2 {
        let on_line = |&i: &usize| {
            let piece = &pieces[i];
            !taken[i]
                && (piece.y - row.y_at(piece.x)).abs() <= 0.45 * row.letter
                && (0.55..=1.7).contains(&(piece.height / row.letter))
        };
        let letters: Vec<usize> = by_left.iter().copied().filter(on_line).collect();
        if letters.len() < 3 {
            return None;
        }
        row = along(pieces, letters);
    }
    Some(row)
}

/// The row along some letters. A short row's own slope says little: it is taken to be level.
pub fn along(pieces: &[Piece], letters: Vec<usize>) -> Row {
    let letter = median(letters.iter().map(|&i| pieces[i].height));
    let (left, right) = span(pieces, &letters);
    let own = slope(pieces, &letters);
    let known = right - left > 12.0 * letter && letters.len() >= 8 && own.abs() <= STEEPEST;
    let slope = if known { own } else { 0.0 };
    let middle = median(letters.iter().map(|&i| pieces[i].y - slope * pieces[i].x));
    Row {
        slope,
        middle,
        letter,
        left,
        right,
        letters,
    }
}

fn span(pieces: &[Piece], members: &[usize]) -> (f64, f64) {
    members
        .iter()
        .fold((f64::INFINITY, f64::NEG_INFINITY), |(left, right), &i| {
            (left.min(pieces[i].left()), right.max(pieces[i].right()))
        })
}

/// The middle value; 0 for no values.
pub fn median(values: impl Iterator<Item = f64>) -> f64 {
    let mut values: Vec<f64> = values.collect();
    if values.is_empty() {
        return 0.0;
    }
    let middle = values.len() / 2;
    *values.select_nth_unstable_by(middle, f64::total_cmp).1
}

#[cfg(test)]
mod tests {
    use super::*;

    fn piece(left: u32, top: u32, width: u32, height: u32) -> Piece {
        let [left, top, width, height] = [left, top, width, height].map(f64::from);
        Piece {
            x: left + width / 2.0,
            y: top + height / 2.0,
            width,
            height,
            area: width * height / 3.0,
        }
    }

    #[test]
    fn letters_along_a_slope_are_one_row_across_wide_blanks() {
        let fields = (0..12).chain(25..32).chain(45..51);
        let letters = fields.map(|i| piece(20 + i * 12, 100 + i * 12 / 100, 8, 14));
        let specks = (0..40).map(|i| piece(i * 17, 40 + i * 13 % 200, 3, 2));
        let rule = [piece(10, 130, 300, 6)];
        let pieces: Vec<Piece> = letters.chain(specks).chain(rule).collect();
        let found = rows(&pieces);
        assert_eq!(found.len(), 1);
        assert_eq!(found[0].letters.len(), 25);
        assert_eq!(found[0].letter, 14.0);
        assert!((found[0].slope - 0.01).abs() < 0.002, "{}", found[0].slope);
    }

    #[test]
    fn rows_of_other_heights_stay_apart() {
        let large = (0..20).map(|i| piece(20 + i * 16, 50, 10, 20));
        let small = (0..20).map(|i| piece(20 + i * 8, 56, 5, 8));
        let pieces: Vec<Piece> = large.chain(small).collect();
        let mut heights: Vec<f64> = rows(&pieces).iter().map(|row| row.letter).collect();
        heights.sort_by(f64::total_cmp);
        assert_eq!(heights, [8.0, 20.0]);
    }
}
