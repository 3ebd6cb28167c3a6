//! Requests made odd: values replaced, removed, doubled, swapped, nested.

use std::{collections::BTreeMap, sync::LazyLock};

use super::{
    dice::Dice,
    json::Json,
    odd::{NUMBERS, PIECES, TEXTS, WORDS},
    schema,
};

/// Values of the examples by the name of their field.
fn stock() -> &'static BTreeMap<String, Vec<Json>> {
    fn gather(value: &Json, into: &mut BTreeMap<String, Vec<Json>>) {
        match value {
            Json::Object(entries) => {
                for (name, value) in entries {
                    into.entry(name.clone()).or_default().push(value.clone());
                    gather(value, into);
                }
            }
            Json::List(items) => items.iter().for_each(|item| gather(item, into)),
            Json::Bare(_) | Json::Text(_) => {}
        }
    }
    static STOCK: LazyLock<BTreeMap<String, Vec<Json>>> = LazyLock::new(|| {
        let mut values = BTreeMap::new();
        for (_, text) in examples() {
            gather(&text, &mut values);
        }
        values
    });
    &STOCK
}

fn name(dice: &mut Dice) -> String {
    let at = dice.below(stock().len());
    stock().keys().nth(at).cloned().unwrap_or_default()
}

/// The bodies of the document's examples, with the path under `/v1` that each is sent to.
pub fn examples() -> Vec<(String, Json)> {
    let mut all = Vec::new();
    for (path, item) in schema::document()["paths"].as_object().into_iter().flatten() {
        let content = &item["post"]["requestBody"]["content"]["application/json"];
        for example in content["examples"].as_object().into_iter().flat_map(|map| map.values()) {
            let path = path.strip_prefix("/v1/").unwrap_or(path).to_owned();
            all.extend(Json::parse(example["value"].to_string().as_bytes()).map(|json| (path, json)));
        }
    }
    all
}

/// Makes some of a request odd; every other time only different, so that the maths is reached as well.
pub fn mutate(json: &mut Json, dice: &mut Dice) {
    let change = if dice.chance(2) { once } else { mildly };
    for _ in 0..=dice.below(3) * dice.below(3) {
        let place = dice.below(json.count());
        if let Some(value) = json.nth(place) {
            change(value, dice);
        }
    }
}

/// What may well be right: another number, what another example says, one more of a list.
fn mildly(value: &mut Json, dice: &mut Dice) {
    match value {
        Json::Object(entries) if dice.chance(3) => entries.extend(schema::field_beside(entries, dice)),
        Json::Object(entries) if !entries.is_empty() => {
            let at = dice.below(entries.len());
            if let Some(value) = stock().get(&entries[at].0).and_then(|all| dice.pick(all)) {
                entries[at].1 = value.clone();
            }
        }
        Json::List(items) => {
            let place = dice.below(items.len());
            if let Some(mut twin) = items.get(place).cloned() {
                rename(&mut twin, dice);
                items.push(twin);
            }
        }
        Json::Bare(word) => {
            if let Ok(number) = word.parse::<f64>() {
                *word = format!("{:.3}", number * (0.5 + dice.part()));
            }
        }
        Json::Object(_) | Json::Text(_) => {}
    }
}

/// Gives a thing with a name another one.
fn rename(thing: &mut Json, dice: &mut Dice) {
    if let Json::Object(entries) = thing
        && let Some((_, Json::Text(name))) = entries.iter_mut().find(|(name, _)| name == "name")
    {
        name.push_str(&dice.below(100).to_string());
    }
}

fn once(value: &mut Json, dice: &mut Dice) {
    match (dice.below(12), value) {
        (0, value) => *value = Json::Bare((*dice.pick(NUMBERS).unwrap_or(&"0")).to_owned()),
        (1, value) => *value = Json::Text((*dice.pick(TEXTS).unwrap_or(&"")).to_owned()),
        (2, value) if dice.chance(6) => *value = odd(dice),
        (3, value) if dice.chance(20) => nest(value, dice),
        (_, Json::Object(entries)) => object(entries, dice),
        (_, Json::List(items)) => list(items, dice),
        (4, value) => retype(value, dice),
        (_, Json::Bare(word)) => *word = number(word, dice),
        (_, Json::Text(text)) => *text = spell(text, dice),
    }
}

fn odd(dice: &mut Dice) -> Json {
    match dice.below(4) {
        0 => Json::List(Vec::new()),
        1 => Json::Object(Vec::new()),
        // Longer than any value, and now and then than a body may be.
        2 => {
            let piece = *dice.pick(PIECES).unwrap_or(&"x");
            let times = if dice.chance(50) { 300_000 } else { 1 << dice.below(14) };
            Json::Text(piece.repeat(times))
        }
        _ => Json::Bare((*dice.pick(WORDS).unwrap_or(&"null")).to_owned()),
    }
}

/// Puts it into lists or objects, about as deep as a parser goes and deeper.
fn nest(value: &mut Json, dice: &mut Dice) {
    let depth = *dice.pick(&[1, 2, 120, 127, 128, 200]).unwrap_or(&1);
    for _ in 0..depth {
        let inner = std::mem::replace(value, Json::List(Vec::new()));
        *value = if dice.chance(2) {
            Json::List(vec![inner])
        } else {
            Json::Object(vec![("value".to_owned(), inner)])
        };
    }
}

fn object(entries: &mut Vec<(String, Json)>, dice: &mut Dice) {
    let values = stock();
    let at = dice.below(entries.len());
    match dice.below(9) {
        0 if !entries.is_empty() => {
            entries.remove(at);
        }
        1 if !entries.is_empty() => {
            let twin = entries[at].clone();
            entries.insert(dice.below(entries.len() + 1), twin);
        }
        2 if !entries.is_empty() => {
            let other = dice.below(entries.len());
            let kept = entries[at].1.clone();
            entries[at].1 = std::mem::replace(&mut entries[other].1, kept);
        }
        3 => {
            // A name of the examples where it may not belong.
            let name = name(dice);
            let value = values.get(&name).and_then(|all| dice.pick(all)).cloned();
            entries.extend(value.map(|value| (name, value)));
        }
        4 if !entries.is_empty() => entries[at].0 = name(dice),
        5 if !entries.is_empty() => entries[at].0.push_str(dice.pick(TEXTS).unwrap_or(&"x")),
        6 if !entries.is_empty() => {
            // What another example says under the same name.
            if let Some(value) = values.get(&entries[at].0).and_then(|all| dice.pick(all)) {
                entries[at].1 = value.clone();
            }
        }
        _ => entries.extend(schema::field_beside(entries, dice)),
    }
}

fn list(items: &mut Vec<Json>, dice: &mut Dice) {
    let at = dice.below(items.len());
    match dice.below(6) {
        0 if !items.is_empty() => {
            items.remove(at);
        }
        1 => items.reverse(),
        2 if !items.is_empty() => {
            // About as many as lists may have, and more.
            let times = *dice.pick(&[1, 2, 16, 31, 32, 64, 65, 256]).unwrap_or(&1);
            let twin = items[at].clone();
            items.extend(std::iter::repeat_n(twin, times));
        }
        3 if !items.is_empty() => items.swap(0, at),
        _ => {
            // One more that is nearly another: lists of things with names.
            if let Some(mut twin) = items.get(at).cloned() {
                rename(&mut twin, dice);
                let place = dice.below(twin.count());
                if let Some(value) = twin.nth(place) {
                    once(value, dice);
                }
                items.insert(at, twin);
            }
        }
    }
}

fn retype(value: &mut Json, dice: &mut Dice) {
    let inner = value.clone();
    *value = match (dice.below(3), inner) {
        (0, Json::Bare(word)) => Json::Text(word),
        (0, Json::Text(text)) => Json::Bare(text.split(' ').next().unwrap_or_default().to_owned()),
        (1, inner) => Json::List(vec![inner]),
        (_, inner) => Json::Object(vec![("value".to_owned(), inner)]),
    };
}

fn number(word: &str, dice: &mut Dice) -> String {
    let Ok(number) = word.parse::<f64>() else {
        return (*dice.pick(NUMBERS).unwrap_or(&"1")).to_owned();
    };
    match dice.below(8) {
        0 => (-number).to_string(),
        1 => number.next_up().to_string(),
        2 => number.next_down().to_string(),
        3 => (number * 10_f64.powf((dice.part() * 12.0).round() - 6.0)).to_string(),
        4 => (number + 1.0).to_string(),
        5 => (number - 1.0).to_string(),
        6 => (number * 2.0 * dice.part()).to_string(),
        _ => format!("{word}e{}{}", if dice.chance(2) { "-" } else { "" }, dice.below(350)),
    }
}

/// A text with some of it changed.
pub fn spell(text: &str, dice: &mut Dice) -> String {
    let mut letters: Vec<char> = text.chars().collect();
    for _ in 0..=dice.below(3) {
        let at = dice.below(letters.len() + 1);
        match dice.below(5) {
            0 if at < letters.len() => {
                letters.remove(at);
            }
            1 if at < letters.len() => letters.insert(at, letters[at]),
            2 => letters = dice.pick(TEXTS).map(|text| text.chars().collect()).unwrap_or_default(),
            _ => {
                let piece = *dice.pick(PIECES).unwrap_or(&"0");
                letters.splice(at..at, piece.chars());
            }
        }
    }
    letters.into_iter().collect()
}
