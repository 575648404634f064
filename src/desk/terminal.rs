//! The terminal itself: taken over and always given back, its keys brought in, its glyphs measured.

mod input;

pub use input::{Input, listen};

use super::picture::{Glyphs, PictureChoice, choose};
use crossterm::cursor::{self, MoveTo, Show};
use crossterm::event::{DisableBracketedPaste, EnableBracketedPaste};
use crossterm::style::{Print, force_color_output};
use crossterm::terminal::{
    Clear, ClearType, EnterAlternateScreen, LeaveAlternateScreen, disable_raw_mode, enable_raw_mode,
};
use crossterm::{execute, queue};
use ratatui::Frame;
use ratatui::backend::CrosstermBackend;
use rustix::process::{Signal, getpgrp, kill_process_group};
use std::io::{self, IsTerminal, Stdout, Write, stdin, stdout};
use std::panic;
use std::sync::Once;
use std::sync::atomic::{AtomicBool, Ordering};
use std::thread::{self, ThreadId};

/// The terminal, taken over: raw, on the alternate screen. Dropping it gives everything back, a panic too.
pub struct Screen {
    terminal: ratatui::Terminal<CrosstermBackend<Stdout>>,
}

/// Whether the terminal is ours now, for the panic hook.
static IS_TAKEN: AtomicBool = AtomicBool::new(false);

/// Whether there is a terminal to take over at both ends.
pub fn is_there() -> bool {
    stdin().is_terminal() && stdout().is_terminal()
}

/// Whether colours may be used: `NO_COLOR` is not set, or empty (no-color.org).
pub fn has_colour(no_color: Option<&std::ffi::OsStr>) -> bool {
    no_color.is_none_or(std::ffi::OsStr::is_empty)
}

impl Screen {
    /// Takes the terminal over.
    pub fn take() -> io::Result<Self> {
        // crossterm 0.29 answers NO_COLOR by a reset in place of every colour, which takes bold and reverse along; our
        // own themes leave colours out instead.
        force_color_output(true);
        restore_on_panic(thread::current().id());
        let terminal = ratatui::Terminal::new(CrosstermBackend::new(stdout()))?;
        // From here on dropping gives back what was taken, however far it came.
        let screen = Self { terminal };
        enter()?;
        Ok(screen)
    }

    /// Finds out which glyphs the terminal prints one cell wide. Before [`listen`]: the answers come where keys do.
    pub fn glyphs(&mut self, choice: PictureChoice) -> Option<Glyphs> {
        let glyphs = choose(choice, |glyph| printed_width(glyph).ok());
        let _ = execute!(stdout(), MoveTo(0, 0), Clear(ClearType::All));
        glyphs
    }

    /// Columns and rows.
    pub fn size(&self) -> io::Result<(u16, u16)> {
        let size = self.terminal.size()?;
        Ok((size.width, size.height))
    }

    /// Draws what has changed.
    pub fn draw(&mut self, draw: impl FnOnce(&mut Frame)) -> io::Result<()> {
        self.terminal.draw(draw).map(|_| ())
    }

    /// Has everything drawn anew by the next [`Screen::draw`], over whatever others wrote there.
    pub fn repaint(&mut self) -> io::Result<()> {
        // Not Terminal::clear, which may ask for the cursor and so race with the thread that reads keys.
        let size = self.terminal.size()?;
        self.terminal.resize(size.into())?;
        execute!(stdout(), Clear(ClearType::All))
    }

    /// Gives the terminal back, stops this process and its group as Ctrl+Z does in a shell, and takes the terminal
    /// again once the shell lets it go on.
    pub fn suspend(&mut self) -> io::Result<()> {
        leave();
        kill_process_group(getpgrp(), Signal::TSTP)?;
        self.retake()
    }

    /// Takes the terminal again after a stop, whatever state the shell left it in.
    pub fn retake(&mut self) -> io::Result<()> {
        enter()?;
        self.repaint()
    }
}

impl Drop for Screen {
    fn drop(&mut self) {
        leave();
    }
}

fn enter() -> io::Result<()> {
    IS_TAKEN.store(true, Ordering::SeqCst);
    enable_raw_mode()?;
    execute!(
        stdout(),
        EnterAlternateScreen,
        EnableBracketedPaste,
        Clear(ClearType::All)
    )
}

/// Gives everything back; may be called twice. Where the terminal is gone there is nobody to tell.
fn leave() {
    if IS_TAKEN.swap(false, Ordering::SeqCst) {
        let _ = execute!(stdout(), DisableBracketedPaste, Show, LeaveAlternateScreen);
        let _ = disable_raw_mode();
    }
}

/// Has a panic of the thread that draws give the terminal back before its message is printed. While the terminal is
/// taken, panics of other threads say nothing, since it would land in the picture; what they worked on is missing.
fn restore_on_panic(drawing: ThreadId) {
    static ONCE: Once = Once::new();
    ONCE.call_once(|| {
        let before = panic::take_hook();
        panic::set_hook(Box::new(move |what| {
            if thread::current().id() == drawing {
                leave();
            }
            if !IS_TAKEN.load(Ordering::SeqCst) {
                before(what);
            }
        }));
    });
}

/// Cells that the cursor moves when a glyph is printed; an error where the terminal does not tell within crossterm's
/// two seconds.
fn printed_width(glyph: char) -> io::Result<u16> {
    let mut out = stdout();
    queue!(out, MoveTo(0, 0), Print(glyph))?;
    out.flush()?;
    let (column, _) = cursor::position()?;
    Ok(column)
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::ffi::OsStr;

    #[test]
    fn an_empty_no_color_is_none() {
        assert!(has_colour(None));
        assert!(has_colour(Some(OsStr::new(""))));
        assert!(!has_colour(Some(OsStr::new("1"))));
    }
}
