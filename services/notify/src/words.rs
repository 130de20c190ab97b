//! What an item says to a person.

use serde_json::Value;

/// The most characters of a subject: longer ones are cut off on a telephone anyway. A planning value.
const SUBJECT: usize = 200;

/// Subject and text of an item, and what it belongs to. There always are some: an alarm must leave in any case.
pub(crate) struct Words {
    /// One line without control characters, never empty.
    pub(crate) subject: String,
    /// Lines without control characters, never empty.
    pub(crate) message: String,
    /// The id of what it belongs to.
    pub(crate) thread: Option<String>,
}

impl Words {
    /// Reads `/data/headline` (or `/data/subject`), `/data/message` (or `/data/text`) and `/data/thread` (JSON pointers, RFC 6901). Where there are none,
    /// the type of the message stands for its subject and the whole JSON for its text.
    pub(crate) fn of(body: &str) -> Self {
        let json: Value = serde_json::from_str(body).unwrap_or_default();
        let text = |pointer| json.pointer(pointer).and_then(Value::as_str).filter(|t| !t.trim().is_empty());
        let subject = text("/data/headline")
            .or_else(|| text("/data/subject"))
            .or_else(|| text("/type"))
            .unwrap_or("message");
        let message = text("/data/message").or_else(|| text("/data/text"));
        Self {
            subject: line(subject),
            message: message.map_or_else(|| lines(&laid_out(&json, body)), lines),
            thread: text("/data/thread").map(str::to_owned),
        }
    }
}

fn laid_out(json: &Value, body: &str) -> String {
    match json {
        Value::Null => body.to_owned(),
        json => serde_json::to_string_pretty(json).unwrap_or_else(|_| body.to_owned()),
    }
}

/// One line: nothing in it can end a header or begin another one.
pub(crate) fn line(text: &str) -> String {
    let plain: String = text.chars().map(|c| if ends_line(c) { ' ' } else { c }).collect();
    let words: Vec<&str> = plain.split_whitespace().collect();
    words.join(" ").chars().take(SUBJECT).collect()
}

fn ends_line(c: char) -> bool {
    c.is_control() || matches!(c, '\u{2028}' | '\u{2029}')
}

fn lines(text: &str) -> String {
    text.replace("\r\n", "\n").chars().filter(|c| matches!(c, '\n' | '\t') || !c.is_control()).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn subject_message_and_thread_are_found() {
        let words = Words::of(
            r#"{"type":"alarm.raised","data":{"subject":"TU3 lies still","message":"Air\nstopped.","thread":"TU3.air"}}"#,
        );
        assert_eq!(words.subject, "TU3 lies still");
        assert_eq!(words.message, "Air\nstopped.");
        assert_eq!(words.thread.as_deref(), Some("TU3.air"));
    }

    #[test]
    fn whatever_the_body_is_there_is_something_to_read() {
        for (body, subject, part) in [
            (r#"{"type":"alarm.raised","data":{"vessel":"TU3"}}"#, "alarm.raised", "\"vessel\": \"TU3\""),
            (r#"{"type":"alarm.raised","data":{"subject":" ","text":"Still."}}"#, "alarm.raised", "Still."),
            (r#"{"data":{"subject":7,"message":""}}"#, "message", "\"subject\": 7"),
            ("no JSON at all", "message", "no JSON at all"),
            ("[1]", "message", "1"),
        ] {
            let words = Words::of(body);
            assert_eq!(words.subject, subject, "{body}");
            assert!(words.message.contains(part), "{body}: {}", words.message);
            assert_eq!(words.thread, None);
        }
    }

    #[test]
    fn a_subject_is_one_line_of_bounded_length() {
        assert_eq!(line("TU3\r\nBcc: all@example.org\u{2028}still\0"), "TU3 Bcc: all@example.org still");
        assert_eq!(line(&"ö".repeat(500)).chars().count(), SUBJECT);
    }

    #[test]
    fn a_message_keeps_its_lines_and_nothing_that_is_not_text() {
        assert_eq!(lines("a\r\nb\n\tc\0\u{7}"), "a\nb\n\tc");
    }
}
