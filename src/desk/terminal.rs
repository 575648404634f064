//! The terminal: taken over and always given back, its keys turned into the desk's own.

use super::clerk::{Code, Key};
use super::picture::Shape;
use crossterm::cursor::{self, MoveTo};
use crossterm::event::{
    self, DisableBracketedPaste, EnableBracketedPaste, KeyCode, KeyEvent, KeyEventKind,
    KeyModifiers,
};
use crossterm::style::{Print, force_color_output};
use crossterm::terminal::{
    Clear, ClearType, EnterAlternateScreen, LeaveAlternateScreen, disable_raw_mode, enable_raw_mode,
};
use crossterm::{execute, queue};
use ratatui::Terminal;
use ratatui::backend::CrosstermBackend;
use signal_hook::consts::{SIGCONT, SIGHUP, SIGINT, SIGTERM};
use signal_hook::iterator::Signals;
use std::io::{self, Stdout, Write, stdout};
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::{Mutex, MutexGuard};
use std::thread;

/// The terminal is ours; what ends the program gives it back first.
static TAKEN: AtomicBool = AtomicBool::new(false);

/// Holds the terminal; gives it back when dropped.
pub struct Guard;

impl Guard {
    /// Takes the terminal over: keys one by one, a screen of our own, pastes told from typing.
    pub fn take() -> io::Result<Self> {
        // Without this the library writes no bold and no reversed text either under NO_COLOR; colours are our affair.
        force_color_output(true);
        enter()?;
        let before = std::panic::take_hook();
        std::panic::set_hook(Box::new(move |panic| {
            give_back();
            before(panic);
        }));
        Ok(Self)
    }

    /// Stops this program as the shell's Ctrl+Z does, and comes back when the shell says so.
    pub fn suspend(&self) -> io::Result<()> {
        give_back();
        signal_hook::low_level::emulate_default_handler(signal_hook::consts::SIGTSTP)?;
        enter()
    }

    /// Takes the terminal over after a stop from outside, after which the shell may have left it in any state.
    pub fn take_again(&self) -> io::Result<()> {
        enter()
    }
}

impl Drop for Guard {
    fn drop(&mut self) {
        give_back();
    }
}

fn enter() -> io::Result<()> {
    enable_raw_mode()?;
    TAKEN.store(true, Ordering::SeqCst);
    execute!(
        stdout(),
        EnterAlternateScreen,
        EnableBracketedPaste,
        Clear(ClearType::All)
    )
}

/// Gives the terminal back, once; what fails here cannot be told to anybody.
fn give_back() {
    if TAKEN.swap(false, Ordering::SeqCst) {
        let _ = execute!(
            stdout(),
            DisableBracketedPaste,
            LeaveAlternateScreen,
            cursor::Show
        );
        let _ = disable_raw_mode();
    }
}

/// The first shape that the terminal draws one cell wide. Asks it where its cursor is, so nobody else may read from it
/// meanwhile; a terminal that does not answer gets the plainest shape.
fn probed_shape() -> Shape {
    for shape in [Shape::Sextant, Shape::Quadrant, Shape::Half] {
        match width_of(shape.probe()) {
            Ok(1) => return shape,
            Ok(_) => {}
            Err(_) => break,
        }
    }
    Shape::Half
}

fn width_of(symbol: char) -> io::Result<u16> {
    let mut out = stdout();
    queue!(out, MoveTo(0, 0), Print(symbol))?;
    out.flush()?;
    let (column, _) = cursor::position()?;
    execute!(out, MoveTo(0, 0), Clear(ClearType::CurrentLine))?;
    Ok(column)
}

/// What comes from the terminal.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Input {
    Key(Key),
    Paste(String),
    Resized,
}

/// The next thing that the terminal sends; waits for it.
fn next_input() -> io::Result<Input> {
    loop {
        let input = match event::read()? {
            event::Event::Key(key) => match pressed(key) {
                Some(key) => Input::Key(key),
                None => continue,
            },
            event::Event::Paste(text) => Input::Paste(text),
            event::Event::Resize(..) => Input::Resized,
            _ => continue,
        };
        return Ok(input);
    }
}

/// What reaches the desk from outside.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Outside {
    Input(Input),
    /// The program goes on after a stop from outside.
    Continued,
    /// The terminal is lost, or somebody ends the program.
    Ended,
}

/// Whoever listens now; one desk may open another and listen again behind it.
static LISTENER: Mutex<Option<Listener>> = Mutex::new(None);
type Listener = Box<dyn Fn(Outside) -> bool + Send>;

/// The threads that wait for keys and for signals run.
static LISTENING: AtomicBool = AtomicBool::new(false);
/// Nothing comes any more.
static ENDED: AtomicBool = AtomicBool::new(false);

/// Has this told of keys and signals from now on, and nobody else; `tell` says whether anybody still listens. The threads that wait for them are started once: two
/// that wait for keys would take them from each other.
pub fn listen(tell: impl Fn(Outside) -> bool + Send + 'static) -> io::Result<()> {
    *listener() = Some(Box::new(tell));
    if ENDED.load(Ordering::SeqCst) {
        pass_on(Outside::Ended);
    }
    if LISTENING.swap(true, Ordering::SeqCst) {
        return Ok(());
    }
    let mut signals = Signals::new([SIGTERM, SIGHUP, SIGINT, SIGCONT])?;
    thread::spawn(|| {
        loop {
            let outside = next_input().map_or(Outside::Ended, Outside::Input);
            let is_over = outside == Outside::Ended;
            pass_on(outside);
            if is_over {
                return;
            }
        }
    });
    thread::spawn(move || {
        for signal in signals.forever() {
            let outside = match signal {
                SIGCONT => Outside::Continued,
                _ => {
                    // A lost terminal may never take what is drawn next.
                    give_back();
                    Outside::Ended
                }
            };
            pass_on(outside);
        }
    });
    Ok(())
}

fn pass_on(outside: Outside) {
    ENDED.fetch_or(outside == Outside::Ended, Ordering::SeqCst);
    let mut listener = listener();
    if listener.as_ref().is_some_and(|tell| !tell(outside)) {
        *listener = None;
    }
}

fn listener() -> MutexGuard<'static, Option<Listener>> {
    LISTENER.lock().expect("whoever listens only sends")
}

/// Has everything drawn anew. `Terminal::clear` would ask the terminal for its cursor, and the thread that waits for keys
/// would take the answer.
pub fn repaint(screen: &mut Terminal<CrosstermBackend<Stdout>>) -> io::Result<()> {
    let whole = screen.size()?;
    screen.resize(whole.into())
}

/// What pictures are made of.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum PictureWish {
    /// What the terminal shows best.
    #[default]
    Best,
    Of(Shape),
    Off,
}

impl PictureWish {
    /// The shape, asked of the terminal where it decides; ask before anybody else reads from it.
    pub fn shape(self) -> Option<Shape> {
        match self {
            Self::Best => Some(probed_shape()),
            Self::Of(shape) => Some(shape),
            Self::Off => None,
        }
    }
}

fn pressed(event: KeyEvent) -> Option<Key> {
    if event.kind == KeyEventKind::Release {
        return None;
    }
    let ctrl = event.modifiers.contains(KeyModifiers::CONTROL);
    let alt = event.modifiers.contains(KeyModifiers::ALT);
    let shift = event.modifiers.contains(KeyModifiers::SHIFT);
    let code = match event.code {
        // Letters of bindings are small; a capital with Ctrl or Alt is the same key.
        KeyCode::Char(c) if ctrl || alt => Code::Char(c.to_ascii_lowercase()),
        KeyCode::Char(c) => Code::Char(c),
        KeyCode::Enter => Code::Enter,
        KeyCode::Tab if shift => Code::BackTab,
        KeyCode::Tab => Code::Tab,
        KeyCode::BackTab => Code::BackTab,
        KeyCode::Esc => Code::Esc,
        KeyCode::Backspace => Code::Backspace,
        KeyCode::Delete => Code::Delete,
        KeyCode::Left => Code::Left,
        KeyCode::Right => Code::Right,
        KeyCode::Up => Code::Up,
        KeyCode::Down => Code::Down,
        KeyCode::Home => Code::Home,
        KeyCode::End => Code::End,
        KeyCode::PageUp => Code::PageUp,
        KeyCode::PageDown => Code::PageDown,
        _ => return None,
    };
    Some(Key { code, ctrl, alt })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn check(code: KeyCode, modifiers: KeyModifiers, expected: Option<Key>) {
        assert_eq!(pressed(KeyEvent::new(code, modifiers)), expected);
    }

    #[test]
    fn keys_become_the_desks_own() {
        let none = KeyModifiers::NONE;
        check(
            KeyCode::Char('Ä'),
            KeyModifiers::SHIFT,
            Some(Key::plain(Code::Char('Ä'))),
        );
        check(
            KeyCode::Char('D'),
            KeyModifiers::CONTROL,
            Some(Key::ctrl('d')),
        );
        check(
            KeyCode::Char('2'),
            KeyModifiers::ALT,
            Some(Key::alt(Code::Char('2'))),
        );
        check(
            KeyCode::Tab,
            KeyModifiers::SHIFT,
            Some(Key::plain(Code::BackTab)),
        );
        check(KeyCode::F(3), none, None);
    }
}
