//! Tanks against Newton's law of cooling and the figures computed from it elsewhere.
#![allow(clippy::unwrap_used, missing_docs, reason = "test code")]

use sensors_sim::{Happening, Known, Room, Scenario, TankPlan, Truth};
use units::{Quantity, Span, Time};

fn start() -> Time {
    Time::parse_rfc3339("2031-03-14T00:00:00Z").unwrap()
}

/// One tank, V1, in a room of constant temperature, with a heater that is always on or absent.
fn tank(litres: f64, loss_w_per_k: f64, t0: f64, air: f64, watts: f64) -> Room {
    let set_point = if watts > 0.0 { 60.0 } else { t0 };
    let scenario = Scenario::from_toml(&format!(
        "room = 'lab'\n[room_air]\nmean_celsius = {air:?}\nswing_celsius = 0.0\n\
         [[tank]]\nvessel = 'V1'\nlitres = {litres:?}\nset_point = {set_point:?}\nheater_watts = {watts:?}\n\
         loss_w_per_k = {loss_w_per_k:?}\nstart_celsius = {t0:?}\n"
    ));
    Room::new(scenario.unwrap(), 1, start())
}

fn celsius(room: &Room) -> f64 {
    room.truth("V1", Quantity::Temperature).unwrap()
}

fn after(mut room: Room, hours: f64) -> f64 {
    room.advance(start() + Span::from_days(hours / 24.0));
    celsius(&room)
}

/// Source: Newton cooling, numerical integration (scipy 1.17.1, water properties by iapws 1.5.5); loss from assumed
/// U 7.4 / 5 / 2.5 W/m²K for sides, covered top and insulated base. Litres, W/K, start, air, end, hours, tolerance.
#[test]
fn cooling_takes_the_hours_computed_elsewhere() {
    let rows = [
        (40.0, 4.34, 26.0, 20.0, 24.0, 4.3282, 0.0216),
        (150.0, 10.95, 26.0, 20.0, 24.0, 6.4331, 0.0322),
        (115.0, 9.03, 26.0, 15.0, 22.0, 6.6669, 0.0333),
        (150.0, 10.95, 26.0, 15.0, 22.0, 7.1711, 0.0359),
        (40.0, 4.34, 27.0, 18.0, 25.0, 2.6827, 0.0134),
    ];
    for (litres, loss, t0, air, t1, hours, tolerance) in rows {
        let mut room = tank(litres, loss, t0, air, 0.0);
        while celsius(&room) > t1 {
            let next = room.now() + Span::seconds(1);
            room.advance(next);
        }
        let took = (room.now() - start()).as_hours();
        assert!((took - hours).abs() <= tolerance, "{litres} L from {t0}: {took} h");
    }
}

/// Source as above. Litres, W/K, start, air, hours, heater W, end.
#[test]
fn temperatures_after_hours_are_those_computed_elsewhere() {
    let rows = [
        (40.0, 4.34, 26.0, 20.0, 6.0, 0.0, 23.4202),
        (115.0, 9.03, 26.0, 20.0, 12.0, 0.0, 22.6597),
        (2.0, 0.8, 26.0, 20.0, 1.0, 0.0, 24.2478),
        (40.0, 4.34, 26.0, 22.0, 3.0, 100.0, 30.6652),
    ];
    for (litres, loss, t0, air, hours, watts, end) in rows {
        let got = after(tank(litres, loss, t0, air, watts), hours);
        assert!((got - end).abs() <= 0.02, "{litres} L: {got}");
    }
}

/// Source: P = UA (T - T air), by hand: 26.04 W and 120.45 W. At that power the water stays where it is.
#[test]
fn the_holding_power_holds() {
    for (litres, loss, air, watts) in [(40.0, 4.34, 20.0, 26.04), (150.0, 10.95, 15.0, 120.45)] {
        assert!((after(tank(litres, loss, 26.0, air, watts), 100.0) - 26.0).abs() < 1e-6);
        assert!((after(tank(litres, loss, 26.0, air, watts * 1.1), 100.0) - 26.0) > 0.5);
    }
}

/// Source: dT/dt = P / (m cp) without loss, iapws 1.5.5: 300 W in 150 L, 1.7268 °C/h (tolerance 0.0052).
#[test]
fn a_heater_warms_at_the_rate_computed_elsewhere() {
    let rise = after(tank(150.0, 0.0, 26.0, 20.0, 300.0), 1.0) - 26.0;
    assert!((rise - 1.7268).abs() <= 0.0052, "{rise}");
}

/// Newton's law in closed form with the platform's own exponential, over ten thousand steps of the room.
#[test]
fn small_steps_add_up_to_the_closed_form() {
    let tau_h = 90.0 * 4170.0 / 7.5 / 3600.0;
    for hours in [0.5, 3.0, 14.0, 28.0] {
        let want = 20.0 + 7.0 * f64::exp(-hours / tau_h);
        assert!((after(tank(90.0, 7.5, 27.0, 20.0, 0.0), hours) - want).abs() < 1e-9);
    }
}

#[test]
fn the_thermostat_keeps_within_its_hysteresis_and_works() {
    let mut room = Room::new(Scenario::undercroft_cut(), 3, start());
    let mut on = [0_u32; 2];
    let mut at = start();
    while at < start() + Span::days(3) {
        at += Span::minutes(1);
        room.advance(at);
        for (i, (tank, set)) in [("V1", 27.0), ("V2", 28.5)].into_iter().enumerate() {
            let t = room.truth(tank, Quantity::Temperature).unwrap();
            // It looks every ten seconds; in that time the water moves by under 0.01 K.
            assert!((t - set).abs() <= 0.26, "{tank} at {t}");
            on[i] += u32::from(room.truth(tank, Quantity::Power).unwrap() > 0.0);
        }
    }
    // Holding power over heater power: V1 7.5 x 6.5 / 150, V2 9.3 x 8 / 250, of 4320 minutes.
    assert!((f64::from(on[0]) / 4320.0 - 0.325).abs() < 0.03, "{on:?}");
    assert!((f64::from(on[1]) / 4320.0 - 0.298).abs() < 0.03, "{on:?}");
}

/// Source: computed examples for covered glass tanks, sides 7.4, top 5, base 2.5 W/m²K, 4.170 kJ/K a litre. Litres, size m,
/// W/K, time constant h, and the hours from 26 °C to 25, 24 and 22 at 20, 24 and 22 at 15, 22 at 10. They are given to
/// one place; the holding power at 20 °C air is given in whole watts.
#[test]
fn tanks_lose_through_their_glass_what_was_computed_for_them() {
    let rows = [
        (40.0, "0.45, 0.30, 0.30", 4.34, 10.7, [1.9, 4.3, 11.7, 2.1, 4.8, 3.1], 26.0),
        (115.0, "0.80, 0.36, 0.40", 9.03, 14.8, [2.7, 6.0, 16.2, 3.0, 6.7, 4.2], 54.0),
        (150.0, "1.0, 0.375, 0.40", 10.95, 15.9, [2.9, 6.4, 17.4, 3.2, 7.2, 4.6], 66.0),
    ];
    for (litres, size, loss, tau, hours, watts) in rows {
        let plan: TankPlan =
            toml::from_str(&format!("vessel = 'V1'\nlitres = {litres:?}\nsize_m = [{size}]")).unwrap();
        assert!((plan.loss() - loss).abs() < 0.006, "{litres} L: {} W/K", plan.loss());
        assert!((plan.loss() * 6.0 - watts).abs() < 0.51, "{litres} L: holding power");
        let ours = |air: f64, to: f64| -tau_of(&plan, air) * f64::ln((to - air) / (26.0 - air));
        assert!((tau_of(&plan, 20.0) - tau).abs() < 0.051, "{litres} L: tau {}", tau_of(&plan, 20.0));
        let places = [(20.0, 25.0), (20.0, 24.0), (20.0, 22.0), (15.0, 24.0), (15.0, 22.0), (10.0, 22.0)];
        for ((air, to), want) in places.into_iter().zip(hours) {
            assert!((ours(air, to) - want).abs() < 0.051, "{litres} L at {air} to {to}: {}", ours(air, to));
        }
    }
}

/// Time constant, h, from how far the room itself lets the water fall in an hour.
fn tau_of(plan: &TankPlan, air: f64) -> f64 {
    let fell = (after(tank(plan.litres, plan.loss(), 26.0, air, 0.0), 1.0) - air) / (26.0 - air);
    -1.0 / f64::ln(fell)
}

/// Source: hours until food has made an unfiltered tank's ammonia nitrogen reach a limit, scipy 1.17.1. There it comes out
/// at a steady rate, here with a delay after the meal; what comes out of a day's food in all is the same.
#[test]
fn a_days_food_comes_out_as_as_much_ammonia_as_computed_elsewhere() {
    for (litres, grams, protein, from, limit, hours) in [
        (40.0, 1.0, 0.5, 0.0, 1.0, 20.87),
        (115.0, 3.0, 0.45, 0.1, 0.8, 15.556),
        (150.0, 5.0, 0.45, 0.0, 0.87, 15.13),
    ] {
        let text = format!(
            "room = 'lab'\n[[tank]]\nvessel = 'V1'\nlitres = {litres:?}\nfilter_mg_per_h = 0\n\
             [[event]]\nat = '1 min'\nact = {{ feed = {{ tank = 'V1', grams = {grams:?}, protein = {protein:?} }} }}\n"
        );
        let all = ammonia(Room::new(Scenario::from_toml(&text).unwrap(), 1, start()), 72);
        let more = all.last().unwrap() - 0.02; // what a tank begins with
        let want = (limit - from) / hours * 24.0;
        assert!((more - want).abs() <= want * 0.0015, "{litres} L: {more} mg/L, not {want}");
        assert!(all[4] < 0.7 * want && all.is_sorted(), "it takes its time: {all:?}");
    }
}

/// Ammonia nitrogen hour by hour, mg/L.
fn ammonia(mut room: Room, hours: i64) -> Vec<f64> {
    let mut happened = Vec::new();
    room.play(start() + Span::hours(hours), &mut happened);
    let tan = |h| match h {
        Happening::Truth(Truth { what: Known::Water { tan, .. }, .. }) => Some(tan),
        _ => None,
    };
    happened.into_iter().filter_map(tan).collect()
}
