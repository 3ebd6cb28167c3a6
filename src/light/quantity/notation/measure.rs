//! Measures that are no [`Kind`](crate::light::quantity::kind::Kind): times, colour temperatures, illuminances and
//! magnifications, shares of light, each with its unit.

use super::{Scan, illuminance, light_ratio, seconds_word, unreadable};
use crate::light::error::InvalidValue;

/// How a measure is written.
pub struct Measure {
    /// Its name, with article.
    what: &'static str,
    /// The accepted notation, with examples.
    pub expected: &'static str,
    /// The same as a regular expression.
    pub pattern: &'static str,
    parse: fn(&mut Scan<'_>) -> Option<f64>,
}

/// A time in seconds.
pub const SECONDS: Measure = Measure {
    what: "a time",
    expected: "a time, as 1.8 (seconds) or \"1.8 s\"",
    pattern: r#"^\s*[0-9.]+(\s*/\s*[0-9.]+)?\s*(s|sec|seconds?|")\s*$"#,
    parse: |scan| scan.mixed().filter(|_| seconds_word(scan)),
};

/// A time in hours.
pub const HOURS: Measure = Measure {
    what: "a time in hours",
    expected: "a time, as 4 (hours) or \"4 h\"",
    pattern: r"^\s*[0-9.]+(\s*/\s*[0-9.]+)?\s*(h|hours?)\s*$",
    parse: |scan| scan.mixed().filter(|_| scan.eat_any(&["hours", "hour", "h"])),
};

/// A rate in hertz.
pub const HERTZ: Measure = Measure {
    what: "a rate",
    expected: "a rate, as 5 (a second) or \"5 Hz\"",
    pattern: r"^\s*[0-9.]+(\s*/\s*[0-9.]+)?\s*[hH][zZ]\s*$",
    parse: |scan| scan.mixed().filter(|_| scan.eat("hz")),
};

/// A colour temperature in kelvins.
pub const KELVINS: Measure = Measure {
    what: "a colour temperature",
    expected: "a colour temperature, as 5600 (kelvins) or \"5600 K\"",
    pattern: r"^\s*[0-9.]+\s*[kK]\s*$",
    parse: |scan| scan.number().filter(|_| scan.eat("k")),
};

/// An illuminance in lux.
pub const LUX: Measure = Measure {
    what: "an illuminance",
    expected: "an illuminance, as 800 (lux) or \"800 lx\"",
    pattern: r"^\s*[0-9.]+\s*([lL][xX]|[lL]ux)\s*$",
    parse: |scan| illuminance(scan).map(|written| written.number),
};

/// A magnification: image to subject.
pub const MAGNIFICATION: Measure = Measure {
    what: "a magnification",
    expected: "a magnification, as 0.5 or \"1:2\"",
    pattern: r"^\s*[0-9.]+\s*:\s*[0-9.]+\s*$",
    parse: |scan| light_ratio(scan).map(|written| written.number),
};

/// A share of light that a surface reflects.
pub const SHARE: Measure = Measure {
    what: "a reflectance",
    expected: "a reflectance, as 0.18 or \"18 %\"",
    pattern: r"^\s*[0-9.]+\s*%\s*$",
    parse: |scan| scan.number().filter(|_| scan.eat("%")).map(|percent| percent / 100.0),
};

impl Measure {
    /// Parses a text.
    ///
    /// ```
    /// use stopwright::light::quantity::notation::measure::{HERTZ, HOURS, KELVINS, LUX, MAGNIFICATION, SECONDS, SHARE};
    /// assert_eq!(SECONDS.read("1.8 s"), Ok(1.8));
    /// assert_eq!(HOURS.read("4 h"), Ok(4.0));
    /// assert_eq!(HERTZ.read("5 Hz"), Ok(5.0));
    /// assert_eq!(KELVINS.read("5600 K"), Ok(5600.0));
    /// assert_eq!(LUX.read("800 lx"), Ok(800.0));
    /// assert_eq!(MAGNIFICATION.read("1:2"), Ok(0.5));
    /// assert_eq!(SHARE.read("18 %"), Ok(0.18));
    /// assert!(SECONDS.read("1.8").is_err());
    /// ```
    pub fn read(&self, text: &str) -> Result<f64, InvalidValue> {
        let mut scan = Scan::new(text);
        (self.parse)(&mut scan)
            .filter(|_| scan.end().is_some())
            .ok_or_else(|| unreadable(self.what, text, self.expected))
    }
}
