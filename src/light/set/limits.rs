//! Limits of remedies.

use crate::light::{
    quantity::{FNumber, Iso, Metres, Seconds},
    set::filter::{NeutralDensity, SOLD},
};

/// The most filters of one remedy.
const MAX_FILTERS: usize = 2;

/// The limits within which remedies stay. Defaults: f/1.4 to f/22, ISO 50 to 12800, 1/8000 to 1/30 s, 0.3 to 10 m, one
/// pop, and the filters that are commonly sold.
#[derive(Debug, Clone, PartialEq)]
pub struct Limits {
    /// Widest and smallest aperture.
    pub f_number: [FNumber; 2],
    /// Lowest and highest ISO speed.
    pub iso: [Iso; 2],
    /// Shortest and longest exposure time.
    pub exposure_time: [Seconds; 2],
    /// Nearest and farthest distance of a light.
    pub distance: [Metres; 2],
    /// The largest number of flashes in one exposure.
    pub max_pops: u32,
    /// The printed densities of the filters to choose from; those that are commonly sold if `None`.
    pub filters: Option<Vec<NeutralDensity>>,
}

impl Default for Limits {
    fn default() -> Self {
        Self {
            // The usual ranges of lenses, cameras and rooms (our judgement).
            f_number: [FNumber::new_unchecked(2_f64.sqrt()), FNumber::new_unchecked(22.627_416_997_969_522)],
            iso: [Iso::new_unchecked(50.0), Iso::new_unchecked(12_800.0)],
            exposure_time: [Seconds::new_unchecked(1.0 / 8192.0), Seconds::new_unchecked(1.0 / 32.0)],
            distance: [Metres::new_unchecked(0.3), Metres::new_unchecked(10.0)],
            max_pops: 1,
            filters: None,
        }
    }
}

impl Limits {
    /// Whether an aperture is within the limits.
    pub fn allows_f_number(&self, value: f64) -> bool {
        within(value, self.f_number[0].get(), self.f_number[1].get())
    }

    /// Whether an ISO speed is within the limits.
    pub fn allows_iso(&self, value: f64) -> bool {
        within(value, self.iso[0].get(), self.iso[1].get())
    }

    /// Whether an exposure time is within the limits.
    pub fn allows_exposure_time(&self, value: f64) -> bool {
        within(value, self.exposure_time[0].get(), self.exposure_time[1].get())
    }

    /// Whether a distance is within the limits.
    pub fn allows_distance(&self, value: f64) -> bool {
        within(value, self.distance[0].get(), self.distance[1].get())
    }

    /// The filters to choose from, and pairs of them, each with its effect in stops: single ones first, each by rising
    /// effect.
    pub fn filters(&self, new: impl Fn(f64) -> NeutralDensity) -> [Vec<Vec<NeutralDensity>>; MAX_FILTERS] {
        let all: Vec<NeutralDensity> =
            self.filters.clone().unwrap_or_else(|| SOLD.into_iter().map(new).collect());
        let pairs = all.iter().enumerate().flat_map(|(index, one)| {
            // A filter that is listed once may be there once.
            let others = all.iter().skip(index + usize::from(self.filters.is_some()));
            others.map(|other| vec![*one, *other])
        });
        let effect =
            |filters: &Vec<NeutralDensity>| -> f64 { filters.iter().map(|filter| -filter.stops.get()).sum() };
        let sorted = |mut filters: Vec<Vec<NeutralDensity>>| {
            filters.sort_by(|a, b| effect(a).total_cmp(&effect(b)));
            filters
        };
        [sorted(all.iter().map(|filter| vec![*filter]).collect()), sorted(pairs.collect())]
    }
}

/// Whether a value is in the range, up to the rounding of marks.
fn within(value: f64, least: f64, greatest: f64) -> bool {
    value >= least * (1.0 - 1e-9) && value <= greatest * (1.0 + 1e-9)
}
