//! What the keeper of the demo's whole room wrote down, and the keeper's way of writing: the service's own HTTP API.

use notify::EndpointError;
use reqwest::{Client, StatusCode};
use sensors_sim::Moment;
use serde::Deserialize;
use serde_json::{Map, Value};
use std::net::SocketAddr;
use std::time::Duration;
use units::Time;

const WRITTEN: &str = include_str!("../../../../config/demo/undercroft.toml");
/// Whoever is not named is this one.
const KEEPER: &str = "keeper";
/// Where most of it goes.
const ACCOUNT: &str = "account";
/// An entry is on disk in milliseconds; a disk that takes this long is failing.
const PATIENCE: Duration = Duration::from_secs(30);

/// Why the book cannot be read, or an entry is not taken.
#[derive(Debug, thiserror::Error)]
pub(super) enum BookError {
    #[error("config/demo/undercroft.toml: {0}")]
    Form(#[from] toml::de::Error),
    #[error("config/demo/undercroft.toml: {0}")]
    Moment(#[from] sensors_sim::WhenError),
    #[error("the alarms that stand cannot be read: {error}")]
    Alarms { error: serde_json::Error },
    #[error("what was written down at {at} could not be sent to {to}: {error}")]
    Sent { at: Time, to: String, error: reqwest::Error },
    #[error("what was written down at {at} was refused by {to}: {status} {said}")]
    Refused { at: Time, to: String, status: StatusCode, said: String },
}

/// The book's form.
#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
struct Book {
    entry: Vec<Written>,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
struct Written {
    at: String,
    by: Option<String>,
    to: Option<String>,
    say: Map<String, Value>,
}

/// One entry at its time.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Entry {
    /// When it is written down.
    pub(super) at: Time,
    /// Address under `/api/v1/`.
    to: String,
    /// What is sent.
    say: Map<String, Value>,
}

impl Entry {
    /// Whether it takes an alarm on.
    pub(super) fn is_acknowledgement(&self) -> bool {
        self.to.ends_with("/acknowledge")
    }
}

/// Everything that was written down in six weeks that began at `start`, in the order of time.
///
/// # Errors
/// [`BookError`] when the book cannot be read.
pub(super) fn entries(start: Time) -> Result<Vec<Entry>, BookError> {
    let book: Book = toml::from_str(WRITTEN)?;
    let mut entries = book.entry.into_iter().map(|w| entry(w, start)).collect::<Result<Vec<_>, _>>()?;
    entries.sort_by_key(|e| e.at);
    Ok(entries)
}

fn entry(written: Written, start: Time) -> Result<Entry, BookError> {
    let at = written.at.parse::<Moment>()?.after(start);
    let mut say = written.say;
    say.values_mut().for_each(|value| put_moments(value, start));
    let to = written.to.unwrap_or_else(|| ACCOUNT.to_owned());
    if to == ACCOUNT || to == "comparisons" {
        say.entry("at").or_insert_with(|| at.to_string().into());
    }
    if say.get("event").is_some_and(|e| e == "clutch-opened") {
        say.remove("at"); // a clutch begins with its day 0
    }
    say.insert("by".to_owned(), written.by.unwrap_or_else(|| KEEPER.to_owned()).into());
    Ok(Entry { at, to, say })
}

/// Puts times where moments stand.
fn put_moments(value: &mut Value, start: Time) {
    match value {
        Value::String(text) => {
            if let Ok(moment) = text.parse::<Moment>() {
                *text = moment.after(start).to_string();
            }
        }
        Value::Object(fields) => fields.values_mut().for_each(|v| put_moments(v, start)),
        _ => {}
    }
}

/// What matters of an alarm to who takes it on.
#[derive(Debug, Deserialize)]
struct Waiting {
    id: String,
    state: String,
}

/// The keeper at the service's API.
pub(super) struct Keeper {
    client: Client,
    page: SocketAddr,
}

impl Keeper {
    /// At the service whose page this is.
    ///
    /// # Errors
    /// The HTTP client cannot be made.
    pub(super) fn at(page: SocketAddr) -> Result<Self, EndpointError> {
        Ok(Self { client: notify::http_client()?, page })
    }

    /// Takes on every alarm that waits for it, as a keeper does who looks at the page in the morning and in the evening.
    ///
    /// # Errors
    /// [`BookError`] when the service does not answer.
    pub(super) async fn round(&self, at: Time) -> Result<(), BookError> {
        let to = "alarms".to_owned();
        let failed = |error| BookError::Sent { at, to: to.clone(), error };
        let request = self.client.get(format!("http://{}/api/v1/{to}", self.page)).timeout(PATIENCE);
        let said = request.send().await.map_err(failed)?.text().await.map_err(failed)?;
        let alarms: Vec<Waiting> =
            serde_json::from_str(&said).map_err(|error| BookError::Alarms { error })?;
        for alarm in alarms.iter().filter(|a| a.state.ends_with("unacknowledged")) {
            let say = Map::from_iter([("by".to_owned(), Value::from(KEEPER))]);
            self.write(&Entry { at, to: format!("alarms/{}/acknowledge", alarm.id), say }).await?;
        }
        Ok(())
    }

    /// Writes an entry down.
    ///
    /// # Errors
    /// [`BookError`] with what the service says against it.
    pub(super) async fn write(&self, entry: &Entry) -> Result<(), BookError> {
        let Entry { at, to, say } = entry;
        let failed = |error| BookError::Sent { at: *at, to: to.clone(), error };
        let request = self
            .client
            .post(format!("http://{}/api/v1/{to}", self.page))
            .timeout(PATIENCE)
            .header("content-type", "application/json")
            .body(Value::Object(say.clone()).to_string());
        let answer = request.send().await.map_err(failed)?;
        let status = answer.status();
        if status.is_success() {
            return Ok(());
        }
        let said = answer.text().await.map_err(failed)?;
        Err(BookError::Refused { at: *at, to: to.clone(), status, said })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_book_holds_together_and_its_moments_are_times() {
        let start = Time::parse_rfc3339("2031-03-01T00:00:00Z").unwrap();
        let entries = entries(start).unwrap();
        assert!(entries.len() > 100, "{}", entries.len());
        assert!(entries.windows(2).all(|w| w[0].at <= w[1].at));
        let escaped = entries.iter().find(|e| e.say.get("event").is_some_and(|v| v == "escaped")).unwrap();
        assert_eq!(escaped.at.to_string(), "2031-03-12T21:15:00Z");
        assert_eq!(escaped.say["at"], "2031-03-12T21:15:00Z");
        for e in entries.iter().filter(|e| e.to == ACCOUNT) {
            let mut event = e.say.clone();
            event.remove("by");
            let read: Result<ledger::Event, _> = serde_json::from_value(Value::Object(event.clone()));
            read.unwrap_or_else(|error| panic!("{event:?}: {error}"));
        }
    }
}
