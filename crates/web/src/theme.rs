//! Day and night: kept in a cookie, set by a plain form.

use axum::Form;
use axum::http::HeaderValue;
use axum::http::header::{COOKIE, HeaderMap, SET_COOKIE};
use axum::response::Response;

use crate::acts::see_other;
use crate::pages::Theme;

const COOKIE_NAME: &str = "holdfast-screen";

/// What the browser was set to.
pub fn from_cookie(headers: &HeaderMap) -> Theme {
    let all = headers.get_all(COOKIE).iter().filter_map(|v| v.to_str().ok());
    let value = all
        .flat_map(|line| line.split(';'))
        .filter_map(|pair| pair.trim().split_once('='))
        .find(|(name, _)| *name == COOKIE_NAME)
        .map(|(_, value)| value);
    Theme::from_text(value.unwrap_or_default())
}

/// `POST /theme`: sets the cookie and goes back.
pub async fn set(Form(pairs): Form<Vec<(String, String)>>) -> Response {
    let get = |key: &str| {
        let found = pairs.iter().find(|(k, _)| k == key);
        found.map(|(_, v)| v.as_str()).unwrap_or_default()
    };
    let theme = Theme::from_text(get("theme"));
    let cookie = format!(
        "{COOKIE_NAME}={}; Path=/; Max-Age=31536000; SameSite=Strict; HttpOnly",
        theme.as_str()
    );
    let mut response = see_other(local_path(get("back")), "/");
    if let Ok(value) = HeaderValue::from_str(&cookie) {
        response.headers_mut().insert(SET_COOKIE, value);
    }
    response
}

/// The path to go back to; only ever one of this server.
fn local_path(back: &str) -> &str {
    let plain = back.bytes().all(|b| b.is_ascii_graphic() && b != b'\\');
    if back.starts_with('/') && !back.starts_with("//") && plain { back } else { "/" }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn back_never_leads_away() {
        assert_eq!(local_path("/plan?bay=22"), "/plan?bay=22");
        for bad in ["", "plan", "//evil.example/", "/\\evil.example", "http://evil", "/a\r\nX: y"] {
            assert_eq!(local_path(bad), "/", "{bad}");
        }
    }

    #[test]
    fn cookie_among_others() {
        let mut h = HeaderMap::new();
        h.insert(COOKIE, HeaderValue::from_static("a=b; holdfast-screen=night; c=d"));
        assert_eq!(from_cookie(&h), Theme::Night);
        assert_eq!(from_cookie(&HeaderMap::new()), Theme::Auto);
    }
}
