//! The clerk's desk in tmux: another terminal than the one in memory, with widths and keys of its own.

use crate::support::drawn_job;
use std::process::Command;
use std::thread::sleep;
use std::time::{Duration, Instant};

/// A server of its own, ended with the test.
struct Multiplexer {
    socket: String,
}

impl Multiplexer {
    /// Runs a command on a screen of its own; none where tmux is not installed.
    fn start(command: &str, (columns, rows): (u16, u16)) -> Option<Self> {
        Command::new("tmux").arg("-V").output().ok()?;
        let own = Self {
            socket: format!("headword-{}", std::process::id()),
        };
        let (columns, rows) = (columns.to_string(), rows.to_string());
        own.run(&[
            "-f",
            "/dev/null",
            "-u",
            "new-session",
            "-d",
            "-x",
            &columns,
            "-y",
            &rows,
            command,
        ]);
        Some(own)
    }

    fn run(&self, arguments: &[&str]) -> String {
        let mut command = Command::new("tmux");
        command.args(["-L", &self.socket]).args(arguments);
        let output = command
            .env("LC_ALL", "C.UTF-8")
            .output()
            .expect("tmux runs");
        String::from_utf8_lossy(&output.stdout).into_owned()
    }

    #[track_caller]
    fn shows(&self, words: &[&str]) -> String {
        let start = Instant::now();
        loop {
            let text = self.run(&["capture-pane", "-p"]);
            if words.iter().all(|word| text.contains(word)) {
                return text;
            }
            assert!(
                start.elapsed() < Duration::from_secs(40),
                "expected {words:?} on\n{text}"
            );
            sleep(Duration::from_millis(50));
        }
    }

    fn press(&self, key: &str) {
        sleep(Duration::from_millis(400));
        self.run(&["send-keys", key]);
    }
}

impl Drop for Multiplexer {
    fn drop(&mut self) {
        self.run(&["kill-server"]);
    }
}

#[test]
fn the_desk_works_in_tmux() {
    let (_folder, job) = drawn_job(4, "default");
    let program = env!("CARGO_BIN_EXE_headword");
    let command = format!("{program} key '{}' --as mia", job.display());
    let Some(screen) = Multiplexer::start(&command, (100, 30)) else {
        println!("not tried: tmux is not installed");
        return;
    };
    let text = screen.shows(&["1 of 4", "Enter accepts the field", "▌"]);
    // Every row is as wide as the screen lets it be: no character of the picture was dropped or doubled.
    let widest = text.lines().map(|line| line.chars().count()).max();
    assert_eq!(widest, Some(100), "{text}");
    assert!(text.lines().next().unwrap().contains("0 keyed"), "{text}");
    // Enter from the main keys, and from a number pad, which comes as Ctrl+J.
    screen.press("Enter");
    screen.press("C-j");
    screen.shows(&["Enter accepts the sheet"]);
    screen.press("M-u");
    screen.press("C-y");
    screen.shows(&["2 of 4", "1 keyed"]);
    screen.run(&["resize-window", "-x", "80", "-y", "24"]);
    screen.shows(&["2 of 4"]);
    screen.press("M-q");
    // The session ends with its program.
    let start = Instant::now();
    while screen.run(&["list-sessions"]).contains("windows") {
        assert!(start.elapsed() < Duration::from_secs(40), "it goes on");
        sleep(Duration::from_millis(50));
    }
}
