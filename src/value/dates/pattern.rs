use super::DateStyle;
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Dates {
    Single,
    Range,
}
pub fn dates_pattern(_style: &DateStyle, _what: Dates) -> String {
    String::new()
}
