//! Reads lists.

use std::{borrow::Cow, collections::HashSet};

use utoipa::openapi::{ArrayBuilder, RefOr, Schema};

use crate::{
    request::{
        field_schema::{FieldSchema, Named},
        place::At,
        reader::{Read, Reader},
        value::{MAX_STORED, Value},
    },
    wording::fault::Fault,
};

/// A field whose faults do not keep the other fields from being checked: they are added, and the value is `None`.
pub struct Partly<T>(pub Option<T>);

impl<T: Read> Read for Partly<T> {
    fn read(value: &Value<'_>, at: &At<'_>, reader: &mut Reader) -> Option<Self> {
        Some(Self(T::read(value, at, reader)))
    }

    fn missing(at: &At<'_>, reader: &mut Reader) -> Option<Self> {
        Some(Self(T::missing(at, reader)))
    }
}

/// An element of a list, with the limits on the list's length.
pub trait Item: Read {
    /// Minimum number of elements.
    const MIN: usize = 1;
    /// Maximum number of elements.
    const MAX: usize;
    /// What the elements are called in messages, plural.
    const PLURAL: &'static str;
    /// Whether the ids of the elements must differ, since answers refer to elements by them.
    const HAS_UNIQUE_IDS: bool = true;
}

impl<T: Item> Read for Vec<T> {
    fn read(value: &Value<'_>, at: &At<'_>, reader: &mut Reader) -> Option<Self> {
        let items = items(value, T::MAX, Self::expected, at, reader)?;
        if items.len() < T::MIN || items.len() > T::MAX {
            return reader.push_fault(at, wrong_length(items.len(), T::MIN, T::MAX, Self::expected()));
        }
        if T::HAS_UNIQUE_IDS {
            check_ids(&items, at, reader);
        }
        let mut all = Some(Self::with_capacity(items.len()));
        for (index, item) in items.iter().enumerate() {
            match (T::read(item, &At::Index(at, index), reader), &mut all) {
                (Some(read), Some(list)) => list.push(read),
                _ => all = None,
            }
        }
        all
    }

    fn expected() -> String {
        format!("a list of {} to {} {}", T::MIN, T::MAX, T::PLURAL)
    }
}

/// Adds a fault at each id that an element before has. A number and its text are one.
fn check_ids(items: &[Value<'_>], at: &At<'_>, reader: &mut Reader) {
    let mut before = HashSet::new();
    for (index, item) in items.iter().enumerate() {
        let id = match item.get("id") {
            Some(Value::Text(text)) => text.clone(),
            Some(Value::Number(number)) => number.to_string().into(),
            _ => continue,
        };
        if !before.insert(id.clone()) {
            let at = At::Index(at, index);
            reader.push_fault::<()>(&At::Field(&at, "id"), Fault::DuplicateId { id: id.into_owned() });
        }
    }
}

impl<T: FieldSchema> FieldSchema for Partly<T> {
    const IS_OPTIONAL: bool = T::IS_OPTIONAL;

    fn schema() -> RefOr<Schema> {
        T::schema()
    }

    fn parameter() -> RefOr<Schema> {
        T::parameter()
    }

    fn is_object() -> bool {
        T::is_object()
    }

    fn add_named(all: &mut Named) {
        T::add_named(all);
    }
}

impl<T: FieldSchema + Item> FieldSchema for Vec<T> {
    fn schema() -> RefOr<Schema> {
        ArrayBuilder::new()
            .items(T::schema())
            .min_items((T::MIN > 0).then_some(T::MIN))
            .max_items(Some(T::MAX))
            .into()
    }

    fn add_named(all: &mut Named) {
        T::add_named(all);
    }
}

/// The elements of a list; in a query they are separated by commas.
pub fn items<'t, 'a>(
    value: &'t Value<'a>,
    most: usize,
    expected: impl Fn() -> String,
    at: &At<'_>,
    reader: &mut Reader,
) -> Option<Cow<'t, [Value<'a>]>> {
    match value {
        Value::List(items) => Some(Cow::Borrowed(items)),
        Value::Parameter(text) if text.matches(',').count() >= MAX_STORED => {
            let count = text.split(',').count();
            reader.push_fault_with(at, || Fault::TooMany { count, most, expected: expected() })
        }
        Value::Parameter(text) => {
            Some(text.split(',').map(|part| Value::Parameter(part.to_owned().into())).collect())
        }
        Value::LongList(count) => {
            reader.push_fault_with(at, || Fault::TooMany { count: *count, most, expected: expected() })
        }
        _ => reader.push_wrong_type(at, value, &expected()),
    }
}

/// Reads a list of exactly `N` elements. `read` is given the index of each; the faults of all elements are collected.
pub fn array_of<T, const N: usize>(
    value: &Value<'_>,
    expected: &str,
    at: &At<'_>,
    reader: &mut Reader,
    read: impl Fn(usize, &Value<'_>, &At<'_>, &mut Reader) -> Option<T>,
) -> Option<[T; N]> {
    let items = items(value, N, || expected.to_owned(), at, reader)?;
    if items.len() != N {
        return reader.push_fault(at, wrong_length(items.len(), N, N, expected.to_owned()));
    }
    let read: Vec<Option<T>> = items
        .iter()
        .enumerate()
        .map(|(index, item)| read(index, item, &At::Index(at, index), reader))
        .collect();
    read.into_iter().collect::<Option<Vec<T>>>()?.try_into().ok()
}

fn wrong_length(count: usize, least: usize, most: usize, expected: String) -> Fault {
    if count > most {
        Fault::TooMany { count, most, expected }
    } else {
        Fault::TooFew { count, least, expected }
    }
}
