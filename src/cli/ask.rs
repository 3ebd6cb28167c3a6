//! Asking a calculation from the shell. The service itself answers, in this process and without a socket, so that a
//! person at a shell and a program on the network are told the same.

mod arguments;
mod fields;
pub mod known;

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
        request_id::made_id,
        state::Config,
    },
    wording::visible::visible,
};

/// The exit status where what was asked is at fault, as it is for flags that are.
const BAD_INPUT: u8 = 2;

/// Where to look for what there is.
const LISTED: &str = "  stopwright ask, without a path, lists what can be asked.\n";

/// What the service is asked for; what has no text comes as JSON.
const fn accept(format: AnswerFormat) -> &'static str {
    match format {
        AnswerFormat::Text => "text/plain, application/json;q=0.5",
        format => format.media_type(),
    }
}

/// What came back.
struct Answer {
    status: StatusCode,
    body: String,
}

/// Asks, and prints the answer, or on standard error why there is none.
pub async fn ask(flags: Ask) -> io::Result<ExitCode> {
    let format = flags.format.format();
    let Some(path) = &flags.path else {
        print(&known::list(format))?;
        return Ok(ExitCode::SUCCESS);
    };
    let told = [(flags.fields, fields::list as fn(&str) -> _), (flags.example, fields::example)];
    if let Some((_, tell)) = told.into_iter().find(|(is_asked, _)| *is_asked) {
        let Some(told) = tell(path) else {
            let _ = write!(io::stderr(), "stopwright: nothing is posted to {}\n{LISTED}", visible(path));
            return Ok(ExitCode::from(BAD_INPUT));
        };
        return print(&told).map(|()| ExitCode::SUCCESS);
    }
    let given = flags.body.as_deref().map(read).transpose()?;
    let answer = match arguments::question(given, &flags.arguments) {
        Ok(question) => answer(path, question, format).await?,
        Err(problem) => Answer::of(&problem),
    };
    if answer.status.is_success() {
        print(&answer.body)?;
        return Ok(ExitCode::SUCCESS);
    }
    // Where standard error is closed, there is nobody to tell.
    let _ = io::stderr().write_all(answer.refusal(format).as_bytes());
    Ok(if answer.status.is_client_error() { ExitCode::from(BAD_INPUT) } else { ExitCode::FAILURE })
}

/// The answer to a question: calculations are posted, and what cannot be posted is asked by query.
async fn answer(path: &str, question: Question, format: AnswerFormat) -> io::Result<Answer> {
    let app = App::new(Config::default());
    // Whatever a path should not have stands for itself, and is then not found.
    let parts: Vec<String> = registry::bare(path)
        .split('/')
        .map(|part| form_urlencoded::byte_serialize(part.as_bytes()).collect())
        .collect();
    let uri = format!("/v1/{}", parts.join("/"));
    let head = || Request::builder().header(header::HOST, "localhost").header(header::ACCEPT, accept(format));

    let post = head().method(Method::POST).uri(&uri).header(header::CONTENT_TYPE, negotiation::JSON);
    let posted = send(&app, post.extension(LenientText(question.loose)), question.body.into()).await?;
    if posted.status != StatusCode::METHOD_NOT_ALLOWED {
        return Ok(posted);
    }
    match question.query {
        Some(query) => send(&app, head().uri(format!("{uri}?{query}")), Body::empty()).await,
        None => {
            let detail = "This path takes name=value only, no JSON.";
            Ok(Answer::of(&Problem::new(Kind::MethodNotAllowed, detail)))
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
    /// What the service would say, where it need not be asked.
    fn of(problem: &Problem) -> Self {
        Self {
            status: problem.status(),
            body: text(problem.document(made_id().to_str().unwrap_or_default())),
        }
    }

    /// Why there is no answer.
    fn refusal(&self, format: AnswerFormat) -> String {
        let document = serde_json::from_str(&self.body).unwrap_or_default();
        if format == AnswerFormat::Json {
            return pretty(&document);
        }
        let hint = match self.status {
            StatusCode::NOT_ACCEPTABLE => "  It is not drawn; ask without --svg.\n",
            StatusCode::NOT_FOUND => LISTED,
            _ => "",
        };
        format!("stopwright: {}{hint}", text::problem(&document))
    }
}

/// A body from a file or from standard input, and no more of it than shows that it is too large.
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
