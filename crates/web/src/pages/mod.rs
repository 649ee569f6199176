//! The pages: records in, HTML out. Nothing here reads a clock, a file or the engine.

pub mod ahead;
mod box_facts;
pub mod box_page;
mod box_readings;
pub mod cautions;
pub mod charts;
pub mod files;
pub mod fluid;
pub mod gas;
pub mod gauges;
pub mod handover;
pub mod instruments;
pub mod log;
mod nav;
pub mod night;
pub mod plan;
pub mod power;
pub mod report;
pub mod round_key;
pub mod rounds;
pub mod service;
pub mod spares;
pub mod treatment;
pub mod treatments;
pub mod trouble;
pub mod vacuum;
pub mod watch;

use maud::{DOCTYPE, Markup, PreEscaped, html};
use record::{State, UnitId};
use units::Utc;

use crate::assets;

/// Day or night, or as the system says.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Theme {
    /// Dark on light, for sun.
    Day,
    /// Dim, for the dark.
    Night,
    /// As the computer is set.
    Auto,
}

impl Theme {
    /// All, in the order of the buttons.
    pub const ALL: [Self; 3] = [Self::Day, Self::Night, Self::Auto];

    /// As kept in the cookie.
    #[must_use]
    pub fn as_str(self) -> &'static str {
        match self {
            Self::Day => "day",
            Self::Night => "night",
            Self::Auto => "auto",
        }
    }

    /// From the cookie or the form; anything else is `Auto`.
    #[must_use]
    pub fn from_text(text: &str) -> Self {
        match text {
            "day" => Self::Day,
            "night" => Self::Night,
            _ => Self::Auto,
        }
    }
}

/// What every page needs to know of the moment it is made for.
#[derive(Debug, Clone)]
pub struct Shell {
    /// Day or night.
    pub theme: Theme,
    /// Title of the voyage.
    pub ship: String,
    /// This computer's clock.
    pub now: Utc,
    /// Path and query of the page, to come back to.
    pub here: String,
    /// Number of the newest entry shown, so that a page knows whether it is behind.
    pub entry: u64,
}

/// Which entry of the navigation a page stands under.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Tab {
    /// Watch list.
    Watch,
    /// Bay plan.
    Plan,
    /// Files.
    Files,
    /// Who first.
    Repairs,
    /// Load and restart.
    Power,
    /// Cold treatments.
    Treatments,
    /// Vacuum holds.
    Vacuum,
    /// Rounds.
    Rounds,
    /// Service work.
    Service,
    /// Log of the watch.
    Log,
    /// Messages to shore.
    Report,
    /// Refrigerants.
    Fluids,
    /// Gauges on a circuit.
    Gauges,
    /// Refrigerant account.
    Gas,
    /// Spare parts.
    Spares,
    /// Instruments and charts.
    Instruments,
    /// What to show at a port.
    Handover,
    /// None of them.
    Other,
}

/// Whether a page replaces its content when something new came in.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Live {
    /// It does.
    Yes,
    /// It stays as it is: the answer to a form.
    No,
}

/// A whole page around its content.
#[must_use]
pub fn page(shell: &Shell, tab: Tab, live: Live, title: &str, content: &Markup) -> Markup {
    let theme = (shell.theme != Theme::Auto).then(|| shell.theme.as_str());
    html! {
        (DOCTYPE)
        html lang="en" data-theme=[theme] {
            head {
                meta charset="utf-8";
                meta name="viewport" content="width=device-width, initial-scale=1";
                meta name="color-scheme" content="light dark";
                title { (title) " · Holdfast" }
                link rel="stylesheet" href=(assets::STYLE.href());
                link rel="icon" type="image/svg+xml" href=(assets::ICON.href());
                script type="module" src=(assets::LIVE.href()) {}
                script type="module" src=(assets::NAV.href()) {}
                script type="module" src=(assets::CHART.href()) {}
                script type="module" src=(assets::VACUUM.href()) {}
                @if tab == Tab::Rounds { script type="module" src=(assets::ROUNDS.href()) {} }
                script type="module" src=(assets::ICE.href()) {}
            }
            body {
                a.skip href="#main" { "Skip to the page" }
                (header(shell, tab))
                p #note role="status" aria-live="polite" {}
                noscript {
                    p.plain-note {
                        "Scripts are off: everything works, but this page does not renew itself. "
                        "Reload it to see what has come in."
                    }
                }
                main #main tabindex="-1" data-live=[(live == Live::Yes).then_some("yes")]
                    data-entry=(shell.entry) { (content) }
                footer {
                    p {
                        "All times are UTC. Holdfast reads and advises; it never commands a "
                        "container. Maker’s instructions, ship’s procedures and local rules come "
                        "first."
                    }
                }
            }
        }
    }
}

fn header(shell: &Shell, tab: Tab) -> Markup {
    html! {
        header {
            p.brand { "Holdfast" }
            p.ship { (shell.ship) }
            (nav::nav(tab))
            form.theme method="post" action="/theme" aria-label="Brightness of the screen" {
                input type="hidden" name="back" value=(shell.here);
                @for t in Theme::ALL {
                    button type="submit" name="theme" value=(t.as_str())
                        aria-pressed=(if t == shell.theme { "true" } else { "false" }) {
                        (match t { Theme::Day => "Day", Theme::Night => "Night", Theme::Auto => "Auto" })
                    }
                }
            }
        }
    }
}

/// Sign and word of a state.
#[must_use]
pub fn state_tag(state: State) -> Markup {
    html! {
        span class={ "state " (state.as_str()) } {
            (PreEscaped(figures::state_glyph(state, 18.0))) (state_word(state))
        }
    }
}

/// The word as a person reads it.
#[must_use]
pub fn state_word(state: State) -> &'static str {
    match state {
        State::Ok => "Ok",
        State::Watch => "Watch",
        State::Act => "Act",
        State::Urgent => "Urgent",
    }
}

/// The states, most urgent first.
pub const STATES: [State; 4] = [State::Urgent, State::Act, State::Watch, State::Ok];

/// The address of a box's page.
#[must_use]
pub fn box_href(unit: &UnitId) -> String {
    format!("/box/{}", percent(unit.as_str()))
}

/// Text as part of a path or query: everything but letters, digits and `-._~` is escaped
/// (RFC 3986 §2.3).
#[must_use]
pub fn percent(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for b in text.bytes() {
        if b.is_ascii_alphanumeric() || b"-._~".contains(&b) {
            out.push(char::from(b));
        } else {
            out.push_str(&format!("%{b:02X}"));
        }
    }
    out
}

/// A time with the machine's form beside it: `5 Jan 08:00`.
#[must_use]
pub fn time(at: Utc) -> Markup {
    html! {
        time datetime=(at) { (figures::words::day(at)) " " (figures::words::clock(at)) }
    }
}

/// How long ago, in words; a time ahead of the clock is called that.
#[must_use]
pub fn ago(at: Utc, now: Utc) -> String {
    let hours = now.hours_since(at);
    if hours < -0.1 {
        return format!("{} ahead of this computer’s clock", figures::words::hours(-hours));
    }
    format!("{} ago", figures::words::hours(hours.max(0.0)))
}

/// A temperature, or nothing where nothing was read.
#[must_use]
pub fn temp_or_blank(temp_c: Option<f64>) -> String {
    temp_c.map(figures::words::temp).unwrap_or_default()
}

/// `38 h`, with its interval: what is left before the limit.
#[must_use]
pub fn hours_left(hours: Option<f64>, p90: Option<[f64; 2]>) -> Option<Markup> {
    let hours = hours?;
    let reached = hours * 60.0 < 1.0;
    Some(html! {
        strong { @if reached { "reached" } @else { (figures::words::hours(hours)) } }
        @if let Some([low, high]) = p90 && high * 60.0 >= 1.0 {
            " " span.interval {
                (figures::words::hours(low)) " to " (figures::words::hours(high))
            }
        }
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Unreserved characters of RFC 3986 §2.3 pass, the rest is escaped octet by octet.
    #[test]
    fn percent_encoding() {
        assert_eq!(percent("A-z.0_~"), "A-z.0_~");
        assert_eq!(percent("a/b ü"), "a%2Fb%20%C3%BC");
    }

    #[test]
    fn ages() {
        let now = Utc::parse("2026-01-05T12:00:00Z").unwrap();
        assert_eq!(ago(now.plus_hours(-13.0), now), "13 h ago");
        assert_eq!(ago(now.plus_hours(3.0), now), "3.0 h ahead of this computer’s clock");
    }
}
