//! What a job's readings and proposals are worth against the truth about drawn sheets.

use super::demo::{Noise, Truth, UNKNOWN_LAYOUT};
use crate::figures::{CharacterErrors, character_errors_with_blanks_collapsed, clopper_pearson};
use crate::proposal::{Face, Proposal};
use crate::reading::Reading;
use crate::rules::Extraction;
use crate::strip::Lay;
use crate::value::{Finding, SheetKind, shown};
use serde::Serialize;
use std::fmt;

/// Intersection over union with the true strip from which on a strip counts as found.
const FOUND: f64 = 0.5;

/// What was made of one sheet.
pub struct Attempt<'a> {
    pub lay: Option<&'a Lay>,
    pub reading: &'a Reading,
    pub findings: &'a [Finding],
    pub extractions: &'a [Extraction],
    pub proposal: &'a Proposal,
}

/// Counts over sheets of one noise level.
#[derive(Debug, Clone, Default, Serialize)]
pub struct Score {
    /// Records whose layout the starter rules cover.
    pub records: usize,
    /// Of the records: strip found where it lies, upright, right side and polarity.
    pub strips_right: usize,
    pub blanks: usize,
    /// Blank strips that were called so.
    pub blanks_right: usize,
    pub characters: CharacterErrors,
    /// Of the records: the identifying fields as typed in the best rule's first choices, before the roster was asked.
    pub identifiers_right: usize,
    /// Of the records: every field proposed as it is typed on the strip.
    pub sheets_right: usize,
    /// Of the records: no rule fitted.
    pub unfitted: usize,
    /// Of the records: in the roster at all; none where the collection has no roster.
    pub in_roster: usize,
    /// Linked to the right roster row, or rightly to none.
    pub links_right: usize,
    /// Fields of the records, and those proposed as typed on the strip, empty where nothing is.
    pub fields: usize,
    pub fields_right: usize,
    pub faces: Faces,
    /// Records whose layout no starter rule covers.
    pub strange: Unruly,
    /// Dividers and targets.
    pub others: Unruly,
}

/// Sheets that no rule should fit.
#[derive(Debug, Clone, Default, Serialize)]
pub struct Unruly {
    pub sheets: usize,
    /// A rule fits.
    pub fitted: usize,
    /// A field wears the face sure.
    pub sure: usize,
}

impl Unruly {
    fn add(&mut self, attempt: &Attempt) {
        let mut fields = attempt.proposal.fields.iter();
        self.sheets += 1;
        self.fitted += usize::from(!attempt.extractions.is_empty());
        self.sure += usize::from(fields.any(|field| field.face == Face::Sure));
    }
}

/// Fields by face, and the wrong ones among them.
#[derive(Debug, Clone, Default, Serialize)]
pub struct Faces {
    pub sure: usize,
    pub sure_wrong: usize,
    pub look: usize,
    pub look_wrong: usize,
    pub empty: usize,
}

/// A field that looked sure and was not.
#[derive(Debug, Clone, Serialize)]
pub struct WrongSure {
    pub sheet: String,
    pub field: String,
    pub proposed: String,
    pub typed: String,
}

/// A rule that fits a sheet that no rule should fit.
#[derive(Debug, Clone, Serialize)]
pub struct FalseFit {
    pub sheet: String,
    pub rule: String,
    /// What is typed on the sheet.
    pub text: String,
}

/// The scores by noise.
#[derive(Debug, Clone, Default, Serialize)]
pub struct ScoreBoard {
    /// The fields that tell a record's sheets from those of others.
    #[serde(skip)]
    identifier: &'static [&'static str],
    pub default: Score,
    pub heavy: Score,
    pub wrong_sure: Vec<WrongSure>,
    pub false_fits: Vec<FalseFit>,
}

impl ScoreBoard {
    pub fn new(identifier: &'static [&'static str]) -> Self {
        Self {
            identifier,
            ..Self::default()
        }
    }

    pub fn add(&mut self, truth: &Truth, attempt: &Attempt) {
        let score = match truth.noise {
            Noise::Default => &mut self.default,
            Noise::Heavy => &mut self.heavy,
        };
        if truth.kind == SheetKind::Blank {
            score.blanks += 1;
            score.blanks_right +=
                usize::from(attempt.findings.iter().any(|f| f.code == "blank-strip"));
            return;
        }
        let unruly = match truth.kind {
            SheetKind::Record if truth.layout == UNKNOWN_LAYOUT => Some(&mut score.strange),
            SheetKind::Record => None,
            _ => Some(&mut score.others),
        };
        if let Some(unruly) = unruly {
            unruly.add(attempt);
            self.false_fits
                .extend(attempt.extractions.first().map(|best| FalseFit {
                    sheet: truth.sheet.clone(),
                    rule: best.rule.clone(),
                    text: truth.text.clone(),
                }));
            return;
        }
        score.records += 1;
        score.strips_right += usize::from(attempt.lay.is_some_and(|lay| lies_right(lay, truth)));
        // In the truth a slash between blanks also stands between lines.
        let on_one_line = |text: &str| text.replace('\n', " ").replace(" / ", " ");
        score.characters += character_errors_with_blanks_collapsed(
            &on_one_line(&truth.text),
            &on_one_line(&attempt.reading.text()),
        );
        score.unfitted += usize::from(attempt.extractions.is_empty());
        let identifier = self.identifier.iter();
        let is_read = |&name: &&str| first_choice(attempt, name) == truth.fields.get(name);
        score.identifiers_right += usize::from(identifier.copied().all(|name| is_read(&name)));
        let linked = attempt.proposal.link.as_ref().map_or("", |link| &link.key);
        score.in_roster += usize::from(!truth.roster_number.is_empty());
        score.links_right += usize::from(linked == truth.roster_number);
        let mut all_right = true;
        for field in &attempt.proposal.fields {
            let typed = truth.fields.get(&field.field).unwrap_or_default();
            let right = same(&field.as_typed, typed);
            all_right &= right;
            score.fields += 1;
            score.fields_right += usize::from(right);
            let faces = &mut score.faces;
            match field.face {
                Face::Sure => {
                    faces.sure += 1;
                    faces.sure_wrong += usize::from(!right);
                }
                Face::Look => {
                    faces.look += 1;
                    faces.look_wrong += usize::from(!right);
                }
                Face::Empty => faces.empty += 1,
            }
            if field.face == Face::Sure && !right {
                self.wrong_sure.push(WrongSure {
                    sheet: truth.sheet.clone(),
                    field: field.field.clone(),
                    proposed: field.as_typed.clone(),
                    typed: typed.to_owned(),
                });
            }
        }
        score.sheets_right += usize::from(all_right && !attempt.proposal.fields.is_empty());
    }
}

fn lies_right(lay: &Lay, truth: &Truth) -> bool {
    (lay.turned, lay.mirrored, lay.inverted) == (truth.turned, truth.mirrored, truth.inverted)
        && truth
            .strip
            .0
            .is_some_and(|strip| strip.overlap(&lay.corners) >= FOUND)
}

fn first_choice<'a>(attempt: &'a Attempt, name: &str) -> Option<&'a str> {
    let fields = &attempt.extractions.first()?.fields;
    let field = fields.iter().find(|field| field.field == name)?;
    let first = field.candidates.first();
    first.map(|candidate| candidate.value.as_str())
}

/// Equal but for case and the width of gaps.
fn same(a: &str, b: &str) -> bool {
    a.to_uppercase()
        .split_whitespace()
        .eq(b.to_uppercase().split_whitespace())
}

/// Wrong sure fields, and false fits, that are listed; the others are only counted.
const LISTED: usize = 5;

impl fmt::Display for ScoreBoard {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        writeln!(
            f,
            "{:34}{:>18}{:>18}",
            "against the truth", "default noise", "heavy noise"
        )?;
        let scores = [&self.default, &self.heavy];
        let mut row = |what: &str, cell: &dyn Fn(&Score) -> String| {
            writeln!(f, "{what:34}{:>18}{:>18}", cell(scores[0]), cell(scores[1]))
        };
        row("sheets with a typed strip", &|s| s.records.to_string())?;
        row("strip found, upright, right side", &|s| {
            share(s.strips_right, s.records)
        })?;
        row("blank strips called blank", &|s| {
            format!("{} of {}", s.blanks_right, s.blanks)
        })?;
        row("character error rate", &|s| {
            s.characters
                .rate()
                .map_or("-".into(), |r| format!("{r:.4}"))
        })?;
        row("no rule fits", &|s| share(s.unfitted, s.records))?;
        row("identifier right before the roster", &|s| {
            share(s.identifiers_right, s.records)
        })?;
        row("roster row right, or rightly none", &|s| {
            let linkable = if s.in_roster > 0 { s.records } else { 0 };
            share(s.links_right, linkable)
        })?;
        row("every field right", &|s| share(s.sheets_right, s.records))?;
        row("fields right", &|s| share(s.fields_right, s.fields))?;
        row("fields sure", &|s| share(s.faces.sure, s.faces.all()))?;
        row("  of these wrong", &|s| {
            format!("{} of {}", s.faces.sure_wrong, s.faces.sure)
        })?;
        row("fields to look at", &|s| share(s.faces.look, s.faces.all()))?;
        row("  of these wrong", &|s| {
            format!("{} of {}", s.faces.look_wrong, s.faces.look)
        })?;
        row("fields empty", &|s| share(s.faces.empty, s.faces.all()))?;
        type Pick = fn(&Score) -> &Unruly;
        let unruly: [(&str, Pick); 2] = [
            ("layouts unknown to the rules", |s| &s.strange),
            ("dividers and targets", |s| &s.others),
        ];
        for (what, of) in unruly {
            if scores.iter().all(|score| of(score).sheets == 0) {
                continue;
            }
            row(what, &|s| of(s).sheets.to_string())?;
            row("  a rule fits", &|s| share(of(s).fitted, of(s).sheets))?;
            row("  a field is sure", &|s| share(of(s).sure, of(s).sheets))?;
        }
        let sure = self.default.faces.sure + self.heavy.faces.sure;
        if sure > 0 {
            let wrong = self.wrong_sure.len();
            let high = clopper_pearson(wrong as u64, sure as u64, 0.95).high;
            writeln!(
                f,
                "sure and wrong: {wrong} of {sure} fields; with 95 % confidence at most one in {:.0}",
                1.0 / high
            )?;
        }
        for wrong in self.wrong_sure.iter().take(LISTED) {
            let (proposed, typed) = (shown(&wrong.proposed), shown(&wrong.typed));
            writeln!(
                f,
                "  {} {}: {proposed} proposed, {typed} typed",
                wrong.sheet, wrong.field
            )?;
        }
        for FalseFit { sheet, rule, text } in self.false_fits.iter().take(LISTED) {
            writeln!(f, "  {sheet}: \"{rule}\" fits {}", shown(text))?;
        }
        Ok(())
    }
}

impl Faces {
    fn all(&self) -> usize {
        self.sure + self.look + self.empty
    }
}

fn share(hits: usize, of: usize) -> String {
    if of == 0 {
        "-".into()
    } else {
        format!("{:.1} %", 100.0 * hits as f64 / of as f64)
    }
}
