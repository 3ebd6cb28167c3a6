//! Reads typed requests from a [`Value`] and collects every fault.
//!
//! A request type is declared once, with `request!` (`declare.rs`), which uses [`reads!`] for its reader. `Option` fields
//! may be left out or null, all others are required, and an unknown name is a fault that lists the known names.

pub mod lists;
pub mod values;
pub mod words;

use crate::{
    light::{error::InvalidValue, quantity::rules::Rules},
    request::{
        faults::{Faults, FieldError},
        names::{Names, References},
        nearest::nearest_first,
        place::At,
        value::{Entries, Value},
    },
    server::problem::Refused,
    wording::{fault::Fault, format::names},
};

/// The state while a request is read: its options, and the faults so far. `Reader::default()` only counts faults.
#[derive(Default)]
pub struct Reader<'t> {
    /// The rules for the whole request.
    pub rules: Rules,
    /// Names allowed at top level beside the request's own fields; none for a batch, whose items have their own.
    options: &'static [&'static str],
    /// The names that it defines and refers to; most requests have none.
    references: Option<Box<References>>,
    faults: Faults<'t>,
}

impl<'t> Reader<'t> {
    /// A reader without options, for a batch and its items.
    pub fn new(value: &'t Value<'t>) -> Self {
        Self { faults: Faults::new(value), ..Self::default() }
    }

    /// A reader of a whole request, which may have these options beside its own fields.
    pub fn with_options(value: &'t Value<'t>, options: &'static [&'static str]) -> Self {
        Self { options, ..Self::new(value) }
    }

    /// The names allowed at top level beside the request's own fields.
    pub const fn options(&self) -> &'static [&'static str] {
        self.options
    }

    /// The same reader, which formats only a few faults and counts the others.
    #[must_use]
    pub fn with_few_faults(self, value: &'t Value<'t>) -> Self {
        Self { faults: Faults::few(value), ..self }
    }

    /// Adds a fault if a name is certainly not in one of the lists of names, which is of `what`.
    pub(super) fn check_name<T>(
        &mut self,
        at: &At<'_>,
        what: &'static str,
        name: &str,
        list: fn(&References) -> &Names<T>,
    ) {
        let names = self.references.as_deref().map(list).filter(|names| names.is_unknown(name));
        if let Some(names) = names {
            self.faults.push_with(at, || names.unknown(what, name).into());
        }
    }

    /// The names that the request defines and refers to.
    pub(super) fn references(&mut self) -> &mut References {
        self.references.get_or_insert_default()
    }

    /// The faults, in document order.
    pub fn into_refused(mut self) -> Refused {
        self.faults.take()
    }

    /// The faults in document order, if there are any.
    pub fn finish(self) -> Result<(), Refused> {
        if self.is_clean() { Ok(()) } else { Err(self.into_refused()) }
    }

    /// Adds a fault. Returns `None`, so that a reader can return it.
    pub fn push_fault<T>(&mut self, at: &At<'_>, fault: impl Into<Fault>) -> Option<T> {
        self.push_fault_with(at, || fault.into())
    }

    /// Adds a fault. `fault` is called only if it may be listed. Returns `None`.
    pub fn push_fault_with<T>(&mut self, at: &At<'_>, fault: impl FnOnce() -> Fault) -> Option<T> {
        self.faults.push_with(at, fault);
        None
    }

    /// Whether there is no fault so far.
    pub const fn is_clean(&self) -> bool {
        self.faults.is_empty()
    }

    /// Adds a fault that knows its place: one at a place that was read before, or an error of `light`.
    pub fn push_located(&mut self, error: impl Into<FieldError>) {
        self.faults.push(error.into());
    }

    /// The value, or `None` after adding its error.
    pub fn checked<T>(&mut self, at: &At<'_>, value: Result<T, InvalidValue>) -> Option<T> {
        value.map_or_else(|error| self.push_fault(at, error), Some)
    }

    /// Adds a fault if a name is among those `before`, then adds the name to them.
    pub fn check_unique(&mut self, name: &str, before: &mut Vec<String>, at: &At<'_>) {
        if before.iter().any(|known| known == name) {
            self.push_fault::<()>(at, InvalidValue::DuplicateName { name: name.to_owned() });
        }
        before.push(name.to_owned());
    }

    /// Adds a fault unless `what` is stated in exactly one of these ways, or in none if it is not required.
    pub fn check_one_way(&mut self, at: &At<'_>, what: &'static str, ways: &[Way<'_>], is_required: bool) {
        let first = |way: Way<'_>, which: Option<bool>| {
            way.iter().find(|(_, given)| *given == which).map(|(name, _)| *name)
        };
        let list = || {
            // `ratio with to`, `from with to and count`.
            let fields = |way: &Way<'_>| {
                let names: Vec<&str> = way.iter().map(|(name, _)| *name).collect();
                names.join(" and ").replacen(" and ", " with ", 1)
            };
            ways.iter().map(fields).collect::<Vec<_>>()
        };
        // A field that could not be read counts as given, but does not contradict another.
        let is_given = |way: &&Way<'_>| way.iter().any(|(_, given)| *given != Some(false));
        let mut given = ways.iter().filter(is_given).copied();
        let (at, fault) = match (given.next(), given.next()) {
            (None, _) if !is_required => return,
            (None, _) => {
                let field = ways.first().and_then(|way| first(way, Some(false))).unwrap_or_default();
                let expected = format!("{what}, as exactly one of {}", names(&list()));
                (At::Field(at, field), Fault::Missing { expected })
            }
            (Some(way), None) => {
                let (Some(field), Some(beside)) = (first(way, Some(false)), first(way, Some(true))) else {
                    return;
                };
                let expected = format!("{field}, which goes with {beside}");
                (At::Field(at, field), Fault::Missing { expected })
            }
            (Some(_), Some(_)) => {
                let mut read = ways.iter().filter_map(|way| first(way, Some(true)));
                let (Some(_), Some(second)) = (read.next(), read.next()) else { return };
                (At::Field(at, second), Fault::Conflict { what, ways: list() })
            }
        };
        self.push_fault::<()>(&at, fault);
    }

    /// Adds the fault of a value of the wrong type. Returns `None`.
    pub fn push_wrong_type<T>(&mut self, at: &At<'_>, value: &Value<'_>, expected: &str) -> Option<T> {
        self.push_fault_with(at, || Fault::WrongType { found: value.what(), expected: expected.to_owned() })
    }

    /// The entries of an object, after its names are checked against the known ones.
    pub fn object<'o, 'a>(
        &mut self,
        value: &'o Value<'a>,
        at: &At<'_>,
        known: &[&'static str],
    ) -> Option<&'o Entries<'a>> {
        match value {
            Value::Object(entries) => {
                self.check_names(entries.iter().map(|(name, _)| name.as_ref()), at, known);
                Some(entries)
            }
            Value::LongObject(names) => {
                self.check_names(names.iter(), at, known);
                None
            }
            _ => self.push_fault_with(at, || Fault::WrongType {
                found: value.what(),
                expected: object_with(known),
            }),
        }
    }

    /// Adds faults for unknown and repeated names of an object.
    fn check_names<'o>(&mut self, names: impl Iterator<Item = &'o str>, at: &At<'_>, known: &[&'static str]) {
        // Options are allowed at top level only.
        let options = if matches!(at, At::Root) { self.options } else { &[] };
        let index = |name: &str| known.iter().chain(options).position(|known| *known == name);
        // One bit for each known name; no object has nearly as many.
        debug_assert!(known.len() + options.len() <= 64);
        let (mut seen, mut repeated) = (0_u64, 0_u64);
        let mut unknown = 0;
        for name in names {
            let Some(index) = index(name) else {
                unknown += 1;
                if unknown <= UNKNOWN_LISTED {
                    self.push_fault_with::<()>(&At::Field(at, name), || Fault::UnknownField {
                        name: name.chars().take(64).collect(),
                        known: nearest_first(name, [known, options].concat()),
                    });
                }
                continue;
            };
            let bit = 1 << index;
            if seen & bit == 0 {
                seen |= bit;
            } else if repeated & bit == 0 {
                repeated |= bit;
                self.push_fault::<()>(&At::Field(at, name), Fault::RepeatedField { name: name.to_owned() });
            }
        }
        if unknown > UNKNOWN_LISTED {
            let more = unknown - UNKNOWN_LISTED;
            self.push_fault::<()>(at, Fault::MoreUnknownFields { count: more });
        }
    }
}

/// A way to state something: fields that go together, and whether each is given; `None` if it could not be read.
pub type Way<'w> = &'w [(&'static str, Option<bool>)];

/// Unknown names of one object that are listed one by one; the rest are counted.
const UNKNOWN_LISTED: usize = 32;

/// A type that can be read from a request.
pub trait Read: Sized {
    /// Reads a value. Adds every fault that it finds, and returns `None` if there is no usable value.
    fn read(value: &Value<'_>, at: &At<'_>, reader: &mut Reader) -> Option<Self>;

    /// Called if the field is missing: a fault, unless the type is optional.
    fn missing(at: &At<'_>, reader: &mut Reader) -> Option<Self> {
        reader.push_fault_with(at, || Fault::Missing { expected: Self::expected() })
    }

    /// What the fault of a missing field says is expected.
    fn expected() -> String {
        "the field".to_owned()
    }
}

impl<T: Read> Read for Option<T> {
    fn read(value: &Value<'_>, at: &At<'_>, reader: &mut Reader) -> Option<Self> {
        match value {
            Value::Null => Some(None),
            _ => T::read(value, at, reader).map(Some),
        }
    }

    fn missing(_: &At<'_>, _: &mut Reader) -> Option<Self> {
        Some(None)
    }
}

/// The text for an expected object with these fields.
pub fn object_with(known: &[&str]) -> String {
    format!("an object with {}", names(known))
}

/// One field of an object that [`Reader::object`] has checked.
pub fn field<T: Read>(entries: &Entries<'_>, name: &str, at: &At<'_>, reader: &mut Reader) -> Option<T> {
    let at = At::Field(at, name);
    match entries.iter().find(|(key, _)| key == name) {
        Some((_, value)) => T::read(value, &at, reader),
        None => T::missing(&at, reader),
    }
}

/// Implements [`Read`] for a struct whose fields are the names of a JSON object.
macro_rules! reads {
    (
        $type:ident { $($field:ident),+ $(,)? }
        $(exactly one of $what:literal: $($($way:ident)&+)|+)?
        $(at most one of $at_most_what:literal: $($($at_most_way:ident)&+)|+)?
        $(checked by $($check:ident)::+($($checked:ident),+))?
    ) => {
        impl $crate::request::reader::Read for $type {
            fn read(
                value: &$crate::request::value::Value<'_>,
                at: &$crate::request::place::At<'_>,
                reader: &mut $crate::request::reader::Reader,
            ) -> Option<Self> {
                let entries = reader.object(value, at, &[$(stringify!($field)),+])?;
                $(let $field = $crate::request::reader::field(entries, stringify!($field), at, reader);)+
                // Checked although another field may be wrong.
                $(
                    let ways = $crate::request::reader::ways!($($($way)&+)|+);
                    reader.check_one_way(at, $what, ways, true);
                )?
                $(
                    let ways = $crate::request::reader::ways!($($($at_most_way)&+)|+);
                    reader.check_one_way(at, $at_most_what, ways, false);
                )?
                $($($check)::+($($checked.as_ref()),+, at, reader);)?
                Some(Self { $($field: $field?),+ })
            }

            fn expected() -> String {
                $crate::request::reader::object_with(&[$(stringify!($field)),+])
            }
        }
    };
}
pub(crate) use reads;

/// The fields of each [`Way`] to state something.
macro_rules! ways {
    ($($($way:ident)&+)|+) => {
        &[$(&[$((stringify!($way), $way.as_ref().map(Option::is_some))),+] as &[_]),+]
    };
}
pub(crate) use ways;

/// A request without fields of its own.
pub struct Nothing;

impl Read for Nothing {
    fn read(value: &Value<'_>, at: &At<'_>, reader: &mut Reader) -> Option<Self> {
        reader.object(value, at, &[]).map(|_| Self)
    }
}
