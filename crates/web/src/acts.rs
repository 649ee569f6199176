//! Acts sent by forms: a person's decision into the journal, then back to the page.

use std::sync::Arc;

use axum::Form;
use axum::extract::{Path, State};
use axum::http::header::{HeaderMap, LOCATION};
use axum::http::{HeaderValue, StatusCode, Uri};
use axum::response::{IntoResponse, Response};
use record::{Act, SlurryReading, UnitId};
use units::Utc;
use voyage::Problem;

use crate::engine::{App, now};
use crate::pages::treatments::treatment_href;
use crate::pages::trouble::trouble_page;
use crate::routes::{broken, html, shell};

pub(crate) type Pairs = Form<Vec<(String, String)>>;

/// Longest text taken from a field; a schedule's text may be longer.
const FIELD_MAX: usize = 300;
/// Longest schedule.
const SCHEDULE_MAX: usize = 40_000;

/// What a form's fields hold.
pub(crate) struct Fields(pub(crate) Vec<(String, String)>);

impl Fields {
    pub(crate) fn long(&self, key: &str, most: usize) -> String {
        let found = self.0.iter().find(|(k, _)| k == key);
        found.map_or("", |(_, v)| v.trim()).chars().take(most).collect()
    }

    pub(crate) fn text(&self, key: &str) -> String {
        self.long(key, FIELD_MAX).chars().filter(|c| !c.is_control()).collect()
    }

    pub(crate) fn needed(&self, key: &str, name: &str) -> Result<String, String> {
        let text = self.text(key);
        if text.is_empty() { Err(format!("{name} is missing.")) } else { Ok(text) }
    }

    pub(crate) fn time(&self, key: &str, name: &str) -> Result<Utc, String> {
        let text = self.needed(key, name)?;
        Utc::parse(&text).map_err(|e| format!("{name}: \"{text}\" {e}."))
    }

    pub(crate) fn who(&self) -> Result<String, String> {
        self.needed("who", "The name of the person who enters this")
    }

    fn fahrenheit(&self) -> bool {
        self.text("unit") == "f"
    }
}

/// `POST /treatments/order`
pub async fn order(
    State(app): State<Arc<App>>,
    uri: Uri,
    headers: HeaderMap,
    Form(pairs): Pairs,
) -> Response {
    let f = Fields(pairs);
    enter(app, uri, headers, "/treatments".to_owned(), move |app| {
        let who = f.who()?;
        let mut units = Vec::new();
        for word in f.text("units").split([' ', ',', ';']).filter(|w| !w.is_empty()) {
            let unit = UnitId::from_text(word).filter(UnitId::has_iso_form);
            units.push(unit.ok_or_else(|| format!("\"{word}\" is no container number."))?);
        }
        let from_at = match f.text("from") {
            t if t.is_empty() => None,
            _ => Some(f.time("from", "The time the record counts from")?),
        };
        let text = f.long("text", SCHEDULE_MAX);
        let schedule = voyage::schedule_text(&f.text("schedule"), &text, "the text given");
        let schedule = schedule.map_err(|e| format!("{e}."))?;
        let done = app.voyage().order_treatment(units, schedule, from_at, &who, now());
        done.map(|_| ()).map_err(said)
    })
    .await
}

/// `POST /arrivals`
pub async fn arrival(
    State(app): State<Arc<App>>,
    uri: Uri,
    headers: HeaderMap,
    Form(pairs): Pairs,
) -> Response {
    let f = Fields(pairs);
    enter(app, uri, headers, "/treatments".to_owned(), move |app| {
        let port = f.needed("port", "The port")?.to_uppercase();
        let act = Act::ArrivalExpected { port, eta: f.time("eta", "The expected arrival")? };
        put(app, &act, &f.who()?)
    })
    .await
}

/// `POST /treatment/{unit}/{what}`
pub async fn about_box(
    State(app): State<Arc<App>>,
    uri: Uri,
    headers: HeaderMap,
    Path((unit, what)): Path<(String, String)>,
    Form(pairs): Pairs,
) -> Response {
    let f = Fields(pairs);
    let back =
        UnitId::from_text(&unit).map_or_else(|| "/treatments".to_owned(), |u| treatment_href(&u));
    enter(app, uri, headers, back, move |app| {
        let unit = UnitId::from_text(&unit).ok_or("No box is named.")?;
        let act = act(unit, &what, &f)?;
        put(app, &act, &f.who()?)
    })
    .await
}

fn act(unit: UnitId, what: &str, f: &Fields) -> Result<Act, String> {
    let official = || f.needed("official", "The official's name");
    let authority = || f.needed("authority", "The authority");
    let document = || f.needed("document", "The document");
    Ok(match what {
        "slurry" => Act::ProbesCalibrated {
            unit,
            at: f.time("at", "The time of the readings")?,
            readings: slurry(f)?,
            remark: f.text("remark"),
        },
        "precool" => Act::PrecoolSampled {
            unit,
            at: f.time("at", "The time of sampling")?,
            samples: samples(f)?,
            fahrenheit: f.fahrenheit(),
            remark: f.text("remark"),
        },
        "decision" => Act::OfficialDecided {
            unit,
            at: f.time("at", "The time of the decision")?,
            from_at: f.time("from", "The beginning of the breach")?,
            to_at: f.time("to", "The end of the breach")?,
            kind: Some(f.text("kind")).filter(|k| !k.is_empty()),
            probe: f.text("probe").parse().ok(),
            verified: f.text("verified") == "yes",
            official: official()?,
            authority: authority()?,
            document: document()?,
        },
        "release" => Act::TreatmentReleased {
            unit,
            at: f.time("at", "The time of the release")?,
            accepted: f.text("accepted") == "yes",
            official: official()?,
            authority: authority()?,
            document: document()?,
        },
        "withdraw" => Act::TreatmentWithdrawn { unit, why: f.needed("why", "The reason")? },
        other => return Err(format!("There is nothing to enter under \"{other}\".")),
    })
}

/// Slurry readings of the table's fields `p1-1` to `p4-4`.
fn slurry(f: &Fields) -> Result<Vec<SlurryReading>, String> {
    let mut out = Vec::new();
    for probe in 1..=4u8 {
        for n in 1..=4u8 {
            let text = f.text(&format!("p{probe}-{n}")).replace(',', ".").replace('\u{2212}', "-");
            if !text.is_empty() {
                plain(&text)?;
                out.push(SlurryReading { probe, reading: text, fahrenheit: f.fahrenheit() });
            }
        }
    }
    if out.is_empty() { Err("No reading was written.".to_owned()) } else { Ok(out) }
}

fn samples(f: &Fields) -> Result<Vec<String>, String> {
    let text = f.needed("samples", "The pulp temperatures")?;
    let words = text.split([' ', ';']).filter(|w| !w.is_empty());
    let list: Vec<String> = words.map(|w| w.replace(',', ".").replace('\u{2212}', "-")).collect();
    list.iter().try_for_each(|w| plain(w))?;
    Ok(list)
}

/// A number as an instrument shows it.
fn plain(text: &str) -> Result<(), String> {
    match text.parse::<f64>() {
        Ok(v) if (-60.0..=160.0).contains(&v) && !text.contains(['e', 'E']) => Ok(()),
        _ => {
            Err(format!("\"{text}\" is no temperature; write the figure as shown, with its sign."))
        }
    }
}

pub(crate) fn put(app: &App, act: &Act, who: &str) -> Result<(), String> {
    app.voyage().enter(act, &[], who, now()).map(|_| ()).map_err(said)
}

pub(crate) fn said(e: Problem) -> String {
    format!("{e}.")
}

/// Does it off the async threads, renews what is shown, and goes back to the page.
pub(crate) async fn enter(
    app: Arc<App>,
    uri: Uri,
    headers: HeaderMap,
    back: String,
    work: impl FnOnce(&App) -> Result<(), String> + Send + 'static,
) -> Response {
    let working = Arc::clone(&app);
    let done = tokio::task::spawn_blocking(move || {
        let result = work(&working);
        let renewed = result.is_ok().then(|| working.renew(&working.voyage()));
        (result, renewed)
    });
    match done.await {
        Ok((Ok(()), Some(Err(why)))) => {
            broken(&app, &uri, &headers, &format!("this is stored, but {why}"))
        }
        Ok((Ok(()), _)) => see_other(&back, "/"),
        Ok((Err(what), _)) => refused(&app, &uri, &headers, &what),
        Err(_) => broken(&app, &uri, &headers, "the work on this form stopped half way"),
    }
}

/// Sends the browser on to a page after a form; to `otherwise` where the address cannot stand in a
/// header.
pub(crate) fn see_other(to: &str, otherwise: &'static str) -> Response {
    let mut response = StatusCode::SEE_OTHER.into_response();
    let to = HeaderValue::from_str(to).unwrap_or(HeaderValue::from_static(otherwise));
    response.headers_mut().insert(LOCATION, to);
    response
}

/// What a form held was refused, and nothing of it was stored.
pub(crate) fn refused(app: &App, uri: &Uri, headers: &HeaderMap, what: &str) -> Response {
    let next = "Nothing was stored. Go back, correct it and send it again.";
    let page = trouble_page(&shell(app, uri, headers), "Not entered", what, next);
    html(StatusCode::UNPROCESSABLE_ENTITY, page)
}
