//! Rooms as people have them, drawn by chance.

use crate::chance::Chance;
use sensors_sim::Scenario;
use std::fmt::Write;
use units::Span;

/// How far a clutch has come.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Life {
    Egg,
    Eyed,
    Hatched,
    Swimming,
}

impl Life {
    pub(crate) const ALL: [Self; 4] = [Self::Egg, Self::Eyed, Self::Hatched, Self::Swimming];

    /// Days since it was laid: no stage passes within the night at 26 to 28 °C (as in `four-stages`).
    pub(crate) fn days(self) -> i64 {
        match self {
            Self::Egg => 1,
            Self::Eyed => 4,
            Self::Hatched => 8,
            Self::Swimming => 18,
        }
    }
}

/// What a room is to be like.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Want {
    pub(crate) tumblers: usize,
    /// How often the boards at the tanks measure.
    pub(crate) every: Span,
    /// What hangs in the first tumbler; what hangs in the others is drawn.
    pub(crate) first: Life,
    /// Boards and router run on batteries for a while.
    pub(crate) batteries: bool,
    /// Boards know the time and say it.
    pub(crate) clocks: bool,
    /// Two jars on a loop without a standby; the first holds what is wanted first.
    pub(crate) jars: bool,
    /// Three wide filters in each tank on a line without much bleed: two of them can take the air of all.
    pub(crate) wide_filters: bool,
    /// No flow probe is coarser than 0.02 L/min.
    pub(crate) fine: bool,
}

/// A drawn room.
pub(crate) struct House {
    pub(crate) scenario: Scenario,
    /// Where each clutch lies, and how far it has come.
    pub(crate) clutches: Vec<(String, Life)>,
}

/// Tumblers that hang in one tank.
const IN_A_TANK: usize = 4;

impl House {
    pub(crate) fn draw(want: &Want, chance: &mut Chance) -> Self {
        let tanks = want.tumblers.div_ceil(IN_A_TANK);
        let mut text = frame(want, chance);
        (1..=tanks).for_each(|t| tank(&mut text, t, want, chance));
        let mut clutches = Vec::new();
        for n in 1..=want.tumblers {
            tumbler(&mut text, n, chance);
            let life = if n == 1 { want.first } else { chance.pick(&Life::ALL) };
            clutch(&mut text, &format!("TU{n}"), life);
            clutches.push((format!("TU{n}"), life));
        }
        (1..=tanks).for_each(|t| board(&mut text, t, want, chance));
        if want.jars {
            jars(&mut text, want);
            clutches.push(("JR1".to_owned(), want.first));
        }
        Self { scenario: Scenario::from_toml(&text).unwrap(), clutches }
    }

    pub(crate) fn devices(&self) -> Vec<String> {
        self.scenario.devices.iter().map(|d| d.name.clone()).collect()
    }
}

fn put(out: &mut String, what: std::fmt::Arguments<'_>) {
    out.write_fmt(what).unwrap();
}

/// Room, mains, air line and what watches them. The room plays from 13:00 on, so its warmest hour, 16:00, is its third.
fn frame(want: &Want, chance: &mut Chance) -> String {
    let battery = if want.batteries { "6 h" } else { "0 s" };
    let bleed = if want.wide_filters { 1.0 } else { chance.between(1.5, 4.0) };
    format!(
        "room = 'night'\nlength = '1 d'\n\
         [network]\nbattery = '{battery}'\n\
         [room_air]\nmean_celsius = {:?}\nswing_celsius = {:?}\nwarmest = '03:00'\nunrest_celsius = {:?}\n\
         [[circuit]]\nname = 'air'\nbehind = 'rcd'\n[[circuit]]\nname = 'heat'\nbehind = 'rcd'\n\
         [[line]]\nname = 'line'\nbleed_litres_per_minute = {bleed:?}\n\
         [[pump]]\nname = 'P1'\ncircuit = 'air'\n\
         [[device]]\nname = 'plug'\nevery = '60 s'\nshape = 'key-value'\nnumbers = false\nbattery = '{battery}'\n\
         probes = [{{ probe = 'V1/power/p1', of = 'P1' }}, {{ probe = 'V1/line-pressure', of = 'line' }}]\n\
         [[device]]\nname = 'hall'\nevery = '2 min'\nshape = 'senml'\nbattery = '{battery}'\n\
         probes = ['V1/room-temperature', 'V1/humidity', 'V1/mains-switch', 'V1/leak-switch']\n",
        chance.between(19.0, 22.0),
        chance.between(0.5, 1.5),
        chance.between(0.1, 0.4),
    )
}

fn tank(out: &mut String, t: usize, want: &Want, chance: &mut Chance) {
    let (litres, set) =
        (chance.pick(&[54.0, 80.0, 120.0, 180.0]), chance.pick(&[26.0, 26.5, 27.0, 27.5, 28.0]));
    let (dial, hysteresis) = (chance.between(-0.25, 0.25), chance.between(0.3, 0.7));
    put(out, format_args!("[[tank]]\nvessel = 'V{t}'\nlitres = {litres:?}\nset_point = {set:?}\n"));
    put(out, format_args!("dial_error = {dial:?}\nhysteresis = {hysteresis:?}\ncircuit = 'heat'\n"));
    put(out, format_args!("fish_grams = {:?}\n", chance.between(0.0, 40.0)));
    for f in 0..if want.wide_filters { 3 } else { 1 } {
        put(out, format_args!("[[outlet]]\nvessel = 'F{t}{f}'\nkind = 'filter'\ntank = 'V{t}'\n"));
        put(out, format_args!("litres_per_minute = 1.5\ndepth_m = 0.15\nstone_kpa = 0.5\n"));
    }
}

fn host(tumbler: usize) -> usize {
    (tumbler - 1) / IN_A_TANK + 1
}

fn tumbler(out: &mut String, n: usize, chance: &mut Chance) {
    let (flow, depth) = (chance.between(0.36, 0.62), chance.between(0.25, 0.4));
    put(out, format_args!("[[outlet]]\nvessel = 'TU{n}'\ntank = 'V{}'\n", host(n)));
    put(out, format_args!("litres_per_minute = {flow:.2}\ndepth_m = {depth:.2}\n"));
}

fn clutch(out: &mut String, vessel: &str, life: Life) {
    let day = 1 - life.days();
    put(out, format_args!("[[clutch]]\nname = 'C-{vessel}'\nlaid = 'day {day} 00:00'\nin = '{vessel}'\n"));
    put(out, format_args!("eggs = 30\nlaw = {{ between = 0.02 }}\n"));
}

/// The board of a tank: its thermometer and the coarse flow meters of the tumblers in it.
fn board(out: &mut String, t: usize, want: &Want, chance: &mut Chance) {
    let shape = if want.clocks { "json" } else { chance.pick(&["json", "plain", "flat-json", "list-json"]) };
    let battery = if want.batteries { "6 h" } else { "0 s" };
    let clock = if want.clocks { "right" } else { chance.pick(&["right", "absent"]) };
    put(out, format_args!("[[device]]\nname = 'b{t}'\nevery = '{} s'\n", want.every.as_seconds()));
    put(out, format_args!("jitter = 0.03\nshape = '{shape}'\nclock = '{clock}'\nbattery = '{battery}'\n"));
    let (keeps, wrong) = (chance.pick(&[0, 0, 500]), chance.count(0, 2));
    put(out, format_args!("keeps = {keeps}\nwrong_after_start = {wrong}\nwill = {}\n", chance.hits(0.7)));
    put(
        out,
        format_args!(
            "twice = 0.001\nglitches = {{ power_on = 0.00005, no_probe = 0.0001, missing = 0.001 }}\n"
        ),
    );
    let offset = chance.between(-0.2, 0.2);
    put(out, format_args!("probes = [{{ probe = 'V{t}/temperature', offset = {offset:?}, lag = '15 s' }}"));
    for n in (1..=want.tumblers).filter(|n| host(*n) == t) {
        let steps: &[f64] = if want.fine { &[0.01, 0.02] } else { &[0.01, 0.02, 0.05] };
        let (step, noise) = (chance.pick(steps), chance.between(0.02, 0.06));
        put(out, format_args!(", {{ probe = 'TU{n}/air-flow', step = {step:?}, noise = {noise:?} }}"));
    }
    out.push_str("]\n");
}

fn jars(out: &mut String, want: &Want) {
    put(
        out,
        format_args!(
            "[[jar_loop]]\nname = 'header'\ncircuit = 'heat'\n[[jar]]\ncopies = 2\nvessel = 'JR{{n}}'\n"
        ),
    );
    put(out, format_args!("[[device]]\nname = 'bj'\nevery = '{} s'\n", want.every.as_seconds()));
    put(out, format_args!("probes = ['JR1/water-flow', 'JR2/water-flow']\n"));
    clutch(out, "JR1", want.first);
}
