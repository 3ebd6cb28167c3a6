//! How an answer is written: for programs, for people, or drawn.

use axum::http::HeaderMap;
use serde::Serialize;
use utoipa::{IntoParams, ToSchema};

use crate::{
    endpoints::{calculation::Calculation, extract},
    request::{
        reader::{self, At, Nothing, Reader},
        value::Tree,
    },
    response::text,
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
/// The forms of an answer that is drawn.
const DRAWN: &[Form] = &[Form::Json, Form::Text, Form::Svg];

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

/// What is asked by query, with the forms of its answer.
pub trait Asked: reader::Read {
    /// The forms.
    const FORMS: &'static [Form];
}

impl<C: Calculation> Asked for C {
    const FORMS: &'static [Form] = forms::<C>();
}

impl Asked for Nothing {
    const FORMS: &'static [Form] = WRITTEN;
}

/// The forms of a calculation's answer.
pub const fn forms<C: Calculation>() -> &'static [Form] {
    if C::PICTURE.is_some() { DRAWN } else { WRITTEN }
}

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
    const fn content_type(self) -> &'static str {
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

    /// An answer in this form: its media type, and its bytes.
    pub fn write<T: Serialize>(self, answer: &T) -> Result<(&'static str, Vec<u8>), Problem> {
        let body = match self {
            Self::Text => {
                text::render(&serde_json::to_value(answer).map_err(extract::unwritten)?).into_bytes()
            }
            _ => {
                let mut body = Vec::with_capacity(256);
                extract::write(answer, &mut body)?;
                body
            }
        };
        Ok((self.content_type(), body))
    }

    /// The same of a calculation, which may be drawn.
    pub fn tell<C: Calculation>(
        self,
        request: &C,
        answer: &C::Answer,
    ) -> Result<(&'static str, Vec<u8>), Problem> {
        match (self, C::PICTURE) {
            (Self::Svg, Some(draw)) => {
                Ok((self.content_type(), draw(request, answer).into_svg().into_bytes()))
            }
            _ => self.write(answer),
        }
    }
}

/// The form that a query asks for.
pub fn asked(tree: &Tree<'_>, forms: &[Form], reader: &mut Reader) -> Option<Option<Form>> {
    let Some(value) = tree.get(NAME) else { return Some(None) };
    let words: Vec<(&str, Form)> = forms.iter().map(|form| (form.word(), *form)).collect();
    reader::word(value, &words, &At::Field(&At::Root, NAME), reader).map(Some)
}
