//! Ice on the coil and defrosts that do not do their work, from the words on a display or of a
//! person and from readings; and what looks like it and is not. (Common practice, no source.)

use record::FindingKind::{Alarm, LongDefrost, ProbeFault};
use record::State::{Act, Watch};
use record::{BoxLine, Finding, FindingKind, Reading};

use crate::bench::{line_of, listed, readings};

/// Frozen meat read each hour; from `alarm_h` on the display shows `alarm`.
fn shown(alarm: &str, alarm_h: u32, to_h: u32) -> Vec<Reading> {
    let mut rows: Vec<Reading> = Vec::new();
    for h in 0..=to_h {
        let defrosts = h % 12 == 11;
        let air = if defrosts { "9 -15 -18 defrost" } else { "-19 -17.4 -18 frozen" };
        let mut row = readings(&format!("{h} {air} on amb=30 src=logger"));
        if h >= alarm_h {
            row[0].alarm = Some(alarm.into());
        }
        rows.append(&mut row);
    }
    rows
}

fn judged(rows: Vec<Reading>, at_h: f64) -> BoxLine {
    line_of(Some(listed("FROZEN MEAT", Some(-18.0))), rows, at_h)
}

fn says(line: &BoxLine, kind: FindingKind) -> Option<&Finding> {
    line.findings.iter().find(|f| f.kind == kind)
}

#[test]
fn words_that_stand_over_two_defrosts_are_an_iced_coil() {
    for words in ["DEFROST TIME OUT", "defr not completed", "max defrost time reached"] {
        let line = judged(shown(words, 36, 72), 72.0);
        let f = says(&line, LongDefrost).unwrap_or_else(|| panic!("{words}: {line:?}"));
        assert_eq!((line.state, f.state), (Act, Act), "{words}");
        assert!(f.what.starts_with("Iced coil, or defrost heater"), "{}", f.what);
        assert!(f.what.contains(words), "{}", f.what);
        for caution in ["lock off", "440 V", "hot", "maker's figures"] {
            assert!(f.action.contains(caution), "{}", f.action);
        }
    }
}

#[test]
fn one_long_defrost_is_watched_and_forgotten_when_the_next_ends() {
    let one = judged(shown("defrost too long", 47, 50), 50.0);
    let f = says(&one, LongDefrost).unwrap();
    assert_eq!(f.state, Watch, "{}", f.what);
    assert!(f.what.contains("Alone that happens"), "{}", f.what);
    // Gone from the display, and 30 h old: nobody's business any more.
    let mut rows = shown("defrost too long", 47, 90);
    for r in rows.iter_mut().skip(52) {
        r.alarm = None;
    }
    let later = judged(rows, 90.0);
    assert!(says(&later, LongDefrost).is_none(), "{later:?}");
}

#[test]
fn other_words_on_a_display_stay_an_alarm() {
    for words in ["compressor failed to start", "defrost ended normally", "probe in ice water"] {
        let line = judged(shown(words, 36, 72), 72.0);
        assert!(says(&line, LongDefrost).is_none(), "{words}: {line:?}");
        assert!(says(&line, Alarm).is_some(), "{words}: {line:?}");
    }
}

#[test]
fn rounds_that_fall_into_each_defrost_are_no_defrost_without_end() {
    let mut table = String::new();
    for day in 0..4 {
        table += &format!("{} -19 -17.4 -18 frozen\n", 24 * day);
    }
    for day in 4..7 {
        table += &format!("{} 9 -15 -18 defrost\n", 24 * day);
    }
    let line = judged(readings(table.trim()), 145.0);
    let f = says(&line, LongDefrost).unwrap();
    assert_eq!(f.state, Watch, "{}", f.what);
    assert!(f.what.contains("between two defrosts"), "{}", f.what);
}

#[test]
fn a_slip_of_the_pen_is_no_broken_sensor() {
    let rounds = |last: &str| {
        let mut table = String::new();
        for h in 0..8 {
            table += &format!("{} -19.1 -17.4 -18 frozen\n", 6 * h);
        }
        judged(readings(&(table + last)), 48.0)
    };
    // −19.1 with its digits exchanged.
    let slip = rounds("48 -91.1 -17.4 -18 frozen");
    let f = says(&slip, ProbeFault).unwrap();
    assert_eq!(f.state, Watch, "{}", f.what);
    assert!(f.what.contains("A slip for -19.1") && f.action.contains("again"), "{}", f.what);
    // The same figure twice, or one that no slip explains, is the sensor's.
    for last in
        ["47 -91.1 -17.4 -18 frozen\n48 -91.1 -17.4 -18 frozen", "48 -99.9 -17.4 -18 frozen"]
    {
        let code = rounds(last);
        assert_eq!(says(&code, ProbeFault).unwrap().state, Act, "{last}: {code:?}");
    }
}

/// The logger saw the display without the words; whoever wrote them down on a round has not come
/// by since.
#[test]
fn words_are_gone_for_everybody_who_reads_that_display() {
    let mut rows = shown("defrost too long", 47, 62);
    for r in rows.iter_mut().skip(54) {
        r.alarm = None;
    }
    let mut round = readings("48.5 -19 -17.4 -18 frozen src=round-AB");
    round[0].alarm = Some("defrost too long".into());
    rows.extend(round);
    rows.sort_by_key(|r| r.at);
    let line = judged(rows, 62.0);
    assert!(says(&line, LongDefrost).is_none(), "{line:#?}");
}

#[test]
fn a_round_that_left_the_alarm_out_takes_nothing_off() {
    let mut rows = shown("defrost too long", 47, 51);
    rows.extend(readings("50.5 -19 -17.4 -18 frozen src=round-AB"));
    rows.sort_by_key(|r| r.at);
    let line = judged(rows, 51.0);
    let f = says(&line, LongDefrost).unwrap();
    assert!(f.what.contains("One defrost"), "{}", f.what);
}

/// At 13.5 °C the next defrost may be days away: words that stand for want of it are no ice.
#[test]
fn warm_boxes_defrost_seldom() {
    let row = |h: u32| format!("{h} 13.4 14.2 13.5 chilled on amb=28 src=logger\n");
    let mut rows = readings((0..=60).map(row).collect::<String>().trim());
    for r in rows.iter_mut().skip(20) {
        r.alarm = Some("defrost too long".into());
    }
    let line = line_of(Some(listed("BANANAS", Some(13.5))), rows, 60.0);
    assert_eq!(line.state, Watch, "{line:#?}");
    let named = line.findings.iter().any(|f| f.what.starts_with("Iced coil"));
    assert!(!named, "{line:#?}");
}
