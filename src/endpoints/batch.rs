//! `/v1/batch`: many questions in one request, each answered as if it had come alone.
//!
//! `list.rs` takes a list apart, `source.rs` makes chunks of items out of lists and streams, `work.rs` answers chunks in order beside each
//! other, `item.rs` answers one item.

mod item;
mod list;
mod source;
mod work;

use std::{sync::Arc, time::Instant};

use axum::{
    body::Body,
    extract::{Request, State},
    http::header,
    response::{IntoResponse, Response},
};
use serde::Serialize;
use utoipa::ToSchema;
use utoipa_axum::routes;

use self::{
    source::{Items, Lines},
    work::{Job, Layout},
};
use crate::{
    endpoints::extract,
    request::{
        place::At,
        reader::{Item, Read, Reader, reads},
        schema::{AnswerBody, EntryId, QuestionBody},
        value::Value,
    },
    server::{
        negotiation,
        problem::{Kind, Problem, Refusals},
        request_id::ID_HEADER,
        state::{AppState, Routes},
        worker_pool::caller_info::CallerInfo,
    },
};

/// The routes of this file.
pub fn routes() -> Routes {
    Routes::new().routes(routes!(answer_batch))
}

/// Many questions.
#[derive(ToSchema)]
struct BatchRequest {
    /// The questions.
    #[schema(value_type = Vec<BatchItem>, min_items = 1, max_items = 1000)]
    #[expect(dead_code, reason = "only counted; the texts are read one by one, when their turn comes")]
    requests: Vec<Unread>,
}
reads!(BatchRequest { requests });

/// What is read later, when its turn comes.
struct Unread;

impl Read for Unread {
    fn read(_: &Value<'_>, _: &At<'_>, _: &mut Reader) -> Option<Self> {
        Some(Self)
    }

    fn expected() -> String {
        "the body of the calculation".to_owned()
    }
}

impl Item for Unread {
    const MOST: usize = 1000;
    const WHAT: &'static str = "requests";
}

/// One question of a batch, or one line of a stream.
#[derive(ToSchema)]
struct BatchItem {
    /// Your own name for this entry, given back with its answer.
    #[schema(value_type = Option<EntryId>)]
    #[expect(dead_code, reason = "only checked; item.rs gives it back from the text")]
    id: Option<String>,
    /// The path of a calculation that takes POST.
    #[schema(min_length = 1, max_length = 64, examples("/v1/stops/convert"))]
    path: String,
    /// What would be its body.
    #[schema(value_type = QuestionBody)]
    #[expect(dead_code, reason = "only there; item.rs reads it as the calculation's own")]
    body: Unread,
}
reads!(BatchItem { id, path, body });

/// The answers of a batch.
#[derive(Serialize, ToSchema)]
struct BatchAnswers {
    /// One for each question, in the order asked.
    answers: Vec<BatchAnswer>,
}

/// One answer of a batch, or one line of a stream.
#[derive(Serialize, ToSchema)]
struct BatchAnswer {
    /// The id that was given with the question; null where there was none.
    id: Option<String>,
    /// The HTTP status that the question would have had alone.
    #[schema(minimum = 200, maximum = 599)]
    status: u16,
    /// The answer, or the problem; its pointers lead from the question's own body, or where that cannot be reached, from the question.
    #[schema(value_type = AnswerBody)]
    body: (),
}

/// Answer many questions
///
/// Each question is the path and the body of a calculation; it is answered as if it had come alone, and a bad one never spoils the others. `application/json`: up to 1000 questions in a list, the answers in the same order; questions whose turn does not come within the time limit are answered with status 408. `application/x-ndjson`: a stream of questions, one a line, and a stream of answers in the same order, however long; the body limit is then a line's. Read answers while you send, for nothing is stored: when answers wait, no more is read. A stream whose input breaks, brings no question for 30 s, or meets the end of the service, ends with a last line that says so.
#[utoipa::path(post, path = "/v1/batch", tag = "service",
    request_body(content((BatchRequest = "application/json"), (BatchItem = "application/x-ndjson"))),
    responses((status = 200, description = "The answers", content((BatchAnswers = "application/json"), (BatchAnswer = "application/x-ndjson"))), Refusals))]
async fn answer_batch(
    State(running): State<Arc<AppState>>,
    mut request: Request,
) -> Result<Response, Problem> {
    // The front sees to it that it is there.
    let request_id = request.headers().get(ID_HEADER).and_then(|id| id.to_str().ok());
    let request_id = request_id.unwrap_or_default().into();
    let asker = request.extensions_mut().remove::<CallerInfo>().unwrap_or_default();
    let workers = running.workers.clone();
    let (layout, body) = if extract::is_media(request.headers(), negotiation::NDJSON) {
        extract::takes(request.headers(), negotiation::NDJSON)?;
        extract::is_plain(&request)?;
        let job = Job { request_id, asker, workers, layout: Layout::Lines, deadline: None };
        let waits = request.headers().contains_key(header::EXPECT);
        let place = Arc::clone(&running.streams).try_acquire_owned().map_err(|_| {
            Problem::new(Kind::Unavailable, "Too many streams at once; send it again, or ask by lists.")
        })?;
        let mut lines = Lines::of(request.into_body().into_data_stream(), &running, place);
        if waits {
            // The client sends nothing before it hears "100 Continue", which goes out with the first read.
            lines.begin().await;
        }
        (Layout::Lines, Body::from_stream(work::answers(lines, job)))
    } else if extract::is_json(request.headers()) {
        extract::takes(request.headers(), negotiation::JSON)?;
        extract::is_plain(&request)?;
        let deadline = Instant::now() + running.config.limits.time_limit;
        let bytes = extract::bytes(request).await?;
        let texts = if bytes.len() > extract::SMALL {
            workers.run(asker.clone(), move |_| list::texts(&bytes)).await?
        } else {
            list::texts(&bytes)
        }?;
        let job = Job { request_id, asker, workers, layout: Layout::List, deadline: Some(deadline) };
        (Layout::List, Body::from_stream(work::answers(Items::of(texts), job)))
    } else {
        return Err(Problem::new(
            Kind::UnsupportedMediaType,
            "Send a list as Content-Type: application/json (curl --json does), or a stream of lines as application/x-ndjson.",
        ));
    };
    Ok(([(header::CONTENT_TYPE, layout.media())], body).into_response())
}
