//! A plain HTTP client over a socket, so that a test can send what a browser never would.
#![allow(dead_code)]

use std::io::{BufRead, BufReader, Read, Write};
use std::net::TcpStream;
use std::path::Path;
use std::process::{Child, Command, Stdio};
use std::time::{Duration, Instant};

/// A running `quarterturn show`.
pub struct Show {
    child: Child,
    pub host: String,
    pub key: String,
}

impl Show {
    pub fn start(results: &Path, more: &[&str]) -> Self {
        Self::run(results, more, Stdio::null(), "off")
    }

    /// `log` is what `QUARTERTURN_LOG` says; it is told to `stderr`.
    pub fn run(results: &Path, more: &[&str], stderr: Stdio, log: &str) -> Self {
        let mut child = Command::new(env!("CARGO_BIN_EXE_quarterturn"))
            .arg("show")
            .arg(results)
            .args(more)
            .env("QUARTERTURN_LOG", log)
            .stdout(Stdio::piped())
            .stderr(stderr)
            .spawn()
            .expect("the binary runs");
        let out = child.stdout.take().expect("piped");
        let line = BufReader::new(out)
            .lines()
            .map_while(Result::ok)
            .find(|l| l.contains("/enter?key="))
            .expect("an address");
        let url = line.split("http://").nth(1).expect("a URL").trim();
        let (host, key) = url.split_once("/enter?key=").expect("a key");
        Self {
            child,
            host: host.into(),
            key: key.into(),
        }
    }

    pub fn pid(&self) -> u32 {
        self.child.id()
    }

    pub fn cookie(&self) -> String {
        format!("Cookie: quarterturn_key={}", self.key)
    }

    pub fn get(&self, path: &str) -> Answer {
        self.send(
            &format!(
                "GET {path} HTTP/1.1\r\nHost: {}\r\n{}\r\nConnection: close\r\n\r\n",
                self.host,
                self.cookie()
            )
            .into_bytes(),
        )
    }

    /// A form sent from this server's own page, with extra header lines.
    pub fn post(&self, path: &str, kind: &str, body: &[u8], origin: Option<&str>) -> Answer {
        let origin = origin
            .map(|o| format!("Origin: {o}\r\n"))
            .unwrap_or_default();
        let mut all = format!(
            "POST {path} HTTP/1.1\r\nHost: {}\r\n{}\r\n{origin}Content-Type: {kind}\r\nContent-Length: {}\r\nConnection: close\r\n\r\n",
            self.host,
            self.cookie(),
            body.len()
        )
        .into_bytes();
        all.extend_from_slice(body);
        self.send(&all)
    }

    pub fn own_origin(&self) -> String {
        format!("http://{}", self.host)
    }

    /// Sends bytes as they are and reads until the server closes.
    pub fn send(&self, bytes: &[u8]) -> Answer {
        let mut stream = TcpStream::connect(&self.host).expect("connects");
        stream
            .set_read_timeout(Some(Duration::from_secs(60)))
            .expect("sets");
        // A server that refuses early may close while more is still being sent.
        let _ = stream.write_all(bytes);
        let mut all = Vec::new();
        let _ = stream.read_to_end(&mut all);
        Answer::parse(&all)
    }

    pub fn form(fields: &[(&str, &str)], files: &[(&str, &str, &[u8])]) -> (String, Vec<u8>) {
        let mark = "----quarterturn-test";
        let mut body = Vec::new();
        for (name, value) in fields {
            body.extend_from_slice(
                format!(
                    "--{mark}\r\nContent-Disposition: form-data; name=\"{name}\"\r\n\r\n{value}\r\n"
                )
                .as_bytes(),
            );
        }
        for (name, file, bytes) in files {
            body.extend_from_slice(
                format!("--{mark}\r\nContent-Disposition: form-data; name=\"{name}\"; filename=\"{file}\"\r\nContent-Type: video/mp4\r\n\r\n").as_bytes(),
            );
            body.extend_from_slice(bytes);
            body.extend_from_slice(b"\r\n");
        }
        body.extend_from_slice(format!("--{mark}--\r\n").as_bytes());
        (format!("multipart/form-data; boundary={mark}"), body)
    }

    /// Waits until a measurement ends; its last state.
    pub fn wait_for_job(&self, id: &str, most: Duration) -> serde_json::Value {
        let start = Instant::now();
        loop {
            let state: serde_json::Value =
                serde_json::from_str(&self.get(&format!("/job/{id}/state")).body).expect("JSON");
            if state["stage"] != "waiting" && state["stage"] != "measuring" {
                return state;
            }
            assert!(start.elapsed() < most, "still {state}");
            std::thread::sleep(Duration::from_millis(300));
        }
    }
}

impl Drop for Show {
    fn drop(&mut self) {
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}

pub struct Answer {
    pub status: u16,
    pub head: String,
    pub body: String,
}

impl Answer {
    pub fn parse(all: &[u8]) -> Self {
        let text = String::from_utf8_lossy(all);
        let (head, body) = text.split_once("\r\n\r\n").unwrap_or((&text, ""));
        let status = head
            .split(' ')
            .nth(1)
            .and_then(|s| s.parse().ok())
            .unwrap_or(0);
        Self {
            status,
            head: head.to_ascii_lowercase(),
            body: body.to_owned(),
        }
    }

    pub fn header(&self, name: &str) -> Option<&str> {
        self.head
            .lines()
            .find_map(|l| l.strip_prefix(&format!("{name}: ")))
    }
}
