//! Journeys at the clerk's desk: the real binary in a pseudo-terminal.

use crate::pseudo_terminal::{Manner, Terminal};
use crate::support::TestJob;
use headword::job::Job;
use headword::journal::{Act, Entry, KeyedValue, Keying, Store};
use rustix::process::{Pid, Signal, kill_process};
use std::thread::sleep;
use std::time::Duration;

/// An Enter before this time after a strip has come up is not meant for it; a little more than the desk asks for.
const SETTLING: Duration = Duration::from_millis(300);

/// Enters closer together are a key held down; a little more than the desk asks for.
const STRIKE: Duration = Duration::from_millis(150);

/// Keys as terminals send them.
const ENTER: &str = "\r";
const ESC: &str = "\x1b";
const DOWN: &str = "\x1b[B";
const DITTO: &str = "\x04";
const CLEAR: &str = "\x15";
const HOLD: &str = "\x0f";
const SET_ASIDE: &str = "\x18";
const KIND: &str = "\x0b";
const ROSTER: &str = "\x06";
const JUMP: &str = "\x07";
const UNDO: &str = "\x1bu";
const ANOTHER_RECORD: &str = "\x1bn";
const HELP: &str = "\x1bh";
const LEAVE: &str = "\x1bq";
const SUSPEND: &str = "\x1a";

/// A job of so many sheets, read and proposed.
fn job(sheets: usize) -> TestJob {
    let job = TestJob::of_sheets(sheets);
    let run = job.run("read", ["--workers", "2"]);
    assert!(matches!(run.code, Some(0 | 1)), "{run:#?}");
    job
}

/// What the journal holds, in order.
fn entries(job: &TestJob) -> Vec<Entry> {
    let job = Job::open(job.path()).expect("the job opens");
    job.store.entries(0, 1_000).expect("the journal is read")
}

/// The keyings of a sheet, by the end of its name.
fn keyings(entries: &[Entry], sheet: &str) -> Vec<Keying> {
    let of_sheet = entries
        .iter()
        .filter(|entry| entry.sheet.as_str().contains(sheet));
    of_sheet
        .filter_map(|entry| match &entry.act {
            Act::Keyed(keying) => Some(keying.clone()),
            _ => None,
        })
        .collect()
}

fn value<'a>(keying: &'a Keying, record: usize, field: &str) -> &'a KeyedValue {
    let fields = &keying.records[record].fields;
    let named = fields.iter().find(|keyed| keyed.field == field);
    &named.expect("every field of the rules is keyed").value
}

/// A clerk called Kim, or another.
struct Clerk(Terminal);

impl Clerk {
    fn at(job: &TestJob, manner: Manner) -> Self {
        Self::called("kim", job, manner)
    }

    fn called(name: &str, job: &TestJob, manner: Manner) -> Self {
        Self(Terminal::run(job.arguments("key", ["--as", name]), manner))
    }

    /// Waits for the sheet of this place with its strip, and until Enter is meant for it.
    #[track_caller]
    fn sees(&self, place: usize) {
        let place = format!(" {place} of ");
        self.0.wait_for(&place, |text| {
            let status = text.lines().next().unwrap_or_default();
            status.contains(&place) && !text.contains("is being made")
        });
        sleep(SETTLING);
    }

    /// Strikes a key and waits until something has come of it; where nothing does, for as long as that can take.
    fn strikes(&self, key: &str) {
        const MOST: u32 = 20;
        let before = self.0.picture();
        self.0.press(key);
        sleep(STRIKE);
        for _ in 0..MOST {
            if self.0.picture() != before {
                return;
            }
            sleep(STRIKE);
        }
    }

    /// Accepts field after field until only the sheet is left to accept; required fields that are empty are not there.
    #[track_caller]
    fn accepts_the_fields(&self) {
        const MOST: usize = 30;
        for _ in 0..MOST {
            if self.0.text().contains("Enter accepts the sheet") {
                return;
            }
            let is_empty = self.0.cursor_row().contains("_ empty");
            self.strikes(if is_empty { "\x1b0" } else { ENTER });
        }
        panic!("the fields have no end:\n{}", self.0.text());
    }

    /// Accepts the sheet of this place and waits for what comes after it.
    #[track_caller]
    fn accepts(&self, place: usize) {
        self.sees(place);
        self.accepts_the_fields();
        self.0.press(ENTER);
    }

    /// Leaves; the terminal is as it was.
    #[track_caller]
    fn leaves(mut self) -> String {
        self.0.press(LEAVE);
        let (code, text) = self.0.ends();
        assert_eq!(code, 0, "{text}");
        assert!(!self.0.is_taken());
        text
    }
}

#[test]
fn ten_sheets_are_keyed_and_a_later_sitting_goes_on() {
    let job = job(12);
    let clerk = Clerk::at(&job, Manner::default());
    for place in 1..=10 {
        clerk.accepts(place);
    }
    clerk.sees(11);
    let text = clerk.leaves();
    assert!(text.contains("10 sheets done"), "{text}");
    let first = entries(&job);
    assert_eq!(first.len(), 10);
    assert!(
        first
            .iter()
            .all(|entry| entry.by == "kim" && entry.pass == 1)
    );

    // Resumed where it stopped; and at the end there is nothing left.
    let clerk = Clerk::at(&job, Manner::default());
    clerk.accepts(11);
    clerk.accepts(12);
    let mut clerk = clerk;
    let (code, text) = clerk.0.ends();
    assert_eq!(code, 0, "{text}");
    let all = entries(&job);
    assert_eq!(all.len(), 12);
    assert_eq!(all[..10], first);
    let mut again = Clerk::at(&job, Manner::default());
    let (code, text) = again.0.ends();
    assert_eq!(code, 0, "{text}");
    assert!(text.contains("12 are keyed"), "{text}");
}

#[test]
fn values_are_corrected_picked_dittoed_and_taken_back() {
    let job = job(4);
    let clerk = Clerk::at(&job, Manner::default());
    // Corrected: what is typed stands in the journal.
    clerk.sees(1);
    clerk.accepts_the_fields();
    while !clerk.0.cursor_row().contains("surname") {
        clerk.strikes("\x1b[A");
    }
    clerk.strikes(CLEAR);
    clerk.strikes("HOLMQVIST");
    clerk.0.shows("HOLMQVIST");
    clerk.accepts_the_fields();
    clerk.0.press(ENTER);
    // The same as before.
    clerk.sees(2);
    while !clerk.0.cursor_row().contains("surname") {
        clerk.strikes(DOWN);
    }
    clerk.strikes(DITTO);
    clerk.0.shows("HOLMQVIST");
    clerk.accepts_the_fields();
    clerk.0.press(ENTER);
    clerk.sees(3);
    // Both taken back, the later one first, each as it was keyed.
    clerk.0.press(UNDO);
    clerk.sees(2);
    clerk.0.shows("HOLMQVIST");
    clerk.0.press(UNDO);
    clerk.sees(1);
    clerk.0.shows("HOLMQVIST");
    clerk.accepts(1);
    clerk.sees(2);
    // A row of the roster, looked for and picked.
    clerk.strikes(ROSTER);
    clerk.strikes(CLEAR);
    clerk.strikes("holm");
    clerk.strikes(ENTER);
    clerk.0.wait_for("link", |text| text.contains("Linked to"));
    clerk.accepts(2);
    clerk.sees(3);
    clerk.leaves();

    let all = entries(&job);
    let acts = |sheet: &str| {
        all.iter()
            .filter(|entry| entry.sheet.as_str().contains(sheet))
            .count()
    };
    assert_eq!((acts("00001"), acts("00002")), (3, 3));
    let first = keyings(&all, "00001");
    let keyed = KeyedValue::Text("HOLMQVIST".to_owned());
    assert_eq!(value(first.last().unwrap(), 0, "surname"), &keyed);
    let second = keyings(&all, "00002");
    assert_eq!(value(&second[0], 0, "surname"), &keyed);
    assert!(second[1].records[0].roster_key.is_some());
}

#[test]
fn sheets_are_put_off_set_aside_and_of_other_kinds() {
    let job = job(5);
    let clerk = Clerk::at(&job, Manner::default());
    clerk.sees(1);
    clerk.strikes(HOLD);
    clerk.0.press(ENTER);
    clerk.sees(2);
    clerk.strikes(SET_ASIDE);
    clerk.strikes("torn in two");
    clerk.0.press(ENTER);
    clerk.sees(3);
    // Two records on one sheet.
    clerk.accepts_the_fields();
    clerk.strikes(ANOTHER_RECORD);
    clerk.0.shows("record 2 of 2");
    clerk.strikes("LINDGREN");
    clerk.accepts_the_fields();
    clerk.0.press(ENTER);
    clerk.sees(4);
    clerk.strikes(KIND);
    clerk.strikes(DOWN);
    clerk.strikes(ENTER);
    clerk.0.shows("divider");
    // A step back, and Esc, lose nothing.
    clerk.strikes(ESC);
    clerk.0.shows("divider");
    clerk.accepts(4);
    clerk.sees(5);
    clerk.strikes(JUMP);
    clerk.strikes("00001");
    clerk.0.press(ENTER);
    clerk.sees(1);
    clerk.leaves();

    let all = entries(&job);
    assert!(matches!(&all[0].act, Act::Held { reason } if !reason.is_empty()));
    assert!(matches!(&all[1].act, Act::SetAside { reason } if reason == "torn in two"));
    let two = keyings(&all, "00003");
    assert_eq!(two[0].records.len(), 2);
    assert_eq!(
        value(&two[0], 1, "surname"),
        &KeyedValue::Text("LINDGREN".to_owned())
    );
    assert_eq!(keyings(&all, "00004")[0].kind.to_string(), "divider");
}

#[test]
fn nothing_is_accepted_unseen_or_by_a_paste() {
    let job = job(3);
    let clerk = Clerk::at(&job, Manner::default());
    // Typed ahead and held down before anything is there.
    clerk.0.press(&ENTER.repeat(40));
    clerk.sees(1);
    clerk.0.paste("A\r\nB\r\n\x1b[31m\u{202e}C\r\n");
    clerk
        .0
        .wait_for("paste", |text| text.contains("A") && text.contains("C"));
    assert!(clerk.0.text().contains(" 1 of "));
    clerk.accepts_the_fields();
    // A key held down accepts at most the sheet that was seen.
    for _ in 0..20 {
        clerk.0.press(ENTER);
        sleep(Duration::from_millis(30));
    }
    clerk.sees(2);
    clerk.leaves();
    assert!(entries(&job).len() <= 1);
}

#[test]
fn any_size_and_any_terminal_will_do() {
    let job = job(2);
    let clerk = Clerk::at(&job, Manner::default());
    clerk.sees(1);
    for (columns, rows) in [(120, 40), (200, 50), (40, 10), (80, 24)] {
        clerk.0.resize(columns, rows);
        clerk.0.wait_for("desk of that size", |text| {
            text.contains(" 1 of ") && text.contains("surname") && text.contains("Enter")
        });
    }
    clerk.0.resize(30, 6);
    clerk.0.shows("This window has 30 x 6 cells");
    clerk.0.resize(80, 24);
    clerk.0.shows("Enter accepts");
    clerk.strikes(HELP);
    clerk.0.shows("Ctrl+D");
    clerk.strikes(ESC);
    clerk.leaves();
    // One that tells nothing of its cursor, without colours.
    let manner = Manner {
        answers: false,
        no_color: true,
        ..Manner::default()
    };
    let clerk = Clerk::at(&job, manner);
    clerk.accepts(1);
    clerk.sees(2);
    assert!(
        clerk.0.text().contains(['▀', '▄', '█']),
        "{}",
        clerk.0.text()
    );
    clerk.leaves();
    assert_eq!(entries(&job).len(), 1);
}

#[test]
fn a_stop_and_an_end_from_outside_give_the_terminal_back() {
    let job = job(3);
    let clerk = Clerk::at(&job, Manner::default());
    clerk.accepts(1);
    clerk.sees(2);
    // Nobody is there to continue it, so that the stop passes at once; the desk comes back and is drawn whole.
    clerk.0.press(SUSPEND);
    sleep(SETTLING);
    wake(&clerk);
    clerk.sees(2);
    assert!(clerk.0.is_taken());
    clerk.accepts(2);
    clerk.sees(3);
    let mut clerk = clerk;
    signal(&clerk, Signal::TERM);
    let (_, text) = clerk.0.ends();
    assert!(!clerk.0.is_taken(), "{text}");
    assert_eq!(entries(&job).len(), 2);
}

fn signal(clerk: &Clerk, signal: Signal) {
    let process = Pid::from_raw(clerk.0.process() as i32).expect("a process");
    kill_process(process, signal).expect("the process takes signals");
}

fn wake(clerk: &Clerk) {
    signal(clerk, Signal::CONT);
}

#[test]
fn two_clerks_never_get_the_same_sheet() {
    let job = job(6);
    let kim = Clerk::at(&job, Manner::default());
    kim.sees(1);
    let mut olga = Clerk::called("olga", &job, Manner::default());
    // Kim has claimed the sheets that there are: nothing is left for Olga.
    let (code, text) = olga.0.ends();
    assert_eq!(code, 0, "{text}");
    kim.accepts(1);
    kim.sees(2);
    kim.leaves();
    let olga = Clerk::called("olga", &job, Manner::default());
    olga.accepts(2);
    olga.sees(3);
    olga.leaves();
    let by: Vec<String> = entries(&job).into_iter().map(|entry| entry.by).collect();
    assert_eq!(by, ["kim", "olga"]);
}
