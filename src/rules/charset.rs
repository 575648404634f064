//! Sets of characters, quick to ask for ASCII.

/// A set of characters.
#[derive(Debug, Clone, PartialEq, Default, Hash)]
pub(super) struct CharSet {
    /// One bit for each ASCII character.
    ascii: u128,
    /// Inclusive ranges beyond ASCII, ascending.
    beyond: Vec<(char, char)>,
}

impl CharSet {
    pub fn from_ranges(ranges: impl IntoIterator<Item = (char, char)>) -> Self {
        let mut set = Self::default();
        for (first, last) in ranges {
            for code in first as u32..=(last as u32).min(127) {
                set.ascii |= 1 << code;
            }
            if last as u32 > 127 {
                set.beyond.push((first.max('\u{80}'), last));
            }
        }
        set.beyond.sort_unstable();
        set
    }

    /// One character in any case.
    pub fn any_case(c: char) -> Self {
        let cases = c.to_lowercase().chain(c.to_uppercase()).chain([c]);
        Self::from_ranges(cases.map(|c| (c, c)))
    }

    /// Ranges beyond ASCII; sets of every script have hundreds.
    pub fn ranges(&self) -> usize {
        self.beyond.len()
    }

    #[inline]
    pub fn contains(&self, c: char) -> bool {
        match c as u32 {
            code @ 0..128 => self.ascii >> code & 1 == 1,
            _ => {
                let after = self.beyond.partition_point(|&(first, _)| first <= c);
                after > 0 && c <= self.beyond[after - 1].1
            }
        }
    }

    /// How many characters a typewriter has for this set: letters without regard to case, what is beyond ASCII left
    /// out; at least 1.
    pub fn typed_size(&self) -> usize {
        let small = (b'a'..=b'z').fold(0u128, |mask, c| mask | 1 << c);
        let folded = (self.ascii & !small) | ((self.ascii & small) >> 32);
        let printable = u128::MAX << 32;
        ((folded & printable).count_ones() as usize).max(1)
    }

    /// The ASCII characters, where they are at most `most`; `\d` means digits of every script, and a typewriter has one.
    pub fn few(&self, most: usize) -> Option<Vec<char>> {
        let few = self.ascii.count_ones() as usize <= most;
        few.then(|| {
            (0..128u8)
                .filter(|&code| self.ascii >> code & 1 == 1)
                .map(char::from)
                .collect()
        })
    }

    /// The one character of the set, where it is one or one in both cases; the capital then.
    pub fn single(&self) -> Option<char> {
        match self.few(2)?[..] {
            _ if !self.beyond.is_empty() => None,
            [c] => Some(c),
            [capital, small] if capital.to_ascii_lowercase() == small => Some(capital),
            _ => None,
        }
    }
}
