//! A night in words: its title, its first sentence, and the whole as plain text.

use super::{AlarmRaised, Line, Review, Verdict, lines};
use crate::local::Local;
use chrono::Days;
use std::fmt::Write as _;
use units::Span;

/// `The night of Wed 25 to Thu 26 November 2026`
pub fn title(r: &Review) -> String {
    let morning = r.date + Days::new(1);
    let from = if r.date.format("%B").to_string() == morning.format("%B").to_string() {
        r.date.format("%a %-d")
    } else {
        r.date.format("%a %-d %B")
    };
    format!("The night of {from} to {}", morning.format("%a %-d %B %Y"))
}

/// `20:00 to 07:00, 10 h: the clocks went forward`
pub fn span(r: &Review) -> String {
    let local = Local::of(&r.zone);
    let change = match (r.length - USUAL).millis().signum() {
        -1 => ": the clocks went forward",
        1 => ": the clocks went back",
        _ => "",
    };
    format!("{} to {}, {}{change}", local.hm(r.dusk), local.hm(r.dawn), super::lines::length(r.length))
}

/// From 20:00 to 07:00 where no clock changes.
const USUAL: Span = Span::hours(11);

/// `TU2 and V2 were not right.`
pub fn headline(r: &Review) -> String {
    let of = |verdict| -> Vec<String> {
        r.vessels.iter().filter(|v| v.verdict == verdict).map(|v| v.vessel.to_string()).collect()
    };
    let (wrong, unknown) = (of(Verdict::NotRight), of(Verdict::NotKnown));
    let mut parts = Vec::new();
    if !wrong.is_empty() {
        parts.push(format!("{} {} not right.", listed(&wrong), be(&wrong)));
    }
    if wrong.is_empty() && r.verdict == Verdict::NotRight {
        parts.push("An alarm of the room itself was raised.".to_owned());
    }
    if !unknown.is_empty() {
        parts.push(format!("How {} {} is not known: too little was read.", listed(&unknown), be(&unknown)));
    }
    match (parts.is_empty(), r.vessels.is_empty()) {
        (false, _) => parts.join(" "),
        (true, true) => "There is no vessel to say anything of.".to_owned(),
        (true, false) => "All was well.".to_owned(),
    }
}

fn be(names: &[String]) -> &'static str {
    if names.len() == 1 { "was" } else { "were" }
}

fn listed(names: &[String]) -> String {
    match names {
        [start @ .., last] if !start.is_empty() => format!("{} and {last}", start.join(", ")),
        _ => names.concat(),
    }
}

/// `02:17 TU2 lies still …`
pub fn raised(a: &AlarmRaised, zone: &str) -> String {
    format!("{} {}", Local::of(zone).exact(a.at), a.text)
}

/// What was refused and belongs to no vessel, one sentence each.
pub fn room_refusals(r: &Review) -> Vec<String> {
    let mut said: Vec<String> =
        r.refusals.iter().map(|x| format!("{} × {} of {}", x.count, x.reason, x.place)).collect();
    if r.more_refusals {
        said.push("More may have been refused: it was not counted by hours then.".to_owned());
    }
    said
}

/// The whole night as plain text, as the command prints it and as the mail has it.
pub fn text(r: &Review) -> String {
    let mut out = format!("{}, {}\n{} ({})\n\n{}\n", title(r), r.room, span(r), r.zone, headline(r));
    for v in &r.vessels {
        let _ = write!(out, "\n{} ({}): {}\n", v.vessel, v.kind, v.verdict.word());
        for remark in &v.remarks {
            let _ = writeln!(out, "  ! {remark}");
        }
        for line in lines(v, &r.zone) {
            out.push_str(&row(&line));
        }
    }
    block(&mut out, "Alarms", r.alarms.iter().map(|a| raised(a, &r.zone)).collect());
    block(&mut out, "Not accepted", room_refusals(r));
    let _ = write!(
        out,
        "\nUsually: the median of those of the {} nights before that have enough readings.\n",
        r.compared_with
    );
    out
}

fn row(line: &Line) -> String {
    let usual = if line.usual.is_empty() { String::new() } else { format!("; usually {}", line.usual) };
    format!("  {:<24} {}{usual}\n", line.name, line.night)
}

fn block(out: &mut String, head: &str, all: Vec<String>) {
    if !all.is_empty() {
        let _ = write!(out, "\n{head}\n");
        for said in all {
            let _ = writeln!(out, "  {said}");
        }
    }
}
