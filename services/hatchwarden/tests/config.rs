//! Reading a configuration: the shipped example, and each kind of fault with its line and cure.
#![allow(clippy::unwrap_used, missing_docs, reason = "test code")]

use hatchwarden::config::{DRILLS, MOVES_OVER, NIGHT_AT, WayIn, read};
use std::path::Path;
use units::{Quantity, Span, Unit, VesselKind};

const EXAMPLE: &str = include_str!("../../../config/room.toml");

fn faults(text: &str) -> String {
    read(text, "room.toml", Path::new("")).map(|_| ()).unwrap_err().to_string()
}

/// The example with one piece of text put in the place of another.
fn with(from: &str, to: &str) -> String {
    assert!(EXAMPLE.contains(from), "{from}");
    EXAMPLE.replacen(from, to, 1)
}

#[test]
fn the_example_reads_as_it_is_commented() {
    let config = read(EXAMPLE, "room.toml", Path::new("config")).unwrap();
    assert_eq!(config.room.as_str(), "undercroft");
    assert_eq!(config.zone.name(), "Europe/Lisbon");
    assert_eq!(config.store, Path::new("config/../data/undercroft.db"));
    assert!(matches!(config.way_in, WayIn::FrontDoor(d) if d.listen.port() == 1883 && d.devices.is_empty()));
    assert_eq!(config.vessels.len(), 6);
    let tu4 = config.vessels.iter().find(|v| v.id.as_str() == "TU4").unwrap();
    assert_eq!((tu4.kind, tu4.silent_after), (VesselKind::Tumbler, Some(Span::minutes(2))));
    assert_eq!((config.moves_over, config.night), (MOVES_OVER, None));
    let spare = &config.maps[1];
    assert_eq!((spare.quantity, spare.unit), (Some(Quantity::Temperature), Some(Unit::Fahrenheit)));
    assert_eq!(spare.mark.as_deref(), Some("spare"));
}

#[test]
fn every_commented_choice_of_the_example_works_too() {
    let broker = EXAMPLE
        .replace("front_door = \"127.0.0.1:1883\"", "")
        .lines()
        .map(|l| match l.strip_prefix("# ") {
            Some(rest)
                if rest.starts_with('[') || rest.split_once(" = ").is_some_and(|(k, _)| !k.contains(' ')) =>
            {
                rest
            }
            _ => l,
        })
        .collect::<Vec<_>>()
        .join("\n");
    let config = read(&broker, "room.toml", Path::new("")).unwrap();
    assert_eq!(config.listen, ["cellar/#"]);
    let WayIn::Broker(b) = config.way_in else { panic!("no broker") };
    assert!(b.tls.is_some_and(|t| t.ca.is_some() && t.identity.is_some()));
    assert_eq!(
        (b.host.as_str(), b.port, b.client_id.as_str()),
        ("127.0.0.1", 1883, "hatchwarden-undercroft")
    );
    assert!(b.password_file.is_some() && config.webhooks.len() == 2 && config.species.is_some());
    assert_eq!(config.heartbeat.unwrap().every.as_secs(), 60);
    let calls: Vec<(&str, bool)> = config.calls.iter().map(|c| (c.name.as_str(), c.program)).collect();
    assert_eq!(calls, [("Ada by phone", false), ("Ben by mail:ben@example.org", false), ("program", true)]);
    assert_eq!(config.address.as_deref(), Some("https://undercroft.example.org"));
    assert_eq!((config.deadlines, config.drills), (alarms::Deadlines::default(), Some(DRILLS)));
    let night = config.night.unwrap();
    assert_eq!((night.to, night.at), (vec!["ada@example.org".to_owned()], NIGHT_AT));
    assert!(config.sirens.len() == 1 && config.watch.is_some() && config.first_steps.len() == 1);
}

#[test]
fn devices_with_passwords_may_come_from_other_machines() {
    let door = "front_door = \"0.0.0.0:8883\"\n[mqtt.front_door_tls]\ncertificate = \"c.pem\"\nkey = \"k.pem\"\n\
        [[mqtt.device]]\nname = \"rack-c\"\npassword_file = \"rack-c.txt\"\npublish = [\"cellar/rack-c/#\"]";
    let config = read(&with("front_door = \"127.0.0.1:1883\"", door), "room.toml", Path::new("etc")).unwrap();
    let WayIn::FrontDoor(d) = config.way_in else { panic!("no front door") };
    assert_eq!(d.tls.unwrap().key, Path::new("etc/k.pem"));
    assert_eq!((d.devices[0].name.as_str(), d.devices[0].publish.len()), ("rack-c", 1));
    for (from, to, words) in [
        ("name = \"rack-c\"\n", "", "MQTT user name"),
        ("password_file = \"rack-c.txt\"", "password = \"s3\"", "did you mean"),
        ("[\"cellar/rack-c/#\"]", "[\"cellar/#/x\"]", "'#' must fill the last level"),
        ("key = \"k.pem\"", "", "private key"),
    ] {
        let said = faults(&with("front_door = \"127.0.0.1:1883\"", &door.replace(from, to)));
        assert!(said.contains(words), "{words:?} is not in {said}");
    }
}

#[test]
fn each_fault_names_field_value_and_cure() {
    let cases = [
        (
            format!("{EXAMPLE}\n[calendar]\nmoves_over_h = 0\n"),
            "calendar.moves_over_h",
            "0 is out",
            "0.5 to 240",
        ),
        (
            format!("{EXAMPLE}\n[calendar]\nmoves_over = 3\n"),
            "calendar.moves_over",
            "not a key",
            "moves_over_h",
        ),
        (with("name = \"undercroft\"", "name = \"a/b\""), "room.name", "a/b", "letters"),
        (with("kind = \"tank\"", "kind = \"pond\""), "vessel \"V1\".kind", "pond", "\"tumbler\""),
        (
            with("band = [25.5, 28.5]", "band = [28.5, 25.5]"),
            "vessel \"V1\".band",
            "[28.5, 25.5]",
            "lowest and highest",
        ),
        (with("band = [25.5, 28.5]", "band = 27"), "vessel \"V1\".band", "27", "lowest and highest"),
        (with("host = \"V1\"", "host = \"V7\""), "vessel \"TU1\".host", "V7", "of kind \"tank\""),
        (with("id = \"V2\"", "id = \"V1\""), "id", "named twice", "its own name"),
        (with("id = \"V2\"", "id = \"alarm\""), "id", "word of our own", "another name"),
        (with("still_at = 0.12", "still_at = -1"), "still_at", "-1", "0 to 200"),
        (with("still_at = 0.12", "still_at = \"low\""), "still_at", "\"low\"", "write a number"),
        (
            with("quantity = \"air-flow\"", "quantity = \"bubbles\""),
            "map number 1.quantity",
            "bubbles",
            "air-flow",
        ),
        (with("unit = \"°F\"", "unit = \"R\""), "map number 2.unit", "\"R\"", "°C"),
        (with("format = \"json\"", "format = \"xml\""), "map number 1.format", "xml", "\"json\""),
        (with("pointer = \"/air/tu1\"", ""), "map number 1.pointer", "is missing", "RFC 6901"),
        (with("[page]\nlisten", "[page]\nlisten_on"), "page.listen", "is missing", "127.0.0.1:4871"),
        (
            with("\"127.0.0.1:4871\"", "\"192.168.1.4:4871\"\nsign_in = false"),
            "page.sign_in",
            "192.168.1.4:4871 can be reached",
            "loopback",
        ),
        (
            with("\"127.0.0.1:4871\"", "\"127.0.0.1:4871\"\nproxies = [\"proxy.lan\"]"),
            "page.proxies",
            "\"proxy.lan\"",
            "[\"127.0.0.1\"]",
        ),
        (
            with("\"127.0.0.1:4871\"", "\"127.0.0.1:4871\"\nhosts = [\"http://fishroom.lan\"]"),
            "page.hosts",
            "\"http://fishroom.lan\"",
            "without http://",
        ),
        (
            with("front_door = \"127.0.0.1:1883\"", "front_door = \"0.0.0.0:1883\""),
            "mqtt.front_door",
            "no device has a password",
            "[[mqtt.device]]",
        ),
        (with("[store]\n", "[shop]\n"), "shop", "not a key", "store"),
        (
            format!("{EXAMPLE}\n[night]\nmail = [\"ada@example.org\"]\n"),
            "night.mail",
            "no server to send it by",
            "add a [mail] table",
        ),
        (
            format!("{EXAMPLE}\n[night]\nat = \"08:00\"\n"),
            "night.mail",
            "names nobody",
            "a list of addresses",
        ),
        (format!("{EXAMPLE}\n[night]\nmail = \"ada\"\n"), "night.mail", "\"ada\"", "a list of addresses"),
        (format!("{EXAMPLE}\n[night]\nat = \"06:59\"\n"), "night.at", "\"06:59\"", "from \"07:00\""),
        (format!("{EXAMPLE}\n[night]\nat = \"20:00\"\n"), "night.at", "\"20:00\"", "to \"19:59\""),
        (format!("{EXAMPLE}\n[night]\nat = \"noon\"\n"), "night.at", "\"noon\"", "e.g. \"07:30\""),
    ];
    for (text, field, value, cure) in cases {
        let said = faults(&text);
        for part in ["room.toml:", field, value, cure] {
            assert!(said.contains(part), "{part:?} is not in: {said}");
        }
    }
}

#[test]
fn the_line_is_the_one_in_the_file() {
    let text = with("time_zone = \"Europe/Lisbon\"", "time_zone = \"Lisbon\"");
    let line = text.lines().position(|l| l.starts_with("time_zone")).unwrap() + 1;
    assert!(faults(&text).starts_with(&format!("room.toml:{line}: room.time_zone")), "{}", faults(&text));
}
