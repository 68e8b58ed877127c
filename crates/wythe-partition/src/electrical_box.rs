//! Electrical boxes set into the leaves of a wall.

use std::f64::consts::PI;

use wythe_bands::{Hertz, Metre};

use crate::element::Element;
use crate::layup::{Gap, Layup};
use crate::leak::hole_diffuse;
use crate::method;
use crate::method::layered_media::fluids;

/// Boxes of one kind in a build-up.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ElectricalBoxes {
    /// Kind of box.
    pub kind: BoxKind,
    /// Boxes, or pairs of them, per square metre of the element; 0 or more.
    pub per_m2: f64,
    /// How they face each other.
    pub placed: BoxPlacing,
    /// Whether each is packed in putty or stands in a sealed hood.
    pub sealed: bool,
}

/// Kinds of box, by what gets through their shell.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum BoxKind {
    /// Shell with open knock-outs and holes.
    Perforated,
    /// Moulded shell, cables through fitting holes, cover on a bare board.
    Moulded,
    /// Shell, cover and cable entries with gaskets.
    Airtight,
}

/// How the boxes of the two faces stand to each other.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum BoxPlacing {
    /// On one face only.
    OneFace,
    /// On both faces, opposite each other.
    BackToBack,
    /// On both faces of one bay, at least 400 mm apart.
    SameBay,
    /// On both faces, in different bays.
    OtherBay,
}

impl BoxKind {
    /// Every kind.
    pub const ALL: [BoxKind; 3] = [BoxKind::Perforated, BoxKind::Moulded, BoxKind::Airtight];

    /// Word of the interface.
    pub fn word(self) -> &'static str {
        match self {
            BoxKind::Perforated => "perforated",
            BoxKind::Moulded => "moulded",
            BoxKind::Airtight => "airtight",
        }
    }

    /// Open area from the room into the cavity through one box, m².
    ///
    /// No published areas were found; these are practice: two open knock-outs of 22 mm behind a
    /// cover that leaks more than they do, the slit round a cover of 70 mm × 110 mm on a board, a
    /// gasket's remainder.
    fn open_area(self) -> f64 {
        match self {
            BoxKind::Perforated => 7.6e-4,
            BoxKind::Moulded => 1.0e-4,
            BoxKind::Airtight => 4.0e-6,
        }
    }
}

impl BoxPlacing {
    /// Every placing.
    pub const ALL: [BoxPlacing; 4] =
        [BoxPlacing::OneFace, BoxPlacing::BackToBack, BoxPlacing::SameBay, BoxPlacing::OtherBay];

    /// Word of the interface.
    pub fn word(self) -> &'static str {
        match self {
            BoxPlacing::OneFace => "one face",
            BoxPlacing::BackToBack => "back to back",
            BoxPlacing::SameBay => "same bay",
            BoxPlacing::OtherBay => "other bay",
        }
    }
}

/// What putty or a hood leaves of the open area; practice, no source.
const PUTTY: f64 = 0.05;
/// Depth of a box, m: two of them back to back leave the rest of the cavity between.
const BOX_DEPTH: f64 = 0.04;
/// Least distance from a hole of one box to a hole of the other, m: they lie in backs and sides and do
/// not face each other. Practice, no source.
const NEAREST: f64 = 0.05;
/// Distance of boxes in one bay, m; closer ones count as back to back.
const APART: f64 = 0.4;
/// Area of a box in the face of the wall, m².
const FACE: f64 = 0.0077;
/// Thickness of shell and cover a leak has to pass, m.
const SHELL: f64 = 0.012;

/// Transmittance by way of the boxes, referred to the area of the element.
///
/// A leak through one leaf couples a room to the cavity, not to the other room. Per pair, with
/// t = area × transmittance of one box, A the absorption area of the bay and d the distance:
///
///   reverberant  t₁ t₂ / A, lessened by e^{−2κd} on the way through a fill
///   direct       t₁ t₂ / (2π d²), at most t₁, lessened likewise; back to back only
///
/// and for a box in one face the other leaf in place of t₂. Boxes in different bays pass the
/// studs between by way of the leaves only, as two boxes each in one face.
///
/// Derived here from the energy in the bay. Of the published studies (Nightingale & Quirt; NRC
/// Construction Technology Update 27) only the abstracts were seen: a fill lessens the harm
/// greatly, position matters for perforated boxes and hardly for airtight ones; the tests hold
/// the formula to that.
pub(crate) fn transmittance(
    layup: &Layup,
    boxes: &[ElectricalBoxes],
    element: &Element,
    f: f64,
) -> f64 {
    let (Some(first), Some(last)) = (layup.leaves.first(), layup.leaves.last()) else { return 0.0 };
    let mut sum = 0.0;
    for set in boxes {
        let open = set.kind.open_area() * if set.sealed { PUTTY } else { 1.0 };
        let radius = Metre((open / PI).sqrt());
        let through = open * hole_diffuse(radius, Metre(SHELL), Hertz(f), element.air).0;
        let Some(gap) = layup.gaps.first() else {
            // One leaf: a box is a thin place with holes; back to back it is the hole itself.
            sum += set.per_m2 * through;
            continue;
        };
        let bay = Bay::new(gap, element, f);
        // The far leaf seen from the bay: what a diffuse field in it lets through, over the face of
        // the bay, of which the wave guided by the bay meets one side.
        let leaf = |leaf| bay.face * method::davy_2009::transmittance(leaf, element, f);
        let reverberant =
            |t: f64, way: f64| through * t / bay.absorption * (-bay.decay * way).exp();
        let single = reverberant(leaf(last), 0.0);
        let both = single + reverberant(leaf(first), 0.0);
        // With a leaf between them boxes on both faces share no cavity; what lies beyond the first
        // cavity then counts as the last leaf alone, which errs on the low side.
        let shared = layup.gaps.len() == 1;
        let one = match set.placed {
            BoxPlacing::OneFace => single,
            BoxPlacing::SameBay if shared => both + reverberant(through, APART),
            BoxPlacing::BackToBack if shared => {
                let d = (gap.depth - 2.0 * BOX_DEPTH).max(NEAREST);
                let direct = (through / (2.0 * PI * d * d)).min(1.0) * (-bay.decay * d).exp();
                both + reverberant(through, 0.0) + through * direct
            }
            _ => both,
        };
        sum += set.per_m2 * one.min(FACE);
    }
    sum
}

/// One bay of the cavity as a small room.
struct Bay {
    /// Absorption area, m².
    absorption: f64,
    /// Area of one face, m².
    face: f64,
    /// Decay of energy on the way, 1/m.
    decay: f64,
}

impl Bay {
    fn new(gap: &Gap, element: &Element, f: f64) -> Bay {
        let width = gap.frame.as_ref().map_or(element.l1, |frame| frame.spacing.0).min(element.l1);
        let face = width * element.l2;
        let volume = face * gap.depth;
        // Energy that the fluids swallow per metre, 2 |Im k|, each by its share of the depth.
        let decay: f64 = fluids(gap, false, false, element, f)
            .map(|(fluid, depth)| 2.0 * fluid.k2.sqrt().im.abs() * depth / gap.depth)
            .sum();
        // A room whose sound dies by e^{−κ} per metre has A = 4Vκ; never less than two in a hundred
        // of its surfaces.
        let absorption = (4.0 * volume * decay).max(0.04 * face);
        Bay { absorption, face, decay }
    }
}
