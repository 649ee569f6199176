//! Files sent by a form.

use std::sync::Arc;

use axum::extract::State;
use axum::extract::multipart::{Multipart, MultipartError};
use axum::http::{HeaderMap, StatusCode, Uri};
use axum::response::Response;
use voyage::{NamedBytes, Problem};

use crate::engine::{App, now};
use crate::guard::too_large_page;
use crate::pages::files::{loaded_page, taken_page};
use crate::pages::trouble::trouble_page;
use crate::routes::{broken, html, shell};

/// What a form sent.
#[derive(Default)]
struct Sent {
    files: Vec<NamedBytes>,
    who: String,
}

/// Which of the two forms.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Act {
    Load,
    Take,
}

/// `POST /files/load`.
pub async fn load(
    State(app): State<Arc<App>>,
    uri: Uri,
    headers: HeaderMap,
    form: Multipart,
) -> Response {
    upload(app, Act::Load, uri, headers, form).await
}

/// `POST /files/take`.
pub async fn take(
    State(app): State<Arc<App>>,
    uri: Uri,
    headers: HeaderMap,
    form: Multipart,
) -> Response {
    upload(app, Act::Take, uri, headers, form).await
}

async fn upload(
    app: Arc<App>,
    act: Act,
    uri: Uri,
    headers: HeaderMap,
    form: Multipart,
) -> Response {
    let sent = match read_form(form).await {
        Ok(sent) => sent,
        Err(e) if e.status() == StatusCode::PAYLOAD_TOO_LARGE => {
            return too_large_page(app.options.max_upload_bytes, None);
        }
        Err(e) => {
            let what = format!("The form could not be read to its end: {}.", e.body_text());
            return refused(&app, &uri, &headers, &what);
        }
    };
    if sent.files.is_empty() {
        return refused(&app, &uri, &headers, "No file was chosen.");
    }
    if sent.who.is_empty() {
        let what = "The name of the person who enters the files is missing.";
        return refused(&app, &uri, &headers, what);
    }
    let working = Arc::clone(&app);
    let (uri2, headers2) = (uri.clone(), headers.clone());
    let done = tokio::task::spawn_blocking(move || act_on(&working, act, &sent, &uri2, &headers2));
    match done.await {
        Ok(response) => response,
        Err(_) => broken(&app, &uri, &headers, "the work on these files stopped half way"),
    }
}

async fn read_form(mut form: Multipart) -> Result<Sent, MultipartError> {
    let mut sent = Sent::default();
    while let Some(field) = form.next_field().await? {
        match field.name() {
            Some("files") => {
                let name = field.file_name().unwrap_or_default().to_owned();
                let bytes = field.bytes().await?.to_vec();
                // A form sent without a file has one field without name and content.
                if !name.is_empty() || !bytes.is_empty() {
                    let name = if name.is_empty() { "unnamed".to_owned() } else { name };
                    sent.files.push(NamedBytes { name, bytes });
                }
            }
            Some("who") => {
                let text = field.text().await?;
                sent.who = text.trim().chars().filter(|c| !c.is_control()).take(80).collect();
            }
            _ => {}
        }
    }
    Ok(sent)
}

fn act_on(app: &App, act: Act, sent: &Sent, uri: &Uri, headers: &HeaderMap) -> Response {
    let mut voyage = app.voyage();
    let result = match act {
        Act::Load => voyage
            .load(&sent.files, &sent.who, now())
            .map(|outcome| Outcome::Loaded(Box::new(outcome))),
        Act::Take => voyage.take(&sent.files, &sent.who, now(), &mut |_, _| {}).map(Outcome::Taken),
    };
    let renewed = match &result {
        Ok(_) => app.renew(&voyage),
        Err(_) => Ok(()),
    };
    drop(voyage);
    if let Err(why) = renewed {
        return broken(app, uri, headers, &format!("the files are stored, but {why}"));
    }
    let shell = shell(app, uri, headers);
    match result {
        Ok(Outcome::Loaded(outcome)) => html(StatusCode::OK, loaded_page(&shell, &outcome)),
        Ok(Outcome::Taken(outcome)) => {
            let heading = if outcome.stored > 0 {
                "Readings taken in"
            } else {
                "Nothing new in these readings"
            };
            html(StatusCode::OK, taken_page(&shell, heading, &outcome))
        }
        Err(Problem::AllRefused(outcome)) => {
            let page = taken_page(&shell, "Nothing was stored: every row was refused", &outcome);
            html(StatusCode::UNPROCESSABLE_ENTITY, page)
        }
        Err(Problem::Unreadable(e)) => refused(app, uri, headers, &e.to_string()),
        Err(e) => broken(app, uri, headers, &e.to_string()),
    }
}

enum Outcome {
    Loaded(Box<voyage::LoadOutcome>),
    Taken(voyage::TakeOutcome),
}

fn refused(app: &App, uri: &Uri, headers: &HeaderMap, what: &str) -> Response {
    let page = trouble_page(
        &shell(app, uri, headers),
        "Not taken",
        what,
        "Nothing was stored. Go back to Files, correct it and send it again.",
    );
    html(StatusCode::UNPROCESSABLE_ENTITY, page)
}
