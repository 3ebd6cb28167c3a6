//! One light at one subject: of its setting, its distance and the aperture, the one that is not given.
//!
//! The light at a distance is that of [`crate::light::set::placement`]; a metered light is moved by the inverse-square law
//! (CIE e-ILV 17-25-104), or by that of a face near it. Flashes in one exposure add.

mod remedies;

use serde::Serialize;
use utoipa::ToSchema;

use crate::light::{
    assumption::{Assumption, AssumptionKind},
    error::{Entry, Field, InvalidPart, InvalidValue, Part},
    quantity::{
        Estimate, FNumber, Feet, Iso, Metres, Stops, bounds, nominal::Nominal, rules::Rules, words::words,
    },
    remark::{Percentage, Remark, Warning, WarningKind},
    remedy::Remedy,
    set::{
        self, Contribution, Geometry, Light, Meter, MeteringPoint, Optics, Origin, Scene,
        exposure::FlashExposure,
        falloff,
        filter::{self, Filter},
        lens::Lens,
        limits::Limits,
        modifier::Modifier,
        placement::{Placement, Source, Sure},
    },
    uncertainty::{Uncertainty, advice::Measurement, budget::Budget, sureness},
    unit::{
        Setting, Unit,
        lamp::Lamp,
        shutter::{Shutter, TimeLacking},
    },
};

words! {
    /// What was found.
    pub enum Solved as "Solved" {
        /// The setting of the light.
        Setting = "setting",
        /// Its distance.
        Distance = "distance",
        /// The aperture.
        FNumber = "f_number",
    }
}

/// Where the light of a unit is known from.
#[derive(Debug, Clone, PartialEq)]
pub enum Known {
    /// From its rating. `by_guide_alone` if the question states a guide number in place of a unit.
    Rated {
        /// Whether the question states a guide number alone.
        by_guide_alone: bool,
    },
    /// From a reading of this light alone, with its modifier on.
    Metered {
        /// The aperture that the meter read, of one flash.
        f_number: FNumber,
        /// The distance at which it was metered.
        distance: Option<Metres>,
        /// The setting at which it was metered, stops below full.
        below: Option<Stops>,
        /// How sure that distance is.
        sure: Sure,
        /// How sure the reading is, if stated: ± stops at 95 %.
        plus_minus: Option<Stops>,
    },
}

/// A light, and two of setting, distance and aperture. All three ask how far off they are.
#[derive(Debug, Clone, PartialEq)]
pub struct OneLightQuestion {
    /// The unit; a continuous scale if none is stated.
    pub unit: Unit,
    /// Where its light is known from.
    pub known: Known,
    /// Its setting, stops below full.
    pub below: Option<Stops>,
    /// Its distance from the subject.
    pub distance: Option<Metres>,
    /// How sure that is.
    pub sure: Sure,
    /// The aperture to set on the lens.
    pub f_number: Option<FNumber>,
    /// The ISO speed, that of the reading too.
    pub iso: Iso,
    /// The effect of its modifier, relative to the unit as rated.
    pub modifier: Option<Modifier>,
    /// The shape and size of its face; a point if `None`.
    pub source: Option<Source>,
    /// The filters on it.
    pub filters: Vec<Filter>,
    /// What the lens takes.
    pub lens: Lens,
    /// Flashes in one exposure.
    pub pops: u32,
    /// The exposure time and the sync time.
    pub shutter: Shutter,
    /// The limits of remedies.
    pub limits: Limits,
    /// How numbers are read and written.
    pub rules: Rules,
}

/// A light with its setting, its distance and the aperture.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct OneLight {
    /// What was found; null if all three were given.
    pub solved_for: Option<Solved>,
    /// Whether the light is as wanted, to half a click of its setting.
    pub feasible: bool,
    /// The aperture to set on the lens. With `lens.mark_corrections`, its mark and `off_by_stops` count the mark's own correction, and its value none: that is what a lens with true marks is set to.
    pub f_number: Nominal,
    /// The distance, m; null if it is not known, as for a light that stands where it was metered, or if no distance is near enough.
    pub distance_m: Option<Metres>,
    /// The distance, ft. Only with imperial units.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    pub distance_ft: Option<Feet>,
    /// The setting; null if it is not known, as for a light that stays as it was metered.
    pub setting: Option<Setting>,
    /// The light at this setting and distance against the aperture, stops; + is too bright.
    pub error_stops: Stops,
    /// The missing light if it is too weak, stops; else 0.
    pub shortfall_stops: Stops,
    /// The excess light if it is too strong, stops; else 0.
    pub excess_stops: Stops,
    /// The uncertainty of the light in the camera; null if no distance does it.
    pub uncertainty: Option<Uncertainty>,
    /// Changes that would make it feasible; empty if it is.
    pub remedies: Vec<Remedy>,
    /// What was assumed.
    pub assumptions: Vec<Assumption>,
    /// Warnings.
    pub warnings: Vec<Warning>,
}

/// What was found, before it is written.
struct Found {
    solved_for: Option<Solved>,
    f_number: f64,
    distance: Option<Metres>,
    below: Option<Stops>,
    error: f64,
    feasible: bool,
}

/// Finds what is not given.
///
/// # Errors
///
/// In [`Part::Own`] and [`Part::Metered`]: what is missing; a unit whose light is not known.
pub fn solve(question: &OneLightQuestion) -> Result<OneLight, Vec<InvalidPart>> {
    let found = question.found().map_err(|fault| vec![fault])?;
    let remedies = remedies::find(question, &found);
    let budget = question.budget(&found);
    let uncertainty = budget.as_ref().and_then(|budget| budget.at(0));
    let mut assumptions = question.assumptions(&found);
    let mut warnings = question.warnings(&found);
    if let Some(budget) = &budget {
        assumptions.extend(sureness::usual(budget));
        warnings.extend(question.advice(budget, uncertainty.as_ref()));
    }
    let missed = if found.feasible { 0.0 } else { found.error };
    let at_least_0 = |stops: f64| Stops::new_unchecked(stops.max(0.0));
    let (f_number, step) = (FNumber::new_unchecked(found.f_number), question.rules.step);
    let f_number = match found.solved_for {
        Some(Solved::FNumber) => question.lens.nominal(f_number, step),
        _ => Nominal::f_number(f_number, step),
    };
    Ok(OneLight {
        solved_for: found.solved_for,
        feasible: found.feasible,
        f_number,
        distance_m: found.distance,
        distance_ft: found.distance.and_then(|distance| question.rules.units.feet(distance)),
        setting: found.below.map(|below| question.unit.setting(below)),
        error_stops: Stops::new_unchecked(found.error),
        shortfall_stops: at_least_0(-missed),
        excess_stops: at_least_0(missed),
        // There is one light only.
        uncertainty: uncertainty.map(Uncertainty::of_one_light),
        remedies,
        assumptions,
        warnings,
    })
}

impl OneLightQuestion {
    fn is_metered(&self) -> bool {
        matches!(self.known, Known::Metered { .. })
    }

    /// The setting if it is not stated, stops below full: that of the reading, else full power. `None` if the reading does
    /// not say it.
    fn usual_setting(&self) -> Option<Stops> {
        match self.known {
            Known::Rated { .. } => Some(Stops::ZERO),
            Known::Metered { below, .. } => below,
        }
    }

    /// What is given and what is found.
    fn found(&self) -> Result<Found, InvalidPart> {
        let missing = |field: Field| InvalidValue::NotDetermined.in_part(Part::Own(field));
        // A metered light stays where it was metered if nothing else is said.
        let stays = match self.known {
            Known::Metered { distance, .. } if self.distance.is_none() => Some(distance),
            _ => None,
        };
        match (self.below, self.distance, self.f_number) {
            (below, Some(distance), None) => self.aperture(below, Some(distance)),
            (below, None, None) => match stays {
                Some(distance) => self.aperture(below, distance),
                None => Err(missing(Field::Distance)),
            },
            (None, Some(distance), Some(f_number)) => self.setting(Some(distance), f_number),
            (Some(below), Some(distance), Some(f_number)) => self.error(below, Some(distance), f_number),
            (below, None, Some(f_number)) => match stays {
                // Without a distance, only its setting can change.
                Some(None) => match below {
                    Some(below) => self.error(below, None, f_number),
                    None => self.setting(None, f_number),
                },
                _ => self.distance(below, f_number),
            },
        }
    }

    /// The light at full power at a distance as N², with all flashes and filters; that of the reading's own setting, if the
    /// reading does not state it.
    fn light(&self, distance: Option<Metres>) -> Result<Estimate<f64>, InvalidPart> {
        let own = |field| Part::Own(field);
        let light = match (&self.known, distance) {
            (Known::Rated { .. }, Some(distance)) => {
                let placement = Placement {
                    modifier: self.modifier.map_or(Estimate::exact(Stops::ZERO), Modifier::stops),
                    source: self.source,
                    ..Placement::at(distance)
                };
                let light = placement.light(&self.unit, self.iso);
                let light = light.ok_or_else(|| InvalidValue::UnknownBeam.in_part(own(Field::Unit)))?;
                light.times(self.through()?)
            }
            (Known::Rated { .. }, None) => {
                return Err(InvalidValue::NotDetermined.in_part(own(Field::Distance)));
            }
            (Known::Metered { f_number, distance: from, below, .. }, to) => {
                let moved = match (from, to) {
                    (Some(from), Some(to)) => {
                        falloff::light(self.source, to.get()) / falloff::light(self.source, from.get())
                    }
                    (None, Some(_)) => {
                        return Err(InvalidValue::NotDetermined.in_part(Part::Metered(Field::Distance)));
                    }
                    (_, None) => 1.0,
                };
                let power = below.map_or(1.0, |below| self.unit.power(below));
                Estimate::exact(f_number.squared() / power * moved)
            }
        };
        let flashes = f64::from(self.pops) * filter::stops(&self.filters).exp2();
        Ok(light.map(|light| light * flashes))
    }

    /// What the shutter makes of the light of the unit.
    fn through(&self) -> Result<Estimate<f64>, InvalidPart> {
        self.unit.through(self.shutter).map_err(|lacking| {
            let field = match lacking {
                TimeLacking::ExposureTime => Field::ExposureTime,
                TimeLacking::SyncTime => Field::SyncTime,
            };
            InvalidValue::from(lacking).in_part(Part::Own(field))
        })
    }

    /// The part of full power, which is that of the reading if neither says its setting.
    fn power(&self, below: Option<Stops>) -> f64 {
        below.map_or(1.0, |below| self.unit.power(below))
    }

    /// Whether the setting that was metered is known, which another setting is compared with.
    fn require_metered_setting(&self) -> Result<(), InvalidPart> {
        match self.known {
            Known::Metered { below: None, .. } => {
                Err(InvalidValue::NotDetermined.in_part(Part::Metered(Field::Setting)))
            }
            _ => Ok(()),
        }
    }

    fn aperture(&self, below: Option<Stops>, distance: Option<Metres>) -> Result<Found, InvalidPart> {
        if below.is_some() {
            self.require_metered_setting()?;
        }
        let below = below.or_else(|| self.usual_setting());
        let light = self.light(distance)?.typical * self.power(below) * self.lens.stops_at_any().exp2();
        Ok(Found {
            solved_for: Some(Solved::FNumber),
            f_number: light.sqrt(),
            distance,
            below,
            error: 0.0,
            feasible: true,
        })
    }

    fn setting(&self, distance: Option<Metres>, f_number: FNumber) -> Result<Found, InvalidPart> {
        self.require_metered_setting()?;
        let full = self.light(distance)?.typical * self.lens.stops(f_number).exp2();
        let fit = self.unit.fit((full / f_number.squared()).log2());
        Ok(Found {
            solved_for: Some(Solved::Setting),
            f_number: f_number.get(),
            distance,
            below: Some(fit.below),
            error: fit.error,
            feasible: fit.is_feasible,
        })
    }

    fn error(&self, below: Stops, distance: Option<Metres>, f_number: FNumber) -> Result<Found, InvalidPart> {
        self.require_metered_setting()?;
        let light =
            self.light(distance)?.typical * self.power(Some(below)) * self.lens.stops(f_number).exp2();
        let error = (light / f_number.squared()).log2();
        Ok(Found {
            solved_for: None,
            f_number: f_number.get(),
            distance,
            below: Some(below),
            error,
            feasible: error.abs() <= self.unit.half_click(below).get() + 1e-9,
        })
    }

    fn distance(&self, below: Option<Stops>, f_number: FNumber) -> Result<Found, InvalidPart> {
        if below.is_some() {
            self.require_metered_setting()?;
        }
        let below = below.or_else(|| self.usual_setting());
        let wanted = f_number.squared() / self.lens.stops(f_number).exp2() / self.power(below);
        let found = self.distance_of(wanted)?;
        Ok(Found {
            solved_for: Some(Solved::Distance),
            f_number: f_number.get(),
            distance: found.ok().map(Metres::new_unchecked),
            below,
            error: found.err().unwrap_or(0.0),
            feasible: found.is_ok(),
        })
    }

    /// The distance at which the light at full power is this much, as N², m; else how far off it is at the end of all
    /// distances, stops.
    fn distance_of(&self, wanted: f64) -> Result<Result<f64, f64>, InvalidPart> {
        let light = |distance: f64| Ok(self.light(Some(Metres::new_unchecked(distance)))?.typical);
        let (nearest, farthest) = (bounds::DISTANCE.least, bounds::DISTANCE.greatest);
        let [at_nearest, at_farthest] = [light(nearest)?, light(farthest)?];
        for (end, is_beyond) in [(at_nearest, at_nearest < wanted), (at_farthest, at_farthest > wanted)] {
            if is_beyond {
                return Ok(Err((end / wanted).log2()));
            }
        }
        Ok(Ok(match self.source {
            None => nearest * (at_nearest / wanted).sqrt(),
            // The light falls steadily with the distance.
            Some(_) => {
                let (mut near, mut far) = (nearest.ln(), farthest.ln());
                for _ in 0..80 {
                    let middle = 0.5 * (near + far);
                    if light(middle.exp())? > wanted {
                        near = middle;
                    } else {
                        far = middle;
                    }
                }
                (0.5 * (near + far)).exp()
            }
        }))
    }

    /// Where a distance was found: that which would be right if the light were at the lower or the upper end of what is
    /// likely.
    pub fn likely_distances(&self, answer: &OneLight) -> Option<[Metres; 2]> {
        let found = answer.distance_m.filter(|_| answer.solved_for == Some(Solved::Distance))?;
        let at_found = self.light(Some(found)).ok()?.typical;
        let [low, high] = answer.uncertainty.as_ref()?.ends().map(|off| {
            let distance = self.distance_of(at_found / off.exp2()).ok()?.ok()?;
            Some(Metres::new_unchecked(distance))
        });
        Some([low?, high?])
    }

    /// What makes its light uncertain, as that of a set of one light and one point. `None` if it is not lit.
    fn budget(&self, found: &Found) -> Option<Budget> {
        let placement = found.distance.map(|distance| Origin::Placement {
            geometry: Geometry::Distance { distance, incidence_deg: 0.0, off_axis_deg: 0.0, sure: self.sure },
            optics: Optics::default(),
        });
        let below = found.below.unwrap_or(Stops::ZERO);
        let origins = match &self.known {
            Known::Rated { .. } => vec![placement?],
            Known::Metered { f_number, distance, below: metered, sure, plus_minus } => {
                let reading = Origin::Reading {
                    below: metered.unwrap_or(below),
                    f_number: *f_number,
                    distance: *distance,
                    sure: *sure,
                    plus_minus: *plus_minus,
                };
                let is_moved = self.distance.is_some() || found.solved_for == Some(Solved::Distance);
                [Some(reading), placement.filter(|_| is_moved)].into_iter().flatten().collect()
            }
        };
        let entry = |(index, origin): (usize, Origin)| Contribution {
            light: 0,
            point: 0,
            entry: match origin {
                Origin::Reading { .. } => Entry::Reading(index),
                Origin::Placement { .. } => Entry::Placement(index),
            },
            origin,
        };
        let scene = Scene {
            exposure_time: self.shutter.time,
            sync_time: self.shutter.sync_time,
            lights: vec![Light {
                optics: Optics { modifier: self.modifier, source: self.source, ..Optics::default() },
                filters: self.filters.clone(),
                ..Light::of(self.unit.clone())
            }],
            points: vec![MeteringPoint::named("subject")],
            contributions: origins.into_iter().enumerate().map(entry).collect(),
            ..Scene::empty(FlashExposure { f_number: FNumber::new_unchecked(found.f_number), iso: self.iso })
        };
        let matrix = scene.light(&mut Vec::new());
        Some(Budget::of_set(&scene, &matrix, &[self.unit.power(below)]))
    }

    /// What measurement would narrow it most.
    fn advice(&self, budget: &Budget, found: Option<&Uncertainty>) -> Option<Warning> {
        let advice = budget.advice(&[found.cloned()], Meter::default().reading(None))?;
        (advice.measurement == Measurement::Light(0) && !self.is_metered()).then(|| {
            let [now_stops, then_stops] = advice.rounded();
            WarningKind::MeterTheLight { now_stops, then_stops }.into()
        })
    }

    fn assumptions(&self, found: &Found) -> Vec<Assumption> {
        let light = self.unit.name.clone().unwrap_or_else(|| "the light".to_owned());
        // That the beam is estimated is a warning.
        let rating = set::rating_assumptions(&light, &self.unit, None, self.shutter)
            .into_iter()
            .filter(|kind| !self.is_metered() && !matches!(kind, AssumptionKind::GuideNumber { .. }));
        let is_full = found.solved_for != Some(Solved::Setting) && self.below.is_none() && !self.is_metered();
        let full = is_full.then(|| AssumptionKind::FullPower { light: light.clone() });
        let kind = self.modifier.and_then(Modifier::kind);
        let kind =
            kind.map(|kind| AssumptionKind::ModifierKind { kind: kind.kind.0, effect_stops: kind.stops });
        full.into_iter().chain(rating).chain(kind).map(Assumption::from).collect()
    }

    fn warnings(&self, found: &Found) -> Vec<Warning> {
        let rated = !self.is_metered();
        let is_intensity = matches!(self.unit.lamp, Some(Lamp::Intensity(_)));
        let estimated = rated && self.unit.guide_number.is_none() && !is_intensity;
        let share = self.unit.frame_share(self.shutter).filter(|share| *share < 1.0);
        let cut = share.map(|frame_share| {
            let part = Part::Own(Field::ExposureTime);
            Remark::about(part, WarningKind::FasterThanSync { frame_share: Percentage(frame_share) })
        });
        let beam = estimated.then(|| Remark::about(Part::Own(Field::Unit), WarningKind::SetBeamEstimated));
        let face = (rated && self.source.is_some() && self.modifier.is_none())
            .then(|| WarningKind::FaceWithoutModifier.into());
        let is_near =
            |source: Source| found.distance.is_some_and(|distance| distance.get() < source.largest().get());
        let near = self.source.is_some_and(is_near).then(|| WarningKind::VeryNear.into());
        let beyond = WarningKind::beyond_range(&bounds::F_NUMBER, found.f_number).map(Warning::from);
        [beam, face, near, cut, beyond].into_iter().flatten().collect()
    }
}

#[cfg(test)]
mod tests;
