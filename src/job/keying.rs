//! `[keying]` of `job.toml`: who keys what, and what is seen while keying.

use crate::rules::{FaultList, Section};
use crate::value::{SheetId, sha256_parts};

/// How a job's sheets are keyed.
#[derive(Debug, Clone, PartialEq)]
pub struct KeyingSettings {
    /// Keyings that every sheet gets, by different people.
    pub passes: u8,
    /// Whether the first pass, and the second, see the proposal filled in; else the picture alone.
    pub sees_proposal: [bool; 2],
    /// Share of sheets, *sure* ones included, that come with nothing filled in: what error rates are measured on.
    pub unfilled: f64,
    /// Decides which sheets these are.
    pub seed: u64,
    /// Values may be kept against a check, with a reason.
    pub overrule: bool,
    /// The reasons offered for that.
    pub overrule_reasons: Vec<String>,
    /// The reasons offered for putting a sheet off, and for setting one aside.
    pub hold: Vec<String>,
    pub set_aside: Vec<String>,
}

impl Default for KeyingSettings {
    fn default() -> Self {
        let list = |words: &[&str]| words.iter().map(|&word| word.to_owned()).collect();
        Self {
            passes: 1,
            sees_proposal: [true, false],
            unfilled: 0.02,
            seed: 1,
            overrule: true,
            overrule_reasons: list(&["typed so on the strip", "the rule does not foresee it"]),
            hold: list(&[
                "ask the supervisor",
                "look at the film",
                "unknown abbreviation",
            ]),
            set_aside: list(&["cannot be read", "no strip", "not part of this job"]),
        }
    }
}

pub(super) const KEYS: [&str; 9] = [
    "passes",
    "sees",
    "second_sees",
    "unfilled",
    "seed",
    "overrule",
    "overrule_reasons",
    "hold",
    "set_aside",
];

/// What a pass sees, with its names in job files.
pub(super) const SEES: [(&str, bool); 2] = [("proposal", true), ("picture", false)];

pub(super) fn read(section: &Section, faults: &mut FaultList) -> KeyingSettings {
    let usual = KeyingSettings::default();
    let mut sees = |key: &str, usual: bool| {
        let Some((word, span)) = section.text(faults, key) else {
            return usual;
        };
        match SEES.iter().find(|(name, _)| *name == word) {
            Some((_, sees)) => *sees,
            None => {
                let advice = format!("Write {key} = \"proposal\" or {key} = \"picture\"");
                faults.add(
                    span.start,
                    "what the pass sees",
                    format!("`{word}`"),
                    advice,
                );
                usual
            }
        }
    };
    let sees_proposal = [
        sees("sees", usual.sees_proposal[0]),
        sees("second_sees", usual.sees_proposal[1]),
    ];
    let passes = within(
        section,
        faults,
        "passes",
        1.0,
        2.0,
        "a number of keyings, 1 or 2",
    );
    let unfilled = within(section, faults, "unfilled", 0.0, 1.0, "a share from 0 to 1");
    let list = |faults: &mut FaultList, key: &str, usual: Vec<String>| {
        let texts = section.texts(faults, key).into_iter().map(|(text, _)| text);
        let listed: Vec<String> = texts.collect();
        if listed.is_empty() { usual } else { listed }
    };
    KeyingSettings {
        passes: passes.map_or(usual.passes, |passes| passes as u8),
        sees_proposal,
        unfilled: unfilled.unwrap_or(usual.unfilled),
        seed: section.value::<u64>(faults, "seed").unwrap_or(usual.seed),
        overrule: section.get("overrule").is_none() || section.flag(faults, "overrule"),
        overrule_reasons: list(faults, "overrule_reasons", usual.overrule_reasons),
        hold: list(faults, "hold", usual.hold),
        set_aside: list(faults, "set_aside", usual.set_aside),
    }
}

/// A number between these, faulted where it is none.
pub(super) fn within(
    section: &Section,
    faults: &mut FaultList,
    key: &str,
    least: f64,
    most: f64,
    expected: &str,
) -> Option<f64> {
    let number = section.value::<f64>(faults, key)?;
    if (least..=most).contains(&number) {
        return Some(number);
    }
    let at = section
        .get(key)
        .map_or(section.span.start, |(_, v)| v.span().start);
    let found = faults.standing_at(at);
    faults.add(
        at,
        expected,
        found,
        format!("Write {key} = {least} to {most}"),
    );
    None
}

impl KeyingSettings {
    /// Whether a sheet belongs to the random share that comes with nothing filled in: the same on every machine.
    pub fn is_unfilled(&self, sheet: &SheetId) -> bool {
        let hash = sha256_parts([&self.seed.to_string(), sheet.as_str()]);
        // 52 bits, as many as a floating-point number holds.
        let drawn = u64::from_str_radix(&hash[..13], 16).expect("hexadecimal digits");
        (drawn as f64) / (1u64 << 52) as f64 <= self.unfilled && self.unfilled > 0.0
    }

    /// The pass in which a sample of the sheets is inspected: the one behind all others.
    pub fn inspection(&self) -> u8 {
        self.passes + 1
    }

    /// Whether a pass sees the proposal filled in; an inspection never does.
    pub fn pass_sees_proposal(&self, pass: u8) -> bool {
        pass != self.inspection() && self.sees_proposal[usize::from(pass > 1)]
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::job::JobSettings;
    use std::path::Path;

    const JOB: &str =
        "title = \"T\"\n[sheets]\nfolder = \"s\"\n[rules]\nfiles = []\n[naming]\npattern = \"x\"\n";

    #[test]
    fn says_who_sees_what_and_faults_the_rest() {
        let parsed = |text: &str| JobSettings::parse(Path::new("."), &format!("{JOB}{text}"));
        assert_eq!(parsed("").unwrap().keying, KeyingSettings::default());
        let keying = parsed("[keying]\npasses = 2\nsees = \"picture\"\noverrule = false\nunfilled = 0\nhold = [\"why\"]\n")
            .unwrap()
            .keying;
        assert_eq!((keying.passes, keying.sees_proposal), (2, [false, false]));
        assert_eq!(
            (keying.overrule, keying.hold.as_slice()),
            (false, &["why".to_owned()][..])
        );
        let faults = parsed("[keying]\npasses = 3\nsees = \"all\"\nunfilled = 2\nseed = \"x\"\n")
            .unwrap_err();
        let lines: Vec<usize> = faults.faults.iter().map(|fault| fault.line).collect();
        assert_eq!(lines, [9, 10, 11, 12], "{faults}");
    }

    #[test]
    fn two_in_a_hundred_come_unfilled() {
        let keying = KeyingSettings::default();
        let sheets = (0..50_000).map(|n| SheetId::new(format!("{n}.png")));
        let unfilled = sheets.filter(|sheet| keying.is_unfilled(sheet)).count();
        // Binomial: 1,000 expected, standard deviation 31; four of them.
        assert!(unfilled.abs_diff(1_000) < 125, "{unfilled}");
        let none = KeyingSettings {
            unfilled: 0.0,
            ..keying.clone()
        };
        assert!(!none.is_unfilled(&SheetId::new("1.png")));
        let all = KeyingSettings {
            unfilled: 1.0,
            ..keying
        };
        assert!(all.is_unfilled(&SheetId::new("1.png")));
    }
}
