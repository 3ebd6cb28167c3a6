//! What a version promises: the document breaks nothing that a released one had, the versions agree, and a retirement is
//! announced. `versions/breaks.rs` finds breaks, with a case of each kind.

mod breaks;
mod cases;

use std::{fs, path::PathBuf};

use serde_json::Value;
use stopwright::server::{retirement::Retirement, state::Config};

use self::breaks::breaks;
use crate::support::{Server, document};

fn file(name: &str) -> PathBuf {
    PathBuf::from(env!("CARGO_MANIFEST_DIR")).join(name)
}

/// Released documents, by version.
fn released() -> Vec<(String, Value)> {
    let files = fs::read_dir(file("openapi/released")).into_iter().flatten();
    files
        .map(|entry| {
            let path = entry.expect("a file").path();
            let version = path.file_stem().expect("a name").to_string_lossy().into_owned();
            let text = fs::read_to_string(&path).expect("a document");
            (version, serde_json::from_str(&text).expect("JSON"))
        })
        .collect()
}

/// What breaks the form of a released answer, but no answer: only requests that the release refused are answered so.
const ONLY_FOR_NEW_REQUESTS: [&str; 16] = [
    // No exposure is stated.
    "POST /v1/energy/equivalence 200/candidates/[]/full_power_f_number: may be of type \"null\" now",
    // No speed, no duration or no size of a pixel is stated.
    "POST /v1/motion/freeze 200/blur_m: may be left out now",
    "POST /v1/motion/freeze 200/blur_px: may be left out now",
    "POST /v1/motion/freeze 200/bounded_by: may be left out now",
    "POST /v1/motion/freeze 200/fastest_subject_m_s: may be left out now",
    "POST /v1/motion/freeze 200/sharp: may be left out now",
    "POST /v1/motion/freeze 200/t0_1_s: may be left out now",
    "POST /v1/motion/freeze 200/t0_5_s: may be left out now",
    "POST /v1/motion/freeze 200/by_setting/[]/blur_m: may be left out now",
    "POST /v1/motion/freeze 200/by_setting/[]/blur_px: may be left out now",
    "POST /v1/motion/freeze 200/by_setting/[]/fastest_subject_m_s: may be left out now",
    "POST /v1/motion/freeze 200/by_setting/[]/sharp: may be left out now",
    "POST /v1/motion/freeze 200/ghost/length_px: may be left out now",
    // The unit of an answer has the schema of a request, which takes a text as well; the answer is an object.
    "POST /v1/units/calibrate 200/unit/guide_number: may be of type \"string\" now",
    // The same for a table by zoom.
    "POST /v1/units/calibrate 200/unit/guide_number/value: is gone",
    "POST /v1/units/calibrate 200/unit/guide_number/value: may be left out now",
];

#[test]
fn the_document_breaks_nothing_that_was_released() {
    let released = released();
    assert!(!released.is_empty(), "openapi/released is empty; DEVELOPERS.md says how a release is made");
    for (version, old) in released {
        assert_eq!(old["info"]["version"], version, "the name of the file");
        let mut found = breaks(&old, document());
        found.retain(|one| !ONLY_FOR_NEW_REQUESTS.contains(&one.as_str()));
        assert!(found.is_empty(), "breaks clients of {version}:\n{}", found.join("\n"));
    }
}

#[test]
fn the_changelog_begins_with_this_version() {
    let version = env!("CARGO_PKG_VERSION");
    assert_eq!(document()["info"]["version"], version);
    let changelog = fs::read_to_string(file("CHANGELOG.md")).expect("CHANGELOG.md");
    let newest = changelog.lines().find_map(|line| line.strip_prefix("## ")).expect("a version");
    assert!(newest.starts_with(version), "{newest}");
}

#[tokio::test]
async fn a_retirement_is_announced_on_its_path_alone() {
    let retirements = &[Retirement {
        path: "/v1/marks",
        deprecation: "@1893456000",
        sunset: "Tue, 31 Dec 2030 23:59:59 GMT",
        link: "https://set.example/versions#marks",
    }];
    let server = Server::on(Config { retirements, ..Config::default() }).await;
    for (path, status) in [("/v1/marks/iso", 200), ("/v1/marks/energy", 404)] {
        let answer = server.get(path).await;
        assert_eq!(answer.status, status);
        // Published: RFC 9745, 2.1 (a date of structured fields) and 3; RFC 8594, 3 and 6.
        assert_eq!(answer.header("deprecation"), "@1893456000");
        assert_eq!(answer.header("sunset"), "Tue, 31 Dec 2030 23:59:59 GMT");
        let links: Vec<_> = answer.headers.get_all("link").iter().collect();
        assert_eq!(
            links,
            [
                "<https://set.example/versions#marks>; rel=\"deprecation\"",
                "<https://set.example/versions#marks>; rel=\"sunset\""
            ]
        );
    }
    for path in ["/v1/modifiers", "/v1/marksmen", "/"] {
        assert!(!server.get(path).await.headers.contains_key("deprecation"), "{path}");
    }
    let product = Server::start().await;
    assert!(!product.get("/v1/marks/iso").await.headers.contains_key("deprecation"));
}
