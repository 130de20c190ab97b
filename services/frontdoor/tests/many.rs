//! A thousand idle clients beside a device that publishes. The only test of its file, hence of its process: it counts the process's
//! descriptors and memory.
#![allow(clippy::unwrap_used, missing_docs, reason = "test code")]

mod common;
use common::*;
use frontdoor::{FrontDoor, Limits};

const IDLE: usize = 1_000;
/// Both ends of a connection are in this process.
const ENDS: usize = 2;

fn descriptors() -> usize {
    std::fs::read_dir("/proc/self/fd").unwrap().count()
}

/// Resident memory in KiB.
fn resident() -> usize {
    let status = std::fs::read_to_string("/proc/self/status").unwrap();
    let line = status.lines().find(|line| line.starts_with("VmRSS:")).unwrap();
    line.split_whitespace().nth(1).unwrap().parse().unwrap()
}

async fn until_connections(door: &FrontDoor, count: u64) {
    while door.counts().connections != count {
        tokio::task::yield_now().await;
    }
}

/// Opens a thousand, publishes beside them, closes them all.
async fn round(door: &FrontDoor, device: &mut Client) {
    let mut idle = Vec::new();
    for n in 0..IDLE {
        let hello = if n % 2 == 0 { v3("") } else { v5("") };
        idle.push(Client::connected(door, &hello).await);
    }
    until_connections(door, IDLE as u64 + 1).await;
    assert!(descriptors() > ENDS * IDLE);
    for id in 1..=2_000 {
        device.send(&publish(0x32, "room/V1/flow", id, "1.9")).await;
        device.expect(&puback(id)).await;
    }
    drop(idle);
    until_connections(door, 1).await;
    assert_eq!(door.counts().sessions, 1);
}

#[tokio::test]
async fn a_thousand_idle_clients_leave_nothing_behind() {
    let (door, messages) = open(Limits::default()).await;
    acknowledge_all(messages);
    let mut device = Client::connected(&door, &v3("device")).await;
    let before = descriptors();
    // The allocator keeps what the first rounds took, so growth is measured from then on.
    for _ in 0..2 {
        round(&door, &mut device).await;
    }
    let warm = resident();
    for _ in 0..5 {
        round(&door, &mut device).await;
        assert_eq!(descriptors(), before);
    }
    // What even one kept KiB of each of 5,000 clients would be.
    let grown = resident().saturating_sub(warm);
    println!("resident {warm} KiB, grown by {grown} KiB over 5 rounds");
    assert!(grown < 5 * IDLE, "grown by {grown} KiB from {warm} KiB");
    door.close().await;
}
