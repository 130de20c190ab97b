//! The page of one clutch.

use super::form::{Entry, Field, Kind, by};
use super::{Clock, Tab, account, cautions, fragments, moved, shell, whatif};
use crate::entry_account::OF_CLUTCH;
use crate::keeper::{Keeper, Trouble};
use crate::view::{ClutchPage, ClutchView, EventView, Figure, RoomView, ShiftView, Window};
use crate::whatif::{Moved, OtherWater};
use crate::words;
use axum::response::Html;
use maud::{Markup, html};
use units::{Grade, Stage, Time};

fn when(t: Time, clock: &Clock) -> String {
    clock.local.full(t)
}

fn window(name: &str, w: &Window, clock: &Clock) -> Markup {
    html! {
        tr { th scope="row" { (name) }
            @if let Some(seen) = w.seen { td { "seen " (when(seen, clock)) } }
            @else { td { b { (when(w.likeliest, clock)) } br; span.soft { "earliest " (when(w.earliest, clock)) br; "latest " (when(w.latest, clock)) }
                @if let Some((first, last)) = w.first.zip(w.last) { br; span.soft { "That is when half are out; the first then " (when(first, clock)) ", the last " (when(last, clock)) } } } }
            td { (format!("{:.1}", w.so_far)) " of " (format!("{:.1}", w.required)) "\u{2009}°C·d"
                br; progress aria-label={ "Degree-days gathered for " (name) } value=(format!("{:.1}", w.so_far.clamp(0.0, w.required.max(0.1)))) max=(format!("{:.1}", w.required.max(0.1))) {} }
        }
    }
}

fn windows(c: &ClutchView, clock: &Clock) -> Markup {
    html! {
        @if c.hatch.is_none() && c.free_swimming.is_none() {
            p { "No date can be projected yet: the water has not been read, or the species entry has no requirement." }
        } @else {
            table.water {
                thead { tr { th scope="col" { "Stage" } th scope="col" { "Likeliest" } th scope="col" { "Degree-days" } } }
                tbody {
                    @if let Some(w) = &c.hatch { (window("hatch", w, clock)) }
                    @if let Some(w) = &c.free_swimming { (window("free swimming", w, clock)) }
                }
            }
        }
    }
}

/// When it was spawned, as it was written down and as what was seen since tells.
fn spawned(page: &ClutchPage, clock: &Clock) -> String {
    let written = written(&page.clutch, clock);
    match &page.spawned {
        Some(s) => format!(
            "{written}; by what was seen since likeliest {}, four times of five between {} and {}",
            when(s.likeliest, clock),
            when(s.earliest, clock),
            when(s.latest, clock)
        ),
        None => written,
    }
}

fn written(c: &ClutchView, clock: &Clock) -> String {
    let d = c.day0;
    match d.grade {
        Grade::Seen => format!("Spawned {} (seen)", when(d.earliest, clock)),
        grade => {
            format!("Spawned between {} and {} ({grade})", when(d.earliest, clock), when(d.latest, clock))
        }
    }
}

pub(super) fn figures(all: &[Figure]) -> Markup {
    html! {
        dl { @for f in all {
            dt { (f.name) ": " b { (f.value) } }
            dd { (f.source) " " span.soft { "(" (f.how) ")" } }
        } }
        @if all.is_empty() { p { "No figures are given for this species entry." } }
    }
}

/// So many moves are listed at once; the earlier ones are folded away.
const RECENT: usize = 8;

fn shifts(all: &[ShiftView], clock: &Clock) -> Markup {
    let together = |a: &ShiftView, b: &ShiftView| a.at == b.at && a.cause == b.cause;
    // Those that have windows above: release, say, means little once they were taken from the mother.
    let shown = all.iter().filter(|s| matches!(s.stage, Stage::Hatch | Stage::FreeSwimming));
    let all: Vec<ShiftView> = shown.cloned().collect();
    let told: Vec<&[ShiftView]> = all.chunk_by(together).collect();
    let (recent, earlier) = told.split_at(told.len().min(RECENT));
    html! {
        @if all.is_empty() { p { "No projection has been kept yet." } }
        ol.said { @for s in recent { (shift(s, clock)) } }
        @if !earlier.is_empty() {
            details { summary { "Earlier moves (" (earlier.len()) ")" } ol.said { @for s in earlier { (shift(s, clock)) } } }
        }
    }
}

/// Stages that one cause moved at once.
fn shift(all: &[ShiftView], clock: &Clock) -> Markup {
    let stages: Vec<String> = all.iter().map(|s| moved_to(s, clock)).collect();
    html! { @if let [s, ..] = all {
        li { b { (when(s.at, clock)) } ": " (stages.join("; ")) ". " (words::capital(&s.cause)) }
    } }
}

fn moved_to(s: &ShiftView, clock: &Clock) -> String {
    let (stage, after) = (words::stage(s.stage), when(s.after, clock));
    match s.before {
        Some(before) if s.after < before => format!("{stage} sooner by {}, now {after}", before - s.after),
        Some(before) => format!("{stage} later by {}, now {after}", s.after - before),
        None => format!("{stage} first put at {after}"),
    }
}

/// One entry; what was seen can be taken back.
fn event(c: &ClutchView, e: &EventView, clock: &Clock) -> Markup {
    let late = (e.recorded - e.at).abs() > units::Span::minutes(5);
    html! {
        b { (when(e.at, clock)) } ": " @if e.stands { (e.text) } @else { s { (e.text) } ", a mistake" } " "
        span.soft { "(entry " (e.entry) ", " (e.by) @if late { ", written down " (when(e.recorded, clock)) } ")" }
        @if e.withdrawable && e.stands {
            form method="post" action={ "/clutches/" (c.id) "/record" } {
                input type="hidden" name="what" value="withdraw";
                input type="hidden" name="entry" value=(e.entry);
                button type="submit" aria-label={ "This was a mistake: " (e.text) } { "This was a mistake" }
            }
        }
    }
}

fn events(c: &ClutchView, all: &[EventView], clock: &Clock) -> Markup {
    html! {
        @if all.is_empty() { p { "Nothing has been recorded yet." } }
        ol.said { @for e in all { li { (event(c, e, clock)) } } }
    }
}

fn pairs(all: &[(&str, &str)]) -> Vec<(String, String)> {
    all.iter().map(|(v, w)| ((*v).to_owned(), (*w).to_owned())).collect()
}

/// What can be seen, the sign that is awaited first in mind.
fn seen(c: &ClutchView, clock: &Clock) -> Vec<Field<'static>> {
    let signs = pairs(&[
        ("eyed", "eyed: eyes show through the shell"),
        ("hatch", "hatch: half of them are out of the shell"),
        ("yolk-half-gone", "half of the yolk is gone"),
        ("free-swimming", "free swimming: they keep themselves up and steer"),
        ("first-feeding", "first feeding: they take food"),
        ("release", "release: the mother has let them out"),
    ]);
    let known = pairs(&[
        ("watched", "I watched it come"),
        ("between", "between two looks"),
        ("already", "it was past already at the first look"),
    ]);
    let awaited = if c.stage < Stage::Hatch { Stage::Hatch } else { Stage::FreeSwimming };
    vec![
        Field::new("stage", "What", Kind::Choice(signs)).preset(awaited.word().to_owned()),
        Field::new("known", "How you know when", Kind::Choice(known)).preset("watched".to_owned()),
        Field::new("at", "When it was there", Kind::When).preset(clock.local.input(clock.now)),
        Field::new("not_before", "When it was not there yet", Kind::When)
            .hint("The look before; for between two looks")
            .optional(),
        by(),
    ]
}

fn day0(c: &ClutchView, clock: &Clock) -> Vec<Field<'static>> {
    let latest = (c.day0.latest > c.day0.earliest).then(|| clock.local.input(c.day0.latest));
    vec![
        Field::new("day0_grade", "How you know when she spawned", super::clutches::grades())
            .preset(c.day0.grade.to_string()),
        Field::new("day0_earliest", "Spawned, at the earliest", Kind::When)
            .preset(clock.local.input(c.day0.earliest)),
        Field::new("day0_latest", "Spawned, at the latest", Kind::When)
            .hint("Leave empty when the hour was seen")
            .preset(latest.unwrap_or_default())
            .optional(),
        by(),
    ]
}

/// The forms of one clutch: name of the record, words of the button, fields.
fn forms(
    keeper: &dyn Keeper,
    c: &ClutchView,
    clock: &Clock,
) -> Vec<(&'static str, &'static str, Vec<Field<'static>>)> {
    let vessels = || Kind::Choice(keeper.vessels().iter().map(|v| (v.to_string(), v.to_string())).collect());
    let at = || Field::new("at", "When", Kind::When).preset(clock.local.input(clock.now));
    vec![
        ("seen", "Seen how far they are", seen(c, clock)),
        (
            "strip",
            "Taken from the mother",
            vec![
                at(),
                Field::new("vessel", "Into", vessels()),
                Field::new("alive", "Alive", Kind::Count),
                Field::new("dead", "Dead", Kind::Count).preset("0".into()),
                by(),
            ],
        ),
        (
            "loss",
            "Lost or picked out",
            vec![
                at(),
                Field::new("count", "How many", Kind::Count),
                Field::new("reason", "Why, in your words", Kind::Text).hint("e.g. white, mould"),
                by(),
            ],
        ),
        ("move", "Moved", vec![at(), Field::new("vessel", "Into", vessels()), by()]),
        ("day0", "Day 0 corrected", day0(c, clock)),
    ]
}

fn record(keeper: &dyn Keeper, c: &ClutchView, entry: &Entry, clock: &Clock) -> Markup {
    html! {
        @for (what, words, fields) in forms(keeper, c, clock) {
            details.record id={ "do-" (what) } open[entry.form == what] {
                summary { (words) }
                form.record method="post" action={ "/clutches/" (c.id) "/record" } {
                    input type="hidden" name="what" value=(what);
                    (entry.stray(what, &fields.iter().map(|f| f.name).collect::<Vec<_>>()))
                    @for f in fields { (f.draw(what, entry)) }
                    p.soft { "Times are of the room's clock, " (clock.local.name()) "." }
                    button type="submit" { "Record: " (words.to_lowercase()) }
                }
            }
        }
    }
}

/// What the page shows.
pub(crate) struct Shown<'a> {
    /// Everything about the clutch.
    pub page: &'a ClutchPage,
    /// What was entered into one of its forms.
    pub entry: &'a Entry,
    /// Other water that was tried.
    pub other: Option<&'a OtherWater>,
    /// What has moved its dates since the last dusk.
    pub since: &'a Result<Moved, Trouble>,
}

/// The page.
pub(crate) fn page(keeper: &dyn Keeper, shown: &Shown<'_>, room: &RoomView, clock: &Clock) -> Html<String> {
    let Shown { page, entry, other, since } = *shown;
    let c = &page.clutch;
    let main = html! {
        main.plain {
            h1 { (c.id) " " (words::coming(c, clock.now, &clock.local)) "." }
            p { i { (c.fish) } @if let Some(m) = &c.mother { ", mother " a href={ "/mothers/" (m) } { (m) } }
                @if page.account.ended.is_none() { ", " (words::young(c.count, c.stage)) }
                @if let Some(v) = &c.vessel { " in " a href={ "/vessels/" (v) } { (v) } } }
            @if let Some(ended) = page.account.ended { p { "Ended " (when(ended, clock)) ": its dates are projected no more." } }
            p { (spawned(page, clock)) ". Day " (format!("{:.0}", c.age_days.max(0.0).floor())) "." }
            section aria-labelledby="h-do" { h2 #h-do { "Write down" } (record(keeper, c, entry, clock))
                details open[OF_CLUTCH.iter().any(|d| d.what == entry.form)] {
                    summary { "More: looks, paths, counts, hand-overs" }
                    (account::forms(&format!("/clutches/{}/enter", c.id), OF_CLUTCH, keeper, entry, clock))
                } }
            section aria-labelledby="h-account" { h2 #h-account { "What became of them" } (account::account(&page.account, clock)) }
            section aria-labelledby="h-course" { h2 #h-course { "Course" } (fragments::ribbons(std::slice::from_ref(c), room, clock)) }
            section aria-labelledby="h-windows" { h2 #h-windows { "Windows" } (windows(c, clock)) }
            (whatif::section(c, entry, other, clock))
            section aria-labelledby="h-shifts" { h2 #h-shifts { "Why the dates moved" } (moved::parts(since, clock)) (shifts(&page.shifts, clock)) }
            section aria-labelledby="h-events" { h2 #h-events { "What was recorded" } (events(c, &page.events, clock)) }
            section aria-labelledby="h-figures" { h2 #h-figures { "Figures used" } @for l in &page.learnt { p { (words::capital(&l.words)) ". The windows above go by that." } } (figures(&page.figures)) }
            (cautions())
        }
    };
    shell(c.id.as_str(), Tab::Clutches, &main)
}
