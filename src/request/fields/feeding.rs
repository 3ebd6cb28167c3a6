//! The power supply of a unit: recycling, draw, duty.

use crate::{
    light::{
        quantity::Joules,
        unit::{Draw, scale::Scale},
    },
    request::{
        declare::request,
        fields::{
            numbers::{ChargeFlashes, DutyWindow, Efficiency, Interval, PowerFactor, Watts},
            unit::SettingText,
        },
        place::At,
        reader::{Reader, lists::Item},
    },
    wording::fault::Fault,
};

request! {
    /// The recycle time after a flash at one setting.
    pub struct SettingRecycleInput {
        /// The setting.
        setting: SettingText,
        /// Recycle time, s.
        recycle_s: Interval,
    }
}

impl Item for SettingRecycleInput {
    const MIN: usize = 0;
    const MAX: usize = 64;
    const PLURAL: &'static str = "recycle times";
}

request! {
    /// What a unit draws from mains or battery.
    pub struct DrawInput {
        /// Flash energy divided by the energy drawn for it; 0.5 to 0.9 is assumed if left out.
        charging_efficiency: Option<Efficiency>,
        /// Watts divided by volt-amperes; 0.6 to 1 is assumed if left out.
        power_factor: Option<PowerFactor>,
        /// Power of the modelling lamp at its present setting, W; 0 to 250 is assumed if left out. Of a lamp (`continuous`) all its power, for which nothing is assumed.
        modelling_lamp_w: Option<Watts>,
    }
}

impl DrawInput {
    /// Fills in the defaults.
    pub fn draw(self) -> Draw {
        Draw {
            charging_efficiency: self.charging_efficiency.map(|efficiency| efficiency.0),
            power_factor: self.power_factor.map(|factor| factor.0),
            modelling_lamp_w: self.modelling_lamp_w.map(|watts| watts.0),
        }
    }
}

request! {
    /// Duty limit of a head: this many flashes at full power, or the same energy in weaker flashes, per time window.
    pub struct DutyInput {
        /// Flashes at full power.
        pub flashes: ChargeFlashes,
        /// The time window in which they are counted, s.
        pub in_s: DutyWindow,
    }
}

/// Recycle times as `[fraction of full energy, seconds]`, sorted by energy. A time that falls as the energy rises is a
/// fault.
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
        let Some(below) = row.setting.on_scale(scale, energy, &at, reader) else { continue };
        let fraction = (-below.get()).exp2();
        if times.iter().any(|[known, _]| (known - fraction).abs() < 1e-9) {
            reader.push_fault::<()>(&at, Fault::SettingStatedTwice);
        }
        times.push([fraction, row.recycle_s.0]);
    }
    times.sort_by(|a, b| a[0].total_cmp(&b[0]));
    if times.windows(2).any(|pair| pair[0][1] > pair[1][1]) {
        reader.push_fault::<()>(&table_at, Fault::RecycleTimesFall);
    }
    times
}
