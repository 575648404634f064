//! One sheet's image file in, its strip's reading out: what a worker does with each sheet.

use super::{Line, Reader, Reading};
use crate::strip::{self, Lay, Strip};
use crate::value::{Finding, Severity, Station};
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

/// Opens, finds and reads one sheet. Whatever goes wrong becomes a finding: there is always an answer.
pub fn read_sheet(path: &Path, reader: &mut dyn Reader) -> SheetReading {
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
    match read_strip(&strip, reader) {
        Ok(reading) => sheet.reading = reading,
        Err(fault) => sheet.findings.push(Finding::new(
            Severity::Fault,
            Station::Reading,
            "cannot-read",
            fault.to_string(),
        )),
    }
    sheet.took("read", start);
    sheet.lay = Some(strip.lay);
    sheet
}

/// Reads the strip line by line; boxes come back in pixels of the strip.
fn read_strip(strip: &Strip, reader: &mut dyn Reader) -> Result<Reading, super::ReaderError> {
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
