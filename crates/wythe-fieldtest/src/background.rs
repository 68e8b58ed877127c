//! What of a level is the signal's own.

use wythe_bands::{Level, LevelDifference};

/// How a value stands against its background.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum State {
    /// Ten decibels and more above the background.
    Valid,
    /// Corrected by energy.
    Corrected,
    /// Too close: the signal is at most this, an insulation value at least.
    Bound,
    /// The background was found as the part that does not follow the source, and taken off.
    Followed,
    /// Recovered by coherence with the source.
    Coherent,
    /// No background is known: taken as it is, and the difference is at least that.
    Missing,
}

impl State {
    /// Word used in tables and by other programs.
    pub fn word(self) -> &'static str {
        match self {
            State::Valid => "valid",
            // A correction by energy as well, with the background taken from the recording itself.
            State::Corrected | State::Followed => "corrected",
            State::Bound => "bound",
            State::Coherent => "coherent",
            State::Missing => "missing",
        }
    }

    /// Whether an insulation value of this state is only a lower bound.
    pub fn is_bound(self) -> bool {
        matches!(self, State::Bound | State::Missing)
    }
}

/// A level without its background.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Corrected {
    /// Level of the signal.
    pub level: Level,
    /// How it came about.
    pub state: State,
    /// What the uncertainties of the signal and of the background are multiplied with.
    pub sensitivity: [f64; 2],
}

impl Corrected {
    /// Uncertainty of the corrected level: u² = (u_sb² + q² u_b²)/(1 − q)², q = 10^(−d/10).
    pub fn uncertainty(self, together: LevelDifference, alone: LevelDifference) -> LevelDifference {
        let [s, b] = self.sensitivity;
        LevelDifference((s * together.0).hypot(b * alone.0))
    }
}

/// Background correction of ISO 16283 (all parts), per band.
///
/// d = L_sb − L_b: d ≥ 10 dB none; 6 < d < 10 by energy; d ≤ 6 dB subtracts 1.3 dB and the result is
/// a limit of measurement.
///
/// Source: ISO 16283-1:2014, 9.2 (public transcriptions).
///
/// ```
/// use wythe_bands::Level;
/// use wythe_fieldtest::{State, corrected};
/// let c = corrected(Level(45.0), Level(40.0));
/// assert_eq!((c.level, c.state), (Level(43.7), State::Bound));
/// ```
pub fn corrected(together: Level, alone: Level) -> Corrected {
    by_rule(together, alone, 10.0)
}

/// The laboratory rule of ISO 10140-4, which corrects up to 15 dB (thresholds from memory).
pub fn corrected_in_the_laboratory(together: Level, alone: Level) -> Corrected {
    by_rule(together, alone, 15.0)
}

fn by_rule(together: Level, alone: Level, none_from: f64) -> Corrected {
    let d = (together - alone).0;
    // The comparisons are made with a hundred-thousandth of slack: levels read as 45.0 and 35.0
    // must not miss ten decibels by the last digit.
    let slack = 1e-5;
    if d >= none_from - slack {
        Corrected { level: together, state: State::Valid, sensitivity: [1.0, 0.0] }
    } else if d > 6.0 + slack {
        let q = 10f64.powf(-d / 10.0);
        Corrected {
            level: together + LevelDifference(10.0 * (1.0 - q).log10()),
            state: State::Corrected,
            sensitivity: [1.0 / (1.0 - q), q / (1.0 - q)],
        }
    } else {
        Corrected {
            level: together - LevelDifference(1.3),
            state: State::Bound,
            sensitivity: [1.0, 0.0],
        }
    }
}
