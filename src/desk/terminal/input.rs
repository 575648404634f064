//! What comes in: keys, pastes, changes of size, and the signals that end a program.

use crate::desk::clerk::{Code, Key};
use crossterm::event::{self, Event, KeyCode, KeyEvent, KeyEventKind, KeyModifiers};
use signal_hook::consts::{SIGCONT, SIGHUP, SIGINT, SIGTERM};
use signal_hook::iterator::Signals;
use std::io;
use std::sync::Arc;
use std::thread;

/// Something that came from outside.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Input {
    Key(Key),
    /// Pasted as one piece.
    Paste(String),
    Resized,
    /// The process goes on after a stop: the screen may hold anything.
    Continued,
    /// Asked to end, by a signal.
    End,
    /// The terminal cannot be read any more, and why.
    Lost(String),
}

/// Passes everything on, from threads of its own, until `pass` says that nobody listens.
pub fn listen(pass: impl Fn(Input) -> bool + Send + Sync + 'static) -> io::Result<()> {
    let mut signals = Signals::new([SIGTERM, SIGHUP, SIGINT, SIGCONT])?;
    let pass = Arc::new(pass);
    let of_signals = Arc::clone(&pass);
    thread::spawn(move || {
        for signal in signals.forever() {
            let input = if signal == SIGCONT {
                Input::Continued
            } else {
                Input::End
            };
            if !of_signals(input) {
                return;
            }
        }
    });
    thread::spawn(move || {
        loop {
            let input = match event::read() {
                Ok(event) => match input(event) {
                    Some(input) => input,
                    None => continue,
                },
                Err(fault) => {
                    pass(Input::Lost(fault.to_string()));
                    return;
                }
            };
            if !pass(input) {
                return;
            }
        }
    });
    Ok(())
}

/// What the desk makes of a terminal's event; releases of keys, the mouse and the focus are nothing to it.
fn input(event: Event) -> Option<Input> {
    match event {
        Event::Key(event) if event.kind != KeyEventKind::Release => key(event).map(Input::Key),
        Event::Paste(text) => Some(Input::Paste(text)),
        Event::Resize(..) => Some(Input::Resized),
        _ => None,
    }
}

fn key(event: KeyEvent) -> Option<Key> {
    let code = match event.code {
        KeyCode::Char(c) => Code::Char(c),
        KeyCode::Enter => Code::Enter,
        KeyCode::Tab | KeyCode::BackTab => Code::Tab,
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
        KeyCode::F(n) => Code::Function(n),
        _ => return None,
    };
    let ctrl = event.modifiers.contains(KeyModifiers::CONTROL);
    let alt = event.modifiers.contains(KeyModifiers::ALT);
    // AltGr types on some keyboards, and comes as both.
    let (ctrl, alt) = match code {
        Code::Char(c) if ctrl && alt && !c.is_ascii_alphanumeric() => (false, false),
        _ => (ctrl, alt),
    };
    let shift = event.modifiers.contains(KeyModifiers::SHIFT) || event.code == KeyCode::BackTab;
    Some(Key {
        code,
        ctrl,
        alt,
        shift: shift && !matches!(code, Code::Char(_)),
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn keys_come_as_the_desk_knows_them() {
        let (none, ctrl, alt) = (KeyModifiers::NONE, KeyModifiers::CONTROL, KeyModifiers::ALT);
        let shifted = |code| Key {
            shift: true,
            ..Key::plain(code)
        };
        for (code, modifiers, expected) in [
            (KeyCode::Char('a'), none, Some(Key::char('a'))),
            (
                KeyCode::Char('A'),
                KeyModifiers::SHIFT,
                Some(Key::char('A')),
            ),
            (KeyCode::Char('j'), ctrl, Some(Key::ctrl(Code::Char('j')))),
            (KeyCode::Char('u'), alt, Some(Key::alt(Code::Char('u')))),
            (KeyCode::Char('@'), ctrl | alt, Some(Key::char('@'))),
            (KeyCode::Tab, KeyModifiers::SHIFT, Some(shifted(Code::Tab))),
            (KeyCode::BackTab, none, Some(shifted(Code::Tab))),
            (KeyCode::Enter, none, Some(Key::plain(Code::Enter))),
            (KeyCode::Left, alt, Some(Key::alt(Code::Left))),
            (KeyCode::F(1), none, Some(Key::plain(Code::Function(1)))),
            (KeyCode::CapsLock, none, None),
        ] {
            assert_eq!(
                key(KeyEvent::new(code, modifiers)),
                expected,
                "{code:?} {modifiers:?}"
            );
        }
    }

    #[test]
    fn releases_of_keys_are_nothing() {
        let release =
            KeyEvent::new_with_kind(KeyCode::Enter, KeyModifiers::NONE, KeyEventKind::Release);
        assert_eq!(input(Event::Key(release)), None);
        let held =
            KeyEvent::new_with_kind(KeyCode::Enter, KeyModifiers::NONE, KeyEventKind::Repeat);
        assert_eq!(
            input(Event::Key(held)),
            Some(Input::Key(Key::plain(Code::Enter)))
        );
    }
}
