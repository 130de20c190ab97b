//! `hatchwarden demo`: a whole simulated room on this machine, nothing to configure.

mod book;
mod faults;
mod room;
mod story;
mod weeks;

use crate::clock::Clock;
use crate::engine::Desk;
use crate::service::{self, Service};
use faults::{Faults, PACES};
use indicatif::{ProgressBar, ProgressStyle};
use sensors_sim::{Happening, Room, Scenario, Sent, Truth, Wish, publish};
use std::net::{Ipv4Addr, SocketAddr};
use std::path::{Path, PathBuf};
use std::process::ExitCode;
use std::sync::Arc;
use store::Store;
use tempfile::TempDir;
use tokio::sync::{mpsc, watch};
use units::{Span, Time};
use web::simulated::SimulatedRoom;
use web::view::Progress;

/// Port of the page if it is free.
const PORT: u16 = 4871;
/// Length of the simulated history of the bench.
const HISTORY: Span = Span::days(21);
/// Rhythm of probes in the history.
const HISTORY_RHYTHM: Span = Span::minutes(1);

/// What the demo can be told.
#[derive(clap::Args, Debug)]
pub struct Options {
    /// Keeps the store in this folder instead of a temporary one that is removed at the end.
    #[arg(long, value_name = "DIR")]
    data: Option<PathBuf>,
    /// Address of the page; loopback only.
    #[arg(long, value_name = "ADDRESS")]
    listen: Option<SocketAddr>,
    /// Only the bench of the room: two tanks, four tumblers, three weeks of readings. Starts in seconds.
    #[arg(long)]
    bench: bool,
    /// Seed of the simulated room: the same seed plays the same room.
    #[arg(long, default_value_t = 7)]
    seed: u64,
    /// Runs the room and its clock this many times as fast.
    #[arg(long, default_value_t = 1.0)]
    speed: f64,
    /// Seconds after which the air of one tumbler stops; a tank begins to cool half as much later.
    #[arg(long, default_value_t = 60, value_name = "SECONDS")]
    fault_after: u32,
}

/// Runs the demo until it is stopped.
pub async fn run(options: Options) -> ExitCode {
    match start(&options).await {
        Ok(demo) => demo.play(&options).await,
        Err(e) => {
            eprintln!("hatchwarden: {e}");
            ExitCode::from(2)
        }
    }
}

struct Demo {
    service: Service,
    clock: Clock,
    broker: SocketAddr,
    faults: Arc<Faults>,
    /// What the simulator is to fulfil.
    wishes: mpsc::Receiver<Wish>,
    /// When the scenario began, where its weeks are still to be lived through.
    weeks: Option<Time>,
    /// Removed, with the store in it, when the demo ends.
    _folder: Option<TempDir>,
}

async fn start(options: &Options) -> Result<Demo, Box<dyn std::error::Error>> {
    if !PACES.contains(&options.speed) {
        let (low, high) = (PACES.start(), PACES.end());
        return Err(format!(
            "--speed {} is out of range; write a number from {low} to {high}",
            options.speed
        )
        .into());
    }
    let (folder, data) = data_folder(options.data.as_deref())?;
    let page = page_address(options.listen)?;
    let config = room::config(&options.scenario(), &data.join("undercroft.db"), page)?;
    let heard = last_heard(&config.store);
    let weeks = (!options.bench && heard.is_none()).then(|| day_one(Clock::real().now()));
    let clock = weeks.map_or_else(|| Clock::paced(options.speed, heard), Clock::standing);
    let (faults, wishes) = Faults::new(clock.clone(), options.speed);
    let service = service::start(&config, clock.clone(), Some(faults.clone())).await?;
    let broker = service.front_door().ok_or("the demo has no front door")?;
    println!(
        "Hatchwarden demo: \"The Undercroft\", a simulated room (it watches and tells; it switches nothing)\n"
    );
    println!("  page   http://{}/", service.page());
    println!("  mqtt   {broker}   topics hatchwarden/undercroft/...");
    println!("  store  {}\n", data.display());
    Ok(Demo { service, clock, broker, faults, wishes, weeks, _folder: folder })
}

impl Options {
    fn scenario(&self) -> Scenario {
        if self.bench { Scenario::undercroft_cut() } else { Scenario::undercroft() }
    }
}

/// The first day of a scenario whose day 42 is today.
fn day_one(now: Time) -> Time {
    midnight(now) - Span::days(weeks::TODAY - 1)
}

/// The newest reading of a kept store: a room that was hurried is ahead of the machine's clock, and goes on from there. A
/// store that cannot be read says so when the service opens it.
fn last_heard(file: &Path) -> Option<Time> {
    if !file.exists() {
        return None;
    }
    let store = Store::open(file, store::Options::default()).ok()?;
    let newest = store.reader().ok()?.last_readings().ok()?.into_iter().map(|r| r.received).max();
    store.close();
    newest
}

fn data_folder(asked: Option<&Path>) -> std::io::Result<(Option<TempDir>, PathBuf)> {
    match asked {
        Some(dir) => Ok((None, dir.to_owned())),
        None => {
            let folder = tempfile::Builder::new().prefix("hatchwarden-demo-").tempdir()?;
            let path = folder.path().to_owned();
            Ok((Some(folder), path))
        }
    }
}

/// The address asked for, else the usual port, else any free one.
fn page_address(asked: Option<SocketAddr>) -> Result<SocketAddr, String> {
    match asked {
        Some(a) if !a.ip().is_loopback() => Err(format!(
            "--listen {a} can be reached from other machines, and the demo has no sign-in: everybody could break it; listen on loopback, e.g. 127.0.0.1:{PORT}"
        )),
        Some(a) => Ok(a),
        None => {
            let usual = SocketAddr::from((Ipv4Addr::LOCALHOST, PORT));
            let free = std::net::TcpListener::bind(usual).is_ok();
            Ok(if free { usual } else { SocketAddr::from((Ipv4Addr::LOCALHOST, 0)) })
        }
    }
}

impl Demo {
    async fn play(self, options: &Options) -> ExitCode {
        let (stop, stopped) = watch::channel(false);
        let stage = Stage {
            desk: self.service.desk().clone(),
            clock: self.clock,
            broker: self.broker,
            page: self.service.page(),
            faults: self.faults,
            fault_after: options.fault_after,
            bench: options.bench,
        };
        let (scenario, seed, speed, weeks) = (options.scenario(), options.seed, options.speed, self.weeks);
        let player = tokio::spawn(async move {
            let room = match weeks {
                Some(start) => stage.weeks(Room::new(scenario, seed, start), speed).await,
                None => stage.history(scenario, seed).await,
            };
            let lived = match room {
                Ok(room) => live(&stage, room, self.wishes, stopped).await,
                Err(error) => Err(error),
            };
            if let Err(error) = lived {
                eprintln!("hatchwarden: the simulated room stopped: {error}");
            }
        });
        let exit = self.service.until_stopped().await;
        stop.send_replace(true);
        player.abort();
        exit
    }
}

/// Why the demo's story cannot go on.
type Failed = Box<dyn std::error::Error + Send + Sync>;

/// What the demo's story needs.
struct Stage {
    desk: Desk,
    clock: Clock,
    broker: SocketAddr,
    page: SocketAddr,
    faults: Arc<Faults>,
    /// Seconds.
    fault_after: u32,
    /// Only the bench is there.
    bench: bool,
}

impl Stage {
    /// The whole room after its six weeks; the clock goes on from there.
    async fn weeks(&self, mut room: Room, speed: f64) -> Result<Room, Failed> {
        weeks::live_through(self, &mut room).await?;
        self.clock.wind(Clock::real().now());
        self.clock.set_pace(speed);
        Ok(room)
    }

    /// A room as it is now, with three weeks of history in the store if nothing is known there yet.
    async fn history(&self, scenario: Scenario, seed: u64) -> Result<Room, Failed> {
        let now = self.clock.now();
        let known = story::is_known(&self.desk);
        let begun = if self.bench { midnight(now - HISTORY) } else { day_one(now) };
        let mut room = Room::new(scenario, seed, begun);
        room.set_rhythm(HISTORY_RHYTHM);
        let mut happened = Vec::new();
        room.play(now, &mut happened);
        if !known {
            let (sent, truth) = sorted(happened);
            story::enter(&self.desk, room.scenario(), room.start(), &truth).await?;
            load_history(self, sent).await?;
        }
        Ok(room)
    }
}

/// The room lives on; after a while things go wrong.
async fn live(
    stage: &Stage,
    mut room: Room,
    wishes: mpsc::Receiver<Wish>,
    stop: watch::Receiver<bool>,
) -> Result<(), Failed> {
    let Stage { clock, fault_after, .. } = stage;
    room.set_rhythm(faults::rhythm_at(stage.faults.shown().borrow().pace));
    println!(
        "The room lives. In {fault_after} s the air of a tumbler will stop, later a tank will cool. Ctrl-C ends it."
    );
    let live = publish::run_live(room, stage.broker, || clock.now(), |t| clock.until(t), wishes, stop);
    tokio::select! {
        done = live => done?,
        () = break_things(stage) => {}
    }
    Ok(())
}

/// What was sent, and what is true.
fn sorted(happened: Vec<Happening>) -> (Vec<Sent>, Vec<Truth>) {
    let (mut sent, mut truth) = (Vec::new(), Vec::new());
    for h in happened {
        match h {
            Happening::Sent(message) => sent.push(message),
            Happening::Truth(line) => truth.push(line),
            Happening::Link { .. } => {}
        }
    }
    (sent, truth)
}

/// Pushes three weeks through MQTT with their own timestamps.
async fn load_history(stage: &Stage, sent: Vec<Sent>) -> Result<(), Failed> {
    let desk = &stage.desk;
    let bar = ProgressBar::new(sent.len() as u64);
    if let Ok(style) =
        ProgressStyle::with_template("  three weeks of history {wide_bar} {pos}/{len} readings")
    {
        bar.set_style(style);
    }
    let (tell, mut told) = watch::channel(0_u64);
    let total = sent.len() as u64;
    let shower = tokio::spawn({
        let (desk, bar) = (desk.clone(), bar.clone());
        async move {
            while told.changed().await.is_ok() {
                let done = *told.borrow_and_update();
                bar.set_position(done);
                let what = "loading three weeks of history".to_owned();
                desk.progress(Some(Progress { what, done, total })).await;
            }
        }
    });
    publish::publish_all(stage.broker, sent, |done, _| {
        tell.send_replace(done as u64);
    })
    .await?;
    drop(tell);
    shower.await?;
    bar.finish();
    desk.progress(None).await;
    Ok(())
}

/// How long cold water runs before somebody turns the tap off.
const COLD_FOR: Span = Span::minutes(2);

/// One tumbler's air stops; half as much later cold water runs into one tank for a while. Never returns.
async fn break_things(stage: &Stage) {
    let Stage { clock, faults, .. } = stage;
    let after = i64::from(stage.fault_after);
    // A room that has stopped needs no faults, and one that is too busy has enough of them.
    clock.reach(clock.now() + Span::seconds(after)).await;
    let _ = faults.change(faults::AIR, true);
    clock.reach(clock.now() + Span::seconds(after / 2)).await;
    let cold = story::cold_water(if stage.bench { "V2" } else { "G5" });
    let _ = faults.wish(Wish::Inject(cold.clone()));
    clock.reach(clock.now() + COLD_FOR).await;
    let _ = faults.wish(Wish::Mend(cold));
    std::future::pending::<()>().await;
}

/// The midnight (UTC) at or before a moment: the scenario's nights are then nights.
fn midnight(t: Time) -> Time {
    t - Span::from_millis(t.millis().rem_euclid(Span::days(1).millis()))
}
