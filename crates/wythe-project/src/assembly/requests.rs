//! States, sources, targets and changes.

use wythe_bands::weighting::Weighting;
use wythe_bands::{Level, LevelDifference, Metre, Spectrum, SquareMetre, Standing};
use wythe_building::{Action, Change, Criterion, Hours, SoundSource, State, Target};
use wythe_partition::{PerimeterPart, Seal};

use super::Assembly;
use super::rooms::levels;
use crate::criterion;
use crate::record::{Record, Value, short};
use crate::spectra;
use crate::suggest::hint;
use crate::words;

impl Assembly<'_> {
    pub(super) fn state(&mut self, record: &Record) {
        let name = record.text("name").unwrap_or_default().to_owned();
        self.take("state", record, "name", &name);
        let Some(Value::Pairs(pairs)) = record.given("openings").map(|g| &g.value) else { return };
        let mut openings = Vec::new();
        for (id, at, text, text_at) in pairs {
            if self.opening_ref(&record.label, id, at).is_none() {
                continue;
            }
            if let Some(state) = self.state_word(&record.label, text, text_at) {
                openings.push((id.clone(), state));
            }
        }
        self.building.states.push(State { name, openings });
    }

    /// Where an opening is, by boundary and position; a message when there is none.
    fn opening_ref(
        &mut self,
        label: &str,
        id: &str,
        place: &crate::problem::Place,
    ) -> Option<(usize, usize)> {
        for (b, boundary) in self.building.boundaries.iter().enumerate() {
            if let Some(o) = boundary.openings.iter().position(|o| o.id == id) {
                return Some((b, o));
            }
        }
        let known: Vec<&str> = self
            .building
            .boundaries
            .iter()
            .flat_map(|b| b.openings.iter().map(|o| o.id.as_str()))
            .collect();
        let help = hint(id, &known);
        self.problem(
            "project::unknown-opening",
            place,
            format!("{label}: there is no opening `{}`", short(id)),
            help,
        );
        None
    }

    fn hours(&mut self, record: &Record) -> Option<Hours> {
        let text = record.text("hours")?;
        let hours = criterion::hours(text);
        if hours.is_none() {
            let message = format!("{}: hours `{}` cannot be read", record.label, short(text));
            self.problem(
                "project::hours",
                record.at("hours"),
                message,
                "for example `hours = \"22:00-07:00\"`",
            );
        }
        hours
    }

    pub(super) fn source(&mut self, record: &Record) {
        let room = record.text("room").map(str::to_owned);
        let room = room.and_then(|id| self.room_ref(&record.label, &id, record.at("room")));
        let hours = self.hours(record);
        let Some(given) = record.given("spectrum").cloned() else { return };
        let mut invented = record.flag("invented").unwrap_or(false);
        let spectrum: Option<Spectrum<Level>> = match &given.value {
            Value::Bands(table) => Some(levels(table)),
            Value::Text(path) if path.ends_with(".csv") => self
                .sheet(&record.label, path, &given.place, "level_db", (-20.0, 194.0))
                .map(|t| levels(&t)),
            Value::Text(name) => match spectra::named(name) {
                Some(named) => {
                    invented |= named.invented;
                    let what = format!("{}, spectrum `{}`", record.label, named.name);
                    if named.invented || named.name.starts_with("speech") {
                        self.notes.note(
                            what,
                            named.origin,
                            Standing::Assumed,
                            None,
                            true,
                            &given.place,
                        );
                    }
                    if named.name == "pink noise" && !record.has("level") {
                        let what = format!("{}, level", record.label);
                        self.notes.assume(
                            what,
                            "not stated; pink noise taken at 85 dBC in all",
                            &given.place,
                        );
                    }
                    Some(named.levels)
                }
                None => {
                    let message =
                        format!("{}: there is no spectrum `{}`", record.label, short(name));
                    let help = hint(name, &spectra::names());
                    self.problem("project::unknown-spectrum", &given.place, message, help);
                    None
                }
            },
            _ => None,
        };
        let Some(mut spectrum) = spectrum else { return };
        if let Some(Value::Level(level, weighting)) = record.given("level").map(|g| &g.value) {
            let present = match weighting {
                Weighting::Z => spectrum.total(),
                other => spectrum.weighted_total(*other),
            };
            if let Some(present) = present {
                let shift = Level(*level) - present;
                spectrum = spectrum.map(|_, l| l + shift);
            }
        }
        let number = self.building.sources.len() + 1;
        let id = match record.text("id") {
            Some(id) => {
                self.take("source", record, "id", id);
                id.to_owned()
            }
            None => format!("source-{number}"),
        };
        let Some(room) = room else { return };
        self.building.sources.push(SoundSource {
            id,
            title: record.text("title").map(str::to_owned),
            room,
            levels: spectrum,
            invented,
            maximum_above: record.number("maximum_above").map(LevelDifference),
            hours,
            standpoint: record.standpoint(),
        });
    }

    pub(super) fn target(&mut self, record: &Record) {
        let room = record.text("room").map(str::to_owned);
        let room = room.and_then(|id| self.room_ref(&record.label, &id, record.at("room")));
        let hours = self.hours(record);
        let sender = record.text("from").map(str::to_owned);
        let sender = sender.and_then(|id| self.room_ref(&record.label, &id, record.at("from")));
        let Some(given) = record.given("criterion").cloned() else { return };
        let (criterion, text) = match &given.value {
            Value::Text(text) => match criterion::criterion(text) {
                Some(Criterion::WeightedDifference { of, least, term, .. }) => {
                    (Criterion::WeightedDifference { of, least, term, from: sender }, text.clone())
                }
                Some(other) => {
                    if record.has("from") {
                        let message =
                            format!("{}: `from` belongs to criteria of a difference", record.label);
                        self.problem(
                            "project::misplaced",
                            record.at("from"),
                            message,
                            "take it out",
                        );
                    }
                    (other, text.clone())
                }
                None => {
                    let message =
                        format!("{}: criterion `{}` is not known", record.label, short(text));
                    self.problem(
                        "project::criterion",
                        &given.place,
                        message,
                        format!("it may be {}", criterion::CRITERIA),
                    );
                    return;
                }
            },
            Value::Bands(table) if table.by_octaves => (
                Criterion::Octaves(table.octaves.map(|_, l| Level(l))),
                "highest levels per octave".to_owned(),
            ),
            Value::Bands(table) => (
                Criterion::Thirds(table.thirds.map(|_, l| Level(l))),
                "highest levels per third".to_owned(),
            ),
            _ => return,
        };
        let Some(room) = room else { return };
        self.building.targets.push(Target {
            room,
            criterion,
            text,
            hours,
            standpoint: record.standpoint(),
        });
    }

    pub(super) fn change(&mut self, record: &Record) {
        let id = record.text("id").unwrap_or_default().to_owned();
        self.take("change", record, "id", &id);
        let mut actions = Vec::new();
        for action in record.records("action") {
            actions.extend(self.action(action));
        }
        if record.given("action").is_some() && record.records("action").is_empty() {
            let text = format!("{}: `action` is empty", record.label);
            self.problem(
                "project::missing",
                record.at("action"),
                text,
                "for example `action = [{ do = \"close\", leak = \"ceiling-slit\" }]`",
            );
        }
        if record.number("cost").is_none() && !record.is_bad("cost") {
            let text = format!("{}: no price is on file", record.label);
            self.notes.remark("project::no-price", &record.place, text);
        }
        self.building.changes.push(Change {
            title: record.text("title").unwrap_or(&id).to_owned(),
            element: record.text("element").unwrap_or(&id).to_owned(),
            id,
            actions,
            cost: record.number("cost"),
            cost_invented: record.flag("cost_invented").unwrap_or(false),
            hours: record.number("hours"),
            reversible: record.flag("reversible").unwrap_or(false),
            standpoint: record.standpoint(),
        });
    }

    fn action(&mut self, record: &Record) -> Option<Action> {
        let word = record.text("do")?.to_owned();
        let (needed, allowed): (&[&str], &[&str]) = match word.as_str() {
            "rebuild" => (&["boundary", "build_up"], &[]),
            "seal" => (&["opening"], &["head", "jambs", "sill", "gap"]),
            "leaf" => (&["opening", "leaf"], &[]),
            "close" => (&["leak"], &[]),
            "absorb" => (&["room", "finish", "area"], &[]),
            _ => (&["room", "by"], &[]),
        };
        let mut fine = true;
        for key in needed.iter().filter(|k| !record.has(k)) {
            let example = record.section.key(key).map_or("", |k| k.example);
            let text = format!("{}: `{word}` needs `{key}`", record.label);
            self.problem(
                "project::missing",
                &record.place,
                text,
                format!("for example `{example}`"),
            );
            fine = false;
        }
        for key in record.section.keys.iter().map(|k| k.name) {
            if key != "do" && record.has(key) && !needed.contains(&key) && !allowed.contains(&key) {
                let text = format!("{}: `{key}` has no meaning for `{word}`", record.label);
                self.problem("project::misplaced", record.at(key), text, "take it out");
                fine = false;
            }
        }
        if !fine {
            return None;
        }
        let label = record.label.clone();
        match word.as_str() {
            "rebuild" => {
                let id = record.text("boundary")?;
                let boundary = self.building.boundary(id);
                if boundary.is_none() {
                    let known: Vec<&str> =
                        self.building.boundaries.iter().map(|b| b.id.as_str()).collect();
                    let help = hint(id, &known);
                    let text = format!("{label}: there is no boundary `{}`", short(id));
                    self.problem("project::unknown-boundary", record.at("boundary"), text, help);
                }
                let build_up =
                    self.build_up_ref(&label, record.text("build_up")?, record.at("build_up"));
                Some(Action::Rebuild { boundary: boundary?, build_up: build_up? })
            }
            "seal" => {
                let id = record.text("opening")?.to_owned();
                let (b, o) = self.opening_ref(&label, &id, record.at("opening"))?;
                let opening = self.building.boundaries[b].openings[o].clone();
                let edge = |key: &str, part: PerimeterPart| {
                    record.text(key).map(|word| {
                        let present = match part {
                            PerimeterPart::Head => opening.head.gap,
                            PerimeterPart::Jambs => opening.jambs.gap,
                            PerimeterPart::Sill => opening.sill.gap,
                        };
                        Seal {
                            kind: words::seal_kind(word),
                            gap: record.number("gap").map_or(present, Metre),
                        }
                    })
                };
                let action = Action::Seal {
                    head: edge("head", PerimeterPart::Head),
                    jambs: edge("jambs", PerimeterPart::Jambs),
                    sill: edge("sill", PerimeterPart::Sill),
                    opening: id,
                };
                if matches!(&action, Action::Seal { head: None, jambs: None, sill: None, .. }) {
                    let text = format!("{label}: `seal` names no edge");
                    self.problem(
                        "project::missing",
                        &record.place,
                        text,
                        "for example `sill = \"drop seal\"`",
                    );
                    return None;
                }
                Some(action)
            }
            "leaf" => {
                let id = record.text("opening")?.to_owned();
                let found = self.opening_ref(&label, &id, record.at("opening"));
                let leaf = self.leaf(&label, record.text("leaf")?, record.at("leaf"));
                found?;
                Some(Action::Leaf { opening: id, leaf: leaf? })
            }
            "close" => {
                let id = record.text("leak")?.to_owned();
                let known: Vec<&str> = self
                    .building
                    .boundaries
                    .iter()
                    .flat_map(|b| b.leaks.iter().map(|l| l.id.as_str()))
                    .collect();
                if !known.contains(&id.as_str()) {
                    let help = hint(&id, &known);
                    let text = format!("{label}: there is no leak `{}`", short(&id));
                    self.problem("project::unknown-leak", record.at("leak"), text, help);
                    return None;
                }
                Some(Action::Close { leak: id })
            }
            "absorb" => {
                let room = self.room_ref(&label, record.text("room")?, record.at("room"));
                let finish = self.finish_name(&label, record.text("finish")?, record.at("finish"));
                let area = record.number("area")?;
                Some(Action::Absorb {
                    room: room?,
                    finish: finish?.to_owned(),
                    area: SquareMetre(area),
                })
            }
            _ => {
                let room = self.room_ref(&label, record.text("room")?, record.at("room"));
                let by = record.number("by")?;
                Some(Action::Quieter { room: room?, by: LevelDifference(by) })
            }
        }
    }
}
