//! What the values of each kind look like, where the rule file does not say it itself.

use super::charset::CharSet;
use super::kind::{FieldKind, FieldSpec, YEARS};
use super::pattern::{self, Expr, Spread};
use super::slot::Slot;
use crate::value::{DateStyle, Dates, amount_pattern, dates_pattern, part_pattern, range_pattern};
use std::sync::LazyLock;

/// Words that go before a family name and are not one (VAN, VON, DE, DER, DEN, DEL, DELLA, DI, DA, DU, DOS, LA, LE, LO,
/// LOS, ST, MC, MAC, O', EL, AL, BIN, BEN, TEN, TER, ZU, AF, AP, FITZ, SAN), beginnings shared to keep the automaton
/// small. Common practice in name authority work; no single source.
const PARTICLES: &str = "(?i)V[AO]N|D(?:E(?:[RN]|L(?:LA)?)?|[AIU]|OS)|L(?:[AE]|OS?)|S(?:T\\.?|AN)|MA?C|O'|EL|A[FLP]|B[EI]N|TE[NR]|ZU|FITZ";
/// Words that go behind a name.
const SUFFIXES: &str = r"(?i)[JS]R\.?|III?|ESQ\.?";

/// Probability that a surname without particles is one word or a hyphenated pair, has a suffix, is two words. Estimates for
/// English-language staff lists, to be replaced by counts of the roster where there is one.
const SURNAME_PLAIN: f32 = 0.96;
const SURNAME_WITH_SUFFIX: f32 = 0.02;
const SURNAME_OF_TWO_WORDS: f32 = 0.02;
/// Probability of a particle before a surname, and of one more (`VAN DER`).
const SURNAME_WITH_PARTICLE: f32 = 0.03;
const SECOND_PARTICLE: f32 = 0.15;
/// Probability of one, two, three, four given names or initials on a strip. Estimates of the same sort.
const FORENAMES: [f64; 4] = [0.35, 0.50, 0.12, 0.03];
/// Probability that a name goes on by another letter: seven letters on average. An estimate, from memory.
const NAME_LETTER: f32 = 0.86;
/// Probability that a family name is a single letter, and that a given name is one without a period.
const FAMILY_INITIAL: f32 = 0.002;
const GIVEN_INITIAL: f32 = 0.1;
/// Probability of a hyphenated name.
const HYPHENATED: f32 = 0.03;
/// Probability that a year at the end of a range is shortened to two digits.
const SHORT_YEAR: f32 = 0.25;
/// How much rarer a whole number is that has one digit more: counts of sheets and parts are small.
const ONE_DIGIT_MORE: f32 = 0.25;
/// How much more probable a year of the twentieth century is than any other year of the window: microfiche was made
/// from about 1930 to 2000, of records that were not old then. An estimate; min and max say it better.
const OWN_CENTURY: f32 = 6.0;
/// Probability of a leading zero before a number.
const LEADING_ZERO: f32 = 0.05;

/// Ditto marks as they are typed (common practice; no source): quotation marks, DO., DITTO, a dash.
const DITTO: &str = "(?i)\"|''|”|“|D(?:O\\.?|ITTO)|- ?\"? ?-";
/// Probability that a slot holds a ditto mark, where its field may have one.
const DITTO_SHARE: f32 = 0.2;
/// Probability of one more value where a slot takes several.
const ONE_VALUE_MORE: f32 = 0.4;

/// Whether a text is a ditto mark and nothing else.
pub(super) fn is_ditto(text: &str) -> bool {
    static MARK: LazyLock<regex::Regex> = LazyLock::new(|| {
        regex::Regex::new(&format!("^(?:{DITTO})$")).expect("a pattern of ours is well formed")
    });
    MARK.is_match(text.trim())
}

/// What a slot takes: a value of its field, several of them, a ditto mark.
pub(super) fn slot_expr(slot: &Slot, closes_range: bool) -> Expr {
    with_ditto(slot, several(slot, expr(&slot.spec, closes_range)))
}

/// The values of a slot that takes several, from what one of them looks like.
fn several(slot: &Slot, one: Expr) -> Expr {
    let Some(between) = &slot.place.between else {
        return one;
    };
    let gap = || Expr::Choice(vec![(0.5, Expr::Empty), (0.5, blank())]);
    let mut more = match between.as_str() {
        "" => vec![blank()],
        between => vec![gap(), pattern::literal(between), gap()],
    };
    more.push(one.clone());
    let more = Expr::Repeat {
        expr: Box::new(Expr::Concat(more)),
        min: 0,
        max: None,
        again: ONE_VALUE_MORE,
    };
    Expr::Concat(vec![one, more])
}

/// The same or a ditto mark, where the field may have one.
pub(super) fn with_ditto(slot: &Slot, value: Expr) -> Expr {
    if slot.spec.ditto {
        let mark = pattern::known(DITTO);
        Expr::Choice(vec![(1.0 - DITTO_SHARE, value), (DITTO_SHARE, mark)])
    } else {
        value
    }
}

/// What a slot of this field takes. `closes_range`: the slot ends a range that another year began.
fn expr(field: &FieldSpec, closes_range: bool) -> Expr {
    if let Some(pattern) = &field.pattern {
        return pattern::known(pattern);
    }
    let (first, last) = field.window;
    match field.kind {
        FieldKind::Surname => surname(),
        FieldKind::Forenames => forenames(),
        FieldKind::Code => pattern::known("[A-Z0-9][A-Z0-9./-]*"),
        FieldKind::Year => year(first, last, closes_range),
        FieldKind::Date => dates(&field.styles.dates, Dates::Single),
        FieldKind::DateRange => dates(&field.styles.dates, Dates::Range),
        FieldKind::Part => pattern::known(part_pattern()),
        FieldKind::Range => pattern::known(range_pattern()),
        FieldKind::Amount => pattern::known(amount_pattern()),
        FieldKind::Person => person(),
        FieldKind::Number => {
            let number = count(first, last);
            Expr::Choice(vec![
                (1.0 - LEADING_ZERO, number.clone()),
                (
                    LEADING_ZERO,
                    Expr::Concat(vec![pattern::literal("0"), number]),
                ),
            ])
        }
        FieldKind::Choice => pattern::words(field.words.iter().map(String::as_str)),
        FieldKind::Text => Expr::Repeat {
            expr: Box::new(Expr::One(
                CharSet::from_ranges([(' ', char::MAX)]),
                Spread::FreeText,
            )),
            min: 1,
            max: None,
            again: 0.97,
        },
    }
}

/// What a slot takes that does not look like its kind: one piece without blanks.
pub(super) fn off_pattern() -> Expr {
    Expr::Repeat {
        expr: Box::new(Expr::One(
            CharSet::from_ranges([('!', '~'), ('¡', char::MAX)]),
            Spread::FreeText,
        )),
        min: 1,
        max: None,
        again: 0.85,
    }
}

/// Whole numbers, short ones more probable than long ones.
fn count(first: u32, last: u32) -> Expr {
    let mut lengths = Vec::new();
    let mut share = 1.0;
    let (mut low, mut high) = (0, 9);
    while low <= last {
        if first <= high {
            lengths.push((share, pattern::numbers(first.max(low), last.min(high))));
            share *= ONE_DIGIT_MORE;
        }
        (low, high) = (high + 1, high * 10 + 9);
    }
    let all: f32 = lengths.iter().map(|(share, _)| share).sum();
    for (share, _) in &mut lengths {
        *share /= all;
    }
    Expr::Choice(lengths)
}

fn year(first: u32, last: u32, closes_range: bool) -> Expr {
    let full = full_year(first, last);
    if closes_range {
        Expr::Choice(vec![
            (1.0 - SHORT_YEAR, full),
            (SHORT_YEAR, pattern::known("[0-9]{2}")),
        ])
    } else {
        full
    }
}

/// The years of a window, those of the film's own century far more probable than others.
fn full_year(first: u32, last: u32) -> Expr {
    let mut spans = Vec::new();
    for (low, high, favour) in [(0, 1899, 1.0), (1900, 1999, OWN_CENTURY), (2000, 9999, 1.0)] {
        let (low, high) = (first.max(low), last.min(high));
        if low <= high {
            let share = (high - low + 1) as f32 * favour;
            spans.push((share, pattern::numbers(low, high)));
        }
    }
    let all: f32 = spans.iter().map(|(share, _)| share).sum();
    for (share, _) in &mut spans {
        *share /= all;
    }
    Expr::Choice(spans)
}

/// Probabilities of the commonest styles of a range of dates: two years, one year, months and years in figures; and of
/// a single date: figures, one year. What is left goes to all other styles together. Estimates, from what archives and
/// offices type on headings (common practice; no source).
const TWO_YEARS: f32 = 0.5;
const ONE_YEAR: f32 = 0.1;
const MONTHS_IN_FIGURES: f32 = 0.05;
/// Probability that one of two years is not given.
const OPEN: f32 = 0.08;
/// Probability that the last digit of a single year is a question mark.
const OPEN_DIGIT: f32 = 0.1;
/// Probability that the first of two years has two digits.
const SHORT_FIRST_YEAR: f32 = 0.1;
const DAY_IN_FIGURES: f32 = 0.25;

/// Dates in every style, the commonest ones first in probability: a pattern of all of them alone would take `1931-58`
/// to be as rare as the rarest.
fn dates(style: &DateStyle, what: Dates) -> Expr {
    let (first, last) = YEARS;
    let one_year = || {
        Expr::Choice(vec![
            (1.0 - OPEN_DIGIT, year(first, last, false)),
            (OPEN_DIGIT, pattern::known(r"[12][0-9]{2}\?")),
        ])
    };
    let every = leaned(pattern::known(&dates_pattern(style, what)));
    let mut ways = match what {
        Dates::Range => vec![
            (
                TWO_YEARS,
                Expr::Concat(vec![
                    Expr::Choice(vec![
                        (1.0 - SHORT_FIRST_YEAR, year(first, last, false)),
                        (SHORT_FIRST_YEAR, pattern::known("[0-9]{2}")),
                    ]),
                    pattern::known("-|–| - | – |/| TO "),
                    year(first, last, true),
                ]),
            ),
            (ONE_YEAR, one_year()),
            (
                OPEN,
                Expr::Choice(vec![
                    (
                        0.5,
                        Expr::Concat(vec![year(first, last, false), pattern::known(" ?[-–]")]),
                    ),
                    (
                        0.5,
                        Expr::Concat(vec![pattern::known("TO "), year(first, last, false)]),
                    ),
                ]),
            ),
            (
                MONTHS_IN_FIGURES,
                pattern::known("[01]?[0-9]/[0-9]{2}(?:-| - | TO )[01]?[0-9]/[0-9]{2}"),
            ),
        ],
        Dates::Single => vec![
            (
                DAY_IN_FIGURES,
                pattern::known("[0-3]?[0-9][-/.][01]?[0-9][-/.](?:1[89]|20)?[0-9]{2}"),
            ),
            (ONE_YEAR, one_year()),
        ],
    };
    let usual: f32 = ways.iter().map(|(share, _)| share).sum();
    ways.push((1.0 - usual, every));
    Expr::Choice(ways)
}

/// A pattern of very many styles with its choices leaned towards what is typed: of its alternatives, few are as rare as
/// all alike would have them, and most of what may be there is not. Without this a rare style would cost more than
/// several misread characters in a common one.
fn leaned(expr: Expr) -> Expr {
    /// Exponent of the shares of alternatives.
    const LEAN: f32 = 0.4;
    /// Shares of a piece that may be missing: there, and not.
    const THERE: f32 = 0.4;
    const MISSING: f32 = 0.9;
    let all = |parts: Vec<Expr>| parts.into_iter().map(leaned).collect();
    match expr {
        Expr::Concat(parts) => Expr::Concat(all(parts)),
        Expr::Choice(ways) => {
            let ways = ways.into_iter();
            Expr::Choice(
                ways.map(|(share, way)| (share.powf(LEAN), leaned(way)))
                    .collect(),
            )
        }
        Expr::Repeat {
            expr,
            min: 0,
            max: Some(1),
            ..
        } => Expr::Choice(vec![(THERE, leaned(*expr)), (MISSING, Expr::Empty)]),
        Expr::Repeat {
            expr,
            min,
            max,
            again,
        } => Expr::Repeat {
            expr: Box::new(leaned(*expr)),
            min,
            max,
            again,
        },
        other => other,
    }
}

/// Probability that a whole name stands in inverted order. An estimate: most headings are filed by surname.
const INVERTED: f32 = 0.75;

fn person() -> Expr {
    let gap = || Expr::Choice(vec![(0.9, blank()), (0.1, Expr::Empty)]);
    let comma = pattern::literal(",");
    let inverted = Expr::Concat(vec![surname(), comma, gap(), forenames()]);
    let direct = Expr::Concat(vec![forenames(), blank(), surname()]);
    Expr::Choice(vec![(INVERTED, inverted), (1.0 - INVERTED, direct)])
}

fn surname() -> Expr {
    let particles = Expr::Repeat {
        expr: Box::new(Expr::Concat(vec![pattern::known(PARTICLES), blank()])),
        min: 1,
        max: None,
        again: SECOND_PARTICLE,
    };
    let name = || name(FAMILY_INITIAL);
    let behind = Expr::Choice(vec![
        (SURNAME_PLAIN, Expr::Empty),
        (
            SURNAME_WITH_SUFFIX,
            Expr::Concat(vec![blank(), pattern::known(SUFFIXES)]),
        ),
        (SURNAME_OF_TWO_WORDS, Expr::Concat(vec![blank(), name()])),
    ]);
    Expr::Choice(vec![
        (
            1.0 - SURNAME_WITH_PARTICLE,
            Expr::Concat(vec![name(), behind]),
        ),
        (SURNAME_WITH_PARTICLE, Expr::Concat(vec![particles, name()])),
    ])
}

fn forenames() -> Expr {
    let name = || name(GIVEN_INITIAL);
    // One inside the other, so that the automaton stays small: a name, and perhaps another, and perhaps another ...
    let mut rest = Expr::Empty;
    let mut longer = 0.0;
    for share in FORENAMES.into_iter().rev() {
        let all = share + longer;
        let more = longer / all;
        rest = Expr::Concat(vec![
            blank(),
            name(),
            Expr::Choice(vec![
                ((1.0 - more) as f32, Expr::Empty),
                (more as f32, rest),
            ]),
        ]);
        longer = all;
    }
    // The first one has no blank before it.
    match rest {
        Expr::Concat(mut parts) => {
            parts.remove(0);
            Expr::Concat(parts)
        }
        other => other,
    }
}

/// One name, hyphenated or not; a single letter with probability `initial`.
fn name(initial: f32) -> Expr {
    let hyphen = Expr::One(CharSet::from_ranges([('-', '-')]), Spread::Known);
    let second = Expr::Concat(vec![hyphen, letter(), letters()]);
    let behind = vec![(1.0 - HYPHENATED, Expr::Empty), (HYPHENATED, second)];
    let longer = Expr::Concat(vec![letters(), Expr::Choice(behind)]);
    let ways = vec![(initial, Expr::Empty), (1.0 - initial, longer)];
    Expr::Concat(vec![letter(), Expr::Choice(ways)])
}

/// A letter that begins a name.
fn letter() -> Expr {
    name_set(r"\p{L}")
}

/// Letters, apostrophes and periods that go on with it.
fn letters() -> Expr {
    Expr::Repeat {
        expr: Box::new(name_set(r"[\p{L}\p{M}'’.]")),
        min: 1,
        max: None,
        again: NAME_LETTER,
    }
}

fn name_set(class: &str) -> Expr {
    match pattern::known(class) {
        Expr::One(set, _) => Expr::One(set, Spread::Name),
        other => other,
    }
}

fn blank() -> Expr {
    Expr::One(CharSet::from_ranges([(' ', ' ')]), Spread::Known)
}
