//! A whole project in one file, and out of it again.
//!
//! The file is a ZIP (APPNOTE 6.3) with a list of fingerprints as its first entry. The samples of
//! recordings in whole numbers are FLAC (RFC 9639), which any player plays; what else such a file
//! holds lies beside it, and everything else is stored as it is. Any tool opens it; this one also
//! proves that every byte is as it was. Not coded: samples in floating point or of 8 or 32 bits,
//! more than eight channels, recordings that came as FLAC.

mod coding;

use std::collections::BTreeSet;
use std::fs::{self, File};
use std::io::{self, BufReader, Read, Seek, SeekFrom, Write};
use std::ops::Range;
use std::path::{Path, PathBuf};

use serde_json::{Value, json};
use wythe_recording::fingerprint::{self, Hasher};
use zip::write::SimpleFileOptions;
use zip::{CompressionMethod, ZipArchive, ZipWriter};

use self::coding::Span;
use crate::failure::Failure;
use crate::write;

/// Name of the list of fingerprints; no file of a project is called so.
const LIST: &str = "wythe-archive.json";
/// Version of the list's form; the first had no coded samples.
const FORM: u64 = 2;
/// Folder in the archive of coded samples and what belongs to them; no folder of a project is
/// called so.
const CODED: &str = "wythe-archive";
/// An archive may hold so many times its size, beside [`ROOM`]: silence codes to next to nothing,
/// and a few bytes must not fill a disk.
const MOST_TIMES: u64 = 64;
/// See [`MOST_TIMES`], bytes.
const ROOM: u64 = 1 << 30;
/// Most files: a project has dozens. More would be a wrong folder or a hostile archive.
const MOST_FILES: usize = 10_000;
/// Largest list that is read, bytes.
const LARGEST_LIST: u64 = 16 << 20;
/// Deepest folder that is followed.
const DEEPEST: usize = 12;
/// Folder of what the program wrote itself and can write again.
const RESULTS: &str = "results";
/// Endings of sound files.
const SOUND: [&str; 8] = ["wav", "wave", "bwf", "rf64", "bw64", "w64", "flac", "aif"];

/// A file within the archive.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Packed {
    /// Path within the project, parted by `/`.
    pub name: String,
    /// Size.
    pub bytes: u64,
    /// SHA-256 as hexadecimal digits.
    pub sha256: String,
    /// Bytes that are coded as FLAC, where some are.
    pub samples: Option<Range<u64>>,
}

impl Packed {
    /// Entry of the coded samples.
    fn coded(&self) -> String {
        format!("{CODED}/{}.flac", self.name)
    }

    /// Entry of everything before and behind them.
    fn rest(&self) -> String {
        format!("{CODED}/{}.rest", self.name)
    }
}

/// What went in, and what did not and why.
#[derive(Clone, Debug, PartialEq, Eq, Default)]
pub struct Contents {
    /// Files with their fingerprints.
    pub files: Vec<Packed>,
    /// What was left out, with the reason.
    pub left_out: Vec<(String, String)>,
}

/// Packs a project. The archive is read again and every file compared by its fingerprint before it
/// is put in place, whole or not at all; a file that stands there already is left alone.
///
/// # Errors
/// [`Failure`] when the folder holds no project, is too large, changes meanwhile, or the archive
/// cannot be written.
pub fn pack(folder: &Path, out: &Path, recordings: bool) -> Result<Contents, Failure> {
    if !folder.join(wythe_project::PROJECT_FILE).is_file() {
        return Err(Failure::file(
            folder,
            format!("holds no {}", wythe_project::PROJECT_FILE),
            "give the folder of a project",
        ));
    }
    write::free_for_file(out)?;
    let mut contents = Contents::default();
    let mut names = Vec::new();
    list(folder, "", 0, recordings, &mut names, &mut contents.left_out)?;
    names.sort();
    for name in names {
        let path = folder.join(&name);
        let print = File::open(&path)
            .map_err(|e| Failure::unreadable(&path, &e))
            .and_then(|f| print_of(&path, BufReader::new(f)))?;
        let bytes = fs::metadata(&path).map_err(|e| Failure::unreadable(&path, &e))?.len();
        let samples = Span::of(&path).map(|s| s.at..s.at + s.bytes);
        contents.files.push(Packed { name, bytes, sha256: print, samples });
    }
    let sum: u64 = contents.files.iter().map(|f| f.bytes).sum();
    write::atomically(out, |file| {
        write_all(folder, &contents, file)?;
        if sum > most(file.metadata()?.len()) {
            // Hours of silence: stored, so that it may be opened again.
            contents.files.iter_mut().for_each(|f| f.samples = None);
            file.set_len(0)?;
            file.rewind()?;
            write_all(folder, &contents, file)?;
        }
        // What is on the disk now, not what was meant to be.
        file.rewind()?;
        let mut archive = ZipArchive::new(BufReader::new(&*file)).map_err(io::Error::other)?;
        for p in &contents.files {
            let mut print = Hasher::default();
            unpack(&mut archive, p, &mut print)?;
            if print.finish().to_string() != p.sha256 {
                let why = format!("`{}` changed while it was packed, try again", p.name);
                return Err(io::Error::other(why));
            }
        }
        Ok(())
    })?;
    Ok(contents)
}

fn print_of(path: &Path, reader: impl Read) -> Result<String, Failure> {
    fingerprint::of(reader)
        .map(|p| p.to_string())
        .map_err(|e| Failure::file(path, format!("cannot be read: {e}"), "check the disk"))
}

fn list(
    folder: &Path,
    inside: &str,
    depth: usize,
    recordings: bool,
    names: &mut Vec<String>,
    left_out: &mut Vec<(String, String)>,
) -> Result<(), Failure> {
    let here = folder.join(inside);
    let entries = fs::read_dir(&here).map_err(|e| Failure::unreadable(&here, &e))?;
    for entry in entries {
        let entry = entry.map_err(|e| Failure::unreadable(&here, &e))?;
        let kind = entry.file_type().map_err(|e| Failure::unreadable(&entry.path(), &e))?;
        let mut leave = |name: &str, why: &str| left_out.push((name.to_owned(), why.to_owned()));
        let Ok(own) = entry.file_name().into_string() else {
            leave(&entry.file_name().to_string_lossy(), "its name is no text");
            continue;
        };
        let name = if inside.is_empty() { own.clone() } else { format!("{inside}/{own}") };
        let ending = Path::new(&own).extension().map(|e| e.to_string_lossy().to_lowercase());
        if kind.is_symlink() {
            leave(&name, "is a link, and links are not followed");
        } else if own.starts_with('.') {
            leave(&name, "is hidden");
        } else if name == RESULTS {
            leave(&name, "can be computed again");
        } else if name == LIST || name == CODED || wythe_project::refused_path(&name).is_some() {
            leave(&name, "has a name that cannot be packed");
        } else if kind.is_dir() && depth >= DEEPEST {
            leave(&name, "lies too deep");
        } else if kind.is_dir() {
            list(folder, &name, depth + 1, recordings, names, left_out)?;
        } else if !kind.is_file() {
            leave(&name, "is no file");
        } else if !recordings && ending.is_some_and(|e| SOUND.contains(&e.as_str())) {
            leave(&name, "is a recording");
        } else {
            names.push(name);
        }
        if names.len() > MOST_FILES {
            return Err(Failure::file(
                folder,
                format!("holds more than {MOST_FILES} files"),
                "give the folder of one project",
            ));
        }
    }
    Ok(())
}

fn write_all(folder: &Path, contents: &Contents, file: &mut File) -> io::Result<()> {
    let mut zip = ZipWriter::new(file);
    // Sizes beyond 4 GiB need the larger form; a long recording has them. Times are left out, so
    // that the same project gives the same archive.
    let options =
        SimpleFileOptions::default().compression_method(CompressionMethod::Stored).large_file(true);
    zip.start_file(LIST, options).map_err(io::Error::other)?;
    let files: Vec<Value> = contents
        .files
        .iter()
        .map(|p| {
            let mut row = json!({ "name": p.name, "bytes": p.bytes, "sha256": p.sha256 });
            if let Some(s) = &p.samples {
                row["samples_as_flac"] = json!({ "at": s.start, "bytes": s.end - s.start });
            }
            row
        })
        .collect();
    let left_out: Vec<Value> =
        contents.left_out.iter().map(|(name, why)| json!({ "name": name, "why": why })).collect();
    let list = json!({ "wythe_archive": FORM, "files": files, "left_out": left_out });
    zip.write_all(format!("{list:#}\n").as_bytes())?;
    for p in &contents.files {
        let path = folder.join(&p.name);
        let mut from = File::open(&path)?;
        // A file that grows meanwhile is cut; the comparison afterwards says so.
        let Some(samples) = &p.samples else {
            zip.start_file(p.name.as_str(), options).map_err(io::Error::other)?;
            io::copy(&mut from.take(p.bytes), &mut zip)?;
            continue;
        };
        let span = Span::of(&path).filter(|s| (s.at..s.at + s.bytes) == *samples);
        let changed = || io::Error::other(format!("`{}` changed while it was packed", p.name));
        from.seek(SeekFrom::Start(samples.start))?;
        zip.start_file(p.coded(), options).map_err(io::Error::other)?;
        span.ok_or_else(changed)?.encode(&from, &mut zip)?;
        zip.start_file(p.rest(), options).map_err(io::Error::other)?;
        from.rewind()?;
        io::copy(&mut (&from).take(samples.start), &mut zip)?;
        from.seek(SeekFrom::Start(samples.end))?;
        io::copy(&mut from.take(p.bytes - samples.end), &mut zip)?;
    }
    zip.finish().map_err(io::Error::other)?;
    Ok(())
}

/// The largest sum of files that an archive of this length may hold.
fn most(length: u64) -> u64 {
    length.saturating_mul(MOST_TIMES).saturating_add(ROOM)
}

/// Writes one file as it was; a longer one is cut one byte after its end.
fn unpack<R: Read + Seek>(
    zip: &mut ZipArchive<R>,
    p: &Packed,
    mut to: impl Write,
) -> io::Result<()> {
    let Some(samples) = &p.samples else {
        io::copy(&mut zip.by_name(&p.name)?.take(p.bytes + 1), &mut to)?;
        return Ok(());
    };
    io::copy(&mut zip.by_name(&p.rest())?.take(samples.start), &mut to)?;
    coding::decode(zip.by_name(&p.coded())?, samples.end - samples.start, &mut to)?;
    let mut rest = zip.by_name(&p.rest())?;
    io::copy(&mut (&mut rest).take(samples.start), &mut io::sink())?;
    io::copy(&mut rest.take(p.bytes - samples.end + 1), &mut to)?;
    Ok(())
}

/// A file being written, which remembers whether the disk refused.
struct Written {
    file: File,
    refused: bool,
}

impl Write for Written {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        self.file.write(bytes).inspect_err(|_| self.refused = true)
    }

    fn flush(&mut self) -> io::Result<()> {
        self.file.flush()
    }
}

/// Opens an archive into a new or empty folder, which appears whole or not at all. Every file has
/// to be in the list of the archive with its size and fingerprint.
///
/// # Errors
/// [`Failure`] when it is no archive, is damaged, names a path that leaves the folder, is larger
/// inside than outside, or the folder is taken or cannot be written.
pub fn open(archive: &Path, folder: &Path) -> Result<Contents, Failure> {
    write::free_for_folder(folder)?;
    let file = File::open(archive).map_err(|e| Failure::unreadable(archive, &e))?;
    let length = file.metadata().map_err(|e| Failure::unreadable(archive, &e))?.len();
    let mut zip = ZipArchive::new(BufReader::new(file)).map_err(|e| damaged(archive, e))?;
    let contents = listed(archive, &mut zip, length)?;
    write::folder_with(folder, |beside| {
        for p in &contents.files {
            let path: PathBuf = beside.join(&p.name);
            fs::create_dir_all(path.parent().unwrap_or(beside))
                .map_err(|e| Failure::unwritable(folder, &e))?;
            let file = File::create_new(&path).map_err(|e| Failure::unwritable(folder, &e))?;
            let mut to = Written { file, refused: false };
            // A fault of the archive and a fault of the disk need different remedies.
            unpack(&mut zip, p, &mut to).map_err(|e| match to.refused {
                true => Failure::unwritable(folder, &e),
                false => damaged(archive, e),
            })?;
            to.file.sync_all().map_err(|e| Failure::unwritable(folder, &e))?;
            let back = File::open(&path).map_err(|e| Failure::unreadable(&path, &e))?;
            if print_of(&path, BufReader::new(back))? != p.sha256 {
                return Err(damaged(archive, format!("`{}` is not what was packed", p.name)));
            }
        }
        Ok(())
    })?;
    Ok(contents)
}

fn damaged(archive: &Path, why: impl std::fmt::Display) -> Failure {
    Failure::file(
        archive,
        format!("is no whole archive of a project: {why}"),
        "fetch it again from where it came; nothing was written",
    )
}

/// The list of the archive, held against its entries before anything is written.
fn listed(
    archive: &Path,
    zip: &mut ZipArchive<BufReader<File>>,
    length: u64,
) -> Result<Contents, Failure> {
    let bad = |why: String| damaged(archive, why);
    if zip.len() > 2 * MOST_FILES + 1 {
        return Err(bad(format!("it has more than {MOST_FILES} files")));
    }
    let mut text = String::new();
    zip.by_name(LIST)
        .map_err(|_| bad(format!("it has no {LIST}")))?
        .take(LARGEST_LIST)
        .read_to_string(&mut text)
        .map_err(|e| bad(e.to_string()))?;
    let list: Value = serde_json::from_str(&text).map_err(|e| bad(format!("{LIST}: {e}")))?;
    match list["wythe_archive"].as_u64() {
        Some(1..=FORM) => {}
        Some(newer) => {
            return Err(Failure::file(
                archive,
                format!("has form {newer} of an archive; this program reads form {FORM}"),
                "open it with a newer version of the program",
            ));
        }
        None => return Err(bad(format!("{LIST} has no form"))),
    }
    let rows = |key: &str| list[key].as_array().cloned().unwrap_or_default();
    let word = |v: &Value, key: &str| v[key].as_str().map(str::to_owned);
    let mut contents = Contents::default();
    // Names that differ in case alone would be one file on some disks.
    let mut seen = BTreeSet::new();
    let (mut sum, mut entries) = (0u64, 1);
    for row in rows("files") {
        let (Some(name), Some(bytes), Some(sha256)) =
            (word(&row, "name"), row["bytes"].as_u64(), word(&row, "sha256"))
        else {
            return Err(bad(format!("{LIST} has a file without name, size or fingerprint")));
        };
        let strange = name.contains('\\')
            || name.split('/').any(|part| part.is_empty() || part == "." || part.contains(':'))
            || name.split('/').next() == Some(CODED);
        if strange || wythe_project::refused_path(&name).is_some() {
            return Err(bad(format!("the path `{}` would leave the folder", name.escape_debug())));
        }
        if !seen.insert(name.to_lowercase()) {
            return Err(bad(format!("`{name}` is in it twice")));
        }
        let samples = match &row["samples_as_flac"] {
            Value::Null => None,
            said => {
                let (at, length) = (said["at"].as_u64(), said["bytes"].as_u64());
                let end = at.zip(length).and_then(|(a, l)| a.checked_add(l));
                match at.zip(end).filter(|(_, end)| *end <= bytes) {
                    Some((at, end)) => Some(at..end),
                    None => return Err(bad(format!("`{name}` has samples beyond its end"))),
                }
            }
        };
        let packed = Packed { name, bytes, sha256, samples };
        let size = |zip: &mut ZipArchive<BufReader<File>>, name: &str| {
            let entry = zip.by_name(name).map_err(|_| bad(format!("`{name}` is missing")))?;
            if !entry.is_file()
                || entry.is_symlink()
                || entry.compression() != CompressionMethod::Stored
            {
                return Err(bad(format!("`{name}` is a link, a folder or compressed")));
            }
            Ok(entry.size())
        };
        let (there, expected) = match &packed.samples {
            None => (size(zip, &packed.name)?, bytes),
            Some(s) => {
                size(zip, &packed.coded())?;
                entries += 1;
                (size(zip, &packed.rest())?, bytes - (s.end - s.start))
            }
        };
        entries += 1;
        sum = sum.saturating_add(bytes);
        if there != expected || sum > most(length) {
            return Err(bad(format!("`{}` has not the size it should have", packed.name)));
        }
        contents.files.push(packed);
    }
    if entries != zip.len() {
        return Err(bad(format!("it has files that are not in {LIST}")));
    }
    for row in rows("left_out") {
        if let (Some(name), Some(why)) = (word(&row, "name"), word(&row, "why")) {
            contents.left_out.push((name, why));
        }
    }
    Ok(contents)
}
