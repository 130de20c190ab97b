//! Six weeks of the whole room, lived through before the page is opened on their last day.

use super::book::{self, Entry, Keeper};
use super::{Failed, Stage};
use crate::clock::Clock;
use crate::engine::Heard;
use indicatif::{ProgressBar, ProgressStyle};
use sensors_sim::{Happening, Kind, Room};
use units::{Span, Time};
use web::view::Progress;

/// The day on which the demo opens.
pub(super) const TODAY: i64 = 42;
/// The room is told how far it has come at least this often.
const LONGEST: Span = Span::hours(12);
/// When the keeper first looks at the page, after midnight, and how long after that again.
const ROUNDS: (Span, Span) = (Span::minutes(7 * 60 + 15), Span::hours(12));
/// What is left of the way when the room is let go: the weeks take a while themselves.
const CLOSE: Span = Span::seconds(2);

/// Lives through the weeks up to the present: what the probes sent and what the keeper wrote down, each at its moment.
pub(super) async fn live_through(stage: &Stage, room: &mut Room) -> Result<(), Failed> {
    let keeper = Keeper::at(stage.page)?;
    let bar = bar();
    let mut round = room.start() + ROUNDS.0;
    for entry in book::entries(room.start())? {
        while round <= entry.at.min(present()) {
            go_on_to(stage, room, round, &bar).await?;
            keeper.round(round).await?;
            round += ROUNDS.1;
        }
        if entry.at > present() {
            break;
        }
        go_on_to(stage, room, entry.at, &bar).await?;
        write(&keeper, &entry).await?;
    }
    while present() - room.now() > CLOSE {
        go_on_to(stage, room, present(), &bar).await?;
    }
    bar.finish();
    stage.desk.progress(None).await;
    Ok(())
}

/// An acknowledgement finds no alarm where another seed's room had none: everything else must be taken.
async fn write(keeper: &Keeper, entry: &Entry) -> Result<(), Failed> {
    match keeper.write(entry).await {
        Err(error) if entry.is_acknowledgement() => {
            tracing::info!(%error, "nothing to acknowledge");
            Ok(())
        }
        done => Ok(done?),
    }
}

async fn go_on_to(stage: &Stage, room: &mut Room, to: Time, bar: &ProgressBar) -> Result<(), Failed> {
    while room.now() < to {
        let next = to.min(room.now() + LONGEST);
        let mut happened = Vec::new();
        room.play(next, &mut happened);
        stage.desk.lapse(happened.into_iter().filter_map(heard).collect(), next).await?;
        tell(stage, room, bar).await;
    }
    Ok(())
}

/// Now by the machine, which the weeks are to reach.
fn present() -> Time {
    Clock::real().now()
}

fn heard(happened: Happening) -> Option<Heard> {
    let Happening::Sent(sent) = happened else { return None };
    let retained = sent.retain && sent.kind == Kind::Reading;
    Some(Heard { at: sent.at, topic: sent.topic.to_string(), payload: sent.payload, retained })
}

/// Says which day it is in the room.
async fn tell(stage: &Stage, room: &Room, bar: &ProgressBar) {
    let done = (room.now() - room.start()).as_days().max(0.0) as u64;
    bar.set_position(done);
    let what = format!("six weeks go by, day {} of {TODAY}", done + 1);
    stage.desk.progress(Some(Progress { what, done, total: TODAY as u64 })).await;
}

fn bar() -> ProgressBar {
    let bar = ProgressBar::new(TODAY as u64);
    if let Ok(style) = ProgressStyle::with_template("  six weeks go by {wide_bar} day {pos} of {len}") {
        bar.set_style(style);
    }
    bar
}
