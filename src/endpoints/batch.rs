//! `/v1/batch`: many questions in one request, each answered as if it were sent alone.
//!
//! `list.rs` splits a list into items, `source.rs` makes chunks of items from lists and streams, `work.rs` answers chunks
//! concurrently and in order, and `item.rs` answers one item. `request.rs` declares what they read.

pub(crate) mod item;
mod list;
mod request;
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
    request::{BatchItem, BatchRequest},
    source::{Items, Lines},
    work::{Job, Layout},
};
use crate::{
    endpoints::extract,
    light::id::Id,
    request::schema::AnswerBody,
    server::{
        negotiation,
        problem::{Kind, Problem},
        request_id::ID_HEADER,
        state::{AppState, Routes},
        worker_pool::caller_info::CallerInfo,
    },
};

/// The routes of this file.
pub fn routes() -> Routes {
    Routes::new().routes(routes!(answer_batch))
}

/// The answers of a batch.
#[derive(Serialize, ToSchema)]
struct BatchAnswers {
    /// One for each question, in the same order.
    answers: Vec<BatchAnswer>,
}

/// One answer of a batch, or one line of a stream.
#[derive(Serialize, ToSchema)]
struct BatchAnswer {
    /// The id given with the question; null if there was none.
    id: Option<Id>,
    /// The HTTP status that the question would have had if sent alone.
    #[schema(minimum = 200, maximum = 599)]
    status: u16,
    /// The answer or the problem. Pointers in a problem are relative to the question's own body or, if there is no readable body, to the question.
    #[schema(value_type = AnswerBody)]
    body: (),
}

/// Answer many questions
///
/// Each question is the path and the body of a calculation. It is answered as if it were sent alone, and an invalid one never affects the others. `defaults` has fields that every body takes that lacks them; a field of the body replaces the default as a whole, and the path has no default. Pointers, in faults and in answers, are relative to the body with its defaults. `application/json`: up to 1000 questions in a list, with the answers in the same order; questions that cannot be started within the time limit are answered with status 408. `application/x-ndjson`: a stream of any length, one question per line, and a stream of answers in the same order; the body limit then applies to each line. Its first line may be `{"defaults": {…}}`, which has no answer of its own; if it is invalid, the stream ends with an answer that says so. Read answers while you send: nothing is stored, and no more questions are read while answers wait. If the input breaks off, brings no question for 30 s, or the service shuts down, the stream ends with a last line that says so.
#[utoipa::path(post, path = "/v1/batch", tag = "service",
    request_body(content((BatchRequest = "application/json"), (BatchItem = "application/x-ndjson"))),
    responses((status = 200, description = "The answers", content((BatchAnswers = "application/json"), (BatchAnswer = "application/x-ndjson")))))]
async fn answer_batch(State(state): State<Arc<AppState>>, mut request: Request) -> Result<Response, Problem> {
    // Set by the request-id layer.
    let request_id = request.headers().get(ID_HEADER).and_then(|id| id.to_str().ok());
    let request_id = request_id.unwrap_or_default().into();
    let caller = request.extensions_mut().remove::<CallerInfo>().unwrap_or_default();
    let workers = state.workers.clone();
    let (layout, body) = if extract::is_media(request.headers(), negotiation::NDJSON) {
        extract::check_accept(request.headers(), negotiation::NDJSON)?;
        extract::check_encoding(&request)?;
        let job = Job { request_id, caller, workers, layout: Layout::Lines, deadline: None, defaults: None };
        let expects_continue = request.headers().contains_key(header::EXPECT);
        let permit = Arc::clone(&state.streams).try_acquire_owned().map_err(|_| {
            Problem::new(Kind::Unavailable, "Too many streams at once; send it again, or ask by lists.")
        })?;
        let mut lines = Lines::new(request.into_body().into_data_stream(), &state, permit);
        if expects_continue {
            // The client sends nothing before "100 Continue", which hyper sends on the first read.
            lines.read_first().await;
        }
        (Layout::Lines, Body::from_stream(work::answers(lines, job)))
    } else if extract::is_json(request.headers()) {
        extract::check_accept(request.headers(), negotiation::JSON)?;
        extract::check_encoding(&request)?;
        let deadline = Instant::now() + state.config.limits.time_limit;
        let bytes = extract::read_body(request).await?;
        let (texts, defaults) = if bytes.len() > extract::SMALL_BODY {
            workers.run(caller.clone(), move |_| list::split(&bytes)).await?
        } else {
            list::split(&bytes)
        }?;
        let job = Job {
            request_id,
            caller,
            workers,
            layout: Layout::List,
            deadline: Some(deadline),
            defaults: None,
        };
        (Layout::List, Body::from_stream(work::answers(Items::new(texts, defaults), job)))
    } else {
        return Err(Problem::new(
            Kind::UnsupportedMediaType,
            "Send a list as Content-Type: application/json (curl --json does), or a stream of lines as application/x-ndjson.",
        ));
    };
    Ok(([(header::CONTENT_TYPE, layout.media())], body).into_response())
}
