//! Instruments, ice-point checks, recorder charts: pages and forms.

use std::sync::Arc;

use axum::Router;
use axum::extract::multipart::{Multipart, MultipartError};
use axum::extract::{Form, Query, State};
use axum::http::header::{CONTENT_TYPE, HeaderMap};
use axum::http::{StatusCode, Uri};
use axum::response::{IntoResponse, Response};
use axum::routing::{get, post};
use record::instrument::id_from_text;
use record::{
    Act, BoxSensor, ChartAct, ChartKept, ChartOff, ChartOn, Checked, IceCheck, Instrument,
    InstrumentAct, InstrumentKind, Scan, UnitId,
};
use units::Utc;
use voyage::{NamedBytes, has_come};

use crate::acts::{Fields, enter, said};
use crate::engine::{App, now};
use crate::guard::too_large_page;
use crate::pages::charts::charts_page;
use crate::pages::instruments::{Asked, ice_told, instruments_page};
use crate::pages::trouble::trouble_page;
use crate::routes::{broken, html, shell};

type Pairs = Vec<(String, String)>;

/// Most files with one entry.
const FILES_MOST: usize = 10;

/// The addresses of this room.
pub fn routes() -> Router<Arc<App>> {
    Router::new()
        .route("/instruments", get(register))
        .route("/instruments/ice", get(ice))
        .route("/instruments/check", post(check))
        .route("/instruments/state", post(state))
        .route("/instruments/withdraw", post(withdraw))
        .route("/charts", get(charts))
        .route("/charts/on", post(chart_on))
        .route("/charts/off", post(chart_off))
        .route("/charts/keep", post(chart_keep))
}

async fn register(
    State(app): State<Arc<App>>,
    uri: Uri,
    headers: HeaderMap,
    Query(pairs): Query<Pairs>,
) -> Response {
    let asked = Asked::from_pairs(&pairs);
    let working = Arc::clone(&app);
    let made = tokio::task::spawn_blocking(move || {
        let voyage = working.voyage();
        (voyage.instruments(now()), voyage.sensor_checks(None))
    });
    match made.await {
        Ok((lines, sensors)) => {
            let page = instruments_page(&shell(&app, &uri, &headers), &lines, &sensors, &asked);
            html(StatusCode::OK, page)
        }
        Err(_) => broken(&app, &uri, &headers, "the work on this page stopped half way"),
    }
}

/// What readings in ice say, as a piece of a page: shown while they are being keyed.
async fn ice(Query(pairs): Query<Pairs>) -> Response {
    let asked = Asked::from_pairs(&pairs);
    let told = ice_told(&asked).into_string();
    ([(CONTENT_TYPE, "text/html; charset=utf-8")], told).into_response()
}

async fn check(
    State(app): State<Arc<App>>,
    uri: Uri,
    headers: HeaderMap,
    Form(pairs): Form<Pairs>,
) -> Response {
    let f = Fields(pairs);
    enter(app, uri, headers, "/instruments#checked".to_owned(), move |app| {
        let asked = Asked::from_pairs(&f.0);
        let check = IceCheck {
            of: checked(&f)?,
            at: past(&f, "at", "The time of the readings")?,
            readings: asked.list(),
            fahrenheit: asked.fahrenheit,
            stirred: match f.text("stirred").as_str() {
                "yes" => Some(true),
                "no" => Some(false),
                _ => None,
            },
            ice: f.text("ice"),
            against: f.text("against"),
            remark: f.text("remark"),
        };
        let act = InstrumentAct::IceChecked { check };
        put(app, &Act::Instrument(Box::new(act)), &[], &f)
    })
    .await
}

/// What was held in ice: an id of the register, or a container with its sensor.
fn checked(f: &Fields) -> Result<Checked, String> {
    let of = f.needed("of", "What was checked")?;
    if let Some(sensor) = BoxSensor::from_text(&of) {
        return Ok(Checked::Sensor { unit: unit(f)?, sensor });
    }
    id_from_text(&of).map(Checked::Instrument).ok_or_else(|| format!("\"{of}\" is no id."))
}

fn unit(f: &Fields) -> Result<UnitId, String> {
    let text = f.needed("box", "The container")?;
    UnitId::from_text(&text)
        .filter(UnitId::has_iso_form)
        .ok_or_else(|| format!("\"{text}\" is no container number."))
}

fn past(f: &Fields, key: &str, name: &str) -> Result<Utc, String> {
    has_come(name, f.time(key, name)?, now())
}

fn put(app: &App, act: &Act, documents: &[NamedBytes], f: &Fields) -> Result<(), String> {
    let who = f.who()?;
    app.voyage().enter(act, documents, &who, now()).map(|_| ()).map_err(said)
}

async fn state(
    State(app): State<Arc<App>>,
    uri: Uri,
    headers: HeaderMap,
    form: Multipart,
) -> Response {
    with_files(app, uri, headers, "/instruments", form, |f, documents| {
        let id = f.needed("id", "The id")?;
        let id = id_from_text(&id).ok_or_else(|| {
            format!(
                "\"{id}\" cannot be an id; write 2 to 16 letters and digits with at least one of \
                 each, for example VG-1."
            )
        })?;
        let of = stated(f, id, voyage::scans(documents))?;
        Ok(Act::Instrument(Box::new(match f.text("verb").as_str() {
            "change" => InstrumentAct::Changed(of),
            _ => InstrumentAct::Entered(of),
        })))
    })
    .await
}

fn stated(f: &Fields, id: String, new: Vec<Scan>) -> Result<Instrument, String> {
    let some = |key: &str| Some(f.text(key)).filter(|t| !t.is_empty());
    let number = |key: &str, name: &str| -> Result<Option<u32>, String> {
        let read =
            |t: String| t.parse().map_err(|_| format!("{name}: \"{t}\" is no whole number."));
        some(key).map(read).transpose()
    };
    Ok(Instrument {
        id,
        kind: InstrumentKind::from_text(&f.text("kind")).ok_or("Choose what it is.")?,
        what: f.text("what"),
        serial: f.text("serial"),
        accuracy: f.text("accuracy"),
        certificate: f.text("certificate"),
        issuer: f.text("issuer"),
        dated: some("dated"),
        due: some("due"),
        every_months: number("every_months", "Months between certificates")?,
        check_every_days: number("check_every_days", "Days between ice-point checks")?,
        place: f.text("place"),
        remark: f.text("remark"),
        scans: new,
    })
}

async fn withdraw(
    State(app): State<Arc<App>>,
    uri: Uri,
    headers: HeaderMap,
    Form(pairs): Form<Pairs>,
) -> Response {
    let f = Fields(pairs);
    enter(app, uri, headers, "/instruments".to_owned(), move |app| {
        let id = f.needed("id", "The instrument")?;
        let why = f.needed("why", "The reason")?;
        let act = InstrumentAct::Withdrawn { id, at: now(), why };
        put(app, &Act::Instrument(Box::new(act)), &[], &f)
    })
    .await
}

async fn charts(State(app): State<Arc<App>>, uri: Uri, headers: HeaderMap) -> Response {
    let lines = app.voyage().charts(now());
    html(StatusCode::OK, charts_page(&shell(&app, &uri, &headers), &lines))
}

async fn chart_on(
    State(app): State<Arc<App>>,
    uri: Uri,
    headers: HeaderMap,
    Form(pairs): Form<Pairs>,
) -> Response {
    let f = Fields(pairs);
    enter(app, uri, headers, "/charts".to_owned(), move |app| {
        let at = past(&f, "at", "The time it was put on")?;
        let days = f.needed("days", "The days it runs")?;
        let days = days.parse::<u32>().ok().filter(|d| (1..=366).contains(d));
        let days = days.ok_or("The days it runs: write 1 to 366.")?;
        let due = at.plus_hours(24.0 * f64::from(days));
        let (chart, remark) = (f.text("chart"), f.text("remark"));
        let on = ChartAct::On(ChartOn { unit: unit(&f)?, at, due, chart, remark });
        put(app, &Act::Chart(Box::new(on)), &[], &f)
    })
    .await
}

async fn chart_off(
    State(app): State<Arc<App>>,
    uri: Uri,
    headers: HeaderMap,
    form: Multipart,
) -> Response {
    with_files(app, uri, headers, "/charts", form, |f, documents| {
        let (kept, remark) = (f.text("kept"), f.text("remark"));
        let at = past(f, "at", "The time it was taken off")?;
        let scans = voyage::scans(documents);
        let off = ChartOff { unit: unit(f)?, at, kept, remark, scans };
        Ok(Act::Chart(Box::new(ChartAct::Off(off))))
    })
    .await
}

async fn chart_keep(
    State(app): State<Arc<App>>,
    uri: Uri,
    headers: HeaderMap,
    form: Multipart,
) -> Response {
    with_files(app, uri, headers, "/charts", form, |f, documents| {
        let of = f.needed("of", "The chart")?;
        let (unit, at) = of.split_once(' ').ok_or("Choose the chart.")?;
        let unit = UnitId::from_text(unit).ok_or("Choose the chart.")?;
        let on_at = Utc::parse(at).map_err(|_| "Choose the chart.".to_owned())?;
        let (kept, remark) = (f.text("kept"), f.text("remark"));
        let kept = ChartKept { unit, on_at, kept, remark, scans: voyage::scans(documents) };
        Ok(Act::Chart(Box::new(ChartAct::Kept(kept))))
    })
    .await
}

/// Reads a form with files, makes its act and enters both.
async fn with_files(
    app: Arc<App>,
    uri: Uri,
    headers: HeaderMap,
    back: &str,
    form: Multipart,
    act: fn(&Fields, &[NamedBytes]) -> Result<Act, String>,
) -> Response {
    match read_form(form).await {
        Ok((f, documents)) => {
            enter(app, uri, headers, back.to_owned(), move |app| {
                let mut act = act(&f, &documents)?;
                keep_scans(app, &mut act);
                put(app, &act, &documents, &f)
            })
            .await
        }
        Err(e) if e.status() == StatusCode::PAYLOAD_TOO_LARGE => {
            too_large_page(app.options.max_upload_bytes, None)
        }
        Err(e) => {
            let page = trouble_page(
                &shell(&app, &uri, &headers),
                "Not entered",
                &format!("The form could not be read to its end: {}.", e.body_text()),
                "Nothing was stored. Go back and send it again.",
            );
            html(StatusCode::UNPROCESSABLE_ENTITY, page)
        }
    }
}

/// A changed instrument without a new scan keeps the scan of the certificate that it still has.
fn keep_scans(app: &App, act: &mut Act) {
    let Act::Instrument(act) = act else { return };
    let InstrumentAct::Changed(i) = act.as_mut() else { return };
    let voyage = app.voyage();
    let before = voyage.acts().register.instruments.get(&i.id).and_then(|f| f.stated.last());
    if let Some(b) = before.map(|s| &s.instrument)
        && i.scans.is_empty()
        && (&i.certificate, &i.dated) == (&b.certificate, &b.dated)
    {
        i.scans.clone_from(&b.scans);
    }
}

async fn read_form(mut form: Multipart) -> Result<(Fields, Vec<NamedBytes>), MultipartError> {
    let (mut pairs, mut files) = (Vec::new(), Vec::new());
    while let Some(field) = form.next_field().await? {
        let name = field.name().unwrap_or_default().to_owned();
        if name == "scan" {
            let file = field.file_name().unwrap_or_default().to_owned();
            let bytes = field.bytes().await?.to_vec();
            if (!file.is_empty() || !bytes.is_empty()) && files.len() < FILES_MOST {
                let name = if file.is_empty() { "unnamed".to_owned() } else { file };
                files.push(NamedBytes { name, bytes });
            }
        } else {
            pairs.push((name, field.text().await?));
        }
    }
    Ok((Fields(pairs), files))
}
