//! Assumptions that a caller states.

use utoipa::ToSchema;

use crate::{
    light::quantity::{Estimate, bounds},
    request::{
        place::At,
        reader::{Read, Reader, reads},
        value::Value,
    },
};

/// An assumption stated by the caller: one number, or low, typical and high.
#[derive(Clone, Copy)]
pub struct Stated(Estimate<f64>);

/// Three ends of an assumption.
#[derive(ToSchema)]
#[expect(dead_code, reason = "stands in the OpenAPI document only")]
pub struct StatedRange {
    /// The least.
    low: f64,
    /// The typical value.
    typical: f64,
    /// The greatest.
    high: f64,
}

impl Stated {
    /// Within the bounds of an assumption.
    pub fn check(self, bounds: bounds::Bounds, at: &At<'_>, reader: &mut Reader) -> Option<Estimate<f64>> {
        for (name, value) in [("low", self.0.low), ("typical", self.0.typical), ("high", self.0.high)] {
            if let Err(wrong) = bounds.check(value) {
                return if self.0.low < self.0.high {
                    reader.wrong(&At::Field(at, name), wrong)
                } else {
                    reader.wrong(at, wrong)
                };
            }
        }
        Some(self.0)
    }
}

impl Read for Stated {
    fn read(tree: &Value<'_>, at: &At<'_>, reader: &mut Reader) -> Option<Self> {
        struct Ends {
            low: Plain,
            typical: Plain,
            high: Plain,
        }
        reads!(Ends { low, typical, high });
        if let Some(value) = tree.number() {
            return Some(Self(Estimate::exact(value)));
        }
        if !matches!(tree, Value::Object(_)) {
            return reader.mistyped(at, tree, "a number, or an object with low, typical, high");
        }
        let ends = Ends::read(tree, at, reader)?;
        let estimate = Estimate { low: ends.low.0, typical: ends.typical.0, high: ends.high.0 };
        if estimate.low <= estimate.typical && estimate.typical <= estimate.high {
            Some(Self(estimate))
        } else {
            reader.fault(at, "the three are not in order", "low, typical and high in rising order")
        }
    }
}

struct Plain(f64);

impl Read for Plain {
    fn read(tree: &Value<'_>, at: &At<'_>, reader: &mut Reader) -> Option<Self> {
        match tree.number() {
            Some(value) => Some(Self(value)),
            None => reader.mistyped(at, tree, "a number"),
        }
    }

    fn expected() -> String {
        "a number".to_owned()
    }
}
