//! Style sheet, scripts and icon, held in the program itself: no request leaves the machine.

use std::sync::OnceLock;

use record::digest::Digest;

/// A file served from memory.
pub struct Asset {
    /// Name in the address.
    pub name: &'static str,
    /// Media type.
    pub media: &'static str,
    /// Content.
    pub text: &'static str,
    mark: OnceLock<String>,
}

impl Asset {
    const fn new(name: &'static str, media: &'static str, text: &'static str) -> Self {
        Self { name, media, text, mark: OnceLock::new() }
    }

    /// Address with a mark of the content, so that a new program is never shown with an old
    /// style sheet out of the browser's store.
    pub fn href(&self) -> String {
        format!("/assets/{}?v={}", self.name, self.mark())
    }

    fn mark(&self) -> &str {
        self.mark.get_or_init(|| {
            let hex = Digest::of(self.text.as_bytes()).to_string();
            hex.get(..12).unwrap_or_default().to_owned()
        })
    }
}

/// The one style sheet.
pub static STYLE: Asset =
    Asset::new("style.css", "text/css; charset=utf-8", include_str!("assets/style.css"));

/// Renews a page when something came in.
pub static LIVE: Asset =
    Asset::new("live.js", "text/javascript; charset=utf-8", include_str!("assets/live.js"));

/// Folds the groups of the navigation.
pub static NAV: Asset =
    Asset::new("nav.js", "text/javascript; charset=utf-8", include_str!("assets/nav.js"));

/// Read-out and zoom of a chart.
pub static CHART: Asset =
    Asset::new("chart.js", "text/javascript; charset=utf-8", include_str!("assets/chart.js"));

/// Readings of a vacuum hold as they are keyed, its clock and its tone.
pub static VACUUM: Asset =
    Asset::new("vacuum.js", "text/javascript; charset=utf-8", include_str!("assets/vacuum.js"));

/// Keying a round in by keyboard.
pub static ROUNDS: Asset =
    Asset::new("rounds.js", "text/javascript; charset=utf-8", include_str!("assets/rounds.js"));

/// Readings in ice as they are keyed.
pub static ICE: Asset =
    Asset::new("ice.js", "text/javascript; charset=utf-8", include_str!("assets/ice.js"));

/// The sign in the browser's tab.
pub static ICON: Asset = Asset::new("icon.svg", "image/svg+xml", include_str!("assets/icon.svg"));

/// The asset of a name.
pub fn find(name: &str) -> Option<&'static Asset> {
    [&STYLE, &LIVE, &NAV, &CHART, &VACUUM, &ROUNDS, &ICE, &ICON]
        .into_iter()
        .find(|a| a.name == name)
}
