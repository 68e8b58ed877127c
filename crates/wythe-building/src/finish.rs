//! Absorption of finishes: the table, and what it becomes per third-octave band.
//!
//! The published tables give octaves from 125 Hz to 4 kHz. Between octave centres values are
//! interpolated over the logarithm of frequency; outside they are extrapolated and
//! [`Coefficient::extrapolated`] says so. Where sources disagree all rows are kept: the value is
//! their mean and the spread their standard deviation.

use wythe_bands::{Band, Octave, Source, Spectrum, SquareMetre};

use crate::Surface;

/// One finish of the table.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Finish {
    /// Name as the trade says it.
    pub name: &'static str,
    /// Other words for the same.
    pub synonyms: &'static [&'static str],
    /// Whether it swallows sound in its pores; decides how it goes on below 125 Hz.
    pub porous: bool,
    /// Whether the values are m² for each piece or person instead of coefficients.
    pub each: bool,
    /// The rows found, one per source.
    pub rows: &'static [Row],
}

/// Absorption coefficients of one source.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Row {
    /// Octaves 125 Hz to 4 kHz.
    pub octaves: [f64; 6],
    /// Where the row was found.
    pub source: Source,
}

/// Absorption coefficient in one band.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Coefficient {
    /// Mean of the sources; 0 to 1, or m² each.
    pub mean: f64,
    /// Standard deviation between the sources; at least [`LEAST_RELATIVE_SPREAD`] of the mean.
    pub spread: f64,
    /// Whether the band lies outside the published octaves (below 125 Hz or above 4 kHz octave).
    pub extrapolated: bool,
}

/// One table seldom tells how far the next sample of the same finish is off. A tenth is what
/// remains even after a room model is calibrated (JASA 152, 1158 (2022), abstract); less would
/// pretend more than the sources know.
pub const LEAST_RELATIVE_SPREAD: f64 = 0.10;

/// Bands beyond the published octaves are guesses: half the value either way.
pub const EXTRAPOLATED_RELATIVE_SPREAD: f64 = 0.50;

const HANDBOOK: Source = Source::Published {
    key: "absorption-general-table",
    place: "handbook values as reprinted on a calculator page",
};
const LECTURE: Source =
    Source::Published { key: "absorption-lecture-table", place: "lecture-note table, rounded" };
const TEXTBOOK_27_1: Source = Source::Published {
    key: "absorption-textbook-27",
    place: "table 27.1; author not shown in the extract",
};
const NEWNES_29_3: Source =
    Source::Published { key: "newnes-audio-engineering", place: "table 29.3" };
const COX_DANTONIO_A: Source =
    Source::Published { key: "cox-dantonio-absorbers", place: "appendix A" };
const MIKI_DERIVED: Source = Source::Derived(
    "Miki's model of a porous layer on a rigid back, 10 kPa s/m2, local reaction, averaged over \
     angles after Paris; laboratory values of small samples run higher",
);
const CHURCHES: Source = Source::Published {
    key: "absorption-churches",
    place: "mean of eight churches measured empty and occupied; exploratory",
};

macro_rules! finish {
    ($name:literal, [$($synonym:literal),*], $porous:literal, $each:literal,
     $([$($a:literal),*] $source:ident),+ $(,)?) => {
        Finish {
            name: $name,
            synonyms: &[$($synonym),*],
            porous: $porous,
            each: $each,
            rows: &[$(Row { octaves: [$($a),*], source: $source }),+],
        }
    };
}

/// The finishes. Random-incidence coefficients at 125, 250, 500, 1000, 2000, 4000 Hz as found.
pub static FINISHES: &[Finish] = &[
    finish!("gypsum on studs", ["gypsum board on studs", "plasterboard on studs", "drywall on studs"], false, false,
        [0.29, 0.10, 0.06, 0.05, 0.04, 0.04] HANDBOOK,
        [0.30, 0.10, 0.05, 0.04, 0.07, 0.10] LECTURE,
        [0.10, 0.08, 0.05, 0.03, 0.03, 0.03] TEXTBOOK_27_1),
    finish!("gypsum on deep airspace", ["suspended gypsum ceiling", "plasterboard on deep airspace"], false, false,
        [0.20, 0.15, 0.10, 0.05, 0.05, 0.05] NEWNES_29_3),
    finish!("carpet on concrete", ["heavy carpet on concrete"], true, false,
        [0.02, 0.06, 0.14, 0.37, 0.60, 0.65] COX_DANTONIO_A),
    finish!("carpet on underlay", ["carpet on foam", "heavy carpet on foam"], true, false,
        [0.08, 0.24, 0.57, 0.69, 0.71, 0.73] COX_DANTONIO_A),
    finish!("timber on joists", ["wood on joists", "wood floor on joists", "timber floor on joists"], false, false,
        [0.15, 0.11, 0.10, 0.07, 0.06, 0.07] HANDBOOK),
    finish!("parquet on concrete", ["wood on concrete", "timber on concrete", "parquet"], false, false,
        [0.04, 0.04, 0.07, 0.06, 0.06, 0.07] HANDBOOK),
    finish!("vinyl on concrete", ["linoleum on concrete", "vinyl"], false, false,
        [0.02, 0.03, 0.03, 0.03, 0.03, 0.02] HANDBOOK),
    finish!("painted concrete", ["concrete", "smooth concrete"], false, false,
        [0.01, 0.01, 0.02, 0.02, 0.02, 0.02] HANDBOOK),
    finish!("brick", ["unglazed brick", "brickwork"], false, false,
        [0.03, 0.03, 0.03, 0.04, 0.05, 0.07] HANDBOOK),
    finish!("painted block", ["painted concrete block", "concrete block"], false, false,
        [0.10, 0.05, 0.06, 0.07, 0.09, 0.08] HANDBOOK),
    finish!("glass", ["window", "window glass"], false, false,
        [0.35, 0.25, 0.18, 0.12, 0.07, 0.04] TEXTBOOK_27_1),
    finish!("heavy glass", ["plate glass", "laminated glass"], false, false,
        [0.18, 0.06, 0.04, 0.03, 0.02, 0.02] HANDBOOK),
    finish!("timber door", ["solid timber door", "wood door", "door"], false, false,
        [0.10, 0.07, 0.05, 0.04, 0.04, 0.04] HANDBOOK),
    finish!("heavy curtain", ["curtain", "velour curtain", "velour curtain, half area"], true, false,
        [0.07, 0.31, 0.49, 0.75, 0.70, 0.60] COX_DANTONIO_A),
    finish!("glass fibre 25 mm", ["glass wool 25 mm"], true, false,
        [0.10, 0.30, 0.55, 0.65, 0.75, 0.80] NEWNES_29_3),
    finish!("glass fibre 50 mm", ["glass wool 50 mm"], true, false,
        [0.20, 0.45, 0.70, 0.80, 0.80, 0.80] NEWNES_29_3,
        [0.22, 0.82, 0.99, 0.99, 0.99, 0.99] HANDBOOK),
    finish!("mineral wool 50 mm", ["rock wool 50 mm", "stone wool 50 mm"], true, false,
        [0.10, 0.25, 0.49, 0.76, 0.93, 0.87] MIKI_DERIVED,
        [0.13, 0.33, 0.64, 0.88, 0.94, 0.92] MIKI_DERIVED_20K),
    finish!("mineral wool 100 mm", ["rock wool 100 mm", "stone wool 100 mm"], true, false,
        [0.33, 0.64, 0.88, 0.94, 0.92, 0.93] MIKI_DERIVED,
        [0.45, 0.73, 0.88, 0.90, 0.92, 0.92] MIKI_DERIVED_20K),
    finish!("person", ["people", "persons"], true, true,
        [0.29, 0.43, 0.51, 0.68, 0.71, 0.73] CHURCHES),
];

const MIKI_DERIVED_20K: Source = Source::Derived("the same layer at 20 kPa s/m2");

/// Finish by its name or a synonym, without regard to case.
pub fn finish(name: &str) -> Option<&'static Finish> {
    let name = name.trim();
    FINISHES.iter().find(|f| {
        f.name.eq_ignore_ascii_case(name) || f.synonyms.iter().any(|s| s.eq_ignore_ascii_case(name))
    })
}

impl Finish {
    /// Coefficient in one third-octave band.
    ///
    /// Below 100 Hz porous finishes fall in proportion to frequency (a layer thin beside the
    /// wavelength on a hard back; derived, a rough upper bound) and the others keep their 125 Hz
    /// value, because the resonance of a panel depends on the very wall built. Above 5 kHz the
    /// 4 kHz value holds. Both are extrapolated, and marked.
    pub fn coefficient(&self, band: Band) -> Coefficient {
        let per_row: Vec<f64> = self.rows.iter().map(|r| row_at(r, band, self.porous)).collect();
        let count = per_row.len() as f64;
        let mean = per_row.iter().sum::<f64>() / count;
        let between = if per_row.len() < 2 {
            0.0
        } else {
            (per_row.iter().map(|a| (a - mean).powi(2)).sum::<f64>() / (count - 1.0)).sqrt()
        };
        let extrapolated = band < Band::HZ_100 || band > Band::HZ_5000;
        let least = if extrapolated { EXTRAPOLATED_RELATIVE_SPREAD } else { LEAST_RELATIVE_SPREAD };
        Coefficient { mean, spread: between.max(least * mean), extrapolated }
    }

    /// Coefficients over the whole axis.
    pub fn coefficients(&self) -> Spectrum<Coefficient> {
        Spectrum::from_fn(|band| self.coefficient(band))
    }
}

/// Octave band 125 Hz is the third of the axis.
const FIRST_OCTAVE: usize = 2;

fn row_at(row: &Row, band: Band, porous: bool) -> f64 {
    let first = Octave::all().nth(FIRST_OCTAVE).map_or(0, |o| o.centre_band().index());
    // Position on the octave grid: 0 at 125 Hz, 5 at 4 kHz.
    let position = (band.index() as f64 - first as f64) / 3.0;
    let last = (row.octaves.len() - 1) as f64;
    if position < 0.0 {
        let held = row.octaves[0];
        return if porous { held * 10f64.powf(0.3 * position) } else { held };
    }
    if position >= last {
        return row.octaves[row.octaves.len() - 1];
    }
    let below = position.floor() as usize;
    let share = position - below as f64;
    row.octaves[below] * (1.0 - share) + row.octaves[below + 1] * share
}

/// Equivalent absorption area of surfaces. Finishes that are not in the table count as nothing;
/// whoever reads the description refuses them before.
pub fn absorption_area(surfaces: &[Surface]) -> Spectrum<SquareMetre> {
    absorption_area_with_spread(surfaces).map(|_, (area, _)| area)
}

/// Equivalent absorption area of surfaces with its standard deviation per band. The spread of
/// one finish is common to all its surfaces; different finishes count as independent.
pub fn absorption_area_with_spread(surfaces: &[Surface]) -> Spectrum<(SquareMetre, SquareMetre)> {
    let mut areas: Vec<(&'static Finish, f64)> = Vec::new();
    for surface in surfaces {
        let Some(finish) = finish(&surface.finish) else { continue };
        let area = if surface.area.0.is_finite() { surface.area.0.max(0.0) } else { 0.0 };
        match areas.iter_mut().find(|(f, _)| std::ptr::eq(*f, finish)) {
            Some((_, sum)) => *sum += area,
            None => areas.push((finish, area)),
        }
    }
    if areas.is_empty() {
        return Spectrum::empty();
    }
    Spectrum::from_fn(|band| {
        let mut mean = 0.0;
        let mut variance = 0.0;
        for (finish, area) in &areas {
            let coefficient = finish.coefficient(band);
            mean += coefficient.mean * area;
            variance += (coefficient.spread * area).powi(2);
        }
        (SquareMetre(mean), SquareMetre(variance.sqrt()))
    })
}
