//! A unit in an answer, in the form that requests accept.

use serde::Serialize;
use utoipa::ToSchema;

use crate::light::{
    quantity::{GuideMetres, Joules, Number, Seconds, Stops, bounds, units::GuideUnit},
    unit::{
        Draw, Unit,
        coverage::Coverage,
        lamp::Lamp,
        scale::{Grid, Style, StyleName},
    },
};

/// A flash unit or a lamp, in the form that requests accept. A guide number from a table is that at the zoom in use.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct UnitObject {
    /// Its name.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    name: Option<String>,
    /// Energy at full power, J.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    energy: Option<Joules>,
    /// Guide number at full power.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    guide_number: Option<GuideObject>,
    /// The light of a lamp at full output, in place of energy and guide number.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    continuous: Option<LampObject>,
    /// High-speed sync; absent if it has none.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    high_speed_sync: Option<HighSpeedSyncObject>,
    /// The width of its beam.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    coverage: Option<CoverageObject>,
    /// Its power scale.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    scale: Option<ScaleObject>,
    /// Measured difference of its light from the rating, stops; + is brighter.
    offset_stops: Stops,
    /// Measured differences at settings, in addition to the offset.
    corrections: Vec<CorrectionObject>,
    /// How far its light may be off what is stated of it, ± stops at 95 %; absent if not stated.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    plus_minus_stops: Option<Stops>,
    /// How far its light at a setting may be off its scale, ± stops at 95 %, with `corrections` at theirs; absent if not stated.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    dial_plus_minus_stops: Option<Stops>,
    /// Repeatability of its light, ± stops at 95 %; absent if not stated.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    repeat_plus_minus_stops: Option<Stops>,
    /// Flash durations by setting.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    duration_by_setting: Vec<DurationObject>,
    /// Recycle time after a flash at full power, s.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    recycle_s: Option<Number>,
    /// Recycle times after flashes at other settings.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    recycle_by_setting: Vec<RecycleObject>,
    /// Full-power flashes per battery charge.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    flashes_per_charge: Option<Number>,
    /// Its electrical draw.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    draw: Option<DrawObject>,
    /// The duty limit of its head.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    duty: Option<DutyObject>,
}

/// The light of a lamp: one of the two.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
struct LampObject {
    /// Luminous intensity on its axis, cd.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    intensity_cd: Option<Number>,
    /// Luminous flux, lm.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    luminous_flux_lm: Option<Number>,
}

/// High-speed sync of a flash.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
struct HighSpeedSyncObject {
    /// The loss on entering it, stops; absent if it is not stated.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    loss_stops: Option<Stops>,
    /// How far that may be off, ± stops at 95 %; absent if it is not stated.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    plus_minus_stops: Option<Stops>,
}

/// A recycle time after a flash at one setting.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
struct RecycleObject {
    /// The setting's label.
    setting: String,
    /// Recycle time, s.
    recycle_s: Number,
}

/// The electrical draw of a unit.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
struct DrawObject {
    /// Charging efficiency: energy of the flash over the energy drawn to charge it.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    charging_efficiency: Option<Number>,
    /// Power factor: watts over volt-amperes.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    power_factor: Option<Number>,
    /// Power of the modelling lamp, W.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    modelling_lamp_w: Option<Number>,
}

/// The duty limit of a head: the number of flashes in a time.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
struct DutyObject {
    /// Full-power flashes, or the same energy in weaker ones.
    flashes: Number,
    /// The time in which they are counted, s.
    in_s: Number,
}

/// A guide number.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
struct GuideObject {
    /// The guide number at ISO 100.
    value: GuideMetres,
    /// Its unit: always metres.
    unit: GuideUnit,
}

/// A coverage: one of focal length (with its frame), angles, cone or gain.
#[derive(Debug, Clone, Default, PartialEq, Serialize, ToSchema)]
struct CoverageObject {
    /// Focal length, mm.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    focal_length_mm: Option<Number>,
    /// The frame that the focal length refers to, mm.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false, min_items = 2, max_items = 2)]
    frame_mm: Option<[Number; 2]>,
    /// The two full angles of a rectangular coverage, degrees.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false, min_items = 2, max_items = 2)]
    angles_deg: Option<[Number; 2]>,
    /// The full angle of a cone, degrees.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    cone_deg: Option<Number>,
    /// On-axis intensity over that of an isotropic source.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    gain: Option<Number>,
}

/// A power scale.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
struct ScaleObject {
    /// The kind of labels on the control.
    style: StyleName,
    /// The label of a dial at full power.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    full: Option<Number>,
    /// The least setting.
    least: Written,
    /// The smallest step, stops.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    click: Option<Written>,
    /// The smallest step, percent or joules.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    step: Option<Number>,
}

/// A number, or a text if a number would lose digits.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
#[serde(untagged)]
#[schema(as = NumberOrText)]
enum Written {
    /// A number.
    Number(Number),
    /// The notation of the scale: `1/128`, `1/3`.
    Text(String),
}

/// A correction at one setting.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
struct CorrectionObject {
    /// The setting's label.
    setting: String,
    /// Difference of its light from rating and offset, stops; + is brighter.
    stops: Stops,
}

/// A flash duration at one setting.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
struct DurationObject {
    /// The setting's label.
    setting: String,
    /// Time above half of the peak, s; left out if it follows from the other and no request takes it.
    #[serde(skip_serializing_if = "Option::is_none")]
    t0_5_s: Option<Seconds>,
    /// Time above a tenth of the peak, s; the same.
    #[serde(skip_serializing_if = "Option::is_none")]
    t0_1_s: Option<Seconds>,
}

impl UnitObject {
    /// How far its light at a setting may be off its scale, ± stops at 95 %, if that is known.
    pub const fn dial(&self) -> Option<Stops> {
        self.dial_plus_minus_stops
    }

    /// Converts a unit to the form that requests accept.
    pub fn of(unit: &Unit) -> Self {
        Self {
            name: unit.name.clone(),
            energy: unit.energy,
            guide_number: unit.guide_number.map(|value| GuideObject { value, unit: GuideUnit::Metres }),
            continuous: unit.lamp.map(lamp),
            high_speed_sync: unit
                .high_speed_sync
                .map(|sync| HighSpeedSyncObject { loss_stops: sync.loss, plus_minus_stops: sync.plus_minus }),
            coverage: unit.coverage.map(coverage),
            scale: scale(unit),
            offset_stops: unit.offset,
            corrections: unit
                .corrections
                .iter()
                .map(|&[below, stops]| CorrectionObject {
                    setting: unit.scale.label(Stops::new_unchecked(below)),
                    stops: Stops::new_unchecked(stops),
                })
                .collect(),
            plus_minus_stops: unit.plus_minus,
            dial_plus_minus_stops: unit.dial,
            repeat_plus_minus_stops: unit.repeat,
            duration_by_setting: unit
                .durations
                .iter()
                .map(|(setting, duration)| DurationObject {
                    setting: setting.clone(),
                    t0_5_s: if_accepted(duration.t0_5),
                    t0_1_s: if_accepted(duration.t0_1),
                })
                .collect(),
            recycle_s: unit
                .feeding
                .recycle
                .iter()
                .find(|row| row[0] >= 1.0)
                .map(|row| Number::new_unchecked(row[1])),
            recycle_by_setting: unit
                .feeding
                .recycle
                .iter()
                .filter(|row| row[0] < 1.0)
                .map(|&[part, seconds]| RecycleObject {
                    setting: unit.scale.label(Stops::new_unchecked(-part.log2())),
                    recycle_s: Number::new_unchecked(seconds),
                })
                .collect(),
            flashes_per_charge: unit.feeding.flashes_per_charge.map(Number::new_unchecked),
            draw: (unit.feeding.draw != Draw::default()).then(|| DrawObject {
                charging_efficiency: unit.feeding.draw.charging_efficiency.map(Number::new_unchecked),
                power_factor: unit.feeding.draw.power_factor.map(Number::new_unchecked),
                modelling_lamp_w: unit.feeding.draw.modelling_lamp_w.map(Number::new_unchecked),
            }),
            duty: unit.feeding.duty.map(|duty| DutyObject {
                flashes: Number::new_unchecked(duty.flashes),
                in_s: Number::new_unchecked(duty.in_s),
            }),
        }
    }
}

fn lamp(lamp: Lamp) -> LampObject {
    let number = |value| Some(Number::new_unchecked(value));
    match lamp {
        Lamp::Intensity(candela) => LampObject { intensity_cd: number(candela), luminous_flux_lm: None },
        Lamp::Flux(lumen) => LampObject { intensity_cd: None, luminous_flux_lm: number(lumen) },
    }
}

fn coverage(coverage: Coverage) -> CoverageObject {
    let number = Number::new_unchecked;
    let nothing = CoverageObject::default();
    match coverage {
        Coverage::FocalLength { focal_length_mm, frame_mm } => CoverageObject {
            focal_length_mm: Some(number(focal_length_mm)),
            frame_mm: Some(frame_mm.map(number)),
            ..nothing
        },
        Coverage::Angles { horizontal_deg, vertical_deg } => {
            CoverageObject { angles_deg: Some([horizontal_deg, vertical_deg].map(number)), ..nothing }
        }
        Coverage::Cone { cone_deg } => CoverageObject { cone_deg: Some(number(cone_deg)), ..nothing },
        Coverage::Gain { gain } => CoverageObject { gain: Some(number(gain)), ..nothing },
    }
}

fn scale(unit: &Unit) -> Option<ScaleObject> {
    let number = |value| Written::Number(Number::new_unchecked(value));
    let (style, full, least) = match unit.scale.style() {
        Style::Dial { full, least } => (StyleName::Dial, Some(Number::new_unchecked(full)), number(least)),
        Style::Fraction { .. } => {
            (StyleName::Fraction, None, Written::Text(unit.scale.label(unit.scale.range())))
        }
        Style::Percent { least } => (StyleName::Percent, None, number(least)),
        Style::Joules { least, .. } => (StyleName::Joules, None, number(least)),
        Style::Continuous => return None,
    };
    let (click, step) = match unit.scale.grid() {
        Grid::Linear(step) => (None, Some(Number::new_unchecked(step))),
        Grid::Click(click) => {
            // Thirds have no finite decimal form, so they are written as text.
            let thirds = click * 3.0;
            let is_thirds = (thirds - thirds.round()).abs() < 1e-9 && (click - click.round()).abs() > 1e-9;
            let click =
                if is_thirds { Written::Text(format!("{}/3", thirds.round())) } else { number(click) };
            (Some(click), None)
        }
    };
    Some(ScaleObject { style, full, least, click, step })
}

/// A duration that a request takes. One of two may be beyond its bounds where it was derived from the other.
fn if_accepted(duration: Seconds) -> Option<Seconds> {
    Some(duration).filter(|duration| bounds::DURATION.check(duration.get()).is_ok())
}
