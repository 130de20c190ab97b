//! Signing in, one's own account, people and programs, and the log of what they did.

use super::form::{Entry, Field, Kind};
use super::{Clock, Tab, bare_shell, shell};
use crate::access::who::Asker;
use crate::access::{How, LineItem, Person, Role, Scope, Session, Token, password};
use axum::http::StatusCode;
use axum::response::{Html, IntoResponse, Response};
use maud::{Markup, html};

/// The form of a new person.
pub(crate) const ADD: &str = "person";
/// The form of a token.
pub(crate) const TOKEN: &str = "token";
/// The form of one's own password.
pub(crate) const PASSWORD: &str = "own";

/// The form of signing in, with what was wrong.
pub(crate) fn sign_in(to: &str, name: &str, wrong: Option<&str>) -> Html<String> {
    let told = wrong.map(|_| "sign-in-fault");
    let bad = wrong.map(|_| "true");
    let main = html! {
        main.plain {
            h1 { "Sign in" }
            form.record method="post" action="/sign-in" {
                @if let Some(words) = wrong { p.fault #sign-in-fault role="alert" { (words) } }
                input type="hidden" name="to" value=(to);
                div.field {
                    label for="sign-in-name" { "Your name" }
                    input type="text" id="sign-in-name" name="name" value=(name) required autocomplete="username" autocapitalize="words" spellcheck="false" aria-invalid=[bad] aria-describedby=[told];
                }
                div.field {
                    label for="sign-in-password" { "Password" }
                    input type="password" id="sign-in-password" name="password" required autocomplete="current-password" aria-invalid=[bad] aria-describedby=[told];
                }
                button type="submit" { "Sign in" }
            }
            details {
                summary { "I have forgotten my password" }
                p { "Ask a keeper to set a new one under " i { "People" } ". Whoever runs the service can do it on its machine too: "
                    code { "hatchwarden people --config FILE password NAME" } "." }
            }
        }
    };
    bare_shell("Sign in", &main)
}

/// What somebody is told whose session has ended when a form was sent.
pub(crate) fn signed_out(status: StatusCode) -> Response {
    let main = html! {
        main.plain {
            h1 { "You are not signed in" }
            p { "Your session has ended, so nothing was changed. Sign in, then do it once more." }
            p { a.go href="/sign-in" { "Sign in" } }
        }
    };
    (status, bare_shell("Sign in", &main)).into_response()
}

fn new_password(name: &str, label: &'static str, preset_of: &'static str) -> Field<'static> {
    let field =
        Field::new(if name == "new" { "new" } else { "password" }, label, Kind::Secret("new-password"));
    field.hint(preset_of)
}

/// Tells password keepers whose password it is. Without a name, it is not sent.
fn whose(name: &str) -> Markup {
    html! { input type="text" value=(name) autocomplete="username" hidden readonly; }
}

const LONG: &str = "At least 15 letters. Four words that do not belong together are good; signs and digits are not asked for.";

/// One's own account.
pub(crate) fn account(asker: &Asker, entry: &Entry) -> Html<String> {
    let old = Field::new("old", "Your password now", Kind::Secret("current-password"));
    let main = html! {
        main.plain {
            h1 { bdi { (asker.name.as_deref().unwrap_or_default()) } }
            p { "You are signed in as a " b { (asker.role.word()) } ". " (may(asker.role)) }
            form.own method="post" action="/sign-out" { button type="submit" { "Sign out" } }
            h2 #password { "A new password" }
            form.record.own method="post" action="/own/password" {
                (entry.stray(PASSWORD, &["old", "new"]))
                (whose(asker.name.as_deref().unwrap_or_default()))
                (old.draw(PASSWORD, entry))
                (new_password("new", "New password", LONG).draw(PASSWORD, entry))
                p.soft { "You are then signed out everywhere else." }
                button type="submit" { "Change it" }
            }
        }
    };
    shell("Account", Tab::Log, &main)
}

fn may(role: Role) -> &'static str {
    match role {
        Role::Looker => "Lookers read.",
        Role::Helper => "Helpers read, record what was seen and done, and take alarms on.",
        Role::Keeper => "Keepers do everything.",
    }
}

/// What the page of people shows.
pub(crate) struct Shown<'a> {
    pub(crate) people: Vec<Person>,
    pub(crate) sessions: Vec<Session>,
    pub(crate) tokens: Vec<Token>,
    /// A token that was made just now: for what, and itself.
    pub(crate) made: Option<(&'a str, &'a str)>,
    /// Nobody has to sign in here.
    pub(crate) open: bool,
}

/// People, their sessions, and programs.
pub(crate) fn people(shown: &Shown<'_>, entry: &Entry, clock: &Clock) -> Html<String> {
    let main = html! {
        main.plain {
            h1 { "People" }
            @if shown.open {
                p.soft { "This page answers on its own machine only, where nobody has to sign in. People are asked for once the service listens on the network." }
            }
            @if let Some((name, token)) = shown.made { (made(name, token)) }
            @for person in &shown.people { (one(person, shown, entry, clock)) }
            (add(entry))
            (programs(shown, entry, clock))
            p { a.go href="/audit" { "What was changed, by whom" } }
        }
    };
    shell("People", Tab::Log, &main)
}

fn roles() -> Kind {
    let words = |r: &Role| (r.word().to_owned(), format!("{}: {}", r.word(), may(*r)));
    Kind::Choice(Role::ALL.iter().map(words).collect())
}

fn one(person: &Person, shown: &Shown<'_>, entry: &Entry, clock: &Clock) -> Markup {
    let id = person.id;
    let (role, pass, remove) = (format!("role-{id}"), format!("password-{id}"), format!("remove-{id}"));
    let open = |form: &str| entry.fault.is_some() && entry.form == form;
    html! {
        section.person id={ "person-" (id) } {
            h2 { bdi { (person.name) } ", " (person.role.word()) }
            p.soft { "Here since " (clock.local.full(person.since)) ", password of " (clock.local.full(person.changed)) "." }
            (sessions(person, shown, clock))
            details.record open[open(&role)] {
                summary { "Change the role" span.vh { " of " (person.name) } }
                form.record method="post" action={ "/people/" (id) "/role" } {
                    (entry.stray(&role, &["role"]))
                    (Field::new("role", "Role", roles()).preset(person.role.word().to_owned()).draw(&role, entry))
                    button type="submit" { "Change it" }
                }
            }
            details.record open[open(&pass)] {
                summary { "Set a new password" span.vh { " for " (person.name) } }
                form.record method="post" action={ "/people/" (id) "/password" } {
                    (entry.stray(&pass, &["password"]))
                    (whose(&person.name))
                    (new_password("password", "New password", LONG).draw(&pass, entry))
                    p.soft { bdi { (person.name) } " is then signed out everywhere." }
                    button type="submit" { "Set it" }
                }
            }
            details.record open[open(&remove)] {
                summary { "Remove" span.vh { " " (person.name) } }
                form.record method="post" action={ "/people/" (id) "/remove" } {
                    (entry.stray(&remove, &[]))
                    p { bdi { (person.name) } " is signed out at once, and the tokens that were made in this name are good for nothing. What was recorded stays, with the name." }
                    button type="submit" { "Remove " bdi { (person.name) } }
                }
            }
        }
    }
}

fn sessions(person: &Person, shown: &Shown<'_>, clock: &Clock) -> Markup {
    let all: Vec<&Session> = shown.sessions.iter().filter(|s| s.person == person.id).collect();
    html! {
        @if all.is_empty() { p { "Not signed in anywhere." } }
        ul.said { @for s in all { li {
            "Signed in " (clock.local.since(s.since, clock.now)) " from " (s.address) ", last seen " (clock.local.since(s.seen, clock.now))
            @if !s.agent.is_empty() { br; span.soft { bdi { (s.agent) } } }
            form method="post" action={ "/sessions/" (s.id) "/end" } {
                button type="submit" { "Sign it out" span.vh { ": " (person.name) ", from " (s.address) } }
            }
        } } }
    }
}

fn add(entry: &Entry) -> Markup {
    let name = Field::new("name", "Name", Kind::Text).hint("As it shall stand beside what this person does.");
    html! {
        section #add {
            h2 { "Let somebody in" }
            form.record method="post" action="/people" {
                (entry.stray(ADD, &["name", "role", "password"]))
                (name.draw(ADD, entry))
                (Field::new("role", "Role", roles()).preset("helper".to_owned()).draw(ADD, entry))
                (new_password("password", "Password", LONG).draw(ADD, entry))
                button type="submit" { "Let in" }
            }
        }
    }
}

fn made(name: &str, token: &str) -> Markup {
    html! {
        section.warn.made #made role="status" {
            h2 { "The token for " bdi { (name) } }
            p { "It is shown this once. Copy it now, into a file that only the program can read:" }
            p { code.token { (token) } }
            p.soft { "A program sends it with each request: " code { "Authorization: Bearer …" } }
        }
    }
}

fn programs(shown: &Shown<'_>, entry: &Entry, clock: &Clock) -> Markup {
    let scopes = [
        (Scope::Read, "reads"),
        (Scope::Record, "reads, records, takes alarms on"),
        (Scope::Manage, "everything"),
    ];
    let scopes = scopes.map(|(s, words)| (s.word().to_owned(), format!("{}: {words}", s.word())));
    let by = |t: &Token| shown.people.iter().find(|p| Some(p.id) == t.person).map(|p| p.name.clone());
    html! {
        section #tokens {
            h2 { "Programs" }
            p { "A program asks the API with a token of its own." }
            ul.said { @for t in &shown.tokens { li {
                b { bdi { (t.name) } } ", scope " (t.scope.word()) ", made " (clock.local.since(t.since, clock.now))
                @if let Some(name) = by(t) { " by " bdi { (name) } }
                @match t.used { Some(used) => { ", last used " (clock.local.since(used, clock.now)) } None => ", never used" }
                form method="post" action={ "/tokens/" (t.id) "/withdraw" } {
                    button type="submit" { "Withdraw it" span.vh { ": " (t.name) } }
                }
            } } }
            details.record open[entry.fault.is_some() && entry.form == TOKEN] {
                summary { "Make a token" }
                form.record method="post" action="/tokens" {
                    (entry.stray(TOKEN, &["token", "scope"]))
                    (Field::new("token", "What it is for", Kind::Text).draw(TOKEN, entry))
                    (Field::new("scope", "Scope", Kind::Choice(scopes.to_vec())).draw(TOKEN, entry))
                    button type="submit" { "Make it" }
                }
            }
        }
    }
}

/// The log, a page of it, and where the older lines begin.
pub(crate) fn audit(lines: &[LineItem], next: Option<u64>, clock: &Clock) -> Html<String> {
    let main = html! {
        main.plain {
            h1 { "What was changed, by whom" }
            @if lines.is_empty() { p { "Nothing yet." } }
            ul.said { @for LineItem { line, .. } in lines { li {
                b { bdi { (line.who) } } " " bdi { (line.what) } ", " (clock.local.full(line.at))
                br; span.soft { (line.place) ", " (how(line.how)) " from " (line.address) }
            } } }
            @if let Some(before) = next { p { a.go href={ "/audit?before=" (before) } { "Older" } } }
            p { a.go href="/people" { "People" } }
        }
    };
    shell("Changes", Tab::Log, &main)
}

fn how(how: How) -> &'static str {
    match how {
        How::Session => "signed in",
        How::Token => "by a token",
        How::Link => "by a link",
        How::Machine => "at the machine",
        How::Nobody => "not signed in",
    }
}

/// The letters that a password needs at least, for the words above.
const _: () = assert!(password::SHORTEST == 15, "the words of the page say 15");
