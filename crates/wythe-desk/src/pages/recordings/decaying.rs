//! Decays of a recording with the lines that were fitted to them.

use maud::{Markup, PreEscaped, html};
use wythe_bands::Band;
use wythe_building::Building;
use wythe_folder::decay_curves;
use wythe_project::survey::{Recording, StretchKind};
use wythe_report::chart::{Format, number};
use wythe_report::report::DecayDrawn;
use wythe_report::report::parts::decay_chart;

use crate::pages::{Ctx, Page};

/// Curves drawn of one band; the rest stand in the figures.
const MOST: usize = 4;

/// The part of the page; nothing where no decay is marked.
pub fn part(ctx: &Ctx<'_>, b: &Building, r: &Recording, n: usize) -> Markup {
    if !r.stretches.iter().any(|s| s.kind == StretchKind::Decay) {
        return html! {};
    }
    let bands: Vec<Band> = Band::range(Band::HZ_50, Band::HZ_5000).collect();
    let asked = ctx.asked("band").unwrap_or("500");
    let band = bands.iter().copied().find(|x| x.nominal() == asked).unwrap_or(Band::HZ_500);
    let found = found(ctx, b, r, band);
    html! {
        div #decays data-live {
            h2 { "Decays" }
            p.choices { span.lead { "Band" }
                @for x in &bands {
                    a.choice href=(ctx.here_with(Page::Recordings, &[("band", x.nominal())])) aria-current=[(*x == band).then_some("true")] { (x.nominal()) }
                }
            }
            @match &found {
                Err(why) => p.notice { (why) "." },
                Ok(all) if all.is_empty() => p { "No decay could be evaluated at " (band.nominal()) " Hz: the room falls quiet faster than the filter can show, or the sound does not rise far enough above the noise." },
                Ok(all) => {
                    @for (i, f) in all.iter().take(MOST).enumerate() { (picture(f, n, i)) }
                    div.scroll tabindex="0" role="region" aria-label="Decay times" {
                        table {
                            caption { "Decay times at " (band.nominal()) " Hz" }
                            thead { tr { th scope="col" { "Decay" } th.n scope="col" { "EDT, s" } th.n scope="col" { "T" sub { "20" } ", s" } th.n scope="col" { "T" sub { "30" } ", s" } th.n scope="col" { "Above the noise, dB" } th.n scope="col" { "Not straight, ‰" } } }
                            tbody { @for d in all { tr {
                                th scope="row" dir="auto" { (d.label) }
                                @for time in [d.edt, d.fit.map(|f| f.t20), d.t30] { td.n { (time.map_or("–".into(), |t| number(t.0, 2))) } }
                                td.n { (d.range.map_or("–".into(), |x| number(x.0, 0))) }
                                td.n { (d.non_linearity.map_or("–".into(), |x| number(x, 1))) }
                            } } }
                        }
                    }
                }
            }
        }
    }
}

fn found(
    ctx: &Ctx<'_>,
    b: &Building,
    r: &Recording,
    band: Band,
) -> Result<Vec<DecayDrawn>, String> {
    let all = decay_curves::of(ctx.open.store.folder(), r, &[band])?;
    Ok(all
        .iter()
        .map(|f| {
            let room = b.rooms[f.room.0].name();
            let label = format!("channel {} {room}, {}", f.channel, super::clock(f.at.0));
            decay_curves::drawn(f, label)
        })
        .collect())
}

fn picture(d: &DecayDrawn, n: usize, i: usize) -> Markup {
    let trace = decay_chart(d, format!("decay-{n}-{i}"));
    let wide = trace.draw(Format::Screen);
    html! {
        figure {
            p.says { (wide.title()) }
            div.wide { (PreEscaped(wide.inline())) }
            div.narrow { (PreEscaped(trace.draw(Format::Phone).inline())) }
            figcaption { (wide.caption()) }
        }
    }
}
