//! How far long work is: told on a terminal, or to whoever watches this thread, who may also stop
//! it.
//!
//! The watch belongs to the thread that does the work, because it would otherwise stand in every
//! signature between the face and the reader of samples.

use std::cell::RefCell;
use std::io::{self, IsTerminal, Read, Seek, SeekFrom, Write};
use std::sync::Arc;

/// Somebody who waits for long work.
pub trait Watch: Send + Sync {
    /// What is being done and the share done of it, 0 to 1.
    fn tell(&self, doing: &str, share: f64);
    /// Whether the work is no longer wanted.
    fn stopped(&self) -> bool;
}

thread_local! {
    static WATCH: RefCell<Option<Arc<dyn Watch>>> = const { RefCell::new(None) };
}

/// Does work on this thread under a watch.
pub fn watched<T>(watch: Arc<dyn Watch>, work: impl FnOnce() -> T) -> T {
    /// Takes the watch away again, also when the work panics.
    struct Back(Option<Arc<dyn Watch>>);
    impl Drop for Back {
        fn drop(&mut self) {
            let before = self.0.take();
            WATCH.with(|w| *w.borrow_mut() = before);
        }
    }
    let before = WATCH.with(|w| w.borrow_mut().replace(watch));
    let _back = Back(before);
    work()
}

fn watch() -> Option<Arc<dyn Watch>> {
    WATCH.with(|w| w.borrow().clone())
}

/// Whether the work of this thread is no longer wanted.
pub fn stopped() -> bool {
    watch().is_some_and(|w| w.stopped())
}

/// Says what this thread does now, for work whose share is not known.
pub fn doing(what: &str) {
    if let Some(watch) = watch() {
        watch.tell(what, 0.0);
    }
}

/// A line that says how far a piece of work is; silent where there is neither watch nor terminal.
pub struct Progress {
    words: String,
    watch: Option<Arc<dyn Watch>>,
    shown: bool,
    last: f64,
}

impl Progress {
    /// A line such as `reading hall.wav`.
    pub fn new(verb: &str, name: &str) -> Progress {
        let watch = watch();
        Progress {
            words: format!("{verb} {name}"),
            shown: watch.is_none() && io::stderr().is_terminal(),
            watch,
            last: -1.0,
        }
    }

    /// Share done, 0 to 1.
    pub fn tell(&mut self, share: f64) {
        if share - self.last < 0.01 {
            return;
        }
        self.last = share;
        if let Some(watch) = &self.watch {
            watch.tell(&self.words, share);
        }
        if self.shown {
            let mut err = io::stderr();
            let filled = (24.0 * share).round() as usize;
            let bar = format!("{}{}", "█".repeat(filled), "·".repeat(24 - filled.min(24)));
            // Nothing depends on whether the line could be shown.
            let _ = write!(err, "\r  {bar} {:>3.0} % {}", 100.0 * share, self.words);
            let _ = err.flush();
        }
    }

    /// Wipes the line.
    pub fn done(&mut self) {
        if self.shown {
            eprint!("\r{}\r", " ".repeat(self.words.chars().count() + 36));
        }
    }
}

/// A file whose reading ends with an error once the work is no longer wanted.
pub struct Stoppable<R> {
    inner: R,
    watch: Option<Arc<dyn Watch>>,
}

impl<R> Stoppable<R> {
    /// Reading under the watch of this thread.
    pub fn new(inner: R) -> Stoppable<R> {
        Stoppable { inner, watch: watch() }
    }
}

impl<R: Read> Read for Stoppable<R> {
    fn read(&mut self, into: &mut [u8]) -> io::Result<usize> {
        if self.watch.as_ref().is_some_and(|w| w.stopped()) {
            return Err(io::Error::other("stopped as asked"));
        }
        self.inner.read(into)
    }
}

impl<R: Seek> Seek for Stoppable<R> {
    fn seek(&mut self, to: SeekFrom) -> io::Result<u64> {
        self.inner.seek(to)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::sync::Mutex;
    use std::sync::atomic::{AtomicBool, Ordering};

    #[derive(Default)]
    struct Notes {
        said: Mutex<Vec<String>>,
        stop: AtomicBool,
    }

    impl Watch for Notes {
        fn tell(&self, doing: &str, share: f64) {
            if let Ok(mut said) = self.said.lock() {
                said.push(format!("{doing} {share:.1}"));
            }
            self.stop.store(share >= 0.5, Ordering::SeqCst);
        }
        fn stopped(&self) -> bool {
            self.stop.load(Ordering::SeqCst)
        }
    }

    #[test]
    fn a_watch_hears_of_the_work_and_stops_its_reading() {
        let notes = Arc::new(Notes::default());
        watched(notes.clone(), || {
            let mut file = Stoppable::new(&b"abcdef"[..]);
            let mut two = [0; 2];
            let mut progress = Progress::new("reading", "x.wav");
            progress.tell(0.1);
            assert!(file.read_exact(&mut two).is_ok());
            progress.tell(0.6);
            assert!(file.read_exact(&mut two).is_err());
        });
        assert!(!stopped(), "the watch ends with the work");
        assert_eq!(*notes.said.lock().unwrap(), ["reading x.wav 0.1", "reading x.wav 0.6"]);
    }
}
