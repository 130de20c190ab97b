//! What stands in a room, who lives in it, and what will happen: the scenario, as TOML.

mod act;
mod air;
mod amounts;
mod check;
mod copies;
mod device;
mod event;
mod fault;
mod fish;
mod gas;
mod jars;
mod names;
mod power;
mod shipped;
mod tank;

pub use act::Act;
pub use air::{LinePlan, OutletKind, OutletPlan, PumpPlan, Role};
pub use device::{ClockPlan, DevicePlan, Glitches, ProbePlan, Shape, Wifi};
pub use event::{Event, Routine};
pub use fault::Fault;
pub use fish::{ClutchPlan, Deaths, LawPlan, Lives};
pub use gas::GasState;
pub use jars::{JarPlan, LoopPlan};
pub use names::UnknownPlace;
pub(crate) use names::{Place, ROUTER};
pub use power::{CircuitPlan, NetworkPlan};
pub use shipped::{Shipped, shipped};
pub use tank::{Cover, Neighbour, RoomAirPlan, TankPlan};

use crate::Lapse;
use serde::{Deserialize, Serialize};
use units::Span;

/// Everything in a room and what will happen in it. Unknown keys are refused; nearly every key has a default.
///
/// ```
/// use sensors_sim::Scenario;
/// let room = Scenario::from_toml(r#"
///     room = "cellar"
///     [[tank]]
///     vessel = "V1"
///     litres = 90
///     set_point = 27.0
///     [[outlet]]
///     vessel = "TU1"
///     [[device]]
///     name = "b1"
///     probes = ["V1/temperature", "TU1/air-flow"]
///     [[event]]
///     at = "day 1 02:17"
///     lasts = "40 min"
///     fault = { air-stop = "TU1" }
/// "#).unwrap();
/// assert_eq!(room.outlets[0].tank.as_deref(), Some("V1"));
/// assert!(Scenario::from_toml("room = 'cellar'\nrooms = 2").unwrap_err().to_string().contains("rooms"));
/// ```
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Scenario {
    /// One line for people.
    #[serde(default)]
    pub about: String,
    /// Name of the room: the second level of its topics.
    pub room: String,
    /// How long it plays where nobody says otherwise.
    #[serde(default = "a_day")]
    pub length: Lapse,
    /// The air around the tanks.
    #[serde(default)]
    pub room_air: RoomAirPlan,
    /// The way from the devices to the broker.
    #[serde(default)]
    pub network: NetworkPlan,
    /// What dies without moving water, and how fast.
    #[serde(default)]
    pub deaths: Deaths,
    /// Circuits of the mains; one called `mains` is always there.
    #[serde(default, rename = "circuit")]
    pub circuits: Vec<CircuitPlan>,
    /// Bodies of water.
    #[serde(default, rename = "tank")]
    pub tanks: Vec<TankPlan>,
    /// Air lines; one called `air` is there if none is named.
    #[serde(default, rename = "line")]
    pub lines: Vec<LinePlan>,
    /// Air pumps; one called `P1` is there if none is named and there are outlets.
    #[serde(default, rename = "pump")]
    pub pumps: Vec<PumpPlan>,
    /// Outlets of air lines: tumblers, filters, stones.
    #[serde(default, rename = "outlet")]
    pub outlets: Vec<OutletPlan>,
    /// Loops of running water that feed jars.
    #[serde(default, rename = "jar_loop")]
    pub loops: Vec<LoopPlan>,
    /// Jars.
    #[serde(default, rename = "jar")]
    pub jars: Vec<JarPlan>,
    /// Publishers.
    #[serde(default, rename = "device")]
    pub devices: Vec<DevicePlan>,
    /// Eggs and young.
    #[serde(default, rename = "clutch")]
    pub clutches: Vec<ClutchPlan>,
    /// What people do day by day.
    #[serde(default, rename = "routine")]
    pub routines: Vec<Routine>,
    /// What happens once.
    #[serde(default, rename = "event")]
    pub events: Vec<Event>,
}

fn a_day() -> Lapse {
    Lapse::of(Span::days(1))
}

/// A scenario that cannot be played.
#[derive(Debug, thiserror::Error)]
pub enum ScenarioError {
    /// Not TOML, a key missing, or one that no scenario has.
    #[error("the scenario cannot be read: {0}")]
    Toml(#[from] toml::de::Error),
    /// It begins from a scenario that is not shipped.
    #[error("base = {0:?} is no scenario that comes with the program; `hatchwarden-sim list` shows them")]
    Base(String),
    /// Values that make no room; all of them, each with field, value and cure.
    #[error("the scenario will not do:\n  {}", .0.join("\n  "))]
    Flaws(Vec<String>),
}

impl Scenario {
    /// Reads and checks a scenario. One that says `base = "NAME"` begins with everything of that shipped one: its own
    /// values replace those of the base, its own lists are added to the base's. A member of a list that says
    /// `copies = 50` stands for fifty, with `{n}` in its text replaced by 01 to 50.
    ///
    /// # Errors
    /// [`ScenarioError`], with every fault that was found.
    pub fn from_toml(text: &str) -> Result<Self, ScenarioError> {
        let mut own: toml::Table = toml::from_str(text)?;
        let base = own.remove("base");
        let mut scenario: Self = if base.is_none() && !copies::are_in(&own) {
            toml::from_str(text)? // from the text itself, so that a fault is shown with its line
        } else {
            let whole =
                base.map_or(Ok(own.clone()), |b| Ok::<_, ScenarioError>(merged(base_of(&b)?, own)))?;
            copies::expand(whole).try_into()?
        };
        scenario.fill_in();
        scenario.check()?;
        Ok(scenario)
    }

    /// Two tanks of the Undercroft: V1 90 L at 27.0 °C with tumblers TU1 to TU3, V2 120 L at 28.5 °C with TU4, a
    /// clutch for each, one pump, devices b1 and b2 with six probes between them, and two nights with the heater of V1 off.
    ///
    /// # Panics
    /// Never: a test reads every shipped scenario.
    pub fn undercroft_cut() -> Self {
        Self::of_ours("undercroft-cut")
    }

    /// The whole Undercroft: 17 tanks, 4 tumblers, 2 jars, thirteen clutches and six weeks of events.
    ///
    /// # Panics
    /// Never: a test reads every shipped scenario.
    pub fn undercroft() -> Self {
        Self::of_ours("undercroft")
    }

    #[expect(clippy::expect_used, reason = "a shipped scenario is read by a test")]
    fn of_ours(name: &str) -> Self {
        let text = shipped(name).expect("it is shipped").text;
        Self::from_toml(&text).expect("a shipped scenario holds together")
    }

    /// Names the things that need no mention: the air line and its pump, and the tank that an outlet hangs in.
    fn fill_in(&mut self) {
        if !self.outlets.is_empty() && self.lines.is_empty() {
            self.lines.push(LinePlan::default());
        }
        if !self.outlets.is_empty() && self.pumps.is_empty() {
            self.pumps.push(PumpPlan::default());
        }
        let line = self.lines.first().map(|l| l.name.clone()).unwrap_or_default();
        for named in
            self.pumps.iter_mut().map(|p| &mut p.line).chain(self.outlets.iter_mut().map(|o| &mut o.line))
        {
            named.get_or_insert_with(|| line.clone());
        }
        let tank = self.tanks.first().map(|t| t.vessel.clone());
        for host in
            self.outlets.iter_mut().map(|o| &mut o.tank).chain(self.loops.iter_mut().map(|l| &mut l.tank))
        {
            *host = host.take().or_else(|| tank.clone());
        }
        let jar_loop = self.loops.first().map(|l| l.name.clone());
        for jar in &mut self.jars {
            jar.jar_loop = jar.jar_loop.take().or_else(|| jar_loop.clone());
        }
    }
}

/// A shipped scenario with everything of its own base, which no shipped one has in a circle.
fn base_of(name: &toml::Value) -> Result<toml::Table, ScenarioError> {
    let unknown = || ScenarioError::Base(name.as_str().map_or_else(|| name.to_string(), str::to_owned));
    let base = name.as_str().and_then(shipped).ok_or_else(unknown)?;
    let mut own: toml::Table = toml::from_str(&base.text)?;
    match own.remove("base") {
        None => Ok(own),
        Some(further) => Ok(merged(base_of(&further)?, own)),
    }
}

fn merged(mut base: toml::Table, own: toml::Table) -> toml::Table {
    for (key, value) in own {
        match (base.get_mut(&key), value) {
            (Some(toml::Value::Array(all)), toml::Value::Array(more)) => all.extend(more),
            (Some(toml::Value::Table(all)), toml::Value::Table(more)) => all.extend(more),
            (_, value) => {
                base.insert(key, value);
            }
        }
    }
    base
}
