//! `/gas` and `/spares`: the refrigerant account and the shelf.

use std::sync::Arc;

use axum::extract::{Path, Query, State};
use axum::http::header::HeaderMap;
use axum::http::{StatusCode, Uri};
use axum::response::Response;
use axum::routing::{get, post};
use axum::{Form, Router};
use record::{Act, SparesAct, UnitId};
use service::account::{fgas_record, ozone_book};
use units::Utc;
use voyage::{Words, gas_act, has_come};

use crate::acts::{Fields, Pairs, enter, put};
use crate::engine::{App, now};
use crate::pages::gas::{gas_page, ozone_page, record_page};
use crate::pages::spares::spares_page;
use crate::pages::trouble::trouble_page;
use crate::routes::{html, shell};

/// Most parts of one entry.
const MOST_PARTS: u32 = 100_000;

/// Their addresses.
pub fn routes() -> Router<Arc<App>> {
    Router::new()
        .route("/gas", get(show))
        .route("/gas/ozone", get(ozone))
        .route("/gas/unit/{unit}", get(of_unit))
        .route("/gas/{what}", post(keep))
        .route("/spares", get(shelf))
        .route("/spares/{what}", post(keep_part))
}

async fn show(
    State(app): State<Arc<App>>,
    uri: Uri,
    headers: HeaderMap,
    Query(filled): Query<Vec<(String, String)>>,
) -> Response {
    let (account, file) = {
        let voyage = app.voyage();
        (voyage.gas_account(now()), voyage.acts().gas.clone())
    };
    html(StatusCode::OK, gas_page(&shell(&app, &uri, &headers), &account, &file, &filled))
}

async fn ozone(State(app): State<Arc<App>>, uri: Uri, headers: HeaderMap) -> Response {
    let book = ozone_book(&app.voyage().acts().gas);
    html(StatusCode::OK, ozone_page(&shell(&app, &uri, &headers), &book))
}

async fn of_unit(
    State(app): State<Arc<App>>,
    uri: Uri,
    headers: HeaderMap,
    Path(unit): Path<String>,
) -> Response {
    let record = UnitId::from_text(&unit).map(|u| fgas_record(&app.voyage().acts().gas, &u));
    let shell = shell(&app, &uri, &headers);
    match record {
        Some(record) => html(StatusCode::OK, record_page(&shell, &record)),
        None => {
            let what = format!("“{unit}” is no container number.");
            let page = trouble_page(&shell, "No such unit", &what, "Start from the account.");
            html(StatusCode::NOT_FOUND, page)
        }
    }
}

async fn shelf(State(app): State<Arc<App>>, uri: Uri, headers: HeaderMap) -> Response {
    let (shelf, file) = {
        let voyage = app.voyage();
        (voyage.shelf(now()), voyage.acts().spares.clone())
    };
    html(StatusCode::OK, spares_page(&shell(&app, &uri, &headers), &shelf, &file))
}

async fn keep(
    State(app): State<Arc<App>>,
    uri: Uri,
    headers: HeaderMap,
    Path(what): Path<String>,
    Form(pairs): Pairs,
) -> Response {
    let f = Fields(pairs);
    enter(app, uri, headers, "/gas".to_owned(), move |app| {
        let who = f.who()?;
        // An entry without a time of its own (a card, a plate, a slip) happens when it is entered.
        let at = if f.text("at").is_empty() { now() } else { past(&f)? };
        let words = Words { find: &|key| f.text(key), at, who: &who };
        let act = gas_act(&what, &words, &app.voyage().acts().gas).map_err(|e| e + ".")?;
        put(app, &Act::Gas(Box::new(act)), &who)
    })
    .await
}

async fn keep_part(
    State(app): State<Arc<App>>,
    uri: Uri,
    headers: HeaderMap,
    Path(what): Path<String>,
    Form(pairs): Pairs,
) -> Response {
    let f = Fields(pairs);
    enter(app, uri, headers, "/spares".to_owned(), move |app| {
        put(app, &Act::Spares(Box::new(part(&what, &f)?)), &f.who()?)
    })
    .await
}

fn past(f: &Fields) -> Result<Utc, String> {
    has_come("The time", f.time("at", "The time")?, now())
}

fn unit(f: &Fields) -> Result<UnitId, String> {
    let text = f.needed("unit", "The unit")?;
    UnitId::from_text(&text)
        .filter(UnitId::has_iso_form)
        .ok_or_else(|| format!("\"{text}\" is no container number."))
}

fn count(f: &Fields, key: &str, name: &str) -> Result<u32, String> {
    let text = f.needed(key, name)?;
    let n = text.parse().ok().filter(|n| *n <= MOST_PARTS);
    n.ok_or_else(|| format!("{name}: \"{text}\" is no count."))
}

fn part(what: &str, f: &Fields) -> Result<SparesAct, String> {
    let part = f.needed("part", "The part")?;
    let n = count(f, "count", "How many")?;
    let at = past(f)?;
    Ok(match what {
        "count" => {
            let said = !f.text("least").is_empty();
            let least = said.then(|| count(f, "least", "Fewest wanted")).transpose()?;
            SparesAct::Counted { part, count: n, least, at }
        }
        "receive" => SparesAct::Received { part, count: n, at, remark: f.text("remark") },
        "use" => {
            let unit = if f.text("unit").is_empty() { None } else { Some(unit(f)?) };
            let job = f.needed("job", "The job")?;
            SparesAct::Used { part, count: n, unit, job, at }
        }
        other => return Err(format!("There is nothing to enter under \"{other}\".")),
    })
}
