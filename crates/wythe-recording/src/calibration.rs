//! From tones and stated sensitivities to the sensitivity of a channel.

use wythe_bands::{Level, LevelDifference, Remark};

use crate::RecordingError;
use crate::level::Sensitivity;
use crate::tone::Tone;

/// Where a channel's sensitivity is to come from.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum CalibrationChoice {
    /// Tones in the recording, whose level the user states: a file cannot tell 94 from 114 dB.
    Tone {
        /// Level of the calibrator on its certificate.
        stated: Level,
    },
    /// Stated by the user, Pa at full scale.
    Stated(Sensitivity),
    /// None: levels stay relative.
    None,
}

/// The sensitivity of a channel, and how it came about.
#[derive(Clone, Debug, PartialEq)]
pub struct Calibration {
    /// The sensitivity; `None` means that levels are relative only.
    pub sensitivity: Option<Sensitivity>,
    /// Difference of the last to the first tone.
    pub drift: Option<LevelDifference>,
    /// Standard uncertainty from drift, |ΔK|/√12; zero with a single tone or a stated value.
    pub drift_uncertainty: LevelDifference,
    /// Number of tones used.
    pub tones: usize,
    /// What had to be said.
    pub remarks: Vec<Remark>,
}

/// Drift up to which the mean is taken without a word, dB.
pub const DRIFT_KEPT: f64 = 0.3;
/// Drift beyond which a calibration is refused, dB.
pub const DRIFT_REFUSED: f64 = 0.5;

/// Sensitivity of a channel (number from 1, for remarks) from its tones.
///
/// Rules of this program (common practice, no source; the 0.5 dB rejection is remembered from
/// environmental-noise standards): drift between tones up to 0.3 dB keeps the mean, up to 0.5 dB
/// with a remark, beyond that there is no calibration. Drift adds |ΔK|/√12 to the uncertainty.
///
/// # Errors
/// Only if a stated level is not a number.
pub fn calibrate(
    tones: &[Tone],
    choice: CalibrationChoice,
    channel: usize,
) -> Result<Calibration, RecordingError> {
    let mut out = Calibration {
        sensitivity: None,
        drift: None,
        drift_uncertainty: LevelDifference(0.0),
        tones: 0,
        remarks: Vec::new(),
    };
    let place = format!("channel {channel}");
    match choice {
        CalibrationChoice::None => {
            out.remarks.push(
                Remark::new(
                    "recording::relative-only",
                    "no calibration: levels are relative to full scale and are no sound pressure levels",
                )
                .at(place),
            );
        }
        CalibrationChoice::Stated(sensitivity) => out.sensitivity = Some(sensitivity),
        CalibrationChoice::Tone { stated } => {
            if !stated.0.is_finite() {
                return Err(RecordingError::Sensitivity(stated.0));
            }
            let mut good = Vec::new();
            for tone in tones {
                let faults = tone.faults();
                if faults.is_empty() {
                    good.push(tone);
                } else {
                    let why: Vec<String> = faults.iter().map(ToString::to_string).collect();
                    out.remarks.push(
                        Remark::new(
                            "recording::tone-refused",
                            format!(
                                "the tone from {:.1} to {:.1} s is not used as calibration: {}",
                                tone.from.0,
                                tone.to.0,
                                why.join(", ")
                            ),
                        )
                        .at(place.clone()),
                    );
                }
            }
            let (Some(first), Some(last)) = (good.first(), good.last()) else {
                out.remarks.push(
                    Remark::new(
                        "recording::relative-only",
                        "no usable calibration tone was found (3 s of 1 kHz or 250 Hz): levels are \
                         relative only; record a tone, or state the sensitivity",
                    )
                    .at(place),
                );
                return Ok(out);
            };
            // The range of all tones, not only first to last: a dip between them counts too.
            let levels = || good.iter().map(|t| t.level.0);
            let mean = levels().sum::<f64>() / good.len() as f64;
            let range =
                levels().fold(f64::NEG_INFINITY, f64::max) - levels().fold(f64::INFINITY, f64::min);
            out.tones = good.len();
            out.drift = (good.len() > 1).then_some(LevelDifference(last.level.0 - first.level.0));
            out.drift_uncertainty = LevelDifference(range / 12f64.sqrt());
            if range > DRIFT_REFUSED {
                out.remarks.push(
                    Remark::new(
                        "recording::drift",
                        format!(
                            "{} calibrations on this channel differ by {range:.2} dB, more than \
                             {DRIFT_REFUSED} dB: none is used; was the gain changed, or is the \
                             calibrator's level not the same in all? To use one of them all the same, say \
                             where it is with `from` and `to`",
                            good.len()
                        ),
                    )
                    .at(place),
                );
                return Ok(out);
            }
            if range > DRIFT_KEPT {
                out.remarks.push(
                    Remark::new(
                        "recording::drift",
                        format!("the calibrations differ by {range:.2} dB; their mean is used"),
                    )
                    .at(place),
                );
            }
            out.sensitivity = Some(Sensitivity::from_tone(crate::RelativeLevel(mean), stated)?);
        }
    }
    Ok(out)
}

impl Calibration {
    /// Sets a calibration aside when the sensitivity is already known otherwise, saying how far the
    /// two lie apart.
    pub fn compared_with(&self, other: Sensitivity) -> Option<LevelDifference> {
        self.sensitivity.map(|s| s.above(other))
    }
}
