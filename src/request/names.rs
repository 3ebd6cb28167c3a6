//! The names in a request.

use std::collections::HashMap;

use crate::{
    light::{
        error::InvalidValue,
        unit::{Unit, pack::Pack},
    },
    request::{nearest::nearest_first, place::Pointer},
};

/// What a request defines and refers to.
#[derive(Default)]
pub struct References {
    /// The packs.
    pub packs: Names<Pack>,
    /// The lights, with their units.
    pub lights: Names<Unit>,
    /// The metering points.
    pub points: Names<()>,
    /// The boards.
    pub reflectors: Names<()>,
    /// The blockers.
    pub blockers: Names<()>,
    /// The points that ratios refer to. They may be defined later.
    pub targets: Vec<(Pointer, String)>,
    /// The unit whose settings the readings state.
    pub unit: Option<Unit>,
}

/// The names in a list, with what stands there.
pub struct Names<T> {
    in_order: Vec<String>,
    /// For each name what it is the name of, if that is valid.
    named: HashMap<String, Option<T>>,
    /// Whether a name could not be read. Any reference may be to that one.
    pub is_incomplete: bool,
}

impl<T> Default for Names<T> {
    fn default() -> Self {
        Self { in_order: Vec::new(), named: HashMap::new(), is_incomplete: false }
    }
}

impl<T> Names<T> {
    /// Adds a name. False if there is one like it.
    pub fn add(&mut self, name: &str, what: Option<T>) -> bool {
        let is_new = !self.named.contains_key(name);
        if is_new {
            self.in_order.push(name.to_owned());
            self.named.insert(name.to_owned(), what);
        }
        is_new
    }

    /// Adds what a name is the name of, which was read after the name.
    pub fn complete(&mut self, name: &str, what: T) {
        if let Some(named) = self.named.get_mut(name) {
            named.get_or_insert(what);
        }
    }

    /// What has this name.
    pub fn get(&self, name: &str) -> Option<&T> {
        self.named.get(name)?.as_ref()
    }

    /// The index of a name in its list.
    pub fn index(&self, name: &str) -> Option<usize> {
        self.in_order.iter().position(|known| known == name)
    }

    /// Whether there is certainly none.
    pub fn is_empty(&self) -> bool {
        !self.is_incomplete && self.in_order.is_empty()
    }

    /// Whether a name is certainly not among them.
    pub fn is_unknown(&self, name: &str) -> bool {
        !self.is_incomplete && !self.in_order.is_empty() && !self.named.contains_key(name)
    }

    /// The error of an unknown name.
    pub fn unknown(&self, what: &'static str, name: &str) -> InvalidValue {
        unknown(what, name, self.in_order.clone())
    }
}

/// The error of a name that is not among those that are known.
pub fn unknown(what: &'static str, name: &str, known: Vec<String>) -> InvalidValue {
    InvalidValue::UnknownName { what, name: name.to_owned(), known: nearest_first(name, known) }
}
