//! The hand-over list of a port: page and paper.

use std::sync::Arc;

use axum::Router;
use axum::extract::{Path, State};
use axum::http::header::{CONTENT_DISPOSITION, CONTENT_TYPE, HeaderMap, HeaderValue};
use axum::http::{StatusCode, Uri};
use axum::response::{IntoResponse, Response};
use axum::routing::get;
use papers::dossier::safe_name;
use papers::sheet::Fonts;
use record::handover::Handover;

use crate::engine::{App, now};
use crate::pages::handover::{handover_page, ports_page};
use crate::pages::trouble::trouble_page;
use crate::routes::{broken, html, shell};

/// The addresses of this room.
pub fn routes() -> Router<Arc<App>> {
    Router::new()
        .route("/handover", get(ports))
        .route("/handover/{port}", get(one))
        .route("/handover/{port}/list.pdf", get(paper))
}

async fn ports(State(app): State<Arc<App>>, uri: Uri, headers: HeaderMap) -> Response {
    let ports = app.voyage().handover_ports();
    html(StatusCode::OK, ports_page(&shell(&app, &uri, &headers), &ports))
}

async fn one(
    State(app): State<Arc<App>>,
    uri: Uri,
    headers: HeaderMap,
    Path(port): Path<String>,
) -> Response {
    let (working, asked) = (Arc::clone(&app), port.clone());
    match tokio::task::spawn_blocking(move || list(&working, &asked)).await {
        Ok(Ok(Some(h))) => html(StatusCode::OK, handover_page(&shell(&app, &uri, &headers), &h)),
        Ok(Ok(None)) => no_such_port(&app, &uri, &headers, &port),
        Ok(Err(why)) => broken(&app, &uri, &headers, &why),
        Err(_) => broken(&app, &uri, &headers, "the work on this page stopped half way"),
    }
}

fn list(app: &App, port: &str) -> Result<Option<Handover>, String> {
    let as_of = app.shown().as_of();
    app.voyage().handover(port, as_of, now()).map_err(|e| e.to_string())
}

async fn paper(
    State(app): State<Arc<App>>,
    uri: Uri,
    headers: HeaderMap,
    Path(port): Path<String>,
) -> Response {
    let (working, asked) = (Arc::clone(&app), port.clone());
    match tokio::task::spawn_blocking(move || pdf(&working, &asked)).await {
        Ok(Ok(Some(bytes))) => {
            let mut response = bytes.into_response();
            let name = format!("attachment; filename=\"handover-{}.pdf\"", safe_name(&port));
            let headers = response.headers_mut();
            headers.insert(CONTENT_TYPE, HeaderValue::from_static("application/pdf"));
            if let Ok(value) = HeaderValue::from_str(&name) {
                headers.insert(CONTENT_DISPOSITION, value);
            }
            response
        }
        Ok(Ok(None)) => no_such_port(&app, &uri, &headers, &port),
        Ok(Err(why)) => broken(&app, &uri, &headers, &why),
        Err(_) => broken(&app, &uri, &headers, "the list could not be made"),
    }
}

fn pdf(app: &App, port: &str) -> Result<Option<Vec<u8>>, String> {
    if list(app, port)?.is_none() {
        return Ok(None);
    }
    let fonts = Fonts::load().ok_or("the fonts cannot be read")?;
    let as_of = app.shown().as_of();
    let mut voyage = app.voyage();
    let known = voyage.journal().last_seq().map_err(|e| e.to_string())?;
    let key = voyage.ready_to_sign("page", now()).map_err(|e| e.to_string())?;
    if voyage.journal().last_seq().map_err(|e| e.to_string())? != known {
        app.renew_entries(&voyage)?;
    }
    let Some(h) = voyage.handover(port, as_of, now()).map_err(|e| e.to_string())? else {
        return Ok(None);
    };
    papers::handover::paper(&h, &fonts, key.public(), &|bytes| key.sign(bytes)).map(Some)
}

fn no_such_port(app: &App, uri: &Uri, headers: &HeaderMap, port: &str) -> Response {
    let page = trouble_page(
        &shell(app, uri, headers),
        "No such port",
        &format!("No container aboard is for “{port}”."),
        "Choose one of the ports that the list names, under Hand-over.",
    );
    html(StatusCode::NOT_FOUND, page)
}
