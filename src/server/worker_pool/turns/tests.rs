use std::{net::IpAddr, sync::Arc};

use crate::server::worker_pool::{asker::Connection, turns::*};

const TURN: Duration = Duration::from_millis(50);

/// Turns with a clock that is driven by hand. Jobs are woken by their names.
struct Studio {
    turns: Turns<&'static str>,
    now: Instant,
}

impl Studio {
    fn new(workers: usize, threads: usize, requests: usize) -> Self {
        Self { turns: Turns::new(Bounds { workers, threads, requests }), now: Instant::now() }
    }

    /// A job that waits for its first turn.
    fn asks(&mut self, asker: &Asker, name: &'static str) -> Number {
        let number = self.turns.admit(asker.clone(), Part::Whole, self.now);
        self.turns.wait(number, name, self.now);
        // So that no two wait equally long.
        self.now += Duration::from_micros(1);
        number
    }

    fn next(&mut self) -> Option<&'static str> {
        self.turns.next(self.now).map(|given| given.wake)
    }

    /// A whole turn of a job that is the only one to run.
    fn used(&mut self, asker: &Asker, took: Duration) {
        let number = self.asks(asker, "warming up");
        assert_eq!(self.next(), Some("warming up"));
        self.ends(asker, took);
        self.turns.leave(number);
    }

    fn ends(&mut self, asker: &Asker, took: Duration) {
        self.now += took;
        self.turns.end_turn(asker, took, self.now);
    }
}

fn address(number: u32) -> Caller {
    Caller::Address(IpAddr::V4(number.into()))
}

fn asker(number: u32) -> Asker {
    Asker { caller: address(number), connection: Arc::default() }
}

/// The same caller on another connection.
fn again(asker: &Asker) -> Asker {
    Asker { caller: asker.caller, connection: Arc::<Connection>::default() }
}

#[test]
fn a_newcomer_goes_before_who_has_used_much() {
    let mut studio = Studio::new(1, 64, 128);
    let (greedy, newcomer) = (asker(1), asker(2));
    studio.used(&greedy, Duration::from_secs(3));
    studio.asks(&greedy, "greedy");
    studio.asks(&newcomer, "newcomer");
    assert_eq!(studio.next(), Some("newcomer"));
    assert_eq!(studio.next(), None, "there is one worker");
    studio.ends(&newcomer, TURN);
    assert_eq!(studio.next(), Some("greedy"));
}

#[test]
fn what_was_used_long_ago_counts_little() {
    let mut studio = Studio::new(1, 64, 128);
    let (once, now) = (asker(1), asker(2));
    studio.used(&once, Duration::from_secs(4));
    studio.now += Duration::from_secs(40);
    studio.used(&now, Duration::from_secs(1));
    // A sixteenth of four seconds is less than one.
    studio.asks(&now, "now");
    studio.asks(&once, "once");
    assert_eq!(studio.next(), Some("once"));
}

#[test]
fn connections_of_one_caller_take_turns_as_well() {
    let mut studio = Studio::new(1, 64, 128);
    let busy = asker(1);
    let fresh = again(&busy);
    studio.used(&busy, Duration::from_secs(1));
    studio.asks(&busy, "busy");
    studio.asks(&fresh, "fresh");
    assert_eq!(studio.next(), Some("fresh"));
}

#[test]
fn callers_with_long_jobs_share_evenly_however_many_jobs_each_has() {
    let mut studio = Studio::new(1, 64, 128);
    let one = [asker(1)];
    let first = asker(2);
    let four = [again(&first), again(&first), again(&first), first];
    let names = [["one"].as_slice(), ["a", "b", "c", "d"].as_slice()].concat();
    let askers: Vec<Asker> = one.iter().chain(&four).cloned().collect();
    let mut numbers = Vec::new();
    for (asker, name) in askers.iter().zip(&names) {
        numbers.push(studio.asks(asker, name));
    }
    let mut turns = vec![0; names.len()];
    for _ in 0..400 {
        let name = studio.next().expect("someone waits");
        let index = names.iter().position(|known| *known == name).expect("known");
        turns[index] += 1;
        studio.ends(&askers[index], TURN);
        studio.turns.wait(numbers[index], name, studio.now);
    }
    // Half each, but for the turns by age.
    assert!((150..=200).contains(&turns[0]), "{turns:?}");
    assert!(turns[1..].iter().all(|turns| (45..=70).contains(turns)), "{turns:?}");
}

#[test]
fn who_has_used_much_still_has_one_turn_in_four_where_others_come_without_end() {
    let mut studio = Studio::new(1, 64, 128);
    let greedy = asker(1);
    studio.used(&greedy, Duration::from_secs(100));
    let number = studio.asks(&greedy, "greedy");
    let mut had = 0;
    let mut newcomer = asker(100);
    studio.asks(&newcomer, "newcomer");
    for next in 101..141 {
        if studio.next() == Some("greedy") {
            had += 1;
            studio.ends(&greedy, TURN);
            studio.turns.wait(number, "greedy", studio.now);
        } else {
            studio.ends(&newcomer, TURN);
            newcomer = asker(next);
            studio.asks(&newcomer, "newcomer");
        }
    }
    assert!((8..=10).contains(&had), "{had}");
}

#[test]
fn work_of_a_client_that_may_have_left_waits_behind_its_callers_other_work() {
    let mut studio = Studio::new(1, 64, 128);
    let left = asker(1);
    let here = again(&left);
    studio.used(&here, Duration::from_secs(1));
    left.connection.note_half_close();
    studio.asks(&left, "left");
    studio.asks(&here, "here");
    assert_eq!(studio.next(), Some("here"));
    // It costs other callers no more than any other work of that caller.
    let other = asker(2);
    studio.ends(&here, TURN);
    studio.used(&other, Duration::from_secs(9));
    studio.asks(&other, "other");
    // Not a turn by age.
    studio.turns.given = 0;
    assert_eq!(studio.next(), Some("left"));
}

#[test]
fn a_caller_with_many_requests_is_refused_and_a_newcomer_is_not() {
    let mut studio = Studio::new(1, 64, 128);
    let admitted = |studio: &mut Studio, number| {
        let greedy = asker(number);
        let mut count = 0;
        while studio.turns.has_room(greedy.caller) {
            studio.asks(&greedy, "greedy");
            count += 1;
        }
        count
    };
    // A third alone, half of what is then left for the next, and so on.
    assert_eq!(admitted(&mut studio, 1), 43);
    let second = admitted(&mut studio, 2);
    assert!((25..=35).contains(&second), "{second}");
    for number in 3..8 {
        assert!(admitted(&mut studio, number) > 0);
    }
    assert!(studio.turns.has_room(address(99)), "a newcomer finds room");
    assert!(!studio.turns.has_room(address(1)));
}

#[test]
fn no_caller_has_all_threads() {
    let mut studio = Studio::new(1, 9, 128);
    let greedy = asker(1);
    let mut began = 0;
    for _ in 0..20 {
        studio.asks(&greedy, "greedy");
    }
    // Each waits for its next turn after its first, and so keeps its thread.
    while studio.next().is_some() {
        began += 1;
        studio.ends(&greedy, TURN);
    }
    assert_eq!(began, 3);
    let newcomer = asker(2);
    studio.asks(&newcomer, "newcomer");
    assert_eq!(studio.next(), Some("newcomer"));
}

#[test]
fn a_thread_that_is_free_again_goes_to_who_waits_for_one() {
    let mut studio = Studio::new(1, 1, 128);
    let (first, second) = (asker(1), asker(2));
    let number = studio.asks(&first, "first");
    studio.asks(&second, "second");
    assert_eq!(studio.next(), Some("first"));
    studio.ends(&first, TURN);
    assert_eq!(studio.next(), None, "its thread is taken while it waits");
    studio.turns.leave(number);
    assert_eq!(studio.next(), Some("second"));
}

#[test]
fn a_job_that_is_dropped_leaves_nothing_behind() {
    let mut studio = Studio::new(1, 64, 3);
    let asker = asker(1);
    let number = studio.asks(&asker, "dropped");
    assert!(!studio.turns.has_room(asker.caller));
    studio.turns.leave(number);
    assert_eq!(studio.next(), None);
    assert!(studio.turns.has_room(asker.caller));
    assert_eq!(studio.turns.counts(), [0, 0]);
}

#[test]
fn a_flood_of_callers_is_not_remembered_without_end() {
    let mut studio = Studio::new(1, 64, 128);
    let greedy = asker(0);
    studio.used(&greedy, Duration::from_secs(5));
    let waits = asker(1);
    studio.asks(&waits, "waits");
    assert_eq!(studio.next(), Some("waits"));
    studio.ends(&waits, TURN);
    for number in 2..3 * CALLERS_MOST as u32 {
        // Half of them use something.
        studio.used(&asker(number), Duration::from_millis(2) * (number % 2));
        assert!(studio.turns.callers.len() <= CALLERS_MOST, "{number}");
    }
    // Who has used most is still known, and so is who has a job.
    assert!(studio.turns.callers.contains_key(&greedy.caller));
    assert!(studio.turns.callers.contains_key(&waits.caller));
}
