//! `headword plan`: how much work there is, how long it takes and what it costs, with the limits of each.

mod days;
mod drawers;
mod estimate;
mod measures;
mod question;
#[cfg(test)]
mod tests;
mod times;
mod told;
mod worked;

use super::{CommandError, Exit, Report};
use crate::figures::{Estimate, Skill};
use crate::job::Job;
use crate::value::shown;
use jiff::civil::Date;
use measures::{Counted, Length, counted, length, range, share};
use question::{Keying, Part, Question, Rate, Sheets};
use std::path::PathBuf;
use told::told;
use worked::{PassWork, Worked};

/// Names of the keyings.
const FIRST: &str = "first keying";
const SECOND: &str = "second keying";
const INSPECTION: &str = "inspection";

/// The largest numbers that are taken for meant.
const MOST_SHEETS: f64 = 1e8;
const MOST_SECONDS: f64 = 3_600.0;
const MOST_KEYS: f64 = 10_000.0;
const MOST_PRICE: f64 = 1e9;

/// Looks a sheet where nobody said: one for each of four fields and one to check (our own reckoning).
const USUAL_LOOKS: [f64; 2] = [4.0, 5.0];

/// Plan a job's work: sheets in the drawers, hours of keying, days and cost, each with its limits
///
/// Give what is known; the rest is left out, and said to be. Numbers may be ranges, as in 8..14. Sheets: counted in two or
/// more inches of drawer, taken at random, and the length of all drawers; or given; or those of a JOB. Speed: as given, or
/// from the times in the JOB's journal.
///
///   headword plan --counted 98/1in --counted 103/1in --counted 95/1in --total 200in --seconds 8..14
#[derive(Debug, clap::Args)]
#[command(verbatim_doc_comment)]
pub struct Arguments {
    /// A job whose sheets, keying passes and measured times are taken where nothing else is said
    job: Option<PathBuf>,
    /// Sheets counted in a measured length of drawer; once for each measured piece
    #[arg(long, value_name = "SHEETS/LENGTH", value_parser = counted, allow_hyphen_values = true)]
    counted: Vec<Counted>,
    /// The length of all drawers together, with its unit: in, ft, mm, cm, m
    #[arg(long, value_name = "LENGTH", value_parser = length, allow_hyphen_values = true)]
    total: Option<Length>,
    /// How many sheets there are, where that is known
    #[arg(long, value_name = "COUNT", value_parser = |text: &str| range(text, MOST_SHEETS), conflicts_with_all = ["counted", "total"], allow_hyphen_values = true)]
    sheets: Option<Estimate>,
    /// Keyings that a sheet gets, by different people; the job's own, or 1
    #[arg(long, value_parser = clap::value_parser!(u8).range(1..=2))]
    passes: Option<u8>,
    /// Share of the sheets that is keyed a second time; all unless said
    #[arg(long, value_name = "SHARE", value_parser = share, allow_hyphen_values = true)]
    second: Option<Estimate>,
    /// Share of the sheets that is keyed again to inspect the lot
    #[arg(long, value_name = "SHARE", value_parser = share, allow_hyphen_values = true)]
    inspected: Option<Estimate>,
    /// Seconds a sheet
    #[arg(long, value_name = "SECONDS", value_parser = |text: &str| range(text, MOST_SECONDS), allow_hyphen_values = true)]
    seconds: Option<Estimate>,
    /// Seconds a sheet from the picture alone: in the second keying, and in the inspection
    #[arg(long, value_name = "SECONDS", value_parser = |text: &str| range(text, MOST_SECONDS), allow_hyphen_values = true)]
    second_seconds: Option<Estimate>,
    /// Keystrokes a sheet, which the Keystroke-Level Model makes seconds of
    #[arg(long, value_name = "COUNT", value_parser = |text: &str| range(text, MOST_KEYS), conflicts_with = "seconds", allow_hyphen_values = true)]
    keystrokes: Option<Estimate>,
    /// Looks a sheet, with --keystrokes; 4..5 unless said
    #[arg(long, value_name = "COUNT", value_parser = |text: &str| range(text, MOST_KEYS), requires = "keystrokes", allow_hyphen_values = true)]
    looks: Option<Estimate>,
    /// How fast the clerks type, with --keystrokes
    #[arg(long, value_enum, default_value_t, requires = "keystrokes")]
    skill: Skill,
    /// Clerks who key at the same time
    #[arg(long, requires = "hours", value_parser = clap::value_parser!(u32).range(1..=1000))]
    clerks: Option<u32>,
    /// Hours at the keys that a clerk has a day
    #[arg(long, requires = "clerks", value_parser = |text: &str| range(text, 24.0), allow_hyphen_values = true)]
    hours: Option<Estimate>,
    /// The day on which keying begins, as in 2026-12-01
    #[arg(long, value_name = "DATE", requires = "clerks", value_parser = day, allow_hyphen_values = true)]
    start: Option<Date>,
    /// Price of a sheet
    #[arg(long, value_name = "AMOUNT", value_parser = |text: &str| range(text, MOST_PRICE), allow_hyphen_values = true)]
    price_sheet: Option<Estimate>,
    /// Price of an hour of one clerk
    #[arg(long, value_name = "AMOUNT", value_parser = |text: &str| range(text, MOST_PRICE), allow_hyphen_values = true)]
    price_hour: Option<Estimate>,
    /// What to write before amounts, such as EUR
    #[arg(long, value_name = "CODE", value_parser = currency)]
    currency: Option<String>,
    /// With which all measured figures are to hold together, in percent
    #[arg(long, value_name = "PERCENT", default_value_t = 95.0, value_parser = confidence, allow_hyphen_values = true)]
    confidence: f64,
    /// Tell measured times by person, too: for the supervisor
    #[arg(long, requires = "job")]
    people: bool,
}

pub fn run(arguments: &Arguments) -> Result<Report, CommandError> {
    let worked = match &arguments.job {
        Some(folder) => Some(Worked::of(&Job::open(folder)?)?),
        None => None,
    };
    let mut plan = arguments.question(worked.as_ref())?.plan();
    if let Some(worked) = &worked {
        plan.not_planned.splice(0..0, arguments.left_out(worked));
    }
    if plan.days.is_none() && plan.hours.is_some() {
        plan.not_planned
            .push("Days: write --clerks 2 --hours 6, and --start 2026-12-01 for dates.".to_owned());
    }
    let text = told(&plan, arguments.people);
    if !arguments.people {
        for keying in &mut plan.keyings {
            if let Some(times) = &mut keying.measured {
                times.by_person.clear();
            }
        }
    }
    Ok(Report::new(text, &plan, Exit::Done))
}

impl Arguments {
    fn question(&self, worked: Option<&Worked>) -> Result<Question, CommandError> {
        let sheets = self.sheets(worked)?;
        let is_of_job = matches!(sheets, Sheets::Job(_));
        let passes = self
            .passes
            .or(worked.map(|worked| worked.passes))
            .unwrap_or(1);
        if passes == 1 && self.second.is_some() {
            return Err(CommandError::input(
                "--second: expected two keyings, of which this is the share that gets the second; found one; write \
                 --passes 2 as well",
            ));
        }
        let none = PassWork::default();
        let [first, second] = worked.map_or([&none; 2], |worked| worked.keyings.each_ref());
        let left = |work: &PassWork| Part::Left {
            waiting: work.waiting,
            held: work.held,
        };
        let mut keyings = vec![Keying {
            name: FIRST,
            part: if is_of_job { left(first) } else { Part::All },
            done: first.done,
            rate: self.first_rate().or_else(|| measured(first)),
            borrowed: None,
        }];
        if passes == 2 {
            let (rate, borrowed) = self.rate_from_picture(second, &[], BORROWED_FIRST);
            let as_in_job = worked
                .and_then(|worked| worked.second)
                .filter(|share| share.of > 0);
            let has_second = worked.is_some_and(|worked| worked.passes == 2);
            keyings.push(Keying {
                name: SECOND,
                part: match (self.second, as_in_job) {
                    (Some(share), _) => Part::Given(share),
                    _ if is_of_job && has_second => left(second),
                    (None, Some(share)) => Part::AsInJob(share),
                    (None, None) => Part::All,
                },
                done: second.done,
                rate,
                borrowed,
            });
        }
        if let Some(share) = self.inspected {
            let inspected = worked.map_or(&none, |worked| &worked.inspection);
            let (rate, borrowed) = self.rate_from_picture(inspected, &[second], BORROWED_SECOND);
            keyings.push(Keying {
                name: INSPECTION,
                part: Part::Given(share),
                done: inspected.done,
                rate,
                borrowed,
            });
        }
        Ok(Question {
            confidence: self.confidence / 100.0,
            sheets,
            least: worked.map_or(0, |worked| worked.sheets),
            keyings,
            clerks: self.clerks,
            hours_a_day: self.hours,
            start: self.start,
            price_a_sheet: self.price_sheet,
            price_an_hour: self.price_hour,
            currency: self.currency.clone(),
        })
    }

    /// What the job would have planned, and these arguments do not.
    fn left_out(&self, worked: &Worked) -> Vec<String> {
        let mut left_out = Vec::new();
        if let Some(expected) = worked.expected.filter(|&expected| expected > worked.sheets)
            && self.sheets.is_none()
            && self.total.is_none()
        {
            left_out.push(format!(
                "Sheets that are not in the job yet: its job.toml expects {expected}, {} are there. Write --sheets \
                 {expected} to plan all.",
                worked.sheets
            ));
        }
        if self.inspected.is_none() && worked.sample > 0 {
            left_out.push(format!(
                "The inspection: of the {} sheets in the job the quality plan draws {}. Write --inspected {:.3}.",
                worked.sheets,
                worked.sample,
                worked.sample as f64 / worked.sheets.max(1) as f64
            ));
        }
        left_out
    }

    fn sheets(&self, worked: Option<&Worked>) -> Result<Sheets, CommandError> {
        if let Some(given) = self.sheets {
            return Ok(Sheets::Given(given));
        }
        let pieces: Vec<_> = self.counted.iter().map(|counted| counted.0).collect();
        let measured: f64 = pieces.iter().map(|piece| piece.measured).sum();
        let counted: f64 = pieces.iter().map(|piece| piece.counted).sum();
        match (self.total, worked) {
            (Some(Length(whole)), _) => {
                // Lengths in centimetres need not add up to the last bit.
                if measured > whole.low * (1.0 + 1e-9) {
                    return Err(CommandError::input(format!(
                        "--total: expected the length of all drawers, the counted {measured:.1} inches among them, found \
                         {:.1} inches; measure all drawers",
                        whole.low
                    )));
                }
                if !pieces.is_empty() && counted == 0.0 {
                    return Err(CommandError::input(
                        "--counted: expected a sheet at least in the measured pieces, found none in any; count where the \
                         drawers are filled",
                    ));
                }
                Ok(Sheets::Drawers { pieces, whole })
            }
            (None, _) if !pieces.is_empty() => Err(CommandError::input(
                "--counted: expected the length of all drawers as well, found none; write --total 200in",
            )),
            (None, Some(worked)) if worked.sheets > 0 => Ok(Sheets::Job(worked.sheets)),
            (None, Some(_)) => {
                let job = self
                    .job
                    .as_ref()
                    .map(|job| job.display().to_string())
                    .unwrap_or_default();
                Err(CommandError::input(format!(
                    "{0}: expected sheets that were read, found none in its journal; run `headword read {0}` first, or \
                     write --sheets 20000 or --counted 98/1in --total 200in",
                    shown(&job)
                )))
            }
            (None, None) => Err(CommandError::input(
                "expected something to plan, found neither a job nor sheets; write --counted 98/1in --counted 103/1in --total \
                 200in, or --sheets 20000, or name a JOB",
            )),
        }
    }

    /// As somebody said.
    fn first_rate(&self) -> Option<Rate> {
        let [fewest, most] = USUAL_LOOKS;
        let keystrokes = self.keystrokes.map(|keys| Rate::Keystrokes {
            keys,
            looks: self.looks.unwrap_or(Estimate::between(fewest, most)),
            skill: self.skill,
        });
        self.seconds.map(Rate::Given).or(keystrokes)
    }

    /// The rate of a keying that sees the picture alone, and why it is another's, if it is.
    fn rate_from_picture(
        &self,
        work: &PassWork,
        others: &[&PassWork],
        borrowed: &'static str,
    ) -> (Option<Rate>, Option<&'static str>) {
        let own = self
            .second_seconds
            .map(Rate::Given)
            .or_else(|| measured(work));
        if own.is_some() {
            return (own, None);
        }
        let other = others.iter().find_map(|work| measured(work));
        match other.map(|rate| (rate, borrowed)) {
            Some((rate, words)) => (Some(rate), Some(words)),
            None => {
                let first = self.first_rate();
                let words = first.is_some().then_some(BORROWED_FIRST);
                (first, words)
            }
        }
    }
}

const BORROWED_FIRST: &str = "From the picture alone sheets take as long as in the first keying, since no other rate was given; they take \
     longer. Write --second-seconds.";
const BORROWED_SECOND: &str = "Inspected sheets take as long as those of the second keying.";

/// Measured times of a keying; none where nobody keyed.
fn measured(work: &PassWork) -> Option<Rate> {
    (!work.seconds.is_empty()).then(|| Rate::Measured(work.seconds.clone()))
}

fn day(text: &str) -> Result<Date, String> {
    text.parse().map_err(|_| {
        format!("expected a day as year, month and day, found `{text}`; write 2026-12-01")
    })
}

fn currency(text: &str) -> Result<String, String> {
    let is_code = (1..=8).contains(&text.chars().count())
        && !text.chars().any(|c| c.is_control() || c.is_ascii_digit());
    match is_code {
        true => Ok(text.to_owned()),
        false => Err("expected up to eight letters or a sign; write EUR".to_owned()),
    }
}

fn confidence(text: &str) -> Result<f64, String> {
    let percent: Option<f64> = text.trim_end_matches('%').trim().parse().ok();
    let percent = percent.filter(|percent| (50.0..=99.9).contains(percent));
    percent
        .ok_or_else(|| format!("expected a percentage from 50 to 99.9, found `{text}`; write 95"))
}
