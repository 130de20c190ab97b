//! The account on a page: forms of what can be written down, and what became of every fish.

use super::Clock;
use super::form::{Entry, Field, Kind, by};
use crate::account::AccountView;
use crate::entry_account::{Ask, Asked, Doing, WITHDRAWN};
use crate::keeper::Keeper;
use crate::view::EventView;
use maud::{Markup, html};

fn field(asked: &Asked, keeper: &dyn Keeper, clock: &Clock) -> Field<'static> {
    let (name, label, ask, needed) = *asked;
    let pairs = |all: &[(&str, &str)]| all.iter().map(|(v, w)| ((*v).to_owned(), (*w).to_owned())).collect();
    let kind = match ask {
        Ask::When => Kind::When,
        Ask::Count => Kind::Count,
        Ask::Decimal => Kind::Decimal,
        Ask::Text | Ask::Names => Kind::Text,
        Ask::Choice(all) => Kind::Choice(pairs(all)),
        Ask::Vessel => {
            let none = (!needed).then(|| (String::new(), "not said".to_owned()));
            let all = keeper.vessels().into_iter().map(|v| (v.to_string(), v.to_string()));
            Kind::Choice(none.into_iter().chain(all).collect())
        }
    };
    let field = Field::new(name, label, kind);
    let field = if name == "at" { field.preset(clock.local.input(clock.now)) } else { field };
    if needed { field } else { field.optional() }
}

/// The forms of what can be written down, each folded away behind its words.
pub(crate) fn forms(
    action: &str,
    doings: &'static [Doing],
    keeper: &dyn Keeper,
    entry: &Entry,
    clock: &Clock,
) -> Markup {
    html! {
        @for doing in doings {
            details.record id={ "do-" (doing.what) } open[entry.form == doing.what] {
                summary { (doing.words) }
                (form(action, doing, keeper, entry, clock))
            }
        }
    }
}

/// One form.
pub(crate) fn form(
    action: &str,
    doing: &'static Doing,
    keeper: &dyn Keeper,
    entry: &Entry,
    clock: &Clock,
) -> Markup {
    let names: Vec<&str> = doing.fields.iter().map(|f| f.0).chain(["by"]).collect();
    html! {
        form.record method="post" action=(action) {
            input type="hidden" name="doing" value=(doing.what);
            (entry.stray(doing.what, &names))
            @for asked in doing.fields { (field(asked, keeper, clock).draw(doing.what, entry)) }
            (by().draw(doing.what, entry))
            p.soft { "Times are of the room's clock, " (clock.local.name()) "." }
            button type="submit" { "Record: " (doing.words.to_lowercase()) }
        }
    }
}

/// The button beside an entry that says it was a mistake.
pub(crate) fn withdraw(action: &str, e: &EventView, clock: &Clock) -> Markup {
    html! { @if e.withdrawable && e.stands {
        form method="post" action=(action) {
            input type="hidden" name="doing" value=(WITHDRAWN.what);
            input type="hidden" name="at" value=(clock.local.input(clock.now));
            input type="hidden" name="entry" value=(e.entry);
            button type="submit" aria-label={ (WITHDRAWN.words) ": " (e.text) } { (WITHDRAWN.words) }
        }
    } }
}

/// What became of every fish: the sum first, then line by line.
pub(crate) fn account(a: &AccountView, clock: &Clock) -> Markup {
    html! {
        @if a.counted { (sum(a)) } @else { p { "They have not been counted yet." } }
        @if let Some(path) = &a.path { p { "Chosen: " (path) "." } }
        @if !a.members.is_empty() {
            p { "Put together from "
                @for (n, m) in a.members.iter().enumerate() {
                    @if n > 0 { ", " } a href={ "/clutches/" (m.clutch) } { (m.clutch) } " (" (m.count) ", " (clock.local.full(m.at)) ")"
                } "." }
        }
        @if !a.living.is_empty() {
            p { "In "
                @for (n, p) in a.living.iter().enumerate() {
                    @if n > 0 { ", " } a href={ "/vessels/" (p.vessel) } { (p.vessel) }
                    @if let Some(count) = p.count { ": " (count) }
                    @if let Some(since) = p.since { " since " (clock.local.full(since)) }
                } "." }
        }
        @if !a.lines.is_empty() { details { summary { "Line by line (" (a.lines.len()) ")" } (lines(a, clock)) } }
    }
}

/// "41 came = 1 dead + 2 culled + 34 handed on + 4 alive", what is nought left out.
fn sum(a: &AccountView) -> Markup {
    let s = &a.statement;
    let parts = [
        (s.dead, "dead"),
        (s.culled, "culled"),
        (s.handed_on, "handed on"),
        (s.escaped, "escaped"),
        (s.unexplained, "unexplained"),
        (s.given, "counted in a group"),
        (s.held_back, "held back"),
        (s.growing, "alive"),
    ];
    let told: Vec<String> =
        parts.iter().filter(|(n, _)| *n != 0).map(|(n, what)| format!("{n} {what}")).collect();
    let came = if s.received == 0 { s.came } else { s.came + s.received };
    html! {
        p.next { b { (came) " came" } " = " (if told.is_empty() { "none".to_owned() } else { told.join(" + ") }) }
        (survival(a))
    }
}

/// How many were kept, beside the keeper's own past and what was published.
fn survival(a: &AccountView) -> Markup {
    let s = &a.statement;
    let came = s.came + s.received;
    let lost = s.dead + s.escaped + s.unexplained.max(0);
    let percent = if came > 0 { 100 * (came - lost) / came } else { 0 };
    html! { @if came > 0 {
        p { "Not lost: " b { (percent) " of 100" } "."
            @if let Some(u) = &a.usual {
                " Your " (u.clutches) @if u.clutches == 1 { " other clutch" } @else { " other clutches" } " of this entry: " (format!("{:.0}", u.kept_percent)) " of 100."
            } }
        p.soft { "Published, for comparison: in the mouth of two open-water cichlids eggs fell by 22.8 % and 11.2 % up to hatch and larvae by 11.6 % and 16.2 % up to release (Hydrobiologia 850:2385, doi 10.1007/s10750-022-05023-3, abstract); in round-bottomed containers 85 of 100 tilapia eggs became fry, in conical ones 60 (Rana 1986, abstract)." }
    } }
}

fn lines(a: &AccountView, clock: &Clock) -> Markup {
    html! {
        table.water {
            thead { tr { th scope="col" { "When" } th scope="col" { "How many" } th scope="col" { "From, to" } th scope="col" { "Why" } } }
            tbody { @for l in &a.lines {
                tr { td { (clock.local.full(l.at)) } td { (l.count) } td { (l.from.words()) ", " (l.to.words()) } td { (l.why) } }
            } }
        }
    }
}
