//! API keys: the real binary with a file of keys.

use std::{fs, path::PathBuf, process::Command, time::Duration};

use crate::support::Process;

/// The SHA-256 of "abc" (published: FIPS 180-4) and of the empty text (published: NIST's example values).
const ABC: &str = "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad";
const NOTHING: &str = "e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855";

fn file(name: &str, text: &str) -> PathBuf {
    let path = PathBuf::from(env!("CARGO_TARGET_TMPDIR")).join(format!("{name}-{}", std::process::id()));
    fs::write(&path, text).expect("written");
    path
}

async fn get(url: &str, key: Option<&str>) -> reqwest::Response {
    let request = reqwest::Client::new().get(url);
    let request = match key {
        Some(key) => request.bearer_auth(key),
        None => request,
    };
    request.send().await.expect("an answer")
}

#[tokio::test]
async fn calculations_need_a_key_if_keys_are_configured() {
    let keys = file("keys", &format!("# rooms\nbooking {ABC}\n"));
    let served = Process::serve(&["--keys-file", keys.to_str().expect("a path")]);
    let convert = format!("{}/v1/stops/convert?from=f/8&to=f/11", served.url);
    let answer = get(&convert, Some("abc")).await;
    assert_eq!(answer.status(), 200);
    // A shared cache must not serve callers without a key. Open paths stay open.
    assert_eq!(answer.headers()["cache-control"], "private, max-age=86400");
    let open = get(&format!("{}/openapi.json", served.url), Some("abc")).await;
    assert_eq!(open.headers()["cache-control"], "public, max-age=86400");
    for key in [None, Some("abd"), Some("")] {
        let refused = get(&convert, key).await;
        assert_eq!(refused.status(), 401);
        assert_eq!(refused.headers()["www-authenticate"], "Bearer");
        assert_eq!(refused.headers()["content-type"], "application/problem+json");
    }
    for open in ["/", "/healthz", "/readyz", "/openapi.json", "/docs/", "/problems/unauthorized"] {
        assert_eq!(get(&format!("{}{open}", served.url), None).await.status(), 200, "{open}");
    }
    // SIGHUP reloads the keys; a broken file leaves them unchanged.
    let hang_up = || served.signal("-HUP");
    fs::write(&keys, format!("booking {NOTHING}\n")).expect("written");
    hang_up();
    until(&convert, Some("abc"), 401).await;
    // The last key can be revoked like any other.
    fs::write(&keys, format!("booking {ABC}\n")).expect("written");
    hang_up();
    until(&convert, Some("abc"), 200).await;
    fs::write(&keys, "# nobody\n").expect("written");
    hang_up();
    until(&convert, Some("abc"), 401).await;
    fs::write(&keys, "broken\n").expect("written");
    hang_up();
    tokio::time::sleep(Duration::from_millis(200)).await;
    assert_eq!(get(&convert, Some("abc")).await.status(), 401);
    assert_eq!(get(&format!("{}/healthz", served.url), None).await.status(), 200);
}

/// Waits until a call has this status.
async fn until(url: &str, key: Option<&str>, status: u16) {
    for attempt in 0.. {
        if get(url, key).await.status() == status {
            break;
        }
        assert!(attempt < 100, "not {status}");
        tokio::time::sleep(Duration::from_millis(20)).await;
    }
}

#[tokio::test]
async fn callers_are_limited_by_address_without_a_key_and_by_name_with_one() {
    // Published: NIST's example values, the SHA-256 of its two-block message.
    let long = "abcdbcdecdefdefgefghfghighijhijkijkljklmklmnlmnomnopnopq";
    let of_long = "248d6a61d20638b8e5c026930c3e6039a33ce45964ff2167f6ecedd419db06c1";
    let keys = file("counted-keys", &format!("booking {ABC}\nbooking {of_long}\n"));
    let served = Process::serve(&["--rate-limit", "1", "--keys-file", keys.to_str().expect("a path")]);
    let convert = format!("{}/v1/stops/convert?from=f/8&to=f/11", served.url);
    let mut guesses = Vec::new();
    for _ in 0..12 {
        guesses.push(get(&convert, Some("guess")).await.status().as_u16());
    }
    assert!(guesses.starts_with(&[401; 10]) && guesses.contains(&429), "{guesses:?}");
    let mut calls = Vec::new();
    for number in 0..12 {
        calls.push(get(&convert, Some(if number % 2 == 0 { "abc" } else { long })).await.status().as_u16());
    }
    assert!(calls.starts_with(&[200; 10]) && calls.contains(&429), "{calls:?}");
}

#[tokio::test]
async fn a_caller_stays_the_same_whatever_else_changes_in_the_file() {
    let keys = file("moved-keys", &format!("hall {ABC}\ndesk {NOTHING}\n"));
    let served = Process::serve(&["--rate-limit", "1", "--keys-file", keys.to_str().expect("a path")]);
    let convert = format!("{}/v1/stops/convert?from=f/8&to=f/11", served.url);
    for _ in 0..12 {
        get(&convert, Some("abc")).await;
    }
    // The key moves to another line, and another name takes its old line.
    fs::write(&keys, format!("yard {NOTHING}\nhall {ABC}\n")).expect("written");
    served.signal("-HUP");
    tokio::time::sleep(Duration::from_millis(200)).await;
    let mut statuses = Vec::new();
    for _ in 0..4 {
        statuses.push(get(&convert, Some("abc")).await.status().as_u16());
    }
    assert!(statuses.contains(&429), "{statuses:?}");
}

#[tokio::test]
async fn sighup_without_a_file_of_keys_is_ignored() {
    let mut served = Process::serve(&[]);
    served.signal("-HUP");
    let convert = format!("{}/v1/stops/convert?from=f/8&to=f/11", served.url);
    assert_eq!(get(&convert, None).await.status(), 200);
    let log = served.end();
    assert!(log.contains("WARN") && log.contains("--keys-file"), "{log}");
}

#[test]
fn a_faulty_file_of_keys_prevents_the_start() {
    let keys = file("wrong-keys", "booking abc\n");
    let output = Command::new(env!("CARGO_BIN_EXE_stopwright"))
        .args(["--listen", "127.0.0.1:0", "--keys-file", keys.to_str().expect("a path")])
        .output()
        .expect("run");
    assert_eq!(output.status.code(), Some(1));
    let log = String::from_utf8_lossy(&output.stderr);
    assert!(log.contains("line 1") && log.contains("64 hexadecimal digits"), "{log}");
}

#[test]
fn a_public_service_without_keys_is_warned_of() {
    let mut served = Process::serve(&["--listen", "0.0.0.0:0"]);
    let log = served.end();
    assert!(log.contains("WARN") && log.contains("--keys-file"), "{log}");
}
