//! Remedies against ambient light: a shorter exposure time, and less exposure with more flash. The same where ambient light
//! is wanted and the sync time is too long for it. Each is tried by answering the changed question.

use crate::light::{
    error::Part,
    measure::ambient::{Ambient, AmbientQuestion},
    quantity::{FNumber, Seconds, Stops, bounds, kind::Kind, nominal::Nominal},
    remedy::{self, Afterwards, Change, Edit, NewValue, Remedy, Sized, Subject, Then, To},
    set::{
        camera::{self, Turn},
        filter::NeutralDensity,
    },
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
                (Part::ExposureTime, NewValue::Seconds(time)) => question.exposure_time = Some(*time),
                (Part::LensFilters, NewValue::AddFilter(filter)) => {
                    question.lens.filters.push(filter.filter());
                }
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
        let light = self.ambient_light();
        let f_number = self.rules.sendable(Kind::FNumber, light.sqrt().clamp(least, greatest));
        let time = self.time().get() * f_number * f_number / light;
        let exposure_time = Seconds::new_unchecked(self.rules.sendable(Kind::ExposureTime, time));
        let f_number = FNumber::new_unchecked(f_number);
        Some(Edit::new(Part::AmbientLight, NewValue::Reading { f_number, exposure_time, iso: self.iso }))
    }
}

/// Tries changes.
struct Trials<'q> {
    question: &'q AmbientQuestion,
}

/// A change with its edit of the question.
type Step = (Change, Edit);

/// A smaller change of the exposure time is none, stops.
const SAME_TIME: f64 = 0.05;

/// The remedies; the picture is not clean.
pub fn find(question: &AmbientQuestion) -> Vec<Remedy> {
    let trials = Trials { question };
    if question.exposure_time.is_none() {
        // The time is the sync time, and the rest is left to do; or no mark is short enough, and the shortest is found again.
        let is_at = |sync: &Seconds| (sync.get() / question.time().get() - 1.0).abs() < 1e-9;
        let time = question.sync_time.filter(is_at).map_or(Some(None), |sync| trials.at_sync(sync));
        let all = time.map(|time| trials.with_more_flash(time.as_ref()));
        return remedy::in_order(all.unwrap_or_default(), false);
    }
    let time = trials.by_time(trials.times());
    let mut all: Vec<Sized> = time.into_iter().collect();
    all.extend(trials.with_more_flash(None));
    // Where the sync time is too long to do it alone, it does a part.
    if all.iter().all(|sized| sized.remedy.changes.len() > 1) {
        let shortest = trials.times().pop();
        let shortest = shortest.map(|turn| (turn.change(Subject::Whole), turn.edit(Part::ExposureTime)));
        all.extend(shortest.into_iter().flat_map(|time| trials.with_more_flash(Some(&time))));
    }
    remedy::in_order(all, false)
}

/// The remedies where the time for the ambient light that is wanted is too short for the shutter: the sync time, and less
/// exposure with more flash, by a filter or not.
pub fn for_wanted(question: &AmbientQuestion) -> Vec<Remedy> {
    let trials = Trials { question };
    let too_fast = question.too_fast().filter(|(_, excess)| *excess > question.tolerance());
    let time = question.sync_time.and_then(|sync| trials.at_sync(sync));
    let Some(((_, excess), time)) = too_fast.zip(time) else { return Vec::new() };
    let filters = trials.strongest_filters(excess);
    let ways =
        [Vec::new(), filters].into_iter().flat_map(|filters| trials.by_lens(excess, time.as_ref(), &filters));
    let mut all: Vec<Sized> = Vec::new();
    for way in ways {
        // Filters that do it alone are found once.
        if all.iter().all(|known| known.remedy.changes != way.remedy.changes) {
            all.push(way);
        }
    }
    remedy::in_order(all, false)
}

impl Trials<'_> {
    /// The shorter exposure times that the camera can sync, the longest first.
    fn times(&self) -> Vec<Turn> {
        let AmbientQuestion { sync_time, limits, rules, .. } = self.question;
        let turns = camera::synced_times(self.question.time(), *sync_time, limits, *rules);
        turns.into_iter().filter(|turn| turn.stops < 0.0).collect()
    }

    /// The change to the sync time; nothing if it is that already, and `None` if the limits forbid it.
    #[expect(clippy::option_option, reason = "no change is not the same as none that is allowed")]
    fn at_sync(&self, sync: Seconds) -> Option<Option<Step>> {
        let AmbientQuestion { exposure_time, limits, rules, .. } = self.question;
        limits.allows_exposure_time(sync.get()).then_some(())?;
        let by = exposure_time.map(|time| (sync.get() / time.get()).log2());
        if by.is_some_and(|by| by.abs() < SAME_TIME) {
            return Some(None);
        }
        let to = To::ExposureTime(Nominal::sync_time(sync, rules.step));
        let change = Change { subject: Subject::Whole, by_stops: by.map(Stops::new_unchecked), to };
        Some(Some((change, Edit::new(Part::ExposureTime, NewValue::Seconds(sync)))))
    }

    /// A remedy with these changes, if it does it.
    fn remedy(&self, stops: f64, changes: Vec<Change>, edits: Vec<Edit>) -> Option<Sized> {
        let changed = self.question.with(&edits);
        let then = match changed.error() {
            Some(error) => {
                (error.abs() <= changed.tolerance()).then(|| Then::Error(Stops::new_unchecked(error)))
            }
            None => {
                changed.is_clean().then(|| Then::Brightening(Stops::new_unchecked(changed.brightening())))
            }
        };
        then.map(|then| Sized {
            remedy: Remedy { changes, afterwards: Afterwards::Nothing, patch: edits.into(), then },
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

    /// Less exposure by the aperture or by the ISO speed, and as much more flash; perhaps with another time.
    fn with_more_flash(&self, time: Option<&Step>) -> Vec<Sized> {
        let darker = |turns: Vec<Turn>| {
            let mut turns = turns.into_iter().filter(|turn| turn.stops < 0.0);
            turns.find_map(|turn| self.darker(time, Some(&turn), &[]))
        };
        self.turns().into_iter().filter_map(darker).collect()
    }

    /// Less exposure by this much: by filters, and the rest by the aperture or by the ISO speed.
    fn by_lens(&self, excess: f64, time: Option<&Step>, filters: &[NeutralDensity]) -> Vec<Sized> {
        let rest = excess - effect(filters);
        if rest.abs() <= self.question.tolerance() {
            return self.darker(time, None, filters).into_iter().collect();
        }
        let off = |turn: &Turn| (turn.stops + rest).abs();
        let nearest = |turns: Vec<Turn>| {
            let turn = turns.into_iter().min_by(|a, b| off(a).total_cmp(&off(b)))?;
            self.darker(time, Some(&turn), filters)
        };
        self.turns().into_iter().filter_map(nearest).collect()
    }

    /// The apertures and the ISO speeds to change to.
    fn turns(&self) -> [Vec<Turn>; 2] {
        let AmbientQuestion { f_number, iso, limits, rules, .. } = self.question;
        [(Kind::FNumber, f_number.get()), (Kind::Iso, iso.get())]
            .map(|(kind, from)| camera::turns(kind, from, limits, *rules))
    }

    /// The filter, or the two, that take the most light without taking too much.
    fn strongest_filters(&self, excess: f64) -> Vec<NeutralDensity> {
        let AmbientQuestion { limits, rules, .. } = self.question;
        let most = excess + self.question.tolerance();
        let choices = limits.filters(|density| NeutralDensity::new(density, *rules)).into_iter().flatten();
        let fits = choices.filter(|filters| effect(filters) <= most);
        // Of equal ones the first, which are the fewest.
        fits.reduce(|best, next| if effect(&next) > effect(&best) + 0.01 { next } else { best })
            .unwrap_or_default()
    }

    /// Less exposure, and as much more flash, if that does it.
    fn darker(&self, time: Option<&Step>, turn: Option<&Turn>, filters: &[NeutralDensity]) -> Option<Sized> {
        let by_filters = -effect(filters);
        let stops = by_filters + turn.map_or(0.0, |turn| turn.stops);
        let by_iso = turn.filter(|turn| turn.to.kind == Kind::Iso).map_or(0.0, |turn| turn.stops);
        let (flash, changed_flash) = self.flash(stops, stops - by_iso);
        let part = |turn: &Turn| if turn.to.kind == Kind::Iso { Part::Iso } else { Part::FNumber };
        let turned = turn.map(|turn| (turn.change(Subject::Whole), turn.edit(part(turn))));
        let filtered = filters.iter().map(|filter| {
            let to = To::Filter(*filter);
            let change = Change { subject: Subject::Whole, by_stops: Some(filter.stops), to };
            (change, Edit::new(Part::LensFilters, NewValue::AddFilter(*filter)))
        });
        let steps = time.cloned().into_iter().chain(turned).chain(filtered);
        let (changes, edits): (Vec<Change>, Vec<Edit>) = steps.unzip();
        let changes = changes.into_iter().chain([flash]).collect();
        let edits = self.question.kept().into_iter().chain(edits).chain(changed_flash).collect();
        self.remedy(stops, changes, edits)
    }

    /// The flash raised by as much as is taken away, in all and by the lens: what a meter is then to read of it.
    fn flash(&self, stops: f64, by_lens: f64) -> (Change, Option<Edit>) {
        let AmbientQuestion { flash, rules, .. } = self.question;
        // At a lower ISO speed a meter reads the same of more light.
        let reads = (self.question.flash_light() * (-by_lens).exp2()).sqrt();
        let reads = rules.sendable(Kind::FNumber, reads);
        let edit = Edit::new(Part::FlashFNumber, NewValue::FNumber(FNumber::new_unchecked(reads)));
        let change = Change {
            subject: Subject::Whole,
            by_stops: Some(Stops::new_unchecked(-stops)),
            to: To::Flash(Nominal::new(Kind::FNumber, reads, rules.step)),
        };
        // What is not stated is taken to expose correctly.
        (change, flash.is_some().then_some(edit))
    }
}

/// How much filters take, stops.
fn effect(filters: &[NeutralDensity]) -> f64 {
    filters.iter().map(|filter| -filter.stops.get()).sum()
}
