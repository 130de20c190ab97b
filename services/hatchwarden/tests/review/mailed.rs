//! The mail in the morning.

use super::house::{House, at, vessel};
use super::postbox::Postbox;
use notify::{Item, MailServer, MailSettings, Tls, Way, mail};
use serde_json::{Value, json};
use store::{OutboxChange, OutboxItem};
use units::{Span, Time};

const MAIL: &str = "[mail]\nhost = \"127.0.0.1\"\ntls = \"none\"\nfrom = \"Undercroft <room@example.org>\"\n\
    [night]\nat = \"07:45\"\nmail = [\"ada@example.org\", \"ben@example.org\"]\n";

fn pending(house: &House) -> Vec<OutboxItem> {
    let all = house.service.store().reader().unwrap().outbox_pending().unwrap();
    all.into_iter().filter(|i| i.row.body.contains("night.reviewed")).collect()
}

/// Waits until letters lie in the outbox.
async fn letters(house: &House) -> Vec<OutboxItem> {
    loop {
        let found = pending(house);
        if !found.is_empty() {
            return found;
        }
        house.service.posted().await;
    }
}

async fn delivered(house: &House, items: &[OutboxItem], at: Time) {
    let change = |i: &OutboxItem| OutboxChange::Delivered { id: i.row.id.clone(), at };
    let batch =
        store::Batch { outbox_changes: items.iter().map(change).collect(), ..store::Batch::default() };
    house.service.store().commit(batch).await.unwrap();
}

/// At 07:45 of the room's clock, whatever that is in UTC: an hour sooner by it after the clocks went forward, later after they went
/// back; and once only, though the service was away and came back twice.
#[tokio::test(flavor = "multi_thread")]
async fn a_letter_goes_once_each_morning_by_the_rooms_clock() {
    for (night, morning) in [
        (("2026-03-28T19:00:00Z", "2026-03-29T05:00:00Z"), "2026-03-29T05:45:00Z"),
        (("2026-10-24T18:00:00Z", "2026-10-25T06:00:00Z"), "2026-10-25T06:45:00Z"),
    ] {
        let folder = tempfile::tempdir().unwrap();
        let house = House::start(folder.path(), "Europe/Berlin", night, MAIL).await;
        house.fill("V1/temperature", Span::minutes(10), |_| Some(26.4)).await;
        let morning = at(morning);
        house.service.move_to(morning - Span::seconds(1)).await.unwrap();
        assert!(pending(&house).is_empty(), "not before");
        house.service.move_to(morning).await.unwrap();
        let sent = letters(&house).await;
        let ways: Vec<&str> = sent.iter().map(|i| i.row.way.as_str()).collect();
        assert_eq!(ways, ["mail:ada@example.org", "mail:ben@example.org"]);
        assert_eq!(sent[0].row.created, morning);
        assert!(!sent[0].row.id.contains('.') && sent[0].row.id != sent[1].row.id, "{}", sent[0].row.id);
        delivered(&house, &sent, morning).await;

        // Away, and back before the next morning: nothing is sent again, and then the next night's.
        let house = house.again(morning + Span::minutes(5)).await;
        let house = house.again(morning + Span::hours(20)).await;
        let next = morning + Span::hours(24);
        house.service.move_to(next).await.unwrap();
        let sent = letters(&house).await;
        assert_eq!(sent.len(), 2);
        let said: Value = serde_json::from_str(&sent[0].row.body).unwrap();
        assert!(said["data"]["headline"].as_str().unwrap().contains("is not known"), "{said}");
        house.service.stop().await;
    }
}

/// The service was away when the letter was due: it goes when it is back; once the next night has begun it does not go any more.
#[tokio::test(flavor = "multi_thread")]
async fn a_letter_that_was_missed_goes_the_same_day() {
    let night = ("2026-11-20T20:00:00Z", "2026-11-21T07:00:00Z");
    for (back, goes) in [("2026-11-21T15:00:00Z", "2026-11-20"), ("2026-11-21T21:00:00Z", "2026-11-21")] {
        let folder = tempfile::tempdir().unwrap();
        let house = House::start(folder.path(), "Europe/Lisbon", night, MAIL).await;
        let house = house.again(at(back)).await;
        let next = at("2026-11-22T07:45:00Z");
        if goes == "2026-11-21" {
            house.service.move_to(next).await.unwrap();
        }
        let sent = letters(&house).await;
        assert!(sent.iter().all(|i| i.row.id.contains(goes)), "{goes}: {}", sent[0].row.id);
        house.service.stop().await;
    }
}

/// From the outbox through SMTP into the hands of Python's mail parser: text, page and pictures, the same as the review says.
#[tokio::test(flavor = "multi_thread")]
async fn the_letter_arrives_with_text_page_and_pictures() {
    let folder = tempfile::tempdir().unwrap();
    let night = ("2026-11-20T20:00:00Z", "2026-11-21T07:00:00Z");
    let house = House::start(folder.path(), "Europe/Lisbon", night, MAIL).await;
    house.fill("V1/temperature", Span::minutes(10), |_| Some(26.4)).await;
    house.clutch().await;
    house.service.move_to(at("2026-11-21T07:45:00Z")).await.unwrap();
    let sent = letters(&house).await;
    let review = house.review("2026-11-20").await;

    let mut postbox = Postbox::start(&json!({})).await;
    let from = "Undercroft <room@example.org>".to_owned();
    let server =
        MailServer { port: postbox.port, tls: Tls::None, ..MailServer::new("127.0.0.1".to_owned(), from) };
    let row = &sent[0].row;
    let way =
        mail(MailSettings { name: row.way.clone(), to: vec!["ada@example.org".to_owned()], server }).unwrap();
    let item = Item { id: row.id.clone(), way: row.way.clone(), body: row.body.clone(), tries: 0 };
    way.deliver(&item, 1_795_000_000).await.unwrap();
    let letter = postbox.letter().await;
    assert_eq!(letter.json["defects"], json!([]), "read by Python without complaint");
    assert!(
        letter.header("Subject").starts_with("The night of Fri 20 to Sat 21 November 2026, undercroft: ")
    );
    assert_eq!(letter.json["text"].as_str().unwrap().trim_end(), web::review::text(&review).trim_end());
    let parts = letter.json["parts"].as_array().unwrap();
    assert_eq!(parts.len(), 2 + review.vessels.len());
    let html = parts[1]["text"].as_str().unwrap();
    assert!(vessel(&review, "TU2").clutches.len() == 1 && html.contains("C11 gained"), "{html}");
    for (part, v) in parts[2..].iter().zip(&review.vessels) {
        let id = part["id"].as_str().unwrap().trim_matches(['<', '>']);
        assert!(html.contains(&format!("src=\"cid:{id}\"")), "{id}: {html}");
        assert_eq!(
            (part["type"].as_str(), part["text"].as_str().unwrap().contains(v.vessel.as_str())),
            (Some("image/svg+xml"), true)
        );
    }
    house.service.stop().await;
}

/// Nobody is written to unless somebody asked for it.
#[tokio::test(flavor = "multi_thread")]
async fn without_its_table_nothing_is_sent() {
    let folder = tempfile::tempdir().unwrap();
    let night = ("2026-11-20T20:00:00Z", "2026-11-21T07:00:00Z");
    let house = House::start(folder.path(), "Europe/Lisbon", night, "").await;
    house.service.move_to(at("2026-11-21T12:00:00Z")).await.unwrap();
    assert!(house.service.store().reader().unwrap().outbox_pending().unwrap().is_empty());
    house.service.stop().await;
}
