//! The real program in a terminal that exists in memory only.

use portable_pty::{Child, CommandBuilder, MasterPty, PtySize, native_pty_system};
use std::io::{Read, Write};
use std::num::NonZero;
use std::path::Path;
use std::sync::{Arc, Mutex};
use std::thread;
use std::time::{Duration, Instant};
use vt100::Parser;

/// What programs ask a terminal to learn where its cursor is.
const WHERE: &[u8] = b"\x1b[6n";

/// How the terminal behaves.
#[derive(Debug, Clone, Copy, Default)]
pub struct Manner {
    /// Says where its cursor is when asked.
    pub answers: bool,
    /// `NO_COLOR` is set.
    pub no_color: bool,
}

/// How long anything may take before the test gives up; a loaded machine needs seconds for what takes a tenth.
const PATIENCE: Duration = Duration::from_secs(40);

fn cells(count: u16) -> NonZero<u16> {
    NonZero::new(count).expect("a screen has cells")
}

type Keys = Arc<Mutex<Box<dyn Write + Send>>>;

pub struct Terminal {
    screen: Arc<Mutex<Parser>>,
    keys: Keys,
    master: Box<dyn MasterPty + Send>,
    child: Box<dyn Child + Send + Sync>,
}

impl Terminal {
    /// Starts the program with these arguments on a screen of this size.
    pub fn start(arguments: &[&str], size: (u16, u16)) -> Self {
        Self::start_in(arguments, size, Manner::default())
    }

    /// The same on a screen that behaves so.
    pub fn start_in(arguments: &[&str], (columns, rows): (u16, u16), manner: Manner) -> Self {
        let size = PtySize {
            rows,
            cols: columns,
            pixel_width: 0,
            pixel_height: 0,
        };
        let pair = native_pty_system()
            .openpty(size)
            .expect("a pseudo-terminal");
        let mut command = CommandBuilder::new(env!("CARGO_BIN_EXE_headword"));
        command.args(arguments);
        command.env("TERM", "xterm-256color");
        command.env_remove("NO_COLOR");
        if manner.no_color {
            command.env("NO_COLOR", "1");
        }
        command.cwd(Path::new(env!("CARGO_MANIFEST_DIR")));
        let child = pair
            .slave
            .spawn_command(command)
            .expect("the program starts");
        drop(pair.slave);
        let screen = Arc::new(Mutex::new(Parser::new(cells(rows), cells(columns), 0)));
        let mut out = pair.master.try_clone_reader().expect("its screen");
        let keys = pair.master.take_writer().expect("its keys");
        let keys: Keys = Arc::new(Mutex::new(keys));
        let (seen, answers) = (screen.clone(), keys.clone());
        thread::spawn(move || {
            let mut kept = Vec::new();
            let mut bytes = [0; 4096];
            while let Ok(count @ 1..) = out.read(&mut bytes) {
                kept.extend_from_slice(&bytes[..count]);
                // The answer is where the cursor stands when the question comes, so what follows it has to wait.
                while let Some(at) = kept.windows(WHERE.len()).position(|part| part == WHERE) {
                    let until: Vec<u8> = kept.drain(..at + WHERE.len()).collect();
                    let mut screen = seen.lock().unwrap();
                    screen.process(&until);
                    let (row, column) = screen.screen().cursor_position();
                    if manner.answers {
                        let answer = format!("\x1b[{};{}R", row + 1, column + 1);
                        let _ = answers.lock().unwrap().write_all(answer.as_bytes());
                    }
                }
                // A question may be cut in two by the buffer's end.
                let begun = (1..WHERE.len())
                    .rev()
                    .find(|&n| kept.ends_with(&WHERE[..n]));
                let whole = kept.len() - begun.unwrap_or(0);
                let shown: Vec<u8> = kept.drain(..whole).collect();
                seen.lock().unwrap().process(&shown);
            }
        });
        Self {
            screen,
            keys,
            master: pair.master,
            child,
        }
    }

    pub fn text(&self) -> String {
        self.screen.lock().unwrap().screen().contents()
    }

    /// Waits until the screen shows all of this.
    #[track_caller]
    pub fn shows(&self, words: &[&str]) {
        let start = Instant::now();
        loop {
            let text = self.text();
            if words.iter().all(|word| text.contains(word)) {
                return;
            }
            assert!(start.elapsed() < PATIENCE, "expected {words:?} on\n{text}");
            thread::sleep(Duration::from_millis(20));
        }
    }

    /// Presses keys, as bytes of a terminal, once the strip is drawn; an Enter that comes sooner is none of a person's.
    #[track_caller]
    pub fn press(&mut self, keys: &str) {
        let start = Instant::now();
        while self.text().contains("is being made") {
            assert!(start.elapsed() < PATIENCE, "no picture:\n{}", self.text());
            thread::sleep(Duration::from_millis(20));
        }
        thread::sleep(Duration::from_millis(300));
        self.send(keys);
    }

    /// Sends keys at once, whatever is on the screen.
    pub fn send(&self, keys: &str) {
        let mut to = self.keys.lock().unwrap();
        let sent = to.write_all(keys.as_bytes()).and_then(|()| to.flush());
        sent.expect("keys arrive");
    }

    /// The row that the cursor is in.
    pub fn cursor_row(&self) -> String {
        let parser = self.screen.lock().unwrap();
        let (row, _) = parser.screen().cursor_position();
        let (_, columns) = parser.screen().size();
        let mut rows = parser.screen().rows(0, columns.get());
        rows.nth(row.into()).unwrap_or_default()
    }

    /// The column that the cursor is in, from 0.
    pub fn cursor_column(&self) -> usize {
        let parser = self.screen.lock().unwrap();
        parser.screen().cursor_position().1.into()
    }

    /// The program's process.
    pub fn process(&self) -> u32 {
        self.child.process_id().expect("it runs")
    }

    pub fn resize(&mut self, columns: u16, rows: u16) {
        self.screen
            .lock()
            .unwrap()
            .screen_mut()
            .set_size(cells(rows), cells(columns));
        let size = PtySize {
            rows,
            cols: columns,
            pixel_width: 0,
            pixel_height: 0,
        };
        self.master.resize(size).expect("another size");
    }

    /// Whether the program has a screen of its own, and takes pastes apart from typing.
    pub fn is_taken(&self) -> (bool, bool) {
        let parser = self.screen.lock().unwrap();
        (
            parser.screen().alternate_screen(),
            parser.screen().bracketed_paste(),
        )
    }

    /// Waits for the end; gives the exit code.
    #[track_caller]
    pub fn ends(&mut self) -> u32 {
        let start = Instant::now();
        loop {
            if let Some(status) = self.child.try_wait().expect("a child") {
                return status.exit_code();
            }
            assert!(
                start.elapsed() < PATIENCE,
                "still running:\n{}",
                self.text()
            );
            thread::sleep(Duration::from_millis(20));
        }
    }

    pub fn kill(&mut self) {
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}

impl Drop for Terminal {
    /// A test that fails leaves no program behind.
    fn drop(&mut self) {
        self.kill();
    }
}
