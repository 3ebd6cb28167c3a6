//! `ask --lines`: a question a line, in words or as an item of a batch, and an answer a line, as a batch answers it.

use std::{
    fs::File,
    io::{self, BufRead, BufReader},
    path::{Path, PathBuf},
    process::ExitCode,
    thread,
};

use indicatif::ProgressBar;
use serde_json::json;
use tokio::{signal, sync::mpsc};

use crate::{
    cli::{ask::BAD_INPUT, io::print},
    endpoints::batch::item,
    light::interrupt::NeverInterrupted,
    request::{faults::FieldError, place::Pointer, short_question},
    server::{
        problem::{Problem, Refused},
        request_id::new_id,
    },
};

/// The exit status after SIGINT, as shells have it.
const INTERRUPTED: u8 = 130;

/// Answers each line of a file, or of standard input for `-`. SIGINT ends it between two lines.
pub async fn answer_lines(path: &Path) -> io::Result<ExitCode> {
    let is_input = path == Path::new("-");
    let size = if is_input { None } else { Some(File::open(path).and_then(|file| file.metadata())?.len()) };
    // Drawn on standard error, and only where that is a terminal.
    let bar = size.map_or_else(ProgressBar::new_spinner, ProgressBar::new);
    let (send, mut lines) = mpsc::channel(1);
    let path = path.to_owned();
    // A read from a terminal cannot be interrupted, so it has a thread of its own.
    thread::spawn(move || {
        for line in read_lines(is_input, &path) {
            if send.blocking_send(line).is_err() {
                return;
            }
        }
    });
    let mut code = ExitCode::SUCCESS;
    let mut number = 0;
    loop {
        let line = tokio::select! {
            biased;
            _ = signal::ctrl_c() => return Ok(ExitCode::from(INTERRUPTED)),
            line = lines.recv() => match line {
                Some(line) => line?,
                None => break,
            },
        };
        number += 1;
        bar.inc(line.len() as u64 + 1);
        if line.trim().is_empty() {
            continue;
        }
        let (answer, is_answered) = answer(&line, number);
        if !is_answered {
            code = ExitCode::from(BAD_INPUT);
        }
        bar.suspend(|| print(&answer))?;
    }
    bar.finish_and_clear();
    Ok(code)
}

/// The lines, each as it is read.
fn read_lines(is_input: bool, path: &PathBuf) -> Box<dyn Iterator<Item = io::Result<String>>> {
    if is_input {
        return Box::new(io::stdin().lines());
    }
    match File::open(path) {
        Ok(file) => Box::new(BufReader::new(file).lines()),
        Err(error) => Box::new(std::iter::once(Err(error))),
    }
}

/// The answer to one line, and whether it is one.
fn answer(line: &str, number: usize) -> (String, bool) {
    let id = new_id();
    let id = id.to_str().unwrap_or_default();
    let mut out = Vec::new();
    if line.trim_start().starts_with('{') {
        item::answer(line.as_bytes(), None, ("line", number), id, &NeverInterrupted, &mut out);
    } else {
        match short_question::read(line.trim()) {
            Ok(question) => {
                let item = json!({"path": question.path, "body": question.body}).to_string();
                item::answer(item.as_bytes(), None, ("line", number), id, &NeverInterrupted, &mut out);
            }
            Err(fault) => {
                let fault = FieldError { pointer: Pointer::root(), fault }.written();
                let problem = Problem::from(Refused { first: vec![fault], more: 0 });
                item::write_problem(None, &problem.for_item("line", number), id, &mut out);
            }
        }
    }
    out.push(b'\n');
    let text = String::from_utf8(out).unwrap_or_default();
    let is_answered = text.contains("\"status\":200,");
    (text, is_answered)
}
