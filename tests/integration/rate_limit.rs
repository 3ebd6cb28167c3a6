//! Rate limits.

use std::{num::NonZeroU32, sync::Arc, time::Duration};

use reqwest::{Method, header::HeaderValue};
use stopwright::server::{client_ip::Proxies, rate_limit::Rate, state::Config};

use crate::support::{Answer, Process, Server};

const CONVERT: &str = "/v1/stops/convert?from=f/8&to=f/11";

async fn server(trusted: bool) -> Server {
    let proxies = if trusted { vec!["127.0.0.0/8".parse().expect("a network")] } else { Vec::new() };
    let rate = Some(Arc::new(Rate::per_second(NonZeroU32::MIN)));
    Server::on(Config { rate, proxies: Proxies::new(proxies), ..Config::default() }).await
}

async fn ask(server: &Server, forwarded_for: &str) -> Answer {
    server.send(server.request(Method::GET, CONVERT).header("x-forwarded-for", forwarded_for)).await
}

#[tokio::test]
async fn a_caller_over_the_limit_gets_retry_after() {
    let server = server(false).await;
    for left in (0..10).rev() {
        // No trusted proxy sent this header, so it is ignored.
        let answer = ask(&server, &format!("198.51.100.{left}")).await;
        assert_eq!(answer.status, 200, "{left}");
        // Published: draft-ietf-httpapi-ratelimit-headers-10: q and w of the policy, r and t of the remaining quota.
        assert_eq!(answer.header("ratelimit-policy"), "\"calls\";q=10;w=10");
        assert_eq!(answer.header("ratelimit"), format!("\"calls\";r={left};t={}", 10 - left));
    }
    let refused = ask(&server, "198.51.100.99").await;
    assert_eq!(refused.status, 429);
    assert_eq!(refused.body["type"], "/problems/too-many-requests");
    assert_eq!(refused.header("retry-after"), "1");
    assert_eq!(refused.header("ratelimit-policy"), "\"calls\";q=10;w=10");
    assert_eq!(refused.header("ratelimit"), "\"calls\";r=0;t=10");
    // Only calculations count.
    for path in ["/healthz", "/readyz", "/", "/problems/too-many-requests", "/openapi.json"] {
        assert_eq!(server.get(path).await.status, 200, "{path}");
    }
    tokio::time::sleep(Duration::from_millis(1100)).await;
    assert_eq!(ask(&server, "198.51.100.99").await.status, 200);
}

#[tokio::test]
async fn behind_a_trusted_proxy_each_client_has_its_own_quota() {
    let server = server(true).await;
    for _ in 0..10 {
        assert_eq!(ask(&server, "198.51.100.1").await.status, 200);
    }
    assert_eq!(ask(&server, "198.51.100.1").await.status, 429);
    assert_eq!(ask(&server, "203.0.113.9, 198.51.100.1").await.status, 429, "made up by the caller");
    assert_eq!(ask(&server, "198.51.100.2").await.status, 200);
    for host in 0..10 {
        assert_eq!(ask(&server, &format!("2001:db8::{host}")).await.status, 200);
    }
    assert_eq!(ask(&server, "2001:db8::ffff").await.status, 429, "one network of version 6 is one caller");
}

#[tokio::test]
async fn invalid_bytes_in_the_header_give_no_second_quota() {
    let server = server(true).await;
    let ask = async |forwarded_for: &[u8]| {
        let value = HeaderValue::from_bytes(forwarded_for).expect("a value");
        server.send(server.request(Method::GET, CONVERT).header("x-forwarded-for", value)).await.status
    };
    for _ in 0..10 {
        assert_eq!(ask(b"198.51.100.1").await, 200);
    }
    // The client's own bytes, then what the proxy added.
    assert_eq!(ask(b"\xff, 198.51.100.1").await, 429);
    assert_eq!(ask(b"\xff, 198.51.100.2").await, 200);
}

#[tokio::test]
async fn without_a_limit_there_are_no_rate_headers() {
    let server = Server::start().await;
    let answer = ask(&server, "198.51.100.1").await;
    assert_eq!(answer.status, 200);
    assert!(!answer.headers.contains_key("ratelimit") && !answer.headers.contains_key("ratelimit-policy"));
}

#[tokio::test]
async fn the_binary_takes_its_limits_by_flags() {
    let served = Process::serve(&["--rate-limit", "1", "--trusted-proxies", "127.0.0.1, 10.0.0.0/8"]);
    let client = reqwest::Client::new();
    let ask = async |from: &str| {
        let request = client.get(format!("{}{CONVERT}", served.url)).header("x-forwarded-for", from);
        request.send().await.expect("an answer").status().as_u16()
    };
    let mut statuses = Vec::new();
    for _ in 0..12 {
        statuses.push(ask("198.51.100.1").await);
    }
    assert!(statuses.starts_with(&[200; 10]) && statuses.contains(&429), "{statuses:?}");
    assert_eq!(ask("198.51.100.2").await, 200);
    for wrong in [
        ["--rate-limit", "0"],
        ["--trusted-proxies", "nowhere"],
        ["--cors-origin", "set.example"],
        ["--max-connections", "0"],
        ["--keys-file", "/nowhere/keys"],
        ["--metrics-listen", "192.0.2.1:1"],
    ] {
        let output = std::process::Command::new(env!("CARGO_BIN_EXE_stopwright"))
            .args(["serve", "--listen", "127.0.0.1:0"])
            .args(wrong)
            .output()
            .expect("run");
        assert!(!output.status.success(), "{wrong:?}");
        // The error names the flag, and nothing is started.
        assert!(String::from_utf8_lossy(&output.stderr).contains(wrong[0]), "{wrong:?}: {output:?}");
        assert!(output.stdout.is_empty());
    }
}
