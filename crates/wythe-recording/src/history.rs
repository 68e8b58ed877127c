//! The history of one channel in frames of 100 ms.

use wythe_bands::weighting::Weighting;
use wythe_bands::{Band, Seconds};

use crate::bank::{FRAMES_PER_SECOND, FrameEnergies, SIGNALS, Signal};

/// One frame as it is handed to a [`FrameSink`].
#[derive(Clone, Copy, Debug)]
pub struct Frame<'a> {
    /// Channel, from 1 as on the recorder.
    pub channel: usize,
    /// Number of the frame; it begins at `index`/10 s.
    pub index: u64,
    /// Length, s: 0.1 but for the last of a recording.
    pub seconds: f64,
    /// Energies re full scale squared.
    pub energies: &'a FrameEnergies,
}

/// Takes every frame of every channel, in order of time within a channel: for writing tables larger
/// than memory. Frames of different channels may alternate in any regular way.
pub trait FrameSink {
    /// Takes one frame.
    fn frame(&mut self, frame: Frame<'_>);
}

/// Keeps nothing.
#[derive(Clone, Copy, Debug, Default)]
pub struct NoSink;

impl FrameSink for NoSink {
    fn frame(&mut self, _: Frame<'_>) {}
}

impl<F: FnMut(Frame<'_>)> FrameSink for F {
    fn frame(&mut self, frame: Frame<'_>) {
        self(frame);
    }
}

/// A, C, Z keep more than the bands do.
const WEIGHTINGS: usize = 3;
/// Columns of f32 in a row.
const COLUMNS: usize = 2 * SIGNALS + 4 * WEIGHTINGS;

/// The history of one channel: columns of f32, one row per frame, energies re full scale squared.
///
/// Its memory is bounded: when the given number of bytes is reached, neighbouring rows are merged
/// in pairs (energies averaged, maxima kept, the later F and S value kept) and rows are twice as
/// long from there on. Levels over stretches stay right; percentiles then rest on fewer samples.
#[derive(Clone, Debug)]
pub struct History {
    columns: Vec<Vec<f32>>,
    /// Frames in a row.
    merge: u64,
    largest_rows: usize,
    pending: Vec<f64>,
    pending_frames: u64,
    pending_seconds: f64,
    seconds: f64,
    /// Length of the last row where it is shorter, s.
    last_row: Option<f64>,
    held: Vec<Band>,
}

impl History {
    /// An empty history of the bands `held` that takes `bytes` at most (64 rows at least), and no
    /// more than the `expected` number of frames needs.
    pub(crate) fn new(held: Vec<Band>, bytes: usize, expected: Option<u64>) -> History {
        let rows = (bytes / (COLUMNS * 4)).max(64) / 2 * 2;
        // Room is taken once: columns that grow by doubling would need half as much again.
        let room = expected.and_then(|n| usize::try_from(n).ok()).map_or(rows, |n| n.min(rows));
        History {
            columns: (0..COLUMNS).map(|_| Vec::with_capacity(room)).collect(),
            merge: 1,
            largest_rows: rows,
            pending: vec![0.0; COLUMNS],
            pending_frames: 0,
            pending_seconds: 0.0,
            seconds: 0.0,
            last_row: None,
            held,
        }
    }

    pub(crate) fn push(&mut self, frame: &FrameEnergies, seconds: f64) {
        let p = &mut self.pending;
        for s in 0..SIGNALS {
            p[s] += frame.energy[s] * seconds;
        }
        p[SIGNALS..2 * SIGNALS].copy_from_slice(&frame.fast);
        for w in 0..WEIGHTINGS {
            let s = SIGNALS - WEIGHTINGS + w;
            let at = 2 * SIGNALS + 4 * w;
            p[at] = frame.slow[s];
            p[at + 1] = p[at + 1].max(frame.fast_max[s]);
            p[at + 2] = p[at + 2].max(frame.impulse_max[w]);
            p[at + 3] = p[at + 3].max(frame.peak2[s]);
        }
        self.pending_frames += 1;
        self.pending_seconds += seconds;
        self.seconds += seconds;
        if self.pending_frames == self.merge {
            self.append_pending();
        }
    }

    fn append_pending(&mut self) {
        if self.pending_frames == 0 {
            return;
        }
        if self.rows() >= self.largest_rows {
            self.halve();
            // The pending row now is half of a longer one.
            if self.pending_frames < self.merge {
                return;
            }
        }
        self.write_pending();
    }

    fn write_pending(&mut self) {
        let seconds = self.pending_seconds.max(f64::MIN_POSITIVE);
        for (at, (column, value)) in self.columns.iter_mut().zip(&mut self.pending).enumerate() {
            let v = if at < SIGNALS { *value / seconds } else { *value };
            column.push(v as f32);
            *value = 0.0;
        }
        let whole = self.merge as f64 / FRAMES_PER_SECOND as f64;
        if (self.pending_seconds - whole).abs() > 1e-9 {
            self.last_row = Some(self.pending_seconds);
        }
        self.pending_frames = 0;
        self.pending_seconds = 0.0;
    }

    fn halve(&mut self) {
        for (at, column) in self.columns.iter_mut().enumerate() {
            let rows = column.len();
            for row in 0..rows.div_ceil(2) {
                // The last of an odd number stays alone.
                let (a, b) = (column[2 * row], column[(2 * row + 1).min(rows - 1)]);
                column[row] = if at < SIGNALS {
                    (a + b) / 2.0
                } else if at >= 2 * SIGNALS && !(at - 2 * SIGNALS).is_multiple_of(4) {
                    a.max(b)
                } else {
                    b
                };
            }
            column.truncate(rows.div_ceil(2));
        }
        self.merge *= 2;
    }

    /// Closes the last, perhaps shorter row.
    pub(crate) fn finish(&mut self) {
        if self.pending_frames > 0 {
            self.write_pending();
        }
        self.columns.iter_mut().for_each(Vec::shrink_to_fit);
    }

    /// Number of rows.
    pub fn rows(&self) -> usize {
        self.columns[0].len()
    }

    /// Length of a row: 0.1 s, or a power of two times that in a long recording.
    pub fn row_length(&self) -> Seconds {
        Seconds(self.merge as f64 / FRAMES_PER_SECOND as f64)
    }

    /// Length of the whole.
    pub fn length(&self) -> Seconds {
        Seconds(self.seconds)
    }

    /// Begin and end of a row, s.
    pub fn row_time(&self, row: usize) -> (f64, f64) {
        let step = self.row_length().0;
        let from = row as f64 * step;
        let length = match self.last_row {
            Some(short) if row + 1 == self.rows() => short,
            _ => step,
        };
        (from, from + length)
    }

    /// The bands the sample rate holds.
    pub fn held(&self) -> &[Band] {
        &self.held
    }

    /// Mean squares of a signal re full scale squared, one per row.
    pub fn energy(&self, signal: Signal) -> &[f32] {
        &self.columns[signal.column()]
    }

    /// F-weighted mean squares of a signal at the end of every row.
    pub fn fast(&self, signal: Signal) -> &[f32] {
        &self.columns[SIGNALS + signal.column()]
    }

    /// S-weighted mean squares of A, C or Z at the end of every row.
    pub fn slow(&self, weighting: Weighting) -> &[f32] {
        self.weighted(weighting, 0)
    }

    /// Largest F-weighted mean square of A, C or Z inside every row.
    pub fn fast_max(&self, weighting: Weighting) -> &[f32] {
        self.weighted(weighting, 1)
    }

    /// Largest I-weighted mean square of A, C or Z inside every row.
    pub fn impulse_max(&self, weighting: Weighting) -> &[f32] {
        self.weighted(weighting, 2)
    }

    /// Largest squared sample of A, C or Z inside every row.
    pub fn peak2(&self, weighting: Weighting) -> &[f32] {
        self.weighted(weighting, 3)
    }

    fn weighted(&self, weighting: Weighting, which: usize) -> &[f32] {
        let w = Signal::Weighted(weighting).column() - (SIGNALS - WEIGHTINGS);
        &self.columns[2 * SIGNALS + 4 * w + which]
    }
}
