//! A night with one fault in it: when it was true, and when somebody was called.

use crate::chance::Chance;
use crate::house::{House, Life, Want};
use crate::kinds::{self, Aim, Breaks, Kind, Place, Sign};
use crate::play::{Night, calls, hour};
use crate::quiet::people;
use sensors_sim::{Fault, OutletKind};
use store::AlarmRow;
use units::{Quantity, Span, Time};

/// Steps in which the truth is looked at.
const STEP: Span = Span::seconds(10);

/// What became of one fault.
pub(crate) struct Told {
    pub(crate) kind: &'static str,
    pub(crate) about: String,
    /// When it was true; `None` if that never showed, which is the test's fault.
    pub(crate) truth: Option<Time>,
    /// The first alarm that answers it.
    pub(crate) answer: Option<AlarmRow>,
    /// It must be there this long after the truth.
    pub(crate) within: Span,
    /// What else called after the fault.
    pub(crate) others: Vec<String>,
}

impl Told {
    /// From the truth to the answer; before nought where the service saw it coming.
    pub(crate) fn delay(&self) -> Option<Span> {
        Some(self.answer.as_ref()?.at - self.truth?)
    }

    pub(crate) fn missed(&self) -> bool {
        self.delay().is_none_or(|delay| delay > self.within)
    }
}

/// What the room must be like, so that a kind can show.
fn want(kind: &Kind, first: Life, chance: &mut Chance) -> Want {
    let (slow, wide_filters) = (kind.hours > 2, kind.name.contains("filter"));
    let rhythms: &[i64] = if slow { &[30, 60, 120, 300] } else { &[5, 10, 10, 30, 60, 120, 300] };
    Want {
        // In a small room two filters take the air of all.
        tumblers: chance.count(2, if wide_filters { 4 } else { 6 }),
        every: Span::seconds(chance.pick(rhythms)),
        first,
        batteries: !kind.without_batteries(),
        clocks: kind.name.contains("clock"),
        jars: kind.place == Place::Jar,
        wide_filters,
        // Where a step hides how air pulsates, nobody can tell a probe that sticks from one that does not.
        fine: kind.sticks(),
    }
}

/// How long after the truth it must be told at the latest: the rhythm, the delays and, where a probe has fallen silent,
/// what the service waits for.
fn within(kind: &Kind, every: Span) -> Span {
    let rhythm = |times: f64| Span::from_millis((every.as_seconds() * 1000.0 * times) as i64);
    match (kind.sign, kind.answers) {
        // A probe that repeats itself is known by how often, not by how long: a flow by minutes, water by five.
        _ if kind.sticks() && kind.place == Place::Tank => Span::hours(6),
        _ if kind.sticks() => rhythm(75.0).max(Span::minutes(75)) + Span::minutes(15),
        // Air that fades goes to and fro about the limit for a while: its pulsation is a few parts in a hundred.
        (Sign::Stop, _) if kind.hours > 1 => rhythm(2.3) + Span::minutes(2),
        (Sign::Stop, _) => rhythm(1.15) + Span::seconds(60),
        (Sign::Water, _) => rhythm(2.3) + Span::minutes(5),
        (Sign::Fault, answers) if answers.contains(&"silent") => rhythm(3.5) + Span::minutes(4),
        (Sign::Fault, answers) if answers.contains(&"drifting") => Span::hours(kind.hours),
        (Sign::Fault, _) => rhythm(3.0) + Span::minutes(5),
    }
}

pub(crate) async fn fault_night(seed: u64, number: usize) -> Told {
    let kinds = kinds::all();
    let kind = kinds[number % kinds.len()];
    let first = Life::ALL[number / kinds.len() % 4];
    let mut chance = Chance::new(seed, 1_000 + number);
    let want = want(kind, first, &mut chance);
    let house = House::draw(&want, &mut chance);
    let begins = hour(18.0) + chance.span(Span::ZERO, Span::hours(14));
    let mut night = Night::begin(&house, chance.next(), begins - kind.known()).await;
    people(&mut night.room, &house, &mut chance);
    gaps(&mut night, &house, kind, begins, &mut chance);
    let aim = Aim { tumbler: "TU1".into(), tank: "V1".into(), board: "b1".into() };
    hurt(&mut night, kind, &aim, begins, &mut chance);
    night.to(begins).await;
    night.service.move_to(begins).await.unwrap();
    if matches!(kind.breaks, Breaks::Broker) {
        night.deaf = true;
        night.service.way_in(Some("connection refused"));
    }
    let within = within(kind, want.every);
    let truth = watch(&mut night, &house, kind, begins, within).await;
    let about = format!(
        "number {number}: {:?}, {} tumblers, every {}, {begins}",
        want.first, want.tumblers, want.every
    );
    let called: Vec<AlarmRow> =
        night.end().await.0.into_iter().filter(|r| r.at >= begins && calls(r)).collect();
    let answer = called.iter().find(|row| answers(kind, &row.key)).cloned();
    let others = called.iter().filter(|row| !answers(kind, &row.key)).map(|r| r.key.clone()).collect();
    Told { kind: kind.name, about, truth, answer, within, others }
}

/// Short losses of Wi-Fi before the fault; while it lasts a device is away only where that is the fault.
fn gaps(night: &mut Night, house: &House, kind: &Kind, begins: Time, chance: &mut Chance) {
    for device in house.devices() {
        let lasts = chance.span(Span::seconds(5), Span::minutes(2));
        let at = begins - chance.span(Span::minutes(10), kind.known());
        night.room.inject(at, Fault::WifiLost(device.clone())).unwrap();
        night.room.mend(at + lasts, Fault::WifiLost(device)).unwrap();
    }
}

/// Lets it break at `at`. A probe sticks a while before that: nobody notices until it hides something.
fn hurt(night: &mut Night, kind: &Kind, aim: &Aim, at: Time, chance: &mut Chance) {
    let Breaks::Room(faults) = kind.breaks else { return };
    for fault in faults(aim, chance) {
        let early = matches!(fault, Fault::ProbeStuck(_));
        night.room.inject(if early { at - Span::minutes(15) } else { at }, fault).unwrap();
    }
}

/// Plays on until the truth has shown and its alarm is due, or was there already; when the truth showed.
async fn watch(night: &mut Night, house: &House, kind: &Kind, begins: Time, within: Span) -> Option<Time> {
    let mut truth = (kind.sign == Sign::Fault).then_some(begins);
    let (mut at, end) = (begins, begins + Span::hours(kind.hours));
    while at < truth.map_or(end, |t| end.min(t + within + STEP)) {
        at += STEP;
        night.to(at).await;
        if truth.is_none() && shows(night, house, kind) {
            truth = Some(at);
        }
        let minute = (at - begins).millis() % 60_000 == 0;
        if truth.is_some() && minute && answered(night, kind, begins).await {
            break;
        }
    }
    truth
}

/// Whether it is true by now that something is wrong.
fn shows(night: &Night, house: &House, kind: &Kind) -> bool {
    let flow = |vessel: &str, quantity| night.room.truth(vessel, quantity).unwrap();
    let still = |o: &sensors_sim::OutletPlan| {
        let concerned = kind.place == Place::Anywhere || o.vessel == "TU1";
        concerned
            && o.kind == OutletKind::Tumbler
            && flow(&o.vessel, Quantity::AirFlow) <= o.litres_per_minute / 4.0
    };
    let outside = |t: &sensors_sim::TankPlan| {
        let concerned = kind.place == Place::Anywhere || t.vessel == "V1";
        // The band of `sensors_sim::configuration`.
        concerned && (flow(&t.vessel, Quantity::Temperature) - t.set_point.unwrap()).abs() >= 1.5
    };
    match (kind.sign, kind.place) {
        (Sign::Fault, _) => true,
        (Sign::Water, _) => house.scenario.tanks.iter().any(outside),
        (Sign::Stop, Place::Jar) => {
            flow("JR1", Quantity::WaterFlow) <= house.scenario.jars[0].litres_per_minute / 4.0
        }
        (Sign::Stop, _) => house.scenario.outlets.iter().any(still),
    }
}

/// Whether an alarm that answers has been published since the fault. The log says when; this only ends the play early.
async fn answered(night: &Night, kind: &Kind, begins: Time) -> bool {
    night.service.move_to(night.room.now()).await.unwrap();
    night.service.announcements().iter().filter(|p| p.at >= begins && !p.payload.is_empty()).any(|p| {
        let told: serde_json::Value = serde_json::from_slice(&p.payload).unwrap();
        let all = told["alarms"].as_array().unwrap();
        all.iter().any(|a| a["state"] == "unacknowledged" && answers(kind, a["id"].as_str().unwrap()))
    })
}

/// Whether an alarm of this key answers the fault.
fn answers(kind: &Kind, key: &str) -> bool {
    let Some((vessel, condition)) = key.split_once('.') else { return false };
    let here = match kind.place {
        Place::Tumbler => vessel == "TU1",
        Place::Tank => vessel == "V1",
        Place::Jar => vessel == "JR1",
        Place::Anywhere => true,
    };
    let fits = kind.answers.iter().any(|a| condition == *a || condition.starts_with(&format!("{a}.")));
    let stands_for_it = vessel == "room" || vessel.starts_with("line:") || vessel.starts_with("device:");
    (here || stands_for_it) && fits
}
