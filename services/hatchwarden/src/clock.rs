//! The one place where the clock is read.

use std::sync::Arc;
use tokio::sync::watch;
use tokio::time::{Duration, Instant, sleep};
use units::{Span, Time};

/// The machine's clock can be set: while somebody waits for a moment on it, it is looked at this often at least.
const LOOK_AGAIN: Duration = Duration::from_secs(10);

/// By more than this a clock has jumped between two looks; what is less is a clock that is set right little by little. A
/// planning value: beyond the delays of half a minute that an alarm has, and far beyond what slewing does in ten seconds.
const JUMP: Span = Span::seconds(30);

/// The pace of a clock that waits to be wound on.
const STANDING: f64 = 0.0;

/// How long somebody waits for a clock that cannot know when it will be moved.
const A_DAY: Duration = Duration::from_secs(86_400);

/// Wall clock of the service. Clones show the same time.
///
/// There are three kinds: the machine's own; one that begins at a time and runs at a pace which can be changed, and that
/// may stand still at first and be wound on; and one that is only moved by hand, for tests that play a whole night.
#[derive(Debug, Clone)]
pub struct Clock(Kind);

#[derive(Debug, Clone)]
enum Kind {
    /// With a moment from which steady time counts.
    Real(Instant),
    Paced(Arc<watch::Sender<Leg>>),
    Hand(watch::Receiver<Shown>),
}

/// What a clock shows that is moved by hand.
#[derive(Debug, Clone, Copy)]
struct Shown {
    wall: Time,
    /// How far it was moved on so far.
    steady: Span,
}

/// A stretch of time at one pace.
#[derive(Debug, Clone, Copy)]
struct Leg {
    started: Instant,
    at: Time,
    pace: f64,
}

impl Leg {
    fn now(&self) -> Time {
        self.at + Span::from_millis((self.started.elapsed().as_secs_f64() * 1000.0 * self.pace) as i64)
    }

    /// How long to wait on the machine at this pace; while it stands, until somebody moves it.
    fn until(&self, due: Time) -> Duration {
        if self.pace == STANDING && self.at < due {
            return A_DAY;
        }
        let ms = (due - self.now()).millis().max(0) as f64 / self.pace;
        Duration::from_millis(ms.ceil() as u64)
    }
}

/// Moves a clock that stands still by itself. When it is gone, the clock stands still for ever.
#[derive(Debug)]
pub struct Hand(watch::Sender<Shown>);

impl Hand {
    /// Shows this time from now on. A time before the one that is shown changes nothing: time never runs back.
    pub fn move_to(&self, to: Time) {
        self.0.send_if_modified(|shown| {
            let passed = to - shown.wall;
            if passed > Span::ZERO {
                *shown = Shown { wall: to, steady: shown.steady + passed };
            }
            passed > Span::ZERO
        });
    }

    /// Sets the wall time on by `by`, or back, while no time passes.
    pub fn jump(&self, by: Span) {
        self.0.send_modify(|shown| shown.wall += by);
    }
}

/// Tells jumps of a clock: what it shows against a time that cannot jump, from one look to the next.
///
/// A machine that slept is one whose clock has jumped on: nothing was heard meanwhile. Many small steps do not add up to a
/// jump.
#[derive(Debug)]
pub struct Drift {
    clock: Clock,
    wall: Time,
    steady: Span,
}

impl Drift {
    /// Begins to watch a clock.
    pub fn new(clock: Clock) -> Self {
        let (wall, steady) = (clock.now(), clock.steady());
        Self { clock, wall, steady }
    }

    /// Now; and if the clock has jumped since the last look by more than half a minute, by how much.
    pub fn look(&mut self) -> (Time, Option<Span>) {
        let (wall, steady) = (self.clock.now(), self.clock.steady());
        let by = (wall - self.wall) - (steady - self.steady);
        (self.wall, self.steady) = (wall, steady);
        (wall, Some(by).filter(|by| by.abs() > JUMP))
    }
}

impl Clock {
    /// The machine's own clock.
    pub fn real() -> Self {
        Self(Kind::Real(Instant::now()))
    }

    /// Begins at the machine's time, or at `not_before` if that is later, and runs `pace` times as fast. A pace that is
    /// not a positive number counts as 1.
    pub fn paced(pace: f64, not_before: Option<Time>) -> Self {
        let at = not_before.map_or(system_now(), |t| t.max(system_now()));
        let pace = if is_pace(pace) { pace } else { 1.0 };
        Self(Kind::Paced(Arc::new(watch::Sender::new(Leg { started: Instant::now(), at, pace }))))
    }

    /// Stands at `at`, to be wound on, until [`Clock::set_pace`] lets it go.
    pub fn standing(at: Time) -> Self {
        let leg = Leg { started: Instant::now(), at, pace: STANDING };
        Self(Kind::Paced(Arc::new(watch::Sender::new(leg))))
    }

    /// Shows `to` from now on and goes on from there at its pace. A time before the one that is shown changes nothing, and
    /// neither does a clock that has no pace of its own.
    pub fn wind(&self, to: Time) {
        let Kind::Paced(leg) = &self.0 else { return };
        leg.send_if_modified(|leg| {
            let on = to > leg.now();
            if on {
                *leg = Leg { started: Instant::now(), at: to, pace: leg.pace };
            }
            on
        });
    }

    /// Stands still at `at` until the hand moves it.
    pub fn hand(at: Time) -> (Self, Hand) {
        let (hand, shown) = watch::channel(Shown { wall: at, steady: Span::ZERO });
        (Self(Kind::Hand(shown)), Hand(hand))
    }

    /// Now.
    pub fn now(&self) -> Time {
        match &self.0 {
            Kind::Real(_) => system_now(),
            Kind::Paced(leg) => leg.borrow().now(),
            Kind::Hand(shown) => shown.borrow().wall,
        }
    }

    /// Time that has passed since some moment, at the pace of this clock. Nobody can set it; while the machine sleeps it
    /// stands.
    pub fn steady(&self) -> Span {
        match &self.0 {
            Kind::Real(since) => {
                Span::from_millis(i64::try_from(since.elapsed().as_millis()).unwrap_or(i64::MAX))
            }
            // It goes by the steady time of the machine already.
            Kind::Paced(leg) => leg.borrow().now() - Time::from_millis(0),
            Kind::Hand(shown) => shown.borrow().steady,
        }
    }

    /// Goes on `pace` times as fast as the machine from this moment: the time shown neither jumps nor runs back, and
    /// whoever waits in [`Clock::reach`] reckons anew. False, and nothing changes, when `pace` is not a positive number or
    /// this clock has no pace of its own.
    pub fn set_pace(&self, pace: f64) -> bool {
        let Kind::Paced(leg) = &self.0 else { return false };
        if is_pace(pace) {
            leg.send_modify(|leg| *leg = Leg { started: Instant::now(), at: leg.now(), pace });
        }
        is_pace(pace)
    }

    /// Returns when the clock shows `due` or later; at once if it does already. May be dropped and called again.
    pub async fn reach(&self, due: Time) {
        match &self.0 {
            Kind::Real(_) => reach_real(due).await,
            Kind::Paced(leg) => reach_paced(leg.subscribe(), due).await,
            Kind::Hand(shown) => {
                if shown.clone().wait_for(|shown| shown.wall >= due).await.is_err() {
                    std::future::pending::<()>().await; // nobody is left to move it
                }
            }
        }
    }

    /// How long to wait on the machine until `due` if the pace stays as it is, for timers that know nothing else. A clock
    /// that is moved by hand cannot know: it says a day, or nothing once `due` has come.
    pub fn until(&self, due: Time) -> Duration {
        match &self.0 {
            Kind::Real(_) => Duration::from_millis((due - system_now()).millis().max(0).unsigned_abs()),
            Kind::Paced(leg) => leg.borrow().until(due),
            Kind::Hand(shown) if shown.borrow().wall >= due => Duration::ZERO,
            Kind::Hand(_) => A_DAY,
        }
    }

    /// Seconds since 1970, for signatures: receivers compare them with their own clock.
    pub fn unix_seconds() -> i64 {
        system_now().millis().div_euclid(1000)
    }
}

fn is_pace(pace: f64) -> bool {
    pace.is_finite() && pace > 0.0
}

async fn reach_real(due: Time) {
    loop {
        let wait = (due - system_now()).millis();
        if wait <= 0 {
            return;
        }
        sleep(Duration::from_millis(wait.unsigned_abs()).min(LOOK_AGAIN)).await;
    }
}

async fn reach_paced(mut leg: watch::Receiver<Leg>, due: Time) {
    loop {
        let now = *leg.borrow_and_update();
        if now.now() >= due {
            return;
        }
        // Whoever waits holds the clock, so the channel stays open.
        tokio::select! {
            () = sleep(now.until(due)) => {}
            _ = leg.changed() => {}
        }
    }
}

#[expect(clippy::disallowed_methods, reason = "the one place where the clock is read")]
fn system_now() -> Time {
    let since = std::time::SystemTime::now().duration_since(std::time::UNIX_EPOCH);
    // A machine that believes to be before 1970 is taken to be at its beginning.
    Time::from_millis(since.map_or(0, |d| i64::try_from(d.as_millis()).unwrap_or(i64::MAX)))
}

#[cfg(test)]
mod tests {
    use super::*;
    use futures::poll;
    use std::pin::pin;

    #[tokio::test(start_paused = true)]
    async fn a_change_of_pace_neither_jumps_nor_runs_back() {
        let clock = Clock::paced(1.0, None);
        let begun = clock.now();
        tokio::time::advance(Duration::from_secs(2)).await;
        let before = clock.now();
        assert!(clock.set_pace(180.0));
        assert_eq!(clock.now(), before);
        assert_eq!(before - begun, Span::seconds(2));
        tokio::time::advance(Duration::from_secs(20)).await;
        assert_eq!(clock.now() - before, Span::hours(1));
        assert!(clock.clone().set_pace(1.0), "a clone is the same clock");
        tokio::time::advance(Duration::from_secs(5)).await;
        assert_eq!(clock.now() - before, Span::hours(1) + Span::seconds(5));
        for silly in [0.0, -1.0, f64::NAN, f64::INFINITY] {
            assert!(!clock.set_pace(silly), "{silly}");
        }
        assert!(!Clock::real().set_pace(2.0));
    }

    #[tokio::test(start_paused = true)]
    async fn a_standing_clock_is_wound_on_and_then_let_go() {
        let begun = Time::from_millis(0);
        let clock = Clock::standing(begun);
        tokio::time::advance(Duration::from_secs(60)).await;
        assert_eq!(clock.now(), begun);
        let mut drift = Drift::new(clock.clone());
        let mut waiting = pin!(clock.reach(begun + Span::hours(2)));
        clock.wind(begun + Span::hours(1));
        clock.wind(begun);
        assert_eq!(drift.look(), (begun + Span::hours(1), None), "winding is no jump");
        assert!(poll!(waiting.as_mut()).is_pending());
        clock.wind(begun + Span::hours(2));
        waiting.await;
        assert!(clock.set_pace(1.0));
        tokio::time::advance(Duration::from_secs(5)).await;
        assert_eq!(clock.now(), begun + Span::hours(2) + Span::seconds(5));
    }

    #[tokio::test(start_paused = true)]
    async fn who_waits_reckons_anew_when_the_pace_changes() {
        let clock = Clock::paced(1.0, None);
        let (started, due) = (Instant::now(), clock.now() + Span::hours(1));
        let faster = clock.clone();
        let waiting = tokio::spawn(async move { clock.reach(due).await });
        tokio::time::sleep(Duration::from_secs(600)).await;
        faster.set_pace(300.0);
        waiting.await.unwrap();
        assert_eq!(started.elapsed(), Duration::from_secs(610), "50 min at 300 times are 10 s");
        assert!(faster.now() >= due);
    }

    #[tokio::test]
    async fn a_clock_moved_by_hand_shows_what_the_hand_says_and_never_less() {
        let at = |s: i64| Time::from_millis(1_000 * s);
        let (clock, hand) = Clock::hand(at(10));
        let mut waiting = pin!(clock.reach(at(20)));
        assert!(poll!(waiting.as_mut()).is_pending());
        hand.move_to(at(19));
        assert!(poll!(waiting.as_mut()).is_pending());
        hand.move_to(at(5));
        assert_eq!(clock.now(), at(19));
        hand.move_to(at(20));
        waiting.await;
        clock.reach(at(20)).await;
        let mut never = pin!(clock.reach(at(21)));
        drop(hand);
        assert!(poll!(never.as_mut()).is_pending(), "no hand, no time");
    }

    #[test]
    fn a_jump_is_told_once_and_by_its_length() {
        let (clock, hand) = Clock::hand(Time::from_millis(0));
        let mut drift = Drift::new(clock.clone());
        assert_eq!(drift.look(), (Time::from_millis(0), None));
        for by in [Span::hours(1), Span::hours(-1), Span::days(-3), Span::seconds(31)] {
            hand.jump(by);
            hand.move_to(clock.now() + Span::minutes(7));
            assert_eq!(drift.look(), (clock.now(), Some(by)));
            assert_eq!(drift.look().1, None, "{by} is told once");
        }
    }

    #[test]
    fn a_clock_that_is_set_right_little_by_little_has_not_jumped() {
        let (clock, hand) = Clock::hand(Time::from_millis(0));
        let mut drift = Drift::new(clock.clone());
        for by in [Span::seconds(30), Span::seconds(-29)].repeat(100) {
            hand.jump(by);
            hand.move_to(clock.now() + Span::seconds(10));
            assert_eq!(drift.look().1, None);
        }
    }

    #[tokio::test(start_paused = true)]
    async fn a_clock_that_runs_at_another_pace_has_not_jumped() {
        let clock = Clock::paced(1.0, None);
        let mut drift = Drift::new(clock.clone());
        for pace in [180.0, 0.5, 1_000.0] {
            clock.set_pace(pace);
            tokio::time::advance(Duration::from_secs(60)).await;
            assert_eq!(drift.look().1, None, "{pace}");
        }
    }

    #[test]
    fn a_clock_can_begin_ahead_of_the_machine_but_not_behind_it() {
        let ahead = system_now() + Span::days(1);
        assert!(Clock::paced(1.0, Some(ahead)).now() >= ahead);
        let machine = system_now();
        assert!(Clock::paced(1.0, Some(Time::from_millis(0))).now() >= machine);
    }
}
