//! Decays of a recording with the lines that were fitted to them.

use maud::{Markup, PreEscaped, html};
use wythe_bands::{Band, Level, Seconds};
use wythe_building::Building;
use wythe_folder::load::DiskFiles;
use wythe_project::survey::{Recording, StretchKind};
use wythe_recording::decay::{DecayCurve, Excitation, curve, events};
use wythe_recording::{LONGEST_STRETCH, open, read_stretch};
use wythe_report::chart::{self, Format, LevelTrace, Role, TimeLine, Words, number};

use crate::pages::{Ctx, Page};

/// Curves drawn of one band; the rest stand in the figures.
const MOST: usize = 4;

struct Found {
    label: String,
    curve: DecayCurve,
    excitation: Excitation,
}

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
                    @for (i, f) in all.iter().take(MOST).enumerate() { (picture(f, band, n, i)) }
                    div.scroll tabindex="0" role="region" aria-label="Decay times" {
                        table {
                            caption { "Decay times at " (band.nominal()) " Hz" }
                            thead { tr { th scope="col" { "Decay" } th.n scope="col" { "EDT, s" } th.n scope="col" { "T" sub { "20" } ", s" } th.n scope="col" { "T" sub { "30" } ", s" } th.n scope="col" { "Above the noise, dB" } th.n scope="col" { "Not straight, ‰" } } }
                            tbody { @for f in all { @let d = &f.curve.decay; tr {
                                th scope="row" dir="auto" { (f.label) }
                                @for line in [d.edt, d.t20, d.t30] { td.n { (line.map_or("–".into(), |l| number(l.time.0, 2))) } }
                                td.n { (d.range.map_or("–".into(), |x| number(x.0, 0))) }
                                td.n { (d.t20.map_or("–".into(), |l| number(l.non_linearity(), 1))) }
                            } } }
                        }
                    }
                }
            }
        }
    }
}

fn found(ctx: &Ctx<'_>, b: &Building, r: &Recording, band: Band) -> Result<Vec<Found>, String> {
    let path = DiskFiles::new(ctx.open.store.folder())
        .path(&r.file)
        .map_err(|e| format!("{} cannot be read: {e}", r.file))?;
    let mut out = Vec::new();
    for s in r.stretches.iter().filter(|s| s.kind == StretchKind::Decay) {
        let to = Seconds(s.to.0.min(s.from.0 + LONGEST_STRETCH));
        for c in r.channels.iter().filter(|c| {
            let named = s.channels.contains(&c.number);
            if s.channels.is_empty() { s.room.is_none_or(|room| room == c.room) } else { named }
        }) {
            let file = std::fs::File::open(&path).map_err(|e| e.to_string())?;
            let mut samples = open(std::io::BufReader::with_capacity(1 << 20, file))
                .map_err(|e| e.to_string())?;
            let rate = f64::from(samples.format().rate);
            let line = read_stretch(&mut *samples, usize::from(c.number), s.from, to)
                .map_err(|e| e.to_string())?;
            for (from, to, excitation) in events(&line, rate) {
                let Ok(Some(curve)) = curve(&line[from..to], rate, band, excitation) else {
                    continue;
                };
                let at = super::clock(s.from.0 + from as f64 / rate);
                let label = format!("channel {} {}, {at}", c.number, b.rooms[c.room.0].name());
                out.push(Found { label, curve, excitation });
            }
        }
    }
    Ok(out)
}

/// One decay: the curve in ink, the line of T20 in dashes where it was fitted, and on to −60 dB.
fn picture(f: &Found, band: Band, n: usize, i: usize) -> Markup {
    let c = &f.curve;
    let level = |db: f64| (db > -75.0).then_some(Level(db));
    // The interesting part: down to the noise, and a little further.
    let last = c.decay.knee.map_or(f64::INFINITY, |k| 1.3 * k.0 + 0.1);
    let shown = ((last / c.step.0) as usize).min(c.levels.len());
    let mut lines = vec![TimeLine {
        role: Role::Measured,
        label: "recorded".into(),
        start: Seconds(0.0),
        step: c.step,
        values: c.levels[..shown].iter().map(|l| level(*l)).collect(),
    }];
    let mut stretches = Vec::new();
    if let (Some(t20), Some((from, to)), Some((middle, there))) =
        (c.decay.t20, c.evaluated, c.centre)
    {
        let slope = -60.0 / t20.time.0;
        let count = ((1.25 * (to.0 - from.0) / c.step.0) as usize).max(2);
        lines.push(TimeLine {
            role: Role::Predicted,
            label: format!("T20 {} s", number(t20.time.0, 2)),
            start: from,
            step: c.step,
            values: (0..count)
                .map(|k| level(there + slope * (from.0 + k as f64 * c.step.0 - middle.0)))
                .collect(),
        });
        stretches.push(chart::Stretch {
            kind: chart::StretchKind::Used,
            from,
            to,
            label: "evaluated, −5 to −25 dB".into(),
        });
    }
    let how = match f.excitation {
        Excitation::Impulse => "an impulse",
        Excitation::InterruptedNoise => "steady noise that stops",
    };
    let trace = LevelTrace {
        words: Words::new(
            format!("decay-{n}-{i}"),
            format!("{}, {} Hz", f.label, band.nominal()),
            format!(
                "Decay after {how}, filtered backwards in time, energy still to come (Schroeder \
                 1965), noise taken off. ISO 3382-2: T20 from −5 to −25 dB."
            ),
        ),
        quantity: "Level re its beginning, dB".into(),
        lines,
        stretches,
    };
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
