//! The plant as data: volumes, valves, hoses, machines, and what is inside each volume.

/// A volume that can hold gas or liquid. The first four are the circuit, the rest are hoses.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Volume {
    /// Compressor shell, between suction and discharge valve.
    Compressor,
    /// Discharge line, condenser and receiver, between discharge valve and king valve.
    HighSide,
    /// Liquid line with drier, between king valve and expansion valve.
    LiquidLine,
    /// Evaporator and suction line, between expansion valve and suction valve.
    Evaporator,
    /// Low hose, from the port to the manifold's low hand valve.
    LowHose,
    /// High hose, from the port to the manifold's high hand valve.
    HighHose,
    /// Manifold centre with the hoses to pump, recovery unit and cylinder, up to their valves.
    Centre,
}

impl Volume {
    /// All, in the order of [`State::content`].
    pub const ALL: [Self; 7] = [
        Self::Compressor,
        Self::HighSide,
        Self::LiquidLine,
        Self::Evaporator,
        Self::LowHose,
        Self::HighHose,
        Self::Centre,
    ];

    /// The volume's bit in a set of volumes.
    #[must_use]
    pub const fn bit(self) -> u8 {
        1 << self as u8
    }

    /// Key in files.
    #[must_use]
    pub const fn id(self) -> &'static str {
        match self {
            Self::Compressor => "compressor",
            Self::HighSide => "high_side",
            Self::LiquidLine => "liquid_line",
            Self::Evaporator => "evaporator",
            Self::LowHose => "low_hose",
            Self::HighHose => "high_hose",
            Self::Centre => "centre",
        }
    }

    /// For people.
    #[must_use]
    pub const fn words(self) -> &'static str {
        match self {
            Self::Compressor => "compressor",
            Self::HighSide => "condenser and receiver",
            Self::LiquidLine => "liquid line and drier",
            Self::Evaporator => "evaporator and suction line",
            Self::LowHose => "low hose",
            Self::HighHose => "high hose",
            Self::Centre => "manifold centre",
        }
    }
}

/// The four volumes of the circuit.
pub const CIRCUIT: u8 = 0b000_1111;
/// The three volumes of the gauge set.
pub const HOSES: u8 = 0b111_0000;

/// What is inside a volume.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Content {
    /// Refrigerant under pressure; in the liquid line, liquid.
    Refrigerant,
    /// A hose full of liquid refrigerant.
    Liquid,
    /// Refrigerant a little above the atmosphere: where a pump-down stops.
    RefrigerantLow,
    /// Drawn below the atmosphere by the recovery unit; traces of refrigerant.
    Recovered,
    /// Deep vacuum, not yet watched.
    Vacuum,
    /// Deep vacuum that stood its hold.
    VacuumHeld,
    /// Nitrogen at test pressure.
    NitrogenPressure,
    /// Nitrogen a little above the atmosphere.
    NitrogenLow,
    /// Air, and with it moisture.
    Air,
    /// Refrigerant mixed with air or nitrogen.
    Mixture,
}

impl Content {
    /// All.
    pub const ALL: [Self; 10] = [
        Self::Refrigerant,
        Self::Liquid,
        Self::RefrigerantLow,
        Self::Recovered,
        Self::Vacuum,
        Self::VacuumHeld,
        Self::NitrogenPressure,
        Self::NitrogenLow,
        Self::Air,
        Self::Mixture,
    ];

    /// The content's bit in a set of contents.
    #[must_use]
    pub const fn bit(self) -> u16 {
        1 << self as u16
    }

    /// In files: plain words.
    #[must_use]
    pub const fn id(self) -> &'static str {
        match self {
            Self::Refrigerant => "refrigerant under pressure",
            Self::Liquid => "liquid refrigerant",
            Self::RefrigerantLow => "refrigerant near atmospheric",
            Self::Recovered => "recovered, below atmospheric",
            Self::Vacuum => "vacuum",
            Self::VacuumHeld => "vacuum, held",
            Self::NitrogenPressure => "nitrogen under pressure",
            Self::NitrogenLow => "nitrogen near atmospheric",
            Self::Air => "air",
            Self::Mixture => "refrigerant mixed with air or nitrogen",
        }
    }
}

/// Position of a service valve's stem.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Seat {
    /// Fully out: line open, gauge port closed.
    Back,
    /// Between: line and gauge port open.
    Mid,
    /// Fully in: line closed, gauge port open to one side only.
    Front,
}

impl Seat {
    /// In files.
    #[must_use]
    pub const fn id(self) -> &'static str {
        match self {
            Self::Back => "back-seated",
            Self::Mid => "mid",
            Self::Front => "front-seated",
        }
    }
}

/// Which side the gauge port of a front-seated valve sees. Published texts disagree; look at the
/// valve at hand (reference/refrigeration-service.md §5.1).
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum PortSide {
    /// The machine the valve is bolted to (compressor, receiver).
    Component,
    /// The pipe.
    Line,
}

/// Electric state of the unit.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Power {
    /// Isolated, locked and tagged.
    Locked,
    /// Live, compressor stopped.
    Standby,
    /// Compressor running, expansion valve controlled.
    Running,
}

/// Where the high hose is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum HighPlace {
    /// On no port.
    Off,
    /// On the discharge valve's gauge port.
    Discharge,
    /// On the king valve's gauge port.
    King,
}

/// What hangs on the centre's supply hose.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Supply {
    /// Nothing.
    None,
    /// Dry oxygen-free nitrogen through a regulator.
    Nitrogen,
    /// Charging cylinder on a scale.
    Cylinder,
}

/// The joint of the part that is to be changed (drier, expansion valve, evaporator).
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Joint {
    /// Closed, as found.
    Sound,
    /// Open to the air.
    Open,
    /// Part and new drier fitted, closed.
    Fitted,
}

/// Everything that can be done to the plant has changed one of these.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[allow(clippy::struct_excessive_bools)] // each is a separate thing on deck
pub struct State {
    /// Suction service valve, on the compressor.
    pub suction: Seat,
    /// Discharge service valve, on the compressor.
    pub discharge: Seat,
    /// King valve: receiver outlet.
    pub king: Seat,
    /// Expansion and solenoid valve held open by the maker's means while the unit stands.
    pub expansion_held: bool,
    /// Electric state.
    pub power: Power,
    /// The low hose is on the suction valve's port.
    pub low_hose: bool,
    /// Where the high hose is.
    pub high_hose: HighPlace,
    /// Manifold's low hand valve open.
    pub low_hand: bool,
    /// Manifold's high hand valve open.
    pub high_hand: bool,
    /// Vacuum pump (with vacuum gauge) on the centre.
    pub pump: bool,
    /// Recovery unit with its cylinder on the centre.
    pub recovery: bool,
    /// Supply on the centre.
    pub supply: Supply,
    /// The joint.
    pub joint: Joint,
    /// The pumped-down side was watched and did not rise.
    pub settled: bool,
    /// Tested with nitrogen since it was last opened.
    pub tested: bool,
    /// The whole charge went in by the scale.
    pub weighed: bool,
    /// Checked running, with readings, since the last work on the circuit.
    pub checked: bool,
    /// What is in each volume, by [`Volume`].
    pub content: [Content; 7],
}

impl Default for State {
    /// Running normally, no gauges on.
    fn default() -> Self {
        use Content::{Air, Refrigerant};
        Self {
            suction: Seat::Back,
            discharge: Seat::Back,
            king: Seat::Back,
            expansion_held: false,
            power: Power::Running,
            low_hose: false,
            high_hose: HighPlace::Off,
            low_hand: false,
            high_hand: false,
            pump: false,
            recovery: false,
            supply: Supply::None,
            joint: Joint::Sound,
            settled: false,
            tested: false,
            weighed: false,
            checked: false,
            content: [Refrigerant, Refrigerant, Refrigerant, Refrigerant, Air, Air, Air],
        }
    }
}

impl State {
    /// Content of a volume.
    #[must_use]
    pub const fn of(&self, v: Volume) -> Content {
        self.content[v as usize]
    }

    /// The same with another content of one volume.
    #[must_use]
    pub const fn with(mut self, v: Volume, c: Content) -> Self {
        self.content[v as usize] = c;
        self
    }

    /// Whether liquid can pass from the liquid line to the evaporator.
    #[must_use]
    pub fn expansion_open(&self) -> bool {
        self.expansion_held || self.power == Power::Running
    }

    /// What anybody sees who looks: all but contents and the job's history.
    #[must_use]
    pub fn seen(&self) -> u64 {
        let mut bits = 0_u64;
        let mut put = |value: u8, width: u32| bits = (bits << width) | u64::from(value);
        put(self.suction as u8, 2);
        put(self.discharge as u8, 2);
        put(self.king as u8, 2);
        put(u8::from(self.expansion_held), 1);
        put(self.power as u8, 2);
        put(u8::from(self.low_hose), 1);
        put(self.high_hose as u8, 2);
        put(u8::from(self.low_hand), 1);
        put(u8::from(self.high_hand), 1);
        put(u8::from(self.pump), 1);
        put(u8::from(self.recovery), 1);
        put(self.supply as u8, 2);
        put(u8::from(self.joint == Joint::Open), 1);
        bits
    }

    /// The whole state in one number: equal states, equal numbers.
    #[must_use]
    pub fn packed(&self) -> u64 {
        let mut bits = self.seen();
        let mut put = |value: u8, width: u32| bits = (bits << width) | u64::from(value);
        put(u8::from(self.joint == Joint::Fitted), 1);
        put(u8::from(self.settled), 1);
        put(u8::from(self.tested), 1);
        put(u8::from(self.weighed), 1);
        put(u8::from(self.checked), 1);
        for c in self.content {
            put(c as u8, 4);
        }
        bits
    }
}

/// What is on board and what the valves and rules at hand are like; does not change during a job.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[allow(clippy::struct_excessive_bools)] // a list of things that are on board or not
pub struct Rules {
    /// Port of the front-seated suction valve.
    pub suction_port: PortSide,
    /// Port of the front-seated discharge valve.
    pub discharge_port: PortSide,
    /// Port of the front-seated king valve.
    pub king_port: PortSide,
    /// A vacuum pump and a vacuum gauge are at hand.
    pub has_pump: bool,
    /// A recovery unit is at hand.
    pub has_recovery: bool,
    /// The recovery cylinder has room for the whole charge, by mass.
    pub cylinder_room: bool,
    /// Dry oxygen-free nitrogen with a regulator is at hand.
    pub has_nitrogen: bool,
    /// Gas of known identity for the whole charge and a scale are at hand.
    pub has_charge: bool,
    /// Condenser and receiver can hold the whole charge (a pump-down is possible).
    pub receiver_room: bool,
    /// Nitrogen may test the low side while the charge stands in the receiver. The European rule
    /// in the reference says no: recover from the whole application first.
    pub test_with_charge_held: bool,
    /// What is in the circuit may not be what the plate says.
    pub gas_suspect: bool,
}

impl Default for Rules {
    fn default() -> Self {
        Self {
            suction_port: PortSide::Component,
            discharge_port: PortSide::Component,
            king_port: PortSide::Line,
            has_pump: true,
            has_recovery: true,
            cylinder_room: true,
            has_nitrogen: true,
            has_charge: true,
            receiver_room: true,
            test_with_charge_held: false,
            gas_suspect: false,
        }
    }
}
