//! Counts for a report, sheet by sheet.

use super::{
    CalibrationPoint, CodedAgreement, Disagreements, ErrorReport, FacesReport, LeftOverReport,
    SheetFacts, rates,
};
use crate::figures::{Clusters, Mean, Share};
use crate::job::JobSettings;
use crate::journal::{Act, Entry, KeyedValue, Keying};
use crate::proposal::Face;
use crate::review::{
    Chosen, Comparer, Doubleness, Errors, Judged, LeftOver, Merged, Place, Reviewed, Verdict,
    WHY_LOWER_BOUND,
};
use crate::value::SheetState;
use std::collections::BTreeMap;

/// Upper ends of the probabilities that proposals are gathered by: finer towards 1, where *sure* begins.
const PROBABILITIES: [f64; 7] = [0.5, 0.8, 0.9, 0.95, 0.99, 0.999, 1.0];

/// Gathers what a report tells, sheet by sheet.
#[derive(Default)]
pub(super) struct Gathered {
    pub(super) states: BTreeMap<String, usize>,
    pub(super) exceptions: BTreeMap<String, usize>,
    faces: BTreeMap<&'static str, Share>,
    calibration: [(Mean, Share); PROBABILITIES.len()],
    sheets_keyed_twice: usize,
    double: usize,
    disagreements: Errors,
    confirmations: Clusters,
    errors: [Errors; 2],
    /// Fields and sheets of those that were drawn at random.
    drawn: [(Clusters, Share); 2],
    /// Values of coded fields as both keyed them.
    coded: BTreeMap<String, Vec<(String, String)>>,
    left_over: LeftOver,
}

impl Gathered {
    pub(super) fn add(
        &mut self,
        facts: &SheetFacts,
        settings: &JobSettings,
        comparer: &Comparer,
        critical: &[String],
    ) {
        let reviewed = Reviewed::of(facts.history, [1, 2], comparer);
        *self.states.entry(reviewed.state.to_string()).or_default() += 1;
        if matches!(reviewed.state, SheetState::Held | SheetState::SetAside) {
            let reason = reason(facts.history, settings);
            let key = format!("{}: {reason}", reviewed.state);
            *self.exceptions.entry(key).or_default() += 1;
        }
        let truth = reviewed.truth().map(Merged::into_keying);
        self.add_faces(&reviewed, truth.as_ref(), comparer);
        let (Some((one, first)), Some((other, second))) = (reviewed.first, reviewed.second) else {
            return;
        };
        let rule = facts.rule;
        self.sheets_keyed_twice += 1;
        let judged = Judged::of(first, second, comparer, (facts.sheet, &one.by, rule));
        match reviewed.counts_as() {
            Some(Doubleness::Double) => {
                self.double += 1;
                self.disagreements.add(&judged, critical);
                self.add_coded(&reviewed, comparer);
            }
            _ => {
                self.confirmations.add(judged.wrong_fields());
                return;
            }
        }
        let Some(truth) = truth else { return };
        for (n, (entry, keying)) in [(one, first), (other, second)].into_iter().enumerate() {
            let judged = Judged::of(keying, &truth, comparer, (facts.sheet, &entry.by, rule));
            self.errors[n].add(&judged, critical);
            if facts.second == Some(Chosen::Drawn) {
                let (fields, sheets) = &mut self.drawn[n];
                fields.add(judged.wrong_fields());
                sheets.count(judged.is_wrong());
            }
        }
        self.left_over.add(first, second, &truth, comparer);
    }

    fn add_coded(&mut self, reviewed: &Reviewed, comparer: &Comparer) {
        let places = reviewed.comparison.iter().flat_map(|c| &c.places);
        for compared in places {
            let (Place::Field(_, field), Some(first), Some(second)) =
                (&compared.at, &compared.first, &compared.second)
            else {
                continue;
            };
            if comparer.is_coded(field) && compared.verdict != Verdict::KeyedOnce {
                let pair = (comparer.code(first), comparer.code(second));
                self.coded.entry(field.clone()).or_default().push(pair);
            }
        }
    }

    /// Counts proposals by what the sheet turned out to say: by the truth, or by the one keying that did not see them.
    fn add_faces(&mut self, reviewed: &Reviewed, truth: Option<&Keying>, comparer: &Comparer) {
        let keyings = [reviewed.first, reviewed.second].into_iter().flatten();
        let mut keyings = keyings.map(|(_, keying)| keying);
        let blind = |keying: &&Keying| !keying.seen.proposal && !keying.seen.suggestions;
        let Some(blind) = keyings.clone().find(blind) else {
            return;
        };
        let truth = truth.unwrap_or(blind);
        let Some(keying) = keyings.find(|keying| keying.records.len() == truth.records.len())
        else {
            return;
        };
        for (record, right) in keying.records.iter().zip(&truth.records) {
            for field in &record.fields {
                let right = right.fields.iter().find(|other| other.field == field.field);
                let (Some(proposed), Some(right)) = (&field.proposed, right) else {
                    continue;
                };
                let value = KeyedValue::Text(proposed.value.clone());
                let verdict = comparer.compare(&field.field, &value, &right.value);
                let is_wrong = verdict == Verdict::Different;
                let face = match proposed.face {
                    Face::Sure => "sure",
                    Face::Look => "look",
                    // Nothing was proposed that could be wrong.
                    Face::Empty => continue,
                };
                self.faces.entry(face).or_default().count(is_wrong);
                let probability = proposed.probability.get();
                let bin = PROBABILITIES.iter().position(|most| probability <= *most);
                let (mean, share) = &mut self.calibration[bin.unwrap_or(PROBABILITIES.len() - 1)];
                mean.add(probability);
                share.count(!is_wrong);
            }
        }
    }

    pub(super) fn faces(&self) -> FacesReport {
        let wrong = self
            .faces
            .iter()
            .map(|(face, share)| ((*face).to_owned(), (*share).into()));
        let points = self.calibration.iter().filter_map(|(mean, share)| {
            Some(CalibrationPoint {
                proposed: mean.value()?,
                right: (*share).into(),
            })
        });
        FacesReport {
            wrong: wrong.collect(),
            calibration: points.collect(),
        }
    }

    pub(super) fn disagreements(&self) -> Disagreements {
        let errors = &self.disagreements;
        let some = |clusters: &Clusters| (clusters.all.of > 0).then(|| clusters.into());
        let coded = self.coded.iter();
        let coded = coded.filter_map(|(field, p)| Some((field.clone(), CodedAgreement::of(p)?)));
        Disagreements {
            sheets_keyed_twice: self.sheets_keyed_twice,
            double: self.double,
            all: some(&errors.fields),
            two_confirmations: some(&self.confirmations),
            by_field: rates(&errors.by_field),
            by_face: rates(&errors.by_face),
            by_rule: rates(&errors.by_rule),
            by_batch: rates(&errors.by_batch),
            coded: coded.collect(),
        }
    }

    pub(super) fn errors(&self, keying: u8) -> ErrorReport {
        let at = usize::from(keying) - 1;
        let (errors, (drawn_fields, drawn_sheets)) = (&self.errors[at], &self.drawn[at]);
        ErrorReport {
            keying,
            characters: (&errors.characters).into(),
            fields: (&errors.fields).into(),
            sheets: errors.sheets.into(),
            critical_fields: (&errors.critical_fields).into(),
            critical_sheets: errors.critical_sheets.into(),
            drawn_fields: (drawn_sheets.of > 0).then(|| drawn_fields.into()),
            drawn_sheets: (drawn_sheets.of > 0).then(|| (*drawn_sheets).into()),
            by_field: rates(&errors.by_field),
            by_face: rates(&errors.by_face),
            by_rule: rates(&errors.by_rule),
            by_batch: rates(&errors.by_batch),
            by_person: rates(&errors.by_person),
        }
    }

    pub(super) fn left_over(&self) -> LeftOverReport {
        let left = &self.left_over;
        let counts = left.all();
        let (chapman, chapman_standard_error) = left.chapman();
        let (left_at_least, standard_error) = left.fields();
        LeftOverReport {
            fields_compared: counts.both + counts.only_first + counts.only_second + counts.neither,
            seen: counts.neither,
            lincoln_petersen: left.lincoln_petersen(),
            chapman,
            chapman_standard_error,
            across_fields: left.across_fields().0,
            left_at_least,
            standard_error,
            wrong_proposals_left_at_least: left.wrong_proposals_left(),
            is_dependent: left.is_dependent(),
            why_lower_bound: WHY_LOWER_BOUND,
        }
    }
}

/// Why a sheet is held or set aside, if that is one of the reasons that the job offers. Others may name people.
fn reason(history: &[Entry], settings: &JobSettings) -> String {
    let said = history.iter().rev().find_map(|entry| match &entry.act {
        Act::Held { reason } | Act::SetAside { reason } => Some(reason),
        _ => None,
    });
    let keying = &settings.keying;
    let offered = keying.hold.iter().chain(&keying.set_aside);
    let known = offered.clone().find(|reason| Some(*reason) == said);
    known.map_or("another reason".to_owned(), String::clone)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::journal::Seen;
    use crate::review::testing::{entry, keying};
    use crate::rules::{FieldKind, FieldSpec};
    use crate::value::SheetId;
    use std::path::Path;

    const JOB: &str =
        "title = \"T\"\n[sheets]\nfolder = \"s\"\n[rules]\nfiles = []\n[naming]\npattern = \"x\"\n";

    /// The example of [`crate::figures::Agreement`]: kappa is one half.
    #[test]
    fn coded_fields_have_kappa_and_confirmations_stand_apart() {
        let settings = JobSettings::parse(Path::new("."), JOB).unwrap();
        let coded = [FieldSpec::new("surname", FieldKind::Choice)];
        let comparer = Comparer::new(&settings.quality, &coded);
        let sheet = SheetId::new("1.png");
        let mut gathered = Gathered::default();
        let mut add = |first: &str, second: &str, sees: bool| {
            let keyed = |surname| {
                let mut keying = keying(surname, "1");
                keying.seen = Seen {
                    proposal: sees,
                    ..Seen::default()
                };
                Act::Keyed(keying)
            };
            let history = [
                entry(1, "mia", 1, keyed(first)),
                entry(2, "kim", 2, keyed(second)),
            ];
            let facts = SheetFacts {
                sheet: &sheet,
                history: &history,
                rule: None,
                second: None,
            };
            gathered.add(&facts, &settings, &comparer, &[]);
        };
        for (first, second) in [("a", "A"), ("a", "b"), ("b", "b"), ("B", "b")] {
            add(first, second, false);
        }
        add("a", "b", true);
        let found = gathered.disagreements();
        assert_eq!((found.sheets_keyed_twice, found.double), (5, 4));
        let surname = found.coded["surname"];
        assert_eq!((surname.pairs, surname.kappa), (4, Some(0.5)));
        assert_eq!(found.coded.len(), 1);
        let counted = |rate: Option<crate::review::Rate>| rate.map(|rate| (rate.hits, rate.of));
        assert_eq!(counted(found.all), Some((1, 8)));
        assert_eq!(counted(found.two_confirmations), Some((1, 2)));
    }
}
