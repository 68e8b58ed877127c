//! The whole loop in the background: recordings read, compared, the cheapest changes searched;
//! with its progress, and a way to stop it.

use std::collections::BTreeMap;
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::path::PathBuf;
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};

use tokio::sync::broadcast;
use wythe_folder::failure::Failure;
use wythe_folder::gather::Gathered;
use wythe_folder::progress::{Watch, watched};

use crate::desk::Event;

/// How a piece of background work stands.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Standing {
    /// What is being done, with the share done of it; `None` when nothing runs.
    pub doing: Option<(String, f64)>,
    /// Why the last run gave nothing.
    pub failed: Option<String>,
    /// Whether the last run was stopped by hand.
    pub stopped: bool,
}

/// The results with the mark of the texts they were computed from.
#[derive(Clone)]
pub struct Done {
    /// Mark of the scene.
    pub mark: String,
    /// Everything computed.
    pub gathered: Arc<Gathered>,
}

#[derive(Default)]
struct Inner {
    standing: Standing,
    running: Option<(String, Arc<AtomicBool>)>,
    done: Option<Done>,
    /// Runs that were stopped or failed are not begun again by themselves.
    refused: BTreeMap<String, ()>,
}

/// The background work of one project.
pub struct Work {
    inner: Arc<Mutex<Inner>>,
    events: broadcast::Sender<Event>,
}

struct Told {
    stop: Arc<AtomicBool>,
    inner: Arc<Mutex<Inner>>,
    events: broadcast::Sender<Event>,
}

impl Watch for Told {
    fn tell(&self, doing: &str, share: f64) {
        if !self.stop.load(Ordering::SeqCst) {
            lock(&self.inner).standing.doing = Some((doing.to_owned(), share));
            // Nobody listening is no fault.
            let _ = self.events.send(Event::Progress { doing: doing.to_owned(), share });
        }
    }

    fn stopped(&self) -> bool {
        self.stop.load(Ordering::SeqCst)
    }
}

fn lock(inner: &Mutex<Inner>) -> MutexGuard<'_, Inner> {
    inner.lock().unwrap_or_else(PoisonError::into_inner)
}

impl Work {
    /// No work yet.
    pub fn new(events: broadcast::Sender<Event>) -> Work {
        Work { inner: Arc::default(), events }
    }

    /// How it stands.
    pub fn standing(&self) -> Standing {
        lock(&self.inner).standing.clone()
    }

    /// The last results, whatever they were computed from.
    pub fn done(&self) -> Option<Done> {
        lock(&self.inner).done.clone()
    }

    /// Begins the work for the texts of that mark, unless it is done or running. Work for other
    /// texts is stopped. `again` begins also what was stopped or failed before.
    pub fn begin(&self, folder: PathBuf, mark: String, again: bool) {
        let mut inner = lock(&self.inner);
        let has = inner.done.as_ref().is_some_and(|d| d.mark == mark);
        let runs = inner.running.as_ref().is_some_and(|(m, _)| *m == mark);
        if runs || (!again && (has || inner.refused.contains_key(&mark))) {
            return;
        }
        if let Some((_, stop)) = inner.running.take() {
            stop.store(true, Ordering::SeqCst);
        }
        let stop = Arc::new(AtomicBool::new(false));
        inner.refused.remove(&mark);
        inner.running = Some((mark.clone(), stop.clone()));
        inner.standing = Standing { doing: Some(("beginning".into(), 0.0)), ..Standing::default() };
        drop(inner);
        let (state, events) = (self.inner.clone(), self.events.clone());
        let told =
            Arc::new(Told { stop: stop.clone(), inner: state.clone(), events: events.clone() });
        std::thread::spawn(move || {
            let result =
                catch_unwind(AssertUnwindSafe(|| watched(told, || Gathered::new(&folder))));
            let mut inner = lock(&state);
            // Another run may have taken this one's place meanwhile.
            if !inner.running.as_ref().is_some_and(|(_, s)| Arc::ptr_eq(s, &stop)) {
                return;
            }
            inner.running = None;
            inner.standing.doing = None;
            match result {
                Ok(Ok(_)) if stop.load(Ordering::SeqCst) => {}
                Ok(Ok(gathered)) => {
                    inner.done = Some(Done { mark, gathered: Arc::new(gathered) });
                }
                Ok(Err(Failure::Stopped | Failure::PipeClosed)) => {}
                Ok(Err(failure)) => {
                    inner.standing.failed = Some(crate::words_of(&failure));
                    inner.refused.insert(mark, ());
                }
                Err(_) => {
                    inner.standing.failed =
                        Some("the program made a mistake; the project is untouched".into());
                    inner.refused.insert(mark, ());
                }
            }
            drop(inner);
            let _ = events.send(Event::Worked);
        });
    }

    /// Stops what runs.
    pub fn stop(&self) {
        let mut inner = lock(&self.inner);
        if let Some((mark, stop)) = inner.running.take() {
            stop.store(true, Ordering::SeqCst);
            inner.refused.insert(mark, ());
            inner.standing = Standing { stopped: true, ..Standing::default() };
        }
        drop(inner);
        let _ = self.events.send(Event::Worked);
    }
}
