//! Clients that disconnect, stall or send too much, and bodies that are no JSON. The next request is answered as
//! usual.

use std::time::{Duration, Instant};

use serde_json::Value;
use stopwright::server::{
    state::Limits,
    worker_pool::{TURN, workers},
};
use tokio::{
    io::{AsyncReadExt, AsyncWriteExt},
    net::TcpStream,
    time::{sleep, timeout},
};

use crate::support::{Server, faults, heavy};

/// A server with few connections, so that a leaked one shows.
pub async fn server() -> Server {
    Server::within(Limits { connections: 3, ..Limits::default() }).await
}

/// Checks that the service answers, as soon as the connection before is closed.
pub async fn is_well(server: &Server) {
    for _ in 0..100 {
        let request = server.request(reqwest::Method::GET, "/v1/stops/convert?from=f/8&to=f/11");
        let answer = request.send().await.expect("an answer");
        if answer.status() == 200 {
            return;
        }
        sleep(Duration::from_millis(20)).await;
    }
    panic!("no place was given back");
}

/// Waits until no heavy work is left.
async fn until_idle(server: &Server) {
    while server.workers.counts() != [0, 0] {
        sleep(Duration::from_millis(10)).await;
    }
}

pub async fn connect(server: &Server) -> TcpStream {
    let address = server.url.strip_prefix("http://").expect("plain HTTP");
    TcpStream::connect(address).await.expect("a connection")
}

const HEAD: &str = "POST /v1/stops/convert HTTP/1.1\r\nhost: x\r\ncontent-type: application/json\r\n";
const BODY: &str = r#"{"from": "f/8", "to": "f/11"}"#;
const LIMIT: usize = 256 * 1024;

/// Reads until the service closes the connection.
async fn rest(stream: &mut TcpStream) -> String {
    let mut heard = Vec::new();
    // Closed or reset: both are fine.
    let _ = timeout(Duration::from_secs(5), stream.read_to_end(&mut heard)).await.expect("an end");
    String::from_utf8_lossy(&heard).into_owned()
}

/// A whole request.
pub fn post(path: &str, body: &Value) -> String {
    let body = body.to_string();
    format!(
        "POST {path} HTTP/1.1\r\nhost: x\r\ncontent-type: application/json\r\ncontent-length: {}\r\n\r\n{body}",
        body.len()
    )
}

/// Beginnings of requests, each cut somewhere.
fn beginnings() -> Vec<String> {
    let length = format!("{HEAD}content-length: {}\r\n\r\n", BODY.len());
    let chunked = format!("{HEAD}transfer-encoding: chunked\r\n\r\n");
    let long = post("/v1/ratios/balance", &heavy(2000));
    let line = format!("{{\"path\": \"/v1/stops/convert\", \"body\": {BODY}}}\n");
    let stream = format!(
        "POST /v1/batch HTTP/1.1\r\nhost: x\r\ncontent-type: application/x-ndjson\r\ntransfer-encoding: chunked\r\n\r\n{:x}\r\n{line}",
        line.len() + 9
    );
    vec![
        String::new(),
        "PO".to_owned(),
        HEAD.to_owned(),
        length.clone(),
        format!("{length}{}", &BODY[..9]),
        format!("{chunked}1"),
        format!("{chunked}1d\r\n{}", &BODY[..9]),
        format!("{chunked}1d\r\n{BODY}\r\n"),
        stream,
        // A whole request whose answer takes long.
        long,
    ]
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_reset_connection_leaves_nothing_behind() {
    let server = server().await;
    for beginning in beginnings() {
        for _ in 0..3 {
            let mut stream = connect(&server).await;
            stream.write_all(beginning.as_bytes()).await.expect("written");
            // Gives the service time to read it.
            sleep(Duration::from_millis(20)).await;
            stream.set_zero_linger().expect("set");
            drop(stream);
        }
        is_well(&server).await;
    }
    assert_eq!(server.post("/v1/ratios/balance", &heavy(20)).await.status, 200);
    // Heavy work has ended as well.
    until_idle(&server).await;
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_connection_that_is_half_closed_ends() {
    let server = server().await;
    let mut beginnings = beginnings();
    let whole = beginnings.pop();
    assert!(whole.is_some_and(|whole| whole.contains("/v1/ratios/balance")));
    for beginning in beginnings {
        let mut stream = connect(&server).await;
        stream.write_all(beginning.as_bytes()).await.expect("written");
        sleep(Duration::from_millis(20)).await;
        stream.shutdown().await.expect("half closed");
        let begun = Instant::now();
        let heard = rest(&mut stream).await;
        assert!(begun.elapsed() < Duration::from_secs(1), "{beginning:?}");
        let is_told = heard.contains("/problems/malformed-request");
        assert!(heard.is_empty() || is_told || heard.starts_with("HTTP/1.1 400"), "{beginning:?}: {heard}");
        is_well(&server).await;
    }
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_client_that_closes_its_side_still_gets_its_answer() {
    let server = Server::start().await;
    let conversion = format!("{HEAD}content-length: {}\r\n\r\n{BODY}", BODY.len());
    for request in [conversion, post("/v1/ratios/balance", &heavy(300))] {
        let mut stream = connect(&server).await;
        stream.write_all(request.as_bytes()).await.expect("written");
        stream.shutdown().await.expect("half closed");
        let mut heard = String::new();
        timeout(Duration::from_secs(30), stream.read_to_string(&mut heard))
            .await
            .expect("an end")
            .expect("read");
        assert!(heard.starts_with("HTTP/1.1 200") && heard.ends_with('}'), "{heard}");
    }
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn work_of_clients_that_reset_ends_while_it_runs_and_while_it_waits() {
    let server = Server::start().await;
    let mut took = Vec::new();
    for are_reset in [false, true] {
        let mut clients = Vec::new();
        for _ in 0..workers() + 3 {
            let mut stream = connect(&server).await;
            stream.write_all(post("/v1/ratios/balance", &heavy(2000)).as_bytes()).await.expect("written");
            clients.push(stream);
        }
        // Waits until all workers are busy and three jobs wait for a turn.
        while server.workers.counts() != [workers(), 3] {
            sleep(Duration::from_millis(10)).await;
        }
        sleep(TURN * 4).await;
        let begun = Instant::now();
        for stream in clients.iter().filter(|_| are_reset) {
            stream.set_zero_linger().expect("set");
        }
        if are_reset {
            clients.clear();
        }
        until_idle(&server).await;
        took.push(begun.elapsed());
    }
    assert!(took[1] * 2 < took[0], "by themselves they end after {:?}, reset after {:?}", took[0], took[1]);
}

#[tokio::test]
async fn a_body_that_trickles_is_a_timeout() {
    let limits = Limits { time_limit: Duration::from_millis(300), connections: 3, ..Limits::default() };
    let server = Server::within(limits).await;
    for framing in [format!("content-length: {}", BODY.len()), "transfer-encoding: chunked".to_owned()] {
        let mut stream = connect(&server).await;
        stream
            .write_all(format!("{HEAD}{framing}\r\nconnection: close\r\n\r\n").as_bytes())
            .await
            .expect("written");
        let begun = Instant::now();
        let (mut reader, mut writer) = stream.split();
        let trickle = async {
            for byte in BODY.bytes().cycle() {
                let piece = if framing.starts_with('c') {
                    vec![byte]
                } else {
                    [b"1\r\n", &[byte][..], b"\r\n"].concat()
                };
                if writer.write_all(&piece).await.is_err() {
                    break;
                }
                sleep(Duration::from_millis(40)).await;
            }
            std::future::pending::<()>().await;
        };
        let mut heard = Vec::new();
        tokio::select! {
            () = trickle => {}
            end = timeout(Duration::from_secs(5), reader.read_to_end(&mut heard)) => { end.expect("an end").ok(); }
        }
        let heard = String::from_utf8_lossy(&heard);
        assert!(
            heard.starts_with("HTTP/1.1 408") && heard.contains("/problems/timeout"),
            "{framing}: {heard}"
        );
        assert!(begun.elapsed() < Duration::from_secs(2), "{framing}: {:?}", begun.elapsed());
        is_well(&server).await;
    }
}

#[tokio::test]
async fn a_body_beyond_the_limit_is_refused_however_it_is_sent() {
    let server = server().await;
    let blanks = " ".repeat(LIMIT - BODY.len() - 1);
    let chunks = |body: &str| {
        let pieces = body.as_bytes().chunks(5000);
        let pieces =
            pieces.map(|piece| format!("{:x}\r\n{}\r\n", piece.len(), String::from_utf8_lossy(piece)));
        format!(
            "{HEAD}connection: close\r\ntransfer-encoding: chunked\r\n\r\n{}0\r\n\r\n",
            pieces.collect::<String>()
        )
    };
    let whole =
        |body: &str| format!("{HEAD}connection: close\r\ncontent-length: {}\r\n\r\n{body}", body.len());
    for (more, status) in [(0, 200), (1, 200), (2, 413), (3000, 413)] {
        let body = format!("{BODY}{blanks}{}", " ".repeat(more));
        for message in [chunks(&body), whole(&body)] {
            let mut stream = connect(&server).await;
            let _ = stream.write_all(message.as_bytes()).await;
            let heard = rest(&mut stream).await;
            assert!(heard.starts_with(&format!("HTTP/1.1 {status}")), "{} bytes: {heard}", body.len());
            is_well(&server).await;
        }
    }
}

/// Bodies that are no JSON, or of another shape than the service reads, with the status of each.
fn odd_bodies() -> Vec<(&'static str, Vec<u8>, u16)> {
    let deep =
        |open: &str, close: &str, depth| [open.repeat(depth), close.repeat(depth)].concat().into_bytes();
    let from = |value: &str| format!("{{\"from\": {value}, \"to\": \"f/8\"}}").into_bytes();
    vec![
        ("RFC 8259, 8.1: not UTF-8", b"{\"from\": \"f/8\xff\", \"to\": \"f/8\"}".to_vec(), 400),
        ("RFC 8259, 8.1: not UTF-8 in a name", b"{\"from\xc3\": \"f/8\", \"to\": \"f/8\"}".to_vec(), 400),
        ("RFC 3629, 3: a surrogate in UTF-8", b"{\"from\": \"\xed\xa0\x80\", \"to\": \"f/8\"}".to_vec(), 400),
        ("RFC 3629, 3: longer than needed", b"{\"from\": \"\xc0\xaf\", \"to\": \"f/8\"}".to_vec(), 400),
        ("RFC 8259, 8.1: two byte order marks", ["\u{feff}\u{feff}", BODY].concat().into_bytes(), 400),
        ("RFC 8259, 8.1: a byte order mark in the middle", [BODY.as_bytes(), b"\xef\xbb\xbf"].concat(), 400),
        ("RFC 8259, 8.2: half a pair", from(r#""\ud800""#), 400),
        ("RFC 8259, 7: a bare control character", from("\"f/8\u{1}\""), 400),
        ("RFC 8259, 7: NUL", from(r#""f/8\u0000""#), 422),
        ("RFC 8259, 9: lists without end", deep("[", "]", 100_000), 400),
        ("RFC 8259, 9: objects without end", deep("{\"from\":", "}", 20_000), 400),
        ("RFC 8259, 9: never closed", deep("[{\"a\":", "", 40_000), 400),
        ("deep, within what is parsed", from(&[&"[".repeat(100)[..], &"]".repeat(100)].concat()), 422),
        ("RFC 8259, 6: beyond a double", from("1e309"), 400),
        ("RFC 8259, 6: an exponent beyond all", from("1e99999999999999999999"), 400),
        ("RFC 8259, 6: an exponent below all", from("1e-99999999999999999999"), 422),
        ("RFC 8259, 6: many digits", from(&"9".repeat(200_000)), 400),
        ("RFC 8259, 6: many zeros", from(&format!("0.{}8", "0".repeat(200_000))), 422),
        ("RFC 8259, 6: no number", from("NaN"), 400),
        ("RFC 8259, 6: no number", from("-Infinity"), 400),
        ("RFC 8259, 6: no number", from("08"), 400),
        ("RFC 8259, 2: more after it", [BODY.as_bytes(), b"{}"].concat(), 400),
        ("RFC 8259, 4: a name twice", from(r#""f/8", "from": "f/8""#), 422),
        ("RFC 8259, 4: a name twice, once escaped", from(r#""f/8", "\u0066rom": "f/8""#), 422),
        ("RFC 8259, 4: a name twice, deep inside", from(r#"{"value": 40, "value": 40, "unit": "m"}"#), 422),
    ]
}

#[tokio::test]
async fn invalid_json_is_refused_with_its_place() {
    let server = server().await;
    for (source, body, status) in odd_bodies() {
        let request = server.request(reqwest::Method::POST, "/v1/stops/convert");
        let begun = Instant::now();
        let shown = String::from_utf8_lossy(&body).chars().take(60).collect::<String>();
        let answer = server.send(request.header("content-type", "application/json").body(body)).await;
        assert_eq!(answer.status, status, "{source}: {shown}: {}", answer.body);
        assert!(begun.elapsed() < Duration::from_secs(1), "{source}: {:?}", begun.elapsed());
        let found = faults(&answer.body);
        // The text of a fault is short however long the body is.
        assert!(found.iter().flatten().all(|text| (0..600).contains(&text.len())), "{source}: {found:?}");
        assert!(
            found.iter().all(|[_, detail, expected]| !detail.is_empty() && !expected.is_empty()),
            "{source}"
        );
        assert_ne!(answer.body["detail"], Value::Null);
        is_well(&server).await;
    }
}
