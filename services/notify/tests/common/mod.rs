//! A receiver at the end of a real socket.
#![allow(
    clippy::unwrap_used,
    missing_docs,
    dead_code,
    unreachable_pub,
    reason = "test code; not every test needs all of it"
)]

use tokio::io::{AsyncReadExt, AsyncWriteExt};
use tokio::net::TcpListener;
use tokio::sync::mpsc;

/// A receiver that answers each request with the next of the given answers; `None` never answers.
pub async fn receiver(answers: Vec<Option<&'static str>>) -> (String, mpsc::UnboundedReceiver<String>) {
    let listener = TcpListener::bind("127.0.0.1:0").await.unwrap();
    let url = format!("http://{}/alarms?key=private", listener.local_addr().unwrap());
    let (tell, told) = mpsc::unbounded_channel();
    tokio::spawn(async move {
        let mut silent = Vec::new(); // kept open
        for answer in answers {
            let (mut stream, _) = listener.accept().await.unwrap();
            let mut request = Vec::new();
            while !complete(&request) {
                let mut piece = [0; 1024];
                let n = stream.read(&mut piece).await.unwrap();
                request.extend_from_slice(&piece[..n]);
            }
            tell.send(String::from_utf8(request).unwrap()).unwrap();
            match answer {
                Some(head) => {
                    let reply = format!("HTTP/1.1 {head}\r\ncontent-length: 0\r\nconnection: close\r\n\r\n");
                    stream.write_all(reply.as_bytes()).await.unwrap();
                }
                None => silent.push(stream),
            }
        }
        std::future::pending::<()>().await;
    });
    (url, told)
}

fn complete(request: &[u8]) -> bool {
    let text = String::from_utf8_lossy(request);
    let Some((head, body)) = text.split_once("\r\n\r\n") else { return false };
    let length =
        head.lines().find_map(|l| l.to_lowercase().strip_prefix("content-length: ").map(str::to_owned));
    body.len() >= length.map_or(0, |l| l.parse().unwrap())
}

/// The value of a header.
pub fn header<'a>(request: &'a str, name: &str) -> &'a str {
    request
        .lines()
        .find_map(|l| l.strip_prefix(name)?.strip_prefix(": "))
        .unwrap_or_else(|| panic!("{name}: {request}"))
}
