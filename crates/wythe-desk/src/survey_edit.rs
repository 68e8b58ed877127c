//! Changes of the survey that take more than one value: where a microphone stood, and how it was
//! calibrated.

use wythe_building::outline::Point;
use wythe_project::Document;

use crate::edit::{Edit, Refused, quoted};
use crate::scene::Scene;

/// Puts a channel where the plan was clicked: `spot` holds x and y in metres.
pub fn place(document: &mut Document, scene: &Scene, edit: &Edit) -> Result<(), Refused> {
    let numbers: Vec<f64> = edit.spot.split_whitespace().filter_map(|n| n.parse().ok()).collect();
    let (&[x, y], Ok(storey)) = (&numbers[..], edit.storey.trim().parse::<i32>()) else {
        return Err(Refused::new("that is no place on a plan", "click on a room"));
    };
    let rooms = scene.project.as_ref().map(|p| p.building.rooms.as_slice()).unwrap_or_default();
    let spot = Point::at(x, y);
    let room = rooms
        .iter()
        .find(|r| r.storey == storey && r.outline.as_ref().is_some_and(|o| o.contains(spot)));
    let Some(room) = room.filter(|_| x.is_finite() && y.is_finite()) else {
        return Err(Refused::new("there is no room there", "click inside of a room"));
    };
    let path = format!("{}.channel[{}]", edit.path, edit.at);
    document.set(&format!("{path}.room"), &quoted(&room.id))?;
    // The survey counts from the lower left corner of the room.
    let corner = room
        .outline
        .as_ref()
        .and_then(|o| o.bounds())
        .map_or((0.0, 0.0), |(low, _)| (low.x.0, low.y.0));
    let metres = |v: f64| quoted(&format!("{v:.2} m"));
    let (x, y) = (metres((x - corner.0).max(0.0)), metres((y - corner.1).max(0.0)));
    if document.get(&format!("{path}.spot")).is_some() {
        // What else is said of the spot stays.
        document.set(&format!("{path}.spot.x"), &x)?;
        document.set(&format!("{path}.spot.y"), &y)?;
    } else {
        document.set(&format!("{path}.spot"), &format!("{{ x = {x}, y = {y} }}"))?;
    }
    Ok(())
}

/// States how a recording was calibrated, or one channel of it where `at` is above 0.
pub fn calibrate(document: &mut Document, edit: &Edit) -> Result<(), Refused> {
    let path = match edit.at.checked_sub(1) {
        None => format!("{}.calibration", edit.path),
        Some(i) => format!("{}.channel[{i}].calibration", edit.path),
    };
    let with_unit = |text: &str, unit: &str| {
        let text = text.trim();
        if text.parse::<f64>().is_ok() { format!("{text} {unit}") } else { text.to_owned() }
    };
    let value = edit.value.trim();
    let mut parts = Vec::new();
    match edit.like.as_str() {
        "none" => {
            if document.get(&path).is_some() {
                document.remove(&path)?;
            }
            return Ok(());
        }
        "tone" => {
            let level = with_unit(value, "dB");
            let number = level.split_whitespace().next().and_then(|n| n.parse::<f64>().ok());
            if !number.is_some_and(f64::is_finite) {
                let help = "write the level that stands on the calibrator: 94 dB";
                return Err(Refused::new(format!("`{value}` is no level"), help));
            }
            parts.push(format!("tone = {}", quoted(&level)));
            if !edit.frequency.trim().is_empty() {
                let f = with_unit(&edit.frequency, "Hz");
                parts.push(format!("frequency = {}", quoted(&f)));
            }
        }
        "full scale" => {
            let level = with_unit(value, "dB");
            parts.push(format!("full_scale = {}", quoted(&level)));
        }
        "beside" => {
            let number: u16 = value.parse().map_err(|_| {
                Refused::new("name the calibrated channel by its number", "write 1")
            })?;
            parts.push(format!("beside_channel = {number}"));
        }
        _ => return Err(Refused::new("choose how it was calibrated", "")),
    }
    if edit.like != "full scale" {
        match (edit.from.trim(), edit.until.trim()) {
            ("", "") => {}
            (from, until) => {
                parts.push(format!("from = {}, to = {}", quoted(from), quoted(until)));
            }
        }
    }
    Ok(document.set(&path, &format!("{{ {} }}", parts.join(", ")))?)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::edit::apply;
    use crate::store::Texts;
    use wythe_project::survey::Calibration;
    use wythe_transmission::Cache;

    const SURVEY: &str = "wythe = 1\n[[recording]]\nfile = \"recordings/a.wav\"\ngain = \
        \"fixed\"\n[[recording.channel]]\nnumber = 1\nroom = \"bedroom\"\n";

    fn scene(survey: &str) -> Scene {
        let texts = Texts { project: wythe_project::template(), survey: Some(survey.to_owned()) };
        Scene::new(&std::env::temp_dir(), texts, None, &mut Cache::default())
    }

    fn after(edit: Edit) -> Result<Scene, Refused> {
        let edit = Edit { file: "survey".into(), path: "recording[0]".into(), ..edit };
        let new = scene(apply(&scene(SURVEY), &edit)?.survey.as_deref().unwrap());
        assert!(new.reading.errors.is_empty(), "{:?}", new.reading.errors);
        Ok(new)
    }

    #[test]
    fn a_click_names_the_room_and_the_spot() {
        let before = scene(SURVEY);
        let rooms = &before.project.as_ref().unwrap().building.rooms;
        let hall = rooms.iter().find(|r| r.id == "music-room").unwrap();
        let (low, high) = hall.outline.as_ref().unwrap().bounds().unwrap();
        let spot = format!("{} {}", (low.x.0 + high.x.0) / 2.0, (low.y.0 + high.y.0) / 2.0);
        let edit =
            Edit { what: "place".into(), spot, storey: hall.storey.to_string(), ..Edit::default() };
        let new = after(edit.clone()).unwrap();
        let survey = new.project.as_ref().unwrap().survey.as_ref().unwrap();
        let channel = &survey.recordings[0].channels[0];
        assert_eq!(rooms[channel.room.0].id, "music-room");
        let wide = high.x.0 - low.x.0;
        assert!((channel.spot.unwrap()[0].0 - wide / 2.0).abs() < 0.01);
        for bad in ["", "1", "99999 0", "NaN NaN", "inf 1"] {
            assert!(after(Edit { spot: bad.into(), ..edit.clone() }).is_err(), "{bad}");
        }
    }

    #[test]
    fn every_way_of_calibrating_is_written_as_the_survey_reads_it() {
        let edit = |like: &str, value: &str| Edit {
            what: "calibrate".into(),
            like: like.into(),
            value: value.into(),
            ..Edit::default()
        };
        let of = |s: &Scene| {
            let survey = s.project.as_ref().unwrap().survey.as_ref().unwrap();
            survey.recordings[0].calibration.clone()
        };
        let tone = Edit {
            frequency: "1000".into(),
            from: "0:01".into(),
            until: "0:05".into(),
            ..edit("tone", "94")
        };
        let found = of(&after(tone).unwrap());
        assert!(matches!(found, Some(Calibration::Tone { stretch: Some(_), .. })), "{found:?}");
        let found = of(&after(edit("full scale", "120")).unwrap());
        assert!(matches!(found, Some(Calibration::FullScale(_))));
        let one = Edit { at: 1, ..edit("full scale", "20 Pa") };
        let new = after(one).unwrap();
        let survey = new.project.as_ref().unwrap().survey.as_ref().unwrap();
        assert!(survey.recordings[0].channels[0].calibration.is_some());
        assert!(of(&after(edit("none", "")).unwrap()).is_none());
        for (like, value) in [("tone", "loud"), ("beside", "x"), ("else", "1")] {
            assert!(after(edit(like, value)).is_err(), "{like}");
        }
    }
}
