//! A request as it arrived: JSON or a query string, in document order, before anything is believed.

use std::{borrow::Cow, fmt, mem};

use serde::{
    Deserialize, Deserializer, Serialize, Serializer,
    de::{MapAccess, SeqAccess, Visitor},
};

use crate::light::{
    fault::{Fault, Place},
    notation,
};

/// One value of a request. Objects keep their order and repeated names, so that both can be told.
#[derive(Debug, Clone, PartialEq)]
pub enum Tree<'a> {
    /// `null`.
    Null,
    /// `true` or `false`.
    Bool(bool),
    /// A number.
    Number(f64),
    /// A string.
    Text(Cow<'a, str>),
    /// The value of a query parameter, or of a word of a command line, which may be a number or a text.
    Parameter(Cow<'a, str>),
    /// A list.
    List(Vec<Tree<'a>>),
    /// An object.
    Object(Vec<(Cow<'a, str>, Tree<'a>)>),
}

impl<'a> Tree<'a> {
    /// The entry `name` of an object.
    pub fn get(&self, name: &str) -> Option<&Tree<'a>> {
        match self {
            Self::Object(entries) => entries.iter().find(|(key, _)| key == name).map(|(_, tree)| tree),
            _ => None,
        }
    }

    /// A number, or a parameter that is one.
    pub fn number(&self) -> Option<f64> {
        match self {
            Self::Number(number) => Some(*number),
            Self::Parameter(text) => notation::bare_number(text),
            _ => None,
        }
    }

    /// A text.
    pub fn text(&self) -> Option<&str> {
        match self {
            Self::Text(text) | Self::Parameter(text) => Some(text),
            _ => None,
        }
    }

    /// Makes the text at a place a parameter.
    pub fn loosen(&mut self, place: &Place) {
        let mut here = self;
        for token in tokens(place.pointer()) {
            let next = match here {
                Self::Object(entries) => {
                    entries.iter_mut().find(|(key, _)| *key == token).map(|(_, tree)| tree)
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

    /// What it is, in a sentence.
    pub const fn what(&self) -> &'static str {
        match self {
            Self::Null => "null",
            Self::Bool(_) => "a boolean",
            Self::Number(_) => "a number",
            Self::Text(_) | Self::Parameter(_) => "a string",
            Self::List(_) => "a list",
            Self::Object(_) => "an object",
        }
    }

    /// Sorts faults into the order of the document; what is missing comes after what is there.
    pub fn sort(&self, faults: &mut [Fault]) {
        faults.sort_by_cached_key(|fault| self.position(fault.place.pointer()));
    }

    fn position(&self, pointer: &str) -> Vec<usize> {
        let mut here = Some(self);
        tokens(pointer)
            .map(|token| {
                let found = match here {
                    Some(Self::Object(entries)) => entries
                        .iter()
                        .position(|(key, _)| *key == token)
                        .map(|index| (index, &entries[index].1)),
                    Some(Self::List(items)) => token
                        .parse::<usize>()
                        .ok()
                        .and_then(|index| items.get(index).map(|item| (index, item))),
                    _ => None,
                };
                here = found.map(|(_, tree)| tree);
                found.map_or(usize::MAX, |(index, _)| index)
            })
            .collect()
    }
}

/// The parts of a JSON pointer.
pub fn tokens(pointer: &str) -> impl Iterator<Item = String> {
    pointer.split('/').skip(1).map(|token| token.replace("~1", "/").replace("~0", "~"))
}

/// As JSON, in which a parameter is a string.
impl Serialize for Tree<'_> {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        match self {
            Self::Null => serializer.serialize_unit(),
            Self::Bool(value) => serializer.serialize_bool(*value),
            Self::Number(number) => serializer.serialize_f64(*number),
            Self::Text(text) | Self::Parameter(text) => serializer.serialize_str(text),
            Self::List(items) => serializer.collect_seq(items),
            Self::Object(entries) => serializer.collect_map(entries.iter().map(|(key, tree)| (key, tree))),
        }
    }
}

impl<'de: 'a, 'a> Deserialize<'de> for Tree<'a> {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        deserializer.deserialize_any(TreeVisitor)
    }
}

/// Numbers nearer to zero are zero.
const LEAST: f64 = 1e-12;

struct TreeVisitor;

impl<'de> Visitor<'de> for TreeVisitor {
    type Value = Tree<'de>;

    fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("JSON")
    }

    fn visit_unit<E>(self) -> Result<Self::Value, E> {
        Ok(Tree::Null)
    }

    fn visit_bool<E>(self, value: bool) -> Result<Self::Value, E> {
        Ok(Tree::Bool(value))
    }

    fn visit_i64<E>(self, value: i64) -> Result<Self::Value, E> {
        Ok(Tree::Number(value as f64))
    }

    fn visit_u64<E>(self, value: u64) -> Result<Self::Value, E> {
        Ok(Tree::Number(value as f64))
    }

    fn visit_f64<E>(self, value: f64) -> Result<Self::Value, E> {
        // Nothing measured is so small, and what is divided by it overflows.
        Ok(Tree::Number(if value.abs() < LEAST { 0.0 } else { value }))
    }

    fn visit_borrowed_str<E>(self, value: &'de str) -> Result<Self::Value, E> {
        Ok(Tree::Text(Cow::Borrowed(value)))
    }

    fn visit_str<E>(self, value: &str) -> Result<Self::Value, E> {
        Ok(Tree::Text(Cow::Owned(value.to_owned())))
    }

    fn visit_seq<A: SeqAccess<'de>>(self, mut access: A) -> Result<Self::Value, A::Error> {
        let mut items = Vec::new();
        while let Some(item) = access.next_element()? {
            items.push(item);
        }
        Ok(Tree::List(items))
    }

    fn visit_map<A: MapAccess<'de>>(self, mut access: A) -> Result<Self::Value, A::Error> {
        let mut entries = Vec::new();
        while let Some((Key(key), value)) = access.next_entry()? {
            entries.push((key, value));
        }
        Ok(Tree::Object(entries))
    }
}

/// A key, borrowed where it has no escapes.
struct Key<'a>(Cow<'a, str>);

impl<'de: 'a, 'a> Deserialize<'de> for Key<'a> {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        match deserializer.deserialize_str(TreeVisitor)? {
            Tree::Text(text) => Ok(Self(text)),
            _ => Ok(Self(Cow::Borrowed(""))),
        }
    }
}
