//! How a recording was calibrated: what is stated, what came of it, and the form that states it.

use maud::{Markup, html};
use wythe_findings::Measured;
use wythe_project::survey::{Calibration, Recording};
use wythe_report::chart::number;

use crate::pages::Ctx;
use crate::pages::fields::hidden;

/// The part of the page.
pub fn part(ctx: &Ctx<'_>, r: &Recording, n: usize, measured: Option<&Measured>) -> Markup {
    let came = |channel: u16| {
        let name = r.file.rsplit('/').next().unwrap_or(&r.file);
        let label = format!("{name}:{channel}");
        measured.and_then(|m| m.positions.iter().find(|p| p.recording == n && p.channel == label))
    };
    html! {
        div #calibration-part data-live {
            h2 { "Calibration" }
            div.scroll tabindex="0" role="region" aria-label="Calibration" {
                table {
                    caption { "What is stated, and what came of it" }
                    thead { tr { th scope="col" { "Channel" } th scope="col" { "Stated" } th scope="col" { "Found" } th.n scope="col" { "Uncertainty, dB" } } }
                    tbody { @for c in &r.channels { tr {
                        th scope="row" { (c.number) }
                        td { @match (&c.calibration, &r.calibration) {
                            (Some(own), _) => (stated(own)),
                            (None, Some(all)) => { (stated(all)) ", as every channel" },
                            (None, None) => "nothing",
                        } }
                        @match came(c.number) {
                            Some(p) => {
                                td { (p.calibration) @if !p.calibrated { " (relative only)" } }
                                td.n { @if p.calibrated { (number(p.calibration_deviation.0, 1)) } @else { "–" } }
                            }
                            None => { td { "not measured yet" } td.n { "–" } }
                        }
                    } } }
                }
            }
            details {
                summary { "State how it was calibrated" }
                form.grid #calibrate method="post" action="/edit" data-edit {
                    (hidden(ctx, "calibrate", "survey", &format!("recording[{n}]"), "", "the calibration"))
                    label { "Of" select name="at" { option value="0" { "every channel" }
                        @for (i, c) in r.channels.iter().enumerate() { option value=(i + 1) { "channel " (c.number) " alone" } } } }
                    label { "By" select name="like" {
                        option value="tone" { "a calibrator's tone" }
                        option value="full scale" { "what full scale is" }
                        option value="beside" { "standing beside a calibrated channel" }
                        option value="none" { "nothing (take it out)" } } }
                    label { "Level, or that channel's number" input name="value" autocomplete="off" placeholder="94 dB"; }
                    label { "Frequency of the tone" input name="frequency" autocomplete="off" placeholder="1 kHz"; }
                    label { "From (searched if empty)" input name="from" autocomplete="off" placeholder="0:01"; }
                    label { "To" input name="until" autocomplete="off" placeholder="0:05"; }
                    button { "State it" }
                    p.error role="alert" {}
                }
            }
        }
    }
}

fn stated(c: &Calibration) -> String {
    match c {
        Calibration::FullScale(p) => format!("full scale is {} Pa", number(p.0, 2)),
        Calibration::Tone { level, frequency, stretch, file } => {
            let place = match (stretch, file) {
                (_, Some(file)) => format!(" in {file}"),
                (Some((a, b)), _) => {
                    format!(" from {} to {}", super::clock(a.0), super::clock(b.0))
                }
                (None, None) => ", searched".into(),
            };
            format!("tone of {} dB at {} Hz{place}", number(level.0, 1), number(frequency.0, 0))
        }
        Calibration::Beside { channel, .. } => format!("beside channel {channel}"),
    }
}
