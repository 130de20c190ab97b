//! An alarm's change as a message for the outbox.

use alarms::{Cause, State, Transition};
use store::OutboxRow;
use web::view::AlarmView;

/// Name of the way out that the webhook serves.
const WEBHOOK: &str = "webhook";

/// What happened, in the form `noun.verb` that Standard Webhooks proposes. `None` for what goes on beneath a flag.
fn kind(t: &Transition) -> Option<&'static str> {
    Some(match (t.cause, t.to) {
        (Cause::Flagged(_), _) => "alarm.shelved",
        _ if t.flag.is_some() => return None,
        (Cause::Again, _) => "alarm.repeated",
        (_, State::Unacknowledged) => "alarm.raised",
        (_, State::Acknowledged) => "alarm.acknowledged",
        _ => "alarm.cleared",
    })
}

/// A message that tells receivers of the change, if they are to know. Its id follows from what happened, so that a repeat is
/// known.
pub(super) fn delivery(room: &str, t: &Transition, alarm: &AlarmView) -> Option<OutboxRow> {
    let kind = kind(t)?;
    // Standard Webhooks parts the signed text by dots, so an id has none.
    let id = format!("msg_{room}-{}-{}-{kind}", t.key, t.at.millis()).replace('.', "-");
    let mut data = serde_json::json!(alarm);
    data["room"] = room.into();
    let body = serde_json::json!({ "type": kind, "timestamp": t.at, "data": data }).to_string();
    Some(OutboxRow { id, way: WEBHOOK.to_owned(), created: t.at, next_try: t.at, body })
}
