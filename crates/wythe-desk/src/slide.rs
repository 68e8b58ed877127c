//! One layer moved by hand: the curve and the level in every room, and nothing else.
//!
//! The building stays as it was read; only the build-up under the hand is read again, from its own
//! lines of the file, and only what hangs on it is predicted again. Verdicts, cautions, remarks and
//! the ranking of unknowns wait until the hand lets go and the change is saved, which reads and
//! predicts everything. Where the build-up cannot be read by itself, the caller does the same at
//! once.

use std::sync::Arc;

use wythe_bands::weighting::Weighting;
use wythe_bands::{Band, Level, LevelDifference, Spectrum};
use wythe_building::{BuildUpIndex, Building, RoomIndex};
use wythe_project::{Document, read_build_ups};
use wythe_transmission::{Cache, assemble};

use crate::edit::{Edit, Refused, change};
use crate::scene::{Overlay, Scene};
use crate::store::Texts;

/// Tries after which what was remembered of earlier ones is let go: a slider drawn to and fro
/// comes back to the same places, a day of it would fill the memory.
const MOST_TRIES: usize = 400;

/// What is heard of one source, A-weighted.
#[derive(Clone, Debug, PartialEq)]
pub struct Played {
    /// Position in [`Building::sources`].
    pub source: usize,
    /// Every other room with its level.
    pub rooms: Vec<(RoomIndex, Option<Level>)>,
}

/// A build-up under the hand.
pub struct Slide {
    scene: Arc<Scene>,
    build_up: BuildUpIndex,
    id: String,
    /// The lines of the file that say what the build-up is.
    own: Document,
    cache: Cache,
    tries: usize,
}

/// What a movement leads to.
pub struct Moved<'a> {
    /// The building with the moved layer.
    pub building: Building,
    /// What is heard in every room.
    pub played: Vec<Played>,
    /// Predictions that were made on the way.
    pub cache: &'a mut Cache,
}

/// Tables a build-up is read from.
const OWN: [&str; 4] = ["wythe", "material", "fill", "build_up"];

fn of_build_up(path: &str) -> Option<&str> {
    path.strip_prefix("build_up[")?.split_once(']').map(|(id, _)| id)
}

impl Slide {
    /// Takes hold of the build-up an edit is about; `None` where it cannot be read by itself.
    pub fn of(scene: &Arc<Scene>, edit: &Edit, cache: &Cache) -> Option<Slide> {
        let id = of_build_up(&edit.path).filter(|_| edit.file.is_empty() && edit.what == "set")?;
        let building = &scene.project.as_ref()?.building;
        let build_up = building.build_up(id)?;
        scene.predicted.as_ref().ok()?;
        let mut own = scene.document.clone()?;
        own.keep(&OWN);
        own.keep_of("build_up", id);
        let slide = Slide {
            scene: scene.clone(),
            build_up,
            id: id.to_owned(),
            own,
            cache: cache.clone(),
            tries: 0,
        };
        // What the whole project makes of these lines is what they make by themselves.
        let alone = slide.read(&slide.own).ok()?;
        (alone == building.build_ups[build_up.0]).then_some(slide)
    }

    /// Whether it is about the same build-up of the same state.
    pub fn fits(&self, scene: &Arc<Scene>, edit: &Edit) -> bool {
        Arc::ptr_eq(&self.scene, scene)
            && of_build_up(&edit.path) == Some(&self.id)
            && self.tries < MOST_TRIES
    }

    fn read(&self, document: &Document) -> Result<wythe_partition::BuildUp, Refused> {
        let texts = Texts { project: document.text(), survey: None };
        let files = Overlay::new(self.scene.folder.as_path(), &texts);
        let mut read = read_build_ups(&files, wythe_project::PROJECT_FILE);
        if let Some(first) = read.errors.first() {
            return Err(Refused::new(first.text.clone(), first.help.clone().unwrap_or_default()));
        }
        match (read.build_ups.pop(), read.build_ups.is_empty()) {
            (Some(one), true) => Ok(one),
            _ => Err(Refused::new("this build-up cannot be read by itself", "")),
        }
    }

    /// Follows the hand.
    ///
    /// # Errors
    /// [`Refused`] where the value cannot be used.
    pub fn moved(&mut self, edit: &Edit) -> Result<Moved<'_>, Refused> {
        self.tries += 1;
        let mut document = self.own.clone();
        change(&mut document, &self.scene, edit)?;
        let Some(project) = &self.scene.project else {
            return Err(Refused::new("the project file cannot be used yet", ""));
        };
        let mut building = project.building.clone();
        let new = self.read(&document)?;
        // Leaves of doors and windows are copies of build-ups.
        let old = std::mem::replace(&mut building.build_ups[self.build_up.0], new.clone());
        for opening in building.boundaries.iter_mut().flat_map(|b| &mut b.openings) {
            if opening.leaf.as_ref() == Some(&old) {
                opening.leaf = Some(new.clone());
            }
        }
        let played =
            levels(&building, &mut self.cache).map_err(|e| Refused::new(e.to_string(), ""))?;
        Ok(Moved { building, played, cache: &mut self.cache })
    }
}

/// What is heard in every room of every source, by the power balance alone.
///
/// # Errors
/// As [`assemble`].
fn levels(
    building: &Building,
    cache: &mut Cache,
) -> Result<Vec<Played>, wythe_transmission::TransmissionError> {
    let model = assemble(building, cache)?;
    let energies = model.all_energies();
    let all = building.sources.iter().enumerate().map(|(source, s)| {
        let rooms = (0..building.rooms.len()).filter(|r| *r != s.room.0).map(|r| {
            let difference: Spectrum<LevelDifference> = energies[s.room.0][r]
                .iter()
                .zip(Band::all())
                .filter(|(x, _)| **x > 0.0)
                .map(|(x, band)| (band, LevelDifference(-10.0 * x.log10())))
                .collect();
            let levels = s.levels.zip_with(&difference, |l, d| l - d);
            (RoomIndex(r), levels.weighted_total(Weighting::A))
        });
        Played { source, rooms: rooms.collect() }
    });
    Ok(all.collect())
}

/// The same of a whole prediction.
pub fn played(predicted: &wythe_findings::Predicted) -> Vec<Played> {
    predicted
        .sources
        .iter()
        .map(|f| Played {
            source: f.source,
            rooms: f.arrived.iter().map(|a| (a.room, a.level_a)).collect(),
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::edit::{apply, seen};

    fn demonstration() -> (Arc<Scene>, Cache) {
        let folder = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("../wythe-folder/demo");
        let project = std::fs::read_to_string(folder.join("wythe.toml")).unwrap();
        let texts = Texts { project, survey: None };
        let mut cache = Cache::default();
        (Arc::new(Scene::new(&folder, texts, None, &mut cache)), cache)
    }

    #[test]
    fn a_movement_says_what_the_whole_calculation_says() {
        let (scene, cache) = demonstration();
        let moves = [
            ("build_up[stud-wall].layers[1].cavity", "140 mm"),
            ("build_up[hung-ceiling].layers[0].thickness", "12.5 mm"),
            ("build_up[hung-ceiling].layers[1].fill_depth", "60 mm"),
            ("build_up[heavy-door].layers[2].thickness", "60 mm"),
            ("build_up[brick-wall].layers[1].thickness", "4 in"),
        ];
        for (path, value) in moves {
            let edit = Edit {
                what: "set".into(),
                path: path.into(),
                value: value.into(),
                seen: seen(scene.document.as_ref(), path),
                ..Edit::default()
            };
            let mut slide = Slide::of(&scene, &edit, &cache).expect(path);
            assert!(slide.fits(&scene, &edit));
            let moved = slide.moved(&edit).unwrap();
            let texts = apply(&scene, &edit).unwrap();
            let whole = Scene::new(&scene.folder, texts, None, &mut Cache::default());
            let project = whole.project.as_ref().unwrap();
            assert!(moved.building.build_ups == project.building.build_ups, "{path}");
            assert!(moved.building.boundaries == project.building.boundaries, "{path}");
            let full = played(whole.predicted.as_ref().unwrap());
            assert_eq!(moved.played.len(), full.len());
            for (quick, full) in moved.played.iter().zip(&full) {
                assert_eq!(quick.source, full.source);
                for (q, f) in quick.rooms.iter().zip(&full.rooms) {
                    assert_eq!(q.0, f.0);
                    let (q, f) = (q.1.unwrap().0, f.1.unwrap().0);
                    assert!((q - f).abs() < 1e-9, "{path}: {q} and {f}");
                }
            }
        }
    }

    #[test]
    fn what_cannot_be_used_is_refused_while_it_is_moved_too() {
        let (scene, cache) = demonstration();
        let path = "build_up[stud-wall].layers[1].cavity";
        let edit = Edit {
            what: "set".into(),
            path: path.into(),
            value: "-5 mm".into(),
            seen: seen(scene.document.as_ref(), path),
            ..Edit::default()
        };
        let mut slide = Slide::of(&scene, &edit, &cache).unwrap();
        assert!(slide.moved(&edit).is_err());
        let elsewhere = Edit { path: "room[bedroom].height".into(), ..edit };
        assert!(Slide::of(&scene, &elsewhere, &cache).is_none());
    }
}
