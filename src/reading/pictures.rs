//! Pictures of strips for a desk, made in worker processes ahead of need.

use super::picture::StripPicture;
use super::pool::{Failure, PoolSettings, Worker};
use super::worker::{Answer, Request, Want};
use crate::strip::Lay;
use crate::value::SheetId;
use std::collections::VecDeque;
use std::path::PathBuf;
use std::sync::{Arc, Condvar, Mutex, MutexGuard};
use std::thread;

/// A picture that is wanted.
#[derive(Debug, Clone)]
pub struct Wish {
    pub sheet: SheetId,
    /// Where its image is.
    pub path: PathBuf,
    /// How the strip lay when it was read.
    pub lay: Option<Lay>,
}

/// Makes pictures on threads of its own, each with a worker process, so that no image can harm the desk.
#[derive(Debug)]
pub struct Pictures {
    queue: Arc<Queue>,
}

#[derive(Debug, Default)]
struct Queue {
    wishes: Mutex<Wishes>,
    changed: Condvar,
}

#[derive(Debug, Default)]
struct Wishes {
    waiting: VecDeque<Wish>,
    /// Being made.
    begun: Vec<SheetId>,
    is_closed: bool,
}

impl Pictures {
    /// `deliver` is called on another thread with each picture, or with why there is none and what to do.
    pub fn start(
        settings: &PoolSettings,
        deliver: impl Fn(SheetId, Result<StripPicture, String>) + Send + Sync + 'static,
    ) -> Self {
        let queue = Arc::new(Queue::default());
        let deliver = Arc::new(deliver);
        for _ in 0..settings.workers.max(1) {
            let (settings, queue, deliver) =
                (settings.clone(), Arc::clone(&queue), Arc::clone(&deliver));
            thread::spawn(move || {
                let mut worker = None;
                while let Some(wish) = queue.next() {
                    let picture = picture(&mut worker, &settings, &wish);
                    queue.lock().begun.retain(|sheet| *sheet != wish.sheet);
                    deliver(wish.sheet, picture);
                }
            });
        }
        Self { queue }
    }

    /// Wants these pictures, the first one most, and none of those wanted before that have not been begun.
    pub fn want(&self, wishes: impl IntoIterator<Item = Wish>) {
        let mut queue = self.queue.lock();
        let begun = std::mem::take(&mut queue.begun);
        queue.waiting = wishes
            .into_iter()
            .filter(|wish| !begun.contains(&wish.sheet))
            .collect();
        queue.begun = begun;
        self.queue.changed.notify_all();
    }
}

impl Drop for Pictures {
    fn drop(&mut self) {
        let mut queue = self.queue.lock();
        queue.is_closed = true;
        queue.waiting.clear();
        self.queue.changed.notify_all();
    }
}

impl Queue {
    fn lock(&self) -> MutexGuard<'_, Wishes> {
        self.wishes.lock().expect("a picture thread panicked")
    }

    /// Waits for a wish; none once the queue is closed.
    fn next(&self) -> Option<Wish> {
        let mut queue = self.lock();
        loop {
            if queue.is_closed {
                return None;
            }
            if let Some(wish) = queue.waiting.pop_front() {
                queue.begun.push(wish.sheet.clone());
                return Some(wish);
            }
            queue = self.changed.wait(queue).expect("a picture thread panicked");
        }
    }
}

/// One picture, by the worker at hand or a new one; a worker that died is tried once more with a fresh one.
fn picture(
    worker: &mut Option<Worker>,
    settings: &PoolSettings,
    wish: &Wish,
) -> Result<StripPicture, String> {
    let request = Request {
        path: wish.path.clone(),
        want: Want::Picture(wish.lay.clone().map(Box::new)),
    };
    let mut why = String::new();
    for _ in 0..2 {
        let mut at_hand = match worker.take() {
            Some(worker) => worker,
            None => Worker::start(settings).map_err(|fault| fault.to_string())?,
        };
        match at_hand.ask(&request, settings.deadline) {
            Ok(Answer::Picture(packed)) => {
                *worker = Some(at_hand);
                let picture = packed?.unpack();
                return picture
                    .ok_or_else(|| "the worker sent no whole picture; look at the image".into());
            }
            Ok(_) => why = "it answered something else".into(),
            Err(Failure::Died(how)) => why = how,
            Err(Failure::Late) => {
                let seconds = settings.deadline.as_secs_f64();
                return Err(format!(
                    "no picture within {seconds} seconds; look at the image, or hold the sheet and have it scanned again"
                ));
            }
        }
    }
    Err(format!(
        "two workers ended while they opened the image ({why}); look at the image, or hold the sheet and have it scanned again"
    ))
}
