//! From a [`Value`] to typed requests, collecting every fault on the way.
//!
//! A request type says its shape once, as a struct; [`reads!`] makes its reader. `Option` fields may be
//! left out or null; all others must be there; a name that is not a field is a fault that lists the
//! names that are known.

mod values;
mod words;

pub(crate) use self::words::reads_word;
pub use self::{
    values::{NAME_MOST, TOO_LONG, is_too_long, number, number_or_text, quantity, text, whole, written},
    words::{one_of, word},
};

use std::borrow::Cow;

use crate::{
    light::{
        error::{self, FieldError, InvalidValue},
        quantity::{bounds::Bounds, rules::Rules},
    },
    request::{
        faults::Faults,
        place::At,
        value::{Entries, Value},
    },
    server::problem::Refused,
};

/// The state of one reading: how numbers are read, and the faults so far. By default faults are only counted.
#[derive(Default)]
pub struct Reader<'t> {
    /// What holds for the whole request.
    pub rules: Rules,
    /// Names that may stand beside the request's own; what only holds others' requests has none.
    beside: &'static [&'static str],
    faults: Faults<'t>,
}

impl<'t> Reader<'t> {
    /// A reader of what holds others' requests.
    pub fn of(tree: &'t Value<'t>) -> Self {
        Self { faults: Faults::of(tree), ..Self::default() }
    }

    /// A reader of a whole request, which may have these names beside its own.
    pub fn beside(tree: &'t Value<'t>, names: &'static [&'static str]) -> Self {
        Self { beside: names, ..Self::of(tree) }
    }

    /// The faults, in the order of the document.
    pub fn refused(mut self) -> Refused {
        self.faults.take()
    }

    /// The faults, if there are any, in the order of the document.
    pub fn finish(self) -> Result<(), Refused> {
        if self.is_clean() { Ok(()) } else { Err(self.refused()) }
    }

    /// Notes a fault. Always `None`, so that it can end a reader.
    pub fn fault<T>(
        &mut self,
        at: &At<'_>,
        detail: impl Into<String>,
        expected: impl Into<String>,
    ) -> Option<T> {
        self.noted(at, || InvalidValue::new(detail, expected))
    }

    /// Notes what is wrong, which is written out only where it is told. Always `None`.
    pub fn noted<T>(&mut self, at: &At<'_>, wrong: impl FnOnce() -> InvalidValue) -> Option<T> {
        self.faults.note(at, wrong);
        None
    }

    /// Whether no fault was found so far.
    pub const fn is_clean(&self) -> bool {
        self.faults.is_empty()
    }

    /// Notes a fault that the maths found.
    pub fn push(&mut self, fault: FieldError) {
        self.faults.push(fault);
    }

    /// Notes what is wrong with a value.
    pub fn wrong<T>(&mut self, at: &At<'_>, wrong: InvalidValue) -> Option<T> {
        self.noted(at, || wrong)
    }

    /// A value that was written as `expected` tells, within bounds.
    pub fn within(&mut self, bounds: Bounds, value: f64, expected: &str, at: &At<'_>) -> Option<f64> {
        match bounds.check(value) {
            Ok(value) => Some(value),
            Err(mut wrong) => {
                wrong.expected = format!("{expected}, {}", wrong.expected);
                self.wrong(at, wrong)
            }
        }
    }

    /// Notes a name that was used before, and keeps it with those before. `what` is a noun, as `role`.
    pub fn keep_name(&mut self, what: &str, name: &str, before: &mut Vec<String>, at: &At<'_>) {
        if before.iter().any(|known| known == name) {
            self.fault::<()>(at, format!("the {what} is used before"), format!("{what}s that differ"));
        }
        before.push(name.to_owned());
    }

    /// A value of another type than the field's.
    pub fn mistyped<T>(&mut self, at: &At<'_>, tree: &Value<'_>, expected: &str) -> Option<T> {
        self.noted(at, || InvalidValue::new(format!("this is {}", tree.what()), expected))
    }

    /// The entries of an object, whose names are checked against the names that are known.
    pub fn object<'o, 'a>(
        &mut self,
        tree: &'o Value<'a>,
        at: &At<'_>,
        known: &[&str],
    ) -> Option<&'o Entries<'a>> {
        match tree {
            Value::Object(entries) => {
                self.names(entries.iter().map(|(name, _)| name.as_ref()), at, known);
                Some(entries)
            }
            Value::LongObject(names) => {
                self.names(names.iter(), at, known);
                None
            }
            _ => self.noted(at, || InvalidValue::new(format!("this is {}", tree.what()), object_with(known))),
        }
    }

    /// Checks the names of an object.
    fn names<'o>(&mut self, names: impl Iterator<Item = &'o str>, at: &At<'_>, known: &[&str]) {
        // The rules of the whole request stand beside its own fields.
        let beside = if matches!(at, At::Root) { self.beside } else { &[] };
        let (mut seen, mut repeated) = (Vec::with_capacity(known.len() + beside.len()), Vec::new());
        let mut unknown = 0;
        for name in names {
            if !known.contains(&name) && !beside.contains(&name) {
                unknown += 1;
                if unknown > UNKNOWN_TOLD {
                    continue;
                }
                self.noted::<()>(&At::Field(at, name), || {
                    let shown: String = name.chars().take(64).collect();
                    let known = error::names(&[known, beside].concat());
                    InvalidValue::new(format!("unknown name \"{shown}\""), format!("one of {known}"))
                });
            } else if repeated.contains(&name) {
                // Told before.
            } else if seen.contains(&name) {
                repeated.push(name);
                self.fault::<()>(
                    &At::Field(at, name),
                    format!("\"{name}\" is given more than once"),
                    "each name once",
                );
            } else {
                seen.push(name);
            }
        }
        if unknown > UNKNOWN_TOLD {
            let more = unknown - UNKNOWN_TOLD;
            self.fault::<()>(at, format!("{more} more unknown names"), "an object with known names only");
        }
    }
}

/// Unknown names of one object that are told one by one.
const UNKNOWN_TOLD: usize = 32;

/// A type that can be read out of a request.
pub trait Read: Sized {
    /// Reads a value; notes every fault and answers `None` where it cannot be had.
    fn read(tree: &Value<'_>, at: &At<'_>, reader: &mut Reader) -> Option<Self>;

    /// What a missing field means: a fault, unless the type is optional.
    fn missing(at: &At<'_>, reader: &mut Reader) -> Option<Self> {
        reader.noted(at, || InvalidValue::new("this field is missing", Self::expected()))
    }

    /// What is expected, for the fault of a missing field.
    fn expected() -> String {
        "the field".to_owned()
    }
}

impl<T: Read> Read for Option<T> {
    fn read(tree: &Value<'_>, at: &At<'_>, reader: &mut Reader) -> Option<Self> {
        match tree {
            Value::Null => Some(None),
            _ => T::read(tree, at, reader).map(Some),
        }
    }

    fn missing(_: &At<'_>, _: &mut Reader) -> Option<Self> {
        Some(None)
    }
}

/// An element of a list, with the limits of the list.
pub trait Item: Read {
    /// Fewest elements.
    const LEAST: usize = 1;
    /// Most elements.
    const MOST: usize;
    /// The elements in a sentence.
    const WHAT: &'static str;
}

impl<T: Item> Read for Vec<T> {
    fn read(tree: &Value<'_>, at: &At<'_>, reader: &mut Reader) -> Option<Self> {
        let items = items(tree, Self::expected, at, reader)?;
        if items.len() < T::LEAST || items.len() > T::MOST {
            return reader.fault(at, format!("the list has {}", elements(items.len())), Self::expected());
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
        format!("a list of {} to {} {}", T::LEAST, T::MOST, T::WHAT)
    }
}

/// The elements of a list; in a query they are parted by commas.
pub fn items<'t, 'a>(
    tree: &'t Value<'a>,
    expected: impl Fn() -> String,
    at: &At<'_>,
    reader: &mut Reader,
) -> Option<Cow<'t, [Value<'a>]>> {
    match tree {
        Value::List(items) => Some(Cow::Borrowed(items)),
        Value::Parameter(text) => {
            Some(text.split(',').map(|part| Value::Parameter(part.to_owned().into())).collect())
        }
        Value::LongList(count) => {
            reader.noted(at, || InvalidValue::new(format!("the list has {}", elements(*count)), expected()))
        }
        _ => reader.mistyped(at, tree, &expected()),
    }
}

/// A list of just so many, each element read by its place; every fault is told.
pub fn array_of<T, const N: usize>(
    tree: &Value<'_>,
    expected: &str,
    at: &At<'_>,
    reader: &mut Reader,
    read: impl Fn(usize, &Value<'_>, &At<'_>, &mut Reader) -> Option<T>,
) -> Option<[T; N]> {
    let items = items(tree, || expected.to_owned(), at, reader)?;
    if items.len() != N {
        return reader.fault(at, format!("the list has {}", elements(items.len())), expected);
    }
    let read: Vec<Option<T>> = items
        .iter()
        .enumerate()
        .map(|(index, item)| read(index, item, &At::Index(at, index), reader))
        .collect();
    read.into_iter().collect::<Option<Vec<T>>>()?.try_into().ok()
}

/// So many elements, in a sentence.
pub fn elements(count: usize) -> String {
    format!("{count} element{}", if count == 1 { "" } else { "s" })
}

/// An object of such fields, for what is expected.
pub fn object_with(known: &[&str]) -> String {
    format!("an object with {}", error::names(known))
}

/// One field of an object that [`Reader::object`] has checked.
pub fn field<T: Read>(entries: &Entries<'_>, name: &str, at: &At<'_>, reader: &mut Reader) -> Option<T> {
    let at = At::Field(at, name);
    match entries.iter().find(|(key, _)| key == name) {
        Some((_, tree)) => T::read(tree, &at, reader),
        None => T::missing(&at, reader),
    }
}

/// Makes the reader of a struct whose fields are the names of a JSON object.
macro_rules! reads {
    ($type:ident { $($field:ident),+ $(,)? }) => {
        impl $crate::request::reader::Read for $type {
            fn read(
                tree: &$crate::request::value::Value<'_>,
                at: &$crate::request::place::At<'_>,
                reader: &mut $crate::request::reader::Reader,
            ) -> Option<Self> {
                let entries = reader.object(tree, at, &[$(stringify!($field)),+])?;
                $(let $field = $crate::request::reader::field(entries, stringify!($field), at, reader);)+
                Some(Self { $($field: $field?),+ })
            }

            fn expected() -> String {
                $crate::request::reader::object_with(&[$(stringify!($field)),+])
            }
        }
    };
}
pub(crate) use reads;

/// A request with no fields of its own.
pub struct Nothing;

impl Read for Nothing {
    fn read(tree: &Value<'_>, at: &At<'_>, reader: &mut Reader) -> Option<Self> {
        reader.object(tree, at, &[]).map(|_| Self)
    }
}
