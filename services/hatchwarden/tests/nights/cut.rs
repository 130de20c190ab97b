//! A power cut in a room of forty probes: one cause, and so one call.

use crate::house::{House, Life};
use crate::play::{Message, Night, calls, noon};
use sensors_sim::{Fault, Scenario};
use std::fmt::Write;
use store::AlarmRow;
use units::Span;

const TUMBLERS: usize = 16;
/// Tumblers, the one first that has the least time without air (`alarms::Deadlines`): hatched, then the others. That eggs have
/// eyes is known to nobody but who has looked, and in this room nobody has.
const MOST_URGENT: [Life; 4] = [Life::Hatched, Life::Eyed, Life::Egg, Life::Swimming];

/// Sixteen tumblers of all stages in four tanks, on four boards: flow and pressure of each, and the water; mains, floor,
/// air and power.
fn house(batteries: bool) -> House {
    let battery = if batteries { "6 h" } else { "0 s" };
    let mut text = format!("room = 'forty'\n[network]\nbattery = '{battery}'\n");
    let mut clutches = Vec::new();
    for t in 1..=4 {
        writeln!(text, "[[tank]]\nvessel = 'V{t}'\nlitres = 120\nset_point = 27.0").unwrap();
    }
    for n in 1..=TUMBLERS {
        let (life, tank) = (Life::ALL[n % 4], n.div_ceil(4));
        writeln!(text, "[[outlet]]\nvessel = 'TU{n}'\ntank = 'V{tank}'").unwrap();
        writeln!(text, "[[clutch]]\nname = 'C{n}'\nlaid = 'day {} 00:00'", 1 - life.days()).unwrap();
        writeln!(text, "in = 'TU{n}'\neggs = 30").unwrap();
        clutches.push((format!("TU{n}"), life));
    }
    for t in 1..=4 {
        let flows = (1..=4).map(|i| 4 * (t - 1) + i);
        let probes: Vec<String> = flows.map(|n| format!("'TU{n}/air-flow', 'TU{n}/line-pressure'")).collect();
        writeln!(text, "[[device]]\nname = 'b{t}'\nevery = '10 s'\nbattery = '{battery}'").unwrap();
        writeln!(text, "probes = ['V{t}/temperature', {}]", probes.join(", ")).unwrap();
    }
    writeln!(text, "[[device]]\nname = 'hall'\nevery = '30 s'\nbattery = '{battery}'").unwrap();
    writeln!(text, "probes = ['V1/mains-switch', 'V1/leak-switch', 'V1/room-temperature',").unwrap();
    writeln!(text, "{{ probe = 'V1/power/p1', of = 'P1' }}]").unwrap();
    House { scenario: Scenario::from_toml(&text).unwrap(), clutches }
}

/// What is raised in the first ten minutes of a power cut, after an hour without one, and what one person is sent.
async fn called(batteries: bool) -> (Vec<AlarmRow>, Vec<Message>) {
    let house = house(batteries);
    let probes: usize = house.scenario.devices.iter().map(|d| d.probes.len()).sum();
    assert_eq!(probes, 40);
    let cut = noon() + Span::hours(1);
    let mut night = Night::begin(&house, 7, noon()).await;
    night.room.inject(cut, Fault::GridOff).unwrap();
    night.to(cut + Span::minutes(10)).await;
    let (log, sent) = night.end().await;
    (log.into_iter().filter(|row| row.at >= cut && calls(row)).collect(), sent)
}

/// One call, in which every tumbler is named and none before one that has less time.
fn is_one_call((called, sent): (Vec<AlarmRow>, Vec<Message>), house: &House) {
    let first = &sent[0];
    assert_eq!(first.about, [called[0].key.as_str()], "{}", first.text);
    assert!(sent.iter().all(|m| m.about == first.about), "one cause, and it calls again: {}", sent.len());
    let keys: Vec<&str> = called.iter().map(|row| row.key.as_str()).collect();
    assert_eq!(called.len(), 1, "{} calls: {}", keys.len(), keys.join(", "));
    let words: Vec<&str> = called[0].text.split(|c: char| !c.is_ascii_alphanumeric()).collect();
    let place = |vessel: &str| words.iter().position(|w| *w == vessel);
    let rank = |life: Life| MOST_URGENT.iter().position(|l| *l == life).map(|r| r.min(1));
    let mut named: Vec<_> = house.clutches.iter().map(|(v, life)| (place(v), rank(*life), v)).collect();
    named.sort_unstable();
    assert!(named[0].0.is_some(), "{} is not named in {:?}", named[0].2, called[0].text);
    assert!(named.is_sorted_by_key(|n| n.1), "not by urgency: {:?}", called[0].text);
}

#[tokio::test]
async fn a_power_cut_that_silences_forty_probes_is_one_call() {
    is_one_call(called(false).await, &house(false));
}

#[tokio::test]
async fn a_power_cut_that_a_mains_switch_tells_is_one_call() {
    is_one_call(called(true).await, &house(true));
}
