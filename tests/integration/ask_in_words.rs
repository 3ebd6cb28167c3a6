//! Questions in words: `GET /v1/ask`, `stopwright ask` and `stopwright ask --lines`.

use std::{
    fs,
    io::{BufRead, BufReader, Write},
    path::PathBuf,
    process::{Command, Stdio},
};

use serde_json::{Value, json};
use stopwright::request::short_question::FORMS;

use crate::{
    ask::{stopwright, stopwright_fed},
    support::{Server, faults, pointers},
};

async fn asked(server: &Server, question: &str) -> Value {
    let query = form_urlencoded::Serializer::new(String::new()).append_pair("q", question).finish();
    let answer = server.get(&format!("/v1/ask?{query}")).await;
    assert_eq!(answer.status, 200, "{question}: {}", answer.body);
    answer.body
}

#[tokio::test]
async fn every_form_asks_what_it_can_ask_in_full() {
    let server = Server::start().await;
    for (form, _) in FORMS {
        let answer = asked(&server, form).await;
        let path = answer["asked"]["path"].as_str().expect("a path");
        assert_eq!(server.ask(path, answer["asked"]["body"].clone()).await, answer["answer"], "{form}");
        // The command in full has the same answer, in its numbers; its arguments need not be marked as texts.
        let line = answer["in_full"].as_str().expect("a command");
        let words = crate::curl::words(line);
        assert_eq!(words[..2], ["stopwright", "ask"], "{line}");
        let full = stopwright(&[&["ask".to_owned(), "--json".to_owned()], &words[2..]].concat()).answer();
        let full: Value = serde_json::from_str(&full).expect("JSON");
        assert_eq!(full["summary"], answer["answer"]["summary"], "{form}");
    }
}

#[tokio::test]
async fn what_is_in_no_form_is_refused_with_the_nearest() {
    let server = Server::start().await;
    for (question, code) in [
        ("GN 40 near 5 m", "unknown_question"),
        ("", "empty_text"),
        ("8 to 11", "unknown_question"),
        ("f/8 f/5.6", "nothing_between"),
        ("to to to", "unknown_question"),
        ("\u{1f4a1}", "unknown_question"),
    ] {
        let query = form_urlencoded::Serializer::new(String::new()).append_pair("q", question).finish();
        let answer = server.get(&format!("/v1/ask?{query}")).await;
        let found = faults(&answer.body);
        assert_eq!((answer.status, pointers(&found)), (422_u16, vec!["/q"]), "{question}");
        assert_eq!(answer.body["errors"][0]["code"], code, "{question}");
    }
    // A raw plus sign arrives as a space.
    let raw = server.get("/v1/ask?q=f/8+f/5.6").await;
    assert_eq!(raw.body["errors"][0]["code"], "nothing_between");
    // A fault of the question itself is that of the calculation.
    let wrong = server.get("/v1/ask?q=f/0%20to%20f/8").await;
    assert_eq!((wrong.status, pointers(&faults(&wrong.body))), (422_u16, vec!["/q"]));
}

#[test]
fn words_need_no_path() {
    for words in [vec!["GN", "40", "at", "5", "m"], vec!["GN 40 at 5 m"]] {
        let answer = stopwright(&[vec!["ask"], words].concat()).answer();
        assert!(answer.starts_with("Set the lens to f/8"), "{answer}");
        assert!(
            answer.ends_with("stopwright ask exposure/one-light guide_number='GN 40' distance='5 m'\n"),
            "{answer}"
        );
    }
    let json: Value =
        serde_json::from_str(&stopwright(&["ask", "--json", "600 J", "to", "300 J"]).answer()).expect("JSON");
    assert_eq!(json["answer"]["exposure_stops"], -1.0);
    let darker = stopwright(&["ask", "f/8", "-", "1", "stop"]).answer();
    assert!(darker.starts_with("f/8 to f/11 is 1 stop darker."), "{darker}");
}

#[test]
fn a_line_has_an_answer_each() {
    let input = "f/8 to f/11\n\n{\"id\": 7, \"path\": \"stops/convert\", \"body\": {\"from\": \"f/8\", \"to\": \"f/4\"}}\nnonsense\n{\n";
    let run = stopwright_fed(&["ask", "--lines", "-"], input);
    assert_eq!((run.status, run.err.as_str()), (Some(2), ""));
    let answers: Vec<Value> =
        run.out.lines().map(|line| serde_json::from_str(line).expect("JSON on a line")).collect();
    let statuses: Vec<&Value> = answers.iter().map(|answer| &answer["status"]).collect();
    assert_eq!(statuses, [200, 200, 422, 400]);
    assert_eq!(answers[0]["body"]["exposure_stops"], -1.0);
    assert_eq!((&answers[1]["id"], &answers[1]["body"]["exposure_stops"]), (&json!(7), &json!(2.0)));
    // The same from a file; all of its lines are answered.
    let file = PathBuf::from(env!("CARGO_TARGET_TMPDIR")).join("questions.txt");
    fs::write(&file, "f/8 to f/11\nf/8 + f/5.6").expect("written");
    let run = stopwright(&["ask", "--lines", &file.to_string_lossy()]).answer();
    assert_eq!(run.lines().count(), 2);
}

#[test]
fn an_interrupt_ends_it_between_two_lines() {
    let mut child = Command::new(env!("CARGO_BIN_EXE_stopwright"))
        .args(["ask", "--lines", "-"])
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .spawn()
        .expect("run");
    let mut input = child.stdin.take().expect("input");
    let mut output = BufReader::new(child.stdout.take().expect("output")).lines();
    input.write_all(b"f/8 to f/11\n").expect("written");
    let first = output.next().expect("a line").expect("text");
    assert!(first.contains("\"exposure_stops\":-1.0"), "{first}");
    let kill = Command::new("kill").args(["-INT", &child.id().to_string()]).status();
    assert!(kill.expect("run").success());
    assert_eq!(child.wait().expect("ended").code(), Some(130));
    assert_eq!(output.count(), 0);
}
