//! Forms for entries of the account.

use maud::{Markup, html};
use record::gas::{Reason, Source};
use service::account::Account;

use super::super::Shell;

/// All of them; `filled` is what the first is opened with.
pub fn all(shell: &Shell, account: &Account, filled: &[(String, String)]) -> Markup {
    let known = !account.cylinders.is_empty();
    html! {
        datalist #holders {
            @for c in &account.cylinders { option value=(c.card.id) {} }
            @for u in &account.units { option value=(u.unit) {} }
            option value="air" {} option value="supplier:" {} option value="shore:" {}
        }
        (moved(shell, known, filled))
        (weighed(shell))
        (cylinder(!known))
        (plate())
        (checked(shell))
        (screened(shell))
        (ended(shell))
        (struck())
    }
}

fn form(what: &str, summary: &str, open: bool, fields: &Markup) -> Markup {
    html! {
        details.write-down open[open] {
            summary { (summary) }
            form.upload method="post" action={ "/gas/" (what) } {
                (fields)
                label { "Entered by " input name="who" required maxlength="80" autocomplete="name"
                    placeholder="name and rank"; }
                button.main type="submit" { "Enter it" }
            }
        }
    }
}

fn when(shell: &Shell) -> Markup {
    html! { label { "When (UTC) " input name="at" required size="16" value=(shell.now.to_minute()); } }
}

fn kg(label: &str) -> Markup {
    html! { label { (label) " " input name="kg" required inputmode="decimal" size="8"; } }
}

fn gas(needed: bool) -> Markup {
    let hint = if needed { "R134a" } else { "as card or plate say" };
    html! { label { "Gas " input name="gas" size="10" maxlength="12" required[needed]
    placeholder=(hint); } }
}

fn unit() -> Markup {
    html! { label { "Unit " input name="unit" required size="13" maxlength="20"
    autocapitalize="characters"; } }
}

fn moved(shell: &Shell, open: bool, filled: &[(String, String)]) -> Markup {
    let was = |key: &str| {
        let found = filled.iter().find(|(k, _)| k == key);
        found.map_or_else(String::new, |(_, v)| v.chars().take(200).collect())
    };
    let at = Some(was("at")).filter(|t| !t.is_empty()).unwrap_or_else(|| shell.now.to_minute());
    form(
        "move",
        "Gas moved",
        open || !filled.is_empty(),
        &html! {
            p.hint { "From and to: a cylinder’s number, a unit’s number, supplier:NAME, shore:NAME \
                or air." }
            label { "From " input name="from" required list="holders" maxlength="80"
                value=(was("from")); }
            label { "To " input name="to" required list="holders" maxlength="80"
                value=(was("to")); }
            label { "Kilograms by the scale " input name="kg" required inputmode="decimal" size="8"
                value=(was("kg")); }
            label { "Why " select name="reason" {
                @for r in Reason::ALL { option value=(r.as_str()) selected[was("reason") == r.as_str()]
                    { (r.words()) } } } }
            label { "Gas " input name="gas" size="10" maxlength="12" value=(was("gas"))
                placeholder="as card or plate say"; }
            label { "When (UTC) " input name="at" required size="16" value=(at); }
            label { "Place " input name="place" maxlength="80" placeholder="at sea"; }
            label { "Done by " input name="by" maxlength="80" value=(was("by"))
                placeholder="if not who enters it"; }
            label { "Certificate " input name="certificate" maxlength="60"; }
            label { "Remark " input name="remark" maxlength="200" value=(was("remark"))
                placeholder="hose emptied into the unit"; }
        },
    )
}

fn weighed(shell: &Shell) -> Markup {
    form(
        "weigh",
        "Weighed, or found empty",
        false,
        &html! {
            label { "What " input name="holder" required list="holders" maxlength="80"; }
            (kg("Kilograms of gas, without the tare"))
            (gas(false))
            (when(shell))
            label { "Remark " input name="remark" maxlength="200"; }
        },
    )
}

fn cylinder(open: bool) -> Markup {
    form(
        "cylinder",
        "A cylinder",
        open,
        &html! {
            label { "Number " input name="id" required maxlength="40"; }
            (gas(true))
            label { "Volume, litres of water " input name="volume_l" inputmode="decimal" size="8"; }
            label { "Tare, kg " input name="tare_kg" inputmode="decimal" size="8"; }
            label { "Fill limit as stamped, kg " input name="limit_kg" inputmode="decimal" size="8"; }
            label.check { input type="checkbox" name="recovery" value="yes"; " for recovered gas" }
            label { "Where its gas comes from " select name="source" {
                option value="" { "not known" }
                @for s in [Source::Virgin, Source::Recycled, Source::Reclaimed] {
                    option value=(s.as_str()) { (super::source(s)) } } } }
            label { "Facility: name, address " input name="facility" maxlength="160"; }
            label { "Its certificate " input name="certificate" maxlength="60"; }
        },
    )
}

fn plate() -> Markup {
    form(
        "plate",
        "The plate of a unit",
        false,
        &html! {
            (unit())
            (gas(true))
            (kg("Charge on the plate, kg"))
            label { "Serial number " input name="serial" maxlength="60"; }
            label.check { input type="checkbox" name="sealed" value="yes";
                " labelled hermetically sealed" }
            label.check { input type="checkbox" name="detection" value="yes";
                " a leak detection system is fitted" }
        },
    )
}

fn checked(shell: &Shell) -> Markup {
    form(
        "check",
        "Checked for leaks",
        false,
        &html! {
            (unit())
            label { "How " input name="method" required maxlength="80"
                placeholder="detector, bubbles, dye"; }
            label { "Where it leaks (blank: no leak found) " input name="leak" maxlength="120"; }
            label { "Cause " input name="cause" maxlength="120"; }
            label.check { input type="checkbox" name="repaired" value="yes"; " repaired" }
            (when(shell))
            label { "Done by " input name="by" maxlength="80" placeholder="if not who enters it"; }
            label { "Certificate " input name="certificate" maxlength="60"; }
        },
    )
}

fn screened(shell: &Shell) -> Markup {
    form(
        "screen",
        "A cylinder held against its name",
        false,
        &html! {
            p.hint { "It has stood for hours at one temperature, valve closed. High is air or another \
                gas, low another gas; a match proves nothing." }
            label { "Cylinder " input name="id" required list="holders" maxlength="40"; }
            label { "Pressure with its unit " input name="p" required size="12"
                placeholder="5.6barg"; }
            label { "Temperature " input name="t" required size="8" placeholder="25C"; }
            label { "Barometer, kPa " input name="barometer_kpa" inputmode="decimal" size="8"
                value="101.325"; }
            (when(shell))
        },
    )
}

fn ended(shell: &Shell) -> Markup {
    form(
        "end",
        "A unit taken out of use",
        false,
        &html! {
            (unit())
            label { "What was done to recover and dispose of the gas "
                input name="remark" required maxlength="200"; }
            (when(shell))
        },
    )
}

fn struck() -> Markup {
    form(
        "strike",
        "An entry was a slip",
        false,
        &html! {
            p.hint { "It stays readable and no longer counts." }
            label { "Number of the entry " input name="entry" required inputmode="numeric" size="6"; }
            label { "Why " input name="remark" required maxlength="200"; }
        },
    )
}
