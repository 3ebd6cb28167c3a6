//! `stopwright ask`: the same answers from the shell.

use std::{
    fs::File,
    io::Write,
    process::{Command, Output, Stdio},
};

use reqwest::Method;
use serde_json::{Value, json};

use crate::{
    openapi::alike,
    support::{Server, document, examples, faults},
};

/// The result of a run of the binary.
pub struct Run {
    pub status: Option<i32>,
    pub out: String,
    pub err: String,
}

impl From<Output> for Run {
    fn from(output: Output) -> Self {
        let text = |bytes| String::from_utf8(bytes).expect("UTF-8");
        Self { status: output.status.code(), out: text(output.stdout), err: text(output.stderr) }
    }
}

impl Run {
    /// The answer of a run that must succeed.
    #[track_caller]
    pub fn answer(self) -> String {
        assert_eq!((self.status, self.err.as_str()), (Some(0), ""), "{}", self.out);
        self.out
    }

    /// The message of a run that must fail because of its input.
    #[track_caller]
    fn refusal(self) -> String {
        assert_eq!((self.status, self.out.as_str()), (Some(2), ""), "{}", self.err);
        self.err
    }
}

pub fn stopwright<A: AsRef<str>>(arguments: &[A]) -> Run {
    stopwright_fed(arguments, "")
}

/// Runs the binary with a text on standard input.
pub fn stopwright_fed<A: AsRef<str>>(arguments: &[A], input: &str) -> Run {
    let mut child = Command::new(env!("CARGO_BIN_EXE_stopwright"))
        .args(arguments.iter().map(AsRef::as_ref))
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .expect("run");
    let mut stdin = child.stdin.take().expect("input");
    // If it does not read its input, the pipe may be closed.
    let _ = stdin.write_all(input.as_bytes());
    drop(stdin);
    child.wait_with_output().expect("ended").into()
}

/// A question written as arguments.
fn words(name: &str, value: &Value, words: &mut Vec<String>) {
    let inner = |part: &str| if name.is_empty() { part.to_owned() } else { format!("{name}.{part}") };
    match value {
        Value::Object(fields) if !fields.is_empty() => {
            fields.iter().for_each(|(part, value)| self::words(&inner(part), value, words));
        }
        Value::Array(items) if !items.is_empty() => {
            let all = items.iter().enumerate();
            all.for_each(|(index, value)| self::words(&inner(&index.to_string()), value, words));
        }
        Value::String(text) => words.push(format!("{name}={text}")),
        Value::Number(_) | Value::Bool(_) => words.push(format!("{name}={value}")),
        _ => words.push(format!("{name}:={value}")),
    }
}

#[tokio::test]
async fn every_example_as_arguments_has_the_servers_answer() {
    let server = Server::start().await;
    let (mut answered, mut refused) = (0, 0);
    for (path, body) in examples() {
        let mut arguments = vec!["ask".to_owned(), path.clone(), "--json".to_owned()];
        words("", &body, &mut arguments);
        let output = stopwright(&arguments);
        let served = server.post(&path, &body).await;
        if served.status == 200 {
            answered += 1;
            let output: Value = serde_json::from_str(&output.answer()).expect("JSON");
            // Compared as text, so that the order of names counts.
            assert_eq!(alike(output).to_string(), alike(served.body).to_string(), "{arguments:?}");
        } else {
            refused += 1;
            let output: Value = serde_json::from_str(&output.refusal()).expect("JSON");
            assert_eq!(faults(&output), faults(&served.body), "{arguments:?}");
        }
    }
    assert!(answered > 25 && refused > 5, "{answered} answered, {refused} refused");
}

#[tokio::test]
async fn text_is_the_servers_plain_text() {
    let server = Server::start().await;
    for (path, body, arguments) in [
        ("stops/convert", json!({"from": "f/8", "to": "f/11"}), vec!["from=f/8", "to=f/11"]),
        ("stops/convert", json!({"from": "f/8", "shift": "+1/3"}), vec!["from=f/8", "shift=+1/3"]),
        (
            "lights/falloff",
            json!({"source": {"rectangle_m": ["1.2 m", "180 cm"]}, "distances": [1, "2 m", "10 ft"]}),
            vec!["source[rectangle_m]=1.2 m,180 cm", "distances=1, 2 m, 10 ft"],
        ),
        (
            "guide-number/energy",
            json!({"guide_number": {"value": 36, "unit": "m"}, "coverage": {"angles_deg": [60, 40]},
                "efficacy_lm_per_j": 35, "light_in_coverage": {"low": 0.5, "typical": 0.6, "high": 0.7}}),
            vec![
                "guide_number.value=36",
                "guide_number.unit=m",
                "coverage.angles_deg=60,40",
                "efficacy_lm_per_j=35",
                "light_in_coverage.low=0.5",
                "light_in_coverage.typical=0.6",
                "light_in_coverage.high=0.7",
            ],
        ),
        (
            "energy/measured",
            json!({"reference": {"unit": {"energy": 500, "scale": {"style": "dial", "full": 9, "least": 2}}, "setting": {"label": "8"},
                "f_number": "f/8"}, "other": {"f_number": "f/11"}}),
            vec![
                "reference.unit.energy=500",
                "reference.unit.scale.style=dial",
                "reference.unit.scale.full=9",
                "reference.unit.scale.least=2",
                "reference.setting.label=8",
                "reference.f_number=f/8",
                "other.f_number=f/11",
            ],
        ),
        (
            "patches/compare",
            json!({"reference": [118, 119, 120], "readings": [{"name": "7", "level": 131}]}),
            vec!["reference=118,119,120", "readings.0.name=7", "readings.0.level=131"],
        ),
        (
            "kit/check",
            json!({"kit": [{"unit": {"name": "a", "energy": "500 J", "guide_number": {"value": 60, "unit": "m"}}}], "shots": [
                {"name": "one", "exposure": {"f_number": "f/8"}, "lights": [{"role": "key", "stops": 0, "distance": "2 m"}]}]}),
            vec![
                r#"kit:=[{"unit": {"name": "a", "energy": "500 J", "guide_number": {"value": 60, "unit": "m"}}}]"#,
                "shots.0.name=one",
                "shots.0.exposure.f_number=f/8",
                r#"shots.0.lights:=[{"role": "key", "distance": "2 m"}]"#,
                "shots.0.lights.0.stops=0",
            ],
        ),
    ] {
        let request = server.request(Method::POST, &format!("/v1/{path}")).header("accept", "text/plain");
        let served = server.send(request.json(&body)).await;
        assert_eq!(served.status, 200, "{path}: {}", served.body);
        for path in [path.to_owned(), format!("/{path}"), format!("v1/{path}"), format!("/v1/{path}")] {
            let output = stopwright(&[vec!["ask", &path], arguments.clone()].concat());
            assert_eq!(output.answer(), served.body.as_str().expect("text"), "{path}");
        }
    }
}

#[tokio::test]
async fn tables_are_read_like_calculations() {
    let server = Server::start().await;
    for (path, arguments) in [("modifiers", vec![]), ("marks/f_number", vec!["step=1/2"])] {
        let query = format!("/v1/{path}?{}", arguments.join("&"));
        let asked = [vec!["ask", path], arguments].concat();
        let text = server.send(server.request(Method::GET, &query).header("accept", "text/plain")).await;
        assert_eq!(stopwright(&asked).answer(), text.body.as_str().expect("text"));
        let json = server.get(&query).await;
        assert_eq!(stopwright(&[asked, vec!["--json"]].concat()).answer(), format!("{:#}\n", json.body));
    }
    let refusal = stopwright(&["ask", "modifiers", "step:=1"]).refusal();
    assert!(refusal.contains("name=value only"), "{refusal}");
}

/// A key and a fill, each metered alone.
fn set() -> Value {
    json!({
        "exposure": {"f_number": "f/8"},
        "lights": [
            {"name": "key", "unit": {"energy": "600 J", "scale": {"style": "dial", "full": 9, "least": 2}}},
            {"name": "fill", "unit": {"energy": "300 J", "scale": {"style": "percent", "least": 5}}}
        ],
        "ratio": {"value": "3:1", "key": "key", "fill": "fill"},
        "readings": [
            {"light": "key", "setting": "8", "f_number": "f/11"},
            {"light": "fill", "setting": "100 %", "f_number": "f/8"}
        ]
    })
}

#[tokio::test]
async fn arguments_override_a_set_from_a_file_or_standard_input() {
    let server = Server::start().await;
    let path = std::env::temp_dir().join(format!("stopwright-ask-{}.json", std::process::id()));
    File::create(&path).and_then(|mut file| file.write_all(set().to_string().as_bytes())).expect("written");
    let file = path.to_str().expect("text");
    let as_is = ["ask", "ratios/balance", "--json", "--body", file];
    let served = server.ask("/v1/ratios/balance", set()).await;
    let asked = [
        stopwright(&as_is),
        stopwright_fed(&["ask", "ratios/balance", "--json", "--body", "-"], &set().to_string()),
    ];
    for answer in asked {
        let answer: Value = serde_json::from_str(&answer.answer()).expect("JSON");
        assert_eq!(alike(answer).to_string(), alike(served.clone()).to_string());
    }
    // Overrides: a ratio of 2:1, and a fill of 1000 J that was metered a stop higher.
    let words =
        ["ratio.value=2", "lights.1.unit.energy=1000 J", "readings.1.f_number=f/11", "limits.max_pops=4"];
    let mut other = set();
    other["ratio"]["value"] = "2:1".into();
    other["lights"][1]["unit"]["energy"] = "1000 J".into();
    other["readings"][1]["f_number"] = "f/11".into();
    other["limits"] = json!({"max_pops": 4});
    let answer: Value =
        serde_json::from_str(&stopwright(&[&as_is[..], &words].concat()).answer()).expect("JSON");
    let served = server.ask("/v1/ratios/balance", other).await;
    assert_eq!(alike(answer).to_string(), alike(served).to_string());
    std::fs::remove_file(path).expect("removed");
}

#[tokio::test]
async fn pictures_are_written_as_svg() {
    let server = Server::start().await;
    let request = server.request(Method::POST, "/v1/ratios/balance").header("accept", "image/svg+xml");
    let served = server.send(request.json(&set())).await;
    let picture =
        stopwright_fed(&["ask", "ratios/balance", "--svg", "--body", "-"], &set().to_string()).answer();
    assert!(picture.starts_with("<svg"), "{picture}");
    assert_eq!(picture, served.body.as_str().expect("text"));
    let refusal = stopwright(&["ask", "stops/convert", "--svg", "from=f/8", "to=f/11"]).refusal();
    assert!(refusal.contains("ask without --svg"), "{refusal}");
}

#[tokio::test]
async fn a_batch_is_answered_in_json() {
    let server = Server::start().await;
    let body = json!({"requests": [
        {"id": "a", "path": "stops/convert", "body": {"from": "f/8", "to": "f/11"}},
        {"id": "b", "path": "stops/convert", "body": {"from": "f/8", "to": "f/16"}}
    ]});
    let served = server.ask("/v1/batch", body.clone()).await;
    let by_body = stopwright_fed(&["ask", "batch", "--body", "-"], &body.to_string()).answer();
    assert_eq!(by_body, format!("{served:#}\n"));
    let mut arguments = vec!["ask".to_owned(), "batch".to_owned()];
    words("", &body, &mut arguments);
    assert_eq!(stopwright(&arguments).answer(), by_body);
}

#[tokio::test]
async fn faults_are_reported_with_their_place() {
    let refusal = stopwright(&["ask", "stops/convert", "from=f/8", "to=f/0", "twice=1"]).refusal();
    assert_eq!(
        refusal,
        "\
stopwright: The request has faults
  to: f-number 0 is out of range
    expected: 0.5 to 512
  twice: unknown name \"twice\"
    expected: one of from, to, shift, kind, reading, step, units
"
    );
    let refusal = stopwright(&["ask", "lights/falloff", "source.disc_m=wide", "distances=1,2,x"]).refusal();
    for problem in ["  source.disc_m: ", "  distances.2: ", "    expected: a distance"] {
        assert!(refusal.contains(problem), "{problem} is not in {refusal}");
    }
    // Arguments may be numbers. Texts in a file follow the server's rules.
    let freeze =
        ["ask", "motion/freeze", "t0_5_s=1/1500", "speed_m_s=8", "field_width_m=4", "pixels_across=6000"];
    let refusal = stopwright_fed(
        &[&freeze[..3], &["--body", "-"]].concat(),
        r#"{"speed_m_s": "8", "field_width_m": 4, "pixels_across": 6000}"#,
    )
    .refusal();
    assert!(refusal.contains("  speed_m_s: this is a string\n"), "{refusal}");
    stopwright(&freeze).answer();
    // A value of the wrong shape does not hide a dangling name, on the server or at the shell.
    let server = Server::start().await;
    let mut wrong = set();
    wrong["readings"][0]["light"] = "kee".into();
    wrong["readings"][1]["f_number"] = "wide".into();
    let mut arguments = vec!["ask".to_owned(), "ratios/balance".to_owned(), "--json".to_owned()];
    words("", &wrong, &mut arguments);
    let problem: Value = serde_json::from_str(&stopwright(&arguments).refusal()).expect("JSON");
    let served = server.refused("/v1/ratios/balance", wrong).await;
    assert_eq!((faults(&problem), served.len()), (served.clone(), 2));
    // With --json it is the server's problem document.
    let problem = stopwright(&["ask", "--json", "stops/convert", "from=f/8", "to=f/0"]).refusal();
    let problem: Value = serde_json::from_str(&problem).expect("JSON");
    let served = server.post("/v1/stops/convert", &json!({"from": "f/8", "to": "f/0"})).await;
    assert_eq!(alike(problem), alike(served.body));
}

#[test]
fn impossible_questions_are_usage_errors() {
    for (arguments, input, message) in [
        (
            vec!["stops/konvert", "from=f/8"],
            "",
            "Nothing is at this path\n  stopwright ask, without a path, lists",
        ),
        (vec!["../healthz"], "", "Nothing is at this path"),
        (vec!["stops/convert?from=f/8&to=f/11"], "", "Nothing is at this path"),
        (vec!["marks/energy"], "", "Marks are known for f_number"),
        (vec!["stops/convert", "f/8"], "", "\"f/8\" has no ="),
        (vec!["stops/convert", "from=f/8", "=f/11"], "", "\"\" is no name"),
        (vec!["stops/convert", "from..x=f/8"], "", "\"from..x\" is no name"),
        (
            vec!["stops/convert", "from=f/8", "from=f/9", "to=f/11"],
            "",
            "  from: this is given more than once",
        ),
        (vec!["lights/falloff", "source.disc_m=1", "source=2"], "", "  source: this is given more than once"),
        (vec!["lights/falloff", "source=2", "source.disc_m=1"], "", "  source: this is a string"),
        (
            vec!["lights/falloff", "distances.1=2 m"],
            "",
            "  distances: the list has 0 elements, and none at \"1\"",
        ),
        (vec!["colour/gel", "gels:=[{]"], "", "  gels: cannot be read as JSON"),
        (vec!["stops/convert", "--body", "-"], "{\"from\": ", "cannot be read as JSON: EOF"),
        (vec!["stops/convert", "--body", "-", "to=f/8"], "f/8", "cannot be read as JSON: expected"),
        (vec!["stops/convert", "--body", "-", "to=f/8"], "[]", "the list has 0 elements"),
        // Overriding a name that is repeated in a file does not hide the repetition.
        (
            vec!["stops/convert", "--body", "-", "to=f/8"],
            r#"{"from": 1, "from": 2}"#,
            "from: \"from\" is given more",
        ),
    ] {
        let refusal = stopwright_fed(&[vec!["ask"], arguments.clone()].concat(), input).refusal();
        assert!(refusal.starts_with("stopwright: ") && refusal.contains(message), "{arguments:?}: {refusal}");
        let json = stopwright_fed(&[vec!["ask", "--json"], arguments.clone()].concat(), input).refusal();
        let json: Value = serde_json::from_str(&json).expect("JSON");
        assert!(json["status"].as_u64().is_some_and(|status| (400..500).contains(&status)), "{json}");
    }
    let large = format!("{{\"from\": \"{}\"}}", "f".repeat(stopwright::endpoints::extract::BODY_LIMIT));
    for arguments in
        [&["ask", "stops/convert", "--body", "-"][..], &["ask", "stops/convert", "--body", "-", "to=f/8"]]
    {
        let refusal = stopwright_fed(arguments, &large).refusal();
        assert!(refusal.contains("may have 262144 bytes"), "{refusal}");
    }
    // Conflicting flags are a usage error, with the usual status.
    assert_eq!(stopwright(&["ask", "modifiers", "--json", "--text"]).status, Some(2));
    assert_eq!(stopwright(&["ask", "--body", "-"]).status, Some(2));
}

#[test]
fn other_failures_end_with_status_one() {
    let run = stopwright(&["ask", "stops/convert", "--body", "/nowhere/set.json"]);
    assert_eq!((run.status, run.out.as_str()), (Some(1), ""));
    assert!(run.err.starts_with("stopwright: /nowhere/set.json: "), "{}", run.err);
    // A device that is always full.
    let full = std::fs::File::options().write(true).open("/dev/full").expect("a device");
    let run = Command::new(env!("CARGO_BIN_EXE_stopwright")).args(["ask", "modifiers"]).stdout(full).output();
    let run = run.expect("run");
    assert_eq!(run.status.code(), Some(1));
    assert!(run.stderr.starts_with(b"stopwright: "), "{run:?}");
}

#[test]
fn without_a_path_all_calculations_are_listed() {
    let listed = stopwright(&["ask"]).answer();
    let summaries: Vec<(&str, &str)> = listed
        .lines()
        .map(|line| line.split_once("  ").map(|(path, output)| (path, output.trim())).expect("both"))
        .collect();
    let paths = document()["paths"].as_object().expect("paths");
    for (path, methods) in paths {
        let Some(path) = path.strip_prefix("/v1/") else { continue };
        let operation = methods.get("post").unwrap_or(&methods["get"]);
        let path = path.replace("{kind}", "iso");
        let summary = operation["summary"].as_str().expect("a summary");
        assert!(summaries.contains(&(&path, summary)), "{path} is not in {listed}");
    }
    let json: Value = serde_json::from_str(&stopwright(&["ask", "--json"]).answer()).expect("JSON");
    assert_eq!(json.as_array().map(Vec::len), Some(summaries.len()));
    // Every path in the list exists.
    for (path, _) in summaries {
        let output = stopwright(&["ask", path]);
        assert!(!output.err.contains("Nothing is at this path"), "{path}");
    }
}
