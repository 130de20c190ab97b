//! A night as an HTML file of its own: what the command writes, and what the mail in the morning holds.

use super::{Review, VesselNight, headline, lines, picture, raised, room_refusals, span, title};
use maud::{DOCTYPE, Markup, PreEscaped, html};

/// How the pictures are in it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Pictures {
    /// Drawn in the file itself.
    Inside,
    /// Those of [`attached`], by their content ids.
    Attached,
}

/// A picture of a mail.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Attached {
    /// Its content id, without brackets.
    pub id: String,
    /// Its name as a file.
    pub name: String,
    /// SVG.
    pub svg: String,
}

/// The pictures that a mail holds, one for each vessel.
pub fn attached(r: &Review) -> Vec<Attached> {
    let of = |(n, v): (usize, &VesselNight)| Attached {
        id: content_id(n),
        name: format!("{}-{}.svg", r.date, v.vessel),
        svg: picture::file(r, v),
    };
    r.vessels.iter().enumerate().map(of).collect()
}

/// Under which content id a mail holds the picture of a vessel: of its number, so that no name can spoil it.
fn content_id(number: usize) -> String {
    format!("vessel-{number}@night")
}

/// Mail programs take little more than this; the page has a style of its own.
const STYLE: &str = "body{margin:0 auto;max-width:44rem;padding:14px 16px;font:16px/1.4 system-ui,'Noto Sans',sans-serif;\
    background:#f4efe2;color:#22241c}h1{font-size:22px;margin:0 0 6px}h2{font-size:18px;margin:22px 0 4px}\
    table{border-collapse:collapse;width:100%;font-size:15px}\
    th,td{text-align:left;vertical-align:top;padding:5px 8px 5px 0;border-top:1px solid #cfc7b1}\
    .figures{table-layout:fixed}.figures thead th:first-child{width:36%}.figures thead th:last-child{width:25%}\
    .bad{color:#9b1c10;font-weight:700}.soft{color:#5d5a4b;font-size:14px}img,svg{display:block;width:100%;max-width:36rem;height:auto}\
    @media (prefers-color-scheme:dark){body{background:#0f0d09;color:#eadfc6}th,td{border-color:#35301f}\
    .bad{color:#ff9a80}.soft{color:#a79c82}}";

/// The whole file.
pub fn document(r: &Review, pictures: Pictures) -> String {
    let page = html! {
        (DOCTYPE)
        html lang="en" {
            head {
                meta charset="utf-8";
                meta name="viewport" content="width=device-width,initial-scale=1";
                meta name="color-scheme" content="light dark";
                title { (title(r)) ", " (r.room) }
                style { (PreEscaped(STYLE)) }
            }
            body {
                h1 { (title(r)) ", " (r.room) }
                p.soft { (span(r)) " (" (r.zone) ")" }
                p { b { (headline(r)) } }
                @for (n, v) in r.vessels.iter().enumerate() { (vessel(r, v, n, pictures)) }
                (block("Alarms", &r.alarms.iter().map(|a| raised(a, &r.zone)).collect::<Vec<_>>()))
                (block("Not accepted", &room_refusals(r)))
                p.soft { "Usually: the median of those of the " (r.compared_with) " nights before that have enough readings." }
            }
        }
    };
    page.into_string()
}

fn vessel(r: &Review, v: &VesselNight, number: usize, pictures: Pictures) -> Markup {
    html! {
        h2 { (v.vessel) " (" (v.kind) "): " span.bad[v.verdict != super::Verdict::Good] { (v.verdict.word()) } }
        @for remark in &v.remarks { p.bad { (remark) } }
        @match pictures {
            Pictures::Inside => (PreEscaped(picture::file(r, v))),
            Pictures::Attached => img src={ "cid:" (content_id(number)) } alt=(picture::label(r, v));,
        }
        (table(v, &r.zone))
    }
}

/// The figures of a vessel: this night and usually.
pub(crate) fn table(v: &VesselNight, zone: &str) -> Markup {
    html! {
        table.figures {
            thead { tr { th scope="col" { "Figure" } th scope="col" { "This night" } th scope="col" { "Usually" } } }
            tbody { @for line in lines(v, zone) { tr {
                th scope="row" { (line.name) }
                @if line.usual.is_empty() {
                    td.bad[line.bad] colspan="2" { (line.night) }
                } @else {
                    td.bad[line.bad] { (line.night) } td { (line.usual) }
                }
            } } }
        }
    }
}

/// A list under a heading, or nothing.
pub(crate) fn block(head: &str, all: &[String]) -> Markup {
    html! { @if !all.is_empty() { h2 { (head) } ul { @for said in all { li { (said) } } } } }
}
