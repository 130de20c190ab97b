//! Doubling, holding, forgetting and the bound.

use super::*;

fn at(n: u32) -> IpAddr {
    IpAddr::V4((0x0A00_0000 + n).into())
}

fn waits(peers: &mut Peers, address: IpAddr, now: Instant) -> u128 {
    (peers.refused(address, 1, now).answer - now).as_millis()
}

#[test]
fn refusals_wait_twice_as_long_each_time_up_to_the_longest() {
    let (mut peers, now) = (Peers::default(), Instant::now());
    let all: Vec<u128> = (0..8).map(|_| waits(&mut peers, at(1), now)).collect();
    assert_eq!(all, [250, 500, 1_000, 2_000, 4_000, 8_000, 8_000, 8_000]);
    assert_eq!(waits(&mut peers, at(2), now), 250, "another address has nothing to do with it");
    assert_eq!(waits(&mut peers, at(1), now + FORGET), 250, "forgotten");
}

#[test]
fn the_name_is_held_until_its_answer_and_no_other_name() {
    let (mut peers, now) = (Peers::default(), Instant::now());
    let answer = peers.refused(at(1), 1, now).answer;
    assert_eq!(peers.held(at(1), 1, now), Some(answer));
    assert_eq!(peers.held(at(1), 2, now), None);
    assert_eq!(peers.held(at(2), 1, now), None);
    assert_eq!(peers.held(at(1), 1, answer), None);
}

#[test]
fn an_address_is_named_once_a_minute() {
    let (mut peers, now) = (Peers::default(), Instant::now());
    let mut log = |seconds| peers.refused(at(1), 1, now + Duration::from_secs(seconds)).log;
    assert_eq!([log(0), log(1), log(59), log(60), log(61)], [true, false, false, true, false]);
}

#[test]
fn the_tables_are_bounded_and_the_longest_quiet_makes_room() {
    let (mut peers, now) = (Peers::default(), Instant::now());
    for n in 0..ADDRESSES as u32 + 10 {
        waits(&mut peers, at(n), now + Duration::from_millis(u64::from(n)));
    }
    assert_eq!(peers.0.len(), ADDRESSES);
    assert!(!peers.0.contains_key(&at(9)) && peers.0.contains_key(&at(10)));
    for user in 0..100 {
        peers.refused(at(10), user, now);
    }
    assert_eq!(peers.0[&at(10)].held.len(), HELD);
}

#[test]
fn one_ipv6_network_is_one_address() {
    let (mut peers, now) = (Peers::default(), Instant::now());
    assert_eq!(waits(&mut peers, "2001:db8::1".parse().unwrap(), now), 250);
    assert_eq!(waits(&mut peers, "2001:db8::2".parse().unwrap(), now), 500);
    assert_eq!(waits(&mut peers, "2001:db8:0:1::1".parse().unwrap(), now), 250);
    assert_eq!(waits(&mut peers, "::ffff:10.0.0.1".parse().unwrap(), now), 250);
    assert_eq!(waits(&mut peers, "10.0.0.1".parse().unwrap(), now), 500, "the same IPv4 address");
}
