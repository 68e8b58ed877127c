//! Hearing dose of a day or a week.
//!
//! Planning numbers. They never say that a sound is safe: rules differ, ears differ, and the
//! workplace rules and occupational-health practice of the place decide.

use thiserror::Error;
use wythe_bands::{Level, Remark, Source};

/// Notice that goes with every number of this module.
pub const NOTICE: &str = "planning numbers, not medical or legal advice; the workplace rules of \
                          the place and licensed occupational-health practice decide";

/// A stay at one level.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Stay {
    /// A-weighted equivalent level at the ear, dB.
    pub level: Level,
    /// How long, minutes.
    pub minutes: f64,
}

/// Rule by which a dose is counted.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum DoseRule {
    /// NIOSH 98-126 (1998): 85 dBA for 8 h, 3 dB per halving, every level counts.
    Niosh,
    /// OSHA 29 CFR 1910.95: 90 dBA for 8 h, 5 dB per halving, every level counted as the formula
    /// of Appendix A is written.
    OshaAllLevels,
    /// The same with levels from 80 to 130 dBA only (hearing conservation; thresholds from memory).
    OshaConservation,
    /// The same with levels from 90 dBA only (permissible exposure; threshold from memory).
    OshaPermissible,
}

impl DoseRule {
    /// Level allowed for eight hours, dBA.
    pub fn criterion(self) -> Level {
        Level(if self == DoseRule::Niosh { 85.0 } else { 90.0 })
    }

    /// Decibels that halve the allowed time.
    pub fn exchange(self) -> f64 {
        if self == DoseRule::Niosh { 3.0 } else { 5.0 }
    }

    /// Where the rule is written.
    pub fn source(self) -> Source {
        match self {
            DoseRule::Niosh => Source::Published { key: "niosh-98-126", place: "1.1, 1.1.3" },
            _ => Source::Published { key: "osha-1910-95", place: "Appendix A" },
        }
    }

    /// Name in reports.
    pub fn name(self) -> &'static str {
        match self {
            DoseRule::Niosh => "NIOSH",
            DoseRule::OshaAllLevels => "OSHA",
            DoseRule::OshaConservation => "OSHA hearing conservation",
            DoseRule::OshaPermissible => "OSHA permissible exposure",
        }
    }

    fn counts(self, level: Level) -> bool {
        match self {
            DoseRule::Niosh | DoseRule::OshaAllLevels => true,
            DoseRule::OshaConservation => (80.0..=130.0).contains(&level.0),
            DoseRule::OshaPermissible => level.0 >= 90.0,
        }
    }
}

/// What cannot be counted.
#[derive(Clone, Debug, PartialEq, Error)]
pub enum DoseError {
    /// A level that is none.
    #[error("a level of {0} dBA is not a sound level; give a number between -20 and 200")]
    Level(f64),
    /// A time that is none.
    #[error("{0} minutes is not a time; give zero or more")]
    Minutes(f64),
    /// Longer than the period the rule is written for.
    #[error("the stays add up to {0:.0} minutes, longer than the day of 1440 they are counted in")]
    LongerThanADay(f64),
    /// A pressure that is none.
    #[error("{0} Pa is not a peak sound pressure; give a number above zero")]
    Pressure(f64),
}

fn check_level(level: Level) -> Result<f64, DoseError> {
    if (-20.0..=200.0).contains(&level.0) { Ok(level.0) } else { Err(DoseError::Level(level.0)) }
}

fn check_stays(stays: &[Stay]) -> Result<(), DoseError> {
    let mut total = 0.0;
    for stay in stays {
        check_level(stay.level)?;
        if !(stay.minutes >= 0.0 && stay.minutes.is_finite()) {
            return Err(DoseError::Minutes(stay.minutes));
        }
        total += stay.minutes;
    }
    if total > 1440.0 + 1e-6 { Err(DoseError::LongerThanADay(total)) } else { Ok(()) }
}

/// Minutes per day at which the dose reaches 100 %: T = 480 / 2^((L − L_c)/q).
///
/// # Errors
/// A level out of range.
pub fn allowed_minutes(rule: DoseRule, level: Level) -> Result<f64, DoseError> {
    let l = check_level(level)?;
    Ok(480.0 / 2f64.powf((l - rule.criterion().0) / rule.exchange()))
}

/// Dose of a day.
#[derive(Clone, Debug, PartialEq)]
pub struct Dose {
    /// By which rule.
    pub rule: DoseRule,
    /// 100 Σ C/T, per cent.
    pub percent: f64,
    /// The steady level of eight hours with the same dose, dBA; `None` for no dose.
    pub twa: Option<Level>,
    /// What has to be said with it.
    pub remarks: Vec<Remark>,
}

/// Dose of the stays of one day, D = 100 Σ C_i/T_i, and TWA = q/lg 2 · lg(D/100) + L_c.
///
/// TWA is written 10 lg(D/100) + 85 by NIOSH and 16.61 lg(D/100) + 90 by OSHA; both factors are
/// used as printed. Source: NIOSH 98-126, 1.1; 29 CFR 1910.95 Appendix A.
///
/// # Errors
/// A level or time out of range, or more than a day.
pub fn dose(rule: DoseRule, stays: &[Stay]) -> Result<Dose, DoseError> {
    check_stays(stays)?;
    let mut percent = 0.0;
    for stay in stays.iter().filter(|s| rule.counts(s.level)) {
        percent += 100.0 * stay.minutes / allowed_minutes(rule, stay.level)?;
    }
    let factor = if rule == DoseRule::Niosh { 10.0 } else { 16.61 };
    let twa =
        (percent > 0.0).then(|| Level(factor * (percent / 100.0).log10() + rule.criterion().0));
    let mut remarks = vec![Remark::new("dose::notice", NOTICE)];
    if percent >= 100.0 {
        remarks.push(Remark::new(
            "dose::over-limit",
            format!(
                "{percent:.0} % of the daily dose by {}: shorten the stay, lower the level at the \
                 ear or wear protection that is fitted and checked",
                rule.name()
            ),
        ));
    } else if rule != DoseRule::Niosh && percent >= 50.0 {
        remarks.push(Remark::new(
            "dose::action-level",
            format!(
                "{percent:.0} % of the daily dose: at 50 % OSHA asks for a hearing conservation \
                 programme"
            ),
        ));
    }
    if stays.iter().any(|s| s.minutes > 0.0 && s.level.0 > 115.0) {
        remarks.push(Remark::new(
            "dose::above-115",
            "part of the stay is above 115 dBA, where no unprotected exposure is allowed however \
             short; it is still counted in the dose",
        ));
    }
    Ok(Dose { rule, percent, twa, remarks })
}

/// Daily noise exposure level of the European directive.
#[derive(Clone, Debug, PartialEq)]
pub struct DailyExposure {
    /// LEX,8h, dBA; `None` when nothing was heard.
    pub lex_8h: Option<Level>,
    /// What has to be said with it.
    pub remarks: Vec<Remark>,
}

/// Lower and upper exposure action values and the limit, dBA (Directive 2003/10/EC, Art. 3).
pub const EU_ACTION_LOWER: Level = Level(80.0);
/// Upper exposure action value, dBA.
pub const EU_ACTION_UPPER: Level = Level(85.0);
/// Exposure limit value, dBA, counted with the attenuation of protectors worn.
pub const EU_LIMIT: Level = Level(87.0);
/// Peak pressures of the lower and upper action value and the limit, Pa (Art. 3).
pub const EU_PEAKS_PASCAL: [f64; 3] = [112.0, 140.0, 200.0];

/// LEX,8h = 10 lg((1/480 min) Σ t_i 10^(L_i/10)).
///
/// Source: Directive 2003/10/EC, Art. 2 and 3, ISO 1999.
///
/// # Errors
/// A level or time out of range, or more than a day.
pub fn lex_8h(stays: &[Stay]) -> Result<DailyExposure, DoseError> {
    check_stays(stays)?;
    let energy: f64 = stays.iter().map(|s| s.minutes / 480.0 * s.level.energy()).sum();
    let lex_8h = Level::from_energy(energy);
    let mut remarks = vec![Remark::new("dose::notice", NOTICE)];
    // The three values of Art. 3, the severest that is reached or passed first.
    let reached = |limit: Level| lex_8h.is_some_and(|l| l.0 >= limit.0 - 1e-9);
    if lex_8h.is_some_and(|l| l.0 > EU_LIMIT.0 + 1e-9) {
        remarks.push(Remark::new(
            "dose::eu-limit",
            "above the exposure limit of 87 dB(A), which counts the protectors worn: without them \
             this exposure may not happen at work",
        ));
    } else if reached(EU_ACTION_UPPER) {
        remarks.push(Remark::new(
            "dose::eu-upper-action",
            "at or above the upper action value of 85 dB(A): protectors must be worn at work and \
             the exposure reduced by plan",
        ));
    } else if reached(EU_ACTION_LOWER) {
        remarks.push(Remark::new(
            "dose::eu-lower-action",
            "at or above the lower action value of 80 dB(A): protectors must be offered at work",
        ));
    }
    Ok(DailyExposure { lex_8h, remarks })
}

/// Time at one level until a daily rule is used up.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Allowance {
    /// Which rule.
    pub rule: &'static str,
    /// Minutes a day; more than 1440 means the rule does not bind in a day.
    pub minutes: f64,
    /// Where the rule is written.
    pub source: Source,
}

/// Minutes a day at a level by NIOSH, by the two upper values of the European directive and by
/// the permissible exposure of OSHA, the shortest first.
///
/// The European times are those after which LEX,8h reaches 85 and 87 dB(A): 480 / 10^((L − x)/10).
///
/// # Errors
/// A level out of range.
pub fn allowances(level: Level) -> Result<Vec<Allowance>, DoseError> {
    let l = check_level(level)?;
    let eu = Source::Published { key: "eu-2003-10", place: "Art. 3" };
    let equal_energy = |x: Level| 480.0 / 10f64.powf((l - x.0) / 10.0);
    let by = |rule: DoseRule| -> Result<Allowance, DoseError> {
        let minutes = allowed_minutes(rule, level)?;
        Ok(Allowance { rule: rule.name(), minutes, source: rule.source() })
    };
    let mut all = vec![
        by(DoseRule::Niosh)?,
        Allowance {
            rule: "EU upper action value",
            minutes: equal_energy(EU_ACTION_UPPER),
            source: eu,
        },
        Allowance {
            rule: "EU limit value, protectors counted",
            minutes: equal_energy(EU_LIMIT),
            source: eu,
        },
        by(DoseRule::OshaPermissible)?,
    ];
    all.sort_by(|a, b| a.minutes.total_cmp(&b.minutes));
    Ok(all)
}

/// Peak level of a peak pressure, 20 lg(p/20 µPa), dB (dB(C) for a C-weighted pressure).
///
/// # Errors
/// A pressure that is not above zero.
pub fn peak_level(pascal: f64) -> Result<Level, DoseError> {
    if pascal > 0.0 && pascal.is_finite() {
        Ok(Level(20.0 * (pascal / Level::REFERENCE_PASCAL).log10()))
    } else {
        Err(DoseError::Pressure(pascal))
    }
}

/// Who listens, for the weekly allowance of WHO and ITU.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Listener {
    /// Adults: 80 dBA for 40 h a week, 1.6 Pa²h.
    Adult,
    /// Children and sensitive listeners: 75 dBA for 40 h a week.
    Sensitive,
}

/// Hours a week at a level that make up the weekly allowance, by equal energy.
///
/// Source: WHO-ITU global standard for safe listening devices, ITU-T H.870 (second-hand).
///
/// # Errors
/// A level out of range.
pub fn weekly_allowance_hours(listener: Listener, level: Level) -> Result<f64, DoseError> {
    let reference = match listener {
        Listener::Adult => 80.0,
        Listener::Sensitive => 75.0,
    };
    Ok(40.0 / 10f64.powf((check_level(level)? - reference) / 10.0))
}

/// Largest level a session of these minutes may have before the daily dose is used up, dBA; the
/// answer to "how loud for how long". `None` for no minutes.
///
/// # Errors
/// A time out of range.
pub fn level_for_minutes(rule: DoseRule, minutes: f64) -> Result<Option<Level>, DoseError> {
    if !(0.0..=1440.0).contains(&minutes) {
        return Err(DoseError::Minutes(minutes));
    }
    Ok((minutes > 0.0)
        .then(|| Level(rule.criterion().0 + rule.exchange() * (480.0 / minutes).log2())))
}
