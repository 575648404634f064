//! The house keeps its order: rooms use only rooms above them, decisions stay pure, foreign code stays in its file.

use regex::Regex;
use std::fs;
use std::path::{Path, PathBuf};

/// The rooms of `src`, top to bottom: the stations that a sheet passes.
const ROOMS: [&str; 13] = [
    "value", "figures", "strip", "reading", "rules", "roster", "proposal", "journal", "job",
    "review", "delivery", "desk", "command",
];

/// Rooms whose decisions may not look at a clock, a terminal or a database.
const PURE: [&str; 7] = [
    "value", "figures", "rules", "roster", "proposal", "review", "delivery",
];

/// Crates of foreign code, and the one file or folder of `src` that may call each.
const FOREIGN: [(&str, &str); 4] = [
    ("rten", "reading/net/model.rs"),
    ("rusqlite", "journal/sqlite/"),
    ("rust_xlsxwriter", "delivery/xlsx.rs"),
    ("tesseract_rs", "reading/tesseract.rs"),
];

/// Lines beyond which a file is no longer one thing.
const LONGEST_FILE: usize = 500;

struct Source {
    /// Below `src`, with `/`.
    path: String,
    text: String,
}

impl Source {
    fn room(&self) -> &str {
        self.path.split('/').next().unwrap_or_default()
    }

    /// Without the tests at its end or in a file of their own, which may use what they like.
    fn code(&self) -> &str {
        let is_test =
            |part: &str| part == "tests" || part == "story.rs" || part.ends_with("tests.rs");
        if self.path.split('/').any(is_test) {
            return "";
        }
        self.text.split("#[cfg(test)]").next().unwrap_or_default()
    }
}

fn sources() -> Vec<Source> {
    fn walk(folder: &Path, found: &mut Vec<PathBuf>) {
        for entry in fs::read_dir(folder).unwrap().map(Result::unwrap) {
            match entry.file_type().unwrap().is_dir() {
                true => walk(&entry.path(), found),
                false => found.push(entry.path()),
            }
        }
    }
    let src = Path::new(env!("CARGO_MANIFEST_DIR")).join("src");
    let mut paths = Vec::new();
    walk(&src, &mut paths);
    paths
        .into_iter()
        .filter(|path| path.extension().is_some_and(|extension| extension == "rs"))
        .map(|path| Source {
            text: fs::read_to_string(&path).unwrap(),
            path: path
                .strip_prefix(&src)
                .unwrap()
                .to_str()
                .unwrap()
                .replace('\\', "/"),
        })
        .collect()
}

fn assert_none(what: &str, offenders: Vec<String>) {
    assert!(
        offenders.is_empty(),
        "{what}:\n  {}",
        offenders.join("\n  ")
    );
}

#[test]
fn a_room_uses_only_rooms_above_it() {
    let place = |room: &str| ROOMS.iter().position(|known| *known == room);
    let using = Regex::new(r"crate::(?:\{\s*)?([a-z_]+)").unwrap();
    let mut offenders = Vec::new();
    for source in sources().iter().filter(|source| source.path.contains('/')) {
        let Some(own) = place(source.room()) else {
            offenders.push(format!("{} is in no known room", source.path));
            continue;
        };
        for used in using.captures_iter(source.code()) {
            if place(&used[1]).is_some_and(|other| other > own) {
                offenders.push(format!(
                    "{} uses {}, a room below it",
                    source.path, &used[1]
                ));
            }
        }
    }
    assert_none("rooms used from above", offenders);
}

#[test]
fn grouped_imports_name_one_room_a_line() {
    let grouped = Regex::new(r"use crate::\{").unwrap();
    let offenders = sources()
        .iter()
        .filter(|source| grouped.is_match(&source.text))
        .map(|source| format!("{}: write one `use crate::room::...` a room", source.path))
        .collect();
    assert_none("imports that the layering check cannot follow", offenders);
}

#[test]
fn decisions_see_no_clock_terminal_or_database() {
    let impure = Regex::new(
        r"SystemTime|Instant::now|Zoned::now|Timestamp::now|rusqlite|crossterm|ratatui|indicatif|e?print(ln)?!|stdin\(\)|stdout\(\)",
    )
    .unwrap();
    let offenders = sources()
        .iter()
        .filter(|source| PURE.contains(&source.room()))
        .flat_map(|source| {
            impure
                .find_iter(source.code())
                .map(|found| format!("{}: {}", source.path, found.as_str()))
        })
        .collect();
    assert_none("effects in rooms that decide", offenders);
}

#[test]
fn foreign_code_stays_in_the_file_named_after_it() {
    let offenders = FOREIGN
        .iter()
        .flat_map(|(name, home)| {
            sources()
                .into_iter()
                .filter(move |source| {
                    !source.path.starts_with(home) && source.code().contains(&format!("{name}::"))
                })
                .map(move |source| format!("{} calls {name}; only {home} may", source.path))
        })
        .collect();
    assert_none("foreign code away from home", offenders);
}

#[test]
fn files_stay_one_thing() {
    let offenders = sources()
        .iter()
        .map(|source| (source, source.text.lines().count()))
        .filter(|(_, lines)| *lines > LONGEST_FILE)
        .map(|(source, lines)| format!("{}: {lines} lines", source.path))
        .collect();
    assert_none("files that want splitting", offenders);
}

#[test]
fn the_tour_names_every_room_in_order() {
    let tour = sources()
        .into_iter()
        .find(|source| source.path == "lib.rs")
        .unwrap();
    let named = Regex::new(r"//! - \[`([a-z]+)`\]").unwrap();
    let named: Vec<&str> = named
        .captures_iter(&tour.text)
        .map(|name| name.get(1).unwrap().as_str())
        .collect();
    let present: Vec<&str> = ROOMS
        .into_iter()
        .filter(|room| sources().iter().any(|source| source.room() == *room))
        .collect();
    assert_eq!(named, present);
}
