//! Malformed messages on a socket, against RFC 9112 (HTTP/1.1). An ambiguous message is refused, and what follows on
//! the connection is not read as a request.

use std::time::Duration;

use tokio::{
    io::{AsyncReadExt, AsyncWriteExt},
    time::timeout,
};

use crate::{
    drops::{connect, is_well, server},
    support::Server,
};

/// A request behind the message, which must not be answered.
const NEXT: &str = "GET /readyz HTTP/1.1\r\nhost: x\r\nconnection: close\r\n\r\n";
const BODY: &str = r#"{"from":"f/8","to":"f/11"}"#;

/// The statuses of all answers to a message followed by another, until the service closes.
async fn answers(server: &Server, message: &[u8]) -> Vec<u16> {
    let mut stream = connect(server).await;
    // If the service closes early, the write may fail.
    let _ = stream.write_all(message).await;
    let _ = stream.write_all(NEXT.as_bytes()).await;
    let mut heard = Vec::new();
    let closed = timeout(Duration::from_secs(5), stream.read_to_end(&mut heard)).await;
    assert!(closed.is_ok(), "left open: {:?}", String::from_utf8_lossy(message));
    let heard = String::from_utf8_lossy(&heard);
    let statuses = heard.split("HTTP/1.").skip(1).map(|answer| answer[2..5].parse().expect("a status"));
    statuses.collect()
}

/// Checks that each message has this status, and that nothing follows.
async fn all_are(expected: &[u16], messages: &[(&str, Vec<u8>)]) {
    let server = server().await;
    for (source, message) in messages {
        let statuses = answers(&server, message).await;
        assert_eq!(statuses, expected, "RFC 9112, {source}: {:?}", String::from_utf8_lossy(message));
        is_well(&server).await;
    }
}

fn get(lines: &str) -> Vec<u8> {
    format!("GET /healthz HTTP/1.1\r\nhost: x\r\n{lines}\r\n").into_bytes()
}

fn post(lines: &str, body: &str) -> Vec<u8> {
    let head = "POST /v1/stops/convert HTTP/1.1\r\nhost: x\r\ncontent-type: application/json\r\n";
    format!("{head}{lines}\r\n{body}").into_bytes()
}

fn chunked(body: &str) -> Vec<u8> {
    post("transfer-encoding: chunked\r\n", body)
}

/// The body as one chunk, and the last chunk.
fn chunk() -> String {
    format!("{:x}\r\n{BODY}\r\n0\r\n\r\n", BODY.len())
}

#[tokio::test]
async fn an_ambiguous_length_is_refused() {
    let length = |text: &str| post(&format!("content-length: {text}\r\n"), BODY);
    let coding = |text: &str| post(&format!("transfer-encoding: {text}\r\n"), &chunk());
    let messages = [
        ("6.3 (5): lengths that differ", length("26\r\ncontent-length: 3")),
        ("6.3 (5): a list of lengths that differ", length("26, 3")),
        ("6.2: no number", length("+26")),
        ("6.2: no number", length("-1")),
        ("6.2: no number", length("0x1a")),
        ("6.2: no number", length("26 26")),
        ("6.2: no number", length("")),
        ("6.2: beyond what can be counted", length("99999999999999999999999")),
        ("5.1: a space before the colon", post("content-length : 26\r\n", BODY)),
        ("6.1: a coding that is not understood", coding("xchunked")),
        ("6.1: a coding that is not understood", coding("identity")),
        ("6.1: a coding that is not understood", coding("gzip, chunked")),
        ("6.1: a coding that is not understood", coding("x\r\ntransfer-encoding: chunked")),
        ("6.3 (4): chunked is not last", coding("chunked, gzip")),
        ("6.1: chunked twice", coding("chunked, chunked")),
        ("6.1: chunked twice", coding("chunked\r\ntransfer-encoding: chunked")),
        ("5.5: a control character", coding("\u{b}chunked")),
        (
            "6.1: chunked in HTTP/1.0",
            format!("POST /v1/stops/convert HTTP/1.0\r\ntransfer-encoding: chunked\r\n\r\n{}", chunk())
                .into(),
        ),
    ];
    all_are(&[400], &messages).await;
}

#[tokio::test]
async fn malformed_chunks_are_refused() {
    let extended = |c: char| format!("1;{}\r\n{c}\r\n", "a".repeat(4000));
    let flood = BODY.chars().map(extended).collect::<Vec<_>>().concat();
    let messages = [
        (
            "7.1: a size beyond what can be counted",
            chunked(&format!("fffffffffffffffff\r\n{BODY}\r\n0\r\n\r\n")),
        ),
        ("7.1: no hexadecimal number", chunked(&format!("zz\r\n{BODY}\r\n0\r\n\r\n"))),
        ("7.1: no hexadecimal number", chunked(&format!("-1a\r\n{BODY}\r\n0\r\n\r\n"))),
        ("7.1: no hexadecimal number", chunked(&format!("0x1a\r\n{BODY}\r\n0\r\n\r\n"))),
        ("7.1: a bare LF for an end of line", chunked(&format!("1a\n{BODY}\n0\n\n"))),
        ("7.1: more in a chunk than its size", chunked(&format!("5\r\n{BODY}\r\n0\r\n\r\n"))),
        ("7.1.1: LF in an extension", chunked(&format!("1a;a\nb\r\n{BODY}\r\n0\r\n\r\n"))),
        ("7.1.1: extensions without end", chunked(&format!("{flood}0\r\n\r\n"))),
        (
            "7.1.2: trailers without end",
            chunked(&format!("1a\r\n{BODY}\r\n0\r\n{}\r\n", "x: 1\r\n".repeat(3000))),
        ),
        (
            "7.1.2: a trailer without end",
            chunked(&format!("1a\r\n{BODY}\r\n0\r\nx: {}\r\n\r\n", "1".repeat(100_000))),
        ),
    ];
    all_are(&[400], &messages).await;
}

#[tokio::test]
async fn a_malformed_head_is_refused() {
    let line = |line: &[u8]| [line, b"\r\nhost: x\r\n\r\n"].concat();
    let messages = [
        ("5.2: obs-fold", get("x-a: 1\r\n 2\r\n")),
        (
            "2.2: space before the first field",
            b"GET /healthz HTTP/1.1\r\n x-a: 1\r\nhost: x\r\n\r\n".to_vec(),
        ),
        ("2.2: a bare CR", get("x-a: 1\r2\r\n")),
        ("2.2: bare CR for every end of line", b"GET /healthz HTTP/1.1\rhost: x\r\r".to_vec()),
        ("5.1: a space before the colon", get("x-a : 1\r\n")),
        ("5: no colon", get("xa\r\n")),
        ("5: no name", get(": a\r\n")),
        ("5.5 of RFC 9110: NUL in a value", get("x-a: 1\u{0}2\r\n")),
        ("5.1 of RFC 9110: NUL in a name", get("x\u{0}a: 1\r\n")),
        ("3: a space in the target", line(b"GET /health z HTTP/1.1")),
        ("3.2: a control character in the target", line(b"GET /health\x01 HTTP/1.1")),
        ("3.2: no UTF-8 in the target", line(b"GET /health\xff HTTP/1.1")),
        ("3.1: a control character in the method", line(b"G\x01T /healthz HTTP/1.1")),
        ("2.3: another major version", line(b"GET /healthz HTTP/2.0")),
        ("2.3: no version", b"GET /healthz\r\n".to_vec()),
        ("3: no HTTP at all", [&b"\x16\x03\x01\x02\x00\x01\x00\x01\xfc\x03\x03"[..], &[0; 50]].concat()),
    ];
    all_are(&[400], &messages).await;
    let many = "x-a: 1\r\n".repeat(100);
    let long = format!("GET /{} HTTP/1.1", "a".repeat(70_000));
    // RFC 6585, 5.
    all_are(&[431], &[("3: a long target", line(long.as_bytes())), ("2.3: many lines", get(&many))]).await;
}

#[tokio::test]
async fn a_request_has_exactly_one_host() {
    let hosts = |lines: &str| format!("GET /healthz HTTP/1.1\r\n{lines}\r\n").into_bytes();
    let messages = [
        ("3.2: no host", hosts("")),
        ("3.2: two hosts", hosts("host: x\r\nhost: y\r\n")),
        ("3.2: a host twice", hosts("host: x\r\nhost: x\r\n")),
        ("3.2: no host's name", hosts("host: x/y\r\n")),
        ("3.2: no host's name", hosts("host: user@x\r\n")),
        ("3.2: no host's name", hosts("host: a b\r\n")),
        ("3.2: two hosts in HTTP/1.0", b"GET /healthz HTTP/1.0\r\nhost: x\r\nhost: y\r\n\r\n".to_vec()),
    ];
    all_are(&[400], &messages).await;
    let server = server().await;
    let without = server.request(reqwest::Method::GET, "/healthz").header("host", "x/y");
    let answer = server.send(without).await;
    assert_eq!(answer.status, 400);
    assert!(answer.body["detail"].as_str().is_some_and(|detail| detail.contains("Host")), "{}", answer.body);
    let taken = [
        ("3.2: no authority", hosts("host: \r\n")),
        ("3.2: a port", hosts("host: [::1]:8080\r\n")),
        (
            "3.2.2: absolute-form; the host beside it does not count",
            b"GET http://y/healthz HTTP/1.1\r\nhost: x\r\n\r\n".to_vec(),
        ),
    ];
    all_are(&[200, 200], &taken).await;
    // Only HTTP/1.0 needs no Host header. Its connections close after the answer.
    all_are(&[200], &[("3.2", b"GET /healthz HTTP/1.0\r\n\r\n".to_vec())]).await;
}

#[tokio::test]
async fn a_target_that_names_no_resource_is_refused() {
    let of = |line: &str, host: &str| format!("{line} HTTP/1.1\r\nhost: {host}\r\n\r\n").into_bytes();
    let messages = [
        ("3.2.3: authority-form is for CONNECT", of("GET x:80", "x")),
        ("3.2.3: this is no proxy", of("CONNECT x:80", "x:80")),
        ("3.2.4: asterisk-form is for OPTIONS", of("GET *", "x")),
        ("3.2: no form of a target", of("GET healthz", "x")),
    ];
    all_are(&[404, 200], &messages).await;
    all_are(&[405, 200], &[("3.1: methods have their case", of("get /healthz", "x"))]).await;
}

#[tokio::test]
async fn length_and_coding_together_end_the_connection() {
    // RFC 9112, 6.3 (3): the transfer coding wins and the connection is closed, so what follows is not answered.
    let both = [
        ("6.3 (3)", post("content-length: 5\r\ntransfer-encoding: chunked\r\n", &chunk())),
        ("6.3 (3)", post("transfer-encoding: chunked\r\ncontent-length: 5\r\n", &chunk())),
    ];
    all_are(&[200], &both).await;
}

#[tokio::test]
async fn rare_but_valid_messages_are_accepted() {
    let inner = NEXT.len();
    let messages = [
        ("6.3 (5): the same length twice", post("content-length: 26\r\ncontent-length: 26\r\n", BODY)),
        ("7.1.1: an extension", chunked(&format!("1a;a=b\r\n{BODY}\r\n0\r\n\r\n"))),
        ("7.1.2: a trailer", chunked(&format!("1a\r\n{BODY}\r\n0\r\nx-a: 1\r\n\r\n"))),
        (
            "6.5.1 of RFC 9110: a trailer changes no length",
            chunked(&format!("1a\r\n{BODY}\r\n0\r\ncontent-length: 5\r\n\r\n")),
        ),
        ("7: codings have no case", post("transfer-encoding: Chunked\r\n", &chunk())),
        ("2.2: empty lines before a request", [b"\r\n\r\n".to_vec(), get("")].concat()),
        ("2.2: LF for an end of line", b"GET /healthz HTTP/1.1\nhost: x\n\n".to_vec()),
        (
            "5.5 of RFC 9110: bytes beyond ASCII",
            [&get("x-a: ")[..get("x-a: ").len() - 2], b"\xff\r\n\r\n"].concat(),
        ),
        // An unexpected body is not a request, whatever it looks like.
        ("6.3 (6): a body of a GET", [get(&format!("content-length: {inner}\r\n")), NEXT.into()].concat()),
        (
            "6.3 (4): a body of a GET",
            [get("transfer-encoding: chunked\r\n"), format!("{inner:x}\r\n{NEXT}\r\n0\r\n\r\n").into()]
                .concat(),
        ),
    ];
    all_are(&[200, 200], &messages).await;
    let refused = |line: &str| {
        let head = format!(
            "{line} HTTP/1.1\r\nhost: x\r\ncontent-type: text/plain\r\ncontent-length: {inner}\r\n\r\n"
        );
        [head.into_bytes(), NEXT.into()].concat()
    };
    all_are(&[415, 200], &[("6.3 (6): a body that is refused", refused("POST /v1/stops/convert"))]).await;
    all_are(&[404, 200], &[("6.3 (6): a body of no resource", refused("POST /nowhere"))]).await;
}
