//! One self-contained HTML file from a [`Document`].

use super::document::{
    Answer, Block, Column, Document, Fact, Figure, ListKind, Paper, Table, Verdict,
};
use super::text::{Span, Text};
use crate::chart::{self, DataTable, Drawing};
use crate::design;
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
}

impl Document {
    /// The document as one HTML file: no script, nothing fetched, light and dark on a screen,
    /// light on white in print.
    pub fn html(&self) -> String {
        let mut count = Count::default();
        let body = blocks(&self.blocks, &mut count);
        let heads = self.main_headings();
        let methods = self.methods.join("; ");
        let page: Markup = html! {
            (DOCTYPE)
            html lang=(language_tag(&self.language)) {
                head {
                    meta charset="utf-8";
                    meta http-equiv="Content-Security-Policy" content=(POLICY);
                    meta name="viewport" content="width=device-width, initial-scale=1";
                    meta name="color-scheme" content="light dark";
                    meta name="generator" content=(clean(&format!("wythe {}", self.version)));
                    title { (clean(&self.title)) }
                    style { (PreEscaped(self.style())) }
                }
                body {
                    a.skip href="#main" { "Skip to the content" }
                    header {
                        h1 dir="auto" { (clean(&self.title)) }
                        p.under dir="auto" {
                            (clean(&self.project))
                            @if !self.date.is_empty() { " · " (clean(&self.date)) }
                        }
                        @if self.contents && heads.len() > 1 {
                            nav aria-label="Contents" {
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
                        p dir="auto" {
                            (clean(&self.project)) " · " (clean(&self.date))
                            " · wythe " (clean(&self.version))
                        }
                        @if !methods.is_empty() { p { "Methods: " (clean(&methods)) } }
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
        let left = format!("{} · {}", self.project, self.date);
        let middle = self.methods.join("; ");
        let version = format!("wythe {}", self.version);
        // The foot repeats on every sheet through the page's margin boxes.
        let foot = format!(
            "@page{{{size}margin:18mm 20mm 22mm;\
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
        Block::Details(_, inner) => inner.iter().map(headings_in).sum(),
        _ => 0,
    }
}

/// A language tag, or `und` where the text is none.
fn language_tag(text: &str) -> &str {
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

fn text(t: &Text) -> Markup {
    html! {
        @for span in &t.0 {
            @match span {
                Span::Plain(s) => (clean(s)),
                Span::Strong(s) => strong { (clean(s)) },
                Span::Sub(s) => sub { (clean(s)) },
                Span::Sup(s) => sup { (clean(s)) },
                Span::Code(s) => code { (clean(s)) },
                Span::Link { to, text } => a href=(format!("#{}", chart::id(to))) { (clean(text)) },
                Span::Invented => (badge()),
            }
        }
    }
}

fn badge() -> Markup {
    html! { span.badge { "invented" } }
}

fn blocks(all: &[Block], count: &mut Count) -> Markup {
    html! { @for block in all { (one(block, count)) } }
}

fn one(block: &Block, count: &mut Count) -> Markup {
    match block {
        Block::Heading { level, text: t } => {
            count.headings += 1;
            let id = format!("part-{}", count.headings);
            match level {
                0..=2 => html! { h2 id=(id) dir="auto" { (text(t)) } },
                3 => html! { h3 id=(id) dir="auto" { (text(t)) } },
                _ => html! { h4 id=(id) dir="auto" { (text(t)) } },
            }
        }
        Block::Answer(a) => answer(a),
        Block::Paragraph(t) => html! { p dir="auto" { (text(t)) } },
        Block::List(kind, items) => list(*kind, items),
        Block::Facts(all) => facts(all),
        Block::Figure(f) => figure(f, count),
        Block::Table(t) => table(t, count, true),
        Block::Rooms(rooms) => html! {
            div.scroll tabindex="0" role="region" aria-label=(clean(&rooms.caption)) {
                (PreEscaped(rooms.html()))
            }
        },
        Block::Caution(t) => html! {
            aside.caution role="note" { p dir="auto" { strong { "Caution. " } (text(t)) } }
        },
        Block::Notice(t) => html! { aside.notice role="note" { p dir="auto" { (text(t)) } } },
        Block::Details(summary, inner) => html! {
            details { summary dir="auto" { (clean(summary)) } (blocks(inner, count)) }
        },
        Block::PageBreak => html! { div.sheet {} },
    }
}

fn answer(a: &Answer) -> Markup {
    let (mark, word, class) = match a.verdict {
        Verdict::Met => ("✓", "Met", "answer met"),
        Verdict::Short => ("▮", "Short", "answer short"),
        Verdict::NotKnown => ("?", "Not known", "answer open"),
    };
    html! {
        div class=(class) {
            p.verdict { span.mark aria-hidden="true" { (mark) } " " (word) }
            p.sentence dir="auto" { (text(&a.sentence)) }
            @if !a.more.0.is_empty() { p.more dir="auto" { (text(&a.more)) } }
        }
    }
}

fn list(kind: ListKind, items: &[Text]) -> Markup {
    let inner = html! { @for item in items { li dir="auto" { (text(item)) } } };
    match kind {
        ListKind::Plain => html! { ul { (inner) } },
        ListKind::Numbered => html! { ol { (inner) } },
        ListKind::Checks => html! { ul.checks { (inner) } },
    }
}

fn facts(all: &[Fact]) -> Markup {
    html! {
        dl.facts {
            @for fact in all {
                div {
                    dt dir="auto" { (text(&fact.label)) }
                    dd {
                        span.value dir="auto" { (text(&fact.value)) }
                        @if !fact.note.0.is_empty() {
                            span.note dir="auto" { (text(&fact.note)) }
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
    count.figures += 1;
    let id = unique(chart::id(&f.wide.words.id), &mut count.ids);
    let picture = |d: &Drawing, ids: &mut BTreeSet<String>| {
        let prefix = unique(d.id(), ids);
        PreEscaped(d.inline_as(&prefix))
    };
    let title = clean(f.wide.title());
    html! {
        figure id=(id) {
            p.says dir="auto" { (title) @if f.invented { " " (badge()) } }
            div class=(if f.narrow.is_some() { "wide" } else { "any" }) {
                (picture(&f.wide, &mut count.ids))
            }
            @if let Some(narrow) = &f.narrow {
                div.narrow { (picture(narrow, &mut count.ids)) }
            }
            figcaption dir="auto" {
                strong { "Figure " (count.figures) ". " }
                (clean(f.wide.caption()))
                @for note in f.wide.notes() { " " (clean(note)) }
            }
            @if let Some(data) = &f.table { (data_table(data)) }
        }
    }
}

/// The figures behind a picture, folded away.
fn data_table(data: &DataTable) -> Markup {
    let plain = Table::from(data.clone());
    html! {
        details.figures {
            summary { "The same in figures" }
            (table(&plain, &mut Count::default(), false))
        }
    }
}

fn table(t: &Table, count: &mut Count, numbered: bool) -> Markup {
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
                        th scope="row" dir="auto" { (text(cell)) }
                    } @else if t.columns.get(i).is_some_and(|c: &Column| c.figures) {
                        td.n { (text(cell)) }
                    } @else {
                        td dir="auto" { (text(cell)) }
                    }
                }
                @for _ in 0..blank { td {} }
            }
        }
    };
    html! {
        div.scroll tabindex="0" role="region" aria-label=(clean(&t.caption.plain())) {
            table id=[id] class=[(t.rows.len() <= 14).then_some("short")] {
                caption dir="auto" {
                    @if numbered { strong { "Table " (count.tables) ". " } }
                    (text(&t.caption))
                    @if t.invented { " " (badge()) }
                }
                thead {
                    tr {
                        @for column in &t.columns {
                            th scope="col" class=[column.figures.then_some("n")] dir="auto" {
                                (text(&column.text))
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
