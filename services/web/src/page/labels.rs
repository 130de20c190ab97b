//! Labels for vessels: sheets of A4 to print, black on white, each label with a code that opens the vessel's page.

use super::{Clock, Tab, shell_with};
use crate::account::{LivingView, VesselRow};
use crate::svg::code::code;
use axum::response::Html;
use maud::{Markup, html};
use units::VesselId;

/// Most labels of one page.
pub(crate) const MOST: usize = 240;
/// So many clutches of a vessel stand on its label; a fourth line would not fit.
const MOST_LIVING: usize = 3;

/// How a sheet of A4 is divided. Both are measures that sheets of labels are sold in.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub(crate) enum Sheet {
    /// Ten labels of 105 mm by 57 mm.
    #[default]
    Ten,
    /// 24 labels of 70 mm by 37 mm.
    TwentyFour,
}

impl Sheet {
    /// All of them.
    pub(crate) const ALL: [Self; 2] = [Self::Ten, Self::TwentyFour];

    /// As it stands in the address.
    pub(crate) fn word(self) -> &'static str {
        match self {
            Self::Ten => "2x5",
            Self::TwentyFour => "3x8",
        }
    }

    fn title(self) -> &'static str {
        match self {
            Self::Ten => "10 on a sheet, 105 by 57 mm",
            Self::TwentyFour => "24 on a sheet, 70 by 37 mm",
        }
    }

    fn class(self) -> &'static str {
        match self {
            Self::Ten => "sheet ten",
            Self::TwentyFour => "sheet many",
        }
    }

    fn labels(self) -> usize {
        match self {
            Self::Ten => 10,
            Self::TwentyFour => 24,
        }
    }
}

/// What is to be printed.
#[derive(Debug, Clone)]
pub(crate) struct Choice {
    /// For which vessels.
    pub vessels: Vec<VesselId>,
    /// On which sheet.
    pub sheet: Sheet,
    /// How many of each.
    pub copies: usize,
    /// Whether a label says what lives there.
    pub living: bool,
    /// Whether lines are drawn to cut by.
    pub lines: bool,
}

impl Default for Choice {
    fn default() -> Self {
        Self { vessels: Vec::new(), sheet: Sheet::default(), copies: 1, living: false, lines: false }
    }
}

/// The longer a name, the smaller it is written.
fn size(name: &str) -> &'static str {
    match name.chars().count() {
        0..=4 => "name n1",
        5..=8 => "name n2",
        9..=14 => "name n3",
        _ => "name n4",
    }
}

fn living(l: &LivingView) -> Markup {
    html! { p.lives {
        b { (l.clutch) }
        @if l.held { " held" @if let Some(m) = &l.mother { " by " (m) } }
        @else if let Some(n) = l.count { " " (n) }
        " " bdi { (l.fish) }
    } }
}

fn label(v: &VesselRow, choice: &Choice, address: &str) -> Markup {
    let url = format!("{address}/vessels/{}", v.vessel);
    let more = v.living.len().saturating_sub(MOST_LIVING);
    html! {
        div.label {
            @match code(&url) {
                Some(drawn) => (drawn),
                None => p.nocode { "The address is too long for a code." },
            }
            div.say {
                p class=(size(v.vessel.as_str())) { (v.vessel) }
                p { (v.kind) @if let Some(l) = v.litres { ", " (format!("{l:.0}")) "\u{2009}L" } @if let Some(host) = &v.host { ", in " (host) } }
                @if choice.living {
                    @for l in v.living.iter().take(MOST_LIVING) { (living(l)) }
                    @if more > 0 { p { "and " (more) " more" } }
                }
                p.url { (url) }
            }
        }
    }
}

fn form(vessels: &[VesselRow], choice: &Choice) -> Markup {
    html! {
        form.record method="get" action="/labels" {
            fieldset {
                legend { "For which vessels" }
                @for v in vessels {
                    label.pick { input type="checkbox" name="vessel" value=(v.vessel) checked[choice.vessels.contains(&v.vessel)]; " " (v.vessel) }
                }
            }
            div.field { label for="sheet" { "How large" }
                select #sheet name="sheet" {
                    @for s in Sheet::ALL { option value=(s.word()) selected[s == choice.sheet] { (s.title()) } }
                } }
            div.field { label for="copies" { "How many of each" } input #copies type="number" name="copies" min="1" max="24" value=(choice.copies); }
            label.pick { input type="checkbox" name="living" value="yes" checked[choice.living]; " with what lives there now" }
            label.pick { input type="checkbox" name="lines" value="yes" checked[choice.lines]; " with lines to cut by" }
            button type="submit" { "Show these labels" }
        }
    }
}

/// Whether only this machine knows that address.
fn only_here(address: &str) -> bool {
    let host = address.split_once("://").map_or(address, |(_, rest)| rest);
    ["localhost", "127.", "[::1]"].iter().any(|here| host.starts_with(here))
}

/// The page; `address` is where a label's code leads.
pub(crate) fn page(vessels: &[VesselRow], choice: &Choice, address: &str, clock: &Clock) -> Html<String> {
    let chosen: Vec<&VesselRow> = vessels.iter().filter(|v| choice.vessels.contains(&v.vessel)).collect();
    let all: Vec<&VesselRow> = chosen.iter().flat_map(|v| std::iter::repeat_n(*v, choice.copies)).collect();
    let sheets = all.len().div_ceil(choice.sheet.labels());
    let main = html! {
        main.plain.labels {
            div.choose {
                h1 { "Labels for vessels." }
                p { "Each has a code that a phone's camera reads: it opens the page of the vessel." }
                @if only_here(address) {
                    p.bad { "These codes lead to " (address) ", which only this machine knows. Open this page by the name that your phone uses, or write address under [page] in the configuration." }
                }
                (form(vessels, choice))
                @if all.is_empty() { p { "No vessel is chosen yet." } }
                @else { p { (all.len()) @if all.len() == 1 { " label" } @else { " labels" } " on " (sheets) @if sheets == 1 { " sheet" } @else { " sheets" } " of A4. Print this page from your browser, at 100\u{2009}% and without margins." } }
                @if choice.living { p.soft { "What lives there is as of " (clock.local.full(clock.now)) "." } }
            }
            @for sheet in all.chunks(choice.sheet.labels()) {
                section class={ (choice.sheet.class()) @if choice.lines { " cut" } } aria-label="A sheet of labels" {
                    @for v in sheet { (label(v, choice, address)) }
                }
            }
        }
    };
    shell_with("Labels", Tab::Tanks, &main, Some("labels.css"))
}
