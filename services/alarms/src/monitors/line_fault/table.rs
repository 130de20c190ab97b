//! The decision table of an air line, written down once.

use serde::Serialize;

/// How one figure stands against its usual.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Level {
    /// Not measured, not fresh, or its usual is not known yet.
    Unknown,
    /// A tenth of the usual or less.
    Nought,
    /// Well under it.
    Low,
    /// As ever.
    Usual,
    /// Well over it.
    High,
}

/// How the flows of all outlets of a line stand.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Flow {
    /// None is known.
    Unknown,
    /// Nothing flows anywhere.
    AllNought,
    /// Every one is low, or several have nothing.
    AllLow,
    /// One or some have nothing, not all.
    SomeLost,
    /// One or some are low, not all, and all together less than usual flows.
    SomeLow,
    /// As ever.
    Usual,
    /// One or some are high, and all together more than usual flows.
    SomeHigh,
}

/// What has happened to a line.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum LineState {
    /// All that is known is as ever.
    Fine,
    /// A stone, or what leads to it, lets too little through.
    CloggedStone,
    /// Air leaves the line where it should not.
    TubeOff,
    /// The pump draws its power and gives no air.
    TornDiaphragm,
    /// The pump draws nothing.
    PumpWithoutPower,
    /// A check valve keeps the pressure up though nothing flows: the pump gives nothing, whatever the gauge says.
    CheckValveHolding,
    /// Too little is known, or it fits no row.
    Unknown,
}

/// Where to look first.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Look {
    /// Nowhere.
    Nowhere,
    /// Plug, fuse and fault-current switch of the pump.
    Mains,
    /// The pump: is there air at its own nozzle? If not, the other pump.
    Pump,
    /// The tubes, from the pump to the last outlet: which one hisses or lies loose?
    Tubes,
    /// Stone, tube and valve of the outlet that is named; without a name all of them.
    Stone,
}

/// A row: any of these levels of power, pressure and flow together mean one of these states.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct LineRow {
    /// Of the pump's power.
    pub power: &'static [Level],
    /// Of the line's pressure.
    pub pressure: &'static [Level],
    /// Of the outlets' flows.
    pub flow: &'static [Flow],
    /// One state, or those that cannot be told apart by what is known.
    pub means: &'static [LineState],
    /// Where to look first.
    pub look: Look,
}

use Flow::{AllLow, AllNought, SomeHigh, SomeLost, SomeLow};
use LineState::{CheckValveHolding, CloggedStone, PumpWithoutPower, TornDiaphragm, TubeOff};

const ANY: &[Level] = &[Level::Unknown, Level::Nought, Level::Low, Level::Usual, Level::High];
const ANY_FLOW: &[Flow] = &[Flow::Unknown, AllNought, AllLow, SomeLost, SomeLow, Flow::Usual, SomeHigh];
/// The pump draws power, as ever or not.
const DRAWS: &[Level] = &[Level::Low, Level::Usual, Level::High];
const MAY_DRAW: &[Level] = &[Level::Unknown, Level::Low, Level::Usual, Level::High];
const NOT_KNOWN: &[Level] = &[Level::Unknown];
const HIGH: &[Level] = &[Level::High];
const USUAL: &[Level] = &[Level::Usual];
const FALLEN: &[Level] = &[Level::Nought, Level::Low];

const fn row(
    power: &'static [Level],
    pressure: &'static [Level],
    flow: &'static [Flow],
    means: &'static [LineState],
    look: Look,
) -> LineRow {
    LineRow { power, pressure, flow, means, look }
}

/// The table; the first row that fits counts, and each but the first needs two of the three quantities. The physics is
/// that of the table in the project's notes on air ("what can witness air stopped", own reasoning, no published table):
/// a clog raises the pressure behind it, a leak lowers it and feeds the leak, a pump that gives nothing lowers all,
/// unless a check valve keeps the pressure. On a line of many outlets one stone hardly moves the pressure, so it may be
/// as ever.
pub const ROWS: [LineRow; 14] = [
    row(&[Level::Nought], ANY, ANY_FLOW, &[PumpWithoutPower], Look::Mains),
    row(MAY_DRAW, HIGH, &[AllNought, AllLow, SomeLost, SomeLow], &[CloggedStone], Look::Stone),
    row(DRAWS, HIGH, &[Flow::Unknown], &[CloggedStone], Look::Stone),
    row(MAY_DRAW, USUAL, &[SomeLost, SomeLow], &[CloggedStone], Look::Stone),
    row(MAY_DRAW, USUAL, &[AllNought], &[CheckValveHolding], Look::Pump),
    row(MAY_DRAW, USUAL, &[AllLow], &[TornDiaphragm, CloggedStone], Look::Pump),
    row(DRAWS, FALLEN, &[AllNought, AllLow], &[TornDiaphragm], Look::Pump),
    row(NOT_KNOWN, FALLEN, &[AllNought, AllLow], &[TornDiaphragm, PumpWithoutPower], Look::Pump),
    row(MAY_DRAW, FALLEN, &[SomeLost, SomeLow, SomeHigh], &[TubeOff], Look::Tubes),
    row(DRAWS, FALLEN, &[Flow::Unknown], &[TornDiaphragm, TubeOff], Look::Pump),
    row(DRAWS, NOT_KNOWN, &[AllNought, AllLow], &[TornDiaphragm, TubeOff, CloggedStone], Look::Pump),
    row(DRAWS, NOT_KNOWN, &[SomeLost], &[CloggedStone, TubeOff], Look::Stone),
    row(DRAWS, NOT_KNOWN, &[SomeLow], &[CloggedStone], Look::Stone),
    row(DRAWS, NOT_KNOWN, &[SomeHigh], &[TubeOff], Look::Tubes),
];

/// The first row that fits, if one does.
///
/// ```
/// use alarms::monitors::{Flow, Level, LineState, Look, read_line};
/// let torn = read_line(Level::Usual, Level::Low, Flow::AllNought).unwrap();
/// assert_eq!((torn.means, torn.look), (&[LineState::TornDiaphragm][..], Look::Pump));
/// assert_eq!(read_line(Level::Usual, Level::Usual, Flow::Usual), None);
/// ```
pub fn read_line(power: Level, pressure: Level, flow: Flow) -> Option<&'static LineRow> {
    ROWS.iter().find(|row| {
        row.power.contains(&power) && row.pressure.contains(&pressure) && row.flow.contains(&flow)
    })
}
