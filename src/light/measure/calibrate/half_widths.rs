//! How well a calibrated unit is known: by this meter where it stood, at other places, and against the camera.
//!
//! The readings alone say how well the light is known for this meter at this distance. Elsewhere it is less well known by
//! what was the same in all readings, so that no scatter shows it: the distance of the meter, and how the dome was held.
//! How far a reading may be off is known by the table, with the flash and the digit. Where the meter was held anew for
//! each reading, all of that is in the scatter, and readings together are better than one; on a stand most of it is in all
//! readings alike. So what the scatter lacks of it is taken to be common to all. That the meter is off the camera is no
//! part of the unit: later answers add it to each point by themselves.

use crate::light::{
    assumption::Assumption,
    measure::calibrate::{
        interval::{OfSettings, Ranges, rounding},
        question::CalibrateQuestion,
    },
    quantity::{
        Stops, bounds,
        half_widths::{DIAL, DISTANCE, HalfWidth, READING, REPEAT},
    },
    set::placement::Sure,
    uncertainty::{sources::by_distance, sureness},
};

/// A default is listed if it has at least this share of the variance of what rests on it (our judgement).
const NOTICED: f64 = 0.1;

/// 95 % half-widths of a calibrated unit, stops.
#[derive(Debug, Clone, PartialEq)]
pub struct HalfWidths {
    /// Of its light at full power, for this meter at this distance. `None` if it was not measured, or is too scattered.
    pub this_meter: Option<f64>,
    /// The same against the camera, at any distance.
    pub camera: Option<f64>,
    /// Of its light at full power, as the unit states it: at any distance, without the meter against the camera.
    pub unit: Option<Stops>,
    /// Of its light at a setting that was read.
    pub dial: Option<Stops>,
    /// Of one flash.
    pub repeat: Option<Stops>,
    /// The defaults that matter.
    pub usual: Vec<Assumption>,
}

/// Stops that requests take as a half-width.
fn accepted(stops: f64) -> Stops {
    Stops::new_unchecked(stops.clamp(bounds::TOLERANCE.least, bounds::TOLERANCE.greatest))
}

impl HalfWidths {
    /// Of the unit of a question, where its line has these intervals around this light at full power. What was not
    /// measured is as the unit states it.
    pub fn of(
        question: &CalibrateQuestion,
        at_full: f64,
        ranges: Option<Ranges>,
        settings: Option<OfSettings>,
        half_digit: f64,
    ) -> Self {
        let unit = &question.unit;
        let mut usual: Vec<&'static HalfWidth> = Vec::new();
        let distance = question.meter_distance().filter(|_| unit.lamp.is_none());
        let this_meter = ranges.filter(|_| distance.is_some()).map(|ranges| {
            let [low, high] = ranges.at_full;
            // The ends are uneven where readings contradict each other.
            (ranges, (at_full - low).max(high - at_full))
        });
        let measured = this_meter.zip(distance).map(|((ranges, this_meter), distance)| {
            let sure = Sure { distance: question.distance_within, angles_deg: None };
            let [low, high] = by_distance(None, distance, sure);
            let (meter, meter_usual) = question.meter.offset();
            let parts = [READING.or(question.meter.plus_minus), REPEAT.or(unit.repeat), rounding(half_digit)];
            let [of_one, of_all] = ranges.scatter;
            let reading: f64 = parts.iter().map(|part| part * part).sum();
            let common = (reading - of_one * of_one).max(0.0).sqrt();
            let distance = low.max(high);
            // Nowhere better than where the meter stood.
            let unit = of_all.hypot(common).hypot(distance).max(this_meter);
            let camera = unit.hypot(meter);
            let rows = [
                (question.distance_within.is_none().then_some(&DISTANCE), distance),
                (question.meter.plus_minus.is_none().then_some(&READING), common),
                (meter_usual, meter),
            ];
            let noticed = rows.into_iter().filter(|(_, own)| own.powi(2) >= NOTICED * camera.powi(2));
            usual.extend(noticed.filter_map(|(row, _)| row));
            (unit, camera)
        });
        // The scatter of readings says nothing of what a response is off between its frames.
        let read = settings.filter(|_| question.metered);
        let dial = match (read, unit.dial) {
            (Some(OfSettings { setting: Some(setting), .. }), _) => Some(accepted(setting)),
            (_, Some(stated)) => Some(stated),
            (Some(_), None) => {
                usual.push(&DIAL);
                Some(accepted(DIAL.value))
            }
            (None, None) => None,
        };
        Self {
            this_meter: this_meter.map(|(_, half)| half),
            camera: measured.map(|(_, camera)| camera),
            unit: match (measured, distance) {
                (Some((half, _)), _) => Some(accepted(half)),
                // Too scattered for an interval: the most that a request takes.
                (None, Some(_)) => Some(accepted(f64::INFINITY)),
                (None, None) => unit.plus_minus,
            },
            dial,
            repeat: unit.repeat.or_else(|| read?.repeat.map(accepted)),
            usual: usual.into_iter().map(sureness::assumption).collect(),
        }
    }
}
