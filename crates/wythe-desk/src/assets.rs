//! The files of the pages that are the same for every project, built into the program.

use axum::extract::Path;
use axum::http::{StatusCode, header};
use axum::response::{IntoResponse, Response};
use wythe_report::{chart, design, page};

const SCRIPT: &str = "text/javascript; charset=utf-8";

/// Scripts by name.
pub const SCRIPTS: &[(&str, &str)] = &[
    ("desk.js", include_str!("../web/desk.js")),
    ("live.js", include_str!("../web/live.js")),
    ("edit.js", include_str!("../web/edit.js")),
    ("keys.js", include_str!("../web/keys.js")),
    ("theme.js", include_str!("../web/theme.js")),
    ("walls.js", include_str!("../web/walls.js")),
    ("stretches.js", include_str!("../web/stretches.js")),
    ("places.js", include_str!("../web/places.js")),
    ("player.js", include_str!("../web/player.js")),
    ("points.js", include_str!("../web/points.js")),
    ("making.js", include_str!("../web/making.js")),
    ("openings.js", include_str!("../web/openings.js")),
    ("tracing.js", include_str!("../web/tracing.js")),
    ("units.js", include_str!("../web/units.js")),
    ("sheet.js", include_str!("../web/sheet.js")),
    ("layers.js", include_str!("../web/layers.js")),
    ("phone.js", include_str!("../web/phone.js")),
    ("upload.js", include_str!("../web/upload.js")),
];

/// One file.
pub async fn asset(Path(name): Path<String>) -> Response {
    let found = match name.as_str() {
        "desk.css" => Some(("text/css; charset=utf-8", style())),
        _ => SCRIPTS.iter().find(|(n, _)| *n == name).map(|(_, t)| (SCRIPT, (*t).to_owned())),
    };
    match found {
        Some((kind, text)) => ([(header::CONTENT_TYPE, kind)], text).into_response(),
        None => StatusCode::NOT_FOUND.into_response(),
    }
}

/// Colours and pictures as in the report, then what a page of the desk has beside.
fn style() -> String {
    format!(
        "{}{}\n{}\n{}",
        design::custom_properties(),
        chart::STYLE,
        page::STYLE,
        include_str!("../web/desk.css")
    )
}
