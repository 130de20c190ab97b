//! The front door behind TLS, on real sockets.
#![allow(clippy::unwrap_used, missing_docs, reason = "test code")]

mod common;
use common::*;
use frontdoor::{Access, Device, FrontDoor, Publish, Secret, Settings, Tls};
use rcgen::generate_simple_self_signed;
use std::sync::Arc;
use tokio::net::TcpStream;
use tokio::sync::mpsc::Receiver;
use tokio_rustls::TlsConnector;
use tokio_rustls::client::TlsStream;
use tokio_rustls::rustls::crypto::ring;
use tokio_rustls::rustls::{ClientConfig, RootCertStore, SupportedProtocolVersion, version};

/// A front door with a new certificate for "localhost", and the roots that trust it.
async fn secure() -> (FrontDoor, Receiver<Publish>, RootCertStore) {
    let made = generate_simple_self_signed(vec!["localhost".to_owned()]).unwrap();
    let tls = Tls::from_pem(made.cert.pem().as_bytes(), made.signing_key.serialize_pem().as_bytes()).unwrap();
    let publish = vec!["room/V1/+".to_owned()];
    let (name, secret) = ("tumbler".to_owned(), Secret::new("s3"));
    let access = Access::Devices(vec![Device { name, secret, publish, subscribe: vec![] }]);
    let listen = ([127, 0, 0, 1], 0).into();
    let settings = Settings { access, tls: Some(tls), ..Settings::anonymous(listen) };
    let (door, messages) = FrontDoor::open(settings).await.unwrap();
    let mut roots = RootCertStore::empty();
    roots.add(made.cert.der().clone()).unwrap();
    (door, messages, roots)
}

async fn shake(
    door: &FrontDoor,
    roots: RootCertStore,
    name: &'static str,
    version: &'static SupportedProtocolVersion,
) -> std::io::Result<TlsStream<TcpStream>> {
    let config = ClientConfig::builder_with_provider(Arc::new(ring::default_provider()))
        .with_protocol_versions(&[version])
        .unwrap()
        .with_root_certificates(roots)
        .with_no_client_auth();
    let socket = TcpStream::connect(door.local_addr()).await.unwrap();
    TlsConnector::from(Arc::new(config)).connect(name.try_into().unwrap(), socket).await
}

#[tokio::test]
async fn readings_come_through_tls() {
    let (door, mut messages, roots) = secure().await;
    for version in [&version::TLS12, &version::TLS13] {
        let mut device = Client::over(shake(&door, roots.clone(), "localhost", version).await.unwrap());
        device.enter(&as_user("tumbler", "s3", v3("device"))).await;
        // Larger than one TLS record of 16 KiB, so that it comes in parts.
        let payload = "x".repeat(40_000);
        for id in 1..=20 {
            device.send(&publish(0x32, "room/V1/flow", id, &payload)).await;
            let came = next(&mut messages).await;
            assert_eq!(came.payload.len(), 40_000);
            came.ack.done();
            device.expect(&puback(id)).await;
        }
        device.leave().await;
    }
    door.close().await;
}

#[tokio::test]
async fn a_client_without_tls_is_cut_and_others_are_served() {
    let (door, _messages, roots) = secure().await;
    let mut plain = Client::raw(&door).await;
    plain.send(&as_user("tumbler", "s3", v3("device")).bytes()).await;
    while let Some(answer) = plain.packet().await {
        assert_ne!(answer[0], 0x20, "never a CONNACK");
    }
    assert_eq!((door.counts().refused_packets, door.counts().sessions), (1, 0));
    let mut device = Client::over(shake(&door, roots, "localhost", &version::TLS13).await.unwrap());
    device.enter(&as_user("tumbler", "s3", v3("device"))).await;
    door.close().await;
    assert_eq!(device.packet().await, None, "closing ends connections behind TLS too");
}

#[tokio::test]
async fn a_client_that_does_not_trust_the_certificate_goes_and_others_are_served() {
    let (door, _messages, roots) = secure().await;
    shake(&door, RootCertStore::empty(), "localhost", &version::TLS13).await.unwrap_err();
    shake(&door, roots.clone(), "elsewhere", &version::TLS12).await.unwrap_err();
    let mut device = Client::over(shake(&door, roots, "localhost", &version::TLS13).await.unwrap());
    device.enter(&as_user("tumbler", "s3", v3("device"))).await;
    device.expect_quiet().await;
    door.close().await;
}
