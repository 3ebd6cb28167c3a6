//! Overload, slow clients, and clients that read nothing: they are refused or dropped, and others are served as usual.

use std::{
    sync::mpsc,
    time::{Duration, Instant},
};

use reqwest::Method;
use serde_json::json;
use stopwright::{
    light::interrupt::Interrupt,
    server::{
        client_ip::Proxies,
        state::{Config, Limits},
        worker_pool::{caller_info::CallerInfo, workers},
    },
};
use tokio::{
    io::{AsyncReadExt, AsyncWriteExt},
    net::TcpStream,
    sync::mpsc::unbounded_channel,
    time::{sleep, timeout},
};

use crate::{
    balance::three_lights,
    support::{Server, heavy},
};

fn address(server: &Server) -> &str {
    server.url.strip_prefix("http://").expect("plain HTTP")
}

/// Keeps all workers of a server busy. Dropping a returned sender frees one.
pub async fn occupied(server: &Server) -> Vec<mpsc::Sender<()>> {
    let (begun, mut begins) = unbounded_channel();
    let mut held = Vec::new();
    for _ in 0..workers() {
        let (hold, free) = mpsc::channel::<()>();
        let (pool, begun) = (server.workers.clone(), begun.clone());
        tokio::spawn(async move {
            let work = move |_: &dyn Interrupt| {
                begun.send(()).expect("heard");
                // Ready when the sender is dropped.
                let _ = free.recv();
            };
            pool.run(CallerInfo::default(), work).await.map_err(|_| "refused").expect("a worker");
        });
        begins.recv().await.expect("it runs");
        held.push(hold);
    }
    held
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_caller_with_too_many_heavy_calls_is_refused_at_once_and_others_are_not() {
    // A caller alone may have a third of the places.
    let room = (128 * workers()).div_ceil(3);
    let proxies = Proxies::new(vec!["127.0.0.0/8".parse().expect("a network")]);
    let server = Server::on(Config { proxies, ..Config::default() }).await;
    let held = occupied(&server).await;
    let (waiting, beyond) = (room - workers(), 20);
    let (sender, mut answers) = unbounded_channel();
    let ask = |from: &'static str| {
        let request = server.request(Method::POST, "/v1/ratios/balance").json(&three_lights());
        let (request, sender) = (request.header("x-forwarded-for", from), sender.clone());
        tokio::spawn(async move {
            let response = request.send().await.expect("an answer");
            sender
                .send((from, response.status(), response.headers().get("retry-after").cloned()))
                .expect("heard");
        });
    };
    // The jobs that keep the workers busy are of the same caller.
    (0..waiting + beyond).for_each(|_| ask("127.0.0.1"));
    // Requests without room are refused while no work is done yet.
    for _ in 0..beyond {
        let (_, status, retry) = answers.recv().await.expect("an answer");
        assert_eq!((status.as_u16(), retry), (503, Some("1".parse().expect("text"))));
    }
    ask("198.51.100.7");
    while server.workers.counts()[1] < waiting + 1 {
        sleep(Duration::from_millis(10)).await;
    }
    assert!(answers.try_recv().is_err(), "the others wait");
    assert_eq!(server.get("/v1/stops/convert?from=f/8&to=f/11").await.status, 200);
    // The others are answered when workers are free.
    drop(held);
    for _ in 0..=waiting {
        assert_eq!(answers.recv().await.expect("an answer").1, 200);
    }
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_call_that_waits_for_a_worker_is_not_refused_before_its_time_limit() {
    let server = Server::within(Limits { time_limit: Duration::from_secs(3), ..Limits::default() }).await;
    let _held = occupied(&server).await;
    let begun = Instant::now();
    let answer = server.post("/v1/ratios/balance", &three_lights()).await;
    assert_eq!(answer.status, 408);
    assert!(begun.elapsed() >= Duration::from_secs(3), "{:?}", begun.elapsed());
    // No job is left in the queue.
    assert_eq!(server.workers.counts(), [workers(), 0]);
}

#[tokio::test]
async fn a_head_sent_byte_by_byte_is_dropped() {
    let limits = Limits { header_timeout: Duration::from_millis(300), ..Limits::default() };
    let server = Server::within(limits).await;
    let mut stream = TcpStream::connect(address(&server)).await.expect("a connection");
    let begun = Instant::now();
    for byte in b"GET /healthz HTTP/1.1\r\nhost: somewhere\r\nx-slow: yes\r\n" {
        sleep(Duration::from_millis(50)).await;
        if stream.write_all(&[*byte]).await.is_err() {
            break;
        }
    }
    let mut rest = Vec::new();
    // Closed or reset: both are fine.
    let _ = timeout(Duration::from_secs(5), stream.read_to_end(&mut rest)).await.expect("dropped");
    assert!(!String::from_utf8_lossy(&rest).contains("200 OK"));
    assert!(begun.elapsed() < Duration::from_secs(5));
}

#[tokio::test]
async fn connections_beyond_the_limit_get_503() {
    let server = Server::within(Limits { connections: 3, ..Limits::default() }).await;
    let mut held = Vec::new();
    for _ in 0..3 {
        let mut stream = TcpStream::connect(address(&server)).await.expect("a connection");
        stream.write_all(b"GET /healthz HTTP/1.1\r\nhost: x\r\n\r\n").await.expect("written");
        let mut answer = [0; 512];
        let read = stream.read(&mut answer).await.expect("an answer");
        assert!(answer[..read].starts_with(b"HTTP/1.1 200"));
        held.push(stream);
    }
    let ask = async || {
        let mut stream = TcpStream::connect(address(&server)).await.expect("a connection");
        stream
            .write_all(b"GET /healthz HTTP/1.1\r\nhost: x\r\nconnection: close\r\n\r\n")
            .await
            .expect("written");
        let mut answer = String::new();
        stream.read_to_string(&mut answer).await.expect("an answer");
        answer
    };
    let answer = ask().await;
    assert!(answer.starts_with("HTTP/1.1 503") && answer.contains("retry-after: 1"), "{answer}");
    assert!(answer.contains("application/problem+json"), "{answer}");
    held.pop();
    // Its place is free as soon as the service has seen it close.
    for _ in 0..50 {
        if ask().await.starts_with("HTTP/1.1 200") {
            return;
        }
        sleep(Duration::from_millis(20)).await;
    }
    panic!("the place was not given back");
}

#[tokio::test]
async fn streams_leave_connections_for_others_and_end_if_idle() {
    let limits =
        Limits { connections: 4, stream_idle_timeout: Duration::from_millis(500), ..Limits::default() };
    let server = Server::within(limits).await;
    let mut streams = Vec::new();
    for _ in 0..3 {
        let mut stream = TcpStream::connect(address(&server)).await.expect("a connection");
        let head = "POST /v1/batch HTTP/1.1\r\nhost: x\r\ncontent-type: application/x-ndjson\r\ntransfer-encoding: chunked\r\n\r\n";
        stream.write_all(head.as_bytes()).await.expect("written");
        streams.push(stream);
        sleep(Duration::from_millis(50)).await;
    }
    // Half of the connections may be streams; the third stream is refused.
    let mut buffer = [0; 512];
    let read = streams[2].read(&mut buffer).await.expect("an answer");
    assert!(buffer[..read].starts_with(b"HTTP/1.1 503"), "{}", String::from_utf8_lossy(&buffer[..read]));
    assert_eq!(server.get("/healthz").await.status, 200);
    // Blank lines and partial lines do not keep a stream alive.
    let begun = Instant::now();
    let mut output = String::new();
    while begun.elapsed() < Duration::from_secs(5) {
        if streams[0].write_all(b"2\r\n \n\r\n").await.is_err() {
            break;
        }
        let mut some = [0; 1024];
        if let Ok(Ok(read)) = timeout(Duration::from_millis(100), streams[0].read(&mut some)).await {
            output.push_str(&String::from_utf8_lossy(&some[..read]));
            if read == 0 || output.contains("No question came") {
                break;
            }
        }
    }
    assert!(output.contains("No question came"), "{output}");
}

#[tokio::test]
async fn a_client_that_reads_no_answers_is_dropped() {
    let server =
        Server::within(Limits { write_timeout: Duration::from_millis(300), ..Limits::default() }).await;
    let mut stream = TcpStream::connect(address(&server)).await.expect("a connection");
    let head = "POST /v1/batch HTTP/1.1\r\nhost: x\r\ncontent-type: application/x-ndjson\r\ntransfer-encoding: chunked\r\n\r\n";
    stream.write_all(head.as_bytes()).await.expect("written");
    let line =
        "{\"path\": \"/v1/stops/convert\", \"body\": {\"from\": \"f/8\", \"to\": \"f/11\"}}\n".repeat(500);
    let chunk = format!("{:x}\r\n{line}\r\n", line.len());
    let dropped =
        timeout(Duration::from_secs(20), async { while stream.write_all(chunk.as_bytes()).await.is_ok() {} });
    dropped.await.expect("the service hangs up");
}

#[tokio::test]
async fn a_client_that_reads_no_answers_holds_no_worker() {
    let server = Server::start().await;
    let mut stalled = Vec::new();
    for _ in 0..=workers() {
        let mut stream = TcpStream::connect(address(&server)).await.expect("a connection");
        let head = "POST /v1/batch HTTP/1.1\r\nhost: x\r\ncontent-type: application/x-ndjson\r\ntransfer-encoding: chunked\r\n\r\n";
        stream.write_all(head.as_bytes()).await.expect("written");
        let line = "{\"path\": \"/v1/stops/convert\", \"body\": {\"from\": \"f/8\", \"to\": \"f/11\"}}\n"
            .repeat(500);
        let chunk = format!("{:x}\r\n{line}\r\n", line.len());
        while timeout(Duration::from_millis(700), stream.write_all(chunk.as_bytes())).await.is_ok() {}
        stalled.push(stream);
    }
    let begun = Instant::now();
    let answer = server.post("/v1/ratios/balance", &heavy(50)).await;
    assert_eq!(answer.status, 200, "{}", answer.body);
    assert!(begun.elapsed() < Duration::from_secs(2), "{:?}", begun.elapsed());
}

#[tokio::test]
async fn many_faults_are_reported_in_time() {
    let server = Server::start().await;
    let names: Vec<String> = (0..13_000).map(|k| format!("\"n{k}\": 1")).collect();
    let body = format!("{{{}, {}}}", names.join(", "), vec!["\"to\": 1"; 8_000].join(", "));
    let begun = Instant::now();
    let request =
        server.request(Method::POST, "/v1/stops/convert").header("content-type", "application/json");
    let answer = server.send(request.body(body)).await;
    assert_eq!(answer.status, 422);
    assert!(begun.elapsed() < Duration::from_secs(1), "{:?}", begun.elapsed());
    let faults = crate::support::faults(&answer.body);
    assert!(faults.len() < 50, "{}", faults.len());
    assert!(faults.iter().any(|[_, detail, _]| detail == "12968 more unknown names"), "{faults:?}");
}

#[tokio::test]
async fn data_that_would_be_ignored_is_refused() {
    let server = Server::start().await;
    let body = r#"{"from": "f/8", "to": "f/11"}"#;
    for (path, lines) in [("/v1/stops/convert", false), ("/v1/batch", false), ("/v1/batch", true)] {
        let kind = if lines { "application/x-ndjson" } else { "application/json" };
        let post = |path: &str, kind: &str| {
            server.request(Method::POST, path).header("content-type", kind).body(body)
        };
        let answer = server.send(post(&format!("{path}?units=imperial"), kind)).await;
        assert_eq!(answer.status, 422, "{path}");
        assert_eq!(crate::support::pointers(&crate::support::faults(&answer.body)), ["/units"]);
        let packed = post(path, kind).header("content-encoding", "gzip");
        assert_eq!(server.send(packed).await.status, 415);
        assert_eq!(server.send(post(path, &format!("{kind}; charset=iso-8859-1"))).await.status, 415);
        let answer =
            server.send(post(path, &format!("{kind}; charset=UTF-8")).header("content-encoding", "identity"));
        assert!([200, 422].contains(&answer.await.status));
    }
    let answer = server.get("/v1/batch").await;
    assert_eq!((answer.status, answer.header("allow")), (405, "POST"));
    let odd = json!({"reference": {"unit": {"energy": 500}, "setting": {"label": "1/2", "odd": 1}, "exposure": {"f_number": 8}},
        "candidates": [{"unit": {"energy": 500}}]});
    let faults = server.refused("/v1/energy/equivalence", odd).await;
    assert_eq!(crate::support::pointers(&faults), ["/reference/setting/odd"]);
}

#[tokio::test]
async fn expect_continue_gets_a_100() {
    let server = Server::start().await;
    let mut stream = TcpStream::connect(address(&server)).await.expect("a connection");
    let line = r#"{"path": "/v1/stops/convert", "body": {"from": "f/8", "to": "f/11"}}"#;
    let head = format!(
        "POST /v1/batch HTTP/1.1\r\nhost: x\r\nconnection: close\r\nexpect: 100-continue\r\ncontent-type: application/x-ndjson\r\ncontent-length: {}\r\n\r\n",
        line.len()
    );
    stream.write_all(head.as_bytes()).await.expect("written");
    let mut heard = [0; 64];
    let count =
        timeout(Duration::from_secs(2), stream.read(&mut heard)).await.expect("in time").expect("read");
    assert!(heard[..count].starts_with(b"HTTP/1.1 100"), "{:?}", String::from_utf8_lossy(&heard[..count]));
    stream.write_all(line.as_bytes()).await.expect("written");
    let mut rest = String::new();
    stream.read_to_string(&mut rest).await.expect("read");
    assert!(rest.contains("HTTP/1.1 200") && rest.contains("\"exposure_stops\":-1.0"), "{rest}");
}

#[tokio::test]
async fn heads_have_a_size_limit() {
    let server = Server::start().await;
    let long = server.request(reqwest::Method::GET, "/healthz").header("x-long", "x".repeat(40_000));
    assert_eq!(long.send().await.expect("an answer").status(), 431);
    let many = (0..100).fold(server.request(reqwest::Method::GET, "/healthz"), |request, k| {
        request.header(format!("x-{k}"), "1")
    });
    assert_eq!(many.send().await.expect("an answer").status(), 431);
}
