//! Corners: what happens twice, at once, or not as planned.
#![allow(clippy::unwrap_used, missing_docs, reason = "test code")]

use sensors_sim::{Act, Fault, Known, Lapse, Moment, Room, Scenario, configuration, story};
use units::{Quantity, Span, Time};

fn start() -> Time {
    Time::parse_rfc3339("2031-03-14T00:00:00Z").unwrap()
}

fn room(text: &str) -> Room {
    let text = format!("room = \"corner\"\n{text}");
    Room::new(Scenario::from_toml(&text).unwrap(), 1, start())
}

const AIR: &str = "tank = [{ vessel = \"V1\", litres = 60, set_point = 26 }]\n\
                   outlet = [{ vessel = \"TU1\" }, { vessel = \"TU2\", depth_m = 0.2 }]\n";

fn pressure(room: &Room, of: &str) -> f64 {
    room.truth(of, Quantity::LinePressure).unwrap()
}

fn after(room: &mut Room, minutes: i64) {
    let to = room.now() + Span::minutes(minutes);
    room.advance(to);
}

#[test]
fn a_line_without_anything_to_feed_stands_still() {
    let mut room = room(
        "tank = [{ vessel = \"V1\", litres = 60 }]\nline = [{ bleed_litres_per_minute = 0 }]\npump = [{}]",
    );
    after(&mut room, 5);
    assert_eq!(pressure(&room, "air"), 0.0);
}

#[test]
fn a_stone_that_is_shut_holds_the_pressure_of_the_manifold() {
    for stone in ["1.0", "0.0"] {
        let mut room = room(&AIR.replace("\"TU1\"", &format!("\"TU1\", stone_kpa = {stone}")));
        let sound = pressure(&room, "TU1");
        let clog = |part| Fault::Clog { outlet: "TU1".into(), part, over: Lapse::of(Span::ZERO) };
        room.inject(start(), clog(0.99)).unwrap();
        after(&mut room, 1);
        let nearly = pressure(&room, "TU1");
        room.inject(start(), clog(1.0)).unwrap();
        after(&mut room, 1);
        let shut = pressure(&room, "TU1");
        assert!(sound <= nearly && nearly < shut + 1e-9 && shut > 7.9, "{sound} {nearly} {shut}");
        assert_eq!(room.truth("TU1", Quantity::AirFlow), Some(0.0));
    }
}

#[test]
fn pressure_that_is_gone_does_not_come_back() {
    let mut room = room(AIR);
    let stuck = Fault::CheckValveStuck("air".into());
    room.inject(start(), stuck.clone()).unwrap();
    room.inject(start(), Fault::PumpDead("P1".into())).unwrap();
    after(&mut room, 1);
    assert_eq!((pressure(&room, "air"), room.truth("V1", Quantity::LeakSwitch)), (0.0, Some(0.0)));
    room.mend(start(), stuck).unwrap();
    after(&mut room, 1);
    assert_eq!(pressure(&room, "air"), 0.0);
}

#[test]
fn a_tube_that_comes_off_lets_held_pressure_out() {
    let mut room = room(AIR);
    room.inject(start(), Fault::PumpDead("P1".into())).unwrap();
    after(&mut room, 1);
    // The shallowest: 0.2 m of water.
    assert!((pressure(&room, "air") - 1.96).abs() < 0.1, "{}", pressure(&room, "air"));
    room.inject(start(), Fault::TubeOff("TU1".into())).unwrap();
    after(&mut room, 1);
    assert_eq!(pressure(&room, "air"), 0.0);
}

#[test]
fn without_a_check_valve_the_floor_gets_wet() {
    let mut room = room(&format!("{AIR}line = [{{ check_valve = false }}]"));
    assert_eq!(room.truth("V1", Quantity::LeakSwitch), Some(1.0));
    room.inject(start(), Fault::PumpDead("P1".into())).unwrap();
    after(&mut room, 1);
    assert_eq!((pressure(&room, "air"), room.truth("V1", Quantity::LeakSwitch)), (0.0, Some(0.0)));
}

#[test]
fn two_main_pumps_share_what_one_would_give() {
    let one = room(AIR);
    let mut two = room(&format!("{AIR}pump = [{{}}, {{ name = \"P2\" }}]"));
    assert_eq!(pressure(&one, "air"), pressure(&two, "air"));
    two.inject(start(), Fault::PumpDead("P2".into())).unwrap();
    after(&mut two, 1);
    assert!(pressure(&two, "air") < 0.8 * pressure(&one, "air") && pressure(&two, "air") > 3.0);
}

#[test]
fn batteries_help_where_a_plug_is_pulled() {
    let mut room = room(&format!(
        "{AIR}pump = [{{}}, {{ name = \"B1\", role = \"battery\", battery = \"30 min\", feeds = [\"TU1\"] }}]\n\
         device = [{{ name = \"b1\", battery = \"10 min\", every = \"1 min\", probes = [\"V1/temperature\"] }}]"
    ));
    room.inject(start(), Fault::Unplugged("b1".into())).unwrap();
    let heard =
        room.advance(start() + Span::hours(1)).iter().filter(|s| s.topic.ends_with("temperature")).count();
    assert!((9..=11).contains(&heard), "{heard}");
    room.inject(start(), Fault::Unplugged("B1".into())).unwrap();
    room.inject(start(), Fault::PumpDead("P1".into())).unwrap();
    after(&mut room, 5);
    assert!(
        room.truth("TU1", Quantity::AirFlow).unwrap() > 0.2
            && room.truth("TU2", Quantity::AirFlow) == Some(0.0)
    );
    after(&mut room, 30);
    assert_eq!(room.truth("TU1", Quantity::AirFlow), Some(0.0));
}

#[test]
fn neighbours_that_name_each_other_are_counted_once() {
    let cooled = |both: bool| {
        let other = if both { ", neighbour = [{ tank = \"V1\", w_per_k = 3.0 }]" } else { "" };
        let mut room = room(&format!(
            "tank = [{{ vessel = \"V1\", litres = 40, start_celsius = 30, neighbour = [{{ tank = \"V2\", w_per_k = 3.0 }}] }},\n\
             {{ vessel = \"V2\", litres = 40, start_celsius = 20{other} }}]"
        ));
        after(&mut room, 120);
        room.truth("V1", Quantity::Temperature).unwrap()
    };
    assert_eq!(cooled(false), cooled(true));
}

#[test]
fn two_water_changes_at_once_leave_the_tank_full() {
    let mut room = room(AIR);
    let change = |part| Act::WaterChange {
        tank: "V1".into(),
        part,
        celsius: 24.0,
        takes: Lapse::of(Span::minutes(12)),
    };
    room.let_do(start(), change(0.4)).unwrap();
    room.let_do(start() + Span::minutes(5), change(0.2)).unwrap();
    let inflow = Fault::ColdInflow { tank: "V1".into(), litres_per_minute: 1.0, celsius: 20.0 };
    room.inject(start() + Span::minutes(8), inflow).unwrap();
    after(&mut room, 40);
    let level = room.truth("V1", Quantity::Level).unwrap();
    assert!((level - 100.0).abs() < 0.01, "{level}");
}

#[test]
fn drift_takes_no_flow_under_nothing() {
    let mut room = room(&format!(
        "{AIR}device = [{{ name = \"b1\", shape = \"plain\", probes = [\"TU1/air-flow\"] }}]\n\
         event = [{{ at = \"day 1 00:00\", fault = {{ probe-drift = {{ probe = \"TU1/air-flow\", per_day = -9.0 }} }} }}]"
    ));
    let sent = room.advance(start() + Span::hours(6));
    assert_eq!(sent.last().unwrap().payload, b"0.00");
}

#[test]
fn what_cannot_be_played_is_refused_with_the_cure() {
    let said =
        |more: &str| Scenario::from_toml(&format!("room = \"corner\"\n{AIR}{more}")).unwrap_err().to_string();
    let stop = |at: &str, lasts: &str| {
        format!("[[event]]\nat = \"{at}\"\nlasts = \"{lasts}\"\nfault = {{ air-stop = \"TU1\" }}\n")
    };
    assert!(said(&stop("day -1 00:00", "1 h")).contains("before the start"));
    let twice = stop("day 1 01:00", "2 h") + &stop("day 1 02:00", "3 h");
    assert!(said(&twice).contains("holds already"));
    assert!(said("[deaths]\noxygen_half_life_min = -1\n").contains("deaths.oxygen_half_life_min = -1"));
    let near = "tank = [{ vessel = \"A\", litres = 1, neighbour = [{ tank = \"B\", w_per_k = 900 }] }, { vessel = \"B\", litres = 1 }]";
    let flaw = Scenario::from_toml(&format!("room = \"c\"\n{near}")).unwrap_err().to_string();
    assert!(flaw.contains("neighbour.w_per_k = 900"), "{flaw}");
}

#[test]
fn a_shipped_scenario_that_has_a_base_is_a_base_itself() {
    let scenario = Scenario::from_toml("base = \"fault-wifi\"\nlength = \"2 h\"").unwrap();
    assert!(!scenario.events.is_empty() && scenario.tanks.len() == 1);
}

#[test]
fn nobody_dies_before_it_is_laid_and_losses_are_told_in_order() {
    let text = format!(
        "room = \"corner\"\nlength = \"2 d\"\n{AIR}\
         clutch = [{{ name = \"C1\", laid = \"day 1 12:00\", in = \"TU1\", eggs = 300 }}]\n\
         event = [{{ at = \"day 1 01:00\", act = {{ dies = {{ clutch = \"C1\", count = 9, why = \"early\" }} }} }},\n\
         {{ at = \"day 2 01:10\", act = {{ dies = {{ clutch = \"C1\", count = 9, why = \"picked\" }} }} }},\n\
         {{ at = \"day 1 20:00\", fault = {{ air-stop = \"TU1\" }} }}]\n"
    );
    let mut left = Vec::new();
    story::tell(&Scenario::from_toml(&text).unwrap(), 1, start(), |_: Moment, truth| {
        if let Known::Fewer { alive, why, .. } = &truth.what {
            assert_ne!(why, "early");
            left.push(*alive);
        }
    });
    assert!(left.len() > 3 && left.is_sorted_by(|a, b| a > b), "{left:?}");
}

#[test]
fn a_filter_is_measured_but_not_watched() {
    let text = "room = \"corner\"\ntank = [{ vessel = \"V1\", litres = 60 }]\n\
                outlet = [{ vessel = \"F1\", kind = \"filter\" }, { vessel = \"TU1\", litres_per_minute = 0.01 }]\n\
                device = [{ name = \"b1\", probes = [\"F1/air-flow\", \"TU1/air-flow\"] }]";
    let text = configuration(&Scenario::from_toml(text).unwrap());
    assert!(text.contains("TU1/air-flow") && !text.contains("F1/air-flow"), "{text}");
    assert!(text.contains("still_at = 0.01"), "{text}");
}
