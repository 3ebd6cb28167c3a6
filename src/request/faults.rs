//! The faults of one reading: the first in the order of the document, and how many more there are.
//!
//! A body can have more faults than bytes that anyone wants to read back. Those that are not listed are counted, and
//! neither written nor kept.

use std::{collections::HashMap, mem, ptr};

use crate::{
    light::error::{FieldError, InvalidValue},
    request::{
        place::At,
        value::{Value, tokens},
    },
    server::problem::{LISTED, Refused},
};

/// Faults as they are found, in any order. Without a tree, whose order it is, they are only counted.
#[derive(Default)]
pub struct Faults<'t> {
    order: Option<Order<'t>>,
    kept: Vec<(Position, FieldError)>,
    /// Where the last stands that is listed, once there are enough; no fault behind it is kept.
    last: Option<Position>,
    count: usize,
}

impl<'t> Faults<'t> {
    /// The faults of a tree.
    pub fn of(tree: &'t Value<'t>) -> Self {
        Self { order: Some(Order::of(tree)), ..Self::default() }
    }

    /// Whether there is none.
    pub const fn is_empty(&self) -> bool {
        self.count == 0
    }

    /// Notes what is wrong at a place; it is written out only where it may be listed.
    pub fn note(&mut self, at: &At<'_>, wrong: impl FnOnce() -> InvalidValue) {
        self.count += 1;
        let Some(order) = &mut self.order else { return };
        let position = order.of_place(at);
        if self.last.as_ref().is_none_or(|last| position < *last) {
            self.keep(position, wrong().at(&at.place()));
        }
    }

    /// Notes a fault that the maths found.
    pub fn push(&mut self, fault: FieldError) {
        self.count += 1;
        let Some(order) = &mut self.order else { return };
        let position = order.of_pointer(fault.place.pointer());
        self.keep(position, fault);
    }

    fn keep(&mut self, position: Position, fault: FieldError) {
        self.kept.push((position, fault));
        // Sorting each time would take longer than to keep as many again.
        if self.kept.len() >= 2 * LISTED {
            self.sort();
            self.last = self.kept.last().map(|(position, _)| position.clone());
        }
    }

    fn sort(&mut self) {
        // Stable: of several at one place, those noted first come first.
        self.kept.sort_by(|(one, _), (other, _)| one.cmp(other));
        self.kept.truncate(LISTED);
    }

    /// The faults so far.
    pub fn take(&mut self) -> Refused {
        self.sort();
        let first: Vec<FieldError> = mem::take(&mut self.kept).into_iter().map(|(_, fault)| fault).collect();
        Refused { more: self.count - first.len(), first }
    }
}

/// Where a value stands: the index of each entry or element on the way down. What is missing comes after what is there.
type Position = Vec<usize>;

/// The order of a tree.
struct Order<'t> {
    tree: &'t Value<'t>,
    /// Entries of large objects by their names, as far as they were looked for: a long object that is searched for each
    /// of many faults costs as much as both multiplied. An object is known by its address.
    found: HashMap<usize, HashMap<Box<str>, Option<usize>>>,
}

/// Entries from which on an object is searched only once for each name.
const LARGE: usize = 64;

impl<'t> Order<'t> {
    fn of(tree: &'t Value<'t>) -> Self {
        Self { tree, found: HashMap::new() }
    }

    fn of_place(&mut self, at: &At<'_>) -> Position {
        let mut position = Vec::new();
        self.walk(at, &mut position);
        position
    }

    fn walk(&mut self, at: &At<'_>, position: &mut Position) -> Option<&'t Value<'t>> {
        let (index, tree) = match at {
            At::Root => return Some(self.tree),
            At::Field(parent, name) => {
                let parent = self.walk(parent, position);
                self.entry(parent, name)
            }
            At::Index(parent, index) => element(self.walk(parent, position), *index),
        }
        .unzip();
        position.push(index.unwrap_or(usize::MAX));
        tree.flatten()
    }

    fn of_pointer(&mut self, pointer: &str) -> Position {
        let mut here = Some(self.tree);
        let mut position = Vec::new();
        for token in tokens(pointer) {
            let found = match here {
                Some(Value::List(_)) => token.parse().ok().and_then(|index| element(here, index)),
                _ => self.entry(here, &token),
            };
            let (index, tree) = found.unzip();
            position.push(index.unwrap_or(usize::MAX));
            here = tree.flatten();
        }
        position
    }

    /// The index of a name in an object, and its value, where that is kept.
    fn entry(&mut self, object: Option<&'t Value<'t>>, name: &str) -> Option<(usize, Option<&'t Value<'t>>)> {
        match object? {
            Value::Object(entries) => {
                let search = || entries.iter().position(|(key, _)| key == name);
                let index = if entries.len() < LARGE {
                    search()
                } else {
                    self.once(entries.as_ptr().addr(), name, search)
                };
                index.map(|index| (index, Some(&entries[index].1)))
            }
            object @ Value::LongObject(names) => {
                let search = || names.iter().position(|key| key == name);
                self.once(ptr::from_ref(object).addr(), name, search).map(|index| (index, None))
            }
            _ => None,
        }
    }

    /// What is found for a name in the object at an address.
    fn once(&mut self, object: usize, name: &str, search: impl FnOnce() -> Option<usize>) -> Option<usize> {
        let found = self.found.entry(object).or_default();
        match found.get(name) {
            Some(index) => *index,
            None => *found.entry(name.into()).or_insert_with(search),
        }
    }
}

fn element<'t>(list: Option<&'t Value<'t>>, index: usize) -> Option<(usize, Option<&'t Value<'t>>)> {
    match list {
        Some(Value::List(items)) => items.get(index).map(|item| (index, Some(item))),
        _ => None,
    }
}

/// What is wrong out of faults that were found after the reading, in the order of the document.
pub fn in_order(tree: &Value<'_>, faults: Vec<FieldError>) -> Refused {
    let mut order = Order::of(tree);
    let mut placed: Vec<_> =
        faults.into_iter().map(|fault| (order.of_pointer(fault.place.pointer()), fault)).collect();
    placed.sort_by(|(one, _), (other, _)| one.cmp(other));
    Refused::of(placed.into_iter().map(|(_, fault)| fault).collect())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::light::error::Pointer;

    fn tree(text: &str) -> Value<'_> {
        serde_json::from_str(text).expect("JSON")
    }

    fn pointers(refused: &Refused) -> Vec<&str> {
        refused.first.iter().map(|fault| fault.place.pointer()).collect()
    }

    #[test]
    fn the_first_hundred_are_the_documents_whatever_is_read_first() {
        let items = ["{}"; 300].join(",");
        let text = format!("{{\"later\": [{items}], \"first\": [{items}]}}");
        let tree = tree(&text);
        let mut faults = Faults::of(&tree);
        for list in ["first", "later"] {
            let list = At::Field(&At::Root, list);
            for index in (0..300).rev() {
                let item = At::Index(&list, index);
                for field in ["b", "a"] {
                    faults.note(&At::Field(&item, field), || InvalidValue::new("", ""));
                }
            }
        }
        let refused = faults.take();
        assert_eq!((refused.first.len(), refused.more), (100, 1100));
        // "later" stands first. What is missing has no order of its own, and is told as it was noted.
        let expected: Vec<String> =
            (0..50).flat_map(|k| [format!("/later/{k}/b"), format!("/later/{k}/a")]).collect();
        assert_eq!(pointers(&refused), expected);
    }

    #[test]
    fn faults_that_cannot_be_listed_are_not_written() {
        let text = format!("[{}]", vec!["0"; 5000].join(","));
        let tree = tree(&text);
        let mut faults = Faults::of(&tree);
        let mut written = 0;
        for index in 0..5000 {
            faults.note(&At::Index(&At::Root, index), || {
                written += 1;
                InvalidValue::new("", "")
            });
        }
        assert_eq!((faults.take().more, written), (4900, 2 * LISTED));
        let mut counted = Faults::default();
        counted.note(&At::Root, || unreachable!("only counted"));
        assert!(!counted.is_empty());
    }

    #[test]
    fn names_of_large_objects_keep_their_order() {
        let unknown: Vec<String> = (0..1000).map(|k| format!("\"n{k}\": 0")).collect();
        let text = format!("{{{}, \"b\": [0], \"a\": 0}}", unknown.join(", "));
        let tree = tree(&text);
        let faults: Vec<FieldError> = ["/missing", "/a", "/b/0", "/n999", "/b", "", "/n0", "/a"]
            .iter()
            .map(|pointer| {
                let place =
                    pointer.split('/').skip(1).fold(Pointer::root(), |place, token| place.field(token));
                InvalidValue::new("", "").at(&place)
            })
            .collect();
        let mut noted = Faults::of(&tree);
        faults.iter().cloned().for_each(|fault| noted.push(fault));
        let expected = ["", "/n0", "/n999", "/b", "/b/0", "/a", "/a", "/missing"];
        assert_eq!(pointers(&noted.take()), expected);
        assert_eq!(pointers(&in_order(&tree, faults)), expected);
    }

    #[test]
    fn the_names_of_an_object_without_end_are_told_in_their_order() {
        let unknown: Vec<String> = (0..10_000).map(|k| format!("\"n{k}\": [0]")).collect();
        let text = format!("{{{}, \"a\": 0}}", unknown.join(", "));
        let tree = tree(&text);
        assert!(matches!(&tree, Value::LongObject(names) if names.iter().count() == 10_001));
        let mut faults = Faults::of(&tree);
        for name in ["missing", "a", "n9999", "n4096", "n4095", "n0"] {
            faults.note(&At::Field(&At::Root, name), || InvalidValue::new("", ""));
        }
        assert_eq!(pointers(&faults.take()), ["/n0", "/n4095", "/n4096", "/n9999", "/a", "/missing"]);
        assert_eq!(serde_json::to_string(&tree).expect("JSON").matches("null").count(), 10_001);
    }
}
