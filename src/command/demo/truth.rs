//! The truth about a drawn sheet, one row of `truth.csv`.

use super::collection::PlannedSheet;
use super::contents::Fields;
use super::look::{Edge, Noise, READABLE};
use crate::value::{Point, Quad, SheetKind};
use serde::{Deserialize, Deserializer, Serialize, Serializer, de::Error};
use std::io;

/// What is on a sheet and where. The field order is the column order; the collection's fields have a column each.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Truth {
    /// File name of the image.
    pub sheet: String,
    pub noise: Noise,
    /// How the values stand on the strip; `unknown` where no starter rule covers it.
    pub layout: String,
    pub kind: SheetKind,
    /// As typed, slips included; lines joined by ` / `, runs of blanks kept.
    pub text: String,
    /// As typed: empty where the strip has no such value.
    #[serde(skip)]
    pub fields: Fields,
    /// The key of the sheet's row in the roster, which is right where the typed one may not be; empty where it is in no
    /// row. Known for blank strips too.
    pub roster_number: String,
    pub misfiled: bool,
    /// Which field was mistyped and how (`number transposed`); empty where none was.
    pub slip: String,
    /// How the heading was changed after it was typed ([`Amendment`](super::Amendment)), or `marked` where a tick or a
    /// stamp's ring runs into its typing; empty where it was not. The text and the fields are those that hold after
    /// the change: nothing struck out or pasted over, no note added by hand. What is handwritten may be in small
    /// letters where the text has capitals.
    pub amended: String,
    /// Clockwise degrees by which the image must be turned for the text to stand upright: 0, 90, 180 or 270.
    pub turned: u32,
    /// The image must be mirrored left to right as well.
    pub mirrored: bool,
    /// Light type on a dark ground.
    pub inverted: bool,
    /// Clockwise degrees by which the strip leans, seen after the turn and the mirroring; its typed lines lean within a
    /// fifth of a degree of that.
    pub skew: f64,
    /// The edge that bears the heading, the sheet seen with its frames upright. Along the left edge text runs upwards,
    /// along the right one downwards, so [`turned`](Self::turned) is 90 or 270 more than the sheet's own turn.
    pub edge: Edge,
    /// Sheets in the image. Of two, everything here is about the one in front, or else the left or upper one, both seen
    /// upright.
    pub sheets: u32,
    /// The image ends within the typing: part of the text is lost, and so are the boxes' ends.
    pub cut_off: bool,
    /// The x-height is under [`READABLE`](super::look::READABLE): no reader can be right on it.
    pub too_small: bool,
    /// The heading's colour (`#d0b040`, before light and noise); empty where it is grey.
    pub band: String,
    pub font: String,
    /// The strip: the smallest upright box on the sheet that holds the ink of all typed lines, half an x-height wider
    /// on every side but never beyond the sheet. On a blank strip, the heading. Of this and the other boxes the corners
    /// are a straight quadrilateral's; on a sheet that curls it is as much higher as the rows bow between its ends.
    pub strip: Corners,
    /// What was struck out, covered or written by hand; empty where nothing was.
    pub amended_at: Corners,
    /// The heading: the area that the typing is meant for, dyed or not: across the whole sheet, where it may run beyond
    /// the image, or a label's.
    pub heading: Corners,
    /// The ink of the first typed line; empty where there is none.
    pub line1: Corners,
    pub line2: Corners,
    pub line3: Corners,
}

impl Truth {
    /// What is known of a sheet before it is drawn: everything but the places on the image.
    pub fn planned(plan: &PlannedSheet) -> Self {
        let look = &plan.look;
        Self {
            sheet: plan.file_name(),
            noise: plan.noise,
            layout: plan.layout.to_owned(),
            kind: plan.kind,
            text: plan.text(),
            fields: plan.typed.clone(),
            roster_number: plan.roster_number.clone(),
            misfiled: plan.misfiled,
            slip: plan.slip.clone().unwrap_or_default(),
            amended: look
                .amendment
                .map_or(String::new(), |kind| kind.to_string()),
            turned: look.turned(),
            mirrored: look.scan.mirrored,
            inverted: look.inverted,
            skew: (f64::from(look.scan.skew) * 1e3).round() / 1e3,
            edge: look.edge,
            sheets: if look.scan.second.is_some() { 2 } else { 1 },
            cut_off: look.scan.cut_off.is_some(),
            too_small: look.machine.x_height < READABLE,
            band: look
                .band
                .filter(|_| look.colour)
                .map_or(String::new(), |[r, g, b]| format!("#{r:02x}{g:02x}{b:02x}")),
            font: look.machine.face.name.to_owned(),
            strip: Corners::default(),
            amended_at: Corners::default(),
            heading: Corners::default(),
            line1: Corners::default(),
            line2: Corners::default(),
            line3: Corners::default(),
        }
    }
}

/// Corners on the source image in reading order (see [`Quad`]), written as `x,y x,y x,y x,y` in pixels to a tenth;
/// empty where there are none.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Corners(pub Option<Quad>);

impl Serialize for Corners {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        let points = self.0.iter().flat_map(|quad| quad.0);
        let text: Vec<String> = points.map(|p| format!("{:.1},{:.1}", p.x, p.y)).collect();
        serializer.serialize_str(&text.join(" "))
    }
}

impl<'de> Deserialize<'de> for Corners {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        let text = String::deserialize(deserializer)?;
        if text.is_empty() {
            return Ok(Self(None));
        }
        let point = |text: &str| {
            let (x, y) = text.split_once(',')?;
            Some(Point {
                x: x.parse().ok()?,
                y: y.parse().ok()?,
            })
        };
        text.split(' ')
            .map(point)
            .collect::<Option<Vec<_>>>()
            .and_then(|points| points.try_into().ok())
            .map(|points| Self(Some(Quad(points))))
            .ok_or_else(|| {
                D::Error::custom(format!(
                    "expected four corners `x,y x,y x,y x,y`, found `{text}`"
                ))
            })
    }
}

/// The column before those of the fields, and the one behind them.
const BEFORE_FIELDS: &str = "text";
const BEHIND_FIELDS: &str = "roster_number";

/// Writes truths as CSV with a header, the fields as columns behind the text.
///
/// # Errors
/// What the writer says.
pub fn write<'a>(
    to: impl io::Write,
    truths: impl IntoIterator<Item = &'a Truth>,
) -> csv::Result<()> {
    let mut writer = csv::Writer::from_writer(to);
    let mut at = None;
    for truth in truths {
        let mut row = csv::Writer::from_writer(Vec::new());
        row.serialize(truth)?;
        let row = row.into_inner().map_err(|fault| fault.into_error())?;
        let mut rows = csv::Reader::from_reader(row.as_slice());
        let at = match at {
            Some(at) => at,
            None => {
                let header = rows.headers()?.clone();
                let place = header.iter().position(|column| column == BEHIND_FIELDS);
                let place = *at.insert(place.unwrap_or(header.len()));
                let names = truth.fields.iter().map(|(name, _)| name);
                writer.write_record(spliced(&header, place, names))?;
                place
            }
        };
        for row in rows.records() {
            let values = truth.fields.iter().map(|(_, value)| value);
            writer.write_record(spliced(&row?, at, values))?;
        }
    }
    writer.flush()?;
    Ok(())
}

/// A row with more cells from `at` on.
fn spliced<'a>(
    row: &'a csv::StringRecord,
    at: usize,
    cells: impl Iterator<Item = &'a str>,
) -> impl Iterator<Item = &'a str> {
    row.iter().take(at).chain(cells).chain(row.iter().skip(at))
}

/// Reads what [`write`] wrote, whatever the collection's fields are.
///
/// # Errors
/// A column that is missing, or a cell that holds something else, with its line.
pub fn read(from: impl io::Read) -> csv::Result<Vec<Truth>> {
    let mut reader = csv::Reader::from_reader(from);
    let header = reader.headers()?.clone();
    let place = |name: &str| header.iter().position(|column| column == name);
    let fields = match (place(BEFORE_FIELDS), place(BEHIND_FIELDS)) {
        (Some(before), Some(behind)) if before < behind => before + 1..behind,
        // A column is missing, which each row says.
        _ => 0..0,
    };
    let truth = |row: csv::StringRecord| {
        let mut truth: Truth = row.deserialize(Some(&header))?;
        truth.fields = fields
            .clone()
            .map(|at| (&header[at], row.get(at).unwrap_or_default()))
            .collect();
        Ok(truth)
    };
    reader.records().map(|row| truth(row?)).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::command::demo::{Collection, CollectionKind, Settings};

    #[test]
    fn truths_of_every_collection_are_read_back_with_a_column_a_field() {
        for kind in CollectionKind::ALL {
            let settings = Settings {
                kind,
                sheets: 40,
                strange: 0.2,
                ..Settings::default()
            };
            let collection = Collection::new(settings);
            let planned = collection.sheets().map(|plan| Truth::planned(&plan));
            let truths: Vec<Truth> = planned.collect();
            let mut file = Vec::new();
            write(&mut file, &truths).unwrap();
            assert_eq!(read(file.as_slice()).unwrap(), truths);
            let mut reader = csv::Reader::from_reader(file.as_slice());
            let mut columns: Vec<&str> = reader.headers().unwrap().iter().collect();
            let fields = kind.particulars().fields;
            assert!(fields.iter().all(|field| columns.contains(field)));
            columns.sort_unstable();
            let count = columns.len();
            columns.dedup();
            assert_eq!(
                columns.len(),
                count,
                "a field has the name of another column"
            );
        }
    }
}
