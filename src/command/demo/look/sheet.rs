//! The sheet itself: its size, its frames, and the edge that bears the heading.

use serde::{Deserialize, Serialize};
use std::fmt;

/// Width and height in inches.
pub type Inches = (f32, f32);

/// An A6 jacket (148 x 105 mm).
pub const A6: Inches = (5.827, 4.134);
/// A card of the size of tabulating cards (common practice; from memory).
pub const TAB_CARD: Inches = (7.375, 3.25);
/// A sheet of about A5 (210 x 148 mm; common practice, from memory).
pub const A5: Inches = (8.268, 5.827);

/// Which edge of a sheet bears the heading, the sheet seen as its frames stand upright.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Edge {
    Top,
    /// The text stands as upright as the frames.
    Bottom,
    /// The text runs upwards along the edge.
    Left,
    /// The text runs downwards along the edge.
    Right,
}

impl Edge {
    /// Clockwise degrees by which a sheet whose frames are upright must be turned for its text to be.
    pub fn turn(self) -> u32 {
        match self {
            Self::Top | Self::Bottom => 0,
            Self::Left => 90,
            Self::Right => 270,
        }
    }

    /// The text runs along a short edge.
    pub fn is_short(self) -> bool {
        self.turn() != 0
    }
}

impl fmt::Display for Edge {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(match self {
            Self::Top => "top",
            Self::Bottom => "bottom",
            Self::Left => "left",
            Self::Right => "right",
        })
    }
}

/// How the frames stand on a sheet.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Grid {
    pub rows: usize,
    pub columns: usize,
}

impl Grid {
    /// 16 mm film in an A6 jacket (common practice; no source).
    pub const JACKET: Self = Self {
        rows: 5,
        columns: 12,
    };

    /// 35 mm film in an A6 jacket: six images (common practice; no source).
    pub const JACKET_35: Self = Self {
        rows: 2,
        columns: 3,
    };

    /// Computer-output microfiche of 270 frames (ISO 9923:1994, as in `microfiche_formats.csv`).
    pub const COMPUTER_OUTPUT: Self = Self {
        rows: 15,
        columns: 18,
    };

    /// Formats of 98, 60 and 63 frames, whose headings leave room. 98 is 7 x 14 as published; the others are from memory.
    pub const COARSE: [Self; 3] = [
        Self {
            rows: 7,
            columns: 14,
        },
        Self {
            rows: 5,
            columns: 12,
        },
        Self {
            rows: 7,
            columns: 9,
        },
    ];

    /// Formats of 208, 270, 325 and 420 frames, whose headings are low. 270 is 15 x 18 as published; the others are from
    /// memory.
    pub const FINE: [Self; 4] = [
        Self {
            rows: 13,
            columns: 16,
        },
        Self {
            rows: 15,
            columns: 18,
        },
        Self {
            rows: 13,
            columns: 25,
        },
        Self {
            rows: 15,
            columns: 28,
        },
    ];

    pub fn frames(self) -> usize {
        self.rows * self.columns
    }

    /// The heading's height as a share of the sheet's: "the width of one row, directly above the first row".
    pub fn heading(self) -> f32 {
        1.0 / (self.rows + 1) as f32
    }
}
