//! Pressure under water, litres of air and bubbles against figures computed elsewhere.
#![allow(clippy::unwrap_used, missing_docs, reason = "test code")]

use sensors_sim::{Fault, GasState, Room, Scenario};
use units::{Quantity, Span, Time};

fn start() -> Time {
    Time::parse_rfc3339("2031-03-14T00:00:00Z").unwrap()
}

/// One tumbler, TU1, on a line without a bleed; `outlet` and `device` are more lines of TOML.
fn room(outlet: &str, device: &str) -> Room {
    let scenario = Scenario::from_toml(&format!(
        "room = 'lab'\n[[tank]]\nvessel = 'V1'\nlitres = 40\n[[outlet]]\nvessel = 'TU1'\n{outlet}\n{device}"
    ));
    Room::new(scenario.unwrap(), 1, start())
}

/// What a check valve holds at the moment in which the pump over a tube of that depth dies, Pa.
fn held_pa(depth_cm: f64) -> f64 {
    let mut room = room(&format!("depth_m = {:?}", depth_cm / 100.0), "");
    room.inject(start(), Fault::PumpDead("P1".into())).unwrap();
    room.advance(start());
    room.truth("air", Quantity::LinePressure).unwrap() * 1000.0
}

/// Source: Pint 0.25.3, conventional centimetre of water. Depth cm, Pa, tolerance.
#[test]
fn a_stopped_line_holds_the_water_over_its_tube() {
    for (depth, pa, tolerance) in [(1.0, 98.066, 0.01), (10.0, 980.665, 0.1), (50.0, 4903.325, 0.5)] {
        assert!((held_pa(depth) - pa).abs() <= tolerance, "{depth} cm: {}", held_pa(depth));
    }
}

/// Source: rho g h at 26 °C with 996.79 kg/m³ (iapws 1.5.5), 3910.06 Pa within 2. The room takes every water for 1000
/// kg/m³: at 26 °C that is 0.32 % too much, and the density is all that differs.
#[test]
fn the_density_is_the_whole_difference_to_warm_water() {
    assert!((held_pa(40.0) * 996.79 / 1000.0 - 3910.06).abs() <= 2.0, "{}", held_pa(40.0));
    assert!((held_pa(40.0) / 3910.06 - 1.0032).abs() < 0.0001);
}

/// Held pressure leaks away with the line's own time: e^-1 of it is left after that.
#[test]
fn held_pressure_leaks_away() {
    let mut room = room("depth_m = 0.3", "");
    room.inject(start(), Fault::PumpDead("P1".into())).unwrap();
    room.advance(start() + Span::minutes(40));
    let left = room.truth("air", Quantity::LinePressure).unwrap();
    assert!((left - 0.3 * 9.806_65 * f64::exp(-1.0)).abs() < 1e-9, "{left}");
}

/// Source: ideal gas at the two states, Pint 0.25.3; the first pair are the STP since 1982 and the NTP.
#[test]
fn litres_are_converted_as_computed_elsewhere() {
    let rows = [
        (1.0, (0.0, 100.0), (20.0, 101.325), 1.05919, 0.0002),
        (1.0, (0.0, 101.325), (26.0, 104.267), 1.06428, 0.0003),
        (0.5, (20.0, 101.325), (26.0, 95.0), 0.5442, 0.0003),
    ];
    let state = |(celsius, kpa)| GasState { celsius, kpa };
    for (litres, from, to, want, tolerance) in rows {
        let got = litres * state(to).litres_of(state(from));
        assert!((got - want).abs() <= tolerance, "{litres} L at {from:?} are {got} at {to:?}");
    }
}

#[test]
fn a_flow_probe_tells_the_litres_that_it_is_set_to() {
    let probe = |more: &str| format!("{{ probe = 'TU1/air-flow', noise = 0, step = 0.0001{more} }}");
    let device = |name: &str, more: &str| {
        format!("[[device]]\nname = '{name}'\nshape = 'senml'\nprobes = [{}]\n", probe(more))
    };
    let both = device("a", "") + &device("b", ", standard_at = { celsius = 0, kpa = 100 }");
    let sent = room("litres_per_minute = 0.6", &both).advance(start() + Span::seconds(10));
    let of = |name: &str| {
        let one = sent.iter().find(|s| &*s.device == name && s.payload.starts_with(b"[")).unwrap();
        let json: serde_json::Value = serde_json::from_slice(&one.payload).unwrap();
        json[0]["v"].as_f64().unwrap() * 60.0
    };
    assert!((of("a") - 0.6).abs() < 1e-9 && (of("a") / of("b") - 1.05919).abs() < 0.0004, "{}", of("b"));
    let refused = both.replace("TU1/air-flow", "V1/temperature").replace("kpa = 100", "kpa = 1");
    let text = format!("room = 'lab'\n[[tank]]\nvessel = 'V1'\nlitres = 40\n{refused}");
    let said = Scenario::from_toml(&text).unwrap_err().to_string();
    assert!(said.contains("standard_at.kpa = 1 is out") && said.contains("litres of air"), "{said}");
}

/// Source: flow over the volume of a sphere, by hand: 0.3 L/min as bubbles of 4 mm is 149.21 a second, within 0.2.
#[test]
fn bubbles_are_counted_as_spheres_of_four_millimetres() {
    let room = room("litres_per_minute = 0.3", "");
    let rate = room.truth("TU1", Quantity::BubbleRate).unwrap();
    assert!((rate - 149.21).abs() <= 0.2, "{rate}");
}
