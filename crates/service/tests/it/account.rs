//! Sections named are of reference/refrigeration-service.md.

use service::account::law::{Trust, check_interval, co2e_t};
use service::account::{
    Holder, Identity, Ledger, Reason, Source, Transfer, annualised_pct, fill_limit_kg,
    hose_holdup_g, liquid_full_c, rolling_pct, screen,
};
use service::expect::{Site, expected};
use service::{Action, Rules, State};
use units::Utc;

fn near(a: f64, b: f64, within: f64) {
    assert!((a - b).abs() <= within, "{a} is not {b} ± {within}");
}

fn at(text: &str) -> Utc {
    Utc::parse(text).unwrap()
}

/// §6.4, 40 CFR 82.152: 10 lb of 100 lb in 180 days is 20.28 % (printed 20.27).
#[test]
fn annualised_loss() {
    near(annualised_pct(10, 100, 180.0).unwrap(), 20.28, 0.005);
    near(annualised_pct(10, 100, 700.0).unwrap(), 10.0, 1e-9);
    assert_eq!(annualised_pct(10, 0, 180.0), None);
    assert_eq!(annualised_pct(10, 100, 0.0), None);
}

/// §6.4: the sum of what was added in 365 days over the full charge.
#[test]
fn rolling_loss() {
    let tops = [
        (at("2025-01-10 00:00"), 500),
        (at("2025-09-01 00:00"), 200),
        (at("2026-01-05 00:00"), 300),
    ];
    near(rolling_pct(&tops, 5000, at("2026-01-11 00:00")).unwrap(), 10.0, 1e-9);
    near(rolling_pct(&tops, 5000, at("2026-01-09 00:00")).unwrap(), 20.0, 1e-9);
}

/// §6.4, table of CO2-equivalents.
#[test]
fn co2_equivalents() {
    for (gas, four, five) in
        [("R134a", 5.72, 7.15), ("R404A", 15.7, 19.6), ("R452A", 8.56, 10.7), ("R513A", 2.52, 3.16)]
    {
        near(co2e_t(gas, 4.0).unwrap(), four, 0.05);
        near(co2e_t(gas, 5.0).unwrap(), five, 0.05);
    }
    assert_eq!(co2e_t("R999", 1.0), None);
}

/// §8 vector 10 and §6.5: 5 kg R134a is a 12-month item unless sealed and labelled.
#[test]
fn check_intervals() {
    let months =
        |gas, kg, sealed, detection| check_interval(gas, kg, sealed, detection).unwrap().months;
    assert_eq!(months("R134a", 5.0, false, false), Some(12));
    assert_eq!(months("R134a", 5.0, true, false), None);
    assert_eq!(months("R134a", 5.0, false, true), Some(24));
    assert_eq!(months("R134a", 3.4, false, false), None);
    assert_eq!(months("R134a", 3.6, false, false), Some(12));
    assert_eq!(months("R404A", 12.8, false, false), Some(6));
    assert_eq!(months("R134a", 350.0, false, false), Some(3));
    assert_eq!(months("R1234yf", 5.0, false, false), Some(12));
    assert_eq!(check_interval("R134a", 3.4, false, false).unwrap().trust, Trust::Unverified);
}

/// §5.2: filled to 80 % at 20 °C a cylinder is full of liquid at these temperatures.
#[test]
fn cylinders_full_of_liquid() {
    for (gas, t_c) in [("R134a", 72.5), ("R1234yf", 69.2), ("R290", 71.3), ("R404A", 55.7)] {
        let kg = fill_limit_kg(gas, 12.0, 0.8).unwrap();
        near(liquid_full_c(gas, 12.0, kg).unwrap().unwrap(), t_c, 0.2);
    }
    let kg = fill_limit_kg("R404A", 12.0, 0.75).unwrap();
    near(liquid_full_c("R404A", 12.0, kg).unwrap().unwrap(), 61.2, 0.2);
    assert_eq!(liquid_full_c("R134a", 12.0, 1.0).unwrap(), None);
}

/// §6.1: a hose 6 mm × 1.8 m full of liquid R134a at 25 °C holds 61 g.
#[test]
fn hose_holdup() {
    near(hose_holdup_g("R134a", 6.0, 1.8, 25.0).unwrap(), 61.0, 0.6);
}

/// §8 vector 12: a standing R134a cylinder at 25 °C; gauge class 1.0 over 31 bar.
#[test]
fn cylinder_screening() {
    let of = |p: f64| screen("R134a", p, 25.0, 31.0, 0.5).unwrap().identity;
    assert_eq!(of(577.0), Identity::AnotherGas);
    assert_eq!(of(715.0), Identity::NonCondensables);
    assert_eq!(of(665.0), Identity::Consistent);
}

/// §5.2: 5 l of vapour at 1.013 bar hold 22 g R134a (20 °C).
#[test]
fn vapour_left_after_pump_down() {
    let site = Site { ambient_c: 20.0, barometer_kpa: 91.325, ..Site::default() };
    let e = expected(Action::PullDown, &State::default(), &Rules::default(), &site).unwrap();
    let left = e.iter().find(|e| e.unit == "g_per_l").unwrap();
    near(5.0 * left.from.unwrap(), 22.0, 1.0);
}

/// §5.2: 5 l of vapour at 0.5 bar hold 10.6 g R134a (20 °C); in proportion at 0.674 bar.
#[test]
fn vapour_left_by_a_recovery() {
    let site = Site { ambient_c: 20.0, ..Site::default() };
    near(service::expect::left_by_recovery_g(&site, false).unwrap(), 10.6 * 0.674 / 0.5, 0.2);
}

fn transfer(g: u32, from: Holder, to: Holder, reason: Reason) -> Transfer {
    Transfer {
        at: at("2026-03-01 10:00"),
        place: "at sea".into(),
        who: "A. Person".into(),
        certificate: Some("X-1".into()),
        gas: "R134a".into(),
        g,
        from,
        to,
        source: Some(Source::Virgin),
        reason,
    }
}

/// What leaves one holder is in another; nothing appears or vanishes (accounting, no source).
#[test]
fn every_gram_is_somewhere() {
    let cylinder = || Holder::Cylinder("C1".into());
    let unit = || Holder::Unit("QQQU1000011".into());
    let mut l = Ledger::default();
    l.open(unit(), "R134a", 4000);
    l.enter(transfer(12_000, Holder::Supplier("S".into()), cylinder(), Reason::Supply)).unwrap();
    l.enter(transfer(600, cylinder(), unit(), Reason::TopUp)).unwrap();
    l.enter(transfer(40, unit(), Holder::Air, Reason::Loss { deliberate: false })).unwrap();
    assert_eq!(l.balance_g(&cylinder(), "R134a"), 11_400);
    assert_eq!(l.balance_g(&unit(), "R134a"), 4560);
    assert_eq!(l.balance_g(&Holder::Air, "R134a"), 40);
    assert_eq!(l.material_balance_loss_g("R134a", Some(11_400 + 4000)), Some(600));
    assert_eq!(l.material_balance_loss_g("R134a", None), None);
    assert_eq!(l.top_ups("QQQU1000011", "R134a").len(), 1);
    let too_much = l.enter(transfer(20_000, cylinder(), unit(), Reason::TopUp)).unwrap_err();
    assert!(too_much.contains("11400 g"), "{too_much}");
    assert!(l.enter(transfer(5, Holder::Air, unit(), Reason::TopUp)).is_err());
}
