//! Opening and closing.
#![allow(clippy::unwrap_used, missing_docs, reason = "test code")]

mod common;
use common::*;
use frontdoor::{Access, Device, FrontDoor, Limits, OpenError, Secret, Settings};

#[tokio::test]
async fn only_loopback_is_listened_on() {
    for listen in ["0.0.0.0:0", "192.0.2.1:1883", "[::]:0"] {
        let listen = listen.parse().unwrap();
        let refused = FrontDoor::open(Settings::anonymous(listen)).await.unwrap_err();
        assert!(matches!(refused, OpenError::NotLoopback { .. }), "{refused:?}");
        let words = refused.to_string();
        assert!(words.contains(&listen.to_string()) && words.contains("127.0.0.1"), "{words}");
    }
}

fn device(secret: &str) -> Device {
    let (publish, subscribe) = (vec!["a/#".to_owned()], vec![]);
    Device { name: "tumbler".to_owned(), secret: Secret::new(secret), publish, subscribe }
}

#[tokio::test]
async fn with_passwords_every_address_is_listened_on() {
    let settings = |access| Settings { access, ..Settings::anonymous("0.0.0.0:0".parse().unwrap()) };
    let (door, _messages) = FrontDoor::open(settings(Access::Devices(vec![device("s3")]))).await.unwrap();
    assert!(door.local_addr().ip().is_unspecified());
    door.close().await;
    let nobody = FrontDoor::open(settings(Access::Devices(vec![]))).await.unwrap_err();
    assert!(matches!(nobody, OpenError::NoDevices { .. }), "{nobody:?}");
    let refused = FrontDoor::open(settings(Access::Devices(vec![device("")]))).await.unwrap_err();
    assert_eq!(refused.to_string(), "device \"tumbler\": its password is empty; give it a long random one");
}

#[tokio::test]
async fn a_port_in_use_is_named() {
    let (door, _messages) = open(Limits::default()).await;
    let listen = door.local_addr();
    let refused = FrontDoor::open(Settings::anonymous(listen)).await.unwrap_err();
    assert!(matches!(refused, OpenError::Busy { .. }), "{refused:?}");
    assert!(refused.to_string().contains(&listen.port().to_string()));
    door.close().await;
}

#[tokio::test]
async fn closing_ends_every_connection_and_frees_the_port() {
    let (door, mut messages) = open(Limits::default()).await;
    let listen = door.local_addr();
    let mut silent = Client::raw(&door).await;
    let mut old = Client::connected(&door, &Hello { will: Some(("w", "x", 0, false)), ..v3("old") }).await;
    let mut new = Client::connected(&door, &v5("new")).await;
    assert_eq!(door.counts().connections, 3);
    door.close().await;
    new.expect(&[0xE0, 2, 0x8B, 0]).await;
    assert_eq!((silent.packet().await, old.packet().await, new.packet().await), (None, None, None));
    assert!(messages.recv().await.is_none(), "no will, and the stream of messages ends");
    let (again, _messages) = FrontDoor::open(Settings::anonymous(listen)).await.unwrap();
    again.close().await;
}

#[tokio::test]
async fn connections_are_bounded() {
    let (door, _messages) = open(Limits { connections: 1, ..Limits::default() }).await;
    let first = Client::connected(&door, &v3("first")).await;
    let mut second = Client::raw(&door).await;
    assert_eq!(second.packet().await, None);
    first.leave().await;
    while door.counts().connections > 0 {
        tokio::task::yield_now().await;
    }
    Client::connected(&door, &v3("third")).await.leave().await;
    door.close().await;
}

#[tokio::test]
async fn dropping_the_handle_closes_too() {
    let (door, mut messages) = open(Limits::default()).await;
    let mut client = Client::connected(&door, &v3("client")).await;
    drop(door);
    assert_eq!(client.packet().await, None);
    assert!(messages.recv().await.is_none());
}
