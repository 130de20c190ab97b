//! How messages come in: the `[mqtt]` table.

use super::read::{finishing, path};
use super::table::Table;
use super::{Broker, BrokerTls, CertificateFiles, Device, FrontDoor, WayIn};
use std::net::SocketAddr;
use std::path::Path;

/// The way in, and the filters that are heard beside those of the map.
pub(super) fn read(t: &mut Table<'_>, folder: &Path) -> Option<(WayIn, Vec<String>)> {
    let way = match (t.has("front_door"), t.has("broker")) {
        (true, false) => front_door(t, folder).map(WayIn::FrontDoor),
        (false, true) => {
            let mut b = t.table("broker")?;
            finishing(&mut b, |b| broker(b, folder)).map(WayIn::Broker)
        }
        _ => {
            ["front_door", "front_door_tls", "device", "broker"].into_iter().for_each(|k| t.known(k));
            t.missing(
                "front_door or broker",
                "give exactly one: front_door = \"127.0.0.1:1883\", or [mqtt.broker]",
            );
            None
        }
    };
    let listen = filters(t, "listen");
    Some((way?, listen))
}

fn front_door(t: &mut Table<'_>, folder: &Path) -> Option<FrontDoor> {
    let offset = t.offset_of("front_door");
    let listen: Option<SocketAddr> =
        t.required("front_door", "write an address and port, e.g. \"127.0.0.1:1883\"");
    let tls = match t.table("front_door_tls") {
        Some(mut tls) => Some(finishing(&mut tls, |tls| certificate(tls, folder))?),
        None => None,
    };
    let devices: Vec<Device> =
        t.tables("device").into_iter().filter_map(|mut d| finishing(&mut d, |d| device(d, folder))).collect();
    let listen = listen?;
    if devices.is_empty() && !listen.ip().is_loopback() {
        let problem = format!("{listen} can be reached from other machines, and no device has a password");
        let cure = "add a [[mqtt.device]] for each, or listen on loopback, e.g. \"127.0.0.1:1883\"";
        t.fault(offset, "front_door", problem, cure);
        return None;
    }
    Some(FrontDoor { listen, devices, tls })
}

fn device(t: &mut Table<'_>, folder: &Path) -> Option<Device> {
    let name: Option<String> = t.required("name", "name the device; it is its MQTT user name");
    if let Some(name) = &name {
        t.rename(format!("mqtt.device {name:?}"));
    }
    let password_file = path(t, "password_file", folder, "name the file that holds its password");
    let (publish, subscribe) = (filters(t, "publish"), filters(t, "subscribe"));
    Some(Device { name: name?, password_file: password_file?, publish, subscribe })
}

fn broker(t: &mut Table<'_>, folder: &Path) -> Option<Broker> {
    let host = t.required("host", "name the broker's host, e.g. \"127.0.0.1\"");
    let tls = match t.table("tls") {
        Some(mut tls) => Some(finishing(&mut tls, |tls| broker_tls(tls, folder))?),
        None => None,
    };
    let usual = if tls.is_some() { 8883 } else { 1883 };
    let port = t.number("port", 1.0..=65_535.0).map_or(usual, |p| p as u16);
    let client_id = t.text("client_id").map_or_else(|| "hatchwarden".to_owned(), |f| f.value);
    let username = t.text("username").map(|f| f.value);
    let password_file = t.text("password_file").map(|f| folder.join(f.value));
    Some(Broker { host: host?, port, client_id, username, password_file, tls })
}

fn broker_tls(t: &mut Table<'_>, folder: &Path) -> Option<BrokerTls> {
    let ca = t.text("ca").map(|f| folder.join(f.value));
    let identity = if t.has("certificate") || t.has("key") {
        Some(certificate(t, folder)?)
    } else {
        t.known("certificate");
        t.known("key");
        None
    };
    Some(BrokerTls { ca, identity })
}

fn certificate(t: &mut Table<'_>, folder: &Path) -> Option<CertificateFiles> {
    let certificate = path(t, "certificate", folder, "name the PEM file of the certificate");
    let key = path(t, "key", folder, "name the PEM file of its private key");
    Some(CertificateFiles { certificate: certificate?, key: key? })
}

/// A list of topic filters, each checked.
fn filters(t: &mut Table<'_>, key: &'static str) -> Vec<String> {
    let cure = "write topics or filters, e.g. [\"rack/#\"]";
    let found = t.texts(key, cure);
    for (filter, offset) in &found {
        if let Some(problem) = readings::filter_fault(filter) {
            t.fault(*offset, key, format!("{filter:?} will not do: {problem}"), cure);
        }
    }
    found.into_iter().map(|(filter, _)| filter).collect()
}
