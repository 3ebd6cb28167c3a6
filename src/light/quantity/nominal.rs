//! A computed value with its nearest mark.

use std::borrow::Cow;

use serde::Serialize;
use utoipa::ToSchema;

use crate::light::quantity::{FNumber, Number, Seconds, Stops, kind::Kind, marks::Step, significant};

/// A mark whose error is smaller than this counts as exact, stops.
const SAME_STOPS: f64 = 0.005;

/// A value and the nearest mark.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct Nominal {
    /// The exact value.
    pub value: Number,
    /// The nearest mark of the requested series (the darker one in a tie), in a form that requests accept; null beyond the series.
    #[schema(value_type = Option<String>)]
    pub mark: Option<Cow<'static, str>>,
    /// The error of the mark against the value, stops; + is brighter. Null beyond the series of marks.
    pub off_by_stops: Option<Stops>,
    /// For an f-number, as a flash meter shows it: the whole-stop mark at or below, and tenths of a stop beyond, as `f/8 +0.7`; absent for others.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    pub meter: Option<String>,
    /// The kind of quantity.
    #[serde(skip)]
    #[schema(ignore)]
    pub kind: Kind,
}

/// An f-number as a flash meter shows it. `None` beyond the series of marks.
fn meter(f_number: f64) -> Option<String> {
    // Rounded to tenths first: 7.98 is f/8, not f/5.6 and ten tenths.
    let tenths = (-Kind::FNumber.exposure_stops(f_number) * 10.0).round() as i64;
    let (whole, beyond) = (tenths.div_euclid(10), tenths.rem_euclid(10));
    let (mark, off) = Kind::FNumber.mark_for((whole as f64 / 2.0).exp2(), Step::Full)?;
    (off.abs() < SAME_STOPS).then(|| match beyond {
        0 => mark.into_owned(),
        beyond => format!("{mark} +0.{beyond}"),
    })
}

impl Nominal {
    /// A value with its mark in the series of `step`.
    pub fn new(kind: Kind, value: f64, step: Step) -> Self {
        let mark = kind.mark_for(value, step);
        Self {
            value: Number::new_unchecked(value),
            off_by_stops: mark.as_ref().map(|(_, off_by)| Stops::new_unchecked(*off_by)),
            mark: mark.map(|(text, _)| text),
            meter: (kind == Kind::FNumber).then(|| meter(value)).flatten(),
            kind,
        }
    }

    /// A sync time, which a camera has although it need not be on the series of marks: its label is exact.
    pub fn sync_time(time: Seconds, step: Step) -> Self {
        let nominal = Self::new(Kind::ExposureTime, time.get(), step);
        Self { mark: Some(nominal.exact_label().into()), off_by_stops: Some(Stops::ZERO), ..nominal }
    }

    /// An aperture with its mark.
    pub fn f_number(value: FNumber, step: Step) -> Self {
        Self::new(Kind::FNumber, value.get(), step)
    }

    /// The mark, or beyond the series the value in photographic notation.
    pub fn label(&self) -> String {
        self.mark.as_ref().map_or_else(|| self.formatted_value(), |mark| mark.clone().into_owned())
    }

    /// The mark if it is exact to 0.005 stop, else a mark of another step that is, else the value in photographic notation.
    ///
    /// ```
    /// use stopwright::light::quantity::{kind::Kind, marks::Step, nominal::Nominal};
    /// let label = |kind, value| Nominal::new(kind, value, Step::Third).exact_label();
    /// assert_eq!(label(Kind::FNumber, 32_f64.sqrt()), "f/5.6");
    /// assert_eq!(label(Kind::ExposureTime, (-6.5_f64).exp2()), "1/90 s");
    /// assert_eq!(label(Kind::FNumber, 8.5), "f/8.5");
    /// assert_eq!(label(Kind::ExposureTime, 120.0), "120 s");
    /// assert_eq!(label(Kind::ExposureTime, 1.0 / 300.0), "1/300 s");
    /// ```
    pub fn exact_label(&self) -> String {
        let is_exact = |off: f64| off.abs() < SAME_STOPS;
        if self.off_by_stops.is_some_and(|off| is_exact(off.get())) {
            return self.label();
        }
        let marks = Step::ALL.into_iter().rev().filter_map(|step| self.kind.mark_for(self.value.get(), step));
        let mark = marks.into_iter().find(|(_, off)| is_exact(*off));
        mark.map_or_else(|| self.formatted_value(), |(mark, _)| mark.into_owned())
    }

    fn formatted_value(&self) -> String {
        // Four digits are more precise than any control.
        let value = format!("{:.3e}", self.value.get()).parse().map_or(self.value.get(), significant);
        let denominator = 1.0 / self.value.get();
        match self.kind {
            Kind::ExposureTime
                if denominator > 1.5 && (denominator - denominator.round()).abs() < 1e-6 * denominator =>
            {
                format!("1/{} s", denominator.round())
            }
            Kind::FNumber => format!("f/{value}"),
            Kind::ExposureTime => format!("{value} s"),
            Kind::Iso => format!("ISO {value}"),
            _ => value.to_string(),
        }
    }
}
