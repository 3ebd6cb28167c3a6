//! What several summaries say alike.

use crate::{
    light::{quantity::nominal::Nominal, uncertainty::Uncertainty},
    wording::format::rounded_stops,
};

/// `, give or take 0.3 stop` for one point; of several, which is the least sure.
pub fn least_sure<'p>(points: impl ExactSizeIterator<Item = (&'p str, Option<&'p Uncertainty>)>) -> String {
    let is_one = points.len() == 1;
    let known = points.filter_map(|(name, uncertainty)| Some((name, uncertainty?)));
    let least = known.max_by(|(_, a), (_, b)| a.longer_end().total_cmp(&b.longer_end()));
    match least {
        None => String::new(),
        Some((_, uncertainty)) if is_one => give_or_take(uncertainty),
        Some((name, uncertainty)) => format!("; the least sure is \"{name}\"{}", give_or_take(uncertainty)),
    }
}

/// `a`, `a and b`, `a, b and c`.
pub fn joined(all: &[String]) -> String {
    match all {
        [] => String::new(),
        [one] => one.clone(),
        [first @ .., last] => format!("{} and {last}", first.join(", ")),
    }
}

/// As a meter shows it, or the mark where no meter would.
pub fn reading(f_number: &Nominal) -> String {
    f_number.meter.clone().unwrap_or_else(|| f_number.label())
}

/// `, give or take 1.45 stops`: the longer of the two ends.
pub fn give_or_take(uncertainty: &Uncertainty) -> String {
    format!(", give or take {}", rounded_stops(uncertainty.longer_end()))
}
