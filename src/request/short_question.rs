//! Short questions in words: `f/8 to f/11`, `GN 40 at 5 m`, `f/8 + f/5.6`. Each is a question that can be asked in full.
//!
//! A question is split into values and words between them. What they are, in order, decides which calculation is asked: one
//! row of [`question`] each.

use serde_json::{Map, Value as Json, json};

use crate::{
    light::{
        error::beginning,
        quantity::{
            kind::Kind,
            notation::{self, measure},
        },
    },
    wording::fault::Fault,
};

/// The most characters of a short question.
pub const MAX_CHARS: usize = 256;

/// Forms that are understood, with what each asks.
pub const FORMS: [(&str, &str); 14] = [
    (
        "f/8 to f/11",
        "the stops between two values of one kind; so for 1/60 s, ISO 100, 600 J, 2 m, 6 ft 6 in, GN 40, ND 0.9, 3:1, 62 %",
    ),
    ("f/8 + 1 stop", "the value that a shift leads to; - 2/3 stop darkens"),
    ("f/8 + f/5.6", "what lights read together; - takes one away; so for GN 40 + GN 32"),
    ("f/11 and f/8", "the lighting ratio of key and fill, each metered alone"),
    ("lit f/11 shadow f/5.6", "the lighting ratio of two sides, all lights on"),
    (
        "GN 40 at 5 m",
        "the aperture of a guide number at a distance; ISO 400 and a setting such as 1/4 may follow",
    ),
    ("GN 40 at f/8", "the distance for an aperture"),
    ("GN 40 at 5 m for f/4", "the power for both"),
    ("f/8 at 2 m to 1.5 m", "a metered light that is moved"),
    ("f/8 at 2 m for f/11", "where a metered light gives an aperture"),
    ("f/8 1/125 to f/11 1/60", "two exposures compared; ISO 400 may follow each"),
    ("f/8 1/125 to f/11", "the time that keeps the exposure; so for the aperture"),
    ("1:2 at f/8", "what a close-up at a magnification takes"),
    ("5600 K to 3200 K", "the shift between two colours of light"),
];

/// Signs before a number of stops.
const SIGNS: [char; 3] = ['+', '-', '\u{2212}'];

/// Words that a question may have around it.
const AROUND: [&str; 24] = [
    "how", "many", "much", "what", "which", "is", "are", "the", "a", "from", "between", "of", "in", "stops",
    "light", "me", "far", "does", "do", "reach", "i", "my", "need", "power",
];

/// A question in full.
#[derive(Debug, Clone, PartialEq)]
pub struct FullQuestion {
    /// The path of the calculation, without `/v1/`.
    pub path: &'static str,
    /// The body of the request.
    pub body: Map<String, Json>,
}

/// What a value of a short question is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Is {
    FNumber,
    Time,
    Iso,
    Guide,
    Distance,
    Ratio,
    Stops,
    Kelvin,
    /// A value that can only be converted.
    Other,
    To,
    At,
    And,
    Plus,
    Minus,
    Lit,
    Shadow,
    Key,
    Fill,
    RatioOf,
}

/// A value or a word, as it was written.
struct Item {
    is: Is,
    text: String,
}

/// Reads a short question.
///
/// # Errors
///
/// A question that is in none of the known forms, with those that are nearest.
pub fn read(text: &str) -> Result<FullQuestion, Fault> {
    let items = items(text).ok_or_else(|| unknown(text))?;
    check_signs(&items)?;
    let mut question = question(&items).ok_or_else(|| unknown(text))?;
    // Who writes feet is told feet.
    if items.iter().any(|item| item.is == Is::Distance && is_in_feet(&item.text)) {
        let bare = items
            .iter()
            .find(|item| item.is == Is::Guide && item.text.ends_with(|c: char| c.is_ascii_digit()));
        if let Some(guide) = bare {
            return Err(Fault::GuideWithoutUnit { guide: guide.text.clone() });
        }
        question.body.insert("units".to_owned(), "imperial".into());
    }
    Ok(question)
}

/// Whether a distance is in feet or inches.
fn is_in_feet(text: &str) -> bool {
    let text = text.to_ascii_lowercase();
    text.contains(['\'', '"', '\u{2032}', '\u{2033}', '\u{2018}', '\u{2019}', '\u{201c}', '\u{201d}'])
        || ["ft", "feet", "foot", "in"].iter().any(|unit| text.contains(unit))
}

/// Two times or powers that may be either: a power if both are whole stops below full, else a time. The stops are the same.
fn kind_of_fractions(items: &[Item]) -> Option<&'static str> {
    let is_doubtful = |item: &&Item| item.is == Is::Time && notation::kinds_of(&item.text).count() > 1;
    let all: Vec<&Item> = items.iter().filter(is_doubtful).collect();
    let is_power = |item: &&Item| {
        let under = item.text.strip_prefix("1/").and_then(|under| under.trim().parse::<u32>().ok());
        under.is_some_and(|under| under.is_power_of_two() && under <= 256)
    };
    let both = all.len() == items.iter().filter(|item| is_value(item.is)).count();
    both.then(|| if all.iter().all(is_power) { "power_fraction" } else { "exposure_time" })
}

/// The question that these items ask.
fn question(items: &[Item]) -> Option<FullQuestion> {
    use Is::{
        And, At, Distance, FNumber, Fill, Guide, Iso, Kelvin, Key, Lit, Minus, Plus, Ratio, Shadow, Stops, To,
    };
    let all: Vec<Is> = items.iter().map(|item| item.is).collect();
    let text = |index: usize| items.get(index).map_or("", |item| item.text.as_str());
    let full = |path, body: Json| Some(FullQuestion { path, body: body.as_object().cloned()? });
    match all[..] {
        [FNumber, And, FNumber] => full("readings/ratio", json!({"key": text(0), "fill": text(2)})),
        [Key, FNumber, Fill, FNumber] => full("readings/ratio", json!({"key": text(1), "fill": text(3)})),
        [Lit, FNumber, Shadow, FNumber] => full("readings/ratio", json!({"lit": text(1), "shadow": text(3)})),
        [Kelvin, To, Kelvin] => full("colour/gel", json!({"from_k": text(0), "to_k": text(2)})),
        [Ratio, At, FNumber] => full("lens/close-up", json!({"magnification": text(0), "f_number": text(2)})),
        [FNumber, At, Distance, To, Distance] => full(
            "exposure/one-light",
            json!({"metered": {"f_number": text(0), "distance": text(2)}, "distance": text(4)}),
        ),
        [FNumber, At, Distance, At | To, FNumber] => full(
            "exposure/one-light",
            json!({"metered": {"f_number": text(0), "distance": text(2)}, "f_number": text(4)}),
        ),
        [Is::RatioOf, FNumber, To | And, FNumber] => {
            full("readings/ratio", json!({"key": text(1), "fill": text(3)}))
        }
        [Fill, FNumber, Key, FNumber] => full("readings/ratio", json!({"key": text(3), "fill": text(1)})),
        [Shadow, FNumber, Lit, FNumber] => full("readings/ratio", json!({"lit": text(3), "shadow": text(1)})),
        [_, Plus | Minus, Stops] if is_value(all[0]) && !text(2).starts_with(SIGNS) => {
            let sign = if all[1] == Plus { "+" } else { "-" };
            full(
                "stops/convert",
                with_kind(items, json!({"from": text(0), "shift": format!("{sign}{}", text(2))})),
            )
        }
        [_, Stops] if is_value(all[0]) && text(1).starts_with(SIGNS) => {
            full("stops/convert", with_kind(items, json!({"from": text(0), "shift": text(1)})))
        }
        [FNumber | Guide, Plus | Minus, ..] => combined(items),
        [from, To, to] if is_value(from) && is_value(to) => {
            full("stops/convert", with_kind(items, json!({"from": text(0), "to": text(2)})))
        }
        [Guide, ..] => guide(items),
        [FNumber | Is::Time, ..]
            if all.contains(&To)
                && !all.iter().any(|is| !matches!(is, FNumber | Is::Time | Iso | To | At)) =>
        {
            exposures(items)
        }
        _ => None,
    }
}

/// `GN 40 at 5 m`, `GN 40 at f/8`, `GN 40 at 5 m for f/8`, each perhaps with an ISO speed and a setting such as 1/4.
fn guide(items: &[Item]) -> Option<FullQuestion> {
    let mut body = Map::from_iter([("guide_number".to_owned(), Json::from(items[0].text.as_str()))]);
    for item in &items[1..] {
        let name = match item.is {
            Is::At => continue,
            // Nobody stands 35 mm away: that is the zoom of the flash, and its guide number says nothing of it.
            Is::Distance if item.text.to_ascii_lowercase().contains("mm") => return None,
            Is::Distance => "distance",
            Is::FNumber => "f_number",
            Is::Iso => "iso",
            Is::Time => "setting",
            _ => return None,
        };
        if body.insert(name.to_owned(), item.text.as_str().into()).is_some() {
            return None;
        }
    }
    (body.contains_key("distance") || body.contains_key("f_number"))
        .then_some(FullQuestion { path: "exposure/one-light", body })
}

/// `f/8 + f/5.6 - f/4`: readings of one kind, with signs between.
fn combined(items: &[Item]) -> Option<FullQuestion> {
    let kind = items[0].is;
    let (mut add, mut subtract) = (vec![items[0].text.clone()], Vec::new());
    for pair in items[1..].chunks(2) {
        let [sign, reading] = pair else { return None };
        match sign.is {
            _ if reading.is != kind => return None,
            Is::Plus => add.push(reading.text.clone()),
            Is::Minus => subtract.push(reading.text.clone()),
            _ => return None,
        }
    }
    let mut body = Map::from_iter([("add".to_owned(), Json::from(add))]);
    if !subtract.is_empty() {
        body.insert("subtract".to_owned(), subtract.into());
    }
    Some(FullQuestion { path: "readings/combine", body })
}

/// `f/8 1/125 ISO 400 to f/11 1/60`: an exposure is an aperture, a time and an ISO speed, each at most once.
fn exposures(items: &[Item]) -> Option<FullQuestion> {
    let exposure = |items: &[Item]| {
        let mut fields = Map::new();
        for item in items {
            let name = match item.is {
                Is::At => continue,
                Is::FNumber => "f_number",
                Is::Time => "exposure_time",
                Is::Iso => "iso",
                _ => return None,
            };
            if fields.insert(name.to_owned(), item.text.as_str().into()).is_some() {
                return None;
            }
        }
        (!fields.is_empty()).then_some(Json::Object(fields))
    };
    let at = items.iter().position(|item| item.is == Is::To)?;
    let (from, to) = (exposure(&items[..at])?, exposure(&items[at + 1..])?);
    let body = Map::from_iter([("from".to_owned(), from), ("to".to_owned(), to)]);
    Some(FullQuestion { path: "exposure/compare", body })
}

/// A conversion with its kind, where its values do not say it.
fn with_kind(items: &[Item], mut body: Json) -> Json {
    if let Some(kind) = kind_of_fractions(items) {
        body["kind"] = kind.into();
    }
    body
}

const fn is_value(is: Is) -> bool {
    matches!(
        is,
        Is::FNumber | Is::Time | Is::Iso | Is::Guide | Is::Distance | Is::Ratio | Is::Kelvin | Is::Other
    )
}

/// Two values of one kind with nothing between them: perhaps a plus sign that a query turned into a space.
fn check_signs(items: &[Item]) -> Result<(), Fault> {
    let is_doubtful =
        |pair: &&[Item]| pair[0].is == pair[1].is && matches!(pair[0].is, Is::FNumber | Is::Guide);
    match items.windows(2).find(is_doubtful) {
        Some(pair) => {
            let (first, second) = (pair[0].text.clone(), pair[1].text.clone());
            Err(Fault::NothingBetween { first, second })
        }
        None => Ok(()),
    }
}

/// The fault of a question in no known form, with the forms that are nearest: those that share most words with it.
fn unknown(text: &str) -> Fault {
    let asked = words(text);
    let shared = |form: &str| words(form).iter().filter(|word| asked.contains(word)).count();
    let mut forms: Vec<&'static str> = FORMS.iter().map(|(form, _)| *form).collect();
    forms.sort_by_key(|form| std::cmp::Reverse(shared(form)));
    forms.truncate(4);
    Fault::UnknownQuestion {
        text: beginning(text),
        forms: forms.into_iter().map(|form| format!("\"{form}\"")).collect(),
    }
}

/// The words of a text, without its numbers: `f/`, `to`, `GN`, `at`, `m`.
fn words(text: &str) -> Vec<String> {
    let is_number = |c: char| c.is_ascii_digit() || matches!(c, '.' | ' ' | ':');
    text.to_ascii_lowercase().split(is_number).filter(|word| !word.is_empty()).map(str::to_owned).collect()
}

/// The values and words of a text; `None` if a part of it is neither.
fn items(text: &str) -> Option<Vec<Item>> {
    let spaced = spaced(text);
    // `f/8,` and `f/11?` are f/8 and f/11.
    let tokens =
        spaced.split_whitespace().map(|token| match token.trim_end_matches([',', ';', '?', '!', ':']) {
            "" => token,
            token => token,
        });
    let tokens: Vec<&str> = tokens.collect();
    let mut items = Vec::new();
    let mut rest = &tokens[..];
    while let [first, ..] = rest {
        // The longest value first: `6 ft 6 in` before `6 ft`.
        let value = (1..=rest.len().min(5)).rev().find_map(|count| {
            // A sign by itself is a word, and stops have their own number.
            let is_apart = rest[..count].iter().any(|token| word(token).is_some());
            let is_of_stops = rest
                .get(count)
                .is_some_and(|next| ["stop", "stops"].contains(&next.to_ascii_lowercase().as_str()));
            if is_apart || is_of_stops && count > 1 {
                return None;
            }
            let text = rest[..count].join(" ");
            Some((value(&text)?, text, count))
        });
        let (is, text, count) = match (value, word(first)) {
            (Some(value), _) => value,
            (None, Some(is)) => (is, (*first).to_owned(), 1),
            (None, None) if AROUND.contains(&first.to_ascii_lowercase().as_str()) => {
                rest = &rest[1..];
                continue;
            }
            (None, None) => return None,
        };
        items.push(Item { is, text });
        rest = &rest[count..];
    }
    Some(items)
}

/// The text with a space on either side of a sign before an f-number or a guide number: `f/8+f/5.6`.
fn spaced(text: &str) -> String {
    let text = WRITTEN_OUT.iter().fold(text.to_owned(), |text, (long, short)| replaced(&text, long, short));
    let mut out = String::with_capacity(text.len() + 8);
    for (at, c) in text.char_indices() {
        let after = text[at + c.len_utf8()..].trim_start();
        let is_before_reading = after.starts_with(['f', 'F', '\u{192}', 'g', 'G']);
        if matches!(c, '+' | '-' | '\u{2212}') && is_before_reading {
            out.push(' ');
            out.push(c);
            out.push(' ');
        } else {
            out.push(c);
        }
    }
    out
}

/// What is also written out, or with other signs.
const WRITTEN_OUT: [(&str, &str); 9] = [
    ("->", " to "),
    ("\u{2192}", " to "),
    ("\u{2013}", "-"),
    ("guide number ", "GN "),
    ("half a stop", "1/2 stop"),
    ("one stop", "1 stop"),
    ("two stops", "2 stops"),
    ("three stops", "3 stops"),
    ("a third of a stop", "1/3 stop"),
];

/// The text with every `long`, in any case, replaced.
fn replaced(text: &str, long: &str, short: &str) -> String {
    let lower = text.to_ascii_lowercase();
    let mut out = String::with_capacity(text.len());
    let mut end = 0;
    for (at, found) in lower.match_indices(long) {
        out.push_str(&text[end..at]);
        out.push_str(short);
        end = at + found.len();
    }
    out.push_str(&text[end..]);
    out
}

fn word(text: &str) -> Option<Is> {
    Some(match text.to_ascii_lowercase().as_str() {
        "to" => Is::To,
        "at" | "@" | "for" => Is::At,
        "and" | "with" | "vs" | "versus" | "against" => Is::And,
        "ratio" => Is::RatioOf,
        "+" | "plus" => Is::Plus,
        "-" | "\u{2212}" | "minus" | "less" => Is::Minus,
        "lit" => Is::Lit,
        "shadow" => Is::Shadow,
        "key" => Is::Key,
        "fill" => Is::Fill,
        _ => return None,
    })
}

fn value(text: &str) -> Option<Is> {
    // `f/8 + 1 stop` is a shift, unlike a meter's `f/8 +0.3`.
    if text.to_ascii_lowercase().contains("stop") {
        let is_plain = text.starts_with(|c: char| c.is_ascii_digit() || SIGNS.contains(&c));
        return (is_plain && notation::named_stops(text).is_some()).then_some(Is::Stops);
    }
    if notation::bare_number(text).is_some() {
        return None;
    }
    if measure::KELVINS.read(text).is_ok() {
        return Some(Is::Kelvin);
    }
    let mut kinds = notation::kinds_of(text);
    let kind = kinds.next()?;
    Some(match kind {
        Kind::FNumber => Is::FNumber,
        // `1/125` is a time beside an aperture; elsewhere the conversion says that it may be a power as well.
        Kind::ExposureTime => Is::Time,
        Kind::Iso => Is::Iso,
        Kind::GuideNumber => Is::Guide,
        Kind::Distance => Is::Distance,
        Kind::LightRatio => Is::Ratio,
        _ => Is::Other,
    })
}

/// The question in full, as it is asked from a shell.
pub fn in_full(question: &FullQuestion) -> String {
    format!("stopwright ask {} {}", question.path, arguments(&question.body).join(" "))
}

/// A request as the arguments of a command.
pub fn arguments(body: &Map<String, Json>) -> Vec<String> {
    let mut arguments = Vec::new();
    add_arguments("", body, &mut arguments);
    arguments
}

fn add_arguments(prefix: &str, fields: &Map<String, Json>, out: &mut Vec<String>) {
    for (name, value) in fields {
        let name = format!("{prefix}{name}");
        match value {
            Json::Object(inner) => add_arguments(&format!("{name}."), inner, out),
            Json::Array(items) if items.is_empty() => out.push(format!("{name}:=[]")),
            Json::Array(items) => {
                let items: Vec<&str> = items.iter().filter_map(Json::as_str).collect();
                out.push(format!("{name}={}", quoted(&items.join(","))));
            }
            Json::String(text) => out.push(format!("{name}={}", quoted(text))),
            other => out.push(format!("{name}:={other}")),
        }
    }
}

/// A text as a shell takes it.
fn quoted(text: &str) -> String {
    let is_plain = text.bytes().all(|byte| byte.is_ascii_alphanumeric() || b"./:,%+-_=".contains(&byte));
    if is_plain { text.to_owned() } else { format!("'{}'", text.replace('\'', "'\\''")) }
}

#[cfg(test)]
mod tests;
