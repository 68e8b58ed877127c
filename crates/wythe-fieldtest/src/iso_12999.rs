//! Standard deviations of measured insulation by situation.

use wythe_bands::{Band, LevelDifference};

/// Which repetition a standard deviation is about.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Situation {
    /// A: other laboratories, same kind of element.
    Laboratory,
    /// B: the same building, other teams and equipment.
    InSitu,
    /// C: the same operator with the same equipment again.
    Repeated,
}

/// 50 Hz to 5 kHz.
/// Source: ISO 12999-1:2020, Table 2 (public transcriptions).
const AIRBORNE: [[f64; 21]; 3] = [
    [
        6.8, 4.6, 3.8, 3.0, 2.7, 2.4, 2.1, 1.8, 1.8, 1.8, 1.8, 1.8, 1.8, 1.8, 1.8, 1.8, 1.8, 1.9,
        2.0, 2.4, 2.8,
    ],
    [
        4.0, 3.6, 3.2, 2.8, 2.4, 2.0, 1.8, 1.6, 1.4, 1.2, 1.1, 1.0, 1.0, 1.0, 1.0, 1.0, 1.0, 1.3,
        1.6, 1.9, 2.2,
    ],
    [
        2.0, 1.8, 1.6, 1.4, 1.2, 1.0, 0.9, 0.8, 0.7, 0.6, 0.6, 0.6, 0.6, 0.6, 0.6, 0.6, 0.6, 0.6,
        0.6, 0.6, 0.6,
    ],
];

/// Source: ISO 12999-1:2020, Table 4 (public transcriptions); the 500 Hz row is missing in print and
/// taken from its neighbours, which agree.
const IMPACT: [[f64; 21]; 2] = [
    [
        3.2, 2.8, 2.4, 2.0, 1.6, 1.4, 1.3, 1.2, 1.2, 1.2, 1.2, 1.2, 1.2, 1.2, 1.3, 1.4, 1.5, 1.7,
        1.9, 2.1, 2.3,
    ],
    [
        1.5, 1.4, 1.3, 1.2, 1.1, 1.0, 0.9, 0.8, 0.8, 0.8, 0.8, 0.8, 0.8, 0.8, 0.8, 0.8, 0.8, 1.0,
        1.2, 1.4, 1.6,
    ],
];

fn row(band: Band) -> Option<usize> {
    (Band::HZ_50..=Band::HZ_5000).contains(&band).then(|| band.index() - Band::HZ_50.index())
}

/// Standard deviation of airborne insulation; `None` outside of 50 Hz to 5 kHz.
///
/// ```
/// use wythe_bands::Band;
/// use wythe_fieldtest::{Situation, airborne_deviation};
/// assert_eq!(airborne_deviation(Band::HZ_100, Situation::InSitu).unwrap().0, 2.8);
/// ```
pub fn airborne_deviation(band: Band, situation: Situation) -> Option<LevelDifference> {
    let table = match situation {
        Situation::Laboratory => &AIRBORNE[0],
        Situation::InSitu => &AIRBORNE[1],
        Situation::Repeated => &AIRBORNE[2],
    };
    row(band).map(|k| LevelDifference(table[k]))
}

/// Standard deviation of impact levels; `None` outside of 50 Hz to 5 kHz and for the laboratory.
pub fn impact_deviation(band: Band, situation: Situation) -> Option<LevelDifference> {
    let table = match situation {
        Situation::Laboratory => return None,
        Situation::InSitu => &IMPACT[0],
        Situation::Repeated => &IMPACT[1],
    };
    row(band).map(|k| LevelDifference(table[k]))
}
