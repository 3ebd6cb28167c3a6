//! Writes answers in the requested format.

use serde::Serialize;

use crate::{
    endpoints::calculation::{Answered, Calculation},
    request::{
        format::{AnswerFormat, DRAWN, WRITTEN},
        options::Options,
        reader::{self, Nothing},
    },
    response::{json, text},
    server::problem::Problem,
};

/// A request that can be a query, and the formats of its answer.
pub trait QueryRequest: reader::Read {
    /// The formats.
    const FORMATS: &'static [AnswerFormat];
    /// The options that it has a use for.
    const OPTIONS: Options;
}

impl<C: Calculation> QueryRequest for C {
    const FORMATS: &'static [AnswerFormat] = formats::<C>();
    const OPTIONS: Options = C::OPTIONS;
}

impl QueryRequest for Nothing {
    const FORMATS: &'static [AnswerFormat] = WRITTEN;
    const OPTIONS: Options = Options::NONE;
}

/// The formats of a calculation's answer.
pub const fn formats<C: Calculation>() -> &'static [AnswerFormat] {
    if C::PICTURE.is_some() { DRAWN } else { WRITTEN }
}

/// Writes an answer as JSON or text: its content type and its bytes.
pub fn write<T: Serialize>(format: AnswerFormat, answer: &T) -> Result<(&'static str, Vec<u8>), Problem> {
    let body = match format {
        AnswerFormat::Text => {
            text::render(&serde_json::to_value(answer).map_err(json::serialization_failed)?).into_bytes()
        }
        _ => {
            let mut body = Vec::with_capacity(1024);
            json::write(answer, &mut body)?;
            body
        }
    };
    Ok((format.content_type(), body))
}

/// Writes the answer of a calculation, which may have a picture of this width, px: its content type and its bytes.
pub fn write_answer<C: Calculation>(
    format: AnswerFormat,
    request: &C,
    answer: &C::Answer,
    width: f64,
) -> Result<(&'static str, Vec<u8>), Problem> {
    match (format, C::PICTURE) {
        (AnswerFormat::Svg, Some(draw)) => {
            Ok((format.content_type(), draw(request, answer, width).into_svg().into_bytes()))
        }
        _ => write(format, &Answered::new(answer)),
    }
}
