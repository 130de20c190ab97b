//! Nothing moves under a thumb when an event arrives, and each alarm is read out once.

use crate::hands::Hands;
use serde_json::{Value, json};
use testkit::{PATIENCE, Screen};

const WATCH: &str = include_str!("watch.js");
const HEARD: &str = include_str!("heard.js");

pub(crate) async fn check(hands: &mut Hands<'_>) {
    hands.screen(Screen::PHONE_LIGHT).await;
    let key = breakable(hands).await;
    scrolled(hands, &key).await;
    at_the_top(hands, &key).await;
}

/// The first thing in the room that can be broken: the air of a tumbler.
pub(crate) async fn breakable(hands: &Hands<'_>) -> String {
    let all = hands.api.get("api/v1/simulated").await;
    let mut keys = all["things"].as_array().unwrap().iter().map(|t| t["key"].as_str().unwrap().to_owned());
    keys.find(|k| k.starts_with("air-")).unwrap()
}

pub(crate) async fn alarms(hands: &Hands<'_>, what: &str, question: impl Fn(&[Value]) -> bool) {
    hands.api.until(what, "api/v1/alarms", |a| question(a.as_array()?).then_some(())).await;
}

/// The thumb lies on a link of the rack while an alarm comes, is read out, and goes.
async fn scrolled(hands: &mut Hands<'_>, key: &str) {
    hands.open("").await;
    hands.ask(HEARD, vec![]).await;
    let place = "const r = document.querySelectorAll('#rack a')[1]; r.scrollIntoView({block: 'center'}); const b = r.getBoundingClientRect();\
        return [b.left + b.width / 2, b.top + b.height / 2];";
    let point = hands.ask(place, vec![]).await;
    let (x, y) = (point[0].as_f64().unwrap(), point[1].as_f64().unwrap());
    hands.ask("addEventListener('click', e => e.preventDefault());", vec![]).await;
    hands.touch(x, y).await;
    let what = hands.ask(WATCH, vec![json!(x), json!(y)]).await;
    assert!(what.as_str().unwrap().starts_with("A /clutches/"), "{what}");
    hands.breaks(key, true).await;
    hands.until("the alarm is told at the foot", "document.querySelector('#pages .called')").await;
    hands.until("the alarm stands on the page", "document.querySelector('#alarms article')").await;
    let told = hands.ask("return document.querySelector('#pages .called').textContent;", vec![]).await;
    assert_eq!(told, json!("1 alarm"));
    let above =
        hands.number("document.querySelector('#alarms article').getBoundingClientRect().bottom").await;
    assert!(above <= y, "the alarm stands above the thumb: {above}");
    hands.until("it has aged by a look", "watched.frames > 60").await;
    hands.breaks(key, false).await;
    alarms(hands, "the air is back", |a| a.iter().all(|a| a["standing"] == false)).await;
    hands.until("the page says that it has gone", "document.querySelector('#alarms article.gone')").await;
    moved(hands, "scrolled").await;
    let read = hands.ask("return readOut;", vec![]).await;
    let read: Vec<String> = serde_json::from_value(read).unwrap();
    if read.len() != 1 || !read[0].starts_with("Alarm: ") {
        hands.wrong("read out, where one alarm came", [format!("{read:?}")]);
    }
}

async fn moved(hands: &mut Hands<'_>, place: &str) {
    let watched = hands.ask("return watched;", vec![]).await;
    if watched["others"] != json!([]) || watched["most"].as_f64().unwrap() > 1.0 {
        hands.wrong(&format!("under the thumb, {place}"), [watched.to_string()]);
    }
}

/// A hand is about to take an alarm on at the top of the page, when the power goes, which is another alarm and explains the first.
async fn at_the_top(hands: &mut Hands<'_>, key: &str) {
    hands.breaks(key, true).await;
    alarms(hands, "the first alarm again", |a| a.iter().any(|a| a["standing"] == true)).await;
    hands.open("").await;
    let button = "document.querySelector('#alarms article:not(.gone) .take button')";
    hands.until("its button", button).await;
    let middle = "const b = e.getBoundingClientRect(); return [b.left + b.width / 2, b.top + b.height / 2];";
    let point = hands.ask(&format!("const e = {button}; {middle}"), vec![]).await;
    let (x, y) = (point[0].as_f64().unwrap(), point[1].as_f64().unwrap());
    hands.touch(2.0, y).await;
    hands.ask(WATCH, vec![json!(x), json!(y)]).await;
    let known = ids(&hands.api.get("api/v1/alarms").await);
    hands.breaks("power", true).await;
    let mut events = hands.api.events().await;
    // The hand stays about: it touches the empty margin at each thing that happens, until some looks after the news.
    let news = async {
        let mut looks = 0;
        while looks < 4 {
            events.next().await;
            hands.touch(2.0, y).await;
            looks +=
                usize::from(ids(&hands.api.get("api/v1/alarms").await).iter().any(|id| !known.contains(id)));
        }
    };
    tokio::time::timeout(2 * PATIENCE, news).await.expect("another alarm");
    moved(hands, "at the top").await;
    let fresh = "[...document.querySelectorAll('#alarms article')].some(a => !arguments[0].includes(a.id))";
    let shown =
        hands.ask("return [...document.querySelectorAll('#alarms article')].map(a => a.id);", vec![]).await;
    let shown: Vec<String> = serde_json::from_value(shown).unwrap();
    let fresh = fresh.replace("arguments[0]", &json!(shown).to_string());
    hands.until("the other one, once the hand is off", &fresh).await;
    hands.breaks("power", false).await;
}

fn ids(alarms: &Value) -> Vec<String> {
    alarms.as_array().unwrap().iter().map(|a| a["id"].as_str().unwrap().to_owned()).collect()
}
