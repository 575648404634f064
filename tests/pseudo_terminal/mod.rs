//! The binary in a terminal that is none: a pseudo-terminal whose screen is kept by an emulator.

use portable_pty::{Child, CommandBuilder, MasterPty, PtySize, native_pty_system};
use std::ffi::OsStr;
use std::io::{Read, Write};
use std::num::NonZeroU16;
use std::sync::{Arc, Mutex, MutexGuard};
use std::thread::{self, sleep};
use std::time::{Duration, Instant};

/// Longest wait for something that a healthy machine does in a moment.
const PATIENCE: Duration = Duration::from_secs(30);
/// How often the screen is looked at meanwhile.
const LOOK: Duration = Duration::from_millis(10);
/// What programs ask a terminal to learn where its cursor is.
const WHERE: &[u8] = b"\x1b[6n";

/// How the terminal behaves.
#[derive(Debug, Clone, Copy)]
pub struct Manner {
    pub columns: u16,
    pub rows: u16,
    /// Says where its cursor is when asked.
    pub answers: bool,
    pub no_color: bool,
}

impl Default for Manner {
    fn default() -> Self {
        Self {
            columns: 80,
            rows: 24,
            answers: true,
            no_color: false,
        }
    }
}

type Keyboard = Arc<Mutex<Box<dyn Write + Send>>>;

/// A program at work in a pseudo-terminal; killed when dropped.
pub struct Terminal {
    master: Box<dyn MasterPty + Send>,
    child: Box<dyn Child + Send + Sync>,
    keyboard: Keyboard,
    emulator: Arc<Mutex<vt100::Parser>>,
}

fn size(length: u16) -> NonZeroU16 {
    NonZeroU16::new(length).expect("a terminal has rows and columns")
}

fn pty_size(columns: u16, rows: u16) -> PtySize {
    PtySize {
        rows,
        cols: columns,
        pixel_width: 0,
        pixel_height: 0,
    }
}

impl Terminal {
    /// Runs the binary with these arguments.
    pub fn run<S: AsRef<OsStr>>(arguments: impl IntoIterator<Item = S>, manner: Manner) -> Self {
        let pair = native_pty_system()
            .openpty(pty_size(manner.columns, manner.rows))
            .expect("a pseudo-terminal");
        let mut command = CommandBuilder::new(env!("CARGO_BIN_EXE_headword"));
        command.args(arguments);
        command.env("TERM", "xterm-256color");
        command.env_remove("NO_COLOR");
        if manner.no_color {
            command.env("NO_COLOR", "1");
        }
        let child = pair
            .slave
            .spawn_command(command)
            .expect("the binary starts");
        let mut output = pair.master.try_clone_reader().expect("its output");
        let keyboard: Keyboard =
            Arc::new(Mutex::new(pair.master.take_writer().expect("its input")));
        let emulator = vt100::Parser::new(size(manner.rows), size(manner.columns), 0);
        let emulator = Arc::new(Mutex::new(emulator));
        let (screen, answers) = (Arc::clone(&emulator), Arc::clone(&keyboard));
        thread::spawn(move || {
            let mut kept = Vec::new();
            let mut bytes = [0; 4096];
            while let Ok(count @ 1..) = output.read(&mut bytes) {
                kept.extend_from_slice(&bytes[..count]);
                // The answer is where the cursor stands when the question comes, so what follows it has to wait.
                while let Some(at) = kept.windows(WHERE.len()).position(|part| part == WHERE) {
                    let until: Vec<u8> = kept.drain(..at + WHERE.len()).collect();
                    let mut screen = screen.lock().expect("the emulator");
                    screen.process(&until);
                    let (row, column) = screen.screen().cursor_position();
                    if manner.answers {
                        let answer = format!("\x1b[{};{}R", row + 1, column + 1);
                        let _ = answers
                            .lock()
                            .expect("the keyboard")
                            .write_all(answer.as_bytes());
                    }
                }
                // A question may be cut in two by the buffer's end.
                let begun = (1..WHERE.len())
                    .rev()
                    .find(|&n| kept.ends_with(&WHERE[..n]));
                let whole = kept.len() - begun.unwrap_or(0);
                let shown: Vec<u8> = kept.drain(..whole).collect();
                screen.lock().expect("the emulator").process(&shown);
            }
        });
        Self {
            master: pair.master,
            child,
            keyboard,
            emulator,
        }
    }

    fn emulator(&self) -> MutexGuard<'_, vt100::Parser> {
        self.emulator.lock().expect("the emulator")
    }

    /// The text on the screen.
    pub fn text(&self) -> String {
        self.emulator().screen().contents()
    }

    /// Whether the program has the screen to itself, as programs that draw have.
    pub fn is_taken(&self) -> bool {
        let emulator = self.emulator();
        emulator.screen().alternate_screen() && emulator.screen().bracketed_paste()
    }

    /// The row that the cursor is in.
    pub fn cursor_row(&self) -> String {
        let emulator = self.emulator();
        let screen = emulator.screen();
        let (row, _) = screen.cursor_position();
        let (_, columns) = screen.size();
        screen
            .rows(0, columns.get())
            .nth(row.into())
            .unwrap_or_default()
    }

    /// All that is on the screen, the cursor's place and the styles included.
    pub fn picture(&self) -> String {
        self.emulator().screen().state_formatted()
    }

    /// Sends keys as a terminal does: `\r` for Enter, `\x1b` and a letter for Alt.
    pub fn press(&self, keys: &str) {
        let mut keyboard = self.keyboard.lock().expect("the keyboard");
        let sent = keyboard
            .write_all(keys.as_bytes())
            .and_then(|()| keyboard.flush());
        sent.expect("the program takes keys");
    }

    /// Sends a text as terminals send what is pasted.
    pub fn paste(&self, text: &str) {
        self.press(&format!("\x1b[200~{text}\x1b[201~"));
    }

    /// Waits until the screen is as wanted.
    #[track_caller]
    pub fn wait_for(&self, what: &str, is_so: impl Fn(&str) -> bool) -> String {
        let start = Instant::now();
        loop {
            let text = self.text();
            if is_so(&text) {
                return text;
            }
            assert!(
                start.elapsed() < PATIENCE,
                "no {what} on the screen:\n{text}"
            );
            sleep(LOOK);
        }
    }

    /// Waits until these words are on the screen.
    #[track_caller]
    pub fn shows(&self, words: &str) -> String {
        self.wait_for(words, |text| text.contains(words))
    }

    pub fn resize(&self, columns: u16, rows: u16) {
        // The emulator first: the program draws at once.
        self.emulator()
            .screen_mut()
            .set_size(size(rows), size(columns));
        self.master
            .resize(pty_size(columns, rows))
            .expect("the size is taken");
    }

    pub fn process(&self) -> u32 {
        self.child.process_id().expect("it runs")
    }

    /// Waits for the program's end and returns its exit code, with what is on the screen then.
    #[track_caller]
    pub fn ends(&mut self) -> (u32, String) {
        let start = Instant::now();
        let status = loop {
            if let Some(status) = self.child.try_wait().expect("it can be asked") {
                break status;
            }
            assert!(
                start.elapsed() < PATIENCE,
                "it does not end:\n{}",
                self.text()
            );
            sleep(LOOK);
        };
        // Its last words may still be on the way.
        let is_back = |_: &str| !self.is_taken();
        self.wait_for("given back screen", is_back);
        (status.exit_code(), self.text())
    }
}

impl Drop for Terminal {
    fn drop(&mut self) {
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}
