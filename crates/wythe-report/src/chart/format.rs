//! The three sizes a chart is drawn in.

/// Which paper or screen a chart is drawn for. The ratio of width to height of a spectrum is
/// fixed per form, so that slopes compare across a document: 50 dB per decade on a screen, 25 dB
/// per decade on paper (IEC 60263:2020, 4.1 allows 10, 20, 25 and 50).
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Default)]
pub enum Format {
    /// 24 px per third-octave band, 48 px per 10 dB, labels at the line ends.
    #[default]
    Screen,
    /// 5 mm per third-octave band, 20 mm per 10 dB (at 96 px per inch), at most 170 mm wide.
    Report,
    /// At most 328 px wide with the labels as a list below, so that text keeps its size on a
    /// telephone; 50 dB per decade.
    Phone,
}

/// Pixels per millimetre where CSS reckons 96 px to the inch.
const PX_PER_MM: f64 = 96.0 / 25.4;

/// Lengths in px that follow from a [`Format`].
#[derive(Clone, Copy)]
pub(crate) struct Metrics {
    /// Width of one third-octave band.
    pub(crate) band: f64,
    /// Height of 10 dB.
    pub(crate) ten_db: f64,
    /// Height of 10 dB on the axis of differences, where no slope is read: less on paper, so that
    /// the whole picture fits a Letter sheet.
    pub(crate) difference_ten_db: f64,
    /// Size of axis and label text.
    pub(crate) text: f64,
    /// Size of notes; never under 12 px.
    pub(crate) small: f64,
    /// Room left of the plot for the figures of the axis.
    pub(crate) gutter: f64,
    /// Widest drawing.
    pub(crate) widest: f64,
    /// Whether labels stand in a list below the plot.
    pub(crate) labels_below: bool,
}

impl Format {
    /// Lengths for a chart of `bands` third-octave bands.
    pub(crate) fn metrics(self, bands: usize) -> Metrics {
        match self {
            Format::Screen => Metrics {
                band: 24.0,
                ten_db: 48.0,
                difference_ten_db: 48.0,
                text: 14.0,
                small: 12.0,
                gutter: 40.0,
                widest: 960.0,
                labels_below: false,
            },
            Format::Report => Metrics {
                band: 5.0 * PX_PER_MM,
                ten_db: 20.0 * PX_PER_MM,
                difference_ten_db: 10.0 * PX_PER_MM,
                // 10 pt
                text: 40.0 / 3.0,
                small: 12.0,
                gutter: 38.0,
                widest: 170.0 * PX_PER_MM,
                labels_below: false,
            },
            Format::Phone => {
                let band = ((328.0 - 30.0 - 8.0) / bands.max(1) as f64).min(14.0);
                Metrics {
                    band,
                    // 50 dB per decade of ten bands.
                    ten_db: 2.0 * band,
                    difference_ten_db: 2.0 * band,
                    text: 12.0,
                    small: 12.0,
                    gutter: 30.0,
                    widest: 328.0,
                    labels_below: true,
                }
            }
        }
    }

    /// Word in ids, so that two forms of one chart can stand in one page.
    pub(crate) fn word(self) -> &'static str {
        match self {
            Format::Screen => "screen",
            Format::Report => "report",
            Format::Phone => "phone",
        }
    }
}
