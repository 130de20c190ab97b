//! What a letter holds beside its plain text: the same as HTML, with pictures in it.

use lettre::message::header::ContentType;
use lettre::message::{Attachment, MultiPart, SinglePart};
use serde_json::Value;

/// A page and its pictures.
pub(super) struct Rich {
    html: String,
    pictures: Vec<Picture>,
}

struct Picture {
    id: String,
    name: String,
    svg: String,
}

impl Rich {
    /// Reads `/data/html` and `/data/pictures`, a list of `{id, name, svg}`. `None` for the plain message that an alarm is.
    pub(super) fn of(body: &str) -> Option<Self> {
        let json: Value = serde_json::from_str(body).ok()?;
        let html = json.pointer("/data/html")?.as_str()?.to_owned();
        let listed = json.pointer("/data/pictures").and_then(Value::as_array);
        Some(Self { html, pictures: listed.into_iter().flatten().filter_map(picture).collect() })
    }

    /// The plain text, and for who can show it the page (RFC 2046, 5.1.4), which is one with its pictures (RFC 2387).
    pub(super) fn with(self, text: String) -> MultiPart {
        let mut page = MultiPart::related().singlepart(SinglePart::html(self.html));
        for p in self.pictures {
            page = page.singlepart(Attachment::new_inline_with_name(p.id, p.name).body(p.svg, svg()));
        }
        MultiPart::alternative().singlepart(SinglePart::plain(text)).multipart(page)
    }
}

fn svg() -> ContentType {
    ContentType::parse("image/svg+xml").unwrap_or(ContentType::TEXT_PLAIN)
}

/// A picture whose id and name can stand in a header.
fn picture(json: &Value) -> Option<Picture> {
    let text = |key: &str| json.get(key)?.as_str();
    let sound = |c: char| if c.is_ascii_alphanumeric() || "-_.@".contains(c) { c } else { '-' };
    let clean = |key: &str| Some(text(key)?.chars().take(100).map(sound).collect());
    Some(Picture { id: clean("id")?, name: clean("name")?, svg: text("svg")?.to_owned() })
}
