//! Why a build-up cannot be predicted.

/// Why a build-up or an opening cannot be predicted: what, where, why, what to do.
/// Layers are counted from 1 at side a, as a person counts them.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum PartitionError {
    /// There are no layers.
    #[error("build-up `{0}` has no layers; list its boards and cavities from side a to side b")]
    NoLayers(String),
    /// A board names a material that is not in the catalogue.
    #[error(
        "layer {layer} of `{id}` names the unknown material `{name}`; {}",
        nearest_names(.nearest)
    )]
    UnknownMaterial {
        /// The build-up.
        id: String,
        /// Number of the layer, 1 at side a.
        layer: usize,
        /// What was written.
        name: String,
        /// Nearest names of the catalogue, best first.
        nearest: Vec<String>,
    },
    /// A cavity names a fill that is not in the catalogue.
    #[error("layer {layer} of `{id}` names the unknown fill `{name}`; {}", nearest_names(.nearest))]
    UnknownFill {
        /// The build-up.
        id: String,
        /// Number of the layer, 1 at side a.
        layer: usize,
        /// What was written.
        name: String,
        /// Nearest names of the catalogue, best first.
        nearest: Vec<String>,
    },
    /// A number of a layer is not usable: zero, negative, not a number, or absurd.
    #[error("layer {layer} of `{id}`: {what} of {value} {unit} {why}; {remedy}")]
    Unusable {
        /// The build-up.
        id: String,
        /// Number of the layer, 1 at side a; 0 for the build-up as a whole.
        layer: usize,
        /// Which number: `thickness`, `surface mass`, `cavity depth`…
        what: &'static str,
        /// What was given.
        value: f64,
        /// Its unit.
        unit: &'static str,
        /// Why it cannot be used.
        why: &'static str,
        /// What to do.
        remedy: &'static str,
    },
    /// The fill is deeper than its cavity.
    #[error(
        "layer {layer} of `{id}`: the fill is {fill_mm:.0} mm deep and the cavity only \
         {cavity_mm:.0} mm; give a fill depth of at most the cavity's"
    )]
    FillDeeperThanCavity {
        /// The build-up.
        id: String,
        /// Number of the layer, 1 at side a.
        layer: usize,
        /// Fill depth, mm.
        fill_mm: f64,
        /// Cavity depth, mm.
        cavity_mm: f64,
    },
    /// A cavity has no leaf on one side.
    #[error(
        "layer {layer} of `{id}` is a cavity with no board on side {side}; a cavity needs a leaf \
         on each side, so add a board or drop the cavity"
    )]
    CavityAtTheEdge {
        /// The build-up.
        id: String,
        /// Number of the layer, 1 at side a.
        layer: usize,
        /// `a` or `b`.
        side: char,
    },
    /// Two cavities lie next to each other.
    #[error(
        "layers {layer} and {} of `{id}` are cavities with no leaf between; join them to one \
         cavity with a fill depth, or put a board between",
        layer + 1
    )]
    CavitiesSideBySide {
        /// The build-up.
        id: String,
        /// Number of the first of the two, 1 at side a.
        layer: usize,
    },
    /// There are more layers than the calculation takes.
    #[error("`{id}` has {count} {what}, more than the {most} this program calculates; {remedy}")]
    TooMany {
        /// The build-up.
        id: String,
        /// What there are too many of.
        what: &'static str,
        /// How many there are.
        count: usize,
        /// How many are taken.
        most: usize,
        /// What to do.
        remedy: &'static str,
    },
    /// The data sheet holds nothing to work with.
    #[error("the data sheet of `{id}` has no values; give reduction indices per band, or layers")]
    EmptyDataSheet {
        /// The build-up.
        id: String,
    },
    /// A single number says too little by itself.
    #[error(
        "the data sheet of `{id}` gives a single number, which does not say how much is kept back at \
         50 Hz or anywhere else; give its layers beside it"
    )]
    RatingAlone {
        /// The build-up.
        id: String,
    },
    /// A value of the data sheet is not a reduction index.
    #[error(
        "the data sheet of `{id}` gives {value} dB in the {band} Hz band, which no element has; \
         correct the value or leave the band out"
    )]
    DataSheetValue {
        /// The build-up.
        id: String,
        /// Nominal frequency of the band.
        band: &'static str,
        /// What was given.
        value: f64,
    },
    /// The table of a data sheet is out of order.
    #[error(
        "the table of `{id}` has {found} Hz after {before} Hz; list the bands in rising order, \
         each once"
    )]
    BandsOutOfOrder {
        /// The build-up.
        id: String,
        /// Nominal frequency that came first.
        before: String,
        /// Nominal frequency that followed.
        found: String,
    },
    /// A frequency of a table is on no band.
    #[error(
        "the table of `{id}` has a value at {found} Hz, which is no nominal band frequency; use \
         50, 63, 80, 100 … Hz, or octaves"
    )]
    NotABand {
        /// The build-up.
        id: String,
        /// What was given.
        found: String,
    },
    /// The conditions cannot be used.
    #[error("`{id}` was asked about with {what} of {value}; {remedy}")]
    Conditions {
        /// The build-up.
        id: String,
        /// Which condition.
        what: &'static str,
        /// What was given.
        value: f64,
        /// What to do.
        remedy: &'static str,
    },
    /// A method was asked for that is not made for the build-up.
    #[error("the method `{method}` is not made for `{id}` ({says}); ask which methods apply")]
    MethodDoesNotApply {
        /// The build-up.
        id: String,
        /// The method.
        method: &'static str,
        /// What it is made for.
        says: &'static str,
    },
    /// An opening has no leaf although it is not a hole and not open.
    #[error("opening `{id}` has no leaf; name a leaf, call it a hole, or say that it stands open")]
    NoLeaf {
        /// The opening.
        id: String,
    },
    /// A number of an opening is not usable.
    #[error("opening `{id}`: {what} of {value} {unit} {why}; {remedy}")]
    OpeningSize {
        /// The opening.
        id: String,
        /// Which number.
        what: &'static str,
        /// What was given.
        value: f64,
        /// Its unit.
        unit: &'static str,
        /// Why it cannot be used.
        why: &'static str,
        /// What to do.
        remedy: &'static str,
    },
}

fn nearest_names(nearest: &[String]) -> String {
    if nearest.is_empty() {
        "see the catalogue for the names it knows".to_owned()
    } else {
        let quoted: Vec<String> = nearest.iter().map(|n| format!("`{n}`")).collect();
        format!("nearest names: {}", quoted.join(", "))
    }
}

impl PartitionError {
    /// Stable code for messages, such as `partition::unknown-material`.
    pub fn code(&self) -> &'static str {
        match self {
            PartitionError::NoLayers(_) => "partition::no-layers",
            PartitionError::UnknownMaterial { .. } => "partition::unknown-material",
            PartitionError::UnknownFill { .. } => "partition::unknown-fill",
            PartitionError::Unusable { .. } => "partition::unusable-number",
            PartitionError::FillDeeperThanCavity { .. } => "partition::fill-depth",
            PartitionError::CavityAtTheEdge { .. } => "partition::cavity-at-edge",
            PartitionError::CavitiesSideBySide { .. } => "partition::cavities-side-by-side",
            PartitionError::TooMany { .. } => "partition::too-many",
            PartitionError::EmptyDataSheet { .. } => "partition::empty-data-sheet",
            PartitionError::RatingAlone { .. } => "partition::rating-alone",
            PartitionError::DataSheetValue { .. } => "partition::data-sheet-value",
            PartitionError::BandsOutOfOrder { .. } => "partition::bands-out-of-order",
            PartitionError::NotABand { .. } => "partition::not-a-band",
            PartitionError::Conditions { .. } => "partition::conditions",
            PartitionError::MethodDoesNotApply { .. } => "partition::method",
            PartitionError::NoLeaf { .. } => "partition::no-leaf",
            PartitionError::OpeningSize { .. } => "partition::opening-size",
        }
    }

    /// Number of the layer it is about, 1 at side a, if it is about one.
    pub fn layer(&self) -> Option<usize> {
        match self {
            PartitionError::UnknownMaterial { layer, .. }
            | PartitionError::UnknownFill { layer, .. }
            | PartitionError::FillDeeperThanCavity { layer, .. }
            | PartitionError::CavityAtTheEdge { layer, .. }
            | PartitionError::CavitiesSideBySide { layer, .. } => Some(*layer),
            PartitionError::Unusable { layer, .. } if *layer > 0 => Some(*layer),
            _ => None,
        }
    }
}
