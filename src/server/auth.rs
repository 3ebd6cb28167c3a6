//! API keys: read from a file, and kept only as their SHA-256.

use std::{
    collections::HashSet,
    hash::{DefaultHasher, Hash, Hasher},
    sync::Arc,
};

use axum::http::{HeaderMap, header};
use sha2::{Digest, Sha256};
use subtle::{ConditionallySelectable, ConstantTimeEq};
use tokio::sync::watch;

/// The valid keys.
#[derive(Debug, Default, PartialEq, Eq)]
pub struct Keys(Vec<Key>);

#[derive(Debug, PartialEq, Eq)]
struct Key {
    holder: Holder,
    digest: [u8; 32],
}

/// The holder of a key.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Holder {
    /// The holder's name in the file.
    pub name: Arc<str>,
    /// A hash of the name: all keys of a name are one caller, also after a reload.
    pub number: u64,
}

/// The current keys, as the last reload left them. `None`: no key is needed.
pub type CurrentKeys = watch::Receiver<Option<Arc<Keys>>>;

/// No keys: open to all.
pub fn open_to_all() -> CurrentKeys {
    watch::channel(None).1
}

impl Keys {
    /// Parses a keys file: on each line a name and the SHA-256 of a key in hexadecimal. Blank lines and lines that
    /// begin with `#` are skipped. A name may have several keys, such as an old one beside a new one. With no key at
    /// all, nobody may call. An error names its line.
    pub fn read(text: &str) -> Result<Self, String> {
        let mut keys: Vec<Key> = Vec::new();
        // Some editors put a byte order mark before a text; it is not part of the first name.
        let text = text.strip_prefix('\u{feff}').unwrap_or(text);
        for (index, line) in text.lines().enumerate() {
            let line = line.trim();
            if line.is_empty() || line.starts_with('#') {
                continue;
            }
            let error = |what: &str| format!("line {}: {what}", index + 1);
            let mut words = line.split_whitespace();
            let (Some(name), Some(digest), None) = (words.next(), words.next(), words.next()) else {
                return Err(error("a name and the SHA-256 of a key are expected"));
            };
            let Some(digest) = parse_digest(digest) else {
                return Err(error("the SHA-256 of a key has 64 hexadecimal digits"));
            };
            if keys.iter().any(|key| key.digest == digest) {
                return Err(error("the key is there before"));
            }
            let mut hasher = DefaultHasher::new();
            name.hash(&mut hasher);
            let holder = Holder { name: name.into(), number: hasher.finish() };
            keys.push(Key { holder, digest });
        }
        Ok(Self(keys))
    }

    /// The number of keys.
    pub fn count(&self) -> usize {
        self.0.len()
    }

    /// The names of the holders.
    pub fn names(&self) -> HashSet<Arc<str>> {
        self.0.iter().map(|key| Arc::clone(&key.holder.name)).collect()
    }

    /// The holder of the key that a request sends as `Authorization: Bearer KEY`. Compares with every key, each in
    /// constant time.
    pub fn authenticate(&self, headers: &HeaderMap) -> Option<&Holder> {
        let given = headers.get(header::AUTHORIZATION).and_then(|value| value.to_str().ok());
        let (scheme, key) = given?.split_once(' ')?;
        if !scheme.eq_ignore_ascii_case("bearer") {
            return None;
        }
        let digest = Sha256::digest(key.trim().as_bytes());
        // Positions count from 1; 0 means no match.
        let found = self.0.iter().zip(1_u32..).fold(0, |found, (key, position)| {
            u32::conditional_select(&found, &position, key.digest.ct_eq(digest.as_slice()))
        });
        self.0.get(found.checked_sub(1)? as usize).map(|key| &key.holder)
    }
}

fn parse_digest(text: &str) -> Option<[u8; 32]> {
    let mut digest = [0; 32];
    if text.len() != 64 || !text.bytes().all(|byte| byte.is_ascii_hexdigit()) {
        return None;
    }
    for (index, byte) in digest.iter_mut().enumerate() {
        *byte = u8::from_str_radix(&text[2 * index..2 * index + 2], 16).ok()?;
    }
    Some(digest)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_name_may_have_an_old_key_beside_a_new() {
        // Published: FIPS 180-4, the SHA-256 of "abc"; NIST's example values, that of the empty text.
        let text = "hall ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad\n".to_owned()
            + "desk 0000000000000000000000000000000000000000000000000000000000000000\n"
            + "hall e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855\n";
        let keys = Keys::read(&text);
        let mut numbers = Vec::new();
        for key in ["Bearer abc", "Bearer "] {
            let mut headers = HeaderMap::new();
            headers.extend(key.parse().ok().map(|value| (header::AUTHORIZATION, value)));
            let holder = keys.as_ref().ok().and_then(|keys| keys.authenticate(&headers));
            assert_eq!(holder.map(|holder| &*holder.name), Some("hall"), "{key}");
            numbers.extend(holder.map(|holder| holder.number));
        }
        assert!(numbers.len() == 2 && numbers[0] == numbers[1], "one caller");
    }

    #[test]
    fn a_byte_order_mark_is_not_part_of_the_first_name() {
        let line = "hall ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad\n";
        assert_eq!(Keys::read(&format!("\u{feff}{line}")), Keys::read(line));
    }

    #[test]
    fn a_keys_file_is_read_line_by_line() {
        // Published: FIPS 180-4, the SHA-256 of "abc".
        let abc = "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad";
        let keys = Keys::read(&format!("# booking\n\nrooms {abc}\n"));
        let is_accepted = |value: &str| {
            let mut headers = HeaderMap::new();
            headers.extend(value.parse().ok().map(|value| (header::AUTHORIZATION, value)));
            keys.as_ref()
                .is_ok_and(|keys| keys.authenticate(&headers).is_some_and(|holder| &*holder.name == "rooms"))
        };
        assert!(is_accepted("Bearer abc") && is_accepted("bearer abc"));
        for wrong in ["Bearer abd", "Bearer", "abc", "Basic abc", "Bearer abc abc", ""] {
            assert!(!is_accepted(wrong), "{wrong}");
        }
        for (text, expected) in [
            ("rooms", "line 1"),
            (&format!("a {abc}\nb"), "line 2"),
            (&format!("a {abc}\nb {abc}"), "line 2"),
            (&format!("a {abc}0"), "64"),
            (&format!("a {}+f", &abc[2..]), "64"),
        ] {
            assert!(Keys::read(text).is_err_and(|error| error.contains(expected)), "{text}");
        }
    }
}
