//! The objects of PDF, as far as cross-references and page trees are made of them (ISO 32000-1, 7.2 and 7.3).

/// Objects within objects beyond this are not entered.
const DEEPEST: usize = 32;

#[derive(Debug, Clone, PartialEq)]
pub enum Value {
    Number(u64),
    Name(String),
    Reference(u64),
    Array(Vec<Value>),
    Dictionary(Vec<(String, Value)>),
    /// A string, a fraction, a negative number, a word.
    Other,
}

impl Value {
    pub fn number(&self) -> Option<u64> {
        match self {
            Self::Number(number) => Some(*number),
            _ => None,
        }
    }

    pub fn numbers(&self) -> Option<Vec<u64>> {
        match self {
            Self::Array(values) => values.iter().map(Self::number).collect(),
            _ => None,
        }
    }

    /// A dictionary's value.
    pub fn get(&self, key: &str) -> Option<&Value> {
        match self {
            Self::Dictionary(entries) => {
                let found = entries.iter().find(|(name, _)| name == key);
                found.map(|(_, value)| value)
            }
            _ => None,
        }
    }
}

/// Goes through bytes of a file; gives nothing where they end too early or are no objects.
pub struct Parser<'a> {
    bytes: &'a [u8],
    at: usize,
}

impl<'a> Parser<'a> {
    pub fn new(bytes: &'a [u8]) -> Self {
        Self { bytes, at: 0 }
    }

    /// Passes a word; stays where there is another.
    pub fn word(&mut self, word: &[u8]) -> Option<()> {
        self.blank();
        let before = self.at;
        match self.regular() == word {
            true => Some(()),
            false => {
                self.at = before;
                None
            }
        }
    }

    /// The place behind the line's end, where a stream begins.
    pub fn behind_line(&self) -> usize {
        match self.bytes.get(self.at..) {
            Some([b'\r', b'\n', ..]) => self.at + 2,
            Some([b'\n' | b'\r', ..]) => self.at + 1,
            _ => self.at,
        }
    }

    pub fn value(&mut self) -> Option<Value> {
        self.within(0)
    }

    fn within(&mut self, depth: usize) -> Option<Value> {
        if depth > DEEPEST {
            return None;
        }
        self.blank();
        match *self.bytes.get(self.at)? {
            b'/' => {
                self.at += 1;
                let name = self.regular();
                Some(Value::Name(String::from_utf8_lossy(name).into_owned()))
            }
            b'[' => {
                self.at += 1;
                let mut values = Vec::new();
                while !self.passes(b"]")? {
                    values.push(self.within(depth + 1)?);
                }
                Some(Value::Array(values))
            }
            b'<' if self.bytes.get(self.at + 1) == Some(&b'<') => {
                self.at += 2;
                let mut entries = Vec::new();
                while !self.passes(b">>")? {
                    let Value::Name(key) = self.within(depth + 1)? else {
                        return None;
                    };
                    entries.push((key, self.within(depth + 1)?));
                }
                Some(Value::Dictionary(entries))
            }
            b'<' => {
                let length = self.bytes[self.at..].iter().position(|&byte| byte == b'>');
                self.at += length? + 1;
                Some(Value::Other)
            }
            b'(' => self.string(),
            _ => self.number_or_word(),
        }
    }

    /// Whether these bytes come next; they are passed then. Nothing at the end.
    fn passes(&mut self, bytes: &[u8]) -> Option<bool> {
        self.blank();
        let rest = self.bytes.get(self.at..).filter(|rest| !rest.is_empty())?;
        let passes = rest.starts_with(bytes);
        self.at += if passes { bytes.len() } else { 0 };
        Some(passes)
    }

    fn string(&mut self) -> Option<Value> {
        let mut depth = 0_usize;
        loop {
            match *self.bytes.get(self.at)? {
                b'\\' => self.at += 1,
                b'(' => depth += 1,
                b')' => depth -= 1,
                _ => {}
            }
            self.at += 1;
            if depth == 0 {
                return Some(Value::Other);
            }
        }
    }

    fn number_or_word(&mut self) -> Option<Value> {
        let text = self.regular();
        if text.is_empty() {
            return None;
        }
        let Some(number) = whole(text) else {
            return Some(Value::Other);
        };
        let behind = self.at;
        self.blank();
        if whole(self.regular()).is_some() && self.word(b"R").is_some() {
            return Some(Value::Reference(number));
        }
        self.at = behind;
        Some(Value::Number(number))
    }

    /// Characters up to the next blank or delimiter.
    fn regular(&mut self) -> &'a [u8] {
        let rest = self.bytes.get(self.at..).unwrap_or_default();
        let is_end = |byte: &u8| is_blank(*byte) || b"()<>[]{}/%".contains(byte);
        let length = rest.iter().position(is_end).unwrap_or(rest.len());
        self.at += length;
        &rest[..length]
    }

    /// Passes blanks and comments.
    fn blank(&mut self) {
        while let Some(&byte) = self.bytes.get(self.at) {
            match byte {
                b'%' => {
                    let rest = &self.bytes[self.at..];
                    let line = rest.iter().position(|byte| matches!(byte, b'\r' | b'\n'));
                    self.at += line.unwrap_or(rest.len());
                }
                byte if is_blank(byte) => self.at += 1,
                _ => return,
            }
        }
    }
}

fn is_blank(byte: u8) -> bool {
    matches!(byte, 0 | b'\t' | b'\n' | 12 | b'\r' | b' ')
}

fn whole(text: &[u8]) -> Option<u64> {
    let text = std::str::from_utf8(text).ok()?;
    text.trim_start_matches('+').parse().ok()
}
