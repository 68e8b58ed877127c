//! Results on the disk: `results/measured.json` and a history per recording.

use std::io::BufWriter;
use std::path::{Path, PathBuf};

use wythe_recording::bank::Signal;
use wythe_recording::columns::{Column, TableWriter};
use wythe_recording::{Frame, FrameSink, Heard, RecordingError};

use super::file_name;
use crate::failure::Failure;
use crate::write;

/// Rows written at once.
const GROUP: usize = 20_000;

/// Writes the record of a measurement.
pub fn save(folder: &Path, record: &serde_json::Value) -> Result<(), Failure> {
    let text = serde_json::to_string_pretty(record).unwrap_or_default();
    write::text(&folder.join("results").join("measured.json"), &(text + "\n"))
}

/// Where the history of a recording is.
pub fn place(folder: &Path, file: &str) -> PathBuf {
    folder.join("results").join("history").join(format!("{}.parquet", file_name(file)))
}

/// Runs an analysis while its frames are written to `results/history/`. The file appears when it is
/// whole.
pub fn with_history(
    folder: &Path,
    file: &str,
    run: impl FnOnce(&mut dyn FrameSink) -> Result<Heard, RecordingError>,
) -> Result<Heard, RecordingError> {
    let path = place(folder, file);
    let mut heard = None;
    let done = write::atomically(&path, |out| {
        let mut sink = History::new(BufWriter::new(out))?;
        heard = Some(run(&mut sink));
        sink.finish()
    });
    match (heard, done) {
        (Some(Err(e)), _) => Err(e),
        (Some(Ok(heard)), Ok(())) => Ok(heard),
        (_, Err(failure)) => {
            let text = match failure {
                Failure::Messages(all) => all.join(" "),
                Failure::PipeClosed => "the disk went away".into(),
                Failure::Stopped => "stopped as asked".into(),
            };
            Err(RecordingError::Io { at: 0, cause: std::io::Error::other(text) })
        }
        (None, Ok(())) => Err(RecordingError::Empty),
    }
}

/// Levels re full scale of every frame: channel, number of the tenth of a second, equivalent level of
/// bands and weightings, F level of the weightings.
struct History<W: std::io::Write> {
    table: Option<TableWriter<W>>,
    failed: Option<std::io::Error>,
    channel: Vec<i32>,
    frame: Vec<i32>,
    levels: Vec<Vec<f32>>,
}

impl<W: std::io::Write> History<W> {
    fn new(out: W) -> std::io::Result<History<W>> {
        let mut names = vec!["channel".to_owned(), "tenth_of_second".to_owned()];
        for signal in Signal::all() {
            names.push(match signal {
                Signal::Band(band) => format!("leq_{}_hz_dbfs", band.nominal()),
                Signal::Weighted(w) => format!("l{}eq_dbfs", format!("{w:?}").to_lowercase()),
            });
        }
        names.extend(["laf_dbfs", "lcf_dbfs", "lzf_dbfs"].map(str::to_owned));
        let columns = names.len() - 2;
        Ok(History {
            table: Some(TableWriter::new(out, names)?),
            failed: None,
            channel: Vec::new(),
            frame: Vec::new(),
            levels: vec![Vec::new(); columns],
        })
    }

    fn flush(&mut self) {
        let Some(table) = &mut self.table else { return };
        let mut columns = vec![Column::Whole(&self.channel), Column::Whole(&self.frame)];
        columns.extend(self.levels.iter().map(|l| Column::Float(l)));
        if let Err(e) = table.rows(&columns) {
            self.failed.get_or_insert(e);
        }
        self.channel.clear();
        self.frame.clear();
        self.levels.iter_mut().for_each(Vec::clear);
    }

    fn finish(mut self) -> std::io::Result<()> {
        self.flush();
        if let Some(e) = self.failed {
            return Err(e);
        }
        match self.table.take() {
            Some(table) => table.finish().map(|_| ()),
            None => Ok(()),
        }
    }
}

impl<W: std::io::Write> FrameSink for History<W> {
    fn frame(&mut self, frame: Frame<'_>) {
        // Digital silence and bands the rate does not hold have no level.
        let level = |e: f64| if e > 0.0 { (10.0 * e.log10()) as f32 } else { f32::NAN };
        self.channel.push(frame.channel as i32);
        self.frame.push(i32::try_from(frame.index).unwrap_or(i32::MAX));
        let e = frame.energies;
        let fast = &e.fast[e.fast.len() - 3..];
        for (column, value) in self.levels.iter_mut().zip(e.energy.iter().chain(fast)) {
            column.push(level(*value));
        }
        if self.channel.len() >= GROUP {
            self.flush();
        }
    }
}
