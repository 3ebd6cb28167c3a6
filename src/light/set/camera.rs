//! The marks that a camera may be changed to.

use crate::light::{
    error::Part,
    quantity::{FNumber, Iso, Seconds, Stops, kind::Kind, nominal::Nominal, rules::Rules},
    remedy::{Change, Edit, NewValue, Subject, To},
    set::limits::Limits,
};

/// The largest change of exposure to try, stops: the whole range of a control.
const MAX_STOPS: i32 = 24;
/// Two changes closer than this count as equal, stops.
const SAME_STOPS: f64 = 1e-6;
/// A mark closer than this to the current setting is that setting, stops: f/11 means 11.31.
const SAME_MARK: f64 = 0.1;

/// A change of a control to one of its marks.
#[derive(Debug, Clone, PartialEq)]
pub struct Turn {
    /// The change of exposure, stops; + is brighter.
    pub stops: f64,
    /// The mark, with the exact value behind it.
    pub to: Nominal,
}

impl Turn {
    /// The exact value behind the mark.
    pub const fn value(&self) -> f64 {
        self.to.value.get()
    }

    /// The change of the control.
    pub fn change(&self, subject: Subject) -> Change {
        let to = self.to.clone();
        let to = match self.to.kind {
            Kind::Iso => To::Iso(to),
            Kind::ExposureTime => To::ExposureTime(to),
            _ => To::FNumber(to),
        };
        Change { subject, by_stops: Some(Stops::new_unchecked(self.stops)), to }
    }

    /// The new value of that part.
    pub fn edit(&self, part: Part) -> Edit {
        let value = self.value();
        let value = match self.to.kind {
            Kind::Iso => NewValue::Iso(Iso::new_unchecked(value)),
            Kind::ExposureTime => NewValue::Seconds(Seconds::new_unchecked(value)),
            _ => NewValue::FNumber(FNumber::new_unchecked(value)),
        };
        Edit::new(part, value)
    }
}

/// The marks of a control within the limits, the smallest change first, brighter before darker.
pub fn turns(kind: Kind, from: f64, limits: &Limits, rules: Rules) -> Vec<Turn> {
    let step = rules.step;
    let Some((_, off)) = kind.mark_for(from, step) else { return Vec::new() };
    let per_stop = step.per_stop();
    // Marks are one step apart.
    let changes =
        (-MAX_STOPS * per_stop..=MAX_STOPS * per_stop).map(|k| off + f64::from(k) / f64::from(per_stop));
    let mut changes: Vec<f64> = changes.filter(|change| change.abs() >= SAME_MARK).collect();
    changes.sort_by_key(|change| ((change.abs() / SAME_STOPS).round() as i64, *change < 0.0));
    let allows = |value: f64| match kind {
        Kind::Iso => limits.allows_iso(value),
        Kind::ExposureTime => limits.allows_exposure_time(value),
        _ => limits.allows_f_number(value),
    };
    let turn = |stops: f64| {
        let to = Nominal::new(kind, kind.value_at(kind.exposure_stops(from) + stops), step);
        let is_mark = to.off_by_stops.is_some_and(|off| off.get().abs() < SAME_STOPS);
        (is_mark && allows(to.value.get())).then_some(Turn { stops, to })
    };
    changes.into_iter().filter_map(turn).collect()
}

/// The exposure times within the limits that flash can be used with: marks no shorter than the sync time, and the sync
/// time itself, which need not be on the series of marks. The smallest change first.
pub fn synced_times(from: Seconds, sync_time: Option<Seconds>, limits: &Limits, rules: Rules) -> Vec<Turn> {
    let mut turns = turns(Kind::ExposureTime, from.get(), limits, rules);
    let Some(sync) = sync_time else { return turns };
    turns.retain(|turn| turn.value() >= sync.get() * (1.0 - 1e-9));
    let at_sync = Turn { stops: (sync.get() / from.get()).log2(), to: Nominal::sync_time(sync, rules.step) };
    let is_there = turns.iter().any(|turn| (turn.stops - at_sync.stops).abs() < SAME_MARK);
    if !is_there && at_sync.stops.abs() >= SAME_MARK && limits.allows_exposure_time(sync.get()) {
        turns.push(at_sync);
        turns.sort_by(|a, b| a.stops.abs().total_cmp(&b.stops.abs()));
    }
    turns
}

/// Changes of both: the aperture as far as the limits allow, the rest by the ISO speed; the smallest first.
pub fn both<'t>(lens: &'t [Turn], iso: &'t [Turn]) -> Vec<(&'t Turn, &'t Turn)> {
    let pairs = [1.0, -1.0].into_iter().flat_map(|sign: f64| {
        let along = move |turn: &&Turn| turn.stops * sign > 0.0;
        let most = lens.iter().filter(along).max_by(|a, b| a.stops.abs().total_cmp(&b.stops.abs()));
        iso.iter().filter(along).filter_map(move |iso| Some((most?, iso)))
    });
    let mut pairs: Vec<_> = pairs.collect();
    pairs.sort_by(|a, b| (a.0.stops + a.1.stops).abs().total_cmp(&(b.0.stops + b.1.stops).abs()));
    pairs
}
