//! The sample rehearsed: how right its proposals are, and what they ask of a clerk.

use super::LISTED;
use super::strips::{comparer, first_keying};
use crate::command::report::counted;
use crate::desk::knowledge::JobKnowledge;
use crate::desk::rehearse::{KnownSheet, rehearse};
use crate::desk::session::{plan, seen};
use crate::figures::{Interval, Mean, Share, clopper_pearson_upper};
use crate::job::Job;
use crate::journal::{JournalError, KeyedValue, Keying, Store, UNREADABLE};
use crate::review::{Proof, Rehearsal};
use crate::value::{SheetKind, SheetState, shown};
use std::collections::BTreeMap;
use std::fmt::Write;

/// Confidence of every interval.
const CONFIDENCE: f64 = 0.95;

/// The sample rehearsed: proposals beside what was keyed blind, and an ideal clerk's keys.
#[derive(Default)]
pub struct Rehearsed {
    pub states: BTreeMap<String, usize>,
    pub rehearsal: Rehearsal,
    /// Rules were published since the draw: no share of the sample is one of all sheets.
    pub is_mended: bool,
    /// Keyed, but in sight of the proposal: nothing is learnt from these.
    seen: usize,
    pub keystrokes: Mean,
    /// Keyed sheets that the ideal clerk was not given: several records, or characters that cannot be read.
    unrehearsed: usize,
}

impl Rehearsed {
    pub fn of<S: Store>(job: &Job<S>, proof: &Proof) -> Result<Self, JournalError> {
        let mut all = Self {
            is_mended: proof.is_mended,
            ..Self::default()
        };
        let comparer = comparer(job);
        let plan = plan(&job.settings, &job.proposer, 1);
        let knowledge = JobKnowledge::new(&job.proposer);
        for sheet in proof.sheets() {
            let state = job.store.state(sheet, 1)?.state;
            *all.states.entry(state.to_string()).or_default() += 1;
            let keying = first_keying(&job.store, sheet)?.filter(|_| state == SheetState::Keyed);
            let (Some(keying), Some(record)) = (keying, job.store.sheet(sheet)?) else {
                continue;
            };
            if keying.seen.proposal || keying.seen.suggestions {
                all.seen += 1;
                continue;
            }
            let proposal = job.store.proposal(sheet)?;
            let proposed = proposal.as_ref().map(|record| &record.proposal);
            all.rehearsal.add(sheet, &keying, proposed, &comparer);
            let Some(known) = known(&keying) else {
                all.unrehearsed += 1;
                continue;
            };
            let reading = job.store.reading(sheet)?;
            let mut opened = seen(&job.settings, &record, 1, reading, proposal);
            // As most sheets of the bulk will come.
            opened.unfilled = false;
            let done = rehearse(&plan, opened, &known, &knowledge);
            match done.stuck {
                Some(_) => all.unrehearsed += 1,
                None => all.keystrokes.add(done.keystrokes as f64),
            }
        }
        Ok(all)
    }

    pub fn told(&self) -> String {
        let states = self
            .states
            .iter()
            .map(|(state, count)| format!("{count} {state}"));
        let mut text = format!("keyed blind: {}\n", states.collect::<Vec<_>>().join(", "));
        let Rehearsal {
            sheets,
            fields,
            by_face: [sure, look, empty],
            by_field,
            unreadable,
            misjudged,
            unfitted,
            misread,
        } = &self.rehearsal;
        if self.seen > 0 {
            let _ = writeln!(
                text,
                "  {} keyed in sight of the proposal since: left out of what follows",
                counted(self.seen, "sheet")
            );
        }
        if sheets.of == 0 {
            return text;
        }
        let trust = match self.is_mended {
            true => "rules were published since the draw: shares and intervals are of the sample on which the rules were \
                     mended, and too good; a fresh draw with another seed, keyed blind, gives honest ones: --draw --seed S \
                     --despite REASON"
                .to_owned(),
            false => format!(
                "95 % intervals: exact for sheets; for fields as many independent ones as those of {} are worth",
                counted(sheets.of as usize, "sheet")
            ),
        };
        let _ = writeln!(
            text,
            "proposed right, beside what was keyed ({trust})\n  sheets with every field right: {}\n  fields right: {}",
            rate(*sheets, sheets.interval(CONFIDENCE)),
            rate(fields.all, fields.interval(CONFIDENCE))
        );
        let _ = writeln!(
            text,
            "  sure and wrong: {} of {}{}",
            sure.hits,
            sure.of,
            match self.is_mended {
                true => String::new(),
                false => format!(
                    "; with 95 % confidence at most {:.1} in 1,000",
                    1_000.0 * clopper_pearson_upper(sure.hits, sure.of, CONFIDENCE)
                ),
            }
        );
        let _ = writeln!(
            text,
            "  to look at and wrong: {} of {}; proposed empty and not so: {} of {}",
            look.hits, look.of, empty.hits, empty.of
        );
        if let Some(keystrokes) = self.keystrokes.value() {
            let _ = writeln!(
                text,
                "  an ideal clerk takes {keystrokes:.2} keystrokes a sheet{}",
                match self.unrehearsed {
                    0 => String::new(),
                    left => format!(
                        "; {} left out (several records, or illegible)",
                        counted(left, "sheet")
                    ),
                }
            );
        }
        if *unreadable > 0 {
            let _ = writeln!(
                text,
                "  {} nobody could read: not compared",
                counted(*unreadable, "field")
            );
        }
        for (what, sheets) in [
            ("no rule fits", unfitted),
            ("another kind or number of records than proposed", misjudged),
        ] {
            if !sheets.is_empty() {
                let names: Vec<String> = sheets
                    .iter()
                    .take(LISTED)
                    .map(ToString::to_string)
                    .collect();
                let _ = writeln!(text, "  {what}: {} ({})", sheets.len(), names.join(", "));
            }
        }
        let mut worst: Vec<_> = by_field
            .iter()
            .filter(|(_, share)| share.hits < share.of)
            .collect();
        worst.sort_by_key(|(_, share)| std::cmp::Reverse(share.of - share.hits));
        let worst = worst
            .iter()
            .map(|(field, share)| format!("{} {}", shown(field), share.of - share.hits));
        if !misread.is_empty() {
            let _ = writeln!(
                text,
                "what still misses, by field: {}",
                worst.collect::<Vec<_>>().join(", ")
            );
        }
        for miss in misread.iter().take(LISTED) {
            let face = ["sure", "look", "empty"][miss.face as usize];
            let _ = writeln!(
                text,
                "  {} {} ({face}): proposed {}, keyed {}",
                miss.sheet,
                shown(&miss.field),
                or_nothing(&miss.proposed),
                or_nothing(&miss.keyed)
            );
        }
        if misread.len() > LISTED {
            let _ = writeln!(
                text,
                "  and {} more; --json has them all",
                misread.len() - LISTED
            );
        }
        text
    }
}

fn or_nothing(value: &str) -> String {
    match value.is_empty() {
        true => "nothing".to_owned(),
        false => shown(value).into_owned(),
    }
}

fn rate(share: Share, Interval { low, high }: Interval) -> String {
    format!(
        "{} of {}, {:.1} % ({:.1} to {:.1})",
        share.hits,
        share.of,
        100.0 * share.rate().unwrap_or_default(),
        100.0 * low,
        100.0 * high
    )
}

/// What was keyed as an answer for the ideal clerk; none where it is more than one record, or could not be read.
fn known(keying: &Keying) -> Option<KnownSheet> {
    let mut known = KnownSheet {
        kind: keying.kind,
        ..KnownSheet::default()
    };
    let record = match (&keying.records[..], keying.kind) {
        ([record], SheetKind::Record) => record,
        (_, SheetKind::Record) => return None,
        _ => return Some(known),
    };
    for field in &record.fields {
        let text = match &field.value {
            KeyedValue::Text(text) if !text.contains(UNREADABLE) => text.clone(),
            KeyedValue::NothingOnStrip => String::new(),
            _ => return None,
        };
        known.values.insert(field.field.clone(), text);
    }
    Some(known)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn shares_of_a_sample_on_which_rules_were_mended_claim_nothing_of_the_others() {
        let mut rehearsal = Rehearsal::default();
        rehearsal.sheets.count(true);
        for (is_mended, says, keeps_quiet) in [
            (
                false,
                ["exact for sheets", "with 95 % confidence"],
                "too good",
            ),
            (
                true,
                ["too good", "a fresh draw with another seed"],
                "exact",
            ),
        ] {
            let told = Rehearsed {
                rehearsal: rehearsal.clone(),
                is_mended,
                ..Rehearsed::default()
            }
            .told();
            assert!(says.iter().all(|says| told.contains(says)), "{told}");
            assert!(!told.contains(keeps_quiet), "{told}");
        }
    }
}
