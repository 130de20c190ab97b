//! What the alarms of the room watch, say, keep and announce.

use super::delivery::delivery;
use super::{Announcement, Outcome, Room};
use alarms::{Alarm, AlarmKey, Cause, Condition, Settings, Transition};
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
            self.panel.watch(key, settings, heard);
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
            (Quantity::AirFlow | Quantity::WaterFlow, VesselKind::Tumbler | VesselKind::Jar)
                if self.holds(&vessel.id) =>
            {
                let settings = vessel.tuning.still(Settings::air_stopped(vessel.still_at));
                watches.push((at(Condition::AirStopped), settings));
            }
            _ => {}
        }
        watches
    }

    fn holds(&self, vessel: &VesselId) -> bool {
        self.setup.vessel(vessel).is_some_and(|v| v.always) || self.account.in_vessel(vessel).next().is_some()
    }

    /// Ends the air watch of tumblers that hold no clutch any more.
    pub(super) fn unwatch_empty(&mut self, now: Time, out: &mut Outcome) {
        let empty: Vec<VesselId> =
            self.setup.vessels.iter().map(|v| v.id.clone()).filter(|v| !self.holds(v)).collect();
        for vessel in empty {
            let key = AlarmKey::at(&vessel, Condition::AirStopped);
            let moved = self.panel.unwatch(&key, now);
            self.note_transitions(&moved, now, out);
        }
    }

    /// The store fails, or works again.
    pub fn store_failing(&mut self, error: Option<&str>, now: Time, out: &mut Outcome) {
        self.tell(Condition::CannotStore, error, now, out);
    }

    /// The broker is away, or back.
    pub fn broker_lost(&mut self, reason: Option<&str>, now: Time, out: &mut Outcome) {
        self.tell(Condition::BrokerLost, reason, now, out);
    }

    pub(super) fn tell(&mut self, condition: Condition, trouble: Option<&str>, now: Time, out: &mut Outcome) {
        if let Some(words) = trouble {
            self.troubles.insert(condition, words.to_owned());
        }
        let moved = self.panel.set(&AlarmKey::room(condition), trouble.is_some(), now);
        self.note_transitions(&moved, now, out);
    }

    pub(super) fn note_transitions(&mut self, moved: &[Transition], now: Time, out: &mut Outcome) {
        for t in moved {
            let view = self.panel.get(&t.key).map(|alarm| self.alarm_view(alarm, now));
            if let Some(view) = view.as_ref().filter(|_| self.setup.webhook) {
                out.batch.outbox.extend(delivery(self.setup.room.as_str(), t, view));
            }
            let text = view.map_or_else(
                || format!("{} is over: the vessel holds no clutch any more", t.key),
                |view| self.told(t, view.text),
            );
            out.batch.alarm_log.push(AlarmRow {
                key: t.key.to_string(),
                at: t.at,
                from: if let Cause::Unflagged(flag) = t.cause { flag.word() } else { t.from.word() }
                    .to_owned(),
                to: if let Cause::Flagged(flag) = t.cause { flag.word() } else { t.to.word() }.to_owned(),
                text: text.clone(),
            });
            // What goes on beneath a flag is kept, and nobody is told.
            if t.flag.is_none() || matches!(t.cause, Cause::Flagged(_)) {
                self.news.entry(t.key.vessel.clone()).or_default().push(text);
            }
        }
    }

    /// The words of a change, from those of the alarm as it is now.
    fn told(&self, t: &Transition, whole: String) -> String {
        match t.cause {
            Cause::Flagged(_) => self.panel.get(&t.key).map_or(whole, |a| self.quiet(a)),
            Cause::Unflagged(flag) if !t.to.standing() => {
                format!("{} is no longer {}, and nothing is wrong there", t.key, flag.word())
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
        self.panel.flagged().map(view).collect()
    }

    /// Puts what has changed about alarms into `out`.
    pub(super) fn collect_alarms(&mut self, now: Time, out: &mut Outcome) {
        for key in self.panel.take_changed() {
            let snapshot = self.panel.get(&key).and_then(|a| serde_json::to_string(a).ok());
            out.batch.alarm_states.push((key.to_string(), snapshot));
        }
        for (vessel, news) in std::mem::take(&mut self.news) {
            out.announcements.push(self.announcement(vessel.as_ref(), news, now));
        }
    }

    /// Every place's alarms as they stand, for a start.
    pub fn standing_announcements(&self, now: Time) -> Vec<Announcement> {
        let places = std::iter::once(None).chain(self.setup.vessels.iter().map(|v| Some(&v.id)));
        places.map(|vessel| self.announcement(vessel, Vec::new(), now)).collect()
    }

    fn announcement(&self, vessel: Option<&VesselId>, news: Vec<String>, now: Time) -> Announcement {
        let place = vessel.map_or("room", VesselId::as_str).to_owned();
        let alarms: Vec<AlarmView> =
            self.alarm_views(now).into_iter().filter(|a| a.vessel.as_ref() == vessel).collect();
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

    fn alarm_view(&self, alarm: &Alarm, now: Time) -> AlarmView {
        let clutch = alarm.key.vessel.as_ref().and_then(|v| self.most_urgent(v, now));
        let context = self.context(alarm, clutch, now);
        let since = alarm.since.unwrap_or(now);
        AlarmView {
            id: alarm.key.to_string(),
            vessel: alarm.key.vessel.clone(),
            condition: alarm.key.condition.word().to_owned(),
            state: alarm.state.word().to_owned(),
            standing: alarm.state.standing(),
            since,
            ended: alarm.ended,
            priority: alarms::priority(alarm.key.condition, context.stage),
            subject: alarms::subject(alarm, &context),
            text: alarms::sentence(alarm, &context, now, &|t| self.setup.clock_text(t)),
            first_step: alarms::first_step(alarm),
            clutch: clutch.map(|c| AlarmClutch {
                id: c.id.clone(),
                fish: c.fish.clone(),
                stage: self.stage_of(c, now),
                count: c.alive.unwrap_or(0),
            }),
            act_within: self.act_within(alarm, clutch, now),
            acknowledged: alarm.acknowledged.clone(),
        }
    }
}
