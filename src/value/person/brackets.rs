//! Nicknames and former names in quotes and brackets.

/// What stood in quotes or brackets.
#[derive(Debug, PartialEq, Eq)]
pub(super) struct Bracketed {
    pub text: String,
    /// In quotes, not in brackets.
    pub quoted: bool,
    /// Between a surname and the comma behind it.
    pub behind_surname: bool,
}

/// Opening signs with their closing ones; quotes last.
const PAIRS: [(char, char); 8] = [
    ('(', ')'),
    ('[', ']'),
    ('"', '"'),
    ('“', '”'),
    ('„', '“'),
    ('«', '»'),
    ('‹', '›'),
    ('\'', '\''),
];
const BRACKETS: usize = 2;

/// The name without what is bracketed, and that; blanks made single, blanks put behind an initial's full stop. What is
/// opened and never closed goes to the end.
pub(super) fn take_brackets(typed: &str) -> (String, Vec<Bracketed>) {
    let mut plain = String::with_capacity(typed.len());
    let mut bracketed: Vec<Bracketed> = Vec::new();
    let mut rest = typed;
    while let Some(c) = rest.chars().next() {
        let inside = &rest[c.len_utf8()..];
        let pair = PAIRS.iter().position(|&(open, _)| open == c);
        match pair.and_then(|pair| Some((pair, closing(&plain, inside, pair)?))) {
            Some((pair, (text, behind))) => {
                let signs = |c: char| PAIRS.iter().any(|&(open, close)| c == open || c == close);
                let text = text.trim_matches(|c: char| signs(c) || c.is_whitespace());
                if !text.is_empty() {
                    bracketed.push(Bracketed {
                        text: text.split_whitespace().collect::<Vec<_>>().join(" "),
                        quoted: pair >= BRACKETS,
                        behind_surname: !plain.contains(',')
                            && behind.trim_start().starts_with(',')
                            && plain.contains(char::is_alphabetic),
                    });
                }
                plain.push(' ');
                rest = behind;
            }
            None => {
                plain.push(c);
                if c == '.' && ends_with_initial(&plain) && begins_name(inside) {
                    plain.push(' ');
                }
                rest = inside;
            }
        }
    }
    (plain, bracketed)
}

/// What stands before the closing sign and behind it. An apostrophe opens only where a word begins, and closes only
/// where one ends; else it belongs to the name.
fn closing<'a>(before: &str, inside: &'a str, pair: usize) -> Option<(&'a str, &'a str)> {
    let (open, close) = PAIRS[pair];
    let is_apostrophe = open == '\'';
    if is_apostrophe && before.ends_with(char::is_alphanumeric) {
        return None;
    }
    let end = inside.match_indices(close).find(|&(at, _)| {
        let behind = inside[at + close.len_utf8()..].chars().next();
        !is_apostrophe || behind.is_none_or(|c| !c.is_alphanumeric())
    });
    match end {
        Some((at, _)) => Some((&inside[..at], &inside[at + close.len_utf8()..])),
        None if pair < BRACKETS => Some((inside, "")),
        None => None,
    }
}

fn ends_with_initial(text: &str) -> bool {
    let mut back = text.chars().rev().skip(1);
    back.next().is_some_and(char::is_alphabetic)
        && back.next().is_none_or(|c| c == '.' || c.is_whitespace())
}

/// Whether at least two letters come first.
fn begins_name(text: &str) -> bool {
    text.chars().take(2).filter(|c| c.is_alphabetic()).count() == 2
}
