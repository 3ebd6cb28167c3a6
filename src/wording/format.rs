//! Lists, numbers, plurals, units and quoted names in sentences.

/// Joins the first `most` items with semicolons, then counts the rest: `a; b; and 3 more`.
pub fn listed(all: impl ExactSizeIterator<Item = String>, most: usize) -> String {
    let more = all.len().saturating_sub(most);
    let more = (more > 0).then(|| format!("and {more} more"));
    all.take(most).chain(more).collect::<Vec<_>>().join("; ")
}

/// The names of shots, the first few of many; a phrase if they are all of several.
pub fn shot_names(shots: &[String], all_shots: usize) -> String {
    const NAMED: usize = 3;
    if shots.len() == all_shots && all_shots > 1 {
        return every_shot(all_shots);
    }
    let names = shots.iter().take(NAMED).map(|name| format!("\"{name}\""));
    let names = names.collect::<Vec<_>>().join(", ");
    match shots.len().saturating_sub(NAMED) {
        0 => names,
        1 => format!("{names} and one more shot"),
        more => format!("{names} and {more} more shots"),
    }
}

/// A phrase for all shots, with a small first letter.
pub fn every_shot(shots: usize) -> String {
    match shots {
        1 => "the shot".to_owned(),
        2 => "both shots".to_owned(),
        shots => format!("all {shots} shots"),
    }
}
