//! Tests of problem documents.

use serde_json::json;

use super::*;

fn body(problem: &Problem) -> Vec<u8> {
    let response = problem.to_response(HeaderMap::new(), &HeaderValue::from_static("id"), None);
    let body = axum::body::to_bytes(response.into_body(), usize::MAX);
    futures_util::FutureExt::now_or_never(body).expect("ready").expect("bytes").to_vec()
}

#[test]
fn no_document_is_larger_than_64_kib() {
    for text in ["plain", "\u{1}", "\"", "\u{1f4a1}", "~", "/"] {
        for (long, count) in [(0, 5000), (20, 5000), (100_000, 99), (100_000, 1)] {
            let text = text.repeat(long);
            let pointer = format!("/{}", text.replace('~', "~0").replace('/', "~1"));
            let params = json!({"name": text, "known": vec![text.as_str(); 32], "most": 1.234_567e-8});
            let params = params.as_object().expect("an object").clone();
            let error = LocatedError::new(&pointer, "a_code_of_a_usual_length", [&text, &text], params);
            let first: Vec<_> = std::iter::repeat_n(error, count.min(LISTED)).collect();
            let problem = Problem::from(Refused { more: count - first.len(), first });
            for document in [body(&problem), problem.document(&"x".repeat(64))] {
                assert!(document.len() <= MAX_DOCUMENT_BYTES, "{} of {count}", document.len());
                let parsed: serde_json::Value = serde_json::from_slice(&document).expect("JSON");
                let listed = parsed["errors"].as_array().expect("a list").len();
                let pointer = parsed["errors"][0]["pointer"].as_str().expect("text");
                assert!(pointer.split('~').skip(1).all(|after| after.starts_with(['0', '1'])), "{pointer}");
                assert!((count.min(33)..=100).contains(&listed), "{listed} of {count}");
                let more = parsed.get("more_errors").map_or(0, |more| more.as_u64().expect("a number"));
                assert_eq!(listed + more as usize, count);
                assert_eq!(parsed.get("more_errors").is_some(), more > 0);
            }
        }
    }
}
