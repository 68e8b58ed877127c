//! The few figures that were fitted, all in one place, with what they were fitted on.

/// Figures fitted on the published record (tests/data/lab_tl.csv), never on single rows.
/// `cargo run --release -p wythe-partition --example record -- --fit` repeats the search.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Fitted {
    /// Loss factor of the air in an empty cavity at 500 Hz.
    pub empty_loss: f64,
    /// The same between panes, whose reveals are hard.
    pub pane_loss: f64,
    /// Loss factor of the stiffness of a porous fill in a cavity, beyond its flow resistance.
    pub fill_loss: f64,
    /// Fall of the loss of empty cavities with frequency, exponent.
    pub empty_loss_fall: f64,
    /// Compliance per metre of a 25-gauge light steel stud at 500 Hz, m²/N.
    pub steel_compliance: f64,
    /// Fall of the compliance of steel with frequency, exponent.
    pub steel_fall: f64,
    /// Compliance per metre of a load-bearing steel stud of 18 gauge, m²/N.
    pub load_bearing_compliance: f64,
    /// Compliance per metre of timber with its screws, m²/N.
    pub timber_compliance: f64,
    /// Compliance per metre of a resilient channel at 500 Hz, in series with the stud, m²/N.
    pub channel_compliance: f64,
    /// Fall of the compliance of channels with frequency, exponent.
    pub channel_fall: f64,
    /// Compliance per metre of common plates, for staggered studs, m²/N.
    pub plates_compliance: f64,
    /// Compliance per metre of separate plates on one floor, m²/N.
    pub separate_compliance: f64,
    /// Compliance per metre of the common frame of two panes, m²/N.
    pub window_compliance: f64,
    /// Compliance per metre between separate window frames, m²/N.
    pub separate_window_compliance: f64,
    /// Reduction by the perimeter path of two leaves of 10 kg/m² at 500 Hz, dB.
    pub perimeter: f64,
    /// Its rise per doubling of frequency, dB.
    pub perimeter_rise: f64,
    /// What it gains where the leaves stand on plates of their own or on none, dB.
    pub perimeter_apart: f64,
    /// The same for a single leaf of 300 kg/m² at 500 Hz, dB.
    pub heavy_perimeter: f64,
    /// Its rise per doubling of frequency, dB.
    pub heavy_perimeter_rise: f64,
    /// Absorption α at the edges of heavy elements.
    pub heavy_edge: f64,
    /// Absorption α at the edges of boards.
    pub board_edge: f64,
    /// Absorption α at the edges of panes. Not searched: the record would lower it for the thick panes of
    /// one source and make the single panes of another worse.
    pub glass_edge: f64,
    /// Loss that fixing adds to boards and panes.
    pub fixing_loss: f64,
    /// Share of the trace wavenumber that a closed stud bay takes away below its first cross mode.
    pub bay: f64,
}

/// The figures in use.
pub static FITTED: Fitted = Fitted {
    empty_loss: 0.0721,
    pane_loss: 0.0758,
    fill_loss: 0.352,
    empty_loss_fall: 0.8,
    steel_compliance: 3.46e-7,
    steel_fall: 0.784,
    load_bearing_compliance: 5e-8,
    timber_compliance: 3.48e-8,
    channel_compliance: 1.69e-6,
    channel_fall: 0.293,
    plates_compliance: 9.84e-7,
    separate_compliance: 1.46e-6,
    window_compliance: 3.31e-7,
    separate_window_compliance: 3.44e-7,
    perimeter: 59.9,
    perimeter_rise: 0.616,
    perimeter_apart: 7.59,
    heavy_perimeter: 52.2,
    heavy_perimeter_rise: 2.92,
    heavy_edge: 0.344,
    board_edge: 0.2,
    glass_edge: 0.5,
    fixing_loss: 0.01,
    bay: 0.392,
};
