//! A receiver of webhooks that notes what it is sent.

use tokio::io::{AsyncReadExt, AsyncWriteExt};
use tokio::net::{TcpListener, TcpStream};
use tokio::sync::mpsc;

/// One request as it came in.
#[derive(Debug, Clone)]
pub struct Delivery {
    /// Header lines, names in lower case.
    pub headers: Vec<(String, String)>,
    /// Body.
    pub body: String,
}

impl Delivery {
    /// The value of a header.
    pub fn header(&self, name: &str) -> &str {
        self.headers.iter().find(|(n, _)| n == name).map_or("", |(_, v)| v)
    }
}

/// A request that has come in and waits for its answer; dropped, it gets none.
pub struct Held {
    /// What was sent.
    pub delivery: Delivery,
    stream: TcpStream,
}

impl Held {
    /// Answers with a status line; whoever asked may be gone.
    pub async fn answer(mut self, status: &str) -> Delivery {
        let reply = format!("HTTP/1.1 {status}\r\ncontent-length: 0\r\nconnection: close\r\n\r\n");
        let _ = self.stream.write_all(reply.as_bytes()).await;
        self.delivery
    }
}

/// Listens on a loopback port, any free one for 0, and hands every request over as it has come in. The port, and the requests.
pub async fn hold(port: u16) -> (u16, mpsc::UnboundedReceiver<Held>) {
    let listener = TcpListener::bind(("127.0.0.1", port)).await.unwrap();
    let port = listener.local_addr().unwrap().port();
    let (tell, told) = mpsc::unbounded_channel();
    tokio::spawn(async move {
        while let Ok((stream, _)) = listener.accept().await {
            let tell = tell.clone();
            tokio::spawn(async move {
                if let Some(held) = read(stream).await {
                    let _ = tell.send(held);
                }
            });
        }
    });
    (port, told)
}

/// Listens on a loopback port and answers every request with the given status line.
pub async fn receive(port: u16, answer: &'static str) -> mpsc::UnboundedReceiver<Delivery> {
    let (_, mut waiting) = hold(port).await;
    let (tell, told) = mpsc::unbounded_channel();
    tokio::spawn(async move {
        while let Some(held) = waiting.recv().await {
            let _ = tell.send(held.answer(answer).await);
        }
    });
    told
}

async fn read(mut stream: TcpStream) -> Option<Held> {
    let mut bytes = Vec::new();
    let mut piece = [0; 4096];
    loop {
        if let Some(delivery) = whole(&bytes) {
            return Some(Held { delivery, stream });
        }
        match stream.read(&mut piece).await {
            Ok(n) if n > 0 => bytes.extend_from_slice(&piece[..n]),
            _ => return None,
        }
    }
}

/// The request, once all of it is there.
fn whole(bytes: &[u8]) -> Option<Delivery> {
    let text = std::str::from_utf8(bytes).ok()?;
    let (head, body) = text.split_once("\r\n\r\n")?;
    let headers: Vec<(String, String)> = head
        .lines()
        .skip(1)
        .filter_map(|l| l.split_once(':'))
        .map(|(n, v)| (n.to_ascii_lowercase(), v.trim().to_owned()))
        .collect();
    let length: usize = headers.iter().find(|(n, _)| n == "content-length")?.1.parse().ok()?;
    (body.len() >= length).then(|| Delivery { headers, body: body.to_owned() })
}
