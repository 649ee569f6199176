//! Who is aboard: boxes with their cargo, orders, cells and the changes at the port of call.

use record::Cell;
use record::unit_id::check_digit;
use units::temperature::celsius_from_fahrenheit;

use crate::cargo::{CARGOES, Cargo, Kind, by_id};
use crate::dice::{Dice, Purpose};
use crate::faults::{self, Fault};
use crate::route::{BEYOND, CALL, DEPARTURE, DESTINATION, Route};
use crate::ship::Hull;

/// A refrigerated box with cargo.
#[derive(Debug, Clone, PartialEq)]
pub struct Reefer {
    /// Number with check digit.
    pub unit: String,
    /// 40 ft, else 20 ft.
    pub forty: bool,
    /// Size-type code.
    pub size_type: &'static str,
    /// Age, years.
    pub age_years: f64,
    /// Cargo.
    pub cargo: &'static Cargo,
    /// Mass of cargo, kg.
    pub mass_kg: f64,
    /// Ordered set point, °C.
    pub set_c: f64,
    /// The order as the list has it: value and unit.
    pub set_as_sent: String,
    /// Range the list allows, coldest and warmest, °C.
    pub range_c: Option<[f64; 2]>,
    /// Cargo loaded this much over the set point, K.
    pub warm_by_k: f64,
    /// Port of loading.
    pub load_port: &'static str,
    /// Port of discharge.
    pub discharge_port: &'static str,
    /// Hours after departure at which it came aboard; 0 for the port of departure.
    pub load_h: f64,
    /// Hours after departure at which it left.
    pub leave_h: Option<f64>,
    /// Cell on the first list.
    pub cell_first: Option<Cell>,
    /// Cell on the list of the port of call.
    pub cell_second: Option<Cell>,
    /// Under the sky, and so under the sun.
    pub top: bool,
    /// Outermost row.
    pub outer: bool,
    /// Its logger is read out.
    pub logger: bool,
    /// Pulp probes fitted.
    pub probes: u8,
    /// Booking number.
    pub booking: String,
    /// What goes wrong.
    pub fault: Option<Fault>,
}

impl Reefer {
    /// Where it stands at the end.
    #[must_use]
    pub fn cell(&self) -> Cell {
        let nowhere = Cell { bay: 2, row: 0, tier: 82 };
        self.cell_first.or(self.cell_second).unwrap_or(nowhere)
    }

    /// Gives the box another cargo.
    pub fn recast(&mut self, id: &str, dice: &mut Dice) {
        if let Some(cargo) = by_id(id) {
            self.fill(cargo, dice);
        }
    }

    fn fill(&mut self, cargo: &'static Cargo, dice: &mut Dice) {
        let [low, high] = cargo.mass_40_t;
        let share = if self.forty { 1.0 } else { 0.62 };
        self.cargo = cargo;
        self.mass_kg = (1000.0 * share * dice.between(low, high)).round();
        self.set_c = dice.pick(cargo.set_points_c).copied().unwrap_or(-18.0);
        self.set_as_sent = format!("{:.1}:CEL", self.set_c);
        let (down, up) = match cargo.kind {
            Kind::Frozen => (2.0, 3.0),
            Kind::Chilled => (0.5, 2.5),
            Kind::Living => (0.5, 3.0),
        };
        let low = (self.set_c - down).max(cargo.cold_limit_c);
        self.range_c = dice.chance(0.3).then_some([low, self.set_c + up]);
    }

    /// Warmest cargo that is still right, °C: the range on the list, else the cargo's limit, at
    /// most 8 K over a chilled set point (common practice, no source).
    #[must_use]
    pub fn warm_limit_c(&self) -> f64 {
        if let Some([_, high]) = self.range_c {
            return high;
        }
        let cargo = self.cargo.warm_limit_c;
        match self.cargo.kind {
            Kind::Frozen => cargo,
            _ => cargo.min(self.set_c + 8.0),
        }
    }

    /// Coldest cargo that is still right, °C: the cargo's limit, whatever the list says of air.
    #[must_use]
    pub fn cold_limit_c(&self) -> f64 {
        self.cargo.cold_limit_c
    }

    /// The order was given in °F.
    pub fn order_fahrenheit(&mut self, order_f: f64) {
        self.set_c = celsius_from_fahrenheit(order_f);
        self.set_as_sent = format!("{order_f:.0}:FAH");
        self.range_c = None;
    }

    /// Gross weight: cargo, 4.6 t of 40 ft box or 3.1 t of 20 ft box (common practice, no source).
    #[must_use]
    pub fn gross_kg(&self) -> f64 {
        self.mass_kg + if self.forty { 4600.0 } else { 3100.0 }
    }
}

/// A container that is no concern of ours but stands on the list.
#[derive(Debug, Clone, PartialEq)]
pub struct Other {
    /// Number; `None` for a slot reserved without one.
    pub unit: Option<String>,
    /// Size-type code.
    pub size_type: &'static str,
    /// Text of the cargo, if any.
    pub text: &'static str,
    /// Gross weight, kg.
    pub weight_kg: f64,
    /// Full.
    pub full: bool,
    /// Its cell.
    pub cell: Cell,
    /// Port of discharge.
    pub discharge_port: &'static str,
}

/// Everything aboard.
#[derive(Debug, Clone, PartialEq)]
pub struct Manifest {
    /// Refrigerated boxes with cargo.
    pub reefers: Vec<Reefer>,
    /// All others.
    pub others: Vec<Other>,
}

/// Hands out container numbers of the demonstration prefix.
struct Numbers {
    serial: u32,
}

impl Numbers {
    /// The next number, leaving out serials whose check digit would be 0: owners avoid the
    /// remainder 10, and nobody misses the rest.
    fn next(&mut self, dice: &mut Dice) -> String {
        loop {
            self.serial += 1 + dice.below(97) as u32;
            let body = format!("QQQU{:06}", self.serial % 1_000_000);
            if let Some(digit) = check_digit(&body).filter(|d| *d != 0) {
                return format!("{body}{digit}");
            }
        }
    }
}

/// Loads the ship: `boxes` refrigerated boxes with cargo, a fifth as many dry ones, a few empty.
#[must_use]
pub fn load(boxes: usize, seed: u64, route: &Route) -> Manifest {
    let mut dice = Dice::new(seed, Purpose::Stowage, 0);
    let mut hull = Hull::new(boxes + boxes / 5 + 8);
    let mut numbers = Numbers { serial: 310_000 };
    let late = match route.call_h {
        Some(_) if boxes >= 20 => boxes * 8 / 100,
        _ => 0,
    };
    let mut reefers = Vec::with_capacity(boxes);
    let pairs = (boxes - late) * 6 / 200;
    for i in 0..boxes {
        let mut cargo_dice = Dice::new(seed, Purpose::Cargo, i);
        let unit = numbers.next(&mut dice);
        reefers.push(reefer(unit, i >= 2 * pairs, &mut cargo_dice));
    }
    let (aboard, waiting) = reefers.split_at_mut(boxes - late);
    stow(aboard, pairs, &mut hull, &mut dice);
    let others = stow_others(boxes, &mut hull, &mut numbers, &mut dice);
    if let (Some(call), Some(leave)) = (route.call_h, route.leave_call_h()) {
        let hours = [f64::from(call), f64::from(leave)];
        call_at_port(aboard, waiting, late, hours, &mut hull, &mut dice);
    }
    for r in &mut reefers {
        let cell = r.cell();
        r.top = cell.on_deck() && hull.top_of_stack(cell);
        r.outer = cell.on_deck() && hull.outer_row(cell.row);
    }
    faults::inject(&mut reefers, seed, f64::from(route.data_h));
    Manifest { reefers, others }
}

fn reefer(unit: String, forty: bool, dice: &mut Dice) -> Reefer {
    let size_type = match (forty, dice.chance(0.08)) {
        (false, _) => "22R1",
        (true, true) => "42R1",
        (true, false) => "45R1",
    };
    let [first, ..] = &CARGOES;
    let booking = format!("BK{:07}", 1_000_000 + dice.below(8_999_999));
    let mut r = Reefer {
        unit,
        forty,
        size_type,
        age_years: dice.between(0.5, 14.0),
        cargo: first,
        mass_kg: 0.0,
        set_c: 0.0,
        set_as_sent: String::new(),
        range_c: None,
        warm_by_k: 0.0,
        load_port: DEPARTURE,
        discharge_port: if dice.chance(0.35) { BEYOND } else { DESTINATION },
        load_h: 0.0,
        leave_h: None,
        cell_first: None,
        cell_second: None,
        top: false,
        outer: false,
        logger: !dice.chance(0.05),
        probes: 0,
        booking,
        fault: None,
    };
    r.fill(choose_cargo(dice), dice);
    let probed = match r.cargo.kind {
        Kind::Living => dice.chance(0.25),
        Kind::Chilled => r.cargo.id == "pharma_2_8" || dice.chance(0.2),
        Kind::Frozen => false,
    };
    r.probes = if probed { 3 } else { 0 };
    // A kelvin up or down at loading is nothing unusual.
    r.warm_by_k = match r.cargo.kind {
        Kind::Living => dice.between(-0.2, 1.5),
        Kind::Chilled => dice.between(0.0, 0.6),
        Kind::Frozen => dice.between(-1.0, 1.0),
    };
    r
}

fn choose_cargo(dice: &mut Dice) -> &'static Cargo {
    let total: f64 = CARGOES.iter().map(|c| c.parts).sum();
    let mut left = dice.between(0.0, total);
    for c in &CARGOES {
        left -= c.parts;
        if left <= 0.0 {
            return c;
        }
    }
    let [first, ..] = &CARGOES;
    first
}

/// Stows the first `pairs` pairs of 20 ft boxes, then the long ones.
fn stow(aboard: &mut [Reefer], pairs: usize, hull: &mut Hull, dice: &mut Dice) {
    let (short, long) = aboard.split_at_mut((2 * pairs).min(aboard.len()));
    for pair in short.chunks_mut(2) {
        let cells = hull.take_two_twenties(dice);
        for (k, r) in pair.iter_mut().enumerate() {
            r.cell_first = cells.and_then(|c| c.get(k).copied());
            r.cell_second = r.cell_first;
        }
    }
    for r in long {
        r.cell_first = hull.take_forty(dice);
        r.cell_second = r.cell_first;
    }
}

/// Dry boxes, two empty reefers, a reserved slot, and a reefer used for dry cargo.
fn stow_others(
    boxes: usize,
    hull: &mut Hull,
    numbers: &mut Numbers,
    dice: &mut Dice,
) -> Vec<Other> {
    const DRY: [&str; 6] =
        ["COFFEE IN BAGS", "TIMBER", "HIDES SALTED", "MACHINE PARTS", "PAPER", "WINE IN BOTTLES"];
    let special = usize::from(boxes >= 60);
    let mut out = Vec::new();
    for i in 0..boxes / 5 + 3 + special {
        let Some(cell) = hull.take_forty(dice) else {
            break;
        };
        let mut other = Other {
            unit: Some(numbers.next(dice)),
            size_type: if dice.chance(0.5) { "45G1" } else { "42G1" },
            text: dice.pick(&DRY).copied().unwrap_or("PAPER"),
            weight_kg: (100.0 * dice.between(90.0, 290.0)).round(),
            full: true,
            cell,
            discharge_port: if dice.chance(0.35) { BEYOND } else { DESTINATION },
        };
        match i {
            0 | 1 => {
                (other.size_type, other.text) = ("45R1", "");
                (other.weight_kg, other.full) = (4600.0, false);
            }
            2 => {
                (other.unit, other.size_type, other.text) = (None, "4530", "");
                (other.weight_kg, other.full) = (4600.0, false);
            }
            3 if special == 1 => {
                (other.size_type, other.text) = ("45R1", "PAPER - NON OPERATING REEFER");
            }
            _ => {}
        }
        out.push(other);
    }
    out
}

/// The port of call: some boxes leave, the waiting ones come aboard, a few are moved. `hours`
/// are arrival and departure.
fn call_at_port(
    aboard: &mut [Reefer],
    waiting: &mut [Reefer],
    late: usize,
    hours: [f64; 2],
    hull: &mut Hull,
    dice: &mut Dice,
) {
    let [call_h, leave_h] = hours;
    let mut movable: Vec<usize> = (0..aboard.len())
        .filter(|i| aboard.get(*i).is_some_and(|r| r.forty && hull.top_of_stack(r.cell())))
        .collect();
    dice.shuffle(&mut movable);
    let moves = late / 4;
    for (n, i) in movable.into_iter().take(late + moves).enumerate() {
        let Some(r) = aboard.get_mut(i) else {
            continue;
        };
        if n < late {
            hull.leave(r.cell());
            r.discharge_port = CALL;
            r.leave_h = Some(call_h + 1.0 + dice.between(0.5, 6.0));
            r.cell_second = None;
        } else if hull.top_of_stack(r.cell()) {
            // Taken before its own cell is given up, so that it does move.
            let (old, Some(new)) = (r.cell(), hull.take_forty(dice)) else {
                continue;
            };
            if (old.bay, old.row, old.on_deck()) == (new.bay, new.row, new.on_deck()) {
                hull.leave(new);
            } else {
                r.cell_second = Some(new);
                hull.leave(old);
            }
        }
    }
    for r in waiting {
        r.cell_second = hull.take_forty(dice);
        r.load_port = CALL;
        r.load_h = (call_h + dice.between(7.0, 12.0)).min(leave_h);
    }
}
