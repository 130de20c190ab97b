//! Nights in which nothing is wrong, with people and devices as they are.

use crate::chance::Chance;
use crate::house::{House, Life, Want};
use crate::play::{Message, Night, calls, hour};
use sensors_sim::{Act, Fault, Known, Lapse, Room, Truth};
use std::collections::BTreeMap;
use std::fmt::Write;
use store::AlarmRow;
use units::{Band, Quantity, Span, Time};

/// What one quiet night brought.
pub(crate) struct Quiet {
    /// Messages that somebody got up for.
    pub(crate) pages: Vec<Message>,
    /// Silences that stood for a while: devices were out of reach, and nobody was called for that.
    pub(crate) silences: Vec<AlarmRow>,
    /// Where the room was not quiet after all: then the test is wrong and not the service.
    pub(crate) unquiet: Vec<String>,
    pub(crate) about: String,
}

/// How often boards measure, night by night.
const EVERY: [i64; 20] = [2, 5, 10, 10, 10, 20, 20, 30, 30, 30, 30, 60, 60, 60, 60, 60, 120, 120, 300, 300];

pub(crate) async fn quiet_night(seed: u64, number: usize) -> Quiet {
    let mut chance = Chance::new(seed, number);
    let every = Span::seconds(EVERY[number % EVERY.len()]);
    // The fastest rhythm is tried on small rooms, so that the whole stays within minutes.
    let most = if every < Span::seconds(10) { 4 } else { 12 };
    let tumblers = chance.count(2, most);
    let first = Life::ALL[number % 4];
    let (clocks, jars, wide_filters, fine) = (false, false, false, false);
    let want = Want { tumblers, every, first, batteries: true, clocks, jars, wide_filters, fine };
    let house = House::draw(&want, &mut chance);
    let mut night = Night::begin(&house, chance.next(), hour(13.0)).await;
    disturb(&mut night.room, &house, &mut chance);
    let mut unquiet = Vec::new();
    let mut at = hour(13.0);
    while at < hour(32.0) {
        at += Span::minutes(5);
        night.to(at).await;
        unquiet.extend(out_of_band(&night.room, &house, at));
    }
    unquiet.extend(stops(&night));
    let about = format!("{tumblers:>2} tumblers, every {:>3} s", every.as_seconds());
    let (log, sent) = night.end().await;
    let pages = sent.into_iter().filter(|m| m.at >= hour(18.0) && m.calls).collect();
    let silent = |row: &AlarmRow| row.at >= hour(18.0) && calls(row) && row.key.contains("silent");
    let silences = log.into_iter().filter(silent).collect();
    Quiet { pages, silences, unquiet, about }
}

/// Water that is really out of its band. The bands are those of `sensors_sim::configuration`.
fn out_of_band(room: &Room, house: &House, at: Time) -> Vec<String> {
    let outside = |tank: &&sensors_sim::TankPlan| {
        let set = tank.set_point.unwrap();
        let truth = room.truth(&tank.vessel, Quantity::Temperature).unwrap();
        !Band { low: set - 1.3, high: set + 1.3 }.contains(truth)
    };
    house
        .scenario
        .tanks
        .iter()
        .filter(outside)
        .map(|t| format!("{} near or out of its band at {at}", t.vessel))
        .collect()
}

/// Eggs that really lay still.
fn stops(night: &Night) -> Vec<String> {
    let still = |t: &&Truth| matches!(t.what, Known::Still { .. });
    night.truths.iter().filter(still).map(|t| format!("{}: {}", t.at, t.what)).collect()
}

/// Everything that happens in a night and needs nobody.
fn disturb(room: &mut Room, house: &House, chance: &mut Chance) {
    let (evening, morning) = (hour(18.0), hour(32.0));
    let moment = |chance: &mut Chance| evening + chance.span(Span::ZERO, morning - evening);
    for device in house.devices() {
        for _ in 0..chance.count(2, 6) {
            let (at, lasts) = (moment(chance), chance.span(Span::seconds(5), Span::minutes(2)));
            spell(room, at, lasts, &Fault::WifiLost(device.clone()));
        }
        if chance.hits(0.3) {
            let (at, lasts) = (moment(chance), chance.span(Span::minutes(2), Span::minutes(15)));
            spell(room, at, lasts, &Fault::WifiLost(device.clone()));
        }
        for _ in 0..chance.count(0, 2) {
            room.let_do(moment(chance), Act::Restart(device.clone())).unwrap();
        }
    }
    for _ in 0..chance.count(1, 4) {
        let draught = Fault::WindowOpen { falls_celsius: chance.between(4.0, 9.0) };
        let (at, lasts) = (moment(chance), chance.span(Span::minutes(2), Span::minutes(15)));
        spell(room, at, lasts, &draught);
    }
    people(room, house, chance);
}

/// Food, water changes of the evening, a lid off.
pub(crate) fn people(room: &mut Room, house: &House, chance: &mut Chance) {
    for plan in &house.scenario.tanks {
        let tank = plan.vessel.clone();
        let evening = hour(18.0) + chance.span(Span::ZERO, Span::hours(3));
        room.let_do(evening, Act::Feed { tank: tank.clone(), grams: 0.3, protein: 0.5 }).unwrap();
        if chance.hits(0.35) {
            let (part, cooler) = (chance.between(0.08, 0.2), chance.between(0.5, 2.5));
            let celsius = plan.set_point.unwrap() - cooler;
            let takes = Lapse::of(chance.span(Span::minutes(5), Span::minutes(25)));
            room.let_do(evening, Act::WaterChange { tank: tank.clone(), part, celsius, takes }).unwrap();
        }
        if chance.hits(0.3) {
            spell(room, evening, chance.span(Span::minutes(5), Span::minutes(25)), &Fault::LidOff(tank));
        }
    }
}

fn spell(room: &mut Room, at: Time, lasts: Span, fault: &Fault) {
    room.inject(at, fault.clone()).unwrap();
    room.mend(at + lasts, fault.clone()).unwrap();
}

/// Every night with what was called in it.
pub(crate) fn told(nights: &[Quiet]) -> String {
    let mut out = String::new();
    for (number, night) in nights.iter().enumerate() {
        let silences = silent(&night.silences);
        writeln!(out, "night {number:>2}: {}, {} silences{silences}", night.about, night.silences.len())
            .unwrap();
        for page in &night.pages {
            writeln!(out, "    PAGE {} {}: {}", page.at, page.about.join(", "), page.text).unwrap();
        }
        night.unquiet.iter().take(3).for_each(|u| writeln!(out, "    not quiet: {u}").unwrap());
    }
    out
}

/// Which probes were called silent, and how often.
fn silent(rows: &[AlarmRow]) -> String {
    let mut times: BTreeMap<String, usize> = BTreeMap::new();
    rows.iter().for_each(|row| *times.entry(row.key.replace(".silent.", "/")).or_default() += 1);
    let each: Vec<String> = times.iter().map(|(probe, n)| format!("{n} {probe}")).collect();
    if each.is_empty() { String::new() } else { format!(": {}", each.join(", ")) }
}
