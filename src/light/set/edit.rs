//! Changes of a set, by its parts.

use crate::light::{
    error::{Field, Part},
    remedy::{Edit, NewValue},
    set::{AmbientAmount, Geometry, Origin, Scene, control::LightSetting, target::Target},
};

impl Scene {
    /// The set after changes. A new value that is not for this part leaves it as it is.
    #[must_use]
    pub fn with(&self, edits: &[Edit]) -> Self {
        let mut scene = self.clone();
        for edit in edits {
            scene.change(edit);
        }
        scene
    }

    fn change(&mut self, Edit { part, value }: &Edit) {
        match (*part, value) {
            (Part::FNumber, NewValue::FNumber(f_number)) => self.exposure.f_number = *f_number,
            (Part::Iso, NewValue::Iso(iso)) => self.exposure.iso = *iso,
            (Part::ExposureTime, NewValue::Seconds(time)) => self.exposure_time = Some(*time),
            (Part::LensFilters, NewValue::AddFilter(filter)) => self.lens.filters.push(filter.filter()),
            (Part::Light(light, Some(field)), value) => {
                let light = &mut self.lights[light];
                match (field, value) {
                    (Field::Setting, NewValue::Label(label)) => {
                        light.control.setting = match label.as_str() {
                            OFF => Some(LightSetting::Off),
                            label => light.unit.scale.setting(label).ok().map(LightSetting::Below),
                        };
                    }
                    (Field::Hold, NewValue::Flag(hold)) => light.control.hold = *hold,
                    (Field::Pops, NewValue::Count(pops)) => light.control.pops = *pops,
                    (Field::Filters, NewValue::AddFilter(filter)) => light.filters.push(filter.filter()),
                    (Field::Position, NewValue::Position(to)) => light.position = Some(*to),
                    (Field::Unit, NewValue::Unit(unit)) => light.unit = (**unit).clone(),
                    _ => {}
                }
            }
            (Part::Contribution(entry, Some(_)), value) => {
                for contribution in self.contributions.iter_mut().filter(|it| it.entry == entry) {
                    match (&mut contribution.origin, value) {
                        (Origin::Reading { f_number, .. }, NewValue::FNumber(to)) => *f_number = *to,
                        (
                            Origin::Placement { geometry: Geometry::Distance { distance, .. }, .. },
                            NewValue::Metres(to),
                        ) => *distance = *to,
                        (
                            Origin::Placement { geometry: Geometry::Position(position), .. },
                            NewValue::Position(to),
                        ) => *position = Some(*to),
                        _ => {}
                    }
                }
            }
            (Part::Ambient(index, Some(Field::FNumber)), NewValue::FNumber(to)) => {
                self.ambient[index].amount = AmbientAmount::FNumber(*to);
            }
            (Part::TargetFNumber(point), NewValue::FNumber(to)) => {
                self.points[point].target = Some(Target::FNumber(*to));
            }
            (Part::RatioValue, NewValue::Number(value)) => {
                if let Some(ratio) = &mut self.ratio {
                    ratio.value = *value;
                    // The shadow side's own target follows, for counting by sides.
                    let sides = ratio.sides();
                    self.points[1].target = Some(Target::Ratio { ratio: sides, to: 0 });
                }
            }
            _ => {}
        }
    }
}

/// The label of a light that is switched off.
pub const OFF: &str = "off";
