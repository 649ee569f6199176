//! `/log`: the log of the watch, searched, exported, and written to.

use std::sync::Arc;

use axum::Form;
use axum::extract::{Query, State};
use axum::http::header::{CONTENT_DISPOSITION, CONTENT_TYPE, HeaderMap, HeaderValue};
use axum::http::{StatusCode, Uri};
use axum::response::{IntoResponse, Response};
use papers::csv_file::CsvFile;
use record::{Act, Note, NoteKind, RoundMissed, UnitId};
use units::Utc;
use voyage::{LogAsked, LogLine, has_come};

use crate::acts::{Fields, enter, put};
use crate::engine::{App, now};
use crate::pages::box_href;
use crate::pages::log::{Asked, log_page};
use crate::routes::{broken, html, shell};

/// `GET /log`
pub async fn show(
    State(app): State<Arc<App>>,
    uri: Uri,
    headers: HeaderMap,
    Query(pairs): Query<Vec<(String, String)>>,
) -> Response {
    let asked = Asked::from_pairs(&pairs);
    let wanted = asked.log();
    let working = Arc::clone(&app);
    let lines = tokio::task::spawn_blocking(move || working.voyage().log(&wanted)).await;
    let lines = match lines {
        Ok(Ok(lines)) => lines,
        Ok(Err(e)) => return broken(&app, &uri, &headers, &e.to_string()),
        Err(_) => return broken(&app, &uri, &headers, "the log could not be read"),
    };
    if asked.csv {
        let mut response = csv(&lines).into_response();
        let h = response.headers_mut();
        h.insert(CONTENT_TYPE, HeaderValue::from_static("text/csv; charset=utf-8"));
        h.insert(CONTENT_DISPOSITION, HeaderValue::from_static("attachment; filename=\"log.csv\""));
        return response;
    }
    html(StatusCode::OK, log_page(&shell(&app, &uri, &headers), &asked, &lines))
}

/// `POST /log/note`: a box where one is named, else the ship.
pub async fn note(
    State(app): State<Arc<App>>,
    uri: Uri,
    headers: HeaderMap,
    Form(pairs): Form<Vec<(String, String)>>,
) -> Response {
    let f = Fields(pairs);
    let unit = UnitId::from_text(&f.text("box"));
    let from_box = f.text("back") == "box";
    let back = match &unit {
        Some(unit) if from_box => format!("{}#written", box_href(unit)),
        _ => "/log#end".to_owned(),
    };
    enter(app, uri, headers, back, move |app| {
        if unit.is_none() && !f.text("box").is_empty() {
            return Err(format!("\"{}\" is no container number.", f.text("box")));
        }
        let kind = NoteKind::from_text(&f.text("kind")).ok_or("Choose what it is.")?;
        let at = past(f.time("at", "The time it happened")?)?;
        let text = f.needed("text", "What was seen or done")?;
        put(app, &Act::Noted(Box::new(Note { unit, kind, at, text })), &f.who()?)
    })
    .await
}

/// `POST /log/missed`
pub async fn missed(
    State(app): State<Arc<App>>,
    uri: Uri,
    headers: HeaderMap,
    Form(pairs): Form<Vec<(String, String)>>,
) -> Response {
    let f = Fields(pairs);
    enter(app, uri, headers, "/log#end".to_owned(), move |app| {
        let from = past(f.time("from", "The time from which nobody could go round")?)?;
        let to = f.time("to", "The time until which nobody could go round")?;
        if from > to {
            return Err("The time from which must be before the time until which.".to_owned());
        }
        let why = f.needed("why", "The reason")?;
        let (wind, sea) = (f.text("wind"), f.text("sea"));
        let act = Act::RoundMissed(Box::new(RoundMissed { from, to, why, wind, sea }));
        put(app, &act, &f.who()?)
    })
    .await
}

fn past(at: Utc) -> Result<Utc, String> {
    has_come("The time", at, now())
}

/// The log as a table (RFC 4180).
#[must_use]
pub fn csv(lines: &[LogLine]) -> Vec<u8> {
    let mut out = CsvFile::new(&[
        "entry",
        "happened_utc",
        "entered_utc",
        "late_h",
        "who",
        "kind",
        "words",
        "files",
        "sha256",
    ]);
    for l in lines {
        let files: Vec<String> = l.files.iter().map(|(n, sha)| format!("{n} {sha}")).collect();
        out.row(&[
            l.seq.map(|n| n.to_string()).unwrap_or_default(),
            l.at.to_string(),
            l.entered_at.map(|t| t.to_string()).unwrap_or_default(),
            l.late_h.map(|h| format!("{h:.1}")).unwrap_or_default(),
            l.who.clone(),
            l.kind.clone(),
            l.words.clone(),
            files.join("; "),
            l.sha256.map(|d| d.to_string()).unwrap_or_default(),
        ]);
    }
    out.bytes()
}

/// What is asked of the log, for other rooms of the page.
#[must_use]
pub fn of_box(unit: &UnitId) -> LogAsked {
    LogAsked { unit: Some(unit.clone()), ..LogAsked::default() }
}
