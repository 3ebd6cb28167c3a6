//! Requests: from JSON or a query to typed values, with every fault collected.
//!
//! [`value`] is the parsed request, [`reader`] reads typed requests from it, [`fields`] has the objects that many
//! requests share, and [`schema`] the OpenAPI schemas of values that may be a number or a text. The [`options`] apply to
//! the whole request, so they are read first, wherever they occur.

pub(crate) mod declare;
pub(crate) mod faults;
pub(crate) mod field_schema;
pub(crate) mod fields;
pub(crate) mod format;
pub mod json;
pub(crate) mod names;
mod nearest;
pub(crate) mod options;
pub mod patch;
pub(crate) mod place;
pub mod reader;
pub(crate) mod references;
pub(crate) mod schema;
pub mod set;
pub mod short_question;
pub mod value;

use self::{
    format::AnswerFormat,
    options::Options,
    place::At,
    reader::{Read, Reader},
    value::Value,
};
use crate::server::problem::Refused;

/// Reads a whole request, and the width of its picture, px.
pub fn read<'t, T: Read>(value: &'t Value<'t>, options: Options) -> Result<(T, f64), Refused> {
    let reader = Reader::with_options(value, options.of_body());
    read_with(reader, value, |_| ()).map(|(request, width, ())| (request, width))
}

/// The same; of more than [`faults::FEW`] faults it says only how many there are.
pub fn read_quickly<'t, T: Read>(value: &'t Value<'t>, options: Options) -> Result<(T, f64), Refused> {
    let reader = Reader::with_options(value, options.of_body()).with_few_faults(value);
    read_with(reader, value, |_| ()).map(|(request, width, ())| (request, width))
}

/// Reads a whole query, which may also choose the format of the answer from `formats`.
pub fn read_query<'t, T: Read>(
    value: &'t Value<'t>,
    options: Options,
    formats: &[AnswerFormat],
) -> Result<(T, f64, Option<AnswerFormat>), Refused> {
    let reader = Reader::with_options(value, options.of_query());
    read_with(reader, value, |reader| format::from_query(value, formats, reader))
}

/// Reads a request and, with `read_extra`, what is not a field of `T`.
fn read_with<'t, T: Read, E>(
    mut reader: Reader<'t>,
    value: &'t Value<'t>,
    read_extra: impl FnOnce(&mut Reader<'t>) -> E,
) -> Result<(T, f64, E), Refused> {
    reader.rules = options::rules(value, &mut reader);
    let width = options::width(value, &mut reader);
    let extra = read_extra(&mut reader);
    match T::read(value, &At::Root, &mut reader) {
        Some(request) if reader.is_clean() => Ok((request, width, extra)),
        _ => Err(reader.into_refused()),
    }
}
