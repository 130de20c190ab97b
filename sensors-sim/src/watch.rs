//! The configuration with which a service watches a simulated room.

use crate::{ClockPlan, DevicePlan, OutletKind, ProbePlan, Scenario, Shape};
use std::fmt::Write;

/// The configuration of one room for `hatchwarden run`, as TOML: its vessels, and an entry of the topic map for every
/// probe. A device that writes our own shape would be understood without; with it, its probes are known to hang on it.
///
/// ```
/// use sensors_sim::{Scenario, configuration};
/// let text = configuration(&Scenario::undercroft_cut());
/// assert!(text.contains("id = \"TU4\"\nkind = \"tumbler\"\nhost = \"V2\"\nstill_at = 0.15\n"), "{text}");
/// ```
pub fn configuration(scenario: &Scenario) -> String {
    let room = &scenario.room;
    let mut out = format!(
        "# Watches the simulated room {room:?}. Zone, addresses and file are yours to choose.\n[room]\n\
         name = \"{room}\"\ntime_zone = \"UTC\"\n\n[store]\nfile = \"{room}.db\"\n\n[page]\n\
         listen = \"127.0.0.1:4871\"\n\n[mqtt]\nfront_door = \"127.0.0.1:1883\"\n"
    );
    put_vessels(&mut out, scenario);
    let vessels = scenario.vessel_names();
    for device in &scenario.devices {
        let watched = |p: &&ProbePlan| vessels.iter().any(|v| v == p.probe.vessel.as_str());
        // A filter is no vessel of the service: what is measured there it does not take.
        for (column, probe) in device.probes.iter().enumerate().filter(|(_, p)| watched(p)) {
            map(&mut out, scenario, device, probe, column);
        }
    }
    out
}

/// How far from its set point a tank may be, K.
const BAND: f64 = 1.5;

fn put_vessels(out: &mut String, scenario: &Scenario) {
    for t in &scenario.tanks {
        vessel(out, &t.vessel, "tank");
        put(out, format_args!("litres = {:?}\n", t.litres));
        if let Some(c) = t.set_point {
            put(out, format_args!("band = [{:?}, {:?}]\n", c - BAND, c + BAND));
        }
    }
    for o in scenario.outlets.iter().filter(|o| o.kind == OutletKind::Tumbler) {
        vessel(out, &o.vessel, "tumbler");
        let still = still_at(o.litres_per_minute);
        put(
            out,
            format_args!("host = \"{}\"\nstill_at = {still:?}\n", o.tank.as_deref().unwrap_or_default()),
        );
    }
    for j in &scenario.jars {
        let of = scenario.loops.iter().find(|l| Some(&l.name) == j.jar_loop.as_ref());
        let still = still_at(j.litres_per_minute);
        vessel(out, &j.vessel, "jar");
        let host = of.and_then(|l| l.tank.as_deref()).unwrap_or_default();
        put(out, format_args!("host = \"{host}\"\nstill_at = {still:?}\n"));
    }
}

/// A quarter of the usual flow, as in the simulated room itself; to the hundredth, and never nothing.
fn still_at(litres_per_minute: f64) -> f64 {
    (litres_per_minute * 25.0).round().max(1.0) / 100.0
}

fn vessel(out: &mut String, id: &str, kind: &str) {
    put(out, format_args!("\n[[vessel]]\nid = \"{id}\"\nkind = \"{kind}\"\n"));
}

fn map(out: &mut String, scenario: &Scenario, device: &DevicePlan, probe: &ProbePlan, column: usize) {
    let key = &probe.probe;
    let topic = match device.shape {
        shape if !shape.is_whole() => format!("hatchwarden/{}/{key}", scenario.room),
        _ => device.topic.clone().unwrap_or_else(|| format!("{}/{}/probes", scenario.room, device.name)),
    };
    put(out, format_args!("\n[[map]]\ntopic = \"{topic}\"\ndevice = \"{}\"\n", device.name));
    put(out, format_args!("vessel = \"{}\"\nquantity = \"{}\"\n", key.vessel, key.quantity));
    if let Some(mark) = &key.mark {
        put(out, format_args!("mark = \"{mark}\"\n"));
    }
    let short = key.to_string().replace('/', ".");
    match device.shape {
        Shape::Json => json(out, device, "/v", "/t"),
        Shape::FlatJson => json(out, device, &format!("/{short}"), "/ts"),
        Shape::ListJson => json(out, device, &format!("/probes[id={short}]/value"), "/ts"),
        Shape::Senml => put(out, format_args!("format = \"senml\"\nname = \"{}/{short}\"\n", device.name)),
        Shape::KeyValue => put(out, format_args!("format = \"key-value\"\nkey = \"{short}\"\n")),
        Shape::CommaList => put(out, format_args!("format = \"list\"\ncolumn = {column}\n")),
        Shape::Float32Le => put(out, format_args!("format = \"float32-le\"\n")),
        Shape::Plain => {}
    }
}

fn json(out: &mut String, device: &DevicePlan, pointer: &str, time: &str) {
    put(out, format_args!("format = \"json\"\npointer = \"{pointer}\"\n"));
    if device.numbers {
        put(out, format_args!("sequence = \"/n\"\n"));
    }
    if device.clock != ClockPlan::Absent {
        put(out, format_args!("time = \"{time}\"\n"));
    }
}

fn put(out: &mut String, what: std::fmt::Arguments<'_>) {
    // A string takes everything.
    let _ = out.write_fmt(what);
}
