//! A state in plain words, key by key, as a person writes it.

use crate::expect::Site;
use crate::flow::{component, members, settle};
use crate::plant::{
    Content, HOSES, HighPlace, Joint, PortSide, Power, Rules, Seat, State, Supply, Volume,
};

/// What was stated: the plant, what is at hand, and where.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Stated {
    /// The plant.
    pub state: State,
    /// What is at hand.
    pub rules: Rules,
    /// Where.
    pub site: Site,
    /// Nobody knows what is inside: find out first.
    pub contents_unknown: bool,
    named: u8,
}

/// Keys with what they take, for help and error texts.
pub const KEYS: [(&str, &str); 35] = [
    ("suction_valve", SEATS),
    ("discharge_valve", SEATS),
    ("king_valve", SEATS),
    ("expansion_valve", "controlled | held open"),
    ("power", "running | standby | locked out"),
    ("low_hose", "off | on suction port"),
    ("high_hose", "off | on discharge port | on king port"),
    ("low_hand_valve", "shut | open"),
    ("high_hand_valve", "shut | open"),
    ("vacuum_pump", "off | fitted"),
    ("recovery_unit", "off | fitted"),
    ("supply", "none | nitrogen | charging cylinder"),
    ("joint", "sound | open | fitted"),
    ("pump_down_watched", BOOL),
    ("nitrogen_tested", BOOL),
    ("weighed_in", BOOL),
    ("checked", BOOL),
    ("has_vacuum_pump", BOOL),
    ("has_recovery_unit", BOOL),
    ("recovery_cylinder_has_room", BOOL),
    ("has_nitrogen", BOOL),
    ("has_charging_gas", BOOL),
    ("receiver_holds_charge", BOOL),
    ("test_with_charge_held_allowed", BOOL),
    ("gas_suspect", BOOL),
    ("suction_port_when_front_seated", SIDE),
    ("discharge_port_when_front_seated", SIDE),
    ("king_port_when_front_seated", SIDE),
    ("fluid", "a refrigerant, R134a"),
    ("ambient_c", "a number, °C"),
    ("barometer_kpa", "a number, kPa"),
    ("charge_kg", "a number, kg"),
    ("low_side_l", "a number, litres"),
    ("circuit_l", "a number, litres"),
    ("test_kpag", "a number, kPa gauge, from the plate"),
];

const SEATS: &str = "back-seated | mid | front-seated";
const BOOL: &str = "true | false";
const SIDE: &str = "component | line";

fn refuse<T>(key: &str, value: &str, takes: &str) -> Result<T, String> {
    Err(format!("{key} \"{value}\" is not understood; write {takes}"))
}

impl Stated {
    /// Takes one key with its value, as text (`true`, `30`, `mid`).
    ///
    /// # Errors
    /// One line: which key, and what it takes.
    pub fn set(&mut self, key: &str, value: &str) -> Result<(), String> {
        let Some((key, takes)) = KEYS.iter().find(|(k, _)| *k == key) else {
            return Err(format!(
                "\"{key}\" is no key of a state; holdfast service state shows them"
            ));
        };
        let v = value.trim().to_lowercase().replace(['_', '-'], " ");
        let done = match *takes {
            SEATS => seat(&v).map(|s| *self.seat(key) = s),
            BOOL => self.switch(key, &v),
            SIDE => side(&v).map(|s| *self.side(key) = s),
            _ => self.other(key, &v, value),
        };
        done.map_or_else(|| refuse(key, value, takes), Ok)
    }

    fn seat(&mut self, key: &str) -> &mut Seat {
        match key {
            "suction_valve" => &mut self.state.suction,
            "discharge_valve" => &mut self.state.discharge,
            _ => &mut self.state.king,
        }
    }

    fn side(&mut self, key: &str) -> &mut PortSide {
        match key {
            "suction_port_when_front_seated" => &mut self.rules.suction_port,
            "discharge_port_when_front_seated" => &mut self.rules.discharge_port,
            _ => &mut self.rules.king_port,
        }
    }

    fn switch(&mut self, key: &str, v: &str) -> Option<()> {
        let on = v.parse().ok()?;
        *self.flag(key)? = on;
        Some(())
    }

    fn flag(&mut self, key: &str) -> Option<&mut bool> {
        Some(match key {
            "pump_down_watched" => &mut self.state.settled,
            "nitrogen_tested" => &mut self.state.tested,
            "weighed_in" => &mut self.state.weighed,
            "checked" => &mut self.state.checked,
            "has_vacuum_pump" => &mut self.rules.has_pump,
            "has_recovery_unit" => &mut self.rules.has_recovery,
            "recovery_cylinder_has_room" => &mut self.rules.cylinder_room,
            "has_nitrogen" => &mut self.rules.has_nitrogen,
            "has_charging_gas" => &mut self.rules.has_charge,
            "receiver_holds_charge" => &mut self.rules.receiver_room,
            "test_with_charge_held_allowed" => &mut self.rules.test_with_charge_held,
            "gas_suspect" => &mut self.rules.gas_suspect,
            _ => return None,
        })
    }

    fn other(&mut self, key: &str, v: &str, as_written: &str) -> Option<()> {
        let s = &mut self.state;
        match (key, v) {
            ("expansion_valve", "controlled") => s.expansion_held = false,
            ("expansion_valve", "held open") => s.expansion_held = true,
            ("power", "running") => s.power = Power::Running,
            ("power", "standby") => s.power = Power::Standby,
            ("power", "locked out" | "locked") => s.power = Power::Locked,
            ("low_hose", "off") => s.low_hose = false,
            ("low_hose", "on suction port") => s.low_hose = true,
            ("high_hose", "off") => s.high_hose = HighPlace::Off,
            ("high_hose", "on discharge port") => s.high_hose = HighPlace::Discharge,
            ("high_hose", "on king port") => s.high_hose = HighPlace::King,
            ("low_hand_valve", "open") => s.low_hand = true,
            ("low_hand_valve", "shut" | "closed") => s.low_hand = false,
            ("high_hand_valve", "open") => s.high_hand = true,
            ("high_hand_valve", "shut" | "closed") => s.high_hand = false,
            ("vacuum_pump", "fitted") => s.pump = true,
            ("vacuum_pump", "off") => s.pump = false,
            ("recovery_unit", "fitted") => s.recovery = true,
            ("recovery_unit", "off") => s.recovery = false,
            ("supply", "none") => s.supply = Supply::None,
            ("supply", "nitrogen") => s.supply = Supply::Nitrogen,
            ("supply", "charging cylinder") => s.supply = Supply::Cylinder,
            ("joint", "sound") => s.joint = Joint::Sound,
            ("joint", "open") => s.joint = Joint::Open,
            ("joint", "fitted") => s.joint = Joint::Fitted,
            ("fluid", _) => {
                let known = fluids::Refrigerant::named(as_written).ok()?;
                self.site.fluid = known.name().to_owned();
            }
            ("ambient_c", _) => self.site.ambient_c = number(as_written, -40.0, 60.0)?,
            ("barometer_kpa", _) => self.site.barometer_kpa = number(as_written, 80.0, 110.0)?,
            ("charge_kg", _) => self.site.charge_kg = Some(number(as_written, 0.01, 1000.0)?),
            ("low_side_l", _) => self.site.low_side_l = number(as_written, 0.1, 1000.0)?,
            ("circuit_l", _) => self.site.circuit_l = number(as_written, 0.1, 1000.0)?,
            ("test_kpag", _) => self.site.test_kpag = Some(number(as_written, 1.0, 20_000.0)?),
            _ => return None,
        }
        Some(())
    }

    /// Takes the content of one volume.
    ///
    /// # Errors
    /// One line: what is not understood and what to write.
    pub fn set_content(&mut self, volume: &str, value: &str) -> Result<(), String> {
        let Some(v) = Volume::ALL.into_iter().find(|v| v.id() == volume) else {
            let all: Vec<&str> = Volume::ALL.iter().map(|v| v.id()).collect();
            return Err(format!("\"{volume}\" is no volume; write one of: {}", all.join(", ")));
        };
        let plain = value.trim().to_lowercase();
        let Some(c) = Content::ALL.into_iter().find(|c| c.id() == plain) else {
            let all: Vec<&str> = Content::ALL.iter().map(|c| c.id()).collect();
            return Err(format!(
                "content of {volume} \"{value}\" is not understood; write one of: {}",
                all.join("; ")
            ));
        };
        self.named |= v.bit();
        self.state = self.state.with(v, c);
        Ok(())
    }

    /// Fills in what was not said about hoses and holds the rest against each other.
    ///
    /// # Errors
    /// One line: what contradicts what.
    pub fn finish(mut self) -> Result<Self, String> {
        let s = &self.state;
        if s.low_hand && !s.low_hose || s.high_hand && s.high_hose == HighPlace::Off {
            return Err("a hand valve is open and its hose is on no port; shut it first".into());
        }
        for hose in members(HOSES & !self.named) {
            let set = component(&self.state, &self.rules, hose);
            let told = members(set).find(|v| *v < Volume::LowHose || self.named & v.bit() != 0);
            if let Some(v) = told {
                self.state = self.state.with(hose, self.state.of(v));
            }
        }
        if self.state.joint == Joint::Open {
            for v in [Volume::LiquidLine, Volume::Evaporator] {
                if self.named & v.bit() == 0 {
                    self.state = self.state.with(v, Content::Air);
                }
            }
        }
        let mut mixed = self.state;
        let _ = settle(&mut mixed, &self.rules);
        for v in Volume::ALL {
            let (said, is) = (self.state.of(v), mixed.of(v));
            if said != is {
                return Err(format!(
                    "{} cannot hold \"{}\": by the valves it is open to something else (then \
                     \"{}\"); correct a valve or a content",
                    v.id(),
                    said.id(),
                    is.id()
                ));
            }
        }
        Ok(self)
    }

    /// The state as keys and values, in the order of [`KEYS`] as far as they are the plant's.
    #[must_use]
    pub fn described(s: &State) -> Vec<(&'static str, &'static str)> {
        let yes = |on: bool| if on { "true" } else { "false" };
        let pick = |on: bool, a, b| if on { a } else { b };
        vec![
            ("suction_valve", s.suction.id()),
            ("discharge_valve", s.discharge.id()),
            ("king_valve", s.king.id()),
            ("expansion_valve", pick(s.expansion_held, "held open", "controlled")),
            (
                "power",
                match s.power {
                    Power::Locked => "locked out",
                    Power::Standby => "standby",
                    Power::Running => "running",
                },
            ),
            ("low_hose", pick(s.low_hose, "on suction port", "off")),
            (
                "high_hose",
                match s.high_hose {
                    HighPlace::Off => "off",
                    HighPlace::Discharge => "on discharge port",
                    HighPlace::King => "on king port",
                },
            ),
            ("low_hand_valve", pick(s.low_hand, "open", "shut")),
            ("high_hand_valve", pick(s.high_hand, "open", "shut")),
            ("vacuum_pump", pick(s.pump, "fitted", "off")),
            ("recovery_unit", pick(s.recovery, "fitted", "off")),
            (
                "supply",
                match s.supply {
                    Supply::None => "none",
                    Supply::Nitrogen => "nitrogen",
                    Supply::Cylinder => "charging cylinder",
                },
            ),
            (
                "joint",
                match s.joint {
                    Joint::Sound => "sound",
                    Joint::Open => "open",
                    Joint::Fitted => "fitted",
                },
            ),
            ("pump_down_watched", yes(s.settled)),
            ("nitrogen_tested", yes(s.tested)),
            ("weighed_in", yes(s.weighed)),
            ("checked", yes(s.checked)),
        ]
    }
}

fn seat(v: &str) -> Option<Seat> {
    Some(match v {
        "back seated" | "back" => Seat::Back,
        "mid" | "cracked" => Seat::Mid,
        "front seated" | "front" => Seat::Front,
        _ => return None,
    })
}

fn side(v: &str) -> Option<PortSide> {
    Some(match v {
        "component" => PortSide::Component,
        "line" => PortSide::Line,
        _ => return None,
    })
}

fn number(as_written: &str, min: f64, max: f64) -> Option<f64> {
    let v = units::decimal::parse(as_written, units::decimal::DecimalMark::Point).ok()?;
    (min..=max).contains(&v).then_some(v)
}
