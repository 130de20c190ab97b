//! Child processes that are ended by their id, and whose output is awaited line by line.

use crate::PATIENCE;
use std::collections::VecDeque;
use std::process::Stdio;
use std::time::Duration;
use tokio::io::{AsyncBufReadExt, AsyncRead, BufReader};
use tokio::process::Command;
use tokio::sync::mpsc;

/// A running program with its output as a stream of lines.
pub struct Child {
    name: String,
    child: tokio::process::Child,
    lines: mpsc::UnboundedReceiver<String>,
    seen: Vec<String>,
    /// Lines passed over by [`Child::early_line_with`], for the next one who waits.
    kept: VecDeque<String>,
}

impl Child {
    /// Starts a program with nothing to read; it is killed when this value is dropped.
    pub fn start(name: &str, command: &mut Command) -> Self {
        Self::start_reading(name, command, Stdio::null())
    }

    /// As [`Child::start`], with something to read.
    pub fn start_reading(name: &str, command: &mut Command, input: Stdio) -> Self {
        let mut child = command
            .stdin(input)
            .stdout(Stdio::piped())
            .stderr(Stdio::piped())
            .kill_on_drop(true)
            .spawn()
            .unwrap_or_else(|e| panic!("{name} cannot be started: {e}; tests/run installs what is missing"));
        let (tell, lines) = mpsc::unbounded_channel();
        pump(child.stdout.take().unwrap(), tell.clone());
        pump(child.stderr.take().unwrap(), tell);
        Self { name: name.to_owned(), child, lines, seen: Vec::new(), kept: VecDeque::new() }
    }

    /// Its process id.
    pub fn id(&self) -> u32 {
        self.child.id().unwrap_or_default()
    }

    /// Waits for a line that holds `part` and gives it back.
    ///
    /// # Panics
    /// When the program ends or nothing comes in time; says what it printed.
    pub async fn line_with(&mut self, part: &str) -> String {
        self.line_within(part, PATIENCE).await
    }

    /// As [`Child::line_with`], for what takes longer than usual.
    ///
    /// # Panics
    /// As [`Child::line_with`].
    pub async fn line_within(&mut self, part: &str, patience: Duration) -> String {
        let found = tokio::time::timeout(patience, async {
            while let Some(line) = self.next_line().await {
                if line.contains(part) {
                    return Some(line);
                }
            }
            None
        });
        match found.await {
            Ok(Some(line)) => line,
            other => panic!(
                "{} never printed {part:?} ({other:?}); it printed:\n{}",
                self.name,
                self.seen.join("\n")
            ),
        }
    }

    /// As [`Child::line_with`], but lines before the one found are kept for later: output and log come by two pipes, in
    /// no order.
    pub async fn early_line_with(&mut self, part: &str) -> String {
        let before = self.seen.len();
        let found = self.line_with(part).await;
        let passed = self.seen.get(before..self.seen.len() - 1).unwrap_or_default();
        self.kept.extend(passed.iter().cloned());
        found
    }

    async fn next_line(&mut self) -> Option<String> {
        if let Some(line) = self.kept.pop_front() {
            return Some(line);
        }
        let line = self.lines.recv().await?;
        self.seen.push(line.clone());
        Some(line)
    }

    /// Everything printed so far.
    pub fn printed(&mut self) -> String {
        while let Ok(line) = self.lines.try_recv() {
            self.seen.push(line);
        }
        self.seen.join("\n")
    }

    /// Waits for its end; gives the exit code and all it printed.
    pub async fn end(mut self) -> (Option<i32>, String) {
        let status = tokio::time::timeout(PATIENCE, self.child.wait()).await;
        let code = status.unwrap_or_else(|_| panic!("{} does not end", self.name)).unwrap().code();
        while let Some(line) = self.lines.recv().await {
            self.seen.push(line);
        }
        (code, self.seen.join("\n"))
    }

    /// SIGKILL, at once.
    pub async fn kill(mut self) {
        self.child.kill().await.unwrap();
    }

    /// SIGTERM, then waits for its end.
    pub async fn stop(self) -> (Option<i32>, String) {
        let id = self.id().to_string();
        let sent = Command::new("kill").args(["-TERM", &id]).status().await.unwrap();
        assert!(sent.success());
        self.end().await
    }
}

fn pump(stream: impl AsyncRead + Unpin + Send + 'static, tell: mpsc::UnboundedSender<String>) {
    tokio::spawn(async move {
        let mut lines = BufReader::new(stream).lines();
        while let Ok(Some(line)) = lines.next_line().await {
            if tell.send(line).is_err() {
                return;
            }
        }
    });
}

/// A loopback port that is free just now.
pub fn free_port() -> u16 {
    let listener = std::net::TcpListener::bind("127.0.0.1:0").unwrap();
    listener.local_addr().unwrap().port()
}
