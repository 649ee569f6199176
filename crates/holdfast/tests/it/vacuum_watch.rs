//! `holdfast vacuum watch`: a file that somebody else writes.
//!
//! What a hold of known rise must be called: gross tight is below 0.5 µm/min (contract §5), 20
//! µm/min is a leak.

use std::io::Read as _;
use std::path::Path;
use std::process::{Child, Stdio};
use std::time::{Duration, Instant};

use serde_json::Value;

use crate::run::Desk;

/// A watch under way, ended when the test is.
struct Watching(Child);

impl Drop for Watching {
    fn drop(&mut self) {
        let _ = self.0.kill();
        let _ = self.0.wait();
    }
}

impl Watching {
    fn start(d: &Desk, more: &[&str]) -> Self {
        let head = ["vacuum", "watch", "log.csv", "--every-s", "0.05"];
        let args: Vec<&str> = head.into_iter().chain(more.iter().copied()).collect();
        let mut c = d.command(&args);
        Self(c.stdout(Stdio::piped()).stderr(Stdio::piped()).spawn().unwrap())
    }

    /// Status, standard output, standard error; a watch that does not end fails.
    fn end(mut self) -> (i32, String, Vec<u8>) {
        let begun = Instant::now();
        let status = loop {
            if let Some(status) = self.0.try_wait().unwrap() {
                break status;
            }
            assert!(begun.elapsed() < Duration::from_secs(30), "the watch does not end");
            std::thread::sleep(Duration::from_millis(20));
        };
        let (mut out, mut err) = (String::new(), Vec::new());
        self.0.stdout.take().unwrap().read_to_string(&mut out).unwrap();
        self.0.stderr.take().unwrap().read_to_end(&mut err).unwrap();
        (status.code().unwrap_or(-1), out, err)
    }
}

fn pause() {
    std::thread::sleep(Duration::from_millis(400));
}

fn write(path: &Path, text: &str) {
    std::fs::write(path, text).unwrap();
}

fn lines(out: &str) -> Vec<Value> {
    out.lines().map(|l| serde_json::from_str(l).unwrap_or_else(|e| panic!("{l}: {e}"))).collect()
}

fn events(all: &[Value], name: &str) -> Vec<Value> {
    all.iter().filter(|v| v["event"] == name).cloned().collect()
}

fn rows(from: u32, to: u32, rise: u32) -> String {
    (from..to).map(|m| format!("{m},{}\n", 300 + rise * m)).collect()
}

#[test]
fn rows_come_late_cut_and_whole_until_the_end_rings() {
    let d = Desk::new();
    let file = d.path().join("log.csv");
    let w = Watching::start(&d, &["--json"]);
    pause();
    // Half a header, half a row: nothing is made of them.
    write(&file, "minutes,press");
    pause();
    write(&file, &format!("minutes,pressure_um\n{}3,36", rows(0, 3, 20)));
    pause();
    write(&file, &format!("minutes,pressure_um\n{}5,oops\n", rows(0, 5, 20)));
    pause();
    write(&file, &format!("minutes,pressure_um\n{}5,oops\n{}", rows(0, 5, 20), rows(5, 21, 20)));
    let (status, out, err) = w.end();
    let all = lines(&out);
    assert_eq!(status, 3, "{out}");
    assert_eq!(err, b"\x07", "one bell and no complaint");
    // Later ones tell that this test empties the file for an instant before it writes it.
    assert!(events(&all, "waiting")[0]["why"].as_str().unwrap().contains("not there"), "{out}");
    let read: Vec<u64> =
        events(&all, "reading").iter().map(|v| v["readings"].as_u64().unwrap()).collect();
    assert_eq!(read, [3, 5, 21]);
    assert_eq!(events(&all, "refused").len(), 1);
    assert!(events(&all, "refused")[0]["why"].as_str().unwrap().contains("line 7"));
    let end = all.last().unwrap();
    assert_eq!((end["event"].as_str(), end["why"].as_str()), (Some("end"), Some("failed")));
    assert_eq!(end["verdict"], "leaking");
    assert_eq!(events(&all, "reading")[0]["verdict"], "undecided");
    assert!(!out.to_lowercase().contains("leak-free") && !out.to_lowercase().contains("leak free"));
}

#[test]
fn a_file_that_is_replaced_rewritten_or_gone() {
    let d = Desk::new();
    let file = d.path().join("log.csv");
    write(&file, &format!("minutes,pressure_um\n{}", rows(0, 6, 20)));
    let w = Watching::start(&d, &["--json", "--for-min", "20"]);
    pause();
    // Gone, then in the middle of being written again, then as it was and one row more.
    std::fs::remove_file(&file).unwrap();
    pause();
    write(&file, &format!("minutes,pressure_um\n{}", rows(0, 2, 20)));
    std::thread::sleep(Duration::from_millis(60));
    write(&file, &format!("minutes,pressure_um\n{}", rows(0, 7, 20)));
    pause();
    // Cut for good.
    write(&file, &format!("minutes,pressure_um\n{}", rows(0, 4, 20)));
    std::thread::sleep(Duration::from_millis(900));
    // Another hold altogether: level, to the end.
    let level: String = (0..25).map(|m| format!("{m},{}\n", 300 + m % 2)).collect();
    write(&file, &format!("minutes,pressure_um\n{level}"));
    let (status, out, _) = w.end();
    let all = lines(&out);
    let read: Vec<u64> =
        events(&all, "reading").iter().map(|v| v["readings"].as_u64().unwrap()).collect();
    assert_eq!(read, [6, 7, 4, 25], "{out}");
    assert_eq!(events(&all, "cut").len(), 1, "{out}");
    assert_eq!(events(&all, "replaced").len(), 1, "{out}");
    let end = all.last().unwrap();
    assert_eq!((status, end["why"].as_str()), (0, Some("done")), "{out}");
    assert_eq!(end["criterion_met"], true);
}

#[test]
fn one_look_in_plain_words() {
    let d = Desk::new();
    d.file("log.csv", format!("minutes,pressure_um\n{}", rows(0, 21, 20)));
    let (status, out, err) = Watching::start(&d, &["--once", "--volume-l", "15"]).end();
    assert_eq!((status, err.as_slice()), (3, b"\x07".as_slice()));
    for part in ["regulator", "Leaking", "End of the watch", "LEAKING", "from memory", "Next:"] {
        assert!(out.contains(part), "{part}: {out}");
    }
    let before = out.find("regulator").unwrap();
    assert!(before < out.find("Leaking").unwrap());
    // Nothing there, and nobody waits.
    d.file("log.csv", "");
    let (status, _, err) = Watching::start(&d, &["--once"]).end();
    assert_eq!(status, 2);
    assert_eq!(String::from_utf8_lossy(&err).lines().count(), 1);
    let (status, _, err) = Watching::start(&d, &["--idle-min", "0.01"]).end();
    assert_eq!(status, 2, "{}", String::from_utf8_lossy(&err));
    // A file of something else is said at once.
    d.file("log.csv", "a,b\n1,2\n");
    let (status, _, err) = Watching::start(&d, &[]).end();
    assert_eq!(status, 2);
    assert!(String::from_utf8_lossy(&err).contains("log.csv"), "{err:?}");
}

#[test]
fn no_new_row_ends_it() {
    let d = Desk::new();
    d.file("log.csv", format!("minutes,pressure_um\n{}", rows(0, 4, 0)));
    let (status, out, _) = Watching::start(&d, &["--json", "--idle-min", "0.02"]).end();
    let end = lines(&out).pop().unwrap();
    assert_eq!((status, end["why"].as_str()), (3, Some("idle")));
    assert_eq!(end["verdict"], "undecided");
}

#[cfg(unix)]
#[test]
fn ctrl_c_leaves_with_the_last_word() {
    let d = Desk::new();
    d.file("log.csv", format!("minutes,pressure_um\n{}", rows(0, 4, 0)));
    let w = Watching::start(&d, &["--json"]);
    pause();
    let id = w.0.id().to_string();
    let sent = std::process::Command::new("kill").args(["-INT", &id]).status().unwrap();
    assert!(sent.success());
    let (status, out, _) = w.end();
    let end = lines(&out).pop().unwrap();
    assert_eq!((status, end["why"].as_str()), (3, Some("stopped")));
}

#[test]
fn options_that_make_no_sense() {
    let d = Desk::new();
    d.file("log.csv", "minutes,pressure_um\n0,300\n");
    let refused = |args: &[&str]| {
        let head = ["vacuum", "watch", "log.csv"];
        let all: Vec<&str> = head.into_iter().chain(args.iter().copied()).collect();
        d.refused(&all)
    };
    assert!(refused(&["--criterion", "mine"]).contains("usual-500"));
    assert!(refused(&["--volume-l", "-1"]).contains("--volume-l"));
    assert!(refused(&["--hold", "H1", "--volume-l", "15"]).contains("--volume-l"));
    assert!(refused(&["--who", "A"]).contains("--hold"));
    assert!(refused(&["--hold", "H1", "--voyage", "none.holdfast"]).contains("none.holdfast"));
    assert!(refused(&["--every-s", "0"]).contains("--every-s"));
    assert!(d.refused(&["vacuum", "watch"]).contains("FILE"));
    assert!(d.refused(&["vacuum", "watch", "."]).contains("folder"));
}

/// A voyage file with hold H1, read with gauge VG-1.
pub fn with_hold(d: &Desk) -> std::path::PathBuf {
    let path = d.path().join("v.holdfast");
    let mut v = voyage::Voyage::open_or_create(&path).unwrap();
    let now = units::Utc::parse("2026-03-06T02:00:00Z").unwrap();
    let start = record::HoldStart {
        id: "H1".into(),
        at: now,
        unit: None,
        place: "low side on the bench".into(),
        volume_l: Some(15.0),
        coldest_c: None,
        ambient_c: None,
        fluid: None,
        gauge: "vacuum gauge VG-1".into(),
        gauge_step: 0.0,
        pressure_unit: "um".into(),
        calibrated_on: String::new(),
        criterion: "usual-500".into(),
        rise_um: None,
    };
    v.enter(&record::Act::HoldBegun(Box::new(start)), &[], "M. Sato", now).unwrap();
    path
}

/// Every file that the journal keeps, with the title of its entry.
fn kept(path: &Path) -> Vec<(String, Vec<u8>)> {
    let v = voyage::Voyage::open(path).unwrap();
    let entries = v.entries(1000).unwrap();
    let files = entries.into_iter().rev().flat_map(|e| {
        e.originals.into_iter().map(move |o| (e.title.clone(), o.sha256)).collect::<Vec<_>>()
    });
    files.map(|(title, sha)| (title, v.original(&sha).unwrap().unwrap().1)).collect()
}

/// The proof keeps the source: the logger's file stands in the journal byte for byte, as it was
/// when its first rows came and as it was at the end, and again for another file.
#[test]
fn the_journal_keeps_the_watched_file() {
    let d = Desk::new();
    let path = with_hold(&d);
    let head = "# logger 7\nminutes,pressure_um,remark\n";
    let whole = |from: u32, to: u32| -> String {
        (from..to).map(|m| format!("{m},{},as read\n", 300 + 20 * m)).collect()
    };
    d.file("log.csv", format!("{head}{}", whole(0, 4)));
    let w = Watching::start(&d, &["--json", "--hold", "H1", "--voyage", "v.holdfast"]);
    pause();
    d.file("log.csv", format!("{head}{}6,4", whole(0, 6)));
    pause();
    d.file("log.csv", format!("{head}{}", whole(0, 21)));
    let (status, out, _) = w.end();
    assert_eq!(status, 3, "{out}");
    let files = kept(&path);
    let texts: Vec<&str> = files.iter().map(|f| std::str::from_utf8(&f.1).unwrap()).collect();
    // The look in the middle brought rows, but the file itself is not kept at every look.
    let [first, last] = [whole(0, 4), whole(0, 21)].map(|rows| format!("{head}{rows}"));
    assert_eq!(texts, [first.as_str(), last.as_str()], "{files:?}");
    assert!(files[1].0.contains("log.csv kept, whole"), "{files:?}");
    // Once more over the same file: nothing is new, nothing is entered, the answer is the same.
    let (status, out, _) =
        Watching::start(&d, &["--json", "--once", "--hold", "H1", "--voyage", "v.holdfast"]).end();
    assert_eq!((status, kept(&path).len()), (3, 2), "{out}");
    assert_eq!(lines(&out).pop().unwrap()["verdict"], "leaking");
    let v = voyage::Voyage::open(&path).unwrap();
    assert_eq!(v.hold("H1").unwrap().readings.len(), 21);
    d.json(&["verify", "v.holdfast"]);
}
