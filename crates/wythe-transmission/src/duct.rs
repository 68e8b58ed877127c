//! Ducts, grilles and vents as couplings between rooms, and the noise they bring.
//!
//! The attenuation tables are octaves; thirds are interpolated over the logarithm of frequency.
//! Below 63 Hz a lining is taken to fall in proportion to frequency, above 8 kHz values are held.

mod attenuation;
mod breakout;
mod ends;
mod stream;

pub use attenuation::{elbow, lined_rectangular, lined_round, unlined_rectangular, unlined_round};
pub use breakout::{transmission_loss_in, transmission_loss_out};
pub use ends::{branch, end_reflection};
pub use stream::{elbow_loss, fitting_noise, fitting_power, straight_noise};

use std::f64::consts::PI;

use wythe_bands::{Air, Band, Hertz, Level, Remark, Spectrum};
use wythe_building::{BoundaryIndex, Building, Duct, RoomIndex, Section, SmallElement};

use crate::assemble::per_band;
use crate::plate::{centre, filled};
use crate::{BANDS, Link, LinkKind, Outdoors, PerBand};

/// No straight run is credited with more, dB per band: sound goes along the wall of the duct.
/// Source: ASHRAE's application tables, as quoted in a maker's guide.
const MOST_STRAIGHT: f64 = 40.0;
/// Deviation of the attenuation of a duct from tables, dB; end reflection alone scatters up to
/// 10 dB between installations (abstract of a published study), at low bands.
const DEVIATION_LOW: f64 = 5.0;
const DEVIATION_HIGH: f64 = 3.0;
/// Deviation of a grille known by its D_n,e, dB (practice).
const SMALL_ELEMENT_DEVIATION: f64 = 2.0;

/// Losses between the two ends of a duct without its ends, dB per band.
pub fn path_loss(duct: &Duct) -> PerBand {
    let silencer = silencer_loss(duct);
    per_band(|band| {
        let f = band.centre();
        let elbows: f64 = duct.elbows.iter().map(|e| elbow(*e, f, duct.section.width())).sum();
        let splits: f64 = duct.splits.iter().map(|s| branch(*s)).sum();
        straight_loss(duct, f) + elbows + splits + silencer[band.index()]
    })
}

fn straight_loss(duct: &Duct, f: Hertz) -> f64 {
    let lined = duct.lined_length.0.clamp(0.0, duct.length.0.max(0.0));
    let bare = (duct.length.0 - lined).max(0.0);
    let (plain, lining) = match duct.section {
        Section::Rectangular { width, height } => {
            let plain = unlined_rectangular(width, height, f);
            (plain, plain + lined_rectangular(width, height, duct.lining, f))
        }
        Section::Round { diameter } => {
            let plain = unlined_round(diameter, f);
            (plain, lined_round(diameter, duct.lining, f).max(plain))
        }
    };
    let lining = if duct.lining.0 > 0.0 { lining } else { plain };
    (bare * plain + lined * lining).clamp(0.0, MOST_STRAIGHT)
}

/// Insertion loss of the silencer; below its lowest band in proportion to frequency, above its
/// highest held.
fn silencer_loss(duct: &Duct) -> PerBand {
    let Some(table) = &duct.silencer else { return [0.0; BANDS] };
    let Some(values) = filled(table) else { return [0.0; BANDS] };
    let lowest = table.iter().next().map_or(0, |(b, _)| b.index());
    std::array::from_fn(|b| {
        let below = 10f64.powf(0.1 * (b as f64 - lowest as f64).min(0.0));
        values[b].max(0.0) * below
    })
}

/// Coupling area of the duct between its ends, m² per band, in the form that is the same both
/// ways and keeps the energy:
///
///   G = (λ²/π) N T₁ T₂ 10^(−ΣΔL/10),  T = 10^(−ER/10),  N = max(1, π S/λ²)
///
/// One propagating mode takes λ²/π of the room field's flux; N modes propagate. As ka → 0 it
/// tends to eight times the opening, like a small aperture, and to its area when many modes
/// propagate. Derived; [`coupling_by_practice`] is the trade's sum, which is not the same both
/// ways and lies up to 9 dB lower at low bands.
pub fn coupling(duct: &Duct, air: Air) -> PerBand {
    let loss = path_loss(duct);
    std::array::from_fn(|b| {
        let f = centre(b);
        modes_area(duct, f, air)
            * through_end(duct, 0, f, air)
            * through_end(duct, 1, f, air)
            * 10f64.powf(-loss[b] / 10.0)
    })
}

fn modes_area(duct: &Duct, f: Hertz, air: Air) -> f64 {
    let lambda = air.sound_speed() / f.0;
    let area = duct.section.area().0.min(duct.ends[0].opening.0).min(duct.ends[1].opening.0);
    (lambda * lambda / PI).max(area.max(1e-9))
}

fn through_end(duct: &Duct, end: usize, f: Hertz, air: Air) -> f64 {
    let end = duct.ends[end];
    10f64.powf(-end_reflection(end.opening, end.flush, f, air) / 10.0)
}

/// The same by the sum of the trade from the first end to the second: area of the first opening
/// times the losses, one end reflection. Common practice, no source.
pub fn coupling_by_practice(duct: &Duct, air: Air) -> PerBand {
    let loss = path_loss(duct);
    std::array::from_fn(|b| {
        duct.ends[0].opening.0 * through_end(duct, 1, centre(b), air) * 10f64.powf(-loss[b] / 10.0)
    })
}

/// Coupling area between one end and a room the duct runs through, the room taken to lie in the
/// middle: half the losses, then out through the duct's wall. By reciprocity it serves for the way
/// in too.
fn breakout_coupling(duct: &Duct, end: usize, length: f64, air: Air) -> Option<PerBand> {
    let wall = duct.wall?;
    let loss = path_loss(duct);
    let ratio = duct.section.perimeter().0 * length / duct.section.area().0.max(1e-9);
    Some(std::array::from_fn(|b| {
        let f = centre(b);
        let tl = transmission_loss_out(duct.section, wall, wythe_bands::Metre(length), f);
        // No more can come out than runs along.
        let out = (ratio * 10f64.powf(-tl / 10.0)).min(1.0);
        modes_area(duct, f, air)
            * through_end(duct, end, f, air)
            * 10f64.powf(-loss[b] / 20.0)
            * out
    }))
}

/// Sound power level that the fan and the stream bring out of one end into its room: stated noise
/// in the duct there less the end reflection, and what the stream makes by [`fitting_noise`] and
/// [`straight_noise`] where its flow is stated. `None` where neither is.
pub fn noise_power(duct: &Duct, end: usize, air: Air) -> Option<Spectrum<Level>> {
    let opening = duct.ends.get(end)?;
    let stated = duct.noise.get(end)?.as_ref().map(|noise| {
        noise.map(|band, l| {
            Level(l.0 - end_reflection(opening.opening, opening.flush, band.centre(), air))
        })
    });
    let Some(made) = stream::energy_out(duct, end, air) else { return stated };
    let out: Spectrum<Level> = Band::all()
        .filter_map(|band| {
            let stated = stated.as_ref().and_then(|s| s.get(band)).map_or(0.0, Level::energy);
            let made = made.get(band.index()).copied().unwrap_or(0.0);
            Level::from_energy(stated + made).map(|l| (band, l))
        })
        .collect();
    (!out.is_empty()).then_some(out)
}

/// Standard deviation of [`ventilation_noise`], dB: 3 of stated noise, 5 of calculated noise
/// (both practice).
pub fn ventilation_deviation(building: &Building, room: RoomIndex) -> f64 {
    let calculated = building
        .fabric
        .ducts
        .iter()
        .any(|d| d.stream.is_some() && d.ends.iter().any(|e| e.room == room));
    if calculated { 5.0 } else { 3.0 }
}

/// Level the ventilation makes in a room, from all ducts that end there with a stated noise or flow.
///
///   L_p = L_W − 10 lg A + 10 lg(4 ρc/400)
pub fn ventilation_noise(building: &Building, room: RoomIndex) -> Option<Spectrum<Level>> {
    let own = building.rooms.get(room.0).filter(|r| !r.outdoors)?;
    let (areas, _) = own.absorption_area(building.air);
    let constant = 10.0 * (4.0 * building.air.impedance() / 400.0).log10();
    let mut energy = [0.0f64; wythe_bands::BAND_COUNT];
    for duct in &building.fabric.ducts {
        for (end, at) in duct.ends.iter().enumerate().filter(|(_, e)| e.room == room) {
            let _ = at;
            let Some(power) = noise_power(duct, end, building.air) else { continue };
            for (band, l) in power.iter() {
                let Some(area) = areas.get(band) else { continue };
                energy[band.index()] += Level(l.0 - 10.0 * area.0.log10() + constant).energy();
            }
        }
    }
    let out: Spectrum<Level> = wythe_bands::Band::all()
        .filter_map(|b| Level::from_energy(energy[b.index()]).map(|l| (b, l)))
        .collect();
    (!out.is_empty()).then_some(out)
}

/// The building with the noise of its ventilation in the background of its rooms: bands the
/// background has take the energy sum, others the ventilation alone.
pub fn with_ventilation_noise(building: &Building) -> Building {
    let mut out = building.clone();
    for (index, room) in out.rooms.iter_mut().enumerate() {
        let Some(noise) = ventilation_noise(building, RoomIndex(index)) else { continue };
        let mut background = room.background.unwrap_or_else(Spectrum::empty);
        for (band, l) in noise.iter() {
            let with = background.get(band).map_or(l.energy(), |b| b.energy() + l.energy());
            if let Some(sum) = Level::from_energy(with) {
                background.set(band, sum);
            }
        }
        room.background = Some(background);
    }
    out
}

/// Sound power level of a fan as a whole, dB re 1 pW: 37 + 10 lg V + 20 lg Δp with V in m³/s and
/// Δp in Pa. Source: VDI 2081, from memory; a maker's figures go before it. `None` for a flow or
/// pressure that is not above zero.
pub fn fan_power_level(flow: f64, pressure: f64) -> Option<Level> {
    (flow > 0.0 && pressure > 0.0 && flow.is_finite() && pressure.is_finite())
        .then(|| Level(37.0 + 10.0 * flow.log10() + 20.0 * pressure.log10()))
}

/// Links of all ducts and small elements.
pub(crate) fn links(building: &Building, groups: &mut Vec<String>) -> (Vec<Link>, Vec<Remark>) {
    let mut links = Vec::new();
    let mut remarks = Vec::new();
    let mut group = |name: String| -> usize {
        groups.iter().position(|g| *g == name).unwrap_or_else(|| {
            groups.push(name);
            groups.len() - 1
        })
    };
    let deviation = per_band(|b| if b.centre().0 < 200.0 { DEVIATION_LOW } else { DEVIATION_HIGH });
    for duct in &building.fabric.ducts {
        let title = duct.title.clone().unwrap_or_else(|| duct.id.clone());
        let group = group(format!("duct {}", duct.id));
        if let Some(why) = unusable(building, duct) {
            remarks.push(Remark::new("transmission::duct-unusable", why).at(title));
            continue;
        }
        let mut push = |id: String, title: String, rooms: [RoomIndex; 2], coupling: PerBand| {
            // A duct that also runs through the room it ends in joins the room to itself.
            if rooms[0] == rooms[1] {
                return;
            }
            links.push(Link {
                id,
                title,
                kind: LinkKind::Duct,
                rooms,
                boundary: Link::OF_NO_BOUNDARY,
                coupling: coupling.map(|g| g.max(1e-15)),
                deviation,
                group,
                spread: spread(building, rooms, duct.section.area().0),
            });
        };
        push(
            duct.id.clone(),
            title.clone(),
            duct.ends.map(|e| e.room),
            coupling(duct, building.air),
        );
        for (room, length) in &duct.through {
            for end in 0..2 {
                let Some(coupling) = breakout_coupling(duct, end, length.0, building.air) else {
                    continue;
                };
                let name = building.rooms.get(room.0).map_or("?", |r| r.name());
                push(
                    format!("{} wall, end {} in {}", duct.id, end + 1, room.0),
                    format!("{title}, through its wall in {name}"),
                    [duct.ends[end].room, *room],
                    coupling,
                );
            }
        }
        let (own, practice) =
            (coupling(duct, building.air), coupling_by_practice(duct, building.air));
        let at = |hertz: f64| {
            wythe_bands::Band::holding(Hertz(hertz))
                .map_or(0.0, |b| 10.0 * (own[b.index()] / practice[b.index()]).log10())
        };
        remarks.push(
            Remark::new(
                "transmission::duct-practice",
                format!(
                    "calculated so that it is the same both ways; the sum of the trade would give {:.1} dB less at 63 Hz and {:.1} dB less at 500 Hz through this duct",
                    at(63.0),
                    at(500.0)
                ),
            )
            .at(title),
        );
    }
    for element in &building.fabric.small_elements {
        if let Some(link) = small_element(building, element, &mut group) {
            links.push(link);
        }
    }
    (links, remarks)
}

/// Why a duct carries nothing, if so.
fn unusable(building: &Building, duct: &Duct) -> Option<&'static str> {
    let rooms = duct.ends.iter().map(|e| e.room).chain(duct.through.iter().map(|(r, _)| *r));
    if rooms.into_iter().any(|r| r.0 >= building.rooms.len()) {
        return Some("left out: it names a room that does not exist");
    }
    if duct.ends[0].room == duct.ends[1].room {
        return Some("left out: both its ends are in one room");
    }
    let positive = |v: f64| v > 0.0 && v.is_finite();
    let sizes = [duct.section.area().0, duct.ends[0].opening.0, duct.ends[1].opening.0];
    if !sizes.into_iter().all(positive) {
        return Some("left out: its cross-section or an opening has no area");
    }
    let lengths = [duct.length.0, duct.lined_length.0, duct.lining.0];
    let not_negative = |v: f64| v >= 0.0 && v.is_finite();
    if !lengths.into_iter().all(not_negative)
        || !duct.through.iter().all(|(_, l)| positive(l.0))
        || duct.wall.is_some_and(|w| !positive(w.0))
    {
        return Some("left out: a length, a thickness or a mass of it is no number above zero");
    }
    if coupling(duct, building.air).iter().any(|g| !g.is_finite()) {
        return Some("left out: what it carries cannot be calculated from these sizes");
    }
    None
}

/// G = A₀ 10^(−D_n,e/10) each, A₀ = 10 m² (definition of D_n,e, ISO 10140; from memory).
fn small_element(
    building: &Building,
    element: &SmallElement,
    group: &mut impl FnMut(String) -> usize,
) -> Option<Link> {
    let values = filled(&element.level_difference)?;
    let [a, b] = element.rooms;
    if a == b || a.0.max(b.0) >= building.rooms.len() {
        return None;
    }
    let count = f64::from(element.count.max(1));
    Some(Link {
        id: element.id.clone(),
        title: element.title.clone().unwrap_or_else(|| element.id.clone()),
        kind: LinkKind::Duct,
        rooms: element.rooms,
        boundary: Link::OF_NO_BOUNDARY,
        coupling: values.map(|d| count * crate::flanking::A0 * 10f64.powf(-d / 10.0)),
        deviation: [SMALL_ELEMENT_DEVIATION; BANDS],
        group: group(format!("small element {}", element.id)),
        spread: spread(building, element.rooms, 1.0),
    })
}

/// Outdoors the opening radiates into half a space: 8π r².
fn spread(building: &Building, rooms: [RoomIndex; 2], area: f64) -> Option<Box<Outdoors>> {
    let outdoors = rooms.iter().filter_map(|r| building.rooms.get(r.0)).find(|r| r.outdoors)?;
    let r = outdoors.distance.map_or(crate::assemble::DISTANCE_OUTDOORS, |d| d.0).max(0.5);
    Some(Outdoors::over((8.0 * PI * r * r).max(2.0 * area)))
}

/// The boundary of links that belong to none.
impl Link {
    /// What [`Link::boundary`] is where no boundary is passed, as in a duct: no position at all.
    pub const OF_NO_BOUNDARY: BoundaryIndex = BoundaryIndex(usize::MAX);
}
