//! Prints a page to PDF with the browser found on the machine.

use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};
use std::time::{Duration, Instant};

use crate::failure::Failure;

/// Names under which browsers that can print without a window are called.
const NAMES: [&str; 8] = [
    "chromium",
    "chromium-browser",
    "google-chrome",
    "google-chrome-stable",
    "microsoft-edge",
    "microsoft-edge-stable",
    "chrome",
    "msedge",
];

/// Where they are put on systems that have no search path for them.
const PLACES: [&str; 5] = [
    "/Applications/Chromium.app/Contents/MacOS/Chromium",
    "/Applications/Google Chrome.app/Contents/MacOS/Google Chrome",
    "/Applications/Microsoft Edge.app/Contents/MacOS/Microsoft Edge",
    "C:\\Program Files\\Google\\Chrome\\Application\\chrome.exe",
    "C:\\Program Files (x86)\\Microsoft\\Edge\\Application\\msedge.exe",
];

/// A page that takes longer to print than this does not get printed.
const PATIENCE: Duration = Duration::from_secs(120);

/// The browser of the machine: the one named in WYTHE_BROWSER, else the first one found.
fn find() -> Option<PathBuf> {
    if let Some(named) = std::env::var_os("WYTHE_BROWSER").filter(|n| !n.is_empty()) {
        let path = PathBuf::from(named);
        return path.is_file().then_some(path);
    }
    let folders: Vec<PathBuf> =
        std::env::var_os("PATH").map(|p| std::env::split_paths(&p).collect()).unwrap_or_default();
    let called = folders.iter().flat_map(|folder| {
        NAMES.iter().flat_map(move |n| [folder.join(n), folder.join(format!("{n}.exe"))])
    });
    called.chain(PLACES.iter().map(PathBuf::from)).find(|p| p.is_file())
}

/// Prints a page to PDF. The PDF is put in place whole or not at all.
pub fn print(page: &Path, pdf: &Path) -> Result<(), Failure> {
    let by_hand = "open the HTML file in any browser and print it to PDF with its headers and \
                   footers switched off";
    let Some(browser) = find() else {
        return Err(Failure::new(
            "no Chromium, Chrome or Edge was found on this machine, so no PDF was printed; the \
             HTML file is written",
            format!("{by_hand}; or name a browser in WYTHE_BROWSER"),
        ));
    };
    let page = page.canonicalize().map_err(|e| Failure::unreadable(page, &e))?;
    let folder = page.parent().map(Path::to_owned).unwrap_or_default();
    // Beside the page, so that a rename into place stays on one disk.
    let own = folder.join(format!(".wythe-print-{}", std::process::id()));
    std::fs::create_dir_all(&own).map_err(|e| Failure::unwritable(&own, &e))?;
    let made = own.join("page.pdf");
    // Run by root, as in containers, the browser refuses to start with its own sandbox; the page
    // has no script and its policy lets it load nothing.
    let done = run(&browser, &page, &own, &made, &[])
        || run(&browser, &page, &own, &made, &["--no-sandbox"]);
    let result = if done {
        std::fs::rename(&made, pdf).map_err(|e| Failure::unwritable(pdf, &e))
    } else {
        Err(Failure::file(&browser, "did not print the page; the HTML file is written", by_hand))
    };
    // Nothing depends on the browser's own files any more.
    let _ = std::fs::remove_dir_all(&own);
    result
}

fn run(browser: &Path, page: &Path, own: &Path, made: &Path, more: &[&str]) -> bool {
    let mut target = std::ffi::OsString::from("--print-to-pdf=");
    target.push(made);
    let mut profile = std::ffi::OsString::from("--user-data-dir=");
    profile.push(own.join("profile"));
    let child = Command::new(browser)
        .args([
            "--headless",
            "--disable-gpu",
            "--disable-quic",
            "--no-first-run",
            "--disable-background-networking",
            "--disable-component-update",
            "--disable-sync",
            "--no-pdf-header-footer",
        ])
        .args(more)
        .arg(profile)
        .arg(target)
        .arg(address(page))
        .stdin(Stdio::null())
        .stdout(Stdio::null())
        .stderr(Stdio::null())
        .spawn();
    let Ok(mut child) = child else { return false };
    let start = Instant::now();
    loop {
        match child.try_wait() {
            Ok(Some(_)) => break,
            Ok(None) if start.elapsed() < PATIENCE => {
                std::thread::sleep(Duration::from_millis(50));
            }
            _ => {
                // It may have ended in this very moment; either way it is not waited for again.
                let _ = child.kill();
                let _ = child.wait();
                return false;
            }
        }
    }
    // Half a file has no end mark.
    std::fs::read(made).is_ok_and(|b| {
        let tail = &b[b.len().saturating_sub(1024)..];
        b.starts_with(b"%PDF") && tail.windows(5).any(|w| w == b"%%EOF")
    })
}

/// `file:` address of a path, with every byte that means something in an address written by
/// number (RFC 3986, 2.1 and 2.3).
fn address(path: &Path) -> String {
    let text = path.to_string_lossy().replace('\\', "/");
    // Windows' canonical form begins with a prefix no address knows.
    let text = text.strip_prefix("//?/").unwrap_or(&text).to_owned();
    let mut out = String::from(if text.starts_with('/') { "file://" } else { "file:///" });
    for byte in text.bytes() {
        if byte.is_ascii_alphanumeric() || b"-._~/:".contains(&byte) {
            out.push(char::from(byte));
        } else {
            out.push_str(&format!("%{byte:02X}"));
        }
    }
    out
}

#[cfg(test)]
mod tests {
    use super::address;
    use std::path::Path;

    #[test]
    fn a_name_with_signs_is_still_one_address() {
        assert_eq!(address(Path::new("/a b/#1?.html")), "file:///a%20b/%231%3F.html");
    }
}
