//! Parses photographic notation: `f/8 +0.3`, `1/200 s`, `8 ft 6 in`, `ND 0.9`, `1/4 +0.3`.
//!
//! Case and spaces do not matter. A decimal comma is rejected, because `1,250` is ambiguous. So are two numbers with only
//! a space between them, except a mixed number such as `1 1/3`: in `f/8 0.3` a plus sign may be missing.

pub mod measure;
mod shape;

use self::shape::Shape;
use crate::light::{
    error::{InvalidValue, beginning},
    quantity::{
        constants::{FOOT_CANDLE_LX, FOOT_M, INCH_M},
        kind::Kind,
    },
};

/// A parsed number, before it is read as a mark.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Written {
    /// The number, in the unit of its kind.
    pub number: f64,
    /// Additional stops: the `+0.3` of `f/8 +0.3` or `1/4 +0.3`.
    pub beyond_stops: f64,
}

impl Written {
    /// A number without additional stops.
    pub const fn plain(number: f64) -> Self {
        Self { number, beyond_stops: 0.0 }
    }
}

/// A scanner over one text.
struct Scan<'a> {
    rest: &'a str,
}

impl<'a> Scan<'a> {
    fn new(text: &'a str) -> Self {
        Self { rest: text }
    }

    /// The rest of the text, without leading spaces.
    fn peek(&self) -> &'a str {
        match self.rest.as_bytes().first() {
            Some(byte) if byte.is_ascii_graphic() => self.rest,
            _ => self.rest.trim_start(),
        }
    }

    /// Skips `word` if it comes next, ignoring case; whether it did.
    fn eat(&mut self, word: &str) -> bool {
        self.eat_any(&[word])
    }

    /// Skips the first of `words` that comes next, ignoring case; whether one did.
    fn eat_any(&mut self, words: &[&str]) -> bool {
        let rest = self.peek();
        let first = rest.as_bytes().first().map(u8::to_ascii_lowercase);
        let begins = |word: &&&str| {
            word.as_bytes().first().map(u8::to_ascii_lowercase) == first
                && rest.get(..word.len()).is_some_and(|head| head.eq_ignore_ascii_case(word))
        };
        let Some(word) = words.iter().find(begins) else { return false };
        self.rest = &rest[word.len()..];
        true
    }

    fn number(&mut self) -> Option<f64> {
        let rest = self.peek();
        let end = rest.find(|c: char| !c.is_ascii_digit() && c != '.').unwrap_or(rest.len());
        let digits = &rest[..end];
        if !digits.starts_with(|c: char| c.is_ascii_digit()) && !digits.starts_with('.') {
            return None;
        }
        let number = digits.parse::<f64>().ok().filter(|n| n.is_finite())?;
        self.rest = &rest[end..];
        Some(number)
    }

    /// A fraction, a decimal or a mixed number: `4/3`, `1.3`, `1 1/3`.
    fn mixed(&mut self) -> Option<f64> {
        let first = self.number()?;
        if self.eat("/") {
            return self.divided(first);
        }
        let before = self.rest;
        if before.starts_with(' ')
            && let Some(over) = self.number()
        {
            if self.eat("/") {
                return self.divided(over).map(|part| first + part);
            }
            self.rest = before;
        }
        Some(first)
    }

    fn divided(&mut self, over: f64) -> Option<f64> {
        let under = self.number()?;
        (under > 0.0).then(|| over / under)
    }

    /// `+`: 1, `-` or the typographic minus: -1.
    fn sign(&mut self) -> Option<f64> {
        if self.eat("+") {
            Some(1.0)
        } else if self.eat_any(&["-", "\u{2212}"]) {
            Some(-1.0)
        } else {
            None
        }
    }

    /// Optional additional stops: `+0.3`, `-1/3`, `+0.3 stops`; zero if absent, `None` if malformed.
    fn additional_stops(&mut self) -> Option<f64> {
        let Some(sign) = self.sign() else {
            return Some(0.0);
        };
        let stops = self.mixed()?;
        self.stop_word();
        Some(sign * stops)
    }

    fn stop_word(&mut self) -> bool {
        self.eat_any(&["stops", "stop"])
    }

    fn end(&self) -> Option<()> {
        self.peek().is_empty().then_some(())
    }
}

/// Parses `text` as a quantity of `kind`.
///
/// ```
/// use stopwright::light::quantity::{kind::Kind, notation::read};
/// assert_eq!(read(Kind::Distance, "8 ft 6 in").map(|w| w.number), Ok(2.5908));
/// assert!(read(Kind::Distance, "2,5 m").is_err());
/// ```
pub fn read(kind: Kind, text: &str) -> Result<Written, InvalidValue> {
    parse(kind, text).ok_or_else(|| unreadable(kind.name_in_words(), text, kind.expected()))
}

fn parse(kind: Kind, text: &str) -> Option<Written> {
    let mut scan = Scan::new(text);
    let read = match kind {
        Kind::FNumber => f_number(&mut scan),
        Kind::ExposureTime => exposure_time(&mut scan),
        Kind::Iso => iso(&mut scan),
        Kind::Energy => energy(&mut scan),
        Kind::PowerFraction => power_fraction(&mut scan),
        Kind::Percent => percent(&mut scan),
        Kind::Distance => distance(&mut scan),
        Kind::GuideNumber => guide_number(&mut scan),
        Kind::OpticalDensity => filter(&mut scan, true),
        Kind::FilterFactor => filter(&mut scan, false),
        Kind::LightRatio => light_ratio(&mut scan),
        Kind::ExposureValue => exposure_value(&mut scan),
        Kind::Illuminance => illuminance(&mut scan),
        Kind::Reflectance => percent(&mut scan).map(|percent| Written::plain(percent.number / 100.0)),
    };
    read.filter(|_| scan.end().is_some())
}

/// The error for a text that cannot be parsed. It names the likely mistake if there is one.
fn unreadable(what: &'static str, text: &str, notation: &'static str) -> InvalidValue {
    likely_slip(what, text).unwrap_or_else(|| InvalidValue::Unreadable {
        text: beginning(text),
        what,
        notation,
    })
}

/// A common mistake that explains why a text cannot be parsed as any kind: a comma, division by zero, a missing plus.
pub fn likely_slip(what: &'static str, text: &str) -> Option<InvalidValue> {
    let shown = beginning(text);
    if text.contains(',') {
        let (with_points, without) = (shown.replace(',', "."), shown.replace(',', ""));
        Some(InvalidValue::Comma { text: shown, what, with_points, without })
    } else if text.contains("/0") && !text.contains("/0.") {
        Some(InvalidValue::DividesByZero { text: shown, what })
    } else if is_missing_plus(text) {
        let with_plus = shown.split_whitespace().collect::<Vec<_>>().join(" +");
        Some(InvalidValue::MissingSign { text: shown, what, with_plus })
    } else {
        None
    }
}

/// Whether the text is two numbers with only a space between them.
fn is_missing_plus(text: &str) -> bool {
    let mut words = text.split_whitespace();
    let (Some(first), Some(second), None) = (words.next(), words.next(), words.next()) else {
        return false;
    };
    first.ends_with(|c: char| c.is_ascii_digit()) && second.starts_with(|c: char| c.is_ascii_digit())
}

fn f_number(scan: &mut Scan<'_>) -> Option<Written> {
    if scan.eat_any(&["f", "\u{192}"]) {
        scan.eat("/");
    }
    Some(Written { number: scan.number()?, beyond_stops: scan.additional_stops()? })
}

fn exposure_time(scan: &mut Scan<'_>) -> Option<Written> {
    let first = scan.number()?;
    if scan.eat("/") {
        let time = scan.divided(first)?;
        seconds_word(scan);
        return Some(Written::plain(time));
    }
    // "60" alone may be a minute, or 1/60 s as cameras show it, so the unit is required.
    seconds_word(scan).then(|| Written::plain(first))
}

fn seconds_word(scan: &mut Scan<'_>) -> bool {
    scan.eat_any(&["seconds", "second", "sec", "s", "\""])
}

fn iso(scan: &mut Scan<'_>) -> Option<Written> {
    scan.eat("iso");
    scan.number().map(Written::plain)
}

fn energy(scan: &mut Scan<'_>) -> Option<Written> {
    let number = scan.number()?;
    if scan.eat_any(&["kj", "kws"]) {
        return Some(Written::plain(number * 1000.0));
    }
    scan.eat_any(&["joules", "joule", "j", "ws"]).then(|| Written::plain(number))
}

fn power_fraction(scan: &mut Scan<'_>) -> Option<Written> {
    let first = scan.number()?;
    let number = if scan.eat("/") { scan.divided(first)? } else { first };
    Some(Written { number, beyond_stops: scan.additional_stops()? })
}

fn percent(scan: &mut Scan<'_>) -> Option<Written> {
    let number = scan.number()?;
    scan.eat("%").then(|| Written::plain(number))
}

/// A metric length, or feet and inches; in metres.
fn distance(scan: &mut Scan<'_>) -> Option<Written> {
    // Keyboards replace prime marks by various quotation marks.
    const FEET: &[&str] = &["feet", "foot", "ft", "'", "\u{2032}", "\u{2018}", "\u{2019}"];
    const INCHES: &[&str] =
        &["inches", "inch", "in", "\"", "\u{2033}", "\u{201c}", "\u{201d}", "''", "\u{2019}\u{2019}"];
    let first = scan.number()?;
    let metres = if scan.eat("mm") {
        first / 1000.0
    } else if scan.eat("cm") {
        first / 100.0
    } else if scan.eat_any(&["metres", "metre", "meters", "meter", "m"]) {
        first
    } else if scan.eat_any(FEET) {
        let mut inches = first * (FOOT_M / INCH_M);
        if let Some(more) = scan.number() {
            inches += more;
            scan.eat_any(INCHES).then_some(())?;
        }
        inches * INCH_M
    } else {
        scan.eat_any(INCHES).then_some(first * INCH_M)?
    };
    Some(Written::plain(metres))
}

/// `GN 40` (metres), `GN 40 m`, `GN 131 ft`; in metres.
fn guide_number(scan: &mut Scan<'_>) -> Option<Written> {
    scan.eat("gn").then_some(())?;
    let number = scan.number()?;
    if scan.eat("ft") {
        return Some(Written::plain(number * FOOT_M));
    }
    scan.eat("m");
    Some(Written::plain(number))
}

/// `ND 0.9` (a decimal point) is a density, `ND8` (a whole number) a factor.
fn filter(scan: &mut Scan<'_>, density: bool) -> Option<Written> {
    scan.eat("nd").then_some(())?;
    (scan.rest.contains('.') == density).then_some(())?;
    scan.number().map(Written::plain)
}

fn light_ratio(scan: &mut Scan<'_>) -> Option<Written> {
    let first = scan.number()?;
    scan.eat(":").then_some(())?;
    scan.divided(first).map(Written::plain)
}

/// `EV 12`, `EV -1.5`, `12 EV`, `EV 9 2/3`. A sign needs the prefix: `-2 EV` is a shift.
fn exposure_value(scan: &mut Scan<'_>) -> Option<Written> {
    if scan.eat("ev") {
        let sign = scan.sign().unwrap_or(1.0);
        return scan.mixed().map(|value| Written::plain(sign * value));
    }
    let value = scan.mixed()?;
    scan.eat("ev").then(|| Written::plain(value))
}

/// `800 lx`, `200 fc`; in lux.
fn illuminance(scan: &mut Scan<'_>) -> Option<Written> {
    let number = scan.number()?;
    if scan.eat_any(&["lx", "lux"]) {
        return Some(Written::plain(number));
    }
    scan.eat_any(&["foot-candles", "foot-candle", "footcandles", "footcandle", "fc"])
        .then(|| Written::plain(number * FOOT_CANDLE_LX))
}

/// The accepted notation of a distance with its half-width, with examples.
pub const DISTANCE_WITHIN_EXPECTED: &str =
    "a distance, as 2.5 (metres), \"2.5 m\", \"8 ft 6 in\", and how far off it may be, as \"2 m ±3 cm\"";

/// Parses a distance, and after `±`, `+-` or `+/-` its half-width; in metres.
///
/// ```
/// use stopwright::light::quantity::notation::distance_within;
/// assert_eq!(distance_within("2 m ±3 cm"), Ok((2.0, Some(0.03))));
/// assert_eq!(distance_within("2 m +/- 3 cm"), Ok((2.0, Some(0.03))));
/// assert_eq!(distance_within("2 m"), Ok((2.0, None)));
/// assert!(distance_within("2 m ±3").is_err());
/// ```
pub fn distance_within(text: &str) -> Result<(f64, Option<f64>), InvalidValue> {
    let parts = ["\u{b1}", "+/-", "+-", "+/\u{2212}"].iter().find_map(|mark| text.split_once(mark));
    let read = |part: &str| parse(Kind::Distance, part).map(|written| written.number);
    let found = match parts {
        Some((distance, within)) => read(distance).zip(read(within).map(Some)),
        None => read(text).map(|distance| (distance, None)),
    };
    found.ok_or_else(|| unreadable(Kind::Distance.name_in_words(), text, DISTANCE_WITHIN_EXPECTED))
}

/// The accepted notation of a coordinate, with examples.
pub const COORDINATE_EXPECTED: &str = "a coordinate, as -0.4 (metres), \"-40 cm\" or \"6 ft 3 in\"";

/// Parses a coordinate: a distance with an optional sign, in metres.
///
/// ```
/// assert_eq!(stopwright::light::quantity::notation::coordinate("-2 ft"), Ok(-0.6096));
/// ```
pub fn coordinate(text: &str) -> Result<f64, InvalidValue> {
    let mut scan = Scan::new(text);
    let sign = scan.sign().unwrap_or(1.0);
    distance(&mut scan)
        .filter(|_| scan.end().is_some())
        .map(|written| sign * written.number)
        .ok_or_else(|| unreadable("a coordinate", text, COORDINATE_EXPECTED))
}

/// The accepted notation of signed stops, with examples.
pub const STOPS_EXPECTED: &str = "stops, as 1 or \"+1\", \"-1/3\", \"+1 1/3\", \"1.3 stops\"";

/// Parses signed stops: `+1`, `-1/3`, `+1 1/3`, `4/3`, `1.3 stops`.
///
/// ```
/// assert_eq!(stopwright::light::quantity::notation::stops("-1 1/2"), Ok(-1.5));
/// ```
pub fn stops(text: &str) -> Result<f64, InvalidValue> {
    signed_stops(text).ok_or_else(|| unreadable("stops", text, STOPS_EXPECTED))
}

fn signed_stops(text: &str) -> Option<f64> {
    let mut scan = Scan::new(text);
    let sign = scan.sign().unwrap_or(1.0);
    let stops = scan.mixed()?;
    scan.stop_word();
    scan.end()?;
    Some(sign * stops)
}

/// Parses stops only if the word is written, as in `-2 stops`.
pub fn named_stops(text: &str) -> Option<f64> {
    text.to_ascii_lowercase().contains("stop").then(|| signed_stops(text))?
}

/// Parses a number with an optional sign and no unit: `7.3`.
pub fn bare_number(text: &str) -> Option<f64> {
    let mut scan = Scan::new(text);
    let sign = scan.sign().unwrap_or(1.0);
    let number = scan.number()?;
    scan.end()?;
    Some(sign * number)
}

/// The kinds that a text may have.
pub fn kinds_of(text: &str) -> impl Iterator<Item = Kind> {
    let shape = Shape::from_text(text);
    Kind::ALL.into_iter().filter(move |&kind| shape.may_be(kind) && is_of(kind, text))
}

/// Whether a text may have this kind when its kind is not given.
pub fn is_of(kind: Kind, text: &str) -> bool {
    parse(kind, text).is_some()
        && match kind {
            // Without its prefix, only a plain number counts as an f-number or an ISO speed. With a sign, a power fraction
            // needs a stroke or a decimal point.
            Kind::FNumber => Scan::new(text).eat_any(&["f", "\u{192}"]) || bare_number(text).is_some(),
            Kind::Iso => Scan::new(text).eat("iso") || bare_number(text).is_some(),
            // Full power.
            Kind::ExposureTime => {
                text.split_once('/').is_none_or(|(over, under)| over.trim() != "1" || under.trim() != "1")
            }
            // A percentage is of power.
            Kind::Reflectance => false,
            Kind::PowerFraction => !text.contains(['+', '-', '\u{2212}']) || text.contains(['/', '.']),
            _ => true,
        }
}
