//! An item as a letter (RFC 5322).

use super::rich::Rich;
use crate::Item;
use crate::words::Words;
use lettre::message::header::{ContentType, HeaderName, HeaderValue};
use lettre::message::{Mailbox, Message, SinglePart};
use sha2::{Digest, Sha256};
use std::time::{Duration, SystemTime};

/// The end of the year 9999, the last that a date of mail can hold.
const LAST: u64 = 253_402_300_799;
/// The longest id that is written out: a line has 998 characters at most (RFC 5322, 2.1.1), and a short one reads better.
const LONGEST_ID: usize = 200;

/// The whole letter, ready for the wire.
pub(super) fn letter(
    item: &Item,
    unix_seconds: i64,
    from: &Mailbox,
    to: &[Mailbox],
) -> Result<Vec<u8>, String> {
    let words = Words::of(&item.body);
    let domain = from.email.domain();
    let mut letter = Message::builder()
        .from(from.clone())
        .subject(words.subject)
        .date(time(unix_seconds))
        .raw_header(ready("Message-ID", message_id(&item.id, domain)))
        // RFC 3834: nobody's absence note answers it.
        .raw_header(ready("Auto-Submitted", "auto-generated".to_owned()));
    if let Some(thread) = words.thread.filter(|t| *t != item.id) {
        let id = message_id(&thread, domain);
        letter = letter.raw_header(ready("In-Reply-To", id.clone())).raw_header(ready("References", id));
    }
    for to in to {
        letter = letter.to(to.clone());
    }
    let written = match Rich::of(&item.body) {
        Some(rich) => letter.multipart(rich.with(words.message)),
        None => letter.singlepart(SinglePart::builder().header(ContentType::TEXT_PLAIN).body(words.message)),
    };
    written.map(|l| l.formatted()).map_err(|e| e.to_string())
}

fn time(unix_seconds: i64) -> SystemTime {
    let seconds = u64::try_from(unix_seconds).unwrap_or_default().min(LAST);
    SystemTime::UNIX_EPOCH + Duration::from_secs(seconds)
}

/// A header whose value is plain ASCII of our own making.
fn ready(name: &'static str, value: String) -> HeaderValue {
    HeaderValue::dangerous_new_pre_encoded(HeaderName::new_from_ascii_str(name), value.clone(), value)
}

/// An id that is the same over all tries. What may not stand in one (RFC 5322, 3.6.4) is written as `=` and its bytes.
fn message_id(id: &str, domain: &str) -> String {
    let mut local = String::new();
    for byte in id.bytes() {
        match byte {
            b'a'..=b'z' | b'A'..=b'Z' | b'0'..=b'9' | b'-' | b'_' => local.push(char::from(byte)),
            _ => local += &format!("={byte:02X}"),
        }
    }
    if local.is_empty() || local.len() > LONGEST_ID {
        local = Sha256::digest(id).iter().map(|byte| format!("{byte:02x}")).collect();
    }
    format!("<{local}@{domain}>")
}

#[cfg(test)]
mod tests {
    use super::*;

    fn written(id: &str, body: &str) -> String {
        let item = Item { id: id.to_owned(), way: "mia".to_owned(), body: body.to_owned(), tries: 0 };
        let (from, to) = ("Hatchwarden <room@example.org>", ["Mia <mia@example.org>", "ole@example.org"]);
        let to = to.map(|t| t.parse().unwrap());
        String::from_utf8(letter(&item, 1_700_000_000, &from.parse().unwrap(), &to).unwrap()).unwrap()
    }

    fn head(letter: &str) -> Vec<&str> {
        letter.split("\r\n\r\n").next().unwrap().split("\r\n").collect()
    }

    #[test]
    fn the_head_says_who_when_and_that_no_person_wrote() {
        let letter = written(
            "msg_undercroft-TU3",
            r#"{"data":{"subject":"TU3 lies still","message":"Air stopped."}}"#,
        );
        let head = head(&letter);
        for line in [
            "From: Hatchwarden <room@example.org>",
            "To: Mia <mia@example.org>, ole@example.org",
            "Subject: TU3 lies still",
            "Date: Tue, 14 Nov 2023 22:13:20 +0000",
            "Message-ID: <msg_undercroft-TU3@example.org>",
            "Auto-Submitted: auto-generated",
            "MIME-Version: 1.0",
            "Content-Type: text/plain; charset=utf-8",
        ] {
            assert!(head.contains(&line), "{line}: {letter}");
        }
        assert!(!letter.contains("In-Reply-To") && letter.ends_with("\r\n\r\nAir stopped.\r\n"), "{letter}");
    }

    #[test]
    fn a_thread_is_answered_and_its_first_letter_answers_nothing() {
        let body = r#"{"data":{"subject":"s","message":"m","thread":"TU3.air-stopped"}}"#;
        let letter = written("msg_2", body);
        let head = head(&letter);
        assert!(head.contains(&"In-Reply-To: <TU3=2Eair-stopped@example.org>"), "{letter}");
        assert!(head.contains(&"References: <TU3=2Eair-stopped@example.org>"), "{letter}");
        let first = written("TU3.air-stopped", body);
        assert!(
            first.contains("Message-ID: <TU3=2Eair-stopped@example.org>") && !first.contains("References")
        );
    }

    #[test]
    fn nothing_in_a_message_can_add_a_header() {
        let nasty = "x\\r\\nBcc: all@example.org\\r\\n\\r\\nbody\\u2028y";
        let body = format!(r#"{{"data":{{"subject":"{nasty}","message":"m","thread":"{nasty}"}}}}"#);
        let letter = written("id\r\nBcc: all@example.org", &body);
        let head = head(&letter);
        assert!(!head.iter().any(|l| l.to_lowercase().starts_with("bcc:")), "{letter}");
        assert!(head.contains(&"Subject: x Bcc: all@example.org body y"), "{letter}");
        assert!(letter.ends_with("\r\n\r\nm\r\n") && letter.is_ascii());
    }

    #[test]
    fn ids_stay_apart_and_short() {
        let ids = ["a.b", "a=2Eb", "a b", "", &"x".repeat(500), &"x".repeat(501)];
        let made: Vec<String> = ids.iter().map(|id| message_id(id, "example.org")).collect();
        for (place, id) in made.iter().enumerate() {
            assert!(id.len() < 250 && !made[..place].contains(id), "{id}");
        }
    }

    #[test]
    fn any_time_gives_a_date() {
        for seconds in [i64::MIN, -1, 0, i64::MAX] {
            let item = Item { id: "a".to_owned(), way: String::new(), body: String::new(), tries: 0 };
            let from: Mailbox = "room@example.org".parse().unwrap();
            assert!(letter(&item, seconds, &from, std::slice::from_ref(&from)).is_ok());
        }
    }
}
