//! The house: a plan of every storey with its levels, what is open, and each room's sizes.

use maud::{Markup, PreEscaped, html};
use wythe_bands::weighting::Weighting;
use wythe_building::outline::Outline;
use wythe_building::{Building, Room, RoomIndex};
use wythe_findings::{FromSource, predict};
use wythe_report::chart::{Format, Plan, PlanFrame, PlanOpening, PlanTracing, Words, number};
use wythe_report::report::{Units, judged, parts};
use wythe_transmission::Model;

use super::fields::{Field, Press, hidden};
use super::{Ctx, Page, Sheet, show, verdicts};
use crate::scene::Scene;
use crate::slide::Played;
use crate::tracing::{self, Traced};
use crate::units;
use crate::walls::{self, Wall};

/// The page.
pub fn sheet(ctx: &Ctx<'_>, building: &Building) -> Sheet {
    // Another state is predicted for this page alone; the project stays as described.
    let named = ctx.asked("state").and_then(|s| building.in_state(s));
    let in_state = named.and_then(|b| {
        let mut cache = ctx.open.cache.lock().unwrap_or_else(std::sync::PoisonError::into_inner);
        predict(&b, &mut cache).ok()
    });
    let predicted = in_state.as_ref().or(ctx.scene.predicted.as_ref().ok());
    let from = predicted.and_then(|p| {
        let asked = ctx.asked("source");
        let named =
            p.sources.iter().find(|s| Some(building.sources[s.source].id.as_str()) == asked);
        named.or(p.sources.first()).map(|f| (f, &p.model))
    });
    let to = ctx.asked("to").and_then(|id| building.room(id)).or_else(|| worst(ctx, from));
    let title = match (from, building.rooms.is_empty()) {
        (_, true) => "Begin with a room".to_owned(),
        (Some((f, _)), _) => format!("While it is played: {}", building.sources[f.source].name()),
        (None, _) => "Nothing is loud here yet".to_owned(),
    };
    let walls = walls::walls(building, &walls::search(ctx.scene.document.as_ref()));
    let traced = tracing::all(ctx.scene);
    let chosen = ctx.asked("room").and_then(|id| building.room(id));
    let storey = chosen.map_or(0, |i| building.rooms[i.0].storey);
    let middle = html! {
        @if building.rooms.is_empty() {
            p { "A house is described room by room. Add the loud room first, then those that have to be quiet; walls and floors between them are found where rooms lie side by side or on one another." }
        }
        (what_is_shown(ctx, building, from, to))
        div #plans data-live { (plans(ctx, building, &walls, &traced, from, to)) }
        @match &ctx.scene.predicted {
            Err(why) => { p.notice #why data-live { "No levels yet: " (why) "." } }
            Ok(_) => {}
        }
        (super::wall::wall(ctx, building, &walls))
        (room(ctx, building, &walls))
        (new_room(ctx, building))
        (super::tracing::tracing(ctx, &traced, storey))
        (units_of(ctx))
        div #levels-part data-live { (levels(ctx)) }
    };
    Sheet { title, middle, answer: verdicts(ctx) }
}

/// The room furthest from its requirement, to draw the ways to.
fn worst(ctx: &Ctx<'_>, from: Option<(&FromSource, &Model)>) -> Option<RoomIndex> {
    let r = ctx.quick()?;
    let source = &r.building.sources.get(from?.0.source)?.id;
    let all = judged(&r);
    let found = all.iter().find(|j| j.source.id == *source).map(|j| j.arrived.room);
    found.or_else(|| Some(from?.0.arrived.first()?.room))
}

/// Source, receiver and state as links; states have a key each.
fn what_is_shown(
    ctx: &Ctx<'_>,
    b: &Building,
    from: Option<(&FromSource, &Model)>,
    to: Option<RoomIndex>,
) -> Markup {
    let state = ctx.asked("state");
    let link = |changes: &[(&str, &str)], on: bool, name: &str, key: Option<usize>| {
        html! {
            a.choice href=(ctx.here_with(Page::House, changes)) aria-current=[on.then_some("true")]
                data-key=[key.filter(|k| *k <= 9)] dir="auto" {
                (name) @if let Some(key) = key.filter(|k| *k <= 9) { " " kbd { (key) } }
            }
        }
    };
    html! {
        div #shown.choices data-live {
            @if b.sources.len() > 1 {
                p { span.lead { "Playing" }
                    @for (i, s) in b.sources.iter().enumerate() {
                        (link(&[("source", &s.id)], from.is_some_and(|(f, _)| f.source == i), s.name(), None))
                    }
                }
            }
            @if !b.states.is_empty() {
                p { span.lead { "Doors" }
                    (link(&[("state", "")], state.is_none(), "as described", Some(1)))
                    @for (i, s) in b.states.iter().enumerate() {
                        (link(&[("state", &s.name)], state == Some(&s.name), &s.name, Some(i + 2)))
                    }
                }
            }
            @if let Some((f, _)) = from {
                p { span.lead { "Ways to" }
                    @for a in &f.arrived {
                        @let room = &b.rooms[a.room.0];
                        (link(&[("to", &room.id)], to == Some(a.room), room.name(), None))
                    }
                }
            }
        }
    }
}

/// A plan of each storey, with what a hand needs to drag walls.
fn plans(
    ctx: &Ctx<'_>,
    b: &Building,
    walls: &[Wall],
    traced: &[Traced],
    from: Option<(&FromSource, &Model)>,
    to: Option<RoomIndex>,
) -> Markup {
    let document = ctx.scene.document.as_ref();
    let mut storeys: Vec<i32> =
        b.rooms.iter().filter(|r| r.outline.is_some()).map(|r| r.storey).collect();
    storeys.extend(traced.iter().filter(|t| t.size.is_some()).map(|t| t.storey));
    storeys.sort_unstable();
    storeys.dedup();
    let level = |room: RoomIndex| {
        let (f, _) = from?;
        let source = &b.sources[f.source];
        if source.room == room {
            return source.levels.weighted_total(Weighting::A).map(|l| l.0);
        }
        Scene::arrived(f, room).and_then(|a| a.level_a).map(|l| l.0)
    };
    let arrived = from.and_then(|(f, model)| Some((model, Scene::arrived(f, to?)?)));
    html! {
        @for storey in storeys.iter().rev() {
            @let plan = {
                let mut plan = parts::storey_plan(b, *storey, arrived, level);
                let name = parts::storey_name(*storey);
                let ways = match (to, plan.arrows.is_empty()) {
                    (Some(room), false) => format!(
                        " Arrows and discs: the ways the sound takes to {}, as wide as their share; a disc is a way through floor or ceiling.",
                        b.rooms[room.0].name()
                    ),
                    _ => String::new(),
                };
                let invented = from.is_some_and(|(f, _)| b.sources[f.source].invented);
                let invented = if invented { " The spectrum of the source is invented." } else { "" };
                for wall in walls.iter().filter(|w| w.storey == *storey) {
                    let Some(boundary) = wall.boundary.and_then(|i| b.boundaries.get(i.0)) else { continue };
                    for placed in wall.openings(b, document) {
                        let opening = &boundary.openings[placed.index];
                        plan.openings.push(PlanOpening {
                            name: opening.title.clone().unwrap_or_else(|| opening.id.clone()),
                            ends: (point(placed.ends[0]), point(placed.ends[1])),
                            through: point(placed.through),
                            drawn: walls::drawn(opening.kind),
                        });
                    }
                }
                plan.in_feet = ctx.about.units == Units::UsCustomary;
                plan.tracing = traced.iter().find(|t| t.storey == *storey).and_then(|t| {
                    Some(PlanTracing {
                        address: format!("/tracing/{}", t.index),
                        low: t.low,
                        size: t.size?,
                        opacity: t.opacity,
                    })
                });
                plan.words = Words::new(
                    format!("storey-{storey}"),
                    name,
                    format!("Calculated from the description. The stronger the tint, the louder.{ways}{invented}"),
                );
                plan
            };
            figure.plan {
                p.says { (plan.words.title) }
                div.wide { (drawn(ctx, b, walls, &plan, *storey, Format::Screen)) }
                div.narrow { (PreEscaped(plan.draw(Format::Phone).inline())) }
                figcaption { (plan.words.caption) " " span.wide-only { "Click a wall to say what it is made of; drag it to move it, and a door or window along it. Everything can be typed below too." } }
            }
        }
    }
}

/// The plan with its rooms and walls as data for the hand; what is heard and read is the picture.
fn drawn(
    ctx: &Ctx<'_>,
    b: &Building,
    walls: &[Wall],
    plan: &Plan,
    storey: i32,
    format: Format,
) -> Markup {
    let document = ctx.scene.document.as_ref();
    let sides: Vec<serde_json::Value> = walls
        .iter()
        .filter(|w| w.storey == storey)
        .map(|w| {
            let boundary = w.boundary.and_then(|i| b.boundaries.get(i.0));
            let openings: Vec<serde_json::Value> = w
                .openings(b, document)
                .into_iter()
                .filter_map(|p| {
                    let o = boundary?.openings.get(p.index)?;
                    Some(serde_json::json!({
                        "index": p.index, "name": o.title.as_deref().unwrap_or(&o.id),
                        "along": p.along, "width": o.width.0, "ends": p.ends, "through": p.through,
                    }))
                })
                .collect();
            let pieces: Vec<serde_json::Value> = w
                .pieces
                .iter()
                .map(|p| serde_json::json!({ "left": p.left, "right": p.right }))
                .collect();
            serde_json::json!({ "name": w.name(b), "pieces": pieces, "openings": openings })
        })
        .collect();
    let frame = plan.frame(format);
    let rooms: Vec<serde_json::Value> = b
        .rooms
        .iter()
        .filter(|r| r.storey == storey && r.outline.is_some())
        .map(|r| serde_json::json!({ "id": r.id, "name": r.name(), "corners": corners(r) }))
        .collect();
    html! {
        div.sheet-with-walls data-walls=(serde_json::Value::Array(rooms).to_string())
            data-sides=(serde_json::Value::Array(sides).to_string())
            data-storey-plan=(storey) data-frame=(frame_words(&frame)) {
            (PreEscaped(plan.draw(format).inline()))
        }
    }
}

fn frame_words(f: &PlanFrame) -> String {
    serde_json::json!({ "x": f.low.0, "y": f.high.1, "scale": f.scale, "margin": f.margin })
        .to_string()
}

fn point(spot: walls::Spot) -> (f64, f64) {
    (spot[0], spot[1])
}

fn corners(room: &Room) -> Vec<[f64; 2]> {
    let all = room.outline.as_ref().map(Outline::corners).unwrap_or_default();
    all.iter().map(|p| [p.x.0, p.y.0]).collect()
}

/// The room that is looked at, with its sizes.
fn room(ctx: &Ctx<'_>, b: &Building, walls: &[Wall]) -> Markup {
    let Some(index) = ctx.asked("room").and_then(|id| b.room(id)) else { return html! {} };
    let room = &b.rooms[index.0];
    let units = ctx.about.units;
    let document = ctx.scene.document.as_ref();
    let there = |key: &str| {
        let path = format!("room[{}].{key}", room.id);
        let value = document.and_then(|d| d.get(&path)).unwrap_or_default();
        let plain = value.parse::<toml_edit::Value>().ok();
        let text = plain.as_ref().map_or(String::new(), |v| {
            v.as_str().map(str::to_owned).unwrap_or_else(|| value.clone())
        });
        (path, text)
    };
    let field = |key: &'static str, label: &'static str, kind: &'static str| {
        let (path, value) = there(key);
        let mut field = Field::new(format!("room-{key}"), label, path, value).kind(kind);
        field.called = format!("{label} of {}", room.name());
        field
    };
    let own = document.is_some_and(|d| d.get(&format!("room[{}].id", room.id)).is_some());
    html! {
        section #room data-live {
            h2 dir="auto" { (room.name()) }
            @if !own {
                p.notice { "This room is described in an included file; change it there." }
            } @else {
                div.fields {
                    (field("title", "Name", "text").form(ctx))
                    @if !room.outdoors {
                        (field("storey", "Storey", "number").form(ctx))
                        (field("height", "Height", "m").form(ctx))
                        (field("background", "Background noise", "text").form(ctx))
                    }
                }
                @if let Some(outline) = &room.outline {
                    h3 { "Walls" }
                    p { "Type how far a wall is to move outwards; a minus moves it inwards." }
                    table.edit {
                        caption { (parts::area(outline.area(), ctx.about.units)) " of floor" }
                        thead { tr { th scope="col" { "Wall" } th scope="col" { "Length" } th scope="col" { "Move by" } } }
                        tbody {
                            @for (i, (a, c)) in sides(&corners(room)).into_iter().enumerate() {
                                tr {
                                    th scope="row" { (facing(a, c)) }
                                    td.n { (units::length((c[0] - a[0]).hypot(c[1] - a[1]), units)) }
                                    td { (move_wall(ctx, room, i, facing(a, c))) }
                                }
                            }
                        }
                    }
                }
                @if room.outline.is_some() { (move_room(ctx, room)) }
                (super::wall::round(ctx, b, index, walls))
                details {
                    summary { "Take this room out" }
                    p.notes { "Its walls, floors, doors, sources, requirements and the changes on offer for them go with it. Undo brings all of it back." }
                    (Press {
                        what: "remove-room", file: "", path: format!("room[{}]", room.id), value: room.id.clone(),
                        at: 0, to: 0, name: "Take it out", called: format!("take out {}", room.name()),
                    }.form(ctx, "room-remove"))
                }
            }
        }
    }
}

type Corner = [f64; 2];

fn sides(corners: &[Corner]) -> Vec<(Corner, Corner)> {
    corners.iter().enumerate().map(|(i, a)| (*a, corners[(i + 1) % corners.len()])).collect()
}

/// Which way a wall faces on the sheet, for a room drawn against the clock as the reader turns it.
fn facing(a: Corner, c: Corner) -> &'static str {
    let (dx, dy) = (c[0] - a[0], c[1] - a[1]);
    match (dx.abs() >= dy.abs(), dx >= 0.0, dy >= 0.0) {
        (true, true, _) => "lower wall",
        (true, false, _) => "upper wall",
        (false, _, true) => "right wall",
        (false, _, false) => "left wall",
    }
}

fn move_wall(ctx: &Ctx<'_>, room: &Room, wall: usize, name: &str) -> Markup {
    let path = format!("room[{}].outline", room.id);
    let called = format!("{name} of {}", room.name());
    let id = format!("wall-{wall}");
    html! {
        form.field method="post" action="/edit" data-edit data-wall=(wall) {
            (hidden(ctx, "wall", "", &path, units::unit("m", ctx.about.units), &called))
            input type="hidden" name="seen" value=(crate::edit::seen(ctx.scene.document.as_ref(), &path));
            input type="hidden" name="at" value=(wall);
            label.ears for=(id) { "Move the " (called) " by" }
            input id=(id) name="value" value="" placeholder=(units::length(0.0, ctx.about.units)) autocomplete="off" data-value=""
                aria-describedby=(format!("{id}-error"));
            p.error id=(format!("{id}-error")) role="alert" {}
            noscript { button { "Move" } }
        }
    }
}

/// The room as a whole, moved by typed lengths.
fn move_room(ctx: &Ctx<'_>, room: &Room) -> Markup {
    let path = format!("room[{}].outline", room.id);
    html! {
        form.grid #move-room method="post" action="/edit" data-edit {
            (hidden(ctx, "move-room", "", &path, units::unit("m", ctx.about.units), &format!("move {}", room.name())))
            input type="hidden" name="seen" value=(crate::edit::seen(ctx.scene.document.as_ref(), &path));
            label { "Move the whole room to the right by" input name="x" autocomplete="off" placeholder=(units::length(0.0, ctx.about.units)); }
            label { "and up on the plan by" input name="y" autocomplete="off" placeholder=(units::length(0.0, ctx.about.units)); }
            button { "Move it" }
            p.error role="alert" {}
        }
    }
}

/// A new room: a rectangle, or over or under another with the same outline.
fn new_room(ctx: &Ctx<'_>, b: &Building) -> Markup {
    let storey = ctx.asked("room").and_then(|id| b.room(id)).map_or(0, |i| b.rooms[i.0].storey);
    let units = ctx.about.units;
    let usual = |m: f64, feet: f64| match units {
        Units::Metric => units::length(m, units),
        Units::UsCustomary => units::length(feet * 0.3048, units),
    };
    html! {
        details #new-room open[b.rooms.is_empty()] {
            summary { "Add a room" }
            form.grid method="post" action="/edit" data-edit {
                (hidden(ctx, "new-room", "", "", units::unit("m", units), "a new room"))
                label { "Name" input name="value" required autocomplete="off"; }
                label { "Storey" input name="storey" value=(storey) required autocomplete="off"; }
                label { "Height" input name="height" value=(usual(2.5, 8.0)) required autocomplete="off"; }
                label { "Outline" select name="like" {
                    option value="" { "a rectangle of this size" }
                    @for r in b.rooms.iter().filter(|r| r.outline.is_some()) {
                        option value=(r.id) { "the same as " (r.name()) }
                    }
                } }
                label { "Width" input name="width" value=(usual(4.0, 12.0)) required autocomplete="off"; }
                label { "Depth" input name="depth" value=(usual(3.0, 10.0)) required autocomplete="off"; }
                label { "From the left" input name="x" autocomplete="off" placeholder="beside the others"; }
                label { "From below" input name="y" autocomplete="off" placeholder=(units::length(0.0, units)); }
                button.wide-only type="button" data-rectangle { "Draw it on a plan…" }
                button { "Add it" }
                p.error role="alert" {}
            }
        }
    }
}

/// Which units the project is read and typed in.
fn units_of(ctx: &Ctx<'_>) -> Markup {
    let now = ctx.scene.document.as_ref().and_then(|d| d.text_at("units")).unwrap_or_default();
    html! {
        section #units data-live {
            details {
                summary { "Units" }
                div.fields {
                    (Field::new("units-choice", "Lengths and masses", "units".into(), now.to_owned()).choose([
                        (String::new(), "metric".to_owned()),
                        ("US".to_owned(), "US: feet, inches, pounds".to_owned()),
                    ]).form(ctx))
                }
            }
        }
    }
}

fn levels(ctx: &Ctx<'_>) -> Markup {
    let Some(r) = ctx.quick() else { return html! {} };
    let all = judged(&r);
    match parts::levels_table(&r, &all) {
        Some(block) => html! { h2 { "Every room" } (show(&[block])) },
        None => html! {},
    }
}

/// Levels of every room in one line each, for pages where something is tried.
pub fn short_levels(b: &Building, played: &[Played]) -> Markup {
    html! {
        @for from in played {
            table.short {
                caption dir="auto" { "Levels in dBA while it is played: " (b.sources[from.source].name()) }
                tbody {
                    @for (room, level) in &from.rooms {
                        tr {
                            th scope="row" dir="auto" { (b.rooms[room.0].name()) }
                            td.n { (level.map_or("–".into(), |l| number(l.0, 1))) }
                        }
                    }
                }
            }
        }
    }
}
