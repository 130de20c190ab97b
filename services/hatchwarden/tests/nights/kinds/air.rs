//! Air and running water stop.

use super::{Kind, Place, Sign, kind, slowly};
use sensors_sim::Fault;

const AIR: &[&str] = &["air-stopped", "air-weak", "line-fault"];
const AIR_OF_ALL: &[&str] = &["air-stopped", "air-weak", "line-fault", "power-cut"];
const POWER: &[&str] = &["air-stopped", "line-fault", "power-cut", "silent"];

const TUMBLER: (Sign, Place) = (Sign::Stop, Place::Tumbler);
const EVERYWHERE: (Sign, Place) = (Sign::Stop, Place::Anywhere);
const JAR: (Sign, Place) = (Sign::Stop, Place::Jar);

fn air() -> String {
    "air".to_owned()
}

fn line() -> String {
    "line".to_owned()
}

fn pump() -> String {
    "P1".to_owned()
}

pub(super) const KINDS: &[Kind] = &[
    kind("tube kinked", |a, _| vec![Fault::AirStop(a.tumbler.clone())], TUMBLER, AIR, 1),
    kind(
        "stone clogs",
        |a, c| vec![Fault::Clog { outlet: a.tumbler.clone(), part: 0.98, over: slowly(c) }],
        TUMBLER,
        AIR,
        2,
    ),
    kind(
        "valve creeps shut",
        |a, c| vec![Fault::ValveCreep { outlet: a.tumbler.clone(), part: 0.98, over: slowly(c) }],
        TUMBLER,
        AIR,
        2,
    ),
    kind("hose off before the probe", |a, _| vec![Fault::TubeOff(a.tumbler.clone())], TUMBLER, AIR, 1),
    kind(
        "hose off behind the probe",
        |a, _| vec![Fault::TubeOffAfter(a.tumbler.clone())],
        (Sign::Fault, Place::Tumbler),
        &["air-strong"],
        1,
    ),
    kind(
        "filters opened too far",
        |_, _| ["F10", "F11"].map(|f| Fault::Opened { outlet: f.to_owned(), times: 60.0 }).to_vec(),
        EVERYWHERE,
        AIR,
        1,
    ),
    kind("manifold split", |_, _| vec![Fault::LineBurst(line())], EVERYWHERE, AIR_OF_ALL, 1),
    kind("pump dead", |_, _| vec![Fault::PumpDead(pump())], EVERYWHERE, AIR_OF_ALL, 1),
    kind(
        "pump dead, check valve leaks",
        |_, _| vec![Fault::CheckValveStuck(line()), Fault::PumpDead(pump())],
        EVERYWHERE,
        AIR_OF_ALL,
        1,
    ),
    kind("diaphragm torn", |_, _| vec![Fault::DiaphragmTorn(pump())], EVERYWHERE, AIR_OF_ALL, 1),
    kind(
        "pump grows weak",
        |_, c| vec![Fault::PumpWeak { pump: pump(), part: 0.97, over: slowly(c) }],
        EVERYWHERE,
        AIR_OF_ALL,
        2,
    ),
    kind("pump unplugged", |_, _| vec![Fault::Unplugged(pump())], EVERYWHERE, AIR_OF_ALL, 1),
    kind("fuse of the air", |_, _| vec![Fault::CircuitOff(air())], EVERYWHERE, AIR_OF_ALL, 1),
    kind(
        "fault-current switch",
        |_, _| vec![Fault::FaultCurrent("rcd".to_owned())],
        EVERYWHERE,
        AIR_OF_ALL,
        1,
    ),
    kind("power cut, boards live", |_, _| vec![Fault::GridOff], EVERYWHERE, POWER, 1),
    kind("power cut, boards dead", |_, _| vec![Fault::GridOff], (Sign::Fault, Place::Anywhere), POWER, 1),
    kind("pump of the jars dead", |_, _| vec![Fault::LoopPumpDead("header".to_owned())], JAR, AIR, 2),
    kind(
        "strainer blocked",
        |_, c| {
            let (jar_loop, over) = ("header".to_owned(), slowly(c));
            vec![Fault::StrainerBlocked { jar_loop, part: 1.0, over }]
        },
        JAR,
        AIR,
        4,
    ),
];
