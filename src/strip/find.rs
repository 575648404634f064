//! From a sheet's image to its strip: the steps in order, and what is noticed on the way.

use super::band::band;
use super::bands::bands;
use super::candidate::{Candidate, Glance, MOST_SAY, cut_out, glance};
use super::facing::Facing;
use super::grey::{grey, others};
use super::heading::{Activity, Heading, headings};
use super::ink::Polarity;
use super::notice::{findings, several_sheets};
use super::second::has_second;
use super::sheet::sheet;
use super::skew::slopes;
use super::working::{View, Working};
use super::{Found, Lay, Strip, amended};
use crate::value::{Bounds, Finding, Quad, Severity, Station};
use image::{DynamicImage, GrayImage, imageops};

/// Candidates that are tried before the sheet is given up.
const MOST_TRIES: usize = 8;
/// Rows that are taken for two lines whose letters touch, before the sheet is given up.
const MOST_PARTED: usize = 2;
/// Evidence from which rows are taken for a heading, in nats: their place and evenness, and their letters' say. On
/// tuning sheets most headings have 14 and more, pages seen sideways 7 to 10 at most, worn type 8 to 13.
const ACCEPTED: f64 = 8.0;
/// What place, size and evenness must say at least, in nats: the letters alone would take rows of pages seen sideways
/// for a heading. Headings hardly larger than the type of the pages have -3 to -4.
const LEAST_SCORE: f64 = -4.5;
/// Evidence from which no further candidate is tried, in nats.
const CLEAR: f64 = 13.0;
/// Evidence on the working picture from which a candidate is worth cutting out, in nats: on tuning sheets, of 671
/// candidates that were accepted at full resolution 11 had less, and of 3,600 others a tenth had more.
const WORTH_CUTTING: f64 = -3.0;

/// Finds the header strip on a sheet's image, or on an image that is already only the strip.
///
/// The strip keeps the source's resolution. Every trouble becomes a finding: `no-strip`, `blank-strip`, `mirrored`,
/// `strip-cut-off`, `too-small`, `facing-doubtful`, `amended`, `handwritten`.
pub fn find(image: &DynamicImage) -> Found {
    let usual = find_on(image, &grey(image));
    if usual.strip.is_some() {
        return usual;
    }
    let mut others = others(image).map(|grey| find_on(image, &grey));
    others.find(|found| found.strip.is_some()).unwrap_or(usual)
}

/// Finds the strip of an image on one grey picture of it.
fn find_on(image: &DynamicImage, grey: &GrayImage) -> Found {
    let upright = Working::new(grey);
    let slopes = slopes(&upright.image);
    let mut search = Search {
        grey,
        best: None,
        has_tried: false,
        has_second: false,
        is_even: true,
    };
    search.look_at(&upright, &slopes);
    if search.evidence() < CLEAR {
        search.look_at(&upright.quartered(), &slopes);
    }
    let Search {
        best,
        has_second,
        is_even,
        ..
    } = search;
    if let Some(candidate) = best {
        let mut found = finish(candidate.looked_at_again(grey), image, grey);
        found.findings.extend(has_second.then(several_sheets));
        return found;
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

/// Every candidate that may be a sheet's heading, at most `most` a view: what [`find`] chooses from, for training and
/// measuring.
pub fn candidates(image: &DynamicImage, most: usize) -> Vec<Candidate> {
    let grey = grey(image);
    let upright = Working::new(&grey);
    let slopes = slopes(&upright.image);
    let mut found = Vec::new();
    for working in [&upright, &upright.quartered()] {
        for &slope in &slopes {
            let view = working.view(slope);
            let sheet = sheet(&view).unwrap_or_else(|| whole(working));
            let activity = Activity::new(&view, sheet);
            let mut likeliest = headings(&view, &activity);
            likeliest.truncate(most);
            likeliest.extend(parted(&likeliest));
            likeliest.extend(bands(&view, &activity, sheet).into_iter().take(most));
            let cuts = likeliest.iter();
            found.extend(cuts.filter_map(|heading| cut_out(&grey, &view, sheet, heading)));
        }
    }
    found
}

/// The likeliest single rows, taken for two lines whose letters touch.
fn parted(headings: &[Heading]) -> Vec<Heading> {
    let single = headings.iter().filter(|heading| heading.rows.len() == 1);
    single.take(MOST_PARTED).map(Heading::parted).collect()
}

fn whole(working: &Working) -> Bounds {
    let (width, height) = working.image.dimensions();
    Bounds::new(0, 0, width, height)
}

/// The search for the heading: the likeliest candidate so far.
struct Search<'a> {
    grey: &'a GrayImage,
    best: Option<Candidate>,
    has_tried: bool,
    /// Another heading lies beside the best.
    has_second: bool,
    /// Nothing was seen that differs from the image's border.
    is_even: bool,
}

impl Search<'_> {
    /// The evidence to beat: that of the best candidate so far, or what a heading needs at least.
    fn evidence(&self) -> f64 {
        self.best.as_ref().map_or(ACCEPTED, Candidate::evidence)
    }

    /// Looks at a working picture under each slope, until something is clear.
    fn look_at(&mut self, working: &Working, slopes: &[f64]) {
        for &slope in slopes {
            let view = working.view(slope);
            let sheet = sheet(&view);
            self.is_even &= sheet.is_none();
            let sheet = sheet.unwrap_or_else(|| whole(working));
            let activity = Activity::new(&view, sheet);
            let headings = headings(&view, &activity);
            self.try_headings(&view, sheet, &headings);
            if self.evidence() < CLEAR {
                self.try_headings(&view, sheet, &parted(&headings));
            }
            if self.evidence() < CLEAR {
                self.try_headings(&view, sheet, &bands(&view, &activity, sheet));
            }
            if let Some(best) = self.best.as_ref().filter(|_| self.evidence() >= CLEAR) {
                self.has_second = has_second(self.grey, &view, sheet, &headings, best);
                return;
            }
        }
    }

    /// Cuts out the likeliest headings of a view, and keeps the one with most evidence.
    fn try_headings(&mut self, view: &View, sheet: Bounds, headings: &[Heading]) {
        for heading in headings.iter().take(MOST_TRIES) {
            if heading.score < LEAST_SCORE || heading.score + MOST_SAY < self.evidence() {
                break;
            }
            // Most sheets are done with their first candidate, which is not worth looking at twice.
            let is_first = !std::mem::replace(&mut self.has_tried, true);
            let hopeless = || match glance(view, sheet, heading) {
                Glance::TooSmall => false,
                Glance::Nothing => true,
                Glance::Seen(seen) => seen.evidence() < WORTH_CUTTING,
            };
            if !is_first && hopeless() {
                continue;
            }
            let cut = cut_out(self.grey, view, sheet, heading);
            let better = cut.filter(|cut| cut.evidence() > self.evidence());
            self.best = better.or(self.best.take());
            if self.evidence() >= CLEAR {
                break;
            }
        }
    }
}

/// Puts the strip upright, and says what was found.
fn finish(candidate: Candidate, image: &DynamicImage, grey: &GrayImage) -> Found {
    let (facing, facing_margin) = candidate.facing();
    let (turned, skew) = candidate.lean(facing);
    let lay = Lay {
        corners: in_reading_order(candidate.placement.corners(), facing),
        turned,
        mirrored: facing.mirrored,
        inverted: candidate.polarity == Polarity::LightOnDark,
        skew,
        band: image
            .as_rgb8()
            .and_then(|colour| band(colour, &candidate.strip, candidate.placement)),
        facing_margin,
    };
    let mut findings = findings(grey, &candidate, &lay);
    let Candidate { strip, lines, .. } = candidate;
    let bounds = lines.iter().map(|line| faced(line.bounds, &strip, facing));
    let mut lines: Vec<Bounds> = bounds.collect();
    lines.sort_by_key(|bounds| bounds.top);
    let strip = Strip {
        image: put_upright(strip, facing),
        lines,
        lay,
    };
    findings.extend(amended::findings(grey, &strip));
    Found {
        strip: Some(strip),
        findings,
    }
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
