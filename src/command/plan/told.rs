//! A plan in words and columns.

use super::estimate::{Figure, Plan, PlannedKeying, Source};
use super::times::Times;
use crate::command::report::columns;
use crate::figures::Estimate;
use crate::value::{shown, thousands};
use std::fmt::Write;

/// A plan for people; by name only where that was asked for.
pub fn told(plan: &Plan, people: bool) -> String {
    let mut text = String::new();
    let mut line = |words: String| {
        text += &words;
        text.push('\n');
    };
    line("SHEETS".into());
    line(format!(
        "  {}: {}",
        limits(plan.sheets.estimate, 0),
        from(&plan.sheets)
    ));
    if let Some((error, bound)) = plan
        .drawers
        .as_ref()
        .and_then(|drawers| Some((drawers.standard_error?, drawers.bound?)))
    {
        line(format!(
            "  standard error {}; two of them, the bound as textbooks give it: {} to either side",
            number(error, 0),
            number(bound, 0)
        ));
    }
    line("\nKEYING".into());
    let head = ["", "sheets", "seconds a sheet", "hours of one person"];
    let mut rows = vec![head.map(str::to_owned).to_vec()];
    rows.extend(plan.keyings.iter().map(keying_row));
    if let (Some(hours), true) = (plan.hours, plan.keyings.len() > 1) {
        rows.push(vec![
            "together".into(),
            String::new(),
            String::new(),
            limits(hours, decimals(hours)),
        ]);
    }
    line(columns(&rows).trim_end().to_owned());
    for keying in &plan.keyings {
        let seconds = keying.seconds_a_sheet.as_ref();
        let seconds = seconds.map(|seconds| format!("; seconds {}", from(seconds)));
        line(format!(
            "  {}: {}{}",
            keying.name,
            keying.sheets.how,
            seconds.unwrap_or_default()
        ));
        if let Some(times) = &keying.measured {
            line(told_times(times, people));
        }
    }
    if let Some(days) = &plan.days {
        line("\nDAYS".into());
        let clerks = match days.clerks {
            1 => "1 clerk".to_owned(),
            clerks => format!("{clerks} clerks"),
        };
        line(format!(
            "  {clerks}, {} hours a day each: {} working days",
            limits(days.hours_a_day, 1),
            limits(days.days, decimals(days.days))
        ));
        if let Some(calendar) = days.calendar {
            line(format!(
                "  begun on {}: done on {} ({} to {})",
                calendar.first, calendar.done, calendar.earliest, calendar.latest
            ));
        }
    }
    if let Some(cost) = &plan.cost {
        line("\nCOST".into());
        let currency = cost
            .currency
            .as_ref()
            .map(|code| format!("{} ", shown(code)));
        let currency = currency.unwrap_or_default();
        for (cost, of) in [
            (cost.by_sheets, "the sheets of the first keying"),
            (cost.by_hours, "the hours"),
        ] {
            if let Some(cost) = cost {
                line(format!("  {currency}{} for {of}", limits(cost, 2)));
            }
        }
    }
    line("\nWHAT THIS RESTS ON".into());
    line(format!("  {}", confidence(plan)));
    for assumption in &plan.assumptions {
        line(format!(
            "  {}: {}",
            source(assumption.from),
            assumption.words
        ));
    }
    line("\nNOT PLANNED".into());
    for words in &plan.not_planned {
        line(format!("  {words}"));
    }
    text
}

fn keying_row(keying: &PlannedKeying) -> Vec<String> {
    let seconds = keying.seconds_a_sheet.as_ref();
    let seconds = seconds.map(|seconds| limits(seconds.estimate, 1));
    let hours = keying.hours;
    let hours = hours.map(|hours| limits(hours, decimals(hours)));
    let unknown = || "not known".to_owned();
    vec![
        keying.name.to_owned(),
        limits(keying.sheets.estimate, 0),
        seconds.unwrap_or_else(unknown),
        hours.unwrap_or_else(unknown),
    ]
}

fn told_times(times: &Times, people: bool) -> String {
    let mut text = format!(
        "    median {:.1} s, mean {:.1} s; {}",
        times.median,
        times.mean,
        match times.people {
            1 => "1 person".to_owned(),
            many => {
                let [least, most] = times.means_of_people;
                format!("{many} people, their means from {least:.1} to {most:.1} s")
            }
        }
    );
    if let Some(mean) = times.mean_with_pauses {
        let _ = write!(
            text,
            "\n    {} of more than 5 minutes left out, more likely a pause than keying; with that the mean is {mean:.1} s",
            crate::command::report::counted(times.pauses, "sheet")
        );
    }
    for (person, times) in times.by_person.iter().filter(|_| people) {
        let mean = match times.limits {
            Some(mean) => limits(mean, 1),
            None => format!("{:.1}, without limits", times.mean),
        };
        let _ = write!(
            text,
            "\n    {}: {} sheets, median {:.1} s, mean {mean} s",
            shown(person),
            times.sheets,
            times.median
        );
    }
    text
}

fn confidence(plan: &Plan) -> String {
    let percent = |share: f64| {
        format!(
            "{} %",
            number(100.0 * share, 2)
                .trim_end_matches('0')
                .trim_end_matches('.')
        )
    };
    let confidence = plan.confidence;
    let together = percent(confidence.together);
    match confidence.measured_figures {
        0 => "Nothing was measured, so no limits have a confidence; they hold if what was given or assumed holds.".to_owned(),
        1 => format!("The limits of what was measured hold with {together} confidence; all others if what was given holds."),
        count => format!(
            "All limits hold together with {together} confidence at least, if what was given holds: each of the {count} \
             measured figures with {}; products are those of the limits.",
            percent(confidence.each)
        ),
    }
}

fn from(figure: &Figure) -> String {
    match figure.from {
        Source::Measured | Source::CommonPractice => {
            format!("{}: {}", source(figure.from), figure.how)
        }
        Source::Given | Source::Computed => figure.how.clone(),
    }
}

fn source(source: Source) -> &'static str {
    match source {
        Source::Measured => "measured",
        Source::Given => "assumed",
        Source::CommonPractice => "common practice",
        Source::Computed => "computed",
    }
}

/// `20,150 (18,900 to 21,400)`, or the number alone where it is exact.
fn limits(estimate: Estimate, decimals: usize) -> String {
    let value = number(estimate.value, decimals);
    match estimate.is_exact() {
        true => value,
        false => format!(
            "{value} ({} to {})",
            number(estimate.low, decimals),
            number(estimate.high, decimals)
        ),
    }
}

/// Decimals that leave three digits or so.
fn decimals(estimate: Estimate) -> usize {
    match estimate.high {
        high if high < 10.0 => 2,
        high if high < 1_000.0 => 1,
        _ => 0,
    }
}

/// With commas between thousands.
fn number(value: f64, decimals: usize) -> String {
    thousands(&format!("{value:.decimals$}"))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_have_commas_and_limits() {
        for (value, decimals, text) in [
            (0.0, 0, "0"),
            (999.4, 0, "999"),
            (1_000.0, 0, "1,000"),
            (20_150.26, 1, "20,150.3"),
            (1_234_567.0, 2, "1,234,567.00"),
        ] {
            assert_eq!(number(value, decimals), text);
        }
        assert_eq!(limits(Estimate::between(1.0, 3.0), 0), "2 (1 to 3)");
        assert_eq!(limits(Estimate::exact(2_000.0), 0), "2,000");
    }
}
