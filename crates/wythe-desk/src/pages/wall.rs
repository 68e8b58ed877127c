//! One wall, ceiling or floor: what it is made of, and the doors and windows in it.

use maud::{Markup, html};
use wythe_building::{BoundaryIndex, Building, RoomIndex};
use wythe_report::report::parts;

use super::fields::{Field, Press, hidden};
use super::{Ctx, Page};
use crate::edit::seen;
use crate::shape::OFFERED;
use crate::units;
use crate::walls::{Wall, bare_floors, path_of};

fn build_ups(b: &Building) -> Vec<(String, String)> {
    let name = |u: &wythe_partition::BuildUp| u.title.clone().unwrap_or_else(|| u.id.clone());
    b.build_ups.iter().map(|u| (u.id.clone(), name(u))).collect()
}

fn room_name(b: &Building, room: Option<RoomIndex>) -> &str {
    room.and_then(|r| b.rooms.get(r.0)).map_or("outdoors", |r| r.name())
}

/// The wall the address asks for.
pub fn wall(ctx: &Ctx<'_>, b: &Building, walls: &[Wall]) -> Markup {
    let Some(asked) = ctx.asked("wall") else { return html! {} };
    let described = b.boundaries.iter().position(|e| e.id == asked).map(BoundaryIndex);
    let on_plan = walls.iter().find(|w| w.name(b) == asked);
    html! {
        section #wall data-live {
            @match (described, on_plan) {
                (Some(index), on_plan) => (boundary(ctx, b, index, on_plan)),
                (None, Some(wall)) => {
                    h2 dir="auto" { "Wall between " (room_name(b, Some(wall.rooms.0))) " and " (room_name(b, wall.rooms.1)) }
                    p { "Nothing is described here yet, so no sound passes in the calculation." }
                    (describe(ctx, b, wall.rooms.0, wall.rooms.1, "describe"))
                }
                (None, None) => { p { "This wall is not there any more." } }
            }
            p { a href=(ctx.here_with(Page::House, &[("wall", "")])) { "Close" } }
        }
    }
}

/// Says what stands between two rooms.
fn describe(
    ctx: &Ctx<'_>,
    b: &Building,
    from: RoomIndex,
    to: Option<RoomIndex>,
    id: &str,
) -> Markup {
    let id_of = |r: Option<RoomIndex>| r.and_then(|r| b.rooms.get(r.0)).map_or("", |r| &r.id);
    let called = format!("{} to {}", room_name(b, Some(from)), room_name(b, to));
    if b.build_ups.is_empty() {
        return html! { p { a href="/build-ups" { "Add a build-up first" } "." } };
    }
    html! {
        form.inline method="post" action="/edit" data-edit {
            (hidden(ctx, "new-boundary", "", "", "", &called))
            input type="hidden" name="from" value=(id_of(Some(from)));
            input type="hidden" name="like" value=(id_of(to));
            label for=(id) { "Made of" span.ears { " (" (called) ")" } }
            select id=(id) name="value" {
                @for (id, name) in build_ups(b) { option value=(id) { (name) } }
            }
            button { "Describe it" }
            p.error role="alert" {}
        }
    }
}

fn boundary(ctx: &Ctx<'_>, b: &Building, index: BoundaryIndex, on_plan: Option<&Wall>) -> Markup {
    let e = &b.boundaries[index.0];
    let document = ctx.scene.document.as_ref();
    let build_up = b.build_ups.get(e.build_up.0);
    html! {
        h2 dir="auto" { (parts::capital(e.name())) }
        p dir="auto" {
            (room_name(b, Some(e.rooms[0]))) " to " (room_name(b, Some(e.rooms[1]))) ", "
            (parts::area(e.area, ctx.about.units)) ". "
            @if let Some(u) = build_up {
                a href=(format!("/build-ups?id={}", super::in_address(&u.id))) { "Change its layers" }
            }
        }
        @match document.and_then(|d| path_of(d, b, index)) {
            None if e.area_found && document.is_some_and(|d| d.get(&format!("boundary[{}].id", e.id)).is_none()) => {
                p { "The program put it here by the project's defaults." }
                (describe(ctx, b, e.rooms[0], Some(e.rooms[1]), "describe"))
            }
            None => { p.notice { "This one is described in an included file; change it there." } }
            Some(path) => (fields(ctx, b, index, &path, on_plan)),
        }
    }
}

fn fields(
    ctx: &Ctx<'_>,
    b: &Building,
    index: BoundaryIndex,
    path: &str,
    on_plan: Option<&Wall>,
) -> Markup {
    let e = &b.boundaries[index.0];
    let document = ctx.scene.document.as_ref();
    let text = |key: &str| {
        document.and_then(|d| d.text_at(&format!("{path}.{key}"))).unwrap_or_default().to_owned()
    };
    let placed = on_plan.map(|w| w.openings(b, document)).unwrap_or_default();
    let length = on_plan.map(Wall::length);
    let list = format!("{path}.opening");
    html! {
        div.fields {
            (Field::new("wall-build-up", "Made of", format!("{path}.build_up"), text("build_up")).choose(build_ups(b)).form(ctx))
            (Field::new("wall-title", "Name", format!("{path}.title"), text("title")).form(ctx))
            @if !e.area_found {
                (Field::new("wall-area", "Area", format!("{path}.area"), text("area")).kind("m2").form(ctx))
            }
        }
        h3 { "Doors, windows, vents" }
        @if let Some(length) = length {
            p.notes {
                "The wall is " (units::length(length, ctx.about.units)) " long. "
                span.wide-only { "Drag an opening along it on the plan, or type " }
                "the distance of its middle from the left end, as seen from " (room_name(b, looking(b, index))) "."
            }
        }
        @for (i, o) in e.openings.iter().enumerate() {
            @let own = |key: &str| text(&format!("opening[{i}].{key}"));
            @let name = o.title.clone().unwrap_or_else(|| o.id.clone());
            @let field = |key: &'static str, label: &'static str, kind: &'static str| {
                let mut f = Field::new(format!("opening-{i}-{key}"), label, format!("{path}.opening[{i}].{key}"), own(key)).kind(kind);
                f.called = format!("{} of {name}", label.to_lowercase());
                f
            };
            fieldset.opening {
                legend dir="auto" { (parts::capital(&name)) }
                div.fields {
                    (field("title", "Name", "text").form(ctx))
                    @if o.leaf.is_some() {
                        (field("leaf", "Leaf or pane", "text").choose(leaves(b)).form(ctx))
                    }
                    (field("width", "Width", "m").form(ctx))
                    (field("height", "Height", "m").form(ctx))
                    @if o.kind != wythe_partition::OpeningKind::Door {
                        (field("sill_height", "Sill above the floor", "m").form(ctx))
                    }
                    @if o.leaf.is_some() {
                        (field("state", "It stands", "text").choose(states(&own("state"))).form(ctx))
                    }
                    @if let Some(p) = placed.iter().find(|p| p.index == i) {
                        (along(ctx, path, i, p.along, &own("along"), &name))
                    }
                }
                (Press { what: "remove", file: "", path: list.clone(), value: String::new(), at: i, to: 0,
                    name: "Take it out", called: format!("take out {name}") }.form(ctx, &format!("opening-{i}-remove")))
            }
        }
        details #new-opening open[e.openings.is_empty()] {
            summary { "Add a door, window or vent" }
            form.grid method="post" action="/edit" data-edit {
                (hidden(ctx, "new-opening", "", path, units::unit("m", ctx.about.units), "a new opening"))
                label { "What" select name="like" { @for o in &OFFERED { option value=(o.name) { (o.name) } } } }
                label { "Name" input name="value" autocomplete="off" placeholder="may be empty"; }
                label { "Width" input name="width" autocomplete="off" placeholder="usual"; }
                label { "Height" input name="height" autocomplete="off" placeholder="usual"; }
                @if on_plan.is_some() {
                    label { "From the left end" input name="x" autocomplete="off" placeholder="in the middle"; }
                }
                button { "Add it" }
                p.error role="alert" {}
            }
        }
    }
}

/// The room from which left and right are told.
fn looking(b: &Building, index: BoundaryIndex) -> Option<RoomIndex> {
    let rooms = b.boundaries[index.0].rooms;
    rooms.into_iter().find(|r| b.rooms.get(r.0).is_some_and(|r| !r.outdoors))
}

fn along(ctx: &Ctx<'_>, path: &str, i: usize, along: f64, stated: &str, name: &str) -> Markup {
    let path = format!("{path}.opening[{i}].along");
    let id = format!("opening-{i}-along");
    let units = ctx.about.units;
    let value = if stated.is_empty() { String::new() } else { units::shown(stated, "m", units) };
    html! {
        form.field method="post" action="/edit" data-edit data-along=(i) {
            (hidden(ctx, "set", "", &path, units::unit("m", units), &format!("place of {name}")))
            input type="hidden" name="seen" value=(seen(ctx.scene.document.as_ref(), &path));
            label for=(id) { "From the left end" }
            input id=(id) name="value" value=(value) data-value=(value) autocomplete="off"
                placeholder=(units::length(along, units)) aria-describedby=(format!("{id}-error"));
            p.error id=(format!("{id}-error")) role="alert" {}
            noscript { button { "Save" } }
        }
    }
}

fn leaves(b: &Building) -> Vec<(String, String)> {
    let mut all: Vec<(String, String)> = OFFERED
        .iter()
        .filter(|o| !o.leaf.is_empty())
        .map(|o| (o.leaf.to_owned(), o.leaf.to_owned()))
        .collect();
    all.extend(build_ups(b));
    all
}

fn states(now: &str) -> Vec<(String, String)> {
    let mut all: Vec<(String, String)> =
        ["closed", "open", "taped", "ajar 50 mm"].map(|w| (w.to_owned(), w.to_owned())).into();
    if now.is_empty() {
        all.insert(0, (String::new(), "closed, not said".into()));
    }
    all
}

/// Everything round a room, to be chosen without a hand on the plan.
pub fn round(ctx: &Ctx<'_>, b: &Building, room: RoomIndex, walls: &[Wall]) -> Markup {
    let mut all: Vec<(String, String, bool)> = Vec::new();
    for e in b.boundaries.iter().filter(|e| e.rooms.contains(&room)) {
        all.push((e.id.clone(), parts::capital(e.name()), true));
    }
    for w in walls.iter().filter(|w| w.boundary.is_none()) {
        let other = if w.rooms.0 == room {
            w.rooms.1
        } else if w.rooms.1 == Some(room) {
            Some(w.rooms.0)
        } else {
            continue;
        };
        all.push((w.name(b), format!("Wall to {}", room_name(b, other)), false));
    }
    let floors: Vec<(RoomIndex, RoomIndex)> =
        bare_floors(b).into_iter().filter(|(i, j)| *i == room || *j == room).collect();
    html! {
        h3 { "Round it" }
        ul.plain {
            @for (id, name, described) in all {
                li { a href=(format!("{}#wall", ctx.here_with(Page::House, &[("wall", &id)])))
                    aria-current=[(ctx.asked("wall") == Some(id.as_str())).then_some("true")] dir="auto" { (name) }
                    @if !described { span.second { " not described, nothing passes" } } }
            }
        }
        @for (n, (low, high)) in floors.into_iter().enumerate() {
            p dir="auto" { "Between " (room_name(b, Some(low))) " and " (room_name(b, Some(high))) " above it no floor is described; nothing passes there." }
            (describe(ctx, b, low, Some(high), &format!("floor-{n}")))
        }
    }
}
