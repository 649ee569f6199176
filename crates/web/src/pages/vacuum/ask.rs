//! Fields of the small forms that only ask: what was typed, and what is wrong with it.

use fluids::Refrigerant;
use maud::{Markup, html};
use units::decimal::{self, DecimalMark};

/// Longest text looked at in a field.
const LONGEST: usize = 60;

/// What a form sent.
pub(super) struct Sent<'a>(pub &'a [(String, String)]);

impl Sent<'_> {
    /// Which form was sent.
    pub fn is(&self, form: &str) -> bool {
        self.0.iter().any(|(k, v)| k == "ask" && v == form)
    }

    /// A field's text, or what stands there before anything is sent.
    pub fn text(&self, form: &str, key: &str, without: &str) -> String {
        if !self.is(form) {
            return without.to_owned();
        }
        let found = self.0.iter().find(|(k, _)| k == key);
        found.map_or("", |(_, v)| v.trim()).chars().take(LONGEST).collect()
    }

    /// A number, or none where nothing was written.
    pub fn maybe(&self, form: &str, key: &str, name: &str) -> Result<Option<f64>, String> {
        let text = self.text(form, key, "").replace('\u{2212}', "-");
        if text.is_empty() {
            return Ok(None);
        }
        let value = decimal::parse(&text, DecimalMark::PointOrComma);
        value.map(Some).map_err(|e| format!("{name}: \"{text}\" {e}."))
    }

    /// A number that must be there.
    pub fn number(&self, form: &str, key: &str, name: &str) -> Result<f64, String> {
        self.maybe(form, key, name)?.ok_or_else(|| format!("{name} is missing."))
    }

    /// A pressure with its unit, absolute, Pa.
    pub fn pressure_pa(&self, form: &str, key: &str, name: &str) -> Result<f64, String> {
        let barometer = self.maybe(form, "barometer", "The barometer")?.unwrap_or(101.325);
        let text = self.text(form, key, "");
        if text.is_empty() {
            return Err(format!("{name} is missing."));
        }
        let p = fluids::text::parse_pressure(&text, barometer);
        p.map(|p| p.absolute_kpa * 1e3).map_err(|e| format!("{name}: {e}."))
    }

    /// A labelled field.
    pub fn field(&self, form: &str, key: &str, label: &str, without: &str, hint: &str) -> Markup {
        let (id, value) = (format!("{form}-{key}"), self.text(form, key, without));
        let hint_id = format!("{id}-hint");
        html! {
            div {
                label for=(id) { (label) }
                input id=(id) name=(key) value=(value) maxlength=(LONGEST) autocomplete="off"
                    spellcheck="false" autocapitalize="none"
                    aria-describedby=[(!hint.is_empty()).then_some(&hint_id)];
                @if !hint.is_empty() { p.hint id=(hint_id) { (hint) } }
            }
        }
    }

    /// The answer's place: an answer, or what is wrong.
    pub fn answer(&self, form: &str, made: impl FnOnce() -> Result<Markup, String>) -> Answered {
        if !self.is(form) {
            return Answered { shown: html! {}, good: true };
        }
        match made() {
            Ok(shown) => Answered { shown, good: true },
            Err(why) => {
                let shown = html! { p.field-error role="alert" { (why) } };
                Answered { shown, good: false }
            }
        }
    }
}

/// An answer, and whether everything asked for could be answered.
pub(super) struct Answered {
    pub shown: Markup,
    pub good: bool,
}

/// The refrigerants' names to choose from.
pub(super) fn fluid_options(chosen: &str) -> Markup {
    let names: Vec<&str> =
        Refrigerant::all().map_or_else(|_| Vec::new(), |a| a.iter().map(|f| f.name()).collect());
    html! { @for n in names { option value=(n) selected[n == chosen] { (n) } } }
}
