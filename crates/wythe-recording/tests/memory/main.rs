//! Memory does not grow with the length of a recording: bytes held are counted, not guessed from the
//! size of the process. Alone in its program, because the count is of the whole program.

use std::alloc::{GlobalAlloc, Layout, System};
use std::sync::atomic::{AtomicUsize, Ordering};

use wythe_bands::{Remark, Seconds};
use wythe_recording::recover::{Wish, recover};
use wythe_recording::test_signal::SplitMix64;
use wythe_recording::{
    Analysis, Container, Encoding, Format, Mask, RecordingError, Samples, analyse,
};

/// Counts what is held and the most that was.
struct Counting;

static HELD: AtomicUsize = AtomicUsize::new(0);
static MOST: AtomicUsize = AtomicUsize::new(0);

#[allow(unsafe_code)]
// SAFETY: everything is handed to the system's allocator unchanged; only sizes are added up.
unsafe impl GlobalAlloc for Counting {
    unsafe fn alloc(&self, layout: Layout) -> *mut u8 {
        let held = HELD.fetch_add(layout.size(), Ordering::Relaxed) + layout.size();
        MOST.fetch_max(held, Ordering::Relaxed);
        unsafe { System.alloc(layout) }
    }
    unsafe fn dealloc(&self, at: *mut u8, layout: Layout) {
        HELD.fetch_sub(layout.size(), Ordering::Relaxed);
        unsafe { System.dealloc(at, layout) }
    }
}

#[global_allocator]
static COUNTING: Counting = Counting;

/// Most bytes held during some work beyond those held before it.
fn most_held(work: impl FnOnce()) -> usize {
    let before = HELD.load(Ordering::Relaxed);
    MOST.store(before, Ordering::Relaxed);
    work();
    MOST.load(Ordering::Relaxed) - before
}

/// Strokes in some channels, as long as wished, made while they are read. Now and then something is
/// wrong with them: no list of troubles may grow either.
struct Made {
    format: Format,
    at: u64,
    random: SplitMix64,
    envelope: f64,
}

impl Made {
    fn new(hours: f64, channels: usize) -> Made {
        Made {
            format: Format {
                rate: 2_000,
                channels,
                frames: Some((hours * 3600.0 * 2_000.0) as u64),
                encoding: Encoding::Integer { valid_bits: 16 },
                container: Container::Wave64Bit,
                time_reference: None,
            },
            at: 0,
            random: SplitMix64::new(5),
            envelope: 0.0,
        }
    }
}

impl Samples for Made {
    fn format(&self) -> &Format {
        &self.format
    }

    fn read(&mut self, into: &mut [f64]) -> Result<usize, RecordingError> {
        let left = self.format.frames.unwrap_or(0) - self.at;
        let frames = (into.len() / self.format.channels).min(left as usize);
        for frame in into.chunks_exact_mut(self.format.channels).take(frames) {
            if self.at.is_multiple_of(700) {
                self.envelope = 0.1;
            }
            self.envelope *= 0.995;
            // Three samples at full scale every ten seconds.
            let clipped = self.at % 20_000 < 3;
            let x = self.envelope * (self.random.uniform() - 0.5);
            for (k, v) in frame.iter_mut().enumerate() {
                let noise = 0.02 * (self.random.uniform() - 0.5);
                *v = if clipped { 1.0 } else { x / (k + 1) as f64 + noise };
            }
            self.at += 1;
        }
        Ok(frames)
    }

    fn remarks(&self) -> &[Remark] {
        &[]
    }
}

#[test]
fn hours_need_no_more_than_minutes() {
    let heard = |hours: f64| {
        most_held(|| {
            let wish = Analysis { memory: 4_000_000, ..Analysis::default() };
            let heard = analyse(&mut Made::new(hours, 4), &wish, |_| {}).unwrap();
            assert!((heard.channels[3].history.length().0 - 3600.0 * hours).abs() < 1.0);
        })
    };
    // The transforms' tables and the threads are made once.
    heard(0.1);
    let (short, long) = (heard(1.5), heard(6.0));
    assert!(long <= short + 200_000, "an hour and a half holds {short} bytes, six {long}");
    assert!(short < 4_000_000 + 3_000_000, "{short}");

    let recovered = |hours: f64| {
        most_held(|| {
            let wish = Wish {
                references: vec![1, 2],
                receivers: vec![3, 4],
                mask: Mask::everything(),
                segment: Seconds(1.0),
                largest_delay: Seconds(0.1),
            };
            let mut open = || Ok(Box::new(Made::new(hours, 4)) as Box<dyn Samples>);
            assert_eq!(recover(&mut open, &wish, |_| {}).unwrap().len(), 2);
        })
    };
    recovered(0.1);
    let (short, long) = (recovered(0.25), recovered(2.0));
    assert!(long <= short + 100_000, "a quarter of an hour holds {short} bytes, two hours {long}");
}
