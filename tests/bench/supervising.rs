//! From a keystroke at the supervisor's desk to the first figures that show its effect, and to those of all sheets: the real
//! program in a pseudo-terminal, single edits at rest.
//!
//! `cargo bench --profile dev --no-default-features --bench supervising -- JOB...`, each JOB a folder of `headword demo JOB
//! --keep readings --sheets N`. Wall time, the screen looked at every 2 ms, so run it on a quiet machine; no two edits are
//! the same, since what was worked out once is remembered.

#[path = "../pseudo_terminal.rs"]
#[allow(dead_code)]
mod pseudo_terminal;

use pseudo_terminal::Terminal;
use std::path::Path;
use std::thread;
use std::time::{Duration, Instant};

/// Edits of each sort.
const EDITS: u8 = 5;
const LOOK: Duration = Duration::from_millis(2);
const PATIENCE: Duration = Duration::from_secs(300);

fn main() {
    let jobs: Vec<String> = std::env::args()
        .skip(1)
        .filter(|argument| !argument.starts_with("--"))
        .collect();
    if jobs.is_empty() {
        println!("nothing measured: name jobs made by `headword demo JOB --keep readings`");
    }
    for job in jobs {
        measure(&job);
    }
}

/// Waits until the screen is as wanted; from the start given to that moment.
fn wait(desk: &Terminal, start: Instant, wanted: impl Fn(&str) -> bool) -> Duration {
    loop {
        let text = desk.text();
        if wanted(&text) {
            return start.elapsed();
        }
        assert!(start.elapsed() < PATIENCE, "still on\n{text}");
        thread::sleep(LOOK);
    }
}

/// All sheets are worked out: the figures tell how long it took, not how far it is.
fn is_done(text: &str) -> bool {
    text.lines().any(|line| line.trim_end().ends_with(" ms"))
}

fn measure(job: &str) {
    let rules =
        std::fs::read_to_string(Path::new(job).join("rules/personnel.toml")).expect("rules");
    let start = Instant::now();
    let desk = Terminal::start(
        &["rules", job, "--as", "sue", "--picture", "off"],
        (140, 45),
    );
    let opened = wait(&desk, start, |text| text.contains("all sheets seen"));
    let sheets = desk.text();
    let sheets = sheets.lines().find_map(|line| line.split("7 all: ").nth(1));
    println!(
        "{} sheets, desk open with figures after {:.2} s",
        sheets.unwrap_or("?").trim(),
        opened.as_secs_f64()
    );
    let line_of = |wanted: &dyn Fn(&str) -> bool| {
        rules
            .lines()
            .position(wanted)
            .expect("there is such a line")
    };
    let template = line_of(&|line| line.starts_with("line = "));
    let pattern = line_of(&|line| line.starts_with("pattern = "));
    let unchanged = |text: &str| text.contains("the draft changes no sheet") && is_done(text);

    // A letter at the template's end, and one at the pattern's start.
    for (what, line, column) in [
        ("template changed", template, None),
        ("pattern changed", pattern, Some(11)),
    ] {
        let (mut first, mut times) = (Vec::new(), Vec::new());
        for edit in 0..EDITS {
            go_to(&desk, line, column);
            let letter = (b'A' + edit) as char;
            let start = Instant::now();
            desk.send(&letter.to_string());
            first.push(wait(&desk, start, has_changed));
            times.push(wait(&desk, start, |text| {
                has_changed(text) && is_done(text)
            }));
            desk.send("\x1bu");
            wait(&desk, Instant::now(), unchanged);
        }
        print(what, first, times);
    }
    // A rule that another one is like, so that several fit.
    let like = rules.lines().nth(template).expect("the template");
    let (mut first, mut times) = (Vec::new(), Vec::new());
    for edit in 0..EDITS {
        go_to(&desk, rules.lines().count(), None);
        let letter = (b'A' + edit) as char;
        let rule = format!(
            "\n[[rule]]\nname = \"added {letter}\"\n{}\n",
            like.replace(", ", " ")
        );
        let rule = rule.replace("   {number}", &format!("  [{letter}] {{number}}"));
        let start = Instant::now();
        desk.send(&format!("\x1b[200~{rule}\x1b[201~"));
        first.push(wait(&desk, start, |text| !text.contains("2 several: 0")));
        times.push(wait(&desk, start, |text| {
            !text.contains("2 several: 0") && is_done(text)
        }));
        desk.send("\x1bu");
        wait(&desk, Instant::now(), unchanged);
    }
    print("rule added", first, times);
    desk.send("\x1bq");
}

/// The line that tells how many sheets changed.
fn has_changed(text: &str) -> bool {
    text.lines()
        .any(|line| line.contains(" worse") && line.contains("changed "))
}

/// The cursor to a line and a column, or before the line's last character.
fn go_to(desk: &Terminal, line: usize, column: Option<usize>) {
    let mut keys = "\x1b[5~".repeat(40) + "\x1b[H" + &"\x1b[B".repeat(line);
    match column {
        Some(column) => keys += &"\x1b[C".repeat(column),
        None => keys += "\x1b[F\x1b[D",
    }
    desk.send(&keys);
    // Moving draws, and the next key is to find the desk at rest.
    thread::sleep(Duration::from_secs(1));
}

fn print(what: &str, first: Vec<Duration>, done: Vec<Duration>) {
    let told = |mut times: Vec<Duration>| {
        times.sort();
        let milliseconds = |time: Duration| time.as_secs_f64() * 1e3;
        let median = milliseconds(times[times.len() / 2]);
        let slowest = milliseconds(times[times.len() - 1]);
        format!("p50 {median:.0} ms, slowest {slowest:.0} ms")
    };
    println!(
        "  {what}, {EDITS} edits: first figures {}; all sheets {}",
        told(first),
        told(done)
    );
}
