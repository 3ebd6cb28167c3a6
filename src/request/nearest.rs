//! What a misspelt name was probably meant to be.

/// Names are alike from this similarity on (Jaro-Winkler, 0 to 1; our judgement: a letter or an ending off).
const ALIKE: f64 = 0.85;

/// The names in order, but first those that look like the one that was written, the likest first.
pub fn nearest_first<T: AsRef<str>>(written: &str, names: Vec<T>) -> Vec<T> {
    let written = written.to_lowercase();
    let likeness = |name: &T| strsim::jaro_winkler(&written, name.as_ref());
    let (mut alike, others): (Vec<T>, Vec<T>) = names.into_iter().partition(|name| likeness(name) >= ALIKE);
    alike.sort_by(|a, b| likeness(b).total_cmp(&likeness(a)));
    alike.extend(others);
    alike
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_looks_like_it_comes_first() {
        let names = || vec!["exposure", "lights", "points", "position", "reflectors"];
        assert_eq!(nearest_first("postion", names())[0], "position");
        assert_eq!(nearest_first("Reflector", names())[0], "reflectors");
        assert_eq!(nearest_first("nothing", names()), names());
    }
}
