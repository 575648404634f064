//! From what is known of the work to a plan of it. Pure: no clock, no files.
//!
//! Everything is a product of figures, each with limits. Limits that somebody named have no distribution, and errors of
//! measured figures are not small, so limits are multiplied as intervals ([`Estimate`]) rather than errors added up by
//! the delta method or drawn. So that all measured figures hold *together* with the confidence asked for, each is given
//! as much less doubt as there are of them (Bonferroni's inequality): with two at 95 %, 97.5 % each.

use super::days::{Calendar, calendar};
use super::question::{Keying, Part, Question, Rate, Sheets};
use super::times::{FEW, Times};
use crate::figures::{Estimate, LOOK};
use serde::Serialize;

/// How far the Keystroke-Level Model is off on single tasks, by its own authors (Card, Moran and Newell, CACM 23(7),
/// 1980).
const MODEL_ERROR: f64 = 0.21;

/// Where a figure comes from.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Source {
    Measured,
    Given,
    CommonPractice,
    Computed,
}

/// A figure, its limits, and where it comes from.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Figure {
    #[serde(flatten)]
    pub estimate: Estimate,
    pub from: Source,
    /// In words.
    pub how: String,
}

#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Plan {
    pub confidence: Confidence,
    pub sheets: Figure,
    pub drawers: Option<Drawers>,
    pub keyings: Vec<PlannedKeying>,
    /// Of one person; none where a keying has no rate.
    pub hours: Option<Estimate>,
    pub days: Option<Days>,
    pub cost: Option<Cost>,
    pub assumptions: Vec<Assumption>,
    pub not_planned: Vec<String>,
}

#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Confidence {
    /// With which all measured figures hold together; limits that were given hold if they do.
    pub together: f64,
    /// Of each by itself.
    pub each: f64,
    pub measured_figures: usize,
}

/// The textbook's figures.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Drawers {
    pub pieces: usize,
    pub sheets_an_inch: f64,
    pub inches: Estimate,
    pub share_measured: f64,
    pub standard_error: Option<f64>,
    /// Two standard errors.
    pub bound: Option<f64>,
    /// In standard errors, at most.
    pub bias: f64,
}

#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct PlannedKeying {
    pub name: &'static str,
    pub sheets: Figure,
    pub seconds_a_sheet: Option<Figure>,
    pub hours: Option<Estimate>,
    pub measured: Option<Times>,
}

#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Days {
    pub clerks: u32,
    pub hours_a_day: Estimate,
    pub days: Estimate,
    pub calendar: Option<Calendar>,
}

#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Cost {
    pub currency: Option<String>,
    pub by_sheets: Option<Estimate>,
    pub by_hours: Option<Estimate>,
}

#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Assumption {
    pub from: Source,
    pub words: String,
}

/// What is gathered on the way.
#[derive(Default)]
pub(super) struct Notes {
    pub(super) assumptions: Vec<Assumption>,
    pub(super) not_planned: Vec<String>,
}

impl Notes {
    pub(super) fn assume(&mut self, from: Source, words: impl Into<String>) {
        let words = words.into();
        self.assumptions.push(Assumption { from, words });
    }
}

impl Question {
    pub fn plan(&self) -> Plan {
        let mut notes = Notes::default();
        let confidence = self.confidence();
        let (sheets, drawers) = self.sheets(confidence.each, &mut notes);
        let keyings: Vec<PlannedKeying> = self
            .keyings
            .iter()
            .map(|keying| planned(keying, &sheets, confidence.each, &mut notes))
            .collect();
        let hours = keyings
            .iter()
            .map(|keying| keying.hours)
            .reduce(|one, other| Some(one?.plus(other?)))
            .flatten();
        let days = self.days(hours, &mut notes);
        let cost = self.cost(&keyings, hours, &mut notes);
        notes.not_planned.push(
            "Preparing and scanning the sheets, settling what two keyings differ in, delivery, and whatever comes back: \
             there are no rates for these."
                .to_owned(),
        );
        Plan {
            confidence,
            sheets,
            drawers,
            keyings,
            hours,
            days,
            cost,
            assumptions: notes.assumptions,
            not_planned: notes.not_planned,
        }
    }

    fn confidence(&self) -> Confidence {
        let drawers = matches!(&self.sheets, Sheets::Drawers { pieces, .. } if pieces.len() > 1);
        let of_keying = |keying: &Keying| {
            let rate = matches!(keying.rate, Some(Rate::Measured(_))) && keying.borrowed.is_none();
            usize::from(rate) + usize::from(matches!(keying.part, Part::AsInJob(_)))
        };
        let figures: usize = self.keyings.iter().map(of_keying).sum();
        let measured_figures = usize::from(drawers) + figures;
        Confidence {
            together: self.confidence,
            each: 1.0 - (1.0 - self.confidence) / measured_figures.max(1) as f64,
            measured_figures,
        }
    }

    fn days(&self, hours: Option<Estimate>, notes: &mut Notes) -> Option<Days> {
        let (clerks, hours_a_day) = (self.clerks?, self.hours_a_day?);
        let Some(hours) = hours else {
            notes
                .not_planned
                .push("The days: the hours are not known.".to_owned());
            return None;
        };
        let days = hours.over(hours_a_day).scaled(1.0 / f64::from(clerks));
        notes.assume(
            Source::Given,
            "All clerks key at the same speed, and none of them waits for sheets or for another.",
        );
        if clerks == 1 && self.keyings.len() > 1 {
            notes.assume(
                Source::Given,
                "Nobody keys a sheet twice: with one clerk a second person is needed all the same.",
            );
        }
        let calendar = self.start.and_then(|start| {
            let found = calendar(start, days);
            match found {
                Some(_) => notes.assume(
                    Source::Given,
                    "Monday to Friday are working days; public holidays and leave are not known and not counted.",
                ),
                None => notes
                    .not_planned
                    .push("The day on which it is done: further away than the calendar is followed.".to_owned()),
            }
            found
        });
        Some(Days {
            clerks,
            hours_a_day,
            days,
            calendar,
        })
    }

    fn cost(
        &self,
        keyings: &[PlannedKeying],
        hours: Option<Estimate>,
        notes: &mut Notes,
    ) -> Option<Cost> {
        if self.price_a_sheet.is_none() && self.price_an_hour.is_none() {
            return None;
        }
        let first = keyings.first().map(|keying| keying.sheets.estimate);
        let by_sheets = self.price_a_sheet.zip(first);
        let by_hours = self.price_an_hour.zip(hours);
        if self.price_an_hour.is_some() && by_hours.is_none() {
            notes
                .not_planned
                .push("The cost by hours: the hours are not known.".to_owned());
        }
        let times = |(price, of): (Estimate, Estimate)| of.times(price);
        Some(Cost {
            currency: self.currency.clone(),
            by_sheets: by_sheets.map(times),
            by_hours: by_hours.map(times),
        })
    }
}

pub(super) fn figure(estimate: Estimate, from: Source, how: String) -> Figure {
    Figure {
        estimate,
        from,
        how,
    }
}

fn planned(keying: &Keying, all: &Figure, confidence: f64, notes: &mut Notes) -> PlannedKeying {
    let done = keying.done as f64;
    let less_done = match keying.done {
        0 => String::new(),
        done => format!(", less {done} done"),
    };
    let all = all.estimate;
    let sheets = match &keying.part {
        Part::All => figure(
            all.less(done),
            Source::Computed,
            format!("every sheet{less_done}"),
        ),
        Part::Given(share) => {
            let how = format!("the share given{less_done}");
            figure(all.times(*share).less(done), Source::Computed, how)
        }
        Part::AsInJob(share) => {
            let limits = share.interval(confidence);
            let rate = Estimate::new(share.rate().unwrap_or(0.0), limits.low, limits.high);
            let how = format!("as {} of {} in the job{less_done}", share.hits, share.of);
            figure(all.times(rate).less(done), Source::Measured, how)
        }
        Part::Left { waiting, held } => {
            let how = match held {
                0 => "they wait".to_owned(),
                held => format!("{waiting} wait, {held} were put off and come back"),
            };
            figure(
                Estimate::exact((waiting + held) as f64),
                Source::Measured,
                how,
            )
        }
    };
    let mut measured = None;
    let seconds = keying.rate.as_ref().and_then(|rate| match rate {
        Rate::Given(given) => Some(figure(*given, Source::Given, "as given".to_owned())),
        Rate::Keystrokes { keys, looks, skill } => {
            let key = skill.seconds_a_key();
            let seconds = keys.scaled(key).plus(looks.scaled(LOOK));
            let estimate = Estimate::new(
                seconds.value,
                seconds.low * (1.0 - MODEL_ERROR),
                seconds.high * (1.0 + MODEL_ERROR),
            );
            notes.assume(
                Source::Computed,
                "Seconds by the Keystroke-Level Model are those of a practised person without errors or pauses; its \
                 authors found it 21 % off on single tasks, which is added to both sides and is no limit.",
            );
            let how = format!("{key} s a key, {LOOK} s a look, 21 % to both sides");
            Some(figure(estimate, Source::Computed, how))
        }
        Rate::Measured(people) => {
            let times = Times::of(people, sheets.estimate.value, confidence)?;
            let limits = times.limits;
            notes.assume(
                Source::Measured,
                format!(
                    "{}: the same people go on in the same shares, at the same speed, on sheets like those keyed so far.",
                    keying.name
                ),
            );
            let how = format!("mean of {} keyed sheets", times.sheets);
            if times.sheets < FEW {
                notes.assume(
                    Source::Measured,
                    format!(
                        "{}: {} keyed sheets are few for times that are as skewed as these; the limits may be too narrow.",
                        keying.name, times.sheets
                    ),
                );
            }
            measured = Some(times);
            Some(figure(limits?, Source::Measured, how))
        }
    });
    if let Some(words) = keying.borrowed {
        notes.assume(Source::Given, words);
    }
    if seconds.is_none() {
        notes.not_planned.push(format!(
            "The hours of the {}: {}. {}",
            keying.name,
            match (&keying.rate, &measured) {
                (Some(_), Some(_)) =>
                    "a single sheet was keyed, which does not say how sheets differ",
                _ => "nobody keyed a sheet of it and no rate was given",
            },
            match keying.name {
                super::FIRST => "Write --seconds 8..14, or --keystrokes 2..44.",
                _ => "Write --second-seconds 12..20.",
            }
        ));
    }
    PlannedKeying {
        name: keying.name,
        hours: seconds.as_ref().map(|seconds| {
            let seconds = sheets.estimate.times(seconds.estimate);
            seconds.scaled(1.0 / 3_600.0)
        }),
        sheets,
        seconds_a_sheet: seconds,
        measured,
    }
}
