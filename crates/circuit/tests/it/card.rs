//! Cards that are wrong name the line and the field.

use circuit::Card;

const TEXT: &str = include_str!("../../../../data/machines/generic-40ft-r134a.toml");

#[test]
fn both_cards_are_read() {
    let ids: Vec<&str> = Card::embedded().iter().map(|c| c.id.as_str()).collect();
    assert_eq!(ids, ["generic-40ft-r134a", "generic-40ft-r404a"]);
    assert!(Card::named("generic-40ft-r404a").unwrap().suction_exchanger.effectiveness > 0.0);
}

#[test]
fn errors_name_line_and_field() {
    let line = |needle: &str| 1 + TEXT.lines().position(|l| l.starts_with(needle)).unwrap();
    let cases = [
        ("swept_m3_s = 0.0112", "swept_m3_s = \"big\"", "swept_m3_s", "invalid type"),
        ("kappa = 1.10", "kapa = 1.10", "kappa", "kapa"),
        ("clearance = 0.022", "clearance = 2.2", "clearance", "compressor.clearance"),
        ("volume_l = 0.8", "volume_l = -0.8", "volume_l = 0.8", "receiver.volume_l"),
        ("fluid = \"R134a\"", "fluid = \"R999\"", "fluid", "R999"),
    ];
    for (old, new, field, word) in cases {
        let e = Card::from_toml(&TEXT.replacen(old, new, 1)).unwrap_err();
        let text = e.to_string();
        assert!(text.contains(word), "{text}");
        assert_eq!(text.lines().count(), 1);
        assert_eq!(e.line, Some(line(field)), "{text}");
    }
    let without = TEXT.replacen("nameplate_kg = 4.0", "", 1);
    let e = Card::from_toml(&without).unwrap_err();
    assert!(e.to_string().contains("nameplate_kg"), "{e}");
    assert!(Card::from_toml("").is_err() && Card::from_toml("[").is_err());
}
