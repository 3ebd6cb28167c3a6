//! Splits a list into the texts of its questions, so that a fault in one does not affect the others.

use std::{collections::VecDeque, fmt};

use axum::body::Bytes;
use serde::{
    Deserialize, Deserializer,
    de::{self, MapAccess, SeqAccess, Visitor},
};
use serde_json::value::RawValue;

use crate::{
    endpoints::batch::request::{BatchRequest, DefaultsLine, Unread},
    request::{
        json,
        place::At,
        reader::{Read, Reader, lists::Item},
        value::{MAX_STORED, Value},
    },
    server::problem::Problem,
};

/// An object whose values are not read.
struct RawObject<'a>(Vec<(String, &'a RawValue)>);

impl<'de> Deserialize<'de> for RawObject<'de> {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        deserializer.deserialize_map(RawVisitor)
    }
}

struct RawVisitor;

impl<'de> Visitor<'de> for RawVisitor {
    type Value = RawObject<'de>;

    fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("an object")
    }

    fn visit_map<A: MapAccess<'de>>(self, mut map: A) -> Result<RawObject<'de>, A::Error> {
        let mut entries = Vec::new();
        while let Some(entry) = map.next_entry()? {
            if entries.len() == MAX_STORED {
                // The body is then parsed as any other, which reports it.
                return Err(de::Error::custom("too many names"));
            }
            entries.push(entry);
        }
        Ok(RawObject(entries))
    }
}

/// A list whose elements are not read: the texts of the first ones, up to the limit, and the count of all.
struct RawList<'a>(Vec<&'a RawValue>, usize);

impl<'de> Deserialize<'de> for RawList<'de> {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        deserializer.deserialize_seq(RawListVisitor)
    }
}

struct RawListVisitor;

impl<'de> Visitor<'de> for RawListVisitor {
    type Value = RawList<'de>;

    fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("a list")
    }

    fn visit_seq<A: SeqAccess<'de>>(self, mut list: A) -> Result<RawList<'de>, A::Error> {
        let (mut first, mut count) = (Vec::new(), 0);
        while let Some(raw) = list.next_element()? {
            count += 1;
            if count <= Unread::MAX {
                first.push(raw);
            }
        }
        Ok(RawList(first, count))
    }
}

/// The texts of the questions and of their defaults, or the faults of the list itself.
pub fn split(body: &Bytes) -> Result<(VecDeque<Bytes>, Option<Bytes>), Problem> {
    let Ok(RawObject(entries)) = serde_json::from_slice(json::strip_bom(body)) else {
        // Not an object or not JSON: reported as for any other body.
        check_shape(&json::parse(body)?)?;
        return Ok((VecDeque::new(), None));
    };
    let (mut texts, mut defaults) = (VecDeque::new(), None);
    let mut shape = Vec::new();
    for (name, raw) in entries {
        let list = serde_json::from_str::<RawList<'_>>(raw.get()).ok().filter(|_| name == "requests");
        let value = match list {
            Some(RawList(first, count)) => {
                texts = first.iter().map(|raw| body.slice_ref(raw.get().as_bytes())).collect();
                if count > Unread::MAX {
                    Value::LongList(count)
                } else {
                    Value::List(vec![Value::Null; count])
                }
            }
            None => {
                if name == "defaults" && raw.get() != "null" {
                    defaults = Some(body.slice_ref(raw.get().as_bytes()));
                }
                json::parse(raw.get().as_bytes())?
            }
        };
        shape.push((name.into(), value));
    }
    check_shape(&Value::Object(shape))?;
    Ok((texts, defaults))
}

/// The text of the defaults, if a line is such a line: an object that begins with `defaults`.
pub fn defaults_line(line: &Bytes) -> Option<Result<Bytes, Problem>> {
    let begin = json::strip_bom(line).trim_ascii_start().strip_prefix(b"{")?.trim_ascii_start();
    begin.starts_with(b"\"defaults\"").then_some(())?;
    let check = || {
        let value = json::parse(line)?;
        let mut reader = Reader::new(&value);
        DefaultsLine::read(&value, &At::Root, &mut reader);
        Ok::<_, Problem>(reader.finish()?)
    };
    // That is the only name, so its value ends with the object.
    let from = line.iter().position(|byte| *byte == b':').map_or(0, |colon| colon + 1);
    let to = line.iter().rposition(|byte| *byte == b'}').unwrap_or_default().max(from);
    Some(check().map(|()| line.slice(from..to)))
}

/// Checks the shape of the batch, apart from the questions themselves.
fn check_shape(value: &Value<'_>) -> Result<(), Problem> {
    let mut reader = Reader::new(value);
    BatchRequest::read(value, &At::Root, &mut reader);
    Ok(reader.finish()?)
}
