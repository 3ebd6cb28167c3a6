use std::{net::IpAddr, sync::Arc};

use crate::server::worker_pool::{caller_info::Connection, turns::*};

const TURN: Duration = Duration::from_millis(50);

/// A queue with a clock moved by hand. A job's waker is its name.
struct Queue {
    turns: Turns<&'static str>,
    now: Instant,
}

impl Queue {
    fn new(workers: usize, threads: usize, requests: usize) -> Self {
        Self { turns: Turns::new(Bounds { workers, threads, requests }), now: Instant::now() }
    }

    /// Admits a job and queues it for its first turn.
    fn admit(&mut self, client: &CallerInfo, name: &'static str) -> Number {
        let number = self.turns.admit(client.clone(), JobKind::Request, self.now);
        self.turns.wait(number, name, self.now);
        // No two jobs wait equally long.
        self.now += Duration::from_micros(1);
        number
    }

    fn next(&mut self) -> Option<&'static str> {
        self.turns.next(self.now).map(|given| given.wake)
    }

    /// Runs one turn of a job that has the worker to itself.
    fn run_turn(&mut self, client: &CallerInfo, took: Duration) {
        let number = self.admit(client, "warming up");
        assert_eq!(self.next(), Some("warming up"));
        self.end_turn(client, took);
        self.turns.leave(number);
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
fn a_newcomer_goes_before_a_caller_who_has_used_much() {
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
fn what_was_used_long_ago_counts_little() {
    let mut queue = Queue::new(1, 64, 128);
    let (once, now) = (client(1), client(2));
    queue.run_turn(&once, Duration::from_secs(4));
    queue.now += Duration::from_secs(40);
    queue.run_turn(&now, Duration::from_secs(1));
    // A sixteenth of four seconds is less than one.
    queue.admit(&now, "now");
    queue.admit(&once, "once");
    assert_eq!(queue.next(), Some("once"));
}

#[test]
fn connections_of_one_caller_take_turns_as_well() {
    let mut queue = Queue::new(1, 64, 128);
    let busy = client(1);
    let fresh = on_new_connection(&busy);
    queue.run_turn(&busy, Duration::from_secs(1));
    queue.admit(&busy, "busy");
    queue.admit(&fresh, "fresh");
    assert_eq!(queue.next(), Some("fresh"));
}

#[test]
fn callers_with_long_jobs_share_evenly_however_many_jobs_each_has() {
    let mut queue = Queue::new(1, 64, 128);
    let one = [client(1)];
    let first = client(2);
    let four = [on_new_connection(&first), on_new_connection(&first), on_new_connection(&first), first];
    let names = [["one"].as_slice(), ["a", "b", "c", "d"].as_slice()].concat();
    let clients: Vec<CallerInfo> = one.iter().chain(&four).cloned().collect();
    let mut numbers = Vec::new();
    for (client, name) in clients.iter().zip(&names) {
        numbers.push(queue.admit(client, name));
    }
    let mut turns = vec![0; names.len()];
    for _ in 0..400 {
        let name = queue.next().expect("someone waits");
        let index = names.iter().position(|known| *known == name).expect("known");
        turns[index] += 1;
        queue.end_turn(&clients[index], TURN);
        queue.turns.wait(numbers[index], name, queue.now);
    }
    // Half each, but for the turns by age.
    assert!((150..=200).contains(&turns[0]), "{turns:?}");
    assert!(turns[1..].iter().all(|turns| (45..=70).contains(turns)), "{turns:?}");
}

#[test]
fn a_caller_who_has_used_much_gets_one_turn_in_four_despite_endless_newcomers() {
    let mut queue = Queue::new(1, 64, 128);
    let greedy = client(1);
    queue.run_turn(&greedy, Duration::from_secs(100));
    let number = queue.admit(&greedy, "greedy");
    let mut had = 0;
    let mut newcomer = client(100);
    queue.admit(&newcomer, "newcomer");
    for next in 101..141 {
        if queue.next() == Some("greedy") {
            had += 1;
            queue.end_turn(&greedy, TURN);
            queue.turns.wait(number, "greedy", queue.now);
        } else {
            queue.end_turn(&newcomer, TURN);
            newcomer = client(next);
            queue.admit(&newcomer, "newcomer");
        }
    }
    assert!((8..=10).contains(&had), "{had}");
}

#[test]
fn work_of_a_client_that_may_have_disconnected_waits_behind_its_callers_other_work() {
    let mut queue = Queue::new(1, 64, 128);
    let left = client(1);
    let here = on_new_connection(&left);
    queue.run_turn(&here, Duration::from_secs(1));
    left.connection.note_half_close();
    queue.admit(&left, "left");
    queue.admit(&here, "here");
    assert_eq!(queue.next(), Some("here"));
    // Among callers it ranks like any other work of its caller.
    let other = client(2);
    queue.end_turn(&here, TURN);
    queue.run_turn(&other, Duration::from_secs(9));
    queue.admit(&other, "other");
    // Not a turn by age.
    queue.turns.granted = 0;
    assert_eq!(queue.next(), Some("left"));
}

#[test]
fn work_of_a_half_closed_connection_has_its_turn_despite_endless_newcomers() {
    let mut queue = Queue::new(1, 64, 128);
    let left = client(1);
    left.connection.note_half_close();
    queue.run_turn(&left, Duration::from_secs(9));
    queue.admit(&left, "left");
    let mut turns = 0;
    for number in 2..100 {
        let newcomer = client(number);
        queue.admit(&newcomer, "newcomer");
        turns += 1;
        if queue.next() == Some("left") {
            break;
        }
        queue.end_turn(&newcomer, TURN);
    }
    assert!(turns <= OLDEST_EVERY as usize, "{turns}");
}

#[test]
fn a_caller_with_many_requests_is_refused_and_a_newcomer_is_not() {
    let mut queue = Queue::new(1, 64, 128);
    let admitted = |queue: &mut Queue, number| {
        let greedy = client(number);
        let mut count = 0;
        while queue.turns.has_room(greedy.caller) {
            queue.admit(&greedy, "greedy");
            count += 1;
        }
        count
    };
    // One caller alone gets a third; the next gets half of what is then left, and so on.
    assert_eq!(admitted(&mut queue, 1), 43);
    let second = admitted(&mut queue, 2);
    assert!((25..=35).contains(&second), "{second}");
    for number in 3..8 {
        assert!(admitted(&mut queue, number) > 0);
    }
    assert!(queue.turns.has_room(address(99)), "a newcomer finds room");
    assert!(!queue.turns.has_room(address(1)));
}

#[test]
fn no_caller_has_all_threads() {
    let mut queue = Queue::new(1, 9, 128);
    let greedy = client(1);
    let mut began = 0;
    for _ in 0..20 {
        queue.admit(&greedy, "greedy");
    }
    // After its first turn each waits for the next one, and keeps its thread.
    while queue.next().is_some() {
        began += 1;
        queue.end_turn(&greedy, TURN);
    }
    assert_eq!(began, 3);
    let newcomer = client(2);
    queue.admit(&newcomer, "newcomer");
    assert_eq!(queue.next(), Some("newcomer"));
}

#[test]
fn a_thread_that_becomes_free_goes_to_a_job_that_waits_for_one() {
    let mut queue = Queue::new(1, 1, 128);
    let (first, second) = (client(1), client(2));
    let number = queue.admit(&first, "first");
    queue.admit(&second, "second");
    assert_eq!(queue.next(), Some("first"));
    queue.end_turn(&first, TURN);
    assert_eq!(queue.next(), None, "its thread is taken while it waits");
    queue.turns.leave(number);
    assert_eq!(queue.next(), Some("second"));
}

#[test]
fn a_job_that_is_dropped_leaves_nothing_behind() {
    let mut queue = Queue::new(1, 64, 3);
    let client = client(1);
    let number = queue.admit(&client, "dropped");
    assert!(!queue.turns.has_room(client.caller));
    queue.turns.leave(number);
    assert_eq!(queue.next(), None);
    assert!(queue.turns.has_room(client.caller));
    assert_eq!(queue.turns.counts(), [0, 0]);
}

#[test]
fn a_flood_of_callers_takes_bounded_memory() {
    let mut queue = Queue::new(1, 64, 128);
    let greedy = client(0);
    queue.run_turn(&greedy, Duration::from_secs(5));
    let waits = client(1);
    queue.admit(&waits, "waits");
    assert_eq!(queue.next(), Some("waits"));
    queue.end_turn(&waits, TURN);
    for number in 2..3 * MAX_CALLERS as u32 {
        // Half of them use something.
        queue.run_turn(&client(number), Duration::from_millis(2) * (number % 2));
        assert!(queue.turns.callers.len() <= MAX_CALLERS, "{number}");
    }
    // The caller who has used most is still known, and so is the one who has a job.
    assert!(queue.turns.callers.contains_key(&greedy.caller));
    assert!(queue.turns.callers.contains_key(&waits.caller));
}
