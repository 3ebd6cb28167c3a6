//! Metrics for Prometheus, and the log.

use reqwest::Client;
use serde_json::{Value, json};

use crate::support::Process;

const CONVERT: &str = "/v1/stops/convert";
/// Published: W3C Trace Context, the example of a traceparent.
const TRACE: &str = "00-4bf92f3577b34da6a3ce929d0e0e4736-00f067aa0ba902b7-01";

/// The value of a counter, by its full name with labels.
fn count(text: &str, name: &str) -> u64 {
    let line = text.lines().find_map(|line| line.strip_prefix(name)?.strip_prefix(' '));
    line.unwrap_or_else(|| panic!("no {name} in {text}")).parse().expect("a number")
}

#[tokio::test]
async fn requests_are_counted_on_a_listener_of_their_own() {
    let mut served = Process::serve(&["--metrics-listen", "127.0.0.1:0"]);
    let counts = served.line("counts at ");
    let client = Client::new();
    let url = served.url.clone();
    let get = async |url: &str| {
        let answer = client.get(url).send().await.expect("an answer");
        (answer.status().as_u16(), answer.headers().clone(), answer.text().await.expect("text"))
    };
    for _ in 0..3 {
        assert_eq!(get(&format!("{url}{CONVERT}?from=f/8&to=f/11")).await.0, 200);
    }
    assert_eq!(get(&format!("{url}{CONVERT}?from=secret-of-the-caller")).await.0, 422);
    assert_eq!(get(&format!("{url}/v1/marks/iso")).await.0, 200);
    assert_eq!(get(&format!("{url}/secret-of-the-caller")).await.0, 404);
    let unit = |name: &str| json!({"name": name, "unit": {"energy": 300}});
    let reading = |light: &str| json!({"light": light, "setting": "-1 stops", "f_number": "f/11"});
    let balance = client.post(format!("{url}/v1/ratios/balance")).json(&json!({
        "exposure": {"f_number": "f/8"}, "ratio": {"value": "3:1", "key": "key", "fill": "fill"},
        "lights": [unit("key"), unit("fill")], "readings": [reading("key"), reading("fill")]
    }));
    assert_eq!(balance.send().await.expect("an answer").status(), 200);

    let (status, headers, text) = get(&counts).await;
    assert_eq!(status, 200);
    // Published: OpenMetrics 1.0, the media type and the last line.
    assert!(headers["content-type"].to_str().expect("text").starts_with("application/openmetrics-text"));
    assert!(text.ends_with("# EOF\n"), "{text}");
    let of = |route: &str, status: u16| {
        count(&text, &format!("stopwright_requests_total{{route=\"{route}\",status=\"{status}\"}}"))
    };
    assert_eq!(of(CONVERT, 200), 3);
    assert_eq!(of(CONVERT, 422), 1);
    assert_eq!(of("/v1/marks/{kind}", 200), 1);
    assert_eq!(of("none", 404), 1);
    let timed = format!("stopwright_request_seconds_count{{route=\"{CONVERT}\"}}");
    assert_eq!(count(&text, &timed), 4);
    assert_eq!(count(&text, "stopwright_requests_in_flight"), 0);
    assert_eq!(count(&text, "stopwright_heavy_running"), 0);
    assert_eq!(count(&text, "stopwright_heavy_waiting"), 0);
    assert!(count(&text, "stopwright_connections") >= 1);
    assert_eq!(count(&text, "stopwright_connections_most"), 512);
    assert_eq!(count(&text, "stopwright_keys"), 0);
    assert_eq!(count(&text, "stopwright_keys_not_read_total"), 0);
    assert_eq!(count(&text, "stopwright_log_lines_dropped_total"), 0);
    for reason in ["connections", "busy", "rate", "key"] {
        assert_eq!(count(&text, &format!("stopwright_refused_total{{reason=\"{reason}\"}}")), 0);
    }
    assert_eq!(count(&text, "stopwright_searches_total{proven=\"true\"}"), 1);
    assert!(count(&text, "stopwright_search_nodes_total") > 0);
    let version = env!("CARGO_PKG_VERSION");
    assert_eq!(count(&text, &format!("stopwright_build_info{{version=\"{version}\"}}")), 1);
    assert!(!text.contains("secret"), "{text}");
    // Every metric in the alert rules exists.
    let rules = include_str!("../../deploy/alerts.yaml");
    let is_of_name = |c: char| c.is_ascii_alphanumeric() || c == '_';
    let names: Vec<&str> =
        rules.split(|c| !is_of_name(c)).filter(|word| word.starts_with("stopwright_")).collect();
    assert!(names.len() > 6, "{names:?}");
    for name in names {
        let is_told = |line: &str| line.strip_prefix(name).is_some_and(|rest| rest.starts_with([' ', '{']));
        assert!(text.lines().any(is_told), "{name} is in no line of {text}");
    }
    // Not on the public listener, and nothing else on this one.
    assert_eq!(get(&format!("{url}/metrics")).await.0, 404);
    assert_eq!(get(&counts.replace("/metrics", "/v1/marks/iso")).await.0, 404);
    for probe in ["/healthz", "/readyz"] {
        assert_eq!(get(&counts.replace("/metrics", probe)).await.0, 200);
    }
}

#[tokio::test]
async fn answers_are_logged_on_request_without_their_questions() {
    let mut served = Process::serve(&["--log-format", "json", "--log-level", "debug"]);
    let client = Client::new();
    let post = |id: &str, body: Value| {
        let request = client.post(format!("{}{CONVERT}?secret=1", served.url)).json(&body);
        request.header("x-request-id", id).header("traceparent", TRACE)
    };
    let answer = post("call-1", json!({"from": "secret"})).send().await.expect("an answer");
    assert_eq!(answer.status(), 422);
    assert_eq!(answer.headers()["x-request-id"], "call-1");
    // None of these has a fixed form, so none is logged.
    let method = reqwest::Method::from_bytes(b"SECRET-secret").expect("a word");
    let answer = client
        .request(method, format!("{}{CONVERT}?from=f/8&to=f/11", served.url))
        .header("x-request-id", "secret id")
        .header("traceparent", "secret")
        .send()
        .await
        .expect("an answer");
    let made = answer.headers()["x-request-id"].to_str().expect("text").to_owned();
    let log = served.end();
    assert!(!log.to_lowercase().contains("secret"), "{log}");
    let lines: Vec<Value> =
        log.lines().map(|line| serde_json::from_str(line).unwrap_or_else(|_| panic!("{line}"))).collect();
    let answered: Vec<&Value> = lines.iter().filter(|line| line["message"] == "answered").collect();
    assert_eq!(answered.len(), 2, "{log}");
    let first = answered[0];
    assert_eq!(first["request_id"], "call-1");
    assert_eq!(first["traceparent"], TRACE);
    assert_eq!(
        (&first["route"], &first["status"], &first["method"]),
        (&json!(CONVERT), &json!(422), &json!("POST"))
    );
    assert!(first["ms"].as_f64().is_some_and(|ms| ms > 0.0));
    assert_eq!(answered[1]["request_id"], made.as_str());
    assert_eq!((&answered[1]["method"], &answered[1]["status"]), (&json!("other"), &json!(405)));
    assert!(answered[1].get("traceparent").is_none());
    for message in ["started", "stopping", "stopped"] {
        assert!(lines.iter().any(|line| line["message"] == message), "{message}");
    }
}

#[tokio::test]
async fn readiness_fails_as_soon_as_the_service_stops() {
    let mut served = Process::serve(&["--metrics-listen", "127.0.0.1:0"]);
    let ready = served.line("counts at ").replace("/metrics", "/readyz");
    let client = Client::new();
    let probe = async || client.get(&ready).send().await.map(|answer| answer.status().as_u16());
    assert_eq!(probe().await.ok(), Some(200));
    // A body that does not arrive keeps the service running for a while.
    let address = served.url.strip_prefix("http://").expect("an address");
    let mut stream = tokio::net::TcpStream::connect(address).await.expect("a connection");
    let head = "POST /v1/stops/convert HTTP/1.1\r\nhost: x\r\ncontent-type: application/json\r\ncontent-length: 26\r\n\r\n{";
    tokio::io::AsyncWriteExt::write_all(&mut stream, head.as_bytes()).await.expect("written");
    tokio::time::sleep(std::time::Duration::from_millis(100)).await;
    served.signal("-TERM");
    for attempt in 0.. {
        if probe().await.ok() == Some(503) {
            break;
        }
        assert!(attempt < 100, "still ready");
        tokio::time::sleep(std::time::Duration::from_millis(10)).await;
    }
}

#[tokio::test]
async fn odd_settings_are_warned_of_and_key_names_are_logged() {
    // Published: FIPS 180-4, the SHA-256 of "abc".
    let abc = "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad";
    let keys = std::path::PathBuf::from(env!("CARGO_TARGET_TMPDIR")).join("logged-keys");
    std::fs::write(&keys, format!("booking {abc}\n")).expect("written");
    let keys = keys.to_str().expect("a path");
    let mut served = Process::serve_with(
        &["--log-level", "debug", "--keys-file", keys, "--max-connections", "90000"],
        &[("STOPWRIGHT_KEY_FILE", "keys.txt")],
    );
    let call = Client::new().get(format!("{}{CONVERT}?from=f/8&to=f/11", served.url)).bearer_auth("abc");
    assert_eq!(call.send().await.expect("an answer").status(), 200);
    let log = served.end();
    assert!(log.contains("WARN the environment variable STOPWRIGHT_KEY_FILE is none"), "{log}");
    assert!(log.contains("key=\"booking\"") && log.contains("keys=1"), "{log}");
}

#[tokio::test]
async fn calls_are_counted_by_key_name_while_the_file_has_it() {
    // Published: FIPS 180-4, the SHA-256 of "abc"; NIST's example values, that of the empty text.
    let abc = "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad";
    let nothing = "e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855";
    let keys = std::path::PathBuf::from(env!("CARGO_TARGET_TMPDIR")).join("counted-by-key");
    std::fs::write(&keys, format!("b\"o\\ok {abc}\ndesk {nothing}\n")).expect("written");
    let path = keys.to_str().expect("a path");
    let mut served =
        Process::serve(&["--rate-limit", "1", "--metrics-listen", "127.0.0.1:0", "--keys-file", path]);
    let counts = served.line("counts at ");
    let client = Client::new();
    let convert = format!("{}{CONVERT}", served.url);
    let ask = async |query: &str, key: &str| {
        let call = client.get(format!("{convert}?{query}")).bearer_auth(key);
        call.send().await.expect("an answer").status().as_u16()
    };
    let text = async || client.get(&counts).send().await.expect("an answer").text().await.expect("text");
    // The name as in the file, escaped as OpenMetrics requires.
    let of = |text: &str, name: &str, status: u16| {
        count(text, &format!("stopwright_calls_by_key_total{{key=\"{name}\",status=\"{status}\"}}"))
    };
    let book = r#"b\"o\\ok"#;
    let first = text().await;
    assert_eq!((of(&first, book, 200), of(&first, "desk", 200)), (0, 0), "there from the start");
    for _ in 0..9 {
        assert_eq!(ask("from=f/8&to=f/11", "abc").await, 200);
    }
    assert_eq!(ask("from=f/8", "abc").await, 422);
    let mut refused = 0;
    while ask("from=f/8&to=f/11", "abc").await != 429 {
        refused += 1;
        assert!(refused < 20, "never too many");
    }
    assert_eq!(ask("from=f/8&to=f/11", "secret").await, 401);
    let second = text().await;
    assert_eq!((of(&second, book, 422), of(&second, book, 429), of(&second, "desk", 200)), (1, 1, 0));
    assert_eq!(of(&second, book, 200), 9 + refused);
    assert!(!second.contains("secret"), "{second}");
    // The counts of a removed name are dropped; those of the others stay.
    std::fs::write(&keys, format!("desk {nothing}\nyard {abc}\n")).expect("written");
    served.signal("-HUP");
    for attempt in 0.. {
        let now = text().await;
        if now.contains("key=\"yard\"") {
            assert!(!now.contains(book), "{now}");
            assert_eq!((of(&now, "desk", 200), of(&now, "yard", 200)), (0, 0));
            break;
        }
        assert!(attempt < 200, "not read anew: {now}");
        tokio::time::sleep(std::time::Duration::from_millis(20)).await;
    }
}

#[tokio::test]
async fn by_default_starts_and_stops_are_logged_and_answers_are_not() {
    let mut served = Process::serve(&[]);
    let answer = reqwest::get(format!("{}{CONVERT}?from=f/8&to=f/11", served.url)).await;
    assert_eq!(answer.expect("an answer").status(), 200);
    let log = served.end();
    assert!(log.contains("started") && log.contains("stopped") && !log.contains("answered"), "{log}");
}
