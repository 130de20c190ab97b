//! A talk with the server, step by step, so that a failure can say at which.

use lettre::Address;
use lettre::transport::smtp::Error;
use lettre::transport::smtp::authentication::{Credentials, DEFAULT_MECHANISMS};
use lettre::transport::smtp::client::{AsyncSmtpConnection, TlsParameters};
use lettre::transport::smtp::commands::{Data, Mail, Rcpt};
use lettre::transport::smtp::extension::ClientId;
use std::time::Duration;
use tokio::time::timeout;

/// How long a server may take to say goodbye. What it said before stands in any case.
const GOODBYE: Duration = Duration::from_millis(500);

/// Who is talked to.
pub(super) struct Server {
    pub(super) host: String,
    pub(super) port: u16,
    /// What we call ourselves.
    pub(super) hello: ClientId,
    pub(super) encryption: Option<TlsParameters>,
    /// Whether it is encrypted from the first byte.
    pub(super) wrapped: bool,
    pub(super) credentials: Option<Credentials>,
}

/// One step of the talk.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Stage {
    Connect,
    Encrypt,
    Login,
    Sender,
    Text,
}

/// Why nothing was sent.
pub(super) enum Trouble {
    At(Stage, Error),
    TooSlow,
}

/// An address that the server does not take.
pub(super) struct Refusal {
    pub(super) to: Address,
    pub(super) error: Error,
}

/// A letter as it goes over the wire.
pub(super) struct Letter {
    pub(super) from: Address,
    pub(super) to: Vec<Address>,
    pub(super) text: Vec<u8>,
}

impl Server {
    /// Sends to all addresses that the server takes; tells those that it does not.
    pub(super) async fn send(&self, letter: &Letter, patience: Duration) -> Result<Vec<Refusal>, Trouble> {
        let talk = async {
            let mut open = self.open().await?;
            let sent = say(&mut open, letter).await;
            Ok((open, sent))
        };
        // The library bounds nothing but the connecting, and each answer may take for ever.
        let (mut open, sent) = timeout(patience, talk).await.map_err(|_| Trouble::TooSlow)??;
        let _ = timeout(GOODBYE, open.abort()).await;
        sent
    }

    async fn open(&self) -> Result<AsyncSmtpConnection, Trouble> {
        let at = |stage| move |e| Trouble::At(stage, e);
        let address = (self.host.as_str(), self.port);
        let wrap = self.encryption.clone().filter(|_| self.wrapped);
        let mut open = AsyncSmtpConnection::connect_tokio1(address, None, &self.hello, wrap, None)
            .await
            .map_err(at(Stage::Connect))?;
        if let Some(tls) = self.encryption.clone().filter(|_| !self.wrapped) {
            open.starttls(tls, &self.hello).await.map_err(at(Stage::Encrypt))?;
        }
        if let Some(credentials) = &self.credentials {
            open.auth(DEFAULT_MECHANISMS, credentials).await.map_err(at(Stage::Login))?;
        }
        Ok(open)
    }
}

async fn say(open: &mut AsyncSmtpConnection, letter: &Letter) -> Result<Vec<Refusal>, Trouble> {
    let sender = Mail::new(Some(letter.from.clone()), Vec::new());
    open.command(sender).await.map_err(|e| Trouble::At(Stage::Sender, e))?;
    let mut refusals = Vec::new();
    for to in &letter.to {
        match open.command(Rcpt::new(to.clone(), Vec::new())).await {
            Ok(_) => {}
            // An answer; anything else is the end of the talk.
            Err(error) if error.status().is_some() => refusals.push(Refusal { to: to.clone(), error }),
            Err(error) => return Err(Trouble::At(Stage::Sender, error)),
        }
    }
    if refusals.len() < letter.to.len() {
        open.command(Data).await.map_err(|e| Trouble::At(Stage::Text, e))?;
        open.message(&letter.text).await.map_err(|e| Trouble::At(Stage::Text, e))?;
    }
    Ok(refusals)
}
