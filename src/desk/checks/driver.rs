//! Drives the list: keys in, the screen out, and the clerk's desk opened where somebody wants to mend a sheet.

use super::list::{CheckList, Effect};
use super::view::{Scene, draw};
use crate::delivery::Check;
use crate::desk::driver::{self, DeskError, key_sheets};
use crate::desk::terminal::{Guard, Input, Outside, PictureWish, listen, repaint};
use crate::job::Job;
use ratatui::Terminal;
use ratatui::backend::CrosstermBackend;
use std::io::{Stdout, stdout};
use std::sync::mpsc::{self, Receiver};

type Screen = Terminal<CrosstermBackend<Stdout>>;

/// Shows what `look` finds in the job until the person leaves; gives what is left of it. `clerk` says how the clerk's desk
/// is opened; after each sitting there `look` is asked again.
pub fn mend<E: From<DeskError>>(
    job: &mut Job,
    clerk: &driver::Options,
    mut look: impl FnMut(&Job) -> Result<Vec<Check>, E>,
) -> Result<Vec<Check>, E> {
    let mut list = CheckList::new(look(job)?);
    let guard = Guard::take().map_err(DeskError::from)?;
    // Asked of the terminal once, before anybody waits for its keys.
    let pictures = match clerk.pictures.shape() {
        Some(shape) => PictureWish::Of(shape),
        None => PictureWish::Off,
    };
    let screen = Terminal::new(CrosstermBackend::new(stdout())).map_err(DeskError::from)?;
    let mut room = Room {
        screen,
        guard,
        keys: heard()?,
    };
    loop {
        let title = job.settings.title.clone();
        match room.sit(&mut list, &title)? {
            Effect::Open(sheet) => {
                let options = driver::Options {
                    sheet: Some(sheet.as_str().to_owned()),
                    pictures,
                    ..clerk.clone()
                };
                let sat = key_sheets(job, &options);
                room.come_back()?;
                list.check_again(look(job)?);
                match sat {
                    Ok(_) => {}
                    // Another person has the sheet, or it was never read: that is no reason to leave the list.
                    Err(DeskError::Journal(fault)) => list.say(fault.to_string()),
                    Err(fault) => return Err(fault.into()),
                }
            }
            Effect::CheckAgain => list.check_again(look(job)?),
            Effect::Leave | Effect::Repaint | Effect::Suspend => {
                return Ok(list.checks().to_vec());
            }
        }
    }
}

fn heard() -> Result<Receiver<Outside>, DeskError> {
    let (send, keys) = mpsc::channel();
    listen(move |outside| send.send(outside).is_ok())?;
    Ok(keys)
}

struct Room {
    screen: Screen,
    guard: Guard,
    keys: Receiver<Outside>,
}

impl Room {
    /// Takes the terminal again after another desk had it.
    fn come_back(&mut self) -> Result<(), DeskError> {
        self.guard.take_again()?;
        self.keys = heard()?;
        repaint(&mut self.screen)?;
        Ok(())
    }

    /// Draws and waits until something outside of the list is to be done.
    fn sit(&mut self, list: &mut CheckList, title: &str) -> Result<Effect, DeskError> {
        loop {
            let scene = Scene { list, title };
            self.screen.draw(|frame| draw(frame, &scene))?;
            let Ok(outside) = self.keys.recv() else {
                return Ok(Effect::Leave);
            };
            let effect = match outside {
                Outside::Ended => return Ok(Effect::Leave),
                Outside::Continued => {
                    self.guard.take_again()?;
                    Some(Effect::Repaint)
                }
                Outside::Input(Input::Resized) => {
                    self.screen.autoresize()?;
                    None
                }
                Outside::Input(Input::Paste(_)) => None,
                Outside::Input(Input::Key(key)) => list.press(key),
            };
            match effect {
                None => {}
                Some(Effect::Repaint) => repaint(&mut self.screen)?,
                Some(Effect::Suspend) => {
                    self.guard.suspend()?;
                    repaint(&mut self.screen)?;
                }
                Some(effect) => return Ok(effect),
            }
        }
    }
}
