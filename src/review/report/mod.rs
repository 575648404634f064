//! What a job's journal says of its progress and its accuracy, in figures. No value of any strip is in it.

mod gather;
mod sampling;

use super::errors::Breakdown;
use super::inspect::{Lot, Ruling, Verdict as LotVerdict};
use super::same::Comparer;
use super::twice::Chosen;
use crate::figures::{Agreement, Clusters, Interval, Mean, Quantiles, Share, krippendorffs_alpha};
use crate::job::{JobSettings, QualitySettings, SecondKeying};
use crate::journal::{Act, Entry, replay};
use crate::value::{SheetId, SheetState};
use gather::Gathered;
use sampling::sampling;
use serde::Serialize;
use std::collections::BTreeMap;

/// Confidence of all intervals.
const CONFIDENCE: f64 = 0.95;

/// What is known of one sheet.
#[derive(Debug, Clone, Copy)]
pub struct SheetFacts<'a> {
    pub sheet: &'a SheetId,
    /// All its entries, in the order of their numbers.
    pub history: &'a [Entry],
    /// The rule that proposed for it.
    pub rule: Option<&'a str>,
    /// Why it is keyed a second time; none where it is not.
    pub second: Option<Chosen>,
}

/// A share with its interval.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Rate {
    pub hits: u64,
    pub of: u64,
    /// None where nothing was counted.
    pub per_thousand: Option<f64>,
    pub low: f64,
    pub high: f64,
}

/// A job's report.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct JobReport {
    pub title: String,
    pub sheets: usize,
    /// Sheets by state.
    pub states: BTreeMap<String, usize>,
    pub passes: Vec<PassReport>,
    pub faces: FacesReport,
    pub disagreements: Disagreements,
    /// Of the first keying and of the second, by what was agreed or settled.
    pub errors: Vec<ErrorReport>,
    pub left_over: LeftOverReport,
    pub sampling: Option<SamplingReport>,
    /// Sheets held or set aside, by the reasons that the job offers; whatever else was typed is `another reason`.
    pub exceptions: BTreeMap<String, usize>,
    pub not_measured: Vec<String>,
}

/// How a pass goes.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct PassReport {
    pub pass: u8,
    pub keyed: usize,
    pub waiting: usize,
    pub keystrokes_a_sheet: Option<f64>,
    /// From the strip's drawing to the acceptance, pauses included.
    pub seconds_a_sheet: Option<f64>,
    pub median_seconds: Option<f64>,
    pub keystrokes_an_hour: Option<f64>,
    /// Hours of one person for the sheets that wait, at the speed so far.
    pub hours_left: Option<f64>,
}

/// How right proposals are, by keyings that did not see them, or by what was agreed or settled.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct FacesReport {
    /// Proposed fields that are wrong, by face.
    pub wrong: BTreeMap<String, Rate>,
    pub calibration: Vec<CalibrationPoint>,
}

#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct CalibrationPoint {
    /// The mean probability of the fields gathered here.
    pub proposed: f64,
    /// The share of them that is right.
    pub right: Rate,
}

/// Places in which two keyings differ.
#[derive(Debug, Clone, PartialEq, Default, Serialize)]
pub struct Disagreements {
    pub sheets_keyed_twice: usize,
    /// Of them those that count as double keying.
    pub double: usize,
    /// Fields that differ, of keyings that count as double.
    pub all: Option<Rate>,
    /// Fields that differ where both had seen the proposal: told apart, since they mean less.
    pub two_confirmations: Option<Rate>,
    pub by_field: BTreeMap<String, Rate>,
    pub by_face: BTreeMap<String, Rate>,
    pub by_rule: BTreeMap<String, Rate>,
    pub by_batch: BTreeMap<String, Rate>,
    /// Of fields that hold one of a few values.
    pub coded: BTreeMap<String, CodedAgreement>,
}

/// Agreement beyond chance on a field that holds one of a few values.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct CodedAgreement {
    pub pairs: u64,
    pub observed: f64,
    pub expected: f64,
    /// Cohen's; none where everybody keyed one value throughout.
    pub kappa: Option<f64>,
    /// Krippendorff's, nominal: it takes both people to use each value alike often.
    pub alpha: Option<f64>,
}

impl CodedAgreement {
    /// Of values as both keyed them; none where there are none.
    fn of(pairs: &[(String, String)]) -> Option<Self> {
        let both = pairs.iter().map(|(first, second)| (first, second));
        let agreement = Agreement::of(both.clone())?;
        Some(Self {
            pairs: agreement.count,
            observed: agreement.observed,
            expected: agreement.expected,
            kappa: agreement.cohens_kappa(),
            alpha: krippendorffs_alpha(both.map(|(first, second)| vec![first, second])),
        })
    }
}

#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct ErrorReport {
    pub keying: u8,
    pub characters: Rate,
    pub fields: Rate,
    pub sheets: Rate,
    pub critical_fields: Rate,
    pub critical_sheets: Rate,
    /// The same of sheets that were drawn for the second keying, where not all are keyed twice: these hold for the job.
    pub drawn_fields: Option<Rate>,
    pub drawn_sheets: Option<Rate>,
    pub by_field: BTreeMap<String, Rate>,
    pub by_face: BTreeMap<String, Rate>,
    pub by_rule: BTreeMap<String, Rate>,
    pub by_batch: BTreeMap<String, Rate>,
    pub by_person: BTreeMap<String, Rate>,
}

/// Fields that both keyings may have wrong alike.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct LeftOverReport {
    pub fields_compared: u64,
    /// Neither right, seen since the two differ.
    pub seen: u64,
    pub lincoln_petersen: f64,
    pub chapman: f64,
    pub chapman_standard_error: f64,
    pub across_fields: f64,
    pub left_at_least: f64,
    pub standard_error: f64,
    pub wrong_proposals_left_at_least: Option<f64>,
    pub is_dependent: bool,
    pub why_lower_bound: &'static str,
}

#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct SamplingReport {
    pub lot: Lot,
    /// The pass in which the sample is keyed.
    pub pass: u8,
    pub verdict: LotVerdict,
}

impl Rate {
    fn new(share: Share, interval: Interval) -> Self {
        Self {
            hits: share.hits,
            of: share.of,
            per_thousand: share.per_thousand(),
            low: interval.low,
            high: interval.high,
        }
    }
}

impl From<Share> for Rate {
    fn from(share: Share) -> Self {
        Self::new(share, share.interval(CONFIDENCE))
    }
}

impl From<&Clusters> for Rate {
    fn from(clusters: &Clusters) -> Self {
        Self::new(clusters.all, clusters.interval(CONFIDENCE))
    }
}

fn rates(breakdown: &Breakdown) -> BTreeMap<String, Rate> {
    let rates = breakdown
        .iter()
        .map(|(key, clusters)| (key.clone(), clusters.into()));
    rates.collect()
}

impl JobReport {
    /// From a job's settings and all that is known of its sheets, in drawer order.
    pub fn of(settings: &JobSettings, comparer: &Comparer, sheets: &[SheetFacts]) -> Self {
        let quality = &settings.quality;
        let critical: Vec<String> = quality
            .critical
            .iter()
            .map(|f| f.get_ref().clone())
            .collect();
        let mut gathered = Gathered::default();
        for facts in sheets {
            gathered.add(facts, settings, comparer, &critical);
        }
        let passes = settings.keying.passes;
        let sampling = sampling(quality, comparer, sheets, passes + 1);
        let pass_reports = (1..=passes).map(|pass| pass_report(sheets, pass));
        let mut report = Self {
            title: settings.title.clone(),
            sheets: sheets.len(),
            passes: pass_reports.collect(),
            faces: gathered.faces(),
            disagreements: gathered.disagreements(),
            errors: (1..=2).map(|n| gathered.errors(n)).collect(),
            left_over: gathered.left_over(),
            states: gathered.states,
            sampling,
            exceptions: gathered.exceptions,
            not_measured: Vec::new(),
        };
        report.not_measured = not_measured(&report, quality);
        report
    }
}

fn pass_report(sheets: &[SheetFacts], pass: u8) -> PassReport {
    let (mut keystrokes, mut seconds) = (Mean::default(), Vec::new());
    let mut waiting = 0;
    for facts in sheets {
        let entries = facts.history.iter().filter(|entry| entry.pass == pass);
        let state = replay(entries.clone());
        let standing = entries
            .rev()
            .find(|entry| Some(entry.number) == state.entry);
        match standing.map(|entry| &entry.act) {
            Some(Act::Keyed(keying)) => {
                keystrokes.add(f64::from(keying.keystrokes));
                seconds.push(keying.milliseconds as f64 / 1_000.0);
            }
            _ if state.state == SheetState::Waiting => {
                waiting += usize::from(pass == 1 || facts.second.is_some());
            }
            _ => {}
        }
    }
    let mean: Mean = seconds.iter().copied().collect();
    let (strokes, mean) = (keystrokes.value(), mean.value());
    let an_hour = strokes.zip(mean.filter(|seconds| *seconds > 0.0));
    PassReport {
        pass,
        keyed: seconds.len(),
        waiting,
        keystrokes_a_sheet: strokes,
        seconds_a_sheet: mean,
        median_seconds: Quantiles::of(seconds).at(0.5),
        keystrokes_an_hour: an_hour.map(|(strokes, seconds)| strokes / seconds * 3_600.0),
        hours_left: mean.map(|seconds| seconds * waiting as f64 / 3_600.0),
    }
}

/// What a reader might take for measured, and is not.
fn not_measured(report: &JobReport, quality: &QualitySettings) -> Vec<String> {
    let mut missing = Vec::new();
    let mut say = |words: &str| missing.push(words.to_owned());
    if report.disagreements.double == 0 {
        say(
            "Error rates and what is left over: no sheet was keyed twice with one of the keyings blind.",
        );
    } else {
        say("Errors that both keyings made alike count as right in the error rates.");
        if !matches!(quality.second, SecondKeying::All) {
            say(
                "Sheets that were keyed once: of the error rates only those of sheets drawn at random hold for them.",
            );
        }
    }
    match &report.sampling {
        Some(sampling) if sampling.verdict.ruling == Ruling::Open => {
            say("The lot's quality: its sample is not inspected to the end.");
        }
        Some(_) => say("Reduced inspection is not offered."),
        None => say("The lot's quality: there is no sheet."),
    }
    if report.faces.wrong.is_empty() {
        say("How right the proposals are: nobody keyed a sheet without seeing them.");
    }
    if quality.critical.is_empty() {
        say("Critical errors: the job names no critical fields.");
    }
    say(
        "Whether the roster's rows are the right ones; whether sheets are missing from the drawer.",
    );
    missing
}
