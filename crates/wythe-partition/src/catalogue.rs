//! The catalogue: materials, fills, door leaves and glazing by generic trade names.

use std::sync::{Arc, OnceLock};

use toml_edit::{DocumentMut, Item, Table};
use wythe_bands::{Density, FlowResistivity, Metre, Standpoint, SurfaceMass};

use crate::{
    Board, BuildUp, Cavity, Construction, Fill, Frame, FrameKind, Joint, Layer, Mount, MountKind,
    Side,
};

const MATERIALS: &str = include_str!("../../../reference/materials.toml");
const FILLS: &str = include_str!("../../../reference/fills.toml");
const READY: &str = include_str!("../../../reference/ready.toml");

/// How a material carries sound.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum MaterialClass {
    /// A board or sheet that bends.
    Board,
    /// Masonry or concrete: heavy, and losing energy to what surrounds it.
    Masonry,
    /// A heavy membrane without bending stiffness.
    Limp,
}

/// A board, sheet, slab or pane of the catalogue.
#[derive(Clone, Debug, PartialEq)]
pub struct Material {
    /// Name.
    pub name: String,
    /// Other names of the trade.
    pub synonyms: Vec<String>,
    /// How it carries sound.
    pub class: MaterialClass,
    /// Usual density.
    pub density: Density,
    /// Critical frequency × thickness, m/s, in air of 343 m/s; infinite for a limp sheet.
    pub fc_times_h: f64,
    /// Relative standard deviation of `fc_times_h` between products of this name.
    pub spread: f64,
    /// Internal loss factor; what edges and fixings add is calculated.
    pub loss: f64,
    /// Poisson's ratio.
    pub poisson: f64,
    /// Bending stiffness the stiff way over that the soft way, for which `fc_times_h` stands; 1
    /// for an even plate.
    pub stiff_ratio: f64,
    /// Usual thicknesses.
    pub usual: Vec<Metre>,
    /// Where each figure comes from: figure, source.
    pub sources: Vec<(String, String)>,
}

/// A porous fill of the catalogue.
#[derive(Clone, Debug, PartialEq)]
pub struct FillMaterial {
    /// Name.
    pub name: String,
    /// Other names of the trade.
    pub synonyms: Vec<String>,
    /// Usual airflow resistivity.
    pub flow_resistivity: FlowResistivity,
    /// Factor of one standard deviation between products.
    pub spread_factor: f64,
    /// Usual density.
    pub density: Density,
    /// Dynamic stiffness per area times thickness, Pa, of a layer that can carry a floor; `None` for
    /// a fill too soft to hold leaves together.
    pub dynamic_modulus: Option<f64>,
    /// Where each figure comes from: figure, source.
    pub sources: Vec<(String, String)>,
}

/// A build-up ready to use: a door leaf, a window, a wall.
#[derive(Clone, Debug, PartialEq)]
pub struct ReadyBuildUp {
    /// Name.
    pub name: String,
    /// `door`, `glazing`, `wall`, `floor` or `ceiling`.
    pub kind: String,
    /// Other names of the trade.
    pub synonyms: Vec<String>,
    /// Its layers from side a to side b.
    pub layers: Vec<Layer>,
    /// Where it comes from.
    pub source: String,
}

impl ReadyBuildUp {
    /// The same as a build-up of a project.
    pub fn build_up(&self, id: &str) -> BuildUp {
        BuildUp {
            id: id.to_owned(),
            title: Some(self.name.clone()),
            construction: Construction::Layers(self.layers.clone()),
            rigid_bridges_per_m2: 0.0,
            boxes: Vec::new(),
            cost_per_m2: None,
            standpoint: Standpoint { source: Some(self.source.clone()), ..Standpoint::default() },
        }
    }
}

/// Materials and fills of the user's own, beside the catalogue's.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct OwnCatalogue {
    /// Boards, sheets, panes, slabs.
    pub materials: Vec<Arc<Material>>,
    /// Fills.
    pub fills: Vec<Arc<FillMaterial>>,
}

impl OwnCatalogue {
    /// An own material by its name; capitals and spaces at the ends do not matter.
    pub fn material(&self, name: &str) -> Option<Arc<Material>> {
        self.materials.iter().find(|m| is_called(name, &m.name, &m.synonyms)).cloned()
    }

    /// An own fill by its name.
    pub fn fill(&self, name: &str) -> Option<Arc<FillMaterial>> {
        self.fills.iter().find(|f| is_called(name, &f.name, &f.synonyms)).cloned()
    }

    /// Everything of the user's own as entries that [`Entry::matches`] can search.
    pub fn entries(&self) -> impl Iterator<Item = Entry<'_>> {
        self.materials
            .iter()
            .map(|m| Entry::Material(m.as_ref()))
            .chain(self.fills.iter().map(|f| Entry::Fill(f.as_ref())))
    }
}

/// Something found in the catalogue.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Entry<'a> {
    /// A board, sheet, slab or pane.
    Material(&'a Material),
    /// A fill.
    Fill(&'a FillMaterial),
    /// A build-up ready to use.
    Ready(&'a ReadyBuildUp),
}

impl<'a> Entry<'a> {
    /// Its name.
    pub fn name(self) -> &'a str {
        match self {
            Entry::Material(m) => &m.name,
            Entry::Fill(f) => &f.name,
            Entry::Ready(r) => &r.name,
        }
    }

    /// What kind of thing it is: `board`, `fill`, `door`, `glazing`, `wall`, `floor`, `ceiling`.
    pub fn kind(self) -> &'a str {
        match self {
            Entry::Material(_) => "board",
            Entry::Fill(_) => "fill",
            Entry::Ready(r) => &r.kind,
        }
    }

    /// Whether name, synonyms or kind hold every word of `text`, capitals not minded.
    pub fn matches(self, text: &str) -> bool {
        let mut all = format!("{} {}", self.name(), self.kind());
        for synonym in self.synonyms() {
            all.push(' ');
            all.push_str(synonym);
        }
        let all = all.to_lowercase();
        text.split_whitespace().all(|w| all.contains(&w.to_lowercase()))
    }

    fn synonyms(self) -> &'a [String] {
        match self {
            Entry::Material(m) => &m.synonyms,
            Entry::Fill(f) => &f.synonyms,
            Entry::Ready(r) => &r.synonyms,
        }
    }
}

/// The catalogue embedded in the program.
#[derive(Debug)]
pub struct Catalogue {
    materials: Vec<Material>,
    fills: Vec<FillMaterial>,
    ready: Vec<ReadyBuildUp>,
}

/// The catalogue embedded in the program, read once.
pub fn catalogue() -> &'static Catalogue {
    static CATALOGUE: OnceLock<Catalogue> = OnceLock::new();
    // The text is part of the program, and a test reads it; it cannot fail for a user.
    CATALOGUE.get_or_init(|| Catalogue::read().expect("the embedded catalogue is well-formed"))
}

impl Catalogue {
    fn read() -> Result<Catalogue, String> {
        Ok(Catalogue {
            materials: entries(MATERIALS, "material", material)?,
            fills: entries(FILLS, "fill", fill)?,
            ready: entries(READY, "ready", ready)?,
        })
    }

    /// All materials, in the order of the table.
    pub fn materials(&self) -> &[Material] {
        &self.materials
    }

    /// All fills, in the order of the table.
    pub fn fills(&self) -> &[FillMaterial] {
        &self.fills
    }

    /// All build-ups ready to use, in the order of the table.
    pub fn ready(&self) -> &[ReadyBuildUp] {
        &self.ready
    }

    /// A build-up ready to use, by its name or a synonym.
    pub fn ready_named(&self, name: &str) -> Option<&ReadyBuildUp> {
        self.ready.iter().find(|r| is_called(name, &r.name, &r.synonyms))
    }

    /// Everything in the catalogue.
    pub fn entries(&self) -> impl Iterator<Item = Entry<'_>> {
        self.materials
            .iter()
            .map(Entry::Material)
            .chain(self.fills.iter().map(Entry::Fill))
            .chain(self.ready.iter().map(Entry::Ready))
    }

    /// Entries whose name, synonyms or kind hold every word of `text`, capitals not minded; with
    /// no text, everything.
    pub fn search(&self, text: &str) -> Vec<Entry<'_>> {
        self.entries().filter(|entry| entry.matches(text)).collect()
    }

    /// A material by its name or a synonym; capitals and spaces at the ends do not matter.
    pub fn material(&self, name: &str) -> Option<&Material> {
        self.materials.iter().find(|m| is_called(name, &m.name, &m.synonyms))
    }

    /// A fill by its name or a synonym.
    pub fn fill(&self, name: &str) -> Option<&FillMaterial> {
        self.fills.iter().find(|f| is_called(name, &f.name, &f.synonyms))
    }

    /// Names of materials nearest to what was written, best first, at most three.
    pub fn nearest_materials(&self, name: &str) -> Vec<String> {
        nearest(name, self.materials.iter().map(|m| (&m.name, &m.synonyms)))
    }

    /// Names of fills nearest to what was written, best first, at most three.
    pub fn nearest_fills(&self, name: &str) -> Vec<String> {
        nearest(name, self.fills.iter().map(|f| (&f.name, &f.synonyms)))
    }
}

fn is_called(wanted: &str, name: &str, synonyms: &[String]) -> bool {
    let wanted = wanted.trim();
    // The catalogue's names are plain letters, so no text has to be folded and copied: this is
    // asked several times for every board of every prediction.
    name.eq_ignore_ascii_case(wanted) || synonyms.iter().any(|s| s.eq_ignore_ascii_case(wanted))
}

/// Names ordered by edit distance to what was written, synonyms counting for their name.
fn nearest<'a>(
    wanted: &str,
    names: impl Iterator<Item = (&'a String, &'a Vec<String>)>,
) -> Vec<String> {
    // A name longer than any of the catalogue's is cut, so a pasted page costs nothing.
    let wanted: String = wanted.trim().to_lowercase().chars().take(60).collect();
    let mut ranked: Vec<(usize, &String)> = names
        .map(|(name, synonyms)| {
            let best = std::iter::once(name)
                .chain(synonyms.iter())
                .map(|n| {
                    let n = n.to_lowercase();
                    let distance = edit_distance(&wanted, &n);
                    let shared = wanted.split_whitespace().any(|w| w.len() > 3 && n.contains(w));
                    if shared { distance.min(2) } else { distance }
                })
                .min()
                .unwrap_or(usize::MAX);
            (best, name)
        })
        .collect();
    ranked.sort_by_key(|(distance, _)| *distance);
    ranked.into_iter().take(3).map(|(_, name)| name.clone()).collect()
}

/// Number of letters to insert, delete or replace.
fn edit_distance(a: &str, b: &str) -> usize {
    let b: Vec<char> = b.chars().collect();
    let mut row: Vec<usize> = (0..=b.len()).collect();
    for (i, ca) in a.chars().enumerate() {
        let mut diagonal = row[0];
        row[0] = i + 1;
        for (j, cb) in b.iter().enumerate() {
            let replaced = diagonal + usize::from(ca != *cb);
            diagonal = row[j + 1];
            row[j + 1] = replaced.min(row[j] + 1).min(diagonal + 1);
        }
    }
    row[b.len()]
}

fn entries<T>(
    text: &str,
    key: &str,
    read: impl Fn(&Table) -> Result<T, String>,
) -> Result<Vec<T>, String> {
    let document: DocumentMut = text.parse().map_err(|e| format!("{key}: {e}"))?;
    let tables = document
        .get(key)
        .and_then(Item::as_array_of_tables)
        .ok_or_else(|| format!("no [[{key}]]"))?;
    tables.iter().map(read).collect()
}

fn material(table: &Table) -> Result<Material, String> {
    let class = match text(table, "class")?.as_str() {
        "board" => MaterialClass::Board,
        "masonry" => MaterialClass::Masonry,
        "limp" => MaterialClass::Limp,
        other => return Err(format!("class `{other}`")),
    };
    let limp = class == MaterialClass::Limp;
    Ok(Material {
        name: text(table, "name")?,
        synonyms: texts(table, "synonyms"),
        class,
        density: Density(quantity(table, "density", "kg/m3")?),
        fc_times_h: if limp { f64::INFINITY } else { quantity(table, "fc_times_h", "m/s")? },
        spread: if limp { 0.0 } else { number(table, "spread")? },
        loss: number(table, "loss")?,
        poisson: if limp { 0.3 } else { number(table, "poisson")? },
        stiff_ratio: if table.contains_key("stiff_ratio") {
            number(table, "stiff_ratio")?
        } else {
            1.0
        },
        usual: numbers(table, "usual_mm").into_iter().map(|mm| Metre(mm / 1000.0)).collect(),
        sources: sources(table)?,
    })
}

fn fill(table: &Table) -> Result<FillMaterial, String> {
    Ok(FillMaterial {
        name: text(table, "name")?,
        synonyms: texts(table, "synonyms"),
        flow_resistivity: FlowResistivity(quantity(table, "flow_resistivity", "Pa s/m2")?),
        spread_factor: number(table, "spread_factor")?,
        density: Density(quantity(table, "density", "kg/m3")?),
        dynamic_modulus: if table.contains_key("dynamic_modulus") {
            Some(quantity(table, "dynamic_modulus", "MPa")? * 1e6)
        } else {
            None
        },
        sources: sources(table)?,
    })
}

fn ready(table: &Table) -> Result<ReadyBuildUp, String> {
    let name = text(table, "name")?;
    let layers = table
        .get("layers")
        .and_then(Item::as_array)
        .ok_or_else(|| format!("{name}: no layers"))?
        .iter()
        .map(|l| {
            let l = l.as_inline_table().ok_or_else(|| format!("{name}: layer"))?;
            layer(&l.clone().into_table()).map_err(|e| format!("{name}: {e}"))
        })
        .collect::<Result<_, String>>()?;
    Ok(ReadyBuildUp {
        kind: text(table, "kind")?,
        synonyms: texts(table, "synonyms"),
        layers,
        source: text(table, "source")?,
        name,
    })
}

fn layer(table: &Table) -> Result<Layer, String> {
    let mm = |key: &str| quantity(table, key, "mm").map(|mm| Metre(mm / 1000.0));
    let optional = |key: &str, unit: &str| match table.contains_key(key) {
        true => quantity(table, key, unit).map(Some),
        false => Ok(None),
    };
    if table.contains_key("board") {
        return Ok(Layer::Board(Board {
            material: text(table, "board")?,
            thickness: mm("thickness")?,
            count: table.get("count").and_then(Item::as_integer).unwrap_or(1) as u32,
            joined: match table.get("joined").and_then(Item::as_str) {
                None | Some("screwed") => Joint::Screwed,
                Some("bonded") => Joint::Bonded,
                Some("damping layer") => Joint::DampingLayer,
                Some(other) => return Err(format!("joined `{other}`")),
            },
            surface_mass: optional("surface_mass", "kg/m2")?.map(SurfaceMass),
            standpoint: Standpoint::default(),
            own: None,
        }));
    }
    let kind = match table.get("frame").and_then(Item::as_str) {
        None => None,
        Some(word) => Some(FrameKind::from_word(word).ok_or_else(|| format!("frame `{word}`"))?),
    };
    let frame = match kind {
        None => None,
        Some(kind) => Some(Frame {
            kind,
            gauge: table.get("gauge").and_then(Item::as_integer).map(|g| g as u32),
            spacing: mm("spacing")?,
            screw_spacing: None,
            mount: match table.get("mount").and_then(Item::as_str) {
                None => None,
                Some("resilient channel") => {
                    Some(Mount { kind: MountKind::ResilientChannel, side: Side::B })
                }
                Some(other) => return Err(format!("mount `{other}`")),
            },
        }),
    };
    let fill = match table.get("fill").and_then(Item::as_str) {
        None => None,
        Some(material) => Some(Fill {
            material: material.to_owned(),
            depth: mm("fill_depth")?,
            flow_resistivity: None,
            own: None,
        }),
    };
    Ok(Layer::Cavity(Cavity {
        depth: mm("cavity")?,
        fill,
        frame,
        standpoint: Standpoint::default(),
    }))
}

fn text(table: &Table, key: &str) -> Result<String, String> {
    table.get(key).and_then(Item::as_str).map(str::to_owned).ok_or_else(|| format!("no {key}"))
}

fn texts(table: &Table, key: &str) -> Vec<String> {
    table
        .get(key)
        .and_then(Item::as_array)
        .map(|a| a.iter().filter_map(|v| v.as_str().map(str::to_owned)).collect())
        .unwrap_or_default()
}

fn as_number(value: &toml_edit::Value) -> Option<f64> {
    value.as_float().or_else(|| value.as_integer().map(|i| i as f64))
}

fn number(table: &Table, key: &str) -> Result<f64, String> {
    table
        .get(key)
        .and_then(Item::as_value)
        .and_then(as_number)
        .ok_or_else(|| format!("{key} is no number"))
}

fn numbers(table: &Table, key: &str) -> Vec<f64> {
    table
        .get(key)
        .and_then(Item::as_array)
        .map(|a| a.iter().filter_map(as_number).collect())
        .unwrap_or_default()
}

/// A number with its unit, written as `"38 m/s"`; another unit is refused.
fn quantity(table: &Table, key: &str, unit: &str) -> Result<f64, String> {
    let written = text(table, key)?;
    let (number, found) = written.split_once(' ').ok_or_else(|| format!("{key}: no unit"))?;
    if found.trim() != unit {
        return Err(format!("{key}: unit `{found}`, expected `{unit}`"));
    }
    number.parse().map_err(|_| format!("{key}: `{number}`"))
}

/// An empty source is an error: every figure says where it is from.
fn sources(table: &Table) -> Result<Vec<(String, String)>, String> {
    let source = table
        .get("source")
        .and_then(Item::as_inline_table)
        .ok_or_else(|| "no source".to_owned())?;
    source
        .iter()
        .map(|(figure, key)| match key.as_str() {
            Some(key) if !key.trim().is_empty() => Ok((figure.to_owned(), key.to_owned())),
            _ => Err(format!("{figure}: empty source")),
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_embedded_catalogue_reads_and_every_figure_has_a_source() {
        let all = Catalogue::read().unwrap();
        for m in all.materials() {
            for figure in ["density", "loss"] {
                assert!(m.sources.iter().any(|(f, _)| f == figure), "{}: {figure}", m.name);
            }
        }
        assert!(all.fills().iter().all(|f| f.sources.len() >= 2));
    }

    #[test]
    fn every_ready_build_up_can_be_predicted() {
        let all = catalogue();
        assert!(all.ready().len() >= 15);
        for ready in all.ready() {
            let p = crate::predict(&ready.build_up("x"), &crate::Conditions::default());
            assert!(p.is_ok(), "{}: {p:?}", ready.name);
        }
    }

    #[test]
    fn search_finds_by_name_synonym_and_kind() {
        let all = catalogue();
        let names =
            |text: &str| -> Vec<&str> { all.search(text).into_iter().map(Entry::name).collect() };
        assert!(names("Plasterboard").contains(&"gypsum board"));
        assert!(names("door").len() >= 5);
        assert_eq!(names("studio window"), ["secondary glazing 6/150/8 mm"]);
        assert!(names("no such thing").is_empty());
        assert_eq!(all.search("").len(), all.entries().count());
    }

    #[test]
    fn a_slip_of_the_pen_finds_its_name() {
        let all = catalogue();
        assert_eq!(all.nearest_materials("gipsum bord")[0], "gypsum board");
        assert_eq!(all.nearest_materials("Plasterbord")[0], "gypsum board");
        assert_eq!(all.nearest_fills("minral wool")[0], "mineral wool");
        assert_eq!(all.material(" Gypsum Board ").map(|m| m.name.as_str()), Some("gypsum board"));
        assert!(all.material("unobtainium").is_none());
    }
}
