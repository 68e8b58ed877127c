//! Scans and photos of plans under the rooms: taken into the project, scaled, shown.
//!
//! Pictures are kept in `drawings/` of the project folder and never written over or deleted; the
//! project file says where each lies. Only PNG and JPEG are taken, told by their bytes.

use std::io::ErrorKind;
use std::path::Path;

use wythe_project::quantity::{Quantity, parse};
use wythe_project::{Document, refused_path};

use crate::edit::{Edit, Refused, quoted};
use crate::scene::Scene;

/// Largest picture taken, bytes: a photo of 50 megapixels.
pub const LARGEST: usize = 12_000_000;
/// Where pictures are kept.
const FOLDER: &str = "drawings";

/// A picture's kind and size in pixels.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Picture {
    /// As told to browsers.
    pub kind: &'static str,
    /// Width, px.
    pub width: u32,
    /// Height, px.
    pub height: u32,
}

/// What a picture's bytes say; `None` where they are neither PNG nor JPEG.
pub fn picture(bytes: &[u8]) -> Option<Picture> {
    let fits = |kind, width: u32, height: u32| {
        ((1..=40_000).contains(&width) && (1..=40_000).contains(&height)).then_some(Picture {
            kind,
            width,
            height,
        })
    };
    if bytes.starts_with(b"\x89PNG\r\n\x1a\n") && bytes.get(12..16)? == b"IHDR" {
        let four = |at: usize| Some(u32::from_be_bytes(bytes.get(at..at + 4)?.try_into().ok()?));
        return fits("image/png", four(16)?, four(20)?);
    }
    if !bytes.starts_with(&[0xff, 0xd8]) {
        return None;
    }
    let two = |at: usize| Some(u16::from_be_bytes(bytes.get(at..at + 2)?.try_into().ok()?));
    let mut at = 2;
    loop {
        while *bytes.get(at)? == 0xff && *bytes.get(at + 1)? == 0xff {
            at += 1;
        }
        if *bytes.get(at)? != 0xff {
            return None;
        }
        match *bytes.get(at + 1)? {
            // Frames of every coding but the tables among their numbers.
            m @ 0xc0..=0xcf if ![0xc4, 0xc8, 0xcc].contains(&m) => {
                return fits("image/jpeg", two(at + 7)?.into(), two(at + 5)?.into());
            }
            0x01 | 0xd0..=0xd7 => at += 2,
            _ => at += 2 + usize::from(two(at + 2)?.max(2)),
        }
    }
}

/// A name for a picture from what the browser calls it.
fn name_of(told: &str, kind: &str) -> String {
    let stem = told.rsplit_once('.').map_or(told, |(stem, _)| stem);
    let plain: String =
        stem.chars().take(60).map(|c| if c.is_alphanumeric() { c } else { '-' }).collect();
    let plain = plain.trim_matches('-');
    let ending = if kind == "image/png" { "png" } else { "jpg" };
    format!("{}.{ending}", if plain.is_empty() { "plan" } else { plain })
}

/// Keeps a picture in the project folder; says where, relative to the folder.
///
/// # Errors
/// Why it is not kept, for people.
pub fn keep(folder: &Path, told: &str, bytes: &[u8]) -> Result<String, String> {
    let Some(picture) = picture(bytes) else {
        return Err("this is neither a PNG nor a JPEG picture; save the scan as one of them".into());
    };
    let disk = |e: std::io::Error| format!("the disk refused it: {e}");
    let inside = folder.join(FOLDER);
    std::fs::create_dir_all(&inside).map_err(disk)?;
    // A link in place of the folder would lead out of the project.
    let real = inside.canonicalize().map_err(disk)?;
    if !real.starts_with(folder.canonicalize().map_err(disk)?) {
        return Err(format!("{FOLDER} leads out of the project folder"));
    }
    let half = real.join(format!(".{}.part", crate::guard::secret().map_err(disk)?));
    let name = name_of(told, picture.kind);
    let (stem, ending) = name.rsplit_once('.').unwrap_or((&name, "png"));
    let kept = std::fs::write(&half, bytes).map_err(disk).and_then(|()| {
        for n in 1..1000 {
            let name = if n == 1 { name.clone() } else { format!("{stem}-{n}.{ending}") };
            let place = real.join(&name);
            if std::fs::read(&place).is_ok_and(|there| there == bytes) {
                return Ok(name);
            }
            match std::fs::hard_link(&half, &place) {
                Ok(()) => return Ok(name),
                Err(e) if e.kind() == ErrorKind::AlreadyExists => {}
                // Some disks know no links.
                Err(_) if !place.exists() => {
                    return std::fs::copy(&half, &place).map(|_| name).map_err(disk);
                }
                Err(e) => return Err(disk(e)),
            }
        }
        Err("there are too many pictures of that name".into())
    });
    let _ = std::fs::remove_file(&half);
    kept.map(|name| format!("{FOLDER}/{name}"))
}

/// A picture of the project by its place in the file; `None` where there is none.
pub fn read(folder: &Path, document: &Document, index: usize) -> Option<(Picture, Vec<u8>)> {
    let file = document.text_at(&format!("tracing[{index}].file"))?;
    if refused_path(file).is_some() {
        return None;
    }
    // A link that leads out of the folder is not followed.
    let real = folder.join(file).canonicalize().ok()?;
    if !real.starts_with(folder.canonicalize().ok()?) {
        return None;
    }
    let size = std::fs::metadata(&real).ok()?.len();
    let bytes = (size <= LARGEST as u64).then(|| std::fs::read(&real).ok())??;
    Some((picture(&bytes)?, bytes))
}

/// A picture as it lies under a storey.
#[derive(Clone, Debug, PartialEq)]
pub struct Traced {
    /// Place in the file.
    pub index: usize,
    /// The file, relative to the project folder.
    pub file: String,
    /// The storey.
    pub storey: i32,
    /// Lower left corner, m.
    pub low: (f64, f64),
    /// Width and height, m; `None` where the picture cannot be shown.
    pub size: Option<(f64, f64)>,
    /// How strongly it is shown.
    pub opacity: f64,
}

fn metres(document: &Document, path: &str) -> Option<f64> {
    let text = document.text_at(path)?;
    parse(Quantity::Length, text).ok().filter(|m| m.is_finite() && m.abs() <= 5000.0)
}

/// All pictures of the project.
pub fn all(scene: &Scene) -> Vec<Traced> {
    let Some(document) = &scene.document else { return Vec::new() };
    (0..document.tables("tracing"))
        .filter_map(|index| {
            let path = |key: &str| format!("tracing[{index}].{key}");
            let number = |key: &str| document.get(&path(key))?.parse::<f64>().ok();
            let width = metres(document, &path("width")).filter(|w| *w > 0.0)?;
            let shown = read(&scene.folder, document, index);
            Some(Traced {
                index,
                file: document.text_at(&path("file"))?.to_owned(),
                storey: number("storey").unwrap_or(0.0) as i32,
                low: (
                    metres(document, &path("x")).unwrap_or(0.0),
                    metres(document, &path("y")).unwrap_or(0.0),
                ),
                size: shown.map(|(p, _)| (width, width * f64::from(p.height) / f64::from(p.width))),
                opacity: number("opacity").unwrap_or(0.5).clamp(0.05, 1.0),
            })
        })
        .collect()
}

fn said(m: f64) -> String {
    format!("{} m", (m * 1000.0).round() / 1000.0 + 0.0)
}

/// A new picture as the project file spells it: as wide as the rooms of its storey until somebody
/// says its scale.
pub fn described(scene: &Scene, file: &str, storey: i32) -> String {
    let rooms = scene.project.iter().flat_map(|p| &p.building.rooms);
    let bounds = rooms.filter(|r| r.storey == storey).filter_map(|r| r.outline.as_ref()?.bounds());
    let mut span: Option<[f64; 3]> = None;
    for (low, high) in bounds {
        let [x, y, right] = span.unwrap_or([f64::INFINITY, f64::INFINITY, f64::NEG_INFINITY]);
        span = Some([x.min(low.x.0), y.min(low.y.0), right.max(high.x.0)]);
    }
    let [x, y, right] = span.unwrap_or([0.0, 0.0, 10.0]);
    format!(
        "[[tracing]]\nfile = {}\nstorey = {storey}\nwidth = {}\nx = {}\ny = {}\n",
        quoted(file),
        quoted(&said((right - x).max(1.0))),
        quoted(&said(x)),
        quoted(&said(y)),
    )
}

fn spot(text: &str) -> Option<[f64; 2]> {
    let (x, y) = text.trim().split_once(' ')?;
    let spot = [x.parse().ok()?, y.trim().parse().ok()?];
    spot.iter().all(|c: &f64| c.is_finite() && c.abs() <= 5000.0).then_some(spot)
}

/// Scales a picture so that two points of it lie as far apart as typed; the first stays where it
/// is.
///
/// # Errors
/// [`Refused`] where a point or the length is missing.
pub fn scale(document: &mut Document, edit: &Edit, length: f64) -> Result<(), Refused> {
    let (Some(a), Some(b)) = (spot(&edit.from), spot(&edit.like)) else {
        return Err(Refused::new(
            "two points of the picture are needed",
            "press \u{201c}Show two points\u{201d} and click both, or type the picture's width",
        ));
    };
    let apart = (b[0] - a[0]).hypot(b[1] - a[1]);
    let path = |key: &str| format!("{}.{key}", edit.path);
    let Some(width) = metres(document, &path("width")) else {
        return Err(Refused::new("there is no such picture", ""));
    };
    let factor = length / apart;
    let wide = width * factor;
    if !(apart > 0.0 && factor.is_finite() && (0.1..=5000.0).contains(&wide)) {
        return Err(Refused::new(
            "with these points the picture would be no plan of a building",
            "choose two points farther apart and type the length between them, such as 7.2 m",
        ));
    }
    let x = metres(document, &path("x")).unwrap_or(0.0);
    let y = metres(document, &path("y")).unwrap_or(0.0);
    document.set_text(&path("width"), &said(wide))?;
    document.set_text(&path("x"), &said(a[0] + (x - a[0]) * factor))?;
    document.set_text(&path("y"), &said(a[1] + (y - a[1]) * factor))?;
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The head of a PNG of 200 by 100 pixels.
    fn png() -> Vec<u8> {
        let mut bytes = b"\x89PNG\r\n\x1a\n\0\0\0\rIHDR".to_vec();
        bytes.extend([0, 0, 0, 200, 0, 0, 0, 100, 8, 2, 0, 0, 0]);
        bytes
    }

    #[test]
    fn pictures_are_told_by_their_bytes() {
        let size = |p: Picture| (p.kind, p.width, p.height);
        assert_eq!(picture(&png()).map(size), Some(("image/png", 200, 100)));
        let jpeg = [
            &[0xff, 0xd8, 0xff, 0xe0, 0, 4, 1, 2][..],
            &[0xff, 0xff, 0xc2, 0, 11, 8, 0, 100, 0, 200, 1, 1, 0x11, 0],
        ]
        .concat();
        assert_eq!(picture(&jpeg).map(size), Some(("image/jpeg", 200, 100)));
        for n in 0..jpeg.len() - 8 {
            assert_eq!(picture(&jpeg[..n]), None, "cut at {n}");
        }
        for bad in [&b""[..], b"<svg onload=alert(1)>", b"GIF89a", b"\xff\xd8\xff\xd8\xff\0\0"] {
            assert_eq!(picture(bad), None);
        }
        assert_eq!(picture(&[0xff; 4096]), None);
    }

    #[test]
    fn a_picture_is_kept_in_the_project_and_written_over_by_none() {
        let folder = std::env::temp_dir().join(format!("wythe-tracing-{}", std::process::id()));
        let _ = std::fs::remove_dir_all(&folder);
        std::fs::create_dir_all(&folder).unwrap();
        assert_eq!(keep(&folder, "../../x/Plan 1.PNG", &png()).unwrap(), "drawings/x-Plan-1.png");
        assert_eq!(keep(&folder, "x Plan 1.png", &png()).unwrap(), "drawings/x-Plan-1.png");
        let mut other = png();
        other[19] = 201;
        assert_eq!(keep(&folder, "x-Plan-1.png", &other).unwrap(), "drawings/x-Plan-1-2.png");
        assert!(keep(&folder, "x.png", b"<svg/>").is_err());
        assert_eq!(std::fs::read_dir(folder.join("drawings")).unwrap().count(), 2);
        let document = |file: &str| {
            Document::parse(&format!("[[tracing]]\nfile = {}\nwidth = \"1 m\"\n", quoted(file)))
                .unwrap()
        };
        assert!(read(&folder, &document("drawings/x-Plan-1.png"), 0).is_some());
        std::fs::write(folder.join("../wythe-outside.png"), png()).unwrap();
        for bad in ["../wythe-outside.png", "/etc/passwd", "drawings", ""] {
            assert!(read(&folder, &document(bad), 0).is_none(), "{bad}");
        }
        assert!(read(&folder, &document("drawings/x-Plan-1.png"), 1).is_none());
        std::fs::remove_dir_all(&folder).unwrap();
    }

    #[test]
    fn two_points_and_a_length_set_the_scale_and_the_first_point_stays() {
        let text = "[[tracing]]\nfile = \"a.png\"\nwidth = \"10 m\"\nx = \"1 m\"\ny = \"2 m\"\n";
        let mut document = Document::parse(text).unwrap();
        let edit = Edit {
            path: "tracing[0]".into(),
            from: "3 4".into(),
            like: "5 4".into(),
            ..Edit::default()
        };
        scale(&mut document, &edit, 3.0).unwrap();
        assert_eq!(document.text_at("tracing[0].width"), Some("15 m"));
        assert_eq!(document.text_at("tracing[0].x"), Some("0 m"));
        assert_eq!(document.text_at("tracing[0].y"), Some("1 m"));
        for (from, like, length) in [("3 4", "3 4", 3.0), ("", "3 4", 3.0), ("NaN 1", "3 4", 3.0)] {
            let edit = Edit { from: from.into(), like: like.into(), ..edit.clone() };
            assert!(scale(&mut document, &edit, length).is_err());
        }
    }
}
