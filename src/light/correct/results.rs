//! The results of a correction: lights, points, readings.

use nalgebra::DMatrix;

use crate::light::{
    correct::{
        CorrectedLight, CorrectedPoint, Measured, NextReading, Suspect, SuspectKind,
        chance::chance,
        explanation,
        next_reading::Outlook,
        posterior::{Metered, Posterior},
        prior::{Prior, half_width},
        question::CorrectQuestion,
    },
    error::{InvalidPart, Part},
    quantity::{FNumber, Number, Stops, nominal::Nominal},
    remark::{Remark, Warning, WarningKind},
    remedy::{Edit, NewValue, Patch},
    set::{Light, LightMatrix, Scene, edit::OFF},
    uncertainty::{Cause, UncertainPart, Uncertainty},
};

/// A reading with less weight than this fits nothing.
const FITS_NOTHING: f64 = 0.5;

/// A corrected set with its old and new settings, stops below full.
pub struct Corrected<'a> {
    pub question: &'a CorrectQuestion,
    pub learned: &'a Scene,
    pub matrix: &'a LightMatrix,
    pub last: &'a [Option<Stops>],
    pub below: &'a [Option<Stops>],
}

impl Corrected<'_> {
    /// The light of one light at a point, as N².
    fn light(&self, light: usize, point: usize, below: &[Option<Stops>]) -> f64 {
        let unit = &self.learned.lights[light].unit;
        below[light].map_or(0.0, |below| self.matrix.gain[point][light].typical * unit.power(below))
    }

    /// All light at a point, as N².
    fn total(&self, point: usize, below: &[Option<Stops>]) -> f64 {
        let lights = (0..self.last.len()).map(|light| self.light(light, point, below));
        self.matrix.ambient[point] + lights.sum::<f64>()
    }

    /// The shares of the lights at the new settings, by point and light.
    pub fn shares(&self) -> DMatrix<f64> {
        DMatrix::from_fn(self.learned.points.len(), self.last.len(), |point, light| {
            let total = self.total(point, self.below);
            if total > 0.0 { self.light(light, point, self.below) / total } else { 0.0 }
        })
    }

    /// The variance at each point that no reading takes away: of new settings, and from flash to flash.
    pub fn extra(&self, prior: &Prior, shares: &DMatrix<f64>) -> Vec<f64> {
        let of_light = |light: usize| {
            let dial = if self.below[light] == self.last[light] { 0.0 } else { prior.dial[light] };
            dial + prior.repeat[light]
        };
        let own = |point: usize, light: usize| shares[(point, light)].powi(2) * of_light(light);
        (0..shares.nrows()).map(|point| (0..shares.ncols()).map(|light| own(point, light)).sum()).collect()
    }

    /// Whether a meter can read a light alone at a point at the new settings.
    pub fn is_readable(&self, light: usize, point: usize) -> bool {
        self.light(light, point, self.below) >= 1.0
    }

    /// The points at the new settings, with these variances. Adds a fault where ratios run in a circle.
    pub fn points(&self, variances: &[f64], faults: &mut Vec<InvalidPart>) -> Vec<CorrectedPoint> {
        let scene = self.learned;
        let balance = &self.question.balance;
        let targets = scene.targets(self.matrix, faults).light;
        let working = scene.exposure.f_number.squared() / scene.lens_stops().exp2();
        let stops =
            |light: f64, against: f64| (light > 0.0).then(|| Stops::new_unchecked((light / against).log2()));
        let points = scene.points.iter().enumerate();
        points
            .map(|(index, point)| {
                let (now, side) = (self.total(index, self.below), point.target_side());
                let target = point.target.map(|_| targets[index]);
                let off = target.and_then(|target| stops(now, target)).map(Stops::get);
                let error = off.map(|off| side.error(off));
                let missed = error.filter(|error| !balance.tolerates(*error)).unwrap_or(0.0);
                let half = half_width(variances[index]);
                let offset = scene.meter.offset().0;
                let parts = [(Cause::Reading, half), (Cause::Meter, offset)];
                let parts = parts.map(|(cause, half)| UncertainPart::new(cause, [half, half]));
                CorrectedPoint {
                    id: point.id.clone(),
                    name: point.name.clone(),
                    target_stops: target.and_then(|target| stops(target, working)),
                    target_side: side,
                    before_stops: stops(self.total(index, self.last), working),
                    achieved_stops: stops(now, working),
                    error_stops: error.map(Stops::new_unchecked),
                    shortfall_stops: Stops::new_unchecked((-missed).max(0.0)),
                    excess_stops: Stops::new_unchecked(missed.max(0.0)),
                    f_number: (now > 0.0).then(|| Nominal::f_number(scene.metered(now), balance.rules.step)),
                    uncertainty: if now > 0.0 { Uncertainty::of(parts.into()) } else { None },
                    chance_within_tolerance: off.map(|off| {
                        let chance = chance(off, half.hypot(offset), balance.tolerance.get(), side);
                        Number::new_unchecked(chance)
                    }),
                }
            })
            .collect()
    }
}

/// How far the lights are off. `before` and `after` are the covariances of their errors.
pub fn lights(
    scene: &Scene,
    last: &[Option<Stops>],
    posterior: &Posterior,
    [before, after]: [&DMatrix<f64>; 2],
    is_told: &[bool],
) -> Vec<CorrectedLight> {
    let errors = posterior.lights();
    let lights = scene.lights.iter().enumerate();
    lights
        .map(|(index, light)| {
            let [was, is] = [before, after].map(|of| half_width(of[(index, index)]));
            let at = |off: f64| Stops::new_unchecked(errors[index] + off);
            CorrectedLight {
                light: light.name.clone(),
                light_id: light.id.clone(),
                error_stops: at(0.0),
                low_stops: at(-is),
                high_stops: at(is),
                known_before_stops: Stops::new_unchecked(was),
                distinguishable: is_told[index],
                setting_before: last[index].map(|below| light.unit.setting(below)),
            }
        })
        .collect()
}

/// The lights that probably did not fire.
pub fn suspects(scene: &Scene, suspects: &[explanation::Suspect]) -> Vec<Suspect> {
    let suspect = |suspect: &explanation::Suspect| Suspect {
        light: scene.lights[suspect.light].name.clone(),
        light_id: scene.lights[suspect.light].id.clone(),
        kind: SuspectKind::DidNotFire,
        chance: Number::new_unchecked(suspect.chance),
        round: suspect.round,
    };
    suspects.iter().map(suspect).collect()
}

/// The readings.
pub fn measured(
    question: &CorrectQuestion,
    readings: &[Metered],
    posterior: &Posterior,
    weights: &[f64],
) -> Vec<Measured> {
    let scene = &question.balance.scene;
    let f_number = |stops: f64| {
        let reads: FNumber = scene.metered(stops.exp2());
        Nominal::f_number(reads, question.balance.rules.step)
    };
    let readings = readings.iter().zip(&posterior.left_over).zip(weights);
    readings
        .filter_map(|((reading, left_over), weight)| {
            let (point, expected) = (&scene.points[reading.point], reading.expected()?);
            Some(Measured {
                round: reading.round,
                point: point.name.clone(),
                point_id: point.id.clone(),
                f_number: f_number(reading.stops),
                expected_f_number: f_number(expected),
                error_stops: Stops::new_unchecked(reading.stops - expected),
                left_over_stops: Stops::new_unchecked(*left_over),
                weight: Number::new_unchecked(*weight),
            })
        })
        .collect()
}

/// The warnings about readings that fit nothing.
pub fn warnings(question: &CorrectQuestion, measured: &[Measured]) -> Vec<Warning> {
    let rounds = question.rounds.iter().enumerate();
    let places = rounds.flat_map(|(round, of)| (0..of.readings.len()).map(move |place| (round, place)));
    let unfit = places.zip(measured).filter(|(_, reading)| reading.weight.get() < FITS_NOTHING);
    unfit
        .map(|((round, place), reading)| {
            let (point, left_over) = (reading.point.clone(), reading.left_over_stops.get());
            let left_over_stops = (left_over * 100.0).round() / 100.0;
            let kind = WarningKind::ReadingFitsNothing { point, left_over_stops };
            Remark::about(Part::RoundReading(round, place), kind)
        })
        .collect()
}

/// The warnings about lights that are off by far more than they were known to be, but for those that did not fire.
pub fn far_off<'l>(
    lights: &'l [CorrectedLight],
    suspects: &'l [explanation::Suspect],
) -> impl Iterator<Item = Warning> + 'l {
    let is_suspect = |index: usize| suspects.iter().any(|suspect| suspect.light == index);
    let far =
        lights.iter().enumerate().filter(move |(index, light)| light.is_far_off() && !is_suspect(*index));
    far.map(|(index, light)| {
        let [error, known_before_stops] =
            [light.error_stops, light.known_before_stops].map(|stops| (stops.get() * 100.0).round() / 100.0);
        let error_stops = Stops::new_unchecked(error);
        let kind = WarningKind::LightFarOff { light: light.light.clone(), error_stops, known_before_stops };
        Remark::about(Part::Light(index, None), kind)
    })
}

/// The change of the request to the new settings, which keeps for each round those that it was read at.
pub fn patch(question: &CorrectQuestion, edits: Option<Vec<Edit>>) -> Patch {
    let scene = &question.balance.scene;
    let label = |(light, below): (&Light, &Option<Stops>)| {
        let label = below.map_or_else(|| OFF.to_owned(), |below| light.unit.scale.label(below));
        (light.name.clone(), label)
    };
    let rounds = question.rounds.iter().enumerate().map(|(index, round)| {
        let settings = scene.lights.iter().zip(&round.below).map(label).collect();
        Edit::new(Part::RoundSettings(index), NewValue::Settings(settings))
    });
    rounds.chain(edits.into_iter().flatten()).collect::<Vec<_>>().into()
}

/// The reading that would teach most.
pub fn next_reading(scene: &Scene, outlook: &Outlook) -> Option<NextReading> {
    let next = outlook.next?;
    let (light, point) = (&scene.lights[next.light], &scene.points[next.point]);
    Some(NextReading {
        light: light.name.clone(),
        light_id: light.id.clone(),
        point: point.name.clone(),
        point_id: point.id.clone(),
        worst_now_stops: Stops::new_unchecked(outlook.worst_now),
        worst_then_stops: Stops::new_unchecked(next.worst_then),
    })
}
