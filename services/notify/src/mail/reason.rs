//! Failures of mail in words, with what to do about them.

use super::talk::{Refusal, Stage, Trouble};
use crate::words::line;
use lettre::transport::smtp::Error;
use std::error::Error as _;
use std::time::Duration;

/// `at` is the server's place, `entry` the mail's in the configuration.
pub(super) struct Place {
    pub(super) at: String,
    pub(super) entry: String,
}

impl Place {
    pub(super) fn trouble(&self, trouble: &Trouble, patience: Duration) -> String {
        let Self { at, entry } = self;
        match trouble {
            Trouble::TooSlow => format!("{at} did not take the message within {} s", patience.as_secs_f32()),
            Trouble::At(stage, e) => match tls_fault(e) {
                Some(fault) => format!("{at} cannot be reached safely: {fault}; {}", tls_cure(fault, entry)),
                None => self.at_stage(*stage, e),
            },
        }
    }

    fn at_stage(&self, stage: Stage, e: &Error) -> String {
        let (Self { at, entry }, said) = (self, said(e));
        match stage {
            Stage::Connect if e.status().is_none() && !e.is_response() => {
                format!("{at} cannot be reached: {said}; check {entry} host and port")
            }
            Stage::Connect => format!("{at} does not want to talk: {said}"),
            Stage::Encrypt => {
                format!(
                    "{at} cannot be talked to safely: {said}; set {entry} tls to what it offers, and port to match"
                )
            }
            Stage::Login if e.is_permanent() || e.is_client() => {
                format!("{at} refuses the login: {said}; check {entry} username and password_file")
            }
            Stage::Login => format!("{at} cannot take the login now: {said}"),
            Stage::Sender if e.is_permanent() => {
                format!("{at} refuses the sender: {said}; check {entry} from, username and password_file")
            }
            Stage::Sender | Stage::Text => format!("{at} does not take the message: {said}"),
        }
    }

    /// Addresses that were not taken, out of `all`.
    pub(super) fn refusals(&self, refusals: &[Refusal], all: usize) -> String {
        let each = |r: &Refusal| format!("{} ({})", r.to, said(&r.error));
        let each: Vec<String> = refusals.iter().map(each).collect();
        let mut words = format!("{} does not take mail for {}", self.at, each.join(", "));
        if refusals.iter().any(|r| r.error.is_permanent()) {
            words += &format!("; correct {} to, or ask whoever keeps the mailbox", self.entry);
        }
        if refusals.len() < all {
            words += "; the others have it";
        }
        words
    }
}

/// The server's own words, or the innermost reason.
fn said(e: &Error) -> String {
    if e.is_response() {
        return "it ended the talk in the middle, or said what is no SMTP".to_owned();
    }
    let mut reason: &dyn std::error::Error = e;
    while let Some(inner) = reason.source() {
        reason = inner;
    }
    match e.status() {
        Some(code) => line(&format!("{code} {reason}")),
        None => line(&reason.to_string()),
    }
}

/// What is wrong with the encryption, if that is the reason.
fn tls_fault(e: &Error) -> Option<&rustls::Error> {
    let mut reason = e.source();
    while let Some(inner) = reason {
        let within = inner.downcast_ref::<std::io::Error>().and_then(std::io::Error::get_ref);
        if let Some(fault) = within.and_then(|w| w.downcast_ref()) {
            return Some(fault);
        }
        reason = inner.source();
    }
    None
}

fn tls_cure(fault: &rustls::Error, entry: &str) -> String {
    match fault {
        rustls::Error::InvalidCertificate(_) => format!(
            "write {entry} host as its certificate has it, and if its authority is not known to this machine, name that one's certificate in ca_file"
        ),
        _ => format!("check {entry} tls and port: \"tls\" goes with 465, \"starttls\" with 587"),
    }
}
