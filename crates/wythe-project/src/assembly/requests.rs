//! States, sources, targets and changes.

use wythe_bands::weighting::Weighting;
use wythe_bands::{Level, LevelDifference, Metre, Spectrum, SquareMetre, Standing, SurfaceMass};
use wythe_building::{
    Action, Change, Criterion, Hours, Price, Skill, SoundSource, State, Strike, Target,
};
use wythe_partition::{OpeningKind, PerimeterPart, Seal};

use super::Assembly;
use super::rooms::levels;
use crate::criterion;
use crate::read::Root;
use crate::record::{Record, Value, short};
use crate::spectra;
use crate::suggest::hint;
use crate::words;

impl Assembly<'_> {
    pub(super) fn state(&mut self, record: &Record) {
        let name = record.text("name").unwrap_or_default().to_owned();
        self.take("state", record, "name", &name);
        let mut openings = Vec::new();
        if let Some(Value::Pairs(pairs)) = record.given("openings").map(|g| &g.value) {
            for (id, at, text, text_at) in pairs {
                if self.opening_ref(&record.label, id, at).is_none() {
                    continue;
                }
                if let Some(state) = self.state_word(&record.label, text, text_at) {
                    openings.push((id.clone(), state));
                }
            }
        }
        let mut plugged = Vec::new();
        for (id, at) in record.texts("plugged") {
            if self.way_ref(&record.label, id, at).is_some() {
                plugged.push(id.clone());
            }
        }
        let made = record.texts("made").iter().map(|(id, _)| id.clone()).collect();
        let empty = ["openings", "plugged", "made"].iter().all(|k| !record.has(k));
        if empty {
            let text = format!("{}: nothing is said to be otherwise in this state", record.label);
            self.problem(
                "project::missing",
                &record.place,
                text,
                "for example `openings = { lobby-door = \"open\" }`",
            );
        }
        self.building.states.push(State { name, openings, plugged, made });
    }

    /// Changes that states and other changes name, once all are read.
    pub(super) fn changes_named(&mut self, root: &Root) {
        let named = root.states.iter().map(|r| (r, "made"));
        let excluded = root.changes.iter().map(|r| (r, "not_with"));
        for (record, key) in named.chain(excluded) {
            for (id, at) in record.texts(key) {
                if key == "not_with" && record.text("id") == Some(id.as_str()) {
                    let text = format!("{}: it excludes itself", record.label);
                    let help = "name other changes, or strike this one out with [[strike]]";
                    self.notes.problem("project::excludes-itself", at, text, help);
                }
                if self.building.changes.iter().any(|c| c.id == *id) {
                    continue;
                }
                let known: Vec<&str> =
                    self.building.changes.iter().map(|c| c.id.as_str()).collect();
                let help = hint(id, &known);
                let text = format!("{}: there is no change `{}`", record.label, short(id));
                self.notes.problem("project::unknown-change", at, text, help);
            }
        }
    }

    pub(super) fn strike(&mut self, record: &Record) {
        let text = |key: &str| record.text(key).map(str::to_owned);
        let strike = Strike {
            change: text("change"),
            element: text("element"),
            words: text("words"),
            why: text("why"),
        };
        let bad = ["change", "element", "words"].iter().any(|k| record.is_bad(k));
        if strike.change.is_none() && strike.element.is_none() && strike.words.is_none() {
            if bad {
                return;
            }
            let text = format!("{}: it strikes out nothing", record.label);
            let help = "name a `change`, an `element` or `words` of a title";
            self.problem("project::missing", &record.place, text, help);
            return;
        }
        self.building.strikes.push(strike);
    }

    pub(super) fn price(&mut self, record: &Record) {
        let (Some(item), Some(unit), Some(price)) =
            (record.text("item"), record.text("unit"), record.number("price"))
        else {
            return;
        };
        let unit = if unit == "m2" { "m²" } else { unit };
        if !Price::UNITS.contains(&unit) {
            let text =
                format!("{}: no line of a buying list is in `{}`", record.label, short(unit));
            self.problem(
                "project::unknown-unit",
                record.at("unit"),
                text,
                hint(unit, &Price::UNITS),
            );
            return;
        }
        self.building.prices.push(Price {
            item: item.to_owned(),
            unit: unit.to_owned(),
            price,
            hours: record.number("hours"),
            invented: record.flag("invented").unwrap_or(false),
            source: record.text("source").map(str::to_owned),
        });
    }

    /// A duct, vent or leak by the id a key holds.
    fn way_ref(&mut self, label: &str, id: &str, place: &crate::problem::Place) -> Option<()> {
        let b = &self.building;
        let known: Vec<&str> = b
            .fabric
            .ducts
            .iter()
            .map(|d| d.id.as_str())
            .chain(b.fabric.small_elements.iter().map(|e| e.id.as_str()))
            .chain(b.boundaries.iter().flat_map(|b| &b.leaks).map(|l| l.id.as_str()))
            .collect();
        if known.contains(&id) {
            return Some(());
        }
        let help = hint(id, &known);
        let text = format!("{label}: there is no duct, vent or leak `{}`", short(id));
        self.problem("project::unknown-way", place, text, help);
        None
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
            skill: record
                .text("skill")
                .and_then(|w| Skill::WORDS.iter().find(|(word, _)| *word == w))
                .map_or(Skill::default(), |(_, s)| *s),
            not_with: record.texts("not_with").iter().map(|(id, _)| id.clone()).collect(),
            standpoint: record.standpoint(),
        });
    }

    fn action(&mut self, record: &Record) -> Option<Action> {
        let word = record.text("do")?.to_owned();
        let (needed, allowed): (&[&str], &[&str]) = match word.as_str() {
            "rebuild" => (&["boundary", "build_up"], &[]),
            "seal" => (&["opening"], &["head", "jambs", "sill", "gap"]),
            "leaf" => (&["opening", "leaf"], &[]),
            "second door" => (&["opening", "leaf", "depth"], &["lined"]),
            "close" => (&["leak"], &[]),
            "plug" => (&["way"], &[]),
            "silence" => (&["duct", "loss"], &[]),
            "mount" => (&["contact", "mount", "area", "mass"], &[]),
            "cut bridges" => (&["boundary"], &[]),
            "cut junction" => (&["junction"], &[]),
            "earlier" => (&["room", "hours"], &[]),
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
            "second door" => {
                let id = record.text("opening")?.to_owned();
                let found = self.opening_ref(&label, &id, record.at("opening"));
                let leaf = self.leaf(&label, record.text("leaf")?, record.at("leaf"));
                let (b, o) = found?;
                if self.building.boundaries[b].openings[o].kind != OpeningKind::Door {
                    let text = format!("{label}: `{}` is no door", short(&id));
                    let help = "for a second pane give a window another `leaf`";
                    self.problem("project::misplaced", record.at("opening"), text, help);
                    return None;
                }
                Some(Action::SecondDoor {
                    opening: id,
                    leaf: leaf?,
                    depth: Metre(record.number("depth")?),
                    lined: record.flag("lined").unwrap_or(false),
                })
            }
            "plug" => {
                let way = record.text("way")?.to_owned();
                self.way_ref(&label, &way, record.at("way"))?;
                Some(Action::Plug { way })
            }
            "silence" => {
                let duct = record.text("duct")?.to_owned();
                let known: Vec<&str> =
                    self.building.fabric.ducts.iter().map(|d| d.id.as_str()).collect();
                if !known.contains(&duct.as_str()) {
                    let help = hint(&duct, &known);
                    let text = format!("{label}: there is no duct `{}`", short(&duct));
                    self.problem("project::unknown-duct", record.at("duct"), text, help);
                    return None;
                }
                let loss = self.curve(record, "loss", "loss_db", (0.0, 100.0))?;
                Some(Action::Silence { duct, loss: loss.map(|_, d| LevelDifference(d)) })
            }
            "mount" => {
                let contact = record.text("contact")?.to_owned();
                let known: Vec<&str> =
                    self.building.fabric.contacts.iter().map(|c| c.id.as_str()).collect();
                if !known.contains(&contact.as_str()) {
                    let help = hint(&contact, &known);
                    let text = format!("{label}: there is no contact `{}`", short(&contact));
                    self.problem("project::unknown-contact", record.at("contact"), text, help);
                    return None;
                }
                let mounting = record.record("mount").cloned()?;
                Some(Action::Mount {
                    contact,
                    mounting: self.mount(&mounting)?,
                    area: SquareMetre(record.number("area")?),
                    mass: SurfaceMass(record.number("mass")?),
                })
            }
            "cut bridges" => {
                let id = record.text("boundary")?;
                let boundary = self.building.boundary(id);
                if boundary.is_none() {
                    let known: Vec<&str> =
                        self.building.boundaries.iter().map(|b| b.id.as_str()).collect();
                    let help = hint(id, &known);
                    let text = format!("{label}: there is no boundary `{}`", short(id));
                    self.problem("project::unknown-boundary", record.at("boundary"), text, help);
                }
                Some(Action::CutBridges { boundary: boundary? })
            }
            "cut junction" => {
                let junction = record.text("junction")?.to_owned();
                let known: Vec<&str> =
                    self.building.fabric.junctions.iter().map(|j| j.id.as_str()).collect();
                if !known.contains(&junction.as_str()) {
                    let help = hint(&junction, &known);
                    let text = format!("{label}: there is no junction `{}`", short(&junction));
                    self.problem("project::unknown-junction", record.at("junction"), text, help);
                    return None;
                }
                Some(Action::CutJunction { junction })
            }
            "earlier" => {
                let room = self.room_ref(&label, record.text("room")?, record.at("room"));
                let hours = self.hours(record)?;
                Some(Action::Earlier { room: room?, hours })
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
