//! Everything about one clutch, and the renewal of its projection.

use super::setup::Setup;
use super::tracked::Tracked;
use super::{Outcome, Room};
use development::{Projection, What};
use ledger::Clutch;
use store::{ProjectionRow, ShiftRow};
use units::{ClutchId, Time};
use web::view::{ClutchPage, Figure, ShiftView, SpawnedView};

impl Room {
    /// The page of one clutch. Of one that has ended the account is shown, and no dates any more.
    pub fn clutch_page(&mut self, id: &ClutchId, now: Time) -> Option<ClutchPage> {
        let view = self.clutch_view(id, now)?;
        let clutch = self.account.clutch(id)?;
        let tracked = self.tracked.get(id);
        let figure = |f: &development::Figure| Figure {
            name: f.name.clone(),
            value: f.value.clone(),
            source: f.source.clone(),
            how: f.how.clone(),
        };
        let learnt = self.species.get(&clutch.species).map(|s| self.learnt_views(s, Some(id)));
        Some(ClutchPage {
            clutch: view,
            spawned: tracked.and_then(|t| spawned(clutch, t, &self.setup)),
            learnt: learnt.filter(|_| tracked.is_some()).unwrap_or_default(),
            figures: tracked.map(|t| t.species.figures.iter().map(figure).collect()).unwrap_or_default(),
            shifts: tracked.map(|t| t.shifts.iter().map(shift_view).collect()).unwrap_or_default(),
            events: clutch.entries.iter().map(|e| self.event_view(e)).collect(),
            account: self.account_view(clutch),
        })
    }

    /// Renews the projections of clutches whose water or account has changed, and keeps what moved by over an hour.
    pub(super) fn reproject(&mut self, now: Time, out: &mut Outcome) {
        let (setup, wanted) = (self.setup.clone(), &self.wanted);
        // A clutch whose course is to be read again keeps its cause until then.
        for (id, tracked) in self.tracked.iter_mut().filter(|(id, t)| t.dirty && !wanted.contains(*id)) {
            let Some(clutch) = self.account.clutch(id) else { continue };
            let late = std::mem::take(&mut tracked.late);
            tracked.dirty = false;
            tracked.projection = tracked.project(clutch, &setup);
            let Some(fresh) = &tracked.projection else { continue };
            let what = What { late, changed: tracked.changed.take(), course: &tracked.course };
            let moved = development::shifts(tracked.kept.as_ref(), fresh, &what);
            if moved.is_empty() {
                continue;
            }
            let at = tracked.course.last().map_or(now, |(t, _)| t);
            for shift in moved {
                let words = shift.cause.words(&|t| setup.day_text(t));
                let row = ShiftRow {
                    clutch: id.to_string(),
                    at,
                    stage: shift.stage.word().to_owned(),
                    before: shift.before,
                    after: shift.after,
                    json: words,
                };
                tracked.shifts.insert(0, row.clone());
                out.batch.shifts.push(row);
            }
            tracked.kept = Some(fresh.clone());
            out.batch.projections.push(projection_row(id, at, fresh));
        }
    }
}

fn projection_row(id: &ClutchId, at: Time, projection: &Projection) -> ProjectionRow {
    ProjectionRow { clutch: id.to_string(), at, json: serde_json::to_string(projection).unwrap_or_default() }
}

/// When it was spawned by what was seen of it since.
fn spawned(clutch: &Clutch, tracked: &Tracked, setup: &Setup) -> Option<SpawnedView> {
    if clutch.seen.is_empty() || clutch.day0.earliest == clutch.day0.latest {
        return None;
    }
    let end = Time::from_millis(i64::MAX);
    let (earliest, likeliest, latest) =
        tracked.asked(clutch, setup, end, |ask| development::likely_day0(ask).ok())?;
    Some(SpawnedView { earliest, likeliest, latest })
}

fn shift_view(row: &ShiftRow) -> ShiftView {
    ShiftView {
        at: row.at,
        stage: row.stage.parse().unwrap_or(units::Stage::Hatch),
        before: row.before,
        after: row.after,
        cause: row.json.clone(),
    }
}
