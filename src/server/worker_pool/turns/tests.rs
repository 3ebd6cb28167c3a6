use std::{net::IpAddr, sync::Arc};

use crate::server::worker_pool::{caller_info::Connection, turns::*};

const TURN: Duration = Duration::from_millis(50);

/// A queue with a clock that tests move by hand. A job's waker is its name.
struct Queue {
    turns: Turns<&'static str>,
    now: Instant,
}

impl Queue {
    fn new(workers: usize, threads: usize, requests: usize) -> Self {
        Self { turns: Turns::new(Limits { workers, threads, requests }), now: Instant::now() }
    }

    /// Admits a job and queues it for its first turn.
    fn admit(&mut self, client: &CallerInfo, name: &'static str) -> JobId {
        let id = self.turns.admit(client.clone(), JobKind::Request, self.now);
        self.turns.enqueue(id, name, self.now);
        // No two jobs wait equally long.
        self.now += Duration::from_micros(1);
        id
    }

    fn next(&mut self) -> Option<&'static str> {
        self.turns.next(self.now).map(|granted| granted.waker)
    }

    /// Runs a job of one turn, alone.
    fn run_turn(&mut self, client: &CallerInfo, took: Duration) {
        let id = self.admit(client, "warming up");
        assert_eq!(self.next(), Some("warming up"));
        self.end_turn(client, took);
        self.turns.remove(id);
    }

    fn end_turn(&mut self, client: &CallerInfo, took: Duration) {
        self.now += took;
        self.turns.end_turn(client, took, self.now);
    }
}

fn address(number: u32) -> Caller {
    Caller::Address(IpAddr::V4(number.into()))
}

fn client(number: u32) -> CallerInfo {
    CallerInfo { caller: address(number), connection: Arc::default() }
}

/// The same caller on another connection.
fn on_new_connection(client: &CallerInfo) -> CallerInfo {
    CallerInfo { caller: client.caller, connection: Arc::<Connection>::default() }
}

#[test]
fn a_newcomer_goes_before_a_caller_with_much_recent_use() {
    let mut queue = Queue::new(1, 64, 128);
    let (greedy, newcomer) = (client(1), client(2));
    queue.run_turn(&greedy, Duration::from_secs(3));
    queue.admit(&greedy, "greedy");
    queue.admit(&newcomer, "newcomer");
    assert_eq!(queue.next(), Some("newcomer"));
    assert_eq!(queue.next(), None, "there is one worker");
    queue.end_turn(&newcomer, TURN);
    assert_eq!(queue.next(), Some("greedy"));
}

#[test]
fn use_long_ago_counts_little() {
    let mut queue = Queue::new(1, 64, 128);
    let (earlier, recent) = (client(1), client(2));
    queue.run_turn(&earlier, Duration::from_secs(4));
    queue.now += Duration::from_secs(40);
    queue.run_turn(&recent, Duration::from_secs(1));
    // After 40 s a sixteenth of four seconds is left, which is less than one.
    queue.admit(&recent, "recent");
    queue.admit(&earlier, "earlier");
    assert_eq!(queue.next(), Some("earlier"));
}

#[test]
fn the_less_used_of_one_callers_connections_goes_first() {
    let mut queue = Queue::new(1, 64, 128);
    let busy = client(1);
    let fresh = on_new_connection(&busy);
    queue.run_turn(&busy, Duration::from_secs(1));
    queue.admit(&busy, "busy");
    queue.admit(&fresh, "fresh");
    assert_eq!(queue.next(), Some("fresh"));
}

#[test]
fn callers_share_evenly_however_many_jobs_each_has() {
    let mut queue = Queue::new(1, 64, 128);
    // One caller has one job, the other has four, each on a connection of its own.
    let other = client(2);
    let clients = [
        client(1),
        on_new_connection(&other),
        on_new_connection(&other),
        on_new_connection(&other),
        on_new_connection(&other),
    ];
    let names = ["single", "a", "b", "c", "d"];
    let ids: Vec<_> = clients.iter().zip(names).map(|(client, name)| queue.admit(client, name)).collect();
    let mut turns = [0; 5];
    for _ in 0..400 {
        let name = queue.next().expect("all jobs wait");
        let index = names.iter().position(|known| *known == name).expect("one of the names");
        turns[index] += 1;
        queue.end_turn(&clients[index], TURN);
        queue.turns.enqueue(ids[index], name, queue.now);
    }
    // Half for each caller, apart from every fourth turn, which goes by waiting time.
    assert!((150..=200).contains(&turns[0]), "{turns:?}");
    assert!(turns[1..].iter().all(|turns| (45..=70).contains(turns)), "{turns:?}");
}

#[test]
fn a_caller_with_much_recent_use_gets_one_turn_in_four_despite_endless_newcomers() {
    let mut queue = Queue::new(1, 64, 128);
    let greedy = client(1);
    queue.run_turn(&greedy, Duration::from_secs(100));
    let id = queue.admit(&greedy, "greedy");
    let mut greedy_turns = 0;
    let mut newcomer = client(100);
    queue.admit(&newcomer, "newcomer");
    for next in 101..141 {
        if queue.next() == Some("greedy") {
            greedy_turns += 1;
            queue.end_turn(&greedy, TURN);
            queue.turns.enqueue(id, "greedy", queue.now);
        } else {
            queue.end_turn(&newcomer, TURN);
            newcomer = client(next);
            queue.admit(&newcomer, "newcomer");
        }
    }
    assert!((8..=10).contains(&greedy_turns), "{greedy_turns}");
}

#[test]
fn work_of_a_client_that_may_have_disconnected_waits_behind_its_callers_other_work() {
    let mut queue = Queue::new(1, 64, 128);
    let half_closed = client(1);
    let open = on_new_connection(&half_closed);
    queue.run_turn(&open, Duration::from_secs(1));
    half_closed.connection.note_half_close();
    queue.admit(&half_closed, "half closed");
    queue.admit(&open, "open");
    assert_eq!(queue.next(), Some("open"));
    // It still goes before the work of a caller that has used more.
    let other = client(2);
    queue.end_turn(&open, TURN);
    queue.run_turn(&other, Duration::from_secs(9));
    queue.admit(&other, "other");
    // The next turn is not the one in four that goes by waiting time.
    queue.turns.granted = 0;
    assert_eq!(queue.next(), Some("half closed"));
}

#[test]
fn work_of_a_half_closed_connection_gets_turns_despite_endless_newcomers() {
    let mut queue = Queue::new(1, 64, 128);
    let half_closed = client(1);
    half_closed.connection.note_half_close();
    queue.run_turn(&half_closed, Duration::from_secs(9));
    queue.admit(&half_closed, "half closed");
    let mut turns = 0;
    for number in 2..100 {
        let newcomer = client(number);
        queue.admit(&newcomer, "newcomer");
        turns += 1;
        if queue.next() == Some("half closed") {
            break;
        }
        queue.end_turn(&newcomer, TURN);
    }
    assert!(turns <= OLDEST_EVERY as usize, "{turns}");
}

#[test]
fn a_caller_with_many_requests_is_refused_and_a_newcomer_is_not() {
    let mut queue = Queue::new(1, 64, 128);
    let fill = |queue: &mut Queue, number| {
        let greedy = client(number);
        let mut count = 0;
        while queue.turns.may_send_request(greedy.caller) {
            queue.admit(&greedy, "greedy");
            count += 1;
        }
        count
    };
    // One caller alone gets a third of the places, and the next a third of what is then free.
    assert_eq!(fill(&mut queue, 1), 43);
    let second = fill(&mut queue, 2);
    assert!((25..=35).contains(&second), "{second}");
    for number in 3..8 {
        assert!(fill(&mut queue, number) > 0);
    }
    assert!(queue.turns.may_send_request(address(99)), "a newcomer finds room");
    assert!(!queue.turns.may_send_request(address(1)));
}

#[test]
fn no_caller_gets_all_threads() {
    let mut queue = Queue::new(1, 9, 128);
    let greedy = client(1);
    let mut started = 0;
    for _ in 0..20 {
        queue.admit(&greedy, "greedy");
    }
    // Jobs end their turn but not their work, so each keeps its thread.
    while queue.next().is_some() {
        started += 1;
        queue.end_turn(&greedy, TURN);
    }
    assert_eq!(started, 3);
    let newcomer = client(2);
    queue.admit(&newcomer, "newcomer");
    assert_eq!(queue.next(), Some("newcomer"));
}

#[test]
fn a_freed_thread_goes_to_a_job_that_has_not_started() {
    let mut queue = Queue::new(1, 1, 128);
    let (first, second) = (client(1), client(2));
    let id = queue.admit(&first, "first");
    queue.admit(&second, "second");
    assert_eq!(queue.next(), Some("first"));
    queue.end_turn(&first, TURN);
    assert_eq!(queue.next(), None, "the first job still has the only thread");
    queue.turns.remove(id);
    assert_eq!(queue.next(), Some("second"));
}

#[test]
fn a_removed_job_leaves_nothing_behind() {
    let mut queue = Queue::new(1, 64, 3);
    let client = client(1);
    let id = queue.admit(&client, "dropped");
    assert!(!queue.turns.may_send_request(client.caller));
    queue.turns.remove(id);
    assert_eq!(queue.next(), None);
    assert!(queue.turns.may_send_request(client.caller));
    assert_eq!(queue.turns.counts(), [0, 0]);
}

#[test]
fn a_flood_of_callers_takes_bounded_memory() {
    let mut queue = Queue::new(1, 64, 128);
    let greedy = client(0);
    queue.run_turn(&greedy, Duration::from_secs(5));
    let with_job = client(1);
    queue.admit(&with_job, "paused");
    assert_eq!(queue.next(), Some("paused"));
    queue.end_turn(&with_job, TURN);
    for number in 2..3 * MAX_CALLERS as u32 {
        // Every second one uses a little.
        queue.run_turn(&client(number), Duration::from_millis(2) * (number % 2));
        assert!(queue.turns.callers.len() <= MAX_CALLERS, "{number}");
    }
    // The caller with the most use is still known, and so is the one with a job.
    assert!(queue.turns.callers.contains_key(&greedy.caller));
    assert!(queue.turns.callers.contains_key(&with_job.caller));
}
