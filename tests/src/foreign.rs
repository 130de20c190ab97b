//! Foreign command-line clients: mosquitto_pub and mosquitto_sub.

use crate::process::Child;
use tokio::process::Command;

/// Publishes by a loopback port with further arguments of mosquitto_pub, and waits until that has ended well.
pub async fn mosquitto_pub(port: u16, arguments: &[&str]) {
    let (code, said) = publish(port, arguments).await;
    assert_eq!(code, Some(0), "{arguments:?}: {said}");
}

/// The same, which is to be refused.
pub async fn mosquitto_pub_fails(port: u16, arguments: &[&str]) {
    let (code, said) = publish(port, arguments).await;
    assert_ne!(code, Some(0), "{arguments:?} was let in: {said}");
}

async fn publish(port: u16, arguments: &[&str]) -> (Option<i32>, String) {
    let mut command = Command::new("mosquitto_pub");
    command.args(["-h", "127.0.0.1", "-p", &port.to_string()]).args(arguments);
    Child::start("mosquitto_pub", &mut command).end().await
}

/// A mosquitto_sub with further arguments, once its subscription stands. Among its lines are those of `-d`.
pub async fn mosquitto_sub(port: u16, arguments: &[&str]) -> Child {
    // Into a pipe it would keep "Subscribed" to itself for long; stdbuf lets each line out.
    let mut command = Command::new("stdbuf");
    command.args(["-oL", "mosquitto_sub", "-d", "-h", "127.0.0.1", "-p", &port.to_string()]).args(arguments);
    let mut child = Child::start("mosquitto_sub", &mut command);
    // What waits for a kept session may come before the SUBACK.
    child.early_line_with("Subscribed").await;
    child
}
