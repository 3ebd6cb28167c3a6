//! The falloff of light with distance from a source of some size, and the distance from which it is even over a depth.
//!
//! The light of a point source follows the inverse-square law; that of a disc or a rectangle falls off less near the face
//! (see [`crate::light::set::placement::Source`]). For a point, light is even within x stops over a depth from
//! d = depth/(2^(x/2) - 1) on (derived).

use serde::Serialize;
use utoipa::ToSchema;

use crate::light::{
    assumption::{Assumption, AssumptionKind},
    error::{InvalidPart, InvalidValue, Part},
    quantity::{
        Estimate, FNumber, Feet, Iso, Metres, Stops,
        bounds::{Bounds, DISTANCE},
        marks::Step,
        nominal::Nominal,
        units::Units,
    },
    remark::{Warning, WarningKind},
    set::{
        beam::Beam,
        filter::{self, Filter},
        modifier::Modifier,
        placement::{Placement, Source},
    },
    unit::{Unit, lamp::Lamp},
};

/// A source counts as a point from this many times its largest dimension (published: ANSI/IES LS-1, 9.1.1).
const AS_A_POINT: f64 = 5.0;
/// The shortest distance in the search for evenness, m.
const NEAREST: f64 = 1e-4;

/// A unit at a setting.
#[derive(Debug, Clone, PartialEq)]
pub struct Output {
    /// The unit.
    pub unit: Unit,
    /// Stops below full.
    pub below: Stops,
    /// What the shutter makes of its light: the seconds of a lamp, 1 for a flash.
    pub through: f64,
    /// The ISO speed to meter at.
    pub iso: Iso,
}

/// A source, and the distances or depth to compute its falloff for.
#[derive(Debug, Clone, PartialEq)]
pub struct FalloffQuestion {
    /// The shape and size of the face of the source; a point if `None`.
    pub source: Option<Source>,
    /// The falloff of its beam; affects the output of a unit that states only an energy.
    pub beam: Option<Beam>,
    /// The effect of its modifier, relative to the unit as rated; affects the apertures.
    pub modifier: Option<Modifier>,
    /// The filters on the light; they affect the apertures.
    pub filters: Vec<Filter>,
    /// The unit; needed for apertures.
    pub output: Option<Output>,
    /// The distances to compute the light at.
    pub distances: Vec<Metres>,
    /// The reference distance.
    pub reference: Metres,
    /// The depth of the subject, whose front is at the reference distance.
    pub depth: Option<Metres>,
    /// The required evenness over the depth.
    pub within: Stops,
    /// The step of the series of marks.
    pub step: Step,
    /// The units of lengths in the answer.
    pub units: Units,
}

/// Light by distance, and how even it is over a depth.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct Falloff {
    /// The reference distance of all stops, m: that of the request, or the first one listed, or for a depth alone the distance for evenness, at 0.01 to 1000 m.
    pub reference_distance_m: Metres,
    /// The reference distance, ft. Only with imperial units.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    pub reference_distance_ft: Option<Feet>,
    /// The light at each distance, in the order of the request.
    pub rows: Vec<Row>,
    /// The light over the depth of the subject; null if no depth was given.
    pub depth: Option<Depth>,
    /// The distance from which the source is within 1 % of the inverse-square law, m: five times its largest dimension; null for a point.
    pub inverse_square_from_m: Option<Metres>,
    /// The distance from which the inverse-square law holds, ft. Only with imperial units.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    pub inverse_square_from_ft: Option<Feet>,
    /// The assumptions behind the apertures.
    pub assumptions: Vec<Assumption>,
    /// Warnings.
    pub warnings: Vec<Warning>,
}

/// The light at one distance.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
#[schema(as = FalloffRow)]
pub struct Row {
    /// The distance, m.
    pub distance_m: Metres,
    /// The distance, ft. Only with imperial units.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    pub distance_ft: Option<Feet>,
    /// The light relative to the reference distance, including the size of the source, stops.
    pub stops: Stops,
    /// The light relative to the reference distance for a point source, stops.
    pub inverse_square_stops: Stops,
    /// The aperture that a meter reads; null if the output is unknown.
    pub f_number: Option<Nominal>,
}

/// The light over the depth of a subject.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
#[schema(as = FalloffDepth)]
pub struct Depth {
    /// The depth, m.
    pub depth_m: Metres,
    /// The depth, ft. Only with imperial units.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    pub depth_ft: Option<Feet>,
    /// The difference from the front, at the reference distance, to the back, stops; negative.
    pub front_to_back_stops: Stops,
    /// The required evenness, stops.
    pub within_stops: Stops,
    /// The shortest distance of the front, m, from which on the back is darker by at most `within_stops`; 0 if that holds at every distance, as it can with a large source (the warnings then include `even_everywhere`); null if it is beyond 1 km.
    pub distance_for_evenness_m: Option<Metres>,
    /// The distance for evenness, ft. Only with imperial units.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    pub distance_for_evenness_ft: Option<Feet>,
}

/// Light at a distance over that of a point source at 1 m.
pub fn light(source: Option<Source>, distance: f64) -> f64 {
    let finite = source.map_or(1.0, |source| source.factor(Metres::new_unchecked(distance)));
    finite / (distance * distance)
}

/// The change in light from one distance to another, stops.
fn stops(source: Option<Source>, from: f64, to: f64) -> f64 {
    (light(source, to) / light(source, from)).log2()
}

/// Computes the falloff of a source.
///
/// # Errors
///
/// Located at a unit whose output is unknown.
pub fn falloff(question: &FalloffQuestion) -> Result<Falloff, InvalidPart> {
    let FalloffQuestion { source, beam, modifier, reference, step, units, .. } = question;
    let aperture_at = |distance: Metres| -> Result<Option<Nominal>, InvalidPart> {
        let Some(output) = &question.output else { return Ok(None) };
        let placement = Placement {
            beam: beam.clone(),
            modifier: modifier.map_or(Estimate::exact(Stops::ZERO), Modifier::stops),
            source: *source,
            // On the axis of an even face, as in the rows; the beam decides the output only.
            factor: Some(Estimate::exact(light(*source, distance.get()))),
            ..Placement::at(distance)
        };
        let light = placement.light(&output.unit, output.iso);
        let light = light.ok_or_else(|| InvalidValue::UnknownBeam.in_part(Part::Unit))?;
        let light = light.typical
            * output.through
            * output.unit.power(output.below)
            * filter::stops(&question.filters).exp2();
        Ok(Some(Nominal::f_number(FNumber::new_unchecked(light.sqrt()), *step)))
    };
    let row = |&distance: &Metres| {
        let (from, to) = (reference.get(), distance.get());
        Ok(Row {
            distance_m: distance,
            distance_ft: units.feet(distance),
            stops: Stops::new_unchecked(stops(*source, from, to)),
            inverse_square_stops: Stops::new_unchecked(stops(None, from, to)),
            f_number: aperture_at(distance)?,
        })
    };
    let rows = question.distances.iter().map(row).collect::<Result<Vec<_>, InvalidPart>>()?;
    let depth = question.depth.map(|depth| {
        let even = evenness(*source, depth.get(), question.within.get()).map(Metres::new_unchecked);
        Depth {
            depth_m: depth,
            depth_ft: units.feet(depth),
            front_to_back_stops: Stops::new_unchecked(stops(
                *source,
                reference.get(),
                reference.get() + depth.get(),
            )),
            within_stops: question.within,
            distance_for_evenness_m: even,
            distance_for_evenness_ft: even.and_then(|even| units.feet(even)),
        }
    });
    let mut warnings = Vec::new();
    let estimated = question.output.as_ref().is_some_and(|output| {
        let is_intensity = matches!(output.unit.lamp, Some(Lamp::Intensity(_)));
        output.unit.guide_number.is_none() && !is_intensity
    });
    if estimated {
        warnings.push(WarningKind::FalloffBeamEstimated.into());
    }
    let has_apertures = question.output.is_some() && !question.distances.is_empty();
    if has_apertures && source.is_some() && modifier.is_none() {
        warnings.push(WarningKind::FaceWithoutModifier.into());
    }
    let kind = modifier.and_then(Modifier::kind).filter(|_| has_apertures);
    let assumptions =
        kind.map(|kind| AssumptionKind::ModifierKind { kind: kind.kind.0, effect_stops: kind.stops }.into());
    let from = depth.as_ref().and_then(|depth| depth.distance_for_evenness_m);
    if from.is_some_and(|from| from.get() <= 0.0) {
        warnings.push(WarningKind::EvenEverywhere.into());
    }
    let largest = source.map(|source| source.largest().get());
    if let Some(largest) = largest
        && question.distances.iter().any(|distance| distance.get() < largest)
    {
        warnings.push(WarningKind::VeryNear.into());
    }
    let as_a_point = largest.map(|largest| Metres::new_unchecked(AS_A_POINT * largest));
    Ok(Falloff {
        reference_distance_m: *reference,
        reference_distance_ft: units.feet(*reference),
        rows,
        depth,
        inverse_square_from_m: as_a_point,
        inverse_square_from_ft: as_a_point.and_then(|from| units.feet(from)),
        assumptions: assumptions.into_iter().collect(),
        warnings,
    })
}

/// The light at close distances, for a curve: from the nearest to the farthest distance of the question.
pub fn curve(question: &FalloffQuestion) -> Vec<Row> {
    const STEPS: u32 = 160;
    const SAME_RATIO: f64 = 1.001;
    let reference = question.reference.get();
    let depth = question.depth.map(|depth| reference + depth.get());
    let listed = question.distances.iter().map(|distance| distance.get());
    let (nearest, farthest) = listed
        .chain(depth)
        .fold((reference, reference), |(low, high), distance| (low.min(distance), high.max(distance)));
    // A single distance: from half of it to twice it, to show the falloff.
    let [nearest, farthest] =
        if farthest / nearest < SAME_RATIO { [nearest / 2.0, farthest * 2.0] } else { [nearest, farthest] };
    // Steps of equal ratio, because the curve bends most at short distances.
    let distance = |step: u32| nearest * (farthest / nearest).powf(f64::from(step) / f64::from(STEPS));
    let distances = (0..=STEPS).map(|step| Metres::new_unchecked(distance(step))).collect();
    let fine = falloff(&FalloffQuestion { distances, output: None, depth: None, ..question.clone() });
    fine.map(|fine| fine.rows).unwrap_or_default()
}

/// The front of a subject that light just falls on evenly, for one that may stand anywhere within the range of distances.
pub fn front_for_evenness(source: Option<Source>, depth: Metres, within: Stops) -> Metres {
    let Bounds { least, greatest, .. } = DISTANCE;
    Metres::new_unchecked(evenness(source, depth.get(), within.get()).unwrap_or(greatest).max(least))
}

/// The distance of the front from which on light is even within `within` stops over a depth; 0 if it is at every
/// distance, `None` beyond 1 km. A closed form for a point; bisection for other sources.
fn evenness(source: Option<Source>, depth: f64, within: f64) -> Option<f64> {
    let point = depth / ((within / 2.0).exp2() - 1.0);
    let drop = |front: f64| -stops(source, front, front + depth);
    let even = |front: f64| drop(front) <= within;
    // The light of a finite source falls no faster than that of a point, so the distance for a point is an upper bound.
    let mut far = point;
    if source.is_some() {
        let mut near = steepest(drop, point);
        if even(near) {
            return Some(0.0);
        }
        for _ in 0..80 {
            let middle = 0.5 * (near + far);
            if even(middle) {
                far = middle;
            } else {
                near = middle;
            }
        }
    }
    (far <= 1000.0).then_some(far)
}

/// The distance of the front, up to `far`, with the greatest drop over a depth. For a face of finite size the drop has a
/// single maximum, so a ternary search on the logarithm of the distance finds it.
fn steepest(drop: impl Fn(f64) -> f64, far: f64) -> f64 {
    let (mut near, mut far) = (NEAREST.min(far).ln(), far.ln());
    for _ in 0..120 {
        let third = (far - near) / 3.0;
        let [left, right] = [near + third, far - third];
        if drop(left.exp()) < drop(right.exp()) {
            near = left;
        } else {
            far = right;
        }
    }
    (0.5 * (near + far)).exp()
}

#[cfg(test)]
mod tests;
