//! Rounds of readings of a whole set.

use crate::{
    light::{
        correct::question::{Round, RoundReading},
        quantity::{FNumber, Stops},
        set::{Light, Scene, control::LightSetting},
    },
    request::{
        declare::request,
        fields::{LightSettingText, Tolerance},
        place::At,
        reader::{Reader, lists::Item, values::EntryName},
        references::{self, MAX_LIGHTS},
        set::contribution::Contributions,
    },
    wording::fault::Fault,
};

request! {
    /// The setting of a light in a round.
    pub struct RoundSettingInput {
        /// The light's name.
        light: EntryName,
        /// Its setting; "off" if it was switched off.
        setting: LightSettingText,
    }
    checked by references::check_round_setting(light, setting)
}

impl Item for RoundSettingInput {
    const MIN: usize = 0;
    const MAX: usize = MAX_LIGHTS;
    const PLURAL: &'static str = "settings";
}

request! {
    /// A meter reading with all lights firing together, or with some of them.
    pub struct RoundReadingInput {
        /// The point's name.
        point: EntryName,
        /// The f-number that the meter read, at the working ISO speed: of the whole exposure, with all flashes, ambient light and lamps.
        f_number: FNumber,
        /// The lights that were on; all of them if left out.
        lights: Option<Vec<EntryName>>,
        /// Its 95 % half-width, stops; that of the meter, with its digit, if left out.
        plus_minus_stops: Option<Tolerance>,
    }
    checked by references::check_round_reading(point, lights)
}

impl Item for RoundReadingInput {
    const MAX: usize = 64;
    const PLURAL: &'static str = "readings";
}

impl Item for EntryName {
    const MAX: usize = MAX_LIGHTS;
    const PLURAL: &'static str = "lights";
}

request! {
    /// Readings that were taken at one setting of each light.
    pub struct RoundInput {
        /// The settings, if they were not those of `lights`: of all lights, or of those that stood elsewhere.
        settings: Option<Vec<RoundSettingInput>>,
        /// The readings.
        readings: Vec<RoundReadingInput>,
    }
    checked by check_settings(settings)
}

/// Adds a fault for each light whose setting is listed before.
fn check_settings(settings: Option<&Option<Vec<RoundSettingInput>>>, at: &At<'_>, reader: &mut Reader) {
    let settings: Vec<&RoundSettingInput> = settings.into_iter().flatten().flatten().collect();
    for (index, entry) in settings.iter().enumerate() {
        if settings[..index].iter().any(|before| before.light.0 == entry.light.0) {
            let at = At::Field(at, "settings");
            reader.push_fault::<()>(&At::Index(&at, index), Fault::SettingStatedTwice);
        }
    }
}

/// The most readings in all rounds: the work grows with their cube.
pub const MAX_ROUND_READINGS: usize = 128;

impl Item for RoundInput {
    const MAX: usize = 8;
    const PLURAL: &'static str = "rounds";
}

/// A round, before the packs of its lights are known.
pub struct RoundEntry {
    settings: Vec<(usize, LightSetting)>,
    readings: Vec<RoundReading>,
}

impl RoundInput {
    /// Finds its lights and points. `None` if one is unknown, which has a fault of its own.
    pub fn check(self, all: &mut Contributions<'_>, lights: &[Light]) -> Option<RoundEntry> {
        let settings = self.settings.into_iter().flatten().map(|entry| {
            let light = *all.lights.get(&entry.light.0)?;
            Some((light, entry.setting.find(&lights[light].unit).ok()?))
        });
        let settings = settings.collect::<Option<Vec<_>>>();
        let readings = self.readings.into_iter().map(|reading| {
            let lights = reading.lights.map(|lights| {
                lights.iter().map(|light| all.lights.get(&light.0).copied()).collect::<Option<Vec<usize>>>()
            });
            Some(RoundReading {
                point: all.point(&reading.point)?,
                lights: match lights {
                    Some(lights) => Some(lights?),
                    None => None,
                },
                f_number: reading.f_number,
                plus_minus: reading.plus_minus_stops.map(|half| half.0),
            })
        });
        let readings = readings.collect::<Option<Vec<_>>>();
        Some(RoundEntry { settings: settings?, readings: readings? })
    }
}

impl RoundInput {
    /// How many readings it has.
    pub const fn count(&self) -> usize {
        self.readings.len()
    }
}

impl RoundEntry {
    /// The round, with the setting of each light: its own, or that of a light on its pack, or where it stands.
    pub fn of(self, scene: &Scene) -> Round {
        let mut below: Vec<Option<Stops>> = scene.lights.iter().map(|light| light.control.below()).collect();
        let mut is_stated: Vec<bool> =
            scene.lights.iter().map(|light| light.control.setting.is_some()).collect();
        for (light, setting) in self.settings {
            let heads = scene.pack_of_setting(light).into_iter().flat_map(|pack| scene.heads(pack));
            for set in heads.chain([light]) {
                (below[set], is_stated[set]) = (setting.below(), true);
            }
        }
        let at_full_power = (0..is_stated.len()).filter(|light| !is_stated[*light]).collect();
        Round { below, at_full_power, readings: self.readings }
    }
}
