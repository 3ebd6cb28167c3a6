//! Remedies against ambient light: a shorter exposure time, and less exposure with more flash. Each is tried by answering
//! the changed question.

use crate::light::{
    error::Part,
    measure::ambient::{Ambient, AmbientQuestion, ambient_light},
    quantity::{FNumber, Seconds, Stops, bounds, kind::Kind, nominal::Nominal},
    remedy::{self, Afterwards, Change, Edit, NewValue, Remedy, Sized, Subject, Then, To},
    set::camera::{self, Turn},
};

impl AmbientQuestion {
    /// The question after changes. A new value that is not for this part leaves it as it is.
    #[must_use]
    fn with(&self, edits: &[Edit]) -> Self {
        let mut question = self.clone();
        for Edit { part, value } in edits {
            match (*part, value) {
                (Part::FNumber, NewValue::FNumber(f_number)) => question.f_number = *f_number,
                (Part::Iso, NewValue::Iso(iso)) => question.iso = *iso,
                (Part::ExposureTime, NewValue::Seconds(time)) => question.exposure_time = *time,
                (Part::FlashFNumber, NewValue::FNumber(f_number)) => question.flash = Some(*f_number),
                (Part::AmbientLight, NewValue::Reading { f_number, exposure_time, iso }) => {
                    question.ambient =
                        Ambient::Reading { f_number: *f_number, exposure_time: *exposure_time, iso: *iso };
                }
                _ => {}
            }
        }
        question
    }

    /// The ambient light as a reading at the present exposure, so that it stays the same when that changes. `None` if it
    /// is stated as illuminance, which does.
    fn kept(&self) -> Option<Edit> {
        if matches!(self.ambient, Ambient::Illuminance(_)) {
            return None;
        }
        // An aperture that a request accepts; the time makes up for what is beyond.
        let bounds::Bounds { least, greatest, .. } = bounds::F_NUMBER;
        let light = ambient_light(self);
        let f_number = self.rules.sendable(Kind::FNumber, light.sqrt().clamp(least, greatest));
        let time = self.exposure_time.get() * f_number * f_number / light;
        let exposure_time = Seconds::new_unchecked(self.rules.sendable(Kind::ExposureTime, time));
        let f_number = FNumber::new_unchecked(f_number);
        Some(Edit::new(Part::AmbientLight, NewValue::Reading { f_number, exposure_time, iso: self.iso }))
    }
}

/// Tries changes.
struct Trials<'q> {
    question: &'q AmbientQuestion,
}

/// The remedies; the picture is not clean.
pub fn find(question: &AmbientQuestion) -> Vec<Remedy> {
    let trials = Trials { question };
    let time = trials.by_time(trials.times());
    let mut all: Vec<Sized> = time.into_iter().collect();
    all.extend(trials.with_more_flash(None));
    // Where the sync time is too long to do it alone, it does a part.
    if all.iter().all(|sized| sized.remedy.changes.len() > 1) {
        let shortest = trials.times().pop();
        all.extend(shortest.into_iter().flat_map(|turn| trials.with_more_flash(Some(&turn))));
    }
    remedy::in_order(all, false)
}

impl Trials<'_> {
    /// The shorter exposure times that the camera can sync, the longest first.
    fn times(&self) -> Vec<Turn> {
        let AmbientQuestion { exposure_time, sync_time, limits, rules, .. } = self.question;
        let turns = camera::synced_times(*exposure_time, *sync_time, limits, *rules);
        turns.into_iter().filter(|turn| turn.stops < 0.0).collect()
    }

    /// A remedy with these changes, if the picture is then clean.
    fn remedy(&self, stops: f64, changes: Vec<Change>, edits: Vec<Edit>) -> Option<Sized> {
        let changed = self.question.with(&edits);
        changed.is_clean().then(|| Sized {
            remedy: Remedy {
                changes,
                afterwards: Afterwards::Nothing,
                patch: edits.into(),
                then: Then::Brightening(Stops::new_unchecked(changed.brightening())),
            },
            stops: stops.abs(),
            light: None,
        })
    }

    /// The longest of these times that does it.
    fn by_time(&self, times: Vec<Turn>) -> Option<Sized> {
        times.into_iter().find_map(|turn| {
            let edits = self.question.kept().into_iter().chain([turn.edit(Part::ExposureTime)]).collect();
            self.remedy(turn.stops, vec![turn.change(Subject::Whole)], edits)
        })
    }

    /// Less exposure by the aperture or by the ISO speed, and as much more flash; perhaps with a shorter time.
    fn with_more_flash(&self, time: Option<&Turn>) -> Vec<Sized> {
        let AmbientQuestion { f_number, iso, limits, rules, .. } = self.question;
        let controls = [(Kind::FNumber, Part::FNumber, f_number.get()), (Kind::Iso, Part::Iso, iso.get())];
        let darker = |(kind, part, from): (Kind, Part, f64)| {
            let mut turns = camera::turns(kind, from, limits, *rules).into_iter();
            turns.find_map(|turn| {
                (turn.stops < 0.0).then_some(())?;
                let (flash, changed_flash) = self.flash(&turn);
                let times = || time.into_iter().chain([&turn]);
                let changes = times().map(|turn| turn.change(Subject::Whole)).chain([flash]).collect();
                let kept = self.question.kept().into_iter();
                let time = time.into_iter().map(|time| time.edit(Part::ExposureTime));
                let edits = kept.chain(time).chain([turn.edit(part)]).chain(changed_flash).collect();
                self.remedy(turn.stops, changes, edits)
            })
        };
        controls.into_iter().filter_map(darker).collect()
    }

    /// The flash raised by as much as a control takes away: what a meter is then to read of it.
    fn flash(&self, turn: &Turn) -> (Change, Option<Edit>) {
        let AmbientQuestion { flash, f_number, rules, .. } = self.question;
        let own = flash.unwrap_or(*f_number).get();
        // At a lower ISO speed a meter reads the same of more light.
        let reads = if turn.to.kind == Kind::Iso { own } else { own * (-turn.stops / 2.0).exp2() };
        let reads = rules.sendable(Kind::FNumber, reads);
        let edit = Edit::new(Part::FlashFNumber, NewValue::FNumber(FNumber::new_unchecked(reads)));
        let change = Change {
            subject: Subject::Whole,
            by_stops: Some(Stops::new_unchecked(-turn.stops)),
            to: To::Flash(Nominal::new(Kind::FNumber, reads, rules.step)),
        };
        // What is not stated is taken for the aperture.
        (change, flash.is_some().then_some(edit))
    }
}
