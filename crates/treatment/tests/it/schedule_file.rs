//! Schedule files: what is refused, where, and what is only questioned.

use treatment::{Policy, Schedule};

use crate::bench_rule::Rule;

fn refused(rule: &Rule) -> String {
    let e = Schedule::from_toml(&rule.toml(), "rule.toml").expect_err("must be refused");
    let text = e.to_string();
    assert_eq!(text.lines().count(), 1);
    assert!(text.starts_with("rule.toml"), "{text}");
    assert!(!e.what_to_do.is_empty());
    text
}

fn warnings(rule: &Rule) -> Vec<String> {
    rule.schedule().warnings
}

/// The example of the contract, word for word.
const EXAMPLE: &str = r#"
id = "example-14d"
title = "shown to the user"
source = "published source: title, section, date"
evidence = "official"          # official | secondary | unverified
unit = "c"                     # unit in which limits are published and compared: c | f
hold_max = 1.11
hold_min = -1.0                # optional
start_max = 1.11               # optional, defaults to hold_max
days = 14
pulp_probes_min = 3
extra_probes_must_comply = true
step_max = 0.39
gap_max_minutes = 60
gap_jitter_s = 0
calibration_limit = 0.3
calibration_correction = true
on_excursion = "invalid_unless_verified"
on_step = "invalid_unless_verified"
on_gap = "invalid_unless_verified"
on_fault = "invalid_unless_verified"
fault_hours = 0
[extend]                       # only with on_excursion = "extend"
soft_max = -0.27
fraction_of_day = 0.3333333333
hard_max = 1.11
"#;

#[test]
fn the_contracts_example_is_read() {
    let s = Schedule::from_toml(EXAMPLE, "example.toml").unwrap();
    assert_eq!(
        (s.hold_max.to_string(), s.step_max.unwrap().to_string()),
        ("1.11".into(), "0.39".into())
    );
    assert_eq!(s.on_cold, Policy::Warn);
    assert_eq!(s.warnings.len(), 1, "that [extend] has no part: {:?}", s.warnings);
    assert!(s.extension().is_none());
}

#[test]
fn missing_and_impossible_fields_are_named() {
    for field in ["id", "unit", "hold_max", "days", "pulp_probes_min", "gap_max_minutes"] {
        let text = refused(&Rule::new().without(field));
        assert!(text.contains(&format!("{field}: is missing")), "{text}");
    }
    for (field, value, word) in [
        ("unit", "\"k\"", "no unit"),
        ("unit", "1", "type"),
        ("days", "0", "more than 0"),
        ("days", "-14", "more than 0"),
        ("days", "\"14\"", "type"),
        ("hold_max", "true", "type"),
        ("hold_max", "nan", "exactly"),
        ("hold_max", "inf", "exactly"),
        ("hold_max", "1e-3", "exactly"),
        ("hold_max", "0x11", "type"),
        ("pulp_probes_min", "0", "1, 2, 3 or 4"),
        ("pulp_probes_min", "5", "1, 2, 3 or 4"),
        ("pulp_probes_min", "2.5", "1, 2, 3 or 4"),
        ("gap_max_minutes", "0", "is 0"),
        ("gap_jitter_s", "-1", "negative"),
        ("fault_hours", "-1", "negative"),
        ("step_max", "-0.39", "negative"),
        ("calibration_limit", "-0.3", "negative"),
        ("calibration_correction", "\"no\"", "type"),
        ("start_max", "1.2", "above hold_max"),
        ("hold_min", "1.2", "above"),
        ("evidence", "\"rumour\"", "trust mark"),
        ("on_gap", "\"pause\"", "no policy"),
        ("on_gap", "\"extend\"", "on_excursion"),
        ("on_excursion", "\"extend\"", "[extend]"),
        ("extend", "3", "table"),
        ("id", "\" \"", "empty"),
    ] {
        let text = refused(&Rule::new().with(field, value));
        assert!(text.contains(field) && text.contains(word), "{field} = {value}: {text}");
    }
}

/// Numbers as a program writes them: an hour as a part of a day, a third, one tenth too much.
#[test]
fn long_numbers_are_kept() {
    for (field, value) in [
        ("days", "0.041666666666666664"),
        ("hold_max", "1.2100000000000002"),
        ("fault_hours", "0.3333333333333333"),
    ] {
        let text = Rule::new().with(field, value).toml();
        assert!(Schedule::from_toml(&text, "x.toml").is_ok(), "{field} = {value}");
    }
    let text = refused(&Rule::new().with("days", "0.1234567890123456789"));
    assert!(text.contains("17 digits"), "{text}");
}

#[test]
fn the_line_is_named() {
    let text = EXAMPLE.replace("days = 14", "days = \"fourteen\"");
    let e = Schedule::from_toml(&text, "x.toml").unwrap_err();
    assert_eq!((e.line, e.field.as_deref()), (Some(10), Some("days")));
    let text = EXAMPLE.replace("soft_max = -0.27", "soft_max = 9");
    let e = Schedule::from_toml(&text, "x.toml").unwrap_err();
    assert_eq!(e.field.as_deref(), Some("extend.soft_max"));
    let e = Schedule::from_toml("id = \"a\"\nhold_max = = 3\n", "x.toml").unwrap_err();
    assert_eq!(e.line, Some(2));
    let e = Schedule::from_toml("", "x.toml").unwrap_err();
    assert!(e.to_string().contains("hold_max"), "{e}");
}

#[test]
fn slips_are_questioned_and_the_unknown_is_left_alone() {
    let w = warnings(&Rule::new().with("hold_mx", "1").with("captain", "\"J. Ruiz\""));
    assert_eq!(w.len(), 1);
    assert!(w[0].contains("hold_mx") && w[0].contains("hold_max"), "{w:?}");
    assert!(warnings(&Rule::new()).is_empty());
    let w = warnings(&Rule::new().without("evidence"));
    assert!(w[0].contains("rehearsal"), "{w:?}");
    let w = warnings(&Rule::new().without("on_gap"));
    assert!(w[0].contains("on_gap"), "{w:?}");
    // The step rule is off, so its policy does not matter.
    assert!(warnings(&Rule::new().without("on_step")).is_empty());
}

proptest::proptest! {
    #[test]
    fn no_text_panics(text in ".{0,200}", cut in 0usize..900) {
        let _ = Schedule::from_toml(&text, "x.toml");
        let cut = EXAMPLE.char_indices().nth(cut).map_or(EXAMPLE.len(), |(i, _)| i);
        let _ = Schedule::from_toml(&EXAMPLE[..cut], "x.toml");
    }
}
