//! `[quality]` of `job.toml`: which sheets are keyed twice, what counts as the same value, and how accuracy is shown.

use super::keying::within;
use super::settings::list;
use crate::figures::{AcceptableQuality, Inspection, InspectionLevel};
use crate::rules::{FaultList, Section};
use serde::{Deserialize, Serialize};
use toml::Spanned;

/// How a job's accuracy is made and shown.
#[derive(Debug, Clone, PartialEq)]
pub struct QualitySettings {
    /// The sheets that are keyed a second time, where the job has two passes.
    pub second: SecondKeying,
    /// Share of sheets that are keyed a second time whatever their faces.
    pub second_share: f64,
    /// The fields that are keyed a second time; all where none is named.
    pub second_fields: Vec<Spanned<String>>,
    pub same: Sameness,
    /// Fields in which an error counts as critical.
    pub critical: Vec<Spanned<String>>,
    /// What the contract counts errors by.
    pub unit: ErrorUnit,
    pub level: InspectionLevel,
    pub quality: AcceptableQuality,
    pub inspection: Inspection,
    /// Decides which sheets of a lot are inspected.
    pub sample_seed: u64,
}

/// Which sheets are keyed a second time.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum SecondKeying {
    #[default]
    All,
    /// Those with a field below *sure*, and the random share of the rest.
    Doubtful,
    /// The random share alone.
    Share,
}

/// In what two values may differ and still be the same.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
pub struct Sameness {
    /// `Pier` and `PIER`.
    pub case: bool,
    /// One blank and several, and blanks at the ends.
    pub blanks: bool,
    /// `ST. JOHN'S` and `ST JOHNS`; signs beside digits always count.
    pub punctuation: bool,
    /// `1952-61` and `1952-1961`, in fields of dates.
    pub dates: bool,
}

/// What errors are counted by.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum ErrorUnit {
    Characters,
    Fields,
    #[default]
    Sheets,
}

/// Case and the width of gaps say nothing on a typed strip; signs may.
impl Default for Sameness {
    fn default() -> Self {
        Self {
            case: true,
            blanks: true,
            punctuation: false,
            dates: false,
        }
    }
}

impl Default for QualitySettings {
    fn default() -> Self {
        Self {
            second: SecondKeying::All,
            second_share: 0.1,
            second_fields: Vec::new(),
            same: Sameness::default(),
            critical: Vec::new(),
            unit: ErrorUnit::default(),
            level: InspectionLevel::default(),
            quality: AcceptableQuality::default(),
            inspection: Inspection::default(),
            sample_seed: 1,
        }
    }
}

pub(super) const KEYS: [&str; 10] = [
    "second",
    "second_share",
    "second_fields",
    "same",
    "critical",
    "unit",
    "level",
    "aql",
    "inspection",
    "sample_seed",
];

/// Words of a job file and what they mean.
pub(super) const SECOND: [(&str, SecondKeying); 3] = [
    ("all", SecondKeying::All),
    ("doubtful", SecondKeying::Doubtful),
    ("share", SecondKeying::Share),
];
pub(super) const UNITS: [(&str, ErrorUnit); 3] = [
    ("characters", ErrorUnit::Characters),
    ("fields", ErrorUnit::Fields),
    ("sheets", ErrorUnit::Sheets),
];
pub(super) const INSPECTIONS: [(&str, Inspection); 2] = [
    ("normal", Inspection::Normal),
    ("tightened", Inspection::Tightened),
];
pub(super) const SAME: [&str; 4] = ["case", "blanks", "punctuation", "dates"];

pub(super) fn read(section: &Section, faults: &mut FaultList) -> QualitySettings {
    let usual = QualitySettings::default();
    let share = within(
        section,
        faults,
        "second_share",
        0.0,
        1.0,
        "a share from 0 to 1",
    );
    QualitySettings {
        second: word(section, faults, "second", &SECOND).unwrap_or_default(),
        second_share: share.unwrap_or(usual.second_share),
        second_fields: list(section, faults, "second_fields"),
        same: match section.get("same") {
            Some(_) => sameness(section, faults),
            None => usual.same,
        },
        critical: list(section, faults, "critical"),
        unit: word(section, faults, "unit", &UNITS).unwrap_or_default(),
        level: level(section, faults).unwrap_or_default(),
        quality: quality(section, faults).unwrap_or_default(),
        inspection: word(section, faults, "inspection", &INSPECTIONS).unwrap_or_default(),
        sample_seed: section
            .value::<u64>(faults, "sample_seed")
            .unwrap_or(usual.sample_seed),
    }
}

/// What one of some words means, faulted where it is another.
pub(super) fn word<T: Copy>(
    section: &Section,
    faults: &mut FaultList,
    key: &str,
    words: &[(&str, T)],
) -> Option<T> {
    let (text, span) = section.text(faults, key)?;
    let found = words.iter().find(|(word, _)| *word == text);
    if found.is_none() {
        let names: Vec<String> = words
            .iter()
            .map(|(word, _)| format!("\"{word}\""))
            .collect();
        let advice = format!("Write {key} = {}", names.join(" or "));
        faults.add(span.start, names.join(", "), format!("`{text}`"), advice);
    }
    found.map(|(_, meaning)| *meaning)
}

fn sameness(section: &Section, faults: &mut FaultList) -> Sameness {
    let named = list(section, faults, "same");
    for name in named
        .iter()
        .filter(|name| !SAME.contains(&name.get_ref().as_str()))
    {
        faults.add(
            name.span().start,
            SAME.join(", "),
            format!("`{}`", name.get_ref()),
            "Write same = [\"case\", \"blanks\"], or [] where every sign counts",
        );
    }
    let has = |name: &str| named.iter().any(|other| other.get_ref() == name);
    Sameness {
        case: has("case"),
        blanks: has("blanks"),
        punctuation: has("punctuation"),
        dates: has("dates"),
    }
}

fn level(section: &Section, faults: &mut FaultList) -> Option<InspectionLevel> {
    let (text, span) = section.text(faults, "level")?;
    let level = text.parse();
    if level.is_err() {
        let all: Vec<String> = InspectionLevel::ALL
            .iter()
            .map(|l| format!("{l}"))
            .collect();
        let advice = "Write level = \"II\" unless the contract says otherwise";
        faults.add(span.start, all.join(", "), format!("`{text}`"), advice);
    }
    level.ok()
}

fn quality(section: &Section, faults: &mut FaultList) -> Option<AcceptableQuality> {
    let percent = section.value::<f64>(faults, "aql")?;
    match AcceptableQuality::try_from(percent) {
        Ok(quality) => Some(quality),
        Err(fault) => {
            let (_, value) = section.get("aql")?;
            let at = value.span().start;
            let found = faults.standing_at(at);
            let all: Vec<String> = AcceptableQuality::all()
                .map(|quality| quality.percent().to_string())
                .collect();
            let told = fault.to_string();
            let advice = told.rsplit("; ").next().unwrap_or_default();
            let advice = format!("{} for aql, in percent", advice.replacen('w', "W", 1));
            faults.add(at, all.join(", "), found, advice);
            None
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::job::JobSettings;
    use std::path::Path;

    const JOB: &str = "title = \"T\"\n[sheets]\nfolder = \"s\"\n[rules]\nfiles = []\n[naming]\npattern = \"x\"\n[quality]\n";

    #[test]
    fn says_what_is_keyed_twice_and_faults_the_rest() {
        let parsed = |text: &str| JobSettings::parse(Path::new("."), &format!("{JOB}{text}"));
        assert_eq!(parsed("").unwrap().quality, QualitySettings::default());
        let quality = parsed(
            "second = \"doubtful\"\nsecond_share = 0.05\nsame = []\ncritical = [\"number\"]\nunit = \"fields\"\n\
             level = \"I\"\naql = 0.65\ninspection = \"tightened\"\nsample_seed = 7\n",
        )
        .unwrap()
        .quality;
        assert_eq!(quality.second, SecondKeying::Doubtful);
        assert_eq!((quality.second_share, quality.sample_seed), (0.05, 7));
        assert_eq!(quality.quality.percent(), 0.65);
        assert_eq!(quality.level, InspectionLevel::I);
        assert_eq!(quality.inspection, Inspection::Tightened);
        assert_eq!(quality.unit, ErrorUnit::Fields);
        assert!(!quality.same.case && !quality.same.blanks);
        let faults = parsed(
            "second = \"most\"\nsecond_share = 7\nsame = [\"caps\"]\nunit = \"pages\"\nlevel = \"IV\"\naql = 1.2\n\
             inspection = \"reduced\"\n",
        )
        .unwrap_err();
        let mut lines: Vec<usize> = faults.faults.iter().map(|fault| fault.line).collect();
        lines.sort_unstable();
        assert_eq!(lines, [9, 10, 11, 12, 13, 14, 15], "{faults}");
        let told = faults.to_string();
        assert!(told.contains("Write 1 for aql"), "{told}");
    }

    #[test]
    fn fields_that_the_rules_do_not_have_are_faulted() {
        let text = format!("{JOB}critical = [\"nmber\"]\n");
        let settings = JobSettings::parse(Path::new("."), &text).unwrap();
        let faults = settings.unknown_fields(&text, &["number"]);
        assert_eq!((faults[0].line, faults[0].column), (9, 13));
    }
}
