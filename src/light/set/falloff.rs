//! How light falls with distance from a source of some size, and from where it is even over a depth.
//!
//! A point falls with the inverse square; a disc and a rectangle fall less near them (see
//! [`crate::light::set::placement::Source`]). For a point, evenness within x stops over a depth starts at
//! d = depth/(2^(x/2) - 1) (derived).

use serde::Serialize;
use utoipa::ToSchema;

use crate::light::{
    error::{FieldError, InvalidValue, Pointer},
    quantity::{Estimate, FNumber, Feet, Iso, Metres, Stops, marks::Step, nominal::Nominal, units::Units},
    remark::{Assumption, Remark},
    set::{
        beam::Beam,
        modifier::Modifier,
        placement::{Placement, Source},
    },
    unit::Unit,
};

/// The source is as good as a point from so many times its largest dimension (published: ANSI/IES LS-1,
/// 9.1.1).
const AS_A_POINT: f64 = 5.0;
/// As near as evenness is looked for, m.
const NEAREST: f64 = 1e-4;

/// A unit whose output is known, at a setting.
#[derive(Debug, Clone, PartialEq)]
pub struct Output {
    /// The unit.
    pub unit: Unit,
    /// Stops below full.
    pub below: Stops,
    /// The ISO speed to meter at.
    pub iso: Iso,
}

/// What is asked.
#[derive(Debug, Clone, PartialEq)]
pub struct Question {
    /// The face of the source; a point if none.
    pub source: Option<Source>,
    /// How its beam falls; matters to the output of a unit that states an energy only.
    pub beam: Option<Beam>,
    /// What its modifier does, against the unit as it is rated; matters to the apertures.
    pub modifier: Option<Modifier>,
    /// What gives the light.
    pub output: Option<Output>,
    /// Where to tell the light.
    pub distances: Vec<Metres>,
    /// What it is compared with.
    pub reference: Metres,
    /// How deep the subject is, from the reference distance away.
    pub depth: Option<Metres>,
    /// How even the light is to be over the depth.
    pub within: Stops,
    /// The series of marks.
    pub step: Step,
    /// The units of lengths in the answer.
    pub units: Units,
}

/// Light by distance, and how even it is over a depth.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct Falloff {
    /// The distance that all stops are against.
    pub reference_distance_m: Metres,
    /// The same in feet; with imperial units only.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    pub reference_distance_ft: Option<Feet>,
    /// The light at each distance, in the order asked.
    pub rows: Vec<Row>,
    /// Over the depth of the subject; null where none was asked.
    pub depth: Option<Depth>,
    /// From here on the source is within 1 % of the inverse-square law: five times its largest dimension; null for a point.
    pub inverse_square_from_m: Option<Metres>,
    /// The same in feet; with imperial units only.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    pub inverse_square_from_ft: Option<Feet>,
    /// What the apertures rest on.
    pub assumptions: Vec<Assumption>,
    /// What to doubt.
    pub warnings: Vec<Remark>,
}

/// The light at one distance.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
#[schema(as = FalloffRow)]
pub struct Row {
    /// The distance, m.
    pub distance_m: Metres,
    /// The same in feet; with imperial units only.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    pub distance_ft: Option<Feet>,
    /// The light against the reference distance, the size of the source counted, stops.
    pub stops: Stops,
    /// The same if the source were a point.
    pub inverse_square_stops: Stops,
    /// The aperture that a meter reads; null where the output is not known.
    pub f_number: Option<Nominal>,
}

/// The light over the depth of a subject.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
#[schema(as = FalloffDepth)]
pub struct Depth {
    /// The depth, m.
    pub depth_m: Metres,
    /// The same in feet; with imperial units only.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    pub depth_ft: Option<Feet>,
    /// From the front, at the reference distance, to the back, stops; negative.
    pub front_to_back_stops: Stops,
    /// How even it is to be, stops.
    pub within_stops: Stops,
    /// From this distance of the front on the back is no darker than that; 0 where it is so at every distance, as it can be before a large source (then `even_everywhere` is among the warnings); null beyond 1 km.
    pub distance_for_evenness_m: Option<Metres>,
    /// The same in feet; with imperial units only.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    pub distance_for_evenness_ft: Option<Feet>,
}

/// Light at a distance over that of the inverse square at 1 m.
fn light(source: Option<Source>, distance: f64) -> f64 {
    let finite = source.map_or(1.0, |source| source.factor(Metres::new_unchecked(distance)));
    finite / (distance * distance)
}

/// Stops from one distance to another.
fn stops(source: Option<Source>, from: f64, to: f64) -> f64 {
    (light(source, to) / light(source, from)).log2()
}

/// Answers. A fault stands at a unit whose output is not known.
pub fn falloff(question: &Question) -> Result<Falloff, FieldError> {
    let Question { source, beam, modifier, reference, step, units, .. } = question;
    let at = |distance: Metres| -> Result<Option<Nominal>, FieldError> {
        let Some(output) = &question.output else { return Ok(None) };
        let placement = Placement {
            beam: beam.clone(),
            modifier: modifier.map_or(Estimate::exact(Stops::ZERO), Modifier::stops),
            source: *source,
            ..Placement::at(distance)
        };
        let light = placement.light(&output.unit, output.iso).ok_or_else(|| {
            InvalidValue::new(
                "its output is not known",
                "a guide_number, or a coverage or a beam beside the energy",
            )
            .at(&Pointer::root().field("unit"))
        })?;
        let light = light.typical * output.unit.power(output.below);
        Ok(Some(Nominal::f_number(FNumber::new_unchecked(light.sqrt()), *step)))
    };
    let row = |&distance: &Metres| {
        let (from, to) = (reference.get(), distance.get());
        Ok(Row {
            distance_m: distance,
            distance_ft: units.feet(distance),
            stops: Stops::new_unchecked(stops(*source, from, to)),
            inverse_square_stops: Stops::new_unchecked(stops(None, from, to)),
            f_number: at(distance)?,
        })
    };
    let rows = question.distances.iter().map(row).collect::<Result<Vec<_>, FieldError>>()?;
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
    let estimated = question.output.as_ref().is_some_and(|output| output.unit.guide_number.is_none());
    if estimated {
        warnings.push(Remark::new(
            "beam_estimated",
            "The apertures rest on a beam estimated from energy and coverage; the stops do not.",
        ));
    }
    let has_apertures = question.output.is_some() && !question.distances.is_empty();
    if has_apertures && source.is_some() && modifier.is_none() {
        warnings.push(Remark::new(
            "taken_without_modifier",
            "A face is given, but not what its modifier does: the apertures are those of the unit as it is rated, as if it took no light. A softbox takes one to three stops; state what yours does, or its kind.",
        ));
    }
    let kind = modifier.and_then(Modifier::kind).filter(|_| has_apertures);
    let assumptions = kind.map(|kind| Assumption {
        name: "modifier_stops",
        value: kind.said(),
        source: kind.source.to_owned(),
    });
    let from = depth.as_ref().and_then(|depth| depth.distance_for_evenness_m);
    if from.is_some_and(|from| from.get() <= 0.0) {
        warnings.push(Remark::new(
            "even_everywhere",
            "Before so large a source the light over the depth is as even as wanted at every distance, so that the distance for evenness is 0.",
        ));
    }
    let largest = source.map(|source| match source {
        Source::Disc { diameter } => diameter.get(),
        Source::Rectangle { width, height } => width.get().max(height.get()),
    });
    if let Some(largest) = largest
        && question.distances.iter().any(|distance| distance.get() < largest)
    {
        warnings.push(Remark::new(
            "very_near",
            "Nearer than the source is large, an even face is a rough model: real faces are brighter in the middle, and the light wraps.",
        ));
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

/// The front's distance from which on light is even within `within` stops over a depth; 0 where it is at every
/// distance. In closed form for a point; by bisection for the others.
fn evenness(source: Option<Source>, depth: f64, within: f64) -> Option<f64> {
    let point = depth / ((within / 2.0).exp2() - 1.0);
    let drop = |front: f64| -stops(source, front, front + depth);
    let even = |front: f64| drop(front) <= within;
    // A finite source falls no faster than a point, so the point's distance will do.
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

/// The front's distance, up to `far`, at which a drop over a depth is greatest. Before a face of some size it rises
/// once and then falls for good, so that thirds of a range, in equal ratios, close in on it.
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
