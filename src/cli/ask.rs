//! The `ask` command: runs a calculation from the shell. The application answers in this process without a socket, so a
//! person at a shell and a client on the network get the same answers.

mod arguments;
pub mod calculations;
mod fields;
mod lines;

use std::{
    fs::File,
    io::{self, Read, Write},
    net::Ipv4Addr,
    path::Path,
    process::ExitCode,
};

use axum::{
    body::{self, Body},
    http::{Method, Request, StatusCode, header, request::Builder},
};

use self::arguments::Question;
use crate::{
    app::App,
    cli::{
        args::Ask,
        io::{pretty, print},
    },
    endpoints::{
        extract::{BODY_LIMIT, LenientText},
        registry,
    },
    request::format::AnswerFormat,
    response::text,
    server::{
        negotiation,
        problem::{Kind, Problem},
        request_id::new_id,
        state::Config,
    },
    wording::visible::visible,
};

/// The exit status if the request is at fault, the same as for wrong flags.
const BAD_INPUT: u8 = 2;

/// Where to find the paths.
const LIST_HINT: &str = "  stopwright ask, without a path, lists what can be asked.\n";

/// The `Accept` header. Text falls back to JSON, for answers that have no text.
const fn accept(format: AnswerFormat) -> &'static str {
    match format {
        AnswerFormat::Text => "text/plain, application/json;q=0.5",
        format => format.media_type(),
    }
}

/// A response.
struct Answer {
    status: StatusCode,
    body: String,
}

/// Prints the answer, or to standard error why there is none.
pub async fn ask(flags: Ask) -> io::Result<ExitCode> {
    let format = flags.format.format();
    if let Some(file) = &flags.lines {
        return lines::answer_lines(file).await;
    }
    let Some(path) = &flags.path else {
        print(&calculations::list(format))?;
        return Ok(ExitCode::SUCCESS);
    };
    let descriptions = [(flags.fields, fields::list as fn(&str) -> _), (flags.example, fields::example)];
    if let Some((_, describe)) = descriptions.into_iter().find(|(is_set, _)| *is_set) {
        let Some(text) = describe(path) else {
            let _ = write!(io::stderr(), "stopwright: nothing is posted to {}\n{LIST_HINT}", visible(path));
            return Ok(ExitCode::from(BAD_INPUT));
        };
        return print(&text).map(|()| ExitCode::SUCCESS);
    }
    let answer = if flags.body.is_none() && is_in_words(path, &flags.arguments) {
        let words = [std::slice::from_ref(path), &flags.arguments].concat().join(" ");
        let query = form_urlencoded::Serializer::new(String::new()).append_pair("q", &words).finish();
        let uri = format!("/v1/ask?{query}");
        send(&App::new(Config::default()), head(format).uri(uri), Body::empty()).await?
    } else {
        let given = flags.body.as_deref().map(read).transpose()?;
        match arguments::question(given, &flags.arguments) {
            Ok(question) => answer(path, question, format).await?,
            Err(problem) => Answer::from_problem(&problem),
        }
    };
    if answer.status.is_success() {
        print(&answer.body)?;
        return Ok(ExitCode::SUCCESS);
    }
    // If standard error is closed, there is nowhere to report it.
    let _ = io::stderr().write_all(answer.error_text(format).as_bytes());
    Ok(if answer.status.is_client_error() { ExitCode::from(BAD_INPUT) } else { ExitCode::FAILURE })
}

/// Whether a question is in words, rather than a path with arguments.
fn is_in_words(path: &str, arguments: &[String]) -> bool {
    let is_path = path.contains('/') && path.chars().all(|c| c.is_ascii_lowercase() || "-_/.".contains(c));
    let has_value = path.contains(|c: char| c.is_ascii_digit() || c.is_whitespace());
    let has_argument = path.contains('=') || arguments.iter().any(|argument| argument.contains('='));
    !is_path && !has_argument && (has_value || !arguments.is_empty())
}

/// The headers of every request.
fn head(format: AnswerFormat) -> Builder {
    Request::builder().header(header::HOST, "localhost").header(header::ACCEPT, accept(format))
}

/// Sends a POST; to a path that does not take one, a GET with the query.
async fn answer(path: &str, question: Question, format: AnswerFormat) -> io::Result<Answer> {
    let app = App::new(Config::default());
    // Odd characters in a path are percent-encoded, so that the path is simply not found.
    let parts: Vec<String> = registry::bare(path)
        .split('/')
        .map(|part| form_urlencoded::byte_serialize(part.as_bytes()).collect())
        .collect();
    let uri = format!("/v1/{}", parts.join("/"));
    let post = head(format).method(Method::POST).uri(&uri).header(header::CONTENT_TYPE, negotiation::JSON);
    let posted = send(&app, post.extension(LenientText(question.lenient)), question.body.into()).await?;
    if posted.status != StatusCode::METHOD_NOT_ALLOWED {
        return Ok(posted);
    }
    match question.query {
        Some(query) => send(&app, head(format).uri(format!("{uri}?{query}")), Body::empty()).await,
        None => {
            let detail = "This path takes name=value only, no JSON.";
            Ok(Answer::from_problem(&Problem::new(Kind::MethodNotAllowed, detail)))
        }
    }
}

async fn send(app: &App, head: Builder, body: Body) -> io::Result<Answer> {
    let request = head.body(body).map_err(io::Error::other)?;
    let (head, body) = app.answer(request, Ipv4Addr::LOCALHOST.into()).await.into_parts();
    let bytes = body::to_bytes(body, usize::MAX).await.map_err(io::Error::other)?;
    let is_json = head.headers.get(header::CONTENT_TYPE).is_some_and(|media| media == negotiation::JSON);
    let body = if is_json { pretty(&serde_json::from_slice(&bytes)?) } else { text(bytes.into()) };
    Ok(Answer { status: head.status, body })
}

fn text(bytes: Vec<u8>) -> String {
    String::from_utf8(bytes).unwrap_or_default()
}

impl Answer {
    /// The response that the service would give for this problem.
    fn from_problem(problem: &Problem) -> Self {
        Self { status: problem.status(), body: text(problem.document(new_id().to_str().unwrap_or_default())) }
    }

    /// The text for standard error.
    fn error_text(&self, format: AnswerFormat) -> String {
        let document = serde_json::from_str(&self.body).unwrap_or_default();
        if format == AnswerFormat::Json {
            return pretty(&document);
        }
        let hint = match self.status {
            StatusCode::NOT_ACCEPTABLE => {
                "  It is not drawn; ask without --svg. What is asked in words then says how to ask\n  in full, which may be drawn.\n"
            }
            StatusCode::NOT_FOUND => LIST_HINT,
            _ => "",
        };
        format!("stopwright: {}{hint}", text::problem(&document))
    }
}

/// Reads a body from a file or standard input, up to one byte more than the limit, which then is refused as too large.
fn read(path: &Path) -> io::Result<Vec<u8>> {
    let mut bytes = Vec::new();
    let most = BODY_LIMIT as u64 + 1;
    if path == Path::new("-") {
        io::stdin().lock().take(most).read_to_end(&mut bytes)?;
    } else {
        let named = |error: io::Error| io::Error::new(error.kind(), format!("{}: {error}", path.display()));
        File::open(path).and_then(|file| file.take(most).read_to_end(&mut bytes)).map_err(named)?;
    }
    Ok(bytes)
}
