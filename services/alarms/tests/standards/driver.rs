//! One alarm on a panel, moved by the words of the cases.

use alarms::{AlarmKey, Condition, Flag, Flagging, Panel, Rules, Settings, Shown, State, Transition};
use units::{Span, Time};

/// How long shelving and the pause before another call are here.
const A_WHILE: Span = Span::minutes(5);

pub(crate) struct Driver {
    panel: Panel,
    key: AlarmKey,
    pub(crate) now: Time,
}

impl Driver {
    pub(crate) fn new(rules: Rules) -> Self {
        let Rules { latching, ack_required } = rules;
        Self::with(Settings { latching, ack_required, again_after: Some(A_WHILE), ..Settings::told() })
    }

    pub(crate) fn with(settings: Settings) -> Self {
        let key = AlarmKey::room(Condition::CannotStore);
        let now = Time::from_millis(0);
        let mut panel = Panel::new();
        panel.watch(key.clone(), settings, now);
        Self { panel, key, now }
    }

    /// Whether anybody was called.
    pub(crate) fn hear(&mut self, event: &str) -> bool {
        self.now += Span::seconds(1);
        self.moved(event).iter().any(|t| t.announce)
    }

    /// What is refused moves nothing.
    fn moved(&mut self, event: &str) -> Vec<Transition> {
        let (key, now) = (self.key.clone(), self.now);
        match event {
            "condition_true" => self.panel.set(&key, true, now),
            "condition_false" => self.panel.set(&key, false, now),
            "ack" => self.panel.acknowledge(&key, "keeper", now).unwrap_or_default(),
            "reset" => self.panel.reset(&key, now).unwrap_or_default(),
            "realarm_timer" | "shelve_timer_expired" => self.wait(A_WHILE),
            "shelve" => self.flag(Flag::Shelved, self.flagging().until(now + A_WHILE)),
            "suppress" => self.flag(Flag::Suppressed, self.flagging()),
            "remove_from_service" => self.flag(Flag::OutOfService, self.flagging()),
            "unshelve" => self.unflag(Flag::Shelved),
            "unsuppress" => self.unflag(Flag::Suppressed),
            "return_to_service" => self.unflag(Flag::OutOfService),
            other => panic!("no such event: {other}"),
        }
    }

    pub(crate) fn flagging(&self) -> Flagging {
        Flagging::new("keeper", "a case of the standard", self.now)
    }

    pub(crate) fn flag(&mut self, flag: Flag, flagging: Flagging) -> Vec<Transition> {
        self.panel.flag(&self.key, flag, flagging).unwrap()
    }

    fn unflag(&mut self, flag: Flag) -> Vec<Transition> {
        self.panel.unflag(&self.key, flag, self.now).unwrap()
    }

    pub(crate) fn wait(&mut self, span: Span) -> Vec<Transition> {
        self.now += span;
        self.panel.tick(self.now)
    }

    pub(crate) fn state(&self) -> State {
        self.panel.get(&self.key).unwrap().state
    }

    pub(crate) fn is_stale(&self, now: Time) -> bool {
        self.panel.get(&self.key).unwrap().is_stale(now)
    }

    pub(crate) fn is_flagged(&self, flag: Flag) -> bool {
        self.panel.get(&self.key).unwrap().flags.get(flag).is_some()
    }

    pub(crate) fn shown(&self) -> &'static str {
        match self.panel.get(&self.key).unwrap().shown() {
            Shown::As(state) => word(state),
            Shown::Under(Flag::Shelved) => "shelved",
            Shown::Under(Flag::Suppressed) => "suppressed",
            Shown::Under(Flag::OutOfService) => "out_of_service",
        }
    }
}

pub(crate) fn word(state: State) -> &'static str {
    match state {
        State::Normal => "normal",
        State::Unacknowledged => "unack",
        State::Acknowledged => "acked",
        State::ReturnedUnacknowledged => "rtn_unack",
        State::LatchedUnacknowledged => "latched_unack",
        State::LatchedAcknowledged => "latched_acked",
    }
}
