//! Slow calculations take turns: between callers, and between connections of one caller. Times are compared within a
//! run, because the machine may be busy.

use std::{
    fs,
    path::PathBuf,
    time::{Duration, Instant},
};

use reqwest::{Client, Method};
use serde_json::{Value, json};
use stopwright::server::{client_ip::Proxies, state::Config, worker_pool::workers};
use tokio::{
    sync::mpsc::unbounded_channel,
    task::JoinSet,
    time::{sleep, timeout},
};

use crate::{
    balance::three_lights,
    limits::occupied,
    support::{Process, Server, heavy, heavy_of},
};

const BALANCE: &str = "/v1/ratios/balance";
/// Addresses reserved for documentation (RFC 5737).
const GREEDY: &str = "198.51.100.1";
const OTHER: &str = "198.51.100.2";

/// A server that trusts the forwarded address.
async fn server() -> Server {
    let proxies = Proxies::new(vec!["127.0.0.0/8".parse().expect("a network")]);
    Server::on(Config { proxies, ..Config::default() }).await
}

fn median(mut times: Vec<Duration>) -> Duration {
    times.sort();
    times[times.len() / 2]
}

/// Sends requests one after another on a new connection. Returns how long each took.
async fn ask_often(url: String, from: &'static str, body: Value, count: usize) -> Vec<Duration> {
    let client = Client::new();
    let mut took = Vec::new();
    for _ in 0..count {
        let begun = Instant::now();
        let answer = client.post(&url).header("x-forwarded-for", from).json(&body).send().await;
        let answer = answer.expect("an answer");
        assert_eq!(answer.status(), 200);
        let text = answer.text().await.expect("a body");
        assert!(!text.contains("\"status\":503"), "{text}");
        took.push(begun.elapsed());
    }
    took
}

/// Sends small balances while three connections send slow requests, and compares their medians.
async fn small_beside_large(path: &str, large: Value) {
    let server = server().await;
    let url = format!("{}{path}", server.url);
    let mut larges = JoinSet::new();
    // More than the workers, so that two wait for a turn.
    for _ in 0..workers() + 2 {
        larges.spawn(ask_often(url.clone(), GREEDY, large.clone(), 2));
    }
    let all_have_begun = async {
        while server.workers.counts() != [workers(), 2] {
            sleep(Duration::from_millis(10)).await;
        }
    };
    timeout(Duration::from_secs(60), all_have_begun).await.expect("all have begun");
    let small = |from| ask_often(format!("{}{BALANCE}", server.url), from, three_lights(), 7);
    let (same, other) = (small(GREEDY).await, small(OTHER).await);
    assert!(larges.try_join_next().is_none(), "a large one ended too early to be in the way");
    let large = median(larges.join_all().await.concat());
    // A search without a proof uses four fifths of its two seconds.
    assert!(large > Duration::from_millis(1600), "{large:?} is too quick to be in the way");
    for (from, small) in [("the same address", median(same)), ("another address", median(other))] {
        // If it waited for one of them to end, it would take as long. How long it takes on an idle machine is measured
        // by benches/load/turns.rs.
        assert!(small * 3 < large, "{small:?} from {from} beside {large:?}");
    }
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_small_balance_runs_between_turns_of_large_ones() {
    small_beside_large(BALANCE, heavy_of(32, 64, 2000)).await;
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_large_balance_in_a_batch_takes_turns_as_well() {
    let item = json!({"path": BALANCE, "body": heavy(2000)});
    small_beside_large("/v1/batch", json!({"requests": [item]})).await;
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_caller_with_much_recent_use_waits_behind_a_newcomer() {
    let server = server().await;
    ask_often(format!("{}{BALANCE}", server.url), GREEDY, heavy(1000), 1).await;
    let mut held = occupied(&server).await;
    let (sender, mut answers) = unbounded_channel();
    for (place, from) in [GREEDY, GREEDY, OTHER].into_iter().enumerate() {
        let request = server.request(Method::POST, BALANCE).header("x-forwarded-for", from);
        let (request, sender) = (request.json(&heavy(100)), sender.clone());
        tokio::spawn(async move {
            assert_eq!(request.send().await.expect("an answer").status(), 200);
            sender.send(from).expect("heard");
        });
        while server.workers.counts()[1] <= place {
            sleep(Duration::from_millis(5)).await;
        }
    }
    // There is one worker, and this caller came last. At most one job goes before it, if that has its turn by waiting
    // time.
    held.pop();
    let mut order = Vec::new();
    for _ in 0..3 {
        order.extend(answers.recv().await);
    }
    assert_eq!(order.last(), Some(&GREEDY), "{order:?}");
}

#[tokio::test]
async fn a_key_with_much_recent_use_waits_behind_another_key_at_the_same_address() {
    // Published: FIPS 180-4, the SHA-256 of "abc"; that of "def" as sha256sum computes it.
    let keys = "greedy ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad\n\
                other cb8379ac2098aa165029e3938a51da0bcecfc008fd6795f401178647f96c5b34\n";
    let path = PathBuf::from(env!("CARGO_TARGET_TMPDIR")).join(format!("turns-{}", std::process::id()));
    fs::write(&path, keys).expect("written");
    let served = Process::serve(&["--keys-file", path.to_str().expect("a path")]);
    let ask = |key: &str, body: Value| {
        let request = Client::new().post(format!("{}{BALANCE}", served.url)).bearer_auth(key).json(&body);
        async move {
            let begun = Instant::now();
            assert_eq!(request.send().await.expect("an answer").status(), 200);
            begun.elapsed()
        }
    };
    // More than the workers, so that they must share with the other key.
    let mut greedy = JoinSet::new();
    for _ in 0..workers() + 2 {
        greedy.spawn(ask("abc", heavy(2000)));
    }
    sleep(Duration::from_millis(500)).await;
    let mut other = Vec::new();
    for _ in 0..5 {
        other.push(ask("def", three_lights()).await);
    }
    let (other, greedy) = (median(other), median(greedy.join_all().await));
    assert!(other * 3 < greedy, "{other:?} beside {greedy:?}");
}
