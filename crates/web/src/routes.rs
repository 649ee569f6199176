//! Which address shows what.

use std::sync::Arc;

use axum::Router;
use axum::extract::{DefaultBodyLimit, Path, Query, State};
use axum::http::header::{
    CACHE_CONTROL, CONTENT_DISPOSITION, CONTENT_TYPE, HeaderMap, HeaderValue,
};
use axum::http::{Method, StatusCode, Uri};
use axum::middleware;
use axum::response::{Html, IntoResponse, Response};
use axum::routing::{get, post};
use maud::Markup;
use record::UnitId;
use record::digest::Digest;

use crate::engine::{App, now};
use crate::pages::ahead;
use crate::pages::box_page::{Range, box_page};
use crate::pages::files::{ENTRIES, files_page};
use crate::pages::fluid::{Asked, fluid_page};
use crate::pages::night;
use crate::pages::plan::plan_page;
use crate::pages::power::power_page;
use crate::pages::treatment::treatment_page;
use crate::pages::treatments::treatments_page;
use crate::pages::trouble::trouble_page;
use crate::pages::watch::{self, watch_page};
use crate::pages::{Shell, percent};
use crate::{
    acts, assets, dossier, events, gas, gauges, guard, handover, holds, instruments, log,
    papers_out, plan_acts, report_routes, rounds, series, services, theme, upload,
};

type Pairs = Query<Vec<(String, String)>>;

/// The whole server.
pub fn router(app: Arc<App>) -> Router {
    let limit = usize::try_from(app.options.max_upload_bytes).unwrap_or(usize::MAX);
    Router::new()
        .route("/", get(watch_list))
        .route("/plan", get(plan))
        .route("/box/{unit}", get(one_box))
        .route("/box/{unit}/series.json", get(box_series))
        .route("/dossier/{unit}", get(dossier::download))
        .route("/paper/{name}", get(papers_out::download))
        .route("/repairs", get(repairs))
        .route("/power", get(power))
        .route("/treatments", get(treatments))
        .route("/treatments/order", post(acts::order))
        .route("/arrivals", post(acts::arrival))
        .route("/treatment/{unit}", get(treatment))
        .route("/treatment/{unit}/{what}", post(acts::about_box))
        .merge(holds::routes())
        .merge(gas::routes())
        .merge(rounds::routes())
        .merge(services::routes())
        .merge(instruments::routes())
        .merge(handover::routes())
        .route("/log", get(log::show))
        .route("/log/note", post(log::note))
        .route("/log/missed", post(log::missed))
        .route("/report", get(report_routes::show))
        .route("/report/send", post(report_routes::sent))
        .route("/report/{name}", get(report_routes::fetch))
        .route("/files", get(files))
        .route("/fluid", get(fluid))
        .route("/gauges", get(gauges::show))
        .route("/gauges/keep", post(gauges::keep))
        .route("/files/load", post(upload::load))
        .route("/files/take", post(upload::take))
        .route("/originals/{sha}", get(original))
        .route("/events", get(events::events))
        .route("/theme", post(theme::set))
        .route("/assets/{name}", get(asset))
        .route("/repairs/begin", post(plan_acts::begin))
        .route("/repairs/end", post(plan_acts::end))
        .route("/repairs/crew", post(plan_acts::crew))
        .route("/power/plant", post(plan_acts::plant))
        .route("/power/weather", post(plan_acts::weather))
        .fallback(not_found)
        .method_not_allowed_fallback(wrong_method)
        .layer(DefaultBodyLimit::max(limit.saturating_add(64 * 1024)))
        .layer(middleware::from_fn_with_state(Arc::clone(&app), guard::guard))
        .with_state(app)
}

/// A page as an answer.
pub fn html(status: StatusCode, page: Markup) -> Response {
    (status, Html(page.into_string())).into_response()
}

/// What every page needs to know.
pub fn shell(app: &App, uri: &Uri, headers: &HeaderMap) -> Shell {
    let shown = app.shown();
    Shell {
        theme: theme::from_cookie(headers),
        ship: shown.ship.clone(),
        now: now(),
        here: uri.path_and_query().map_or("/", |p| p.as_str()).to_owned(),
        entry: u64::try_from(shown.entry).unwrap_or(0),
    }
}

/// A failure of ours: said, with what to do.
pub fn broken(app: &App, uri: &Uri, headers: &HeaderMap, why: &str) -> Response {
    let page = trouble_page(
        &shell(app, uri, headers),
        "Something failed",
        &format!("This could not be done: {why}."),
        "What was held before is still held. Try again; if it fails again, stop the program, copy \
         the voyage file to another disk, and run holdfast verify on it.",
    );
    html(StatusCode::INTERNAL_SERVER_ERROR, page)
}

async fn watch_list(
    State(app): State<Arc<App>>,
    uri: Uri,
    headers: HeaderMap,
    Query(pairs): Pairs,
) -> Response {
    let query = watch::Query::from_pairs(&pairs);
    let page = watch_page(&shell(&app, &uri, &headers), &app.shown().list, &query);
    html(StatusCode::OK, page)
}

async fn plan(
    State(app): State<Arc<App>>,
    uri: Uri,
    headers: HeaderMap,
    Query(pairs): Pairs,
) -> Response {
    let bay = pairs.iter().find(|(k, _)| k == "bay");
    let bay = bay.and_then(|(_, v)| v.trim().parse().ok());
    let page = plan_page(&shell(&app, &uri, &headers), &app.shown().list, bay);
    html(StatusCode::OK, page)
}

async fn repairs(
    State(app): State<Arc<App>>,
    uri: Uri,
    headers: HeaderMap,
    Query(pairs): Pairs,
) -> Response {
    let working = Arc::clone(&app);
    let data = tokio::task::spawn_blocking(move || working.night(&pairs)).await;
    match data {
        Ok(data) => html(StatusCode::OK, night::repairs_page(&shell(&app, &uri, &headers), &data)),
        Err(_) => broken(&app, &uri, &headers, "the work on this page stopped half way"),
    }
}

async fn power(State(app): State<Arc<App>>, uri: Uri, headers: HeaderMap) -> Response {
    let working = Arc::clone(&app);
    let data = tokio::task::spawn_blocking(move || working.power()).await;
    match data {
        Ok(data) => html(StatusCode::OK, power_page(&shell(&app, &uri, &headers), &data)),
        Err(_) => broken(&app, &uri, &headers, "the work on this page stopped half way"),
    }
}

async fn treatments(State(app): State<Arc<App>>, uri: Uri, headers: HeaderMap) -> Response {
    let ports = app.voyage().ports();
    let page = treatments_page(
        &shell(&app, &uri, &headers),
        &app.shown().treatments,
        &voyage::schedules(),
        &ports,
    );
    html(StatusCode::OK, page)
}

async fn treatment(
    State(app): State<Arc<App>>,
    uri: Uri,
    headers: HeaderMap,
    Path(unit): Path<String>,
) -> Response {
    let Some(id) = UnitId::from_text(&unit) else {
        return no_such_box(&app, &uri, &headers, &unit);
    };
    let working = Arc::clone(&app);
    let view = tokio::task::spawn_blocking(move || working.treatment(&id)).await;
    match view {
        Ok(Ok(Some(view))) => {
            html(StatusCode::OK, treatment_page(&shell(&app, &uri, &headers), &view))
        }
        Ok(Ok(None)) => {
            let page = trouble_page(
                &shell(&app, &uri, &headers),
                "No cold treatment",
                &format!("No cold treatment is ordered for {unit}."),
                "Check the number, or order one on the page of treatments.",
            );
            html(StatusCode::NOT_FOUND, page)
        }
        Ok(Err(why)) => broken(&app, &uri, &headers, &why),
        Err(_) => broken(&app, &uri, &headers, "the work on this page stopped half way"),
    }
}

async fn one_box(
    State(app): State<Arc<App>>,
    uri: Uri,
    headers: HeaderMap,
    Path(unit): Path<String>,
    Query(pairs): Pairs,
) -> Response {
    let range = Range::from_pairs(&pairs);
    let repair_in_h = ahead::repair_in_h(&pairs);
    let Some(id) = UnitId::from_text(&unit) else {
        return no_such_box(&app, &uri, &headers, &unit);
    };
    let working = Arc::clone(&app);
    let data = tokio::task::spawn_blocking(move || working.box_data(&id, range, repair_in_h)).await;
    match data {
        Ok(Ok(Some(data))) => {
            let shell = shell(&app, &uri, &headers);
            let page = box_page(&shell, &app.shown().list, &data, range);
            html(StatusCode::OK, page)
        }
        Ok(Ok(None)) => no_such_box(&app, &uri, &headers, &unit),
        Ok(Err(why)) => broken(&app, &uri, &headers, &why),
        Err(_) => broken(&app, &uri, &headers, "the work on this page stopped half way"),
    }
}

fn no_such_box(app: &App, uri: &Uri, headers: &HeaderMap, unit: &str) -> Response {
    let page = trouble_page(
        &shell(app, uri, headers),
        "No such box",
        &format!("“{unit}” is on no list, and nothing was read from it."),
        "Compare the number with the door of the box; the watch list finds it by a part of it.",
    );
    html(StatusCode::NOT_FOUND, page)
}

async fn box_series(
    State(app): State<Arc<App>>,
    Path(unit): Path<String>,
    Query(pairs): Pairs,
) -> Response {
    let range = Range::from_pairs(&pairs);
    let Some(id) = UnitId::from_text(&unit) else {
        return StatusCode::NOT_FOUND.into_response();
    };
    let data = tokio::task::spawn_blocking(move || app.history(&id, range)).await;
    match data {
        Ok(Ok(Some(h))) => {
            let head = [(CONTENT_TYPE, "application/json")];
            (head, series::json(&h)).into_response()
        }
        Ok(Ok(None)) => StatusCode::NOT_FOUND.into_response(),
        _ => StatusCode::INTERNAL_SERVER_ERROR.into_response(),
    }
}

async fn fluid(
    State(app): State<Arc<App>>,
    uri: Uri,
    headers: HeaderMap,
    Query(pairs): Pairs,
) -> Response {
    let shell = shell(&app, &uri, &headers);
    let asked = Asked::from_pairs(&pairs);
    match tokio::task::spawn_blocking(move || fluid_page(&shell, &asked)).await {
        Ok((page, true)) => html(StatusCode::OK, page),
        Ok((page, false)) => html(StatusCode::UNPROCESSABLE_ENTITY, page),
        Err(_) => broken(&app, &uri, &headers, "the work on this page stopped half way"),
    }
}

async fn files(State(app): State<Arc<App>>, uri: Uri, headers: HeaderMap) -> Response {
    let shown = app.shown();
    let newest = shown.entries.get(..ENTRIES).unwrap_or(&shown.entries);
    let mb = app.options.max_upload_bytes / (1024 * 1024);
    let page = files_page(&shell(&app, &uri, &headers), newest, mb);
    html(StatusCode::OK, page)
}

async fn original(
    State(app): State<Arc<App>>,
    uri: Uri,
    headers: HeaderMap,
    Path(sha): Path<String>,
) -> Response {
    let Some(digest) = Digest::from_hex(&sha) else {
        return not_found(State(app), uri, headers).await;
    };
    let working = Arc::clone(&app);
    let found = tokio::task::spawn_blocking(move || {
        let voyage = working.voyage();
        voyage.original(&digest).map_err(|e| e.to_string())
    });
    match found.await {
        Ok(Ok(Some((name, bytes)))) => download(&name, bytes),
        Ok(Ok(None)) => not_found(State(app), uri, headers).await,
        Ok(Err(why)) => broken(&app, &uri, &headers, &why),
        Err(_) => broken(&app, &uri, &headers, "the original could not be read"),
    }
}

/// Bytes as they are, never shown in the browser: what came in may be anything.
fn download(name: &str, bytes: Vec<u8>) -> Response {
    let mut response = bytes.into_response();
    let headers = response.headers_mut();
    headers.insert(CONTENT_TYPE, HeaderValue::from_static("text/plain"));
    // RFC 6266 §4.3: the plain form for old browsers, the extended one for any name.
    let plain: String = name
        .chars()
        .map(|c| if c.is_ascii_alphanumeric() || "._- ".contains(c) { c } else { '_' })
        .collect();
    let value = format!("attachment; filename=\"{plain}\"; filename*=UTF-8''{}", percent(name));
    let value = HeaderValue::from_str(&value);
    headers.insert(CONTENT_DISPOSITION, value.unwrap_or(HeaderValue::from_static("attachment")));
    response
}

async fn asset(Path(name): Path<String>) -> Response {
    let Some(asset) = assets::find(&name) else {
        return StatusCode::NOT_FOUND.into_response();
    };
    let mut response = asset.text.into_response();
    let head = response.headers_mut();
    head.insert(CONTENT_TYPE, HeaderValue::from_static(asset.media));
    let keep = HeaderValue::from_static("max-age=31536000, immutable");
    head.insert(CACHE_CONTROL, keep);
    response
}

async fn not_found(State(app): State<Arc<App>>, uri: Uri, headers: HeaderMap) -> Response {
    let page = trouble_page(
        &shell(&app, &uri, &headers),
        "No such page",
        &format!("There is nothing at {}.", uri.path()),
        "Start from the watch list, the bay plan or the files.",
    );
    html(StatusCode::NOT_FOUND, page)
}

async fn wrong_method(
    State(app): State<Arc<App>>,
    uri: Uri,
    headers: HeaderMap,
    method: Method,
) -> Response {
    let page = trouble_page(
        &shell(&app, &uri, &headers),
        "Not this way",
        &format!("{} cannot be asked for with {method}.", uri.path()),
        "If you reloaded the answer to a form: what was sent is kept. Go on from Files.",
    );
    html(StatusCode::METHOD_NOT_ALLOWED, page)
}
