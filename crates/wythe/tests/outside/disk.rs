//! A disk with no room left, and a folder nobody may write to.

use std::path::{Path, PathBuf};
use std::process::Command;

use crate::run::{Folder, on};

const HOUSE: &str = include_str!("../../../wythe-report/tests/data/house.toml");

/// A disk of some kilobytes that goes away with the test.
struct Disk(PathBuf);

impl Disk {
    fn new(folder: &Folder, kilobytes: usize) -> Option<Disk> {
        let path = folder.file("disk");
        std::fs::create_dir_all(&path).unwrap();
        let size = format!("size={kilobytes}k");
        let made =
            Command::new("mount").args(["-t", "tmpfs", "-o", &size, "tmpfs"]).arg(&path).output();
        if made.is_ok_and(|o| o.status.success()) {
            return Some(Disk(path));
        }
        eprintln!("left out: a small disk cannot be mounted here (that needs the right to mount)");
        None
    }
}

impl Drop for Disk {
    fn drop(&mut self) {
        // A disk that stays is one of some kilobytes in the temporary place.
        let _ = Command::new("umount").arg(&self.0).output();
    }
}

fn names(folder: &Path) -> Vec<String> {
    let mut out: Vec<String> = std::fs::read_dir(folder)
        .unwrap()
        .map(|e| e.unwrap().file_name().into_string().unwrap())
        .collect();
    out.sort();
    out
}

#[test]
fn a_full_disk_leaves_what_was_there_and_no_half_of_anything() {
    let folder = Folder::new();
    let Some(disk) = Disk::new(&folder, 24) else { return };
    folder.write("house/wythe.toml", HOUSE);
    folder.write("house/recordings/long.wav", vec![7u8; 200_000]);
    let house = folder.file("house");
    let report = disk.0.join("report.html");
    std::fs::write(&report, "the report of last year").unwrap();
    std::fs::write(disk.0.join("mine.txt"), "mine").unwrap();
    let before = names(&disk.0);
    let at = |name: &str| disk.0.join(name).to_str().unwrap().to_owned();
    for (command, words) in [
        ("report", vec!["-o".to_owned(), at("report.html")]),
        ("report", vec!["-o".to_owned(), at("report.html"), "--for".into(), "file".into()]),
        ("export", vec!["-o".to_owned(), at("tables")]),
        ("export", vec!["-o".to_owned(), at("parquet"), "--parquet".into()]),
        ("archive", vec!["-o".to_owned(), at("house.zip")]),
    ] {
        let words: Vec<&str> = words.iter().map(String::as_str).collect();
        let said = on(command, &house, &words);
        assert_eq!(said.code, 2, "{command} {words:?}: {}", said.out);
        assert!(said.err.contains("cannot be written"), "{command}: {}", said.err);
        assert!(said.err.contains("nothing that was there before has changed"), "{}", said.err);
        assert_eq!(names(&disk.0), before, "{command} left something behind");
        let kept = std::fs::read_to_string(&report).unwrap();
        assert_eq!(kept, "the report of last year", "{command}");
    }
}

#[test]
fn a_folder_nobody_may_write_to_is_said() {
    let folder = Folder::new();
    folder.write("house/wythe.toml", HOUSE);
    // A file where a folder would have to be refuses everybody, the administrator too.
    let taken = folder.write("taken", "mine");
    let house = folder.file("house");
    for (command, name) in [("report", "r.html"), ("export", "t"), ("archive", "a.zip")] {
        let out = taken.join(name);
        let said = on(command, &house, &["-o", out.to_str().unwrap()]);
        assert_eq!(said.code, 2, "{command}: {}", said.out);
        assert!(said.err.contains("cannot be"), "{command}: {}", said.err);
    }
    assert_eq!(std::fs::read(&taken).unwrap(), b"mine");
}
