//! Answers in the format that was asked for.

use serde::Serialize;

use crate::{
    endpoints::calculation::Calculation,
    request::{
        format::{DRAWN, Form, WRITTEN},
        reader::{self, Nothing},
    },
    response::{json, text},
    server::problem::Problem,
};

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

/// An answer in a format: its media type, and its bytes.
pub fn write<T: Serialize>(form: Form, answer: &T) -> Result<(&'static str, Vec<u8>), Problem> {
    let body = match form {
        Form::Text => {
            text::render(&serde_json::to_value(answer).map_err(json::serialization_failed)?).into_bytes()
        }
        _ => {
            let mut body = Vec::with_capacity(256);
            json::write(answer, &mut body)?;
            body
        }
    };
    Ok((form.content_type(), body))
}

/// The same of a calculation, which may be drawn.
pub fn tell<C: Calculation>(
    form: Form,
    request: &C,
    answer: &C::Answer,
) -> Result<(&'static str, Vec<u8>), Problem> {
    match (form, C::PICTURE) {
        (Form::Svg, Some(draw)) => Ok((form.content_type(), draw(request, answer).into_svg().into_bytes())),
        _ => write(form, answer),
    }
}
