//! The order of acknowledgements: PUBACKs leave in the order in which the PUBLISH packets came.

use std::collections::VecDeque;

/// What became of one received QoS 1 message.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Settled {
    /// Still with the consumer.
    Waiting,
    /// To be acknowledged with this MQTT 5 reason code (0 = success; 3.1.1 has no codes).
    Reason(u8),
    /// Its handle was dropped: never acknowledged on this connection.
    Lost,
}

/// The received QoS 1 messages of one connection that are not acknowledged yet, oldest first.
#[derive(Debug, Default)]
pub(crate) struct Acks {
    slots: VecDeque<(u16, Settled)>,
    /// Number of the first slot; numbers only grow, packet ids come again.
    first: u64,
    lost: usize,
    /// The writer has been woken and has not looked yet, so it need not be woken again.
    woken: bool,
}

impl Acks {
    /// A message has come: its number, to settle it by.
    pub(crate) fn push(&mut self, id: u16, state: Settled) -> u64 {
        self.slots.push_back((id, state));
        self.first + self.slots.len() as u64 - 1
    }

    /// Settles a message; true if the writer must be woken for it.
    pub(crate) fn settle(&mut self, number: u64, state: Settled) -> bool {
        let Some(place) = number.checked_sub(self.first) else { return false };
        let Some(slot) = self.slots.get_mut(place as usize) else { return false };
        slot.1 = state;
        self.wants_wake()
    }

    fn wants_wake(&mut self) -> bool {
        let ready = matches!(self.slots.front(), Some((_, state)) if *state != Settled::Waiting);
        let wake = ready && !self.woken;
        self.woken |= wake;
        wake
    }

    /// Takes what is settled from the front: packet id and reason of each acknowledgement to send. True if any slot left.
    pub(crate) fn take(&mut self, mut send: impl FnMut(u16, u8)) -> bool {
        self.woken = false;
        let before = self.slots.len();
        while let Some(&(id, state)) = self.slots.front() {
            match state {
                Settled::Waiting => break,
                Settled::Reason(code) => send(id, code),
                Settled::Lost => self.lost += 1,
            }
            self.slots.pop_front();
            self.first += 1;
        }
        before != self.slots.len()
    }

    /// Messages that the client regards as unacknowledged; the lost ones stay so until it reconnects.
    pub(crate) fn outstanding(&self) -> usize {
        self.slots.len() + self.lost
    }

    /// Messages that will never be acknowledged on this connection.
    pub(crate) fn lost(&self) -> usize {
        self.lost
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn taken(acks: &mut Acks) -> Vec<u16> {
        let mut ids = Vec::new();
        acks.take(|id, _| ids.push(id));
        ids
    }

    #[test]
    fn acknowledgements_leave_in_arrival_order() {
        let mut acks = Acks::default();
        let numbers: Vec<u64> = [7, 8, 9].into_iter().map(|id| acks.push(id, Settled::Waiting)).collect();
        assert!(!acks.settle(numbers[2], Settled::Reason(0)), "the first is still waiting: nobody to wake");
        assert_eq!(taken(&mut acks), Vec::<u16>::new());
        assert!(acks.settle(numbers[0], Settled::Reason(0)));
        assert!(!acks.settle(numbers[1], Settled::Reason(0)), "woken once until the writer looks");
        assert_eq!(taken(&mut acks), [7, 8, 9]);
        assert_eq!(acks.outstanding(), 0);
    }

    #[test]
    fn a_lost_one_is_passed_over_but_still_counts() {
        let mut acks = Acks::default();
        let a = acks.push(1, Settled::Waiting);
        let b = acks.push(2, Settled::Waiting);
        assert!(acks.settle(a, Settled::Lost));
        acks.settle(b, Settled::Reason(0));
        assert_eq!(taken(&mut acks), [2]);
        assert_eq!((acks.outstanding(), acks.lost()), (1, 1));
    }

    #[test]
    fn one_packet_id_may_come_again_before_its_acknowledgement() {
        let mut acks = Acks::default();
        let a = acks.push(1, Settled::Waiting);
        let b = acks.push(1, Settled::Waiting);
        acks.settle(a, Settled::Reason(0));
        assert_eq!(taken(&mut acks), [1]);
        acks.settle(a, Settled::Reason(0));
        assert_eq!(taken(&mut acks), Vec::<u16>::new(), "a number that has left settles nothing");
        acks.settle(b, Settled::Reason(0));
        assert_eq!(taken(&mut acks), [1]);
    }
}
