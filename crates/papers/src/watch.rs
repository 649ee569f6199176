//! The watch list on paper, with its bars.

use figures::words::hours;
use figures::{limit_axis, limit_bar};
use record::{BoxLine, State, WatchList};

use crate::common::{Common, Sign, sealed};
use crate::sheet::{Fonts, Sheet, Table, minus};

const STATES: [State; 4] = [State::Urgent, State::Act, State::Watch, State::Ok];

/// The boxes that need a person, most urgent first, and the count of the others; sealed.
///
/// # Errors
/// In words, when it cannot be made.
pub fn paper(
    list: &WatchList,
    common: &Common,
    fonts: &Fonts,
    sign: Sign<'_>,
) -> Result<Vec<u8>, String> {
    let mut s = Sheet::new(fonts);
    s.title("Watch list", &common.ship_line);
    let at = list.as_of.map_or_else(
        || "Nothing was read yet.".to_owned(),
        |t| format!("As of {}\u{a0}UTC.", t.to_minute().replace(' ', "\u{a0}")),
    );
    let counts: Vec<String> =
        STATES.iter().map(|st| format!("{} {}", list.count(*st), st.as_str())).collect();
    s.paragraph(&format!(
        "{at} {}. Bars: hours to the limit, thick over the 90 % interval, on one scale for all.",
        counts.join(", ")
    ));
    let mut t = Table::new(&["state", "container", "to the limit", "what, and what to do first"])
        .pictured(&limit_axis());
    for b in list.boxes.iter().filter(|b| b.state != State::Ok) {
        let bar = limit_bar(b.state, b.hours_to_limit, b.hours_to_limit_p90);
        t.row_pictured(row(b), bar.as_deref());
    }
    s.table(&t, "No box needs a person.");
    let subject = format!("What needs a person on {}", common.ship_line);
    sealed(s, ("Watch list", &subject), common, fonts, Vec::new(), sign)
}

fn row(b: &BoxLine) -> Vec<String> {
    let place = b.cell.map_or_else(
        || b.stow.clone().unwrap_or_else(|| "cell unknown".to_owned()),
        |c| c.to_string(),
    );
    let cargo = b.cargo.as_deref().unwrap_or("cargo not known");
    let left = b.hours_to_limit.map(|h| {
        let within = b
            .hours_to_limit_p90
            .map_or_else(String::new, |[a, z]| format!("\n({} to {})", hours(a), hours(z)));
        format!("{}{within}", hours(h))
    });
    vec![
        b.state.as_str().to_uppercase(),
        format!("{}\n{place}\n{cargo}", b.unit),
        left.unwrap_or_default(),
        minus(&format!("{}\nFirst: {}", b.reason, b.action)),
    ]
}
