//! Where the ink is: fine dark or light detail, and the connected pieces it forms.

use crate::value::Bounds;
use image::GrayImage;

/// Which side of its surroundings the ink lies on.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Polarity {
    DarkOnLight,
    LightOnDark,
}

/// How far every pixel stands out from its surroundings as detail finer than `size` pixels.
///
/// This is the top-hat transform (Serra 1982): the morphological closing less the picture for dark ink, the picture
/// less its opening for light ink. Unlike a local mean it is not misled by the dark bed beside a sheet's edge, since
/// the bed is no fine detail.
pub fn detail(grey: &GrayImage, polarity: Polarity, size: usize) -> GrayImage {
    let (width, height) = grey.dimensions();
    let raw = grey.as_raw();
    let light = |a: u8, b: u8| a.max(b);
    let dark = |a: u8, b: u8| a.min(b);
    let strength: Vec<u8> = match polarity {
        Polarity::DarkOnLight => {
            let closed = filter(&filter(raw, width, size, light), width, size, dark);
            closed
                .iter()
                .zip(raw)
                .map(|(c, g)| c.saturating_sub(*g))
                .collect()
        }
        Polarity::LightOnDark => {
            let opened = filter(&filter(raw, width, size, dark), width, size, light);
            raw.iter()
                .zip(&opened)
                .map(|(g, o)| g.saturating_sub(*o))
                .collect()
        }
    };
    GrayImage::from_raw(width, height, strength).expect("one byte a pixel")
}

/// The extreme of a centred square window, found in passes that double the window; the edge pixels repeat outwards.
pub(super) fn filter(
    raw: &[u8],
    width: u32,
    size: usize,
    pick: impl Fn(u8, u8) -> u8 + Copy,
) -> Vec<u8> {
    let width = width as usize;
    let reach = size / 2;
    let mut tall = Vec::with_capacity(raw.len() + 2 * reach * width);
    tall.resize(reach * width, 0);
    let (mut padded, mut spare) = (Vec::new(), Vec::new());
    for row in raw.chunks_exact(width) {
        padded.clear();
        padded.resize(reach, row[0]);
        padded.extend_from_slice(row);
        padded.resize(width + 2 * reach, row[width - 1]);
        widen(&mut padded, &mut spare, 1, 2 * reach + 1, pick);
        tall.extend_from_slice(&padded[..width]);
    }
    tall.copy_within(reach * width..(reach + 1) * width, 0);
    for copy in 1..reach {
        tall.copy_within(..width, copy * width);
    }
    let last = tall.len() - width;
    for _ in 0..reach {
        tall.extend_from_within(last..last + width);
    }
    widen(&mut tall, &mut spare, width, 2 * reach + 1, pick);
    tall.truncate(raw.len());
    tall
}

/// Makes every cell the extreme of itself and the `size - 1` cells that follow it at the given stride; cells that have
/// fewer followers are dropped. `spare` is room to work in: from one buffer into another the loop is vectorised.
fn widen(
    cells: &mut Vec<u8>,
    spare: &mut Vec<u8>,
    stride: usize,
    size: usize,
    pick: impl Fn(u8, u8) -> u8,
) {
    let mut covered = 1;
    while covered < size {
        let step = covered.min(size - covered);
        spare.clear();
        let later = &cells[step * stride..];
        spare.extend(cells.iter().zip(later).map(|(&a, &b)| pick(a, b)));
        std::mem::swap(cells, spare);
        covered += step;
    }
}

/// Leaves only the detail that stands well above the grain round it; everything else becomes 0.
///
/// Grain differs over a sheet (paper, film, bed), so it is measured in squares. Most of a square is not ink, so the
/// median of its detail is the grain's own strength.
pub fn above_grain(mut detail: GrayImage) -> GrayImage {
    /// Side of a square, in pixels: some letters wide, so that type never fills one.
    const SQUARE: usize = 48;
    /// Grey levels that count as ink on a picture without grain.
    const LEAST: f64 = 9.0;
    /// Ink over grain; grain after the top-hat seldom passes three times its median.
    const OVER_GRAIN: f64 = 2.6;
    let width = detail.width().max(1) as usize;
    for rows in detail.as_mut().chunks_mut(width * SQUARE) {
        for left in (0..width).step_by(SQUARE) {
            let right = (left + SQUARE).min(width);
            let counts = histogram(
                rows.chunks_exact(width)
                    .step_by(2)
                    .flat_map(|row| &row[left..right]),
            );
            let grain = f64::from(percentile(&counts, 0.5));
            let threshold = (OVER_GRAIN * grain).clamp(LEAST, 120.0) as u8;
            for row in rows.chunks_exact_mut(width) {
                for strength in &mut row[left..right] {
                    if *strength <= threshold {
                        *strength = 0;
                    }
                }
            }
        }
    }
    detail
}

/// Smooths with the 3 x 3 binomial kernel: grain of single pixels shrinks to a third, strokes of type stay.
pub fn smooth(image: &GrayImage) -> GrayImage {
    let (width, height) = image.dimensions();
    let raw = image.as_raw();
    let row = |y: usize| &raw[y * width as usize..(y + 1) * width as usize];
    let mut out = Vec::with_capacity(raw.len());
    let mut sums = vec![0u16; width as usize];
    for y in 0..height as usize {
        let (above, here, below) = (
            row(y.saturating_sub(1)),
            row(y),
            row((y + 1).min(height as usize - 1)),
        );
        for (((sum, &a), &h), &b) in sums.iter_mut().zip(above).zip(here).zip(below) {
            *sum = u16::from(a) + 2 * u16::from(h) + u16::from(b);
        }
        let last = sums.len() - 1;
        out.push(((3 * sums[0] + sums[1.min(last)] + 8) >> 4) as u8);
        out.extend(
            sums.windows(3)
                .map(|w| ((w[0] + 2 * w[1] + w[2] + 8) >> 4) as u8),
        );
        if last > 0 {
            out.push(((3 * sums[last] + sums[last - 1] + 8) >> 4) as u8);
        }
    }
    GrayImage::from_raw(width, height, out).expect("one byte a pixel")
}

/// How often every grey value occurs.
pub fn histogram<'a>(values: impl IntoIterator<Item = &'a u8>) -> [u32; 256] {
    let mut counts = [0u32; 256];
    for &value in values {
        counts[usize::from(value)] += 1;
    }
    counts
}

/// The smallest grey value that at least this share of the counted pixels does not exceed.
pub fn percentile(counts: &[u32; 256], share: f64) -> u8 {
    let total: u64 = counts.iter().map(|&n| u64::from(n)).sum();
    let wanted = (share * total as f64).ceil().max(1.0) as u64;
    let mut seen = 0;
    for (value, &count) in counts.iter().enumerate() {
        seen += u64::from(count);
        if seen >= wanted {
            return value as u8;
        }
    }
    255
}

/// A connected piece of ink (8 neighbours).
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Component {
    pub bounds: Bounds,
    /// Ink pixels.
    pub area: u32,
}

impl Component {
    pub fn width(&self) -> f64 {
        f64::from(self.bounds.width())
    }

    pub fn height(&self) -> f64 {
        f64::from(self.bounds.height())
    }

    pub fn centre_x(&self) -> f64 {
        f64::from(self.bounds.left + self.bounds.right) / 2.0
    }

    pub fn centre_y(&self) -> f64 {
        f64::from(self.bounds.top + self.bounds.bottom) / 2.0
    }
}

struct Run {
    left: u32,
    right: u32,
    label: usize,
}

/// The connected pieces of the pixels that `is_ink` accepts, from top to bottom.
///
/// Horizontal runs longer than `longest_run` belong to rules and edges, never to a letter, and are left out first, so
/// that a rule does not tie the letters that stand on it together.
pub fn components(
    image: &GrayImage,
    longest_run: u32,
    is_ink: impl Fn(u8) -> bool,
) -> Vec<Component> {
    let mut parents: Vec<usize> = Vec::new();
    let mut pieces: Vec<Component> = Vec::new();
    let (mut above, mut current): (Vec<Run>, Vec<Run>) = (Vec::new(), Vec::new());
    for (y, row) in image
        .as_raw()
        .chunks_exact(image.width().max(1) as usize)
        .enumerate()
    {
        current.clear();
        let mut x = 0;
        let mut first_above = 0;
        while x < row.len() {
            if !is_ink(row[x]) {
                x += 1;
                continue;
            }
            let left = x;
            while x < row.len() && is_ink(row[x]) {
                x += 1;
            }
            let (left, right) = (left as u32, x as u32);
            if right - left > longest_run {
                continue;
            }
            while first_above < above.len() && above[first_above].right < left {
                first_above += 1;
            }
            let mut label = None;
            for touching in above[first_above..]
                .iter()
                .take_while(|run| run.left <= right)
            {
                let root = root_of(&mut parents, touching.label);
                label = Some(match label {
                    None => root,
                    Some(known) if known == root => known,
                    Some(known) => join(&mut parents, &mut pieces, known, root),
                });
            }
            let bounds = Bounds::new(left, y as u32, right, y as u32 + 1);
            let area = right - left;
            let label = label.unwrap_or_else(|| {
                parents.push(parents.len());
                pieces.push(Component { bounds, area: 0 });
                parents.len() - 1
            });
            pieces[label].bounds = pieces[label].bounds.union(&bounds);
            pieces[label].area += area;
            current.push(Run { left, right, label });
        }
        std::mem::swap(&mut above, &mut current);
    }
    (0..pieces.len())
        .filter(|&label| parents[label] == label)
        .map(|label| pieces[label])
        .collect()
}

fn root_of(parents: &mut [usize], mut label: usize) -> usize {
    while parents[label] != label {
        parents[label] = parents[parents[label]];
        label = parents[label];
    }
    label
}

fn join(parents: &mut [usize], pieces: &mut [Component], a: usize, b: usize) -> usize {
    let (keep, drop) = (a.min(b), a.max(b));
    parents[drop] = keep;
    pieces[keep].bounds = pieces[keep].bounds.union(&pieces[drop].bounds);
    pieces[keep].area += pieces[drop].area;
    keep
}

#[cfg(test)]
mod tests {
    use super::*;
    use image::Luma;

    fn picture(rows: &[&str]) -> GrayImage {
        let width = rows[0].len() as u32;
        GrayImage::from_fn(width, rows.len() as u32, |x, y| {
            let ink = rows[y as usize].as_bytes()[x as usize] == b'#';
            Luma([if ink { 20 } else { 200 }])
        })
    }

    #[test]
    fn pieces_are_joined_over_eight_neighbours() {
        for (rows, expected) in [
            (&["#..#", ".##.", "...."][..], 1),
            (&["#..#", "....", "#..#"][..], 4),
            (&["#.#.#", "#.#.#", "#####"][..], 1),
            (&["#...#", ".#.#.", "..#.."][..], 1),
            (&["....", "...."][..], 0),
        ] {
            let found = components(&picture(rows), u32::MAX, |v| v < 100);
            assert_eq!(found.len(), expected, "{rows:?}");
            let ink = rows
                .iter()
                .flat_map(|row| row.bytes())
                .filter(|&b| b == b'#')
                .count();
            assert_eq!(
                found.iter().map(|c| c.area as usize).sum::<usize>(),
                ink,
                "{rows:?}"
            );
        }
    }

    #[test]
    fn letters_on_a_rule_stay_apart() {
        let rows = ["#...#...", "#...#...", "########"];
        assert_eq!(components(&picture(&rows), 6, |v| v < 100).len(), 2);
    }

    #[test]
    fn fine_detail_stands_out_and_a_large_dark_bed_does_not() {
        let image = GrayImage::from_fn(80, 60, |x, y| {
            let bed = y < 20;
            let stroke = (30..33).contains(&x) && (24..40).contains(&y);
            Luma([if bed || stroke { 30 } else { 210 }])
        });
        let dark = detail(&image, Polarity::DarkOnLight, 15);
        assert_eq!(dark.get_pixel(31, 30).0[0], 180);
        assert_eq!(dark.get_pixel(31, 5).0[0], 0);
        assert_eq!(dark.get_pixel(60, 30).0[0], 0);
        let light = detail(&image, Polarity::LightOnDark, 15);
        assert_eq!(light.get_pixel(60, 45).0[0], 0);
    }

    #[test]
    fn percentiles_follow_the_counts() {
        let counts = histogram(&[1, 2, 3, 4, 200]);
        for (share, expected) in [(0.0, 1), (0.2, 1), (0.5, 3), (1.0, 200)] {
            assert_eq!(percentile(&counts, share), expected);
        }
    }
}
