//! The real program in a terminal that exists in memory only.

use portable_pty::{Child, CommandBuilder, MasterPty, PtySize, native_pty_system};
use std::io::{Read, Write};
use std::num::NonZero;
use std::path::Path;
use std::sync::{Arc, Mutex};
use std::thread;
use std::time::{Duration, Instant};
use vt100::Parser;

/// How long anything may take before the test gives up; a loaded machine needs seconds for what takes a tenth.
const PATIENCE: Duration = Duration::from_secs(40);

fn cells(count: u16) -> NonZero<u16> {
    NonZero::new(count).expect("a screen has cells")
}

pub struct Terminal {
    screen: Arc<Mutex<Parser>>,
    keys: Box<dyn Write + Send>,
    master: Box<dyn MasterPty + Send>,
    child: Box<dyn Child + Send + Sync>,
}

impl Terminal {
    /// Starts the program with these arguments on a screen of this size.
    pub fn start(arguments: &[&str], (columns, rows): (u16, u16)) -> Self {
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
        command.cwd(Path::new(env!("CARGO_MANIFEST_DIR")));
        let child = pair
            .slave
            .spawn_command(command)
            .expect("the program starts");
        drop(pair.slave);
        let screen = Arc::new(Mutex::new(Parser::new(cells(rows), cells(columns), 0)));
        let mut out = pair.master.try_clone_reader().expect("its screen");
        let seen = screen.clone();
        thread::spawn(move || {
            let mut bytes = [0; 4096];
            while let Ok(count @ 1..) = out.read(&mut bytes) {
                seen.lock().unwrap().process(&bytes[..count]);
            }
        });
        let keys = pair.master.take_writer().expect("its keys");
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
        self.keys.write_all(keys.as_bytes()).expect("keys arrive");
        self.keys.flush().expect("keys arrive");
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
