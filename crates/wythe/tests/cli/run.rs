//! Folders that vanish again and a way to call the program.

use std::path::{Path, PathBuf};
use std::process::Command;
use std::sync::atomic::{AtomicU32, Ordering};

use serde_json::Value;

/// A folder of its own for one test.
pub struct Folder(PathBuf);

impl Folder {
    pub fn new() -> Folder {
        static NEXT: AtomicU32 = AtomicU32::new(0);
        let name =
            format!("wythe-test-{}-{}", std::process::id(), NEXT.fetch_add(1, Ordering::Relaxed));
        let path = std::env::temp_dir().join(name);
        std::fs::create_dir_all(&path).unwrap();
        Folder(path)
    }

    pub fn path(&self) -> &Path {
        &self.0
    }

    pub fn file(&self, name: &str) -> PathBuf {
        self.0.join(name)
    }

    pub fn write(&self, name: &str, bytes: impl AsRef<[u8]>) -> PathBuf {
        let path = self.file(name);
        std::fs::create_dir_all(path.parent().unwrap()).unwrap();
        std::fs::write(&path, bytes).unwrap();
        path
    }
}

impl Drop for Folder {
    fn drop(&mut self) {
        // A folder left behind in the temporary place is no failure of the test.
        let _ = std::fs::remove_dir_all(&self.0);
    }
}

/// What a call gave.
pub struct Said {
    pub code: i32,
    pub out: String,
    pub err: String,
}

impl Said {
    /// Standard output as one JSON object.
    pub fn json(&self) -> Value {
        serde_json::from_str(&self.out)
            .unwrap_or_else(|e| panic!("{e}\n{}\n{}", self.out, self.err))
    }
}

/// Calls the program.
pub fn wythe<S: AsRef<std::ffi::OsStr>>(arguments: impl IntoIterator<Item = S>) -> Said {
    let output = Command::new(env!("CARGO_BIN_EXE_wythe")).args(arguments).output().unwrap();
    Said {
        code: output.status.code().expect("the program was not killed"),
        out: String::from_utf8(output.stdout).unwrap(),
        err: String::from_utf8(output.stderr).unwrap(),
    }
}

/// Calls the program with a command, a path and further words.
pub fn on(command: &str, path: &Path, more: &[&str]) -> Said {
    let mut words = vec![command.as_ref(), path.as_os_str()];
    words.extend(more.iter().map(|w| w.as_ref() as &std::ffi::OsStr));
    wythe(words)
}
