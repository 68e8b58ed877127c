//! The page stands alone and can be read by those who do not see it.

use super::gallery;
use std::collections::BTreeSet;
use wythe_report::chart::*;
use wythe_report::page::*;

fn attributes<'a>(html: &'a str, name: &str) -> Vec<&'a str> {
    html.split(&format!(" {name}=\"")).skip(1).filter_map(|s| s.split('"').next()).collect()
}

#[test]
fn nothing_is_fetched_and_nothing_runs() {
    let html = gallery::document().html();
    assert!(html.starts_with("<!DOCTYPE html>"));
    assert!(html.contains("default-src &#39;none&#39;") || html.contains("default-src 'none'"));
    for forbidden in
        ["<script", "<link", "<img", "<iframe", " src=\"", " style=\"", "@import", "url(http"]
    {
        assert!(!html.contains(forbidden), "{forbidden}");
    }
    // The name of the SVG dialect is the only address, and nothing is loaded from it.
    let bare = html.replace("xmlns=\"http://www.w3.org/2000/svg\"", "");
    assert!(!bare.contains("http://") && !bare.contains("https://"));
    assert!(attributes(&html, "href").iter().all(|h| h.starts_with('#')));
}

#[test]
fn ids_are_unique_and_every_reference_arrives() {
    let mut document = gallery::document();
    // The same picture twice is the caller's right.
    let again = document.blocks.clone();
    document.blocks.extend(again);
    let html = document.html();
    let ids = attributes(&html, "id");
    let known: BTreeSet<&str> = ids.iter().copied().collect();
    assert_eq!(known.len(), ids.len(), "an id stands twice");
    for link in attributes(&html, "href") {
        assert!(known.contains(&link[1..]), "{link} leads nowhere");
    }
    for desc in attributes(&html, "aria-describedby") {
        assert!(known.contains(desc), "{desc}");
    }
    for paint in html.split("\"url(#").skip(1).filter_map(|s| s.split(')').next()) {
        assert!(known.contains(paint), "{paint}");
    }
}

#[test]
fn tables_have_captions_and_scopes_and_figures_have_numbers() {
    let html = gallery::document().html();
    assert_eq!(html.matches("<table").count(), html.matches("<caption").count());
    let heads = html.matches("<th ").count() + html.matches("<th>").count();
    let scoped = html.matches("<th scope=\"").count();
    assert!(scoped > 20);
    assert_eq!(heads, scoped);
    let figures = html.matches("<figure ").count();
    for number in 1..=figures {
        assert_eq!(html.matches(&format!("<strong>Figure {number}. </strong>")).count(), 1);
    }
    assert!(
        html.contains("<a class=\"skip\" href=\"#main\">") && html.contains("<main id=\"main\">")
    );
    assert!(html.contains("<html lang=\"en\">"));
    assert_eq!(html.matches("<h1").count(), 1);
}

#[test]
fn elements_close_in_the_order_they_opened() {
    let html = gallery::document().html();
    let (_, mut rest) = html.split_once("<body>").expect("a body");
    let mut open = vec!["html".to_owned(), "body".to_owned()];
    while let Some((_, after)) = rest.split_once('<') {
        let (tag, next) = after.split_once('>').expect("the tag ends");
        rest = next;
        let name: String =
            tag.trim_start_matches('/').chars().take_while(|c| c.is_ascii_alphanumeric()).collect();
        if tag.starts_with('/') {
            assert_eq!(open.pop().as_deref(), Some(name.as_str()));
        } else if !tag.ends_with('/') {
            assert!(!matches!(name.as_str(), "br" | "hr" | "img" | "input"));
            open.push(name);
        }
    }
    assert!(open.is_empty(), "{open:?}");
}

#[test]
fn invented_data_is_said_in_a_word() {
    let html = gallery::document().html();
    let figures = html.matches("<figure ").count();
    assert!(html.matches("<span class=\"badge\">invented</span>").count() > figures);
}

#[test]
fn the_table_behind_a_chart_says_not_known_and_never_zero() {
    use wythe_bands::{Band, LevelDifference, Spectrum};
    let words = Words::new("t", "Table", "");
    let mut chart = BandChart::new(words, Quantity::new("Level difference", "D", ""));
    let values: Spectrum<LevelDifference> =
        [(Band::HZ_500, LevelDifference(-3.25))].into_iter().collect();
    let trace = Trace::differences(Role::Measured, "m", &values).with_bounds(|_| Bound::AtLeast);
    chart.traces.push(trace);
    let table = chart.table();
    assert_eq!(table.rows.len(), 21);
    let known: Vec<_> = table.rows.iter().filter(|r| r[1] != "not known").collect();
    assert_eq!(known.len(), 1);
    assert_eq!(known[0][0], "500");
    assert!(known[0][1].starts_with("at least \u{2212}3."));
}

#[test]
fn the_foot_names_project_and_version_on_every_sheet() {
    let document = gallery::document();
    let html = document.html();
    assert!(html.contains("@bottom-right") && html.contains("counter(pages)"));
    let of = |paper| Document { paper, ..gallery::document() }.html();
    assert!(of(Paper::A4).contains("size:A4") && of(Paper::Letter).contains("size:letter"));
    assert!(!html.contains("size:A4"));
}
