//! For tests: texts that a slot's pattern takes, drawn at random, and how large its automaton is.

use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use regex_syntax::hir::{Class, Hir, HirKind};

/// Texts drawn for a pattern.
const DRAWN: usize = 5_000;

/// Asserts that a pattern has at most `positions` positions, that it is free of anchors, and that `reads` holds for
/// what it takes.
pub(super) fn check(pattern: &str, positions: usize, reads: impl Fn(&str) -> bool) {
    let hir = regex_syntax::parse(pattern).unwrap();
    let (size, properties) = (size(&hir), hir.properties());
    assert!(size <= positions, "{size} positions, at most {positions}");
    assert!(properties.look_set().is_empty() && properties.maximum_len().is_some());
    assert!(properties.minimum_len() > Some(0), "takes nothing");
    let mut random = ChaCha8Rng::seed_from_u64(11);
    for _ in 0..DRAWN {
        let mut text = String::new();
        draw(&hir, &mut random, &mut text);
        assert!(reads(&text), "{text:?} is not read");
    }
}

fn size(hir: &Hir) -> usize {
    match hir.kind() {
        HirKind::Empty | HirKind::Look(_) => 0,
        HirKind::Literal(literal) => literal.0.len(),
        HirKind::Class(_) => 1,
        HirKind::Repetition(repetition) => {
            let times = repetition.max.unwrap_or(repetition.min + 1);
            times as usize * size(&repetition.sub)
        }
        HirKind::Capture(capture) => size(&capture.sub),
        HirKind::Concat(subs) | HirKind::Alternation(subs) => subs.iter().map(size).sum(),
    }
}

fn draw(hir: &Hir, random: &mut ChaCha8Rng, text: &mut String) {
    match hir.kind() {
        HirKind::Empty | HirKind::Look(_) => {}
        HirKind::Literal(literal) => text.push_str(std::str::from_utf8(&literal.0).unwrap()),
        HirKind::Class(Class::Unicode(class)) => {
            let range = class.ranges()[random.random_range(0..class.ranges().len())];
            text.push(random.random_range(range.start()..=range.end()));
        }
        HirKind::Class(Class::Bytes(_)) => unreachable!("patterns of text"),
        HirKind::Repetition(repetition) => {
            let most = repetition.max.unwrap_or(repetition.min + 3);
            for _ in 0..random.random_range(repetition.min..=most) {
                draw(&repetition.sub, random, text);
            }
        }
        HirKind::Capture(capture) => draw(&capture.sub, random, text),
        HirKind::Concat(subs) => subs.iter().for_each(|sub| draw(sub, random, text)),
        HirKind::Alternation(subs) => draw(&subs[random.random_range(0..subs.len())], random, text),
    }
}

/// Pieces of values, signs that readers look for, and characters that cut badly.
const PIECES: [&str; 40] = [
    "A", "b", "JR", "DE LA", "É", "ß", "ﬁ", "鈴", "ﷺ", "\u{301}", "\u{202e}", "\u{0}", "İ", " ",
    " ", ",", ".", "'", "\"", "“", "(", ")", "-", "–", "/", "&", " OF ", " TO ", "?", "1", "0",
    "IV", "999", "$", "CR", "NEE ", "AKA", "X", "Mc", "#",
];

/// Whatever is read, nothing panics, and what prints a value can be read again.
#[test]
fn readers_take_anything() {
    use super::{
        Amount, CheckScheme, DecimalSign, FilingRules, NameOrder, Part, Person, Range, filing_key,
    };
    let mut random = ChaCha8Rng::seed_from_u64(5);
    let (mut parts, mut amounts, mut ranges) = (0, 0, 0);
    for _ in 0..20_000 {
        let count = random.random_range(0..9);
        let text: String = (0..count)
            .map(|_| PIECES[random.random_range(0..PIECES.len())])
            .collect();
        if let Ok(read) = Part::read(&text) {
            assert_eq!(
                Part::read(&read.part.to_string()).unwrap().part,
                read.part,
                "{text:?}"
            );
            parts += 1;
        }
        if let Ok(read) = Amount::read(&text, None) {
            let again = Amount::read(&read.amount.to_string(), Some(DecimalSign::Point));
            assert_eq!(again.unwrap().amount, read.amount, "{text:?}");
            amounts += 1;
        }
        for rules in FilingRules::ALL {
            let key = filing_key(&text, rules);
            assert!(key.begins_with(&key), "{text:?}");
            if let Ok(read) = Range::read(&text, rules) {
                assert!(read.range.contains(&read.range.from, rules), "{text:?}");
                assert!(read.range.contains(&read.range.to, rules), "{text:?}");
                ranges += 1;
            }
        }
        for order in [NameOrder::Direct, NameOrder::SurnameFirst] {
            let readings = Person::readings(&text, order);
            let person = &readings[0];
            person.particle();
            person.initials();
            person.direct();
            // Without forenames nothing tells two surnames from a name in direct order, and some words are names in one
            // place and none in another.
            let is_clear = !["NEE", "AKA", "IV", "JR", "İ"]
                .iter()
                .any(|word| text.contains(word));
            if is_clear && !person.forenames.is_empty() {
                let again = Person::readings(&person.inverted(), NameOrder::Direct);
                assert!(again.contains(person), "{text:?}: {person:?} {again:?}");
            }
        }
        for scheme in CheckScheme::ALL {
            let check = scheme.check_character(&text);
            assert!(
                check.is_none_or(|check| scheme.holds(&format!("{text}{check}"))),
                "{text:?}"
            );
        }
    }
    assert!(
        parts > 100 && amounts > 100 && ranges > 100,
        "{parts} {amounts} {ranges}"
    );
}
