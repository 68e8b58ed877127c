//! A sound file from the disk: fingerprint, levels and troubles in one go.

use std::fs::File;
use std::io::BufReader;
use std::path::PathBuf;

use wythe_project::survey::Recording;
use wythe_recording::{
    Analysis, Heard, NoSink, RecordingError, Samples, analyse_with_sink, fingerprint, open,
};

use super::{Session, saving};
use crate::failure::{Failure, message};
use crate::progress::{Progress, Stoppable};

/// A recording that was read.
pub struct Taken {
    /// Where it is on the disk.
    pub path: PathBuf,
    /// SHA-256 of its bytes.
    pub fingerprint: String,
    /// What was heard in the channels of the survey, in its order.
    pub heard: Heard,
}

/// Opens a sound file.
pub fn samples(path: &PathBuf) -> Result<Box<dyn Samples>, RecordingError> {
    let file = File::open(path).map_err(|cause| RecordingError::Io { at: 0, cause })?;
    open(BufReader::with_capacity(1 << 20, Stoppable::new(file)))
}

/// Where a file of the survey is on the disk.
pub fn place(session: &Session<'_>, file: &str) -> Result<PathBuf, Failure> {
    let path = session.folder.join(file);
    session.files.path(file).map_err(|e| match e.kind() {
        std::io::ErrorKind::PermissionDenied => refused(
            session,
            file,
            "leads outside the project folder",
            "put the recording into the project folder; it is never altered",
        ),
        _ => Failure::unreadable(&path, &e),
    })
}

/// A message about a file of the survey.
pub fn refused(session: &Session<'_>, file: &str, what: &str, remedy: &str) -> Failure {
    let place = session.folder.join(file).display().to_string();
    Failure::Messages(vec![message(what, Some(&place), remedy)])
}

/// Reads one recording of the survey.
pub fn read(session: &Session<'_>, recording: &Recording) -> Result<Taken, Failure> {
    let path = place(session, &recording.file)?;
    let refuse =
        |e: RecordingError, remedy: &str| refused(session, &recording.file, &e.to_string(), remedy);
    let wish = Analysis {
        channels: recording.channels.iter().map(|c| usize::from(c.number)).collect(),
        ..Analysis::default()
    };
    let mut progress = Progress::new("reading", &recording.file);
    // The fingerprint needs one core for as long as the levels need another.
    let (fingerprint, heard) = std::thread::scope(|scope| {
        let fingerprint = scope.spawn(|| {
            let file = File::open(&path).map_err(|cause| RecordingError::Io { at: 0, cause })?;
            fingerprint::of(BufReader::with_capacity(1 << 20, file))
        });
        let heard = samples(&path).map(|mut samples| {
            let mut tell = |share| progress.tell(share);
            if !session.wish.save {
                return analyse_with_sink(&mut *samples, &wish, &mut tell, &mut NoSink);
            }
            saving::with_history(session.folder, &recording.file, |sink| {
                analyse_with_sink(&mut *samples, &wish, &mut tell, sink)
            })
        });
        (fingerprint.join(), heard)
    });
    progress.done();
    let heard = match heard {
        Ok(Ok(heard)) => heard,
        Ok(Err(e)) => return Err(refuse(e, "see the channels in survey.toml")),
        Err(e) => return Err(refuse(e, "")),
    };
    let fingerprint = match fingerprint {
        Ok(Ok(f)) => f.to_string(),
        Ok(Err(e)) => return Err(refuse(e, "")),
        Err(_) => return Err(refused(session, &recording.file, "has no fingerprint", "")),
    };
    Ok(Taken { path, fingerprint, heard })
}
