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
/// Bytes within which quotes are closed; a quote that goes on longer is a stray sign.
const LONGEST_QUOTE: usize = 80;

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
                let text = text.replace(|c| c != '\'' && is_sign(c), " ");
                let text = text.trim_matches(|c: char| c == '\'' || c.is_whitespace());
                if text.contains(char::is_alphanumeric) {
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
            // A stray quote or bracket is no part of a name, an apostrophe is.
            None if c != '\'' && is_sign(c) => {
                plain.push(' ');
                rest = inside;
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
    let is_near = |&(at, _): &(usize, &str)| pair < BRACKETS || at <= LONGEST_QUOTE;
    let end = inside
        .match_indices(close)
        .take_while(is_near)
        .find(|&(at, _)| {
            let behind = inside[at + close.len_utf8()..].chars().next();
            !is_apostrophe || behind.is_none_or(|c| !c.is_alphanumeric())
        });
    match end {
        // A comma ends a name before it ends a nickname.
        Some((at, _)) if is_apostrophe && inside[..at].contains(',') => None,
        Some((at, _)) => Some((&inside[..at], &inside[at + close.len_utf8()..])),
        None if pair < BRACKETS => Some((inside, "")),
        None => None,
    }
}

fn is_sign(c: char) -> bool {
    PAIRS.iter().any(|&(open, close)| c == open || c == close)
}

fn ends_with_initial(text: &str) -> bool {
    let mut back = text.chars().rev().skip(1);
    back.next().is_some_and(char::is_alphabetic) && back.next().is_none_or(|c| !c.is_alphanumeric())
}

/// Whether at least two letters come first.
fn begins_name(text: &str) -> bool {
    text.chars().take(2).filter(|c| c.is_alphabetic()).count() == 2
}
