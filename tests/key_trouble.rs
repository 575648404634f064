//! Trouble at the clerk's desk: keys nobody meant, terminals that lack something, stops and ends from outside.

use crate::pseudo_terminal::{Manner, Terminal};
use crate::support::drawn_job;
use rustix::process::{Pid, Signal, kill_process};
use std::thread::sleep;
use std::time::Duration;

/// Mia at her desk, on a terminal that answers and has colours unless said otherwise.
fn desk(job: &std::path::Path, more: &[&str], manner: Manner) -> Terminal {
    let mut arguments = vec!["key", job.to_str().unwrap(), "--as", "mia"];
    arguments.extend(more);
    Terminal::start_in(&arguments, (80, 24), manner)
}

const ANSWERS: Manner = Manner {
    answers: true,
    no_color: false,
};

/// Accepts the sheet in hand, field by field.
#[track_caller]
fn accept(desk: &mut Terminal) {
    const MOST: usize = 20;
    for _ in 0..MOST {
        if desk.text().contains("Enter accepts the sheet") {
            desk.press("\r");
            return;
        }
        let is_empty = desk.cursor_row().contains("_ empty");
        desk.press(if is_empty { "\x1b0" } else { "\r" });
        // What the key did is drawn before the next one is chosen.
        sleep(Duration::from_millis(300));
    }
    panic!("the fields have no end:\n{}", desk.text());
}

#[track_caller]
fn leave(desk: &mut Terminal) {
    desk.press("\x1bq");
    assert_eq!(desk.ends(), 0);
    assert_eq!(desk.is_taken(), (false, false));
}

fn signal(desk: &Terminal, signal: Signal) {
    let process = Pid::from_raw(desk.process() as i32).expect("a process");
    kill_process(process, signal).expect("the process takes signals");
}

#[test]
fn keys_that_nobody_meant_accept_nothing() {
    let (_folder, job) = drawn_job(4, "mixed");
    let mut desk = desk(&job, &[], ANSWERS);
    // Typed ahead, before anything is there.
    desk.send(&"\r".repeat(40));
    desk.shows(&["1 of 4", "0 keyed"]);
    // A key held down accepts one sheet at most, and that one only because its fields were accepted before.
    for _ in 0..60 {
        desk.send("\r");
        sleep(Duration::from_millis(30));
    }
    desk.press("");
    assert!(desk.text().contains("1 of 4"), "{}", desk.text());
    // What is pasted is typed, and harmless.
    desk.press("\x15\x1b[200~A\r\nB\x1b[31m\u{202e}C\r\n\x1b[201~");
    desk.shows(&["1 of 4", "0 keyed", "A  B[31mC"]);
    leave(&mut desk);
}

#[test]
fn a_stop_and_a_redraw_leave_the_desk_whole() {
    let (_folder, job) = drawn_job(4, "mixed");
    let mut desk = desk(&job, &[], ANSWERS);
    desk.shows(&["1 of 4", "Enter accepts"]);
    // Drawn anew: the terminal is not asked for its cursor while keys are waited for.
    desk.press("\x0c");
    desk.shows(&["1 of 4", "Enter accepts"]);
    // To the shell, and back by its `fg`.
    desk.press("\x1a");
    let start = std::time::Instant::now();
    while desk.is_taken() != (false, false) {
        assert!(start.elapsed() < Duration::from_secs(30), "{}", desk.text());
        sleep(Duration::from_millis(20));
    }
    signal(&desk, Signal::CONT);
    desk.shows(&["1 of 4", "Enter accepts"]);
    assert_eq!(desk.is_taken(), (true, true));
    // Stopped from outside.
    signal(&desk, Signal::STOP);
    signal(&desk, Signal::CONT);
    accept(&mut desk);
    desk.shows(&["2 of 4", "1 keyed"]);
    signal(&desk, Signal::TERM);
    desk.ends();
    assert_eq!(desk.is_taken(), (false, false));
    let mut again = self::desk(&job, &[], ANSWERS);
    again.shows(&["2 of 4", "1 keyed"]);
    leave(&mut again);
}

#[test]
fn a_terminal_without_answers_and_colours_gets_half_blocks() {
    let (_folder, job) = drawn_job(4, "mixed");
    let mute = Manner {
        answers: false,
        no_color: true,
    };
    let mut desk = desk(&job, &[], mute);
    desk.shows(&["1 of 4", "Enter accepts"]);
    desk.press("");
    let text = desk.text();
    let sextant = |c: char| ('\u{1fb00}'..='\u{1fb3b}').contains(&c);
    assert!(text.contains('▀') && !text.contains(sextant), "{text}");
    leave(&mut desk);
    let mut desk = self::desk(&job, &[], ANSWERS);
    desk.shows(&["1 of 4", "Enter accepts"]);
    desk.press("");
    assert!(desk.text().contains(sextant), "{}", desk.text());
    leave(&mut desk);
}

#[test]
fn a_divider_is_looked_at_field_by_field_as_the_desk_says() {
    let (_folder, job) = drawn_job(4, "mixed");
    let mut desk = desk(&job, &[], ANSWERS);
    desk.shows(&["1 of 4", "Enter accepts the field"]);
    desk.press("\x0b");
    desk.press("\x1b[B");
    desk.press("\r");
    desk.shows(&["1 of 4 · divider", "Enter accepts the field"]);
    desk.press("\r");
    desk.shows(&["1 of 4 · divider", "0 keyed"]);
    accept(&mut desk);
    desk.shows(&["2 of 4", "1 keyed"]);
    leave(&mut desk);
}
