//! Who is called and how: `[mail]`, `[[webhook]]`, `[[call]]`, `[[siren]]`.

use super::read::{finishing, path};
use super::table::Table;
use super::{Call, DRILLS, Drills, Hours, MailServer, MailTls, NIGHT_AT, NightMail, Siren, Webhook};
use crate::room::{EVENING, MORNING};
use std::path::Path;
use std::str::FromStr;
use units::Span;

/// Everything that calls.
pub(super) struct Calling {
    pub(super) mail: Option<MailServer>,
    pub(super) webhooks: Vec<Webhook>,
    pub(super) calls: Vec<Call>,
    pub(super) sirens: Vec<Siren>,
    pub(super) night: Option<NightMail>,
}

pub(super) fn read(root: &mut Table<'_>, folder: &Path) -> Calling {
    let mail = root.table("mail").and_then(|mut t| finishing(&mut t, |t| mail(t, folder)));
    let webhooks: Vec<Webhook> = root
        .one_or_more("webhook")
        .into_iter()
        .filter_map(|mut t| finishing(&mut t, |t| webhook(t, folder)))
        .collect();
    let mut calls: Vec<Call> = Vec::new();
    for mut t in root.tables("call") {
        let read = finishing(&mut t, |t| call(t, mail.as_ref(), &webhooks));
        calls.extend(read.map(|call| numbered(call, &calls)));
    }
    // A receiver that no call names is told of everything.
    for hook in webhooks.iter().filter(|w| !calls.iter().any(|c| c.way == w.name)).collect::<Vec<_>>() {
        calls.push(Call::of_everything(hook));
    }
    let sirens = root.tables("siren").into_iter().filter_map(|mut t| finishing(&mut t, siren)).collect();
    let night = root.table("night").and_then(|mut t| finishing(&mut t, |t| night(t, mail.as_ref())));
    Calling { mail, webhooks, calls, sirens, night }
}

/// Two calls by one way to one person need names of their own.
fn numbered(call: Call, before: &[Call]) -> Call {
    let same = before
        .iter()
        .filter(|c| c.name == call.name || c.name.starts_with(&format!("{} ", call.name)))
        .count();
    if same == 0 { call } else { Call { name: format!("{} {}", call.name, same + 1), ..call } }
}

fn mail(t: &mut Table<'_>, folder: &Path) -> Option<MailServer> {
    let host = t.required("host", "name the server that sends mail, e.g. \"smtp.example.org\"");
    let at = t.offset_of("tls");
    let tls = match t.text("tls").map(|f| f.value).as_deref() {
        None | Some("starttls") => MailTls::StartTls,
        Some("tls") => MailTls::Tls,
        Some("none") => MailTls::None,
        Some(other) => {
            t.fault(
                at,
                "tls",
                format!("{other:?} is no way to encrypt"),
                "write \"starttls\", \"tls\" or \"none\"",
            );
            MailTls::StartTls
        }
    };
    let usual = match tls {
        MailTls::StartTls => 587,
        MailTls::Tls => 465,
        MailTls::None => 25,
    };
    let port = t.number("port", 1.0..=65_535.0).map_or(usual, |p| p as u16);
    let username = t.text("username").map(|f| f.value);
    let password_file = t.text("password_file").map(|f| folder.join(f.value));
    let ca = t.text("ca").map(|f| folder.join(f.value));
    let from = t.required("from", "write the sender's address, e.g. \"hatchwarden@example.org\"");
    Some(MailServer { host: host?, port, tls, username, password_file, ca, from: from? })
}

fn webhook(t: &mut Table<'_>, folder: &Path) -> Option<Webhook> {
    let name = t.text("name").map_or_else(|| "webhook".to_owned(), |f| f.value);
    t.rename(format!("webhook {name:?}"));
    let url = t.required("url", "write the address to post to, e.g. \"https://example.org/alarms\"");
    let template = t.text("template").map(|f| f.value);
    let content_type = t.text("content_type").map(|f| f.value);
    let secret_file = if template.is_none() || t.has("secret_file") {
        Some(path(t, "secret_file", folder, "name the file that holds the signing secret")?)
    } else {
        t.known("secret_file");
        None
    };
    let key_file = t.text("authorization_file").map(|f| folder.join(f.value));
    Some(Webhook { name, url: url?, secret_file, template, content_type, key_file })
}

fn call(t: &mut Table<'_>, mail: Option<&MailServer>, webhooks: &[Webhook]) -> Option<Call> {
    let person = t.text("person").map(|f| f.value);
    let (at_mail, at_hook) = (t.offset_of("mail"), t.offset_of("webhook"));
    let (to, hook) = (t.text("mail").map(|f| f.value), t.text("webhook").map(|f| f.value));
    let priority = t.number("priority", 1.0..=5.0).map_or(5, |p| p as u8);
    let hours = t.parsed::<Hours>("hours", "write from and to on the room's clock, e.g. \"22:00-07:00\"");
    let after =
        t.number("after_min", 0.0..=240.0).map_or(Span::ZERO, |m| Span::from_millis((m * 60_000.0) as i64));
    let (way, program) = match (to, hook) {
        (Some(to), None) => {
            if mail.is_none() {
                t.fault(
                    at_mail,
                    "mail",
                    "there is no server to send it by".to_owned(),
                    "add a [mail] table with host and from",
                );
                return None;
            }
            (format!("mail:{to}"), false)
        }
        (None, Some(name)) => {
            let Some(hook) = webhooks.iter().find(|w| w.name == name) else {
                t.fault(
                    at_hook,
                    "webhook",
                    format!("{name:?} is not the name of a [[webhook]]"),
                    "name one, or add it",
                );
                return None;
            };
            (name, hook.template.is_none())
        }
        _ => {
            t.missing(
                "mail or webhook",
                "give exactly one: mail = \"ada@example.org\", or webhook = \"phone\"",
            );
            return None;
        }
    };
    let name = person.clone().map_or_else(|| way.clone(), |person| format!("{person} by {way}"));
    Some(Call { name, way, person, priority, hours, after, program })
}

/// The review of a night by mail.
fn night(t: &mut Table<'_>, mail: Option<&MailServer>) -> Option<NightMail> {
    let at_mail = t.offset_of("mail");
    let to = t.texts("mail", "write a list of addresses, e.g. [\"ada@example.org\"]");
    let found = t.text("at");
    let at = found.as_ref().map_or(Some(NIGHT_AT), |f| minute(&f.value));
    let at = at.filter(|at| (MORNING..EVENING).contains(at));
    if let Some(f) = found.filter(|_| at.is_none()) {
        let problem =
            format!("{:?} is no time of day at which a night is over and the next has not begun", f.value);
        t.fault(f.offset, "at", problem, "write a time from \"07:00\" to \"19:59\", e.g. \"07:30\"");
    }
    if to.is_empty() {
        t.fault(
            at_mail,
            "mail",
            "names nobody".to_owned(),
            "write a list of addresses, e.g. [\"ada@example.org\"]",
        );
    } else if mail.is_none() {
        let problem = "there is no server to send it by".to_owned();
        t.fault(at_mail, "mail", problem, "add a [mail] table with host and from");
    }
    Some(NightMail { to: to.into_iter().map(|(to, _)| to).collect(), at: at? })
}

fn siren(t: &mut Table<'_>) -> Option<Siren> {
    let topic: String =
        t.required("topic", "name the topic that the siren or lamp hears, e.g. \"cellar/siren\"")?;
    let on = t.text("on").map_or_else(|| "on".to_owned(), |f| f.value);
    let off = t.text("off").map_or_else(|| "off".to_owned(), |f| f.value);
    let priority = t.number("priority", 1.0..=5.0).map_or(3, |p| p as u8);
    let until_over = t.flag("until_over").unwrap_or(false);
    if topic.contains(['+', '#']) || topic.is_empty() {
        t.fault(
            t.offset(),
            "topic",
            format!("{topic:?} is no topic to publish on"),
            "write it without + and #",
        );
        return None;
    }
    Some(Siren { topic, on, off, priority, until_over })
}

impl Call {
    fn of_everything(hook: &Webhook) -> Self {
        Self {
            name: hook.name.clone(),
            way: hook.name.clone(),
            person: None,
            priority: 5,
            hours: None,
            after: Span::ZERO,
            program: hook.template.is_none(),
        }
    }
}

impl FromStr for Hours {
    type Err = String;
    fn from_str(text: &str) -> Result<Self, String> {
        let (from, to) = text.split_once('-').ok_or("it has no from and to")?;
        match (minute(from), minute(to)) {
            (Some(from), Some(to)) if from != to => Ok(Self { from, to }),
            (Some(_), Some(_)) => Err("from and to are the same; leave it out for the whole day".to_owned()),
            _ => Err("a time is written as 07:00".to_owned()),
        }
    }
}

/// The minute of the day of a time such as 07:30.
fn minute(text: &str) -> Option<u32> {
    let (h, m) = text.trim().split_once(':')?;
    let (h, m): (u32, u32) = (h.parse().ok()?, m.parse().ok()?);
    (h < 24 && m < 60).then_some(60 * h + m)
}

/// How often there are drills; none for 0 days.
pub(super) fn drills(t: &mut Table<'_>) -> Option<Drills> {
    let every_days = t.number("every_days", 0.0..=365.0).map_or(DRILLS.every_days, |d| d as u16);
    let found = t.text("at");
    let at = found.as_ref().map_or(Some(DRILLS.at), |f| minute(&f.value));
    if let Some(f) = found.filter(|_| at.is_none()) {
        t.fault(f.offset, "at", format!("{:?} is no time of day", f.value), "write it as \"18:00\"");
    }
    Some(Drills { every_days, at: at? }).filter(|_| every_days > 0)
}

/// Planning times by stage, in minutes.
pub(super) fn deadlines(t: &mut Table<'_>) -> alarms::Deadlines {
    let usual = alarms::Deadlines::default();
    let mut minutes =
        |key, usual| t.number(key, 1.0..=1440.0).map_or(usual, |m| Span::from_millis((m * 60_000.0) as i64));
    let (egg, eyed) = (minutes("egg_min", usual.egg), minutes("eyed_min", usual.eyed));
    let (hatch, swimming) = (minutes("hatch_min", usual.hatch), minutes("swimming_min", usual.swimming));
    let hot = t.number("hot_above", 20.0..=40.0).unwrap_or(usual.hot);
    let crowded = t.number("crowded_above_per_l", 0.1..=100.0).unwrap_or(usual.crowded);
    alarms::Deadlines { egg, eyed, hatch, swimming, hot, crowded }
}
