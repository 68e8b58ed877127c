//! A project in one file, out of it again, and what broken and hostile archives get.

use std::io::Write;
use std::path::{Path, PathBuf};

use zip::write::SimpleFileOptions;
use zip::{CompressionMethod, ZipWriter};

use crate::run::{Folder, Said, on, wythe};

fn project(folder: &Folder) -> PathBuf {
    folder.write("house/wythe.toml", "wythe = 1\ntitle = \"House\"\n");
    // Every byte there is, so that none is changed on the way.
    let bytes: Vec<u8> =
        (0..70_000u32).map(|i| (i.wrapping_mul(2_654_435_761) >> 24) as u8).collect();
    folder.write("house/recordings/night \"1\" לילה.wav", bytes);
    folder.write("house/recordings/tone.wav", tone());
    folder.write("house/results/old.json", "{}");
    folder.file("house")
}

/// A recording of 24 bits in two channels with a chunk nobody knows behind its samples, of an odd
/// number of bytes: nothing of it may get lost.
fn tone() -> Vec<u8> {
    let samples: Vec<u8> = (0..20_000)
        .flat_map(|i| [(f64::from(i) * 0.13).sin() * 8e6, f64::from(i % 700) * 9e3 - 3e6])
        .flat_map(|v: f64| (v as i32).to_le_bytes()[..3].to_vec())
        .collect();
    let mut out = b"RIFF\0\0\0\0WAVEfmt \x10\0\0\0\x01\0\x02\0".to_vec();
    out.extend(48_000u32.to_le_bytes());
    out.extend(288_000u32.to_le_bytes());
    out.extend([6, 0, 24, 0]);
    out.extend(b"data");
    out.extend((samples.len() as u32).to_le_bytes());
    out.extend(samples);
    out.extend(b"note\x05\0\0\0hello");
    out
}

fn open(archive: &Path, to: &Path) -> Said {
    wythe([
        "archive".as_ref(),
        "--open".as_ref(),
        archive.as_os_str(),
        "-o".as_ref(),
        to.as_os_str(),
    ])
}

/// Nothing may have appeared, not even half a folder beside.
fn nothing_came(folder: &Folder, to: &Path) {
    assert!(!to.exists());
    for entry in std::fs::read_dir(folder.path()).unwrap() {
        let name = entry.unwrap().file_name().into_string().unwrap();
        assert!(!name.ends_with(".part"), "{name} was left behind");
    }
}

#[test]
fn a_project_goes_in_and_comes_out_byte_by_byte() {
    let folder = Folder::new();
    let house = project(&folder);
    let file = folder.file("house.zip");
    let said = on("archive", &house, &["-o", file.to_str().unwrap()]);
    assert_eq!(said.code, 0, "{}", said.err);
    assert!(said.out.contains("results can be computed again"), "{}", said.out);
    let to = folder.file("again");
    let said = open(&file, &to);
    assert_eq!(said.code, 0, "{}", said.err);
    assert!(said.out.contains("samples of 1 recordings as FLAC"), "{}", said.out);
    assert!(std::fs::metadata(&file).unwrap().len() < 70_000 + 100_000);
    for name in ["wythe.toml", "recordings/tone.wav", "recordings/night \"1\" לילה.wav"] {
        assert_eq!(std::fs::read(to.join(name)).unwrap(), std::fs::read(house.join(name)).unwrap());
    }
    assert!(!to.join("results").exists());
    // Neither the archive nor a folder is written over.
    let before = std::fs::read(&file).unwrap();
    assert_eq!(on("archive", &house, &["-o", file.to_str().unwrap()]).code, 2);
    assert_eq!(std::fs::read(&file).unwrap(), before);
    std::fs::write(to.join("wythe.toml"), "mine").unwrap();
    assert_eq!(open(&file, &to).code, 2);
    assert_eq!(std::fs::read(to.join("wythe.toml")).unwrap(), b"mine");

    let small = folder.file("small.zip");
    let said =
        on("archive", &house, &["--without-recordings", "--json", "-o", small.to_str().unwrap()]);
    assert_eq!(said.code, 0, "{}", said.err);
    assert_eq!(said.json()["files"].as_array().unwrap().len(), 1);
    assert!(std::fs::metadata(&small).unwrap().len() < 2000);
}

#[test]
fn an_archive_cut_or_changed_anywhere_leaves_nothing() {
    let folder = Folder::new();
    let house = project(&folder);
    let file = folder.file("house.zip");
    assert_eq!(on("archive", &house, &["-o", file.to_str().unwrap()]).code, 0);
    let whole = std::fs::read(&file).unwrap();
    let broken = folder.file("broken.zip");
    let to = folder.file("again");
    for kept in [0, 10, 300, whole.len() / 2, whole.len() - 30, whole.len() - 1] {
        std::fs::write(&broken, &whole[..kept]).unwrap();
        let said = open(&broken, &to);
        assert_eq!(said.code, 2, "{kept} bytes: {}", said.out);
        assert!(said.err.contains("no whole archive"), "{}", said.err);
        nothing_came(&folder, &to);
    }
    // One bit in the recording.
    let mut changed = whole.clone();
    let middle = changed.len() / 2;
    changed[middle] ^= 1;
    std::fs::write(&broken, &changed).unwrap();
    assert_eq!(open(&broken, &to).code, 2);
    nothing_came(&folder, &to);
    // No archive at all.
    std::fs::write(&broken, "hello").unwrap();
    assert_eq!(open(&broken, &to).code, 2);
    assert_eq!(open(&folder.file("absent.zip"), &to).code, 2);
    nothing_came(&folder, &to);
}

/// An archive with one file `x` of this name in it, and a list that agrees.
fn hostile(path: &Path, name: &str, method: CompressionMethod, listed_bytes: u64) {
    let mut zip = ZipWriter::new(std::fs::File::create(path).unwrap());
    let options = SimpleFileOptions::default().compression_method(CompressionMethod::Stored);
    // SHA-256 of "x".
    let sha = "2d711642b726b04401627ca9fbac32f5c8530fb1903cc4db02258717921a4881";
    zip.start_file("wythe-archive.json", options).unwrap();
    let list = serde_json::json!({
        "wythe_archive": 1,
        "files": [{ "name": name, "bytes": listed_bytes, "sha256": sha }],
        "left_out": [],
    });
    zip.write_all(list.to_string().as_bytes()).unwrap();
    zip.start_file(name, options.compression_method(method)).unwrap();
    zip.write_all(b"x").unwrap();
    zip.finish().unwrap();
}

/// Packs a short recording, and says something else of its samples in the list.
#[test]
fn samples_that_are_not_what_the_list_says_are_refused() {
    let folder = Folder::new();
    let house = project(&folder);
    let file = folder.file("house.zip");
    assert_eq!(on("archive", &house, &["-o", file.to_str().unwrap()]).code, 0);
    let whole = std::fs::read(&file).unwrap();
    let to = folder.file("again");
    let text = String::from_utf8_lossy(&whole).into_owned();
    let at = text.find("samples_as_flac").unwrap();
    let bytes = at + text[at..].find("98304").unwrap();
    // 16 384 frames of six bytes lie in whole blocks; as long a number each time.
    for said in ["98298", "00006", "99999"] {
        let mut changed = whole.clone();
        changed[bytes..bytes + 5].copy_from_slice(said.as_bytes());
        let broken = folder.file("broken.zip");
        std::fs::write(&broken, changed).unwrap();
        assert_eq!(open(&broken, &to).code, 2, "{said}");
        nothing_came(&folder, &to);
    }
}

#[test]
fn paths_that_leave_the_folder_and_false_sizes_are_refused() {
    let folder = Folder::new();
    let file = folder.file("hostile.zip");
    let to = folder.file("inner/again");
    // The maker of these archives makes one that opens, so that the refusals mean something.
    hostile(&file, "wythe.toml", CompressionMethod::Stored, 1);
    let good = folder.file("good");
    assert_eq!(open(&file, &good).code, 0, "{}", open(&file, &good).err);
    for name in [
        "../wythe.toml",
        "a/../../b",
        "/wythe-hostile",
        "\\\\host\\share",
        "C:\\x",
        "c:x",
        "a\\..\\..\\b",
        "a//b",
        "./a",
        "a/b:stream",
        "~/x",
        "wythe-archive/x",
    ] {
        hostile(&file, name, CompressionMethod::Stored, 1);
        let said = open(&file, &to);
        assert_eq!(said.code, 2, "{name}: {}", said.out);
        nothing_came(&folder, &to);
    }
    assert!(!Path::new("/wythe-hostile").exists());
    for bytes in [0, 2, 1 << 40, u64::MAX] {
        hostile(&file, "wythe.toml", CompressionMethod::Stored, bytes);
        assert_eq!(open(&file, &to).code, 2, "{bytes}");
        nothing_came(&folder, &to);
    }
    // Compressed files could be far larger inside than outside.
    hostile(&file, "wythe.toml", CompressionMethod::Deflated, 1);
    assert_eq!(open(&file, &to).code, 2);
    nothing_came(&folder, &to);
}

/// A disk of its own, of 32 kB, that is taken away again.
struct SmallDisk(PathBuf);

impl SmallDisk {
    /// `None` where this user may not mount one.
    fn at(path: PathBuf) -> Option<SmallDisk> {
        std::fs::create_dir_all(&path).unwrap();
        let mount = std::process::Command::new("mount")
            .args(["-t", "tmpfs", "-o", "size=32k", "tmpfs"])
            .arg(&path)
            .stderr(std::process::Stdio::null())
            .status();
        mount.is_ok_and(|s| s.success()).then_some(SmallDisk(path))
    }
}

impl Drop for SmallDisk {
    fn drop(&mut self) {
        let done = std::process::Command::new("umount").arg(&self.0).status();
        assert!(done.is_ok_and(|s| s.success()), "{:?} stays mounted", self.0);
    }
}

#[test]
fn a_full_disk_is_said_and_keeps_what_it_had() {
    let folder = Folder::new();
    let house = project(&folder);
    let file = folder.file("house.zip");
    assert_eq!(on("archive", &house, &["-o", file.to_str().unwrap()]).code, 0);
    let Some(disk) = SmallDisk::at(folder.file("disk")) else {
        eprintln!("not tested here: this user may not mount a small disk");
        return;
    };
    let mine = disk.0.join("mine.txt");
    std::fs::write(&mine, "was here before").unwrap();
    let (out, to) = (disk.0.join("house.zip"), disk.0.join("again"));
    for said in [on("archive", &house, &["-o", out.to_str().unwrap()]), open(&file, &to)] {
        assert_eq!(said.code, 2, "{}", said.out);
        assert!(
            said.err.contains("cannot be written") && said.err.contains("make room"),
            "{}",
            said.err
        );
        // Only what was there before, and no half of anything.
        let names: Vec<_> =
            std::fs::read_dir(&disk.0).unwrap().map(|e| e.unwrap().file_name()).collect();
        assert_eq!(names, ["mine.txt"]);
        assert_eq!(std::fs::read(&mine).unwrap(), b"was here before");
    }
}
