//! How a unit is fed: recycling, draw, duty.

use utoipa::ToSchema;

use crate::{
    light::{
        quantity::Joules,
        unit::{Draw, scale::Scale},
    },
    request::{
        fields::{
            numbers::{ChargePops, DutyWindow, Efficiency, Interval, PowerFactor, Watts},
            unit::SettingText,
        },
        place::At,
        reader::{Item, Reader, reads},
        schema::SettingInput,
    },
};

/// A recycle time after a flash at one setting.
#[derive(ToSchema)]
pub struct SettingRecycleInput {
    /// The setting.
    #[schema(value_type = SettingInput)]
    setting: SettingText,
    /// Recycle time, s.
    recycle_s: Interval,
}
reads!(SettingRecycleInput { setting, recycle_s });

impl Item for SettingRecycleInput {
    const LEAST: usize = 0;
    const MOST: usize = 64;
    const WHAT: &'static str = "recycle times";
}

/// What a unit draws from mains or battery.
#[derive(ToSchema)]
pub struct DrawInput {
    /// Energy in the flash over the energy drawn for it; 0.5 to 0.9 is assumed if left out.
    charging_efficiency: Option<Efficiency>,
    /// Watts over volt-amperes; 0.6 to 1 is assumed if left out.
    power_factor: Option<PowerFactor>,
    /// Modelling lamp as it is set, W; 0 if left out.
    modelling_lamp_w: Option<Watts>,
}
reads!(DrawInput { charging_efficiency, power_factor, modelling_lamp_w });

impl DrawInput {
    /// The draw.
    pub fn draw(self) -> Draw {
        Draw {
            charging_efficiency: self.charging_efficiency.map(|efficiency| efficiency.0),
            power_factor: self.power_factor.map(|factor| factor.0),
            modelling_lamp_w: self.modelling_lamp_w.map_or(0.0, |watts| watts.0),
        }
    }
}

/// A limit of a head: so many flashes at full power, or as much energy in weaker ones, in so many seconds.
#[derive(ToSchema)]
pub struct DutyInput {
    /// Flashes at full power.
    pub pops: ChargePops,
    /// The time that they are counted in, s.
    pub in_s: DutyWindow,
}
reads!(DutyInput { pops, in_s });

/// Recycle times by part of full energy, rising; slower ones at more energy.
pub fn recycle_times(
    at_full: Option<Interval>,
    table: Vec<SettingRecycleInput>,
    (scale, energy): (&Scale, Option<Joules>),
    at: &At<'_>,
    reader: &mut Reader,
) -> Vec<[f64; 2]> {
    let table_at = At::Field(at, "recycle_by_setting");
    let mut times: Vec<[f64; 2]> = at_full.map(|seconds| [1.0, seconds.0]).into_iter().collect();
    for (index, row) in table.into_iter().enumerate() {
        let at = At::Index(&table_at, index);
        let at = At::Field(&at, "setting");
        let Some(below) = row.setting.on(scale, energy, &at, reader) else { continue };
        let part = (-below.get()).exp2();
        if times.iter().any(|[known, _]| (known - part).abs() < 1e-9) {
            reader.fault::<()>(&at, "the recycle time of this setting is given twice", "each setting once");
        }
        times.push([part, row.recycle_s.0]);
    }
    times.sort_by(|a, b| a[0].total_cmp(&b[0]));
    if times.windows(2).any(|pair| pair[0][1] > pair[1][1]) {
        reader.fault::<()>(
            &table_at,
            "a weaker flash recycles more slowly than a stronger one",
            "times that rise with the energy",
        );
    }
    times
}
