//! `/rounds`: sheets, rounds so far, and keying a round in. Every line is stored as it is keyed, so
//! that a closed browser or a restarted computer loses none.

use std::sync::Arc;

use axum::Router;
use axum::extract::{Form, Path, Query, State};
use axum::http::header::{ACCEPT, CONTENT_DISPOSITION, CONTENT_TYPE, HeaderMap};
use axum::http::{HeaderValue, StatusCode, Uri};
use axum::response::{IntoResponse, Response};
use axum::routing::{get, post};
use papers::round::{Bays, RoundSheet, sheet};
use papers::sheet::Fonts;
use record::{
    Act, KeyedRow, PartSaid, RoundClosed, RoundFile, RoundKeyed, RoundLine, RoundStart, UnitId,
};
use units::Utc;
use voyage::rounds::{answer, judged_row, part_instant};

use crate::acts::{Fields, see_other};
use crate::engine::{App, now};
use crate::pages::round_key::{TEXTS, key_page, row_json};
use crate::pages::rounds::{RoundsData, key_href, rounds_page};
use crate::pages::trouble::trouble_page;
use crate::routes::{broken, html, shell};

type Pairs = Vec<(String, String)>;

/// Rounds of so many days are listed.
const DAYS_SHOWN: f64 = 5.0;

/// The addresses of this room.
pub fn routes() -> Router<Arc<App>> {
    Router::new()
        .route("/rounds", get(list))
        .route("/rounds/sheet.pdf", get(paper))
        .route("/rounds/begin", post(begin))
        .route("/rounds/key", get(go_on))
        .route("/rounds/key/{id}", get(key))
        .route("/rounds/key/{id}/check", post(check))
        .route("/rounds/key/{id}/save", post(save))
        .route("/rounds/key/{id}/begin", post(begin_again))
        .route("/rounds/key/{id}/enter", post(hand_in))
        .route("/rounds/key/{id}/drop", post(drop_it))
}

async fn list(State(app): State<Arc<App>>, uri: Uri, headers: HeaderMap) -> Response {
    let working = Arc::clone(&app);
    let data = tokio::task::spawn_blocking(move || -> Result<RoundsData, String> {
        let shown = working.shown();
        let at = shown.list.as_of.unwrap_or_else(now);
        let lines = working.round_lines(at)?;
        let v = working.voyage();
        let walked = v.rounds_walked(&shown.list, at.plus_hours(-24.0 * DAYS_SHOWN), at);
        let walked = walked.map_err(|e| e.to_string())?;
        let files = v.acts().rounds.clone();
        Ok(RoundsData { as_of: shown.list.as_of, lines, walked, files })
    });
    match data.await {
        Ok(Ok(data)) => html(StatusCode::OK, rounds_page(&shell(&app, &uri, &headers), &data)),
        Ok(Err(why)) => broken(&app, &uri, &headers, &why),
        Err(_) => broken(&app, &uri, &headers, "the work on this page stopped half way"),
    }
}

async fn paper(
    State(app): State<Arc<App>>,
    uri: Uri,
    headers: HeaderMap,
    Query(pairs): Query<Pairs>,
) -> Response {
    let text = Fields(pairs).text("bays");
    let bays = match Bays::parse(&text) {
        Ok(bays) => bays,
        Err(why) => return refused(&app, &uri, &headers, &format!("Bays {why}.")),
    };
    let working = Arc::clone(&app);
    let made = tokio::task::spawn_blocking(move || pdf(&working, &bays)).await;
    match made {
        Ok(Ok(bytes)) => {
            let mut response = bytes.into_response();
            let h = response.headers_mut();
            h.insert(CONTENT_TYPE, HeaderValue::from_static("application/pdf"));
            let name = HeaderValue::from_static("attachment; filename=\"round-sheet.pdf\"");
            h.insert(CONTENT_DISPOSITION, name);
            response
        }
        Ok(Err(why)) => broken(&app, &uri, &headers, &why),
        Err(_) => broken(&app, &uri, &headers, "the sheet could not be made"),
    }
}

fn pdf(app: &App, bays: &Bays) -> Result<Vec<u8>, String> {
    let fonts = Fonts::load().ok_or("the fonts cannot be read")?;
    let as_of = app.shown().list.as_of;
    let all = app.round_lines(as_of.unwrap_or_else(now))?;
    let lines: Vec<RoundLine> = all.iter().filter(|l| bays.hold(l)).cloned().collect();
    let mut v = app.voyage();
    let said = |e: voyage::Problem| e.to_string();
    let known = v.journal().last_seq().map_err(|e| e.to_string())?;
    let key = v.ready_to_sign("page", now()).map_err(said)?;
    if v.journal().last_seq().map_err(|e| e.to_string())? != known {
        app.renew_entries(&v)?;
    }
    let (entries, root) = v.log_root().map_err(said)?;
    let r = RoundSheet {
        ship_line: v.ship_line(),
        made_at: now(),
        as_of,
        lines: &lines,
        covers: bays.title(),
        entries: u64::try_from(entries).unwrap_or(0),
        root,
    };
    drop(v);
    sheet(&r, &fonts, key.public(), &|bytes| key.sign(bytes)).map(|(pdf, _)| pdf)
}

/// `GET /rounds/key`: the round that is half keyed, or the form to begin one.
async fn go_on(State(app): State<Arc<App>>) -> Response {
    let v = app.voyage();
    let open = v.acts().rounds.iter().rev().find(|r| r.closed.is_none());
    see_other(&open.map_or("/rounds#begin".to_owned(), |r| key_href(&r.start.id)), "/rounds")
}

async fn begin(
    State(app): State<Arc<App>>,
    uri: Uri,
    headers: HeaderMap,
    Form(pairs): Form<Pairs>,
) -> Response {
    act(app, uri, headers, move |app| started(app, &Fields(pairs), None)).await
}

async fn begin_again(
    State(app): State<Arc<App>>,
    uri: Uri,
    headers: HeaderMap,
    Path(id): Path<String>,
    Form(pairs): Form<Pairs>,
) -> Response {
    act(app, uri, headers, move |app| started(app, &Fields(pairs), Some(id))).await
}

fn started(app: &App, f: &Fields, id: Option<String>) -> Result<String, String> {
    let walked_by = f.needed("walked_by", "The name of who walked the round")?;
    let at = f.time("at", "The time of the round")?;
    let at = voyage::has_come("The time of the round", at, now())?;
    let who = Some(f.text("who")).filter(|w| !w.is_empty()).unwrap_or_else(|| walked_by.clone());
    let mut v = app.voyage();
    let id = id.unwrap_or_else(|| v.next_round_id());
    let back = key_href(&id);
    let start = RoundStart { id, at, walked_by, weather: f.text("weather") };
    v.enter(&Act::RoundBegun(Box::new(start)), &[], &who, now()).map_err(|e| format!("{e}."))?;
    app.renew_entries(&v)?;
    Ok(back)
}

async fn key(
    State(app): State<Arc<App>>,
    uri: Uri,
    headers: HeaderMap,
    Path(id): Path<String>,
) -> Response {
    let working = Arc::clone(&app);
    let found = tokio::task::spawn_blocking(move || -> Result<_, String> {
        let Some(round) = working.voyage().round(&id).cloned() else { return Ok(None) };
        let lines = working.round_lines(round.start.at)?;
        Ok(Some((round, lines)))
    });
    match found.await {
        Ok(Ok(Some((round, lines)))) => {
            let page = key_page(&shell(&app, &uri, &headers), &round, &lines);
            html(StatusCode::OK, page)
        }
        Ok(Ok(None)) => {
            let page = trouble_page(
                &shell(&app, &uri, &headers),
                "No such round",
                "No round of that name is being keyed in.",
                "The page of rounds lists those that are.",
            );
            html(StatusCode::NOT_FOUND, page)
        }
        Ok(Err(why)) => broken(&app, &uri, &headers, &why),
        Err(_) => broken(&app, &uri, &headers, "the work on this page stopped half way"),
    }
}

/// The rows that a form holds: fields are named `UNIT.what`.
fn rows(pairs: &Pairs, round: &RoundFile, lines: &[RoundLine]) -> Vec<KeyedRow> {
    let mut out: Vec<KeyedRow> = Vec::new();
    let mut answers: Vec<(UnitId, String, String)> = Vec::new();
    for (name, value) in pairs {
        let Some((unit, what)) = name.split_once('.') else { continue };
        let Some(unit) = UnitId::from_text(unit) else { continue };
        let place = out.iter().position(|r| r.unit == unit).unwrap_or_else(|| {
            let mut new = KeyedRow::new(unit.clone());
            if let Some(old) = round.rows.get(&unit) {
                new.answered.clone_from(&old.answered);
            }
            out.push(new);
            out.len() - 1
        });
        let Some(row) = out.get_mut(place) else { continue };
        let text: String = value.trim().chars().filter(|c| !c.is_control()).take(200).collect();
        match what {
            "power" => {
                row.on_power = match text.as_str() {
                    "on" => Some(true),
                    "off" => Some(false),
                    _ => None,
                };
            }
            "defrost" => row.defrost = text == "yes",
            "alarm" => row.alarm = text,
            "remark" => row.remark = text,
            _ => match what.strip_prefix("answer.") {
                Some(of) => answers.push((unit, of.to_owned(), text)),
                None if TEXTS.contains(&what) && !text.is_empty() => {
                    row.values.insert(what.to_owned(), text);
                }
                None => {}
            },
        }
    }
    for (unit, of, text) in answers {
        let (how, kind) = text.split_once(':').unwrap_or(("", ""));
        let line = lines.iter().find(|l| *l.unit() == unit);
        if let (Some(row), Some(line)) = (out.iter_mut().find(|r| r.unit == unit), line) {
            answer(row, line, round.start.at, &of, kind, how == "keep");
        }
    }
    out.retain(|r| lines.iter().any(|l| *l.unit() == r.unit));
    out
}

/// What the form says of a part of the walk.
fn part_said(f: &Fields) -> Option<PartSaid> {
    let part = Some(f.text("part")).filter(|p| !p.is_empty())?;
    let yes = |key: &str| f.text(key) == "yes";
    Some(PartSaid {
        part,
        time: f.text("time"),
        on_power: yes("all_on_power"),
        set_point: yes("all_set_point"),
    })
}

/// `POST /rounds/key/{id}/check`: what is to be asked about one line; nothing is stored.
async fn check(
    State(app): State<Arc<App>>,
    Path(id): Path<String>,
    Form(pairs): Form<Pairs>,
) -> Response {
    let work = tokio::task::spawn_blocking(move || -> Result<String, String> {
        let round = app.voyage().round(&id).cloned().ok_or("no such round")?;
        let lines = app.round_lines(round.start.at)?;
        let rows = rows(&pairs, &round, &lines);
        let told = rows.iter().filter_map(|row| told(row, &lines, round.start.at));
        Ok(serde_json::json!({ "rows": told.collect::<Vec<_>>() }).to_string())
    });
    json_answer(work.await.unwrap_or_else(|_| Err("it stopped half way".to_owned())))
}

fn told(row: &KeyedRow, lines: &[RoundLine], at: Utc) -> Option<serde_json::Value> {
    let line = lines.iter().find(|l| *l.unit() == row.unit)?;
    Some(row_json(row, line, &judged_row(row, line, at)))
}

fn json_answer(result: Result<String, String>) -> Response {
    match result {
        Ok(text) => ([(CONTENT_TYPE, "application/json")], text).into_response(),
        Err(why) => (StatusCode::UNPROCESSABLE_ENTITY, why).into_response(),
    }
}

/// What a saved form came to.
struct Saved {
    json: String,
    back: String,
}

/// `POST /rounds/key/{id}/save`: lines into the journal. A script is answered in JSON; a form is
/// led on to the next part, or back to this one while anything is open in it.
async fn save(
    State(app): State<Arc<App>>,
    uri: Uri,
    headers: HeaderMap,
    Path(id): Path<String>,
    Form(pairs): Form<Pairs>,
) -> Response {
    let wants_json =
        headers.get(ACCEPT).and_then(|v| v.to_str().ok()).is_some_and(|v| v.contains("json"));
    let working = Arc::clone(&app);
    let done = tokio::task::spawn_blocking(move || saved(&working, &id, pairs)).await;
    match done.unwrap_or_else(|_| Err("the work on this form stopped half way".to_owned())) {
        Ok(saved) if wants_json => json_answer(Ok(saved.json)),
        Ok(saved) => see_other(&saved.back, "/rounds"),
        Err(why) if wants_json => json_answer(Err(why)),
        Err(why) => refused(&app, &uri, &headers, &why),
    }
}

fn saved(app: &App, id: &str, pairs: Pairs) -> Result<Saved, String> {
    let round = app.voyage().round(id).cloned();
    let round = round.ok_or_else(|| format!("There is no round \"{id}\"."))?;
    let lines = app.round_lines(round.start.at)?;
    let keyed_rows = rows(&pairs, &round, &lines);
    let f = Fields(pairs);
    let said = part_said(&f);
    let part = said.as_ref().map(|p| p.part.clone()).unwrap_or_default();
    let time = said.as_ref().map_or("", |p| p.time.as_str());
    let wrong_time = part_instant(round.start.at, time).err();
    // What is held already is not stored again.
    let known = |r: &KeyedRow| match round.rows.get(&r.unit) {
        Some(held) => held == r,
        None => r.is_empty(),
    };
    let new: Vec<KeyedRow> = keyed_rows.iter().filter(|r| !known(r)).cloned().collect();
    let news = |p: &PartSaid| match round.parts.get(&p.part) {
        Some(held) => held != p,
        None => *p != PartSaid { part: p.part.clone(), ..PartSaid::default() },
    };
    let parts: Vec<PartSaid> = said.into_iter().filter(news).collect();
    let mut v = app.voyage();
    if !new.is_empty() || !parts.is_empty() {
        let act = RoundKeyed { id: id.to_owned(), rows: new, parts };
        let act = Act::RoundKeyed(Box::new(act));
        v.enter(&act, &[], &round.who, now()).map_err(|e| format!("{e}."))?;
        app.renew_entries(&v)?;
    }
    let read = v.round(id).map_or(0, RoundFile::read);
    drop(v);
    let told: Vec<serde_json::Value> =
        keyed_rows.iter().filter_map(|row| told(row, &lines, round.start.at)).collect();
    let open = |row: &KeyedRow| {
        let line = lines.iter().find(|l| *l.unit() == row.unit);
        line.is_some_and(|l| !judged_row(row, l, round.start.at).is_clear())
    };
    let stays = wrong_time.is_some() || keyed_rows.iter().any(open);
    let json = serde_json::json!({
        "saved_at": figures::words::clock(now()),
        "read": read,
        "of": lines.len(),
        "rows": told,
        "wrong_time": wrong_time,
    });
    Ok(Saved { json: json.to_string(), back: next_part(id, &part, stays, &lines) })
}

/// Where a form leads: to the next part of the walk, or to its own.
fn next_part(id: &str, part: &str, stays: bool, lines: &[RoundLine]) -> String {
    let parts = record::round::parts(lines);
    let at = parts.iter().position(|(p, _)| p.key() == part);
    let next = at.and_then(|i| parts.get(i + 1)).map(|(p, _)| p.key());
    let anchor = match (stays, next) {
        (true, _) => format!("part-{part}"),
        (false, Some(next)) => format!("part-{next}"),
        (false, None) => "finish".to_owned(),
    };
    format!("{}#{anchor}", key_href(id))
}

async fn hand_in(
    State(app): State<Arc<App>>,
    uri: Uri,
    headers: HeaderMap,
    Path(id): Path<String>,
) -> Response {
    act(app, uri, headers, move |app| {
        let round = app.voyage().round(&id).cloned();
        let round = round.ok_or_else(|| format!("There is no round \"{id}\"."))?;
        let lines = app.round_lines(round.start.at)?;
        let mut v = app.voyage();
        v.hand_in_round(&id, &lines, &round.who, now()).map_err(|e| format!("{e}."))?;
        app.renew(&v)?;
        Ok(format!("/rounds?entered={id}#walked"))
    })
    .await
}

async fn drop_it(
    State(app): State<Arc<App>>,
    uri: Uri,
    headers: HeaderMap,
    Path(id): Path<String>,
) -> Response {
    act(app, uri, headers, move |app| {
        let mut v = app.voyage();
        let who = v.round(&id).map(|r| r.who.clone()).unwrap_or_default();
        let end = RoundClosed { id, boxes: None, file: String::new() };
        let act = Act::RoundClosed(Box::new(end));
        v.enter(&act, &[], &who, now()).map_err(|e| format!("{e}."))?;
        app.renew_entries(&v)?;
        Ok("/rounds".to_owned())
    })
    .await
}

async fn act(
    app: Arc<App>,
    uri: Uri,
    headers: HeaderMap,
    work: impl FnOnce(&App) -> Result<String, String> + Send + 'static,
) -> Response {
    let working = Arc::clone(&app);
    match tokio::task::spawn_blocking(move || work(&working)).await {
        Ok(Ok(back)) => see_other(&back, "/rounds"),
        Ok(Err(what)) => refused(&app, &uri, &headers, &what),
        Err(_) => broken(&app, &uri, &headers, "the work on this form stopped half way"),
    }
}

fn refused(app: &App, uri: &Uri, headers: &HeaderMap, what: &str) -> Response {
    let page = trouble_page(
        &shell(app, uri, headers),
        "Not entered",
        what,
        "What was keyed before is still held. Go back, correct it and send it again.",
    );
    html(StatusCode::UNPROCESSABLE_ENTITY, page)
}
