//! Patterns: what may stand in a slot, with probabilities; from the `regex` crate's syntax or built by a field kind.

use super::charset::CharSet;
use regex_syntax::hir::{Class, Hir, HirKind};

/// Nodes that one rule's automaton may have. A generous one-line rule has about 200, a range of dates in five languages
/// 1,600; the alignment's cost grows with it.
pub(super) const MAX_NODES: usize = 4_000;
/// Nodes that a pattern of the user's may have.
const MAX_OWN: usize = 1_500;
/// Deepest nesting of groups in a pattern.
const MAX_NESTING: u32 = 30;
/// Longest pattern, in bytes; a longer one is a list that belongs into a roster or a choice.
const MAX_LENGTH: usize = 4_000;
/// Probability of one more of something that may come any number of times: eight on average.
const ONE_MORE: f32 = 0.88;

/// How a set spreads its probability over its characters.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Spread {
    /// Known beforehand: costs nothing.
    Known,
    /// Each of so many alike.
    Even(f32),
    /// Letters alike, the few marks that names have rarely.
    Name,
    /// As free text would.
    FreeText,
}

/// A pattern whose choices carry probabilities.
#[derive(Debug, Clone, PartialEq)]
pub(super) enum Expr {
    Empty,
    One(CharSet, Spread),
    Concat(Vec<Expr>),
    /// Probabilities, adding up to 1 at most.
    Choice(Vec<(f32, Expr)>),
    /// At least `min` times; then, without a `max`, each further time with probability `again`; with one, every number
    /// of times alike.
    Repeat {
        expr: Box<Expr>,
        min: u32,
        max: Option<u32>,
        again: f32,
    },
    /// A named group of a rule's own expression: what stands in this slot of the rule.
    Slot(usize, Box<Expr>),
}

/// Why a pattern cannot be used.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct PatternFault {
    /// Byte offset into the pattern.
    pub offset: usize,
    pub expected: String,
    pub found: String,
    pub advice: String,
}

impl PatternFault {
    fn new(offset: usize, expected: &str, found: impl Into<String>, advice: &str) -> Self {
        Self {
            offset,
            expected: expected.to_owned(),
            found: found.into(),
            advice: advice.to_owned(),
        }
    }
}

/// Reads a pattern in the `regex` crate's syntax.
pub(super) fn parse(pattern: &str) -> Result<Expr, PatternFault> {
    parse_with_groups(pattern, &mut |_| None)
}

/// The same; `slot` is asked which slot of the rule a named group fills.
pub(super) fn parse_with_groups(
    pattern: &str,
    slot: &mut dyn FnMut(&str) -> Option<usize>,
) -> Result<Expr, PatternFault> {
    if pattern.len() > MAX_LENGTH {
        return Err(PatternFault::new(
            0,
            &format!("a pattern of at most {MAX_LENGTH} bytes"),
            format!("{} bytes", pattern.len()),
            "Shorten it, or list the words in a field of kind `choice`",
        ));
    }
    let hir = syntax_tree(pattern)?;
    if hir.properties().minimum_len() == Some(0) {
        return Err(PatternFault::new(
            0,
            "a pattern that takes at least one character",
            "one that fits nothing at all",
            "Replace `*` by `+`; put what may be missing into square brackets in the rule's line",
        ));
    }
    if hir.properties().minimum_len().is_none() {
        return Err(PatternFault::new(
            0,
            "a pattern that some text fits",
            "one that nothing fits",
            "Correct the characters in its square brackets",
        ));
    }
    let nodes = size(&hir);
    if nodes > MAX_OWN {
        return Err(PatternFault::new(
            0,
            &format!(
                "a pattern of at most {MAX_OWN} characters once its repetitions are written out"
            ),
            if nodes == usize::MAX {
                "one beyond all bounds".to_owned()
            } else {
                format!("one of {nodes}")
            },
            "Lower the repetition counts, or write `+` for any number",
        ));
    }
    convert(&hir, slot)
}

fn syntax_tree(pattern: &str) -> Result<Hir, PatternFault> {
    regex_syntax::ParserBuilder::new()
        .nest_limit(MAX_NESTING)
        .build()
        .parse(pattern)
        .map_err(|error| {
            let (offset, what) = match &error {
                regex_syntax::Error::Parse(e) => (e.span().start.offset, e.kind().to_string()),
                regex_syntax::Error::Translate(e) => (e.span().start.offset, e.kind().to_string()),
                other => (0, other.to_string()),
            };
            PatternFault::new(
                offset,
                "a pattern in the syntax of the `regex` crate",
                format!("a fault in it ({})", what.trim()),
                "Correct the pattern here; a backslash takes the special meaning from a character, as in `\\.`",
            )
        })
}

/// A pattern of ours, whatever its size.
pub(super) fn known(pattern: &str) -> Expr {
    syntax_tree(pattern)
        .and_then(|hir| convert(&hir, &mut |_| None))
        .expect("a pattern of ours is well formed; the unit tests build every kind")
}

/// Words of which one must stand there.
pub(super) fn words<'a>(words: impl IntoIterator<Item = &'a str>) -> Expr {
    let words: Vec<Expr> = words.into_iter().map(literal).collect();
    let share = 1.0 / words.len().max(1) as f32;
    Expr::Choice(words.into_iter().map(|word| (share, word)).collect())
}

/// Known text in any case.
pub(super) fn literal(text: &str) -> Expr {
    Expr::Concat(
        text.chars()
            .map(|c| Expr::One(CharSet::any_case(c), Spread::Known))
            .collect(),
    )
}

/// Whole numbers from `first` to `last`, without leading zeros.
pub(super) fn numbers(first: u32, last: u32) -> Expr {
    let mut branches = Vec::new();
    let total = f64::from(last - first) + 1.0;
    let mut low = first;
    loop {
        // The widest block of numbers that begins at `low` and differs in its last digits only.
        let mut block = 1u32;
        while low.is_multiple_of(block * 10)
            && low > 0
            && u64::from(low) + u64::from(block) * 10 - 1 <= u64::from(last)
            && block < 100_000_000
        {
            block *= 10;
        }
        // Then as many such blocks as share the leading digits.
        let digit = low / block % 10;
        let blocks = (9 - digit).min((last - low + 1) / block - 1) + 1;
        let head = (low / block / 10).to_string();
        let head = if low / block >= 10 { head.as_str() } else { "" };
        let mut parts = vec![literal(head), digits(digit, digit + blocks - 1)];
        parts.extend((0..block.ilog10()).map(|_| digits(0, 9)));
        let share = f64::from(blocks) * f64::from(block) / total;
        branches.push((share as f32, Expr::Concat(parts)));
        match low.checked_add(blocks * block) {
            Some(next) if next <= last => low = next,
            _ => return Expr::Choice(branches),
        }
    }
}

fn digits(first: u32, last: u32) -> Expr {
    let digit = |d| char::from_digit(d, 10).expect("one digit");
    one(CharSet::from_ranges([(digit(first), digit(last))]))
}

fn one(set: CharSet) -> Expr {
    let size = set.typed_size();
    let spread = match size {
        1 => Spread::Known,
        size => Spread::Even(-(size as f32).ln()),
    };
    Expr::One(set, spread)
}

/// Characters of a pattern once its repetitions are written out.
fn size(hir: &Hir) -> usize {
    match hir.kind() {
        HirKind::Empty | HirKind::Look(_) => 0,
        HirKind::Literal(literal) => literal.0.len(),
        HirKind::Class(_) => 1,
        HirKind::Repetition(repetition) => {
            let times = repetition.max.unwrap_or(repetition.min.max(1)).max(1) as usize;
            // The empty group repeated is work too.
            size(&repetition.sub).max(1).saturating_mul(times)
        }
        HirKind::Capture(capture) => size(&capture.sub),
        HirKind::Concat(subs) | HirKind::Alternation(subs) => subs
            .iter()
            .fold(0usize, |sum, sub| sum.saturating_add(size(sub))),
    }
}

fn convert(hir: &Hir, slot: &mut dyn FnMut(&str) -> Option<usize>) -> Result<Expr, PatternFault> {
    let mut all = |subs: &[Hir]| {
        let parts = subs.iter().map(|sub| convert(sub, slot));
        parts.collect::<Result<Vec<_>, _>>()
    };
    Ok(match hir.kind() {
        HirKind::Empty => Expr::Empty,
        HirKind::Literal(bytes) => {
            let text = std::str::from_utf8(&bytes.0).map_err(|_| bytes_fault())?;
            Expr::Concat(
                text.chars()
                    .map(|c| one(CharSet::from_ranges([(c, c)])))
                    .collect(),
            )
        }
        HirKind::Class(Class::Unicode(class)) => one(CharSet::from_ranges(
            class.ranges().iter().map(|r| (r.start(), r.end())),
        )),
        HirKind::Class(Class::Bytes(class)) => {
            let class = class.to_unicode_class().ok_or_else(bytes_fault)?;
            one(CharSet::from_ranges(
                class.ranges().iter().map(|r| (r.start(), r.end())),
            ))
        }
        HirKind::Look(_) => {
            return Err(PatternFault::new(
                0,
                "a pattern without `^`, `$`, `\\b` and `\\B`",
                "one that looks around",
                "Leave them out; a slot's pattern always covers the whole slot",
            ));
        }
        HirKind::Repetition(repetition) => Expr::Repeat {
            expr: Box::new(convert(&repetition.sub, &mut |_| None)?),
            min: repetition.min,
            max: repetition.max,
            again: ONE_MORE,
        },
        HirKind::Capture(capture) => {
            let inner = convert(&capture.sub, &mut |_| None)?;
            match capture.name.as_deref().and_then(&mut *slot) {
                Some(slot) => Expr::Slot(slot, Box::new(inner)),
                None => convert(&capture.sub, slot)?,
            }
        }
        HirKind::Concat(subs) => Expr::Concat(all(subs)?),
        HirKind::Alternation(subs) => {
            let share = 1.0 / subs.len() as f32;
            Expr::Choice(all(subs)?.into_iter().map(|sub| (share, sub)).collect())
        }
    })
}

fn bytes_fault() -> PatternFault {
    PatternFault::new(
        0,
        "a pattern over characters",
        "one over bytes",
        "Leave `(?-u)` out",
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Every text that a pattern of digits takes, with its probability; repetitions must be bounded.
    fn language(expr: &Expr) -> Vec<(String, f32)> {
        match expr {
            Expr::Empty => vec![(String::new(), 1.0)],
            Expr::One(set, _) => {
                let chars: Vec<char> = ('0'..='9').filter(|&c| set.contains(c)).collect();
                let share = 1.0 / chars.len() as f32;
                chars.iter().map(|c| (c.to_string(), share)).collect()
            }
            Expr::Concat(parts) => parts.iter().fold(language(&Expr::Empty), |whole, part| {
                let part = language(part);
                let with = |(text, p): &(String, f32)| -> Vec<(String, f32)> {
                    part.iter()
                        .map(|(end, q)| (format!("{text}{end}"), p * q))
                        .collect()
                };
                whole.iter().flat_map(with).collect()
            }),
            Expr::Choice(ways) => ways
                .iter()
                .flat_map(|(share, way)| {
                    let share = *share;
                    language(way)
                        .into_iter()
                        .map(move |(text, p)| (text, p * share))
                })
                .collect(),
            Expr::Repeat { .. } | Expr::Slot(..) => unreachable!("neither is in a number"),
        }
    }

    #[test]
    fn numbers_are_those_of_the_window_and_each_as_probable() {
        for (first, last) in [
            (0, 0),
            (0, 9),
            (1, 99),
            (7, 13),
            (0, 1_000),
            (1800, 2099),
            (1885, 1962),
            (99, 10_000),
            (1_234, 5_678),
        ] {
            let mut language = language(&numbers(first, last));
            language.sort_by_key(|(text, _)| text.parse::<u32>().unwrap());
            let wanted: Vec<String> = (first..=last).map(|n| n.to_string()).collect();
            let texts: Vec<&String> = language.iter().map(|(text, _)| text).collect();
            assert_eq!(
                texts,
                wanted.iter().collect::<Vec<_>>(),
                "{first} to {last}"
            );
            let even = 1.0 / wanted.len() as f32;
            assert!(language.iter().all(|(_, p)| (p / even - 1.0).abs() < 1e-3));
        }
    }
}
