//! From a sheet's image to its strip: the steps in order, and what is noticed on the way.

use super::band::band;
use super::clean::clean;
use super::cut::{Placement, cut};
use super::facing::{self, FACINGS, Facing, Say};
use super::grey::{Reduced, grey, reduce};
use super::heading::{Heading, headings, inked};
use super::ink::{Polarity, histogram, percentile, smooth};
use super::lines::{self, Expected, Line};
use super::sheet::sheet;
use super::skew::{Level, level, slopes};
use super::{Found, Lay, Strip, amended};
use crate::value::{Bounds, Finding, Quad, Severity, Station};
use image::{DynamicImage, GrayImage, imageops};

/// Smallest x-height that reads reliably, in pixels.
const LEAST_X_HEIGHT: f64 = 10.0;
/// Height of a typed small x over that of a capital: about .7 in typewriter faces.
const X_OVER_CAPITAL: f64 = 0.7;
/// Candidates that are tried before the sheet is given up.
const MOST_TRIES: usize = 8;
/// Evidence from which rows are taken for a heading, in nats: their place and evenness, and their letters' say.
const ACCEPTED: f64 = 3.5;
/// Evidence from which no further candidate is tried, in nats.
const CLEAR: f64 = 8.0;
/// Most that the letters may add, in nats; they are far from independent.
const MOST_SAY: f64 = 10.0;
/// How much rarer mirrored sheets are taken to be than right ones, in nats.
const MIRROR_RARITY: f64 = 2.0;

/// Finds the header strip on a sheet's image, or on an image that is already only the strip.
///
/// The strip keeps the source's resolution. Every trouble becomes a finding: `no-strip`, `blank-strip`, `mirrored`,
/// `strip-cut-off`, `too-small`, `facing-doubtful`, `amended`, `handwritten`.
pub fn find(image: &DynamicImage) -> Found {
    let grey = grey(image);
    let working = reduce(&grey);
    let smoothed = smooth(&working.image);
    let mut best: Option<(f64, Cut)> = None;
    let mut is_even = true;
    for slope in slopes(&working.image) {
        let level = level(&smoothed, slope);
        let sheet = sheet(&level.image);
        is_even &= sheet.is_none();
        let (width, height) = working.image.dimensions();
        let sheet = sheet.unwrap_or(Bounds::new(0, 0, width, height));
        best = best_cut(&grey, &working, &level, sheet, best);
        if evidence_of(&best) >= CLEAR {
            break;
        }
    }
    if let Some((_, cut)) = best {
        return cut.finish(image, &grey);
    }
    if is_even {
        return nothing(
            "no-strip",
            "expected a sheet with a typed header, found an even picture; check the scan of this sheet",
        );
    }
    nothing(
        "blank-strip",
        "expected typed text in the sheet's header, found none; key the sheet from the scan or set it aside as blank",
    )
}

fn nothing(code: &str, message: &str) -> Found {
    Found {
        strip: None,
        findings: vec![Finding::new(
            Severity::Warning,
            Station::Strip,
            code,
            message,
        )],
    }
}

/// The evidence to beat: that of the best cut so far, or what a heading needs at least.
fn evidence_of(best: &Option<(f64, Cut)>) -> f64 {
    best.as_ref().map_or(ACCEPTED, |(evidence, _)| *evidence)
}

/// The cut with most evidence among the headings of a level picture and the best one so far.
fn best_cut(
    grey: &GrayImage,
    working: &Reduced,
    level: &Level,
    sheet: Bounds,
    mut best: Option<(f64, Cut)>,
) -> Option<(f64, Cut)> {
    let inked = [Polarity::DarkOnLight, Polarity::LightOnDark]
        .map(|polarity| inked(&level.image, polarity));
    let candidates = headings(&level.image, &inked, sheet);
    for heading in candidates.iter().take(MOST_TRIES) {
        if heading.score + MOST_SAY < evidence_of(&best) {
            break;
        }
        let Some(cut) = cut_out(grey, working, level, sheet, heading) else {
            continue;
        };
        let evidence = heading.score + cut.say();
        if evidence > evidence_of(&best) {
            best = Some((evidence, cut));
        }
        if evidence_of(&best) >= CLEAR {
            break;
        }
    }
    best
}

/// A candidate heading cut out and cleaned, as it lies on the source.
struct Cut {
    strip: GrayImage,
    lines: Vec<Line>,
    placement: Placement,
    polarity: Polarity,
    /// Log-probability of each facing by the letters, in nats.
    facings: [f64; 4],
    at_top: f64,
}

/// Cuts a heading out; `None` where no line of type is left at full resolution.
fn cut_out(
    grey: &GrayImage,
    working: &Reduced,
    level: &Level,
    sheet: Bounds,
    heading: &Heading,
) -> Option<Cut> {
    /// Slope left over from which the cut is made again: a twentieth of a degree.
    const WORTH_CUTTING_AGAIN: f64 = 0.0009;
    /// Largest piece that is cut out, in pixels: rows that take more are no heading, and memory stays bounded.
    const MOST_PIECE: u64 = 30_000_000;
    let letter = heading.letter() * f64::from(working.factor);
    let (mut placement, expected, zone) = placement(working, level, sheet, heading);
    if u64::from(placement.width) * u64::from(placement.height) > MOST_PIECE {
        return None;
    }
    let polarity = heading.polarity;
    let beyond = paper_beyond(&level.image, heading);
    let clean_cut = |placement| clean(cut(grey, placement, beyond), polarity, zone, letter);
    let mut piece = clean_cut(placement);
    let mut typed = lines::lines(&smooth(&piece), &expected);
    if let Some(left) = lines::slope_left(&typed).filter(|left| left.abs() > WORTH_CUTTING_AGAIN) {
        placement = placement.leaning(left.clamp(-0.02, 0.02));
        piece = clean_cut(placement);
        typed = lines::lines(&smooth(&piece), &expected);
    }
    let says = facing::says(&piece, &typed);
    let (typed, facings) = of_one_voice(typed, &says)?;
    let part = lines::tight(&piece, &typed)?;
    let (strip, lines) = lines::tidy(&piece, &typed, part);
    Some(Cut {
        strip,
        lines,
        placement: placement.part(part),
        polarity,
        facings,
        at_top: heading.at_top,
    })
}

/// The grey of the paper round a heading's longest row, for what lies beyond the source.
fn paper_beyond(level: &GrayImage, heading: &Heading) -> u8 {
    let Some(row) = heading.rows.iter().max_by_key(|row| row.letters.len()) else {
        return 0;
    };
    let (left, right) = (
        row.left.max(0.0) as u32,
        (row.right as u32).min(level.width()),
    );
    let y = (row.centre_y() as u32).min(level.height() - 1);
    let along: Vec<u8> = (left..right).map(|x| level.get_pixel(x, y).0[0]).collect();
    percentile(&histogram(&along), 0.5)
}

/// The lines that belong to the clearest one, and what their letters say together.
///
/// Grain, bars and frames say little, are of other heights, or lie far off; worn type right beside the clearest line
/// says little too, and belongs to it all the same.
fn of_one_voice(lines: Vec<Line>, says: &[Say]) -> Option<(Vec<Line>, [f64; 4])> {
    /// Least gain over chance of a line's letters, as a share of the clearest line's.
    const LEAST_GAIN: f64 = 0.3;
    /// Heights of two lines of one heading.
    const LIKE: std::ops::RangeInclusive<f64> = 0.7..=1.43;
    /// Blank between neighbouring lines, in their height: up to double spacing, and close enough to need no say.
    const FARTHEST: f64 = 2.5;
    const CLOSE: f64 = 1.4;
    let chance = 0.25f64.ln();
    let best = |say: &Say| (0..4).max_by(|&a, &b| say.mean[a].total_cmp(&say.mean[b]));
    let gain = |say: &Say, facing: usize| say.mean[facing] - chance;
    let weight = |say: &Say| best(say).map_or(0.0, |facing| gain(say, facing) * say.letters as f64);
    let clearest =
        (0..says.len()).max_by(|&a, &b| weight(&says[a]).total_cmp(&weight(&says[b])))?;
    let facing = best(&says[clearest])?;
    let clear = gain(&says[clearest], facing);
    let height = |line: &Line| line.core.1 - line.core.0;
    let belongs = |line: &Line, say: &Say, neighbour: &Line| {
        let blank = (line.core.0 - neighbour.core.1).max(neighbour.core.0 - line.core.1);
        let blank = blank / height(neighbour);
        LIKE.contains(&(height(line) / height(&lines[clearest])))
            && blank <= FARTHEST
            && (gain(say, facing) >= LEAST_GAIN * clear || (line.expected && blank <= CLOSE))
    };
    let (mut first, mut last) = (clearest, clearest);
    while first > 0 && belongs(&lines[first - 1], &says[first - 1], &lines[first]) {
        first -= 1;
    }
    while last + 1 < lines.len() && belongs(&lines[last + 1], &says[last + 1], &lines[last]) {
        last += 1;
    }
    let mut sums = [0.0; 4];
    let telling = |say: &&Say| gain(say, facing) >= clear.min(LEAST_GAIN * clear);
    for say in says[first..=last].iter().filter(telling) {
        for (sum, part) in sums.iter_mut().zip(say.sum()) {
            *sum += part;
        }
    }
    Some((lines[first..=last].to_vec(), sums))
}

impl Cut {
    /// How much the letters themselves speak for being type: grain and bars look alike from every side.
    fn say(&self) -> f64 {
        let mut facings = self.facings;
        facings.sort_by(f64::total_cmp);
        (facings[3] - facings[2]).min(MOST_SAY)
    }

    /// Puts the strip upright, and says what was found.
    fn finish(self, image: &DynamicImage, grey: &GrayImage) -> Found {
        let (facing, margin) = facing_of(self.facings, self.at_top);
        let lean = self.placement.lean.to_degrees();
        let lay = Lay {
            corners: in_reading_order(self.placement.corners(), facing),
            turned: if facing.turned { 180 } else { 0 },
            mirrored: facing.mirrored,
            inverted: self.polarity == Polarity::LightOnDark,
            skew: if facing.mirrored { -lean } else { lean },
            band: image
                .as_rgb8()
                .and_then(|colour| band(colour, &self.strip, self.placement)),
            facing_margin: margin,
        };
        let mut findings = findings(grey, &self.lines, self.placement, &lay);
        let bounds = self
            .lines
            .iter()
            .map(|line| faced(line.bounds, &self.strip, facing));
        let mut lines: Vec<Bounds> = bounds.collect();
        lines.sort_by_key(|bounds| bounds.top);
        let strip = Strip {
            image: put_upright(self.strip, facing),
            lines,
            lay,
        };
        findings.extend(amended::findings(grey, &strip));
        Found {
            strip: Some(strip),
            findings,
        }
    }
}

/// Where to cut for a heading, across the sheet and with room above and below, and where its lines will lie.
fn placement(
    working: &Reduced,
    level: &Level,
    sheet: Bounds,
    heading: &Heading,
) -> (Placement, Vec<Expected>, Bounds) {
    /// Room above and below the rows' middles, in letter heights: for one more line.
    const ROOM: f64 = 3.2;
    let letter = heading.letter();
    let slope = heading.slope();
    let centre = f64::from(sheet.left + sheet.right) / 2.0;
    let middles: Vec<f64> = heading
        .rows
        .iter()
        .map(|row| row.y_at(centre.clamp(row.left, row.right)))
        .collect();
    let (left, right) = heading.rows.iter().fold(
        (f64::from(sheet.left), f64::from(sheet.right)),
        |(left, right), row| (left.min(row.left - letter), right.max(row.right + letter)),
    );
    let top = middles.iter().copied().fold(f64::INFINITY, f64::min) - ROOM * letter;
    let bottom = middles.iter().copied().fold(f64::NEG_INFINITY, f64::max) + ROOM * letter;
    let scale = f64::from(working.factor);
    let origin = working.to_source(level.placement.to_source(left, top));
    let placement = Placement {
        origin,
        lean: level.placement.lean,
        width: ((right - left) * scale).ceil().max(1.0) as u32,
        height: ((bottom - top) * scale).ceil().max(1.0) as u32,
    };
    let expected: Vec<Expected> = heading
        .rows
        .iter()
        .zip(&middles)
        .map(|(row, middle)| Expected {
            middle: (middle - top) * scale,
            letter: row.letter * scale,
        })
        .collect();
    let ends = heading
        .rows
        .iter()
        .fold((right, left), |(start, end), row| {
            (start.min(row.left), end.max(row.right))
        });
    let zone = Bounds::new(
        ((ends.0 - left) * scale) as u32,
        ((ROOM - 0.8) * letter * scale) as u32,
        (((ends.1 - left) * scale) as u32).min(placement.width),
        placement.height - ((ROOM - 0.8) * letter * scale) as u32,
    );
    (placement.leaning(slope), expected, zone)
}

/// The likeliest facing, and its lead over the next, in nats.
fn facing_of(mut scores: [f64; 4], at_top: f64) -> (Facing, f64) {
    for (score, facing) in scores.iter_mut().zip(FACINGS) {
        *score += if facing.turned { -at_top } else { at_top } / 2.0;
        *score -= if facing.mirrored { MIRROR_RARITY } else { 0.0 };
    }
    let mut order = [0, 1, 2, 3];
    order.sort_by(|&a, &b| scores[b].total_cmp(&scores[a]));
    (FACINGS[order[0]], scores[order[0]] - scores[order[1]])
}

fn put_upright(mut strip: GrayImage, facing: Facing) -> GrayImage {
    if facing.turned {
        imageops::rotate180_in_place(&mut strip);
    }
    if facing.mirrored {
        imageops::flip_horizontal_in_place(&mut strip);
    }
    strip
}

/// A box on a strip after the strip was put upright.
fn faced(bounds: Bounds, strip: &GrayImage, facing: Facing) -> Bounds {
    let (width, height) = strip.dimensions();
    let mut out = bounds;
    if facing.turned != facing.mirrored {
        (out.left, out.right) = (width - bounds.right, width - bounds.left);
    }
    if facing.turned {
        (out.top, out.bottom) = (height - bounds.bottom, height - bounds.top);
    }
    out
}

/// Corners as the piece lies, in the order in which its text is read.
fn in_reading_order(Quad(lying): Quad, facing: Facing) -> Quad {
    let order = match (facing.turned, facing.mirrored) {
        (false, false) => [0, 1, 2, 3],
        (true, false) => [2, 3, 0, 1],
        (false, true) => [1, 0, 3, 2],
        (true, true) => [3, 2, 1, 0],
    };
    Quad(order.map(|corner| lying[corner]))
}

fn findings(source: &GrayImage, lines: &[Line], placement: Placement, lay: &Lay) -> Vec<Finding> {
    let mut findings = Vec::new();
    let mut note = |severity, code: &str, message: String| {
        findings.push(Finding::new(severity, Station::Strip, code, message));
    };
    if cut_off(source, lines, placement) {
        note(
            Severity::Warning,
            "strip-cut-off",
            "expected a margin round the typed text, found text that runs into the edge of the image; compare with \
             the sheet and scan it again if characters are missing"
                .to_owned(),
        );
    }
    let x_height = X_OVER_CAPITAL * lines::height(lines);
    if x_height < LEAST_X_HEIGHT {
        note(
            Severity::Warning,
            "too-small",
            format!(
                "expected small letters of at least {LEAST_X_HEIGHT:.0} pixels, found about {x_height:.0}; scan at a \
                 higher resolution"
            ),
        );
    }
    if lay.facing_margin < super::DOUBTFUL_FACING {
        note(
            Severity::Warning,
            "facing-doubtful",
            "the letters hardly tell which way round the strip lies; check that it is upright and not mirrored"
                .to_owned(),
        );
    }
    findings.extend(lay.mirrored_finding());
    findings
}

impl Lay {
    /// What the people who scan the frames have to know of a sheet that lay the wrong side up.
    pub fn mirrored_finding(&self) -> Option<Finding> {
        let words = "the sheet shows its text as in a mirror; the strip was turned round, but the scans of its frames \
                     may need the same: check which side of the film faced the scanner";
        let finding = || Finding::new(Severity::Note, Station::Strip, "mirrored", words);
        self.mirrored.then(finding)
    }
}

/// Whether any letter touches the edge of the source.
fn cut_off(source: &GrayImage, lines: &[Line], placement: Placement) -> bool {
    let (right, bottom) = (
        f64::from(source.width()) - 1.0,
        f64::from(source.height()) - 1.0,
    );
    lines.iter().flat_map(|line| &line.letters).any(|letter| {
        let Bounds {
            left: l,
            top: t,
            right: r,
            bottom: b,
        } = letter.bounds;
        [(l, t), (r, t), (r, b), (l, b)].into_iter().any(|(x, y)| {
            let at = placement.to_source(f64::from(x), f64::from(y));
            at.x < 1.0 || at.y < 1.0 || at.x > right || at.y > bottom
        })
    })
}
