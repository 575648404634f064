use super::drawers::RULE_OF_THUMB;
use super::estimate::{Plan, Source};
use super::question::{Keying, Part, Question, Rate, Sheets};
use super::{FIRST, SECOND};
use crate::figures::{Estimate, Piece, Share, Skill};
use jiff::civil::date;
use rand::{RngExt, SeedableRng};
use std::collections::BTreeMap;

fn drawers(pieces: &[(f64, f64)], inches: f64) -> Question {
    let piece = |&(measured, counted): &(f64, f64)| Piece { measured, counted };
    Question {
        confidence: 0.95,
        sheets: Sheets::Drawers {
            pieces: pieces.iter().map(piece).collect(),
            whole: Estimate::exact(inches),
        },
        least: 0,
        keyings: vec![keying(
            FIRST,
            Part::All,
            Some(Rate::Given(Estimate::between(8.0, 14.0))),
        )],
        clerks: None,
        hours_a_day: None,
        start: None,
        price_a_sheet: None,
        price_an_hour: None,
        currency: None,
    }
}

fn keying(name: &'static str, part: Part, rate: Option<Rate>) -> Keying {
    Keying {
        name,
        part,
        done: 0,
        rate,
        borrowed: None,
    }
}

fn assumes(plan: &Plan, words: &str) -> bool {
    plan.assumptions
        .iter()
        .any(|found| found.words.contains(words))
}

fn holds(estimate: Estimate) -> bool {
    estimate.low <= estimate.value && estimate.value <= estimate.high
}

#[test]
fn more_inches_are_more_sheets_and_limits_hold_the_figure() {
    let mut random = rand_chacha::ChaCha8Rng::seed_from_u64(4);
    for _ in 0..300 {
        let pieces: Vec<(f64, f64)> = (0..random.random_range(0..6))
            .map(|_| {
                (
                    random.random_range(0.5..3.0),
                    random.random_range(1..300_u32).into(),
                )
            })
            .collect();
        let inches = random.random_range(20.0..1_000.0);
        let question = drawers(&pieces, inches);
        let more = drawers(&pieces, inches * 1.5).plan();
        let plan = question.plan();
        assert!(more.sheets.estimate.value > plan.sheets.estimate.value);
        let hours = plan.hours.unwrap();
        assert!(holds(plan.sheets.estimate) && holds(hours));
        // The product of the limits.
        let longest = plan.sheets.estimate.high * 14.0 / 3_600.0;
        assert!((hours.high / longest - 1.0).abs() < 1e-9);
        let measured = usize::from(pieces.len() > 1);
        assert_eq!(plan.confidence.measured_figures, measured);
        assert_eq!(plan.sheets.from == Source::Measured, measured == 1);
    }
}

#[test]
fn one_piece_or_none_has_the_limits_of_common_practice() {
    let [most, fewest] = RULE_OF_THUMB;
    let none = drawers(&[], 200.0).plan();
    let expected = Estimate::new(200.0 * most, 200.0 * fewest, 200.0 * most);
    assert_eq!(none.sheets.estimate, expected);
    for (counted, low, high) in [
        (98.0, fewest, most),
        (120.0, fewest, 120.0),
        (30.0, 30.0, most),
    ] {
        let plan = drawers(&[(1.0, counted)], 200.0).plan();
        let expected = Estimate::new(200.0 * counted, 200.0 * low, 200.0 * high);
        assert_eq!(plan.sheets.estimate, expected);
        assert_eq!(plan.sheets.from, Source::CommonPractice);
        assert!(assumes(&plan, "no interval from data") && assumes(&plan, "common practice"));
        assert_eq!(plan.drawers.unwrap().bound, None);
    }
}

#[test]
fn a_range_of_inches_widens_and_unequal_pieces_are_told() {
    let mut question = drawers(&[(1.0, 98.0), (1.0, 104.0)], 200.0);
    let narrow = question.plan().sheets.estimate;
    if let Sheets::Drawers { whole, .. } = &mut question.sheets {
        *whole = Estimate::between(190.0, 210.0);
    }
    let wide = question.plan();
    assert!(wide.sheets.estimate.low < narrow.low && narrow.high < wide.sheets.estimate.high);
    assert!(assumes(&wide, "between the ends") && !assumes(&wide, "differ in length"));
    let unequal = drawers(&[(0.5, 49.0), (3.0, 280.0)], 200.0).plan();
    assert!(assumes(&unequal, "differ in length"));
    // Two counts that agree are not without error.
    let alike = drawers(&[(1.0, 98.0); 2], 200.0).plan().sheets.estimate;
    assert!(alike.high - alike.low > 200.0, "{alike:?}");
    // There are no fewer sheets than the job has.
    question.least = 1_000_000;
    assert_eq!(question.plan().sheets.estimate.low, 1e6);
}

#[test]
fn measured_figures_share_the_doubt() {
    let times = |seconds: &[f64]| {
        let people = BTreeMap::from([("mia".to_owned(), seconds.to_vec())]);
        Some(Rate::Measured(people))
    };
    let mut question = drawers(&[(1.0, 98.0), (1.0, 104.0)], 200.0);
    question.keyings = vec![
        keying(FIRST, Part::All, times(&[8.0, 9.0, 12.0])),
        keying(
            SECOND,
            Part::AsInJob(Share::new(20, 100)),
            times(&[20.0, 30.0]),
        ),
    ];
    let plan = question.plan();
    assert_eq!(plan.confidence.measured_figures, 4);
    assert!((plan.confidence.each - 0.9875).abs() < 1e-12);
    assert!(assumes(&plan, "few for times"));
    let [first, second] = [&plan.keyings[0], &plan.keyings[1]];
    assert!((second.sheets.estimate.value - 0.2 * first.sheets.estimate.value).abs() < 1e-6);
    assert!(holds(second.sheets.estimate) && holds(plan.hours.unwrap()));
    // A rate that is another's is no figure of its own.
    question.keyings[1].borrowed = Some("as the first");
    assert_eq!(question.plan().confidence.measured_figures, 3);
    // One sheet does not say how sheets differ; what is not known is told, and the rest is planned.
    question.keyings[1].rate = times(&[20.0]);
    question.clerks = Some(2);
    question.hours_a_day = Some(Estimate::exact(6.0));
    let plan = question.plan();
    assert_eq!((plan.hours, plan.days), (None, None));
    let told = plan.not_planned.join("\n");
    assert!(
        told.contains("a single sheet was keyed") && told.contains("The days"),
        "{told}"
    );
    assert!(plan.keyings[0].hours.is_some());
}

#[test]
fn what_is_done_is_left_out_and_days_and_costs_follow() {
    let mut question = drawers(&[], 200.0);
    question.sheets = Sheets::Given(Estimate::exact(7_200.0));
    question.keyings[0].done = 3_600;
    question.keyings[0].rate = Some(Rate::Given(Estimate::between(8.0, 12.0)));
    (question.clerks, question.hours_a_day) = (Some(2), Some(Estimate::between(5.0, 6.0)));
    question.start = Some(date(2026, 12, 1));
    question.price_a_sheet = Some(Estimate::exact(0.1));
    question.price_an_hour = Some(Estimate::between(20.0, 30.0));
    let plan = question.plan();
    let close = |found: Estimate, expected: [f64; 3]| {
        let found = [found.low, found.value, found.high];
        let is_close = found
            .iter()
            .zip(expected)
            .all(|(found, expected)| (found - expected).abs() < 1e-6);
        assert!(is_close, "{found:?} {expected:?}");
    };
    close(plan.hours.unwrap(), [8.0, 10.0, 12.0]);
    let days = plan.days.as_ref().unwrap();
    close(days.days, [8.0 / 12.0, 10.0 / 11.0, 12.0 / 10.0]);
    let calendar = days.calendar.unwrap();
    assert_eq!(
        (calendar.earliest, calendar.latest),
        (date(2026, 12, 1), date(2026, 12, 2))
    );
    let cost = plan.cost.as_ref().unwrap();
    close(cost.by_sheets.unwrap(), [360.0; 3]);
    close(cost.by_hours.unwrap(), [160.0, 250.0, 360.0]);
    assert!(assumes(&plan, "public holidays"));
}

/// Five looks and 44 keys: 15.55 s at .2 s a key (Card, Moran and Newell's operators).
#[test]
fn keystrokes_become_seconds() {
    let mut question = drawers(&[], 200.0);
    let (keys, looks) = (Estimate::exact(44.0), Estimate::exact(5.0));
    let skill = Skill::Average;
    question.keyings[0].rate = Some(Rate::Keystrokes { keys, looks, skill });
    let plan = question.plan();
    let seconds = plan.keyings[0].seconds_a_sheet.as_ref().unwrap().estimate;
    assert!((seconds.value - 15.55).abs() < 1e-9);
    assert!(
        (seconds.low - 15.55 * 0.79).abs() < 1e-9 && (seconds.high - 15.55 * 1.21).abs() < 1e-9
    );
    assert!(assumes(&plan, "Keystroke-Level Model"));
}
