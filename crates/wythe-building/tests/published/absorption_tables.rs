//! Absorption coefficients as found: handbook values as reprinted on a calculator page, a
//! lecture-note table, a textbook's table 27.1, Audio Engineering (Newnes) table 29.3, Cox and
//! D'Antonio appendix A; mineral wool derived with Miki's model. Rows in
//! `tests/data/building_absorption_table.csv`; where sources disagree all are kept.

use wythe_bands::{Band, Octave, Source, SquareMetre};
use wythe_building::finish::{FINISHES, absorption_area, absorption_area_with_spread, finish};
use wythe_building::{Absorption, Room, Surface};

const TABLE: &str = include_str!("../data/building_absorption_table.csv");

/// Row of the file and the finish and place it has in ours.
const ROWS: &[(&str, &str, usize)] = &[
    ("gypsum_13mm_on_studs_A", "gypsum on studs", 0),
    ("gypsum_13mm_on_studs_B", "gypsum on studs", 1),
    ("gypsum_13mm_on_2x4_400oc_C", "gypsum on studs", 2),
    ("plasterboard_deep_airspace", "gypsum on deep airspace", 0),
    ("carpet_heavy_on_concrete", "carpet on concrete", 0),
    ("carpet_heavy_on_foam", "carpet on underlay", 0),
    ("wood_floor_on_joists", "timber on joists", 0),
    ("wood_parquet_on_concrete", "parquet on concrete", 0),
    ("vinyl_on_concrete", "vinyl on concrete", 0),
    ("concrete_painted", "painted concrete", 0),
    ("brick_unglazed", "brick", 0),
    ("concrete_block_painted", "painted block", 0),
    ("glass_ordinary_window", "glass", 0),
    ("glass_heavy_plate", "heavy glass", 0),
    ("door_solid_wood", "timber door", 0),
    ("curtain_medium_velour_half_area", "heavy curtain", 0),
    ("glass_fibre_25mm_80kgm3", "glass fibre 25 mm", 0),
    ("glass_fibre_50mm_80kgm3", "glass fibre 50 mm", 0),
    ("glass_fibre_board_50mm_rigid_backing", "glass fibre 50 mm", 1),
    ("mineral_wool_50mm_model_10kPa", "mineral wool 50 mm", 0),
    ("mineral_wool_50mm_model_20kPa", "mineral wool 50 mm", 1),
    ("mineral_wool_100mm_model_10kPa", "mineral wool 100 mm", 0),
    ("mineral_wool_100mm_model_20kPa", "mineral wool 100 mm", 1),
    ("person_m2_each", "person", 0),
];

#[test]
fn every_row_found_is_in_the_table_and_none_is_added() {
    let mut seen = 0;
    for line in TABLE.lines().filter(|l| !l.starts_with('#')).skip(1) {
        let cells: Vec<&str> = line.split(',').collect();
        let (_, name, place) = ROWS
            .iter()
            .find(|(row, ..)| *row == cells[0])
            .unwrap_or_else(|| panic!("{} has no place", cells[0]));
        let ours = finish(name).unwrap().rows[*place];
        for (value, cell) in ours.octaves.iter().zip(&cells[1..7]) {
            assert_eq!(*value, cell.parse::<f64>().unwrap(), "{}", cells[0]);
        }
        let derived = cells[7].starts_with("DERIVED");
        assert_eq!(matches!(ours.source, Source::Derived(_)), derived, "{}", cells[0]);
        seen += 1;
    }
    assert_eq!(seen, FINISHES.iter().map(|f| f.rows.len()).sum::<usize>());
}

#[test]
fn octave_centres_carry_the_mean_of_the_sources_and_their_spread() {
    // Gypsum board on studs at 125 Hz is 0.29, 0.30 or 0.10 by source: mean 0.23, standard
    // deviation of the three 0.1127.
    let gypsum = finish("gypsum on studs").unwrap();
    let at = |name: &str| gypsum.coefficient(Octave::from_nominal(name).unwrap().centre_band());
    assert!((at("125").mean - 0.23).abs() < 1e-12);
    assert!((at("125").spread - 0.112_694_276_695_846).abs() < 1e-12);
    assert!((at("4000").mean - 0.17 / 3.0).abs() < 1e-12);
    assert!(!at("125").extrapolated && !gypsum.coefficient(Band::HZ_100).extrapolated);
    assert!(at("63").extrapolated && gypsum.coefficient(Band::HZ_80).extrapolated);
    // Nothing is published at 63 Hz; half the value either way is stated there.
    assert!(at("63").spread >= 0.5 * at("63").mean);
}

#[test]
fn a_room_of_known_surfaces_adds_up_by_hand() {
    // 7.2 × 5.4 × 2.7 m: floor timber on joists, walls and ceiling brick, at 1 kHz:
    // 38.88 · 0.07 + (68.04 + 38.88) · 0.04 = 6.9984 m².
    let surfaces = |list: &[(&str, f64)]| -> Vec<Surface> {
        list.iter()
            .map(|(f, a)| Surface { finish: (*f).to_owned(), area: SquareMetre(*a) })
            .collect()
    };
    let room = surfaces(&[("timber on joists", 38.88), ("brick", 68.04), ("brick", 38.88)]);
    let area = absorption_area(&room).get(Band::HZ_1000).unwrap();
    assert!((area.0 - 6.9984).abs() < 1e-9, "{area:?}");
    // Both brick surfaces share one table, so their spread adds; timber's is independent.
    let (_, spread) = absorption_area_with_spread(&room).get(Band::HZ_1000).unwrap();
    let expected = (0.1f64 * 106.92 * 0.04).hypot(0.1 * 38.88 * 0.07);
    assert!((spread.0 - expected).abs() < 1e-9);
    // Sabine with the air of 105 m³ at 20 °C, 50 %: T = 0.161 · 104.976 / (6.9984 + 4 m V).
    let room = Room {
        id: "hall".to_owned(),
        title: None,
        storey: 0,
        outline: None,
        height: None,
        volume: wythe_bands::CubicMetre(104.976),
        floor_area: SquareMetre(38.88),
        outdoors: false,
        distance: None,
        absorption: Absorption::Finishes(room),
        background: None,
        standpoint: Default::default(),
    };
    let t = room.decay_time(Default::default()).get(Band::HZ_1000).unwrap();
    // m = 1.07e-3 1/m at 1 kHz, 20 °C, 50 % (ISO 9613-1, recomputed): 4 m V = 0.449 m².
    assert!((t.0 - 0.161 * 104.976 / (6.9984 + 0.449)).abs() < 0.01, "{t:?}");
}
