//! Prints a page to PDF, or a picture to PNG, with the browser found on the machine.

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
    let wish = Wish {
        option: "--print-to-pdf=",
        more: vec!["--no-pdf-header-footer".into()],
        begins: b"%PDF",
        ends: b"%%EOF",
    };
    in_own_folder(pdf, |own| {
        let made = own.join("page.pdf");
        if wish.made(&browser, &page, own, &made) {
            std::fs::rename(&made, pdf).map_err(|e| Failure::unwritable(pdf, &e))
        } else {
            let why = "did not print the page; the HTML file is written";
            Err(Failure::file(&browser, why, by_hand))
        }
    })
}

/// Pixels of a picture to one of its drawing, for sharp print and screens.
const SHARPNESS: u32 = 2;

/// Draws an SVG picture of a size in CSS pixels as PNG, twice as sharp. The PNG is put in place whole
/// or not at all.
pub fn picture(svg: &str, (width, height): (f64, f64), png: &Path) -> Result<(), Failure> {
    let by_hand = "write it with --svg and let any program that knows SVG make the PNG";
    let Some(browser) = find() else {
        return Err(Failure::new(
            "no Chromium, Chrome or Edge was found on this machine, so no PNG was drawn",
            format!("{by_hand}; or name a browser in WYTHE_BROWSER"),
        ));
    };
    // A page that holds the picture alone; a bare SVG would be centred by some browsers.
    let page = format!(
        "<!doctype html><meta charset=\"utf-8\"><meta http-equiv=\"Content-Security-Policy\" \
         content=\"default-src 'none'; style-src 'unsafe-inline'\"><style>html,body{{margin:0;\
         overflow:hidden}}svg{{display:block}}</style>{svg}"
    );
    let side = |px: f64| px.ceil().clamp(1.0, 16_000.0) as u32;
    let wish = Wish {
        option: "--screenshot=",
        more: vec![
            format!("--window-size={},{}", side(width), side(height)),
            format!("--force-device-scale-factor={SHARPNESS}"),
            "--hide-scrollbars".into(),
        ],
        begins: b"\x89PNG",
        ends: b"IEND",
    };
    in_own_folder(png, |own| {
        let file = own.join("picture.html");
        std::fs::write(&file, page).map_err(|e| Failure::unwritable(&file, &e))?;
        let file = file.canonicalize().map_err(|e| Failure::unreadable(&file, &e))?;
        let made = own.join("picture.png");
        if wish.made(&browser, &file, own, &made) {
            std::fs::rename(&made, png).map_err(|e| Failure::unwritable(png, &e))
        } else {
            Err(Failure::file(&browser, "did not draw the picture", by_hand))
        }
    })
}

/// Does something in a folder beside the wanted file, so that a rename into place stays on one disk.
fn in_own_folder(
    wanted: &Path,
    work: impl FnOnce(&Path) -> Result<(), Failure>,
) -> Result<(), Failure> {
    let folder = match wanted.parent() {
        Some(p) if !p.as_os_str().is_empty() => p,
        _ => Path::new("."),
    };
    std::fs::create_dir_all(folder).map_err(|e| Failure::unwritable(folder, &e))?;
    let folder = folder.canonicalize().map_err(|e| Failure::unwritable(folder, &e))?;
    let own = folder.join(format!(".wythe-print-{}", std::process::id()));
    std::fs::create_dir_all(&own).map_err(|e| Failure::unwritable(&own, &e))?;
    let result = work(&own);
    // Nothing depends on the browser's own files any more.
    let _ = std::fs::remove_dir_all(&own);
    result
}

/// A file the browser is to make.
struct Wish {
    /// Option that names the file.
    option: &'static str,
    /// Further options.
    more: Vec<String>,
    /// First bytes of a good file, and bytes near its end: half a file has no end mark.
    begins: &'static [u8],
    ends: &'static [u8],
}

impl Wish {
    /// Whether the browser made the file.
    fn made(&self, browser: &Path, page: &Path, own: &Path, made: &Path) -> bool {
        // Run by root, as in containers, the browser refuses to start with its own sandbox; the
        // page has no script and its policy lets it load nothing.
        self.run(browser, page, own, made, &[])
            || self.run(browser, page, own, made, &["--no-sandbox"])
    }

    fn run(&self, browser: &Path, page: &Path, own: &Path, made: &Path, more: &[&str]) -> bool {
        let mut target = std::ffi::OsString::from(self.option);
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
            ])
            .args(&self.more)
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
        std::fs::read(made).is_ok_and(|b| {
            let tail = &b[b.len().saturating_sub(1024)..];
            b.starts_with(self.begins) && tail.windows(self.ends.len()).any(|w| w == self.ends)
        })
    }
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
