//! The demonstration, made in the background with its progress; a stop leaves nothing behind.

use std::path::PathBuf;
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};

use wythe_folder::failure::Failure;
use wythe_folder::progress::{Watch, watched};
use wythe_folder::{demo, write};

use crate::desk::Desk;
use crate::words_of;

/// How it stands.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Standing {
    /// What is being made; `None` when nothing is.
    pub doing: Option<String>,
    /// Share done of that, 0 to 1.
    pub share: f64,
    /// Why the last attempt gave nothing.
    pub failed: Option<String>,
    /// Whether the last attempt is open now.
    pub done: bool,
}

#[derive(Default)]
struct Inner {
    standing: Standing,
    stop: Option<Arc<AtomicBool>>,
}

/// The making of one demonstration at a time.
#[derive(Clone, Default)]
pub struct Making(Arc<Mutex<Inner>>);

struct Told {
    making: Making,
    stop: Arc<AtomicBool>,
}

impl Watch for Told {
    fn tell(&self, doing: &str, share: f64) {
        let mut inner = self.making.inner();
        inner.standing.doing = Some(doing.to_owned());
        inner.standing.share = share;
    }

    fn stopped(&self) -> bool {
        self.stop.load(Ordering::SeqCst)
    }
}

impl Making {
    fn inner(&self) -> MutexGuard<'_, Inner> {
        self.0.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// How it stands.
    pub fn standing(&self) -> Standing {
        self.inner().standing.clone()
    }

    /// Stops what is being made.
    pub fn stop(&self) {
        if let Some(stop) = &self.inner().stop {
            stop.store(true, Ordering::SeqCst);
        }
    }

    /// Begins to make it in a folder that is new or empty; the desk opens it when it is whole.
    ///
    /// # Errors
    /// Why it cannot begin.
    pub fn begin(desk: &Arc<Desk>, folder: PathBuf) -> Result<(), String> {
        write::free_for_folder(&folder).map_err(|f| words_of(&f))?;
        let making = desk.making.clone();
        let stop = Arc::new(AtomicBool::new(false));
        {
            let mut inner = making.inner();
            if inner.stop.is_some() {
                return Err("a demonstration is being made already".into());
            }
            inner.stop = Some(stop.clone());
            inner.standing = Standing { doing: Some("beginning".into()), ..Standing::default() };
        }
        let desk = desk.clone();
        std::thread::spawn(move || {
            let told = Arc::new(Told { making: making.clone(), stop: stop.clone() });
            let made = watched(told, || {
                write::folder_with(&folder, |beside| {
                    demo::lay_out(beside)?;
                    if stop.load(Ordering::SeqCst) { Err(Failure::Stopped) } else { Ok(()) }
                })
            });
            let opened = made
                .map_err(|f| words_of(&f))
                .and_then(|()| desk.open(&folder).map_err(|e| e.to_string()));
            let mut inner = making.inner();
            inner.stop = None;
            inner.standing =
                Standing { done: opened.is_ok(), failed: opened.err(), ..Standing::default() };
        });
        Ok(())
    }
}
