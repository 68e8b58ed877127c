//! Measured data come first; what is filled in is marked.

use wythe_bands::{Band, LevelDifference, Octave};
use wythe_partition::{
    BuildUp, Conditions, Construction, DataSheet, PartitionError, SheetRating, data_sheet, predict,
};

use crate::walls::{board, cavity, predicted, wall};

fn measured(sheet: DataSheet) -> BuildUp {
    BuildUp { construction: Construction::Measured(sheet), ..wall(Vec::new()) }
}

fn table(pairs: &[(&str, f64)]) -> Vec<(String, f64)> {
    pairs.iter().map(|(f, v)| ((*f).to_owned(), *v)).collect()
}

const THIRDS: [(&str, f64); 16] = [
    ("100", 20.0),
    ("125", 24.0),
    ("160", 28.0),
    ("200", 32.0),
    ("250", 36.0),
    ("315", 40.0),
    ("400", 43.0),
    ("500", 46.0),
    ("630", 48.0),
    ("800", 50.0),
    ("1000", 52.0),
    ("1250", 53.0),
    ("1600", 54.0),
    ("2000", 50.0),
    ("2500", 46.0),
    ("3150", 48.0),
];

#[test]
fn measured_bands_stand_and_the_rest_is_marked() {
    let sheet = data_sheet("wall", "sheet 7", &table(&THIRDS)).unwrap();
    let p = predict(&measured(sheet.clone()), &Conditions::default()).unwrap();
    for (f, v) in THIRDS {
        let band = Band::from_nominal(f).unwrap();
        assert_eq!(p.reduction.get(band), Some(LevelDifference(v)));
        assert!(p.filled_in.get(band).is_none());
    }
    for f in ["50", "63", "80", "4000", "5000"] {
        assert!(p.filled_in.get(Band::from_nominal(f).unwrap()).is_some(), "{f}");
    }
    assert_eq!(p.method, "measured");
    assert!(p.remarks.iter().any(|r| r.code == "partition::filled-in"));
    // Farther from what was measured, less sure.
    let sd = |f: &str| p.deviation.get(Band::from_nominal(f).unwrap()).unwrap().0;
    assert!(sd("25") > sd("50") && sd("50") > sd("100"));
}

#[test]
fn known_layers_shape_what_is_filled_in() {
    let layers = vec![
        board("gypsum board", 12.5, 2),
        cavity(90.0, 60.0, None),
        board("gypsum board", 12.5, 2),
    ];
    let model = predicted(layers.clone());
    let sheet = DataSheet { layers, ..data_sheet("wall", "s", &table(&THIRDS)).unwrap() };
    let p = predict(&measured(sheet), &Conditions::default()).unwrap();
    let at = |p: &wythe_partition::Prediction, f: &str| {
        p.reduction.get(Band::from_nominal(f).unwrap()).unwrap().0
    };
    // Next to the sheet its difference to the model carries on, far away the model alone stands.
    let offset = 20.0 - at(&model, "100");
    let near = at(&p, "80") - at(&model, "80");
    let far = at(&p, "20") - at(&model, "20");
    assert!(near * offset > 0.0 && near.abs() < offset.abs() && far.abs() < near.abs());
    assert!(p.methods_that_apply.contains(&"layered_media"));
}

#[test]
fn octaves_stay_octaves_as_a_whole() {
    let pairs = [("125", 20.0), ("250", 30.0), ("500", 40.0), ("1000", 45.0), ("2000", 42.0)];
    for layers in [Vec::new(), vec![board("glass", 6.0, 1)]] {
        let sheet = DataSheet { layers, ..data_sheet("wall", "s", &table(&pairs)).unwrap() };
        assert_eq!(sheet.octaves.len(), 5);
        let p = predict(&measured(sheet), &Conditions::default()).unwrap();
        for (f, v) in pairs {
            let o = p.reduction.to_octaves().get(Octave::from_nominal(f).unwrap()).unwrap().0;
            assert!((o - v).abs() < 1e-9, "{f}: {o}");
        }
        assert!(p.filled_in.get(Band::HZ_500).is_some());
    }
}

#[test]
fn broken_tables_are_refused_with_the_reason() {
    let refused = |pairs: &[(&str, f64)]| data_sheet("wall", "s", &table(pairs)).unwrap_err();
    assert!(matches!(
        refused(&[("125", 20.0), ("100", 22.0)]),
        PartitionError::BandsOutOfOrder { .. }
    ));
    assert!(matches!(
        refused(&[("125", 20.0), ("125", 22.0)]),
        PartitionError::BandsOutOfOrder { .. }
    ));
    assert!(matches!(refused(&[("110", 20.0)]), PartitionError::NotABand { .. }));
    assert!(matches!(refused(&[("125", f64::NAN)]), PartitionError::DataSheetValue { .. }));
    assert!(matches!(refused(&[("125", 999.0)]), PartitionError::DataSheetValue { .. }));
    assert!(matches!(refused(&[]), PartitionError::EmptyDataSheet { .. }));
    let empty = measured(DataSheet { source: "s".into(), ..DataSheet::default() });
    assert!(matches!(
        predict(&empty, &Conditions::default()),
        Err(PartitionError::EmptyDataSheet { .. })
    ));
}

/// A single number moves the layers' curve to agree, says so of every band, and trusts itself less
/// the further it is from the bands it was rated by.
#[test]
fn a_rating_moves_the_curve_of_the_layers_and_never_stands_alone() {
    let layers = vec![
        board("gypsum board", 12.5, 1),
        cavity(75.0, 50.0, None),
        board("gypsum board", 12.5, 1),
    ];
    let model = predict(&crate::walls::wall(layers.clone()), &Conditions::default()).unwrap();
    let rated = |rating| {
        let sheet = DataSheet { rating: Some(rating), layers: layers.clone(), ..<_>::default() };
        predict(&measured(sheet), &Conditions::default()).unwrap()
    };
    for (rating, wanted) in [(SheetRating::Rw(41.0), 41.0), (SheetRating::Stc(52.0), 52.0)] {
        let p = rated(rating);
        let pairs = p
            .reduction
            .iter()
            .filter_map(|(b, r)| Some((wythe_rating::Midband::from_nominal(b.nominal())?, r.0)));
        let curve = wythe_rating::Curve::from_pairs(wythe_rating::Resolution::Thirds, pairs);
        let options = wythe_rating::Options::default();
        let value = match rating {
            SheetRating::Rw(_) => wythe_rating::iso717::airborne(&curve, &options),
            SheetRating::Stc(_) => wythe_rating::astm::e413(&curve, &options),
        };
        assert!((value.unwrap().unrounded.unwrap() - wanted).abs() < 1.0, "{rating:?}");
        let moved =
            |b: Band| (p.reduction.get(b).unwrap().0 - model.reduction.get(b).unwrap().0).abs();
        assert!(moved(Band::HZ_50) < 0.55 * moved(Band::HZ_500));
        assert_eq!(p.filled_in.len(), p.reduction.len());
        let sd = |b: Band| p.deviation.get(b).unwrap().0;
        assert!(sd(Band::HZ_500) < model.deviation.get(Band::HZ_500).unwrap().0);
        assert!(sd(Band::HZ_50) > sd(Band::HZ_500));
        assert!(p.remarks.iter().any(|r| r.text.contains("says nothing of them")));
    }
    let alone = DataSheet { rating: Some(SheetRating::Rw(52.0)), ..<_>::default() };
    let refused = predict(&measured(alone), &Conditions::default());
    assert!(matches!(refused, Err(PartitionError::RatingAlone { .. })));
    let mad = DataSheet { rating: Some(SheetRating::Rw(f64::NAN)), layers, ..<_>::default() };
    assert!(predict(&measured(mad), &Conditions::default()).is_err());
}
