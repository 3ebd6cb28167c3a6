//! The level at which a surface shows, from its reflectance and the light on it; and back.
//!
//! A surface of reflectance ρ in light x stops above the working exposure shows log2(ρ/0.18) + x stops above mid grey
//! (derived; 18 % as mid grey: common practice). Mid grey is taken to show at the level that its share of white has in
//! the colour space: 117.6 in 8-bit sRGB (derived from IEC 61966-2-1). A response gives the course of the curve from
//! there.

use serde::Serialize;
use utoipa::ToSchema;

use crate::light::{
    assumption::{Assumption, AssumptionKind},
    measure::{
        open_range::OpenRange,
        patches::{self, CONTRAST, Patch, PatchesQuestion},
        response::{Response, UncertaintyModel},
        space::{Encoding, GREY, Level},
    },
    quantity::{Number, Range, Stops, bounds, constants::PATCH_TOLERANCE, marks::Step},
    remark::{Warning, WarningKind},
};

/// No surface is farther from mid grey than this, stops.
const MOST_STOPS: f64 = 1000.0;

/// Two of reflectance, light and level; the third is asked for. Reflectances are shares, the light is against the
/// working exposure.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Known {
    /// The surface and the light on it.
    Scene {
        /// The reflectance.
        reflectance: f64,
        /// The light.
        incident: Stops,
    },
    /// The surface and its level.
    Surface {
        /// The reflectance.
        reflectance: f64,
        /// The level.
        level: Level,
    },
    /// The light and the level.
    Light {
        /// The light.
        incident: Stops,
        /// The level.
        level: Level,
    },
}

/// A surface in a picture.
#[derive(Debug, Clone, PartialEq)]
pub struct PatchLevelQuestion {
    /// What is known of it.
    pub known: Known,
    /// The encoding of the level.
    pub encoding: Encoding,
    /// The fitted response of the file, if known.
    pub response: Option<Response>,
}

/// A surface, the light on it, and the level at which it shows.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct PatchLevelAnswer {
    /// The exposure of the surface against an 18 % grey at the working exposure, stops; + is brighter. If the level is clipped, this is an end of the range.
    pub exposure_stops: Stops,
    /// The smallest and largest possible exposure by the level, stops; null at an end that is open because the level is clipped. Absent where the level is asked for.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    pub stops_range: Option<OpenRange>,
    /// The reflectance of the surface, a share of the light.
    pub reflectance: Number,
    /// The light on it against the working exposure, stops; + is brighter.
    pub incident_stops: Stops,
    /// The level of a neutral grey that shows as bright, in the encoding of the request; the highest one if it is clipped.
    pub level: Number,
    /// The smallest and largest level that tone curves make of this exposure; with a `response`, a 95 % interval. Absent where the level is given.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    pub level_range: Option<Range<Number>>,
    /// Whether the level is at an end of its range, where different amounts of light look the same.
    pub clipped: bool,
    /// How much more light there may be until the highest level is reached, stops; less than 0 if it is exceeded.
    pub headroom_stops: Stops,
    /// Assumptions.
    pub assumptions: Vec<Assumption>,
    /// Warnings.
    pub warnings: Vec<Warning>,
    /// The encoding of the level.
    #[serde(skip)]
    #[schema(ignore)]
    pub encoding: Encoding,
}

/// Finds the third of reflectance, light and level.
pub fn patch_level(question: &PatchLevelQuestion) -> PatchLevelAnswer {
    let PatchLevelQuestion { known, encoding, response } = question;
    let of_surface = |reflectance: f64| (reflectance / GREY).log2();
    let scale = LevelScale { encoding: *encoding, response: response.as_ref() };
    let (level, exposure, level_range) = match *known {
        Known::Scene { reflectance, incident } => {
            let stops = of_surface(reflectance) + incident.get();
            let level = Level::Grey(scale.level(stops));
            (level, Some(stops), Some(scale.range(stops)))
        }
        Known::Surface { level, .. } | Known::Light { level, .. } => (level, None, None),
    };
    let compared = patches::compare(&PatchesQuestion {
        encoding: *encoding,
        reference: Level::Grey(scale.grey()),
        readings: vec![Patch { id: None, name: String::new(), level }],
        response: response.clone(),
        tolerance: Stops::new_unchecked(PATCH_TOLERANCE),
        exposure: None,
        step: Step::default(),
    });
    let of_level = compared.readings.into_iter().next();
    let exposure_by_level = of_level.as_ref().map_or(0.0, |patch| patch.stops.get());
    let stops = exposure.unwrap_or(exposure_by_level);
    let (reflectance, incident) = match *known {
        Known::Scene { reflectance, incident } => (reflectance, incident.get()),
        Known::Surface { reflectance, .. } => (reflectance, stops - of_surface(reflectance)),
        Known::Light { incident, .. } => {
            // A response may be so steep that there is no such number.
            let against_grey = (stops - incident.get()).clamp(-MOST_STOPS, MOST_STOPS);
            (GREY * against_grey.exp2(), incident.get())
        }
    };
    let beyond = [(bounds::REFLECTANCE, reflectance), (bounds::SHIFT, incident)];
    let beyond = beyond.iter().filter_map(|(bounds, value)| WarningKind::beyond_range(bounds, *value));
    let headroom = scale.stops(encoding.greatest()) - stops;
    let grey = AssumptionKind::GreyLevel { level: (scale.grey() * 10.0).round() / 10.0 };
    let mut assumptions = vec![grey.into()];
    if response.is_none() && exposure.is_some() {
        let [flattest, steepest] = CONTRAST;
        assumptions.push(AssumptionKind::LevelByCurve { flattest, steepest }.into());
    } else {
        assumptions.extend(compared.assumptions);
    }
    PatchLevelAnswer {
        exposure_stops: Stops::new_unchecked(stops),
        stops_range: of_level.as_ref().filter(|_| exposure.is_none()).map(|patch| patch.stops_range),
        reflectance: Number::new_unchecked(reflectance),
        incident_stops: Stops::new_unchecked(incident),
        level: Number::new_unchecked(encoding.grey(level)),
        level_range,
        clipped: headroom <= 1e-9 || of_level.is_some_and(|patch| patch.clipped),
        headroom_stops: Stops::new_unchecked(headroom),
        assumptions,
        warnings: compared.warnings.into_iter().chain(beyond.map(Warning::from)).collect(),
        encoding: *encoding,
    }
}

/// Levels and stops against mid grey.
struct LevelScale<'r> {
    encoding: Encoding,
    response: Option<&'r Response>,
}

impl LevelScale<'_> {
    /// The level of mid grey.
    fn grey(&self) -> f64 {
        self.by_curve(0.0)
    }

    /// The level of an exposure by the curve of the space alone.
    fn by_curve(&self, stops: f64) -> f64 {
        (self.encoding.space.encode(GREY * stops.exp2()) * self.encoding.greatest())
            .min(self.encoding.greatest())
    }

    /// The exposure of a level.
    fn stops(&self, level: f64) -> f64 {
        match self.response {
            Some(Response { curve, .. }) => curve.at(level) - curve.at(self.grey()),
            None => (self.encoding.linear(Level::Grey(level)) / GREY).log2(),
        }
    }

    /// The level of an exposure.
    fn level(&self, stops: f64) -> f64 {
        match self.response {
            Some(Response { curve, .. }) => {
                curve.x_at(curve.at(self.grey()) + stops).clamp(0.0, self.encoding.greatest())
            }
            None => self.by_curve(stops),
        }
    }

    /// The smallest and largest level of an exposure.
    fn range(&self, stops: f64) -> Range<Number> {
        let ends = match self.response.map(UncertaintyModel::from_response) {
            Some(model) => {
                let [level, grey] = [self.level(stops), self.grey()].map(|level| model.at(level));
                [-level.down.hypot(grey.up), level.up.hypot(grey.down)].map(|off| self.level(stops + off))
            }
            None => CONTRAST.map(|contrast| self.by_curve(stops * contrast)),
        };
        let [a, b] = ends;
        Range::of([a.min(b), a.max(b)], Number::new_unchecked)
    }
}
