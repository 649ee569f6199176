//! Dossiers: from the record to the paper and its folder. The page and the command line make them
//! the same way.

use std::collections::BTreeSet;
use std::sync::Arc;

use axum::extract::{Path, State};
use axum::http::header::{CONTENT_DISPOSITION, CONTENT_TYPE, HeaderMap, HeaderValue};
use axum::http::{StatusCode, Uri};
use axum::response::{IntoResponse, Response};
use papers::dossier::{Ingredients, Original, Pack, safe_name};
use papers::sheet::Fonts;
use record::UnitId;
use record::dossier::{Dossier, OriginalFile};
use record::sign::SigningKey;
use voyage::{AsOf, Gathering};

use crate::engine::{App, now};
use crate::pages::trouble::trouble_page;
use crate::routes::{broken, html, shell};

/// Where files lie that many dossiers share, seen from the folder of one box.
pub const SHARED: &str = "../originals/";

/// Makes one box's paper and folder. Originals for which `shared` is true are named with their
/// hash and not brought along.
///
/// # Errors
/// In words: the voyage file is damaged, or the paper could not be made.
pub fn make(
    g: &Gathering<'_>,
    d: &Dossier,
    fonts: &Fonts,
    key: &SigningKey,
    shared: &dyn Fn(&OriginalFile) -> bool,
) -> Result<Pack, String> {
    let mut taken = BTreeSet::new();
    let mut originals = Vec::with_capacity(d.originals.len());
    for o in &d.originals {
        if shared(o) {
            originals.push(Original { path: format!("{SHARED}{}", shared_name(o)), bytes: None });
            continue;
        }
        let mut name = safe_name(&o.name);
        if !taken.insert(name.to_ascii_lowercase()) {
            name = shared_name(o);
            taken.insert(name.to_ascii_lowercase());
        }
        let bytes = g.original(&o.sha256).map_err(|e| e.to_string())?;
        let bytes = bytes.ok_or_else(|| format!("original {} is not held", o.name))?;
        originals.push(Original { path: format!("originals/{name}"), bytes: Some(bytes) });
    }
    let entries: Vec<i64> = d.log.iter().map(|l| l.seq).collect();
    let ingredients = Ingredients {
        dossier: d,
        originals,
        entries_jsonl: g.proofs().entries_jsonl(&entries),
        public_key: key.public(),
        sign: &|bytes| key.sign(bytes),
    };
    papers::dossier::pack(ingredients, fonts)
}

/// A name that no other file's name is: the beginning of its hash, then its own.
#[must_use]
pub fn shared_name(o: &OriginalFile) -> String {
    let hash = o.sha256.to_string();
    format!("{}-{}", hash.get(..12).unwrap_or(&hash), safe_name(&o.name))
}

/// Makes a box's paper and sends it.
pub async fn download(
    State(app): State<Arc<App>>,
    uri: Uri,
    headers: HeaderMap,
    Path(unit): Path<String>,
) -> Response {
    let Some(unit) = UnitId::from_text(&unit) else {
        return no_such_box(&app, &uri, &headers, &unit);
    };
    let (working, of) = (Arc::clone(&app), unit.clone());
    let made = tokio::task::spawn_blocking(move || pdf(&working, &of)).await;
    match made {
        Ok(Ok(Some(bytes))) => {
            let mut response = bytes.into_response();
            let name = format!("attachment; filename=\"dossier-{}.pdf\"", safe_name(unit.as_str()));
            let headers = response.headers_mut();
            headers.insert(CONTENT_TYPE, HeaderValue::from_static("application/pdf"));
            if let Ok(value) = HeaderValue::from_str(&name) {
                headers.insert(CONTENT_DISPOSITION, value);
            }
            response
        }
        Ok(Ok(None)) => no_such_box(&app, &uri, &headers, unit.as_str()),
        Ok(Err(why)) => broken(&app, &uri, &headers, &why),
        Err(_) => broken(&app, &uri, &headers, "the dossier could not be made"),
    }
}

fn no_such_box(app: &App, uri: &Uri, headers: &HeaderMap, unit: &str) -> Response {
    let page = trouble_page(
        &shell(app, uri, headers),
        "No such container",
        &format!("{unit} stands on no list and was never read."),
        "Check the number; the watch list shows every container aboard.",
    );
    html(StatusCode::NOT_FOUND, page)
}

fn pdf(app: &App, unit: &UnitId) -> Result<Option<Vec<u8>>, String> {
    let fonts = Fonts::load().ok_or("the fonts cannot be read")?;
    let mut voyage = app.voyage();
    let known = voyage.journal().last_seq().map_err(|e| e.to_string())?;
    let key = voyage.ready_to_sign("page", now()).map_err(|e| e.to_string())?;
    if voyage.journal().last_seq().map_err(|e| e.to_string())? != known {
        app.renew_entries(&voyage)?;
    }
    let g = voyage.gathering().map_err(|e| e.to_string())?;
    let Some(d) = g.dossier(unit, AsOf::Latest, now()).map_err(|e| e.to_string())? else {
        return Ok(None);
    };
    make(&g, &d, &fonts, &key, &|_| false).map(|pack| Some(pack.pdf))
}
