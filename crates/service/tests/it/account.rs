//! Sections named are of reference/refrigeration-service.md.

use proptest::prelude::*;
use record::UnitId;
use record::gas::{
    CylinderCard, GasAct, GasFile, Holder, LeakCheck, PlateCard, Reason, Source, Transfer,
};
use service::account::law::{Trust, check_interval, co2e_t, months_later, servicing_words};
use service::account::{
    Identity, Ledger, account, annualised_pct, fgas_record, fill_limit_kg, hose_holdup_g,
    liquid_full_c, ozone_book, rolling_pct, screen,
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

fn unit() -> UnitId {
    UnitId::from_text("QQQU1000011").unwrap()
}

fn boxed() -> Holder {
    Holder::Unit(unit())
}

fn cylinder(id: &str) -> Holder {
    Holder::Cylinder(id.into())
}

fn moved(day: u32, gas: &str, g: u32, from: Holder, to: Holder, reason: Reason) -> GasAct {
    GasAct::Moved(Transfer {
        at: at(&format!("2026-03-{day:02} 10:00")),
        place: "at sea".into(),
        person: "A. Person".into(),
        certificate: Some("X-1".into()),
        gas: gas.into(),
        g,
        from,
        to,
        reason,
        remark: String::new(),
    })
}

fn card(id: &str, gas: &str) -> GasAct {
    GasAct::Cylinder(CylinderCard {
        id: id.into(),
        gas: gas.into(),
        volume_l: Some(12.0),
        tare_g: None,
        limit_g: None,
        recovery: false,
        source: Some(Source::Reclaimed),
        facility: "Yard, Quay 1".into(),
        certificate: "F-9".into(),
    })
}

fn plate(gas: &str, charge_g: u32) -> GasAct {
    let (serial, sealed, detection) = (String::new(), false, false);
    GasAct::Plate(PlateCard { unit: unit(), gas: gas.into(), charge_g, serial, sealed, detection })
}

fn file(acts: &[GasAct]) -> GasFile {
    let mut f = GasFile::default();
    for (i, act) in acts.iter().enumerate() {
        f.add(act, i64::try_from(i).unwrap() + 1, "A. Person", at("2026-03-31 00:00"));
    }
    f
}

/// Reference §6.4, material balance: what was there and came, less what was landed and what is
/// there. Figures by hand.
#[test]
fn material_balance() {
    let c = || cylinder("C1");
    let supplier = Holder::Supplier("S".into());
    let mut f = file(&[
        card("C1", "R134a"),
        plate("R134a", 4000),
        moved(1, "R134a", 9_000, supplier, c(), Reason::Supply),
        moved(2, "R134a", 600, c(), boxed(), Reason::TopUp),
        moved(3, "R134a", 3_700, boxed(), c(), Reason::Recovery),
        moved(4, "R134a", 40, c(), Holder::Air, Reason::Released),
        moved(5, "R134a", 3_000, c(), boxed(), Reason::Recharge),
        moved(5, "R134a", 1_000, c(), boxed(), Reason::Recharge),
    ]);
    let t = Ledger::of(&f).totals()["R134a"];
    // 600 g replaced a leak, 300 g were not recovered before the unit was evacuated.
    assert_eq!((t.leaked_g, t.unexplained_g, t.released_g, t.loss_g()), (600, 300, 40, 940));
    assert_eq!(Ledger::of(&f).balance(&c(), "R134a").unwrap().g, 8_060);
    assert_eq!(Ledger::of(&f).balance(&boxed(), "R134a").unwrap().g, 4_000);
    // The scale puts it right.
    let (holder, gas, g) = (c(), "R134a".to_owned(), 8_000);
    let weighed =
        GasAct::Weighed { holder, gas, g, at: at("2026-03-06 10:00"), remark: String::new() };
    f.add(&weighed, 9, "A. Person", at("2026-03-06 10:00"));
    assert_eq!(Ledger::of(&f).totals()["R134a"].loss_g(), 1_000);
    // A slip is struck out and no longer counts.
    f.add(
        &GasAct::Struck { entry: 6, why: "twice".into() },
        10,
        "A. Person",
        at("2026-03-06 11:00"),
    );
    assert_eq!(Ledger::of(&f).totals()["R134a"].released_g, 0);
}

proptest! {
    /// What leaves one holder is in another, whatever is entered: the sum of what was there and
    /// came is what is held, landed and lost (accounting, no source).
    #[test]
    fn every_gram_is_somewhere(
        steps in prop::collection::vec(
            (0usize..5, 0usize..5, 1u32..5_000, 0usize..8), 1..40,
        )
    ) {
        let who = |i: usize| match i {
            0 => cylinder("C1"),
            1 => cylinder("C2"),
            2 => boxed(),
            3 => Holder::Air,
            _ => Holder::Supplier("S".into()),
        };
        let mut acts = vec![card("C1", "R134a"), card("C2", "R134a"), plate("R134a", 4000)];
        for (i, (from, to, g, kind)) in steps.into_iter().enumerate() {
            let day = u32::try_from(i).unwrap() % 28 + 1;
            let act = match Reason::ALL.get(kind) {
                Some(reason) => moved(day, "R134a", g, who(from), who(to), *reason),
                None => GasAct::Weighed {
                    holder: who(from % 3), gas: "R134a".into(), g,
                    at: at(&format!("2026-03-{day:02} 12:00")), remark: String::new(),
                },
            };
            let fits = match &act {
                GasAct::Moved(t) => Ledger::of(&file(&acts)).check(t).is_ok(),
                _ => true,
            };
            if fits {
                acts.push(act);
            }
        }
        let t = Ledger::of(&file(&acts)).totals()["R134a"];
        prop_assert_eq!(t.loss_g(), t.leaked_g + t.released_g + t.unexplained_g);
    }
}

#[test]
fn transfers_that_cannot_be_are_named() {
    let f = file(&[card("C1", "R134a"), plate("R134a", 4000)]);
    let supplier = || Holder::Supplier("S".into());
    let says = |from, to, reason, what: &str| {
        let GasAct::Moved(t) = moved(1, "R134a", 5, from, to, reason) else { unreachable!() };
        let e = Ledger::of(&f).check(&t).unwrap_err();
        assert!(e.contains(what), "{e}");
    };
    says(cylinder("C1"), boxed(), Reason::TopUp, "never weighed");
    says(Holder::Air, boxed(), Reason::TopUp, "back from the air");
    says(supplier(), Holder::Air, Reason::Supply, "leak or released");
    says(supplier(), cylinder("C1"), Reason::TopUp, "into a unit");
    says(supplier(), boxed(), Reason::Supply, "top-up or a recharge");
    says(supplier(), cylinder("C1"), Reason::Recovery, "out of a unit");
    says(boxed(), boxed(), Reason::Recovery, "from one holder to another");
    says(Holder::Shore("P".into()), cylinder("C1"), Reason::Supply, "not the other way");
}

/// Rates and due dates on a unit: §6.4 (10 of 100 in 180 days: 20.28 %), §6.5 (12 months), §5.2
/// G10 (within a month after a repair).
#[test]
fn what_is_due_on_a_unit() {
    let c = || cylinder("C1");
    let full = GasAct::Weighed {
        holder: c(),
        gas: "R134a".into(),
        g: 9_000,
        at: at("2025-01-01 00:00"),
        remark: String::new(),
    };
    let top = |when: &str, g| {
        let GasAct::Moved(mut t) = moved(1, "R134a", g, c(), boxed(), Reason::TopUp) else {
            unreachable!()
        };
        t.at = at(when);
        GasAct::Moved(t)
    };
    let checked = |leak: Option<&str>, repaired| {
        GasAct::Checked(LeakCheck {
            unit: unit(),
            at: at("2026-01-31 08:00"),
            person: "B".into(),
            certificate: None,
            method: "bubbles".into(),
            leak_at: leak.map(str::to_owned),
            cause: String::new(),
            repaired,
        })
    };
    let base = [card("C1", "R134a"), plate("R134a", 5000), full, top("2025-09-12 10:00", 250)];
    let now = at("2026-03-31 00:00");
    let line = |more: &[GasAct]| account(&file(&[&base[..], more].concat()), now).units[0].clone();
    let one = line(&[]);
    assert_eq!(one.annualised_pct, Some((5.0, true)));
    assert!(one.cautions.iter().any(|w| w.contains("no check for leaks")));
    let two = line(&[top("2026-03-11 10:00", 500), checked(None, false)]);
    near(two.annualised_pct.unwrap().0, 20.28, 0.005);
    assert!(!two.annualised_pct.unwrap().1);
    near(two.rolling_pct.unwrap(), 15.0, 1e-9);
    assert_eq!(two.due_at.unwrap().to_minute(), "2027-01-31 08:00");
    let repaired = line(&[checked(Some("valve"), true)]);
    assert_eq!(repaired.due_at.unwrap().to_minute(), "2026-02-28 08:00");
    assert!(repaired.cautions.iter().any(|w| w.contains("overdue")));
    let open = line(&[checked(Some("valve"), false)]);
    assert!(open.cautions.iter().any(|w| w.contains("not yet repaired")));
}

#[test]
fn cylinders_that_are_too_full_say_so() {
    let weighed = |g| GasAct::Weighed {
        holder: cylinder("C1"),
        gas: "R404A".into(),
        g,
        at: at("2026-03-01 00:00"),
        remark: String::new(),
    };
    let line = |g| {
        account(&file(&[card("C1", "R404A"), weighed(g)]), at("2026-03-31 00:00")).cylinders[0]
            .clone()
    };
    // 80 % at 20 °C: full of liquid at 55.7 °C (§5.2), which a deck in the sun exceeds.
    let limit = line(0).limit.unwrap().0;
    let at_limit = line(u32::try_from(limit).unwrap());
    near(at_limit.liquid_full_c.unwrap(), 55.7, 0.2);
    assert!(at_limit.cautions.iter().any(|w| w.contains("full of liquid at 56 °C")));
    assert!(!at_limit.cautions.iter().any(|w| w.contains("overfilled")));
    let over = line(u32::try_from(limit).unwrap() + 100);
    assert!(over.cautions.iter().any(|w| w.contains("0.100 kg more")));
}

/// MARPOL Annex VI regulation 12 (§6.5): the five kinds; HFCs are none of the book's.
#[test]
fn the_ozone_book_holds_ozone_gases_only() {
    let c = || cylinder("C1");
    let supplier = Holder::Supplier("S".into());
    let of = |gas: &str| {
        let check = LeakCheck {
            unit: unit(),
            at: at("2026-03-07 08:00"),
            person: "B".into(),
            certificate: None,
            method: "detector".into(),
            leak_at: Some("valve".into()),
            cause: String::new(),
            repaired: true,
        };
        let f = file(&[
            card("C1", gas),
            plate(gas, 4000),
            moved(1, gas, 9_000, supplier.clone(), c(), Reason::Supply),
            moved(2, gas, 600, c(), boxed(), Reason::TopUp),
            moved(3, gas, 3_700, boxed(), c(), Reason::Recovery),
            moved(4, gas, 4_000, c(), boxed(), Reason::Recharge),
            moved(5, gas, 40, c(), Holder::Air, Reason::Released),
            moved(6, gas, 70, boxed(), Holder::Air, Reason::Leak),
            GasAct::Checked(check),
            moved(8, gas, 900, c(), Holder::Shore("Pier 4".into()), Reason::Supply),
        ]);
        ozone_book(&f).iter().map(|e| e.kind.words()).collect::<Vec<_>>()
    };
    assert_eq!(
        of("R22"),
        [
            "supply to the ship",
            "recharge, partial",
            "recharge, full",
            "discharge to the atmosphere, deliberate",
            "discharge to the atmosphere, not deliberate",
            "repair or maintenance",
            "discharge to a land reception facility",
        ]
    );
    assert!(of("R134a").is_empty());
}

/// Regulation (EU) 2024/573 Art. 7 (§6.5): what is asked for per equipment.
#[test]
fn the_record_of_a_unit() {
    let c = || cylinder("C1");
    let f = file(&[
        card("C1", "R404A"),
        plate("R404A", 4000),
        moved(1, "R404A", 9_000, Holder::Supplier("S".into()), c(), Reason::Supply),
        moved(2, "R404A", 600, c(), boxed(), Reason::TopUp),
        moved(3, "R404A", 3_700, boxed(), c(), Reason::Recovery),
    ]);
    let r = fgas_record(&f, &unit());
    assert_eq!(r.plate.unwrap().charge_g, 4000);
    assert_eq!((r.added.len(), r.added[0].kg, r.added[0].for_leak), (1, 0.6, true));
    assert_eq!(
        r.added[0].source_words(),
        "cylinder C1, reclaimed by Yard, Quay 1, certificate F-9"
    );
    assert_eq!(r.recovered, [(at("2026-03-03 10:00"), 3.7, "cylinder C1".to_owned())]);
    assert_eq!(r.people, [("A. Person".to_owned(), Some("X-1".to_owned()))]);
    let words = servicing_words("R404A", Some(Source::Reclaimed)).unwrap();
    assert!(words.contains("2030"), "{words}");
    assert_eq!(servicing_words("R134a", None), None);
    assert_eq!(months_later(at("2026-01-31 08:00"), 13).unwrap().to_minute(), "2027-02-28 08:00");
}
