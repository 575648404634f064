//! Days as the demo's collections date things.

use jiff::ToSpan;
use jiff::civil::Date;

/// Months as typists shorten them.
pub const MONTHS: [&str; 12] = [
    "JAN", "FEB", "MAR", "APR", "MAY", "JUN", "JUL", "AUG", "SEP", "OCT", "NOV", "DEC",
];

/// A date's month as typists shorten it.
pub fn month(date: Date) -> &'static str {
    MONTHS[date.month() as usize - 1]
}

/// `12 MAR 1957`
pub fn in_words(date: Date) -> String {
    format!("{} {} {}", date.day(), month(date), date.year())
}

/// So many months earlier, and some days more, so that the day of the month is another.
pub fn before(date: Date, months: u16) -> Date {
    let days = 1 + 7 * months % 25;
    date - i32::from(months).months() - i32::from(days).days()
}
