//! Flash units, their scales and settings.

use crate::{
    light::{
        error::InvalidValue,
        measure::duration::{Duration, Shape},
        quantity::{Joules, Stops, bounds, constants::DEFAULT_CLICK, kind::Kind, notation},
        set::control::LightSetting,
        unit::{
            Duty, Feeding, Unit,
            coverage::Coverage,
            lamp::Lamp,
            scale::{Grid, STOP_ROUNDING, Scale, Style, StyleName},
        },
    },
    request::{
        declare::request,
        field_schema::looks_like,
        fields::{
            feeding::{DrawInput, DutyInput, SettingRecycleInput, recycle_times},
            head,
            lamp::MaybeHighSpeedSync,
            numbers::{
                ChargeFlashes, Correction, DialLabel, FlashDuration, Interval, LinearStep, Outlets, Tolerance,
            },
            zoom::UnitGuide,
        },
        place::At,
        reader::{Read, Reader, lists::Item, values::EntryName, words::reads_word},
        schema::{LightSettingInput, Name, SettingInput},
        value::Value,
    },
    wording::fault::Fault,
};

reads_word!(StyleName: StyleName::ALL.map(|style| (style.text(), style)));

request! {
    /// A power scale. A dial needs `full` and `least`, the other styles `least` only.
    pub struct ScaleInput {
        /// The style of the labels on the control.
        style: StyleName,
        /// For a dial: the label at full power; labels may run up or down.
        full: Option<DialLabel>,
        /// The lowest setting: a dial's label, a fraction as "1/128", a percentage, or joules. At most 16 stops below full.
        least: SettingText,
        /// The smallest step, stops; 1/10 if neither this nor `step` is given.
        click: Option<Stops>,
        /// For percent and joules: the smallest step, in percent or joules, counted down from full power.
        step: Option<LinearStep>,
    }
    at most one of "the smallest step": click | step
}

impl ScaleInput {
    /// The scale of what has this energy at full power.
    pub fn check(self, energy: Option<Joules>, at: &At<'_>, reader: &mut Reader) -> Option<Scale> {
        let linear = matches!(self.style, StyleName::Percent | StyleName::Joules);
        if let (Some(_), false) = (self.full, matches!(self.style, StyleName::Dial)) {
            let at = At::Field(at, "full");
            return reader.push_fault(&at, Fault::FullWithoutDial);
        }
        let grid = match (self.click, self.step) {
            // Refused by the reader.
            (Some(_), Some(_)) => return None,
            (_, Some(_)) if !linear => {
                let at = At::Field(at, "step");
                return reader.push_fault(&at, Fault::LinearStepOnOtherScale);
            }
            (_, Some(step)) => Grid::Linear(step.0),
            (click, None) => {
                let click = click.map_or(DEFAULT_CLICK, Stops::get);
                Grid::Click(reader.checked(&At::Field(at, "click"), bounds::CLICK.check(click))?)
            }
        };
        let least_at = At::Field(at, "least");
        let least = self.least.0;
        let style = match self.style {
            StyleName::Dial => {
                let Some(DialLabel(full)) = self.full else {
                    let at = At::Field(at, "full");
                    return reader
                        .push_fault(&at, Fault::DialWithoutFull { expected: DialLabel::expected() });
                };
                let Some(least) = notation::bare_number(&least) else {
                    return reader
                        .push_fault(&least_at, Fault::NotADialLabel { expected: DialLabel::expected() });
                };
                Style::Dial { full, least: reader.checked(&least_at, bounds::DIAL_LABEL.check(least))? }
            }
            StyleName::Fraction => {
                let fraction = positive(Kind::PowerFraction, &least, &least_at, reader)?;
                Style::Fraction { least: snap_to_click(fraction, &least, grid) }
            }
            StyleName::Percent => {
                Style::Percent { least: positive(Kind::Percent, &least, &least_at, reader)? }
            }
            StyleName::Joules => {
                let least = positive(Kind::Energy, &least, &least_at, reader)?;
                let Some(full) = energy else {
                    return reader.push_fault(at, Fault::JoulesWithoutEnergy);
                };
                if least >= full.get() {
                    return reader.push_fault(&least_at, Fault::LeastNotBelowFull);
                }
                Style::Joules { full: full.get(), least }
            }
        };
        reader.checked(at, Scale::new(style, grid))
    }
}

/// Snaps a lowest setting written as "1/256 +0.3" to the nearest click, if it differs by no more than the rounding of
/// the printed tenths.
fn snap_to_click(least: f64, text: &str, grid: Grid) -> f64 {
    match grid {
        Grid::Click(click) if text.contains('+') => {
            let below = -least.log2();
            let nearest = (below / click).round() * click;
            if (nearest - below).abs() <= STOP_ROUNDING { (-nearest).exp2() } else { least }
        }
        _ => least,
    }
}

/// Reads a value of `kind` from a text, with or without its unit, and checks its bounds.
fn positive(kind: Kind, text: &str, at: &At<'_>, reader: &mut Reader) -> Option<f64> {
    let value = match notation::bare_number(text) {
        Some(number) => Ok(number),
        None => notation::read(kind, text).map(|written| written.number * written.beyond_stops.exp2()),
    };
    reader.checked(at, value.and_then(|value| kind.bounds().check(value)))
}

/// A label on a unit's own scale: a text, or a number as printed on the scale.
#[derive(Clone)]
pub struct SettingText(pub String);

impl Read for SettingText {
    fn read(value: &Value<'_>, at: &At<'_>, reader: &mut Reader) -> Option<Self> {
        match value {
            // Never "-0".
            Value::Number(number) => Some(Self((number + 0.0).to_string())),
            // A setting copied from an answer is read by its label.
            Value::Object(_) => {
                reader.object(value, at, &["label", "stops_below_full", "fraction", "energy_j"])?;
                match value.get("label") {
                    Some(label @ (Value::Text(_) | Value::Parameter(_))) => {
                        Self::read(label, &At::Field(at, "label"), reader)
                    }
                    _ => reader.push_wrong_type(at, value, &Self::expected()),
                }
            }
            Value::Text(text) | Value::Parameter(text) if (1..=64).contains(&text.len()) => {
                Some(Self(text.clone().into_owned()))
            }
            _ => reader.push_wrong_type(at, value, &Self::expected()),
        }
    }

    fn expected() -> String {
        "a label on the unit's own scale, as \"7.3\", \"1/16\", \"62 %\", \"150 J\" or \"-2 stops\""
            .to_owned()
    }
}

impl SettingText {
    /// Finds the setting on the scale of `unit`; the result is in stops below full power.
    pub fn check(&self, unit: &Unit, at: &At<'_>, reader: &mut Reader) -> Option<Stops> {
        self.on_scale(&unit.scale, unit.energy, at, reader)
    }

    /// The setting on `scale`, in stops below full power. `energy` is that at full power.
    pub fn on_scale(
        &self,
        scale: &Scale,
        energy: Option<Joules>,
        at: &At<'_>,
        reader: &mut Reader,
    ) -> Option<Stops> {
        reader.checked(at, self.find_on(scale, energy))
    }

    /// The setting on the scale of `unit`, in stops below full power.
    pub fn find(&self, unit: &Unit) -> Result<Stops, InvalidValue> {
        self.find_on(&unit.scale, unit.energy)
    }

    fn find_on(&self, scale: &Scale, energy: Option<Joules>) -> Result<Stops, InvalidValue> {
        // A continuous unit without a scale may also be set in joules.
        match energy.filter(|_| scale.is_continuous()) {
            Some(full) => match notation::read(Kind::Energy, &self.0) {
                Ok(written) if written.number > 0.0 => {
                    scale.setting(&format!("{} stops", (written.number / full.get()).log2()))
                }
                _ => scale.setting(&self.0),
            },
            None => scale.setting(&self.0),
        }
    }
}

/// The setting of a light: a label on its unit's scale, or off.
#[derive(Clone)]
pub struct LightSettingText(Option<SettingText>);

impl LightSettingText {
    /// The setting on the scale of `unit`.
    pub fn find(&self, unit: &Unit) -> Result<LightSetting, InvalidValue> {
        self.0.as_ref().map_or(Ok(LightSetting::Off), |setting| setting.find(unit).map(LightSetting::Below))
    }

    /// Finds the setting on the scale of `unit`.
    pub fn check(&self, unit: &Unit, at: &At<'_>, reader: &mut Reader) -> Option<LightSetting> {
        match &self.0 {
            None => Some(LightSetting::Off),
            Some(setting) => setting.check(unit, at, reader).map(LightSetting::Below),
        }
    }
}

impl Read for LightSettingText {
    fn read(value: &Value<'_>, at: &At<'_>, reader: &mut Reader) -> Option<Self> {
        if value.text().is_some_and(|text| text.trim().eq_ignore_ascii_case("off")) {
            return Some(Self(None));
        }
        SettingText::read(value, at, reader).map(|setting| Self(Some(setting)))
    }

    fn expected() -> String {
        SettingText::expected()
    }
}

request! {
    /// A flash unit: `energy` at full power, or `guide_number`, or both. Or a lamp: `continuous`.
    pub struct UnitInput {
        /// Your name for it, 1 to 64 characters; names need not be unique.
        name: Option<String> as Name,
        /// Energy at full power.
        energy: Option<Joules>,
        /// The pack that it is a head on, in place of `energy` and `scale`: one of the `packs` of this request. Its guide number is then that of the head at the pack's full energy; readings of it were taken with its part of that, as in this set. Recycling, charges and draw are the pack's.
        pack: Option<EntryName>,
        /// The outlet of the pack, counted from 1; needed only if the outlets have shares that differ.
        outlet: Option<Outlets>,
        /// Guide number at full power, or a table of guide numbers by zoom, read at the `zoom_mm` beside the unit.
        guide_number: Option<UnitGuide>,
        /// The light of a lamp at full output, in place of energy and guide number. It follows the exposure time; `scale` is its dimmer.
        continuous: Option<Lamp>,
        /// Whether it has high-speed sync: for an exposure time shorter than the sync time it loses `loss_stops`, and then follows the exposure time. False if left out.
        high_speed_sync: Option<MaybeHighSpeedSync>,
        /// Its beam coverage; may be stated in `guide_number` instead.
        coverage: Option<Coverage>,
        /// Its power scale; continuously variable over 8 stops if left out.
        scale: Option<ScaleInput>,
        /// Measured deviation of its light from the rating, stops, added to what the rating gives; 0 if left out.
        offset_stops: Option<Correction>,
        /// Measured deviations at single settings, added to the offset: linear between two settings, constant beyond the last. If several settings give the same light, the lowest power of them is chosen.
        corrections: Option<Vec<SettingCorrectionInput>>,
        /// How far its light may be off its guide number, its energy and its coverage, or what is stated of a lamp: the half-width of the 95 % interval, stops, 0.001 to 4. If left out: 0.5 of a guide number, 0.3 of a lamp; from energy and coverage by what is known of efficacy and coverage.
        plus_minus_stops: Option<Tolerance>,
        /// How far its light at a setting may be off its scale, the same, 0.001 to 4; 0.1 if left out. Beside `corrections` it holds at their settings; between them it is 0.1 at least.
        dial_plus_minus_stops: Option<Tolerance>,
        /// Repeatability of its light at one setting, stops: the half-width of the 95 % interval, 0.001 to 4; 0.06 if left out.
        repeat_plus_minus_stops: Option<Tolerance>,
        /// Flash durations at single settings. Used by `/v1/motion/freeze`.
        duration_by_setting: Option<Vec<SettingDurationInput>>,
        /// Recycle time after a flash at full power, s; after weaker flashes it is proportional to their energy. Used for kits, supply and trains of flashes.
        recycle_s: Option<Interval>,
        /// Recycle times after flashes at single settings: linear in energy between two of them, never faster than the fastest. Used for kits, supply and trains of flashes.
        recycle_by_setting: Option<Vec<SettingRecycleInput>>,
        /// Full-power flashes per battery charge; leave it out for a mains unit. Used for kits and supply.
        flashes_per_charge: Option<ChargeFlashes>,
        /// What it draws from mains or battery. Used for supply.
        draw: Option<DrawInput>,
        /// Duty limit of its head, as its maker states it; for a head on a pack, in flashes with the pack's full energy, or the most of its outlet. Used for supply.
        duty: Option<DutyInput>,
    }
}

impl UnitInput {
    /// Whether a lamp states what only a flash has. Adds a fault for each such field.
    fn is_a_flash_too(&self, at: &At<'_>, reader: &mut Reader) -> bool {
        let of_a_flash = [
            ("energy", self.energy.is_some()),
            ("pack", self.pack.is_some()),
            ("outlet", self.outlet.is_some()),
            ("guide_number", self.guide_number.is_some()),
            ("high_speed_sync", self.high_speed_sync.as_ref().is_some_and(|sync| sync.0.is_some())),
            ("duration_by_setting", self.duration_by_setting.is_some()),
            ("recycle_s", self.recycle_s.is_some()),
            ("recycle_by_setting", self.recycle_by_setting.is_some()),
            ("flashes_per_charge", self.flashes_per_charge.is_some()),
            ("duty", self.duty.is_some()),
        ];
        for (name, _) in of_a_flash.iter().filter(|(_, given)| *given) {
            reader.push_fault::<()>(&At::Field(at, name), Fault::NotOfALamp);
        }
        let scale_at = At::Field(at, "scale");
        let in_joules = self.scale.as_ref().is_some_and(|scale| matches!(scale.style, StyleName::Joules));
        if in_joules {
            reader.push_fault::<()>(&At::Field(&scale_at, "style"), Fault::JoulesOnLamp);
        }
        in_joules || of_a_flash.iter().any(|(_, given)| *given)
    }
}

request! {
    /// A measured deviation at one setting.
    pub struct SettingCorrectionInput {
        /// The setting.
        setting: SettingText,
        /// Its light relative to rating and offset, stops; + is brighter.
        stops: Correction,
    }
}

impl Item for SettingCorrectionInput {
    const MIN: usize = 0;
    const MAX: usize = 256;
    const PLURAL: &'static str = "corrections";
}

request! {
    /// A flash duration at one setting. One of the two times is enough for a flash with an exponential tail.
    pub struct SettingDurationInput {
        /// The setting's label.
        setting: SettingText,
        /// Time above half of the peak (ISO 2827).
        t0_5_s: Option<FlashDuration>,
        /// Time above a tenth of the peak (ISO 2827).
        t0_1_s: Option<FlashDuration>,
    }
}

impl Item for SettingDurationInput {
    const MIN: usize = 0;
    const MAX: usize = 64;
    const PLURAL: &'static str = "durations";
}

impl SettingDurationInput {
    /// The setting's label and the duration.
    pub fn check(self, shape: Shape, at: &At<'_>, reader: &mut Reader) -> Option<(String, Duration)> {
        let seconds = |duration: Option<FlashDuration>| duration.map(|duration| duration.0);
        match Duration::of(seconds(self.t0_5_s), seconds(self.t0_1_s), shape) {
            Some(duration) => Some((self.setting.0, duration)),
            None => reader.push_fault(at, Fault::UnknownDuration),
        }
    }
}

/// A unit in stock, which may lack energy and guide number.
pub struct StockUnit(pub Unit);

looks_like!(
    Unit as UnitInput,
    StockUnit as UnitInput,
    SettingText as SettingInput,
    LightSettingText as LightSettingInput,
);

impl Read for Unit {
    fn read(value: &Value<'_>, at: &At<'_>, reader: &mut Reader) -> Option<Self> {
        let StockUnit(unit) = StockUnit::read(value, at, reader)?;
        if !unit.is_rated() {
            return reader.push_fault(at, Fault::NoOutput);
        }
        Some(unit)
    }

    fn expected() -> String {
        StockUnit::expected()
    }
}

impl Read for StockUnit {
    fn read(value: &Value<'_>, at: &At<'_>, reader: &mut Reader) -> Option<Self> {
        let input = UnitInput::read(value, at, reader)?;
        if input.continuous.is_some() && input.is_a_flash_too(at, reader) {
            return None;
        }
        let stated_coverage = input.guide_number.as_ref().and_then(UnitGuide::coverage);
        if stated_coverage.is_some() && input.coverage.is_some() {
            return reader.push_fault(&At::Field(at, "coverage"), Fault::coverage_stated_twice());
        }
        let beside = [("energy", input.energy.is_some()), ("scale", input.scale.is_some())];
        let on_pack = match (&input.pack, input.outlet) {
            (None, None) => None,
            (pack, outlet) => Some(head::read(pack.as_ref(), outlet, &beside, at, reader)?),
        };
        let (energy, scale, head) = match (on_pack, input.scale) {
            (Some(head::OnPack { head, energy, scale }), _) => (Some(energy), scale, Some(head)),
            (None, Some(scale)) => {
                (input.energy, scale.check(input.energy, &At::Field(at, "scale"), reader)?, None)
            }
            (None, None) => (input.energy, Scale::continuous(), None),
        };
        if head.is_some() {
            let of_pack = [
                ("recycle_s", input.recycle_s.is_some()),
                ("recycle_by_setting", input.recycle_by_setting.is_some()),
                ("flashes_per_charge", input.flashes_per_charge.is_some()),
                ("draw", input.draw.is_some()),
            ];
            for (field, _) in of_pack.iter().filter(|(_, is_given)| *is_given) {
                reader.push_fault::<()>(&At::Field(at, field), Fault::SupplyOfPack);
            }
        }
        let corrections_at = At::Field(at, "corrections");
        if head.is_some() && input.corrections.as_ref().is_some_and(|rows| !rows.is_empty()) {
            return reader.push_fault(&corrections_at, Fault::CorrectionsOnPack);
        }
        let mut corrections = Vec::new();
        for (index, correction) in input.corrections.into_iter().flatten().enumerate() {
            let at = At::Index(&corrections_at, index);
            let at = At::Field(&at, "setting");
            if let Some(below) = correction.setting.on_scale(&scale, energy, &at, reader) {
                if corrections.iter().any(|known: &[f64; 2]| (known[0] - below.get()).abs() < 1e-9) {
                    reader.push_fault::<()>(&at, Fault::SettingStatedTwice);
                }
                corrections.push([below.get(), correction.stops.0.get()]);
            }
        }
        corrections.sort_by(|a, b| a[0].total_cmp(&b[0]));
        let durations_at = At::Field(at, "duration_by_setting");
        let durations = input.duration_by_setting.into_iter().flatten().enumerate();
        let durations = durations
            .filter_map(|(index, duration)| {
                // The request states the shape elsewhere; if both times are given it makes no difference.
                duration.check(Shape::Exponential, &At::Index(&durations_at, index), reader)
            })
            .collect();
        let feeding = Feeding {
            recycle: recycle_times(
                input.recycle_s,
                input.recycle_by_setting.unwrap_or_default(),
                (&scale, energy),
                at,
                reader,
            ),
            flashes_per_charge: input.flashes_per_charge.map(|flashes| flashes.0),
            draw: input.draw.map(DrawInput::draw).unwrap_or_default(),
            duty: input.duty.map(|duty| Duty { flashes: duty.flashes.0, in_s: duty.in_s.0 }),
        };
        let unit = Unit {
            name: input.name,
            energy,
            lamp: input.continuous,
            high_speed_sync: input.high_speed_sync.and_then(|sync| sync.0),
            coverage: stated_coverage.or(input.coverage),
            scale,
            offset: input.offset_stops.map_or(Stops::ZERO, |offset| offset.0),
            corrections,
            plus_minus: input.plus_minus_stops.map(|it| it.0),
            dial: input.dial_plus_minus_stops.map(|it| it.0),
            repeat: input.repeat_plus_minus_stops.map(|repeat| repeat.0),
            durations,
            feeding,
            head,
            ..Unit::unknown()
        };
        Some(Self(match input.guide_number {
            Some(guide) => guide.on(unit),
            None => unit,
        }))
    }

    fn expected() -> String {
        "a unit, as {\"name\": \"north head\", \"energy\": \"600 J\"}".to_owned()
    }
}
