//! The buying list of a plan: what to order, by trade, with quantities from the geometry.
//!
//! Counts of screws, clips, channel and waste are common practice without a source; the geometry
//! behind them is exact. Not here: any price the user did not give.

use std::collections::BTreeMap;

use wythe_bands::{Metre, Remark, SquareMetre, SurfaceMass};
use wythe_building::{Action, Boundary, Building, LeakShape};
use wythe_findings::caution::take_off::{
    Bead, Millilitres, SCREWS_ON_CEILINGS, SCREWS_ON_WALLS, TakeOffError, Waste, clips, fill,
    screw_length, screws_per_sheet, sealant_tubes, sheets,
};
use wythe_partition::{
    FrameKind, MaterialClass, MountKind, Opening, PerimeterPart, Seal, SealKind,
};

use crate::geometry::{Face, face};
use crate::prices::PriceList;
use crate::work::{Piece, work};

/// Who buys and fixes it, in the order of the work.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Trade {
    /// Frames, channel, clips.
    Framing,
    /// Wool and other fill.
    Insulation,
    /// Boards, screws, damping compound.
    Boarding,
    /// Sealant, backing.
    Sealing,
    /// Masonry and plaster.
    Masonry,
    /// Leaves, panes, seals.
    Doors,
    /// Absorbing surfaces in rooms.
    Absorbers,
    /// Ducts and silencers.
    Air,
    /// Pads, risers, floating floors.
    Mountings,
}

impl Trade {
    /// Word of the list.
    pub fn word(self) -> &'static str {
        match self {
            Trade::Framing => "framing",
            Trade::Insulation => "insulation",
            Trade::Boarding => "boarding",
            Trade::Sealing => "sealing",
            Trade::Masonry => "masonry",
            Trade::Doors => "doors and windows",
            Trade::Absorbers => "absorbers",
            Trade::Air => "ventilation",
            Trade::Mountings => "mountings",
        }
    }
}

/// Which sheets the yard has.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Default)]
pub enum Yard {
    /// 1200 mm wide, 2400, 2700 or 3000 mm long (common practice, no source).
    #[default]
    Metric,
    /// 48 in wide, 8, 9, 10 or 12 ft long.
    Imperial,
}

/// How to count.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Counting {
    /// Which sheets the yard has.
    pub yard: Yard,
    /// One sheet size for everything, instead of the shortest that reaches.
    pub sheet: Option<[Metre; 2]>,
    /// One waste for everything; otherwise 10 %, and 15 % where there are openings.
    pub waste: Option<Waste>,
    /// Shape of the bead along edges.
    pub bead: Bead,
    /// Content of a tube.
    pub tube: Millilitres,
    /// Load one isolation clip is rated for, kg. The maker's sheet decides.
    pub clip_load: f64,
}

impl Default for Counting {
    fn default() -> Self {
        Counting {
            yard: Yard::Metric,
            sheet: None,
            waste: None,
            bead: Bead::Square(Metre(0.006)),
            tube: Millilitres::LARGE_TUBE,
            // A common order of rated loads; nothing may be bought by it.
            clip_load: 12.0,
        }
    }
}

/// One line of the list.
#[derive(Clone, Debug, PartialEq)]
pub struct Item {
    /// Who buys it.
    pub trade: Trade,
    /// What.
    pub item: String,
    /// How much; whole numbers where pieces are counted.
    pub quantity: f64,
    /// Unit: `sheets`, `tubes`, `screws`, `m`, `m²`, `pieces`.
    pub unit: &'static str,
    /// What has to be known when ordering.
    pub note: Option<String>,
    /// Positions of the changes it is for.
    pub changes: Vec<usize>,
    /// Price of the whole line; `None` when none is on file.
    pub cost: Option<f64>,
    /// Whether that price is invented.
    pub cost_invented: bool,
}

/// The list with what belongs to it.
#[derive(Clone, Debug, PartialEq, Default)]
pub struct Buying {
    /// Lines, by trade.
    pub items: Vec<Item>,
    /// Hours of the changes that state them; of the others by the hours each line takes, where the
    /// user's prices say so for all of them.
    pub hours: f64,
    /// Changes without hours.
    pub without_hours: Vec<usize>,
    /// What has to be said.
    pub remarks: Vec<Remark>,
}

/// Lengths screws are sold in, mm (common practice, no source).
const SCREW_LENGTHS: [f64; 12] =
    [25.0, 32.0, 38.0, 41.0, 50.0, 57.0, 65.0, 75.0, 90.0, 100.0, 120.0, 140.0];
/// Spacing of channel on clips and of resilient channel on walls, m (common practice).
const CHANNEL_SPACING: f64 = 0.6;
/// The same under ceilings.
const CHANNEL_SPACING_CEILING: f64 = 0.4;
/// Greatest spacing of clips along a channel, m (common practice; the maker's may be less).
const CLIP_SPACING: f64 = 1.2;
/// Slits wider than this need backing, m (common practice).
const BACKING_FROM: f64 = 0.006;

/// Counts what a set of changes needs.
///
/// What an element cannot be counted from becomes a remark; nothing is guessed for it.
pub fn buying(
    building: &Building,
    changes: &[usize],
    counting: &Counting,
    prices: &PriceList,
) -> Buying {
    let mut list = List { counting, lines: BTreeMap::new(), remarks: Vec::new() };
    let mut out = Buying::default();
    let mut unstated: Vec<usize> = Vec::new();
    let mut chosen: Vec<usize> =
        changes.iter().copied().filter(|&c| c < building.changes.len()).collect();
    chosen.sort_unstable();
    chosen.dedup();
    for &index in &chosen {
        let change = &building.changes[index];
        match change.hours {
            Some(h) if h.is_finite() && h >= 0.0 => out.hours += h,
            _ => unstated.push(index),
        }
        for action in &change.actions {
            list.action(building, index, action);
        }
    }
    out.remarks = list.remarks;
    out.items = list
        .lines
        .into_iter()
        .map(|((trade, item, unit), line)| {
            // Pieces are bought whole, and only the sum is rounded up.
            let quantity = match unit {
                "m" | "m²" => (line.quantity * 10.0 - 1e-6).ceil() / 10.0,
                _ => (line.quantity - 1e-9).ceil(),
            };
            let price = prices.of(&item, unit);
            Item {
                trade,
                quantity,
                unit,
                note: line.note,
                changes: line.changes,
                cost: price.map(|p| p.price * quantity),
                cost_invented: price.is_some_and(|p| p.invented),
                item,
            }
        })
        .collect();
    for index in unstated {
        let own: Option<f64> = if chosen == [index] {
            // Hours of one change by itself come from its own lines.
            out.items
                .iter()
                .map(|i| prices.of(&i.item, i.unit)?.hours.map(|h| h * i.quantity))
                .sum()
        } else {
            let alone = buying(building, &[index], counting, prices);
            alone.without_hours.is_empty().then_some(alone.hours)
        };
        match own.filter(|_| !out.items.is_empty() || building.changes[index].actions.is_empty()) {
            Some(h) => out.hours += h,
            None => out.without_hours.push(index),
        }
    }
    out.remarks.dedup();
    out
}

#[derive(Default)]
struct Line {
    quantity: f64,
    note: Option<String>,
    changes: Vec<usize>,
}

struct List<'a> {
    counting: &'a Counting,
    lines: BTreeMap<(Trade, String, &'static str), Line>,
    remarks: Vec<Remark>,
}

impl List<'_> {
    fn put(
        &mut self,
        change: usize,
        trade: Trade,
        item: impl Into<String>,
        quantity: f64,
        unit: &'static str,
        note: Option<String>,
    ) {
        if !(quantity > 0.0 && quantity.is_finite()) {
            return;
        }
        let line = self.lines.entry((trade, item.into(), unit)).or_default();
        line.quantity += quantity;
        if !line.changes.contains(&change) {
            line.changes.push(change);
        }
        if line.note.is_none() {
            line.note = note;
        }
    }

    fn cannot(&mut self, place: &str, why: impl std::fmt::Display) {
        self.remarks.push(
            Remark::new("remedy::not-counted", format!("cannot be counted: {why}")).at(place),
        );
    }

    fn action(&mut self, building: &Building, change: usize, action: &Action) {
        match action {
            Action::Rebuild { boundary, build_up } => {
                let Some(b) = building.boundaries.get(boundary.0) else { return };
                let old = building.build_ups.get(b.build_up.0);
                let new = building.build_ups.get(build_up.0);
                let Some((old, new)) = old.zip(new) else { return };
                let Some(face) = face(building, b) else {
                    return self.cannot(b.name(), "its area is not known");
                };
                let Some(pieces) = work(old, new) else {
                    return self
                        .cannot(b.name(), "the layers of a measured build-up are not known");
                };
                if let Some(assumed) = &face.assumed {
                    self.remarks.push(
                        Remark::new("remedy::geometry-assumed", assumed.clone())
                            .at(b.name().to_owned()),
                    );
                }
                if let Err(e) = self.pieces(change, &face, &pieces, b) {
                    self.cannot(b.name(), e);
                }
            }
            Action::Seal { opening, head, jambs, sill } => {
                for o in building.boundaries.iter().flat_map(|b| &b.openings) {
                    if &o.id == opening {
                        self.seals(change, o, [*head, *jambs, *sill]);
                    }
                }
            }
            Action::Leaf { opening, leaf } => {
                for o in building.boundaries.iter().flat_map(|b| &b.openings) {
                    if &o.id == opening {
                        self.leaf(change, o, leaf);
                    }
                }
            }
            Action::Close { leak } => {
                for l in building.boundaries.iter().flat_map(|b| &b.leaks) {
                    if &l.id == leak {
                        self.leak(change, l);
                    }
                }
            }
            Action::Absorb { finish, area, .. } => {
                match fill(*area, self.counting.waste.unwrap_or(Waste::PLAIN)) {
                    Ok(a) => self.put(
                        change,
                        Trade::Absorbers,
                        finish.clone(),
                        a.0,
                        "m²",
                        Some("with its fire class on the label; no bare foam".into()),
                    ),
                    Err(e) => self.cannot(finish, e),
                }
            }
            Action::SecondDoor { opening, leaf, depth, lined } => {
                let doors = building.boundaries.iter().flat_map(|b| &b.openings);
                for o in doors.filter(|o| &o.id == opening) {
                    self.second_door(change, o, leaf, *depth, *lined);
                }
            }
            Action::Silence { duct, .. } => {
                let named = building.fabric.ducts.iter().find(|d| &d.id == duct);
                let Some(d) = named else { return };
                let name = d.title.clone().unwrap_or_else(|| d.id.clone());
                let size = match d.section {
                    wythe_building::Section::Round { diameter } => {
                        format!("{:.0} mm round", diameter.0 * 1000.0)
                    }
                    wythe_building::Section::Rectangular { width, height } => {
                        format!("{:.0} × {:.0} mm clear", width.0 * 1000.0, height.0 * 1000.0)
                    }
                };
                let note = "insertion loss by octave band and pressure drop from the maker's sheet; \
                            the ventilation must still carry its air: for whoever is licensed for it";
                let item = format!("silencer for {name}, {size}");
                self.put(change, Trade::Air, item, 1.0, "pieces", Some(note.into()));
            }
            Action::Plug { way } => {
                let note = "a room that loses its air must get it back another way, and no appliance \
                            that burns may draw from it; ask before it is closed";
                let item = format!("plug for {way}, as heavy as the wall");
                self.put(change, Trade::Sealing, item, 1.0, "pieces", Some(note.into()));
            }
            Action::Mount { contact, mounting, area, mass } => {
                let note = format!(
                    "{:.0} Hz with {:.0} kg on it; from the maker's chart at that load",
                    mounting.natural_frequency.0,
                    mass.0 * area.0
                );
                let item = format!("resilient pads under {contact}");
                self.put(change, Trade::Mountings, item, area.0, "m²", Some(note));
                match fill(*area, self.counting.waste.unwrap_or(Waste::PLAIN)) {
                    Ok(a) => self.put(
                        change,
                        Trade::Mountings,
                        format!("deck of {:.0} kg/m² on pads", mass.0),
                        a.0,
                        "m²",
                        Some("touches no wall; no screw goes through to the floor".into()),
                    ),
                    Err(e) => self.cannot(contact, e),
                }
            }
            // Hours and care, nothing to order.
            Action::CutBridges { .. }
            | Action::CutJunction { .. }
            | Action::Earlier { .. }
            | Action::Quieter { .. } => {}
        }
    }

    fn second_door(
        &mut self,
        change: usize,
        o: &Opening,
        leaf: &wythe_partition::BuildUp,
        depth: Metre,
        lined: bool,
    ) {
        let seal = |kind| Some(Seal { kind, gap: Metre(0.002) });
        let second = Opening { title: Some(format!("second door of {}", o.id)), ..o.clone() };
        self.leaf(change, &second, leaf);
        let edges = [SealKind::Compression, SealKind::Compression, SealKind::DropSeal].map(seal);
        self.seals(change, &second, edges);
        let around = 2.0 * o.height.0 + o.width.0;
        let note = format!(
            "{:.0} mm deep, on the isolated side only, tied to nothing behind it; both doors must open \
             from inside without a key, the way people leave",
            depth.0 * 1000.0
        );
        let item = "door frame and reveal".to_owned();
        self.put(change, Trade::Doors, item, around, "m", Some(note));
        if lined {
            let note = "with its fire class on the label; no bare foam".to_owned();
            let item = "absorbing board 25 mm for the reveal".to_owned();
            self.put(change, Trade::Absorbers, item, around * depth.0, "m²", Some(note));
        }
    }

    /// Width and length of the sheets for a face.
    fn sheet(&self, face: &Face) -> [Metre; 2] {
        if let Some(sheet) = self.counting.sheet {
            return sheet;
        }
        let foot = 0.3048;
        let (width, lengths): (f64, &[f64]) = match self.counting.yard {
            Yard::Metric => (1.2, &[2.4, 2.7, 3.0]),
            Yard::Imperial => (4.0 * foot, &[8.0 * foot, 9.0 * foot, 10.0 * foot, 12.0 * foot]),
        };
        let wanted = if face.lying { 0.0 } else { face.height };
        // 10 mm of a stated height is within what a tape and a floor joint allow.
        let length = lengths
            .iter()
            .copied()
            .find(|l| l + 0.010 >= wanted)
            .or(lengths.last().copied())
            .unwrap_or(2.4);
        [Metre(width), Metre(length)]
    }

    fn sheet_name(&self, sheet: [Metre; 2]) -> String {
        match self.counting.yard {
            Yard::Metric => {
                format!("{:.0} × {:.0} mm", sheet[0].0 * 1000.0, sheet[1].0 * 1000.0)
            }
            Yard::Imperial => {
                format!("{:.0} × {:.0} ft", sheet[0].0 / 0.3048, sheet[1].0 / 0.3048)
            }
        }
    }

    fn pieces(
        &mut self,
        change: usize,
        face: &Face,
        pieces: &[Piece],
        boundary: &Boundary,
    ) -> Result<(), TakeOffError> {
        let usual = if face.has_openings { Waste::CUT_UP } else { Waste::PLAIN };
        let waste = self.counting.waste.unwrap_or(usual);
        let sheet = self.sheet(face);
        let sheet_area = SquareMetre(sheet[0].0 * sheet[1].0);
        for piece in pieces {
            match piece {
                Piece::Sheet { board, through, supports, damped, mounted } => {
                    let mm = board.thickness.0 * 1000.0;
                    let class = board.known().map(|m| m.class);
                    if class == Some(MaterialClass::Masonry) {
                        let name = format!("{}, {mm:.0} mm", board.material);
                        let area = fill(SquareMetre(face.area), waste)?;
                        self.put(change, Trade::Masonry, name, area.0, "m²", None);
                        continue;
                    }
                    let size = self.sheet_name(sheet);
                    let name = format!("{} {} mm, {size}", board.material, trimmed(mm));
                    // Refuses what cannot be counted; parts of sheets add up over layers and
                    // walls of one order, and only the sum is rounded up.
                    sheets(SquareMetre(face.area), 1, sheet_area, waste)?;
                    let count = face.area * (1.0 + waste.0) / sheet_area.0;
                    let kg = wythe_findings::caution::load::sheet_mass(board);
                    let note = kg.map(|m| {
                        format!(
                            "planned at {:.1} kg/m², {:.0} kg a sheet: read the label before \
                             unloading",
                            m.0,
                            m.0 * sheet_area.0
                        )
                    });
                    self.put(change, Trade::Boarding, name, count, "sheets", note);
                    if *damped {
                        let area = fill(SquareMetre(face.area), waste)?;
                        let note = "spread as the maker says, and to the edges".to_owned();
                        self.put(
                            change,
                            Trade::Boarding,
                            "damping compound between sheets",
                            area.0,
                            "m²",
                            Some(note),
                        );
                    }
                    if let Some(through) = through {
                        let spacing = if face.lying { SCREWS_ON_CEILINGS } else { SCREWS_ON_WALLS };
                        let channel =
                            if face.lying { CHANNEL_SPACING_CEILING } else { CHANNEL_SPACING };
                        let supports = if *mounted { channel } else { *supports };
                        let each = screws_per_sheet(sheet, Metre(supports), spacing)? as f64;
                        let least = screw_length(Metre(*through))?.0 * 1000.0;
                        let length = SCREW_LENGTHS
                            .iter()
                            .copied()
                            .find(|l| l + 0.15 >= least)
                            .unwrap_or(least.ceil());
                        let (name, note) = if *mounted {
                            (
                                format!(
                                    "screws into channel for {} mm of boards",
                                    trimmed(through * 1000.0)
                                ),
                                "length as the maker of the channel says: a screw that reaches the \
                                 frame undoes the mounting",
                            )
                        } else {
                            (
                                format!("board screws {length:.0} mm"),
                                "longer ones can reach what lies behind",
                            )
                        };
                        let whole = count * each;
                        self.put(change, Trade::Boarding, name, whole, "screws", Some(note.into()));
                    }
                    let bead = Metre(face.perimeter + face.openings);
                    self.sealant(
                        change,
                        bead,
                        self.counting.bead,
                        "along every edge of every layer",
                    )?;
                }
                Piece::Fill(material, depth) => {
                    let area = fill(SquareMetre(face.area), waste)?;
                    let name = format!("{material}, {:.0} mm deep", depth * 1000.0);
                    let note = "density and flow resistivity on the label; gloves, goggles, mask";
                    self.put(change, Trade::Insulation, name, area.0, "m²", Some(note.into()));
                }
                Piece::Frame { frame, rows, depth } => {
                    if frame.kind.is_points() {
                        let across =
                            frame.screw_spacing.unwrap_or(frame.kind.usual_rows(frame.spacing));
                        let each = SquareMetre(frame.spacing.0 * across.0);
                        let count = (face.area / each.0).ceil();
                        if count.is_finite() && count < 1e6 {
                            let note = "as many and as strong as whoever answers for the load says";
                            let name = frame.kind.word().to_owned();
                            self.put(
                                change,
                                Trade::Framing,
                                name,
                                count,
                                "pieces",
                                Some(note.into()),
                            );
                        }
                        continue;
                    }
                    let rows = f64::from(*rows);
                    let along = (face.length / frame.spacing.0 + 1e-9).floor() + 1.0;
                    if !(along.is_finite() && (1.0..1e5).contains(&along)) {
                        continue;
                    }
                    let metres = rows * (along * face.height + 2.0 * face.length);
                    let name = match frame.kind {
                        FrameKind::CommonWindowFrame | FrameKind::SeparateWindowFrames => {
                            let name = "window frame".to_owned();
                            let metres = rows * face.perimeter;
                            self.put(change, Trade::Doors, name, metres, "m", None);
                            continue;
                        }
                        FrameKind::LightSteelStuds | FrameKind::SeparateSteelStuds => {
                            "light steel studs and track".to_owned()
                        }
                        FrameKind::LoadBearingSteelStuds => "load-bearing steel studs".to_owned(),
                        _ if face.lying => "joists or joist ends for the inner ceiling".to_owned(),
                        _ => "timber studs and plates".to_owned(),
                    };
                    let note = if face.lying {
                        "size and span are for an engineer to say".to_owned()
                    } else {
                        format!(
                            "at {:.0} mm centres in {:.0} mm of depth; on a seal strip, clear of the \
                             old wall",
                            frame.spacing.0 * 1000.0,
                            depth * 1000.0
                        )
                    };
                    let metres = fill(SquareMetre(metres), waste)?.0;
                    self.put(change, Trade::Framing, name, metres, "m", Some(note));
                }
                Piece::Mount(mount, mass) => {
                    let spacing =
                        if face.lying { CHANNEL_SPACING_CEILING } else { CHANNEL_SPACING };
                    let channel = fill(SquareMetre(face.area / spacing), waste)?.0;
                    match mount.kind {
                        MountKind::ResilientChannel => {
                            let note = "open edge up on walls; ends clear of corners";
                            self.put(
                                change,
                                Trade::Framing,
                                "resilient channel",
                                channel,
                                "m",
                                Some(note.into()),
                            );
                        }
                        MountKind::IsolationClips => {
                            self.put(change, Trade::Framing, "furring channel", channel, "m", None);
                            let by_spacing =
                                (face.area / spacing / CLIP_SPACING - 1e-9).ceil().max(0.0);
                            let by_load = match mass {
                                Some(m) => clips(
                                    SurfaceMass(*m),
                                    SquareMetre(face.area),
                                    self.counting.clip_load,
                                )? as f64,
                                None => {
                                    self.cannot(
                                        boundary.name(),
                                        "boards of unknown weight on clips",
                                    );
                                    0.0
                                }
                            };
                            let note = format!(
                                "reckoned with {:.0} kg a clip and at most {CLIP_SPACING} m apart; \
                                 take both from the maker's sheet",
                                self.counting.clip_load
                            );
                            self.put(
                                change,
                                Trade::Framing,
                                "isolation clips",
                                by_load.max(by_spacing),
                                "pieces",
                                Some(note),
                            );
                        }
                    }
                }
                Piece::Out(material) => {
                    self.remarks.push(
                        Remark::new(
                            "remedy::comes-out",
                            format!(
                                "{material} comes out: reckon with a skip, and in an old building \
                                 have boards, paint and compound tested before they are broken"
                            ),
                        )
                        .at(boundary.name().to_owned()),
                    );
                }
            }
        }
        Ok(())
    }

    fn sealant(
        &mut self,
        change: usize,
        length: Metre,
        bead: Bead,
        what: &str,
    ) -> Result<(), TakeOffError> {
        let waste = self.counting.waste.unwrap_or(Waste::PLAIN);
        // Tubes of many short joints are bought together: the share of a tube is kept until the
        // sum is rounded.
        let each = wythe_findings::caution::take_off::metres_per_tube(bead, self.counting.tube)?;
        // Refuses lengths out of range.
        sealant_tubes(length, bead, self.counting.tube, waste)?;
        let tubes = length.0 * (1.0 + waste.0) / each.0;
        let name = format!("acoustic sealant, {:.0} mL", self.counting.tube.0);
        self.put(
            change,
            Trade::Sealing,
            name,
            tubes,
            "tubes",
            Some(format!("{what}; a tube gives {:.1} m of this bead", each.0)),
        );
        Ok(())
    }

    fn seals(&mut self, change: usize, o: &Opening, wanted: [Option<Seal>; 3]) {
        let title = o.title.clone().unwrap_or_else(|| o.id.clone());
        let edges = [
            (PerimeterPart::Head, o.width.0, o.head),
            (PerimeterPart::Jambs, 2.0 * o.height.0, o.jambs),
            (PerimeterPart::Sill, o.width.0, o.sill),
        ];
        for ((part, length, _), seal) in edges.into_iter().zip(wanted) {
            let Some(seal) = seal else { continue };
            let gap = format!("for a gap of {} mm; {title}", trimmed(seal.gap.0 * 1000.0));
            match seal.kind {
                SealKind::None => {}
                SealKind::Compression => {
                    self.put(change, Trade::Doors, "compression seal", length, "m", Some(gap));
                }
                SealKind::Brush => {
                    self.put(change, Trade::Doors, "brush seal", length, "m", Some(gap));
                }
                SealKind::DropSeal => {
                    let name = format!("automatic drop seal, {:.0} mm", o.width.0 * 1000.0);
                    let note = format!("{gap}; it must meet an even threshold");
                    let pieces = if part == PerimeterPart::Jambs { 2.0 } else { 1.0 };
                    self.put(change, Trade::Doors, name, pieces, "pieces", Some(note));
                }
            }
        }
    }

    fn leaf(&mut self, change: usize, o: &Opening, leaf: &wythe_partition::BuildUp) {
        let title = leaf.title.clone().unwrap_or_else(|| leaf.id.clone());
        let size = format!("{:.0} × {:.0} mm", o.width.0 * 1000.0, o.height.0 * 1000.0);
        let area = o.width.0 * o.height.0;
        let mass = wythe_findings::caution::load::planning_mass(leaf).map(|m| m.0 * area);
        let note = match mass {
            Some(kg) => format!("about {kg:.0} kg: hinges, frame and wall must be made for it"),
            None => "weight not known: ask before hinges are bought".to_owned(),
        };
        self.put(change, Trade::Doors, format!("{title}, {size}"), 1.0, "pieces", Some(note));
        if o.kind == wythe_partition::OpeningKind::Door && mass.is_some_and(|kg| kg > 40.0) {
            let note = "by the weight of the leaf; three or more".to_owned();
            self.put(change, Trade::Doors, "heavy hinges", 3.0, "pieces", Some(note));
        }
    }

    fn leak(&mut self, change: usize, leak: &wythe_building::Leak) {
        let (bead, length) = match leak.shape {
            LeakShape::Slit { width, length, .. } => {
                if width.0 > BACKING_FROM {
                    let name = format!("backer rod for {} mm", trimmed(width.0 * 1000.0));
                    self.put(change, Trade::Sealing, name, length.0, "m", None);
                }
                // Beyond the depth of a good joint sealant is only wasted.
                let depth = Metre(leak.depth.0.clamp(0.006, 0.02));
                (Bead::Joint { width: Metre(width.0.max(0.003)), depth }, length)
            }
            LeakShape::Hole { diameter } => {
                let name = format!("plug for a hole of {:.0} mm", diameter.0 * 1000.0);
                let note = "as heavy as the wall; round a pipe or cable by whoever is licensed for \
                            it";
                self.put(change, Trade::Sealing, name, 1.0, "pieces", Some(note.into()));
                (self.counting.bead, Metre(std::f64::consts::PI * diameter.0))
            }
        };
        let name = leak.title.clone().unwrap_or_else(|| leak.id.clone());
        if let Err(e) = self.sealant(change, length, bead, "into the open joint") {
            self.cannot(&name, e);
        }
    }
}

/// A number without needless decimals.
fn trimmed(value: f64) -> String {
    let text = format!("{value:.1}");
    text.strip_suffix(".0").map(str::to_owned).unwrap_or(text)
}
