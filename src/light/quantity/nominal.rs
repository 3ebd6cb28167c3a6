//! A computed value beside the mark that a person dials for it.

use std::borrow::Cow;

use serde::Serialize;
use utoipa::ToSchema;

use crate::light::quantity::{FNumber, Number, Stops, kind::Kind, marks::Step, significant};

/// A mark that is off by less stands for the value.
const SAME_STOPS: f64 = 0.005;

/// A value and the nearest mark.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct Nominal {
    /// The exact value.
    pub value: Number,
    /// The nearest mark of the asked series, ties to the darker, as it can be sent back; null beyond the series.
    #[schema(value_type = Option<String>)]
    pub mark: Option<Cow<'static, str>>,
    /// How much brighter (+) the mark exposes than the value, stops.
    pub off_by_stops: Option<Stops>,
    /// What it is.
    #[serde(skip)]
    #[schema(ignore)]
    pub kind: Kind,
}

impl Nominal {
    /// The value of a kind with its mark in the series of `step`.
    pub fn new(kind: Kind, value: f64, step: Step) -> Self {
        let mark = kind.mark_for(value, step);
        Self {
            value: Number::new_unchecked(value),
            off_by_stops: mark.as_ref().map(|(_, off_by)| Stops::new_unchecked(*off_by)),
            mark: mark.map(|(text, _)| text),
            kind,
        }
    }

    /// An aperture with its mark.
    pub fn f_number(value: FNumber, step: Step) -> Self {
        Self::new(Kind::FNumber, value.get(), step)
    }

    /// The mark; beyond the series the value, as the trade writes it.
    pub fn said(&self) -> String {
        self.mark.as_ref().map_or_else(|| self.written(), |mark| mark.clone().into_owned())
    }

    /// The mark where it stands for the value, else the value, as the trade writes it.
    ///
    /// ```
    /// use stopwright::light::{dialled::Dialled, kind::Kind, marks::Step};
    /// let said = |kind, value| Dialled::new(kind, value, Step::Third).exactly_said();
    /// assert_eq!(said(Kind::FNumber, 32_f64.sqrt()), "f/5.6");
    /// assert_eq!(said(Kind::ExposureTime, (-6.5_f64).exp2()), "1/90 s");
    /// assert_eq!(said(Kind::FNumber, 8.5), "f/8.5");
    /// assert_eq!(said(Kind::ExposureTime, 120.0), "120 s");
    /// assert_eq!(said(Kind::ExposureTime, 1.0 / 300.0), "1/300 s");
    /// ```
    pub fn exactly_said(&self) -> String {
        let stands = |off: f64| off.abs() < SAME_STOPS;
        if self.off_by_stops.is_some_and(|off| stands(off.get())) {
            return self.said();
        }
        let marks = Step::ALL.into_iter().rev().filter_map(|step| self.kind.mark_for(self.value.get(), step));
        let mark = marks.into_iter().find(|(_, off)| stands(*off));
        mark.map_or_else(|| self.written(), |(mark, _)| mark.into_owned())
    }

    fn written(&self) -> String {
        // Four digits are more than anyone sets.
        let value = format!("{:.3e}", self.value.get()).parse().map_or(self.value.get(), significant);
        let over = 1.0 / self.value.get();
        match self.kind {
            Kind::ExposureTime if over > 1.5 && (over - over.round()).abs() < 1e-6 * over => {
                format!("1/{} s", over.round())
            }
            Kind::FNumber => format!("f/{value}"),
            Kind::ExposureTime => format!("{value} s"),
            Kind::Iso => format!("ISO {value}"),
            _ => value.to_string(),
        }
    }
}

/// Stops as a person says them: `1 2/3 stops`, `1/2 stop`, `1 stop`, `0.27 stop`.
///
/// ```
/// use stopwright::light::dialled::stops_said;
/// assert_eq!([5.0 / 3.0, 0.5, 1.5, 1.0, 0.27].map(stops_said), ["1 2/3 stops", "1/2 stop", "1 1/2 stops", "1 stop", "0.27 stop"]);
/// ```
pub fn stops_said(stops: f64) -> String {
    let stops = stops.abs();
    let in_parts = |parts: f64| {
        let count = (stops * parts).round();
        let (whole, part) = ((count / parts).floor(), count % parts);
        ((stops * parts - count).abs() < 1e-6).then(|| match (whole, part) {
            (whole, 0.0) => format!("{whole}"),
            (0.0, part) => format!("{part}/{parts}"),
            (whole, part) => format!("{whole} {part}/{parts}"),
        })
    };
    let number = in_parts(3.0).or_else(|| in_parts(2.0)).unwrap_or_else(|| format!("{stops:.2}"));
    if stops > 1.0 { format!("{number} stops") } else { format!("{number} stop") }
}
