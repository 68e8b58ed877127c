//! New rooms, moved walls, new build-ups and recordings, as the files spell them.

use wythe_partition::{Layer, catalogue};
use wythe_project::Document;
use wythe_project::quantity::{Quantity, parse};

use crate::edit::{Edit, Refused, quoted};
use crate::scene::Scene;

/// Farthest a wall is moved at once, m; more is a slip of the hand.
const FARTHEST_M: f64 = 100.0;

fn length(text: &str, what: &str) -> Result<f64, Refused> {
    let text = text.trim().replace('\u{2212}', "-");
    // A minus and a bare number are this form's own; the rest is the project file's language.
    let (sign, rest) = match text.strip_prefix('-') {
        Some(rest) => (-1.0, rest.trim().to_owned()),
        None => (1.0, text.trim_start_matches('+').trim().to_owned()),
    };
    let rest = if rest.parse::<f64>().is_ok() { format!("{rest} m") } else { rest };
    parse(Quantity::Length, &rest)
        .map(|v| sign * v)
        .ok()
        .filter(|v| v.is_finite() && v.abs() <= FARTHEST_M)
        .ok_or_else(|| {
            Refused::new(
                format!("{what}: `{text}` is no length up to 100 m"),
                "write 0.5 m or 8 in",
            )
        })
}

fn metres(value: f64) -> String {
    let value = (value * 1000.0).round() / 1000.0 + 0.0;
    format!("\"{value} m\"")
}

fn outline(corners: &[[f64; 2]]) -> String {
    let all: Vec<String> =
        corners.iter().map(|c| format!("[{}, {}]", metres(c[0]), metres(c[1]))).collect();
    format!("[{}]", all.join(", "))
}

/// The outline of a room with one wall moved outwards by a length.
pub fn moved(scene: &Scene, edit: &Edit) -> Result<String, Refused> {
    let by = length(&edit.value, "how far to move")?;
    let id = edit.path.trim_start_matches("room[").trim_end_matches("].outline");
    let building = scene.project.as_ref().map(|p| &p.building);
    let room = building.and_then(|b| b.room(id).map(|i| &b.rooms[i.0]));
    let Some(own) = room.and_then(|r| r.outline.as_ref()) else {
        return Err(Refused::new("this room has no outline", ""));
    };
    let mut corners: Vec<[f64; 2]> = own.corners().iter().map(|p| [p.x.0, p.y.0]).collect();
    let n = corners.len();
    if edit.at >= n {
        return Err(Refused::new("this room has no such wall", ""));
    }
    let (a, b) = (corners[edit.at], corners[(edit.at + 1) % n]);
    let (dx, dy) = (b[0] - a[0], b[1] - a[1]);
    let long = dx.hypot(dy);
    // Outwards is to the right of a wall of an outline that runs against the clock.
    let twice: f64 = (0..n)
        .map(|i| {
            let (p, q) = (corners[i], corners[(i + 1) % n]);
            p[0] * q[1] - q[0] * p[1]
        })
        .sum();
    if !(long > 0.0) {
        return Err(Refused::new("this wall has no length", ""));
    }
    let out = twice.signum() * by / long;
    for i in [edit.at, (edit.at + 1) % n] {
        corners[i] = [corners[i][0] + dy * out, corners[i][1] - dx * out];
    }
    Ok(outline(&corners))
}

/// An id from a name, not taken yet.
fn id_of(name: &str, taken: impl Fn(&str) -> bool) -> Result<String, Refused> {
    let mut base = String::new();
    for c in name.trim().chars().flat_map(char::to_lowercase).take(40) {
        if c.is_alphanumeric() {
            base.push(c);
        } else if !base.is_empty() && !base.ends_with('-') {
            base.push('-');
        }
    }
    let base = base.trim_end_matches('-').to_owned();
    if base.is_empty() {
        return Err(Refused::new("it needs a name", "such as Drum room"));
    }
    std::iter::once(base.clone())
        .chain((2..1000).map(|n| format!("{base}-{n}")))
        .find(|id| !taken(id))
        .ok_or_else(|| Refused::new("this name is taken too often", "choose another"))
}

/// A new rectangular room, right of what stands on its storey.
pub fn room(scene: &Scene, edit: &Edit) -> Result<String, Refused> {
    let building = scene.project.as_ref().map(|p| &p.building);
    let id = id_of(&edit.value, |id| building.is_some_and(|b| b.room(id).is_some()))?;
    let (w, d) = (length(&edit.width, "width")?, length(&edit.depth, "depth")?);
    let h = length(&edit.height, "height")?;
    for (size, what) in [(w, "width"), (d, "depth"), (h, "height")] {
        if !(size > 0.1) {
            return Err(Refused::new(format!("a room has a {what}"), "write 3.2 m"));
        }
    }
    let storey: i32 = edit.storey.trim().parse().map_err(|_| {
        Refused::new("the storey is a whole number", "0 is the ground floor, 1 the one above")
    })?;
    let right = building
        .into_iter()
        .flat_map(|b| &b.rooms)
        .filter(|r| r.storey == storey)
        .filter_map(|r| r.outline.as_ref()?.bounds())
        .map(|(_, high)| high.x.0 + 0.3)
        .fold(0.0, f64::max);
    let corners = [[right, 0.0], [right + w, 0.0], [right + w, d], [right, d]];
    Ok(format!(
        "[[room]]\nid = {}\ntitle = {}\nstorey = {storey}\noutline = {}\nheight = {}\nfinishes = \
         {{ floor = \"timber on joists\", walls = \"gypsum on studs\", ceiling = \"gypsum on \
         studs\" }}\nstatus = \"assumed\"\n",
        quoted(&id),
        quoted(edit.value.trim()),
        outline(&corners),
        metres(h),
    ))
}

/// An id for a new build-up of that name.
///
/// # Errors
/// [`Refused`] where the name makes none.
pub fn build_up_id(scene: &Scene, name: &str) -> Result<String, Refused> {
    let building = scene.project.as_ref().map(|p| &p.building);
    id_of(name, |id| building.is_some_and(|b| b.build_up(id).is_some()))
}

/// A new build-up like one the program knows.
pub fn build_up(scene: &Scene, edit: &Edit) -> Result<String, Refused> {
    let id = build_up_id(scene, &edit.value)?;
    let Some(ready) = catalogue().ready_named(&edit.like) else {
        return Err(Refused::new("the program knows no build-up of that name", ""));
    };
    Ok(format!(
        "[[build_up]]\nid = {}\ntitle = {}\nlayers = [\n{}]\nstatus = \"assumed\"\n",
        quoted(&id),
        quoted(edit.value.trim()),
        layers_of(ready)
    ))
}

/// The layers of a ready build-up, one a line, as the project file spells them.
pub fn layers_of(ready: &wythe_partition::ReadyBuildUp) -> String {
    let mm = |m: f64| quoted(&format!("{} mm", (m * 10_000.0).round() / 10.0));
    let layers: Vec<String> = ready
        .layers
        .iter()
        .map(|l| match l {
            Layer::Board(x) => format!(
                "  {{ board = {}, thickness = {}, count = {} }},\n",
                quoted(&x.material),
                mm(x.thickness.0),
                x.count
            ),
            Layer::Cavity(x) => {
                let fill = x.fill.as_ref().map_or(String::new(), |f| {
                    format!(", fill = {}, fill_depth = {}", quoted(&f.material), mm(f.depth.0))
                });
                let frame = x.frame.as_ref().map_or(String::new(), |f| {
                    let mount = f.mount.as_ref().map_or(String::new(), |m| {
                        let side = match m.side {
                            wythe_partition::Side::A => "a",
                            wythe_partition::Side::B => "b",
                        };
                        format!(", mount = {}, mount_side = \"{side}\"", quoted(mount_word(m.kind)))
                    });
                    let gauge = f.gauge.map_or(String::new(), |g| format!(", gauge = {g}"));
                    format!(
                        ", frame = {}{gauge}, spacing = {}{mount}",
                        quoted(frame_word(f.kind)),
                        mm(f.spacing.0)
                    )
                });
                format!("  {{ cavity = {}{fill}{frame} }},\n", mm(x.depth.0))
            }
        })
        .collect();
    layers.concat()
}

/// A frame as the project file spells it.
pub fn frame_word(kind: wythe_partition::FrameKind) -> &'static str {
    use wythe_partition::FrameKind as F;
    match kind {
        F::TimberStuds => "timber studs",
        F::StaggeredTimberStuds => "staggered timber studs",
        F::SeparateTimberStuds => "separate timber studs",
        F::LightSteelStuds => "light steel studs",
        F::LoadBearingSteelStuds => "load-bearing steel studs",
        F::SeparateSteelStuds => "separate steel studs",
        F::CommonWindowFrame => "common window frame",
        F::SeparateWindowFrames => "separate window frames",
        F::LightWallTies => "light wall ties",
        F::HeavyWallTies => "heavy wall ties",
        F::RigidHangers => "rigid hangers",
        F::ResilientHangers => "resilient hangers",
    }
}

/// A mount as the project file spells it.
pub fn mount_word(kind: wythe_partition::MountKind) -> &'static str {
    match kind {
        wythe_partition::MountKind::ResilientChannel => "resilient channel",
        wythe_partition::MountKind::IsolationClips => "isolation clips",
    }
}

/// A recording with all its channels in one room, until somebody says better.
pub fn recording(scene: &Scene, edit: &Edit) -> Result<String, Refused> {
    let channels = edit.at.clamp(1, 64);
    let known = scene.project.as_ref().is_some_and(|p| p.building.room(&edit.like).is_some());
    if !known || wythe_project::refused_path(&edit.value).is_some() {
        return Err(Refused::new("choose a room of the building", ""));
    }
    let mut out = format!("[[recording]]\nfile = {}\ngain = \"unknown\"\n", quoted(&edit.value));
    for number in 1..=channels {
        out.push_str(&format!(
            "\n[[recording.channel]]\nnumber = {number}\nposition = \"channel-{number}\"\nroom = \
             {}\nstatus = \"assumed\"\n",
            quoted(&edit.like)
        ));
    }
    Ok(out)
}

/// Marks a stretch of a recording.
pub fn stretch(document: &mut Document, edit: &Edit) -> Result<(), Refused> {
    let path = format!("{}.stretch", edit.path);
    let texts = [("from", edit.from.trim()), ("to", edit.value.trim()), ("kind", &edit.like)];
    Ok(document.push(&path, &texts)?)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::store::Texts;
    use wythe_transmission::Cache;

    fn scene(project: &str) -> Scene {
        let texts = Texts { project: project.into(), survey: None };
        Scene::new(&std::env::temp_dir(), texts, None, &mut Cache::default())
    }

    fn with_room(corners: &str) -> String {
        format!("wythe = 1\n[[room]]\nid = \"x\"\noutline = {corners}\nheight = \"2.5 m\"\n")
    }

    #[test]
    fn a_wall_moves_outwards_whichever_way_the_outline_runs() {
        let rooms = [
            // The wall from (4, 0) to (4, 3), then the same against the clock and with it.
            (r#"[["0 m","0 m"],["4 m","0 m"],["4 m","3 m"],["0 m","3 m"]]"#, 1),
            (r#"[["0 m","0 m"],["0 m","3 m"],["4 m","3 m"],["4 m","0 m"]]"#, 2),
        ];
        for (corners, at) in rooms {
            let scene = scene(&with_room(corners));
            let edit = Edit { path: "room[x].outline".into(), at, ..Edit::default() };
            let out = moved(&scene, &Edit { value: "0.5".into(), ..edit.clone() }).unwrap();
            assert_eq!(out.matches("\"4.5 m\"").count(), 2, "{out}");
            let back = moved(&scene, &Edit { value: "−50 cm".into(), ..edit.clone() }).unwrap();
            assert_eq!(back.matches("\"3.5 m\"").count(), 2, "{back}");
            for bad in ["", "x", "1e9 m", "NaN"] {
                assert!(
                    moved(&scene, &Edit { value: bad.into(), ..edit.clone() }).is_err(),
                    "{bad}"
                );
            }
        }
    }

    #[test]
    fn every_ready_build_up_is_written_as_the_project_reads_it() {
        let empty = scene("wythe = 1\n");
        for ready in catalogue().ready() {
            let edit = Edit { value: "New".into(), like: ready.name.clone(), ..Edit::default() };
            let text = format!("wythe = 1\n{}", build_up(&empty, &edit).unwrap());
            let scene = scene(&text);
            let wrong: Vec<_> =
                scene.reading.errors.iter().filter(|e| e.line > 1).map(|e| &e.text).collect();
            assert!(wrong.is_empty(), "{}: {wrong:?}", ready.name);
        }
    }
}
