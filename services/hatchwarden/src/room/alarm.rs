//! What the alarms of the room watch, say, keep and announce.

use super::{Announcement, Outcome, Room, is_witness};
use alarms::{Alarm, AlarmKey, Cause, Condition, Flag, Place, Settings, Transition};
use readings::Sender;
use std::collections::BTreeSet;
use store::AlarmRow;
use units::{ProbeKey, Quantity, Time, VesselId, VesselKind};
use web::view::{AlarmClutch, AlarmView, ShelvedView};

impl Room {
    /// Watches everything that a probe that has been heard can tell.
    pub(super) fn watch_all(&mut self, now: Time) {
        let heard: Vec<(ProbeKey, Time)> = self
            .newest_fresh
            .iter()
            .filter(|(p, _)| p.mark.is_none())
            .map(|(p, t)| (p.clone(), *t))
            .collect();
        for (probe, newest) in heard {
            // After a long stop of the service silence counts from now: devices need a moment to come back.
            let patience = self.silent_after(&probe);
            self.watch(&probe, if now - newest < patience { newest } else { now });
            self.recall(&probe); // what is watched anew knows the newest reading, as it would after a restart
        }
    }

    /// Watches what one probe can tell; nothing happens when it is watched already. Silence counts from `heard`.
    pub(super) fn watch(&mut self, probe: &ProbeKey, heard: Time) {
        for (key, settings) in self.watches(probe) {
            let shares = self.shared_cause(&key, probe);
            self.panel.watch(key.clone(), settings, heard);
            self.panel.shares(&key, shares);
        }
    }

    /// With what an alarm shares causes: silence with the device, if one is known; still air with its line.
    fn shared_cause(&self, key: &AlarmKey, probe: &ProbeKey) -> Option<Place> {
        match key.condition {
            Condition::Silent => match &self.hearing.get(probe)?.sender {
                Sender::Device(name) => Some(Place::Device(name.clone())),
                Sender::Vessel | Sender::Unknown => None,
            },
            Condition::AirStopped => {
                self.setup.vessel(&probe.vessel).map(|vessel| Place::Line(vessel.air_line.clone()))
            }
            _ => None,
        }
    }

    fn watches(&self, probe: &ProbeKey) -> Vec<(AlarmKey, Settings)> {
        let Some(vessel) = self.setup.vessel(&probe.vessel) else { return Vec::new() };
        let at = |condition| AlarmKey::at(&vessel.id, condition);
        let mut watches =
            vec![(AlarmKey::silent(&vessel.id, probe.quantity), Settings::silent(self.silent_after(probe)))];
        match (probe.quantity, vessel.kind) {
            (Quantity::Temperature, _) => {
                if let Some(band) = vessel.band {
                    let tuned = |s| vessel.tuning.band(s);
                    watches.push((at(Condition::LeavingBand), Settings::leaving_band()));
                    watches.push((at(Condition::TooWarm), tuned(Settings::too_warm(band.high))));
                    watches.push((at(Condition::TooCold), tuned(Settings::too_cold(band.low))));
                }
            }
            // A tumbler that holds no clutch may stand still.
            (quantity, VesselKind::Tumbler | VesselKind::Jar)
                if is_witness(quantity) && self.holds(&vessel.id) =>
            {
                let settings = vessel.tuning.still(Settings::air_stopped(vessel.still_at));
                watches.push((at(Condition::AirStopped), settings));
            }
            (Quantity::MainsSwitch, _) => watches.push((at(Condition::PowerCut), Settings::power_cut())),
            (Quantity::LeakSwitch, _) => watches.push((at(Condition::Leak), Settings::leak())),
            _ => {}
        }
        watches.extend(self.monitored(probe));
        watches
    }

    pub(super) fn holds(&self, vessel: &VesselId) -> bool {
        self.setup.vessel(vessel).is_some_and(|v| v.always) || self.account.in_vessel(vessel).next().is_some()
    }

    /// Ends the air watch of tumblers that hold no clutch any more.
    pub(super) fn unwatch_empty(&mut self, now: Time, out: &mut Outcome) {
        let empty: Vec<VesselId> =
            self.setup.vessels.iter().map(|v| v.id.clone()).filter(|v| !self.holds(v)).collect();
        let of_air = [Condition::AirStopped, Condition::AirWeak, Condition::AirStrong];
        for key in empty.iter().flat_map(|vessel| of_air.map(|air| AlarmKey::at(vessel, air))) {
            self.unwatch(&key, now, out);
        }
    }

    /// Ends a watch; whoever was called for it is told.
    fn unwatch(&mut self, key: &AlarmKey, now: Time, out: &mut Outcome) {
        let stood = self.panel.get(key).map(|alarm| self.alarm_view(alarm, now));
        let moved = self.panel.unwatch(key, now);
        self.note_transitions(&moved, now, out);
        let Some((t, stood)) = moved.iter().find(|t| t.key == *key).zip(stood) else { return };
        if stood.standing {
            let (state, text) = (t.to.word().to_owned(), unwatched(key));
            self.call_for(t, &AlarmView { state, text, standing: false, ended: Some(t.at), ..stood }, out);
        } else {
            self.forget_call(key); // who was told that it is over need not be told twice
        }
    }

    /// The store fails, or works again.
    pub fn store_failing(&mut self, error: Option<&str>, now: Time, out: &mut Outcome) {
        self.trouble(Condition::CannotStore, error, now, out);
    }

    /// The broker is away, or back.
    pub fn broker_lost(&mut self, reason: Option<&str>, now: Time, out: &mut Outcome) {
        self.trouble(Condition::BrokerLost, reason, now, out);
    }

    /// So many messages wait, of so many that may.
    pub fn waiting(&mut self, messages: usize, of: usize, now: Time, out: &mut Outcome) {
        let key = AlarmKey::room(Condition::FallingBehind);
        self.panel.watch(key.clone(), Settings::falling_behind(), now);
        self.troubles.insert(key.clone(), format!("{messages} messages wait"));
        let moved = self.panel.derived(key, now, messages as f64 / of.max(1) as f64, now);
        self.note_transitions(&moved, now, out);
    }

    /// Whether messages have piled up, until it is known that they do not any more.
    pub fn falls_behind(&self) -> bool {
        let key = AlarmKey::room(Condition::FallingBehind);
        self.panel.get(&key).is_some_and(|alarm| alarm.state.standing())
    }

    /// The other Hatchwarden gives no sign of life, or does so again.
    pub fn other_silent(&mut self, reason: Option<&str>, now: Time, out: &mut Outcome) {
        self.trouble(Condition::OtherSilent, reason, now, out);
    }

    pub(super) fn trouble(
        &mut self,
        condition: Condition,
        trouble: Option<&str>,
        now: Time,
        out: &mut Outcome,
    ) {
        let key = AlarmKey::room(condition);
        if let Some(words) = trouble {
            self.troubles.insert(key.clone(), words.to_owned());
        }
        let moved = self.panel.set(&key, trouble.is_some(), now);
        self.note_transitions(&moved, now, out);
    }

    pub(super) fn note_transitions(&mut self, moved: &[Transition], now: Time, out: &mut Outcome) {
        for t in moved {
            let view = self.panel.get(&t.key).map(|alarm| self.alarm_view(alarm, now));
            if let Some(view) = &view {
                self.call_for(t, view, out);
            }
            let text = view.map_or_else(|| unwatched(&t.key), |view| self.told(t, view.text));
            out.batch.alarm_log.push(AlarmRow {
                key: t.key.to_string(),
                at: t.at,
                from: if let Cause::Unflagged(flag) = t.cause { flag.word() } else { t.from.word() }
                    .to_owned(),
                to: if let Cause::Flagged(flag) = t.cause { flag.word() } else { t.to.word() }.to_owned(),
                text: text.clone(),
            });
            // What goes on beneath a flag is kept, and nobody is told.
            let put_away = matches!(t.cause, Cause::Flagged(flag) if flag != Flag::Suppressed);
            if t.flag.is_none() || put_away {
                self.news.entry(t.key.place.clone()).or_default().push(text);
            }
        }
    }

    /// The words of a change, from those of the alarm as it is now.
    fn told(&self, t: &Transition, whole: String) -> String {
        match t.cause {
            Cause::Flagged(Flag::Suppressed) => match self.panel.head(&t.key) {
                Some(head) => format!("{whole} It is told by {}.", head.key),
                None => whole,
            },
            Cause::Flagged(_) => self.panel.get(&t.key).map_or(whole, |a| self.quiet(a)),
            Cause::Unflagged(flag) if !t.to.standing() => {
                let (place, what) = (&t.key.place, t.key.condition.word());
                match flag {
                    Flag::Suppressed => format!("{place}: {what} is over; another alarm told of it"),
                    _ => format!("{place}: {what} is no longer {}, and nothing is wrong there", flag.word()),
                }
            }
            Cause::Again => format!("Nobody has taken this on yet. {whole}"),
            _ => whole,
        }
    }

    fn quiet(&self, alarm: &Alarm) -> String {
        alarms::quiet(alarm, &|t| self.setup.clock_text(t))
    }

    /// Alarms that call nobody just now, whatever goes on there.
    pub(super) fn shelved_views(&self) -> Vec<ShelvedView> {
        let view = |alarm: &Alarm| ShelvedView {
            id: alarm.key.to_string(),
            flag: alarm.shown().word().to_owned(),
            standing: alarm.state.standing(),
            until: alarm.flags.shown().and_then(|f| alarm.flags.get(f)?.until),
            text: self.quiet(alarm),
        };
        // What is beneath another alarm is named there.
        let beneath = |a: &&Alarm| self.panel.head(&a.key).is_some();
        self.panel.flagged().filter(|a| !beneath(a)).map(view).collect()
    }

    /// Puts what has changed about alarms into `out`.
    pub(super) fn collect_alarms(&mut self, now: Time, out: &mut Outcome) {
        for key in self.panel.take_changed() {
            let snapshot = self.panel.get(&key).and_then(|a| serde_json::to_string(a).ok());
            out.batch.alarm_states.push((key.to_string(), snapshot));
        }
        for (place, news) in std::mem::take(&mut self.news) {
            out.announcements.push(self.announcement(&place, news, now));
        }
    }

    /// Every place's alarms as they stand, for a start.
    pub fn standing_announcements(&self, now: Time) -> Vec<Announcement> {
        let mut places: BTreeSet<Place> = self.panel.places().cloned().collect();
        places.insert(Place::Room);
        places.extend(self.setup.vessels.iter().map(|v| Place::Vessel(v.id.clone())));
        places.iter().map(|place| self.announcement(place, Vec::new(), now)).collect()
    }

    fn announcement(&self, place: &Place, news: Vec<String>, now: Time) -> Announcement {
        let place = place.to_string();
        let alarms: Vec<AlarmView> = self.alarm_views(now).into_iter().filter(|a| a.place == place).collect();
        let payload = (!alarms.is_empty()).then(|| {
            serde_json::json!({ "room": self.setup.room, "place": place, "alarms": alarms }).to_string()
        });
        Announcement { place, payload, news }
    }

    /// Alarms that stand or have gone unseen, the most urgent first.
    pub(super) fn alarm_views(&self, now: Time) -> Vec<AlarmView> {
        let mut views: Vec<AlarmView> = self.panel.standing().map(|a| self.alarm_view(a, now)).collect();
        views.sort_by_key(|a| (!a.standing, a.priority, a.since));
        views
    }

    /// How urgent an alarm is, by what hangs on it.
    pub(super) fn priority_of(&self, alarm: &Alarm, now: Time) -> u8 {
        let stage = self.hanging(alarm, now).first().map(|c| self.stage_of(c, now));
        alarms::priority(alarm.key.condition, stage)
    }

    pub(super) fn alarm_view(&self, alarm: &Alarm, now: Time) -> AlarmView {
        let clutches = self.hanging(alarm, now);
        let (context, clutch) = (self.context(alarm, &clutches, now), clutches.first().copied());
        let since = alarm.since.unwrap_or(now);
        AlarmView {
            id: alarm.key.to_string(),
            vessel: alarm.key.vessel().cloned(),
            place: alarm.key.place.to_string(),
            condition: alarm.key.condition.word().to_owned(),
            state: alarm.state.word().to_owned(),
            standing: alarm.state.standing(),
            since,
            ended: alarm.ended,
            priority: alarms::priority(alarm.key.condition, context.stage),
            subject: alarms::subject(alarm, &context),
            text: alarms::sentence(alarm, &context, now, &|t| self.setup.clock_text(t)),
            first_step: self
                .setup
                .first_steps
                .get(&alarm.key.condition)
                .cloned()
                .unwrap_or_else(|| alarms::first_step(alarm)),
            clutch: clutch.map(|c| AlarmClutch {
                id: c.id.clone(),
                fish: c.fish.clone(),
                stage: self.stage_of(c, now),
                count: super::urgent::count_at(alarm, c).unwrap_or(0),
            }),
            act_within: context.within,
            acknowledged: alarm.acknowledged.clone(),
        }
    }
}

/// What is said of an alarm whose watch has ended.
fn unwatched(key: &AlarmKey) -> String {
    format!("{}: {} is over, since it holds no clutch any more.", key.place, key.condition.word())
}
