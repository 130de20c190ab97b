//! Passwords, keys and certificates: the files that the configuration names, read once at the start. Nothing of them is
//! logged or shown.

use crate::config::{BrokerTls, CertificateFiles, Device, FrontDoor};
use crate::service::StartError;
use frontdoor::Access;
use intake::broker::{Identity, Roots, Tls};
use std::path::Path;

/// A secret: the file's text without its line end.
pub(crate) fn secret(field: &'static str, file: &Path) -> Result<String, StartError> {
    let text = std::fs::read_to_string(file).map_err(|e| unreadable(field, file, &e))?;
    Ok(text.trim_end_matches(['\r', '\n']).to_owned())
}

fn bytes(field: &'static str, file: &Path) -> Result<Vec<u8>, StartError> {
    std::fs::read(file).map_err(|e| unreadable(field, file, &e))
}

fn unreadable(field: &'static str, file: &Path, e: &std::io::Error) -> StartError {
    wrong(field, file, format!("cannot be read: {e}; check the path and its permissions"))
}

fn wrong(field: &'static str, file: &Path, reason: String) -> StartError {
    StartError::File { field, file: file.to_owned(), reason }
}

/// Who may come in at the front door.
pub(crate) fn access(door: &FrontDoor) -> Result<Access, StartError> {
    if door.devices.is_empty() {
        return Ok(Access::Anonymous);
    }
    let device = |d: &Device| {
        let secret = secret("[[mqtt.device]] password_file", &d.password_file)?;
        Ok(frontdoor::Device {
            name: d.name.clone(),
            secret: frontdoor::Secret::new(secret),
            publish: d.publish.clone(),
            subscribe: d.subscribe.clone(),
        })
    };
    door.devices.iter().map(device).collect::<Result<_, StartError>>().map(Access::Devices)
}

/// The certificate that the front door shows.
pub(crate) fn door_tls(files: &CertificateFiles) -> Result<frontdoor::Tls, StartError> {
    let certificate = bytes("[mqtt.front_door_tls] certificate", &files.certificate)?;
    let key = bytes("[mqtt.front_door_tls] key", &files.key)?;
    frontdoor::Tls::from_pem(&certificate, &key)
        .map_err(|e| wrong("[mqtt.front_door_tls] certificate", &files.certificate, e.to_string()))
}

/// How the broker is known, and we to it.
pub(crate) fn broker_tls(tls: &BrokerTls) -> Result<Tls, StartError> {
    let roots = match &tls.ca {
        Some(file) => Roots::Only(bytes("[mqtt.broker.tls] ca", file)?),
        None => Roots::Public,
    };
    let identity = tls.identity.as_ref().map(identity).transpose()?;
    Tls::new(&roots, identity.as_ref()).map_err(StartError::BrokerTls)
}

fn identity(files: &CertificateFiles) -> Result<Identity, StartError> {
    let chain = bytes("[mqtt.broker.tls] certificate", &files.certificate)?;
    let key = secret("[mqtt.broker.tls] key", &files.key)?;
    Ok(Identity { chain, key: key.into() })
}
