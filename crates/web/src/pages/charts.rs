//! Recorder charts: change due first, where the originals are, the forms.

use maud::{Markup, html};
use record::calibration::{ChartLine, Due};
use units::Utc;

use super::{Live, Shell, Tab, box_href, page, time};

/// The page.
#[must_use]
pub fn charts_page(shell: &Shell, lines: &[ChartLine]) -> Markup {
    let content = html! {
        h1 { "Recorder charts" }
        p { a.button href="/instruments" { "Instruments" } }
        @if lines.is_empty() {
            p.empty { "No chart is entered. Enter below when one is put on." }
        } @else {
            p.hint { "Change due first, then those taken off. The scan is held byte for byte; the \
                original lies where somebody wrote it down." }
            ul.entries { @for l in lines { (line(l)) } }
        }
        div.two-columns {
            (on_form(shell.now))
            (off_form(shell.now, lines))
            @if !lines.is_empty() { (keep_form(lines)) }
        }
    };
    page(shell, Tab::Instruments, Live::Yes, "Recorder charts", &content)
}

fn line(l: &ChartLine) -> Markup {
    let f = &l.file;
    html! {
        li {
            p { strong { a href=(box_href(&f.on.unit)) { (f.on.unit) } }
                @if !f.on.chart.is_empty() { " · chart " (f.on.chart) }
                " · on " (time(f.on.at)) }
            p {
                @match &f.off {
                    None => {
                        @match l.due {
                            Due::Overdue { .. } => {
                                strong { "CHANGE OVERDUE since " (time(f.on.due)) } }
                            Due::Soon { .. } => { strong { "Change soon: " (time(f.on.due)) } }
                            _ => { "Change due " (time(f.on.due)) }
                        }
                    }
                    Some((off, who)) => {
                        "Off " (time(*off)) " by " (who)
                        @if let Some(h) = l.late_h {
                            " (" (figures::words::hours(h)) " after it was due)" }
                        ". Original kept: "
                        @if f.kept.is_empty() { strong { "not written down" } } @else { (f.kept) }
                    }
                }
            }
            @if !f.remarks.is_empty() { p.hint { (f.remarks.join("; ")) } }
            @if !f.scans.is_empty() {
                ul.originals { @for s in &f.scans {
                    li { a href={ "/originals/" (s.sha256) } download { "Scan " (s.name) } } } }
            }
        }
    }
}

fn who(id: &str) -> Markup {
    html! {
        label for=(id) { "Entered by" }
        input id=(id) name="who" required maxlength="80" autocomplete="name"
            placeholder="name and rank";
    }
}

fn on_form(now: Utc) -> Markup {
    html! {
        form.upload method="post" action="/charts/on" {
            h2 { "Chart put on" }
            label for="on-box" { "Container" }
            input #on-box name="box" required size="13" maxlength="20" autocapitalize="characters"
                autocomplete="off";
            label for="on-at" { "When (UTC)" }
            input #on-at name="at" required size="16" value=(now.to_minute());
            label for="on-days" { "It runs for days" }
            input #on-days name="days" required size="4" maxlength="3" inputmode="numeric"
                placeholder="31";
            label for="on-chart" { "Its number, what stands on it" }
            input #on-chart name="chart" maxlength="100";
            label for="on-remark" { "Remark" }
            input #on-remark name="remark" maxlength="200";
            (who("on-who"))
            button.main type="submit" { "Enter it" }
        }
    }
}

fn off_form(now: Utc, lines: &[ChartLine]) -> Markup {
    let on: Vec<&ChartLine> = lines.iter().filter(|l| l.file.off.is_none()).collect();
    html! {
        form.upload method="post" action="/charts/off" enctype="multipart/form-data" {
            h2 { "Chart taken off" }
            label for="off-box" { "Container" }
            input #off-box name="box" required size="13" maxlength="20" autocapitalize="characters"
                autocomplete="off" list="charts-on";
            datalist #charts-on { @for l in &on { option value=(l.file.on.unit) {} } }
            label for="off-at" { "When (UTC)" }
            input #off-at name="at" required size="16" value=(now.to_minute());
            (kept("off"))
            (who("off-who"))
            button.main type="submit" { "Enter it" }
        }
    }
}

fn keep_form(lines: &[ChartLine]) -> Markup {
    html! {
        form.upload method="post" action="/charts/keep" enctype="multipart/form-data" {
            h2 { "Original moved, or scanned later" }
            label for="keep-of" { "Chart" }
            select #keep-of name="of" {
                @for l in lines {
                    @let on = &l.file.on;
                    option value={ (on.unit) " " (on.at) } { (on.unit) ", on " (on.at.to_minute()) }
                }
            }
            (kept("keep"))
            (who("keep-who"))
            button.main type="submit" { "Enter it" }
        }
    }
}

fn kept(form: &str) -> Markup {
    html! {
        label for={ (form) "-kept" } { "Original kept where" }
        input id={ (form) "-kept" } name="kept" maxlength="200" placeholder="folder 2, reefer office";
        label for={ (form) "-scan" } { "Scan or photograph" }
        input id={ (form) "-scan" } type="file" name="scan" multiple;
        label for={ (form) "-remark" } { "Remark" }
        input id={ (form) "-remark" } name="remark" maxlength="200";
    }
}
