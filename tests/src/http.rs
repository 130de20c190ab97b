//! The API under test, and its event stream as the thing to wait for.

use crate::PATIENCE;
use reqwest::Client;
use serde_json::Value;

/// One service's HTTP face.
#[derive(Clone)]
pub struct Api {
    /// `http://127.0.0.1:port/`.
    pub address: String,
    client: Client,
}

impl Api {
    /// For the address that the service printed.
    pub fn new(address: String) -> Self {
        // A second test in the same process finds the provider installed.
        let _ = rustls::crypto::ring::default_provider().install_default();
        Self { address, client: Client::builder().no_proxy().build().unwrap() }
    }

    fn url(&self, path: &str) -> String {
        format!("{}{path}", self.address)
    }

    /// GET as JSON.
    pub async fn get(&self, path: &str) -> Value {
        let answer = self.client.get(self.url(path)).send().await.unwrap();
        assert!(answer.status().is_success(), "{path}: {}", answer.status());
        answer.json().await.unwrap()
    }

    /// GET as text.
    pub async fn page(&self, path: &str) -> String {
        self.client.get(self.url(path)).send().await.unwrap().text().await.unwrap()
    }

    /// POST of JSON; status and body.
    pub async fn post(&self, path: &str, body: &Value) -> (u16, String) {
        let answer = self.client.post(self.url(path)).json(body).send().await.unwrap();
        (answer.status().as_u16(), answer.text().await.unwrap())
    }

    /// The event stream.
    pub async fn events(&self) -> Events {
        let answer = self.client.get(self.url("api/v1/events")).send().await.unwrap();
        assert!(answer.status().is_success());
        Events { answer }
    }

    /// Length of the first event of the stream, bytes.
    pub async fn first_event(&self) -> usize {
        let mut events = self.events().await;
        let mut text = Vec::new();
        while !text.windows(2).any(|w| w == b"\n\n") {
            text.extend(events.answer.chunk().await.unwrap().expect("the event stream ended"));
        }
        text.len()
    }

    /// Waits, from one event of the service to the next, until `question` is answered.
    ///
    /// # Panics
    /// When no answer comes in time; says what was asked.
    pub async fn until<T>(&self, what: &str, path: &str, question: impl Fn(&Value) -> Option<T>) -> T {
        let asked = async {
            let mut events = self.events().await;
            loop {
                if let Some(answer) = question(&self.get(path).await) {
                    return answer;
                }
                events.next().await;
            }
        };
        match tokio::time::timeout(PATIENCE, asked).await {
            Ok(answer) => answer,
            Err(_) => panic!("never came true: {what}; last {path}: {}", self.get(path).await),
        }
    }
}

/// Server-sent events; only that something has changed matters here.
pub struct Events {
    answer: reqwest::Response,
}

impl Events {
    /// Waits for the next piece of the stream.
    pub async fn next(&mut self) {
        let piece = self.answer.chunk().await.unwrap();
        assert!(piece.is_some(), "the event stream ended");
    }
}
