//! The names in a request.

use std::collections::HashMap;

use crate::{
    light::{error::InvalidValue, unit::Unit},
    request::place::Pointer,
};

/// What a request defines and refers to.
#[derive(Default)]
pub struct References {
    /// The lights.
    pub lights: Names,
    /// The metering points.
    pub points: Names,
    /// The boards.
    pub reflectors: Names,
    /// The blockers.
    pub blockers: Names,
    /// The points that ratios refer to. They may be defined later.
    pub targets: Vec<(Pointer, String)>,
    /// The unit whose settings the readings state.
    pub unit: Option<Unit>,
}

/// The names in a list.
#[derive(Default)]
pub struct Names {
    in_order: Vec<String>,
    /// For each name the unit, if it is a light with a valid unit.
    units: HashMap<String, Option<Unit>>,
    /// Whether a name could not be read. Any reference may be to that one.
    pub is_incomplete: bool,
}

impl Names {
    /// Adds a name. False if there is one like it.
    pub fn add(&mut self, name: &str, unit: Option<Unit>) -> bool {
        let is_new = !self.units.contains_key(name);
        if is_new {
            self.in_order.push(name.to_owned());
            self.units.insert(name.to_owned(), unit);
        }
        is_new
    }

    /// The unit of a light.
    pub fn unit(&self, name: &str) -> Option<&Unit> {
        self.units.get(name)?.as_ref()
    }

    /// Whether a name is certainly not among them.
    pub fn is_unknown(&self, name: &str) -> bool {
        !self.is_incomplete && !self.in_order.is_empty() && !self.units.contains_key(name)
    }

    /// The error of an unknown name.
    pub fn unknown(&self, what: &'static str, name: &str) -> InvalidValue {
        InvalidValue::UnknownName { what, name: name.to_owned(), known: self.in_order.clone() }
    }
}
