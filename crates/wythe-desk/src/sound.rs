//! Levels against time of recordings, read once and kept while the file stays as it is.

use std::collections::BTreeMap;
use std::fs::File;
use std::io::BufReader;
use std::path::Path;
use std::sync::{Arc, Mutex, PoisonError};
use std::time::SystemTime;

use wythe_bands::weighting::Weighting;
use wythe_bands::{Level, Seconds};
use wythe_folder::load::DiskFiles;
use wythe_recording::bank::Signal;
use wythe_recording::{Analysis, analyse, open};

/// Values kept of a channel: twice as many as the widest picture has columns.
const MOST_VALUES: usize = 4000;

/// A-weighted, F-weighted levels of every channel.
#[derive(Clone, Debug, PartialEq)]
pub struct Traces {
    /// Length of the file.
    pub length: Seconds,
    /// Distance of the values.
    pub step: Seconds,
    /// Levels of each channel, dB re full scale; the largest of each step.
    pub channels: Vec<Vec<Option<Level>>>,
    /// Samples per second.
    pub rate: u32,
}

type Kept = (u64, Option<SystemTime>, Arc<Traces>);

/// Traces by file.
#[derive(Default)]
pub struct Histories(Mutex<BTreeMap<String, Kept>>);

impl Histories {
    /// The traces of a recording of the project; reads the file where it is new.
    ///
    /// # Errors
    /// Why it cannot be read, as a sentence without full stop.
    pub fn of(&self, folder: &Path, file: &str) -> Result<Arc<Traces>, String> {
        let path =
            DiskFiles::new(folder).path(file).map_err(|e| format!("{file} cannot be read: {e}"))?;
        let about = std::fs::metadata(&path).map_err(|e| format!("{file}: {e}"))?;
        let (size, changed) = (about.len(), about.modified().ok());
        let lock = || self.0.lock().unwrap_or_else(PoisonError::into_inner);
        if let Some((s, c, traces)) = lock().get(file)
            && *s == size
            && *c == changed
        {
            return Ok(traces.clone());
        }
        let traces = Arc::new(read(&path).map_err(|why| format!("{file}: {why}"))?);
        lock().insert(file.to_owned(), (size, changed, traces.clone()));
        Ok(traces)
    }
}

fn read(path: &Path) -> Result<Traces, String> {
    let file = File::open(path).map_err(|e| e.to_string())?;
    let mut samples = open(BufReader::with_capacity(1 << 20, file)).map_err(|e| e.to_string())?;
    let heard = analyse(&mut *samples, &Analysis::default(), |_| {}).map_err(|e| e.to_string())?;
    let Some(first) = heard.channels.first() else { return Err("holds no channel".into()) };
    let each = first.history.rows().div_ceil(MOST_VALUES).max(1);
    let channels = heard
        .channels
        .iter()
        .map(|c| {
            c.history
                .fast(Signal::Weighted(Weighting::A))
                .chunks(each)
                .map(|rows| {
                    let most = rows.iter().copied().fold(0.0f32, f32::max);
                    (most > 0.0).then(|| Level(10.0 * f64::from(most).log10()))
                })
                .collect()
        })
        .collect();
    Ok(Traces {
        length: first.history.length(),
        step: Seconds(first.history.row_length().0 * each as f64),
        channels,
        rate: heard.format.rate,
    })
}
