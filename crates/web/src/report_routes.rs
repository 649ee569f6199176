//! `/report`: preview, send, fetch.

use std::sync::Arc;

use axum::Form;
use axum::extract::{Path, Query, State};
use axum::http::header::{CONTENT_DISPOSITION, CONTENT_TYPE, HeaderMap, HeaderValue};
use axum::http::{StatusCode, Uri};
use axum::response::{IntoResponse, Response};
use papers::message::Kind;

use crate::acts::{Fields, enter};
use crate::engine::{App, now};
use crate::pages::report::report_page;
use crate::pages::trouble::trouble_page;
use crate::report::{prepare_of, send};
use crate::routes::{broken, html, shell};

/// `GET /report`
pub async fn show(
    State(app): State<Arc<App>>,
    uri: Uri,
    headers: HeaderMap,
    Query(pairs): Query<Vec<(String, String)>>,
) -> Response {
    let f = Fields(pairs);
    let kind = Kind::from_text(&f.text("kind")).unwrap_or(Kind::TwiceDaily);
    let delta = f.text("delta") == "yes";
    let working = Arc::clone(&app);
    let done = tokio::task::spawn_blocking(move || {
        let (shown, v) = (working.shown(), working.voyage());
        prepare_of(&v, (&shown.list, &shown.treatments), kind, delta, now())
            .map(|p| (p, v.acts().sent.clone()))
    });
    match done.await {
        Ok(Ok((p, sent))) => {
            html(StatusCode::OK, report_page(&shell(&app, &uri, &headers), &p, &sent))
        }
        Ok(Err(e)) => broken(&app, &uri, &headers, &e.to_string()),
        Err(_) => broken(&app, &uri, &headers, "the message could not be made"),
    }
}

/// `POST /report/send`
pub async fn sent(
    State(app): State<Arc<App>>,
    uri: Uri,
    headers: HeaderMap,
    Form(pairs): Form<Vec<(String, String)>>,
) -> Response {
    let f = Fields(pairs);
    enter(app, uri, headers, "/report#sent".to_owned(), move |app| {
        let who = f.who()?;
        let kind = Kind::from_text(&f.text("kind")).ok_or("Which message is meant?")?;
        let (shown, mut v) = (app.shown(), app.voyage());
        let said = |e: voyage::Problem| format!("{e}.");
        let survey = (&shown.list, &shown.treatments[..]);
        let delta = f.text("delta") == "yes";
        let p = prepare_of(&v, survey, kind, delta, now()).map_err(said)?;
        if f.text("number") != p.number.to_string() {
            return Err("Another message was sent meanwhile; look at this one again.".to_owned());
        }
        send(&mut v, &p, &who, now()).map(|_| ()).map_err(said)
    })
    .await
}

/// `GET /report/{name}`: `12.txt` or `12.csv.gz`.
pub async fn fetch(
    State(app): State<Arc<App>>,
    uri: Uri,
    headers: HeaderMap,
    Path(name): Path<String>,
) -> Response {
    let (number, ending) = name.split_once('.').unwrap_or((&name, ""));
    let found = number.parse::<u64>().ok().and_then(|number| {
        let v = app.voyage();
        let sent = v.acts().sent.iter().find(|s| s.message.number == number)?.clone();
        let stem = format!("report-{number:04}-{}", sent.message.kind);
        match ending {
            "txt" => Some((stem, "text/plain; charset=us-ascii", sent.message.text.into_bytes())),
            "csv.gz" => {
                let entry = v.journal().entry(sent.seq).ok()??;
                let (_, bytes) = v.original(&entry.originals.first()?.sha256).ok()??;
                Some((stem, "application/gzip", bytes))
            }
            _ => None,
        }
    });
    let Some((stem, kind, bytes)) = found else {
        let page = trouble_page(
            &shell(&app, &uri, &headers),
            "No such message",
            "No message of that number was sent.",
            "The page of messages lists those that were.",
        );
        return html(StatusCode::NOT_FOUND, page);
    };
    let mut response = bytes.into_response();
    let h = response.headers_mut();
    h.insert(CONTENT_TYPE, HeaderValue::from_static(kind));
    if let Ok(v) = HeaderValue::from_str(&format!("attachment; filename=\"{stem}.{ending}\"")) {
        h.insert(CONTENT_DISPOSITION, v);
    }
    response
}
