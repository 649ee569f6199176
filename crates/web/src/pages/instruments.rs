//! The register: what is due first, ice-point checks with what they say, the forms.

use maud::{Markup, html};
use record::calibration::{CheckLine, Drift, Due, IcePoint, InstrumentLine};
use record::{BoxSensor, Instrument, InstrumentKind};
use units::Utc;

use super::{Live, Shell, Tab, box_href, page, percent, time};

/// Readings that a field may hold.
const READINGS_MOST: usize = 40;

/// What the address asks for: readings to be worked out, an instrument to be changed.
#[derive(Debug, Clone, Default)]
pub struct Asked {
    /// What is checked.
    pub of: String,
    /// Readings as typed.
    pub readings: String,
    /// In °F.
    pub fahrenheit: bool,
    /// The instrument whose form is asked for.
    pub change: String,
}

impl Asked {
    /// From the pairs of the address or a form.
    #[must_use]
    pub fn from_pairs(pairs: &[(String, String)]) -> Self {
        let get = |key: &str| {
            let found = pairs.iter().find(|(k, _)| k == key);
            found.map_or("", |(_, v)| v.trim()).chars().take(300).collect::<String>()
        };
        let fahrenheit = get("unit") == "f";
        Self { of: get("of"), readings: get("readings"), fahrenheit, change: get("change") }
    }

    /// The readings: separated by blanks, a comma within one is a decimal point.
    #[must_use]
    pub fn list(&self) -> Vec<String> {
        let words = self.readings.split([' ', ';', '\t', '\n']).filter(|w| !w.is_empty());
        words.take(READINGS_MOST).map(|w| w.replace(',', ".").replace('\u{2212}', "-")).collect()
    }
}

/// The page.
#[must_use]
pub fn instruments_page(
    shell: &Shell,
    lines: &[InstrumentLine],
    sensors: &[CheckLine],
    asked: &Asked,
) -> Markup {
    let in_use: Vec<&InstrumentLine> = lines.iter().filter(|l| l.withdrawn.is_none()).collect();
    let changed = in_use.iter().find(|l| l.instrument.id == asked.change);
    let content = html! {
        h1 { "Instruments" }
        p { a.button href="/charts" { "Recorder charts" } " "
            a.button href="/handover" { "What to show at a port" } }
        @if let Some(l) = changed {
            (state_form(Some(&l.instrument)))
        }
        @if lines.is_empty() {
            p.empty { "No instrument is entered yet: gauges, thermometers, vacuum gauge, scales. \
                Enter the first below." }
        } @else {
            p.hint { "Due first on top. A record that names an id (the gauge of a vacuum hold, the \
                note of a gauge sheet, the remark of a slurry reading) shows its certificate as it \
                stood that day." }
            ul.entries { @for l in lines { (line(l)) } }
        }
        (check_form(shell.now, &in_use, asked))
        h2 #checked { "Sensors and probes of containers, held in ice" }
        @if sensors.is_empty() {
            p.empty { "None is entered." }
        } @else {
            ul.entries { @for c in sensors { li { (check(c, true)) } } }
        }
        @if changed.is_none() { (state_form(None)) }
        @if !in_use.is_empty() { (withdraw_form(&in_use)) }
    };
    page(shell, Tab::Instruments, Live::Yes, "Instruments", &content)
}

fn line(l: &InstrumentLine) -> Markup {
    let i = &l.instrument;
    html! {
        li id={ "i-" (i.id) } {
            p { strong { (i.id) } " · " (i.line()) }
            @match &l.withdrawn {
                Some((at, why)) => { p { strong { "Withdrawn " } (time(*at)) ": " (why) } }
                None => {
                    p { "Certificate: " (due(l.due))
                        @if l.check_due != Due::NotStated {
                            " · Ice-point check: " (due(l.check_due)) } }
                }
            }
            @let known = [("", &i.what), ("accuracy ", &i.accuracy), ("issued by ", &i.issuer),
                ("kept: ", &i.place), ("", &i.remark)];
            @if known.iter().any(|(_, t)| !t.is_empty()) {
                p.hint { @for (k, (name, t)) in known.iter().filter(|(_, t)| !t.is_empty()).enumerate() {
                    @if k > 0 { " · " } (name) (t) } }
            }
            @for c in l.checks.iter().rev().take(3) { (check(c, false)) }
            @for u in l.uses.iter().take(5) {
                p.hint { "Used " (u.at.to_minute()) ": " (u.record)
                    @if let Some(unit) = &u.unit { " of " a href=(box_href(unit)) { (unit) } } ": "
                    @if u.on_day.is_wrong() { strong { (u.on_day.words()) } }
                    @else { (u.on_day.words()) } }
            }
            @if !l.scans.is_empty() {
                ul.originals { @for s in &l.scans {
                    li { a href={ "/originals/" (s.sha256) } download { "Scan " (s.name) } } } }
            }
            @if l.withdrawn.is_none() {
                p { a.button href={ "/instruments?change=" (percent(&i.id)) "#state" }
                    aria-label={ "New certificate or other change of " (i.id) } {
                    "New certificate or other change" } }
            }
        }
    }
}

fn due(d: Due) -> Markup {
    match d {
        Due::Overdue { .. } | Due::Soon { .. } => html! { strong { (d.words()) } },
        _ => html! { (d.words()) },
    }
}

fn check(c: &CheckLine, with_label: bool) -> Markup {
    html! {
        p { (c.at.to_minute()) " "
            @if with_label { strong { (c.label) } " " }
            "in ice: " (c.readings.join(" ")) " " (c.sign) " → "
            @match &c.ice {
                Ok(ice) => (said(ice)),
                Err(why) => (why),
            }
            @if let Some(d) = &c.drift { " " (drift(d)) }
            span.hint { @if !c.notes.is_empty() { " " (c.notes) ";" } " by " (c.who) }
        }
    }
}

fn k(v: f64) -> String {
    format!("{v:+.2}").replace('-', "\u{2212}")
}

fn said(ice: &IcePoint) -> Markup {
    html! {
        "correction " strong { (k(ice.correction_k)) " K" }
        @match ice.correction_p90 {
            Some([low, high]) => span.interval { " (90 %: " (k(low)) " to " (k(high)) " K)" },
            None => span.interval { " (one reading: its spread is not known)" },
        }
    }
}

fn drift(d: &Drift) -> Markup {
    html! {
        "· drift " (k(d.drift_k)) " K"
        @if let Some([low, high]) = d.drift_p90 {
            span.interval { " (90 %: " (k(low)) " to " (k(high)) ")" } }
        " since " (d.since.to_day())
        @if let Some(y) = d.per_year_k { ", " (k(y)) " K a year"
            @if let Some([low, high]) = d.per_year_p90 {
                span.interval { " (90 %: " (k(low)) " to " (k(high)) ")" } } }
    }
}

/// What the readings say, for the place beside their field.
#[must_use]
pub fn ice_told(asked: &Asked) -> Markup {
    let list = asked.list();
    if list.is_empty() {
        return html! { p.hint { "Mean, correction and spread stand here as you key." } };
    }
    match voyage::try_ice(&list, asked.fahrenheit) {
        Err(why) => html! { p { strong { "Not a reading: " } (why) "." } },
        Ok(ice) => html! {
            p { strong { (ice.count) @if ice.count == 1 { " reading" } @else { " readings" } } ": mean "
                (format!("{:.3}", ice.mean_c).replace('-', "\u{2212}")) " °C, " (said(&ice))
                @if let Some(s) = ice.spread_k { ", spread " (format!("{s:.3}")) " K" } }
            @for r in &ice.remarks { p.warning { (r) } }
        },
    }
}

fn check_form(now: Utc, lines: &[&InstrumentLine], asked: &Asked) -> Markup {
    let sensor = |s: BoxSensor| format!("{} air sensor of a container", s.as_str());
    html! {
        form.upload.ice-form #check method="post" action="/instruments/check" {
            h2 { "Ice-point check" }
            p.hint { "Crushed fresh-water ice packed tight, fresh water to fill the gaps, 10 min, stir; \
                at least four readings, a minute apart. Pulp probes of a treatment are entered on \
                the treatment’s own page, all of one session together." }
            label for="ice-of" { "What was held in ice" }
            select #ice-of name="of" {
                @for l in lines {
                    @let i = &l.instrument;
                    option value=(i.id) selected[asked.of == i.id] {
                        (i.id) ", " (i.kind.words()) }
                }
                @for s in BoxSensor::ALL {
                    option value=(s.as_str()) selected[asked.of == s.as_str()] { (sensor(s)) }
                }
            }
            label for="ice-box" { "Container (only for its sensor)" }
            input #ice-box name="box" size="13" maxlength="20" autocapitalize="characters"
                autocomplete="off";
            label for="ice-readings" { "Readings, a blank between" }
            input #ice-readings name="readings" required maxlength="300" autocomplete="off"
                inputmode="text" value=(asked.readings) placeholder="0.1 0.1 0.0 0.1";
            label for="ice-unit" { "Unit" }
            select #ice-unit name="unit" {
                option value="c" { "°C" }
                option value="f" selected[asked.fahrenheit] { "°F" }
            }
            div #ice-told role="status" aria-live="polite" { (ice_told(asked)) }
            label for="ice-at" { "When (UTC)" }
            input #ice-at name="at" required size="16" value=(now.to_minute());
            label for="ice-stirred" { "Stirred" }
            select #ice-stirred name="stirred" {
                option value="" { "not written down" }
                option value="yes" { "yes" }
                option value="no" { "no" }
            }
            label for="ice-ice" { "Ice and water" }
            input #ice-ice name="ice" maxlength="200" placeholder="fresh water ice, stood 10 min";
            label for="ice-against" { "Slurry checked with (id or name)" }
            input #ice-against name="against" maxlength="100";
            label for="ice-remark" { "Remark" }
            input #ice-remark name="remark" maxlength="200";
            label for="ice-who" { "Entered by" }
            input #ice-who name="who" required maxlength="80" autocomplete="name"
                placeholder="name and rank";
            button.main type="submit" { "Enter the check" }
            button type="submit" formmethod="get" formaction="/instruments#check" formnovalidate {
                "Work it out, store nothing" }
        }
    }
}

fn state_form(of: Option<&Instrument>) -> Markup {
    let is = |k: InstrumentKind| of.is_some_and(|i| i.kind == k);
    let text = |name: &str, label: &str, hint: &str, value: Option<&str>| {
        html! {
            label for={ "in-" (name) } { (label) }
            input id={ "in-" (name) } name=(name) maxlength="200" autocomplete="off"
                placeholder=(hint) value=[value];
        }
    };
    let months = of.and_then(|i| i.every_months).map(|m| m.to_string());
    let days = of.and_then(|i| i.check_every_days).map(|d| d.to_string());
    html! {
        details.write-down #state open[of.is_some()] {
            summary { @match of {
                Some(i) => { "State " (i.id) " again: new certificate, another place" },
                None => "Enter an instrument",
            } }
            form.upload method="post" action="/instruments/state" enctype="multipart/form-data" {
                input type="hidden" name="verb" value=(if of.is_some() { "change" } else { "add" });
                @match of {
                    Some(i) => { input type="hidden" name="id" value=(i.id); }
                    None => {
                        label for="in-id" { "Id, as painted on it" }
                        input #in-id name="id" required maxlength="16" size="16" placeholder="VG-1"
                            autocapitalize="characters" autocomplete="off";
                    }
                }
                label for="in-kind" { "What it is" }
                select #in-kind name="kind" {
                    @for kind in InstrumentKind::ALL {
                        option value=(kind.as_str()) selected[is(kind)] { (kind.words()) } }
                }
                (text("what", "In your words", "0 to 20000 µm, far end", of.map(|i| i.what.as_str())))
                (text("serial", "Serial number", "", of.map(|i| i.serial.as_str())))
                (text("accuracy", "Class or accuracy as stated", "class 1.0 of −1 to 10 bar",
                    of.map(|i| i.accuracy.as_str())))
                (text("certificate", "Certificate number", "", of.map(|i| i.certificate.as_str())))
                (text("issuer", "Issued by", "", of.map(|i| i.issuer.as_str())))
                (text("dated", "Date of the certificate", "2026-03-01",
                    of.and_then(|i| i.dated.as_deref())))
                (text("due", "Due on, where stated", "2027-03-01", of.and_then(|i| i.due.as_deref())))
                (text("every_months", "or due every so many months", "12", months.as_deref()))
                (text("check_every_days", "Ice-point check every so many days (ship’s procedure)", "",
                    days.as_deref()))
                (text("place", "Kept where", "", of.map(|i| i.place.as_str())))
                (text("remark", "Remark", "", of.map(|i| i.remark.as_str())))
                label for="in-scan" { "Scan of the certificate" }
                input #in-scan type="file" name="scan" multiple;
                label for="in-who" { "Entered by" }
                input #in-who name="who" required maxlength="80" autocomplete="name"
                    placeholder="name and rank";
                button.main type="submit" { "Enter it" }
                p.hint { "What is not known stays blank. Earlier statements are kept." }
            }
        }
    }
}

fn withdraw_form(lines: &[&InstrumentLine]) -> Markup {
    html! {
        details.write-down {
            summary { "Withdraw an instrument" }
            form.upload method="post" action="/instruments/withdraw" {
                label for="out-id" { "Which" }
                select #out-id name="id" {
                    @for l in lines { option value=(l.instrument.id) { (l.instrument.id) } } }
                label for="out-why" { "Why" }
                input #out-why name="why" required maxlength="200" placeholder="dropped, reads high";
                label for="out-who" { "Entered by" }
                input #out-who name="who" required maxlength="80" autocomplete="name"
                    placeholder="name and rank";
                button.main type="submit" { "Withdraw it" }
            }
        }
    }
}

/// What is wrong with instruments in use, above the work that uses them.
#[must_use]
pub fn instruments_wrong(all: &[String]) -> Markup {
    html! {
        @if !all.is_empty() {
            div.caution role="note" aria-label="Instruments" {
                h2 { "Instruments to look at before they are used" }
                ul { @for line in all { li { (line) } } }
                p { a href="/instruments" { "Instruments" } }
            }
        }
    }
}
