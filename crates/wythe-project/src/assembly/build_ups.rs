//! Build-ups and leaves.

use wythe_bands::{FlowResistivity, LevelDifference, Metre, Standing, SurfaceMass};
use wythe_partition::{
    Board, BoxKind, BoxPlacing, BuildUp, Cavity, Construction, DataSheet, ElectricalBoxes, Fill,
    Frame, FrameKind, Joint, Layer, Mount, MountKind, SheetRating, Side, catalogue,
};

use super::Assembly;
use crate::problem::Place;
use crate::record::{Record, Value, short};
use crate::suggest::hint;
use crate::words::{self, LeafError};

impl Assembly<'_> {
    pub(super) fn build_up(&mut self, record: &Record) {
        let id = record.text("id").unwrap_or_default().to_owned();
        self.take("build-up", record, "id", &id);
        let layers = self.layers(record);
        let table = record.given("table").cloned();
        let rating = record
            .number("rw")
            .map(SheetRating::Rw)
            .or_else(|| record.number("stc").map(SheetRating::Stc));
        for key in ["rw", "stc"].into_iter().filter(|k| record.has(k)) {
            let (problem, help) = if record.has("table") {
                ("stands beside a `table`, which says more", "take one of them out")
            } else if key == "stc" && record.has("rw") {
                ("stands beside `rw`", "take one of them out")
            } else if !record.has("layers") {
                (
                    "alone says nothing of single bands, least of all at 50 Hz",
                    "give the `layers` too; their curve is moved to agree with the number",
                )
            } else {
                continue;
            };
            let text = format!("{}: `{key}` {problem}", record.label);
            self.problem("project::single-number", record.at(key), text, help);
        }
        let construction = match table {
            None if rating.is_some() => Construction::Measured(DataSheet {
                rating,
                source: record.source().unwrap_or("not stated").to_owned(),
                surface_mass: record.number("surface_mass").map(SurfaceMass),
                thickness: record.number("thickness").map(Metre),
                layers,
                ..DataSheet::default()
            }),
            None => {
                if !record.has("layers") && !record.has("table") {
                    let text = format!("{}: neither `layers` nor `table` is given", record.label);
                    let help =
                        "for example `layers = [{ board = \"brick\", thickness = \"215 mm\" }]`";
                    self.problem("project::missing", &record.place, text, help);
                } else if layers.is_empty()
                    && record.given("layers").is_some()
                    && record.records("layers").is_empty()
                {
                    let text = format!("{}: `layers` is empty", record.label);
                    let help =
                        "for example `layers = [{ board = \"brick\", thickness = \"215 mm\" }]`";
                    self.problem("project::layers", record.at("layers"), text, help);
                }
                Construction::Layers(layers)
            }
            Some(given) => {
                let bands = match &given.value {
                    Value::Bands(bands) => Some((**bands).clone()),
                    Value::Text(path) => self.sheet(
                        &record.label,
                        path,
                        &given.place,
                        "reduction_db",
                        (-10.0, 120.0),
                    ),
                    _ => None,
                };
                if record.source().is_none() {
                    let text =
                        format!("{}: the table does not say where it comes from", record.label);
                    self.notes.remark("project::no-source", &given.place, text);
                }
                let bands = bands.unwrap_or_default();
                Construction::Measured(DataSheet {
                    thirds: bands.thirds.map(|_, r| LevelDifference(r)),
                    octaves: bands.octaves.map(|_, r| LevelDifference(r)),
                    rating: None,
                    source: record.source().unwrap_or("not stated").to_owned(),
                    surface_mass: record.number("surface_mass").map(SurfaceMass),
                    thickness: record.number("thickness").map(Metre),
                    layers,
                })
            }
        };
        for key in ["surface_mass", "thickness"] {
            if record.has(key) && !record.has("table") && rating.is_none() {
                let text = format!(
                    "{}: `{key}` of the whole belongs to a `table`; layers carry their own",
                    record.label
                );
                self.problem(
                    "project::misplaced",
                    record.at(key),
                    text,
                    "move it into the layer, or take it out",
                );
            }
        }
        self.building.build_ups.push(BuildUp {
            id,
            title: record.text("title").map(str::to_owned),
            construction,
            rigid_bridges_per_m2: record.number("rigid_bridges_per_m2").unwrap_or(0.0),
            cost_per_m2: record.number("cost_per_m2"),
            standpoint: record.standpoint(),
            boxes: record.records("boxes").iter().filter_map(boxes).collect(),
        });
    }

    fn layers(&mut self, record: &Record) -> Vec<Layer> {
        let records = record.records("layers");
        if records.len() > 40 {
            let text = format!("{}: {} layers are more than 40", record.label, records.len());
            self.problem(
                "project::count",
                record.at("layers"),
                text,
                "equal sheets are one layer with a `count`",
            );
            return Vec::new();
        }
        let layers: Vec<Layer> = records.iter().filter_map(|r| self.layer(r)).collect();
        if layers.len() == records.len() && !layers.is_empty() {
            for (i, pair) in layers.windows(2).enumerate() {
                if matches!(pair, [Layer::Cavity(_), Layer::Cavity(_)]) {
                    let text = format!("{}: two cavities in a row", record.label);
                    self.problem(
                        "project::layers",
                        &records[i + 1].place,
                        text,
                        "make them one cavity, or put a board between",
                    );
                }
            }
            let ends = [(0, "begins"), (layers.len() - 1, "ends")];
            for (i, verb) in ends {
                if matches!(layers[i], Layer::Cavity(_)) {
                    let text = format!("{}: the build-up {verb} with a cavity", record.label);
                    self.problem(
                        "project::layers",
                        &records[i].place,
                        text,
                        "a cavity lies between two boards; take it out, or add the board",
                    );
                }
            }
        }
        layers
    }

    fn layer(&mut self, record: &Record) -> Option<Layer> {
        const OF_BOARD: [&str; 5] = ["board", "thickness", "count", "joined", "surface_mass"];
        const OF_CAVITY: [&str; 10] = [
            "cavity",
            "fill",
            "fill_depth",
            "flow_resistivity",
            "frame",
            "gauge",
            "spacing",
            "screw_spacing",
            "mount",
            "mount_side",
        ];
        let (board, cavity) = (record.has("board"), record.has("cavity"));
        if board == cavity {
            let text = if board {
                format!("{}: one layer is a board or a cavity, not both", record.label)
            } else {
                format!("{}: a layer is either a board or a cavity", record.label)
            };
            let help = "for example `{ board = \"gypsum board\", thickness = \"16 mm\" }` or `{ cavity = \"90 mm\" }`";
            self.problem("project::layers", &record.place, text, help);
            return None;
        }
        let strangers: &[&str] = if board { &OF_CAVITY } else { &OF_BOARD };
        let mut fine = true;
        for key in strangers.iter().filter(|k| record.has(k)) {
            let (kind, other) = if board { ("board", "cavity") } else { ("cavity", "board") };
            let text =
                format!("{}: `{key}` belongs to a {other}, this layer is a {kind}", record.label);
            self.problem(
                "project::misplaced",
                record.at(key),
                text,
                "write it in the layer it belongs to",
            );
            fine = false;
        }
        if !fine {
            return None;
        }
        if board {
            self.board(record).map(Layer::Board)
        } else {
            self.cavity(record).map(Layer::Cavity)
        }
    }

    fn board(&mut self, record: &Record) -> Option<Board> {
        let word = record.text("board")?;
        let own = self.building.own.material(word);
        let named = own.as_ref().map(|m| m.name.clone());
        let Some(material) = named.or_else(|| catalogue().material(word).map(|m| m.name.clone()))
        else {
            let mine = self.building.own.materials.iter().map(|m| (&m.name, &m.synonyms));
            let help = near(
                word,
                mine.chain(catalogue().materials().iter().map(|m| (&m.name, &m.synonyms))),
                &catalogue().nearest_materials(word),
            );
            let text = format!("{}: there is no material `{}`", record.label, short(word));
            self.problem("project::unknown-material", record.at("board"), text, help);
            return None;
        };
        let Some(thickness) = record.number("thickness") else {
            if !record.is_bad("thickness") {
                let text = format!("{}: `thickness` is missing", record.label);
                let help = "thickness of one sheet, for example `thickness = \"15.9 mm\"`";
                self.problem("project::missing", &record.place, text, help);
            }
            return None;
        };
        let count = record.whole("count").unwrap_or(1) as u32;
        let whole = thickness * f64::from(count);
        if whole > 2.5 {
            let text = format!("{}: {count} sheets are {whole:.2} m thick together", record.label);
            self.problem(
                "project::range",
                record.at("count"),
                text,
                "a leaf is at most 2.5 m thick",
            );
            return None;
        }
        if let Some(mass) = record.number("surface_mass") {
            let density = mass / thickness;
            // Between the lightest board and lead.
            if !(5.0..=12_000.0).contains(&density) {
                let text = format!(
                    "{}: {mass} kg/m2 at {} mm would be {density:.0} kg/m3",
                    record.label,
                    thickness * 1000.0
                );
                let help =
                    "`surface_mass` is the mass of ONE sheet per area; check it and the thickness";
                self.problem("project::range", record.at("surface_mass"), text, help);
                return None;
            }
        }
        Some(Board {
            material,
            thickness: Metre(thickness),
            count,
            joined: record.text("joined").map_or(Joint::Screwed, words::joint),
            surface_mass: record.number("surface_mass").map(SurfaceMass),
            standpoint: record.standpoint(),
            own,
        })
    }

    fn cavity(&mut self, record: &Record) -> Option<Cavity> {
        let depth = record.number("cavity")?;
        let fill = self.fill(record, depth);
        let frame = self.frame(record);
        Some(Cavity { depth: Metre(depth), fill, frame, standpoint: record.standpoint() })
    }

    fn fill(&mut self, record: &Record, depth: f64) -> Option<Fill> {
        let Some(word) = record.text("fill") else {
            for key in ["fill_depth", "flow_resistivity"] {
                if record.has(key) && !record.has("fill") {
                    let text = format!("{}: `{key}` is given, but no `fill`", record.label);
                    self.problem(
                        "project::missing",
                        record.at(key),
                        text,
                        "for example `fill = \"mineral wool\"`",
                    );
                }
            }
            return None;
        };
        if word == "none" || word == "empty" || word == "air" {
            return None;
        }
        let resistivity = record.number("flow_resistivity");
        let own = self.building.own.fill(word);
        let named = own.as_ref().map(|f| f.name.clone());
        let Some(material) = named.or_else(|| catalogue().fill(word).map(|f| f.name.clone()))
        else {
            let mine = self.building.own.fills.iter().map(|f| (&f.name, &f.synonyms));
            let help = near(
                word,
                mine.chain(catalogue().fills().iter().map(|f| (&f.name, &f.synonyms))),
                &catalogue().nearest_fills(word),
            );
            let text = format!("{}: there is no fill `{}`", record.label, short(word));
            self.problem("project::unknown-material", record.at("fill"), text, help);
            return None;
        };
        let fill_depth = record.number("fill_depth");
        if let Some(fill_depth) = fill_depth
            && fill_depth > depth * 1.000_001
        {
            let text = format!(
                "{}: the fill is {} mm deep in a cavity of {} mm",
                record.label,
                fill_depth * 1000.0,
                depth * 1000.0
            );
            self.problem(
                "project::fill-depth",
                record.at("fill_depth"),
                text,
                "a fill is at most as deep as its cavity",
            );
            return None;
        }
        if fill_depth.is_none() && !record.is_bad("fill_depth") {
            let what = format!("{}, fill_depth", record.label);
            self.notes.assume(what, "not stated; taken as the whole cavity", record.at("fill"));
        }
        Some(Fill {
            material,
            depth: Metre(fill_depth.unwrap_or(depth)),
            flow_resistivity: resistivity.map(FlowResistivity),
            own,
        })
    }

    fn frame(&mut self, record: &Record) -> Option<Frame> {
        let kind = record.text("frame").and_then(FrameKind::from_word);
        let Some(kind) = kind else {
            let stated_none = record.text("frame") == Some("none");
            for key in ["gauge", "spacing", "screw_spacing", "mount", "mount_side"] {
                if record.has(key) && (stated_none || !record.has("frame")) {
                    let text = format!("{}: `{key}` is given, but no `frame`", record.label);
                    self.problem(
                        "project::missing",
                        record.at(key),
                        text,
                        "for example `frame = \"timber studs\"`",
                    );
                }
            }
            return None;
        };
        let spacing = match record.number("spacing") {
            Some(spacing) => spacing,
            None => {
                let (usual, text) = match kind {
                    FrameKind::LightWallTies | FrameKind::HeavyWallTies => {
                        (0.9, "not stated; taken as 900 mm (common practice, no source)")
                    }
                    FrameKind::RigidHangers | FrameKind::ResilientHangers => {
                        (1.2, "not stated; taken as 1.2 m (common practice, no source)")
                    }
                    _ => (0.6, "not stated; taken as 600 mm (common practice, no source)"),
                };
                if !record.is_bad("spacing") {
                    let what = format!("{}, spacing", record.label);
                    self.notes.assume(what, text, record.at("frame"));
                }
                usual
            }
        };
        let mount = record.text("mount").map(|word| Mount {
            kind: match word {
                "isolation clips" => MountKind::IsolationClips,
                _ => MountKind::ResilientChannel,
            },
            side: match record.text("mount_side") {
                Some("a") => Side::A,
                _ => Side::B,
            },
        });
        if record.has("mount") && !record.has("mount_side") {
            let what = format!("{}, mount_side", record.label);
            self.notes.assume(what, "not stated; taken as side b", record.at("mount"));
        }
        if record.has("mount_side") && !record.has("mount") {
            let text = format!("{}: `mount_side` is given, but no `mount`", record.label);
            self.problem(
                "project::missing",
                record.at("mount_side"),
                text,
                "for example `mount = \"resilient channel\"`",
            );
        }
        Some(Frame {
            kind,
            gauge: record.whole("gauge").map(|n| n as u32),
            spacing: Metre(spacing),
            screw_spacing: record.number("screw_spacing").map(Metre),
            mount,
        })
    }

    /// A leaf: a build-up by id, or words of the trade.
    pub(super) fn leaf(&mut self, label: &str, text: &str, place: &Place) -> Option<BuildUp> {
        if let Some(index) = self.building.build_up(text) {
            return Some(self.building.build_ups[index.0].clone());
        }
        match words::leaf(text) {
            Ok(leaf) => {
                let note = "make-up taken from its name (common practice, no source)";
                let what = format!("{label}, leaf `{}`", short(text));
                self.notes.note(what, note, Standing::Assumed, None, true, place);
                Some(leaf)
            }
            Err(LeafError::Size) => {
                let message = format!("{label}: `{}` has no usable thickness", short(text));
                self.problem(
                    "project::leaf",
                    place,
                    message,
                    "for example `leaf = \"solid timber door 44 mm\"`",
                );
                None
            }
            Err(LeafError::Unknown) => {
                let mut known: Vec<&str> = words::LEAVES.iter().map(|(n, _)| *n).collect();
                known.extend(self.building.build_ups.iter().map(|b| b.id.as_str()));
                let help = hint(text, &known);
                let message =
                    format!("{label}: `{}` is neither a build-up nor a known leaf", short(text));
                self.problem("project::leaf", place, message, help);
                None
            }
        }
    }
}

fn boxes(record: &Record) -> Option<ElectricalBoxes> {
    let kind = record.text("kind")?;
    let placed = record.text("placed").unwrap_or(BoxPlacing::BackToBack.word());
    Some(ElectricalBoxes {
        kind: BoxKind::ALL.into_iter().find(|k| k.word() == kind)?,
        per_m2: record.number("per_m2")?,
        placed: BoxPlacing::ALL.into_iter().find(|p| p.word() == placed)?,
        sealed: record.flag("sealed").unwrap_or(false),
    })
}

/// The name a mistyped one was meant to be, or else the nearest names of the catalogue.
pub(super) fn near<'a>(
    word: &str,
    all: impl Iterator<Item = (&'a String, &'a Vec<String>)>,
    nearest: &[String],
) -> String {
    let known = all.flat_map(|(name, others)| std::iter::once(name).chain(others));
    if let Some(one) = crate::suggest::nearest(word, known.map(String::as_str)) {
        return format!("did you mean `{one}`?");
    }
    let names: Vec<String> = nearest.iter().map(|n| format!("`{n}`")).collect();
    match &names[..] {
        [] => String::new(),
        [one] => format!("did you mean {one}?"),
        [first @ .., last] => format!("did you mean {} or {last}?", first.join(", ")),
    }
}
