//! The pictures of the pages on paper: watch list, plan of repairs, load, restart. The page and
//! the command line make them the same way.

use std::sync::Arc;

use axum::extract::{Path, Query, State};
use axum::http::header::{CONTENT_DISPOSITION, CONTENT_TYPE, HeaderMap, HeaderValue};
use axum::http::{StatusCode, Uri};
use axum::response::{IntoResponse, Response};
use papers::common::Common;
use papers::night::Night;
use papers::plant::{LoadPaper, RestartPaper};
use papers::sheet::Fonts;
use papers::work::{Ahead, WorkPaper};
use record::sign::SigningKey;
use record::{UnitId, WatchList};
use service::Answer;
use service::account::{FGasRecord, OzoneEntry, fgas_record, ozone_book};
use units::Utc;
use voyage::works::Work;
use voyage::{NightPlan, PowerView, RestartView, Voyage};

use crate::engine::{App, now};
use crate::pages::service::drawing::drawn;
use crate::pages::service::work::agreed;
use crate::pages::trouble::trouble_page;
use crate::pages::{night, power};
use crate::routes::{broken, html, shell};

/// What every paper of a voyage needs.
pub struct Press {
    common: Common,
    fonts: Fonts,
    key: SigningKey,
}

impl Press {
    /// Makes ready. The first paper of a voyage enters the public key under `who`.
    ///
    /// # Errors
    /// In words: no place for the key, or what the journal says.
    pub fn ready(voyage: &mut Voyage, who: &str, made_at: Utc) -> Result<Self, String> {
        let key = voyage.ready_to_sign(who, made_at).map_err(|e| e.to_string())?;
        Self::with_key(voyage, key, made_at)
    }

    /// The same with a key at hand.
    ///
    /// # Errors
    /// In words: what the journal says.
    pub fn with_key(voyage: &Voyage, key: SigningKey, made_at: Utc) -> Result<Self, String> {
        let fonts = Fonts::load().ok_or("the program's fonts cannot be read")?;
        let proofs = voyage.proof_book().map_err(|e| e.to_string())?;
        let common = Common {
            ship_line: voyage.ship_line(),
            made_at,
            entries: proofs.size() as u64,
            root: proofs.root(),
            public_key: key.public(),
        };
        Ok(Self { common, fonts, key })
    }

    /// The watch list.
    ///
    /// # Errors
    /// In words, when the paper cannot be made; so of all papers.
    pub fn watch(&self, list: &WatchList) -> Result<Vec<u8>, String> {
        papers::watch::paper(list, &self.common, &self.fonts, &|m| self.key.sign(m))
    }

    /// The plan of repairs.
    ///
    /// # Errors
    /// As [`Press::watch`].
    pub fn night(&self, n: &NightPlan) -> Result<Vec<u8>, String> {
        let lanes = night::lanes(&n.plan);
        let paper = Night { at: n.at, plan: &n.plan, lanes: &lanes, notes: &n.notes };
        papers::night::paper(&paper, &self.common, &self.fonts, &|m| self.key.sign(m))
    }

    /// The load.
    ///
    /// # Errors
    /// As [`Press::watch`].
    pub fn load(&self, v: &PowerView) -> Result<Vec<u8>, String> {
        let points = power::points(v);
        let paper = LoadPaper {
            at: v.at,
            demand: &v.demand,
            margin: v.margin.as_ref(),
            reliefs: &v.reliefs,
            points: &points,
            short_from: power::short_from(v),
            feeders: v.feeders.iter().map(|f| (&f.load, f.limit_kva)).collect(),
            bays: &v.bays,
            holds: &v.holds,
            notes: &v.notes,
        };
        papers::plant::load_paper(&paper, &self.common, &self.fonts, &|m| self.key.sign(m))
    }

    /// The restart.
    ///
    /// # Errors
    /// As [`Press::watch`].
    pub fn restart(&self, v: &RestartView) -> Result<Vec<u8>, String> {
        let steps = power::steps(v);
        let paper = RestartPaper {
            at: v.at,
            restart: &v.restart,
            steps: &steps,
            cells: &v.cells,
            notes: &v.notes,
        };
        papers::plant::restart_paper(&paper, &self.common, &self.fonts, &|m| self.key.sign(m))
    }

    /// A piece of service work, with the shortest safe way on where what is inside is known. That
    /// takes seconds where there is none.
    ///
    /// # Errors
    /// As [`Press::watch`].
    pub fn work(&self, w: &Work) -> Result<Vec<u8>, String> {
        let drawing = figures::pipework(&drawn(&w.stated, &|v| agreed(w, v), &|_| None, ""));
        let answer = (w.is_known() && !w.file.standing.is_over()).then(|| w.answer()).transpose();
        let ahead = match &answer {
            _ if w.file.standing.is_over() => Ahead::Over,
            Ok(None) => Ahead::Unknown,
            Ok(Some(Answer::Possible(steps))) => Ahead::Steps(steps),
            Ok(Some(Answer::Impossible(why))) => Ahead::NoWay(why),
            Err(why) => Ahead::Failed(why),
        };
        let site = &w.stated.site;
        let paper = WorkPaper { file: &w.file, site, drawing: &drawing, ahead };
        papers::work::paper(&paper, &self.common, &self.fonts, &|m| self.key.sign(m))
    }

    /// The record book of ozone-depleting substances.
    ///
    /// # Errors
    /// As [`Press::watch`].
    pub fn ozone(&self, book: &[OzoneEntry]) -> Result<Vec<u8>, String> {
        papers::books::ozone(book, &self.common, &self.fonts, &|m| self.key.sign(m))
    }

    /// The record of a unit with fluorinated gas.
    ///
    /// # Errors
    /// As [`Press::watch`].
    pub fn refrigerant(&self, record: &FGasRecord) -> Result<Vec<u8>, String> {
        papers::books::unit(record, &self.common, &self.fonts, &|m| self.key.sign(m))
    }
}

/// `GET /paper/{name}`: `watch.pdf`, `repairs.pdf`, `power.pdf`, `restart.pdf`, `ozone.pdf`,
/// `work-S1.pdf`, `refrigerant-QQQU1000011.pdf`.
pub async fn download(
    State(app): State<Arc<App>>,
    uri: Uri,
    headers: HeaderMap,
    Path(name): Path<String>,
    Query(pairs): Query<Vec<(String, String)>>,
) -> Response {
    let (working, of) = (Arc::clone(&app), name.clone());
    let made = tokio::task::spawn_blocking(move || pdf(&working, &of, &pairs)).await;
    match made {
        Ok(Ok(Some(bytes))) => {
            let mut response = bytes.into_response();
            let headers = response.headers_mut();
            headers.insert(CONTENT_TYPE, HeaderValue::from_static("application/pdf"));
            if let Ok(v) = HeaderValue::from_str(&format!("attachment; filename=\"{name}\"")) {
                headers.insert(CONTENT_DISPOSITION, v);
            }
            response
        }
        Ok(Ok(None)) => {
            let page = trouble_page(
                &shell(&app, &uri, &headers),
                "No such paper",
                "There is no paper of that name.",
                "The pages Watch list, Who first, Power, Service and Refrigerant link to theirs.",
            );
            html(StatusCode::NOT_FOUND, page)
        }
        Ok(Err(why)) => broken(&app, &uri, &headers, &why),
        Err(_) => broken(&app, &uri, &headers, "the paper could not be made"),
    }
}

/// What is printed is worked out first: it needs the voyage by itself.
fn pdf(app: &App, name: &str, pairs: &[(String, String)]) -> Result<Option<Vec<u8>>, String> {
    Ok(Some(match name {
        "watch.pdf" => {
            let shown = app.shown();
            press(app)?.watch(&shown.list)?
        }
        "repairs.pdf" => {
            let night = app.night(pairs);
            let plan = night.plan.as_ref().map_err(Clone::clone)?;
            press(app)?.night(plan)?
        }
        "power.pdf" => {
            let data = app.power();
            let view = data.power.as_ref().map_err(Clone::clone)?;
            press(app)?.load(view)?
        }
        "restart.pdf" => {
            let data = app.power();
            let view = data.restart.as_ref().map_err(Clone::clone)?;
            press(app)?.restart(view)?
        }
        "ozone.pdf" => {
            let book = ozone_book(&app.voyage().acts().gas);
            press(app)?.ozone(&book)?
        }
        name => return about_one(app, name),
    }))
}

/// Papers of one work or one unit: what it is and which one, before `.pdf`.
fn about_one(app: &App, name: &str) -> Result<Option<Vec<u8>>, String> {
    let Some((kind, of)) = name.strip_suffix(".pdf").and_then(|n| n.split_once('-')) else {
        return Ok(None);
    };
    Ok(match kind {
        "work" => {
            let Some(file) = app.voyage().work(of).cloned() else { return Ok(None) };
            let work = Work::of(file)?;
            Some(press(app)?.work(&work)?)
        }
        "refrigerant" => {
            let Some(unit) = UnitId::from_text(of).filter(UnitId::has_iso_form) else {
                return Ok(None);
            };
            let record = fgas_record(&app.voyage().acts().gas, &unit);
            Some(press(app)?.refrigerant(&record)?)
        }
        _ => None,
    })
}

fn press(app: &App) -> Result<Press, String> {
    let mut voyage = app.voyage();
    let known = voyage.journal().last_seq().map_err(|e| e.to_string())?;
    let press = Press::ready(&mut voyage, "page", now())?;
    if voyage.journal().last_seq().map_err(|e| e.to_string())? != known {
        app.renew_entries(&voyage)?;
    }
    Ok(press)
}
