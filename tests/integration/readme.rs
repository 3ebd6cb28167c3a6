//! README and DEVELOPERS.md tell the truth: every curl and every ask line is run, every table compared.

use serde_json::Value;
use stopwright::light::quantity::bounds;

use crate::{
    ask::stopwright,
    curl::{self, words},
    support::{Server, document},
};

const README: &str = include_str!("../../README.md");
const EXAMPLES: &str = include_str!("../../docs/examples.md");

/// A fenced block: what stands after the fence, and its text.
fn blocks(markdown: &str) -> Vec<(String, String)> {
    let mut blocks = Vec::new();
    let mut open: Option<(String, String)> = None;
    for line in markdown.lines() {
        match (line.strip_prefix("```"), &mut open) {
            (Some(info), None) => open = Some((info.to_owned(), String::new())),
            (Some(_), Some(_)) => blocks.extend(open.take()),
            (None, Some((_, text))) => {
                text.push_str(line);
                text.push('\n');
            }
            (None, None) => {}
        }
    }
    blocks
}

/// Whether `told` says of `answer` only what is so: all of it, unless fields and ends of lists may be left out.
fn agrees(told: &Value, answer: &Value, shortened: bool) -> bool {
    match (told, answer) {
        (Value::Object(told), Value::Object(answer)) => {
            (shortened || told.len() == answer.len())
                && told.iter().all(|(name, value)| {
                    answer.get(name).is_some_and(|answer| agrees(value, answer, shortened))
                })
        }
        (Value::Array(told), Value::Array(answer)) => {
            (if shortened { told.len() <= answer.len() } else { told.len() == answer.len() })
                && told.iter().zip(answer).all(|(told, answer)| agrees(told, answer, shortened))
        }
        (told, answer) => told == answer,
    }
}

#[tokio::test]
async fn every_curl_line_gives_the_answer_beside_it() {
    for (document, least) in [(README, 7), (EXAMPLES, 15)] {
        let seen = curl_lines(document).await;
        assert!(seen >= least, "{seen} curl lines");
    }
}

/// Asks what the curl lines of a document ask, and compares; how many there were.
async fn curl_lines(document: &str) -> usize {
    let server = Server::start().await;
    let blocks = blocks(document);
    let mut seen = 0;
    for pair in blocks.windows(2) {
        let [(shell, line), (info, told)] = pair else { continue };
        if shell != "sh" || !line.starts_with("curl ") {
            continue;
        }
        let answer = curl::ask(&server, line).await;
        if info == "text" {
            assert_eq!(answer.body.as_str(), Some(told.as_str()), "{line}");
            seen += 1;
            continue;
        }
        assert!(info.starts_with("json"), "an answer stands after {line}");
        let shortened = info.ends_with(" shortened");
        if info.starts_with("json lines") {
            let answers: Vec<&str> = answer.body.as_str().expect("lines").lines().collect();
            assert_eq!(answers.len(), told.lines().count(), "{line}");
            for (told, answer) in told.lines().zip(answers) {
                let (told, answer) =
                    [told, answer].map(|line| serde_json::from_str(line).expect("JSON")).into();
                assert!(agrees(&told, &answer, shortened), "{line}\n{answer}");
            }
        } else {
            let told: Value = serde_json::from_str(told).expect("a JSON answer");
            assert!(agrees(&told, &answer.body, shortened), "{line}\n{}", answer.body);
        }
        seen += 1;
    }
    seen
}

#[test]
fn every_ask_line_of_readme_is_told_what_stands_beside_it() {
    let mut seen = 0;
    for pair in blocks(README).windows(2) {
        let [(shell, line), (info, told)] = pair else { continue };
        if shell != "sh" || !line.starts_with("stopwright ask ") {
            continue;
        }
        assert_eq!((line.lines().count(), info.as_str()), (1, "text"), "one line, and its answer: {line}");
        let answer = stopwright(&words(line)[1..]);
        assert_eq!(told, &format!("{}{}", answer.out, answer.err), "{line}");
        seen += 1;
    }
    assert!(seen >= 4, "{seen} ask lines");
    let words = "ask stops/convert from=f/8 to=f/11";
    assert!(README.contains(&format!("`cargo run --release -- {words}`")));
    assert_eq!(stopwright(&words.split(' ').collect::<Vec<_>>()).status, Some(0));
}

/// The documents that link to each other, and where they are.
const LINKED: [(&str, &str); 7] = [
    ("README.md", README),
    ("DEVELOPERS.md", include_str!("../../DEVELOPERS.md")),
    ("deploy/README.md", include_str!("../../deploy/README.md")),
    ("docs/examples.md", EXAMPLES),
    ("docs/photographer.md", include_str!("../../docs/photographer.md")),
    ("docs/booking.md", include_str!("../../docs/booking.md")),
    ("docs/mobile.md", include_str!("../../docs/mobile.md")),
];

#[test]
fn every_link_leads_somewhere() {
    let root = std::path::Path::new(env!("CARGO_MANIFEST_DIR"));
    let anchor = |heading: &str| {
        let kept = heading.trim_start_matches('#').trim().to_lowercase();
        let kept: String = kept.chars().filter(|c| c.is_alphanumeric() || " -".contains(*c)).collect();
        kept.replace(' ', "-")
    };
    let mut seen = 0;
    for (file, text) in LINKED {
        for link in text.split("](").skip(1).filter_map(|rest| rest.split(')').next()) {
            if link.contains("://") {
                continue;
            }
            seen += 1;
            let (path, fragment) = link.split_once('#').unwrap_or((link, ""));
            let target = root.join(file).parent().expect("a folder").join(path);
            let target = if path.is_empty() { root.join(file) } else { target };
            assert!(target.exists(), "{file}: {link}");
            if !fragment.is_empty() {
                let there = std::fs::read_to_string(&target).expect("a document");
                let found =
                    there.lines().filter(|line| line.starts_with('#')).any(|line| anchor(line) == fragment);
                assert!(found, "{file}: {link}");
            }
        }
    }
    assert!(seen > 15, "{seen} links");
}

#[test]
fn the_table_of_endpoints_is_complete() {
    let mut rows = Vec::new();
    for (path, methods) in document()["paths"].as_object().expect("paths") {
        let methods = methods.as_object().expect("methods");
        let names: Vec<String> = methods.keys().map(|method| method.to_uppercase()).collect();
        rows.push(format!("| {} | `{path}` |", names.join(", ")));
    }
    let missing: Vec<_> = rows.iter().filter(|row| !README.contains(row.as_str())).collect();
    assert!(missing.is_empty(), "README lacks {missing:#?}");
    let listed =
        README.lines().filter(|line| line.starts_with("| GET") || line.starts_with("| POST")).count();
    assert_eq!(listed, rows.len(), "README lists an endpoint that is not there");
}

#[test]
fn the_table_of_limits_is_complete() {
    let rows: Vec<_> = bounds::ALL.iter().map(|row| format!("| {} | {} |", row.what, row.range())).collect();
    let missing: Vec<_> = rows.iter().filter(|row| !README.contains(row.as_str())).collect();
    assert!(missing.is_empty(), "README lacks {missing:#?}");
    let table = README.split("| quantity | range |").nth(1).expect("the table of limits");
    let listed = table.lines().skip(2).take_while(|line| line.starts_with('|')).count();
    assert_eq!(listed, rows.len(), "README lists a limit that is not there");
    assert!(README.contains(&format!("{} bytes", stopwright::endpoints::extract::BODY_LIMIT)));
}

#[test]
fn the_table_of_flags_is_what_the_command_takes() {
    use clap::CommandFactory;
    use stopwright::cli::args::Cli;
    let command = Cli::command();
    let serve = command.find_subcommand("serve").expect("serve");
    let flags: Vec<(String, String)> = serve
        .get_arguments()
        .filter_map(|argument| {
            let variable = argument.get_env()?.to_str().expect("text");
            Some((format!("--{}", argument.get_long()?), variable.to_owned()))
        })
        .collect();
    let told: Vec<(String, String)> = README
        .lines()
        .filter_map(|line| {
            let mut cells = line.strip_prefix("| `--")?.split(" | ");
            let flag = cells.next()?.split([' ', '`']).next()?;
            Some((format!("--{flag}"), cells.next()?.trim_matches('`').to_owned()))
        })
        .collect();
    assert_eq!(told, flags);
}
