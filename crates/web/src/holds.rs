//! Vacuum holds: pages, and the small posts by which a reading comes in. Every reading is stored
//! before it is answered, so that a closed browser or a restarted computer loses none.

use std::sync::Arc;

use axum::Router;
use axum::extract::multipart::Multipart;
use axum::extract::{Form, Path, Query, State};
use axum::http::header::{CONTENT_TYPE, HeaderMap};
use axum::http::{StatusCode, Uri};
use axum::response::{IntoResponse, Response};
use axum::routing::{get, post};
use record::{Act, HoldEnd, HoldFile, HoldReading, HoldStart, UnitId};
use units::Utc;
use units::decimal::{self, DecimalMark};
use voyage::NamedBytes;
use voyage::holds::{HoldView, judged};
use voyage::pressure::PressureHead;

use crate::acts::{Fields, refused, see_other};
use crate::engine::{App, now};
use crate::pages::percent;
use crate::pages::trouble::trouble_page;
use crate::pages::vacuum::hold::{hold_page, verdict_line};
use crate::pages::vacuum::{hold_href, hold_json, to_keep, vacuum_page};
use crate::routes::{broken, html, shell};

type Pairs = Vec<(String, String)>;

/// The addresses of this room.
pub fn routes() -> Router<Arc<App>> {
    Router::new()
        .route("/vacuum", get(list))
        .route("/vacuum/begin", post(begin))
        .route("/vacuum/keep", post(keep))
        .route("/vacuum/{id}", get(one))
        .route("/vacuum/{id}/hold.json", get(json))
        .route("/vacuum/{id}/file", post(file))
        .route("/vacuum/{id}/{what}", post(about))
}

async fn list(
    State(app): State<Arc<App>>,
    uri: Uri,
    headers: HeaderMap,
    Query(pairs): Query<Pairs>,
) -> Response {
    let shell = shell(&app, &uri, &headers);
    let page = tokio::task::spawn_blocking({
        let app = Arc::clone(&app);
        move || {
            let (holds, tests, instruments) = {
                let voyage = app.voyage();
                let wrong = voyage.instruments_wrong(&voyage::instrument_state::ON_VACUUM, now());
                (voyage.acts().holds.clone(), voyage.acts().pressure_tests.clone(), wrong)
            };
            vacuum_page(&shell, &holds, &tests, &pairs, &instruments)
        }
    });
    match page.await {
        Ok((page, true)) => html(StatusCode::OK, page),
        Ok((page, false)) => html(StatusCode::UNPROCESSABLE_ENTITY, page),
        Err(_) => broken(&app, &uri, &headers, "the work on this page stopped half way"),
    }
}

/// A hold judged off the async threads and without holding the voyage; `None`: no such hold.
async fn view(app: &Arc<App>, id: String) -> Result<Option<HoldView>, ()> {
    let app = Arc::clone(app);
    let work = tokio::task::spawn_blocking(move || {
        let file = app.voyage().hold(&id).cloned();
        file.map(judged)
    });
    work.await.map_err(|_| ())
}

async fn one(
    State(app): State<Arc<App>>,
    uri: Uri,
    headers: HeaderMap,
    Path(id): Path<String>,
    Query(pairs): Query<Pairs>,
) -> Response {
    let log = pairs.iter().any(|(k, v)| k == "axis" && v == "log");
    match view(&app, id.clone()).await {
        Ok(Some(v)) => {
            let shown = app.shown();
            let head = format!("vacuum hold {id} ended");
            let signed = shown.entries.iter().find(|e| e.title.starts_with(&head));
            let mb = app.options.max_upload_bytes / (1024 * 1024);
            let taken = taken(&pairs);
            let shell = shell(&app, &uri, &headers);
            let s = &v.file.start;
            let wrong = app.voyage().named_instruments_wrong(&s.gauge, s.at);
            let page = hold_page(&shell, &v, signed, log, mb, taken.as_deref(), &wrong);
            html(StatusCode::OK, page)
        }
        Ok(None) => {
            let page = trouble_page(
                &shell(&app, &uri, &headers),
                "No such hold",
                &format!("There is no vacuum hold \"{id}\" in this voyage."),
                "Look for it in the list of holds under Vacuum.",
            );
            html(StatusCode::NOT_FOUND, page)
        }
        Err(()) => broken(&app, &uri, &headers, "the readings could not be judged"),
    }
}

/// What came of the file just sent, as the address says.
fn taken(pairs: &Pairs) -> Option<String> {
    let count = |key: &str| -> Option<u64> {
        pairs.iter().find(|(k, _)| k == key).and_then(|(_, v)| v.parse().ok())
    };
    let (new, known, refused) = (count("new")?, count("known")?, count("refused")?);
    let mut text = format!("Of the file: {new} new, {known} held already, {refused} refused.");
    if count("differing").is_some_and(|n| n > 0) {
        text.push_str(" Some rows differ from what is held of the same minute; both stand.");
    }
    if count("unfinished") == Some(1) {
        text.push_str(" Its last line is not finished and was left for the next time.");
    }
    if let Some((_, why)) = pairs.iter().find(|(k, v)| k == "why" && !v.is_empty()) {
        let why: String = why.chars().filter(|c| !c.is_control()).take(600).collect();
        text.push_str(&format!(" Refused: {why}"));
    }
    Some(text)
}

async fn json(State(app): State<Arc<App>>, Path(id): Path<String>) -> Response {
    match view(&app, id).await {
        Ok(Some(v)) => ([(CONTENT_TYPE, "application/json")], hold_json(&v)).into_response(),
        Ok(None) => StatusCode::NOT_FOUND.into_response(),
        Err(()) => StatusCode::INTERNAL_SERVER_ERROR.into_response(),
    }
}

async fn begin(
    State(app): State<Arc<App>>,
    uri: Uri,
    headers: HeaderMap,
    Form(pairs): Form<Pairs>,
) -> Response {
    let f = Fields(pairs);
    enter(app, uri, headers, move |app| {
        let who = f.who()?;
        let mut voyage = app.voyage();
        let id = voyage.next_hold_id();
        let back = hold_href(&id);
        let start = start(&f, id)?;
        let act = Act::HoldBegun(Box::new(start));
        voyage.enter(&act, &[], &who, now()).map_err(|e| format!("{e}."))?;
        app.renew_entries(&voyage)?;
        Ok(back)
    })
    .await
}

/// `POST /vacuum/keep`: a nitrogen or standing-pressure test as it was just answered.
async fn keep(
    State(app): State<Arc<App>>,
    uri: Uri,
    headers: HeaderMap,
    Form(pairs): Form<Pairs>,
) -> Response {
    enter(app, uri, headers, move |app| {
        let f = Fields(pairs.clone());
        let who = f.needed("who", "The name of the person who signs")?;
        let at = match f.text("at") {
            t if t.is_empty() => now(),
            _ => f.time("at", "The time of the last reading")?,
        };
        if at.ms() > now().ms() + 60_000 {
            return Err("The time of the last reading is still to come.".to_owned());
        }
        let head = PressureHead {
            unit: unit_of(&f)?,
            place: f.text("place"),
            at,
            gauge: f.needed("gauge_name", "The gauge")?,
            calibrated_on: calibrated(&f)?,
            ambient_c: number(&f, "ambient_c", "The ambient temperature")?,
            as_written: Vec::new(),
            remark: f.text("remark"),
        };
        let act = to_keep(&pairs, head)?;
        let mut voyage = app.voyage();
        let seq = voyage.enter(&act, &[], &who, now()).map_err(|e| format!("{e}."))?;
        app.renew_entries(&voyage)?;
        Ok(format!("/vacuum?kept={seq}#test-{seq}"))
    })
    .await
}

/// The container named, if one is.
fn unit_of(f: &Fields) -> Result<Option<UnitId>, String> {
    match f.text("unit_no") {
        t if t.is_empty() => Ok(None),
        t => {
            let unit = UnitId::from_text(&t).filter(UnitId::has_iso_form);
            unit.map(Some).ok_or_else(|| format!("\"{t}\" is no container number."))
        }
    }
}

fn start(f: &Fields, id: String) -> Result<HoldStart, String> {
    let unit = unit_of(f)?;
    let at = match f.text("at") {
        t if t.is_empty() => now(),
        _ => f.time("at", "The time the valve was closed")?,
    };
    if at.ms() > now().ms() {
        return Err("The time the valve was closed is still to come.".to_owned());
    }
    let some = |key: &str| Some(f.text(key)).filter(|t| !t.is_empty());
    Ok(HoldStart {
        id,
        at,
        unit,
        place: f.text("place"),
        volume_l: number(f, "volume_l", "The volume")?,
        coldest_c: number(f, "coldest_c", "The coldest surface")?,
        ambient_c: number(f, "ambient_c", "The ambient temperature")?,
        fluid: some("fluid"),
        gauge: f.needed("gauge", "The gauge")?,
        gauge_step: number(f, "gauge_step", "The step of the display")?.unwrap_or(0.0),
        pressure_unit: f.needed("pressure_unit", "The gauge's unit")?,
        calibrated_on: calibrated(f)?,
        criterion: f.needed("criterion", "The criterion")?,
        rise_um: number(f, "rise_um", "The accepted rise")?.filter(|r| *r > 0.0),
    })
}

fn calibrated(f: &Fields) -> Result<String, String> {
    let text = f.text("calibrated_on");
    if !text.is_empty() && Utc::parse(&format!("{text} 00:00")).is_err() {
        return Err(format!(
            "The calibration date \"{text}\" is no date; write it as 2026-03-01, or leave it empty \
             when there is none."
        ));
    }
    Ok(text)
}

/// A plain number in a field; empty is none.
fn number(f: &Fields, key: &str, name: &str) -> Result<Option<f64>, String> {
    let text = f.text(key).replace('\u{2212}', "-");
    if text.is_empty() {
        return Ok(None);
    }
    let value = decimal::parse(&text, DecimalMark::PointOrComma);
    value.map(Some).map_err(|e| format!("{name}: \"{text}\" {e}."))
}

/// `POST /vacuum/{id}/{what}`
async fn about(
    State(app): State<Arc<App>>,
    uri: Uri,
    headers: HeaderMap,
    Path((id, what)): Path<(String, String)>,
    Form(pairs): Form<Pairs>,
) -> Response {
    let f = Fields(pairs);
    enter(app, uri, headers, move |app| {
        let Some(hold) = app.voyage().hold(&id).cloned() else {
            return Err(format!("There is no hold \"{id}\"."));
        };
        if what == "read" && again(&f, &hold) {
            return Ok(hold_href(&id));
        }
        let (act, who) = match what.as_str() {
            "read" => (read(&f, &id, &hold.start)?, hold.who.clone()),
            "strike" => (strike(&f, &id)?, hold.who.clone()),
            "measure" => (measure(&f, &id)?, hold.who.clone()),
            "end" => {
                let who = f.needed("who", "The name of the person who signs")?;
                (end(&f, &judged(hold)), who)
            }
            other => return Err(format!("There is nothing to enter under \"{other}\".")),
        };
        let mut voyage = app.voyage();
        voyage.enter(&act, &[], &who, now()).map_err(|e| format!("{e}."))?;
        app.renew_entries(&voyage)?;
        Ok(hold_href(&id))
    })
    .await
}

/// A reading keyed: taken now, unless its minute is said.
fn read(f: &Fields, id: &str, start: &HoldStart) -> Result<Act, String> {
    let text = f.needed("pressure", "The reading")?;
    // A comma is taken as the decimal mark only where it cannot be a thousands mark.
    decimal::parse(&text, DecimalMark::PointOrComma)
        .map_err(|e| format!("\"{text}\" {e}; key in the gauge's figure."))?;
    let at = match number(f, "minute", "The minute")? {
        Some(m) if m < 0.0 => return Err("The minute is before the valve was closed.".to_owned()),
        Some(m) => voyage::holds::at_minute(start, m),
        None => now(),
    };
    if at.ms() > now().ms() + 60_000 {
        return Err("The reading's minute is still to come.".to_owned());
    }
    let reading = HoldReading { at, pressure: text.replace(',', ".") };
    Ok(Act::HoldRead { id: id.to_owned(), readings: vec![reading], source: None })
}

/// The same figure of a minute that was said, sent twice: a second press, or the way back in a
/// browser. Without a minute a figure counts as often as it is keyed.
fn again(f: &Fields, hold: &HoldFile) -> bool {
    let Ok(Act::HoldRead { readings, .. }) = read(f, "", &hold.start) else { return false };
    let mut keyed = hold.readings.iter().filter(|r| r.source.is_none() && !r.struck);
    !f.text("minute").is_empty()
        && readings.first().is_some_and(|new| keyed.any(|old| old.reading == *new))
}

fn strike(f: &Fields, id: &str) -> Result<Act, String> {
    let text = f.needed("number", "The number of the reading")?;
    let number = text.parse().map_err(|_| format!("\"{text}\" is no number of a reading."))?;
    Ok(Act::HoldStruck { id: id.to_owned(), number })
}

fn measure(f: &Fields, id: &str) -> Result<Act, String> {
    let coldest_c = number(f, "coldest_c", "The coldest surface")?;
    let ambient_c = number(f, "ambient_c", "The ambient temperature")?;
    if coldest_c.is_none() && ambient_c.is_none() {
        return Err("No temperature was written.".to_owned());
    }
    Ok(Act::HoldMeasured { id: id.to_owned(), at: now(), coldest_c, ambient_c })
}

/// The end, with the verdict as it stands on the page at that moment.
fn end(f: &Fields, v: &HoldView) -> Act {
    let p = &v.judgement.probabilities;
    Act::HoldEnded(Box::new(HoldEnd {
        id: v.file.start.id.clone(),
        at: now(),
        verdict: v.judgement.verdict.as_str().to_owned(),
        words: format!("{}; {}: {}", verdict_line(v), v.criterion.name, v.standing.words),
        probabilities: [p.dry_and_gross_tight, p.wet, p.leaking, p.wet_and_leaking]
            .map(|p| units::math::round_to(p, 6)),
        readings: v.points.len() as u64,
        remark: f.text("remark"),
    }))
}

/// `POST /vacuum/{id}/file`: the new rows of a file that grows.
async fn file(
    State(app): State<Arc<App>>,
    uri: Uri,
    headers: HeaderMap,
    Path(id): Path<String>,
    mut form: Multipart,
) -> Response {
    let mut sent = NamedBytes { name: String::new(), bytes: Vec::new() };
    let mut finished = false;
    loop {
        let field = match form.next_field().await {
            Ok(Some(field)) => field,
            Ok(None) => break,
            Err(e) => return broken(&app, &uri, &headers, &e.body_text()),
        };
        match field.name() {
            Some("files") => {
                sent.name = field.file_name().unwrap_or("unnamed").to_owned();
                match field.bytes().await {
                    Ok(bytes) => sent.bytes = bytes.to_vec(),
                    Err(e) => return broken(&app, &uri, &headers, &e.body_text()),
                }
            }
            Some("finished") => finished = true,
            _ => {}
        }
    }
    enter(app, uri, headers, move |app| take_file(app, &id, sent, finished)).await
}

fn take_file(app: &App, id: &str, sent: NamedBytes, finished: bool) -> Result<String, String> {
    let mut voyage = app.voyage();
    let Some(hold) = voyage.hold(id).cloned() else {
        return Err(format!("There is no hold \"{id}\"."));
    };
    if sent.bytes.is_empty() {
        return Err("No file was chosen, or it is empty.".to_owned());
    }
    let name = sent.name.clone();
    let found = voyage::holds::from_file(&hold, &sent.bytes, finished)
        .map_err(|e| format!("{name}: {e}."))?;
    let some: Vec<String> = found.refused.iter().take(4).map(ToString::to_string).collect();
    let back = format!(
        "{}?new={}&known={}&differing={}&refused={}&unfinished={}&why={}",
        hold_href(id),
        found.new.len(),
        found.known,
        found.differing,
        found.refused.len(),
        u8::from(found.unfinished),
        percent(&some.join("; "))
    );
    if found.new.is_empty() {
        if let Some(why) = found.refused.first().filter(|_| found.known == 0) {
            return Err(format!("{name}: no reading could be read; {why}."));
        }
        return Ok(back);
    }
    let act = Act::HoldRead { id: id.to_owned(), readings: found.new, source: Some(name) };
    voyage.enter(&act, &[sent], &hold.who, now()).map_err(|e| format!("{e}."))?;
    app.renew_entries(&voyage)?;
    Ok(back)
}

/// Does it off the async threads and goes to the page it names.
async fn enter(
    app: Arc<App>,
    uri: Uri,
    headers: HeaderMap,
    work: impl FnOnce(&App) -> Result<String, String> + Send + 'static,
) -> Response {
    let working = Arc::clone(&app);
    match tokio::task::spawn_blocking(move || work(&working)).await {
        Ok(Ok(back)) => see_other(&back, "/vacuum"),
        Ok(Err(what)) => refused(&app, &uri, &headers, &what),
        Err(_) => broken(&app, &uri, &headers, "the work on this form stopped half way"),
    }
}
