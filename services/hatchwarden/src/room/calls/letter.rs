//! A message for the outbox: what a program reads, and what a person does who has just woken.

use super::Room;
use super::lane::Notice;
use crate::config::Call;
use serde::{Deserialize, Serialize};
use serde_json::{Value, json};
use store::OutboxRow;
use units::Time;

/// What has become of an alarm, as people are told.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub(super) enum Kind {
    Raised,
    /// Nobody has taken it on, and it calls again.
    Repeated,
    /// Nobody has taken it on, and the next person is called.
    Escalated,
    Acknowledged,
    Shelved,
    Cleared,
}

impl Kind {
    /// Whether somebody is to get up.
    pub(super) fn calls(self) -> bool {
        matches!(self, Kind::Raised | Kind::Repeated | Kind::Escalated)
    }

    /// In the form `noun.verb` that Standard Webhooks proposes.
    fn word(self) -> &'static str {
        match self {
            Kind::Raised => "alarm.raised",
            Kind::Repeated => "alarm.repeated",
            Kind::Escalated => "alarm.escalated",
            Kind::Acknowledged => "alarm.acknowledged",
            Kind::Shelved => "alarm.shelved",
            Kind::Cleared => "alarm.cleared",
        }
    }
}

/// An id that follows from what happened, so that a repeat is known. Standard Webhooks parts the signed text by dots, so it has none.
pub(super) fn id(room: &str, call: &str, alarm: &str, at: Time, kind: Kind) -> String {
    let text = format!("msg_{room}-{call}-{alarm}-{}-{}", at.millis(), kind.word());
    text.chars().map(|c| if c.is_ascii_alphanumeric() || matches!(c, '-' | '_') { c } else { '-' }).collect()
}

/// One message about one or more notices, oldest first and at least one.
pub(super) fn row(room: &Room, call: &Call, notices: &[Notice]) -> OutboxRow {
    let head = notices.iter().min_by_key(|n| (!n.kind.calls(), n.alarm.priority, n.at));
    let at = notices.iter().map(|n| n.at).max().unwrap_or(Time::from_millis(0));
    let id = notices.first().map(|n| n.id.clone()).unwrap_or_default();
    let body = head.map(|head| body(room, call, head, notices)).unwrap_or_default();
    OutboxRow { id, way: call.way.clone(), created: at, next_try: at, body }
}

fn body(room: &Room, call: &Call, head: &Notice, notices: &[Notice]) -> String {
    let mut data = json!(head.alarm);
    data["room"] = json!(room.setup().room);
    data["headline"] = subject(room, head, notices.len()).into();
    data["message"] = message(room, call, notices).into();
    data["thread"] = json!(head.thread.as_ref().filter(|thread| **thread != head.id));
    data["link"] = json!(room.link(call, &head.alarm.id));
    if notices.len() > 1 {
        let change = |n: &Notice| json!({ "type": n.kind.word(), "timestamp": n.at, "alarm": n.alarm });
        data["changes"] = notices.iter().map(change).collect::<Value>();
    }
    json!({ "type": head.kind.word(), "timestamp": head.at, "data": data }).to_string()
}

/// The headline of the most urgent: "TU3 lies still, act by 02:37; and 2 more".
fn subject(room: &Room, head: &Notice, all: usize) -> String {
    let alarm = &head.alarm;
    let mut said = match head.kind {
        Kind::Raised => alarm.subject.clone(),
        Kind::Repeated => format!("Again: {}", lower(&alarm.subject)),
        Kind::Escalated => format!("Nobody has answered: {}", lower(&alarm.subject)),
        Kind::Acknowledged => format!("Taken on: {}", lower(&alarm.subject)),
        Kind::Shelved => format!("Shelved: {}", lower(&alarm.subject)),
        Kind::Cleared => format!("Over: {}", lower(&alarm.subject)),
    };
    if let Some(within) = alarm.act_within.filter(|_| head.kind.calls()) {
        said.push_str(&format!(", act by {}", room.setup().clock_text(alarm.since + within)));
    }
    match all {
        1 => said,
        n => format!("{said}; and {} more", n - 1),
    }
}

/// Words in the middle of a sentence; names keep their capitals.
fn lower(text: &str) -> String {
    let first = text.split_whitespace().next().unwrap_or_default();
    let is_word = first.chars().all(char::is_alphabetic) && first.chars().skip(1).all(char::is_lowercase);
    let mut chars = text.chars();
    match chars.next() {
        Some(c) if is_word => c.to_lowercase().chain(chars).collect(),
        _ => text.to_owned(),
    }
}

/// The whole message as plain text, the most urgent first.
fn message(room: &Room, call: &Call, notices: &[Notice]) -> String {
    let mut ordered: Vec<&Notice> = notices.iter().collect();
    ordered.sort_by_key(|n| (!n.kind.calls(), n.alarm.priority, n.at));
    let parts: Vec<String> = ordered.into_iter().map(|n| part(room, call, n)).collect();
    parts.join("\n\n")
}

fn part(room: &Room, call: &Call, n: &Notice) -> String {
    let alarm = &n.alarm;
    let who = || alarm.acknowledged.as_ref().map(|(by, at)| (by.clone(), room.setup().clock_text(*at)));
    let text = match (n.kind, who()) {
        (Kind::Acknowledged, Some((by, at))) => format!("{by} has taken it on at {at}. {}", alarm.text),
        (Kind::Repeated | Kind::Escalated, _) => format!("Nobody has taken this on yet. {}", alarm.text),
        _ => alarm.text.clone(),
    };
    if !n.kind.calls() {
        return text;
    }
    let link = room.link(call, &alarm.id).map(|link| format!("\nI am on it: {link}")).unwrap_or_default();
    format!("{text}\nFirst: {}{link}", alarm.first_step)
}
