//! One sheet's image file in, its strip's reading out: what a worker does with each sheet.

use super::{Line, Lying, Reader, ReaderError, Reading};
use crate::figures::Mean;
use crate::strip::{self, DOUBTFUL_FACING, Lay, Strip};
use crate::value::{Finding, Severity, Station};
use image::GrayImage;
use image::imageops;
use serde::{Deserialize, Serialize};
use std::{collections::BTreeMap, path::Path, time::Instant};

/// Everything that opening, finding and reading one sheet brought.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
pub struct SheetReading {
    /// Where the strip lay; `None` where none was found.
    pub lay: Option<Lay>,
    pub reading: Reading,
    pub findings: Vec<Finding>,
    /// Milliseconds by step: `open`, `find`, `read`.
    pub milliseconds: BTreeMap<String, f64>,
}

/// Opens, finds and reads one sheet, its strip lying as `lying` says, or, where nobody said, as its letters tell.
/// Whatever goes wrong becomes a finding: there is always an answer.
pub fn read_sheet(path: &Path, lying: Option<Lying>, reader: &mut dyn Reader) -> SheetReading {
    let mut sheet = SheetReading::default();
    let start = Instant::now();
    let opened = match strip::open(path) {
        Ok(opened) => opened,
        Err(fault) => {
            sheet.findings.push(Finding::new(
                Severity::Fault,
                Station::Strip,
                "cannot-open",
                fault.to_string(),
            ));
            return sheet;
        }
    };
    sheet.findings.extend(opened.findings);
    sheet.took("open", start);

    let start = Instant::now();
    let found = strip::find(&opened.image);
    sheet.findings.extend(found.findings);
    sheet.took("find", start);

    let Some(strip) = found.strip else {
        return sheet;
    };
    let start = Instant::now();
    let read = match lying {
        None => read_facing(strip, reader),
        Some(lying) => {
            sheet.findings.push(Finding::new(
                Severity::Note,
                Station::Reading,
                "read-as-told",
                "somebody said which way round the strip lies",
            ));
            let strip = lying.put(&strip);
            read_strip(&strip, reader).map(|reading| (strip.lay, reading))
        }
    };
    match read {
        Ok((lay, reading)) => {
            // The reading may have decided otherwise than the letters' shapes.
            sheet.findings.retain(|finding| finding.code != "mirrored");
            sheet.findings.extend(lay.mirrored_finding());
            if lying.is_some() {
                sheet.findings.retain(|f| f.code != "facing-doubtful");
            }
            sheet.lay = Some(lay);
            sheet.reading = reading;
        }
        Err(fault) => sheet.findings.push(Finding::new(
            Severity::Fault,
            Station::Reading,
            "cannot-read",
            fault.to_string(),
        )),
    }
    sheet.took("read", start);
    sheet
}

/// The strip of a sheet as it was read, found again.
pub fn strip_again(path: &Path, lying: Lying) -> Option<GrayImage> {
    let opened = strip::open(path).ok()?;
    let strip = strip::find(&opened.image).strip?;
    Some(lying.put(&strip).image)
}

/// A sheet's whole picture, its longer side no longer than this.
pub fn whole_sheet(path: &Path, longest: u32) -> Option<GrayImage> {
    let opened = strip::open(path).ok()?;
    let grey = opened.image.to_luma8();
    let longer = grey.width().max(grey.height());
    if longer <= longest {
        return Some(grey);
    }
    let scaled =
        |side: u32| (u64::from(side) * u64::from(longest) / u64::from(longer)).max(1) as u32;
    Some(imageops::thumbnail(
        &grey,
        scaled(grey.width()),
        scaled(grey.height()),
    ))
}

/// Reads the strip; where its letters hardly tell which way round it lies, every way, and keeps the one that reads best.
fn read_facing(strip: Strip, reader: &mut dyn Reader) -> Result<(Lay, Reading), ReaderError> {
    let reading = read_strip(&strip, reader)?;
    if strip.lay.facing_margin >= DOUBTFUL_FACING {
        return Ok((strip.lay, reading));
    }
    let mut best = (certainty(&reading), strip.lay.clone(), reading);
    for (turned, mirrored) in [(true, false), (false, true), (true, true)] {
        let other = strip.faced(turned, mirrored);
        let reading = read_strip(&other, reader)?;
        let certainty = certainty(&reading);
        if certainty > best.0 {
            best = (certainty, other.lay, reading);
        }
    }
    Ok((best.1, best.2))
}

/// How well a strip reads: the mean probability of its characters' first choices. Text the wrong way round reads as
/// doubtful characters.
fn certainty(reading: &Reading) -> f64 {
    let mut mean = Mean::default();
    for position in reading.lines.iter().flat_map(|line| &line.positions) {
        if let Some(first) = position.alternatives.first().filter(|a| a.text != " ") {
            mean.add(first.probability.get());
        }
    }
    mean.value().unwrap_or(0.0)
}

/// Reads the strip line by line; boxes come back in pixels of the strip.
fn read_strip(strip: &Strip, reader: &mut dyn Reader) -> Result<Reading, ReaderError> {
    let mut lines = Vec::new();
    for bounds in &strip.lines {
        let picture = imageops::crop_imm(
            &strip.image,
            bounds.left,
            bounds.top,
            bounds.width(),
            bounds.height(),
        )
        .to_image();
        let mut line = reader.read_line(&picture)?;
        line.shift(bounds.left, bounds.top);
        line.bounds = *bounds;
        if !line.positions.is_empty() {
            lines.push(line);
        }
    }
    Ok(Reading { lines })
}

impl SheetReading {
    fn took(&mut self, step: &str, since: Instant) {
        self.milliseconds
            .insert(step.to_owned(), since.elapsed().as_secs_f64() * 1e3);
    }
}

impl Line {
    /// Moves every box to the right and down, in pixels.
    fn shift(&mut self, right: u32, down: u32) {
        for bounds in self
            .positions
            .iter_mut()
            .map(|p| &mut p.bounds)
            .chain([&mut self.bounds])
        {
            bounds.left += right;
            bounds.right += right;
            bounds.top += down;
            bounds.bottom += down;
        }
    }
}
