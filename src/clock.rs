//! The only reader of time. Everything else is handed `now`, so that settling and schedules can be tested.

use std::time::{Duration, Instant, SystemTime};

/// Time that never jumps, as the distance from the program's start. Settling runs on it.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Default)]
pub struct Tick(pub Duration);

impl Tick {
    /// This long after.
    #[must_use]
    pub fn after(self, wait: Duration) -> Self {
        Self(self.0.saturating_add(wait))
    }

    /// How long since `earlier`; zero when `earlier` is later.
    #[must_use]
    pub fn since(self, earlier: Self) -> Duration {
        self.0.saturating_sub(earlier.0)
    }
}

/// Where time is read.
#[derive(Clone, Copy, Debug)]
pub struct Clock {
    start: Instant,
}

impl Clock {
    /// A clock that starts now.
    #[must_use]
    pub fn start() -> Self {
        Self { start: Instant::now() }
    }

    /// Time on the monotonic clock.
    #[must_use]
    pub fn tick(&self) -> Tick {
        Tick(self.start.elapsed())
    }

    /// The instant of a tick, for timers that want one.
    #[must_use]
    pub fn instant(&self, tick: Tick) -> Instant {
        self.start + tick.0
    }

    /// The wall clock.
    #[must_use]
    pub fn wall(&self) -> SystemTime {
        SystemTime::now()
    }
}
