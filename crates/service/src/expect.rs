//! What the gauges should show at a step, from the refrigerant and the air around.

use fluids::{FluidError, Refrigerant, Side};
use units::temperature::ZERO_C_K;

use crate::action::Action;
use crate::flow::component;
use crate::plant::{CIRCUIT, Rules, State, Supply, Volume};

/// Where the work is done.
#[derive(Debug, Clone, PartialEq)]
pub struct Site {
    /// Refrigerant on the plate.
    pub fluid: String,
    /// Air around unit and cylinders, °C.
    pub ambient_c: f64,
    /// Barometer, kPa.
    pub barometer_kpa: f64,
    /// Charge on the plate, kg.
    pub charge_kg: Option<f64>,
    /// Volume of the low side, and of the whole circuit, l: what a recovery leaves behind hangs on
    /// them. 5 and 15 l as in the reference's examples unless said.
    pub low_side_l: f64,
    /// See [`Self::low_side_l`].
    pub circuit_l: f64,
    /// Test pressure that the plate allows for what is tested, kPa gauge.
    pub test_kpag: Option<f64>,
}

impl Default for Site {
    fn default() -> Self {
        Self {
            fluid: "R134a".into(),
            ambient_c: 30.0,
            barometer_kpa: 101.325,
            charge_kg: None,
            low_side_l: 5.0,
            circuit_l: 15.0,
            test_kpag: None,
        }
    }
}

/// A reading to expect.
#[derive(Debug, Clone, PartialEq)]
pub struct Expect {
    /// Where to read it.
    pub what: &'static str,
    /// From …, in `unit`; none: no lower end.
    pub from: Option<f64>,
    /// … to; none: no upper end, or not known here.
    pub to: Option<f64>,
    /// Unit: `kpag`, `pa`, `um`, `min`, `kg`, `g_per_l`.
    pub unit: &'static str,
    /// What it means when it is not so, and where the figure comes from.
    pub note: &'static str,
}

impl Expect {
    /// Its unit as a person writes it.
    #[must_use]
    pub fn unit_sign(&self) -> &str {
        unit_sign(self.unit)
    }

    /// The range in words with its unit: `10 to 20 kPa gauge`.
    #[must_use]
    pub fn range_words(&self) -> String {
        range_words(self.from, self.to, self.unit)
    }
}

/// A reading's unit as a person writes it.
#[must_use]
pub fn unit_sign(unit: &str) -> &str {
    match unit {
        "kpag" => "kPa gauge",
        "um" => "µm",
        "g_per_l" => "g per litre",
        u => u,
    }
}

/// A range in words with its unit, also one told long ago.
#[must_use]
pub fn range_words(from: Option<f64>, to: Option<f64>, unit: &str) -> String {
    let n = |v: f64| match unit {
        "g_per_l" | "kg" => format!("{v:.1}"),
        _ => format!("{v:.0}"),
    };
    let sign = unit_sign(unit);
    match (from, to) {
        (Some(a), Some(b)) if n(a) == n(b) => format!("{} {sign}", n(a)),
        (Some(a), Some(b)) => format!("{} to {} {sign}", n(a), n(b)),
        (Some(a), None) => format!("at least {} {sign}", n(a)),
        (None, Some(b)) => format!("at most {} {sign}", n(b)),
        (None, None) => format!("not known here, in {sign}"),
    }
}

/// How well the air's temperature is known, K: cylinder in the sun, unit in the shade.
const AMBIENT_SLACK_K: f64 = 2.0;
/// Deep vacuum, µm of mercury: the tool's default criterion (reference §4.3).
pub const VACUUM_UM: f64 = 500.0;
/// A micrometre of mercury in Pa.
pub const PA_PER_UM: f64 = 0.133_322;
/// Stop of a pump-down, kPa gauge (reference §5.2 G3: 0.1 to 0.2 bar).
pub const STOP_KPAG: [f64; 2] = [10.0, 20.0];

fn expect(
    what: &'static str,
    range: [Option<f64>; 2],
    unit: &'static str,
    note: &'static str,
) -> Expect {
    let [from, to] = range;
    Expect { what, from, to, unit, note }
}

/// Readings to expect at a step.
///
/// # Errors
/// An unknown refrigerant, or an ambient outside its tables.
pub fn expected(
    action: Action,
    before: &State,
    rules: &Rules,
    site: &Site,
) -> Result<Vec<Expect>, FluidError> {
    let set = component(before, rules, Volume::Centre);
    Ok(match action {
        Action::PullDown => pull_down(site)?,
        Action::WatchRise => vec![
            expect("low gauge", STOP_KPAG.map(Some), "kpag", "from memory, unverified: steady"),
            expect("wait", [Some(10.0), None], "min", "from memory, unverified"),
        ],
        Action::Evacuate => vec![vacuum(set & CIRCUIT != 0)],
        Action::Hold => vec![
            vacuum(true),
            expect("wait", [Some(15.0), None], "min", "10 min is the least; reference §4.3"),
        ],
        Action::Recover => recover(site, set & CIRCUIT != 0)?,
        Action::BreakWithNitrogen | Action::VentNitrogen => vec![expect(
            "gauge of the side",
            [Some(0.0), Some(20.0)],
            "kpag",
            "a little above the atmosphere, so that no air is drawn in",
        )],
        Action::TestWithNitrogen => test(site),
        Action::Supply(Supply::Cylinder) => vec![cylinder(site)?],
        Action::WeighIn => vec![cylinder(site)?, weigh(site)],
        Action::Stop | Action::Lock => Vec::new(),
        Action::RunCheck => vec![expect(
            "wait",
            [Some(15.0), None],
            "min",
            "steady before reading; holdfast gauge judges the readings",
        )],
        Action::Discharge(crate::plant::Seat::Mid) | Action::King(crate::plant::Seat::Mid)
            if before.power != crate::plant::Power::Running
                && before.of(Volume::HighSide) == crate::plant::Content::Refrigerant =>
        {
            vec![standing(site)?]
        }
        _ => Vec::new(),
    })
}

fn vacuum(circuit: bool) -> Expect {
    let note = if circuit {
        "at the system's far end, not at the pump; never a compound gauge (reference §4.1)"
    } else {
        "hoses only"
    };
    expect("vacuum gauge", [None, Some(VACUUM_UM)], "um", note)
}

fn refrigerant(site: &Site) -> Result<&'static Refrigerant, FluidError> {
    Refrigerant::named(&site.fluid)
}

/// Saturation pressure, kPa gauge, of the coolest dew to the warmest bubble.
fn saturation(site: &Site) -> Result<[f64; 2], FluidError> {
    let r = refrigerant(site)?;
    let t_k = site.ambient_c + ZERO_C_K;
    let low = r.p_sat_pa(t_k - AMBIENT_SLACK_K, Side::Bubble)? / 1e3 - site.barometer_kpa;
    let high = r.p_sat_pa(t_k + AMBIENT_SLACK_K, Side::Bubble)? / 1e3 - site.barometer_kpa;
    Ok([low, high])
}

fn cylinder(site: &Site) -> Result<Expect, FluidError> {
    let note = "bubble pressure at the air's temperature ± 2 K: higher is air in it, lower may be \
                another gas (do not use); a match does not prove identity";
    Ok(expect("cylinder pressure", saturation(site)?.map(Some), "kpag", note))
}

fn standing(site: &Site) -> Result<Expect, FluidError> {
    let note = "standing unit, once it has taken the air's temperature ± 2 K";
    Ok(expect("high gauge", saturation(site)?.map(Some), "kpag", note))
}

fn pull_down(site: &Site) -> Result<Vec<Expect>, FluidError> {
    let note = "stop here, a little above the atmosphere, never in vacuum (reference §5.2 G3)";
    let r = refrigerant(site)?;
    let t_k = site.ambient_c + ZERO_C_K;
    let density = |kpag: f64| Ok(r.state_pt((site.barometer_kpa + kpag) * 1e3, t_k)?.rho_kg_m3);
    let [low, high] = STOP_KPAG;
    let left = [Some(density(low)?), Some(density(high)?)];
    Ok(vec![
        expect("low gauge", STOP_KPAG.map(Some), "kpag", note),
        expect("vapour left", left, "g_per_l", "per litre of the low side; to be recovered"),
    ])
}

/// Depth of recovery, kPa gauge: 40 CFR 82.156 asks 10 inHg below the atmosphere of
/// medium-pressure gases under 200 lb, and 0 of high-pressure ones.
fn depth_kpag(r: &Refrigerant) -> f64 {
    let p_54 = r.p_sat_pa(54.4 + ZERO_C_K, Side::Bubble).unwrap_or(f64::MAX);
    if p_54 < 1.551e6 { -33.9 } else { 0.0 }
}

/// Refrigerant that a recovery to its depth leaves, g: it goes out with the pump or the nitrogen
/// unless it is recovered deeper. `high`: the high side was recovered too.
///
/// # Errors
/// An unknown refrigerant, or an ambient outside its tables.
pub fn left_by_recovery_g(site: &Site, high: bool) -> Result<f64, FluidError> {
    let r = refrigerant(site)?;
    let p_pa = (site.barometer_kpa + depth_kpag(r)) * 1e3;
    let rho = r.state_pt(p_pa, site.ambient_c + ZERO_C_K)?.rho_kg_m3;
    Ok(rho * if high { site.circuit_l } else { site.low_side_l })
}

fn recover(site: &Site, circuit: bool) -> Result<Vec<Expect>, FluidError> {
    let r = refrigerant(site)?;
    let stop = depth_kpag(r);
    let note = "depth of 40 CFR 82.156 for appliances under 200 lb; below the atmosphere";
    let mut out = vec![expect("gauge of the side", [None, Some(stop)], "kpag", note)];
    if circuit {
        let kg = "cylinder's gain: note it, every gram";
        out.push(expect("scale", [Some(0.0), site.charge_kg], "kg", kg));
    }
    Ok(out)
}

fn test(site: &Site) -> Vec<Expect> {
    let note = "the plate says how much; change with temperature 0.34 %/K of the absolute pressure";
    vec![
        expect("test pressure", [None, site.test_kpag], "kpag", note),
        expect("wait", [Some(15.0), None], "min", "from memory, unverified; the longer the better"),
    ]
}

fn weigh(site: &Site) -> Expect {
    let note = "charge on the plate; a liquid-filled hose 6 mm × 1.8 m holds about 60 g: in the \
                hose, not in the unit. If flow stops early, trim by the maker's method";
    expect("scale", [site.charge_kg, site.charge_kg], "kg", note)
}
