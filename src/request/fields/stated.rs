//! Assumptions that the request states.

use utoipa::ToSchema;

use crate::{
    light::quantity::{Estimate, bounds},
    request::{
        field_schema::looks_like,
        place::At,
        reader::{Read, Reader, reads},
        schema::StatedInput,
        value::Value,
    },
    wording::fault::Fault,
};

/// An assumption stated in the request: one number, or low, typical and high.
#[derive(Clone, Copy)]
pub struct Stated(Estimate<f64>);

/// The range of an assumption.
#[derive(ToSchema)]
#[expect(dead_code, reason = "for the OpenAPI document only")]
pub struct StatedRange {
    /// The lowest value.
    low: f64,
    /// The typical value.
    typical: f64,
    /// The highest value.
    high: f64,
}

impl Stated {
    /// Checks that all values are within the bounds.
    pub fn check(self, bounds: bounds::Bounds, at: &At<'_>, reader: &mut Reader) -> Option<Estimate<f64>> {
        for (name, value) in [("low", self.0.low), ("typical", self.0.typical), ("high", self.0.high)] {
            if let Err(invalid) = bounds.check(value) {
                return if self.0.low < self.0.high {
                    reader.push_fault(&At::Field(at, name), invalid)
                } else {
                    reader.push_fault(at, invalid)
                };
            }
        }
        Some(self.0)
    }
}

looks_like!(Stated as StatedInput);

impl Read for Stated {
    fn read(value: &Value<'_>, at: &At<'_>, reader: &mut Reader) -> Option<Self> {
        struct Range {
            low: Unbounded,
            typical: Unbounded,
            high: Unbounded,
        }
        reads!(Range { low, typical, high });
        if let Some(value) = value.number() {
            return Some(Self(Estimate::exact(value)));
        }
        if !matches!(value, Value::Object(_)) {
            return reader.push_wrong_type(at, value, "a number, or an object with low, typical, high");
        }
        let range = Range::read(value, at, reader)?;
        let estimate = Estimate { low: range.low.0, typical: range.typical.0, high: range.high.0 };
        if estimate.low <= estimate.typical && estimate.typical <= estimate.high {
            Some(Self(estimate))
        } else {
            reader.push_fault(at, Fault::NotRisingRange)
        }
    }
}

/// A number without bounds of its own; `Stated::check` applies them.
struct Unbounded(f64);

impl Read for Unbounded {
    fn read(value: &Value<'_>, at: &At<'_>, reader: &mut Reader) -> Option<Self> {
        match value.number() {
            Some(value) => Some(Self(value)),
            None => reader.push_wrong_type(at, value, "a number"),
        }
    }

    fn expected() -> String {
        "a number".to_owned()
    }
}
