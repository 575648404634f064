//! The texts of a slot while they grow, character by character.

/// All the texts in the making, as a tree that shares beginnings; equal texts have one number.
pub(super) struct Texts(Vec<Letter>);

/// A text's last character, the text before it, and where in the tree to go on.
struct Letter {
    c: char,
    before: u32,
    first_longer: u32,
    next_beside: u32,
}

/// The empty text.
pub(super) const NO_TEXT: u32 = 0;

impl Texts {
    pub fn new() -> Self {
        Self(vec![Letter {
            c: '\0',
            before: NO_TEXT,
            first_longer: NO_TEXT,
            next_beside: NO_TEXT,
        }])
    }

    /// A text with one more character.
    #[inline]
    pub fn with(&mut self, before: u32, c: char) -> u32 {
        let mut text = self.0[before as usize].first_longer;
        while text != NO_TEXT {
            let letter = &self.0[text as usize];
            if letter.c == c {
                return text;
            }
            text = letter.next_beside;
        }
        let new = self.0.len() as u32;
        let next_beside = std::mem::replace(&mut self.0[before as usize].first_longer, new);
        self.0.push(Letter {
            c,
            before,
            first_longer: NO_TEXT,
            next_beside,
        });
        new
    }

    pub fn get(&self, mut text: u32) -> String {
        let mut chars = Vec::new();
        while text != NO_TEXT {
            chars.push(self.0[text as usize].c);
            text = self.0[text as usize].before;
        }
        chars.iter().rev().collect()
    }
}
