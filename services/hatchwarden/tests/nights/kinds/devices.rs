//! Probes lie, devices and the way to them are lost.

use super::{Breaks, Kind, Place, Sign, kind, probe};
use sensors_sim::Fault;

const AIR: &[&str] = &["air-stopped", "air-weak", "line-fault"];
const PROBE: &[&str] = &["silent", "implausible"];
const OUT_OF_WATER: &[&str] = &["too-cold", "changing-fast", "implausible"];
const DRIFTS: &[&str] = &["too-warm", "too-cold", "leaving-band", "drifting", "implausible"];
const STUCK: &[&str] = &["implausible"];
const DEVICE: &[&str] = &["silent"];
const BROKER: &[&str] = &["broker-lost"];

const TUMBLER: (Sign, Place) = (Sign::Fault, Place::Tumbler);
const TANK: (Sign, Place) = (Sign::Fault, Place::Tank);

pub(super) const KINDS: &[Kind] = &[
    kind(
        "flow probe stuck, air stops",
        |a, _| vec![Fault::ProbeStuck(probe(&a.tumbler, "air-flow")), Fault::AirStop(a.tumbler.clone())],
        (Sign::Stop, Place::Tumbler),
        STUCK,
        8,
    ),
    kind("flow probe off", |a, _| vec![Fault::ProbeOff(probe(&a.tumbler, "air-flow"))], TUMBLER, PROBE, 1),
    kind("thermometer off", |a, _| vec![Fault::ProbeOff(probe(&a.tank, "temperature"))], TANK, PROBE, 1),
    kind("thermometer says 85.0", |a, _| vec![Fault::PowerOnValue(a.tank.clone())], TANK, PROBE, 1),
    kind(
        "thermometer out of the water",
        |a, _| vec![Fault::ProbeInAir(probe(&a.tank, "temperature"))],
        TANK,
        OUT_OF_WATER,
        1,
    ),
    // Faster than any real one, so that it shows within a night.
    kind(
        "thermometer drifts",
        |a, c| {
            let per_day = c.pick(&[-12.0, 12.0]);
            vec![Fault::ProbeDrift { probe: probe(&a.tank, "temperature"), per_day }]
        },
        TANK,
        DRIFTS,
        5,
    ),
    kind(
        "thermometer stuck, heater dead",
        |a, _| vec![Fault::ProbeStuck(probe(&a.tank, "temperature")), Fault::HeaterDead(a.tank.clone())],
        TANK,
        STUCK,
        8,
    ),
    kind("board unplugged", |a, _| vec![Fault::Unplugged(a.board.clone())], TUMBLER, DEVICE, 1),
    kind("board hangs", |a, _| vec![Fault::Silent(a.board.clone())], TUMBLER, DEVICE, 1),
    kind("Wi-Fi lost", |a, _| vec![Fault::WifiLost(a.board.clone())], TUMBLER, DEVICE, 1),
    kind("Wi-Fi of the room lost", |_, _| vec![Fault::RoomWifiLost], TUMBLER, DEVICE, 1),
    kind("router unplugged", |_, _| vec![Fault::Unplugged("router".to_owned())], TUMBLER, DEVICE, 1),
    kind(
        "clock of a board set back, air stops",
        |a, _| {
            vec![
                Fault::ClockJump { device: a.board.clone(), by_s: -86_400.0 },
                Fault::AirStop(a.tumbler.clone()),
            ]
        },
        TUMBLER,
        AIR,
        1,
    ),
    Kind {
        name: "broker away",
        breaks: Breaks::Broker,
        sign: Sign::Fault,
        place: Place::Anywhere,
        answers: BROKER,
        hours: 1,
    },
];
