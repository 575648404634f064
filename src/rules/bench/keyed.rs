//! What was keyed, ready to be compared with what rules take.

/// Columns that are compared at most: a bit each.
pub(super) const MOST_COLUMNS: usize = 128;

/// A field of a record, as keyed values are named: `surname`, and `surname#2` in the second record.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Column {
    pub field: String,
    /// From 0.
    pub record: usize,
}

impl Column {
    pub fn parse(name: &str) -> Self {
        let second = name.rsplit_once('#');
        let numbered = second.and_then(|(field, number)| {
            let number = number.parse::<usize>().ok()?;
            Some((field, number.checked_sub(1)?))
        });
        let (field, record) = numbered.unwrap_or((name, 0));
        Self {
            field: field.to_owned(),
            record,
        }
    }
}

/// A set of columns.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub(super) struct Mask(u128);

impl Mask {
    pub fn set(&mut self, column: usize) {
        self.0 |= 1 << column;
    }

    pub fn and(self, other: Self) -> Self {
        Self(self.0 & other.0)
    }

    pub fn without(self, other: Self) -> Self {
        Self(self.0 & !other.0)
    }

    pub fn count(self) -> usize {
        self.0.count_ones() as usize
    }

    /// The columns, ascending.
    pub fn columns(self) -> impl Iterator<Item = usize> {
        (0..MOST_COLUMNS).filter(move |&column| self.0 >> column & 1 == 1)
    }
}

/// What was keyed on a sheet: a value for each column, in capitals and with single blanks; none where nothing is known.
#[derive(Debug, Clone, Default)]
pub(super) struct Keyed {
    values: Vec<Option<Box<str>>>,
    /// The columns of which something is known, and those of them that are empty.
    pub known: Mask,
    pub empty: Mask,
}

impl Keyed {
    /// `values`: index of a column, what was keyed there.
    pub fn new<'a>(values: impl IntoIterator<Item = (usize, &'a str)>) -> Self {
        let mut keyed = Self::default();
        for (column, value) in values {
            if keyed.values.len() <= column {
                keyed.values.resize(column + 1, None);
            }
            keyed.known.set(column);
            let value = plain(value);
            if value.is_empty() {
                keyed.empty.set(column);
            }
            keyed.values[column] = Some(value.into());
        }
        keyed
    }

    pub fn value(&self, column: usize) -> Option<&str> {
        self.values.get(column)?.as_deref()
    }

    /// Whether a text is what was keyed, but for case and the width of gaps.
    pub fn is(&self, column: usize, text: &str) -> bool {
        self.value(column) == Some(plain(text).as_str())
    }
}

/// In capitals, with single blanks.
fn plain(text: &str) -> String {
    let mut plain = String::with_capacity(text.len());
    for word in text.split_whitespace() {
        if !plain.is_empty() {
            plain.push(' ');
        }
        plain.extend(word.chars().flat_map(char::to_uppercase));
    }
    plain
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn columns_name_fields_of_records() {
        for (name, field, record) in [
            ("surname", "surname", 0),
            ("surname#2", "surname", 1),
            ("surname#0", "surname#0", 0),
            ("no#x", "no#x", 0),
        ] {
            let column = Column::parse(name);
            assert_eq!((column.field.as_str(), column.record), (field, record));
        }
    }

    #[test]
    fn case_and_gaps_do_not_count() {
        let keyed = Keyed::new([(0, "Mary  Ann "), (2, "")]);
        assert!(keyed.is(0, "MARY ANN") && !keyed.is(0, "MARY"));
        assert!(keyed.is(2, " ") && !keyed.is(1, ""));
        assert_eq!((keyed.known.count(), keyed.empty.count()), (2, 1));
    }
}
