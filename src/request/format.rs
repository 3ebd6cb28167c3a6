//! The format of an answer (JSON, text or SVG), requested with `Accept`, or with `format` in a query.

use axum::http::HeaderMap;
use utoipa::{IntoParams, ToSchema};

use crate::{
    request::{
        place::At,
        reader::{self, Reader},
        value::Value,
    },
    server::{
        negotiation,
        problem::{Kind, Problem},
    },
};

/// The format of an answer.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ToSchema)]
#[schema(as = AnswerForm, rename_all = "snake_case")]
pub enum AnswerFormat {
    /// JSON, the default.
    Json,
    /// Text.
    Text,
    /// A picture.
    Svg,
}

/// The format of an answer that has no picture.
#[derive(ToSchema)]
#[schema(as = WrittenForm, rename_all = "snake_case")]
#[expect(dead_code, reason = "for the OpenAPI document only; read as `AnswerFormat`")]
pub(crate) enum TextFormat {
    Json,
    Text,
}

/// The formats of every answer.
pub const WRITTEN: &[AnswerFormat] = &[AnswerFormat::Json, AnswerFormat::Text];

/// The query parameter for the format, for clients that cannot set headers.
pub const NAME: &str = "format";

/// The format of an answer, as a query parameter. The OpenAPI document adds it to every query; see `openapi.rs`.
#[derive(ToSchema, IntoParams)]
#[into_params(parameter_in = Query)]
#[expect(dead_code, reason = "for the OpenAPI document only; read as `AnswerFormat`")]
pub struct FormatInput {
    /// The format of the answer; it takes precedence over the `Accept` header. `svg` only if the answer has a picture.
    #[param(inline = false)]
    format: Option<AnswerFormat>,
}

/// The formats of an answer that has a picture.
pub const DRAWN: &[AnswerFormat] = &[AnswerFormat::Json, AnswerFormat::Text, AnswerFormat::Svg];

impl AnswerFormat {
    /// Its media type in `Accept`.
    pub const fn media_type(self) -> &'static str {
        match self {
            Self::Json => negotiation::JSON,
            Self::Text => negotiation::TEXT,
            Self::Svg => negotiation::SVG,
        }
    }

    /// Its name in a query.
    const fn name(self) -> &'static str {
        match self {
            Self::Json => "json",
            Self::Text => "text",
            Self::Svg => "svg",
        }
    }

    /// Its `Content-Type`.
    pub const fn content_type(self) -> &'static str {
        match self {
            Self::Text => "text/plain; charset=utf-8",
            format => format.media_type(),
        }
    }

    /// The one of `formats` that the `Accept` header prefers; 406 if it allows none.
    pub fn from_accept(headers: &HeaderMap, formats: &[Self]) -> Result<Self, Problem> {
        negotiation::choose(headers, formats.iter().map(|format| (format.media_type(), *format))).ok_or_else(
            || {
                let offered: Vec<&str> = formats.iter().map(|format| format.media_type()).collect();
                let detail = format!(
                    "The answer is {}, which the Accept header does not allow.",
                    offered.join(" or ")
                );
                Problem::new(Kind::NotAcceptable, detail)
            },
        )
    }
}

/// The format that a query asks for; `None` if it asks for none, or for an unknown one, which is a fault.
pub fn from_query(value: &Value<'_>, formats: &[AnswerFormat], reader: &mut Reader) -> Option<AnswerFormat> {
    let words: Vec<(&str, AnswerFormat)> = formats.iter().map(|format| (format.name(), *format)).collect();
    reader::words::word(value.get(NAME)?, &words, &At::Field(&At::Root, NAME), reader)
}
