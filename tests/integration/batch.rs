//! `/v1/batch`: lists and streams of questions.

use std::{net::SocketAddr, time::Duration};

use serde_json::{Value, json};
use stopwright::{
    app::App,
    server::state::{Config, Limits},
};
use tokio::{
    io::{AsyncBufReadExt, AsyncReadExt, AsyncWriteExt, BufReader},
    net::{TcpListener, TcpStream},
    sync::watch,
    time::timeout,
};

use crate::support::{Answer, Server, document, heavy, pointers};

const BATCH: &str = "/v1/batch";
const NDJSON: &str = "application/x-ndjson";

/// Every example of a calculation: path and body.
fn examples() -> Vec<(String, Value)> {
    let examples = crate::support::examples();
    assert!(examples.len() > 40, "{}", examples.len());
    examples
}

/// Removes what depends on the clock or on the request.
fn settled(mut answer: Value) -> Value {
    if let Some(map) = answer.as_object_mut() {
        map.remove("request_id");
        map.remove("optimality");
    }
    answer
}

fn conversion(id: &str, shift: i32) -> Value {
    json!({"id": id, "path": "/v1/stops/convert", "body": {"from": "f/8", "shift": shift}})
}

fn text(items: &[Value]) -> String {
    items.iter().flat_map(|item| [item.to_string(), "\n".to_owned()]).collect()
}

async fn stream(server: &Server, lines: String) -> Answer {
    let request = server.request(reqwest::Method::POST, BATCH).header("content-type", NDJSON).body(lines);
    server.send(request).await
}

fn lines(answer: &Answer) -> Vec<Value> {
    // A single line parses as one JSON document.
    let Some(text) = answer.body.as_str() else { return vec![answer.body.clone()] };
    text.lines().map(|line| serde_json::from_str(line).expect("JSON")).collect()
}

#[tokio::test]
async fn every_calculation_is_answered_as_if_sent_alone() {
    let server = Server::start().await;
    let mut alone = Vec::new();
    for (path, body) in &examples() {
        alone.push(server.post(path, body).await);
    }
    let items: Vec<Value> = examples()
        .into_iter()
        .enumerate()
        .map(|(index, (path, body))| json!({"id": index.to_string(), "path": path, "body": body}))
        .collect();
    let list = server.ask(BATCH, json!({"requests": items})).await;
    let text = text(&items);
    let streamed = lines(&stream(&server, text).await);
    let listed = list["answers"].as_array().expect("answers");
    assert_eq!((listed.len(), streamed.len()), (alone.len(), alone.len()));
    for (index, (alone, (listed, streamed))) in alone.iter().zip(listed.iter().zip(&streamed)).enumerate() {
        for answer in [listed, streamed] {
            assert_eq!(answer["id"], index.to_string());
            assert_eq!(answer["status"], alone.status, "{}", items[index]);
            assert_eq!(settled(answer["body"].clone()), settled(alone.body.clone()), "{}", items[index]);
        }
    }
}

#[test]
fn every_path_with_a_body_works_in_a_batch() {
    let asked: std::collections::BTreeSet<String> = examples().into_iter().map(|(path, _)| path).collect();
    let paths = document()["paths"].as_object().expect("paths").iter();
    let posts: std::collections::BTreeSet<String> = paths
        .filter(|(path, methods)| methods.get("post").is_some() && *path != BATCH)
        .map(|(path, _)| path.clone())
        .collect();
    assert_eq!(asked, posts);
}

#[tokio::test]
async fn one_bad_item_never_spoils_the_others() {
    let server = Server::start().await;
    let items = [
        conversion("good", -1),
        json!({"id": "f-stop zero", "path": "stops/convert", "body": {"from": "f/0", "to": "f/8"}}),
        json!({"id": "nowhere", "path": "/v1/marks/iso", "body": {}}),
        json!({"id": "in itself", "path": "/v1/batch", "body": {"requests": []}}),
        json!({"id": 7, "path": 7}),
        json!("f/8"),
        json!({"id": "more", "path": "/v1/stops/convert", "body": {"from": "f/8", "shift": 1}, "unit": "imperial"}),
        conversion("last", 1),
    ];
    let answer = server.ask(BATCH, json!({"requests": items})).await;
    let answers = answer["answers"].as_array().expect("answers");
    let of = |name: &str| answers.iter().map(|answer| answer[name].clone()).collect::<Vec<_>>();
    assert_eq!(json!(of("status")), json!([200, 422, 404, 404, 422, 422, 422, 200]));
    let ids = json!(["good", "f-stop zero", "nowhere", "in itself", 7, null, "more", "last"]);
    assert_eq!(json!(of("id")), ids);
    let faults = |index: usize| crate::support::faults(&answers[index]["body"]);
    assert_eq!(pointers(&faults(1)), ["/from"]);
    assert_eq!(pointers(&faults(4)), ["/path", "/body"]);
    assert_eq!(pointers(&faults(5)), [""]);
    assert_eq!(pointers(&faults(6)), ["/unit"]);
    let detail = answers[2]["body"]["detail"].as_str().expect("a detail");
    // The first eight of the known paths.
    assert!(detail.contains("/v1/exposure/predict and 17 more"), "{detail}");
}

#[tokio::test]
async fn invalid_json_in_one_item_spoils_no_other() {
    let server = Server::start().await;
    let deep = format!("{}{}", "[".repeat(200), "]".repeat(200));
    for (odd, status) in [("1e999", 400), ("\"\\ud800\"", 400), (&deep, 400), ("7", 422)] {
        let body = format!(
            "{{\"requests\": [{}, {{\"id\": \"odd\", \"path\": \"/v1/stops/convert\", \"body\": {{\"from\": {odd}}}}}, {}]}}",
            conversion("a", 1),
            conversion("b", 2)
        );
        let request = server.request(reqwest::Method::POST, BATCH).header("content-type", "application/json");
        let answer = server.send(request.body(body)).await;
        assert_eq!(answer.status, 200, "{odd}: {}", answer.body);
        let statuses: Vec<_> =
            answer.body["answers"].as_array().expect("answers").iter().map(|a| &a["status"]).collect();
        assert_eq!(statuses, [200, status, 200], "{odd}");
    }
    for (body, status) in [("[1]", 422), ("7", 422), ("{\"requests\": [1", 400), ("{\"requests\": 7}", 422)] {
        let request = server.request(reqwest::Method::POST, BATCH).header("content-type", "application/json");
        assert_eq!(server.send(request.body(body)).await.status, status, "{body}");
    }
}

#[tokio::test]
async fn a_list_has_its_limits() {
    let server = Server::start().await;
    let many = |count: usize| json!({"requests": vec![conversion("a", 1); count]});
    assert_eq!(server.ask(BATCH, many(1000)).await["answers"].as_array().map(Vec::len), Some(1000));
    assert_eq!(pointers(&server.refused(BATCH, many(1001)).await), ["/requests"]);
    assert_eq!(pointers(&server.refused(BATCH, many(0)).await), ["/requests"]);
    assert_eq!(pointers(&server.refused(BATCH, json!({"request": []})).await), ["/request", "/requests"]);
    // Options of a request belong into each item, not around the list.
    let outer = json!({"requests": [conversion("a", 1)], "units": "imperial"});
    assert_eq!(pointers(&server.refused(BATCH, outer).await), ["/units"]);
    let request = server.request(reqwest::Method::POST, BATCH).header("content-type", "text/csv").body("1,2");
    assert_eq!(server.send(request).await.status, 415);
    let request = server
        .request(reqwest::Method::POST, BATCH)
        .header("content-type", NDJSON)
        .header("accept", "application/json")
        .body("");
    assert_eq!(server.send(request).await.status, 406);
}

#[tokio::test]
async fn bad_lines_are_reported_and_skipped() {
    let server = Server::start().await;
    let long = format!("{{\"id\": \"long\", \"path\": \"{}\"}}", "x".repeat(300_000));
    let text = format!("{}\r\n\n   \nnot JSON\n{long}\n{}\n{long}", conversion("a", 1), conversion("b", 2));
    let answer = stream(&server, text).await;
    assert_eq!(answer.header("content-type"), NDJSON);
    let answers = lines(&answer);
    let statuses: Vec<_> =
        answers.iter().map(|answer| (answer["id"].clone(), answer["status"].clone())).collect();
    let told_as = |id: Value, status: u16| (id, json!(status));
    assert_eq!(
        statuses,
        [
            told_as(json!("a"), 200),
            told_as(Value::Null, 400),
            told_as(Value::Null, 413),
            told_as(json!("b"), 200),
            told_as(Value::Null, 413),
        ]
    );
    // An item without an id is named by its line.
    let details = [1, 2, 4].map(|index| answers[index]["body"]["detail"].as_str().expect("a detail"));
    assert!(details[0].starts_with("Line 4: cannot be read as JSON: "), "{details:?}");
    assert!(details[1].starts_with("Line 5: ") && details[2].starts_with("Line 7: "), "{details:?}");
    assert_eq!(stream(&server, String::new()).await.body, json!(""));
    // The last line needs no line end.
    assert_eq!(lines(&stream(&server, conversion("c", 1).to_string()).await)[0]["status"], 200);
}

/// A server with its own limits. The sender stops it.
async fn serve_within(limit: impl FnOnce(&mut Limits)) -> (SocketAddr, watch::Sender<bool>) {
    let listener = TcpListener::bind("127.0.0.1:0").await.expect("a port");
    let address = listener.local_addr().expect("an address");
    let (stop, mut stopping) = watch::channel(false);
    let mut limits = Limits::default();
    limit(&mut limits);
    let front = App::new(Config { limits, ..Config::default() });
    tokio::spawn(front.serve(listener, async move {
        // Ready when the sender is dropped as well.
        let _ = stopping.wait_for(|stop| *stop).await;
    }));
    (address, stop)
}

/// A stream of questions and answers on a raw connection, so that each step can be seen.
struct Open {
    answers: BufReader<tokio::net::tcp::OwnedReadHalf>,
    questions: tokio::net::tcp::OwnedWriteHalf,
}

impl Open {
    async fn at(address: SocketAddr) -> Self {
        let (answers, mut questions) = TcpStream::connect(address).await.expect("a connection").into_split();
        let head = format!(
            "POST {BATCH} HTTP/1.1\r\nhost: x\r\nconnection: close\r\ncontent-type: {NDJSON}\r\ntransfer-encoding: chunked\r\n\r\n"
        );
        questions.write_all(head.as_bytes()).await.expect("written");
        Self { answers: BufReader::new(answers), questions }
    }

    async fn say(&mut self, text: &str) {
        let chunk = format!("{:x}\r\n{text}\r\n", text.len());
        self.questions.write_all(chunk.as_bytes()).await.expect("written");
    }

    /// Reads the next line with an answer.
    async fn hear(&mut self) -> Value {
        loop {
            let mut line = String::new();
            let read = timeout(Duration::from_secs(5), self.answers.read_line(&mut line));
            assert!(read.await.expect("in time").expect("read") > 0, "the stream ended");
            if line.starts_with('{') {
                return serde_json::from_str(&line).expect("JSON");
            }
        }
    }

    /// Expects the proper end of the body, and nothing before it.
    async fn end(mut self) {
        let mut rest = String::new();
        let read = timeout(Duration::from_secs(5), self.answers.read_to_string(&mut rest));
        read.await.expect("in time").expect("read");
        assert_eq!(rest.trim_start_matches("\r\n"), "0\r\n\r\n");
    }
}

#[tokio::test]
async fn answers_arrive_while_questions_are_sent() {
    let (address, _stop) = serve_within(|_| {}).await;
    let mut open = Open::at(address).await;
    for shift in 1..4 {
        open.say(&format!("{}\n", conversion("a", shift))).await;
        // The next question is sent only after this answer.
        assert_eq!(open.hear().await["body"]["exposure_stops"], f64::from(shift));
    }
    // A line sent in two parts.
    let line = format!("{}\n", conversion("parts", 1));
    let (one, two) = line.split_at(20);
    open.say(one).await;
    open.say(two).await;
    assert_eq!(open.hear().await["id"], "parts");
    open.questions.write_all(b"0\r\n\r\n").await.expect("written");
    open.end().await;
}

#[tokio::test]
async fn a_broken_stream_is_reported_in_its_last_line() {
    let (address, stop) =
        serve_within(|limits| limits.stream_idle_timeout = Duration::from_millis(300)).await;
    let last = |answer: Value, status: u16, word: &str| {
        assert_eq!((&answer["id"], &answer["status"]), (&Value::Null, &json!(status)), "{answer}");
        let detail = answer["body"]["detail"].as_str().expect("a detail");
        assert!(detail.contains(word) && detail.contains("last answer"), "{detail}");
    };
    let begin = async || {
        let mut open = Open::at(address).await;
        open.say(&format!("{}\n{{\"id\": \"half", conversion("a", 1))).await;
        assert_eq!(open.hear().await["status"], 200);
        open
    };
    // Malformed chunks.
    let mut open = begin().await;
    open.questions.write_all(b"no length\r\n").await.expect("written");
    last(open.hear().await, 400, "broke off");
    // The client leaves before the end.
    let mut open = begin().await;
    open.questions.shutdown().await.expect("half closed");
    last(open.hear().await, 400, "broke off");
    // The client sends nothing more.
    let mut open = begin().await;
    last(open.hear().await, 408, "No question came");
    // The service stops.
    let mut open = begin().await;
    stop.send(true).expect("heard");
    last(open.hear().await, 503, "stopping");
}

#[tokio::test]
async fn items_past_the_deadline_are_reported_with_their_id() {
    let (address, _stop) = serve_within(|limits| limits.time_limit = Duration::from_millis(300)).await;
    // Balances that use all of their 250 ms.
    let body = heavy(250);
    let item = |id: usize| json!({"id": id.to_string(), "path": "/v1/ratios/balance", "body": body});
    let url = format!("http://{address}{BATCH}");
    let items: Vec<Value> = (0..4).map(item).collect();
    let answer =
        reqwest::Client::new().post(url).json(&json!({"requests": items})).send().await.expect("an answer");
    assert_eq!(answer.status(), 200);
    let answer: Value = answer.json().await.expect("JSON");
    let answers = answer["answers"].as_array().expect("answers");
    assert_eq!(answers.len(), 4);
    assert_eq!(answers[0]["status"], 200, "{}", answers[0]["body"]["detail"]);
    assert_eq!((&answers[3]["id"], &answers[3]["status"]), (&json!("3"), &json!(408)));
}

#[tokio::test]
async fn nothing_is_read_ahead_of_answers_that_are_not_read() {
    let (address, _stop) = serve_within(|_| {}).await;
    let mut open = Open::at(address).await;
    let text = text(&(0..1000).map(|k| conversion(&k.to_string(), 1)).collect::<Vec<_>>());
    let mut sent = 0;
    // Writes until the service has read nothing for a second.
    while timeout(Duration::from_secs(1), open.say(&text)).await.is_ok() {
        sent += 1;
        assert!(sent < 300, "{} MB were read though no answer was taken", sent * text.len() / 1_000_000);
    }
    // All questions are answered all the same, in order.
    for k in 0..sent * 1000 {
        assert_eq!(open.hear().await["id"], (k % 1000).to_string());
    }
}

#[tokio::test]
async fn defaults_fill_in_what_bodies_lack() {
    let server = Server::start().await;
    let defaults = json!({"shift": 1, "step": "1", "from": "f/2"});
    let items = [
        json!({"id": "all", "path": "/v1/stops/convert", "body": {}}),
        json!({"id": "own", "path": "/v1/stops/convert", "body": {"from": "f/8", "shift": -1}}),
        json!({"id": "bad", "path": "/v1/stops/convert", "body": {"from": "f/0"}}),
        json!({"id": "none", "path": "/v1/stops/convert"}),
    ];
    let mut alone = Vec::new();
    for body in
        [json!({"shift": 1, "step": "1", "from": "f/2"}), json!({"from": "f/8", "shift": -1, "step": "1"})]
    {
        alone.push(server.ask("/v1/stops/convert", body).await);
    }
    let list = server.ask(BATCH, json!({"requests": items, "defaults": defaults})).await;
    let first = format!("\n  {{ \"defaults\" : {defaults} }}\n");
    let streamed = lines(&stream(&server, first + &text(&items)).await);
    for answers in [list["answers"].as_array().expect("answers"), &streamed] {
        let statuses: Vec<&Value> = answers.iter().map(|answer| &answer["status"]).collect();
        assert_eq!(json!(statuses), json!([200, 200, 422, 422]), "{answers:?}");
        assert_eq!([&answers[0]["body"], &answers[1]["body"]], [&alone[0], &alone[1]]);
        assert_eq!(pointers(&crate::support::faults(&answers[2]["body"])), ["/from"]);
        assert_eq!(pointers(&crate::support::faults(&answers[3]["body"])), ["/body"]);
    }
    // Null is none.
    let list = server.ask(BATCH, json!({"requests": [conversion("a", 1)], "defaults": null})).await;
    assert_eq!(list["answers"][0]["status"], 200);
}

#[tokio::test]
async fn invalid_defaults_are_refused() {
    let server = Server::start().await;
    let one = conversion("a", 1);
    assert_eq!(
        pointers(&server.refused(BATCH, json!({"requests": [one], "defaults": [1]})).await),
        ["/defaults"]
    );
    // A stream ends with them, for nothing after them can be answered.
    for (line, status) in
        [("{\"defaults\": 7}", 422), ("{\"defaults\": {}, \"more\": 1}", 422), ("{\"defaults\": {", 400)]
    {
        let answers = lines(&stream(&server, format!("{line}\n{one}\n")).await);
        assert_eq!((answers.len(), &answers[0]["status"]), (1, &json!(status)), "{line}");
    }
    // Only the first line may have them.
    let answers = lines(&stream(&server, format!("{one}\n{{\"defaults\": {{}}}}\n{one}\n")).await);
    let statuses: Vec<&Value> = answers.iter().map(|answer| &answer["status"]).collect();
    assert_eq!(json!(statuses), json!([200, 422, 200]));
}
