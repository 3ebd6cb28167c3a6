//! Who may call: the real binary with a file of keys.

use std::{
    fs,
    io::{BufRead, BufReader, Read},
    path::PathBuf,
    process::{Child, Command, Stdio},
    time::Duration,
};

/// The SHA-256 of "abc" (published: FIPS 180-4) and of the empty text (published: NIST's example values).
const ABC: &str = "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad";
const NOTHING: &str = "e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855";

fn file(name: &str, text: &str) -> PathBuf {
    let path = PathBuf::from(env!("CARGO_TARGET_TMPDIR")).join(format!("{name}-{}", std::process::id()));
    fs::write(&path, text).expect("written");
    path
}

struct Served {
    process: Child,
    url: String,
}

impl Drop for Served {
    fn drop(&mut self) {
        let _ = self.process.kill();
        let _ = self.process.wait();
    }
}

fn serve(arguments: &[&str]) -> Served {
    let mut process = Command::new(env!("CARGO_BIN_EXE_stopwright"))
        .args(arguments)
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .expect("run");
    let mut line = String::new();
    BufReader::new(process.stdout.as_mut().expect("output")).read_line(&mut line).expect("a line");
    let url = line.trim().strip_prefix("listening on ").unwrap_or_else(|| panic!("{line}")).to_owned();
    Served { process, url }
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
async fn calculations_want_a_key_where_keys_are_set() {
    let keys = file("keys", &format!("# rooms\nbooking {ABC}\n"));
    let served = serve(&["--listen", "127.0.0.1:0", "--keys-file", keys.to_str().expect("a path")]);
    let convert = format!("{}/v1/stops/convert?from=f/8&to=f/11", served.url);
    assert_eq!(get(&convert, Some("abc")).await.status(), 200);
    for key in [None, Some("abd"), Some("")] {
        let refused = get(&convert, key).await;
        assert_eq!(refused.status(), 401);
        assert_eq!(refused.headers()["www-authenticate"], "Bearer");
        assert_eq!(refused.headers()["content-type"], "application/problem+json");
    }
    for open in ["/", "/healthz", "/readyz", "/openapi.json", "/docs/", "/problems/unauthorized"] {
        assert_eq!(get(&format!("{}{open}", served.url), None).await.status(), 200, "{open}");
    }
    // New keys on SIGHUP; a broken file leaves them as they are.
    let hang_up = || {
        let told =
            Command::new("kill").args(["-HUP", &served.process.id().to_string()]).status().expect("run");
        assert!(told.success());
    };
    fs::write(&keys, format!("booking {NOTHING}\n")).expect("written");
    hang_up();
    for attempt in 0.. {
        if get(&convert, Some("abc")).await.status() == 401 {
            break;
        }
        assert!(attempt < 100, "the old key is still taken");
        tokio::time::sleep(Duration::from_millis(20)).await;
    }
    fs::write(&keys, "broken\n").expect("written");
    hang_up();
    tokio::time::sleep(Duration::from_millis(200)).await;
    assert_eq!(get(&convert, Some("abc")).await.status(), 401);
    assert_eq!(get(&format!("{}/healthz", served.url), None).await.status(), 200);
}

#[test]
fn a_file_of_keys_that_is_wrong_ends_the_start() {
    let keys = file("wrong-keys", "booking abc\n");
    let output = Command::new(env!("CARGO_BIN_EXE_stopwright"))
        .args(["--listen", "127.0.0.1:0", "--keys-file", keys.to_str().expect("a path")])
        .output()
        .expect("run");
    assert_eq!(output.status.code(), Some(1));
    let told = String::from_utf8_lossy(&output.stderr);
    assert!(told.contains("line 1") && told.contains("64 hexadecimal digits"), "{told}");
}

#[test]
fn a_service_open_to_all_the_world_is_warned_of() {
    let mut served = serve(&["--listen", "0.0.0.0:0"]);
    served.process.kill().expect("killed");
    let mut told = String::new();
    served.process.stderr.take().expect("errors").read_to_string(&mut told).expect("read");
    assert!(told.contains("WARN") && told.contains("--keys-file"), "{told}");
}
