//! The sentences of warnings and cautions.

use std::borrow::Cow;

use crate::{
    light::{
        quantity::significant,
        remark::{MissedRatio, RatioOf, Remark},
    },
    wording::format::{at_least, format_stops, listed, shot_names},
};

/// The most missed ratios that are listed one by one.
const MAX_LISTED_RATIOS: usize = 3;
/// The most lights that are listed by name.
const MAX_LISTED_LIGHTS: usize = 8;

/// The sentence of a warning or a caution.
pub fn remark(remark: &Remark) -> Cow<'static, str> {
    match remark {
        // A balance, a prediction, and the light of a set.
        Remark::RemediesWithinTolerance { tolerance } => format!(
            "Each remedy brings every point within {} (the tolerance) of what is then wanted, and perhaps no nearer. A smaller tolerance asks for remedies that come nearer.",
            format_stops(tolerance.get())
        ).into(),
        Remark::RatioMissed { ratios } => ratio_missed(ratios).into(),
        Remark::ContinuousScale => "A unit states no scale: it is taken as continuously variable over 8 stops, and searched in hundredths of a stop.".into(),
        Remark::NotProven => "The time limit ended the search: better settings may exist, but none with a worst error under the lower bound.".into(),
        Remark::NoSingleRemedy { fixed_lights, all_tried } => no_single_remedy(fixed_lights, *all_tried).into(),
        Remark::NoKeyAtAll => "1:1 counted by sides is fill alone. For two equal lights ask for 1:1 counted by lights, which is 2:1 counted by sides.".into(),
        Remark::NoLightsMakeIt => "The ambient light alone gives the lit side what it wants: no lights make the ratio.".into(),
        Remark::WeightsOverTolerance => "Other settings keep every point within the tolerance; by the weights these are better. Ask for even weights, or for least_energy.".into(),
        Remark::LeastEnergyEstimated => "A unit states no energy: for the least energy it counts by an estimate from its guide number.".into(),
        Remark::SetBeamEstimated => "A beam was estimated from energy and coverage; meter each light alone and send readings for settings to trust.".into(),
        Remark::LightReachesNoPoint { lights } => format!(
            "Reaches no point: {}. What does not matter here takes as little energy as it may. Add a reading or a placement, or leave it out.",
            listed(lights.iter().cloned(), MAX_LISTED_LIGHTS)
        ).into(),
        Remark::AimedWithoutBeam { lights } => format!(
            "Aimed, but without a beam: {}. What is aimed without one is taken to shine as strongly all round, backwards as well: state the beam.",
            lights.join(", ")
        ).into(),
        Remark::Unlit { points } => format!("No light reaches {}.", points.join(", ")).into(),

        // A kit and its supply.
        Remark::RecycleTooSlow { unit, recycle_s, flashes, between_s, shots, of_shots } => {
            let flashes = if *flashes > 1 { format!(" from {flashes} flashes") } else { String::new() };
            format!(
                "In {} {unit} recycles in {} s{flashes}, which is slower than a frame every {} s.",
                shot_names(shots, *of_shots),
                at_least(*recycle_s),
                significant(*between_s)
            ).into()
        }
        Remark::ChargeTooSmall { unit, charges } => format!(
            "{unit} needs {} charges for its shots, with nothing in reserve.",
            // Tenths, rounded up.
            significant((charges * 10.0 * (1.0 - 1e-9)).ceil() / 10.0)
        ).into(),
        Remark::KitBeamEstimated => "A unit states no guide number: its beam was estimated from energy and coverage, and may be a stop and more off. Meter it before the day.".into(),
        Remark::ModifierEstimated => "A modifier was named by its kind, which is roughly known: headroom and shortfall may be off by the uncertainty beside them.".into(),
        Remark::EnergyUnknown { units } => format!("What these draw is not known, for they state no energy: {}.", units.join(", ")).into(),
        Remark::RecycleUnknown { units } => format!("How fast these recycle is not known, for they state no recycle time: {}.", units.join(", ")).into(),
        Remark::BatteryOnCircuit { units } => format!("These have a battery and are counted on a circuit as if they drew each flash from it: {}.", units.join(", ")).into(),
        Remark::DutyUnchecked { units } => format!("Whether these keep to their duty limit is not known, for the pace of a shot is not: {}.", units.join(", ")).into(),
        Remark::LampOnBattery { units } => format!("Charges are counted for flashes only; the modelling lamps of these draw on them too: {}.", units.join(", ")).into(),
        Remark::LongLoad { circuit, part } => format!(
            "On the mean circuit \"{circuit}\" may carry more than {:.0} % of its breaker; many codes allow less than the whole for a load that lasts hours.",
            100.0 * part
        ).into(),

        // One unit replaced by another, and guide numbers.
        Remark::ModifierOnBeam => "A modifier swallows the whole beam and makes its own. With guide numbers alone the comparison holds only if both units fill the modifier alike; state coverages or energies.".into(),
        Remark::UnitEnergyEstimated { unit } => format!(
            "{} states no energy: it was estimated from guide number and coverage, by typical assumptions.",
            unit.as_deref().unwrap_or("the unit")
        ).into(),
        Remark::CandidateWithoutModifier => "The reference has a modifier; this candidate states none and is taken as it is rated. If it goes into the same modifier, state that here as well.".into(),
        Remark::BeamIsNotEnergy => "A guide number is a beam on its axis; a joule is stored electricity. Between them stand tube, reflector and the rating's honesty.".into(),
        Remark::WidestSettingIsBetter => "The guide number at the unit's widest setting makes the better estimate: more of the lamp's light lands in the coverage.".into(),
        Remark::NotStoredEnergy => "This is the energy of the reference unit that gives as much light on this set: reflector, tube and aim are in it. It is not the energy that the other unit stores.".into(),
        Remark::ComparedFrameClipped => "A frame's level is at an end of its range (0, 255 or 65535), where light is no longer told apart: leave such frames out.".into(),
        Remark::Interpolated => "The aperture was found between two frames, level against stops in a straight line.".into(),

        // Patches and their response.
        Remark::BeyondResponse => "A level lies beyond the frames that the response was fitted to; beyond them it is taken for a straight line.".into(),
        Remark::WideGapInResponse => "A level lies between frames more than a stop apart: what the curve does between them is a guess, and the range is wide for it. Add frames between.".into(),
        Remark::FewPointsInResponse => "The response has two points: the curve between them is a straight line, and nothing tells how far it is off.".into(),
        Remark::ReferenceClipped => "The reference is at an end of its range: how far off the others are cannot be told.".into(),
        Remark::FramesClipped => "Frames whose level is at an end of its range were left out: light is no longer told apart there.".into(),
        Remark::WideGap { between_levels } => format!(
            "Between the levels {} no frame tells anything for more than two stops: the curve there is a guess. Add frames.",
            between_levels.iter().map(level_pair).collect::<Vec<_>>().join(", and between ")
        ).into(),
        Remark::NotMonotone => "A frame with more exposure is no brighter than one with less: such frames were taken together at their mean. Look for a misfire or a mistyped level.".into(),
        Remark::FewFrames => "Fewer than three frames of different levels: between two the curve is a straight line.".into(),
        Remark::BeyondFrames => "A level lies beyond the frames; beyond them the curve is taken for a straight line.".into(),

        // A calibration.
        Remark::FewSettings => "Fewer than three settings were measured: tracking is rough or not known.".into(),
        Remark::OddTracking => "The light does not follow the settings: look for settings that were mixed up, or a unit that does not react.".into(),
        Remark::ReadingsDisagree => "The readings contradict each other, or a true scale, and are too few to say which is wrong: the intervals hold what each would say without one of the others. Take more.".into(),
        Remark::RepeatsDisagree => "Readings at one setting lie far apart: too few to say which is right. Take more.".into(),
        Remark::NoRepeats => "No setting was read twice: the intervals rest on the repeatability in assumptions, and on the readings' distance from the line. Repeat readings to know more.".into(),
        Remark::FullNotMeasured => "Full power was not measured; its light is the line's.".into(),
        Remark::NoDistance => "Without the distance only the scale is checked, not the unit's light against its rating.".into(),
        Remark::Misfires => "Readings far below the rest were left out. Units, shoe-mount ones above all, fail to fire now and then (common practice): take another frame when it counts.".into(),
        Remark::TooBright => "Readings far above the rest were left out. That is no misfire: look for another light that was on, a setting or a distance that was another, or a slip of the pen.".into(),

        // Ambient light and motion.
        Remark::WantedTimeFasterThanSync => "The wanted exposure_time is shorter than the camera's sync time: the shutter would cut into the picture. Close the lens and raise the flash instead.".into(),
        Remark::FasterThanSync => "The exposure time is shorter than the camera's sync time: the shutter cuts into the flash picture.".into(),
        Remark::NoToneCurve => "The level was read by the curve of its space alone; a file's tone curve makes it rougher.".into(),
        Remark::AmbientClipped => "The level is at an end of its range: the ambient light may be less (or more) than taken.".into(),
        Remark::CutOffNotComputed => "What a shutter takes from a flash that a switch cuts off is not computed: its course is not exponential.".into(),
        Remark::TailCut => "The shutter closes before the flash has died away: less light than metered without it, and that less evenly across the frame.".into(),
        Remark::ShutterBoundsBlur => "The shutter is open for less than t0.1, so that blur is counted over the exposure time. A focal-plane shutter that is faster than its sync time lights a part of the frame only.".into(),

        // Falloff and gels.
        Remark::FalloffBeamEstimated => "The apertures rest on a beam estimated from energy and coverage; the stops do not.".into(),
        Remark::FaceWithoutModifier => "A face is given, but not what its modifier does: the apertures are those of the unit as it is rated, as if it took no light. A softbox takes one to three stops; state what yours does, or its kind.".into(),
        Remark::EvenEverywhere => "Before so large a source the light over the depth is as even as wanted at every distance, so that the distance for evenness is 0.".into(),
        Remark::VeryNear => "Nearer than the source is large, an even face is a rough model: real faces are brighter in the middle, and the light wraps.".into(),
        Remark::VisibleError => "No stack of these gels comes within 10 mired of the wish: the difference may be seen.".into(),

        // Safety cautions.
        Remark::StoredCharge => "A flash unit's capacitors hold a lethal charge, even unplugged. Never open a unit; leave that to a qualified workshop.".into(),
        Remark::Heat => "Many full-power pops and modelling lamps heat tubes and heads. Keep to the maker's duty limits and keep cloth away from tubes.".into(),
        Remark::Photosensitivity => "Trains of flashes can trigger seizures; more than three in a second is the threshold of WCAG 2.x, success criterion 2.3.1. Warn the people on set and keep pops apart.".into(),
        Remark::Eyes => "Keep full-power flash away from eyes at close range, most of all those of infants and animals. IEC 62471 is the standard for lamp safety.".into(),
        Remark::MainsLoad => "Several strong units can overload one circuit when they recycle together. Local code and a licensed electrician decide what a circuit may carry.".into(),
    }
}

/// Ratios that are missed, as achieved and as asked for.
fn ratio_missed(ratios: &[MissedRatio]) -> String {
    let texts = ratios.iter().map(|MissedRatio { of, target, achieved }| {
        let what = match of {
            RatioOf::Sides => "lit side to shadow side".to_owned(),
            RatioOf::Lights => "key alone to fill alone".to_owned(),
            RatioOf::Points([to, point]) => format!("{to} to {point}"),
        };
        let got = achieved.map_or_else(|| "nothing".to_owned(), |got| format!("{got:.2}:1"));
        format!("{what} is {got}, not {target:.2}:1")
    });
    format!("Farther off than the tolerance: {}.", listed(texts, MAX_LISTED_RATIOS))
}

fn no_single_remedy(fixed_lights: &[String], all_tried: bool) -> String {
    let fixed = match fixed_lights {
        [] => String::new(),
        [one] => format!("{one} is fixed, "),
        several => format!("{} are fixed, ", several.join(", ")),
    };
    let untried = if all_tried { "" } else { "not every one was tried to the end, " };
    format!(
        "No single change that would do it was found within the limits: {fixed}{untried}the limits may be too tight, or the targets contradict each other. Add a light, flag one off from a point, or relax a target."
    )
}

/// Two levels, rounded to tenths.
fn level_pair(levels: &[f64; 2]) -> String {
    let [from, to] = levels.map(|level| (level * 10.0).round() / 10.0);
    format!("{from} and {to}")
}
