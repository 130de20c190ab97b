//! Whatever happens to alarms in whatever order: nothing that calls is lost, and a restart changes nothing.
#![allow(clippy::unwrap_used, missing_docs, reason = "test code")]

use alarms::{Alarm, AlarmKey, Condition, Flag, Flagging, Panel, Settings, State, Transition};
use proptest::prelude::*;
use std::collections::{BTreeMap, BTreeSet};
use units::{Quantity, Span, Time, VesselId};

fn tu3() -> VesselId {
    "TU3".parse().unwrap()
}

fn at(s: i64) -> Time {
    Time::from_millis(s * 1000)
}

/// One thing that happens; numbers choose an alarm, a flag and a length in seconds.
#[derive(Debug, Clone)]
enum Event {
    Air(f64),
    Water(f64),
    Told(bool),
    Gone,
    Tick,
    Acknowledge(usize),
    Reset(usize),
    Flag { key: usize, flag: usize, end: Option<i64>, once: bool },
    Unflag(usize, usize),
    Limit(f64),
    Unwatch,
}

fn event() -> impl Strategy<Value = Event> {
    let flag = (0..5_usize, 0..3_usize, proptest::option::of(1..2_000_i64), any::<bool>());
    prop_oneof![
        6 => prop_oneof![Just(0.0), Just(0.16), Just(0.8)].prop_map(Event::Air),
        6 => (275..295_u16).prop_map(|tenths| Event::Water(f64::from(tenths) / 10.0)),
        2 => any::<bool>().prop_map(Event::Told),
        1 => Just(Event::Gone),
        4 => Just(Event::Tick),
        3 => (0..5_usize).prop_map(Event::Acknowledge),
        1 => (0..5_usize).prop_map(Event::Reset),
        4 => flag.prop_map(|(key, flag, end, once)| Event::Flag { key, flag, end, once }),
        2 => (0..5_usize, 0..3_usize).prop_map(|(key, flag)| Event::Unflag(key, flag)),
        1 => prop_oneof![Just(28.0), Just(28.5), Just(29.0)].prop_map(Event::Limit),
        1 => Just(Event::Unwatch),
    ]
}

fn keys() -> [AlarmKey; 5] {
    [
        AlarmKey::at(&tu3(), Condition::AirStopped),
        AlarmKey::at(&tu3(), Condition::TooWarm),
        AlarmKey::at(&tu3(), Condition::TooCold),
        AlarmKey::silent(&tu3(), Quantity::AirFlow),
        AlarmKey::room(Condition::BrokerLost),
    ]
}

/// A room with what its service knows beside the panel: its settings, and what is on disk.
struct Room {
    panel: Panel,
    warm_at: f64,
    latching: bool,
    heard: Time,
    newest: BTreeMap<Quantity, (Time, f64)>,
    disk: BTreeMap<AlarmKey, String>,
}

impl Room {
    fn new(latching: bool) -> Self {
        let (panel, disk) = (Panel::new(), BTreeMap::new());
        let mut room = Self { panel, warm_at: 28.5, latching, heard: at(0), newest: BTreeMap::new(), disk };
        room.watch();
        room
    }

    fn watch(&mut self) {
        let [air, warm, cold, silent, _] = keys();
        let latching = |s| Settings { latching: self.latching, ..s };
        self.panel.watch(air, latching(Settings::air_stopped(0.15)), self.heard);
        self.panel.watch(warm, latching(Settings::too_warm(self.warm_at)), self.heard);
        self.panel.watch(cold, latching(Settings::too_cold(27.8)), self.heard);
        self.panel.watch(silent, Settings::silent(Span::minutes(3)), self.heard);
    }

    fn measured(&mut self, quantity: Quantity, value: f64, now: Time) -> Vec<Transition> {
        self.newest.insert(quantity, (now, value));
        if quantity == Quantity::AirFlow {
            self.heard = now;
        }
        self.panel.reading(&tu3(), quantity, now, value, now)
    }

    /// What moved; an act that is refused moves nothing.
    fn happen(&mut self, event: &Event, now: Time) -> Vec<Transition> {
        let keys = keys();
        match event.clone() {
            Event::Air(value) => self.measured(Quantity::AirFlow, value, now),
            Event::Water(value) => self.measured(Quantity::Temperature, value, now),
            Event::Told(on) => self.panel.set(&keys[4], on, now),
            Event::Gone => {
                self.panel.gone(&tu3(), Quantity::AirFlow, now);
                Vec::new()
            }
            Event::Tick => self.panel.tick(now),
            Event::Acknowledge(key) => self.panel.acknowledge(&keys[key], "keeper", now).unwrap_or_default(),
            Event::Reset(key) => self.panel.reset(&keys[key], now).unwrap_or_default(),
            Event::Flag { key, flag, end, once } => {
                let until = end.map(|s| now + Span::seconds(s));
                let flagging = Flagging { until, once, ..Flagging::new("keeper", "service", now) };
                self.panel.flag(&keys[key], Flag::ALL[flag], flagging).unwrap_or_default()
            }
            Event::Unflag(key, flag) => {
                self.panel.unflag(&keys[key], Flag::ALL[flag], now).unwrap_or_default()
            }
            Event::Limit(limit) => {
                self.warm_at = limit;
                self.watch();
                Vec::new()
            }
            Event::Unwatch => {
                let moved = self.panel.unwatch(&keys[1], now);
                self.watch();
                self.recall(); // as a restart would: the new watch knows the newest reading
                moved
            }
        }
    }

    fn commit(&mut self) {
        for key in self.panel.take_changed() {
            match self.panel.get(&key) {
                Some(alarm) => self.disk.insert(key, serde_json::to_string(alarm).unwrap()),
                None => self.disk.remove(&key),
            };
        }
    }

    fn restart(&mut self) {
        self.panel = Panel::new();
        for json in self.disk.values() {
            self.panel.restore(serde_json::from_str::<Alarm>(json).unwrap());
        }
        self.watch();
        self.recall();
    }

    fn recall(&mut self) {
        for (quantity, (t, value)) in &self.newest {
            self.panel.recall(&tu3(), *quantity, *t, *value);
        }
    }
}

/// Which alarms have called since they stand in sight.
#[derive(Default)]
struct Called(BTreeSet<AlarmKey>);

impl Called {
    fn note(&mut self, moved: &[Transition]) {
        for t in moved {
            if t.flag.is_some() || !t.to.standing() {
                assert!(!t.announce, "{t:?}");
                self.0.remove(&t.key);
            }
            if t.announce {
                assert_eq!(t.to, State::Unacknowledged);
                self.0.insert(t.key.clone());
            }
        }
    }

    fn check(&self, panel: &Panel) {
        for alarm in panel.standing().filter(|a| a.state == State::Unacknowledged) {
            assert!(self.0.contains(&alarm.key) && alarm.announced.is_some(), "never called: {alarm:?}");
        }
    }
}

/// What a watcher who does not look at states sees.
fn calls(moved: &[Transition]) -> Vec<&Transition> {
    moved.iter().filter(|t| t.announce).collect()
}

fn days() -> impl Strategy<Value = Vec<(i64, Event)>> {
    proptest::collection::vec((1..400_i64, event()), 1..120)
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(500))]

    #[test]
    fn what_stands_in_sight_and_unacknowledged_has_called(day in days(), latching in any::<bool>()) {
        let mut room = Room::new(latching);
        let (mut now, mut called) = (at(0), Called::default());
        for (pause, event) in &day {
            now += Span::seconds(*pause);
            called.note(&room.happen(event, now));
            called.check(&room.panel);
            called.note(&room.panel.tick(now));
            called.check(&room.panel);
            prop_assert!(room.panel.next_due().is_none_or(|due| due > now), "due before now");
        }
    }

    /// No flag outlasts its end, and what is beneath one that has ended calls at that moment.
    #[test]
    fn ticks_at_the_times_that_are_due_lose_nothing(day in days(), latching in any::<bool>()) {
        let (mut served, mut eager) = (Room::new(latching), Room::new(latching));
        let mut now = at(0);
        for (pause, event) in &day {
            let then = now + Span::seconds(*pause);
            // An event can leave something that is due already, e.g. a limit that has come nearer.
            let (mut by_due, mut by_second) = (served.panel.tick(now), eager.panel.tick(now));
            while let Some(due) = served.panel.next_due().filter(|due| *due <= then) {
                by_due.extend(served.panel.tick(due));
            }
            while now < then {
                now += Span::seconds(1);
                by_second.extend(eager.panel.tick(now));
            }
            prop_assert_eq!(&by_due, &by_second);
            prop_assert_eq!(served.happen(event, now), eager.happen(event, now));
            let over = |a: &Alarm| a.flags.next_end().is_some_and(|end| end <= now);
            prop_assert!(!served.panel.flagged().any(over));
        }
    }

    #[test]
    fn a_restart_anywhere_gives_the_same_calls(
        day in days(), latching in any::<bool>(), cuts in proptest::collection::vec(0..120_usize, 1..4)
    ) {
        let (mut calm, mut cut) = (Room::new(latching), Room::new(latching));
        let mut now = at(0);
        for (i, (pause, event)) in day.iter().enumerate() {
            if cuts.contains(&i) {
                cut.restart();
            }
            now += Span::seconds(*pause);
            let (a, b) = (calm.panel.tick(now), cut.panel.tick(now));
            prop_assert_eq!(calls(&a), calls(&b));
            let (a, b) = (calm.happen(event, now), cut.happen(event, now));
            prop_assert_eq!(calls(&a), calls(&b));
            prop_assert_eq!(a, b);
            cut.commit();
        }
        let seen = |room: &Room| room.panel.standing().chain(room.panel.flagged()).cloned().collect::<Vec<_>>();
        prop_assert_eq!(seen(&calm), seen(&cut));
    }
}
