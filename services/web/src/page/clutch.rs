//! The page of one clutch.

use super::form::{Entry, Field, Kind, by};
use super::{Clock, Tab, cautions, fragments, moved, shell, whatif};
use crate::keeper::{Keeper, Trouble};
use crate::view::{ClutchPage, ClutchView, EventView, Figure, RoomView, ShiftView, Window};
use crate::whatif::{Moved, OtherWater};
use crate::words;
use axum::response::Html;
use maud::{Markup, html};
use units::{Grade, Time};

fn when(t: Time, clock: &Clock) -> String {
    clock.local.full(t)
}

fn window(name: &str, w: &Window, clock: &Clock) -> Markup {
    html! {
        tr { th scope="row" { (name) }
            @if let Some(seen) = w.seen { td { "seen " (when(seen, clock)) } }
            @else { td { b { (when(w.likeliest, clock)) } br; span.soft { "earliest " (when(w.earliest, clock)) br; "latest " (when(w.latest, clock)) } } }
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
            table {
                thead { tr { th scope="col" { "Stage" } th scope="col" { "Likeliest" } th scope="col" { "Degree-days" } } }
                tbody {
                    @if let Some(w) = &c.hatch { (window("hatch", w, clock)) }
                    @if let Some(w) = &c.free_swimming { (window("free swimming", w, clock)) }
                }
            }
        }
    }
}

fn spawned(c: &ClutchView, clock: &Clock) -> String {
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

fn shifts(all: &[ShiftView], clock: &Clock) -> Markup {
    html! {
        @if all.is_empty() { p { "No projection has been kept yet." } }
        ol.said { @for s in all { li {
            b { (when(s.at, clock)) } ": " (s.stage) " "
            @match s.before {
                Some(before) => {
                    (if s.after < before { "sooner by " } else { "later by " }) ((s.after - before).abs())
                    ", now " (when(s.after, clock))
                }
                None => { "first put at " (when(s.after, clock)) }
            }
            ". " (words::capital(&s.cause))
        } } }
    }
}

fn events(all: &[EventView], clock: &Clock) -> Markup {
    html! {
        @if all.is_empty() { p { "Nothing has been recorded yet." } }
        ol.said { @for e in all { li {
            b { (when(e.at, clock)) } ": " (e.text) " "
            span.soft { "(" (e.by) @if (e.recorded - e.at).abs() > units::Span::minutes(5) { ", written down " (when(e.recorded, clock)) } ")" }
        } } }
    }
}

/// The forms of one clutch: name of the record, words of the button, fields.
fn forms(keeper: &dyn Keeper, clock: &Clock) -> Vec<(&'static str, &'static str, Vec<Field<'static>>)> {
    let vessels = || Kind::Choice(keeper.vessels().iter().map(|v| (v.to_string(), v.to_string())).collect());
    let at = || Field::new("at", "When", Kind::When).preset(clock.local.input(clock.now));
    vec![
        ("hatch", "Hatch seen", vec![at().hint("When half of them were out of the shell"), by()]),
        (
            "free-swimming",
            "Free swimming seen",
            vec![at().hint("When they kept themselves up and steered"), by()],
        ),
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
    ]
}

fn record(keeper: &dyn Keeper, c: &ClutchView, entry: &Entry, clock: &Clock) -> Markup {
    html! {
        @for (what, words, fields) in forms(keeper, clock) {
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
            p { i { (c.fish) } @if let Some(m) = &c.mother { ", mother " (m) } ", " (words::young(c.count, c.stage))
                @if let Some(v) = &c.vessel { " in " (v) } }
            p { (spawned(c, clock)) ", day " (format!("{:.0}", c.age_days.max(0.0).floor())) "." }
            section aria-labelledby="h-do" { h2 #h-do { "Write down" } (record(keeper, c, entry, clock)) }
            section aria-labelledby="h-course" { h2 #h-course { "Course" } (fragments::ribbons(std::slice::from_ref(c), room, clock)) }
            section aria-labelledby="h-windows" { h2 #h-windows { "Windows" } (windows(c, clock)) }
            (whatif::section(c, entry, other, clock))
            section aria-labelledby="h-shifts" { h2 #h-shifts { "Why the dates moved" } (moved::parts(since, clock)) (shifts(&page.shifts, clock)) }
            section aria-labelledby="h-events" { h2 #h-events { "What was recorded" } (events(&page.events, clock)) }
            section aria-labelledby="h-figures" { h2 #h-figures { "Figures used" } (figures(&page.figures)) }
            (cautions())
        }
    };
    shell(c.id.as_str(), Tab::Clutches, &main)
}
