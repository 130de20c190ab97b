//! The moving air of a night, by all that witnesses it together: of those that are heard, one that says still is enough.

use crate::config::SILENT_AFTER;
use crate::room::MISSED;
use units::{Span, Time};
use web::review::{Stop, Stretch};

/// What one probe said: when, and whether the eggs lie still by it, in order of time.
pub(crate) type Said = Vec<(Time, bool)>;

/// What is known of the air.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Air {
    /// Some witness says that it moves, and none that it stands.
    Moving,
    /// A witness says that it stands.
    Still,
    /// No witness is heard.
    Unheard,
}

/// A stretch of one kind.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Piece {
    pub(crate) from: Time,
    pub(crate) to: Time,
    pub(crate) air: Air,
}

impl Piece {
    pub(crate) fn length(&self) -> Span {
        self.to - self.from
    }

    /// The part of it between two times.
    pub(crate) fn cut(&self, from: Time, to: Time) -> Option<Self> {
        let (from, to) = (from.max(self.from), to.min(self.to));
        (from < to).then_some(Self { from, to, air: self.air })
    }
}

/// How long a reading speaks for its probe when no other follows: as long as the probe may be silent by its rhythm.
fn holds(said: &Said) -> Span {
    let mut gaps: Vec<Span> = said.windows(2).map(|w| w[1].0 - w[0].0).collect();
    let middle = gaps.len() / 2;
    if gaps.is_empty() {
        return SILENT_AFTER;
    }
    let (_, rhythm, _) = gaps.select_nth_unstable(middle);
    // Half a rhythm after the missed readings, as for the alarm of silence.
    Span::from_millis(rhythm.millis() * (2 * MISSED + 1) / 2).max(SILENT_AFTER)
}

/// Stretches in which a probe said one thing.
fn spoken(said: &Said) -> impl Iterator<Item = (Time, Time, bool)> + '_ {
    let holds = holds(said);
    said.iter().enumerate().map(move |(i, (t, still))| {
        let until = *t + holds;
        (*t, said.get(i + 1).map_or(until, |next| next.0.min(until)), *still)
    })
}

/// What all witnesses say together, from the first to the last of two times, without a hole.
pub(crate) fn pieces(witnesses: &[Said], from: Time, to: Time) -> Vec<Piece> {
    // At each moment how many witnesses begin or end to say that it stands, or that it moves.
    let mut turns: Vec<(Time, i32, i32)> = vec![(from, 0, 0), (to, 0, 0)];
    for (begin, end, still) in witnesses.iter().flat_map(spoken) {
        let (still, moving) = if still { (1, 0) } else { (0, 1) };
        turns.extend([(begin, still, moving), (end, -still, -moving)]);
    }
    turns.sort_unstable_by_key(|turn| turn.0);
    let (mut still, mut moving) = (0, 0);
    let mut all: Vec<Piece> = Vec::new();
    for pair in turns.windows(2) {
        still += pair[0].1;
        moving += pair[0].2;
        let air = match (still, moving) {
            (1.., _) => Air::Still,
            (_, 1..) => Air::Moving,
            _ => Air::Unheard,
        };
        let piece = Piece { from: pair[0].0, to: pair[1].0, air };
        add(&mut all, piece);
    }
    all
}

/// Puts a piece behind the others, with which it becomes one if it is of their kind.
fn add(all: &mut Vec<Piece>, piece: Piece) {
    match all.last_mut() {
        _ if piece.from >= piece.to => {}
        Some(last) if last.air == piece.air && last.to == piece.from => last.to = piece.to,
        _ => all.push(piece),
    }
}

/// Interruptions between two times that last at least `least`, where a clutch needed air (`stays`, from when to when).
pub(crate) fn stops(
    pieces: &[Piece],
    (dusk, dawn): (Time, Time),
    least: Span,
    stays: &[(Time, Time)],
) -> Vec<Stop> {
    let mut all = Vec::new();
    for (i, piece) in pieces.iter().enumerate().filter(|(_, p)| p.air == Air::Still && p.length() >= least) {
        let unheard = pieces.get(i + 1).is_some_and(|next| next.air == Air::Unheard && next.from < dawn);
        for (from, to) in joined(stays) {
            let Some(part) = piece.cut(from.max(dusk), to.min(dawn)) else { continue };
            all.push(Stop {
                from: part.from,
                to: part.to,
                before: piece.from < part.from && part.from == dusk,
                after: piece.to > part.to && part.to == dawn,
                unheard_after: unheard && part.to == piece.to,
            });
        }
    }
    all
}

/// Stretches without a word where a clutch needed air.
pub(crate) fn gaps(pieces: &[Piece], (dusk, dawn): (Time, Time), stays: &[(Time, Time)]) -> Vec<Stretch> {
    let unheard = pieces.iter().filter(|p| p.air == Air::Unheard);
    let cut = unheard.flat_map(|p| {
        joined(stays).into_iter().filter_map(move |(from, to)| p.cut(from.max(dusk), to.min(dawn)))
    });
    cut.map(|p| Stretch { from: p.from, to: p.to }).collect()
}

/// Stays that touch or overlap as one: two clutches in one vessel are one need of air.
pub(crate) fn joined(stays: &[(Time, Time)]) -> Vec<(Time, Time)> {
    let mut sorted = stays.to_vec();
    sorted.sort_unstable();
    let mut all: Vec<(Time, Time)> = Vec::new();
    for (from, to) in sorted {
        match all.last_mut() {
            Some(last) if from <= last.1 => last.1 = last.1.max(to),
            _ => all.push((from, to)),
        }
    }
    all
}

#[cfg(test)]
mod tests {
    use super::*;

    fn at(minutes: i64) -> Time {
        Time::from_millis(1_795_000_000_000) + Span::minutes(minutes)
    }

    /// A reading a minute; still from one minute to another.
    fn said(from: i64, to: i64, still: std::ops::Range<i64>) -> Said {
        (from..to).map(|m| (at(m), still.contains(&m))).collect()
    }

    const LEAST: Span = Span::seconds(20);

    fn told(stops: &[Stop]) -> Vec<(i64, i64, bool, bool, bool)> {
        let minute = |t: Time| (t - at(0)).as_minutes() as i64;
        stops.iter().map(|s| (minute(s.from), minute(s.to), s.before, s.after, s.unheard_after)).collect()
    }

    #[test]
    fn a_stop_lasts_from_the_first_still_reading_to_the_first_moving_one() {
        let air = pieces(&[said(0, 100, 30..47)], at(0), at(100));
        let night = (at(0), at(90));
        assert_eq!(told(&stops(&air, night, LEAST, &[night])), [(30, 47, false, false, false)]);
        assert!(stops(&air, night, Span::minutes(18), &[night]).is_empty(), "shorter than a stop");
        assert!(stops(&air, night, LEAST, &[]).is_empty(), "it held no clutch");
        // The clutch came in the middle of it, and another one soon after.
        let stays = [(at(40), at(60)), (at(44), at(90))];
        assert_eq!(told(&stops(&air, night, LEAST, &stays)), [(40, 47, false, false, false)]);
    }

    #[test]
    fn what_began_before_and_what_goes_on_is_cut_and_says_so() {
        let (early, late) = (said(-20, 30, -20..10), said(80, 120, 80..120));
        let air = pieces(&[early, late], at(-20), at(120));
        let night = (at(0), at(90));
        assert_eq!(
            told(&stops(&air, night, LEAST, &[night])),
            [(0, 10, true, false, false), (80, 90, false, true, false)]
        );
        // The first spoke last at minute 29 and speaks for three and a half minutes more.
        let gaps = gaps(&air, night, &[night]);
        let half = Span::seconds(30);
        assert_eq!(gaps, [Stretch { from: at(32) + half, to: at(80) }]);
    }

    /// The flow says that it moves; the bubbles say that it does not. One is enough, and while one is silent the other is believed.
    #[test]
    fn of_several_witnesses_the_one_that_says_least_is_believed() {
        let air = pieces(&[said(0, 60, 0..0), said(0, 40, 20..40)], at(0), at(60));
        let night = (at(0), at(60));
        let found = stops(&air, night, LEAST, &[night]);
        assert_eq!(found.len(), 1);
        assert_eq!((found[0].from, found[0].to), (at(20), at(42) + Span::seconds(30)));
        assert!(!found[0].unheard_after, "the flow is heard");
        let alone = pieces(&[said(0, 40, 20..40)], at(0), at(60));
        assert!(stops(&alone, night, LEAST, &[night])[0].unheard_after);
    }

    #[test]
    fn pieces_cover_the_night_without_a_hole() {
        let air = pieces(&[said(10, 20, 12..14), said(40, 41, 40..41)], at(0), at(60));
        assert_eq!((air[0].from, air[0].air), (at(0), Air::Unheard));
        assert!(air.windows(2).all(|w| w[0].to == w[1].from && w[0].air != w[1].air), "{air:#?}");
        assert_eq!(air.last().unwrap().to, at(60));
        assert_eq!(pieces(&[], at(0), at(5)), [Piece { from: at(0), to: at(5), air: Air::Unheard }]);
    }
}
