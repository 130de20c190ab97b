//! Water leaves its band.

use super::{Kind, Place, Sign, kind};
use sensors_sim::Fault;

const COLD: &[&str] = &["too-cold", "leaving-band", "changing-fast", "drifting"];
const WARM: &[&str] = &["too-warm", "leaving-band", "changing-fast", "drifting"];
const WATER: &[&str] = &["too-warm", "too-cold", "leaving-band", "changing-fast", "drifting"];

const TANK: (Sign, Place) = (Sign::Water, Place::Tank);

pub(super) const KINDS: &[Kind] = &[
    kind("heater dead", |a, _| vec![Fault::HeaterDead(a.tank.clone())], TANK, COLD, 12),
    kind("heater stuck", |a, _| vec![Fault::HeaterStuck(a.tank.clone())], TANK, WARM, 12),
    kind(
        "heater set wrong",
        |a, c| {
            let by_kelvin = c.pick(&[-3.0, 3.0]);
            vec![Fault::HeaterMisset { tank: a.tank.clone(), by_kelvin }]
        },
        TANK,
        WATER,
        12,
    ),
    kind(
        "window open in winter",
        |_, _| vec![Fault::WindowOpen { falls_celsius: 25.0 }],
        (Sign::Water, Place::Anywhere),
        COLD,
        14,
    ),
    kind(
        "cold water runs in",
        |a, c| {
            let (litres_per_minute, celsius) = (c.between(0.5, 2.0), c.between(8.0, 14.0));
            vec![Fault::ColdInflow { tank: a.tank.clone(), litres_per_minute, celsius }]
        },
        TANK,
        COLD,
        4,
    ),
];
