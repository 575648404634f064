//! Text from outside made harmless for a terminal. The raw text stays in the data; this is for showing only.

use std::borrow::Cow;

/// Replaces what a terminal would obey or a reader could not see (control characters, escape sequences, direction
/// overrides, invisible format characters) by a visible mark.
///
/// ```
/// assert_eq!(headword::value::shown("A\u{1b}[31mB\u{202e}C"), "A\u{fffd}[31mB\u{fffd}C");
/// assert_eq!(headword::value::shown("PIER MASTER"), "PIER MASTER");
/// ```
pub fn shown(text: &str) -> Cow<'_, str> {
    if text.chars().any(is_obeyed) {
        Cow::Owned(
            text.chars()
                .map(|c| if is_obeyed(c) { '\u{fffd}' } else { c })
                .collect(),
        )
    } else {
        Cow::Borrowed(text)
    }
}

/// What [`shown`] replaces: control characters (C0, C1), bidirectional controls, zero-width and other invisible format characters.
pub fn is_obeyed(c: char) -> bool {
    c.is_control()
        || matches!(c,
            '\u{00ad}' | '\u{061c}' | '\u{180e}' | '\u{200b}'..='\u{200f}' | '\u{2028}'..='\u{202e}'
            | '\u{2060}'..='\u{206f}' | '\u{feff}' | '\u{fff9}'..='\u{fffb}' | '\u{e0000}'..='\u{e007f}')
}

/// A number's digits with commas between thousands, so that five of them are read at a glance; decimals stay as they are.
///
/// ```
/// # use headword::value::thousands;
/// assert_eq!(["999", "1000", "1234567.25"].map(thousands), ["999", "1,000", "1,234,567.25"]);
/// ```
pub fn thousands(digits: &str) -> String {
    let whole = digits.split('.').next().map_or(0, str::len);
    let mut text = String::new();
    for (at, digit) in digits.chars().enumerate() {
        if at > 0 && at < whole && (whole - at).is_multiple_of(3) {
            text.push(',');
        }
        text.push(digit);
    }
    text
}
