//! One build-up: its section, its layers to be changed, its curve, and what follows in the rooms.

use std::sync::{Arc, PoisonError};

use maud::{Markup, html};
use wythe_bands::{Band, Spectrum, SquareMetre, Standing};
use wythe_building::{BuildUpIndex, Building};
use wythe_findings::{curve, unknowns, unknowns_of};
use wythe_partition::{
    BuildUp, Conditions, Construction, FrameKind, Joint, Layer, MountKind, PartitionError,
    Prediction, catalogue, limits,
};
use wythe_rating::{Method, Options, rate};
use wythe_report::chart::{
    BandChart, DifferencePanel, Format, Quantity, Role, Trace, Words, WrongSide, number,
};
use wythe_report::page::Figure;
use wythe_report::report::{Units, parts};
use wythe_transmission::Cache;

use super::fields::{Field, Press, hidden};
use super::house::short_levels;
use super::{Ctx, Page, Sheet, heading, show, verdicts};
use crate::slide::{Moved, Played, played};

/// Unknowns listed: the ninth never decided anything.
const MOST_UNKNOWNS: usize = 8;

/// The page.
pub fn sheet(ctx: &Ctx<'_>, b: &Building) -> Sheet {
    let chosen = ctx.asked("id").and_then(|id| b.build_up(id)).or_else(|| first(b));
    let Some(index) = chosen else {
        return Sheet {
            title: "Begin with a build-up".into(),
            middle: html! {
                p { "A build-up is what a wall, floor or ceiling is made of, layer by layer." }
                (new_build_up(ctx))
                (super::sheet::new_from_sheet(ctx))
            },
            answer: verdicts(ctx),
        };
    };
    let mut cache = ctx.open.cache.lock().unwrap_or_else(PoisonError::into_inner);
    let looked = Looked::at(ctx, b, index, &mut cache);
    drop(cache);
    let (u, conditions, other) = (looked.build_up, looked.conditions, looked.other);
    let area = conditions.area;
    let places: Vec<&str> =
        b.boundaries.iter().filter(|e| e.build_up == index).map(|e| e.name()).collect();
    let middle = html! {
        p #places data-live dir="auto" {
            @if places.is_empty() { "Nowhere in the building; offered by a change or kept for comparison." }
            @else { (parts::capital(&places.join("; "))) "." }
            " Reckoned for " (parts::area(area, ctx.about.units)) "."
        }
        (looked.curve(ctx))
        (layers(ctx, u))
        (looked.section(ctx))
        (super::sheet::sheet(ctx, u))
        (versions(ctx, b, index, other))
        (looked.limits())
        div #unknowns data-live {
            @if let Ok(p) = &looked.predicted { (remarks_and_unknowns(ctx, b, index, p, &conditions)) }
        }
    };
    let played = ctx.scene.predicted.as_ref().map(played).unwrap_or_default();
    let answer = html! {
        (looked.figures(ctx, b, &played))
        (verdicts(ctx))
    };
    Sheet { title: looked.title(), middle, answer }
}

/// What follows a slider: the curve, the section, what limits it, the figures and the levels.
pub fn while_sliding(ctx: &Ctx<'_>, moved: Moved<'_>) -> String {
    let Moved { building: b, played, cache } = moved;
    let chosen = ctx.asked("id").and_then(|id| b.build_up(id)).or_else(|| first(&b));
    let Some(index) = chosen else { return String::new() };
    let looked = Looked::at(ctx, &b, index, cache);
    html! {
        (heading(&looked.title()))
        (looked.curve(ctx))
        (looked.section(ctx))
        (looked.limits())
        (looked.figures(ctx, &b, &played))
    }
    .into_string()
}

/// A build-up that is looked at, with what is predicted of it and what stands beside it.
struct Looked<'b> {
    build_up: &'b BuildUp,
    conditions: Conditions,
    predicted: Result<Arc<Prediction>, PartitionError>,
    other: Option<BuildUpIndex>,
    beside: Option<(&'b BuildUp, Arc<Prediction>)>,
}

impl<'b> Looked<'b> {
    fn at(ctx: &Ctx<'_>, b: &'b Building, index: BuildUpIndex, cache: &mut Cache) -> Looked<'b> {
        let build_up = &b.build_ups[index.0];
        let used = b.boundaries.iter().filter(|e| e.build_up == index);
        let area = used.map(|e| e.area.0).fold(0.0, f64::max);
        let area = SquareMetre(if area > 0.0 { area } else { 10.0 });
        let conditions = Conditions { air: b.air, area };
        let predicted = cache.wall(build_up, conditions);
        let other = ctx.asked("with").and_then(|id| b.build_up(id)).filter(|o| *o != index);
        let beside = other.and_then(|o| {
            let o = &b.build_ups[o.0];
            Some((o, cache.wall(o, conditions).ok()?))
        });
        Looked { build_up, conditions, predicted, other, beside }
    }

    fn name(&self) -> &'b str {
        self.build_up.title.as_deref().unwrap_or(&self.build_up.id)
    }

    fn title(&self) -> String {
        match &self.predicted {
            Ok(p) => format!("{}: {}", self.name(), in_short(p)),
            Err(_) => self.name().to_owned(),
        }
    }

    fn curve(&self, ctx: &Ctx<'_>) -> Markup {
        html! {
            div #curve data-live data-try {
                @match &self.predicted {
                    Ok(p) => (show(&[picture(self.name(), p, self.beside.as_ref(), self.conditions.area, ctx.about.units).into()])),
                    Err(e) => { p.notice { (parts::sentence_case(&e.to_string())) "." } }
                }
            }
        }
    }

    fn section(&self, ctx: &Ctx<'_>) -> Markup {
        html! {
            div #section data-live data-try {
                @if let Some(section) = parts::section_alone(self.build_up, ctx.about.units) {
                    (show(&[screen(|f| section.draw(f)).into()]))
                } @else { p { "Known by its data sheet only; there is no section to draw." } }
            }
        }
    }

    fn limits(&self) -> Markup {
        let ranges = self.predicted.as_ref().map(|p| limits(p)).unwrap_or_default();
        html! {
            div #limits data-live data-try {
                @if !ranges.is_empty() {
                    h2 { "What limits it" }
                    ul { @for l in &ranges { li { (parts::sentence_case(&l.words)) } } }
                }
            }
        }
    }

    fn figures(&self, ctx: &Ctx<'_>, b: &Building, played: &[Played]) -> Markup {
        html! {
            div #figures data-live data-try {
                @if let Ok(p) = &self.predicted { (figures(ctx, self.build_up, p, self.beside.as_ref())) }
                (short_levels(b, played))
            }
        }
    }
}

/// The first that parts two rooms, where none is asked for.
fn first(b: &Building) -> Option<BuildUpIndex> {
    let used = b.boundaries.first().map(|e| e.build_up);
    used.or_else(|| (!b.build_ups.is_empty()).then_some(BuildUpIndex(0)))
}

fn screen(draw: impl Fn(Format) -> wythe_report::chart::Drawing) -> Figure {
    Figure {
        wide: draw(Format::Screen),
        narrow: Some(draw(Format::Phone)),
        table: None,
        invented: false,
    }
}

/// A rating and its terms by key, each with its sign: `["66", "−1", "−5"]`.
fn rated(p: &Prediction, method: Method, terms: &[&str]) -> Vec<String> {
    let Ok(found) = rate(&curve(&p.reduction), method, &Options::default()) else {
        return vec!["cannot be rated".into()];
    };
    let term = |key: &&str| {
        let value = found.terms.iter().find(|t| t.key == *key)?.value?;
        Some(number(value.decibels(), 0))
    };
    let own = if method == Method::E413 || terms.is_empty() { &[][..] } else { terms };
    if own.is_empty() {
        vec![found.number().map_or("–".into(), |n| number(n, 0))]
    } else {
        own.iter().map(|key| term(key).unwrap_or_else(|| "–".into())).collect()
    }
}

/// The rating in one figure, for a heading.
fn in_short(p: &Prediction) -> String {
    let rating = rate(&curve(&p.reduction), Method::Iso717Part1, &Options::default()).ok();
    match rating.and_then(|r| r.number()) {
        Some(n) => format!("Rw {} dB", number(n, 0)),
        None => "cannot be rated".into(),
    }
}

fn picture(
    name: &str,
    p: &Prediction,
    beside: Option<&(&BuildUp, Arc<Prediction>)>,
    area: SquareMetre,
    units: Units,
) -> Figure {
    let words = Words::new(
        "reduction",
        format!("{name}: what it keeps back"),
        format!(
            "Sound reduction index, {}, for {}. More is better. In two cases of three the truth \
             lies within the pale band.{}",
            if p.method == "measured" {
                "from the data sheet".to_owned()
            } else {
                format!("calculated (method: {})", p.method.replace('_', " "))
            },
            parts::area(area, units),
            beside
                .map(|(o, _)| format!(" Grey: {}.", o.title.as_deref().unwrap_or(&o.id)))
                .unwrap_or_default()
        ),
    );
    let mut chart = BandChart::new(words, Quantity::new("Sound reduction index", "R", ""));
    if let Some((o, q)) = beside {
        let label = o.title.as_deref().unwrap_or(&o.id);
        chart.traces.push(Trace::differences(Role::Path, label, &q.reduction));
    }
    chart.traces.push(
        Trace::differences(
            Role::Predicted,
            if p.method == "measured" { "data sheet" } else { "calculated" },
            &p.reduction,
        )
        .with_uncertainty(&p.deviation)
        .outside(|b| p.filled_in.get(b).is_some()),
    );
    if let Some((o, q)) = beside {
        chart.difference = Some(DifferencePanel {
            label: "This one minus the other".into(),
            values: p.reduction.zip_with(&q.reduction, |a, b| a - b),
            uncertainty: Spectrum::empty(),
            wrong: WrongSide::Below,
            against: o.title.clone().unwrap_or_else(|| o.id.clone()),
        });
    }
    let table = chart.table();
    screen(|f| chart.draw(f)).with_table(table)
}

fn figures(
    ctx: &Ctx<'_>,
    u: &BuildUp,
    p: &Prediction,
    beside: Option<&(&BuildUp, Arc<Prediction>)>,
) -> Markup {
    let units = ctx.about.units;
    let bass = |p: &Prediction| {
        p.reduction.get(Band::HZ_63).map_or("–".into(), |r| format!("{} dB", number(r.0, 0)))
    };
    let thick =
        |p: &Prediction| p.thickness.map_or("not known".into(), |t| parts::thickness(t, units));
    let mass = |p: &Prediction| {
        p.surface_mass.map_or("not known".into(), |m| parts::surface_mass(m, units))
    };
    let cost = |u: &BuildUp| {
        u.cost_per_m2.map_or("not known".into(), |c| format!("{} per m²", number(c, 0)))
    };
    let decibels = |all: Vec<String>| format!("{} dB", all.join("; "));
    let row = |what: Markup, of: &dyn Fn(&Prediction) -> String| {
        (what, of(p), beside.map(|(_, q)| of(q)))
    };
    let word = |what: &str| html! { (what) };
    let rows: Vec<(Markup, String, Option<String>)> = vec![
        row(html! { "R" sub { "w" } }, &|p| decibels(rated(p, Method::Iso717Part1, &[]))),
        row(html! { "C; C" sub { "tr" } }, &|p| {
            decibels(rated(p, Method::Iso717Part1, &["C", "Ctr"]))
        }),
        row(html! { "C; C" sub { "tr" } ", 50–5000 Hz" }, &|p| {
            decibels(rated(p, Method::Iso717Part1, &["C50-5000", "Ctr50-5000"]))
        }),
        row(html! { "STC" }, &|p| rated(p, Method::E413, &[]).concat()),
        (word("R at 63 Hz"), bass(p), beside.map(|(_, q)| bass(q))),
        (word("Thickness"), thick(p), beside.map(|(_, q)| thick(q))),
        (word("Mass"), mass(p), beside.map(|(_, q)| mass(q))),
        (word("Cost"), cost(u), beside.map(|(o, _)| cost(o))),
    ];
    html! {
        table.short {
            caption { "This build-up" @if let Some((o, _)) = beside { ", beside " (o.title.as_deref().unwrap_or(&o.id)) } }
            tbody {
                @for (what, own, other) in rows {
                    tr { th scope="row" { (what) } td { (own) } @if let Some(other) = other { td { (other) } } }
                }
            }
        }
    }
}

fn remarks_and_unknowns(
    ctx: &Ctx<'_>,
    b: &Building,
    index: BuildUpIndex,
    p: &Prediction,
    conditions: &Conditions,
) -> Markup {
    let whole = ctx.asked("unknowns") == Some("all");
    let all = if whole {
        unknowns(b)
    } else {
        // It is known no better than the least known wall it stands in.
        let places = b.boundaries.iter().filter(|e| e.build_up == index);
        let place = places.map(|e| e.standpoint.standing).max().unwrap_or(Standing::Known);
        unknowns_of(&b.build_ups[index.0], conditions, place)
    };
    let change = if whole { "" } else { "all" };
    html! {
        @if !p.remarks.is_empty() {
            h2 { "To be said" }
            ul { @for r in &p.remarks { li { (parts::sentence_case(&r.text)) } } }
        }
        h2 { "What to find out first" }
        @if all.is_empty() {
            p { "Nothing unknown moves it by as much as 0.3 dB." }
        } @else {
            div.scroll tabindex="0" role="region" aria-label="What to find out first" {
                table.short {
                    caption { "What nobody has looked at, by how far it moves the curve if it is off by one standard deviation" }
                    thead { tr {
                        @if whole { th scope="col" { "Where" } }
                        th scope="col" { "What" } th scope="col" { "May be off by" } th scope="col" { "It is" }
                        th.n scope="col" { "Moves R by" } th.n scope="col" { "Moves R" sub { "w" } " by" }
                    } }
                    tbody {
                        @for u in all.iter().take(MOST_UNKNOWNS) {
                            tr {
                                @if let Some(e) = u.boundary.and_then(|i| b.boundaries.get(i.0)) {
                                    @let id = b.build_ups.get(e.build_up.0).map_or("", |u| u.id.as_str());
                                    th scope="row" dir="auto" { a href=(ctx.here_with(Page::BuildUps, &[("id", id), ("with", ""), ("unknowns", "")])) { (parts::capital(e.name())) } }
                                }
                                td { @if let Some(l) = u.effect.layer { "Layer " (l) ", " } (u.effect.input) }
                                td { (u.effect.spread) } td { (u.standing.word()) }
                                td.n { (number(u.effect.moves.0, 1)) " dB" }
                                td.n { (u.rating.map_or("–".into(), |r| format!("{} dB", number(r.abs(), 1)))) }
                            }
                        }
                    }
                }
            }
        }
        p { a href=(ctx.here_with(Page::BuildUps, &[("unknowns", change)])) {
            @if whole { "For this build-up alone" } @else { "For the whole building" }
        } }
    }
}

fn words(all: &[&str]) -> Vec<(String, String)> {
    all.iter().map(|w| ((*w).to_owned(), (*w).to_owned())).collect()
}

/// The layers as fields, with what adds, moves and takes out.
fn layers(ctx: &Ctx<'_>, u: &BuildUp) -> Markup {
    let list = format!("build_up[{}].layers", u.id);
    let own = ctx.scene.document.as_ref().and_then(|d| d.count(&list));
    let all = parts::layers(u);
    if own != Some(all.len()) {
        return html! {
            div #layers data-live {
                p.notice {
                    @if matches!(u.construction, Construction::Measured(_)) && all.is_empty() {
                        "This build-up is known by its data sheet, which can be changed below."
                    } @else {
                        "The layers of this build-up do not stand in brackets in the project file itself, so they are changed there. "
                        a href="/file" { "Look at the file" }
                    }
                }
            }
        };
    }
    let document = ctx.scene.document.as_ref();
    let text = |path: &str| -> String {
        let value = document.and_then(|d| d.get(path)).unwrap_or_default();
        value
            .parse::<toml_edit::Value>()
            .ok()
            .and_then(|v| v.as_str().map(str::to_owned))
            .unwrap_or(value)
    };
    let field = |i: usize, key: &'static str, label: &'static str| {
        let path = format!("{list}[{i}].{key}");
        let value = text(&path);
        let mut f = Field::new(format!("layer-{i}-{key}"), label, path, value);
        f.called = format!("{} of layer {} of {}", label.to_lowercase(), i + 1, u.id);
        f
    };
    let boards: Vec<(String, String)> =
        catalogue().materials().iter().map(|m| (m.name.clone(), m.name.clone())).collect();
    let fills: Vec<(String, String)> = std::iter::once((String::new(), "empty".to_owned()))
        .chain(catalogue().fills().iter().map(|m| (m.name.clone(), m.name.clone())))
        .collect();
    let press = |what: &'static str, i: usize, to: usize, name: &'static str, called: String| {
        Press { what, file: "", path: list.clone(), value: String::new(), at: i, to, name, called }
            .form(ctx, &format!("{what}-{i}-{to}"))
    };
    let last = all.len() - 1;
    html! {
        section #layers data-live {
            h2 { "Layers from side a to side b" }
            p.notes { "A number takes the unit beside it; \"5/8 in\" or \"2 ft 1 in\" are understood too." }
            ol.layers {
                @for (i, layer) in all.iter().enumerate() {
                    li {
                        div.fields {
                            @match layer {
                                Layer::Board(board) => {
                                    (field(i, "board", "Board").choose(boards.clone()).form(ctx))
                                    (field(i, "thickness", "Thickness of one").kind("mm").slide(3.0, 60.0, 0.5).form(ctx))
                                    (field(i, "count", "How many").kind("number").form(ctx))
                                    @if board.count > 1 || i > 0 {
                                        (field(i, "joined", "Joined").choose(joints(board.joined)).form(ctx))
                                    }
                                    (field(i, "surface_mass", "Mass of one, if weighed").kind("kg/m2").form(ctx))
                                }
                                Layer::Cavity(c) => {
                                    (field(i, "cavity", "Cavity").kind("mm").slide(10.0, 500.0, 5.0).form(ctx))
                                    (field(i, "fill", "Fill").choose(fills.clone()).form(ctx))
                                    @if c.fill.is_some() { (field(i, "fill_depth", "Depth of the fill").kind("mm").slide(0.0, 500.0, 5.0).form(ctx)) }
                                    (field(i, "frame", "Frame").choose(none_or(FrameKind::ALL.map(FrameKind::word))).form(ctx))
                                    @if c.frame.is_some() {
                                        (field(i, "spacing", "Spacing").kind("mm").form(ctx))
                                        (field(i, "mount", "Mount").choose(none_or(MountKind::ALL.map(MountKind::word))).form(ctx))
                                        @if c.frame.as_ref().is_some_and(|f| f.mount.is_some()) {
                                            (field(i, "mount_side", "On side").choose(words(&["a", "b"])).form(ctx))
                                        }
                                    }
                                }
                            }
                        }
                        div.presses {
                            @if i > 0 { (press("shift", i, i - 1, "Up", format!("move layer {} up", i + 1))) }
                            @if i < last { (press("shift", i, i + 1, "Down", format!("move layer {} down", i + 1))) }
                            @if all.len() > 1 { (press("remove", i, 0, "Take out", format!("take out layer {}", i + 1))) }
                        }
                    }
                }
            }
            div.presses {
                (Press { what: "insert", file: "", path: list.clone(), value: "{ board = \"gypsum board\", thickness = \"12.5 mm\" }".into(),
                    at: all.len(), to: 0, name: "Add a board", called: format!("add a board to {}", u.id) }.form(ctx, "add-board"))
                (Press { what: "insert", file: "", path: list.clone(), value: "{ cavity = \"100 mm\", fill = \"mineral wool\", fill_depth = \"100 mm\" }".into(),
                    at: last, to: 0, name: "Add a cavity", called: format!("add a cavity to {}", u.id) }.form(ctx, "add-cavity"))
            }
        }
    }
}

fn joints(now: Joint) -> Vec<(String, String)> {
    // A file that says nothing means screwed.
    let mut all = words(&["screwed", "bonded", "damping layer"]);
    if now == Joint::Screwed {
        all.insert(0, (String::new(), "screwed, not said".into()));
    }
    all
}

/// A word for nothing, and the words of all kinds.
fn none_or(kinds: impl IntoIterator<Item = &'static str>) -> Vec<(String, String)> {
    let kinds = kinds.into_iter().map(|k| (k.to_owned(), k.to_owned()));
    std::iter::once((String::new(), "none".to_owned())).chain(kinds).collect()
}

/// Beside another one; a second version of this one.
fn versions(
    ctx: &Ctx<'_>,
    b: &Building,
    index: BuildUpIndex,
    other: Option<BuildUpIndex>,
) -> Markup {
    let u = &b.build_ups[index.0];
    html! {
        section #versions data-live {
            h2 { "Compare" }
            form.inline method="get" action="/build-ups" data-go {
                input type="hidden" name="id" value=(u.id);
                label for="with" { "Beside" }
                select #with name="with" {
                    option value="" { "nothing" }
                    @for (i, o) in b.build_ups.iter().enumerate() {
                        @if i != index.0 {
                            option value=(o.id) selected[other == Some(BuildUpIndex(i))] { (o.title.as_deref().unwrap_or(&o.id)) }
                        }
                    }
                }
                noscript { button { "Show" } }
            }
            div.presses {
                (Press { what: "copy-build-up", file: "", path: String::new(), value: u.id.clone(), at: 0, to: 0,
                    name: "Make a second version", called: format!("a second version of {}", u.id) }.form(ctx, "copy"))
                @if other.is_some() {
                    a href=(ctx.here_with(Page::BuildUps, &[("id", other.map_or("", |o| b.build_ups[o.0].id.as_str())), ("with", &u.id)])) { "Change the other one" }
                }
            }
            (where_used(ctx, b, index))
        }
    }
}

/// Every wall and ceiling with the build-up it has, to be swapped.
fn where_used(ctx: &Ctx<'_>, b: &Building, index: BuildUpIndex) -> Markup {
    let choices: Vec<(String, String)> = b
        .build_ups
        .iter()
        .map(|u| (u.id.clone(), u.title.clone().unwrap_or_else(|| u.id.clone())))
        .collect();
    let u = &b.build_ups[index.0];
    html! {
        details {
            summary { "Where each build-up stands" }
            div.fields {
                @for (i, e) in b.boundaries.iter().enumerate() {
                    @let path = format!("boundary[{}].build_up", e.id);
                    @let stands = ctx.scene.document.as_ref().and_then(|d| d.get(&path)).is_some();
                    @if stands {
                        @let id = b.build_ups.get(e.build_up.0).map_or(String::new(), |u| u.id.clone());
                        @let name = parts::capital(e.name());
                        (Field::new(format!("stands-{i}"), &name, path, id).choose(choices.clone()).form(ctx))
                    }
                }
            }
        }
        details {
            summary { "Name and price" }
            div.fields {
                (Field::new("build-up-title", "Name", format!("build_up[{}].title", u.id), u.title.clone().unwrap_or_default()).form(ctx))
                (Field::new("cost", "Cost per m²", format!("build_up[{}].cost_per_m2", u.id), u.cost_per_m2.map_or(String::new(), |c| c.to_string())).kind("number").form(ctx))
            }
        }
        (new_build_up(ctx))
        (super::sheet::new_from_sheet(ctx))
    }
}

fn new_build_up(ctx: &Ctx<'_>) -> Markup {
    html! {
        details #new-build-up {
            summary { "A new build-up" }
            form.grid method="post" action="/edit" data-edit {
                (hidden(ctx, "new-build-up", "", "", "", "a new build-up"))
                label { "Name" input name="value" required autocomplete="off"; }
                label { "Begin as" select name="like" {
                    @for r in catalogue().ready() { option value=(r.name) { (r.name) } }
                } }
                button { "Add it" }
                p.error role="alert" {}
            }
        }
    }
}
