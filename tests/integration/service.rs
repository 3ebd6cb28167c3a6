//! The service itself: time limits, shutting down, the commands of the binary.

use std::{
    io::{self, BufRead, BufReader},
    net::SocketAddr,
    process::{Command, Stdio},
    time::{Duration, Instant},
};

use stopwright::{
    app::App,
    server::state::{Config, Limits},
};
use tokio::{
    io::{AsyncReadExt, AsyncWriteExt},
    net::{TcpListener, TcpStream},
    sync::oneshot,
    task::JoinHandle,
};

const BODY: &str = r#"{"from": "f/8", "to": "f/11"}"#;
const GET: &[u8] = b"GET /healthz HTTP/1.1\r\nhost: x\r\n\r\n";

async fn begin_slowly(address: SocketAddr) -> TcpStream {
    let mut stream = TcpStream::connect(address).await.expect("a connection");
    let head = format!(
        "POST /v1/stops/convert HTTP/1.1\r\nhost: x\r\nconnection: close\r\ncontent-type: application/json\r\ncontent-length: {}\r\n\r\n{{",
        BODY.len()
    );
    stream.write_all(head.as_bytes()).await.expect("written");
    stream
}

/// A server in this process: its address, its stop signal, and its task.
async fn served() -> (SocketAddr, oneshot::Sender<()>, JoinHandle<io::Result<()>>) {
    let listener = TcpListener::bind("127.0.0.1:0").await.expect("a port");
    let address = listener.local_addr().expect("an address");
    let (stop, stopped) = oneshot::channel::<()>();
    let server = tokio::spawn(App::new(Config::default()).serve(listener, async move {
        let _ = stopped.await;
    }));
    (address, stop, server)
}

#[tokio::test]
async fn requests_in_flight_are_answered_when_the_server_stops() {
    let (address, stop, server) = served().await;
    let mut stream = begin_slowly(address).await;
    // An answer on another connection shows that the first request has arrived.
    let url = format!("http://{address}/healthz");
    assert!(reqwest::get(&url).await.expect("an answer").status().is_success());
    stop.send(()).expect("the server listens to it");
    while TcpStream::connect(address).await.is_ok() {
        tokio::task::yield_now().await;
    }
    stream.write_all(&BODY.as_bytes()[1..]).await.expect("written");
    let mut answer = String::new();
    stream.read_to_string(&mut answer).await.expect("read");
    assert!(answer.starts_with("HTTP/1.1 200"), "{answer}");
    assert!(answer.ends_with('}') && answer.contains("\"exposure_stops\":-1.0"), "{answer}");
    server.await.expect("no panic").expect("no error");
}

#[tokio::test]
async fn a_connection_made_before_shutdown_is_answered() {
    let listener = TcpListener::bind("127.0.0.1:0").await.expect("a port");
    let address = listener.local_addr().expect("an address");
    let mut waiting = Vec::new();
    for _ in 0..40 {
        // The kernel has accepted the connection; the service has not seen it yet.
        let mut stream = TcpStream::connect(address).await.expect("a connection");
        stream.write_all(GET).await.expect("written");
        waiting.push(stream);
    }
    let begun = Instant::now();
    let server = tokio::spawn(App::new(Config::default()).serve(listener, async {}));
    for mut stream in waiting {
        let mut answer = String::new();
        stream.read_to_string(&mut answer).await.expect("read");
        assert!(answer.starts_with("HTTP/1.1 200") && answer.contains("connection: close"), "{answer}");
    }
    server.await.expect("no panic").expect("no error");
    assert!(begun.elapsed() < Duration::from_secs(5), "{:?}", begun.elapsed());
    assert!(TcpStream::connect(address).await.is_err());
}

#[tokio::test]
async fn a_request_on_an_idle_connection_during_shutdown_is_answered() {
    let (address, stop, server) = served().await;
    let mut stream = TcpStream::connect(address).await.expect("a connection");
    stream.write_all(GET).await.expect("written");
    let mut answer = [0; 2048];
    let count = stream.read(&mut answer).await.expect("read");
    let first = String::from_utf8_lossy(&answer[..count]);
    assert!(first.starts_with("HTTP/1.1 200") && !first.contains("connection: close"), "{first}");
    // Sent, but not yet read by the service when it is told to stop.
    stream.write_all(GET).await.expect("written");
    stop.send(()).expect("the server listens to it");
    let mut last = String::new();
    stream.read_to_string(&mut last).await.expect("read");
    assert!(last.starts_with("HTTP/1.1 200") && last.contains("connection: close"), "{last}");
    server.await.expect("no panic").expect("no error");
}

#[tokio::test]
async fn a_body_that_does_not_arrive_is_a_timeout() {
    let listener = TcpListener::bind("127.0.0.1:0").await.expect("a port");
    let address = listener.local_addr().expect("an address");
    let limits = Limits { time_limit: Duration::from_millis(50), ..Limits::default() };
    let front = App::new(Config { limits, ..Config::default() });
    tokio::spawn(front.serve(listener, std::future::pending()));
    let mut stream = begin_slowly(address).await;
    let mut answer = String::new();
    stream.read_to_string(&mut answer).await.expect("read");
    assert!(answer.starts_with("HTTP/1.1 408"), "{answer}");
    assert!(answer.contains("application/problem+json") && answer.contains("/problems/timeout"), "{answer}");
}

fn stopwright() -> Command {
    Command::new(env!("CARGO_BIN_EXE_stopwright"))
}

#[test]
fn the_commands_do_what_they_say() {
    let spec = stopwright().arg("spec").output().expect("run");
    assert_eq!(String::from_utf8_lossy(&spec.stdout), stopwright::openapi::document());
    // Nothing listens on port 9 of loopback.
    let nobody = stopwright().args(["probe", "--listen", "127.0.0.1:9"]).output().expect("run");
    assert_eq!(nobody.status.code(), Some(1));
    let mut server =
        stopwright().env("STOPWRIGHT_LISTEN", "127.0.0.1:0").stdout(Stdio::piped()).spawn().expect("run");
    let mut lines = BufReader::new(server.stdout.take().expect("output")).lines();
    let first = lines.next().expect("a line").expect("text");
    let address = first.strip_prefix("listening on http://").unwrap_or_else(|| panic!("{first}")).to_owned();
    let second = lines.next().expect("a line").expect("text");
    assert!(second.contains(&format!("curl 'http://{address}/v1/stops/convert")), "{second}");
    let probe = stopwright().args(["probe", "--listen", &address]).status().expect("run");
    server.kill().expect("killed");
    server.wait().expect("ended");
    assert_eq!(probe.code(), Some(0));
}

#[test]
fn the_tour_tells_a_day_in_80_columns() {
    let folder = std::env::temp_dir().join(format!("stopwright-tour-{}", std::process::id()));
    let tour = stopwright().args(["tour", "--pictures"]).arg(&folder).output().expect("run");
    let output = String::from_utf8_lossy(&tour.stdout);
    assert_eq!(tour.status.code(), Some(0), "{output}");
    for path in [
        "kit/check",
        "energy/equivalence",
        "ratios/balance",
        "ambient/check",
        "sets/correct",
        "patches/compare",
    ] {
        assert!(output.contains(&format!("$ stopwright ask {path} ")), "{path}");
    }
    for line in output.lines().filter(|line| !line.starts_with("The picture is in")) {
        assert!(line.chars().count() <= 80 && !line.ends_with(' '), "{line:?}");
    }
    assert!(!output.contains("\"summary\""), "an answer in JSON");
    for picture in ["1-kit-check.svg", "3-ratios-balance.svg", "5-sets-correct.svg"] {
        let svg = std::fs::read_to_string(folder.join(picture)).expect("a picture");
        assert!(svg.starts_with("<svg") && output.contains(picture), "{picture}");
    }
    std::fs::remove_dir_all(&folder).expect("removed");
    let json = stopwright().args(["tour", "--json"]).output().expect("run");
    let json = String::from_utf8_lossy(&json.stdout);
    assert!(json.contains("POST /v1/sets/correct\n{") && json.contains("\"summary\""), "{json}");
}
