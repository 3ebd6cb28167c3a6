//! A computed value beside the mark that a person dials for it.

use std::borrow::Cow;

use serde::Serialize;
use utoipa::ToSchema;

use super::{
    kind::Kind,
    marks::Step,
    quantity::{FNumber, Number, Stops},
};

/// A value and the nearest mark.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct Dialled {
    /// The exact value.
    pub value: Number,
    /// The nearest mark of the asked series, ties to the darker, as it can be sent back; null beyond the series.
    #[schema(value_type = Option<String>)]
    pub mark: Option<Cow<'static, str>>,
    /// How much brighter (+) the mark exposes than the value, stops.
    pub off_by_stops: Option<Stops>,
}

impl Dialled {
    /// The value of a kind with its mark in the series of `step`.
    pub fn new(kind: Kind, value: f64, step: Step) -> Self {
        let mark = kind.mark_for(value, step);
        Self {
            value: Number::computed(value),
            off_by_stops: mark.as_ref().map(|(_, off_by)| Stops::computed(*off_by)),
            mark: mark.map(|(text, _)| text),
        }
    }

    /// An aperture with its mark.
    pub fn f_number(value: FNumber, step: Step) -> Self {
        Self::new(Kind::FNumber, value.get(), step)
    }

    /// The mark, or the number where there is none.
    pub fn said(&self) -> String {
        self.mark
            .as_deref()
            .map_or_else(|| super::quantity::significant(self.value.get()).to_string(), str::to_owned)
    }
}

/// Stops as a person says them: `1 2/3 stops`, `1 stop`, `0.27 stop`.
pub fn stops_said(stops: f64) -> String {
    let stops = stops.abs();
    let thirds = (stops * 3.0).round();
    let number = if (stops * 3.0 - thirds).abs() < 1e-6 {
        let thirds = thirds as u64;
        match (thirds / 3, thirds % 3) {
            (whole, 0) => format!("{whole}"),
            (0, part) => format!("{part}/3"),
            (whole, part) => format!("{whole} {part}/3"),
        }
    } else {
        format!("{stops:.2}")
    };
    if stops > 1.0 { format!("{number} stops") } else { format!("{number} stop") }
}
