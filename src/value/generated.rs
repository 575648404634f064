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
