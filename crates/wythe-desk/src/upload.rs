//! Recordings dropped onto the page: streamed to the disk, never over anything, within bounds.

use std::path::{Path, PathBuf};

use axum::body::Body;
use futures_util::StreamExt;
use tokio::io::AsyncWriteExt;

/// Largest recording taken: a day of sixteen channels at 48 kHz and 24 bit is 199 GB; nobody
/// sends that through a browser. 32 GB is a day of two channels with room to spare.
pub const LARGEST: u64 = 32_000_000_000;

/// Endings of files the program reads.
const ENDINGS: [&str; 5] = ["wav", "flac", "rf64", "bw64", "wave"];

/// Why a recording was not taken.
#[derive(Debug, thiserror::Error, PartialEq, Eq)]
#[non_exhaustive]
pub enum UploadError {
    /// The name.
    #[error(
        "`{0}` is no name for a recording; letters, digits, dots, dashes and an ending such as .wav"
    )]
    Name(String),
    /// There is one already.
    #[error(
        "recordings/{0} is there already, and recordings are never written over; rename the new one"
    )]
    There(String),
    /// Too large.
    #[error("the file is larger than 32 GB; copy it into the folder recordings by hand")]
    TooLarge,
    /// The line broke.
    #[error("the transfer broke off; nothing was kept")]
    Broken,
    /// The disk.
    #[error("the disk refused it: {0}")]
    Disk(String),
}

/// A name that stays in its folder on every system.
///
/// # Errors
/// [`UploadError::Name`].
pub fn checked_name(name: &str) -> Result<String, UploadError> {
    let refuse = || UploadError::Name(name.chars().take(80).collect());
    let plain = name
        .chars()
        .all(|c| c.is_alphanumeric() || matches!(c, '.' | '-' | '_' | ' ' | '(' | ')' | '+'));
    let ending = name.rsplit_once('.').map(|(_, e)| e.to_ascii_lowercase()).unwrap_or_default();
    let begins_well = name.chars().next().is_some_and(char::is_alphanumeric);
    if !plain || !begins_well || name.contains("..") || name.len() > 200 {
        return Err(refuse());
    }
    if !ENDINGS.contains(&ending.as_str()) {
        return Err(refuse());
    }
    Ok(name.to_owned())
}

/// Takes a file into `recordings/` of a project folder; says where it is, relative to the folder.
/// It appears when it is whole.
///
/// # Errors
/// [`UploadError`]; nothing is kept then.
pub async fn take(
    folder: &Path,
    name: &str,
    stated: Option<u64>,
    body: Body,
    largest: u64,
) -> Result<String, UploadError> {
    let name = checked_name(name)?;
    if stated.is_some_and(|s| s > largest) {
        return Err(UploadError::TooLarge);
    }
    let disk = |e: std::io::Error| UploadError::Disk(e.to_string());
    let inside = folder.join("recordings");
    std::fs::create_dir_all(&inside).map_err(disk)?;
    // A link in place of the folder would lead out of the project.
    let real = inside.canonicalize().map_err(disk)?;
    if !real.starts_with(folder.canonicalize().map_err(disk)?) {
        return Err(UploadError::Disk("recordings leads out of the project folder".into()));
    }
    let place = real.join(&name);
    if place.exists() {
        return Err(UploadError::There(name));
    }
    let half = real.join(format!(".{name}.{}.part", crate::guard::secret().map_err(disk)?));
    let guard = Half(half.clone());
    let mut file = tokio::fs::File::create_new(&half).await.map_err(disk)?;
    let mut stream = body.into_data_stream();
    let mut sum = 0u64;
    while let Some(piece) = stream.next().await {
        let piece = piece.map_err(|_| UploadError::Broken)?;
        sum += piece.len() as u64;
        if sum > largest {
            return Err(UploadError::TooLarge);
        }
        file.write_all(&piece).await.map_err(disk)?;
    }
    if stated.is_some_and(|s| s != sum) {
        return Err(UploadError::Broken);
    }
    file.sync_all().await.map_err(disk)?;
    // A hard link fails where the name is taken meanwhile; a rename would replace it.
    let placed = std::fs::hard_link(&half, &place);
    match placed {
        Ok(()) => {}
        Err(e) if e.kind() == std::io::ErrorKind::AlreadyExists => {
            return Err(UploadError::There(name));
        }
        // Some disks know no links.
        Err(_) if !place.exists() => std::fs::rename(&half, &place).map_err(disk)?,
        Err(e) => return Err(disk(e)),
    }
    drop(guard);
    Ok(format!("recordings/{name}"))
}

/// A half-written file, taken away whatever happens.
struct Half(PathBuf);

impl Drop for Half {
    fn drop(&mut self) {
        // It is gone already where it was renamed.
        let _ = std::fs::remove_file(&self.0);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_stay_in_their_folder() {
        for bad in [
            "",
            "x",
            "x.exe",
            "../x.wav",
            "a/b.wav",
            "a\\b.wav",
            ".x.wav",
            "x..wav",
            "c:x.wav",
            "x\n.wav",
            "x\0.wav",
            "-x.wav",
            "/etc/x.wav",
        ] {
            assert!(checked_name(bad).is_err(), "{bad:?}");
        }
        for good in ["x.wav", "Hall 1 (door shut).WAV", "Übung_2.flac"] {
            assert!(checked_name(good).is_ok(), "{good}");
        }
    }

    fn folder(name: &str) -> PathBuf {
        let path = std::env::temp_dir().join(format!("wythe-up-{name}-{}", std::process::id()));
        let _ = std::fs::remove_dir_all(&path);
        std::fs::create_dir_all(&path).unwrap();
        path
    }

    fn sent(folder: &Path, stated: Option<u64>, largest: u64) -> Result<String, UploadError> {
        let body = Body::from("0123456789");
        tokio::runtime::Builder::new_current_thread()
            .enable_all()
            .build()
            .unwrap()
            .block_on(take(folder, "x.wav", stated, body, largest))
    }

    #[test]
    fn a_recording_arrives_once_and_whole_or_not_at_all() {
        let path = folder("once");
        assert_eq!(sent(&path, None, 9), Err(UploadError::TooLarge));
        assert_eq!(sent(&path, Some(10), 9), Err(UploadError::TooLarge));
        assert_eq!(sent(&path, Some(11), 99), Err(UploadError::Broken));
        assert_eq!(std::fs::read_dir(path.join("recordings")).unwrap().count(), 0);
        assert_eq!(sent(&path, Some(10), 10).unwrap(), "recordings/x.wav");
        assert_eq!(sent(&path, Some(10), 10), Err(UploadError::There("x.wav".into())));
        assert_eq!(std::fs::read(path.join("recordings/x.wav")).unwrap(), b"0123456789");
        assert_eq!(std::fs::read_dir(path.join("recordings")).unwrap().count(), 1);
    }

    #[test]
    #[cfg(unix)]
    fn a_link_out_of_the_project_takes_nothing() {
        let (path, outside) = (folder("link"), folder("outside"));
        std::os::unix::fs::symlink(&outside, path.join("recordings")).unwrap();
        assert!(matches!(sent(&path, None, 99), Err(UploadError::Disk(_))));
        assert_eq!(std::fs::read_dir(outside).unwrap().count(), 0);
    }
}
