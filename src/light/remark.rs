//! Warnings and safety cautions that go with an answer. Their codes and sentences are in `wording::phrases`.

use crate::light::{
    error::Part,
    quantity::{Stops, bounds::Bounds, significant},
};

/// A share, 0 to 1, that a sentence states in percent.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Percentage(pub f64);

/// A warning, a caution or an assumption, with the part of the question that it is about.
#[derive(Debug, Clone, PartialEq)]
pub struct Remark<Kind> {
    /// What it says.
    pub kind: Kind,
    /// The part that it is about; `None` if that is the whole question.
    pub part: Option<Part>,
}

impl<Kind> Remark<Kind> {
    /// A remark about one part.
    pub const fn about(part: Part, kind: Kind) -> Self {
        Self { kind, part: Some(part) }
    }

    /// The same remark in one of several kits.
    #[must_use]
    pub fn in_kit(self, index: usize) -> Self {
        Self { part: self.part.map(|part| part.in_kit(index)), ..self }
    }
}

impl<Kind> From<Kind> for Remark<Kind> {
    fn from(kind: Kind) -> Self {
        Self { kind, part: None }
    }
}

/// A warning about an answer.
pub type Warning = Remark<WarningKind>;
/// A safety caution.
pub type Caution = Remark<CautionKind>;

/// What an answer warns of.
#[derive(Debug, Clone, PartialEq)]
pub enum WarningKind {
    // A balance, a prediction, and the light of a set.
    /// The ratio of the two sides is farther from its target than the tolerance.
    SidesRatioMissed {
        /// The achieved ratio, to 1.
        achieved: f64,
        /// The target ratio, to 1.
        target: f64,
    },
    /// The same, for key alone to fill alone.
    LightsRatioMissed {
        /// The achieved ratio, to 1.
        achieved: f64,
        /// The target ratio, to 1.
        target: f64,
    },
    /// The fill gives no light, so that there is no ratio.
    RatioWithoutFill {
        /// The target ratio, to 1.
        target: f64,
    },
    /// The ratio between two points is farther from its target than the tolerance.
    PointRatioMissed {
        /// The point that is compared.
        to: String,
        /// The point that it is compared with.
        point: String,
        /// The achieved ratio, to 1.
        achieved: f64,
        /// The target ratio, to 1.
        target: f64,
    },
    /// The point that another is compared with has no light.
    RatioWithoutLight {
        /// The point that is compared.
        to: String,
        /// The point without light.
        point: String,
        /// The target ratio, to 1.
        target: f64,
    },
    /// A unit states no scale.
    ContinuousScale,
    /// The time limit ended the search.
    NotProven,
    /// No single change makes the set feasible.
    NoSingleRemedy,
    /// Beside it: some lights have a fixed setting.
    LightsFixed {
        /// The lights.
        lights: Vec<String>,
    },
    /// Beside it: not every change was tried to the end.
    RemediesNotTried,
    /// The ratio is 1:1 counted by sides.
    NoKeyAtAll,
    /// The ambient light alone gives the lit side its target.
    NoLightsMakeIt,
    /// Other settings are within the tolerance, but the weights prefer these.
    WeightsOverTolerance,
    /// The least energy counts a unit by an estimate.
    LeastEnergyEstimated,
    /// The beam of a light of the set was estimated.
    SetBeamEstimated,
    /// Lights that reach none of the points.
    LightReachesNoPoint {
        /// The lights.
        lights: Vec<String>,
    },
    /// Lights whose aim has no effect, because they state no beam.
    AimedWithoutBeam {
        /// The lights.
        lights: Vec<String>,
    },
    /// Packs that no light is on.
    PackUnused {
        /// The packs.
        packs: Vec<String>,
    },
    /// A light of another colour than the others.
    MixedColour {
        /// The light.
        light: String,
        /// A light of the colour that most have.
        other: String,
        /// The shift of its filters less that of the other's, mired.
        difference_mired: f64,
    },
    /// Boards that send no light to any point.
    IdleBoards {
        /// The boards.
        boards: Vec<String>,
    },
    /// Lights of which the room gets nothing, because their lumens are not known.
    LumensUnknown {
        /// The lights.
        lights: Vec<String>,
    },
    /// Lights and points inside a blocker.
    InsideBlocker {
        /// The lights and points.
        inside: Vec<String>,
        /// The blocker.
        blocker: String,
    },
    /// Blockers in a set without positions, where they hide nothing.
    IdleBlockers {
        /// The blockers.
        blockers: Vec<String>,
    },
    /// A reading that agrees with nothing else.
    ReadingFitsNothing {
        /// The point.
        point: String,
        /// What is left over of it, stops.
        left_over_stops: f64,
    },
    /// A light that is off by far more than it was known to be.
    LightFarOff {
        /// The light.
        light: String,
        /// How far it is off.
        error_stops: Stops,
        /// How far it might have been off before the readings, stops.
        known_before_stops: f64,
    },
    /// Points that no light reaches.
    Unlit {
        /// The points.
        points: Vec<String>,
    },

    /// The measurement that narrows the light at a point most: a light alone.
    MeterAlone {
        /// The light.
        light: String,
        /// The point.
        point: String,
        /// The 95 % half-width there now, stops.
        now_stops: f64,
        /// The same then, stops.
        then_stops: f64,
    },
    /// The same, of one light and its subject.
    MeterTheLight {
        /// The 95 % half-width now, stops.
        now_stops: f64,
        /// The same then, stops.
        then_stops: f64,
    },
    /// The same: the meter against the camera.
    CompareMeter {
        /// The point.
        point: String,
        /// The 95 % half-width there now, stops.
        now_stops: f64,
        /// The same then, stops.
        then_stops: f64,
    },

    // A kit and its supply.
    /// A unit recycles more slowly than the frames follow each other.
    RecycleTooSlow {
        /// The unit.
        unit: String,
        /// Recycle time of all its flashes in a frame, s, rounded up.
        recycle_s: f64,
        /// Its flashes in a frame.
        flashes: u32,
        /// Interval between frames, s.
        interval_s: f64,
        /// The shots in which that is so.
        shots: Vec<String>,
    },
    /// A unit needs more than one charge of its battery.
    ChargeTooSmall {
        /// The unit.
        unit: String,
        /// The charges that its shots need, rounded up to tenths.
        charges: f64,
    },
    /// The beam of a unit in a kit was estimated.
    KitBeamEstimated,
    /// A modifier is known by its kind only.
    ModifierEstimated,
    /// Units without an energy, so that their draw is unknown.
    EnergyUnknown {
        /// The units.
        units: Vec<String>,
    },
    /// Units without a recycle time.
    RecycleUnknown {
        /// The units.
        units: Vec<String>,
    },
    /// Units with a battery that are counted on a circuit.
    BatteryOnCircuit {
        /// The units.
        units: Vec<String>,
    },
    /// Units whose duty limit cannot be checked.
    DutyUnchecked {
        /// The units.
        units: Vec<String>,
    },
    /// Units whose modelling lamp also draws on the battery.
    LampOnBattery {
        /// The units.
        units: Vec<String>,
    },
    /// A circuit may carry a long load that is too great for one.
    LongLoad {
        /// The circuit.
        circuit: String,
        /// The share of its breaker rating that a long load may take.
        share: Percentage,
    },

    // One unit replaced by another, and guide numbers.
    /// Guide numbers were compared although a modifier is in use.
    ModifierOnBeam,
    /// The energy of the unit that others are compared with was estimated.
    ReferenceEnergyEstimated,
    /// The energy of a unit that is compared was estimated.
    CandidateEnergyEstimated,
    /// The candidate states no modifier, and is taken to be in that of the reference.
    ModifierOfReference,
    /// Guide numbers were compared although both units are in a modifier.
    SameModifierOnBeams,
    /// A guide number and an energy are different things.
    BeamIsNotEnergy,
    /// A guide number at the widest setting of the unit makes a better estimate.
    WidestSettingIsBetter,
    /// The energy found is not the energy that the other unit stores.
    NotStoredEnergy,
    /// The level of a frame in a comparison of units is clipped.
    ComparedFrameClipped,
    /// The aperture lies between two frames.
    Interpolated,

    // Patches and their response.
    /// A level lies beyond the frames of a response that was sent.
    BeyondResponse,
    /// A level lies between frames of a response that are more than a stop apart.
    WideGapInResponse,
    /// The response that was sent has two points.
    FewPointsInResponse,
    /// The level of the reference is clipped.
    ReferenceClipped,
    /// Clipped frames were left out of a fit.
    FramesClipped,
    /// Neighbouring frames of a fit are more than two stops apart.
    WideGapBetweenFrames {
        /// The lower level.
        from_level: f64,
        /// The higher level.
        to_level: f64,
    },
    /// A frame with more exposure is no brighter.
    NotMonotone,
    /// Fewer than three frames of different levels were fitted.
    FewFrames,
    /// A level lies beyond the fitted frames.
    BeyondFrames,

    // A calibration.
    /// Fewer than three settings were measured.
    FewSettings,
    /// The light does not follow the settings.
    OddTracking,
    /// The readings contradict each other.
    ReadingsDisagree,
    /// Repeated readings lie far apart.
    RepeatsDisagree,
    /// No setting was read twice.
    NoRepeats,
    /// There is no reading at full power.
    FullNotMeasured,
    /// The distance of the meter is unknown.
    NoDistance,
    /// The unit states no guide number to compare its light with.
    NoRating,
    /// The readings are levels, which tell light only against each other.
    LevelsAreRelative,
    /// Readings far below the rest were left out.
    Misfires,
    /// Readings far above the rest were left out.
    TooBright,

    // Ambient light and motion.
    /// The exposure time for the wanted ambient light is shorter than the sync time.
    WantedTimeFasterThanSync,
    /// The exposure time that is asked for is shorter than the sync time, and nothing else does it within the limits.
    HighSpeedSyncNeeded {
        /// The exposure time, by its mark.
        exposure_time: String,
    },
    /// The exposure time is shorter than the sync time.
    FasterThanSync {
        /// The share of the frame that a flash lights.
        frame_share: Percentage,
    },
    /// A shorter exposure time is proposed, and the sync time is not stated.
    SyncTimeUnknown,
    /// The level of ambient light was read without the tone curve of the file.
    LevelWithoutToneCurve,
    /// The level of ambient light is clipped.
    AmbientClipped,
    /// The loss by the shutter is not computed for a flash that a switch cuts off.
    CutOffNotComputed,
    /// The shutter closes before the flash has died away.
    TailCut,
    /// The shutter limits the blur.
    ShutterBoundsBlur,
    /// The shutter closes before the last flash of a train.
    TrainCut {
        /// The flashes in the picture.
        images: u32,
        /// The flashes of the train.
        pops: u32,
    },
    /// A unit recycles more slowly than the flashes of a train follow each other.
    TrainTooFast {
        /// Recycle time, s.
        recycle_s: f64,
        /// Time from one flash to the next, s.
        interval_s: f64,
        /// The energy of the train, in flashes at full power.
        full_flashes: f64,
    },
    /// A train exceeds the duty limit of the head.
    TrainOverDuty {
        /// The most energy within the time of the limit, in flashes at full power.
        full_flashes: f64,
        /// The time of the limit, s.
        in_s: f64,
        /// The limit, in flashes at full power.
        duty_flashes: f64,
    },

    // Falloff and gels.
    /// The beam behind the apertures was estimated.
    FalloffBeamEstimated,
    /// A face is given, but not the effect of its modifier.
    FaceWithoutModifier,
    /// Two faces that are compared differ in shape.
    OtherShape,
    /// The light is even at every distance.
    EvenEverywhere,
    /// A distance is shorter than the source is large.
    VeryNear,
    /// The best stack of gels leaves a visible difference.
    VisibleError,

    // What is found.
    /// A value that was found is outside the range that requests accept.
    BeyondRange {
        /// The quantity, with its unit.
        what: String,
        /// The value.
        value: f64,
        /// The least accepted value.
        least: f64,
        /// The greatest accepted value.
        greatest: f64,
    },
}

impl WarningKind {
    /// The warning that a value which was found is out of range; `None` if it is not.
    ///
    /// ```
    /// use stopwright::light::{quantity::bounds::F_NUMBER, remark::WarningKind};
    /// assert!(WarningKind::beyond_range(&F_NUMBER, 512.0).is_none());
    /// assert!(WarningKind::beyond_range(&F_NUMBER, 0.01).is_some());
    /// ```
    pub fn beyond_range(bounds: &Bounds, value: f64) -> Option<Self> {
        let Bounds { what, unit, least, greatest } = *bounds;
        let value = significant(value);
        let what = if unit.is_empty() { what.to_owned() } else { format!("{what} in {unit}") };
        bounds.check(value).is_err().then_some(Self::BeyondRange { what, value, least, greatest })
    }
}

/// What an answer cautions of.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum CautionKind {
    /// Capacitors hold a lethal charge.
    StoredCharge,
    /// Many pops heat tubes and heads.
    Heat,
    /// Trains of flashes can trigger seizures.
    Photosensitivity,
    /// A strong flash near a face.
    Eyes,
    /// Several units may overload one circuit.
    MainsLoad,
}
