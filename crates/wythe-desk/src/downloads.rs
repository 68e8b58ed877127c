//! Results taken along as tables.

use std::io::{Cursor, Write};

use wythe_folder::{measuring, tables};
use wythe_report::report::Units;
use zip::write::SimpleFileOptions;
use zip::{CompressionMethod, ZipWriter};

use crate::desk::Open;
use crate::{pages, words_of};

/// Which recording of the survey a name such as `history-2.parquet` is about, counted from 0.
pub fn recording_of(name: &str) -> Option<usize> {
    let number = name.strip_prefix("history-")?.strip_suffix(".parquet")?;
    number.parse().ok().filter(|_| number.bytes().all(|b| b.is_ascii_digit()))
}

/// The bytes of a download, their kind, and the name of the file.
///
/// # Errors
/// Why there is none, as a sentence without full stop.
pub fn made(open: &Open, name: &str) -> Result<(Vec<u8>, &'static str, String), String> {
    if let Some(n) = recording_of(name) {
        let scene = open.scene().map_err(|e| e.to_string())?;
        let survey = scene.project.as_ref().and_then(|p| p.survey.as_ref());
        let recording =
            survey.and_then(|s| s.recordings.get(n)).ok_or("there is no such recording")?;
        let path =
            measuring::history(open.store.folder(), &recording.file).map_err(|f| words_of(&f))?;
        let bytes = std::fs::read(&path).map_err(|e| e.to_string())?;
        return Ok((bytes, "application/vnd.apache.parquet", format!("history-{n}.parquet")));
    }
    let done = open.work.done().ok_or("nothing is computed yet; look at Report first")?;
    let about = pages::about(Units::Metric);
    match name {
        "results.xlsx" => {
            let (_, bytes) = tables::workbook(&done.gathered, &about).map_err(|f| words_of(&f))?;
            let kind = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet";
            Ok((bytes, kind, name.to_owned()))
        }
        "results.zip" => {
            let (_, texts) = tables::texts(&done.gathered, &about);
            let bytes = zipped(&texts).map_err(|e| e.to_string())?;
            Ok((bytes, "application/zip", name.to_owned()))
        }
        "results-parquet.zip" => {
            let (_, files) = tables::parquet(&done.gathered, &about).map_err(|f| words_of(&f))?;
            let bytes = zipped(&files).map_err(|e| e.to_string())?;
            Ok((bytes, "application/zip", name.to_owned()))
        }
        _ => Err("there is no such download".into()),
    }
}

fn zipped<T: AsRef<[u8]>>(files: &[(std::path::PathBuf, T)]) -> std::io::Result<Vec<u8>> {
    let mut zip = ZipWriter::new(Cursor::new(Vec::new()));
    let options = SimpleFileOptions::default().compression_method(CompressionMethod::Stored);
    for (path, bytes) in files {
        // Names inside an archive are parted by slashes on every system.
        let parts: Vec<_> = path.iter().map(|p| p.to_string_lossy()).collect();
        zip.start_file(parts.join("/"), options).map_err(std::io::Error::other)?;
        zip.write_all(bytes.as_ref())?;
    }
    Ok(zip.finish().map_err(std::io::Error::other)?.into_inner())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_of_histories() {
        assert_eq!(recording_of("history-12.parquet"), Some(12));
        for bad in ["history-.parquet", "history-+1.parquet", "history-../x.parquet", "x"] {
            assert_eq!(recording_of(bad), None, "{bad}");
        }
    }

    #[test]
    fn what_is_packed_comes_out_again() {
        let files = [
            (std::path::PathBuf::from("levels.parquet"), b"PAR1\0\xff".to_vec()),
            (std::path::Path::new("curves").join("a.csv"), b"x".to_vec()),
        ];
        let bytes = zipped(&files).unwrap();
        let mut zip = zip::ZipArchive::new(Cursor::new(bytes)).unwrap();
        for (name, inside) in [("levels.parquet", &files[0].1), ("curves/a.csv", &files[1].1)] {
            let mut out = Vec::new();
            std::io::copy(&mut zip.by_name(name).unwrap(), &mut out).unwrap();
            assert_eq!(&out, inside);
        }
    }
}
