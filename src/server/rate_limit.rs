//! Rate limits by caller: a number of calls a second, with bursts (the generic cell rate algorithm of the crate
//! `governor`). Responses report the quota in the `RateLimit` headers of draft-ietf-httpapi-ratelimit-headers-10.

use std::{
    net::IpAddr,
    num::NonZeroU32,
    sync::{
        Arc,
        atomic::{AtomicU64, Ordering},
    },
    time::{Duration, Instant},
};

use axum::{
    extract::Request,
    http::{HeaderMap, HeaderName, HeaderValue},
    response::{IntoResponse, Response},
};
use governor::{
    RateLimiter,
    clock::{Clock, MonotonicClock},
    middleware::StateInformationMiddleware,
    state::keyed::HashMapStateStore,
};

use super::{
    around::Around,
    problem::{Kind, Problem},
    worker_pool::caller_info::CallerInfo,
};

/// The header that states the limit.
pub const POLICY: HeaderName = HeaderName::from_static("ratelimit-policy");
/// The header that states what is left of it.
pub const LIMIT: HeaderName = HeaderName::from_static("ratelimit");
/// Seconds' worth of calls that may come at once.
const WINDOW_S: u32 = 10;
/// The highest limit that can be set, in calls a second.
pub const MAX_PER_SECOND: u32 = 1_000_000;
/// Callers that are counted one by one; some 100 bytes each. Further addresses share one quota.
const MAX_CALLERS: usize = 50_000;

/// Whose calls are counted together.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Caller {
    /// The holder of a key, by the hash of their name.
    Key(u64),
    /// All clients in a network (an IPv4 address or an IPv6 /64).
    Address(IpAddr),
    /// All further networks, once the table is full.
    Others,
}

/// What a caller has left of the limit.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Quota {
    /// Calls that may be made at once.
    pub remaining: u32,
    /// Time until the whole burst is available again.
    pub resets_in: Duration,
}

/// A rate limit, and how much of it each caller has used.
#[derive(Debug)]
pub struct Rate {
    limiter: RateLimiter<Caller, HashMapStateStore<Caller>, MonotonicClock, StateInformationMiddleware>,
    policy: HeaderValue,
    per_second: u32,
    started: Instant,
    /// When callers with a full quota were last removed, in seconds since `started`.
    swept_s: AtomicU64,
}

impl Quota {
    /// The quota reported with a 429.
    pub const NONE: Self = Self { remaining: 0, resets_in: Duration::from_secs(WINDOW_S as u64) };
}

impl Rate {
    /// A limit of calls a second, up to [`MAX_PER_SECOND`], and ten seconds' worth at once.
    pub fn per_second(calls: NonZeroU32) -> Self {
        let burst = calls.saturating_mul(NonZeroU32::new(WINDOW_S).unwrap_or(NonZeroU32::MIN));
        let quota = governor::Quota::per_second(calls).allow_burst(burst);
        let policy = format!("\"calls\";q={burst};w={WINDOW_S}");
        Self {
            limiter: RateLimiter::hashmap_with_clock(quota, MonotonicClock).with_middleware(),
            // Digits and quotes are always a valid header value.
            policy: HeaderValue::from_str(&policy).unwrap_or_else(|_| HeaderValue::from_static("")),
            per_second: calls.get(),
            started: Instant::now(),
            swept_s: AtomicU64::new(0),
        }
    }

    /// Counts a call.
    ///
    /// # Errors
    ///
    /// The time to wait, if the caller has exceeded the limit.
    pub fn count(&self, caller: Caller) -> Result<Quota, Duration> {
        // Keys are never refused for want of room: their number is bounded by their file.
        let caller =
            if matches!(caller, Caller::Address(_)) && self.is_full() { Caller::Others } else { caller };
        match self.limiter.check_key(&caller) {
            Ok(snapshot) => {
                let remaining = snapshot.remaining_burst_capacity();
                let used = snapshot.quota().burst_size().get().saturating_sub(remaining);
                let resets_in = Duration::from_secs_f64(f64::from(used) / f64::from(self.per_second));
                Ok(Quota { remaining, resets_in })
            }
            Err(refusal) => Err(refusal.wait_time_from(MonotonicClock.now())),
        }
    }

    /// Whether the table is full, even without the callers whose quota is full again. Those are removed at most once a
    /// second, so that a flood of callers does not slow down every call.
    fn is_full(&self) -> bool {
        if self.limiter.len() < MAX_CALLERS {
            return false;
        }
        let now = self.started.elapsed().as_secs();
        if self.swept_s.fetch_max(now, Ordering::Relaxed) < now {
            self.limiter.retain_recent();
            return self.limiter.len() >= MAX_CALLERS;
        }
        true
    }

    /// Writes the `RateLimit` headers.
    pub fn write_headers(&self, quota: Quota, headers: &mut HeaderMap) {
        headers.insert(POLICY, self.policy.clone());
        let text = format!("\"calls\";r={};t={}", quota.remaining, whole_seconds(quota.resets_in));
        if let Ok(value) = HeaderValue::try_from(text) {
            headers.insert(LIMIT, value);
        }
    }
}

/// Answers 429 to callers beyond the limit, and reports the quota in every response. tower can only limit all callers
/// together.
#[derive(Clone)]
pub struct LimitRate(pub Arc<Rate>);

impl Around for LimitRate {
    /// The rate limit and what is left of it; `None` if the request is not a calculation, and so not limited.
    type State = Option<(Arc<Rate>, Quota)>;

    fn before(&self, request: &mut Request) -> Result<Self::State, Response> {
        let Some(caller_info) = request.extensions().get::<CallerInfo>() else { return Ok(None) };
        match self.0.count(caller_info.caller) {
            Ok(quota) => Ok(Some((Arc::clone(&self.0), quota))),
            Err(wait) => {
                let seconds = whole_seconds(wait).max(1);
                let detail = format!("Too many calls; the next is taken in {seconds} s.");
                let problem = Problem::new(Kind::TooMany, detail).retry_after(seconds);
                let mut response = problem.into_response();
                self.0.write_headers(Quota::NONE, response.headers_mut());
                Err(response)
            }
        }
    }

    fn after(state: Self::State, response: &mut Response) {
        if let Some((rate, quota)) = state {
            rate.write_headers(quota, response.headers_mut());
        }
    }
}

/// Seconds, rounded up, so that a client that waits so long is not refused again.
pub fn whole_seconds(duration: Duration) -> u64 {
    duration.as_secs() + u64::from(duration.subsec_nanos() > 0)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_burst_is_allowed_and_further_calls_must_wait() {
        let rate = Rate::per_second(NonZeroU32::MIN);
        let remaining: Vec<_> =
            (0..10).map_while(|_| rate.count(Caller::Key(0)).ok().map(|quota| quota.remaining)).collect();
        assert_eq!(remaining, [9, 8, 7, 6, 5, 4, 3, 2, 1, 0]);
        assert!(rate.count(Caller::Key(0)).is_err_and(|wait| whole_seconds(wait) == 1));
        // Others have a quota of their own.
        assert_eq!(rate.count(Caller::Key(1)).map(|quota| quota.remaining), Ok(9));
        assert_eq!(whole_seconds(Duration::from_millis(1001)), 2);
    }

    #[test]
    fn a_flood_of_callers_takes_bounded_memory() {
        let rate = Rate::per_second(NonZeroU32::MIN);
        for number in 0..120_000_u32 {
            let address = IpAddr::V4(number.into());
            let _ = rate.count(Caller::Address(address));
        }
        assert!(rate.limiter.len() <= MAX_CALLERS + 1, "{}", rate.limiter.len());
        // Holders of keys are not affected.
        assert!(rate.count(Caller::Key(7)).is_ok());
        // Further addresses share one quota, and that is used up.
        assert!(rate.count(Caller::Address(IpAddr::V4(u32::MAX.into()))).is_err());
    }
}
