//! Settings turned into what a talk with the server needs.

use super::talk::Server;
use super::{MailError, MailServer, Tls};
use lettre::message::Mailbox;
use lettre::transport::smtp::authentication::Credentials;
use lettre::transport::smtp::client::{Certificate, CertificateStore, TlsParameters};
use lettre::transport::smtp::extension::ClientId;
use rustls::pki_types::pem::PemObject;
use rustls::pki_types::{CertificateDer, ServerName};
use std::net::IpAddr;

/// Reads an address, with or without a name before it.
pub(super) fn mailbox(field: &'static str, text: &str) -> Result<Mailbox, MailError> {
    let wrong = |reason: String| MailError::Address { field, value: text.to_owned(), reason };
    let mailbox: Mailbox = text.parse().map_err(|e: lettre::address::AddressError| wrong(e.to_string()))?;
    if !mailbox.email.to_string().is_ascii() {
        // Few servers take any other (RFC 6531), and which do is known only when an alarm is to leave.
        return Err(wrong(
            "not plain ASCII; a domain with other letters has a form that begins with xn--".to_owned(),
        ));
    }
    Ok(mailbox)
}

/// The server to talk to; `from` gives the name we call ourselves by.
pub(super) fn server(settings: &MailServer, from: &Mailbox) -> Result<Server, MailError> {
    let host = settings.host.clone();
    if ServerName::try_from(host.as_str()).is_err() {
        return Err(MailError::Host(host));
    }
    let credentials = credentials(settings)?;
    if settings.tls == Tls::None && credentials.is_some() && !is_here(&host) {
        return Err(MailError::InTheClear { host });
    }
    Ok(Server {
        encryption: encryption(settings)?,
        wrapped: settings.tls == Tls::Tls,
        hello: ClientId::Domain(from.email.domain().to_owned()),
        port: settings.port,
        credentials,
        host,
    })
}

fn credentials(settings: &MailServer) -> Result<Option<Credentials>, MailError> {
    let (username, password) = ("username", "password_file");
    match (&settings.username, &settings.password) {
        (Some(user), Some(secret)) => Ok(Some(Credentials::new(user.clone(), secret.expose().to_owned()))),
        (Some(_), None) => Err(MailError::HalfLogin { given: username, missing: password }),
        (None, Some(_)) => Err(MailError::HalfLogin { given: password, missing: username }),
        (None, None) => Ok(None),
    }
}

/// Whether that is this machine itself. The name localhost is always (RFC 6761, 6.3).
fn is_here(host: &str) -> bool {
    host.eq_ignore_ascii_case("localhost") || host.parse::<IpAddr>().is_ok_and(|a| a.is_loopback())
}

fn encryption(settings: &MailServer) -> Result<Option<TlsParameters>, MailError> {
    if settings.tls == Tls::None {
        return Ok(None);
    }
    let mut builder = TlsParameters::builder(settings.host.clone());
    if let Some(pem) = &settings.ca_file {
        builder = builder.certificate_store(CertificateStore::None);
        for authority in authorities(pem)? {
            builder = builder.add_root_certificate(authority);
        }
    }
    builder.build().map(Some).map_err(|e| match settings.ca_file {
        Some(_) => MailError::Authorities(e.to_string()),
        None => MailError::Tls(e.to_string()),
    })
}

fn authorities(pem: &str) -> Result<Vec<Certificate>, MailError> {
    let found: Result<Vec<CertificateDer<'_>>, _> = CertificateDer::pem_slice_iter(pem.as_bytes()).collect();
    let found = found.map_err(|_| MailError::Authorities("it is not in PEM form".to_owned()))?;
    if found.is_empty() {
        return Err(MailError::Authorities("it holds no certificate".to_owned()));
    }
    let read = |der: CertificateDer<'_>| Certificate::from_der(der.to_vec());
    found.into_iter().map(read).collect::<Result<_, _>>().map_err(|e| MailError::Authorities(e.to_string()))
}

#[cfg(test)]
mod tests {
    use super::super::{MailSettings, mail};
    use super::*;

    fn settings() -> MailSettings {
        let server =
            MailServer::new("mail.example.org".to_owned(), "Hatchwarden <room@example.org>".to_owned());
        MailSettings { name: "mia".to_owned(), to: vec!["mia@example.org".to_owned()], server }
    }

    fn said(change: impl FnOnce(&mut MailSettings)) -> String {
        let mut settings = settings();
        change(&mut settings);
        mail(settings).map(|_| ()).unwrap_err().to_string()
    }

    #[test]
    fn good_settings_do() {
        assert!(mail(settings()).is_ok());
        let mut with_names = settings();
        with_names.to = vec!["Mia Groß <mia@example.org>".to_owned(), "ole@xn--tmpel-jua.example".to_owned()];
        assert!(mail(with_names).is_ok());
    }

    #[test]
    fn mistakes_name_field_value_and_cure() {
        assert!(said(|s| s.to.clear()).contains("to names nobody"));
        for bad in ["mia", "mia@", "mia@example.org\r\nBcc: all@example.org", "grün@example.org", ""] {
            let said = said(|s| s.to[0] = bad.to_owned());
            assert!(said.starts_with(&format!("to {bad:?} is no mail address (")), "{said}");
            assert!(said.contains("mia@example.org"), "{said}");
        }
        assert!(said(|s| s.server.from = "room".to_owned()).starts_with("from \"room\" is no mail address"));
        for bad in ["", "mail example.org", "smtp://mail.example.org", "mail.example.org:587"] {
            let said = said(|s| s.server.host = bad.to_owned());
            assert!(
                said.starts_with(&format!("host {bad:?}")) && said.contains("mail.example.org"),
                "{said}"
            );
        }
    }

    #[test]
    fn half_a_login_is_refused_without_the_password() {
        let only_user = said(|s| s.server.username = Some("mia".to_owned()));
        assert!(only_user.contains("password_file is not"), "{only_user}");
        let only_password = said(|s| s.server.password = Some("moonfish".to_owned().into()));
        assert!(only_password.contains("username is not"), "{only_password}");
        assert!(!only_password.contains("moonfish"));
    }

    #[test]
    fn a_password_goes_in_the_clear_to_this_machine_alone() {
        let to = |host: &str| {
            let mut settings = settings();
            settings.server.host = host.to_owned();
            settings.server.tls = Tls::None;
            settings.server.username = Some("mia".to_owned());
            settings.server.password = Some("moonfish".to_owned().into());
            mail(settings)
        };
        for here in ["127.0.0.1", "127.9.9.9", "::1", "localhost", "LocalHost"] {
            assert!(to(here).is_ok(), "{here}");
        }
        for there in
            ["mail.example.org", "192.168.1.2", "::2", "localhost.example.org", "127.0.0.1.example.org"]
        {
            let said = to(there).map(|_| ()).unwrap_err().to_string();
            assert!(
                said.contains(there) && said.contains("starttls") && !said.contains("moonfish"),
                "{said}"
            );
        }
    }

    #[test]
    fn a_file_of_authorities_that_holds_none_is_refused() {
        for bad in [
            "",
            "hello",
            "-----BEGIN CERTIFICATE-----\nAAAA\n",
            "-----BEGIN CERTIFICATE-----\nAAAA\n-----END CERTIFICATE-----\n",
        ] {
            let said = said(|s| s.server.ca_file = Some(bad.to_owned()));
            assert!(said.starts_with("ca_file cannot be used") && said.contains("PEM form"), "{said}");
        }
    }

    #[test]
    fn nothing_prints_the_password() {
        let mut settings = settings();
        settings.server.username = Some("mia".to_owned());
        settings.server.password = Some("moonfish".to_owned().into());
        let printed = format!("{settings:?} {:?}", mail(settings.clone()).unwrap());
        assert!(printed.contains("mail.example.org") && !printed.contains("moonfish"), "{printed}");
    }
}
