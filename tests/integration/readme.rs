//! README, DEVELOPERS.md and the pages in `docs` are checked: every curl line and every ask line is run, every table
//! compared, every link and path exists.

use std::path::Path;

use clap::CommandFactory;
use serde_json::Value;
use stopwright::{
    cli::args::Cli,
    light::quantity::{bounds, half_widths},
};

use crate::{
    ask::stopwright,
    curl::{self, words},
    support::{Server, document},
};

/// Every document, by its path from the root.
macro_rules! documents {
    ($($path:literal,)*) => { &[$(($path, include_str!(concat!("../../", $path))),)*] };
}

const DOCUMENTS: &[(&str, &str)] = documents![
    "README.md",
    "CHANGELOG.md",
    "DEVELOPERS.md",
    "deploy/README.md",
    "docs/clients.md",
    "docs/limits.md",
    "docs/operation.md",
    "docs/security.md",
    "docs/shell.md",
    "docs/sources.md",
    "docs/values.md",
    "docs/versions.md",
    "docs/guides/booking.md",
    "docs/guides/evening.md",
    "docs/guides/examples.md",
    "docs/guides/mobile.md",
    "docs/guides/photographer.md",
];

const README: &str = include_str!("../../README.md");
const DEVELOPERS: &str = include_str!("../../DEVELOPERS.md");
const EXAMPLES: &str = include_str!("../../docs/guides/examples.md");
const LIMITS: &str = include_str!("../../docs/limits.md");
const OPERATION: &str = include_str!("../../docs/operation.md");
const CLIENTS: &str = include_str!("../../docs/clients.md");
const SOURCES: &str = include_str!("../../docs/sources.md");
const SHELL: &str = include_str!("../../docs/shell.md");
const VALUES: &str = include_str!("../../docs/values.md");

/// A fenced block: the word after the fence, and its text.
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

/// Whether a document's answer agrees with the real one: equal, or, if shortened, with fields and ends of lists left
/// out.
fn agrees(shown: &Value, answer: &Value, shortened: bool) -> bool {
    match (shown, answer) {
        (Value::Object(shown), Value::Object(answer)) => {
            (shortened || shown.len() == answer.len())
                && shown.iter().all(|(name, value)| {
                    answer.get(name).is_some_and(|answer| agrees(value, answer, shortened))
                })
        }
        (Value::Array(shown), Value::Array(answer)) => {
            (if shortened { shown.len() <= answer.len() } else { shown.len() == answer.len() })
                && shown.iter().zip(answer).all(|(shown, answer)| agrees(shown, answer, shortened))
        }
        (shown, answer) => shown == answer,
    }
}

#[tokio::test]
async fn every_curl_line_gives_the_answer_beside_it() {
    for (document, least) in [(README, 6), (VALUES, 3), (EXAMPLES, 15)] {
        let seen = curl_lines(document).await;
        assert!(seen >= least, "{seen} curl lines");
    }
}

/// Runs the curl lines of a document and compares the answers. Returns the number of lines.
async fn curl_lines(document: &str) -> usize {
    let server = Server::start().await;
    let blocks = blocks(document);
    let mut seen = 0;
    for pair in blocks.windows(2) {
        let [(shell, line), (info, shown)] = pair else { continue };
        if shell != "sh" || !line.starts_with("curl ") {
            continue;
        }
        let answer = curl::ask(&server, line).await;
        if info == "text" {
            assert_eq!(answer.body.as_str(), Some(shown.as_str()), "{line}");
            seen += 1;
            continue;
        }
        assert!(info.starts_with("json"), "an answer stands after {line}");
        let shortened = info.ends_with(" shortened");
        if info.starts_with("json lines") {
            let answers: Vec<&str> = answer.body.as_str().expect("lines").lines().collect();
            assert_eq!(answers.len(), shown.lines().count(), "{line}");
            for (shown, answer) in shown.lines().zip(answers) {
                let (shown, answer) =
                    [shown, answer].map(|line| serde_json::from_str(line).expect("JSON")).into();
                assert!(agrees(&shown, &answer, shortened), "{line}\n{answer}");
            }
        } else {
            let shown: Value = serde_json::from_str(shown).expect("a JSON answer");
            assert!(agrees(&shown, &answer.body, shortened), "{line}\n{}", answer.body);
        }
        seen += 1;
    }
    seen
}

#[test]
fn every_ask_line_gives_the_answer_beside_it() {
    let mut seen = 0;
    for pair in blocks(SHELL).windows(2) {
        let [(shell, line), (info, shown)] = pair else { continue };
        if shell != "sh" || !line.starts_with("stopwright ask ") {
            continue;
        }
        assert_eq!((line.lines().count(), info.as_str()), (1, "text"), "one line, and its answer: {line}");
        let answer = stopwright(&words(line)[1..]);
        assert_eq!(shown, &format!("{}{}", answer.out, answer.err), "{line}");
        seen += 1;
    }
    assert!(seen >= 4, "{seen} ask lines");
    let words = "ask f/8 to f/11";
    assert!(README.contains(&format!("`cargo run --release -- {words}`")));
    assert_eq!(stopwright(&words.split(' ').collect::<Vec<_>>()).status, Some(0));
}

#[test]
fn every_document_is_among_those_that_are_checked() {
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    let mut seen = 0;
    for folder in ["docs", "docs/guides"] {
        for entry in std::fs::read_dir(root.join(folder)).expect("a folder") {
            let name = entry.expect("an entry").file_name().into_string().expect("UTF-8");
            if Path::new(&name).extension().is_some_and(|end| end == "md") {
                let path = format!("{folder}/{name}");
                assert!(DOCUMENTS.iter().any(|(known, _)| *known == path), "{path} is not checked");
                assert!(README.contains(&format!("]({path})")), "README does not lead to {path}");
                seen += 1;
            }
        }
    }
    assert_eq!(seen, 13);
}

#[test]
fn every_link_leads_somewhere() {
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    let anchor = |heading: &str| {
        let kept = heading.trim_start_matches('#').trim().to_lowercase();
        let kept: String = kept.chars().filter(|c| c.is_alphanumeric() || " -".contains(*c)).collect();
        kept.replace(' ', "-")
    };
    let mut seen = 0;
    for (file, text) in DOCUMENTS {
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
    assert!(seen > 40, "{seen} links");
}

/// Words that look like paths of this repository: those that begin with one of its folders, and names of source files.
fn repository_paths(text: &str) -> Vec<&str> {
    const FOLDERS: [&str; 9] = [
        ".ci/",
        "benches/",
        "deploy/",
        "docs/",
        "fuzz/",
        "openapi/",
        "proptest-regressions/",
        "src/",
        "tests/",
    ];
    const SOURCES: [&str; 5] = ["rs", "py", "toml", "yaml", "md"];
    let words = text.split(|c: char| c.is_whitespace() || "`()[]{}'\"|,;:=".contains(c));
    let words = words.map(|word| word.trim_end_matches(['.', '?', '!']).split('#').next().unwrap_or(word));
    words
        .filter(|word| !word.contains(['<', '*', '…']))
        .filter(|word| {
            let is_source =
                Path::new(word).extension().is_some_and(|end| SOURCES.iter().any(|one| end == *one));
            FOLDERS.iter().any(|folder| word.starts_with(folder)) || is_source
        })
        .collect()
}

#[test]
fn every_path_in_backticks_or_blocks_exists() {
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    let exists = |path: &str| root.join(path).exists();
    // The search finds paths that do not exist.
    assert_eq!(
        repository_paths("see `src/api/exchange.rs`, `front.rs`."),
        ["src/api/exchange.rs", "front.rs"]
    );
    assert!(!exists("src/api/exchange.rs"));
    for (document, text, least) in
        [("DEVELOPERS.md", DEVELOPERS, 150), ("docs/clients.md", CLIENTS, 2), ("docs/sources.md", SOURCES, 2)]
    {
        // Every other piece between backticks is code: words in a line, and fenced blocks.
        let paths: Vec<_> = text.split('`').skip(1).step_by(2).flat_map(repository_paths).collect();
        for path in &paths {
            assert!(exists(path), "{document} names {path}, which is not there");
        }
        assert!(paths.len() >= least, "{document}: {} paths", paths.len());
    }
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
    let missing: Vec<_> = rows.iter().filter(|row| !LIMITS.contains(row.as_str())).collect();
    assert!(missing.is_empty(), "docs/limits.md lacks {missing:#?}");
    let table = LIMITS.split("| quantity | range |").nth(1).expect("the table of limits");
    let listed = table.lines().skip(2).take_while(|line| line.starts_with('|')).count();
    assert_eq!(listed, rows.len(), "docs/limits.md lists a limit that is not there");
    assert!(LIMITS.contains(&format!("{} bytes", stopwright::endpoints::extract::BODY_LIMIT)));
    assert!(LIMITS.contains(&format!("| values in a body | {} |", stopwright::request::json::MAX_VALUES)));
}

#[test]
fn the_table_of_half_widths_is_complete() {
    let rows: Vec<_> = half_widths::ALL
        .iter()
        .map(|row| format!("| {} | {} {} | {} | {} |", row.what, row.value, row.unit, row.grade, row.reason))
        .collect();
    let (_, table) = VALUES.split_once("| because |").expect("the table of half-widths");
    let listed: Vec<_> = table.lines().skip(2).take_while(|line| line.starts_with('|')).collect();
    assert_eq!(listed, rows, "docs/values.md");
}

#[test]
fn the_table_of_flags_is_what_the_command_takes() {
    let command = Cli::command();
    let serve = command.find_subcommand("serve").expect("serve");
    let flags: Vec<(String, String)> = serve
        .get_arguments()
        .filter_map(|argument| {
            let variable = argument.get_env()?.to_str().expect("text");
            Some((format!("--{}", argument.get_long()?), variable.to_owned()))
        })
        .collect();
    let documented: Vec<(String, String)> = OPERATION
        .lines()
        .filter_map(|line| {
            let mut cells = line.strip_prefix("| `--")?.split(" | ");
            let flag = cells.next()?.split([' ', '`']).next()?;
            Some((format!("--{flag}"), cells.next()?.trim_matches('`').to_owned()))
        })
        .collect();
    assert_eq!(documented, flags);
}

#[test]
fn the_list_of_commands_is_complete() {
    let (_, list) = blocks(OPERATION)
        .into_iter()
        .find(|(info, text)| info == "text" && text.starts_with("stopwright "))
        .expect("the list of commands");
    let listed: Vec<&str> = list
        .lines()
        .filter_map(|line| line.split_whitespace().nth(1))
        .map(|name| name.trim_matches(['[', ']']))
        .collect();
    let command = Cli::command();
    let commands: Vec<&str> = command.get_subcommands().map(clap::Command::get_name).collect();
    assert_eq!(listed, commands);
}

#[test]
fn the_table_of_pictures_is_complete() {
    let (_, table) = VALUES.split_once("| path | what is drawn |").expect("the table of pictures");
    let rows = table.lines().skip(2).take_while(|line| line.starts_with('|'));
    let cells = rows.map(|row| row.split('|').nth(1).expect("a first cell"));
    let mut listed: Vec<&str> = cells.flat_map(|cell| cell.split('`').skip(1).step_by(2)).collect();
    let paths = document()["paths"].as_object().expect("paths");
    let is_drawn =
        |methods: &Value| methods["post"]["responses"]["200"]["content"].get("image/svg+xml").is_some();
    let mut drawn: Vec<&str> =
        paths.iter().filter(|(_, methods)| is_drawn(methods)).map(|(path, _)| path.as_str()).collect();
    listed.sort_unstable();
    drawn.sort_unstable();
    assert_eq!(listed, drawn);
}
