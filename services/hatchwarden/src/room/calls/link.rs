//! A link in a message that takes one alarm on, once: it is made from a secret of the room, so that nothing needs to be kept
//! for it, and it is worth nothing for any other alarm, or when this one is raised anew.

use super::{Outcome, Room};
use crate::config::Call;
use alarms::{AlarmKey, State};
use units::Time;
use web::keeper::Trouble;
pub use web::links::LinkView;

/// Name of the note under which the secret is kept.
pub(crate) const NOTE: &str = "link-secret";

impl Room {
    /// Whether links have no secret to be made from yet.
    pub fn wants_link_secret(&self) -> bool {
        self.link_secret.is_none()
    }

    /// Links are made from this, which nobody can guess and a room cannot draw itself.
    pub fn set_link_secret(&mut self, secret: String, out: &mut Outcome) {
        out.batch.notes.push((NOTE.to_owned(), secret.clone()));
        self.link_secret = Some(secret);
    }

    /// The whole address that takes an alarm on in the name of who is called. `None` while it has no public address, or nobody was
    /// called for the alarm.
    pub(super) fn link(&self, call: &Call, alarm: &str) -> Option<String> {
        let mark = self.calls.told.get(alarm)?.mark;
        let base = self.setup.address.as_deref()?;
        Some(format!("{base}/on-it/{}", self.token(call, alarm, mark)?))
    }

    /// An HMAC over who, what and since when, in letters that an address can hold: 22 of them are 132 bits.
    fn token(&self, call: &Call, alarm: &str, mark: i64) -> Option<String> {
        let secret = self.link_secret.as_ref()?.as_bytes();
        let signature = notify::sign(secret, &call.name, mark, alarm);
        let letters = signature.strip_prefix("v1,")?.chars().take(22);
        Some(
            letters
                .map(|c| {
                    if c == '+' {
                        '-'
                    } else if c == '/' {
                        '_'
                    } else {
                        c
                    }
                })
                .collect(),
        )
    }

    /// The alarm and the person that a link is about.
    fn linked(&self, token: &str) -> Result<(AlarmKey, String), Trouble> {
        for (alarm, told) in &self.calls.told {
            for call in &self.setup.calls {
                if told.by.contains_key(&call.name)
                    && self.token(call, alarm, told.mark).as_deref() == Some(token)
                {
                    let key = alarm.parse().map_err(|_| over())?;
                    return Ok((key, call.person.clone().unwrap_or_else(|| call.name.clone())));
                }
            }
        }
        Err(over())
    }

    /// What a link would do.
    ///
    /// # Errors
    /// [`Trouble::NotFound`] for a link that is over or was never one.
    pub fn link_view(&self, token: &str, now: Time) -> Result<LinkView, Trouble> {
        let (key, person) = self.linked(token)?;
        let alarm = self.panel.get(&key).filter(|a| a.state != State::Normal).ok_or_else(over)?;
        Ok(LinkView { person, alarm: self.alarm_view(alarm, now) })
    }

    /// Takes the alarm of a link on. A second use changes nothing and says so.
    pub(in crate::room) fn use_link(
        &mut self,
        token: &str,
        now: Time,
        out: &mut Outcome,
    ) -> Result<(), Trouble> {
        let (key, person) = self.linked(token)?;
        if let Some((by, at)) = self.panel.get(&key).and_then(|a| a.acknowledged.clone()) {
            let at = self.setup.clock_text(at);
            let reason = format!("this link has done its work: {by} has taken the alarm on at {at}");
            return Err(Trouble::Refused { field: "link".to_owned(), reason });
        }
        self.acknowledge(&key.to_string(), &format!("{person}, by link"), now, out)
    }
}

fn over() -> Trouble {
    Trouble::NotFound(
        "this link is over: its alarm has gone, or was raised anew since; look at the page".to_owned(),
    )
}
