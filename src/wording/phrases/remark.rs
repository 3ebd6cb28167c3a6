//! The codes and sentences of warnings and cautions.

use crate::{
    light::remark::{CautionKind, WarningKind},
    wording::phrase::phrases,
};

phrases! {
    WarningKind:

    // A balance, a prediction, and the light of a set.
    SidesRatioMissed { achieved, target } = "sides_ratio_missed":
        "Lit side to shadow side comes out {achieved}:1, not the {target}:1 you asked for.",
    LightsRatioMissed { achieved, target } = "lights_ratio_missed":
        "Key alone to fill alone comes out {achieved}:1, not the {target}:1 you asked for.",
    RatioWithoutFill { target } = "ratio_without_fill":
        "The fill gives nothing, so there is no ratio; you asked for {target}:1.",
    PointRatioMissed { to, point, achieved, target } = "point_ratio_missed":
        "{to} to {point} comes out {achieved}:1, not the {target}:1 you asked for.",
    RatioWithoutLight { to, point, target } = "ratio_without_light":
        "{point} has no light, so there is no ratio of {to} to {point}; you asked for {target}:1.",
    ContinuousScale = "continuous_scale":
        "A unit states no scale: it is taken as continuously variable over 8 stops, and searched in hundredths of a stop.",
    NotProven = "not_proven":
        "The time limit ended the search: better settings may exist, but none with a worst error under the lower bound.",
    NoSingleRemedy = "no_single_remedy":
        "No single change that would do it was found within the limits: the limits may be too tight, or the targets contradict each other. Add a light, flag one off from a point, or relax a target.",
    LightsFixed { lights } = "lights_fixed":
        "Settings are fixed, which leaves fewer changes: {lights}.",
    RemediesNotTried = "remedies_not_tried":
        "Not every change was tried to the end, because the work for remedies is limited.",
    NoKeyAtAll = "no_key_at_all":
        "1:1 counted by sides is fill alone. For two equal lights ask for 1:1 counted by lights, which is 2:1 counted by sides.",
    NoLightsMakeIt = "no_lights_make_it":
        "The ambient light alone gives the lit side all the light it wants, so no lights can make the ratio.",
    WeightsOverTolerance = "weights_over_tolerance":
        "Other settings keep every point within the tolerance; by the weights these are better. Ask for even weights, or for least_energy.",
    LeastEnergyEstimated = "least_energy_estimated":
        "A unit states no energy: for the least energy it counts by an estimate from its guide number.",
    SetBeamEstimated = "set_beam_estimated":
        "A beam was estimated from energy and coverage; meter each light alone and send readings for settings to trust.",
    LightReachesNoPoint { lights } = "light_reaches_no_point":
        "These lights reach no point and are set as low as they go: {lights}. State a reading or a placement, or leave them out.",
    AimedWithoutBeam { lights } = "aimed_without_beam":
        "These lights are aimed but state no beam, so they are taken to shine equally all round, backwards too: {lights}. State their beams.",
    PackUnused { packs } = "pack_unused":
        "No light is on {packs}.",
    MixedColour { light, other, difference_mired } = "mixed_colour":
        "{light} is {difference_mired} mired off {other} by their filters: if one looks neutral, the other looks coloured.",
    IdleBoards { boards } = "board_reflects_nothing":
        "These boards send no light to any point: {boards}. A board reflects on the side of its normal only: look whether it is edge-on, turned away or in the shade, and whether lights and points have positions.",
    LumensUnknown { lights } = "room_light_unknown":
        "The room gets no light from {lights}, because their lumens are not known. State a beam, the source, or the unit's coverage.",
    InsideBlocker { inside, blocker } = "inside_blocker":
        "These stand inside the blocker {blocker}, which hides nothing from there: {inside}. If it is a person, put the point on the front of the body.",
    IdleBlockers { blockers } = "blocker_hides_nothing":
        "These hide nothing, because they need lights and points with positions: {blockers}.",
    ReadingFitsNothing { point, left_over_stops } = "reading_fits_nothing":
        "The reading at {point} agrees with nothing else: {left_over_stops} stops are left over, and it counts for little. Meter there again.",
    LightFarOff { light, error_stops, known_before_stops } = "light_far_off":
        "{light} is off by {error_stops} stops, far more than the ±{known_before_stops} expected. Before you change it, check its setting, what is in front of it, and the reading.",
    Unlit { points } = "unlit":
        "No light reaches {points}.",

    MeterAlone { light, point, now_stops, then_stops } = "meter_alone":
        "Meter {light} alone at {point}: ±{now_stops} becomes ±{then_stops} stop there.",
    MeterTheLight { now_stops, then_stops } = "meter_the_light":
        "Meter the light at the subject: ±{now_stops} becomes ±{then_stops} stop.",
    CompareMeter { point, now_stops, then_stops } = "compare_meter":
        "Compare the meter with the camera, and state its offset: at {point} ±{now_stops} becomes ±{then_stops} stop.",

    // A kit and its supply.
    RecycleTooSlow { unit, recycle_s, flashes, interval_s, shots } = "recycle_too_slow":
        "{unit} recycles in {recycle_s} s from {flashes} flashes, which is slower than a frame every {interval_s} s. Shots: {shots}."
        one(flashes) "{unit} recycles in {recycle_s} s, which is slower than a frame every {interval_s} s. Shots: {shots}.",
    ChargeTooSmall { unit, charges } = "charge_too_small":
        "{unit} needs {charges} charges for its shots, with nothing in reserve.",
    KitBeamEstimated = "kit_beam_estimated":
        "A unit states no guide number: its beam was estimated from energy and coverage, and may be off by a stop or more. Meter it before the day.",
    ModifierEstimated = "modifier_estimated":
        "A modifier was named by its kind, which is roughly known: headroom and shortfall may be off by the uncertainty beside them.",
    EnergyUnknown { units } = "energy_unknown":
        "What these draw is not known, because they state no energy (a lamp: no power in draw): {units}.",
    RecycleUnknown { units } = "recycle_unknown":
        "How fast these recycle is not known, because they state no recycle time: {units}.",
    BatteryOnCircuit { units } = "battery_on_circuit":
        "These have a battery, but are counted as if the circuit fed each flash: {units}.",
    DutyUnchecked { units } = "duty_unchecked":
        "Whether these keep to their duty limit is not known, because the pace of a shot is not: {units}.",
    LampOnBattery { units } = "lamp_on_battery":
        "Charges are counted for flashes only; the modelling lamps of these draw on them too: {units}.",
    LongLoad { circuit, share } = "long_load":
        "Averaged over the time, circuit \"{circuit}\" may carry more than {share} of what its breaker is for; many codes allow less than the whole for a load that lasts hours.",

    // One unit replaced by another, and guide numbers.
    ModifierOnBeam = "modifier_on_beam":
        "A modifier swallows the whole beam and makes its own. With guide numbers alone the comparison holds only if both units fill the modifier alike; state coverages or energies.",
    ReferenceEnergyEstimated = "reference_energy_estimated":
        "The reference states no energy: it was estimated from guide number and coverage, by typical assumptions.",
    CandidateEnergyEstimated = "candidate_energy_estimated":
        "This candidate states no energy: it was estimated from guide number and coverage, by typical assumptions.",
    ModifierOfReference = "modifier_of_reference":
        "This candidate states no modifier and is taken to be in that of the reference. If it stands without one, state a modifier of 0 stops.",
    SameModifierOnBeams = "same_modifier_on_beams":
        "Both units are in one kind of modifier, and their guide numbers are compared. That holds if both fill it alike; beams of different width do not: then compare by light or energy.",
    BeamIsNotEnergy = "beam_is_not_energy":
        "A guide number is a beam on its axis; a joule is stored electricity. Between them stand tube, reflector and the rating's honesty.",
    WidestSettingIsBetter = "widest_setting_is_better":
        "The guide number at the unit's widest setting makes the better estimate: more of the lamp's light lands in the coverage.",
    NotStoredEnergy = "not_stored_energy":
        "This is the energy of the reference unit that gives as much light on this set: reflector, tube and aim are in it. It is not the energy that the other unit stores.",
    ComparedFrameClipped = "compared_frame_clipped":
        "A frame's level is at an end of its range (0, 255 or 65535), where different light looks the same: leave such frames out.",
    Interpolated = "interpolated":
        "The aperture was found between two frames, level against stops in a straight line.",

    // Patches and their response.
    BeyondResponse = "beyond_response":
        "A level lies beyond the frames that the response was fitted to; beyond them it is taken for a straight line.",
    WideGapInResponse = "wide_gap_in_response":
        "A level lies between frames more than a stop apart: what the curve does between them is a guess, and the range is wide for it. Add frames between.",
    FewPointsInResponse = "few_points_in_response":
        "The response has two points: the curve between them is a straight line, and nothing tells how far it is off.",
    ReferenceClipped = "reference_clipped":
        "The reference is at an end of its range: how far off the others are cannot be told.",
    FramesClipped = "frames_clipped":
        "Frames whose level is at an end of its range were left out: different light looks the same there.",
    WideGapBetweenFrames { from_level, to_level } = "wide_gap_between_frames":
        "Between the levels {from_level} and {to_level} no frame tells anything for more than two stops: the curve there is a guess. Add frames.",
    NotMonotone = "not_monotone":
        "A frame with more exposure is no brighter than one with less: such frames were taken together at their mean. Look for a misfire or a mistyped level.",
    FewFrames = "few_frames":
        "Fewer than three frames of different levels: between two the curve is a straight line.",
    BeyondFrames = "beyond_frames":
        "A level lies beyond the frames; beyond them the curve is taken for a straight line.",

    // A calibration.
    FewSettings = "few_settings":
        "Fewer than three settings were measured: tracking is rough or not known.",
    OddTracking = "odd_tracking":
        "The light does not follow the settings: look for settings that were mixed up, or a unit that does not react.",
    ReadingsDisagree = "readings_disagree":
        "The readings contradict each other, or a true scale, and are too few to say which is wrong: the intervals hold what each would say without one of the others. Take more.",
    RepeatsDisagree = "repeats_disagree":
        "Readings at one setting lie far apart: too few to say which is right. Take more.",
    NoRepeats = "no_repeats":
        "No setting was read twice: the intervals rest on the repeatability in assumptions, and on the readings' distance from the line. Repeat readings to know more.",
    FullNotMeasured = "full_not_measured":
        "Full power was not measured; its light is the line's.",
    NoDistance = "no_distance":
        "Without the distance only the scale is checked, not the unit's light against its rating.",
    NoRating = "no_rating":
        "The unit states no guide number: how far its light is off a rating cannot be told.",
    LevelsAreRelative = "levels_are_relative":
        "Levels tell light only against each other: how far the unit's light is off its rating cannot be told. Meter it once, and send f_number and distance.",
    Misfires = "misfires":
        "Readings far below the rest were left out. Units, shoe-mount ones above all, fail to fire now and then (common practice): take another frame when it counts.",
    TooBright = "too_bright":
        "Readings far above the rest were left out. That is no misfire: look for another light that was on, another setting or distance, or a slip of the pen.",

    // Ambient light and motion.
    WantedTimeFasterThanSync = "wanted_faster_than_sync":
        "The exposure time for the ambient light that is wanted is shorter than the camera's sync time: the shutter would cut into the picture. Close the lens and raise the flash instead.",
    HighSpeedSyncNeeded { exposure_time } = "high_speed_sync_needed":
        "It takes {exposure_time}, which is shorter than the camera's sync time, and no aperture, ISO speed or filter within the limits does it at the sync time. High-speed sync does, if the flash has it; that leaves the flash much less light.",
    FasterThanSync { frame_share } = "faster_than_sync":
        "The exposure time is shorter than the camera's sync time: the shutter cuts into the flash picture, and only {frame_share} of the frame is lit by flash. Set the sync time or longer, or high-speed sync where the flash has it.",
    SyncTimeUnknown = "sync_time_unknown":
        "The camera's sync time is not stated: at a shorter time than that the shutter cuts into the flash picture.",
    LevelWithoutToneCurve = "level_without_tone_curve":
        "The level was read by the curve of its space alone; a file's tone curve makes it rougher.",
    AmbientClipped = "ambient_clipped":
        "The level is at an end of its range: the ambient light may be less (or more) than assumed.",
    CutOffNotComputed = "cut_off_not_computed":
        "What a shutter takes from a flash that a switch cuts off is not computed, because such a flash does not die away evenly.",
    TailCut = "tail_cut":
        "The shutter closes before the flash has died away: less light than metered without it, and that less evenly across the frame.",
    ShutterBoundsBlur = "shutter_bounds_blur":
        "The shutter is open for less than t0.1, so the blur is counted over the exposure time. A focal-plane shutter that is faster than its sync time lets the flash light only a part of the frame.",
    TrainCut { images, pops } = "train_cut":
        "{images} of {pops} flashes fall in the exposure time; the others come too late for the picture."
        one(images) "1 of {pops} flashes falls in the exposure time; the others come too late for the picture.",
    TrainTooFast { recycle_s, interval_s, full_flashes } = "train_too_fast":
        "The unit recycles in {recycle_s} s, which is slower than a flash every {interval_s} s. Only a unit that fires a train out of one charge does not wait for that; the whole train takes as much as {full_flashes} flashes at full power.",
    TrainOverDuty { full_flashes, in_s, duty_flashes } = "train_over_duty":
        "The train is as much as {full_flashes} flashes at full power within {in_s} s; the duty limit of the head is {duty_flashes}.",

    // Falloff and gels.
    FalloffBeamEstimated = "falloff_beam_estimated":
        "The apertures rest on a beam estimated from energy and coverage; the stops do not.",
    FaceWithoutModifier = "face_without_modifier":
        "A face is given, but not what its modifier does: the apertures are those of the unit as it is rated, as if it took no light. A softbox takes one to three stops; state what yours does, or its kind.",
    OtherShape = "other_shape":
        "The two sources differ in shape: as soft on the whole, but softer along one direction and harder along the other.",
    EvenEverywhere = "even_everywhere":
        "In front of so large a source the light over the depth is as even as wanted at every distance, so the distance for evenness is 0.",
    VeryNear = "very_near":
        "Nearer than the source is large, an even face is a rough model: real faces are brighter in the middle, and the light wraps.",
    VisibleError = "visible_error":
        "No stack of these gels comes within 10 mired of the target: the difference may be seen.",

    // What is found.
    BeyondRange { what, value, least, greatest } = "beyond_range":
        "The {what} that was found is {value}, outside the range of {least} to {greatest}: it is of no practical use, and requests do not take it.",
}

phrases! {
    CautionKind:
    StoredCharge = "stored_charge":
        "A flash unit's capacitors hold a lethal charge, even unplugged. Never open a unit; leave that to a qualified workshop.",
    Heat = "heat":
        "Many full-power flashes and modelling lamps heat tubes and heads. Keep to the maker's duty limits and keep cloth away from tubes.",
    Photosensitivity = "photosensitivity":
        "Trains of flashes can trigger seizures; more than three in a second is the threshold of WCAG 2.x, success criterion 2.3.1. Warn the people on set and keep flashes apart.",
    Eyes = "eyes":
        "Keep full-power flash away from eyes at close range, most of all those of infants and animals. IEC 62471 is the standard for lamp safety.",
    MainsLoad = "mains_load":
        "Several strong units can overload one circuit when they recycle together. Local code and a licensed electrician decide what a circuit may carry.",
}
