//! Names of the rated quantities. One rule rates them all; only the symbol changes.

use crate::{Method, RatingError, rating};
use wythe_bands::CubicMetre;

macro_rules! quantities {
    ($($(#[$doc:meta])* $name:ident => $symbol:literal, $from:literal, $method:ident;)*) => {
        /// What a curve holds, and so what its single number is called.
        #[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
        pub enum Quantity { $($(#[$doc])* $name,)* }

        impl Quantity {
            /// All quantities.
            pub const ALL: &'static [Quantity] = &[$(Quantity::$name),*];

            /// Symbol of the single number.
            pub fn symbol(self) -> &'static str {
                match self { $(Quantity::$name => $symbol),* }
            }

            /// Symbol of the band quantity it is rated from.
            pub fn band_symbol(self) -> &'static str {
                match self { $(Quantity::$name => $from),* }
            }

            /// Method that rates it.
            pub fn method(self) -> Method {
                match self { $(Quantity::$name => Method::$method),* }
            }
        }
    };
}

quantities! {
    /// Sound reduction index, laboratory (ISO 10140-2).
    ReductionIndex => "Rw", "R", Iso717Part1;
    /// Apparent sound reduction index, field (ISO 16283-1).
    ApparentReductionIndex => "R'w", "R'", Iso717Part1;
    /// Normalized level difference.
    NormalizedDifference => "Dn,w", "Dn", Iso717Part1;
    /// Standardized level difference.
    StandardizedDifference => "DnT,w", "DnT", Iso717Part1;
    /// Element-normalized level difference.
    ElementNormalizedDifference => "Dn,e,w", "Dn,e", Iso717Part1;
    /// Normalized flanking level difference.
    FlankingNormalizedDifference => "Dn,f,w", "Dn,f", Iso717Part1;
    /// Standardized level difference of a facade, loudspeaker or traffic, 2 m in front.
    FacadeStandardizedDifference => "D2m,nT,w", "D2m,nT", Iso717Part1;
    /// Apparent reduction index of a facade element, loudspeaker at 45 degrees.
    FacadeApparentReductionIndex => "R'45,w", "R'45", Iso717Part1;
    /// Level difference as it stands, without reverberation or absorption.
    LevelDifference => "Dw", "D", Iso717Part1;
    /// Normalized impact level, laboratory.
    NormalizedImpact => "Ln,w", "Ln", Iso717Part2;
    /// Normalized impact level, field.
    ApparentNormalizedImpact => "L'n,w", "L'n", Iso717Part2;
    /// Standardized impact level, field.
    StandardizedImpact => "L'nT,w", "L'nT", Iso717Part2;
    /// Sound transmission class, laboratory transmission loss (E90).
    SoundTransmissionClass => "STC", "TL", E413;
    /// Apparent sound transmission class (E336).
    ApparentSoundTransmissionClass => "ASTC", "ATL", E413;
    /// Noise isolation class: level difference as it stands (E336).
    NoiseIsolationClass => "NIC", "NR", E413;
    /// Normalized noise isolation class: standardized to 0.5 s (E336).
    NormalizedNoiseIsolationClass => "NNIC", "NNR", E413;
    /// Ceiling attenuation class (E1414).
    CeilingAttenuationClass => "CAC", "ceiling attenuation", E413;
    /// Field sound transmission class, flanking shielded off (older editions of E336).
    FieldSoundTransmissionClass => "FSTC", "FTL", E413;
    /// Outdoor-indoor transmission class.
    OutdoorIndoorTransmissionClass => "OITC", "TL", E1332;
    /// Outdoor-indoor noise isolation class.
    OutdoorIndoorNoiseIsolationClass => "OINIC", "OINR", E1332;
    /// Impact insulation class, laboratory (E492).
    ImpactInsulationClass => "IIC", "normalized impact level", E989;
    /// Apparent impact insulation class, field (E1007).
    ApparentImpactInsulationClass => "AIIC", "absorption-normalized impact level", E989;
    /// Impact sound rating, field (E1007).
    ImpactSoundRating => "ISR", "impact level", E989;
    /// Normalized impact sound rating, field (E1007).
    NormalizedImpactSoundRating => "NISR", "reverberation-normalized impact level", E989;
}

/// Why a field quantity may not be stated for these rooms.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum FieldRefusal {
    /// The room is too small for the quantity.
    #[error(
        "{symbol} may not be stated for a {room} of {volume:.1} m3: {standard} wants at least \
         {least} m3; state {instead} instead, and give the band values"
    )]
    TooSmall {
        /// The quantity.
        symbol: &'static str,
        /// Which room.
        room: &'static str,
        /// Its volume, m³.
        volume: f64,
        /// What is wanted, m³.
        least: f64,
        /// Which standard.
        standard: &'static str,
        /// What may be stated.
        instead: &'static str,
    },
    /// The room is so large that another procedure applies.
    #[error(
        "{symbol} may not be stated for a {room} of {volume:.1} m3: from 150 m3 on {standard} \
         measures near the partition and reports NR and NIC only"
    )]
    TooLarge {
        /// The quantity.
        symbol: &'static str,
        /// Which room.
        room: &'static str,
        /// Its volume, m³.
        volume: f64,
        /// Which standard.
        standard: &'static str,
    },
    /// A volume that is none.
    #[error("the volume of the {room} is {volume} m3; give a volume above zero")]
    NoVolume {
        /// Which room.
        room: &'static str,
        /// What was given.
        volume: f64,
    },
}

/// Least volume, m³, for NNIC and ASTC. Source: public abstracts of ASTM E336.
pub const SMALLEST_ASTM_ROOM: f64 = 25.0;
/// Least receiving volume, m³, for AIIC. Source: report texts quoting ASTM E1007-16.
pub const SMALLEST_AIIC_ROOM: f64 = 40.0;
/// Volume, m³, from which E336 measures near the partition. Source: its public abstracts.
pub const LARGEST_ASTM_ROOM: f64 = 150.0;

/// Whether a field quantity of ASTM E336 or E1007 may be stated for a pair of rooms.
///
/// NIC may be stated for any rooms below the near-partition limit and above it (as the near
/// measurement). NNIC refers to a receiving room of at least 25 m³, ASTC to spaces (both) of at
/// least 25 m³, AIIC to a receiving room of at least 40 m³. Absorption limits for ATL between
/// large rooms (E336-16, 9.4.1.2) are not checked: rooms from 150 m³ on are refused for NNIC and
/// ASTC. Quantities of other standards are always permitted.
///
/// Source: public abstracts of ASTM E336-07 to -23 and report texts quoting E1007-16; the
/// standards were not seen.
///
/// # Errors
/// [`FieldRefusal`] with the room, its volume, the limit and what may be stated instead.
pub fn may_be_stated(
    quantity: Quantity,
    source: CubicMetre,
    receiver: CubicMetre,
) -> Result<(), FieldRefusal> {
    for (room, volume) in [("source room", source.0), ("receiving room", receiver.0)] {
        if !(volume > 0.0 && volume.is_finite()) {
            return Err(FieldRefusal::NoVolume { room, volume });
        }
    }
    let symbol = quantity.symbol();
    let e336 = "ASTM E336";
    let rooms: &[(&'static str, f64)] = match quantity {
        Quantity::ApparentSoundTransmissionClass | Quantity::FieldSoundTransmissionClass => {
            &[("source room", source.0), ("receiving room", receiver.0)]
        }
        Quantity::NormalizedNoiseIsolationClass => &[("receiving room", receiver.0)],
        Quantity::ApparentImpactInsulationClass => {
            if receiver.0 < SMALLEST_AIIC_ROOM {
                return Err(FieldRefusal::TooSmall {
                    symbol,
                    room: "receiving room",
                    volume: receiver.0,
                    least: SMALLEST_AIIC_ROOM,
                    standard: "ASTM E1007",
                    instead: "ISR",
                });
            }
            &[]
        }
        _ => &[],
    };
    for &(room, volume) in rooms {
        if volume < SMALLEST_ASTM_ROOM {
            return Err(FieldRefusal::TooSmall {
                symbol,
                room,
                volume,
                least: SMALLEST_ASTM_ROOM,
                standard: e336,
                instead: "NIC",
            });
        }
        if volume >= LARGEST_ASTM_ROOM {
            return Err(FieldRefusal::TooLarge { symbol, room, volume, standard: e336 });
        }
    }
    Ok(())
}

/// Rates a curve as a named quantity by the method that belongs to it.
///
/// # Errors
/// As [`crate::rate`].
pub fn rate_as(
    curve: &crate::Curve,
    quantity: Quantity,
    options: &crate::Options,
) -> Result<crate::Rating, RatingError> {
    let options = crate::Options { quantity: Some(quantity), ..*options };
    rating::rate(curve, quantity.method(), &options)
}
