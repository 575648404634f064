//! The truth about a drawn sheet, one row of `truth.csv`.

use super::collection::PlannedSheet;
use super::look::{Edge, Noise, READABLE};
use super::typing::Layout;
use crate::value::{Point, Quad, SheetKind};
use serde::{Deserialize, Deserializer, Serialize, Serializer, de::Error};
use std::io;

/// What is on a sheet and where. The field order is the column order.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Truth {
    /// File name of the image.
    pub sheet: String,
    pub noise: Noise,
    pub layout: Layout,
    /// Record or blank.
    pub kind: SheetKind,
    /// As typed, slips included; lines joined by ` / `, runs of blanks kept.
    pub text: String,
    pub surname: String,
    pub forenames: String,
    pub number: String,
    pub from: String,
    pub to: String,
    pub part: String,
    pub parts: String,
    /// The number of the person's row in the roster, which is right where the typed one may not be; empty where the
    /// person is in no row. Known for blank strips too.
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
        let typed = plan.typed.clone();
        Self {
            sheet: plan.file_name(),
            noise: plan.noise,
            layout: plan.layout,
            kind: plan.kind,
            text: plan.text(),
            surname: typed.surname,
            forenames: typed.forenames,
            number: typed.number,
            from: typed.from,
            to: typed.to,
            part: typed.part,
            parts: typed.parts,
            roster_number: if plan.in_roster {
                plan.person.number.clone()
            } else {
                String::new()
            },
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

/// Writes rows (truths or people) as CSV with a header.
pub fn write_csv<T: Serialize>(
    to: impl io::Write,
    rows: impl IntoIterator<Item = T>,
) -> csv::Result<()> {
    let mut writer = csv::Writer::from_writer(to);
    for row in rows {
        writer.serialize(row)?;
    }
    writer.flush()?;
    Ok(())
}

/// Reads what [`write_csv`] wrote.
pub fn read_csv<T: for<'de> Deserialize<'de>>(from: impl io::Read) -> csv::Result<Vec<T>> {
    csv::Reader::from_reader(from).into_deserialize().collect()
}
