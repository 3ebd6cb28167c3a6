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

/// What a run of the binary has left.
pub struct Told {
    pub status: Option<i32>,
    pub out: String,
    pub err: String,
}

impl From<Output> for Told {
    fn from(output: Output) -> Self {
        let text = |bytes| String::from_utf8(bytes).expect("UTF-8");
        Self { status: output.status.code(), out: text(output.stdout), err: text(output.stderr) }
    }
}

impl Told {
    /// What was answered, all being well.
    #[track_caller]
    pub fn answer(self) -> String {
        assert_eq!((self.status, self.err.as_str()), (Some(0), ""), "{}", self.out);
        self.out
    }

    /// Why there is no answer, what was asked being at fault.
    #[track_caller]
    fn refusal(self) -> String {
        assert_eq!((self.status, self.out.as_str()), (Some(2), ""), "{}", self.err);
        self.err
    }
}

pub fn stopwright<A: AsRef<str>>(arguments: &[A]) -> Told {
    stopwright_fed(arguments, "")
}

/// The same, with a text on standard input.
pub fn stopwright_fed<A: AsRef<str>>(arguments: &[A], input: &str) -> Told {
    let mut child = Command::new(env!("CARGO_BIN_EXE_stopwright"))
        .args(arguments.iter().map(AsRef::as_ref))
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .expect("run");
    let mut stdin = child.stdin.take().expect("input");
    // Where it does not read its input, the pipe may be closed.
    let _ = stdin.write_all(input.as_bytes());
    drop(stdin);
    child.wait_with_output().expect("ended").into()
}

/// A question as a person at a shell would write it, word by word.
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
async fn every_example_asked_in_words_has_the_answer_of_the_server() {
    let server = Server::start().await;
    let (mut answered, mut refused) = (0, 0);
    for (path, body) in examples() {
        let mut arguments = vec!["ask".to_owned(), path.clone(), "--json".to_owned()];
        words("", &body, &mut arguments);
        let told = stopwright(&arguments);
        let served = server.post(&path, &body).await;
        if served.status == 200 {
            answered += 1;
            let told: Value = serde_json::from_str(&told.answer()).expect("JSON");
            // As texts, so that the order of names counts.
            assert_eq!(alike(told).to_string(), alike(served.body).to_string(), "{arguments:?}");
        } else {
            refused += 1;
            let told: Value = serde_json::from_str(&told.refusal()).expect("JSON");
            assert_eq!(faults(&told), faults(&served.body), "{arguments:?}");
        }
    }
    assert!(answered > 25 && refused > 5, "{answered} answered, {refused} refused");
}

#[tokio::test]
async fn text_is_what_the_server_says_to_people() {
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
            let told = stopwright(&[vec!["ask", &path], arguments.clone()].concat());
            assert_eq!(told.answer(), served.body.as_str().expect("text"), "{path}");
        }
    }
}

#[tokio::test]
async fn tables_are_asked_as_calculations_are() {
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
async fn a_set_comes_from_a_file_or_standard_input_and_words_go_over_it() {
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
    for told in asked {
        let told: Value = serde_json::from_str(&told.answer()).expect("JSON");
        assert_eq!(alike(told).to_string(), alike(served.clone()).to_string());
    }
    // What if the ratio were 2:1, and the fill a unit of 1000 J that was metered a stop up?
    let words =
        ["ratio.value=2", "lights.1.unit.energy=1000 J", "readings.1.f_number=f/11", "limits.max_pops=4"];
    let mut other = set();
    other["ratio"]["value"] = "2:1".into();
    other["lights"][1]["unit"]["energy"] = "1000 J".into();
    other["readings"][1]["f_number"] = "f/11".into();
    other["limits"] = json!({"max_pops": 4});
    let told: Value =
        serde_json::from_str(&stopwright(&[&as_is[..], &words].concat()).answer()).expect("JSON");
    let served = server.ask("/v1/ratios/balance", other).await;
    assert_eq!(alike(told).to_string(), alike(served).to_string());
    std::fs::remove_file(path).expect("removed");
}

#[tokio::test]
async fn what_is_drawn_is_drawn() {
    let server = Server::start().await;
    let request = server.request(Method::POST, "/v1/ratios/balance").header("accept", "image/svg+xml");
    let served = server.send(request.json(&set())).await;
    let told =
        stopwright_fed(&["ask", "ratios/balance", "--svg", "--body", "-"], &set().to_string()).answer();
    assert!(told.starts_with("<svg"), "{told}");
    assert_eq!(told, served.body.as_str().expect("text"));
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
async fn what_is_at_fault_is_told_with_its_place() {
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
    for told in ["  source.disc_m: ", "  distances.2: ", "    expected: a distance"] {
        assert!(refusal.contains(told), "{told} is not in {refusal}");
    }
    // Words may be numbers; texts in a file are held to what the server takes.
    let freeze =
        ["ask", "motion/freeze", "t0_5_s=1/1500", "speed_m_s=8", "field_width_m=4", "pixels_across=6000"];
    let refusal = stopwright_fed(
        &[&freeze[..3], &["--body", "-"]].concat(),
        r#"{"speed_m_s": "8", "field_width_m": 4, "pixels_across": 6000}"#,
    )
    .refusal();
    assert!(refusal.contains("  speed_m_s: this is a string\n"), "{refusal}");
    stopwright(&freeze).answer();
    // A value of the wrong shape hides no name that points nowhere, here as there.
    let server = Server::start().await;
    let mut wrong = set();
    wrong["readings"][0]["light"] = "kee".into();
    wrong["readings"][1]["f_number"] = "wide".into();
    let mut arguments = vec!["ask".to_owned(), "ratios/balance".to_owned(), "--json".to_owned()];
    words("", &wrong, &mut arguments);
    let told: Value = serde_json::from_str(&stopwright(&arguments).refusal()).expect("JSON");
    let served = server.refused("/v1/ratios/balance", wrong).await;
    assert_eq!((faults(&told), served.len()), (served.clone(), 2));
    // With --json it is what the server says.
    let told = stopwright(&["ask", "--json", "stops/convert", "from=f/8", "to=f/0"]).refusal();
    let told: Value = serde_json::from_str(&told).expect("JSON");
    let served = server.post("/v1/stops/convert", &json!({"from": "f/8", "to": "f/0"})).await;
    assert_eq!(alike(told), alike(served.body));
}

#[test]
fn what_cannot_be_asked_is_told() {
    for (arguments, input, told) in [
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
        // Where a name is repeated in a file, words over it do not hide that.
        (
            vec!["stops/convert", "--body", "-", "to=f/8"],
            r#"{"from": 1, "from": 2}"#,
            "from: \"from\" is given more",
        ),
    ] {
        let refusal = stopwright_fed(&[vec!["ask"], arguments.clone()].concat(), input).refusal();
        assert!(refusal.starts_with("stopwright: ") && refusal.contains(told), "{arguments:?}: {refusal}");
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
    // Flags that do not go together are a fault of the command line, as everywhere.
    assert_eq!(stopwright(&["ask", "modifiers", "--json", "--text"]).status, Some(2));
    assert_eq!(stopwright(&["ask", "--body", "-"]).status, Some(2));
}

#[test]
fn what_fails_otherwise_ends_with_one() {
    let told = stopwright(&["ask", "stops/convert", "--body", "/nowhere/set.json"]);
    assert_eq!((told.status, told.out.as_str()), (Some(1), ""));
    assert!(told.err.starts_with("stopwright: /nowhere/set.json: "), "{}", told.err);
    // A device that is always full.
    let full = std::fs::File::options().write(true).open("/dev/full").expect("a device");
    let told =
        Command::new(env!("CARGO_BIN_EXE_stopwright")).args(["ask", "modifiers"]).stdout(full).output();
    let told = told.expect("run");
    assert_eq!(told.status.code(), Some(1));
    assert!(told.stderr.starts_with(b"stopwright: "), "{told:?}");
}

#[test]
fn without_a_path_all_that_can_be_asked_is_listed() {
    let listed = stopwright(&["ask"]).answer();
    let summaries: Vec<(&str, &str)> = listed
        .lines()
        .map(|line| line.split_once("  ").map(|(path, told)| (path, told.trim())).expect("both"))
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
    // Whatever is listed is there.
    for (path, _) in summaries {
        let told = stopwright(&["ask", path]);
        assert!(!told.err.contains("Nothing is at this path"), "{path}");
    }
}
