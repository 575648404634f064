//! Reading in, fields out, by rules that the user wrote.

mod align;
mod around;
mod automaton;
mod background;
mod bench;
mod candidates;
mod cells;
mod charset;
mod confusion;
pub mod example;
mod explain;
mod extract;
mod fault;
mod field;
mod file;
mod fingerprint;
mod flat;
mod forward;
mod glance;
mod hypotheses;
mod judge;
mod kind;
mod looks;
mod meaning;
mod mesh;
mod pattern;
mod prepared;
mod rule;
mod schema;
mod section;
mod sense;
mod slot;
mod table;
mod takers;
mod template;
#[cfg(test)]
mod tests;
mod texts;
mod words;
mod writing;

pub use around::{Around, BAND_COLOURS, band_colour};
pub use bench::{
    Agreement, Bench, BenchSheet, Difference, Effect, FieldDifference, Group, Pair, Progress,
    TakenField,
};
pub use explain::{Explanation, Piece};
pub use fault::{FAULTS_SHOWN, Fault, Faults};
pub(crate) use fault::{FaultList, all_of};
pub(crate) use field::styles;
pub(crate) use kind::STYLE_KEYS;
pub use kind::{Carry, Deliver, FieldKind, FieldSpec, Key, LookUp, Styles};
pub use schema::{rules_schema, styles_schema};
pub(crate) use section::{Section, document};
pub use writing::Writing;

use crate::reading::Reading;
use crate::value::{Probability, SheetKind, sha256_parts};
use rule::Rule;
use serde::{Deserialize, Serialize};
use std::ops::Range;

/// What one rule took out of a reading. The fitting rules come best first.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Extraction {
    /// The rule's name.
    pub rule: String,
    /// What a sheet is that this rule fits.
    #[serde(default)]
    pub sheet: SheetKind,
    /// Natural log of how much better the rule explains the reading than free text would. Comparable between rules.
    pub score: f64,
    /// Probability that this rule is the right one among all rules and "none of them".
    pub probability: Probability,
    /// In the order of the template; fields of which nothing was read are left out.
    pub fields: Vec<Extracted>,
    /// What had to be tolerated to make it fit, in words ("a blank is missing after the comma").
    pub tolerated: Vec<String>,
}

/// One field as a rule took it.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Extracted {
    /// The field's name in the rule file.
    pub field: String,
    /// Which record of the strip it belongs to, from 0.
    #[serde(default)]
    pub record: usize,
    #[serde(default)]
    pub source: Source,
    /// Index into `Reading::lines`.
    pub line: usize,
    /// Positions on that line.
    pub positions: Range<usize>,
    /// Values as typed, best first, probabilities adding up to at most 1. Never empty.
    pub candidates: Vec<Candidate>,
    /// What the strip's best reading says there, before the field's kind corrected it.
    pub raw: String,
}

/// Where an extracted value comes from.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Source {
    #[default]
    Strip,
    /// The strip has a ditto mark: the value is that of the sheet before.
    Ditto,
    /// The rule gives it to every sheet that it fits.
    Constant,
}

/// A value that a field may have.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Candidate {
    /// As typed on the strip, misread characters put right by the field's kind.
    pub value: String,
    /// That this is what was typed, given that the rule is the right one.
    pub probability: Probability,
    /// The check character, where the field has one: holds or not.
    pub check_holds: Option<bool>,
    /// Why it may mean something else; such a value is never sure.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub doubt: Option<String>,
}

/// Probability of all rules together from which a strip counts as one of theirs.
pub const ANY_RULE: f64 = 0.5;

/// Whether a strip is more probably of a layout that a rule describes than of none.
pub fn any_fits(extractions: &[Extraction]) -> bool {
    let of_rules = extractions
        .iter()
        .map(|extraction| extraction.probability.get());
    of_rules.sum::<f64>() >= ANY_RULE
}

impl Extraction {
    /// How many records the rule found on the strip.
    pub fn records(&self) -> usize {
        self.fields
            .iter()
            .map(|field| field.record + 1)
            .max()
            .unwrap_or(1)
    }

    /// What belongs to one record: its own fields, and those of the first that it does not have itself.
    pub fn of_record(&self, record: usize) -> Self {
        let own = |field: &str| {
            self.fields
                .iter()
                .any(|f| f.record == record && f.field == field)
        };
        let fields = self.fields.iter();
        let fields = fields.filter(|f| f.record == record || (f.record == 0 && !own(&f.field)));
        Self {
            fields: fields.cloned().collect(),
            ..self.clone()
        }
    }
}

/// Part of every book's hash: raised when the same rules would take other values out of the same reading.
const REVISION: u32 = 3;

/// The rules of a job, compiled.
#[derive(Debug, Clone)]
pub struct RuleBook {
    fields: Vec<FieldSpec>,
    rules: Vec<Rule>,
    checks: Vec<sense::SheetCheck>,
    /// Of each field.
    judges: Vec<Vec<judge::Judge>>,
    hash: String,
}

impl RuleBook {
    /// Reads one rule file.
    ///
    /// ```
    /// use headword::reading::{Line, Reading};
    /// use headword::rules::{Around, RuleBook};
    ///
    /// let book = RuleBook::parse(
    ///     "names.toml",
    ///     r#"
    ///     [[field]]
    ///     name = "surname"
    ///     kind = "surname"
    ///     [[field]]
    ///     name = "number"
    ///     kind = "code"
    ///     pattern = '\d{6}'
    ///     [[rule]]
    ///     name = "name and number"
    ///     line = "{surname}   NO. {number}"
    ///     "#,
    /// )?;
    /// let lines = vec![Line::certain("HARGREAVES  NO 2O4517", 0.95)];
    /// let best = &book.extract(&Reading { lines }, &Around::default())[0];
    /// assert_eq!(best.fields[1].candidates[0].value, "204517");
    /// # Ok::<(), headword::rules::Faults>(())
    /// ```
    ///
    /// # Errors
    /// Every fault of the file, each with its place and what to write instead.
    pub fn parse(file_name: &str, text: &str) -> Result<Self, Faults> {
        Self::parse_all(&[(file_name, text)], &Styles::default())
    }

    /// Reads several files, given as (name, text), as one book: fields declared in one may be used in another. Values
    /// are typed in these styles where a field does not say otherwise.
    ///
    /// # Errors
    /// Every fault of all files, in their order.
    pub fn parse_all(files: &[(&str, &str)], styles: &Styles) -> Result<Self, Faults> {
        Ok(Self::of(file::read(files, styles)?, files, styles))
    }

    /// The rules of a file alone, with this book's fields and checks known to it: for trying them.
    fn beside(&self, file: (&str, &str), styles: &Styles) -> Result<Self, Faults> {
        let mut known = file::Contents::default();
        known.fields.clone_from(&self.fields);
        known.checks.clone_from(&self.checks);
        let files = [file];
        let contents = file::read_beside(&files, styles, known)?;
        Ok(Self::of(contents, &files, styles))
    }

    fn of(contents: file::Contents, files: &[(&str, &str)], styles: &Styles) -> Self {
        let applied = format!("{REVISION} {styles:?}");
        let texts = files.iter().map(|(_, text)| *text);
        let hash = sha256_parts(std::iter::once(applied.as_str()).chain(texts));
        Self {
            judges: judge::judges(&contents.fields, &contents.rules),
            fields: contents.fields,
            rules: contents.rules,
            checks: contents.checks,
            hash,
        }
    }

    /// No rule and no field: nothing fits.
    pub fn none() -> Self {
        Self {
            fields: Vec::new(),
            rules: Vec::new(),
            checks: Vec::new(),
            judges: Vec::new(),
            hash: sha256_parts(["none"]),
        }
    }

    /// The fields, in the order in which the files declare them.
    pub fn fields(&self) -> &[FieldSpec] {
        &self.fields
    }

    /// The rules' names, in the order of the files.
    pub fn rules(&self) -> impl Iterator<Item = &str> {
        self.rules.iter().map(|rule| rule.name.as_str())
    }

    /// The field that this one must not exceed, where a sheet check says so (`part <= parts`).
    pub fn not_above(&self, field: &str) -> Option<&str> {
        let at = self.fields.iter().position(|spec| spec.name == field)?;
        let limit = self.checks.iter().find_map(|check| check.limit_of(at))?;
        Some(&self.fields[limit].name)
    }

    /// SHA-256 of the files' texts and of the way they are applied, in hexadecimal: equal hashes take equal values out
    /// of equal readings.
    pub fn hash(&self) -> &str {
        &self.hash
    }

    /// What the fitting rules take out of a reading, the most probable rule first; empty where none fits.
    pub fn extract(&self, reading: &Reading, around: &Around) -> Vec<Extraction> {
        match prepared::Prepared::new(reading) {
            Some(prepared) => self.extractions(&prepared, reading, around),
            None => Vec::new(),
        }
    }

    /// Why a rule fits a reading or does not; `None` where there is no rule of that name.
    pub fn explain(
        &self,
        reading: &Reading,
        around: &Around,
        rule_name: &str,
    ) -> Option<Explanation> {
        let rule = self.rules.iter().find(|rule| rule.name == rule_name)?;
        Some(self.explanation(reading, rule, around))
    }

    /// What each sheet check says of a record's values, in the order of the files: whether it is kept; `None` where a
    /// value is missing or cannot be compared.
    pub fn checks_kept<'v>(
        &self,
        value_of: impl Fn(&str) -> Option<&'v str>,
    ) -> impl Iterator<Item = Option<bool>> {
        let checks = self.checks.iter();
        checks.map(move |check| check.verdict(&self.fields, &value_of))
    }

    /// Whether the check character of a field's value holds, as this rule took it; `None` where it has none.
    pub fn check_holds(&self, rule: Option<&str>, field: &str, value: &str) -> Option<bool> {
        let rule = self
            .rules
            .iter()
            .find(|known| Some(known.name.as_str()) == rule);
        let slots = rule.iter().flat_map(|rule| &rule.slots);
        let spec = slots
            .map(|slot| &*slot.spec)
            .find(|spec| spec.name == field)
            .or_else(|| self.fields.iter().find(|spec| spec.name == field))?;
        Some(spec.check.as_ref()?.holds(value))
    }

    /// What speaks against a value that somebody keyed, in words; none where nothing does.
    pub fn objection(&self, field: &str, value: &str) -> Option<String> {
        let at = self.fields.iter().position(|spec| spec.name == field)?;
        judge::objection(&self.judges[at], value)
    }

    /// The sheet checks that a record's values break: each check as it is written, and the fields that it names.
    pub fn broken_checks<'v>(
        &self,
        value_of: impl Fn(&str) -> Option<&'v str>,
    ) -> Vec<(&str, Vec<&str>)> {
        let broken = self
            .checks
            .iter()
            .filter(|check| check.verdict(&self.fields, &value_of) == Some(false));
        let name = |at: &usize| self.fields[*at].name.as_str();
        broken
            .map(|check| (check.text(), check.fields().iter().map(name).collect()))
            .collect()
    }

    /// A field's value as the index writes it.
    pub fn written(&self, field: &str, value: &str) -> String {
        let Some(spec) = self.fields.iter().find(|spec| spec.name == field) else {
            return value.to_owned();
        };
        let writings = spec.write.iter();
        writings.fold(value.to_owned(), |value, writing| {
            writing.apply(&value, &spec.styles)
        })
    }
}
