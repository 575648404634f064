//! A report in sections: what is said, tabled and plotted, once for the terminal and the page.

use crate::command::report::counted;
use crate::review::{
    Disagreements, ErrorReport, JobReport, LeftOverReport, NO_PROMISE, PassReport, Rate, Ruling,
    SamplingReport,
};
use std::collections::BTreeMap;

pub struct Section {
    pub title: &'static str,
    pub lines: Vec<String>,
    pub tables: Vec<Table>,
    pub plot: Option<Plot>,
}

pub struct Table {
    pub head: Vec<String>,
    pub rows: Vec<Vec<String>>,
}

/// What a page draws.
pub enum Plot {
    /// Parts of a whole, with their names and sizes.
    Parts(Vec<(String, usize)>),
    /// Names and rates in 1,000, with their intervals.
    Rates(Vec<(String, Rate)>),
    /// What was expected and what came, both from 0 to 1, with its interval.
    Calibration(Vec<(f64, Rate)>),
    /// A curve over shares of bad sheets, with marked shares, and an interval found.
    Curve {
        points: Vec<(f64, f64)>,
        marks: Vec<(f64, String)>,
        found: Option<(f64, f64)>,
    },
}

pub fn sections(report: &JobReport) -> Vec<Section> {
    let mut sections = vec![
        progress(report),
        speed(&report.passes),
        faces(report),
        disagreements(&report.disagreements),
        errors(&report.errors),
        left_over(&report.left_over),
    ];
    sections.extend(report.sampling.as_ref().map(sampling));
    sections.push(exceptions(&report.exceptions));
    sections.push(Section {
        title: "Not measured",
        lines: report.not_measured.clone(),
        tables: vec![],
        plot: None,
    });
    sections
}

fn progress(report: &JobReport) -> Section {
    let states = report.states.iter();
    let rows = states.clone().map(|(state, count)| {
        let share = 100.0 * *count as f64 / report.sheets.max(1) as f64;
        vec![state.clone(), count.to_string(), format!("{share:.1} %")]
    });
    let forecast = report.passes.iter().filter_map(|pass| {
        let (hours, waiting) = (pass.hours_left?, counted(pass.waiting, "sheet"));
        let number = pass.pass;
        (pass.waiting > 0).then(|| {
            format!(
                "Pass {number}: {waiting} left, {hours:.1} hours of one person at the speed so far."
            )
        })
    });
    let mut lines = vec![format!("{} in the job.", counted(report.sheets, "sheet"))];
    lines.extend(forecast);
    Section {
        title: "Progress",
        lines,
        tables: table(&["state", "sheets", "share"], rows.collect()),
        plot: Some(Plot::Parts(states.map(|(s, n)| (s.clone(), *n)).collect())),
    }
}

fn speed(passes: &[PassReport]) -> Section {
    let number = |value: Option<f64>, digits: usize| {
        value.map_or("-".to_owned(), |value| format!("{value:.digits$}"))
    };
    let row = |pass: &PassReport| {
        vec![
            pass.pass.to_string(),
            pass.keyed.to_string(),
            number(pass.keystrokes_a_sheet, 1),
            number(pass.seconds_a_sheet, 1),
            number(pass.median_seconds, 1),
            number(pass.keystrokes_an_hour, 0),
        ]
    };
    let head = [
        "pass",
        "sheets keyed",
        "keystrokes a sheet",
        "seconds a sheet",
        "median seconds",
        "keystrokes an hour",
    ];
    Section {
        title: "Speed",
        lines: vec![
            "From the strip's drawing to the acceptance; pauses at a sheet are included."
                .to_owned(),
        ],
        tables: table(&head, passes.iter().map(row).collect()),
        plot: None,
    }
}

fn faces(report: &JobReport) -> Section {
    let faces = &report.faces;
    let points = &faces.calibration;
    let rows = points.iter().map(|point| {
        let Rate {
            hits,
            of,
            low,
            high,
            ..
        } = point.right;
        let right = 100.0 * hits as f64 / of.max(1) as f64;
        vec![
            format!("{:.2} %", 100.0 * point.proposed),
            format!("{right:.2} %"),
            format!("{:.2} to {:.2}", 100.0 * low, 100.0 * high),
            of.to_string(),
        ]
    });
    let mut tables = by("face", "wrong proposals", &faces.wrong);
    let head = ["proposed with", "right", "95 % interval", "fields"];
    tables.extend(table(&head, rows.collect()));
    let plot = points
        .iter()
        .map(|point| (point.proposed, point.right))
        .collect::<Vec<_>>();
    Section {
        title: "Faces and calibration",
        lines: vec![
            "Proposed values by what people keyed who had not seen them, or by what was settled."
                .to_owned(),
        ],
        tables,
        plot: (!plot.is_empty()).then_some(Plot::Calibration(plot)),
    }
}

fn disagreements(found: &Disagreements) -> Section {
    let mut lines = vec![format!(
        "{} keyed twice, {} of them with at least one keying blind: these count as double keying.",
        counted(found.sheets_keyed_twice, "sheet"),
        found.double
    )];
    lines.extend(
        found
            .all
            .iter()
            .map(|rate| format!("Fields that differ: {}.", said(rate))),
    );
    lines.extend(
        found
            .two_confirmations
            .iter()
            .map(|rate| format!("Apart, where both had seen the proposal: {}.", said(rate))),
    );
    let mut tables = Vec::new();
    for (name, rates) in [
        ("field", &found.by_field),
        ("face", &found.by_face),
        ("rule", &found.by_rule),
        ("batch", &found.by_batch),
    ] {
        tables.extend(by(name, "differ", rates));
    }
    let figure = |figure: Option<f64>| figure.map_or("-".to_owned(), |f| format!("{f:.3}"));
    let rows = found.coded.iter().map(|(field, agreement)| {
        vec![
            field.clone(),
            format!("{:.3}", agreement.observed),
            format!("{:.3}", agreement.expected),
            figure(agreement.kappa),
            figure(agreement.alpha),
            agreement.pairs.to_string(),
        ]
    });
    let head = [
        "field of few values",
        "agree",
        "by chance",
        "Cohen's kappa",
        "Krippendorff's alpha",
        "pairs",
    ];
    tables.extend(table(&head, rows.collect()));
    let plot: Vec<(String, Rate)> = found
        .by_field
        .iter()
        .map(|(k, r)| (k.clone(), *r))
        .collect();
    Section {
        title: "Disagreements",
        lines,
        tables,
        plot: (!plot.is_empty()).then_some(Plot::Rates(plot)),
    }
}

fn errors(keyings: &[ErrorReport]) -> Section {
    let mut tables = Vec::new();
    let mut plot = Vec::new();
    for keying in keyings.iter().filter(|keying| keying.sheets.of > 0) {
        let name = match keying.keying {
            1 => "first keying",
            _ => "second keying",
        };
        let units = [
            ("characters", keying.characters),
            ("fields", keying.fields),
            ("sheets", keying.sheets),
            ("critical fields", keying.critical_fields),
            ("critical sheets", keying.critical_sheets),
        ];
        let drawn = [
            ("fields of sheets drawn at random", keying.drawn_fields),
            ("sheets drawn at random", keying.drawn_sheets),
        ];
        let drawn = drawn
            .into_iter()
            .filter_map(|(unit, rate)| Some((unit, rate?)));
        let counted = units
            .into_iter()
            .filter(|(_, rate)| rate.of > 0)
            .chain(drawn);
        let units: BTreeMap<String, Rate> = counted.map(|(u, r)| (u.to_owned(), r)).collect();
        plot.extend(
            units
                .iter()
                .map(|(unit, rate)| (format!("{name}, {unit}"), *rate)),
        );
        tables.extend(by(&format!("{name} by unit"), "wrong", &units));
        for (what, rates) in [
            ("field", &keying.by_field),
            ("face", &keying.by_face),
            ("rule", &keying.by_rule),
            ("batch", &keying.by_batch),
            ("person", &keying.by_person),
        ] {
            tables.extend(by(&format!("{name} by {what}"), "wrong fields", rates));
        }
    }
    let lines = match tables.is_empty() {
        true => {
            "No sheet was keyed twice and agreed or settled yet, so that nothing is known of errors."
        }
        false => {
            "By what both keyings agree on or what was settled, on the sheets that were keyed twice, before the errors \
             were put right. Exact intervals (Clopper-Pearson), with the sheet as the unit that errors come in. Lists are \
             in the order of names: small numbers rank by luck."
        }
    };
    Section {
        title: "Error rates of single keyings",
        lines: vec![lines.to_owned()],
        tables,
        plot: (!plot.is_empty()).then_some(Plot::Rates(plot)),
    }
}

fn left_over(left: &LeftOverReport) -> Section {
    let mut lines = Vec::new();
    let mut tables = Vec::new();
    if left.fields_compared == 0 {
        lines.push("Nothing was keyed twice and agreed or settled yet.".to_owned());
    } else {
        lines.push(format!(
            "About {:.1} fields of {}, or more, are wrong alike in both keyings, so that nobody saw it (standard error \
             {:.1}; less than none is told as none, which lifts the figure by a fraction of a field).",
            left.left_at_least, left.fields_compared, left.standard_error
        ));
        lines.push(left.why_lower_bound.to_owned());
        if left.is_dependent {
            lines.push(
                "These keyings are not independent: more fields were seen in which both are wrong than chance explains. \
                 Only an inspection of a sample says how many are left."
                    .to_owned(),
            );
        }
        let row = |what: &str, value: String| vec![what.to_owned(), value];
        let mut rows = vec![
            row("seen, since the two differ", left.seen.to_string()),
            row(
                "Lincoln-Petersen, by field and face",
                format!("{:.2}", left.lincoln_petersen),
            ),
            row(
                "Chapman, over all fields (standard error)",
                format!("{:.2} ({:.2})", left.chapman, left.chapman_standard_error),
            ),
            row(
                "by errors in different fields of a sheet",
                format!("{:.2}", left.across_fields),
            ),
        ];
        rows.extend(left.wrong_proposals_left_at_least.map(|left| {
            row(
                "of these wrong proposals, left by both",
                format!("{left:.2}"),
            )
        }));
        tables = table(&["neither keying is right", "fields"], rows);
    }
    Section {
        title: "Errors left over",
        lines,
        tables,
        plot: None,
    }
}

fn sampling(report: &SamplingReport) -> Section {
    let SamplingReport { lot, pass, verdict } = report;
    let plan = &lot.plan;
    let percent = |share: f64| format!("{:.2} %", 100.0 * share);
    let mut lines = vec![
        format!(
            "Lot of {}, level {}, acceptable quality level {}, {} inspection (MIL-STD-105E, single sampling; reduced \
             inspection is left out).",
            counted(lot.size as usize, "sheet"),
            lot.level,
            lot.quality,
            lot.inspection
        ),
        match plan.is_whole_lot {
            true => "The plan asks for as many sheets as there are: every sheet is inspected."
                .to_owned(),
            false => format!(
                "{} drawn with the seed {}.",
                counted(plan.sample_size as usize, "sheet"),
                lot.seed
            ),
        },
        format!(
            "Keyed blind by somebody else in pass {pass}: {} inspected, {} bad. Accepted with {} bad or fewer, rejected with \
             {}.",
            verdict.found.of,
            verdict.found.hits,
            plan.acceptance_number,
            plan.rejection_number()
        ),
        match verdict.ruling {
            Ruling::Open => "Verdict: open until the sample is inspected.",
            Ruling::Accepted => "Verdict: accepted.",
            Ruling::Rejected => "Verdict: rejected.",
        }
        .to_owned(),
    ];
    if let (Some(bad), Some(share)) = (verdict.bad_in_lot, verdict.share_of_lot) {
        lines.push(format!(
            "This lot holds {} to {} bad sheets ({} to {}), with 95 % confidence (exact).",
            bad.low,
            bad.high,
            percent(share.low),
            percent(share.high)
        ));
    }
    lines.push(NO_PROMISE.to_owned());
    lines.push(format!(
        "The plan accepts 95 lots of 100 from a process with {} bad sheets, and still 10 of 100 from one with {}.",
        percent(verdict.curve.relied_on),
        percent(verdict.curve.limiting)
    ));
    let points = &verdict.curve.points;
    let rows = points
        .iter()
        .step_by(4)
        .map(|(bad, accepted)| vec![percent(*bad), percent(*accepted)]);
    let quality = lot.quality.percent() / 100.0;
    Section {
        title: "Acceptance sampling",
        lines,
        tables: table(&["bad sheets in the lot", "lots accepted"], rows.collect()),
        plot: Some(Plot::Curve {
            points: points.clone(),
            marks: vec![
                (quality, "acceptable quality level".to_owned()),
                (
                    verdict.curve.limiting,
                    "one lot in ten is accepted".to_owned(),
                ),
            ],
            found: verdict.share_of_lot.map(|share| (share.low, share.high)),
        }),
    }
}

fn exceptions(reasons: &BTreeMap<String, usize>) -> Section {
    let rows: Vec<Vec<String>> = reasons
        .iter()
        .map(|(reason, count)| vec![reason.clone(), count.to_string()])
        .collect();
    let lines = match rows.is_empty() {
        true => vec!["No sheet is held or set aside.".to_owned()],
        false => vec![],
    };
    Section {
        title: "Exceptions",
        lines,
        tables: table(&["held or set aside", "sheets"], rows),
        plot: None,
    }
}

/// No table where there are no rows.
fn table(head: &[&str], rows: Vec<Vec<String>>) -> Vec<Table> {
    let head = head.iter().map(|&cell| cell.to_owned()).collect();
    match rows.is_empty() {
        true => vec![],
        false => vec![Table { head, rows }],
    }
}

/// Rates by something, in the order of its names.
fn by(name: &str, what: &str, rates: &BTreeMap<String, Rate>) -> Vec<Table> {
    let row = |(key, rate): (&String, &Rate)| {
        let key = if key.is_empty() { "(no folder)" } else { key };
        vec![
            key.to_owned(),
            rate.per_thousand
                .map_or("-".to_owned(), |rate| format!("{rate:.2}")),
            format!("{:.2} to {:.2}", 1_000.0 * rate.low, 1_000.0 * rate.high),
            format!("{} of {}", rate.hits, rate.of),
        ]
    };
    let head = [
        name,
        &format!("{what} in 1,000"),
        "95 % interval",
        "counted",
    ];
    table(&head, rates.iter().map(row).collect())
}

fn said(rate: &Rate) -> String {
    format!(
        "{:.2} in 1,000 ({:.2} to {:.2} with 95 % confidence; {} of {})",
        rate.per_thousand.unwrap_or_default(),
        1_000.0 * rate.low,
        1_000.0 * rate.high,
        rate.hits,
        rate.of
    )
}
