//! The codes and texts of assumptions: the name, the value, and its source with its grade.

use crate::{light::assumption::AssumptionKind, wording::phrase::phrases};

phrases! {
    AssumptionKind:
    Efficacy { lm_per_j } = "efficacy_lm_per_j" ("luminous efficacy, lm·s per J"):
        "{lm_per_j}" / "common practice: 15 to 50 lm·s per J has been stated for xenon flash, whole unit",
    EfficacyStated { lm_per_j } = "efficacy_stated_lm_per_j" ("luminous efficacy, lm·s per J"):
        "{lm_per_j}" / "stated by the caller",
    LightInCoverage { share } = "light_in_coverage" ("share of the light inside the coverage"):
        "{share}" / "from memory, rough: share of the lamp's light inside the stated coverage",
    LightInCoverageStated { share } = "light_in_coverage_stated" ("share of the light inside the coverage"):
        "{share}" / "stated by the caller",
    LightInCoverageDerived { share } = "light_in_coverage_derived" ("share of the light inside the coverage"):
        "{share}" / "derived: a gain is defined on all the light",
    UsualReflectors = "usual_reflectors" ("coverage of the unit"):
        "not stated: the range spans a bare bulb and reflectors for 35, 50 and 105 mm, the typical value is that of 35 mm"
        / "our judgement of usual reflectors; bare bulb: derived, all of the light all round; shares of the light inside the others: from memory, rough",
    ConstantC { constant, other_constant, by_stops } = "constant_c" ("incident-light constant C"):
        "{constant}"
        / "published: ISO 2720:1974, flat receptor, 250 in common use; not in the range: by the second constant in use ({other_constant}, from memory) the estimate would change by {by_stops} stop",
    ConstantCStated { constant, other_constant, by_stops } = "constant_c_stated" ("incident-light constant C"):
        "{constant}"
        / "stated by the caller; not in the range: by the second constant in use ({other_constant}, from memory) the estimate would change, in stops, by {by_stops}",
    SecondConstantC { constant } = "second_constant_c" ("incident-light constant C"):
        "{constant}" / "stated by the caller: the second constant in use (from memory)",
    EvenBeam = "even_beam" ("even beam"):
        "the beam is as strong all over the coverage as on its axis"
        / "from memory: beams fall towards the edge, so the light in the coverage is rather less",
    SameKind = "same_kind_as_known_unit" ("same kind as the known unit"):
        "equal efficacy and the same kind of reflector; coverages as stated" / "stated by the caller: against",
    SameKindAndCoverage = "same_kind_and_coverage" ("same kind and coverage as the known unit"):
        "equal efficacy and the same kind of reflector; equal coverages, since not both are stated"
        / "stated by the caller: against",
    GuideNumber { light, guide_number_m } = "guide_number_m" ("guide number, m at ISO 100"):
        "{light}: {guide_number_m}"
        / "from energy and coverage: common practice for efficacy, from memory for the share in the coverage",
    GuideByZoom { light, zoom_mm, guide_number_m } = "guide_number_by_zoom_m" ("guide number by zoom, m at ISO 100"):
        "{light}: {guide_number_m} at {zoom_mm} mm"
        / "stated by the caller: the unit's table, straight in the logarithms between its rows (our choice)",
    LampIntensity { light, intensity_cd } = "lamp_intensity_cd" ("luminous intensity of a lamp, cd"):
        "{light}: {intensity_cd}"
        / "from luminous flux and coverage or beam: from memory, rough, for the share of the light inside it",
    HighSpeedSync { light, loss_stops } = "high_speed_sync_loss_stops" ("loss on entering high-speed sync, stops"):
        "{light}: {loss_stops}; from there the light follows the exposure time"
        / "common practice: 1.5 to 2.3 stops against a flash at the sync time; a reading at this exposure time knows better",
    FullPower { light } = "full_power" ("setting of a light"):
        "{light}: full power" / "our assumption where no setting is stated",
    BeamModel { light, half_power_at_deg } = "beam_model" ("falloff of the beam"):
        "{light}: cosine power, half at {half_power_at_deg} degrees off the axis"
        / "a model (common practice); a measured table is better",
    ModifierKind { kind, effect_stops } = "modifier_stops" ("effect of the modifier, stops"):
        "{kind}, {effect_stops}" / "from memory, rough",
    ModifierKindOfLight { light, kind, effect_stops } = "light_modifier_stops" ("effect of the modifier of a light, stops"):
        "{light}: {kind}, {effect_stops}" / "from memory, rough",
    RoomLight { factor } = "room_light" ("light off the walls of the room"):
        "lumens · reflectance / (area · (1 - reflectance)), everywhere alike, by a factor of {factor} either way"
        / "from memory of radiometry texts: the integrating sphere's multiplier less the first pass; rough in a real room",
    ChargingEfficiency { efficiency } = "charging_efficiency" ("efficiency of charging"):
        "{efficiency}" / "from memory, wide on purpose: the maker's data sheet knows",
    ModellingLamp { power_w } = "modelling_lamp_w" ("power of a modelling lamp, W"):
        "{power_w}"
        / "common practice: off or LED, to 250 W of halogen; the typical value is our judgement; draw.modelling_lamp_w knows",
    PowerFactor { power_factor } = "power_factor" ("power factor"):
        "{power_factor}" / "from memory, wide on purpose: the maker's data sheet knows",
    DevicePowerFactor { power_factor } = "device_power_factor" ("power factor of a device"):
        "{power_factor}"
        / "from memory, rough: 1 for heaters, halogen lamps and large supplies, less for motors and small supplies; the rating plate knows",
    RecycleInProportion = "recycle_s" ("recycle time at less than full power"):
        "in proportion to the energy of the flash"
        / "our assumption where one recycle time is stated; recycle_by_setting knows better",
    AllAtFullPower = "all_at_full_power" ("units without shots"):
        "at full power, recycling all at once" / "our assumption where no shots are given: the worst case for a circuit",
    HeadAlone { packs } = "head_alone" ("heads at once on a pack"):
        "1 on {packs}" / "our assumption where heads is left out: each head that shares the pack's energy takes a stop or more",
    NoToneCurve { flattest, steepest } = "no_tone_curve" ("tone curve of the file"):
        "stops by the curve of the space alone; stops_range by tone curves {flattest} to {steepest} times as steep"
        / "common practice, wide: rendered files have a tone curve; frames that bracket the change give the true slope (patches/response)",
    GreyLevel { level } = "grey_level" ("level of an 18 % grey at the working exposure"):
        "{level}" / "derived: 18 % of white by the curve of the space; cameras may put it elsewhere (common practice)",
    LevelByCurve { flattest, steepest } = "level_by_curve" ("tone curve of the file"):
        "level by the curve of the space alone; level_range by tone curves {flattest} to {steepest} times as steep from mid grey on"
        / "common practice, wide: rendered files have a tone curve; frames that bracket the change give the true one (patches/response)",
    Repeat { plus_minus_stops } = "repeat_plus_minus_stops" ("repeatability of the unit"):
        "{plus_minus_stops} stop, 95 %"
        / "our judgement of flash units; it counts for two readings, beside the readings' own scatter",
    RepeatStated { plus_minus_stops } = "repeat_stated_plus_minus_stops" ("repeatability of the unit"):
        "{plus_minus_stops} stop, 95 %" / "stated by the caller; the readings' own scatter is counted beside it",
    UsualWithin { what, plus_minus_stops } = "usual_plus_minus_stops" ("how far a number may be off, 95 %"):
        "{what}: ±{plus_minus_stops} stop" / "our judgement, where nothing is stated",
    UsualDistanceWithin { what, plus_minus_m } = "usual_plus_minus_m" ("how far a length may be off, 95 %"):
        "{what}: ±{plus_minus_m} m" / "our judgement, where nothing is stated",
    UsualAngleWithin { what, plus_minus_deg } = "usual_plus_minus_deg" ("how far an angle may be off, 95 %"):
        "{what}: ±{plus_minus_deg} degrees" / "our judgement, where nothing is stated",
    ReadingAtFullPower = "reading_at_full_power" ("setting of a reading"):
        "full power" / "our assumption where a reading states no setting",
    MeterDigit { digit_stops } = "meter_digit_stops" ("last digit of the meter"):
        "{digit_stops} stop" / "by the f-numbers, which all stand on such steps; where they stand on whole stops, thirds",
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{light::quantity::Stops, wording::phrase::Phrased as _};

    #[test]
    fn the_other_constant_is_compared_with_no_other() {
        let source = |kind: AssumptionKind| kind.sentence().second;
        let other = source(AssumptionKind::SecondConstantC { constant: 170.9 });
        assert!(!other.contains("stop"), "{other}");
        // By hand: log2(170.9/341.8) is -1.
        let by_stops = Stops::new_unchecked(-1.0);
        let stated = AssumptionKind::ConstantCStated { constant: 341.8, other_constant: 170.9, by_stops };
        assert!(source(stated).ends_with("would change, in stops, by −1"));
    }
}
