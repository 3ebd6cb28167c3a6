//! Requests: from JSON or a query to typed values, with every fault collected.
//!
//! [`value`] is a request as it came, [`reader`] reads types out of it, [`fields`] has the objects that many requests
//! share, [`schema`] what the document says of values that are numbers or texts. A request's [`options`] hold for all of
//! it, so they are read first, wherever they stand.

pub(crate) mod faults;
pub(crate) mod fields;
pub(crate) mod format;
pub(crate) mod options;
pub(crate) mod place;
pub mod reader;
pub(crate) mod references;
pub(crate) mod schema;
pub mod value;

use self::{
    format::Form,
    place::At,
    reader::{Read, Reader},
    value::Value,
};
use crate::{light::quantity::rules::Rules, server::problem::Refused};

/// Reads a whole request.
pub fn read<'t, T: Read>(tree: &'t Value<'t>) -> Result<(T, Rules), Refused> {
    whole(tree, &options::NAMES, |_| ()).map(|(request, rules, ())| (request, rules))
}

/// Reads a whole query, which may also say in which of some formats it wants the answer.
pub fn read_query<'t, T: Read>(
    tree: &'t Value<'t>,
    forms: &[Form],
) -> Result<(T, Rules, Option<Form>), Refused> {
    whole(tree, &options::QUERY_NAMES, |reader| format::asked(tree, forms, reader))
}

fn whole<'t, T: Read, B>(
    tree: &'t Value<'t>,
    beside: &'static [&'static str],
    read_beside: impl FnOnce(&mut Reader<'t>) -> B,
) -> Result<(T, Rules, B), Refused> {
    let mut reader = Reader::beside(tree, beside);
    reader.rules = options::rules(tree, &mut reader);
    let beside = read_beside(&mut reader);
    match T::read(tree, &At::Root, &mut reader) {
        Some(request) if reader.is_clean() => Ok((request, reader.rules, beside)),
        _ => Err(reader.refused()),
    }
}
