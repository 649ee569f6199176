//! The faults, and what each does to a machine.

use crate::card::Card;
use crate::cycle::Cycle;
use crate::plant::Plant;

/// What may be wrong; one at a time.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Fault {
    /// Nothing.
    None,
    /// Too little refrigerant.
    Undercharge,
    /// Too much refrigerant.
    Overcharge,
    /// Air or nitrogen in the condenser.
    NonCondensables,
    /// Condenser air short: dirt, fan.
    CondenserAirflow,
    /// Evaporator air short: frost, fan, cargo against the grating.
    EvaporatorAirflow,
    /// Drier or liquid line blocked.
    LiquidRestriction,
    /// Expansion valve stuck too far closed, or its bulb empty.
    ExpansionStuckClosed,
    /// Expansion valve stuck too far open, or its bulb loose.
    ExpansionStuckOpen,
    /// Compressor leaks inside.
    CompressorLeak,
    /// Hot gas valve leaks to the evaporator.
    HotGasLeak,
    /// Suction throttle does not open.
    SuctionThrottleStuck,
    /// Another refrigerant than the plate says.
    WrongRefrigerant,
    /// One sensor or thermometer reads wrong.
    SensorOffset,
}

impl Fault {
    /// Every fault in the order of the contract.
    pub const ALL: [Self; 14] = [
        Self::None,
        Self::Undercharge,
        Self::Overcharge,
        Self::NonCondensables,
        Self::CondenserAirflow,
        Self::EvaporatorAirflow,
        Self::LiquidRestriction,
        Self::ExpansionStuckClosed,
        Self::ExpansionStuckOpen,
        Self::CompressorLeak,
        Self::HotGasLeak,
        Self::SuctionThrottleStuck,
        Self::WrongRefrigerant,
        Self::SensorOffset,
    ];

    /// The id of the contract.
    #[must_use]
    pub fn id(self) -> &'static str {
        match self {
            Self::None => "none",
            Self::Undercharge => "undercharge",
            Self::Overcharge => "overcharge",
            Self::NonCondensables => "non_condensables",
            Self::CondenserAirflow => "condenser_airflow",
            Self::EvaporatorAirflow => "evaporator_airflow",
            Self::LiquidRestriction => "liquid_restriction",
            Self::ExpansionStuckClosed => "expansion_stuck_closed",
            Self::ExpansionStuckOpen => "expansion_stuck_open",
            Self::CompressorLeak => "compressor_leak",
            Self::HotGasLeak => "hot_gas_leak",
            Self::SuctionThrottleStuck => "suction_throttle_stuck",
            Self::WrongRefrigerant => "wrong_refrigerant",
            Self::SensorOffset => "sensor_offset",
        }
    }

    /// The fault of this id.
    #[must_use]
    pub fn from_id(id: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|f| f.id() == id)
    }

    /// In the trade's words.
    #[must_use]
    pub fn words(self) -> &'static str {
        match self {
            Self::None => "no fault found in the circuit",
            Self::Undercharge => "short of refrigerant",
            Self::Overcharge => "too much refrigerant",
            Self::NonCondensables => "air or other gas in the condenser",
            Self::CondenserAirflow => "too little air through the condenser",
            Self::EvaporatorAirflow => "too little air through the evaporator",
            Self::LiquidRestriction => "drier or liquid line blocked",
            Self::ExpansionStuckClosed => "expansion valve too far closed",
            Self::ExpansionStuckOpen => "expansion valve too far open",
            Self::CompressorLeak => "compressor leaks inside",
            Self::HotGasLeak => "hot gas valve leaks",
            Self::SuctionThrottleStuck => "suction throttle does not open",
            Self::WrongRefrigerant => "not the refrigerant on the plate",
            Self::SensorOffset => "one thermometer or sensor reads wrong",
        }
    }

    /// Prior weight (contract §4, fine print 6).
    #[must_use]
    pub fn prior_weight(self) -> f64 {
        match self {
            Self::None => 3.0,
            Self::WrongRefrigerant => 0.05,
            _ => 1.0,
        }
    }

    /// Whether a machine with the fault is worked out from the sound one beside it.
    #[must_use]
    pub fn needs_sound(self) -> bool {
        matches!(
            self,
            Self::LiquidRestriction
                | Self::ExpansionStuckClosed
                | Self::ExpansionStuckOpen
                | Self::SuctionThrottleStuck
        )
    }

    /// Whether the fault changes the machine itself (and not its fluid or the reading of it).
    #[must_use]
    pub fn changes_machine(self) -> bool {
        !matches!(self, Self::None | Self::WrongRefrigerant | Self::SensorOffset)
    }

    /// Puts the fault at severity `s` (0 to 1) into a machine. `sound` is the same machine without
    /// it at the same conditions, needed where [`Self::needs_sound`].
    pub fn put(self, s: f64, plant: &mut Plant, card: &Card, sound: &Cycle) {
        let f = &card.faults;
        match self {
            Self::None | Self::WrongRefrigerant | Self::SensorOffset => {}
            Self::Undercharge => {
                plant.charge_kg -= card.charge.nameplate_kg * f.undercharge_fraction * s;
            }
            Self::Overcharge => {
                plant.charge_kg += card.charge.nameplate_kg * f.overcharge_fraction * s;
            }
            Self::NonCondensables => {
                plant.p_air_pa = f.non_condensables_kpa * 1e3 * s;
                plant.ua_cond_w_k *= 1.0 - f.non_condensables_ua_loss * s;
            }
            Self::CondenserAirflow => plant.air_cond_m3_s *= 1.0 - s,
            Self::EvaporatorAirflow => plant.air_evap_m3_s *= 1.0 - s,
            Self::LiquidRestriction => {
                let dp = f.restriction_fraction * s * (sound.pc_pa - sound.pe_pa);
                let m = sound.flow_liquid_kg_s;
                plant.restriction = dp * sound.rho_liquid_line / (m * m);
            }
            Self::ExpansionStuckClosed => {
                plant.opening_fixed = Some(sound.opening * (1.0 - f.stuck_closed_fraction * s));
            }
            Self::ExpansionStuckOpen => {
                let open = sound.opening * (1.0 + f.stuck_open_fraction * s);
                plant.opening_fixed = Some(open.min(1.0));
            }
            Self::CompressorLeak => plant.leak = f.compressor_leak_fraction * s,
            Self::HotGasLeak => plant.hot_gas = f.hot_gas_fraction * s,
            Self::SuctionThrottleStuck => plant.close_throttle(f.throttle_fraction * s, sound),
        }
    }
}
