//! Sound carried from leaf to leaf by studs, channels, clips and common plates.

use std::f64::consts::PI;

use crate::element::Element;
use crate::layup::Gap;
use crate::leaf::{Leaf, Stiffness};
use crate::radiation::edge_radiation;
use crate::{Frame, FrameKind, MountKind};

/// Usual distance of screws along a stud, m, by common practice.
const USUAL_SCREWS: f64 = 0.3;

/// Transmittance through the frame between two leaves; 0 where nothing ties them.
pub(crate) fn transmittance(a: &Leaf, b: &Leaf, gap: &Gap, element: &Element, f: f64) -> f64 {
    let Some(frame) = &gap.frame else { return 0.0 };
    if frame.kind.is_points() {
        return tied(a, b, frame, gap, element, f);
    }
    let (spacing, compliance) = connection(frame, element, f);
    let screws = frame.screw_spacing.map_or(USUAL_SCREWS, |s| s.0);
    let lines = stud_lines(frame);
    let (da, db) = (Driven::new(a, lines, element, f), Driven::new(b, lines, element, f));
    let line = line(&da, &db, spacing, compliance, element, f);
    let points = points(&da, &db, 1.0 / (spacing * screws), compliance / screws, element, f);
    // The split into an airborne and a structure-borne path has no meaning below the
    // mass-air-mass resonance, where the leaves move together anyway.
    let f0 = mass_air_mass(a.mass, b.mass, gap.air_depth());
    line.min(points) / (1.0 + (f0 / f).powi(4))
}

/// Dynamic stiffness of one light wall tie and one heavy one, N/m: the limits 4.8 MN/m³ and
/// 113 MN/m³ for tie types A and B at 2.5 ties per m² (Approved Document E of England and Wales,
/// 2003, section 2; from memory).
const LIGHT_TIE: f64 = 4.8e6 / 2.5;
const HEAVY_TIE: f64 = 113.0e6 / 2.5;
/// Stiffness of a rod, strap or wire hanger along itself, N/m: E A/L of 5 mm of steel wire, 0.3 m
/// long, is 1.3e7; its fixings are softer. Practice, no source.
const RIGID_HANGER: f64 = 3.0e6;
/// Natural frequency of a ceiling on resilient hangers, Hz: rubber at its usual load. Practice, no
/// source; springs stand lower.
const HANGER_RESONANCE: f64 = 12.0;

/// Transmittance through ties or hangers: points with their own stiffness.
fn tied(a: &Leaf, b: &Leaf, frame: &Frame, gap: &Gap, element: &Element, f: f64) -> f64 {
    let spacing = frame.spacing.0;
    let rows = frame.screw_spacing.unwrap_or(frame.kind.usual_rows(frame.spacing)).0;
    let per_area = 1.0 / (spacing * rows).max(1e-4);
    let mut compliance = match frame.kind {
        FrameKind::LightWallTies => 1.0 / LIGHT_TIE,
        FrameKind::HeavyWallTies => 1.0 / HEAVY_TIE,
        FrameKind::ResilientHangers => {
            // A hanger is chosen for what hangs on it, the lighter leaf: s = ω₀² m/n.
            per_area / ((2.0 * PI * HANGER_RESONANCE).powi(2) * a.mass.min(b.mass))
        }
        _ => 1.0 / RIGID_HANGER,
    };
    if let Some(mount) = frame.mount {
        compliance += mount_compliance(mount.kind, element, f) * per_area * spacing;
    }
    let (da, db) = (Driven::new(a, 0.0, element, f), Driven::new(b, 0.0, element, f));
    let f0 = mass_air_mass(a.mass, b.mass, gap.air_depth());
    let through = points(&da, &db, per_area, compliance, element, f).min(as_one(a, b, element, f));
    through / (1.0 + (f0 / f).powi(4))
}

/// What two leaves let through that are fixed to each other all over: as much as any number of ties
/// can carry. Points that stand closer than the bending waves are long are no longer points by
/// themselves, and the formula for such would have them carry more than that.
fn as_one(a: &Leaf, b: &Leaf, element: &Element, f: f64) -> f64 {
    let (ba, bb) = (a.bending(f), b.bending(f));
    let stiffness = ba.stiffness + bb.stiffness;
    let mass = a.mass + b.mass;
    let share = |x: f64, y: f64| {
        if stiffness > 0.0 { (x * ba.stiffness + y * bb.stiffness) / stiffness } else { 0.0 }
    };
    let heavy = if a.mass > b.mass { a } else { b };
    let one = Leaf {
        mass,
        thickness: a.thickness + b.thickness,
        stiffness: if stiffness > 0.0 { Stiffness::Plate(stiffness) } else { Stiffness::None },
        loss: share(ba.loss, bb.loss),
        class: heavy.class,
        shear: share(a.shear, b.shear),
        glass: a.glass && b.glass,
        stiff_ratio: 1.0,
    };
    super::davy_2009::transmittance(&one, element, f)
}

/// Compliance per metre of a channel or of a row of clips, m²/N.
fn mount_compliance(kind: MountKind, element: &Element, f: f64) -> f64 {
    let fit = &element.fitted;
    let soft = fit.channel_compliance * (500.0 / f).powf(fit.channel_fall);
    match kind {
        MountKind::ResilientChannel => soft,
        // Clips stand every 600 mm to 1200 mm on rubber: softer by common practice.
        MountKind::IsolationClips => 3.0 * soft,
    }
}

/// Transmittance through rigid points, `per_area` of them per square metre.
pub(crate) fn bridges(
    a: &Leaf,
    b: &Leaf,
    gap: &Gap,
    per_area: f64,
    element: &Element,
    f: f64,
) -> f64 {
    let f0 = mass_air_mass(a.mass, b.mass, gap.air_depth());
    let (da, db) = (Driven::new(a, 0.0, element, f), Driven::new(b, 0.0, element, f));
    points(&da, &db, per_area, 0.0, element, f).min(as_one(a, b, element, f))
        / (1.0 + (f0 / f).powi(4))
}

/// f₀ = 60 √((m₁ + m₂)/(m₁m₂d)). Source: Bies, Hansen & Howard 2017, Eq. 7.62.
pub(crate) fn mass_air_mass(m1: f64, m2: f64, depth: f64) -> f64 {
    60.0 * ((m1 + m2) / (m1 * m2 * depth)).sqrt()
}

/// Spacing, m, and compliance per metre, m²/N, of what ties two leaves together.
fn connection(frame: &Frame, element: &Element, f: f64) -> (f64, f64) {
    let fit = &element.fitted;
    // Common plates run along head and foot: their spacing is S/U of the element.
    let plates = element.area / element.perimeter;
    // A window frame runs round every pane of it.
    let (l1, l2) = element.sides(true);
    let panes = l1 * l2 / (2.0 * (l1 + l2));
    let spacing = frame.spacing.0;
    let steel = |base: f64| base * (500.0 / f).powf(fit.steel_fall);
    let (spacing, mut compliance) = match frame.kind {
        FrameKind::TimberStuds => (spacing, fit.timber_compliance),
        FrameKind::StaggeredTimberStuds => (plates, fit.plates_compliance),
        FrameKind::SeparateTimberStuds | FrameKind::SeparateSteelStuds => {
            (plates, fit.separate_compliance)
        }
        FrameKind::LightSteelStuds => {
            (spacing, steel(fit.steel_compliance * gauge_factor(frame.gauge.unwrap_or(25), 25)))
        }
        FrameKind::LoadBearingSteelStuds => (
            spacing,
            steel(fit.load_bearing_compliance * gauge_factor(frame.gauge.unwrap_or(18), 18)),
        ),
        // Frames and reveals are no more springs than studs are: their compliance falls alike.
        FrameKind::CommonWindowFrame => (panes, steel(fit.window_compliance)),
        FrameKind::SeparateWindowFrames => (panes, steel(fit.separate_window_compliance)),
        // Ties and hangers are points and have their own function; they never come here.
        FrameKind::LightWallTies
        | FrameKind::HeavyWallTies
        | FrameKind::RigidHangers
        | FrameKind::ResilientHangers => (spacing, 0.0),
    };
    if let Some(mount) = frame.mount {
        compliance += mount_compliance(mount.kind, element, f);
    }
    (spacing, compliance)
}

/// Length of lines per area on which a leaf is held beside its edges, both sides of a stud counted,
/// 1/m: studs, also where each leaf has its own; none for panes, ties and hangers.
fn stud_lines(frame: &Frame) -> f64 {
    match frame.kind {
        FrameKind::CommonWindowFrame | FrameKind::SeparateWindowFrames => 0.0,
        _ => 2.0 / frame.spacing.0.max(0.05),
    }
}

/// Thickness of sheet by gauge number, m.
///
/// Manufacturers' standard gauge of uncoated sheet steel: 25, 0.53 mm; 20, 0.91 mm; 18, 1.21 mm
/// (from memory).
pub(crate) fn gauge_thickness(gauge: u32) -> f64 {
    const MM: [f64; 23] = [
        4.18, 3.80, 3.42, 3.04, 2.66, 2.28, 1.90, 1.71, 1.52, 1.37, 1.21, 1.06, 0.91, 0.84, 0.76,
        0.68, 0.61, 0.53, 0.455, 0.42, 0.38, 0.34, 0.30,
    ];
    MM[(gauge.clamp(8, 30) - 8) as usize] / 1000.0
}

/// A flange bends as a plate: its compliance goes with thickness to the power −3.
fn gauge_factor(gauge: u32, reference: u32) -> f64 {
    (gauge_thickness(reference) / gauge_thickness(gauge)).powi(3)
}

/// A leaf driven along a line or at a point, at one frequency.
struct Driven {
    mass: f64,
    /// Critical angular frequency ω_c; a limp leaf counts as one that bends at 40 kHz.
    critical: f64,
    /// Loss factor, without what connections take.
    loss: f64,
    /// What the near field of a connection radiates: 1, and nothing above f_c.
    near: f64,
    /// What free waves driven along a line radiate, relative to the near field.
    free_line: f64,
    /// The same driven at a point.
    free_point: f64,
}

impl Driven {
    /// Below f_c the near field counts as 1 and stops doing so over a third of an octave about
    /// f_c; free waves add (σ/2η)√(f_c/f) for a line and (π/4) σ (f_c/f)/η for a point, with σ
    /// from the leaf's edges and from the lines of its studs, `stud_lines` m on a m².
    fn new(leaf: &Leaf, stud_lines: f64, element: &Element, f: f64) -> Driven {
        let bending = leaf.bending(f);
        let fc = element.critical(leaf, &bending, 0.0).min(40_000.0);
        let loss = element.loss(leaf, &bending, f).max(1e-4);
        let (l1, l2) = element.sides(leaf.glass);
        let lines = 2.0 * (l1 + l2) / (l1 * l2) + stud_lines;
        let sigma = if f < fc {
            edge_radiation(f, fc, lines, element.c).min(2.0)
        } else {
            (1.0 / (1.0 - (fc / f).min(0.9999)).sqrt()).min(2.0)
        };
        let r = fc / f;
        Driven {
            mass: leaf.mass,
            critical: 2.0 * PI * fc,
            loss,
            near: ((1.12 - f / fc) / 0.24).clamp(0.0, 1.0),
            free_line: sigma / (2.0 * loss) * r.sqrt(),
            free_point: PI / 4.0 * sigma * r / loss,
        }
    }
}

/// What two leaves radiate beyond their near fields, as a product.
///
/// A connection cannot raise the free waves of the second leaf above those of the first: what it
/// carries back counts as a loss of the leaf it leaves. With x = η₁₂/η₁ and y = η₂₁/η₂, the power
/// balance of two coupled plates divides the product of the free waves by 1 + x + y, and gives
/// back 1 + x where the first leaf is forced by sound, 1 + y where the second is.
/// η₁₂ = n Re Y₂/(ω m₁ |Y₁ + Y₂ + jωC|²), n connections per area, Y mobilities, C compliance.
///
/// Source: statistical energy analysis of two plates (derived).
fn radiated(
    (a, free_a, mobility_a): (&Driven, f64, f64),
    (b, free_b, mobility_b): (&Driven, f64, f64),
    density_over_y2: f64,
    w: f64,
) -> f64 {
    let x = density_over_y2 * mobility_b / (w * a.mass * a.loss);
    let y = density_over_y2 * mobility_a / (w * b.mass * b.loss);
    a.near * b.near
        + (a.near * free_b * (1.0 + x) + free_a * b.near * (1.0 + y) + free_a * free_b)
            / (1.0 + x + y)
}

/// Line connection with compliance.
///
///   τ = 64 ρ² c³ D / {ω² b [G² + (4 ω^1.5 m₁m₂ c C − G)²]},  G = m₁√ω_c2 + m₂√ω_c1
///
/// D is what both leaves radiate beyond their near fields, [`radiated`], with Y = (1 − j)/(4 m c_B)
/// per length, c_B = c √(ω/ω_c).
///
/// Source: derived for two plates driven by a line force through a spring; the same form as
/// Davy 2010 (recalled from memory).
fn line(a: &Driven, b: &Driven, spacing: f64, compliance: f64, element: &Element, f: f64) -> f64 {
    let w = 2.0 * PI * f;
    let (rho, c) = (element.rho, element.c);
    let g = a.mass * b.critical.sqrt() + b.mass * a.critical.sqrt();
    let spring = 4.0 * w * w.sqrt() * a.mass * b.mass * c * compliance;
    let both = g * g + (spring - g).powi(2);
    let mobility = |x: &Driven| (x.critical / w).sqrt() / (4.0 * x.mass * c);
    let y2 = both / (16.0 * c * c * w * (a.mass * b.mass).powi(2));
    let d = radiated(
        (a, a.free_line, mobility(a)),
        (b, b.free_line, mobility(b)),
        1.0 / (spacing * y2),
        w,
    );
    64.0 * rho * rho * c.powi(3) * d / (w * w * spacing * both)
}

/// Point connections with compliance.
///
///   τ = 4 n ρ² D / (π ω² m₁² m₂² |Y₁ + Y₂ + jωC_p|²),  Y = ω_c/(8 m c²)
fn points(
    a: &Driven,
    b: &Driven,
    per_area: f64,
    compliance: f64,
    element: &Element,
    f: f64,
) -> f64 {
    let w = 2.0 * PI * f;
    let (rho, c) = (element.rho, element.c);
    let mobility = |x: &Driven| x.critical / (8.0 * x.mass * c * c);
    let y2 = (mobility(a) + mobility(b)).powi(2) + (w * compliance).powi(2);
    let d =
        radiated((a, a.free_point, mobility(a)), (b, b.free_point, mobility(b)), per_area / y2, w);
    4.0 * per_area * rho * rho * d / (PI * w * w * (a.mass * b.mass).powi(2) * y2)
}
