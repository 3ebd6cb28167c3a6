//! Two exposures compared: how much brighter one is, which light suits each, and the setting that exposes alike.
//!
//! Exposure value at ISO 100: Ev = log2(N²/t) - log2(S/100) (published: CIPA DC-008, annex on APEX units); a filter needs as
//! much more light as it takes. Incident light E = C·2^Ev/100 (derived from N²/t = E·S/C; published: ISO 2720:1974).

use serde::Serialize;
use utoipa::ToSchema;

use crate::light::{
    assumption::{Assumption, AssumptionKind},
    quantity::{
        ExposureValue, FNumber, Iso, Lux, Seconds, Stops, constants::CONSTANT_C, kind::Kind, marks::Step,
        nominal::Nominal, words::words,
    },
    remark::{Warning, WarningKind},
    set::filter::{self, Filter},
};

/// What a camera is set to, and the filters on its lens.
#[derive(Debug, Clone, PartialEq)]
pub struct Exposure {
    /// Aperture.
    pub f_number: FNumber,
    /// Exposure time.
    pub exposure_time: Seconds,
    /// ISO speed.
    pub iso: Iso,
    /// Filters on the lens.
    pub filters: Vec<Filter>,
}

impl Exposure {
    /// The exposure value at ISO 100 of the light that suits it.
    ///
    /// ```
    /// use stopwright::light::{exposure::Exposure, quantity::{FNumber, Iso, Seconds}};
    /// let (f_number, exposure_time) = (FNumber::new_unchecked(8.0), Seconds::new_unchecked(1.0 / 128.0));
    /// let exposure = Exposure { f_number, exposure_time, iso: Iso::BASE, filters: Vec::new() };
    /// // 2^13 is 8²·128.
    /// assert_eq!(exposure.ev100(), 13.0);
    /// ```
    pub fn ev100(&self) -> f64 {
        let at_its_speed = (self.f_number.squared() / self.exposure_time.get()).log2();
        at_its_speed - Kind::Iso.exposure_stops(self.iso.get()) - filter::stops(&self.filters)
    }

    fn with_marks(&self, step: Step) -> MarkedExposure {
        let ev100 = self.ev100();
        MarkedExposure {
            f_number: Nominal::f_number(self.f_number, step),
            exposure_time: Nominal::new(Kind::ExposureTime, self.exposure_time.get(), step),
            iso: Nominal::new(Kind::Iso, self.iso.get(), step),
            filter_stops: Stops::new_unchecked(filter::stops(&self.filters)),
            ev100: ExposureValue::new_unchecked(ev100),
            illuminance_lx: Lux::new_unchecked(CONSTANT_C * ev100.exp2() / 100.0),
        }
    }
}

words! {
    /// The setting of an exposure that is found.
    pub enum Sought as "SoughtSetting" {
        /// The aperture.
        FNumber = "f_number",
        /// The exposure time.
        ExposureTime = "exposure_time",
        /// The ISO speed.
        Iso = "iso",
    }
}

/// Two exposures of the same scene.
#[derive(Debug, Clone, PartialEq)]
pub struct ExposuresQuestion {
    /// The first.
    pub from: Exposure,
    /// The second.
    pub to: Exposure,
    /// The setting of the second that is found, so that both expose alike; its value there does not count.
    pub find: Option<Sought>,
    /// The step of the marks.
    pub step: Step,
}

/// An exposure with its marks, and the light that suits it.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct MarkedExposure {
    /// The aperture.
    pub f_number: Nominal,
    /// The exposure time, s.
    pub exposure_time: Nominal,
    /// The ISO speed.
    pub iso: Nominal,
    /// What the filters take, stops; 0 or less.
    pub filter_stops: Stops,
    /// The exposure value, at ISO 100, of the light that suits this exposure, filters counted.
    pub ev100: ExposureValue,
    /// The same light as incident illuminance, for a meter with a flat receptor (C = 250).
    pub illuminance_lx: Lux,
}

/// Two exposures compared.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
#[schema(as = ExposureComparison)]
pub struct ComparedExposures {
    /// How much brighter the picture is at `to` than at `from`, in the same light, stops; 0 if a setting was found.
    pub exposure_stops: Stops,
    /// The setting of `to` that was found, so that both expose alike; null if none was to be found.
    pub solved_for: Option<Sought>,
    /// The first exposure.
    pub from: MarkedExposure,
    /// The second exposure, with what was found.
    pub to: MarkedExposure,
    /// The assumptions behind the illuminances.
    pub assumptions: Vec<Assumption>,
    /// Warnings.
    pub warnings: Vec<Warning>,
}

/// Compares two exposures, or finds the setting of the second that makes it expose as the first.
pub fn compare(question: &ExposuresQuestion) -> ComparedExposures {
    let ExposuresQuestion { from, to, find, step } = question;
    let mut to = to.clone();
    let too_bright = from.ev100() - to.ev100();
    let darker = |kind: Kind, value: f64| kind.value_at(kind.exposure_stops(value) - too_bright);
    match find {
        Some(Sought::FNumber) => {
            to.f_number = FNumber::new_unchecked(darker(Kind::FNumber, to.f_number.get()));
        }
        Some(Sought::ExposureTime) => {
            to.exposure_time = Seconds::new_unchecked(darker(Kind::ExposureTime, to.exposure_time.get()));
        }
        Some(Sought::Iso) => to.iso = Iso::new_unchecked(darker(Kind::Iso, to.iso.get())),
        None => {}
    }
    let exposure_stops = Stops::new_unchecked(from.ev100() - to.ev100());
    let to = to.with_marks(*step);
    // What is stated is in range.
    let beyond = [&to.f_number, &to.exposure_time, &to.iso].into_iter().filter_map(|setting| {
        WarningKind::beyond_range(&setting.kind.bounds(), setting.value.get()).map(Warning::from)
    });
    ComparedExposures {
        exposure_stops,
        solved_for: *find,
        from: from.with_marks(*step),
        warnings: beyond.collect(),
        to,
        assumptions: vec![AssumptionKind::usual_constant_c().into()],
    }
}
