//! The room as it was last drawn, and when to draw it again. Whoever looks once has it drawn then, and who watches gets
//! it again and again; while nobody does, nobody pays for pictures.

use crate::room::Room;
use std::sync::Arc;
use tokio::sync::watch;
use tokio::time::{Duration, Instant};
use units::Time;
use web::view::{ReadingView, RoomView};

/// The page is redrawn at most this often, unless an alarm moves.
const REDRAW: Duration = Duration::from_millis(250);
/// Drawing may take one part in so many of the engine's time.
const SHARE: u32 = 50;
/// "Still for 22 min" grows old: the page is redrawn at least this often.
const REFRESH: Duration = Duration::from_secs(10);

/// The last drawing, and who watches it.
pub(super) struct Picture {
    room: watch::Sender<Arc<RoomView>>,
    readings: watch::Sender<Arc<Vec<ReadingView>>>,
    drawn: Instant,
    /// What the last drawing cost.
    cost: Duration,
    /// Something has changed since.
    stale: bool,
    urgent: bool,
}

/// What a desk sees of it.
pub(super) type Seen = (watch::Receiver<Arc<RoomView>>, watch::Receiver<Arc<Vec<ReadingView>>>);

impl Picture {
    /// A first drawing.
    pub(super) fn new(room: &mut Room, now: Time) -> Self {
        let (shown, _) = watch::channel(Arc::new(room.view(now)));
        let (readings, _) = watch::channel(Arc::new(room.newest()));
        let (drawn, cost) = (Instant::now(), Duration::ZERO);
        Self { room: shown, readings, drawn, cost, stale: false, urgent: false }
    }

    /// For the one desk; any further receiver of the room is somebody who watches.
    pub(super) fn seen(&self) -> Seen {
        (self.room.subscribe(), self.readings.subscribe())
    }

    /// Something has changed.
    pub(super) fn stale(&mut self) {
        self.stale = true;
    }

    /// An alarm has moved: it is shown at once.
    pub(super) fn urgent(&mut self) {
        (self.stale, self.urgent) = (true, true);
    }

    /// Somebody looks.
    pub(super) fn look(&mut self, room: &mut Room, now: Time) {
        if self.stale || self.drawn.elapsed() >= REDRAW {
            self.draw(room, now);
        }
    }

    /// Draws for who watches, if it is time.
    pub(super) fn show(&mut self, room: &mut Room, now: Time) {
        if self.is_watched() && (self.urgent || self.drawn.elapsed() >= self.pace()) {
            self.draw(room, now);
        }
    }

    /// When to ask [`Picture::show`] again at the latest.
    pub(super) fn wait(&self) -> Duration {
        if self.is_watched() { self.pace().saturating_sub(self.drawn.elapsed()) } else { REFRESH }
    }

    fn draw(&mut self, room: &mut Room, now: Time) {
        let started = Instant::now();
        self.room.send_replace(Arc::new(room.view(now)));
        self.readings.send_replace(Arc::new(room.newest()));
        self.drawn = Instant::now();
        self.cost = self.drawn - started;
        (self.stale, self.urgent) = (false, false);
    }

    fn is_watched(&self) -> bool {
        self.room.receiver_count() > 1
    }

    /// Time between two drawings: a large room is drawn less often, so that messages do not wait for pictures.
    fn pace(&self) -> Duration {
        if self.stale { REDRAW.max(self.cost * SHARE) } else { REFRESH }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::config::read;
    use crate::room::Setup;
    use development::SpeciesTable;
    use std::path::Path;

    fn room() -> Room {
        let text = include_str!("../../../../config/room.toml");
        let config = read(text, "room.toml", Path::new("")).unwrap();
        Room::new(Arc::new(Setup::new(&config, SpeciesTable::shipped()).unwrap())).unwrap()
    }

    #[tokio::test(start_paused = true)]
    async fn it_is_drawn_for_who_watches_and_for_who_looks() {
        let (mut room, at) = (room(), |s: i64| Time::from_millis(1_000 * s));
        let mut picture = Picture::new(&mut room, at(0));
        let (desk, _readings) = picture.seen();
        let shown = || desk.borrow().now;
        picture.stale();
        tokio::time::advance(REDRAW).await;
        picture.show(&mut room, at(1));
        assert_eq!(shown(), at(0), "nobody watches");
        picture.look(&mut room, at(2));
        assert_eq!(shown(), at(2));
        picture.look(&mut room, at(3));
        assert_eq!(shown(), at(2), "nothing has changed since a moment ago");

        let watcher = desk.clone();
        picture.stale();
        picture.show(&mut room, at(4));
        assert_eq!(shown(), at(2), "too soon");
        picture.urgent();
        picture.show(&mut room, at(5));
        assert_eq!(shown(), at(5), "an alarm is not");
        tokio::time::advance(picture.wait()).await;
        picture.show(&mut room, at(6));
        assert_eq!((shown(), watcher.borrow().now), (at(6), at(6)), "\"since\" grows old by itself");
    }
}
