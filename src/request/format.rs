//! The format of an answer that a request asks for: JSON, text or a picture; by `Accept`, or by `format` in a query.

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

/// How an answer is written.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ToSchema)]
#[schema(as = AnswerForm, rename_all = "snake_case")]
pub enum Form {
    /// JSON, if nothing else is preferred.
    Json,
    /// Text.
    Text,
    /// A picture.
    Svg,
}

/// How an answer that is not drawn is written.
#[derive(ToSchema)]
#[schema(rename_all = "snake_case")]
#[expect(dead_code, reason = "stands in the OpenAPI document only; read as `Form`")]
pub(crate) enum WrittenForm {
    Json,
    Text,
}

/// The forms of every answer.
pub const WRITTEN: &[Form] = &[Form::Json, Form::Text];

/// The name of the parameter that says it in a query, for those who cannot send headers.
pub const NAME: &str = "format";

/// The form of an answer, in a query. The OpenAPI document adds it to every query; see `openapi.rs`.
#[derive(ToSchema, IntoParams)]
#[into_params(parameter_in = Query)]
#[expect(dead_code, reason = "stands in the OpenAPI document only; read as `Form`")]
pub struct FormInput {
    /// How the answer is written, whatever the `Accept` header says: `svg` where it is drawn.
    #[param(inline = false)]
    format: Option<Form>,
}

/// The forms of an answer that is drawn.
pub const DRAWN: &[Form] = &[Form::Json, Form::Text, Form::Svg];

impl Form {
    /// As `Accept` names it.
    pub const fn media(self) -> &'static str {
        match self {
            Self::Json => negotiation::JSON,
            Self::Text => negotiation::TEXT,
            Self::Svg => negotiation::SVG,
        }
    }

    /// As a query names it.
    const fn word(self) -> &'static str {
        match self {
            Self::Json => "json",
            Self::Text => "text",
            Self::Svg => "svg",
        }
    }

    /// As the answer names it.
    pub const fn content_type(self) -> &'static str {
        match self {
            Self::Text => "text/plain; charset=utf-8",
            form => form.media(),
        }
    }

    /// The form, out of some, that a caller prefers.
    pub fn of(headers: &HeaderMap, forms: &[Self]) -> Result<Self, Problem> {
        negotiation::choose(headers, forms.iter().map(|form| (form.media(), *form))).ok_or_else(|| {
            let offered: Vec<&str> = forms.iter().map(|form| form.media()).collect();
            let told =
                format!("The answer is {}, which the Accept header does not allow.", offered.join(" or "));
            Problem::new(Kind::NotAcceptable, told)
        })
    }
}

/// The format that a query asks for; `None` if it asks for none, or for one that there is not, which is a fault.
pub fn asked(tree: &Value<'_>, forms: &[Form], reader: &mut Reader) -> Option<Form> {
    let words: Vec<(&str, Form)> = forms.iter().map(|form| (form.word(), *form)).collect();
    reader::word(tree.get(NAME)?, &words, &At::Field(&At::Root, NAME), reader)
}
