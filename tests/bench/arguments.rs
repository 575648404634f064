//! What a bench was asked for on its command line.

use std::str::FromStr;

/// The text that follows a name such as `--seed`.
pub fn value(name: &str) -> Option<String> {
    let mut arguments = std::env::args();
    arguments.find(|argument| argument == name)?;
    arguments.next()
}

/// The number that follows a name, or a usual one.
pub fn number<T: FromStr>(name: &str, usual: T) -> T {
    value(name).map_or(usual, |text| {
        let number = text.parse().ok();
        number.unwrap_or_else(|| panic!("expected a number after {name}, found {text}"))
    })
}

/// Whether a name such as `--show` was given.
#[allow(dead_code, reason = "benches share this file and not all have flags")]
pub fn flag(name: &str) -> bool {
    std::env::args().any(|argument| argument == name)
}
