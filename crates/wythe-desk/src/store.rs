//! The texts of the open project: saved whole, with a history that survives a restart, and never
//! over something somebody else wrote meanwhile.
//!
//! Every state is first put into `.wythe/history/`, then into the project's own files. Whatever
//! moment the power fails at, each file is either as before or as after, and the state that was
//! being saved is in the history.

use std::fs;
use std::io::ErrorKind;
use std::path::{Path, PathBuf};
use std::sync::{Mutex, PoisonError};
use std::time::{SystemTime, UNIX_EPOCH};

use serde::{Deserialize, Serialize};
use wythe_folder::write;
use wythe_project::{LARGEST_TEXT, PROJECT_FILE, SURVEY_FILE};

/// States kept; the oldest go. A day of work on one building made about a hundred.
const MOST_VERSIONS: usize = 300;

/// The two texts the desk writes.
#[derive(Clone, Debug, PartialEq, Eq, Default, Serialize, Deserialize)]
pub struct Texts {
    /// Text of the project file.
    pub project: String,
    /// Text of the survey, where there is one.
    pub survey: Option<String>,
}

/// One state of the texts.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Version {
    /// What led to it, for people: `height of bedroom`.
    pub what: String,
    /// Seconds since 1970 when it was saved.
    pub saved: u64,
    /// The texts.
    pub texts: Texts,
}

/// Why texts were not read or saved.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum StoreError {
    /// Somebody else changed the files.
    #[error("the files were changed by another program or page meanwhile; nothing was saved")]
    ChangedUnderneath,
    /// There is no earlier or later state.
    #[error("there is no state to go to")]
    NothingThere,
    /// A text is too large to be a project.
    #[error("{0} is larger than 4 MiB, which no description of a building is")]
    TooLarge(String),
    /// The disk.
    #[error("{0}")]
    Disk(String),
}

/// The files of one project folder.
pub struct Store {
    folder: PathBuf,
    /// One writer at a time.
    writing: Mutex<()>,
}

impl Store {
    /// The store of a folder that holds a project file.
    ///
    /// # Errors
    /// [`StoreError::Disk`] where it cannot be read.
    pub fn open(folder: &Path) -> Result<Store, StoreError> {
        let folder = folder.canonicalize().map_err(|e| disk(folder, &e))?;
        let store = Store { folder, writing: Mutex::new(()) };
        store.clear_halves();
        let texts = store.texts()?;
        // A crash between the files and the mark leaves the mark one behind.
        if let Some(at) = store.at()
            && store.version(at).is_none_or(|v| v.texts != texts)
            && store.version(at + 1).is_some_and(|v| v.texts == texts)
        {
            store.set_at(at + 1)?;
        }
        Ok(store)
    }

    /// The project folder.
    pub fn folder(&self) -> &Path {
        &self.folder
    }

    /// What stands on the disk now.
    ///
    /// # Errors
    /// [`StoreError`] where it cannot be read.
    pub fn texts(&self) -> Result<Texts, StoreError> {
        Ok(Texts {
            project: self.read(PROJECT_FILE)?.unwrap_or_default(),
            survey: self.read(SURVEY_FILE)?,
        })
    }

    fn read(&self, name: &str) -> Result<Option<String>, StoreError> {
        let path = self.folder.join(name);
        // A link that leads out of the folder is not followed.
        match path.canonicalize() {
            Err(e) if e.kind() == ErrorKind::NotFound => return Ok(None),
            Err(e) => return Err(disk(&path, &e)),
            Ok(whole) if !whole.starts_with(&self.folder) => {
                return Err(StoreError::Disk(format!("{name} leads out of the project folder")));
            }
            Ok(_) => {}
        }
        let size = fs::metadata(&path).map_err(|e| disk(&path, &e))?.len();
        if size > LARGEST_TEXT {
            return Err(StoreError::TooLarge(name.to_owned()));
        }
        let bytes = fs::read(&path).map_err(|e| disk(&path, &e))?;
        String::from_utf8(bytes)
            .map(Some)
            .map_err(|_| StoreError::Disk(format!("{name} is no text in UTF-8")))
    }

    /// Saves a new state over the one that was seen.
    ///
    /// # Errors
    /// [`StoreError::ChangedUnderneath`] when the files no longer hold what was seen; nothing is
    /// saved then.
    pub fn save(&self, seen: &Texts, new: &Texts, what: &str) -> Result<(), StoreError> {
        let _one = self.writing.lock().unwrap_or_else(PoisonError::into_inner);
        let there = self.texts()?;
        if there != *seen {
            return Err(StoreError::ChangedUnderneath);
        }
        if new == seen {
            return Ok(());
        }
        for (name, text) in [(PROJECT_FILE, Some(&new.project)), (SURVEY_FILE, new.survey.as_ref())]
        {
            if text.is_some_and(|t| t.len() as u64 > LARGEST_TEXT) {
                return Err(StoreError::TooLarge(name.to_owned()));
            }
        }
        let at = self.recorded(&there)? + 1;
        self.forget_after(at - 1);
        self.put_version(at, what, new)?;
        self.put(&there, new)?;
        self.set_at(at)?;
        self.prune(at);
        Ok(())
    }

    /// Goes back one state; says what was taken back.
    ///
    /// # Errors
    /// [`StoreError::NothingThere`] at the first state.
    pub fn undo(&self) -> Result<String, StoreError> {
        let _one = self.writing.lock().unwrap_or_else(PoisonError::into_inner);
        let there = self.texts()?;
        let at = self.recorded(&there)?;
        let undone = self.version(at).ok_or(StoreError::NothingThere)?;
        let before = at
            .checked_sub(1)
            .and_then(|b| Some((b, self.version(b)?)))
            .ok_or(StoreError::NothingThere)?;
        self.put(&there, &before.1.texts)?;
        self.set_at(before.0)?;
        Ok(undone.what)
    }

    /// Goes forward one state that was taken back; says what was done again.
    ///
    /// # Errors
    /// [`StoreError::NothingThere`] at the last state, or when somebody changed the files since.
    pub fn redo(&self) -> Result<String, StoreError> {
        let _one = self.writing.lock().unwrap_or_else(PoisonError::into_inner);
        let there = self.texts()?;
        let at = self.at().ok_or(StoreError::NothingThere)?;
        if self.version(at).is_none_or(|v| v.texts != there) {
            return Err(StoreError::NothingThere);
        }
        let next = self.version(at + 1).ok_or(StoreError::NothingThere)?;
        self.put(&there, &next.texts)?;
        self.set_at(at + 1)?;
        Ok(next.what)
    }

    /// What undoing and redoing would take back or do again.
    pub fn steps(&self) -> (Option<String>, Option<String>) {
        let Some(at) = self.at() else { return (None, None) };
        let here = self.version(at);
        let undo = here.filter(|_| at > 0 && self.place(at - 1).exists()).map(|v| v.what);
        (undo, self.version(at + 1).map(|v| v.what))
    }

    /// Number of the state on the disk, put into the history first where it is new.
    fn recorded(&self, there: &Texts) -> Result<u64, StoreError> {
        let Some(at) = self.at() else {
            self.put_version(0, "the project as it was opened", there)?;
            self.set_at(0)?;
            return Ok(0);
        };
        if self.version(at).is_some_and(|v| v.texts == *there) {
            return Ok(at);
        }
        self.forget_after(at);
        self.put_version(at + 1, "a change made outside the desk", there)?;
        self.set_at(at + 1)?;
        Ok(at + 1)
    }

    fn put(&self, there: &Texts, new: &Texts) -> Result<(), StoreError> {
        if there.project != new.project {
            self.write(&self.folder.join(PROJECT_FILE), &new.project)?;
        }
        let survey = self.folder.join(SURVEY_FILE);
        match &new.survey {
            Some(text) if there.survey.as_ref() != Some(text) => self.write(&survey, text),
            None if there.survey.is_some() => {
                fs::remove_file(&survey).map_err(|e| disk(&survey, &e))
            }
            _ => Ok(()),
        }
    }

    fn write(&self, path: &Path, text: &str) -> Result<(), StoreError> {
        write::text(path, text).map_err(|failure| StoreError::Disk(crate::words_of(&failure)))
    }

    fn history(&self) -> PathBuf {
        self.folder.join(".wythe").join("history")
    }

    fn place(&self, number: u64) -> PathBuf {
        self.history().join(format!("{number:08}.json"))
    }

    fn version(&self, number: u64) -> Option<Version> {
        serde_json::from_slice(&fs::read(self.place(number)).ok()?).ok()
    }

    fn put_version(&self, number: u64, what: &str, texts: &Texts) -> Result<(), StoreError> {
        let saved =
            SystemTime::now().duration_since(UNIX_EPOCH).map(|d| d.as_secs()).unwrap_or_default();
        let version = Version { what: what.to_owned(), saved, texts: texts.clone() };
        let text = serde_json::to_string(&version).unwrap_or_default();
        self.write(&self.place(number), &text)
    }

    fn at(&self) -> Option<u64> {
        fs::read_to_string(self.history().join("at")).ok()?.trim().parse().ok()
    }

    fn set_at(&self, number: u64) -> Result<(), StoreError> {
        self.write(&self.history().join("at"), &format!("{number}\n"))
    }

    /// States that were taken back are replaced by the new one.
    fn forget_after(&self, at: u64) {
        let mut number = at + 1;
        // That one cannot be removed only keeps it longer.
        while fs::remove_file(self.place(number)).is_ok() {
            number += 1;
        }
    }

    fn prune(&self, at: u64) {
        if let Some(old) = at.checked_sub(MOST_VERSIONS as u64) {
            let _ = fs::remove_file(self.place(old));
        }
    }

    /// Half-written files of a run that was killed.
    fn clear_halves(&self) {
        for folder in [self.folder.clone(), self.history()] {
            for entry in fs::read_dir(folder).into_iter().flatten().flatten() {
                let name = entry.file_name().to_string_lossy().into_owned();
                let ours = [PROJECT_FILE, SURVEY_FILE, "at"]
                    .iter()
                    .any(|n| name.starts_with(&format!(".{n}.")))
                    || name.starts_with(".0");
                if ours && name.ends_with(".part") {
                    let _ = fs::remove_file(entry.path());
                }
            }
        }
    }
}

fn disk(path: &Path, error: &std::io::Error) -> StoreError {
    let name = path.file_name().map(|n| n.to_string_lossy().into_owned()).unwrap_or_default();
    StoreError::Disk(format!("{name}: {error}"))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn folder(name: &str) -> PathBuf {
        let path = std::env::temp_dir().join(format!("wythe-store-{name}-{}", std::process::id()));
        let _ = fs::remove_dir_all(&path);
        fs::create_dir_all(&path).unwrap();
        fs::write(path.join(PROJECT_FILE), "a").unwrap();
        path
    }

    fn text(project: &str) -> Texts {
        Texts { project: project.into(), survey: None }
    }

    #[test]
    fn undo_and_redo_survive_a_restart() {
        let path = folder("restart");
        let store = Store::open(&path).unwrap();
        store.save(&text("a"), &text("b"), "first").unwrap();
        let with = Texts { project: "b".into(), survey: Some("s".into()) };
        store.save(&text("b"), &with, "second").unwrap();
        drop(store);
        let store = Store::open(&path).unwrap();
        assert_eq!(store.steps(), (Some("second".into()), None));
        assert_eq!(store.undo().unwrap(), "second");
        assert_eq!(store.texts().unwrap(), text("b"), "the survey goes as it came");
        assert_eq!(store.undo().unwrap(), "first");
        assert_eq!(store.texts().unwrap(), text("a"));
        assert!(matches!(store.undo(), Err(StoreError::NothingThere)));
        drop(store);
        let store = Store::open(&path).unwrap();
        assert_eq!(store.redo().unwrap(), "first");
        assert_eq!(store.redo().unwrap(), "second");
        assert_eq!(store.texts().unwrap(), with);
        assert!(matches!(store.redo(), Err(StoreError::NothingThere)));
    }

    #[test]
    fn a_change_underneath_is_neither_overwritten_nor_lost() {
        let path = folder("underneath");
        let store = Store::open(&path).unwrap();
        store.save(&text("a"), &text("b"), "mine").unwrap();
        fs::write(path.join(PROJECT_FILE), "theirs").unwrap();
        let refused = store.save(&text("b"), &text("c"), "mine again");
        assert!(matches!(refused, Err(StoreError::ChangedUnderneath)));
        assert_eq!(store.texts().unwrap(), text("theirs"));
        store.save(&text("theirs"), &text("both"), "after looking").unwrap();
        assert_eq!(store.undo().unwrap(), "after looking");
        assert_eq!(store.texts().unwrap(), text("theirs"));
        assert_eq!(store.undo().unwrap(), "a change made outside the desk");
        assert_eq!(store.texts().unwrap(), text("b"));
    }

    #[test]
    fn a_crash_at_any_step_of_saving_loses_nothing() {
        // What saving leaves behind when it is cut off after its first, second and third write.
        for cut in 1..=3 {
            let path = folder(&format!("crash-{cut}"));
            let store = Store::open(&path).unwrap();
            store.save(&text("a"), &text("b"), "first").unwrap();
            store.put_version(2, "second", &text("c")).unwrap();
            if cut >= 2 {
                store.put(&text("b"), &text("c")).unwrap();
            }
            if cut >= 3 {
                store.set_at(2).unwrap();
            }
            fs::write(path.join(".wythe.toml.77.part"), "half").unwrap();
            drop(store);
            let store = Store::open(&path).unwrap();
            assert!(!path.join(".wythe.toml.77.part").exists());
            if cut == 1 {
                assert_eq!(store.texts().unwrap(), text("b"));
                assert_eq!(store.redo().unwrap(), "second");
            }
            assert_eq!(store.texts().unwrap(), text("c"));
            assert_eq!(store.undo().unwrap(), "second");
            assert_eq!(store.texts().unwrap(), text("b"));
        }
    }

    #[test]
    #[cfg(unix)]
    fn a_link_out_of_the_folder_is_not_read() {
        let path = folder("link");
        std::os::unix::fs::symlink("/etc/hostname", path.join(SURVEY_FILE)).unwrap();
        assert!(matches!(Store::open(&path), Err(StoreError::Disk(_))));
    }
}
