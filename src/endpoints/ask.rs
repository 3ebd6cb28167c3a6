//! `/v1/ask`: short questions in words.

use axum::{http::HeaderMap, response::Response};
use serde::Serialize;
use serde_json::{Map, Value as Json};
use utoipa::ToSchema;
use utoipa_axum::routes;

use crate::{
    endpoints::{extract::Query, format::QueryRequest, registry},
    light::interrupt::NeverInterrupted,
    request::{
        declare::request,
        format::{AnswerFormat, WRITTEN},
        json::parse,
        options::Options,
        place::At,
        reader::{Read, Reader, values::text},
        schema::{AnyAnswer, QuestionBody, ShortQuestionInput},
        short_question::{self, FullQuestion, MAX_CHARS},
        value::Value,
    },
    response::{json, text::render},
    server::{
        caching,
        problem::{Kind, Problem},
        state::Routes,
    },
};

/// The routes of this file.
pub fn routes() -> Routes {
    Routes::new().routes(routes!(ask_in_words))
}

request! {
    /// A question in words.
    struct AskRequest {
        /// The question, as `f/8 to f/11`, `GN 40 at 5 m` or `f/8 + f/5.6`. Write `%2B` for a plus sign.
        q: FullQuestion as ShortQuestionInput,
    }
}

impl QueryRequest for AskRequest {
    const FORMATS: &'static [AnswerFormat] = WRITTEN;
    const OPTIONS: Options = Options::NONE;
}

impl Read for FullQuestion {
    fn read(value: &Value<'_>, at: &At<'_>, reader: &mut Reader) -> Option<Self> {
        let text = text(value, MAX_CHARS, at, reader)?;
        match short_question::read(&text) {
            Ok(question) => Some(question),
            Err(fault) => reader.push_fault(at, fault),
        }
    }

    fn expected() -> String {
        "a question in words, as \"f/8 to f/11\"".to_owned()
    }
}

crate::request::field_schema::looks_like!(FullQuestion as ShortQuestionInput);

/// The answer to a question in words, and how to ask it in full.
#[derive(Serialize, ToSchema)]
struct Asked {
    /// What was asked.
    #[serde(rename = "asked")]
    question: AskedQuestion,
    /// The same as a command.
    in_full: String,
    /// The answer of that calculation.
    #[schema(value_type = AnyAnswer)]
    answer: Map<String, Json>,
}

/// A question in full.
#[derive(Serialize, ToSchema)]
struct AskedQuestion {
    /// The path of the calculation.
    path: String,
    /// The body of its request.
    #[schema(value_type = QuestionBody)]
    body: Map<String, Json>,
}

/// Ask in words
///
/// A short question in words, which says itself what it asks: `f/8 to f/11`, `GN 40 at 5 m`, `f/8 + f/5.6`, `600 J to 250 J`. The answer says which calculation was asked, and how to ask it in full. What is in none of the known forms is refused with the nearest ones. Answers may be cached.
#[utoipa::path(get, path = "/v1/ask", tag = "stops", params(AskRequest),
    responses((status = 200, description = "The answer, and what was asked", body = Asked)))]
async fn ask_in_words(headers: HeaderMap, query: Query<AskRequest>) -> Result<Response, Problem> {
    let question = &query.request().q;
    let entry = registry::find(question.path)
        .ok_or_else(|| Problem::new(Kind::Internal, "This calculation is not in the registry."))?;
    let body = serde_json::to_vec(&question.body).map_err(json::serialization_failed)?;
    let mut answer = Vec::new();
    (entry.run)(&parse(&body)?, &NeverInterrupted, &mut answer)
        .map_err(|problem| problem.in_parameter("/q"))?;
    let answer = serde_json::from_slice(&answer).map_err(json::serialization_failed)?;
    let in_full = short_question::in_full(question);
    let format = query.format();
    if format == AnswerFormat::Text {
        let text = format!("{}\nasked in full\n  {in_full}\n", render(&Json::Object(answer)));
        return Ok(caching::answer(&headers, (format.content_type(), text.into_bytes())));
    }
    let asked = AskedQuestion { path: format!("/v1/{}", question.path), body: question.body.clone() };
    query.respond(&headers, &Asked { question: asked, in_full, answer })
}
