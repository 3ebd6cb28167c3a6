//! What must hold for every question, whatever it says.

use std::{
    sync::atomic::AtomicBool,
    time::{Duration, Instant},
};

use serde_json::{Value, json};
use stopwright::{
    endpoints::registry::{self, ALL},
    request::json as request_json,
};

use super::{json::Json, schema};

/// Time that any calculation may take, its search being limited.
pub const SOON: Duration = Duration::from_secs(3);
/// Time that a search is given.
const SEARCH_MS: f64 = 20.0;

/// A question as one text: the path under `/v1` on the first line, the body after it. Where the line names no
/// calculation, its first byte picks one.
pub fn split(question: &[u8]) -> (&'static str, &[u8]) {
    let end = question.iter().position(|byte| *byte == b'\n').unwrap_or(question.len());
    let (line, body) = question.split_at(end);
    let named = std::str::from_utf8(line).ok().and_then(registry::find);
    let index = usize::from(line.first().copied().unwrap_or_default()) % ALL.len();
    (named.unwrap_or(&ALL[index]).path, body.get(1..).unwrap_or_default())
}

/// Gives a search little time, where the body is such that this can be said.
pub fn hasten(path: &str, body: &mut Json) {
    if path != "ratios/balance" {
        return;
    }
    let Json::Object(entries) = body else { return };
    let limit = entries.iter_mut().find(|(name, _)| name == "time_limit_ms");
    match limit {
        Some((_, Json::Bare(word))) if word.parse::<f64>().is_ok_and(|limit| limit > SEARCH_MS) => {
            *word = SEARCH_MS.to_string();
        }
        Some(_) => {}
        None => entries.push(("time_limit_ms".to_owned(), Json::Bare(SEARCH_MS.to_string()))),
    }
}

/// Asks, and checks the answer; tells its status.
pub fn ask(path: &str, body: &[u8]) -> u16 {
    let answer = answered(path, body);
    if answer.0 == 200 {
        follow(path, &answer.1);
    }
    // A search ends by the clock; all else says the same twice.
    if path != "ratios/balance" {
        assert_eq!(answer, answered(path, body), "twice {path}\n{}", String::from_utf8_lossy(body));
    }
    answer.0
}

/// Sends on what an answer says that other calls take as it stands.
fn follow(path: &str, answer: &Value) {
    let (next, body) = match path {
        "units/calibrate" => {
            let unit = &answer["unit"];
            let reference = json!({"unit": unit, "setting": "-1 stops", "exposure": {"f_number": 8}});
            ("energy/equivalence", json!({"reference": reference, "candidates": [{"unit": unit}]}))
        }
        "patches/response" => {
            let level = &answer["response"]["points"][0]["level"];
            let response = &answer["response"];
            (
                "patches/compare",
                json!({"reference": level, "readings": [{"level": level}], "response": response}),
            )
        }
        _ => return,
    };
    let refused = answered(next, body.to_string().as_bytes()).1;
    let errors = refused["errors"].as_array().into_iter().flatten();
    let pointers = errors.filter_map(|error| error["pointer"].as_str());
    let parts = ["/reference/unit/", "/candidates/0/unit/", "/response"];
    for pointer in pointers {
        assert!(
            !parts.iter().any(|part| pointer.starts_with(part)),
            "{pointer} of {body} is refused: {refused}"
        );
    }
}

/// The status, and the answer or the problem.
fn answered(path: &str, body: &[u8]) -> (u16, Value) {
    let entry = registry::find(path).expect("a calculation");
    let (mut out, begun) = (Vec::new(), Instant::now());
    let stop = AtomicBool::new(false);
    let answered = request_json::parse(body).and_then(|tree| (entry.run)(&tree, &stop, &mut out));
    let took = begun.elapsed();
    let shown = || format!("{path}\n{}", String::from_utf8_lossy(body));
    assert!(took < SOON, "{took:?} for {}", shown());
    match answered {
        Ok(()) => {
            let answer = read(&out, &shown);
            if let Some(why) = schema::misfit(&answer, schema::of_answer(path)) {
                panic!("{why}\nin {answer}\nfor {}", shown());
            }
            (200, answer)
        }
        Err(problem) => {
            let status = problem.status().as_u16();
            assert!([400, 422].contains(&status), "{status} for {}", shown());
            let problem = read(&problem.document("id"), &shown);
            located(&problem, &shown);
            (status, problem)
        }
    }
}

/// A text that the service wrote.
pub fn read(text: &[u8], shown: &dyn Fn() -> String) -> Value {
    let answer: Value = serde_json::from_slice(text)
        .unwrap_or_else(|error| panic!("{error}\nin {}\nfor {}", String::from_utf8_lossy(text), shown()));
    numbers(&answer, shown);
    answer
}

/// Every number is finite, rounded as docs/values.md says, and no negative zero.
fn numbers(value: &Value, shown: &dyn Fn() -> String) {
    match value {
        Value::Number(number) if number.is_f64() => {
            let number = number.as_f64().unwrap_or(f64::NAN);
            let is_zero = number == 0.0 && number.is_sign_positive();
            let six = format!("{number:.5e}").parse() == Ok(number);
            let four = ((number * 1e4).round() / 1e4).to_bits() == number.to_bits();
            assert!(is_zero || (number != 0.0 && (six || four)), "{number} is written for {}", shown());
        }
        Value::Array(items) => items.iter().for_each(|item| numbers(item, shown)),
        Value::Object(map) => map.values().for_each(|inner| numbers(inner, shown)),
        _ => {}
    }
}

/// A problem of a request tells where it is, what is wrong, and what would be right.
pub fn located(problem: &Value, shown: &dyn Fn() -> String) {
    let errors = problem["errors"].as_array().map(Vec::as_slice).unwrap_or_default();
    assert!(!errors.is_empty(), "no errors in {problem} for {}", shown());
    for error in errors {
        let pointer = error["pointer"].as_str().unwrap_or("none");
        // RFC 6901, 3: a tilde is part of ~0 or ~1.
        let escapes = pointer.split('~').skip(1).all(|after| after.starts_with(['0', '1']));
        let is_pointer = (pointer.is_empty() || pointer.starts_with('/')) && escapes;
        let is_told = ["detail", "expected"]
            .iter()
            .all(|name| error[name].as_str().is_some_and(|text| !text.is_empty()));
        assert!(is_pointer && is_told, "{error} for {}", shown());
    }
}
