//! What is amiss with a strip that was found, in words.

use super::DOUBTFUL_FACING;
use super::Lay;
use super::candidate::Candidate;
use super::lines;
use crate::value::{Bounds, Finding, Severity, Station};
use image::GrayImage;

/// Smallest x-height that reads reliably, in pixels.
const LEAST_X_HEIGHT: f64 = 10.0;
/// Height of a typed small x over that of a capital: about .7 in typewriter faces.
const X_OVER_CAPITAL: f64 = 0.7;

pub fn findings(source: &GrayImage, candidate: &Candidate, lay: &Lay) -> Vec<Finding> {
    let mut findings = Vec::new();
    let mut note = |severity, code: &str, message: String| {
        findings.push(Finding::new(severity, Station::Strip, code, message));
    };
    if cut_off(source, candidate) {
        note(
            Severity::Warning,
            "strip-cut-off",
            "expected a margin round the typed text, found text that runs into the edge of the image; compare with \
             the sheet and scan it again if characters are missing"
                .to_owned(),
        );
    }
    let x_height = X_OVER_CAPITAL * lines::height(&candidate.lines);
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
    if lay.facing_margin < DOUBTFUL_FACING {
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

/// Two headings lie on one image.
pub fn several_sheets() -> Finding {
    let words = "expected one sheet, found a second typed heading on the image; key the sheet that this image stands \
                 for, and scan the other one by itself";
    Finding::new(Severity::Warning, Station::Strip, "several-sheets", words)
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
fn cut_off(source: &GrayImage, candidate: &Candidate) -> bool {
    let (right, bottom) = (
        f64::from(source.width()) - 1.0,
        f64::from(source.height()) - 1.0,
    );
    candidate
        .lines
        .iter()
        .flat_map(|line| &line.letters)
        .any(|letter| {
            let Bounds {
                left: l,
                top: t,
                right: r,
                bottom: b,
            } = letter.bounds;
            [(l, t), (r, t), (r, b), (l, b)].into_iter().any(|(x, y)| {
                let at = candidate.placement.to_source(f64::from(x), f64::from(y));
                at.x < 1.0 || at.y < 1.0 || at.x > right || at.y > bottom
            })
        })
}
