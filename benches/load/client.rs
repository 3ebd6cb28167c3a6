//! The release binary while it serves, and a client of it.

use std::{
    io::{BufRead, BufReader},
    process::{Child, Command, Stdio},
};

use serde_json::Value;
use tokio::{
    io::{AsyncReadExt, AsyncWriteExt},
    net::TcpStream,
};

/// The service; it ends when this is dropped.
pub struct Service(Child);

impl Drop for Service {
    fn drop(&mut self) {
        let _ = self.0.kill();
        let _ = self.0.wait();
    }
}

/// Serves on a free port, with more arguments.
pub fn serve(arguments: &[&str]) -> (Service, String) {
    let mut child = Command::new("target/release/stopwright")
        .args(["serve", "--listen", "127.0.0.1:0"])
        .args(arguments)
        .stdout(Stdio::piped())
        .stderr(Stdio::null())
        .spawn()
        .expect("the release binary; build it first");
    let mut line = String::new();
    BufReader::new(child.stdout.take().expect("output")).read_line(&mut line).expect("a line");
    let address = line.trim().strip_prefix("listening on http://").expect("an address").to_owned();
    (Service(child), address)
}

/// A request that a proxy says to come from an address.
pub fn post(path: &str, from: &str, body: &Value) -> Vec<u8> {
    post_text(path, from, &body.to_string())
}

/// The same with a body that is already text.
pub fn post_text(path: &str, from: &str, body: &str) -> Vec<u8> {
    let head = format!(
        "POST {path} HTTP/1.1\r\nhost: x\r\nx-forwarded-for: {from}\r\ncontent-type: application/json\r\ncontent-length: {}\r\n\r\n",
        body.len()
    );
    [head.as_bytes(), body.as_bytes()].concat()
}

/// Sends a request and reads its whole answer, which says its length; tells whether it was taken.
pub async fn ask(stream: &mut TcpStream, request: &[u8], buffer: &mut Vec<u8>) -> bool {
    stream.write_all(request).await.expect("written");
    buffer.clear();
    loop {
        let read = stream.read_buf(buffer).await.expect("read");
        assert!(read > 0, "the service hung up");
        let Some(end) = buffer.windows(4).position(|four| four == b"\r\n\r\n") else { continue };
        let head = std::str::from_utf8(&buffer[..end]).expect("text");
        let is_fair =
            ["HTTP/1.1 200", "HTTP/1.1 422", "HTTP/1.1 503"].iter().any(|line| head.starts_with(line));
        assert!(is_fair, "{}", String::from_utf8_lossy(buffer));
        let length = head.lines().find_map(|line| line.strip_prefix("content-length: ")).expect("a length");
        if buffer.len() == end + 4 + length.parse::<usize>().expect("a number") {
            return buffer.starts_with(b"HTTP/1.1 200");
        }
    }
}

/// The value below which a share of them lies.
pub fn quantile(values: &mut [f64], share: f64) -> f64 {
    values.sort_by(f64::total_cmp);
    values[((values.len() - 1) as f64 * share).round() as usize]
}
