//! Addresses and what answers them.

use std::convert::Infallible;
use std::path::{Path as FilePath, PathBuf};
use std::sync::{Arc, PoisonError};
use std::time::Duration;

use axum::body::Body;
use axum::extract::{DefaultBodyLimit, Form, Path, Query, Request, State};
use axum::http::{HeaderMap, StatusCode, header};
use axum::response::sse::{Event as Sent, KeepAlive, Sse};
use axum::response::{Html, IntoResponse, Redirect, Response};
use axum::routing::{get, post, put};
use axum::{Json, Router, middleware};
use futures_util::stream::{self, Stream};
use serde::Deserialize;
use serde_json::json;
use tokio::sync::broadcast::error::RecvError;
use wythe_folder::failure::Failure;
use wythe_folder::{browser, write};
use wythe_report::report::Units;

use crate::desk::{Desk, Event, Open};
use crate::edit::{Edit, Refused, apply};
use crate::first::{self, Answers};
use crate::guard::{self, DOCUMENT_POLICY};
use crate::making::Making;
use crate::pages::{self, Ctx, Page};
use crate::scene::Scene;
use crate::slide::Slide;
use crate::store::StoreError;
use crate::{assets, downloads, note, player, recent, sheet, tracing, trials, upload, words_of};

type Words = std::collections::BTreeMap<String, String>;

/// Everything the desk answers.
pub fn router(desk: Arc<Desk>) -> Router {
    let mut router = Router::new()
        .route("/", get(home))
        .route("/start", get(start))
        .route("/start/{what}", post(begin_project))
        .route("/edit", post(edit))
        .route("/try", post(try_edit))
        .route("/sheet", post(save_sheet))
        .route(
            "/tracing/{name}",
            get(show_tracing).put(take_tracing).layer(DefaultBodyLimit::max(tracing::LARGEST)),
        )
        .route("/sheet/read", post(read_sheet))
        .route("/undo", post(undo))
        .route("/redo", post(redo))
        .route("/job/{what}", post(work))
        .route("/prepare", post(prepare))
        .route("/piece.wav", get(piece))
        .route("/heard.wav", get(heard))
        .route("/share/{what}", post(shared))
        .route("/events", get(events))
        .route("/report/{name}", get(report))
        .route("/tables/{name}", get(tables))
        .route("/start/making", get(making))
        .route("/upload/{name}", put(take).layer(DefaultBodyLimit::disable()))
        .route("/assets/{name}", get(assets::asset));
    for page in Page::ALL {
        router = router.route(
            page.address(),
            get(move |state: State<Arc<Desk>>, query: Query<Words>| show(state, query, page)),
        );
    }
    router
        .layer(DefaultBodyLimit::max(guard::LARGEST_FORM))
        .layer(middleware::from_fn_with_state(desk.clone(), guard::guard))
        .with_state(desk)
}

async fn home(State(desk): State<Arc<Desk>>) -> Redirect {
    Redirect::to(if desk.project().is_some() { "/house" } else { "/start" })
}

async fn start(State(desk): State<Arc<Desk>>) -> Html<String> {
    Html(pages::start(&recent::list(), None, &desk.making.standing(), &Answers::default()))
}

/// How far the demonstration is.
async fn making(State(desk): State<Arc<Desk>>) -> Response {
    let standing = desk.making.standing();
    Json(json!({
        "doing": standing.doing, "share": standing.share, "failed": standing.failed,
        "done": standing.done,
    }))
    .into_response()
}

#[derive(Deserialize)]
struct Beginning {
    #[serde(default)]
    folder: String,
    #[serde(flatten)]
    answers: Answers,
}

async fn begin_project(
    State(desk): State<Arc<Desk>>,
    Path(what): Path<String>,
    Form(form): Form<Beginning>,
) -> Response {
    let folder = PathBuf::from(form.folder.trim());
    let answers = form.answers.clone();
    if what == "stop" {
        desk.making.stop();
        return Redirect::to("/start").into_response();
    }
    if what == "demo" && !folder.as_os_str().is_empty() {
        return match Making::begin(&desk, folder) {
            Ok(()) => Redirect::to("/start").into_response(),
            Err(why) => not_begun(&desk, &why, &answers),
        };
    }
    let opened = desk.clone();
    let done = blocking(move || {
        if folder.as_os_str().is_empty() {
            return Err("name a folder".to_owned());
        }
        let said = |f: Failure| words_of(&f);
        let text = match what.as_str() {
            "new" => Some(wythe_project::template()),
            "first" => Some(first::project(&form.answers)?),
            "open" => None,
            _ => return Err("the desk knows no such beginning".to_owned()),
        };
        if let Some(text) = text {
            write::fresh_folder(&folder).map_err(said)?;
            let place = folder.join(wythe_project::PROJECT_FILE);
            write::text(&place, &text).map_err(said)?;
        }
        opened.open(&folder).map_err(|e| e.to_string())?;
        Ok(if what == "first" { "/house?room=loud&to=quiet" } else { "/house" })
    })
    .await;
    match done {
        Ok(place) => Redirect::to(place).into_response(),
        Err(why) => not_begun(&desk, &why, &answers),
    }
}

fn not_begun(desk: &Desk, why: &str, answers: &Answers) -> Response {
    let page = pages::start(&recent::list(), Some(why), &desk.making.standing(), answers);
    (StatusCode::UNPROCESSABLE_ENTITY, Html(page)).into_response()
}

/// Work that keeps a core busy does not hold up the others who ask.
async fn blocking<T: Send + 'static>(work: impl FnOnce() -> T + Send + 'static) -> T {
    match tokio::task::spawn_blocking(work).await {
        Ok(value) => value,
        // A panic goes on to whoever asked; the server answers with a failure of its own.
        Err(error) => std::panic::resume_unwind(error.into_panic()),
    }
}

fn ctx<'a>(
    desk: &'a Desk,
    open: &'a Open,
    scene: &'a Scene,
    page: Page,
    query: &'a Words,
) -> Ctx<'a> {
    Ctx {
        open,
        scene,
        query,
        address: pages::address(page, query),
        done: open.work.done(),
        standing: open.work.standing(),
        about: pages::about(crate::units::of(scene.document.as_ref())),
        share: desk.share.as_ref(),
    }
}

fn trouble(error: &StoreError) -> Response {
    let body = format!("The project cannot be read: {error}.");
    (StatusCode::INTERNAL_SERVER_ERROR, body).into_response()
}

async fn show(State(desk): State<Arc<Desk>>, Query(query): Query<Words>, page: Page) -> Response {
    let Some(open) = desk.project() else { return Redirect::to("/start").into_response() };
    blocking(move || match open.scene() {
        Ok(scene) => {
            if page.needs_work() && scene.project.is_some() {
                open.work.begin(open.store.folder().to_owned(), scene.mark(), false);
            }
            Html(pages::page(&ctx(&desk, &open, &scene, page, &query), page)).into_response()
        }
        Err(e) => trouble(&e),
    })
    .await
}

/// The page and words of an address a form came from.
fn back(address: &str) -> Option<(Page, Words)> {
    let (path, words) = address.split_once('?').unwrap_or((address, ""));
    let page = Page::ALL.into_iter().find(|p| p.address() == path)?;
    let uri: axum::http::Uri = format!("/?{words}").parse().ok()?;
    let Query(words) = Query::<Words>::try_from_uri(&uri).ok()?;
    Some((page, words))
}

/// A form's way back: only to a page of the desk.
fn back_to(address: &str) -> Redirect {
    match back(address) {
        Some((page, words)) => Redirect::to(&pages::address(page, &words)),
        None => Redirect::to("/house"),
    }
}

fn wants_json(headers: &HeaderMap) -> bool {
    headers
        .get(header::ACCEPT)
        .and_then(|v| v.to_str().ok())
        .is_some_and(|v| v.contains("application/json"))
}

fn refused(headers: &HeaderMap, refusal: &Refused) -> Response {
    let (status, body, text) = match refusal {
        Refused::Invalid { why, help } => (
            StatusCode::UNPROCESSABLE_ENTITY,
            json!({ "why": why, "help": help }),
            format!("Not saved: {why}. {help}"),
        ),
        Refused::Conflict { theirs } => (
            StatusCode::CONFLICT,
            json!({ "theirs": theirs }),
            format!("Not saved: somebody changed this meanwhile; it is now {theirs}."),
        ),
    };
    if wants_json(headers) {
        (status, Json(body)).into_response()
    } else {
        (status, text).into_response()
    }
}

/// The scene after a change that has not been saved, or why it cannot be made.
fn tried(open: &Open, scene: &Scene, edit: &Edit) -> Result<Scene, Refused> {
    let texts = apply(scene, edit)?;
    let mut cache = open.cache.lock().unwrap_or_else(PoisonError::into_inner);
    let new = Scene::new(open.store.folder(), texts, None, &mut cache);
    drop(cache);
    // Whoever writes the text itself may save what cannot be used yet; a field may not.
    let wrong = new.new_errors(scene);
    if edit.what != "text"
        && let Some(first) = wrong.first()
    {
        return Err(Refused::new(first.text.clone(), first.help.clone().unwrap_or_default()));
    }
    Ok(new)
}

async fn edit(
    State(desk): State<Arc<Desk>>,
    headers: HeaderMap,
    Form(edit): Form<Edit>,
) -> Response {
    save(desk, &headers, edit).await
}

/// A picture to trace rooms from, by its place in the project file.
async fn show_tracing(State(desk): State<Arc<Desk>>, Path(name): Path<String>) -> Response {
    let Some(open) = desk.project() else { return StatusCode::NOT_FOUND.into_response() };
    let found = blocking(move || {
        let scene = open.scene().ok()?;
        tracing::read(open.store.folder(), scene.document.as_ref()?, name.parse().ok()?)
    })
    .await;
    match found {
        Some((picture, bytes)) => ([(header::CONTENT_TYPE, picture.kind)], bytes).into_response(),
        None => StatusCode::NOT_FOUND.into_response(),
    }
}

/// Takes a picture into the project and lays it under a storey.
async fn take_tracing(
    State(desk): State<Arc<Desk>>,
    headers: HeaderMap,
    Path(name): Path<String>,
    Query(query): Query<Words>,
    body: axum::body::Bytes,
) -> Response {
    let Some(open) = desk.project() else { return StatusCode::NOT_FOUND.into_response() };
    let kept = blocking(move || tracing::keep(open.store.folder(), &name, &body)).await;
    match kept {
        Ok(file) => {
            let edit = Edit {
                what: "new-tracing".into(),
                called: format!("{file} under the plan"),
                value: file,
                storey: query.get("storey").cloned().unwrap_or_else(|| "0".into()),
                ..Edit::default()
            };
            save(desk, &headers, edit).await
        }
        Err(why) => refused(&headers, &Refused::new(why, "")),
    }
}

/// A data sheet, typed or pasted.
async fn save_sheet(
    State(desk): State<Arc<Desk>>,
    headers: HeaderMap,
    Form(form): Form<Words>,
) -> Response {
    match sheet::edit(&form) {
        Ok(edit) => save(desk, &headers, edit).await,
        Err(wrong) if wants_json(&headers) => {
            (StatusCode::UNPROCESSABLE_ENTITY, Json(json!({ "wrong": wrong }))).into_response()
        }
        Err(wrong) => {
            let why = wrong.first().map_or(String::new(), |w| w.why.clone());
            refused(&headers, &Refused::new(why, ""))
        }
    }
}

/// What was pasted, cell by cell, without saving it.
async fn read_sheet(Form(form): Form<Words>) -> Response {
    let table = sheet::pasted(form.get("pasted").map_or("", String::as_str));
    let values: std::collections::BTreeMap<&str, f64> =
        table.values.iter().map(|(b, v)| (b.nominal(), *v)).collect();
    Json(json!({ "values": values, "wrong": table.wrong })).into_response()
}

/// Makes a change and saves it.
async fn save(desk: Arc<Desk>, headers: &HeaderMap, mut edit: Edit) -> Response {
    let Some(open) = desk.project() else { return StatusCode::NOT_FOUND.into_response() };
    let way_back = edit.back.clone();
    let json = wants_json(headers);
    let done = blocking(move || {
        if edit.what == "describe-recording" {
            let traces = open.histories.of(open.store.folder(), &edit.value);
            edit.at = traces.map_err(|why| Refused::new(why, ""))?.channels.len();
        }
        // Somebody may save between reading and saving; then it is looked at once more.
        for _ in 0..3 {
            let scene = open.scene().map_err(|e| Refused::new(e.to_string(), ""))?;
            let new = tried(&open, &scene, &edit)?;
            match open.store.save(&scene.texts, &new.texts, &edit.called) {
                Ok(()) => return Ok(()),
                Err(StoreError::ChangedUnderneath) => {}
                Err(e) => return Err(Refused::new(e.to_string(), "")),
            }
        }
        Err(Refused::new(
            "another program keeps changing the files",
            "close it there or here, then try again",
        ))
    })
    .await;
    match done {
        Ok(()) => {
            let _ = desk.events.send(Event::Changed);
            if json {
                Json(json!({ "saved": true })).into_response()
            } else {
                back_to(&way_back).into_response()
            }
        }
        Err(refusal) => refused(headers, &refusal),
    }
}

/// The page as it would be after a change, without saving it: for sliders.
async fn try_edit(
    State(desk): State<Arc<Desk>>,
    headers: HeaderMap,
    Form(edit): Form<Edit>,
) -> Response {
    let Some(open) = desk.project() else { return StatusCode::NOT_FOUND.into_response() };
    blocking(move || {
        let scene = match open.scene() {
            Ok(scene) => scene,
            Err(e) => return trouble(&e),
        };
        let Some((page, query)) = back(&edit.back) else {
            return StatusCode::NOT_FOUND.into_response();
        };
        if page == Page::BuildUps
            && let Some(answer) = slid(&desk, &open, &scene, &edit, &query)
        {
            return answer
                .map_or_else(|r| refused(&headers, &r), |parts| Html(parts).into_response());
        }
        match tried(&open, &scene, &edit) {
            Ok(new) => {
                Html(pages::page(&ctx(&desk, &open, &new, page, &query), page)).into_response()
            }
            Err(refusal) => refused(&headers, &refusal),
        }
    })
    .await
}

/// The parts of the page that follow a slider; `None` where everything has to be read again.
fn slid(
    desk: &Desk,
    open: &Open,
    scene: &Arc<Scene>,
    edit: &Edit,
    query: &Words,
) -> Option<Result<String, Refused>> {
    let mut held = open.slide.lock().unwrap_or_else(PoisonError::into_inner);
    if !held.as_ref().is_some_and(|s| s.fits(scene, edit)) {
        let cache = open.cache.lock().unwrap_or_else(PoisonError::into_inner);
        *held = Slide::of(scene, edit, &cache);
    }
    let slide = held.as_mut()?;
    let moved = slide.moved(edit);
    let ctx = ctx(desk, open, scene, Page::BuildUps, query);
    Some(moved.map(|moved| pages::while_sliding(&ctx, moved)))
}

#[derive(Deserialize)]
struct Step {
    #[serde(default)]
    back: String,
}

async fn undo(state: State<Arc<Desk>>, headers: HeaderMap, form: Form<Step>) -> Response {
    step(state, &headers, form, |open| open.store.undo(), "Undone").await
}

async fn redo(state: State<Arc<Desk>>, headers: HeaderMap, form: Form<Step>) -> Response {
    step(state, &headers, form, |open| open.store.redo(), "Done again").await
}

async fn step(
    State(desk): State<Arc<Desk>>,
    headers: &HeaderMap,
    Form(form): Form<Step>,
    go: fn(&Open) -> Result<String, StoreError>,
    word: &str,
) -> Response {
    let Some(open) = desk.project() else { return StatusCode::NOT_FOUND.into_response() };
    match blocking(move || go(&open)).await {
        Ok(what) => {
            let _ = desk.events.send(Event::Changed);
            if wants_json(headers) {
                Json(json!({ "said": format!("{word}: {what}") })).into_response()
            } else {
                back_to(&form.back).into_response()
            }
        }
        Err(e) => refused(headers, &Refused::new(e.to_string(), "")),
    }
}

async fn work(
    State(desk): State<Arc<Desk>>,
    headers: HeaderMap,
    Path(what): Path<String>,
    Form(form): Form<Step>,
) -> Response {
    let Some(open) = desk.project() else { return StatusCode::NOT_FOUND.into_response() };
    match what.as_str() {
        "stop" => open.work.stop(),
        "begin" => match open.scene() {
            Ok(scene) => open.work.begin(open.store.folder().to_owned(), scene.mark(), true),
            Err(e) => return trouble(&e),
        },
        _ => return StatusCode::NOT_FOUND.into_response(),
    }
    if wants_json(&headers) {
        Json(json!({})).into_response()
    } else {
        back_to(&form.back).into_response()
    }
}

/// Sound, whole or the part that is asked for.
fn sound(headers: &HeaderMap, made: Result<Vec<u8>, String>) -> Response {
    let bytes = match made {
        Ok(bytes) => bytes,
        Err(why) => return (StatusCode::UNPROCESSABLE_ENTITY, why).into_response(),
    };
    let asked = headers.get(header::RANGE).and_then(|v| v.to_str().ok());
    let kind = (header::CONTENT_TYPE, "audio/wav".to_owned());
    let parts = (header::ACCEPT_RANGES, "bytes".to_owned());
    match player::range(asked, bytes.len()) {
        Some((first, last)) => {
            let place = format!("bytes {first}-{last}/{}", bytes.len());
            let headers = [kind, parts, (header::CONTENT_RANGE, place)];
            (StatusCode::PARTIAL_CONTENT, headers, bytes[first..=last].to_vec()).into_response()
        }
        None => ([kind, parts], bytes).into_response(),
    }
}

#[derive(Deserialize)]
struct Piece {
    n: usize,
    channel: usize,
    from: f64,
    to: f64,
}

/// A stretch of a recording of the survey, made quiet.
async fn piece(
    State(desk): State<Arc<Desk>>,
    headers: HeaderMap,
    Query(asked): Query<Piece>,
) -> Response {
    let Some(open) = desk.project() else { return StatusCode::NOT_FOUND.into_response() };
    let made = blocking(move || {
        let scene = open.scene().map_err(|e| e.to_string())?;
        let survey = scene.project.as_ref().and_then(|p| p.survey.as_ref());
        let file = survey.and_then(|s| s.recordings.get(asked.n)).map(|r| r.file.clone());
        let file = file.ok_or("there is no such recording")?;
        player::piece(open.store.folder(), &file, asked.channel, asked.from, asked.to)
    });
    sound(&headers, made.await)
}

/// A room before and after changes.
async fn heard(
    State(desk): State<Arc<Desk>>,
    headers: HeaderMap,
    Query(query): Query<Words>,
) -> Response {
    let Some(open) = desk.project() else { return StatusCode::NOT_FOUND.into_response() };
    let made = blocking(move || {
        let scene = open.scene().map_err(|e| e.to_string())?;
        pages::heard(&ctx(&desk, &open, &scene, Page::Remedies, &query))
    });
    sound(&headers, made.await)
}

/// Writes the next trial into the files: its state and the recording to come.
async fn prepare(
    State(desk): State<Arc<Desk>>,
    headers: HeaderMap,
    Form(form): Form<Step>,
) -> Response {
    let Some(open) = desk.project() else { return StatusCode::NOT_FOUND.into_response() };
    let done = blocking(move || {
        let none = || Refused::new("no test is on offer now", "let it be computed first");
        let done = open.work.done().ok_or_else(none)?;
        let about = pages::about(Units::Metric);
        let results = done.gathered.results(&about);
        let next = results.explained.and_then(|e| e.next.as_ref()).ok_or_else(none)?;
        note::change(&open, "the next trial prepared", |scene| {
            // What was computed names rooms by their place in the building it was computed from.
            if scene.mark() != done.mark {
                return Err(Refused::new("the project changed meanwhile", "compute it again"));
            }
            trials::prepared(scene, next).map(|(texts, _)| texts)
        })
    })
    .await;
    match done {
        Ok(()) => {
            let _ = desk.events.send(Event::Changed);
            if wants_json(&headers) {
                Json(json!({ "said": "Prepared" })).into_response()
            } else {
                back_to(&form.back).into_response()
            }
        }
        Err(refusal) => refused(&headers, &refusal),
    }
}

#[derive(Deserialize)]
struct Shared {
    #[serde(default)]
    id: u64,
}

/// Codes and phones, as the desk wishes.
async fn shared(
    State(desk): State<Arc<Desk>>,
    headers: HeaderMap,
    Path(what): Path<String>,
    Form(form): Form<Shared>,
) -> Response {
    let Some(share) = &desk.share else { return StatusCode::NOT_FOUND.into_response() };
    let said = match what.as_str() {
        "code" => match share.new_code(share.now()) {
            Ok(()) => "A new code",
            Err(e) => return refused(&headers, &Refused::new(e.to_string(), "")),
        },
        "no-code" => {
            share.no_code();
            "The code is gone"
        }
        "revoke" => {
            share.revoke(form.id);
            "Sent away"
        }
        "revoke-all" => {
            share.revoke_all();
            "All phones sent away"
        }
        _ => return StatusCode::NOT_FOUND.into_response(),
    };
    let _ = desk.events.send(Event::Changed);
    if wants_json(&headers) {
        Json(json!({ "said": said })).into_response()
    } else {
        Redirect::to(Page::Phone.address()).into_response()
    }
}

/// What happens, as it happens.
async fn events(
    State(desk): State<Arc<Desk>>,
) -> Sse<impl Stream<Item = Result<Sent, Infallible>>> {
    let hearing = desk.events.subscribe();
    let told = stream::unfold(hearing, |mut hearing| async move {
        let sent = match hearing.recv().await {
            Ok(Event::Changed) | Err(RecvError::Lagged(_)) => {
                Sent::default().event("changed").data("1")
            }
            Ok(Event::Worked) => Sent::default().event("worked").data("1"),
            Ok(Event::Progress { doing, share }) => {
                let data = json!({ "doing": doing, "share": share }).to_string();
                Sent::default().event("progress").data(data)
            }
            Err(RecvError::Closed) => return None,
        };
        Some((Ok(sent), hearing))
    });
    Sse::new(told).keep_alive(KeepAlive::new().interval(Duration::from_secs(20)))
}

async fn report(
    State(desk): State<Arc<Desk>>,
    Path(name): Path<String>,
    Query(query): Query<Words>,
) -> Response {
    let Some(open) = desk.project() else { return StatusCode::NOT_FOUND.into_response() };
    blocking(move || {
        let Ok(scene) = open.scene() else { return StatusCode::NOT_FOUND.into_response() };
        let ctx = ctx(&desk, &open, &scene, Page::Report, &query);
        let Some((word, ending)) = name.split_once('.') else {
            return StatusCode::NOT_FOUND.into_response();
        };
        let Some(document) = pages::document(&ctx, word) else {
            return (StatusCode::NOT_FOUND, "This document is not computed yet.").into_response();
        };
        let file = format!("attachment; filename=\"report-{word}.{ending}\"");
        let html = document.html();
        match ending {
            "html" if ctx.asked("download").is_some() => (
                [
                    (header::CONTENT_TYPE, "text/html; charset=utf-8".to_owned()),
                    (header::CONTENT_SECURITY_POLICY, DOCUMENT_POLICY.to_owned()),
                    (header::CONTENT_DISPOSITION, file),
                ],
                html,
            )
                .into_response(),
            "html" => (
                [
                    (header::CONTENT_TYPE, "text/html; charset=utf-8"),
                    (header::CONTENT_SECURITY_POLICY, DOCUMENT_POLICY),
                ],
                html,
            )
                .into_response(),
            "pdf" => match printed(open.store.folder(), word, &html) {
                Ok(bytes) => (
                    [
                        (header::CONTENT_TYPE, "application/pdf".to_owned()),
                        (header::CONTENT_DISPOSITION, file),
                    ],
                    bytes,
                )
                    .into_response(),
                Err(why) => (StatusCode::SERVICE_UNAVAILABLE, why).into_response(),
            },
            _ => StatusCode::NOT_FOUND.into_response(),
        }
    })
    .await
}

/// Every result as tables: `results.zip`, `results-parquet.zip`, `results.xlsx`, `history-N.parquet` of a recording.
async fn tables(State(desk): State<Arc<Desk>>, Path(name): Path<String>) -> Response {
    let Some(open) = desk.project() else { return StatusCode::NOT_FOUND.into_response() };
    let known = matches!(name.as_str(), "results.zip" | "results.xlsx" | "results-parquet.zip")
        || downloads::recording_of(&name).is_some();
    if !known {
        return StatusCode::NOT_FOUND.into_response();
    }
    match blocking(move || downloads::made(&open, &name)).await {
        Ok((bytes, kind, file)) => (
            [
                (header::CONTENT_TYPE, kind.to_owned()),
                (header::CONTENT_DISPOSITION, format!("attachment; filename=\"{file}\"")),
            ],
            bytes,
        )
            .into_response(),
        Err(why) => (StatusCode::SERVICE_UNAVAILABLE, why).into_response(),
    }
}

/// The document printed in `results/` of the project, where documents are.
fn printed(folder: &FilePath, word: &str, html: &str) -> Result<Vec<u8>, String> {
    let page = folder.join("results").join(format!("report-{word}.html"));
    let pdf = page.with_extension("pdf");
    write::text(&page, html).map_err(|f| words_of(&f))?;
    browser::print(&page, &pdf).map_err(|f| words_of(&f))?;
    std::fs::read(&pdf).map_err(|e| e.to_string())
}

async fn take(
    State(desk): State<Arc<Desk>>,
    Path(name): Path<String>,
    request: Request<Body>,
) -> Response {
    let Some(open) = desk.project() else { return StatusCode::NOT_FOUND.into_response() };
    let stated = request
        .headers()
        .get(header::CONTENT_LENGTH)
        .and_then(|v| v.to_str().ok())
        .and_then(|v| v.parse().ok());
    let body = request.into_body();
    match upload::take(open.store.folder(), &name, stated, body, upload::LARGEST).await {
        Ok(place) => {
            let _ = desk.events.send(Event::Changed);
            Json(json!({ "place": place })).into_response()
        }
        Err(e) => {
            let status = match e {
                upload::UploadError::There(_) => StatusCode::CONFLICT,
                upload::UploadError::TooLarge => StatusCode::PAYLOAD_TOO_LARGE,
                upload::UploadError::Name(_) => StatusCode::UNPROCESSABLE_ENTITY,
                _ => StatusCode::INTERNAL_SERVER_ERROR,
            };
            (status, Json(json!({ "why": e.to_string() }))).into_response()
        }
    }
}
