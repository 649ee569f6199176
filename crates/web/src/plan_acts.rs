//! Forms about plans: a repair begun or ended, the crew, the ship's plant, the weather.

use std::sync::Arc;

use axum::Form;
use axum::extract::State;
use axum::http::Uri;
use axum::http::header::HeaderMap;
use axum::response::Response;
use record::{Act, PlanAct, RepairOutcome, UnitId};
use voyage::NamedBytes;

use crate::acts::{Fields, Pairs, enter, put, said};
use crate::engine::{App, now};
use crate::pages::power::SETS;

/// Longest file taken from a field.
const FILE_MAX: usize = 40_000;

fn plan(act: PlanAct) -> Act {
    Act::Plan(Box::new(act))
}

/// The page of repairs as it was asked for, or the plain one.
fn repairs(f: &Fields) -> String {
    let back = f.text("back");
    if back.starts_with("/repairs?") { back } else { "/repairs".to_owned() }
}

fn unit(f: &Fields) -> Result<UnitId, String> {
    let text = f.needed("unit", "The box")?;
    UnitId::from_text(&text).ok_or_else(|| format!("\"{text}\" is no container number."))
}

/// `POST /repairs/begin`
pub async fn begin(
    State(app): State<Arc<App>>,
    uri: Uri,
    headers: HeaderMap,
    Form(pairs): Pairs,
) -> Response {
    let f = Fields(pairs);
    enter(app, uri, headers, repairs(&f), move |app| {
        let person = f.needed("person", "Who works on it")?;
        let act = PlanAct::RepairBegun { unit: unit(&f)?, person: person.clone(), at: now() };
        put(app, &plan(act), &person)
    })
    .await
}

/// `POST /repairs/end`
pub async fn end(
    State(app): State<Arc<App>>,
    uri: Uri,
    headers: HeaderMap,
    Form(pairs): Pairs,
) -> Response {
    let f = Fields(pairs);
    enter(app, uri, headers, repairs(&f), move |app| {
        let outcome = RepairOutcome::from_text(&f.text("outcome"))
            .ok_or("Say how it ended: done, broken off, or beyond what is on board.")?;
        let remark = f.text("remark");
        let act = PlanAct::RepairEnded { unit: unit(&f)?, at: now(), outcome, remark };
        put(app, &plan(act), &f.who()?)
    })
    .await
}

/// `POST /repairs/crew`
pub async fn crew(
    State(app): State<Arc<App>>,
    uri: Uri,
    headers: HeaderMap,
    Form(pairs): Pairs,
) -> Response {
    let f = Fields(pairs);
    enter(app, uri, headers, repairs(&f), move |app| {
        let file = f.long("file", FILE_MAX);
        voyage::read_crew(&named("crew file", &file)).map_err(said)?;
        put(app, &plan(PlanAct::Crew { file }), &f.who()?)
    })
    .await
}

/// `POST /power/plant`
pub async fn plant(
    State(app): State<Arc<App>>,
    uri: Uri,
    headers: HeaderMap,
    Form(pairs): Pairs,
) -> Response {
    let f = Fields(pairs);
    enter(app, uri, headers, "/power".to_owned(), move |app| {
        let file = plant_file(&f)?;
        voyage::read_plant(&named("plant", &file)).map_err(said)?;
        put(app, &plan(PlanAct::Plant { file }), &f.who()?)
    })
    .await
}

/// `POST /power/weather`
pub async fn weather(
    State(app): State<Arc<App>>,
    uri: Uri,
    headers: HeaderMap,
    Form(pairs): Pairs,
) -> Response {
    let f = Fields(pairs);
    enter(app, uri, headers, "/power#ahead".to_owned(), move |app| {
        let mut text = f.long("points", FILE_MAX);
        if !text.contains("time_utc") {
            text.insert_str(0, "time_utc,ambient_c,sun\n");
        }
        let (points, refused) =
            voyage::read_weather("weather", text.as_bytes()).map_err(|e| format!("{e}."))?;
        if let Some(r) = refused.first() {
            return Err(format!("Line {}: {}.", r.line.saturating_sub(1), r.why));
        }
        if points.is_empty() {
            return Err("No line of weather was written.".to_owned());
        }
        let act = PlanAct::Weather { points, source: f.text("source") };
        put(app, &plan(act), &f.who()?)
    })
    .await
}

fn named(name: &str, text: &str) -> NamedBytes {
    NamedBytes { name: name.to_owned(), bytes: text.as_bytes().to_vec() }
}

/// The form's fields as a plant file.
fn plant_file(f: &Fields) -> Result<String, String> {
    let number = |key: &str, name: &str| -> Result<f64, String> {
        let text = f.needed(key, name)?.replace(',', ".");
        let read = text.parse::<f64>().ok().filter(|v| v.is_finite() && *v >= 0.0);
        read.ok_or_else(|| format!("{name}: \"{text}\" is no figure."))
    };
    let share = number("share", "The share that may be loaded")? / 100.0;
    let rule = if f.text("lost") == "yes" { "largest_lost" } else { "reserve_share" };
    let other = number("other_kw", "Everything but the boxes")?;
    let mut out = format!("other_kw = {other:?}\n{rule} = {share:?}\n");
    for i in 0..SETS {
        let name = f.text(&format!("name{i}"));
        if name.is_empty() && f.text(&format!("kw{i}")).is_empty() {
            continue;
        }
        let name = if name.is_empty() { format!("set {}", i + 1) } else { name };
        let quoted = serde_json::to_string(&name).map_err(|e| e.to_string())?;
        let kw = number(&format!("kw{i}"), &format!("Rated kW of {name}"))?;
        let kva = number(&format!("kva{i}"), &format!("Rated kVA of {name}"))?;
        let online = f.text(&format!("on{i}")) == "yes";
        out.push_str(&format!(
            "\n[[generator]]\nname = {quoted}\nrated_kw = {kw:?}\nrated_kva = {kva:?}\n\
             online = {online}\n"
        ));
        let step = format!("step{i}");
        if !f.text(&step).is_empty() {
            let step = number(&step, &format!("One step of {name}"))? / 100.0;
            out.push_str(&format!("step_share = {step:?}\n"));
        }
    }
    out.push('\n');
    out.push_str(&f.long("more", FILE_MAX));
    out.push('\n');
    Ok(out)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// What the form makes is read by the same reader as a file.
    #[test]
    fn the_form_writes_a_plant_file() {
        let pairs = [
            ("share", "85"),
            ("other_kw", "900"),
            ("name0", "DG \"1\""),
            ("kw0", "1400"),
            ("kva0", "1750"),
            ("on0", "yes"),
            ("step0", "30"),
            ("more", "[[hold]]\nname = \"hold 1\"\nbays = [1]\nair_m3_h = 60000"),
        ];
        let pairs = pairs.map(|(k, v)| (k.to_owned(), v.to_owned())).to_vec();
        let file = plant_file(&Fields(pairs)).unwrap();
        let ship = voyage::read_plant(&named("plant", &file)).unwrap();
        assert_eq!(ship.plant.generators[0].name, "DG \"1\"");
        assert_eq!(ship.plant.generators[0].step_share.value, 0.3);
        assert_eq!(ship.holds.len(), 1);
        let none = plant_file(&Fields(vec![("share".to_owned(), "x".to_owned())]));
        assert!(none.unwrap_err().contains("no figure"));
    }
}
