//! One self-contained HTML file from a [`Document`].

use super::document::{
    Answer, Block, Column, Document, Fact, Figure, ListKind, Paper, PhotoSlot, Table, Verdict,
};
use super::text::{Span, Text};
use crate::chart::{self, DataTable, Drawing};
use crate::design;
use crate::language::Language;
use maud::{DOCTYPE, Markup, PreEscaped, html};
use std::collections::BTreeSet;

/// Style sheet of the page; colours come from [`design::custom_properties`].
pub const STYLE: &str = include_str!("report.css");

/// What a page may load: nothing. Styles stand in the file itself, and there is no script.
const POLICY: &str = "default-src 'none'; style-src 'unsafe-inline'; img-src data:; \
                      base-uri 'none'; form-action 'none'";

/// What has been counted and named on the way down the page.
#[derive(Default)]
struct Count {
    figures: usize,
    tables: usize,
    headings: usize,
    ids: BTreeSet<String>,
    language: Language,
}

impl Document {
    /// The document as one HTML file: no script, nothing fetched, light and dark on a screen,
    /// light on white in print.
    pub fn html(&self) -> String {
        let language = self.words;
        let say = |key: &str| language.say(key, &[]);
        let mut count = Count { language, ..Count::default() };
        let body = blocks(&self.blocks, &mut count);
        let heads = self.main_headings();
        let methods = self.methods.join("; ");
        let page: Markup = html! {
            (DOCTYPE)
            html lang=(language_tag(&self.language)) dir=[language.right_to_left().then_some("rtl")] {
                head {
                    meta charset="utf-8";
                    meta http-equiv="Content-Security-Policy" content=(POLICY);
                    meta name="viewport" content="width=device-width, initial-scale=1";
                    meta name="color-scheme" content="light dark";
                    meta name="generator" content=(clean(&format!("wythe {}", self.version)));
                    title { (clean(&self.title)) }
                    style { (PreEscaped(self.style())) }
                }
                body class=[self.one_sheet.then_some("one")] {
                    a.skip href="#main" { (say("page.skip")) }
                    header {
                        h1 { (clean(&self.title)) }
                        p.under {
                            (clean(&self.project))
                            @if !self.date.is_empty() { " · " (clean(&self.date)) }
                        }
                        @if self.contents && heads.len() > 1 {
                            nav aria-label=(say("page.contents")) {
                                ol {
                                    @for (number, text) in &heads {
                                        li { a href=(format!("#part-{number}")) { (text) } }
                                    }
                                }
                            }
                        }
                    }
                    main id="main" { (body) }
                    footer {
                        p {
                            (clean(&self.project)) " · " (clean(&self.date))
                            " · wythe " (clean(&self.version))
                        }
                        @if !methods.is_empty() { p { (language.say("page.methods", &[("methods", &clean(&methods))])) } }
                    }
                }
            }
        };
        page.into_string()
    }

    /// Main headings with their running number.
    fn main_headings(&self) -> Vec<(usize, String)> {
        let mut number = 0;
        let mut out = Vec::new();
        for block in &self.blocks {
            number += headings_in(block);
            if let Block::Heading { level: 0..=2, text } = block {
                out.push((number, clean(&text.plain())));
            }
        }
        out
    }

    fn style(&self) -> String {
        let size = match self.paper {
            Paper::Any => "",
            Paper::A4 => "size:A4;",
            Paper::Letter => "size:letter;",
        };
        let margins = if self.one_sheet { "9mm 15mm 14mm" } else { "18mm 20mm 22mm" };
        let left = format!("{} · {}", self.project, self.date);
        let middle = self.methods.join("; ");
        let version = format!("wythe {}", self.version);
        // The foot repeats on every sheet through the page's margin boxes.
        let foot = format!(
            "@page{{{size}margin:{margins};\
             @bottom-left{{content:{};font:8pt/1.3 system-ui,sans-serif;vertical-align:top;\
             padding-top:3mm;width:32%}}\
             @bottom-center{{content:{};font:8pt/1.3 system-ui,sans-serif;vertical-align:top;\
             padding-top:3mm;width:44%;text-align:center}}\
             @bottom-right{{content:{} \" · \" counter(page) \" / \" counter(pages);\
             font:8pt/1.3 system-ui,sans-serif;vertical-align:top;padding-top:3mm;width:24%}}}}\n",
            css_string(&left, 90),
            css_string(&middle, 130),
            css_string(&version, 30),
        );
        format!("{}{}\n{STYLE}\n{foot}", design::custom_properties(), chart::STYLE)
    }
}

/// Blocks as HTML for a page that carries [`STYLE`], [`chart::STYLE`] and the custom properties of
/// [`design`]. Figures and tables are numbered within the fragment.
pub fn fragment(all: &[Block]) -> String {
    blocks(all, &mut Count::default()).into_string()
}

fn headings_in(block: &Block) -> usize {
    match block {
        Block::Heading { .. } => 1,
        Block::Details(_, inner) | Block::Beside(inner) | Block::InLanguage(_, inner) => {
            inner.iter().map(headings_in).sum()
        }
        _ => 0,
    }
}

/// A language tag, or `und` where the text is none.
pub(crate) fn language_tag(text: &str) -> &str {
    let shaped = !text.is_empty()
        && text.len() <= 35
        && text
            .split('-')
            .all(|p| (1..=8).contains(&p.len()) && p.bytes().all(|b| b.is_ascii_alphanumeric()));
    if shaped { text } else { "und" }
}

/// A string for a style sheet with everything but letters and digits written by number, so that
/// no name can end the string or the sheet.
fn css_string(text: &str, longest: usize) -> String {
    let mut out = String::from("\"");
    for (i, c) in text.chars().enumerate() {
        if i == longest {
            out.push('…');
            break;
        }
        match c {
            c if c.is_control() => out.push(' '),
            c if c.is_alphanumeric() => out.push(c),
            c => out.push_str(&format!("\\{:X} ", c as u32)),
        }
    }
    out.push('"');
    out
}

/// Control characters have no place in a page; maud escapes the rest.
fn clean(text: &str) -> String {
    text.chars()
        .map(|c| match c {
            '\n' | '\t' | '\r' => ' ',
            c if c.is_control() || c == '\u{FFFE}' || c == '\u{FFFF}' => '\u{FFFD}',
            c => c,
        })
        .collect()
}

// Sentences keep the direction of the document whatever name they begin with: a name that runs from
// right to left would turn the whole line round. Cells of tables hold names alone and find their own.
fn text(t: &Text, l: Language) -> Markup {
    html! {
        @for span in &t.0 {
            @match span {
                Span::Plain(s) => (clean(s)),
                Span::Strong(s) => strong dir="auto" { (clean(s)) },
                Span::Sub(s) => sub { (clean(s)) },
                Span::Sup(s) => sup { (clean(s)) },
                Span::Code(s) => code { (clean(s)) },
                Span::Link { to, text } => a href=(format!("#{}", chart::id(to))) { (clean(text)) },
                Span::Invented => (badge(l)),
            }
        }
    }
}

fn badge(l: Language) -> Markup {
    html! { span.badge { (l.say("page.invented", &[])) } }
}

fn blocks(all: &[Block], count: &mut Count) -> Markup {
    html! { @for block in all { (one(block, count)) } }
}

fn one(block: &Block, count: &mut Count) -> Markup {
    let l = count.language;
    match block {
        Block::Heading { level, text: t } => {
            count.headings += 1;
            let id = format!("part-{}", count.headings);
            match level {
                0..=2 => html! { h2 id=(id) { (text(t, l)) } },
                3 => html! { h3 id=(id) { (text(t, l)) } },
                _ => html! { h4 id=(id) { (text(t, l)) } },
            }
        }
        Block::Answer(a) => answer(a, l),
        Block::Paragraph(t) => html! { p { (text(t, l)) } },
        Block::List(kind, items) => list(*kind, items, l),
        Block::Facts(all) => facts(all, l),
        Block::Figure(f) => figure(f, count),
        Block::Table(t) => table(t, count, true),
        Block::Rooms(rooms) => html! {
            div.scroll tabindex="0" role="region" aria-label=(clean(&rooms.caption)) {
                (PreEscaped(rooms.html()))
            }
        },
        Block::Caution(t) => html! {
            aside.caution role="note" { p { strong { (l.say("page.caution", &[])) " " } (text(t, l)) } }
        },
        Block::Notice(t) => html! { aside.notice role="note" { p { (text(t, l)) } } },
        Block::Details(summary, inner) => html! {
            details { summary { (clean(summary)) } (blocks(inner, count)) }
        },
        Block::Beside(inner) => html! { div.beside { (blocks(inner, count)) } },
        Block::Photographs(all) => photographs(all, l),
        Block::InLanguage(language, inner) => {
            let around = std::mem::replace(&mut count.language, *language);
            let direction = if language.right_to_left() { "rtl" } else { "ltr" };
            let out = html! {
                div lang=(language_tag(language.tag())) dir=(direction) { (blocks(inner, count)) }
            };
            count.language = around;
            out
        }
        Block::PageBreak => html! { div.sheet {} },
    }
}

fn answer(a: &Answer, l: Language) -> Markup {
    let (mark, word, class) = match a.verdict {
        Verdict::Met => ("✓", "page.met", "answer met"),
        Verdict::Short => ("▮", "page.short", "answer short"),
        Verdict::NotKnown => ("?", "page.not_known", "answer open"),
    };
    html! {
        div class=(class) {
            p.verdict { span.mark aria-hidden="true" { (mark) } " " (l.say(word, &[])) }
            p.sentence { (text(&a.sentence, l)) }
            @if !a.more.0.is_empty() { p.more { (text(&a.more, l)) } }
        }
    }
}

fn list(kind: ListKind, items: &[Text], l: Language) -> Markup {
    let inner = html! { @for item in items { li { (text(item, l)) } } };
    match kind {
        ListKind::Plain => html! { ul { (inner) } },
        ListKind::Numbered => html! { ol { (inner) } },
        ListKind::Checks => html! { ul.checks { (inner) } },
    }
}

/// Each with its number in the corner of an empty box, and what belongs on it below.
fn photographs(all: &[PhotoSlot], l: Language) -> Markup {
    html! {
        ul.photographs {
            @for slot in all {
                li {
                    p.box { (l.say("page.photograph", &[("number", &slot.number.to_string())])) }
                    dl {
                        dt { (l.say("page.place", &[])) }
                        dd dir="auto" { (text(&slot.place, l)) }
                        dt { (l.say("page.seen", &[])) }
                        dd dir="auto" { (text(&slot.seen, l)) }
                        dt { (l.say("page.by", &[])) }
                        dd.line {}
                    }
                }
            }
        }
    }
}

fn facts(all: &[Fact], l: Language) -> Markup {
    html! {
        dl.facts {
            @for fact in all {
                div {
                    dt { (text(&fact.label, l)) }
                    dd {
                        span.value { (text(&fact.value, l)) }
                        @if !fact.note.0.is_empty() {
                            span.note { (text(&fact.note, l)) }
                        }
                    }
                }
            }
        }
    }
}

/// An id that no other part of the page has.
fn unique(wanted: String, ids: &mut BTreeSet<String>) -> String {
    let mut name = wanted.clone();
    let mut k = 2;
    while !ids.insert(name.clone()) {
        name = format!("{wanted}-{k}");
        k += 1;
    }
    name
}

fn figure(f: &Figure, count: &mut Count) -> Markup {
    let l = count.language;
    count.figures += 1;
    let id = unique(chart::id(&f.wide.words.id), &mut count.ids);
    let picture = |d: &Drawing, ids: &mut BTreeSet<String>| {
        let prefix = unique(d.id(), ids);
        PreEscaped(d.inline_as(&prefix))
    };
    let title = clean(f.wide.title());
    html! {
        figure id=(id) {
            p.says { (title) @if f.invented { " " (badge(l)) } }
            div class=(if f.narrow.is_some() { "wide" } else { "any" }) {
                (picture(&f.wide, &mut count.ids))
            }
            @if let Some(narrow) = &f.narrow {
                div.narrow { (picture(narrow, &mut count.ids)) }
            }
            figcaption {
                strong { (l.say("page.figure", &[("number", &count.figures.to_string())])) " " }
                (clean(f.wide.caption()))
                @for note in f.wide.notes() { " " (clean(note)) }
            }
            @if let Some(data) = &f.table { (data_table(data, l)) }
        }
    }
}

/// The figures behind a picture, folded away.
fn data_table(data: &DataTable, l: Language) -> Markup {
    let plain = Table::from(data.clone());
    html! {
        details.figures {
            summary { (l.say("page.in_figures", &[])) }
            (table(&plain, &mut Count { language: l, ..Count::default() }, false))
        }
    }
}

fn table(t: &Table, count: &mut Count, numbered: bool) -> Markup {
    let l = count.language;
    if numbered {
        count.tables += 1;
    }
    let id = (!t.id.is_empty()).then(|| unique(chart::id(&t.id), &mut count.ids));
    let row = |cells: &[Text]| {
        let blank = t.columns.len().saturating_sub(cells.len());
        html! {
            tr {
                @for (i, cell) in cells.iter().enumerate() {
                    @if i == 0 {
                        th scope="row" dir="auto" { (text(cell, l)) }
                    } @else if t.columns.get(i).is_some_and(|c: &Column| c.figures) {
                        td.n { (text(cell, l)) }
                    } @else {
                        td dir="auto" { (text(cell, l)) }
                    }
                }
                @for _ in 0..blank { td {} }
            }
        }
    };
    html! {
        div.scroll tabindex="0" role="region" aria-label=(clean(&t.caption.plain())) {
            table id=[id] class=[(t.rows.len() <= 14).then_some("short")] {
                caption {
                    @if numbered { strong { (l.say("page.table", &[("number", &count.tables.to_string())])) " " } }
                    (text(&t.caption, l))
                    @if t.invented { " " (badge(l)) }
                }
                thead {
                    tr {
                        @for column in &t.columns {
                            th scope="col" class=[column.figures.then_some("n")] dir="auto" {
                                (text(&column.text, l))
                            }
                        }
                    }
                }
                tbody { @for cells in &t.rows { (row(cells)) } }
                @if let Some(total) = &t.total { tfoot { (row(total)) } }
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_name_cannot_leave_the_style_sheet() {
        let got = css_string("a\"}</style>\\\n<script>", 60);
        assert!(!got.contains('<') && !got.contains('}') && got.matches('"').count() == 2, "{got}");
    }

    #[test]
    fn languages() {
        assert_eq!(language_tag("pt-BR"), "pt-BR");
        assert_eq!(language_tag("en\" onload=\"x"), "und");
        assert_eq!(language_tag(""), "und");
    }
}
