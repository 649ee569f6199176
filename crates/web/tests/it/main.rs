//! The server over a real socket, with a real voyage file.
#![allow(clippy::unwrap_used, clippy::panic, reason = "tests stop at once")]

mod client;
mod dossier;
mod papers_out;

use std::time::Duration;

use client::{Answer, Server};

const PAGES: [&str; 4] = ["/", "/plan", "/files", "/fluid"];

const LIST: &str = "unit,stow,size_type,full,set_point_c\n\
                    QQQU1000011,0220382,45R1,true,-18.0\n\
                    QQQU1000027,0210182,22R1,true,2.0\n";

const ROUND: &str = "time_utc,unit,set_point_c,supply_c,return_c,on_power,source\n\
                     2026-01-05 08:00,QQQU1000011,-18.0,-18.4,-17.2,1,round\n\
                     2026-01-05 08:00,QQQU1000027,2.0,1.8,2C,1,round\n";

#[test]
fn an_empty_voyage_says_what_to_do() {
    let server = Server::start("empty");
    for page in PAGES {
        let answer = server.get(page);
        assert_eq!(answer.status, 200, "{page}");
        assert!(answer.body.contains("/files"), "{page}");
    }
    assert!(server.get("/").body.contains("Nothing is held yet"));
}

#[test]
fn every_answer_carries_the_headers() {
    let server = Server::start("headers");
    for page in ["/", "/plan", "/files", "/nothing-here", "/box/QQQU1000011", "/assets/style.css"] {
        let answer = server.get(page);
        let policy = answer.header("content-security-policy");
        for part in ["default-src 'none'", "base-uri 'none'", "frame-ancestors 'none'"] {
            assert!(policy.contains(part), "{page}: {policy}");
        }
        assert!(!policy.contains("unsafe"), "{page}");
        assert_eq!(answer.header("x-content-type-options"), "nosniff", "{page}");
        assert_eq!(answer.header("referrer-policy"), "same-origin", "{page}");
    }
}

#[test]
fn pages_hold_nothing_the_policy_forbids() {
    let server = Server::start("policy");
    server.post_file("/files/load", "list.csv", LIST);
    server.post_file("/files/take", "round.csv", ROUND);
    for page in ["/", "/plan", "/plan?bay=22", "/box/QQQU1000011", "/files", "/fluid", "/nothing"] {
        let body = server.get(page).body;
        assert!(!body.contains(" style="), "{page}: a style attribute");
        assert!(!body.contains("<style"), "{page}: a style element");
        assert!(!body.contains(" onclick"), "{page}: a handler");
        let scripts = body.matches("<script").count();
        assert_eq!(body.matches("<script type=\"module\" src=\"/assets/").count(), scripts);
        // The namespace of SVG is a name, not an address that is fetched.
        let others = body.replace("http://www.w3.org/2000/svg", "");
        assert!(!others.contains("http://") && !others.contains("https://"), "{page}");
    }
}

#[test]
fn asked_for_under_a_foreign_name() {
    let server = Server::start("host");
    let port = server.address.port();
    let ask = |host: &str| server.send(&format!("GET / HTTP/1.1\r\nHost: {host}\r\n\r\n")).status;
    assert_eq!(ask(&format!("localhost:{port}")), 200);
    assert_eq!(ask(&format!("rebound.example:{port}")), 403);
    assert_eq!(ask("127.0.0.1"), 403);
    assert_eq!(server.send("GET / HTTP/1.0\r\n\r\n").status, 403);
}

#[test]
fn a_form_from_elsewhere_changes_nothing() {
    let server = Server::start("origin");
    for origin in ["http://evil.example", "null"] {
        let answer = server.post_file_from("/files/load", "list.csv", LIST, Some(origin));
        assert_eq!(answer.status, 403, "{origin}");
        assert!(answer.body.contains("did not come from here"), "{origin}");
    }
    assert!(server.get("/").body.contains("Nothing is held yet"));
}

#[test]
fn a_list_and_a_round_come_in() {
    let server = Server::start("upload");
    let loaded = server.post_file("/files/load", "list.csv", LIST);
    assert_eq!(loaded.status, 200, "{}", loaded.body);
    let taken = server.post_file("/files/take", "round.csv", ROUND);
    assert_eq!(taken.status, 200, "{}", taken.body);
    // One row is refused, by its line and with the reason.
    assert!(taken.body.contains("round.csv line 3"), "{}", taken.body);
    let list = server.get("/").body;
    assert!(list.contains("QQQU1000011") && list.contains("QQQU1000027"));
    assert_eq!(server.get("/box/QQQU1000011").status, 200);
    assert_eq!(server.get("/box/qqqu%20100001-1").status, 200);
    assert_eq!(server.get("/box/QQQU9999999").status, 404);
    let json = server.get("/box/QQQU1000011/series.json?range=all");
    assert!(json.body.contains("\"name\":\"supply air\""), "{}", json.body);
    // The bays the boxes stand in share one picture.
    assert!(server.get("/plan?bay=22").body.contains("QQQU1000027"));
}

#[test]
fn what_cannot_be_read_is_refused_with_the_reason() {
    let server = Server::start("refused");
    let bad = server.post_file("/files/take", "photo.jpg", "\u{1}\u{2}not a table");
    assert_eq!(bad.status, 422);
    assert!(bad.body.contains("Not taken") && bad.body.contains("photo.jpg"), "{}", bad.body);
    let bad = server.post_file("/files/take", "", "");
    assert_eq!(bad.status, 422);
    assert!(bad.body.contains("No file was chosen"), "{}", bad.body);
}

#[test]
fn originals_come_back_byte_for_byte() {
    let server = Server::start("originals");
    server.post_file("/files/load", "../../li\u{e9}t.csv", LIST);
    let page = server.get("/files").body;
    let at = page.find("/originals/").unwrap();
    let href: String = page[at..].chars().take_while(|c| *c != '"').collect();
    let answer = server.get(&href);
    assert_eq!(answer.body, LIST);
    assert_eq!(answer.header("content-type"), "text/plain");
    let name = answer.header("content-disposition");
    assert!(name.starts_with("attachment;") && !name.contains(".."), "{name}");
    assert_eq!(server.get("/originals/00").status, 404);
    assert_eq!(server.get(&format!("/originals/{}", "0".repeat(64))).status, 404);
}

#[test]
fn too_much_at_once() {
    let server = Server::start_with("large", |o| o.max_upload_bytes = 100_000);
    let big = format!("{ROUND}{}", "x".repeat(300_000));
    // Announced: refused before it is stored anywhere, and answered all the same.
    let answer = server.post_file("/files/take", "big.csv", &big);
    assert_eq!(answer.status, 413);
    assert!(answer.body.contains("at most 0.1 MB"), "{}", answer.body);
    // Not announced: refused while it is read.
    let answer = server.post_chunked("/files/take", "big.csv", &big);
    assert_eq!(answer.status, 413, "{}", answer.body);
    // Hopelessly large: refused without reading it.
    let host = server.host();
    let head = format!(
        "POST /files/take HTTP/1.1\r\nHost: {host}\r\nContent-Type: multipart/form-data; \
         boundary=b\r\nContent-Length: 99000000000\r\n\r\n"
    );
    assert_eq!(server.send(&head).status, 413);
    assert!(server.get("/files").body.contains("Nothing yet"));
}

#[test]
fn day_and_night() {
    let server = Server::start("theme");
    let answer = server.post_form("/theme", "theme=night&back=%2Fplan%3Fbay%3D22");
    assert_eq!(answer.status, 303);
    assert_eq!(answer.header("location"), "/plan?bay=22");
    let cookie = answer.header("set-cookie");
    assert!(cookie.contains("SameSite=Strict") && cookie.contains("HttpOnly"), "{cookie}");
    let pair = cookie.split(';').next().unwrap();
    let page = server
        .send(&format!("GET / HTTP/1.1\r\nHost: {}\r\nCookie: {pair}\r\n\r\n", server.host()));
    assert!(page.body.contains("data-theme=\"night\""));
    let away = server.post_form("/theme", "theme=day&back=%2F%2Fevil.example%2F");
    assert_eq!(away.header("location"), "/");
}

#[test]
fn open_pages_hear_of_news_from_here_and_from_elsewhere() {
    let server = Server::start_with("events", |o| o.look_every = Duration::from_millis(50));
    let mut news = server.listen("/events");
    assert!(news.next().contains("\"entry\":0"));
    server.post_file("/files/load", "list.csv", LIST);
    assert!(news.next().contains("\"entry\":1"));
    // Another program writes into the same voyage file.
    server.elsewhere(|voyage, now| {
        let bytes = ROUND.as_bytes().to_vec();
        let file = voyage::NamedBytes { name: "round.csv".into(), bytes };
        voyage.take(&[file], "second engineer", now, &mut |_, _| {}).unwrap();
    });
    assert!(news.next().contains("\"entry\":2"));
    assert!(server.get("/box/QQQU1000011").body.contains("round.csv"));
}

#[test]
fn an_open_page_does_not_keep_the_program_from_ending() {
    let server = Server::start("ending");
    let mut news = server.listen("/events");
    news.next();
    let begun = std::time::Instant::now();
    drop(server);
    assert!(begun.elapsed() < Duration::from_secs(2), "{:?}", begun.elapsed());
}

#[test]
fn only_reading_and_the_forms() {
    let server = Server::start("methods");
    let ask = |method: &str, path: &str| -> Answer {
        server.send(&format!(
            "{method} {path} HTTP/1.1\r\nHost: {}\r\nContent-Length: 0\r\n\r\n",
            server.host()
        ))
    };
    for (method, path) in [("DELETE", "/"), ("PUT", "/files"), ("GET", "/files/take")] {
        let answer = ask(method, path);
        assert_eq!(answer.status, 405, "{method} {path}");
        assert!(answer.body.contains("Files"), "{method} {path}");
    }
    let head = ask("HEAD", "/");
    assert_eq!((head.status, head.body.len()), (200, 0));
}

/// 1.8 psig is −10.3 °F for R134a (printed pressure-temperature cards, to a tenth of a degree):
/// −23.5 °C. Gauge figures: 1 psi is 6.894757 kPa (NIST SP 811, appendix B.8).
#[test]
fn a_refrigerant_by_its_pressure() {
    let server = Server::start("fluid");
    let answer = server.get("/fluid?name=R134a&p=1.8psig");
    assert_eq!(answer.status, 200);
    for part in ["−23.5", "113.74", "12.41", "0.124", ">1.80<", "101.325", "class=\"ph wide\""] {
        assert!(answer.body.contains(part), "{part}");
    }
    assert!(answer.body.len() < 250_000, "{} bytes", answer.body.len());
    let state = server.get("/fluid?name=R452A&p=1.8psig&t=-10C&barometer=101.325");
    assert_eq!(state.status, 200);
    for part in ["superheated vapour", "Superheat", "kg/m³", ">state<"] {
        assert!(state.body.contains(part), "{part}");
    }
    assert!(state.body.len() < 250_000, "{} bytes", state.body.len());
}

#[test]
fn a_refrigerant_asked_for_wrongly() {
    let server = Server::start("fluid-wrong");
    let refused = [
        ("p=1.8psi", "psig (gauge) or psia (absolute)", "value=\"1.8psi\""),
        ("p=1.8", "no unit that is known", "value=\"1.8\""),
        ("t=-18", "no unit that is known", "value=\"-18\""),
        ("t=400C", "role=\"alert\"", "value=\"400C\""),
        ("p=10barg&barometer=1013", "80 to 110", "value=\"1013\""),
        ("name=R999", "R999", "id=\"name-error\""),
        ("p=%22%3E%3Cb%3E1", "&lt;b&gt;1", "value=\"&quot;&gt;&lt;b&gt;1\""),
        ("name=%3Cscript%3E", "&lt;script&gt;", "id=\"name-error\""),
    ];
    for (ask, says, keeps) in refused {
        let answer = server.get(&format!("/fluid?{ask}"));
        assert_eq!(answer.status, 422, "{ask}");
        assert!(answer.body.contains(says), "{ask}: {says}");
        assert!(answer.body.contains(keeps), "{ask}: {keeps}");
        assert!(!answer.body.contains("<b>1") && !answer.body.contains("<script>"), "{ask}");
    }
}
