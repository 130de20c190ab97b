//! The ten lines that the README gives a newcomer are a room, and in it happens what the README says.

use super::play::play_text;
use sensors_sim::{Scenario, configuration};

fn ten_lines() -> &'static str {
    let readme = include_str!("../../../README.md");
    let (_, section) = readme.split_once("## A room to try it on").unwrap();
    let (_, block) = section.split_once("```toml\n").unwrap();
    block.split_once("```").unwrap().0
}

#[test]
fn the_readmes_own_room_plays() {
    assert_eq!(ten_lines().lines().count(), 10);
    let p = play_text(ten_lines());
    p.within("TU1/air-flow", ("02:00", "02:09"), 0.35, 0.55);
    p.within("TU1/air-flow", ("02:11", "02:49"), 0.0, 0.0);
    assert_eq!(p.when("C1 lies still in TU1"), Some(p.at("02:10")));
    assert_eq!(p.when("C1 turns again in TU1"), Some(p.at("02:50")));
    let config = configuration(&Scenario::from_toml(ten_lines()).unwrap());
    for promised in ["name = \"my-room\"", "listen = \"127.0.0.1:4871\"", "front_door = \"127.0.0.1:1883\""] {
        assert!(config.contains(promised), "{promised}");
    }
}
