//! Sound rule and job files made unsound: bytes, lines, keys, tokens, repetitions.

use rand::RngExt;
use rand::seq::IndexedRandom;
use rand_chacha::ChaCha8Rng;
use std::fs;
use std::path::Path;

/// Largest file made, in bytes.
const LARGEST: usize = 400_000;

/// A job file with every key.
const JOB: &str = r#"title = "Harbour board"
collection = "personnel"
[sheets]
folder = "sheets"
[styles]
dates = { order = "month-day", window = 1880, languages = ["english", "german"], fiscal-year-begins = 7 }
decimal = "comma"
filing = "lc-1980"
[rules]
files = ["rules/personnel.toml", "rules/more.toml"]
[roster]
file = "roster.csv"
key = "number"
expected_share = 0.9
[roster.columns]
surname = "surname"
number = "number"
[naming]
pattern = "{number}_{surname:upper}"
[parts]
of = ["number"]
part = "part"
parts = "parts"
[index]
columns = ["number", "surname"]
as_typed = ["surname"]
as_roster = ["number"]
both = ["surname"]
"#;

/// Pieces that break parsers, or make them work.
const PIECES: [&str; 34] = [
    "((a{30}){30}){30}",
    "(((\\pL{9}){9}){9}|\\d+)",
    "(?:){99999}",
    "[^\\x00-\\x{10FFFF}]",
    "(a|b|c|d|e|f)+",
    "(?i-u)\\xff",
    "{surname}{surname}",
    "[[[[[[[[",
    "{{{{{{",
    "<{a}|{a}|{a}>",
    "{name, ...}",
    "{name#4}",
    "\0",
    "\u{feff}",
    "\u{202e}",
    "\u{10ffff}",
    "\r",
    "\\u0000",
    "\\UFFFFFFFF",
    "\"\"\"",
    "'''",
    "[[field]]",
    "[[rule]]",
    "[[table]]",
    "[field.name]",
    "a.b.c.d.e.f",
    "= {}",
    "= []",
    "99999999999999999999",
    "-1",
    "1e400",
    "nan",
    "1979-05-27T07:32:00Z",
    "'''\n\n",
];

/// Keys and words of both kinds of file.
const WORDS: [&str; 40] = [
    "name",
    "kind",
    "pattern",
    "check",
    "required",
    "min",
    "max",
    "words",
    "write",
    "default",
    "ditto",
    "carry",
    "look_up",
    "by",
    "deliver",
    "dates",
    "decimal",
    "filing",
    "line",
    "lines",
    "sheet",
    "when",
    "on",
    "set",
    "field",
    "that",
    "rows",
    "band",
    "collection",
    "surname",
    "number",
    "date-range",
    "choice",
    "text",
    "part",
    "amount",
    "range",
    "luhn",
    "folder",
    "files",
];

/// Numbers at which sizes break.
const EDGES: [&str; 10] = [
    "0",
    "1",
    "9",
    "30",
    "255",
    "9999",
    "99999999",
    "4294967295",
    "9223372036854775807",
    "-9223372036854775808",
];

/// A sound file.
pub struct Sound {
    pub name: String,
    pub text: String,
    pub is_job: bool,
}

/// All sound files.
pub struct Corpus {
    pub files: Vec<Sound>,
}

impl Corpus {
    /// The starter rule files, the examples of the reference, and a job file.
    pub fn new(repository: &Path) -> Self {
        let mut files: Vec<Sound> = fs::read_dir(repository.join("rules"))
            .expect("the repository has rules")
            .map(|entry| entry.expect("an entry").path())
            .filter(|path| path.extension().is_some_and(|e| e == "toml"))
            .map(|path| Sound {
                name: path
                    .file_name()
                    .expect("a name")
                    .to_string_lossy()
                    .into_owned(),
                text: fs::read_to_string(&path).expect("a rule file"),
                is_job: false,
            })
            .collect();
        files.sort_by(|a, b| a.name.cmp(&b.name));
        let page = fs::read_to_string(repository.join("rules/README.md")).expect("the reference");
        for (block, at) in page.split("\n```").skip(1).step_by(2).zip(1..) {
            if let Some((_, text)) = block
                .split_once('\n')
                .filter(|(info, _)| info.starts_with("toml"))
            {
                files.push(Sound {
                    name: format!("example-{at}.toml"),
                    text: text.to_owned(),
                    is_job: false,
                });
            }
        }
        files.push(Sound {
            name: "job.toml".to_owned(),
            text: JOB.to_owned(),
            is_job: true,
        });
        Self { files }
    }
}

/// A change or two or three to a sound file, drawn by `random`.
pub fn mutated(sound: &str, corpus: &Corpus, random: &mut ChaCha8Rng) -> Vec<u8> {
    let mut bytes = sound.as_bytes().to_vec();
    for _ in 0..*[1, 1, 1, 1, 2, 4]
        .choose(random)
        .expect("there are numbers")
    {
        if bytes.is_empty() || bytes.len() > LARGEST {
            break;
        }
        match random.random_range(0..12) {
            0 => {
                let at = random.random_range(0..bytes.len());
                bytes[at] ^= 1 << random.random_range(0..8);
            }
            1 => bytes.truncate(random.random_range(0..bytes.len())),
            2 | 3 => lines(&mut bytes, random),
            4 | 5 => tokens(&mut bytes, corpus, random),
            6 => repeat(&mut bytes, random),
            7 => {
                let piece = *PIECES.choose(random).expect("there are pieces");
                let at = random.random_range(0..=bytes.len());
                bytes.splice(at..at, piece.bytes());
            }
            8 => inside_quotes(&mut bytes, random),
            9 => {
                let other = corpus.files.choose(random).expect("there are files");
                bytes.extend(b"\n");
                bytes.extend(other.text.bytes());
            }
            10 => numbers(&mut bytes, random),
            _ => nest(&mut bytes, random),
        }
    }
    bytes
}

/// A line swapped with another, left out, or doubled.
fn lines(bytes: &mut Vec<u8>, random: &mut ChaCha8Rng) {
    let mut lines: Vec<Vec<u8>> = bytes.split(|&b| b == b'\n').map(<[u8]>::to_vec).collect();
    let (a, b) = (
        random.random_range(0..lines.len()),
        random.random_range(0..lines.len()),
    );
    match random.random_range(0..3) {
        0 => lines.swap(a, b),
        1 => {
            lines.remove(a);
        }
        _ => {
            let copy = lines[a].clone();
            lines.insert(b, copy);
        }
    }
    *bytes = lines.join(&b'\n');
}

/// Where words of letters, digits and signs within them stand.
fn words(bytes: &[u8]) -> Vec<std::ops::Range<usize>> {
    let is_word = |b: u8| b.is_ascii_alphanumeric() || b == b'_' || b == b'-';
    let mut found = Vec::new();
    let mut start = 0;
    for at in 0..=bytes.len() {
        if at == bytes.len() || !is_word(bytes[at]) {
            if at > start {
                found.push(start..at);
            }
            start = at + 1;
        }
    }
    found
}

/// A word replaced by a key, a hostile piece, or a word of another file.
fn tokens(bytes: &mut Vec<u8>, corpus: &Corpus, random: &mut ChaCha8Rng) {
    let Some(range) = words(bytes).choose(random).cloned() else {
        return;
    };
    let other = corpus.files.choose(random).expect("there are files");
    let with: Vec<u8> = match random.random_range(0..4) {
        0 => PIECES
            .choose(random)
            .expect("there are pieces")
            .bytes()
            .collect(),
        1 => {
            let text = other.text.as_bytes();
            let word = words(text).choose(random).cloned().unwrap_or(0..0);
            text[word].to_vec()
        }
        _ => WORDS
            .choose(random)
            .expect("there are words")
            .bytes()
            .collect(),
    };
    bytes.splice(range, with);
}

/// A piece of the file many times over.
fn repeat(bytes: &mut Vec<u8>, random: &mut ChaCha8Rng) {
    let longest = *[1, 8, 60, 400].choose(random).expect("there are lengths");
    let length = random.random_range(1..=longest.min(bytes.len()));
    let start = random.random_range(0..=bytes.len() - length);
    let most = LARGEST / length;
    let times = *[2, 3, 10, 100, 1_000, 20_000]
        .choose(random)
        .expect("there are numbers");
    let copies = bytes[start..start + length].repeat(times.min(most));
    bytes.splice(start..start, copies);
}

/// What stands in quotes grouped and repeated, doubled, or emptied: patterns, lines, checks.
fn inside_quotes(bytes: &mut Vec<u8>, random: &mut ChaCha8Rng) {
    let quote = *b"'\"".choose(random).expect("there are quotes");
    let quotes: Vec<usize> = (0..bytes.len()).filter(|&at| bytes[at] == quote).collect();
    let Some(pair) = quotes
        .chunks_exact(2)
        .collect::<Vec<_>>()
        .choose(random)
        .copied()
    else {
        return;
    };
    let range = pair[0] + 1..pair[1];
    let text = bytes[range.clone()].to_vec();
    let count = *[b"{0}" as &[u8], b"{2}", b"{30}", b"{1,1000}", b"+", b"*"]
        .choose(random)
        .expect("there are counts");
    let new = match random.random_range(0..5) {
        0 => Vec::new(),
        1 => [b"[", text.as_slice(), b"]"].concat(),
        2 => [text.as_slice(), b" | ", text.as_slice()].concat(),
        3 => [b"<", text.as_slice(), b" | ", text.as_slice(), b">"].concat(),
        _ => [b"(", text.as_slice(), b")", count].concat(),
    };
    bytes.splice(range, new);
}

fn numbers(bytes: &mut Vec<u8>, random: &mut ChaCha8Rng) {
    let numbers: Vec<_> = words(bytes)
        .into_iter()
        .filter(|range| bytes[range.clone()].iter().all(u8::is_ascii_digit))
        .collect();
    if let Some(range) = numbers.choose(random) {
        let edge = *EDGES.choose(random).expect("there are edges");
        bytes.splice(range.clone(), edge.bytes());
    }
}

/// Brackets opened, and perhaps closed, many times at one place.
fn nest(bytes: &mut Vec<u8>, random: &mut ChaCha8Rng) {
    let (open, close) = *[
        ("[", "]"),
        ("{a=", "}"),
        ("(", ")"),
        ("<", ">"),
        ("a.", ""),
        ("[[", "]]"),
    ]
    .choose(random)
    .expect("there are brackets");
    let depth = *[1, 3, 20, 100, 5_000]
        .choose(random)
        .expect("there are depths");
    let at = random.random_range(0..=bytes.len());
    let closed = if random.random_bool(0.7) { depth } else { 0 };
    let text = open.repeat(depth) + &close.repeat(closed);
    bytes.splice(at..at, text.into_bytes());
}
