//! The faults of one request: the first ones in document order, and a count of the rest.
//!
//! A body can have thousands of faults. Only those that are listed in the answer are formatted and stored; the others
//! are counted.

use std::{collections::HashMap, mem, ptr};

use crate::{
    light::error::InvalidPart,
    request::{
        place::{At, Pointer},
        value::{Value, tokens},
    },
    server::{
        problem::{LISTED, LocatedError, Refused},
        worker_pool::yield_at,
    },
    wording::{
        fault::Fault,
        phrase::{Phrased as _, Sentence},
    },
};

/// Faults that are formatted beside quick calls. More are found anew on a worker, where formatting them delays nobody.
pub const FEW: usize = 16;

/// A fault and its place.
#[derive(Debug, Clone, PartialEq)]
pub struct FieldError {
    /// The place.
    pub pointer: Pointer,
    /// What is wrong.
    pub fault: Fault,
}

impl FieldError {
    /// The error with its texts.
    pub fn written(&self) -> LocatedError {
        let Sentence { phrase, text, second, params } = self.fault.sentence();
        LocatedError::new(self.pointer.as_str(), phrase.code, [&text, &second], params)
    }
}

impl From<InvalidPart> for FieldError {
    fn from(InvalidPart { part, error }: InvalidPart) -> Self {
        Self { pointer: part.into(), fault: error.into() }
    }
}

/// Collects faults in whatever order they are found. Without a request (`order` is `None`) they are only counted.
#[derive(Default)]
pub struct Faults<'t> {
    order: Option<DocumentOrder<'t>>,
    listed: Vec<(Position, FieldError)>,
    /// The position of the last fault to be listed, once the list is full. Faults after it are only counted.
    last: Option<Position>,
    count: usize,
    /// The most that are formatted; the others are only counted.
    most: Option<usize>,
}

impl<'t> Faults<'t> {
    /// Collects the faults of a request.
    pub fn new(value: &'t Value<'t>) -> Self {
        Self { order: Some(DocumentOrder::new(value)), ..Self::default() }
    }

    /// Collects the first [`FEW`] that are found, and counts the others.
    pub fn few(value: &'t Value<'t>) -> Self {
        Self { most: Some(FEW), ..Self::new(value) }
    }

    /// Whether there are none.
    pub const fn is_empty(&self) -> bool {
        self.count == 0
    }

    /// Adds a fault at a place. `fault` is called only if the fault may be listed.
    pub fn push_with(&mut self, at: &At<'_>, fault: impl FnOnce() -> Fault) {
        let error = || FieldError { pointer: at.pointer(), fault: fault() };
        self.add(|order| order.position_at(at), error);
    }

    /// Adds a fault that knows its place.
    pub fn push(&mut self, error: FieldError) {
        let pointer = error.pointer.clone();
        self.add(|order| order.position_of(pointer.as_str()), || error);
    }

    fn add(
        &mut self,
        position: impl FnOnce(&mut DocumentOrder<'t>) -> Position,
        error: impl FnOnce() -> FieldError,
    ) {
        self.count += 1;
        yield_at(self.count);
        let is_full = self.most.is_some_and(|most| self.count > most);
        let Some(order) = self.order.as_mut().filter(|_| !is_full) else { return };
        let position = position(order);
        if self.last.as_ref().is_none_or(|last| position < *last) {
            self.list(position, error());
        }
    }

    fn list(&mut self, position: Position, fault: FieldError) {
        self.listed.push((position, fault));
        // Sorting only when twice the limit is reached costs less than sorting after every fault.
        if self.listed.len() >= 2 * LISTED {
            self.sort();
            self.last = self.listed.last().map(|(position, _)| position.clone());
        }
    }

    fn sort(&mut self) {
        // A stable sort: faults at the same place stay in the order in which they were found.
        self.listed.sort_by(|(one, _), (other, _)| one.cmp(other));
        self.listed.truncate(LISTED);
    }

    /// Takes the faults out, sorted.
    pub fn take(&mut self) -> Refused {
        self.sort();
        let first: Vec<_> =
            mem::take(&mut self.listed).into_iter().map(|(_, fault)| fault.written()).collect();
        Refused { more: self.count - first.len(), first }
    }
}

/// The position of a value in the document: the index of each entry or element on the path to it. Missing values sort
/// after existing ones.
type Position = Vec<usize>;

/// Finds positions in a request.
struct DocumentOrder<'t> {
    value: &'t Value<'t>,
    /// Names already looked up in large objects, keyed by the object's address. Without it, many faults in a long object
    /// would cost the product of both lengths.
    lookups: HashMap<usize, HashMap<Box<str>, Option<usize>>>,
}

/// Objects with at least this many entries cache their lookups.
const LARGE: usize = 64;

impl<'t> DocumentOrder<'t> {
    fn new(value: &'t Value<'t>) -> Self {
        Self { value, lookups: HashMap::new() }
    }

    fn position_at(&mut self, at: &At<'_>) -> Position {
        let mut position = Vec::new();
        self.walk(at, &mut position);
        position
    }

    fn walk(&mut self, at: &At<'_>, position: &mut Position) -> Option<&'t Value<'t>> {
        let (index, value) = match at {
            At::Root => return Some(self.value),
            At::Field(parent, name) => {
                let parent = self.walk(parent, position);
                self.entry(parent, name)
            }
            At::Index(parent, index) => element(self.walk(parent, position), *index),
        }
        .unzip();
        position.push(index.unwrap_or(usize::MAX));
        value.flatten()
    }

    fn position_of(&mut self, pointer: &str) -> Position {
        let mut here = Some(self.value);
        let mut position = Vec::new();
        for token in tokens(pointer) {
            let found = match here {
                Some(Value::List(_)) => token.parse().ok().and_then(|index| element(here, index)),
                _ => self.entry(here, &token),
            };
            let (index, value) = found.unzip();
            position.push(index.unwrap_or(usize::MAX));
            here = value.flatten();
        }
        position
    }

    /// The index of a name in an object, and its value unless the object is too long to be stored.
    fn entry(&mut self, object: Option<&'t Value<'t>>, name: &str) -> Option<(usize, Option<&'t Value<'t>>)> {
        match object? {
            Value::Object(entries) => {
                let search = || entries.iter().position(|(key, _)| key == name);
                let index = if entries.len() < LARGE {
                    search()
                } else {
                    self.lookup(entries.as_ptr().addr(), name, search)
                };
                index.map(|index| (index, Some(&entries[index].1)))
            }
            object @ Value::LongObject(names) => {
                let search = || names.iter().position(|key| key == name);
                self.lookup(ptr::from_ref(object).addr(), name, search).map(|index| (index, None))
            }
            _ => None,
        }
    }

    /// Looks up a name in the object at an address, once for each name.
    fn lookup(&mut self, object: usize, name: &str, search: impl FnOnce() -> Option<usize>) -> Option<usize> {
        let lookups = self.lookups.entry(object).or_default();
        match lookups.get(name) {
            Some(index) => *index,
            None => *lookups.entry(name.into()).or_insert_with(search),
        }
    }
}

fn element<'t>(list: Option<&'t Value<'t>>, index: usize) -> Option<(usize, Option<&'t Value<'t>>)> {
    match list {
        Some(Value::List(items)) => items.get(index).map(|item| (index, Some(item))),
        _ => None,
    }
}

/// The errors that `light` found, in document order.
pub fn in_order(value: &Value<'_>, errors: Vec<InvalidPart>) -> Refused {
    let mut faults = Faults::new(value);
    for error in errors {
        faults.push(error.into());
    }
    faults.take()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn value(text: &str) -> Value<'_> {
        serde_json::from_str(text).expect("JSON")
    }

    fn pointers(refused: &Refused) -> Vec<&str> {
        refused.first.iter().map(LocatedError::pointer).collect()
    }

    #[test]
    fn the_first_hundred_in_document_order_are_listed() {
        let items = ["{}"; 300].join(",");
        let text = format!("{{\"later\": [{items}], \"first\": [{items}]}}");
        let value = value(&text);
        let mut faults = Faults::new(&value);
        for list in ["first", "later"] {
            let list = At::Field(&At::Root, list);
            for index in (0..300).rev() {
                let item = At::Index(&list, index);
                for field in ["b", "a"] {
                    faults.push_with(&At::Field(&item, field), || Fault::NotUtf8);
                }
            }
        }
        let refused = faults.take();
        assert_eq!((refused.first.len(), refused.more), (100, 1100));
        // "later" comes first in the document. Missing fields have no position, so they stay in the order of discovery.
        let expected: Vec<String> =
            (0..50).flat_map(|k| [format!("/later/{k}/b"), format!("/later/{k}/a")]).collect();
        assert_eq!(pointers(&refused), expected);
    }

    #[test]
    fn faults_that_cannot_be_listed_are_not_formatted() {
        let text = format!("[{}]", vec!["0"; 5000].join(","));
        let value = value(&text);
        let mut faults = Faults::new(&value);
        let mut formatted = 0;
        for index in 0..5000 {
            faults.push_with(&At::Index(&At::Root, index), || {
                formatted += 1;
                Fault::NotUtf8
            });
        }
        assert_eq!((faults.take().more, formatted), (4900, 2 * LISTED));
        let mut counted = Faults::default();
        counted.push_with(&At::Root, || unreachable!("only counted"));
        assert!(!counted.is_empty());
    }

    #[test]
    fn faults_in_large_objects_are_in_document_order() {
        let unknown: Vec<String> = (0..1000).map(|k| format!("\"n{k}\": 0")).collect();
        let text = format!("{{{}, \"b\": [0], \"a\": 0}}", unknown.join(", "));
        let value = value(&text);
        let faults: Vec<FieldError> = ["/missing", "/a", "/b/0", "/n999", "/b", "", "/n0", "/a"]
            .iter()
            .map(|pointer| {
                let pointer =
                    pointer.split('/').skip(1).fold(Pointer::root(), |pointer, token| pointer.field(token));
                FieldError { pointer, fault: Fault::NotUtf8 }
            })
            .collect();
        let mut collected = Faults::new(&value);
        for fault in faults {
            collected.push(fault);
        }
        let expected = ["", "/n0", "/n999", "/b", "/b/0", "/a", "/a", "/missing"];
        assert_eq!(pointers(&collected.take()), expected);
    }

    #[test]
    fn faults_in_an_object_too_long_to_store_are_in_document_order() {
        let unknown: Vec<String> = (0..10_000).map(|k| format!("\"n{k}\": [0]")).collect();
        let text = format!("{{{}, \"a\": 0}}", unknown.join(", "));
        let value = value(&text);
        assert!(matches!(&value, Value::LongObject(names) if names.iter().count() == 10_001));
        let mut faults = Faults::new(&value);
        for name in ["missing", "a", "n9999", "n4096", "n4095", "n0"] {
            faults.push_with(&At::Field(&At::Root, name), || Fault::NotUtf8);
        }
        assert_eq!(pointers(&faults.take()), ["/n0", "/n4095", "/n4096", "/n9999", "/a", "/missing"]);
        assert_eq!(serde_json::to_string(&value).expect("JSON").matches("null").count(), 10_001);
    }

    #[test]
    fn beyond_a_few_faults_the_rest_is_only_counted() {
        let value = value("[]");
        let mut faults = Faults::few(&value);
        let mut formatted = 0;
        for index in 0..500 {
            faults.push_with(&At::Index(&At::Root, index), || {
                formatted += 1;
                Fault::NotUtf8
            });
        }
        let refused = faults.take();
        assert_eq!((refused.first.len(), refused.more, formatted), (FEW, 500 - FEW, FEW));
    }
}
