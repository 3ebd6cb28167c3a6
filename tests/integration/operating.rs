//! The service in difficult surroundings: pipes that nobody reads or that are closed, few descriptors, host names, a
//! second signal.

use std::{
    io::{self, BufRead, BufReader, Read, Write},
    process::{Child, Command, Stdio},
    sync::mpsc,
    thread,
    time::{Duration, Instant},
};

use tokio::{
    io::{AsyncReadExt, AsyncWriteExt},
    net::TcpStream,
};

use crate::support::Process;

/// Sends many calls on one connection, pipelined, and reads their answers.
async fn call_often(url: &str, calls: usize) {
    const AT_A_TIME: usize = 100;
    let id = "x".repeat(64);
    // Published: W3C Trace Context, the example of a traceparent.
    let trace = "00-4bf92f3577b34da6a3ce929d0e0e4736-00f067aa0ba902b7-01";
    let call =
        format!("GET /healthz HTTP/1.1\r\nhost: x\r\nx-request-id: {id}\r\ntraceparent: {trace}\r\n\r\n");
    let mut stream =
        TcpStream::connect(url.strip_prefix("http://").expect("an address")).await.expect("connected");
    for _ in 0..calls / AT_A_TIME {
        stream.write_all(call.repeat(AT_A_TIME).as_bytes()).await.expect("written");
        let mut answers = String::new();
        while answers.matches("HTTP/1.1 200").count() < AT_A_TIME || !answers.ends_with('}') {
            let mut some = vec![0; 65_536];
            let read = tokio::time::timeout(Duration::from_secs(20), stream.read(&mut some)).await;
            let read = read.expect("answers come").expect("read");
            answers.push_str(&String::from_utf8_lossy(&some[..read]));
            assert!(read > 0, "hung up");
        }
    }
}

/// The exit status of a process, or `None` if it does not end in time.
fn ended(child: &mut Child, within: Duration) -> Option<i32> {
    let begun = Instant::now();
    while begun.elapsed() < within {
        if let Some(status) = child.try_wait().expect("a child") {
            return status.code();
        }
        thread::sleep(Duration::from_millis(10));
    }
    panic!("it goes on after {within:?}");
}

#[tokio::test]
async fn a_log_that_nobody_reads_stops_neither_answers_nor_signals() {
    let mut served = Process::serve(&["--log-level", "debug"]);
    call_often(&served.url, 8000).await;
    let health = reqwest::get(format!("{}/healthz", served.url)).await.expect("an answer");
    assert_eq!(health.status(), 200);
    served.signal("-TERM");
    assert_eq!(ended(&mut served.child, Duration::from_secs(10)), Some(0));
}

#[tokio::test]
async fn dropped_log_lines_are_counted_and_reported_later() {
    const CALLS: usize = 8000;
    let mut served = Process::serve(&["--log-level", "debug", "--metrics-listen", "127.0.0.1:0"]);
    let counts = served.line("counts at ");
    call_often(&served.url, CALLS).await;
    let text = reqwest::get(&counts).await.expect("an answer").text().await.expect("text");
    let counted = text.lines().find_map(|line| line.strip_prefix("stopwright_log_lines_dropped_total "));
    let counted: usize = counted.expect("a count").parse().expect("a number");
    assert!((1..CALLS).contains(&counted), "{counted}");
    let errors = BufReader::new(served.child.stderr.take().expect("errors"));
    let (tell, lines) = mpsc::channel();
    thread::spawn(move || {
        for line in errors.lines() {
            tell.send(line.expect("text")).expect("heard");
        }
    });
    let mut log = String::new();
    while !log.contains("lines of the log were dropped") {
        log.push_str(&lines.recv_timeout(Duration::from_secs(20)).expect("a line of the log"));
        log.push('\n');
    }
    served.signal("-TERM");
    assert_eq!(ended(&mut served.child, Duration::from_secs(10)), Some(0));
    let rest: Vec<String> = lines.iter().collect();
    log.push_str(&rest.join("\n"));
    let dropped = log.lines().filter_map(|line| line.split_once("lines of the log were dropped lines="));
    let dropped: usize = dropped.map(|(_, lines)| lines.parse::<usize>().expect("a number")).sum();
    assert_eq!(dropped, counted);
    assert_eq!(log.lines().filter(|line| line.contains("answered")).count() + dropped, CALLS);
    assert!(log.contains("stopped"), "{log}");
}

#[tokio::test]
async fn a_closed_standard_output_does_not_stop_the_service() {
    let (_reader, mut writer) = io::pipe().expect("a pipe");
    let full = writer.try_clone().expect("a pipe");
    thread::spawn(move || writer.write_all(&vec![b'\n'; 4_000_000]));
    thread::sleep(Duration::from_millis(300));
    let mut child = Command::new(env!("CARGO_BIN_EXE_stopwright"))
        .args(["serve", "--listen", "127.0.0.1:0"])
        .stdout(full)
        .stderr(Stdio::piped())
        .spawn()
        .expect("run");
    let mut lines =
        BufReader::new(child.stderr.take().expect("errors")).lines().map(|line| line.expect("text"));
    let started = lines.find(|line| line.contains("started")).expect("a line");
    let address =
        started.split("address=").nth(1).and_then(|rest| rest.split(' ').next()).expect("an address");
    assert_eq!(reqwest::get(format!("http://{address}/healthz")).await.expect("an answer").status(), 200);
    let status = Command::new("kill").args(["-TERM", &child.id().to_string()]).status();
    assert!(status.expect("run").success());
    assert_eq!(ended(&mut child, Duration::from_secs(10)), Some(0));
}

#[test]
fn a_reader_that_closes_its_pipe_is_no_error() {
    for command in [
        &["spec"][..],
        &["man"],
        &["completions", "bash"],
        &["ask"],
        &["ask", "ratios/balance", "--fields"],
        &["ask", "stops/convert", "from=f/8", "to=f/11"],
        &["tour"],
    ] {
        let (reader, writer) = io::pipe().expect("a pipe");
        drop(reader);
        let mut run = Command::new(env!("CARGO_BIN_EXE_stopwright"));
        let output = run.args(command).stdout(writer).stderr(Stdio::piped()).output().expect("run");
        assert_eq!((output.status.code(), output.stderr.as_slice()), (Some(0), &b""[..]), "{command:?}");
    }
}

#[tokio::test]
async fn probes_are_answered_while_connections_use_all_their_descriptors() {
    let mut command = Command::new("sh");
    let limited = "ulimit -n 64; exec \"$0\" serve --metrics-listen 127.0.0.1:0";
    command.args(["-c", limited, env!("CARGO_BIN_EXE_stopwright")]);
    let mut served = Process::of(command);
    let counts = served.line("counts at ");
    let address = served.url.strip_prefix("http://").expect("an address").to_owned();
    let mut held = Vec::new();
    let metric = |text: &str, name: &str| -> usize {
        let line = text.lines().find_map(|line| line.strip_prefix(name)?.strip_prefix(' ')).expect("a count");
        line.parse().expect("a number")
    };
    for _ in 0..4 {
        for _ in 0..50 {
            held.push(TcpStream::connect(&address).await.expect("a connection"));
        }
        // Each on a new connection, as probes make them.
        for path in ["/metrics", "/readyz", "/healthz"] {
            let answer = reqwest::get(counts.replace("/metrics", path)).await.expect("an answer");
            assert_eq!(answer.status(), 200, "{path}");
        }
    }
    let text = reqwest::get(&counts).await.expect("an answer").text().await.expect("text");
    let most = metric(&text, "stopwright_connections_most");
    assert!((16..64).contains(&most), "{most}");
    assert_eq!(metric(&text, "stopwright_connections"), most);
    drop(held);
    for attempt in 0.. {
        match reqwest::get(format!("{}/healthz", served.url)).await {
            Ok(answer) if answer.status() == 200 => break,
            _ => assert!(attempt < 100, "connections are not given back"),
        }
        tokio::time::sleep(Duration::from_millis(20)).await;
    }
    let log = served.end();
    assert!(
        log.contains("WARN") && log.contains(&format!("takes {most} connections at once, not 512")),
        "{log}"
    );
}

#[test]
fn too_few_descriptors_are_reported() {
    let mut command = Command::new("sh");
    let limited = "ulimit -n 24; exec \"$0\" serve --listen 127.0.0.1:0";
    let output = command.args(["-c", limited, env!("CARGO_BIN_EXE_stopwright")]).output().expect("run");
    assert_eq!(output.status.code(), Some(1));
    assert!(String::from_utf8_lossy(&output.stderr).contains("24 descriptors, too few"), "{output:?}");
}

#[tokio::test]
async fn a_host_may_be_given_by_name() {
    let mut served = Process::serve(&["--listen", "localhost:0", "--metrics-listen", "localhost:0"]);
    assert_eq!(reqwest::get(format!("{}/healthz", served.url)).await.expect("an answer").status(), 200);
    assert_eq!(reqwest::get(served.line("counts at ")).await.expect("an answer").status(), 200);
    let port = served.url.rsplit_once(':').expect("a port").1;
    let probe = Command::new(env!("CARGO_BIN_EXE_stopwright"))
        .args(["probe", "--listen", &format!("localhost:{port}")])
        .status();
    assert_eq!(probe.expect("run").code(), Some(0));
    for (wrong, why) in [
        ("localhost", "a host and a port are expected"),
        ("127.0.0.1", "a host and a port are expected"),
        // Published: RFC 2606, a name that never resolves.
        ("nowhere.invalid:0", "cannot listen on nowhere.invalid:0"),
    ] {
        let output =
            Command::new(env!("CARGO_BIN_EXE_stopwright")).args(["serve", "--listen", wrong]).output();
        let output = output.expect("run");
        assert!(!output.status.success());
        // It is wrapped.
        let output = String::from_utf8_lossy(&output.stderr).replace('\n', " ");
        assert!(output.contains("--listen") && output.contains(why), "{output}");
    }
}

#[test]
fn a_probe_asks_the_service_itself_whatever_proxy_the_environment_has() {
    let served = Process::serve(&[]);
    // Nothing listens on port 9 of loopback.
    let probe = Command::new(env!("CARGO_BIN_EXE_stopwright"))
        .args(["probe", "--listen", served.url.strip_prefix("http://").expect("an address")])
        .envs([("http_proxy", "http://127.0.0.1:9"), ("HTTP_PROXY", "http://127.0.0.1:9"), ("NO_PROXY", "")])
        .output()
        .expect("run");
    assert_eq!(probe.status.code(), Some(0), "{probe:?}");
}

#[tokio::test]
async fn a_second_signal_ends_the_service_at_once() {
    // Common practice: 128 and the signal's number.
    for (signal, status) in [("-TERM", 143), ("-INT", 130)] {
        let mut served = Process::serve(&[]);
        let address = served.url.strip_prefix("http://").expect("an address");
        let mut stream = TcpStream::connect(address).await.expect("a connection");
        // Its body does not arrive, so the service waits ten seconds.
        let head = "POST /v1/stops/convert HTTP/1.1\r\nhost: x\r\ncontent-type: application/json\r\ncontent-length: 26\r\n\r\n{";
        stream.write_all(head.as_bytes()).await.expect("written");
        tokio::time::sleep(Duration::from_millis(200)).await;
        let begun = Instant::now();
        served.signal(signal);
        let mut errors = BufReader::new(served.child.stderr.take().expect("errors"));
        let mut log = String::new();
        while !log.contains("stopping") {
            assert!(errors.read_line(&mut log).expect("a line") > 0, "{log}");
        }
        tokio::time::sleep(Duration::from_millis(500)).await;
        assert!(served.child.try_wait().expect("a child").is_none(), "it waits for the call");
        served.signal(signal);
        assert_eq!(ended(&mut served.child, Duration::from_secs(5)), Some(status));
        assert!(begun.elapsed() < Duration::from_secs(9), "{:?}", begun.elapsed());
        errors.read_to_string(&mut log).expect("text");
        assert!(log.contains("second signal"), "{log}");
    }
}
