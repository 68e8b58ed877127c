//! What a phone may ask: the pairing page, the phone page, notes. Nothing else is there.

use std::sync::Arc;

use axum::extract::{DefaultBodyLimit, Extension, Form, Query, Request, State};
use axum::http::{HeaderMap, HeaderValue, Method, StatusCode, header};
use axum::middleware::{self, Next};
use axum::response::{Html, IntoResponse, Redirect, Response};
use axum::routing::{get, post};
use axum::{Router, extract::Path};
use serde::Deserialize;
use tokio::net::TcpListener;

use super::door::Door;
use super::{Phone, Share};
use crate::desk::{Desk, Event};
use crate::guard::{self, Refusal, cookie, refused};
use crate::note::{self, What};
use crate::{assets, pages};

/// Largest form of a phone, bytes.
const LARGEST_FORM: usize = 4096;
/// Files of the phone page.
const FILES: [&str; 3] = ["desk.css", "theme.js", "phone.js"];

/// Answers phones until the process ends.
pub async fn serve(listener: TcpListener, desk: Arc<Desk>) {
    // It ends only with the process; the desk goes on without phones otherwise.
    let _ = axum::serve(Door::new(listener), router(desk)).await;
}

fn router(desk: Arc<Desk>) -> Router {
    Router::new()
        .route("/", get(home))
        .route("/pair", post(pair))
        .route("/note", post(note))
        .route("/room", post(room))
        .route("/leave", post(leave))
        .route("/assets/{name}", get(file))
        .layer(DefaultBodyLimit::max(LARGEST_FORM))
        .layer(middleware::from_fn_with_state(desk.clone(), admit))
        .with_state(desk)
}

/// Lets through what may pass, with the phone it comes from.
async fn admit(State(desk): State<Arc<Desk>>, mut request: Request, next: Next) -> Response {
    let mut answer = match judged(&desk, &mut request) {
        Ok(()) => next.run(request).await,
        Err(answer) => answer,
    };
    guard::say_what_a_page_may(answer.headers_mut());
    answer
}

fn judged(desk: &Desk, request: &mut Request) -> Result<(), Response> {
    let Some(share) = &desk.share else {
        return Err(refused(StatusCode::NOT_FOUND, "The desk is not shared."));
    };
    let (method, headers) = (request.method(), request.headers());
    match guard::sender(method, headers, std::slice::from_ref(&share.host)) {
        Ok(()) => {}
        Err(Refusal::Host) => {
            let why = "The phone page does not go by this name.";
            return Err(refused(StatusCode::MISDIRECTED_REQUEST, why));
        }
        Err(_) => {
            let why = "A note can only come from the phone page.";
            return Err(refused(StatusCode::FORBIDDEN, why));
        }
    }
    let stated = headers.get(header::CONTENT_LENGTH).and_then(|v| v.to_str().ok());
    if stated.is_some_and(|l| l.parse().is_ok_and(|l: u64| l > LARGEST_FORM as u64)) {
        return Err(refused(StatusCode::PAYLOAD_TOO_LARGE, "No note is as large as that."));
    }
    let path = request.uri().path();
    let reads = matches!(*method, Method::GET | Method::HEAD);
    let for_all = reads && (path == "/" || path.starts_with("/assets/"))
        || *method == Method::POST && path == "/pair";
    let phone = cookie(headers, &share.cookie).and_then(|t| share.phone(share.now(), t));
    match phone {
        Some(phone) => {
            request.extensions_mut().insert(phone);
            Ok(())
        }
        None if for_all => Ok(()),
        None => Err(refused(StatusCode::FORBIDDEN, "This phone is not paired.")),
    }
}

fn share(desk: &Desk) -> Result<&Share, StatusCode> {
    desk.share.as_ref().ok_or(StatusCode::NOT_FOUND)
}

async fn file(Path(name): Path<String>) -> Response {
    if FILES.contains(&name.as_str()) {
        assets::asset(Path(name)).await
    } else {
        StatusCode::NOT_FOUND.into_response()
    }
}

#[derive(Deserialize)]
struct Asked {
    #[serde(default)]
    code: String,
}

async fn home(
    State(desk): State<Arc<Desk>>,
    phone: Option<Extension<Phone>>,
    Query(asked): Query<Asked>,
) -> Response {
    let Some(Extension(phone)) = phone else {
        return Html(pages::pairing(&digits(&asked.code), None)).into_response();
    };
    handset(desk, phone, None).await
}

/// The phone page; `said` is why something was not done.
async fn handset(desk: Arc<Desk>, phone: Phone, said: Option<String>) -> Response {
    let status = if said.is_some() { StatusCode::UNPROCESSABLE_ENTITY } else { StatusCode::OK };
    let made = tokio::task::spawn_blocking(move || {
        pages::handset(desk.project().as_deref(), &phone, said.as_deref())
    });
    match made.await {
        Ok(page) => (status, Html(page)).into_response(),
        Err(_) => StatusCode::INTERNAL_SERVER_ERROR.into_response(),
    }
}

fn digits(text: &str) -> String {
    text.chars().filter(char::is_ascii_digit).take(6).collect()
}

#[derive(Deserialize)]
struct Pairing {
    #[serde(default)]
    code: String,
    #[serde(default)]
    name: String,
}

async fn pair(
    State(desk): State<Arc<Desk>>,
    Form(form): Form<Pairing>,
) -> Result<Response, StatusCode> {
    let share = share(&desk)?;
    match share.pair(share.now(), &digits(&form.code), &form.name) {
        Ok(token) => {
            let _ = desk.events.send(Event::Changed);
            let mut answer = Redirect::to("/").into_response();
            let cookie = format!(
                "{}={token}; Path=/; HttpOnly; SameSite=Strict; Max-Age={}",
                share.cookie,
                super::TOKEN_LIFE.as_secs()
            );
            if let Ok(value) = HeaderValue::from_str(&cookie) {
                answer.headers_mut().insert(header::SET_COOKIE, value);
            }
            Ok(answer)
        }
        Err(why) => {
            let status = match why {
                super::NotPaired::TooFast => StatusCode::TOO_MANY_REQUESTS,
                _ => StatusCode::FORBIDDEN,
            };
            Ok((status, Html(pages::pairing("", Some(&why.to_string())))).into_response())
        }
    }
}

#[derive(Deserialize)]
struct Noted {
    #[serde(default)]
    what: String,
    #[serde(default)]
    room: Option<String>,
    #[serde(default)]
    text: String,
}

async fn note(
    State(desk): State<Arc<Desk>>,
    Extension(mut phone): Extension<Phone>,
    headers: HeaderMap,
    Form(form): Form<Noted>,
) -> Result<Response, StatusCode> {
    let shared = share(&desk)?;
    if !shared.may_note(shared.now(), phone.id) {
        return Err(StatusCode::TOO_MANY_REQUESTS);
    }
    if let Some(room) = &form.room {
        shared.set_room(phone.id, room);
        phone.room.clone_from(room);
    }
    let Some(open) = desk.project() else { return Err(StatusCode::CONFLICT) };
    let what = match form.what.as_str() {
        "talking" => What::Talking,
        "quiet" => What::Quiet,
        "closed" => What::Said("door closed".into()),
        "opened" => What::Said("door opened".into()),
        "recorder" => What::Said(note::RECORDER_STARTED.into()),
        "text" => What::Said(super::plain(&form.text, note::LONGEST)),
        _ => return Err(StatusCode::UNPROCESSABLE_ENTITY),
    };
    let (at, who, room) = (super::clock(), phone.name.clone(), phone.room.clone());
    let done = tokio::task::spawn_blocking(move || note::take(&open, &what, &at, &room, &who))
        .await
        .map_err(|_| StatusCode::INTERNAL_SERVER_ERROR)?;
    match done {
        Ok(()) => {
            let _ = desk.events.send(Event::Changed);
            if headers.contains_key("x-wythe-phone") {
                Ok(handset(desk.clone(), phone, None).await)
            } else {
                Ok(Redirect::to("/").into_response())
            }
        }
        Err(why) => Ok(handset(desk.clone(), phone, Some(why)).await),
    }
}

#[derive(Deserialize)]
struct Where {
    room: String,
}

async fn room(
    State(desk): State<Arc<Desk>>,
    Extension(phone): Extension<Phone>,
    Form(form): Form<Where>,
) -> Result<Redirect, StatusCode> {
    share(&desk)?.set_room(phone.id, &form.room);
    Ok(Redirect::to("/"))
}

async fn leave(
    State(desk): State<Arc<Desk>>,
    Extension(phone): Extension<Phone>,
) -> Result<Redirect, StatusCode> {
    share(&desk)?.revoke(phone.id);
    let _ = desk.events.send(Event::Changed);
    Ok(Redirect::to("/"))
}
