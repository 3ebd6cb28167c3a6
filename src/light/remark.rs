//! Warnings and safety cautions that go with an answer. Their sentences are in `wording::phrases`.

use crate::light::quantity::{Stops, words::coded};

coded! {
    /// A warning about an answer, or a safety caution. Each has a sentence of its own. Answers of different kinds may share
    /// a code.
    pub enum Remark {
        // A balance, a prediction, and the light of a set.

        /// Each remedy brings every point within the tolerance, and perhaps no nearer.
        RemediesWithinTolerance {
            /// The tolerance.
            tolerance: Stops,
        } = "remedies_within_tolerance",
        /// Ratios are farther from their target than the tolerance.
        RatioMissed {
            /// The ratios.
            ratios: Vec<MissedRatio>,
        } = "ratio_missed",
        /// A unit states no scale.
        ContinuousScale = "continuous_scale",
        /// The time limit ended the search.
        NotProven = "not_proven",
        /// No single change makes the set feasible.
        NoSingleRemedy {
            /// The lights with a fixed setting.
            fixed_lights: Vec<String>,
            /// Whether every change was tried to the end.
            all_tried: bool,
        } = "no_single_remedy",
        /// The ratio is 1:1 counted by sides.
        NoKeyAtAll = "no_key_at_all",
        /// The ambient light alone gives the lit side its target.
        NoLightsMakeIt = "no_lights_make_it",
        /// Other settings are within the tolerance, but the weights prefer these.
        WeightsOverTolerance = "weights_over_tolerance",
        /// The least energy counts a unit by an estimate.
        LeastEnergyEstimated = "energy_estimated",
        /// The beam of a light of the set was estimated.
        SetBeamEstimated = "beam_estimated",
        /// Lights that reach none of the points.
        LightReachesNoPoint {
            /// The lights.
            lights: Vec<String>,
        } = "light_reaches_no_point",
        /// Lights whose aim has no effect, because they state no beam.
        AimedWithoutBeam {
            /// The lights.
            lights: Vec<String>,
        } = "aimed_without_beam",
        /// Points that no light reaches.
        Unlit {
            /// The points.
            points: Vec<String>,
        } = "unlit",

        // A kit and its supply.

        /// A unit recycles more slowly than the frames follow each other.
        RecycleTooSlow {
            /// The unit.
            unit: String,
            /// Recycle time of all its flashes in a frame, s.
            recycle_s: f64,
            /// Its flashes in a frame.
            flashes: u32,
            /// Interval between frames, s.
            between_s: f64,
            /// The shots in which that is so.
            shots: Vec<String>,
            /// The number of all shots.
            of_shots: usize,
        } = "recycle_too_slow",
        /// A unit needs more than one charge of its battery.
        ChargeTooSmall {
            /// The unit.
            unit: String,
            /// The charges that its shots need.
            charges: f64,
        } = "charge_too_small",
        /// The beam of a unit in a kit was estimated.
        KitBeamEstimated = "beam_estimated",
        /// A modifier is known by its kind only.
        ModifierEstimated = "modifier_estimated",
        /// Units without an energy, so that their draw is unknown.
        EnergyUnknown {
            /// The units.
            units: Vec<String>,
        } = "energy_unknown",
        /// Units without a recycle time.
        RecycleUnknown {
            /// The units.
            units: Vec<String>,
        } = "recycle_unknown",
        /// Units with a battery that are counted on a circuit.
        BatteryOnCircuit {
            /// The units.
            units: Vec<String>,
        } = "battery_on_circuit",
        /// Units whose duty limit cannot be checked.
        DutyUnchecked {
            /// The units.
            units: Vec<String>,
        } = "duty_unchecked",
        /// Units whose modelling lamp also draws on the battery.
        LampOnBattery {
            /// The units.
            units: Vec<String>,
        } = "lamp_on_battery",
        /// A circuit may carry a long load that is too great for one.
        LongLoad {
            /// The circuit.
            circuit: String,
            /// The part of its breaker rating that a long load may take.
            part: f64,
        } = "long_load",

        // One unit replaced by another, and guide numbers.

        /// Guide numbers were compared although a modifier is in use.
        ModifierOnBeam = "modifier_on_beam",
        /// The energy of a compared unit was estimated.
        UnitEnergyEstimated {
            /// The name of the unit, if it has one.
            unit: Option<String>,
        } = "energy_estimated",
        /// The reference has a modifier, the candidate states none.
        CandidateWithoutModifier = "taken_without_modifier",
        /// A guide number and an energy are different things.
        BeamIsNotEnergy = "beam_is_not_energy",
        /// A guide number at the widest setting of the unit makes a better estimate.
        WidestSettingIsBetter = "widest_setting_is_better",
        /// The energy found is not the energy that the other unit stores.
        NotStoredEnergy = "not_stored_energy",
        /// The level of a frame in a comparison of units is clipped.
        ComparedFrameClipped = "clipped",
        /// The aperture lies between two frames.
        Interpolated = "interpolated",

        // Patches and their response.

        /// A level lies beyond the frames of a response that was sent.
        BeyondResponse = "extrapolated",
        /// A level lies between frames of a response that are more than a stop apart.
        WideGapInResponse = "wide_gap",
        /// The response that was sent has two points.
        FewPointsInResponse = "few_frames",
        /// The level of the reference is clipped.
        ReferenceClipped = "reference_clipped",
        /// Clipped frames were left out of a fit.
        FramesClipped = "clipped",
        /// Neighbouring frames of a fit are more than two stops apart.
        WideGap {
            /// The pairs of levels.
            between_levels: Vec<[f64; 2]>,
        } = "wide_gap",
        /// A frame with more exposure is no brighter.
        NotMonotone = "not_monotone",
        /// Fewer than three frames of different levels were fitted.
        FewFrames = "few_frames",
        /// A level lies beyond the fitted frames.
        BeyondFrames = "extrapolated",

        // A calibration.

        /// Fewer than three settings were measured.
        FewSettings = "few_settings",
        /// The light does not follow the settings.
        OddTracking = "odd_tracking",
        /// The readings contradict each other.
        ReadingsDisagree = "readings_disagree",
        /// Repeated readings lie far apart.
        RepeatsDisagree = "repeats_disagree",
        /// No setting was read twice.
        NoRepeats = "no_repeats",
        /// There is no reading at full power.
        FullNotMeasured = "full_not_measured",
        /// The distance of the meter is unknown.
        NoDistance = "no_distance",
        /// Readings far below the rest were left out.
        Misfires = "misfires",
        /// Readings far above the rest were left out.
        TooBright = "too_bright",

        // Ambient light and motion.

        /// The exposure time for the wanted ambient light is shorter than the sync time.
        WantedTimeFasterThanSync = "faster_than_sync",
        /// The exposure time is shorter than the sync time.
        FasterThanSync = "faster_than_sync",
        /// The level of ambient light was read without the tone curve of the file.
        NoToneCurve = "no_tone_curve",
        /// The level of ambient light is clipped.
        AmbientClipped = "clipped",
        /// The loss by the shutter is not computed for a flash that a switch cuts off.
        CutOffNotComputed = "cut_off_not_computed",
        /// The shutter closes before the flash has died away.
        TailCut = "tail_cut",
        /// The shutter limits the blur.
        ShutterBoundsBlur = "shutter_bounds_blur",

        // Falloff and gels.

        /// The beam behind the apertures was estimated.
        FalloffBeamEstimated = "beam_estimated",
        /// A face is given, but not the effect of its modifier.
        FaceWithoutModifier = "taken_without_modifier",
        /// The light is even at every distance.
        EvenEverywhere = "even_everywhere",
        /// A distance is shorter than the source is large.
        VeryNear = "very_near",
        /// The best stack of gels leaves a visible difference.
        VisibleError = "visible_error",

        // Safety cautions.

        /// Capacitors hold a lethal charge.
        StoredCharge = "stored_charge",
        /// Many pops heat tubes and heads.
        Heat = "heat",
        /// Trains of flashes can trigger seizures.
        Photosensitivity = "photosensitivity",
        /// A strong flash near a face.
        Eyes = "eyes",
        /// Several units may overload one circuit.
        MainsLoad = "mains_load",
    }

    /// The stable code for programs.
    pub fn code
}

/// A ratio farther from its target than the tolerance.
#[derive(Debug, Clone, PartialEq)]
pub struct MissedRatio {
    /// What is compared.
    pub of: RatioOf,
    /// The target ratio, to 1.
    pub target: f64,
    /// The achieved ratio, to 1; `None` if the second has no light.
    pub achieved: Option<f64>,
}

/// What a ratio compares.
#[derive(Debug, Clone, PartialEq)]
pub enum RatioOf {
    /// The lit side and the shadow side.
    Sides,
    /// The key alone and the fill alone.
    Lights,
    /// Two points.
    Points([String; 2]),
}
