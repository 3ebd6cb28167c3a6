//! A parsed request, JSON or a query string, in document order and not yet checked.

use std::{borrow::Cow, fmt, iter, mem};

use serde::{
    Deserialize, Deserializer, Serialize, Serializer,
    de::{IgnoredAny, MapAccess, SeqAccess, Visitor},
};

use crate::{light::quantity::notation, request::place::Pointer, server::worker_pool::yield_at};

/// One value of a request. Objects keep their order and repeated names, which faults refer to.
#[derive(Debug, Clone, PartialEq)]
pub enum Value<'a> {
    /// `null`.
    Null,
    /// `true` or `false`.
    Bool(bool),
    /// A number.
    Number(f64),
    /// A string.
    Text(Cow<'a, str>),
    /// The value of a query parameter or of a command-line argument, which may be a number or a text.
    Parameter(Cow<'a, str>),
    /// A list.
    List(Vec<Value<'a>>),
    /// An object.
    Object(Entries<'a>),
    /// A list longer than any request may have: only the number of elements is stored.
    LongList(usize),
    /// An object with more entries than any request may have: only their names are stored, for faults.
    LongObject(Names<'a>),
}

/// Maximum number of elements of a list, or entries of an object, that are stored: twice as many as the longest list of
/// any request. A higher limit would cost more than the elements: large blocks of memory are freed late, and per thread.
pub const MAX_STORED: usize = 4096;

/// The names of a long object, in chunks of [`MAX_STORED`].
#[derive(Debug, Clone, PartialEq)]
pub struct Names<'a>(Vec<Vec<Cow<'a, str>>>);

impl<'a> Names<'a> {
    fn push(&mut self, name: Cow<'a, str>) {
        match self.0.last_mut().filter(|chunk| chunk.len() < MAX_STORED) {
            Some(chunk) => chunk.push(name),
            None => self.0.push(vec![name]),
        }
    }

    /// The names, in document order.
    pub fn iter(&self) -> impl Iterator<Item = &str> {
        self.0.iter().flatten().map(AsRef::as_ref)
    }
}

/// The entries of an object, in document order.
pub type Entries<'a> = Vec<(Cow<'a, str>, Value<'a>)>;

/// Numbers closer to zero are read as zero.
const LEAST: f64 = 1e-12;

impl<'a> Value<'a> {
    /// The entry `name` of an object.
    pub fn get(&self, name: &str) -> Option<&Value<'a>> {
        match self {
            Self::Object(entries) => entries.iter().find(|(key, _)| key == name).map(|(_, value)| value),
            _ => None,
        }
    }

    /// The value as a number, if it is one or a parameter that can be read as one.
    pub fn number(&self) -> Option<f64> {
        match self {
            // No measured value is so small, and a division by it would overflow.
            Self::Number(number) if number.abs() < LEAST => Some(0.0),
            Self::Number(number) => Some(*number),
            Self::Parameter(text) => notation::bare_number(text),
            _ => None,
        }
    }

    /// The value as a text, if it is one.
    pub fn text(&self) -> Option<&str> {
        match self {
            Self::Text(text) | Self::Parameter(text) => Some(text),
            _ => None,
        }
    }

    /// Turns the text at a place into a [`Value::Parameter`], which may also be read as a number.
    pub fn make_parameter(&mut self, place: &Pointer) {
        let mut here = self;
        for token in tokens(place.as_str()) {
            let next = match here {
                Self::Object(entries) => {
                    entries.iter_mut().find(|(key, _)| *key == token).map(|(_, value)| value)
                }
                Self::List(items) => token.parse::<usize>().ok().and_then(|index| items.get_mut(index)),
                _ => None,
            };
            let Some(next) = next else { return };
            here = next;
        }
        if let Self::Text(text) = here {
            *here = Self::Parameter(mem::take(text));
        }
    }

    /// Its type, with article, for messages.
    pub const fn what(&self) -> &'static str {
        match self {
            Self::Null => "null",
            Self::Bool(_) => "a boolean",
            Self::Number(_) => "a number",
            Self::Text(_) | Self::Parameter(_) => "a string",
            Self::List(_) | Self::LongList(_) => "a list",
            Self::Object(_) | Self::LongObject(_) => "an object",
        }
    }
}

/// The unescaped parts of a JSON pointer.
pub fn tokens(pointer: &str) -> impl Iterator<Item = Cow<'_, str>> {
    pointer.split('/').skip(1).map(|token| {
        if token.contains('~') { token.replace("~1", "/").replace("~0", "~").into() } else { token.into() }
    })
}

/// Serialized as JSON; a parameter becomes a string.
impl Serialize for Value<'_> {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        match self {
            Self::Null => serializer.serialize_unit(),
            Self::Bool(value) => serializer.serialize_bool(*value),
            Self::Number(number) => serializer.serialize_f64(*number),
            Self::Text(text) | Self::Parameter(text) => serializer.serialize_str(text),
            Self::List(items) => serializer.collect_seq(items),
            Self::Object(entries) => serializer.collect_map(entries.iter().map(|(key, value)| (key, value))),
            // Of the same length, so that it is rejected for the same reason.
            Self::LongList(count) => serializer.collect_seq(iter::repeat_n((), *count)),
            Self::LongObject(names) => serializer.collect_map(names.iter().map(|name| (name, ()))),
        }
    }
}

impl<'de: 'a, 'a> Deserialize<'de> for Value<'a> {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        deserializer.deserialize_any(ValueVisitor)
    }
}

struct ValueVisitor;

impl<'de> Visitor<'de> for ValueVisitor {
    type Value = Value<'de>;

    fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("JSON")
    }

    fn visit_unit<E>(self) -> Result<Self::Value, E> {
        Ok(Value::Null)
    }

    fn visit_bool<E>(self, value: bool) -> Result<Self::Value, E> {
        Ok(Value::Bool(value))
    }

    fn visit_i64<E>(self, value: i64) -> Result<Self::Value, E> {
        Ok(Value::Number(value as f64))
    }

    fn visit_u64<E>(self, value: u64) -> Result<Self::Value, E> {
        Ok(Value::Number(value as f64))
    }

    fn visit_f64<E>(self, value: f64) -> Result<Self::Value, E> {
        Ok(Value::Number(value))
    }

    fn visit_borrowed_str<E>(self, value: &'de str) -> Result<Self::Value, E> {
        Ok(Value::Text(Cow::Borrowed(value)))
    }

    fn visit_str<E>(self, value: &str) -> Result<Self::Value, E> {
        Ok(Value::Text(Cow::Owned(value.to_owned())))
    }

    fn visit_seq<A: SeqAccess<'de>>(self, mut access: A) -> Result<Self::Value, A::Error> {
        let mut items = Vec::new();
        while let Some(item) = access.next_element()? {
            if items.len() == MAX_STORED {
                drop(items);
                let mut count = MAX_STORED + 1;
                while access.next_element::<IgnoredAny>()?.is_some() {
                    count += 1;
                }
                return Ok(Value::LongList(count));
            }
            push(&mut items, item);
            yield_at(items.len());
        }
        Ok(Value::List(items))
    }

    fn visit_map<A: MapAccess<'de>>(self, mut access: A) -> Result<Self::Value, A::Error> {
        let mut entries = Vec::new();
        while let Some((Key(key), value)) = access.next_entry()? {
            if entries.len() == MAX_STORED {
                let mut names = Names(vec![entries.into_iter().map(|(key, _)| key).collect()]);
                names.push(key);
                while let Some((Key(key), IgnoredAny)) = access.next_entry()? {
                    names.push(key);
                }
                return Ok(Value::LongObject(names));
            }
            push(&mut entries, (key, value));
            yield_at(entries.len());
        }
        Ok(Value::Object(entries))
    }
}

/// Adds to a list, growing short lists by one element at a time. A body of nothing but brackets has a list for every two
/// bytes, and spare capacity that is freed later would fragment memory.
fn push<T>(items: &mut Vec<T>, item: T) {
    if items.len() < 3 {
        items.reserve_exact(1);
    }
    items.push(item);
}

/// A key, borrowed if it has no escapes.
struct Key<'a>(Cow<'a, str>);

impl<'de: 'a, 'a> Deserialize<'de> for Key<'a> {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        match deserializer.deserialize_str(ValueVisitor)? {
            Value::Text(text) => Ok(Self(text)),
            _ => Ok(Self(Cow::Borrowed(""))),
        }
    }
}
