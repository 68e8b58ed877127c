//! New rooms, moved walls, new build-ups and recordings, as the files spell them.

use wythe_partition::{Layer, catalogue};
use wythe_project::Document;
use wythe_project::quantity::{Quantity, parse};

use crate::edit::{Edit, Refused, quoted};
use crate::scene::Scene;

/// Farthest a wall is moved at once, m; more is a slip of the hand.
const FARTHEST_M: f64 = 100.0;

/// A length as typed; a bare number takes the unit of the form, metres where it has none.
///
/// # Errors
/// [`Refused`] where it is none.
pub fn length(text: &str, what: &str, kind: &str) -> Result<f64, Refused> {
    let text = text.trim().replace('\u{2212}', "-");
    // A minus and a bare number are this form's own; the rest is the project file's language.
    let (sign, rest) = match text.strip_prefix('-') {
        Some(rest) => (-1.0, rest.trim().to_owned()),
        None => (1.0, text.trim_start_matches('+').trim().to_owned()),
    };
    let unit = if matches!(kind, "ft" | "in" | "mm") { kind } else { "m" };
    let rest = if rest.parse::<f64>().is_ok() { format!("{rest} {unit}") } else { rest };
    parse(Quantity::Length, &rest)
        .map(|v| sign * v)
        .ok()
        .filter(|v| v.is_finite() && v.abs() <= FARTHEST_M)
        .ok_or_else(|| {
            Refused::new(
                format!("{what}: `{text}` is no length up to 100 m"),
                "write 0.5 m, 8 in or 12' 6\"",
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
    let by = length(&edit.value, "how far to move", &edit.kind)?;
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

fn outline_of(scene: &Scene, id: &str) -> Option<Vec<[f64; 2]>> {
    let building = &scene.project.as_ref()?.building;
    let room = building.room(id).map(|i| &building.rooms[i.0])?;
    Some(room.outline.as_ref()?.corners().iter().map(|p| [p.x.0, p.y.0]).collect())
}

/// The outline of a room moved to the right and up.
///
/// # Errors
/// [`Refused`].
pub fn moved_room(scene: &Scene, edit: &Edit) -> Result<String, Refused> {
    let by = |text: &str, what| match text.trim() {
        "" => Ok(0.0),
        text => length(text, what, &edit.kind),
    };
    let (x, y) = (by(&edit.x, "to the right")?, by(&edit.y, "up")?);
    let id = edit.path.trim_start_matches("room[").trim_end_matches("].outline");
    let corners = outline_of(scene, id)
        .ok_or_else(|| Refused::new("this room has no outline", ""))?
        .into_iter()
        .map(|c| [c[0] + x, c[1] + y])
        .collect::<Vec<_>>();
    Ok(outline(&corners))
}

/// A storey as typed.
///
/// # Errors
/// [`Refused`].
pub fn storey(text: &str) -> Result<i32, Refused> {
    text.trim()
        .replace('\u{2212}', "-")
        .parse()
        .ok()
        .filter(|s| (-20..=200).contains(s))
        .ok_or_else(|| {
            Refused::new("the storey is a whole number", "0 is the ground floor, 1 the one above")
        })
}

/// A new room: a rectangle where it is said, else right of what stands on its storey; or with the
/// outline of another, to be stacked on it.
///
/// # Errors
/// [`Refused`].
pub fn room(scene: &Scene, edit: &Edit) -> Result<String, Refused> {
    let building = scene.project.as_ref().map(|p| &p.building);
    let id = id_of(&edit.value, |id| building.is_some_and(|b| b.room(id).is_some()))?;
    let size = |text: &str, what: &str| {
        length(text, what, &edit.kind).and_then(|size| {
            if size > 0.1 {
                Ok(size)
            } else {
                Err(Refused::new(format!("a room has a {what}"), "write 3.2 m or 10' 6\""))
            }
        })
    };
    let h = size(&edit.height, "height")?;
    let storey = storey(&edit.storey)?;
    let corners = if edit.like.is_empty() {
        let (w, d) = (size(&edit.width, "width")?, size(&edit.depth, "depth")?);
        let right = building
            .into_iter()
            .flat_map(|b| &b.rooms)
            .filter(|r| r.storey == storey)
            .filter_map(|r| r.outline.as_ref()?.bounds())
            .map(|(_, high)| high.x.0 + 0.3)
            .fold(0.0, f64::max);
        let at = |text: &str, what, usual| match text.trim() {
            "" => Ok(usual),
            text => length(text, what, &edit.kind),
        };
        let (x, y) =
            (at(&edit.x, "place from the left", right)?, at(&edit.y, "place from below", 0.0)?);
        vec![[x, y], [x + w, y], [x + w, y + d], [x, y + d]]
    } else {
        outline_of(scene, &edit.like)
            .ok_or_else(|| Refused::new("that room has no outline", "choose a rectangle"))?
    };
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

/// Lists whose tables mean nothing without the room, or the wall or source, they name.
const HANGING: [&str; 9] = [
    "boundary",
    "source",
    "target",
    "vent",
    "duct",
    "contact",
    "junction",
    "change",
    "caution.appliance",
];

/// Takes a room out with the walls, sources, requirements and offers that need it.
///
/// # Errors
/// [`Refused`] where there is no such room in this file.
pub fn remove_room(document: &mut Document, id: &str) -> Result<(), Refused> {
    document.remove(&format!("room[{id}]"))?;
    // What hangs on the room, then what hangs on that.
    let mut gone = vec![id.to_owned()];
    for _ in 0..4 {
        let before = gone.len();
        for list in HANGING {
            gone.extend(document.remove_naming(list, &gone));
        }
        if gone.len() == before {
            break;
        }
    }
    let openings: Vec<String> = gone;
    for i in 0..document.tables("state") {
        for name in &openings {
            let path = format!("state[{i}].openings.{name}");
            if document.get(&path).is_some() {
                document.remove(&path)?;
            }
        }
    }
    Ok(())
}

/// A wall or floor that was only seen on the outlines, described.
///
/// # Errors
/// [`Refused`] where the rooms or the build-up are not there.
pub fn boundary(scene: &Scene, edit: &Edit) -> Result<String, Refused> {
    let building = scene.project.as_ref().map(|p| &p.building);
    let known = |id: &str| building.is_some_and(|b| b.room(id).is_some());
    let outdoors = || {
        let all: Vec<&str> = building
            .into_iter()
            .flat_map(|b| &b.rooms)
            .filter(|r| r.outdoors)
            .map(|r| r.id.as_str())
            .collect();
        match all[..] {
            [one] => Ok(one.to_owned()),
            _ => Err(Refused::new(
                "it is not clear which outdoors lies behind this wall",
                "describe one room with `outdoors = true` in the file first",
            )),
        }
    };
    let (a, b) = (edit.from.clone(), edit.like.clone());
    let b = if b.is_empty() { outdoors()? } else { b };
    if !known(&a) || !known(&b) {
        return Err(Refused::new("the rooms of this wall are not there any more", ""));
    }
    if building.is_none_or(|x| x.build_up(&edit.value).is_none()) {
        return Err(Refused::new("choose what it is made of", ""));
    }
    Ok(format!(
        "[[boundary]]\nid = {}\nbetween = [{}, {}]\nbuild_up = {}\nstatus = \"assumed\"\n",
        quoted(&id_of(&format!("{a} {b}"), |id| {
            building.is_some_and(|x| x.boundaries.iter().any(|e| e.id == id))
        })?),
        quoted(&a),
        quoted(&b),
        quoted(&edit.value),
    ))
}

/// An opening as it is offered: its name, what the file calls it, and a usual size.
pub struct Offered {
    /// On the list.
    pub name: &'static str,
    /// `door`, `window`, `hatch`, `hole`.
    pub kind: &'static str,
    /// Its leaf by words of the catalogue; none in a hole.
    pub leaf: &'static str,
    /// Usual clear width, m; common practice, no source.
    pub width: f64,
    /// Usual clear height, m.
    pub height: f64,
    /// Usual height of the sill, m.
    pub sill: Option<f64>,
}

const fn offered(
    name: &'static str,
    kind: &'static str,
    leaf: &'static str,
    (width, height): (f64, f64),
    sill: Option<f64>,
) -> Offered {
    Offered { name, kind, leaf, width, height, sill }
}

/// Openings to choose from. Sizes are common practice, no source.
pub const OFFERED: [Offered; 10] = [
    offered("door, solid timber", "door", "solid timber door 44 mm", (0.9, 2.05), None),
    offered("door, hollow core", "door", "hollow-core door 40 mm", (0.8, 2.0), None),
    offered("door, steel", "door", "steel door 45 mm", (0.9, 2.05), None),
    offered("door, glass", "door", "glass door 10 mm", (0.9, 2.05), None),
    offered("window, single pane", "window", "single glazing 4 mm", (1.2, 1.2), Some(0.9)),
    offered("window, double glazing", "window", "double glazing 4/16/4 mm", (1.2, 1.2), Some(0.9)),
    offered("window, laminated pane", "window", "laminated glazing 8 mm", (1.2, 1.2), Some(0.9)),
    offered("hatch, timber", "hatch", "solid timber hatch 44 mm", (0.6, 0.6), None),
    offered("vent, open grille", "hole", "", (0.3, 0.15), None),
    offered("hole", "hole", "", (0.1, 0.1), None),
];

/// Adds an opening to a boundary.
///
/// # Errors
/// [`Refused`].
pub fn opening(document: &mut Document, edit: &Edit) -> Result<(), Refused> {
    let Some(offer) = OFFERED.iter().find(|o| o.name == edit.like) else {
        return Err(Refused::new("choose what is to be added", ""));
    };
    let said = |m: f64| format!("{m} m");
    let typed = |text: &str, what, usual: f64| match text.trim() {
        "" => Ok(said(usual)),
        text => length(text, what, &edit.kind).map(|m| said((m * 1e4).round() / 1e4)),
    };
    let (width, height) =
        (typed(&edit.width, "width", offer.width)?, typed(&edit.height, "height", offer.height)?);
    let sill = offer.sill.map(said);
    let title = edit.value.trim();
    let mut keys: Vec<(&str, &str)> = Vec::new();
    if !title.is_empty() {
        keys.push(("title", title));
    }
    keys.push(("kind", offer.kind));
    if !offer.leaf.is_empty() {
        keys.push(("leaf", offer.leaf));
    }
    keys.extend([("width", width.as_str()), ("height", height.as_str())]);
    if let Some(sill) = &sill {
        keys.push(("sill_height", sill));
    }
    let along = edit.x.trim();
    let along = if along.is_empty() {
        None
    } else {
        Some(said((length(along, "distance", &edit.kind)?.max(0.0) * 1e3).round() / 1e3))
    };
    if let Some(along) = &along {
        keys.push(("along", along));
    }
    keys.push(("status", "assumed"));
    Ok(document.push(&format!("{}.opening", edit.path), &keys)?)
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
                        format!(", mount = {}, mount_side = \"{side}\"", quoted(m.kind.word()))
                    });
                    let gauge = f.gauge.map_or(String::new(), |g| format!(", gauge = {g}"));
                    format!(
                        ", frame = {}{gauge}, spacing = {}{mount}",
                        quoted(f.kind.word()),
                        mm(f.spacing.0)
                    )
                });
                format!("  {{ cavity = {}{fill}{frame} }},\n", mm(x.depth.0))
            }
        })
        .collect();
    layers.concat()
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
    fn a_room_goes_with_all_that_hangs_on_it() {
        let demonstration = include_str!("../../wythe-folder/demo/wythe.toml");
        let before = scene(demonstration);
        for room in &before.project.as_ref().unwrap().building.rooms {
            let mut document = Document::parse(demonstration).unwrap();
            remove_room(&mut document, &room.id).unwrap();
            let after = scene(&document.text());
            let wrong: Vec<_> = after.reading.errors.iter().map(|e| &e.text).collect();
            assert!(wrong.is_empty(), "{}: {wrong:?}", room.id);
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
