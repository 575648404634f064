//! What the desk asks for, what lies over it, and what it is told.

use super::engine::Looked;
use super::links::Linked;
use crate::rules::Explanation;
use crate::rules::example::Candidate;

/// The edit that a draft is as it was opened.
pub const OPENED: u64 = 1;

/// What something outside has to do.
#[derive(Debug, Clone, PartialEq)]
pub enum Effect {
    /// The draft is another one now.
    Edited,
    Publish,
    /// The rules in use are wanted in the place of the draft.
    GiveUp,
    /// The sheet in hand is to be marked.
    BeginExample,
    /// Rules are wanted for what is marked.
    Try,
    /// Templates are wanted from keyed sheets that no rule fits.
    Suggest,
    Suspend,
    Repaint,
    Leave,
}

/// Where letters and arrows go.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Focus {
    Rules,
    Sheets,
}

/// What lies over the desk.
#[derive(Debug, Clone, PartialEq)]
pub enum Pane {
    None,
    /// All keys, from this line on.
    Help(usize),
    /// The sheet in hand explained by every rule, from this line on.
    Explained(usize),
    /// Sheets by rule, from this line on.
    ByRule(usize),
    /// The sheet in hand is marked as an example.
    Marking,
    /// Rules to choose from.
    Offers(Offers),
    /// Whether to put the draft to use.
    Publish,
    /// Whether to give the draft up.
    GiveUp,
}

/// Rules to choose from.
#[derive(Debug, Clone, PartialEq)]
pub struct Offers {
    pub candidates: Vec<Candidate>,
    pub chosen: usize,
    /// They were made for what was marked; else from keyed sheets.
    pub of_marks: bool,
    /// The file that they were made for.
    pub file: usize,
}

/// What the rules say of the sheet in hand.
#[derive(Debug, Clone, Default)]
pub struct Inspected {
    /// Its place in the drawer.
    pub at: usize,
    /// The reading's lines.
    pub text: Vec<String>,
    /// The rule that fits first, then those that come nearest.
    pub explanations: Vec<Explanation>,
    pub looked: Option<Looked>,
}

/// Where the work on the sheets' proposals stands, in the background.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Background {
    pub linked: Option<Linked>,
    /// Proposals renewed of so many, after a publication.
    pub renewed: Option<(usize, usize)>,
}
