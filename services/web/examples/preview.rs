//! Serves an invented room on loopback to look at: `preview PORT [alarm|calm]`.
#![allow(missing_docs, reason = "example")]

#[path = "../tests/common/mod.rs"]
mod common;

#[tokio::main]
async fn main() -> std::io::Result<()> {
    let port = std::env::args().nth(1).unwrap_or_else(|| "8099".into());
    let room =
        if std::env::args().nth(2).as_deref() == Some("calm") { common::calm() } else { common::alarm() };
    let listener = tokio::net::TcpListener::bind(format!("127.0.0.1:{port}")).await?;
    let router = web::router(common::FakeKeeper::new(room), web::Settings::default());
    web::serve(listener, router, async {
        let _ = tokio::signal::ctrl_c().await;
    })
    .await
}
