//! What one connection has taken on and not yet seen acknowledged. No socket here: it is told what happened.

use crate::Sent;
use std::collections::VecDeque;

/// Messages in their order. Those at the front have been written on the present connection and carry a packet id.
#[derive(Debug, Default)]
pub(super) struct Outbox {
    letters: VecDeque<Letter>,
    written: usize,
}

#[derive(Debug)]
struct Letter {
    sent: Sent,
    /// 0 until written.
    packet: u16,
    /// Not one of the caller's: it says how the device is, and is said anew on each connection.
    status: bool,
}

impl Outbox {
    pub(super) fn len(&self) -> usize {
        self.letters.len()
    }

    pub(super) fn is_empty(&self) -> bool {
        self.letters.is_empty()
    }

    /// Takes a message on at the end.
    pub(super) fn push(&mut self, sent: Sent) {
        self.letters.push_back(Letter { sent, packet: 0, status: false });
    }

    /// Takes a word on the device's state on at the end.
    pub(super) fn push_status(&mut self, sent: Sent) {
        self.letters.push_back(Letter { sent, packet: 0, status: true });
    }

    /// A new connection: packet ids mean nothing any more, and old words on the state are out of date. Returns what
    /// to send, in order: the new word on the state first.
    pub(super) fn begin_again(&mut self, status: Option<Sent>) -> Vec<Sent> {
        self.letters.retain(|l| !l.status);
        self.written = 0;
        for letter in &mut self.letters {
            letter.packet = 0;
        }
        if let Some(sent) = status {
            self.letters.push_front(Letter { sent, packet: 0, status: true });
        }
        self.letters.iter().map(|l| l.sent.clone()).collect()
    }

    /// The next message in order has been written under this packet id. Id 0 is quality of service 0: nothing more
    /// will be heard of it. Returns how many of the caller's messages are done by that.
    pub(super) fn wrote(&mut self, packet: u16) -> usize {
        let Some(letter) = self.letters.get_mut(self.written) else { return 0 };
        if packet == 0 {
            return self.remove(self.written);
        }
        letter.packet = packet;
        self.written += 1;
        0
    }

    /// The broker has this one. Returns how many of the caller's messages are done by that.
    pub(super) fn acknowledged(&mut self, packet: u16) -> usize {
        let written = self.letters.iter().take(self.written);
        let Some(place) = written.into_iter().position(|l| l.packet == packet) else { return 0 };
        self.written -= 1;
        self.remove(place)
    }

    fn remove(&mut self, place: usize) -> usize {
        self.letters.remove(place).map_or(0, |l| usize::from(!l.status))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::Kind;
    use units::Time;

    fn sent(topic: &str) -> Sent {
        let at = Time::from_millis(0);
        Sent {
            at,
            device: "b1".into(),
            topic: topic.into(),
            payload: vec![],
            retain: false,
            qos: 1,
            kind: Kind::Reading,
        }
    }

    fn topics(all: &[Sent]) -> Vec<&str> {
        all.iter().map(|s| &*s.topic).collect()
    }

    #[test]
    fn only_an_acknowledgement_takes_a_message_out() {
        let mut outbox = Outbox::default();
        outbox.push(sent("a"));
        outbox.push(sent("b"));
        assert_eq!(outbox.acknowledged(1), 0); // not written yet
        assert_eq!((outbox.wrote(1), outbox.wrote(2)), (0, 0));
        assert_eq!(outbox.acknowledged(2), 1);
        assert_eq!(outbox.acknowledged(2), 0);
        assert_eq!(outbox.len(), 1);
        assert_eq!(outbox.acknowledged(1), 1);
        assert!(outbox.is_empty());
    }

    #[test]
    fn a_new_connection_sends_the_state_and_all_that_is_open() {
        let mut outbox = Outbox::default();
        assert_eq!(topics(&outbox.begin_again(Some(sent("state")))), ["state"]);
        outbox.push(sent("a"));
        outbox.push(sent("b"));
        for packet in 1..=3 {
            outbox.wrote(packet);
        }
        assert_eq!(outbox.acknowledged(2), 1);
        assert_eq!(topics(&outbox.begin_again(Some(sent("state")))), ["state", "b"]);
        assert_eq!(outbox.acknowledged(3), 0); // an id of the old connection
        outbox.wrote(1);
        outbox.wrote(2);
        assert_eq!(outbox.acknowledged(1), 0); // the state is not counted
        assert_eq!(outbox.acknowledged(2), 1);
    }

    #[test]
    fn quality_of_service_0_is_done_once_written() {
        let mut outbox = Outbox::default();
        outbox.push(sent("a"));
        outbox.push(sent("b"));
        outbox.wrote(1);
        assert_eq!(outbox.wrote(0), 1);
        assert_eq!((outbox.len(), outbox.acknowledged(1)), (1, 1));
    }
}
