//! A second recorder brought onto the clock of the first, before anything else is asked of it.

use std::rc::Rc;

use wythe_bands::Remark;
use wythe_project::survey::Recording;
use wythe_recording::alignment::Alignment;
use wythe_recording::joined::align_recordings;
use wythe_recording::{Mask, RecordingError};

use super::reading::{self, Taken};
use super::{Listened, Session, file_name};
use crate::progress::Progress;

/// Channels of the second recorder that are tried, the loudest first.
const TRIED: usize = 4;

/// A recording that others ran beside, kept until they are read.
pub struct Kept {
    /// As the survey says.
    pub recording: Recording,
    /// Its histories.
    pub taken: Taken,
    /// What happened when in it.
    pub listened: Listened,
}

/// The recorder that ran at the same time, and how this one lies against it.
pub struct Partner {
    /// The other one.
    pub first: Rc<Kept>,
    alignment: Alignment,
}

impl Partner {
    /// How this one lies against the other.
    pub fn alignment(&self) -> Alignment {
        self.alignment
    }

    /// Times of this recording on the clock of the first.
    pub fn onto_first(&self, mask: &Mask) -> Mask {
        let e = self.alignment.ppm * 1e-6;
        self.moved(mask, |t| (t - self.alignment.offset.0) * (1.0 + e))
    }

    /// Times of the first on the clock of this recording.
    pub fn off_first(&self, mask: &Mask) -> Mask {
        let e = self.alignment.ppm * 1e-6;
        self.moved(mask, |t| self.alignment.offset.0 + t / (1.0 + e))
    }

    fn moved(&self, mask: &Mask, at: impl Fn(f64) -> f64) -> Mask {
        Mask::spans(mask.as_spans().iter().map(|(a, b)| (at(*a), at(*b))).collect())
    }
}

/// Whether a later recording of the survey ran beside this one.
pub fn wanted(session: &Session<'_>, recording: &Recording) -> bool {
    session.survey.recordings.iter().any(|r| r.same_time_as.as_ref() == Some(&recording.file))
}

/// Aligns a recording with the one it names; what stands against it is said.
pub fn partner(session: &mut Session<'_>, recording: &Recording, taken: &Taken) -> Option<Partner> {
    let other = recording.same_time_as.as_ref()?;
    let first = session.kept.get(other)?.clone();
    let found = align(&first, recording, taken);
    let (partner, remark) = match found {
        Ok(alignment) => {
            let text = format!(
                "brought onto the clock of {other}: it began {:.3} s {} and its clock is off by \
                 {:+.1} millionths ({} blocks, scatter {:.1} samples)",
                alignment.offset.0.abs(),
                if alignment.offset.0 > 0.0 { "earlier" } else { "later" },
                alignment.ppm,
                alignment.blocks,
                alignment.scatter
            );
            (Some(Partner { first, alignment }), Remark::new("measure::aligned", text))
        }
        Err(why) => {
            let text = format!(
                "could not be brought onto the clock of {other}: {why}. Its stretches are not taken \
                 over and nothing is recovered by coherence; mark source and background here too"
            );
            (None, Remark::new("measure::not-aligned", text))
        }
    };
    session.remarks.push(remark.at(recording.file.clone()));
    partner
}

fn align(first: &Kept, recording: &Recording, taken: &Taken) -> Result<Alignment, String> {
    let source = first.listened.source;
    let reference = first
        .listened
        .references
        .first()
        .copied()
        .ok_or("it holds no channel of the source room, so there is nothing to compare")?;
    let number = usize::from(first.recording.channels[reference].number);
    // The loudest that does not stand in the source room itself, where there is one.
    let mut order: Vec<usize> = (0..recording.channels.len()).collect();
    order.sort_by(|a, b| {
        let of = |k: &usize| {
            (Some(recording.channels[*k].room) == source, taken.heard.channels[*k].largest)
        };
        let (a, b) = (of(a), of(b));
        a.0.cmp(&b.0).then(b.1.total_cmp(&a.1))
    });
    let mut why: Option<RecordingError> = None;
    for k in order.into_iter().take(TRIED) {
        let histories =
            [&first.taken.heard.channels[reference].history, &taken.heard.channels[k].history];
        let own = usize::from(recording.channels[k].number);
        let name =
            format!("{} with {}", file_name(&recording.file), file_name(&first.recording.file));
        let mut progress = Progress::new("aligning", &name);
        let mut attempt = || {
            align_recordings(
                histories,
                &mut *reading::samples(&first.taken.path)?,
                &mut *reading::samples(&taken.path)?,
                [number, own],
                |share| progress.tell(share),
            )
        };
        let found = attempt();
        progress.done();
        match found {
            Ok(alignment) => return Ok(alignment),
            Err(e) => why = why.or(Some(e)),
        }
    }
    Err(why.map_or_else(|| "it has no channel".to_owned(), |e| e.to_string()))
}
