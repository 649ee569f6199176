//! Gauge readings over the wire: judged off the async threads, kept in the journal on request.

use std::sync::Arc;

use axum::Form;
use axum::extract::{Query, State};
use axum::http::header::HeaderMap;
use axum::http::{StatusCode, Uri};
use axum::response::Response;
use maud::Markup;
use record::{Act, GaugesEntry, UnitId};
use units::Utc;

use crate::acts::see_other;
use crate::engine::{App, now};
use crate::pages::Shell;
use crate::pages::gauges::{Asked, NotKept, Outcome, gauges_href, gauges_page, to_keep, work_out};
use crate::routes::{broken, html, shell};

/// What the journal holds of the box named.
fn kept(app: &App, asked: &Asked) -> Option<Vec<GaugesEntry>> {
    let unit = UnitId::from_text(&asked.unit)?;
    Some(app.gauges(&unit))
}

/// What is wrong with the instruments that read a circuit.
fn wrong(app: &App) -> Vec<String> {
    app.voyage().instruments_wrong(&voyage::instrument_state::ON_GAUGES, now())
}

/// `GET /gauges`
pub async fn show(
    State(app): State<Arc<App>>,
    uri: Uri,
    headers: HeaderMap,
    Query(pairs): Query<Vec<(String, String)>>,
) -> Response {
    let asked = Asked::from_pairs(&pairs);
    let shell = shell(&app, &uri, &headers);
    let working = Arc::clone(&app);
    let made = tokio::task::spawn_blocking(move || {
        let kept = kept(&working, &asked);
        let outcome = work_out(&asked, kept.as_deref().unwrap_or_default());
        let page = gauges_page(&shell, &asked, &outcome, kept.as_deref(), None, &wrong(&working));
        (page, matches!(outcome, Outcome::Refused(_)))
    });
    match made.await {
        Ok((page, false)) => html(StatusCode::OK, page),
        Ok((page, true)) => html(StatusCode::UNPROCESSABLE_ENTITY, page),
        Err(_) => broken(&app, &uri, &headers, "the work on this page stopped half way"),
    }
}

/// `POST /gauges/keep`
pub async fn keep(
    State(app): State<Arc<App>>,
    uri: Uri,
    headers: HeaderMap,
    Form(pairs): Form<Vec<(String, String)>>,
) -> Response {
    let working = Arc::clone(&app);
    let shell = shell(&app, &uri, &headers);
    let done = tokio::task::spawn_blocking(move || match enter(&working, &pairs) {
        Ok(to) => Ok(to),
        Err(why) => Err(shown_again(&working, &shell, &pairs, why)),
    });
    match done.await {
        Ok(Ok(to)) => see_other(&to, "/gauges"),
        Ok(Err(page)) => html(StatusCode::UNPROCESSABLE_ENTITY, page),
        Err(_) => broken(&app, &uri, &headers, "the work on this form stopped half way"),
    }
}

/// Text of a field, at most so long.
fn typed(pairs: &[(String, String)], key: &str, most: usize) -> String {
    let found = pairs.iter().find(|(k, _)| k == key).map_or("", |(_, v)| v.trim());
    found.chars().filter(|c| !c.is_control()).take(most).collect()
}

/// The page as it was sent, with why it was not kept.
fn shown_again(app: &App, shell: &Shell, pairs: &[(String, String)], why: String) -> Markup {
    let asked = Asked::from_pairs(pairs);
    let kept = kept(app, &asked);
    let outcome = work_out(&asked, kept.as_deref().unwrap_or_default());
    let not_kept = NotKept {
        why,
        unit: typed(pairs, "unit", 20),
        at: typed(pairs, "at", 30),
        who: typed(pairs, "who", 60),
        note: typed(pairs, "note", 300),
    };
    gauges_page(shell, &asked, &outcome, kept.as_deref(), Some(&not_kept), &wrong(app))
}

/// Judges once more and enters readings and answer; the address that shows them.
fn enter(app: &App, pairs: &[(String, String)]) -> Result<String, String> {
    let mut asked = Asked::from_pairs(pairs);
    let text = |key: &str, most: usize| typed(pairs, key, most);
    let unit = UnitId::from_text(&asked.unit).filter(UnitId::has_iso_form);
    let unit = unit.ok_or_else(|| format!("“{}” is no container number.", asked.unit))?;
    let who = text("who", 60);
    if who.is_empty() {
        return Err("The name of the person who enters this is missing.".to_owned());
    }
    let at = text("at", 30);
    let at = Utc::parse(&at).map_err(|e| format!("The time of reading: “{at}” {e}."))?;
    let at = voyage::has_come("The time of reading", at, now())?;
    let told = match work_out(&asked, &app.gauges(&unit)) {
        Outcome::Told(told) => told,
        Outcome::Empty => return Err("No reading was written.".to_owned()),
        Outcome::Refused(wrong) => {
            let all: Vec<String> = wrong.into_iter().map(|(_, what)| what).collect();
            return Err(all.join(" "));
        }
    };
    asked.unit = unit.as_str().to_owned();
    let read = to_keep(&told, &asked, unit, at, text("note", 300));
    let act = Act::GaugesRead(Box::new(read));
    app.voyage().enter(&act, &[], &who, now()).map_err(|e| format!("{e}."))?;
    app.renew_entries(&app.voyage()).map_err(|e| format!("It is stored, but {e}."))?;
    Ok(format!("{}#keep", gauges_href(&asked)))
}
