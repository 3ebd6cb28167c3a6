//! Who may call: keys of which only the SHA-256 is kept.

use std::{
    collections::HashSet,
    hash::{DefaultHasher, Hash, Hasher},
    sync::Arc,
};

use axum::http::{HeaderMap, header};
use sha2::{Digest, Sha256};
use subtle::{ConditionallySelectable, ConstantTimeEq};
use tokio::sync::watch;

/// The keys that are taken.
#[derive(Debug, Default, PartialEq, Eq)]
pub struct Keys(Vec<Key>);

#[derive(Debug, PartialEq, Eq)]
struct Key {
    holder: Holder,
    digest: [u8; 32],
}

/// Who has a key.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Holder {
    /// The name in the file.
    pub name: Arc<str>,
    /// The same as a number, whatever else is in the file: all keys of a name are one caller.
    pub number: u64,
}

/// The keys as they are now; none: all may call.
pub type Gate = watch::Receiver<Option<Arc<Keys>>>;

/// A gate that is open to all.
pub fn open() -> Gate {
    watch::channel(None).1
}

impl Keys {
    /// Reads a file of keys: a name and the SHA-256 of a key in hexadecimal on each line; blank lines and those that
    /// begin with `#` are passed over. A name may have several keys, an old one beside a new; with no key at all, nobody
    /// may call. An error says its line.
    pub fn read(text: &str) -> Result<Self, String> {
        let mut keys: Vec<Key> = Vec::new();
        // Some editors put a byte order mark before a text; it is none of the first name.
        let text = text.strip_prefix('\u{feff}').unwrap_or(text);
        for (index, line) in text.lines().enumerate() {
            let line = line.trim();
            if line.is_empty() || line.starts_with('#') {
                continue;
            }
            let wrong = |what: &str| format!("line {}: {what}", index + 1);
            let mut words = line.split_whitespace();
            let (Some(name), Some(digest), None) = (words.next(), words.next(), words.next()) else {
                return Err(wrong("a name and the SHA-256 of a key are expected"));
            };
            let Some(digest) = digest_of(digest) else {
                return Err(wrong("the SHA-256 of a key has 64 hexadecimal digits"));
            };
            if keys.iter().any(|key| key.digest == digest) {
                return Err(wrong("the key is there before"));
            }
            let mut hasher = DefaultHasher::new();
            name.hash(&mut hasher);
            let holder = Holder { name: name.into(), number: hasher.finish() };
            keys.push(Key { holder, digest });
        }
        Ok(Self(keys))
    }

    /// How many keys there are.
    pub fn count(&self) -> usize {
        self.0.len()
    }

    /// The names of those who have one.
    pub fn names(&self) -> HashSet<Arc<str>> {
        self.0.iter().map(|key| Arc::clone(&key.holder.name)).collect()
    }

    /// Whose key a request carries as `Authorization: Bearer KEY`. Every key is compared, each in constant time.
    pub fn admit(&self, headers: &HeaderMap) -> Option<&Holder> {
        let given = headers.get(header::AUTHORIZATION).and_then(|value| value.to_str().ok());
        let (scheme, key) = given?.split_once(' ')?;
        if !scheme.eq_ignore_ascii_case("bearer") {
            return None;
        }
        let digest = Sha256::digest(key.trim().as_bytes());
        // Places count from 1 on; 0 is none.
        let found = self.0.iter().zip(1_u32..).fold(0, |found, (key, place)| {
            u32::conditional_select(&found, &place, key.digest.ct_eq(digest.as_slice()))
        });
        self.0.get(found.checked_sub(1)? as usize).map(|key| &key.holder)
    }
}

fn digest_of(text: &str) -> Option<[u8; 32]> {
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
            let holder = keys.as_ref().ok().and_then(|keys| keys.admit(&headers));
            assert_eq!(holder.map(|holder| &*holder.name), Some("hall"), "{key}");
            numbers.extend(holder.map(|holder| holder.number));
        }
        assert!(numbers.len() == 2 && numbers[0] == numbers[1], "one caller");
    }

    #[test]
    fn a_byte_order_mark_does_not_make_another_caller_of_the_first_key() {
        let line = "hall ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad\n";
        assert_eq!(Keys::read(&format!("\u{feff}{line}")), Keys::read(line));
    }

    #[test]
    fn a_file_of_keys_is_read_line_by_line() {
        // Published: FIPS 180-4, the SHA-256 of "abc".
        let abc = "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad";
        let keys = Keys::read(&format!("# booking\n\nrooms {abc}\n"));
        let with = |value: &str| {
            let mut headers = HeaderMap::new();
            headers.extend(value.parse().ok().map(|value| (header::AUTHORIZATION, value)));
            keys.as_ref()
                .is_ok_and(|keys| keys.admit(&headers).is_some_and(|holder| &*holder.name == "rooms"))
        };
        assert!(with("Bearer abc") && with("bearer abc"));
        for wrong in ["Bearer abd", "Bearer", "abc", "Basic abc", "Bearer abc abc", ""] {
            assert!(!with(wrong), "{wrong}");
        }
        for (text, told) in [
            ("rooms", "line 1"),
            (&format!("a {abc}\nb"), "line 2"),
            (&format!("a {abc}\nb {abc}"), "line 2"),
            (&format!("a {abc}0"), "64"),
            (&format!("a {}+f", &abc[2..]), "64"),
        ] {
            assert!(Keys::read(text).is_err_and(|error| error.contains(told)), "{text}");
        }
    }
}
