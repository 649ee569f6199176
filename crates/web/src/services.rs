//! Service work over the wire: pages, and the posts by which a step comes in. Every entry is
//! stored before it is answered; a step whose guard fails is refused and nothing is stored.

use std::sync::Arc;
use std::time::Duration;

use axum::Router;
use axum::extract::{Form, Path, Query, State};
use axum::http::header::HeaderMap;
use axum::http::{StatusCode, Uri};
use axum::response::Response;
use axum::routing::{get, post};
use record::{Act, PlantWords, ServiceAct, ServiceDeed, UnitId, WorkFile};
use service::words::instruction;
use service::{Action, Content, Goal, Stated};
use voyage::Words;
use voyage::booking::weighed_g;
use voyage::works::{Work, action_named, contradiction, doubtful, plant_words};

use crate::acts::{Fields, refused, see_other};
use crate::engine::{App, now};
use crate::pages::service::booked::BOOKING;
use crate::pages::service::entry::{Draft, look_page, new_page};
use crate::pages::service::paper::paper_page;
use crate::pages::service::steps::{Sent, field_of};
use crate::pages::service::work::{WorkData, work_page};
use crate::pages::service::{Way, list_page, work_href};
use crate::pages::trouble::trouble_page;
use crate::routes::{broken, html, shell};
use crate::ways::Question;

type Pairs = Vec<(String, String)>;

/// How long a page waits for a way before it says that one is being looked for.
const WAIT: Duration = Duration::from_millis(1500);
/// How long an entry waits for what can be inside.
const WAIT_ENTRY: Duration = Duration::from_secs(180);

/// The addresses of this room.
pub fn routes() -> Router<Arc<App>> {
    Router::new()
        .route("/service", get(list))
        .route("/service/new", get(new))
        .route("/service/begin", post(begin))
        .route("/service/{id}", get(one))
        .route("/service/{id}/look", get(look))
        .route("/service/{id}/paper", get(paper))
        .route("/service/{id}/step", post(step))
        .route("/service/{id}/{what}", post(about))
}

async fn list(State(app): State<Arc<App>>, uri: Uri, headers: HeaderMap) -> Response {
    let works = app.voyage().acts().works.clone();
    html(StatusCode::OK, list_page(&shell(&app, &uri, &headers), &works))
}

fn no_such(app: &App, uri: &Uri, headers: &HeaderMap, id: &str) -> Response {
    let page = trouble_page(
        &shell(app, uri, headers),
        "No such work",
        &format!("There is no service work \"{id}\" in this voyage."),
        "Look for it in the list under Service.",
    );
    html(StatusCode::NOT_FOUND, page)
}

/// A draft of a work not begun.
fn draft(pairs: &[(String, String)]) -> Draft {
    Draft::from_pairs("/service/new".to_owned(), &PlantWords::default(), pairs)
}

/// What a draft asks; `None` while it contradicts itself or names no goal.
fn question(d: &Draft) -> Option<Question> {
    let stated = d.stated.clone().ok()?;
    let fillings = (!d.unknown).then(|| vec![stated.state]);
    Some(Question { stated, fillings, goal: d.goal? })
}

async fn new(
    State(app): State<Arc<App>>,
    uri: Uri,
    headers: HeaderMap,
    Query(pairs): Query<Pairs>,
) -> Response {
    let d = draft(&pairs);
    let way = match question(&d) {
        Some(q) => Some(app.ways.ask(q, WAIT).await),
        None => None,
    };
    html(StatusCode::OK, new_page(&shell(&app, &uri, &headers), &d, way.as_ref(), None))
}

async fn begin(
    State(app): State<Arc<App>>,
    uri: Uri,
    headers: HeaderMap,
    Form(pairs): Form<Pairs>,
) -> Response {
    let d = draft(&pairs);
    match begun(&app, &d).await {
        Ok(back) => see_other(&back, "/service"),
        Err(why) => {
            let page = new_page(&shell(&app, &uri, &headers), &d, None, Some(&why));
            html(StatusCode::UNPROCESSABLE_ENTITY, page)
        }
    }
}

async fn begun(app: &App, d: &Draft) -> Result<String, String> {
    let unit = d.get("unit");
    if unit.is_empty() {
        return Err("The container’s number is missing.".to_owned());
    }
    let unit = UnitId::from_text(unit)
        .filter(UnitId::has_iso_form)
        .ok_or_else(|| format!("\"{unit}\" is no container number."))?;
    let who = d.get("who").to_owned();
    if who.is_empty() {
        return Err("The name of the person who begins it is missing.".to_owned());
    }
    let goal = d.goal.ok_or("Choose a goal.")?;
    let stated = d.stated.clone().map_err(|why| format!("{why}."))?;
    let fillings =
        if d.unknown { fitting(app, stated.clone(), goal).await? } else { vec![stated.state] };
    let mut plant = plant_words(&fillings);
    for (key, value) in d.beside() {
        plant.keys.insert(key.to_owned(), value.replace(',', "."));
    }
    // Readings depend on these, said or not.
    let site = &stated.site;
    plant.keys.insert("fluid".to_owned(), site.fluid.clone());
    plant.keys.insert("ambient_c".to_owned(), format!("{}", site.ambient_c));
    plant.keys.insert("barometer_kpa".to_owned(), format!("{}", site.barometer_kpa));
    let deed = ServiceDeed::Begun {
        goal: goal.id().to_owned(),
        goal_words: goal.words().to_owned(),
        plant,
        remark: d.get("remark").to_owned(),
    };
    let mut voyage = app.voyage();
    let work = voyage.next_work_id();
    let act = ServiceAct { work: work.clone(), unit, at: now(), deed };
    voyage.enter(&Act::Service(Box::new(act)), &[], &who, now()).map_err(|e| format!("{e}."))?;
    app.renew_entries(&voyage)?;
    Ok(work_href(&work))
}

/// Every way of filling that can be behind valves and hoses as they stand.
async fn fitting(app: &App, stated: Stated, goal: Goal) -> Result<Vec<service::State>, String> {
    match app.ways.ask(Question { stated, fillings: None, goal }, WAIT_ENTRY).await {
        Way::Ready(planned) => Ok(planned.fillings.clone()),
        Way::Failed(why) => Err(format!("{why}.")),
        Way::Working(_) => {
            Err("What can be inside is still being worked out; send it again.".into())
        }
    }
}

/// A work as held; the outer error is for a work that is not there.
fn held(app: &App, id: &str) -> Option<Result<Work, String>> {
    let file = app.voyage().work(id).cloned()?;
    Some(Work::of(file))
}

async fn way(app: &App, work: &Work, wait: Duration) -> Way {
    let q = Question {
        stated: work.stated.clone(),
        fillings: Some(work.fillings.clone()),
        goal: work.goal,
    };
    app.ways.ask(q, wait).await
}

async fn one(
    State(app): State<Arc<App>>,
    uri: Uri,
    headers: HeaderMap,
    Path(id): Path<String>,
    Query(pairs): Query<Pairs>,
) -> Response {
    let asked = pairs.iter().find(|(k, _)| k == "step").and_then(|(_, v)| action_named(v));
    shown(&app, &uri, &headers, &id, asked, None).await
}

/// A work's page, off the async threads: every step is tried on every way of filling.
async fn shown(
    app: &Arc<App>,
    uri: &Uri,
    headers: &HeaderMap,
    id: &str,
    asked: Option<Action>,
    sent: Option<Sent>,
) -> Response {
    let work = match held(app, id) {
        None => return no_such(app, uri, headers, id),
        Some(Err(why)) => return broken(app, uri, headers, &why),
        Some(Ok(work)) => work,
    };
    let way = way(app, &work, WAIT).await;
    let status = if sent.is_some() { StatusCode::UNPROCESSABLE_ENTITY } else { StatusCode::OK };
    let shell = shell(app, uri, headers);
    let gas = app.voyage().acts().gas.clone();
    let data = WorkData { work, way, asked, sent, gas };
    match tokio::task::spawn_blocking(move || work_page(&shell, &data)).await {
        Ok(page) => html(status, page),
        Err(_) => broken(app, uri, headers, "the work on this page stopped half way"),
    }
}

async fn look(
    State(app): State<Arc<App>>,
    uri: Uri,
    headers: HeaderMap,
    Path(id): Path<String>,
    Query(pairs): Query<Pairs>,
) -> Response {
    let Some(file) = app.voyage().work(&id).cloned() else {
        return no_such(&app, &uri, &headers, &id);
    };
    let d = looked(&file, &pairs);
    html(StatusCode::OK, look_page(&shell(&app, &uri, &headers), &file, &d))
}

fn looked(file: &WorkFile, pairs: &[(String, String)]) -> Draft {
    Draft::from_pairs(format!("{}/look", work_href(&file.id)), &file.plant, pairs)
}

async fn paper(
    State(app): State<Arc<App>>,
    uri: Uri,
    headers: HeaderMap,
    Path(id): Path<String>,
) -> Response {
    match held(&app, &id) {
        None => no_such(&app, &uri, &headers, &id),
        Some(Err(why)) => broken(&app, &uri, &headers, &why),
        Some(Ok(work)) => {
            let way = way(&app, &work, WAIT).await;
            let gas = app.voyage().acts().gas.clone();
            let shell = shell(&app, &uri, &headers);
            html(StatusCode::OK, paper_page(&shell, &work, &way, &gas))
        }
    }
}

/// What was entered since the form was shown; the same sent twice is told apart.
fn behind(f: &Fields, file: &WorkFile) -> bool {
    f.text("entries").parse() != Ok(file.entries.len())
}

const BEHIND: &str = "Something was entered since this page was shown; look at the work again.";

/// `POST /service/{id}/step`
async fn step(
    State(app): State<Arc<App>>,
    uri: Uri,
    headers: HeaderMap,
    Path(id): Path<String>,
    Form(pairs): Form<Pairs>,
) -> Response {
    let f = Fields(pairs);
    let work = match held(&app, &id) {
        None => return no_such(&app, &uri, &headers, &id),
        Some(Err(why)) => return broken(&app, &uri, &headers, &why),
        Some(Ok(work)) => work,
    };
    let Some(action) = action_named(&f.text("action")) else {
        return refused(&app, &uri, &headers, "No step is named.");
    };
    if behind(&f, &work.file) {
        if same_again(&f, &work.file, action) {
            return see_other(&work_href(&id), "/service");
        }
        return refused(&app, &uri, &headers, BEHIND);
    }
    match stepped(&app, &f, &work, action) {
        Ok(()) => see_other(&work_href(&id), "/service"),
        Err(not) => {
            let expects = work.expects(action).unwrap_or_default();
            let readings =
                expects.iter().map(|e| (e.what.to_owned(), f.text(&field_of(e.what)))).collect();
            let sent = Sent {
                action: action.id().to_owned(),
                readings,
                remark: f.text("remark"),
                booking: BOOKING.map(|key| (key, f.text(key))).to_vec(),
                trouble: not.words,
                against: not.against,
            };
            shown(&app, &uri, &headers, &id, Some(action), Some(sent)).await
        }
    }
}

/// A second press on the button: the step is entered already.
fn same_again(f: &Fields, file: &WorkFile, action: Action) -> bool {
    let before = f.text("entries").parse() == Ok(file.entries.len().saturating_sub(1));
    let last = file.entries.last().map(|e| &e.act.deed);
    before && matches!(last, Some(ServiceDeed::StepDone { action: a, .. }) if a == action.id())
}

/// Why a step was not entered.
struct NotTaken {
    words: String,
    /// What was read that cannot go with what is taken to be inside.
    against: Option<String>,
}

impl From<String> for NotTaken {
    fn from(words: String) -> Self {
        Self { words, against: None }
    }
}

fn stepped(app: &App, f: &Fields, work: &Work, action: Action) -> Result<(), NotTaken> {
    let who = f.who()?;
    let deed = work.step(action, &|what| f.text(&field_of(what)), f.text("remark"))?;
    let words = Words { find: &|key| f.text(key), at: now(), who: &who };
    let deed = work.booking(deed, &words).map_err(|why| format!("{why}."))?;
    if let ServiceDeed::StepDone { readings, remark, .. } = &deed {
        let against = readings.iter().find_map(|r| Some((r, contradiction(r)?)));
        if let Some((r, why)) = against {
            let seen = format!("{} {} at: {}", r.what, r.as_written, instruction(action));
            let words = format!(
                "{} {}: {why}. This page does not know what is inside any more. Stop, shut what \
                 you opened; nothing was stored.",
                r.what, r.as_written
            );
            return Err(NotTaken { words, against: Some(seen) });
        }
        if remark.is_empty() && !doubtful(readings).is_empty() {
            return Err(doubts(work, action, readings).into());
        }
    }
    if deed.booked().is_none() && weighed_g(&deed).is_some() && f.text("remark").is_empty() {
        return Err(NOT_BOOKED.to_owned().into());
    }
    Ok(put(app, &work.file, deed, &who)?)
}

const NOT_BOOKED: &str = "Gas was weighed and no cylinder is named: nothing was stored. Name the \
    cylinder, and the weight stands in the refrigerant account; else write why it is not booked.";

/// What is said of readings that are not as told.
fn doubts(work: &Work, action: Action, readings: &[record::StepReading]) -> String {
    let expects = work.expects(action).unwrap_or_default();
    let mut out = String::new();
    for r in doubtful(readings) {
        let told = expects.iter().find(|e| e.what == r.what);
        let range = told.map_or_else(String::new, service::Expect::range_words);
        out += &match r.stands() {
            record::InRange::NotRead => format!("The {} was not read (told: {range}). ", r.what),
            record::InRange::Below => format!("{}: {} is below {range}. ", r.what, r.as_written),
            _ => format!("{}: {} is above {range}. ", r.what, r.as_written),
        };
    }
    out + "Stop and find out why; nothing was stored. If the work goes on all the same, write why."
}

fn put(app: &App, file: &WorkFile, deed: ServiceDeed, who: &str) -> Result<(), String> {
    let at = now();
    let act = ServiceAct { work: file.id.clone(), unit: file.unit.clone(), at, deed };
    let mut voyage = app.voyage();
    voyage.enter(&Act::Service(Box::new(act)), &[], who, at).map_err(|e| format!("{e}."))?;
    app.renew_entries(&voyage)
}

/// `POST /service/{id}/{what}`
async fn about(
    State(app): State<Arc<App>>,
    uri: Uri,
    headers: HeaderMap,
    Path((id, what)): Path<(String, String)>,
    Form(pairs): Form<Pairs>,
) -> Response {
    let Some(file) = app.voyage().work(&id).cloned() else {
        return no_such(&app, &uri, &headers, &id);
    };
    let f = Fields(pairs);
    if behind(&f, &file) {
        return refused(&app, &uri, &headers, BEHIND);
    }
    let entered = async {
        let deed = deed(&app, &what, &f, &file).await?;
        put(&app, &file, deed, &f.who()?)
    };
    match entered.await {
        Ok(()) => see_other(&work_href(&id), "/service"),
        Err(why) => refused(&app, &uri, &headers, &why),
    }
}

async fn deed(app: &App, what: &str, f: &Fields, file: &WorkFile) -> Result<ServiceDeed, String> {
    let remark = f.text("remark");
    Ok(match what {
        "stop" => ServiceDeed::Stopped { why: f.needed("why", "The reason")? },
        "resume" => ServiceDeed::Resumed { remark },
        "hand-over" => ServiceDeed::HandedOver {
            from: file.person.clone(),
            to: f.needed("to", "The person it is handed over to")?,
            remark,
        },
        "finish" => ServiceDeed::Finished { reached: Work::of(file.clone())?.reached(), remark },
        "stands" => stands(app, f, file).await?,
        "shown" => read_at_manifold(app, f, file).await?,
        other => return Err(format!("There is nothing to enter under \"{other}\".")),
    })
}

/// The plant as tapped on the drawing.
async fn stands(app: &App, f: &Fields, file: &WorkFile) -> Result<ServiceDeed, String> {
    let d = looked(file, &f.0);
    let s = d.stated.clone().map_err(|why| format!("{why}."))?;
    let work = Work::of(file.clone())?;
    // Where nothing was said of what is inside, it stays as unknown as it was.
    let told = d.pairs.iter().any(|(k, _)| k.starts_with("c."));
    let fillings = if d.unknown {
        fitting(app, s.clone(), work.goal).await?
    } else if work.is_known() || told {
        vec![s.state]
    } else {
        let with = |old: &service::State| service::State { content: old.content, ..s.state };
        work.fillings.iter().map(with).collect()
    };
    let mut plant = plant_words(&fillings);
    for (key, value) in d.beside() {
        let value = value.replace(',', ".");
        if file.plant.keys.get(key) != Some(&value) {
            plant.keys.insert(key.to_owned(), value);
        }
    }
    Ok(ServiceDeed::Corrected { plant, why: f.needed("why", "What was seen")? })
}

/// One outcome of reading at the manifold: only the fillings that show it are left.
async fn read_at_manifold(app: &App, f: &Fields, file: &WorkFile) -> Result<ServiceDeed, String> {
    let work = Work::of(file.clone())?;
    let Way::Ready(planned) = way(app, &work, WAIT_ENTRY).await else {
        return Err("The readings are still being worked out; send it again.".to_owned());
    };
    let number: usize = f.text("outcome").parse().map_err(|_| "No reading is named.")?;
    let strategy = planned.strategy.as_ref().filter(|s| s.steps.is_empty());
    let reading = strategy.and_then(|s| s.readings.get(number)).ok_or("No reading is named.")?;
    let rules = &work.stated.rules;
    let left: Vec<service::State> = work
        .fillings
        .iter()
        .filter(|s| service::belief::shown(s, rules) == reading.shows)
        .copied()
        .collect();
    if left.is_empty() {
        return Err("No way of filling shows this; read again.".to_owned());
    }
    let [low, high, centre] = reading.shows.map(Content::id);
    let why = format!("read at the manifold: low {low}; high {high}; centre {centre}");
    Ok(ServiceDeed::Corrected { plant: plant_words(&left), why })
}
