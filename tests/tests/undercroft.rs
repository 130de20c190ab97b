//! The whole demo: six weeks are lived through, and on their last day the pages show what happened in them. Days, hours and
//! sums are those of the room's own table; the room is invented.
#![allow(clippy::unwrap_used, missing_docs, reason = "test code")]

use std::time::Duration;
use testkit::{Browser, Hatchwarden, Screen};
use units::{Span, Time};

/// Six weeks of a whole room, on a slow and busy machine.
const WEEKS: Duration = Duration::from_secs(1500);

/// What the page says, everything that is folded opened.
async fn said(browser: &Browser, address: &str) -> String {
    browser.driver.goto(address).await.unwrap();
    let script =
        "document.querySelectorAll('details').forEach(d => d.open = true); return document.body.innerText;";
    let text = browser.driver.execute(script, vec![]).await.unwrap();
    text.json().as_str().unwrap().split_whitespace().collect::<Vec<_>>().join(" ")
}

/// The date on which a day of the scenario falls.
fn date(now: Time, day: i64) -> String {
    let midnight = now - Span::from_millis(now.millis().rem_euclid(Span::days(1).millis()));
    (midnight - Span::days(42 - day)).to_string()[..10].to_owned()
}

/// What happened, where it is shown, and what must be read there.
fn table(now: Time) -> Vec<(&'static str, String, Vec<&'static str>)> {
    let page = |address: &str| address.to_owned();
    let night = |day| format!("night/{}", date(now, day));
    vec![
        ("day 1: a spawning that was seen", page("clutches/C02"), vec!["(seen). Day"]),
        (
            "day 2: a board says 85.0 twice",
            page("log"),
            vec!["sensor_power_on_reset from V1/temperature: 2 times"],
        ),
        (
            "day 3: hatched already when taken",
            page("clutches/C01"),
            vec!["Hatch was seen at", "hatch sooner by", "earlier than was shown"],
        ),
        ("day 5: taken too soon", page("clutches/C02"), vec!["taken three days too soon, by mistake"]),
        (
            "day 7: dead eggs",
            page("clutches/C02"),
            vec!["4 dead picked out, the roll even: white, two with mould"],
        ),
        ("day 9: the diaphragm", night(8), vec!["TU1", "TU2", "47 min", "02:17"]),
        (
            "day 9: what it cost",
            page("clutches/C02"),
            vec!["22 came = 6 dead + 3 unexplained + 13 alive", "2 lost: lay still at night"],
        ),
        ("day 10: a drill", page("vessels"), vec!["drill: P1 unplugged for two minutes"]),
        (
            "day 11: spat while being netted",
            page("clutches/C07"),
            vec![
                "about 47 laid, 29 whole eggs saved",
                "spat and saved into TU4: 29 alive, 18 dead",
                "47 came",
            ],
        ),
        (
            "day 12: five loose, four found",
            page("clutches/C01"),
            vec!["5 escaped, 4 caught: the lid of TU1 was pushed aside"],
        ),
        (
            "day 13: what came in is what went out",
            page("clutches/C01"),
            vec!["moved to G1, 35 counted", "41 came = 7 dead + 1 escaped + 33 counted in a group"],
        ),
        (
            "day 15: fed by two, ammonia",
            page("vessels/G1"),
            vec!["total ammonia 0.5 mg/L", "pH 8.2", "40 % of G1 changed", "helper)"],
        ),
        ("day 17: a heater that sticks", night(17), vec!["V1", "30."]),
        ("day 18: what it moved", page("clutches/C06"), vec!["free swimming sooner by"]),
        (
            "day 23: the power cut",
            page("clutches/C09"),
            vec!["240 lost: power cut", "710 came = 312 dead + 398 counted in a group"],
        ),
        (
            "day 27: look-alikes in the wrong tank",
            page("clutches/C06"),
            vec!["6 found in G1: among the burtoni", "33 came = 5 dead + 28 alive"],
        ),
        (
            "day 28: the net of the quarantine",
            page("vessels/Q1"),
            vec!["In quarantine until", "G2", "net-Q1", "white spots"],
        ),
        ("day 28: two clutches together", page("clutches/M2"), vec!["C04 and C09 put together as M2 in G4"]),
        (
            "day 30: spat in the quiet tank",
            page("clutches/C05"),
            vec!["isolated with them", "spat and saved into TU3: 18 alive", "17 fry"],
        ),
        ("day 31: the halves", page("vessels"), vec!["M2 539", "M2 400", "from C04 (541) and C09 (398)"]),
        ("day 33: a count", page("clutches/C02"), vec!["counted again in G2: 13"]),
        ("day 35: runts", page("clutches/M1"), vec!["graded: 4 runts: in a breeder box in G1", "42 fry"]),
        ("day 35: runts, and whose", page("mothers"), vec!["runts or faults in 1 of"]),
        (
            "day 37: a probe against a reference",
            page("probes"),
            vec!["reads 29.", "taken as 28.", "−0.8 °C since"],
        ),
        ("day 38: apart behind a divider", page("vessels/G3"), vec!["C03 9", "C10 12"]),
        (
            "days 39 and 41: handed on",
            page("clutches/C00"),
            vec![
                "41 came = 1 dead + 2 culled + 34 handed on + 4 held back",
                "24 handed on to club-07: Labidochromis caeruleus",
                "10 handed on to shop-02",
            ],
        ),
        ("day 42: about to swim", page("clutches/C11"), vec!["C11 swims free today", "41 ", "in TU2"]),
        (
            "day 42: a path to choose",
            page("clutches/C12"),
            vec!["uncounted eggs", "What is to become of them", "left with mother"],
        ),
        (
            "day 42: a jar that lost more than a third",
            page("vessels/JR2"),
            vec!["710 came in, 312 lost, 56 % kept"],
        ),
        ("a mother", page("mothers/bur-01"), vec!["spat and saved", "47"]),
    ]
}

#[tokio::test(flavor = "multi_thread")]
async fn the_pages_of_day_42_show_what_happened_in_six_weeks() {
    let mut demo = Hatchwarden::demo(&["--listen", "127.0.0.1:0", "--fault-after", "86400"]).await;
    demo.child.line_within("The room lives", WEEKS).await;
    let room = demo.api.get("api/v1/room").await;
    let now = Time::parse_rfc3339(room["now"].as_str().unwrap()).unwrap();
    let browser = Browser::start().await;
    browser.screen(Screen::PHONE_LIGHT).await;
    let mut missing = Vec::new();
    for (what, address, words) in table(now) {
        let text = said(&browser, &format!("{}{address}", demo.api.address)).await;
        let lacks: Vec<&str> = words.into_iter().filter(|w| !text.contains(w)).collect();
        if !lacks.is_empty() {
            missing.push(format!("{what} (/{address}) lacks {lacks:?} in: {text}"));
        }
    }
    assert!(missing.is_empty(), "{}", missing.join("\n\n"));

    // The air was not said to stop while nothing was heard, and what had been kept came in afterwards.
    let (from, to) = (format!("{}T11:00:00Z", date(now, 19)), format!("{}T14:25:00Z", date(now, 19)));
    let flow = demo.api.get(&format!("api/v1/readings/TU1/air-flow?from={from}&to={to}")).await;
    assert!(flow["readings"].as_array().unwrap().len() > 190, "{flow}");

    // What the page opens with.
    let opening = said(&browser, &demo.api.address).await;
    for words in ["Both turn.", "C11", "C12", "They swim free", "M2 Oreochromis niloticus, 939 fry"] {
        assert!(opening.contains(words), "{words}: {opening}");
    }
    browser.screen(Screen::DESK_LIGHT).await;
    browser.picture("undercroft-desk-light").await;
    browser.close().await;
    let (code, said) = demo.child.stop().await;
    assert_eq!(code, Some(0), "{said}");
}
