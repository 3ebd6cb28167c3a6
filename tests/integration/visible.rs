//! Names with control characters, escape sequences and direction controls: JSON keeps them; texts and pictures show
//! them escaped.

use reqwest::Method;
use serde_json::{Value, json};

use crate::{
    ask::{Run, stopwright, stopwright_fed},
    support::Server,
};

/// Retitles a terminal (OSC), clears its screen (CSI, in 7 and in 8 bits), forges a section, reverses the text
/// direction.
const NAME: &str =
    "key\u{1b}]0;owned\u{7}\u{1b}[2J\u{9b}31m\nwarnings\n  - all is well\u{202e}\u{2028}\u{200f}";

/// Checks that a text has no control characters except its own line breaks.
#[track_caller]
fn is_harmless(text: &str) {
    let acts = |c: char| {
        (c.is_control() && c != '\n')
            || matches!(c, '\u{61c}' | '\u{200e}' | '\u{200f}' | '\u{2028}'..='\u{202e}' | '\u{2066}'..='\u{2069}')
    };
    assert!(!text.contains(acts), "{text:?}");
}

/// The same, and that no line is the forged one, unless the answer itself has a section `warnings`.
#[track_caller]
fn is_honest(text: &str) {
    is_harmless(text);
    assert!(text.contains('\u{fffd}'), "{text}");
    assert!(!text.lines().any(|line| line.trim() == "- all is well"), "{text}");
}

fn unit() -> Value {
    json!({"name": NAME, "guide_number": {"value": 40, "unit": "m"}, "scale": {"style": "dial", "full": 9, "least": 2}})
}

/// A question for each kind of answer that repeats names.
fn questions() -> Vec<(&'static str, Value)> {
    let mut set = json!({"exposure": {"f_number": "f/8"}, "lights": [{"name": NAME, "unit": unit()}],
        "points": [{"name": NAME, "target": {"stops": 0}}],
        "placements": [{"light": NAME, "point": NAME, "distance": 2}]});
    let balance = set.clone();
    set["lights"][0]["setting"] = json!("9");
    set["points"][0].as_object_mut().expect("fields").remove("target");
    let shot = json!({"name": NAME, "exposure": {"f_number": "f/8"}, "lights": [{"role": NAME, "stops": 0, "distance": 2}]});
    vec![
        ("exposure/predict", set),
        ("ratios/balance", balance),
        ("kit/check", json!({"kit": [{"unit": unit()}], "shots": [shot]})),
        (
            "patches/compare",
            json!({"reference": 118, "readings": [{"id": NAME, "name": NAME, "level": 120}]}),
        ),
        (
            "units/calibrate",
            json!({"unit": unit(), "distance": 2, "readings": [{"setting": "9", "f_number": "f/22"}]}),
        ),
    ]
}

#[tokio::test]
async fn a_name_cannot_forge_a_text_answer() {
    let server = Server::start().await;
    for (path, body) in questions() {
        let url = format!("/v1/{path}");
        let asked = server.request(Method::POST, &url).header("accept", "text/plain").json(&body);
        let answer = server.send(asked).await;
        assert_eq!(answer.status, 200, "{path}: {}", answer.body);
        is_honest(answer.body.as_str().expect("a text"));
        // JSON keeps the name unchanged.
        let json = server.ask(&url, body.clone()).await;
        let kept = json.pointer("/unit/name").unwrap_or(&json).to_string();
        assert!(kept.contains("\\u001b]0;owned\\u0007"), "{path}: {kept}");
    }
}

#[tokio::test]
async fn a_name_cannot_act_in_a_picture() {
    let server = Server::start().await;
    for (path, body) in questions().into_iter().filter(|(path, _)| *path != "patches/compare") {
        let asked = server
            .request(Method::POST, &format!("/v1/{path}"))
            .header("accept", "image/svg+xml")
            .json(&body);
        let answer = server.send(asked).await;
        assert_eq!(answer.status, 200, "{path}: {}", answer.body);
        let picture = answer.body.as_str().expect("a picture");
        roxmltree::Document::parse(picture).expect(path);
        is_honest(picture);
    }
}

#[test]
fn a_name_cannot_retitle_a_terminal() {
    for (path, body) in questions() {
        let asked = |form: &str| {
            let Run { status, out, err } =
                stopwright_fed(&["ask", path, form, "--body", "-"], &body.to_string());
            assert_eq!((status, err.as_str()), (Some(0), ""), "{path}: {out}");
            out
        };
        is_honest(&asked("--text"));
        // JSON has the same name in escapes.
        let json = asked("--json");
        is_harmless(&json);
        let document: Value = serde_json::from_str(&json).expect("JSON");
        assert!(json.contains("\\u009b") && document.to_string().contains('\u{9b}'), "{json}");
    }
}

#[test]
fn no_error_at_a_shell_acts_on_its_terminal() {
    let named = format!("{NAME}=1");
    let missing = json!({"exposure": {"f_number": "f/8"}, "lights": [{"name": "a", "unit": unit()}],
        "points": [{"name": "p", "target": {"stops": 0}}], "placements": [{"light": NAME, "point": "p", "distance": 2}]});
    let cases: [(&[&str], String); 7] = [
        // A name of a field, a value, an argument, a path, a file; a name that points nowhere, in both forms.
        (&["stops/convert", "--text", &named], String::new()),
        (&["stops/convert", "--text", &format!("from={NAME}"), "to=f/8"], String::new()),
        (&["stops/convert", "--text", NAME], String::new()),
        (&[NAME, "--fields"], String::new()),
        (&["stops/convert", "--body", &format!("/nowhere/{}", NAME.replace('\0', ""))], String::new()),
        (&["ratios/balance", "--text", "--body", "-"], missing.to_string()),
        (&["ratios/balance", "--json", "--body", "-"], missing.to_string()),
    ];
    for (arguments, input) in cases {
        let all: Vec<&str> = ["ask"].iter().chain(arguments).copied().collect();
        let Run { status, out, err } = stopwright_fed(&all, &input);
        assert!(status != Some(0) && out.is_empty(), "{arguments:?}: {out}");
        assert!(err.contains("owned") && !err.lines().any(|line| line.trim() == "- all is well"), "{err}");
        is_harmless(&err);
    }
    // The error does not repeat the unknown path.
    let Run { status, err, .. } = stopwright(&["ask", NAME]);
    assert_eq!(status, Some(2));
    is_harmless(&err);
}
