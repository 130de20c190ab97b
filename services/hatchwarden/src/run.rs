//! `hatchwarden run`: the service for one room, until it is told to stop.

use crate::clock::Clock;
use crate::{check, service, supervise};
use sd_notify::NotifyState;
use std::path::Path;
use std::process::ExitCode;

/// Runs the service. Exit 0 after a clean stop, 1 when a part of it failed, 2 when it could not start.
pub async fn run(config: &Path) -> ExitCode {
    let config = match check::load(config) {
        Ok(config) => config,
        Err(e) => {
            eprintln!("{e}");
            return ExitCode::from(2);
        }
    };
    let service = match service::start(&config, Clock::real(), None).await {
        Ok(service) => service,
        Err(e) => {
            eprintln!("hatchwarden: {e}");
            return ExitCode::from(2);
        }
    };
    println!("page     http://{}/", service.page());
    if let Some(door) = service.front_door() {
        println!("mqtt     {door} (front door)");
    }
    let status = format!("room {}, page http://{}/", config.room, service.page());
    supervise::say(&[NotifyState::Ready, NotifyState::Status(&status)]);
    service.until_stopped().await
}
