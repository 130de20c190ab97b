//! A room that is played on and on does not grow.

use super::*;
use crate::Lapse;

/// Devices that lose Wi-Fi and power again and again, and people who change water day by day.
const RESTLESS: &str = "
room = 'restless'
[[circuit]]
name = 'rack'
[[tank]]
vessel = 'V1'
litres = 90
set_point = 27.0
[[outlet]]
vessel = 'TU1'
[[device]]
name = 'a{n}'
copies = 4
keeps = 50
jitter = 0.1
probes = ['V1/temperature', 'TU1/air-flow']
wifi = { lost_every = '20 min', lasts = '90 s' }
[[device]]
name = 'b{n}'
copies = 4
keeps = 50
circuit = 'rack'
probes = ['V1/temperature/b']
[[routine]]
act = { water-change = { tank = 'V1', part = 0.2, celsius = 20.0 } }
at = ['06:00', '12:00', '18:00']
";

/// What waits: in the queue, in the agenda, in the devices' memory, and active faults.
fn waits(room: &Room) -> [usize; 4] {
    let kept = room.devices.iter().map(Device::kept).max().unwrap();
    [room.queue.len(), room.agenda.len(), kept, room.world.faults().count()]
}

/// Plays minute by minute with a power cut in every hour; returns the most that waited at the ends of minutes.
fn most(room: &mut Room, hours: i64) -> [usize; 4] {
    let (mut most, mut out) = ([0; 4], Vec::new());
    for _ in 0..hours {
        let cut = Fault::CircuitOff("rack".to_owned());
        room.inject(room.now + Span::minutes(7), cut.clone()).unwrap();
        room.mend(room.now + Span::minutes(9), cut).unwrap();
        for _ in 0..60 {
            room.play(room.now + Span::minutes(1), &mut out);
            out.clear();
            most = std::array::from_fn(|i| most[i].max(waits(room)[i]));
        }
    }
    most
}

#[test]
fn nothing_that_waits_grows_with_time() {
    let start = Time::parse_rfc3339("2031-03-14T00:00:00Z").unwrap();
    let mut room = Room::new(Scenario::from_toml(RESTLESS).unwrap(), 5, start);
    most(&mut room, 24);
    // Eight devices: for each the next measurement, and what is left over from the last loss or two.
    let first = most(&mut room, 24);
    assert!(first[0] <= 4 * 8 && first[1] <= 8 && first[2] <= 50 && first[3] <= 1, "{first:?}");
    most(&mut room, 8 * 24);
    let later = most(&mut room, 24);
    assert!(later[0] <= first[0] + 8 && later[1] <= first[1] && later[3] <= first[3], "{first:?}, {later:?}");
}

/// Each reading of a large room is handed over and forgotten: what waits after a day is what waited after an hour.
#[test]
fn a_large_room_waits_for_the_same_after_an_hour_and_after_a_day() {
    let text = crate::shipped("load-1000").unwrap().text;
    let scenario = Scenario { length: Lapse::of(Span::days(1)), ..Scenario::from_toml(&text).unwrap() };
    let mut room = Room::new(scenario, 7, Time::from_millis(0));
    let mut out = Vec::new();
    let mut after = |hours: i64| {
        while room.now < Time::from_millis(0) + Span::hours(hours) {
            room.play(room.now + Span::minutes(1), &mut out);
            out.clear();
        }
        (waits(&room), out.capacity())
    };
    let hour = after(1);
    assert_eq!(after(24), hour);
    assert_eq!(hour.0, [100, 1, 0, 0]);
}
