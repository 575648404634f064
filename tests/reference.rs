//! The reference of the rule language: every example in `rules/README.md` does what it says.

use crate::support::repository;
use headword::job::{JobSettings, Proposer, Seen};
use headword::proposal::{Before, Face, Proposal, ProposedField};
use headword::reading::{Line, Reading};
use headword::rules::{BAND_COLOURS, RuleBook, Styles, band_colour};
use headword::strip::Lay;
use headword::value::{Point, Quad, SheetId};
use std::path::Path;

/// How sure the reader of these strips claims to be.
const CERTAINTY: f64 = 0.97;

/// A block of the page: what is written behind its fence, its first line in the page, its text.
struct Block<'a> {
    info: &'a str,
    line: usize,
    text: String,
}

fn blocks(page: &str) -> Vec<Block<'_>> {
    let mut blocks: Vec<Block> = Vec::new();
    let mut inside = false;
    for (line, at) in page.lines().zip(1..) {
        match line.strip_prefix("```") {
            Some(info) if !inside => {
                inside = true;
                blocks.push(Block {
                    info,
                    line: at + 1,
                    text: String::new(),
                });
            }
            Some(_) => inside = false,
            None if inside => {
                let text = &mut blocks.last_mut().unwrap().text;
                text.push_str(line);
                text.push('\n');
            }
            None => {}
        }
    }
    blocks
}

#[test]
fn every_example_does_what_it_says() {
    let page = std::fs::read_to_string(repository("rules/README.md")).unwrap();
    let blocks = blocks(&page);
    let mut strips = 0;
    let mut rules = None;
    for block in &blocks {
        match block.info {
            "toml" => rules = Some(block),
            "strip" => strips += run(rules.expect("rules before strips"), block),
            "toml wrong" => rules = Some(block),
            "faults" => faults(rules.expect("a file before its faults"), block),
            other => panic!("line {}: a block of {other:?}", block.line),
        }
    }
    assert!(strips >= 20, "{strips} strips");
}

/// Runs the strips of a block, each after those before it; returns how many there are.
fn run(rules: &Block, block: &Block) -> usize {
    let book = RuleBook::parse("rules.toml", &rules.text)
        .unwrap_or_else(|faults| panic!("line {}: {faults}", rules.line));
    let job = "title = \"Reference\"\nsheets = { folder = \"s\" }\nrules = { files = [] }\n\
               naming = { pattern = \"{x}\" }\n";
    let settings = JobSettings::parse(Path::new("."), job).unwrap();
    let (proposer, _) = Proposer::new(&settings, book).unwrap();
    let mut before = Before::default();
    let strips: Vec<&str> = block.text.split("\n\n").collect();
    for (at, strip) in strips.iter().enumerate() {
        let mut lines = Vec::new();
        let mut lay = None;
        for line in strip.lines().filter(|line| !line.starts_with("=>")) {
            if let Some(band) = line.strip_prefix("(band ") {
                lay = Some(lay_with(colour(band.trim_end_matches(')')), 1.0));
            } else if let Some(width) = line.strip_prefix("(width ") {
                lay = Some(lay_with(None, width.trim_end_matches(')').parse().unwrap()));
            } else {
                lines.push(Line::certain(line, CERTAINTY));
            }
        }
        let reading = Reading { lines };
        let seen = Seen {
            reading: &reading,
            findings: &[],
            lay: lay.as_ref(),
        };
        let extractions = proposer.extract(&seen);
        let proposal = proposer.propose(&seen, &extractions, &before);
        before.pass(&SheetId::new(format!("{at}.png")), &proposal);
        for expected in strip.lines().filter_map(|line| line.strip_prefix("=> ")) {
            let (what, value) = expected.split_once('=').expect("name = value");
            let found = found(proposer.rules(), &proposal, what.trim());
            assert_eq!(
                found,
                value.trim(),
                "{what}of {strip:?} (block at line {}): {proposal:#?}",
                block.line
            );
        }
    }
    strips.len()
}

/// What came out for a name: a field, a field of a later record, or `rule`, `kind`, `face` (the worst of all).
fn found(rules: &RuleBook, proposal: &Proposal, what: &str) -> String {
    let of = |fields: &[ProposedField], name: &str| {
        let field = fields.iter().find(|field| field.field == name);
        let field = field.unwrap_or_else(|| panic!("no field {name:?}"));
        rules.written(name, &field.as_typed)
    };
    match what {
        "rule" => proposal.rule.clone().unwrap_or_default(),
        "kind" => proposal.kind.to_string(),
        "face" => {
            let is_sure = proposal.fields.iter().all(|field| field.face == Face::Sure);
            if is_sure { "sure" } else { "look" }.to_owned()
        }
        _ => match what.split_once('#') {
            Some((name, record)) => {
                let record: usize = record.parse().unwrap();
                let more = proposal.more.get(record - 2);
                more.map_or(String::new(), |record| of(&record.fields, name))
            }
            None => of(&proposal.fields, what),
        },
    }
}

/// A colour that is called so.
fn colour(name: &str) -> Option<[u8; 3]> {
    assert!(BAND_COLOURS.contains(&name), "{name}");
    let colours = [[200, 40, 40], [60, 90, 190], [60, 150, 80]].map(Some);
    let found = colours
        .into_iter()
        .find(|&colour| band_colour(colour) == name);
    found.expect("a colour that the page uses")
}

fn lay_with(band: Option<[u8; 3]>, width: f64) -> Lay {
    let corner = |x, y| Point { x, y };
    Lay {
        corners: Quad([
            corner(0.0, 0.0),
            corner(width, 0.0),
            corner(width, 40.0),
            corner(0.0, 40.0),
        ]),
        turned: 0,
        mirrored: false,
        inverted: false,
        skew: 0.0,
        band,
        facing_margin: 9.0,
    }
}

/// A file's faults are those of the block, in its order, each told as far as the block tells it.
fn faults(rules: &Block, block: &Block) {
    let told = RuleBook::parse_all(&[("rules.toml", &rules.text)], &Styles::default());
    let told = told.unwrap_err().to_string();
    let (told, expected): (Vec<&str>, Vec<&str>) =
        (told.lines().collect(), block.text.lines().collect());
    assert_eq!(told.len(), expected.len(), "{told:#?}");
    for (told, expected) in told.iter().zip(expected) {
        assert!(
            told.starts_with(expected),
            "{told:?} does not begin with {expected:?}"
        );
    }
}
