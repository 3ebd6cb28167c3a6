//! A client of a real server on a free port, and checks of every response.

#[path = "support/codes.rs"]
pub mod codes;

use std::{
    io::{BufRead, BufReader, Lines, Read},
    panic::Location,
    process::{Child, ChildStdout, Command, Stdio},
    sync::OnceLock,
    time::Duration,
};

use serde_json::{Value, json};
use stopwright::{
    app::App,
    server::{
        state::{Config, Limits},
        worker_pool::WorkerPool,
    },
};
use tokio::{net::TcpListener, sync::oneshot};

/// A running server; it stops when this is dropped.
pub struct Server {
    pub url: String,
    /// Its worker pool, for tests that keep it busy.
    pub workers: WorkerPool,
    client: reqwest::Client,
    _stop: oneshot::Sender<()>,
}

/// An answer.
pub struct Answer {
    pub status: u16,
    pub headers: reqwest::header::HeaderMap,
    pub body: Value,
}

impl Server {
    /// A server with long time limits, because test builds are slow on a busy machine.
    pub async fn start() -> Self {
        Self::within(Limits { time_limit: Duration::from_secs(60), ..Limits::default() }).await
    }

    /// A server with its own limits.
    pub async fn within(limits: Limits) -> Self {
        Self::on(Config { limits, ..Config::default() }).await
    }

    /// A server with its own configuration.
    pub async fn on(terms: Config) -> Self {
        let listener = TcpListener::bind("127.0.0.1:0").await.expect("a free port");
        let address = listener.local_addr().expect("an address");
        let (stop, stopped) = oneshot::channel::<()>();
        let front = App::new(terms);
        let workers = front.state().workers.clone();
        tokio::spawn(front.serve(listener, async move {
            // Ready when the sender is dropped as well.
            let _ = stopped.await;
        }));
        Self { url: format!("http://{address}"), workers, client: reqwest::Client::new(), _stop: stop }
    }

    pub fn get(&self, path: &str) -> impl Future<Output = Answer> {
        self.send(self.client.get(format!("{}{path}", self.url)))
    }

    pub fn post(&self, path: &str, body: &Value) -> impl Future<Output = Answer> {
        let sent = self.send(self.client.post(format!("{}{path}", self.url)).json(body));
        async move {
            let answer = sent.await;
            if path != "/v1/batch" {
                codes::check_places(&answer.body, body);
            }
            answer
        }
    }

    pub fn request(&self, method: reqwest::Method, path: &str) -> reqwest::RequestBuilder {
        self.client.request(method, format!("{}{path}", self.url))
    }

    /// Posts a calculation that must succeed.
    #[track_caller]
    pub fn ask(&self, path: &str, body: Value) -> impl Future<Output = Value> {
        // Taken here, because a future does not know who awaits it.
        let caller = Location::caller();
        async move {
            let answer = self.post(path, &body).await;
            assert_eq!(answer.status, 200, "{caller}: {path} {body}: {}", answer.body);
            answer.body
        }
    }

    /// Posts a calculation that must be refused with 422. Returns the faults as (pointer, detail, expected).
    #[track_caller]
    pub fn refused(&self, path: &str, body: Value) -> impl Future<Output = Vec<[String; 3]>> {
        let caller = Location::caller();
        async move {
            let answer = self.post(path, &body).await;
            assert_eq!(answer.status, 422, "{caller}: {path} {body}: {}", answer.body);
            faults(&answer.body)
        }
    }

    pub async fn send(&self, request: reqwest::RequestBuilder) -> Answer {
        let response = request.send().await.expect("an answer");
        let status = response.status().as_u16();
        let headers = response.headers().clone();
        let text = response.text().await.expect("a body");
        let body = serde_json::from_str(&text).unwrap_or(Value::String(text));
        let answer = Answer { status, headers, body };
        answer.check();
        answer
    }
}

impl Answer {
    pub fn header(&self, name: &str) -> &str {
        self.headers.get(name).map_or("", |value| value.to_str().expect("text"))
    }

    /// Checks that every response must pass.
    fn check(&self) {
        let id = self.header("x-request-id");
        assert!(!id.is_empty(), "every response has an id");
        assert_eq!(self.header("x-content-type-options"), "nosniff");
        let is_page = self.header("content-type").starts_with("text/html");
        if self.status >= 400 && is_page {
            assert!(self.body.as_str().is_some_and(|page| page.contains(id)), "the id of header and page");
        } else if self.status >= 400 {
            assert_eq!(self.header("content-type"), "application/problem+json");
            assert_eq!(self.body["request_id"], id, "the id of header and body");
            assert_eq!(self.body["status"], self.status);
            assert!(self.body["type"].as_str().is_some_and(|t| t.starts_with("/problems/")));
            let located = self.status == 400 || self.status == 422;
            assert_eq!(self.body.get("errors").is_some(), located);
        } else if self.header("content-type") == "application/json" {
            numbers_are_clean(&self.body);
        }
        codes::check(&self.body);
    }
}

/// Checks that no number has more than 6 significant digits, or stops more than 4 decimals.
fn numbers_are_clean(value: &Value) {
    match value {
        Value::Number(number) if number.is_f64() => {
            let text = number.to_string();
            assert_ne!(text, "-0.0");
            let number = number.as_f64().expect("a number");
            let six: f64 = format!("{number:.5e}").parse().expect("a number");
            let four = (number * 1e4).round() / 1e4;
            assert!(
                number.to_bits() == six.to_bits() || number.to_bits() == four.to_bits(),
                "{text} is not rounded"
            );
        }
        Value::Array(items) => items.iter().for_each(numbers_are_clean),
        Value::Object(map) => map.values().for_each(numbers_are_clean),
        _ => {}
    }
}

/// A number in an answer.
#[track_caller]
pub fn number(value: &Value) -> f64 {
    value.as_f64().unwrap_or_else(|| panic!("{value} is not a number"))
}

/// The faults of a problem document.
pub fn faults(problem: &Value) -> Vec<[String; 3]> {
    let text = |value: &Value| value.as_str().expect("text").to_owned();
    problem["errors"]
        .as_array()
        .expect("errors")
        .iter()
        .map(|error| [text(&error["pointer"]), text(&error["detail"]), text(&error["expected"])])
        .collect()
}

/// The pointers of faults.
pub fn pointers(faults: &[[String; 3]]) -> Vec<&str> {
    faults.iter().map(|[pointer, ..]| pointer.as_str()).collect()
}

/// SplitMix64 (public domain algorithm): the same sets on every machine.
pub struct Dice(pub u64);

impl Dice {
    fn roll(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        z ^ (z >> 31)
    }

    /// A number in a range.
    pub fn between(&mut self, low: f64, high: f64) -> f64 {
        low + (high - low) * (self.roll() >> 11) as f64 / (1_u64 << 53) as f64
    }

    /// A whole number under `end`.
    pub fn below(&mut self, end: usize) -> usize {
        (self.roll() % end as u64) as usize
    }

    /// A draw of a normal distribution of two halves with these 95 % half-widths, down and up (Box and Muller).
    pub fn halves(&mut self, [low, high]: [f64; 2]) -> f64 {
        let radius = (-2.0 * self.between(f64::MIN_POSITIVE, 1.0).ln()).sqrt();
        let deviate = radius * (std::f64::consts::TAU * self.between(0.0, 1.0)).cos() / 1.96;
        deviate * if deviate < 0.0 { low } else { high }
    }

    /// True once in so many times.
    pub fn one_in(&mut self, times: usize) -> bool {
        self.below(times) == 0
    }

    /// One of several.
    pub fn pick<T: Clone>(&mut self, all: &[T]) -> T {
        all[self.below(all.len())].clone()
    }
}

/// A set whose search takes its whole time limit.
pub fn heavy(time_limit_ms: u32) -> Value {
    heavy_of(20, 40, time_limit_ms)
}

/// The same with so many lights and points.
pub fn heavy_of(lights: usize, points: usize, time_limit_ms: u32) -> Value {
    let light = |k: usize| json!({"name": format!("l{k}"), "unit": {"energy": 500, "scale": {"style": "dial", "full": 9, "least": 2}}});
    let reading = |k: usize, p: usize| {
        let f = 4.0 + ((k * 7 + p * 13) % 11) as f64 / 3.0;
        json!({"light": format!("l{k}"), "point": format!("p{p}"), "setting": "9", "f_number": f})
    };
    let point = |p: usize| json!({"name": format!("p{p}"), "target": {"stops": (p % 5) as f64 / 3.0 - 1.0}});
    json!({
        "exposure": {"f_number": "f/8"},
        "lights": (0..lights).map(light).collect::<Vec<_>>(),
        "points": (0..points).map(point).collect::<Vec<_>>(),
        "readings": (0..lights).flat_map(|k| (0..points).map(move |p| reading(k, p))).collect::<Vec<_>>(),
        "reading": "literal",
        "time_limit_ms": time_limit_ms
    })
}

/// The real binary while it serves; it is killed when this is dropped.
pub struct Process {
    pub child: Child,
    pub url: String,
    lines: Lines<BufReader<ChildStdout>>,
}

impl Process {
    /// Starts the binary on a free port.
    pub fn serve(arguments: &[&str]) -> Self {
        Self::serve_with(arguments, &[])
    }

    /// The same, with environment variables.
    pub fn serve_with(arguments: &[&str], variables: &[(&str, &str)]) -> Self {
        let mut command = Command::new(env!("CARGO_BIN_EXE_stopwright"));
        command.arg("serve").args(arguments).envs(variables.iter().copied());
        Self::of(command)
    }

    /// Starts a command that runs the binary.
    pub fn of(mut command: Command) -> Self {
        command.env("STOPWRIGHT_LISTEN", "127.0.0.1:0").stdout(Stdio::piped()).stderr(Stdio::piped());
        let mut child = command.spawn().expect("run");
        let mut lines = BufReader::new(child.stdout.take().expect("output")).lines();
        let line = lines.next().expect("a line").expect("text");
        let url = line.strip_prefix("listening on ").unwrap_or_else(|| panic!("{line}")).to_owned();
        Self { child, url, lines }
    }

    /// The next line on standard output that starts with this, without it.
    pub fn line(&mut self, beginning: &str) -> String {
        let mut lines = self.lines.by_ref().map(|line| line.expect("text"));
        lines.find_map(|line| line.strip_prefix(beginning).map(str::to_owned)).expect("such a line")
    }

    pub fn signal(&self, name: &str) {
        let status = Command::new("kill").args([name, &self.child.id().to_string()]).status();
        assert!(status.expect("run").success());
    }

    /// Ends the process. Returns its standard error.
    pub fn end(&mut self) -> String {
        self.signal("-TERM");
        let mut log = String::new();
        self.child.stderr.take().expect("errors").read_to_string(&mut log).expect("read");
        assert!(self.child.wait().expect("ended").success(), "{log}");
        log
    }
}

impl Drop for Process {
    fn drop(&mut self) {
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}

/// The OpenAPI document as it is served.
pub fn document() -> &'static Value {
    static DOCUMENT: OnceLock<Value> = OnceLock::new();
    DOCUMENT.get_or_init(|| serde_json::from_str(stopwright::openapi::document()).expect("JSON"))
}

/// Every example of a calculation, those that are refused too: its path and its body.
pub fn examples() -> Vec<(String, Value)> {
    let paths = document()["paths"].as_object().expect("paths");
    let path_of = |operation: &Value| {
        let mut found = paths.iter().filter(|(_, methods)| methods["post"]["operationId"] == *operation);
        found.next().map(|(path, _)| path.clone()).filter(|path| path != "/v1/batch")
    };
    let all = stopwright::openapi::EXAMPLES.iter();
    let all = all.flat_map(|(_, text)| serde_json::from_str::<Vec<Value>>(text).expect("examples"));
    all.filter_map(|example| Some((path_of(&example["operation"])?, example["request"].clone()))).collect()
}

#[track_caller]
pub fn close(actual: &Value, expected: f64, tolerance: f64) {
    let actual = actual.as_f64().unwrap_or_else(|| panic!("{actual} is not a number"));
    assert!((actual - expected).abs() <= tolerance, "{actual} is not {expected} within {tolerance}");
}

/// A set that is known but for what is asked about: half-widths of units, angles, distances and the meter at their least.
/// The rating of a unit stays as it is where it is estimated.
pub fn sure(mut body: Value) -> Value {
    for light in body["lights"].as_array_mut().expect("lights") {
        let unit = &mut light["unit"];
        if unit["energy"].is_null() {
            unit["plus_minus_stops"] = json!(0.001);
        }
        unit["dial_plus_minus_stops"] = json!(0.001);
        unit["repeat_plus_minus_stops"] = json!(0.001);
    }
    for placement in body["placements"].as_array_mut().expect("placements") {
        let distance = placement["distance"]
            .as_str()
            .map_or_else(|| format!("{} m", placement["distance"]), str::to_owned);
        placement["distance"] = json!(format!("{distance} ±1 mm"));
        placement["plus_minus_deg"] = json!(0.1);
    }
    body["meter"]["offset_plus_minus_stops"] = json!(0.001);
    body
}

/// The codes of remarks.
pub fn codes(remarks: &Value) -> Vec<&str> {
    let all = remarks.as_array().expect("a list").iter();
    all.map(|remark| remark["code"].as_str().expect("a code")).collect()
}

/// The codes of assumptions other than half-widths that were not stated, which every answer has.
pub fn assumed(answer: &Value) -> Vec<&str> {
    codes(&answer["assumptions"]).into_iter().filter(|code| !code.starts_with("usual_plus_minus")).collect()
}

/// The codes of warnings other than what to measure, which most sets have.
pub fn warned(answer: &Value) -> Vec<&str> {
    codes(&answer["warnings"])
        .into_iter()
        .filter(|code| !["meter_alone", "compare_meter"].contains(code))
        .collect()
}
